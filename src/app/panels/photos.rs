//! The photos: put in by dialog, by drop or by path.

use std::path::PathBuf;

use egui::Ui;

use super::list;
use super::rows::{self, Mark, Row};
use crate::app::action::Action;
use crate::app::request::{FileRequest, Requests};
use crate::app::scope::Scope;
use crate::app::widgets::{Field, faint, field};
use crate::machine::Thing;

/// Draws the list of photos.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    ui.horizontal_wrapped(|ui| {
        if ui.button(Action::AddPhotos.words()).clicked() {
            out.act(Action::AddPhotos);
        }
    });
    let written =
        field(ui, "photo path", Field::new("", "").known_as("Path of a photo to add").hint("or a path, then Enter"));
    if written.entered
        && let Some(text) = ui.data(|data| data.get_temp::<String>(ui.scope_id().with("photo path")))
        && !text.trim().is_empty()
    {
        out.file(FileRequest::AddPhotos(vec![PathBuf::from(text.trim())]));
    }
    if let Some(text) = written.changed {
        ui.data_mut(|data| data.insert_temp(ui.scope_id().with("photo path"), text));
    }
    let photos = &scope.machine.photos;
    if photos.is_empty() {
        list::empty(
            ui,
            scope,
            "No photos yet.",
            "Photograph each side of the opened machine, square on and in focus, before anything is moved. Then drop the \
             photos into the window, paste a copied picture, or add them here. They are turned upright and lie under the drawing.",
        );
        return;
    }
    list::search(ui, scope, "caption, side or name", out);
    if scope.lists.photos.is_empty() {
        list::nothing_found(ui, scope, out);
        return;
    }
    faint(ui, scope.palette, scope.view.stage.click_words());
    let made = rows::show(ui, "photos", scope.lists.photos.len(), scope.palette, |place| {
        let id = scope.lists.photos[place];
        let photo = photos.get(id);
        let (title, detail, aside) = photo.map_or_else(Default::default, |photo| {
            let title = if photo.caption.is_empty() { photo.original_name.clone() } else { photo.caption.clone() };
            let side = if photo.side.is_empty() { "side not said" } else { &photo.side };
            (title, format!("{side} · {} × {} px", photo.size_px[0], photo.size_px[1]), photo.name.clone())
        });
        Row {
            title,
            detail,
            aside,
            mark: Mark::None,
            selected: scope.view.selection.has(&Thing::Photo(id)),
            ..Row::default()
        }
    });
    if let Some((place, _)) = made {
        out.go_to(Thing::Photo(scope.lists.photos[place]));
    }
}
