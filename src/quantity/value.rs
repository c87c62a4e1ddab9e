//! What a meter showed, as a technician writes it: `tone`, `OL`, `4.7k`, `24.6 VAC`, `1.9 A`.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::scaled::{QuantityError, format_scaled, parse_scaled, split_number, with_unit};

/// What the meter was set to.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "kebab-case")]
pub enum Function {
    /// Continuity with a sound.
    Tone,
    /// Resistance.
    Ohms,
    /// Alternating voltage.
    VoltsAc,
    /// Direct voltage.
    VoltsDc,
    /// Current, by clamp or in series.
    Amps,
    /// No meter: whether the thing runs.
    Runs,
}

impl Function {
    /// Every function, in the order a dial would have them.
    pub const ALL: [Self; 6] = [Self::Tone, Self::Ohms, Self::VoltsAc, Self::VoltsDc, Self::Amps, Self::Runs];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Tone => "tone",
            Self::Ohms => "ohms",
            Self::VoltsAc => "volts AC",
            Self::VoltsDc => "volts DC",
            Self::Amps => "amps",
            Self::Runs => "runs",
        }
    }

    /// Whether the meter puts its own test current on, and so must meet no voltage.
    pub fn needs_dead(self) -> bool {
        matches!(self, Self::Tone | Self::Ohms)
    }
}

/// The value of a reading, with the function it implies.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Value {
    /// The continuity sounder sounded.
    Tone,
    /// It did not.
    NoTone,
    /// Beyond the range, on ohms.
    OverLimit,
    /// Ohms.
    Ohms(f64),
    /// Volts AC, root mean square.
    VoltsAc(f64),
    /// Volts DC, red against black.
    VoltsDc(f64),
    /// Amps.
    Amps(f64),
    /// The load runs.
    Runs,
    /// The load does not run.
    DoesNotRun,
}

impl Value {
    /// The function the value implies.
    pub fn function(self) -> Function {
        match self {
            Self::Tone | Self::NoTone => Function::Tone,
            Self::OverLimit | Self::Ohms(_) => Function::Ohms,
            Self::VoltsAc(_) => Function::VoltsAc,
            Self::VoltsDc(_) => Function::VoltsDc,
            Self::Amps(_) => Function::Amps,
            Self::Runs | Self::DoesNotRun => Function::Runs,
        }
    }

    /// Reads an entry that may lack its unit: with the meter on volts AC, `24.6` is 24.6 V AC and `350m` 0.35 V AC.
    ///
    /// # Errors
    /// A sentence that shows the accepted forms.
    pub fn parse_with(text: &str, function: Option<Function>) -> Result<Self, QuantityError> {
        let bare = text.trim();
        if matches!(function, Some(Function::VoltsAc | Function::VoltsDc | Function::Amps))
            && bare.parse() == Ok(Self::OverLimit)
        {
            return Err(QuantityError(
                "OL on volts or amps means beyond the range, not open: choose a higher range, or a meter made for it"
                    .to_owned(),
            ));
        }
        let unit = match function {
            Some(Function::VoltsAc) => "VAC",
            Some(Function::VoltsDc) => "VDC",
            Some(Function::Amps) => "A",
            Some(Function::Tone | Function::Ohms | Function::Runs) | None => return bare.parse(),
        };
        // What is no number at all (`tone`, `runs`) says its function itself.
        with_unit(bare, unit).as_deref().unwrap_or(bare).parse()
    }
}

impl FromStr for Value {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let bare = text.trim();
        let lower = bare.to_lowercase();
        match lower.as_str() {
            "tone" => return Ok(Self::Tone),
            "no tone" | "notone" | "no-tone" => return Ok(Self::NoTone),
            "ol" | "o.l." | "o.l" | "over limit" => return Ok(Self::OverLimit),
            "runs" => return Ok(Self::Runs),
            "does not run" | "doesn't run" => return Ok(Self::DoesNotRun),
            _ => {}
        }
        let (number, unit) = split_number(bare).map_err(|_| {
            QuantityError(format!(
                "'{bare}' is no reading; write tone, no tone, OL, 4.7k, 24.6 VAC, 12 VDC, 1.9 A, runs or does not run"
            ))
        })?;
        let compact: String = unit.chars().filter(|c| !c.is_whitespace()).collect();
        let upper = compact.to_uppercase();
        if let Some(prefix) = upper.strip_suffix("VAC") {
            let scale = &compact[..prefix.len()];
            return parse_scaled(&format!("{number}{scale}V"), &["V"]).map(Self::VoltsAc);
        }
        if let Some(prefix) = upper.strip_suffix("VDC") {
            let scale = &compact[..prefix.len()];
            let size = parse_scaled(&format!("{}{scale}V", number.abs()), &["V"])?;
            return Ok(Self::VoltsDc(size.copysign(number)));
        }
        if upper.ends_with('V') {
            return Err(QuantityError(format!(
                "'{bare}' does not say AC or DC; write '{number} VAC' or '{number} VDC'"
            )));
        }
        if compact.ends_with('A') {
            return parse_scaled(&format!("{number}{compact}"), &["A"]).map(Self::Amps);
        }
        // The one place where the unit may be left out: a meter on ohms, as technicians write it (`3.2`, `4.7k`).
        let ohms = with_unit(&format!("{number}{compact}"), "Ω")?;
        parse_scaled(&ohms, &["Ω", "\u{2126}", "ohm", "ohms", "R"]).map(Self::Ohms)
    }
}

impl fmt::Display for Value {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self {
            Self::Tone => f.write_str("tone"),
            Self::NoTone => f.write_str("no tone"),
            Self::OverLimit => f.write_str("OL"),
            Self::Ohms(value) => f.write_str(&kept(*value, "Ω")),
            Self::VoltsAc(value) => write!(f, "{}AC", kept(*value, "V")),
            Self::VoltsDc(value) => write!(f, "{}DC", kept(*value, "V")),
            Self::Amps(value) => f.write_str(&kept(*value, "A")),
            Self::Runs => f.write_str("runs"),
            Self::DoesNotRun => f.write_str("does not run"),
        }
    }
}

/// The scaled form where it reads back to the same number, else every digit.
fn kept(value: f64, unit: &str) -> String {
    let short = format_scaled(value, unit);
    if parse_scaled(&short, &[unit]) == Ok(value) { short } else { format!("{value} {unit}") }
}

impl Serialize for Value {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for Value {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn entries_are_read_as_a_technician_writes_them() {
        let cases = [
            ("tone", Value::Tone),
            ("No tone", Value::NoTone),
            ("OL", Value::OverLimit),
            ("3.2", Value::Ohms(3.2)),
            ("4.7k", Value::Ohms(4700.0)),
            ("1.2 MΩ", Value::Ohms(1.2e6)),
            ("24.6 VAC", Value::VoltsAc(24.6)),
            ("24.6vac", Value::VoltsAc(24.6)),
            ("12 VDC", Value::VoltsDc(12.0)),
            ("-12 V DC", Value::VoltsDc(-12.0)),
            ("350 mVAC", Value::VoltsAc(0.35)),
            ("1.9 A", Value::Amps(1.9)),
            ("74 mA", Value::Amps(0.074)),
            ("does not run", Value::DoesNotRun),
        ];
        for (text, value) in cases {
            assert_eq!(text.parse::<Value>(), Ok(value), "{text}");
            assert_eq!(value.to_string().parse::<Value>(), Ok(value), "{value} reads back");
        }
    }

    #[test]
    fn what_is_ambiguous_or_wrong_is_refused_with_advice() {
        assert!("24 V".parse::<Value>().unwrap_err().to_string().contains("VAC"));
        for wrong in ["", "loud", "-3 A", "-5 Ω", "NaN", "1e400 A", "12 parsecs"] {
            assert!(wrong.parse::<Value>().is_err(), "{wrong}");
        }
    }

    #[test]
    fn a_bare_number_takes_the_function_of_the_meter() {
        assert_eq!(Value::parse_with("24.6", Some(Function::VoltsAc)), Ok(Value::VoltsAc(24.6)));
        assert_eq!(Value::parse_with("350m", Some(Function::VoltsAc)), Ok(Value::VoltsAc(0.35)));
        assert_eq!(Value::parse_with("74 m", Some(Function::Amps)), Ok(Value::Amps(0.074)));
        assert_eq!(Value::parse_with("24 Ω", Some(Function::VoltsAc)), Ok(Value::Ohms(24.0)), "the unit counts");
        assert_eq!(Value::parse_with("runs", Some(Function::VoltsAc)), Ok(Value::Runs));
        assert!(Value::parse_with("-3", Some(Function::VoltsAc)).is_err());
        assert_eq!(Value::parse_with("-3", Some(Function::VoltsDc)), Ok(Value::VoltsDc(-3.0)));
        assert_eq!(Value::parse_with("3", Some(Function::Tone)), Ok(Value::Ohms(3.0)));
        assert_eq!(Value::parse_with("OL", Some(Function::Ohms)), Ok(Value::OverLimit));
        assert!(Value::parse_with("OL", Some(Function::VoltsAc)).is_err(), "beyond the range is not open");
    }
}
