//! Taking dead wiring out, proved: what each wire and part is in every condition that can be reached, and in which order to take out
//! what may go.
//!
//! [`judge`] gives a verdict for each wire and part within a budget. What is in doubt in the record is never taken for granted: where
//! it could turn a verdict over, the verdict is 'cannot be said', with what is missing; where the budget runs out, 'not decided'.
//! Nothing here changes a record, measures time or decides for a person.

mod build;
mod cautions;
mod judge;
mod landings;
mod model;
mod prove;
mod relays;
mod sets;
mod state;
mod term;
mod tries;
mod verdict;
mod words;

pub use judge::judge;
pub use prove::Method;
pub use sets::Budget;
pub use verdict::{Judged, Proof, Verdict, Verdicts, Witness};
