//! What the two probes would show by the record, in one line. The circuit room has computed it; here it is put in words.

use crate::circuit::Hazard;
use crate::desk::Derived;
use crate::machine::ConditionId;
use crate::quantity::{Function, Value};

use super::selection::Probes;

/// What the record says about the two probes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub struct Judgement {
    /// Both probes are on conductors of the record.
    pub placed: bool,
    /// Whether they are joined by wire and closed contacts alone, in this condition. `None`: it cannot be said.
    pub joined: Option<bool>,
    /// The record says voltage can be present in this condition.
    pub voltage: bool,
    /// A condition is chosen.
    pub condition: bool,
}

/// Volts below this are none to speak of: stray pick-up of an open meter (common practice, no source).
const FEW_VOLTS: f64 = 5.0;

/// How a line is meant.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Says {
    /// It warns.
    Danger,
    /// The reading disputes the record.
    Disputes,
    /// The reading agrees with the record.
    Agrees,
    /// It settles nothing, or nothing was read yet.
    Nothing,
}

impl Judgement {
    /// What the results say about the probes.
    pub fn of(derived: &Derived, probes: &Probes, condition: Option<ConditionId>) -> Self {
        let electrical = derived.electrical.as_ref().filter(|_| derived.condition == condition);
        let both = probes.red.as_ref().zip(probes.black.as_ref());
        Self {
            placed: both.is_some(),
            condition: condition.is_some(),
            joined: electrical.zip(both).and_then(|(electrical, (red, black))| electrical.joined(red, black)),
            // Wherever the probes are: what is not known to be dead is taken for live.
            voltage: condition.is_some() && electrical.is_none_or(|electrical| electrical.hazard != Hazard::NoSource),
        }
    }

    /// The one line of the reading bar: what this function and value prove, dispute or leave open.
    pub fn line(self, function: Option<Function>, value: Option<Value>) -> (Says, &'static str) {
        let function = value.map(Value::function).or(function);
        if self.voltage && function.is_some_and(Function::needs_dead) {
            return (
                Says::Danger,
                "DANGER: by the record voltage can be present in this condition. Isolate and verify before a tone or ohms reading.",
            );
        }
        if !self.condition {
            return (Says::Nothing, "Choose the condition first: a reading means something only in a condition.");
        }
        if !self.placed {
            return (Says::Nothing, "Set the red and the black probe: point at a terminal and press 1, then 2.");
        }
        if let Some(Value::VoltsAc(volts) | Value::VoltsDc(volts)) = value
            && !self.voltage
            && volts.abs() > FEW_VOLTS
        {
            return (
                Says::Danger,
                "DANGER: volts where the record has no source on. Take the machine for live; find what feeds it before anything is touched.",
            );
        }
        if self.voltage && value.is_none() {
            return (Says::Nothing, "Voltage can be present in this condition: read volts, no tone or ohms.");
        }
        match (value, self.joined) {
            (None, Some(true)) => {
                (Says::Nothing, "Expected by the record: tone, the probes are joined by wire, fuse or closed contact.")
            }
            (None, Some(false)) => {
                (Says::Nothing, "Expected by the record: no joint by wire alone; a tone can still come through a load.")
            }
            (None, None) => (Says::Nothing, "The record does not say whether these are joined."),
            (Some(Value::Tone), Some(true)) => {
                (Says::Agrees, "Agrees: the record has these joined by wire, fuse or closed contact.")
            }
            (Some(Value::Tone), Some(false)) => (
                Says::Nothing,
                "Does not settle it: the record has no joint by wire here, but a tone can come through a load or a winding.",
            ),
            (Some(Value::NoTone | Value::OverLimit), Some(true)) => {
                (Says::Disputes, "Disputes the record, which has these joined by wire, fuse or closed contact.")
            }
            (Some(Value::NoTone | Value::OverLimit), Some(false)) => {
                (Says::Agrees, "Agrees: the record has no joint by wire here.")
            }
            (Some(Value::Tone | Value::NoTone | Value::OverLimit), None) => {
                (Says::Nothing, "The record does not say whether these are joined: this reading is kept for the log.")
            }
            (Some(_), _) => (Says::Nothing, "Kept in the log; expected values are not computed for this function."),
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn tone_and_no_tone_are_held_against_the_record() {
        let joined = Judgement { placed: true, joined: Some(true), voltage: false, condition: true };
        let apart = Judgement { joined: Some(false), ..joined };
        assert_eq!(joined.line(None, Some(Value::Tone)).0, Says::Agrees);
        assert_eq!(joined.line(None, Some(Value::NoTone)).0, Says::Disputes);
        assert_eq!(apart.line(None, Some(Value::NoTone)).0, Says::Agrees);
        let (says, words) = apart.line(None, Some(Value::Tone));
        assert_eq!(says, Says::Nothing, "a tone through a winding is no proof of a closed contact");
        assert!(words.contains("winding"));
    }

    #[test]
    fn volts_where_no_source_is_on_are_a_danger() {
        let isolated = Judgement { placed: true, joined: Some(false), voltage: false, condition: true };
        assert_eq!(isolated.line(None, Some(Value::VoltsAc(230.0))).0, Says::Danger);
        assert_eq!(isolated.line(None, Some(Value::VoltsDc(-24.0))).0, Says::Danger);
        assert_ne!(isolated.line(None, Some(Value::VoltsAc(0.2))).0, Says::Danger);
    }

    #[test]
    fn in_a_live_condition_no_tone_is_held_out() {
        let live = Judgement { placed: true, joined: Some(true), voltage: true, condition: true };
        assert!(!live.line(None, None).1.contains("Expected"));
    }

    #[test]
    fn ohms_where_voltage_can_be_is_warned_about_whatever_else_is_known() {
        let live = Judgement { placed: true, joined: Some(true), voltage: true, condition: true };
        for value in [Value::Tone, Value::NoTone, Value::Ohms(3.0), Value::OverLimit] {
            assert_eq!(live.line(None, Some(value)).0, Says::Danger, "{value}");
        }
        assert_eq!(live.line(Some(Function::Tone), None).0, Says::Danger);
        assert_ne!(live.line(Some(Function::VoltsAc), None).0, Says::Danger);
    }
}
