//! The program without a face: the record with its history, results derived from it, work beside the window.
//!
//! Whoever shows the record (window, tests) calls [`Desk::apply`] with edits, draws from [`Desk::machine`] and
//! [`Desk::derived`], and collects [`Event`]s with [`Desk::poll`]. Nothing here blocks for longer than a map lookup; no
//! clock, environment or user folder is read: time and folders are passed in.

mod autosave;
mod compared;
mod compute;
mod derived;
mod electrical;
mod files;
mod following;
mod foreseen;
mod history;
mod identified;
mod jobs;
mod paper;
mod photos;
mod pictures;
mod practice;
mod removal;
mod session;
mod shop;
mod visits;

#[cfg(test)]
mod tests;

pub use autosave::Recovery;
pub use compared::{Compared, CopyOf};
pub use derived::{Derived, Look, Standings, Stands};
pub use electrical::{Electrical, LoadState, PlaceVolts, RelayState};
pub use following::{Follow, Followed, WireProposed};
pub use foreseen::{Asked, Foreseen, Proves, Way};
pub use history::History;
pub use identified::Identified;
pub use jobs::{Event, Job, JobId};
pub use paper::{
    Format, GoOn, HAS_PAPER, LaidPages, ListFile, NO_PAPER, PageForm, PagePicture, PagesState, PaperOrder, PictureForm,
    Print, PrintedPages, Section, Subject, ToWrite, Written, list_file, write_pages,
};
pub use photos::Coming;
pub use practice::Practice;
pub use removal::Removal;
pub use session::{Desk, Folders};
pub use shop::{Found, Miniature, Shop, ShopMachine, shop};
