//! The likeliest way of a wire from one of its ends to all others, over places and directions: straight on where wires cross, along its own
//! colour, straight through what is hidden for a short way.

use std::cmp::Reverse;
use std::collections::BinaryHeap;
use std::f32::consts::TAU;

use super::ends::End;
use super::sight::{DIRECTIONS, LETTERS, Sight};

/// Directions of travel: twice those that middles of wires are told by.
const HEADINGS: usize = 2 * DIRECTIONS;
/// Cells to a step.
const STEP: f32 = 2.0;
/// As likely as this and more costs nothing; what is told to be nothing costs so much a cell.
pub(super) const SURE: f32 = 0.2;
const UNSEEN: f32 = 0.35;
/// From this share of it on a cell is unseen, and so many steps in a row may be.
const NEARLY: f32 = 0.8;
const MOST_UNSEEN: u8 = 12;
/// Up to this share of it a wire is seen to go on, so that no way leaves it for what is hidden, where cutting across from wire to wire would
/// cost little. That holds too where the one that is seen crosses over another at a small angle.
const GOES_ON: f32 = 0.6;
/// A way turns by so many headings at most at a step, to either side.
const MOST_TURN: usize = 2;
/// What a turn costs, by how many headings.
const TURNS: [f32; MOST_TURN + 1] = [0.0, 0.3, 1.2];
/// What another colour costs: its weight against likelihood, and at most a cell.
const COLOUR: f32 = 0.3;
const MOST_COLOUR: f32 = 0.7;
/// A wire crosses another if it differs from it by so many directions or more.
const CROSSES: usize = 2;
/// A way is followed while it costs no more than this, and so much more for each cell.
const MOST: f32 = 15.0;
const MOST_RATE: f32 = 0.08;
/// What it costs, by the square of the headings between, that a way leaves an end or meets it aslant, and the most it costs: wires often
/// bend sharply at a terminal.
const ASLANT_COST: f32 = 0.1;
const MOST_ASLANT: f32 = 8.0;
/// A way comes to an end within so many cells of it, at a cost for each.
const ARRIVES: isize = 3;
const ARRIVES_COST: f32 = 0.3;
/// So near the edge, in cells, a wire goes out of the picture, if it has been followed for so many.
const EDGE: f32 = 4.0;
const FOLLOWED: f32 = 16.0;
/// A way out of the picture is the better the longer it is: so much a cell.
const LENGTH_WORTH: f32 = 0.2;

/// Where so many states were reached, the search ends: hardly anything there looks like nothing.
const MOST_REACHED: usize = 2_000_000;

const NONE: u32 = u32::MAX;

/// For each cell and direction, what a step costs there, nothing where the middle of a wire surely runs so; and how surely the colour of
/// that wire is seen there: of insulation, where no other wire crosses.
pub(super) struct Prices(Vec<[f32; 2]>);

impl Prices {
    pub(super) fn of(sight: &Sight) -> Self {
        let price = |likely: f32| (-(likely / SURE).clamp(1e-6, 1.0).ln()).min(UNSEEN);
        let crossed = |cell: usize, direction: usize| {
            let across = (CROSSES..=DIRECTIONS - CROSSES).map(|turn| (direction + turn) % DIRECTIONS);
            (across.map(|direction| sight.line(cell, direction)).fold(0.0, f32::max) / SURE).min(1.0)
        };
        let of_cell = |cell: usize| {
            let seen = move |direction| (1.0 - crossed(cell, direction)) * sight.insulation(cell);
            (0..DIRECTIONS).map(move |direction| [price(sight.line(cell, direction)), seen(direction)])
        };
        Self((0..sight.width * sight.height).flat_map(of_cell).collect())
    }
}

/// A way and what it costs.
#[derive(Debug, Clone)]
pub(super) struct Way {
    pub(super) cost: f32,
    /// Places in cells, a step apart.
    pub(super) places: Vec<[f32; 2]>,
}

/// A state that was reached: a cell and a heading, by its cheapest way.
#[derive(Debug, Clone, Copy)]
struct Reached {
    state: u32,
    from: u32,
    at: [f32; 2],
    cost: f32,
    length: f32,
    unseen: u8,
}

/// Ways from one end. Made seldom and used again: it holds a number for each state, 68 MB for the largest scene.
pub(super) struct Ways<'a> {
    sight: &'a Sight,
    prices: &'a Prices,
    /// Where in `reached` a state is.
    places: Vec<u32>,
    reached: Vec<Reached>,
}

impl<'a> Ways<'a> {
    pub(super) fn new(sight: &'a Sight, prices: &'a Prices) -> Self {
        let states = sight.width * sight.height * HEADINGS;
        Self { sight, prices, places: vec![NONE; states], reached: Vec::new() }
    }

    /// Finds nearly the cheapest ways from an end, by Dijkstra's method; nearly, since how long nothing was seen is not part of a state. Each
    /// state keeps the exact place it was reached at, so that a way of any direction is straight.
    pub(super) fn follow(&mut self, end: &End) {
        for reached in self.reached.drain(..) {
            self.places[reached.state as usize] = NONE;
        }
        let Some(cell) = self.sight.cell(end.at) else { return };
        let like: f32 = end.letters.iter().map(|share| share * share).sum();
        let mut queue = BinaryHeap::new();
        let points = end.along.map(heading);
        for to in 0..HEADINGS {
            let cost = points.map_or(0.0, |points| aslant(points, to));
            self.reach(
                cell * HEADINGS + to,
                Reached { state: 0, from: NONE, at: end.at, cost, length: 0.0, unseen: 0 },
                &mut queue,
            );
        }
        while let Some(Reverse((cost, place))) = queue.pop() {
            let here = self.reached[place as usize];
            if self.reached.len() > MOST_REACHED {
                break;
            }
            if cost > thousandths(here.cost) || here.cost > MOST + MOST_RATE * here.length {
                continue;
            }
            let heading = here.state as usize % HEADINGS;
            let next = |number: usize| {
                let to = turned(heading, number);
                let way = direction(to);
                let at = [here.at[0] + STEP * way[0], here.at[1] + STEP * way[1]];
                let cell = self.sight.cell(at)?;
                Some((to, at, cell, self.prices.0[cell * DIRECTIONS + to % DIRECTIONS]))
            };
            let steps: [_; 2 * MOST_TURN + 1] = std::array::from_fn(next);
            // All but the sharpest turns.
            let ahead = &steps[1..2 * MOST_TURN];
            let goes_on =
                here.unseen == 0 && ahead.iter().flatten().any(|(_, _, _, [price, _])| *price <= GOES_ON * UNSEEN);
            for (number, step) in steps.into_iter().enumerate() {
                let Some((to, at, cell, [price, seen])) = step else { continue };
                let unseen = if price > NEARLY * UNSEEN { here.unseen + 1 } else { 0 };
                if unseen > 0 && goes_on {
                    continue;
                }
                // What is hidden is taken to run straight, but for a small turn where it begins.
                let turn = number.abs_diff(MOST_TURN);
                if unseen > MOST_UNSEEN || turn > MOST_TURN.saturating_sub(usize::from(unseen)) {
                    continue;
                }
                let cost = here.cost + STEP * (price + seen * self.colour(cell, &end.letters, like)) + TURNS[turn];
                let reached = Reached { state: 0, from: place, at, cost, length: here.length + STEP, unseen };
                self.reach(cell * HEADINGS + to, reached, &mut queue);
            }
        }
    }

    #[allow(clippy::cast_possible_truncation, reason = "a scene has less than a million cells, times 24")]
    fn reach(&mut self, state: usize, reached: Reached, queue: &mut BinaryHeap<Reverse<(u32, u32)>>) {
        let place = self.places[state];
        let reached = Reached { state: state as u32, ..reached };
        let place = if place == NONE {
            self.places[state] = self.reached.len() as u32;
            self.reached.push(reached);
            self.places[state]
        } else if thousandths(reached.cost) < thousandths(self.reached[place as usize].cost) {
            self.reached[place as usize] = reached;
            place
        } else {
            return;
        };
        queue.push(Reverse((thousandths(reached.cost), place)));
    }

    /// What it costs that a cell shows another colour.
    fn colour(&self, cell: usize, letters: &[f32; LETTERS], like: f32) -> f32 {
        let of_cell = self.sight.letters(cell);
        let alike: f32 = (0..LETTERS).map(|letter| letters[letter] * of_cell[letter]).sum();
        (-COLOUR * (alike / like + 0.03).min(1.0).ln()).min(MOST_COLOUR)
    }

    /// The cheapest way to another end.
    pub(super) fn to(&self, end: &End) -> Option<Way> {
        let mut best: Option<(f32, u32)> = None;
        let back = end.along.map(|along| heading(along.map(|value| -value)));
        for (dx, dy) in (-ARRIVES..=ARRIVES).flat_map(|dy| (-ARRIVES..=ARRIVES).map(move |dx| (dx as f32, dy as f32))) {
            let far = dx.hypot(dy);
            let Some(cell) = self.sight.cell([end.at[0] + dx, end.at[1] + dy]).filter(|_| far <= ARRIVES as f32) else {
                continue;
            };
            for heading in 0..HEADINGS {
                let place = self.places[cell * HEADINGS + heading];
                if place == NONE {
                    continue;
                }
                let cost = self.reached[place as usize].cost
                    + ARRIVES_COST * far
                    + back.map_or(0.0, |back| aslant(back, heading));
                if best.is_none_or(|best| cost < best.0) {
                    best = Some((cost, place));
                }
            }
        }
        best.map(|(cost, place)| Way { cost, places: self.places_of(place) })
    }

    /// The best way out of the picture: to where it comes near an edge. Its cost is without what its length is worth.
    pub(super) fn out(&self) -> Option<Way> {
        let far = [self.sight.width as f32 - EDGE, self.sight.height as f32 - EDGE];
        let at_edge = |at: [f32; 2]| (0..2).any(|axis| at[axis] < EDGE || at[axis] > far[axis]);
        let net = |reached: &Reached| reached.cost - LENGTH_WORTH * reached.length;
        let ways = self.reached.iter().filter(|reached| reached.length > FOLLOWED && at_edge(reached.at));
        let best = ways.min_by(|a, b| net(a).total_cmp(&net(b)))?;
        Some(Way { cost: best.cost, places: self.places_of(self.places[best.state as usize]) })
    }

    fn places_of(&self, mut place: u32) -> Vec<[f32; 2]> {
        let mut places = Vec::new();
        while place != NONE {
            let reached = self.reached[place as usize];
            places.push(reached.at);
            place = reached.from;
        }
        places.reverse();
        places
    }
}

/// Costs and lengths by whole thousandths.
#[allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    reason = "costs are neither negative nor above some hundreds"
)]
pub(super) fn thousandths(cost: f32) -> u32 {
    (cost * 1000.0) as u32
}

/// The heading nearest to a direction.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and the number of headings")]
fn heading(way: [f32; 2]) -> usize {
    (way[1].atan2(way[0]).rem_euclid(TAU) / TAU * HEADINGS as f32).round() as usize % HEADINGS
}

/// What it costs that two headings differ at an end.
fn aslant(a: usize, b: usize) -> f32 {
    let off = a.abs_diff(b).min(HEADINGS - a.abs_diff(b)) as f32;
    (ASLANT_COST * off * off).min(MOST_ASLANT)
}

/// The heading of the next step of this number: `MOST_TURN` goes straight on, 0 turns most to one side, twice as much to the other.
fn turned(heading: usize, number: usize) -> usize {
    (heading + HEADINGS + number - MOST_TURN) % HEADINGS
}

fn direction(heading: usize) -> [f32; 2] {
    let (y, x) = (heading as f32 * TAU / HEADINGS as f32).sin_cos();
    [x, y]
}

#[cfg(test)]
mod tests {
    use super::*;

    const BU: usize = 6;
    const RD: usize = 2;

    fn end(at: [f32; 2], to: [f32; 2], letter: usize) -> End {
        let way = [to[0] - at[0], to[1] - at[1]];
        let length = way[0].hypot(way[1]);
        let mut letters = [0.0; LETTERS];
        letters[letter] = 1.0;
        End { at, along: Some(way.map(|value| value / length)), terminal: at, likely: 1.0, letters }
    }

    fn costs(sight: &Sight, from: &End, to: &[End]) -> Vec<f32> {
        let prices = Prices::of(sight);
        let mut ways = Ways::new(sight, &prices);
        ways.follow(from);
        to.iter().map(|to| ways.to(to).map_or(f32::INFINITY, |way| way.cost)).collect()
    }

    /// Two wires of one colour: common practice, no source, is that a wire goes straight on.
    #[test]
    fn where_wires_of_one_colour_cross_each_goes_straight_on() {
        let mut sight = Sight::blank(120, 80);
        let places = [[10.0, 10.0], [110.0, 70.0], [10.0, 70.0], [110.0, 10.0]];
        sight.draw(places[0], places[1], BU);
        sight.draw(places[2], places[3], BU);
        let ends = [(0, 1), (1, 0), (2, 3), (3, 2)].map(|(at, to)| end(places[at], places[to], BU));
        let cost = costs(&sight, &ends[0], &ends[1..]);
        assert!(cost[0] < 1.0 && cost[0] + 1.0 < cost[1].min(cost[2]), "{cost:?}");
    }

    #[test]
    fn a_hidden_stretch_is_crossed_and_another_colour_is_not_followed() {
        let mut sight = Sight::blank(140, 60);
        sight.draw([10.0, 20.0], [60.0, 20.0], BU);
        sight.draw([76.0, 20.0], [130.0, 20.0], BU);
        sight.draw([60.0, 24.0], [130.0, 44.0], RD);
        let from = end([10.0, 20.0], [130.0, 20.0], BU);
        let to = [end([130.0, 20.0], [10.0, 20.0], BU), end([130.0, 44.0], [60.0, 24.0], RD)];
        let cost = costs(&sight, &from, &to);
        assert!(cost[0] < 30.0 && cost[0] < cost[1], "{cost:?}");
        let prices = Prices::of(&sight);
        let mut ways = Ways::new(&sight, &prices);
        ways.follow(&from);
        let way = ways.to(&to[0]).unwrap();
        assert!(way.places.iter().all(|at| (at[1] - 20.0).abs() < 2.5), "{:?}", way.places);
    }

    /// A wire is hidden half way; another runs to the edge, and a third beside it.
    #[test]
    fn a_way_leaves_a_wire_for_what_is_hidden_only_where_none_is_seen_to_go_on() {
        let mut sight = Sight::blank(140, 60);
        let [from, to] = [[10.0, 20.0], [130.0, 20.0]].map(|at| end(at, [70.0, 20.0], BU));
        sight.draw(from.at, [60.0, 20.0], BU);
        sight.draw([76.0, 20.0], to.at, BU);
        let ended = costs(&sight, &from, std::slice::from_ref(&to))[0];
        assert!(ended < 15.0, "{ended}");
        let mut gone_on = Sight::blank(140, 60);
        gone_on.draw(from.at, [139.0, 20.0], BU);
        gone_on.draw([40.0, 8.0], [130.0, 8.0], BU);
        let beside = end([130.0, 8.0], [40.0, 8.0], BU);
        assert!(costs(&gone_on, &from, &[beside])[0].is_infinite());
    }

    /// A blue wire under a red one, which hides its colour: common practice, no source, is that it goes on the same.
    #[test]
    fn the_colour_of_a_wire_that_crosses_over_costs_nothing() {
        let mut sight = Sight::blank(120, 80);
        let [from, to] = [end([10.0, 40.0], [110.0, 40.0], BU), end([110.0, 40.0], [10.0, 40.0], BU)];
        sight.draw(from.at, to.at, BU);
        let alone = costs(&sight, &from, std::slice::from_ref(&to))[0];
        sight.draw([40.0, 10.0], [80.0, 70.0], RD);
        let crossed = costs(&sight, &from, &[to])[0];
        assert!(crossed < alone + 0.5, "{crossed} beside {alone}");
    }

    #[test]
    fn a_way_may_bend_sharply_at_an_end_for_a_price() {
        let mut sight = Sight::blank(120, 80);
        sight.draw([20.0, 20.0], [100.0, 20.0], BU);
        let to = end([100.0, 20.0], [20.0, 20.0], BU);
        let [straight, bent] = [[100.0, 20.0], [20.0, 70.0]]
            .map(|along| costs(&sight, &end([20.0, 20.0], along, BU), std::slice::from_ref(&to))[0]);
        assert!(bent > straight + 1.0 && bent < straight + 10.0, "{bent} beside {straight}");
        let told_nothing = End { along: None, ..end([20.0, 20.0], [100.0, 20.0], BU) };
        assert!((costs(&sight, &told_nothing, &[to])[0] - straight).abs() < 0.01);
    }

    #[test]
    fn a_wire_that_leaves_the_picture_is_followed_out_of_it() {
        let mut sight = Sight::blank(120, 60);
        sight.draw([20.0, 30.0], [119.0, 30.0], BU);
        let prices = Prices::of(&sight);
        let mut ways = Ways::new(&sight, &prices);
        ways.follow(&end([20.0, 30.0], [119.0, 30.0], BU));
        let out = ways.out().unwrap();
        assert!(out.places.last().is_some_and(|at| at[0] > 114.0) && out.cost < 5.0, "{out:?}");
    }
}
