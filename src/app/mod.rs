//! The window: draws what the desk holds and returns what a person asks for. The only room that names egui.
//!
//! Every draw function takes the state by reference and returns requests; `apply` alone carries them out. Nothing here
//! computes what a machine means, lays out the drawing or reads files.

mod action;
mod alterations;
mod apply;
mod arrange;
mod callouts;
mod candidates;
mod card;
mod canvas;
mod centre;
mod changes;
mod context;
mod dialogs;
mod fades;
mod file_bar;
mod files;
mod judge;
mod lists;
mod machines;
mod marks;
mod messages;
mod on_photo;
mod overlays;
mod panels;
mod paper;
mod prefs;
mod request;
mod run;
mod rungs;
mod scope;
mod selection;
mod shell;
mod shortcuts;
mod stage;
pub mod theme;
mod view;
mod widgets;
mod witness;

pub use action::{Action, Group};
pub use on_photo::{ColourOf, Doing, Ending, OnPhoto, PhotoRequest, Proposals, Trace};
pub use paper::{Opener, Out, PaperRequest, PaperView, Zoom};
pub use prefs::{PaperPrefs, Prefs};
pub use run::{RunError, run};
pub use selection::{Probe, Probes, Selection, is_present};
pub use shell::{Outside, Shell};
pub use stage::Stage;
pub use view::{FindingKey, Overlay, Sheets, View};
