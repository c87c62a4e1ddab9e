//! One visit to the machine.

/// A visit. The frozen copies are files beside the record, named by their hash.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Visit {
    /// Name, unique among visits; usually the date.
    pub name: String,
    /// Date, as `2026-03-02`.
    pub date: String,
    /// Who came.
    pub who: String,
    /// Why.
    pub why: String,
    /// Hash of the record as found.
    pub as_found: Option<String>,
    /// Hash of the record as left.
    pub as_left: Option<String>,
    /// The work done, a line each.
    pub work: Vec<String>,
}
