//! The next reading: where, with what, in which condition; what each result would mean; with how much effort and risk.
//!
//! Risk is an order, not a weight: among readings whose whole effort is within a tenth of the best, one on a dead machine comes before one at
//! extra-low voltage, and that before one at line voltage. Tone and ohms where voltage may be on are never proposed.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::circuit::electric::{Doubt, Expectation, Expected, Runs};
use crate::circuit::{Hazard, Network, Situation, Steps};
use crate::machine::{ConditionId, Machine, MysteryId, Spot, Subject, TerminalRef};
use crate::quantity::{Band, Function};

use super::belief::entropy_bits;
use super::reasoned::Account;
use super::sequence::{Problem, Test};
use super::world::{Place, World, candidate_spots, subject_spots};

/// Answers that are looked at, likeliest first.
const MOST_ANSWERS: usize = 48;
/// Answers less likely than this share of the best are not looked at.
const LEAST_ODDS: f64 = 1e-3;
/// Pairs of places that are looked at.
const MOST_PAIRS: usize = 120;
/// Terminals of a part on which an unknown lead begins that are looked at besides.
const MOST_OF_A_PART: usize = 8;
/// Readings whose whole effort is within this share of the least are as good as it; then the risk decides.
const AS_GOOD: f64 = 0.10;
/// Bits below which a reading brings nothing.
const NOTHING: f64 = 1e-9;

/// How dangerous a reading is to take, by the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Risk {
    /// No source is on.
    Dead,
    /// Extra-low voltage.
    ExtraLow,
    /// Line voltage, or it is not known.
    Line,
}

impl Risk {
    /// As it is written in results.
    pub fn word(self) -> &'static str {
        match self {
            Self::Dead => "dead",
            Self::ExtraLow => "extra-low",
            Self::Line => "line",
        }
    }
}

/// What to mind when a reading is taken in a condition, worst first.
fn cautions(machine: &Machine, risk: Risk, condition: ConditionId) -> Vec<&'static str> {
    let mut cautions = Vec::new();
    match risk {
        Risk::Dead => cautions.push(
            "Isolate and lock, let capacitors discharge, and verify absence of voltage with a meter tried on a known live source before and after.",
        ),
        Risk::ExtraLow => cautions.push(
            "WARNING: extra-low voltage is on, and what the record does not know can still be at line voltage. Verify first, and keep clear of the line side.",
        ),
        Risk::Line => cautions.push(
            "DANGER: line voltage. Live work is for licensed practice under local rules, with rated probes and gloves and no metal on the hands.",
        ),
    }
    if risk != Risk::Dead {
        if machine.facts.flammable != Some(false) && !machine.facts.refrigerant.is_empty() {
            cautions.push("WARNING: the refrigerant burns, or it is not said that it does not. No spark where it may have leaked; ventilate first.");
        }
        let setting = machine.setting(condition);
        if !setting.commanded.is_empty() || !setting.sources_on.is_empty() {
            cautions
                .push("Motors, fans and heaters can start by themselves: keep hands, tools and leads clear of them.");
        }
        cautions.push("Follow local rules and the maker's instructions.");
    }
    cautions
}

/// What one result would mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Meaning {
    /// What would be shown.
    pub reading: String,
    /// How likely that is.
    pub odds: f64,
    /// What it settles that other results do not: for each such mystery of the group, the number of the candidate.
    pub leaves: Vec<(MysteryId, usize)>,
    /// How many answers it leaves.
    pub answers: usize,
}

/// A reading that tells answers apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// Where and how.
    pub place: Place,
    /// How to get the machine into the condition.
    pub steps: Vec<String>,
    /// How dangerous it is.
    pub risk: Risk,
    /// Bits it brings on average.
    pub settles_bits: f64,
    /// Its own effort: readings count 1, a change of condition and a lifted lead more.
    pub effort: f64,
    /// The whole effort on average until nothing more can be told apart, beginning with it.
    pub whole_effort: f64,
    /// Results, likeliest first.
    pub results: Vec<Meaning>,
    /// What to mind, worst first.
    pub cautions: Vec<&'static str>,
    /// Odds that none of the answers is right, whatever is read here.
    pub none_of_these: f64,
}

/// The best next readings for a group of mysteries, best first; none where no reading tells the answers that are left apart.
pub fn proposals(
    machine: &Machine,
    catalogue: &Arc<Catalogue>,
    account: &Account,
    present: Option<ConditionId>,
    most: usize,
) -> Vec<Proposal> {
    let best = account.odds.iter().copied().fold(0.0, f64::max);
    let mut answers: Vec<usize> = (0..account.odds.len()).filter(|&at| account.odds[at] > LEAST_ODDS * best).collect();
    answers.sort_by(|&a, &b| account.odds[b].total_cmp(&account.odds[a]).then(a.cmp(&b)));
    answers.truncate(MOST_ANSWERS);
    if answers.len() < 2 {
        return Vec::new();
    }
    let whole: f64 = answers.iter().map(|&at| account.odds[at]).sum();
    let odds: Vec<f64> = answers.iter().map(|&at| account.odds[at] / whole).collect();
    let worlds: Vec<World> = answers
        .iter()
        .map(|&at| {
            let chosen = account.group.answers.get(at).map(|(answers, _)| answers.clone()).unwrap_or_default();
            let own = account.group.mysteries.iter().copied().zip(chosen);
            let chosen: Vec<(MysteryId, usize)> = own.chain(account.resting_on.iter().copied()).collect();
            World::of(machine, catalogue, &chosen, &[])
        })
        .collect();
    let network = Network::of(machine, catalogue);
    let risks = risks(machine, &network, &worlds);
    let places = places(machine, catalogue, account, &risks);
    let worlds: Vec<Vec<Option<Expectation>>> = worlds.iter().map(|world| world.expectations(&places)).collect();
    let results: Vec<Option<Vec<usize>>> = (0..places.len())
        .map(|at| outcomes(&worlds.iter().map(|world| world[at].as_ref()).collect::<Vec<_>>()))
        .collect();
    let effort = |place: &Place| {
        let lifts = machine.setting(place.condition).lifted.len() as f64;
        1.0 + if Some(place.condition) == present { 0.0 } else { 1.0 } + lifts
    };
    // Of places that tell the same apart, the least risky with the least effort.
    let mut best: BTreeMap<Vec<usize>, (Risk, f64, usize)> = BTreeMap::new();
    for (at, results) in results.into_iter().enumerate() {
        let (Some(results), Some(&risk)) = (results, risks.get(&places[at].condition)) else { continue };
        let own = (risk, effort(&places[at]), at);
        let entry = best.entry(results).or_insert(own);
        if (own.0, own.1) < (entry.0, entry.1) {
            *entry = own;
        }
    }
    let tests: Vec<(Vec<usize>, (Risk, f64, usize))> = best.into_iter().collect();
    let problem = Problem {
        odds: odds.clone(),
        tests: tests.iter().map(|(results, (_, cost, _))| Test { cost: *cost, results: results.clone() }).collect(),
    };
    let costs = problem.costs();
    let mut all: Vec<Proposal> = tests
        .iter()
        .zip(costs)
        .filter_map(|((results, (risk, effort, at)), whole)| {
            let mut parts: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
            for (answer, &result) in results.iter().enumerate() {
                parts.entry(result).or_default().push(answer);
            }
            let shares: Vec<f64> = parts.values().map(|part| part.iter().map(|&one| odds[one]).sum()).collect();
            let settles_bits = entropy_bits(&shares);
            if settles_bits <= NOTHING {
                return None;
            }
            let meaning = |(part, odds): (&Vec<usize>, &f64)| {
                let shown = part.iter().map(|&one| worlds[one][*at].as_ref().map(|one| one.expected));
                Some(Meaning {
                    reading: together(shown.collect::<Option<Vec<Expected>>>()?)?.words(places[*at].function),
                    odds: *odds,
                    leaves: leaves(account, &answers, part),
                    answers: part.len(),
                })
            };
            let mut means: Vec<Meaning> = parts.values().zip(&shares).filter_map(meaning).collect();
            means.sort_by(|a, b| b.odds.total_cmp(&a.odds));
            // What every result leaves the same goes without saying.
            let common: Vec<(MysteryId, usize)> = means
                .first()
                .map(|first| {
                    first
                        .leaves
                        .iter()
                        .copied()
                        .filter(|one| means.iter().all(|other| other.leaves.contains(one)))
                        .collect()
                })
                .unwrap_or_default();
            for one in &mut means {
                one.leaves.retain(|leaf| !common.contains(leaf));
            }
            Some(Proposal {
                steps: steps(machine, &network, present, places[*at].condition),
                cautions: cautions(machine, *risk, places[*at].condition),
                none_of_these: account.none_of_these,
                place: places[*at].clone(),
                risk: *risk,
                settles_bits,
                effort: *effort,
                whole_effort: whole?,
                results: means,
            })
        })
        .collect();
    let mut ranked = Vec::new();
    while ranked.len() < most && !all.is_empty() {
        let least = all.iter().map(|one| one.whole_effort).fold(f64::INFINITY, f64::min);
        let next = (0..all.len()).filter(|&at| all[at].whole_effort <= least * (1.0 + AS_GOOD)).min_by(|&a, &b| {
            let key = |one: &Proposal| (one.risk, one.whole_effort, one.effort);
            key(&all[a]).partial_cmp(&key(&all[b])).unwrap_or(std::cmp::Ordering::Equal)
        });
        let Some(next) = next else { break };
        ranked.push(all.remove(next));
    }
    ranked
}

/// What all answers of a part have in common: for each mystery the candidate, where it is one.
fn leaves(account: &Account, answers: &[usize], part: &[usize]) -> Vec<(MysteryId, usize)> {
    let chosen = |&at: &usize| account.group.answers.get(*answers.get(at)?).map(|(answers, _)| answers);
    let mysteries = account.group.mysteries.iter().enumerate();
    mysteries
        .filter_map(|(at, &mystery)| {
            let mut all = part.iter().filter_map(chosen).filter_map(|answers| answers.get(at).copied());
            let first = all.next()?;
            all.all(|one| one == first).then_some((mystery, first))
        })
        .collect()
}

/// The number of the result of each answer, results that a meter cannot tell apart put together. `None` where no answer is told
/// from another, or one of them allows anything, or forbids the reading.
fn outcomes(shown: &[Option<&Expectation>]) -> Option<Vec<usize>> {
    let mut bands: Vec<(f64, f64)> = Vec::with_capacity(shown.len());
    for expectation in shown {
        let expectation = (*expectation)?;
        if expectation.doubts.iter().any(|doubt| matches!(doubt, Doubt::UnknownPart | Doubt::Rectified | Doubt::Relays))
        {
            return None;
        }
        bands.push(match expectation.expected {
            Expected::Tone | Expected::Load(Runs::Yes) => (1.0, 1.0),
            Expected::NoTone | Expected::Load(Runs::No) => (2.0, 2.0),
            Expected::EitherTone => (1.0, 2.0),
            Expected::OverLimit => (f64::MAX, f64::INFINITY),
            Expected::Value { shown, .. } => (shown.low, shown.high),
            Expected::Ghost { up_to } => (0.0, up_to),
            Expected::Load(_) | Expected::Unknown(_) | Expected::Danger { .. } => return None,
        });
    }
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
    // Numbered in order of the answers, so that the same division is the same whatever is shown.
    let mut names: BTreeMap<usize, usize> = BTreeMap::new();
    for slot in &mut results {
        let next = names.len();
        *slot = *names.entry(*slot).or_insert(next);
    }
    Some(results)
}

/// Expectations that a meter cannot tell apart, as one: values from the lowest to the highest.
fn together(all: Vec<Expected>) -> Option<Expected> {
    let mut all = all.into_iter();
    let first = all.next()?;
    Some(all.fold(first, |so_far, one| match (so_far, one) {
        (Expected::Value { nominal, shown }, Expected::Value { shown: other, .. }) => {
            Expected::Value { nominal, shown: Band::new(shown.low.min(other.low), shown.high.max(other.high)) }
        }
        (so_far, _) => so_far,
    }))
}

/// How dangerous each condition is, by the record and by every answer that is looked at: the worst counts. One that does not say of
/// every source whether it is on counts as line voltage.
fn risks(machine: &Machine, network: &Network, worlds: &[World]) -> BTreeMap<ConditionId, Risk> {
    let sources: BTreeSet<_> = network.sources().iter().map(|source| source.inside.part).collect();
    machine
        .conditions
        .ids()
        .map(|id| {
            let said = sources.is_subset(&machine.sources_said(id)) && !sources.is_empty();
            let own = Situation::of(network, &machine.setting(id)).hazard().0;
            let worst = worlds.iter().map(|world| world.hazard(id)).fold(own, std::cmp::Ord::max);
            let risk = match worst {
                _ if !said => Risk::Line,
                Hazard::NoSource => Risk::Dead,
                Hazard::ExtraLow => Risk::ExtraLow,
                Hazard::Above => Risk::Line,
            };
            (id, risk)
        })
        .collect()
}

/// Readings that may tell the group's answers apart.
fn places(
    machine: &Machine,
    catalogue: &Arc<Catalogue>,
    account: &Account,
    risks: &BTreeMap<ConditionId, Risk>,
) -> Vec<Place> {
    let spots = spots(machine, catalogue, account);
    let mut pairs: Vec<(Spot, Spot)> = Vec::new();
    for (at, red) in spots.iter().enumerate() {
        pairs.extend(spots[at + 1..].iter().map(|black| (red.clone(), black.clone())));
    }
    pairs.truncate(MOST_PAIRS);
    let meter = machine.readings.values().rev().find_map(|reading| reading.meter);
    let mut places = Vec::new();
    for (&condition, &risk) in risks {
        let functions: &[Function] = if risk == Risk::Dead {
            &[Function::Tone, Function::Ohms]
        } else {
            &[Function::VoltsAc, Function::VoltsDc]
        };
        // Live, one reading after another is to be spared: the first few pairs only.
        let own = if risk == Risk::Dead { pairs.len() } else { pairs.len().min(12) };
        for (red, black) in &pairs[..own] {
            for &function in functions {
                let (red, black) = (red.clone(), Some(black.clone()));
                places.push(Place { condition, red, black, function, meter });
            }
        }
        if risk != Risk::Dead {
            let loads = machine.parts.iter().filter(|(_, part)| {
                let body = catalogue.body(part);
                body.elements.iter().any(|element| {
                    matches!(
                        element,
                        crate::catalogue::Element::Load { .. } | crate::catalogue::Element::Winding { .. }
                    )
                })
            });
            places.extend(loads.take(12).map(|(part, _)| Place {
                condition,
                red: Spot::Part(part),
                black: None,
                function: Function::Runs,
                meter: None,
            }));
        }
    }
    places
}

/// Where probes can be put that has to do with the group: near ends of unknown leads, then candidates, then what hangs on them.
fn spots(machine: &Machine, catalogue: &Arc<Catalogue>, account: &Account) -> Vec<Spot> {
    let mut spots: Vec<Spot> = Vec::new();
    let mut more: Vec<Spot> = Vec::new();
    let own_terminals = |part: crate::machine::PartId| -> Vec<Spot> {
        let body = machine.parts.get(part).map(|part| catalogue.body(part));
        let terminals = body.iter().flat_map(|body| &body.terminals);
        terminals.map(|terminal| Spot::Terminal(TerminalRef { part, marking: terminal.marking.clone() })).collect()
    };
    for mystery in account.group.mysteries.iter().filter_map(|id| machine.mysteries.get(*id)) {
        for spot in subject_spots(machine, &mystery.subject) {
            let own = match &spot {
                Spot::Part(part) | Spot::Terminal(TerminalRef { part, .. }) => own_terminals(*part),
                _ => Vec::new(),
            };
            match (&mystery.subject, &spot) {
                (_, Spot::Part(_)) => spots.extend(own),
                (Subject::ContactForm(_) | Subject::Fault(Spot::Terminal(_)), _) => {
                    spots.push(spot);
                    spots.extend(own);
                }
                (Subject::End(..), _) => {
                    spots.push(spot);
                    more.extend(own.into_iter().take(MOST_OF_A_PART));
                }
                _ => spots.push(spot),
            }
        }
        spots.extend(candidate_spots(mystery));
    }
    let mut seen = BTreeSet::new();
    spots.into_iter().chain(more).filter(|spot| seen.insert(spot.clone())).collect()
}

/// How to get from the present condition to another, under a first line that names it.
fn steps(machine: &Machine, network: &Network, present: Option<ConditionId>, to: ConditionId) -> Vec<String> {
    let sources = network.sources().iter().map(|source| source.inside.part).collect();
    let Steps { before, on } = Steps::between(machine, &sources, present, to);
    let name = machine.conditions.get(to).map_or("", |condition| condition.name.as_str());
    let first = (present != Some(to)).then(|| format!("Set the condition '{name}':"));
    first.into_iter().chain(before).chain(on).collect()
}

/// The proposals of several groups as one list: the best of each group first, the least risky of them before the others, then those
/// that settle most for their effort. The order within a group stays.
pub fn in_order<G>(groups: Vec<(G, Vec<Proposal>)>) -> Vec<(G, Proposal)>
where
    G: Clone,
{
    let mut all: Vec<(usize, G, Proposal)> = groups
        .into_iter()
        .flat_map(|(group, own)| own.into_iter().enumerate().map(move |(at, proposal)| (at, group.clone(), proposal)))
        .collect();
    let worth = |one: &Proposal| one.settles_bits / one.effort;
    all.sort_by(|(at, _, a), (other, _, b)| {
        at.cmp(other).then(a.risk.cmp(&b.risk)).then(worth(b).total_cmp(&worth(a)))
    });
    all.into_iter().map(|(_, group, proposal)| (group, proposal)).collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::identify::Reasoned;
    use crate::store;

    /// A 230/24 V machine in which a lead may end on the secondary of a transformer, and feed it backwards.
    fn record() -> (Machine, Arc<Catalogue>) {
        let text = r#"(format: 1, machine: (title: "steps", source: "invented", refrigerant: "R290", flammable: true), parts: [
            (tag: "X1", kind: "cord-plug", ratings: {"volts": "230 V AC", "hertz": "50 Hz"}),
            (tag: "X2", kind: "cord-plug", ratings: {"volts": "24 V AC", "hertz": "50 Hz"}),
            (tag: "T1", kind: "control-transformer", ratings: {"volts": "230 V AC", "secondary_volts": "24 V AC", "volt_amps": "40 VA"}),
            (tag: "P1", kind: "lamp", ratings: {"volts": "24 V AC", "watts": "5 W"})],
            wires: [(key: "W1", from: "X1.L", to: "P1.2"), (key: "W2", from: "X2.L", to: "unknown"), (key: "W3", from: "X2.N", to: "T1.X2")],
            conditions: [(name: "all on, lifted", sources: {"X1": true, "X2": true}, lifted: {"W1.to": true}),
                (name: "24 V only", sources: {"X1": false, "X2": true}, how: "The breaker is in the hall.")],
            mysteries: [(name: "W2 end", subject: end("W2.to"), candidates: [(guess: terminal("T1.X1")), (guess: terminal("P1.1"))])])"#;
        let catalogue = Catalogue::built_in().unwrap();
        (store::parse("steps", text, &catalogue).unwrap_or_else(|errors| panic!("{errors}")), catalogue)
    }

    #[test]
    fn what_must_go_off_or_be_landed_again_is_named_before_anything_is_switched_on() {
        let (machine, catalogue) = record();
        let network = Network::of(&machine, &catalogue);
        let ids: Vec<ConditionId> = machine.conditions.ids().collect();
        let at = |steps: &[String], part: &str| {
            steps.iter().position(|step| step.contains(part)).unwrap_or_else(|| panic!("no '{part}' in {steps:?}"))
        };
        let to_24 = steps(&machine, &network, Some(ids[0]), ids[1]);
        let order = ["Switch every source off", "X1 stays off", "in the hall", "Land W1.to again", "Switch X2 on"]
            .map(|one| at(&to_24, one));
        assert!(order.is_sorted(), "{to_24:?}");
        let unknown = steps(&machine, &network, None, ids[1]);
        at(&unknown, "X1 stays off");
        at(&unknown, "Land every lead");
        let lift = steps(&machine, &network, Some(ids[1]), ids[0]);
        assert!(
            at(&lift, "verify absence of voltage") < at(&lift, "Lift W1.to")
                && at(&lift, "Lift W1.to") < at(&lift, "Switch X2 on")
        );
    }

    #[test]
    fn an_answer_that_brings_line_voltage_makes_every_reading_in_that_condition_one_at_line_voltage() {
        let (machine, catalogue) = record();
        let reasoned = Reasoned::of(&machine, &catalogue);
        let found = proposals(&machine, &catalogue, &reasoned.accounts[0], None, 10);
        assert!(!found.is_empty());
        for one in &found {
            assert_eq!(one.risk, Risk::Line, "fed backwards the transformer gives 230 V: {one:?}");
            assert!(one.cautions.iter().any(|caution| caution.contains("licensed")));
            assert!(one.cautions.iter().any(|caution| caution.contains("refrigerant burns")));
            assert!(!one.place.function.needs_dead());
        }
    }
}
