//! An interval of plain numbers in SI units.

use serde::{Deserialize, Serialize};

/// A closed interval `low ..= high`, in whatever SI unit the holder names.
#[derive(Debug, Clone, Copy, PartialEq, Serialize, Deserialize)]
pub struct Band {
    /// Lower end, at most `high`.
    pub low: f64,
    /// Upper end.
    pub high: f64,
}

impl Band {
    /// The interval between two numbers in either order.
    pub fn new(a: f64, b: f64) -> Self {
        Self { low: a.min(b), high: a.max(b) }
    }

    /// Whether a value lies inside, ends included.
    pub fn contains(&self, value: f64) -> bool {
        self.low <= value && value <= self.high
    }
}
