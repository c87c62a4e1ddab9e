//! `sheet`, `labels` and `export`: a record on paper, and its lists for other programs.

use std::io::Write;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::desk::{
    HAS_PAPER, ListFile, NO_PAPER, PageForm, PaperOrder, PictureForm, Print, PrintedPages, Subject, list_file,
    write_pages,
};
use crate::machine::Machine;
use crate::sheet::Identity;
use crate::store::{self, write_whole};

use super::FINE;
use super::args::{Export, Labels, List, Sheet};
use super::failure::Failure;
use super::kinds::catalogue;

/// A record with what it is called on paper.
struct Record {
    machine: Arc<Machine>,
    identity: Identity,
}

fn opened(file: &Path, catalogue: &Catalogue) -> Result<Record, Failure> {
    let loaded = store::load(file, catalogue).map_err(|error| Failure::Told(error.to_string()))?;
    let name = file.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    Ok(Record { machine: Arc::new(loaded.machine), identity: Identity::new(&name, &loaded.hash) })
}

/// The ending of a file to write, which says its form.
fn ending<'a>(output: &Path, known: &[&'a str]) -> Result<&'a str, Failure> {
    let own = output.extension().map(|ending| ending.to_string_lossy().to_lowercase()).unwrap_or_default();
    known.iter().copied().find(|ending| *ending == own).ok_or_else(|| {
        let forms = known.iter().map(|ending| format!(".{ending}")).collect::<Vec<_>>().join(", ");
        Failure::with_file(output, format_args!("the ending says the form, and this one is none of {forms}"))
    })
}

fn write(output: &Path, bytes: &[u8]) -> Result<(), Failure> {
    write_whole(output, bytes).map_err(|why| {
        Failure::with_file(
            output,
            format_args!("could not be written: {why}; check the folder, its free space and your permissions"),
        )
    })
}

/// `export`.
pub(super) fn export(what: &Export, kinds: Option<&Path>, out: &mut dyn Write) -> Result<u8, Failure> {
    let form = ending(&what.output, &["csv", "xlsx", "svg"])?;
    let list = match (form, what.list) {
        ("svg", _) => {
            let order = PaperOrder { print: Print::Drawing, ..PaperOrder::default() };
            let form = PageForm::Pictures(PictureForm::Svg);
            return printed(&what.file, &what.output, form, &order, kinds, out);
        }
        ("csv", List::Wires) => ListFile::Wires,
        ("csv", List::Readings) => ListFile::Readings,
        _ => ListFile::Workbook,
    };
    let catalogue = catalogue(kinds)?;
    let record = opened(&what.file, &catalogue)?;
    let (bytes, words) =
        list_file(&record.machine, &catalogue, list).map_err(|why| Failure::with_file(&what.output, why))?;
    write(&what.output, &bytes)?;
    writeln!(out, "{}: {words}", what.output.display())?;
    Ok(FINE)
}

/// `sheet`.
pub(super) fn run(what: &Sheet, kinds: Option<&Path>, out: &mut dyn Write) -> Result<u8, Failure> {
    let form = page_form(&what.output)?;
    let order = PaperOrder {
        print: Print::Sheet,
        format: what.paper,
        lying: what.landscape,
        only: what.only.iter().copied().collect(),
        template: what.template.clone(),
    };
    printed(&what.file, &what.output, form, &order, kinds, out)
}

/// `labels`.
pub(super) fn labels(what: &Labels, kinds: Option<&Path>, out: &mut dyn Write) -> Result<u8, Failure> {
    let form = page_form(&what.output)?;
    let order = PaperOrder { print: Print::Labels, format: what.paper, ..PaperOrder::default() };
    printed(&what.file, &what.output, form, &order, kinds, out)
}

fn page_form(output: &Path) -> Result<PageForm, Failure> {
    let form = ending(output, &["pdf", "svg", "png"])?;
    PageForm::by_ending(form).ok_or_else(|| Failure::with_file(output, "this ending says no form of pages"))
}

/// Lays pages out and writes them.
fn printed(
    file: &Path,
    output: &Path,
    form: PageForm,
    order: &PaperOrder,
    kinds: Option<&Path>,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    let record = opened(file, &catalogue)?;
    if !HAS_PAPER {
        return Err(Failure::Told(NO_PAPER.to_owned()));
    }
    let beside: [PathBuf; 1] = [file.to_owned()];
    let subject = Subject {
        machine: &record.machine,
        catalogue: &catalogue,
        identity: record.identity,
        name: file.display().to_string(),
        photos_beside: &beside,
    };
    let to_the_end = |_| true;
    let pages = PrintedPages::of(&subject, order, &to_the_end).map_err(Failure::Told)?;
    let written =
        pages.map(|pages| write_pages(&pages, output, form, &to_the_end).map_err(Failure::Told)).transpose()?;
    // Nobody ends it before, so there are pages.
    let Some(written) = written.flatten() else { return Ok(FINE) };
    let first = written.files.first().map_or(output, PathBuf::as_path);
    writeln!(out, "{}: {}", first.display(), written.what)?;
    if !written.remark.is_empty() {
        writeln!(out, "{}", written.remark)?;
    }
    Ok(FINE)
}
