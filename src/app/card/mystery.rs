//! The card of a mystery: what is not known, and what it may be.

use egui::Ui;

use super::{ask, some};
use crate::app::changes;
use crate::app::panels::percent;
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::widgets::{Field, faint, field, group, name, wrong};
use crate::machine::{Candidate, Change, Edit, Guess, Machine, Mystery, MysteryId, Spot, Subject, TerminalRef, Thing};

/// What a mystery is about, in words.
pub fn subject_words(machine: &Machine, subject: &Subject) -> String {
    match subject {
        Subject::End(wire, side) => format!("Where {} belongs", machine.spot_name(&Spot::End(*wire, *side))),
        Subject::CoilDriver(part) => format!("What works {}", machine.part_name(*part)),
        Subject::ContactForm(terminal) => format!("Form of the contact at {}", machine.terminal_name(terminal)),
        Subject::Kind(part) => format!("What kind {} is", machine.part_name(*part)),
        Subject::Fault(spot) => format!("Whether {} is faulty", machine.spot_name(spot)),
    }
}

/// The place a mystery is about.
pub fn subject_spot(subject: &Subject) -> Spot {
    match subject {
        Subject::End(wire, side) => Spot::End(*wire, *side),
        Subject::CoilDriver(part) | Subject::Kind(part) => Spot::Part(*part),
        Subject::ContactForm(terminal) => Spot::Terminal(terminal.clone()),
        Subject::Fault(spot) => spot.clone(),
    }
}

/// Draws the card of a mystery.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, id: MysteryId, out: &mut Requests) {
    let machine = scope.machine;
    let Some(mystery) = machine.mysteries.get(id) else { return };
    ui.heading(subject_words(machine, &mystery.subject));
    if ui.button("Go there").clicked() {
        out.go_to(subject_spot(&mystery.subject));
    }
    named(ui, scope, id, mystery, out);
    group(ui, &format!("It may be ({})", mystery.candidates.len()));
    for (place, candidate) in mystery.candidates.iter().enumerate() {
        ui.push_id(("candidate", place), |ui| one(ui, scope, id, (place, candidate), out));
    }
    add(ui, scope, id, mystery, out);
    let set = Field::new("One of each", mystery.one_of_each.as_deref().unwrap_or("")).hint("name of a set");
    ask(field(ui, "set", set), out, |text| {
        changes::mystery(machine, id, "Set of mysteries", |mystery| mystery.one_of_each = some(text))
    });
    faint(
        ui,
        scope.palette,
        "Mysteries of the same set cannot have the same answer: three outputs and three relays, one of each.",
    );
    ask(field(ui, "note", Field::new("Note", &mystery.note).lines(2)), out, |text| {
        changes::mystery(machine, id, "Note", |mystery| mystery.note = text)
    });
    settle(ui, scope, id, mystery, out);
}

fn named(ui: &mut Ui, scope: &Scope<'_>, id: MysteryId, mystery: &Mystery, out: &mut Requests) {
    let free = |text: &str| {
        !text.trim().is_empty()
            && scope.machine.mysteries.iter().all(|(other, mystery)| other == id || mystery.name != text)
    };
    let written = field(ui, ("name", id), Field::new("Name", &mystery.name).known_as("Name of the mystery"));
    if written.draft.as_deref().is_some_and(|draft| !free(draft)) {
        wrong(ui, scope.palette, "The name is empty or taken.");
        return;
    }
    ask(written, out, |text| {
        if free(&text) {
            changes::mystery(scope.machine, id, "Name a mystery", |mystery| mystery.name = text)
        } else {
            Edit::default()
        }
    });
}

fn one(ui: &mut Ui, scope: &Scope<'_>, id: MysteryId, (place, candidate): (usize, &Candidate), out: &mut Requests) {
    let words = scope.machine.guess_name(&candidate.guess);
    let odds = scope.results.identified.of(id).filter(|_| scope.results.identified_fresh);
    let odds = odds.and_then(|odds| odds.candidates.get(place));
    ui.horizontal(|ui| {
        let go = ui.button(&words);
        if go.clicked()
            && let Guess::Terminal(terminal) = &candidate.guess
        {
            out.go_to(terminal.clone());
        }
        let mut weight = candidate.weight;
        let drag = egui::DragValue::new(&mut weight).range(0.01..=1000.0).speed(0.05).max_decimals(2);
        let response = ui.add(drag);
        name(ui, response.id, &format!("Weight of {words} before any reading"));
        if response.changed() && weight.is_finite() && weight > 0.0 {
            let edit = changes::mystery(scope.machine, id, "Weight of a candidate", |mystery| {
                if let Some(candidate) = mystery.candidates.get_mut(place) {
                    candidate.weight = weight;
                }
            });
            out.joined(edit, format!("weight {id:?} {place}"));
        }
        let gone = ui.button("Take out");
        name(ui, gone.id, &format!("Take out the candidate {words}"));
        if gone.clicked() {
            out.edit(changes::mystery(scope.machine, id, "Take out a candidate", |mystery| {
                if place < mystery.candidates.len() {
                    mystery.candidates.remove(place);
                }
            }));
        }
    });
    if let Some(odds) = odds {
        let names: Vec<&str> =
            odds.ruled_out_by.iter().filter_map(|&id| Some(scope.machine.readings.get(id)?.name.as_str())).collect();
        let against = if names.is_empty() { String::new() } else { format!("; ruled out by {}", names.join(", ")) };
        faint(ui, scope.palette, format!("By the readings: {}{against}", percent(odds.odds)));
    }
}

/// Adds candidates: by name, nowhere, or the terminal that is under a probe.
fn add(ui: &mut Ui, scope: &Scope<'_>, id: MysteryId, mystery: &Mystery, out: &mut Requests) {
    let text_id = ui.scope_id().with(("candidate text", id));
    let written = field(
        ui,
        "new candidate",
        Field::new("Add", "").hint("K1.14, nowhere, a name; Enter").known_as("Add a candidate"),
    );
    if let Some(text) = &written.changed {
        ui.data_mut(|data| data.insert_temp(text_id, text.clone()));
    }
    if written.entered {
        let text: String = ui.data_mut(|data| data.remove_temp(text_id)).unwrap_or_default();
        match read_guess(scope, &mystery.subject, text.trim()) {
            Ok(guess) => out.edit(with_candidate(scope, id, guess)),
            Err(message) => {
                ui.data_mut(|data| data.insert_temp(text_id.with("wrong"), message));
            }
        }
    } else if written.changed.is_some() {
        ui.data_mut(|data| data.remove::<String>(text_id.with("wrong")));
    }
    if let Some(message) = ui.data(|data| data.get_temp::<String>(text_id.with("wrong"))) {
        wrong(ui, scope.palette, message);
    }
    for spot in [&scope.view.probes.red, &scope.view.probes.black].into_iter().flatten() {
        if let Spot::Terminal(terminal) = spot
            && ui.button(format!("Add {} (probe)", scope.machine.terminal_name(terminal))).clicked()
        {
            out.edit(with_candidate(scope, id, Guess::Terminal(terminal.clone())));
        }
    }
}

fn with_candidate(scope: &Scope<'_>, id: MysteryId, guess: Guess) -> Edit {
    changes::mystery(scope.machine, id, "Add a candidate", |mystery| {
        if !mystery.candidates.iter().any(|candidate| candidate.guess == guess) {
            mystery.candidates.push(Candidate::new(guess, 1.0));
        }
    })
}

fn read_guess(scope: &Scope<'_>, subject: &Subject, text: &str) -> Result<Guess, String> {
    if text.is_empty() {
        return Err("Write a candidate first.".to_owned());
    }
    if text == "nowhere" {
        return Ok(Guess::Nowhere);
    }
    let wants_terminal = matches!(subject, Subject::End(..) | Subject::CoilDriver(_));
    if !wants_terminal {
        let words: &[&str] = match subject {
            Subject::ContactForm(_) => &["make", "break"],
            Subject::Fault(_) => &["ok", "open", "welded"],
            _ if scope.catalogue.kind(text).is_some() => return Ok(Guess::Named(text.to_owned())),
            _ => {
                return Err(format!("The catalogue has no kind '{text}'; write its name as the list of parts has it."));
            }
        };
        if !words.contains(&text) {
            return Err(format!("Write one of: {}.", words.join(", ")));
        }
        return Ok(Guess::Named(text.to_owned()));
    }
    let (tag, marking) =
        text.split_once('.').ok_or_else(|| format!("'{text}' is no terminal; write for example K1.14."))?;
    let id = scope.machine.part_by_tag(tag).ok_or_else(|| format!("There is no part '{tag}'."))?;
    let known = scope.machine.parts.get(id).is_some_and(|part| scope.catalogue.body(part).terminal(marking).is_some());
    if known {
        Ok(Guess::Terminal(TerminalRef::new(id, marking)))
    } else {
        Err(format!("{tag} has no terminal '{marking}'."))
    }
}

fn settle(ui: &mut Ui, scope: &Scope<'_>, id: MysteryId, mystery: &Mystery, out: &mut Requests) {
    group(ui, "Settled");
    let odds = scope.results.identified.of(id).filter(|_| scope.results.identified_fresh);
    if let Some(odds) = odds {
        if odds.none_of_these > 0.05 {
            let none = percent(odds.none_of_these);
            wrong(
                ui,
                scope.palette,
                format!("None of these: {none}. The record itself may be wrong, or a candidate is missing."),
            );
        }
        if odds.left_out > 0.0 {
            let words =
                format!("Too many answers: {} of the weight before any reading was left out.", percent(odds.left_out));
            faint(ui, scope.palette, words);
        }
        if let Some(candidate) = odds.settled.and_then(|at| mystery.candidates.get(at)) {
            let words = scope.machine.guess_name(&candidate.guess);
            ui.add(egui::Label::new(format!("Settled by the readings: {words}.")).wrap());
            if let Some(edit) = changes::take_over(scope.machine, id, &candidate.guess)
                && ui.button(format!("Take {words} over into the record")).clicked()
            {
                out.edit(edit);
                out.select(Thing::Spot(subject_spot(&mystery.subject)));
            }
        }
    }
    faint(ui, scope.palette, "When it is known, write it into the part or wire itself and take the mystery out.");
    if ui.button("Take the mystery out").clicked() {
        out.edit(Edit::one(format!("Take out mystery {}", mystery.name), Change::Mystery(id, None)));
        out.select(Thing::Spot(subject_spot(&mystery.subject)));
    }
}
