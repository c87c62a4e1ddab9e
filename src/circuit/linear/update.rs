//! Changed branches without factoring anew: Sherman, Morrison and Woodbury.
//!
//! With branches j changed by Δg between groups a and b, u = e(a) − e(b) and the field Z·u of each, the volts become
//! `V − Σ Z·u(j) · y(j)` with `(1/Δg + uᵀ·Z·u) y = uᵀ·V` (V with the offsets of ideal sources).
//!
//! Opening a contact of 10 mΩ before a load of 10 MΩ takes nine digits from that sum, so the corrected volts are held against the
//! changed equations like any others, and refined.

use faer::Mat;
use faer::linalg::solvers::Solve;

use super::factored::{Base, Factored, Field, Levels};
use super::pocket::{REFINED, ROUNDS};
use super::topology::NONE;
use super::{Branch, Part, Phasor, Reason};

/// Below this share the correction loses its digits: the change parts an island, or all but does.
const TOO_CLOSE: f64 = 1e-10;
/// With more changes than this a fresh solution is cheaper.
const MOST_CHANGES: usize = 24;

/// Changes on top of what was factored.
#[derive(Debug, Clone)]
pub(super) struct Update {
    changes: Vec<(usize, Branch)>,
    deltas: Vec<Delta>,
    /// The inverse of `1/Δg + uᵀZu`, by columns.
    inverse: Vec<Vec<Phasor>>,
    /// The unknowns of the pockets the changes reach.
    live: Levels,
}

/// One change that matters.
#[derive(Debug, Clone)]
struct Delta {
    number: usize,
    /// Its ends as groups.
    ends: (u32, u32),
    /// What ideal sources add to the volts across it.
    offset: Phasor,
    /// Its admittance now.
    siemens: Phasor,
    field: Field,
}

impl Factored {
    /// The network with some branches changed.
    ///
    /// A change between values, or between a value and open, within one island costs one solution in its pocket. A change that
    /// joins or parts islands, or has an ideal wire or a source in it, has its structure looked at anew; pockets it does not
    /// touch are taken over as they are. Numbers of branches that do not exist are passed over.
    pub fn with(&self, changes: &[(usize, Branch)]) -> Self {
        let mut all: Vec<(usize, Branch)> = self.update.iter().flat_map(Update::changes).copied().collect();
        for &(number, branch) in changes {
            all.retain(|(other, _)| *other != number);
            if self.base.circuit.branches.get(number).is_some_and(|entry| entry.2 != branch) {
                all.push((number, branch));
            }
        }
        if all.is_empty() {
            return Self { base: std::sync::Arc::clone(&self.base), update: None };
        }
        self.corrected(&all).unwrap_or_else(|| {
            let mut circuit = self.base.circuit.clone();
            for &(number, branch) in &all {
                circuit.branches[number].2 = branch; // numbers were looked up above
            }
            Self::like(circuit, self.base.omega, Some(&self.base), None)
        })
    }

    /// `None` where a correction will not do.
    fn corrected(&self, changes: &[(usize, Branch)]) -> Option<Self> {
        if changes.len() > MOST_CHANGES {
            return None;
        }
        let base = &self.base;
        let plain = Self { base: std::sync::Arc::clone(base), update: None };
        let (mut deltas, mut shares) = (Vec::new(), Vec::new());
        for &(number, branch) in changes {
            if let Some((delta, siemens)) = plain.delta(number, branch)? {
                shares.push(siemens.inv());
                deltas.push(delta);
            }
        }
        let inverse = inverse(&deltas, &shares)?;
        let mut update = Update { changes: changes.to_vec(), deltas, inverse, live: Levels::new() };
        update.live = update.settled(base, Levels::new(), &[], true).ok()?;
        Some(Self { base: std::sync::Arc::clone(base), update: Some(update) })
    }

    /// A change and by how many siemens; `Some(None)` for one that alters no volts, `None` for one beyond a correction.
    #[expect(clippy::option_option, reason = "no change of volts, and no correction possible, are two things")]
    fn delta(&self, number: usize, branch: Branch) -> Option<Option<(Delta, Phasor)>> {
        let (base, topology) = (&self.base, &self.base.topology);
        let (a, b, _) = base.circuit.branches[number]; // numbers were looked up by the caller
        let value = |part: Part| match part {
            Part::Open => Some(Phasor::new(0.0, 0.0)),
            Part::Conducts(siemens) => Some(siemens),
            _ => None,
        };
        // What is no number counts as open but has its remark.
        if base.circuit.branches[number].2.at(base.omega) == Part::Bad {
            return None;
        }
        let siemens = value(branch.at(base.omega))?;
        let change = siemens - value(topology.parts[number])?;
        let ends = (topology.group_of(a), topology.group_of(b));
        if ends.0 == NONE || ends.1 == NONE {
            return None;
        }
        // Wires or ideal sources hold both ends: no volts move.
        if ends.0 == ends.1 || change == Phasor::new(0.0, 0.0) {
            return Some(None);
        }
        let island = topology.island[a as usize];
        if island != topology.island[b as usize] || topology.broken[island as usize].is_some() {
            return None;
        }
        let field = self.base_field(&[(ends.0, 1.0), (ends.1, -1.0)]).ok()?;
        let offset = topology.offset[a as usize] - topology.offset[b as usize];
        Some(Some((Delta { number, ends, offset, siemens, field }, change)))
    }
}

/// The inverse of `1/Δg + uᵀZu`, where it can be trusted.
fn inverse(deltas: &[Delta], shares: &[Phasor]) -> Option<Vec<Vec<Phasor>>> {
    let k = deltas.len();
    let mut matrix = Mat::<Phasor>::zeros(k, k);
    for (row, delta) in deltas.iter().enumerate() {
        for (column, other) in deltas.iter().enumerate() {
            matrix[(row, column)] = other.field.level(delta.ends.0) - other.field.level(delta.ends.1);
        }
        let own = matrix[(row, row)];
        let with = own + shares[row];
        if !with.is_finite() || !own.is_finite() || with.norm() <= TOO_CLOSE * own.norm() {
            return None;
        }
        matrix[(row, row)] = with;
    }
    if k == 0 {
        return Some(Vec::new());
    }
    // Scaled to ones on the diagonal, for 10 mΩ stands beside 10 MΩ here too.
    let scale: Vec<f64> = (0..k).map(|at| 1.0 / matrix[(at, at)].norm().sqrt()).collect();
    let scaled = Mat::from_fn(k, k, |row, column| matrix[(row, column)] * (scale[row] * scale[column]));
    let solved = scaled.partial_piv_lu().solve(Mat::<Phasor>::identity(k, k));
    // A change of several branches may part an island where none of them does alone.
    let large = |value: &Phasor| !value.is_finite() || value.norm() > 1.0 / TOO_CLOSE;
    let column = |column: usize| (0..k).map(move |row| (row, column));
    if (0..k).flat_map(column).any(|(row, column)| large(&solved[(row, column)])) {
        return None;
    }
    let value = |(row, column): (usize, usize)| solved[(row, column)] * (scale[row] * scale[column]);
    Some((0..k).map(|at| column(at).map(value).collect()).collect())
}

impl Update {
    /// What was changed, one entry for each branch.
    pub(super) fn changes(&self) -> &[(usize, Branch)] {
        &self.changes
    }

    /// A branch, where it is changed.
    pub(super) fn changed(&self, number: usize) -> Option<Branch> {
        self.changes.iter().find(|(other, _)| *other == number).map(|(_, branch)| *branch)
    }

    /// The unknowns of a pocket, where the changes reach it.
    pub(super) fn live(&self, pocket: u32) -> Option<&[Phasor]> {
        self.live.get(&pocket).map(Vec::as_slice)
    }

    /// The volts of the changed network: those of the network as factored, corrected, refined and checked.
    ///
    /// `start`: pockets solved without the changes for these amps into groups; with sources live those of the base.
    ///
    /// # Errors
    /// Where the answer breaks Kirchhoff's law.
    pub(super) fn settled(
        &self,
        base: &Base,
        start: Levels,
        inject: &[(u32, f64)],
        live: bool,
    ) -> Result<Levels, Reason> {
        let mut x = start;
        for pocket in self.deltas.iter().flat_map(|delta| delta.field.pockets.keys()) {
            if !x.contains_key(pocket) {
                let of = &base.pockets[*pocket as usize];
                let own = if live { of.live()?.to_vec() } else { vec![Phasor::new(0.0, 0.0); of.unknowns()] };
                x.insert(*pocket, own);
            }
        }
        self.correct(base, &mut x, live);
        let mut round = 0;
        loop {
            let (by, fine) = self.left_over(base, &x, inject, live, round >= ROUNDS)?;
            if fine {
                return Ok(x);
            }
            let mut more = Levels::new();
            for (pocket, by) in by {
                more.insert(pocket, base.pockets[pocket as usize].apply(&by)?);
            }
            self.correct(base, &mut more, false);
            for (pocket, more) in more {
                for (x, more) in x.entry(pocket).or_default().iter_mut().zip(more) {
                    *x += more;
                }
            }
            round += 1;
        }
    }

    /// Puts the changes into volts that know nothing of them.
    fn correct(&self, base: &Base, x: &mut Levels, live: bool) {
        let driving: Vec<Phasor> = self.deltas.iter().map(|delta| delta.volts(base, x, live)).collect();
        for (row, delta) in self.deltas.iter().enumerate() {
            let strength: Phasor =
                self.inverse.iter().zip(&driving).map(|(column, driving)| column[row] * driving).sum();
            for (pocket, field) in &delta.field.pockets {
                for (x, field) in x.entry(*pocket).or_default().iter_mut().zip(field) {
                    *x -= strength * field;
                }
            }
        }
    }

    /// What is left over in the changed equations, and whether that is nothing to speak of. `last`: it must do now.
    fn left_over(
        &self,
        base: &Base,
        x: &Levels,
        inject: &[(u32, f64)],
        live: bool,
        last: bool,
    ) -> Result<(Levels, bool), Reason> {
        let place = |group: u32| base.topology.place.get(group as usize).copied().flatten();
        let level = x.iter().map(|(&pocket, own)| base.pockets[pocket as usize].level(own, live)).fold(0.0, f64::max);
        let mut all = Levels::new();
        let mut fine = true;
        for (&pocket, own) in x {
            let of = &base.pockets[pocket as usize];
            let here = |group: u32| place(group).filter(|place| place.0 == pocket).map(|place| place.1);
            let amps: Vec<(u32, Phasor)> =
                inject.iter().filter_map(|&(group, amps)| Some((here(group)?, Phasor::new(amps, 0.0)))).collect();
            let without = of.places(self.deltas.iter().map(|delta| delta.number));
            let mut left = of.left_over(own, &amps, live, &without);
            for delta in &self.deltas {
                let through = delta.siemens * delta.volts(base, x, live);
                let noise = 2.0 * delta.siemens.l1_norm() * level;
                for (group, amps) in [(delta.ends.0, -through), (delta.ends.1, through)] {
                    if let Some(row) = here(group) {
                        left.add(row, amps);
                        left.blur(row, noise);
                    }
                }
            }
            let done = left.is_none(REFINED, 0.0);
            if done || last {
                of.check(own, &left, inject.iter().map(|(_, amps)| amps.abs()).fold(0.0, f64::max), live)?;
            }
            fine &= done || last;
            all.insert(pocket, left.by);
        }
        Ok((all, fine))
    }
}

impl Delta {
    /// Volts across it.
    fn volts(&self, base: &Base, x: &Levels, live: bool) -> Phasor {
        let level = |group: u32| {
            let place = base.topology.place.get(group as usize).copied().flatten();
            place.and_then(|(pocket, row)| x.get(&pocket)?.get(row as usize).copied()).unwrap_or_default()
        };
        level(self.ends.0) - level(self.ends.1) + if live { self.offset } else { Phasor::default() }
    }
}
