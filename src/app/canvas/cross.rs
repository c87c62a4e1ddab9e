//! A pointer for the keys: while points are taken on a photo, arrows move a cross and the space bar clicks there.

use egui::{Key, Modifiers, Pos2, Rect, Stroke, Ui, vec2};

use super::camera::Camera;
use super::paint::Painting;
use crate::app::scope::Scope;
use crate::drawing::Ink;
use crate::machine::Point;

/// How far one press moves the cross, in screen points; with Shift held, one point.
const STEP: f32 = 14.0;
/// The cross keeps so far from the edge of the canvas; the sheet moves instead.
const MARGIN: f32 = 40.0;

/// The cross.
#[derive(Debug, Default)]
pub struct Cross {
    at: Option<Point>,
    pressed: bool,
}

impl Cross {
    /// Whether the space bar was pressed in this frame.
    pub fn pressed(&self) -> bool {
        self.pressed
    }

    /// Takes the keys of this frame. The cross comes with the first arrow, from where the pointer is, and goes when the pointer moves.
    pub fn steer(
        &mut self,
        ui: &Ui,
        camera: &mut Camera,
        screen: Rect,
        pointer: Option<Pos2>,
        scope: &Scope<'_>,
    ) -> Option<Point> {
        self.pressed = false;
        let moved = ui.input(|input| input.pointer.delta() != egui::Vec2::ZERO || input.pointer.any_pressed());
        if scope.view.on_photo.doing.is_none() || moved {
            self.at = None;
        }
        let elsewhere = ui.ctx().memory(|memory| memory.focused().is_some());
        if scope.view.on_photo.doing.is_none() || elsewhere {
            return self.at;
        }
        let mut by = egui::Vec2::ZERO;
        for (key, way) in [
            (Key::ArrowLeft, vec2(-1.0, 0.0)),
            (Key::ArrowRight, vec2(1.0, 0.0)),
            (Key::ArrowUp, vec2(0.0, -1.0)),
            (Key::ArrowDown, vec2(0.0, 1.0)),
        ] {
            for (held, step) in [(Modifiers::SHIFT, 1.0), (Modifiers::NONE, STEP)] {
                let presses = ui.input_mut(|input| input.count_and_consume_key(held, key));
                by += way * step * presses as f32;
            }
        }
        if by != egui::Vec2::ZERO {
            let from = self.at.map_or_else(
                || pointer.filter(|at| screen.contains(*at)).unwrap_or(screen.center()),
                |at| camera.screen_from_canvas(screen, at),
            );
            let to = from + by;
            let inside = screen.shrink(MARGIN.min(screen.size().min_elem() / 3.0)).clamp(to);
            camera.pan(inside - to);
            self.at = Some(camera.canvas_from_screen(screen, inside));
        }
        if self.at.is_some() {
            self.pressed = ui.input_mut(|input| input.consume_key(Modifiers::NONE, Key::Space));
        }
        self.at
    }

    /// Draws it.
    pub fn paint(&self, painting: &Painting<'_>) {
        let Some(at) = self.at else { return };
        let at = painting.camera.screen_from_canvas(painting.screen, at);
        for (ink, width) in [(Ink::Halo, 6.0), (Ink::Chosen, 2.5)] {
            let stroke = Stroke::new(width, painting.ink(ink));
            for way in [vec2(1.0, 0.0), vec2(-1.0, 0.0), vec2(0.0, 1.0), vec2(0.0, -1.0)] {
                painting.painter.line_segment([at + way * 5.0, at + way * 18.0], stroke);
            }
        }
    }
}
