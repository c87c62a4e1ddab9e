//! Undo and redo, without limit within a session.

use std::collections::BTreeSet;

use crate::machine::{Change, Edit, Machine};

/// One thing a person did, kept as what takes it back.
#[derive(Debug, Clone, PartialEq)]
struct Step {
    inverse: Edit,
    /// Steps with the same key in a row are one (a drag, typing in one field).
    key: Option<String>,
}

/// What was done and can be taken back, and what was taken back and can be done again.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct History {
    done: Vec<Step>,
    undone: Vec<Edit>,
}

impl History {
    /// Applies an edit as a step of its own, or joined to the last step when both carry the same key.
    pub fn apply(&mut self, machine: &mut Machine, edit: Edit, key: Option<&str>) {
        self.undone.clear();
        let label = edit.label.clone();
        let inverse = machine.apply(edit);
        match self.done.last_mut() {
            Some(last) if key.is_some() && last.key.as_deref() == key => {
                // What an entry was before the row began is all that undo needs of it.
                let held: BTreeSet<(u8, u32)> = last.inverse.changes.iter().map(Change::entry).collect();
                let new = inverse.changes.into_iter().filter(|change| !held.contains(&change.entry()));
                last.inverse.changes.extend(new);
                last.inverse.label = label;
            }
            _ => self.done.push(Step { inverse, key: key.map(str::to_owned) }),
        }
    }

    /// Lets the next edit begin a step of its own, whatever its key.
    pub fn close_step(&mut self) {
        if let Some(last) = self.done.last_mut() {
            last.key = None;
        }
    }

    /// Takes back the last step; returns its label.
    pub fn undo(&mut self, machine: &mut Machine) -> Option<String> {
        let step = self.done.pop()?;
        let label = step.inverse.label.clone();
        self.undone.push(machine.apply(step.inverse));
        Some(label)
    }

    /// Does again what was taken back last; returns its label.
    pub fn redo(&mut self, machine: &mut Machine) -> Option<String> {
        let edit = self.undone.pop()?;
        let label = edit.label.clone();
        let inverse = machine.apply(edit);
        self.done.push(Step { inverse, key: None });
        Some(label)
    }

    /// Label of the step that undo would take back.
    pub fn undo_label(&self) -> Option<&str> {
        self.done.last().map(|step| step.inverse.label.as_str())
    }

    /// Label of the step that redo would do again.
    pub fn redo_label(&self) -> Option<&str> {
        self.undone.last().map(|edit| edit.label.as_str())
    }

    /// How many steps can be taken back.
    pub fn len(&self) -> usize {
        self.done.len()
    }

    /// Whether nothing can be taken back.
    pub fn is_empty(&self) -> bool {
        self.done.is_empty()
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::{Part, Point};
    use proptest::prelude::*;
    use std::collections::BTreeSet;

    fn machine_with_parts(count: usize) -> Machine {
        let mut machine = Machine::default();
        for number in 0..count {
            let part = Part { tag: format!("K{number}"), ..Part::default() };
            let (_, edit) = machine.add_part(part);
            machine.apply(edit);
        }
        machine
    }

    #[test]
    fn a_drag_is_one_step() {
        let mut machine = machine_with_parts(1);
        let before = machine.clone();
        let mut history = History::default();
        let part = machine.parts.ids().next().unwrap();
        for _ in 0..50 {
            let edit = machine.move_things(&[part].into(), &BTreeSet::new(), &BTreeSet::new(), (1.0, 0.5));
            history.apply(&mut machine, edit, Some("drag 1"));
        }
        assert_eq!(machine.parts.get(part).unwrap().pose.at, Point::new(50.0, 25.0));
        assert_eq!(history.len(), 1);
        assert_eq!(history.done[0].inverse.changes.len(), 1, "one entry, kept once");
        history.undo(&mut machine);
        assert_eq!(machine, before);
        history.redo(&mut machine);
        assert_eq!(machine.parts.get(part).unwrap().pose.at, Point::new(50.0, 25.0));
    }

    proptest! {
        /// Any row of edits, undone, gives the identical record; redone, the identical end.
        #[test]
        fn undo_restores_the_identical_record(choices in prop::collection::vec((0_u8..5, 0_usize..6), 1..40)) {
            let mut machine = machine_with_parts(3);
            let start = machine.clone();
            let mut history = History::default();
            for (kind, which) in choices {
                let part = machine.parts.ids().nth(which);
                let wire = machine.wires.ids().nth(which);
                let edit = match (kind, part, wire) {
                    (0, _, _) => machine.add_part(Part { tag: machine.free_tag("M"), ..Part::default() }).1,
                    (1, Some(part), _) => machine.remove_things(&[part].into(), &BTreeSet::new()),
                    (2, Some(part), _) => machine.edit_part(part, "Rename", |p| p.tag.push('x')),
                    (3, Some(part), _) => {
                        let mut wire = crate::machine::Wire { key: machine.free_tag("W"), ..Default::default() };
                        wire.from.at = crate::machine::EndAt::Terminal(crate::machine::TerminalRef::new(part, "A1"));
                        machine.add_wire(wire).1
                    }
                    (4, _, Some(wire)) => machine.remove_things(&BTreeSet::new(), &[wire].into()),
                    _ => continue,
                };
                history.apply(&mut machine, edit, None);
            }
            let end = machine.clone();
            while history.undo(&mut machine).is_some() {}
            prop_assert_eq!(&machine, &start);
            while history.redo(&mut machine).is_some() {}
            prop_assert_eq!(&machine, &end);
        }
    }
}
