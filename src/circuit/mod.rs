//! What the record means electrically: networks, nets, relay action, what is live.
//!
//! A [`Network`] holds a record whatever its condition; a [`Frame`] puts it in one setting; [`settle_abstract`] finds where relays
//! come to rest. This room changes no record and judges nothing: findings do.
//!
//! There are two tiers. A [`Situation`] knows no impedance: a coil is worked when its two ends reach different potentials of live
//! sources with no load between, and what is live is told by ways alone; dangers rest on it, since it needs no values.
//! [`electric`] computes volts, amps and ohms with the solver in [`linear`]; readings rest on that.

mod blocks;
mod build;
mod carry;
pub mod electric;
mod excite;
mod frame;
pub mod linear;
mod nets;
mod network;
mod partition;
mod route;
mod settle;
mod situation;
mod steps;
mod supply;

pub use blocks::blocks;
pub use frame::{Frame, MATED};
pub use nets::{Net, Nets};
pub use network::{Conductor, Contact, Derived, Inside, Load, Network, Node, NodeInfo, Passive, Relay, Source, Works};
pub use partition::Partition;
pub use route::{Step, route};
pub use settle::{Bounds, Excitation, Outcome, Trit, Verdict, settle_abstract, settle_few};
pub use situation::{Hazard, Situation};
pub use steps::Steps;
pub use supply::{Difference, Potential, Supply};
