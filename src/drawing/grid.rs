//! A grid over a rectangle of the canvas that says quickly what lies near a place.

use crate::machine::Point;

use super::area::Area;

/// The most cells along one side.
const MOST_SIDE: usize = 256;

/// Least size of a cell in millimetres.
const LEAST_CELL_MM: f64 = 8.0;

/// Numbers by the cells their shapes touch.
#[derive(Debug, Clone, Default)]
pub(super) struct Grid {
    origin: Point,
    cell_mm: f64,
    columns: usize,
    rows: usize,
    cells: Vec<Vec<u32>>,
}

impl Grid {
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
        Self { origin: area.min, cell_mm, columns, rows, cells: vec![Vec::new(); columns * rows] }
    }

    fn column(&self, x: f64) -> usize {
        steps((x - self.origin.x) / self.cell_mm).min(self.columns.saturating_sub(1))
    }

    fn row(&self, y: f64) -> usize {
        steps((y - self.origin.y) / self.cell_mm).min(self.rows.saturating_sub(1))
    }

    fn put(&mut self, column: usize, row: usize, number: u32) {
        if let Some(cell) = self.cells.get_mut(row * self.columns + column)
            && cell.last() != Some(&number)
        {
            cell.push(number);
        }
    }

    /// Enters a number in every cell a rectangle touches.
    pub(super) fn put_area(&mut self, area: Area, number: u32) {
        for row in self.row(area.min.y)..=self.row(area.max.y) {
            for column in self.column(area.min.x)..=self.column(area.max.x) {
                self.put(column, row, number);
            }
        }
    }

    /// Enters a number in every cell that a straight line with some room round it touches.
    pub(super) fn put_line(&mut self, a: Point, b: Point, room_mm: f64, number: u32) {
        let whole = Area::between(a, b).grown(room_mm);
        if self.cells.is_empty() || !(whole.width().is_finite() && whole.height().is_finite()) {
            return;
        }
        let (dx, dy) = (b.x - a.x, b.y - a.y);
        for row in self.row(whole.min.y)..=self.row(whole.max.y) {
            let top = self.origin.y + row as f64 * self.cell_mm - room_mm;
            let bottom = top + self.cell_mm + 2.0 * room_mm;
            let (from, to) = if dy.abs() < 1e-9 {
                (whole.min.x, whole.max.x)
            } else {
                let at = |y: f64| a.x + dx * ((y - a.y) / dy).clamp(0.0, 1.0);
                let (one, other) = (at(top), at(bottom));
                (one.min(other) - room_mm, one.max(other) + room_mm)
            };
            for column in self.column(from)..=self.column(to) {
                self.put(column, row, number);
            }
        }
    }

    /// Every number entered in a cell that the rectangle touches, sorted, each once.
    pub(super) fn within(&self, area: Area) -> Vec<u32> {
        let mut found = Vec::new();
        if self.cells.is_empty() {
            return found;
        }
        for row in self.row(area.min.y)..=self.row(area.max.y) {
            for column in self.column(area.min.x)..=self.column(area.max.x) {
                if let Some(cell) = self.cells.get(row * self.columns + column) {
                    found.extend_from_slice(cell);
                }
            }
        }
        sorted_once(found)
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
        let mut grid = Grid::new(Area::between(Point::new(0.0, 0.0), Point::new(400.0, 300.0)), 400);
        let (a, b) = (Point::new(10.0, 290.0), Point::new(390.0, 15.0));
        grid.put_line(a, b, 1.0, 7);
        for step in 0..=1000 {
            let t = f64::from(step) / 1000.0;
            let at = Point::new(a.x + (b.x - a.x) * t, a.y + (b.y - a.y) * t);
            assert_eq!(grid.within(Area { min: at, max: at }), vec![7], "at {t}");
        }
        let far = Point::new(20.0, 20.0);
        assert!(grid.within(Area { min: far, max: far }).is_empty());
    }
}
