//! Photos made straight and to scale: four corners of a flat thing, two points a known distance apart, two points that two photos share.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "values are limited before, places are inside the photo"
)]

use image::{Rgba, RgbaImage};

use super::decode::MOST_PIXELS;
use super::ground::PhotoPoint;

/// A mapping of one plane on another that keeps straight lines straight: photo to the front view of a flat thing.
///
/// u = (a·x + b·y + c) / (g·x + h·y + 1), v = (d·x + e·y + f) / (g·x + h·y + 1), the eight numbers from four pairs of points by a
/// linear system of eight equations. R. Hartley and A. Zisserman, "Multiple View Geometry in Computer Vision", 2nd ed., 2.3, and
/// P. Heckbert, "Fundamentals of Texture Mapping and Image Warping" (1989), 2.2.3.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Homography {
    m: [[f64; 3]; 3],
}

impl Homography {
    /// The mapping that takes each of four points to its partner; nothing when three of either four lie on a line.
    pub fn of(from: [PhotoPoint; 4], to: [PhotoPoint; 4]) -> Option<Self> {
        if !(proper(from) && proper(to)) {
            return None;
        }
        // Both quadrilaterals moved to the origin and brought to size one first: pixels and millimetres condition badly.
        let (near, far) = (Shift::of(from), Shift::of(to));
        let (from, to) = (from.map(|at| near.apply(at)), to.map(|at| far.apply(at)));
        let mut rows = [[0.0; 9]; 8];
        for (place, (a, b)) in from.iter().zip(&to).enumerate() {
            let ([x, y], [u, v]) = (*a, *b);
            rows[2 * place] = [x, y, 1.0, 0.0, 0.0, 0.0, -u * x, -u * y, u];
            rows[2 * place + 1] = [0.0, 0.0, 0.0, x, y, 1.0, -v * x, -v * y, v];
        }
        let [a, b, c, d, e, f, g, h] = solved(rows)?;
        let m = product(far.back(), product([[a, b, c], [d, e, f], [g, h, 1.0]], near.matrix()));
        m.iter().flatten().all(|value| value.is_finite()).then_some(Self { m })
    }

    /// The nine numbers of the mapping, row by row.
    pub fn rows(&self) -> [f64; 9] {
        let [[a, b, c], [d, e, f], [g, h, i]] = self.m;
        [a, b, c, d, e, f, g, h, i]
    }

    /// Where a point goes; nothing for a point on the line that goes to infinity, or behind it.
    pub fn apply(&self, at: PhotoPoint) -> Option<PhotoPoint> {
        let row = |row: [f64; 3]| row[0] * at[0] + row[1] * at[1] + row[2];
        let (u, v, w) = (row(self.m[0]), row(self.m[1]), row(self.m[2]));
        let to = [u / w, v / w];
        to.iter().all(|value| value.is_finite()).then_some(to)
    }

    /// The way back.
    pub fn inverse(&self) -> Option<Self> {
        let m = &self.m;
        let minor = |r: [usize; 2], c: [usize; 2]| m[r[0]][c[0]] * m[r[1]][c[1]] - m[r[0]][c[1]] * m[r[1]][c[0]];
        let others = |place: usize| [(place + 1) % 3, (place + 2) % 3];
        let mut inverse = [[0.0; 3]; 3];
        for (row, line) in inverse.iter_mut().enumerate() {
            for (column, value) in line.iter_mut().enumerate() {
                *value = minor(others(column), others(row));
            }
        }
        let determinant: f64 = (0..3).map(|place| m[0][place] * inverse[place][0]).sum();
        let m = inverse.map(|row| row.map(|value| value / determinant));
        m.iter().flatten().all(|value| value.is_finite()).then_some(Self { m })
    }

    /// The front view of what lies between four corners of a photo: top left, top right, bottom right, bottom left. As wide and high as
    /// the longer of two opposite edges, unless `proportion` (width by height) is known. Between pixels by the two nearest each way.
    pub fn front_view(photo: &RgbaImage, corners: [PhotoPoint; 4], proportion: Option<f64>) -> Option<RgbaImage> {
        let edge = |a: usize, b: usize| (corners[a][0] - corners[b][0]).hypot(corners[a][1] - corners[b][1]);
        let mut size = [edge(0, 1).max(edge(2, 3)), edge(1, 2).max(edge(3, 0))];
        if let Some(proportion) = proportion.filter(|proportion| proportion.is_finite() && *proportion > 0.0) {
            let area: f64 = size[0] * size[1];
            size = [(area * proportion).sqrt(), (area / proportion).sqrt()];
        }
        if !size.iter().all(|edge| (1.0..60_000.0).contains(edge)) || size[0] * size[1] > MOST_PIXELS as f64 {
            return None;
        }
        let [w, h] = size;
        let back = Self::of([[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]], corners)?;
        let [width, height] = size.map(|edge| u32::try_from(super::ground::pixel(edge.round()).max(1)).unwrap_or(1));
        Some(RgbaImage::from_fn(width, height, |x, y| {
            let at = back.apply([f64::from(x) + 0.5, f64::from(y) + 0.5]);
            at.map_or(Rgba([0; 4]), |at| between_pixels(photo, at))
        }))
    }
}

/// The colour at a place between pixel centres; nothing outside the photo.
fn between_pixels(photo: &RgbaImage, at: PhotoPoint) -> Rgba<u8> {
    let (width, height) = (f64::from(photo.width()), f64::from(photo.height()));
    if at[0] < 0.0 || at[1] < 0.0 || at[0] >= width || at[1] >= height {
        return Rgba([0; 4]);
    }
    let (x, y) = ((at[0] - 0.5).max(0.0), (at[1] - 0.5).max(0.0));
    let (left, top) = (super::ground::pixel(x) as u32, super::ground::pixel(y) as u32);
    let (right, bottom) = ((left + 1).min(photo.width() - 1), (top + 1).min(photo.height() - 1));
    let (sx, sy) = (x.fract(), y.fract());
    let corners = [
        photo.get_pixel(left, top),
        photo.get_pixel(right, top),
        photo.get_pixel(left, bottom),
        photo.get_pixel(right, bottom),
    ];
    let weights = [(1.0 - sx) * (1.0 - sy), sx * (1.0 - sy), (1.0 - sx) * sy, sx * sy];
    let channel = |channel: usize| {
        let sum: f64 = corners.iter().zip(weights).map(|(pixel, weight)| f64::from(pixel.0[channel]) * weight).sum();
        super::ground::pixel(sum.round()).min(255) as u8
    };
    Rgba([channel(0), channel(1), channel(2), channel(3)])
}

/// Turning, scaling and moving: what takes one photo of a flat thing to its neighbour taken from the same distance.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Similarity {
    /// Scale times cosine and sine of the turn.
    turn: [f64; 2],
    shift: [f64; 2],
}

impl Similarity {
    /// The mapping that takes two points of one photo to the same two on another; nothing when two coincide.
    pub fn of(from: [PhotoPoint; 2], to: [PhotoPoint; 2]) -> Option<Self> {
        let [dx, dy] = [from[1][0] - from[0][0], from[1][1] - from[0][1]];
        let [du, dv] = [to[1][0] - to[0][0], to[1][1] - to[0][1]];
        let square = dx * dx + dy * dy;
        // As complex numbers: the quotient of both distances.
        let turn = [(du * dx + dv * dy) / square, (dv * dx - du * dy) / square];
        let shift = [
            to[0][0] - turn[0] * from[0][0] + turn[1] * from[0][1],
            to[0][1] - turn[1] * from[0][0] - turn[0] * from[0][1],
        ];
        let whole = turn.iter().chain(&shift).all(|value| value.is_finite()) && turn != [0.0, 0.0];
        whole.then_some(Self { turn, shift })
    }

    /// Where a point goes.
    pub fn apply(&self, at: PhotoPoint) -> PhotoPoint {
        [
            self.turn[0] * at[0] - self.turn[1] * at[1] + self.shift[0],
            self.turn[1] * at[0] + self.turn[0] * at[1] + self.shift[1],
        ]
    }

    /// Scale times cosine and sine of the turn, and how far the origin moves.
    pub fn parts(&self) -> ([f64; 2], [f64; 2]) {
        (self.turn, self.shift)
    }

    /// How many times larger things become.
    pub fn scale(&self) -> f64 {
        self.turn[0].hypot(self.turn[1])
    }

    /// By how much things turn, in degrees, clockwise where y runs down.
    pub fn turn_degrees(&self) -> f64 {
        self.turn[1].atan2(self.turn[0]).to_degrees()
    }
}

/// Millimetres to one pixel, by two points a known distance apart on a straight photo; nothing when that gives no length.
pub fn mm_per_px(points: [PhotoPoint; 2], apart_mm: f64) -> Option<f64> {
    let px = (points[1][0] - points[0][0]).hypot(points[1][1] - points[0][1]);
    let scale = apart_mm / px;
    (scale.is_finite() && scale > 0.0).then_some(scale)
}

/// Whether no three of four points lie on a line, as against the size of the whole.
fn proper(points: [PhotoPoint; 4]) -> bool {
    let size = points.iter().map(|at| (at[0] - points[0][0]).hypot(at[1] - points[0][1])).fold(0.0, f64::max);
    (0..4).all(|without| {
        let three: Vec<PhotoPoint> = (0..4).filter(|place| *place != without).map(|place| points[place]).collect();
        let (a, b, c) = (three[0], three[1], three[2]);
        let area = (b[0] - a[0]) * (c[1] - a[1]) - (b[1] - a[1]) * (c[0] - a[0]);
        area.abs() > 1e-6 * size * size
    })
}

/// Moving the middle of four points to the origin, and scaling.
struct Shift {
    middle: PhotoPoint,
    scale: f64,
}

impl Shift {
    fn of(points: [PhotoPoint; 4]) -> Self {
        let middle = [0, 1].map(|axis| points.iter().map(|at| at[axis]).sum::<f64>() / 4.0);
        let size = points.iter().map(|at| (at[0] - middle[0]).hypot(at[1] - middle[1])).sum::<f64>() / 4.0;
        Self { middle, scale: 1.0 / size }
    }

    fn apply(&self, at: PhotoPoint) -> PhotoPoint {
        [0, 1].map(|axis| (at[axis] - self.middle[axis]) * self.scale)
    }

    fn matrix(&self) -> [[f64; 3]; 3] {
        let s = self.scale;
        [[s, 0.0, -s * self.middle[0]], [0.0, s, -s * self.middle[1]], [0.0, 0.0, 1.0]]
    }

    fn back(&self) -> [[f64; 3]; 3] {
        let s = 1.0 / self.scale;
        [[s, 0.0, self.middle[0]], [0.0, s, self.middle[1]], [0.0, 0.0, 1.0]]
    }
}

fn product(a: [[f64; 3]; 3], b: [[f64; 3]; 3]) -> [[f64; 3]; 3] {
    [0, 1, 2].map(|row| [0, 1, 2].map(|column| (0..3).map(|place| a[row][place] * b[place][column]).sum()))
}

/// Eight equations, the right side last in each row, by elimination with the greatest pivot.
fn solved(mut rows: [[f64; 9]; 8]) -> Option<[f64; 8]> {
    for column in 0..8 {
        let pivot = (column..8).max_by(|&a, &b| rows[a][column].abs().total_cmp(&rows[b][column].abs()))?;
        rows.swap(column, pivot);
        if rows[column][column].abs() < 1e-12 {
            return None;
        }
        let base = rows[column];
        for (number, row) in rows.iter_mut().enumerate() {
            if number != column {
                let times = row[column] / base[column];
                for (value, of) in row.iter_mut().zip(base) {
                    *value -= times * of;
                }
            }
        }
    }
    let mut values = [0.0; 8];
    for (place, value) in values.iter_mut().enumerate() {
        *value = rows[place][8] / rows[place][place];
    }
    Some(values)
}

#[cfg(test)]
mod tests {
    use super::*;

    fn near(a: PhotoPoint, b: PhotoPoint) {
        assert!((a[0] - b[0]).hypot(a[1] - b[1]) < 1e-9 * (1.0 + b[0].abs() + b[1].abs()), "{a:?} is not {b:?}");
    }

    /// Source: P. Heckbert, "Fundamentals of Texture Mapping and Image Warping", University of California, Berkeley, 1989, 2.2.3, the unit
    /// square on a quadrilateral in closed form (formulas from memory of the text): with the differences Δ1 = p1 - p2, Δ2 = p3 - p2 and
    /// Σ = p0 - p1 + p2 - p3, g = |Σ Δ2| / |Δ1 Δ2|, h = |Δ1 Σ| / |Δ1 Δ2|, a = x1 - x0 + g·x1, b = x3 - x0 + h·x3, and d, e likewise. By hand for
    /// (0,0) (4,0) (3,2) (1,2): Δ1 = (1,-2), Δ2 = (-2,0), Σ = (-2,0), |Δ1 Δ2| = -4, g = 0, h = 1, a = 4, b = 2, d = 0, e = 4:
    /// u = (4x + 2y) / (y + 1), v = 4y / (y + 1).
    #[test]
    fn the_unit_square_goes_to_a_trapezium_as_worked_by_hand() {
        let square = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        let map = Homography::of(square, [[0.0, 0.0], [4.0, 0.0], [3.0, 2.0], [1.0, 2.0]]).unwrap();
        for at in [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0], [0.5, 0.5], [0.25, 0.75], [0.9, 0.1]] {
            let [x, y] = at;
            near(map.apply(at).unwrap(), [(4.0 * x + 2.0 * y) / (y + 1.0), 4.0 * y / (y + 1.0)]);
            near(map.inverse().unwrap().apply(map.apply(at).unwrap()).unwrap(), at);
        }
    }

    /// Four points on a line keep their cross-ratio under any such mapping (Hartley and Zisserman, 2.5).
    #[test]
    fn the_cross_ratio_of_points_on_a_line_stays() {
        let corners = [[1210.0, 340.0], [3011.5, 402.0], [2890.0, 2455.0], [1000.0, 2303.0]];
        let map = Homography::of(corners, [[0.0, 0.0], [600.0, 0.0], [600.0, 400.0], [0.0, 400.0]]).unwrap();
        let line: Vec<PhotoPoint> =
            [0.0, 0.2, 0.5, 1.0].iter().map(|t| [1300.0 + 1500.0 * t, 500.0 + 1400.0 * t]).collect();
        let there: Vec<PhotoPoint> = line.iter().map(|&at| map.apply(at).unwrap()).collect();
        let ratio = |p: &[PhotoPoint]| {
            let off = |a: usize, b: usize| (p[a][0] - p[b][0]).hypot(p[a][1] - p[b][1]);
            off(0, 2) * off(1, 3) / (off(1, 2) * off(0, 3))
        };
        assert!((ratio(&line) - ratio(&there)).abs() < 1e-9);
        near(map.apply(corners[2]).unwrap(), [600.0, 400.0]);
    }

    #[test]
    fn corners_on_a_line_make_no_mapping() {
        let square = [[0.0, 0.0], [1.0, 0.0], [1.0, 1.0], [0.0, 1.0]];
        assert!(Homography::of(square, [[0.0, 0.0], [1.0, 0.0], [2.0, 0.0], [0.0, 1.0]]).is_none());
        assert!(Homography::of([[5.0, 5.0]; 4], square).is_none());
        assert!(Homography::of(square, [[0.0, 0.0], [1.0, 0.0], [f64::NAN, 1.0], [0.0, 1.0]]).is_none());
    }

    #[test]
    fn the_front_view_of_a_tilted_chequer_is_a_chequer() {
        let corners = [[60.0, 40.0], [340.0, 80.0], [320.0, 300.0], [80.0, 260.0]];
        let flat = Homography::of(corners, [[0.0, 0.0], [4.0, 0.0], [4.0, 3.0], [0.0, 3.0]]).unwrap();
        let photo = RgbaImage::from_fn(400, 340, |x, y| {
            let [u, v] = flat.apply([f64::from(x) + 0.5, f64::from(y) + 0.5]).unwrap();
            let dark = (u.floor() + v.floor()).rem_euclid(2.0) == 0.0;
            Rgba(if dark { [20, 20, 20, 255] } else { [230, 230, 230, 255] })
        });
        let view = Homography::front_view(&photo, corners, Some(4.0 / 3.0)).unwrap();
        for row in 0..3 {
            for column in 0..4 {
                let x = (f64::from(column) + 0.5) / 4.0 * f64::from(view.width());
                let y = (f64::from(row) + 0.5) / 3.0 * f64::from(view.height());
                let pixel = view.get_pixel(x as u32, y as u32).0[0];
                assert_eq!(pixel < 128, (row + column) % 2 == 0, "{column} {row}");
            }
        }
    }

    #[test]
    fn two_shared_points_place_a_neighbour_and_two_known_ones_give_millimetres() {
        // By hand: a quarter turn and twice the size, (1,0) to (0,2).
        let map = Similarity::of([[0.0, 0.0], [1.0, 0.0]], [[10.0, 5.0], [10.0, 7.0]]).unwrap();
        near(map.apply([0.0, 1.0]), [8.0, 5.0]);
        assert!((map.scale() - 2.0).abs() < 1e-12 && (map.turn_degrees() - 90.0).abs() < 1e-9);
        assert!(Similarity::of([[3.0, 3.0]; 2], [[0.0, 0.0], [1.0, 1.0]]).is_none());
        assert_eq!(mm_per_px([[0.0, 0.0], [30.0, 40.0]], 100.0), Some(2.0));
        assert_eq!(mm_per_px([[3.0, 4.0]; 2], 100.0), None);
        assert_eq!(mm_per_px([[0.0, 0.0], [30.0, 40.0]], 0.0), None);
    }
}
