//! Where letters go on paper: each at its place, or near it, so that none lies over another and none is cut off.

use std::collections::BTreeMap;

use crate::drawing::{Anchor, Area, FlagForm, Ink, Priority};
use crate::machine::Point;

/// Room between the letters of two labels, in millimetres.
const APART_MM: f64 = 0.25;

/// How far a tag or a title may move from its place, in its own heights.
const FARTHEST: f64 = 7.0;

/// The same for markings and for what is written on wires: farther off they would be read at another terminal or wire.
const NEAR: f64 = 1.7;

/// Side of the cells that labels are found by, in millimetres.
const CELL_MM: f64 = 10.0;

/// A label that has its place.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Placed {
    /// Top left corner of the capitals.
    pub(super) at: Point,
    /// Height of capitals.
    pub(super) size: f64,
    /// The letters.
    pub(super) text: String,
    /// Their ink.
    pub(super) ink: Ink,
    /// Form of the frame, where there is one.
    pub(super) form: Option<FlagForm>,
    /// What it takes, frame included.
    pub(super) area: Area,
}

/// What is to be written, and how.
#[derive(Debug, Clone, Copy)]
pub(super) struct Label<'a> {
    /// Which part of the letters lies on their place.
    pub(super) anchor: Anchor,
    /// The letters.
    pub(super) text: &'a str,
    /// Their ink.
    pub(super) ink: Ink,
    /// Which labels find a place first.
    pub(super) priority: Priority,
    /// Form of the frame, where there is one.
    pub(super) form: Option<FlagForm>,
}

/// A label that wants a place.
struct Wanted {
    at: Point,
    anchor: Anchor,
    size: f64,
    text: String,
    ink: Ink,
    priority: Priority,
    form: Option<FlagForm>,
    /// Other places for its middle, best first.
    along: Vec<Point>,
    /// It is the next line of the title before it, and stays below that.
    goes_on: bool,
}

impl Wanted {
    /// Whether it is a line of the title of a part.
    fn is_title(&self) -> bool {
        self.priority == Priority::Title && self.form.is_none() && self.along.is_empty()
    }

    /// Whether this is the next line of the same title: right below, set alike.
    fn is_followed_by(&self, next: &Self) -> bool {
        let down = next.at.y - self.at.y;
        let alike = self.anchor == next.anchor && (self.at.x - next.at.x).abs() < 1e-6;
        self.is_title() && next.is_title() && alike && down > 0.0 && down < self.size * 3.0
    }
}

/// Labels of one figure.
pub(super) struct Letters {
    room: Area,
    wanted: Vec<Wanted>,
    taken: ByCell,
    /// What letters keep off.
    kept: ByCell,
}

/// Areas by the cells they lie in.
type ByCell = BTreeMap<(i32, i32), Vec<Area>>;

fn put(places: &mut ByCell, area: Area) {
    for cell in cells(area) {
        places.entry(cell).or_default().push(area);
    }
}

/// Width of letters in millimetres for a height of capitals, never less than they take in the typeface of the sheet. Source: the advance
/// widths of B612 (`hmtx`) over its height of capitals: figures 0.87, capitals up to 1.07, small letters up to 0.80, a few wider.
pub(super) fn width_mm(text: &str, size: f64) -> f64 {
    let of = |c: char| match c {
        'i' | 'j' | 'l' | 't' | 'f' | 'r' | '.' | ',' | ':' | ';' | '\'' | '|' | '!' | ' ' | '(' | ')' | '-' => 0.6,
        'm' | 'w' | 'M' | 'W' | '@' | '%' => 1.34,
        '#' => 1.13,
        _ if c.is_ascii_uppercase() => 1.07,
        _ if c.is_ascii() => 0.94,
        _ => 1.34,
    };
    text.chars().map(of).sum::<f64>() * size
}

impl Letters {
    /// No labels yet, in a figure of this room.
    pub(super) fn new(room: Area) -> Self {
        Self { room, wanted: Vec::new(), taken: ByCell::new(), kept: ByCell::new() }
    }

    /// A label that is to come near this place, or else with its middle on one of those.
    pub(super) fn want(&mut self, at: Point, size: f64, label: Label<'_>, along: Vec<Point>) {
        let Label { anchor, text, ink, priority, form } = label;
        let mut wanted = Wanted { at, anchor, size, text: text.to_owned(), ink, priority, form, along, goes_on: false };
        wanted.goes_on = self.wanted.last().is_some_and(|last| last.is_followed_by(&wanted));
        self.wanted.push(wanted);
    }

    /// Other letters stand here.
    pub(super) fn reserve(&mut self, area: Area) {
        self.take(area);
    }

    /// No letters are to lie here, unless there is no other place.
    pub(super) fn keep_free(&mut self, area: Area) {
        if self.room.meets(area) {
            put(&mut self.kept, area);
        }
    }

    /// Every label that found room, the most important first, and how many did not.
    pub(super) fn placed(mut self) -> (Vec<Placed>, usize) {
        let mut wanted = std::mem::take(&mut self.wanted);
        // Frames stand on wires and move least.
        wanted.sort_by_key(|one| (one.priority, one.form.is_none()));
        let count = wanted.len();
        // Lines of one title still follow one another, and are placed together.
        let mut blocks: Vec<Vec<Wanted>> = Vec::new();
        for one in wanted {
            match blocks.last_mut() {
                Some(block) if one.goes_on => block.push(one),
                _ => blocks.push(vec![one]),
            }
        }
        let mut placed: Vec<Placed> = Vec::with_capacity(count);
        for mut block in blocks {
            if block.len() > 1 {
                placed.extend(self.place_lines(block));
            } else if let Some(one) = block.pop() {
                placed.extend(self.place(one));
            }
        }
        let left_out = count - placed.len();
        (placed, left_out)
    }

    fn place(&mut self, one: Wanted) -> Option<Placed> {
        let (width, height) = (width_mm(&one.text, one.size), one.size);
        let (x, y) = margins(&one, width);
        let [left, top] = corner(&one);
        let round = |left: f64, top: f64| {
            Area::between(Point::new(left - x, top - y), Point::new(left + width + x, top + height + y))
        };
        let own = round(left, top);
        let along = || one.along.iter().map(|at| round(at.x - width / 2.0, at.y - height / 2.0));
        let area = if one.form.is_some() {
            // A frame stands on its wire or nowhere; rather on the mark of an end than off the wire.
            [true, false].into_iter().find_map(|strict| {
                self.near(own, 0.0, strict).or_else(|| along().find_map(|own| self.near(own, 0.0, strict)))
            })
        } else {
            let farthest = if one.priority == Priority::Tag { FARTHEST } else { NEAR };
            let found = self.near(own, farthest, true).or_else(|| along().find_map(|own| self.near(own, 0.0, true)));
            // The title of a part may stand farther off than a marking, which would be read at the wrong terminal.
            found.or_else(|| one.is_title().then(|| self.near(own, FARTHEST, true)).flatten())
        }?;
        self.take(area);
        let at = Point::new(area.min.x + x, area.min.y + y);
        Some(Placed { at, size: one.size, text: one.text, ink: one.ink, form: one.form, area })
    }

    /// Lines that are read one after the other: in their order or not at all.
    fn place_lines(&mut self, lines: Vec<Wanted>) -> Vec<Placed> {
        let mut own: Vec<Area> = Vec::with_capacity(lines.len());
        for one in &lines {
            let (x, y) = margins(one, width_mm(&one.text, one.size));
            let [left, top] = corner(one);
            // On paper letters are not smaller than can be read, so lines may need more room than on the canvas.
            let top = own.last().map_or(top, |above| top.max(above.max.y + APART_MM + y));
            let right = left + width_mm(&one.text, one.size);
            own.push(Area::between(Point::new(left - x, top - y), Point::new(right + x, top + one.size + y)));
        }
        let found = || {
            let whole = own.iter().copied().reduce(Area::joined)?;
            let (dx, dy) = self.inward(whole)?;
            let line = own.first()?;
            spiral(whole.width(), line.height(), FARTHEST)
                .map(|(sx, sy)| (dx + sx, dy + sy))
                .find(|&(x, y)| own.iter().all(|area| self.is_free(area.moved(x, y), true)))
        };
        let Some((dx, dy)) = found() else { return Vec::new() };
        let mut placed = Vec::with_capacity(lines.len());
        for (one, area) in lines.into_iter().zip(own) {
            let (x, y) = margins(&one, width_mm(&one.text, one.size));
            let area = area.moved(dx, dy);
            self.take(area);
            let at = Point::new(area.min.x + x, area.min.y + y);
            placed.push(Placed { at, size: one.size, text: one.text, ink: one.ink, form: one.form, area });
        }
        placed
    }

    /// A free place for a label near its own, inside of the room; where not strict, what is to be kept free may be covered.
    fn near(&self, own: Area, farthest: f64, strict: bool) -> Option<Area> {
        let (dx, dy) = self.inward(own)?;
        let own = own.moved(dx, dy);
        spiral(own.width(), own.height(), farthest)
            .map(|(sx, sy)| own.moved(sx, sy))
            .find(|area| self.is_free(*area, strict))
    }

    /// How far a label has to move to lie in the room; `None` where it is larger than that.
    fn inward(&self, own: Area) -> Option<(f64, f64)> {
        let room = self.room;
        if own.width() > room.width() || own.height() > room.height() {
            return None;
        }
        let dx = (room.min.x - own.min.x).max(0.0) + (room.max.x - own.max.x).min(0.0);
        let dy = (room.min.y - own.min.y).max(0.0) + (room.max.y - own.max.y).min(0.0);
        Some((dx, dy))
    }

    fn is_free(&self, area: Area, strict: bool) -> bool {
        let grown = area.grown(APART_MM / 2.0);
        let clear =
            |places: &ByCell, cell| places.get(&cell).is_none_or(|there| !there.iter().any(|one| one.meets(grown)));
        self.room.grown(1e-6).contains_area(area)
            && cells(grown).all(|cell| clear(&self.taken, cell) && (!strict || clear(&self.kept, cell)))
    }

    fn take(&mut self, area: Area) {
        put(&mut self.taken, area.grown(APART_MM / 2.0));
    }
}

/// Room that letters take beside their own: below the line, for accents above it, and for their frame.
fn margins(one: &Wanted, width: f64) -> (f64, f64) {
    match one.form {
        Some(FlagForm::WireNumber) => (one.size * 0.35, one.size * 0.4),
        Some(_) => ((one.size * 2.4 - width).max(0.0) / 2.0, one.size * 0.7),
        None => (0.1, one.size * 0.22),
    }
}

/// The top left corner of a label's capitals where it stands at its place.
fn corner(one: &Wanted) -> [f64; 2] {
    let width = width_mm(&one.text, one.size);
    [
        one.at.x - width * (f64::from(one.anchor.x) + 1.0) / 2.0,
        one.at.y - one.size * (f64::from(one.anchor.y) + 1.0) / 2.0,
    ]
}

#[expect(
    clippy::cast_possible_truncation,
    reason = "a figure is some hundred millimetres wide; `as` bounds what is not"
)]
fn cells(area: Area) -> impl Iterator<Item = (i32, i32)> {
    let cell = |mm: f64| (mm / CELL_MM).floor() as i32; // bounded by `as`, and by the room
    let (left, right) = (cell(area.min.x), cell(area.max.x));
    let (top, bottom) = (cell(area.min.y), cell(area.max.y));
    (top..=bottom).flat_map(move |y| (left..=right).map(move |x| (x, y)))
}

/// Moves to try, nearest first: none, then rings of eight directions.
fn spiral(width: f64, height: f64, farthest: f64) -> impl Iterator<Item = (f64, f64)> {
    let step = height * 0.55;
    let rings = (1..=13_u32).map(f64::from).take_while(move |ring| ring * 0.55 <= farthest);
    let ring = move |ring: f64| {
        let (up, aside) = (step * ring, (width * 0.3).min(step * 2.0).max(step) * ring);
        [(0.0, -up), (0.0, up), (aside, 0.0), (-aside, 0.0), (aside, -up), (-aside, -up), (aside, up), (-aside, up)]
    };
    std::iter::once((0.0, 0.0)).chain(rings.flat_map(ring))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn room() -> Area {
        Area::between(Point::new(0.0, 0.0), Point::new(80.0, 40.0))
    }

    fn label(text: &str, priority: Priority) -> Label<'_> {
        Label { anchor: Anchor::CENTRE, text, ink: Ink::Line, priority, form: None }
    }

    #[test]
    fn labels_of_one_place_come_to_lie_beside_one_another() {
        let mut letters = Letters::new(room());
        let texts: Vec<String> = (0..9).map(|n| format!("W{n}")).collect();
        for text in &texts {
            letters.want(Point::new(40.0, 20.0), 1.7, label(text, Priority::Tag), Vec::new());
        }
        let (placed, left_out) = letters.placed();
        assert_eq!((placed.len(), left_out), (9, 0));
        for (n, one) in placed.iter().enumerate() {
            assert!(placed[n + 1..].iter().all(|other| !one.area.meets(other.area)), "{one:?}");
        }
    }

    #[test]
    fn lines_of_a_title_stay_in_their_order_wherever_they_find_room() {
        for crowd in 0..30 {
            let mut letters = Letters::new(room());
            // Something else stands where the title would, a little different each time.
            for n in 0..crowd {
                let at = Point::new(30.0 + f64::from(n % 5) * 6.0, 14.0 + f64::from(n / 5) * 2.4);
                letters.want(at, 1.7, label("W12", Priority::Tag), Vec::new());
            }
            let at = Point::new(40.0, 19.0);
            for (n, text) in ["evaporator fan", "behind the grille", "on the left"].into_iter().enumerate() {
                let line = Label { anchor: Anchor { x: -1, y: -1 }, ..label(text, Priority::Title) };
                letters.want(at.moved(0.0, n as f64 * 1.2), 1.7, line, Vec::new());
            }
            let (placed, _) = letters.placed();
            let top = |text: &str| placed.iter().find(|one| one.text == text).map(|one| one.area);
            match ["evaporator fan", "behind the grille", "on the left"].map(top) {
                [Some(a), Some(b), Some(c)] => {
                    assert!(a.max.y <= b.min.y && b.max.y <= c.min.y, "{crowd}: {a:?} {b:?} {c:?}");
                    assert!(c.max.y - a.min.y < 12.0, "{crowd}: one block");
                }
                [None, None, None] => {}
                some => panic!("{crowd}: a title in pieces: {some:?}"),
            }
        }
    }

    #[test]
    fn a_marking_stays_near_its_terminal_or_is_left_out() {
        let mut letters = Letters::new(room());
        let at = Point::new(40.0, 20.0);
        for _ in 0..40 {
            letters.want(at, 1.7, label("12", Priority::Marking), Vec::new());
        }
        let (placed, left_out) = letters.placed();
        assert!(left_out > 0 && placed.len() + left_out == 40);
        assert!(placed.iter().all(|one| one.area.centre().distance(at) < 7.0), "{placed:?}");
    }

    #[test]
    fn a_label_at_the_edge_is_moved_inside_and_one_without_room_is_counted() {
        let mut letters = Letters::new(room());
        let long = "long ".repeat(40);
        letters.want(Point::new(79.0, 0.0), 2.0, label("K12", Priority::Tag), Vec::new());
        letters.want(Point::new(1.0, 1.0), 2.0, label(&long, Priority::Title), Vec::new());
        let (placed, left_out) = letters.placed();
        assert_eq!(left_out, 1);
        assert!(placed.iter().all(|one| room().contains_area(one.area)), "{placed:?}");
    }
}
