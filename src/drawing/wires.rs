//! Wires: where each runs, and the shapes and targets that stand for it.

use std::sync::Arc;

use crate::machine::{EndAt, Point, Side, Spot, Thing, Wire, WireForm, WireId, WireState};

use super::ends::{self, Tip};
use super::hops::hop_height_mm;
use super::ink::Ink;
use super::path::{Path, above, direction};
use super::pick::{Handle, Target, TargetPlace};
use super::scene::{Layer, Piece, PlainWire};
use super::shape::{Anchor, Flag, FlagForm, Item, Priority, Run, Shape, WireRun};
use super::style::base_and_stripe;
use super::symbols::{TerminalPlace, line, on, text_shape};

/// Drawn width when the size is not recorded, in millimetres.
const USUAL_WIDTH_MM: f64 = 1.5;

/// How much wider than its conductor a wire is drawn: about as wide as its insulation.
const WIDTH_FACTOR: f64 = 1.6;

/// Radius of the corners at bends, in millimetres.
const CORNER_MM: f64 = 4.0;

/// Length of the stub that stands for an end without a place, in millimetres.
const STUB_MM: f64 = 16.0;

/// How far a lifted end is drawn from its terminal, in millimetres.
const LIFTED_MM: f64 = 6.0;

/// Height of the figures on wire flags in millimetres.
const NUMBER_MM: f64 = 1.7;

/// Where an end of a wire is, as far as drawn parts say so.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Resolved {
    /// The terminal it is recorded on.
    pub(super) terminal: Option<TerminalPlace>,
    /// Where the wire stops when nothing else says so: a place in the row of wires that have no place at all.
    pub(super) parked: Option<Point>,
}

/// Where one wire runs.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Route {
    /// With rounded corners, without hops.
    pub(super) path: Path,
    /// The points that path was rounded at.
    pub(super) corners: Vec<Point>,
    /// What its two ends look like.
    pub(super) tips: [Tip; 2],
}

/// Drawn width of a wire in millimetres: 1.6 times its conductor, within limits that keep it visible and apart.
pub fn wire_width_mm(wire: &Wire) -> f64 {
    match wire.form {
        WireForm::Jumper => 2.2,
        WireForm::Lead => wire.size.map_or(USUAL_WIDTH_MM, |size| (WIDTH_FACTOR * size.diameter_mm()).clamp(1.0, 3.2)),
    }
}

/// Whether no end and no bend of the wire has a place.
pub(super) fn has_no_place(wire: &Wire, ends: &[Resolved; 2]) -> bool {
    wire.path.is_empty()
        && Side::BOTH.iter().zip(ends).all(|(&side, end)| end.terminal.is_none() && wire.end(side).place.is_none())
}

/// Where a wire runs: end, bends, end; rounded at the bends.
pub(super) fn route(wire: &Wire, ends: &[Resolved; 2]) -> Route {
    let given = |n: usize, side: Side| {
        let own = wire.end(side).place;
        let on_terminal = ends[n].terminal.map(|terminal| terminal.at);
        if on_terminal.is_none() || wire.end(side).lifted { own.or(on_terminal) } else { on_terminal }
            .or(ends[n].parked)
    };
    let places = [given(0, Side::From), given(1, Side::To)];
    let bends: Vec<Point> = wire.path.iter().map(|bend| bend.at).collect();
    let from = end_point(places, 0, &bends, ends);
    let to = end_point(places, 1, &bends, ends);

    let mut points = vec![from];
    points.extend(bends.iter().copied());
    points.push(to);
    let mut hidden: Vec<bool> = wire.path.iter().map(|bend| bend.hidden).collect();
    // The last straight has no bend to carry the note: it is hidden when the wire goes on out of sight there.
    hidden.push(wire.path.last().is_some_and(|bend| bend.hidden) && wire.to.at == EndAt::Unknown);
    let tips = [tip(wire, Side::From, &ends[0]), tip(wire, Side::To, &ends[1])];
    pull_back(&mut points, wire, &tips);
    let corners = points.clone();
    Route { path: Path::with_hidden(points, hidden).rounded(CORNER_MM), corners, tips }
}

fn end_point(places: [Option<Point>; 2], n: usize, bends: &[Point], ends: &[Resolved; 2]) -> Point {
    if let Some(place) = places[n] {
        return place;
    }
    let (nearest, next) =
        if n == 0 { (bends.first(), bends.get(1)) } else { (bends.last(), bends.iter().rev().nth(1)) };
    let other = 1 - n;
    match (nearest, next) {
        // A short way on in the direction of the last straight.
        (Some(&bend), Some(&before)) => onward(before, bend, STUB_MM / 2.0),
        (Some(&bend), None) => {
            places[other].map_or(bend.moved(STUB_MM / 2.0, 0.0), |start| onward(start, bend, STUB_MM / 2.0))
        }
        (None, _) => match (ends[other].terminal, places[other]) {
            (Some(terminal), Some(at)) => at.moved(terminal.outward.0 * STUB_MM, terminal.outward.1 * STUB_MM),
            (_, Some(at)) => at.moved(STUB_MM, 0.0),
            _ => Point::default(),
        },
    }
}

fn onward(from: Point, to: Point, by_mm: f64) -> Point {
    let (dx, dy) = direction(from, to);
    to.moved(dx * by_mm, dy * by_mm)
}

fn tip(wire: &Wire, side: Side, resolved: &Resolved) -> Tip {
    let end = wire.end(side);
    match (&end.at, resolved.terminal) {
        (EndAt::Terminal(_), Some(terminal)) if end.lifted => Tip::Lifted(terminal.at),
        (EndAt::Terminal(_), Some(_)) => Tip::Landed(end.known),
        (EndAt::Loose, _) => Tip::Loose,
        (EndAt::Unknown | EndAt::Terminal(_), _) => Tip::Unknown,
    }
}

/// Draws lifted ends away from their terminals.
fn pull_back(points: &mut [Point], wire: &Wire, tips: &[Tip; 2]) {
    let last = points.len() - 1;
    for (n, side) in Side::BOTH.into_iter().enumerate() {
        if !matches!(tips[n], Tip::Lifted(_)) || wire.end(side).place.is_some() {
            continue;
        }
        let (end, neighbour) = if n == 0 { (0, 1) } else { (last, last - 1) };
        let (dx, dy) = direction(points[end], points[neighbour]);
        let by = LIFTED_MM.min(points[end].distance(points[neighbour]) / 2.0);
        // Swung a little to the side, as a lead that was taken off lies.
        let (sin, cos) = 25.0_f64.to_radians().sin_cos();
        points[end] = points[end].moved((dx * cos - dy * sin) * by, (dx * sin + dy * cos) * by);
    }
}

/// The shapes and targets of one wire, with its hops.
pub(super) fn piece(id: WireId, wire: &Wire, route: &Route, hops: &[(f64, f64)]) -> Option<Arc<Piece>> {
    let width_mm = wire_width_mm(wire);
    let path = route.path.bowed(hops, hop_height_mm(width_mm));
    let length = path.length();
    let mut items = Vec::new();

    let ghost = wire.state == WireState::Removed;
    let run_of = |hidden: bool| match (ghost, wire.form, hidden) {
        (true, ..) => Run::Ghost,
        (_, _, true) => Run::Hidden,
        (_, WireForm::Jumper, _) => Run::Bar,
        _ => Run::Full,
    };
    let shape = |points: Vec<Point>, run: Run, width_mm: f64| {
        on(Layer::Wires, Shape::Wire(WireRun { points, colour: wire.colour, width_mm, run }))
    };
    let trims = route.tips.map(|tip| if ghost { 0.0 } else { ends::own_length(tip, length) });
    for (hidden, points) in path.stretch(trims[0], length - trims[1]).parts() {
        items.push(shape(points, run_of(hidden), width_mm));
    }
    let towards: [Path; 2] = [path.clone(), reversed(&path)];
    if ghost {
        items.extend(cut_mark(&path));
    } else {
        for n in 0..2 {
            let end = if n == 0 { &wire.from } else { &wire.to };
            items.extend(ends::draw(route.tips[n], &towards[n], trims[n], (wire, end), width_mm));
        }
    }
    items.extend(flags(wire, &path, &route.tips));

    let plain = PlainWire { points: route.corners.clone(), ink: plain_ink(wire, ghost), width_mm };
    let mut piece = Piece::new(id.into(), items, targets(id, wire, &route.path, width_mm))?;
    piece.plain = Some(plain);
    Some(Arc::new(piece))
}

/// The one colour of a wire from far off.
fn plain_ink(wire: &Wire, ghost: bool) -> Ink {
    match (wire.form, wire.colour) {
        _ if ghost => Ink::Ghost,
        (WireForm::Jumper, _) => Ink::Metal,
        (WireForm::Lead, Some(colour)) => base_and_stripe(colour).0,
        (WireForm::Lead, None) => Ink::InsulationUnsaid,
    }
}

fn reversed(path: &Path) -> Path {
    let count = path.points().len().saturating_sub(1);
    let hidden = (0..count).rev().map(|n| path.is_hidden(n)).collect();
    Path::with_hidden(path.points().iter().rev().copied().collect(), hidden)
}

/// What can be pointed at. The wire's own line is without its hops: they are no wider than the room round it.
fn targets(id: WireId, wire: &Wire, path: &Path, width_mm: f64) -> Vec<Target> {
    let length = path.length();
    // On the mark of how the end is known, so that the terminal itself stays the terminal's.
    let inwards = ends::MARK_MM.min(length / 3.0);
    let mut targets = Vec::new();
    for (side, at) in [(Side::From, inwards), (Side::To, length - inwards)] {
        let landed = wire.landed(side).is_some();
        let at = if landed { path.at(at).0 } else { path.at(if side == Side::From { 0.0 } else { length }).0 };
        let place = TargetPlace::Point { at, radius_mm: (width_mm * 0.6).max(1.2) };
        targets.push(Target { of: Handle::Thing(Thing::Spot(Spot::End(id, side))), place });
    }
    for (n, bend) in wire.path.iter().enumerate() {
        let place = TargetPlace::Point { at: bend.at, radius_mm: width_mm * 0.5 };
        targets.push(Target { of: Handle::Bend(id, n), place });
    }
    let place = TargetPlace::Path { points: path.points().to_vec(), width_mm };
    targets.push(Target { of: Handle::Thing(id.into()), place });
    targets
}

/// Two short strokes across the middle of a wire that was taken out.
fn cut_mark(path: &Path) -> Vec<Item> {
    let (at, (dx, dy)) = path.at_share(0.5);
    [-0.8, 0.8]
        .into_iter()
        .map(|shift| {
            let middle = at.moved(dx * shift, dy * shift);
            // Leaning across the wire at about 60 degrees.
            let (lx, ly) = (dx * 0.5 - dy * 0.87, dy * 0.5 + dx * 0.87);
            let points = vec![middle.moved(-lx * 2.2, -ly * 2.2), middle.moved(lx * 2.2, ly * 2.2)];
            on(Layer::Ends, line(points, Ink::Faint, 0.4, None))
        })
        .collect()
}

/// The number found on the wire, in a small flag at each end; the key alone stands once, without a frame.
fn flags(wire: &Wire, path: &Path, tips: &[Tip; 2]) -> Vec<Item> {
    let length = path.length();
    let Some(number) = wire.number.as_ref().filter(|number| !number.is_empty()) else {
        let (at, along) = path.at_share(0.4);
        let side = wire_width_mm(wire) / 2.0 + 1.6;
        let (nx, ny) = above(along);
        let anchor = if nx.abs() > 0.7 { Anchor { x: if nx > 0.0 { -1 } else { 1 }, y: 0 } } else { Anchor::CENTRE };
        let place = at.moved(nx * side, ny * side);
        return vec![on(Layer::Labels, text_shape(place, anchor, 1.4, &wire.key, Ink::Faint, Priority::Title))];
    };
    let flag = |along: f64| {
        let shape = Shape::Flag(Flag {
            at: path.at(along).0,
            form: FlagForm::WireNumber,
            text: number.clone(),
            size_mm: NUMBER_MM,
        });
        on(Layer::Labels, shape)
    };
    let room = |n: usize| ends::room(tips[n]) + 2.0 + number.chars().count() as f64 * NUMBER_MM * 0.5;
    if length < room(0) + room(1) + 12.0 {
        return vec![flag(length / 2.0)];
    }
    vec![flag(room(0)), flag(length - room(1))]
}
