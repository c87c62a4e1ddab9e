//! Reads a record from a file, whatever its format version, and turns a record into text.

use std::fmt;
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};
use thiserror::Error;

use crate::catalogue::{Catalogue, FileError};
use crate::machine::Machine;

use super::frozen;
use super::layout::laid_out;
use super::photos;
use super::problem::{Problem, Sort};
use super::tree::Places;
use super::v1;

/// The format this program writes.
pub const FORMAT: u32 = v1::FORMAT;

/// A record with where it came from.
#[derive(Debug, Clone, PartialEq)]
pub struct Loaded {
    /// The record.
    pub machine: Machine,
    /// What is odd but does not keep the record from being used, each with its place.
    pub remarks: Vec<FileError>,
    /// SHA-256 of the file as it was read, in lower-case hexadecimal: saving compares it with what lies there then.
    pub hash: String,
}

/// Everything that keeps a text from being a record; one line each as `file:line:column: message`.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub struct LoadErrors(pub Vec<FileError>);

impl fmt::Display for LoadErrors {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        for (index, error) in self.0.iter().enumerate() {
            if index > 0 {
                f.write_str("\n")?;
            }
            write!(f, "{error}")?;
        }
        Ok(())
    }
}

/// Why a file could not be opened as a record. The file is as it was.
#[derive(Debug, Error)]
pub enum LoadError {
    /// It could not be read at all.
    #[error("{path}: {advice} ({source})", path = path.display())]
    Unreadable {
        /// The file.
        path: PathBuf,
        /// What to do.
        advice: &'static str,
        /// What the system said.
        source: io::Error,
    },
    /// It is no record, or one that contradicts itself.
    #[error(transparent)]
    Wrong(#[from] LoadErrors),
}

/// Opens a record.
///
/// # Errors
/// Says what is wrong, where, and what to do. The file is never changed.
pub fn load(path: &Path, catalogue: &Catalogue) -> Result<Loaded, LoadError> {
    load_with(path, catalogue, false).map(|read| with_beside(path, read))
}

/// Opens a record even where the catalogue lacks a kind, terminal or switch that it speaks of: each is a remark.
///
/// For what the program wrote itself (autosaves, frozen copies), which must not be lost because a catalogue changed.
///
/// # Errors
/// As [`load`].
pub fn load_leniently(path: &Path, catalogue: &Catalogue) -> Result<Loaded, LoadError> {
    load_with(path, catalogue, true).map(|read| with_beside(path, read))
}

/// Opens a copy of a record, which lies somewhere else than its photos.
pub(super) fn load_copy(path: &Path, catalogue: &Catalogue) -> Result<Loaded, LoadError> {
    load_with(path, catalogue, true).map(|(loaded, _)| loaded)
}

/// Adds a remark for each photo whose picture is missing, and for each missing copy of a visit.
fn with_beside(path: &Path, (mut loaded, text): (Loaded, String)) -> Loaded {
    loaded.remarks.extend(photos::missing(&loaded.machine, path, &text));
    loaded.remarks.extend(frozen::missing(&loaded.machine, path, &text));
    loaded
}

/// The record and the text it was read from.
fn load_with(path: &Path, catalogue: &Catalogue, lenient: bool) -> Result<(Loaded, String), LoadError> {
    let bytes = std::fs::read(path).map_err(|source| LoadError::Unreadable {
        path: path.to_owned(),
        advice: match source.kind() {
            io::ErrorKind::NotFound => "there is no such file; check the name",
            io::ErrorKind::PermissionDenied => "you may not read this file; check its permissions",
            _ => "the file could not be read; check the disk or the connection to it",
        },
        source,
    })?;
    let file = path.display().to_string();
    let hash = hash_of(&bytes);
    let text = String::from_utf8(bytes).map_err(|error| not_text(&file, &error))?;
    let (machine, remarks) = read(&file, &text, catalogue, lenient)?;
    Ok((Loaded { machine, remarks, hash }, text))
}

/// Where bytes stop to be text.
fn not_text(file: &str, error: &std::string::FromUtf8Error) -> LoadErrors {
    let before = error.as_bytes().get(..error.utf8_error().valid_up_to()).unwrap_or_default();
    let text = String::from_utf8_lossy(before);
    let message = "this byte is not UTF-8 text: the file is damaged, or not a record; save it as UTF-8";
    LoadErrors(vec![FileError::at_offset(file, &text, text.len(), message)])
}

/// SHA-256 in lower-case hexadecimal.
pub fn hash_of(bytes: &[u8]) -> String {
    format!("{:x}", Sha256::digest(bytes))
}

/// Which side of a copy refused.
#[derive(Debug)]
pub(super) enum CopyError {
    Read(io::Error),
    Written(io::Error),
}

/// As [`hash_of`], of all that can be read, a piece at a time, with its length: no file is ever whole in memory. Each piece goes to `out` too.
pub(super) fn hash_and_copy(from: &mut impl Read, out: &mut impl Write) -> Result<(String, u64), CopyError> {
    let mut hash = Sha256::new();
    let mut length = 0;
    let mut piece = vec![0; 1 << 16];
    loop {
        let read = match from.read(&mut piece) {
            Ok(0) => return Ok((format!("{:x}", hash.finalize()), length)),
            Ok(read) => read,
            Err(why) if why.kind() == io::ErrorKind::Interrupted => continue,
            Err(why) => return Err(CopyError::Read(why)),
        };
        let read = piece.get(..read).unwrap_or_default();
        hash.update(read);
        out.write_all(read).map_err(CopyError::Written)?;
        length += read.len() as u64;
    }
}

/// Reads a record from text. `file` is only what messages call it.
///
/// # Errors
/// Where the text is not of the form, the first such place; else everything in it that makes no sense.
pub fn parse(file: &str, text: &str, catalogue: &Catalogue) -> Result<Machine, LoadErrors> {
    read(file, text, catalogue, false).map(|(machine, _)| machine)
}

/// As [`load_leniently`], from text; also gives the remarks.
///
/// # Errors
/// As [`parse`].
pub fn parse_leniently(file: &str, text: &str, catalogue: &Catalogue) -> Result<(Machine, Vec<FileError>), LoadErrors> {
    read(file, text, catalogue, true)
}

fn read(file: &str, text: &str, catalogue: &Catalogue, lenient: bool) -> Result<(Machine, Vec<FileError>), LoadErrors> {
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let places = Places::of(text);
    let one = |error| LoadErrors(vec![error]);
    let read = match format_of(file, &places).map_err(one)? {
        v1::FORMAT => v1::read(file, text, catalogue),
        other => Err(FileError::at_offset(file, text, places.tree.span.start, refused(other))),
    };
    let (machine, problems) = read.map_err(one)?;
    let (remarks, errors): (Vec<&Problem>, Vec<&Problem>) =
        problems.iter().partition(|problem| lenient && problem.sort == Sort::NotInCatalogue);
    let located = |problems: Vec<&Problem>| {
        let mut all: Vec<FileError> = problems.iter().map(|problem| problem.located(file, &places)).collect();
        all.sort();
        all.dedup();
        all
    };
    if errors.is_empty() { Ok((machine, located(remarks))) } else { Err(LoadErrors(located(errors))) }
}

fn refused(format: u32) -> String {
    if format > FORMAT {
        format!(
            "written by a newer Wirewitness: format {format}, this program reads up to {FORMAT}; update the program; \
             the file is untouched"
        )
    } else {
        format!("there is no format {format}; the first one is 1: write 'format: 1'")
    }
}

/// What the file says its format is.
fn format_of(file: &str, places: &Places<'_>) -> Result<u32, FileError> {
    let Places { text, tree, .. } = places;
    let wrong = |at: usize, message: String| FileError::at_offset(file, text, at, message);
    if tree.open.is_none() {
        return Err(wrong(
            tree.span.start,
            "this is no record: a record begins with '(' and 'format: 1'; was the right file chosen?".to_owned(),
        ));
    }
    let Some(format) = tree.member(text, "format") else {
        return Err(wrong(
            tree.span.start,
            format!("the file does not say its format; write 'format: {FORMAT},' as its first field"),
        ));
    };
    let written = text.get(format.span.clone()).unwrap_or("");
    let number = written
        .parse()
        .map_err(|_| wrong(format.span.start, format!("'{written}' is no format; write 'format: {FORMAT}'")))?;
    if number == 0 || number > FORMAT { Err(wrong(format.span.start, refused(number))) } else { Ok(number) }
}

/// The record as the text of a file, in its normal form: the same record always gives the same bytes.
pub fn text_of(machine: &Machine) -> String {
    laid_out(&v1::compact(machine))
}
