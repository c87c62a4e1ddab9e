//! All wires between given terminals, proposed with how sure that is. Nothing is added to a record here.

use std::collections::BTreeMap;

use rayon::prelude::*;

use super::centre::{PathPoint, centred, fine_level};
use super::ends::{End, LOOSE, Landing, ends, landings};
use super::follow::Path;
use super::ground::{Ground, PhotoPoint};
use super::look::{Look, colours_under};
use super::pairing::{Chosen, Pair, paired};
use super::scene::Scene;
use super::sight::{LETTERS, Sight};
use super::ways::{Prices, Ways};
use super::width::width_at;

/// Shorter than this, in cells, nothing is taken for a wire.
const SHORTEST: f32 = 12.0;
/// What it costs that the way is found from one end only, and that it leaves the picture.
const ONE_WAY: f32 = 10.0;
const OUT: f32 = 6.0;
/// An end that is less likely costs more, up to the square of this base; and so does one of another colour.
const MOST_UNLIKELY: f32 = 2.0;
const COLOURS: f32 = 3.0;
const LEAST_ALIKE: f32 = 0.05;
/// A wire is proposed if both ends are so much likelier on their terminals than on the next, or on none.
const LEAST_CLEAR: f32 = 1.0;
/// As likely as this an end is surely seen.
const SURELY_SEEN: f32 = 0.6;
/// An end that no terminal is near is one if it is likelier than this.
const LOOSE_END: f32 = 0.4;
/// The colours and the width of a wire are taken every so many steps of its way, where insulation is this sure.
const EVERY: usize = 8;
const INSULATION: f32 = 0.7;
/// What lies beside a wire differs from it so much, in L*a*b*.
const BESIDE: f32 = 26.0;

/// A wire that may be there.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposed {
    /// The terminals it runs between, by their places in the list that was given, the lesser first.
    pub ends: [usize; 2],
    /// Its path, from the first of the ends to the second.
    pub path: Path,
    /// Its width in pixels of the photo.
    pub width_px: f64,
    /// How likely it is, 0 to 1.
    pub confidence: f64,
    /// Whether it may be taken over without being followed by eye; still a person's decision.
    pub sure: bool,
}

/// Proposes wires that are seen between the terminals, the surest first. An aid to begin with, no more: what it finds and how much of it
/// is wrong is told in docs/photos.md. Takes seconds: not for a frame.
/// `progress` is told the share that is done; when it answers `false`, nothing more is looked for and nothing is proposed.
pub fn between(ground: &Ground, terminals: &[PhotoPoint], progress: &(dyn Fn(f64) -> bool + Sync)) -> Vec<Proposed> {
    let scene = Scene::of(ground);
    let Some(sight) = Sight::of(&scene, &|share| progress(0.4 * share)) else { return Vec::new() };
    let cells = 2.0 * scene.scale;
    #[allow(clippy::cast_possible_truncation, reason = "f32 is fine enough for places in a scene")]
    let places: Vec<[f32; 2]> = terminals.iter().map(|at| at.map(|value| (value / cells) as f32)).collect();
    let (ends, landings): (Vec<End>, Vec<Vec<Landing>>) = ends(&sight)
        .into_iter()
        .map(|end| (landings(&sight, &end, &places), end))
        .filter(|(landings, end)| !landings.is_empty() || end.likely > LOOSE_END)
        .map(|(landings, end)| (end, landings))
        .unzip();
    let Some(pairs) = pairs(&sight, &ends, progress) else { return Vec::new() };
    let chosen = paired(&sight, &pairs, &landings, terminals.len());
    let proposed = |one: &Chosen| {
        let [Some(from), Some(to)] = one.terminals else { return None };
        let pair = &pairs[one.pair];
        let (path, width_px) = path(ground, &sight, cells, [terminals[from], terminals[to]], &pair.places);
        let to_end = pair.to?;
        let clear = clear(&landings[pair.from], from).min(clear(&landings[to_end], to));
        if clear < LEAST_CLEAR {
            return None;
        }
        let likely = ends[pair.from].likely.min(ends[to_end].likely);
        let confidence = f64::from((clear / LOOSE).min(1.0) * (likely / SURELY_SEEN).min(1.0));
        let mut proposed = Proposed { ends: [from, to], path, width_px, confidence, sure: false };
        if from > to {
            proposed.ends.reverse();
            proposed.path.points.reverse();
        }
        Some(proposed)
    };
    let mut proposals: Vec<Proposed> = chosen.par_iter().filter_map(proposed).collect();
    proposals.sort_by(|a, b| b.sure.cmp(&a.sure).then(b.confidence.total_cmp(&a.confidence)).then(a.ends.cmp(&b.ends)));
    proposals
}

/// All ends that a way was found between, and ways out of the picture. `None` if it was stopped.
fn pairs(sight: &Sight, ends: &[End], progress: &(dyn Fn(f64) -> bool + Sync)) -> Option<Vec<Pair>> {
    let prices = Prices::of(sight);
    let from = |ways: &mut Ways<'_>, from: usize| {
        if !progress(0.4 + 0.5 * from as f64 / ends.len() as f64) {
            return None;
        }
        ways.follow(&ends[from]);
        let others = (0..ends.len()).filter(|to| *to != from);
        let mut found: Vec<Pair> = others
            .filter_map(|to| {
                Some(Pair::new(
                    sight,
                    from,
                    Some(to),
                    ways.to(&ends[to]).filter(|way| length(&way.places) >= SHORTEST)?,
                ))
            })
            .collect();
        found.extend(ways.out().map(|way| Pair::new(sight, from, None, way)));
        Some(found)
    };
    let found: Option<Vec<Vec<Pair>>> =
        (0..ends.len()).into_par_iter().map_init(|| Ways::new(sight, &prices), from).collect();
    let mut by_ends: BTreeMap<(usize, Option<usize>), Vec<Pair>> = BTreeMap::new();
    for pair in found?.into_iter().flatten() {
        let ends = pair.to.map_or((pair.from, None), |to| (pair.from.min(to), Some(pair.from.max(to))));
        by_ends.entry(ends).or_default().push(pair);
    }
    let unlikely = |end: usize| (-ends[end].likely.ln()).min(MOST_UNLIKELY);
    let merged = |((from, to), mut both): ((usize, Option<usize>), Vec<Pair>)| {
        let mean = both.iter().map(|pair| pair.cost).sum::<f32>() / both.len() as f32;
        let single = both.len() == 1;
        both.sort_by(|a, b| a.cost.total_cmp(&b.cost));
        let mut pair = both.into_iter().next()?;
        pair.cost = mean
            + unlikely(from)
            + to.map_or(OUT, |to| {
                unlikely(to) - COLOURS * alike(&ends[from].letters, &ends[to].letters).max(LEAST_ALIKE).ln()
                    + if single { ONE_WAY } else { 0.0 }
            });
        Some(pair)
    };
    Some(by_ends.into_iter().filter_map(merged).collect())
}

/// By how much an end is likelier on a terminal than on any other, or on none; less than nothing if another is likelier.
fn clear(landings: &[Landing], terminal: usize) -> f32 {
    let (on_it, others): (Vec<&Landing>, Vec<&Landing>) =
        landings.iter().partition(|landing| landing.terminal == terminal);
    let next = others.iter().map(|landing| landing.cost).fold(LOOSE, f32::min);
    on_it.first().map_or(f32::NEG_INFINITY, |landing| next - landing.cost)
}

/// How alike two shares of colours are, 0 to 1 (A. Bhattacharyya 1943).
fn alike(a: &[f32; LETTERS], b: &[f32; LETTERS]) -> f32 {
    a.iter().zip(b).map(|(a, b)| (a * b).sqrt()).sum()
}

fn length(places: &[[f32; 2]]) -> f32 {
    places.windows(2).map(|step| (step[1][0] - step[0][0]).hypot(step[1][1] - step[0][1])).sum()
}

/// The path along a way, from terminal to terminal, and its width in photo pixels.
fn path(ground: &Ground, sight: &Sight, cells: f64, ends: [PhotoPoint; 2], places: &[[f32; 2]]) -> (Path, f64) {
    let on_photo = |at: &[f32; 2]| at.map(|value| f64::from(value) * cells);
    let sure = |at: &&[f32; 2]| sight.cell(**at).is_some_and(|cell| sight.insulation(cell) > INSULATION);
    let mut pins: Vec<PhotoPoint> = places.iter().step_by(EVERY).filter(sure).map(on_photo).collect();
    if pins.is_empty() {
        pins.extend(places.get(places.len() / 2).map(on_photo));
    }
    let width_px = width_at(ground, &pins);
    let level = fine_level(ground, width_px);
    let wire = width_px / ground.scale(level)[0];
    let under = |pin: &PhotoPoint| {
        let at = ground.on_level(level, *pin);
        let window = ground.window(level, at.map(|value| value - wire - 2.0), at.map(|value| value + wire + 2.0));
        colours_under(&window, at, (wire * 0.35).max(2.6))
    };
    let colours: Vec<_> = pins.iter().map(under).collect();
    let rough: Vec<PhotoPoint> = places.iter().map(on_photo).collect();
    let mut points = centred(ground, &Look::of(&colours, BESIDE), width_px, &rough);
    // The ends snap to the terminals; between insulation and terminal the wire is not seen.
    points.insert(0, PathPoint { at: ends[0], seen: false });
    points.push(PathPoint { at: ends[1], seen: false });
    (Path { points }, width_px)
}
