//! The form all JSON answers share.

use std::io::Write;

use serde::Serialize;

use super::failure::Failure;

/// The format of the JSON answers. It goes up when a field changes its meaning or goes away, never for a new field.
const FORMAT: u32 = 1;

#[derive(Serialize)]
struct Answer<'a, T> {
    format: u32,
    #[serde(flatten)]
    answer: &'a T,
}

/// What cannot be known, with the reason.
#[derive(Debug, Clone, Serialize)]
pub(super) struct Unknown {
    pub(super) unknown: &'static str,
}

/// Writes an answer with its format, indented, and a line end.
pub(super) fn write<T: Serialize>(answer: &T, out: &mut dyn Write) -> Result<(), Failure> {
    serde_json::to_writer_pretty(&mut *out, &Answer { format: FORMAT, answer })?;
    writeln!(out)?;
    Ok(())
}
