//! Turns the pieces of a scene that are in reach into triangles and letters, for one look and one scale.

use std::collections::BTreeMap;
use std::sync::Arc;

use egui::emath::GuiRounding as _;
use egui::epaint::{TessellationOptions, Tessellator, Vertex};
use egui::{Color32, Mesh, Pos2, Rect, Shape as Drawn, Stroke};

use crate::app::theme::colour;
use crate::drawing::style;
use crate::drawing::{Area, Ink, Layer, NetTint, Path, Piece, PlainWire, Run, Shape, TargetPlace, WireRun};
use crate::machine::{Point, Spot, Thing, WireId};

use super::camera::narrow;
use super::paint::Painting;
use super::stroke::{Cap, Strokes};

/// Below this many screen points a wire is one plain line, without edge, tracer, dashes and marks.
const PLAIN_WIRE: f32 = 1.6;

/// With more pieces than this in reach wires are plain lines however near they are: nobody could tell more, and a frame
/// must not wait for it.
const MOST_IN_DETAIL: usize = 2500;

/// A part smaller than this, in screen points, is its outline alone: where there are few pieces, and where there are many.
const PLAIN_PART: [f32; 2] = [9.0, 22.0];

/// From this number of pieces on there are many.
const MANY: usize = 600;

/// Where a millimetre is fewer screen points than this, no letters can be read.
const LEAST_WITH_LETTERS: f32 = 0.7;

/// Points of a plain line nearer to each other than this are one, in screen points.
const PLAIN_STEP: f32 = 1.5;

/// Points of a plain line that lie nearer than this to the straight between their neighbours are left out.
const PLAIN_OFF: f32 = 0.35;

/// Lines longer than this are drawn without dashes, in millimetres.
const LONGEST_DASHED: f64 = 20_000.0;

/// Width of the band of its net's colour at either side of a wire, in millimetres, and in screen points at the most.
const TINT: (f64, f32) = (1.1, 5.0);

/// Letters of a piece: they are set anew in every frame, since the typeface's picture may be rearranged between frames.
#[derive(Clone)]
pub struct Label {
    piece: Arc<Piece>,
    item: usize,
}

impl Label {
    /// Letters or a wire's number, with whether they lie above the drawing.
    pub fn shape(&self) -> Option<(&Shape, bool)> {
        self.piece.items.get(self.item).map(|item| (&item.shape, item.layer == Layer::Labels))
    }
}

/// What is painted, the lowest first.
pub enum Stratum {
    /// Triangles in screen points.
    Mesh(Arc<Mesh>),
    /// Letters over them.
    Letters(Vec<Label>),
}

/// Makes meshes of pieces.
pub struct Plot<'a> {
    painting: &'a Painting<'a>,
    /// What is made; the rest of long lines is cut off.
    reach: Area,
    photos: &'a [Area],
    tessellator: Tessellator,
    strokes: Strokes,
    mesh: Mesh,
    /// The points of a plain line, kept between lines.
    kept: Vec<Pos2>,
}

impl<'a> Plot<'a> {
    /// For one frame's look and a stretch of canvas.
    pub fn new(painting: &'a Painting<'a>, reach: Area, photos: &'a [Area]) -> Self {
        let pixels_per_point = painting.painter.ctx().pixels_per_point();
        Self {
            painting,
            reach,
            photos,
            // Nothing that is made here has a picture on it, so the size of the typeface's picture plays no part.
            tessellator: Tessellator::new(pixels_per_point, TessellationOptions::default(), [1, 1], Vec::new()),
            strokes: Strokes::new(pixels_per_point),
            mesh: Mesh::default(),
            kept: Vec::new(),
        }
    }

    /// Everything of these pieces, with a tint over the wires where one is given. Room is made for so many corners.
    pub fn strata(
        mut self,
        pieces: &[&Arc<Piece>],
        tints: Option<&BTreeMap<WireId, NetTint>>,
        corners: usize,
    ) -> Vec<Stratum> {
        let plain = pieces.len() > MOST_IN_DETAIL;
        let mut strata = Vec::new();
        if !self.photos.is_empty() {
            for piece in pieces {
                if self.is_on_photo(piece) {
                    self.halo(piece, plain);
                }
            }
        }
        // A scene has its wires after everything else.
        let (others, wires) = pieces.split_at(pieces.partition_point(|piece| piece.plain.is_none()));
        let mut letters = Vec::new();
        let mut large = Vec::new();
        for &piece in others {
            if self.is_small_part(piece, PLAIN_PART[usize::from(pieces.len() >= MANY)]) {
                self.outline(piece);
            } else {
                large.push(piece);
            }
        }
        for layer in [Layer::Bodies, Layer::Symbols] {
            for piece in &large {
                self.layer(piece, layer, &mut letters);
            }
        }
        self.finish(&mut strata, &mut letters);
        self.mesh.vertices.reserve(corners);
        self.mesh.indices.reserve(corners * 4);
        if let Some(tints) = tints.filter(|tints| tints.values().any(|tint| *tint != NetTint::Dead)) {
            for piece in wires {
                self.tint(piece, tints, plain);
            }
        }
        for piece in wires {
            match self.plain_wire(piece, plain) {
                Some((wire, width)) => self.plain(&wire.points, width, self.painting.ink(wire.ink)),
                None => self.layer(piece, Layer::Wires, &mut letters),
            }
        }
        // The marks at the ends of wires, and letters, are left out where all of them are too small.
        let mm = self.painting.length(1.0);
        if mm >= 0.7 {
            for piece in large.iter().chain(wires) {
                self.layer(piece, Layer::Ends, &mut letters);
            }
        }
        if mm >= LEAST_WITH_LETTERS {
            for piece in pieces {
                self.layer(piece, Layer::Labels, &mut letters);
            }
        }
        self.finish(&mut strata, &mut letters);
        strata
    }

    /// Bands along the wires of many pieces and round their parts.
    pub fn bands(mut self, pieces: &[&Arc<Piece>], ink: Color32, points: f32) -> Mesh {
        let plain = pieces.len() > MOST_IN_DETAIL;
        for piece in pieces {
            if !self.band(piece, ink, points, plain) {
                let rect = self.painting.rect(piece.area.min, piece.area.max).expand(points);
                let mut corners: Vec<Pos2> =
                    vec![rect.left_top(), rect.right_top(), rect.right_bottom(), rect.left_bottom()];
                corners.push(rect.left_top());
                self.strokes.line(&mut self.mesh, &corners, points * 0.6, ink, Cap::Round);
            }
        }
        self.mesh
    }

    fn finish(&mut self, strata: &mut Vec<Stratum>, letters: &mut Vec<Label>) {
        let mesh = std::mem::take(&mut self.mesh);
        if !mesh.indices.is_empty() {
            strata.push(Stratum::Mesh(Arc::new(mesh)));
        }
        if !letters.is_empty() {
            strata.push(Stratum::Letters(std::mem::take(letters)));
        }
    }

    fn is_on_photo(&self, piece: &Piece) -> bool {
        self.photos.iter().any(|photo| photo.meets(piece.area))
    }

    fn layer(&mut self, piece: &Arc<Piece>, layer: Layer, letters: &mut Vec<Label>) {
        let items = piece.layer_range(layer);
        if items.is_empty() {
            return;
        }
        for number in items {
            match &piece.items[number].shape {
                shape @ (Shape::Text { .. } | Shape::Flag(_)) => {
                    if self.painting.is_readable(shape) {
                        letters.push(Label { piece: Arc::clone(piece), item: number });
                    }
                }
                Shape::Wire(run) => self.wire(run),
                shape => self.shape(shape, piece),
            }
        }
    }

    /// Whether a piece is a part that is too small on the screen to show more than its outline.
    fn is_small_part(&self, piece: &Piece, least: f32) -> bool {
        let area = piece.area;
        matches!(piece.of, Thing::Spot(Spot::Part(_))) && self.painting.length(area.width().max(area.height())) < least
    }

    fn outline(&mut self, piece: &Piece) {
        let own = piece.targets.iter().rev().find_map(|target| match &target.place {
            TargetPlace::Quad(corners) => Some(*corners),
            _ => None,
        });
        let Some(corners) = own else { return };
        let (line, body) = (self.painting.ink(Ink::Line), self.painting.ink(Ink::Body));
        let mut points = self.painting.all(&corners);
        if self.is_on_photo(piece) {
            points.push(points[0]);
            self.strokes.thin(&mut self.mesh, &points, 1.0, line);
            return;
        }
        // Two rectangles on whole pixels: crisp, and a quarter of the triangles of a line with soft edges.
        let pixels = self.painting.painter.ctx().pixels_per_point();
        let rect = Rect::from_points(&points).round_to_pixels(pixels);
        let width = self.painting.theme.line_width();
        let corners = |rect: Rect| [rect.left_top(), rect.right_top(), rect.right_bottom(), rect.left_bottom()];
        self.quad(&corners(rect), line);
        if rect.width().min(rect.height()) > 2.0 * width {
            self.quad(&corners(rect.shrink(width)), body);
        }
    }

    fn quad(&mut self, corners: &[Pos2], fill: Color32) {
        // A mesh counts its corners in u32; more than that do not fit into memory.
        let first = u32::try_from(self.mesh.vertices.len()).unwrap_or(u32::MAX);
        self.mesh.vertices.extend(corners.iter().map(|&at| Vertex::untextured(at, fill)));
        self.mesh.indices.extend([0, 1, 2, 0, 2, 3].map(|corner| first + corner));
    }

    fn draw(&mut self, drawn: impl Into<Drawn>) {
        self.tessellator.tessellate_shape(drawn.into(), &mut self.mesh);
    }

    fn shape(&mut self, shape: &Shape, piece: &Piece) {
        let painting = self.painting;
        match shape {
            Shape::Line { points, ink, width_mm, dash_mm } => {
                let stroke = Stroke::new(painting.line_width(*width_mm), painting.ink(*ink));
                match dash_mm {
                    Some((dash, gap)) if painting.length(*dash) > 1.5 => {
                        for dash in dashes(points, (*dash, *gap)) {
                            self.draw(Drawn::line(painting.all(&dash), stroke));
                        }
                    }
                    _ => self.draw(Drawn::line(painting.all(points), stroke)),
                }
            }
            Shape::Filled { points, ink } => {
                let fill = painting.ink(*ink);
                // A photo shows the body itself.
                let fill = if *ink == Ink::Body && self.is_on_photo(piece) { fill.gamma_multiply(0.12) } else { fill };
                self.draw(Drawn::convex_polygon(painting.all(points), fill, Stroke::NONE));
            }
            Shape::Disc { at, radius_mm, fill, edge } => {
                let (at, radius) = (painting.at(*at), painting.length(*radius_mm).max(0.8));
                if let Some(fill) = fill {
                    self.draw(Drawn::circle_filled(at, radius, painting.ink(*fill)));
                }
                if let Some((ink, width)) = edge {
                    let stroke = Stroke::new(painting.line_width(*width), painting.ink(*ink));
                    self.draw(Drawn::circle_stroke(at, radius, stroke));
                }
            }
            Shape::Wire(_) | Shape::Text { .. } | Shape::Flag(_) => {}
        }
    }

    /// The wire of a piece when it is drawn as one plain line, and its width: all are where there are too many, and those
    /// that are thin on the screen.
    fn plain_wire<'p>(&self, piece: &'p Piece, plain: bool) -> Option<(&'p PlainWire, f32)> {
        let wire = piece.plain.as_ref()?;
        let width = self.painting.length(wire.width_mm);
        (plain || width < PLAIN_WIRE).then(|| (wire, width.clamp(1.0, 2.0)))
    }

    /// A wire as it looks: a thin edge that shows it on any ground, its colour, its tracer along the middle.
    fn wire(&mut self, run: &WireRun) {
        let painting = self.painting;
        let share = if run.run == Run::Ghost { 0.4 } else { 1.0 };
        let width = painting.length(run.width_mm * share).max(1.0);
        let (base, stripe) = match run.colour {
            Some(colour) => style::base_and_stripe(colour),
            None => (Ink::InsulationUnsaid, None),
        };
        let base = painting.ink(match run.run {
            Run::Ghost => Ink::Ghost,
            Run::Bar => Ink::Metal,
            _ => base,
        });
        let edge = (run.run != Run::Ghost).then(|| colour(style::wire_edge(painting.ground())));
        let stripe = stripe.filter(|_| run.run != Run::Ghost).map(|ink| painting.ink(ink));
        let (lines, cap) = match run.run.dash_mm() {
            Some(dash) => (dashes(&run.points, dash), Cap::Flat),
            None => (vec![run.points.clone()], Cap::Round),
        };
        let stretches: Vec<Vec<Pos2>> = lines.iter().flat_map(|line| self.in_reach(line)).collect();
        for (width, ink) in [(width + 1.8, edge), (width, Some(base)), ((width * 0.36).max(0.9), stripe)] {
            if let Some(ink) = ink {
                for points in &stretches {
                    self.strokes.line(&mut self.mesh, points, width, ink, cap);
                }
            }
        }
    }

    /// A plain line, with no more points than can be told apart.
    fn plain(&mut self, points: &[Point], width: f32, ink: Color32) {
        let mut kept = std::mem::take(&mut self.kept);
        kept.clear();
        for (n, &point) in points.iter().enumerate() {
            let at = self.painting.at(point);
            let near = kept.last().is_some_and(|last: &Pos2| last.distance_sq(at) < PLAIN_STEP * PLAIN_STEP);
            if near && (n + 1 < points.len() || kept.len() < 2) {
                continue;
            }
            let straight = match kept[..] {
                [.., before, last] => near || off_line(last, before, at) < PLAIN_OFF,
                _ => false,
            };
            if straight {
                kept.pop();
            }
            kept.push(at);
        }
        if let [only] = kept[..] {
            kept.push(only + egui::vec2(1.0, 0.0));
        }
        self.strokes.thin(&mut self.mesh, &kept, width, ink);
        self.kept = kept;
    }

    /// A light or dark band on a photo, under the lines of symbols and under wires, so that they can be followed across it.
    fn halo(&mut self, piece: &Piece, plain: bool) {
        let painting = self.painting;
        if piece.plain.is_none() {
            let halo = painting.ink(Ink::Halo).gamma_multiply(0.75);
            for item in piece.layer(Layer::Symbols).iter().chain(piece.layer(Layer::Ends)) {
                match &item.shape {
                    Shape::Line { points, width_mm, dash_mm: None, .. } => {
                        let width = painting.line_width(*width_mm) + painting.length(0.9).clamp(2.0, 5.0);
                        self.draw(Drawn::line(painting.all(points), Stroke::new(width, halo)));
                    }
                    Shape::Disc { at, radius_mm, edge: Some((_, width_mm)), .. } => {
                        // A ring, so that the photo shows inside.
                        let width = painting.line_width(*width_mm) + painting.length(1.2).clamp(3.0, 8.0);
                        let radius = painting.length(*radius_mm);
                        self.draw(Drawn::circle_stroke(painting.at(*at), radius, Stroke::new(width, halo)));
                    }
                    _ => {}
                }
            }
        } else {
            let halo = painting.ink(Ink::Halo).gamma_multiply(0.6);
            self.band(piece, halo, if plain || painting.length(1.5) < PLAIN_WIRE { 1.0 } else { 2.6 }, plain);
        }
    }

    /// A band of the net's colour behind a wire.
    fn tint(&mut self, piece: &Piece, tints: &BTreeMap<WireId, NetTint>, plain: bool) {
        let Thing::Spot(Spot::Wire(wire)) = &piece.of else { return };
        let Some(tint) = tints.get(wire).filter(|tint| **tint != NetTint::Dead) else { return };
        let ink = self.painting.ink(Ink::Net(*tint)).gamma_multiply(0.55);
        let width = if plain { 1.5 } else { self.painting.length(TINT.0).clamp(1.5, TINT.1) };
        self.band(piece, ink, width, plain);
    }

    /// A band along the wire of a piece; `false` when it is none.
    fn band(&mut self, piece: &Piece, ink: Color32, points: f32, plain: bool) -> bool {
        if let Some((wire, width)) = self.plain_wire(piece, plain) {
            self.plain(&wire.points, width + 2.0 * points, ink);
            return true;
        }
        let mut found = false;
        for item in piece.layer(Layer::Wires) {
            let Shape::Wire(run) = &item.shape else { continue };
            found = true;
            let width = self.painting.length(run.width_mm).max(1.0) + 2.0 * points;
            for stretch in self.in_reach(&run.points) {
                self.strokes.line(&mut self.mesh, &stretch, width, ink, Cap::Flat);
            }
        }
        // A net of the ladder is a plain line at every scale.
        if let Some(wire) = piece.plain.as_ref().filter(|_| !found) {
            found = true;
            let width = self.painting.line_width(wire.width_mm) + 2.0 * points;
            for stretch in self.in_reach(&wire.points) {
                self.strokes.line(&mut self.mesh, &stretch, width, ink, Cap::Flat);
            }
        }
        found
    }

    /// The stretches of a line that lie in reach, in screen points.
    fn in_reach(&self, points: &[Point]) -> Vec<Vec<Pos2>> {
        if points.iter().all(|&at| self.reach.contains(at)) {
            return vec![self.painting.all(points)];
        }
        let mut stretches: Vec<Vec<Pos2>> = Vec::new();
        let mut open = false;
        for pair in points.windows(2) {
            let (a, b) = (pair[0], pair[1]);
            let Some((from, to)) = within(a, b, self.reach) else {
                open = false;
                continue;
            };
            let at = |share: f64| self.painting.at(Point::new(a.x + (b.x - a.x) * share, a.y + (b.y - a.y) * share));
            match stretches.last_mut().filter(|_| open && from <= 0.0) {
                Some(last) => last.push(at(to)),
                None => stretches.push(vec![at(from), at(to)]),
            }
            open = to >= 1.0;
        }
        stretches
    }
}

/// Distance of a point from the straight through two others, in screen points.
fn off_line(at: Pos2, from: Pos2, to: Pos2) -> f32 {
    let way = to - from;
    let length = way.length();
    if length > 0.0 { ((at - from).rot90().dot(way) / length).abs() } else { at.distance(from) }
}

/// The dashes of a line; the line itself when it is too long for them.
fn dashes(points: &[Point], (on_mm, off_mm): (f64, f64)) -> Vec<Vec<Point>> {
    let path = Path::new(points.to_vec());
    if path.length() > LONGEST_DASHED { vec![points.to_vec()] } else { path.dashes(on_mm, off_mm) }
}

/// The shares of a straight between which it lies in a rectangle.
fn within(a: Point, b: Point, area: Area) -> Option<(f64, f64)> {
    let (mut from, mut to) = (0.0_f64, 1.0_f64);
    let sides = [(a.x, b.x - a.x, area.min.x, area.max.x), (a.y, b.y - a.y, area.min.y, area.max.y)];
    for (start, way, least, most) in sides {
        if way.abs() < 1e-12 {
            if start < least || start > most {
                return None;
            }
            continue;
        }
        let (one, other) = ((least - start) / way, (most - start) / way);
        from = from.max(one.min(other));
        to = to.min(one.max(other));
    }
    (from < to).then_some((from, to))
}

/// The way on the screen from where a point was to where it is now.
pub fn way(before: (Point, Rect), now: (Point, Rect), scale: f64) -> egui::Vec2 {
    let shift = now.1.center() - before.1.center();
    shift + egui::vec2(narrow((before.0.x - now.0.x) * scale), narrow((before.0.y - now.0.y) * scale))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_straight_is_cut_at_the_sides_of_a_rectangle() {
        let area = Area::between(Point::new(0.0, 0.0), Point::new(10.0, 10.0));
        let cut = |a: (f64, f64), b: (f64, f64)| within(Point::new(a.0, a.1), Point::new(b.0, b.1), area);
        assert_eq!(cut((2.0, 2.0), (8.0, 8.0)), Some((0.0, 1.0)));
        assert_eq!(cut((-10.0, 5.0), (30.0, 5.0)), Some((0.25, 0.5)));
        assert_eq!(cut((-10.0, 11.0), (30.0, 11.0)), None);
        assert_eq!(cut((12.0, -2.0), (13.0, 20.0)), None);
        assert_eq!(cut((-1e12, 5.0), (1e12, 5.0)).map(|(from, to)| to > from), Some(true));
    }
}
