//! The factors of a pocket's equations, and solutions by them, not yet checked.

use faer::Mat;
use faer::linalg::solvers::{PartialPivLu, Solve};
use faer::sparse::linalg::solvers::Lu;
use faer::sparse::{SparseColMat, Triplet};

use super::Phasor;
use super::reduce::{Link, Reduced};

/// What is left of a pocket is factored dense up to this many unknowns.
const DENSE: usize = 32;

/// A pocket's equations, factored.
#[derive(Debug)]
pub(super) struct Matrix {
    unknowns: usize,
    reduced: Reduced,
    /// The unknowns that are left: rows not taken out, then currents of transformers.
    rest: Vec<usize>,
    /// Scale of their rows and columns.
    scale: Vec<f64>,
    factors: Factors,
}

#[derive(Debug)]
enum Factors {
    None,
    Dense(PartialPivLu<Phasor>),
    Sparse(Lu<usize, Phasor>),
    Failed,
}

impl Matrix {
    /// `groups` rows of nodal equations with these links, then one row for each transformer: its ends' rows and factors.
    pub(super) fn of(groups: usize, links: &[Link], windings: &[Vec<(usize, f64)>]) -> Self {
        let mut pinned = vec![false; groups];
        for &(row, _) in windings.iter().flatten() {
            pinned[row] = true;
        }
        let reduced = Reduced::of(groups, links, &pinned);
        let mut rest: Vec<usize> = reduced.rest.iter().map(|&row| row as usize).collect();
        let mut entries = reduced.entries.clone();
        let left = rest.len();
        for (number, winding) in windings.iter().enumerate() {
            rest.push(groups + number);
            for &(row, factor) in winding {
                // Pinned rows are never taken out.
                if let Ok(at) = rest[..left].binary_search(&row) {
                    entries.push((at, left + number, Phasor::new(factor, 0.0)));
                    entries.push((left + number, at, Phasor::new(factor, 0.0)));
                }
            }
        }
        let scale = equilibrated(rest.len(), &entries);
        let factors = factored(rest.len(), &entries, &scale);
        Self { unknowns: groups + windings.len(), reduced, rest, scale, factors }
    }

    /// Solves for this right side. `None` where there are no factors.
    pub(super) fn solve(&self, right: &[Phasor]) -> Option<Vec<Phasor>> {
        let mut x = right.to_vec();
        x.resize(self.unknowns, Phasor::new(0.0, 0.0));
        self.reduced.gather(&mut x);
        let right = || Mat::from_fn(self.rest.len(), 1, |at, _| x[self.rest[at]] * self.scale[at]);
        let solved = match &self.factors {
            Factors::None => Mat::zeros(0, 1),
            Factors::Dense(lu) => lu.solve(right()),
            Factors::Sparse(lu) => lu.solve(right()),
            Factors::Failed => return None,
        };
        for (at, (&row, scale)) in self.rest.iter().zip(&self.scale).enumerate() {
            x[row] = solved[(at, 0)] * *scale;
        }
        self.reduced.spread(&mut x);
        Some(x)
    }
}

/// Scales of rows and columns after Ruiz: each pass divides by the root of the largest entry left in the row.
fn equilibrated(n: usize, entries: &[(usize, usize, Phasor)]) -> Vec<f64> {
    let mut scale = vec![1.0f64; n];
    for _ in 0..3 {
        let mut largest = vec![0.0f64; n];
        for &(row, column, value) in entries {
            largest[row] = largest[row].max(value.l1_norm() * scale[row] * scale[column]);
        }
        for (scale, largest) in scale.iter_mut().zip(largest) {
            if largest > 0.0 && largest.is_finite() {
                *scale /= largest.sqrt();
            }
        }
    }
    scale
}

fn factored(n: usize, entries: &[(usize, usize, Phasor)], scale: &[f64]) -> Factors {
    let scaled = entries.iter().map(|&(row, column, value)| (row, column, value * (scale[row] * scale[column])));
    if n == 0 {
        return Factors::None;
    }
    if entries.iter().any(|(.., value)| !value.is_finite()) {
        return Factors::Failed;
    }
    if n <= DENSE {
        let mut dense = Mat::<Phasor>::zeros(n, n);
        for (row, column, value) in scaled {
            dense[(row, column)] += value;
        }
        return Factors::Dense(dense.partial_piv_lu());
    }
    let triplets: Vec<Triplet<usize, usize, Phasor>> =
        scaled.map(|(row, column, value)| Triplet::new(row, column, value)).collect();
    let matrix = SparseColMat::<usize, Phasor>::try_new_from_triplets(n, n, &triplets).ok();
    match matrix.and_then(|matrix| matrix.sp_lu().ok()) {
        Some(lu) => Factors::Sparse(lu),
        None => Factors::Failed,
    }
}
