//! The ladder diagram in the middle of the window: beside the connection diagram or alone, with one selection through both.

use std::sync::Arc;

use egui::{Align2, CornerRadius, FontId, Rect, Role, Sense, Stroke, StrokeKind, Ui, WidgetInfo, pos2, vec2};

use crate::drawing::{Area, Handle, Ink};
use crate::ladder::{Device, Ladder};
use crate::machine::{Point, Spot, Thing};

use super::canvas::{Camera, Painting, Sheet, Shown, click_on, navigate};
use super::request::{Requests, Show};
use super::scope::Scope;
use super::selection::Selection;
use super::view::Sheets;

/// How far off a device, a terminal or a line may be pointed at, in screen points: with a mouse, with a finger.
const REACH: [f64; 2] = [6.0, 16.0];

/// Room beside the rails for the numbers of rungs and a few letters, in millimetres.
const BESIDE_RAILS_MM: f64 = 20.0;

/// Devices in sight that get a name of their own for whoever uses the window without looking.
const MOST_NAMED: usize = 300;

/// What the ladder remembers between frames.
#[derive(Default)]
pub struct Rungs {
    camera: Camera,
    sheet: Sheet,
    under: Option<Thing>,
    wants_fit: bool,
    fitted: Option<Rect>,
    reveal: Vec<Thing>,
    nearer: f32,
}

impl Rungs {
    /// Asks for the whole ladder to be brought into sight.
    pub fn show_everything(&mut self) {
        self.wants_fit = true;
    }

    /// Asks for these things to be brought into sight.
    pub fn reveal(&mut self, things: &[Thing]) {
        self.reveal = things.to_vec();
    }

    /// Nearer by this factor, about the middle.
    pub fn zoom(&mut self, factor: f32) {
        self.nearer = factor;
    }

    /// The place a probe can be put that lies under the pointer.
    pub fn pointed_at(&self) -> Option<Spot> {
        match &self.under {
            Some(Thing::Spot(spot @ Spot::Terminal(_))) => Some(spot.clone()),
            _ => None,
        }
    }

    /// Draws it.
    pub fn show(&mut self, ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
        let (response, painter) = ui.allocate_painter(ui.available_size(), Sense::click_and_drag());
        response.widget_info(|| WidgetInfo::labeled(Role::Canvas, true, "Ladder diagram"));
        let screen = response.rect;
        painter.rect_filled(screen, CornerRadius::ZERO, scope.palette.sheet);
        let Some(ladder) = scope.results.derived.ladder.clone() else {
            words(&painter, screen, scope, "Laying out the ladder…");
            return;
        };
        if ladder.rungs.is_empty() && ladder.off.is_empty() {
            words(
                &painter,
                screen,
                scope,
                "A supply and what hangs between its poles make a ladder. There is none yet.",
            );
            return;
        }
        self.aim(screen, &ladder);
        navigate(ui, &response, &mut self.camera);
        if response.dragged() {
            self.camera.pan(response.drag_delta());
        }
        let reach = REACH[usize::from(scope.prefs.touch)] / self.camera.scale;
        let at = response.hover_pos().or_else(|| response.interact_pointer_pos());
        let at = at.map(|at| self.camera.canvas_from_screen(screen, at));
        self.under = at.and_then(|at| match ladder.scene().pick_handle(at, reach) {
            Some(Handle::Thing(thing)) if !matches!(thing, Thing::Spot(Spot::Gone(_))) => Some(thing),
            _ => None,
        });
        if response.clicked() {
            let modifiers = ui.input(|input| input.modifiers);
            click_on(self.under.clone(), scope, modifiers, out);
        }
        let painting = Painting { painter: &painter, screen, camera: self.camera, theme: scope.prefs.theme };
        halo(&painting, &ladder, &scope.view.selection, painting.ink(Ink::Chosen), 4.0);
        if let Some(thing) = &self.under {
            let pointed = painting.ink(Ink::Pointed).gamma_multiply(0.6);
            halo(&painting, &ladder, &Selection::of(thing.clone()), pointed, 2.5);
        }
        let electrical = scope.results.derived.electrical.clone();
        let shown = Shown { scene: Arc::clone(ladder.scene()), electrical, photos: Vec::new() };
        self.sheet.paint(&painting, &shown);
        for (probe, ink, letter) in
            [(&scope.view.probes.red, Ink::ProbeRed, "R"), (&scope.view.probes.black, Ink::ProbeBlack, "B")]
        {
            if let Some(at) = probe.as_ref().and_then(|spot| place_of(&ladder, &spot.clone().into())) {
                painting.probe(at, ink, letter);
            }
        }
        names(ui, &painting, &ladder, scope);
    }

    /// Brings into sight what was asked for; the first time, and when its room changes much, as much as can be read.
    fn aim(&mut self, screen: Rect, ladder: &Ladder) {
        let Some(whole) = ladder.scene().area() else { return };
        let grown = self.fitted.is_none_or(|before| (before.size() - screen.size()).length() > 40.0);
        if self.wants_fit {
            self.camera.fit(screen, whole);
            self.wants_fit = false;
        } else if grown {
            // From the top, with the rails in sight, but never so small that tags cannot be read.
            let rails = ladder.sections.iter().map(|section| section.area.width()).fold(0.0, f64::max);
            self.camera.scale = (f64::from(screen.width()) / (rails + BESIDE_RAILS_MM)).clamp(2.4, 4.0);
            let (x, y) = (f64::from(screen.width()), f64::from(screen.height()));
            let (x, y) = (x / self.camera.scale / 2.0, y / self.camera.scale / 2.0);
            self.camera.middle = Point::new(whole.min.x - 4.0 + x, whole.min.y - 4.0 + y);
        }
        self.fitted = Some(screen);
        let places = self.reveal.drain(..).filter_map(|thing| place_of(ladder, &thing));
        if let Some(area) = Area::round(places)
            && !self.camera.sight(screen).grown(-8.0).contains_area(area)
        {
            self.camera.middle = area.centre();
        }
        if self.nearer > 0.0 {
            self.camera.zoom(screen, screen.center(), f64::from(self.nearer));
            self.nearer = 0.0;
        }
    }
}

/// What chooses between the two diagrams, in the lower left corner: messages come at the top, the hazard's word at the right.
pub fn sheets(ui: &Ui, rect: Rect, scope: &Scope<'_>, out: &mut Requests) {
    let room = egui::Area::new(egui::Id::unique("sheets"))
        .pivot(Align2::LEFT_BOTTOM)
        .fixed_pos(pos2(rect.left() + 8.0, rect.bottom() - 8.0))
        .constrain_to(rect)
        .order(egui::Order::Middle);
    room.show(ui.ctx(), |ui| {
        egui::Frame::new().fill(scope.palette.paper).stroke(Stroke::new(1.0, scope.palette.line)).inner_margin(2).show(
            ui,
            |ui| {
                ui.horizontal(|ui| {
                    ui.spacing_mut().item_spacing.x = 2.0;
                    for sheets in Sheets::ALL {
                        let button = egui::Button::selectable(scope.view.shown.sheets == sheets, sheets.words());
                        let response = ui.add(button);
                        super::widgets::name(ui, response.id, sheets.name());
                        if response.on_hover_text(sheets.name()).clicked() {
                            out.show(Show::Sheets(sheets));
                        }
                    }
                });
            },
        );
    });
}

/// The two rooms for the diagrams: beside one another where that is wide enough for both, else one below the other.
pub fn rooms(rect: Rect, sheets: Sheets) -> (Option<Rect>, Option<Rect>) {
    match sheets {
        Sheets::Diagram => (Some(rect), None),
        Sheets::Ladder => (None, Some(rect)),
        Sheets::Both if rect.width() > rect.height() * 1.5 => {
            let (left, right) = rect.split_left_right_at_fraction(0.5);
            (Some(left), Some(right))
        }
        Sheets::Both => {
            let (top, bottom) = rect.split_top_bottom_at_fraction(0.5);
            (Some(top), Some(bottom))
        }
    }
}

/// Words in the middle where there is nothing to draw.
fn words(painter: &egui::Painter, screen: Rect, scope: &Scope<'_>, words: &str) {
    let font = FontId::proportional(f32::from(scope.prefs.text_size));
    let galley = painter.layout(words.to_owned(), font, scope.palette.faint, (screen.width() - 24.0).max(60.0));
    painter.galley(screen.center() - galley.size() / 2.0, galley, scope.palette.faint);
}

/// Where a thing stands on the ladder; of several places the first.
fn place_of(ladder: &Ladder, thing: &Thing) -> Option<Point> {
    match thing {
        Thing::Spot(Spot::Part(part)) => ladder.devices.iter().find(|device| device.part == *part).map(|one| one.at),
        Thing::Spot(Spot::Terminal(terminal)) => {
            let ends = ladder.devices.iter().flat_map(|device| &device.ends);
            let poles = ladder.sections.iter().flat_map(|section| &section.poles);
            let end = ends.into_iter().find(|end| end.terminal == *terminal).map(|end| end.at);
            end.or_else(|| poles.into_iter().find(|pole| pole.terminal == *terminal).map(|pole| pole.at))
        }
        Thing::Spot(Spot::Wire(wire) | Spot::End(wire, _)) => {
            let stretch = ladder.stretches.iter().find(|stretch| stretch.wires.contains(wire))?;
            let [a, b] = stretch.ends;
            Some(Point::new(a.x.midpoint(b.x), a.y.midpoint(b.y)))
        }
        _ => None,
    }
}

/// Bands round every symbol of parts, rings round terminals, bands along the lines wires stand for: those of the devices they
/// land on; where they land on none that is drawn, their whole net.
fn halo(painting: &Painting<'_>, ladder: &Ladder, chosen: &Selection, ink: egui::Color32, points: f32) {
    if chosen.is_empty() {
        return;
    }
    let sight = painting.camera.sight(painting.screen).grown(10.0);
    let (parts, wires) = (chosen.parts(), chosen.wires());
    let on_parts = ladder.devices.iter().filter(|device| parts.contains(&device.part) && sight.contains(device.at));
    for device in on_parts {
        let stroke = Stroke::new(points * 0.6, ink);
        painting.painter.rect_stroke(rect_of(painting, device), CornerRadius::same(2), stroke, StrokeKind::Outside);
    }
    if !wires.is_empty() {
        let on_wires = ladder.stretches.iter().filter(|stretch| stretch.wires.iter().any(|wire| wires.contains(wire)));
        for stretch in on_wires {
            let ends = stretch.ends.map(|at| painting.camera.screen_from_canvas(painting.screen, at));
            painting.painter.line_segment(ends, Stroke::new(points * 2.0 + 1.0, ink));
        }
    }
    for terminal in chosen.terminals() {
        if let Some(at) = place_of(ladder, &terminal.into()) {
            painting.ring(at, ink);
        }
    }
}

fn rect_of(painting: &Painting<'_>, device: &Device) -> Rect {
    let (x, y) = if device.upright { (3.2, 4.6) } else { (4.6, 3.2) };
    painting.rect(device.at.moved(-x, -y), device.at.moved(x, y))
}

/// Names devices in sight for whoever uses the window without looking. They take no clicks: those go to the drawing.
fn names(ui: &Ui, painting: &Painting<'_>, ladder: &Ladder, scope: &Scope<'_>) {
    let sight = painting.camera.sight(painting.screen);
    let in_sight = ladder.devices.iter().enumerate().filter(|(_, device)| sight.contains(device.at)).take(MOST_NAMED);
    for (number, device) in in_sight {
        let rect = Rect::from_center_size(rect_of(painting, device).center(), vec2(8.0, 8.0));
        let response = ui.interact(rect, ui.scope_id().with(("rung", number)), Sense::hover());
        response.widget_info(|| {
            let [a, b] = device.ends.each_ref().map(|end| end.terminal.marking.to_string());
            let (tag, word) = (scope.machine.part_name(device.part), device.what.word());
            let name = match device.rung.and_then(|rung| ladder.rungs.get(rung)) {
                Some(rung) => format!("Rung {}: {tag} {a}–{b}, {word}", rung.number),
                None => format!("Head: {tag} {a}–{b}, {word}"),
            };
            WidgetInfo::labeled(Role::Image, true, &name)
        });
    }
}
