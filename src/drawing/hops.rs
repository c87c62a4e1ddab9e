//! Which wire hops over which: at each crossing the later wire, wherever both are in full sight.

use crate::machine::Point;

use super::area::Area;
use super::grid::Grid;
use super::path::Path;

/// A path with its width and whether it takes part in hops.
#[derive(Debug, Clone, Copy)]
pub(super) struct Crosser<'a> {
    pub(super) path: &'a Path,
    pub(super) width_mm: f64,
    /// Wires that were taken out neither hop nor are hopped over.
    pub(super) present: bool,
}

/// Wires in one cell of the grid above which no hops are drawn there: nobody could tell them apart.
const MOST_IN_A_CELL: usize = 96;

/// No hop where the two run nearly the same way (sine of the angle between them).
const LEAST_SINE: f64 = 0.3;

/// Room that stays free of hops at the ends of a wire, in millimetres: marks and flags are there.
const END_ROOM_MM: f64 = 5.0;

/// Hops that would come nearer to each other than this become one, in millimetres.
const LEAST_GAP_MM: f64 = 1.6;

/// How far a hop reaches to either side of a crossing of wires of these widths, in millimetres.
fn hop_radius_mm(width_mm: f64, other_mm: f64) -> f64 {
    1.35 * width_mm.midpoint(other_mm) + 0.5
}

/// How high the hop of a wire of this width rises, in millimetres.
pub(super) fn hop_height_mm(width_mm: f64) -> f64 {
    hop_radius_mm(width_mm, width_mm)
}

/// For each path the stretches that hop (from, to, in millimetres along it), sorted and apart from each other.
pub(super) fn hops(paths: &[Crosser<'_>]) -> Vec<Vec<(f64, f64)>> {
    let mut found: Vec<Vec<(f64, f64)>> = vec![Vec::new(); paths.len()];
    let areas = paths.iter().filter_map(|one| Area::round(one.path.points().iter().copied()));
    let Some(whole) = areas.reduce(Area::joined) else { return found };

    let mut straights: Vec<(usize, usize)> = Vec::new();
    for (wire, one) in paths.iter().enumerate().filter(|(_, one)| one.present) {
        let count = one.path.points().len().saturating_sub(1);
        straights.extend((0..count).filter(|&n| !one.path.is_hidden(n)).map(|n| (wire, n)));
    }
    let mut grid = Grid::new(whole, straights.len() * 4);
    for (number, &(wire, n)) in (0_u32..).zip(&straights) {
        let points = paths[wire].path.points();
        grid.put_line(points[n], points[n + 1], 0.0, number);
    }
    for (cell, numbers) in grid.cells().filter(|(_, numbers)| numbers.len() <= MOST_IN_A_CELL) {
        for (k, &one) in numbers.iter().enumerate() {
            for &other in &numbers[k + 1..] {
                let (one, other) = (straights[one as usize], straights[other as usize]);
                if one.0 != other.0 {
                    let (under, over) = if one.0 < other.0 { (one, other) } else { (other, one) };
                    add(paths, cell, under, over, &mut found);
                }
            }
        }
    }
    for stretches in &mut found {
        *stretches = joined(std::mem::take(stretches));
    }
    found
}

fn add(paths: &[Crosser<'_>], cell: Area, under: (usize, usize), over: (usize, usize), found: &mut [Vec<(f64, f64)>]) {
    let straight = |(wire, n): (usize, usize)| {
        let points = paths[wire].path.points();
        (points[n], points[n + 1])
    };
    let Some((at, share)) = crossing(straight(over), straight(under)) else { return };
    // A crossing is taken in the one cell it lies in.
    if at.x < cell.min.x || at.x >= cell.max.x || at.y < cell.min.y || at.y >= cell.max.y {
        return;
    }
    let (path, below) = (paths[over.0].path, paths[under.0].path);
    let along = path.along(over.1) + share * (path.along(over.1 + 1) - path.along(over.1));
    let radius = hop_radius_mm(paths[over.0].width_mm, paths[under.0].width_mm);
    let ends_of_below = [below.points().first(), below.points().last()];
    let at_an_end = ends_of_below.into_iter().flatten().any(|end| end.distance(at) < radius);
    if at_an_end || along < radius + END_ROOM_MM || along > path.length() - radius - END_ROOM_MM {
        return;
    }
    // A bow stays on the straight: round a corner it would be a kink.
    let room = path.gentle_round(over.1);
    let (from, to) = ((along - radius).max(room.0), (along + radius).min(room.1));
    if to - from > 1.2 * radius {
        found[over.0].push((from, to));
    }
}

/// Where two straights cross, and the share of the first at which they do.
fn crossing((a, b): (Point, Point), (c, d): (Point, Point)) -> Option<(Point, f64)> {
    let (rx, ry) = (b.x - a.x, b.y - a.y);
    let (sx, sy) = (d.x - c.x, d.y - c.y);
    let cross = rx * sy - ry * sx;
    if cross.abs() <= LEAST_SINE * rx.hypot(ry) * sx.hypot(sy) {
        return None;
    }
    let t = ((c.x - a.x) * sy - (c.y - a.y) * sx) / cross;
    let u = ((c.x - a.x) * ry - (c.y - a.y) * rx) / cross;
    // Half open, so that a crossing at a shared point of two straights counts once.
    ((0.0..1.0).contains(&t) && (0.0..1.0).contains(&u)).then(|| (a.moved(rx * t, ry * t), t))
}

/// Stretches that overlap become one.
fn joined(mut stretches: Vec<(f64, f64)>) -> Vec<(f64, f64)> {
    stretches.sort_by(|one, other| one.0.total_cmp(&other.0).then(one.1.total_cmp(&other.1)));
    let mut apart: Vec<(f64, f64)> = Vec::new();
    for (from, to) in stretches {
        match apart.last_mut() {
            Some(last) if from <= last.1 + LEAST_GAP_MM => last.1 = last.1.max(to),
            _ => apart.push((from, to)),
        }
    }
    apart
}

#[cfg(test)]
mod tests {
    use super::*;

    fn straight(a: (f64, f64), b: (f64, f64)) -> Path {
        Path::new(vec![Point::new(a.0, a.1), Point::new(b.0, b.1)])
    }

    fn count(paths: &[Path]) -> Vec<usize> {
        let crossers: Vec<_> = paths.iter().map(|path| Crosser { path, width_mm: 1.6, present: true }).collect();
        hops(&crossers).iter().map(Vec::len).collect()
    }

    #[test]
    fn three_upright_wires_are_hopped_three_times_by_the_later_level_one() {
        let paths = [
            straight((20.0, 0.0), (20.0, 60.0)),
            straight((40.0, 0.0), (40.0, 60.0)),
            straight((60.0, 0.0), (60.0, 60.0)),
            straight((0.0, 30.0), (80.0, 30.0)),
        ];
        assert_eq!(count(&paths), [0, 0, 0, 3]);
    }

    #[test]
    fn hops_that_would_touch_become_one() {
        let paths = [
            straight((20.0, 0.0), (20.0, 60.0)),
            straight((22.0, 0.0), (22.0, 60.0)),
            straight((0.0, 30.0), (80.0, 30.0)),
        ];
        assert_eq!(count(&paths), [0, 0, 1]);
    }

    #[test]
    fn wires_that_meet_on_a_terminal_do_not_hop() {
        let paths = [straight((0.0, 0.0), (30.0, 0.0)), straight((30.0, 0.0), (30.0, 40.0))];
        assert_eq!(count(&paths), [0, 0]);
    }

    #[test]
    fn a_hidden_stretch_and_a_removed_wire_are_not_hopped() {
        let hidden = Path::with_hidden(vec![Point::new(20.0, 0.0), Point::new(20.0, 60.0)], vec![true]);
        let level = straight((0.0, 30.0), (80.0, 30.0));
        assert_eq!(count(&[hidden, level.clone()]), [0, 0]);
        let gone = straight((20.0, 0.0), (20.0, 60.0));
        let crossers = [
            Crosser { path: &gone, width_mm: 1.6, present: false },
            Crosser { path: &level, width_mm: 1.6, present: true },
        ];
        assert!(hops(&crossers)[1].is_empty());
    }
}
