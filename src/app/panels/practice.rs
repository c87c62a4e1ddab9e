//! Practice in the window: the bar that says so, what the learner says of each mystery, and how it came out.

use egui::{RichText, Ui};

use super::next;
use crate::app::request::{PracticeRequest, Request, Requests};
use crate::app::scope::Scope;
use crate::app::theme::bold;
use crate::app::widgets::{choose_bare, faint, group, strong, wrong};
use crate::desk::Practice;
use crate::machine::{Machine, MysteryId, Thing};
use crate::practice::{FaultJudged, MysteryJudged, Right, Score, Taken};

/// Draws the bar over the window: that this is no record, what it took so far, what to mind, hint and finish.
pub fn bar(ui: &mut Ui, scope: &Scope<'_>, practice: &Practice, out: &mut Requests) {
    let bench = practice.bench();
    let ink = scope.palette.severity[3].ink;
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new("PRACTICE").family(bold()).color(ink));
        let counts = format!(
            "No real machine. Readings {} · effort {:.0} · forbidden {} · hints {}",
            bench.taken().len(),
            bench.effort(),
            bench.forbidden().len(),
            bench.hints()
        );
        ui.label(RichText::new(counts).color(ink));
        if practice.is_finished() {
            return;
        }
        if ui.add_enabled(!practice.is_hinted(), egui::Button::new("Show a hint")).clicked() {
            out.ask(Request::Practice(PracticeRequest::Hint));
        }
        if ui.button("Finish and compare").clicked() {
            out.ask(Request::Practice(PracticeRequest::Finish));
        }
    });
    for caution in practice.cautions() {
        let text = RichText::new(*caution).color(ink);
        let text = if practice.is_live() { text.family(bold()) } else { text };
        ui.add(egui::Label::new(text).wrap());
    }
}

/// Draws what the learner says of each mystery, the hint that was asked for, and how it came out.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, practice: &Practice, out: &mut Requests) {
    egui::ScrollArea::vertical().id_salt("practice").auto_shrink([false, false]).show(ui, |ui| {
        if let Some(score) = practice.score() {
            came_out(ui, scope, practice, score);
        } else if practice.is_finished() {
            faint(ui, scope.palette, "What was read is being weighed…");
        } else {
            if practice.is_hinted() {
                next::show(ui, scope, out);
            } else {
                faint(
                    ui,
                    scope.palette,
                    "Choose a condition, put the probes, choose what the meter is set to, and press 'Take reading'. Say below what \
                     each mystery is; it is judged when you finish.",
                );
            }
            say(ui, scope, practice, out);
        }
        ui.add_space(12.0);
    });
}

/// For each mystery a choice of its candidates.
fn say(ui: &mut Ui, scope: &Scope<'_>, practice: &Practice, out: &mut Requests) {
    group(ui, "What is what");
    let bench = practice.bench();
    for (id, mystery) in bench.record().mysteries.iter() {
        let said = bench.said().answers.get(&id).copied();
        let names: Vec<String> =
            mystery.candidates.iter().map(|candidate| bench.record().guess_name(&candidate.guess)).collect();
        let mut options: Vec<(String, bool)> =
            names.iter().enumerate().map(|(at, name)| (name.clone(), said == Some(at))).collect();
        options.push(("not said".to_owned(), said.is_none()));
        let shown = said.and_then(|at| names.get(at)).map_or("not said", String::as_str);
        ui.push_id(("say", u32::from(id)), |ui| {
            ui.add_space(4.0);
            if ui.add(egui::Button::new(&mystery.name).wrap()).on_hover_text("Show where it is").clicked() {
                out.go_to(Thing::Mystery(id));
            }
            if let Some(place) = choose_bare(ui, "candidate", &format!("Say: {}", mystery.name), shown, &options) {
                let candidate = (place < names.len()).then_some(place);
                out.ask(Request::Practice(PracticeRequest::Say(id, candidate)));
            }
        });
    }
    if bench.record().mysteries.is_empty() {
        faint(ui, scope.palette, "No mysteries.");
    }
}

fn came_out(ui: &mut Ui, scope: &Scope<'_>, practice: &Practice, score: &Score) {
    let record = practice.bench().record();
    let right = score.count(Right::Right) + score.count(Right::RightByLuck);
    group(ui, &format!("Right: {right} of {}", score.mysteries.len()));
    for judged in &score.mysteries {
        let (title, words, is_right) = verdict(record, judged);
        strong(ui, title);
        if is_right {
            faint(ui, scope.palette, words);
        } else {
            wrong(ui, scope.palette, words);
        }
    }
    for fault in &score.faults {
        match fault {
            FaultJudged::Found(words) => faint(ui, scope.palette, format!("Fault found: {words}")),
            FaultJudged::Missed(words) => wrong(ui, scope.palette, format!("Fault not named: {words}")),
            FaultJudged::NotThere(words) => wrong(ui, scope.palette, format!("No such fault: {words}")),
        }
    }
    group(ui, "What it took");
    let best = &score.by_proposals;
    let said = |ui: &mut Ui, words: String| {
        ui.add(egui::Label::new(words).wrap());
    };
    said(ui, format!("Your readings: {}, effort {:.0}.", score.readings, score.effort));
    said(
        ui,
        format!(
            "By the hints alone: {}, effort {:.0}; they settle {} of {}.",
            best.readings,
            best.effort,
            best.settled.len(),
            score.mysteries.len()
        ),
    );
    if let Some((average, exact)) = best.average {
        let least = if exact { "the least there is" } else { "the least is not worked out for so many" };
        said(
            ui,
            format!(
                "The best order found, on average over all machines that look like this one: effort {average:.1} ({least})."
            ),
        );
    }
    said(ui, format!("Forbidden readings asked for: {}. Hints: {}.", score.forbidden, score.hints));
    if !score.needlessly_live.is_empty() {
        wrong(ui, scope.palette, "With a source on, where an isolated machine would have told:");
        for taken in score.needlessly_live.iter().filter_map(|&at| practice.bench().taken().get(at)) {
            said(ui, taken_words(record, taken));
        }
    }
}

/// A reading with what was shown: `K1.A1 – K1.A2, volts AC: 24.1 VAC`.
pub fn taken_words(record: &Machine, taken: &Taken) -> String {
    let place = &taken.place;
    let spots = [Some(&place.red), place.black.as_ref()].into_iter().flatten();
    let between: Vec<String> = spots.map(|spot| record.spot_name(spot)).collect();
    format!("{}, {}: {}", between.join(" – "), place.function.words(), taken.shown.words())
}

/// The mystery, what to say of it, and whether that is good.
fn verdict(record: &Machine, judged: &MysteryJudged) -> (String, String, bool) {
    let mystery = record.mysteries.get(judged.mystery);
    let guess = |at: usize| {
        let candidate = mystery.and_then(|mystery| mystery.candidates.get(at));
        candidate.map_or_else(|| "?".to_owned(), |candidate| record.guess_name(&candidate.guess))
    };
    let said = judged.said.map_or_else(|| "nothing".to_owned(), guess);
    let truth = guess(judged.truth);
    let words = match judged.right {
        Right::Right => format!("Right: {said}."),
        Right::RightByLuck => format!("Right by luck: {said}; your readings leave it open."),
        Right::Wrong => format!("Wrong: you said {said}; it is {truth}."),
        Right::CannotBeTold => format!("You said {said}; it is {truth}, but no reading in these conditions tells."),
        Right::NotSaid => format!("Not said; it is {truth}."),
    };
    let title = mystery_name(record, judged.mystery);
    (title, words, judged.right == Right::Right)
}

fn mystery_name(record: &Machine, id: MysteryId) -> String {
    record.mysteries.get(id).map_or_else(|| "?".to_owned(), |mystery| mystery.name.clone())
}
