//! Frozen copies of a record, as found and as left at a visit, in `NAME.visits/`, each named by its hash.

use std::io;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use thiserror::Error;

use crate::catalogue::{Catalogue, FileError};
use crate::machine::{Machine, VisitId};

use super::beside::{folder, real_path, write_whole};
use super::open::{LoadError, Loaded, hash_of, load_copy, text_of};
use super::problem::located_files;

/// A frozen copy could not be written, or is not what it was.
#[derive(Debug, Error)]
pub enum FrozenError {
    /// The system refused.
    #[error("{path}: the copy could not be written: {source}; check the disk, its free space and your permissions", path = path.display())]
    Failed {
        /// Where it was to be.
        path: PathBuf,
        /// What the system said.
        source: io::Error,
    },
    /// It cannot be read.
    #[error(transparent)]
    Load(#[from] LoadError),
    /// Its content is not what its name says.
    #[error("{path}: the frozen copy was changed after it was made; take it from a backup, or do without it", path = .0.display())]
    Changed(PathBuf),
}

/// Freezes a record and returns the hash to put into the visit. Its visits keep no copies of their own.
///
/// # Errors
/// Says what could not be written.
pub fn write(machine: &Machine, record: &Path) -> Result<String, FrozenError> {
    let mut bare = machine.clone();
    let ids: Vec<VisitId> = bare.visits.ids().collect();
    for id in ids {
        if let Some(visit) = bare.visits.get(id) {
            let visit = crate::machine::Visit { as_found: None, as_left: None, ..visit.clone() };
            bare.visits.put(id, Some(Arc::new(visit)));
        }
    }
    let text = text_of(&bare);
    let hash = hash_of(text.as_bytes());
    let path = path_of(record, &hash);
    let failed = |source| FrozenError::Failed { path: path.clone(), source };
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(failed)?;
    }
    write_whole(&path, text.as_bytes()).map_err(failed)?;
    Ok(hash)
}

/// The frozen copy with this hash.
///
/// # Errors
/// Says why it cannot be read, or that it was changed.
pub fn read(record: &Path, hash: &str, catalogue: &Catalogue) -> Result<Loaded, FrozenError> {
    let path = path_of(record, hash);
    let loaded = load_copy(&path, catalogue)?;
    if loaded.hash == hash { Ok(loaded) } else { Err(FrozenError::Changed(path)) }
}

/// A remark for each frozen copy that is not where it belongs. Located in `text`, the text of the record's file.
pub fn missing(machine: &Machine, record: &Path, text: &str) -> Vec<FileError> {
    let mut absent = Vec::new();
    for (index, visit) in machine.visits.values().enumerate() {
        for (field, word, hash) in [("as_found", "as found", &visit.as_found), ("as_left", "as left", &visit.as_left)] {
            let Some(path) = hash.as_ref().map(|hash| path_of(record, hash)).filter(|path| !path.is_file()) else {
                continue;
            };
            let message = format!(
                "the copy of the record {word} at visit '{}' is missing: {} is not there; copy the folder of visits beside the record",
                visit.name,
                path.display()
            );
            absent.push((vec!["visits".into(), index.into(), field.into()], message));
        }
    }
    located_files(&record.display().to_string(), text, absent)
}

/// Takes a frozen copy along to another record. One that is not there is left out: it was missing before.
///
/// # Errors
/// Says what could not be read or written.
pub fn copy(from: &Path, to: &Path, hash: &str) -> Result<(), FrozenError> {
    let (old, new) = (path_of(from, hash), path_of(to, hash));
    let failed = |source| FrozenError::Failed { path: new.clone(), source };
    let bytes = match std::fs::read(&old) {
        Ok(bytes) => bytes,
        Err(error) if error.kind() == io::ErrorKind::NotFound => return Ok(()),
        Err(error) => return Err(failed(error)),
    };
    if let Some(folder) = new.parent() {
        std::fs::create_dir_all(folder).map_err(failed)?;
    }
    write_whole(&new, &bytes).map_err(failed)
}

/// Where the frozen copy with this hash lies, whether it is there or not.
pub fn path_of(record: &Path, hash: &str) -> PathBuf {
    // Only digits of a hash may become part of a path, whatever a file says.
    let hash: String = hash.chars().filter(char::is_ascii_hexdigit).collect();
    folder(&real_path(record), "visits").join(format!("{hash}.ron"))
}
