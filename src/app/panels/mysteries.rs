//! The mysteries: what is not known, each with what it may be.

use std::sync::Arc;

use egui::Ui;

use super::next::percent;
use super::rows::{self, Mark, Row};
use super::{list, next};
use crate::app::card::subject_words;
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::widgets::{faint, strong};
use crate::machine::{Change, Edit, Mystery, MysteryId, Side, Spot, Subject, Thing, WireId};

/// Draws the list of mysteries.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    if let Some(practice) = scope.practice {
        super::practice::show(ui, scope, practice, out);
        return;
    }
    begin(ui, scope, out);
    // The list keeps room below.
    let most = ui.available_height() * 0.55;
    egui::ScrollArea::vertical().id_salt("next readings").max_height(most).auto_shrink([false, true]).show(ui, |ui| {
        next::show(ui, scope, out);
    });
    if scope.machine.mysteries.is_empty() {
        list::empty(
            ui,
            scope,
            "No mysteries recorded.",
            "What is not known is written down, with what it may be: this lead belongs on one of four tabs; this relay is worked \
             by one of three outputs. Select the wire end, part or terminal, then begin a mystery about it here.",
        );
        return;
    }
    list::search(ui, scope, "name or note", out);
    if scope.lists.mysteries.is_empty() {
        list::nothing_found(ui, scope, out);
        return;
    }
    let pressed = rows::show(ui, "mysteries", scope.lists.mysteries.len(), scope.palette, |place| {
        row(scope, scope.lists.mysteries[place])
    });
    if let Some((place, _)) = pressed {
        out.go_to(Thing::Mystery(scope.lists.mysteries[place]));
    }
}

/// Keys that begin a mystery about what is selected.
fn begin(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let Some(Thing::Spot(spot)) = scope.view.selection.only() else {
        faint(ui, scope.palette, "Select a wire end, a part or a terminal to begin a mystery about it.");
        return;
    };
    strong(ui, format!("About {}:", scope.machine.spot_name(spot)));
    let of_end = |wire: WireId, side: Side| {
        let subject = Subject::End(wire, side);
        (subject_words(scope.machine, &subject), subject)
    };
    let fault = || ("Whether it is faulty".to_owned(), Subject::Fault(spot.clone()));
    let choices: Vec<(String, Subject)> = match spot {
        Spot::End(wire, side) => vec![of_end(*wire, *side)],
        Spot::Wire(wire) => vec![of_end(*wire, Side::From), of_end(*wire, Side::To), fault()],
        Spot::Part(part) => vec![
            ("Which output works it".to_owned(), Subject::CoilDriver(*part)),
            ("What kind of part it is".to_owned(), Subject::Kind(*part)),
            fault(),
        ],
        Spot::Terminal(terminal) => {
            vec![("Which form the contact here has".to_owned(), Subject::ContactForm(terminal.clone())), fault()]
        }
        Spot::Gone(_) => Vec::new(),
    };
    ui.horizontal_wrapped(|ui| {
        for (words, subject) in choices {
            if ui.button(words).clicked() {
                let (id, edit) = new_mystery(scope, subject);
                out.edit(edit);
                out.select(Thing::Mystery(id));
            }
        }
    });
}

fn new_mystery(scope: &Scope<'_>, subject: Subject) -> (MysteryId, Edit) {
    let id = scope.machine.mysteries.next_id();
    let taken = |name: &str| scope.machine.mysteries.values().any(|mystery| mystery.name == name);
    let first = u32::from(id).saturating_add(1);
    let name = (first..=u32::MAX).map(|number| format!("M{number}")).find(|name| !taken(name)).unwrap_or_default();
    let mystery = Mystery { name, subject, candidates: Vec::new(), one_of_each: None, note: String::new() };
    let label = format!("Begin mystery {}", mystery.name);
    (id, Edit::one(label, Change::Mystery(id, Some(Arc::new(mystery)))))
}

fn row(scope: &Scope<'_>, id: MysteryId) -> Row {
    let Some(mystery) = scope.machine.mysteries.get(id) else {
        return Row::default();
    };
    let count = mystery.candidates.len();
    let best = scope.results.identified.of(id).filter(|_| scope.results.identified_fresh).and_then(|odds| {
        let best = odds.candidates.iter().enumerate().max_by(|a, b| a.1.odds.total_cmp(&b.1.odds))?;
        let guess = scope.machine.guess_name(&mystery.candidates.get(best.0)?.guess);
        Some(if odds.none_of_these > best.1.odds {
            "none of its candidates: look at the record again".to_owned()
        } else {
            format!("{guess}: {}", percent(best.1.odds))
        })
    });
    let detail = match count {
        0 => "no candidates yet".to_owned(),
        _ => best.unwrap_or_else(|| if count == 1 { "1 candidate".to_owned() } else { format!("{count} candidates") }),
    };
    // A name that a person gave says what it is about; there is no room for it in words of the program beside it.
    let is_numbered = mystery.name.strip_prefix('M').is_some_and(|rest| rest.bytes().all(|byte| byte.is_ascii_digit()));
    let (title, aside) = if is_numbered {
        (subject_words(scope.machine, &mystery.subject), mystery.name.clone())
    } else {
        (mystery.name.clone(), String::new())
    };
    Row {
        title,
        detail,
        aside,
        mark: Mark::None,
        selected: scope.view.selection.has(&Thing::Mystery(id)),
        detail_lines: None,
    }
}
