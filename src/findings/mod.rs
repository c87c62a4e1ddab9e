//! The rules: what is wrong, doubtful or worth knowing about a recorded machine.
//!
//! Each rule is a predicate on the record and on what the circuit makes of it, with one stable name. A rule has three
//! answers: it holds, it does not, or the record cannot decide. What cannot be decided gives no finding, or a doubt that
//! names what is missing; it never gives a false statement. Nothing here changes the record, reads files or the clock.

mod consumers;
mod conditions;
mod contacts;
mod decide;
mod earth;
mod ends;
mod feeds;
mod finding;
mod graph;
mod labels;
mod numbers;
mod reach;
mod rule;
mod supply;
mod survey;

pub use finding::{Finding, Severity};
pub use rule::{Rule, rules};
pub use survey::Survey;

use crate::catalogue::Catalogue;
use crate::circuit::Network;
use crate::machine::Machine;

/// Every finding of every rule, worst first, then in the order of [`rules`], then of the record.
///
/// Findings on which the record holds a decision carry it.
pub fn check(machine: &Machine, catalogue: &Catalogue) -> Vec<Finding> {
    check_with(&Survey::of(machine, catalogue, &Network::of(machine, catalogue)))
}

/// As [`check`], from a survey made before, so that nothing is computed twice.
pub fn check_with(survey: &Survey) -> Vec<Finding> {
    let mut findings = Vec::new();
    for rule in rules() {
        (rule.find)(survey, &mut findings);
    }
    decide::put_decisions(survey.machine, &mut findings);
    decide::put_in_order(&mut findings);
    findings
}
