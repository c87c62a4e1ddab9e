//! Pages and lists into files.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::machine::Machine;
use crate::sheet::{Worked, reading_table, wire_table, workbook};
use crate::store::write_whole;

use super::{GoOn, ListFile, PageForm, PrintedPages};

/// What was written.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Written {
    /// The files, in order; of a sheet in pictures one for each page.
    pub files: Vec<PathBuf>,
    /// What is in them, in words: `9 pages`, `31 wires`.
    pub what: String,
    /// What to know about it; empty where there is nothing.
    pub remark: String,
}

/// Writes pages in their form. A picture has one page: of more, each gets a number behind its name. `None` when it was ended before all
/// were written.
///
/// # Errors
/// A sentence that names the file, why it was not written, and what to do.
pub fn write_pages(
    pages: &PrintedPages,
    output: &Path,
    form: PageForm,
    go_on: GoOn<'_>,
) -> Result<Option<Written>, String> {
    let count = pages.count();
    let of_file = |why: String| format!("{}: {why}", output.display());
    let mut files = Vec::new();
    match form {
        PageForm::Pdf => {
            write(output, &pages.pdf().map_err(of_file)?)?;
            files.push(output.to_owned());
        }
        PageForm::Pictures(form) => {
            for page in 0..count {
                if !go_on(page as f64 / count.max(1) as f64) {
                    return Ok(None);
                }
                let file = if count == 1 { output.to_owned() } else { numbered(output, page + 1, count) };
                write(&file, &pages.file(page, form).map_err(of_file)?)?;
                files.push(file);
            }
        }
    }
    let missing = pages.letters_missing();
    let remark = if missing.is_empty() {
        String::new()
    } else {
        format!("The typeface of the sheet does not have these letters, which come out as boxes: {missing}")
    };
    let what = if count == 1 { "1 page".to_owned() } else { format!("{count} pages") };
    Ok(Some(Written { files, what, remark }))
}

/// `sheet.png` is `sheet-01.png`, `sheet-02.png`, ...
pub(super) fn numbered(output: &Path, number: usize, of: usize) -> PathBuf {
    let digits = of.to_string().len().max(2);
    let stem = output.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    let ending = output.extension().map(|ending| ending.to_string_lossy().into_owned()).unwrap_or_default();
    output.with_file_name(format!("{stem}-{number:0digits$}.{ending}"))
}

/// A list as the bytes of its file, with what is in it in words.
///
/// # Errors
/// Why the library that writes it would not.
pub fn list_file(
    machine: &Arc<Machine>,
    catalogue: &Arc<Catalogue>,
    list: ListFile,
) -> Result<(Vec<u8>, String), String> {
    let worked = Worked::of(machine, catalogue, &BTreeSet::new());
    let readings = || reading_table(machine, &worked.judgement);
    let wires_words = format!("{} wires", machine.wires.len());
    let readings_words = format!("{} readings", machine.readings.len());
    let mut bytes = Vec::new();
    let not_written = |why: csv::Error| format!("the list could not be written: {why}");
    match list {
        ListFile::Wires => {
            wire_table(&worked).write_csv(&mut bytes).map_err(not_written)?;
            Ok((bytes, wires_words))
        }
        ListFile::Readings => {
            readings().write_csv(&mut bytes).map_err(not_written)?;
            Ok((bytes, readings_words))
        }
        ListFile::Workbook => {
            let bytes = workbook(&[wire_table(&worked), readings()], &machine.facts.title);
            Ok((bytes.map_err(|why| why.to_string())?, format!("{wires_words}, {readings_words}")))
        }
    }
}

pub(super) fn write(output: &Path, bytes: &[u8]) -> Result<(), String> {
    write_whole(output, bytes).map_err(|why| {
        format!(
            "{}: could not be written: {why}; check the folder, its free space and your permissions",
            output.display()
        )
    })
}
