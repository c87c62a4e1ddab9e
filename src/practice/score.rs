//! What came of a session: what was right and wrong, and what it took against what it would have taken.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::electric::Flaw;
use crate::identify::{Account, Next, Place, Reasoned, Risk, entropy_bits, proposals};
use crate::machine::{Guess, Machine, MysteryId, Shelf, Subject};

use super::bench::{Bench, effort, next_readings};
use super::hidden::{Hidden, reading};

/// Readings after which the proposals are followed no further.
const MOST_READINGS: usize = 80;
/// Proposals looked at for one that gives a value.
const MOST_TRIED: usize = 4;
/// Bits by which a reading must change what is known of mysteries to be about them.
const TOUCHES: f64 = 0.01;
/// A wrong candidate at least this likely against the right one, with every reading taken that tells any, could not be told from it.
const AS_LIKELY: f64 = 0.5;

/// How a mystery was answered.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Right {
    /// Right, and the readings leave nothing else.
    Right,
    /// Right, but the readings leave other candidates open.
    RightByLuck,
    /// Wrong.
    Wrong,
    /// Wrong, but no reading in a condition of the record tells the two apart.
    CannotBeTold,
    /// Not answered.
    NotSaid,
}

/// One mystery, judged.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct MysteryJudged {
    /// The mystery.
    pub mystery: MysteryId,
    /// The candidate that was said to be it.
    pub said: Option<usize>,
    /// The candidate that is it.
    pub truth: usize,
    /// How that goes together.
    pub right: Right,
}

/// A fault that no mystery asks for, or that somebody said there was.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum FaultJudged {
    /// There, and said to be.
    Found(String),
    /// There, and not said.
    Missed(String),
    /// Said, and not there.
    NotThere(String),
}

/// What the proposals need on the same machine, taken one after another from the start.
#[derive(Debug, Clone, PartialEq)]
pub struct ByProposals {
    /// Readings.
    pub readings: usize,
    /// Effort.
    pub effort: f64,
    /// Mysteries that come out settled, with their candidates.
    pub settled: BTreeMap<MysteryId, usize>,
    /// What the best order that is known costs on average over all answers, group of mysteries by group, and whether none costs less.
    /// `None`: nothing to find.
    pub average: Option<(f64, bool)>,
    /// For each mystery the odds of its candidates at the end.
    odds: BTreeMap<MysteryId, Vec<f64>>,
}

/// A session, judged.
#[derive(Debug, Clone, PartialEq)]
pub struct Score {
    /// Readings taken.
    pub readings: usize,
    /// Their effort.
    pub effort: f64,
    /// Forbidden readings that were asked for.
    pub forbidden: usize,
    /// Hints.
    pub hints: usize,
    /// Readings, by their place in the order taken, that told something of mysteries with a source on, while a reading on the isolated
    /// machine would have told something of the same ones.
    pub needlessly_live: Vec<usize>,
    /// Each mystery with candidates, in order of the record.
    pub mysteries: Vec<MysteryJudged>,
    /// Faults.
    pub faults: Vec<FaultJudged>,
    /// What the proposals need.
    pub by_proposals: ByProposals,
}

impl Score {
    /// Judges a session. Everything is weighed anew, so it takes its time.
    pub fn of(bench: &Bench) -> Self {
        let by_proposals = ByProposals::of(bench);
        let settled: BTreeMap<MysteryId, usize> =
            settled(&Reasoned::of(bench.record(), bench.catalogue()), bench.record());
        let mysteries = bench
            .record()
            .mysteries
            .ids()
            .filter_map(|mystery| {
                let truth = bench.hidden().answer(mystery)?;
                let said = bench.said().answers.get(&mystery).copied();
                let right = match said {
                    None => Right::NotSaid,
                    Some(said) if said == truth && settled.get(&mystery) == Some(&truth) => Right::Right,
                    Some(said) if said == truth => Right::RightByLuck,
                    Some(said) if by_proposals.cannot_tell(mystery, said, truth) => Right::CannotBeTold,
                    Some(_) => Right::Wrong,
                };
                Some(MysteryJudged { mystery, said, truth, right })
            })
            .collect();
        Self {
            readings: bench.taken().len(),
            effort: bench.effort(),
            forbidden: bench.forbidden().len(),
            hints: bench.hints(),
            needlessly_live: needlessly_live(bench),
            mysteries,
            faults: faults(bench),
            by_proposals,
        }
    }

    /// How many mysteries came out as this.
    pub fn count(&self, right: Right) -> usize {
        self.mysteries.iter().filter(|one| one.right == right).count()
    }
}

impl ByProposals {
    fn of(bench: &Bench) -> Self {
        let mut record = bench.record().clone();
        record.readings = Shelf::default();
        let catalogue = bench.catalogue();
        let average = average(bench, &record);
        let (mut count, mut whole, mut present) = (0, 0.0, None);
        let mut without_value: Vec<Place> = Vec::new();
        while count < MOST_READINGS {
            let next = next_readings(&record, catalogue, present, MOST_TRIED);
            let Some(next) = next.into_iter().find(|one| !without_value.contains(&one.place)) else { break };
            let condition = next.place.condition;
            count += 1;
            whole += effort(&record, condition, present);
            present = Some(condition);
            match bench.hidden().shows(&record, &next.place).and_then(super::Shown::value) {
                Some(value) => {
                    let reading = reading(&record, &next.place, value);
                    record.readings.add(reading);
                }
                None => without_value.push(next.place),
            }
        }
        let reasoned = Reasoned::of(&record, catalogue);
        let odds = reasoned
            .mysteries(&record)
            .into_iter()
            .map(|one| (one.mystery, one.candidates.iter().map(|candidate| candidate.odds).collect()));
        Self { readings: count, effort: whole, settled: settled(&reasoned, &record), average, odds: odds.collect() }
    }

    /// Whether all these readings leave a wrong candidate about as likely as the right one.
    fn cannot_tell(&self, mystery: MysteryId, said: usize, truth: usize) -> bool {
        let odds = |at: usize| self.odds.get(&mystery).and_then(|odds| odds.get(at)).copied().unwrap_or(0.0);
        !self.settled.contains_key(&mystery) && odds(said) >= AS_LIKELY * odds(truth)
    }
}

fn settled(reasoned: &Reasoned, record: &Machine) -> BTreeMap<MysteryId, usize> {
    reasoned.accounts.iter().flat_map(|account| account.settled(record)).collect()
}

/// What the best order that is known costs on average over all answers, and whether none costs less. The machine is put into the first
/// condition without a source first, which counts one; every reading in another one counts its change.
fn average(bench: &Bench, record: &Machine) -> Option<(f64, bool)> {
    let catalogue = bench.catalogue();
    let isolated = record.conditions.ids().find(|&id| bench.risk(id) == Risk::Dead).or(record.conditions.ids().next());
    let reasoned = Reasoned::of(record, catalogue);
    let (mut whole, mut exact, mut any) = (1.0, true, false);
    for account in &reasoned.accounts {
        let next = Next::of(record, catalogue, account, isolated, 1);
        let Some(least) = next.least_effort else { continue };
        whole += least;
        exact &= next.exact;
        any = true;
    }
    any.then_some((whole, exact))
}

/// Readings with a source on while one on the isolated machine would have told something of the same mysteries.
fn needlessly_live(bench: &Bench) -> Vec<usize> {
    let mut record = bench.record().clone();
    record.readings = Shelf::default();
    let mut needless = Vec::new();
    let mut present = None;
    for (at, taken) in bench.taken().iter().enumerate() {
        let before = (taken.risk != Risk::Dead).then(|| (record.clone(), Reasoned::of(&record, bench.catalogue())));
        if let Some(value) = taken.shown.value() {
            let reading = reading(&record, &taken.place, value);
            record.readings.add(reading);
        }
        if let Some((before, reasoned)) = before {
            let after = Reasoned::of(&record, bench.catalogue());
            // One that tells nothing of mysteries (whether there is voltage at all, say) is taken for its own sake.
            let mut moved = reasoned.accounts.iter().zip(&after.accounts).filter(|(a, b)| moved(a, b));
            let dead = |(account, _): (&Account, &Account)| {
                let all = proposals(&before, bench.catalogue(), account, present, usize::MAX);
                all.iter().any(|one| one.risk == Risk::Dead)
            };
            if moved.any(dead) {
                needless.push(at);
            }
        }
        present = Some(taken.place.condition);
    }
    needless
}

fn moved(before: &Account, after: &Account) -> bool {
    (entropy_bits(&before.odds) - entropy_bits(&after.odds)).abs() > TOUCHES
}

/// Faults that no mystery asks for, and those that were said to be there, judged.
pub fn faults(bench: &Bench) -> Vec<FaultJudged> {
    let (record, hidden) = (bench.record(), bench.hidden());
    let said: BTreeSet<Flaw> = bench.said().faults.values().flatten().copied().collect();
    let words = |flaw: &Flaw| hidden.fault_words(record, *flaw);
    let there = hidden.faults().iter().map(|flaw| {
        if said.contains(flaw) { FaultJudged::Found(words(flaw)) } else { FaultJudged::Missed(words(flaw)) }
    });
    let asked = by_mysteries(record, hidden);
    let not_there = bench
        .said()
        .faults
        .iter()
        .filter(|(_, flaws)| flaws.iter().all(|flaw| !hidden.faults().contains(flaw) && !asked.contains(flaw)));
    let not_there =
        not_there.map(|((spot, state), _)| FaultJudged::NotThere(format!("{} {state}", record.spot_name(spot))));
    there.chain(not_there).collect()
}

/// Faults that are there by the right answers to mysteries: naming one of them besides is no mistake.
fn by_mysteries(record: &Machine, hidden: &Hidden) -> BTreeSet<Flaw> {
    let faults = record.mysteries.iter().filter_map(|(id, mystery)| {
        let Subject::Fault(spot) = &mystery.subject else { return None };
        match &mystery.candidates.get(hidden.answer(id)?)?.guess {
            Guess::Named(state) => Some(hidden.flaws(spot, state)),
            _ => None,
        }
    });
    faults.flatten().collect()
}
