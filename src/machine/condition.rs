//! The conditions a machine can be put in, and which of them can occur at all.

use std::collections::{BTreeMap, BTreeSet};

use super::Machine;
use super::ids::{ConditionId, PartId, WireId};
use super::spot::{Side, TerminalRef};

/// A condition as it is written: only what it says itself, on top of the one it is derived from.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Condition {
    /// Name, unique among conditions.
    pub name: String,
    /// The condition this one starts from.
    pub derived_from: Option<ConditionId>,
    /// Sources switched on or off.
    pub sources: BTreeMap<PartId, bool>,
    /// Outputs commanded or not.
    pub commanded: BTreeMap<TerminalRef, bool>,
    /// Positions of switches, doors, thermostats, timers, plugs (mated or pulled): part and switch to position.
    pub positions: BTreeMap<(PartId, String), String>,
    /// Leads lifted or landed again.
    pub lifted: BTreeMap<(WireId, Side), bool>,
    /// How to set it.
    pub how: String,
}

/// A condition with everything it is derived from worked in.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Setting {
    /// Sources that are on.
    pub sources_on: BTreeSet<PartId>,
    /// Outputs that are commanded.
    pub commanded: BTreeSet<TerminalRef>,
    /// Positions that are not those at rest.
    pub positions: BTreeMap<(PartId, String), String>,
    /// Leads that are lifted for this condition, besides those lifted in the record.
    pub lifted: BTreeSet<(WireId, Side)>,
}

impl Machine {
    /// The sources that a condition, or one it is derived from, says to be on or off.
    pub fn sources_said(&self, id: ConditionId) -> BTreeSet<PartId> {
        let mut said = BTreeSet::new();
        let mut seen = Vec::new();
        let mut next = Some(id);
        while let Some(id) = next.filter(|id| !seen.contains(id)) {
            seen.push(id);
            let Some(condition) = self.conditions.get(id) else { break };
            said.extend(condition.sources.keys().copied());
            next = condition.derived_from;
        }
        said
    }

    /// What a condition sets, with everything it is derived from. A circle of derivations stops at the first repeat.
    pub fn setting(&self, id: ConditionId) -> Setting {
        let mut chain = Vec::new();
        let mut next = Some(id);
        while let Some(id) = next {
            if chain.contains(&id) {
                break;
            }
            chain.push(id);
            next = self.conditions.get(id).and_then(|condition| condition.derived_from);
        }
        let mut setting = Setting::default();
        for condition in chain.iter().rev().filter_map(|&id| self.conditions.get(id)) {
            set(&mut setting.sources_on, &condition.sources);
            set(&mut setting.commanded, &condition.commanded);
            set(&mut setting.lifted, &condition.lifted);
            setting.positions.extend(condition.positions.clone());
        }
        setting
    }
}

/// Puts in what is said to be so, takes out what is said not to be.
fn set<K: Ord + Clone>(held: &mut BTreeSet<K>, said: &BTreeMap<K, bool>) {
    for (key, &yes) in said {
        if yes {
            held.insert(key.clone());
        } else {
            held.remove(key);
        }
    }
}

/// Something that can be so or not in a condition.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Statement {
    /// The source is on.
    SourceOn(PartId),
    /// The output is commanded.
    Commanded(TerminalRef),
    /// The part's switch is in this position.
    Position(PartId, String, String),
}

/// What conditions can occur at all.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Constraint {
    /// No two of these at the same time.
    NeverBoth(Vec<Statement>),
    /// The first only when the second.
    OnlyWhen(Statement, Statement),
    /// This holds whenever the machine is in use.
    Always(Statement),
}
