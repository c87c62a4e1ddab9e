//! Rectangles of the canvas in millimetres.

use crate::machine::Point;

/// A rectangle that lies square to the canvas.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Area {
    /// Top left corner.
    pub min: Point,
    /// Bottom right corner.
    pub max: Point,
}

impl Area {
    /// The rectangle that has these two points as corners.
    pub fn between(a: Point, b: Point) -> Self {
        Self { min: Point::new(a.x.min(b.x), a.y.min(b.y)), max: Point::new(a.x.max(b.x), a.y.max(b.y)) }
    }

    /// The rectangle round these points; `None` for none, or when one is not finite.
    pub fn round(points: impl IntoIterator<Item = Point>) -> Option<Self> {
        let mut area: Option<Self> = None;
        for point in points {
            if !(point.x.is_finite() && point.y.is_finite()) {
                return None;
            }
            let one = Self { min: point, max: point };
            area = Some(area.map_or(one, |area| area.joined(one)));
        }
        area
    }

    /// The rectangle round both.
    #[must_use]
    pub fn joined(self, other: Self) -> Self {
        Self {
            min: Point::new(self.min.x.min(other.min.x), self.min.y.min(other.min.y)),
            max: Point::new(self.max.x.max(other.max.x), self.max.y.max(other.max.y)),
        }
    }

    /// This rectangle made larger by so many millimetres on each side.
    #[must_use]
    pub fn grown(self, by_mm: f64) -> Self {
        Self { min: self.min.moved(-by_mm, -by_mm), max: self.max.moved(by_mm, by_mm) }
    }

    /// This rectangle moved by a vector.
    #[must_use]
    pub fn moved(self, dx: f64, dy: f64) -> Self {
        Self { min: self.min.moved(dx, dy), max: self.max.moved(dx, dy) }
    }

    /// Width in millimetres.
    pub fn width(self) -> f64 {
        self.max.x - self.min.x
    }

    /// Height in millimetres.
    pub fn height(self) -> f64 {
        self.max.y - self.min.y
    }

    /// Its middle.
    pub fn centre(self) -> Point {
        Point::new(self.min.x.midpoint(self.max.x), self.min.y.midpoint(self.max.y))
    }

    /// Whether the point lies in it or on its edge.
    pub fn contains(self, point: Point) -> bool {
        point.x >= self.min.x && point.x <= self.max.x && point.y >= self.min.y && point.y <= self.max.y
    }

    /// Whether the other rectangle lies wholly in it.
    pub fn contains_area(self, other: Self) -> bool {
        self.contains(other.min) && self.contains(other.max)
    }

    /// Whether the two share a point.
    pub fn meets(self, other: Self) -> bool {
        self.min.x <= other.max.x && other.min.x <= self.max.x && self.min.y <= other.max.y && other.min.y <= self.max.y
    }

    /// The four corners, clockwise from the top left.
    pub fn corners(self) -> [Point; 4] {
        [self.min, Point::new(self.max.x, self.min.y), self.max, Point::new(self.min.x, self.max.y)]
    }
}
