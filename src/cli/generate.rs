//! `generate`: writes an invented machine.

use std::fs::{self, File};
use std::io::{self, Write};
use std::path::Path;

use crate::generate::invented_machine;
use crate::store;

use super::FINE;
use super::args::Generate;
use super::failure::Failure;

pub(super) fn run(what: &Generate, out: &mut dyn Write) -> Result<u8, Failure> {
    let text = store::text_of(&invented_machine(what.wires, what.seed));
    write_new(&what.output, text.as_bytes()).map_err(|error| {
        let advice = match error.kind() {
            io::ErrorKind::AlreadyExists => "is already there and was left alone; name another file".to_owned(),
            io::ErrorKind::NotFound => "cannot be written: its folder is not there; make it first".to_owned(),
            _ => format!("cannot be written ({error}); name another file"),
        };
        Failure::with_file(&what.output, advice)
    })?;
    writeln!(out, "{}: {} wires, seed {}", what.output.display(), what.wires, what.seed)?;
    out.flush()?;
    Ok(FINE)
}

/// Writes a file that is not there yet, whole or not at all.
fn write_new(path: &Path, bytes: &[u8]) -> io::Result<()> {
    let mut file = File::create_new(path)?;
    let written = file.write_all(bytes).and_then(|()| file.sync_all());
    if written.is_err() {
        drop(file);
        fs::remove_file(path)?;
    }
    written
}
