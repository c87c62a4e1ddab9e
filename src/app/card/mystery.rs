//! The card of a mystery: what is not known, and what it may be.

use egui::Ui;

use super::{ask, some};
use crate::app::changes;
use crate::app::panels::percent;
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::widgets::{Field, choose_bare, faint, field, group, name, wrong};
use crate::identify::{in_words, offered};
use crate::machine::{
    Candidate, Change, Edit, Guess, Known, Machine, Mystery, MysteryId, ReadingId, Spot, Subject, TerminalRef, Thing,
};

/// A share of the odds that is left out is told of from here on.
const TOLD: f64 = 5e-4;

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
    offer(ui, scope, id, mystery, out);
    let said = mystery.candidates.iter().any(|candidate| !candidate.never_with.is_empty());
    if scope.machine.mysteries.len() > 1 && !mystery.candidates.is_empty() {
        egui::CollapsingHeader::new("Never together").id_salt(("never", id)).default_open(said).show(ui, |ui| {
            for (place, candidate) in mystery.candidates.iter().enumerate() {
                ui.push_id(("never with", place), |ui| never_with(ui, scope, id, (place, candidate), out));
            }
        });
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
        bar(ui, scope, odds.odds, &words);
        let names: Vec<&str> =
            odds.ruled_out_by.iter().filter_map(|&id| Some(scope.machine.readings.get(id)?.name.as_str())).collect();
        let against = if names.is_empty() { String::new() } else { format!("; ruled out by {}", names.join(", ")) };
        let in_words = in_words(odds.odds);
        faint(ui, scope.palette, format!("By the readings: {}, {in_words}{against}", percent(odds.odds)));
        if let Some(reason) = scope.results.identified.reasons.get(&(id, place)) {
            faint(ui, scope.palette, reason.as_str());
        }
    }
}

/// What a candidate cannot be right together with.
fn never_with(
    ui: &mut Ui,
    scope: &Scope<'_>,
    id: MysteryId,
    (place, candidate): (usize, &Candidate),
    out: &mut Requests,
) {
    let words = scope.machine.guess_name(&candidate.guess);
    for (number, (other, guess)) in candidate.never_with.iter().enumerate() {
        let Some(named) = scope.machine.mysteries.get(*other) else { continue };
        ui.horizontal_wrapped(|ui| {
            let guess = scope.machine.guess_name(guess);
            faint(ui, scope.palette, format!("never with {}: {guess}", named.name));
            let gone = ui.button("Take out");
            name(ui, gone.id, &format!("{words} may be right together with {}: {guess}", named.name));
            if gone.clicked() {
                out.edit(changes::mystery(scope.machine, id, "Take out an exclusion", |mystery| {
                    if let Some(candidate) = mystery.candidates.get_mut(place)
                        && number < candidate.never_with.len()
                    {
                        candidate.never_with.remove(number);
                    }
                }));
            }
        });
    }
    excludes(ui, scope, id, (place, &words), out);
}

/// A bar as long as the odds.
fn bar(ui: &mut Ui, scope: &Scope<'_>, odds: f64, words: &str) {
    let size = egui::vec2(ui.available_width().min(220.0), 8.0);
    let (rect, response) = ui.allocate_exact_size(size, egui::Sense::hover());
    let label = format!("{words}: {}", percent(odds));
    response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Image, true, &label));
    #[expect(clippy::cast_possible_truncation, reason = "a share of a bar")]
    let share = odds.clamp(0.0, 1.0) as f32;
    let painter = ui.painter();
    let filled = egui::Rect::from_min_size(rect.min, egui::vec2(rect.width() * share, rect.height()));
    painter.rect_filled(filled, 0.0, scope.palette.chosen.ground);
    painter.rect_stroke(rect, 0.0, egui::Stroke::new(1.0, scope.palette.line), egui::StrokeKind::Inside);
}

/// Says that a candidate cannot be right together with one of another mystery.
fn excludes(ui: &mut Ui, scope: &Scope<'_>, id: MysteryId, (place, words): (usize, &str), out: &mut Requests) {
    let others: Vec<(MysteryId, Guess, String)> = scope
        .machine
        .mysteries
        .iter()
        .filter(|(other, _)| *other != id)
        .flat_map(|(other, mystery)| {
            let own = mystery.candidates.iter().map(move |candidate| candidate.guess.clone());
            own.map(move |guess| (other, guess, mystery.name.as_str()))
        })
        .map(|(other, guess, named)| {
            let text = format!("{named}: {}", scope.machine.guess_name(&guess));
            (other, guess, text)
        })
        .collect();
    if others.is_empty() {
        return;
    }
    let options: Vec<(String, bool)> = others.iter().map(|(_, _, text)| (text.clone(), false)).collect();
    let about = format!("{words} is never right together with");
    if let Some(chosen) = choose_bare(ui, ("never with", place), &about, &format!("{words} never with…"), &options)
        && let Some((other, guess, _)) = others.get(chosen)
    {
        out.edit(changes::mystery(scope.machine, id, "Exclude two answers together", |mystery| {
            if let Some(candidate) = mystery.candidates.get_mut(place)
                && !candidate.never_with.contains(&(*other, guess.clone()))
            {
                candidate.never_with.push((*other, guess.clone()));
            }
        }));
    }
}

/// Puts in what the program itself can think of.
fn offer(ui: &mut Ui, scope: &Scope<'_>, id: MysteryId, mystery: &Mystery, out: &mut Requests) {
    let all = ui.button("Offer candidates");
    let all = all.on_hover_text("What the record itself allows: terminals with room on which the end fits, by colour, loom and nearness; outputs; forms; kinds with the same markings.");
    if !all.clicked() {
        return;
    }
    let known = |guess: &Guess| mystery.candidates.iter().any(|candidate| candidate.guess == *guess);
    let new: Vec<Candidate> = offered(scope.machine, scope.catalogue, &mystery.subject)
        .into_iter()
        .filter(|offer| !known(&offer.guess))
        .map(|offer| Candidate::new(offer.guess, offer.weight))
        .collect();
    if !new.is_empty() {
        out.edit(changes::mystery(scope.machine, id, "Offer candidates", |mystery| mystery.candidates.extend(new)));
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
        let words = subject.states();
        if words.is_empty() {
            return if scope.catalogue.kind(text).is_some() {
                Ok(Guess::Named(text.to_owned()))
            } else {
                Err(format!("The catalogue has no kind '{text}'; write its name as the list of parts has it."))
            };
        }
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
        if odds.left_out >= TOLD {
            let share = percent(odds.left_out);
            let words = format!(
                "Too many answers to weigh them all, here or of mysteries this one hangs on: {share} of the odds are with those left out."
            );
            faint(ui, scope.palette, words);
        }
        if let Some(candidate) = odds.settled.and_then(|at| mystery.candidates.get(at)) {
            let words = scope.machine.guess_name(&candidate.guess);
            let how = if odds.proven {
                format!("Settled by the readings: {words}. Proven.")
            } else {
                format!("Settled by the readings: {words}. Not proven yet: one more reading that shows it proves it.")
            };
            ui.add(egui::Label::new(how).wrap());
            let known = if odds.proven { Known::Proven } else { Known::Assumed };
            let mut by: Vec<ReadingId> =
                odds.candidates.iter().flat_map(|one| one.ruled_out_by.iter().copied()).collect();
            by.sort_unstable();
            by.dedup();
            if let Some(edit) = changes::take_over(scope.machine, id, &candidate.guess, (known, &by))
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
