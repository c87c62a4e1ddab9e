//! One pocket of an island: its equations, their factors, and solutions that are checked.

use faer::Mat;
use faer::linalg::solvers::{PartialPivLu, Solve};
use faer::sparse::linalg::solvers::Lu;
use faer::sparse::{SparseColMat, Triplet};

use super::topology::Topology;
use super::{Circuit, Phasor, Reason};

/// Pockets of up to this many unknowns are factored dense.
const DENSE: usize = 24;
/// Kirchhoff's current law must hold to this share of the largest current at a node.
const KIRCHHOFF: f64 = 1e-9;
/// What rounding can make of terms that cancel, as a share of them.
const ROUNDING: f64 = 256.0 * f64::EPSILON;
/// A passive pocket's volts stay below its sources' by far; this many times above them it must resonate.
const FAR_ABOVE: f64 = 1e6;

/// One end of an edge or transformer: an unknown of the pocket (or the reference), and what ideal sources add to it.
#[derive(Debug, Clone, Copy)]
struct End {
    row: Option<usize>,
    offset: Phasor,
}

#[derive(Debug, Clone, Copy)]
struct Edge {
    ends: [End; 2],
    siemens: Phasor,
    /// Injected into the first end whatever the volts.
    amps: Phasor,
}

#[derive(Debug, Clone, Copy)]
struct Winding {
    primary: [End; 2],
    secondary: [End; 2],
    ratio: f64,
}

#[derive(Debug)]
enum Factors {
    One(Phasor),
    Dense(PartialPivLu<Phasor>),
    Sparse(Lu<usize, Phasor>),
}

/// A pocket with its factors.
#[derive(Debug)]
pub(super) struct Pocket {
    /// Number of groups of nets; unknowns above that are currents of transformers.
    groups: usize,
    edges: Vec<Edge>,
    windings: Vec<Winding>,
    /// Row and column scale.
    scale: Vec<f64>,
    factors: Option<Factors>,
    /// Inductance and capacitance are both in it.
    can_resonate: bool,
    /// Largest impedance of an edge.
    most_ohms: f64,
    /// Largest volts of ideal sources at its border.
    most_volts: f64,
}

impl Pocket {
    /// All pockets of a network.
    pub(super) fn all(circuit: &Circuit, topology: &Topology) -> Vec<Self> {
        let mut edges: Vec<Vec<Edge>> = topology.pockets.iter().map(|_| Vec::new()).collect();
        let end = |node: u32| End {
            row: topology.place[topology.group[node as usize] as usize].map(|(_, row)| row as usize),
            offset: topology.offset[node as usize],
        };
        let pocket_of = |node: u32| topology.place[topology.group[node as usize] as usize].map(|(pocket, _)| pocket);
        for (&(a, b, _), part) in circuit.branches.iter().zip(&topology.parts) {
            let siemens = part.admittance().unwrap_or(Phasor::new(0.0, 0.0));
            let amps = part.injection();
            if siemens == amps && siemens == Phasor::new(0.0, 0.0) {
                continue;
            }
            let ends = [end(a), end(b)];
            let pockets = [pocket_of(a), pocket_of(b)];
            for (side, pocket) in pockets.into_iter().enumerate() {
                let Some(pocket) = pocket else { continue };
                if side == 1 && pockets[0] == Some(pocket) {
                    continue;
                }
                // A current source may stand between two pockets: each sees its own end only.
                let mut here = ends;
                if pockets[1 - side].is_some_and(|other| other != pocket) {
                    here[1 - side].row = None;
                }
                edges[pocket as usize].push(Edge { ends: here, siemens, amps });
            }
        }
        let windings = topology.transformers.iter().map(|numbers| {
            let winding = |&number: &usize| {
                let one = circuit.transformers[number]; // numbers come from the topology of this network
                Winding { primary: one.primary.map(end), secondary: one.secondary.map(end), ratio: one.ratio }
            };
            numbers.iter().map(winding).collect::<Vec<_>>()
        });
        topology
            .pockets
            .iter()
            .zip(edges)
            .zip(windings)
            .map(|((groups, edges), windings)| Self::of(groups.len(), edges, windings))
            .collect()
    }

    fn of(groups: usize, edges: Vec<Edge>, windings: Vec<Winding>) -> Self {
        let conducting = || edges.iter().filter(|edge| edge.siemens.norm() > 0.0);
        let can_resonate =
            conducting().any(|edge| edge.siemens.im > 0.0) && conducting().any(|edge| edge.siemens.im < 0.0);
        let most_ohms = conducting().map(|edge| 1.0 / edge.siemens.norm()).fold(0.0, f64::max);
        let borders = edges.iter().flat_map(|edge| edge.ends);
        let windings_ends = windings.iter().flat_map(|one| one.primary.into_iter().chain(one.secondary));
        let most_volts = borders.chain(windings_ends).map(|end| end.offset.norm()).fold(0.0, f64::max);
        let mut pocket =
            Self { groups, edges, windings, scale: Vec::new(), factors: None, can_resonate, most_ohms, most_volts };
        pocket.factor();
        pocket
    }

    fn unknowns(&self) -> usize {
        self.groups + self.windings.len()
    }

    /// Entries of the symmetric matrix, one for each (row, column); the same place may come more than once.
    fn entries(&self) -> Vec<(usize, usize, Phasor)> {
        let mut entries = Vec::with_capacity(4 * self.edges.len() + 8 * self.windings.len());
        for edge in &self.edges {
            let [a, b] = edge.ends.map(|end| end.row);
            if edge.siemens.norm() == 0.0 || (a.is_some() && a == b) {
                continue;
            }
            for row in [a, b].into_iter().flatten() {
                entries.push((row, row, edge.siemens));
            }
            if let (Some(a), Some(b)) = (a, b) {
                entries.push((a, b, -edge.siemens));
                entries.push((b, a, -edge.siemens));
            }
        }
        for (number, winding) in self.windings.iter().enumerate() {
            let current = self.groups + number;
            for (end, factor) in winding.signed() {
                if let Some(row) = end.row {
                    let factor = Phasor::new(factor, 0.0);
                    entries.push((row, current, factor));
                    entries.push((current, row, factor));
                }
            }
        }
        entries
    }

    fn factor(&mut self) {
        let n = self.unknowns();
        let entries = self.entries();
        let mut scale = vec![1.0f64; n];
        // Equilibration by Ruiz: each pass divides by the root of the largest entry left in the row.
        for _ in 0..3 {
            let mut largest = vec![0.0f64; n];
            for &(row, column, value) in &entries {
                let size = value.norm() * scale[row] * scale[column];
                largest[row] = largest[row].max(size);
            }
            for (scale, largest) in scale.iter_mut().zip(largest) {
                if largest > 0.0 && largest.is_finite() {
                    *scale /= largest.sqrt();
                }
            }
        }
        let scaled =
            |&(row, column, value): &(usize, usize, Phasor)| (row, column, value * (scale[row] * scale[column]));
        self.factors = if n == 1 {
            Some(Factors::One(entries.iter().map(scaled).map(|(.., value)| value).sum()))
        } else if n <= DENSE {
            let mut dense = Mat::<Phasor>::zeros(n, n);
            for (row, column, value) in entries.iter().map(scaled) {
                dense[(row, column)] += value;
            }
            Some(Factors::Dense(dense.partial_piv_lu()))
        } else {
            let triplets: Vec<Triplet<usize, usize, Phasor>> =
                entries.iter().map(scaled).map(|(row, column, value)| Triplet::new(row, column, value)).collect();
            SparseColMat::<usize, Phasor>::try_new_from_triplets(n, n, &triplets)
                .ok()
                .and_then(|matrix| matrix.sp_lu().ok())
                .map(Factors::Sparse)
        };
        self.scale = scale;
    }

    /// What is left over in each equation: amps into a group that do not leave it, volts by which a transformer is off.
    /// `live`: sources count; else they are at zero and only `inject` drives.
    fn left_over(&self, x: &[Phasor], inject: &[(usize, Phasor)], live: bool) -> Left {
        let zero = Phasor::new(0.0, 0.0);
        let mut left = Left { by: vec![zero; x.len()], most: vec![0.0; x.len()], noise: vec![0.0; x.len()] };
        for &(row, amps) in inject {
            left.add(row, amps, amps.norm(), 0.0);
        }
        let volts = |end: End| end.row.map_or(zero, |row| x[row]) + if live { end.offset } else { zero };
        // What volts are added up from anywhere in the pocket: rounding is a share of this, not of what is left.
        let size =
            x.iter().take(self.groups).map(|x| x.norm()).fold(if live { self.most_volts } else { 0.0 }, f64::max);
        for edge in &self.edges {
            let [va, vb] = edge.ends.map(volts);
            let through = edge.siemens * (va - vb) - if live { edge.amps } else { zero };
            let noise = edge.siemens.norm() * size;
            for (end, amps) in edge.ends.iter().zip([-through, through]) {
                if let Some(row) = end.row {
                    left.add(row, amps, amps.norm(), noise);
                }
            }
        }
        for (number, winding) in self.windings.iter().enumerate() {
            let at = self.groups + number;
            let current = x[at];
            for (end, factor) in winding.signed() {
                if let Some(row) = end.row {
                    left.add(row, -current * factor, (current * factor).norm(), 0.0);
                }
                left.add(at, -volts(end) * factor, 0.0, size * factor.abs());
            }
        }
        left
    }

    /// Solves for amps injected into groups, with the sources live or at zero.
    pub(super) fn solve(&self, inject: &[(usize, Phasor)], live: bool) -> Result<Vec<Phasor>, Reason> {
        let mut x = vec![Phasor::new(0.0, 0.0); self.unknowns()];
        let unsolved = if self.can_resonate { Reason::Resonance } else { Reason::Unsolved };
        // The first round solves, the second refines.
        for _ in 0..2 {
            let left = self.left_over(&x, inject, live);
            let by = self.apply(&left.by).ok_or(Reason::Unsolved)?;
            for (x, by) in x.iter_mut().zip(by) {
                *x += by;
            }
            if x.iter().any(|x| !x.re.is_finite() || !x.im.is_finite()) {
                return Err(unsolved);
            }
        }
        let driven = inject.iter().map(|(_, amps)| amps.norm()).fold(0.0, f64::max);
        let sources = self.edges.iter().map(|edge| edge.amps.norm()).fold(0.0, f64::max);
        let driven = driven + if live { sources } else { 0.0 };
        let bound = FAR_ABOVE * (if live { self.most_volts } else { 0.0 } + driven * self.most_ohms);
        if x.iter().take(self.groups).any(|x| x.norm() > bound && x.norm() > 0.0) {
            return Err(unsolved);
        }
        let left = self.left_over(&x, inject, live);
        let holds = left.by.iter().zip(&left.most).zip(&left.noise);
        for (row, ((by, most), noise)) in holds.enumerate() {
            let driven = if row < self.groups { driven } else { driven * self.most_ohms };
            if by.norm() > KIRCHHOFF * most + ROUNDING * (noise + driven) {
                return Err(unsolved);
            }
        }
        Ok(x)
    }

    fn apply(&self, right: &[Phasor]) -> Option<Vec<Phasor>> {
        let n = right.len();
        let scaled = |row: usize| right[row] * self.scale[row];
        let solved = match self.factors.as_ref()? {
            Factors::One(entry) => return Some(vec![scaled(0) / *entry * self.scale[0]]),
            Factors::Dense(lu) => lu.solve(Mat::from_fn(n, 1, |row, _| scaled(row))),
            Factors::Sparse(lu) => lu.solve(Mat::from_fn(n, 1, |row, _| scaled(row))),
        };
        Some((0..n).map(|row| solved[(row, 0)] * self.scale[row]).collect())
    }

    /// Number of groups: unknowns from here on are the primary currents of the pocket's transformers.
    pub(super) fn groups(&self) -> usize {
        self.groups
    }
}

impl Winding {
    /// Its four ends with the factors of its equation.
    fn signed(&self) -> [(End, f64); 4] {
        let [p, q] = self.primary;
        let [s, t] = self.secondary;
        [(p, 1.0), (q, -1.0), (s, -self.ratio), (t, self.ratio)]
    }
}

/// What is left over in each equation, beside the largest term of it and what rounding can make of its terms.
struct Left {
    by: Vec<Phasor>,
    most: Vec<f64>,
    noise: Vec<f64>,
}

impl Left {
    fn add(&mut self, row: usize, value: Phasor, size: f64, noise: f64) {
        self.by[row] += value;
        self.most[row] = self.most[row].max(size);
        self.noise[row] += noise;
    }
}
