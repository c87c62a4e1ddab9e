//! A part on the machine: what it is, what is printed on it, where it sits.

use std::collections::BTreeMap;

use crate::quantity::Ratings;

use super::ids::PhotoId;
use super::place::{Point, Pose};
use super::spot::Marking;

/// One part. What it does electrically comes from its kind in the catalogue and from its own pins.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Part {
    /// Reference designation, unique in the record (wires' keys included).
    pub tag: String,
    /// The label found on the machine, where there is one; it may repeat or be wrong.
    pub printed: Option<String>,
    /// Kind, by its catalogue name.
    pub kind: String,
    /// What it is, in a few words.
    pub title: String,
    /// Where and how it lies on the canvas.
    pub pose: Pose,
    /// Number of positions, for kinds that repeat (terminal strip, plug, unknown part). 0: the kind's default.
    pub count: u16,
    /// Pins of its own, for boards and unknown parts whose pins are no table.
    pub pins: Vec<Pin>,
    /// What differs from the kind at single terminals.
    pub terminals: BTreeMap<Marking, TerminalNote>,
    /// Ratings that override the kind's.
    pub ratings: Ratings,
    /// How it is held.
    pub mounting: Mounting,
    /// Whether metal that can be touched is on it. `None`: the kind's usual.
    pub exposed_metal: Option<bool>,
    /// Position of each of its switches at rest, where it differs from the kind's.
    pub rest: BTreeMap<String, String>,
    /// Parts with the same group name work as one load on purpose.
    pub group: Option<String>,
    /// Anything else.
    pub note: String,
    /// The detail of a photo that shows it.
    pub crop: Option<Crop>,
}

/// A pin that the part has of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct Pin {
    /// Marking, unique on the part.
    pub marking: Marking,
    /// What it does.
    pub role: PinRole,
    /// Place in the part's own millimetres; laid in a row when not given.
    pub at: Option<Point>,
}

/// What a pin of a board or of an unknown part does.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum PinRole {
    /// Not known: open, and every result that touches it carries the doubt.
    Unknown,
    /// Nothing is joined to it inside.
    Plain,
    /// The board takes its supply between this pin and that one.
    Supply(Marking),
    /// Joined inside to that pin.
    Joined(Marking),
    /// When commanded, switches the supply pin through to this pin.
    OutputFrom(Marking),
    /// When commanded, sinks this pin to that return pin.
    OutputTo(Marking),
    /// When commanded, a dry contact closes between this pin and that one.
    OutputDry(Marking),
    /// When commanded, a triac conducts between this pin and that one.
    OutputTriac(Marking),
    /// Senses a contact or a sensor between this pin and that one (high resistance).
    Input(Marking),
}

impl PinRole {
    /// The other pin named by the role.
    pub fn other(&self) -> Option<&Marking> {
        match self {
            Self::Unknown | Self::Plain => None,
            Self::Supply(pin)
            | Self::Joined(pin)
            | Self::OutputFrom(pin)
            | Self::OutputTo(pin)
            | Self::OutputDry(pin)
            | Self::OutputTriac(pin)
            | Self::Input(pin) => Some(pin),
        }
    }

    /// Whether the pin is an output that can be commanded.
    pub fn is_output(&self) -> bool {
        matches!(self, Self::OutputFrom(_) | Self::OutputTo(_) | Self::OutputDry(_) | Self::OutputTriac(_))
    }
}

/// What differs from the kind at one terminal.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct TerminalNote {
    /// The marking printed on the machine, where it differs.
    pub printed: Option<String>,
    /// Canvas place, where the photo shows it somewhere else than the symbol does.
    pub at: Option<Point>,
    /// What can land on it (`quick connect 6.3`, `screw`, `pin`), where it differs.
    pub lands: Option<String>,
    /// How many wires it may hold, where it differs.
    pub holds: Option<u8>,
    /// Anything else.
    pub note: String,
}

/// How a part is held.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Mounting {
    /// Where it belongs.
    #[default]
    Fixed,
    /// Hanging or lying loose.
    Loose,
    /// Its place is empty.
    Missing,
}

/// A rectangle of a photo, in pixels of the upright picture.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Crop {
    /// The photo.
    pub photo: PhotoId,
    /// Left, top, width, height in pixels.
    pub rect_px: [u32; 4],
}
