//! Short spellings used all over the file: numbers, points, text maps that keep their order.

use std::fmt;
use std::marker::PhantomData;

use serde::de::{MapAccess, SeqAccess, Visitor};
use serde::ser::{SerializeMap, SerializeTuple};
use serde::{Deserialize, Deserializer, Serialize, Serializer};

use crate::machine::Point;

/// Whether a value is the one that is left out of the file.
pub(super) fn is_default<T: Default + PartialEq>(value: &T) -> bool {
    *value == T::default()
}

/// Whole numbers from here on are no longer exact in a double.
const EXACT_WHOLE: f64 = 9_007_199_254_740_992.0;

/// A number; whole ones are written without a point.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub(super) struct Num(pub f64);

impl Serialize for Num {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        if self.0.fract() == 0.0 && self.0.abs() < EXACT_WHOLE {
            #[expect(clippy::cast_possible_truncation, reason = "whole and below 2^53: nothing is lost")]
            return serializer.serialize_i64(self.0 as i64);
        }
        serializer.serialize_f64(self.0)
    }
}

impl<'de> Deserialize<'de> for Num {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        f64::deserialize(deserializer).map(Self)
    }
}

/// A point in millimetres, written `(12.5, 40)`.
#[derive(Debug, Clone, Copy, PartialEq, Default, Serialize, Deserialize)]
pub(super) struct Xy(pub Num, pub Num);

impl From<Point> for Xy {
    fn from(point: Point) -> Self {
        Self(Num(point.x), Num(point.y))
    }
}

impl Xy {
    pub fn point(self) -> Point {
        Point::new(self.0.0, self.1.0)
    }
}

/// A map from text that keeps the order of the file, repeats included, so that a repeat can be reported.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pairs<V>(pub Vec<(String, V)>);

impl<V> Default for Pairs<V> {
    fn default() -> Self {
        Self(Vec::new())
    }
}

impl<V> FromIterator<(String, V)> for Pairs<V> {
    fn from_iter<I: IntoIterator<Item = (String, V)>>(pairs: I) -> Self {
        Self(pairs.into_iter().collect())
    }
}

impl<V: Serialize> Serialize for Pairs<V> {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut map = serializer.serialize_map(Some(self.0.len()))?;
        for (key, value) in &self.0 {
            map.serialize_entry(key, value)?;
        }
        map.end()
    }
}

impl<'de, V: Deserialize<'de>> Deserialize<'de> for Pairs<V> {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Of<V>(PhantomData<V>);
        impl<'de, V: Deserialize<'de>> Visitor<'de> for Of<V> {
            type Value = Pairs<V>;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("pairs in braces, for example {\"K1\": true}")
            }
            fn visit_map<A: MapAccess<'de>>(self, mut access: A) -> Result<Self::Value, A::Error> {
                let mut pairs = Vec::new();
                while let Some(pair) = access.next_entry()? {
                    pairs.push(pair);
                }
                Ok(Pairs(pairs))
            }
        }
        deserializer.deserialize_map(Of(PhantomData))
    }
}

/// A bend of a wire: `(10, 20)`, or `(10, 20, hidden)` when the stretch that leads to it is out of sight.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Bend {
    pub at: Xy,
    pub hidden: bool,
}

/// The one word that may follow a bend.
#[derive(Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
enum Sight {
    Hidden,
}

impl Serialize for Bend {
    fn serialize<S: Serializer>(&self, serializer: S) -> Result<S::Ok, S::Error> {
        let mut tuple = serializer.serialize_tuple(if self.hidden { 3 } else { 2 })?;
        tuple.serialize_element(&self.at.0)?;
        tuple.serialize_element(&self.at.1)?;
        if self.hidden {
            tuple.serialize_element(&Sight::Hidden)?;
        }
        tuple.end()
    }
}

impl<'de> Deserialize<'de> for Bend {
    fn deserialize<D: Deserializer<'de>>(deserializer: D) -> Result<Self, D::Error> {
        struct Of;
        impl<'de> Visitor<'de> for Of {
            type Value = Bend;
            fn expecting(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
                f.write_str("a bend, for example (10, 20) or (10, 20, hidden)")
            }
            fn visit_seq<A: SeqAccess<'de>>(self, mut access: A) -> Result<Bend, A::Error> {
                let x = access.next_element()?.ok_or_else(|| serde::de::Error::invalid_length(0, &self))?;
                let y = access.next_element()?.ok_or_else(|| serde::de::Error::invalid_length(1, &self))?;
                let hidden = access.next_element::<Sight>()?.is_some();
                Ok(Bend { at: Xy(x, y), hidden })
            }
        }
        deserializer.deserialize_tuple(3, Of)
    }
}
