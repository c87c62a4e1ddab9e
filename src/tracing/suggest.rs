//! What colour a wire has, as letters of IEC 60757, with odds: its insulation, and the tracer wound round it.

#![allow(clippy::cast_possible_truncation, reason = "f32 is fine enough for light between 0 and 1")]

use crate::quantity::{Colour, WireColour};

use super::centre::PathPoint;
use super::ground::{Ground, PhotoPoint};
use super::lab::{Lab, ciede2000, linear};
use super::look::{Few, median};
use super::strip::Strip;

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

/// Light a typical photo has over what would show surfaces as they are, in factors of two: photos are exposed brightly.
const USUAL_LIGHT: f64 = 0.8;
/// What a factor of two of light away from that costs, in units of CIEDE2000.
const LIGHT_COST: f64 = 6.0;
/// Light that every glossy surface throws back without its colour, as a share of white.
const VEIL: f64 = 0.03;
/// Odds fall by e for each of so many units of CIEDE2000 that a colour is further off.
const SPREAD: f64 = 2.5;
/// Below this lead over the runner-up, in units of CIEDE2000, the suggestion is 'unsure' (from memory: about what two people see apart).
const LEAST_LEAD: f64 = 3.0;
/// Green with so much yellow, or the reverse, is the combination of both and no tracer: on any 15 mm one of the two covers at least
/// 30 % and at most 70 % (IEC 60445, protective conductor; from memory).
const LEAST_GREEN_YELLOW: f64 = 0.3;
/// Samples across the wire and the share of its width they span.
const ACROSS: usize = 9;
const SPANNED: f64 = 0.8;

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

/// One colour of a wire's surface.
struct Group {
    members: Vec<Lab>,
    /// Per section: how many samples, the sum of their places across, and how many in the middle half.
    sections: Vec<(usize, f64, usize)>,
}

/// The colour of the wire along a path. `grey` is a place on something grey or white, by which light and camera are taken out.
/// Nothing when too little of the wire is seen.
pub fn suggestion(ground: &Ground, path: &[PathPoint], wire_px: f64, grey: Option<PhotoPoint>) -> Option<Suggestion> {
    let balance = grey.and_then(|at| balance_at(ground, at));
    let sections = sections(ground, path, wire_px, balance.unwrap_or([1.0; 3]));
    if sections.len() < 4 * ACROSS / 2 {
        return None;
    }
    let groups = groups(&sections);
    let base = groups.first()?;
    let total: usize = groups.iter().map(|group| group.members.len()).sum();
    let share = |group: &Group| group.members.len() as f64 / total.max(1) as f64;
    let tracer = groups
        .iter()
        .skip(1)
        .filter(|group| is_tracer(group, base, &sections))
        .max_by(|a, b| weight_of(a, base).total_cmp(&weight_of(b, base)));
    if std::env::var_os("T").is_some() {
        let b = median(base.members.clone());
        println!("      base share {:.2} {:.0} {:.0} {:.0}; {} sections", share(base), b.l, b.a, b.b, sections.len());
        for group in groups.iter().skip(1) {
            let w = winding(group, base, &sections);
            let m = median(group.members.clone());
            println!("      group share {:.2} {:.0} {:.0} {:.0} present {:.2} sweep {:.2} hand {:.2} runs {} long {}", share(group), m.l, m.a, m.b, w.present, w.sweep, w.hand, w.runs, w.long);
        }
    }
    let usual = if balance.is_some() { 0.0 } else { USUAL_LIGHT };
    let bases = likelihoods(bright(&base.members), usual);
    let mut answers: Vec<(WireColour, f64)> = Vec::new();
    match tracer {
        None => answers.extend(bases.iter().map(|&(colour, off)| (WireColour::plain(colour), off))),
        Some(tracer) => {
            // Where the tracer is narrow its pixels are mixed with the insulation's: the furthest from it show it best.
            let tracers = likelihoods(furthest(&tracer.members, median(base.members.clone())), usual);
            for &(first, off) in &bases {
                for &(second, more) in &tracers {
                    let colour = match (first, second) {
                        (a, b) if a == b => WireColour::plain(a),
                        (Colour::Green, Colour::Yellow) | (Colour::Yellow, Colour::Green)
                            if share(tracer) > LEAST_GREEN_YELLOW * (share(tracer) + share(base)) =>
                        {
                            WireColour::plain(Colour::GreenYellow)
                        }
                        (base, tracer) => WireColour { base, tracer: Some(tracer) },
                    };
                    answers.push((colour, off + more));
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
    let least = seen.first()?.1;
    let weight = |off: f64| (-(off - least) / SPREAD).exp();
    let all: f64 = seen.iter().map(|&(_, off)| weight(off)).sum();
    let odds = |&(colour, off): &(WireColour, f64)| Odds { colour, odds: weight(off) / all };
    let lead = seen.get(1).map_or(f64::INFINITY, |next| next.1 - least);
    Some(Suggestion { best: odds(&seen[0]), runner_up: seen.get(1).map(odds), sure: lead >= LEAST_LEAD })
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

/// Colours across the wire, a tenth of its width apart along it; only where it is seen, or both its edges are.
fn sections(ground: &Ground, path: &[PathPoint], wire_px: f64, balance: [f32; 3]) -> Vec<Section> {
    let unit = SPANNED * wire_px / (ACROSS - 1) as f64;
    let strip = Strip::balanced(ground, path, wire_px, 0.8 * wire_px, unit, balance);
    let edges = strip.edges(ACROSS / 2);
    let (across, half) = (strip.across(), ACROSS / 2);
    let edge = (0.5 * wire_px / unit).round() as usize;
    let mut sections = Vec::new();
    for number in 0..strip.seen.len() {
        let row = &edges[number * across..(number + 1) * across];
        let clear = row[strip.reach - edge].min(row[strip.reach + edge]) > LEAST_EDGE;
        if strip.seen[number] || clear {
            let mut colours = [Lab::default(); ACROSS];
            colours.copy_from_slice(&strip.section(number)[strip.reach - half..=strip.reach + half]);
            sections.push(Section { number, colours });
        }
    }
    sections
}

/// Colours across the wire at one place.
struct Section {
    /// Its place along the wire, in steps of a tenth of a width.
    number: usize,
    colours: [Lab; ACROSS],
}

/// Both edges of the wire are at least so clear where it is not seen by its colour.
const LEAST_EDGE: f32 = 0.4;

/// The colours that make up the sections, the greatest first.
fn groups(sections: &[Section]) -> Vec<Group> {
    let all: Vec<Lab> = sections.iter().flat_map(|section| section.colours).collect();
    // The middles of groups: the sample that most others are like, then of those left.
    let mut left: Vec<Lab> = all.iter().copied().step_by((all.len() / 400).max(1)).collect();
    let enough = left.len() / 14;
    let mut middles: Vec<Lab> = Vec::new();
    while middles.len() < 4 && left.len() > enough {
        let near = |middle: &Lab| {
            let few = Few::of(&[*middle]);
            left.iter().filter(|lab| surface(&few, *middle, **lab) < NEAR).copied().collect::<Vec<Lab>>()
        };
        let Some(best) = left.iter().step_by((left.len() / 60).max(1)).map(near).max_by_key(Vec::len) else { break };
        let middle = median(best);
        let few = Few::of(&[middle]);
        let before = left.len();
        left.retain(|lab| surface(&few, middle, *lab) >= NEAR);
        if left.len() == before {
            break;
        }
        if before - left.len() > enough {
            middles.push(middle);
        }
    }
    let few: Vec<(Few, Lab)> = middles.iter().map(|&middle| (Few::of(&[middle]), middle)).collect();
    let mut groups: Vec<Group> =
        middles.iter().map(|_| Group { members: Vec::new(), sections: vec![(0, 0.0, 0); sections.len()] }).collect();
    for (number, section) in sections.iter().enumerate() {
        for (place, &lab) in section.colours.iter().enumerate() {
            let nearest = few
                .iter()
                .enumerate()
                .map(|(group, (few, middle))| (group, surface(few, *middle, lab)))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            if let Some((group, off)) = nearest
                && off < 1.5 * NEAR
            {
                groups[group].members.push(lab);
                groups[group].sections[number].0 += 1;
                groups[group].sections[number].1 += place as f64 / (ACROSS - 1) as f64;
                groups[group].sections[number].2 += usize::from(place.abs_diff(ACROSS / 2) <= ACROSS / 4);
            }
        }
    }
    groups.sort_by_key(|group| std::cmp::Reverse(group.members.len()));
    groups
}

/// Samples nearer than this to the middle of a group belong to it.
const NEAR: f32 = 14.0;

/// How far apart two colours of one wire's surface are: shade discounted, but not that light washes colours out: white on blue is two
/// colours here.
fn surface(few: &Few, middle: Lab, lab: Lab) -> f32 {
    let saturation = |lab: Lab| 60.0 * lab.chroma() / (lab.l + 16.0);
    let washed = (saturation(middle) - saturation(lab)).abs() * 0.5;
    few.distance(lab).hypot(washed)
}

/// Of several groups beside the base, the one that is far from it tells the tracer's colour best; between them lie mixtures.
fn weight_of(group: &Group, base: &Group) -> f32 {
    let (a, b) = (median(group.members.clone()), median(base.members.clone()));
    (a.l - b.l).hypot(a.a - b.a).hypot(a.b - b.b) * (group.members.len() as f32).sqrt()
}

/// How a colour moves across the wire as one goes along it.
struct Winding {
    /// The share of sections that show it beside the base.
    present: f64,
    /// How often it goes from one side to the other, less how often back, in breadths.
    sweep: f64,
    /// The lesser of both, against all: 1 when it winds one way only.
    hand: f64,
    runs: u32,
    long: i32,
}


/// A tracer winds round the wire one way: section by section it moves on to the same side, and begins anew on the other.
fn winding(group: &Group, base: &Group, sections: &[Section]) -> Winding {
    let shown: Vec<(usize, f64, bool)> = sections
        .iter()
        .zip(group.sections.iter().zip(&base.sections))
        .filter(|(_, (group, base))| group.0 > 0 && base.0 > 0)
        .map(|(section, (group, _))| (section.number, group.1 / group.0 as f64, group.0 >= COVERED))
        .collect();
    let (mut on, mut back, mut runs, mut long) = (0.0, 0.0, 0, 0_i32);
    for run in shown.chunk_by(|a, b| b.0 - a.0 <= 3 && (b.1 - a.1).abs() < 0.3) {
        if run.len() < ACROSS || run.iter().any(|(.., covered)| *covered) {
            continue;
        }
        let mean = |part: &[(usize, f64, bool)]| part.iter().map(|(_, at, _)| at).sum::<f64>() / part.len() as f64;
        let ends = (run.len() / 4).clamp(1, 5);
        let moved = mean(&run[run.len() - ends..]) - mean(&run[..ends]);
        runs += 1;
        if moved.abs() > LONG { if moved > 0.0 { long += 1 } else { long -= 1 } }
        if moved > 0.0 { on += moved } else { back -= moved }
    }
    let present = shown.len() as f64 / sections.len().max(1) as f64;
    let all: f64 = on + back;
    Winding { present, sweep: (on - back).abs(), hand: (on - back).abs() / all.max(1e-9), runs, long: long.abs() }
}

/// What fills so many of a section's samples covers the wire.
const COVERED: usize = 8;

/// Whether a group of colours is the wire's tracer: it winds round the wire, or it is of another hue and runs beside the base for
/// most of the wire. A glint and a shaded edge have the base's hue or none (S. Shafer, "Using color to separate reflection components",
/// Color Research and Application 10, 1985, 210-218), keep to their side or drift both ways, and what crosses the wire is soon gone.
fn is_tracer(group: &Group, base: &Group, sections: &[Section]) -> bool {
    let winding = winding(group, base, sections);
    let winds = winding.present > LEAST_PRESENT
        && winding.hand > LEAST_HAND
        && winding.long > 0
        && winding.sweep > LEAST_SWEEP * f64::from(winding.runs.max(2));
    winds || winding.present > MOSTLY_PRESENT && other_hue(median(group.members.clone()), median(base.members.clone()))
}

/// Whether no light makes one colour of a surface the other: a colour beside grey, or another hue.
fn other_hue(group: Lab, base: Lab) -> bool {
    let vivid = |lab: Lab| lab.chroma() > VIVID;
    if vivid(group) && vivid(base) {
        let cosine = (group.a * base.a + group.b * base.b) / (group.chroma() * base.chroma());
        return cosine < HUE_APART.to_radians().cos();
    }
    vivid(group) && base.chroma() < 0.5 * VIVID
}

/// The share of sections that a tracer shows in beside the base; for one of another hue that need not be seen to wind.
const LEAST_PRESENT: f64 = 0.2;
const MOSTLY_PRESENT: f64 = 0.5;
/// How much of all its movement across the wire goes one way, and how far it moves between coming into sight and going out of it, in
/// breadths.
const LEAST_HAND: f64 = 0.75;
const LEAST_SWEEP: f64 = 0.15;
/// A movement of more than this goes from one side of the wire towards the other.
const LONG: f64 = 0.35;
/// Chroma of a colour that is not grey in coloured light, and how far apart two hues are in degrees.
const VIVID: f32 = 22.0;
const HUE_APART: f32 = 40.0;

/// The colour of a group in good light: the median of its brighter half.
fn bright(members: &[Lab]) -> Lab {
    let mut sorted = members.to_vec();
    sorted.sort_by(|a, b| a.l.total_cmp(&b.l));
    median(sorted.split_off(members.len() / 3))
}

/// The median of the eighth of a group that is furthest from a colour.
fn furthest(members: &[Lab], from: Lab) -> Lab {
    let apart = |lab: &Lab| (lab.l - from.l).hypot(lab.a - from.a).hypot(lab.b - from.b);
    let mut sorted = members.to_vec();
    sorted.sort_by(|a, b| apart(a).total_cmp(&apart(b)));
    median(sorted.split_off(members.len() * 7 / 8))
}

/// How far every colour is off, in units of CIEDE2000, at the light that suits it best, with what that light costs.
fn likelihoods(seen: Lab, usual: f64) -> Vec<(Colour, f64)> {
    let seen = [seen.l, seen.a, seen.b].map(f64::from);
    let mut all: Vec<(Colour, f64)> = TYPICAL
        .iter()
        .map(|&(colour, rgb)| {
            let off = (-8..=8).map(|step| {
                let light = f64::from(step) / 3.0;
                let shown = lit(rgb, light + usual);
                ciede2000(seen, shown).hypot(LIGHT_COST * light)
            });
            (colour, off.fold(f64::INFINITY, f64::min))
        })
        .collect();
    all.sort_by(|a, b| a.1.total_cmp(&b.1));
    all
}

/// A surface in so many factors of two more light, as a camera shows it: strong light is pressed together below white.
fn lit(rgb: [u8; 3], light: f64) -> [f64; 3] {
    let shown = linear(rgb).map(|value| {
        let value = (f64::from(value) + VEIL) * light.exp2();
        let knee = 0.5;
        let pressed = if value < knee { value } else { 1.0 - (1.0 - knee) * (-(value - knee) / (1.0 - knee)).exp() };
        pressed as f32
    });
    let lab = Lab::of_linear(shown);
    [lab.l, lab.a, lab.b].map(f64::from)
}
