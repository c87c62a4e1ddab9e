//! As found and as left: two copies of the record chosen, compared, and what differs in words.

use egui::Ui;

use crate::app::request::{Request, Requests, Show};
use crate::app::scope::Scope;
use crate::app::widgets::{choose, faint, group, strong};
use crate::desk::{Compared, CopyOf};
use crate::machine::{Machine, Thing};
use crate::removal::Of;

/// Draws the choice of two copies; nothing while the record keeps none.
pub fn choice(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let kept = copies(scope.machine);
    if kept.is_empty() {
        return;
    }
    let id = ui.scope_id().with("copies to compare");
    let chosen: Option<[CopyOf; 2]> = ui.data(|data| data.get_temp(id));
    let last_found = kept.iter().rev().find(|copy| matches!(copy, CopyOf::AsFound(_))).or(kept.first()).copied();
    let begin = [last_found.unwrap_or(CopyOf::Now), CopyOf::Now];
    let holds = |copies: &[CopyOf; 2]| copies.iter().all(|copy| *copy == CopyOf::Now || kept.contains(copy));
    let mut chosen = chosen.filter(holds).unwrap_or(begin);
    faint(ui, scope.palette, "What differs between two copies:");
    let all: Vec<CopyOf> = kept.iter().copied().chain([CopyOf::Now]).collect();
    for (place, name) in ["Earlier", "Later"].into_iter().enumerate() {
        let Some(now) = chosen.get(place).copied() else { continue };
        let options: Vec<(String, bool)> = all.iter().map(|&copy| (words(scope.machine, copy), copy == now)).collect();
        if let Some(at) = choose(ui, name, name, &words(scope.machine, now), &options)
            && let (Some(slot), Some(&copy)) = (chosen.get_mut(place), all.get(at))
        {
            *slot = copy;
        }
    }
    ui.data_mut(|data| data.insert_temp(id, chosen));
    if ui.add_enabled(chosen[0] != chosen[1], egui::Button::new("Compare")).clicked() {
        out.ask(Request::Compare(chosen));
        out.show(Show::Compared(true));
    }
}

/// The copies that the visits keep, in their order.
fn copies(machine: &Machine) -> Vec<CopyOf> {
    let of_visit = |(id, visit): (_, &crate::machine::Visit)| {
        let found = visit.as_found.as_ref().map(|_| CopyOf::AsFound(id));
        let left = visit.as_left.as_ref().map(|_| CopyOf::AsLeft(id));
        [found, left].into_iter().flatten().collect::<Vec<_>>()
    };
    machine.visits.iter().flat_map(of_visit).collect()
}

fn words(machine: &Machine, copy: CopyOf) -> String {
    let name = |id| machine.visits.get(id).map_or("?", |visit| visit.name.as_str());
    match copy {
        CopyOf::AsFound(id) => format!("{}, as found", name(id)),
        CopyOf::AsLeft(id) => format!("{}, as left", name(id)),
        CopyOf::Now => "now".to_owned(),
    }
}

/// Draws what differs.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, compared: &Compared, out: &mut Requests) {
    ui.heading("What differs");
    let [earlier, later] = compared.copies.map(|copy| words(scope.machine, copy));
    faint(ui, scope.palette, format!("From {earlier} to {later}."));
    ui.horizontal_wrapped(|ui| {
        if ui.button("Back to the card").clicked() {
            out.show(Show::Compared(false));
        }
        let stale = compared.copies.contains(&CopyOf::Now) && !scope.is_revision(compared.revision);
        if stale && ui.button("The record has changed: compare again").clicked() {
            out.ask(Request::Compare(compared.copies));
        }
    });
    faint(
        ui,
        scope.palette,
        "On the drawing: a full line for what was added, dashes for what was removed, long dashes for what was moved, dots for the rest.",
    );
    let all = &compared.differences;
    if all.is_empty() {
        strong(ui, "Nothing differs.");
        return;
    }
    for (title, lines) in [("Added", &all.added), ("Removed", &all.removed), ("Changed", &all.changed)] {
        if lines.is_empty() {
            continue;
        }
        group(ui, &format!("{title} ({})", lines.len()));
        for (place, line) in lines.iter().enumerate() {
            ui.push_id((title, place), |ui| one(ui, scope, compared, line, out));
        }
    }
}

/// A line, which goes to what it is about where that is still drawn.
fn one(ui: &mut Ui, scope: &Scope<'_>, compared: &Compared, line: &str, out: &mut Requests) {
    let has = |name: &str| line.split([' ', '.', ':']).any(|word| word == name);
    let thing = compared.altered.keys().find_map(|of| match of {
        Of::Part(tag) if has(tag) && line.contains("art ") => scope.machine.part_by_tag(tag).map(Thing::from),
        Of::Wire(key) if has(key) => scope.machine.wire_by_key(key).map(Thing::from),
        Of::Reading(name) if has(name) && line.starts_with("Reading") => {
            let found = scope.machine.readings.iter().find(|(_, one)| one.name == *name);
            found.map(|(id, _)| Thing::Reading(id))
        }
        _ => None,
    });
    let Some(thing) = thing else {
        ui.add(egui::Label::new(line).wrap());
        return;
    };
    let key = ui.add(egui::Button::new(line).wrap().frame(false));
    if key.on_hover_text("Show me").clicked() {
        out.show(Show::GoTo(vec![thing]));
    }
}
