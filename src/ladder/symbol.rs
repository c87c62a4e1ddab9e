//! The graphic symbol of one device, from the glyphs of the catalogue, lying on a rung or standing in a rail.
//!
//! Glyphs are drawn upright, with their ends at (0, -10) and (0, 10). On a rung they are turned a quarter turn against the
//! clock, so that contacts move upwards and what works them lies below (IEC 61082-1: imagined motion is consistent, from
//! below upwards on level lines). Push-buttons of the ANSI family have their bar above, so those are mirrored.

use crate::catalogue::{Catalogue, Element, Family, Form, LoadKind, Stroke, Style};
use crate::drawing::{Anchor, Area, Ink, Item, Layer, Priority, Shape};
use crate::machine::{Machine, PinRole, Point};

use super::graph::Edge;
use super::layout::What;

/// Symbols are drawn at this share of the size they have in the connection diagram.
const SCALE: f64 = 0.5;
/// Letters inside symbols are made less small.
const LETTER_SCALE: f64 = 0.62;
/// Width of their lines in millimetres.
const LINE_MM: f64 = 0.35;
/// Straight pieces an arc of a whole turn is drawn with.
const ARC_STEPS: f64 = 36.0;

/// How a symbol lies.
#[derive(Debug, Clone, Copy)]
struct Pose {
    at: Point,
    upright: bool,
    /// End for end.
    turned: bool,
    /// What works it on the other side.
    mirrored: bool,
}

impl Pose {
    fn place(self, (x, y): (f64, f64)) -> Point {
        let (x, y) = (x * SCALE, y * SCALE);
        let x = if self.mirrored { -x } else { x };
        let y = if self.turned { -y } else { y };
        let (x, y) = if self.upright { (x, y) } else { (y, -x) };
        self.at.moved(x, y)
    }
}

/// The symbol of a device, with its middle at a place; its letters count as symbol.
pub(super) fn symbol(
    machine: &Machine,
    catalogue: &Catalogue,
    edge: &Edge,
    style: Style,
    (at, upright, turned): (Point, bool, bool),
) -> Vec<Item> {
    let strokes = strokes(machine, catalogue, edge, style);
    let pushed = kind_glyphs(machine, catalogue, edge, style).iter().any(|name| name.starts_with("push-"));
    let mirrored = style == Style::Ansi && pushed && !upright;
    // A diode's glyph has its anode at the lower end, and the anode is its first end.
    let turned = edge.what == What::Diode && !turned;
    let pose = Pose { at, upright, turned, mirrored };
    strokes.iter().filter_map(|stroke| shape(stroke, pose)).map(|shape| Item { layer: Layer::Symbols, shape }).collect()
}

/// The rectangle round shapes.
pub(super) fn extent(items: &[Item]) -> Option<Area> {
    items.iter().filter_map(Item::area).reduce(Area::joined)
}

/// The glyphs the part's kind is drawn with.
fn kind_glyphs<'a>(machine: &Machine, catalogue: &'a Catalogue, edge: &Edge, style: Style) -> Vec<&'a str> {
    let kind = machine.parts.get(edge.part).and_then(|part| catalogue.kind(&part.kind));
    let Some(kind) = kind else { return Vec::new() };
    let own = kind.symbol.strokes(style);
    let repeated = kind.repeat.iter().flat_map(|repeat| repeat.symbol.strokes(style));
    let names = own.chain(repeated).filter_map(|stroke| match stroke {
        Stroke::Use { glyph, .. } => Some(glyph.as_str()),
        _ => None,
    });
    let mut found = Vec::new();
    for name in names {
        if !found.contains(&name) {
            found.push(name);
        }
    }
    found
}

fn strokes(machine: &Machine, catalogue: &Catalogue, edge: &Edge, style: Style) -> Vec<Stroke> {
    let names = kind_glyphs(machine, catalogue, edge, style);
    let one = |name: &str| glyph(catalogue, name, style);
    match edge.what {
        What::Contact(form) => contact(machine, catalogue, edge, form, &names, style),
        What::Fuse => one("fuse"),
        What::Breaker => one("breaker-pole"),
        What::Overload => one("overload-heater"),
        What::Coil => one(names.iter().find(|name| name.contains("coil")).copied().unwrap_or("coil")),
        What::Load(LoadKind::Heater) => one("heater"),
        What::Load(LoadKind::Motor | LoadKind::Fan | LoadKind::TimerMotor) => {
            one("motor").into_iter().map(upright_letters).collect()
        }
        What::Load(LoadKind::Lamp) => one("lamp"),
        What::Load(LoadKind::Solenoid) => {
            let mut drawn = one("coil");
            let edge = if style == Style::Iec { -5.0 } else { -4.0 };
            drawn.push(Stroke::Dashed(vec![(edge, 0.0), (-8.0, 0.0)]));
            drawn.push(Stroke::Line(vec![(-10.0, -3.5), (-6.5, 3.5), (-10.0, 3.5), (-6.5, -3.5), (-10.0, -3.5)]));
            drawn
        }
        What::Load(LoadKind::Sounder) => vec![
            Stroke::Line(vec![(0.0, -10.0), (0.0, -2.5), (1.0, -2.5)]),
            Stroke::Line(vec![(0.0, 10.0), (0.0, 2.5), (1.0, 2.5)]),
            Stroke::Line(vec![(1.0, -4.5), (1.0, 4.5)]),
            Stroke::Arc { at: (1.0, 0.0), r: 4.5, from_deg: -90.0, to_deg: 90.0 },
        ],
        What::Load(LoadKind::Electronics) | What::Sense => boxed(&[]),
        What::Primary if feeds_direct(machine, catalogue, edge) => boxed(&[("~", -2.2), ("=", 2.2)]),
        What::Winding | What::Secondary | What::Primary => one("winding"),
        What::Output => boxed(&[("~", -2.2), ("=", 2.2)]),
        What::Capacitor => one("capacitor"),
        What::Resistor => one(names.iter().find(|name| name.contains("coil")).copied().unwrap_or("resistor")),
        What::Diode => one("diode"),
        What::Thermistor => one("thermistor"),
        What::Choke => one("choke"),
        What::Arrester => one("arrester"),
        What::Source => one("cell"),
    }
}

/// Letters one below the other stay so when the symbol lies down.
fn upright_letters(stroke: Stroke) -> Stroke {
    match stroke {
        Stroke::Text { at: (x, y), size, text } => Stroke::Text { at: (-y, x), size, text },
        other => other,
    }
}

/// A rectangle with leads and letters one behind the other.
fn boxed(letters: &[(&str, f64)]) -> Vec<Stroke> {
    let mut drawn = vec![
        Stroke::Line(vec![(0.0, -10.0), (0.0, -5.0)]),
        Stroke::Line(vec![(0.0, 5.0), (0.0, 10.0)]),
        Stroke::Rect { at: (-4.0, -5.0), size: (8.0, 10.0) },
    ];
    drawn.extend(letters.iter().map(|&(text, y)| Stroke::Text { at: (0.0, y), size: 3.0, text: text.to_owned() }));
    drawn
}

fn feeds_direct(machine: &Machine, catalogue: &Catalogue, edge: &Edge) -> bool {
    let Some(part) = machine.parts.get(edge.part) else { return false };
    let body = catalogue.body(part);
    edge.elements.iter().any(|&element| matches!(body.elements.get(element), Some(Element::DcSupply { .. })))
}

fn contact(
    machine: &Machine,
    catalogue: &Catalogue,
    edge: &Edge,
    form: Form,
    names: &[&str],
    style: Style,
) -> Vec<Stroke> {
    let part = machine.parts.get(edge.part);
    let family = part.and_then(|part| catalogue.kind(&part.kind)).map(|kind| kind.family);
    let of_form = |make: &str, broken: &str| glyph(catalogue, if form == Form::Make { make } else { broken }, style);
    let triac_pin = part.is_some_and(|part| part.pins.iter().any(|pin| matches!(pin.role, PinRole::OutputTriac(_))));
    if names.contains(&"triac") || (triac_pin && family == Some(Family::Boards)) {
        return glyph(catalogue, "triac", style);
    }
    if edge.relay.is_some() {
        return of_form("make-contact", "break-contact");
    }
    if family == Some(Family::Joining) {
        // A pin in its cavity.
        return vec![
            Stroke::Line(vec![(0.0, -10.0), (0.0, -1.5)]),
            Stroke::Line(vec![(-3.0, -4.5), (0.0, -1.5), (3.0, -4.5)]),
            Stroke::Line(vec![(-3.0, -2.0), (0.0, 1.0), (3.0, -2.0)]),
            Stroke::Line(vec![(0.0, 1.0), (0.0, 10.0)]),
        ];
    }
    let mut drawn = if names.contains(&"breaker-pole") {
        glyph(catalogue, "breaker-pole", style)
    } else if names.iter().any(|name| name.starts_with("push-")) {
        return of_form("push-make", "push-break");
    } else if names.iter().any(|name| name.starts_with("switch-")) {
        of_form("switch-make", "switch-break")
    } else {
        of_form("make-contact", "break-contact")
    };
    for name in names.iter().filter(|name| name.starts_with("act-")) {
        drawn.extend(glyph(catalogue, name, style));
    }
    drawn
}

/// The strokes of a glyph with the glyphs it is made of put in.
fn glyph(catalogue: &Catalogue, name: &str, style: Style) -> Vec<Stroke> {
    let mut found = Vec::new();
    put_in(catalogue, name, style, (0.0, 0.0), 0, &mut found);
    found
}

/// Glyphs that use one another in a ring end here.
const DEEPEST: u8 = 8;

fn put_in(catalogue: &Catalogue, name: &str, style: Style, at: (f64, f64), depth: u8, found: &mut Vec<Stroke>) {
    let Some(glyph) = catalogue.glyph(name).filter(|_| depth < DEEPEST) else { return };
    let moved = |&(x, y): &(f64, f64)| (x + at.0, y + at.1);
    let all = |points: &[(f64, f64)]| points.iter().map(moved).collect::<Vec<_>>();
    for stroke in glyph.symbol.strokes(style) {
        found.push(match stroke {
            Stroke::Use { glyph, at: own, .. } => {
                put_in(catalogue, glyph, style, moved(own), depth + 1, found);
                continue;
            }
            Stroke::Line(points) => Stroke::Line(all(points)),
            Stroke::Dashed(points) => Stroke::Dashed(all(points)),
            Stroke::Filled(points) => Stroke::Filled(all(points)),
            Stroke::Rect { at, size } => Stroke::Rect { at: moved(at), size: *size },
            Stroke::Circle { at, r } => Stroke::Circle { at: moved(at), r: *r },
            Stroke::Dot { at, r } => Stroke::Dot { at: moved(at), r: *r },
            Stroke::Arc { at, r, from_deg, to_deg } => {
                Stroke::Arc { at: moved(at), r: *r, from_deg: *from_deg, to_deg: *to_deg }
            }
            Stroke::Text { at, size, text } => Stroke::Text { at: moved(at), size: *size, text: text.clone() },
        });
    }
}

fn shape(stroke: &Stroke, pose: Pose) -> Option<Shape> {
    let all = |points: &[(f64, f64)]| points.iter().map(|&point| pose.place(point)).collect::<Vec<_>>();
    let line = |points: Vec<Point>, dash_mm| Shape::Line { points, ink: Ink::Line, width_mm: LINE_MM, dash_mm };
    Some(match stroke {
        Stroke::Line(points) => line(all(points), None),
        Stroke::Dashed(points) => line(all(points), Some((0.8, 0.6))),
        Stroke::Filled(points) => Shape::Filled { points: all(points), ink: Ink::Line },
        Stroke::Rect { at: (x, y), size: (w, h) } => {
            line(all(&[(*x, *y), (x + w, *y), (x + w, y + h), (*x, y + h), (*x, *y)]), None)
        }
        Stroke::Circle { at, r } => {
            Shape::Disc { at: pose.place(*at), radius_mm: r * SCALE, fill: None, edge: Some((Ink::Line, LINE_MM)) }
        }
        Stroke::Dot { at, r } => {
            Shape::Disc { at: pose.place(*at), radius_mm: r * SCALE, fill: Some(Ink::Line), edge: None }
        }
        Stroke::Arc { at, r, from_deg, to_deg } => {
            let turn = to_deg - from_deg;
            let steps = (turn.abs() / 360.0 * ARC_STEPS).ceil().clamp(4.0, 2.0 * ARC_STEPS);
            let points = (0..=80_u32).map(f64::from).take_while(|&n| n <= steps).map(|n| {
                let (sin, cos) = (from_deg + turn * n / steps).to_radians().sin_cos();
                pose.place((at.0 + r * cos, at.1 + r * sin))
            });
            line(points.collect(), None)
        }
        Stroke::Text { at, size, text } => Shape::Text {
            at: pose.place(*at),
            anchor: Anchor::CENTRE,
            size_mm: size * LETTER_SCALE,
            text: text.clone(),
            ink: Ink::Line,
            priority: Priority::Marking,
        },
        Stroke::Use { .. } => return None,
    })
}
