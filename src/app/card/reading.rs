//! The card of a reading: what was read, where, when, by whom, and in which condition.

use std::sync::Arc;

use egui::Ui;

use super::{ask, computed};
use crate::app::changes;
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::widgets::{Field, choose, faint, field, group, wrong};
use crate::machine::{Change, ConditionId, Edit, MeterId, Reading, ReadingId, Spot, Thing, VisitId};
use crate::quantity::Value;

/// Draws the card of a reading.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, id: ReadingId, out: &mut Requests) {
    let machine = scope.machine;
    let Some(reading) = machine.readings.get(id) else { return };
    ui.heading(format!("{}: {}", reading.name, reading.value));
    probes(ui, scope, reading, out);
    let shown = reading.value.to_string();
    let written = field(ui, "value", Field::new("Value", &shown).known_as("Value read"));
    match written.draft.as_deref().map(str::parse::<Value>) {
        Some(Err(error)) => wrong(ui, scope.palette, error.to_string()),
        _ => ask(written, out, |text| match text.parse() {
            Ok(value) => changes::reading(machine, id, "Value read", |reading| reading.value = value),
            Err(_) => Edit::default(),
        }),
    }
    computed::reading(ui, scope, id, reading.value.function(), out);
    condition(ui, scope, id, reading, out);
    meter_and_visit(ui, scope, id, reading, out);
    ask(field(ui, "when", Field::new("When", &reading.when).hint("2026-03-02 10:15")), out, |text| {
        changes::reading(machine, id, "When", |reading| reading.when = text)
    });
    ask(field(ui, "who", Field::new("Who", &reading.who)), out, |text| {
        changes::reading(machine, id, "Who", |reading| reading.who = text)
    });
    ask(field(ui, "note", Field::new("Note", &reading.note).lines(2)), out, |text| {
        changes::reading(machine, id, "Note", |reading| reading.note = text)
    });
    group(ui, "Take out");
    if ui.button("Remove this reading").clicked() {
        let label = format!("Remove reading {}", reading.name);
        out.edit(Edit::one(label, Change::Reading(id, None)));
    }
    faint(ui, scope.palette, "A reading is evidence. Correct it or note what was wrong rather than remove it.");
    super::findings_about(ui, scope, |thing| *thing == Thing::Reading(id), out);
}

fn probes(ui: &mut Ui, scope: &Scope<'_>, reading: &Reading, out: &mut Requests) {
    let spots = [("red", Some(&reading.red)), ("black", reading.black.as_ref())];
    for (words, spot) in spots.into_iter().filter_map(|(words, spot)| spot.map(|spot| (words, spot))) {
        let name = scope.machine.spot_name(spot);
        match spot {
            Spot::Gone(_) => faint(ui, scope.palette, format!("{words}: {name}, no longer in the record")),
            spot => {
                if ui.button(format!("{words}: {name}")).clicked() {
                    out.go_to(spot.clone());
                }
            }
        }
    }
}

fn condition(ui: &mut Ui, scope: &Scope<'_>, id: ReadingId, reading: &Reading, out: &mut Requests) {
    let machine = scope.machine;
    let ids: Vec<ConditionId> = machine.conditions.ids().collect();
    let mut options: Vec<(String, bool)> = machine
        .conditions
        .iter()
        .map(|(id, condition)| (condition.name.clone(), Some(id) == reading.condition))
        .collect();
    options.push(("not said".to_owned(), reading.condition.is_none()));
    let shown = reading.condition.and_then(|id| machine.conditions.get(id)).map_or("not said", |c| c.name.as_str());
    if let Some(place) = choose(ui, "condition", "Condition", shown, &options) {
        let condition = ids.get(place).copied();
        out.edit(changes::reading(machine, id, "Condition of a reading", |reading| reading.condition = condition));
    }
    if reading.condition.is_none() {
        wrong(ui, scope.palette, "Without a condition this reading proves nothing.");
    }
}

fn meter_and_visit(ui: &mut Ui, scope: &Scope<'_>, id: ReadingId, reading: &Reading, out: &mut Requests) {
    let machine = scope.machine;
    let meters: Vec<MeterId> = machine.meters.ids().collect();
    let mut options: Vec<(String, bool)> =
        machine.meters.iter().map(|(id, meter)| (meter.name.clone(), Some(id) == reading.meter)).collect();
    options.push(("not said".to_owned(), reading.meter.is_none()));
    let shown = reading.meter.and_then(|id| machine.meters.get(id)).map_or("not said", |meter| meter.name.as_str());
    if let Some(place) = choose(ui, "meter", "Meter", shown, &options) {
        let meter = meters.get(place).copied();
        out.edit(changes::reading(machine, id, "Meter of a reading", |reading| reading.meter = meter));
    }
    let visits: Vec<VisitId> = machine.visits.ids().collect();
    let mut options: Vec<(String, bool)> =
        machine.visits.iter().map(|(id, visit)| (visit.name.clone(), Some(id) == reading.visit)).collect();
    options.push(("none".to_owned(), reading.visit.is_none()));
    let shown = reading.visit.and_then(|id| machine.visits.get(id)).map_or("none", |visit| visit.name.as_str());
    if let Some(place) = choose(ui, "visit", "Visit", shown, &options) {
        let visit = visits.get(place).copied();
        out.edit(changes::reading(machine, id, "Visit of a reading", |reading| reading.visit = visit));
    }
}

/// The edit that writes a reading into the log.
pub fn log(machine: &crate::machine::Machine, mut reading: Reading) -> (ReadingId, Edit) {
    let id = machine.readings.next_id();
    let taken = |name: &str| machine.reading_by_name(name).is_some();
    reading.name = changes::free_name("R", u32::from(id).saturating_add(1), taken);
    let label = format!("Log {}: {}", reading.name, reading.value);
    (id, Edit::one(label, Change::Reading(id, Some(Arc::new(reading)))))
}
