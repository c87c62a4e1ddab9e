//! The other colour of a wire that winds round it, learned along its first path: pins may show only one of the two.

use super::centre::PathPoint;
use super::ground::{Ground, pixel};
use super::lab::Lab;
use super::look::{APART, Few, median};
use super::strip::Strip;

/// Samples to one width.
const TO_WIDTH: usize = 12;
/// Both edges of the wire are at least so clear where colours are learned.
const LEAST_EDGE: f32 = 0.35;
/// A section shows two colours when each has so many of its samples.
const LEAST_SAMPLES: usize = 2;
/// The share of sections that show two colours, and the share of the sections with the new one that show a known one as well.
const LEAST_MIXED: f64 = 0.15;
const LEAST_TOGETHER: f64 = 0.5;

/// Colours that share sections of a tube with those already known, if there are such.
pub(super) fn learned(ground: &Ground, known: &[Lab], wire_px: f64, path: &[PathPoint]) -> Option<Lab> {
    let unit = wire_px / TO_WIDTH as f64;
    let strip = Strip::of(ground, path, wire_px, 0.8 * wire_px, unit);
    let edges = strip.edges(TO_WIDTH / 2);
    let across = strip.across();
    let half = TO_WIDTH / 2;
    let few = Few::of(known);
    let inner = TO_WIDTH / 3;
    let mut sections: Vec<(usize, Vec<Lab>)> = Vec::new();
    // A width apart is enough to learn from.
    for number in (0..strip.seen.len()).step_by(pixel(TO_WIDTH as f64 / 4.0).max(1)) {
        let row = &edges[number * across..(number + 1) * across];
        // The middle may be off by a little.
        let clear = |middle: usize| {
            let least = |at: usize| row[at - 1..=at + 1].iter().copied().fold(0.0, f32::max);
            least(middle - half).min(least(middle + half))
        };
        let middle = (strip.reach - 2..=strip.reach + 2).max_by(|&a, &b| clear(a).total_cmp(&clear(b)))?;
        if clear(middle) < LEAST_EDGE {
            continue;
        }
        let inside = &strip.section(number)[middle - inner..=middle + inner];
        let strange: Vec<Lab> = inside.iter().copied().filter(|&lab| few.distance(lab) > APART).collect();
        sections.push((inside.len() - strange.len(), strange));
    }
    let strange: Vec<Lab> = sections.iter().flat_map(|(_, strange)| strange).copied().collect();
    // The one that most of the strange ones are like.
    let candidates = strange.iter().step_by((strange.len() / 40).max(1));
    let best = candidates
        .map(|&lab| {
            let few = Few::of(&[lab]);
            strange.iter().copied().filter(|&other| few.distance(other) < APART).collect::<Vec<Lab>>()
        })
        .max_by_key(Vec::len)?;
    let tone = median(best);
    let of_tone = Few::of(&[tone]);
    let with: Vec<bool> = sections
        .iter()
        .filter(|(_, strange)| strange.iter().filter(|&&lab| of_tone.distance(lab) < APART).count() >= LEAST_SAMPLES)
        .map(|(known, _)| *known >= LEAST_SAMPLES)
        .collect();
    let together = with.iter().filter(|&&both| both).count() as f64;
    let mixed = together / sections.len().max(1) as f64;
    (mixed > LEAST_MIXED && together > LEAST_TOGETHER * with.len() as f64).then_some(tone)
}
