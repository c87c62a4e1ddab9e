//! The pixels that wires are followed on: a photo's levels, one of them whole and small, the others in windows.

use std::sync::{Arc, OnceLock};

use super::lab::{Lab, linear};
use super::levels::PhotoPixels;
use super::light::Lighting;

/// A photo with more pixels than this is followed on a smaller level first.
const COARSE_PIXELS: u64 = 1_400_000;

/// A place on a photo in its own full pixels, x to the right, y down; the first pixel's centre is at 0.5, 0.5.
pub type PhotoPoint = [f64; 2];

/// A photo made ready for following wires. Cheap to share: the pixels are the ones that are drawn.
#[derive(Debug, Clone)]
pub struct Ground {
    pixels: Arc<PhotoPixels>,
    coarse: usize,
    pub(super) whole: Arc<Window>,
    /// Found out when a colour is first asked for.
    lighting: Arc<OnceLock<Lighting>>,
}

/// A rectangle of one level, row by row.
#[derive(Debug, Clone)]
pub(super) struct Window {
    pub(super) left: usize,
    pub(super) top: usize,
    pub(super) width: usize,
    pub(super) height: usize,
    pub(super) rgb: Vec<[u8; 3]>,
}

impl Ground {
    /// Makes a photo ready. Copies one level of at most 1.4 megapixels.
    pub fn of(pixels: Arc<PhotoPixels>) -> Self {
        let small = |size: [u32; 2]| u64::from(size[0]) * u64::from(size[1]) <= COARSE_PIXELS;
        let last = pixels.levels.len().saturating_sub(1);
        let coarse = pixels.levels.iter().position(|level| small(level.size_px)).unwrap_or(last);
        let size = pixels.levels.get(coarse).map_or([0, 0], |level| level.size_px.map(|edge| edge as usize));
        let whole = Arc::new(cut(&pixels, coarse, [0, 0], size));
        Self { pixels, coarse, whole, lighting: Arc::default() }
    }

    /// What is known of the light of the photo.
    pub(super) fn lighting(&self) -> &Lighting {
        self.lighting.get_or_init(|| Lighting::of(self))
    }

    /// Width and height of the photo in pixels.
    pub fn size_px(&self) -> [u32; 2] {
        self.pixels.size_px
    }

    /// The level that is held whole.
    pub(super) fn coarse(&self) -> usize {
        self.coarse
    }

    /// Photo pixels to one pixel of a level, across and down.
    pub(super) fn scale(&self, level: usize) -> [f64; 2] {
        let full = self.pixels.size_px;
        let size = self.pixels.levels.get(level).map_or(full, |level| level.size_px);
        [0, 1].map(|axis| f64::from(full[axis].max(1)) / f64::from(size[axis].max(1)))
    }

    /// A photo's place on a level.
    pub(super) fn on_level(&self, level: usize, at: PhotoPoint) -> [f64; 2] {
        let scale = self.scale(level);
        [at[0] / scale[0], at[1] / scale[1]]
    }

    /// The rectangle of a level from corner to corner, cut to the level.
    pub(super) fn window(&self, level: usize, from: [f64; 2], to: [f64; 2]) -> Window {
        let size = self.pixels.levels.get(level).map_or([0, 0], |level| level.size_px);
        let edge = |value: f64, axis: usize| pixel(value.clamp(0.0, f64::from(size[axis])));
        let (left, top) = (edge(from[0].floor(), 0), edge(from[1].floor(), 1));
        let (right, bottom) = (edge(to[0].ceil(), 0), edge(to[1].ceil(), 1));
        if level == self.coarse && right > left && bottom > top {
            return self.whole.part(left, top, right, bottom);
        }
        cut(&self.pixels, level, [left, top], [right.max(left), bottom.max(top)])
    }
}

/// The whole part of a number that is known not to be negative.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "saturates; negative numbers become 0")]
pub(super) fn pixel(value: f64) -> usize {
    value as usize
}

impl Window {
    fn part(&self, left: usize, top: usize, right: usize, bottom: usize) -> Self {
        let rows = (top..bottom).flat_map(|y| &self.rgb[y * self.width + left..y * self.width + right]);
        Self { left, top, width: right - left, height: bottom - top, rgb: rows.copied().collect() }
    }

    /// The pixel at a place of the level, if it is inside.
    pub(super) fn at(&self, x: f64, y: f64) -> Option<[u8; 3]> {
        let (x, y) = (x - self.left as f64, y - self.top as f64);
        if x < 0.0 || y < 0.0 {
            return None;
        }
        let (x, y) = (pixel(x), pixel(y));
        (x < self.width && y < self.height).then(|| self.rgb[y * self.width + x])
    }

    /// The colour at a place between pixel centres.
    pub(super) fn between(&self, x: f64, y: f64) -> Lab {
        Lab::of_linear(self.light(x, y))
    }

    /// The light at a place between pixel centres, mixed of the nearest four; outside, of the nearest inside.
    #[allow(clippy::cast_possible_truncation, reason = "f32 is fine enough for light between 0 and 1")]
    pub(super) fn light(&self, x: f64, y: f64) -> [f32; 3] {
        if self.rgb.is_empty() {
            return [0.0; 3];
        }
        let inside = |value: f64, least: usize, size: usize| (value - least as f64 - 0.5).clamp(0.0, (size - 1) as f64);
        let (x, y) = (inside(x, self.left, self.width), inside(y, self.top, self.height));
        let (left, top) = (pixel(x), pixel(y));
        let (right, bottom) = ((left + 1).min(self.width - 1), (top + 1).min(self.height - 1));
        let (sx, sy) = (x.fract() as f32, y.fract() as f32);
        let light = |x: usize, y: usize| linear(self.rgb[y * self.width + x]);
        let (a, b, c, d) = (light(left, top), light(right, top), light(left, bottom), light(right, bottom));
        [0, 1, 2].map(|channel| {
            let upper = a[channel] + sx * (b[channel] - a[channel]);
            let lower = c[channel] + sx * (d[channel] - c[channel]);
            upper + sy * (lower - upper)
        })
    }
}

fn cut(pixels: &PhotoPixels, level: usize, from: [usize; 2], to: [usize; 2]) -> Window {
    let (width, height) = (to[0] - from[0], to[1] - from[1]);
    let mut rgb = vec![[0; 3]; width * height];
    for tile in pixels.levels.get(level).map(|level| level.tiles.as_slice()).unwrap_or_default() {
        let [x, y] = tile.at_px.map(|edge| edge as usize);
        let [w, h] = tile.size_px.map(|edge| edge as usize);
        let (left, right) = (from[0].max(x), to[0].min(x + w));
        for row in from[1].max(y)..to[1].min(y + h) {
            if left >= right {
                break;
            }
            let source = &tile.rgba[((row - y) * w + left - x) * 4..((row - y) * w + right - x) * 4];
            let start = (row - from[1]) * width + left - from[0];
            for (to, from) in rgb[start..start + right - left].iter_mut().zip(source.chunks_exact(4)) {
                *to = [from[0], from[1], from[2]];
            }
        }
    }
    Window { left: from[0], top: from[1], width, height, rgb }
}
