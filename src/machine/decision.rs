//! What was decided on a finding.

use super::spot::Thing;

/// A decision on one finding: the rule and the things it pointed at.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Decision {
    /// The rule's stable name.
    pub rule: String,
    /// What the finding was about.
    pub about: Vec<Thing>,
    /// What was decided.
    pub verdict: Verdict,
    /// When, as `2026-03-02 10:15`.
    pub when: String,
    /// By whom.
    pub who: String,
}

/// What was decided.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Verdict {
    /// It was put right; if the rule still fires the finding comes back.
    Mended,
    /// It stays as it is, because of this.
    Accepted(String),
    /// It is for the next visit.
    NextVisit,
}
