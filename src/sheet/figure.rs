//! A drawing made ready for paper: plain lines, areas, circles and letters in millimetres of one figure, with letters that lie beside
//! one another, never over one another.

use std::collections::BTreeMap;

use serde::Serialize;

use crate::drawing::style::{Ground, base_and_stripe, letters_on, rgba, wire_edge};
use crate::drawing::{Anchor, Area, Flag, FlagForm, Ink, Item, Layer, Path, Priority, Run, Shape, WireRun};
use crate::machine::{Point, Thing};

use super::clip::{clipped_area, clipped_line};
use super::letters::{Label, Letters, Placed, width_mm};

/// Height of capitals on paper at the least, in millimetres: about 6 points. Below that print from an office printer is hard to read in
/// poor light; common practice, no source.
pub(super) const LEAST_CAPITALS_MM: f64 = 1.5;

/// The same for markings of terminals, which stand close together and are listed part by part besides.
const LEAST_MARKING_MM: f64 = 1.3;

/// Lines on paper are at least so wide, in millimetres: a quarter of a point is the finest that office printers hold.
const LEAST_LINE_MM: f64 = 0.12;

/// A colour as `#rrggbb`.
pub type Hex = String;

/// One thing to draw. Coordinates are millimetres from the top left corner of the figure.
#[derive(Debug, Clone, PartialEq, Serialize)]
#[serde(tag = "k")]
pub enum Prim {
    /// Lines of one look.
    #[serde(rename = "l")]
    Lines {
        /// Each through its points.
        p: Vec<Vec<[f64; 2]>>,
        /// Colour.
        c: Hex,
        /// Width.
        w: f64,
        /// Stroke and gap, where dashed.
        d: Option<[f64; 2]>,
    },
    /// A filled area.
    #[serde(rename = "f")]
    Filled {
        /// Corners.
        p: Vec<[f64; 2]>,
        /// Colour.
        c: Hex,
    },
    /// A circle.
    #[serde(rename = "c")]
    Disc {
        /// Centre.
        p: [f64; 2],
        /// Radius.
        r: f64,
        /// Colour inside.
        f: Option<Hex>,
        /// Colour of the edge.
        c: Option<Hex>,
        /// Width of the edge.
        w: f64,
    },
    /// Letters.
    #[serde(rename = "t")]
    Text {
        /// Top left corner of the capitals; of letters that read upwards the bottom left one.
        p: [f64; 2],
        /// Height of capitals.
        s: f64,
        /// The letters.
        t: String,
        /// Colour.
        c: Hex,
        /// Whether they are turned a quarter, reading upwards.
        up: bool,
    },
}

/// One figure.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct Figure {
    /// Width in millimetres.
    pub width: f64,
    /// Height in millimetres.
    pub height: f64,
    /// What is drawn, in order.
    pub prims: Vec<Prim>,
    /// Letters that found no room.
    pub left_out: usize,
}

/// How canvas places come onto paper.
pub(super) struct Onto<'a> {
    /// The place on the figure of a place on the canvas.
    pub(super) map: &'a dyn Fn(Point) -> Point,
    /// Millimetres of paper for one of the canvas.
    pub(super) scale: f64,
    /// Where letters and areas may be, in the figure.
    pub(super) room: Area,
    /// Whether there is a photo under it: lines and letters get a light ground then.
    pub(super) on_photo: bool,
    /// Letters below this priority are left out.
    pub(super) least: Priority,
    /// Where letters of something else stand.
    pub(super) reserved: &'a [Area],
}

/// A colour of the print table.
pub(super) fn hex([r, g, b, _]: [u8; 4]) -> Hex {
    format!("#{r:02x}{g:02x}{b:02x}")
}

/// An ink as it is printed.
pub(super) fn ink_hex(ink: Ink) -> Hex {
    hex(rgba(ink, Ground::Print))
}

/// Rounded to a thousandth of a millimetre: less is noise, and would make files larger.
pub(super) fn xy(point: Point) -> [f64; 2] {
    [round(point.x), round(point.y)]
}

/// As [`xy`], for one number.
pub(super) fn round(value: f64) -> f64 {
    let rounded = (value * 1000.0).round() / 1000.0;
    if rounded == 0.0 { 0.0 } else { rounded }
}

/// A shape with what it stands for.
pub(super) type Of<'i> = (Option<&'i Thing>, &'i Item);

/// Draws shapes, in the order given, and their letters on top.
pub(super) fn drawn<'i>(items: impl Iterator<Item = Of<'i>>, onto: &Onto<'_>) -> (Vec<Prim>, usize) {
    let mut pen = Pen { onto, prims: Vec::new(), letters: Letters::new(onto.room), ways: BTreeMap::new() };
    for &area in onto.reserved {
        pen.letters.reserve(area);
    }
    for (of, item) in items {
        pen.item(of, item);
    }
    let Pen { mut prims, letters, .. } = pen;
    let (placed, left_out) = letters.placed();
    for one in placed {
        frame(&one, onto.on_photo, &mut prims);
    }
    (prims, left_out)
}

struct Pen<'a, 'i> {
    onto: &'a Onto<'a>,
    prims: Vec<Prim>,
    letters: Letters,
    /// Where each wire runs in the room.
    ways: BTreeMap<&'i Thing, Vec<Vec<[f64; 2]>>>,
}

impl<'i> Pen<'_, 'i> {
    fn item(&mut self, of: Option<&'i Thing>, item: &Item) {
        let width = |mm: f64| round((mm * self.onto.scale).max(LEAST_LINE_MM));
        match &item.shape {
            Shape::Line { points, ink, width_mm, dash_mm } => {
                let (w, d) = (width(*width_mm), dash_mm.map(|dash| self.dash(dash)));
                self.keep_free(item);
                let lines = self.lines(points);
                if self.onto.on_photo && item.layer == Layer::Symbols {
                    self.add(&lines, &ink_hex(Ink::Halo), w + 0.6, None);
                }
                self.add(&lines, &ink_hex(*ink), w, d);
            }
            // The ground of a part would hide the photo.
            Shape::Filled { .. } if self.onto.on_photo && item.layer == Layer::Bodies => {}
            Shape::Filled { points, ink } => {
                let corners: Vec<Point> = points.iter().map(|&at| (self.onto.map)(at)).collect();
                let p: Vec<[f64; 2]> = clipped_area(&corners, self.onto.room).into_iter().map(xy).collect();
                if p.len() > 2 {
                    self.prims.push(Prim::Filled { p, c: ink_hex(*ink) });
                }
            }
            Shape::Disc { at, radius_mm, fill, edge } => {
                let centre = (self.onto.map)(*at);
                if !self.onto.room.contains(centre) {
                    return;
                }
                self.keep_free(item);
                let (c, w) = edge.map_or((None, 0.0), |(ink, mm)| (Some(ink_hex(ink)), width(mm)));
                let r = round(radius_mm * self.onto.scale);
                self.prims.push(Prim::Disc { p: xy(centre), r, f: fill.map(ink_hex), c, w });
            }
            Shape::Wire(run) => self.wire(of, run),
            // Letters of a symbol are part of it, and stay in it.
            Shape::Text { at, size_mm, text, ink, .. } if item.layer == Layer::Symbols => {
                self.in_symbol(*at, *size_mm, text, *ink);
            }
            Shape::Text { at, anchor, size_mm, text, ink, priority } => {
                let label = Label { anchor: *anchor, text, ink: *ink, priority: *priority, form: None };
                self.letters(of, *at, *size_mm, label);
            }
            Shape::Flag(Flag { at, form, text, size_mm }) => {
                let (anchor, priority) = (Anchor::CENTRE, Priority::Marking);
                self.letters(of, *at, *size_mm, Label { anchor, text, ink: Ink::Line, priority, form: Some(*form) });
            }
        }
    }

    fn letters(&mut self, of: Option<&Thing>, at: Point, size_mm: f64, label: Label<'_>) {
        if label.priority > self.onto.least || label.text.is_empty() {
            return;
        }
        let place = (self.onto.map)(at);
        let is_here = self.onto.room.grown(0.5).contains(place);
        let least = if label.priority == Priority::Marking { LEAST_MARKING_MM } else { LEAST_CAPITALS_MM };
        let size = (size_mm * self.onto.scale).max(least);
        // What is written on a wire may stand anywhere along it, a key also where only a piece of the wire is in the room.
        let is_key = label.priority == Priority::Title && label.form.is_none();
        let ways = of.and_then(|of| self.ways.get(of)).filter(|_| is_key || label.form.is_some());
        let along = ways.map(|ways| beside(ways, &label, size)).unwrap_or_default();
        let place = match along.first() {
            _ if is_here => place,
            Some(&first) if is_key => first,
            // What lies outside belongs to another figure.
            _ => return,
        };
        self.letters.want(place, size, label, along);
    }

    /// Letters in the middle of a symbol, as large as they are drawn; none where they would be cut off.
    fn in_symbol(&mut self, at: Point, size_mm: f64, text: &str, ink: Ink) {
        let (centre, size) = ((self.onto.map)(at), size_mm * self.onto.scale);
        let (half, high) = (width_mm(text, size) / 2.0, size / 2.0);
        let area = Area { min: centre.moved(-half, -high), max: centre.moved(half, high) };
        if self.onto.room.contains_area(area) && self.onto.least == Priority::Title {
            self.letters.reserve(area);
            self.prims.push(Prim::Text {
                p: xy(area.min),
                s: round(size),
                t: text.to_owned(),
                c: ink_hex(ink),
                up: false,
            });
        }
    }

    /// Terminals and the marks of how ends are known are not to be covered by letters.
    fn keep_free(&mut self, item: &Item) {
        if item.layer != Layer::Ends || self.onto.least < Priority::Title {
            return;
        }
        if let Some(area) = item.area() {
            let corners = area.corners().map(|corner| (self.onto.map)(corner));
            if let Some(area) = Area::round(corners) {
                self.letters.keep_free(area);
            }
        }
    }

    /// A line through points, as far as it lies in the room: none, one, or more.
    fn lines(&self, points: &[Point]) -> Vec<Vec<[f64; 2]>> {
        let mut all: Vec<Point> = Vec::with_capacity(points.len());
        for &point in points {
            let next = (self.onto.map)(point);
            if let [.., a, b] = all.as_slice()
                && on_the_way(*a, *b, next)
            {
                all.pop();
            }
            all.push(next);
        }
        clipped_line(&all, self.onto.room).into_iter().map(|line| line.into_iter().map(xy).collect()).collect()
    }

    fn dash(&self, (stroke, gap): (f64, f64)) -> [f64; 2] {
        let factor = self.onto.scale.max(0.45);
        [round(stroke * factor), round(gap * factor)]
    }

    /// Adds lines to those before them where they look the same: fewer things to lay out.
    fn add(&mut self, lines: &[Vec<[f64; 2]>], colour: &str, width: f64, dash: Option<[f64; 2]>) {
        if lines.is_empty() {
            return;
        }
        match self.prims.last_mut() {
            Some(Prim::Lines { p, c, w, d }) if *c == colour && *w == width && *d == dash => p.extend_from_slice(lines),
            _ => self.prims.push(Prim::Lines { p: lines.to_vec(), c: colour.to_owned(), w: width, d: dash }),
        }
    }

    /// Edge, insulation, stripe. Whose colour is not recorded is drawn open, and the bare bar full.
    fn wire(&mut self, of: Option<&'i Thing>, run: &WireRun) {
        let lines = self.lines(&run.points);
        if let Some(of) = of {
            self.ways.entry(of).or_default().extend_from_slice(&lines);
        }
        let width = round((run.width_mm * self.onto.scale).max(0.5));
        let dash = run.run.dash_mm().map(|dash| self.dash(dash));
        let edge = hex(wire_edge(Ground::Print));
        if run.run == Run::Ghost {
            return self.add(&lines, &ink_hex(Ink::Ghost), round(width * 0.4).max(0.25), dash);
        }
        let (base, stripe) = match (run.run, run.colour) {
            (Run::Bar, _) => (Ink::Metal, None),
            (_, Some(colour)) => base_and_stripe(colour),
            (_, None) => (Ink::Paper, None),
        };
        if self.onto.on_photo {
            self.add(&lines, &ink_hex(Ink::Halo), width + 0.7, None);
        }
        self.add(&lines, &edge, width + 0.3, dash);
        self.add(&lines, &ink_hex(base), width - 0.05, dash);
        if let Some(stripe) = stripe {
            self.add(&lines, &ink_hex(stripe), round(width * 0.35), dash);
        }
    }
}

/// Places for letters along a wire: on it for those in a frame, beside it for others; the middle of its longest piece first.
fn beside(ways: &[Vec<[f64; 2]>], label: &Label<'_>, size: f64) -> Vec<Point> {
    let length =
        |way: &Vec<[f64; 2]>| way.windows(2).map(|ab| (ab[1][0] - ab[0][0]).hypot(ab[1][1] - ab[0][1])).sum::<f64>();
    let mut ways: Vec<&Vec<[f64; 2]>> = ways.iter().collect();
    ways.sort_by(|a, b| length(b).total_cmp(&length(a)));
    let half = width_mm(label.text, size) / 2.0;
    let mut places = Vec::new();
    for way in ways {
        let path = Path::new(way.iter().map(|&[x, y]| Point::new(x, y)).collect());
        for share in [0.5, 0.35, 0.65, 0.2, 0.8, 0.1, 0.9] {
            let (at, (dx, dy)) = path.at_share(share);
            if label.form.is_some() {
                places.push(at);
                continue;
            }
            // Far enough from the line for letters that stand level, on either side.
            let off = dy.abs() * half + dx.abs() * size / 2.0 + 1.1;
            places.extend([at.moved(dy * off, -dx * off), at.moved(-dy * off, dx * off)]);
        }
    }
    places
}

/// Whether the middle of three points lies on the straight between the others, to a hundredth of a millimetre.
fn on_the_way(a: Point, b: Point, c: Point) -> bool {
    let (dx, dy) = (c.x - a.x, c.y - a.y);
    let length = dx.hypot(dy);
    if length < 1e-6 {
        return false;
    }
    let across = ((b.x - a.x) * dy - (b.y - a.y) * dx).abs() / length;
    let along = ((b.x - a.x) * dx + (b.y - a.y) * dy) / length;
    across < 0.01 && along >= 0.0 && along <= length
}

/// Letters with what is drawn under them.
fn frame(one: &Placed, on_photo: bool, prims: &mut Vec<Prim>) {
    let corners = |area: Area| -> Vec<[f64; 2]> { area.corners().map(xy).to_vec() };
    let closed = |mut p: Vec<[f64; 2]>| {
        p.extend(p.first().copied());
        p
    };
    // Letters that stand back on a screen are printed in full.
    let mut colour = ink_hex(if one.ink == Ink::Faint { Ink::Line } else { one.ink });
    match one.form {
        Some(FlagForm::WireNumber) => {
            let p = corners(one.area);
            prims.push(Prim::Filled { p: p.clone(), c: ink_hex(Ink::Paper) });
            prims.push(Prim::Lines { p: vec![closed(p)], c: ink_hex(Ink::Line), w: 0.15, d: None });
        }
        Some(form) => {
            let p = outline(form, one.area);
            let under = match form {
                FlagForm::Diamond => Ink::Danger,
                FlagForm::Triangle => Ink::Fault,
                FlagForm::Circle => Ink::Doubt,
                FlagForm::WireNumber | FlagForm::Square => Ink::Note,
            };
            colour = hex(letters_on(under, Ground::Print));
            prims.push(Prim::Filled { p: p.clone(), c: ink_hex(under) });
            prims.push(Prim::Lines { p: vec![closed(p)], c: ink_hex(Ink::Line), w: 0.2, d: None });
        }
        // Letters are read on paper, not on what lies under them; on a photo with a little more of it.
        None => {
            let area = one.area.grown(if on_photo { 0.1 } else { -0.1 });
            prims.push(Prim::Filled { p: corners(area), c: ink_hex(Ink::Paper) });
        }
    }
    prims.push(Prim::Text { p: xy(one.at), s: round(one.size), t: one.text.clone(), c: colour, up: false });
}

/// The frame of a finding's flag: told by its form alone.
fn outline(form: FlagForm, area: Area) -> Vec<[f64; 2]> {
    let (centre, r) = (area.centre(), area.height() / 2.0);
    let corner = |degrees: f64, r: f64| {
        let (sin, cos) = degrees.to_radians().sin_cos();
        xy(centre.moved(r * cos, r * sin))
    };
    match form {
        FlagForm::Diamond => [0.0, 90.0, 180.0, 270.0].map(|turn| corner(turn, r)).to_vec(),
        FlagForm::Triangle => [-90.0, 30.0, 150.0].map(|turn| corner(turn, r * 1.2)).to_vec(),
        FlagForm::Circle => (0..24).map(|n| corner(f64::from(n) * 15.0, r)).collect(),
        FlagForm::WireNumber | FlagForm::Square => area.corners().map(xy).to_vec(),
    }
}
