//! Where things are on the canvas, in millimetres (x to the right, y down).

/// A point of the canvas in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Point {
    /// To the right.
    pub x: f64,
    /// Down.
    pub y: f64,
}

impl Point {
    /// A point from its coordinates in millimetres.
    pub const fn new(x: f64, y: f64) -> Self {
        Self { x, y }
    }

    /// Distance to another point in millimetres.
    pub fn distance(self, other: Self) -> f64 {
        (self.x - other.x).hypot(self.y - other.y)
    }

    /// This point moved by a vector.
    pub fn moved(self, dx: f64, dy: f64) -> Self {
        Self { x: self.x + dx, y: self.y + dy }
    }
}

/// How a part lies on the canvas.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Pose {
    /// Where the part's own origin lies.
    pub at: Point,
    /// Clockwise quarter turns, 0 to 3.
    pub quarter_turns: u8,
    /// Mirrored left to right before it is turned.
    pub mirrored: bool,
}

impl Pose {
    /// Canvas point of a point given in the part's own millimetres.
    pub fn canvas_from_part(&self, point: Point) -> Point {
        let x = if self.mirrored { -point.x } else { point.x };
        let (x, y) = match self.quarter_turns % 4 {
            0 => (x, point.y),
            1 => (-point.y, x),
            2 => (-x, -point.y),
            _ => (point.y, -x),
        };
        self.at.moved(x, y)
    }
}

/// Where a photo lies: canvas millimetres from photo pixels (pixels of the upright picture).
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Placement {
    /// Moved, turned and scaled.
    Similarity {
        /// Canvas place of the photo's top left corner.
        origin: Point,
        /// Millimetres per pixel, above 0.
        mm_per_px: f64,
        /// Clockwise turn in degrees.
        turn_deg: f64,
    },
    /// Straightened: the nine numbers of the matrix, row by row.
    Homography([f64; 9]),
}

impl Default for Placement {
    fn default() -> Self {
        Self::Similarity { origin: Point::default(), mm_per_px: 0.2, turn_deg: 0.0 }
    }
}

impl Placement {
    /// Canvas point of a photo pixel. A point at infinity of a homography comes out as not finite.
    pub fn canvas_from_photo(&self, x_px: f64, y_px: f64) -> Point {
        match *self {
            Self::Similarity { origin, mm_per_px, turn_deg } => {
                let (sin, cos) = turn_deg.to_radians().sin_cos();
                let (x, y) = (x_px * mm_per_px, y_px * mm_per_px);
                origin.moved(x * cos - y * sin, x * sin + y * cos)
            }
            Self::Homography(h) => {
                let w = h[6] * x_px + h[7] * y_px + h[8];
                Point::new((h[0] * x_px + h[1] * y_px + h[2]) / w, (h[3] * x_px + h[4] * y_px + h[5]) / w)
            }
        }
    }

    /// Photo pixel under a canvas point; nothing where the placement has no way back.
    pub fn photo_from_canvas(&self, at: Point) -> Option<[f64; 2]> {
        let pixel = match *self {
            Self::Similarity { origin, mm_per_px, turn_deg } => {
                let (sin, cos) = turn_deg.to_radians().sin_cos();
                let (x, y) = ((at.x - origin.x) / mm_per_px, (at.y - origin.y) / mm_per_px);
                [x * cos + y * sin, y * cos - x * sin]
            }
            Self::Homography([a, b, c, d, e, f, g, h, i]) => {
                // The adjugate; its scale cancels out.
                let x = (e * i - f * h) * at.x + (c * h - b * i) * at.y + (b * f - c * e);
                let y = (f * g - d * i) * at.x + (a * i - c * g) * at.y + (c * d - a * f);
                let w = (d * h - e * g) * at.x + (b * g - a * h) * at.y + (a * e - b * d);
                [x / w, y / w]
            }
        };
        pixel.iter().all(|value| value.is_finite()).then_some(pixel)
    }

    /// The same placement after the canvas was turned and scaled about its origin, then moved: `x' = turn[0]·x − turn[1]·y + shift[0]`,
    /// `y' = turn[1]·x + turn[0]·y + shift[1]`.
    #[must_use]
    pub fn carried(&self, turn: [f64; 2], shift: [f64; 2]) -> Self {
        let [c, s] = turn;
        match *self {
            Self::Similarity { origin, mm_per_px, turn_deg } => Self::Similarity {
                origin: Point::new(c * origin.x - s * origin.y + shift[0], s * origin.x + c * origin.y + shift[1]),
                mm_per_px: mm_per_px * c.hypot(s),
                turn_deg: turn_deg + s.atan2(c).to_degrees(),
            },
            Self::Homography(h) => {
                let mut carried = h;
                for column in 0..3 {
                    carried[column] = c * h[column] - s * h[3 + column] + shift[0] * h[6 + column];
                    carried[3 + column] = s * h[column] + c * h[3 + column] + shift[1] * h[6 + column];
                }
                Self::Homography(carried)
            }
        }
    }

    /// The same placement moved on the canvas.
    #[must_use]
    pub fn moved(&self, dx: f64, dy: f64) -> Self {
        match *self {
            Self::Similarity { origin, mm_per_px, turn_deg } => {
                Self::Similarity { origin: origin.moved(dx, dy), mm_per_px, turn_deg }
            }
            Self::Homography(mut h) => {
                for column in 0..3 {
                    h[column] += dx * h[6 + column];
                    h[3 + column] += dy * h[6 + column];
                }
                Self::Homography(h)
            }
        }
    }

    /// The same placement scaled about a canvas point so that a canvas distance `from_mm` becomes `to_mm`.
    ///
    /// Returns `None` when either distance is not a positive number.
    pub fn scaled_about(&self, fixed: Point, from_mm: f64, to_mm: f64) -> Option<Self> {
        let factor = to_mm / from_mm;
        if !(from_mm > 0.0 && to_mm > 0.0 && factor.is_finite()) {
            return None;
        }
        Some(match *self {
            Self::Similarity { origin, mm_per_px, turn_deg } => Self::Similarity {
                origin: Point::new(fixed.x + (origin.x - fixed.x) * factor, fixed.y + (origin.y - fixed.y) * factor),
                mm_per_px: mm_per_px * factor,
                turn_deg,
            },
            Self::Homography(h) => {
                let mut scaled = h;
                for column in 0..3 {
                    scaled[column] = h[column] * factor + fixed.x * (1.0 - factor) * h[6 + column];
                    scaled[3 + column] = h[3 + column] * factor + fixed.y * (1.0 - factor) * h[6 + column];
                }
                Self::Homography(scaled)
            }
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_canvas_point_leads_back_to_the_pixel_it_came_from() {
        let turned = Placement::Similarity { origin: Point::new(30.0, -12.0), mm_per_px: 0.17, turn_deg: 33.0 };
        let straight = Placement::Homography([0.2, 0.01, 5.0, -0.02, 0.21, 7.0, 1e-5, -2e-5, 1.0]);
        for placement in [turned, straight] {
            for [x, y] in [[0.0, 0.0], [812.5, 40.0], [3999.0, 2999.0]] {
                let there = placement.canvas_from_photo(x, y);
                let back = placement.photo_from_canvas(there).unwrap();
                assert!((back[0] - x).hypot(back[1] - y) < 1e-6, "{placement:?} {back:?}");
                // A quarter turn to double size about the origin, then moved: (x, y) goes to (1 − 2y, 2x).
                let carried = placement.carried([0.0, 2.0], [1.0, 0.0]).canvas_from_photo(x, y);
                assert!(carried.distance(Point::new(1.0 - 2.0 * there.y, 2.0 * there.x)) < 1e-6);
            }
        }
        assert_eq!(Placement::Homography([0.0; 9]).photo_from_canvas(Point::default()), None);
    }
}
