//! The drawing of a part with everything resolved: glyphs put in, turned and moved, positions repeated.

use crate::machine::{Part, Point};

use super::body::{MOST_POSITIONS, numbered};
use super::kind::Kind;
use super::library::Catalogue;
use super::symbol::{Stroke, Style, Symbol};

/// The most strokes one drawing may come to; a file that needs more is refused.
pub(super) const MOST_STROKES: usize = 4000;

/// Free space between the terminals of a part without a drawing of its own and the rectangle round them, in millimetres.
const MARGIN_MM: f64 = 5.0;

/// A rectangle in the part's own millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Bounds {
    /// Top left corner.
    pub min: Point,
    /// Bottom right corner.
    pub max: Point,
}

impl Catalogue {
    /// The drawing of a kind with so many positions (0: the kind's usual number), without any glyph left to look up.
    /// A kind without a drawing gives no strokes; [`Catalogue::outline`] puts a rectangle round its terminals.
    pub fn strokes(&self, kind: &Kind, count: u16, style: Style) -> Vec<Stroke> {
        let mut strokes = Vec::new();
        self.add(&mut strokes, &kind.symbol, style, Placing::default(), &mut Vec::new());
        if let Some(repeat) = &kind.repeat {
            let count = if count == 0 { repeat.count } else { count }.min(MOST_POSITIONS);
            for position in 1..=count {
                let steps = f64::from(position - 1);
                let placing = Placing { at: (repeat.pitch.0 * steps, repeat.pitch.1 * steps), turns: 0 };
                let from = strokes.len();
                self.add(&mut strokes, &repeat.symbol, style, placing, &mut Vec::new());
                for stroke in strokes.iter_mut().skip(from) {
                    if let Stroke::Text { text, .. } = stroke {
                        *text = numbered(text, position);
                    }
                }
            }
        }
        strokes
    }

    /// The drawing of one part of a record: its kind's, and a rectangle round its terminals where the kind has no
    /// drawing or the part has pins of its own.
    pub fn outline(&self, part: &Part, style: Style) -> Vec<Stroke> {
        let mut strokes = self.kind(&part.kind).map_or_else(Vec::new, |kind| self.strokes(kind, part.count, style));
        let body = self.body(part);
        let boxed: Vec<Point> = if strokes.is_empty() {
            body.terminals.iter().map(|terminal| terminal.at).collect()
        } else {
            let own = body.terminals.len().saturating_sub(part.pins.len());
            body.terminals.iter().skip(own).map(|terminal| terminal.at).collect()
        };
        if strokes.is_empty() && boxed.is_empty() {
            strokes.push(rectangle_round(&[Point::new(0.0, 0.0)], MARGIN_MM));
        } else if !boxed.is_empty() {
            strokes.push(rectangle_round(&boxed, MARGIN_MM));
            strokes.extend(boxed.iter().map(|at| Stroke::Circle { at: (at.x, at.y), r: 0.75 }));
        }
        strokes
    }

    fn add<'a>(
        &'a self,
        strokes: &mut Vec<Stroke>,
        symbol: &'a Symbol,
        style: Style,
        placing: Placing,
        above: &mut Vec<&'a str>,
    ) {
        for stroke in symbol.strokes(style) {
            // Room for every position of a long strip, yet an end to everything.
            if strokes.len() >= MOST_STROKES * 10 {
                return;
            }
            let Stroke::Use { glyph, at, turns } = stroke else {
                strokes.push(placing.placed(stroke));
                continue;
            };
            if above.contains(&glyph.as_str()) {
                continue;
            }
            if let Some(used) = self.glyph(glyph) {
                above.push(glyph);
                let inner = Placing { at: placing.point(*at), turns: (placing.turns + turns % 4) % 4 };
                self.add(strokes, &used.symbol, style, inner, above);
                above.pop();
            }
        }
    }
}

fn rectangle_round(points: &[Point], margin: f64) -> Stroke {
    let mut min = (f64::INFINITY, f64::INFINITY);
    let mut max = (f64::NEG_INFINITY, f64::NEG_INFINITY);
    for point in points {
        min = (min.0.min(point.x), min.1.min(point.y));
        max = (max.0.max(point.x), max.1.max(point.y));
    }
    Stroke::Rect {
        at: (min.0 - margin, min.1 - margin),
        size: (max.0 - min.0 + 2.0 * margin, max.1 - min.1 + 2.0 * margin),
    }
}

/// Where a drawing is put: first turned about its origin, then moved.
#[derive(Debug, Clone, Copy, Default)]
struct Placing {
    at: (f64, f64),
    /// Clockwise quarter turns, 0 to 3.
    turns: u8,
}

impl Placing {
    fn point(self, (x, y): (f64, f64)) -> (f64, f64) {
        // y points down, so a clockwise quarter turn takes x to y and y to -x.
        let (x, y) = match self.turns {
            0 => (x, y),
            1 => (-y, x),
            2 => (-x, -y),
            _ => (y, -x),
        };
        (x + self.at.0, y + self.at.1)
    }

    fn points(self, points: &[(f64, f64)]) -> Vec<(f64, f64)> {
        points.iter().map(|&point| self.point(point)).collect()
    }

    fn placed(self, stroke: &Stroke) -> Stroke {
        match stroke {
            Stroke::Line(points) => Stroke::Line(self.points(points)),
            Stroke::Dashed(points) => Stroke::Dashed(self.points(points)),
            Stroke::Filled(points) => Stroke::Filled(self.points(points)),
            Stroke::Rect { at, size } => {
                let one = self.point(*at);
                let other = self.point((at.0 + size.0, at.1 + size.1));
                Stroke::Rect {
                    at: (one.0.min(other.0), one.1.min(other.1)),
                    size: ((one.0 - other.0).abs(), (one.1 - other.1).abs()),
                }
            }
            Stroke::Circle { at, r } => Stroke::Circle { at: self.point(*at), r: *r },
            Stroke::Dot { at, r } => Stroke::Dot { at: self.point(*at), r: *r },
            Stroke::Arc { at, r, from_deg, to_deg } => {
                let turned = 90.0 * f64::from(self.turns);
                Stroke::Arc { at: self.point(*at), r: *r, from_deg: from_deg + turned, to_deg: to_deg + turned }
            }
            Stroke::Text { at, size, text } => Stroke::Text { at: self.point(*at), size: *size, text: text.clone() },
            Stroke::Use { glyph, at, turns } => {
                Stroke::Use { glyph: glyph.clone(), at: self.point(*at), turns: (self.turns + turns % 4) % 4 }
            }
        }
    }
}

/// The rectangle that holds these strokes; `None` without any. Arcs count as whole circles, letters as 0.7 of their
/// height wide; glyphs still to be looked up count as their place.
pub fn bounds(strokes: &[Stroke]) -> Option<Bounds> {
    let mut held: Option<Bounds> = None;
    for (x, y) in strokes.iter().flat_map(corners) {
        let grown = held.get_or_insert(Bounds { min: Point::new(x, y), max: Point::new(x, y) });
        grown.min = Point::new(grown.min.x.min(x), grown.min.y.min(y));
        grown.max = Point::new(grown.max.x.max(x), grown.max.y.max(y));
    }
    held
}

fn corners(stroke: &Stroke) -> Vec<(f64, f64)> {
    let round = |at: (f64, f64), half: (f64, f64)| vec![(at.0 - half.0, at.1 - half.1), (at.0 + half.0, at.1 + half.1)];
    match stroke {
        Stroke::Line(points) | Stroke::Dashed(points) | Stroke::Filled(points) => points.clone(),
        Stroke::Rect { at, size } => vec![*at, (at.0 + size.0, at.1 + size.1)],
        Stroke::Circle { at, r } | Stroke::Dot { at, r } | Stroke::Arc { at, r, .. } => round(*at, (*r, *r)),
        Stroke::Text { at, size, text } => round(*at, (0.35 * size * text.chars().count() as f64, 0.5 * size)),
        Stroke::Use { at, .. } => vec![*at],
    }
}
