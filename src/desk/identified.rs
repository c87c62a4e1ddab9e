//! What the mysteries of the record may be by its readings, which faults would explain it, and what to read next.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::identify::{Asked, FaultOdds, MysteryOdds, Next, Proposal, Reasoned, in_order};
use crate::machine::{ConditionId, Machine, MysteryId, Spot};

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
    /// Why a candidate of a mystery is ruled out, by the first of the readings that do so.
    pub reasons: BTreeMap<(MysteryId, usize), String>,
    /// Places that a probe does not get to.
    pub out_of_reach: BTreeSet<Spot>,
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
    /// Places that a probe does not get to.
    pub(super) out_of_reach: BTreeSet<Spot>,
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
        let Question { revision, machine, catalogue, condition, out_of_reach } = question;
        let asked = Asked { present: *condition, most: MOST_PROPOSALS, out_of_reach: out_of_reach.clone() };
        let reasoned = match self.known.take() {
            Some((of, reasoned)) if of == *revision => reasoned,
            _ => Reasoned::unless(machine, catalogue, is_stale)?,
        };
        let found = Next::of_all(machine, catalogue, &reasoned, &asked, is_stale);
        // The odds hold whatever the condition.
        let (odds, faults) = (reasoned.mysteries(machine), reasoned.faults.clone());
        let accounts = reasoned.accounts.clone();
        self.known = Some((*revision, reasoned));
        let mut alike = Vec::new();
        let mut groups = Vec::new();
        for (account, next) in accounts.iter().zip(found?) {
            for set in &next.alike {
                let words = account.apart_in(machine, catalogue, set);
                // The same of every answer of the others.
                if !alike.contains(&words) {
                    alike.push(words);
                }
            }
            groups.push((account.group.mysteries.clone(), next.proposals));
        }
        let mut reasons = BTreeMap::new();
        for (account, one) in
            accounts.iter().flat_map(|account| account.mysteries(machine).into_iter().map(move |one| (account, one)))
        {
            for (at, candidate) in one.candidates.iter().enumerate() {
                if is_stale() {
                    return None;
                }
                let first = candidate.ruled_out_by.first();
                let reason = first.and_then(|&id| account.reason(machine, catalogue, (one.mystery, at), id));
                reasons.extend(reason.map(|reason| ((one.mystery, at), reason)));
            }
        }
        Some(Identified {
            revision: *revision,
            condition: *condition,
            odds,
            next: in_order(groups),
            faults,
            alike,
            reasons,
            out_of_reach: out_of_reach.clone(),
        })
    }
}

/// For which revision, condition and places out of reach something is worked out.
type Wanted = (u64, Option<ConditionId>, BTreeSet<Spot>);

/// The mysteries as the desk holds them: worked out when asked for, beside the window.
pub(super) struct Mysteries {
    pub(super) identified: Arc<Identified>,
    asked: Option<Wanted>,
    /// What was asked for broke.
    broke: bool,
    pub(super) reason: Compute<Reasoner>,
}

impl Mysteries {
    pub(super) fn new() -> Self {
        Self { identified: Arc::default(), asked: None, broke: false, reason: Compute::new("reason") }
    }

    /// Has them worked out, unless that has been asked for.
    pub(super) fn ask(&mut self, question: Question) {
        let wanted = (question.revision, question.condition, question.out_of_reach.clone());
        if self.asked.as_ref() == Some(&wanted) {
            return;
        }
        self.asked = Some(wanted);
        self.broke = false;
        if let Some(identified) = self.reason.ask(question) {
            self.identified = identified;
        }
    }

    /// What was asked for broke. The same is not asked for again: it would break again.
    pub(super) fn failed(&mut self) {
        self.broke = true;
    }

    /// Whether what was asked for is still being worked out.
    pub(super) fn is_waiting(&self) -> bool {
        let made = &self.identified;
        !self.broke
            && self.asked.as_ref().is_some_and(|(revision, condition, out_of_reach)| {
                (*revision, *condition) != (made.revision, made.condition) || *out_of_reach != made.out_of_reach
            })
    }
}
