//! `wires`: the wire list, from and to.

use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::machine::{EndAt, Machine, Side, Wire, WireForm, WireState};
use crate::quantity::Colour;

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
    let machine = load(&what.file, &catalogue)?.machine;
    if what.json {
        let wires = machine.wires.values().map(|wire| OneWire::of(&machine, wire)).collect();
        json::write(&Answer { wires }, out)?;
        return Ok(FINE);
    }
    let rows: Vec<[String; COLUMNS.len()]> = machine.wires.values().map(|wire| row(&machine, wire)).collect();
    if what.csv {
        let mut list = csv::WriterBuilder::new().terminator(csv::Terminator::CRLF).from_writer(&mut *out);
        list.write_record(COLUMNS)?;
        for row in &rows {
            list.write_record(row)?;
        }
        list.flush()?;
    } else {
        table(&rows, out)?;
    }
    Ok(FINE)
}

impl OneWire {
    fn of(machine: &Machine, wire: &Wire) -> Self {
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
            state: state(wire).0,
            standing: Standings { from: standing(wire, Side::From), to: standing(wire, Side::To) },
        }
    }
}

/// The state by its JSON name and in words. A wire in place with an end taken off is lifted.
fn state(wire: &Wire) -> (&'static str, &'static str) {
    let lifted = Side::BOTH.into_iter().any(|side| wire.end(side).lifted);
    match wire.state {
        WireState::InPlace if lifted => ("lifted", "lifted"),
        WireState::InPlace => ("in-place", "in place"),
        WireState::CappedOff => ("capped-off", "capped off"),
        WireState::Removed => ("removed", "removed"),
    }
}

fn standing(wire: &Wire, side: Side) -> Option<&'static str> {
    let end = wire.end(side);
    matches!(end.at, EndAt::Terminal(_)).then(|| end.known.words())
}

const COLUMNS: [&str; 9] = ["wire", "number", "from", "to", "colour", "size", "state", "from known", "to known"];

fn row(machine: &Machine, wire: &Wire) -> [String; COLUMNS.len()] {
    let end = |side: Side| {
        let name = machine.end_name(&wire.end(side).at);
        if wire.end(side).lifted { format!("{name} (lifted)") } else { name }
    };
    [
        wire.key.clone(),
        wire.number.clone().unwrap_or_default(),
        end(Side::From),
        end(Side::To),
        wire.colour.map(|colour| colour.to_string()).unwrap_or_default(),
        wire.size.map(|size| size.to_string()).unwrap_or_default(),
        state(wire).1.to_owned(),
        standing(wire, Side::From).unwrap_or_default().to_owned(),
        standing(wire, Side::To).unwrap_or_default().to_owned(),
    ]
}

/// Columns as wide as their widest entry, the head first.
fn table(rows: &[[String; COLUMNS.len()]], out: &mut dyn Write) -> Result<(), Failure> {
    let heads = COLUMNS.map(str::to_owned);
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
