//! Nodes taken out one by one, star to mesh, before what is left meets a matrix.
//!
//! A node whose branches of admittances g(j) end at nodes j is replaced by branches `g(i)·g(j) / G`, G the sum of its g. This is
//! Gaussian elimination on the diagonal, in order of fewest neighbours first, kept in branches: the diagonal is never stored but
//! summed, so among resistors nothing is ever subtracted and 10 mΩ beside 10 MΩ loses no digit. Wiring falls apart this way almost
//! whole, most nets having two or three ends. A node where inductance and capacitance all but cancel is left for the matrix.

use super::Phasor;

/// Nodes with more neighbours stay for the matrix.
const MOST_NEIGHBOURS: usize = 48;
/// A node's admittances may cancel down to this share of their sizes.
const PIVOT: f64 = 0.1;

const NONE: u32 = u32::MAX;

/// A branch between two rows; none is the reference.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Link {
    pub rows: [Option<u32>; 2],
    pub siemens: Phasor,
}

#[derive(Debug, Clone, Copy)]
struct Step {
    row: u32,
    /// Where its links end; they begin where those of the step before end.
    end: usize,
    /// One over the sum of its admittances.
    ohms: Phasor,
}

/// The order of taking out, and what is left.
#[derive(Debug)]
pub(super) struct Reduced {
    steps: Vec<Step>,
    links: Vec<(u32, Phasor)>,
    /// The rows that are left, ascending.
    pub rest: Vec<u32>,
    /// The entries of their matrix, places by position in `rest`.
    pub entries: Vec<(usize, usize, Phasor)>,
}

struct Work {
    near: Vec<Vec<(u32, Phasor)>>,
    /// Admittance to the reference.
    leak: Vec<Phasor>,
    gone: Vec<bool>,
    slot: Vec<u32>,
    clean: Vec<usize>,
}

impl Work {
    /// Joins doubles and drops what is gone; gives the number of neighbours.
    fn tidy(&mut self, row: usize) -> usize {
        let mut kept = 0;
        for at in 0..self.near[row].len() {
            let (other, siemens) = self.near[row][at];
            if self.gone[other as usize] {
                continue;
            }
            let slot = self.slot[other as usize];
            if slot == NONE {
                self.slot[other as usize] = u32::try_from(kept).unwrap_or(NONE); // fewer than there are rows
                self.near[row][kept] = (other, siemens);
                kept += 1;
            } else {
                self.near[row][slot as usize].1 += siemens;
            }
        }
        self.near[row].truncate(kept);
        for &(other, _) in &self.near[row] {
            self.slot[other as usize] = NONE;
        }
        self.clean[row] = kept;
        kept
    }
}

impl Reduced {
    /// Takes out all it can of these rows but the pinned.
    pub(super) fn of(rows: usize, links: &[Link], pinned: &[bool]) -> Self {
        let zero = Phasor::new(0.0, 0.0);
        let mut degree = vec![0usize; rows];
        for link in links {
            if let [Some(a), Some(b)] = link.rows {
                degree[a as usize] += 1;
                degree[b as usize] += 1;
            }
        }
        let mut work = Work {
            near: degree.iter().map(|&ends| Vec::with_capacity(ends)).collect(),
            leak: vec![zero; rows],
            gone: vec![false; rows],
            slot: vec![NONE; rows],
            clean: degree,
        };
        for link in links {
            match link.rows {
                [Some(a), Some(b)] if a != b => {
                    work.near[a as usize].push((b, link.siemens));
                    work.near[b as usize].push((a, link.siemens));
                }
                [Some(row), None] | [None, Some(row)] => work.leak[row as usize] += link.siemens,
                _ => {}
            }
        }
        let mut reduced = Self { steps: Vec::new(), links: Vec::new(), rest: Vec::new(), entries: Vec::new() };
        // Long lists are tidied now and then only, so a second round may find more.
        let mut before = usize::MAX;
        while before != reduced.steps.len() {
            before = reduced.steps.len();
            reduced.take_out(&mut work, pinned);
        }
        let mut place = vec![NONE; rows];
        for (row, place) in place.iter_mut().enumerate() {
            if !work.gone[row] {
                work.tidy(row);
                *place = u32::try_from(reduced.rest.len()).unwrap_or(NONE); // fewer than there are rows
                reduced.rest.push(u32::try_from(row).unwrap_or(NONE)); // rows are numbered by u32
            }
        }
        for (at, &row) in reduced.rest.iter().enumerate() {
            let near = &work.near[row as usize];
            let sum = work.leak[row as usize] + near.iter().map(|(_, siemens)| siemens).sum::<Phasor>();
            reduced.entries.push((at, at, sum));
            let others = near.iter().map(|&(other, siemens)| (at, place[other as usize] as usize, -siemens));
            reduced.entries.extend(others);
        }
        reduced
    }

    fn take_out(&mut self, work: &mut Work, pinned: &[bool]) {
        let mut waiting: Vec<Vec<u32>> = vec![Vec::new(); MOST_NEIGHBOURS + 1];
        for row in (0..pinned.len()).rev() {
            if pinned[row] || work.gone[row] {
                continue;
            }
            let neighbours = work.tidy(row);
            if let (Some(waiting), Ok(row)) = (waiting.get_mut(neighbours), u32::try_from(row)) {
                waiting.push(row);
            }
        }
        let mut fewest = 0;
        while fewest <= MOST_NEIGHBOURS {
            let Some(row) = waiting[fewest].pop() else {
                fewest += 1;
                continue;
            };
            let at = row as usize;
            if work.gone[at] || work.tidy(at) != fewest {
                // Taken out, or waiting elsewhere too under its present number.
                continue;
            }
            let near = std::mem::take(&mut work.near[at]);
            let leak = work.leak[at];
            let total = leak + near.iter().map(|(_, siemens)| siemens).sum::<Phasor>();
            let size = leak.l1_norm() + near.iter().map(|(_, siemens)| siemens.l1_norm()).sum::<f64>();
            if total.l1_norm() < PIVOT * size || size == 0.0 {
                work.near[at] = near;
                continue;
            }
            let ohms = total.inv();
            work.gone[at] = true;
            for (first, &(a, of_a)) in near.iter().enumerate() {
                let share = of_a * ohms;
                work.leak[a as usize] += share * leak;
                for &(b, of_b) in &near[first + 1..] {
                    let siemens = share * of_b;
                    work.near[a as usize].push((b, siemens));
                    work.near[b as usize].push((a, siemens));
                }
            }
            for &(other, _) in &near {
                let index = other as usize;
                let length = work.near[index].len();
                // A long list is worth tidying only when it may have become much shorter.
                if pinned[index] || (length > MOST_NEIGHBOURS && length <= 2 * work.clean[index] + MOST_NEIGHBOURS) {
                    continue;
                }
                let neighbours = work.tidy(index);
                if let Some(list) = waiting.get_mut(neighbours) {
                    list.push(other);
                    fewest = fewest.min(neighbours);
                }
            }
            self.links.extend(near);
            self.steps.push(Step { row, end: self.links.len(), ohms });
        }
    }

    /// Brings amps of the rows taken out to those left: first half of a solution.
    pub(super) fn gather(&self, x: &mut [Phasor]) {
        let mut begin = 0;
        for step in &self.steps {
            let volts = x[step.row as usize] * step.ohms;
            if volts.re != 0.0 || volts.im != 0.0 {
                for &(other, siemens) in &self.links[begin..step.end] {
                    x[other as usize] += siemens * volts;
                }
            }
            begin = step.end;
        }
    }

    /// With volts in the rows left, gives volts to those taken out: second half.
    pub(super) fn spread(&self, x: &mut [Phasor]) {
        for (at, step) in self.steps.iter().enumerate().rev() {
            let begin = if at == 0 { 0 } else { self.steps[at - 1].end };
            let mut amps = x[step.row as usize];
            for &(other, siemens) in &self.links[begin..step.end] {
                amps += siemens * x[other as usize];
            }
            x[step.row as usize] = amps * step.ohms;
        }
    }
}
