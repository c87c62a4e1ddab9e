//! What all rules look at, computed once: the record, its parts' bodies, the wire ends at each terminal.

use std::collections::BTreeMap;

use crate::catalogue::{Body, Catalogue};
use crate::machine::{EndAt, Machine, PartId, Side, TerminalRef, WireId};

/// Everything the rules reason from.
pub struct Survey<'a> {
    /// The record.
    pub machine: &'a Machine,
    /// What each part consists of.
    pub(super) bodies: BTreeMap<PartId, Body>,
    /// Wire ends recorded on each terminal, lifted ones included, removed wires left out.
    pub(super) ends_at: BTreeMap<&'a TerminalRef, Vec<(WireId, Side)>>,
}

impl<'a> Survey<'a> {
    /// Looks over a record.
    pub fn of(machine: &'a Machine, catalogue: &'a Catalogue) -> Self {
        let bodies = machine.parts.iter().map(|(id, part)| (id, catalogue.body(part))).collect();
        let mut ends_at: BTreeMap<&TerminalRef, Vec<(WireId, Side)>> = BTreeMap::new();
        for (id, wire) in machine.wires.iter().filter(|(_, wire)| wire.is_present()) {
            for side in Side::BOTH {
                if let EndAt::Terminal(terminal) = &wire.end(side).at {
                    ends_at.entry(terminal).or_default().push((id, side));
                }
            }
        }
        Self { machine, bodies, ends_at }
    }
}
