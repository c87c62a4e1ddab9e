//! The sections of the wiring sheet.

use std::collections::BTreeSet;

use serde::Serialize;

/// A section of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Section {
    /// Machine, nameplate, visit, what is proven and what is not.
    Title,
    /// Cautions.
    Cautions,
    /// Photos with the wires drawn on them.
    Photos,
    /// The connection diagram.
    Diagram,
    /// The ladder diagram.
    Ladder,
    /// The wire list, from and to.
    Wires,
    /// Terminals by part.
    Terminals,
    /// Readings with what is expected.
    Readings,
    /// Findings with what was decided.
    Findings,
    /// Dead wiring removed, left capped, and left in place.
    Dead,
    /// What is not known.
    Mysteries,
    /// The next visit: readings in order, parts and tools to bring.
    NextVisit,
}

impl Section {
    /// All, in the order of the sheet.
    pub const ALL: [Self; 12] = [
        Self::Title,
        Self::Cautions,
        Self::Photos,
        Self::Diagram,
        Self::Ladder,
        Self::Wires,
        Self::Terminals,
        Self::Readings,
        Self::Findings,
        Self::Dead,
        Self::Mysteries,
        Self::NextVisit,
    ];

    /// The word it goes by on the command line.
    pub fn word(self) -> &'static str {
        match self {
            Self::Title => "title",
            Self::Cautions => "cautions",
            Self::Photos => "photos",
            Self::Diagram => "diagram",
            Self::Ladder => "ladder",
            Self::Wires => "wires",
            Self::Terminals => "terminals",
            Self::Readings => "readings",
            Self::Findings => "findings",
            Self::Dead => "dead",
            Self::Mysteries => "mysteries",
            Self::NextVisit => "next-visit",
        }
    }

    /// The section that goes by this word.
    pub fn by_word(word: &str) -> Option<Self> {
        Self::ALL.into_iter().find(|section| section.word() == word)
    }

    /// The sections of a sheet of which only some are wanted; the title and the cautions always come along.
    pub fn wanted(only: &[Self]) -> BTreeSet<Self> {
        if only.is_empty() {
            return Self::ALL.into_iter().collect();
        }
        only.iter().copied().chain([Self::Title, Self::Cautions]).collect()
    }
}
