//! What can be done with the thing under the pointer: right-click, or a long press.

use egui::{Response, Ui};

use crate::drawing::{Handle, Scene};
use crate::machine::{Edit, EndAt, Machine, PathPoint, Point, Side, Spot, Thing, Wire, WireId};

use super::action::Action;
use super::on_photo::{Doing, PhotoRequest, Trace};
use super::request::{EntryRequest, Requests, Show};
use super::scope::Scope;
use super::selection::{Probe, Selection};
use super::stage::Stage;
use super::widgets::strong;

/// What was under the pointer when the menu was opened.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Held {
    handle: Option<Handle>,
    at: Option<Point>,
}

/// Draws the menu of the canvas while it is open.
pub fn show(
    response: &Response,
    held: &mut Held,
    (under, at): (Option<&Handle>, Option<Point>),
    scene: &Scene,
    scope: &Scope<'_>,
    out: &mut Requests,
) {
    if response.secondary_clicked() {
        *held = Held { handle: under.cloned(), at };
        if let Some(Handle::Thing(thing)) = under
            && !scope.view.selection.has(thing)
        {
            out.show(Show::Only(Selection::of(thing.clone())));
        }
    }
    response.context_menu(|ui| {
        ui.set_min_width(190.0);
        match &held.handle {
            None => nothing(ui, out),
            Some(Handle::Bend(wire, bend)) => {
                strong(ui, format!("Bend of {}", scope.machine.wire_name(*wire)));
                let edit = || without_bend(scope.machine, *wire, *bend);
                item(ui, "Take this bend out", || out.edit(edit()));
            }
            Some(Handle::Thing(thing)) => of_thing(ui, thing, held.at, scene, scope, out),
        }
    });
}

fn item(ui: &mut Ui, words: &str, ask: impl FnOnce()) {
    if ui.button(words).clicked() {
        ask();
        ui.close();
    }
}

fn actions(ui: &mut Ui, listed: &[Action], out: &mut Requests) {
    for &action in listed {
        item(ui, action.words(), || out.act(action));
    }
}

fn nothing(ui: &mut Ui, out: &mut Requests) {
    actions(ui, &[Action::Fit, Action::SelectAll, Action::ToggleGrid, Action::TogglePhotos, Action::AddPhotos], out);
}

fn of_thing(ui: &mut Ui, thing: &Thing, at: Option<Point>, scene: &Scene, scope: &Scope<'_>, out: &mut Requests) {
    strong(ui, scope.machine.thing_name(thing));
    if let Thing::Spot(spot @ (Spot::Terminal(_) | Spot::End(..))) = thing {
        for probe in Probe::BOTH {
            let words = format!("{} probe here", if probe == Probe::Red { "Red" } else { "Black" });
            item(ui, &words, || out.entry(EntryRequest::Put(probe, Some(spot.clone()))));
        }
    }
    match thing {
        Thing::Spot(Spot::Terminal(terminal)) => {
            item(ui, &format!("Select {}", scope.machine.part_name(terminal.part)), || out.select(terminal.part));
        }
        Thing::Spot(Spot::Part(_)) => {
            actions(ui, &[Action::Turn, Action::Mirror, Action::Duplicate, Action::Remove], out);
        }
        Thing::Spot(Spot::End(wire, side)) => {
            let lifted = scope.machine.wires.get(*wire).is_some_and(|wire| wire.end(*side).lifted);
            let on_terminal =
                scope.machine.wires.get(*wire).is_some_and(|wire| matches!(wire.end(*side).at, EndAt::Terminal(_)));
            if on_terminal {
                let words = if lifted { "Land it again" } else { "Lift it" };
                item(ui, words, || {
                    out.edit(scope.machine.edit_wire(*wire, words, |wire| wire.end_mut(*side).lifted = !lifted));
                });
            }
            item(ui, &format!("Select {}", scope.machine.wire_name(*wire)), || out.select(*wire));
        }
        Thing::Spot(Spot::Wire(wire)) => {
            if let Some(at) = at {
                item(ui, "Add a bend here", || out.edit(with_bend(scope.machine, *wire, scene, at)));
            }
            if scope.view.stage == Stage::Removal {
                let is_chosen = scope.view.removing.chosen.contains(wire);
                let words = if is_chosen { "Take off the plan" } else { "Put on the plan" };
                item(ui, words, || out.show(Show::Choose(vec![*wire], !is_chosen)));
            }
            actions(ui, &[Action::Remove], out);
        }
        Thing::Photo(id) => {
            let id = *id;
            item(ui, Action::FollowWire.words(), || {
                out.photo(PhotoRequest::Begin(Doing::Trace(Trace { photo: Some(id), ..Trace::default() })));
            });
            item(ui, "Scale by two points", || out.photo(PhotoRequest::Begin(Doing::Scale(id, Vec::new()))));
            item(ui, "Straighten by four corners", || {
                out.photo(PhotoRequest::Begin(Doing::Straighten(id, Vec::new())));
            });
            actions(ui, &[Action::Remove], out);
        }
        _ => {}
    }
}

fn without_bend(machine: &Machine, id: WireId, bend: usize) -> Edit {
    machine.edit_wire(id, "Take out a bend", |wire| {
        if bend < wire.path.len() {
            wire.path.remove(bend);
        }
    })
}

/// Puts a bend into the stretch that runs nearest to the point.
fn with_bend(machine: &Machine, id: WireId, scene: &Scene, at: Point) -> Edit {
    let Some(wire) = machine.wires.get(id) else { return Edit::default() };
    let place = |side| scene.place_of(&Thing::Spot(Spot::End(id, side))).or_else(|| end_place(wire, side, scene));
    let Some(stretch) = nearest_stretch(place(Side::From), wire, place(Side::To), at) else { return Edit::default() };
    machine.edit_wire(id, "Add a bend", |wire| {
        let hidden = wire.path.get(stretch).is_some_and(|next| next.hidden);
        wire.path.insert(stretch.min(wire.path.len()), PathPoint { at, hidden });
    })
}

fn end_place(wire: &Wire, side: Side, scene: &Scene) -> Option<Point> {
    match &wire.end(side).at {
        EndAt::Terminal(terminal) => scene.place_of(&terminal.clone().into()),
        EndAt::Loose | EndAt::Unknown => wire.end(side).place,
    }
}

/// The stretch nearest to a point, counted from the first end; stretch `n` leads to bend `n`.
fn nearest_stretch(from: Option<Point>, wire: &Wire, to: Option<Point>, at: Point) -> Option<usize> {
    let skipped = usize::from(from.is_none());
    let points: Vec<Point> = from.into_iter().chain(wire.path.iter().map(|bend| bend.at)).chain(to).collect();
    let stretches = points.iter().zip(points.iter().skip(1));
    let nearest =
        stretches.enumerate().min_by(|(_, a), (_, b)| distance(at, *a.0, *a.1).total_cmp(&distance(at, *b.0, *b.1)));
    nearest.map(|(place, _)| place + skipped)
}

/// Distance from a point to a straight stretch, in millimetres.
fn distance(at: Point, a: Point, b: Point) -> f64 {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let length = dx * dx + dy * dy;
    let along = if length > 0.0 { (((at.x - a.x) * dx + (at.y - a.y) * dy) / length).clamp(0.0, 1.0) } else { 0.0 };
    at.distance(Point::new(a.x + along * dx, a.y + along * dy))
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_bend_goes_into_the_stretch_it_was_put_on() {
        let bend = |x, y| PathPoint { at: Point::new(x, y), hidden: false };
        let wire = Wire { path: vec![bend(10.0, 0.0), bend(10.0, 10.0)], ..Wire::default() };
        let (from, to) = (Some(Point::new(0.0, 0.0)), Some(Point::new(20.0, 10.0)));
        assert_eq!(nearest_stretch(from, &wire, to, Point::new(4.0, 1.0)), Some(0));
        assert_eq!(nearest_stretch(from, &wire, to, Point::new(11.0, 5.0)), Some(1));
        assert_eq!(nearest_stretch(from, &wire, to, Point::new(15.0, 9.0)), Some(2));
        assert_eq!(nearest_stretch(None, &wire, to, Point::new(10.0, 4.0)), Some(1));
    }
}
