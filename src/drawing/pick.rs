//! Pointing: what lies at a place of the canvas, and what lies in a box.

use crate::machine::{Point, Spot, Thing, WireId};

use super::area::Area;
use super::grid::GridMaker;
use super::path::distance_to_segment;
use super::scene::Scene;

/// What can be pointed at.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Handle {
    /// A thing of the record.
    Thing(Thing),
    /// A bend of a wire, by its number in the wire's path.
    Bend(WireId, usize),
}

/// A place that stands for something.
#[derive(Debug, Clone, PartialEq)]
pub struct Target {
    /// What it stands for.
    pub of: Handle,
    /// Where it is.
    pub place: TargetPlace,
}

/// Where a target is.
#[derive(Debug, Clone, PartialEq)]
pub enum TargetPlace {
    /// Round a point.
    Point {
        /// The point.
        at: Point,
        /// Radius in millimetres.
        radius_mm: f64,
    },
    /// Along a line.
    Path {
        /// Its points.
        points: Vec<Point>,
        /// Its width in millimetres.
        width_mm: f64,
    },
    /// In a figure of four corners.
    Quad([Point; 4]),
}

impl Target {
    /// The rectangle round it; `None` when a point is not finite.
    pub(super) fn area(&self) -> Option<Area> {
        match &self.place {
            TargetPlace::Point { at, radius_mm } => Some(Area::round([*at])?.grown(*radius_mm)),
            TargetPlace::Path { points, width_mm } => Some(Area::round(points.iter().copied())?.grown(width_mm / 2.0)),
            TargetPlace::Quad(corners) => Area::round(corners.iter().copied()),
        }
    }

    pub(super) fn put_in(&self, grid: &mut GridMaker, number: u32, room_mm: f64) {
        match &self.place {
            TargetPlace::Path { points, width_mm } => {
                for pair in points.windows(2) {
                    grid.put_line(pair[0], pair[1], width_mm / 2.0 + room_mm, number);
                }
            }
            _ => {
                if let Some(area) = self.area() {
                    grid.put_area(area.grown(room_mm), number);
                }
            }
        }
    }

    /// The point that stands for the whole.
    pub(super) fn middle(&self) -> Point {
        match &self.place {
            TargetPlace::Point { at, .. } => *at,
            TargetPlace::Path { points, .. } => super::path::Path::new(points.clone()).at_share(0.5).0,
            TargetPlace::Quad(corners) => Area::round(corners.iter().copied()).map_or(corners[0], Area::centre),
        }
    }

    /// Distance in millimetres from a point to the target's edge; 0 within it.
    fn distance(&self, point: Point) -> f64 {
        match &self.place {
            TargetPlace::Point { at, radius_mm } => (at.distance(point) - radius_mm).max(0.0),
            TargetPlace::Path { points, width_mm } => points
                .windows(2)
                .map(|pair| (distance_to_segment(point, pair[0], pair[1]) - width_mm / 2.0).max(0.0))
                .fold(f64::INFINITY, f64::min),
            TargetPlace::Quad(corners) => {
                if inside(corners, point) {
                    return 0.0;
                }
                (0..4)
                    .map(|n| distance_to_segment(point, corners[n], corners[(n + 1) % 4]))
                    .fold(f64::INFINITY, f64::min)
            }
        }
    }

    /// What comes first when several things lie under the pointer: what is small (terminal, wire end, bend), a wire that
    /// is hit on its drawn width, part, a wire close by, photo.
    fn rank(&self, distance: f64) -> u8 {
        match &self.of {
            Handle::Bend(..) | Handle::Thing(Thing::Spot(Spot::Terminal(_) | Spot::End(..))) => 0,
            Handle::Thing(Thing::Spot(Spot::Wire(_))) if distance <= 0.0 => 3,
            Handle::Thing(Thing::Spot(Spot::Part(_))) => 4,
            Handle::Thing(Thing::Spot(Spot::Wire(_) | Spot::Gone(_))) => 5,
            Handle::Thing(_) => 6,
        }
    }

    /// How much farther off than it is, as a share of the tolerance, something small counts beside something else that is
    /// small: a terminal comes before an end, an end before a bend, unless the pointer is clearly on the other.
    fn handicap(&self) -> f64 {
        match &self.of {
            Handle::Bend(..) => 0.3,
            Handle::Thing(Thing::Spot(Spot::End(..))) => 0.15,
            Handle::Thing(_) => 0.0,
        }
    }

    /// How far off the pointer may be, as a share of the tolerance: parts and photos are large enough without.
    fn reach(&self) -> f64 {
        match self.place {
            TargetPlace::Quad(_) => 0.0,
            _ => 1.0,
        }
    }
}

fn inside(corners: &[Point; 4], point: Point) -> bool {
    let mut odd = false;
    for n in 0..4 {
        let (a, b) = (corners[n], corners[(n + 1) % 4]);
        if (a.y > point.y) != (b.y > point.y) && point.x < (b.x - a.x) * (point.y - a.y) / (b.y - a.y) + a.x {
            odd = !odd;
        }
    }
    odd
}

impl Scene {
    /// What lies at a point, or within so many millimetres of it.
    pub fn pick(&self, point: Point, tolerance_mm: f64) -> Option<Thing> {
        self.pick_where(point, tolerance_mm, |handle| matches!(handle, Handle::Thing(_))).and_then(
            |handle| match handle {
                Handle::Thing(thing) => Some(thing),
                Handle::Bend(..) => None,
            },
        )
    }

    /// As [`Scene::pick`], bends included.
    pub fn pick_handle(&self, point: Point, tolerance_mm: f64) -> Option<Handle> {
        self.pick_where(point, tolerance_mm, |_| true)
    }

    /// As [`Scene::pick`], among the handles that are wanted.
    pub fn pick_where(&self, point: Point, tolerance_mm: f64, wanted: impl Fn(&Handle) -> bool) -> Option<Handle> {
        let near = Area { min: point, max: point }.grown(tolerance_mm.max(0.0));
        self.touch
            .within(near)
            .into_iter()
            .filter_map(|index| self.target(index))
            .filter(|target| wanted(&target.of))
            .filter_map(|target| {
                let distance = target.distance(point);
                let counted = distance + tolerance_mm * target.handicap();
                (distance <= tolerance_mm * target.reach()).then(|| (target.rank(distance), counted, target))
            })
            // The later of two that lie equally near is drawn on top.
            .reduce(|best, one| if (one.0, one.1) <= (best.0, best.1) { one } else { best })
            .map(|(_, _, target)| target.of.clone())
    }

    /// The parts and wires that lie wholly in a box, and the photos when there are no others; sorted.
    pub fn things_in(&self, area: Area) -> Vec<Thing> {
        let mut found: Vec<Thing> = self
            .pieces_in(area)
            .into_iter()
            .filter(|piece| {
                let targets = piece.targets.iter().filter(|target| {
                    target.of == Handle::Thing(piece.of.clone()) || matches!(target.of, Handle::Bend(..))
                });
                let mut areas = targets.filter_map(Target::area).peekable();
                areas.peek().is_some() && areas.all(|one| area.contains_area(one))
            })
            .map(|piece| piece.of.clone())
            .collect();
        if found.iter().any(|thing| matches!(thing, Thing::Spot(_))) {
            found.retain(|thing| matches!(thing, Thing::Spot(_)));
        }
        found.sort();
        found.dedup();
        found
    }
}
