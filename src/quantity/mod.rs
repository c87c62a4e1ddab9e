//! Quantities a technician writes and reads: volts, ohms, wire sizes, colours, meter values.
//!
//! This room knows nothing of machines. It must not read files, clocks or settings. Every value that leaves a parser
//! here is finite; missing and foreign units, and negative magnitudes other than temperatures, are refused with a sentence
//! that says what would be right.

mod band;
mod colour;
mod rating;
mod scaled;
mod value;
mod wire_size;

pub use band::Band;
pub use colour::{Colour, WireColour};
pub use rating::{Current, Rated, Rating, Ratings, Unit, parse_rated};
pub use scaled::{QuantityError, format_scaled, parse_scaled};
pub use value::{Function, Value};
pub use wire_size::{COPPER_OHM_METRE_20C, WireSize};
