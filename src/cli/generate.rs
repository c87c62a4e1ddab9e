//! `generate`: writes an invented machine.

use std::io::Write;

use crate::generate::invented_machine;
use crate::store::{Expected, save};

use super::FINE;
use super::args::Generate;
use super::failure::Failure;

pub(super) fn run(what: &Generate, out: &mut dyn Write) -> Result<u8, Failure> {
    let machine = invented_machine(what.wires, what.seed);
    save(&machine, &what.output, Expected::NoFile, "wirewitness generate")
        .map_err(|error| Failure::Told(error.to_string()))?;
    writeln!(out, "{}: {} wires, seed {}", what.output.display(), what.wires, what.seed)?;
    Ok(FINE)
}
