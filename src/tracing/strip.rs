//! A wire laid straight: the colours across its path, section by section, and where in them the two edges of a tube of one width run.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "offsets are few and never negative, f32 is fine enough for colours"
)]

use super::centre::{PathPoint, fine_level, normal, smoothed};
use super::ground::{Ground, pixel};
use super::lab::Lab;

/// Sections that one window is cut for.
const PIECE: usize = 150;
/// Colours further apart than this are simply different.
const CAPPED: f32 = 25.0;

/// Colours across a path, sections one after the other.
pub(super) struct Strip {
    /// Samples from the middle to either side.
    pub(super) reach: usize,
    /// Samples of all sections.
    pub(super) lab: Vec<Lab>,
    /// Whether the wire is seen in a section.
    pub(super) seen: Vec<bool>,
}

impl Strip {
    /// The strip along a path, `half_px` photo pixels to either side, in steps of `unit_px` both ways.
    pub(super) fn of(ground: &Ground, path: &[PathPoint], wire_px: f64, half_px: f64, unit_px: f64) -> Self {
        Self::balanced(ground, path, wire_px, half_px, unit_px, [1.0; 3])
    }

    /// The same, with red, green and blue light times so much.
    pub(super) fn balanced(
        ground: &Ground,
        path: &[PathPoint],
        wire_px: f64,
        half_px: f64,
        unit_px: f64,
        balance: [f32; 3],
    ) -> Self {
        let level = fine_level(ground, wire_px);
        let scale = ground.scale(level)[0];
        let reach = pixel((half_px / unit_px).ceil());
        let mut strip = Self { reach, lab: Vec::new(), seen: Vec::new() };
        let line: Vec<[f64; 2]> = path.iter().map(|point| ground.on_level(level, point.at)).collect();
        let (line, seen) = even(&line, path, unit_px / scale);
        let line = smoothed(&line, pixel(wire_px / unit_px / 2.0));
        let margin = half_px / scale + 2.0;
        for start in (0..line.len()).step_by(PIECE) {
            let end = (start + PIECE).min(line.len());
            let part = &line[start..end];
            let bound =
                |axis: usize, pick: fn(f64, f64) -> f64, from: f64| part.iter().map(|at| at[axis]).fold(from, pick);
            let low = [0, 1].map(|axis| bound(axis, f64::min, f64::INFINITY) - margin);
            let high = [0, 1].map(|axis| bound(axis, f64::max, f64::NEG_INFINITY) + margin);
            let window = ground.window(level, low, high);
            for place in start..end {
                let (at, n) = (line[place], normal(&line, place));
                strip.lab.extend((0..=2 * reach).map(|sample| {
                    let by = (sample as f64 - reach as f64) * unit_px / scale;
                    let light = window.light(at[0] + n[0] * by, at[1] + n[1] * by);
                    Lab::of_linear([0, 1, 2].map(|channel| (light[channel] * balance[channel]).min(1.0)))
                }));
                strip.seen.push(seen[place]);
            }
        }
        strip
    }

    /// Samples of a section.
    pub(super) fn across(&self) -> usize {
        2 * self.reach + 1
    }

    /// The samples of one section.
    pub(super) fn section(&self, number: usize) -> &[Lab] {
        &self.lab[number * self.across()..(number + 1) * self.across()]
    }

    /// How strongly colours change across the strip at each sample, the mean over sections within `along`; what winds round the wire
    /// counts less there than an edge that runs along it.
    pub(super) fn edges(&self, along: usize) -> Vec<f32> {
        let across = self.across();
        let mut edges = vec![0.0; self.lab.len()];
        let mut averaged = vec![Lab::default(); self.lab.len()];
        let sections = self.seen.len();
        for number in 0..sections {
            let from = number.saturating_sub(along);
            let to = (number + along + 1).min(sections);
            for sample in 0..across {
                let (mut l, mut a, mut b) = (0.0, 0.0, 0.0);
                for other in from..to {
                    let lab = self.lab[other * across + sample];
                    (l, a, b) = (l + lab.l, a + lab.a, b + lab.b);
                }
                let count = (to - from) as f32;
                averaged[number * across + sample] = Lab { l: l / count, a: a / count, b: b / count };
            }
        }
        for number in 0..sections {
            for sample in 1..across.saturating_sub(1) {
                let at = |sample: usize| averaged[number * across + sample];
                let (p, q) = (at(sample - 1), at(sample + 1));
                edges[number * across + sample] = (p.l - q.l).hypot(p.a - q.a).hypot(p.b - q.b).min(CAPPED) / CAPPED;
            }
        }
        edges
    }
}

/// Points of a line at even distances, and whether the wire is seen there.
fn even(line: &[[f64; 2]], path: &[PathPoint], step: f64) -> (Vec<[f64; 2]>, Vec<bool>) {
    let (mut points, mut seen, mut left) = (Vec::new(), Vec::new(), 0.0);
    for (pair, ends) in line.windows(2).zip(path.windows(2)) {
        let [a, b] = [pair[0], pair[1]];
        let length = (b[0] - a[0]).hypot(b[1] - a[1]);
        let mut along = left;
        while along < length {
            let share = along / length;
            points.push([a[0] + share * (b[0] - a[0]), a[1] + share * (b[1] - a[1])]);
            seen.push(ends[0].seen && ends[1].seen);
            along += step;
        }
        left = along - length;
    }
    (points, seen)
}
