//! What colour a wire has, as letters of IEC 60757, with odds: its insulation, and the tracer wound round it.

#![allow(clippy::cast_possible_truncation, reason = "f32 is fine enough for light between 0 and 1")]

use crate::quantity::{Colour, WireColour};

use super::centre::PathPoint;
use super::ground::{Ground, PhotoPoint};
use super::lab::{Lab, ciede2000, linear};
use super::light::{Lit, lit};
use super::look::median;
use super::surface::{Asked, Surface};

/// sRGB of typical insulation in even light; every answer is the nearest of them. The standard names colours and gives no values:
/// these are the cable colours of DIN 47002 by RAL number (9005 8003 3000 2003 1021 6018 5015 4005 7000 1013 3015 6027) as
/// printed in public tables, rounded; from memory.
const TYPICAL: [(Colour, [u8; 3]); 12] = [
    (Colour::Black, [25, 25, 27]),
    (Colour::Brown, [100, 58, 40]),
    (Colour::Red, [165, 35, 35]),
    (Colour::Orange, [230, 110, 35]),
    (Colour::Yellow, [238, 198, 30]),
    (Colour::Green, [45, 125, 65]),
    (Colour::Blue, [25, 85, 165]),
    (Colour::Violet, [110, 65, 140]),
    (Colour::Grey, [125, 130, 132]),
    (Colour::White, [230, 226, 214]),
    (Colour::Pink, [222, 150, 165]),
    (Colour::Turquoise, [90, 165, 160]),
];

/// What a factor of two of light costs, in units of CIEDE2000, where light is known to one such factor.
const LIGHT_COST: f64 = 2.5;
/// Lights that are tried, to each side of what is expected, and how many of them to a factor of two.
const LIGHTS: i32 = 9;
const LIGHTS_TO_TWO: f64 = 4.0;
/// Light that every glossy surface throws back without its colour, as a share of white.
const VEIL: f64 = 0.03;
/// Odds fall by e for each of so many units of CIEDE2000 that a colour is further off.
const SPREAD: f64 = 2.5;
/// Below this lead over the runner-up, in units of CIEDE2000, the suggestion is 'unsure': about what two people see apart (from memory) is
/// three; with four, about one in twenty that are sure is wrong on changed pictures.
const LEAST_LEAD: f64 = 4.0;
/// Green with so much yellow, or the reverse, is the combination of both and no tracer: on any 15 mm one of the two covers at least
/// 30 % and at most 70 % (IEC 60445, protective conductor; from memory).
const LEAST_GREEN_YELLOW: f64 = 0.33;

/// Where something winds this clearly round a wire that is taken for plain, or less clearly than this round one with a tracer, it is doubtful.
const NO_TRACER: f64 = 0.08;
const CLEAR_TRACER: f64 = 0.25;
/// A colour and how likely it is.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Odds {
    /// The colour.
    pub colour: WireColour,
    /// 0 to 1.
    pub odds: f64,
}

/// What colour a wire may have.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Suggestion {
    /// The likeliest.
    pub best: Odds,
    /// The next.
    pub runner_up: Option<Odds>,
    /// Whether the likeliest leads by so much that a person would tell the two apart in this light. When not, say 'unsure'.
    pub sure: bool,
}

/// The colour of the wire along a path. `grey` is a place on something grey or white, by which light and camera are taken out.
/// Nothing when too little of the wire is seen.
pub fn suggestion(ground: &Ground, path: &[PathPoint], wire_px: f64, grey: Option<PhotoPoint>) -> Option<Suggestion> {
    let lighting = ground.lighting();
    let balance = grey.and_then(|at| balance_at(ground, at)).unwrap_or(lighting.balance);
    let light = lighting.on(ground, path, wire_px);
    let surface = Surface::of(ground, path, wire_px, balance, Asked::Name)?;
    let mut answers: Vec<(WireColour, f64)> = Vec::new();
    match &surface.tracer {
        None => {
            let bases = offs(median(surface.base.clone()), light);
            answers.extend(bases.iter().map(|(colour, offs)| (WireColour::plain(*colour), least(offs))));
        }
        Some(tracer) => {
            let bases = offs(median(surface.base.clone()), light);
            // Where the tracer is narrow its pixels are mixed with the insulation's: the furthest from it show it best.
            let tracers = offs(furthest(&tracer.colours, median(surface.base.clone())), light);
            for (first, off) in &bases {
                for (second, more) in &tracers {
                    let colour = match (*first, *second) {
                        (a, b) if a == b => WireColour::plain(a),
                        (Colour::Yellow, Colour::Green) => WireColour::plain(Colour::GreenYellow),
                        (Colour::Green, Colour::Yellow) if tracer.share > LEAST_GREEN_YELLOW => {
                            WireColour::plain(Colour::GreenYellow)
                        }
                        (base, tracer) => WireColour { base, tracer: Some(tracer) },
                    };
                    // Both lie in the same light.
                    let both: Vec<f64> = off.iter().zip(more).map(|(off, more)| off + more).collect();
                    answers.push((colour, least(&both)));
                }
            }
        }
    }
    answers.sort_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0)));
    let mut seen: Vec<(WireColour, f64)> = Vec::new();
    for answer in answers {
        if seen.iter().all(|(colour, _)| *colour != answer.0) {
            seen.push(answer);
        }
    }
    let first = seen.first()?.1;
    let weight = |off: f64| (-(off - first) / SPREAD).exp();
    let all: f64 = seen.iter().map(|&(_, off)| weight(off)).sum();
    let odds = |&(colour, off): &(WireColour, f64)| Odds { colour, odds: weight(off) / all };
    let lead = seen.get(1).map_or(f64::INFINITY, |next| next.1 - first);
    Some(Suggestion {
        best: odds(&seen[0]),
        runner_up: seen.get(1).map(odds),
        sure: lead >= LEAST_LEAD && !doubtful(&surface),
    })
}

/// Whether a person should look for a tracer, or whether it is one.
fn doubtful(surface: &Surface) -> bool {
    match surface.tracer {
        None => surface.winds > NO_TRACER,
        Some(_) => surface.winds < CLEAR_TRACER,
    }
}

/// What to multiply red, green and blue light by, so that the patch is grey, and white when it is the brightest thing there can be.
fn balance_at(ground: &Ground, at: PhotoPoint) -> Option<[f32; 3]> {
    let level = ground.coarse();
    let at = ground.on_level(level, at);
    let mut channels: [Vec<f32>; 3] = [const { Vec::new() }; 3];
    for dy in -3..=3 {
        for dx in -3..=3 {
            if let Some(rgb) = ground.whole.at(at[0] + f64::from(dx), at[1] + f64::from(dy)) {
                for (channel, light) in channels.iter_mut().zip(linear(rgb)) {
                    channel.push(light);
                }
            }
        }
    }
    let middle = channels.map(|mut channel| {
        channel.sort_by(f32::total_cmp);
        channel.get(channel.len() / 2).copied().unwrap_or(0.0)
    });
    let green = 0.212_67 * middle[0] + 0.715_15 * middle[1] + 0.072_18 * middle[2];
    middle.iter().all(|&light| light > 0.002).then(|| middle.map(|light| green / light))
}

/// The median of the eighth of a group that is furthest from a colour.
fn furthest(members: &[Lab], from: Lab) -> Lab {
    let apart = |lab: &Lab| (lab.l - from.l).hypot(lab.a - from.a).hypot(lab.b - from.b);
    let mut sorted = members.to_vec();
    sorted.sort_by(|a, b| apart(a).total_cmp(&apart(b)));
    median(sorted.split_off(members.len() * 7 / 8))
}

/// How far every colour is off in each light, in units of CIEDE2000, with what that light costs.
fn offs(seen: Lab, light: Lit) -> Vec<(Colour, Vec<f64>)> {
    let seen = [seen.l, seen.a, seen.b].map(f64::from);
    let (veil, cost) = (VEIL, LIGHT_COST);
    let off = |rgb: [u8; 3]| {
        (-LIGHTS..=LIGHTS).map(move |step| {
            let away = f64::from(step) / LIGHTS_TO_TWO;
            ciede2000(seen, lit(rgb, light.expected + away, veil)).hypot(cost * away / light.spread)
        })
    };
    TYPICAL.iter().map(|&(colour, rgb)| (colour, off(rgb).collect())).collect()
}

fn least(offs: &[f64]) -> f64 {
    offs.iter().copied().fold(f64::INFINITY, f64::min)
}
