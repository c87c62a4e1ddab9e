//! Where a photo lies: made flat by four corners, to scale, beside its neighbour; which photo lies under a point.

use std::sync::Arc;

use crate::machine::{Change, Machine, Photo, PhotoId, Placement, Point, Side};
use crate::tracing::{Homography, PhotoPoint, Similarity};

/// The far edge of a flat view is enlarged at most so many times against the middle of the rectangle: beyond, there is nothing to see.
const MOST_ENLARGED: f64 = 5.0;

/// The topmost photo under a canvas point, and the pixel.
pub fn photo_at(machine: &Machine, at: Point) -> Option<(PhotoId, PhotoPoint)> {
    let photos: Vec<(PhotoId, &Photo)> = machine.photos.iter().collect();
    photos.into_iter().rev().find_map(|(id, photo)| Some((id, pixel(photo, at)?)))
}

/// The pixel of a photo under a canvas point, if it is on the photo.
pub fn pixel(photo: &Photo, at: Point) -> Option<PhotoPoint> {
    let pixel = photo.placement.photo_from_canvas(at)?;
    let inside = (0..2).all(|axis| (0.0..f64::from(photo.size_px[axis])).contains(&pixel[axis]));
    // What lies behind the eye of a flat view has a pixel too: the way there must lead back.
    let back = photo.placement.canvas_from_photo(pixel[0], pixel[1]);
    (inside && back.distance(at) < 1e-3 * (1.0 + at.x.abs() + at.y.abs())).then_some(pixel)
}

/// The placement that makes a rectangle flat whose four corners lie at these canvas points, clicked in any order. It stays where its
/// middle is; `size_mm` is its width and height where they are known, else the longer of opposite edges is taken.
///
/// # Errors
/// Says why there is none, and what to do.
pub fn straightened(photo: &Photo, corners: [Point; 4], size_mm: Option<[f64; 2]>) -> Result<Placement, &'static str> {
    let corners = in_order(corners);
    let turns = (0..4).map(|n| {
        let (a, b, c) = (corners[n], corners[(n + 1) % 4], corners[(n + 2) % 4]);
        (b.x - a.x) * (c.y - b.y) - (b.y - a.y) * (c.x - b.x)
    });
    if !turns.into_iter().all(|turn| turn > 0.0) {
        return Err("These four are no corners of one rectangle: one lies inside the other three. Take them again.");
    }
    let edge = |a: usize, b: usize| corners[a].distance(corners[b]);
    let [wide, high] = size_mm.unwrap_or([edge(0, 1).max(edge(2, 3)), edge(1, 2).max(edge(3, 0))]);
    let middle =
        Point::new(corners.iter().map(|at| at.x).sum::<f64>() / 4.0, corners.iter().map(|at| at.y).sum::<f64>() / 4.0);
    let to =
        [(-0.5, -0.5), (0.5, -0.5), (0.5, 0.5), (-0.5, 0.5)].map(|(x, y)| [middle.x + x * wide, middle.y + y * high]);
    let mut from = [[0.0; 2]; 4];
    for (pixel, corner) in from.iter_mut().zip(corners) {
        *pixel = photo.placement.photo_from_canvas(corner).ok_or("The photo has no place there.")?;
    }
    let flat = Homography::of(from, to).ok_or("These corners lie nearly on one line. Take them further apart.")?;
    let rows = flat.rows();
    let depth = |[x, y]: PhotoPoint| rows[6] * x + rows[7] * y + rows[8];
    let here = depth([0, 1].map(|axis| from.iter().map(|at| at[axis]).sum::<f64>() / 4.0));
    let [w, h] = photo.size_px.map(f64::from);
    if [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]].into_iter().any(|at| depth(at) / here < 1.0 / MOST_ENLARGED) {
        return Err(
            "Seen so much from the side, the far edge of the photo would be stretched beyond use. Take the corners of \
                    something larger, or the photo more square on.",
        );
    }
    Ok(Placement::Homography(rows))
}

/// Four corners from the top left on, clockwise as seen.
fn in_order(corners: [Point; 4]) -> [Point; 4] {
    let middle =
        Point::new(corners.iter().map(|at| at.x).sum::<f64>() / 4.0, corners.iter().map(|at| at.y).sum::<f64>() / 4.0);
    let mut sorted = corners;
    // y runs down: rising angles go clockwise, and the top left has the least.
    sorted.sort_by(|a, b| {
        let angle = |at: &Point| (at.y - middle.y).atan2(at.x - middle.x);
        angle(a).total_cmp(&angle(b))
    });
    let first = (0..4)
        .min_by(|&a, &b| {
            let off = |n: usize| (sorted[n].x - middle.x) + (sorted[n].y - middle.y);
            off(a).total_cmp(&off(b))
        })
        .unwrap_or(0);
    [0, 1, 2, 3].map(|n| sorted[(first + n) % 4])
}

/// The placement that brings two canvas points of a photo onto two others: first and third are on the photo, second and fourth where the
/// neighbour shows the same.
pub fn joined(photo: &Photo, points: [Point; 4]) -> Option<Placement> {
    let [a, to_a, b, to_b] = points.map(|at| [at.x, at.y]);
    let (turn, shift) = Similarity::of([a, b], [to_a, to_b])?.parts();
    Some(photo.placement.carried(turn, shift))
}

/// A placement as the photo was taken: as wide as its upper edge lies now, from the same corner.
pub fn as_taken(photo: &Photo) -> Option<Placement> {
    let wide = f64::from(photo.size_px[0]);
    let (left, right) = (photo.placement.canvas_from_photo(0.0, 0.0), photo.placement.canvas_from_photo(wide, 0.0));
    let mm_per_px = left.distance(right) / wide;
    (mm_per_px.is_finite() && mm_per_px > 0.0).then_some(Placement::Similarity {
        origin: left,
        mm_per_px,
        turn_deg: (right.y - left.y).atan2(right.x - left.x).to_degrees(),
    })
}

/// What lies on a photo, moved along when the photo gets another placement: places of parts and their terminals, bends, loose ends. Where
/// photos overlap, a place belongs to the topmost.
pub fn along(machine: &Machine, id: PhotoId, placement: &Placement) -> Vec<Change> {
    let moved = |at: Point| {
        let (photo, [x, y]) = photo_at(machine, at)?;
        let to = placement.canvas_from_photo(x, y);
        (photo == id && to.x.is_finite() && to.y.is_finite()).then_some(to)
    };
    let mut changes = Vec::new();
    for (part_id, old) in machine.parts.iter() {
        let mut part = old.clone();
        part.pose.at = moved(part.pose.at).unwrap_or(part.pose.at);
        for note in part.terminals.values_mut() {
            note.at = note.at.map(|at| moved(at).unwrap_or(at));
        }
        if part != *old {
            changes.push(Change::Part(part_id, Some(Arc::new(part))));
        }
    }
    for (wire_id, old) in machine.wires.iter() {
        let mut wire = old.clone();
        for bend in &mut wire.path {
            bend.at = moved(bend.at).unwrap_or(bend.at);
        }
        for side in Side::BOTH {
            let end = wire.end_mut(side);
            end.place = end.place.map(|at| moved(at).unwrap_or(at));
        }
        if wire != *old {
            changes.push(Change::Wire(wire_id, Some(Arc::new(wire))));
        }
    }
    changes
}

/// A length in millimetres as it is written; none unless it is above 0.
pub fn length_mm(text: &str) -> Option<f64> {
    text.trim().replace(',', ".").parse::<f64>().ok().filter(|mm| mm.is_finite() && *mm > 0.0)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// A pinhole looks at a plate of 300 by 200 mm from the side; the projection (x, y, z) to (f·x/z, f·y/z) is R. Hartley and
    /// A. Zisserman, "Multiple View Geometry in Computer Vision", 2nd ed., 6.1.
    fn seen(x: f64, y: f64) -> PhotoPoint {
        let (sin, cos) = 25.0_f64.to_radians().sin_cos();
        let (x, y, z) = (x * cos, y, 800.0 + x * sin);
        [2000.0 + 3000.0 * x / z, 1500.0 + 3000.0 * y / z]
    }

    #[test]
    fn four_corners_of_a_plate_seen_from_the_side_make_its_holes_lie_where_they_are() {
        let photo = Photo { size_px: [4000, 3000], ..Photo::default() };
        let on_canvas = |x: f64, y: f64| {
            let [u, v] = seen(x, y);
            photo.placement.canvas_from_photo(u, v)
        };
        // In any order.
        let corners =
            [(150.0, 100.0), (-150.0, -100.0), (-150.0, 100.0), (150.0, -100.0)].map(|(x, y)| on_canvas(x, y));
        let flat = straightened(&photo, corners, Some([300.0, 200.0])).unwrap();
        let hole = |x: f64, y: f64| {
            let [u, v] = seen(x, y);
            flat.canvas_from_photo(u, v)
        };
        for (a, b, apart) in [((-100.0, 30.0), (100.0, 30.0), 200.0), ((0.0, -80.0), (60.0, 0.0), 100.0)] {
            let measured = hole(a.0, a.1).distance(hole(b.0, b.1));
            assert!((measured - apart).abs() < 1e-6, "{measured} mm for {apart}");
        }
        let (left, right) = (hole(-100.0, 0.0), hole(100.0, 0.0));
        assert!((left.y - right.y).abs() < 1e-6 && left.x < right.x, "level, and not mirrored");
        let on_flat = Photo { placement: flat, ..photo.clone() };
        let back = pixel(&on_flat, left).unwrap();
        assert!((back[0] - seen(-100.0, 0.0)[0]).abs() < 1e-3);
        assert!(as_taken(&on_flat).is_some());
    }

    #[test]
    fn what_is_no_rectangle_is_refused_in_words() {
        let photo = Photo { size_px: [4000, 3000], ..Photo::default() };
        let at = |points: [(f64, f64); 4]| straightened(&photo, points.map(|(x, y)| Point::new(x, y)), None);
        assert!(at([(0.0, 0.0), (100.0, 0.0), (50.0, 100.0), (50.0, 30.0)]).unwrap_err().contains("inside"));
        assert!(at([(0.0, 0.0), (0.0, 0.0), (50.0, 100.0), (50.0, 30.0)]).is_err());
        // A road that runs away: narrow far off.
        assert!(at([(390.0, 100.0), (410.0, 100.0), (800.0, 600.0), (0.0, 600.0)]).unwrap_err().contains("square on"));
        assert!(at([(100.0, 100.0), (300.0, 104.0), (298.0, 240.0), (98.0, 236.0)]).is_ok());
    }

    #[test]
    fn two_shared_points_lay_a_photo_beside_its_neighbour() {
        let photo = Photo { size_px: [4000, 3000], ..Photo::default() };
        let (a, b) = (photo.placement.canvas_from_photo(100.0, 50.0), photo.placement.canvas_from_photo(900.0, 50.0));
        let (to_a, to_b) = (Point::new(1000.0, 0.0), Point::new(1000.0, 80.0));
        let laid = joined(&photo, [a, to_a, b, to_b]).unwrap();
        assert!(laid.canvas_from_photo(100.0, 50.0).distance(to_a) < 1e-9);
        assert!(laid.canvas_from_photo(900.0, 50.0).distance(to_b) < 1e-9);
        let Placement::Similarity { mm_per_px, turn_deg, .. } = laid else { panic!("{laid:?}") };
        assert!((mm_per_px - 0.1).abs() < 1e-12 && (turn_deg - 90.0).abs() < 1e-9);
        assert_eq!(joined(&photo, [a, to_a, a, to_b]), None);
    }
}
