//! Wirewitness: records what a technician witnessed about a machine's wiring and computes the rest.
//!
//! The rooms are listed from what is known to who asks; a room imports only from those above it (DEVELOPERS.md).

pub mod quantity;
pub mod machine;
pub mod catalogue;
pub mod circuit;
pub mod identify;
pub mod removal;
pub mod findings;
pub mod tracing;
pub mod drawing;
pub mod ladder;
pub mod sheet;
pub mod store;
pub mod generate;
pub mod practice;
pub mod desk;
pub mod cli;
#[cfg(feature = "window")]
pub mod app;
