//! What to read next, above the list of mysteries: proposals with what each result would mean, and faults that would explain
//! what disputes the record.

use egui::{RichText, Ui};

use super::probe_picture;
use crate::app::request::{EntryRequest, Requests, Show};
use crate::app::scope::Scope;
use crate::app::selection::Probe;
use crate::app::theme::bold;
use crate::app::widgets::{faint, group, name, wrong};
use crate::identify::{Place, Proposal, Risk};
use crate::machine::{MysteryId, Thing};
use crate::quantity::{Function, Value};

/// Proposals that are shown.
const MOST_SHOWN: usize = 3;
/// Sets of answers that cannot be told apart that are shown.
const MOST_ALIKE: usize = 3;
/// Faults that are shown.
const MOST_FAULTS: usize = 4;

/// Draws the proposals; nothing while there are none.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let identified = scope.results.identified;
    if scope.machine.mysteries.is_empty() && identified.next.is_empty() && identified.faults.is_empty() {
        return;
    }
    if !scope.results.identified_fresh {
        faint(ui, scope.palette, "The next reading is being worked out…");
        return;
    }
    if !identified.next.is_empty() {
        group(ui, "Read next");
        for (number, (_, proposal)) in identified.next.iter().take(MOST_SHOWN).enumerate() {
            ui.push_id(("next", number), |ui| one(ui, scope, number + 1, proposal, out));
        }
    } else if identified.odds.iter().any(|odds| odds.settled.is_none()) {
        faint(
            ui,
            scope.palette,
            "No reading in a condition of the record tells what is open further apart. Add a condition that lifts a lead or \
             switches a source, or a candidate.",
        );
    }
    if !identified.alike.is_empty() {
        group(ui, "Cannot be told apart");
        faint(ui, scope.palette, "No reading in a condition of the record tells these apart:");
        for set in identified.alike.iter().take(MOST_ALIKE) {
            let all: Vec<String> = set.iter().map(|one| one.join("; ")).collect();
            ui.add(egui::Label::new(all.join("  or  ")).wrap());
        }
    }
    if !scope.view.out_of_reach.is_empty() {
        group(ui, "Out of reach");
        for spot in &scope.view.out_of_reach {
            let words = scope.machine.spot_name(spot);
            let again = ui.button(format!("{words} can be reached"));
            if again.clicked() {
                out.show(Show::OutOfReach(spot.clone(), false));
            }
        }
    }
    if !identified.faults.is_empty() {
        group(ui, "Faults that would explain disputes");
        for fault in identified.faults.iter().take(MOST_FAULTS) {
            ui.add(egui::Label::new(format!("{}: {}", fault.words, percent(fault.odds))).wrap());
        }
    }
}

fn one(ui: &mut Ui, scope: &Scope<'_>, number: usize, proposal: &Proposal, out: &mut Requests) {
    let place = &proposal.place;
    let spots = [Some(&place.red), place.black.as_ref()];
    let between: Vec<String> = spots.into_iter().flatten().map(|spot| scope.machine.spot_name(spot)).collect();
    let condition = scope.machine.conditions.get(place.condition).map_or("?", |condition| condition.name.as_str());
    let words = format!("{number}. {}: {}", between.join(" – "), place.function.words());
    ui.add(egui::Label::new(RichText::new(words).family(bold())).wrap());
    let risk = match proposal.risk {
        Risk::Dead => "no source on",
        Risk::ExtraLow => "extra-low voltage on",
        Risk::Line => "DANGER: line voltage on",
    };
    let where_ = format!("in '{condition}', {risk}");
    if proposal.risk == Risk::Line {
        wrong(ui, scope.palette, where_);
    } else {
        faint(ui, scope.palette, where_);
    }
    for caution in &proposal.cautions {
        if proposal.risk == Risk::Dead {
            ui.add(egui::Label::new(*caution).wrap());
        } else {
            wrong(ui, scope.palette, *caution);
        }
    }
    for step in proposal.steps.iter().skip(1) {
        ui.add(egui::Label::new(step.as_str()).wrap());
    }
    probe_picture::show(ui, scope, place);
    if proposal.none_of_these > 0.5 {
        wrong(ui, scope.palette, "None of the answers goes with the readings so far: look at the record again first.");
    }
    ui.horizontal_wrapped(|ui| {
        for spot in [Some(&place.red), place.black.as_ref()].into_iter().flatten() {
            let words = scope.machine.spot_name(spot);
            let cannot = ui.button(format!("Cannot reach {words}"));
            name(ui, cannot.id, &format!("Cannot reach {words}, proposal {number}"));
            if cannot.clicked() {
                out.show(Show::OutOfReach(spot.clone(), true));
            }
        }
    });
    ui.horizontal_wrapped(|ui| {
        let probes = ui.button("Put the probes there");
        name(ui, probes.id, &format!("Put the probes there, proposal {number}"));
        if probes.clicked() {
            out.entry(EntryRequest::Put(Probe::Red, Some(place.red.clone())));
            out.entry(EntryRequest::Put(Probe::Black, place.black.clone()));
            out.entry(EntryRequest::Function(Some(place.function)));
            let things = [Some(place.red.clone()), place.black.clone()].into_iter().flatten().map(Thing::from);
            out.show(Show::GoTo(things.collect()));
        }
        if scope.results.condition == Some(place.condition) {
            answers(ui, place, number, out);
        } else {
            let set = ui.button("The machine is in it now");
            name(ui, set.id, &format!("The machine is in '{condition}' now, proposal {number}"));
            if set.clicked() {
                out.show(Show::Condition(Some(place.condition)));
            }
        }
    });
    for result in &proposal.results {
        let leaf = |id: MysteryId, at: usize| {
            let mystery = scope.machine.mysteries.get(id);
            let candidate = mystery.and_then(|mystery| mystery.candidates.get(at));
            let guess = candidate.map_or("?".to_owned(), |one| scope.machine.guess_name(&one.guess));
            format!("{}: {guess}", mystery.map_or("?", |mystery| mystery.name.as_str()))
        };
        let means = result.words(leaf);
        ui.add(egui::Label::new(format!("{} ({}): {means}", result.reading, percent(result.odds))).wrap());
    }
    for doubt in &proposal.doubts {
        ui.add(egui::Label::new(*doubt).wrap());
    }
    ui.add_space(4.0);
}

/// Keys that log what is heard or seen; a value is written in the reading bar.
fn answers(ui: &mut Ui, place: &Place, number: usize, out: &mut Requests) {
    let values: &[Value] = match place.function {
        Function::Tone => &[Value::Tone, Value::NoTone],
        Function::Ohms => &[Value::OverLimit],
        Function::Runs => &[Value::Runs, Value::DoesNotRun],
        Function::VoltsAc | Function::VoltsDc | Function::Amps => &[],
    };
    for value in values {
        let key = ui.button(value.to_string());
        name(ui, key.id, &format!("{value} was read, proposal {number}"));
        if key.clicked() {
            out.entry(EntryRequest::Put(Probe::Red, Some(place.red.clone())));
            out.entry(EntryRequest::Put(Probe::Black, place.black.clone()));
            out.entry(EntryRequest::Function(Some(place.function)));
            out.entry(EntryRequest::Log(value.to_string()));
        }
    }
}

/// Odds as a person says them.
pub fn percent(odds: f64) -> String {
    let percent = odds * 100.0;
    if percent >= 99.5 && odds < 1.0 {
        "over 99 %".to_owned()
    } else if percent < 0.5 {
        "under 1 %".to_owned()
    } else {
        format!("{percent:.0} %")
    }
}
