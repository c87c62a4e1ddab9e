//! The card of a photo: upright, faded, scaled by two points of known distance, caption and side.

use egui::Ui;

use super::ask;
use crate::app::action::Action;
use crate::app::changes;
use crate::app::on_photo::{Doing, PhotoRequest, Trace, terminals_on, turned_details};
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::widgets::{Field, faint, field, group, name, row, wrong};
use crate::machine::{Photo, PhotoId, Placement};

/// Draws the card of a photo.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, id: PhotoId, out: &mut Requests) {
    let machine = scope.machine;
    let Some(photo) = machine.photos.get(id) else { return };
    ui.heading(if photo.caption.is_empty() { photo.name.as_str() } else { photo.caption.as_str() });
    faint(ui, scope.palette, format!("{}, {} × {} px", photo.original_name, photo.size_px[0], photo.size_px[1]));
    if !photo.taken.is_empty() {
        faint(ui, scope.palette, format!("taken {}", photo.taken));
    }
    if let Some(remark) = scope.photos.remarks.get(&id) {
        wrong(ui, scope.palette, format!("The file {remark}."));
    }
    if scope.photos.pixels.get(&id).is_some_and(|pixels| pixels.is_quick()) {
        faint(ui, scope.palette, "A quick picture is shown; the whole one is being read.");
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
    lies(ui, scope, id, photo, out);
    wires(ui, scope, id, photo, out);
    group(ui, "Take out");
    if ui.button("Remove from the drawing").clicked() {
        out.act(Action::Remove);
    }
    faint(ui, scope.palette, "The picture itself stays in the folder beside the record.");
}

fn upright(ui: &mut Ui, scope: &Scope<'_>, id: PhotoId, out: &mut Requests) {
    row(ui, "Upright", |ui| {
        for (words, turns) in [("Turn left", 3_u8), ("Turn right", 1)] {
            let key = ui.button(words);
            name(ui, key.id, &format!("{words}, a quarter"));
            if key.clicked() {
                let mut edit = changes::photo(scope.machine, id, words, |photo| {
                    photo.quarter_turns = (photo.quarter_turns + turns) % 4;
                    photo.size_px.swap(0, 1);
                });
                edit.changes.extend(turned_details(scope.machine, id, turns));
                out.edit(edit);
            }
        }
    });
}

/// Where it lies: to scale, flat, beside its neighbour. Each is begun here and done on the canvas.
fn lies(ui: &mut Ui, scope: &Scope<'_>, id: PhotoId, photo: &Photo, out: &mut Requests) {
    group(ui, "Where it lies");
    let flat = matches!(photo.placement, Placement::Homography(_));
    match photo.placement {
        Placement::Similarity { mm_per_px, .. } => {
            let shown =
                format!("{mm_per_px:.4} mm for each pixel, {:.0} mm wide", mm_per_px * f64::from(photo.size_px[0]));
            faint(ui, scope.palette, shown);
        }
        Placement::Homography(_) => faint(ui, scope.palette, "This photo was straightened."),
    }
    for (words, hint, doing) in [
        (
            "Scale by two points",
            "Two points whose distance you know: the ends of a strip, the edges of a plate, a ruler",
            Doing::Scale(id, Vec::new()),
        ),
        (
            "Straighten by four corners",
            "The corners of something rectangular and flat, seen at a slant",
            Doing::Straighten(id, Vec::new()),
        ),
    ] {
        if ui.button(words).on_hover_text(hint).clicked() {
            out.photo(PhotoRequest::Begin(doing));
        }
    }
    if flat && ui.button("Lay it as it was taken").clicked() {
        out.photo(PhotoRequest::Unstraighten(id));
    }
    if scope.machine.photos.len() > 1
        && ui.button("Lay beside a neighbour").on_hover_text("By two points that both photos show").clicked()
    {
        out.photo(PhotoRequest::Begin(Doing::Join(id, Vec::new())));
    }
    faint(ui, scope.palette, "What lies on the photo goes along.");
}

/// What can be followed on it.
fn wires(ui: &mut Ui, scope: &Scope<'_>, id: PhotoId, photo: &Photo, out: &mut Requests) {
    group(ui, "Wires on it");
    if ui.button(Action::FollowWire.words()).clicked() {
        out.photo(PhotoRequest::Begin(Doing::Trace(Trace { photo: Some(id), ..Trace::default() })));
    }
    let terminals = terminals_on(scope.machine, photo).len();
    let key = ui.add_enabled(terminals > 1, egui::Button::new("Look for all wires"));
    if key.clicked() {
        out.photo(PhotoRequest::Propose(id));
    }
    let words = if terminals > 1 {
        format!(
            "Between the {terminals} terminals that have their place on it. Each is asked about; nothing is added unasked."
        )
    } else {
        "For that, lay the terminals of two parts at least on the photo: on the card of a part.".to_owned()
    };
    faint(ui, scope.palette, words);
}
