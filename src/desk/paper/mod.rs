//! The wiring sheet, labels and lists of the record as it stands on the desk: laid out and written beside the window.
//!
//! What the commands put on paper goes the same way ([`PrintedPages::of`], [`write_pages`], [`list_file`]).

mod files;
#[cfg(not(feature = "sheet"))]
mod left_out;
#[cfg(feature = "sheet")]
mod pages;
mod work;

use std::collections::BTreeSet;
use std::path::PathBuf;
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::machine::Machine;
use crate::sheet::Identity;

pub use crate::sheet::{Format, PagePicture, Section};
pub use files::{Written, list_file, write_pages};
#[cfg(not(feature = "sheet"))]
pub use left_out::{GoOn, PrintedPages};
#[cfg(feature = "sheet")]
pub use pages::{GoOn, PrintedPages};
pub use work::{LaidPages, PagesState};
pub(super) use work::{PaperOutcome, Papers};

/// What is told where this build leaves paper out.
pub const NO_PAPER: &str = "this build leaves paper out; use one with the feature 'sheet'";

/// Whether this build can lay out pages.
pub const HAS_PAPER: bool = cfg!(feature = "sheet");

/// What is laid out on pages.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Print {
    /// The wiring sheet.
    #[default]
    Sheet,
    /// Labels for wires.
    Labels,
    /// The connection diagram alone, on paper of its own size.
    Drawing,
}

/// What is wanted on paper, and how.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PaperOrder {
    /// What is laid out.
    pub print: Print,
    /// On which paper.
    pub format: Format,
    /// Every page on its long side; else those that are the better for it.
    pub lying: bool,
    /// Only these sections of the sheet, besides title and cautions; all where none is named.
    pub only: BTreeSet<Section>,
    /// A shop's own template for the sheet.
    pub template: Option<PathBuf>,
}

impl PaperOrder {
    /// The sections that are laid out.
    pub fn wanted(&self) -> BTreeSet<Section> {
        let only: Vec<Section> = self.only.iter().copied().collect();
        Section::wanted(&only)
    }
}

/// What pages are made of.
#[derive(Debug, Clone)]
pub struct Subject<'a> {
    /// The record.
    pub machine: &'a Arc<Machine>,
    /// The kinds of part.
    pub catalogue: &'a Arc<Catalogue>,
    /// How the record is called on paper.
    pub identity: Identity,
    /// What errors call it.
    pub name: String,
    /// Its photos lie beside one of these.
    pub photos_beside: &'a [PathBuf],
}

/// A picture's form.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PictureForm {
    /// Lines and letters, SVG.
    Svg,
    /// Dots, PNG.
    Png,
}

/// The form pages are written in.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PageForm {
    /// One PDF.
    Pdf,
    /// A picture for each page.
    Pictures(PictureForm),
}

impl PageForm {
    /// The form that goes by the ending of a file.
    pub fn by_ending(ending: &str) -> Option<Self> {
        match ending.to_lowercase().as_str() {
            "pdf" => Some(Self::Pdf),
            "svg" => Some(Self::Pictures(PictureForm::Svg)),
            "png" => Some(Self::Pictures(PictureForm::Png)),
            _ => None,
        }
    }
}

/// A list for other programs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum ListFile {
    /// The wire list as CSV.
    Wires,
    /// The log of readings as CSV.
    Readings,
    /// All lists in one workbook (XLSX).
    Workbook,
}

/// What is written into a file.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum ToWrite {
    /// Pages.
    Pages(PaperOrder, PageForm),
    /// A list.
    List(ListFile),
    /// The record with its photos and the copies of its visits.
    Pack,
}
