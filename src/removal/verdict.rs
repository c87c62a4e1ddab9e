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
    /// All, as a person who clears out asks for them: what is dangerous and what may go first, what is in use last.
    pub const ALL: [Self; 8] = [
        Self::LiveStub,
        Self::Dead,
        Self::ServesNothingLeft,
        Self::Redundant,
        Self::TransientOnly,
        Self::CannotBeSaid,
        Self::NotDecided,
        Self::InUse,
    ];

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

    /// What it means, in one short sentence.
    pub fn meaning(self) -> &'static str {
        match self {
            Self::InUse => "Something needs it.",
            Self::LiveStub => "DANGER: it feeds nothing, but it can be live.",
            Self::Redundant => "A way beside it does its work. It may be so on purpose.",
            Self::TransientOnly => "It carries only for a moment. It stays.",
            Self::Dead => "It feeds nothing and is never live, by the record.",
            Self::ServesNothingLeft => "What it served is gone; never live, by the record.",
            Self::CannotBeSaid => "Something is missing in the record. Take it for in use, and for live.",
            Self::NotDecided => "The work ended before. Take it for in use, and for live.",
        }
    }

    /// What it means, and what to do about it.
    pub fn advice(self) -> &'static str {
        match self {
            Self::InUse => "Something needs it. It stays.",
            Self::LiveStub => {
                "DANGER: it feeds nothing, and it can be live whenever a supply is on. Keep off its ends, and see that each is capped. To take it out: isolate, lock and tag, verify absence of voltage, then take it off at its feeding end first. If it stays: cap both ends and mark them 'not in use'."
            }
            Self::Redundant => {
                "It carries current, and a way beside it does the same work. It may be so on purpose: ask before it goes, and take one such wire at a time. Whether what stays is thick enough for the whole current is not looked at: see to that first."
            }
            Self::TransientOnly => {
                "It carries current only for a moment, while relays move. It stays: what happens in that moment may be wanted."
            }
            Self::Dead => {
                "By the record it feeds nothing and is never live. The record can be wrong, and a neutral, which does not count as live here, is so where it is broken or the plug is turned: verify absence of voltage on it before it is touched."
            }
            Self::ServesNothingLeft => {
                "What it served is gone; by the record it is never live. Verify absence of voltage on it before it is touched."
            }
            Self::CannotBeSaid => {
                "The record leaves open what it does. Find out what is missing; until then take it for in use, and for live."
            }
            Self::NotDecided => "The work ended before it was decided. Take it for in use, and for live.",
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

impl Proof {
    /// For people: how it is known, and over how many conditions.
    pub fn words(&self) -> String {
        let over = match self.conditions {
            Some(1.0) => "1 condition".to_owned(),
            Some(count) => format!("{} conditions", counted(count)),
            None => "more conditions than could be counted".to_owned(),
        };
        match self.method {
            Method::OneCondition => "Shown by one condition.".to_owned(),
            method => format!("Proved {}, over {over}.", method.words()),
        }
    }
}

/// A count as a person reads it: in groups of three figures, and as a power of ten where it is long.
pub fn counted(count: f64) -> String {
    if count >= 1e9 {
        return format!("about 10^{:.0}", count.log10());
    }
    let figures = format!("{count:.0}");
    let first = figures.len() % 3;
    let groups = figures.char_indices().flat_map(|(at, figure)| {
        let parts = at > 0 && at % 3 == first;
        parts.then_some('\u{202f}').into_iter().chain([figure])
    });
    groups.collect()
}

impl Method {
    /// For people, after 'proved'.
    pub fn words(self) -> &'static str {
        match self {
            Self::Structure => "by how the wiring hangs together",
            Self::Sweep => "by going through each condition",
            Self::Symbolic => "for all conditions at once, as sets",
            Self::OneCondition => "by one condition",
        }
    }

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
    /// The relays stand so only after another condition, or when they were worked before: from rest the condition shows something else.
    pub after_another: bool,
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
    /// Whether everything was decided.
    pub fn is_whole(&self) -> bool {
        let all = self.wires.values().chain(self.parts.values());
        all.into_iter().all(|judged| judged.verdict != Verdict::NotDecided)
    }

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
