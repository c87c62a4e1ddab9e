//! Which ends of wires belong together, all at once: each end has one wire, each terminal one end, and what is seen of a wire one wire. A
//! terminal that holds several wires is several here, at one place.

use std::collections::BTreeMap;

use super::ends::{LOOSE, Landing};
use super::sight::{DIRECTIONS, Sight, direction_of};
use super::ways::{SURE, Way, thousandths};

/// What explaining a cell of what is surely a wire is worth, and by what share of that each explained by two is worth less than nothing.
const WORTH: f32 = 0.09;
const TWICE: f32 = 0.5;
/// What a way out of the picture explains counts by this share: it may go anywhere.
const OUT_WORTH: f32 = 0.25;
/// A change is made for so much, and pairs are gone through so often.
const GIVE_WAY: f32 = 0.5;
const ROUNDS: u32 = 6;

/// Two ends that one wire may run between; or one, and out of the picture.
#[derive(Debug)]
pub(super) struct Pair {
    pub(super) from: usize,
    pub(super) to: Option<usize>,
    pub(super) cost: f32,
    pub(super) places: Vec<[f32; 2]>,
    /// What it explains: cells with a direction, and how much of a wire is surely there, in thousandths of a cell. Whole numbers, so that
    /// what is taken out leaves nothing behind.
    explains: Vec<(u32, u32)>,
    /// All that, together.
    whole: u64,
    /// Where it is explained, and what is beside it.
    covers: Vec<u32>,
}

impl Pair {
    pub(super) fn new(sight: &Sight, from: usize, to: Option<usize>, way: Way) -> Self {
        let mut explains: BTreeMap<u32, f32> = BTreeMap::new();
        let mut covers = Vec::new();
        let worth = if to.is_some() { 1.0 } else { OUT_WORTH };
        for step in way.places.windows(2) {
            let by = [step[1][0] - step[0][0], step[1][1] - step[0][1]];
            let Some(cell) = sight.cell(step[1]) else { continue };
            let direction = direction_of(by);
            let sure = (sight.line(cell, direction) / SURE).min(1.0);
            *explains.entry(place(cell, direction)).or_default() += worth * by[0].hypot(by[1]) * sure;
            for (dx, dy) in (-1..=1).flat_map(|dy| (-1..=1).map(move |dx| (dx as f32, dy as f32))) {
                let Some(cell) = sight.cell([step[1][0] + dx, step[1][1] + dy]) else { continue };
                covers.extend([DIRECTIONS - 1, 0, 1].map(|turn| place(cell, (direction + turn) % DIRECTIONS)));
            }
        }
        covers.sort_unstable();
        covers.dedup();
        covers.shrink_to_fit();
        let explains: Vec<(u32, u32)> = explains.into_iter().map(|(place, sure)| (place, thousandths(sure))).collect();
        let whole = explains.iter().map(|(_, sure)| u64::from(*sure)).sum();
        Self { from, to, cost: way.cost, places: way.places, explains, whole, covers }
    }

    /// What it is worth alone, at best.
    pub(super) fn worth(&self) -> f32 {
        WORTH * cells(self.whole) - self.cost
    }

    fn ends(&self) -> impl Iterator<Item = usize> {
        [Some(self.from), self.to].into_iter().flatten()
    }
}

/// A pair that was chosen, and the terminals of its ends.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Chosen {
    pub(super) pair: usize,
    pub(super) terminals: [Option<usize>; 2],
}

/// The pairs that explain what is seen best: pairs are put in, and what is in their way or is worth less than nothing beside them is taken
/// out and others put at the ends that come free, for as long as the whole gets better. The first `seen` ends may be on no terminal.
/// `go_on` is asked at each pair; when it says no, none is chosen.
pub(super) fn paired(
    sight: &Sight,
    pairs: &[Pair],
    landings: &[Vec<Landing>],
    seen: usize,
    terminals: usize,
    go_on: &dyn Fn() -> bool,
) -> Option<Vec<Chosen>> {
    let mut plan = Plan::new(sight, pairs, landings, seen, terminals);
    for _ in 0..ROUNDS {
        let mut better = plan.land_anew();
        for place in 0..plan.order.len() {
            if !go_on() {
                return None;
            }
            let (pair, _) = plan.order[place];
            better |= !plan.chosen.contains_key(&pair) && plan.try_out(pair);
        }
        if !better {
            break;
        }
    }
    Some(plan.chosen.into_values().collect())
}

/// So many ends that are seen are paired at most, and so many terminals where none is seen.
pub(super) const MOST_ENDS: usize = 160;

/// The number of a cell with a direction.
#[allow(clippy::cast_possible_truncation, reason = "a scene has less than a million cells, times 12")]
fn place(cell: usize, direction: usize) -> u32 {
    (cell * DIRECTIONS + direction) as u32
}

/// Thousandths of a cell as cells.
fn cells(thousandths: u64) -> f32 {
    thousandths as f32 / 1000.0
}

struct Plan<'a> {
    pairs: &'a [Pair],
    landings: &'a [Vec<Landing>],
    seen: usize,
    chosen: BTreeMap<usize, Chosen>,
    of_end: Vec<Option<usize>>,
    of_terminal: Vec<Option<usize>>,
    /// By how many each cell and direction is covered, no more than there are ends; and how much of a wire there they explain together.
    covered: Vec<u16>,
    explained: Vec<u32>,
    /// The pairs that are worth something, and what they are worth alone, the best first. Beside others none is worth more.
    order: Vec<(usize, f32)>,
}

impl<'a> Plan<'a> {
    fn new(sight: &Sight, pairs: &'a [Pair], landings: &'a [Vec<Landing>], seen: usize, terminals: usize) -> Self {
        let cells = sight.width * sight.height * DIRECTIONS;
        let mut plan = Self {
            pairs,
            landings,
            seen,
            chosen: BTreeMap::new(),
            of_end: vec![None; landings.len()],
            of_terminal: vec![None; terminals],
            covered: vec![0; cells],
            explained: vec![0; cells],
            order: Vec::new(),
        };
        let alone = (0..pairs.len()).map(|pair| (pair, plan.gain(&plan.landed(pair))));
        plan.order = alone.filter(|(_, gain)| *gain > 0.0).collect();
        plan.order.sort_by(|a, b| b.1.total_cmp(&a.1));
        plan
    }

    /// A pair with each end on its likeliest terminal that is free.
    fn landed(&self, pair: usize) -> Chosen {
        let free = |end: usize, not: Option<usize>| {
            let mut landings = self.landings[end].iter().map(|landing| landing.terminal);
            landings.find(|&terminal| self.of_terminal[terminal].is_none() && Some(terminal) != not)
        };
        let one = &self.pairs[pair];
        let first = free(one.from, None);
        let from_first = [first, one.to.and_then(|end| free(end, first))];
        // Both may want the same.
        let first = one.to.and_then(|end| free(end, None));
        let to_first = [free(one.from, first), first];
        let [a, b] = [from_first, to_first].map(|terminals| Chosen { pair, terminals });
        if self.lands(&b) < self.lands(&a) { b } else { a }
    }

    /// What it costs that its ends are on those terminals. An end that is not seen is on its terminal or is none.
    fn lands(&self, one: &Chosen) -> f32 {
        let cost = |(end, terminal): (usize, Option<usize>)| {
            let landing = self.landings[end].iter().find(|landing| Some(landing.terminal) == terminal);
            landing.map_or(if end < self.seen { LOOSE } else { f32::INFINITY }, |landing| landing.cost)
        };
        self.pairs[one.pair].ends().zip(one.terminals).map(cost).sum()
    }

    /// By how much the whole is better with it than without.
    fn gain(&self, one: &Chosen) -> f32 {
        let pair = &self.pairs[one.pair];
        // What two explain is seen from both, since one may run a little aside.
        let times = |cell: u32| u64::from(self.covered[cell as usize]);
        let again: u64 = pair.explains.iter().map(|(cell, sure)| u64::from(*sure) * times(*cell)).sum();
        let others: u64 = pair.covers.iter().map(|cell| u64::from(self.explained[*cell as usize])).sum();
        // If it is there, that is itself once from each side.
        let own = if self.chosen.contains_key(&one.pair) { 2 * pair.whole } else { 0 };
        let twice = cells(again + others - own) / 2.0;
        pair.worth() - WORTH * (1.0 + TWICE) * twice - self.lands(one)
    }

    fn put(&mut self, one: Chosen) {
        let pair = &self.pairs[one.pair];
        for end in pair.ends() {
            self.of_end[end] = Some(one.pair);
        }
        for terminal in one.terminals.into_iter().flatten() {
            self.of_terminal[terminal] = Some(one.pair);
        }
        for &cell in &pair.covers {
            self.covered[cell as usize] += 1;
        }
        for &(cell, sure) in &pair.explains {
            self.explained[cell as usize] += sure;
        }
        self.chosen.insert(one.pair, one);
    }

    fn take(&mut self, pair: usize) -> Option<Chosen> {
        let one = self.chosen.remove(&pair)?;
        for end in self.pairs[pair].ends() {
            self.of_end[end] = None;
        }
        for terminal in one.terminals.into_iter().flatten() {
            self.of_terminal[terminal] = None;
        }
        for &cell in &self.pairs[pair].covers {
            self.covered[cell as usize] -= 1;
        }
        for &(cell, sure) in &self.pairs[pair].explains {
            self.explained[cell as usize] -= sure;
        }
        Some(one)
    }

    /// Moves each pair to the likeliest terminals, of those that came free meanwhile too; tells whether any moved.
    fn land_anew(&mut self) -> bool {
        let chosen: Vec<usize> = self.chosen.keys().copied().collect();
        let mut moved = false;
        for pair in chosen {
            let before = self.take(pair);
            let now = self.landed(pair);
            moved |= before != Some(now);
            self.put(now);
        }
        moved
    }

    /// Puts a pair in, takes out what is in its way or worth less than nothing then, and puts others at the ends that come free; takes all
    /// of it back unless the whole gets better.
    fn try_out(&mut self, pair: usize) -> bool {
        let one = &self.pairs[pair];
        // What is on the likeliest terminal, if none that is as likely is free.
        let likeliest = |end: usize| {
            let landings = &self.landings[end];
            let alike = landings.iter().take_while(|landing| landing.cost == landings[0].cost);
            let on_it: Option<Vec<usize>> = alike.map(|landing| self.of_terminal[landing.terminal]).collect();
            on_it.unwrap_or_default()
        };
        let at = |end: usize| self.of_end[end].into_iter().chain(likeliest(end));
        let mut in_the_way: Vec<usize> = one.ends().flat_map(at).collect();
        in_the_way.sort_unstable();
        in_the_way.dedup();
        let mut change = Change { by: 0.0, out: Vec::new(), put: Vec::new() };
        for other in in_the_way {
            self.drop(other, &mut change);
        }
        let now = self.landed(pair);
        let gain = self.gain(&now);
        if gain.is_finite() {
            self.add(now, gain, &mut change);
        }
        self.drop_worthless(&mut change);
        let freed: Vec<usize> = change.out.iter().flat_map(|other| self.pairs[other.pair].ends()).collect();
        while let Some((next, gain)) = self.best_at(&freed) {
            self.add(next, gain, &mut change);
        }
        self.drop_worthless(&mut change);
        if change.by > GIVE_WAY {
            return true;
        }
        for pair in change.put {
            self.take(pair);
        }
        for other in change.out {
            self.put(other);
        }
        false
    }

    fn add(&mut self, one: Chosen, gain: f32, change: &mut Change) {
        change.by += gain;
        change.put.push(one.pair);
        self.put(one);
    }

    /// Takes a pair out. One that was put by the same change is not put back when that is undone.
    fn drop(&mut self, pair: usize, change: &mut Change) {
        let Some(one) = self.chosen.get(&pair).copied() else { return };
        change.by -= self.gain(&one);
        self.take(pair);
        if !change.put.contains(&pair) {
            change.out.push(one);
        }
    }

    /// Takes out what is worth less than nothing beside the others, the worst first.
    fn drop_worthless(&mut self, change: &mut Change) {
        let worst = |plan: &Self| {
            let gains = plan.chosen.values().map(|one| (plan.gain(one), one.pair));
            gains.min_by(|a, b| a.0.total_cmp(&b.0)).filter(|(gain, _)| *gain < 0.0)
        };
        while let Some((_, pair)) = worst(self) {
            self.drop(pair, change);
        }
    }

    /// The pair worth most of those that could be put at one of these ends.
    fn best_at(&self, ends: &[usize]) -> Option<(Chosen, f32)> {
        let mut best: Option<(Chosen, f32)> = None;
        for &(pair, alone) in &self.order {
            if alone <= best.map_or(0.0, |(_, gain)| gain) {
                break;
            }
            let of_it = || self.pairs[pair].ends();
            if of_it().any(|end| ends.contains(&end)) && of_it().all(|end| self.of_end[end].is_none()) {
                let one = self.landed(pair);
                let gain = self.gain(&one);
                if gain > best.map_or(0.0, |(_, gain)| gain) {
                    best = Some((one, gain));
                }
            }
        }
        best
    }
}

/// What is tried: by how much the whole is better, what was taken out and what was put.
struct Change {
    by: f32,
    out: Vec<Chosen>,
    put: Vec<usize>,
}

#[cfg(test)]
mod tests {
    use super::*;

    fn pair(sight: &Sight, ends: [usize; 2], places: &[[f32; 2]]) -> Pair {
        Pair::new(sight, ends[0], Some(ends[1]), Way { cost: 1.0, places: places.to_vec() })
    }

    /// Places two cells apart along a line.
    fn line(from: [f32; 2], to: [f32; 2]) -> Vec<[f32; 2]> {
        let steps = (to[0] - from[0]).hypot(to[1] - from[1]) / 2.0;
        let count = (0..60).take_while(|step| *step as f32 <= steps);
        count.map(|step| [0, 1].map(|axis| from[axis] + (to[axis] - from[axis]) * step as f32 / steps)).collect()
    }

    fn landing(terminal: usize, cost: f32) -> Landing {
        Landing { terminal, cost }
    }

    /// A wire from end 0 to end 1, and a way that takes half of it to end 2.
    #[test]
    fn what_explains_more_is_chosen_and_each_end_has_one_wire() {
        let mut sight = Sight::blank(120, 60);
        sight.draw([10.0, 20.0], [110.0, 20.0], 6);
        let mut astray = line([10.0, 20.0], [60.0, 20.0]);
        astray.extend(line([60.0, 20.0], [80.0, 50.0]));
        let pairs = [pair(&sight, [0, 2], &astray), pair(&sight, [0, 1], &line([10.0, 20.0], [110.0, 20.0]))];
        let landings = [0, 1, 2].map(|terminal| vec![landing(terminal, 0.5)]);
        let chosen = paired(&sight, &pairs, &landings, 3, 3, &|| true).unwrap();
        assert_eq!(chosen.len(), 1);
        assert_eq!((chosen[0].pair, chosen[0].terminals), (1, [Some(0), Some(1)]));
    }

    #[test]
    fn of_two_ends_at_one_terminal_the_one_that_has_no_other_gets_it() {
        let mut sight = Sight::blank(120, 60);
        sight.draw([10.0, 20.0], [110.0, 20.0], 6);
        let pairs = [pair(&sight, [0, 1], &line([10.0, 20.0], [110.0, 20.0]))];
        let landings = [vec![landing(0, 0.1), landing(1, 0.2)], vec![landing(0, 0.1)]];
        let chosen = paired(&sight, &pairs, &landings, 2, 2, &|| true).unwrap();
        assert_eq!(chosen[0].terminals, [Some(1), Some(0)]);
    }

    /// Two wires, one over the other at one terminal: an end that is not seen is at its terminal or is none.
    #[test]
    fn an_end_that_is_not_seen_is_on_its_terminal_or_none() {
        let mut sight = Sight::blank(120, 60);
        sight.draw([10.0, 20.0], [110.0, 20.0], 6);
        sight.draw([10.0, 40.0], [110.0, 40.0], 6);
        let pairs = [
            pair(&sight, [0, 2], &line([10.0, 20.0], [110.0, 20.0])),
            pair(&sight, [1, 3], &line([10.0, 40.0], [108.0, 40.0])),
        ];
        let landings = [vec![landing(0, 0.1)], vec![landing(1, 0.1)], vec![landing(2, 0.0)], vec![landing(2, 0.0)]];
        let ends = |seen: usize| -> Vec<[Option<usize>; 2]> {
            paired(&sight, &pairs, &landings, seen, 3, &|| true).unwrap().iter().map(|one| one.terminals).collect()
        };
        let on_none = ends(4).iter().filter(|terminals| terminals[1].is_none()).count();
        assert_eq!((ends(4).len(), on_none), (2, 1));
        assert_eq!(ends(2), [[Some(0), Some(2)]]);
    }

    /// What two share is taken off once, whichever was put first; a way out of the picture counts less.
    #[test]
    fn what_pairs_are_worth_together_does_not_hang_on_their_order() {
        let mut sight = Sight::blank(120, 60);
        sight.draw([10.0, 20.0], [110.0, 20.0], 6);
        let whole = line([10.0, 20.0], [110.0, 20.0]);
        let out = Pair::new(&sight, 2, None, Way { cost: 1.0, places: line([60.0, 21.0], [118.0, 21.0]) });
        let pairs = [pair(&sight, [0, 1], &whole), out];
        let landings = [0, 1, 2].map(|terminal| vec![landing(terminal, 0.5)]);
        let together = |order: [usize; 2]| {
            let mut plan = Plan::new(&sight, &pairs, &landings, 3, 3);
            let gains = order.map(|pair| {
                let one = plan.landed(pair);
                let gain = plan.gain(&one);
                plan.put(one);
                assert!(order[0] != pair || (plan.gain(&one) - gain).abs() < 1e-3, "the same before and after");
                gain
            });
            (gains[0] + gains[1], gains[1])
        };
        let (a, b) = (together([0, 1]), together([1, 0]));
        assert!((a.0 - b.0).abs() < 1e-3, "{a:?} {b:?}");
        assert!(a.1 < Plan::new(&sight, &pairs, &landings, 3, 3).gain(&Chosen { pair: 1, terminals: [Some(2), None] }));
    }

    /// Two pairs that share an end and explain half of what is there each; a third, of the whole, takes their place, and a fourth that was in
    /// their way gets the end that comes free.
    #[test]
    fn a_pair_takes_the_place_of_others_and_what_comes_free_is_filled() {
        let mut sight = Sight::blank(140, 80);
        sight.draw([10.0, 20.0], [130.0, 20.0], 6);
        sight.draw([70.0, 24.0], [70.0, 70.0], 2);
        let pairs = [
            pair(&sight, [0, 2], &line([10.0, 20.0], [68.0, 20.0])),
            pair(&sight, [0, 1], &line([10.0, 20.0], [130.0, 20.0])),
            pair(&sight, [2, 3], &line([70.0, 24.0], [70.0, 70.0])),
        ];
        let landings = [0, 1, 2, 3].map(|terminal| vec![landing(terminal, 0.5)]);
        let mut plan = Plan::new(&sight, &pairs, &landings, 4, 4);
        assert!(plan.try_out(0));
        assert!(plan.try_out(1));
        assert_eq!(plan.chosen.keys().copied().collect::<Vec<_>>(), [1, 2]);
    }

    /// Three wires, a short, a long and a middle one, to a terminal that holds two: terminals 3 and 4, as likely for each. The two that explain
    /// most have it in the end, whatever was put first.
    #[test]
    fn of_wires_to_a_terminal_that_holds_two_the_weakest_gives_way() {
        let mut sight = Sight::blank(140, 80);
        let wires = [(15.0, 60.0), (35.0, 120.0), (55.0, 90.0)];
        let pairs: Vec<Pair> = (0..3)
            .map(|number| {
                let (y, to) = wires[number];
                sight.draw([10.0, y], [to, y], 6);
                pair(&sight, [number, number + 3], &line([10.0, y], [to, y]))
            })
            .collect();
        let own = (0..3).map(|terminal| vec![landing(terminal, 0.5)]);
        let shared = (0..3).map(|_| vec![landing(3, 0.5), landing(4, 0.5)]);
        let landings: Vec<Vec<Landing>> = own.chain(shared).collect();
        for order in [[0, 1, 2], [1, 0, 2], [2, 1, 0], [0, 2, 1]] {
            let mut plan = Plan::new(&sight, &pairs, &landings, 6, 5);
            for pair in order {
                plan.try_out(pair);
            }
            let both: Vec<_> = plan.chosen.values().filter_map(|one| Some((one.pair, one.terminals[1]?))).collect();
            assert!(both == [(1, 3), (2, 4)] || both == [(1, 4), (2, 3)], "{order:?}: {both:?}");
        }
    }

    #[test]
    fn what_is_tried_and_not_kept_leaves_no_trace() {
        let mut sight = Sight::blank(120, 60);
        sight.draw([10.0, 20.0], [110.0, 20.0], 6);
        let whole = line([10.0, 20.0], [110.0, 20.0]);
        let pairs = [pair(&sight, [0, 1], &whole), pair(&sight, [0, 2], &whole[..30])];
        let landings = [0, 1, 2].map(|terminal| vec![landing(terminal, 0.5)]);
        let mut plan = Plan::new(&sight, &pairs, &landings, 3, 3);
        assert!(plan.try_out(0));
        let state = |plan: &Plan<'_>| {
            let Plan { chosen, of_end, of_terminal, covered, explained, .. } = plan;
            (chosen.clone(), of_end.clone(), of_terminal.clone(), covered.clone(), explained.clone())
        };
        let before = state(&plan);
        assert!(!plan.try_out(1));
        assert_eq!(before, state(&plan));
    }
}
