//! A grid over a rectangle of the canvas that says quickly what lies near a place.

use std::collections::HashMap;
use std::hash::{BuildHasherDefault, Hasher};

use crate::machine::Point;

use super::area::Area;

/// The most cells along one side.
const MOST_SIDE: usize = 256;

/// Least size of a cell in millimetres.
const LEAST_CELL_MM: f64 = 8.0;

/// Numbers by the cells their shapes touch.
#[derive(Debug, Clone, Default)]
pub(super) struct Grid {
    frame: Frame,
    /// Where the numbers of each cell begin in `numbers`; one more than there are cells.
    starts: Vec<u32>,
    numbers: Vec<u32>,
}

/// A grid that is being filled.
#[derive(Debug, Default)]
pub(super) struct GridMaker {
    frame: Frame,
    /// Cell and number, in order of entry.
    entered: Vec<(u32, u32)>,
    /// The number entered last in each cell.
    last: Vec<u32>,
}

/// Where the cells lie.
#[derive(Debug, Clone, Copy, Default)]
struct Frame {
    origin: Point,
    cell_mm: f64,
    columns: usize,
    rows: usize,
}

impl Frame {
    fn column(&self, x: f64) -> usize {
        steps((x - self.origin.x) / self.cell_mm).min(self.columns.saturating_sub(1))
    }

    fn row(&self, y: f64) -> usize {
        steps((y - self.origin.y) / self.cell_mm).min(self.rows.saturating_sub(1))
    }
}

impl GridMaker {
    /// An empty grid over a rectangle, for about so many entries.
    pub(super) fn new(area: Area, entries: usize) -> Self {
        let side = (entries as f64).sqrt().clamp(1.0, MOST_SIDE as f64);
        let longest = area.width().max(area.height());
        let cell_mm = (longest / side).max(LEAST_CELL_MM);
        if !cell_mm.is_finite() {
            return Self::default();
        }
        let count = |length: f64| steps(length / cell_mm).min(MOST_SIDE) + 1;
        let (columns, rows) = (count(area.width()), count(area.height()));
        let frame = Frame { origin: area.min, cell_mm, columns, rows };
        Self { frame, entered: Vec::with_capacity(entries * 4), last: vec![u32::MAX; columns * rows] }
    }

    /// The grid of what was entered.
    pub(super) fn grid(self) -> Grid {
        let mut starts = vec![0_u32; self.last.len() + 1];
        for &(cell, _) in &self.entered {
            starts[cell as usize + 1] += 1; // every cell that was entered has its place in `last`
        }
        for n in 1..starts.len() {
            starts[n] += starts[n - 1];
        }
        let mut next = starts.clone();
        let mut numbers = vec![0_u32; self.entered.len()];
        for &(cell, number) in &self.entered {
            let place = &mut next[cell as usize];
            numbers[*place as usize] = number;
            *place += 1;
        }
        Grid { frame: self.frame, starts, numbers }
    }

    fn put(&mut self, column: usize, row: usize, number: u32) {
        let cell = row * self.frame.columns + column;
        if let (Some(last), Ok(cell)) = (self.last.get_mut(cell), u32::try_from(cell))
            && *last != number
        {
            *last = number;
            self.entered.push((cell, number));
        }
    }

    /// Enters a number in every cell a rectangle touches.
    pub(super) fn put_area(&mut self, area: Area, number: u32) {
        for row in self.frame.row(area.min.y)..=self.frame.row(area.max.y) {
            for column in self.frame.column(area.min.x)..=self.frame.column(area.max.x) {
                self.put(column, row, number);
            }
        }
    }

    /// Enters a number in every cell that a straight line with some room round it touches.
    pub(super) fn put_line(&mut self, a: Point, b: Point, room_mm: f64, number: u32) {
        let whole = Area::between(a, b).grown(room_mm);
        if self.last.is_empty() || !(whole.width().is_finite() && whole.height().is_finite()) {
            return;
        }
        let (dx, dy) = (b.x - a.x, b.y - a.y);
        for row in self.frame.row(whole.min.y)..=self.frame.row(whole.max.y) {
            let top = self.frame.origin.y + row as f64 * self.frame.cell_mm - room_mm;
            let bottom = top + self.frame.cell_mm + 2.0 * room_mm;
            let (from, to) = if dy.abs() < 1e-9 {
                (whole.min.x, whole.max.x)
            } else {
                let at = |y: f64| a.x + dx * ((y - a.y) / dy).clamp(0.0, 1.0);
                let (one, other) = (at(top), at(bottom));
                (one.min(other) - room_mm, one.max(other) + room_mm)
            };
            for column in self.frame.column(from)..=self.frame.column(to) {
                self.put(column, row, number);
            }
        }
    }
}

impl Grid {
    /// Every number entered in a cell that the rectangle touches, sorted, each once.
    pub(super) fn within(&self, area: Area) -> Vec<u32> {
        let mut found = Vec::new();
        if self.starts.is_empty() {
            return found;
        }
        let (left, right) = (self.frame.column(area.min.x), self.frame.column(area.max.x));
        for row in self.frame.row(area.min.y)..=self.frame.row(area.max.y) {
            let first = row * self.frame.columns;
            if let (Some(&from), Some(&to)) = (self.starts.get(first + left), self.starts.get(first + right + 1)) {
                found.extend_from_slice(self.numbers.get(from as usize..to as usize).unwrap_or_default());
            }
        }
        sorted_once(found)
    }
}

/// What is kept by the two numbers of a cell. Nothing is read from it in its own order.
pub(super) type ByCell<K, V> = HashMap<K, V, BuildHasherDefault<Mix>>;

/// A quick way to mix the two numbers of a cell; nobody chooses them to do harm.
#[derive(Debug, Clone, Default)]
pub(super) struct Mix(u64);

impl Hasher for Mix {
    fn finish(&self) -> u64 {
        self.0 ^ (self.0 >> 32)
    }

    fn write(&mut self, bytes: &[u8]) {
        for &byte in bytes {
            self.0 = (self.0.rotate_left(5) ^ u64::from(byte)).wrapping_mul(0x9E37_79B9_7F4A_7C15);
        }
    }

    fn write_i64(&mut self, number: i64) {
        self.0 = (self.0.rotate_left(5) ^ number.cast_unsigned()).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    }

    fn write_i32(&mut self, number: i32) {
        self.0 = (self.0.rotate_left(5) ^ u64::from(number.cast_unsigned())).wrapping_mul(0x9E37_79B9_7F4A_7C15);
    }
}

/// From here on numbers are ticked off on a list of all instead of being sorted.
const MANY: usize = 2048;

/// The same numbers sorted, each once.
fn sorted_once(mut numbers: Vec<u32>) -> Vec<u32> {
    if numbers.len() < MANY {
        numbers.sort_unstable();
        numbers.dedup();
        return numbers;
    }
    let most = numbers.iter().max().map_or(0, |&most| most as usize);
    let mut there = vec![false; most + 1];
    for &number in &numbers {
        there[number as usize] = true; // none is above the greatest
    }
    (0_u32..).zip(there).filter_map(|(number, there)| there.then_some(number)).collect()
}

/// The number of whole steps, 0 for what is negative or no number.
#[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "clamped just before")]
fn steps(value: f64) -> usize {
    if value.is_finite() { value.floor().clamp(0.0, 1e6) as usize } else { 0 }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn many_numbers_come_out_as_few_do() {
        let many: Vec<u32> = (0_u32..9000).map(|n| n * 7919 % 5003).collect();
        let mut sorted = many.clone();
        sorted.sort_unstable();
        sorted.dedup();
        assert_eq!(sorted_once(many), sorted);
    }

    #[test]
    fn a_line_is_found_along_its_whole_length_and_not_far_from_it() {
        let mut grid = GridMaker::new(Area::between(Point::new(0.0, 0.0), Point::new(400.0, 300.0)), 400);
        let (a, b) = (Point::new(10.0, 290.0), Point::new(390.0, 15.0));
        grid.put_line(a, b, 1.0, 7);
        let grid = grid.grid();
        for step in 0..=1000 {
            let t = f64::from(step) / 1000.0;
            let at = Point::new(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t);
            assert_eq!(grid.within(Area { min: at, max: at }), vec![7], "at {t}");
        }
        let far = Point::new(20.0, 20.0);
        assert!(grid.within(Area { min: far, max: far }).is_empty());
    }
}
