//! Which ends of wires belong together, all at once: each end has one wire, each terminal one end, and what is seen of a wire one wire.

use std::collections::BTreeMap;

use super::ends::{LOOSE, Landing};
use super::sight::{DIRECTIONS, Sight};
use super::ways::{SURE, Way, along};

/// What explaining a cell of what is surely a wire is worth, and what explaining it once more costs, as a share.
const WORTH: f32 = 0.2;
const TWICE: f32 = 0.5;
/// What a way out of the picture explains counts by this share: it may go anywhere.
const OUT_WORTH: f32 = 0.25;
/// A pair is in the way of another if it covers more than this share of what that explains.
const MUCH_COVERED: f32 = 0.3;
/// Others give way to a pair for so much, and pairs are gone through so often.
const GIVE_WAY: f32 = 0.5;
const ROUNDS: u32 = 6;

/// Two ends that one wire may run between; or one, and out of the picture.
#[derive(Debug)]
pub(super) struct Pair {
    pub(super) from: usize,
    pub(super) to: Option<usize>,
    pub(super) cost: f32,
    pub(super) places: Vec<[f32; 2]>,
    /// What it explains: cells with a direction, and how much of a wire is surely there.
    explains: Vec<(u32, f32)>,
    /// Those, and what is beside them.
    covers: Vec<u32>,
}

impl Pair {
    pub(super) fn new(sight: &Sight, from: usize, to: Option<usize>, way: Way) -> Self {
        let mut explains: BTreeMap<u32, f32> = BTreeMap::new();
        let mut covers = Vec::new();
        for step in way.places.windows(2) {
            let by = [step[1][0] - step[0][0], step[1][1] - step[0][1]];
            let Some(cell) = sight.cell(step[1]) else { continue };
            let direction = along(by);
            let sure = (sight.line(cell, direction) / SURE).min(1.0);
            *explains.entry(place(cell, direction)).or_default() += by[0].hypot(by[1]) * sure;
            for (dx, dy) in (-1..=1).flat_map(|dy| (-1..=1).map(move |dx| (dx as f32, dy as f32))) {
                let Some(cell) = sight.cell([step[1][0] + dx, step[1][1] + dy]) else { continue };
                covers.extend([DIRECTIONS - 1, 0, 1].map(|turn| place(cell, (direction + turn) % DIRECTIONS)));
            }
        }
        covers.sort_unstable();
        covers.dedup();
        covers.shrink_to_fit();
        Self { from, to, cost: way.cost, places: way.places, explains: explains.into_iter().collect(), covers }
    }

    fn covers_much_of(&self, other: &Self) -> bool {
        let whole: f32 = other.explains.iter().map(|(_, sure)| sure).sum();
        let covered = other.explains.iter().filter(|(cell, _)| self.covers.binary_search(cell).is_ok());
        covered.map(|(_, sure)| sure).sum::<f32>() > MUCH_COVERED * whole
    }

    fn ends(&self) -> impl Iterator<Item = usize> {
        [Some(self.from), self.to].into_iter().flatten()
    }
}

/// A pair that was chosen, the terminals of its ends, and what that explains beyond what it costs.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Chosen {
    pub(super) pair: usize,
    pub(super) terminals: [Option<usize>; 2],
    pub(super) value: f32,
}

/// The pairs that explain what is seen best.
/// `go_on` is asked at each round.
pub(super) fn paired(
    sight: &Sight,
    pairs: &[Pair],
    landings: &[Vec<Landing>],
    terminals: usize,
    go_on: &dyn Fn() -> bool,
) -> Vec<Chosen> {
    let mut plan = Plan {
        pairs,
        landings,
        chosen: BTreeMap::new(),
        of_end: vec![None; landings.len()],
        of_terminal: vec![None; terminals],
        explained: vec![0; sight.width * sight.height * DIRECTIONS],
    };
    let alone: Vec<f32> = (0..pairs.len()).map(|pair| plan.value(pair).value).collect();
    let mut order: Vec<usize> = (0..pairs.len()).filter(|&pair| alone[pair] > 0.0).collect();
    order.sort_by(|a, b| alone[*b].total_cmp(&alone[*a]));
    for _ in 0..ROUNDS {
        let mut better = false;
        for &pair in &order {
            better |= !plan.chosen.contains_key(&pair) && plan.try_out(pair, &order);
        }
        // What came free meanwhile may suit better.
        let chosen: Vec<usize> = plan.chosen.keys().copied().collect();
        for pair in chosen {
            plan.take(pair);
            plan.put(plan.value(pair));
        }
        if !better || !go_on() {
            break;
        }
    }
    plan.chosen.into_values().collect()
}

/// So many ends are paired at most.
pub(super) const MOST_ENDS: usize = 160;
// Checked when it is built.
const _: () = assert!(MOST_ENDS < 256, "what is explained is counted in bytes");

/// The number of a cell with a direction.
#[allow(clippy::cast_possible_truncation, reason = "a scene has less than half a million cells, times 12")]
fn place(cell: usize, direction: usize) -> u32 {
    (cell * DIRECTIONS + direction) as u32
}

struct Plan<'a> {
    pairs: &'a [Pair],
    landings: &'a [Vec<Landing>],
    chosen: BTreeMap<usize, Chosen>,
    of_end: Vec<Option<usize>>,
    of_terminal: Vec<Option<usize>>,
    /// How often each cell and direction is explained: fewer than 256 times, since there are no more than [`MOST_ENDS`].
    explained: Vec<u8>,
}

impl Plan<'_> {
    /// What a pair is worth now, each end on its likeliest terminal that is free.
    fn value(&self, pair: usize) -> Chosen {
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
        let valued =
            [from_first, to_first].map(|terminals| Chosen { pair, terminals, value: self.value_at(pair, terminals) });
        if valued[1].value > valued[0].value { valued[1] } else { valued[0] }
    }

    fn value_at(&self, pair: usize, terminals: [Option<usize>; 2]) -> f32 {
        let one = &self.pairs[pair];
        let explains =
            |(cell, sure): &(u32, f32)| if self.explained[*cell as usize] > 0 { -TWICE * sure } else { *sure };
        let lands = |(end, terminal): (usize, Option<usize>)| {
            let landing = self.landings[end].iter().find(|landing| Some(landing.terminal) == terminal);
            landing.map_or(LOOSE, |landing| landing.cost)
        };
        let worth = if one.to.is_some() { WORTH } else { WORTH * OUT_WORTH };
        worth * one.explains.iter().map(explains).sum::<f32>()
            - one.cost
            - one.ends().zip(terminals).map(lands).sum::<f32>()
    }

    fn put(&mut self, one: Chosen) {
        for end in self.pairs[one.pair].ends() {
            self.of_end[end] = Some(one.pair);
        }
        for terminal in one.terminals.into_iter().flatten() {
            self.of_terminal[terminal] = Some(one.pair);
        }
        for &cell in &self.pairs[one.pair].covers {
            self.explained[cell as usize] = self.explained[cell as usize].saturating_add(1);
        }
        self.chosen.insert(one.pair, one);
    }

    fn take(&mut self, pair: usize) {
        let Some(one) = self.chosen.remove(&pair) else { return };
        for end in self.pairs[pair].ends() {
            self.of_end[end] = None;
        }
        for terminal in one.terminals.into_iter().flatten() {
            self.of_terminal[terminal] = None;
        }
        for &cell in &self.pairs[pair].covers {
            self.explained[cell as usize] = self.explained[cell as usize].saturating_sub(1);
        }
    }

    /// Puts a pair in the place of those that are in its way, and others at the ends that come free; takes all of it back if those put
    /// are not worth more than those taken. What that does to the worth of others that stay is not counted.
    fn try_out(&mut self, pair: usize, order: &[usize]) -> bool {
        let one = &self.pairs[pair];
        let first = |end: usize| self.landings[end].first().and_then(|landing| self.of_terminal[landing.terminal]);
        let mut in_the_way: Vec<usize> = one.ends().flat_map(|end| [self.of_end[end], first(end)]).flatten().collect();
        in_the_way.extend(self.chosen.keys().filter(|other| self.pairs[**other].covers_much_of(one)));
        in_the_way.sort_unstable();
        in_the_way.dedup();
        let before: Vec<Chosen> = in_the_way.iter().filter_map(|other| self.chosen.get(other).copied()).collect();
        let mut lost = 0.0;
        for other in &before {
            self.take(other.pair);
            lost += self.value_at(other.pair, other.terminals);
        }
        let mut gained = 0.0;
        let mut added = Vec::new();
        let now = self.value(pair);
        if now.value > 0.0 {
            self.put(now);
            gained = now.value;
            added.push(pair);
            let freed: Vec<usize> = before.iter().flat_map(|other| self.pairs[other.pair].ends()).collect();
            while let Some(next) = self.best_at(&freed, order) {
                self.put(next);
                gained += next.value;
                added.push(next.pair);
            }
        }
        let margin = if before.is_empty() { 0.0 } else { GIVE_WAY };
        if !added.is_empty() && gained > lost + margin {
            return true;
        }
        for pair in added {
            self.take(pair);
        }
        for other in before {
            self.put(other);
        }
        false
    }

    /// The pair worth most of those that could be put at one of these ends.
    fn best_at(&self, ends: &[usize], order: &[usize]) -> Option<Chosen> {
        let free = |pair: &Pair| pair.ends().all(|end| self.of_end[end].is_none());
        let here = |pair: &Pair| pair.ends().any(|end| ends.contains(&end));
        let could = order.iter().filter(|&&pair| here(&self.pairs[pair]) && free(&self.pairs[pair]));
        could.map(|&pair| self.value(pair)).filter(|one| one.value > 0.0).max_by(|a, b| a.value.total_cmp(&b.value))
    }
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
        let chosen = paired(&sight, &pairs, &landings, 3, &|| true);
        assert_eq!(chosen.len(), 1);
        assert_eq!((chosen[0].pair, chosen[0].terminals), (1, [Some(0), Some(1)]));
    }

    #[test]
    fn of_two_ends_at_one_terminal_the_one_that_has_no_other_gets_it() {
        let mut sight = Sight::blank(120, 60);
        sight.draw([10.0, 20.0], [110.0, 20.0], 6);
        let pairs = [pair(&sight, [0, 1], &line([10.0, 20.0], [110.0, 20.0]))];
        let landings = [vec![landing(0, 0.1), landing(1, 0.2)], vec![landing(0, 0.1)]];
        let chosen = paired(&sight, &pairs, &landings, 2, &|| true);
        assert_eq!(chosen[0].terminals, [Some(1), Some(0)]);
    }

    #[test]
    fn what_is_tried_and_not_kept_leaves_no_trace() {
        let mut sight = Sight::blank(120, 60);
        sight.draw([10.0, 20.0], [110.0, 20.0], 6);
        let whole = line([10.0, 20.0], [110.0, 20.0]);
        let pairs = [pair(&sight, [0, 1], &whole), pair(&sight, [0, 2], &whole[..30])];
        let landings = [0, 1, 2].map(|terminal| vec![landing(terminal, 0.5)]);
        let mut plan = Plan {
            pairs: &pairs,
            landings: &landings,
            chosen: BTreeMap::new(),
            of_end: vec![None; 3],
            of_terminal: vec![None; 3],
            explained: vec![0; 120 * 60 * DIRECTIONS],
        };
        assert!(plan.try_out(0, &[0, 1]));
        let before = (plan.chosen.clone(), plan.of_end.clone(), plan.of_terminal.clone(), plan.explained.clone());
        assert!(!plan.try_out(1, &[0, 1]));
        assert_eq!(before, (plan.chosen, plan.of_end, plan.of_terminal, plan.explained));
    }
}
