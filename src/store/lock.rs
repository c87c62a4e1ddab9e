//! Keeps two programs from writing the same record. Reading needs no lock.

use std::fs::{File, OpenOptions, TryLockError};
use std::io::{self, Read, Seek, SeekFrom, Write};
use std::path::{Path, PathBuf};

use thiserror::Error;

use super::beside::{real_path, with_ending};

/// How often a lock file that vanishes while it is being taken is tried again.
const ATTEMPTS: usize = 20;
/// No more than this is read of what another program wrote about itself.
const LONGEST_WHO: u64 = 400;

/// Why a record cannot be written to.
#[derive(Debug, Error)]
pub enum LockError {
    /// Another program holds it.
    #[error("{record}: is open for writing elsewhere ({who}); close it there, or open it here for reading only", record = record.display())]
    Held {
        /// The record.
        record: PathBuf,
        /// What the other one said about itself.
        who: String,
    },
    /// The lock file cannot be made.
    #[error("{lock}: the lock file could not be made: {source}; the folder may be read-only: open the record for reading only, or save it elsewhere", lock = lock.display())]
    Failed {
        /// The lock file.
        lock: PathBuf,
        /// What the system said.
        source: io::Error,
    },
}

/// The right to write one record, held until it is dropped. The system gives it up too when the program dies.
#[derive(Debug)]
pub struct Lock {
    record: PathBuf,
    beside: PathBuf,
    // Holds the lock of the system as long as it lives.
    _file: File,
}

impl Lock {
    /// Takes the lock of a record, which need not exist yet. `who` is what others are told: program, person, computer,
    /// since when.
    ///
    /// # Errors
    /// Says who holds it, or why it cannot be made.
    pub fn take(record: &Path, who: &str) -> Result<Self, LockError> {
        let lock = with_ending(&real_path(record), ".lock");
        let failed = |source| LockError::Failed { lock: lock.clone(), source };
        for _ in 0..ATTEMPTS {
            let mut options = OpenOptions::new();
            let mut file = options.read(true).write(true).create(true).truncate(false).open(&lock).map_err(failed)?;
            match file.try_lock() {
                Ok(()) => {}
                Err(TryLockError::WouldBlock) => {
                    return Err(LockError::Held { record: record.to_owned(), who: who_wrote(&file) });
                }
                Err(TryLockError::Error(source)) => return Err(failed(source)),
            }
            // The one before may have taken the file away between our opening and locking it.
            if !is_still_at(&file, &lock) {
                continue;
            }
            file.set_len(0).and_then(|()| file.write_all(who.as_bytes())).map_err(failed)?;
            return Ok(Self { record: record.to_owned(), beside: lock, _file: file });
        }
        Err(LockError::Held { record: record.to_owned(), who: "programs that come and go".to_owned() })
    }

    /// The record this is the lock of.
    pub fn record(&self) -> &Path {
        &self.record
    }
}

impl Drop for Lock {
    fn drop(&mut self) {
        // Taken away while the lock is still held; where that fails it stays, and locks nothing.
        let _ = std::fs::remove_file(&self.beside);
    }
}

/// Whether some program, this one included, holds the lock of a record now.
pub(super) fn is_taken(record: &Path) -> bool {
    let Ok(lock) = File::open(with_ending(&real_path(record), ".lock")) else { return false };
    // Shared, so that two who look do not take each other for holders; given up at once.
    matches!(lock.try_lock_shared(), Err(TryLockError::WouldBlock))
}

/// What the holder wrote about itself.
fn who_wrote(file: &File) -> String {
    let mut text = String::new();
    let mut file = file;
    let read = file.seek(SeekFrom::Start(0)).and_then(|_| file.take(LONGEST_WHO).read_to_string(&mut text));
    let line: String = text.chars().map(|c| if c.is_control() { ' ' } else { c }).collect();
    match read {
        Ok(_) if !line.trim().is_empty() => line.trim().to_owned(),
        _ => "another program".to_owned(),
    }
}

#[cfg(unix)]
fn is_still_at(file: &File, path: &Path) -> bool {
    use std::os::unix::fs::MetadataExt;
    match (file.metadata(), std::fs::metadata(path)) {
        (Ok(ours), Ok(theirs)) => ours.dev() == theirs.dev() && ours.ino() == theirs.ino(),
        _ => false,
    }
}

#[cfg(not(unix))]
fn is_still_at(_: &File, path: &Path) -> bool {
    path.exists()
}
