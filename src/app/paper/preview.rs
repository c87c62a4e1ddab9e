//! The page that is looked at, in the middle of the window, as it will be printed.

use std::sync::Arc;

use egui::emath::GuiRounding as _;
use egui::{ColorImage, FontId, Rect, Role, ScrollArea, Sense, Stroke, TextureHandle, TextureOptions, Ui};
use egui::{WidgetInfo, pos2, vec2};

use super::choices::AT_PRACTICE;
use super::{PaperRequest, Zoom};
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::theme::{self, colour};
use crate::desk::{Desk, PagePicture, PagesState, Print};
use crate::drawing::Ink;
use crate::drawing::style::{Ground, rgba};

/// Points of the screen to a millimetre where a page has the size it has on paper: 96 to the inch, as egui counts them.
const POINTS_PER_MM: f32 = 96.0 / 25.4;

/// Nearest and farthest.
const TIMES: (f32, f32) = (0.15, 4.0);

/// Dots to the inch a page is painted with, at least and at most.
const DOTS: (f32, f32) = (30.0, 300.0);

/// Room round a page, in points.
const EDGE: f32 = 12.0;

/// What the middle of the window remembers of the pages between frames.
#[derive(Default)]
pub struct Preview {
    /// The page that is wanted, and with how many dots to the inch.
    wanted: Option<(usize, u32)>,
    /// What is there of it: the page, and its picture.
    picture: Option<(usize, Arc<PagePicture>)>,
    texture: Option<(Arc<PagePicture>, TextureHandle)>,
    times: f32,
}

impl Preview {
    /// Takes the newest picture of the wanted page from the desk.
    pub fn refresh(&mut self, desk: &mut Desk) {
        self.picture = self.wanted.and_then(|(page, dots)| Some((page, desk.page_picture(page, dots)?)));
        if self.picture.is_none() {
            self.texture = None;
        }
    }

    /// How near the page was looked at when it was drawn last, in times of its size on paper.
    pub fn times(&self) -> f32 {
        self.times
    }

    /// Draws the page, or what to do where there is none.
    pub fn show(&mut self, ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
        let room = ui.available_rect_before_wrap();
        let paper = &scope.view.shown.paper;
        let Some(laid) = scope.paper.laid else {
            self.wanted = None;
            words(ui, room, scope, &empty(scope));
            return;
        };
        let page = paper.page.min(laid.sizes_mm.len().saturating_sub(1));
        let Some(&[width, height]) = laid.sizes_mm.get(page) else { return };
        #[expect(clippy::cast_possible_truncation, reason = "millimetres of paper, for a screen")]
        let size_mm = vec2(width as f32, height as f32).max(vec2(1.0, 1.0));
        let bar = ui.spacing().scroll.bar_width + ui.spacing().scroll.bar_inner_margin;
        let inside = (room.size() - vec2(EDGE * 2.0 + bar, EDGE * 2.0)).max(vec2(40.0, 40.0));
        let by_width = inside.x / size_mm.x / POINTS_PER_MM;
        self.times = match paper.zoom {
            Zoom::Width => by_width,
            Zoom::Page => by_width.min(inside.y / size_mm.y / POINTS_PER_MM),
            Zoom::Times(times) => times,
        }
        .clamp(TIMES.0, TIMES.1);
        let size = size_mm * POINTS_PER_MM * self.times;
        self.want(ui, page, size, size_mm);
        self.nearer(ui, room, out);
        let name = format!("Page {} of {} of the {}", page + 1, laid.sizes_mm.len(), print_words(paper.print));
        // What fades at its edge would be read as grey on the paper.
        ui.spacing_mut().scroll.fade.strength = 0.0;
        ScrollArea::both().id_salt(("page", page)).auto_shrink([false, false]).show(ui, |ui| {
            let whole = (size + vec2(EDGE, EDGE) * 2.0).max(vec2(ui.available_width(), 0.0));
            let (place, response) = ui.allocate_exact_size(whole, Sense::hover());
            response.widget_info(|| WidgetInfo::labeled(Role::Image, true, &name));
            let top_left = pos2(place.center().x - size.x / 2.0, place.top() + EDGE);
            let rect = Rect::from_min_size(top_left, size).round_to_pixels(ui.pixels_per_point());
            self.paint(ui, page, rect, scope);
        });
        if let PagesState::Failed(why) = scope.paper.state {
            failed(ui, room, scope, why);
        }
    }

    /// Remembers which page is to be painted, with as many dots as are seen.
    fn want(&mut self, ui: &Ui, page: usize, size: egui::Vec2, size_mm: egui::Vec2) {
        let most = ui.input(|input| input.max_texture_side) as f32;
        let inches = size_mm / 25.4;
        let seen = size.x * ui.pixels_per_point() / inches.x;
        let dots = seen.clamp(DOTS.0, DOTS.1).min(most / inches.max_elem()).max(1.0);
        #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "from 1 to 300")]
        let dots = dots.round() as u32;
        if self.wanted != Some((page, dots)) {
            self.wanted = Some((page, dots));
            // It is asked for before the next frame is drawn.
            ui.ctx().request_repaint();
        }
    }

    /// Pinching, or turning the wheel with Ctrl held, over the page.
    fn nearer(&self, ui: &Ui, room: Rect, out: &mut Requests) {
        let factor = ui.input(egui::InputState::zoom_delta);
        let over = ui.input(|input| input.pointer.hover_pos()).is_some_and(|at| room.contains(at));
        if over && (factor - 1.0).abs() > 1e-3 {
            out.paper(PaperRequest::Zoom(self.zoomed(factor)));
        }
    }

    /// Nearer or further by this factor.
    pub fn zoomed(&self, factor: f32) -> Zoom {
        Zoom::Times((self.times * factor).clamp(TIMES.0, TIMES.1))
    }

    fn paint(&mut self, ui: &Ui, page: usize, rect: Rect, scope: &Scope<'_>) {
        let painter = ui.painter();
        // Paper is white under every theme.
        painter.rect_filled(rect, 0.0, colour(rgba(Ink::Paper, Ground::Print)));
        if let Some((_, picture)) = self.picture.as_ref().filter(|(of, _)| *of == page) {
            let held = self.texture.as_ref().filter(|(of, _)| Arc::ptr_eq(of, picture));
            let texture = held.map_or_else(|| load(ui, picture), |(_, texture)| texture.clone());
            self.texture = Some((Arc::clone(picture), texture.clone()));
            let all = Rect::from_min_max(pos2(0.0, 0.0), pos2(1.0, 1.0));
            painter.image(texture.id(), rect, all, theme::see_through(u8::MAX));
        }
        painter.rect_stroke(rect, 0.0, Stroke::new(1.0, scope.palette.line), egui::StrokeKind::Outside);
    }
}

fn load(ui: &Ui, picture: &PagePicture) -> TextureHandle {
    // A dot count that does not fit the size would be a picture of nothing.
    let size = picture.size.map(|side| usize::try_from(side).unwrap_or(0));
    let image = if size[0] * size[1] * 4 == picture.rgba.len() {
        ColorImage::from_rgba_premultiplied(size, &picture.rgba)
    } else {
        ColorImage::filled([1, 1], theme::see_through(u8::MAX))
    };
    ui.ctx().load_texture("page", image, TextureOptions::LINEAR)
}

fn print_words(print: Print) -> &'static str {
    match print {
        Print::Sheet => "wiring sheet",
        Print::Labels => "wire labels",
        Print::Drawing => "drawing",
    }
}

/// What to do where there are no pages.
fn empty(scope: &Scope<'_>) -> String {
    let what = print_words(scope.view.shown.paper.print);
    if scope.practice.is_some() {
        return AT_PRACTICE.to_owned();
    }
    if !crate::desk::HAS_PAPER {
        return "This build leaves paper out: no pages here. Lists and packs are written all the same.".to_owned();
    }
    match scope.paper.state {
        PagesState::Working => format!("The pages of the {what} are being made…"),
        PagesState::Failed(why) => format!("The pages could not be made.\n\n{why}"),
        PagesState::Ready | PagesState::NotAsked => {
            format!("No pages yet. Press 'Make the pages' to read the {what} here as it will be printed.")
        }
    }
}

/// Words in the middle where there is no page.
fn words(ui: &mut Ui, room: Rect, scope: &Scope<'_>, words: &str) {
    let font = FontId::proportional(f32::from(scope.prefs.text_size));
    let galley = ui.painter().layout(words.to_owned(), font, scope.palette.ink, (room.width() - 48.0).max(60.0));
    let at = room.center() - galley.size() / 2.0;
    let rect = Rect::from_min_size(at, galley.size());
    ui.painter().galley(at, galley, scope.palette.ink);
    let response = ui.interact(rect, ui.scope_id().with("no pages"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, words));
}

/// Why the pages could not be made anew, over those that are there.
fn failed(ui: &mut Ui, room: Rect, scope: &Scope<'_>, why: &str) {
    let font = FontId::proportional(f32::from(scope.prefs.text_size));
    let told = format!("The pages could not be made. {why}");
    let galley = ui.painter().layout(told.clone(), font, scope.palette.disputes, (room.width() - 60.0).max(60.0));
    let rect = Rect::from_min_size(room.left_top() + vec2(16.0, 16.0), galley.size() + vec2(16.0, 12.0));
    ui.painter().rect(rect, 1.0, scope.palette.field, Stroke::new(1.0, scope.palette.ink), egui::StrokeKind::Inside);
    ui.painter().galley(rect.min + vec2(8.0, 6.0), galley, scope.palette.disputes);
    let response = ui.interact(rect, ui.scope_id().with("failed"), Sense::hover());
    response.widget_info(|| WidgetInfo::labeled(Role::Label, true, &told));
}
