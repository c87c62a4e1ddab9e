//! One kind of part as its file gives it.

use serde::{Deserialize, Serialize};

use crate::quantity::Ratings;

use super::element::Element;
use super::symbol::Symbol;

/// One kind of part.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Kind {
    /// Stable name, kebab-case; records refer to it.
    pub name: String,
    /// What people call it.
    pub title: String,
    /// Where it is listed.
    pub family: Family,
    /// Letters a new part's tag begins with.
    pub letters: Letters,
    /// Other words it is found by.
    #[serde(default)]
    pub words: Vec<String>,
    /// Its terminals.
    #[serde(default)]
    pub terminals: Vec<TerminalSpec>,
    /// Points inside it that no probe reaches, for elements in series.
    #[serde(default)]
    pub inner: Vec<String>,
    /// Terminals and elements that repeat with the position.
    #[serde(default)]
    pub repeat: Option<Repeat>,
    /// What is inside.
    #[serde(default)]
    pub elements: Vec<Element>,
    /// Things on it that a person, heat, cold or a door moves.
    #[serde(default)]
    pub switches: Vec<SwitchSpec>,
    /// Ratings that every part of the kind has; a part's own nameplate goes over them.
    #[serde(default)]
    pub ratings: Ratings,
    /// What such parts typically have, where it is not read on the part.
    #[serde(default)]
    pub typical: Typical,
    /// Whether metal that can be touched is usually on it.
    #[serde(default)]
    pub exposed_metal: bool,
    /// How it is drawn.
    pub symbol: Symbol,
    /// A word to whoever places it; also where the markings come from.
    #[serde(default)]
    pub note: String,
}

/// Values to reckon with in default of better ones. A result that rests on one is no more than likely.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Typical {
    /// The values.
    pub values: Ratings,
    /// Where they come from and how far parts stray from them, or that it is common practice.
    pub source: String,
}

/// Where a kind is listed.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Family {
    /// Sources.
    Sources,
    /// Protection.
    Protection,
    /// Switching.
    Switching,
    /// Relays.
    Relays,
    /// Loads.
    Loads,
    /// Boards.
    Boards,
    /// Passive.
    Passive,
    /// Joining.
    Joining,
    /// Unknown.
    Unknown,
}

impl Family {
    /// All, in the order they are listed.
    pub const ALL: [Self; 9] = [
        Self::Unknown,
        Self::Sources,
        Self::Protection,
        Self::Switching,
        Self::Relays,
        Self::Loads,
        Self::Boards,
        Self::Passive,
        Self::Joining,
    ];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Sources => "Sources",
            Self::Protection => "Protection",
            Self::Switching => "Switching",
            Self::Relays => "Relays",
            Self::Loads => "Loads",
            Self::Boards => "Boards",
            Self::Passive => "Passive",
            Self::Joining => "Joining",
            Self::Unknown => "Unknown",
        }
    }
}

/// Letters a tag begins with, by habit. Letters collide between standards, so the kind is always stored beside them.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Letters {
    /// After IEC 81346-2.
    pub iec: String,
    /// As North American drawings have it.
    pub us: String,
}

/// One terminal of a kind.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct TerminalSpec {
    /// Marking.
    pub marking: String,
    /// Place in the part's own millimetres.
    pub at: (f64, f64),
    /// What can land on it: `quick connect 6.3`, `screw`, `pin`, `stud`, `lead`.
    #[serde(default)]
    pub lands: String,
    /// How many wires it may hold; 0 means not limited.
    #[serde(default)]
    pub holds: u8,
    /// Whether what lies behind it is left open (a tap whose share is not known).
    #[serde(default)]
    pub unknown: bool,
}

/// Terminals and elements that come once for each position; `{n}` in markings stands for the position, from 1.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Repeat {
    /// Positions when the part does not say.
    pub count: u16,
    /// Distance from one position to the next, in the part's own millimetres.
    pub pitch: (f64, f64),
    /// Terminals of the first position.
    pub terminals: Vec<TerminalSpec>,
    /// Elements of each position.
    #[serde(default)]
    pub elements: Vec<Element>,
    /// Elements between each position and the next; `{n}` is the earlier, `{m}` the later one.
    #[serde(default)]
    pub between: Vec<Element>,
    /// What is drawn for each position, besides the kind's symbol.
    #[serde(default)]
    pub symbol: Symbol,
}

/// Something on the part with positions.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct SwitchSpec {
    /// Name, unique in the kind: `door`, `thermostat`, `button`.
    pub name: String,
    /// Its positions, the one at rest first.
    pub positions: Vec<String>,
}
