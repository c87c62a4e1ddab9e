//! The reading bar at the bottom: two probes, what the meter is set to, what it shows, and what that says.

use egui::{Align, FontId, Layout, RichText, Role, Sense, TextStyle, Ui, WidgetInfo, pos2, vec2};

use egui::text::{LayoutJob, TextFormat, TextWrapping};

use crate::app::action::Action;
use crate::app::judge::Says;
use crate::app::marks;
use crate::app::request::{EntryRequest, PracticeRequest, Request, Requests};
use crate::app::scope::Scope;
use crate::app::selection::Probe;
use crate::app::theme::bold;
use crate::app::widgets::{choose_bare, name};
use crate::desk::Practice;
use crate::machine::{MeterId, Spot, Thing};
use crate::quantity::{Function, Value};

/// Draws the bar.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    // Above the keys, in room that is always kept for it: what a reading means is never what falls off a small screen.
    let size = TextStyle::Body.resolve(ui.style()).size;
    let lines = if ui.available_width() < size * 80.0 { 2.0 } else { 1.0 };
    let room = vec2(ui.available_width(), size * 1.4 * lines + 4.0);
    ui.allocate_ui_with_layout(room, Layout::left_to_right(Align::Center), |ui| {
        ui.set_min_height(room.y);
        says(ui, scope);
    });
    ui.horizontal_wrapped(|ui| {
        for probe in Probe::BOTH {
            probe_key(ui, scope, probe, out);
        }
        let swap = ui.button("Swap").on_hover_text("Change the red and the black probe over");
        name(ui, swap.id, "Swap the probes");
        if swap.clicked() {
            out.entry(EntryRequest::Swap);
        }
        function(ui, scope, out);
        if let Some(practice) = scope.practice {
            take(ui, scope, practice, out);
            return;
        }
        value(ui, scope, out);
        for (text, label) in [("tone", "Value: tone"), ("no tone", "Value: no tone"), ("OL", "Value: OL")] {
            let key =
                ui.add(egui::Button::selectable(scope.view.entry.text.trim() == text, text).frame_when_inactive(true));
            name(ui, key.id, label);
            if key.clicked() {
                out.entry(EntryRequest::Text(text.to_owned()));
            }
        }
        let ready = ready(scope);
        let log = ui.add_enabled(ready.is_ok(), egui::Button::new(RichText::new("Log").family(bold())));
        name(ui, log.id, Action::LogReading.words());
        let log = if let Err(why) = ready { log.on_disabled_hover_text(why) } else { log };
        if log.clicked() {
            out.act(Action::LogReading);
        }
        if ui.available_width() > 150.0 {
            meter(ui, scope, out);
        }
    });
}

/// Whether the entry can be logged, or why not yet.
///
/// # Errors
/// A sentence that says what is missing.
pub fn ready(scope: &Scope<'_>) -> Result<Value, String> {
    let entry = &scope.view.entry;
    if entry.text.trim().is_empty() {
        return Err("Write what the meter shows first.".to_owned());
    }
    let value = Value::parse_with(&entry.text, entry.function).map_err(|error| error.to_string())?;
    let probes = &scope.view.probes;
    if probes.red.is_none() {
        return Err("Set the red probe first: point at a terminal and press 1.".to_owned());
    }
    if probes.black.is_none() && !matches!(value.function(), Function::Runs | Function::Amps) {
        return Err("Set the black probe first: point at a terminal and press 2.".to_owned());
    }
    Ok(value)
}

/// At practice the bench says the value: a key to ask for it, and what it said last.
fn take(ui: &mut Ui, scope: &Scope<'_>, practice: &Practice, out: &mut Requests) {
    let key = egui::Button::new(RichText::new("Take reading").family(bold()));
    if ui.add_enabled(!practice.is_finished(), key).clicked() {
        out.ask(Request::Practice(PracticeRequest::Take));
    }
    if let Some(taken) = practice.bench().taken().last() {
        let words = super::practice::taken_words(scope.machine, taken);
        ui.add(egui::Label::new(RichText::new(format!("Last: {words}")).family(bold())).wrap());
    }
}

fn probe_key(ui: &mut Ui, scope: &Scope<'_>, probe: Probe, out: &mut Requests) {
    let palette = scope.palette;
    let spot = scope.view.probes.at(probe);
    let place = spot.map_or_else(|| "not set".to_owned(), |spot| scope.machine.spot_name(spot));
    let size = TextStyle::Body.resolve(ui.style()).size;
    let (rect, response) = ui.allocate_exact_size(vec2(size * 10.5, ui.spacing().interact_size.y), Sense::click());
    response.widget_info(|| WidgetInfo::labeled(Role::Button, true, format!("{} probe: {place}", probe.words())));
    let [red, black] = palette.probes;
    let tint = if probe == Probe::Red { red } else { black };
    let painter = ui.painter();
    let ground = if response.hovered() { palette.key[1] } else { palette.field };
    let edge = egui::Stroke::new(if response.has_focus() { 2.0 } else { 1.0 }, palette.line);
    painter.rect(rect, 1.0, ground, edge, egui::StrokeKind::Inside);
    marks::probe(painter, rect.left_center() + vec2(size * 0.9, 0.0), size * 0.55, tint, palette);
    let ink = if spot.is_some() { palette.ink } else { palette.faint };
    let format = TextFormat { font_id: FontId::proportional(size), color: ink, ..TextFormat::default() };
    let mut job = LayoutJob::single_section(format!("{} {place}", probe.words()), format);
    job.wrap = TextWrapping::truncate_at_width(rect.width() - size * 2.1);
    let galley = painter.layout_job(job);
    let left = pos2(rect.left() + size * 1.8, rect.center().y - galley.size().y / 2.0);
    painter.galley(left, galley, ink);
    let tip = format!(
        "{place}. Press to put the {} probe on what is selected; press again to take it off. Or point at a terminal and press {}.",
        probe.words(),
        if probe == Probe::Red { "1" } else { "2" }
    );
    if response.on_hover_text(tip).clicked() {
        let selected = scope.view.selection.only().and_then(|thing| match thing {
            Thing::Spot(spot @ (Spot::Terminal(_) | Spot::End(..) | Spot::Wire(_) | Spot::Part(_))) => {
                Some(spot.clone())
            }
            _ => None,
        });
        let put = if selected.as_ref() == spot { None } else { selected };
        out.entry(EntryRequest::Put(probe, put));
    }
}

fn function(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let now = scope.view.entry.function;
    let shown = now.map_or("function", Function::words);
    let mut options: Vec<(String, bool)> =
        Function::ALL.into_iter().map(|f| (f.words().to_owned(), Some(f) == now)).collect();
    options.push(("as written".to_owned(), now.is_none()));
    let width = TextStyle::Body.resolve(ui.style()).size * 7.5;
    ui.allocate_ui(vec2(width, ui.spacing().interact_size.y), |ui| {
        if let Some(place) = choose_bare(ui, "function", "Meter set to", shown, &options) {
            out.entry(EntryRequest::Function(Function::ALL.get(place).copied()));
        }
    });
}

/// The identity of the value field, so that the keys can bring the writing mark there.
fn value_id() -> egui::Id {
    egui::Id::unique("reading value")
}

fn value(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let entry = &scope.view.entry;
    let mut text = entry.text.clone();
    let size = TextStyle::Body.resolve(ui.style()).size;
    let field = egui::TextEdit::singleline(&mut text)
        .id(value_id())
        .hint_text("as 24.6 VAC")
        .desired_width(size * 8.5)
        .min_size(vec2(40.0, ui.spacing().interact_size.y));
    let response = ui.add(field);
    name(ui, response.id, "Value of the reading");
    if response.changed() {
        out.entry(EntryRequest::Text(text.clone()));
    }
    if response.lost_focus() && ui.input(|input| input.key_pressed(egui::Key::Enter)) && !text.trim().is_empty() {
        out.entry(EntryRequest::Log(text));
    }
    if entry.wants_focus {
        response.request_focus();
        // What is typed goes on where the value ends.
        let mut state = egui::TextEdit::load_state(ui.ctx(), response.id).unwrap_or_default();
        let end = egui::text::CCursor::new(entry.text.chars().count());
        state.cursor.set_char_range(Some(egui::text::CCursorRange::one(end)));
        egui::TextEdit::store_state(ui.ctx(), response.id, state);
        out.entry(EntryRequest::Focused);
    }
}

fn meter(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let now = scope.view.entry.meter;
    let shown = now.and_then(|id| scope.machine.meters.get(id)).map_or("meter not said", |meter| meter.name.as_str());
    let ids: Vec<MeterId> = scope.machine.meters.ids().collect();
    let mut options: Vec<(String, bool)> =
        scope.machine.meters.iter().map(|(id, meter)| (meter.name.clone(), Some(id) == now)).collect();
    options.push(("meter not said".to_owned(), now.is_none()));
    let size = TextStyle::Body.resolve(ui.style()).size;
    ui.allocate_ui(vec2(ui.available_width().min(size * 13.0), ui.spacing().interact_size.y), |ui| {
        if let Some(place) = choose_bare(ui, "meter", "Meter", shown, &options) {
            out.entry(EntryRequest::Meter(ids.get(place).copied()));
        }
    });
}

/// The one line that says what the reading proves, disputes or does not settle.
fn says(ui: &mut Ui, scope: &Scope<'_>) {
    let entry = &scope.view.entry;
    let palette = scope.palette;
    let read = Value::parse_with(&entry.text, entry.function);
    let (says, words) = match &read {
        Err(error) if !entry.text.trim().is_empty() => (Says::Disputes, error.to_string()),
        read => scope.results.judgement.line(scope.machine, entry.function, read.as_ref().ok().copied()),
    };
    let colour = match says {
        Says::Danger => palette.severity[0].ink,
        Says::Disputes => palette.disputes,
        Says::Agrees => palette.agrees,
        Says::Nothing => palette.faint,
    };
    let text = RichText::new(&words).color(colour);
    if says == Says::Danger {
        egui::Frame::new().fill(palette.severity[0].ground).inner_margin(egui::Margin::symmetric(6, 1)).show(
            ui,
            |ui| {
                ui.add(egui::Label::new(text.family(bold())).wrap());
            },
        );
    } else {
        ui.add(egui::Label::new(text).wrap());
    }
}
