//! The parts: the palette of kinds to place, and the parts that are placed.

use egui::{RichText, Ui};

use super::list;
use super::rows::{self, Mark, Row};
use crate::app::lists::KindLine;
use crate::app::request::{Requests, Show};
use crate::app::scope::Scope;
use crate::app::theme::bold;
use crate::app::widgets::faint;
use crate::machine::{PartId, Thing};

/// Draws the palette above the list of parts.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    list::search(ui, scope, "kind, tag, title or printed label", out);
    if let Some(kind) = scope.view.placing.as_deref() {
        placing(ui, scope, kind, out);
    }
    let parts = scope.lists.parts.len();
    let height = ui.available_height();
    let share = if scope.machine.parts.is_empty() { 1.0 } else { 0.55 };
    ui.allocate_ui(egui::vec2(ui.available_width(), (height * share - 30.0).max(60.0)), |ui| {
        ui.set_min_size(ui.available_size());
        let room = ui.max_rect();
        ui.shrink_clip_rect(room);
        palette(ui, scope, out);
    });
    if scope.machine.parts.is_empty() {
        return;
    }
    ui.separator();
    ui.label(RichText::new(format!("Placed: {} of {}", parts, scope.machine.parts.len())).family(bold()));
    let pressed = rows::show(ui, "parts", parts, scope.palette, |place| row(scope, scope.lists.parts[place]));
    if let Some((place, response)) = pressed {
        let id = scope.lists.parts[place];
        if response.ctx.input(|input| input.modifiers.command) {
            out.show(Show::Toggle(id.into()));
        } else {
            out.go_to(id);
        }
    }
}

fn placing(ui: &mut Ui, scope: &Scope<'_>, kind: &str, out: &mut Requests) {
    let title = scope.catalogue.kind(kind).map_or(kind, |kind| kind.title.as_str());
    let frame = egui::Frame::new().fill(scope.palette.chosen.ground).inner_margin(6);
    frame.show(ui, |ui| {
        ui.set_width(ui.available_width());
        let text = format!("Placing: {title}. Click the canvas where it sits.");
        ui.add(egui::Label::new(RichText::new(text).color(scope.palette.chosen.ink)).wrap());
        ui.horizontal(|ui| {
            if ui.button("Place it now").on_hover_text("Beside what is placed already, without pointing").clicked() {
                out.show(Show::PlaceNow(None));
            }
            if ui.button("Stop placing").clicked() {
                out.show(Show::Place(None));
            }
        });
    });
}

fn palette(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let kinds = &scope.lists.kinds;
    if kinds.is_empty() {
        list::nothing_found(ui, scope, out);
        faint(ui, scope.palette, "A part that fits no kind is an unknown part with the terminals you see.");
        return;
    }
    let height = ui.spacing().interact_size.y;
    egui::ScrollArea::vertical().id_salt("kinds").auto_shrink([false, false]).show_rows(
        ui,
        height,
        kinds.len(),
        |ui, range| {
            for line in kinds.get(range).unwrap_or_default() {
                match line {
                    KindLine::Family(family) => {
                        ui.allocate_ui(egui::vec2(ui.available_width(), height), |ui| {
                            ui.set_min_height(height);
                            ui.label(RichText::new(family.words()).family(bold()).color(scope.palette.faint));
                        });
                    }
                    KindLine::Kind(name) => kind_key(ui, scope, name, height, out),
                }
            }
        },
    );
}

fn kind_key(ui: &mut Ui, scope: &Scope<'_>, name: &str, height: f32, out: &mut Requests) {
    let Some(kind) = scope.catalogue.kind(name) else { return };
    let chosen = scope.view.placing.as_deref() == Some(name);
    let button = egui::Button::selectable(chosen, kind.title.as_str())
        .min_size(egui::vec2(ui.available_width() - 4.0, height))
        .truncate();
    let response = ui.add(button);
    let response = if kind.note.is_empty() { response } else { response.on_hover_text(kind.note.as_str()) };
    if response.clicked() {
        out.show(Show::Place(if chosen { None } else { Some(name.to_owned()) }));
    }
}

fn row(scope: &Scope<'_>, id: PartId) -> Row {
    let Some(part) = scope.machine.parts.get(id) else {
        return Row::default();
    };
    let kind = scope.catalogue.kind(&part.kind);
    let what = kind.map_or_else(|| format!("{} (kind not known)", part.kind), |kind| kind.title.clone());
    let detail = if part.title.is_empty() { what } else { format!("{} · {what}", part.title) };
    let aside = part.printed.as_ref().map(|printed| format!("printed {printed}")).unwrap_or_default();
    Row {
        title: part.tag.clone(),
        detail,
        aside,
        mark: Mark::None,
        selected: scope.view.selection.has(&Thing::from(id)),
        detail_lines: None,
    }
}
