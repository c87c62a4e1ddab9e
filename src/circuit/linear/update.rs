//! Changed branches without factoring anew: Sherman, Morrison and Woodbury.
//!
//! With branches j changed by Δg between groups a and b, u = e(a) − e(b) and the field Z·u of each, the volts become
//! `V − Σ Z·u(j) · y(j)` with `(1/Δg + uᵀ·Z·u) y = uᵀ·V` (V with the offsets of ideal sources).

use faer::Mat;
use faer::linalg::solvers::Solve;

use super::factored::{Base, Factored, Field};
use super::topology::NONE;
use super::{Answer, Branch, Part, Phasor, Reason};

/// Below this share the correction loses its digits: the change parts an island, or all but does.
const TOO_CLOSE: f64 = 1e-10;
/// With more changes than this a fresh solve is cheaper.
const MOST_CHANGES: usize = 24;

/// Changes on top of what was factored.
#[derive(Debug, Clone)]
pub(super) struct Update {
    changes: Vec<(usize, Branch)>,
    /// One for each change that matters: its field, and its ends as groups.
    fields: Vec<Field>,
    ends: Vec<(u32, u32)>,
    /// y of the formula.
    strength: Vec<Phasor>,
    /// The inverse of `1/Δg + uᵀZu`, by columns.
    inverse: Vec<Vec<Phasor>>,
}

impl Factored {
    /// The network with some branches changed.
    ///
    /// A change between values, or between a value and open, within one island costs one solve in its pocket. A change that
    /// joins or parts islands, or has an ideal wire or a source in it, is solved from scratch.
    pub fn with(&self, changes: &[(usize, Branch)]) -> Self {
        let mut all: Vec<(usize, Branch)> =
            self.update.iter().flat_map(|update| update.changes.iter().copied()).collect();
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
            Self::of(&circuit, self.base.omega)
        })
    }

    /// `None` where a correction will not do.
    fn corrected(&self, changes: &[(usize, Branch)]) -> Option<Self> {
        if changes.len() > MOST_CHANGES {
            return None;
        }
        let plain = Self { base: std::sync::Arc::clone(&self.base), update: None };
        let (base, topology) = (&self.base, &self.base.topology);
        let (mut fields, mut ends, mut deltas) = (Vec::new(), Vec::new(), Vec::new());
        let mut driving = Vec::new();
        for &(number, branch) in changes {
            let (a, b, _) = base.circuit.branches[number]; // numbers were looked up by the caller
            let new = branch.at(base.omega);
            let value = |part: Part| match part {
                Part::Open => Some(Phasor::new(0.0, 0.0)),
                Part::Conducts(siemens) => Some(siemens),
                _ => None,
            };
            let delta = value(new)? - value(topology.parts[number])?;
            let (group_a, group_b) = (topology.group_of(a), topology.group_of(b));
            if group_a == NONE || group_b == NONE {
                return None;
            }
            if topology.net[a as usize] == topology.net[b as usize] || delta.norm() == 0.0 {
                continue;
            }
            if topology.island[a as usize] != topology.island[b as usize] {
                return None;
            }
            let Answer::Known(volts) = plain.volts(a, b) else { return None };
            // Both ends held by ideal sources: no volts move.
            if group_a == group_b {
                continue;
            }
            fields.push(plain.base_field(&[(group_a, 1.0), (group_b, -1.0)]).ok()?);
            ends.push((group_a, group_b));
            deltas.push(delta);
            driving.push(volts);
        }
        let k = fields.len();
        let mut matrix = Mat::<Phasor>::zeros(k, k);
        for row in 0..k {
            for column in 0..k {
                matrix[(row, column)] = fields[column].level(ends[row].0) - fields[column].level(ends[row].1);
            }
            let own = matrix[(row, row)];
            let with = own + deltas[row].inv();
            if with.norm() <= TOO_CLOSE * own.norm() {
                return None;
            }
            matrix[(row, row)] = with;
        }
        let (strength, inverse) = if k == 0 {
            (Vec::new(), Vec::new())
        } else {
            let lu = matrix.partial_piv_lu();
            let inverse = lu.solve(Mat::<Phasor>::identity(k, k));
            let columns: Vec<Vec<Phasor>> =
                (0..k).map(|column| (0..k).map(|row| inverse[(row, column)]).collect()).collect();
            // A change of several branches may part an island where none of them does alone.
            let largest = columns.iter().flatten().map(|value| value.norm()).fold(0.0, f64::max);
            let scale = (0..k).map(|at| matrix[(at, at)].norm()).fold(0.0, f64::max);
            if !largest.is_finite() || (k > 1 && largest * scale > 1.0 / TOO_CLOSE) {
                return None;
            }
            let strength =
                (0..k).map(|row| (0..k).map(|column| columns[column][row] * driving[column]).sum()).collect();
            (strength, columns)
        };
        let update = Update { changes: changes.to_vec(), fields, ends, strength, inverse };
        Some(Self { base: std::sync::Arc::clone(base), update: Some(update) })
    }
}

impl Update {
    /// A branch, where it is changed.
    pub(super) fn changed(&self, number: usize) -> Option<Branch> {
        self.changes.iter().find(|(other, _)| *other == number).map(|(_, branch)| *branch)
    }

    /// By how much a group's volts are lower than before.
    pub(super) fn shift(&self, base: &Base, group: u32) -> Result<Phasor, Reason> {
        let _ = base;
        Ok(self.fields.iter().zip(&self.strength).map(|(field, strength)| field.level(group) * strength).sum())
    }

    /// The same for an unknown of a pocket.
    pub(super) fn shift_row(&self, pocket: usize, row: usize) -> Phasor {
        let pocket = u32::try_from(pocket).unwrap_or(NONE);
        let of = |field: &Field| field.pockets.get(&pocket).and_then(|x| x.get(row)).copied();
        let sum = self.fields.iter().zip(&self.strength);
        sum.filter_map(|(field, strength)| Some(of(field)? * strength)).sum()
    }

    /// Puts the changes into a field that knows nothing of them.
    pub(super) fn correct(&self, field: &mut Field) {
        let driving: Vec<Phasor> = self.ends.iter().map(|&(a, b)| field.level(a) - field.level(b)).collect();
        for (row, own) in self.fields.iter().enumerate() {
            let strength: Phasor =
                self.inverse.iter().zip(&driving).map(|(column, driving)| column[row] * driving).sum();
            for (pocket, x) in &own.pockets {
                let into = field.pockets.entry(*pocket).or_insert_with(|| vec![Phasor::new(0.0, 0.0); x.len()]);
                for (into, x) in into.iter_mut().zip(x) {
                    *into -= strength * x;
                }
            }
        }
    }
}
