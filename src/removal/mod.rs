//! Taking dead wiring out, proved: what each wire and part is in every condition that can be reached, and in which order to take out
//! what may go.
//!
//! [`judge`] gives a verdict for each wire and part within a budget. What is in doubt in the record is never taken for granted: where
//! it could turn a verdict over, the verdict is 'cannot be said', with what is missing; where the budget runs out, 'not decided'.
//! Nothing here changes a record, measures time or decides for a person.

mod altered;
mod build;
mod cautions;
mod change;
mod compare;
mod doubts;
mod judge;
mod landings;
mod model;
mod parts;
mod plan;
mod prove;
mod relays;
mod rest;
mod sets;
mod state;
mod term;
mod touch;
mod tries;
mod verdict;
mod words;

pub use altered::{Altered, Of, altered};
pub use change::{Change, what_changes};
pub use compare::{Differences, compare};
pub use judge::judge;
pub use plan::{Step, going, mark_done, plan, waits_for};
pub use prove::Method;
pub use sets::Budget;
pub use verdict::{Judged, Proof, Verdict, Verdicts, Witness, counted};
