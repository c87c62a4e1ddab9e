//! Which part of the canvas is in sight: canvas millimetres to screen points and back.

use egui::{Pos2, Rect, Vec2, pos2};

use crate::drawing::Area;
use crate::machine::Point;

/// Nearest and farthest, in screen points per millimetre.
const SCALES: (f64, f64) = (0.02, 60.0);

/// Share of the screen that a drawing fitted into it takes.
const FITTED: f64 = 0.92;

/// The camera.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Camera {
    /// Canvas point in the middle of the screen.
    pub middle: Point,
    /// Screen points per millimetre.
    pub scale: f64,
}

impl Default for Camera {
    fn default() -> Self {
        Self { middle: Point::new(0.0, 0.0), scale: 2.5 }
    }
}

impl Camera {
    /// Screen position of a canvas point.
    pub fn screen_from_canvas(&self, screen: Rect, point: Point) -> Pos2 {
        let middle = screen.center();
        pos2(
            middle.x + narrow((point.x - self.middle.x) * self.scale),
            middle.y + narrow((point.y - self.middle.y) * self.scale),
        )
    }

    /// Canvas point under a screen position.
    pub fn canvas_from_screen(&self, screen: Rect, at: Pos2) -> Point {
        let off = at - screen.center();
        self.middle.moved(f64::from(off.x) / self.scale, f64::from(off.y) / self.scale)
    }

    /// The canvas in sight.
    pub fn sight(&self, screen: Rect) -> Area {
        Area::between(self.canvas_from_screen(screen, screen.min), self.canvas_from_screen(screen, screen.max))
    }

    /// Moves the drawing by a way on the screen.
    pub fn pan(&mut self, by: Vec2) {
        self.middle = self.middle.moved(-f64::from(by.x) / self.scale, -f64::from(by.y) / self.scale);
    }

    /// Nearer by a factor, with the canvas point under `at` staying there.
    pub fn zoom(&mut self, screen: Rect, at: Pos2, factor: f64) {
        let fixed = self.canvas_from_screen(screen, at);
        self.scale = (self.scale * factor).clamp(SCALES.0, SCALES.1);
        let now = self.canvas_from_screen(screen, at);
        self.middle = self.middle.moved(fixed.x - now.x, fixed.y - now.y);
    }

    /// Brings an area wholly into sight.
    pub fn fit(&mut self, screen: Rect, area: Area) {
        let (width, height) = (area.width().max(10.0), area.height().max(10.0));
        let scale = (f64::from(screen.width()) / width).min(f64::from(screen.height()) / height) * FITTED;
        self.scale = scale.clamp(SCALES.0, SCALES.1);
        self.middle = area.centre();
    }
}

/// Screen positions are `f32`; what lies far out of sight loses digits that nobody sees.
#[allow(clippy::cast_possible_truncation)] // as the line above says
pub(super) fn narrow(value: f64) -> f32 {
    value as f32
}

#[cfg(test)]
mod tests {
    use super::*;
    use egui::vec2;

    #[test]
    fn zooming_keeps_the_point_under_the_pointer() {
        let screen = Rect::from_min_size(pos2(100.0, 50.0), vec2(800.0, 600.0));
        let mut camera = Camera::default();
        camera.pan(vec2(37.0, -12.0));
        let at = pos2(640.0, 130.0);
        let before = camera.canvas_from_screen(screen, at);
        camera.zoom(screen, at, 1.7);
        assert!(camera.canvas_from_screen(screen, at).distance(before) < 1e-9);
        let back = camera.screen_from_canvas(screen, before);
        assert!((back - at).length() < 0.01);
    }
}
