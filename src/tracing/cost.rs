//! What a step on each pixel costs: little where a tube of the wire's colour and width runs, the same middling price elsewhere.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    reason = "prices and likeness stay in a byte by their formulas, places below 2^32 by the limit on pixels; casts from floats saturate"
)]

use super::ground::Window;
use super::look::Look;

/// Price of a pixel in the middle of the wire.
pub const SEEN_COST: u8 = 3;
/// Price of a pixel where the wire is not seen. The same everywhere: what hides a wire says nothing about where it runs.
pub const HIDDEN_COST: u8 = 60;

/// Where the outline is looked for, against the kernel's width, which is less than the wire's.
const AT_EDGE: f64 = 0.8;
/// A difference of so many steps of 255 between a wire and its outline is clear.
const CLEAR: f32 = 60.0;
/// What a clear outline alone counts, against a tube that differs in colour from what is beside it.
const OUTLINE: f32 = 0.6;

/// Costs and likeness of a window's pixels.
#[derive(Debug, Clone)]
pub(super) struct Costs {
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) cost: Vec<u8>,
    /// Mean likeness in the tube's kernel, 0 to 255.
    pub(super) like: Vec<u8>,
}

/// The costs of a window for a wire of a width in its pixels.
pub(super) fn costs(window: &Window, look: &Look, wire_px: f64) -> Costs {
    let (width, height) = (window.width, window.height);
    let raw: Vec<u8> = window.rgb.iter().map(|&rgb| look.distance(rgb)).collect();
    // Two box means in a row are near enough to a round kernel; together they are as wide as the wire.
    let inner = radius_of(wire_px / 5.0);
    let once = mean(&raw, width, height, inner);
    let range = f32::from(HIDDEN_COST - SEEN_COST);
    let contrast = (look.half() * 0.8).max(1.0);
    let sides = eight_ways(wire_px * 0.95);
    let edges = eight_ways(wire_px * AT_EDGE);
    let mut cost = vec![HIDDEN_COST; raw.len()];
    let mut like = vec![0; raw.len()];
    for y in 0..height {
        for x in 0..width {
            let place = y * width + x;
            let here = once[place];
            let alike = look.likeness_at(here);
            like[place] = alike;
            if alike < 8 {
                continue;
            }
            let near = |dx: isize, dy: isize| {
                let x = (x as isize + dx).clamp(0, width as isize - 1) as usize;
                let y = (y as isize + dy).clamp(0, height as isize - 1) as usize;
                y * width + x
            };
            let at = |dx: isize, dy: isize| once[near(dx, dy)];
            // What lies on both sides is further from the wire's colour, whichever way it runs: a tube, no area.
            let beside = sides.iter().map(|&(dx, dy)| at(dx, dy).min(at(-dx, -dy))).max().unwrap_or(0);
            let tube = (f32::from(beside.saturating_sub(here)) / contrast).min(1.0);
            // A wire before its own colour shows by its outline alone.
            let rgb = window.rgb[place];
            let off = |dx: isize, dy: isize| {
                let other = window.rgb[near(dx, dy)];
                (0..3).map(|channel| other[channel].abs_diff(rgb[channel])).max().unwrap_or(0)
            };
            let outline = edges.iter().map(|&(dx, dy)| off(dx, dy).min(off(-dx, -dy))).max().unwrap_or(0);
            let tube = tube.max(OUTLINE * (f32::from(outline) / CLEAR).min(1.0));
            let seen = f32::from(alike) / 255.0 * (0.2 + (1.0 - 0.2) * tube);
            cost[place] = SEEN_COST + (range * (1.0 - seen).powi(2)).round() as u8;
        }
    }
    Costs { width, height, cost, like }
}

/// Places at a distance in eight directions, half of a turn in all: their opposites are the other eight.
fn eight_ways(reach: f64) -> Vec<(isize, isize)> {
    let at = |step: i32| {
        let (dy, dx) = (f64::from(step) * std::f64::consts::PI / 8.0).sin_cos();
        ((dx * reach).round() as isize, (dy * reach).round() as isize)
    };
    (0..8).map(at).collect()
}

fn radius_of(px: f64) -> usize {
    px.round().max(1.0) as usize
}

/// The mean over a square of 2·radius+1 pixels, by running sums across and down.
fn mean(values: &[u8], width: usize, height: usize, radius: usize) -> Vec<u8> {
    let mut across = vec![0_u8; values.len()];
    if width == 0 || height == 0 {
        return across;
    }
    let full = 2 * radius as u32 + 1;
    let scale = (1 << 16) / full;
    for y in 0..height {
        let row = &values[y * width..(y + 1) * width];
        let at = |x: isize| u32::from(row[x.clamp(0, width as isize - 1) as usize]);
        let r = radius as isize;
        let mut sum: u32 = (-r..=r).map(at).sum();
        for x in 0..width as isize {
            across[y * width + x as usize] = ((sum * scale + (1 << 15)) >> 16) as u8;
            sum = sum + at(x + r + 1) - at(x - r);
        }
    }
    let mut down = vec![0_u8; values.len()];
    let mut sums = vec![0_u32; width];
    let row = |y: isize| {
        let y = y.clamp(0, height as isize - 1) as usize;
        &across[y * width..(y + 1) * width]
    };
    let r = radius as isize;
    for y in -r..=r {
        for (sum, &value) in sums.iter_mut().zip(row(y)) {
            *sum += u32::from(value);
        }
    }
    for y in 0..height as isize {
        let to = &mut down[y as usize * width..(y as usize + 1) * width];
        for (to, &sum) in to.iter_mut().zip(&sums) {
            *to = ((sum * scale + (1 << 15)) >> 16) as u8;
        }
        for ((sum, &enters), &leaves) in sums.iter_mut().zip(row(y + r + 1)).zip(row(y - r)) {
            *sum = *sum + u32::from(enters) - u32::from(leaves);
        }
    }
    down
}
