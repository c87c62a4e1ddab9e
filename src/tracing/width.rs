//! How wide a wire is: at a pin at first, then along the path.

#![allow(clippy::cast_possible_truncation, reason = "f32 is fine enough for shares between 0 and 1")]

use super::centre::{PathPoint, fine_level};
use super::ground::{Ground, PhotoPoint, pixel};
use super::lab::Lab;
use super::look::{Few, colours_under};
use super::strip::Strip;

/// The least and the greatest width a wire is taken to have, in pixels of the whole level.
const NARROWEST_PX: f64 = 3.0;
const WIDEST_PX: f64 = 48.0;
/// Colours further apart than this are simply different.
const CAPPED: f32 = 25.0;
/// What likeness inside a tube against beside it counts, against two clear edges.
const INSIDE: f32 = 0.3;
/// Edges of the wire itself are as clear as the clearest inside it, to this share; and no glint or tracer is narrower than the wire by
/// more than so many times.
const AS_CLEAR: f32 = 0.95;
const MOST_TIMES: f64 = 2.2;
/// A width along a path is measured from so many cross-sections on.
const SECTIONS: usize = 12;

/// The width of the wire in photo pixels, by its pins alone: of the narrowest ways across, one of the lesser.
pub(super) fn width_at(ground: &Ground, pins: &[PhotoPoint]) -> f64 {
    let scale = ground.scale(ground.coarse())[0];
    let mut widths: Vec<f64> = pins.iter().map(|&pin| narrowest(ground, pin)).collect();
    widths.sort_by(f64::total_cmp);
    let width = widths.get(widths.len().saturating_sub(1) * 2 / 5).copied().unwrap_or(NARROWEST_PX);
    width.clamp(NARROWEST_PX, WIDEST_PX) * scale
}

/// The narrowest way across at a pin, in pixels of the whole level: to where colours are halfway to what lies further out.
fn narrowest(ground: &Ground, pin: PhotoPoint) -> f64 {
    let at = ground.on_level(ground.coarse(), pin);
    let window = &ground.whole;
    let few = Few::of(&colours_under(window, at, 2.6));
    let reach = |angle: f64| {
        let (dy, dx) = angle.sin_cos();
        let steps = pixel(WIDEST_PX);
        let far: Vec<f32> = (1..=steps)
            .filter_map(|step| window.at(at[0] + dx * step as f64 / 2.0, at[1] + dy * step as f64 / 2.0))
            .map(|rgb| few.distance(Lab::of_srgb(rgb)))
            .collect();
        let mut sorted = far.clone();
        sorted.sort_by(f32::total_cmp);
        let outside = sorted.get(sorted.len() * 3 / 4).copied().unwrap_or(0.0);
        let edge = (outside / 2.0).clamp(4.0, 22.0);
        let last = far.windows(2).position(|pair| pair[0] > edge && pair[1] > edge).unwrap_or(far.len());
        last as f64 / 2.0 + 0.25
    };
    let across = |step: u32| {
        let angle = f64::from(step) * std::f64::consts::PI / 12.0;
        reach(angle) + reach(angle + std::f64::consts::PI)
    };
    (0..12).map(across).fold(f64::INFINITY, f64::min)
}

/// The width of the wire in photo pixels by a first path along it: of the tubes of one width that wind near the path, the one whose two
/// edges are seen best, and whose inside is like the pins. Nothing when too little of the wire is seen.
pub(super) fn width_along(ground: &Ground, colours: &[Lab], first: f64, path: &[PathPoint]) -> Option<f64> {
    let scale = ground.scale(ground.coarse())[0];
    let widths: Vec<f64> = (0..30)
        .map(|step| 0.6 * first * 1.08_f64.powi(step))
        .filter(|width| (NARROWEST_PX * scale..=WIDEST_PX * scale).contains(width))
        .collect();
    let widest = widths.last()?;
    let unit = (first / 6.0).max(ground.scale(fine_level(ground, first))[0] * 0.75);
    let strip = Strip::of(ground, path, first, 0.5 * widest + first.max(0.4 * widest), unit);
    let few = Few::of(colours);
    let across = strip.across();
    let edges = strip.edges(pixel(first / unit));
    let unlike: Vec<f32> = strip.lab.iter().map(|&lab| few.distance(lab).min(CAPPED) / CAPPED).collect();
    let mut seen: Vec<usize> = (0..strip.seen.len()).filter(|&number| strip.seen[number]).collect();
    // Where the pins show too little of the wire's colours, hardly anything is taken for it.
    if seen.len() * 3 < strip.seen.len() {
        seen = (0..strip.seen.len()).collect();
    }
    if seen.len() < SECTIONS {
        return None;
    }
    // Sums along each section, so that the mean inside any tube is a difference.
    let mut sums = vec![0.0; strip.seen.len() * (across + 1)];
    for number in 0..strip.seen.len() {
        for sample in 0..across {
            sums[number * (across + 1) + sample + 1] =
                sums[number * (across + 1) + sample] + unlike[number * across + sample];
        }
    }
    let best = widths.iter().map(|&width| {
        let half = 0.5 * width / unit;
        let offsets = pixel(first.max(0.4 * width) / unit);
        let score = |number: usize, offset: usize| {
            let middle = strip.reach as f64 + offset as f64 - offsets as f64;
            let (left, right) = (middle - half, middle + half);
            let edge = |at: f64| {
                let place = pixel(at.floor().max(0.0)).min(across - 2);
                let share = (at - place as f64).clamp(0.0, 1.0) as f32;
                let row = &edges[number * across..(number + 1) * across];
                row[place] + share * (row[place + 1] - row[place])
            };
            let (a, b) = (edge(left), edge(right));
            let (from, to) = (pixel((left + 1.0).round().max(0.0)), pixel((right).round()).min(across));
            let row = &sums[number * (across + 1)..(number + 1) * (across + 1)];
            let inside = (row[to] - row[from.min(to)]) / (to.saturating_sub(from)).max(1) as f32;
            let mean = |from: f64, to: f64| {
                let from = pixel(from.round().max(0.0)).min(across);
                let to = pixel(to.round().max(0.0)).min(across);
                (row[to] - row[from.min(to)]) / (to.saturating_sub(from)).max(1) as f32
            };
            let beside = half * 0.6;
            let out = mean(left - beside, left).midpoint(mean(right + 1.0, right + beside + 1.0));
            0.75 * a.min(b) + 0.25 * a.max(b) + INSIDE * (out - inside)
        };
        let mut total = vec![0.0; 2 * offsets + 1];
        for &number in &seen {
            let next: Vec<f32> = (0..=2 * offsets)
                .map(|offset| {
                    let (from, to) = (offset.saturating_sub(1), (offset + 2).min(total.len()));
                    let before = (from..to)
                        .map(|other| total[other] - if other == offset { 0.0 } else { 0.05 })
                        .fold(f32::NEG_INFINITY, f32::max);
                    before + score(number, offset)
                })
                .collect();
            total = next;
        }
        let score = total.iter().copied().fold(f32::NEG_INFINITY, f32::max) / seen.len() as f32;
        (width, score)
    });
    let scores: Vec<(f64, f32)> = best.collect();
    let &(clearest, most) = scores.iter().max_by(|a, b| a.1.total_cmp(&b.1))?;
    // Glints and tracers have edges inside the wire; its own are the outermost that are as clear.
    let clear = |place: &usize| {
        let score = |place: usize| scores.get(place).map_or(f32::NEG_INFINITY, |(_, score)| *score);
        let here = score(*place);
        here >= AS_CLEAR * most
            && scores[*place].0 < MOST_TIMES * clearest
            && here >= score(place.wrapping_sub(1))
            && here >= score(place + 1)
    };
    (0..scores.len()).rev().find(clear).map(|place| scores[place].0)
}
