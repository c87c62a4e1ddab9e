//! How a person gets a machine from one condition to another: what goes off, what hands do, what goes on.

use std::collections::BTreeSet;

use crate::machine::{ConditionId, Machine, PartId, Spot};

use super::frame::MATED;

/// Steps in order.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Steps {
    /// What comes before any source is switched on.
    pub before: Vec<String>,
    /// What is switched on and commanded then.
    pub on: Vec<String>,
}

impl Steps {
    /// From the present condition, where it is known, to another; nothing where it is the same one. While the present one is not
    /// known everything is said. `sources`: every part of the record that is a source.
    pub fn between(
        machine: &Machine,
        sources: &BTreeSet<PartId>,
        present: Option<ConditionId>,
        to: ConditionId,
    ) -> Self {
        let mut steps = Self::default();
        let Some(condition) = machine.conditions.get(to).filter(|_| present != Some(to)) else { return steps };
        let (then, now) = (machine.setting(to), present.map(|present| machine.setting(present)));
        let hands_in = now.as_ref().is_none_or(|now| now.lifted != then.lifted || now.positions != then.positions);
        let before = &mut steps.before;
        if hands_in || then.sources_on.is_empty() {
            before.push(
                "Switch every source off, lock it where it can be, let capacitors discharge, and verify absence of voltage."
                    .to_owned(),
            );
        }
        let name = |part: PartId| machine.part_name(part);
        // Where all go off that is said already, and where all stay off nothing more is to be said.
        let stays_off = sources.difference(&then.sources_on).filter(|_| !then.sources_on.is_empty());
        for &source in stays_off.filter(|source| now.as_ref().is_none_or(|now| now.sources_on.contains(source))) {
            before.push(format!("{} stays off: switch it off, lock it, and verify absence of voltage.", name(source)));
        }
        // What a person wrote about it comes before hands go in.
        before.extend(Some(condition.how.trim()).filter(|how| !how.is_empty()).map(str::to_owned));
        match &now {
            Some(now) => before.extend(now.lifted.difference(&then.lifted).map(|&(wire, side)| {
                format!("Land {} again where it belongs.", machine.spot_name(&Spot::End(wire, side)))
            })),
            None => before.push("Land every lead that is off for a test and is not named here.".to_owned()),
        }
        let lifted = then.lifted.iter().filter(|one| now.as_ref().is_none_or(|now| !now.lifted.contains(*one)));
        before.extend(lifted.map(|&(wire, side)| {
            let at = machine.wires.get(wire).map(|wire| machine.end_name(&wire.end(side).at)).unwrap_or_default();
            format!("Lift {} off {at}; cap or insulate that end.", machine.spot_name(&Spot::End(wire, side)))
        }));
        for ((part, switch), position) in &then.positions {
            let key = (*part, switch.clone());
            if now.as_ref().and_then(|now| now.positions.get(&key)) == Some(position) {
                continue;
            }
            before.push(match (switch.as_str(), position.as_str()) {
                MATED => format!("Pull plug {}.", name(*part)),
                (switch, _) if switch == MATED.0 => format!("Put plug {} in its socket.", name(*part)),
                (switch, position) => format!("Put {} {switch} to {position}.", name(*part)),
            });
        }
        let back = now.iter().flat_map(|now| now.positions.keys()).filter(|key| !then.positions.contains_key(*key));
        before.extend(back.map(|(part, switch)| {
            if switch == MATED.0 {
                format!("Put plug {} in its socket.", name(*part))
            } else {
                format!("Put {} {switch} back to where it rests.", name(*part))
            }
        }));
        let off = now.iter().flat_map(|now| now.commanded.difference(&then.commanded));
        before.extend(off.map(|output| format!("Take the command off {}.", machine.terminal_name(output))));
        let on = then
            .sources_on
            .iter()
            .filter(|source| hands_in || now.as_ref().is_none_or(|now| !now.sources_on.contains(*source)));
        steps.on.extend(on.map(|&source| format!("Switch {} on.", name(source))));
        let commanded =
            then.commanded.iter().filter(|one| now.as_ref().is_none_or(|now| !now.commanded.contains(*one)));
        steps.on.extend(commanded.map(|output| format!("Command {}.", machine.terminal_name(output))));
        steps
    }
}
