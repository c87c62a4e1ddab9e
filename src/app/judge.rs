//! What the two probes would show by the record, in one line. The desk has computed it; here it is put in words.

use std::sync::Arc;

use crate::circuit::Hazard;
use crate::circuit::electric::{Agreement, Expectation, Expected};
use crate::desk::{Asked, Derived, Foreseen, Proves};
use crate::machine::{ConditionId, Machine, MeterId};
use crate::quantity::{Function, Value};

use super::selection::Probes;

/// What the record says about the two probes.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Judgement {
    /// Both probes are on conductors of the record.
    pub placed: bool,
    /// Whether they are joined by wire and closed contacts alone, in this condition. `None`: it cannot be said.
    pub joined: Option<bool>,
    /// The record says voltage can be present in this condition.
    pub voltage: bool,
    /// By the record that voltage is above the extra-low limits, or not recorded.
    pub above: bool,
    /// A condition is chosen.
    pub condition: bool,
    /// The condition says of every source whether it is on.
    pub sources_said: bool,
    /// What is expected between them, with what the value proves.
    pub foreseen: Option<Arc<Foreseen>>,
}

/// Volts below this are none to speak of: stray pick-up of an open meter (common practice, no source).
const FEW_VOLTS: f64 = 5.0;

/// At most so many connections are named in a line.
const MOST_NAMED: usize = 5;

/// What to do before a lead is lifted, up to its name.
pub const LIFT_FIRST: &str =
    "Switch off, lock, let capacitors discharge and verify absence of voltage; then lift and cap";

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

/// What the desk is asked to foresee for the probes as they are.
pub fn asked(
    probes: &Probes,
    condition: Option<ConditionId>,
    meter: Option<MeterId>,
    value: Option<Value>,
) -> Option<Asked> {
    let (red, black) = (probes.red.clone()?, probes.black.clone());
    Some(Asked { red, black, meter, value, condition: condition? })
}

impl Judgement {
    /// What the results say about the probes, for this meter.
    pub fn of(derived: &Derived, probes: &Probes, condition: Option<ConditionId>, meter: Option<MeterId>) -> Self {
        let electrical = derived.electrical.as_ref().filter(|_| derived.look.condition == condition);
        let both = probes.red.as_ref().zip(probes.black.as_ref());
        let goes_with = |seen: &&Arc<Foreseen>| {
            let asked = &seen.asked;
            Some(asked.condition) == condition
                && asked.meter == meter
                && Some(&asked.red) == probes.red.as_ref()
                && asked.black == probes.black
        };
        Self {
            placed: both.is_some(),
            condition: condition.is_some(),
            joined: electrical.zip(both).and_then(|(electrical, (red, black))| electrical.joined(red, black)),
            // Wherever the probes are: what is not known to be dead is taken for live.
            voltage: condition.is_some() && electrical.is_none_or(|electrical| electrical.hazard != Hazard::NoSource),
            above: condition.is_some() && electrical.is_none_or(|electrical| electrical.hazard == Hazard::Above),
            sources_said: electrical.is_some_and(|electrical| electrical.sources_said),
            foreseen: derived.foreseen.as_ref().filter(goes_with).cloned(),
        }
    }

    /// The one line of the reading bar: what this function and value prove, dispute or leave open.
    pub fn line(&self, machine: &Machine, function: Option<Function>, value: Option<Value>) -> (Says, String) {
        let function = value.map(Value::function).or(function);
        if self.voltage && function.is_some_and(Function::needs_dead) {
            return said(
                Says::Danger,
                "DANGER: by the record voltage can be present in this condition. Isolate and verify before a tone or ohms reading.",
            );
        }
        if !self.condition {
            return said(Says::Nothing, "Choose the condition first: a reading means something only in a condition.");
        }
        let one_place = matches!(function, Some(Function::Amps | Function::Runs)) && self.foreseen.is_some();
        if !self.placed && !one_place {
            return said(Says::Nothing, "Set the red and the black probe: point at a terminal and press 1, then 2.");
        }
        if let Some(Value::VoltsAc(volts) | Value::VoltsDc(volts)) = value
            && !self.voltage
            && volts.abs() > FEW_VOLTS
        {
            return said(
                Says::Danger,
                "DANGER: volts where the record has no source on. Take the machine for live; find what feeds it before anything is touched.",
            );
        }
        let limits = machine.facts.limits;
        let hurts = match value {
            Some(Value::VoltsAc(volts)) => volts.abs() > limits.extra_low_volts_ac,
            Some(Value::VoltsDc(volts)) => volts.abs() > limits.extra_low_volts_dc,
            _ => false,
        };
        if hurts && !self.above {
            return said(
                Says::Danger,
                "DANGER: above extra-low voltage where the record has no such source on. Take the machine for live at line voltage; stop, and find where it comes from.",
            );
        }
        // Before it is taken; what was read is held against the record all the same.
        if value.is_none() && !self.sources_said && function.is_none_or(Function::needs_dead) {
            return said(
                Says::Danger,
                "This condition does not say that every source is off: no tone or ohms until absence of voltage is verified.",
            );
        }
        match value {
            None => self.expects(function),
            Some(value) => self.compares(machine, value),
        }
    }

    /// What should be read, before anything is.
    fn expects(&self, function: Option<Function>) -> (Says, String) {
        let Some(foreseen) = &self.foreseen else { return self.joint() };
        let functions: &[Function] = match (&function, self.voltage) {
            (Some(function), _) => std::slice::from_ref(function),
            (None, true) => &[Function::VoltsAc, Function::VoltsDc],
            (None, false) => &[Function::Tone, Function::Ohms],
        };
        let mut parts = Vec::new();
        let mut doubt = None;
        for &function in functions {
            if let Some(expectation) = foreseen.of_function(function) {
                let kind = if functions.len() > 1 { format!("{} ", function.words()) } else { String::new() };
                parts.push(format!("{kind}{}", expectation.expected.words(function)));
                doubt = doubt.or(expectation.doubts.first());
            }
        }
        if parts.is_empty() {
            return said(Says::Nothing, "The record does not say what this would read here.");
        }
        let but = doubt.map(|doubt| format!("; but {}", doubt.words())).unwrap_or_default();
        (Says::Nothing, format!("Expected by the record: {}{but}.", parts.join("; ")))
    }

    /// The same where nothing but nets is known.
    fn joint(&self) -> (Says, String) {
        if self.voltage {
            return said(Says::Nothing, "Voltage can be present in this condition: read volts, no tone or ohms.");
        }
        said(
            Says::Nothing,
            match self.joined {
                Some(true) => "Expected by the record: tone, the probes are joined by wire, fuse or closed contact.",
                Some(false) => "Expected by the record: no joint by wire alone; a tone can still come through a load.",
                None => "The record does not say whether these are joined.",
            },
        )
    }

    /// A value held against what is expected.
    fn compares(&self, machine: &Machine, value: Value) -> (Says, String) {
        let function = value.function();
        let foreseen = self.foreseen.as_ref();
        let Some((foreseen, expectation)) = foreseen.and_then(|seen| Some((seen, seen.of_function(function)?))) else {
            return self.joint_compared(value);
        };
        let expected = expectation.expected.words(function);
        match expectation.compare(value) {
            Agreement::Disputes => (Says::Disputes, format!("Disputes the record, which expects {expected}.")),
            Agreement::CannotSay => (Says::Nothing, format!("Does not settle it. {}", open(expectation, &expected))),
            Agreement::Agrees => {
                let proof = match foreseen.asked.value {
                    Some(asked) if asked == value => proof(machine, foreseen.proves.as_ref()),
                    // A newer value than what was worked out: the next results say more.
                    _ => String::new(),
                };
                (Says::Agrees, format!("Agrees: expected {expected}.{proof}"))
            }
        }
    }

    /// The same where nothing but nets is known.
    fn joint_compared(&self, value: Value) -> (Says, String) {
        let (says, words) = match (value, self.joined) {
            (Value::Tone, Some(true)) => {
                (Says::Agrees, "Agrees: the record has these joined by wire, fuse or closed contact.")
            }
            (Value::Tone, Some(false)) => (
                Says::Nothing,
                "Does not settle it: the record has no joint by wire here, but a tone can come through a load or a winding.",
            ),
            (Value::NoTone | Value::OverLimit, Some(true)) => {
                (Says::Disputes, "Disputes the record, which has these joined by wire, fuse or closed contact.")
            }
            (Value::NoTone | Value::OverLimit, Some(false)) => {
                (Says::Agrees, "Agrees: the record has no joint by wire here.")
            }
            (Value::Tone | Value::NoTone | Value::OverLimit, None) => {
                (Says::Nothing, "The record does not say whether these are joined: this reading is kept for the log.")
            }
            _ => (Says::Nothing, "Kept in the log; what to expect here is not worked out."),
        };
        said(says, words)
    }
}

fn said(says: Says, words: &str) -> (Says, String) {
    (says, words.to_owned())
}

/// Why an expectation settles nothing.
fn open(expectation: &Expectation, expected: &str) -> String {
    match (expectation.doubts.first(), expectation.expected) {
        (_, Expected::Unknown(_) | Expected::Ghost { .. }) | (None, _) => format!("Expected: {expected}."),
        (Some(doubt), _) => format!("Expected {expected}; but {}.", doubt.words()),
    }
}

/// What a value that agrees proves, as more sentences.
fn proof(machine: &Machine, proves: Option<&Proves>) -> String {
    let Some(proves) = proves else { return " It proves nothing by itself.".to_owned() };
    let names = |names: &[String]| {
        let more = names.len().saturating_sub(MOST_NAMED);
        let named = names.iter().take(MOST_NAMED).cloned().collect::<Vec<_>>().join(", ");
        if more > 0 { format!("{named} and {more} more") } else { named }
    };
    let proven = (!proves.proves.is_empty()).then(|| format!(" It proves {}.", names(&proves.proves)));
    let same = (!proves.same_without.is_empty())
        .then(|| format!(" It would read the same without {}.", names(&proves.same_without)));
    let lift = proves.lift.as_ref().map(|lift| format!(" {LIFT_FIRST} {}: then it tells.", machine.spot_name(lift)));
    let all: Vec<String> = [proven, same, lift].into_iter().flatten().collect();
    if all.is_empty() { " It proves no connection.".to_owned() } else { all.concat() }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Probes on two places, as far as nets alone say.
    fn at(joined: Option<bool>, voltage: bool) -> Judgement {
        Judgement { placed: true, joined, voltage, above: voltage, condition: true, sources_said: true, foreseen: None }
    }

    #[test]
    fn tone_and_no_tone_are_held_against_the_record() {
        let joined = at(Some(true), false);
        let apart = at(Some(false), false);
        assert_eq!(joined.line(&Machine::default(), None, Some(Value::Tone)).0, Says::Agrees);
        assert_eq!(joined.line(&Machine::default(), None, Some(Value::NoTone)).0, Says::Disputes);
        assert_eq!(apart.line(&Machine::default(), None, Some(Value::NoTone)).0, Says::Agrees);
        let (says, words) = apart.line(&Machine::default(), None, Some(Value::Tone));
        assert_eq!(says, Says::Nothing, "a tone through a winding is no proof of a closed contact");
        assert!(words.contains("winding"));
    }

    #[test]
    fn volts_where_no_source_is_on_are_a_danger() {
        let isolated = at(Some(false), false);
        assert_eq!(isolated.line(&Machine::default(), None, Some(Value::VoltsAc(230.0))).0, Says::Danger);
        assert_eq!(isolated.line(&Machine::default(), None, Some(Value::VoltsDc(-24.0))).0, Says::Danger);
        assert_ne!(isolated.line(&Machine::default(), None, Some(Value::VoltsAc(0.2))).0, Says::Danger);
    }

    #[test]
    fn line_voltage_where_the_record_has_extra_low_is_a_danger() {
        let control = Judgement { above: false, ..at(Some(false), true) };
        assert_eq!(control.line(&Machine::default(), None, Some(Value::VoltsAc(230.0))).0, Says::Danger);
        assert_ne!(control.line(&Machine::default(), None, Some(Value::VoltsAc(24.0))).0, Says::Danger);
    }

    #[test]
    fn in_a_live_condition_no_tone_is_held_out() {
        let live = at(Some(true), true);
        assert!(!live.line(&Machine::default(), None, None).1.contains("Expected"));
    }

    #[test]
    fn ohms_where_voltage_can_be_is_warned_about_whatever_else_is_known() {
        let live = at(Some(true), true);
        for value in [Value::Tone, Value::NoTone, Value::Ohms(3.0), Value::OverLimit] {
            assert_eq!(live.line(&Machine::default(), None, Some(value)).0, Says::Danger, "{value}");
        }
        assert_eq!(live.line(&Machine::default(), Some(Function::Tone), None).0, Says::Danger);
        assert_ne!(live.line(&Machine::default(), Some(Function::VoltsAc), None).0, Says::Danger);
    }

    #[test]
    fn without_a_word_on_every_source_no_tone_is_held_out_before_it_is_read() {
        let unsaid = Judgement { sources_said: false, ..at(Some(true), false) };
        assert_eq!(unsaid.line(&Machine::default(), None, None).0, Says::Danger);
        assert_eq!(unsaid.line(&Machine::default(), None, Some(Value::Tone)).0, Says::Agrees);
        assert_ne!(unsaid.line(&Machine::default(), None, Some(Value::VoltsAc(0.1))).0, Says::Danger);
    }
}
