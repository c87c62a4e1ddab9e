//! How likely a reading is when something holds: the meter's tolerance, and a small odds of a mistaken reading.

use crate::circuit::electric::{Doubt, Expectation, Expected, Runs};
use crate::quantity::{Band, Value};

/// Readings that are mistaken: a probe on the wrong terminal, a bad contact of a clip, a slip of the pen (common practice, no
/// source).
const MISTAKEN: f64 = 0.02;
/// What a display can show, in steps that tell: about one per cent each, over all its ranges.
const STEPS: f64 = 1500.0;
/// How much less likely a value in the widest band is than in the narrowest.
const WIDEST: f64 = 5.0;
/// How much of an expectation still counts when something unknown could change it.
const DOUBTED: f64 = 0.5;

/// How likely a mistaken reading, or a record that is wrong altogether, shows just this.
pub fn blunder(read: Value) -> f64 {
    match read {
        Value::Tone | Value::NoTone | Value::Runs | Value::DoesNotRun => 0.5,
        // OL is shown far more often than any one value.
        Value::OverLimit => 0.3,
        _ => 1.0 / STEPS,
    }
}

/// How likely this is read where that is expected; above 0.
pub fn likelihood(expectation: &Expectation, read: Value) -> f64 {
    let any = blunder(read);
    let model = model(expectation.expected, read).unwrap_or(any);
    let open = |doubt: &Doubt| matches!(doubt, Doubt::UnknownPart | Doubt::Rectified | Doubt::Relays);
    let model = if expectation.doubts.iter().any(open) { DOUBTED * model + (1.0 - DOUBTED) * any } else { model };
    (1.0 - MISTAKEN) * model + MISTAKEN * any
}

/// The same of a meter and a person that make no mistakes. `None` where the expectation says nothing of such a reading.
fn model(expected: Expected, read: Value) -> Option<f64> {
    let sure = |yes: bool| Some(if yes { 1.0 } else { 0.0 });
    match (expected, read) {
        (Expected::Tone, Value::Tone | Value::NoTone) => sure(read == Value::Tone),
        (Expected::NoTone, Value::Tone | Value::NoTone) => sure(read == Value::NoTone),
        (Expected::OverLimit, Value::OverLimit | Value::Ohms(_)) => sure(read == Value::OverLimit),
        (Expected::Value { shown, .. }, Value::OverLimit) => Some(if shown.high.is_infinite() { 0.5 } else { 0.0 }),
        (Expected::Value { shown, .. }, Value::Ohms(value) | Value::VoltsDc(value)) => Some(within(shown, value)),
        (Expected::Value { shown, .. }, Value::VoltsAc(value) | Value::Amps(value)) => Some(within(shown, value.abs())),
        (Expected::Ghost { up_to }, Value::VoltsAc(value)) => Some(within(Band::new(0.0, up_to), value.abs())),
        (Expected::Load(Runs::Yes) | Expected::Acts(Runs::Yes), Value::Runs | Value::DoesNotRun) => {
            sure(read == Value::Runs)
        }
        (Expected::Load(Runs::No) | Expected::Acts(Runs::No), Value::Runs | Value::DoesNotRun) => {
            sure(read == Value::DoesNotRun)
        }
        // A motor that gets too little may hum or turn slowly.
        (Expected::Load(Runs::Partly), Value::Runs | Value::DoesNotRun) => {
            Some(if read == Value::DoesNotRun { 0.7 } else { 0.3 })
        }
        _ => None,
    }
}

/// One of the steps of the display that lie in this band; at most so much less likely in a wide band than in a narrow one, since a value that
/// two answers allow is never strong evidence for the one that is known better.
fn within(band: Band, value: f64) -> f64 {
    if !band.contains(value) {
        return 0.0;
    }
    let high = if band.high.is_finite() { band.high } else { band.low.abs().max(1.0) * 1000.0 };
    let step = (0.01 * high.abs().max(band.low.abs())).max(0.1);
    1.0 / ((high - band.low) / step).clamp(1.0, WIDEST)
}
