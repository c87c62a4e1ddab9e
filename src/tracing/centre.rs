//! From a rough way to the middle of the wire, and what of it is seen.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "offsets are few, steps of a path are counted in a window; casts from floats saturate"
)]

use super::ground::{Ground, PhotoPoint, Window};
use super::look::Look;

/// Samples across one wire's width.
const ACROSS: usize = 12;
/// Half the range that the middle is looked for in, and half the range that is sampled, in samples.
const SEARCH: usize = 11;
const SAMPLED: usize = SEARCH + ACROSS;
/// What it costs to move the middle by one sample from one cross-section to the next, against a score of 0 to 1.
const BEND: f32 = 0.04;
/// The width of the wire in pixels of the level it is measured on: from this to twice this.
const FINE_PX: f64 = 7.0;
/// Longest piece of a way that one window is cut for, in pixels of the level.
const PIECE_PX: f64 = 250.0;

/// A point of a path.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PathPoint {
    /// Where, in pixels of the photo.
    pub at: PhotoPoint,
    /// Whether the wire is seen there; else it is assumed to run there, hidden by something.
    pub seen: bool,
}

/// The level on which a wire of this width in photo pixels is looked at closely.
pub(super) fn fine_level(ground: &Ground, wire_px: f64) -> usize {
    let halvings = (wire_px / FINE_PX).max(1.0).log2().floor();
    (super::ground::pixel(halvings)).min(ground.coarse())
}

/// The middle of the wire along a rough way, both in photo pixels.
pub(super) fn centred(ground: &Ground, look: &Look, wire_px: f64, rough: &[PhotoPoint]) -> Vec<PathPoint> {
    centred_at(ground, look, wire_px, rough, &[])
}

/// The same, past places that are on the wire.
pub(super) fn centred_at(
    ground: &Ground,
    look: &Look,
    wire_px: f64,
    rough: &[PhotoPoint],
    pins: &[PhotoPoint],
) -> Vec<PathPoint> {
    let level = fine_level(ground, wire_px);
    let scale = ground.scale(level);
    let wire = wire_px / f64::midpoint(scale[0], scale[1]);
    let on_level: Vec<[f64; 2]> = rough.iter().map(|&at| ground.on_level(level, at)).collect();
    let step = (wire / 3.0).max(1.0);
    let even = smoothed(&resampled(&on_level, step), (wire / step).round() as usize);
    let mut points = Vec::with_capacity(even.len());
    let piece = ((PIECE_PX / step) as usize).max(2);
    let pins: Vec<[f64; 2]> = pins.iter().map(|&at| ground.on_level(level, at)).collect();
    let mut start = 0;
    while start < even.len() {
        let end = (start + piece).min(even.len());
        points.extend(middle(ground, level, look, wire, &even, start..end, &pins));
        start = end;
    }
    points.into_iter().map(|(at, seen)| PathPoint { at: [at[0] * scale[0], at[1] * scale[1]], seen }).collect()
}

/// The middle for some cross-sections of an even way, on the level.
fn middle(
    ground: &Ground,
    level: usize,
    look: &Look,
    wire: f64,
    even: &[[f64; 2]],
    range: std::ops::Range<usize>,
    pins: &[[f64; 2]],
) -> Vec<([f64; 2], bool)> {
    let margin = wire * (SAMPLED as f64 / ACROSS as f64) + 2.0;
    let part = &even[range.clone()];
    let bound = |axis: usize, pick: fn(f64, f64) -> f64, from: f64| part.iter().map(|at| at[axis]).fold(from, pick);
    let low = [0, 1].map(|axis| bound(axis, f64::min, f64::INFINITY) - margin);
    let high = [0, 1].map(|axis| bound(axis, f64::max, f64::NEG_INFINITY) + margin);
    let window = ground.window(level, low, high);
    let normals: Vec<[f64; 2]> = range.clone().map(|place| normal(even, place)).collect();
    let offsets = 2 * SEARCH + 1;
    let mut best = Vec::with_capacity(part.len() * offsets);
    let mut cross = Vec::with_capacity(part.len());
    for (at, n) in part.iter().zip(&normals) {
        let sections = profile(&window, look, *at, *n, wire);
        cross.push(sections);
        best.extend((0..offsets).map(|offset| sections.score(offset)));
    }
    let edges = edges(&window, part, &normals, wire);
    for (section, scores) in best.chunks_exact_mut(offsets).enumerate() {
        for (offset, score) in scores.iter_mut().enumerate() {
            let middle = offset + SAMPLED - SEARCH;
            let row = &edges[section * (2 * SAMPLED + 1)..];
            let (a, b) = (row[middle - ACROSS / 2], row[middle + ACROSS / 2]);
            *score += EDGES * (0.75 * a.min(b) + 0.25 * a.max(b));
        }
    }
    for pin in pins {
        let far = |at: &[f64; 2]| (at[0] - pin[0]).hypot(at[1] - pin[1]);
        let Some((section, at)) = part.iter().enumerate().min_by(|a, b| far(a.1).total_cmp(&far(b.1))) else {
            continue;
        };
        if far(at) > wire {
            continue;
        }
        let n = normals[section];
        let aside = (pin[0] - at[0]) * n[0] + (pin[1] - at[1]) * n[1];
        for (offset, score) in best[section * offsets..(section + 1) * offsets].iter_mut().enumerate() {
            let off = (offset as f64 - SEARCH as f64) / ACROSS as f64 - aside / wire;
            *score -= PINNED * ((off.abs() - ON_WIRE).max(0.0)) as f32;
        }
    }
    let chosen = smooth_choice(&best, offsets);
    let mut seen: Vec<bool> =
        chosen.iter().zip(&cross).map(|(&offset, section)| section.inside(offset) > 0.5).collect();
    // One cross-section alone is neither a gap nor a sight of the wire.
    for place in 1..seen.len().saturating_sub(1) {
        if seen[place - 1] == seen[place + 1] {
            seen[place] = seen[place - 1];
        }
    }
    let moved = part.iter().zip(&normals).zip(&chosen).map(|((at, n), &offset)| {
        let by = (offset as f64 - SEARCH as f64) * wire / ACROSS as f64;
        [at[0] + n[0] * by, at[1] + n[1] * by]
    });
    moved.zip(seen).collect()
}

/// How strongly colours change across the way at each sample of each section, 0 to 1: the mean over a length of the wire, so that an edge along it
/// counts and what winds round it does not.
fn edges(window: &Window, part: &[[f64; 2]], normals: &[[f64; 2]], wire: f64) -> Vec<f32> {
    let across = 2 * SAMPLED + 1;
    let mut lab = Vec::with_capacity(part.len() * across);
    for (at, n) in part.iter().zip(normals) {
        lab.extend((0..across).map(|sample| {
            let by = (sample as f64 - SAMPLED as f64) * wire / ACROSS as f64;
            window.between(at[0] + n[0] * by, at[1] + n[1] * by)
        }));
    }
    let mut edges = vec![0.0; lab.len()];
    for section in 0..part.len() {
        let near = section.saturating_sub(ALONG)..(section + ALONG + 1).min(part.len());
        for sample in STEP..across - STEP {
            let mut change = [0.0_f32; 3];
            for other in near.clone() {
                let (p, q) = (lab[other * across + sample - STEP], lab[other * across + sample + STEP]);
                change = [change[0] + p.l - q.l, change[1] + p.a - q.a, change[2] + p.b - q.b];
            }
            let change = change[0].hypot(change[1]).hypot(change[2]) / near.len() as f32;
            edges[section * across + sample] = change.min(CLEAR) / CLEAR;
        }
    }
    edges
}

/// Sections before and after that an edge is the mean of.
const ALONG: usize = 2;
/// Samples to both sides that an edge is the difference of.
const STEP: usize = 2;
/// A change of colour by so much, in units of L*a*b*, is a clear edge.
const CLEAR: f32 = 25.0;
/// What two clear edges count, against likeness of 0 to 1.
const EDGES: f32 = 1.0;
/// What it costs to pass a pin one width off, and how far off in widths costs nothing.
const PINNED: f32 = 20.0;
const ON_WIRE: f64 = 0.3;

/// Likeness across the wire, summed up.
#[derive(Clone, Copy)]
struct Profile([f32; 2 * SAMPLED + 2]);

impl Profile {
    fn mean(&self, from: usize, to: usize) -> f32 {
        (self.0[to] - self.0[from]) / (to - from) as f32
    }

    /// Mean likeness within the wire, were its middle at this offset.
    fn inside(&self, offset: usize) -> f32 {
        let middle = offset + SAMPLED - SEARCH;
        self.mean(middle - ACROSS / 2, middle + ACROSS / 2 + 1)
    }

    /// Inside less beside, at most 1.
    fn score(&self, offset: usize) -> f32 {
        let middle = offset + SAMPLED - SEARCH;
        let half = ACROSS / 2;
        let beside =
            self.mean(middle - ACROSS, middle - half).midpoint(self.mean(middle + half + 1, middle + ACROSS + 1));
        self.inside(offset) - 0.5 * beside
    }
}

fn profile(window: &Window, look: &Look, at: [f64; 2], n: [f64; 2], wire: f64) -> Profile {
    let mut sums = [0.0; 2 * SAMPLED + 2];
    for sample in 0..=2 * SAMPLED {
        let by = (sample as f64 - SAMPLED as f64) * wire / ACROSS as f64;
        let rgb = window.at(at[0] + n[0] * by, at[1] + n[1] * by);
        let like = rgb.map_or(0.0, |rgb| f32::from(look.likeness(rgb)) / 255.0);
        sums[sample + 1] = sums[sample] + like;
    }
    Profile(sums)
}

/// The offset for each cross-section: the sum of scores less the price of bends is the greatest there is (dynamic programming).
fn smooth_choice(scores: &[f32], offsets: usize) -> Vec<usize> {
    let rows = scores.len() / offsets;
    if rows == 0 {
        return Vec::new();
    }
    let mut total = scores[..offsets].to_vec();
    let mut came = vec![0_u8; scores.len()];
    for row in 1..rows {
        let mut next = vec![f32::NEG_INFINITY; offsets];
        for to in 0..offsets {
            let (first, last) = (to.saturating_sub(3), (to + 4).min(offsets));
            for (from, &before) in (first..last).zip(&total[first..last]) {
                let moved = to.abs_diff(from) as f32;
                let value = before - BEND * moved * moved;
                if value > next[to] {
                    next[to] = value;
                    came[row * offsets + to] = from as u8;
                }
            }
            next[to] += scores[row * offsets + to];
        }
        total = next;
    }
    let mut at = (0..offsets).max_by(|&a, &b| total[a].total_cmp(&total[b])).unwrap_or(SEARCH);
    let mut chosen = vec![at; rows];
    for row in (1..rows).rev() {
        at = usize::from(came[row * offsets + at]);
        chosen[row - 1] = at;
    }
    chosen
}

/// Across the way at a point, one pixel long.
pub(super) fn normal(even: &[[f64; 2]], place: usize) -> [f64; 2] {
    let before = even[place.saturating_sub(2)];
    let after = even[(place + 2).min(even.len() - 1)];
    let along = [after[0] - before[0], after[1] - before[1]];
    let length = along[0].hypot(along[1]);
    if length == 0.0 { [0.0, 1.0] } else { [-along[1] / length, along[0] / length] }
}

/// Points of a line at even distances, its ends kept.
pub(super) fn resampled(line: &[[f64; 2]], step: f64) -> Vec<[f64; 2]> {
    let mut points: Vec<[f64; 2]> = line.first().copied().into_iter().collect();
    let mut left = step;
    for pair in line.windows(2) {
        let [a, b] = [pair[0], pair[1]];
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        let mut along = left;
        while along < length {
            let share = along / length;
            points.push([a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]);
            along += step;
        }
        left = along - length;
    }
    if let Some(&last) = line.last()
        && line.len() > 1
    {
        points.push(last);
    }
    points
}

/// The mean of each point and so many before and after it, fewer towards the ends, so that they stay where they are.
pub(super) fn smoothed(line: &[[f64; 2]], reach: usize) -> Vec<[f64; 2]> {
    (0..line.len())
        .map(|place| {
            let reach = reach.min(place).min(line.len() - 1 - place);
            let near = &line[place - reach..=place + reach];
            [0, 1].map(|axis| near.iter().map(|at| at[axis]).sum::<f64>() / near.len() as f64)
        })
        .collect()
}
