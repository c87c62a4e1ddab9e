//! All wires between given terminals, proposed with how sure that is. Nothing is added to a record here.

use super::centre::centred;
use super::cost::{Costs, HIDDEN_COST, SEEN_COST, costs};
use super::follow::{KERNEL, Path};
use super::ground::{Ground, PhotoPoint, pixel};
use super::lab::Lab;
use super::look::{Few, Look};
use super::starts::{Start, starts};
use super::tree::{STRAIGHT, Tree};

/// Colours of two ends further apart than this are no one wire's.
const SAME: f32 = 18.0;
/// The most of a wire that may be hidden for it to be proposed, and to be sure.
const MOST_HIDDEN: f64 = 0.45;
const SURE_HIDDEN: f64 = 0.16;
/// A sure wire is so many times better than the next that either end could have.
const SURE_LEAD: f64 = 2.5;
/// Ways that would cost more than this many widths of hidden wire are not looked at.
const MOST_WIDTHS: f64 = 60.0;
/// Added to what is hidden and to the length, in widths: what little is known of a short wire.
const LITTLE: f64 = 6.0;

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

/// One place where a wire begins, and the ways from there.
struct Begun {
    terminal: usize,
    start: Start,
    look: Look,
    costs: Costs,
    tree: Tree,
}

/// A way from one beginning to another.
struct Way {
    from: usize,
    to: usize,
    /// The share of the wire that is hidden, or bridged at that price.
    hidden: f64,
}

/// Proposes every wire that is seen between the terminals, the likeliest first. Takes seconds: not for a frame.
/// `progress` is told the share that is done; when it answers `false`, what was found so far is returned.
pub fn between(ground: &Ground, terminals: &[PhotoPoint], progress: &(dyn Fn(f64) -> bool + Sync)) -> Vec<Proposed> {
    let level = ground.coarse();
    let places: Vec<[f64; 2]> = terminals.iter().map(|&at| ground.on_level(level, at)).collect();
    let begun = begun(ground, &places, progress);
    let ways = ways(&begun);
    // For every beginning its ways, the best first.
    let of = |number: usize| ways.iter().filter(move |way| way.from == number || way.to == number);
    let mut proposals: Vec<Proposed> = Vec::new();
    let mut taken = vec![false; begun.len()];
    for way in &ways {
        if taken[way.from] || taken[way.to] || way.hidden > MOST_HIDDEN {
            continue;
        }
        let ends = [begun[way.from].terminal, begun[way.to].terminal];
        let rival = [way.from, way.to]
            .iter()
            .flat_map(|&end| of(end))
            .filter(|other| {
                let others = [begun[other.from].terminal, begun[other.to].terminal];
                others.iter().any(|end| !ends.contains(end))
            })
            .map(|other| other.hidden)
            .fold(1.0, f64::min);
        let lead = (rival + 0.02) / (way.hidden + 0.02);
        let (from, to) = (&begun[way.from], &begun[way.to]);
        let rough: Vec<PhotoPoint> = on_photo(ground, &from.tree.way(whole(to.start.at)));
        if proposals.iter().any(|other| along(&rough, &other.path, from.start.wire * ground.scale(level)[0]) > 0.5) {
            continue;
        }
        taken[way.from] = true;
        taken[way.to] = true;
        let width_px = f64::midpoint(from.start.wire, to.start.wire) * ground.scale(level)[0];
        let points = centred(ground, &from.look, width_px, &rough);
        let confidence = (1.0 - way.hidden / MOST_HIDDEN).max(0.0) * (1.0 - 1.0 / lead.max(1.0));
        let sure = way.hidden < SURE_HIDDEN && lead > SURE_LEAD && !crosses_its_like(from, &rough, ground);
        let mut proposed = Proposed { ends, path: Path { points }, width_px, confidence, sure };
        if ends[0] > ends[1] {
            proposed.ends.reverse();
            proposed.path.points.reverse();
        }
        proposals.push(proposed);
    }
    proposals.sort_by(|a, b| b.sure.cmp(&a.sure).then(b.confidence.total_cmp(&a.confidence)).then(a.ends.cmp(&b.ends)));
    proposals
}

fn whole(at: [f64; 2]) -> [usize; 2] {
    at.map(|v| pixel(v.max(0.0)))
}

fn on_photo(ground: &Ground, way: &[[usize; 2]]) -> Vec<PhotoPoint> {
    let scale = ground.scale(ground.coarse());
    way.iter().map(|at| [0, 1].map(|axis| (at[axis] as f64 + 0.5) * scale[axis])).collect()
}

/// The beginnings at all terminals with the ways from each; on as many threads as there are.
fn begun(ground: &Ground, places: &[[f64; 2]], progress: &(dyn Fn(f64) -> bool + Sync)) -> Vec<Begun> {
    let window = &ground.whole;
    let starts: Vec<(usize, Start)> = places
        .iter()
        .enumerate()
        .flat_map(|(terminal, &at)| starts(window, at).into_iter().map(move |start| (terminal, start)))
        .collect();
    let threads = std::thread::available_parallelism().map_or(1, std::num::NonZero::get).min(8);
    let done = std::sync::atomic::AtomicUsize::new(0);
    let work = |(terminal, start): &(usize, Start)| {
        let before = done.fetch_add(1, std::sync::atomic::Ordering::Relaxed);
        if !progress(before as f64 / starts.len().max(1) as f64) {
            return None;
        }
        let look = Look::of(std::slice::from_ref(&start.colours), 28.0);
        let costs = costs(window, &look, KERNEL * start.wire);
        let most = MOST_WIDTHS * start.wire * f64::from(2 * STRAIGHT * u32::from(HIDDEN_COST));
        let root = whole(start.at);
        let tree = Tree::within(costs.width, costs.height, &costs.cost, root, None, most as u32);
        Some(Begun { terminal: *terminal, start: start.clone(), look, costs, tree })
    };
    std::thread::scope(|scope| {
        let handles: Vec<_> = starts
            .chunks(starts.len().div_ceil(threads).max(1))
            .map(|chunk| scope.spawn(move || chunk.iter().filter_map(work).collect::<Vec<Begun>>()))
            .collect();
        // A thread that died has found nothing.
        handles.into_iter().flat_map(|handle| handle.join().unwrap_or_default()).collect()
    })
}

/// The ways between beginnings of one colour at different terminals, the best first.
fn ways(begun: &[Begun]) -> Vec<Way> {
    let mut ways = Vec::new();
    for (from, a) in begun.iter().enumerate() {
        for (to, b) in begun.iter().enumerate().skip(from + 1) {
            if a.terminal == b.terminal || !alike(&a.start.colours, &b.start.colours) {
                continue;
            }
            let hidden = [(a, b), (b, a)].map(|(a, b)| hidden_share(a, whole(b.start.at)));
            if let [Some(one), Some(other)] = hidden {
                ways.push(Way { from, to, hidden: one.max(other) });
            }
        }
    }
    ways.sort_by(|a, b| a.hidden.total_cmp(&b.hidden).then((a.from, a.to).cmp(&(b.from, b.to))));
    ways
}

fn alike(a: &[Lab], b: &[Lab]) -> bool {
    let (few_a, few_b) = (Few::of(a), Few::of(b));
    a.first().is_some_and(|&lab| few_b.distance(lab) < SAME) && b.first().is_some_and(|&lab| few_a.distance(lab) < SAME)
}

/// The share of a way that is paid as hidden.
fn hidden_share(from: &Begun, to: [usize; 2]) -> Option<f64> {
    let cost = f64::from(from.tree.cost(to)?);
    let length: f64 = from
        .tree
        .way(to)
        .windows(2)
        .map(|pair| if pair[0][0] != pair[1][0] && pair[0][1] != pair[1][1] { std::f64::consts::SQRT_2 } else { 1.0 })
        .sum();
    let per_px = f64::from(2 * STRAIGHT);
    let hidden = (cost / per_px - f64::from(SEEN_COST) * length) / f64::from(HIDDEN_COST - SEEN_COST);
    let little = LITTLE * from.start.wire;
    Some(((hidden.max(0.0) + 0.25 * little) / (length + little)).min(1.0))
}

/// The share of a rough way that runs within a width of a path.
fn along(rough: &[PhotoPoint], path: &Path, width_px: f64) -> f64 {
    let near = |at: &&PhotoPoint| {
        path.points.iter().any(|point| (point.at[0] - at[0]).hypot(point.at[1] - at[1]) < width_px)
    };
    let some: Vec<&PhotoPoint> = rough.iter().step_by(4).collect();
    some.iter().filter(|at| near(at)).count() as f64 / some.len().max(1) as f64
}

/// Whether another wire of the colour touches or crosses the way: the tree goes on there as cheaply.
fn crosses_its_like(from: &Begun, rough: &[PhotoPoint], ground: &Ground) -> bool {
    let level = ground.coarse();
    let line: Vec<[f64; 2]> = rough.iter().map(|&at| ground.on_level(level, at)).collect();
    let wire = from.start.wire;
    let reach = pixel(2.0 * wire).max(2);
    let mut run = 0;
    for place in reach..line.len().saturating_sub(reach) {
        let (a, b) = (line[place - reach], line[place + reach]);
        let along = [b[0] - a[0], b[1] - a[1]];
        let length = along[0].hypot(along[1]).max(1.0);
        let n = [-along[1] / length, along[0] / length];
        let like = |by: f64| {
            let at = whole([line[place][0] + n[0] * by, line[place][1] + n[1] * by]);
            from.costs.cost.get(at[1] * from.costs.width + at[0]).is_some_and(|&cost| cost < HIDDEN_COST / 2)
        };
        let beside = [-2.0, -1.5, 1.5, 2.0].iter().filter(|by| like(*by * wire)).count();
        run = if beside >= 2 { run + 1 } else { 0 };
        if run as f64 > 0.5 * wire {
            return true;
        }
    }
    false
}
