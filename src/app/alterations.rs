//! What differs between two copies of the record, on the drawing: a style of line for each sort of difference, and its word.

use std::collections::BTreeSet;

use egui::{Pos2, Shape, Stroke};

use super::callouts;
use super::canvas::Painting;
use super::scope::Scope;
use crate::desk::CopyOf;
use crate::drawing::{Ink, Scene};
use crate::machine::{Machine, Spot, Thing};
use crate::removal::{Altered, Of};

/// Draws the differences, while they are shown.
pub fn show(painting: &Painting<'_>, scene: &Scene, scope: &Scope<'_>) {
    let Some(compared) = scope.results.compared.filter(|_| scope.view.shown.compared) else { return };
    // What was compared with the record as it was is not shown on the record as it is.
    if compared.copies.contains(&CopyOf::Now) && !scope.is_revision(compared.revision) {
        return;
    }
    let ink = painting.ink(Ink::Chosen);
    let mut marked: Vec<(bool, Pos2, String)> = Vec::new();
    for (of, how) in &compared.altered {
        let words: Vec<&str> = how.iter().map(|one| one.words()).collect();
        let words = format!("{} {}", name(of), words.join(", "));
        for thing in things(scope.machine, of) {
            if let Some(at) = mark(painting, scene, &thing, how, ink) {
                marked.push((false, at, words.clone()));
                break;
            }
        }
    }
    callouts::write(painting, scope, marked);
}

fn name(of: &Of) -> &str {
    match of {
        Of::Part(name) | Of::Wire(name) | Of::Reading(name) => name,
    }
}

/// Where it is drawn now: the thing itself, or the places of a reading. Nothing where the record has it no more.
fn things(machine: &Machine, of: &Of) -> Vec<Thing> {
    match of {
        Of::Part(tag) => machine.part_by_tag(tag).map(Thing::from).into_iter().collect(),
        Of::Wire(key) => machine.wire_by_key(key).map(Thing::from).into_iter().collect(),
        Of::Reading(name) => {
            let reading = machine.readings.values().find(|reading| reading.name == *name);
            let spots = |one: &crate::machine::Reading| [Some(one.red.clone()), one.black.clone()];
            let spots: Vec<Spot> = reading.map(spots).into_iter().flatten().flatten().collect();
            spots.into_iter().map(Thing::from).collect()
        }
    }
}

/// Marks a thing by a line beside it; where its word goes.
fn mark(
    painting: &Painting<'_>,
    scene: &Scene,
    thing: &Thing,
    how: &BTreeSet<Altered>,
    ink: egui::Color32,
) -> Option<Pos2> {
    let on_screen = |at| painting.camera.screen_from_canvas(painting.screen, at);
    let place = scene.place_of(thing).map(on_screen);
    let plain = scene.piece_of(thing).and_then(|piece| piece.plain.as_ref());
    let points: Vec<Pos2> = if let Some(plain) = plain {
        plain.points.iter().map(|&at| on_screen(at)).collect()
    } else {
        let rect = match scene.piece_of(thing) {
            Some(piece) => painting.rect(piece.area.min, piece.area.max).expand(4.0),
            None => egui::Rect::from_center_size(place?, egui::Vec2::splat(18.0)),
        };
        let corners = [rect.left_top(), rect.right_top(), rect.right_bottom(), rect.left_bottom(), rect.left_top()];
        corners.to_vec()
    };
    let stroke = Stroke::new(3.0, ink);
    match how.iter().next() {
        Some(Altered::Added) => {
            painting.painter.add(Shape::line(points.clone(), stroke));
        }
        Some(Altered::Removed) => painting.painter.extend(Shape::dashed_line(&points, stroke, 10.0, 7.0)),
        Some(Altered::Moved) => painting.painter.extend(Shape::dashed_line(&points, stroke, 16.0, 4.0)),
        _ => painting.painter.extend(Shape::dotted_line(&points, ink, 7.0, 2.0)),
    }
    match plain {
        Some(_) => callouts::middle(&points, painting.screen),
        None => points.first().copied().filter(|at| painting.screen.contains(*at)),
    }
}
