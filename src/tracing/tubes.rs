//! Short pieces of wire anywhere on a photo: straight bands of one width whose colour is the same from side to side and other than
//! what lies on both sides.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    reason = "places in a picture and small offsets; casts from floats saturate"
)]

use std::f64::consts::PI;

use rayon::prelude::*;

use super::lab::Lab;
use super::scene::Scene;

/// Directions that are tried over half a turn.
const TURNS: usize = 24;
/// Widths that are tried, in pixels of the scene.
const WIDTHS: [f64; 5] = [5.0, 6.5, 8.5, 11.0, 14.5];
const WIDEST: f64 = 17.0;
/// A band differs at least so much from both sides, less what its own halves differ, in units of L*a*b* with lightness counted less.
const LEAST: f32 = 3.0;
/// How much of a difference in lightness counts: light changes along a wire and across it.
const LIGHTNESS: f32 = 0.8;
/// Bands are tried so many pixels apart along them.
const STEP: usize = 2;
/// The middle and the edges of a piece are measured so finely, in pixels.
const FINE: f64 = 0.5;
/// Most pieces that are kept.
const MOST: usize = 200_000;

/// A piece of what may be a wire.
#[derive(Debug, Clone, Copy)]
pub(super) struct Tube {
    pub(super) at: [f64; 2],
    /// Which way it runs, from 0 to half a turn.
    pub(super) turn: f64,
    /// The same as a step of length 1.
    pub(super) along: [f64; 2],
    pub(super) width: f64,
    /// How much it differs from both sides.
    pub(super) score: f32,
    pub(super) lab: Lab,
    /// What lies to its left and right, seen along its turn.
    pub(super) sides: [Lab; 2],
}

pub(super) fn apart(a: Lab, b: Lab) -> f32 {
    let l = LIGHTNESS * (a.l - b.l);
    (l * l + (a.a - b.a) * (a.a - b.a) + (a.b - b.b) * (a.b - b.b)).sqrt()
}

/// All pieces, the clearest first, none twice.
pub(super) fn tubes(scene: &Scene, go_on: &(dyn Fn(f64) -> bool + Sync)) -> Vec<Tube> {
    let done = std::sync::atomic::AtomicUsize::new(0);
    let mut all: Vec<Tube> = (0..TURNS)
        .into_par_iter()
        .flat_map_iter(|turn| {
            let told = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
            if go_on(told as f64 / TURNS as f64) { Turned::of(scene, turn).tubes() } else { Vec::new() }
        })
        .collect();
    let order = |a: &Tube, b: &Tube| {
        b.score.total_cmp(&a.score).then(a.at[1].total_cmp(&b.at[1])).then(a.at[0].total_cmp(&b.at[0]))
    };
    all.sort_by(order);
    let rough = thinned(scene, &all, Tube::repeats);
    let mut measured: Vec<Tube> = rough.par_iter().filter_map(|tube| tube.measured(scene)).collect();
    measured.sort_by(order);
    thinned(scene, &measured, Tube::lies_on)
}

/// The clearest of those that lie on each other.
fn thinned(scene: &Scene, all: &[Tube], same: fn(&Tube, &Tube) -> bool) -> Vec<Tube> {
    const CELL: f64 = 16.0;
    let cells = [scene.width, scene.height].map(|edge| edge / CELL as usize + 1);
    let mut grid: Vec<Vec<usize>> = vec![Vec::new(); cells[0] * cells[1]];
    let cell = |at: [f64; 2]| at.map(|value| (value.max(0.0) / CELL) as usize);
    let mut kept: Vec<Tube> = Vec::new();
    for tube in all {
        let [x, y] = cell(tube.at);
        let taken = (y.saturating_sub(1)..(y + 2).min(cells[1]))
            .flat_map(|y| (x.saturating_sub(1)..(x + 2).min(cells[0])).map(move |x| y * cells[0] + x))
            .flat_map(|place| &grid[place])
            .any(|&other| same(&kept[other], tube));
        if !taken && x < cells[0] && y < cells[1] {
            grid[y * cells[0] + x].push(kept.len());
            kept.push(*tube);
            if kept.len() >= MOST {
                break;
            }
        }
    }
    kept
}

impl Tube {
    /// How far another lies along and aside, and how far it is turned.
    fn off(&self, other: &Self) -> [f64; 3] {
        let (dx, dy) = (other.at[0] - self.at[0], other.at[1] - self.at[1]);
        let [c, s] = self.along;
        let turned = (self.turn - other.turn).rem_euclid(PI);
        [(dx * c + dy * s).abs(), (dy * c - dx * s).abs(), turned.min(PI - turned)]
    }

    fn repeats(&self, other: &Self) -> bool {
        let [along, aside, turned] = self.off(other);
        along < 0.4 * self.width && aside < 0.35 * self.width && turned < 0.2
    }

    fn lies_on(&self, other: &Self) -> bool {
        let [along, aside, turned] = self.off(other);
        (along < 0.75 * self.width && aside < 0.7 * self.width.min(other.width) && turned < 0.5)
            // Across a clear band, and along its edges, weak ones fit in every direction.
            || (along < 0.8 * self.width
                && aside < 0.8 * self.width
                && other.score < 0.6 * self.score
                && other.width < 1.3 * self.width)
    }

    /// Its middle, width and colours measured; nothing when it is no band all along.
    fn measured(&self, scene: &Scene) -> Option<Self> {
        let [c, s] = self.along;
        let half = (REACH * self.width / FINE).ceil() as usize;
        let samples = 2 * half + 1;
        let across = |sample: usize| (sample as f64 - half as f64) * FINE;
        let place = |along: f64, aside: f64| [self.at[0] + along * c - aside * s, self.at[1] + along * s + aside * c];
        let span = |from: f64, to: f64| {
            let sample = |share: f64| (share * self.width / FINE + half as f64).round().max(0.0) as usize;
            sample(from)..(sample(to) + 1).min(samples)
        };
        let (inner, low, high) = (span(-0.25, 0.25), span(-1.0, -0.65), span(0.65, 1.0));
        let mut sum = vec![Lab::default(); samples];
        let mut section = sum.clone();
        let mut halves = [sum.clone(), sum.clone()];
        let mut contrast = [0.0_f32; SECTIONS.len()];
        for (along, contrast) in SECTIONS.iter().zip(&mut contrast) {
            for (sample, (lab, sum)) in section.iter_mut().zip(&mut sum).enumerate() {
                *lab = scene.at(place(along * self.width, across(sample)));
                *sum = plus(*sum, *lab);
            }
            if *along != 0.0 {
                for (half, lab) in halves[usize::from(*along > 0.0)].iter_mut().zip(&section) {
                    *half = plus(*half, times(*lab, 0.5));
                }
            }
            let inside = middle(&section[inner.clone()]);
            *contrast = apart(inside, middle(&section[low.clone()])).min(apart(inside, middle(&section[high.clone()])));
        }
        for lab in &mut sum {
            *lab = times(*lab, 1.0 / SECTIONS.len() as f32);
        }
        let lab = middle(&sum[inner]);
        let sides = [middle(&sum[low]), middle(&sum[high])];
        // It is a band at four of five places: not where it begins, ends, or lies across something.
        contrast.sort_by(f32::total_cmp);
        if contrast[1] < (0.35 * self.score).max(0.5 * LEAST) {
            return None;
        }
        // Its edges where it is half way to what lies beside it, before and behind its middle: which way it runs more finely.
        let edges = |of: &[Lab]| {
            let right = (half..samples).find(|&at| apart(of[at], lab) > apart(of[at], sides[1]))?;
            let left = (0..half).rev().find(|&at| apart(of[at], lab) > apart(of[at], sides[0]))?;
            Some((across(left) + 0.5 * FINE, across(right) - 0.5 * FINE))
        };
        let (left, right) = edges(&sum)?;
        let (width, moved) = (right - left, f64::midpoint(left, right));
        if width > WIDEST || width < 0.45 * self.width || width > 1.8 * self.width || moved.abs() > 0.5 * self.width {
            return None;
        }
        let mut turn = self.turn;
        if let (Some(behind), Some(before)) = (edges(&halves[0]), edges(&halves[1])) {
            let shift = f64::midpoint(before.0, before.1) - f64::midpoint(behind.0, behind.1);
            let turned = (shift / (1.2 * self.width)).atan();
            turn += turned.clamp(-0.2, 0.2);
        }
        let turn = turn.rem_euclid(PI);
        let score = self.score.min(apart(lab, sides[0])).min(apart(lab, sides[1]));
        Some(Self { at: place(0.0, moved), turn, along: [turn.cos(), turn.sin()], width, score, lab, sides })
    }
}

/// Where along a piece it is looked at, and how far aside, in widths.
const SECTIONS: [f64; 5] = [-0.8, -0.4, 0.0, 0.4, 0.8];
const REACH: f64 = 1.1;

fn plus(a: Lab, b: Lab) -> Lab {
    Lab { l: a.l + b.l, a: a.a + b.a, b: a.b + b.b }
}

fn times(a: Lab, by: f32) -> Lab {
    Lab { l: a.l * by, a: a.a * by, b: a.b * by }
}

fn middle(of: &[Lab]) -> Lab {
    times(of.iter().copied().fold(Lab::default(), plus), 1.0 / of.len().max(1) as f32)
}

/// The scene turned so that bands of one direction lie along its rows.
struct Turned {
    turn: f64,
    middle: [f64; 2],
    half: [i64; 2],
    /// Per row: L*, a*, b*, summed up along it; outside the scene as the nearest place inside.
    rows: Vec<[Vec<f32>; 3]>,
    size: [f64; 2],
}

impl Turned {
    fn of(scene: &Scene, turn: usize) -> Self {
        let turn = turn as f64 * PI / TURNS as f64;
        let (s, c) = turn.sin_cos();
        let (w, h) = (scene.width as f64, scene.height as f64);
        let middle = [w / 2.0, h / 2.0];
        let half = [f64::midpoint(w * c.abs(), h * s.abs()), f64::midpoint(w * s.abs(), h * c.abs())]
            .map(|edge| edge.ceil() as i64);
        let rows = (-half[1]..=half[1])
            .map(|v| {
                let mut sums = [const { Vec::new() }; 3];
                let mut sum = [0.0_f32; 3];
                for row in &mut sums {
                    row.reserve(2 * half[0] as usize + 2);
                    row.push(0.0);
                }
                let (x0, y0) = (middle[0] - v as f64 * s, middle[1] + v as f64 * c);
                for u in -half[0]..=half[0] {
                    let x = (x0 + u as f64 * c).clamp(0.0, w - 1.0) as usize;
                    let y = (y0 + u as f64 * s).clamp(0.0, h - 1.0) as usize;
                    let place = y * scene.width + x;
                    for channel in 0..3 {
                        sum[channel] += scene.planes[channel][place];
                        sums[channel].push(sum[channel]);
                    }
                }
                sums
            })
            .collect();
        Self { turn, middle, half, rows, size: [w, h] }
    }

    fn tubes(&self) -> Vec<Tube> {
        let columns = (2 * self.half[0] as usize + 1) / STEP;
        let height = self.rows.len();
        let mut best: Vec<(f32, u8)> = vec![(0.0, 0); columns * height];
        let mut sums: Vec<[Vec<f32>; 3]> = Vec::new();
        for (number, &width) in WIDTHS.iter().enumerate() {
            // Twice as long too: a tracer winds round the wire, and is as much on one side as on the other only over a turn of it.
            for (place, long) in [1.0, 2.2].into_iter().enumerate() {
                sums.push(self.summed(width * long, columns));
                self.score(width, (2 * number + place) as u8, columns, &sums[2 * number + place], &mut best);
            }
        }
        let mut found = Vec::new();
        for v in 2..height.saturating_sub(2) {
            for u in 0..columns {
                let (score, number) = best[v * columns + u];
                if score < LEAST {
                    continue;
                }
                let beats = |other: usize| best[other * columns + u].0 <= score;
                let beside = |u: usize| best[v * columns + u].0 <= score;
                if !(beats(v - 1) && beats(v + 1) && beats(v - 2) && beats(v + 2))
                    || (u > 0 && !beside(u - 1))
                    || (u + 1 < columns && !beside(u + 1))
                {
                    continue;
                }
                let (du, dv) = ((u * STEP) as f64 - self.half[0] as f64, v as f64 - self.half[1] as f64);
                let (s, c) = self.turn.sin_cos();
                let at = [self.middle[0] + du * c - dv * s + 0.5, self.middle[1] + du * s + dv * c + 0.5];
                if at[0] < 0.0 || at[1] < 0.0 || at[0] >= self.size[0] || at[1] >= self.size[1] {
                    continue;
                }
                let width = WIDTHS[usize::from(number) / 2];
                let band = Band::of(width);
                let mean =
                    |from: i64, to: i64| mean(&sums[usize::from(number)], columns, u, v as i64 + from, v as i64 + to);
                found.push(Tube {
                    at,
                    turn: self.turn,
                    along: [c, s],
                    width,
                    score,
                    lab: mean(-band.inner, band.inner),
                    sides: [mean(-band.far, -band.near), mean(band.near, band.far)],
                });
            }
        }
        found
    }

    /// Means along the rows over so many widths, summed up across them.
    fn summed(&self, width: f64, columns: usize) -> [Vec<f32>; 3] {
        let reach = width.round() as usize;
        let height = self.rows.len();
        [0, 1, 2].map(|channel| {
            let mut sums = vec![0.0_f32; columns * (height + 1)];
            for (v, row) in self.rows.iter().enumerate() {
                let row = &row[channel];
                let last = row.len() - 1;
                let (before, after) = sums.split_at_mut((v + 1) * columns);
                let before = &before[v * columns..];
                for u in 0..columns {
                    let (from, to) = ((u * STEP).saturating_sub(reach), (u * STEP + reach + 1).min(last));
                    after[u] = before[u] + (row[to] - row[from]) / (to - from) as f32;
                }
            }
            sums
        })
    }

    fn score(&self, width: f64, number: u8, columns: usize, sums: &[Vec<f32>; 3], best: &mut [(f32, u8)]) {
        let band = Band::of(width);
        let height = self.rows.len() as i64;
        // Where inside, halves and sides begin and end: each mean is the difference of two of these rows.
        let bounds = [-band.far, 1 - band.near, -band.inner, 0, 1, band.inner + 1, band.near, band.far + 1];
        let share = |rows: i64| 1.0 / rows.max(1) as f32;
        let (beside, inner, half) = (share(band.far - band.near + 1), share(2 * band.inner + 1), share(band.inner));
        for v in band.far..height - band.far {
            let rows = bounds.map(|bound| {
                let at = (v + bound) as usize * columns;
                sums.each_ref().map(|plane| &plane[at..at + columns])
            });
            let line = &mut best[v as usize * columns..(v as usize + 1) * columns];
            for (u, best) in line.iter_mut().enumerate() {
                let mean = |from: usize, to: usize, share: f32| {
                    let of = |channel: usize| (rows[to][channel][u] - rows[from][channel][u]) * share;
                    Lab { l: of(0), a: of(1), b: of(2) }
                };
                // A wider band must be clearly better: within a wide flank a narrow one fits too.
                let least = best.0.max(LEAST) / 0.95;
                let inside = mean(2, 5, inner);
                let left = apart(inside, mean(0, 1, beside));
                if left <= least {
                    continue;
                }
                let right = apart(inside, mean(6, 7, beside));
                if right <= least {
                    continue;
                }
                let halves = apart(mean(2, 3, half), mean(4, 5, half));
                let score = left.min(right) - 0.6 * halves;
                if score * if best.0 > 0.0 { 0.92 } else { 1.0 } > best.0 {
                    *best = (score, number);
                }
            }
        }
    }
}

/// Rows of a band, from its middle.
struct Band {
    inner: i64,
    near: i64,
    far: i64,
}

impl Band {
    fn of(width: f64) -> Self {
        let inner = (0.3 * width).round().max(1.0) as i64;
        let near = (0.65 * width).ceil() as i64;
        Self { inner, near, far: near + (0.3 * width).round().max(1.0) as i64 }
    }
}

/// The mean of rows from one to another, both counted in.
#[allow(clippy::inline_always, reason = "called some hundred million times for a photo")]
#[inline(always)]
fn mean(sums: &[Vec<f32>; 3], columns: usize, u: usize, from: i64, to: i64) -> Lab {
    let rows = (to - from + 1) as f32;
    let (low, high) = (from as usize * columns + u, (to + 1) as usize * columns + u);
    let of = |channel: usize| (sums[channel][high] - sums[channel][low]) / rows;
    Lab { l: of(0), a: of(1), b: of(2) }
}
