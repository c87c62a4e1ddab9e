//! All wires between given terminals, proposed with how clearly their ends show. Nothing is added to a record here.

use std::collections::BTreeMap;
use std::sync::atomic::{AtomicUsize, Ordering};

use rayon::prelude::*;

use super::centre::{PathPoint, centred, fine_level};
use super::ends::{End, LOOSE, Landing, ends, landings, unseen_end};
use super::follow::Path;
use super::ground::{Ground, PhotoPoint};
use super::look::{Look, colours_under};
use super::pairing::{Chosen, MOST_ENDS, Pair, paired};
use super::scene::Scene;
use super::sight::{LETTERS, Sight};
use super::ways::{Prices, Way, Ways};
use super::width::width_at;

/// Shorter than this, in cells, nothing is taken for a wire.
const SHORTEST: f32 = 12.0;
/// What it costs that the way is found from one end only, and that it leaves the picture.
const ONE_WAY: f32 = 20.0;
const OUT: f32 = 6.0;
/// What it costs that the ends are of different colours.
const COLOURS: f32 = 3.0;
const LEAST_ALIKE: f32 = 0.05;
/// What the odds of an end weigh: one likelier than this speaks for a wire, one less likely against it; none is surer than that.
const UNLIKELY: f32 = 2.0;
const EVEN: f32 = 0.1;
const SUREST_END: f32 = 0.97;
/// What it costs that a wire comes to a terminal where no end of it is seen: it ends behind others, or the network sees none.
const UNSEEN_END: f32 = 8.0;
/// What it costs besides, times how likely it is that an end is seen at that terminal: one terminal has one wire.
const CLAIMED: f32 = 10.0;
/// As likely as this an end is surely seen.
const SURELY_SEEN: f32 = 0.6;
/// An end that no terminal is near is one if it is likelier than this.
const LOOSE_END: f32 = 0.4;
/// The colours and the width of a wire are taken every so many steps of its way, where insulation is this sure, at so many places at most.
const EVERY: usize = 8;
const MOST_PINS: usize = 9;
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
    /// How clearly both ends show, each at its terminal, 0 to 1; 0 where one is not seen. No likelihood: docs/photos.md tells how often such
    /// are right.
    pub confidence: f64,
}

/// Proposes wires that are seen between the terminals, one at most for each, the clearest first. An aid to begin with, no more: what it
/// finds and how much of it is wrong is told in docs/photos.md. Takes seconds: not for a frame.
/// `progress` is told the share that is done; when it answers `false`, nothing more is looked for and nothing is proposed.
pub fn between(ground: &Ground, terminals: &[PhotoPoint], progress: &(dyn Fn(f64) -> bool + Sync)) -> Vec<Proposed> {
    if terminals.len() < 2 {
        return Vec::new();
    }
    let scene = Scene::of(ground);
    let Some(sight) = Sight::of(&scene, &|share| progress(0.4 * share)) else { return Vec::new() };
    let cells = 2.0 * scene.scale;
    #[allow(clippy::cast_possible_truncation, reason = "f32 is fine enough for places in a scene")]
    let places: Vec<[f32; 2]> = terminals.iter().map(|at| at.map(|value| (value / cells) as f32)).collect();
    let seen = ends(&sight)
        .into_iter()
        .map(|end| (landings(&sight, &end, &places), end))
        .filter(|(landings, end)| !landings.is_empty() || end.likely > LOOSE_END)
        .map(|(landings, end)| (end, landings))
        .take(MOST_ENDS);
    let (mut ends, mut landings): (Vec<End>, Vec<Vec<Landing>>) = seen.unzip();
    let seen = ends.len();
    let at_terminal =
        |(terminal, at): (usize, &[f32; 2])| Some((unseen_end(&sight, *at)?, vec![Landing { terminal, cost: 0.0 }]));
    for (end, landing) in places.iter().enumerate().filter_map(at_terminal).take(MOST_ENDS) {
        ends.push(end);
        landings.push(landing);
    }
    let Some(ways) = ways(&sight, &ends, seen, progress) else { return Vec::new() };
    let pairs = pairs(&sight, &ends, &landings, seen, ways);
    let chosen = paired(&sight, &pairs, &landings, seen, terminals.len(), &|| progress(0.9));
    let proposed = |one: &Chosen| {
        let [Some(from), Some(to)] = one.terminals else { return None };
        let pair = &pairs[one.pair];
        let to_end = pair.to?;
        let clear = clear(&landings[pair.from], from).min(clear(&landings[to_end], to));
        // Another terminal would be likelier for one of its ends.
        if clear < 0.0 || !progress(0.95) {
            return None;
        }
        let (path, width_px) = path(ground, &sight, cells, [terminals[from], terminals[to]], &pair.places);
        let likely = ends[pair.from].likely.min(ends[to_end].likely);
        let confidence = f64::from((clear / LOOSE).min(1.0) * (likely / SURELY_SEEN).min(1.0));
        let mut proposed = Proposed { ends: [from, to], path, width_px, confidence };
        if from > to {
            proposed.ends.reverse();
            proposed.path.points.reverse();
        }
        Some(proposed)
    };
    let mut proposals: Vec<Proposed> = chosen.par_iter().filter_map(proposed).collect();
    if !progress(1.0) {
        return Vec::new();
    }
    proposals.sort_by(|a, b| b.confidence.total_cmp(&a.confidence).then(a.ends.cmp(&b.ends)));
    proposals
}

/// Ways from an end to others, or out of the picture.
type Found = Vec<(Option<usize>, Way)>;

/// Ways by the ends they join, the first of both first; followed from one of them or from both.
type ByEnds = BTreeMap<(usize, Option<usize>), Vec<Way>>;

/// The ways between ends, and out of the picture. They are followed from the first `seen` ends, to all. `None` if it was stopped.
fn ways(sight: &Sight, ends: &[End], seen: usize, progress: &(dyn Fn(f64) -> bool + Sync)) -> Option<ByEnds> {
    let prices = Prices::of(sight);
    let done = AtomicUsize::new(0);
    let from = |ways: &mut Ways<'_>, from: usize| {
        let share = done.fetch_add(1, Ordering::Relaxed) as f64 / seen as f64;
        if !progress(0.4 + 0.5 * share) {
            return None;
        }
        ways.follow(&ends[from]);
        let others = (0..ends.len()).filter(|to| *to != from);
        let ways_to = others.filter_map(|to| Some((Some(to), ways.to(&ends[to])?)));
        let mut found: Found = ways_to.filter(|(_, way)| length(&way.places) >= SHORTEST).collect();
        found.extend(ways.out().map(|way| (None, way)));
        Some(found)
    };
    // Each thread makes room for its ways but a few times.
    let at_once = (seen / (2 * rayon::current_num_threads())).max(1);
    let found: Option<Vec<Found>> =
        (0..seen).into_par_iter().with_min_len(at_once).map_init(|| Ways::new(sight, &prices), from).collect();
    let mut by_ends = ByEnds::new();
    for (from, found) in found?.into_iter().enumerate() {
        for (to, mut way) in found {
            // From the first of both, whichever it was followed from.
            if to.is_some_and(|to| to < from) {
                way.places.reverse();
            }
            let ends = to.map_or((from, None), |to| (from.min(to), Some(from.max(to))));
            by_ends.entry(ends).or_default().push(way);
        }
    }
    Some(by_ends)
}

/// All ends that a way was found between, and ways out of the picture, that may be worth what they cost.
fn pairs(sight: &Sight, ends: &[End], landings: &[Vec<Landing>], seen: usize, ways: ByEnds) -> Vec<Pair> {
    let unlikely = |end: usize| {
        let odds = |likely: f32| likely / (1.0 - likely);
        UNLIKELY * (odds(EVEN) / odds(ends[end].likely.min(SUREST_END))).ln()
    };
    let merged = |((from, to), both): ((usize, Option<usize>), Vec<Way>)| {
        let mean = both.iter().map(|way| way.cost).sum::<f32>() / both.len() as f32;
        let other = to.map_or(OUT, |to| {
            if to >= seen {
                let others = (0..seen).filter(|end| *end != from).map(|end| (&ends[end], landings[end].as_slice()));
                return UNSEEN_END + CLAIMED * claimed(others, landings[to][0].terminal);
            }
            let one_way = if both.len() == 1 { ONE_WAY } else { 0.0 };
            let alike = alike(&ends[from].letters, &ends[to].letters).max(LEAST_ALIKE);
            unlikely(to) - COLOURS * alike.ln() + one_way
        });
        let cost = mean + unlikely(from) + other;
        let way = both.into_iter().min_by(|a, b| a.cost.total_cmp(&b.cost))?;
        Some(Pair::new(sight, from, to, Way { cost, ..way })).filter(|pair| pair.worth() > 0.0)
    };
    ways.into_iter().collect::<Vec<_>>().into_par_iter().filter_map(merged).collect()
}

/// How surely an end is seen at a terminal, 0 to 1, by the surest of those that no other terminal is likelier for.
fn claimed<'a>(seen: impl Iterator<Item = (&'a End, &'a [Landing])>, terminal: usize) -> f32 {
    let sure = |(end, landings): (&End, &[Landing])| {
        let first = landings.first().filter(|first| first.terminal == terminal)?;
        Some(end.likely * (1.0 - first.cost / LOOSE))
    };
    seen.filter_map(sure).fold(0.0, f32::max)
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
    pins = pins.iter().step_by(pins.len().div_ceil(MOST_PINS).max(1)).copied().collect();
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

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_terminal_is_claimed_by_the_surest_end_that_is_likeliest_there() {
        let landing = |terminal: usize, cost: f32| Landing { terminal, cost };
        let end = |likely: f32| End {
            at: [0.0; 2],
            along: None,
            terminal: [0.0; 2],
            likely,
            letters: [1.0 / LETTERS as f32; LETTERS],
        };
        let ends = [end(0.9), end(0.8), end(0.7)];
        let landings = [vec![landing(1, 0.0), landing(0, 0.1)], vec![landing(0, LOOSE / 2.0)], vec![]];
        let of = |terminal: usize| claimed(ends.iter().zip(landings.iter().map(Vec::as_slice)), terminal);
        assert!((of(0) - 0.4).abs() < 1e-6 && (of(1) - 0.9).abs() < 1e-6 && of(2) == 0.0);
    }
}
