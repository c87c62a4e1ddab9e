//! Whether something winds round a wire: a tracer is a helix, and a helix has a hand. What does not wind is as strong the one way as the other,
//! so each wire brings its own measure of what is chance.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "sections are few and never negative, f32 is fine enough for colours"
)]

use std::f64::consts::TAU;
use std::ops::Range;

use super::lab::Lab;
use super::surface::{ACROSS, Section};

/// Sections to one width of the wire.
pub(super) const PER_WIDTH: usize = 10;
/// Shading is the mean over so many widths before and after.
const SHADED: usize = 8;
/// Turns are looked for in stretches so many widths long, each with a phase of its own: wires lie at a slant here and there.
const STRETCH: usize = 16;
/// A stretch for short turns has so many of them, but so many widths at the least.
const TURNS: f64 = 2.0;
const SHORT_STRETCH: usize = 5;
/// A stretch of which less than this share is seen says nothing.
const LEAST_SEEN: f64 = 0.25;
/// The stretches in which most winds do not count: what crosses the wire at a slant is in two of them, a tracer in all.
const ONCE: usize = 2;
/// Widths between two lines of a tracer on the same side of the wire: from this, so many times by so much, up to thirty widths. What
/// turns more slowly cannot be told from light that falls from the side.
const SHORTEST: f64 = 1.7;
const PERIODS: usize = 48;
const LONGER: f64 = 1.065;
/// Waves round the wire that stand for its lines: one line of a fifth of the way round looks most like this many, and so do two of a quarter.
/// A wire's edge turns away and counts less.
const LINES: f64 = 2.7;
/// Differences of colour count up to this: another thing in front of the wire is no stronger than a tracer.
const CAPPED: f32 = 25.0;
/// Lightness counts less than colour: it changes with light and shadow too.
const LIGHTNESS: f32 = 0.6;
/// Strength that noise alone has, in units of L*a*b* squared.
const NOISE: f64 = 0.05;

/// What winds round a wire.
pub(super) struct Helix {
    /// How strongly something winds, against all differences of colour across the wire: 0 to 1.
    pub(super) strength: f64,
    /// How many times as strongly it winds as anything winds the other way.
    pub(super) hand: f64,
    /// For each sample, how far it is towards the tracer, from -1 to 1 by where the line should be, and how far its colour is from what is
    /// usual at its place, in units of L*a*b*.
    pub(super) towards: Vec<[(f32, f32); ACROSS]>,
}

/// A complex number for each of L*, a*, b*.
type Wave = [[f64; 2]; 3];

impl Helix {
    /// How clearly something winds.
    pub(super) fn score(&self) -> f64 {
        self.strength * self.hand
    }

    /// The helix that shows most clearly in sections along a wire; nothing when too little is seen.
    pub(super) fn of(sections: &[Section]) -> Option<Self> {
        let last = sections.last()?.number;
        let differences = differences(sections);
        let angles: Vec<f64> = (0..ACROSS)
            .map(|place| ((place as f64 / (ACROSS - 1) as f64 - 0.5) * 2.0 * super::surface::SPANNED).asin())
            .collect();
        // What each section has of the pattern, before it is turned on.
        let waves: Vec<Wave> = differences
            .iter()
            .map(|section| {
                let mut wave = Wave::default();
                for (difference, angle) in section.iter().zip(&angles) {
                    let (sine, cosine) = (LINES * angle).sin_cos();
                    for axis in 0..3 {
                        let by = f64::from(difference[axis]) * angle.cos();
                        wave[axis][0] += by * cosine;
                        wave[axis][1] -= by * sine;
                    }
                }
                wave
            })
            .collect();
        let all: f64 = differences.iter().flatten().map(|d| d.iter().map(|v| f64::from(v * v)).sum::<f64>()).sum();
        let places: Vec<f64> = sections.iter().map(|section| section.number as f64 / PER_WIDTH as f64).collect();
        let stretches: Vec<_> = (0..PERIODS).map(|step| stretches(sections, last, stretch(step))).collect();
        let mut strengths = [[0.0; PERIODS]; 2];
        let (mut weight, mut energy) = (0.0, NOISE);
        for (range, seen) in stretches.last()? {
            weight += seen;
            let squares =
                differences[range.clone()].iter().flatten().map(|d| d.iter().map(|v| f64::from(v * v)).sum::<f64>());
            energy += squares.sum::<f64>() / (range.len() * ACROSS) as f64 * seen;
        }
        if weight == 0.0 || all == 0.0 {
            return None;
        }
        for (hand, strengths) in strengths.iter_mut().enumerate() {
            for (step, strength) in strengths.iter_mut().enumerate() {
                let sums = turned(&waves, &places, turn(hand, step));
                let mut each: Vec<(f64, f64)> = stretches[step]
                    .iter()
                    .map(|(range, seen)| {
                        let wave = between(&sums, range);
                        let count = (range.len() * ACROSS) as f64;
                        (square(&wave) / (count * count), *seen)
                    })
                    .collect();
                each.sort_by(|a, b| a.0.total_cmp(&b.0));
                each.truncate(each.len() - ONCE.min(each.len() / 3));
                *strength = each.iter().map(|(square, seen)| square * seen).sum();
                let seen: f64 = each.iter().map(|(_, seen)| seen).sum();
                *strength *= weight / seen.max(0.1);
            }
        }
        let greatest = |of: &[f64; PERIODS]| {
            (0..PERIODS).max_by(|&a, &b| of[a].total_cmp(&of[b])).map_or((0, 0.0), |step| (step, of[step]))
        };
        let found = strengths.each_ref().map(greatest);
        let hand = usize::from(found[1].1 > found[0].1);
        let (step, most) = found[hand];
        let towards = towards(&differences, &waves, &places, &angles, (turn(hand, step), stretch(step)));
        Some(Self { strength: most / energy, hand: most / (found[1 - hand].1 + NOISE * 0.02), towards })
    }
}

/// Radians to one width along the wire.
fn turn(hand: usize, step: usize) -> f64 {
    let turn = TAU / (SHORTEST * LONGER.powf(step as f64));
    if hand == 0 { turn } else { -turn }
}

/// Widths of a stretch that turns of this length are looked for in.
fn stretch(step: usize) -> usize {
    ((TURNS * TAU / turn(0, step)) as usize).clamp(SHORT_STRETCH, STRETCH)
}

fn square(wave: &Wave) -> f64 {
    wave.iter().flatten().map(|part| part * part).sum()
}

/// Sums of the waves before each place, each turned on by how far along the wire it is.
fn turned(waves: &[Wave], places: &[f64], turn: f64) -> Vec<Wave> {
    let mut sums = Vec::with_capacity(waves.len() + 1);
    let mut sum = Wave::default();
    sums.push(sum);
    for (wave, place) in waves.iter().zip(places) {
        let (sine, cosine) = (turn * place).sin_cos();
        for (sum, [re, im]) in sum.iter_mut().zip(wave) {
            sum[0] += re * cosine - im * sine;
            sum[1] += re * sine + im * cosine;
        }
        sums.push(sum);
    }
    sums
}

/// What sums are of a range.
fn between(sums: &[Wave], range: &Range<usize>) -> Wave {
    let (from, to) = (sums[range.start], sums[range.end]);
    std::array::from_fn(|axis| [to[axis][0] - from[axis][0], to[axis][1] - from[axis][1]])
}

/// Stretches of the wire, each beginning in the middle of the one before, and the share of it that is seen.
fn stretches(sections: &[Section], last: usize, widths: usize) -> Vec<(Range<usize>, f64)> {
    let length = widths * PER_WIDTH;
    let mut stretches = Vec::new();
    let mut start = 0;
    loop {
        let from = sections.partition_point(|section| section.number < start);
        let to = sections.partition_point(|section| section.number < start + length);
        let seen = (to - from) as f64 / length as f64;
        if seen >= LEAST_SEEN || last < length && to > from {
            stretches.push((from..to, seen));
        }
        start += length / 2;
        if start + length / 2 > last {
            return stretches;
        }
    }
}

/// What each sample differs by from what is usual at its place across the wire and along it.
fn differences(sections: &[Section]) -> Vec<[[f32; 3]; ACROSS]> {
    let reach = SHADED * PER_WIDTH;
    let scaled = |lab: Lab| [LIGHTNESS * lab.l, lab.a, lab.b];
    let mut sums = vec![[[0.0_f64; 3]; ACROSS]; sections.len() + 1];
    for (number, section) in sections.iter().enumerate() {
        let before = sums[number];
        for (place, (sum, lab)) in sums[number + 1].iter_mut().zip(&section.colours).enumerate() {
            let colour = scaled(*lab);
            *sum = [0, 1, 2].map(|axis| before[place][axis] + f64::from(colour[axis]));
        }
    }
    (0..sections.len())
        .map(|number| {
            let from = sections.partition_point(|other| other.number + reach < sections[number].number);
            let to = sections.partition_point(|other| other.number <= sections[number].number + reach);
            let mut section = [[0.0_f32; 3]; ACROSS];
            for (place, difference) in section.iter_mut().enumerate() {
                let colour = scaled(sections[number].colours[place]);
                *difference = [0, 1, 2].map(|axis| {
                    let usual = (sums[to][place][axis] - sums[from][place][axis]) / (to - from) as f64;
                    colour[axis] - usual as f32
                });
            }
            let mean = [0, 1, 2].map(|axis| section.iter().map(|d| d[axis]).sum::<f32>() / ACROSS as f32);
            section.map(|difference| {
                let rest = [0, 1, 2].map(|axis| difference[axis] - mean[axis]);
                let length = rest.iter().map(|v| v * v).sum::<f32>().sqrt();
                rest.map(|v| v * (CAPPED / length.max(CAPPED)))
            })
        })
        .collect()
}

/// See `Helix::towards`.
fn towards(
    differences: &[[[f32; 3]; ACROSS]],
    waves: &[Wave],
    places: &[f64],
    angles: &[f64],
    (turn, stretch): (f64, usize),
) -> Vec<[(f32, f32); ACROSS]> {
    // The wave near each section: from half a stretch before to half a stretch behind.
    let sums = turned(waves, places, turn);
    let half = 0.4 * stretch as f64;
    let near: Vec<Wave> = (0..waves.len())
        .map(|number| {
            let from = places.partition_point(|&place| place < places[number] - half);
            let to = places.partition_point(|&place| place <= places[number] + half);
            between(&sums, &(from..to))
        })
        .collect();
    let axis = axis(&near);
    let along = |v: &[f32; 3]| (0..3).map(|place| v[place] * axis[place]).sum::<f32>();
    // A tracer covers less than half of the wire: what is rarer lies further from the mean.
    let skew: f64 = differences.iter().flatten().map(|difference| f64::from(along(difference)).powi(3)).sum();
    let sign = if skew < 0.0 { -1.0 } else { 1.0 };
    (0..differences.len())
        .map(|number| {
            let wave =
                [0, 1].map(|part| (0..3).map(|place| near[number][place][part] * f64::from(axis[place])).sum::<f64>());
            let length = wave[0].hypot(wave[1]).max(1e-9);
            let mut section = [(0.0, 0.0); ACROSS];
            for (place, sample) in section.iter_mut().enumerate() {
                let (sine, cosine) = (LINES * angles[place] - turn * places[number]).sin_cos();
                let at = (wave[0] * cosine - wave[1] * sine) / length;
                *sample = ((sign * at) as f32, sign as f32 * along(&differences[number][place]));
            }
            section
        })
        .collect()
}

/// The direction of colour in which waves are greatest, one unit long.
fn axis(waves: &[Wave]) -> [f32; 3] {
    let mut matrix = [[0.0_f64; 3]; 3];
    for wave in waves {
        for (row, a) in matrix.iter_mut().zip(wave) {
            for (value, b) in row.iter_mut().zip(wave) {
                *value += a[0] * b[0] + a[1] * b[1];
            }
        }
    }
    // Squaring the matrix often enough leaves its greatest direction.
    let mut axis = [0.6, 0.5, 0.62];
    for _ in 0..50 {
        let next = matrix.map(|row| row.iter().zip(&axis).map(|(m, v)| m * v).sum::<f64>());
        let length = next.iter().map(|v| v * v).sum::<f64>().sqrt();
        if length <= 0.0 {
            break;
        }
        axis = next.map(|v| v / length);
    }
    axis.map(|v| v as f32)
}
