//! What taking wires out would change: proved to be nothing, or shown by a condition that a person can set up.

use crate::catalogue::Catalogue;
use crate::circuit::Network;
use crate::circuit::electric::{Elements, Judgement};
use crate::machine::{EndAt, Machine, Shelf, Side, Wire, WireId};
use crate::quantity::Colour;

use super::judge::Bench;
use super::landings::mystery_of;
use super::model::Model;
use super::prove::{Ask, Found, Method, View};
use super::relays;
use super::sets::{Budget, Purse};
use super::verdict::{Proof, Witness};
use super::words::witness;

/// What differs once wires are out.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// Every load, coil, sensing input, fuse and earth is as before in every condition that can be reached, whatever turns out of what
    /// is in doubt.
    Nothing(Proof),
    /// In this condition something differs: the wire that makes it so, and the condition with what differs.
    Differs(WireId, Box<Witness>),
    /// Nothing differs in a condition that the record allows, but in this one, which its constraints leave out, something does: the wire
    /// guards against what is not to happen. An interlock, for one.
    Guards(WireId, Box<Witness>),
    /// These wires are protective earth, or have its colour.
    Earth(Vec<WireId>),
    /// What the record does not know has a say: ends out of sight.
    NotKnown(Vec<WireId>),
    /// The work ended before it was decided.
    NotDecided,
}

impl Change {
    /// As it is written in results.
    pub fn word(&self) -> &'static str {
        match self {
            Self::Nothing(_) => "nothing",
            Self::Differs(..) => "differs",
            Self::Guards(..) => "guards",
            Self::Earth(_) => "earth",
            Self::NotKnown(_) => "not-known",
            Self::NotDecided => "not-decided",
        }
    }

    /// For people, as sentences.
    pub fn words(&self, machine: &Machine) -> String {
        let names = |wires: &[WireId]| wires.iter().map(|&id| machine.wire_name(id)).collect::<Vec<_>>().join(", ");
        let loads = |witness: &Witness| {
            if witness.loads.is_empty() { "what it carries current for".to_owned() } else { witness.loads.join(", ") }
        };
        match self {
            Self::Nothing(_) => "Nothing: every load, coil, sensing input, fuse and earth is as before. Whether what stays is thick enough for the whole current is not looked at.".to_owned(),
            Self::Differs(wire, witness) => {
                format!("It changes something: without {} this differs: {}.", machine.wire_name(*wire), loads(witness))
            }
            Self::Guards(wire, witness) => format!(
                "CAUTION: nothing differs in the conditions the record allows, but {} does something in one that its constraints leave out: {}. It may be an interlock or another protection. Ask before it goes.",
                machine.wire_name(*wire),
                loads(witness)
            ),
            Self::Earth(wires) => format!(
                "DANGER: {} belongs to the protective earth, or has its colour. Its continuity must not be broken: it stays.",
                names(wires)
            ),
            Self::NotKnown(wires) => format!(
                "Cannot be said: ends of {} go out of sight and may be anywhere. Find them first.",
                names(wires)
            ),
            Self::NotDecided => "Not decided: the work ended before. Take it that something changes.".to_owned(),
        }
    }

    /// The wire that makes a difference, and a condition that shows it.
    pub fn shown(&self) -> Option<(WireId, &Witness)> {
        match self {
            Self::Differs(wire, witness) | Self::Guards(wire, witness) => Some((*wire, witness)),
            _ => None,
        }
    }
}

/// What taking out these wires, all of them, would change. Where that is nothing in the conditions that the record allows, those are looked
/// at too that its constraints leave out: what only does something there guards against it.
pub fn what_changes(machine: &Machine, catalogue: &Catalogue, wires: &[WireId], budget: Budget<'_>) -> Change {
    let earth: Vec<WireId> = wires.iter().copied().filter(|&wire| has_earth_colour(machine, wire)).collect();
    if !earth.is_empty() {
        return Change::Earth(earth);
    }
    let allowed = changes_in(machine, catalogue, wires, budget);
    if !matches!(allowed, Change::Nothing(_)) || machine.constraints.is_empty() {
        return allowed;
    }
    let free = Machine { constraints: Shelf::default(), ..machine.clone() };
    match changes_in(&free, catalogue, wires, budget) {
        Change::Differs(wire, witness) => Change::Guards(wire, witness),
        Change::NotDecided => Change::NotDecided,
        _ => allowed,
    }
}

/// Green is protective earth until the opposite is shown; plain green was earth on older machines.
fn has_earth_colour(machine: &Machine, wire: WireId) -> bool {
    let colour = machine.wires.get(wire).and_then(|wire| wire.colour);
    colour.is_some_and(|colour| matches!(colour.base, Colour::GreenYellow | Colour::Green))
}

fn changes_in(machine: &Machine, catalogue: &Catalogue, wires: &[WireId], budget: Budget<'_>) -> Change {
    let network = Network::of(machine, catalogue);
    let judgement = Judgement::of(machine, &network, &Elements::of(&network));
    let mut model = Model::of(machine, network, &judgement);
    let purse = Purse::new(budget);
    if !relays::any_valid(&model, &purse) {
        model.valid.clear();
    }
    let bench = Bench::of(&model, &purse, budget);
    let earth: Vec<WireId> = wires.iter().copied().filter(|&wire| bench.is_earth(wire)).collect();
    if !earth.is_empty() {
        return Change::Earth(earth);
    }
    // What is seen to end on nothing carries nothing, wherever ends that are out of sight may be.
    let ends_loose = |&id: &WireId| {
        let loose =
            |side: Side, wire: &Wire| wire.end(side).at == EndAt::Loose && mystery_of(machine, id, side).is_none();
        machine.wires.get(id).is_some_and(|wire| Side::BOTH.into_iter().any(|side| loose(side, wire)))
    };
    if !model.wild.is_empty() && !wires.iter().all(ends_loose) {
        let mut unseen: Vec<WireId> = model.wild.iter().map(|wild| wild.0).collect();
        unseen.dedup();
        return Change::NotKnown(unseen);
    }
    let mut out: Vec<usize> = Vec::new();
    let mut method = Method::Structure;
    for &id in wires {
        let Some(at) = model.network.wires().iter().position(|wire| wire.wire == id) else { continue };
        let edge = model.wire_edge[at];
        for view in [Some(&bench.recorded), bench.open.as_ref()].into_iter().flatten() {
            let mut less = View::of(&model, std::ptr::eq(view, &raw const bench.recorded), &out);
            less.fed.clone_from(&view.fed);
            less.relays.clone_from(&view.relays);
            match less.find(edge, Ask::Needed, &purse) {
                Found::Never(by) => method = method.max(by),
                Found::NotDecided => return Change::NotDecided,
                Found::In(found) => {
                    let tried = bench.made(view, &found);
                    out.push(edge);
                    return Change::Differs(id, Box::new(witness(&model, &tried, &out)));
                }
            }
        }
        out.push(edge);
    }
    Change::Nothing(Proof { method, conditions: bench.conditions })
}
