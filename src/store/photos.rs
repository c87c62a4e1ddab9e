//! Pictures beside a record, in `NAME.photos/`, each named by the hash of its content.

use std::io;
use std::path::{Path, PathBuf};

use thiserror::Error;

use crate::catalogue::FileError;
use crate::machine::{Machine, Photo};

use super::beside::{folder, real_path, write_whole};
use super::open::hash_of;
use super::problem::located_files;

/// Longer endings of file names are not kept.
const LONGEST_ENDING: usize = 8;

/// A picture could not be put beside the record.
#[derive(Debug, Error)]
#[error("{path}: the picture could not be written: {source}; check the disk, its free space and your permissions", path = path.display())]
pub struct PhotoError {
    /// Where it was to be.
    pub path: PathBuf,
    /// What the system said.
    pub source: io::Error,
}

/// Puts a picture beside the record and returns its hash and its file. The same picture is kept once.
///
/// # Errors
/// Says what could not be written.
pub fn add(record: &Path, bytes: &[u8], original_name: &str) -> Result<(String, PathBuf), PhotoError> {
    let hash = hash_of(bytes);
    let path = file_of(record, &hash, original_name);
    let failed = |source| PhotoError { path: path.clone(), source };
    // A file of the same name with other bytes is damaged: it is written anew.
    if std::fs::read(&path).is_ok_and(|there| hash_of(&there) == hash) {
        return Ok((hash, path));
    }
    if let Some(folder) = path.parent() {
        std::fs::create_dir_all(folder).map_err(failed)?;
    }
    write_whole(&path, bytes).map_err(failed)?;
    Ok((hash, path))
}

/// Where the picture of a photo lies, whether it is there or not; none for a photo that has no picture yet.
pub fn path_of(record: &Path, photo: &Photo) -> Option<PathBuf> {
    (!photo.hash.is_empty()).then(|| file_of(record, &photo.hash, &photo.original_name))
}

fn file_of(record: &Path, hash: &str, original_name: &str) -> PathBuf {
    let ending = Path::new(original_name)
        .extension()
        .and_then(|ending| ending.to_str())
        .map(str::to_ascii_lowercase)
        .filter(|ending| ending.len() <= LONGEST_ENDING && ending.bytes().all(|byte| byte.is_ascii_alphanumeric()))
        .unwrap_or_else(|| "picture".to_owned());
    // Only digits of a hash may become part of a path, whatever a file says.
    let hash: String = hash.chars().filter(char::is_ascii_hexdigit).collect();
    folder(&real_path(record), "photos").join(format!("{hash}.{ending}"))
}

/// A remark for each photo whose picture is not where it belongs. Located in `text`, the text of the record's file.
pub fn missing(machine: &Machine, record: &Path, text: &str) -> Vec<FileError> {
    let file = record.display().to_string();
    let absent = machine
        .photos
        .values()
        .enumerate()
        .filter_map(|(index, photo)| {
            let path = path_of(record, photo)?;
            let message = format!(
                "the picture of photo '{}' is missing: {} is not there; copy the folder of pictures beside the record",
                photo.name,
                path.display()
            );
            (!path.is_file()).then_some((vec!["photos".into(), index.into(), "hash".into()], message))
        })
        .collect();
    located_files(&file, text, absent)
}
