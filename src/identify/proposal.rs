//! A proposed reading: where, with what, in which condition, what each result would mean, and in which order several are told.

use crate::circuit::{Network, Steps};
use crate::machine::{ConditionId, Machine, MysteryId};

use super::risk::Risk;
use super::world::Place;

/// What one result would mean.
#[derive(Debug, Clone, PartialEq)]
pub struct Meaning {
    /// What would be shown.
    pub reading: String,
    /// How likely that is.
    pub odds: f64,
    /// What it settles that other results do not: for each such mystery of the group, the number of the candidate.
    pub leaves: Vec<(MysteryId, usize)>,
    /// The fault it leaves, or `no fault`, where other results leave another.
    pub fault: Option<String>,
    /// How many answers it leaves; 0 where it would be none of the candidates.
    pub answers: usize,
    /// It leaves as well that a lead is on none of its candidates.
    pub or_none: bool,
}

impl Meaning {
    /// What it means, in words; `leaf` has those for a mystery and one of its candidates.
    pub fn words(&self, leaf: impl Fn(MysteryId, usize) -> String) -> String {
        let mut all: Vec<String> = self.leaves.iter().map(|&(mystery, candidate)| leaf(mystery, candidate)).collect();
        all.extend(self.fault.clone());
        match self.answers {
            0 => all.insert(0, "none of the candidates, or a mistaken reading".to_owned()),
            1 if all.is_empty() => all.push("1 answer left".to_owned()),
            more if all.is_empty() => all.push(format!("{more} answers left")),
            _ => {}
        }
        if self.or_none && self.answers > 0 {
            all.push("or a lead is on none of its candidates".to_owned());
        }
        all.join("; ")
    }
}

/// A reading that tells answers apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposal {
    /// Where and how.
    pub place: Place,
    /// How to get the machine into the condition.
    pub steps: Vec<String>,
    /// How dangerous it is.
    pub risk: Risk,
    /// Bits it brings on average.
    pub settles_bits: f64,
    /// Its own effort: a reading counts 1, a change of condition and each lifted lead as much.
    pub effort: f64,
    /// The whole effort on average until nothing more can be told apart, beginning with it.
    pub whole_effort: f64,
    /// Results, likeliest first.
    pub results: Vec<Meaning>,
    /// What to mind, worst first.
    pub cautions: Vec<&'static str>,
    /// What makes its results tell less than they say.
    pub doubts: Vec<&'static str>,
    /// Odds that none of the answers is right, whatever is read here.
    pub none_of_these: f64,
}

/// Why results may tell less than they say.
pub(super) fn doubts(hangs_on_unknown: bool, others_as_likely: bool) -> Vec<&'static str> {
    let unknown = "Something not known hangs on this circuit and could change what is read.";
    let others = "It tells this only if other mysteries are what they most likely are.";
    [hangs_on_unknown.then_some(unknown), others_as_likely.then_some(others)].into_iter().flatten().collect()
}

/// How to get from the present condition to another, under a first line that names it.
pub(super) fn steps(
    machine: &Machine,
    network: &Network,
    present: Option<ConditionId>,
    to: ConditionId,
) -> Vec<String> {
    let sources = network.sources().iter().map(|source| source.inside.part).collect();
    let Steps { before, on } = Steps::between(machine, &sources, present, to);
    let name = machine.conditions.get(to).map_or("", |condition| condition.name.as_str());
    let first = (present != Some(to)).then(|| format!("Set the condition '{name}':"));
    first.into_iter().chain(before).chain(on).collect()
}

/// The proposals of several groups as one list: the best of each group first, the least risky of them before the others, then those
/// that settle most for their effort. The order within a group stays.
pub fn in_order<G>(groups: Vec<(G, Vec<Proposal>)>) -> Vec<(G, Proposal)>
where
    G: Clone,
{
    let mut all: Vec<(usize, G, Proposal)> = groups
        .into_iter()
        .flat_map(|(group, own)| own.into_iter().enumerate().map(move |(at, proposal)| (at, group.clone(), proposal)))
        .collect();
    let worth = |one: &Proposal| one.settles_bits / one.effort;
    all.sort_by(|(at, _, a), (other, _, b)| {
        at.cmp(other).then(a.risk.cmp(&b.risk)).then(worth(b).total_cmp(&worth(a)))
    });
    all.into_iter().map(|(_, group, proposal)| (group, proposal)).collect()
}
