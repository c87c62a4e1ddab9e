//! In place of pages where this build leaves paper out: there are never any, and whoever asks is told.

use crate::sheet::PagePicture;

use super::{NO_PAPER, PaperOrder, PictureForm, Subject};

/// There are never any.
#[derive(Debug)]
pub enum PrintedPages {}

/// Asked and told while pages are made: how far it is, 0 to 1; `false` ends the work.
pub type GoOn<'a> = &'a (dyn Fn(f64) -> bool + Sync);

#[expect(clippy::missing_errors_doc, reason = "as of the pages that there are with the feature 'sheet'")]
impl PrintedPages {
    /// Says that this build leaves paper out.
    pub fn of(_: &Subject<'_>, _: &PaperOrder, _: GoOn<'_>) -> Result<Option<Self>, String> {
        Err(NO_PAPER.to_owned())
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        match *self {}
    }

    /// Width and height of each in millimetres.
    pub fn sizes_mm(&self) -> Vec<[f64; 2]> {
        match *self {}
    }

    /// Letters that the typeface does not have.
    pub fn letters_missing(&self) -> String {
        match *self {}
    }

    /// All as one PDF.
    pub fn pdf(&self) -> Result<Vec<u8>, String> {
        match *self {}
    }

    /// One page as a picture in a file.
    pub fn file(&self, _: usize, _: PictureForm) -> Result<Vec<u8>, String> {
        match *self {}
    }

    /// One page as dots on a screen.
    pub fn picture(&self, _: usize, _: f64) -> Result<PagePicture, String> {
        match *self {}
    }
}
