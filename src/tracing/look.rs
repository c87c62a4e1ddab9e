//! What a wire looks like: its colours under all pins, and how like them a pixel is, whatever the light.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "likeness and distance are limited to a byte before, a patch has few pixels; casts from floats saturate"
)]

use std::sync::OnceLock;

use super::ground::Window;
use super::lab::Lab;

/// Levels of each of red, green and blue that the table of likeness tells apart.
const STEPS: usize = 64;
/// Colours of a patch further apart than this (shading discounted) are two colours: insulation and tracer.
pub(super) const APART: f32 = 16.0;
/// A colour of less than this share of a patch is an edge or a glint, not the wire's.
const LEAST_SHARE: usize = 6;
/// The distance at which a pixel is as likely the wire as not: half of what lies beside the wire under the pins, within these bounds.
const HALF_LIKE: [f32; 2] = [5.0, 14.0];
/// A pixel's distance is kept in quarters of a unit, up to this.
const PER_UNIT: f32 = 4.0;

/// The colours of one wire, sampled under its pins.
#[derive(Debug, Clone)]
pub(super) struct Look {
    table: Vec<u8>,
    likeness: [u8; 256],
    half: f32,
}

#[derive(Debug, Clone, Copy)]
struct Sample {
    lab: Lab,
    /// What counts of a difference in strength of light: little for a colour, much for black, grey and white.
    strength: f32,
}

/// L* has an offset of 16 against a power law: with it, light of another strength scales L*, a* and b* alike.
const OFFSET: f32 = 16.0;
/// Where colours meet that are washed out by too much light, a little beyond white.
const WASHED_OUT: f32 = 105.0;

impl Sample {
    fn of(lab: Lab) -> Self {
        let chromatic = ((lab.chroma() - 8.0) / 16.0).clamp(0.0, 1.0);
        Self { lab, strength: 0.8 + chromatic * (0.15 - 0.8) }
    }

    /// How far a colour is, shading discounted, in units of L*a*b*.
    ///
    /// The brighter of two views of one colour has the chroma of the darker times the strength of light, or less: too much light
    /// washes colours out, down to nothing at white. What is missing to that range counts, at the scale of the darker one.
    fn distance(&self, p: Lab) -> f32 {
        let (dark, bright) = if p.l < self.lab.l { (p, self.lab) } else { (self.lab, p) };
        let light = (bright.l + OFFSET) / (dark.l + OFFSET);
        let least = ((WASHED_OUT - bright.l) / (WASHED_OUT - dark.l)).min(1.0);
        let square = dark.a * dark.a + dark.b * dark.b;
        let times = (bright.a * dark.a + bright.b * dark.b) / square.max(1e-3);
        let times = times.clamp(least, light.min(3.0).max(least));
        let colour = (bright.a - times * dark.a).hypot(bright.b - times * dark.b) / light;
        let strength = self.strength * (self.lab.l + OFFSET + 0.5 * self.lab.chroma()) * light.ln();
        colour.hypot(strength)
    }
}

/// The table's colours.
fn colours() -> &'static [Lab] {
    static COLOURS: OnceLock<Vec<Lab>> = OnceLock::new();
    COLOURS.get_or_init(|| {
        let level = |step: usize| u8::try_from(step * 255 / (STEPS - 1)).unwrap_or(u8::MAX);
        let all = (0..STEPS.pow(3)).map(|place| {
            let rgb = [level(place / STEPS / STEPS), level(place / STEPS % STEPS), level(place % STEPS)];
            Lab::of_srgb(rgb)
        });
        all.collect()
    })
}

fn place(rgb: [u8; 3]) -> usize {
    let [r, g, b] = rgb.map(|value| usize::from(value >> 2));
    (r * STEPS + g) * STEPS + b
}

impl Look {
    /// The look of colours that belong to the wire; `beside` is how far colours beside it are, in units of L*a*b*.
    pub(super) fn of(pins: &[Vec<Lab>], beside: f32) -> Self {
        let pins: Vec<Few> = pins.iter().filter(|pin| !pin.is_empty()).map(|pin| Few::of(pin)).collect();
        let far = |&p: &Lab| {
            let (mut nearest, mut second) = (f32::INFINITY, f32::INFINITY);
            for distance in pins.iter().map(|pin| pin.distance(p)) {
                if distance < nearest {
                    (nearest, second) = (distance, nearest);
                } else {
                    second = second.min(distance);
                }
            }
            // Of three pins or more, one alone does not say what the wire looks like.
            if pins.len() > 2 {
                nearest = 0.65 * nearest + 0.35 * second;
            }
            (nearest * PER_UNIT).round().min(255.0) as u8
        };
        let half = (0.5 * beside).clamp(HALF_LIKE[0], HALF_LIKE[1]);
        let mut likeness = [0; 256];
        for (distance, like) in likeness.iter_mut().enumerate() {
            let distance = distance as f32 / PER_UNIT;
            *like = (255.0 / (1.0 + ((distance / half - 1.0) * 4.5).exp())).round() as u8;
        }
        Self { table: colours().iter().map(far).collect(), likeness, half }
    }

    /// How far a pixel is from the wire's colours, shading discounted, in quarters of a unit of L*a*b*, at most 255.
    pub(super) fn distance(&self, rgb: [u8; 3]) -> u8 {
        self.table[place(rgb)]
    }

    /// How like the wire a distance is, 255 being certain.
    pub(super) fn likeness_at(&self, distance: u8) -> u8 {
        self.likeness[usize::from(distance)]
    }

    /// How like the wire a pixel is, 255 being certain.
    pub(super) fn likeness(&self, rgb: [u8; 3]) -> u8 {
        self.likeness_at(self.distance(rgb))
    }

    /// Half of the distance between the wire's colour and what is beside it, as distances are kept.
    pub(super) fn half(&self) -> f32 {
        self.half * PER_UNIT
    }
}

/// The colours of the patch round a place of a window: one, or two where it has a tracer. Medians, so that noise and the odd pixel of
/// something else do not count.
pub(super) fn colours_under(window: &Window, at: [f64; 2], radius: f64) -> Vec<Lab> {
    let mut groups: Vec<(Sample, Vec<Lab>)> = Vec::new();
    let mut pixels = Vec::new();
    let reach = radius.ceil();
    let steps = (2.0 * reach + 1.0) as i32;
    for down in 0..steps {
        for across in 0..steps {
            let (dx, dy) = (f64::from(across) - reach, f64::from(down) - reach);
            if dx.hypot(dy) <= radius
                && let Some(rgb) = window.at(at[0] + dx, at[1] + dy)
            {
                pixels.push((dx.hypot(dy), Lab::of_srgb(rgb)));
            }
        }
    }
    // From the middle outward, so that the first group is the one under the pin.
    pixels.sort_by(|a, b| a.0.total_cmp(&b.0));
    let all = pixels.len();
    for (_, lab) in pixels {
        match groups.iter_mut().find(|(first, _)| first.distance(lab) < APART) {
            Some((_, group)) => group.push(lab),
            None => groups.push((Sample::of(lab), vec![lab])),
        }
    }
    groups.retain(|(_, group)| group.len() * LEAST_SHARE >= all);
    groups.into_iter().map(|(_, group)| median(group)).collect()
}

/// The median of each of L*, a*, b*.
pub(super) fn median(mut group: Vec<Lab>) -> Lab {
    let middle = group.len() / 2;
    let mut of = |value: fn(&Lab) -> f32| {
        group.sort_by(|a, b| value(a).total_cmp(&value(b)));
        group.get(middle).map_or(0.0, value)
    };
    Lab { l: of(|lab| lab.l), a: of(|lab| lab.a), b: of(|lab| lab.b) }
}

/// Colours without a table, for a few pixels.
pub(super) struct Few(Vec<Sample>);

impl Few {
    pub(super) fn of(colours: &[Lab]) -> Self {
        Self(colours.iter().map(|&lab| Sample::of(lab)).collect())
    }

    /// Distance to the nearest of the colours, shading discounted.
    pub(super) fn distance(&self, lab: Lab) -> f32 {
        self.0.iter().map(|sample| sample.distance(lab)).fold(f32::INFINITY, f32::min)
    }
}
