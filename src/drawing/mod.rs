//! The drawing in canvas millimetres, laid out once for screen and paper, without any knowledge of a window.
//!
//! [`lay_out`] turns a record into a [`Scene`]: pieces (a part, a wire, a photo), each with the shapes that are drawn and
//! the targets that can be pointed at. Shapes carry an [`Ink`], a colour by its meaning; [`style`] holds the tables that
//! give each ink its colour. Nothing here changes the record, and nothing here is called while a frame is drawn.

mod area;
mod diagram;
mod ends;
mod flags;
mod grid;
mod hops;
mod ink;
mod labels;
mod path;
mod pick;
mod scene;
mod shape;
pub mod style;
mod svg;
mod symbols;
mod wires;

pub use area::Area;
pub use diagram::{Diagram, lay_out, style_of};
pub use flags::{FLAG_MM, Mark, PlacedFlag, placed_flags};
pub use ink::{Ink, NetTint};
pub use path::Path;
pub use pick::{Handle, Target, TargetPlace};
pub use scene::{Layer, Piece, PlainWire, Scene};
pub use shape::{Anchor, Flag, FlagForm, Item, Priority, Run, Shape, WireRun};
pub use svg::svg;
pub use symbols::{PartDrawing, TerminalPlace, part_drawing};
pub use wires::wire_width_mm;
