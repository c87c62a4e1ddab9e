//! What the mysteries of the record may be by its readings, which faults would explain it, and what to read next.

use std::sync::Arc;

use rayon::prelude::*;

use crate::catalogue::Catalogue;
use crate::identify::{Account, FaultOdds, MysteryOdds, Next, Proposal, Reasoned, in_order};
use crate::machine::{ConditionId, Machine, MysteryId};

use super::compute::{Compute, Make};

/// How many next readings are kept for each group of mysteries.
const MOST_PROPOSALS: usize = 3;

/// What was reasoned from one revision of the record.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Identified {
    /// The revision of the record.
    pub revision: u64,
    /// The condition the machine was in: changing it costs effort.
    pub condition: Option<ConditionId>,
    /// Odds of each mystery.
    pub odds: Vec<MysteryOdds>,
    /// Next readings, with the mysteries they are for; the least risky first.
    pub next: Vec<(Vec<MysteryId>, Proposal)>,
    /// Faults that would explain what disputes the record.
    pub faults: Vec<FaultOdds>,
    /// Answers that no reading in a condition of the record tells apart: for each such set, what each of its members says that the
    /// others do not.
    pub alike: Vec<Vec<Vec<String>>>,
}

impl Identified {
    /// The odds of a mystery; `None` where it has no candidates.
    pub fn of(&self, mystery: MysteryId) -> Option<&MysteryOdds> {
        self.odds.iter().find(|odds| odds.mystery == mystery)
    }
}

/// What is reasoned from.
pub(super) struct Question {
    pub(super) revision: u64,
    pub(super) machine: Arc<Machine>,
    pub(super) catalogue: Arc<Catalogue>,
    pub(super) condition: Option<ConditionId>,
}

/// Reasons, keeping the odds while only the condition changes.
#[derive(Default)]
pub(super) struct Reasoner {
    known: Option<(u64, Reasoned)>,
}

impl Make for Reasoner {
    type From = Question;
    type Made = Identified;

    fn make(&mut self, question: &Question, is_stale: &(dyn Fn() -> bool + Sync)) -> Option<Identified> {
        let Question { revision, machine, catalogue, condition } = question;
        let reasoned = match self.known.take() {
            Some((of, reasoned)) if of == *revision => reasoned,
            _ => Reasoned::unless(machine, catalogue, is_stale)?,
        };
        let next =
            |account: &Account| Next::unless(machine, catalogue, account, (*condition, MOST_PROPOSALS), is_stale);
        let found = reasoned.accounts.par_iter().map(next).collect::<Option<Vec<Next>>>();
        // The odds hold whatever the condition.
        let (odds, faults) = (reasoned.mysteries(machine), reasoned.faults.clone());
        let accounts = reasoned.accounts.clone();
        self.known = Some((*revision, reasoned));
        let mut alike = Vec::new();
        let mut groups = Vec::new();
        for (account, next) in accounts.iter().zip(found?) {
            alike.extend(next.alike.iter().map(|set| account.apart_in(machine, catalogue, set)));
            groups.push((account.group.mysteries.clone(), next.proposals));
        }
        Some(Identified { revision: *revision, condition: *condition, odds, next: in_order(groups), faults, alike })
    }
}

/// The mysteries as the desk holds them: worked out when asked for, beside the window.
pub(super) struct Mysteries {
    pub(super) identified: Arc<Identified>,
    asked: Option<(u64, Option<ConditionId>)>,
    pub(super) reason: Compute<Reasoner>,
}

impl Mysteries {
    pub(super) fn new() -> Self {
        Self { identified: Arc::default(), asked: None, reason: Compute::new("reason") }
    }

    /// Has them worked out, unless that has been asked for.
    pub(super) fn ask(&mut self, question: Question) {
        let wanted = (question.revision, question.condition);
        if self.asked == Some(wanted) {
            return;
        }
        self.asked = Some(wanted);
        if let Some(identified) = self.reason.ask(question) {
            self.identified = identified;
        }
    }

    /// What was asked for broke: it is asked for again.
    pub(super) fn failed(&mut self) {
        self.asked = None;
    }

    /// Whether what was asked for is still being worked out.
    pub(super) fn is_waiting(&self) -> bool {
        self.asked.is_some_and(|asked| asked != (self.identified.revision, self.identified.condition))
    }
}
