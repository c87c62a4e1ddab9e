//! A lead on none of its candidates: weighed beside faults, where readings stay disputed.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::machine::{EndAt, Machine, MysteryId, Subject};

use super::account::{Account, Hypothesis};
use super::hypothesis::Answers;

impl Account {
    /// For these answers, each lead in turn on none of its candidates; the others as the answers say.
    pub(super) fn elsewhere(&self, machine: &Machine, answers: &[usize]) -> Vec<Hypothesis> {
        let is_lead = |id: &MysteryId| {
            let subject = machine.mysteries.get(*id).map(|one| &one.subject);
            matches!(subject, Some(Subject::End(..) | Subject::CoilDriver(_)))
        };
        let mut all: Vec<Hypothesis> = Vec::new();
        for at in (0..self.group.mysteries.len()).filter(|&at| is_lead(&self.group.mysteries[at])) {
            let mut known: BTreeSet<Vec<(MysteryId, usize)>> = BTreeSet::new();
            for &answer in answers {
                let hypothesis = Hypothesis { elsewhere: Some(at), ..Hypothesis::of(answer) };
                if known.insert(self.answers_of(&hypothesis)) {
                    all.push(hypothesis);
                }
            }
        }
        all
    }

    /// The weights of the answers that say the same as this one but for the mystery at one place.
    pub(super) fn weights_whatever(&self, answer: usize, at: usize) -> Vec<f64> {
        let Some((own, _)) = self.group.answers.get(answer) else { return Vec::new() };
        let same = |other: &Answers| own.iter().zip(other).enumerate().all(|(place, (a, b))| place == at || a == b);
        self.group.answers.iter().filter(|(other, _)| same(other)).map(|(_, weight)| *weight).collect()
    }

    /// Odds that no answer is right as a whole: none at all, or a lead is on none of its candidates.
    pub fn none_right(&self) -> f64 {
        let elsewhere = self.hypotheses.iter().zip(&self.odds).filter(|(one, _)| one.elsewhere.is_some());
        self.none_of_these + elsewhere.map(|(_, odds)| odds).sum::<f64>()
    }

    /// The record with the end of a lead that is on none of its candidates out of sight. `None` where it is so already.
    pub(super) fn out_of_sight(&self, machine: &Machine, hypothesis: &Hypothesis) -> Option<Machine> {
        let mystery = machine.mysteries.get(*self.group.mysteries.get(hypothesis.elsewhere?)?)?;
        with_end(machine, &mystery.subject, EndAt::Unknown)
    }
}

/// The record with the end of a lead that a mystery asks about like this. `None` where it is so already, or where it asks about no end.
pub(super) fn with_end(machine: &Machine, subject: &Subject, at: EndAt) -> Option<Machine> {
    let Subject::End(wire, side) = subject else { return None };
    let mut lead = machine.wires.get(*wire).filter(|lead| lead.end(*side).at != at)?.clone();
    lead.end_mut(*side).at = at;
    lead.end_mut(*side).lifted = false;
    let mut machine = machine.clone();
    machine.wires.put(*wire, Some(Arc::new(lead)));
    Some(machine)
}
