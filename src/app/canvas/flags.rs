//! The flags of findings on the canvas: where each stands at the present scale, and which one lies under the pointer.

use crate::desk::Derived;
use crate::drawing::{FlagForm, Mark, PlacedFlag, placed_flags};
use crate::findings::Severity;
use crate::machine::Point;

/// The flags, kept while findings and scale stay.
#[derive(Default)]
pub struct Flags {
    marks: Vec<Mark>,
    placed: Vec<PlacedFlag>,
    size_mm: f64,
}

impl Flags {
    /// Takes in other results. Notes and what was accepted have no flag.
    pub fn take(&mut self, derived: &Derived) {
        self.marks = (1..)
            .zip(&derived.findings)
            .filter(|(_, finding)| !finding.is_accepted() && finding.severity != Severity::Note)
            .filter_map(|(number, finding)| {
                let form = form_of(finding.severity);
                finding.about.iter().find_map(|thing| Mark::new(&derived.scene, thing, form, number))
            })
            .collect();
        self.size_mm = 0.0;
    }

    /// The flags at this height of their figures.
    pub fn at_size(&mut self, size_mm: f64) -> &[PlacedFlag] {
        if self.size_mm.to_bits() != size_mm.to_bits() {
            self.size_mm = size_mm;
            self.placed = placed_flags(&self.marks, size_mm);
        }
        &self.placed
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
