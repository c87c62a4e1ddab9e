//! The middle of the window: the canvas, and what its clicks ask for in the present stage.

use egui::Ui;

use crate::machine::{Spot, Thing};

use super::request::Requests;
use super::scope::Scope;

/// What the middle of the window remembers between frames.
#[derive(Default)]
pub struct Centre {
    fit: bool,
}

impl Centre {
    /// Asks for the whole drawing to be brought into sight.
    pub fn show_everything(&mut self) {
        self.fit = true;
    }

    /// Asks for these things to be brought into sight.
    pub fn reveal(&mut self, _things: &[Thing]) {}

    /// Nearer by this factor, about the middle.
    pub fn zoom(&mut self, _factor: f32) {}

    /// Leaves what was begun on the canvas; `false` when nothing was.
    pub fn leave_begun(&mut self) -> bool {
        false
    }

    /// What lies under the pointer, for a probe.
    pub fn pointed_at(&self) -> Option<Spot> {
        None
    }

    /// Draws it.
    pub fn show(&mut self, _ui: &mut Ui, _scope: &Scope<'_>, _out: &mut Requests) {
        self.fit = false;
    }
}
