//! Lines through points, measured along their length.

use crate::machine::Point;

/// Points drawn for one rounded corner.
const CORNER_STEPS: usize = 8;

/// Straights drawn for a quarter of a hop's circle.
const QUARTER_STEPS: usize = 9;

/// A line through points, with a note for each straight of it whether it is out of sight.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Path {
    points: Vec<Point>,
    /// One for each straight: as many as there are points, less one.
    hidden: Vec<bool>,
    /// Length from the first point to each point, in millimetres.
    along: Vec<f64>,
}

/// Distance in millimetres from a point to a straight between two points.
pub(super) fn distance_to_segment(point: Point, a: Point, b: Point) -> f64 {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let square = dx * dx + dy * dy;
    let t = if square > 0.0 { (((point.x - a.x) * dx + (point.y - a.y) * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
    point.distance(a.moved(dx * t, dy * t))
}

/// The point a share of the way from one point to another.
pub(super) fn between(a: Point, b: Point, share: f64) -> Point {
    Point::new(a.x + (b.x - a.x) * share, a.y + (b.y - a.y) * share)
}

/// The direction from one point to another, of length 1; to the right when they are the same.
pub(super) fn direction(a: Point, b: Point) -> (f64, f64) {
    let length = a.distance(b);
    if length > 1e-9 { ((b.x - a.x) / length, (b.y - a.y) / length) } else { (1.0, 0.0) }
}

/// The direction across a line on its upper side; on the left of a line that stands upright.
pub(super) fn above((dx, dy): (f64, f64)) -> (f64, f64) {
    if dx.abs() > 0.05 { (dy * dx.signum(), -dx.abs()) } else { (-dy.abs(), dx * dy.signum()) }
}

impl Path {
    /// A line through these points, all in sight.
    pub fn new(points: Vec<Point>) -> Self {
        let hidden = vec![false; points.len().saturating_sub(1)];
        Self::with_hidden(points, hidden)
    }

    /// A line through these points; `hidden` has an entry for each straight.
    pub fn with_hidden(points: Vec<Point>, mut hidden: Vec<bool>) -> Self {
        hidden.resize(points.len().saturating_sub(1), false);
        let mut length = 0.0;
        let mut along = Vec::with_capacity(points.len());
        for (n, point) in points.iter().enumerate() {
            if n > 0 {
                length += points[n - 1].distance(*point);
            }
            along.push(length);
        }
        Self { points, hidden, along }
    }

    /// The points.
    pub fn points(&self) -> &[Point] {
        &self.points
    }

    /// Whether the straight with this number is out of sight.
    pub fn is_hidden(&self, straight: usize) -> bool {
        self.hidden.get(straight).copied().unwrap_or(false)
    }

    /// Length in millimetres.
    pub fn length(&self) -> f64 {
        self.along.last().copied().unwrap_or(0.0)
    }

    /// Length from the first point to the point with this number.
    pub fn along(&self, point: usize) -> f64 {
        self.along.get(point).copied().unwrap_or(0.0)
    }

    /// The lengths between which the line runs on nearly as this straight does (within about 10 degrees).
    pub(super) fn gentle_round(&self, straight: usize) -> (f64, f64) {
        const LEAST_COSINE: f64 = 0.985;
        let way = |n: usize| direction(self.points[n], self.points[n + 1]);
        let own = way(straight);
        let goes_on = |n: usize| {
            let other = way(n);
            own.0 * other.0 + own.1 * other.1 > LEAST_COSINE
        };
        let (mut first, mut last) = (straight, straight);
        while first > 0 && goes_on(first - 1) {
            first -= 1;
        }
        while last + 2 < self.points.len() && goes_on(last + 1) {
            last += 1;
        }
        (self.along(first), self.along(last + 1))
    }

    /// Number of the straight that holds this length.
    fn straight_at(&self, length: f64) -> usize {
        self.along.partition_point(|&along| along <= length).clamp(1, self.points.len().max(2) - 1) - 1
    }

    /// Point and direction at a length from the first point; beyond the ends the end itself.
    pub fn at(&self, length: f64) -> (Point, (f64, f64)) {
        match self.points.as_slice() {
            [] => (Point::default(), (1.0, 0.0)),
            [only] => (*only, (1.0, 0.0)),
            points => {
                let n = self.straight_at(length);
                let (a, b) = (points[n], points[n + 1]);
                let span = self.along[n + 1] - self.along[n];
                let share = if span > 0.0 { ((length - self.along[n]) / span).clamp(0.0, 1.0) } else { 0.0 };
                (between(a, b, share), direction(a, b))
            }
        }
    }

    /// Point and direction at a share of the whole length.
    pub fn at_share(&self, share: f64) -> (Point, (f64, f64)) {
        self.at(self.length() * share)
    }

    /// The stretch between two lengths.
    #[must_use]
    pub fn stretch(&self, from: f64, to: f64) -> Self {
        let (from, to) = (from.max(0.0), to.min(self.length()));
        if self.points.len() < 2 || to <= from {
            return Self::default();
        }
        let mut points = vec![self.at(from).0];
        let mut hidden = Vec::new();
        for n in self.straight_at(from)..self.hidden.len() {
            hidden.push(self.hidden[n]);
            if self.along[n + 1] >= to {
                break;
            }
            points.push(self.points[n + 1]);
        }
        points.push(self.at(to).0);
        Self::with_hidden(points, hidden)
    }

    /// The stretches that are in sight or out of sight throughout, in order, each with whether it is hidden.
    pub fn parts(&self) -> Vec<(bool, Vec<Point>)> {
        let mut parts: Vec<(bool, Vec<Point>)> = Vec::new();
        for (n, &hidden) in self.hidden.iter().enumerate() {
            match parts.last_mut() {
                Some((last, points)) if *last == hidden => points.push(self.points[n + 1]),
                _ => parts.push((hidden, vec![self.points[n], self.points[n + 1]])),
            }
        }
        parts
    }

    /// The same line with its corners rounded by a curve that begins at most `radius_mm` before each.
    #[must_use]
    pub fn rounded(&self, radius_mm: f64) -> Self {
        if self.points.len() < 3 {
            return self.clone();
        }
        let mut points = vec![self.points[0]];
        let mut hidden = Vec::new();
        for n in 1..self.points.len() - 1 {
            let (before, corner, after) = (self.points[n - 1], self.points[n], self.points[n + 1]);
            let (one, other) = (direction(before, corner), direction(corner, after));
            let reach = radius_mm.min(before.distance(corner) / 2.0).min(corner.distance(after) / 2.0);
            let straight = one.0 * other.0 + one.1 * other.1 > 0.999;
            if straight || reach < 0.05 {
                points.push(corner);
                hidden.push(self.hidden[n - 1]);
                continue;
            }
            let from = corner.moved(-one.0 * reach, -one.1 * reach);
            let to = corner.moved(other.0 * reach, other.1 * reach);
            for step in 0..=CORNER_STEPS {
                let t = step as f64 / CORNER_STEPS as f64;
                points.push(between(between(from, corner, t), between(corner, to, t), t));
                hidden.push(if 2 * step <= CORNER_STEPS { self.hidden[n - 1] } else { self.hidden[n] });
            }
        }
        points.push(self.points[self.points.len() - 1]);
        hidden.push(self.hidden[self.hidden.len() - 1]);
        Self::with_hidden(points, hidden)
    }

    /// The same line with a bow over each of these stretches (from, to, in millimetres along it; sorted, apart).
    #[must_use]
    pub fn bowed(&self, hops: &[(f64, f64)], height_mm: f64) -> Self {
        if hops.is_empty() || self.points.len() < 2 {
            return self.clone();
        }
        let mut points = Vec::with_capacity(self.points.len() + hops.len() * 2 * (QUARTER_STEPS + 1));
        let mut hidden: Vec<bool> = Vec::new();
        let mut done = 0.0;
        let mut append = |part: &Self| {
            for (n, point) in part.points.iter().enumerate() {
                if n == 0 && !points.is_empty() {
                    continue;
                }
                if n > 0 {
                    hidden.push(part.hidden[n - 1]);
                }
                points.push(*point);
            }
        };
        for &(from, to) in hops {
            append(&self.stretch(done, from));
            append(&Self::new(self.bow(from, to, height_mm)));
            done = to;
        }
        append(&self.stretch(done, self.length()));
        Self::with_hidden(points, hidden)
    }

    /// Dashes along the line: each `on_mm` long, `off_mm` apart.
    pub fn dashes(&self, on_mm: f64, off_mm: f64) -> Vec<Vec<Point>> {
        let mut dashes = Vec::new();
        let step = on_mm + off_mm;
        if !(on_mm > 0.0 && off_mm > 0.0 && (self.length() / step).is_finite()) {
            return vec![self.points.clone()];
        }
        let mut from = 0.0;
        while from < self.length() {
            let dash = self.stretch(from, from + on_mm);
            if dash.points.len() > 1 {
                dashes.push(dash.points);
            }
            from += step;
        }
        dashes
    }

    /// A quarter of a circle up, level, a quarter down; a half circle where nothing is level.
    fn bow(&self, from: f64, to: f64, height_mm: f64) -> Vec<Point> {
        let radius = height_mm.min((to - from) / 2.0);
        let quarter = |step: usize| (step as f64 / QUARTER_STEPS as f64 * std::f64::consts::FRAC_PI_2).sin_cos();
        let up = (0..=QUARTER_STEPS).map(|step| {
            let (sin, cos) = quarter(step);
            (from + radius * (1.0 - cos), radius * sin)
        });
        let down = (0..=QUARTER_STEPS).rev().map(|step| {
            let (sin, cos) = quarter(step);
            (to - radius * (1.0 - cos), radius * sin)
        });
        // One side for the whole bow, also where it reaches into a bend.
        let (mx, my) = self.at(from.midpoint(to)).1;
        let over = above((mx, my));
        let side = if my * over.0 - mx * over.1 < 0.0 { -1.0 } else { 1.0 };
        up.chain(down)
            .map(|(length, rise)| {
                let (at, (dx, dy)) = self.at(length);
                at.moved(dy * side * rise, -dx * side * rise)
            })
            .collect()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    fn corner() -> Path {
        Path::with_hidden(vec![Point::new(0.0, 0.0), Point::new(20.0, 0.0), Point::new(20.0, 10.0)], vec![false, true])
    }

    #[test]
    fn a_stretch_keeps_length_and_what_is_hidden() {
        let path = corner();
        assert_eq!(path.length(), 30.0);
        let part = path.stretch(15.0, 25.0);
        assert_eq!(part.points(), [Point::new(15.0, 0.0), Point::new(20.0, 0.0), Point::new(20.0, 5.0)]);
        assert_eq!(part.parts().iter().map(|p| p.0).collect::<Vec<_>>(), [false, true]);
    }

    #[test]
    fn rounding_keeps_the_ends_and_stays_within_the_corner() {
        let round = corner().rounded(3.0);
        assert_eq!(
            (round.points()[0], *round.points().last().unwrap()),
            (Point::new(0.0, 0.0), Point::new(20.0, 10.0))
        );
        assert!(round.points().iter().all(|p| p.x <= 20.0 && p.y >= 0.0));
        assert!(!round.points().contains(&Point::new(20.0, 0.0)));
        assert!(round.length() < 30.0 && round.length() > 27.0);
    }

    #[test]
    fn dashes_follow_corners_and_leave_their_gaps() {
        let dashes = corner().dashes(6.0, 4.0);
        assert_eq!(dashes.len(), 3);
        assert_eq!(dashes[1], [Point::new(10.0, 0.0), Point::new(16.0, 0.0)]);
        let around =
            Path::new(vec![Point::new(0.0, 0.0), Point::new(5.0, 0.0), Point::new(5.0, 9.0)]).dashes(8.0, 50.0);
        assert_eq!(around, [vec![Point::new(0.0, 0.0), Point::new(5.0, 0.0), Point::new(5.0, 3.0)]]);
    }

    #[test]
    fn a_bow_stays_on_one_side_of_an_upright_line_whichever_way_it_leans() {
        for lean in [-0.01, 0.0, 0.01] {
            for (from, to) in [(0.0, 40.0), (40.0, 0.0)] {
                let line = Path::new(vec![Point::new(lean * from, from), Point::new(lean * to, to)]);
                let bowed = line.bowed(&[(16.0, 22.0)], 3.0);
                let left = bowed.points().iter().map(|p| p.x).fold(f64::INFINITY, f64::min);
                assert!(left < -2.4, "leaning {lean}: {left}");
                assert!(bowed.points().iter().all(|p| p.x < 0.5), "leaning {lean}");
            }
        }
    }

    #[test]
    fn a_bow_rises_by_its_height_and_comes_back() {
        let path = Path::new(vec![Point::new(0.0, 0.0), Point::new(20.0, 0.0)]).bowed(&[(8.0, 12.0)], 2.0);
        let top = path.points().iter().map(|p| p.y).fold(0.0, f64::min);
        assert!((top + 2.0).abs() < 1e-9, "{top}");
        assert_eq!(*path.points().last().unwrap(), Point::new(20.0, 0.0));
        assert!(path.points().iter().all(|p| p.y == 0.0 || (p.x > 7.999 && p.x < 12.001)));
    }
}
