//! Where the letters of a part go: markings outside its body, tag and title on a side that has no terminals.

use crate::machine::{Part, Point};

use super::area::Area;
use super::ink::Ink;
use super::scene::Layer;
use super::shape::{Anchor, Item, Priority, Shape, text_area};
use super::symbols::{on, text_shape};

/// Height of capitals of markings in millimetres.
const MARKING_MM: f64 = 1.7;

/// A terminal deeper than this inside the body has its marking beside it, not outside, in millimetres.
const DEEP_MM: f64 = 5.0;

/// Height of capitals of tags in millimetres.
const TAG_MM: f64 = 2.8;

/// Height of capitals of titles in millimetres.
const TITLE_MM: f64 = 1.8;

/// Longest line of a title, in letters.
const TITLE_LETTERS: usize = 22;

/// The direction from a body to its outside at a place in it: towards the nearest side.
pub(super) fn outward(body: Area, at: Point) -> (f64, f64) {
    let sides = [
        (at.y - body.min.y, (0.0, -1.0)),
        (body.max.y - at.y, (0.0, 1.0)),
        (at.x - body.min.x, (-1.0, 0.0)),
        (body.max.x - at.x, (1.0, 0.0)),
    ];
    sides.into_iter().min_by(|one, other| one.0.total_cmp(&other.0)).map_or((0.0, -1.0), |side| side.1)
}

/// How far beyond a terminal its marking begins, in millimetres: just outside the body, unless it lies deep inside.
pub(super) fn to_edge(body: Area, at: Point) -> f64 {
    let sides = [at.y - body.min.y, body.max.y - at.y, at.x - body.min.x, body.max.x - at.x];
    let edge = sides.into_iter().fold(f64::INFINITY, f64::min).max(0.0);
    if edge > DEEP_MM { 1.2 } else { (edge + 0.7).max(1.2) }
}

/// The marking of a terminal: outside the body, beside the way a wire leaves.
pub(super) fn marking(at: Point, (dx, dy): (f64, f64), by_mm: f64, text: &str, ink: Ink) -> Shape {
    let (place, anchor) = if dy < 0.0 {
        (at.moved(1.1, -by_mm), Anchor { x: -1, y: 1 })
    } else if dy > 0.0 {
        (at.moved(1.1, by_mm), Anchor { x: -1, y: -1 })
    } else if dx < 0.0 {
        (at.moved(-by_mm, -1.2), Anchor { x: 1, y: 1 })
    } else {
        (at.moved(by_mm, -1.2), Anchor { x: -1, y: 1 })
    };
    text_shape(place, anchor, MARKING_MM, text, ink, Priority::Marking)
}

/// Which sides of a part have terminals.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct FreeSides {
    top: bool,
    bottom: bool,
    left: bool,
    right: bool,
}

impl FreeSides {
    /// Notes that a terminal leaves in this direction.
    pub(super) fn take(&mut self, (dx, dy): (f64, f64)) {
        self.top |= dy < 0.0;
        self.bottom |= dy > 0.0;
        self.left |= dx < 0.0;
        self.right |= dx > 0.0;
    }
}

/// Tag, title and the label found on the machine.
pub(super) fn tag(part: &Part, area: Area, taken: FreeSides) -> Vec<Item> {
    let middle = area.centre();
    let mut lines = vec![(part.tag.clone(), TAG_MM, Ink::Line, Priority::Tag)];
    lines.extend(wrapped(&part.title).into_iter().map(|text| (text, TITLE_MM, Ink::Faint, Priority::Title)));
    if let Some(printed) = part.printed.as_ref().filter(|printed| **printed != part.tag && !printed.is_empty()) {
        lines.push((format!("labelled {printed}"), TITLE_MM, Ink::Faint, Priority::Title));
    }
    let height: f64 = lines.iter().map(|line| line.1 * 1.45).sum();
    // Where the first line begins, and which edge of the lines lies there.
    let (at, anchor_x) = if !taken.left {
        (Point::new(area.min.x - 1.8, middle.y - height / 2.0), 1)
    } else if !taken.right {
        (Point::new(area.max.x + 1.8, middle.y - height / 2.0), -1)
    } else if !taken.top {
        (Point::new(area.min.x, area.min.y - height - 0.6), -1)
    } else if !taken.bottom {
        (Point::new(area.min.x, area.max.y + 1.8), -1)
    } else {
        (Point::new(area.min.x - 1.8, area.min.y - height - 3.0), 1)
    };
    let mut y = at.y;
    let mut items = Vec::new();
    for (text, size, ink, priority) in lines {
        let place = Point::new(at.x, y);
        if text_area(place, Anchor::CENTRE, size, &text).width() > 0.0 {
            items.push(on(Layer::Labels, text_shape(place, Anchor { x: anchor_x, y: -1 }, size, &text, ink, priority)));
        }
        y += size * 1.45;
    }
    items
}

/// A title in lines of about [`TITLE_LETTERS`] letters, three at most.
fn wrapped(title: &str) -> Vec<String> {
    let mut lines: Vec<String> = Vec::new();
    for word in title.split_whitespace() {
        match lines.last_mut() {
            Some(line) if line.chars().count() + 1 + word.chars().count() <= TITLE_LETTERS => {
                line.push(' ');
                line.push_str(word);
            }
            _ => lines.push(word.to_owned()),
        }
    }
    if lines.len() > 3 {
        lines.truncate(3);
        if let Some(last) = lines.last_mut() {
            last.push('…');
        }
    }
    lines
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_marking_goes_to_the_side_its_terminal_is_on() {
        let body = Area::between(Point::new(0.0, 0.0), Point::new(20.0, 30.0));
        assert_eq!(outward(body, Point::new(5.0, 1.0)), (0.0, -1.0));
        assert_eq!(outward(body, Point::new(5.0, 29.0)), (0.0, 1.0));
        assert_eq!(outward(body, Point::new(0.0, 15.0)), (-1.0, 0.0));
        assert_eq!(outward(body, Point::new(20.0, 15.0)), (1.0, 0.0));
    }

    #[test]
    fn long_titles_are_broken_between_words() {
        assert_eq!(wrapped("Hermetic compressor with run capacitor").len(), 2);
        assert!(wrapped(&"word ".repeat(60)).len() == 3);
        assert!(wrapped("").is_empty());
    }
}
