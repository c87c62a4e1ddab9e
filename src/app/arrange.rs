//! Edits on what is selected: place, duplicate, turn, mirror, take out.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::machine::{
    Change, Edit, EndAt, Habits, Machine, Part, PartId, PathPoint, Point, Pose, Side, Thing, Wire, WireId,
};

use super::changes;
use super::selection::Selection;

/// How far a copy lies from what it was made from, in millimetres.
const COPY_STEP_MM: f64 = 10.0;
/// Room left between parts that are placed without pointing, in millimetres.
const PLACE_STEP_MM: f64 = 60.0;

/// The edit that places a part of a kind at a canvas point, under the next free tag of its kind's letters.
pub fn place(machine: &Machine, catalogue: &Catalogue, kind: &str, at: Point) -> (PartId, Edit) {
    let letters = catalogue.kind(kind).map_or("U", |kind| match machine.facts.habits {
        Habits::Iec => kind.letters.iec.as_str(),
        Habits::NorthAmerica => kind.letters.us.as_str(),
    });
    let letters = if letters.is_empty() { "U" } else { letters };
    let pose = Pose { at, ..Pose::default() };
    machine.add_part(Part { tag: machine.free_tag(letters), kind: kind.to_owned(), pose, ..Part::default() })
}

/// A place beside what is placed already, for whoever places parts without pointing.
pub fn free_place(machine: &Machine) -> Point {
    let right = machine.parts.values().map(|part| part.pose.at.x).fold(f64::NEG_INFINITY, f64::max);
    let top = machine.parts.values().map(|part| part.pose.at.y).fold(f64::INFINITY, f64::min);
    if machine.parts.is_empty() { Point::default() } else { Point::new(right + PLACE_STEP_MM, top) }
}

/// The edit that draws a wire between two ends that were named, under the next free key.
pub fn wire_between(
    machine: &Machine,
    from: EndAt,
    to: EndAt,
    bends: &[Point],
    place: Option<Point>,
) -> (WireId, Edit) {
    let mut wire = Wire { key: machine.free_tag("W"), ..Wire::default() };
    wire.from.at = from;
    wire.to.at = to;
    wire.to.place = place;
    wire.path = bends.iter().map(|&at| PathPoint { at, hidden: false }).collect();
    machine.add_wire(wire)
}

/// The edit that makes another of every selected part and wire, with what it selects afterwards.
///
/// Wires between copied parts land on the copies; an end elsewhere is not known on the copy.
pub fn duplicate(machine: &Machine, selection: &Selection) -> (Selection, Edit) {
    let mut scratch = machine.clone();
    let mut changes = Vec::new();
    let mut copies: BTreeMap<PartId, PartId> = BTreeMap::new();
    let mut things: Vec<Thing> = Vec::new();
    for id in selection.parts() {
        let Some(part) = machine.parts.get(id) else { continue };
        let mut copy = part.clone();
        let letters: String = part.tag.chars().take_while(|c| c.is_alphabetic()).collect();
        copy.tag = scratch.free_tag(if letters.is_empty() { "U" } else { &letters });
        copy.printed = None;
        copy.pose.at = copy.pose.at.moved(COPY_STEP_MM, COPY_STEP_MM);
        for note in copy.terminals.values_mut() {
            note.at = note.at.map(|at| at.moved(COPY_STEP_MM, COPY_STEP_MM));
        }
        let (new, edit) = scratch.add_part(copy);
        changes.extend(edit.changes.clone());
        scratch.apply(edit);
        copies.insert(id, new);
        things.push(new.into());
    }
    for id in selection.wires() {
        let Some(wire) = machine.wires.get(id) else { continue };
        let mut copy = wire.clone();
        copy.key = scratch.free_tag("W");
        for bend in &mut copy.path {
            bend.at = bend.at.moved(COPY_STEP_MM, COPY_STEP_MM);
        }
        for side in Side::BOTH {
            let end = copy.end_mut(side);
            end.place = end.place.map(|place| place.moved(COPY_STEP_MM, COPY_STEP_MM));
            if let EndAt::Terminal(terminal) = &mut end.at {
                match copies.get(&terminal.part) {
                    Some(&new) => terminal.part = new,
                    None => end.at = EndAt::Unknown,
                }
            }
        }
        let (new, edit) = scratch.add_wire(copy);
        changes.extend(edit.changes.clone());
        scratch.apply(edit);
        things.push(new.into());
    }
    (Selection::of_all(things), Edit { label: "Duplicate".to_owned(), changes })
}

/// The edit that turns the selected parts a quarter clockwise, several of them about their middle.
pub fn turn(machine: &Machine, parts: &BTreeSet<PartId>) -> Edit {
    let middle = middle(machine, parts);
    each_part(machine, parts, "Turn", |part| {
        part.pose.quarter_turns = (part.pose.quarter_turns + 1) % 4;
        let turned = |at: Point| Point::new(middle.x - (at.y - middle.y), middle.y + (at.x - middle.x));
        place_all(part, turned);
    })
}

/// The edit that mirrors the selected parts left to right, several of them about their middle.
pub fn mirror(machine: &Machine, parts: &BTreeSet<PartId>) -> Edit {
    let middle = middle(machine, parts);
    each_part(machine, parts, "Mirror", |part| {
        part.pose.mirrored = !part.pose.mirrored;
        part.pose.quarter_turns = (4 - part.pose.quarter_turns % 4) % 4;
        place_all(part, |at| Point::new(2.0 * middle.x - at.x, at.y));
    })
}

fn place_all(part: &mut Part, moved: impl Fn(Point) -> Point) {
    part.pose.at = moved(part.pose.at);
    for note in part.terminals.values_mut() {
        note.at = note.at.map(&moved);
    }
}

fn middle(machine: &Machine, parts: &BTreeSet<PartId>) -> Point {
    let places: Vec<Point> = parts.iter().filter_map(|&id| machine.parts.get(id)).map(|part| part.pose.at).collect();
    let count = places.len().max(1) as f64;
    Point::new(places.iter().map(|at| at.x).sum::<f64>() / count, places.iter().map(|at| at.y).sum::<f64>() / count)
}

fn each_part(machine: &Machine, parts: &BTreeSet<PartId>, label: &str, change: impl Fn(&mut Part)) -> Edit {
    let changes = parts.iter().flat_map(|&id| machine.edit_part(id, label, &change).changes).collect();
    let label = match parts.iter().next() {
        Some(&only) if parts.len() == 1 => format!("{label} {}", machine.part_name(only)),
        _ => format!("{label} {} parts", parts.len()),
    };
    Edit { label, changes }
}

/// The edit that takes the selected things out, in one step.
pub fn remove(machine: &Machine, selection: &Selection) -> Edit {
    let mut edit = Edit::default();
    let (parts, wires) = (selection.parts(), selection.wires());
    if !parts.is_empty() || !wires.is_empty() {
        edit = machine.remove_things(&parts, &wires);
    }
    for thing in selection.things() {
        match thing {
            Thing::Photo(id) => edit.changes.extend(without_photo(machine, *id)),
            Thing::Reading(id) => edit.changes.push(Change::Reading(*id, None)),
            Thing::Mystery(id) => edit.changes.push(Change::Mystery(*id, None)),
            Thing::Condition(id) => edit.changes.extend(changes::without_condition(machine, *id).changes),
            Thing::Spot(_) => {}
        }
    }
    if edit.label.is_empty() && !edit.changes.is_empty() {
        edit.label = match selection.only() {
            Some(thing) => format!("Remove {}", machine.thing_name(thing)),
            None => format!("Remove {} things", selection.len()),
        };
    }
    edit
}

/// Takes a photo out; details of it that parts show go with it.
fn without_photo(machine: &Machine, id: crate::machine::PhotoId) -> Vec<Change> {
    let mut changes = Vec::new();
    for (part_id, part) in machine.parts.iter() {
        if part.crop.is_some_and(|crop| crop.photo == id) {
            let kept = Part { crop: None, ..part.clone() };
            changes.push(Change::Part(part_id, Some(Arc::new(kept))));
        }
    }
    changes.push(Change::Photo(id, None));
    changes
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::{TerminalRef, WireEnd};

    fn two_joined() -> (Machine, PartId, PartId, WireId) {
        let mut machine = Machine::default();
        let mut add = |tag: &str, x: f64| {
            let pose = Pose { at: Point::new(x, 0.0), ..Pose::default() };
            machine.parts.add(Part { tag: tag.into(), pose, ..Part::default() })
        };
        let (a, b) = (add("K1", 0.0), add("K2", 20.0));
        let end = |part| WireEnd { at: EndAt::Terminal(TerminalRef::new(part, "11")), ..WireEnd::default() };
        let wire = machine.wires.add(Wire { key: "W1".into(), from: end(a), to: end(b), ..Wire::default() });
        (machine, a, b, wire)
    }

    #[test]
    fn copies_have_free_tags_and_wires_between_them_land_on_the_copies() {
        let (mut machine, a, b, wire) = two_joined();
        let (selected, edit) = duplicate(&machine, &Selection::of_all([a.into(), b.into(), wire.into()]));
        machine.apply(edit);
        assert_eq!(machine.tags().len(), 6);
        let new = machine.wires.get(*selected.wires().iter().next().unwrap()).unwrap();
        assert_eq!(machine.end_name(&new.from.at), "K3.11");
        assert_eq!(machine.end_name(&new.to.at), "K4.11");
    }

    #[test]
    fn four_turns_and_two_mirrors_bring_everything_back() {
        let (mut machine, a, b, _) = two_joined();
        let before = machine.clone();
        let parts = BTreeSet::from([a, b]);
        for _ in 0..4 {
            machine.apply(turn(&machine.clone(), &parts));
        }
        machine.apply(mirror(&machine.clone(), &parts));
        assert_ne!(machine, before);
        machine.apply(mirror(&machine.clone(), &parts));
        assert_eq!(machine, before);
    }

    #[test]
    fn taking_out_is_one_step_that_can_be_taken_back() {
        let (mut machine, a, _, wire) = two_joined();
        let before = machine.clone();
        let edit = remove(&machine, &Selection::of(a));
        let inverse = machine.apply(edit);
        assert_eq!(machine.wires.get(wire).unwrap().from.at, EndAt::Loose);
        machine.apply(inverse);
        assert_eq!(machine, before);
    }
}
