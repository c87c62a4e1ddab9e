//! The shapes a drawing is made of, in canvas millimetres.

use crate::machine::Point;
use crate::quantity::WireColour;

use super::area::Area;
use super::ink::Ink;
use super::scene::Layer;

/// One shape with its layer.
#[derive(Debug, Clone, PartialEq)]
pub struct Item {
    /// In which layer it is drawn.
    pub layer: Layer,
    /// What is drawn.
    pub shape: Shape,
}

/// What is drawn.
#[derive(Debug, Clone, PartialEq)]
pub enum Shape {
    /// A line through points.
    Line {
        /// The points.
        points: Vec<Point>,
        /// Its ink.
        ink: Ink,
        /// Its width in millimetres.
        width_mm: f64,
        /// Lengths of stroke and gap in millimetres, when it is dashed.
        dash_mm: Option<(f64, f64)>,
    },
    /// A filled outline without an edge.
    Filled {
        /// The corners, in order.
        points: Vec<Point>,
        /// Its ink.
        ink: Ink,
    },
    /// A circle.
    Disc {
        /// Centre.
        at: Point,
        /// Radius in millimetres.
        radius_mm: f64,
        /// Ink of its inside.
        fill: Option<Ink>,
        /// Ink and width in millimetres of its edge.
        edge: Option<(Ink, f64)>,
    },
    /// A stretch of wire.
    Wire(WireRun),
    /// Letters.
    Text {
        /// The point the anchor lies on.
        at: Point,
        /// Which part of the letters lies on the point.
        anchor: Anchor,
        /// Height of capitals in millimetres.
        size_mm: f64,
        /// The letters.
        text: String,
        /// Their ink.
        ink: Ink,
        /// When they are left out.
        priority: Priority,
    },
    /// Letters in a small frame.
    Flag(Flag),
}

/// A stretch of one wire that looks the same from end to end.
#[derive(Debug, Clone, PartialEq)]
pub struct WireRun {
    /// The points it runs through.
    pub points: Vec<Point>,
    /// Insulation; `None` when it is not recorded.
    pub colour: Option<WireColour>,
    /// Drawn width in millimetres.
    pub width_mm: f64,
    /// What is said about the stretch by its form.
    pub run: Run,
}

/// What a stretch of wire is drawn as.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Run {
    /// In full.
    Full,
    /// Out of sight: long dashes.
    Hidden,
    /// Taken for granted: short dashes.
    Assumed,
    /// Taken out of the machine.
    Ghost,
    /// A bar of bare metal.
    Bar,
}

impl Run {
    /// Lengths of stroke and gap in millimetres.
    pub fn dash_mm(self) -> Option<(f64, f64)> {
        match self {
            Self::Full | Self::Bar => None,
            Self::Hidden => Some((4.0, 2.5)),
            Self::Assumed => Some((1.8, 1.5)),
            Self::Ghost => Some((1.0, 1.6)),
        }
    }
}

/// Letters in a small frame.
#[derive(Debug, Clone, PartialEq)]
pub struct Flag {
    /// Its middle.
    pub at: Point,
    /// Form of the frame.
    pub form: FlagForm,
    /// The letters.
    pub text: String,
    /// Height of capitals in millimetres.
    pub size_mm: f64,
}

/// Form of a flag's frame.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum FlagForm {
    /// A marker on a wire.
    WireNumber,
    /// A finding that is a danger.
    Diamond,
    /// A finding that is a fault.
    Triangle,
    /// A finding that is a doubt.
    Circle,
    /// A finding that is a note.
    Square,
}

/// Which part of letters lies on their point.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub struct Anchor {
    /// -1: the left edge, 0: the middle, 1: the right edge.
    pub x: i8,
    /// -1: the top edge, 0: the middle, 1: the bottom edge.
    pub y: i8,
}

impl Anchor {
    /// The middle.
    pub const CENTRE: Self = Self { x: 0, y: 0 };
    /// Left edge, half-way up.
    pub const LEFT: Self = Self { x: -1, y: 0 };
    /// Right edge, half-way up.
    pub const RIGHT: Self = Self { x: 1, y: 0 };
}

/// When letters are left out because they would come out too small.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Priority {
    /// Kept longest.
    Tag,
    /// Markings, wire numbers.
    Marking,
    /// Titles and the like.
    Title,
}

/// Width of letters in capital heights; a fair mean for a plain face.
const LETTER_WIDTH: f64 = 0.85;

/// The rectangle letters take, in millimetres, from their number alone.
pub(super) fn text_area(at: Point, anchor: Anchor, size_mm: f64, text: &str) -> Area {
    let width = text.chars().count() as f64 * size_mm * LETTER_WIDTH;
    let left = at.x - width * (f64::from(anchor.x) + 1.0) / 2.0;
    let top = at.y - size_mm * (f64::from(anchor.y) + 1.0) / 2.0;
    Area { min: Point::new(left, top), max: Point::new(left + width, top + size_mm) }
}

impl Flag {
    /// The rectangle of the frame.
    pub fn area(&self) -> Area {
        let text = text_area(self.at, Anchor::CENTRE, self.size_mm, &self.text);
        match self.form {
            FlagForm::WireNumber => {
                let (x, y) = (self.size_mm * 0.45, self.size_mm * 0.4);
                Area { min: text.min.moved(-x, -y), max: text.max.moved(x, y) }
            }
            _ => Area { min: self.at, max: self.at }.grown(self.size_mm * 1.4),
        }
    }
}

impl Item {
    /// The rectangle the shape lies in; `None` when it has no point or one that is not finite.
    pub fn area(&self) -> Option<Area> {
        match &self.shape {
            Shape::Line { points, width_mm, .. } => Some(Area::round(points.iter().copied())?.grown(width_mm / 2.0)),
            Shape::Filled { points, .. } => Area::round(points.iter().copied()),
            Shape::Disc { at, radius_mm, .. } => Some(Area::round([*at])?.grown(*radius_mm)),
            Shape::Wire(run) => Some(Area::round(run.points.iter().copied())?.grown(run.width_mm)),
            Shape::Text { at, anchor, size_mm, text, .. } => {
                let area = text_area(*at, *anchor, *size_mm, text);
                Area::round([area.min, area.max])
            }
            Shape::Flag(flag) => {
                let area = flag.area();
                Area::round([area.min, area.max])
            }
        }
    }
}
