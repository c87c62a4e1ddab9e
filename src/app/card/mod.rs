//! The card at the right: everything about what is selected, edited in place.

mod compared;
mod computed;
mod condition;
mod finding;
mod machine;
mod mystery;
mod part;
mod part_detail;
mod photo;
mod reading;
mod several;
mod terminal;
mod verdict;
mod wire;
mod wire_end;

pub use mystery::subject_words;
pub use reading::log;
pub(super) use wire_end::read_end;

use egui::Ui;

use super::request::Requests;
use super::scope::Scope;
use super::stage::Stage;
use super::widgets::{Written, strong};
use crate::machine::{Edit, Spot, Thing};

/// Draws the card of what is selected.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    ui.add_space(4.0);
    if scope.view.stage == Stage::Findings
        && let Some(key) = &scope.view.finding
        && let Some((number, found)) = scope.finding(key)
    {
        finding::show(ui, scope, number, found, out);
        return;
    }
    // Fields belong to the thing they are about: what is written in one never shows on the next card.
    ui.push_id(scope.view.selection.only(), |ui| selected(ui, scope, out));
}

fn selected(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    match scope.view.selection.only() {
        None if scope.view.selection.is_empty() => match scope.results.compared {
            Some(compared) if scope.view.shown.compared => compared::show(ui, scope, compared, out),
            _ => machine::show(ui, scope, out),
        },
        None => several::show(ui, scope, out),
        Some(Thing::Spot(spot)) => match spot {
            Spot::Terminal(terminal) => terminal::show(ui, scope, terminal, out),
            Spot::Part(id) => part::show(ui, scope, *id, out),
            Spot::Wire(id) => wire::show(ui, scope, *id, None, out),
            Spot::End(id, side) => wire::show(ui, scope, *id, Some(*side), out),
            Spot::Gone(name) => strong(ui, format!("{name} is no longer in the record.")),
        },
        Some(Thing::Condition(id)) => condition::show(ui, scope, *id, out),
        Some(Thing::Reading(id)) => reading::show(ui, scope, *id, out),
        Some(Thing::Mystery(id)) => mystery::show(ui, scope, *id, out),
        Some(Thing::Photo(id)) => photo::show(ui, scope, *id, out),
    }
}

/// Asks for the edit that a written field makes, if it was written in during this frame.
fn ask(written: Written, out: &mut Requests, edit: impl FnOnce(String) -> Edit) {
    if let Some(text) = written.changed {
        out.joined(edit(text), written.key);
    }
}

/// With a capital letter first.
fn capital(word: &str) -> String {
    let mut letters = word.chars();
    letters.next().map(|first| first.to_uppercase().chain(letters).collect()).unwrap_or_default()
}

/// `None` for an empty text.
fn some(text: String) -> Option<String> {
    (!text.trim().is_empty()).then_some(text)
}

/// The findings that are about one of these things, as keys that go there.
fn findings_about(ui: &mut Ui, scope: &Scope<'_>, about: impl Fn(&Thing) -> bool, out: &mut Requests) {
    let mut first = true;
    for (place, found) in scope.results.findings.iter().enumerate() {
        if !found.about.iter().any(&about) {
            continue;
        }
        if first {
            super::widgets::group(ui, "Findings");
            first = false;
        }
        let text = format!("{} {}: {}", place + 1, found.severity.word(), found.what);
        if ui.add(egui::Button::new(text).wrap()).clicked() {
            out.act(super::action::Action::Go(Stage::Findings));
            let key = super::view::FindingKey { rule: found.rule.to_owned(), about: found.about.clone() };
            out.show(super::request::Show::Finding(key));
        }
    }
}
