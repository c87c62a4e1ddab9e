//! The surface of a wire: the colours that make it up section by section, and which of them is a tracer wound round it.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "samples across a wire are few and never negative"
)]

use super::centre::PathPoint;
use super::ground::Ground;
use super::helix::Helix;
use super::lab::Lab;
use super::look::{Few, median};
use super::strip::Strip;

/// Samples across the wire and the share of its width they span.
pub(super) const ACROSS: usize = 9;
pub(super) const SPANNED: f64 = 0.8;
/// Both edges of the wire are at least so clear where it is not seen by its colour.
const LEAST_EDGE: f32 = 0.4;
/// So many sections that do not show the wire but lie between such as do may be a tracer's: one that winds closely covers one and a half
/// widths of it.
const SHORT_GAP: usize = 15;
/// Fewer sections than a wire two widths long has tell nothing.
const LEAST_SECTIONS: usize = 20;
/// What winds so clearly is a tracer: on the pictures of tests/data/photos, hardly any plain wire comes near it (`Helix::score`).
const WINDS: f64 = 0.19;
/// The same for a mask, which knows nothing of light and shade: on the same pictures, plain wires stay below it.
const MASK_WINDS: f64 = 0.075;
/// Samples nearer than this to the middle of a group belong to it.
const NEAR: f32 = 14.0;

/// A sample is on the line of a tracer where the pattern of it is so far on, 1 being its middle.
const ON_LINE: f32 = 0.5;
/// Base and tracer are at least so far apart, in units of L*a*b*; what is nearer is one colour in another light.
const LEAST_APART: f32 = 15.0;
/// What a mask counts in units of L*a*b*.
const MASK_APART: f32 = 20.0;
/// The share of sections that a tracer shows in beside the base; for one of another hue that need not be seen to wind.
const LEAST_PRESENT: f64 = 0.3;
/// The same for a colour that a wire is followed by.
const LEAST_TONE: f64 = 0.2;
const MOSTLY_PRESENT: f64 = 0.5;
/// What fills so many of a section's samples covers the wire.
const COVERED: u32 = 8;
/// How much of all its movement across the wire goes one way, and how far it moves between coming into sight and going out of it, in
/// breadths.
const LEAST_HAND: f64 = 0.75;
const LEAST_SWEEP: f64 = 0.15;
/// A movement of more than this goes from one side of the wire towards the other.
const LONG: f64 = 0.35;
/// A movement that jumps by more than this has begun anew on the other side.
const JUMP: f64 = 0.3;
/// Chroma of a colour that is not grey in coloured light, and how far apart two hues are in degrees.
const VIVID: f32 = 22.0;
const HUE_APART: f32 = 30.0;
/// Where a tracer is narrow, most of its samples are mixed with the base's: those count that are off by so much of what the furthest are.
const PURE: f32 = 0.6;
/// What has less than this of the base's strength of light, as L* plus 16, may be a dark tracer on it.
const DARK: f32 = 0.62;

/// Colours across the wire at one place.
pub(super) struct Section {
    /// Its place along the wire, in steps of a tenth of its width.
    pub(super) number: usize,
    pub(super) colours: [Lab; ACROSS],
}

/// Which samples of each section belong to something, a bit each.
type Mask = Vec<u16>;

/// What a surface is asked for.
#[derive(Clone, Copy)]
pub(super) enum Asked {
    /// Its colours, to name them.
    Name,
    /// What the wire looks like here and there, to follow it by: a colour that hardly winds does no harm, one left out does.
    Tones,
}

/// What a wire's surface shows.
pub(super) struct Surface {
    /// Colours of most of the insulation.
    pub(super) base: Vec<Lab>,
    /// Colours of the tracer.
    pub(super) tracer: Option<Tracer>,
    /// How clearly something winds round the wire, 0 when nothing does.
    pub(super) winds: f64,
}

/// A second colour that belongs to the wire.
pub(super) struct Tracer {
    pub(super) colours: Vec<Lab>,
    /// Its share of the samples where both colours show.
    pub(super) share: f64,
}

impl Surface {
    /// The surface along a path, with red, green and blue light times so much; nothing when too little of it is seen.
    pub(super) fn of(
        ground: &Ground,
        path: &[PathPoint],
        wire_px: f64,
        balance: [f32; 3],
        asked: Asked,
    ) -> Option<Self> {
        let sections = sections(ground, path, wire_px, balance);
        if sections.len() < LEAST_SECTIONS {
            return None;
        }
        let helix = Helix::of(&sections);
        let winds = helix.as_ref().map_or(0.0, Helix::score);
        if let Some(surface) = helix.as_ref().filter(|_| winds > WINDS).and_then(|helix| wound(helix, &sections)) {
            return Some(surface);
        }
        let groups = groups(&sections);
        let base = groups.first()?;
        let base_lab = median(members(base, &sections));
        let mut candidates: Vec<Mask> = groups[1..].to_vec();
        candidates.extend(groups[1..].iter().map(|group| pure(group, base_lab, &sections)));
        candidates.push(dark(base, base_lab, &sections));
        let found = candidates
            .into_iter()
            .filter_map(|mask| {
                let rest: Mask = base.iter().zip(&mask).map(|(base, mask)| base & !mask).collect();
                let colours = members(&mask, &sections);
                (!colours.is_empty() && is_tracer(&mask, &rest, &sections, asked)).then_some((mask, rest, colours))
            })
            // Of several, the one that is far from the base tells the tracer's colour best; between them lie mixtures.
            .max_by(|a, b| weight(&a.2, base_lab).total_cmp(&weight(&b.2, base_lab)));
        let Some((mask, rest, colours)) = found else {
            return Some(Self { base: members(base, &sections), tracer: None, winds });
        };
        let both = mask.iter().zip(&rest).filter(|(mask, rest)| **mask != 0 && **rest != 0);
        let (mut of_tracer, mut of_base) = (0, 0);
        for (mask, rest) in both {
            of_tracer += mask.count_ones();
            of_base += rest.count_ones();
        }
        let share = f64::from(of_tracer) / f64::from((of_tracer + of_base).max(1));
        Some(Self { base: members(&rest, &sections), tracer: Some(Tracer { colours, share }), winds })
    }
}

impl Surface {
    /// The middle of both colours of a wire with a tracer; nothing for a plain one.
    pub(super) fn two_tones(self) -> Vec<Lab> {
        let Some(tracer) = self.tracer else { return Vec::new() };
        vec![median(self.base), median(tracer.colours)]
    }
}

/// How clearly a mask winds round the wire, against the base beside it.
fn mask_winds(mask: &Mask, base: &Mask, sections: &[Section]) -> f64 {
    let bare = |((mask, base), section): ((&u16, &u16), &Section)| {
        let colours = std::array::from_fn(|place| {
            let a = if mask >> place & 1 == 1 {
                MASK_APART
            } else if base >> place & 1 == 1 {
                0.0
            } else {
                MASK_APART / 3.0
            };
            Lab { l: 0.0, a, b: 0.0 }
        });
        Section { number: section.number, colours }
    };
    let bare: Vec<Section> = mask.iter().zip(base).zip(sections).map(bare).collect();
    Helix::of(&bare).map_or(0.0, |helix| helix.score())
}

/// Base and tracer of a wire round which something winds.
fn wound(helix: &Helix, sections: &[Section]) -> Option<Surface> {
    let samples =
        || helix.towards.iter().zip(sections).flat_map(|(towards, section)| towards.iter().zip(&section.colours));
    let mut on: Vec<f32> = samples().filter(|((at, _), _)| *at > ON_LINE).map(|((_, off), _)| *off).collect();
    let mut beside: Vec<f32> = samples().filter(|((at, _), _)| *at < 0.0).map(|((_, off), _)| *off).collect();
    on.sort_by(f32::total_cmp);
    beside.sort_by(f32::total_cmp);
    let (full, none) = (at(&on, 0.85), at(&beside, 0.4));
    let tracer: Vec<Lab> = samples()
        .filter(|((at, off), _)| *at > ON_LINE && *off > none + 0.7 * (full - none))
        .map(|(_, lab)| *lab)
        .collect();
    let base: Vec<Lab> = samples()
        .filter(|((at, off), _)| *at < 0.3 && *off < none + 0.3 * (full - none))
        .map(|(_, lab)| *lab)
        .collect();
    let winds = helix.score();
    if apart(median(base.clone()), median(tracer.clone())) < LEAST_APART {
        return None;
    }
    let middle = none.midpoint(full);
    let share = samples().filter(|((_, off), _)| *off > middle).count() as f64 / (sections.len() * ACROSS) as f64;
    // Most of a wire is its base.
    let most = groups(sections).first().map(|group| median(members(group, sections)));
    let (of_base, of_tracer) = (median(base.clone()), median(tracer.clone()));
    let nearer = |most: Lab| apart(most, of_base) / (apart(most, of_base) + apart(most, of_tracer)).max(1e-3);
    let swapped = most.map_or(0.5, nearer);
    if f64::from(swapped) - 0.5 + 1.0 * (share - 0.5) > 0.0 {
        return Some(Surface { base: tracer, tracer: Some(Tracer { colours: base, share: 1.0 - share }), winds });
    }
    Some(Surface { base, tracer: Some(Tracer { colours: tracer, share }), winds })
}

/// The value that so great a share of sorted ones is below.
fn at(sorted: &[f32], share: f64) -> f32 {
    sorted.get((sorted.len() as f64 * share) as usize).copied().unwrap_or(0.0)
}

/// Colours across the wire, a tenth of its width apart along it; only where it is seen, or both its edges are.
fn sections(ground: &Ground, path: &[PathPoint], wire_px: f64, balance: [f32; 3]) -> Vec<Section> {
    let unit = SPANNED * wire_px / (ACROSS - 1) as f64;
    let strip = Strip::balanced(ground, path, wire_px, 0.8 * wire_px, unit, balance);
    let edges = strip.edges(ACROSS / 2);
    let (across, half) = (strip.across(), ACROSS / 2);
    let edge = (0.5 * wire_px / unit).round() as usize;
    let clear = |number: usize| {
        let row = &edges[number * across..(number + 1) * across];
        row[strip.reach - edge].min(row[strip.reach + edge]) > LEAST_EDGE
    };
    let mut shown: Vec<bool> = (0..strip.seen.len()).map(|number| strip.seen[number] || clear(number)).collect();
    // A tracer that the wire was not known by hides it for a short way.
    let places: Vec<usize> = (0..shown.len()).filter(|&number| shown[number]).collect();
    for gap in places.windows(2).filter(|gap| gap[1] - gap[0] <= SHORT_GAP) {
        shown[gap[0]..gap[1]].fill(true);
    }
    let mut sections = Vec::new();
    for (number, shown) in shown.into_iter().enumerate() {
        if shown {
            let mut colours = [Lab::default(); ACROSS];
            colours.copy_from_slice(&strip.section(number)[strip.reach - half..=strip.reach + half]);
            sections.push(Section { number, colours });
        }
    }
    sections
}

/// The colours of a mask.
fn members(mask: &Mask, sections: &[Section]) -> Vec<Lab> {
    let of = |(bits, section): (&u16, &Section)| {
        let (bits, colours) = (*bits, section.colours);
        (0..ACROSS).filter(move |place| bits >> place & 1 == 1).map(move |place| colours[place])
    };
    mask.iter().zip(sections).flat_map(of).collect()
}

/// The part of a mask whose colours fulfil something.
fn only(mask: &Mask, sections: &[Section], wanted: impl Fn(Lab) -> bool) -> Mask {
    let of = |(bits, section): (&u16, &Section)| {
        (0..ACROSS)
            .filter(|place| bits >> place & 1 == 1 && wanted(section.colours[*place]))
            .fold(0, |kept, place| kept | 1 << place)
    };
    mask.iter().zip(sections).map(of).collect()
}

fn apart(a: Lab, b: Lab) -> f32 {
    (a.l - b.l).hypot(a.a - b.a).hypot(a.b - b.b)
}

/// The samples of a group that are far from the base.
fn pure(group: &Mask, base: Lab, sections: &[Section]) -> Mask {
    let mut off: Vec<f32> = members(group, sections).into_iter().map(|lab| apart(lab, base)).collect();
    off.sort_by(f32::total_cmp);
    let far = off.get(off.len() * 9 / 10).copied().unwrap_or(0.0);
    only(group, sections, |lab| apart(lab, base) > PURE * far)
}

/// The samples of the base that are much darker than it is for the most part.
fn dark(base: &Mask, middle: Lab, sections: &[Section]) -> Mask {
    only(base, sections, |lab| lab.l + 16.0 < DARK * (middle.l + 16.0))
}

fn weight(colours: &[Lab], base: Lab) -> f32 {
    apart(median(colours.to_vec()), base) * (colours.len() as f32).sqrt()
}

/// The colours that make up the sections, the greatest first.
fn groups(sections: &[Section]) -> Vec<Mask> {
    let all: Vec<Lab> = sections.iter().flat_map(|section| section.colours).collect();
    // The middles of groups: the sample that most others are like, then of those left.
    let mut left: Vec<Lab> = all.iter().copied().step_by((all.len() / 400).max(1)).collect();
    let enough = left.len() / 14;
    let mut middles: Vec<Lab> = Vec::new();
    while middles.len() < 4 && left.len() > enough {
        let near = |middle: &Lab| {
            let few = Few::of(&[*middle]);
            left.iter().filter(|lab| off(&few, *middle, **lab) < NEAR).copied().collect::<Vec<Lab>>()
        };
        let Some(best) = left.iter().step_by((left.len() / 60).max(1)).map(near).max_by_key(Vec::len) else { break };
        let middle = median(best);
        let few = Few::of(&[middle]);
        let before = left.len();
        left.retain(|lab| off(&few, middle, *lab) >= NEAR);
        if left.len() == before {
            break;
        }
        if before - left.len() > enough {
            middles.push(middle);
        }
    }
    let few: Vec<(Few, Lab)> = middles.iter().map(|&middle| (Few::of(&[middle]), middle)).collect();
    let mut groups: Vec<Mask> = middles.iter().map(|_| vec![0; sections.len()]).collect();
    for (number, section) in sections.iter().enumerate() {
        for (place, &lab) in section.colours.iter().enumerate() {
            let nearest = few
                .iter()
                .enumerate()
                .map(|(group, (few, middle))| (group, off(few, *middle, lab)))
                .min_by(|a, b| a.1.total_cmp(&b.1));
            if let Some((group, off)) = nearest
                && off < 1.5 * NEAR
            {
                groups[group][number] |= 1 << place;
            }
        }
    }
    groups.sort_by_key(|group| std::cmp::Reverse(group.iter().map(|bits| bits.count_ones()).sum::<u32>()));
    groups
}

/// How far apart two colours of one wire's surface are: shade discounted, but not that light washes colours out: white on blue is two
/// colours here.
fn off(few: &Few, middle: Lab, lab: Lab) -> f32 {
    let saturation = |lab: Lab| 60.0 * lab.chroma() / (lab.l + 16.0);
    let washed = (saturation(middle) - saturation(lab)).abs() * 0.5;
    few.distance(lab).hypot(washed)
}

/// How a colour moves across the wire as one goes along it.
struct Winding {
    /// The share of sections that show it beside the base.
    present: f64,
    /// How far it goes from one side to the other, less how far back, in breadths.
    sweep: f64,
    /// What that is of all its movement: 1 when it goes one way only.
    hand: f64,
    /// Stretches in which it comes into sight and goes out of it.
    runs: u32,
    /// Stretches that lead from one side towards the other, less those back.
    long: i32,
}

/// A tracer winds round the wire one way: section by section it moves on to the same side, and begins anew on the other.
fn winding(mask: &Mask, base: &Mask, sections: &[Section]) -> Winding {
    let shown: Vec<(usize, f64, bool)> = mask
        .iter()
        .zip(base)
        .zip(sections)
        .filter(|((mask, base), _)| **mask != 0 && **base != 0)
        .map(|((mask, _), section)| {
            let sum: usize = (0..ACROSS).filter(|place| mask >> place & 1 == 1).sum();
            let count = mask.count_ones();
            (section.number, sum as f64 / f64::from(count) / (ACROSS - 1) as f64, count >= COVERED)
        })
        .collect();
    let (mut on, mut back, mut runs, mut long) = (0.0, 0.0, 0, 0_i32);
    for run in shown.chunk_by(|a, b| b.0 - a.0 <= 3 && (b.1 - a.1).abs() < JUMP) {
        if run.len() < ACROSS || run.iter().any(|(.., covered)| *covered) {
            continue;
        }
        let mean = |part: &[(usize, f64, bool)]| part.iter().map(|(_, at, _)| at).sum::<f64>() / part.len() as f64;
        let ends = (run.len() / 4).clamp(1, 5);
        let moved = mean(&run[run.len() - ends..]) - mean(&run[..ends]);
        runs += 1;
        long += if moved > LONG { 1 } else { -i32::from(moved < -LONG) };
        on += moved.max(0.0);
        back += (-moved).max(0.0);
    }
    let present = shown.len() as f64 / sections.len().max(1) as f64;
    let sweep: f64 = on - back;
    Winding { present, sweep: sweep.abs(), hand: sweep.abs() / (on + back).max(1e-9), runs, long: long.abs() }
}

/// Whether a group of colours is the wire's tracer: it winds round the wire, or it is of another hue and runs beside the base for
/// most of the wire. A glint and a shaded edge have the base's hue or none (S. Shafer, "Using color to separate reflection components",
/// Color Research and Application 10, 1985, 210-218), keep to their side or drift both ways, and what crosses the wire is soon gone.
/// For following it is enough that it moves one way over the wire for the most part.
fn is_tracer(mask: &Mask, base: &Mask, sections: &[Section], asked: Asked) -> bool {
    let beside = mask.iter().zip(base).filter(|(mask, base)| **mask != 0 && **base != 0).count();
    let present = beside as f64 / sections.len().max(1) as f64;
    let winds = match asked {
        Asked::Name => present > LEAST_PRESENT && mask_winds(mask, base, sections) > MASK_WINDS,
        Asked::Tones => {
            let winding = winding(mask, base, sections);
            winding.present > LEAST_TONE
                && winding.hand > LEAST_HAND
                && winding.long > 0
                && winding.sweep > LEAST_SWEEP * f64::from(winding.runs.max(2))
        }
    };
    winds || present > MOSTLY_PRESENT && other_hue(median(members(mask, sections)), median(members(base, sections)))
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::tracing::PhotoPixels;
    use image::{Rgba, RgbaImage};

    const BROWN: [u8; 3] = [100, 58, 40];

    /// The surface of a wire 16 pixels wide, drawn by its angle round the wire, -π/2 to π/2, and how far along it is.
    fn drawn(colour: impl Fn(f64, f64) -> [u8; 3]) -> Surface {
        let picture = RgbaImage::from_fn(700, 120, |x, y| {
            let (along, aside) = (f64::from(x), (f64::from(y) + 0.5 - 60.0) / 8.0);
            let [r, g, b] = if aside.abs() < 1.0 { colour(aside.asin(), along) } else { [190, 192, 195] };
            Rgba([r, g, b, 255])
        });
        let ground = Ground::of(std::sync::Arc::new(PhotoPixels::of(&picture, |_| ())));
        let path: Vec<PathPoint> =
            (4..137).map(|step| PathPoint { at: [f64::from(step) * 5.0, 60.0], seen: true }).collect();
        Surface::of(&ground, &path, 16.0, [1.0; 3], Asked::Name).unwrap()
    }

    /// Two white lines round the wire, one turn in ten widths, as a helix is seen from the side: place across = sine of the angle.
    #[test]
    fn white_that_winds_is_a_tracer_and_white_that_stays_is_a_glint() {
        let winding = drawn(|angle, along| {
            let turned = (angle - along / 160.0 * std::f64::consts::TAU).rem_euclid(std::f64::consts::PI);
            if turned < 0.25 * std::f64::consts::PI { [230, 226, 214] } else { BROWN }
        });
        let tracer = winding.tracer.unwrap();
        assert!(median(tracer.colours).l > 80.0, "a white tracer");
        let glint = drawn(|angle, _| if (angle - 0.3).abs() < 0.25 { [230, 226, 214] } else { BROWN });
        assert!(glint.tracer.is_none(), "a glint stays on the side of the light");
    }

    /// Another wire across it shows its colour once, from edge to edge.
    #[test]
    fn what_crosses_the_wire_is_no_tracer() {
        let crossed =
            drawn(|angle, along| if (along - 300.0 - 20.0 * angle).abs() < 12.0 { [25, 85, 165] } else { BROWN });
        assert!(crossed.tracer.is_none());
        assert!((median(crossed.base).l - Lab::of_srgb(BROWN).l).abs() < 4.0);
    }
}
