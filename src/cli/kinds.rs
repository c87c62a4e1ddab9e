//! The catalogue a command works with: the built-in kinds, and a file of one's own on top.

use std::path::Path;
use std::sync::Arc;

use crate::catalogue::Catalogue;

use super::failure::Failure;

/// The largest file of kinds that is read, in bytes.
const LARGEST: u64 = 16 << 20;

/// The built-in kinds with those of `file` on top.
pub(super) fn catalogue(file: Option<&Path>) -> Result<Arc<Catalogue>, Failure> {
    let built_in = Catalogue::built_in().map_err(|error| Failure::Told(error.to_string()))?;
    let Some(file) = file else { return Ok(built_in) };
    let size = std::fs::metadata(file)
        .map_err(|error| Failure::with_file(file, format!("cannot be read ({error}); see whether the name is right")))?
        .len();
    if size > LARGEST {
        return Err(Failure::with_file(file, "is too large for a file of kinds; see whether it is the right file"));
    }
    let text = std::fs::read_to_string(file)
        .map_err(|error| Failure::with_file(file, format!("cannot be read as text ({error})")))?;
    built_in
        .with_kinds(&file.display().to_string(), &text)
        .map(Arc::new)
        .map_err(|mistakes| Failure::Told(mistakes.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n")))
}
