//! The flags of findings on the canvas: where each stands at the present scale, and which one lies under the pointer.

use std::sync::Arc;

use egui::epaint::{TessellationOptions, Tessellator};
use egui::{Mesh, Rect, Shape as Drawn};

use crate::app::theme::Theme;
use crate::desk::Derived;
use crate::drawing::{FlagForm, Mark, PlacedFlag, placed_flags};
use crate::findings::Severity;
use crate::machine::Point;

use super::camera::Camera;
use super::paint::Painting;

/// The flags, kept while findings and scale stay.
#[derive(Default)]
pub struct Flags {
    marks: Vec<Mark>,
    placed: Vec<PlacedFlag>,
    size_mm: f64,
    made: Option<(Seen, Arc<Mesh>)>,
}

/// What the look of the flags depends on besides where they stand.
#[derive(PartialEq)]
struct Seen {
    camera: Camera,
    screen: Rect,
    theme: Theme,
    pixels_per_point: f32,
    chosen: Option<usize>,
}

impl Flags {
    /// These flags.
    #[cfg(test)]
    pub fn of(marks: Vec<Mark>) -> Self {
        Self { marks, ..Self::default() }
    }

    /// Takes in other results. Notes and what was accepted have no flag.
    pub fn take(&mut self, derived: &Derived) {
        self.marks = (1..)
            .zip(derived.findings.iter())
            .filter(|(_, finding)| {
                (!finding.is_accepted() || finding.severity == Severity::Danger) && finding.severity != Severity::Note
            })
            .filter_map(|(number, finding)| {
                let form = form_of(finding.severity);
                finding.about.iter().find_map(|thing| Mark::new(&derived.scene, thing, form, number))
            })
            .collect();
        self.size_mm = 0.0;
        self.made = None;
    }

    /// Paints the flags; that of the finding with the chosen number is ringed.
    pub fn paint(&mut self, painting: &Painting<'_>, chosen: Option<usize>) {
        let size_mm = painting.flag_size_mm();
        if self.size_mm.to_bits() != size_mm.to_bits() {
            self.size_mm = size_mm;
            self.placed = placed_flags(&self.marks, size_mm);
            self.made = None;
        }
        let pixels_per_point = painting.painter.ctx().pixels_per_point();
        let (camera, screen, theme) = (painting.camera, painting.screen, painting.theme);
        let seen = Seen { camera, screen, theme, pixels_per_point, chosen };
        let mesh = match self.made.take().filter(|(before, _)| *before == seen) {
            Some((_, mesh)) => mesh,
            None => Arc::new(mesh(&self.placed, painting, chosen)),
        };
        painting.painter.add(Drawn::Mesh(Arc::clone(&mesh)));
        self.made = Some((seen, mesh));
        for flag in self.placed.iter().filter(|flag| painting.shows(flag)) {
            painting.flag_number(flag);
        }
    }

    /// The flags as they were put up last.
    pub fn placed(&self) -> &[PlacedFlag] {
        &self.placed
    }

    /// The flag at a point.
    pub fn at(&self, point: Point) -> Option<&PlacedFlag> {
        self.placed.iter().rev().find(|flag| flag.holds(point))
    }
}

fn form_of(severity: Severity) -> FlagForm {
    match severity {
        Severity::Danger => FlagForm::Diamond,
        Severity::Fault => FlagForm::Triangle,
        Severity::Doubt => FlagForm::Circle,
        Severity::Note => FlagForm::Square,
    }
}

fn mesh(flags: &[PlacedFlag], painting: &Painting<'_>, chosen: Option<usize>) -> Mesh {
    let pixels_per_point = painting.painter.ctx().pixels_per_point();
    // Nothing that is made here has a picture on it, so the size of the typeface's picture plays no part.
    let mut tessellator = Tessellator::new(pixels_per_point, TessellationOptions::default(), [1, 1], Vec::new());
    let mut mesh = Mesh::default();
    let seen = || flags.iter().filter(|flag| painting.shows(flag));
    let lines = seen().flat_map(|flag| painting.flag_line(flag));
    let frames =
        seen().flat_map(|flag| painting.flag_frame(flag, chosen.is_some_and(|number| flag.numbers.contains(&number))));
    for shape in lines.chain(frames) {
        tessellator.tessellate_shape(shape, &mut mesh);
    }
    mesh
}
