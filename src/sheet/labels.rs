//! Flag labels for wires: one for each end, to be cut out and folded round the wire.

use serde::Serialize;

use crate::machine::{EndAt, Known, Side, Wire, WireForm};

use super::lists::{end_words, joined};
use super::worked::Worked;

/// One label. Both halves of the flag show the same.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Label {
    /// Key of the wire.
    pub wire: String,
    /// Number and colour, where recorded.
    pub looks: String,
    /// The end it goes on.
    pub here: String,
    /// The other end.
    pub there: String,
}

/// Labels for every wire on the machine, in order of the record: its first end, then its second. An end that is taken for granted is marked
/// with a question mark, one that readings dispute with an exclamation mark; jumpers get none, because they lie inside a strip.
pub fn labels(worked: &Worked) -> Vec<Label> {
    let machine = worked.shown.as_ref();
    let lead = |wire: &&Wire| wire.is_present() && wire.form == WireForm::Lead;
    machine
        .wires
        .values()
        .filter(lead)
        .flat_map(|wire| {
            let place = |side: Side| {
                let end = wire.end(side);
                let mark = match (&end.at, end.known) {
                    (EndAt::Terminal(_), Known::Assumed) => " ?",
                    (EndAt::Terminal(_), Known::Disputed) => " !",
                    _ => "",
                };
                format!("{}{mark}", end_words(machine, wire, side))
            };
            let colour = wire.colour.map(|colour| colour.to_string()).unwrap_or_default();
            let number = match wire.number.as_deref() {
                None | Some("") => String::new(),
                Some(number) => format!("no. {number}"),
            };
            let looks = joined([number.as_str(), colour.as_str()], "  ");
            Side::BOTH.map(|side| Label {
                wire: wire.key.clone(),
                looks: looks.clone(),
                here: place(side),
                there: place(side.other()),
            })
        })
        .collect()
}
