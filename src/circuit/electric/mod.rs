//! What a real meter would read: volts, amps and ohms of a network in one setting.
//!
//! The tier with impedances. [`Elements`] holds what each element is worth and how well that is known; [`State`] solves one
//! state of the relays; [`Live`] settles them by voltage; [`expected`] says what a meter between two points would show.

mod expect;
mod expectation;
mod explain;
mod flaws;
mod judged;
mod live;
mod name;
mod profile;
mod relays;
mod stamp;
mod standings;
mod state;
mod worth;

pub use expect::{Ask, Points, dead_circuit, dead_shown, expected};
pub use expectation::{Agreement, Doubt, Expectation, Expected, Why};
pub use explain::{Explained, Proof, Way, proof_dead, proof_live};
pub use flaws::Flaw;
pub use judged::{Judged, Judgement, Standing, ask, ask_at, proof_of, value_expected, wire_index};
pub use live::{Gets, Live, MOST_NODES_SOLVED, Runs, Told};
pub use profile::Profile;
pub use relays::{ByVolts, Known, Thresholds, Willing, coil_volts, thresholds};
pub use stamp::{Conversion, Elements, Flow, Stamp, What};
pub use standings::{proven_ends, with_standings};
pub use state::{Attached, Solved, State};
pub use worth::{Basis, Consumer, Corner, Dipole, Worth};
