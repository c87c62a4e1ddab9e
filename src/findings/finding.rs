//! What a rule says: one finding, how bad it is, what it points at.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Serialize};

use crate::machine::{Thing, Verdict};

/// How bad a finding is, worst first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Severity {
    /// It can hurt a person or start a fire.
    Danger,
    /// It is wrong, or will not work.
    Fault,
    /// It may be wrong; the record does not say enough.
    Doubt,
    /// Worth knowing.
    Note,
}

impl Severity {
    /// All, worst first.
    pub const ALL: [Self; 4] = [Self::Danger, Self::Fault, Self::Doubt, Self::Note];

    /// The word used in files, on the command line and on screen.
    pub fn word(self) -> &'static str {
        match self {
            Self::Danger => "danger",
            Self::Fault => "fault",
            Self::Doubt => "doubt",
            Self::Note => "note",
        }
    }

    /// Whether this is at least as bad as `other`.
    pub fn is_at_least(self, other: Self) -> bool {
        self <= other
    }
}

impl fmt::Display for Severity {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(self.word())
    }
}

impl FromStr for Severity {
    type Err = String;

    fn from_str(text: &str) -> Result<Self, String> {
        Self::ALL
            .into_iter()
            .find(|severity| severity.word() == text)
            .ok_or_else(|| format!("'{text}' is no severity; use one of danger, fault, doubt, note"))
    }
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Finding {
    /// The rule's stable name.
    pub rule: &'static str,
    /// How bad it is.
    pub severity: Severity,
    /// What it points at, in order of the record; a decision is matched by these.
    pub about: Vec<Thing>,
    /// What was found, in one sentence.
    pub what: String,
    /// Why it matters, in one sentence.
    pub why: &'static str,
    /// What to do, in one sentence (serialised as `do`).
    pub do_: String,
    /// Where the rule comes from, or `common practice, no source`.
    pub source: &'static str,
    /// What was decided on it, where the record says so.
    pub decision: Option<Verdict>,
}

impl Finding {
    /// The same finding with another severity than the rule's usual one.
    pub(super) fn with_severity(mut self, severity: Severity) -> Self {
        self.severity = severity;
        self
    }

    /// Whether it was accepted, so that it no longer counts as open.
    pub fn is_accepted(&self) -> bool {
        matches!(self.decision, Some(Verdict::Accepted(_)))
    }

    /// Whether it counts when findings at or above `severity` are asked for: bad enough and not accepted.
    pub fn counts_at(&self, severity: Severity) -> bool {
        self.severity.is_at_least(severity) && !self.is_accepted()
    }

    /// What the decision means now that the rule still fires, in one sentence; none where nothing was decided.
    pub fn decision_words(&self) -> Option<String> {
        Some(match self.decision.as_ref()? {
            Verdict::Accepted(because) if because.trim().is_empty() => "Accepted as it is.".to_owned(),
            Verdict::Accepted(because) => format!("Accepted because {}.", because.trim().trim_end_matches('.')),
            Verdict::Mended => "Recorded as mended, but the record still shows it.".to_owned(),
            Verdict::NextVisit => "Put off to the next visit.".to_owned(),
        })
    }
}
