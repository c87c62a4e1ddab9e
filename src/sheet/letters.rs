//! Where letters go on paper: each at its place, or near it, so that none lies over another and none is cut off.

use crate::drawing::{Anchor, Area, FlagForm, Ink, Priority};
use crate::machine::Point;

/// Room between the letters of two labels, in millimetres.
const APART_MM: f64 = 0.25;

/// How far a label may move from its place, in its own heights.
const FARTHEST: f64 = 7.0;

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

/// A label that wants a place.
struct Wanted {
    at: Point,
    anchor: Anchor,
    size: f64,
    text: String,
    ink: Ink,
    priority: Priority,
    form: Option<FlagForm>,
}

/// Labels of one figure.
pub(super) struct Letters {
    room: Area,
    wanted: Vec<Wanted>,
    taken: std::collections::BTreeMap<(i32, i32), Vec<Area>>,
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
        Self { room, wanted: Vec::new(), taken: std::collections::BTreeMap::new() }
    }

    /// A label that is to come near this place.
    #[expect(clippy::too_many_arguments, reason = "the fields of a shape, which are kept at once")]
    pub(super) fn want(
        &mut self,
        at: Point,
        anchor: Anchor,
        size: f64,
        text: &str,
        ink: Ink,
        priority: Priority,
        form: Option<FlagForm>,
    ) {
        self.wanted.push(Wanted { at, anchor, size, text: text.to_owned(), ink, priority, form });
    }

    /// No letters are to lie here.
    pub(super) fn keep_free(&mut self, area: Area) {
        if self.room.meets(area) {
            self.take(area.grown(-APART_MM / 2.0));
        }
    }

    /// Every label that found room, the most important first, and how many did not.
    pub(super) fn placed(mut self) -> (Vec<Placed>, usize) {
        let mut wanted = std::mem::take(&mut self.wanted);
        // Frames stand on wires and move least.
        wanted.sort_by_key(|one| (one.priority, one.form.is_none()));
        let count = wanted.len();
        let placed: Vec<Placed> = wanted.into_iter().filter_map(|one| self.place(one)).collect();
        let left_out = count - placed.len();
        (placed, left_out)
    }

    fn place(&mut self, one: Wanted) -> Option<Placed> {
        let (width, height) = (width_mm(&one.text, one.size), one.size);
        // Letters below the line and accents above it take room too.
        let (x, y) = match one.form {
            Some(FlagForm::WireNumber) => (one.size * 0.35, one.size * 0.4),
            Some(_) => ((one.size * 2.4 - width).max(0.0) / 2.0, one.size * 0.7),
            None => (0.1, one.size * 0.22),
        };
        let left = one.at.x - width * (f64::from(one.anchor.x) + 1.0) / 2.0;
        let top = one.at.y - height * (f64::from(one.anchor.y) + 1.0) / 2.0;
        let own = Area::between(
            Point::new(left - x, top - y),
            Point::new(left + width + x, top + height + y),
        );
        let (dx, dy) = self.inward(own)?;
        let own = own.moved(dx, dy);
        let (sx, sy) = spiral(own.width(), own.height()).find(|&(sx, sy)| self.is_free(own.moved(sx, sy)))?;
        let area = own.moved(sx, sy);
        self.take(area);
        let at = Point::new(left + dx + sx, top + dy + sy);
        Some(Placed { at, size: one.size, text: one.text, ink: one.ink, form: one.form, area })
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

    fn is_free(&self, area: Area) -> bool {
        let grown = area.grown(APART_MM / 2.0);
        self.room.grown(1e-6).contains_area(area)
            && cells(grown).all(|cell| {
                self.taken.get(&cell).is_none_or(|there| !there.iter().any(|other| other.meets(grown)))
            })
    }

    fn take(&mut self, area: Area) {
        let grown = area.grown(APART_MM / 2.0);
        for cell in cells(grown) {
            self.taken.entry(cell).or_default().push(grown);
        }
    }
}

#[expect(clippy::cast_possible_truncation, reason = "a figure is some hundred millimetres wide; `as` bounds what is not")]
fn cells(area: Area) -> impl Iterator<Item = (i32, i32)> {
    let cell = |mm: f64| (mm / CELL_MM).floor() as i32; // bounded by `as`, and by the room
    let (left, right) = (cell(area.min.x), cell(area.max.x));
    let (top, bottom) = (cell(area.min.y), cell(area.max.y));
    (top..=bottom).flat_map(move |y| (left..=right).map(move |x| (x, y)))
}

/// Moves to try, nearest first: none, then rings of eight directions.
fn spiral(width: f64, height: f64) -> impl Iterator<Item = (f64, f64)> {
    let step = height * 0.55;
    let rings = (1..=13_u32).map(f64::from).take_while(|ring| ring * 0.55 <= FARTHEST);
    let ring = move |ring: f64| {
        let (up, aside) = (step * ring, (width * 0.3).min(step * 2.0).max(step) * ring);
        [
            (0.0, -up),
            (0.0, up),
            (aside, 0.0),
            (-aside, 0.0),
            (aside, -up),
            (-aside, -up),
            (aside, up),
            (-aside, up),
        ]
    };
    std::iter::once((0.0, 0.0)).chain(rings.flat_map(ring))
}

#[cfg(test)]
mod tests {
    use super::*;

    fn room() -> Area {
        Area::between(Point::new(0.0, 0.0), Point::new(80.0, 40.0))
    }

    #[test]
    fn labels_of_one_place_come_to_lie_beside_one_another() {
        let mut letters = Letters::new(room());
        for n in 0..9 {
            let text = format!("W{n}");
            letters.want(Point::new(40.0, 20.0), Anchor::CENTRE, 1.7, &text, Ink::Line, Priority::Marking, None);
        }
        let (placed, left_out) = letters.placed();
        assert_eq!((placed.len(), left_out), (9, 0));
        for (n, one) in placed.iter().enumerate() {
            assert!(placed[n + 1..].iter().all(|other| !one.area.meets(other.area)), "{one:?}");
        }
    }

    #[test]
    fn a_label_at_the_edge_is_moved_inside_and_one_without_room_is_counted() {
        let mut letters = Letters::new(room());
        letters.want(Point::new(79.0, 0.0), Anchor::LEFT, 2.0, "K12", Ink::Line, Priority::Tag, None);
        letters.want(Point::new(1.0, 1.0), Anchor::LEFT, 2.0, &"long ".repeat(40), Ink::Line, Priority::Title, None);
        let (placed, left_out) = letters.placed();
        assert_eq!(left_out, 1);
        assert!(placed.iter().all(|one| room().contains_area(one.area)), "{placed:?}");
    }
}
