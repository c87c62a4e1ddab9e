//! Which wire hops over which: at each crossing the later wire, wherever both are in full sight.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::machine::{Point, WireId};

use super::grid::ByCell;
use super::wires::Route;

/// A wire as far as hops are concerned.
#[derive(Debug, Clone)]
pub(super) struct Crosser {
    pub(super) route: Arc<Route>,
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

/// Side of a cell in millimetres.
const CELL_MM: f64 = 16.0;

/// A straight longer than this takes no part in hops: no machine has one, and it would lie in cells without number.
const LONGEST_MM: f64 = 20_000.0;

/// Straights farther out than this take no part in hops.
const FARTHEST_MM: f64 = 1e8;

type Cell = (i32, i32);

/// Which wire hops over which, kept from revision to revision: only the cells that a changed wire runs or ran through are
/// looked at again. What is kept is what would be found anew, whatever the order of changes was.
#[derive(Debug, Clone, Default)]
pub(super) struct Crossings {
    cells: ByCell<Cell, InCell>,
    wires: BTreeMap<WireId, (Crosser, Vec<Cell>)>,
}

#[derive(Debug, Clone, Default)]
struct InCell {
    straights: Vec<(WireId, usize)>,
    /// The wire that hops, and the stretch of it.
    hops: Vec<(WireId, (f64, f64))>,
}

impl Crossings {
    /// Takes in wires that were put in, changed or taken out (`None`); returns those whose hops may have changed.
    pub(super) fn change(&mut self, changed: Vec<(WireId, Option<Crosser>)>) -> BTreeSet<WireId> {
        let mut touched: Vec<Cell> = Vec::new();
        let mut concerned = BTreeSet::new();
        for (id, new) in changed {
            concerned.insert(id);
            for cell in self.wires.remove(&id).map(|(_, cells)| cells).unwrap_or_default() {
                if let Some(held) = self.cells.get_mut(&cell) {
                    held.straights.retain(|straight| straight.0 != id);
                }
                touched.push(cell);
            }
            let Some(crosser) = new else { continue };
            let mut own: Vec<Cell> = Vec::new();
            if crosser.present {
                let points = crosser.route.path.points();
                for n in (0..points.len().saturating_sub(1)).filter(|&n| !crosser.route.path.is_hidden(n)) {
                    for cell in cells_of(points[n], points[n + 1]) {
                        self.cells.entry(cell).or_default().straights.push((id, n));
                        own.push(cell);
                    }
                }
            }
            own.sort_unstable();
            own.dedup();
            touched.extend(&own);
            self.wires.insert(id, (crosser, own));
        }
        touched.sort_unstable();
        touched.dedup();
        for cell in touched {
            let Some(held) = self.cells.get(&cell) else { continue };
            concerned.extend(held.hops.iter().map(|hop| hop.0));
            if held.straights.is_empty() {
                self.cells.remove(&cell);
                continue;
            }
            let hops = self.hops_in(cell, &held.straights);
            concerned.extend(hops.iter().map(|hop| hop.0));
            if let Some(held) = self.cells.get_mut(&cell) {
                held.hops = hops;
            }
        }
        concerned
    }

    /// The stretches of a wire that hop (from, to, in millimetres along it), sorted and apart from each other.
    pub(super) fn of(&self, id: WireId) -> Vec<(f64, f64)> {
        let cells = self.wires.get(&id).map(|(_, cells)| cells.as_slice()).unwrap_or_default();
        let held = cells.iter().filter_map(|cell| self.cells.get(cell)).flat_map(|held| &held.hops);
        joined(held.filter(|hop| hop.0 == id).map(|hop| hop.1).collect())
    }

    fn hops_in(&self, cell: Cell, straights: &[(WireId, usize)]) -> Vec<(WireId, (f64, f64))> {
        if straights.len() > MOST_IN_A_CELL {
            return Vec::new();
        }
        let straight = |&(id, n): &(WireId, usize)| {
            let crosser = &self.wires.get(&id)?.0;
            let points = crosser.route.path.points();
            Some(Straight { id, n, crosser, ends: (*points.get(n)?, *points.get(n + 1)?) })
        };
        let straights: Vec<Straight<'_>> = straights.iter().filter_map(straight).collect();
        let mut found = Vec::new();
        for (k, one) in straights.iter().enumerate() {
            for other in straights[k + 1..].iter().filter(|other| other.id != one.id) {
                let (under, over) = if one.id < other.id { (one, other) } else { (other, one) };
                found.extend(over.hop(cell, under).map(|stretch| (over.id, stretch)));
            }
        }
        found
    }
}

/// One straight of a wire.
struct Straight<'a> {
    id: WireId,
    n: usize,
    crosser: &'a Crosser,
    ends: (Point, Point),
}

impl Straight<'_> {
    /// The stretch with which this straight hops over another, when they cross in this cell.
    fn hop(&self, cell: Cell, under: &Self) -> Option<(f64, f64)> {
        let (at, share) = crossing(self.ends, under.ends)?;
        // A crossing is taken in the one cell it lies in.
        if cell_at(at) != cell {
            return None;
        }
        let (path, below) = (&self.crosser.route.path, &under.crosser.route.path);
        let along = path.along(self.n) + share * (path.along(self.n + 1) - path.along(self.n));
        let radius = hop_radius_mm(self.crosser.width_mm, under.crosser.width_mm);
        let ends_of_below = [below.points().first(), below.points().last()];
        let at_an_end = ends_of_below.into_iter().flatten().any(|end| end.distance(at) < radius);
        if at_an_end || along < radius + END_ROOM_MM || along > path.length() - radius - END_ROOM_MM {
            return None;
        }
        // A bow stays on the straight: round a corner it would be a kink.
        let room = path.gentle_round(self.n);
        let (from, to) = ((along - radius).max(room.0), (along + radius).min(room.1));
        (to - from > 1.2 * radius).then_some((from, to))
    }
}

#[expect(clippy::cast_possible_truncation, reason = "straights farther out than FARTHEST_MM are left out before")]
fn cell_at(at: Point) -> Cell {
    ((at.x / CELL_MM).floor() as i32, (at.y / CELL_MM).floor() as i32)
}

/// The cells a straight runs through, row by row.
fn cells_of(a: Point, b: Point) -> Vec<Cell> {
    let (dx, dy) = (b.x - a.x, b.y - a.y);
    let far = [a.x, a.y, b.x, b.y].into_iter().any(|value| !value.is_finite() || value.abs() > FARTHEST_MM);
    if far || dx.hypot(dy) > LONGEST_MM {
        return Vec::new();
    }
    let (top, bottom) = (cell_at(Point::new(0.0, a.y.min(b.y))).1, cell_at(Point::new(0.0, a.y.max(b.y))).1);
    let mut cells = Vec::new();
    for row in top..=bottom {
        let (from, to) = if dy.abs() < 1e-9 {
            (a.x, b.x)
        } else {
            let at = |y: f64| a.x + dx * ((y - a.y) / dy).clamp(0.0, 1.0);
            (at(f64::from(row) * CELL_MM), at(f64::from(row + 1) * CELL_MM))
        };
        let (left, right) = (cell_at(Point::new(from.min(to), 0.0)).0, cell_at(Point::new(from.max(to), 0.0)).0);
        cells.extend((left..=right).map(|column| (column, row)));
    }
    cells
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
    use crate::drawing::ends::Tip;
    use crate::drawing::path::Path;

    fn straight(a: (f64, f64), b: (f64, f64)) -> Path {
        Path::new(vec![Point::new(a.0, a.1), Point::new(b.0, b.1)])
    }

    fn crosser(path: &Path) -> Crosser {
        let route = Arc::new(Route { path: path.clone(), corners: Vec::new(), tips: [Tip::Loose; 2] });
        Crosser { route, width_mm: 1.6, present: true }
    }

    fn all(paths: &[Path]) -> Vec<(WireId, Option<Crosser>)> {
        (0_u32..).map(WireId).zip(paths.iter().map(|path| Some(crosser(path)))).collect()
    }

    fn counts(crossings: &Crossings, wires: usize) -> Vec<usize> {
        (0_u32..).map(WireId).take(wires).map(|id| crossings.of(id).len()).collect()
    }

    fn count(paths: &[Path]) -> Vec<usize> {
        let mut crossings = Crossings::default();
        crossings.change(all(paths));
        counts(&crossings, paths.len())
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
        let mut crossings = Crossings::default();
        let taken_out = Crosser { present: false, ..crosser(&gone) };
        crossings.change(vec![(WireId(0), Some(taken_out)), (WireId(1), Some(crosser(&level)))]);
        assert_eq!(counts(&crossings, 2), [0, 0]);
    }

    #[test]
    fn what_is_kept_over_many_changes_is_what_would_be_found_anew() {
        // A plain row of numbers (x -> 5 x + 3 modulo 97) for places all over the sheet.
        let mut number = 1_u32;
        let mut next = |most: f64| {
            number = (number * 5 + 3) % 97;
            f64::from(number) / 97.0 * most
        };
        let mut path = || straight((next(300.0), next(200.0)), (next(300.0), next(200.0)));
        let mut paths: Vec<Path> = (0..60).map(|_| path()).collect();
        let mut kept = Crossings::default();
        kept.change(all(&paths));
        for n in [0_usize, 7, 59, 31, 7] {
            paths[n] = path();
            let id = WireId(u32::try_from(n).unwrap());
            let before = counts(&kept, paths.len());
            let concerned = kept.change(vec![(id, Some(crosser(&paths[n])))]);
            let mut anew = Crossings::default();
            anew.change(all(&paths));
            for (wire, held) in (0_u32..).map(WireId).zip(&before) {
                if wire.0 as usize >= paths.len() {
                    break;
                }
                assert_eq!(kept.of(wire), anew.of(wire));
                assert!(concerned.contains(&wire) || kept.of(wire).len() == *held);
            }
        }
        kept.change((0..60).map(|n| (WireId(n), None)).collect());
        assert!(kept.cells.is_empty());
    }

    #[test]
    fn straights_far_out_or_without_a_place_are_left_out() {
        for far in [f64::NAN, f64::INFINITY, 1e12] {
            assert_eq!(count(&[straight((0.0, 0.0), (far, 5.0)), straight((5.0, -9.0), (5.0, 9.0))]), [0, 0]);
        }
    }
}
