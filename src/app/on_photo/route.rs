//! From a path on a photo to the bends of a wire in the record, and which terminals lie on a photo.

use crate::drawing::Scene;
use crate::machine::{Machine, PathPoint, Photo, Placement, Point, TerminalRef, Thing};
use crate::tracing::{self, PhotoPoint};

use super::lay::pixel;

/// A path keeps at most so many bends; the more it has, the coarser they are.
const MOST_BENDS: usize = 60;
/// A gap no longer than so many widths of the wire is a tie, a glint or a crossing wire, and no hidden stretch.
const SHORT_GAP: f64 = 2.5;
/// Between insulation and terminal, up to so many widths, lies the lug: seen, though it has not the wire's colour.
const LUG: f64 = 7.0;

/// The terminals with a place of their own on this photo, by part in the order of entry.
pub fn terminals_on(machine: &Machine, photo: &Photo) -> Vec<(TerminalRef, PhotoPoint)> {
    let parts = machine.parts.iter();
    parts
        .flat_map(|(id, part)| part.terminals.iter().map(move |(marking, note)| (id, marking, note.at)))
        .filter_map(|(id, marking, at)| Some((TerminalRef::new(id, marking.clone()), pixel(photo, at?)?)))
        .collect()
}

/// Where a terminal lies on a photo, by its own place or that of its symbol.
pub fn terminal_on(scene: &Scene, photo: &Photo, terminal: &TerminalRef) -> Option<PhotoPoint> {
    pixel(photo, scene.place_of(&Thing::from(terminal.clone()))?)
}

/// The terminal nearest to a place, within a distance in pixels of the photo.
pub fn nearest(
    terminals: &[(TerminalRef, PhotoPoint)],
    at: PhotoPoint,
    within_px: f64,
) -> Option<(TerminalRef, PhotoPoint)> {
    let far = |place: &PhotoPoint| (place[0] - at[0]).hypot(place[1] - at[1]);
    let nearest = terminals.iter().min_by(|a, b| far(&a.1).total_cmp(&far(&b.1)))?;
    (far(&nearest.1) <= within_px).then(|| nearest.clone())
}

/// The bends of a wire between its two ends, from a path on a photo that begins and ends there.
pub fn bends(placement: &Placement, path: &[tracing::PathPoint], width_px: f64) -> Vec<PathPoint> {
    if path.len() < 2 {
        return Vec::new();
    }
    let hidden = stretches(path, width_px);
    let points: Vec<PhotoPoint> = path.iter().map(|point| point.at).collect();
    // Where a hidden stretch begins or ends there is a bend in any case.
    let mut fixed = vec![0];
    fixed.extend((1..points.len() - 1).filter(|&n| hidden[n - 1] != hidden[n]));
    fixed.push(points.len() - 1);
    let mut tolerance = 0.35 * width_px.max(1.0);
    let kept = loop {
        let mut kept = vec![0];
        for pair in fixed.windows(2) {
            keep(&points, pair[0], pair[1], tolerance, &mut kept);
            kept.push(pair[1]);
        }
        if kept.len() <= MOST_BENDS + 2 || tolerance > 1e4 {
            break kept;
        }
        tolerance *= 1.5;
    };
    let on_canvas = |n: usize| placement.canvas_from_photo(points[n][0], points[n][1]);
    let inner = kept.get(1..kept.len() - 1).unwrap_or_default();
    let mut bends: Vec<PathPoint> =
        inner.iter().map(|&n| PathPoint { at: on_canvas(n), hidden: hidden[n - 1] }).collect();
    // The stretch to the end itself has no bend to say that it is hidden: one just before it does.
    if hidden.last() == Some(&true) {
        let before = bends.last().map_or_else(|| on_canvas(0), |bend| bend.at);
        let end = on_canvas(points.len() - 1);
        let near = |from: f64, to: f64| from + 0.98 * (to - from);
        bends.push(PathPoint { at: Point::new(near(before.x, end.x), near(before.y, end.y)), hidden: true });
    }
    bends.retain(|bend| bend.at.x.is_finite() && bend.at.y.is_finite());
    bends
}

/// For each stretch from point to point, whether it is hidden: gaps and glimpses that are too short to mean it are left out.
fn stretches(path: &[tracing::PathPoint], width_px: f64) -> Vec<bool> {
    let mut hidden: Vec<bool> = path.windows(2).map(|pair| !pair[0].seen || !pair[1].seen).collect();
    let length = |n: usize| (path[n + 1].at[0] - path[n].at[0]).hypot(path[n + 1].at[1] - path[n].at[1]);
    for (is, most) in [(true, SHORT_GAP), (false, SHORT_GAP)] {
        let mut from = 0;
        while from < hidden.len() {
            let to = from + hidden[from..].iter().take_while(|&&stretch| stretch == hidden[from]).count();
            let long: f64 = (from..to).map(length).sum();
            let at_end = from == 0 || to == hidden.len();
            let most = if at_end && is { LUG } else { most };
            if hidden[from] == is && long < most * width_px && (is || !at_end) {
                hidden[from..to].fill(!is);
            }
            from = to;
        }
    }
    hidden
}

/// The points between two that are needed so that none lies further than the tolerance from the line. D. Douglas and T. Peucker, "Algorithms
/// for the reduction of the number of points required to represent a digitized line or its caricature" (1973).
fn keep(points: &[PhotoPoint], from: usize, to: usize, tolerance: f64, kept: &mut Vec<usize>) {
    let mut open = vec![(from, to)];
    let mut found = Vec::new();
    while let Some((from, to)) = open.pop() {
        let furthest = (from + 1..to)
            .map(|n| (n, distance(points[n], points[from], points[to])))
            .max_by(|a, b| a.1.total_cmp(&b.1));
        if let Some((n, off)) = furthest
            && off > tolerance
        {
            found.push(n);
            open.extend([(from, n), (n, to)]);
        }
    }
    found.sort_unstable();
    kept.extend(found);
}

fn distance(at: PhotoPoint, a: PhotoPoint, b: PhotoPoint) -> f64 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let square = dx * dx + dy * dy;
    let along = if square > 0.0 { (((at[0] - a[0]) * dx + (at[1] - a[1]) * dy) / square).clamp(0.0, 1.0) } else { 0.0 };
    (at[0] - a[0] - along * dx).hypot(at[1] - a[1] - along * dy)
}

/// Places on a recorded wire where a photo shows it, to look at its colour: bends in sight, a few of them.
pub fn shown_on(photo: &Photo, path: &[PathPoint]) -> Vec<PhotoPoint> {
    const MOST: usize = 8;
    let mut places = Vec::new();
    for (n, bend) in path.iter().enumerate() {
        let goes_on_in_sight = path.get(n + 1).is_none_or(|next| !next.hidden);
        if !bend.hidden && goes_on_in_sight {
            places.extend(pixel(photo, bend.at));
        }
    }
    let step = places.len().div_ceil(MOST).max(1);
    places.into_iter().step_by(step).collect()
}

#[cfg(test)]
mod tests {
    use super::*;

    fn point(x: f64, y: f64, seen: bool) -> tracing::PathPoint {
        tracing::PathPoint { at: [x, y], seen }
    }

    #[test]
    fn a_path_becomes_few_bends_and_keeps_what_is_hidden() {
        // Along, down behind something for 100 pixels, along again; the wire is 10 pixels wide.
        let mut path: Vec<_> = (0..=100).map(|n| point(f64::from(n) * 3.0, 0.0, true)).collect();
        path.extend((1..=100).map(|n| point(300.0, f64::from(n) * 3.0, !(30..64).contains(&n))));
        let placement = Placement::Similarity { origin: Point::default(), mm_per_px: 0.5, turn_deg: 0.0 };
        let bends = super::bends(&placement, &path, 10.0);
        assert_eq!(bends.len(), 3, "{bends:?}");
        assert_eq!(bends[0], PathPoint { at: Point::new(150.0, 0.0), hidden: false });
        assert!(!bends[1].hidden && bends[2].hidden, "{bends:?}");
        assert!((bends[2].at.distance(bends[1].at) - 52.5).abs() < 3.1, "{bends:?}");
        // A tie over the wire and the lug at its end hide nothing; a long way out of sight to the end does.
        let tie: Vec<_> = (0..=100).map(|n| point(f64::from(n) * 3.0, 0.0, !(40..44).contains(&n) && n < 96)).collect();
        assert!(super::bends(&placement, &tie, 10.0).is_empty());
        let lost: Vec<_> = (0..=100).map(|n| point(f64::from(n) * 3.0, 0.0, n < 60)).collect();
        let bends = super::bends(&placement, &lost, 10.0);
        assert!(bends.len() == 2 && !bends[0].hidden && bends[1].hidden, "{bends:?}");
        assert!(super::bends(&placement, &lost[..1], 10.0).is_empty());
    }

    #[test]
    fn however_much_a_path_winds_its_bends_are_bounded() {
        let wave = |n: f64| 400.0 * (n / 300.0).sin() + 30.0 * (n / 7.0).sin();
        let path: Vec<_> = (0..4000).map(f64::from).map(|n| point(n, wave(n), true)).collect();
        let bends = super::bends(&Placement::default(), &path, 4.0);
        assert!(bends.len() <= MOST_BENDS && bends.len() > 5, "{}", bends.len());
    }
}
