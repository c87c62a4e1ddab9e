//! Saves a record so that no mishap leaves half of it, and nothing that others wrote is lost by surprise.

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::catalogue::Catalogue;
use crate::machine::Machine;

use super::beside::{real_path, with_ending, write_whole};
use super::lock::{Lock, LockError};
use super::open::{LoadErrors, hash_of, parse_leniently, text_of};

/// What the one who saves believes to lie at the path.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Expected<'a> {
    /// Nothing: this is a new file.
    NoFile,
    /// The file with this hash: what was loaded, or saved last ([`Loaded::hash`](super::Loaded), [`save`]).
    Hash(&'a str),
    /// Whatever lies there: the person was asked and chose to replace it. It is still kept as the previous version.
    Whatever,
}

/// Why a record was not saved. The file at the path is as it was.
#[derive(Debug, Error)]
pub enum SaveError {
    /// The system refused.
    #[error("{path}: could not be {what}: {source}; the record is not saved: check the disk, its free space and your permissions, or save under another name", path = path.display())]
    Failed {
        /// The file concerned.
        path: PathBuf,
        /// `read`, `written`.
        what: &'static str,
        /// What the system said.
        source: io::Error,
    },
    /// There is a file where none was expected.
    #[error("{path}: there is a file with this name already; save under another name, or choose to replace it", path = .0.display())]
    Exists(PathBuf),
    /// It was changed since it was loaded or saved last.
    #[error("{path}: the file was changed by something else since it was opened; save under another name, or open it again and lose your changes, or choose to replace it (the changed file is kept beside it as the previous version)", path = .0.display())]
    Changed(PathBuf),
    /// It is gone.
    #[error("{path}: the file was moved or deleted since it was opened; save under another name, or choose to write it again here", path = .0.display())]
    Gone(PathBuf),
    /// Another program has it open for writing.
    #[error(transparent)]
    Locked(#[from] LockError),
    /// What would be written could not be read again.
    #[error(
        "the record contradicts itself and could not be read again, so it is not saved; put these right first:\n{0}"
    )]
    Unsound(LoadErrors),
}

/// Saves a record under its lock, taken for this one time. `who` is told to others meanwhile (see [`Lock::take`]).
///
/// Returns the hash of what now lies on the disk.
///
/// # Errors
/// Says why it was not saved; the file is then as it was.
pub fn save(machine: &Machine, path: &Path, expected: Expected<'_>, who: &str) -> Result<String, SaveError> {
    Lock::take(path, who)?.save(machine, expected)
}

impl Lock {
    /// Saves a record to the file this lock is for. The file that lay there is kept as `NAME.ron.previous`.
    ///
    /// Returns the hash of what now lies on the disk.
    ///
    /// # Errors
    /// Says why it was not saved; the file is then as it was.
    pub fn save(&self, machine: &Machine, expected: Expected<'_>) -> Result<String, SaveError> {
        let path = real_path(self.record());
        let text = text_of(machine);
        check_sound(&path, &text)?;
        let old = lying_at(&path)?;
        match (expected, &old) {
            (Expected::NoFile, Some(_)) => return Err(SaveError::Exists(path)),
            (Expected::Hash(_), None) => return Err(SaveError::Gone(path)),
            (Expected::Hash(hash), Some(bytes)) if hash_of(bytes) != hash => return Err(SaveError::Changed(path)),
            _ => {}
        }
        if let Some(old) = old.filter(|old| old != text.as_bytes()) {
            let previous = with_ending(&path, ".previous");
            write_whole(&previous, &old).map_err(|source| SaveError::Failed {
                path: previous,
                what: "written",
                source,
            })?;
        }
        match write_whole(&path, text.as_bytes()) {
            Ok(()) => Ok(hash_of(text.as_bytes())),
            Err(source) => Err(SaveError::Failed { path, what: "written", source }),
        }
    }
}

/// What is about to replace a good file must be readable itself, whatever catalogue the reader has.
fn check_sound(path: &Path, text: &str) -> Result<(), SaveError> {
    match parse_leniently(&path.display().to_string(), text, &Catalogue::default()) {
        Ok(_) => Ok(()),
        Err(errors) => Err(SaveError::Unsound(errors)),
    }
}

fn lying_at(path: &Path) -> Result<Option<Vec<u8>>, SaveError> {
    match std::fs::read(path) {
        Ok(bytes) => Ok(Some(bytes)),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(None),
        Err(source) => Err(SaveError::Failed { path: path.to_owned(), what: "read", source }),
    }
}
