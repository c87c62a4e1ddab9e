//! Paints letters, flags and marks on the screen, in the colours of the look.

use egui::{Align2, Color32, CornerRadius, FontId, Painter, Pos2, Rect, Shape as Drawn, Stroke, StrokeKind, vec2};

use crate::app::theme::{Theme, bold, colour};
use crate::drawing::style::{self, Ground};
use crate::drawing::{Anchor, FLAG_MM, Flag, FlagForm, Ink, PlacedFlag, Priority, Shape};
use crate::machine::Point;

use super::camera::{Camera, narrow};

/// Letters that would come out lower than this many screen points are left out; tags are kept longest.
const LEAST_LETTERS: [(Priority, f32); 3] = [(Priority::Tag, 2.0), (Priority::Marking, 5.5), (Priority::Title, 6.0)];

/// Tags do not come out lower than this, in screen points.
const LEAST_TAG: f32 = 5.4;

/// Height of the capitals in a finding's flag, in screen points, at the least.
const LEAST_FINDING: f32 = 7.0;

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
    pub(super) fn at(&self, point: Point) -> Pos2 {
        self.camera.screen_from_canvas(self.screen, point)
    }

    pub(super) fn length(&self, mm: f64) -> f32 {
        narrow(mm * self.camera.scale)
    }

    pub(super) fn ground(&self) -> Ground {
        self.theme.ground()
    }

    /// The colour of an ink in this look.
    pub fn ink(&self, ink: Ink) -> Color32 {
        colour(style::rgba(ink, self.ground()))
    }

    pub(super) fn line_width(&self, mm: f64) -> f32 {
        self.length(mm * self.ground().line_factor()).max(self.theme.line_width())
    }

    /// Screen rectangle between two canvas points.
    pub fn rect(&self, min: Point, max: Point) -> Rect {
        Rect::from_two_pos(self.at(min), self.at(max))
    }

    /// Screen positions of canvas points.
    pub(super) fn all(&self, points: &[Point]) -> Vec<Pos2> {
        points.iter().map(|&point| self.at(point)).collect()
    }

    /// Whether letters come out large enough to be read.
    pub(super) fn is_readable(&self, shape: &Shape) -> bool {
        match shape {
            Shape::Text { size_mm, priority, .. } => {
                let least = LEAST_LETTERS.iter().find(|entry| entry.0 == *priority).map_or(6.0, |entry| entry.1);
                self.length(*size_mm) >= least
            }
            Shape::Flag(flag) => self.length(flag.size_mm) >= 4.5,
            _ => true,
        }
    }

    /// Letters, or the number of a wire; with a ground of their own when they lie on top of the drawing.
    pub(super) fn label(&self, shape: &Shape, on_top: bool) {
        match shape {
            Shape::Text { at, anchor, size_mm, text, ink, priority } => {
                let least = if *priority == Priority::Tag { LEAST_TAG } else { 0.0 };
                let size = self.length(*size_mm).max(least);
                self.letters(*at, *anchor, size, text, (self.ink(*ink), on_top));
            }
            Shape::Flag(flag) => self.wire_number(flag),
            _ => {}
        }
    }

    fn letters(&self, at: Point, anchor: Anchor, size: f32, text: &str, (ink, ground): (Color32, bool)) {
        let align = Align2([side(anchor.x), side(anchor.y)]);
        // Capitals are about seven tenths of the size a font is asked in.
        let font = FontId::proportional((size / 0.7).min(96.0));
        let galley = self.painter.layout_no_wrap(text.to_owned(), font, ink);
        let rect = align.anchor_size(self.at(at), galley.size());
        if !self.screen.intersects(rect) {
            return;
        }
        if ground {
            let halo = self.ink(Ink::Halo).gamma_multiply(0.75);
            self.painter.rect_filled(rect.shrink2(vec2(0.0, rect.height() * 0.16)), CornerRadius::same(2), halo);
        }
        self.painter.galley(rect.min, galley, ink);
    }

    fn wire_number(&self, flag: &Flag) {
        let area = flag.area();
        let rect = self.rect(area.min, area.max);
        if !self.screen.intersects(rect) {
            return;
        }
        let letters = colour(style::letters_on(Ink::Paper, self.ground()));
        let edge = Stroke::new(1.0, self.ink(Ink::Line));
        self.painter.rect(rect, CornerRadius::same(2), self.ink(Ink::Paper), edge, StrokeKind::Inside);
        let font = FontId::proportional((self.length(flag.size_mm) / 0.7).min(96.0));
        self.painter.text(rect.center(), Align2::CENTER_CENTER, &flag.text, font, letters);
    }

    /// Height of the figures on flags of findings, in millimetres: as on paper, but never too small to be read.
    pub fn flag_size_mm(&self) -> f64 {
        FLAG_MM.max(f64::from(LEAST_FINDING) / self.camera.scale)
    }

    /// Whether a flag or the line to its place can be seen.
    pub(super) fn shows(&self, flag: &PlacedFlag) -> bool {
        self.screen.expand(40.0).contains(self.at(flag.at))
    }

    /// The thin line from a flag to the place it speaks of.
    pub(super) fn flag_line(&self, flag: &PlacedFlag) -> [Drawn; 2] {
        let line = Stroke::new(self.theme.line_width(), self.ink(Ink::Line));
        let halo = Stroke::new(line.width + 2.0, self.ink(Ink::Halo).gamma_multiply(0.75));
        let ends = [self.at(flag.place), self.at(flag.at)];
        [Drawn::line_segment(ends, halo), Drawn::line_segment(ends, line)]
    }

    /// The frame of a flag, on a ground that parts it from what lies under it.
    pub(super) fn flag_frame(&self, flag: &PlacedFlag, chosen: bool) -> [Drawn; 2] {
        let fill = self.ink(flag_ink(flag.form));
        let width = if chosen { 2.5 } else { 1.0 };
        let edge = Stroke::new(width * self.theme.line_width(), self.ink(Ink::Line));
        let (at, r) = (self.at(flag.at), self.length(flag.radius_mm));
        let polygon = |corners: &[(f32, f32)]| {
            Drawn::convex_polygon(corners.iter().map(|&(x, y)| at + vec2(x, y) * r).collect(), fill, edge)
        };
        let frame = match flag.form {
            FlagForm::Diamond => polygon(&[(0.0, -1.05), (1.05, 0.0), (0.0, 1.05), (-1.05, 0.0)]),
            FlagForm::Triangle => polygon(&[(0.0, -1.1), (1.1, 0.82), (-1.1, 0.82)]),
            FlagForm::Circle => egui::epaint::CircleShape { center: at, radius: r * 0.88, fill, stroke: edge }.into(),
            FlagForm::Square | FlagForm::WireNumber => polygon(&[(-0.8, -0.8), (0.8, -0.8), (0.8, 0.8), (-0.8, 0.8)]),
        };
        [Drawn::circle_filled(at, r * 1.08, self.ink(Ink::Halo).gamma_multiply(0.55)), frame]
    }

    /// What is written on a flag.
    pub(super) fn flag_number(&self, flag: &PlacedFlag) {
        let (at, r) = (self.at(flag.at), self.length(flag.radius_mm));
        let letters = colour(style::letters_on(flag_ink(flag.form), self.ground()));
        let text = flag.text();
        let share = match text.chars().count() {
            0..=2 => 0.94,
            3 => 0.76,
            _ => 0.6,
        };
        let lower = if flag.form == FlagForm::Triangle { r * 0.2 } else { 0.0 };
        let font = FontId::new((r * share).min(96.0), bold());
        self.painter.text(at + vec2(0.0, lower), Align2::CENTER_CENTER, text, font, letters);
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

fn flag_ink(form: FlagForm) -> Ink {
    match form {
        FlagForm::WireNumber => Ink::Paper,
        FlagForm::Diamond => Ink::Danger,
        FlagForm::Triangle => Ink::Fault,
        FlagForm::Circle => Ink::Doubt,
        FlagForm::Square => Ink::Note,
    }
}

fn side(anchor: i8) -> egui::Align {
    match anchor {
        i8::MIN..=-1 => egui::Align::Min,
        0 => egui::Align::Center,
        1..=i8::MAX => egui::Align::Max,
    }
}
