//! What lies over the window: cautions, help, about, unsaved changes, work that can be had back.

use egui::{Align2, Context, Ui};

use super::action::{Action, Group};
use super::marks;
use super::request::{FileRequest, Request, Requests, Show};
use super::scope::Scope;
use super::view::{Leaving, Overlay};
use super::widgets::{faint, group, strong};

/// The cautions, in the signal words of ISO 3864-2 and ANSI Z535. Our own wording.
pub const CAUTIONS: [(&str, &str); 5] = [
    (
        "DANGER",
        "Voltage kills. What this program shows comes from what was recorded and can be wrong or incomplete. Before you touch anything: isolate, \
         lock, let capacitors discharge, and verify absence of voltage with a meter tried on a known live source before and after.",
    ),
    (
        "WARNING",
        "Tone and ohms readings belong on circuits without voltage. A tone through a winding or a lamp is no proof of a wire or a closed contact.",
    ),
    (
        "WARNING",
        "Where a refrigerant that burns is used, sparks near the refrigerant circuit can light it. Ventilate, and follow the maker's instructions.",
    ),
    (
        "CAUTION",
        "'Dead' here means: not shown to be live by the record. Wires with an unknown end are never more than that.",
    ),
    (
        "NOTICE",
        "Local codes, the maker's instructions and licensed practice come first. Where they differ from what is shown here, they are right.",
    ),
];

/// Draws whatever lies over the window.
pub fn show(ctx: &Context, scope: &Scope<'_>, out: &mut Requests) {
    match scope.view.overlay {
        Overlay::None => {}
        Overlay::Help => window(ctx, Action::Help.words(), out, |ui, _| help(ui, scope)),
        Overlay::About => window(ctx, "About Wirewitness", out, |ui, _| about(ui, scope)),
        Overlay::Machines => {
            window(ctx, Action::Machines.words(), out, |ui, out| super::machines::show(ui, scope, out));
        }
        Overlay::Caution => {
            modal(ctx, "caution", |ui| caution(ui, scope, out));
        }
        Overlay::Unsaved(leaving) => {
            modal(ctx, "unsaved", |ui| unsaved(ui, scope, leaving, out));
        }
        Overlay::Recovery => {
            modal(ctx, "recovery", |ui| recovery(ui, scope, out));
        }
    }
}

fn window(ctx: &Context, title: &str, out: &mut Requests, add: impl FnOnce(&mut Ui, &mut Requests)) {
    let room = ctx.content_rect().size() - egui::vec2(80.0, 120.0);
    egui::Window::new(title)
        .title_bar(false)
        .anchor(Align2::CENTER_CENTER, egui::Vec2::ZERO)
        .fixed_size(egui::vec2(room.x.min(640.0), room.y.min(560.0)))
        .show(ctx, |ui| {
            ui.horizontal(|ui| {
                ui.heading(title);
                ui.with_layout(egui::Layout::right_to_left(egui::Align::Center), |ui| {
                    if ui.button("Close").clicked() {
                        out.show(Show::Overlay(Overlay::None));
                    }
                });
            });
            ui.separator();
            egui::ScrollArea::vertical().auto_shrink([false, false]).show(ui, |ui| add(ui, out));
        });
}

fn modal(ctx: &Context, name: &str, add: impl FnOnce(&mut Ui)) {
    let room = ctx.content_rect().size() - egui::vec2(80.0, 100.0);
    egui::Modal::new(egui::Id::unique(name)).show(ctx, |ui| {
        ui.set_width(room.x.min(560.0));
        egui::ScrollArea::vertical().max_height(room.y).min_scrolled_height(room.y).show(ui, |ui| add(ui));
    });
}

fn help(ui: &mut Ui, scope: &Scope<'_>) {
    let stage = scope.view.stage;
    strong(ui, stage.words());
    ui.add(egui::Label::new(stage.click_words()).wrap());
    faint(ui, scope.palette, "Right-click or press long for what can be done with the thing under the pointer.");
    marks::tints(ui, scope.prefs.theme.ground(), scope.palette);
    for listed in Group::ALL {
        group(ui, listed.words());
        egui::Grid::new(listed.words()).num_columns(2).spacing([24.0, 3.0]).show(ui, |ui| {
            for action in Action::ALL.into_iter().filter(|action| action.group() == listed) {
                let keys: Vec<String> = action.keys().iter().map(|keys| ui.ctx().format_shortcut(keys)).collect();
                if keys.is_empty() {
                    continue;
                }
                ui.label(action.words());
                strong(ui, keys.join("  or  "));
                ui.end_row();
            }
        });
    }
    group(ui, "On the canvas");
    for line in [
        "Scroll or pinch: nearer and further, to the pointer. Drag with the middle button, or with Space held: move the sheet.",
        "Drag over nothing: select what lies in the frame. Hold Shift or Ctrl (Cmd) to take more in, or a thing out.",
        "A double click or Enter ends a wire loose; Escape leaves what was begun.",
        "While points are taken on a photo: arrows move a cross (with Shift a point at a time), Space clicks there, Enter ends, Backspace takes back.",
    ] {
        ui.add(egui::Label::new(line).wrap());
    }
}

fn cautions(ui: &mut Ui, scope: &Scope<'_>) {
    for (word, text) in CAUTIONS {
        let tint = match word {
            "DANGER" => scope.palette.severity[0],
            "WARNING" => scope.palette.severity[1],
            "CAUTION" => scope.palette.severity[2],
            _ => scope.palette.severity[3],
        };
        ui.add_space(4.0);
        egui::Frame::new().fill(tint.ground).inner_margin(egui::Margin::symmetric(8, 2)).show(ui, |ui| {
            ui.label(egui::RichText::new(word).family(super::theme::bold()).color(tint.ink));
        });
        ui.add(egui::Label::new(text).wrap());
    }
}

fn about(ui: &mut Ui, scope: &Scope<'_>) {
    strong(ui, concat!("Wirewitness ", env!("CARGO_PKG_VERSION")));
    ui.add(
        egui::Label::new(
            "Records what a technician witnessed about a machine's wiring, keeps apart what is proven and what is only assumed, and \
             computes the rest.",
        )
        .wrap(),
    );
    cautions(ui, scope);
    group(ui, "Licences");
    ui.add(egui::Label::new("Wirewitness is offered under MIT or Apache-2.0. The typeface is B612, under the SIL Open Font License 1.1.").wrap());
}

fn caution(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    ui.heading("Before you begin");
    cautions(ui, scope);
    ui.add_space(8.0);
    if ui.button("I have read this").clicked() {
        out.ask(Request::Prefs(super::prefs::Prefs { cautions_read: true, ..scope.prefs.clone() }));
        let next = if scope.recoveries.is_empty() { Overlay::None } else { Overlay::Recovery };
        out.show(Show::Overlay(next));
    }
}

fn unsaved(ui: &mut Ui, scope: &Scope<'_>, leaving: Leaving, out: &mut Requests) {
    ui.heading("Not saved");
    let before = match leaving {
        Leaving::Quit => "before you leave",
        Leaving::New => "before a new record is begun",
        Leaving::Open => "before another record is opened",
        Leaving::Practise => "before you practise",
    };
    let title = scope.machine.facts.title.trim();
    let what = if title.is_empty() { "This record" } else { title };
    ui.add(egui::Label::new(format!("{what} has changes that are not saved. Save them {before}?")).wrap());
    ui.add_space(8.0);
    ui.horizontal_wrapped(|ui| {
        if ui.button("Save").clicked() {
            out.file(FileRequest::SaveAndGoOn);
        }
        if ui.button("Go on without saving").clicked() {
            out.file(FileRequest::GoOn);
        }
        if ui.button("Stay").clicked() {
            out.file(FileRequest::Stay);
        }
    });
}

fn recovery(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    ui.heading("Work that was not saved");
    ui.add(egui::Label::new("An earlier run ended without saving. What it had is kept here.").wrap());
    for (place, kept) in scope.recoveries.iter().enumerate() {
        ui.push_id(place, |ui| {
            let of = kept
                .record
                .as_ref()
                .map_or_else(|| "a record never saved".to_owned(), |path| path.display().to_string());
            group(ui, &of);
            faint(ui, scope.palette, format!("kept {}", kept.made));
            ui.horizontal_wrapped(|ui| {
                if ui.button("Have it back").clicked() {
                    out.file(FileRequest::Recover(place));
                }
                if ui.button("Throw it away").clicked() {
                    out.file(FileRequest::DiscardRecovery(place));
                }
            });
        });
    }
    ui.add_space(8.0);
    if ui.button("Leave it for now").clicked() {
        out.show(Show::Overlay(Overlay::None));
    }
}

#[cfg(test)]
mod tests {
    use super::CAUTIONS;

    #[test]
    fn the_cautions_defer_to_codes_makers_and_licensed_practice() {
        let all: String = CAUTIONS.iter().map(|(_, text)| *text).collect();
        for said in ["Local codes", "maker's instructions", "licensed practice", "verify absence of voltage"] {
            assert!(all.contains(said), "{said}");
        }
    }
}
