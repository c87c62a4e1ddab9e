//! Pages laid out of a record, for the window and the commands alike: the sheet, labels, the drawing.

use std::collections::{BTreeMap, BTreeSet};
use std::path::{Path, PathBuf};

use crate::drawing::style_of;
use crate::ladder::{Options, lay_out};
use crate::machine::{Machine, PhotoId};
use crate::sheet::paper::{self, Pages, PaperError, Template};
use crate::sheet::{Content, Given, PagePicture, Paper, Section, Worked, labels};
use crate::store::photos;
use crate::tracing;

use super::{PaperOrder, PictureForm, Print, Subject};

/// Dots to the inch of pages as pictures: enough to be read on a screen and to be printed.
const DOTS: f64 = 150.0;

/// Pages laid out.
#[derive(Debug)]
pub struct PrintedPages(Pages);

/// Asked and told while pages are made: how far it is, 0 to 1; `false` ends the work.
pub type GoOn<'a> = &'a (dyn Fn(f64) -> bool + Sync);

impl PrintedPages {
    /// Lays out what is ordered; `None` when it was ended before.
    ///
    /// # Errors
    /// A sentence that names the template or the record, the place, and what to do.
    pub fn of(subject: &Subject<'_>, order: &PaperOrder, go_on: GoOn<'_>) -> Result<Option<Self>, String> {
        let sections = match order.print {
            Print::Sheet => order.wanted(),
            Print::Labels | Print::Drawing => BTreeSet::new(),
        };
        let template = order.template.as_deref().filter(|_| order.print == Print::Sheet).map(template).transpose()?;
        let worked = Worked::while_wanted(subject.machine, subject.catalogue, &sections, &|| go_on(0.05));
        if !go_on(0.4) {
            return Ok(None);
        }
        let files = if sections.contains(&Section::Photos) {
            photo_files(subject.machine, subject.photos_beside)
        } else {
            BTreeMap::new()
        };
        let ladder = if sections.contains(&Section::Ladder) {
            let options = Options { style: style_of(subject.machine) };
            lay_out(subject.machine, subject.catalogue, &options).drawings()
        } else {
            Vec::new()
        };
        let lying = order.lying && order.print == Print::Sheet;
        let (mut content, pictures) = Content::of(&Given {
            machine: subject.machine,
            catalogue: subject.catalogue,
            worked: &worked,
            identity: &subject.identity,
            photos: &files,
            ladder: &ladder,
            paper: Paper::new(order.format, lying),
            sections: &sections,
        });
        if !go_on(0.6) {
            return Ok(None);
        }
        let laid = match order.print {
            Print::Sheet => paper::sheet(&content, pictures, template.as_ref()),
            Print::Labels => paper::label_page(&content, &labels(&worked)),
            Print::Drawing => {
                content.draw_whole(&worked.shown, subject.catalogue);
                paper::drawing(&content)
            }
        };
        let laid = laid.map_err(|why| match why {
            // It names the template's own file and place.
            PaperError::Layout(told) if told.contains(": ") => told,
            why => format!("{}: {why}", subject.name),
        })?;
        Ok(go_on(1.0).then_some(Self(laid)))
    }

    /// How many there are.
    pub fn count(&self) -> usize {
        self.0.count()
    }

    /// Width and height of each in millimetres.
    pub fn sizes_mm(&self) -> Vec<[f64; 2]> {
        self.0.sizes_mm()
    }

    /// Letters that come out as boxes, because the typeface of the sheet does not have them.
    pub fn letters_missing(&self) -> String {
        self.0.letters_missing().into_iter().collect()
    }

    /// All as one PDF.
    ///
    /// # Errors
    /// What could not be written.
    pub fn pdf(&self) -> Result<Vec<u8>, String> {
        self.0.pdf().map_err(|why| why.to_string())
    }

    /// One page as a picture in a file, from 0.
    ///
    /// # Errors
    /// What could not be painted.
    pub fn file(&self, page: usize, form: PictureForm) -> Result<Vec<u8>, String> {
        match form {
            PictureForm::Svg => {
                self.0.svg(page).map(String::into_bytes).ok_or(format!("there is no page {}", page + 1))
            }
            PictureForm::Png => self.0.png(page, DOTS).map_err(|why| why.to_string()),
        }
    }

    /// One page as dots on a screen, from 0.
    ///
    /// # Errors
    /// No page of that number.
    pub fn picture(&self, page: usize, dots_per_inch: f64) -> Result<PagePicture, String> {
        self.0.picture(page, dots_per_inch).map_err(|why| why.to_string())
    }
}

/// Files of photos, each from the first of the records beside which it lies. One that cannot be read is left out; the sheet says so in its place.
fn photo_files(machine: &Machine, beside: &[PathBuf]) -> BTreeMap<PhotoId, Vec<u8>> {
    let bytes = |photo| {
        beside
            .iter()
            .filter_map(|record| photos::path_of(record, photo))
            .find_map(|path| tracing::read_file(&path).ok())
    };
    machine.photos.iter().filter_map(|(id, photo)| Some((id, bytes(photo)?))).collect()
}

fn template(file: &Path) -> Result<Template, String> {
    let name = file.file_name().and_then(|name| name.to_str()).filter(|_| file.is_file());
    let name = name.ok_or_else(|| format!("{}: there is no such template; check the name", file.display()))?;
    let folder = file.parent().filter(|folder| !folder.as_os_str().is_empty()).unwrap_or(Path::new("."));
    Ok(Template { folder: folder.to_owned(), file: name.to_owned() })
}
