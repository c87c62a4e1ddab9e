//! All wires between given terminals: the photo is looked at in several views, each chooses wires by itself, and what most choose is
//! proposed first. Nothing is added to a record here.

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
use super::sight::{LETTERS, Sight, Taught};
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
/// What it costs besides, times how likely it is that an end is seen at that terminal: its wire is that one, mostly.
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
/// The longer edge of the photo as wires are looked for in it: a wire in a cabinet that fills the photo is then 5 to 15 pixels wide.
const EDGE_PX: f64 = 1400.0;
/// More wires are not looked for at one terminal: that takes time, and those on top hide the others.
const MOST_HELD: u8 = 4;

/// How a photo is looked at: by which weights, how many times as large, and whether with its rows as columns.
struct View {
    taught: Taught,
    times: f64,
    lying: bool,
}

/// In each view wires are chosen anew. Where a choice is close it hangs on chance: what several views choose is right more often, and each
/// finds wires that others miss.
const VIEWS: [View; 4] = [
    View { taught: Taught::Once, times: 1.0, lying: false },
    View { taught: Taught::Once, times: 0.85, lying: false },
    View { taught: Taught::Longer, times: 1.0, lying: true },
    View { taught: Taught::Longer, times: 1.2, lying: false },
];

/// A terminal as it lies on a photo.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct PhotoTerminal {
    /// Where it is.
    pub at: PhotoPoint,
    /// So many wires may be on it; 0 counts as one, and more than four as four.
    pub holds: u8,
}

impl PhotoTerminal {
    fn wires(self) -> u8 {
        self.holds.clamp(1, MOST_HELD)
    }
}

/// A wire that may be there.
#[derive(Debug, Clone, PartialEq)]
pub struct Proposed {
    /// The terminals it runs between, by their places in the list that was given, the lesser first.
    pub ends: [usize; 2],
    /// Its path, from the first of the ends to the second.
    pub path: Path,
    /// Its width in pixels of the photo.
    pub width_px: f64,
    /// How clearly both ends show, each at its terminal, 0 to 1, 0 where one is not seen; the mean of all views, 0 in those that choose
    /// other wires. No likelihood: docs/photos.md tells how often such are right.
    pub confidence: f64,
}

/// Proposes wires that are seen between the terminals, for each as many as it holds at most and between two of them one, first what most
/// views choose. An aid to begin with, no more: what it finds and how much of it is wrong is told in docs/photos.md. Takes half a
/// minute on the largest photos: not for a frame.
/// `progress` is told the share that is done; when it answers `false`, nothing more is looked for and nothing is proposed.
pub fn between(ground: &Ground, terminals: &[PhotoTerminal], progress: &(dyn Fn(f64) -> bool + Sync)) -> Vec<Proposed> {
    if terminals.len() < 2 {
        return Vec::new();
    }
    let mut views = Vec::new();
    for (number, view) in VIEWS.iter().enumerate() {
        let share = |share: f64| progress(0.95 * (number as f64 + share) / VIEWS.len() as f64);
        let Some(candidates) = in_view(ground, view, terminals, &share) else { return Vec::new() };
        views.push(candidates);
    }
    let proposed = |candidate: Candidate| {
        progress(0.95).then(|| {
            let (path, width_px) = path(ground, candidate.ends.map(|end| terminals[end].at), &candidate);
            Proposed { ends: candidate.ends, path, width_px, confidence: candidate.confidence }
        })
    };
    let proposals: Option<Vec<Proposed>> = agreed(&views, terminals).into_par_iter().map(proposed).collect();
    proposals.filter(|_| progress(1.0)).unwrap_or_default()
}

/// A wire as one view chooses it, its places and pins in pixels of the photo.
#[derive(Debug, Clone, PartialEq)]
struct Candidate {
    /// The lesser first.
    ends: [usize; 2],
    /// Along it, from the first end.
    rough: Vec<PhotoPoint>,
    /// Where its colours and width can be taken, in no order.
    pins: Vec<PhotoPoint>,
    confidence: f64,
}

/// The terminals, by their places in the list, each as often as it holds wires: first all of them once.
fn slots(terminals: &[PhotoTerminal]) -> Vec<usize> {
    let holding = |wire: u8| (0..terminals.len()).filter(move |&terminal| terminals[terminal].wires() >= wire);
    (1..=MOST_HELD).flat_map(holding).collect()
}

/// The wires that are chosen in one view, one at most between two terminals. `None` when `progress`, told the share that is done, says to stop.
fn in_view(
    ground: &Ground,
    view: &View,
    terminals: &[PhotoTerminal],
    progress: &(dyn Fn(f64) -> bool + Sync),
) -> Option<Vec<Candidate>> {
    let size = ground.size_px().map(f64::from);
    let scene = Scene::of(ground, (size[0].max(size[1]) / EDGE_PX).max(1.0) / view.times);
    let scene = if view.lying { scene.lying() } else { scene };
    let turned = |[x, y]: [f64; 2]| if view.lying { [y, x] } else { [x, y] };
    let sight = Sight::of(&scene, view.taught, &|share| progress(0.4 * share))?;
    let cells = 2.0 * scene.scale;
    #[allow(clippy::cast_possible_truncation, reason = "f32 is fine enough for places in a scene")]
    let place = |slot: &usize| turned(terminals[*slot].at).map(|value| (value / cells) as f32);
    // From here on a terminal that holds several wires is several terminals at one place.
    let slots = slots(terminals);
    let places: Vec<[f32; 2]> = slots.iter().map(place).collect();
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
    let ways = ways(&sight, &ends, seen, progress)?;
    let pairs = pairs(&sight, &ends, &landings, seen, &slots, ways);
    let chosen = paired(&sight, &pairs, &landings, seen, slots.len(), &|| progress(0.9))?;
    let candidate = |one: &Chosen| {
        let [Some(from), Some(to)] = one.terminals else { return None };
        let pair = &pairs[one.pair];
        let to_end = pair.to?;
        let clear = clear(&landings[pair.from], from, &slots).min(clear(&landings[to_end], to, &slots));
        let [from, to] = [from, to].map(|slot| slots[slot]);
        // Another terminal would be likelier for one of its ends, or it comes back to the one where it began.
        if clear < 0.0 || from == to {
            return None;
        }
        let likely = ends[pair.from].likely.min(ends[to_end].likely);
        let confidence = f64::from((clear / LOOSE).min(1.0) * (likely / SURELY_SEEN).min(1.0));
        let on_photo = |at: &[f32; 2]| turned(at.map(|value| f64::from(value) * cells));
        let sure = |at: &&[f32; 2]| sight.cell(**at).is_some_and(|cell| sight.insulation(cell) > INSULATION);
        let pins = pair.places.iter().step_by(EVERY).filter(sure).map(on_photo).collect();
        let rough = pair.places.iter().map(on_photo).collect();
        let mut candidate = Candidate { ends: [from, to], rough, pins, confidence };
        if from > to {
            candidate.ends.reverse();
            candidate.rough.reverse();
        }
        Some(candidate)
    };
    let mut candidates: Vec<Candidate> = chosen.iter().filter_map(candidate).collect();
    candidates.sort_by(|a, b| a.ends.cmp(&b.ends).then(b.confidence.total_cmp(&a.confidence)));
    candidates.dedup_by_key(|candidate| candidate.ends);
    progress(1.0).then_some(candidates)
}

/// Of what the views choose, what most of them choose first, where a view counts up to twice as much the clearer it shows a wire: one at
/// most between two terminals and no more at each than it holds, though what is seen of one wire may be taken for two, each by another
/// view. A terminal that has a wire already gets another only if two views choose it: few that come second are right. The confidence of
/// each is the mean over all views, 0 in those that do not choose it.
fn agreed(views: &[Vec<Candidate>], terminals: &[PhotoTerminal]) -> Vec<Candidate> {
    let mut by_ends: BTreeMap<[usize; 2], Vec<&Candidate>> = BTreeMap::new();
    for candidate in views.iter().flatten() {
        by_ends.entry(candidate.ends).or_default().push(candidate);
    }
    let clearness = |same: &[&Candidate]| same.iter().map(|one| one.confidence).sum::<f64>();
    let counts = |same: &[&Candidate]| same.len() as f64 + clearness(same);
    let mut order: Vec<Vec<&Candidate>> = by_ends.into_values().collect();
    // Those that count the same stay in the order of their ends.
    order.sort_by(|a, b| counts(b).total_cmp(&counts(a)));
    let mut on_it: Vec<u8> = vec![0; terminals.len()];
    let mut agreed = Vec::new();
    for same in order {
        let Some(&clearest) = same.iter().max_by(|a, b| a.confidence.total_cmp(&b.confidence)) else { continue };
        let most = |end: usize| if same.len() > 1 { terminals[end].wires() } else { 1 };
        if clearest.ends.iter().all(|&end| on_it[end] < most(end)) {
            clearest.ends.iter().for_each(|&end| on_it[end] += 1);
            agreed.push(Candidate { confidence: clearness(&same) / views.len() as f64, ..clearest.clone() });
        }
    }
    agreed
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
fn pairs(
    sight: &Sight,
    ends: &[End],
    landings: &[Vec<Landing>],
    seen: usize,
    slots: &[usize],
    ways: ByEnds,
) -> Vec<Pair> {
    let unlikely = |end: usize| {
        let odds = |likely: f32| likely / (1.0 - likely);
        UNLIKELY * (odds(EVEN) / odds(ends[end].likely.min(SUREST_END))).ln()
    };
    let merged = |((from, to), both): ((usize, Option<usize>), Vec<Way>)| {
        let mean = both.iter().map(|way| way.cost).sum::<f32>() / both.len() as f32;
        let other = to.map_or(OUT, |to| {
            if to >= seen {
                let others = (0..seen).filter(|end| *end != from).map(|end| (&ends[end], landings[end].as_slice()));
                return UNSEEN_END + CLAIMED * claimed(others, landings[to][0].terminal, slots);
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

/// How surely an end is seen in a slot of a terminal, 0 to 1: in its first the surest of the ends that no other terminal is likelier for, in
/// its second the next, and so on.
fn claimed<'a>(seen: impl Iterator<Item = (&'a End, &'a [Landing])>, slot: usize, slots: &[usize]) -> f32 {
    let sure = |(end, landings): (&End, &[Landing])| {
        let first = landings.first().filter(|first| slots[first.terminal] == slots[slot])?;
        Some(end.likely * (1.0 - first.cost / LOOSE))
    };
    let mut sure: Vec<f32> = seen.filter_map(sure).collect();
    sure.sort_by(|a, b| b.total_cmp(a));
    let before = slots[..slot].iter().filter(|terminal| **terminal == slots[slot]).count();
    sure.get(before).copied().unwrap_or_default()
}

/// By how much an end is likelier on the terminal of a slot than on any other, or on none; less than nothing if another is likelier.
fn clear(landings: &[Landing], slot: usize, slots: &[usize]) -> f32 {
    let (on_it, others): (Vec<&Landing>, Vec<&Landing>) =
        landings.iter().partition(|landing| slots[landing.terminal] == slots[slot]);
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

/// The path of a candidate, from terminal to terminal, and its width in photo pixels.
fn path(ground: &Ground, ends: [PhotoPoint; 2], candidate: &Candidate) -> (Path, f64) {
    let Candidate { rough, pins, .. } = candidate;
    let mut pins: Vec<PhotoPoint> = pins.iter().step_by(pins.len().div_ceil(MOST_PINS).max(1)).copied().collect();
    if pins.is_empty() {
        pins.extend(rough.get(rough.len() / 2));
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
    let mut points = centred(ground, &Look::of(&colours, BESIDE), width_px, rough);
    // The ends snap to the terminals; between insulation and terminal the wire is not seen.
    points.insert(0, PathPoint { at: ends[0], seen: false });
    points.push(PathPoint { at: ends[1], seen: false });
    (Path { points }, width_px)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_terminal_is_claimed_by_the_surest_end_that_is_likeliest_there_and_its_second_slot_by_the_next() {
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
        let seen = || ends.iter().zip(landings.iter().map(Vec::as_slice));
        let single = [0, 1, 2].map(|slot| claimed(seen(), slot, &[0, 1, 2]));
        assert!((single[0] - 0.4).abs() < 1e-6 && (single[1] - 0.9).abs() < 1e-6 && single[2] == 0.0);
        // Both slots are of one terminal, which has the ends of both.
        let double = [0, 1, 2].map(|slot| claimed(seen(), slot, &[0, 0, 0]));
        assert!((double[0] - 0.9).abs() < 1e-6 && (double[1] - 0.4).abs() < 1e-6 && double[2] == 0.0);
    }

    /// Three views: two choose a wire that a third would have otherwise, more clearly; one alone chooses another.
    #[test]
    fn what_more_views_choose_comes_first_and_no_terminal_has_more_than_it_holds() {
        let candidate = |ends: [usize; 2], confidence: f64| Candidate {
            ends,
            rough: vec![[confidence, 0.0]],
            pins: vec![],
            confidence,
        };
        let views = [
            vec![candidate([0, 1], 0.3), candidate([4, 5], 0.6)],
            vec![candidate([0, 1], 0.6)],
            vec![candidate([0, 2], 1.0), candidate([1, 3], 0.9)],
        ];
        let single = vec![PhotoTerminal { at: [0.0; 2], holds: 1 }; 6];
        let agreed = agreed(&views, &single);
        let found: Vec<_> = agreed.iter().map(|one| (one.ends, (one.confidence * 100.0).round())).collect();
        assert_eq!(found, [([0, 1], 30.0), ([4, 5], 20.0)]);
        assert_eq!(agreed[0].rough, [[0.6, 0.0]], "the clearest of them");
        // As many views each: the clearer one; as clear: by their ends.
        let views = [
            vec![candidate([0, 1], 0.3), candidate([3, 4], 0.5)],
            vec![candidate([0, 2], 0.4), candidate([4, 5], 0.5)],
        ];
        let ends: Vec<_> = super::agreed(&views, &single).iter().map(|one| one.ends).collect();
        assert_eq!(ends, [[3, 4], [0, 2]]);
    }

    #[test]
    fn a_terminal_that_holds_several_wires_gets_as_many_and_no_more() {
        let spots = [2, 0, 3, 255].map(|holds| PhotoTerminal { at: [0.0; 2], holds });
        assert_eq!(slots(&spots), [0, 1, 2, 3, 0, 2, 3, 2, 3, 3]);
        let candidate = |ends: [usize; 2], confidence: f64| Candidate { ends, rough: vec![], pins: vec![], confidence };
        let views = [
            vec![candidate([0, 1], 0.9), candidate([0, 2], 0.8), candidate([0, 3], 0.7), candidate([2, 3], 0.3)],
            vec![candidate([0, 1], 0.9), candidate([0, 2], 0.8), candidate([0, 3], 0.7), candidate([1, 2], 0.6)],
        ];
        let ends: Vec<_> = agreed(&views, &spots).iter().map(|one| one.ends).collect();
        assert_eq!(ends, [[0, 1], [0, 2]]);
        // What one view alone chooses gets no terminal that has a wire.
        let alone = [vec![candidate([2, 3], 0.9), candidate([0, 3], 0.8), candidate([0, 1], 0.7)], vec![]];
        let ends: Vec<_> = agreed(&alone, &spots).iter().map(|one| one.ends).collect();
        assert_eq!(ends, [[2, 3], [0, 1]]);
    }

    /// Slots 0 and 2 are one terminal.
    #[test]
    fn an_end_is_as_clear_at_a_terminal_that_holds_two_as_at_one_that_holds_one() {
        let landings = [(0, 1.0), (2, 1.0), (1, 3.0)].map(|(terminal, cost)| Landing { terminal, cost });
        let (two, one) = ([0_usize, 1, 0], [0_usize, 1, 2]);
        assert_eq!([0, 1, 2].map(|slot: usize| clear(&landings, slot, &two)), [2.0, -2.0, 2.0]);
        assert_eq!([0, 1, 2].map(|slot: usize| clear(&landings, slot, &one)), [0.0, -2.0, 0.0]);
    }

    /// A blue wire on grey, 8 pixels wide, by how far a place is off its middle.
    fn drawn(off: impl Fn(f64, f64) -> f64) -> Ground {
        let mut picture = image::RgbaImage::from_pixel(300, 200, image::Rgba([176, 180, 184, 255]));
        for (x, y, pixel) in picture.enumerate_pixels_mut() {
            let off = off(f64::from(x), f64::from(y));
            if off.abs() < 4.0 {
                #[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a byte times at most 1")]
                let lit = |value: f64| (value * (1.0 - 0.3 * (off / 4.0).powi(2))) as u8;
                *pixel = image::Rgba([lit(40.0), lit(80.0), lit(190.0), 255]);
            }
        }
        Ground::of(std::sync::Arc::new(super::super::PhotoPixels::of(&picture, |_| ())))
    }

    /// A ring that is open at the terminal.
    #[test]
    fn no_wire_runs_from_a_terminal_that_holds_two_back_to_it() {
        let ring = drawn(|x, y| if x > 102.0 { (x - 150.0).hypot(y - 100.0) - 60.0 } else { f64::INFINITY });
        let terminals = [([90.0, 100.0], 2), ([20.0, 20.0], 1)].map(|(at, holds)| PhotoTerminal { at, holds });
        assert_eq!(in_view(&ring, &VIEWS[0], &terminals, &|_| true), Some(vec![]));
    }

    /// Two wires side by side: a view counts once for each two terminals.
    #[test]
    fn between_two_terminals_that_hold_two_a_view_chooses_one_wire() {
        let off = |y: f64| if (y - 60.0).abs() < (y - 80.0).abs() { y - 60.0 } else { y - 80.0 };
        let ground = drawn(|x, y| if (40.0..260.0).contains(&x) { off(y) } else { f64::INFINITY });
        let terminals = [[30.0, 70.0], [270.0, 70.0]].map(|at| PhotoTerminal { at, holds: 2 });
        let found = in_view(&ground, &VIEWS[0], &terminals, &|_| true).unwrap();
        assert_eq!(found.iter().map(|one| one.ends).collect::<Vec<_>>(), [[0, 1]]);
    }

    /// A drawn wire whose first terminal comes second in the list, in every view by itself; the picture is not square.
    #[test]
    fn each_view_finds_a_drawn_wire_where_it_is() {
        let line = |x: f64, y: f64| (y - 60.0 - 0.3 * x) / 1.09_f64.sqrt();
        let ground = drawn(|x, y| if (30.0..270.0).contains(&x) { line(x, y) } else { f64::INFINITY });
        let terminals = [[270.0, 141.0], [30.0, 69.0]].map(|at| PhotoTerminal { at, holds: 1 });
        for (number, view) in VIEWS.iter().enumerate() {
            let found = in_view(&ground, view, &terminals, &|_| true).unwrap();
            assert_eq!(found.iter().map(|one| one.ends).collect::<Vec<_>>(), [[0, 1]], "view {number}");
            let rough = &found[0].rough;
            let off = rough.iter().map(|at| (at[1] - 60.0 - 0.3 * at[0]).abs()).fold(0.0, f64::max);
            assert!(off < 8.0, "view {number}: {off} px off");
            let near = |at: PhotoPoint, to: PhotoPoint| (at[0] - to[0]).hypot(at[1] - to[1]) < 20.0;
            assert!(near(rough[0], terminals[0].at) && near(rough[rough.len() - 1], terminals[1].at), "view {number}");
        }
    }
}
