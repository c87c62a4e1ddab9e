//! Invented machines: any number of wires from a seed, for benchmarks, tests and practice.
//!
//! The same number of wires and the same seed give the same record for ever, so nothing here asks a clock or a library's
//! random numbers. The machines are half documented on purpose: most of a machine is as it should be, and some leads are
//! off, some numbers are missing, some readings speak against the drawing. Nothing here writes files.

mod branch;
mod builder;
mod conceal;
mod machine;
mod random;
mod rebuild;
mod retrofit;
mod wild;

pub use machine::{MOST_WIRES, invented_machine};
pub use random::Random;
pub use retrofit::{RETROFIT_MYSTERIES, RETROFIT_RELAYS, Retrofit, Size, Truth, retrofit};
pub use wild::wild_machine;
