//! What is what: mysteries of a record weighed by its readings, faults that would explain them, and the next best reading.
//!
//! Hypotheses are whole answers: where each unknown end goes, which form a contact has, what is faulty. Each reading weighs
//! each of them by what the circuit would show there, with the meter's tolerance and a small odds of a mistaken reading, so
//! that no single wrong reading deletes the truth. Beside them stands 'none of these', which rises when the record itself must be
//! wrong. The next reading is sought over the answers that are left.

mod account;
mod belief;
mod borne_out;
mod contexts;
mod elsewhere;
mod faults;
mod hypothesis;
mod log;
mod offered;
mod open;
mod places;
mod proposal;
mod propose;
mod reasoned;
mod risk;
mod screen;
mod seek;
mod sequence;
mod shown;
mod ties;
mod weigh;
mod world;

pub use account::{Account, CandidateOdds, Context, Hypothesis, MysteryOdds, PROVEN, SETTLED};
pub use belief::{Belief, entropy_bits, in_words};
pub use hypothesis::{Answers, Group, groups};
pub use offered::{Offer, offered};
pub use proposal::{Meaning, Proposal, in_order};
pub use propose::{Asked, Next, proposals};
pub use reasoned::{FaultOdds, Reasoned};
pub use risk::Risk;
pub use sequence::{Plan, Problem, Test, by_rollout, optimal};
pub use weigh::{blunder, likelihood};
pub use world::{Flaw, Place, World, flaws_of};
