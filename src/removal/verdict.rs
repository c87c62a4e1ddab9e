//! What is said of each wire and part, and why.

use std::collections::BTreeMap;

use crate::machine::{Condition, PartId, WireId};

use super::prove::Method;

/// What a wire or part is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Verdict {
    /// Something needs it.
    InUse,
    /// It carries nothing in any condition, but can be live.
    LiveStub,
    /// Something beside it does its work.
    Redundant,
    /// It carries current only while relays move.
    TransientOnly,
    /// It carries nothing and is not live in any condition.
    Dead,
    /// What it served is gone.
    ServesNothingLeft,
    /// The record leaves open what it does.
    CannotBeSaid,
    /// The work ended before it was decided.
    NotDecided,
}

impl Verdict {
    /// As it is written in results.
    pub fn word(self) -> &'static str {
        match self {
            Self::InUse => "in-use",
            Self::LiveStub => "live-stub",
            Self::Redundant => "redundant",
            Self::TransientOnly => "transient-only",
            Self::Dead => "dead",
            Self::ServesNothingLeft => "serves-nothing-left",
            Self::CannotBeSaid => "cannot-be-said",
            Self::NotDecided => "not-decided",
        }
    }

    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Self::InUse => "in use",
            Self::LiveStub => "live stub",
            Self::Redundant => "redundant",
            Self::TransientOnly => "only while relays move",
            Self::Dead => "dead",
            Self::ServesNothingLeft => "serves nothing left",
            Self::CannotBeSaid => "cannot be said",
            Self::NotDecided => "not decided",
        }
    }

    /// Whether a plan may take it out.
    pub fn may_go(self) -> bool {
        matches!(self, Self::LiveStub | Self::Redundant | Self::Dead | Self::ServesNothingLeft)
    }
}

/// How it is known.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Proof {
    /// By what.
    pub method: Method,
    /// How many conditions it covers, relays' positions included; `None`: more than could be counted. One where one condition shows it.
    pub conditions: Option<f64>,
}

impl Method {
    /// As it is written in results.
    pub fn word(self) -> &'static str {
        match self {
            Self::Structure => "structure",
            Self::Sweep => "sweep",
            Self::Symbolic => "symbolic",
            Self::OneCondition => "one-condition",
        }
    }
}

/// A condition that shows something.
#[derive(Debug, Clone, PartialEq)]
pub struct Witness {
    /// The condition, to be put on the condition bar as it is. It has no name.
    pub condition: Condition,
    /// Relays that are worked in it.
    pub worked: Vec<PartId>,
    /// The relays stand so only while they move.
    pub moving: bool,
    /// Loads and coils that need it, by name.
    pub loads: Vec<String>,
}

/// What is said of one wire or part.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// The verdict.
    pub verdict: Verdict,
    /// The reason, as sentences.
    pub reason: String,
    /// How it is known. `None` where nothing is.
    pub proof: Option<Proof>,
    /// A condition that shows it, where one does.
    pub witness: Option<Witness>,
    /// It can be live, by the record; `None`: not known.
    pub live: Option<bool>,
    /// What the record lacks, one a sentence.
    pub missing: Vec<String>,
    /// What the verdict rests on without its having been seen or proven.
    pub rests_on: Vec<String>,
    /// Wires that must stay if it goes: they do its work.
    pub not_with: Vec<WireId>,
}

/// Everything that is said of a record.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Verdicts {
    /// Wires on the machine.
    pub wires: BTreeMap<WireId, Judged>,
    /// Parts on the machine.
    pub parts: BTreeMap<PartId, Judged>,
    /// Conditions the machine can be in, relays' positions included; `None`: more than could be counted.
    pub conditions: Option<f64>,
    /// What is to be said beside every verdict.
    pub cautions: Vec<String>,
}

impl Verdicts {
    /// Wires of which a plan may take out all together, in order of entry.
    pub fn may_go(&self) -> Vec<WireId> {
        let mut going: Vec<WireId> = Vec::new();
        for (&wire, judged) in &self.wires {
            if judged.verdict.may_go() && !judged.not_with.iter().any(|other| going.contains(other)) {
                going.push(wire);
            }
        }
        going
    }
}
