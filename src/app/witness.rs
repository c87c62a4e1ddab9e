//! A condition that shows something, put on the condition strip by a press: it becomes a condition of the record, one step of undo.

use std::sync::Arc;

use egui::Ui;

use super::request::{Requests, Show};
use super::scope::Scope;
use super::widgets::{faint, name};
use crate::machine::{Change, Condition, ConditionId, Edit, Machine};
use crate::removal::Witness;

/// Draws what a witness shows, and the key that puts its condition on the strip. `about` begins the name of the condition: `W29 is live`.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, about: &str, witness: &Witness, out: &mut Requests) {
    faint(ui, scope.palette, format!("Condition that shows it: {}", how(&witness.condition)));
    if witness.moving {
        faint(ui, scope.palette, "The relays stand so only while they move: it cannot be set and kept.");
        return;
    }
    if witness.after_another {
        faint(
            ui,
            scope.palette,
            "It stands so only after what comes first: from rest the condition alone shows something else.",
        );
        return;
    }
    let key = ui.add(egui::Button::new("Put this condition on the strip").wrap());
    name(ui, key.id, &format!("Put the condition on the strip: {about}"));
    let tip = "Adds it to the conditions of the record, where there is none like it, and shows the machine in it. Undo takes it out.";
    if key.on_hover_text(tip).clicked() {
        put(scope.machine, about, &witness.condition, out);
    }
}

fn how(condition: &Condition) -> &str {
    let how = condition.how.trim();
    if how.is_empty() { "everything at rest" } else { how }
}

/// Asks for this condition to be the one the machine is in.
fn put(machine: &Machine, about: &str, shown: &Condition, out: &mut Requests) {
    if let Some(id) = like(machine, shown) {
        out.show(Show::Condition(Some(id)));
        return;
    }
    let numbered = (2..=u32::MAX).map(|number| format!("{about}, {number}"));
    let taken = |name: &str| machine.condition_by_name(name).is_some();
    let name = std::iter::once(about.to_owned()).chain(numbered).find(|name| !taken(name)).unwrap_or_default();
    let id = machine.conditions.next_id();
    let label = format!("Add the condition '{name}'");
    let condition = Condition { name, ..shown.clone() };
    out.edit(Edit::one(label, Change::Condition(id, Some(Arc::new(condition)))));
    out.show(Show::Condition(Some(id)));
}

/// A condition of the record that sets the same by itself.
fn like(machine: &Machine, shown: &Condition) -> Option<ConditionId> {
    let same = |one: &Condition| {
        let bare = Condition { name: shown.name.clone(), how: shown.how.clone(), ..one.clone() };
        bare == *shown
    };
    machine.conditions.iter().find(|(_, one)| same(one)).map(|(id, _)| id)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::app::request::Request;
    use crate::machine::PartId;

    #[test]
    fn a_condition_is_added_once_and_found_again() {
        let mut machine = Machine::default();
        let shown = Condition { how: "Put: X1 on.".into(), ..Condition::default() };
        let shown = Condition { sources: [(PartId(0), true)].into(), ..shown };
        for expected in [1, 1] {
            let mut out = Requests::default();
            put(&machine, "W1 is live", &shown, &mut out);
            for request in out.take() {
                if let Request::Edit(edit) = request {
                    machine.apply(edit);
                }
            }
            assert_eq!(machine.conditions.len(), expected);
        }
        let other = Condition { sources: [(PartId(0), false)].into(), ..Condition::default() };
        let mut out = Requests::default();
        put(&machine, "W1 is live", &other, &mut out);
        let named = out.take().into_iter().find_map(|request| match request {
            Request::Edit(edit) => Some(edit.label),
            _ => None,
        });
        assert_eq!(named.as_deref(), Some("Add the condition 'W1 is live, 2'"));
    }
}
