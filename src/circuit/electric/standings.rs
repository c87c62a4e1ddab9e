//! The record as readings have it: what they prove or dispute is put over what is recorded of an end.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::machine::{Known, Machine, Side, WireId};

use super::super::network::Network;
use super::judged::Judgement;
use super::stamp::What;

/// The record with each end known as the readings have it; nothing else differs. What a reading speaks against is disputed, though
/// another reading prove it.
pub fn with_standings(machine: &Arc<Machine>, network: &Network, judgement: &Judgement) -> Arc<Machine> {
    let mut shown = Arc::clone(machine);
    for (what, standing) in &judgement.standings {
        let known = if !standing.disputed_by.is_empty() {
            Known::Disputed
        } else if !standing.proven_by.is_empty() {
            Known::Proven
        } else {
            continue;
        };
        let Some(id) = what.wire(network) else { continue };
        let Some(mut wire) = shown.wires.get(id).cloned() else { continue };
        for &side in sides(*what) {
            let end = wire.end_mut(side);
            if end.known != Known::Disputed {
                end.known = known;
            }
        }
        Arc::make_mut(&mut shown).wires.put(id, Some(Arc::new(wire)));
    }
    shown
}

/// The ends of wires that readings prove and none disputes.
pub fn proven_ends(network: &Network, judgement: &Judgement) -> BTreeSet<(WireId, Side)> {
    let proves = judgement.standings.iter().filter(|(_, one)| one.disputed_by.is_empty() && !one.proven_by.is_empty());
    proves
        .filter_map(|(what, _)| Some((what.wire(network)?, sides(*what))))
        .flat_map(|(wire, sides)| sides.iter().map(move |&side| (wire, side)))
        .collect()
}

/// The ends of its wire that something is about.
fn sides(what: What) -> &'static [Side] {
    match what {
        What::Landing(_, 0) => &[Side::From],
        What::Landing(..) => &[Side::To],
        _ => &Side::BOTH,
    }
}
