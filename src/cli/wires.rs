//! `wires`: the wire list, from and to.

use std::collections::BTreeSet;
use std::io::Write;
use std::path::Path;
use std::sync::Arc;

use serde::Serialize;

use crate::machine::{EndAt, Side, Wire, WireForm, WireId};
use crate::quantity::Colour;
use crate::sheet::{WIRE_COLUMNS, Worked, wire_row, wire_state, wire_table};

use super::args::Wires;
use super::failure::Failure;
use super::json::Unknown;
use super::kinds::catalogue;
use super::record::load;
use super::{FINE, json};

#[derive(Serialize)]
struct Answer {
    wires: Vec<OneWire>,
}

#[derive(Serialize)]
struct OneWire {
    wire: String,
    number: Option<String>,
    from: Place,
    to: Place,
    colour: Option<&'static str>,
    tracer: Option<&'static str>,
    size: Option<String>,
    length_mm: Option<f64>,
    form: &'static str,
    state: &'static str,
    standing: Standings,
}

/// Where an end is: a terminal or `loose`, or that it is not known.
#[derive(Serialize)]
#[serde(untagged)]
enum Place {
    At(String),
    Unknown(Unknown),
}

/// How the connection at each end is known; none where the end is on nothing.
#[derive(Serialize)]
struct Standings {
    from: Option<&'static str>,
    to: Option<&'static str>,
}

pub(super) fn run(what: &Wires, kinds: Option<&Path>, out: &mut dyn Write) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    let machine = Arc::new(load(&what.file, &catalogue)?.machine);
    // Ends are known as the readings have them, here as on the sheet and on the drawing.
    let worked = Worked::of(&machine, &catalogue, &BTreeSet::new());
    if what.json {
        let wires = worked.shown.wires.iter().map(|(id, wire)| OneWire::of(&worked, id, wire)).collect();
        json::write(&Answer { wires }, out)?;
        return Ok(FINE);
    }
    if what.csv {
        wire_table(&worked).write_csv(out)?;
    } else {
        let rows: Vec<_> = worked.shown.wires.iter().map(|(id, wire)| wire_row(&worked, id, wire)).collect();
        table(&rows, out)?;
    }
    Ok(FINE)
}

impl OneWire {
    fn of(worked: &Worked, id: WireId, wire: &Wire) -> Self {
        let machine = &worked.shown;
        let place = |side| match &wire.end(side).at {
            EndAt::Unknown => Place::Unknown(Unknown { unknown: "where this end goes is not recorded" }),
            at => Place::At(machine.end_name(at)),
        };
        Self {
            wire: wire.key.clone(),
            number: wire.number.clone(),
            from: place(Side::From),
            to: place(Side::To),
            colour: wire.colour.map(|colour| colour.base.code()),
            tracer: wire.colour.and_then(|colour| colour.tracer).map(Colour::code),
            size: wire.size.map(|size| size.to_string()),
            length_mm: wire.length_mm,
            form: match wire.form {
                WireForm::Lead => "lead",
                WireForm::Jumper => "jumper",
            },
            state: wire_state(wire).0,
            standing: Standings { from: worked.known(id, Side::From), to: worked.known(id, Side::To) },
        }
    }
}

/// Columns as wide as their widest entry, the head first.
fn table(rows: &[[String; WIRE_COLUMNS.len()]], out: &mut dyn Write) -> Result<(), Failure> {
    let heads = WIRE_COLUMNS.map(str::to_owned);
    let mut widths = heads.each_ref().map(|head| head.chars().count());
    for row in rows {
        for (width, cell) in widths.iter_mut().zip(row) {
            *width = (*width).max(cell.chars().count());
        }
    }
    for row in std::iter::once(&heads).chain(rows) {
        let cells: Vec<String> = row.iter().zip(widths).map(|(cell, width)| format!("{cell:width$}")).collect();
        writeln!(out, "{}", cells.join("  ").trim_end())?;
    }
    Ok(())
}
