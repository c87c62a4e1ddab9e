//! A first look at what many readings would show in many worlds: nominal values only, in microseconds each. What it tells apart is
//! computed with every tolerance before it is proposed.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::OnceLock;

use crate::circuit::electric::{Ask, Corner, Doubt, Expectation, Expected, Live, Points, Profile, Runs, expected};
use crate::circuit::linear::{Answer, Factored, Field, Phasor};
use crate::machine::{ConditionId, Machine};
use crate::quantity::Function;

use super::log::Log;
use super::world::{Place, World};

/// How far two nominal values have to lie apart to count as different at first look: tolerances of parts and of the meter.
const SPREAD: f64 = 0.05;
/// Volts that are nothing.
const NO_VOLTS: f64 = 0.5;
/// Ohms that are nothing.
const NO_OHMS: f64 = 1.0;

/// For each place, between which two ends the meter would show something, where that can be said.
pub(super) type Bands = Vec<Option<(f64, f64)>>;

/// Places that are looked at in many worlds, with what a meter put there asks of the network of the log.
pub(super) struct Sought<'p> {
    places: &'p [Place],
    asks: Vec<Option<Ask>>,
}

impl<'p> Sought<'p> {
    pub(super) fn of(log: &Log<'_>, places: &'p [Place]) -> Self {
        Self { places, asks: places.iter().map(|place| place.ask(&log.network)).collect() }
    }
}

/// A world with the conditions it has been looked at in.
pub(super) struct Looked<'w> {
    world: &'w World,
    lives: BTreeMap<ConditionId, OnceLock<Live<'w>>>,
    /// For a first look only, where that is enough.
    first: Option<BTreeMap<ConditionId, OnceLock<Live<'w>>>>,
}

impl<'w> Looked<'w> {
    pub(super) fn of(world: &'w World, conditions: impl Iterator<Item = ConditionId>) -> Self {
        Self { world, lives: conditions.map(|condition| (condition, OnceLock::new())).collect(), first: None }
    }

    /// The same where bands may be by a quicker first look: what they tell is worked out exactly before it is used.
    pub(super) fn quickly(world: &'w World, conditions: impl Iterator<Item = ConditionId>) -> Self {
        let looked = Self::of(world, conditions);
        let first = looked.lives.keys().map(|condition| (*condition, OnceLock::new())).collect();
        Self { first: Some(first), ..looked }
    }

    fn at_first_look(&self, condition: ConditionId) -> Option<&Live<'w>> {
        match &self.first {
            Some(first) => Some(first.get(&condition)?.get_or_init(|| self.world.live_at_first_look(condition))),
            None => self.live(condition),
        }
    }

    fn live(&self, condition: ConditionId) -> Option<&Live<'w>> {
        Some(self.lives.get(&condition)?.get_or_init(|| self.world.live(condition)))
    }

    /// The exact answer.
    pub(super) fn expectation(&self, machine: &Machine, place: &Place) -> Option<Expectation> {
        let meter = place.meter.and_then(|meter| machine.meters.get(meter));
        let meter = meter.map_or_else(Profile::default, Profile::of);
        let live = self.live(place.condition)?;
        let ask = place.ask(self.world.network())?;
        Some(expected(live, &meter, ask))
    }

    /// Between which two ends the meter would show something, at first look, for each place; `None` where that cannot be said.
    pub(super) fn bands(&self, Sought { places, asks }: &Sought<'_>) -> Bands {
        let asks: Vec<Option<Ask>> =
            places.iter().zip(asks).map(|(place, &in_log)| self.world.ask(place, in_log)).collect();
        let mut probed: BTreeMap<ConditionId, (BTreeSet<u32>, usize)> = BTreeMap::new();
        for (place, ask) in places.iter().zip(&asks).filter(|(place, _)| place.function.needs_dead()) {
            if let Some(Points::Probes(red, black)) = ask.as_ref().map(|ask| ask.points) {
                let (nodes, pairs) = probed.entry(place.condition).or_default();
                nodes.extend([red.0, black.0]);
                *pairs += 1;
            }
        }
        let ohms: BTreeMap<ConditionId, Ohms<'_>> = probed
            .into_iter()
            // One field for each node, where that is less than one for each pair.
            .filter(|(_, (nodes, pairs))| nodes.len() <= *pairs)
            .filter_map(|(condition, (nodes, _))| {
                let (_, factored) = self.at_first_look(condition)?.dead(Corner::Nominal);
                Some((condition, Ohms::of(factored, &nodes)))
            })
            .collect();
        let look = |(place, ask): (&Place, Option<Ask>)| self.look(place, ask?, ohms.get(&place.condition));
        places.iter().zip(asks).map(look).collect()
    }

    /// Between which two ends the meter would show something, at first look; `None` where that cannot be said.
    fn look(&self, place: &Place, ask: Ask, known: Option<&Ohms<'_>>) -> Option<(f64, f64)> {
        let live = self.at_first_look(place.condition)?;
        let near = |value: f64, nothing: f64| {
            let give = SPREAD * value.abs() + nothing;
            (value - give, value + give)
        };
        match (ask.points, place.function) {
            (Points::Probes(red, black), Function::Tone | Function::Ohms) => {
                let ohms = known.and_then(|known| known.between(red.0, black.0)).unwrap_or_else(|| {
                    let (_, factored) = live.dead(Corner::Nominal);
                    match factored.impedance(red.0, black.0) {
                        Answer::Known(z) => z.re,
                        Answer::Undetermined(_) => f64::INFINITY,
                    }
                });
                let tone = Profile::default().tone;
                Some(match place.function {
                    Function::Tone if ohms < tone.low => (1.0, 1.0),
                    Function::Tone if ohms > tone.high => (2.0, 2.0),
                    Function::Tone => (1.0, 2.0),
                    _ if ohms.is_infinite() => (f64::MAX, f64::INFINITY),
                    _ => near(ohms, NO_OHMS),
                })
            }
            (Points::Probes(red, black), Function::VoltsAc | Function::VoltsDc) => {
                let [(_, state)] = live.ends.as_slice() else { return None };
                if place.function == Function::VoltsAc {
                    let volts = state.alternating.volts(red, black).known().map(Phasor::norm)?;
                    Some(near(volts, NO_VOLTS))
                } else {
                    Some(near(state.direct.volts(red, black).known()?.re, NO_VOLTS))
                }
            }
            (Points::Look(load), Function::Runs) => runs(live.load(load)?.runs),
            (Points::Operate(_), Function::Runs) => match expected(live, &Profile::default(), ask).expected {
                Expected::Acts(acts) => runs(acts),
                _ => None,
            },
            _ => None,
        }
    }
}

/// Ohms between some nodes of a network, sources at zero: for each node the volts that one ampere from it to the first of its island
/// makes. By superposition what one ampere between two of them makes is the difference of their fields.
struct Ohms<'f> {
    factored: &'f Factored,
    /// For each node but the first of an island.
    fields: BTreeMap<u32, Field>,
    /// The first node of each island.
    first: BTreeMap<u32, u32>,
}

impl<'f> Ohms<'f> {
    fn of(factored: &'f Factored, nodes: &BTreeSet<u32>) -> Self {
        let mut known = Self { factored, fields: BTreeMap::new(), first: BTreeMap::new() };
        for &node in nodes {
            let Some(island) = factored.island(node) else { continue };
            let first = *known.first.entry(island).or_insert(node);
            if first != node
                && let Ok(field) = factored.field(node, first)
            {
                known.fields.insert(node, field);
            }
        }
        known
    }

    /// Between two of the nodes; `None` where that is not known here.
    fn between(&self, a: u32, b: u32) -> Option<f64> {
        if self.factored.is_one_net(a, b) {
            return Some(0.0);
        }
        let island = self.factored.island(a)?;
        if self.factored.island(b)? != island {
            return Some(f64::INFINITY);
        }
        let first = self.first.get(&island)?;
        let volts = |node: u32| {
            if node == *first { Some(0.0) } else { self.fields.get(&node).map(|field| field.volts(a, b).re) }
        };
        let ohms = volts(a)? - volts(b)?;
        ohms.is_finite().then_some(ohms)
    }
}

fn runs(runs: Runs) -> Option<(f64, f64)> {
    match runs {
        Runs::Yes => Some((1.0, 1.0)),
        Runs::No => Some((2.0, 2.0)),
        Runs::Partly | Runs::Unknown => None,
    }
}

/// The ends of what a meter would show, with every tolerance. `None` where it allows anything, or forbids the reading.
pub(super) fn exact_band(expectation: &Expectation) -> Option<(f64, f64)> {
    let open = |doubt: &Doubt| matches!(doubt, Doubt::Rectified | Doubt::Relays);
    if expectation.doubts.iter().any(open) {
        return None;
    }
    Some(match expectation.expected {
        Expected::Tone | Expected::Load(Runs::Yes) | Expected::Acts(Runs::Yes) => (1.0, 1.0),
        Expected::NoTone | Expected::Load(Runs::No) | Expected::Acts(Runs::No) => (2.0, 2.0),
        Expected::EitherTone => (1.0, 2.0),
        Expected::OverLimit => (f64::MAX, f64::INFINITY),
        Expected::Value { shown, .. } => (shown.low, shown.high),
        Expected::Ghost { up_to } => (0.0, up_to),
        Expected::Load(_) | Expected::Acts(_) | Expected::Unknown(_) | Expected::Danger { .. } => return None,
    })
}

/// What every hypothesis shows at one of the places; `None` where that cannot be said of one.
pub(super) fn row(shown: &[Bands], at: usize) -> Option<Vec<(f64, f64)>> {
    shown.iter().map(|bands| bands.get(at).copied().flatten()).collect()
}

/// The number of the result of each hypothesis, results that a meter cannot tell apart put together. `None` where no two are told
/// apart.
pub(super) fn divided(bands: &[(f64, f64)]) -> Option<Vec<usize>> {
    let mut order: Vec<usize> = (0..bands.len()).collect();
    order.sort_by(|&a, &b| bands[a].0.total_cmp(&bands[b].0).then(a.cmp(&b)));
    let mut results = vec![0; bands.len()];
    let (mut result, mut reach) = (0, f64::NEG_INFINITY);
    for (place, &at) in order.iter().enumerate() {
        if place > 0 && bands[at].0 > reach {
            result += 1;
        }
        reach = reach.max(bands[at].1);
        results[at] = result;
    }
    if result == 0 {
        return None;
    }
    // Numbered in order of the hypotheses, so that the same division is the same whatever is shown.
    let mut names: BTreeMap<usize, usize> = BTreeMap::new();
    for slot in &mut results {
        let next = names.len();
        *slot = *names.entry(*slot).or_insert(next);
    }
    Some(results)
}

/// How many results there are.
pub(super) fn count(results: &[usize]) -> usize {
    results.iter().max().map_or(0, |most| most + 1)
}

/// From the lowest to the highest of several; `None` where one of them says nothing.
pub(super) fn spanned(bands: impl Iterator<Item = Option<(f64, f64)>>) -> Option<(f64, f64)> {
    let all = bands.collect::<Option<Vec<_>>>()?;
    all.into_iter().reduce(|a, b| (a.0.min(b.0), a.1.max(b.1)))
}

/// The odds of each result.
pub(super) fn shares(results: &[usize], odds: &[f64]) -> Vec<f64> {
    let mut shares: BTreeMap<usize, f64> = BTreeMap::new();
    for (&result, odds) in results.iter().zip(odds) {
        *shares.entry(result).or_default() += odds;
    }
    shares.into_values().collect()
}

/// Whether two first looks show the same but for rounding.
pub(super) fn is_near(a: Option<(f64, f64)>, b: Option<(f64, f64)>) -> bool {
    let near = |a: f64, b: f64| a == b || (a - b).abs() <= 1e-9 * a.abs().max(b.abs());
    matches!((a, b), (Some(a), Some(b)) if near(a.0, b.0) && near(a.1, b.1))
}
