//! All wires between given terminals, proposed with how sure that is. Nothing is added to a record here.

use rayon::prelude::*;

use super::centre::{PathPoint, centred};
use super::follow::Path;
use super::ground::{Ground, PhotoPoint};
use super::joins::{Heading, Net, back, colour_cost};
use super::leads::{Lead, leads};
use super::look::{Few, Look};
use super::scene::Scene;
use super::tubes::tubes;

/// A wire is looked for from where it is surely seen for so many widths.
const LEAST_RUN: f64 = 6.0;
/// Wider than this, in pixels of the scene, it is a strip, a label or an edge.
const WIDEST: f64 = 17.0;
/// What is less likely is not proposed; what is likelier is sure.
const LEAST_CONFIDENCE: f64 = 0.05;
const SURE: f64 = 0.8;
/// So much more a wire costs at another terminal, and so much it explains beyond what it costs, where nothing speaks against it.
const CLEAR_LEAD: f64 = 5.0;
const CLEAR_VALUE: f64 = 8.0;
/// A lead over the next terminal is at most this when there is no other.
const NO_OTHER: f64 = 12.0;
/// What a way to a terminal costs at most.
const MOST_COST: f32 = 30.0;

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

/// One end of a wire: where it may lead, the likeliest first.
#[derive(Debug, Clone)]
struct Landing {
    terminal: usize,
    cost: f64,
    worth: f64,
    way: Vec<Heading>,
}

impl Landing {
    /// What is left of its cost beside what it explains.
    fn net(&self) -> f64 {
        self.cost - self.worth
    }
}

/// A wire as far as it is surely seen, and where its ends may lead.
#[derive(Debug, Clone)]
struct Wire {
    run: Vec<Heading>,
    worth: f64,
    ends: [Vec<Landing>; 2],
}

fn wires(net: &Net, leads: &[Vec<Lead>], go_on: &(dyn Fn(f64) -> bool + Sync)) -> Vec<Wire> {
    let mut runs: Vec<(f64, Vec<Heading>)> = net.runs().into_iter().map(|run| (net.length(&run), run)).collect();
    runs.retain(|(length, run)| *length >= LEAST_RUN && net.tube(run[run.len() / 2]).width < WIDEST);
    runs.sort_by(|a, b| b.0.total_cmp(&a.0).then(a.1.cmp(&b.1)));
    let wire = |(_, run): (f64, Vec<Heading>)| {
        go_on(0.8).then(|| {
            let ahead = landings(net, leads, &run);
            let behind: Vec<Heading> = run.iter().rev().copied().map(back).collect();
            let ends = [landings(net, leads, &behind), ahead];
            Wire { worth: worth(net, &Few::of(&net.colours(&run)), &run), run, ends }
        })
    };
    runs.into_par_iter().filter_map(wire).collect()
}

/// Where a wire leads to beyond the end of a run.
fn landings(net: &Net, leads: &[Vec<Lead>], run: &[Heading]) -> Vec<Landing> {
    let Some(&last) = run.last() else { return Vec::new() };
    // What is nearest to this end says best what it looks like there.
    let near: Vec<Heading> = run.iter().rev().take(16).copied().collect();
    let colours = net.colours(&near);
    let few = Few::of(&colours);
    let ways = net.ways(&near[..near.len().min(4)], last, &colours, MOST_COST);
    let landing = |(terminal, leads): (usize, &Vec<Lead>)| {
        let to = leads.iter().map(|lead| (ways.cost(back(lead.heading)) + lead.cost, back(lead.heading)));
        let (cost, to) = to.min_by(|a, b| a.0.total_cmp(&b.0))?;
        cost.is_finite().then(|| {
            let way = ways.way(to);
            Landing { terminal, cost, worth: worth(net, &few, &way), way }
        })
    };
    let mut landings: Vec<Landing> = leads.iter().enumerate().filter_map(landing).collect();
    landings.sort_by(|a, b| a.net().total_cmp(&b.net()).then(a.terminal.cmp(&b.terminal)));
    landings
}

/// Proposes wires that are seen between the terminals, the surest first. An aid to begin with, no more: what it finds and how much of it
/// is wrong is told in docs/photos.md. Takes seconds: not for a frame.
/// `progress` is told the share that is done; when it answers `false`, what was found so far is returned.
pub fn between(ground: &Ground, terminals: &[PhotoPoint], progress: &(dyn Fn(f64) -> bool + Sync)) -> Vec<Proposed> {
    let scene = Scene::of(ground);
    let net = Net::of(&scene, tubes(&scene, &|share| progress(0.6 * share)));
    let places: Vec<[f64; 2]> = terminals.iter().map(|at| scene.here(*at)).collect();
    let leads: Vec<Vec<Lead>> = (0..places.len()).map(|which| leads(&scene, &net, &places, which)).collect();
    let wires = wires(&net, &leads, progress);
    let mut proposals: Vec<Proposed> = Vec::new();
    for chosen in assigned(&net, &wires).into_iter().filter(|chosen| chosen.confidence >= LEAST_CONFIDENCE) {
        let wire = &wires[chosen.wire];
        let [from, to] = [0, 1].map(|end| &wire.ends[end][chosen.landings[end]]);
        let heads = chosen.heads;
        let rough: Vec<PhotoPoint> = heads.iter().map(|at| scene.on_photo(net.tube(*at).at)).collect();
        let mut widths: Vec<f64> = wire.run.iter().map(|at| net.tube(*at).width).collect();
        widths.sort_by(f64::total_cmp);
        let width_px = widths[widths.len() / 2] * scene.scale;
        let look = Look::of(&[net.colours(&wire.run)], 26.0);
        let mut points = centred(ground, &look, width_px, &rough);
        // The ends snap to the terminals; between insulation and terminal the wire is not seen.
        points.insert(0, PathPoint { at: terminals[from.terminal], seen: false });
        points.push(PathPoint { at: terminals[to.terminal], seen: false });
        let confidence = chosen.confidence;
        let sure = confidence > SURE;
        let mut proposed =
            Proposed { ends: [from.terminal, to.terminal], path: Path { points }, width_px, confidence, sure };
        if from.terminal > to.terminal {
            proposed.ends.reverse();
            proposed.path.points.reverse();
        }
        proposals.push(proposed);
    }
    proposals.sort_by(|a, b| b.sure.cmp(&a.sure).then(b.confidence.total_cmp(&a.confidence)).then(a.ends.cmp(&b.ends)));
    proposals
}

/// A wire with the ends that explain the picture best.
struct Chosen {
    wire: usize,
    landings: [usize; 2],
    heads: Vec<Heading>,
    value: f64,
    confidence: f64,
}

/// What it is worth to explain a width of a clear wire, and from which difference to both sides on a wire is clear.
const WORTH: f64 = 0.4;
const CLEAR: f64 = 20.0;
/// So many of the likeliest ends are weighed.
const ENDS: usize = 100;

/// Ends for wires such that each terminal has one at most and each wire is one: what explains most of what is seen at least cost, first.
fn assigned(net: &Net, wires: &[Wire]) -> Vec<Chosen> {
    let mut all: Vec<Chosen> = Vec::new();
    for (number, wire) in wires.iter().enumerate() {
        for (first, from) in wire.ends[0].iter().take(ENDS).enumerate() {
            for (second, to) in wire.ends[1].iter().take(ENDS).enumerate() {
                if from.terminal == to.terminal || from.worth + to.worth + wire.worth - from.cost - to.cost < 0.0 {
                    continue;
                }
                let heads = whole(&wire.run, &from.way, &to.way);
                let value = from.worth + to.worth + wire.worth - from.cost - to.cost;
                let margin = |end: usize, place: usize| {
                    let next =
                        wire.ends[end].iter().enumerate().filter(|(other, _)| *other != place).map(|(_, l)| l.net());
                    next.fold(NO_OTHER, f64::min) - wire.ends[end][place].net()
                };
                let lead = margin(0, first).min(margin(1, second));
                let confidence = (lead / CLEAR_LEAD).clamp(0.0, 1.0) * (value / CLEAR_VALUE).clamp(0.0, 1.0);
                all.push(Chosen { wire: number, landings: [first, second], heads, value, confidence });
            }
        }
    }
    all.sort_by(|a, b| b.value.total_cmp(&a.value));
    let mut used = vec![false; net.tubes.len()];
    let mut ends: Vec<usize> = Vec::new();
    let mut chosen: Vec<Chosen> = Vec::new();
    for one in all {
        let wire = &wires[one.wire];
        let terminals = [0, 1].map(|end| wire.ends[end][one.landings[end]].terminal);
        let taken = one.heads.iter().filter(|at| used[**at / 2]).count();
        if one.value < 0.0 || terminals.iter().any(|end| ends.contains(end)) || taken * 5 > one.heads.len() {
            continue;
        }
        for at in &one.heads {
            used[at / 2] = true;
        }
        ends.extend(terminals);
        chosen.push(one);
    }
    chosen
}

/// All pieces of a wire: the way at its beginning, read backwards, the run, the way at its end. Both ways leave the run at one of its
/// last pieces.
fn whole(run: &[Heading], before: &[Heading], after: &[Heading]) -> Vec<Heading> {
    let first = before.first().and_then(|at| run.iter().position(|piece| *piece == back(*at)));
    let last = after.first().and_then(|at| run.iter().rposition(|piece| piece == at));
    let (first, last) = (first.map_or(0, |first| first + 1), last.unwrap_or(run.len()));
    let middle = run.get(first..last).unwrap_or_default();
    before.iter().rev().map(|at| back(*at)).chain(middle.iter().copied()).chain(after.iter().copied()).collect()
}

/// How much of what is clearly seen, of a wire of these colours, a way explains.
fn worth(net: &Net, few: &Few, heads: &[Heading]) -> f64 {
    let piece = |pair: &[Heading]| {
        let clear = f64::from(net.tube(pair[0]).score.min(net.tube(pair[1]).score)) / CLEAR;
        let alike = 1.0 - 2.0 * colour_cost(f64::from(few.distance(net.tube(pair[1]).lab))).min(0.5);
        WORTH * clear.min(1.0) * alike * net.length(pair).min(2.0)
    };
    heads.windows(2).map(piece).sum()
}
