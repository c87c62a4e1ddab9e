//! What a meter is like, with everyday values where its record leaves them out.

use crate::machine::Meter;
use crate::quantity::{Band, Function};

/// A meter, complete.
#[derive(Debug, Clone, PartialEq)]
pub struct Profile {
    /// Name; empty for the everyday meter.
    pub name: String,
    /// It surely sounds below the lower end and is surely silent above the upper, in ohms.
    pub tone: Band,
    /// Input resistance on volts, in ohms.
    pub input_ohms: f64,
    /// Input resistance in its low-impedance mode, in ohms.
    pub low_impedance_ohms: f64,
    /// Input capacitance on volts, in farads.
    pub input_farads: f64,
    /// Upper ends of the ohms ranges, ascending.
    pub ohm_ranges: Vec<f64>,
    /// Upper ends of the volts ranges, ascending.
    pub volt_ranges: Vec<f64>,
    /// Accuracy as a share of the reading (0.01 is 1 %).
    pub share: f64,
    /// Accuracy as counts of the last digit.
    pub digits: f64,
    /// Resistance of both leads together, in ohms.
    pub leads: Band,
}

/// Counts of a display: what the last digit of a range is worth. Everyday meters have 4000 to 6000 (common practice, no source).
const COUNTS: f64 = 4000.0;

impl Default for Profile {
    /// The everyday meter. Sounder below 20 to 50 Ω (from memory; manuals name 50 Ω), 10 MΩ on volts, about 3 kΩ in
    /// low-impedance mode and leads of 0.2 to 0.5 Ω (manuals in the trade), 1 % and 3 digits (from memory), 100 pF.
    fn default() -> Self {
        Self {
            name: String::new(),
            tone: Band::new(20.0, 50.0),
            input_ohms: 10e6,
            low_impedance_ohms: 3e3,
            input_farads: 100e-12,
            ohm_ranges: vec![400.0, 4e3, 40e3, 400e3, 4e6, 40e6],
            volt_ranges: vec![4.0, 40.0, 400.0, 1000.0],
            share: 0.01,
            digits: 3.0,
            leads: Band::new(0.2, 0.5),
        }
    }
}

impl Profile {
    /// A recorded meter, completed by the everyday one.
    pub fn of(meter: &Meter) -> Self {
        let everyday = Self::default();
        let low = meter.tone_below_ohms.unwrap_or(everyday.tone.low);
        let high = meter.silent_above_ohms.unwrap_or(everyday.tone.high);
        let ranges = |recorded: &[f64], everyday: Vec<f64>| {
            let mut ranges: Vec<f64> = recorded.iter().copied().filter(|top| top.is_finite() && *top > 0.0).collect();
            ranges.sort_by(f64::total_cmp);
            if ranges.is_empty() { everyday } else { ranges }
        };
        // A voltmeter without resistance would short what it measures: that is no meter's.
        let above_zero = |recorded: Option<f64>, everyday: f64| recorded.filter(|ohms| *ohms > 0.0).unwrap_or(everyday);
        Self {
            name: meter.name.clone(),
            tone: Band::new(low, high.max(low)),
            input_ohms: above_zero(meter.input_ohms, everyday.input_ohms),
            low_impedance_ohms: above_zero(meter.low_impedance_ohms, everyday.low_impedance_ohms),
            input_farads: everyday.input_farads,
            ohm_ranges: ranges(&meter.ohm_ranges, everyday.ohm_ranges),
            volt_ranges: ranges(&meter.volt_ranges, everyday.volt_ranges),
            share: meter.percent.map_or(everyday.share, |percent| percent / 100.0),
            digits: meter.digits.unwrap_or(everyday.digits),
            leads: meter.lead_ohms.map_or(everyday.leads, |ohms| Band::new(ohms, ohms)),
        }
    }

    /// The highest ohms it can show.
    pub fn most_ohms(&self) -> f64 {
        self.ohm_ranges.last().copied().unwrap_or(f64::INFINITY)
    }

    /// What it may show for values in this band: its accuracy on top at either end.
    pub fn shown(&self, band: Band, function: Function) -> Band {
        let ranges = match function {
            Function::Ohms | Function::Tone => &self.ohm_ranges,
            _ => &self.volt_ranges,
        };
        let off = |value: f64| {
            let size = value.abs();
            let top = ranges.iter().copied().find(|top| size < *top).or(ranges.last().copied()).unwrap_or(size);
            size * self.share + self.digits * top / COUNTS
        };
        Band::new(band.low - off(band.low), band.high + off(band.high))
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// ±(1 % + 2) at 100.0 V shows 98.8 to 101.2 V (a manual in the trade), on a range of 400.0 V in 4000 counts.
    #[test]
    fn one_per_cent_and_two_digits_at_a_hundred_volts() {
        let meter = Profile { share: 0.01, digits: 2.0, ..Profile::default() };
        let shown = meter.shown(Band::new(100.0, 100.0), Function::VoltsAc);
        assert!((shown.low - 98.8).abs() < 1e-9 && (shown.high - 101.2).abs() < 1e-9, "{shown:?}");
    }
}
