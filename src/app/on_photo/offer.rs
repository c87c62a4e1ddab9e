//! The colour a wire seems to have on a photo, offered on its card: letters, odds in words, and one key to take it over.

use egui::Ui;

use super::{ColourOf, PhotoRequest, apply};
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::theme::Palette;
use crate::app::widgets::{faint, group, name};
use crate::identify::in_words;
use crate::machine::{Wire, WireId};
use crate::tracing::{Odds, Suggestion};

/// Draws the offer on the card of a wire, while its colour is looked at. Nothing is set by looking.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, id: WireId, wire: &Wire, out: &mut Requests) {
    let colour = scope.view.on_photo.colour.as_ref().filter(|colour| colour.wire == id);
    let Some(colour) = colour else { return };
    group(ui, "Colour on the photo");
    let followed = scope.photos.followed.filter(|followed| {
        followed.asked.pins == colour.pins && followed.asked.grey == colour.grey && followed.asked.photo == colour.photo
    });
    match followed.map(|followed| followed.colour) {
        None => faint(ui, scope.palette, "It is being looked at…"),
        Some(None) => faint(ui, scope.palette, "Too little of the wire is seen to tell its colour."),
        Some(Some(seems)) => {
            for odds in [Some(seems.best), seems.runner_up].into_iter().flatten() {
                let key = egui::Button::new(format!("Take {}", words(odds))).wrap();
                if ui.add_enabled(wire.colour != Some(odds.colour), key).clicked() {
                    out.edit(apply::coloured(scope.machine, id, odds.colour));
                }
            }
            if !seems.sure {
                faint(
                    ui,
                    scope.palette,
                    "Unsure: the two are hard to tell apart in this light. Look at the wire itself.",
                );
            }
        }
    }
    grey(ui, scope.palette, colour, out);
}

/// Draws the key that has the colour of a wire looked at on the photo that shows it.
pub fn key(ui: &mut Ui, scope: &Scope<'_>, id: WireId, wire: &Wire, out: &mut Requests) {
    let is_open = scope.view.on_photo.colour.as_ref().is_some_and(|colour| colour.wire == id);
    if !is_open
        && !wire.path.is_empty()
        && !scope.machine.photos.is_empty()
        && ui.button("Look at its colour on the photo").clicked()
    {
        out.photo(PhotoRequest::LookAtColour(id));
    }
}

fn grey(ui: &mut Ui, palette: &Palette, colour: &ColourOf, out: &mut Requests) {
    let words = if colour.grey.is_some() { "Another grey or white place" } else { "Point at something grey or white" };
    let key = ui.button(words);
    name(ui, key.id, words);
    if key.clicked() {
        out.photo(PhotoRequest::Grey);
    }
    let words = if colour.grey.is_some() {
        "Light and camera are taken out by the place you pointed at."
    } else {
        "Then light and camera are taken out: a sheet of paper, a white terminal strip, bare metal in plain light."
    };
    faint(ui, palette, words);
}

/// A colour with its letters, its words and its odds in words.
pub fn words(odds: Odds) -> String {
    format!("{}, {}: {}", odds.colour, odds.colour.words(), in_words(odds.odds))
}

/// The suggestion in one line.
pub fn line(seems: Suggestion) -> String {
    match seems.runner_up.filter(|_| !seems.sure) {
        Some(next) => format!("Colour unsure: {}; or {}.", words(seems.best), words(next)),
        None => format!("Colour seems {}.", words(seems.best)),
    }
}
