//! The stage of the sheet: what goes on paper is chosen at the left, its pages are read in the middle, and written or printed.

mod bar;
mod choices;
mod outward;
mod preview;
mod viewer;

use std::collections::BTreeSet;

use crate::desk::{PaperOrder, Print, Section};

use super::prefs::Prefs;

pub use bar::show as bar;
pub use choices::show as choices;
pub(super) use outward::{with_form, would_replace};
pub use preview::Preview;
pub use viewer::{Opener, Viewer};

/// Something that is written into a file.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Out {
    /// The pages as PDF.
    Pdf,
    /// The pages as pictures.
    Pictures,
    /// The wire list as CSV.
    Wires,
    /// The readings as CSV.
    Readings,
    /// All lists in one workbook.
    Workbook,
    /// The connection diagram alone, as SVG.
    Drawing,
    /// The record, its photos and the copies of its visits.
    Pack,
}

impl Out {
    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Pdf => "Save as PDF",
            Self::Pictures => "Save as pictures",
            Self::Wires => "Save the wire list",
            Self::Readings => "Save the readings",
            Self::Workbook => "Save a workbook of both lists",
            Self::Drawing => "Save the drawing",
            Self::Pack => "Pack record and photos",
        }
    }

    /// On its key, with its form.
    pub fn key_words(self) -> &'static str {
        match self {
            Self::Pdf => "Save as PDF…",
            Self::Pictures => "Save as pictures…",
            Self::Wires => "Wire list (CSV)…",
            Self::Readings => "Readings (CSV)…",
            Self::Workbook => "Both as a workbook (XLSX)…",
            Self::Drawing => "Drawing (SVG)…",
            Self::Pack => "Pack record and photos into one file…",
        }
    }

    /// The name of the field for its path.
    pub fn path_name(self) -> &'static str {
        match self {
            Self::Pdf => "Path of the PDF to write",
            Self::Pictures => "Path of the pictures to write, .png or .svg",
            Self::Wires => "Path of the wire list to write",
            Self::Readings => "Path of the readings to write",
            Self::Workbook => "Path of the workbook to write",
            Self::Drawing => "Path of the drawing to write",
            Self::Pack => "Path of the pack to write",
        }
    }

    /// Endings of its files; the first is put behind a name without one.
    pub fn endings(self) -> &'static [&'static str] {
        match self {
            Self::Pdf => &["pdf"],
            Self::Pictures => &["png", "svg"],
            Self::Wires | Self::Readings => &["csv"],
            Self::Workbook => &["xlsx"],
            Self::Drawing => &["svg"],
            Self::Pack => &["zip"],
        }
    }

    /// What comes behind the name of the record.
    fn behind(self, print: Print) -> &'static str {
        match (self, print) {
            (Self::Pdf | Self::Pictures, Print::Labels) => "-labels",
            (Self::Pdf | Self::Pictures, _) => "-sheet",
            (Self::Wires, _) => "-wires",
            (Self::Readings, _) => "-readings",
            (Self::Workbook, _) => "-lists",
            (Self::Drawing, _) => "-drawing",
            (Self::Pack, _) => "",
        }
    }
}

/// How near a page is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Zoom {
    /// As wide as the room.
    #[default]
    Width,
    /// The whole page.
    Page,
    /// So many times its size on paper.
    Times(f32),
}

/// What goes on paper, and which page is looked at.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct PaperView {
    /// The sheet or labels.
    pub print: Print,
    /// Sections that are left out, in the order of [`Section::ALL`].
    pub left_out: [bool; Section::ALL.len()],
    /// Pages are wanted, and made anew when something changes.
    pub wanted: bool,
    /// The page that is looked at, from 0.
    pub page: usize,
    /// How near.
    pub zoom: Zoom,
}

/// Asks for something about paper.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum PaperRequest {
    /// The sheet, or labels.
    Print(Print),
    /// A section goes on the sheet, or does not.
    Section(Section, bool),
    /// All sections that can be left out go on the sheet, or none of them.
    AllSections(bool),
    /// Make the pages.
    Make,
    /// Make them no more.
    Stop,
    /// Look at this page, from 0.
    Page(usize),
    /// Look from this near.
    Zoom(Zoom),
    /// Ask where to write something.
    Write(Out),
    /// Hand the pages to the program of this system that shows and prints them.
    View,
    /// Ask for a shop's template.
    Template,
    /// Ask for a packed record to open.
    Unpack,
}

/// The sections that can be left out: every sheet has its title and its cautions.
pub(super) fn optional() -> impl Iterator<Item = (usize, Section)> {
    Section::ALL.into_iter().enumerate().filter(|(_, section)| !matches!(section, Section::Title | Section::Cautions))
}

impl PaperView {
    /// What is ordered, on the paper of this computer.
    pub fn order(&self, prefs: &Prefs) -> PaperOrder {
        let kept = |(place, section): (usize, Section)| (!self.left_out.get(place)?).then_some(section);
        let all: BTreeSet<Section> = optional().filter_map(kept).collect();
        // All sections are what is laid out where none is named; none of them are title and cautions, which come along.
        let only = match all.len() {
            count if count == optional().count() => BTreeSet::new(),
            0 => BTreeSet::from([Section::Title]),
            _ => all,
        };
        let template = prefs.paper.template.trim();
        PaperOrder {
            print: self.print,
            format: if prefs.paper.letter { crate::desk::Format::Letter } else { crate::desk::Format::A4 },
            lying: prefs.paper.landscape && self.print == Print::Sheet,
            only: if self.print == Print::Sheet { only } else { BTreeSet::new() },
            template: (!template.is_empty() && self.print == Print::Sheet).then(|| template.into()),
        }
    }
}

/// A section in words.
pub(super) fn section_words(section: Section) -> &'static str {
    match section {
        Section::Title => "Title block",
        Section::Cautions => "Cautions",
        Section::Photos => "Photos with wires",
        Section::Diagram => "Connection diagram",
        Section::Ladder => "Ladder diagram",
        Section::Wires => "Wire list",
        Section::Terminals => "Terminals by part",
        Section::Readings => "Readings",
        Section::Findings => "Findings",
        Section::Dead => "Dead wiring",
        Section::Mysteries => "What is not known",
        Section::NextVisit => "Next visit",
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn what_is_left_out_is_not_ordered_and_title_and_cautions_always_are() {
        let mut view = PaperView::default();
        let all: BTreeSet<Section> = Section::ALL.into_iter().collect();
        assert_eq!(view.order(&Prefs::default()).wanted(), all);
        for (place, section) in optional() {
            view.left_out[place] = true;
            assert!(!view.order(&Prefs::default()).wanted().contains(&section), "{section:?}");
        }
        let least = view.order(&Prefs::default()).wanted();
        assert_eq!(least, BTreeSet::from([Section::Title, Section::Cautions]));
    }
}
