//! Kinds of part: what terminals they have, what is inside, how they are drawn. Data, not code.
//!
//! The kinds come from `assets/parts/*.ron`, built into the program, and from a user's own file of the same form. A
//! mistake in a file is reported with file, line and column. [`Catalogue::body`] joins a kind with
//! what one part of a record says itself (positions, pins, markings): the one answer to "which terminals and inner elements
//! does this part have" that files, circuit and drawing all ask for.

mod body;
mod check;
mod check_drawing;
mod element;
mod kind;
mod library;
mod outline;
pub mod ron_text;
mod symbol;
#[cfg(test)]
mod tests;

pub use body::{Body, BodyTerminal, MOST_POSITIONS};
pub use element::{Driver, Element, Form, LoadKind};
pub use kind::{Family, Kind, Letters, Repeat, SwitchSpec, TerminalSpec, Typical};
pub use library::{Catalogue, CatalogueError};
pub use outline::{Bounds, bounds};
pub use ron_text::FileError;
pub use symbol::{Glyph, Stroke, Style, Symbol};
