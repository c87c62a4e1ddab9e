//! Numbered flags at the places findings speak of; severity by the form of the frame. They stand beside what they are
//! about and beside one another, whatever their size on the paper or on the screen.

use crate::machine::{Point, Thing};

use super::grid::ByCell;
use super::scene::Scene;
use super::shape::FlagForm;

/// Height of the figures on paper, in millimetres.
pub const FLAG_MM: f64 = 2.2;

/// Half the height and width of a flag, in heights of its figures.
const RADIUS: f64 = 1.5;

/// Least distance between the middles of two flags, in heights of their figures.
const PITCH: f64 = 3.1;

/// Where a flag may stand, seen from its place, in pitches; the first that is free is taken.
const STANDS: [(f64, f64); 10] = [
    (0.65, -0.65),
    (1.65, -0.65),
    (-0.65, -0.65),
    (0.65, 0.65),
    (-0.65, 0.65),
    (1.65, 0.65),
    (0.65, -1.65),
    (-1.65, -0.65),
    (2.65, -0.65),
    (-1.65, 0.65),
];

/// With more marks than this, those close together share a flag.
const MANY: usize = 400;

/// A flag to be put at a thing.
#[derive(Debug, Clone, PartialEq)]
pub struct Mark {
    /// What it is put at.
    pub of: Thing,
    /// The place of that thing.
    pub at: Point,
    /// Form of its frame.
    pub form: FlagForm,
    /// Its number in the list of findings.
    pub number: usize,
}

/// A flag with a stand of its own.
#[derive(Debug, Clone, PartialEq)]
pub struct PlacedFlag {
    /// Its middle.
    pub at: Point,
    /// The place it speaks of.
    pub place: Point,
    /// Form of the frame: that of its first number.
    pub form: FlagForm,
    /// The numbers it stands for, in the order of the marks; more than one where there was no room for another flag.
    pub numbers: Vec<usize>,
    /// Half its height and width in millimetres.
    pub radius_mm: f64,
}

impl Mark {
    /// A mark at a thing; `None` when the thing is not drawn.
    pub fn new(scene: &Scene, of: &Thing, form: FlagForm, number: usize) -> Option<Self> {
        let at = scene.place_of(of).filter(|at| at.x.is_finite() && at.y.is_finite())?;
        Some(Self { of: of.clone(), at, form, number })
    }
}

impl PlacedFlag {
    /// What is written on it.
    pub fn text(&self) -> String {
        match self.numbers.as_slice() {
            [] => String::new(),
            [only] => only.to_string(),
            [one, other] => format!("{one}·{other}"),
            [first, ..] => format!("{first}+"),
        }
    }

    /// Whether a point lies on it.
    pub fn holds(&self, point: Point) -> bool {
        (self.at.x - point.x).abs() <= self.radius_mm && (self.at.y - point.y).abs() <= self.radius_mm
    }
}

/// Puts up a flag for each mark, the earlier marks first: beside its place where that is free, otherwise a little further
/// round it. Where there is no room at all, the number goes onto the nearest flag. `size_mm` is the height of the figures.
pub fn placed_flags(marks: &[Mark], size_mm: f64) -> Vec<PlacedFlag> {
    let pitch = size_mm * PITCH;
    let mut flags: Vec<PlacedFlag> = Vec::new();
    if !(pitch.is_finite() && pitch > 0.0) {
        return flags;
    }
    // Flags by the cell they stand in; a cell is one pitch wide, so whatever is too near lies in the nine cells round.
    let mut cells: ByCell<(i64, i64), Vec<usize>> = ByCell::default();
    let cell = |at: Point| (cell_of(at.x / pitch), cell_of(at.y / pitch));
    // With very many marks only the first of each cell looks for a stand of its own.
    let most = if marks.len() > MANY { 1 } else { usize::MAX };
    let mut placed_of: ByCell<(i64, i64), (usize, usize)> = ByCell::default();
    for mark in marks {
        let (count, first) = placed_of.entry(cell(mark.at)).or_insert((0, flags.len()));
        *count += 1;
        if *count > most
            && let Some(flag) = flags.get_mut(*first)
        {
            flag.numbers.push(mark.number);
            continue;
        }
        let near = |at: Point, flags: &[PlacedFlag], cells: &ByCell<(i64, i64), Vec<usize>>| {
            let (x, y) = cell(at);
            let round = (-1..=1).flat_map(|dx| (-1..=1).map(move |dy| (x + dx, y + dy)));
            let held = round.filter_map(|key| cells.get(&key)).flatten();
            held.map(|&n| (n, flags[n].at.distance(at))).min_by(|one, other| one.1.total_cmp(&other.1))
        };
        let stands = STANDS.map(|(x, y)| mark.at.moved(x * pitch, y * pitch));
        let free = stands
            .into_iter()
            .find(|&stand| near(stand, &flags, &cells).is_none_or(|(_, distance)| distance > pitch * 0.97));
        match (free, near(stands[0], &flags, &cells)) {
            (None, Some((nearest, _))) => {
                flags[nearest].numbers.push(mark.number);
                placed_of.entry(cell(mark.at)).and_modify(|(_, first)| *first = (*first).min(nearest));
            }
            (free, _) => {
                let at = free.unwrap_or(stands[0]);
                cells.entry(cell(at)).or_default().push(flags.len());
                let radius_mm = size_mm * RADIUS;
                flags.push(PlacedFlag { at, place: mark.at, form: mark.form, numbers: vec![mark.number], radius_mm });
            }
        }
    }
    flags
}

/// The number of a cell, held within what an `i64` and its neighbours hold.
#[expect(clippy::cast_possible_truncation, reason = "clamped just before")]
fn cell_of(steps: f64) -> i64 {
    steps.floor().clamp(-1e15, 1e15) as i64
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::WireId;

    fn mark(number: usize, x: f64, y: f64) -> Mark {
        Mark { of: WireId(0).into(), at: Point::new(x, y), form: FlagForm::Circle, number }
    }

    fn apart(flags: &[PlacedFlag]) -> bool {
        flags.iter().enumerate().all(|(n, one)| {
            flags[n + 1..].iter().all(|other| {
                let (dx, dy) = ((one.at.x - other.at.x).abs(), (one.at.y - other.at.y).abs());
                dx.hypot(dy) >= 2.0 * FLAG_MM * 1.45
            })
        })
    }

    #[test]
    fn flags_at_one_place_stand_apart_and_every_number_is_on_one() {
        let marks: Vec<Mark> = (1..=40).map(|n| mark(n, 10.0, 10.0)).collect();
        let flags = placed_flags(&marks, FLAG_MM);
        assert!(flags.len() >= 6, "{}", flags.len());
        assert!(apart(&flags));
        let mut numbers: Vec<usize> = flags.iter().flat_map(|flag| flag.numbers.clone()).collect();
        numbers.sort_unstable();
        assert_eq!(numbers, (1..=40).collect::<Vec<_>>());
    }

    #[test]
    fn two_places_close_together_do_not_cover_each_others_flags() {
        for gap in [0.0, 0.5, 2.0, 5.0, 9.0] {
            let flags = placed_flags(&[mark(12, 0.0, 0.0), mark(14, gap, 0.3)], FLAG_MM);
            assert_eq!(flags.len(), 2);
            assert!(apart(&flags), "{gap} mm");
        }
    }

    #[test]
    fn a_flag_with_room_stands_at_its_own_place_whatever_comes_later() {
        let one = placed_flags(&[mark(1, 0.0, 0.0)], FLAG_MM);
        let two = placed_flags(&[mark(1, 0.0, 0.0), mark(2, 1.0, 0.0), mark(3, 300.0, 0.0)], FLAG_MM);
        assert_eq!(one[0], two[0]);
        assert_eq!(two[2].at, two[2].place.moved(FLAG_MM * PITCH * 0.65, -FLAG_MM * PITCH * 0.65));
    }

    #[test]
    fn what_is_written_names_two_numbers_and_says_when_there_are_more() {
        let flag = |numbers: &[usize]| PlacedFlag {
            at: Point::default(),
            place: Point::default(),
            form: FlagForm::Square,
            numbers: numbers.to_vec(),
            radius_mm: 1.0,
        };
        assert_eq!(flag(&[7]).text(), "7");
        assert_eq!(flag(&[12, 14]).text(), "12·14");
        assert_eq!(flag(&[3, 5, 9]).text(), "3+");
    }

    #[test]
    fn places_that_are_no_place_do_no_harm() {
        assert!(placed_flags(&[mark(1, 0.0, 0.0)], f64::NAN).is_empty());
        assert_eq!(placed_flags(&[mark(1, 1e300, -1e300)], 1e-9).len(), 1);
    }
}
