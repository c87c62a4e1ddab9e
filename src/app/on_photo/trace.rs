//! A wire that is being followed: what the desk is asked, and the wire it becomes in the record.

use std::sync::Arc;

use super::route::{bends, nearest, terminals_on};
use super::{Ending, Trace};
use crate::desk::{Follow, Followed, WireProposed};
use crate::machine::{Edit, EndAt, Known, Machine, Photo, PhotoId, Point, TerminalRef, Wire, WireEnd, WireId};
use crate::tracing::{PathPoint, PhotoPixels, PhotoPoint};

/// An end lands on a terminal that has its place within so many widths of the wire.
const LANDS_WITHIN: f64 = 4.0;

impl Trace {
    /// What the desk is to follow; nothing before it is known on which photo.
    pub fn question(&self, pixels: &Arc<PhotoPixels>) -> Option<Follow> {
        let photo = self.photo?;
        let begins = self.from.as_ref().map(|(_, at)| *at);
        let (from, pins) = match (begins, &self.ending) {
            // From terminal to terminal and no pin on the wire: the terminals are all there is.
            (Some(from), Some(Ending::Terminal(_, to))) if self.pins.is_empty() => (None, vec![from, *to]),
            _ => (begins, self.pins.clone()),
        };
        Some(Follow { photo, pixels: Arc::clone(pixels), from, pins, grey: self.grey })
    }

    /// Whether there is enough to end it: two places that it runs between.
    pub fn can_end(&self) -> bool {
        self.pins.len() + usize::from(self.from.is_some()) >= 2
    }
}

/// The wire that was followed, drawn in one step.
pub fn followed(machine: &Machine, photo: &Photo, trace: &Trace, followed: &Followed) -> Option<(WireId, Edit)> {
    let follower = followed.follower.as_ref()?;
    // A proposed wire whose ends were given up has none until one is clicked.
    let within = if trace.open_ends { 0.0 } else { LANDS_WITHIN * follower.width_px() };
    let mut points = whole_path(trace, followed)?;
    let (mut to, mut known) = (None, [Known::Seen; 2]);
    match &trace.ending {
        Some(Ending::Terminal(terminal, _)) => to = Some(terminal.clone()),
        Some(Ending::OutOfSight) => {
            let begins = trace.from.as_ref().map(|(terminal, _)| terminal);
            let terminals = terminals_on(machine, photo);
            let lands = points.last().and_then(|last| nearest(&terminals, last.at, within));
            if let Some((terminal, at)) = lands.filter(|(terminal, _)| Some(terminal) != begins) {
                points.push(PathPoint { at, seen: false });
                (to, known[1]) = (Some(terminal), Known::Assumed);
            }
        }
        Some(Ending::Loose) | None => {}
    }
    let mut from = trace.from.as_ref().map(|(terminal, _)| terminal.clone());
    if from.is_none() {
        let lands = points.first().and_then(|first| nearest(&terminals_on(machine, photo), first.at, within));
        if let Some((terminal, at)) = lands.filter(|(terminal, _)| Some(terminal) != to.as_ref()) {
            points.insert(0, PathPoint { at, seen: false });
            (from, known[0]) = (Some(terminal), Known::Assumed);
        }
    }
    let [first, last] = [points.first()?.at, points.last()?.at];
    // Nobody clicked on a terminal that merely lies near: that the wire ends there is taken for granted.
    let end = |terminal: Option<TerminalRef>, at: PhotoPoint, open: EndAt, known: Known| match terminal {
        Some(terminal) => WireEnd { at: EndAt::Terminal(terminal), known, ..WireEnd::default() },
        None => WireEnd { at: open, place: Some(on_canvas(photo, at)), ..WireEnd::default() },
    };
    let open = if trace.ending == Some(Ending::Loose) { EndAt::Loose } else { EndAt::Unknown };
    let wire = Wire {
        key: machine.free_tag("W"),
        from: end(from, first, EndAt::Unknown, known[0]),
        to: end(to, last, open, known[1]),
        path: bends(&photo.placement, &points, follower.width_px()),
        ..Wire::default()
    };
    let label = format!("Follow {} on photo {}", wire.key, photo.name);
    let (id, edit) = machine.add_wire(wire);
    Some((id, Edit { label, ..edit }))
}

/// The wire that was proposed, drawn in one step, as seen.
pub fn accepted(machine: &Machine, photo: &Photo, proposed: &WireProposed) -> Option<(WireId, Edit)> {
    if !proposed.ends.iter().all(|end| machine.parts.contains(end.part)) {
        return None;
    }
    let [from, to] = proposed.ends.clone().map(|end| WireEnd { at: EndAt::Terminal(end), ..WireEnd::default() });
    let path = bends(&photo.placement, &proposed.path, proposed.width_px);
    let wire = Wire { key: machine.free_tag("W"), from, to, path, ..Wire::default() };
    let label = format!("Accept {} on photo {}", wire.key, photo.name);
    let (id, edit) = machine.add_wire(wire);
    Some((id, Edit { label, ..edit }))
}

/// Whether the record has a wire between the ends of a proposed one.
pub fn is_recorded(machine: &Machine, proposed: &WireProposed) -> bool {
    let [a, b] = proposed.ends.clone().map(EndAt::Terminal);
    machine.wires.values().any(|wire| {
        let ends = (&wire.from.at, &wire.to.at);
        ends == (&a, &b) || ends == (&b, &a)
    })
}

/// Whether most of a proposed wire runs within a width of another.
pub fn runs_along(one: &WireProposed, other: &WireProposed) -> bool {
    const EVERY: usize = 6;
    const MOST: f64 = 0.6;
    let near = |at: PhotoPoint| {
        let places = other.path.iter().step_by(EVERY / 2);
        places.map(|place| (place.at[0] - at[0]).hypot(place.at[1] - at[1])).any(|far| far < other.width_px.max(1.0))
    };
    let places: Vec<PhotoPoint> = one.path.iter().step_by(EVERY).map(|point| point.at).collect();
    let along = places.iter().filter(|at| near(**at)).count();
    along as f64 > MOST * places.len() as f64
}

/// A few places along the seen part of a path, to look at the wire's colour.
pub fn places_on(path: &[PathPoint]) -> Vec<PhotoPoint> {
    let seen: Vec<PhotoPoint> = path.iter().filter(|point| point.seen).map(|point| point.at).collect();
    let step = (seen.len() / 5).max(1);
    seen.into_iter().skip(step / 2).step_by(step).take(6).collect()
}

/// The whole path of a wire that was followed, to the terminal it ends on.
fn whole_path(trace: &Trace, followed: &Followed) -> Option<Vec<PathPoint>> {
    let follower = followed.follower.as_ref()?;
    let mut points = followed.path.points.clone();
    if let Some(Ending::Terminal(_, at)) = &trace.ending {
        if !trace.pins.is_empty() {
            points.extend(follower.path_to(*at).points);
        }
        points.push(PathPoint { at: *at, seen: false });
    }
    Some(points)
}

/// Where to look at the colour of a wire that was followed: its pins, or where they are few its seen part; a terminal has not its colour.
pub fn places_of(trace: &Trace, followed: &Followed) -> Vec<PhotoPoint> {
    if trace.pins.len() > 2 {
        return trace.pins.clone();
    }
    whole_path(trace, followed).map_or_else(Vec::new, |path| places_on(&path))
}

/// The photo with this number and its pixels, where they are whole.
pub fn whole(pixels: Option<&Arc<PhotoPixels>>) -> Option<&Arc<PhotoPixels>> {
    pixels.filter(|pixels| !pixels.is_quick())
}

/// Where a photo's pixel lies.
pub fn on_canvas(photo: &Photo, at: PhotoPoint) -> Point {
    photo.placement.canvas_from_photo(at[0], at[1])
}

/// The name of a photo, for labels and messages.
pub fn photo_name(machine: &Machine, id: PhotoId) -> &str {
    machine.photos.get(id).map_or("?", |photo| photo.name.as_str())
}
