//! Names for places on the machine: terminals, wire ends, and the things a remark can be about.

use std::borrow::Borrow;
use std::fmt;
use std::sync::Arc;

use super::ids::{ConditionId, MysteryId, PartId, PhotoId, ReadingId, WireId};

/// The marking of a terminal, as its kind has it: `A1`, `11`, `J1-4`.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Marking(Arc<str>);

impl Marking {
    /// The marking as text.
    pub fn as_str(&self) -> &str {
        &self.0
    }
}

impl From<&str> for Marking {
    fn from(text: &str) -> Self {
        Self(text.into())
    }
}

impl From<String> for Marking {
    fn from(text: String) -> Self {
        Self(text.into())
    }
}

impl Borrow<str> for Marking {
    fn borrow(&self) -> &str {
        &self.0
    }
}

impl fmt::Display for Marking {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        f.write_str(&self.0)
    }
}

/// One terminal of one part.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct TerminalRef {
    /// The part it is on.
    pub part: PartId,
    /// Which of its terminals.
    pub marking: Marking,
}

impl TerminalRef {
    /// The terminal of a part with this marking.
    pub fn new(part: PartId, marking: impl Into<Marking>) -> Self {
        Self { part, marking: marking.into() }
    }
}

/// Which end of a wire, as the wire list has it.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Side {
    /// The first end.
    From,
    /// The second end.
    To,
}

impl Side {
    /// Both, in order.
    pub const BOTH: [Self; 2] = [Self::From, Self::To];

    /// The opposite end.
    #[must_use]
    pub fn other(self) -> Self {
        match self {
            Self::From => Self::To,
            Self::To => Self::From,
        }
    }

    /// `from` or `to`.
    pub fn word(self) -> &'static str {
        match self {
            Self::From => "from",
            Self::To => "to",
        }
    }
}

/// A place a probe can be put, or a clamp.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Spot {
    /// A terminal.
    Terminal(TerminalRef),
    /// One end of a wire, on its own conductor (also when it is lifted or loose).
    End(WireId, Side),
    /// A whole wire (a clamp round it).
    Wire(WireId),
    /// A whole part (does it run).
    Part(PartId),
    /// Something that has since been taken out of the record, by the name it had.
    Gone(String),
}

/// Anything a finding or a decision can point at.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Thing {
    /// A place, part or wire.
    Spot(Spot),
    /// A condition.
    Condition(ConditionId),
    /// A reading.
    Reading(ReadingId),
    /// A mystery.
    Mystery(MysteryId),
    /// A photo.
    Photo(PhotoId),
}

impl From<Spot> for Thing {
    fn from(spot: Spot) -> Self {
        Self::Spot(spot)
    }
}

impl From<PartId> for Thing {
    fn from(part: PartId) -> Self {
        Self::Spot(Spot::Part(part))
    }
}

impl From<WireId> for Thing {
    fn from(wire: WireId) -> Self {
        Self::Spot(Spot::Wire(wire))
    }
}

impl From<TerminalRef> for Thing {
    fn from(terminal: TerminalRef) -> Self {
        Self::Spot(Spot::Terminal(terminal))
    }
}
