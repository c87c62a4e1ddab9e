//! Autosaves, so that a crash loses little: one file per open record in a folder that the caller names.
//!
//! An autosave is a whole record with comment lines on top that say which record it belongs to, when it was made, and which
//! version of the file its changes were made to. While a program works on it, it holds a lock beside it.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::{Mutex, PoisonError};

use thiserror::Error;

use crate::catalogue::Catalogue;
use crate::machine::Machine;

use super::beside::{folder, real_path, write_whole};
use super::lock::{Lock, LockError, is_taken};
use super::open::{LoadError, Loaded, hash_of, load_copy, text_of};

const OF: &str = "// autosave of: ";
const MADE: &str = "// made: ";
const BASE: &str = "// changes what was: ";
const UNNAMED: &str = "unnamed-";
/// More autosaves of one record, or of unnamed ones, are not kept at once.
const MOST_UNNAMED: u32 = 10_000;

/// An autosave could not be written, listed, taken up or taken away.
#[derive(Debug, Error)]
pub enum RecoveryError {
    /// The system refused.
    #[error("{path}: the autosave could not be {what}: {source}; check the disk, its free space and your permissions", path = path.display())]
    Failed {
        /// The file or folder.
        path: PathBuf,
        /// `written`, `listed`, `taken up`, `taken away`.
        what: &'static str,
        /// What the system said.
        source: io::Error,
    },
    /// Another window is at work on it.
    #[error("{path}: this autosave belongs to a window that is running ({who}); go on there, or close that window first", path = path.display())]
    AtWork {
        /// The file.
        path: PathBuf,
        /// What the other one said about itself.
        who: String,
    },
}

/// The place of one record's autosave.
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

/// An autosave's place while a running program holds it: no other is offered it, takes it up or throws it away. The
/// system gives it up too when the program dies.
///
/// When it goes and no autosave lies there (never written, or discarded), what was put beside it goes as well: the
/// pictures and frozen copies of a record without a file of its own.
#[derive(Debug)]
pub struct Held {
    slot: Slot,
    /// Once discarded nothing more is written, whichever thread comes last.
    discarded: Mutex<bool>,
    // Held as long as this lives, and given up after the folders are cleared.
    _lock: Lock,
}

impl Held {
    /// A free place for a record that has a file. What an earlier run kept of the same record, or another window keeps of it
    /// now, stays where it is. `who` is told to other windows.
    ///
    /// # Errors
    /// Says why none can be made.
    pub fn of_record(folder: &Path, record: &Path, who: &str) -> Result<Self, RecoveryError> {
        let record = real_path(record);
        let name = hash_of(record.as_os_str().as_encoded_bytes());
        Self::free(folder, &format!("{name}-"), Some(&record), who)
    }

    /// A free place for a record without a file: the first of `unnamed-1`, `unnamed-2`, ...
    ///
    /// # Errors
    /// Says why none can be made.
    pub fn unnamed(folder: &Path, who: &str) -> Result<Self, RecoveryError> {
        Self::free(folder, UNNAMED, None, who)
    }

    /// The first free place whose name begins so.
    fn free(folder: &Path, begins: &str, record: Option<&Path>, who: &str) -> Result<Self, RecoveryError> {
        let failed = |path: &Path, source| RecoveryError::Failed { path: path.to_owned(), what: "written", source };
        std::fs::create_dir_all(folder).map_err(|source| failed(folder, source))?;
        for number in 1..=MOST_UNNAMED {
            let file = folder.join(format!("{begins}{number}.ron"));
            if !is_free(&file).map_err(|source| failed(&file, source))? {
                continue;
            }
            let lock = match Lock::take(&file, who) {
                Ok(lock) => lock,
                Err(LockError::Held { .. }) => continue,
                Err(LockError::Failed { lock, source }) => return Err(failed(&lock, source)),
            };
            // Written to between looking and locking.
            if is_free(&file).map_err(|source| failed(&file, source))? {
                return Ok(Self::new(Slot { file, record: record.map(Path::to_path_buf) }, lock));
            }
        }
        Err(failed(folder, io::Error::other("too many autosaves lie there already")))
    }

    fn new(slot: Slot, lock: Lock) -> Self {
        Self { slot, discarded: Mutex::new(false), _lock: lock }
    }

    /// The place.
    pub fn slot(&self) -> &Slot {
        &self.slot
    }

    /// Writes the autosave, whole or not at all; nothing when it was discarded. `when` is told to the person later; `base` is
    /// the hash of the file that the changes were made to.
    ///
    /// # Errors
    /// Says what could not be written; the autosave before is then still there.
    pub fn write(&self, machine: &Machine, when: &str, base: Option<&str>) -> Result<(), RecoveryError> {
        let Slot { file, record } = &self.slot;
        let of = record.as_ref().map_or(String::new(), |record| record.display().to_string());
        let base = one_line(base.unwrap_or_default());
        let text = format!("{OF}{}\n{MADE}{}\n{BASE}{base}\n{}", one_line(&of), one_line(when), text_of(machine));
        let discarded = self.discarded.lock().unwrap_or_else(PoisonError::into_inner);
        if *discarded {
            return Ok(());
        }
        let failed = |source| RecoveryError::Failed { path: file.clone(), what: "written", source };
        if let Some(folder) = file.parent() {
            std::fs::create_dir_all(folder).map_err(failed)?;
        }
        write_whole(file, text.as_bytes()).map_err(failed)
    }

    /// Takes the autosave away: after a clean save, a clean close, or when the person does not want it. What lies beside it
    /// goes when nobody holds the place any more.
    ///
    /// # Errors
    /// Says why it is still there. That there is none is fine.
    pub fn discard(&self) -> Result<(), RecoveryError> {
        let mut discarded = self.discarded.lock().unwrap_or_else(PoisonError::into_inner);
        *discarded = true;
        match std::fs::remove_file(&self.slot.file) {
            Err(source) if source.kind() != io::ErrorKind::NotFound => {
                Err(RecoveryError::Failed { path: self.slot.file.clone(), what: "taken away", source })
            }
            _ => Ok(()),
        }
    }
}

impl Drop for Held {
    fn drop(&mut self) {
        if !is_free(&self.slot.file).unwrap_or(false) {
            return;
        }
        // Nothing speaks of these any more. Where one cannot be removed it takes room, and the next to hold the place tries.
        for beside in ["photos", "visits"] {
            let _ = std::fs::remove_dir_all(folder(&self.slot.file, beside));
        }
        let _ = std::fs::remove_file(&self.slot.file);
    }
}

/// Whether no autosave lies there: nothing, or an empty file.
fn is_free(file: &Path) -> io::Result<bool> {
    match std::fs::metadata(file) {
        Ok(there) => Ok(there.is_file() && there.len() == 0),
        Err(error) if error.kind() == io::ErrorKind::NotFound => Ok(true),
        Err(error) => Err(error),
    }
}

impl Slot {
    /// Takes up an autosave that was found. `who` is told to other windows.
    ///
    /// # Errors
    /// Says who is at work on it, or why it cannot be held.
    pub fn hold(&self, who: &str) -> Result<Held, RecoveryError> {
        match Lock::take(&self.file, who) {
            Ok(lock) => Ok(Held::new(self.clone(), lock)),
            Err(LockError::Held { who, .. }) => Err(RecoveryError::AtWork { path: self.file.clone(), who }),
            Err(LockError::Failed { lock, source }) => {
                Err(RecoveryError::Failed { path: lock, what: "taken up", source })
            }
        }
    }

    /// The record it belongs to; none for one that was never saved.
    pub fn record(&self) -> Option<&Path> {
        self.record.as_deref()
    }

    /// The file of the autosave.
    pub fn file(&self) -> &Path {
        &self.file
    }

    /// Loads the autosave. The hash is that of the autosave, not of the record's file.
    ///
    /// # Errors
    /// Says why it cannot be read.
    pub fn load(&self, catalogue: &Catalogue) -> Result<Loaded, LoadError> {
        load_copy(&self.file, catalogue)
    }
}

fn one_line(text: &str) -> String {
    text.chars().flat_map(|c| if c.is_control() { c.escape_default().collect::<Vec<_>>() } else { vec![c] }).collect()
}

/// The autosaves in a folder that nobody is at work on, in order of file name. A folder that is not there has none; places
/// that a running program holds, and empty files, are left out.
///
/// # Errors
/// Says why the folder cannot be listed.
pub fn list(folder: &Path) -> Result<Vec<Found>, RecoveryError> {
    let failed = |source| RecoveryError::Failed { path: folder.to_owned(), what: "listed", source };
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(Vec::new()),
        Err(source) => return Err(failed(source)),
    };
    let mut files = Vec::new();
    for entry in entries {
        let file = entry.map_err(failed)?.path();
        let hidden = file.file_name().is_some_and(|name| name.as_encoded_bytes().starts_with(b"."));
        if !hidden && file.extension().is_some_and(|ending| ending == "ron") && !is_taken(&file) {
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
