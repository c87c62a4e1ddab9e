//! What the readings of a record say of its mysteries, and of faults that would explain what disputes it.

use std::collections::BTreeMap;
use std::sync::Arc;

use rayon::prelude::*;

use crate::catalogue::Catalogue;
use crate::machine::{Machine, MysteryId};

use super::account::{Account, MysteryOdds};
use super::faults::words;
use super::hypothesis::{Group, groups};
use super::log::Log;
use super::world::Flaw;

/// Faults less likely than this are not told of.
const LEAST_FAULT: f64 = 1e-3;

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
        let groups = groups(machine);
        let mut accounts: Vec<Account> =
            groups.into_par_iter().map(|group| Account::of(&log, group, Vec::new())).collect::<Option<_>>()?;
        // What is settled elsewhere makes what is open clearer.
        let settled: Vec<(MysteryId, usize)> = accounts.iter().flat_map(|account| account.settled(machine)).collect();
        let clearer = |account: Account| {
            let own = |id: MysteryId| account.group.mysteries.contains(&id);
            let others: Vec<(MysteryId, usize)> = settled.iter().copied().filter(|(id, _)| !own(*id)).collect();
            if others.is_empty() || account.settled(machine).len() == account.group.mysteries.len() {
                return Some(account);
            }
            Account::of(&log, account.group, others)
        };
        accounts = accounts.into_par_iter().map(clearer).collect::<Option<_>>()?;
        if accounts.iter().all(|account| account.fault_odds().is_empty()) {
            let likeliest: Vec<(MysteryId, usize)> = accounts.iter().flat_map(Account::likeliest).collect();
            let nothing_open = Group { mysteries: Vec::new(), answers: vec![(Vec::new(), 1.0)], left_out: 0.0 };
            let alone = Account::of(&log, nothing_open, likeliest)?;
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
