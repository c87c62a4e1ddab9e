//! Faults that would explain what the readings dispute: which elements to suspect, and how likely each fault is by itself.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::electric::{Corner, Live, What};
use crate::circuit::{Network, Situation};
use crate::machine::{ConditionId, Machine, Setting};

use super::log::Log;
use super::world::{Flaw, Place, World, carried};

/// Elements that are suspected at most.
const MOST_SUSPECTS: usize = 16;
/// Elements that are suspected by twos at most.
const MOST_BY_TWOS: usize = 8;
/// A fault is suspected where it makes a disputed reading likelier by this much.
const LIKELIER: f64 = 2.0;
/// A share of the meter's own current below which an element has no part in a reading.
const NO_PART: f64 = 1e-9;

/// Odds of a fault in an element before any reading (common practice, no source; only their ratios matter).
pub(super) fn weight_of(flaw: Flaw) -> f64 {
    match flaw {
        Flaw::Open(What::Fuse(_)) => 0.02,
        Flaw::Open(What::Coil(_) | What::Load(_)) => 0.01,
        Flaw::Welded(_) | Flaw::Open(What::Contact(_)) => 0.005,
        Flaw::Open(_) => 0.002,
    }
}

/// Every fault an element of this network can have.
fn every(network: &Network) -> Vec<Flaw> {
    let all = (0..network.wires().len()).map(What::Wire);
    let all = all.chain((0..network.fuses().len()).map(What::Fuse));
    let all = all.chain((0..network.contacts().len()).map(What::Contact));
    let all = all.chain((0..network.relays().len()).map(What::Coil));
    let all = all.chain((0..network.loads().len()).map(What::Load));
    all.map(Flaw::Open).chain((0..network.contacts().len()).map(Flaw::Welded)).collect()
}

/// Faults that make one of the disputed readings likelier in this world, as faults of the record's own network, with how much
/// likelier they make them all together, as a logarithm. `None` when nobody waits any more.
pub(super) fn suspects(log: &Log<'_>, world: &World, disputed: &[usize]) -> Option<Vec<(Flaw, f64)>> {
    let network = world.network();
    let places: Vec<Place> = disputed.iter().map(|&at| log.places[at].clone()).collect();
    let plain = world.expectations(&places);
    let mut suspects = Vec::new();
    for flaw in with_a_part(log, world, &places)? {
        if (log.stopped)() {
            return None;
        }
        let shown = world.with_flaws(&[flaw]).expectations(&places);
        let better = disputed
            .iter()
            .zip(shown.iter().zip(&plain))
            .map(|(&at, (shown, plain))| log.likelihood(at, shown.as_ref()) / log.likelihood(at, plain.as_ref()));
        let better: Vec<f64> = better.collect();
        if better.iter().any(|better| *better > LIKELIER)
            && let Some(own) = carried(flaw, network, &log.network)
        {
            suspects.push((own, better.iter().map(|better| better.ln()).sum()));
        }
    }
    Some(suspects)
}

/// Faults that can have a part in one of these readings at all.
fn with_a_part(log: &Log<'_>, world: &World, places: &[Place]) -> Option<Vec<Flaw>> {
    let network = world.network();
    let mut by_condition: BTreeMap<ConditionId, Vec<&Place>> = BTreeMap::new();
    for place in places {
        by_condition.entry(place.condition).or_default().push(place);
    }
    let every = every(network);
    let mut all: BTreeSet<Flaw> = BTreeSet::new();
    for (condition, places) in by_condition {
        let setting = log.machine.setting(condition);
        let (dead, live): (Vec<&Place>, Vec<&Place>) =
            places.into_iter().partition(|place| place.function.needs_dead());
        if !dead.is_empty() {
            let in_it = Live::of(network, world.elements(), &setting);
            for place in dead {
                all.extend(every.iter().copied().filter(|&flaw| has_part_dead(&in_it, place, flaw)));
            }
        }
        if live.is_empty() {
            continue;
        }
        let plain = seen(network, &setting, &live);
        for &flaw in &every {
            if (log.stopped)() {
                return None;
            }
            if !all.contains(&flaw) && seen(&network.with_flaws(&[flaw]), &setting, &live) != plain {
                all.insert(flaw);
            }
        }
    }
    Some(all.into_iter().collect())
}

/// Whether the meter's own current goes through an element, or would if the contact were closed.
fn has_part_dead(live: &Live<'_>, place: &Place, flaw: Flaw) -> bool {
    let network = live.network();
    let node = |spot: Option<&crate::machine::Spot>| spot.and_then(|spot| network.node(spot));
    let (Some(red), Some(black)) = (node(Some(&place.red)), node(place.black.as_ref())) else { return false };
    let (stamp, factored) = live.dead(Corner::Nominal);
    let island = |node: u32| factored.island(node);
    let field = factored.field(red.0, black.0).ok();
    let own = field.as_ref().map_or(0.0, |field| field.volts(red.0, black.0).norm());
    let across = |a: u32, b: u32| match &field {
        Some(field) if island(a) == island(red.0) && island(b) == island(red.0) => {
            a != b && (factored.is_one_net(a, b) || field.volts(a, b).norm() > NO_PART * own.max(1e-3))
        }
        Some(_) | None => false,
    };
    match flaw {
        Flaw::Open(what) => {
            let mut own = stamp.what.iter().zip(&stamp.circuit.branches).filter(|(one, _)| **one == what);
            own.any(|(_, &(a, b, _))| across(a, b))
        }
        Flaw::Welded(contact) => {
            let Some(entry) = network.contacts().get(contact) else { return false };
            let [a, b] = entry.inside.ends;
            let ends = [island(a.0), island(b.0)];
            let probes = [island(red.0), island(black.0)];
            let joins = field.is_none() && (ends == probes || ends == [probes[1], probes[0]]);
            // The arm that stays where it is keeps the other one open.
            let parts = network.other_arms(contact).into_iter().any(|arm| {
                network.contacts().get(arm).is_some_and(|arm| across(arm.inside.ends[0].0, arm.inside.ends[1].0))
            });
            joins || parts || across(a.0, b.0)
        }
    }
}

/// What the tier without impedance says of these places in a condition: where it stays the same, so do volts.
fn seen(network: &Network, setting: &Setting, places: &[&Place]) -> Vec<String> {
    let situation = Situation::of(network, setting);
    let one = |place: &&Place| {
        let nodes = [Some(&place.red), place.black.as_ref()].map(|spot| spot.and_then(|spot| network.node(spot)));
        if let [Some(red), Some(black)] = nodes {
            return format!(
                "{} {:?} {:?} {:?}",
                situation.is_joined(red, black),
                situation.difference(red, black),
                situation.live(red),
                situation.live(black)
            );
        }
        let crate::machine::Spot::Part(part) = &place.red else { return format!("{:?}", situation.worked) };
        let loads = network.loads().iter().filter(|load| load.inside.part == *part);
        let across: Vec<_> = loads.map(|load| situation.across(&load.inside)).collect();
        format!("{:?} {across:?}", situation.worked)
    };
    places.iter().map(one).collect()
}

/// Sets of faults to be weighed: each suspect alone, and by twos where one alone need not explain everything.
pub(super) fn fault_sets(found: &BTreeMap<Flaw, f64>, by_twos: bool) -> Vec<Vec<Flaw>> {
    let mut suspects: Vec<(Flaw, f64)> =
        found.iter().map(|(&flaw, better)| (flaw, better + weight_of(flaw).ln())).collect();
    suspects.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    suspects.truncate(MOST_SUSPECTS);
    let mut sets = Vec::new();
    for (at, (flaw, _)) in suspects.iter().enumerate() {
        sets.push(vec![*flaw]);
        if by_twos && at < MOST_BY_TWOS {
            sets.extend(suspects[..at].iter().map(|(other, _)| vec![*other, *flaw]));
        }
    }
    sets
}

/// Faults in words, in order of their names.
pub(super) fn words(machine: &Machine, network: &Network, flaws: &[Flaw]) -> String {
    let one = |flaw: &Flaw| match flaw {
        Flaw::Open(what) => format!("{} open", what.name(machine, network)),
        Flaw::Welded(contact) => format!("{} welded", What::Contact(*contact).name(machine, network)),
    };
    let all: BTreeSet<String> = flaws.iter().map(one).collect();
    all.into_iter().collect::<Vec<_>>().join(" and ")
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Many suspects each explain one reading well; the one that explains them all comes first.
    #[test]
    fn what_explains_most_is_suspected_first() {
        let wire = Flaw::Open(What::Wire(7));
        let others = (0..40).map(|at| (Flaw::Open(What::Coil(at)), 4.0));
        let found: BTreeMap<Flaw, f64> = others.chain([(wire, 12.0)]).collect();
        let sets = fault_sets(&found, false);
        assert_eq!(sets.first(), Some(&vec![wire]));
        assert_eq!(sets.len(), MOST_SUSPECTS);
    }
}
