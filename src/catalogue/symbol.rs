//! How kinds are drawn: strokes in the part's own millimetres, in two styles.

use serde::{Deserialize, Serialize};

/// The two families of graphic symbols. Drawn by us to their published geometry.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Style {
    /// IEC 60617-like.
    Iec,
    /// ANSI Y32.2 / IEEE 315-like.
    Ansi,
}

/// A drawing for both styles. `both` is drawn in either.
#[derive(Debug, Clone, PartialEq, Default, Serialize, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub struct Symbol {
    /// Drawn in either style.
    pub both: Vec<Stroke>,
    /// Drawn in the IEC style only.
    pub iec: Vec<Stroke>,
    /// Drawn in the ANSI style only.
    pub ansi: Vec<Stroke>,
}

impl Symbol {
    /// The strokes for one style: those of either first, then the style's own.
    pub fn strokes(&self, style: Style) -> impl Iterator<Item = &Stroke> {
        let own = match style {
            Style::Iec => &self.iec,
            Style::Ansi => &self.ansi,
        };
        self.both.iter().chain(own)
    }
}

impl Stroke {
    /// The word a file has for this sort of stroke.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Line(_) => "line",
            Self::Dashed(_) => "dashed",
            Self::Filled(_) => "filled",
            Self::Rect { .. } => "rect",
            Self::Circle { .. } => "circle",
            Self::Dot { .. } => "dot",
            Self::Arc { .. } => "arc",
            Self::Text { .. } => "text",
            Self::Use { .. } => "use",
        }
    }
}

/// A symbol part that many kinds use (a coil, a make contact), by name; kept in `assets/parts/glyphs.ron`.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub struct Glyph {
    /// Name.
    pub name: String,
    /// Its drawing.
    pub symbol: Symbol,
}

/// One stroke. Lengths in the part's own millimetres, x to the right, y down.
#[derive(Debug, Clone, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields, rename_all = "snake_case")]
pub enum Stroke {
    /// A line through these points.
    Line(Vec<(f64, f64)>),
    /// A dashed line through these points (mechanical link).
    Dashed(Vec<(f64, f64)>),
    /// A filled outline.
    Filled(Vec<(f64, f64)>),
    /// A rectangle from its top left corner.
    Rect {
        /// Top left corner.
        at: (f64, f64),
        /// Width and height.
        size: (f64, f64),
    },
    /// A circle.
    Circle {
        /// Centre.
        at: (f64, f64),
        /// Radius.
        r: f64,
    },
    /// A filled dot.
    Dot {
        /// Centre.
        at: (f64, f64),
        /// Radius.
        r: f64,
    },
    /// An arc, angles clockwise from the x axis.
    Arc {
        /// Centre.
        at: (f64, f64),
        /// Radius.
        r: f64,
        /// First angle in degrees.
        from_deg: f64,
        /// Last angle in degrees.
        to_deg: f64,
    },
    /// Letters, centred on the point, always upright.
    Text {
        /// Centre.
        at: (f64, f64),
        /// Height of capitals.
        size: f64,
        /// The letters.
        text: String,
    },
    /// A glyph of the given name, moved and turned.
    Use {
        /// The glyph.
        glyph: String,
        /// Where its origin goes.
        at: (f64, f64),
        /// Clockwise quarter turns.
        #[serde(default)]
        turns: u8,
    },
}
