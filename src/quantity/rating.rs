//! Ratings as printed on a part, each with its one unit.

use std::collections::BTreeMap;
use std::fmt;

use serde::de::{Error as _, MapAccess, Visitor};
use serde::ser::SerializeMap;
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::scaled::{CELSIUS, QuantityError, format_scaled, parse_scaled, split_number};

/// The unit a rating is given in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Unit {
    /// V
    Volts,
    /// A
    Amps,
    /// W
    Watts,
    /// VA
    VoltAmps,
    /// Ω
    Ohms,
    /// F
    Farads,
    /// H
    Henries,
    /// Hz
    Hertz,
    /// s
    Seconds,
    /// °C
    Celsius,
    /// %
    Percent,
}

impl Unit {
    /// Accepted spellings, the preferred one first.
    pub fn spellings(self) -> &'static [&'static str] {
        match self {
            Self::Volts => &["V"],
            Self::Amps => &["A"],
            Self::Watts => &["W"],
            Self::VoltAmps => &["VA"],
            Self::Ohms => &["Ω", "\u{2126}", "ohm", "ohms"],
            Self::Farads => &["F"],
            Self::Henries => &["H"],
            Self::Hertz => &["Hz"],
            Self::Seconds => &["s"],
            Self::Celsius => &[CELSIUS, "C"],
            Self::Percent => &["%"],
        }
    }
}

/// Alternating or direct.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Current {
    /// AC
    Ac,
    /// DC
    Dc,
}

macro_rules! ratings {
    ($($(#[$doc:meta])* $variant:ident, $name:literal, $unit:ident, $words:literal;)*) => {
        /// A property that a nameplate or data sheet gives one number for.
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub enum Rating { $($(#[$doc])* $variant,)* }

        impl Rating {
            /// Every rating there is.
            pub const ALL: &'static [Self] = &[$(Self::$variant,)*];
            /// The name used in files.
            pub fn name(self) -> &'static str { match self { $(Self::$variant => $name,)* } }
            /// The unit of its value.
            pub fn unit(self) -> Unit { match self { $(Self::$variant => Unit::$unit,)* } }
            /// What it is, in words.
            pub fn words(self) -> &'static str { match self { $(Self::$variant => $words,)* } }
        }
    };
}

ratings! {
    /// Rated voltage of a load, source, lamp or capacitor.
    Volts, "volts", Volts, "rated voltage";
    /// Supply frequency.
    Hertz, "hertz", Hertz, "frequency";
    /// Power factor of a motor, fan or ballast while it runs.
    PowerFactor, "power_factor", Percent, "power factor";
    /// Running current of a load, or rated current of a fuse.
    Amps, "amps", Amps, "rated current";
    /// Power.
    Watts, "watts", Watts, "power";
    /// Apparent power of a transformer.
    VoltAmps, "volt_amps", VoltAmps, "apparent power";
    /// Direct-current resistance.
    Ohms, "ohms", Ohms, "resistance";
    /// Direct-current resistance of a winding as a share of its impedance at rated volts: of a coil, a motor, and of each
    /// winding of a transformer (there the impedance is volts squared over apparent power). Holds for any rated volts.
    ResistanceShare, "resistance_share", Percent, "winding resistance, share of its impedance";
    /// Resistance of a sensing input.
    InputOhms, "input_ohms", Ohms, "resistance of a sensing input";
    /// Resistance of the primary winding.
    PrimaryOhms, "primary_ohms", Ohms, "primary winding resistance";
    /// Resistance of the secondary winding.
    SecondaryOhms, "secondary_ohms", Ohms, "secondary winding resistance";
    /// Rated secondary voltage.
    SecondaryVolts, "secondary_volts", Volts, "secondary voltage";
    /// Rated voltage of the second of two secondaries, where it differs.
    SecondSecondaryVolts, "second_secondary_volts", Volts, "voltage of the second secondary";
    /// Coil voltage.
    CoilVolts, "coil_volts", Volts, "coil voltage";
    /// Sealed coil power, apparent.
    CoilVoltAmps, "coil_volt_amps", VoltAmps, "coil apparent power";
    /// Direct-current resistance of the coil.
    CoilOhms, "coil_ohms", Ohms, "coil resistance";
    /// Share of the coil voltage at which it surely operates.
    PickUp, "pick_up", Percent, "pick-up, share of coil voltage";
    /// Share of the coil voltage at which it surely releases.
    DropOut, "drop_out", Percent, "drop-out, share of coil voltage";
    /// Contact current, resistive.
    ContactAmps, "contact_amps", Amps, "contact current, resistive";
    /// Contact current, motor full load.
    ContactMotorAmps, "contact_motor_amps", Amps, "contact current, motor full load";
    /// Contact current, motor locked rotor.
    ContactLockedAmps, "contact_locked_amps", Amps, "contact current, motor locked rotor";
    /// Contact pilot duty, apparent power.
    ContactPilotVoltAmps, "contact_pilot_volt_amps", VoltAmps, "contact pilot duty";
    /// Contact voltage.
    ContactVolts, "contact_volts", Volts, "contact voltage";
    /// Locked-rotor current of a motor or compressor.
    LockedAmps, "locked_amps", Amps, "locked-rotor current";
    /// Run winding resistance.
    RunOhms, "run_ohms", Ohms, "run winding resistance";
    /// Start winding resistance.
    StartOhms, "start_ohms", Ohms, "start winding resistance";
    /// Capacitance.
    Farads, "farads", Farads, "capacitance";
    /// Capacitance of the second of two capacitors in one can.
    SecondFarads, "second_farads", Farads, "capacitance of the second section";
    /// Inductance.
    Henries, "henries", Henries, "inductance";
    /// Delay of a time relay.
    Seconds, "seconds", Seconds, "delay";
    /// Temperature at which a thermal device opens.
    OpensAt, "opens_at", Celsius, "opens at";
    /// Temperature at which a thermal device closes.
    ClosesAt, "closes_at", Celsius, "closes at";
}

impl Rating {
    /// Whether AC or DC may be said behind its value.
    pub fn takes_current(self) -> bool {
        matches!(self.unit(), Unit::Volts | Unit::Amps)
    }

    /// Whether it cannot lie above 100 %.
    fn is_part_of_a_whole(self) -> bool {
        matches!(self, Self::PowerFactor | Self::ResistanceShare)
    }

    /// Whether it differs from part to part so much, or harms so much when taken for granted, that no kind may have a
    /// typical value for it: rated volts, frequency, limits of contacts and temperatures are read on the part or not known.
    pub fn is_only_read(self) -> bool {
        matches!(self.unit(), Unit::Volts | Unit::Hertz | Unit::Celsius) || self.name().starts_with("contact_")
    }

    /// Finds a rating by its file name.
    pub fn by_name(name: &str) -> Option<Self> {
        Self::ALL.iter().copied().find(|rating| rating.name() == name)
    }
}

/// One rated value: the number in the rating's bare unit, and whether AC or DC was said.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Rated {
    /// In the rating's unit.
    pub value: f64,
    /// `230 V AC` says AC.
    pub current: Option<Current>,
}

/// The ratings of one part or kind, at most one value each.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Ratings(BTreeMap<Rating, Rated>);

impl Ratings {
    /// The value of a rating in its bare unit.
    pub fn get(&self, rating: Rating) -> Option<f64> {
        self.0.get(&rating).map(|rated| rated.value)
    }

    /// The value with its kind of current.
    pub fn rated(&self, rating: Rating) -> Option<Rated> {
        self.0.get(&rating).copied()
    }

    /// Sets or replaces a value.
    pub fn set(&mut self, rating: Rating, rated: Rated) {
        self.0.insert(rating, rated);
    }

    /// Takes a value out.
    pub fn clear(&mut self, rating: Rating) {
        self.0.remove(&rating);
    }

    /// All values in a fixed order.
    pub fn iter(&self) -> impl Iterator<Item = (Rating, Rated)> + '_ {
        self.0.iter().map(|(&rating, &rated)| (rating, rated))
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.0.is_empty()
    }

    /// These ratings, with those of `over` put on top.
    pub fn overridden_by(&self, over: &Self) -> Self {
        let mut all = self.0.clone();
        all.extend(over.0.iter().map(|(&rating, &rated)| (rating, rated)));
        Self(all)
    }
}

/// Reads a written rating: `230 V`, `24 V AC`, `16A`, `8 µF`, `70 %`.
///
/// # Errors
/// A sentence when the unit is missing or another one, the number is not finite, or negative where only a temperature may
/// be, or AC or DC stands behind something that is neither volts nor amps.
pub fn parse_rated(rating: Rating, text: &str) -> Result<Rated, QuantityError> {
    let trimmed = text.trim();
    let (number, current) = match trimmed.strip_suffix("AC").or_else(|| trimmed.strip_suffix("ac")) {
        Some(rest) => (rest, Some(Current::Ac)),
        None => match trimmed.strip_suffix("DC").or_else(|| trimmed.strip_suffix("dc")) {
            Some(rest) => (rest, Some(Current::Dc)),
            None => (trimmed, None),
        },
    };
    let about = |what: &dyn fmt::Display| QuantityError(format!("{} ({}): {what}", rating.name(), rating.words()));
    if rating == Rating::PowerFactor
        && let Ok((share, "")) = split_number(number)
        && (0.0..=1.0).contains(&share)
    {
        return Err(about(&format_args!("'{trimmed}' has no unit; write it in per cent, '{} %'", share * 100.0)));
    }
    let value = parse_scaled(number, rating.unit().spellings()).map_err(|error| about(&error))?;
    if rating.is_part_of_a_whole() && value > 100.0 {
        return Err(about(&format_args!("'{trimmed}' is more than the whole; write at most '100 %'")));
    }
    if current.is_some() && !rating.takes_current() {
        let right = Rated { value, current: None }.written(rating);
        return Err(about(&format_args!("'{trimmed}': AC or DC is said of volts and amps only; write '{right}'")));
    }
    Ok(Rated { value, current })
}

impl Rated {
    /// The value as it is written in files and on screen.
    pub fn written(&self, rating: Rating) -> String {
        let unit = rating.unit().spellings().first().copied().unwrap_or("");
        let number = match rating.unit() {
            Unit::Percent | Unit::Celsius => format!("{} {unit}", self.value),
            _ => exact(self.value, unit),
        };
        match self.current {
            None => number,
            Some(Current::Ac) => format!("{number} AC"),
            Some(Current::Dc) => format!("{number} DC"),
        }
    }
}

/// The short form where it reads back to the same number, else every digit.
fn exact(value: f64, unit: &str) -> String {
    let short = format_scaled(value, unit);
    if parse_scaled(&short, &[unit]) == Ok(value) { short } else { format!("{value} {unit}") }
}

impl Serialize for Ratings {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (rating, rated) in &self.0 {
            map.serialize_entry(rating.name(), &rated.written(*rating))?;
        }
        map.end()
    }
}

impl<'de> Deserialize<'de> for Ratings {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Map;
        impl<'de> Visitor<'de> for Map {
            type Value = Ratings;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("ratings, for example {\"coil_volts\": \"24 V AC\"}")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<Ratings, A::Error> {
                let mut ratings = Ratings::default();
                while let Some(name) = access.next_key::<String>()? {
                    let rating = Rating::by_name(&name).ok_or_else(|| {
                        let near = Rating::ALL
                            .iter()
                            .map(|r| r.name())
                            .max_by(|a, b| strsim::jaro_winkler(a, &name).total_cmp(&strsim::jaro_winkler(b, &name)));
                        A::Error::custom(format!(
                            "unknown rating '{name}'; did you mean '{}'?",
                            near.unwrap_or("volts")
                        ))
                    })?;
                    let text = access.next_value::<String>()?;
                    ratings.set(rating, parse_rated(rating, &text).map_err(A::Error::custom)?);
                }
                Ok(ratings)
            }
        }
        deserializer.deserialize_map(Map)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn every_rating_reads_back_what_it_writes() {
        for &rating in Rating::ALL {
            for value in [0.1, 8e-6, 24.0, 0.000_047, 1234.5, 70.0, 1.0 / 3.0] {
                if rating.is_part_of_a_whole() && value > 100.0 {
                    assert!(parse_rated(rating, &format!("{value} %")).is_err());
                    continue;
                }
                let rated = Rated { value, current: rating.takes_current().then_some(Current::Ac) };
                assert_eq!(parse_rated(rating, &rated.written(rating)), Ok(rated), "{}", rating.name());
            }
        }
    }

    #[test]
    fn a_temperature_may_lie_below_zero_and_nothing_else() {
        for text in ["-18 C", "-18 °C"] {
            let rated = parse_rated(Rating::OpensAt, text).unwrap();
            assert_eq!(rated.value, -18.0);
            assert_eq!(rated.written(Rating::OpensAt), "-18 °C");
        }
        for &rating in Rating::ALL.iter().filter(|rating| rating.unit() != Unit::Celsius) {
            let unit = rating.unit().spellings()[0];
            let error = parse_rated(rating, &format!("-18 {unit}")).unwrap_err().to_string();
            assert!(error.contains("below zero") && error.contains(rating.name()), "{error}");
        }
    }

    #[test]
    fn a_rating_needs_its_unit_and_ac_or_dc_only_where_it_means_something() {
        for &rating in Rating::ALL {
            for bare in ["24", "4.7k", "24 AC"] {
                assert!(parse_rated(rating, bare).is_err(), "{}: {bare}", rating.name());
            }
        }
        let error = parse_rated(Rating::CoilVolts, "24").unwrap_err().to_string();
        assert!(error.contains("write '24 V'"), "{error}");
        let error = parse_rated(Rating::PowerFactor, "0.6").unwrap_err().to_string();
        assert!(error.contains("'60 %'"), "{error}");
        let error = parse_rated(Rating::CoilOhms, "177 Ω AC").unwrap_err().to_string();
        assert!(error.contains("write '177 Ω'"), "{error}");
        for text in ["24 V AC", "24 VAC", "24V ac"] {
            assert_eq!(parse_rated(Rating::CoilVolts, text).unwrap().written(Rating::CoilVolts), "24 V AC");
        }
    }

    #[test]
    fn wrong_units_and_unknown_names_are_explained() {
        let error = parse_rated(Rating::CoilVolts, "24 A").unwrap_err().to_string();
        assert!(error.contains("coil_volts") && error.contains("expected V"), "{error}");
        let error = ron::from_str::<Ratings>("{\"coil_vlots\": \"24 V\"}").unwrap_err().to_string();
        assert!(error.contains("did you mean 'coil_volts'"), "{error}");
    }
}
