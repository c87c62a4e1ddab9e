//! The window: draws what the desk holds and returns what a person asks for. The only room that names egui.
//!
//! Every draw function takes the state by reference and returns requests; `apply` alone carries them out. Nothing here
//! computes what a machine means, lays out the drawing or reads files.

mod action;
mod selection;
mod stage;
pub mod theme;

pub use action::{Action, Group};
pub use selection::{Probe, Probes, Selection, is_present};
pub use stage::Stage;
