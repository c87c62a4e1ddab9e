//! Format 1: the structs on disk, and the way from them to the record at work and back.
//!
//! The structs here are not those at work: a released format never changes, whatever the record becomes. A newer form
//! gets its own folder beside this one, with its own way to the record at work.

mod disk;
mod log;
mod names;
mod part;
mod read;
mod read_log;
mod read_wire;
mod short;
mod wire;
mod write;

use crate::catalogue::{Catalogue, FileError, ron_text};
use crate::machine::Machine;

use super::problem::Problem;

/// The number of this format.
pub(super) const FORMAT: u32 = 1;

/// Stands before the name of something that has been taken out of the record.
const GONE: &str = "gone";

/// Reads a file of this format.
///
/// # Errors
/// The first place at which the text is not of this form. What is of the form but makes no sense is in the list.
pub(super) fn read(file: &str, text: &str, catalogue: &Catalogue) -> Result<(Machine, Vec<Problem>), FileError> {
    let on_disk: disk::File = ron_text::read(file, text)?;
    Ok(read::machine_of(&on_disk, catalogue))
}

/// The record as compact text of this format.
pub(super) fn compact(machine: &Machine) -> String {
    let file = write::file_of(machine);
    #[expect(clippy::expect_used, reason = "writing into memory cannot fail, and the structs nest less than ten deep")]
    ron_text::options().to_string(&file).expect("can be written") // the reason stands above
}
