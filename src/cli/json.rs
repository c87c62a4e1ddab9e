//! The form all JSON answers share.

use std::io::Write;

use serde::Serialize;

use crate::quantity::{Band, format_scaled};

use super::failure::Failure;

/// The format of the JSON answers. It goes up when a field changes its meaning or goes away, never for a new field.
const FORMAT: u32 = 1;

#[derive(Serialize)]
struct Answer<'a, T> {
    format: u32,
    #[serde(flatten)]
    answer: &'a T,
}

/// What cannot be known, with the reason.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Unknown {
    pub(super) unknown: &'static str,
}

/// Writes an answer with its format, indented, and a line end.
pub(super) fn write<T: Serialize>(answer: &T, out: &mut dyn Write) -> Result<(), Failure> {
    serde_json::to_writer_pretty(&mut *out, &Answer { format: FORMAT, answer })?;
    writeln!(out)?;
    Ok(())
}

/// A number, an interval, or why there is none.
#[derive(Debug, Clone, Serialize)]
#[serde(untagged)]
pub(super) enum Number {
    Value(f64),
    Interval(Band),
    /// This or more: an ohmmeter may show OL.
    AtLeast {
        low: f64,
        high: Option<f64>,
    },
    Unknown(Unknown),
}

impl Number {
    /// A band that is one value up to rounding is given as that value.
    pub(super) fn of(band: Option<Band>, why_not: &'static str) -> Self {
        match band {
            Some(Band { low, high }) if high - low <= 1e-9 * high.abs().max(low.abs()) => Self::Value(rounded(low)),
            Some(Band { low, high }) => Self::Interval(Band { low: rounded(low), high: rounded(high) }),
            None => Self::Unknown(Unknown { unknown: why_not }),
        }
    }

    /// For people, with a unit.
    pub(super) fn text(&self, unit: &str) -> String {
        match self {
            Self::Value(value) => format_scaled(*value, unit),
            Self::AtLeast { low, .. } => format!("{} or more, up to OL", format_scaled(*low, unit)),
            Self::Interval(band) => format!("{} to {}", format_scaled(band.low, unit), format_scaled(band.high, unit)),
            Self::Unknown(_) => "?".to_owned(),
        }
    }
}

/// To nine figures: what lies beyond is rounding of the sums, and would differ between machines.
pub(super) fn rounded(value: f64) -> f64 {
    if value == 0.0 || !value.is_finite() {
        return value;
    }
    // A number in this form always reads back.
    let text = format!("{value:.8e}");
    let read: f64 = text.parse().unwrap_or(value);
    if read.abs() < 1e-9 { 0.0 } else { read }
}
