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

/// Draws one part.
pub fn part_drawing(id: PartId, part: &Part, catalogue: &Catalogue, style: Style) -> PartDrawing {
    let outline = catalogue.outline(part, style);
    let body = catalogue.body(part);
    let pose = &part.pose;
    let ink = if part.mounting == Mounting::Missing { Ink::Faint } else { Ink::Line };

    let mut items: Vec<Item> =
        outline.iter().filter_map(|stroke| shape(stroke, pose, ink)).map(|shape| on(Layer::Symbols, shape)).collect();
    let symbol_places: Vec<Point> = body.terminals.iter().map(|terminal| pose.canvas_from_part(terminal.at)).collect();
    let drawn = items.iter().filter_map(Item::area).reduce(Area::joined);
    let held = symbol_places.iter().map(|&at| Area { min: at, max: at }).reduce(Area::joined);
    let area = match (drawn, held) {
        (Some(drawn), Some(held)) => drawn.joined(held),
        (Some(one), None) | (None, Some(one)) => one,
        (None, None) => Area { min: pose.at, max: pose.at }.grown(5.0),
    };
    if let Some(background) = background(&outline, pose) {
        items.insert(0, on(Layer::Bodies, Shape::Filled { points: background, ink: Ink::Body }));
    }

    let mut targets = Vec::new();
    let mut terminals = BTreeMap::new();
    let mut free = labels::FreeSides::default();
    for (terminal, &symbol_at) in body.terminals.iter().zip(&symbol_places) {
        let noted = part.terminals.get(terminal.marking.as_str()).and_then(|note| note.at);
        let at = noted.unwrap_or(symbol_at);
        let outward = labels::outward(area, symbol_at);
        if noted.is_some() && at.distance(symbol_at) > TERMINAL_MM {
            items.push(on(Layer::Symbols, line(vec![symbol_at, at], Ink::Faint, 0.25, Some((1.0, 1.0)))));
            items.push(on(Layer::Symbols, disc(symbol_at, 0.5, Some(Ink::Faint), None)));
        }
        let edge = if terminal.unknown { Ink::Faint } else { ink };
        items.push(on(Layer::Ends, disc(at, TERMINAL_MM, Some(Ink::Paper), Some((edge, 0.3)))));
        items.push(on(
            Layer::Labels,
            labels::marking(at, outward, labels::to_edge(area, symbol_at), terminal.label(), edge),
        ));
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
