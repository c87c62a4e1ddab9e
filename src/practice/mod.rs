//! The practice bench: the program plays a hidden machine and its meter, so that finding out what is what can be learnt where
//! nothing can go wrong.
//!
//! A [`Hidden`] machine is a record with one whole answer to its mysteries, values of its own for every element, and now and then a fault
//! that nobody wrote down. The [`Bench`] shows what a technician's meter would show on it, refuses what must not be tried, and
//! keeps count; a [`Score`] lays that beside what the proposals of `identify` need on the same machine. Nothing here
//! changes a real record, and nothing that was practised is one.

mod bench;
mod display;
mod hidden;
mod score;

pub use bench::{Bench, Refusal, Request, Risk, Said, Taken, cautions};
pub use display::Shown;
pub use hidden::{Hidden, NothingHidden, as_found};
pub use score::{ByProposals, FaultJudged, MysteryJudged, Right, Score, faults};
