//! What may be taken out: every wire and part by its verdict, with the reason in words.

use egui::Ui;

use super::list;
use super::rows::{self, Mark, Row};
use crate::app::lists::RemovalLine;
use crate::app::request::{Requests, Show};
use crate::app::scope::Scope;
use crate::app::widgets::{faint, strong, wrong};
use crate::machine::{PartId, Thing, WireId, WireState};
use crate::removal::{Verdict, counted};

/// Lines of the reason under a row's title.
const REASON_LINES: u8 = 3;

/// Draws the list.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    if scope.machine.wires.is_empty() {
        list::empty(
            ui,
            scope,
            "No wires to judge.",
            "When wires are recorded, each is judged here: whether something needs it in any condition the machine can be in, whether it \
             can be live, and what the record lacks to say so.",
        );
        return;
    }
    state(ui, scope, out);
    if scope.lists.removal.is_empty() && !scope.results.removal_fresh {
        return;
    }
    cautions(ui, scope);
    keys(ui, scope, out);
    list::search(ui, scope, "wire, terminal, verdict or reason", out);
    if scope.lists.removal.is_empty() {
        list::nothing_found(ui, scope, out);
        return;
    }
    let lines = 1 + REASON_LINES;
    let pressed = rows::show_tall(
        ui,
        ("removal", [lines - 1, lines - 1]),
        (0, scope.lists.removal.len()),
        scope.palette,
        |place| row(scope, scope.lists.removal[place]),
    );
    let Some((place, response)) = pressed else { return };
    let thing = match scope.lists.removal[place] {
        RemovalLine::Verdict(..) => return,
        RemovalLine::Wire(id) => Thing::from(id),
        RemovalLine::Part(id) => Thing::from(id),
    };
    if response.ctx.input(|input| input.modifiers.command) {
        out.show(Show::Toggle(thing));
    } else {
        out.go_to(thing);
    }
    out.show(Show::Plan(false));
}

/// How far the work is, over how many conditions it goes.
fn state(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let removal = scope.results.removal;
    // Work that is done in a moment leaves the list as it is.
    if !scope.results.removal_fresh && (scope.results.judging_long || removal.verdicts.wires.is_empty()) {
        faint(ui, scope.palette, "Every wire is being judged…");
        if !removal.verdicts.wires.is_empty() {
            wrong(ui, scope.palette, "The verdicts below are of the record before its last change: do not go by them.");
        }
        let tip = "Ends the work: what is not decided by then is shown as not decided.";
        if scope.results.judging_long && ui.button("Enough: show what is decided").on_hover_text(tip).clicked() {
            out.show(Show::Enough);
        }
        return;
    }
    let over = match removal.verdicts.conditions {
        Some(count) => {
            format!("Judged over {} conditions, positions of relays included.", counted(count))
        }
        None => "Judged over more conditions than could be counted.".to_owned(),
    };
    faint(ui, scope.palette, over);
    let judged = removal.verdicts.wires.values().chain(removal.verdicts.parts.values());
    let open = judged.filter(|judged| judged.verdict == Verdict::NotDecided).count();
    if open > 0 {
        ui.horizontal_wrapped(|ui| {
            strong(ui, format!("{open} not decided: the work ended before."));
            if ui.button("Work on, four times as long").clicked() {
                out.show(Show::WorkOn);
            }
        });
    }
}

/// What is said beside every verdict: the warning in full, the rest to open.
fn cautions(ui: &mut Ui, scope: &Scope<'_>) {
    let mut all = scope.results.removal.verdicts.cautions.iter();
    if let Some(first) = all.next() {
        wrong(ui, scope.palette, first);
    }
    let rest: Vec<&String> = all.collect();
    if rest.is_empty() {
        return;
    }
    egui::CollapsingHeader::new(format!("More cautions ({})", rest.len())).show(ui, |ui| {
        for caution in rest {
            ui.add(egui::Label::new(caution).wrap());
        }
    });
}

fn keys(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let all: Vec<WireId> = scope
        .results
        .removal
        .verdicts
        .may_go()
        .into_iter()
        .filter(|&id| scope.machine.wires.get(id).is_some_and(|wire| wire.state == WireState::InPlace))
        .collect();
    if !all.is_empty() {
        let words = match all.len() {
            1 => "Plan the 1 wire that may go".to_owned(),
            count => format!("Plan the {count} wires that may go together"),
        };
        let key = egui::Button::new(words).wrap();
        if ui.add_enabled(scope.results.removal_fresh, key).clicked() {
            out.show(Show::Choose(all, true));
            out.show(Show::Plan(true));
        }
    } else if scope.results.removal_fresh {
        strong(ui, "By the record no wire that is in place may go.");
    }
}

fn row(scope: &Scope<'_>, line: RemovalLine) -> Row {
    match line {
        RemovalLine::Verdict(verdict, wires, parts) => head(verdict, wires, parts),
        RemovalLine::Wire(id) => wire(scope, id),
        RemovalLine::Part(id) => part(scope, id),
    }
}

fn head(verdict: Verdict, wires: usize, parts: usize) -> Row {
    let some = |count: usize, one: &str| match count {
        0 => None,
        1 => Some(format!("1 {one}")),
        _ => Some(format!("{count} {one}s")),
    };
    let counts: Vec<String> = [some(wires, "wire"), some(parts, "part")].into_iter().flatten().collect();
    Row {
        title: verdict.words().to_uppercase(),
        detail: format!("{}. {}", counts.join(", "), verdict.meaning()),
        aside: String::new(),
        mark: Mark::Verdict(verdict),
        selected: false,
        detail_lines: Some(REASON_LINES),
    }
}

fn wire(scope: &Scope<'_>, id: WireId) -> Row {
    let machine = scope.machine;
    let judged = scope.results.removal.verdicts.wires.get(&id);
    let (Some(wire), Some(judged)) = (machine.wires.get(id), judged) else { return Row::default() };
    let ends = format!("{} – {}", machine.end_name(&wire.from.at), machine.end_name(&wire.to.at));
    let aside = match wire.state {
        WireState::InPlace if scope.results.removal.going().contains(&id) => "plan",
        WireState::InPlace => "",
        other => other.words(),
    };
    Row {
        title: format!("{} {ends}", wire.key),
        detail: judged.reason.clone(),
        aside: aside.to_owned(),
        mark: Mark::Swatch(wire.colour),
        selected: scope.view.selection.has(&Thing::from(id)),
        detail_lines: Some(REASON_LINES),
    }
}

fn part(scope: &Scope<'_>, id: PartId) -> Row {
    let judged = scope.results.removal.verdicts.parts.get(&id);
    let (Some(part), Some(judged)) = (scope.machine.parts.get(id), judged) else { return Row::default() };
    Row {
        title: part.tag.clone(),
        detail: judged.reason.clone(),
        aside: "part".to_owned(),
        mark: Mark::None,
        selected: scope.view.selection.has(&Thing::from(id)),
        detail_lines: Some(REASON_LINES),
    }
}
