//! A part of format 1 as it lies on disk.

use std::fmt;

use serde::de::value::MapAccessDeserializer;
use serde::de::{MapAccess, SeqAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::short::{Num, Pairs, Xy, is_default};

/// A part.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Part {
    pub tag: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub printed: Option<String>,
    pub kind: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub title: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub at: Lies,
    #[serde(default, skip_serializing_if = "is_default")]
    pub count: u16,
    #[serde(default, skip_serializing_if = "is_default")]
    pub pins: Vec<Pin>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub terminals: Pairs<Terminal>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub ratings: Pairs<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub mounting: Mounting,
    #[serde(default, skip_serializing_if = "is_default")]
    pub exposed_metal: Option<bool>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub rest: Pairs<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub group: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub crop: Option<Crop>,
}

/// Where and how a part lies: `(120, 40)`, or `(x: 120, y: 40, quarter_turns: 1, mirrored: true)`.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Lies {
    pub at: Xy,
    pub quarter_turns: u8,
    pub mirrored: bool,
}

/// The long spelling of [`Lies`].
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[serde(rename = "Place")]
struct LiesLong {
    x: Num,
    y: Num,
    #[serde(default, skip_serializing_if = "is_default")]
    quarter_turns: u8,
    #[serde(default, skip_serializing_if = "is_default")]
    mirrored: bool,
}

impl Serialize for Lies {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self { at, quarter_turns, mirrored } = *self;
        if quarter_turns == 0 && !mirrored {
            return at.serialize(serializer);
        }
        LiesLong { x: at.0, y: at.1, quarter_turns, mirrored }.serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for Lies {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Of;
        impl<'de> Visitor<'de> for Of {
            type Value = Lies;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a place in millimetres, for example (120, 40) or (x: 120, y: 40, quarter_turns: 1)")
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut access: A) -> Result<Lies, A::Error> {
                let x = access.next_element()?.ok_or_else(|| serde::de::Error::invalid_length(0, &self))?;
                let y = access.next_element()?.ok_or_else(|| serde::de::Error::invalid_length(1, &self))?;
                Ok(Lies { at: Xy(x, y), ..Lies::default() })
            }
            fn visit_map<A: MapAccess<'de>>(self, access: A) -> Result<Lies, A::Error> {
                let LiesLong { x, y, quarter_turns, mirrored } =
                    LiesLong::deserialize(MapAccessDeserializer::new(access))?;
                Ok(Lies { at: Xy(x, y), quarter_turns, mirrored })
            }
        }
        deserializer.deserialize_any(Of)
    }
}

/// A pin of the part's own.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Pin {
    pub marking: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub role: PinRole,
    #[serde(default, skip_serializing_if = "is_default")]
    pub at: Option<Xy>,
}

/// What a pin does; the other pin by its marking.
#[derive(Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum PinRole {
    #[default]
    Unknown,
    Plain,
    Supply(String),
    Joined(String),
    OutputFrom(String),
    OutputTo(String),
    OutputDry(String),
    OutputTriac(String),
    Input(String),
}

/// What differs from the kind at one terminal.
#[derive(Debug, Default, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct Terminal {
    #[serde(skip_serializing_if = "is_default")]
    pub printed: Option<String>,
    #[serde(skip_serializing_if = "is_default")]
    pub at: Option<Xy>,
    #[serde(skip_serializing_if = "is_default")]
    pub lands: Option<String>,
    #[serde(skip_serializing_if = "is_default")]
    pub holds: Option<u8>,
    #[serde(skip_serializing_if = "is_default")]
    pub note: String,
}

/// How a part is held.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Mounting {
    #[default]
    Fixed,
    Loose,
    Missing,
}

/// A detail of a photo: left, top, width, height in pixels.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Crop {
    pub photo: String,
    pub rect_px: (u32, u32, u32, u32),
}
