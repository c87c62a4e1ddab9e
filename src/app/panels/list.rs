//! The list of the present stage: its heading, its search field, and the stage's own rows.

use egui::Ui;

use crate::app::request::{Requests, Show};
use crate::app::scope::Scope;
use crate::app::stage::Stage;
use crate::app::widgets::{Field, faint, field, strong};

/// Draws the list of the present stage.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let stage = scope.view.stage;
    ui.add_space(4.0);
    ui.heading(stage.words());
    match stage {
        Stage::Photos => super::photos::show(ui, scope, out),
        Stage::Parts => super::parts::show(ui, scope, out),
        Stage::Wires => super::wires::show(ui, scope, out),
        Stage::Readings => super::readings::show(ui, scope, out),
        Stage::Mysteries => super::mysteries::show(ui, scope, out),
        Stage::Findings => super::findings::show(ui, scope, out),
        Stage::Removal => super::removal::show(ui, scope, out),
        Stage::Sheet => crate::app::paper::choices(ui, scope, out),
    }
}

/// Draws the field that searches the list.
pub(super) fn search(ui: &mut Ui, scope: &Scope<'_>, hint: &str, out: &mut Requests) {
    let stage = scope.view.stage;
    let name = format!("Search {}", stage.words().to_lowercase());
    let written = field(
        ui,
        ("search", stage.words()),
        Field { name: "", full_name: Some(&name), value: scope.view.search_text(), hint, lines: 1 },
    );
    if let Some(text) = written.changed {
        out.show(Show::Search(text));
    }
    if scope.view.search.wants_focus {
        let id = ui.scope_id().with(("field", format!("{:?}", ("search", stage.words()))));
        ui.memory_mut(|memory| memory.request_focus(id));
        out.show(Show::SearchFocused);
    }
}

/// Says what to do where a list has nothing in it.
pub(super) fn empty(ui: &mut Ui, scope: &Scope<'_>, title: &str, text: &str) {
    ui.add_space(8.0);
    strong(ui, title);
    faint(ui, scope.palette, text);
}

/// Says that a search finds nothing.
pub(super) fn nothing_found(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    ui.add_space(8.0);
    faint(ui, scope.palette, format!("Nothing here has '{}' in it.", scope.view.search_text()));
    if ui.button("Clear the search").clicked() {
        out.show(Show::Search(String::new()));
    }
}
