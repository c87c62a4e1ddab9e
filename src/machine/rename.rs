//! Renaming a terminal's marking: everything in the record that names the terminal follows, in one step of undo.

use std::sync::Arc;

use super::Machine;
use super::condition::{Condition, Constraint, Statement};
use super::edit::{Change, Edit};
use super::ids::{PartId, Shelf};
use super::mystery::{Guess, Mystery, Subject};
use super::part::{Part, PinRole};
use super::spot::{Marking, Side, Spot, TerminalRef, Thing};
use super::wire::EndAt;

impl Machine {
    /// Renames a pin that a part has of its own; roles of other pins, wires, readings, conditions, mysteries and
    /// decisions follow. Nothing when the part has no such pin or has the new marking already among its pins.
    pub fn rename_marking(&self, part: PartId, from: &Marking, to: &Marking) -> Edit {
        let Some(owner) = self.parts.get(part) else { return Edit::default() };
        let has = |marking: &Marking| owner.pins.iter().any(|pin| pin.marking == *marking);
        if from == to || !has(from) || has(to) {
            return Edit::default();
        }
        let rename = Rename { part, from, to };
        let mut changes = Vec::new();
        each(&self.parts, &mut changes, Change::Part, |id, part| {
            if id == rename.part {
                rename.in_part(part);
            }
        });
        each(&self.wires, &mut changes, Change::Wire, |_, wire| {
            for side in Side::BOTH {
                if let EndAt::Terminal(terminal) = &mut wire.end_mut(side).at {
                    rename.terminal(terminal);
                }
            }
        });
        each(&self.conditions, &mut changes, Change::Condition, |_, condition| rename.in_condition(condition));
        each(&self.constraints, &mut changes, Change::Constraint, |_, constraint| rename.in_constraint(constraint));
        each(&self.readings, &mut changes, Change::Reading, |_, reading| {
            rename.spot(&mut reading.red);
            if let Some(black) = &mut reading.black {
                rename.spot(black);
            }
        });
        each(&self.mysteries, &mut changes, Change::Mystery, |_, mystery| rename.in_mystery(mystery));
        each(&self.decisions, &mut changes, Change::Decision, |_, decision| {
            for thing in &mut decision.about {
                if let Thing::Spot(spot) = thing {
                    rename.spot(spot);
                }
            }
        });
        Edit { label: format!("Rename {}.{from} to {to}", owner.tag), changes }
    }
}

/// Puts down a change for every entry that comes out different.
fn each<K, V>(
    shelf: &Shelf<K, V>,
    changes: &mut Vec<Change>,
    make: impl Fn(K, Option<Arc<V>>) -> Change,
    change: impl Fn(K, &mut V),
) where
    K: Ord + Copy + From<u32> + Into<u32>,
    V: Clone + PartialEq,
{
    for (id, old) in shelf.iter() {
        let mut new = old.clone();
        change(id, &mut new);
        if new != *old {
            changes.push(make(id, Some(Arc::new(new))));
        }
    }
}

struct Rename<'a> {
    part: PartId,
    from: &'a Marking,
    to: &'a Marking,
}

impl Rename<'_> {
    fn terminal(&self, terminal: &mut TerminalRef) {
        if terminal.part == self.part && terminal.marking == *self.from {
            terminal.marking = self.to.clone();
        }
    }

    fn spot(&self, spot: &mut Spot) {
        if let Spot::Terminal(terminal) = spot {
            self.terminal(terminal);
        }
    }

    fn statement(&self, statement: &mut Statement) {
        if let Statement::Commanded(terminal) = statement {
            self.terminal(terminal);
        }
    }

    fn in_part(&self, part: &mut Part) {
        for pin in &mut part.pins {
            if pin.marking == *self.from {
                pin.marking = self.to.clone();
            }
            if let PinRole::Supply(other)
            | PinRole::Joined(other)
            | PinRole::OutputFrom(other)
            | PinRole::OutputTo(other)
            | PinRole::OutputDry(other)
            | PinRole::OutputTriac(other)
            | PinRole::Input(other) = &mut pin.role
                && *other == *self.from
            {
                *other = self.to.clone();
            }
        }
        if let Some(note) = part.terminals.remove(self.from) {
            part.terminals.insert(self.to.clone(), note);
        }
    }

    fn in_condition(&self, condition: &mut Condition) {
        let old = TerminalRef { part: self.part, marking: self.from.clone() };
        if let Some(said) = condition.commanded.remove(&old) {
            condition.commanded.insert(TerminalRef { part: self.part, marking: self.to.clone() }, said);
        }
    }

    fn in_constraint(&self, constraint: &mut Constraint) {
        match constraint {
            Constraint::NeverBoth(statements) => statements.iter_mut().for_each(|statement| self.statement(statement)),
            Constraint::OnlyWhen(this, that) => {
                self.statement(this);
                self.statement(that);
            }
            Constraint::Always(this) => self.statement(this),
        }
    }

    fn in_mystery(&self, mystery: &mut Mystery) {
        match &mut mystery.subject {
            Subject::ContactForm(terminal) => self.terminal(terminal),
            Subject::Fault(spot) => self.spot(spot),
            Subject::End(..) | Subject::CoilDriver(_) | Subject::Kind(_) => {}
        }
        for candidate in &mut mystery.candidates {
            let others = candidate.never_with.iter_mut().map(|(_, guess)| guess);
            for guess in std::iter::once(&mut candidate.guess).chain(others) {
                if let Guess::Terminal(terminal) = guess {
                    self.terminal(terminal);
                }
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::{Pin, Reading, Wire, WireEnd};
    use crate::quantity::Value;

    #[test]
    fn whatever_names_the_terminal_follows_and_undo_restores_it() {
        let mut machine = Machine::default();
        let pin = |marking: &str, role| Pin { marking: marking.into(), role, at: None };
        let pins = vec![pin("1", PinRole::Plain), pin("2", PinRole::OutputFrom("1".into()))];
        let board = machine.parts.add(Part { tag: "A1".into(), pins, ..Part::default() });
        let at = TerminalRef::new(board, "1");
        let end = WireEnd { at: EndAt::Terminal(at.clone()), ..WireEnd::default() };
        machine.wires.add(Wire { key: "W1".into(), from: end, ..Wire::default() });
        machine.readings.add(Reading {
            name: "R1".into(),
            red: Spot::Terminal(at.clone()),
            black: None,
            value: Value::Tone,
            condition: None,
            meter: None,
            when: String::new(),
            who: String::new(),
            visit: None,
            note: String::new(),
        });
        let mut condition = Condition { name: "c".into(), ..Condition::default() };
        condition.commanded.insert(at, true);
        machine.conditions.add(condition);
        let before = machine.clone();
        let inverse = machine.apply(before.rename_marking(board, &"1".into(), &"J1-1".into()));
        let new = TerminalRef::new(board, "J1-1");
        assert_eq!(machine.wires.values().next().unwrap().from.at, EndAt::Terminal(new.clone()));
        assert_eq!(machine.readings.values().next().unwrap().red, Spot::Terminal(new.clone()));
        assert!(machine.conditions.values().next().unwrap().commanded.contains_key(&new));
        assert_eq!(machine.parts.get(board).unwrap().pins[1].role, PinRole::OutputFrom("J1-1".into()));
        machine.apply(inverse);
        assert_eq!(machine, before);
    }

    #[test]
    fn a_marking_that_is_taken_is_refused() {
        let mut machine = Machine::default();
        let pins = ["1", "2"].map(|m| Pin { marking: m.into(), role: PinRole::Plain, at: None }).to_vec();
        let board = machine.parts.add(Part { tag: "A1".into(), pins, ..Part::default() });
        assert!(machine.rename_marking(board, &"1".into(), &"2".into()).is_empty());
        assert!(machine.rename_marking(board, &"9".into(), &"3".into()).is_empty());
    }
}
