//! The card of a photo: upright, faded, scaled by two points of known distance, caption and side.

use egui::Ui;

use super::ask;
use crate::app::changes;
use crate::app::request::{Requests, Show};
use crate::app::scope::Scope;
use crate::app::widgets::{Field, faint, field, group, name, row, wrong};
use crate::machine::{Edit, Photo, PhotoId, Placement};

/// Draws the card of a photo.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, id: PhotoId, out: &mut Requests) {
    let machine = scope.machine;
    let Some(photo) = machine.photos.get(id) else { return };
    ui.heading(if photo.caption.is_empty() { photo.name.as_str() } else { photo.caption.as_str() });
    faint(ui, scope.palette, format!("{}, {} × {} px", photo.original_name, photo.size_px[0], photo.size_px[1]));
    if !photo.taken.is_empty() {
        faint(ui, scope.palette, format!("taken {}", photo.taken));
    }
    ask(field(ui, "caption", Field::new("Caption", &photo.caption)), out, |text| {
        changes::photo(machine, id, "Caption", |photo| photo.caption = text)
    });
    let side = Field::new("Side", &photo.side).hint("front, door, base…").known_as("Side of the machine");
    ask(field(ui, "side", side), out, |text| changes::photo(machine, id, "Side", |photo| photo.side = text));
    upright(ui, scope, id, out);
    row(ui, "Faded", |ui| {
        let mut faded = photo.faded.min(100);
        // Beside it stands its figure.
        let size = egui::TextStyle::Body.resolve(ui.style()).size;
        ui.spacing_mut().slider_width = (ui.available_width() - size * 5.0).clamp(30.0, 160.0);
        let response = ui.add(egui::Slider::new(&mut faded, 0..=100).suffix(" %"));
        name(ui, response.id, "Faded, in per cent");
        if response.changed() {
            let edit = changes::photo(machine, id, "Fade", |photo| photo.faded = faded);
            out.joined(edit, format!("fade {id:?}"));
        }
    });
    scale(ui, scope, id, photo, out);
    group(ui, "Take out");
    if ui.button("Remove from the drawing").clicked() {
        out.act(crate::app::action::Action::Remove);
    }
    faint(ui, scope.palette, "The picture itself stays in the folder beside the record.");
}

fn upright(ui: &mut Ui, scope: &Scope<'_>, id: PhotoId, out: &mut Requests) {
    row(ui, "Upright", |ui| {
        for (words, turns) in [("Turn left", 3_u8), ("Turn right", 1)] {
            let key = ui.button(words);
            name(ui, key.id, &format!("{words}, a quarter"));
            if key.clicked() {
                out.edit(changes::photo(scope.machine, id, words, |photo| {
                    photo.quarter_turns = (photo.quarter_turns + turns) % 4;
                    photo.size_px.swap(0, 1);
                }));
            }
        }
    });
}

/// The scale, from two points whose distance on the machine is known.
fn scale(ui: &mut Ui, scope: &Scope<'_>, id: PhotoId, photo: &Photo, out: &mut Requests) {
    group(ui, "Scale");
    match photo.placement {
        Placement::Similarity { mm_per_px, .. } => {
            let shown =
                format!("{mm_per_px:.4} mm for each pixel, {:.0} mm wide", mm_per_px * f64::from(photo.size_px[0]));
            faint(ui, scope.palette, shown);
        }
        Placement::Homography(_) => faint(ui, scope.palette, "This photo was straightened."),
    }
    let scaling = scope.view.scaling.as_ref().filter(|scaling| scaling.photo == id);
    let Some(scaling) = scaling else {
        if ui.button("Scale by two points").clicked() {
            out.show(Show::Scale(Some(id)));
        }
        faint(
            ui,
            scope.palette,
            "Two points whose distance you know: the ends of a strip, the edges of a plate, a ruler.",
        );
        return;
    };
    match scaling.points.as_slice() {
        [] => faint(ui, scope.palette, "Click the first point on the photo."),
        [_] => faint(ui, scope.palette, "Click the second point."),
        [first, second, ..] => {
            let now_mm = first.distance(*second);
            let written = field(
                ui,
                "distance",
                Field::new("They are", "").hint("mm apart").known_as("Distance of the two points in millimetres"),
            );
            let text_id = ui.scope_id().with("distance text");
            if let Some(text) = &written.changed {
                ui.data_mut(|data| data.insert_temp(text_id, text.clone()));
            }
            let text: String = ui.data(|data| data.get_temp(text_id)).unwrap_or_default();
            let distance = text.trim().replace(',', ".").parse::<f64>().ok().filter(|mm| mm.is_finite() && *mm > 0.0);
            if distance.is_none() && !text.trim().is_empty() {
                wrong(ui, scope.palette, "Write the distance in millimetres, above 0, for example 120.");
            }
            let pressed = ui.add_enabled(distance.is_some(), egui::Button::new("Set the scale")).clicked();
            if let Some(distance) = distance
                && (pressed || written.entered)
            {
                match photo.placement.scaled_about(*first, now_mm, distance) {
                    Some(placement) => {
                        out.edit(changes::photo(scope.machine, id, "Scale a photo", |photo| {
                            photo.placement = placement;
                        }));
                        out.show(Show::Scale(None));
                        ui.data_mut(|data| data.remove::<String>(text_id));
                    }
                    None => out.edit(Edit::default()),
                }
            }
        }
    }
    if ui.button("Stop scaling").clicked() {
        out.show(Show::Scale(None));
    }
}
