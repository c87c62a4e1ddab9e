//! What of a verdict hangs on what is in doubt: which doubts could turn it over, and what it rests on without its having been seen.

use super::judge::{Bench, lacking};
use super::model::Is;
use super::prove::{Ask, Found};
use super::state::state;
use super::verdict::Judged;
use super::words::doubt;

/// At most so many turns are taken to find what a verdict hangs on.
const MOST_DOUBTS: usize = 5;

impl Bench<'_, '_, '_> {
    /// A verdict that what is in doubt could turn over.
    pub(super) fn open_question(&self, edge: usize, name: &str, found: &[(usize, bool)], ask: Ask) -> Judged {
        let holds = |bits: &[bool]| match ask {
            Ask::Hot => self.is_hot(edge, bits),
            Ask::Carries | Ask::AtRest => state(self.model, bits, &[]).carries[edge],
            Ask::Needed => {
                let state = state(self.model, bits, &[]);
                state.carries[edge] && !state.doubled[edge]
            }
        };
        let mut vars: Vec<usize> = Vec::new();
        let mut found = found.to_vec();
        // With what was found out of the way, the next one; a handful says enough.
        for _ in 0..MOST_DOUBTS {
            let tried = self.made(self.open(), &found);
            let more = self.blamed(&tried.bits, holds);
            if more.iter().all(|var| vars.contains(var)) {
                break;
            }
            vars.extend(more);
            match self.open().settled_on(&vars).find(edge, ask, self.purse) {
                Found::In(next) => found = next,
                _ => break,
            }
        }
        vars.sort_unstable();
        vars.dedup();
        let mut missing: Vec<String> = vars.into_iter().map(|var| doubt(self.model, var)).collect();
        missing.dedup();
        let what = match ask {
            Ask::Hot => "could be live",
            Ask::Carries | Ask::AtRest => "could carry current",
            Ask::Needed => "could be needed",
        };
        lacking(
            format!("As the record has it {name} serves nothing, but it {what} if what is not known turns out so."),
            missing,
        )
    }

    /// What of a condition departs from the record and is needed for it to show what it shows.
    fn blamed(&self, bits: &[bool], holds: impl Fn(&[bool]) -> bool) -> Vec<usize> {
        let departs = |bits: &[bool]| -> Vec<(usize, bool)> {
            let all = self.model.vars.iter().enumerate();
            all.filter_map(|(var, what)| Some((var, what.nominal()?))).filter(|&(var, is)| bits[var] != is).collect()
        };
        let needed = |bits: &[bool], holds: &dyn Fn(&[bool]) -> bool| {
            let mut bits = bits.to_vec();
            let mut blamed = Vec::new();
            for (var, nominal) in departs(&bits) {
                bits[var] = nominal;
                if !holds(&bits) {
                    bits[var] = !nominal;
                    blamed.push(var);
                }
            }
            blamed
        };
        let mut blamed = needed(bits, &holds);
        // A relay that is worked in it may be so only by what is in doubt.
        for (var, what) in self.model.vars.iter().enumerate() {
            let super::term::Var::Relay(relay) = what else { continue };
            let mut without = bits.to_vec();
            without[var] = false;
            if !bits[var] || holds(&without) {
                continue;
            }
            let Some(coil) = self.model.edges.iter().position(|edge| edge.is == Is::Coil(*relay)) else { continue };
            if matches!(self.recorded.find(coil, Ask::Carries, self.purse), Found::Never(_))
                && let Found::In(found) = self.open().find(coil, Ask::Carries, self.purse)
            {
                let tried = self.made(self.open(), &found);
                blamed.extend(needed(&tried.bits, &|bits| state(self.model, bits, &[]).carries[coil]));
            }
        }
        if blamed.is_empty() {
            blamed = departs(bits).into_iter().map(|(var, _)| var).collect();
        }
        blamed
    }

    /// What is assumed and needed for a condition to show what it shows.
    ///
    /// `None`: the work ended before it was found out.
    pub(super) fn rests_on(&self, bits: &[bool], holds: impl Fn(&[bool]) -> bool) -> Option<Vec<String>> {
        let mut bits = bits.to_vec();
        let mut all = Vec::new();
        for (var, what) in self.model.vars.iter().enumerate() {
            if what.nominal() == Some(true) && bits[var] {
                self.purse.pay(self.model.edges.len())?;
                bits[var] = false;
                if !holds(&bits) {
                    all.push(doubt(self.model, var));
                }
                bits[var] = true;
            }
        }
        Some(all)
    }
}
