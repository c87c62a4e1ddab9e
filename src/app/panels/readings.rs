//! The log of readings, newest first.

use egui::Ui;

use super::list;
use super::rows::{self, Mark, Row};
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::widgets::faint;
use crate::machine::{ReadingId, Thing};

/// Draws the list of readings.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    if scope.machine.readings.is_empty() {
        list::empty(
            ui,
            scope,
            "No readings yet.",
            "Choose the condition the machine is in. Point at a terminal and press 1 for the red probe, at another and press 2 \
             for the black one. Write what the meter shows, for example tone, no tone, OL, 4.7k or 24.6 VAC, and press Enter.",
        );
        return;
    }
    list::search(ui, scope, "terminal, value or condition", out);
    if scope.lists.readings.is_empty() {
        list::nothing_found(ui, scope, out);
        return;
    }
    faint(ui, scope.palette, "Newest first. A reading stays in the log even when what it was taken on is gone.");
    let pressed = rows::show(ui, "readings", scope.lists.readings.len(), scope.palette, |place| {
        row(scope, scope.lists.readings[place])
    });
    if let Some((place, _)) = pressed {
        out.go_to(Thing::Reading(scope.lists.readings[place]));
    }
}

fn row(scope: &Scope<'_>, id: ReadingId) -> Row {
    let Some(reading) = scope.machine.readings.get(id) else {
        return Row::default();
    };
    let red = scope.machine.spot_name(&reading.red);
    let black = reading.black.as_ref().map(|spot| scope.machine.spot_name(spot));
    let title = black.map_or_else(|| red.clone(), |black| format!("{red} – {black}"));
    let condition = reading.condition.and_then(|id| scope.machine.conditions.get(id));
    let condition = condition.map_or("no condition", |condition| condition.name.as_str());
    let detail = format!("{condition} · {}", reading.when);
    let selected = scope.view.selection.has(&Thing::Reading(id));
    Row { title, detail, aside: reading.value.to_string(), mark: Mark::None, selected, ..Row::default() }
}
