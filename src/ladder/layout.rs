//! A ladder as it is laid out: sections between poles, rungs, devices with the places of their ends, the lines of nets.

use std::sync::Arc;

use crate::catalogue::{Form, LoadKind, Style};
use crate::drawing::{Area, Scene};
use crate::machine::{PartId, Point, TerminalRef, Thing, WireId};

/// How a ladder is to be laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Options {
    /// The family of graphic symbols.
    pub style: Style,
}

impl Default for Options {
    fn default() -> Self {
        Self { style: Style::Iec }
    }
}

/// A laid-out ladder diagram. All places are millimetres of one plane; sections lie below one another on it.
#[derive(Debug, Clone, Default)]
pub struct Ladder {
    /// What it is a ladder of.
    pub title: String,
    /// The state it is drawn in, one sentence each.
    pub state: Vec<String>,
    /// Sections, from top to bottom: a supply's power part, its ladders, then those of what it feeds.
    pub sections: Vec<Section>,
    /// Lines with devices on them, from top to bottom, numbered from 1 through all sections.
    pub rungs: Vec<Rung>,
    /// What is drawn, each device of the record once.
    pub devices: Vec<Device>,
    /// Nets that are drawn.
    pub nets: Vec<DrawnNet>,
    /// The lines of nets.
    pub stretches: Vec<Stretch>,
    /// What is not on the ladder, each with the reason, in the record's order.
    pub off: Vec<Off>,
    /// Crossings of lines that are not joined.
    pub crossings: usize,
    pub(super) scene: Arc<Scene>,
    pub(super) drawings: Vec<Drawing>,
}

impl Ladder {
    /// One drawing for each section, then one with what is not on the ladder; in the coordinates of [`Self::scene`].
    pub fn drawings(&self) -> Vec<Drawing> {
        self.drawings.clone()
    }

    /// What is not on the ladder in sentences, each with the thing it is about; wires with the same reason share one.
    pub fn off_sentences(&self) -> Vec<(Thing, String)> {
        super::off::sentences(&self.off)
    }

    /// Everything in one drawing.
    pub fn scene(&self) -> &Arc<Scene> {
        &self.scene
    }
}

/// A part of the ladder that stands by itself on paper.
#[derive(Debug, Clone, Default)]
pub struct Drawing {
    /// Its heading, as drawn.
    pub title: String,
    /// The shapes and what can be pointed at.
    pub scene: Scene,
    /// The rectangle that it takes.
    pub area: Option<Area>,
    /// Heights at which it may be parted on a page, from top to bottom: between rungs, where only rails run.
    pub breaks_mm: Vec<f64>,
    /// Heights of the lower edge of its heading: what lies above is repeated on a further page.
    pub head_mm: f64,
}

/// What a section is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum SectionKind {
    /// Between more than two poles of a supply: the power part.
    Power,
    /// Between two poles.
    Rails,
    /// Between the two pins of a board's input, which are no supply of the record.
    Input,
}

/// Rungs between the same poles.
#[derive(Debug, Clone, PartialEq)]
pub struct Section {
    /// What it is.
    pub kind: SectionKind,
    /// Its heading.
    pub title: String,
    /// The part that feeds it.
    pub fed_by: PartId,
    /// Its poles, the left one first.
    pub poles: Vec<Pole>,
    /// Devices above the rungs, in the rails or between them.
    pub head: Vec<usize>,
    /// The rectangle of the section without its margins: rails and rungs.
    pub area: Area,
}

/// A pole of a supply.
#[derive(Debug, Clone, PartialEq)]
pub struct Pole {
    /// The terminal of the supply.
    pub terminal: TerminalRef,
    /// As it is written.
    pub name: String,
    /// The net of the supply's terminal, in [`Ladder::nets`].
    pub net: usize,
    /// Where it is drawn.
    pub at: Point,
}

/// One line with devices on it.
#[derive(Debug, Clone, PartialEq)]
pub struct Rung {
    /// Its number.
    pub number: usize,
    /// The section it is in.
    pub section: usize,
    /// Lines that hang together by more than rails have the same group.
    pub group: usize,
    /// Its height.
    pub y_mm: f64,
    /// Its devices from left to right.
    pub devices: Vec<usize>,
}

/// What a drawn device is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum What {
    /// A contact.
    Contact(Form),
    /// A fuse or protector.
    Fuse,
    /// A fuse or protector with the contact of its handle.
    Breaker,
    /// The way through an overload relay.
    Overload,
    /// A coil.
    Coil,
    /// A load.
    Load(LoadKind),
    /// A winding.
    Winding,
    /// A capacitor.
    Capacitor,
    /// A resistor.
    Resistor,
    /// A diode.
    Diode,
    /// A thermistor.
    Thermistor,
    /// A choke.
    Choke,
    /// A surge arrester.
    Arrester,
    /// A sensing input.
    Sense,
    /// What a transformer or DC supply is fed by.
    Primary,
    /// What a transformer gives.
    Secondary,
    /// What a DC supply gives.
    Output,
    /// A source between its two poles.
    Source,
}

impl What {
    /// A word for it.
    pub fn word(self) -> &'static str {
        match self {
            Self::Contact(Form::Make) => "make",
            Self::Contact(Form::Break) => "break",
            Self::Fuse => "fuse",
            Self::Breaker => "breaker",
            Self::Overload => "overload",
            Self::Coil => "coil",
            Self::Load(LoadKind::Heater) => "heater",
            Self::Load(LoadKind::Motor) => "motor",
            Self::Load(LoadKind::Fan) => "fan",
            Self::Load(LoadKind::Lamp) => "lamp",
            Self::Load(LoadKind::Solenoid) => "solenoid",
            Self::Load(LoadKind::Sounder) => "sounder",
            Self::Load(LoadKind::Electronics) => "electronics",
            Self::Load(LoadKind::TimerMotor) => "timer motor",
            Self::Winding => "winding",
            Self::Capacitor => "capacitor",
            Self::Resistor => "resistor",
            Self::Diode => "diode",
            Self::Thermistor => "thermistor",
            Self::Choke => "choke",
            Self::Arrester => "arrester",
            Self::Sense => "input",
            Self::Primary => "primary",
            Self::Secondary => "secondary",
            Self::Output => "DC output",
            Self::Source => "source",
        }
    }
}

/// One device as it is drawn.
#[derive(Debug, Clone, PartialEq)]
pub struct Device {
    /// The part it belongs to.
    pub part: PartId,
    /// Which of its body's elements it stands for.
    pub elements: Vec<usize>,
    /// What it is.
    pub what: What,
    /// Its two ends, the left or upper one first.
    pub ends: [DeviceEnd; 2],
    /// Its rung, in [`Ladder::rungs`]; `None` in the head of a section.
    pub rung: Option<usize>,
    /// The section it is in.
    pub section: usize,
    /// Its middle.
    pub at: Point,
    /// Drawn upright, in a rail.
    pub upright: bool,
    /// For a coil: its contacts. For a contact of a relay: the coil.
    pub references: Vec<Reference>,
}

/// One end of a drawn device.
#[derive(Debug, Clone, PartialEq)]
pub struct DeviceEnd {
    /// The terminal, or a point inside the part.
    pub terminal: TerminalRef,
    /// Its place.
    pub at: Point,
    /// Its net, in [`Ladder::nets`].
    pub net: usize,
    /// Wires that land on the terminal.
    pub wires: Vec<WireId>,
}

/// Where the other half of a relay is drawn.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Reference {
    /// The device, in [`Ladder::devices`].
    pub device: usize,
    /// For a contact: whether it is a break contact.
    pub breaks: bool,
}

/// A net that is drawn.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct DrawnNet {
    /// Its wire number as it is written; none inside a part, where no wire runs.
    pub number: Option<String>,
    /// The numbers found printed on its wires.
    pub recorded: Vec<String>,
    /// Its terminals.
    pub terminals: Vec<TerminalRef>,
    /// Its wires, in order of entry.
    pub wires: Vec<WireId>,
}

/// A line of a net from one corner, joint or device to the next.
#[derive(Debug, Clone, PartialEq)]
pub struct Stretch {
    /// Its net, in [`Ladder::nets`].
    pub net: usize,
    /// Where it begins and ends; level or upright.
    pub ends: [Point; 2],
    /// The wires it stands for: those that land on the device it comes from, else all of the net.
    pub wires: Vec<WireId>,
}

/// Something of the record that has no place on the ladder.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Off {
    /// What.
    pub of: Thing,
    /// Which of the part's elements, where it is not the whole of it.
    pub elements: Vec<usize>,
    /// What it is, for a person.
    pub what: String,
    /// Why.
    pub reason: Reason,
    /// Why, in a sentence.
    pub why: String,
}

/// Why something is not on the ladder.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Reason {
    /// An end of it is out of sight.
    OpenEnd,
    /// An end of it is on nothing, lifted or capped.
    LooseEnd,
    /// One side leads to nothing.
    LeadsNowhere,
    /// No way leads from it to a supply.
    NoSupply,
    /// Both its sides come to the same pole, or are joined.
    Bridged,
    /// It stands between two supplies that have no pole in common.
    TwoSupplies,
    /// It is protective earth.
    Earth,
    /// What is inside is not known.
    Unknown,
    /// Its place is empty.
    Missing,
}
