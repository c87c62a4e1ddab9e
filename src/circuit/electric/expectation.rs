//! What is expected of a reading, how sure that is, and how a value read goes with it.

use crate::quantity::{Band, Function, Value, format_scaled};

use super::live::Runs;

/// Volts, ohms and amps below this are none to any meter here.
const LEAST_SHOWN: f64 = 1e-3;

/// Why there is no expected reading.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Why {
    /// Nothing that conducts joins the two points: volts between them are not determined.
    Apart,
    /// Relays do not come to one rest.
    Unsettled,
    /// A source is shorted, or sources are at odds.
    Short,
    /// Another wire runs beside this one, or sources stand side by side: the share of each is not determined.
    Shared,
    /// A source's volts are not recorded.
    Unrecorded,
    /// A rectifier makes something of alternating voltage there.
    Rectified,
    /// Two supplies whose phases to each other are not recorded lie between the points.
    Phases,
    /// Most of the ohms are those of a thing of which none are recorded, and none are typical.
    OhmsNotKnown,
    /// The equations give no answer that stands up.
    Unsolved,
    /// The function and the points do not go together.
    Senseless,
}

impl Why {
    /// As a sentence.
    pub fn words(self) -> &'static str {
        match self {
            Self::Apart => "nothing that conducts joins the two points, so the volts between them are not determined",
            Self::Unsettled => "how the relays come to rest in this condition could not be worked out",
            Self::Short => "the record shows a short circuit, or two sources at odds, in this condition",
            Self::Shared => "another wire runs beside this one; how they share the current is not determined",
            Self::Unrecorded => "a source that feeds this has no volts in the record",
            Self::Rectified => "a rectifier is at work here; what it makes of alternating voltage is not computed",
            Self::Phases => "two supplies lie between the points, and their phases to each other are not recorded",
            Self::OhmsNotKnown => {
                "the direct-current resistance of what lies between is not recorded; volts over amps do not give that of a coil or motor"
            }
            Self::Unsolved => "the circuit has no steady answer here",
            Self::Senseless => "this function does not go with these points",
        }
    }
}

/// What the meter would show.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Expected {
    /// It surely sounds.
    Tone,
    /// It surely does not.
    NoTone,
    /// It may sound or not: the ohms lie about its threshold.
    EitherTone,
    /// Beyond its range on ohms.
    OverLimit,
    /// A value in ohms, volts or amps.
    Value {
        /// With every element as recorded.
        nominal: f64,
        /// What may be shown over all tolerances and the meter's accuracy. An infinite upper end on ohms: may show OL.
        shown: Band,
    },
    /// An open conductor: whatever is shown up to here may be no more than a ghost.
    Ghost {
        /// Volts.
        up_to: f64,
    },
    /// What a load does.
    Load(Runs),
    /// Whether anything happens when a switch or an output is operated.
    Acts(Runs),
    /// There is no saying.
    Unknown(Why),
    /// Not to be taken: the record says that voltage is on.
    Danger {
        /// The highest volts on, where recorded.
        volts: Option<f64>,
    },
}

impl Expected {
    /// As a sentence's end: `24.6 V (21.3 V to 27.1 V)`.
    pub fn words(self, function: Function) -> String {
        let unit = match function {
            Function::VoltsAc | Function::VoltsDc => "V",
            Function::Amps => "A",
            Function::Tone | Function::Ohms | Function::Runs => "Ω",
        };
        // No meter shows less than this: it is rounding, or what stands for nothing.
        let scaled = |value: f64| format_scaled(if value.abs() < LEAST_SHOWN { 0.0 } else { value }, unit);
        match self {
            Self::Tone => "tone".to_owned(),
            Self::NoTone => "no tone".to_owned(),
            Self::EitherTone => "tone or no tone: the resistance lies about the meter's threshold".to_owned(),
            Self::OverLimit => "OL".to_owned(),
            Self::Value { nominal, shown } if shown.high.is_infinite() => {
                format!("{} ({} or more, up to OL)", scaled(nominal), scaled(shown.low))
            }
            Self::Value { nominal, shown } => {
                format!("{} ({} to {})", scaled(nominal), scaled(shown.low), scaled(shown.high))
            }
            Self::Ghost { up_to } => {
                format!(
                    "not determined: nothing joins the two; anything up to {} may be a ghost voltage",
                    scaled(up_to)
                )
            }
            Self::Load(Runs::Yes) => "runs".to_owned(),
            Self::Load(Runs::Partly) => "gets some voltage, not enough to do its work".to_owned(),
            Self::Load(Runs::No) => "does not run".to_owned(),
            Self::Load(Runs::Unknown) => "not known whether it runs".to_owned(),
            Self::Acts(Runs::Yes) => "it works: a relay moves, or a load starts or stops".to_owned(),
            Self::Acts(Runs::No) => "it does nothing".to_owned(),
            Self::Acts(_) => "not known whether it does anything".to_owned(),
            Self::Unknown(why) => format!("not known: {}", why.words()),
            Self::Danger { volts: Some(volts) } => {
                format!("DANGER: up to {} is on in this condition; do not try tone or ohms", format_scaled(volts, "V"))
            }
            Self::Danger { volts: None } => {
                "DANGER: a source is on in this condition; do not try tone or ohms".to_owned()
            }
        }
    }
}

/// What makes an expected reading less than sure.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Doubt {
    /// Something not known hangs on the circuit and could change the reading.
    UnknownPart,
    /// A diode has alternating voltage on it; what it makes of that is not computed.
    Rectified,
    /// A capacitor charges: the reading climbs before it holds.
    Charges,
    /// Values of elements are typical, not recorded.
    Typical,
    /// Values of elements are not known at all.
    Assumed,
    /// Relays race or chatter; the interval covers the ends looked at.
    Relays,
}

impl Doubt {
    /// As a sentence.
    pub fn words(self) -> &'static str {
        match self {
            Self::UnknownPart => "something not known hangs on this circuit and could change the reading",
            Self::Rectified => "a diode has alternating voltage on it; what it makes of that is not computed",
            Self::Charges => "a capacitor charges: the reading climbs before it holds",
            Self::Typical => "it rests on typical values, not on recorded ones",
            Self::Assumed => "it rests on values that are not known at all",
            Self::Relays => "relays race or chatter; the interval covers the ends looked at",
        }
    }
}

/// An expected reading with what makes it doubtful, in order.
#[derive(Debug, Clone, PartialEq)]
pub struct Expectation {
    /// What would be shown.
    pub expected: Expected,
    /// Without repeats.
    pub doubts: Vec<Doubt>,
}

/// How a reading and what was expected go together.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Agreement {
    /// It lies within.
    Agrees,
    /// It lies outside, and nothing unknown could excuse it.
    Disputes,
    /// Nothing can be said.
    CannotSay,
}

impl Expectation {
    pub(super) fn plain(expected: Expected) -> Self {
        Self { expected, doubts: Vec::new() }
    }

    /// Whether a reading that agrees with it can prove anything: not where it must not be taken, and not where something
    /// unknown, a diode or restless relays could be what was read.
    pub fn can_prove(&self) -> bool {
        let known = !matches!(self.expected, Expected::Danger { .. } | Expected::Unknown(_));
        let open = |doubt: &Doubt| matches!(doubt, Doubt::UnknownPart | Doubt::Rectified | Doubt::Relays);
        known && !self.doubts.iter().any(open)
    }

    /// Whether a value read goes with it. A reading of another function than asked says nothing.
    pub fn compare(&self, read: Value) -> Agreement {
        let outcome = |agrees| if agrees { Agreement::Agrees } else { Agreement::Disputes };
        let sure = match (self.expected, read) {
            (Expected::Tone, Value::Tone | Value::NoTone) => outcome(read == Value::Tone),
            (Expected::NoTone, Value::Tone | Value::NoTone) => outcome(read == Value::NoTone),
            (Expected::OverLimit, Value::OverLimit | Value::Ohms(_)) => outcome(read == Value::OverLimit),
            (Expected::Value { shown, .. }, Value::OverLimit) => outcome(shown.high.is_infinite()),
            (Expected::Value { shown, .. }, Value::Ohms(read) | Value::VoltsDc(read)) => outcome(shown.contains(read)),
            (Expected::Value { shown, .. }, Value::VoltsAc(read) | Value::Amps(read)) => {
                outcome(shown.contains(read.abs()))
            }
            (Expected::Ghost { up_to }, Value::VoltsAc(read)) if read.abs() > up_to => Agreement::Disputes,
            (Expected::Load(Runs::Yes) | Expected::Acts(Runs::Yes), Value::Runs | Value::DoesNotRun) => {
                outcome(read == Value::Runs)
            }
            (Expected::Load(Runs::No) | Expected::Acts(Runs::No), Value::Runs | Value::DoesNotRun) => {
                outcome(read == Value::DoesNotRun)
            }
            _ => Agreement::CannotSay,
        };
        let excused = self
            .doubts
            .iter()
            .any(|doubt| matches!(doubt, Doubt::UnknownPart | Doubt::Rectified | Doubt::Relays | Doubt::Assumed));
        if sure == Agreement::Disputes && excused { Agreement::CannotSay } else { sure }
    }
}
