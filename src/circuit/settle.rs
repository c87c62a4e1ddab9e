//! Where relays come to rest: ternary screen first, then every order in which relays can move.
//!
//! Each relay has one bit, worked or not, and an excitation: whether its coil is fed while all relays stand as they do. A
//! relay whose bit and excitation differ is about to move; any non-empty set of those may move together (general multiple
//! winner). The strongly connected components that cannot be left decide: one lone state, it settles; one circle, it
//! chatters; several lone states, it is a race. Moving all relays at once, step by step, is not the answer: that hides races.
//!
//! The screen is Eichelberger's procedure (1965) in the form of Seger and Brzozowski (1994): A spreads 'may be either' from
//! the start, B takes it back. What A leaves definite never moves; what B leaves definite is where that relay ends. B is
//! left out where a delayed relay may move, because it takes for granted that whatever is about to move will.

use std::collections::{BTreeMap, BTreeSet};

/// A bit that may not be decided.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Trit {
    /// At rest, not fed.
    No,
    /// Worked, fed.
    Yes,
    /// One or the other.
    Either,
}

impl Trit {
    /// Both of two possibilities.
    pub fn or(self, other: Self) -> Self {
        if self == other { self } else { Self::Either }
    }

    /// The bit, where it is decided.
    pub fn bit(self) -> Option<bool> {
        match self {
            Self::No => Some(false),
            Self::Yes => Some(true),
            Self::Either => None,
        }
    }
}

impl From<bool> for Trit {
    fn from(bit: bool) -> Self {
        if bit { Self::Yes } else { Self::No }
    }
}

/// Which coils are fed while the relays stand as given.
pub trait Excitation {
    /// How many relays there are.
    fn relays(&self) -> usize;

    /// Which coils are fed.
    fn fed(&self, worked: &[bool]) -> Vec<bool>;

    /// Which coils are fed for sure, not fed for sure, or either, whatever the undecided relays are.
    fn fed_or_either(&self, worked: &[Trit]) -> Vec<Trit>;

    /// 0: moves at once. A relay of a higher class moves only when none of a lower class is about to.
    fn delay(&self, relay: usize) -> u8 {
        let _ = relay;
        0
    }
}

/// What becomes of the relays.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Verdict {
    /// They come to rest in one state.
    Settles,
    /// They never come to rest.
    Chatters,
    /// They come to rest, in one state or another, depending on which is faster.
    Race,
    /// A race in which at least one outcome never comes to rest.
    RaceOrChatter,
    /// There are too many orders to go through them all.
    Undecided,
}

impl Verdict {
    /// As it is written in results.
    pub fn word(self) -> &'static str {
        match self {
            Self::Settles => "settles",
            Self::Chatters => "chatters",
            Self::Race => "race",
            Self::RaceOrChatter => "race-or-chatter",
            Self::Undecided => "undecided",
        }
    }
}

/// Where relays come to rest, or that they do not.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Outcome {
    /// The verdict.
    pub verdict: Verdict,
    /// Each relay at the end; `Either` when it chatters, when outcomes differ, or when it could not be decided.
    pub relays: Vec<Trit>,
    /// The groups of states that cannot be left, each in ascending order. Empty when undecided.
    pub ends: Vec<Vec<Vec<bool>>>,
    /// Relays that move for ever in at least one of `ends`.
    pub chattering: Vec<usize>,
    /// Relays that differ between `ends`.
    pub ambiguous: Vec<usize>,
    /// One order that leads to the first of `ends`: which relays move together, and to what. Each step can be followed.
    pub order: Vec<Vec<(usize, bool)>>,
    /// The screen's two answers: how relays may stand on the way, and at the end. From [`settle_few`]: how they do.
    pub screen: (Vec<Trit>, Vec<Trit>),
}

/// How much is looked at before the answer is 'undecided'.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Bounds {
    /// States of the relays.
    pub states: usize,
    /// Moves between them.
    pub moves: usize,
}

impl Default for Bounds {
    fn default() -> Self {
        Self { states: 1 << 16, moves: 1 << 19 }
    }
}

impl Outcome {
    /// Relays that stay as they are, for sure.
    pub fn rests(start: &[bool]) -> Self {
        let relays: Vec<Trit> = start.iter().map(|&bit| bit.into()).collect();
        Self {
            verdict: Verdict::Settles,
            ends: vec![vec![start.to_vec()]],
            chattering: Vec::new(),
            ambiguous: Vec::new(),
            order: Vec::new(),
            screen: (relays.clone(), relays.clone()),
            relays,
        }
    }
}

/// States that are gone through without the screen, and moves between them: two relays that move at once, or three one after the other.
const FEW: Bounds = Bounds { states: 4, moves: 6 };

/// What becomes of relays that start as given, where they can come through a few states only: then each of those is looked at, which takes
/// less than the screen. `None` where there are more.
pub fn settle_few(start: &[bool], excitation: &impl Excitation) -> Option<Outcome> {
    let all: Vec<usize> = (0..start.len()).collect();
    let graph = Graph::of(start, &all, excitation, FEW)?;
    let passes = |relay: usize| {
        let mut all = graph.states.iter().map(|state| Trit::from(state[relay]));
        let first = all.next().unwrap_or(Trit::Either);
        all.fold(first, Trit::or)
    };
    let on_the_way: Vec<Trit> = all.iter().map(|&relay| passes(relay)).collect();
    let mut outcome = graph.outcome((on_the_way.clone(), on_the_way));
    outcome.screen.1.clone_from(&outcome.relays);
    Some(outcome)
}

/// What becomes of relays that start as given.
pub fn settle_abstract(start: &[bool], excitation: &impl Excitation, bounds: Bounds) -> Outcome {
    let screen = screen(start, excitation);
    let moving: Vec<usize> = (0..start.len()).filter(|&relay| screen.0[relay] == Trit::Either).collect();
    if let Some(end) = screen.1.iter().map(|trit| trit.bit()).collect::<Option<Vec<bool>>>() {
        let order = order_to(start, &end, excitation);
        return Outcome {
            verdict: Verdict::Settles,
            relays: screen.1.clone(),
            ends: vec![vec![end]],
            chattering: Vec::new(),
            ambiguous: Vec::new(),
            order,
            screen,
        };
    }
    if let Some(end) = staged(start, excitation) {
        let order = order_to(start, &end, excitation);
        return Outcome {
            verdict: Verdict::Settles,
            relays: end.iter().map(|&bit| bit.into()).collect(),
            ends: vec![vec![end]],
            chattering: Vec::new(),
            ambiguous: Vec::new(),
            order,
            screen,
        };
    }
    match Graph::of(start, &moving, excitation, bounds) {
        Some(graph) => graph.outcome(screen),
        None => Outcome {
            verdict: Verdict::Undecided,
            relays: screen.1.clone(),
            ends: Vec::new(),
            chattering: Vec::new(),
            ambiguous: Vec::new(),
            order: Vec::new(),
            screen,
        },
    }
}

/// The two answers of the ternary screen.
fn screen(start: &[bool], excitation: &impl Excitation) -> (Vec<Trit>, Vec<Trit>) {
    let a = widened(start, excitation, &|_| true);
    let delayed = (0..start.len()).any(|relay| a[relay] == Trit::Either && excitation.delay(relay) > 0);
    let b = if delayed { a.clone() } else { narrowed(&a, excitation) };
    (a, b)
}

/// What relays can come to from a state, those that may not move held where they are.
fn widened(start: &[bool], excitation: &impl Excitation, may_move: &dyn Fn(usize) -> bool) -> Vec<Trit> {
    let mut a: Vec<Trit> = start.iter().map(|&bit| bit.into()).collect();
    loop {
        let fed = excitation.fed_or_either(&a);
        let step = |(relay, (&now, &then)): (usize, (&Trit, &Trit))| if may_move(relay) { now.or(then) } else { now };
        let next: Vec<Trit> = a.iter().zip(&fed).enumerate().map(step).collect();
        if next == a {
            return a;
        }
        a = next;
    }
}

/// Only what was undecided may become decided: excitations can only get more definite from here.
fn narrowed(a: &[Trit], excitation: &impl Excitation) -> Vec<Trit> {
    let mut b = a.to_vec();
    loop {
        let fed = excitation.fed_or_either(&b);
        let next: Vec<Trit> =
            b.iter().zip(&fed).map(|(&now, &then)| if now == Trit::Either { then } else { now }).collect();
        if next == b {
            return b;
        }
        b = next;
    }
}

/// Where relays come to rest when those without delay surely settle between the moves of those with one, and these move one
/// at a time. `None` where that is not so, and where no relay has a delay.
fn staged(start: &[bool], excitation: &impl Excitation) -> Option<Vec<bool>> {
    let quick = |relay: usize| excitation.delay(relay) == 0;
    if (0..start.len()).all(quick) {
        return None;
    }
    let mut state = start.to_vec();
    // Each delayed relay moves a few times at most on the way to a rest that there is.
    for _ in 0..=4 * start.len() {
        let settled = narrowed(&widened(&state, excitation, &quick), excitation);
        state = settled.iter().map(|trit| trit.bit()).collect::<Option<Vec<bool>>>()?;
        match ready(&state, excitation)[..] {
            [] => return Some(state),
            [one] if !quick(one) => state[one] = !state[one],
            _ => return None,
        }
    }
    None
}

/// Relays about to move that are allowed to: those of the lowest delay among them.
fn ready(state: &[bool], excitation: &impl Excitation) -> Vec<usize> {
    let fed = excitation.fed(state);
    let about: Vec<usize> = (0..state.len()).filter(|&relay| fed[relay] != state[relay]).collect();
    let first = about.iter().map(|&relay| excitation.delay(relay)).min();
    about.into_iter().filter(|&relay| Some(excitation.delay(relay)) == first).collect()
}

/// An order that leads to a known end: all at once where that arrives, else one by one.
fn order_to(start: &[bool], end: &[bool], excitation: &impl Excitation) -> Vec<Vec<(usize, bool)>> {
    for together in [true, false] {
        let mut state = start.to_vec();
        let mut order = Vec::new();
        for _ in 0..=4 * start.len() {
            let ready = ready(&state, excitation);
            if ready.is_empty() {
                break;
            }
            let moves = if together { &ready[..] } else { &ready[..1] };
            order.push(moves.iter().map(|&relay| (relay, !state[relay])).collect());
            for &relay in moves {
                state[relay] = !state[relay];
            }
        }
        if state == end {
            return order;
        }
    }
    Vec::new()
}

/// Every state the relays can come through.
struct Graph {
    states: Vec<Vec<bool>>,
    next: Vec<Vec<usize>>,
    /// The state each was first reached from.
    before: Vec<usize>,
}

impl Graph {
    /// `None` when there is more than the bounds allow.
    fn of(start: &[bool], moving: &[usize], excitation: &impl Excitation, bounds: Bounds) -> Option<Self> {
        let mut graph = Self { states: vec![start.to_vec()], next: Vec::new(), before: vec![0] };
        let mut known: BTreeMap<Vec<bool>, usize> = BTreeMap::from([(start.to_vec(), 0)]);
        let mut moves = 0usize;
        let mut at = 0;
        while at < graph.states.len() {
            let state = graph.states[at].clone();
            // Only what the screen lets move can; a definite relay is never about to.
            let ready: Vec<usize> =
                ready(&state, excitation).into_iter().filter(|relay| moving.contains(relay)).collect();
            if ready.len() > 20 {
                return None;
            }
            let subsets = (1usize << ready.len()) - 1;
            moves += subsets;
            if moves > bounds.moves || graph.states.len() > bounds.states {
                return None;
            }
            let mut next = Vec::with_capacity(subsets);
            for subset in 1..=subsets {
                let mut to = state.clone();
                for (bit, &relay) in ready.iter().enumerate() {
                    if subset >> bit & 1 == 1 {
                        to[relay] = !to[relay];
                    }
                }
                let number = *known.entry(to).or_insert_with_key(|to| {
                    graph.states.push(to.clone());
                    graph.before.push(at);
                    graph.states.len() - 1
                });
                next.push(number);
                if graph.states.len() > bounds.states {
                    return None;
                }
            }
            graph.next.push(next);
            at += 1;
        }
        Some(graph)
    }

    /// Reads the verdict off the components that cannot be left.
    fn outcome(self, screen: (Vec<Trit>, Vec<Trit>)) -> Outcome {
        let component = components(&self.next);
        let count = component.iter().max().map_or(0, |&last| last + 1);
        let mut left = vec![false; count];
        for (from, next) in self.next.iter().enumerate() {
            for &to in next {
                left[component[from]] |= component[from] != component[to];
            }
        }
        let mut ends: Vec<Vec<usize>> = vec![Vec::new(); count];
        for state in 0..self.states.len() {
            ends[component[state]].push(state);
        }
        let mut ends: Vec<Vec<usize>> =
            ends.into_iter().enumerate().filter(|(at, _)| !left[*at]).map(|(_, end)| end).collect();
        for end in &mut ends {
            end.sort_by(|a, b| self.states[*a].cmp(&self.states[*b]));
        }
        ends.sort_by(|a, b| self.states[a[0]].cmp(&self.states[b[0]])); // a component is never empty
        let first = ends.first().and_then(|end| end.iter().min()).copied().unwrap_or(0);
        let order = self.order_to(first);
        let ends: Vec<Vec<Vec<bool>>> =
            ends.into_iter().map(|end| end.into_iter().map(|state| self.states[state].clone()).collect()).collect();
        let relays = screen.0.len();
        let varies = |end: &Vec<Vec<bool>>, relay: usize| end.iter().any(|state| state[relay] != end[0][relay]);
        let chattering: Vec<usize> = (0..relays).filter(|&relay| ends.iter().any(|end| varies(end, relay))).collect();
        let seen = |end: &Vec<Vec<bool>>, relay: usize| end.iter().map(|state| state[relay]).collect::<BTreeSet<_>>();
        let ambiguous =
            (0..relays).filter(|&relay| ends.iter().any(|end| seen(end, relay) != seen(&ends[0], relay))).collect();
        let at_end = (0..relays)
            .map(|relay| {
                let mut all = ends.iter().flatten().map(|state| Trit::from(state[relay]));
                let first = all.next().unwrap_or(Trit::Either);
                all.fold(first, Trit::or)
            })
            .collect();
        let verdict = match (ends.len(), chattering.is_empty()) {
            (1, true) => Verdict::Settles,
            (1, false) => Verdict::Chatters,
            (_, true) => Verdict::Race,
            (_, false) => Verdict::RaceOrChatter,
        };
        Outcome { verdict, relays: at_end, ends, chattering, ambiguous, order, screen }
    }

    /// The moves by which a state was first reached.
    fn order_to(&self, state: usize) -> Vec<Vec<(usize, bool)>> {
        let mut order = Vec::new();
        let mut at = state;
        while at != 0 {
            let before = self.before[at];
            let (old, new) = (&self.states[before], &self.states[at]);
            order.push(
                (0..new.len()).filter(|&relay| old[relay] != new[relay]).map(|relay| (relay, new[relay])).collect(),
            );
            at = before;
        }
        order.reverse();
        order
    }
}

/// The strongly connected component of each vertex (Tarjan 1972, without recursion).
fn components(next: &[Vec<usize>]) -> Vec<usize> {
    const NONE: usize = usize::MAX;
    let n = next.len();
    let (mut index, mut low, mut component) = (vec![NONE; n], vec![0; n], vec![NONE; n]);
    let (mut stack, mut counter, mut found) = (Vec::new(), 0, 0);
    for root in 0..n {
        if index[root] != NONE {
            continue;
        }
        let mut calls = vec![(root, 0usize)];
        while let Some((vertex, edge)) = calls.pop() {
            if edge == 0 {
                index[vertex] = counter;
                low[vertex] = counter;
                counter += 1;
                stack.push(vertex);
            }
            if let Some(&to) = next[vertex].get(edge) {
                calls.push((vertex, edge + 1));
                if index[to] == NONE {
                    calls.push((to, 0));
                } else if component[to] == NONE {
                    low[vertex] = low[vertex].min(index[to]);
                }
                continue;
            }
            if low[vertex] == index[vertex] {
                while let Some(member) = stack.pop() {
                    component[member] = found;
                    if member == vertex {
                        break;
                    }
                }
                found += 1;
            }
            if let Some(&(parent, _)) = calls.last() {
                low[parent] = low[parent].min(low[vertex]);
            }
        }
    }
    component
}
