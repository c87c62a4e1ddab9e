//! A photo at the one size at which all wires of it are looked for, as planes of red, green and blue.

use super::ground::{Ground, Window, pixel};

/// The longer edge of the photo as wires are looked for in it: a wire in a cabinet that fills the photo is then 5 to 15 pixels wide.
const EDGE_PX: f64 = 1400.0;

/// A photo made ready to look for all wires in.
pub(super) struct Scene {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Red, green and blue as they are encoded, 0 to 1, row by row.
    pub(super) planes: [Vec<f32>; 3],
    /// Photo pixels to one pixel here.
    pub(super) scale: f64,
}

impl Scene {
    pub(super) fn of(ground: &Ground) -> Self {
        let size = ground.size_px().map(f64::from);
        let scale = (size[0].max(size[1]) / EDGE_PX).max(1.0);
        // The smallest level that has at least as many pixels as are asked for.
        let mut level = 0;
        while level < ground.coarse() && ground.scale(level + 1).iter().all(|of_level| *of_level <= scale) {
            level += 1;
        }
        let from = ground.window(level, [0.0, 0.0], size);
        let times = ground.scale(level).map(|of_level| scale / of_level);
        let edge = |of: f64| pixel((of / scale).floor()).max(1);
        let (width, height) = (edge(size[0]), edge(size[1]));
        let mut planes = [const { Vec::new() }; 3];
        for plane in &mut planes {
            plane.reserve(width * height);
        }
        for y in 0..height {
            for x in 0..width {
                let rgb = mean(&from, [x as f64 * times[0], y as f64 * times[1]], times);
                for (plane, value) in planes.iter_mut().zip(rgb) {
                    plane.push(value);
                }
            }
        }
        Self { width, height, planes, scale }
    }
}

/// The mean of a rectangle of a window, every pixel by how much of it lies in it.
#[allow(clippy::cast_possible_truncation, reason = "f32 is fine enough for light between 0 and 1")]
fn mean(window: &Window, from: [f64; 2], size: [f64; 2]) -> [f32; 3] {
    let range = |axis: usize, most: usize| {
        pixel(from[axis]).min(most.saturating_sub(1))..pixel((from[axis] + size[axis]).ceil()).min(most)
    };
    let within = |place: usize, axis: usize| {
        let (first, last) = (from[axis], from[axis] + size[axis]);
        ((place as f64 + 1.0).min(last) - (place as f64).max(first)).max(0.0)
    };
    let (mut sum, mut count) = ([0.0; 3], 0.0);
    for y in range(1, window.height) {
        for x in range(0, window.width) {
            let share = within(x, 0) * within(y, 1);
            let rgb = window.rgb[y * window.width + x];
            (0..3).for_each(|channel| sum[channel] += share * f64::from(rgb[channel]));
            count += share;
        }
    }
    sum.map(|value| (value / (255.0 * f64::max(count, 1e-9))) as f32)
}
