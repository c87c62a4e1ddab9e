//! What the readings of a record say of its mysteries, and of faults that would explain what disputes it.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use rayon::prelude::*;

use crate::catalogue::Catalogue;
use crate::machine::{Machine, MysteryId, ReadingId};

use super::account::{Account, Context, MysteryOdds, Weighed};
use super::contexts::{Other, contexts, in_common};
use super::faults::words;
use super::hypothesis::{Group, MOST_ANSWERS, groups_by};
use super::log::Log;
use super::ties::{by_effect, ties};
use super::world::Flaw;

/// Faults less likely than this are not told of.
const LEAST_FAULT: f64 = 1e-3;
/// Groups that share nets are weighed as one up to so many answers.
const MOST_JOINT: usize = 64;
/// Groups that a reading ties are weighed as one up to so many answers: what one reading says of both is then counted as it should be.
const MOST_TIED: usize = MOST_ANSWERS;
/// The same of groups that share none: one reading may tell about both.
const MOST_APART: usize = 16;
/// How often groups are weighed again by what the others turned out to be.
const ROUNDS: usize = 3;
/// The share by which what others may be has to change for that.
const AT_REST: f64 = 1e-3;

/// Everything reasoned from a record.
#[derive(Debug, Clone, PartialEq)]
pub struct Reasoned {
    /// Mysteries that hang together, weighed together; last, where readings dispute the record and no mystery explains it, faults
    /// alone.
    pub accounts: Vec<Account>,
    /// Faults that explain what disputes the record, likeliest first; the odds of no fault are what is missing to 1.
    pub faults: Vec<FaultOdds>,
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

impl Reasoned {
    /// Weighs every mystery and fault of a record.
    pub fn of(machine: &Machine, catalogue: &Arc<Catalogue>) -> Self {
        // Nobody stops it, so there is always an answer.
        Self::unless(machine, catalogue, &|| false).unwrap_or(Self { accounts: Vec::new(), faults: Vec::new() })
    }

    /// The same; `None` as soon as `stopped` says that nobody waits for the answer any more.
    pub fn unless(machine: &Machine, catalogue: &Arc<Catalogue>, stopped: &(dyn Fn() -> bool + Sync)) -> Option<Self> {
        let log = Log::of(machine, catalogue, stopped);
        let weigh = |group: Group| Weighed::of(&log, group, Context::open());
        // By readings on the dead machine alone: what a live one says hangs too much on what is not put together yet.
        let dead: BTreeSet<ReadingId> = log
            .readings
            .iter()
            .zip(&log.places)
            .filter(|(_, place)| place.function.needs_dead())
            .map(|((id, _), _)| *id)
            .collect();
        let likelier = |group: Group| {
            if dead.is_empty() {
                return Some(group.answers.into_iter().map(|(_, weight)| weight).collect());
            }
            weigh(group).map(|weighed| weighed.account.odds_by(|reading| dead.contains(&reading)))
        };
        let groups = together(groups_by(machine, &likelier)?, &log);
        let mut all: Vec<Weighed> = groups.into_par_iter().map(weigh).collect::<Option<_>>()?;
        // What a reading says of two groups at once is weighed for both together, where that is not too much.
        let every = |count: usize| (0..count).flat_map(|b| (0..b).map(move |a| (a, b))).collect::<Vec<_>>();
        let mut tied = ties(&log, &all, &every(all.len()))?;
        loop {
            let count =
                |(a, b): (usize, usize)| all[a].account.group.answers.len() * all[b].account.group.answers.len();
            let pairs = tied.iter().copied().filter(|&pair| count(pair) <= MOST_TIED);
            let Some((a, b)) = pairs.min_by_key(|&pair| (count(pair), pair)) else { break };
            let other = all.remove(b).account.group;
            all[a] = weigh(std::mem::take(&mut all[a].account.group).times(other))?;
            // The others stay as they are, and so do their ties.
            let moved = |group: usize| if group > b { group - 1 } else { group };
            tied.retain(|&(one, two)| ![one, two].iter().any(|group| [a, b].contains(group)));
            for pair in &mut tied {
                *pair = (moved(pair.0), moved(pair.1));
            }
            let with_it: Vec<(usize, usize)> =
                (0..all.len()).filter(|&group| group != a).map(|group| (a.min(group), a.max(group))).collect();
            tied.extend(ties(&log, &all, &with_it)?);
        }
        let mut hangs = BTreeMap::new();
        for (own, other) in tied.iter().flat_map(|&(a, b)| [(a, b), (b, a)]) {
            hangs.insert((own, other), by_effect(&log, &all[own].account, &all[other].account)?);
        }
        // Those that share nets are tied as well, though no reading says so.
        let nets: Vec<BTreeSet<u32>> = all.iter().map(|one| log.nets_of(&one.account.group)).collect();
        tied.extend(every(all.len()).into_iter().filter(|&(a, b)| !nets[a].is_disjoint(&nets[b])));
        // What is known of tied ones makes each clearer: they take turns, one after the other, until that changes nothing. At once they
        // could each follow what the other was, for ever.
        let what_others_may_be = |all: &[Weighed], at: usize| {
            let others: Vec<Other<'_>> = (0..all.len())
                .filter(|&other| other != at && is_tied(&tied, at, other))
                .map(|other| Other {
                    account: &all[other].account,
                    effects: hangs.get(&(at, other)).map(Vec::as_slice),
                })
                .collect();
            contexts(&log, &others, &all[at].account)
        };
        for _ in 0..ROUNDS {
            let mut rests = true;
            for at in 0..all.len() {
                let (contexts, left_aside) = what_others_may_be(&all, at);
                if in_common(&contexts, &all[at].account.contexts) < 1.0 - AT_REST {
                    let mut weighed = Weighed::of(&log, all[at].account.group.clone(), contexts)?;
                    weighed.account.left_aside = left_aside;
                    all[at] = weighed;
                    rests = false;
                } else {
                    all[at].account.left_aside = left_aside;
                }
            }
            if rests {
                break;
            }
        }
        // Where they do not come to rest, what has changed since counts as left aside.
        let common: Vec<f64> = (0..all.len())
            .map(|at| in_common(&what_others_may_be(&all, at).0, &all[at].account.contexts))
            .map(|common| if common < 1.0 - AT_REST { common } else { 1.0 })
            .collect();
        for (one, common) in all.iter_mut().zip(common) {
            one.account.left_aside = 1.0 - (1.0 - one.account.left_aside) * common;
        }
        // What is settled of others is taken as given, though no reading here hangs on it.
        let settled: Vec<Vec<(MysteryId, usize)>> = all.iter().map(|one| one.account.settled(machine)).collect();
        let mut taken_as_given: Vec<Vec<(MysteryId, usize)>> = Vec::with_capacity(all.len());
        for (at, one) in all.iter_mut().enumerate() {
            let others = (0..settled.len()).filter(|&other| other != at && !is_tied(&tied, at, other));
            let given: Vec<(MysteryId, usize)> = others.flat_map(|other| settled[other].iter().copied()).collect();
            for context in &mut one.account.contexts {
                context.answers.extend(given.iter().copied());
            }
            taken_as_given.push(given);
        }
        let with_faults = |weighed: Weighed| weighed.with_faults(&log);
        let mut accounts: Vec<Account> = all.into_par_iter().map(with_faults).collect::<Option<_>>()?;
        // With faults, or leads elsewhere, weighed as well it may not be settled any more.
        let settled: BTreeSet<(MysteryId, usize)> =
            accounts.iter().flat_map(|account| account.settled(machine)).collect();
        for (account, given) in accounts.iter_mut().zip(taken_as_given) {
            for context in &mut account.contexts {
                context.answers.retain(|one| !given.contains(one) || settled.contains(one));
            }
        }
        if accounts.iter().all(|account| account.fault_odds().is_empty()) {
            let likeliest = Context::of(accounts.iter().flat_map(Account::likeliest).collect());
            let nothing_open = Group { mysteries: Vec::new(), answers: vec![(Vec::new(), 1.0)], left_out: 0.0 };
            let alone = Account::of(&log, nothing_open, vec![likeliest])?;
            if !alone.fault_odds().is_empty() {
                accounts.push(alone);
            }
        }
        let mut odds: BTreeMap<Vec<Flaw>, f64> = BTreeMap::new();
        for (flaws, own) in accounts.iter().flat_map(Account::fault_odds) {
            let entry = odds.entry(flaws).or_insert(own);
            *entry = entry.max(own);
        }
        let mut faults: Vec<FaultOdds> = odds
            .into_iter()
            .filter(|(_, odds)| *odds > LEAST_FAULT)
            .map(|(flaws, odds)| FaultOdds { words: words(machine, &log.network, &flaws), flaws, odds })
            .collect();
        faults.sort_by(|a, b| b.odds.total_cmp(&a.odds).then_with(|| a.flaws.cmp(&b.flaws)));
        Some(Self { accounts, faults })
    }

    /// The odds of every mystery, in order of the record.
    pub fn mysteries(&self, machine: &Machine) -> Vec<MysteryOdds> {
        let mut all: Vec<MysteryOdds> = self.accounts.iter().flat_map(|account| account.mysteries(machine)).collect();
        all.sort_by_key(|one| one.mystery);
        all
    }
}

fn is_tied(tied: &[(usize, usize)], a: usize, b: usize) -> bool {
    tied.contains(&(a.min(b), a.max(b)))
}

/// Groups as one, as long as their answers together are few.
fn together(mut groups: Vec<Group>, log: &Log<'_>) -> Vec<Group> {
    loop {
        let nets: Vec<BTreeSet<u32>> = groups.iter().map(|group| log.nets_of(group)).collect();
        let few = |a: usize, b: usize| {
            let most = if nets[a].is_disjoint(&nets[b]) { MOST_APART } else { MOST_JOINT };
            groups[a].answers.len() * groups[b].answers.len() <= most
        };
        let pair = (0..groups.len())
            .flat_map(|b| (0..b).map(move |a| (a, b)))
            .filter(|&(a, b)| few(a, b))
            .min_by_key(|&(a, b)| (groups[a].answers.len() * groups[b].answers.len(), a, b));
        let Some((a, b)) = pair else { return groups };
        let other = groups.remove(b);
        groups[a] = std::mem::take(&mut groups[a]).times(other);
    }
}
