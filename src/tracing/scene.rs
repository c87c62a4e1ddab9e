//! A photo at a size at which all wires of it are looked for, as planes of red, green and blue.

use super::ground::{Ground, Window, pixel};

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
    /// The photo so many times smaller or, below 1, larger.
    pub(super) fn of(ground: &Ground, scale: f64) -> Self {
        let size = ground.size_px().map(f64::from);
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
                // Of a pixel at least, so that what is larger than the photo is drawn out evenly.
                let size = times.map(|times| times.max(1.0));
                let corner = [0, 1].map(|axis| ([x, y][axis] as f64 + 0.5) * times[axis] - size[axis] / 2.0);
                let rgb = mean(&from, corner.map(|at| at.max(0.0)), size);
                for (plane, value) in planes.iter_mut().zip(rgb) {
                    plane.push(value);
                }
            }
        }
        Self { width, height, planes, scale }
    }

    /// Its rows as columns.
    pub(super) fn lying(&self) -> Self {
        let turned = |plane: &Vec<f32>| {
            (0..self.width).flat_map(|x| (0..self.height).map(move |y| plane[y * self.width + x])).collect()
        };
        Self { width: self.height, height: self.width, planes: self.planes.each_ref().map(turned), scale: self.scale }
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn lying_its_rows_are_columns() {
        let plane: Vec<f32> = (0..6_u8).map(f32::from).collect();
        let scene = Scene { width: 3, height: 2, planes: [plane.clone(), plane.clone(), plane], scale: 1.5 };
        let lying = scene.lying();
        assert_eq!((lying.width, lying.height, lying.scale), (2, 3, 1.5));
        assert_eq!(lying.planes[2], [0.0, 3.0, 1.0, 4.0, 2.0, 5.0]);
        assert_eq!(lying.lying().planes, scene.planes);
    }
}
