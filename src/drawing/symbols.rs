//! Parts: the kind's outline put where the part lies, its terminals, its letters.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::catalogue::{Catalogue, Stroke, Style};
use crate::machine::{Marking, Mounting, Part, PartId, Point, Pose, Spot, TerminalRef, Thing};

use super::area::Area;
use super::ink::Ink;
use super::labels;
use super::pick::{Handle, Target, TargetPlace};
use super::scene::{Layer, Piece};
use super::shape::{Anchor, Item, Priority, Shape};

/// Width of the lines of symbols in millimetres.
pub(super) const LINE_MM: f64 = 0.4;

/// Radius of the circle that stands for a terminal, in millimetres.
pub(super) const TERMINAL_MM: f64 = 0.9;

/// Room between terminals with places of their own and the outline round them, in millimetres.
const OUTLINE_ROOM_MM: f64 = 2.4;

/// Straight pieces an arc of a whole turn is drawn with.
const ARC_STEPS: f64 = 48.0;

/// Where a terminal lies on the canvas.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct TerminalPlace {
    /// Its place.
    pub at: Point,
    /// The direction that leads away from the part, of length 1.
    pub outward: (f64, f64),
}

/// One part as it is drawn, with what its wires need to know.
#[derive(Debug, Clone, PartialEq)]
pub struct PartDrawing {
    /// Where its terminals lie, by marking.
    pub terminals: BTreeMap<Marking, TerminalPlace>,
    /// The rectangle round its symbol and terminals.
    pub body: Area,
    /// Its shapes and targets.
    pub piece: Option<Arc<Piece>>,
}

/// Draws one part: its symbol where it lies; or, when each of its terminals has a place of its own (on a photo), the
/// terminals where they are with a thin outline round them, since the symbol's cells would lie beside the real ones.
pub fn part_drawing(id: PartId, part: &Part, catalogue: &Catalogue, style: Style) -> PartDrawing {
    let body = catalogue.body(part);
    let pose = &part.pose;
    let ink = if part.mounting == Mounting::Missing { Ink::Faint } else { Ink::Line };
    let noted = |marking: &str| part.terminals.get(marking).and_then(|note| note.at);
    let symbol_places: Vec<Point> = body.terminals.iter().map(|terminal| pose.canvas_from_part(terminal.at)).collect();
    let own_places: Vec<Option<Point>> = body.terminals.iter().map(|t| noted(t.marking.as_str())).collect();
    let all_placed = !own_places.is_empty() && own_places.iter().all(Option::is_some);

    let (mut items, area) = if all_placed {
        outline_round(own_places.iter().flatten().copied(), ink, pose.at)
    } else {
        let outline = catalogue.outline(part, style);
        symbol(&outline, pose, ink, &symbol_places)
    };
    let mut targets = Vec::new();
    let mut terminals = BTreeMap::new();
    let mut free = labels::FreeSides::default();
    for ((terminal, &symbol_at), own) in body.terminals.iter().zip(&symbol_places).zip(own_places) {
        let at = own.unwrap_or(symbol_at);
        // Where the terminal sits in what is drawn of the part.
        let seat = if all_placed { at } else { symbol_at };
        let outward = labels::outward(area, seat);
        if at.distance(seat) > TERMINAL_MM {
            items.push(on(Layer::Symbols, line(vec![seat, at], Ink::Faint, 0.25, Some((1.0, 1.0)))));
            items.push(on(Layer::Symbols, disc(seat, 0.5, Some(Ink::Faint), None)));
        }
        let edge = if terminal.unknown { Ink::Faint } else { ink };
        items.push(on(Layer::Ends, disc(at, TERMINAL_MM, Some(Ink::Paper), Some((edge, 0.3)))));
        items
            .push(on(Layer::Labels, labels::marking(at, outward, labels::to_edge(area, seat), terminal.label(), edge)));
        free.take(outward);
        let place = TargetPlace::Point { at, radius_mm: TERMINAL_MM + 0.4 };
        let reference = TerminalRef::new(id, terminal.marking.clone());
        targets.push(Target { of: Handle::Thing(Thing::Spot(Spot::Terminal(reference))), place });
        terminals.entry(terminal.marking.clone()).or_insert(TerminalPlace { at, outward });
    }
    items.extend(labels::tag(part, area, free));
    items.extend(mounting(part.mounting, area));
    targets.push(Target { of: Handle::Thing(id.into()), place: TargetPlace::Quad(area.grown(0.5).corners()) });
    PartDrawing { terminals, body: area, piece: Piece::new(id.into(), items, targets).map(Arc::new) }
}

/// A thin outline round the places of terminals, and the rectangle it is.
fn outline_round(places: impl Iterator<Item = Point>, ink: Ink, middle: Point) -> (Vec<Item>, Area) {
    let area = Area::round(places).unwrap_or(Area { min: middle, max: middle }).grown(OUTLINE_ROOM_MM);
    let mut corners = area.corners().to_vec();
    corners.push(area.min);
    (vec![on(Layer::Symbols, line(corners, ink, 0.25, None))], area)
}

/// The symbol of a part with the ground under it, and the rectangle round symbol and terminals.
fn symbol(outline: &[Stroke], pose: &Pose, ink: Ink, terminals: &[Point]) -> (Vec<Item>, Area) {
    let mut items: Vec<Item> =
        outline.iter().filter_map(|stroke| shape(stroke, pose, ink)).map(|shape| on(Layer::Symbols, shape)).collect();
    let drawn = items.iter().filter_map(Item::area).reduce(Area::joined);
    let held = terminals.iter().map(|&at| Area { min: at, max: at }).reduce(Area::joined);
    let area = match (drawn, held) {
        (Some(drawn), Some(held)) => drawn.joined(held),
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => Area { min: pose.at, max: pose.at }.grown(5.0),
    };
    if let Some(background) = background(outline, pose) {
        items.insert(0, on(Layer::Bodies, Shape::Filled { points: background, ink: Ink::Body }));
    }
    (items, area)
}

/// How a part that is not held where it belongs is marked.
fn mounting(mounting: Mounting, area: Area) -> Vec<Item> {
    let round = area.grown(1.8);
    let mut frame = round.corners().to_vec();
    frame.push(frame[0]);
    let below = Point::new(area.max.x + 1.8, area.max.y + 2.4);
    let word = |text: &str| {
        let anchor = Anchor { x: 1, y: -1 };
        on(Layer::Labels, text_shape(below, anchor, 1.8, text, Ink::StandingAssumed, Priority::Title))
    };
    match mounting {
        Mounting::Fixed => Vec::new(),
        Mounting::Loose => {
            vec![on(Layer::Symbols, line(frame, Ink::StandingAssumed, 0.35, Some((2.2, 1.4)))), word("loose")]
        }
        Mounting::Missing => vec![
            on(Layer::Symbols, line(frame, Ink::Faint, 0.3, Some((0.8, 1.2)))),
            on(Layer::Symbols, line(vec![round.min, round.max], Ink::Faint, 0.3, None)),
            on(Layer::Symbols, line(vec![round.corners()[1], round.corners()[3]], Ink::Faint, 0.3, None)),
            word("missing"),
        ],
    }
}

/// The largest rectangle of the outline: the ground of a board, a strip, a relay.
fn background(outline: &[Stroke], pose: &Pose) -> Option<Vec<Point>> {
    let boxes = outline.iter().filter_map(|stroke| match stroke {
        Stroke::Rect { at, size } => Some((*at, *size)),
        _ => None,
    });
    let whole = boxes.clone().fold(None, |held: Option<Area>, (at, size)| {
        let one = Area::between(Point::new(at.0, at.1), Point::new(at.0 + size.0, at.1 + size.1));
        Some(held.map_or(one, |held| if held.meets(one) { held.joined(one) } else { held }))
    })?;
    (boxes.count() > 0).then(|| whole.corners().iter().map(|&corner| pose.canvas_from_part(corner)).collect())
}

fn shape(stroke: &Stroke, pose: &Pose, ink: Ink) -> Option<Shape> {
    let place = |&(x, y): &(f64, f64)| pose.canvas_from_part(Point::new(x, y));
    let edge = Some((ink, LINE_MM));
    Some(match stroke {
        Stroke::Line(points) => line(points.iter().map(place).collect(), ink, LINE_MM, None),
        Stroke::Dashed(points) => line(points.iter().map(place).collect(), ink, 0.3, Some((1.2, 0.9))),
        Stroke::Filled(points) => Shape::Filled { points: points.iter().map(place).collect(), ink },
        Stroke::Rect { at: (x, y), size: (w, h) } => {
            let corners = [(*x, *y), (x + w, *y), (x + w, y + h), (*x, y + h), (*x, *y)];
            line(corners.iter().map(place).collect(), ink, LINE_MM, None)
        }
        Stroke::Circle { at, r } => disc(place(at), *r, None, edge),
        Stroke::Dot { at, r } => disc(place(at), *r, Some(ink), None),
        Stroke::Arc { at, r, from_deg, to_deg } => {
            let turn = to_deg - from_deg;
            let steps = (turn.abs() / 360.0 * ARC_STEPS).ceil().clamp(4.0, 2.0 * ARC_STEPS);
            let points = (0..=100_u32).map(f64::from).take_while(|&n| n <= steps).map(|n| {
                let (sin, cos) = (from_deg + turn * n / steps).to_radians().sin_cos();
                place(&(at.0 + r * cos, at.1 + r * sin))
            });
            line(points.collect(), ink, LINE_MM, None)
        }
        Stroke::Text { at, size, text } => text_shape(place(at), Anchor::CENTRE, *size, text, ink, Priority::Marking),
        // The catalogue has put every glyph in.
        Stroke::Use { .. } => return None,
    })
}

pub(super) fn on(layer: Layer, shape: Shape) -> Item {
    Item { layer, shape }
}

pub(super) fn line(points: Vec<Point>, ink: Ink, width_mm: f64, dash_mm: Option<(f64, f64)>) -> Shape {
    Shape::Line { points, ink, width_mm, dash_mm }
}

pub(super) fn disc(at: Point, radius_mm: f64, fill: Option<Ink>, edge: Option<(Ink, f64)>) -> Shape {
    Shape::Disc { at, radius_mm, fill, edge }
}

pub(super) fn text_shape(at: Point, anchor: Anchor, size_mm: f64, text: &str, ink: Ink, priority: Priority) -> Shape {
    Shape::Text { at, anchor, size_mm, text: text.to_owned(), ink, priority }
}
