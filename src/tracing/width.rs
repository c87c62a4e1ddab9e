//! How wide a wire is: at a pin at first, then along the path.

use super::centre::{PathPoint, fine_level, normal, resampled};
use super::ground::{Ground, PhotoPoint, pixel};
use super::lab::Lab;
use super::look::{Few, colours_under};

/// The least and the greatest width a wire is taken to have, in pixels of the whole level.
const NARROWEST_PX: f64 = 3.0;
const WIDEST_PX: f64 = 48.0;
/// Colours further apart than this are simply different.
const CAPPED: f32 = 30.0;
/// A width along a path is measured from so many cross-sections on.
const SECTIONS: usize = 12;

/// The width of the wire in photo pixels, by its pins alone: of the narrowest ways across, one of the lesser.
pub(super) fn width_at(ground: &Ground, pins: &[PhotoPoint]) -> f64 {
    let scale = ground.scale(ground.coarse())[0];
    let mut widths: Vec<f64> = pins.iter().map(|&pin| narrowest(ground, pin)).collect();
    widths.sort_by(f64::total_cmp);
    let width = widths.get(widths.len().saturating_sub(1) * 2 / 5).copied().unwrap_or(NARROWEST_PX);
    width.clamp(NARROWEST_PX, WIDEST_PX) * scale
}

/// The narrowest way across at a pin, in pixels of the whole level: to where colours are halfway to what lies further out.
fn narrowest(ground: &Ground, pin: PhotoPoint) -> f64 {
    let at = ground.on_level(ground.coarse(), pin);
    let window = &ground.whole;
    let few = Few::of(&colours_under(window, at, 2.6));
    let reach = |angle: f64| {
        let (dy, dx) = angle.sin_cos();
        let steps = pixel(WIDEST_PX);
        let far: Vec<f32> = (1..=steps)
            .filter_map(|step| window.at(at[0] + dx * step as f64 / 2.0, at[1] + dy * step as f64 / 2.0))
            .map(|rgb| few.distance(Lab::of_srgb(rgb)))
            .collect();
        let mut sorted = far.clone();
        sorted.sort_by(f32::total_cmp);
        let outside = sorted.get(sorted.len() * 3 / 4).copied().unwrap_or(0.0);
        let edge = (outside / 2.0).clamp(4.0, 22.0);
        let last = far.windows(2).position(|pair| pair[0] > edge && pair[1] > edge).unwrap_or(far.len());
        last as f64 / 2.0 + 0.25
    };
    let across = |step: u32| {
        let angle = f64::from(step) * std::f64::consts::PI / 12.0;
        reach(angle) + reach(angle + std::f64::consts::PI)
    };
    (0..12).map(across).fold(f64::INFINITY, f64::min)
}

/// The width of the wire in photo pixels by a first path along it: the middle one of many cross-sections is taken at each distance from
/// the middle, and the edge is halfway between the middle and what lies outside. Nothing when too little of the wire is seen.
pub(super) fn width_along(ground: &Ground, colours: &[Lab], first: f64, path: &[PathPoint]) -> Option<f64> {
    let level = fine_level(ground, first);
    let scale = ground.scale(level)[0];
    let few = Few::of(colours);
    let unit = (first / scale / 6.0).clamp(0.5, 2.0);
    let reach = pixel(2.5 * (first / scale).max(5.0) / unit);
    let mut sections: Vec<Vec<f32>> = vec![Vec::new(); 2 * reach + 1];
    for run in path.chunk_by(|a, b| a.seen == b.seen).filter(|run| run[0].seen) {
        let line: Vec<[f64; 2]> = run.iter().map(|point| ground.on_level(level, point.at)).collect();
        let line = resampled(&line, (first / scale).max(3.0));
        for place in 0..line.len() {
            let (at, n) = (line[place], normal(&line, place));
            let far = reach as f64 * unit;
            let window = ground.window(level, at.map(|v| v - far - 1.0), at.map(|v| v + far + 1.0));
            for (sample, section) in sections.iter_mut().enumerate() {
                let by = (sample as f64 - reach as f64) * unit;
                let rgb = window.at(at[0] + n[0] * by, at[1] + n[1] * by);
                section.extend(rgb.map(|rgb| few.distance(Lab::of_srgb(rgb)).min(CAPPED)));
            }
        }
    }
    if sections.iter().any(|section| section.len() < SECTIONS) {
        return None;
    }
    let middle: Vec<f32> = sections
        .into_iter()
        .map(|mut section| {
            section.sort_by(f32::total_cmp);
            section[section.len() / 2]
        })
        .collect();
    // Both sides as one: the wire is round.
    let folded: Vec<f32> = (0..=reach).map(|by| middle[reach - by].midpoint(middle[reach + by])).collect();
    let inside = folded.iter().copied().fold(f32::INFINITY, f32::min);
    let outside = folded.iter().copied().fold(0.0, f32::max);
    if outside - inside < 3.0 {
        return None;
    }
    let edge = inside + 0.4 * (outside - inside);
    let place = (1..folded.len()).find(|&by| folded[by] > edge)?;
    let share = f64::from((edge - folded[place - 1]) / (folded[place] - folded[place - 1]).max(0.01)).clamp(0.0, 1.0);
    let width = 2.0 * unit * ((place - 1) as f64 + share) * scale;
    let whole = ground.scale(ground.coarse())[0];
    let width = width.clamp(NARROWEST_PX * whole, WIDEST_PX * whole);
    let floor = first < 1.2 * NARROWEST_PX * whole;
    (floor && width < 4.0 * first || width < 1.8 * first && first < 1.8 * width).then_some(width)
}
