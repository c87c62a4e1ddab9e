//! The usual edits, made ready: each is one undo step, and none of them loses evidence.

use std::collections::BTreeSet;
use std::sync::Arc;

use super::Machine;
use super::condition::{Condition, Constraint, Statement};
use super::edit::{Change, Edit};
use super::ids::{PartId, PhotoId, WireId};
use super::mystery::{Guess, Subject};
use super::part::Part;
use super::reading::Reading;
use super::spot::{Side, Spot, TerminalRef, Thing};
use super::wire::{EndAt, Known, Wire};

impl Machine {
    /// Adds a part.
    pub fn add_part(&self, part: Part) -> (PartId, Edit) {
        let id = self.parts.next_id();
        (id, Edit::one(format!("Place {}", part.tag), Change::Part(id, Some(Arc::new(part)))))
    }

    /// Adds a wire.
    pub fn add_wire(&self, wire: Wire) -> (WireId, Edit) {
        let id = self.wires.next_id();
        (id, Edit::one(format!("Draw {}", wire.key), Change::Wire(id, Some(Arc::new(wire)))))
    }

    /// Changes one part; nothing when it is not there or stays as it is.
    pub fn edit_part(&self, id: PartId, label: &str, change: impl FnOnce(&mut Part)) -> Edit {
        let Some(old) = self.parts.get(id) else { return Edit::default() };
        let mut new = old.clone();
        change(&mut new);
        if new == *old { Edit::default() } else { Edit::one(label, Change::Part(id, Some(Arc::new(new)))) }
    }

    /// Changes one wire; nothing when it is not there or stays as it is.
    pub fn edit_wire(&self, id: WireId, label: &str, change: impl FnOnce(&mut Wire)) -> Edit {
        let Some(old) = self.wires.get(id) else { return Edit::default() };
        let mut new = old.clone();
        change(&mut new);
        if new == *old { Edit::default() } else { Edit::one(label, Change::Wire(id, Some(Arc::new(new)))) }
    }

    /// Moves parts, whole wires' bends and loose ends, and photos by a distance in millimetres.
    ///
    /// Bends of wires whose two ends both lie on moved parts go with them.
    pub fn move_things(
        &self,
        parts: &BTreeSet<PartId>,
        wires: &BTreeSet<WireId>,
        photos: &BTreeSet<PhotoId>,
        (dx, dy): (f64, f64),
    ) -> Edit {
        let mut changes = Vec::new();
        for &id in parts {
            if let Some(old) = self.parts.get(id) {
                let mut part = old.clone();
                part.pose.at = part.pose.at.moved(dx, dy);
                for note in part.terminals.values_mut() {
                    note.at = note.at.map(|at| at.moved(dx, dy));
                }
                changes.push(Change::Part(id, Some(Arc::new(part))));
            }
        }
        for (id, old) in self.wires.iter() {
            let rides = Side::BOTH
                .into_iter()
                .all(|side| matches!(&old.end(side).at, EndAt::Terminal(terminal) if parts.contains(&terminal.part)));
            if !(wires.contains(&id) || rides) {
                continue;
            }
            let mut wire = old.clone();
            for bend in &mut wire.path {
                bend.at = bend.at.moved(dx, dy);
            }
            for side in Side::BOTH {
                let end = wire.end_mut(side);
                end.place = end.place.map(|place| place.moved(dx, dy));
            }
            if wire != *old {
                changes.push(Change::Wire(id, Some(Arc::new(wire))));
            }
        }
        for &id in photos {
            if let Some(old) = self.photos.get(id) {
                let mut photo = old.clone();
                photo.placement = photo.placement.moved(dx, dy);
                changes.push(Change::Photo(id, Some(Arc::new(photo))));
            }
        }
        Edit { label: "Move".to_owned(), changes }
    }

    /// Takes parts and wires out of the drawing.
    ///
    /// Wires of a part that goes stay as loose ends; readings and decisions keep the name of what is gone; a mystery about it goes too.
    pub fn remove_things(&self, parts: &BTreeSet<PartId>, wires: &BTreeSet<WireId>) -> Edit {
        let gone = Gone { machine: self, parts, wires };
        let mut changes = Vec::new();
        for (id, wire) in self.wires.iter() {
            if wires.contains(&id) {
                changes.push(Change::Wire(id, None));
                continue;
            }
            let mut kept = wire.clone();
            for side in Side::BOTH {
                let end = kept.end_mut(side);
                if matches!(&end.at, EndAt::Terminal(terminal) if parts.contains(&terminal.part)) {
                    end.at = EndAt::Loose;
                    end.known = Known::Assumed; // nobody has looked: the drawing was changed, not the machine
                    end.lifted = false;
                }
            }
            if kept != *wire {
                changes.push(Change::Wire(id, Some(Arc::new(kept))));
            }
        }
        gone.in_log(&mut changes);
        gone.in_conditions(&mut changes);
        for &id in parts {
            if self.parts.contains(id) {
                changes.push(Change::Part(id, None));
            }
        }
        let names: Vec<_> = parts
            .iter()
            .map(|&id| self.part_name(id))
            .chain(wires.iter().map(|&id| self.wire_name(id)))
            .take(4)
            .collect();
        Edit { label: format!("Remove {}", names.join(", ")), changes }
    }
}

/// What is being taken out, and how references to it are put.
struct Gone<'a> {
    machine: &'a Machine,
    parts: &'a BTreeSet<PartId>,
    wires: &'a BTreeSet<WireId>,
}

impl Gone<'_> {
    fn spot(&self, spot: &Spot) -> Spot {
        let goes = match spot {
            Spot::Terminal(terminal) => self.parts.contains(&terminal.part),
            Spot::Part(part) => self.parts.contains(part),
            Spot::End(wire, _) | Spot::Wire(wire) => self.wires.contains(wire),
            Spot::Gone(_) => false,
        };
        if goes { Spot::Gone(self.machine.spot_name(spot)) } else { spot.clone() }
    }

    fn terminal(&self, terminal: &TerminalRef) -> bool {
        self.parts.contains(&terminal.part)
    }

    fn statement(&self, statement: &Statement) -> bool {
        match statement {
            Statement::SourceOn(part) | Statement::Position(part, ..) => self.parts.contains(part),
            Statement::Commanded(terminal) => self.terminal(terminal),
        }
    }

    fn in_log(&self, changes: &mut Vec<Change>) {
        for (id, reading) in self.machine.readings.iter() {
            let kept = Reading {
                red: self.spot(&reading.red),
                black: reading.black.as_ref().map(|spot| self.spot(spot)),
                ..reading.clone()
            };
            if kept != *reading {
                changes.push(Change::Reading(id, Some(Arc::new(kept))));
            }
        }
        for (id, decision) in self.machine.decisions.iter() {
            let mut kept = decision.clone();
            for thing in &mut kept.about {
                if let Thing::Spot(spot) = thing {
                    *spot = self.spot(spot);
                }
            }
            if kept != *decision {
                changes.push(Change::Decision(id, Some(Arc::new(kept))));
            }
        }
        for (id, tick) in self.machine.ticks.iter() {
            let at = tick.at.as_ref().map(|spot| self.spot(spot));
            if at != tick.at {
                changes.push(Change::Tick(id, Some(Arc::new(super::Tick { at, ..tick.clone() }))));
            }
        }
        for (id, mystery) in self.machine.mysteries.iter() {
            let goes = match &mystery.subject {
                Subject::End(wire, _) => self.wires.contains(wire),
                Subject::CoilDriver(part) | Subject::Kind(part) => self.parts.contains(part),
                Subject::ContactForm(terminal) => self.terminal(terminal),
                Subject::Fault(spot) => self.spot(spot) != *spot,
            };
            if goes {
                changes.push(Change::Mystery(id, None));
                continue;
            }
            let mut kept = mystery.clone();
            let gone = |guess: &Guess| matches!(guess, Guess::Terminal(terminal) if self.terminal(terminal));
            kept.candidates.retain(|candidate| !gone(&candidate.guess));
            for candidate in &mut kept.candidates {
                candidate.never_with.retain(|(_, guess)| !gone(guess));
            }
            if kept != *mystery {
                changes.push(Change::Mystery(id, Some(Arc::new(kept))));
            }
        }
    }

    fn in_conditions(&self, changes: &mut Vec<Change>) {
        for (id, condition) in self.machine.conditions.iter() {
            let mut kept: Condition = condition.clone();
            kept.sources.retain(|part, _| !self.parts.contains(part));
            kept.commanded.retain(|terminal, _| !self.terminal(terminal));
            kept.positions.retain(|(part, _), _| !self.parts.contains(part));
            kept.lifted.retain(|(wire, _), _| !self.wires.contains(wire));
            if kept != *condition {
                changes.push(Change::Condition(id, Some(Arc::new(kept))));
            }
        }
        for (id, constraint) in self.machine.constraints.iter() {
            let kept = match constraint {
                Constraint::NeverBoth(all) => {
                    let left: Vec<_> = all.iter().filter(|one| !self.statement(one)).cloned().collect();
                    (left.len() > 1).then_some(Constraint::NeverBoth(left))
                }
                Constraint::OnlyWhen(this, that) => {
                    (!self.statement(this) && !self.statement(that)).then(|| constraint.clone())
                }
                Constraint::Always(this) => (!self.statement(this)).then(|| constraint.clone()),
            };
            if kept.as_ref() != Some(constraint) {
                changes.push(Change::Constraint(id, kept.map(Arc::new)));
            }
        }
    }
}
