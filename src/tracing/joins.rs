//! Which piece of wire goes on in which, over what crosses it, and the likeliest ways along them.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "costs are small, cells of a picture few; casts from floats saturate"
)]

use std::cmp::Ordering;
use std::collections::BinaryHeap;

use rayon::prelude::*;

use super::lab::Lab;
use super::look::Few;
use super::scene::Scene;
use super::tubes::{Tube, apart};

/// Pieces nearer than this, in widths, follow on each other; further apart something hides the wire between them.
const NEAR: f64 = 2.2;
/// As far, in widths, may a wire be hidden.
const FAR: f64 = 9.0;
/// So many ways on are kept from each piece: near ones, and over something.
const MOST_NEAR: usize = 10;
const MOST_FAR: usize = 8;
/// Sharpest turn from a piece to the line to the next, in radians.
const SHARPEST: f64 = 1.0;
/// What cannot be told of a direction, in radians.
const ROUGH: f64 = 0.08;
/// What bending costs: times the square of the turn by the length it takes, in widths.
const BEND: f64 = 3.0;
/// What a width of wire costs that is seen, that something hides, and where what lies beside it is seen instead.
const SEEN: f64 = 0.03;
const HIDDEN: f64 = 0.3;
const BARE: f64 = 0.9;
/// What being hidden costs at all.
const GAP: f64 = 0.5;
/// What each width costs that is left of a wire where the way leaves it, and comes before where it enters one, up to so many.
const LEAVE: f32 = 0.6;
const MOST_LEFT: f32 = 6.0;
/// A piece surely follows where going on to it costs no more.
const SURELY: f32 = 0.7;
/// What a width costs on a piece that nothing follows on, and how long, in widths, wires are seen for at least.
const STRAY: f64 = 0.6;
const LONG: f32 = 8.0;
/// Differences in colour up to this say nothing; each so much more counts once, squared.
const ALIKE: f64 = 5.0;
const COLOUR: f64 = 8.0;

/// A piece with the way along it: twice its number, and one more against its turn.
pub(super) type Heading = usize;

#[derive(Debug, Clone, Copy)]
pub(super) struct Join {
    pub(super) to: Heading,
    /// Without what the wire's own colour says.
    pub(super) cost: f32,
    /// In widths.
    pub(super) length: f32,
}

/// All pieces and how they may go on.
pub(super) struct Net {
    pub(super) tubes: Vec<Tube>,
    grid: Grid,
    pub(super) joins: Vec<Vec<Join>>,
    /// The one that surely follows, where there is one.
    pub(super) next: Vec<Option<Heading>>,
    /// The wire that each piece is surely part of.
    run: Vec<Run>,
}

/// A wire as far as it is surely seen, at one of its pieces.
#[derive(Debug, Clone, Copy, Default)]
struct Run {
    number: usize,
    forward: Heading,
    /// How far from its beginning, and how long it is, in widths.
    at: f32,
    whole: f32,
}

/// Ways from one piece to all others.
pub(super) struct Ways {
    cost: Vec<f32>,
    from: Vec<u32>,
}

pub(super) fn back(heading: Heading) -> Heading {
    heading ^ 1
}

/// What a difference in colour costs, for a width of wire.
pub(super) fn colour_cost(apart: f64) -> f64 {
    ((apart - ALIKE).max(0.0) / COLOUR).powi(2).min(4.0)
}

impl Net {
    pub(super) fn of(scene: &Scene, tubes: Vec<Tube>) -> Self {
        let few: Vec<Few> = tubes.iter().map(|tube| Few::of(&[tube.lab])).collect();
        let grid = Grid::of(scene, &tubes);
        let joins: Vec<Vec<Join>> =
            (0..2 * tubes.len()).into_par_iter().map(|heading| joins(scene, &tubes, &few, &grid, heading)).collect();
        let nearest = |heading: Heading| {
            let near = joins[heading].iter().filter(|join| f64::from(join.length) <= NEAR && join.cost < SURELY);
            near.min_by(|a, b| a.cost.total_cmp(&b.cost)).map(|join| join.to)
        };
        let best: Vec<Option<Heading>> = (0..joins.len()).map(nearest).collect();
        let next =
            (0..joins.len()).map(|heading| best[heading].filter(|&to| best[back(to)] == Some(back(heading)))).collect();
        let mut net = Self { tubes, grid, joins, next, run: Vec::new() };
        net.run = vec![Run::default(); net.tubes.len()];
        for (number, run) in net.runs().iter().enumerate() {
            let whole = net.length(run) as f32;
            let mut at = 0.0;
            for (place, heading) in run.iter().enumerate() {
                if place > 0 {
                    at += net.length(&run[place - 1..=place]) as f32;
                }
                net.run[heading / 2] = Run { number, forward: *heading, at, whole };
            }
        }
        for heading in 0..net.joins.len() {
            for place in 0..net.joins[heading].len() {
                let to = net.joins[heading][place].to;
                net.joins[heading][place].cost += net.leaving(heading, to);
            }
        }
        net
    }

    /// How far, in widths, the wire is surely seen beyond a piece.
    pub(super) fn ahead(&self, heading: Heading) -> f32 {
        let run = &self.run[heading / 2];
        if run.forward == heading { run.whole - run.at } else { run.at }
    }

    /// What it costs to go from one wire that goes on to another that came from somewhere.
    fn leaving(&self, heading: Heading, to: Heading) -> f32 {
        let (here, there) = (&self.run[heading / 2], &self.run[to / 2]);
        let forward = here.forward == heading;
        if here.number == there.number && forward == (there.forward == to) && forward == (there.at > here.at) {
            return 0.0;
        }
        let left = |length: f32| LEAVE * (length - 1.0).clamp(0.0, MOST_LEFT);
        left(self.ahead(heading)) + left(self.ahead(back(to)))
    }

    pub(super) fn tube(&self, heading: Heading) -> &Tube {
        &self.tubes[heading / 2]
    }

    pub(super) fn along(&self, heading: Heading) -> [f64; 2] {
        along(&self.tubes, heading)
    }

    /// Narrower pieces of whatever colour beyond a sleeve of which this is a piece, within so many widths and turns, and how far they turn.
    pub(super) fn out_of(&self, sleeve: Heading, reach: f64, most: f64) -> Vec<(Heading, f64)> {
        let (here, ahead) = (self.tube(sleeve), self.along(sleeve));
        let mut found = Vec::new();
        for number in self.grid.near(here.at, reach * here.width) {
            let there = &self.tubes[number];
            let chord = [there.at[0] - here.at[0], there.at[1] - here.at[1]];
            let length = chord[0].hypot(chord[1]);
            let first = turn(ahead, chord);
            if number == sleeve / 2
                || length > reach * here.width
                || length < 0.7 * here.width
                || there.width > here.width / 1.2
            {
                continue;
            }
            let to = 2 * number + usize::from(chord[0] * there.along[0] + chord[1] * there.along[1] < 0.0);
            let second = turn(chord, self.along(to));
            let other = f64::from(apart(here.lab, there.lab)) > 12.0 || there.width < here.width / 1.35;
            if other && first.abs() < 0.6 * most && second.abs() < most {
                found.push((to, first.abs() + second.abs()));
            }
        }
        found
    }

    /// The pieces that surely follow, this one first.
    pub(super) fn chain(&self, heading: Heading, most: usize) -> Vec<Heading> {
        let mut chain = vec![heading];
        let mut at = heading;
        while let Some(next) = self.next[at]
            && chain.len() < most
            && next / 2 != heading / 2
        {
            chain.push(next);
            at = next;
        }
        chain
    }

    /// The colours of some pieces of one wire: a few, for it may have a tracer.
    pub(super) fn colours(&self, of: &[Heading]) -> Vec<Lab> {
        let mut colours: Vec<Lab> = Vec::new();
        for &at in of {
            let lab = self.tube(at).lab;
            if colours.len() < 4 && colours.iter().all(|known| apart(*known, lab) > 6.0) {
                colours.push(lab);
            }
        }
        colours
    }

    /// Every wire as far as it is surely seen, from end to end.
    pub(super) fn runs(&self) -> Vec<Vec<Heading>> {
        let mut taken = vec![false; self.tubes.len()];
        let mut runs = Vec::new();
        for tube in 0..self.tubes.len() {
            if taken[tube] {
                continue;
            }
            let behind = self.chain(2 * tube + 1, usize::MAX);
            let first = back(*behind.last().unwrap_or(&(2 * tube + 1)));
            let run = self.chain(first, usize::MAX);
            for at in &run {
                taken[at / 2] = true;
            }
            runs.push(run);
        }
        runs
    }

    /// How long a run is, in widths.
    pub(super) fn length(&self, run: &[Heading]) -> f64 {
        let step = |pair: &[Heading]| {
            let (a, b) = (self.tube(pair[0]), self.tube(pair[1]));
            (a.at[0] - b.at[0]).hypot(a.at[1] - b.at[1]) / f64::midpoint(a.width, b.width)
        };
        run.windows(2).map(step).sum()
    }

    /// The cheapest ways from a piece onward for a wire of these colours, up to a cost.
    ///
    /// `known` are the last pieces of the wire before the start: the way may leave from any of them, at what the rest of it costs.
    pub(super) fn ways(&self, known: &[Heading], start: Heading, colours: &[Lab], most: f32) -> Ways {
        let few = Few::of(colours);
        let mut ways = Ways { cost: vec![f32::INFINITY; self.joins.len()], from: vec![u32::MAX; self.joins.len()] };
        let mut own: Vec<f32> = vec![-1.0; self.tubes.len()];
        let mut heap = BinaryHeap::new();
        ways.cost[start] = 0.0;
        heap.push(Open(0.0, start));
        for (steps, &at) in known.iter().enumerate() {
            let cost = 0.3 * steps as f32;
            ways.cost[at] = cost;
            heap.push(Open(cost, at));
        }
        while let Some(Open(cost, at)) = heap.pop() {
            if cost > ways.cost[at] {
                continue;
            }
            for join in &self.joins[at] {
                let tube = join.to / 2;
                if own[tube] < 0.0 {
                    let stray = f64::from(1.0 - (self.run[tube].whole / LONG).min(1.0));
                    own[tube] = (0.25 * colour_cost(f64::from(few.distance(self.tubes[tube].lab)))
                        + STRAY * stray * stray) as f32;
                }
                let there = cost + join.cost + own[tube] * join.length;
                if there < ways.cost[join.to] && there < most {
                    ways.cost[join.to] = there;
                    ways.from[join.to] = at as u32;
                    heap.push(Open(there, join.to));
                }
            }
        }
        ways
    }
}

impl Ways {
    pub(super) fn cost(&self, to: Heading) -> f64 {
        f64::from(self.cost[to])
    }

    /// The pieces to one, from the start on.
    pub(super) fn way(&self, to: Heading) -> Vec<Heading> {
        let mut way = vec![to];
        let mut at = to;
        while let Some(&from) = self.from.get(at).filter(|from| **from != u32::MAX) {
            at = from as usize;
            way.push(at);
        }
        way.reverse();
        way
    }
}

struct Open(f32, Heading);

impl PartialEq for Open {
    fn eq(&self, other: &Self) -> bool {
        self.cmp(other) == Ordering::Equal
    }
}
impl Eq for Open {}
impl PartialOrd for Open {
    fn partial_cmp(&self, other: &Self) -> Option<Ordering> {
        Some(self.cmp(other))
    }
}
impl Ord for Open {
    fn cmp(&self, other: &Self) -> Ordering {
        other.0.total_cmp(&self.0).then(other.1.cmp(&self.1))
    }
}

fn along(tubes: &[Tube], heading: Heading) -> [f64; 2] {
    let along = tubes[heading / 2].along;
    if heading.is_multiple_of(2) { along } else { along.map(|value| -value) }
}

/// Pieces by where they are.
pub(super) struct Grid {
    cells: Vec<Vec<u32>>,
    size: [usize; 2],
}

const CELL: f64 = 24.0;

impl Grid {
    fn of(scene: &Scene, tubes: &[Tube]) -> Self {
        let size = [scene.width, scene.height].map(|edge| edge / CELL as usize + 1);
        let mut cells = vec![Vec::new(); size[0] * size[1]];
        for (number, tube) in tubes.iter().enumerate() {
            let [x, y] = [0, 1].map(|axis| ((tube.at[axis].max(0.0) / CELL) as usize).min(size[axis] - 1));
            cells[y * size[0] + x].push(number as u32);
        }
        Self { cells, size }
    }

    fn near(&self, at: [f64; 2], reach: f64) -> impl Iterator<Item = usize> + '_ {
        let range = |axis: usize| {
            let low = ((at[axis] - reach).max(0.0) / CELL) as usize;
            let high = (((at[axis] + reach).max(0.0) / CELL) as usize).min(self.size[axis] - 1);
            low..=high
        };
        let (xs, ys) = (range(0), range(1));
        ys.flat_map(move |y| xs.clone().map(move |x| y * self.size[0] + x))
            .flat_map(|cell| self.cells.get(cell).into_iter().flatten())
            .map(|&number| number as usize)
    }
}

/// The angle from one direction to another, from minus to plus half a turn.
pub(super) fn turn(from: [f64; 2], to: [f64; 2]) -> f64 {
    (from[0] * to[1] - from[1] * to[0]).atan2(from[0] * to[0] + from[1] * to[1])
}

fn joins(scene: &Scene, tubes: &[Tube], few: &[Few], grid: &Grid, heading: Heading) -> Vec<Join> {
    let here = &tubes[heading / 2];
    let ahead = along(tubes, heading);
    let (mut near, mut far) = (Vec::new(), Vec::new());
    for number in grid.near(here.at, FAR * here.width) {
        if number == heading / 2 {
            continue;
        }
        let there = &tubes[number];
        let chord = [there.at[0] - here.at[0], there.at[1] - here.at[1]];
        let width = (here.width * there.width).sqrt();
        let length = chord[0].hypot(chord[1]) / width;
        let forward = (chord[0] * ahead[0] + chord[1] * ahead[1]) / width;
        if forward < 0.25 || !(0.3..=FAR).contains(&length) {
            continue;
        }
        let first = turn(ahead, chord);
        if first.abs() > SHARPEST {
            continue;
        }
        let same = usize::from(chord[0] * there.along[0] + chord[1] * there.along[1] < 0.0);
        let to = 2 * number + same;
        let second = turn(chord, along(tubes, to));
        if second.abs() > SHARPEST {
            continue;
        }
        let wider = (here.width / there.width).ln().abs();
        if wider > 0.75 {
            continue;
        }
        let bend = bend(first, second, length);
        let colour = f64::from(few[heading / 2].distance(there.lab).min(few[number].distance(here.lab)));
        let thin = f64::from(1.0 - (there.score / 12.0).min(1.0));
        let mut cost = bend + 0.5 * colour_cost(colour).min(2.0) + 0.8 * (wider - 0.2).max(0.0);
        let is_near = length <= NEAR;
        if is_near {
            cost += (SEEN + 0.06 * thin) * length;
        } else {
            if cost > 6.0 {
                continue;
            }
            cost += GAP + between(scene, here, there, &few[heading / 2], &few[number], length) + 0.1 * thin;
        }
        let join = Join { to, cost: cost as f32, length: length as f32 };
        if is_near { near.push(join) } else { far.push(join) }
    }
    near.sort_by(|a: &Join, b: &Join| (a.cost / a.length.max(0.8)).total_cmp(&(b.cost / b.length.max(0.8))));
    far.sort_by(|a: &Join, b: &Join| a.cost.total_cmp(&b.cost));
    near.truncate(MOST_NEAR);
    far.truncate(MOST_FAR);
    near.extend(far);
    near
}

/// What bending costs: that of the smoothest curve with these turns at both ends of its chord, short turns being uncertain.
fn bend(first: f64, second: f64, length: f64) -> f64 {
    let sure = |turn: f64| turn.signum() * (turn.abs() - ROUGH).max(0.0);
    let (first, second) = (sure(first), sure(second));
    BEND * 4.0 / length.max(1.0) * (first * first + second * second - first * second)
}

/// What it costs that the wire is not seen from one piece to another: nothing where its colour is seen, little where something else hides
/// it, much where what lies beside it is seen.
fn between(scene: &Scene, here: &Tube, there: &Tube, few: &Few, other: &Few, length: f64) -> f64 {
    let steps = ((length - 1.6) / 0.6).ceil().max(1.0) as usize;
    let mut cost = 0.0;
    for step in 0..steps {
        let share = (0.8 + (length - 1.6) * (step as f64 + 0.5) / steps as f64) / length;
        let at = [0, 1].map(|axis| here.at[axis] + share * (there.at[axis] - here.at[axis]));
        let lab = scene.at(at);
        let like = few.distance(lab).min(other.distance(lab));
        let side = here.sides.iter().chain(&there.sides).map(|side| apart(*side, lab)).fold(f32::INFINITY, f32::min);
        cost += if like < 8.0 && like < side {
            SEEN * 2.0
        } else if side < 5.0 {
            BARE
        } else {
            HIDDEN
        };
    }
    cost * (length - 1.6) / steps as f64
}
