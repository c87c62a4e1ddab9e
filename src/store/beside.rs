//! Files and folders beside a record, and how bytes get into one whole.

use std::ffi::OsString;
use std::io::{self, Write};
use std::path::{Path, PathBuf};

use atomic_write_file::AtomicWriteFile;

/// `pantry.ron` with `.previous` is `pantry.ron.previous`.
pub(super) fn with_ending(record: &Path, ending: &str) -> PathBuf {
    let mut name = record.file_name().map(OsString::from).unwrap_or_default();
    name.push(ending);
    record.with_file_name(name)
}

/// `pantry.ron` with `photos` is the folder `pantry.photos`.
pub(super) fn folder(record: &Path, what: &str) -> PathBuf {
    let mut name = record.file_stem().map(OsString::from).unwrap_or_default();
    name.push(".");
    name.push(what);
    record.with_file_name(name)
}

/// Writes a file so that at every moment either the old or the new content is there, whole: written aside in the same
/// folder, flushed to the disk, then renamed, and the folder flushed where the system can.
///
/// # Errors
/// What the system said; the old content is still there then.
pub fn write_whole(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = AtomicWriteFile::open(path)?;
    file.write_all(bytes)?;
    file.commit()
}

/// The file that a path leads to, through symbolic links: renaming must replace the file, not the link to it.
pub(super) fn real_path(path: &Path) -> PathBuf {
    std::fs::canonicalize(path).unwrap_or_else(|_| path.to_owned())
}
