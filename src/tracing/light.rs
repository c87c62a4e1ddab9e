//! The light a photo was taken in: its tint, how brightly the photo is exposed, and how much light falls on each part of what it shows.

#![allow(clippy::cast_possible_truncation, reason = "f32 is fine enough for light between 0 and 1")]

use super::centre::PathPoint;
use super::ground::{Ground, pixel};
use super::lab::{Lab, linear};

/// The power of the mean that is taken for grey. The plain mean takes the tint of large walls for the light's, the greatest value that
/// of one shining spot; the sixth power lies between (G. Finlayson and E. Trezzi, "Shades of gray and colour constancy", Color Imaging
/// Conference 12, 2004, 37-41).
const POWER: i32 = 6;
/// Pixels to one cell of the grid of light, each way, and every how many of them one is looked at.
const CELL: usize = 8;
const EVERY: usize = 2;
/// Pixels with a channel beyond this are burnt out and have lost their tint.
const BURNT: f32 = 0.97;
/// No light indoors is further from even than this, as a factor between two channels.
const MOST_TINT: f32 = 2.0;
/// What lies round a wire is looked at for so many widths to each side, and for so many pixels at the least.
const AROUND: f64 = 4.0;
const LEAST_AROUND: f64 = 20.0;
/// Of what lies round a wire, and of the whole photo, the brighter things tell the light: there is nearly always something pale.
const BRIGHT_AROUND: usize = 85;
const BRIGHT_OF_ALL: usize = 90;
/// Factors of two by which pale things are darker than white, so that much brighter the light is than they are.
const PALE: f64 = 0.85;
/// Up to so many factors of two what lies round a wire may be darker or brighter because it is of another colour; beyond, its light is.
const MAY_BE_COLOUR: f64 = 1.0;
/// Factors of two that light is known to where it is even, and the share of what it differs by elsewhere.
const KNOWN_TO: f64 = 0.6;
const KNOWN_TO_SHARE: f64 = 0.1;

/// What is known of the light of a photo.
#[derive(Debug)]
pub(super) struct Lighting {
    /// What multiplies red, green and blue so that the light is without tint.
    pub(super) balance: [f32; 3],
    /// Strength of light by cells, row by row, and how many a row has.
    cells: Vec<f32>,
    across: usize,
    /// The light of the brighter part of the photo, in factors of two over what shows white.
    overall: f64,
}

/// How much light falls on a wire, in factors of two over what would show surfaces as they are.
#[derive(Clone, Copy, Debug)]
pub(super) struct Lit {
    pub(super) expected: f64,
    /// How far off that may be.
    pub(super) spread: f64,
}

/// What a camera shows of light: strong light is pressed together below white.
pub(super) fn exposed(light: f64) -> f64 {
    1.0 - (-light).exp()
}

/// The light behind what a camera shows, in factors of two.
fn behind(shown: f32) -> f64 {
    (-(1.0 - f64::from(shown.clamp(0.0002, 0.98))).ln()).log2()
}

impl Lighting {
    /// Looks over the small picture.
    pub(super) fn of(ground: &Ground) -> Self {
        let window = &ground.whole;
        let (across, down) = (window.width.div_ceil(CELL), window.height.div_ceil(CELL));
        let mut sums = [0.0_f32; 3];
        let mut cells = vec![(0.0_f32, 0.0_f32); across * down];
        for y in (0..window.height).step_by(EVERY) {
            let row = &window.rgb[y * window.width..(y + 1) * window.width];
            for (x, rgb) in row.iter().enumerate().step_by(EVERY) {
                let light = linear(*rgb);
                if light.iter().all(|&channel| channel < BURNT) {
                    (0..3).for_each(|channel| sums[channel] += light[channel].powi(POWER));
                }
                let cell = &mut cells[y / CELL * across + x / CELL];
                cell.0 += 0.212_67 * light[0] + 0.715_15 * light[1] + 0.072_18 * light[2];
                cell.1 += 1.0;
            }
        }
        let mean = sums.map(|sum| sum.powf(1.0 / POWER as f32));
        let tinted = mean.iter().all(|&channel| channel > 0.0);
        let tint = |channel: f32| (mean[1] / channel).clamp(1.0 / MOST_TINT, MOST_TINT);
        let cells: Vec<f32> = cells.into_iter().map(|(sum, count)| sum / count.max(1.0)).collect();
        let overall = behind(at(cells.clone(), BRIGHT_OF_ALL));
        Self { balance: if tinted { mean.map(tint) } else { [1.0; 3] }, cells, across, overall }
    }

    /// The light on a wire along its path.
    pub(super) fn on(&self, ground: &Ground, path: &[PathPoint], wire_px: f64) -> Lit {
        let level = ground.coarse();
        let reach = pixel((AROUND * wire_px / ground.scale(level)[0]).max(LEAST_AROUND) / CELL as f64) + 1;
        let rows = self.cells.len() / self.across.max(1);
        let around = |point: &PathPoint| {
            let [x, y] = ground.on_level(level, point.at).map(|value| pixel(value.max(0.0)) / CELL);
            let columns = x.saturating_sub(reach).min(self.across)..(x + reach + 1).min(self.across);
            let rows = y.saturating_sub(reach).min(rows)..(y + reach + 1).min(rows);
            let near: Vec<f32> =
                rows.flat_map(|row| &self.cells[row * self.across..][columns.clone()]).copied().collect();
            (!near.is_empty()).then(|| at(near, BRIGHT_AROUND))
        };
        let every = (path.len() / 100).max(1);
        let near: Vec<f32> = path.iter().step_by(every).filter_map(around).collect();
        if near.is_empty() {
            return Lit { expected: self.overall + PALE, spread: KNOWN_TO };
        }
        let differs = behind(at(near, 60)) - self.overall;
        let beyond = differs.signum() * (differs.abs() - MAY_BE_COLOUR).max(0.0);
        Lit { expected: self.overall + PALE + beyond, spread: KNOWN_TO + KNOWN_TO_SHARE * beyond.abs() }
    }
}

/// The value that so many of a hundred are below.
fn at(mut values: Vec<f32>, percent: usize) -> f32 {
    let place = values.len() * percent / 100;
    if place >= values.len() {
        return 0.0;
    }
    *values.select_nth_unstable_by(place, f32::total_cmp).1
}

/// A surface in so many factors of two more light, as a camera shows it; `veil` is what it throws back without its colour, as a share of
/// white.
pub(super) fn lit(rgb: [u8; 3], light: f64, veil: f64) -> [f64; 3] {
    let shown = linear(rgb).map(|value| exposed((f64::from(value) + veil) * light.exp2()) as f32);
    let lab = Lab::of_linear(shown);
    [lab.l, lab.a, lab.b].map(f64::from)
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tracing::PhotoPixels;
    use image::{Rgba, RgbaImage};

    /// sRGB of linear light (IEC 61966-2-1).
    fn encoded(light: f64) -> u8 {
        let value = if light <= 0.003_130_8 { light * 12.92 } else { 1.055 * light.powf(1.0 / 2.4) - 0.055 };
        #[allow(clippy::cast_sign_loss, reason = "between 0 and 255")]
        let byte = (255.0 * value).round() as u8;
        byte
    }

    /// A grey wall in tinted light; five factors of two less of it fall on its right half.
    #[test]
    fn the_tint_is_taken_out_and_the_dark_half_is_known_to_be_dark() {
        let tint = [1.2, 1.0, 0.8];
        let picture = RgbaImage::from_fn(640, 320, |x, _| {
            let light = if x < 320 { 0.35 } else { 0.35 / 32.0 };
            let [r, g, b] = tint.map(|channel| encoded(channel * light));
            Rgba([r, g, b, 255])
        });
        let ground = Ground::of(std::sync::Arc::new(PhotoPixels::of(&picture, |_| ())));
        let lighting = Lighting::of(&ground);
        for (channel, tint) in lighting.balance.into_iter().zip(tint) {
            assert!((f64::from(channel) * tint - 1.0).abs() < 0.03, "{:?}", lighting.balance);
        }
        let on = |x: f64| {
            let path: Vec<PathPoint> =
                (4..28).map(|step| PathPoint { at: [x, 10.0 * f64::from(step)], seen: true }).collect();
            lighting.on(&ground, &path, 10.0)
        };
        let (lit, dark) = (on(160.0), on(480.0));
        let less = lit.expected - dark.expected;
        assert!((3.5..5.5).contains(&less) && dark.spread > lit.spread, "{lit:?} {dark:?}");
    }
}
