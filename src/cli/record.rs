//! Opens the record a command is about.

use std::path::Path;

use crate::catalogue::Catalogue;
use crate::machine::Machine;
use crate::store;

use super::failure::Failure;

/// A record with what is odd about its file, one sentence with its place each.
pub(super) struct Opened {
    pub(super) machine: Machine,
    pub(super) remarks: Vec<String>,
}

pub(super) fn load(file: &Path, catalogue: &Catalogue) -> Result<Opened, Failure> {
    let loaded = store::load(file, catalogue).map_err(|error| Failure::Told(error.to_string()))?;
    let remarks = loaded.remarks.iter().map(ToString::to_string).collect();
    Ok(Opened { machine: loaded.machine, remarks })
}
