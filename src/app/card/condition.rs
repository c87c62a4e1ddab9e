//! The card of a condition: the steps that set it, and what it sets.

use egui::Ui;

use super::ask;
use crate::app::changes;
use crate::app::marks::{self, Band};
use crate::app::request::{Requests, Show};
use crate::app::scope::Scope;
use crate::app::widgets::{Field, choose, faint, field, group, row, strong, three_ways, wrong};
use crate::catalogue::Element;
use crate::circuit::Steps;
use crate::findings::Severity;
use crate::machine::{Condition, ConditionId, Edit, EndAt, Part, PinRole, Side, Spot, TerminalRef};

/// Words for a thing that a condition can say, say not, or leave to what it is derived from.
const ON: [&str; 3] = ["on", "off", "as derived"];
const COMMANDED: [&str; 3] = ["commanded", "not", "as derived"];
const LIFTED: [&str; 3] = ["lifted", "landed", "as derived"];

/// Draws the card of a condition.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, id: ConditionId, out: &mut Requests) {
    let Some(condition) = scope.machine.conditions.get(id) else { return };
    ui.heading(condition.name.as_str());
    if scope.results.condition == Some(id) {
        strong(ui, format!("The machine is in it: {}", scope.results.band.words().to_lowercase()));
        match scope.results.band {
            Band::Isolated => faint(ui, scope.palette, scope.results.band.meaning()),
            _ => wrong(ui, scope.palette, scope.results.band.meaning()),
        }
    } else if ui.button("The machine is in it now").clicked() {
        out.show(Show::Condition(Some(id)));
    }
    steps(ui, scope, id);
    if scope.results.condition == Some(id) {
        marks::tints(ui, scope.prefs.theme.ground(), scope.palette);
    }
    words(ui, scope, id, condition, out);
    sources(ui, scope, id, condition, out);
    outputs(ui, scope, id, condition, out);
    positions(ui, scope, id, condition, out);
    leads(ui, scope, id, condition, out);
    group(ui, "Take out");
    if ui.button("Remove this condition").clicked() {
        out.edit(changes::without_condition(scope.machine, id));
    }
}

/// How to get the machine into it, step by step, from the condition it is in, where that is another one.
fn steps(ui: &mut Ui, scope: &Scope<'_>, id: ConditionId) {
    let machine = scope.machine;
    group(ui, "How to set it");
    let is_source = |part: &Part| {
        scope.catalogue.body(part).elements.iter().any(|element| matches!(element, Element::Source { .. }))
    };
    let sources = machine.parts.iter().filter(|(_, part)| is_source(part)).map(|(id, _)| id).collect();
    let present = scope.results.condition.filter(|present| *present != id);
    let Steps { mut before, on } = Steps::between(machine, &sources, present, id);
    let dangers = scope.results.findings.iter().filter(|finding| finding.severity == Severity::Danger).count();
    if !on.is_empty() && dangers > 0 {
        before.push(format!(
            "Read the dangers found first ({dangers}): bare ends, missing earths and the like are live once a source is on."
        ));
    }
    for (place, line) in before.iter().chain(&on).enumerate() {
        ui.add(egui::Label::new(format!("{}. {line}", place + 1)).wrap());
    }
}

fn words(ui: &mut Ui, scope: &Scope<'_>, id: ConditionId, condition: &Condition, out: &mut Requests) {
    let machine = scope.machine;
    group(ui, "What it says");
    let free = |text: &str| !text.trim().is_empty() && machine.condition_by_name(text).is_none_or(|other| other == id);
    let written = field(ui, ("name", id), Field::new("Name", &condition.name).known_as("Name of the condition"));
    if written.draft.as_deref().is_some_and(|draft| !free(draft)) {
        wrong(ui, scope.palette, "The name is empty or taken.");
    } else {
        ask(written, out, |text| {
            if free(&text) {
                changes::condition(machine, id, "Name a condition", |condition| condition.name = text)
            } else {
                Edit::default()
            }
        });
    }
    ask(field(ui, "how", Field::new("How", &condition.how).lines(2).known_as("How to set it")), out, |text| {
        changes::condition(machine, id, "How to set a condition", |condition| condition.how = text)
    });
    let ids: Vec<ConditionId> = machine.conditions.ids().filter(|&other| other != id).collect();
    let named = |id: ConditionId| machine.conditions.get(id).map_or("?", |condition| condition.name.as_str());
    let mut options: Vec<(String, bool)> =
        ids.iter().map(|&other| (named(other).to_owned(), condition.derived_from == Some(other))).collect();
    options.push(("nothing".to_owned(), condition.derived_from.is_none()));
    if let Some(place) =
        choose(ui, "derived", "Derived from", condition.derived_from.map_or("nothing", named), &options)
    {
        let from = ids.get(place).copied();
        out.edit(changes::condition(machine, id, "Derive a condition", |condition| condition.derived_from = from));
    }
}

fn sources(ui: &mut Ui, scope: &Scope<'_>, id: ConditionId, condition: &Condition, out: &mut Requests) {
    group(ui, "Sources");
    let mut any = false;
    for (part_id, part) in scope.machine.parts.iter() {
        if !scope.catalogue.body(part).elements.iter().any(|element| matches!(element, Element::Source { .. })) {
            continue;
        }
        any = true;
        row(ui, &part.tag, |ui| {
            if let Some(said) = three_ways(ui, &part.tag, condition.sources.get(&part_id).copied(), ON) {
                let label = format!("{} in {}", part.tag, condition.name);
                out.edit(changes::condition(scope.machine, id, &label, |condition| {
                    say(&mut condition.sources, part_id, said);
                }));
            }
        });
    }
    if !any {
        faint(
            ui,
            scope.palette,
            "No part of the record is a source that is switched on and off. Place the cord or plug.",
        );
    }
}

fn outputs(ui: &mut Ui, scope: &Scope<'_>, id: ConditionId, condition: &Condition, out: &mut Requests) {
    let mut shown = false;
    for (part_id, part) in scope.machine.parts.iter() {
        for pin in part.pins.iter().filter(|pin| PinRole::is_output(&pin.role)) {
            if !shown {
                group(ui, "Outputs");
                shown = true;
            }
            let at = TerminalRef { part: part_id, marking: pin.marking.clone() };
            let named = scope.machine.terminal_name(&at);
            row(ui, &named, |ui| {
                if let Some(said) = three_ways(ui, &named, condition.commanded.get(&at).copied(), COMMANDED) {
                    let label = format!("{named} in {}", condition.name);
                    out.edit(changes::condition(scope.machine, id, &label, |condition| {
                        say(&mut condition.commanded, at.clone(), said);
                    }));
                }
            });
        }
    }
}

fn positions(ui: &mut Ui, scope: &Scope<'_>, id: ConditionId, condition: &Condition, out: &mut Requests) {
    let mut shown = false;
    for (part_id, part) in scope.machine.parts.iter() {
        for switch in scope.catalogue.body(part).switches {
            if !shown {
                group(ui, "Switches, doors, thermostats");
                shown = true;
            }
            let key = (part_id, switch.name.clone());
            let now = condition.positions.get(&key).cloned();
            let mut options: Vec<(String, bool)> =
                switch.positions.iter().map(|position| (position.clone(), now.as_ref() == Some(position))).collect();
            options.push(("as derived or at rest".to_owned(), now.is_none()));
            let named = format!("{} {}", part.tag, switch.name);
            let chosen = choose(
                ui,
                (part_id, &switch.name),
                &named,
                now.as_deref().unwrap_or("as derived or at rest"),
                &options,
            );
            if let Some(place) = chosen {
                let position = switch.positions.get(place).cloned();
                let label = format!("{named} in {}", condition.name);
                out.edit(changes::condition(scope.machine, id, &label, |condition| match position {
                    Some(position) => {
                        condition.positions.insert(key.clone(), position);
                    }
                    None => {
                        condition.positions.remove(&key);
                    }
                }));
            }
        }
    }
}

/// Leads that are lifted for this condition only; a lead is added by pointing at its end or by writing its name.
fn leads(ui: &mut Ui, scope: &Scope<'_>, id: ConditionId, condition: &Condition, out: &mut Requests) {
    group(ui, "Leads lifted for it");
    for (&(wire, side), &said) in &condition.lifted {
        let named = scope.machine.spot_name(&Spot::End(wire, side));
        row(ui, &named, |ui| {
            if let Some(said) = three_ways(ui, &named, Some(said), LIFTED) {
                out.edit(changes::condition(
                    scope.machine,
                    id,
                    &format!("{named} in {}", condition.name),
                    |condition| {
                        say(&mut condition.lifted, (wire, side), said);
                    },
                ));
            }
        });
    }
    let lifting = scope.view.lifting == Some(id);
    let key = ui.add(egui::Button::selectable(lifting, "Lift by clicking on the drawing").frame_when_inactive(true));
    if key.clicked() {
        out.show(Show::Lift((!lifting).then_some(id)));
    }
    if lifting {
        faint(
            ui,
            scope.palette,
            "Click the end of a lead, or a terminal with one lead on it. Click again to land it. Escape ends it.",
        );
    }
    let text_id = ui.scope_id().with(("lift text", id));
    let written = field(
        ui,
        "lift",
        Field::new("Lift", "").hint("W7.from, then Enter").known_as("Lift a lead for this condition"),
    );
    if let Some(text) = &written.changed {
        ui.data_mut(|data| data.insert_temp(text_id, text.clone()));
    }
    let text: String = ui.data(|data| data.get_temp(text_id)).unwrap_or_default();
    if written.entered && !text.is_empty() {
        if let Some(key) = read_lead(scope, &text) {
            ui.data_mut(|data| data.remove::<String>(text_id));
            out.edit(changes::condition(
                scope.machine,
                id,
                &format!("Lift {text} in {}", condition.name),
                |condition| {
                    condition.lifted.insert(key, true);
                },
            ));
        }
    } else if !text.is_empty() && read_lead(scope, &text).is_none() {
        faint(
            ui,
            scope.palette,
            "Write the key of a wire and its end, W7.from or W7.to, where that end is on a terminal.",
        );
    }
}

fn read_lead(scope: &Scope<'_>, text: &str) -> Option<(crate::machine::WireId, Side)> {
    let (key, side) = text.trim().split_once('.')?;
    let side = Side::BOTH.into_iter().find(|candidate| candidate.word() == side)?;
    let id = scope.machine.wire_by_key(key)?;
    let wire = scope.machine.wires.get(id)?;
    matches!(wire.end(side).at, EndAt::Terminal(_)).then_some((id, side))
}

fn say<K: Ord>(held: &mut std::collections::BTreeMap<K, bool>, key: K, said: Option<bool>) {
    match said {
        Some(said) => {
            held.insert(key, said);
        }
        None => {
            held.remove(&key);
        }
    }
}
