//! Which groups of mysteries a reading ties together: what it says of one hangs on what the other turns out to be.
//!
//! It is tried out, on the live machine by poles, on the dead one by a first look at the value: whether answers of the one group would
//! change what the reading is by answers of the other that it speaks against.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use crate::circuit::{Difference, Network, Potential, Situation};
use crate::machine::{ConditionId, MysteryId, Reading, Spot};

use super::account::{Account, Hypothesis, Weighed};
use super::hypothesis::{Answers, Group, likelier_first};
use super::log::Log;
use super::screen::{Bands, Looked, Sought, is_near};
use super::world::{Place, World};

/// A reading speaks against an answer that makes it less likely than this share of what the best answer makes it.
const AGAINST: f64 = 0.2;
/// Answers that a reading speaks against that are tried out.
const MOST_TRIED: usize = 6;
/// Of no more answers of another group than these each counts for itself.
const FEW: usize = 24;
/// Trials of answers of one group with answers of another one at most, where it is asked which of these make the same of a reading...
const MOST_TRIALS: usize = 1500;
/// ... but so many answers of the first at least.
const LEAST_TRIALS: usize = 4;
/// Answers less likely than this share of the best are not tried with others.
const WORTH_A_TRIAL: f64 = 1e-4;

/// Which of these pairs of groups are tied. `None` when nobody waits any more.
pub(super) fn ties(log: &Log<'_>, all: &[Weighed], pairs: &[(usize, usize)]) -> Option<Vec<(usize, usize)>> {
    let covers: Vec<Vec<Answers>> = all.iter().map(|one| cover(&one.account.group)).collect();
    let by_trial = |a: usize, b: usize| hangs_on(log, &all[a].account, (&all[b].account.group, covers[b].as_slice()));
    let of_one = |&(a, b): &(usize, usize)| (!(log.stopped)()).then(|| by_trial(a, b) || by_trial(b, a));
    let tied: Vec<bool> = pairs.par_iter().map(of_one).collect::<Option<_>>()?;
    Some(pairs.iter().zip(tied).filter_map(|(&pair, tied)| tied.then_some(pair)).collect())
}

/// Whether some answer of another group changes what a reading is by an answer it speaks against.
fn hangs_on(log: &Log<'_>, account: &Account, (other, cover): (&Group, &[Answers])) -> bool {
    // For each answer, the readings that speak against it.
    let mut tried: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for (at, (id, _)) in log.readings.iter().enumerate() {
        let Some(likelihoods) = account.likelihoods.get(id) else { continue };
        for answer in against(account, likelihoods, log.by_chance(at)).into_iter().take(MOST_TRIED) {
            tried.entry(answer).or_default().push(at);
        }
    }
    tried.iter().any(|(&answer, readings)| {
        if (log.stopped)() {
            return false;
        }
        let own = account.answers_of(&Hypothesis::of(answer));
        let before = at_probes(log, &own, readings);
        cover.iter().any(|answers| {
            if (log.stopped)() {
                return false;
            }
            let with = own.iter().copied().chain(other.mysteries.iter().copied().zip(answers.iter().copied()));
            let now = at_probes(log, &with.collect::<Vec<_>>(), readings);
            now.iter().zip(&before).any(|(now, before)| match (now, before) {
                (Some(now), Some(before)) => now.differs(before),
                (now, before) => now.is_some() != before.is_some(),
            })
        })
    })
}

/// For each answer of another group the number of what it makes of this one's readings: those that make the same of them have the same.
/// `None` for answers too unlikely to be tried. `None` in all when nobody waits any more.
pub(super) fn by_effect(log: &Log<'_>, account: &Account, other: &Account) -> Option<Vec<Option<usize>>> {
    let odds = other.answer_odds();
    let best = odds.iter().copied().fold(0.0, f64::max);
    let likely: Vec<usize> = (0..odds.len()).filter(|&at| odds[at] > WORTH_A_TRIAL * best).collect();
    let mut numbers = vec![None; odds.len()];
    if likely.len() <= FEW {
        for (number, at) in likely.into_iter().enumerate() {
            numbers[at] = Some(number);
        }
        return Some(numbers);
    }
    // The likeliest answer, a few in which every candidate occurs, and of each reading one it speaks against.
    let likeliest =
        (0..account.group.answers.len()).max_by(|&a, &b| account.odds[a].total_cmp(&account.odds[b]).then(b.cmp(&a)));
    let mut tried: Vec<usize> = likeliest.into_iter().collect();
    let numbered = |answers: Answers| account.group.answers.iter().position(|(own, _)| *own == answers);
    for at in cover(&account.group).into_iter().filter_map(numbered) {
        tried.extend((!tried.contains(&at)).then_some(at));
    }
    for (at, (id, _)) in log.readings.iter().enumerate() {
        let told = account.likelihoods.get(id);
        let first = told.and_then(|all| against(account, all, log.by_chance(at)).first().copied());
        tried.extend(first.filter(|first| !tried.contains(first)));
    }
    tried.truncate((MOST_TRIALS / likely.len()).max(LEAST_TRIALS));
    let places: Vec<Place> = log.places.iter().map(Place::by_value).collect();
    let (sought, conditions) = (Sought::of(log, &places), places.iter().map(|place| place.condition));
    let answers = |account: &Account, at: usize| account.answers_of(&Hypothesis::of(at));
    let made = |&at: &usize| -> Option<Bands> {
        let mut made = Bands::new();
        for &own in &tried {
            if (log.stopped)() {
                return None;
            }
            let world = World::in_log(log, &[answers(account, own), answers(other, at)].concat());
            made.extend(Looked::quickly(&world, conditions.clone()).bands(&sought));
        }
        Some(made)
    };
    let made: Vec<Bands> = likely.par_iter().map(made).collect::<Option<_>>()?;
    let mut kinds: Vec<&Bands> = Vec::new();
    for (&at, made) in likely.iter().zip(&made) {
        let is_same = |kind: &&Bands| kind.iter().zip(made).all(|(a, b)| a.is_none() && b.is_none() || is_near(*a, *b));
        let number = kinds.iter().position(is_same).unwrap_or_else(|| {
            kinds.push(made);
            kinds.len() - 1
        });
        numbers[at] = Some(number);
    }
    Some(numbers)
}

/// Answers alone that a reading speaks against, or all where it speaks against them all, those first that every other reading makes likeliest.
fn against(account: &Account, likelihoods: &[f64], by_chance: f64) -> Vec<usize> {
    let most = likelihoods.iter().copied().fold(by_chance, f64::max);
    let alone = likelihoods.iter().zip(&account.odds).take(account.group.answers.len()).enumerate();
    let mut all: Vec<(usize, f64)> = alone
        .filter(|(_, (likelihood, _))| **likelihood < AGAINST * most)
        .map(|(at, (likelihood, odds))| (at, odds / likelihood))
        .collect();
    let answers = |at: usize| account.group.answers.get(at).map(|(answers, _)| answers.as_slice()).unwrap_or_default();
    all.sort_by_cached_key(|&(at, odds)| likelier_first(odds, answers(at)));
    all.into_iter().map(|(at, _)| at).collect()
}

/// What is at the probes of a reading.
enum AtProbes {
    /// On the dead machine: between which two ends the value lies at first look.
    Dead(Option<(f64, f64)>),
    /// On the live one: as far as poles tell.
    Live { difference: Option<Difference>, potentials: [Option<Potential>; 2], voltage_possible: bool },
}

impl AtProbes {
    /// Whether a meter could tell the two apart.
    fn differs(&self, other: &Self) -> bool {
        match (self, other) {
            (Self::Dead(Some(a)), Self::Dead(Some(b))) => a.1 < b.0 || b.1 < a.0,
            (Self::Dead(a), Self::Dead(b)) => a.is_some() != b.is_some(),
            (
                Self::Live { difference, potentials, voltage_possible },
                Self::Live { difference: other, potentials: others, voltage_possible: possible },
            ) => (difference, potentials, voltage_possible) != (other, others, possible),
            _ => true,
        }
    }
}

/// What is at the probes of each of these readings with these answers.
fn at_probes(log: &Log<'_>, answers: &[(MysteryId, usize)], readings: &[usize]) -> Vec<Option<AtProbes>> {
    let world = World::in_log(log, answers);
    let places: Vec<Place> = readings.iter().map(|&at| log.places[at].by_value()).collect();
    let (dead, live): (Vec<usize>, Vec<usize>) = (0..places.len()).partition(|&nth| places[nth].function.needs_dead());
    let of_dead: Vec<Place> = dead.iter().map(|&nth| places[nth].clone()).collect();
    let looked = Looked::quickly(&world, of_dead.iter().map(|place| place.condition));
    let mut all: Vec<Option<AtProbes>> = readings.iter().map(|_| None).collect();
    for (nth, band) in dead.into_iter().zip(looked.bands(&Sought::of(log, &of_dead))) {
        all[nth] = Some(AtProbes::Dead(band));
    }
    let mut situations: BTreeMap<ConditionId, Situation<'_>> = BTreeMap::new();
    let network = world.network();
    for nth in live {
        let (condition, (_, reading)) = (places[nth].condition, &log.readings[readings[nth]]);
        let situation =
            situations.entry(condition).or_insert_with(|| Situation::of(network, &log.machine.setting(condition)));
        all[nth] = live_at(network, situation, reading);
    }
    all
}

/// What is at the probes of a reading on the live machine.
fn live_at(network: &Network, situation: &Situation<'_>, reading: &Reading) -> Option<AtProbes> {
    let ends = match (&reading.red, reading.black.as_ref()) {
        (red, Some(black)) => [network.node(red)?, network.node(black)?],
        (Spot::Part(part), None) => network.loads().iter().find(|load| load.inside.part == *part)?.inside.ends,
        _ => return None,
    };
    let [red, black] = ends;
    Some(AtProbes::Live {
        difference: situation.difference(red, black),
        potentials: ends.map(|node| situation.potential(node)),
        voltage_possible: situation.voltage_possible(red, black),
    })
}

/// A few answers of a group in which every candidate of every mystery occurs.
fn cover(group: &Group) -> Vec<Answers> {
    let mut order: Vec<usize> = (0..group.answers.len()).collect();
    order.sort_by_cached_key(|&at| likelier_first(1.0, &group.answers[at].0));
    let mut seen: BTreeSet<(usize, usize)> = BTreeSet::new();
    let is_new = |at: &usize| {
        let before = seen.len();
        seen.extend(group.answers[*at].0.iter().copied().enumerate());
        seen.len() > before
    };
    let few: Vec<usize> = order.into_iter().filter(is_new).collect();
    few.into_iter().map(|at| group.answers[at].0.clone()).collect()
}
