//! Flag labels for wires: one for each end, to be cut out and folded round the wire.

use serde::Serialize;

use crate::machine::{EndAt, Machine, Side};

use super::lists::end_words;

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

/// Labels for every wire on the machine, in order of the record: its first end, then its second. What is taken for granted is marked with
/// a question mark; jumpers get none, because they lie inside a strip.
pub fn labels(machine: &Machine) -> Vec<Label> {
    let lead = |wire: &&crate::machine::Wire| wire.is_present() && wire.form == crate::machine::WireForm::Lead;
    machine
        .wires
        .values()
        .filter(lead)
        .flat_map(|wire| {
            let place = |side: Side| {
                let end = wire.end(side);
                let doubt = matches!(end.at, EndAt::Terminal(_)) && end.known == crate::machine::Known::Assumed;
                format!("{}{}", end_words(machine, wire, side), if doubt { " ?" } else { "" })
            };
            let colour = wire.colour.map(|colour| colour.to_string()).unwrap_or_default();
            let looks = super::lists::joined([wire.number.as_deref().unwrap_or_default(), colour.as_str()], "  ");
            Side::BOTH.map(|side| Label {
                wire: wire.key.clone(),
                looks: looks.clone(),
                here: place(side),
                there: place(side.other()),
            })
        })
        .collect()
}
