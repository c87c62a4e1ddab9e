//! The rules: what is wrong, doubtful or worth knowing about a recorded machine.
//!
//! Each rule is a predicate on the record and on what the circuit makes of it, with one stable name. A rule has three
//! answers: it holds, it does not, or the record cannot decide. What cannot be decided gives no finding, or a doubt that
//! names what is missing; it never gives a false statement. Nothing here changes the record, reads files or the clock.

mod consumers;
mod contacts;
mod decide;
mod earth;
mod ends;
mod feeds;
mod finding;
mod graph;
mod labels;
mod levels;
mod live;
mod numbers;
mod reach;
mod readings;
mod relays;
mod rule;
mod state;
mod supply;
mod survey;
mod stress;
mod tone;
mod windings;

pub use finding::{Finding, Severity};
pub use rule::{Rule, rules};

use crate::catalogue::Catalogue;
use crate::circuit::Network;
use crate::circuit::electric::Judgement;
use crate::machine::Machine;

use survey::{Survey, Wiring};

/// Every finding of every rule, worst first, then in the order of [`rules`], then of the record.
///
/// Findings on which the record holds a decision carry it.
pub fn check(machine: &Machine, catalogue: &Catalogue) -> Vec<Finding> {
    check_with(machine, &Network::of(machine, catalogue))
}

/// As [`check`], with the network of the record made before, so that it is not made twice.
pub fn check_with(machine: &Machine, network: &Network) -> Vec<Finding> {
    examine(machine, network).0
}

/// As [`check_with`], with the readings held against the record, which the rules need as well.
pub fn examine(machine: &Machine, network: &Network) -> (Vec<Finding>, Judgement) {
    let wiring = Wiring::of(machine, network);
    let survey = Survey::of(machine, network, &wiring);
    let mut findings = Vec::new();
    for rule in rules() {
        (rule.find)(&survey, &mut findings);
    }
    decide::put_decisions(machine, &mut findings);
    decide::put_in_order(&mut findings);
    (findings, survey.levels.judgement)
}
