//! Layers of a small convolutional network, worked out forwards. Which layers there are, and what they were taught, is in `sight`.

use faer::linalg::matmul::matmul;
use faer::{Accum, MatMut, MatRef, Par};
use rayon::prelude::*;

/// Rows of a layer that are worked out as one product of matrices.
const ROWS: usize = 8;

/// Planes of numbers, one after the other, each row by row.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Planes {
    pub(super) count: usize,
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) values: Vec<f32>,
}

/// A convolution with zeros beyond the edges, and what is below zero cut off if it is rectified.
#[derive(Debug, Clone)]
pub(super) struct Layer {
    pub(super) planes_in: usize,
    pub(super) planes_out: usize,
    /// Width of its square of weights: odd.
    pub(super) edge: usize,
    /// Every how many pixels it is applied, across and down.
    pub(super) stride: usize,
    pub(super) rectified: bool,
    /// For each plane out, each plane in, row by row of the square.
    pub(super) weights: Vec<f32>,
    pub(super) bias: Vec<f32>,
}

impl Planes {
    /// Planes of zeros.
    pub(super) fn blank(count: usize, width: usize, height: usize) -> Self {
        Self { count, width, height, values: vec![0.0; count * width * height] }
    }

    pub(super) fn plane_mut(&mut self, number: usize) -> &mut [f32] {
        let size = self.width * self.height;
        &mut self.values[number * size..(number + 1) * size]
    }

    /// One plane.
    pub(super) fn plane(&self, number: usize) -> &[f32] {
        let size = self.width * self.height;
        &self.values[number * size..(number + 1) * size]
    }

    /// Adds planes of half the width and height, each of their pixels to four of these.
    pub(super) fn add_doubled(&mut self, half: &Self) {
        let (width, height) = (self.width, self.height);
        for (number, plane) in self.values.chunks_exact_mut((width * height).max(1)).enumerate() {
            let from = half.plane(number);
            for (y, row) in plane.chunks_exact_mut(width).enumerate() {
                let from = &from[y / 2 * half.width..];
                row.iter_mut().enumerate().for_each(|(x, value)| *value += from[x / 2]);
            }
        }
    }
}

impl Layer {
    /// The planes it makes of planes of even width and height.
    pub(super) fn of(&self, from: &Planes) -> Planes {
        let (width, height) = (from.width.div_ceil(self.stride), from.height.div_ceil(self.stride));
        let bands: Vec<Vec<f32>> = (0..height.div_ceil(ROWS))
            .into_par_iter()
            .map(|band| self.band(from, width, height, band * ROWS))
            .collect();
        let mut values = Vec::with_capacity(self.planes_out * width * height);
        for plane in 0..self.planes_out {
            for band in &bands {
                let size = band.len() / self.planes_out;
                values.extend_from_slice(&band[plane * size..(plane + 1) * size]);
            }
        }
        Planes { count: self.planes_out, width, height, values }
    }

    /// Some rows of all planes, plane by plane.
    fn band(&self, from: &Planes, width: usize, height: usize, first: usize) -> Vec<f32> {
        let rows = ROWS.min(height - first);
        let (columns, taps) = (rows * width, self.planes_in * self.edge * self.edge);
        let mut around = vec![0.0_f32; taps * columns];
        for (tap, around) in around.chunks_exact_mut(columns.max(1)).enumerate() {
            let plane = from.plane(tap / (self.edge * self.edge));
            let (down, across) = (tap / self.edge % self.edge, tap % self.edge);
            for (row, around) in around.chunks_exact_mut(width).enumerate() {
                let Some(y) = ((first + row) * self.stride + down).checked_sub(self.edge / 2) else { continue };
                if y >= from.height {
                    continue;
                }
                let line = &plane[y * from.width..(y + 1) * from.width];
                for (x, value) in around.iter_mut().enumerate() {
                    let x = (x * self.stride + across).checked_sub(self.edge / 2);
                    *value = x.and_then(|x| line.get(x)).copied().unwrap_or(0.0);
                }
            }
        }
        let mut out = vec![0.0_f32; self.planes_out * columns];
        for (out, bias) in out.chunks_exact_mut(columns.max(1)).zip(&self.bias) {
            out.fill(*bias);
        }
        matmul(
            MatMut::from_row_major_slice_mut(&mut out, self.planes_out, columns),
            Accum::Add,
            MatRef::from_row_major_slice(&self.weights, self.planes_out, taps),
            MatRef::from_row_major_slice(&around, taps, columns),
            1.0_f32,
            Par::Seq,
        );
        if self.rectified {
            for value in &mut out {
                *value = value.max(0.0);
            }
        }
        out
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Numbers that differ, between -1 and 1.
    fn numbers(count: usize, seed: usize) -> Vec<f32> {
        (0..count).map(|place| ((place * 37 + seed * 11) % 23) as f32 / 11.0 - 1.0).collect()
    }

    /// The definition, summed term by term: out(o, y, x) = bias(o) + sum of weight(o, i, v, u) * in(i, sy + v - r, sx + u - r), zero
    /// outside (V. Dumoulin and F. Visin, "A guide to convolution arithmetic for deep learning", 2016, chapter 2).
    fn by_definition(layer: &Layer, from: &Planes, out: usize, y: usize, x: usize) -> f32 {
        let mut sum = layer.bias[out];
        let edge = layer.edge;
        for (plane, v, u) in
            (0..from.count).flat_map(|plane| (0..edge * edge).map(move |tap| (plane, tap / edge, tap % edge)))
        {
            let (y, x) = ((y * layer.stride + v).wrapping_sub(edge / 2), (x * layer.stride + u).wrapping_sub(edge / 2));
            if y < from.height && x < from.width {
                sum += layer.weights[((out * from.count + plane) * edge + v) * edge + u]
                    * from.plane(plane)[y * from.width + x];
            }
        }
        if layer.rectified { sum.max(0.0) } else { sum }
    }

    #[test]
    fn a_layer_is_what_its_definition_says() {
        for (edge, stride, rectified) in [(3, 1, true), (5, 2, false), (1, 1, false), (3, 2, true)] {
            let from = Planes { count: 2, width: 14, height: 22, values: numbers(2 * 14 * 22, edge) };
            let (weights, bias) = (numbers(3 * 2 * edge * edge, 5), numbers(3, 7));
            let layer = Layer { planes_in: 2, planes_out: 3, edge, stride, rectified, weights, bias };
            let told = layer.of(&from);
            assert_eq!((told.count, told.width, told.height), (3, 14 / stride, 22 / stride));
            for (out, y, x) in
                (0..3).flat_map(|out| (0..told.height).flat_map(move |y| (0..14 / stride).map(move |x| (out, y, x))))
            {
                let off = told.plane(out)[y * told.width + x] - by_definition(&layer, &from, out, y, x);
                assert!(off.abs() < 1e-4, "edge {edge}, stride {stride}, at {out} {y} {x}: off by {off}");
            }
        }
    }

    #[test]
    fn a_pixel_of_half_the_size_is_added_to_four() {
        let mut planes = Planes { count: 1, width: 4, height: 2, values: vec![0.0; 8] };
        planes.add_doubled(&Planes { count: 1, width: 2, height: 1, values: vec![1.0, 2.0] });
        assert_eq!(planes.values, [1.0, 1.0, 2.0, 2.0, 1.0, 1.0, 2.0, 2.0]);
    }
}
