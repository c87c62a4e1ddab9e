//! Conductor colours by the letter codes of IEC 60757, with a tracer kept apart from the base.

use std::fmt;
use std::str::FromStr;

use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::QuantityError;

/// One colour of IEC 60757:2021 (codes seen in a public reproduction of its table).
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Colour {
    /// BK
    Black,
    /// BN
    Brown,
    /// RD
    Red,
    /// OG
    Orange,
    /// YE
    Yellow,
    /// GN
    Green,
    /// BU
    Blue,
    /// VT
    Violet,
    /// GY
    Grey,
    /// WH
    White,
    /// PK
    Pink,
    /// GD
    Gold,
    /// TQ
    Turquoise,
    /// SR
    Silver,
    /// GNYE, the only combination the standard allows for green with yellow
    GreenYellow,
}

impl Colour {
    /// Every colour with its code and its name in words.
    pub const ALL: [(Self, &'static str, &'static str); 15] = [
        (Self::Black, "BK", "black"),
        (Self::Brown, "BN", "brown"),
        (Self::Red, "RD", "red"),
        (Self::Orange, "OG", "orange"),
        (Self::Yellow, "YE", "yellow"),
        (Self::Green, "GN", "green"),
        (Self::Blue, "BU", "blue"),
        (Self::Violet, "VT", "violet"),
        (Self::Grey, "GY", "grey"),
        (Self::White, "WH", "white"),
        (Self::Pink, "PK", "pink"),
        (Self::Gold, "GD", "gold"),
        (Self::Turquoise, "TQ", "turquoise"),
        (Self::Silver, "SR", "silver"),
        (Self::GreenYellow, "GNYE", "green-yellow"),
    ];

    /// The letter code of IEC 60757.
    pub fn code(self) -> &'static str {
        Self::ALL.iter().find(|entry| entry.0 == self).map_or("", |entry| entry.1)
    }

    /// The colour in words.
    pub fn name(self) -> &'static str {
        Self::ALL.iter().find(|entry| entry.0 == self).map_or("", |entry| entry.2)
    }
}

impl FromStr for Colour {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        Self::ALL.iter().find(|entry| entry.1.eq_ignore_ascii_case(text.trim())).map(|entry| entry.0).ok_or_else(|| {
            let codes: Vec<_> = Self::ALL.iter().map(|entry| entry.1).collect();
            QuantityError(format!("'{text}' is not a colour code of IEC 60757; use one of {}", codes.join(" ")))
        })
    }
}

/// The colour of one wire: base, and a tracer (stripe) where there is one. Written `BK` or `BK/RD`, base first.
///
/// Base first, tracer second is common practice, no source; the joined codes of IEC 60757 do not mean base and tracer.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct WireColour {
    /// The colour of most of the insulation.
    pub base: Colour,
    /// The stripe.
    pub tracer: Option<Colour>,
}

impl WireColour {
    /// A plain colour.
    pub fn plain(base: Colour) -> Self {
        Self { base, tracer: None }
    }

    /// In words: `black`, `black with red tracer`.
    pub fn words(self) -> String {
        match self.tracer {
            None => self.base.name().to_owned(),
            Some(tracer) => format!("{} with {} tracer", self.base.name(), tracer.name()),
        }
    }
}

impl fmt::Display for WireColour {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        match self.tracer {
            None => f.write_str(self.base.code()),
            Some(tracer) => write!(f, "{}/{}", self.base.code(), tracer.code()),
        }
    }
}

impl FromStr for WireColour {
    type Err = QuantityError;

    fn from_str(text: &str) -> Result<Self, QuantityError> {
        let mut parts = text.split('/');
        let base = parts.next().unwrap_or("").parse()?;
        let tracer = parts.next().map(str::parse).transpose()?;
        if parts.next().is_some() {
            return Err(QuantityError(format!(
                "'{text}' has more than one tracer; write base/tracer, for example BK/RD"
            )));
        }
        Ok(Self { base, tracer })
    }
}

impl Serialize for WireColour {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        serializer.collect_str(self)
    }
}

impl<'de> Deserialize<'de> for WireColour {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        String::deserialize(deserializer)?.parse().map_err(serde::de::Error::custom)
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: IEC 60757 (2021) letter codes, from a public reproduction of the table.
    #[test]
    fn codes_are_those_of_iec_60757() {
        for code in "BK BN RD OG YE GN BU VT GY WH PK GD TQ SR GNYE".split(' ') {
            assert_eq!(code.parse::<Colour>().unwrap().code(), code);
        }
        assert!("BL".parse::<Colour>().is_err(), "BL is no code of the standard: it collides between black and blue");
    }

    #[test]
    fn base_and_tracer_survive_writing() {
        let colour: WireColour = "BN/WH".parse().unwrap();
        assert_eq!(colour.to_string(), "BN/WH");
        assert_eq!(colour.words(), "brown with white tracer");
        assert!("BN/WH/RD".parse::<WireColour>().is_err());
    }
}
