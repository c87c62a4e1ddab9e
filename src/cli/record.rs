//! Opens the record a command is about.

use std::path::Path;

use crate::catalogue::Catalogue;
use crate::catalogue::ron_text::nearest;
use crate::machine::{ConditionId, Machine};
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

/// The condition with this name.
pub(super) fn condition(machine: &Machine, name: &str, file: &Path) -> Result<ConditionId, Failure> {
    machine.condition_by_name(name).ok_or_else(|| {
        let names: Vec<&str> = machine.conditions.values().map(|condition| condition.name.as_str()).collect();
        let advice = match nearest(name, names.iter().copied()) {
            Some(near) => format!("did you mean '{near}'?"),
            None if names.is_empty() => "the record has none".to_owned(),
            None => format!("it has: {}", names.join("; ")),
        };
        Failure::with_file(file, format_args!("there is no condition '{name}'; {advice}"))
    })
}
