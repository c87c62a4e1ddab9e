//! Conditions tried out one by one: what is in use is mostly shown so by one of the first few.

use super::model::Model;
use super::state::{hot, settled, state};
use super::term::Var;

/// A condition in which the relays have come to rest.
#[derive(Debug, Clone)]
pub(super) struct Tried {
    /// Every variable.
    pub(super) bits: Vec<bool>,
    /// The condition the machine was in before, where the relays' rest depends on it.
    pub(super) before: Option<Vec<bool>>,
    /// The relays stand so only for a moment.
    pub(super) moving: bool,
}

/// What conditions tried out showed, by edge.
#[derive(Debug, Clone, Default)]
pub(super) struct Shown {
    /// It carried current.
    pub(super) carries: Vec<Option<usize>>,
    /// It carried current with nothing beside it.
    pub(super) needed: Vec<Option<usize>>,
    /// One of its ends was live.
    pub(super) hot: Vec<Option<usize>>,
    pub(super) tried: Vec<Tried>,
}

/// Not more than these are tried out.
const MOST_TRIED: usize = 400;
/// So many in a row that show nothing new end it.
const IN_VAIN: usize = 60;

/// The same numbers for ever; what they are used for decides nothing by itself.
struct Dice(u64);

impl Dice {
    fn next(&mut self) -> u64 {
        // SplitMix64 (Steele, Lea, Flood 2014).
        self.0 = self.0.wrapping_add(0x9E37_79B9_7F4A_7C15);
        let mut z = self.0;
        z = (z ^ (z >> 30)).wrapping_mul(0xBF58_476D_1CE4_E5B9);
        z = (z ^ (z >> 27)).wrapping_mul(0x94D0_49BB_1331_11EB);
        z ^ (z >> 31)
    }

    fn once_in(&mut self, n: u64) -> bool {
        self.next().is_multiple_of(n.max(1))
    }
}

/// At rest with every source on, as recorded where something is in doubt.
pub(super) fn at_rest(model: &Model<'_>) -> Vec<bool> {
    let rest = |var: &Var| match var {
        Var::Source(_) | Var::Landed(..) => true,
        other => other.nominal().unwrap_or(false),
    };
    model.vars.iter().map(rest).collect()
}

/// The nearest condition that the constraints allow, keeping what is held; `None` where none was come upon.
pub(super) fn made_valid(model: &Model<'_>, bits: &[bool], held: &dyn Fn(usize) -> bool) -> Option<Vec<bool>> {
    let mut bits = bits.to_vec();
    let mut dice = Dice(bits.len() as u64);
    for _ in 0..200 {
        let broken = model.valid.iter().find(|clause| !clause.iter().any(|&(var, value)| bits[var] == value));
        let Some(clause) = broken else { return Some(bits) };
        let free: Vec<(usize, bool)> = clause.iter().copied().filter(|&(var, _)| !held(var)).collect();
        let count = u64::try_from(free.len()).unwrap_or(1).max(1);
        let pick = usize::try_from(dice.next() % count).unwrap_or(0);
        let &(var, value) = free.get(pick)?;
        bits[var] = value;
    }
    None
}

impl Shown {
    /// Tries out conditions until nothing new is shown.
    pub(super) fn of(model: &Model<'_>, out: &[usize], go_on: &dyn Fn() -> bool) -> Self {
        let count = model.edges.len();
        let mut shown =
            Self { carries: vec![None; count], needed: vec![None; count], hot: vec![None; count], tried: Vec::new() };
        let free: Vec<usize> = (0..model.vars.len())
            .filter(|&var| model.vars[var].nominal().is_none() && !matches!(model.vars[var], Var::Relay(_)))
            .collect();
        let in_doubt = |var: usize| model.vars[var].nominal().is_some();
        let rest = at_rest(model);
        let mut dice = Dice(0x5EED);
        let (mut vain, mut at) = (0, 0);
        let mut last: Option<Vec<bool>> = None;
        while at < MOST_TRIED && (vain < IN_VAIN || at < free.len() + 2) && go_on() {
            let mut bits = rest.clone();
            if at > 0 && at <= free.len() {
                let var = free[at - 1];
                bits[var] = !bits[var];
            } else if at > free.len() {
                let rare = 2 + (at as u64) % 3;
                for &var in &free {
                    let is_source = matches!(model.vars[var], Var::Source(_));
                    if dice.once_in(if is_source { 16 } else { rare }) {
                        bits[var] = !bits[var];
                    }
                }
            }
            at += 1;
            let Some(bits) = made_valid(model, &bits, &in_doubt) else {
                vain += 1;
                continue;
            };
            let Some(own) = settled(model, &bits) else {
                vain += 1;
                continue;
            };
            let mut new = shown.take(model, Tried { bits: own.clone(), before: None, moving: false }, out);
            // From where the relays stood before: what holds itself in is seen so.
            if let Some(last) = &last {
                let mut held = bits.clone();
                for (var, what) in model.vars.iter().enumerate() {
                    if matches!(what, Var::Relay(_)) {
                        held[var] = last[var];
                    }
                }
                if let Some(held) = settled(model, &held).filter(|held| *held != own) {
                    new |= shown.take(model, Tried { bits: held, before: Some(last.clone()), moving: false }, out);
                }
            }
            last = Some(own);
            vain = if new { 0 } else { vain + 1 };
        }
        shown
    }

    /// Takes over what a condition shows; whether that is anything new.
    pub(super) fn take(&mut self, model: &Model<'_>, tried: Tried, out: &[usize]) -> bool {
        let state = state(model, &tried.bits, out);
        let number = self.tried.len();
        let hot = hot(model, &tried.bits, &state);
        let mut new = false;
        for at in 0..model.edges.len() {
            if self.hot[at].is_none() && model.edges[at].ends.iter().any(|&end| hot[end as usize]) {
                self.hot[at] = Some(number);
                new = true;
            }
            if state.carries[at] && self.carries[at].is_none() {
                self.carries[at] = Some(number);
                new = true;
            }
            if state.carries[at] && !state.doubled[at] && self.needed[at].is_none() {
                self.needed[at] = Some(number);
                new = true;
            }
        }
        if new {
            self.tried.push(tried);
        }
        new
    }
}
