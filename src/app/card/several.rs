//! The card of several selected things: how many, and what can be done with all of them.

use egui::Ui;

use crate::app::action::Action;
use crate::app::request::{Requests, Show};
use crate::app::scope::Scope;
use crate::app::stage::Stage;
use crate::app::widgets::{faint, group};
use crate::machine::{Change, Edit, Known, Side, WireState};

/// Draws the card of several things.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let selection = &scope.view.selection;
    let (parts, wires, photos) = (selection.parts(), selection.wires(), selection.photos());
    ui.heading(format!("{} selected", selection.len()));
    for (count, one, more) in
        [(parts.len(), "part", "parts"), (wires.len(), "wire", "wires"), (photos.len(), "photo", "photos")]
    {
        if count > 0 {
            faint(ui, scope.palette, format!("{count} {}", if count == 1 { one } else { more }));
        }
    }
    ui.horizontal_wrapped(|ui| {
        for action in [Action::Turn, Action::Mirror, Action::Duplicate, Action::Remove, Action::Cancel] {
            if ui.button(action.words()).clicked() {
                out.act(action);
            }
        }
    });
    if !wires.is_empty() {
        group(ui, "All these wires");
        ui.horizontal_wrapped(|ui| {
            for state in [WireState::InPlace, WireState::CappedOff, WireState::Removed] {
                if ui.button(format!("Mark {}", state.words())).clicked() {
                    out.edit(each_wire(scope, &format!("Mark wires {}", state.words()), |wire| wire.state = state));
                }
            }
            if scope.view.stage == Stage::Removal && ui.button("Put these wires on the plan").clicked() {
                out.show(Show::Choose(wires.iter().copied().collect(), true));
                out.show(Show::Plan(true));
            }
            for known in [Known::Seen, Known::Assumed] {
                if ui.button(format!("Ends {}", known.words())).clicked() {
                    out.edit(each_wire(scope, &format!("Mark ends {}", known.words()), |wire| {
                        for side in Side::BOTH {
                            wire.end_mut(side).known = known;
                        }
                    }));
                }
            }
        });
    }
    if parts.len() > 1 {
        group(ui, "All these parts");
        if ui.button("Work as one load").on_hover_text("Give them one group name, on purpose").clicked() {
            let first = parts.iter().next().map_or("group", |&id| scope.machine.part_name(id));
            let name = format!("with {first}");
            let mut changes = Vec::new();
            for &id in &parts {
                changes.extend(scope.machine.edit_part(id, "Group", |part| part.group = Some(name.clone())).changes);
            }
            out.edit(Edit { label: "Work as one load".to_owned(), changes });
        }
    }
}

fn each_wire(scope: &Scope<'_>, label: &str, change: impl Fn(&mut crate::machine::Wire)) -> Edit {
    let mut changes: Vec<Change> = Vec::new();
    for id in scope.view.selection.wires() {
        changes.extend(scope.machine.edit_wire(id, label, &change).changes);
    }
    Edit { label: label.to_owned(), changes }
}
