//! The lists of a record as plain rows: wires from and to, terminals by part, readings. The sheet, the tables for other programs and
//! the command line all show these.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::catalogue::Catalogue;
use crate::circuit::electric::{Agreement, Judged, Judgement};
use crate::machine::{
    EndAt, Machine, Marking, Mounting, Part, PartId, Reading, ReadingId, Side, Spot, Wire, WireId, WireState,
};

use super::table::Table;
use super::worked::Worked;

/// Columns of the wire list.
pub const WIRE_COLUMNS: [&str; 9] =
    ["wire", "number", "from", "to", "colour", "size", "state", "from known", "to known"];

/// Columns of the list of readings.
pub const READING_COLUMNS: [&str; 12] = [
    "reading",
    "red",
    "black",
    "function",
    "shown",
    "expected",
    "held against the record",
    "condition",
    "meter",
    "when",
    "who",
    "note",
];

/// The state of a wire by its name for programs and in words. A wire in place with an end taken off is lifted.
pub fn wire_state(wire: &Wire) -> (&'static str, &'static str) {
    let lifted = Side::BOTH.into_iter().any(|side| wire.end(side).lifted);
    match wire.state {
        WireState::InPlace if lifted => ("lifted", "lifted"),
        WireState::InPlace => ("in-place", "in place"),
        WireState::CappedOff => ("capped-off", "capped off"),
        WireState::Removed => ("removed", "removed"),
    }
}

/// Where an end is, in words of the wire list: `K1.A1`, `K1.A1 (lifted)`, `loose`, `unknown`.
pub fn end_words(machine: &Machine, wire: &Wire, side: Side) -> String {
    let name = machine.end_name(&wire.end(side).at);
    if wire.end(side).lifted { format!("{name} (lifted)") } else { name }
}

/// One row of the wire list.
pub fn wire_row(worked: &Worked, id: WireId, wire: &Wire) -> [String; WIRE_COLUMNS.len()] {
    let machine = worked.shown.as_ref();
    [
        wire.key.clone(),
        wire.number.clone().unwrap_or_default(),
        end_words(machine, wire, Side::From),
        end_words(machine, wire, Side::To),
        wire.colour.map(|colour| colour.to_string()).unwrap_or_default(),
        wire.size.map(|size| size.to_string()).unwrap_or_default(),
        wire_state(wire).1.to_owned(),
        worked.known(id, Side::From).unwrap_or_default().to_owned(),
        worked.known(id, Side::To).unwrap_or_default().to_owned(),
    ]
}

/// The wire list as a table, with standings as the readings have them.
pub fn wire_table(worked: &Worked) -> Table {
    Table {
        name: "wires",
        columns: WIRE_COLUMNS.to_vec(),
        rows: worked.shown.wires.iter().map(|(id, wire)| wire_row(worked, id, wire).to_vec()).collect(),
    }
}

/// The log of readings as a table, each with what the record expects there.
pub fn reading_table(machine: &Machine, judgement: &Judgement) -> Table {
    let rows = machine.readings.iter().map(|(id, reading)| {
        let judged = judgement.readings.get(&id);
        let condition = reading.condition.and_then(|id| machine.conditions.get(id));
        let meter = reading.meter.and_then(|id| machine.meters.get(id));
        vec![
            reading.name.clone(),
            machine.spot_name(&reading.red),
            reading.black.as_ref().map(|black| machine.spot_name(black)).unwrap_or_default(),
            reading.value.function().words().to_owned(),
            reading.value.to_string(),
            expected_words(reading, judged),
            agreement_words(judged).to_owned(),
            condition.map(|one| one.name.clone()).unwrap_or_default(),
            meter.map(|one| one.name.clone()).unwrap_or_default(),
            reading.when.clone(),
            reading.who.clone(),
            reading.note.clone(),
        ]
    });
    Table { name: "readings", columns: READING_COLUMNS.to_vec(), rows: rows.collect() }
}

/// What the record expects of a reading, with what makes that doubtful.
pub(super) fn expected_words(reading: &Reading, judged: Option<&Judged>) -> String {
    let Some(judged) = judged else { return String::new() };
    let words = judged.expectation.expected.words(reading.value.function());
    let doubts: Vec<&str> = judged.expectation.doubts.iter().map(|doubt| doubt.words()).collect();
    if doubts.is_empty() { words } else { format!("{words}; {}", doubts.join("; ")) }
}

/// Whether a reading goes with the record.
pub(super) fn agreement_words(judged: Option<&Judged>) -> &'static str {
    match judged.map(|judged| judged.agreement) {
        Some(Agreement::Agrees) => "agrees",
        Some(Agreement::Disputes) => "disputes",
        Some(Agreement::CannotSay) | None => "cannot be said",
    }
}

/// One reading as the sheet shows it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct ReadingRow {
    /// Its name.
    pub name: String,
    /// Where the probes were: `K1.A1 / K1.A2`.
    pub between: String,
    /// What was shown.
    pub shown: String,
    /// What the record expects.
    pub expected: String,
    /// Whether the two go together.
    pub held: &'static str,
    /// The condition it was taken in.
    pub condition: String,
    /// When, by whom, and what was noted.
    pub noted: String,
}

/// The readings as the sheet shows them.
pub(super) fn reading_rows(machine: &Machine, judgement: &Judgement) -> Vec<ReadingRow> {
    let row = |(id, reading): (ReadingId, &Reading)| {
        let judged = judgement.readings.get(&id);
        let condition = reading.condition.and_then(|id| machine.conditions.get(id));
        ReadingRow {
            name: reading.name.clone(),
            between: between(machine, &reading.red, reading.black.as_ref()),
            shown: reading.value.to_string(),
            expected: expected_words(reading, judged),
            held: agreement_words(judged),
            condition: condition.map_or_else(|| "not recorded".to_owned(), |one| one.name.clone()),
            noted: joined([reading.when.as_str(), reading.who.as_str(), reading.note.as_str()], ", "),
        }
    };
    machine.readings.iter().map(row).collect()
}

/// Where probes are put, in words: red first.
pub(super) fn between(machine: &Machine, red: &Spot, black: Option<&Spot>) -> String {
    let red = machine.spot_name(red);
    match black {
        Some(black) => format!("{red} / {}", machine.spot_name(black)),
        None => red,
    }
}

/// Those of these texts that say something, with this between them.
pub(super) fn joined<'a>(texts: impl IntoIterator<Item = &'a str>, with: &str) -> String {
    texts.into_iter().filter(|text| !text.trim().is_empty()).collect::<Vec<_>>().join(with)
}

/// One part with its terminals, as the sheet shows it.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PartRows {
    /// Its tag.
    pub tag: String,
    /// What it is: title, kind, printed label, how it is held.
    pub what: String,
    /// Its ratings as recorded.
    pub ratings: String,
    /// Terminals that wires are recorded on.
    pub terminals: Vec<TerminalRow>,
    /// Markings of those without a wire.
    pub free: String,
    /// Anything noted.
    pub note: String,
}

/// One terminal with its wires.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct TerminalRow {
    /// The marking, with the printed one where it differs.
    pub marking: String,
    /// Each wire and where it goes: `W04 to TB1.1b`.
    pub wires: Vec<String>,
}

/// Every part of the record with its terminals.
pub(super) fn part_rows(machine: &Machine, catalogue: &Catalogue) -> Vec<PartRows> {
    let mut landed: BTreeMap<(PartId, Marking), Vec<String>> = BTreeMap::new();
    for wire in machine.wires.values().filter(|wire| wire.is_present()) {
        for side in Side::BOTH {
            let EndAt::Terminal(at) = &wire.end(side).at else { continue };
            let other = end_words(machine, wire, side.other());
            let lifted = if wire.end(side).lifted { " (lifted here)" } else { "" };
            let to = format!("{}{lifted} to {other}", wire.key);
            landed.entry((at.part, at.marking.clone())).or_default().push(to);
        }
    }
    machine.parts.iter().map(|(id, part)| rows_of_part(id, part, catalogue, &mut landed)).collect()
}

fn rows_of_part(
    id: PartId,
    part: &Part,
    catalogue: &Catalogue,
    landed: &mut BTreeMap<(PartId, Marking), Vec<String>>,
) -> PartRows {
    let kind = catalogue.kind(&part.kind).map_or(part.kind.as_str(), |kind| kind.title.as_str());
    let body = catalogue.body(part);
    let mut terminals = Vec::new();
    let mut free = Vec::new();
    for terminal in &body.terminals {
        let own = terminal.marking.as_str();
        let marking = match &terminal.printed {
            Some(printed) if printed != own => format!("{own} (printed {printed})"),
            _ => own.to_owned(),
        };
        match landed.remove(&(id, terminal.marking.clone())) {
            Some(wires) => terminals.push(TerminalRow { marking, wires }),
            None => free.push(marking),
        }
    }
    // What wires say to be there and the kind does not have.
    let unknown: Vec<(PartId, Marking)> = landed.keys().filter(|(of, _)| *of == id).cloned().collect();
    for key in unknown {
        let marking = format!("{} (not a terminal of this kind)", key.1);
        terminals.push(TerminalRow { marking, wires: landed.remove(&key).unwrap_or_default() });
    }
    let printed = part.printed.as_deref().filter(|printed| *printed != part.tag).map(|text| format!("labelled {text}"));
    let held = match part.mounting {
        Mounting::Fixed => "",
        Mounting::Loose => "loose",
        Mounting::Missing => "its place is empty",
    };
    // A title that says the kind again says enough by itself.
    let says_kind = part.title.to_lowercase().contains(&kind.to_lowercase());
    let kind = if says_kind { "" } else { kind };
    let ratings: Vec<String> =
        part.ratings.iter().map(|(rating, rated)| format!("{} {}", rating.words(), rated.written(rating))).collect();
    PartRows {
        tag: part.tag.clone(),
        what: joined([kind, part.title.as_str(), printed.as_deref().unwrap_or_default(), held], ", "),
        ratings: ratings.join(", "),
        terminals,
        free: free.join(", "),
        note: part.note.clone(),
    }
}
