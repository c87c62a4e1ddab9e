//! A photo at the one size at which all wires of it are looked for, as planes of L*, a* and b*.

use super::ground::{Ground, PhotoPoint, Window, pixel};
use super::lab::Lab;

/// The longer edge of the photo as wires are looked for in it: a wire in a cabinet that fills the photo is then 5 to 15 pixels wide.
const EDGE_PX: f64 = 1400.0;

/// A photo made ready to look for all wires in.
pub(super) struct Scene {
    pub(super) width: usize,
    pub(super) height: usize,
    /// Lightness, green to red, blue to yellow, row by row.
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
        while level < ground.coarse() && ground.scale(level + 1)[0] <= scale {
            level += 1;
        }
        let from = ground.window(level, [0.0, 0.0], size);
        let times = scale / ground.scale(level)[0];
        let edge = |of: f64| pixel((of / scale).floor()).max(1);
        let (width, height) = (edge(size[0]), edge(size[1]));
        let mut planes = [const { Vec::new() }; 3];
        for plane in &mut planes {
            plane.reserve(width * height);
        }
        for y in 0..height {
            for x in 0..width {
                let lab = mean(&from, [x as f64 * times, y as f64 * times], times);
                for (plane, value) in planes.iter_mut().zip([lab.l, lab.a, lab.b]) {
                    plane.push(value);
                }
            }
        }
        Self { width, height, planes, scale }
    }

    pub(super) fn here(&self, at: PhotoPoint) -> [f64; 2] {
        at.map(|value| value / self.scale)
    }

    pub(super) fn on_photo(&self, at: [f64; 2]) -> PhotoPoint {
        at.map(|value| value * self.scale)
    }

    /// The colour of the pixel at a place; of the nearest one outside.
    pub(super) fn at(&self, at: [f64; 2]) -> Lab {
        let x = pixel(at[0].max(0.0)).min(self.width.saturating_sub(1));
        let y = pixel(at[1].max(0.0)).min(self.height.saturating_sub(1));
        let place = y * self.width + x;
        let of = |plane: &Vec<f32>| plane.get(place).copied().unwrap_or(0.0);
        Lab { l: of(&self.planes[0]), a: of(&self.planes[1]), b: of(&self.planes[2]) }
    }
}

/// The mean colour of a square of a window, by whole pixels.
fn mean(window: &Window, from: [f64; 2], edge: f64) -> Lab {
    let range = |from: f64, most: usize| {
        let first = pixel(from).min(most.saturating_sub(1));
        first..pixel((from + edge).round()).max(first + 1).min(most)
    };
    let (mut sum, mut count) = (Lab::default(), 0.0_f32);
    for y in range(from[1], window.height) {
        for x in range(from[0], window.width) {
            let lab = Lab::of_srgb(window.rgb[y * window.width + x]);
            sum = Lab { l: sum.l + lab.l, a: sum.a + lab.a, b: sum.b + lab.b };
            count += 1.0;
        }
    }
    let count = count.max(1.0);
    Lab { l: sum.l / count, a: sum.a / count, b: sum.b / count }
}
