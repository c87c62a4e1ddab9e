//! The condition strip at the top: which machine, which visit, how dangerous the present condition is.

use egui::{Align, Align2, FontId, Layout, RichText, Role, Sense, Stroke, TextStyle, Ui, WidgetInfo, vec2};

use crate::app::action::{Action, Group};
use crate::app::request::{Requests, Show};
use crate::app::scope::Scope;
use crate::app::theme::bold;
use crate::app::view::Sheets;
use crate::app::widgets::{choose_bare, name};
use crate::machine::{Condition, ConditionId, Spot, Thing};

/// Draws the strip.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    ui.horizontal(|ui| {
        menu(ui, scope, out);
        let size = TextStyle::Body.resolve(ui.style()).size;
        let (caption, stands_out) = match (scope.practice.is_some(), scope.file.changed) {
            (true, _) => ("PRACTICE, NO RECORD", true),
            (false, true) => ("machine, NOT SAVED", true),
            (false, false) => ("machine", false),
        };
        cell(ui, (caption, stands_out), title(scope), size * 12.0, scope);
        if ui.available_width() > size * 58.0 {
            cell(ui, ("visit", false), scope.visit_date().unwrap_or("none"), size * 6.4, scope);
        }
        band(ui, scope, out);
        condition(ui, scope, out);
        ui.with_layout(Layout::right_to_left(Align::Center), |ui| {
            for action in [Action::Save, Action::Redo, Action::Undo] {
                key(ui, scope, action, out);
            }
        });
    });
}

fn title<'a>(scope: &Scope<'a>) -> &'a str {
    let title = scope.machine.facts.title.trim();
    if title.is_empty() { "Untitled machine" } else { title }
}

/// A value with its name above it, as in the title block of a drawing; the name stands out where it says something to act on.
fn cell(ui: &mut Ui, (caption, stands_out): (&str, bool), value: &str, width: f32, scope: &Scope<'_>) {
    ui.vertical(|ui| {
        ui.set_width(width);
        ui.spacing_mut().item_spacing.y = 0.0;
        let written = RichText::new(caption).small();
        let written = if stands_out {
            written.family(bold()).color(scope.palette.disputes)
        } else {
            written.color(scope.palette.faint)
        };
        ui.add(egui::Label::new(written).truncate());
        ui.add(egui::Label::new(RichText::new(value).family(bold())).truncate()).on_hover_text(value);
    });
    rule(ui, scope);
}

fn rule(ui: &mut Ui, scope: &Scope<'_>) {
    let (rect, _) = ui.allocate_exact_size(vec2(1.0, ui.available_height().min(34.0)), Sense::hover());
    ui.painter().vline(rect.center().x, rect.y_range(), Stroke::new(1.0, scope.palette.line));
}

/// The hazard band: shape, words, colour. A press shows what it means.
fn band(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let band = scope.results.band;
    let tint = band.tint(scope.palette);
    let size = TextStyle::Body.resolve(ui.style()).size;
    let galley = ui.painter().layout_no_wrap(band.words().to_owned(), FontId::new(size + 1.0, bold()), tint.ink);
    let mark = size * 1.7;
    let height = ui.available_height().clamp(30.0, 44.0);
    let (rect, response) = ui.allocate_exact_size(vec2(galley.size().x + mark + 26.0, height), Sense::click());
    let label = format!("Hazard class: {}. {}", band.words(), band.meaning());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, &label));
    let painter = ui.painter();
    painter.rect(rect, 1.0, tint.ground, Stroke::new(1.5, scope.palette.ink), egui::StrokeKind::Inside);
    let left = rect.left_center();
    band.mark(painter, left + vec2(8.0 + mark / 2.0, 0.0), mark, tint.ink);
    let at = left + vec2(14.0 + mark, 0.0);
    painter.galley(at - vec2(0.0, galley.size().y / 2.0), galley, tint.ink);
    let said = if scope.results.band_reason.is_empty() {
        band.meaning().to_owned()
    } else {
        format!("{} {}", scope.results.band_reason, band.meaning())
    };
    if response.on_hover_text(said).clicked()
        && let Some(id) = scope.results.condition
    {
        out.select(Thing::Condition(id));
    }
}

/// Chooses the condition; its card holds the steps that set it.
fn condition(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let now = scope.results.condition;
    let shown = now.and_then(|id| scope.machine.conditions.get(id)).map_or("choose a condition", |c| c.name.as_str());
    let ids: Vec<ConditionId> = scope.machine.conditions.ids().collect();
    let mut options: Vec<(String, bool)> =
        scope.machine.conditions.iter().map(|(id, condition)| (condition.name.clone(), Some(id) == now)).collect();
    options.push(("New condition".to_owned(), false));
    options.push(("No condition".to_owned(), now.is_none()));
    let room = (ui.available_width() - 250.0).clamp(90.0, 240.0);
    ui.allocate_ui_with_layout(vec2(room, ui.available_height()), Layout::left_to_right(Align::Center), |ui| {
        match choose_bare(ui, "condition", "Condition", shown, &options) {
            Some(place) if place < ids.len() => out.show(Show::Condition(ids.get(place).copied())),
            Some(place) if place == ids.len() => new_condition(scope, out),
            Some(_) => out.show(Show::Condition(None)),
            None => {}
        }
    });
    if let Some(id) = now {
        let set = set_words(scope, id);
        if !set.is_empty() && ui.available_width() > 420.0 {
            let room = ui.available_width() - 290.0;
            ui.allocate_ui_with_layout(vec2(room, ui.available_height()), Layout::left_to_right(Align::Center), |ui| {
                let text = RichText::new(&set).color(scope.palette.ink);
                ui.add(egui::Label::new(text).truncate()).on_hover_text(&set);
            });
        }
        let selected = scope.view.selection.has(&Thing::Condition(id));
        let response = ui.add(egui::Button::selectable(selected, "Steps").frame_when_inactive(true));
        name(ui, response.id, "How to set this condition");
        if response.on_hover_text("How to set this condition, and what it sets").clicked() {
            out.select(Thing::Condition(id));
        }
    }
}

/// What the condition sets, in a few words.
fn set_words(scope: &Scope<'_>, id: ConditionId) -> String {
    let machine = scope.machine;
    let setting = machine.setting(id);
    let on = setting.sources_on.iter().map(|&part| format!("{} on", machine.part_name(part)));
    let commanded = setting.commanded.iter().map(|output| format!("{} commanded", machine.terminal_name(output)));
    let lifted =
        setting.lifted.iter().map(|&(wire, side)| format!("{} lifted", machine.spot_name(&Spot::End(wire, side))));
    on.chain(commanded).chain(lifted).collect::<Vec<_>>().join(" · ")
}

fn new_condition(scope: &Scope<'_>, out: &mut Requests) {
    let taken = |name: &str| scope.machine.condition_by_name(name).is_some();
    let name = (1..=u32::MAX).map(|n| format!("condition {n}")).find(|name| !taken(name)).unwrap_or_default();
    let id = scope.machine.conditions.next_id();
    let condition = Condition { name: name.clone(), ..Condition::default() };
    let change = crate::machine::Change::Condition(id, Some(std::sync::Arc::new(condition)));
    out.edit(crate::machine::Edit::one(format!("Add {name}"), change));
    out.show(Show::Condition(Some(id)));
    out.select(Thing::Condition(id));
}

/// Whether an action can be asked for now.
fn can(scope: &Scope<'_>, action: Action) -> bool {
    match action {
        Action::Undo => scope.file.undo.is_some(),
        Action::Redo => scope.file.redo.is_some(),
        Action::Save => scope.practice.is_none() && (scope.file.changed || scope.file.path.is_none()),
        Action::SaveAs | Action::Pack => scope.practice.is_none(),
        Action::PageBack | Action::PageForward => scope.view.stage == crate::app::stage::Stage::Sheet,
        Action::Duplicate | Action::Remove | Action::Turn | Action::Mirror => !scope.view.selection.is_empty(),
        _ => true,
    }
}

fn key(ui: &mut Ui, scope: &Scope<'_>, action: Action, out: &mut Requests) {
    let what = match action {
        Action::Undo => scope.file.undo,
        Action::Redo => scope.file.redo,
        _ => None,
    };
    let keys = action.keys().first().map(|keys| ui.ctx().format_shortcut(keys)).unwrap_or_default();
    let tip = what
        .map_or_else(|| format!("{} ({keys})", action.words()), |what| format!("{}: {what} ({keys})", action.words()));
    let response = ui.add_enabled(can(scope, action), egui::Button::new(action.words()));
    if response.on_hover_text(tip).clicked() {
        out.act(action);
    }
}

/// Every action, by group.
fn menu(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    ui.menu_button("Menu", |ui| {
        for group in Group::ALL {
            ui.menu_button(group.words(), |ui| {
                for action in Action::ALL.into_iter().filter(|action| action.group() == group) {
                    let keys = action.keys().first().map(|keys| ui.ctx().format_shortcut(keys)).unwrap_or_default();
                    let button = egui::Button::new(action.words()).shortcut_text(keys).selected(is_on(scope, action));
                    let response = ui.add_enabled(can(scope, action), button);
                    name(ui, response.id, action.words());
                    if response.clicked() {
                        out.act(action);
                        ui.close();
                    }
                }
            });
        }
    });
}

fn is_on(scope: &Scope<'_>, action: Action) -> bool {
    match action {
        Action::Go(stage) => stage == scope.view.stage,
        Action::Look(theme) => theme == scope.prefs.theme,
        Action::ToggleTouch => scope.prefs.touch,
        Action::ToggleGrid => scope.view.shown.grid,
        Action::TogglePhotos => !scope.view.shown.photos_hidden,
        Action::NextSheets => scope.view.shown.sheets != Sheets::Diagram,
        Action::ToggleList => !scope.view.list_hidden,
        _ => false,
    }
}

/// Draws the frame of the hazard colour round a rectangle.
pub fn frame(ui: &Ui, rect: egui::Rect, scope: &Scope<'_>) {
    let tint = scope.results.band.tint(scope.palette);
    ui.painter().rect_stroke(rect, 0.0, Stroke::new(4.0, tint.ground), egui::StrokeKind::Inside);
    if scope.results.band != crate::app::marks::Band::Unknown {
        let font = FontId::new(TextStyle::Small.resolve(ui.style()).size, bold());
        let galley = ui.painter().layout_no_wrap(scope.results.band.words().to_owned(), font, tint.ink);
        let flag = Align2::RIGHT_BOTTOM.anchor_size(rect.right_bottom(), galley.size() + vec2(10.0, 4.0));
        ui.painter().rect_filled(flag, 0.0, tint.ground);
        ui.painter().galley(flag.min + vec2(5.0, 2.0), galley, tint.ink);
    }
}
