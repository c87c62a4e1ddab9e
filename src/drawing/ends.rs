//! The ends of wires: how a connection is known, told by form; lifted, loose, capped and unknown ends.

use crate::machine::{Known, Lug, Point, Wire, WireEnd, WireState};

use super::ink::Ink;
use super::path::{Path, above};
use super::scene::Layer;
use super::shape::{Anchor, Item, Priority, Run, Shape, WireRun};
use super::symbols::{disc, line, on, text_shape};

/// How far from the terminal the mark of a connection sits, in millimetres.
pub(super) const MARK_MM: f64 = 6.8;

/// Length of an end that is drawn in a form of its own, in millimetres.
const OWN_MM: f64 = 11.0;

/// Radius of the dot, in millimetres.
const DOT_MM: f64 = 1.0;

/// What an end of a wire looks like.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) enum Tip {
    /// On a terminal, known like this.
    Landed(Known),
    /// Taken off the terminal at this place.
    Lifted(Point),
    /// On nothing.
    Loose,
    /// It goes out of sight.
    Unknown,
}

/// Length of the end that is not drawn as plain wire, in millimetres.
pub(super) fn own_length(tip: Tip, wire_length: f64) -> f64 {
    let most = wire_length / 3.0;
    match tip {
        Tip::Landed(Known::Assumed | Known::Disputed) | Tip::Unknown => OWN_MM.min(most),
        Tip::Landed(_) => 0.0,
        Tip::Lifted(_) | Tip::Loose => 2.6_f64.min(most),
    }
}

/// Length that flags leave free at an end, in millimetres.
pub(super) fn room(tip: Tip) -> f64 {
    match tip {
        Tip::Landed(Known::Assumed | Known::Disputed) | Tip::Unknown => OWN_MM + 0.5,
        Tip::Landed(_) => MARK_MM + 2.0,
        Tip::Lifted(_) | Tip::Loose => 4.0,
    }
}

/// The shapes of one end; the path begins at that end.
pub(super) fn draw(tip: Tip, path: &Path, own: f64, (wire, end): (&Wire, &WireEnd), width_mm: f64) -> Vec<Item> {
    let run = |from: f64, to: f64, run: Run, width_mm: f64| {
        let points = path.stretch(from, to).points().to_vec();
        on(Layer::Wires, Shape::Wire(WireRun { points, colour: wire.colour, width_mm, run }))
    };
    let mark_at = MARK_MM.min(path.length() / 3.0);
    let (at, along) = path.at(mark_at);
    let word = |text: &str, ink: Ink| {
        let place = beside(at, along, 2.2);
        on(Layer::Labels, text_shape(place, Anchor::CENTRE, 2.0, text, ink, Priority::Marking))
    };
    let mut items = Vec::new();
    match tip {
        Tip::Landed(Known::Proven) => {
            items.push(on(Layer::Ends, disc(at, DOT_MM, Some(Ink::StandingProven), Some((Ink::Paper, 0.25)))));
            items.push(tick(beside(at, along, 2.3)));
        }
        Tip::Landed(Known::Seen) => {
            items.extend(eye(at, along));
        }
        Tip::Landed(Known::Assumed) => {
            items.push(run(0.0, own, Run::Assumed, width_mm));
            items.push(word("?", Ink::StandingAssumed));
        }
        Tip::Landed(Known::Disputed) => {
            let points = zigzag(&path.stretch(0.0, own));
            items.push(on(
                Layer::Wires,
                Shape::Wire(WireRun { points, colour: wire.colour, width_mm: width_mm * 0.7, run: Run::Full }),
            ));
            items.push(word("!", Ink::StandingDisputed));
        }
        Tip::Lifted(terminal) => {
            items.extend(bare_tip(path, own, (wire, end), width_mm));
            let place = path.at(0.0).0;
            items.push(on(Layer::Ends, line(vec![place, terminal], Ink::Faint, 0.25, Some((0.5, 0.9)))));
        }
        Tip::Loose => items.extend(bare_tip(path, own, (wire, end), width_mm)),
        Tip::Unknown => {
            // Thinner and thinner towards the end.
            for (from, to, share) in [(0.68, 1.0, 0.85), (0.36, 0.58, 0.6), (0.12, 0.26, 0.4)] {
                items.push(run(own * from, own * to, Run::Full, width_mm * share));
            }
            let (end, (dx, dy)) = path.at(0.0);
            let place = end.moved(-dx * 1.2, -dy * 1.2);
            items.push(on(
                Layer::Labels,
                text_shape(place, Anchor::CENTRE, 2.4, "?", Ink::StandingAssumed, Priority::Marking),
            ));
        }
    }
    items
}

/// A point beside the line, above it where that can be said.
fn beside(at: Point, along: (f64, f64), by_mm: f64) -> Point {
    let (nx, ny) = above(along);
    at.moved(nx * by_mm, ny * by_mm)
}

/// What was looked at and no more: an open eye, so that it is not taken for a terminal, which is round.
fn eye(at: Point, (dx, dy): (f64, f64)) -> [Item; 2] {
    let corner = |along: f64, across: f64| at.moved(dx * along - dy * across, dy * along + dx * across);
    let mut points: Vec<Point> =
        [(-1.9, 0.0), (-1.0, 0.75), (0.0, 1.0), (1.0, 0.75), (1.9, 0.0), (1.0, -0.75), (0.0, -1.0), (-1.0, -0.75)]
            .map(|(along, across)| corner(along, across))
            .to_vec();
    let filled = Shape::Filled { points: points.clone(), ink: Ink::Paper };
    points.extend(points.first().copied());
    [on(Layer::Ends, filled), on(Layer::Ends, line(points, Ink::StandingSeen, 0.35, None))]
}

fn tick(at: Point) -> Item {
    let points = vec![at.moved(-0.9, 0.0), at.moved(-0.25, 0.75), at.moved(1.0, -0.9)];
    on(Layer::Ends, line(points, Ink::StandingProven, 0.4, None))
}

/// The bare or capped end of a lead that is on nothing.
fn bare_tip(path: &Path, own: f64, (wire, this): (&Wire, &WireEnd), width_mm: f64) -> Vec<Item> {
    let points = path.stretch(0.0, own).points().to_vec();
    if points.len() < 2 {
        return Vec::new();
    }
    let end = points[0];
    // Each end by itself: a cap on the other one covers nothing here.
    let capped = on_nothing(this) && (wire.state == WireState::CappedOff || this.lug == Lug::Cap);
    if capped {
        return vec![on(Layer::Ends, line(points, Ink::Line, width_mm * 1.5, None))];
    }
    vec![
        on(Layer::Ends, line(points, Ink::Metal, (width_mm * 0.45).max(0.5), None)),
        on(Layer::Ends, disc(end, (width_mm * 0.4).max(0.5), Some(Ink::Paper), Some((Ink::Metal, 0.3)))),
    ]
}

fn on_nothing(end: &WireEnd) -> bool {
    end.lifted || end.at == crate::machine::EndAt::Loose
}

/// The line thrown to either side in steps.
fn zigzag(path: &Path) -> Vec<Point> {
    const TEETH: u32 = 6;
    let length = path.length();
    (0..=TEETH)
        .map(|n| {
            let (at, (dx, dy)) = path.at(length * f64::from(n) / f64::from(TEETH));
            let throw = if n == 0 || n == TEETH {
                0.0
            } else if n % 2 == 0 {
                1.3
            } else {
                -1.3
            };
            at.moved(-dy * throw, dx * throw)
        })
        .collect()
}
