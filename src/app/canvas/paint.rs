//! Paints a scene: only what is in sight, letters only where they can be read.

use std::collections::BTreeMap;

use egui::{
    Align2, Color32, CornerRadius, FontId, Painter, Pos2, Rect, Shape as Drawn, Stroke, StrokeKind, pos2, vec2,
};

use crate::app::theme::{Theme, colour};
use crate::drawing::style::{self, Ground};
use crate::drawing::{Anchor, Flag, FlagForm, Ink, Layer, NetTint, Path, Piece, Priority, Run, Scene, Shape, WireRun};
use crate::machine::{Point, Spot, Thing, WireId};

use super::camera::{Camera, narrow};

/// Letters lower than this many screen points are left out; tags are kept longest.
const LEAST_LETTERS: [(Priority, f32); 3] = [(Priority::Tag, 4.0), (Priority::Marking, 5.5), (Priority::Title, 6.0)];

/// Height of the capitals in a finding's flag, in screen points, at the least.
const LEAST_FINDING: f32 = 7.0;

/// Below this many screen points a wire is one plain line.
const PLAIN_WIRE: f32 = 1.6;

/// What is needed to paint.
pub struct Painting<'a> {
    /// Where to paint.
    pub painter: &'a Painter,
    /// Screen rectangle of the canvas.
    pub screen: Rect,
    /// The camera.
    pub camera: Camera,
    /// The look.
    pub theme: Theme,
}

impl Painting<'_> {
    fn at(&self, point: Point) -> Pos2 {
        self.camera.screen_from_canvas(self.screen, point)
    }

    fn length(&self, mm: f64) -> f32 {
        narrow(mm * self.camera.scale)
    }

    fn ground(&self) -> Ground {
        match self.theme {
            Theme::Day => Ground::Day,
            Theme::Night => Ground::Night,
            Theme::Sun => Ground::Sun,
        }
    }

    /// The colour of an ink in this look.
    pub fn ink(&self, ink: Ink) -> Color32 {
        colour(style::rgba(ink, self.ground()))
    }

    fn line_width(&self, mm: f64) -> f32 {
        self.length(mm * self.ground().line_factor()).max(self.theme.line_width())
    }

    /// Paints every piece of a scene that is in sight, with a tint over the wires where one is given.
    pub fn scene(&self, scene: &Scene, tints: Option<&BTreeMap<WireId, NetTint>>) {
        let pieces = scene.pieces_in(self.camera.sight(self.screen));
        for piece in &pieces {
            self.halo(piece);
        }
        for layer in Layer::ALL {
            for piece in &pieces {
                if layer == Layer::Wires {
                    self.tint(piece, tints);
                }
                for item in piece.layer(layer) {
                    self.shape(&item.shape, layer);
                }
            }
        }
    }

    /// A light band under the lines of symbols, so that they can be followed across a photo.
    fn halo(&self, piece: &Piece) {
        if !matches!(piece.of, Thing::Spot(Spot::Part(_))) {
            return;
        }
        let halo = self.ink(Ink::Halo).gamma_multiply(0.7);
        for item in piece.layer(Layer::Symbols).iter().chain(piece.layer(Layer::Ends)) {
            match &item.shape {
                Shape::Line { points, ink: Ink::Line, width_mm, dash_mm: None } => {
                    let stroke = Stroke::new(self.line_width(*width_mm) + self.length(0.9), halo);
                    self.painter.add(Drawn::line(self.all(points), stroke));
                }
                Shape::Disc { at, radius_mm, edge: Some(_), .. } => {
                    self.painter.circle_filled(self.at(*at), self.length(radius_mm + 0.6), halo);
                }
                _ => {}
            }
        }
    }

    /// A band of the net's colour behind a wire.
    fn tint(&self, piece: &Piece, tints: Option<&BTreeMap<WireId, NetTint>>) {
        let Thing::Spot(Spot::Wire(wire)) = &piece.of else { return };
        let Some(tint) = tints.and_then(|tints| tints.get(wire)) else { return };
        if *tint == NetTint::Dead {
            return;
        }
        self.band(piece, self.ink(Ink::Net(*tint)).gamma_multiply(0.55), 5.0);
    }

    /// A band along the wires and round the parts of a piece.
    pub fn band(&self, piece: &Piece, colour: Color32, points: f32) {
        let mut runs = false;
        for item in piece.layer(Layer::Wires) {
            if let Shape::Wire(run) = &item.shape {
                runs = true;
                let width = self.length(run.width_mm) + 2.0 * points;
                self.painter.add(Drawn::line(self.all(&run.points), Stroke::new(width, colour)));
            }
        }
        if !runs {
            let rect = self.rect(piece.area.min, piece.area.max).expand(points);
            self.painter.rect_stroke(
                rect,
                CornerRadius::same(3),
                Stroke::new(points * 0.6, colour),
                StrokeKind::Outside,
            );
        }
    }

    /// Screen rectangle between two canvas points.
    pub fn rect(&self, min: Point, max: Point) -> Rect {
        Rect::from_two_pos(self.at(min), self.at(max))
    }

    fn all(&self, points: &[Point]) -> Vec<Pos2> {
        points.iter().map(|&point| self.at(point)).collect()
    }

    fn shape(&self, shape: &Shape, layer: Layer) {
        match shape {
            Shape::Line { points, ink, width_mm, dash_mm } => {
                let stroke = Stroke::new(self.line_width(*width_mm), self.ink(*ink));
                self.line(points, stroke, *dash_mm);
            }
            Shape::Filled { points, ink } => {
                self.painter.add(Drawn::convex_polygon(self.all(points), self.ink(*ink), Stroke::NONE));
            }
            Shape::Disc { at, radius_mm, fill, edge } => {
                let (at, radius) = (self.at(*at), self.length(*radius_mm).max(0.8));
                if let Some(fill) = fill {
                    self.painter.circle_filled(at, radius, self.ink(*fill));
                }
                if let Some((ink, width)) = edge {
                    self.painter.circle_stroke(at, radius, Stroke::new(self.line_width(*width), self.ink(*ink)));
                }
            }
            Shape::Wire(run) => self.wire(run),
            Shape::Text { at, anchor, size_mm, text, ink, priority } => {
                let ground = layer == Layer::Labels;
                self.letters(*at, *anchor, *size_mm, text, (self.ink(*ink), ground), *priority);
            }
            Shape::Flag(flag) => self.flag(flag),
        }
    }

    fn line(&self, points: &[Point], stroke: Stroke, dash_mm: Option<(f64, f64)>) {
        match dash_mm {
            Some((dash, gap)) if self.length(dash) > 1.5 => {
                let dashes = Path::new(points.to_vec()).dashes(dash, gap);
                self.painter.extend(dashes.iter().map(|dash| Drawn::line(self.all(dash), stroke)));
            }
            _ => {
                self.painter.add(Drawn::line(self.all(points), stroke));
            }
        }
    }

    /// A wire as it looks: a thin edge that shows it on any ground, its colour, its tracer along the middle.
    fn wire(&self, run: &WireRun) {
        let share = if run.run == Run::Ghost { 0.4 } else { 1.0 };
        let width = self.length(run.width_mm * share).max(1.0);
        let (base, stripe) = match run.colour {
            Some(colour) => style::base_and_stripe(colour),
            None => (Ink::InsulationUnsaid, None),
        };
        let base = match run.run {
            Run::Ghost => Ink::Ghost,
            Run::Bar => Ink::Metal,
            _ => base,
        };
        let dash = run.run.dash_mm();
        if width > PLAIN_WIRE && run.run != Run::Ghost {
            let edge = Stroke::new(width + 1.6, colour(style::wire_edge(self.ground())));
            self.line(&run.points, edge, dash);
        }
        self.line(&run.points, Stroke::new(width, self.ink(base)), dash);
        if let Some(stripe) = stripe.filter(|_| width > PLAIN_WIRE && run.run != Run::Ghost) {
            self.line(&run.points, Stroke::new((width * 0.36).max(0.9), self.ink(stripe)), dash);
        }
    }

    fn letters(
        &self,
        at: Point,
        anchor: Anchor,
        size_mm: f64,
        text: &str,
        (ink, ground): (Color32, bool),
        priority: Priority,
    ) {
        let size = self.length(size_mm);
        let least = LEAST_LETTERS.iter().find(|entry| entry.0 == priority).map_or(6.0, |entry| entry.1);
        if size < least {
            return;
        }
        let align = Align2([side(anchor.x), side(anchor.y)]);
        // Capitals are about seven tenths of the size a font is asked in.
        let font = FontId::proportional((size / 0.7).min(96.0));
        let galley = self.painter.layout_no_wrap(text.to_owned(), font, ink);
        let rect = align.anchor_size(self.at(at), galley.size());
        if ground {
            let halo = self.ink(Ink::Halo).gamma_multiply(0.75);
            self.painter.rect_filled(rect.shrink2(vec2(0.0, rect.height() * 0.16)), CornerRadius::same(2), halo);
        }
        self.painter.galley(rect.min, galley, ink);
    }

    fn flag(&self, flag: &Flag) {
        // The flag of a finding is seen from however far off; a wire's number only where it can be read.
        let size = match flag.form {
            FlagForm::WireNumber => self.length(flag.size_mm),
            _ => self.length(flag.size_mm).max(LEAST_FINDING),
        };
        if size < 4.5 {
            return;
        }
        let (ink, form) = match flag.form {
            FlagForm::WireNumber => (Ink::Paper, flag.form),
            FlagForm::Diamond => (Ink::Danger, flag.form),
            FlagForm::Triangle => (Ink::Fault, flag.form),
            FlagForm::Circle => (Ink::Doubt, flag.form),
            FlagForm::Square => (Ink::Note, flag.form),
        };
        let (fill, letters) = (self.ink(ink), colour(style::letters_on(ink, self.ground())));
        let edge = Stroke::new(1.0, self.ink(Ink::Line));
        let (at, area) = (self.at(flag.at), flag.area());
        let r = size * 1.3;
        match form {
            FlagForm::WireNumber => {
                let rect = self.rect(area.min, area.max);
                self.painter.rect(rect, CornerRadius::same(2), fill, edge, StrokeKind::Inside);
            }
            FlagForm::Diamond => {
                let corners = [(0.0, -1.25), (1.25, 0.0), (0.0, 1.25), (-1.25, 0.0)];
                self.polygon(at, r, &corners, fill, edge);
            }
            FlagForm::Triangle => self.polygon(at, r, &[(0.0, -1.35), (1.3, 0.95), (-1.3, 0.95)], fill, edge),
            FlagForm::Circle => {
                self.painter.circle(at, r, fill, edge);
            }
            FlagForm::Square => self.polygon(at, r, &[(-0.9, -0.9), (0.9, -0.9), (0.9, 0.9), (-0.9, 0.9)], fill, edge),
        }
        let font = FontId::proportional(size / 0.7);
        self.painter.text(at, Align2::CENTER_CENTER, &flag.text, font, letters);
    }

    fn polygon(&self, at: Pos2, r: f32, corners: &[(f32, f32)], fill: Color32, edge: Stroke) {
        let points = corners.iter().map(|&(x, y)| pos2(at.x + x * r, at.y + y * r)).collect();
        self.painter.add(Drawn::convex_polygon(points, fill, edge));
    }

    /// A probe at a place: a ring of its colour with its letter beside it.
    pub fn probe(&self, at: Point, ink: Ink, letter: &str) {
        let at = self.at(at);
        let tint = self.ink(ink);
        self.painter.circle_stroke(at, 9.0, Stroke::new(5.0, self.ink(Ink::Halo)));
        self.painter.circle_stroke(at, 9.0, Stroke::new(3.0, tint));
        let flag = Rect::from_center_size(at + vec2(0.0, -21.0), vec2(18.0, 18.0));
        self.painter.rect_filled(flag, CornerRadius::same(4), tint);
        let letters = colour(style::letters_on(ink, self.ground()));
        self.painter.text(flag.center(), Align2::CENTER_CENTER, letter, FontId::proportional(13.0), letters);
    }

    /// A ring round a place.
    pub fn ring(&self, at: Point, colour: Color32) {
        self.painter.circle_stroke(self.at(at), 9.0, Stroke::new(3.0, colour));
    }

    /// A line from point to point while something is being drawn.
    pub fn rubber(&self, points: &[Point]) {
        let stroke = Stroke::new(2.0, self.ink(Ink::Chosen));
        self.painter.extend(Drawn::dashed_line(&self.all(points), stroke, 8.0, 5.0));
    }

    /// A grid of ten millimetres, or of a hundred from far off.
    pub fn grid(&self) {
        let step = if self.length(10.0) >= 8.0 { 10.0 } else { 100.0 };
        if self.length(step) < 8.0 {
            return;
        }
        let sight = self.camera.sight(self.screen);
        let stroke = Stroke::new(1.0, self.ink(Ink::Faint).gamma_multiply(0.25));
        let mut x = (sight.min.x / step).floor() * step;
        while x <= sight.max.x {
            self.painter.vline(self.at(Point::new(x, 0.0)).x, self.screen.y_range(), stroke);
            x += step;
        }
        let mut y = (sight.min.y / step).floor() * step;
        while y <= sight.max.y {
            self.painter.hline(self.screen.x_range(), self.at(Point::new(0.0, y)).y, stroke);
            y += step;
        }
    }
}

fn side(anchor: i8) -> egui::Align {
    match anchor {
        i8::MIN..=-1 => egui::Align::Min,
        0 => egui::Align::Center,
        1..=i8::MAX => egui::Align::Max,
    }
}
