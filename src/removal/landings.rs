//! Which ends of wires are on which terminals, and what of that is in doubt.

use crate::circuit::{Network, Node};
use crate::machine::{EndAt, Known, Machine, Mystery, Side, Subject, WireId, WireState};

use super::term::Var;

/// An end on a terminal.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Landing {
    /// The wire's place in the network's list, and which end.
    pub(super) wire: usize,
    pub(super) slot: usize,
    pub(super) end: Node,
    pub(super) terminal: Node,
    /// What makes it less than certain.
    pub(super) doubt: Option<Var>,
}

/// The mystery about where an end belongs, if there is one with candidates.
pub(super) fn mystery_of(machine: &Machine, wire: WireId, side: Side) -> Option<(crate::machine::MysteryId, &Mystery)> {
    let own = |mystery: &Mystery| mystery.subject == Subject::End(wire, side) && !mystery.candidates.is_empty();
    machine.mysteries.iter().find(|(_, mystery)| own(mystery))
}

/// Every end that is on a terminal, or that is off for now and will be on it again.
pub(super) fn of(machine: &Machine, network: &Network, proven: &dyn Fn(usize, usize) -> bool) -> Vec<Landing> {
    let mut all = Vec::new();
    for (at, conductor) in network.wires().iter().enumerate() {
        let Some(wire) = machine.wires.get(conductor.wire).filter(|wire| wire.state == WireState::InPlace) else {
            continue;
        };
        for (slot, side) in Side::BOTH.into_iter().enumerate() {
            let end = wire.end(side);
            let EndAt::Terminal(terminal) = &end.at else { continue };
            let landed = conductor.landed.get(slot).copied().flatten();
            let Some(terminal) = landed.or_else(|| network.terminal(terminal)) else { continue };
            let in_doubt = matches!(end.known, Known::Assumed | Known::Disputed) && !proven(at, slot);
            let doubt = if in_doubt || mystery_of(machine, conductor.wire, side).is_some() {
                Some(Var::Assumed(conductor.wire, side))
            } else if end.lifted {
                Some(Var::Landed(conductor.wire, side))
            } else {
                None
            };
            all.push(Landing { wire: at, slot, end: conductor.ends[slot], terminal, doubt });
        }
    }
    all
}
