//! What the readings of a record say of its mysteries, and of faults that would explain what disputes it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::circuit::electric::{Agreement, Expectation, What};
use crate::circuit::{Frame, Network};
use crate::machine::{Machine, MysteryId, Reading, ReadingId, Setting, Spot};

use super::belief::Belief;
use super::hypothesis::{Group, by_mystery, groups};
use super::weigh::{blunder, likelihood};
use super::world::{Flaw, Place, World, candidate_spots, subject_spots};

/// Odds before any reading that none of the answers is right: the record itself is wrong.
const NONE_OF_THESE: f64 = 1e-3;
/// An answer is settled from these odds on: one reading that tells, and that is mistaken as seldom as readings are, is enough.
pub const SETTLED: f64 = 0.95;
/// A reading rules a candidate out where it is less likely than this share of what the best candidate makes it.
const RULED_OUT: f64 = 0.1;
/// Elements of a machine in which a fault is looked for everywhere; in larger ones it would take too long.
const MOST_ELEMENTS: usize = 600;
/// Faults that are weighed by every reading, alone and by twos.
const MOST_SUSPECTS: usize = 24;

/// Everything reasoned from a record.
#[derive(Debug, Clone, PartialEq)]
pub struct Reasoned {
    /// Mysteries that hang together, weighed together.
    pub accounts: Vec<Account>,
    /// Faults that explain what disputes the record, likeliest first; the odds of no fault are what is missing to 1.
    pub faults: Vec<FaultOdds>,
    /// The machine is too large for faults to be looked for.
    pub faults_left_out: bool,
}

/// One group of mysteries with its odds.
#[derive(Debug, Clone, PartialEq)]
pub struct Account {
    /// The mysteries and their answers.
    pub group: Group,
    /// Odds of each answer, together 1 with [`Self::none_of_these`].
    pub odds: Vec<f64>,
    /// Odds that no answer is right.
    pub none_of_these: f64,
    /// Answers of other groups that are settled, on which these rest.
    pub resting_on: Vec<(MysteryId, usize)>,
    /// How likely each answer makes each reading that tells answers apart or speaks against all of them.
    pub likelihoods: BTreeMap<ReadingId, Vec<f64>>,
}

/// Odds of what one mystery may be.
#[derive(Debug, Clone, PartialEq)]
pub struct MysteryOdds {
    /// The mystery.
    pub mystery: MysteryId,
    /// Its candidates in order of the record.
    pub candidates: Vec<CandidateOdds>,
    /// Odds that it is none of them.
    pub none_of_these: f64,
    /// The share of weight before any reading of answers that were left out because there were too many.
    pub left_out: f64,
    /// The candidate whose odds have passed [`SETTLED`].
    pub settled: Option<usize>,
}

/// Odds of one candidate.
#[derive(Debug, Clone, PartialEq)]
pub struct CandidateOdds {
    /// Its odds.
    pub odds: f64,
    /// Readings that speak against it more than against another candidate.
    pub ruled_out_by: Vec<ReadingId>,
}

/// Odds of a fault, or of two together.
#[derive(Debug, Clone, PartialEq)]
pub struct FaultOdds {
    /// The faults in words: `F1 open`, `K2.11-14 welded`.
    pub words: String,
    /// The faults.
    pub flaws: Vec<Flaw>,
    /// Their odds.
    pub odds: f64,
}

/// The readings of a record that can be weighed, with where they were taken.
fn weighable(machine: &Machine) -> Vec<(ReadingId, &Reading, Place)> {
    let readings = machine.readings.iter();
    readings
        .filter_map(|(id, reading)| {
            let condition = reading.condition.filter(|&condition| machine.conditions.contains(condition))?;
            let place = Place {
                condition,
                red: reading.red.clone(),
                black: reading.black.clone(),
                function: reading.value.function(),
                meter: reading.meter,
            };
            Some((id, reading, place))
        })
        .collect()
}

impl Reasoned {
    /// Weighs every mystery and fault of a record.
    pub fn of(machine: &Machine, catalogue: &Arc<Catalogue>) -> Self {
        let readings = weighable(machine);
        let places: Vec<Place> = readings.iter().map(|(_, _, place)| place.clone()).collect();
        let mut accounts: Vec<Account> = groups(machine)
            .into_iter()
            .map(|group| Account::of(machine, catalogue, (group, Vec::new()), &readings, &places))
            .collect();
        // What is settled elsewhere makes what is open clearer.
        let settled: Vec<(MysteryId, usize)> = accounts.iter().flat_map(|account| account.settled(machine)).collect();
        for account in &mut accounts {
            let own = |id: MysteryId| account.group.mysteries.contains(&id);
            let others: Vec<(MysteryId, usize)> = settled.iter().copied().filter(|(id, _)| !own(*id)).collect();
            if !others.is_empty() && account.settled(machine).len() < account.group.mysteries.len() {
                *account = Account::of(machine, catalogue, (account.group.clone(), others), &readings, &places);
            }
        }
        let likeliest: Vec<(MysteryId, usize)> = accounts.iter().flat_map(Account::likeliest).collect();
        let world = World::of(machine, catalogue, &likeliest, &[]);
        let (faults, faults_left_out) = faults(machine, &world, &readings, &places);
        Self { accounts, faults, faults_left_out }
    }

    /// The odds of every mystery, in order of the record.
    pub fn mysteries(&self, machine: &Machine) -> Vec<MysteryOdds> {
        let mut all: Vec<MysteryOdds> = self.accounts.iter().flat_map(|account| account.mysteries(machine)).collect();
        all.sort_by_key(|one| one.mystery);
        all
    }
}

impl Account {
    fn of(
        machine: &Machine,
        catalogue: &Arc<Catalogue>,
        (group, resting_on): (Group, Vec<(MysteryId, usize)>),
        readings: &[(ReadingId, &Reading, Place)],
        places: &[Place],
    ) -> Self {
        let shown: Vec<Vec<Option<Expectation>>> = group
            .answers
            .iter()
            .map(|(answers, _)| {
                let own = group.mysteries.iter().copied().zip(answers.iter().copied());
                let answers: Vec<(MysteryId, usize)> = own.chain(resting_on.iter().copied()).collect();
                World::of(machine, catalogue, &answers, &[]).expectations(places)
            })
            .collect();
        let network = Network::of(machine, catalogue);
        let frame = Frame::of(&network, &Setting::default());
        let nets = |spot: &Spot| network.node(spot).map(|node| frame.wired().root(node.0));
        let own_nets: BTreeSet<u32> = spots(machine, &group).iter().filter_map(&nets).collect();
        let mut belief =
            Belief::of(group.answers.iter().map(|(_, weight)| weight * (1.0 - NONE_OF_THESE)).chain([NONE_OF_THESE]));
        let mut likelihoods = BTreeMap::new();
        for (at, (id, reading, _)) in readings.iter().enumerate() {
            let any = blunder(reading.value);
            let own: Vec<f64> = shown
                .iter()
                .map(|shown| {
                    shown.get(at).and_then(Option::as_ref).map_or(any, |expected| likelihood(expected, reading.value))
                })
                .collect();
            let (least, most) =
                own.iter().fold((f64::MAX, 0.0_f64), |(least, most), &one| (least.min(one), most.max(one)));
            // What all answers agree on says nothing of them; nor of the record, unless it disputes them all at a place of theirs.
            if most <= least * 1.01 && (most >= any || !touches(&own_nets, &nets, reading)) {
                continue;
            }
            let with_none: Vec<f64> = own.iter().copied().chain([any]).collect();
            belief.weigh(&with_none);
            likelihoods.insert(*id, own);
        }
        let mut odds = belief.odds();
        let none_of_these = odds.pop().unwrap_or(0.0);
        Self { group, odds, none_of_these, resting_on, likelihoods }
    }

    /// The likeliest answer, where it is likelier than everything else together.
    pub fn likeliest(&self) -> Vec<(MysteryId, usize)> {
        let best = self.odds.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1));
        match best.filter(|(_, odds)| **odds > 0.5).and_then(|(at, _)| self.group.answers.get(at)) {
            Some((answers, _)) => self.group.mysteries.iter().copied().zip(answers.iter().copied()).collect(),
            None => Vec::new(),
        }
    }

    /// Its mysteries that are settled, with their answers.
    pub fn settled(&self, machine: &Machine) -> Vec<(MysteryId, usize)> {
        self.mysteries(machine).into_iter().filter_map(|one| Some((one.mystery, one.settled?))).collect()
    }

    /// The odds of each of its mysteries.
    pub fn mysteries(&self, machine: &Machine) -> Vec<MysteryOdds> {
        let odds = by_mystery(machine, &self.group, &self.odds);
        let weights: Vec<f64> = self.group.answers.iter().map(|(_, weight)| *weight).collect();
        let whole: f64 = weights.iter().sum();
        let weights: Vec<f64> = weights.into_iter().map(|weight| weight / whole).collect();
        let before = by_mystery(machine, &self.group, &weights);
        self.group
            .mysteries
            .iter()
            .enumerate()
            .map(|(at, &mystery)| {
                let odds = odds.get(&mystery).cloned().unwrap_or_default();
                let candidates: Vec<CandidateOdds> = odds
                    .iter()
                    .enumerate()
                    .map(|(candidate, &odds)| CandidateOdds { odds, ruled_out_by: self.ruled_out_by(at, candidate) })
                    .collect();
                // Weights before any reading settle nothing: readings have to do it.
                let by_weight = before.get(&mystery).cloned().unwrap_or_default();
                let by_readings = |best: usize| {
                    let ruled_out =
                        || candidates.iter().enumerate().all(|(at, one)| at == best || !one.ruled_out_by.is_empty());
                    by_weight.get(best).is_some_and(|odds| *odds < SETTLED) || ruled_out()
                };
                let best = odds.iter().position(|odds| *odds >= SETTLED);
                let settled = best.filter(|&best| candidates.len() > 1 && by_readings(best));
                MysteryOdds {
                    mystery,
                    candidates,
                    none_of_these: self.none_of_these,
                    left_out: self.group.left_out,
                    settled,
                }
            })
            .collect()
    }

    /// Readings that no answer with this candidate makes as likely as the best answer does.
    fn ruled_out_by(&self, mystery: usize, candidate: usize) -> Vec<ReadingId> {
        let with = |answers: &[usize]| answers.get(mystery) == Some(&candidate);
        let against = self.likelihoods.iter().filter(|(_, likelihoods)| {
            let all = || self.group.answers.iter().zip(likelihoods.iter());
            let most = all().map(|(_, one)| *one).fold(0.0, f64::max);
            let own = all().filter(|((answers, _), _)| with(answers)).map(|(_, one)| *one).fold(0.0, f64::max);
            own < RULED_OUT * most
        });
        against.map(|(&id, _)| id).collect()
    }
}

/// Where the mysteries of a group are: the near ends of unknown leads, and the terminals that are candidates.
fn spots(machine: &Machine, group: &Group) -> Vec<Spot> {
    let mysteries = group.mysteries.iter().filter_map(|id| machine.mysteries.get(*id));
    mysteries
        .flat_map(|mystery| subject_spots(machine, &mystery.subject).into_iter().chain(candidate_spots(mystery)))
        .collect()
}

/// Whether a reading was taken on one of these nets.
fn touches(own: &BTreeSet<u32>, nets: &dyn Fn(&Spot) -> Option<u32>, reading: &Reading) -> bool {
    [Some(&reading.red), reading.black.as_ref()].into_iter().flatten().filter_map(nets).any(|net| own.contains(&net))
}

/// Odds of a fault in an element before any reading (common practice, no source; only their ratios matter).
fn weight_of(flaw: Flaw) -> f64 {
    match flaw {
        Flaw::Open(What::Fuse(_)) => 0.02,
        Flaw::Open(What::Coil(_) | What::Load(_)) => 0.01,
        Flaw::Welded(_) | Flaw::Open(What::Contact(_)) => 0.005,
        Flaw::Open(_) => 0.002,
    }
}

/// Faults that make likelier what disputes the record.
fn faults(
    machine: &Machine,
    world: &World,
    readings: &[(ReadingId, &Reading, Place)],
    places: &[Place],
) -> (Vec<FaultOdds>, bool) {
    let plain = world.expectations(places);
    let likely = |shown: &[Option<Expectation>], at: usize| {
        let read = readings[at].1.value;
        shown.get(at).and_then(Option::as_ref).map_or(blunder(read), |expected| likelihood(expected, read))
    };
    let disputed: Vec<usize> = (0..places.len())
        .filter(|&at| {
            plain[at].as_ref().is_some_and(|expected| expected.compare(readings[at].1.value) == Agreement::Disputes)
        })
        .collect();
    if disputed.is_empty() {
        return (Vec::new(), false);
    }
    let network = world.network();
    let all = (0..network.wires().len()).map(What::Wire);
    let all = all.chain((0..network.fuses().len()).map(What::Fuse));
    let all = all.chain((0..network.contacts().len()).map(What::Contact));
    let all = all.chain((0..network.relays().len()).map(What::Coil));
    let all = all.chain((0..network.loads().len()).map(What::Load));
    let all = all.map(Flaw::Open).chain((0..network.contacts().len()).map(Flaw::Welded));
    let all: Vec<Flaw> = all.collect();
    if all.len() > MOST_ELEMENTS {
        return (Vec::new(), true);
    }
    let disputed_places: Vec<Place> = disputed.iter().map(|&at| places[at].clone()).collect();
    let mut suspects: Vec<(Flaw, f64)> = Vec::new();
    for flaw in all {
        let shown = world.with_flaws(&[flaw]).expectations(&disputed_places);
        let better = disputed.iter().enumerate().map(|(number, &at)| {
            let read = readings[at].1.value;
            let with = shown[number].as_ref().map_or(blunder(read), |expected| likelihood(expected, read));
            with / likely(&plain, at)
        });
        let better = better.fold(0.0, f64::max);
        if better > 2.0 {
            suspects.push((flaw, better * weight_of(flaw)));
        }
    }
    suspects.sort_by(|a, b| b.1.total_cmp(&a.1).then(a.0.cmp(&b.0)));
    suspects.truncate(MOST_SUSPECTS);
    let mut sets: Vec<(Vec<Flaw>, f64)> = vec![(Vec::new(), 1.0)];
    for (at, (flaw, _)) in suspects.iter().enumerate() {
        sets.push((vec![*flaw], weight_of(*flaw)));
        // Two faults matter only where one does not explain everything.
        if disputed.len() > 1 {
            for (other, _) in &suspects[..at] {
                sets.push((vec![*other, *flaw], weight_of(*flaw) * weight_of(*other)));
            }
        }
    }
    let shown: Vec<Vec<Option<Expectation>>> =
        sets.iter().map(|(flaws, _)| world.with_flaws(flaws).expectations(places)).collect();
    let mut belief = Belief::of(sets.iter().map(|(_, weight)| *weight));
    for at in 0..places.len() {
        belief.weigh(&shown.iter().map(|shown| likely(shown, at)).collect::<Vec<f64>>());
    }
    let odds = belief.odds();
    let mut faults: Vec<FaultOdds> = sets
        .into_iter()
        .zip(odds)
        .filter(|((flaws, _), odds)| !flaws.is_empty() && *odds > 1e-3)
        .map(|((flaws, _), odds)| FaultOdds { words: words(machine, network, &flaws), flaws, odds })
        .collect();
    faults.sort_by(|a, b| b.odds.total_cmp(&a.odds).then_with(|| a.flaws.cmp(&b.flaws)));
    (faults, false)
}

/// Faults in words, in order of their names.
fn words(machine: &Machine, network: &Network, flaws: &[Flaw]) -> String {
    let one = |flaw: &Flaw| match flaw {
        Flaw::Open(what) => format!("{} open", what.name(machine, network)),
        Flaw::Welded(contact) => format!("{} welded", What::Contact(*contact).name(machine, network)),
    };
    let all: BTreeSet<String> = flaws.iter().map(one).collect();
    all.into_iter().collect::<Vec<_>>().join(" and ")
}
