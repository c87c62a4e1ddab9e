//! Dead wiring on the sheet: what was taken out, what was left capped, what could still go.

use serde::Serialize;

use crate::machine::{Machine, Side, Spot, WireId, WireState};

use super::lists::{end_words, joined};
use super::worked::Worked;

/// Dead wiring of a record.
#[derive(Debug, Clone, PartialEq, Eq, Default, Serialize)]
pub struct DeadWiring {
    /// Wires taken out.
    pub removed: Vec<DeadWire>,
    /// Wires left in place and capped off.
    pub capped: Vec<DeadWire>,
    /// Wires in place that the record says may go, by its verdicts.
    pub may_go: Vec<DeadWire>,
    /// What is to be said beside the verdicts.
    pub cautions: Vec<String>,
}

/// One such wire.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct DeadWire {
    /// Key, number and colour.
    pub wire: String,
    /// From and to.
    pub ends: String,
    /// What is said of it.
    pub said: String,
}

/// Lists the dead wiring of a record.
pub(super) fn dead_wiring(machine: &Machine, worked: &Worked) -> DeadWiring {
    let in_state = |state: WireState| {
        machine
            .wires
            .iter()
            .filter(|(_, wire)| wire.state == state)
            .map(|(id, _)| one(machine, id, said(machine, worked, id)))
            .collect()
    };
    let may_go: Vec<DeadWire> = worked
        .verdicts
        .may_go()
        .into_iter()
        .filter(|&id| machine.wires.get(id).is_some_and(|wire| wire.state == WireState::InPlace))
        .map(|id| one(machine, id, said(machine, worked, id)))
        .collect();
    let cautions = if may_go.is_empty() { Vec::new() } else { worked.verdicts.cautions.clone() };
    DeadWiring { removed: in_state(WireState::Removed), capped: in_state(WireState::CappedOff), may_go, cautions }
}

fn one(machine: &Machine, id: WireId, said: String) -> DeadWire {
    let Some(wire) = machine.wires.get(id) else {
        return DeadWire { wire: machine.wire_name(id).to_owned(), ends: String::new(), said };
    };
    let colour = wire.colour.map(|colour| colour.to_string()).unwrap_or_default();
    DeadWire {
        wire: joined([wire.key.as_str(), wire.number.as_deref().unwrap_or_default(), colour.as_str()], ", "),
        ends: format!("{} to {}", end_words(machine, wire, Side::From), end_words(machine, wire, Side::To)),
        said,
    }
}

/// Verdict and reason, when and by whom steps of it were ticked off, and what was noted.
fn said(machine: &Machine, worked: &Worked, id: WireId) -> String {
    let verdict = worked
        .verdicts
        .wires
        .get(&id)
        .map(|judged| format!("{}: {}", judged.verdict.words(), judged.reason))
        .unwrap_or_default();
    let ticks: Vec<String> = machine
        .ticks
        .values()
        .filter(|tick| tick.at == Some(Spot::Wire(id)))
        .map(|tick| joined([tick.step.as_str(), tick.when.as_str(), tick.who.as_str()], " "))
        .collect();
    let note = machine.wires.get(id).map(|wire| wire.note.as_str()).unwrap_or_default();
    joined([verdict.as_str(), ticks.join("; ").as_str(), note], " ")
}
