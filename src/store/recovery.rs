//! Autosaves, so that a crash loses little: one file per open record in a folder that the caller names.
//!
//! An autosave is a whole record with comment lines on top that say which record it belongs to, when it was made, and which
//! version of the file its changes were made to.

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::catalogue::Catalogue;
use crate::machine::Machine;

use super::beside::{real_path, write_whole};
use super::open::{LoadError, Loaded, hash_of, load_copy, text_of};

const OF: &str = "// autosave of: ";
const MADE: &str = "// made: ";
const BASE: &str = "// changes what was: ";
const UNNAMED: &str = "unnamed-";
/// More autosaves of one record, or of unnamed ones, are not kept at once.
const MOST_UNNAMED: u32 = 10_000;

/// An autosave could not be written, listed or taken away.
#[derive(Debug, Error)]
#[error("{path}: the autosave could not be {what}: {source}; check the disk, its free space and your permissions", path = path.display())]
pub struct RecoveryError {
    /// The file or folder.
    pub path: PathBuf,
    /// `written`, `listed`, `taken away`.
    pub what: &'static str,
    /// What the system said.
    pub source: io::Error,
}

/// The place of one open record's autosave.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Slot {
    file: PathBuf,
    record: Option<PathBuf>,
}

/// An autosave that was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// Its place: for loading, discarding, or going on with it.
    pub slot: Slot,
    /// When it was made, as it was told then; empty when that cannot be read.
    pub made: String,
    /// Hash of the record's file that the unsaved changes were made to; none for a record never saved.
    pub base: Option<String>,
}

impl Slot {
    /// A free place for a record that has a file. What an earlier run kept of the same record, or another window keeps of it
    /// now, stays where it is. It is taken by an empty file.
    ///
    /// # Errors
    /// Says why none can be made.
    pub fn of_record(folder: &Path, record: &Path) -> Result<Self, RecoveryError> {
        let record = real_path(record);
        let name = hash_of(record.as_os_str().as_encoded_bytes());
        Ok(Self { record: Some(record), ..Self::free(folder, &format!("{name}-"))? })
    }

    /// A free place for a record without a file: the first of `unnamed-1`, `unnamed-2`, ... It is taken by an empty file.
    ///
    /// # Errors
    /// Says why none can be made.
    pub fn unnamed(folder: &Path) -> Result<Self, RecoveryError> {
        Self::free(folder, UNNAMED)
    }

    /// The first free place whose name begins so.
    fn free(folder: &Path, begins: &str) -> Result<Self, RecoveryError> {
        let failed = |path: &Path, source| RecoveryError { path: path.to_owned(), what: "written", source };
        std::fs::create_dir_all(folder).map_err(|source| failed(folder, source))?;
        for number in 1..=MOST_UNNAMED {
            let file = folder.join(format!("{begins}{number}.ron"));
            match std::fs::OpenOptions::new().write(true).create_new(true).open(&file) {
                Ok(_) => return Ok(Self { file, record: None }),
                Err(error) if error.kind() == io::ErrorKind::AlreadyExists => {}
                Err(source) => return Err(failed(&file, source)),
            }
        }
        Err(failed(folder, io::Error::other("too many autosaves lie there already")))
    }

    /// The record it belongs to; none for one that was never saved.
    pub fn record(&self) -> Option<&Path> {
        self.record.as_deref()
    }

    /// The file of the autosave.
    pub fn file(&self) -> &Path {
        &self.file
    }

    /// Writes the autosave, whole or not at all. `when` is told to the person later; `base` is the hash of the file that the
    /// changes were made to.
    ///
    /// # Errors
    /// Says what could not be written; the autosave before is then still there.
    pub fn write(&self, machine: &Machine, when: &str, base: Option<&str>) -> Result<(), RecoveryError> {
        let failed = |source| RecoveryError { path: self.file.clone(), what: "written", source };
        if let Some(folder) = self.file.parent() {
            std::fs::create_dir_all(folder).map_err(failed)?;
        }
        let of = self.record.as_ref().map_or(String::new(), |record| record.display().to_string());
        let base = one_line(base.unwrap_or_default());
        let text = format!("{OF}{}\n{MADE}{}\n{BASE}{base}\n{}", one_line(&of), one_line(when), text_of(machine));
        write_whole(&self.file, text.as_bytes()).map_err(failed)
    }

    /// Loads the autosave. The hash is that of the autosave, not of the record's file.
    ///
    /// # Errors
    /// Says why it cannot be read.
    pub fn load(&self, catalogue: &Catalogue) -> Result<Loaded, LoadError> {
        load_copy(&self.file, catalogue)
    }

    /// Takes the autosave away: after a clean save, a clean close, or when the person does not want it.
    ///
    /// # Errors
    /// Says why it is still there. That there is none is fine.
    pub fn discard(&self) -> Result<(), RecoveryError> {
        match std::fs::remove_file(&self.file) {
            Err(source) if source.kind() != io::ErrorKind::NotFound => {
                Err(RecoveryError { path: self.file.clone(), what: "taken away", source })
            }
            _ => Ok(()),
        }
    }
}

fn one_line(text: &str) -> String {
    text.chars().flat_map(|c| if c.is_control() { c.escape_default().collect::<Vec<_>>() } else { vec![c] }).collect()
}

/// All autosaves in a folder, in order of file name. A folder that is not there has none; places taken but never
/// written to are left out.
///
/// # Errors
/// Says why the folder cannot be listed.
pub fn list(folder: &Path) -> Result<Vec<Found>, RecoveryError> {
    let failed = |source| RecoveryError { path: folder.to_owned(), what: "listed", source };
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(source) => return Err(failed(source)),
    };
    let mut files = Vec::new();
    for entry in entries {
        let file = entry.map_err(failed)?.path();
        let hidden = file.file_name().is_some_and(|name| name.as_encoded_bytes().starts_with(b"."));
        if !hidden && file.extension().is_some_and(|ending| ending == "ron") {
            files.push(file);
        }
    }
    files.sort();
    Ok(files.into_iter().filter_map(found).collect())
}

fn found(file: PathBuf) -> Option<Found> {
    // One that cannot be read is listed too: loading it says why.
    let text =
        std::fs::read(&file).map_or_else(|_| " ".to_owned(), |bytes| String::from_utf8_lossy(&bytes).into_owned());
    if text.is_empty() {
        return None;
    }
    let mut lines = text.lines();
    let record = lines.next().and_then(|line| line.strip_prefix(OF)).filter(|of| !of.is_empty()).map(PathBuf::from);
    let made = lines.next().and_then(|line| line.strip_prefix(MADE)).unwrap_or_default().to_owned();
    let base = lines.next().and_then(|line| line.strip_prefix(BASE)).filter(|base| !base.is_empty()).map(str::to_owned);
    Some(Found { slot: Slot { file, record }, made, base })
}
