//! What the display of a meter shows of what is there.

use crate::circuit::electric::{Expectation, Expected, Profile, Runs, Why};
use crate::quantity::{Band, Function, Value};

/// Figures that the display has beyond the first of a range's upper end: 400.0 is shown in tenths.
const FIGURES: i32 = 3;
/// Values nearer than this share to each other are one on a display that settles.
const STEADY: f64 = 0.05;

/// What the technician sees.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Shown {
    /// A value that stands.
    Value(Value),
    /// It jumps about: relays chatter.
    Unsteady,
    /// A fuse or breaker goes before anything can be read: there is a short circuit in this condition.
    Trips,
    /// The record leaves out what would be needed to work it out.
    CannotSay(Why),
}

impl Shown {
    /// As a person reads it.
    pub fn words(self) -> String {
        match self {
            Self::Value(value) => value.to_string(),
            Self::Unsteady => "unstable: a relay chatters, and the display never comes to rest".to_owned(),
            Self::Trips => {
                "nothing: with the machine set so there is a short circuit, and the fuse or breaker goes at once"
                    .to_owned()
            }
            Self::CannotSay(why) => format!("the bench cannot say: {}", why.words()),
        }
    }

    /// The value, where one stands.
    pub fn value(self) -> Option<Value> {
        match self {
            Self::Value(value) => Some(value),
            _ => None,
        }
    }

    /// Whether the display could go from one to the other unseen.
    pub(super) fn is_about(self, other: Self) -> bool {
        let (Self::Value(one), Self::Value(two)) = (self, other) else { return self == other };
        match (one, two) {
            (Value::Ohms(a), Value::Ohms(b))
            | (Value::VoltsAc(a), Value::VoltsAc(b))
            | (Value::VoltsDc(a), Value::VoltsDc(b))
            | (Value::Amps(a), Value::Amps(b)) => (a - b).abs() <= STEADY * a.abs().max(b.abs()),
            _ => one == two,
        }
    }
}

/// What a definite machine shows. `level` from -0.5 to 0.5 says where in the meter's and the supply's tolerance it stands, `stray`
/// from 0 to 1 how much an open lead picks up.
pub(super) fn shown(expectation: &Expectation, function: Function, meter: &Profile, level: f64, stray: f64) -> Shown {
    let value = match expectation.expected {
        Expected::Tone => Value::Tone,
        // Ohms that lie just on the threshold.
        Expected::NoTone | Expected::EitherTone => Value::NoTone,
        Expected::OverLimit => Value::OverLimit,
        Expected::Value { nominal, .. } if function == Function::Ohms && nominal >= meter.most_ohms() => {
            Value::OverLimit
        }
        Expected::Value { nominal, shown } => {
            let leads = if function == Function::Ohms { meter.leads.low } else { 0.0 };
            number(function, meter, at(nominal + leads, shown, level))
        }
        Expected::Ghost { up_to } => number(function, meter, up_to * stray),
        // Nothing drives direct current from one to the other.
        Expected::Unknown(Why::Apart) if function == Function::VoltsDc => Value::VoltsDc(0.0),
        Expected::Unknown(Why::Short) => return Shown::Trips,
        Expected::Unknown(Why::Unsettled) => return Shown::Unsteady,
        Expected::Unknown(why) => return Shown::CannotSay(why),
        Expected::Load(Runs::Yes) | Expected::Acts(Runs::Yes) => Value::Runs,
        // One that gets too little hums, glows or turns slowly: it does not do its work.
        Expected::Load(Runs::No | Runs::Partly) | Expected::Acts(Runs::No | Runs::Partly) => Value::DoesNotRun,
        Expected::Load(Runs::Unknown) | Expected::Acts(Runs::Unknown) => return Shown::CannotSay(Why::Unrecorded),
        Expected::Danger { .. } => return Shown::CannotSay(Why::Senseless),
    };
    Shown::Value(value)
}

/// A value at this level between what is there and the end of what may be shown.
fn at(nominal: f64, shown: Band, level: f64) -> f64 {
    let end = if level < 0.0 { shown.low } else { shown.high };
    if end.is_finite() { nominal + (end - nominal) * level.abs() } else { nominal }
}

/// As the display writes it on the range it takes by itself.
fn number(function: Function, meter: &Profile, value: f64) -> Value {
    let clamp = [6.0, 60.0, 600.0];
    let ranges: &[f64] = match function {
        Function::Ohms | Function::Tone => &meter.ohm_ranges,
        Function::Amps => &clamp,
        _ => &meter.volt_ranges,
    };
    let top = ranges.iter().copied().find(|top| value.abs() < *top).or(ranges.last().copied()).unwrap_or(400.0);
    let size = rounded(value, top);
    match function {
        Function::Ohms | Function::Tone => Value::Ohms(size.max(0.0)),
        Function::VoltsAc | Function::Runs => Value::VoltsAc(size.abs()),
        Function::VoltsDc => Value::VoltsDc(size),
        Function::Amps => Value::Amps(size.abs()),
    }
}

/// To the last digit of a range that goes up to `top`.
fn rounded(value: f64, top: f64) -> f64 {
    let magnitude = top.max(1e-9).log10().floor().clamp(-9.0, 15.0);
    #[allow(clippy::cast_possible_truncation, reason = "a whole number between -9 and 15")]
    let places = FIGURES - magnitude as i32;
    let digit = 10_f64.powi(-places);
    let near = (value / digit).round() * digit;
    // Written out and read back, 24.6 is 24.6 and not 24.599999.
    let places = usize::try_from(places.max(0)).unwrap_or(0);
    let text = format!("{near:.places$}");
    let read = text.parse().unwrap_or(near);
    if read == 0.0 { 0.0 } else { read }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Principle: a display of 4000 to 6000 counts shows its highest range in steps of one thousandth of the leading decade (common
    /// practice, no source): 230.1 on 400, 24.57 on 40, 3.2 Ω on 400, 12.34 kΩ on 40 k.
    #[test]
    fn a_value_is_shown_in_the_digits_of_its_range() {
        let meter = Profile::default();
        let cases = [
            (Function::VoltsAc, 230.138, Value::VoltsAc(230.1)),
            (Function::VoltsAc, 24.567, Value::VoltsAc(24.57)),
            (Function::VoltsDc, -12.346, Value::VoltsDc(-12.35)),
            (Function::VoltsAc, 612.4, Value::VoltsAc(612.0)),
            (Function::Ohms, 3.218, Value::Ohms(3.2)),
            (Function::Ohms, 12_344.0, Value::Ohms(12_340.0)),
            (Function::Ohms, -0.01, Value::Ohms(0.0)),
            (Function::Amps, 1.8764, Value::Amps(1.876)),
        ];
        for (function, value, shown) in cases {
            assert_eq!(number(function, &meter, value), shown, "{value}");
        }
    }

    #[test]
    fn a_display_that_jumps_between_far_values_is_told_from_one_that_stands() {
        let volts = |value| Shown::Value(Value::VoltsAc(value));
        assert!(volts(230.0).is_about(volts(229.0)));
        assert!(!volts(230.0).is_about(volts(0.0)));
        assert!(!Shown::Value(Value::Runs).is_about(Shown::Value(Value::DoesNotRun)));
    }
}
