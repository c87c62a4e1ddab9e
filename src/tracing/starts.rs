//! Where wires begin at a terminal: short tubes of one colour that point at it and end there.

use super::ground::{PhotoPoint, Window};
use super::lab::Lab;
use super::look::{Few, colours_under, median};

/// A wire begins within this share of the photo's width from its terminal: lug and sleeve lie between.
const REACH: f64 = 0.045;
/// Widths that are tried, as shares of the photo's width.
const WIDTHS: [f64; 4] = [0.005, 0.007, 0.010, 0.014];
/// Places are tried so many pixels apart.
const GRID: i32 = 3;
/// The least that both sides differ from the middle, in units of L*a*b*, less what the middle differs along the wire.
const LEAST: f32 = 7.0;
/// Colours nearer than this are one wire's.
const SAME: f32 = 14.0;
/// The most colours looked at for one terminal.
const MOST: usize = 4;

/// A place on a wire near a terminal, in pixels of the window.
#[derive(Debug, Clone)]
pub(super) struct Start {
    pub(super) at: [f64; 2],
    pub(super) wire: f64,
    pub(super) colours: Vec<Lab>,
    score: f32,
}

/// Places on the wires that begin at a terminal, the clearest first, one for each colour.
pub(super) fn starts(window: &Window, terminal: PhotoPoint) -> Vec<Start> {
    let wide = window.width as f64;
    let reach = REACH * wide;
    let steps = (reach / f64::from(GRID)) as i32;
    let mut found: Vec<Start> = Vec::new();
    for down in -steps..=steps {
        for across in -steps..=steps {
            let off = [f64::from(across * GRID), f64::from(down * GRID)];
            let far = off[0].hypot(off[1]);
            if far > reach || far < 0.25 * reach {
                continue;
            }
            let at = [terminal[0] + off[0], terminal[1] + off[1]];
            let Some(colour) = patch(window, at) else { continue };
            let few = Few::of(&[colour]);
            let best = WIDTHS
                .iter()
                .filter_map(|share| tube(window, &few, at, share * wide, [off[0] / far, off[1] / far], far))
                .max_by(|a, b| a.0.total_cmp(&b.0));
            if let Some((score, wire)) = best {
                found.push(Start { at, wire, colours: vec![colour], score });
            }
        }
    }
    found.sort_by(|a, b| b.score.total_cmp(&a.score));
    let mut kept: Vec<Start> = Vec::new();
    for start in found {
        let new = kept.iter().all(|other| Few::of(&other.colours).distance(start.colours[0]) > SAME);
        if new && kept.len() < MOST {
            let colours = colours_under(window, start.at, (start.wire * 0.35).max(2.0));
            kept.push(Start { colours, ..start });
        }
    }
    kept
}

fn patch(window: &Window, at: [f64; 2]) -> Option<Lab> {
    let mut pixels = Vec::with_capacity(9);
    for dy in -1..=1 {
        for dx in -1..=1 {
            pixels.push(Lab::of_srgb(window.at(at[0] + f64::from(dx), at[1] + f64::from(dy))?));
        }
    }
    Some(median(pixels))
}

/// How clear a tube of a width is at a place, that runs away from the terminal and ends towards it; with the width.
fn tube(window: &Window, few: &Few, at: [f64; 2], wire: f64, away: [f64; 2], far: f64) -> Option<(f32, f64)> {
    let distance = |x: f64, y: f64| window.at(x, y).map(|rgb| few.distance(Lab::of_srgb(rgb)));
    let mut best: Option<(f32, f64)> = None;
    for turn in -3..=3 {
        let (sin, cos) = (f64::from(turn) * std::f64::consts::PI / 15.0).sin_cos();
        let along = [away[0] * cos - away[1] * sin, away[0] * sin + away[1] * cos];
        let point = |by: f64, side: f64| {
            distance(at[0] + along[0] * by - along[1] * side, at[1] + along[1] * by + along[0] * side)
        };
        let run: Option<f32> = [0.6, 1.2, 1.8].iter().map(|&by| point(by * wire, 0.0)).sum();
        let sides = [-0.4, 0.4, 1.2].map(|by| {
            let left = point(by * wire, -0.95 * wire).unwrap_or(0.0);
            let right = point(by * wire, 0.95 * wire).unwrap_or(0.0);
            left.min(right).min(25.0)
        });
        let Some(run) = run else { continue };
        let score = sides.iter().sum::<f32>() / 3.0 - run / 3.0;
        if score < LEAST || best.is_some_and(|(most, _)| most >= score) {
            continue;
        }
        // Towards the terminal it ends: what runs on past it is not landed on it.
        let mut back = 0.0;
        while back < far + 4.0 * wire && point(-back, 0.0).is_some_and(|off| off < SAME) {
            back += 1.0;
        }
        if back < far + 2.0 * wire {
            best = Some((score, wire));
        }
    }
    best
}
