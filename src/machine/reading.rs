//! What was read with a meter, where, and in which condition.

use crate::quantity::Value;

use super::ids::{ConditionId, MeterId, VisitId};
use super::spot::Spot;

/// One reading. It stays in the log even when what it was taken on is gone.
#[derive(Debug, Clone, PartialEq)]
pub struct Reading {
    /// Name, unique among readings.
    pub name: String,
    /// Red probe, clamp, or the part looked at.
    pub red: Spot,
    /// Black probe; none for a clamp or a look.
    pub black: Option<Spot>,
    /// What was shown.
    pub value: Value,
    /// The condition it was taken in.
    pub condition: Option<ConditionId>,
    /// The meter.
    pub meter: Option<MeterId>,
    /// When, as `2026-03-02 10:15`.
    pub when: String,
    /// By whom.
    pub who: String,
    /// During which visit.
    pub visit: Option<VisitId>,
    /// Anything else.
    pub note: String,
}

/// What a meter is like. Values are its maker's; those not given stay empty and widen what is expected.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Meter {
    /// Name, unique among meters.
    pub name: String,
    /// It surely sounds below this many ohms.
    pub tone_below_ohms: Option<f64>,
    /// It is surely silent above this many ohms.
    pub silent_above_ohms: Option<f64>,
    /// Input resistance on volts, in ohms.
    pub input_ohms: Option<f64>,
    /// Input resistance in its low-impedance mode, in ohms.
    pub low_impedance_ohms: Option<f64>,
    /// Upper ends of the ohms ranges.
    pub ohm_ranges: Vec<f64>,
    /// Upper ends of the volts ranges.
    pub volt_ranges: Vec<f64>,
    /// Accuracy as a share of the reading, in per cent.
    pub percent: Option<f64>,
    /// Accuracy as counts of the last digit.
    pub digits: Option<f64>,
    /// Resistance of both leads together, in ohms.
    pub lead_ohms: Option<f64>,
    /// Measurement category as printed, for example `CAT III 600 V`.
    pub category: String,
}
