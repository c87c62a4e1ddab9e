//! Lines and areas cut at the edges of a rectangle.

use crate::drawing::Area;
use crate::machine::Point;

/// The parts of a line that lie in a rectangle, in order.
pub(super) fn clipped_line(line: &[Point], room: Area) -> Vec<Vec<Point>> {
    let mut parts: Vec<Vec<Point>> = Vec::new();
    let mut open = false;
    for ends in line.windows(2) {
        let Some((from, to)) = clipped_straight(ends[0], ends[1], room) else {
            open = false;
            continue;
        };
        match parts.last_mut() {
            Some(part) if open && part.last() == Some(&from) => part.push(to),
            _ => parts.push(vec![from, to]),
        }
        open = to == ends[1];
    }
    parts
}

/// The part of a straight that lies in a rectangle. Source: Liang and Barsky, "A New Concept and Method for Line Clipping", ACM
/// Transactions on Graphics 3 (1984).
fn clipped_straight(a: Point, b: Point, room: Area) -> Option<(Point, Point)> {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let (mut first, mut last) = (0.0_f64, 1.0_f64);
    for (by, room) in [(-dx, a.x - room.min.x), (dx, room.max.x - a.x), (-dy, a.y - room.min.y), (dy, room.max.y - a.y)]
    {
        if by == 0.0 {
            if room < 0.0 {
                return None;
            }
        } else if by < 0.0 {
            first = first.max(room / by);
        } else {
            last = last.min(room / by);
        }
    }
    if first > last || !(dx.is_finite() && dy.is_finite()) {
        return None;
    }
    let at = |share: f64| Point::new(a.x + dx * share, a.y + dy * share);
    Some((if first > 0.0 { at(first) } else { a }, if last < 1.0 { at(last) } else { b }))
}

/// The part of an area that lies in a rectangle. Source: Sutherland and Hodgman, "Reentrant Polygon Clipping", Communications of the ACM 17
/// (1974).
pub(super) fn clipped_area(corners: &[Point], room: Area) -> Vec<Point> {
    let mut left = corners.to_vec();
    for (across, edge, sign) in
        [(true, room.min.x, 1.0), (true, room.max.x, -1.0), (false, room.min.y, 1.0), (false, room.max.y, -1.0)]
    {
        let of = |at: Point| if across { at.x } else { at.y };
        let inside = |at: Point| (of(at) - edge) * sign >= 0.0;
        let mut next = Vec::with_capacity(left.len() + 2);
        for (n, &to) in left.iter().enumerate() {
            let from = left[(n + left.len() - 1) % left.len()];
            if inside(from) != inside(to) {
                let share = (edge - of(from)) / (of(to) - of(from));
                next.push(Point::new(from.x + (to.x - from.x) * share, from.y + (to.y - from.y) * share));
            }
            if inside(to) {
                next.push(to);
            }
        }
        left = next;
    }
    left
}

#[cfg(test)]
mod tests {
    use super::*;

    fn room() -> Area {
        Area::between(Point::new(0.0, 0.0), Point::new(10.0, 10.0))
    }

    fn points(all: &[(f64, f64)]) -> Vec<Point> {
        all.iter().map(|&(x, y)| Point::new(x, y)).collect()
    }

    #[test]
    fn a_line_that_leaves_and_comes_back_is_cut_in_two() {
        let parts = clipped_line(&points(&[(-5.0, 5.0), (5.0, 5.0), (5.0, 15.0), (8.0, 15.0), (8.0, 5.0)]), room());
        assert_eq!(parts, [points(&[(0.0, 5.0), (5.0, 5.0), (5.0, 10.0)]), points(&[(8.0, 10.0), (8.0, 5.0)])]);
        assert_eq!(clipped_line(&points(&[(-5.0, -1.0), (15.0, -1.0)]), room()), Vec::<Vec<Point>>::new());
        assert_eq!(clipped_line(&points(&[(f64::NAN, 1.0), (5.0, 5.0)]), room()), Vec::<Vec<Point>>::new());
    }

    #[test]
    fn an_area_is_cut_at_the_edges() {
        let cut = clipped_area(&points(&[(-5.0, -5.0), (5.0, -5.0), (5.0, 5.0), (-5.0, 5.0)]), room());
        let round = Area::round(cut).unwrap();
        assert_eq!(round, Area::between(Point::new(0.0, 0.0), Point::new(5.0, 5.0)));
        assert!(clipped_area(&points(&[(20.0, 20.0), (30.0, 20.0), (30.0, 30.0)]), room()).is_empty());
    }
}
