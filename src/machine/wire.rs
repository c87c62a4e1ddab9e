//! A wire: its two ends, what it looks like, where it runs, and how each end is known.

use crate::quantity::{WireColour, WireSize};

use super::ids::LoomId;
use super::place::Point;
use super::spot::{Side, TerminalRef};

/// One wire, or a jumper inside a strip.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Wire {
    /// Key, unique in the record (tags of parts included).
    pub key: String,
    /// The number found printed on it; none, or the same on several wires, is normal.
    pub number: Option<String>,
    /// What it is made as.
    pub form: WireForm,
    /// First end.
    pub from: WireEnd,
    /// Second end.
    pub to: WireEnd,
    /// Insulation colour.
    pub colour: Option<WireColour>,
    /// Conductor size.
    pub size: Option<WireSize>,
    /// Length in millimetres.
    pub length_mm: Option<f64>,
    /// Text printed on the insulation.
    pub insulation: String,
    /// Bends between the two ends, in order from the first end.
    pub path: Vec<PathPoint>,
    /// In place, capped off, removed.
    pub state: WireState,
    /// The loom it runs in.
    pub loom: Option<LoomId>,
    /// Anything else.
    pub note: String,
}

impl Wire {
    /// One of the two ends.
    pub fn end(&self, side: Side) -> &WireEnd {
        match side {
            Side::From => &self.from,
            Side::To => &self.to,
        }
    }

    /// One of the two ends, to change it.
    pub fn end_mut(&mut self, side: Side) -> &mut WireEnd {
        match side {
            Side::From => &mut self.from,
            Side::To => &mut self.to,
        }
    }

    /// Whether it is still on the machine.
    pub fn is_present(&self) -> bool {
        self.state != WireState::Removed
    }

    /// Whether this end is landed: on a terminal and not lifted.
    pub fn landed(&self, side: Side) -> Option<&TerminalRef> {
        let end = self.end(side);
        match &end.at {
            EndAt::Terminal(terminal) if !end.lifted && self.is_present() => Some(terminal),
            _ => None,
        }
    }
}

/// What a wire is made as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum WireForm {
    /// An insulated wire.
    #[default]
    Lead,
    /// A jumper bar or link inside a strip.
    Jumper,
}

/// One end of a wire.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct WireEnd {
    /// Where it is.
    pub at: EndAt,
    /// Taken off the terminal it is recorded on, to be landed again.
    pub lifted: bool,
    /// What is crimped on it.
    pub lug: Lug,
    /// How the connection is known.
    pub known: Known,
    /// Canvas place of an end that is not on a terminal.
    pub place: Option<Point>,
}

/// Where an end of a wire is.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub enum EndAt {
    /// On this terminal (a splice is a part with a terminal).
    Terminal(TerminalRef),
    /// On nothing, and seen to be so.
    Loose,
    /// It goes out of sight; where it ends is not known.
    #[default]
    Unknown,
}

/// What is crimped on an end.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Lug {
    /// Not said.
    #[default]
    Unsaid,
    /// Bare strands.
    Bare,
    /// Ferrule.
    Ferrule,
    /// Fork.
    Fork,
    /// Ring.
    Ring,
    /// Straight quick connect.
    QuickConnect,
    /// Flag quick connect.
    Flag,
    /// Pin of a plug.
    Pin,
    /// Capped off.
    Cap,
}

impl Lug {
    /// Every lug with its file name and its words.
    pub const ALL: [(Self, &'static str, &'static str); 9] = [
        (Self::Unsaid, "unsaid", "not said"),
        (Self::Bare, "bare", "bare strands"),
        (Self::Ferrule, "ferrule", "ferrule"),
        (Self::Fork, "fork", "fork"),
        (Self::Ring, "ring", "ring"),
        (Self::QuickConnect, "quick_connect", "quick connect"),
        (Self::Flag, "flag", "flag quick connect"),
        (Self::Pin, "pin", "pin"),
        (Self::Cap, "cap", "cap"),
    ];

    /// In words.
    pub fn words(self) -> &'static str {
        Self::ALL.iter().find(|entry| entry.0 == self).map_or("", |entry| entry.2)
    }
}

/// How a connection is known.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Known {
    /// Followed by eye.
    #[default]
    Seen,
    /// Taken for granted.
    Assumed,
    /// Shown by readings.
    Proven,
    /// A reading speaks against it.
    Disputed,
}

impl Known {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Seen => "seen",
            Self::Assumed => "assumed",
            Self::Proven => "proven",
            Self::Disputed => "disputed",
        }
    }
}

/// A bend of a wire.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PathPoint {
    /// Where.
    pub at: Point,
    /// The stretch that leads to this point is out of sight.
    pub hidden: bool,
}

/// Whether a wire is still there.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum WireState {
    /// In place.
    #[default]
    InPlace,
    /// Left in the machine with its ends capped off.
    CappedOff,
    /// Taken out.
    Removed,
}

impl WireState {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::InPlace => "in place",
            Self::CappedOff => "capped off",
            Self::Removed => "removed",
        }
    }
}

/// Wires that run together.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Loom {
    /// Name, unique among looms.
    pub name: String,
    /// From where to where it runs, in words.
    pub stretch: String,
}
