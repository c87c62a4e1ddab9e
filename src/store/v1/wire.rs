//! A wire and a loom of format 1 as they lie on disk.

use std::fmt;

use serde::de::value::MapAccessDeserializer;
use serde::de::{MapAccess, Visitor};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use super::short::{Bend, Num, Xy, is_default};

/// The text of an end that is on nothing.
pub(super) const LOOSE: &str = "loose";
/// The text of an end that goes out of sight.
pub(super) const UNKNOWN: &str = "unknown";

/// A wire.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Wire {
    pub key: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub number: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub form: Form,
    #[serde(default, skip_serializing_if = "is_default")]
    pub from: End,
    #[serde(default, skip_serializing_if = "is_default")]
    pub to: End,
    #[serde(default, skip_serializing_if = "is_default")]
    pub colour: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub size: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub length_mm: Option<Num>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub insulation: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub path: Vec<Bend>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub state: State,
    #[serde(default, skip_serializing_if = "is_default")]
    pub loom: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

/// What a wire is made as.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Form {
    #[default]
    Lead,
    Jumper,
}

/// Whether it is still there.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum State {
    #[default]
    InPlace,
    CappedOff,
    Removed,
}

/// One end: `"K1.A1"`, `"loose"`, or `(at: "loose", lug: flag, place: (120, 44))`.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct End {
    pub at: String,
    pub lug: Lug,
    pub known: Known,
    pub lifted: bool,
    pub place: Option<Xy>,
}

impl Default for End {
    fn default() -> Self {
        Self { at: UNKNOWN.to_owned(), lug: Lug::Unsaid, known: Known::Seen, lifted: false, place: None }
    }
}

/// The long spelling of [`End`].
#[derive(Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
#[serde(rename = "End")]
struct EndLong {
    #[serde(default = "unknown")]
    at: String,
    #[serde(default, skip_serializing_if = "is_default")]
    lug: Lug,
    #[serde(default, skip_serializing_if = "is_default")]
    known: Known,
    #[serde(default, skip_serializing_if = "is_default")]
    lifted: bool,
    #[serde(default, skip_serializing_if = "is_default")]
    place: Option<Xy>,
}

fn unknown() -> String {
    UNKNOWN.to_owned()
}

impl Serialize for End {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let Self { at, lug, known, lifted, place } = self.clone();
        if lug == Lug::Unsaid && known == Known::Seen && !lifted && place.is_none() {
            return serializer.serialize_str(&at);
        }
        EndLong { at, lug, known, lifted, place }.serialize(serializer)
    }
}

impl<'de> Deserialize<'de> for End {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Of;
        impl<'de> Visitor<'de> for Of {
            type Value = End;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str(
                    "an end of a wire: \"K1.A1\", \"loose\", \"unknown\", or (at: \"loose\", lug: flag, place: (120, 44))",
                )
            }
            fn visit_str<E>(self, text: &str) -> Result<End, E> {
                Ok(End { at: text.to_owned(), ..End::default() })
            }
            fn visit_map<A: MapAccess<'de>>(self, access: A) -> Result<End, A::Error> {
                let EndLong { at, lug, known, lifted, place } =
                    EndLong::deserialize(MapAccessDeserializer::new(access))?;
                Ok(End { at, lug, known, lifted, place })
            }
        }
        deserializer.deserialize_any(Of)
    }
}

/// What is crimped on an end.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Lug {
    #[default]
    Unsaid,
    Bare,
    Ferrule,
    Fork,
    Ring,
    QuickConnect,
    Flag,
    Pin,
    Cap,
}

/// How a connection is known.
#[derive(Debug, Clone, Copy, Default, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Known {
    #[default]
    Seen,
    Assumed,
    Proven,
    Disputed,
}

/// A loom.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Loom {
    pub name: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub stretch: String,
}
