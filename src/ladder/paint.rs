//! Shapes for what was laid out: symbols, lines, letters, and what can be pointed at.

use std::sync::Arc;

use crate::catalogue::{Catalogue, Style};
use crate::circuit::Network;
use crate::drawing::{
    Anchor, Area, Handle, Ink, Item, Layer, Piece, PlainWire, Priority, Scene, Shape, Target, TargetPlace,
};
use crate::machine::{Machine, Point, Spot, Thing, WireId};

use super::board::{CELL_MM, Put, ROW_MM};
use super::compose::{Composed, RawSection};
use super::finish::Finished;
use super::graph::Edge;
use super::layout::{Device, Drawing, Off, SectionKind, What};
use super::names;
use super::numbers::{beyond_usual, drawn, drawn_on_pole, shortened};
use super::symbol::{extent, symbol};

/// Heights of capitals in millimetres.
const TITLE_MM: f64 = 4.0;
const HEADING_MM: f64 = 3.0;
const TAG_MM: f64 = 2.3;
const WORD_MM: f64 = 2.1;
const NUMBER_MM: f64 = 1.7;
const MARKING_MM: f64 = 1.6;

/// Width of a letter in heights of capitals, as drawings reckon.
const LETTER: f64 = 0.85;
/// From one line of words to the next.
const WORD_LINE_MM: f64 = 4.0;
/// Letters in a line of words.
const LINE_LETTERS: usize = 96;
/// Letters in a line of the machine's title.
const TITLE_LETTERS: usize = 50;
/// Letters of a title beside a rung.
const BESIDE_LETTERS: usize = 32;
/// Letters of a marking.
const MARKING_LETTERS: usize = 7;
/// Half the length of the longest symbol: markings stand beyond.
const BODY_MM: f64 = 3.9;
const LINE_MM: f64 = 0.35;
const DOT_MM: f64 = 0.7;

/// Right edge, bottom edge and so on.
const ABOVE: Anchor = Anchor { x: 0, y: 1 };
const BELOW: Anchor = Anchor { x: 0, y: -1 };

pub(super) struct Painter<'a> {
    machine: &'a Machine,
    catalogue: &'a Catalogue,
    network: &'a Network,
    style: Style,
    /// Pieces with the section they belong to; those of the list of what is left out have none.
    pieces: Vec<(Option<usize>, Piece)>,
}

fn text(at: Point, anchor: Anchor, size_mm: f64, text: &str, ink: Ink) -> Item {
    // Tags and the numbers of rungs are kept longest when the eye is far off.
    let priority = if size_mm >= TAG_MM { Priority::Tag } else { Priority::Marking };
    let shape = Shape::Text { at, anchor, size_mm, text: text.to_owned(), ink, priority };
    Item { layer: Layer::Labels, shape }
}

fn width_mm(text: &str, size_mm: f64) -> f64 {
    text.chars().count() as f64 * size_mm * LETTER
}

impl<'a> Painter<'a> {
    pub(super) fn new(machine: &'a Machine, catalogue: &'a Catalogue, network: &'a Network, style: Style) -> Self {
        Self { machine, catalogue, network, style, pieces: Vec::new() }
    }

    /// The width of the place a device needs for its words, and for the numbers of its nets, whose wires are given.
    pub(super) fn cell_mm(&self, edge: &Edge, nets: [&[WireId]; 2]) -> f64 {
        let tag = width_mm(&self.tag(edge), TAG_MM) + 4.0;
        // A number stands on one side of the device, which stands in the middle.
        let numbers = CELL_MM + beyond_usual(self.machine, nets) as f64 * NUMBER_MM * LETTER * 2.0;
        // In whole steps, so that devices stand below one another.
        let steps = (tag.max(numbers) / (CELL_MM / 2.0)).ceil().max(2.0);
        steps * CELL_MM / 2.0
    }

    /// Tag of the part, with the name of the element where the part has several alike.
    fn tag(&self, edge: &Edge) -> String {
        let tag = self.machine.part_name(edge.part);
        let body = self.network.body(edge.part);
        let name = match edge.what {
            What::Winding | What::Load(_) => {
                let named = body.map(|body| body.elements.iter().filter(|element| element.name().is_some()).count());
                let first = edge.elements.first().and_then(|&element| body?.elements.get(element)?.name());
                first.filter(|_| named.unwrap_or(0) > 1)
            }
            _ => None,
        };
        shortened(&name.map_or_else(|| tag.to_owned(), |name| format!("{tag} {name}")), 22)
    }

    fn push(&mut self, section: Option<usize>, of: Thing, items: Vec<Item>, targets: Vec<Target>) {
        self.pieces.extend(Piece::new(of, items, targets).map(|piece| (section, piece)));
    }

    /// The title of the machine and the state it is drawn in; returns where the first section may begin.
    pub(super) fn paint_heading(&mut self, title: &str, state: &[String]) -> f64 {
        let mut items = Vec::new();
        let mut y = 0.0;
        for line in names::in_lines(title, TITLE_LETTERS) {
            items.push(text(Point::new(0.0, y), Anchor { x: -1, y: -1 }, TITLE_MM, &line, Ink::Line));
            y += TITLE_MM + 2.0;
        }
        y += 1.5;
        for line in state.iter().flat_map(|sentence| names::in_lines(sentence, LINE_LETTERS)) {
            items.push(text(Point::new(0.0, y), Anchor { x: -1, y: -1 }, WORD_MM, &line, Ink::Faint));
            y += WORD_LINE_MM;
        }
        self.push(Some(0), nothing("heading"), items, Vec::new());
        y + 4.0
    }

    /// Everything painted: one scene, and a drawing for each section.
    pub(super) fn painted(
        mut self,
        finished: &Finished,
        composed: &Composed,
        dots: &[(usize, Point)],
        off: &[Off],
    ) -> (Scene, Vec<Drawing>) {
        for (at, raw) in composed.sections.iter().enumerate() {
            self.paint_section(at, raw, finished);
        }
        for (at, device) in finished.devices.iter().enumerate() {
            if let Some((put, edge)) = finished.puts.get(at) {
                self.paint_device(device, put, edge, finished);
            }
        }
        self.paint_margins(finished, composed);
        let bottom = composed.sections.last().map_or(24.0, |section| section.area.max.y + 18.0);
        self.paint_off(off, bottom);
        self.paint_lines(finished, composed, dots);
        self.drawings(finished)
    }

    fn paint_section(&mut self, at: usize, raw: &RawSection, finished: &Finished) {
        let Some(section) = finished.sections.get(at) else { return };
        let heading = Point::new(0.0, raw.top);
        let mut items = vec![text(heading, Anchor { x: -1, y: -1 }, HEADING_MM, &section.title, Ink::Line)];
        let mut targets = Vec::new();
        let power = section.kind == SectionKind::Power;
        for (slot, (pole, place)) in section.poles.iter().zip(&raw.poles).enumerate() {
            let drawn_giver = raw.drawn_giver.is_some() || section.kind == SectionKind::Input;
            if !drawn_giver {
                let shape = Shape::Disc {
                    at: place.at,
                    radius_mm: 0.9,
                    fill: Some(Ink::Paper),
                    edge: Some((Ink::Line, LINE_MM)),
                };
                items.push(Item { layer: Layer::Ends, shape });
            }
            let (_, marking) = pole.name.rsplit_once('.').unwrap_or(("", &pole.name));
            let name = if power { marking } else { pole.name.as_str() };
            items.push(text(place.at.moved(0.0, -1.7), ABOVE, WORD_MM, &shortened(name, 12), Ink::Line));
            let number = finished.nets.get(pole.net).and_then(|net| net.number.as_deref());
            let number = number.map(if power { drawn_on_pole } else { drawn });
            if let Some(number) = number {
                let (dx, x) = if slot == 1 && !power { (-1.3, 1) } else { (1.3, -1) };
                items.push(text(place.at.moved(dx, 1.3), Anchor { x, y: -1 }, NUMBER_MM, &number, Ink::Note));
            }
            targets.push(Target {
                of: Handle::Thing(Thing::from(pole.terminal.clone())),
                place: TargetPlace::Point { at: place.at, radius_mm: 1.5 },
            });
        }
        self.push(Some(at), section.fed_by.into(), items, targets);
    }

    fn paint_lines(&mut self, finished: &Finished, composed: &Composed, dots: &[(usize, Point)]) {
        let section_at = |y: f64| {
            let at = composed.sections.partition_point(|section| section.area.max.y + 1e-6 < y);
            at.min(composed.sections.len().saturating_sub(1))
        };
        for &(net, at) in dots {
            let shape = Shape::Disc { at, radius_mm: DOT_MM, fill: Some(Ink::Line), edge: None };
            let drawn = finished.drawn.get(&net).and_then(|&net| finished.nets.get(net));
            let of = drawn.and_then(|net| net.wires.first()).map_or_else(|| nothing("net"), |&wire| wire.into());
            self.push(Some(section_at(at.y)), of, vec![Item { layer: Layer::Ends, shape }], Vec::new());
        }
        // Scenes have their wires after everything else.
        for stretch in &finished.stretches {
            let points = stretch.ends.to_vec();
            let shape = Shape::Line { points: points.clone(), ink: Ink::Line, width_mm: LINE_MM, dash_mm: None };
            let first = stretch.wires.first();
            let of = first.map_or_else(|| nothing("net"), |&wire| wire.into());
            let place = TargetPlace::Path { points, width_mm: 1.6 };
            let targets = vec![Target { of: Handle::Thing(of.clone()), place }];
            let section = section_at(stretch.ends[0].y);
            let wire = PlainWire { points: stretch.ends.to_vec(), ink: Ink::Line, width_mm: LINE_MM };
            let piece = Piece::new(of, vec![Item { layer: Layer::Wires, shape }], targets);
            self.pieces.extend(piece.map(|mut piece| {
                piece.plain = Some(wire);
                (Some(section), piece)
            }));
        }
    }

    fn paint_device(&mut self, device: &Device, put: &Put, edge: &Edge, finished: &Finished) {
        let mut items = symbol(self.machine, self.catalogue, edge, self.style, (put.at, put.upright, put.turned));
        let extent = extent(&items).unwrap_or(Area { min: put.at, max: put.at });
        let body = self.network.body(edge.part);
        let markings = device.ends.each_ref().map(|end| {
            // A point inside a part has no marking that can be read there.
            let terminal = body.and_then(|body| body.terminal(end.terminal.marking.as_str()));
            terminal.map(|terminal| shortened(terminal.label(), MARKING_LETTERS))
        });
        if put.upright {
            self.words_upright(&mut items, put, edge, &markings);
        } else {
            self.words_level(&mut items, (device, put, edge), extent, &markings);
            wire_numbers(&mut items, device, finished);
        }
        if let Some(words) = coil_reference(device, edge, finished) {
            let (at, anchor) = if put.upright {
                (put.at.moved(4.0, 3.2), Anchor::LEFT)
            } else {
                (put.at.moved(0.0, (extent.max.y - put.at.y).max(2.6) + 0.6), BELOW)
            };
            items.push(text(at, anchor, NUMBER_MM, &words, Ink::Faint));
        }
        let mut targets: Vec<Target> = device
            .ends
            .iter()
            .filter(|end| body.is_some_and(|body| body.terminal(end.terminal.marking.as_str()).is_some()))
            .map(|end| Target {
                of: Handle::Thing(Thing::Spot(Spot::Terminal(end.terminal.clone()))),
                place: TargetPlace::Point { at: end.at, radius_mm: 1.0 },
            })
            .collect();
        targets.push(Target {
            of: Handle::Thing(edge.part.into()),
            place: TargetPlace::Quad(extent.grown(0.5).corners()),
        });
        self.push(Some(device.section), edge.part.into(), items, targets);
    }

    fn words_level(
        &self,
        items: &mut Vec<Item>,
        (_, put, edge): (&Device, &Put, &Edge),
        extent: Area,
        markings: &[Option<String>; 2],
    ) {
        let above = (put.at.y - extent.min.y).max(2.2) + 0.9;
        items.push(text(put.at.moved(0.0, -above), ABOVE, TAG_MM, &self.tag(edge), Ink::Line));
        for (marking, side) in markings.iter().zip([-1.0, 1.0]) {
            if let Some(marking) = marking {
                let anchor = Anchor { x: if side < 0.0 { 1 } else { -1 }, y: -1 };
                items.push(text(put.at.moved(side * BODY_MM, 0.9), anchor, MARKING_MM, marking, Ink::Faint));
            }
        }
    }

    fn words_upright(&self, items: &mut Vec<Item>, put: &Put, edge: &Edge, markings: &[Option<String>; 2]) {
        items.push(text(put.at.moved(4.0, 0.0), Anchor::LEFT, TAG_MM, &self.tag(edge), Ink::Line));
        for (marking, side) in markings.iter().zip([-1.0, 1.0]) {
            if let Some(marking) = marking {
                items.push(text(put.at.moved(1.2, side * 4.2), Anchor::LEFT, MARKING_MM, marking, Ink::Faint));
            }
        }
    }

    /// Rung numbers on the left; on the right what a load is, and where the contacts of a coil are.
    fn paint_margins(&mut self, finished: &Finished, composed: &Composed) {
        let mut named = None;
        for rung in &finished.rungs {
            let Some(raw) = composed.sections.get(rung.section) else { continue };
            let number = rung.number.to_string();
            let left = Point::new(raw.rails[0] - 6.0, rung.y_mm);
            let mut items = vec![text(left, Anchor::RIGHT, TAG_MM, &number, Ink::Line)];
            let on =
                || rung.devices.iter().filter_map(|&at| Some((finished.devices.get(at)?, &finished.puts.get(at)?.1)));
            let coil = on().find(|(device, _)| device.what == What::Coil);
            let Some((device, edge)) = coil.or_else(|| on().rfind(|(_, edge)| edge.is_load())) else {
                self.push(Some(rung.section), nothing("rung"), items, Vec::new());
                continue;
            };
            let right = Point::new(raw.rails[1] + 4.0, rung.y_mm);
            let part = self.machine.parts.get(edge.part);
            let title = part.map(|part| part.title.as_str()).filter(|title| !title.is_empty());
            let kind = part.and_then(|part| self.catalogue.kind(&part.kind)).map(|kind| kind.title.as_str());
            let is_coil = device.what == What::Coil;
            if let Some(title) = title.or(kind).filter(|_| named != Some(edge.part)) {
                let y = if is_coil { -2.0 } else { 0.0 };
                items.push(text(
                    right.moved(0.0, y),
                    Anchor::LEFT,
                    WORD_MM,
                    &shortened(title, BESIDE_LETTERS),
                    Ink::Line,
                ));
            }
            named = Some(edge.part);
            if is_coil {
                references(&mut items, device, finished, right.moved(0.0, 1.6));
            }
            self.push(Some(rung.section), nothing("rung"), items, Vec::new());
        }
    }

    /// What is not on the ladder, line by line.
    fn paint_off(&mut self, off: &[Off], top: f64) {
        if off.is_empty() {
            return;
        }
        let mut y = top;
        let heading = text(Point::new(0.0, y), Anchor { x: -1, y: -1 }, HEADING_MM, "Not on the ladder", Ink::Line);
        self.push(None, nothing("off"), vec![heading], Vec::new());
        y += HEADING_MM + 3.0;
        for (of, sentence) in super::off::sentences(off) {
            let mut items = Vec::new();
            let sentence = format!("{sentence}.");
            let from = y;
            for (at, line) in names::in_lines(&sentence, LINE_LETTERS).into_iter().enumerate() {
                let x = if at == 0 { 0.0 } else { 4.0 };
                items.push(text(Point::new(x, y), Anchor { x: -1, y: -1 }, WORD_MM, &line, Ink::Line));
                y += WORD_LINE_MM;
            }
            let width = width_mm(&sentence, WORD_MM).min(LINE_LETTERS as f64 * WORD_MM * LETTER);
            let area = Area { min: Point::new(0.0, from), max: Point::new(width, y - 1.0) };
            let place = TargetPlace::Quad(area.corners());
            let targets = vec![Target { of: Handle::Thing(of.clone()), place }];
            self.push(None, of, items, targets);
        }
    }

    fn drawings(self, finished: &Finished) -> (Scene, Vec<Drawing>) {
        let mut of: Vec<Vec<Arc<Piece>>> = vec![Vec::new(); finished.sections.len().max(1)];
        let mut left_out = Vec::new();
        let mut all = Vec::new();
        for (section, piece) in self.pieces {
            let piece = Arc::new(piece);
            match section.and_then(|section| of.get_mut(section)) {
                Some(own) => own.push(Arc::clone(&piece)),
                None => left_out.push(Arc::clone(&piece)),
            }
            all.push(piece);
        }
        let mut drawings = Vec::new();
        for (at, pieces) in of.into_iter().enumerate() {
            let scene = Scene::new(pieces);
            let Some(area) = scene.area() else { continue };
            let from = finished.rungs.partition_point(|rung| rung.section < at);
            let rungs = finished.rungs.iter().skip(from).take_while(|rung| rung.section == at);
            let rungs: Vec<_> = rungs.collect();
            let section = finished.sections.get(at);
            let end = section.map_or(area.max.y, |section| section.area.max.y);
            let parted = rungs.windows(2).filter(|two| two[0].group != two[1].group);
            drawings.push(Drawing {
                title: section.map(|section| section.title.clone()).unwrap_or_default(),
                area: Some(area),
                // As far above a rung as its words may reach.
                breaks_mm: parted.map(|two| two[1].y_mm - ROW_MM / 2.0).collect(),
                head_mm: rungs.first().map_or(end, |rung| rung.y_mm - ROW_MM / 2.0),
                scene,
            });
        }
        let scene = Scene::new(left_out);
        if let Some(area) = scene.area() {
            let lines = scene.pieces().iter().skip(1).map(|piece| piece.area.min.y - 0.5);
            drawings.push(Drawing {
                title: "Not on the ladder".to_owned(),
                area: Some(area),
                breaks_mm: lines.collect(),
                head_mm: area.min.y + HEADING_MM + 1.0,
                scene,
            });
        }
        (Scene::new(all), drawings)
    }
}

/// The wire number left of a device, and right of it where the next thing on the line is no device.
fn wire_numbers(items: &mut Vec<Item>, device: &Device, finished: &Finished) {
    let number =
        |net: usize| finished.nets.get(net).and_then(|net| net.number.as_deref()).map(drawn).filter(|n| !n.is_empty());
    let [left, right] = &device.ends;
    if let Some(number) = number(left.net) {
        items.push(text(left.at.moved(-0.5, -0.7), Anchor { x: 1, y: 1 }, NUMBER_MM, &number, Ink::Note));
    }
    let rung = device.rung.and_then(|rung| finished.rungs.get(rung));
    let followed = rung.is_some_and(|rung| {
        let others = rung.devices.iter().filter_map(|&other| finished.devices.get(other));
        others.into_iter().any(|other| other.ends[0].net == right.net && other.at.x > device.at.x)
    });
    if !followed && let Some(number) = number(right.net) {
        items.push(text(right.at.moved(0.5, -0.7), Anchor { x: -1, y: 1 }, NUMBER_MM, &number, Ink::Note));
    }
}

/// Where the coil of a contact is.
fn coil_reference(device: &Device, edge: &Edge, finished: &Finished) -> Option<String> {
    if !matches!(device.what, What::Contact(_)) {
        return None;
    }
    edge.relay?;
    let coil = device.references.first().and_then(|reference| finished.devices.get(reference.device));
    let rung = coil.and_then(|coil| coil.rung).and_then(|rung| finished.rungs.get(rung));
    Some(rung.map_or_else(|| "coil in the list".to_owned(), |rung| format!("({})", rung.number)))
}

/// The rungs on which the contacts of a coil are; those of break contacts are underlined.
fn references(items: &mut Vec<Item>, coil: &Device, finished: &Finished, at: Point) {
    let mut rungs: Vec<(usize, bool)> = coil
        .references
        .iter()
        .filter_map(|one| {
            let rung = finished.devices.get(one.device)?.rung?;
            Some((finished.rungs.get(rung)?.number, one.breaks))
        })
        .collect();
    rungs.sort_unstable();
    rungs.dedup();
    if rungs.is_empty() {
        items.push(text(at, Anchor::LEFT, NUMBER_MM, "no contact on the ladder", Ink::Faint));
        return;
    }
    let mut x = 0.0;
    for (number, breaks) in rungs {
        let words = number.to_string();
        let width = width_mm(&words, WORD_MM);
        items.push(text(at.moved(x, 0.0), Anchor::LEFT, WORD_MM, &words, Ink::Line));
        if breaks {
            let y = WORD_MM / 2.0 + 0.6;
            let points = vec![at.moved(x, y), at.moved(x + width, y)];
            let shape = Shape::Line { points, ink: Ink::Line, width_mm: 0.25, dash_mm: None };
            items.push(Item { layer: Layer::Labels, shape });
        }
        x += width + 2.5;
    }
}

/// What stands for nothing of the record.
fn nothing(name: &str) -> Thing {
    Thing::Spot(Spot::Gone(name.to_owned()))
}
