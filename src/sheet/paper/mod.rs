//! Lays a sheet out on pages and writes them as PDF, SVG or PNG. The only place that names the typesetting library.
//!
//! The typesetter gets the content as data, never as its own source, so nothing that stands in a record is taken for a command. A shop's
//! template is source: it is a file of the shop's own, and reads nothing outside of its folder.

mod code;
mod measure;
mod world;

use std::collections::BTreeMap;
use std::path::PathBuf;

use serde::Serialize;
use thiserror::Error;
use typst::diag::{Severity, SourceDiagnostic};
use typst::foundations::{Label as TypstLabel, Smart};
use typst::introspection::Introspector;
use typst::layout::Abs;
use typst::utils::{PicoStr, Scalar};
use typst::{World, WorldExt};
use typst_layout::PagedDocument;
use typst_pdf::PdfOptions;
use typst_render::RenderOptions;
use typst_svg::SvgOptions;

use super::content::Content;
use super::labels::Label;
use super::page::PagePicture;

pub use measure::{Letters, Measured};
use world::PaperWorld;

/// A shop's own template.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Template {
    /// The folder it lies in; it may use files of this folder and of those below it.
    pub folder: PathBuf,
    /// Its file in the folder.
    pub file: String,
}

/// Why there is no sheet.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum PaperError {
    /// The layout failed: at which place, why, and what to do.
    #[error("{0}")]
    Layout(String),
    /// A template leaves out what every sheet has to say.
    #[error("the template leaves out {0}; every sheet has it: call ww.{0}(record), or leave '{0}' among its sections")]
    LeftOut(&'static str),
    /// The pages could not be written in this form.
    #[error("the pages could not be written: {0}")]
    Written(String),
}

/// Pages laid out.
#[derive(Debug)]
pub struct Pages {
    document: PagedDocument,
    ident: String,
}

fn painting(dots_per_inch: f64) -> RenderOptions {
    RenderOptions { pixel_per_pt: Scalar::new(dots_per_inch / Abs::inches(1.0).to_pt()), render_bleed: false }
}

fn no_page(page: usize) -> PaperError {
    PaperError::Written(format!("there is no page {}", page + 1))
}

/// What is laid out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum What {
    Sheet,
    Drawing,
    Labels,
}

#[derive(Serialize)]
struct Data<'a> {
    #[serde(flatten)]
    content: &'a Content,
    code: code::Dots,
    labels: &'a [Label],
}

/// Lays a sheet out. `pictures` are those its figures call for.
///
/// # Errors
/// What is wrong with the template, or a record that cannot be laid out.
pub fn sheet(
    content: &Content,
    pictures: BTreeMap<String, Vec<u8>>,
    template: Option<&Template>,
) -> Result<Pages, PaperError> {
    let pages = lay_out(content, &[], pictures, template, What::Sheet)?;
    for (name, label) in [("title-block", "title"), ("cautions", "cautions")] {
        let label =
            TypstLabel::new(PicoStr::intern(label)).map(|label| pages.document.introspector().label_count(label));
        if label == Some(0) {
            return Err(PaperError::LeftOut(name));
        }
    }
    Ok(pages)
}

/// Lays the connection diagram out alone, on paper of its own size.
///
/// # Errors
/// A record that cannot be laid out.
pub fn drawing(content: &Content) -> Result<Pages, PaperError> {
    lay_out(content, &[], BTreeMap::new(), None, What::Drawing)
}

/// Lays out labels to be cut out.
///
/// # Errors
/// A record that cannot be laid out.
pub fn label_page(content: &Content, labels: &[Label]) -> Result<Pages, PaperError> {
    lay_out(content, labels, BTreeMap::new(), None, What::Labels)
}

fn lay_out(
    content: &Content,
    labels: &[Label],
    pictures: BTreeMap<String, Vec<u8>>,
    template: Option<&Template>,
    what: What,
) -> Result<Pages, PaperError> {
    let data = Data { content, code: code::Dots::of(&content.title.code), labels };
    let json = serde_json::to_vec(&data).map_err(|why| PaperError::Layout(why.to_string()))?;
    let call = match (what, template) {
        (What::Sheet, None) => "#import \"/ww/wirewitness.typ\": sheet\n#sheet(json(\"/ww/record.json\"))\n".to_owned(),
        (What::Sheet, Some(template)) => {
            // A name with a quote in it would end the text it stands in.
            let file = template.file.replace('\\', "\\\\").replace('"', "\\\"");
            format!("#import \"/{file}\": sheet\n#sheet(json(\"/ww/record.json\"))\n")
        }
        (What::Drawing, _) => "#import \"/ww/wirewitness.typ\": alone\n#alone(json(\"/ww/record.json\"))\n".to_owned(),
        (What::Labels, _) => {
            "#import \"/ww/wirewitness.typ\": label-page\n#label-page(json(\"/ww/record.json\"))\n".to_owned()
        }
    };
    let world = PaperWorld::new(call, json, pictures, template.map(|template| template.folder.clone()));
    let laid = typst::compile::<PagedDocument>(&world).output;
    // What it remembers of one sheet is of no use to the next, and can be large.
    typst::comemo::evict(0);
    let document = laid.map_err(|why| PaperError::Layout(told(&world, &why)))?;
    Ok(Pages { document, ident: content.title.code.clone() })
}

/// Errors as `file:line:column: message`, each with its advice.
fn told(world: &PaperWorld, errors: &[SourceDiagnostic]) -> String {
    let one = |error: &SourceDiagnostic| {
        let place = error.span.id().and_then(|id| {
            let lines = world.source(id).ok()?;
            let start = world.range(error.span)?.start;
            let (line, column) = lines.lines().byte_to_line_column(start)?;
            Some(format!("{}:{}:{}: ", world.name_of(id), line + 1, column + 1))
        });
        let mut words = vec![error.message.to_string()];
        words.extend(error.hints.iter().map(|hint| hint.v.to_string()));
        format!("{}{}", place.unwrap_or_default(), words.join("; "))
    };
    let found: Vec<String> = errors.iter().filter(|error| error.severity == Severity::Error).map(one).collect();
    found.join("\n")
}

impl Pages {
    /// How many there are.
    pub fn count(&self) -> usize {
        self.document.pages().len()
    }

    /// As one PDF: letters can be searched and copied, the typeface is embedded, the structure is tagged. No time is written into it.
    ///
    /// # Errors
    /// What the library says.
    pub fn pdf(&self) -> Result<Vec<u8>, PaperError> {
        let options = PdfOptions {
            ident: Smart::Custom(self.ident.clone()),
            creator: Smart::Custom(Some("Wirewitness".to_owned())),
            ..PdfOptions::default()
        };
        let written = typst_pdf::pdf(&self.document, &options);
        typst::comemo::evict(0);
        written.map_err(|errors| {
            PaperError::Written(errors.iter().map(|error| error.message.to_string()).collect::<Vec<_>>().join("; "))
        })
    }

    /// Width and height of each page in millimetres.
    pub fn sizes_mm(&self) -> Vec<[f64; 2]> {
        self.document.pages().iter().map(|page| [page.frame.width().to_mm(), page.frame.height().to_mm()]).collect()
    }

    /// One page as an SVG, from 0; `None` where there is no such page.
    pub fn svg(&self, page: usize) -> Option<String> {
        Some(typst_svg::svg(self.document.pages().get(page)?, &SvgOptions::default()))
    }

    /// Each page as an SVG of its own.
    pub fn svgs(&self) -> Vec<String> {
        (0..self.count()).filter_map(|page| self.svg(page)).collect()
    }

    /// One page as a PNG of so many dots to the inch, from 0.
    ///
    /// # Errors
    /// A page too large to be painted, or none of that number.
    pub fn png(&self, page: usize, dots_per_inch: f64) -> Result<Vec<u8>, PaperError> {
        let page = self.document.pages().get(page).ok_or_else(|| no_page(page))?;
        let painted = typst_render::render(page, &painting(dots_per_inch));
        painted.encode_png().map_err(|why| PaperError::Written(why.to_string()))
    }

    /// Each page as a PNG of so many dots to the inch.
    ///
    /// # Errors
    /// A page too large to be painted.
    pub fn pngs(&self, dots_per_inch: f64) -> Result<Vec<Vec<u8>>, PaperError> {
        (0..self.count()).map(|page| self.png(page, dots_per_inch)).collect()
    }

    /// One page as dots on a screen, from 0.
    ///
    /// # Errors
    /// No page of that number.
    pub fn picture(&self, page: usize, dots_per_inch: f64) -> Result<PagePicture, PaperError> {
        let page = self.document.pages().get(page).ok_or_else(|| no_page(page))?;
        let painted = typst_render::render(page, &painting(dots_per_inch));
        Ok(PagePicture { size: [painted.width(), painted.height()], rgba: painted.take() })
    }

    /// Every run of letters with where it lies, page by page.
    pub fn measured(&self) -> Vec<Measured> {
        self.document.pages().iter().map(|page| Measured::of(&page.frame)).collect()
    }

    /// Letters that the typeface of the sheet does not have, in order of the alphabet: they come out as empty boxes.
    pub fn letters_missing(&self) -> Vec<char> {
        let mut all: Vec<char> = self.measured().into_iter().flat_map(|page| page.missing).collect();
        all.sort_unstable();
        all.dedup();
        all
    }
}
