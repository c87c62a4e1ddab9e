//! Names and sentences: what an edge is, what is in doubt, which condition a set of variables stands for.

use std::collections::BTreeMap;

use crate::circuit::electric::What;
use crate::circuit::{Network, blocks};
use crate::machine::{Condition, Machine, PartId, Side, Spot, Subject};

use super::model::{Is, Model};
use super::state::{driven, settled, state};
use super::term::Var;
use super::tries::Tried;
use super::verdict::Witness;

/// What an edge is called.
pub(super) fn edge_name(model: &Model<'_>, edge: usize) -> String {
    let Some(edge) = model.edges.get(edge) else { return String::new() };
    let what = match edge.is {
        Is::Wire(at) => What::Wire(at),
        Is::Landing(at, end) => What::Landing(at, end),
        Is::Contact(at) => What::Contact(at),
        Is::Fuse(at) => What::Fuse(at),
        Is::Load(at) => What::Load(at),
        Is::Coil(at) => What::Coil(at),
        Is::Passive(at) | Is::Sense(at) => What::Passive(at),
        Is::Input(at) => What::Input(at),
        Is::Output(at) => What::Output(at),
        Is::Source(at) => What::Source(at),
        Is::Unknown | Is::Candidate => return "something not known".to_owned(),
    };
    What::names(&[what], model.machine, &model.network).concat()
}

/// What is in doubt, as a sentence that says what to do.
pub(super) fn doubt(model: &Model<'_>, var: usize) -> String {
    let machine = model.machine;
    let end = |wire, side: Side| machine.spot_name(&Spot::End(wire, side));
    let mystery = |id| machine.mysteries.get(id).map_or("?", |mystery| mystery.name.as_str());
    match model.vars.get(var) {
        Some(Var::Assumed(wire, side)) => {
            let at = machine.wires.get(*wire).map(|wire| machine.end_name(&wire.end(*side).at)).unwrap_or_default();
            format!("{} on {at} is assumed, not seen or proven: see it, or prove it by a reading.", end(*wire, *side))
        }
        Some(Var::Candidate(id, at)) => {
            let own = machine.mysteries.get(*id);
            let guess = own.and_then(|own| own.candidates.get(*at)).map(|one| machine.guess_name(&one.guess));
            let about = match own.map(|own| &own.subject) {
                Some(Subject::End(wire, side)) => end(*wire, *side),
                Some(Subject::CoilDriver(part)) => machine.part_name(*part).to_owned(),
                _ => String::new(),
            };
            format!("The mystery '{}' is open: {about} may belong to {}.", mystery(*id), guess.unwrap_or_default())
        }
        Some(Var::Fault(id, _)) => format!("A fault is suspected: the mystery '{}' is open.", mystery(*id)),
        Some(Var::Form(id)) => format!("The form of a contact is not read: the mystery '{}' is open.", mystery(*id)),
        Some(Var::Disputed(name)) => format!("Readings dispute {name}."),
        Some(Var::Unknown(part)) => {
            format!("What the pins of {} do is not recorded where it would matter here.", machine.part_name(*part))
        }
        _ => String::new(),
    }
}

/// The position of a switch by its bits.
fn position(network: &Network, part: PartId, name: &str, code: usize) -> Option<(String, bool)> {
    let switch = network.body(part)?.switches.iter().find(|switch| switch.name == name)?;
    Some((switch.positions.get(code)?.clone(), code == 0))
}

/// The condition a set of variables stands for; names no condition and says nothing of what is at rest.
pub(super) fn condition(model: &Model<'_>, bits: &[bool]) -> Condition {
    let mut condition = Condition::default();
    let mut codes: BTreeMap<(PartId, String), usize> = BTreeMap::new();
    for (var, &bit) in model.vars.iter().zip(bits) {
        match var {
            Var::Source(part) => {
                condition.sources.insert(*part, bit);
            }
            Var::Output(terminal) if bit => {
                condition.commanded.insert(terminal.clone(), true);
            }
            Var::Switch(part, name, at) => {
                *codes.entry((*part, name.clone())).or_default() |= usize::from(bit) << at;
            }
            Var::Landed(wire, side) if bit => {
                condition.lifted.insert((*wire, *side), false);
            }
            _ => {}
        }
    }
    for ((part, name), code) in codes {
        if let Some((position, false)) = position(&model.network, part, &name, code) {
            condition.positions.insert((part, name), position);
        }
    }
    condition
}

/// What a person does to come to a condition from rest, in one sentence.
pub(super) fn set_by(machine: &Machine, condition: &Condition) -> String {
    let mut all: Vec<String> = Vec::new();
    for (&part, &on) in &condition.sources {
        all.push(format!("{} {}", machine.part_name(part), if on { "on" } else { "off" }));
    }
    all.extend(condition.commanded.keys().map(|one| format!("{} commanded", machine.terminal_name(one))));
    for ((part, name), position) in &condition.positions {
        all.push(format!("{} {name} {position}", machine.part_name(*part)));
    }
    for ((wire, side), lifted) in &condition.lifted {
        let spot = machine.spot_name(&Spot::End(*wire, *side));
        all.push(format!("{spot} {}", if *lifted { "lifted" } else { "landed again" }));
    }
    if all.is_empty() { "everything at rest".to_owned() } else { all.join(", ") }
}

/// A condition tried out, with what needs these edges in it.
pub(super) fn witness(model: &Model<'_>, tried: &Tried, edges: &[usize]) -> Witness {
    let mut shown = condition(model, &tried.bits);
    let mut worked: Vec<PartId> = Vec::new();
    let mut from_rest = tried.bits.clone();
    for (at, var) in model.vars.iter().enumerate() {
        if let Var::Relay(relay) = var {
            from_rest[at] = false;
            if tried.bits[at]
                && let Some(relay) = model.network.relays().get(*relay)
            {
                worked.push(relay.inside.part);
            }
        }
    }
    worked.sort_unstable();
    worked.dedup();
    let names: Vec<&str> = worked.iter().map(|&part| model.machine.part_name(part)).collect();
    let held = settled(model, &from_rest).as_ref() != Some(&tried.bits);
    if let Some(before) = &tried.before {
        let first = set_by(model.machine, &condition(model, before));
        shown.how = format!("First {first}; then {}.", set_by(model.machine, &shown));
    } else if tried.moving {
        shown.how = if names.is_empty() {
            "While relays move, with none worked.".to_owned()
        } else {
            format!("While relays move, with {} worked.", names.join(", "))
        };
    } else if held {
        shown.how = format!("With {} worked before and held in.", names.join(", "));
    } else {
        shown.how = format!("Put: {}.", set_by(model.machine, &shown));
    }
    let after_another = tried.before.is_some() || held;
    Witness { condition: shown, worked, moving: tried.moving, after_another, loads: changed(model, &tried.bits, edges) }
}

/// Fuses that carry beside these edges, and all of their current without them: another protection than before.
fn beside(model: &Model<'_>, bits: &[bool], edges: &[usize]) -> Vec<usize> {
    let joins = |at: usize| {
        let edge = &model.edges[at];
        edge.when.holds(bits) && (edge.joins() || matches!(edge.is, Is::Fuse(_)))
    };
    let all: Vec<usize> = (0..model.edges.len()).filter(|&at| joins(at)).collect();
    let ends: Vec<(u32, u32)> = all.iter().map(|&at| model.edges[at].ends.into()).collect();
    let block = blocks(model.places, &ends);
    let own: Vec<u32> = all.iter().zip(&block).filter(|(at, _)| edges.contains(at)).map(|(_, block)| *block).collect();
    let is_fuse = |at: usize| matches!(model.edges[at].is, Is::Fuse(_));
    all.iter().zip(&block).filter(|(at, block)| is_fuse(**at) && own.contains(block)).map(|(at, _)| *at).collect()
}

/// Loads, coils, protectors and sensing inputs that are not the same without these edges, by name.
pub(super) fn changed(model: &Model<'_>, bits: &[bool], edges: &[usize]) -> Vec<String> {
    let counts =
        |is: Is| matches!(is, Is::Load(_) | Is::Coil(_) | Is::Sense(_) | Is::Input(_) | Is::Passive(_) | Is::Fuse(_));
    let (with, without) = (state(model, bits, &[]), state(model, bits, edges));
    let all = || (0..model.edges.len()).filter(|&at| counts(model.edges[at].is) && !edges.contains(&at));
    let mut found: Vec<usize> = all().filter(|&at| with.carries[at] != without.carries[at]).collect();
    if found.is_empty() {
        let (with, without) = (driven(model, bits, &[]), driven(model, bits, edges));
        found = all().filter(|&at| with[at] != without[at]).collect();
    }
    // Fuses and passive elements are named where nothing else is.
    let is_plain = |at: &usize| matches!(model.edges[*at].is, Is::Fuse(_) | Is::Passive(_));
    if found.iter().any(|at| !is_plain(at)) {
        found.retain(|at| !is_plain(at));
    }
    if found.is_empty() {
        found = beside(model, bits, edges);
    }
    let mut names: Vec<String> = found.into_iter().map(|at| edge_name(model, at)).collect();
    names.dedup();
    names
}
