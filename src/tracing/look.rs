//! What a wire looks like: its colours under all pins, and how like them a pixel is, whatever the light.

use std::sync::OnceLock;

use super::ground::Window;
use super::lab::Lab;

/// Levels of each of red, green and blue that the table of likeness tells apart.
const STEPS: usize = 64;
/// Colours of a patch further apart than this (shading discounted) are two colours: insulation and tracer.
const APART: f32 = 16.0;
/// A colour of less than this share of a patch is an edge or a glint, not the wire's.
const LEAST_SHARE: usize = 6;
/// The distance at which a pixel is as likely the wire as not, and how quickly that changes.
const HALF_LIKE: f32 = 13.0;
const LIKE_SLOPE: f32 = 3.0;

/// The colours of one wire, sampled under its pins.
#[derive(Debug, Clone)]
pub(super) struct Look {
    samples: Vec<Sample>,
    table: Vec<u8>,
}

#[derive(Debug, Clone, Copy)]
struct Sample {
    /// Lightness counted from black, a, b: light of another strength moves a colour along this.
    v: [f32; 3],
    /// What counts of a difference in strength of light: little for a colour, much for black, grey and white.
    strength: f32,
}

impl Sample {
    fn of(lab: Lab) -> Self {
        let chromatic = ((lab.chroma() - 8.0) / 16.0).clamp(0.0, 1.0);
        Self { v: vector(lab), strength: 0.8 + chromatic * (0.25 - 0.8) }
    }

    /// How far a colour is, shading discounted, in units of L*a*b*.
    fn distance(&self, p: [f32; 3]) -> f32 {
        let dot = |a: [f32; 3], b: [f32; 3]| a[0] * b[0] + a[1] * b[1] + a[2] * b[2];
        let length = dot(self.v, self.v).sqrt().max(1.0);
        let along = (dot(p, self.v) / length).max(1.0);
        let across = (dot(p, p) - along * along).max(0.0);
        let strength = self.strength * length * (along / length).ln();
        (across + strength * strength).sqrt()
    }
}

/// L* has an offset of 16 against a power law; without it a weaker light shortens the vector and hardly turns it.
fn vector(lab: Lab) -> [f32; 3] {
    [lab.l + 16.0, lab.a, lab.b]
}

/// The vectors of the table's colours.
fn vectors() -> &'static [[f32; 3]] {
    static VECTORS: OnceLock<Vec<[f32; 3]>> = OnceLock::new();
    VECTORS.get_or_init(|| {
        let level = |step: usize| u8::try_from(step * 255 / (STEPS - 1)).unwrap_or(u8::MAX);
        let all = (0..STEPS.pow(3)).map(|place| {
            let rgb = [level(place / STEPS / STEPS), level(place / STEPS % STEPS), level(place % STEPS)];
            vector(Lab::of_srgb(rgb))
        });
        all.collect()
    })
}

fn place(rgb: [u8; 3]) -> usize {
    let [r, g, b] = rgb.map(|value| usize::from(value >> 2));
    (r * STEPS + g) * STEPS + b
}

impl Look {
    /// The look of colours that belong to the wire.
    pub(super) fn of(colours: &[Lab]) -> Self {
        let samples: Vec<Sample> = colours.iter().map(|&lab| Sample::of(lab)).collect();
        let table = vectors().iter().map(|&p| {
            let nearest = samples.iter().map(|sample| sample.distance(p)).fold(f32::INFINITY, f32::min);
            let like = 255.0 / (1.0 + ((nearest - HALF_LIKE) / LIKE_SLOPE).exp());
            like.round() as u8
        });
        Self { table: table.collect(), samples }
    }

    /// How like the wire a pixel is, 255 being certain.
    pub(super) fn likeness(&self, rgb: [u8; 3]) -> u8 {
        self.table[place(rgb)]
    }

    /// Distance to the nearest of the wire's colours, shading discounted.
    pub(super) fn distance(&self, lab: Lab) -> f32 {
        self.samples.iter().map(|sample| sample.distance(vector(lab))).fold(f32::INFINITY, f32::min)
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
        match groups.iter_mut().find(|(first, _)| first.distance(vector(lab)) < APART) {
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

impl Look {
    pub(super) fn distances(colours: &[Lab]) -> Few {
        Few(colours.iter().map(|&lab| Sample::of(lab)).collect())
    }
}

impl Few {
    pub(super) fn is_like(&self, rgb: [u8; 3]) -> bool {
        let p = vector(Lab::of_srgb(rgb));
        self.0.iter().any(|sample| sample.distance(p) < HALF_LIKE)
    }
}
