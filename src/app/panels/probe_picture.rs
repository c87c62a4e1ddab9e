//! Two small pictures of where the probes go: the drawing round each place, with the probe on it.

use std::sync::{Arc, Mutex, PoisonError};

use egui::{CornerRadius, Sense, Stroke, StrokeKind, Ui, vec2};

use crate::app::canvas::{Camera, Painting, Sheet, Shown};
use crate::app::scope::Scope;
use crate::drawing::Ink;
use crate::identify::Place;
use crate::machine::Thing;

/// Height of a picture in points.
const HEIGHT: f32 = 84.0;
/// Points for a millimetre: a relay fits whole.
const SCALE: f64 = 2.6;

/// Draws them side by side; nothing for what the drawing does not show.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, place: &Place) {
    let scene = &scope.results.derived.scene;
    let probes = [(Some(&place.red), Ink::ProbeRed, "R"), (place.black.as_ref(), Ink::ProbeBlack, "B")];
    let seen: Vec<_> = probes
        .into_iter()
        .filter_map(|(spot, ink, letter)| Some((spot?, scene.place_of(&Thing::from(spot?.clone()))?, ink, letter)))
        .collect();
    if seen.is_empty() {
        return;
    }
    ui.horizontal(|ui| {
        let width = (ui.available_width() - 8.0 * (seen.len() as f32 - 1.0)) / seen.len() as f32;
        for (number, (spot, at, ink, letter)) in seen.into_iter().enumerate() {
            let (rect, response) = ui.allocate_exact_size(vec2(width.clamp(60.0, 200.0), HEIGHT), Sense::hover());
            let label = format!("Picture of {}", scope.machine.spot_name(spot));
            response.widget_info(|| egui::WidgetInfo::labeled(egui::Role::Image, true, &label));
            if !ui.is_rect_visible(rect) {
                continue;
            }
            let painter = ui.painter_at(rect);
            painter.rect_filled(rect, CornerRadius::ZERO, scope.palette.sheet);
            let camera = Camera { middle: at, scale: SCALE };
            let painting = Painting { painter: &painter, screen: rect, camera, theme: scope.prefs.theme };
            // What was made for the last frame serves as long as nothing changes.
            let kept: Arc<Mutex<Sheet>> =
                ui.data_mut(|data| data.get_temp_mut_or_default::<Arc<Mutex<Sheet>>>(response.id.with(number)).clone());
            let shown = Shown { scene: Arc::clone(scene), electrical: None, photos: Vec::new() };
            kept.lock().unwrap_or_else(PoisonError::into_inner).paint(&painting, &shown);
            painting.probe(at, ink, letter);
            painter.rect_stroke(rect, CornerRadius::ZERO, Stroke::new(1.0, scope.palette.line), StrokeKind::Inside);
        }
    });
}
