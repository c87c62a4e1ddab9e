//! The card of a terminal: what is printed on it, what can land, what is on it, probes.

use egui::Ui;

use super::{ask, capital, computed, findings_about, some};
use crate::app::request::{EntryRequest, Requests};
use crate::app::scope::Scope;
use crate::app::selection::Probe;
use crate::app::widgets::{Field, faint, field, group, wrong};
use crate::machine::{Edit, Part, Spot, TerminalNote, TerminalRef, Thing};

/// Draws the card of a terminal.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, at: &TerminalRef, out: &mut Requests) {
    let machine = scope.machine;
    let Some(part) = machine.parts.get(at.part) else { return };
    ui.heading(machine.terminal_name(at));
    let body = scope.catalogue.body(part);
    let Some(terminal) = body.terminal(at.marking.as_str()) else {
        wrong(ui, scope.palette, "This part has no such terminal now; wires on it keep its name.");
        return;
    };
    if ui.button(format!("Go to {}", part.tag)).clicked() {
        out.go_to(at.part);
    }
    computed::place(ui, scope, &Spot::Terminal(at.clone()));
    if terminal.unknown {
        faint(ui, scope.palette, "What lies behind it is not known.");
    }
    ui.horizontal(|ui| {
        for probe in Probe::BOTH {
            if ui.button(format!("{} probe here", capital(probe.words()))).clicked() {
                out.entry(EntryRequest::Put(probe, Some(Spot::Terminal(at.clone()))));
            }
        }
    });
    let note = part.terminals.get(at.marking.as_str()).cloned().unwrap_or_default();
    let printed = Field::new("Printed", note.printed.as_deref().unwrap_or(""))
        .hint("where it differs")
        .known_as("Marking as printed");
    ask(field(ui, "printed", printed), out, |text| {
        set(scope, at, "Marking as printed", |note| note.printed = some(text))
    });
    let lands = if terminal.lands.is_empty() { "not said" } else { &terminal.lands };
    let lands = Field::new("Lands", note.lands.as_deref().unwrap_or("")).hint(lands).known_as("What can land on it");
    ask(field(ui, "lands", lands), out, |text| set(scope, at, "What lands", |note| note.lands = some(text)));
    let holds = note.holds.map(|holds| holds.to_string()).unwrap_or_default();
    let usual = if terminal.holds == 0 { "not limited".to_owned() } else { terminal.holds.to_string() };
    let written = field(ui, "holds", Field::new("Holds", &holds).hint(&usual).known_as("How many wires it may hold"));
    let unread =
        written.draft.as_ref().is_some_and(|draft| !draft.trim().is_empty() && draft.trim().parse::<u8>().is_err());
    if unread {
        wrong(ui, scope.palette, "Write a whole number from 0 to 255; 0 means not limited.");
    } else {
        ask(written, out, |text| {
            let text = text.trim();
            match (text.is_empty(), text.parse()) {
                (true, _) => set(scope, at, "How many wires", |note| note.holds = None),
                (false, Ok(holds)) => set(scope, at, "How many wires", |note| note.holds = Some(holds)),
                (false, Err(_)) => Edit::default(),
            }
        });
    }
    ask(field(ui, "note", Field::new("Note", &note.note).lines(2)), out, |text| {
        set(scope, at, "Note", |note| note.note = text)
    });

    let on_it: Vec<_> = machine.wires_at(at).collect();
    group(ui, &format!("Wires on it ({})", on_it.len()));
    if terminal.holds > 0 && on_it.len() > usize::from(terminal.holds) {
        wrong(ui, scope.palette, format!("It may hold {}.", terminal.holds));
    }
    for (wire, side) in on_it {
        let Some(entry) = machine.wires.get(wire) else { continue };
        let other = machine.end_name(&entry.end(side.other()).at);
        let lifted = if entry.end(side).lifted { ", lifted" } else { "" };
        if ui.add(egui::Button::new(format!("{} to {other}{lifted}", entry.key)).wrap()).clicked() {
            out.go_to(wire);
        }
    }
    let here = |spot: &Spot| *spot == Spot::Terminal(at.clone());
    let readings: Vec<_> =
        machine.readings.iter().filter(|(_, r)| here(&r.red) || r.black.as_ref().is_some_and(here)).collect();
    if !readings.is_empty() {
        group(ui, "Readings here");
        for (id, reading) in readings {
            if ui.add(egui::Button::new(format!("{}: {}", reading.name, reading.value)).wrap()).clicked() {
                out.go_to(Thing::Reading(id));
            }
        }
    }
    findings_about(ui, scope, |thing| *thing == Thing::from(at.clone()), out);
}

/// Changes what is noted at a terminal; a note with nothing in it goes.
fn set(scope: &Scope<'_>, at: &TerminalRef, label: &str, change: impl FnOnce(&mut TerminalNote)) -> Edit {
    scope.machine.edit_part(at.part, label, |part: &mut Part| {
        let mut note = part.terminals.remove(at.marking.as_str()).unwrap_or_default();
        change(&mut note);
        if note != TerminalNote::default() {
            part.terminals.insert(at.marking.clone(), note);
        }
    })
}
