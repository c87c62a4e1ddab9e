//! One pocket of an island: its equations, and solutions that are checked.

use std::sync::Arc;

use super::matrix::Matrix;
use super::reduce::Link;
use super::topology::Topology;
use super::{Circuit, Phasor, Reason};

/// Kirchhoff's current law must hold to this share of the largest current at a node.
const KIRCHHOFF: f64 = 1e-9;
/// And rounding may add this share of what the pocket's largest volts would drive through all that meets at the node: where
/// less flows than that, it cannot be told from nothing.
const ROUNDING: f64 = 32.0 * f64::EPSILON;
/// A passive pocket's volts stay below its sources' by far; this many times above them it must resonate.
const FAR_ABOVE: f64 = 1e6;
/// A solution is refined until no more than this is left over, and no more than so often.
pub(super) const REFINED: f64 = 4.0 * f64::EPSILON;
pub(super) const ROUNDS: usize = 3;

/// One end of an edge or transformer: an unknown of the pocket (or the reference), and what ideal sources add to it.
#[derive(Debug, Clone, Copy, PartialEq)]
struct End {
    row: Option<u32>,
    offset: Phasor,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Edge {
    /// Its number among the network's branches; edges stand in this order.
    branch: usize,
    ends: [End; 2],
    siemens: Phasor,
    /// Injected into the first end whatever the volts.
    amps: Phasor,
}

#[derive(Debug, Clone, Copy, PartialEq)]
struct Winding {
    primary: [End; 2],
    secondary: [End; 2],
    ratio: f64,
}

/// A pocket with its factors and its solution.
#[derive(Debug)]
pub(super) struct Pocket {
    /// Number of groups of nets; unknowns from there on are the primary currents of transformers.
    pub groups: usize,
    /// Its unknowns, or why there are none.
    pub live: Result<Vec<Phasor>, Reason>,
    edges: Vec<Edge>,
    windings: Vec<Winding>,
    matrix: Arc<Matrix>,
    /// For each equation: the sum of the sizes of its coefficients.
    weight: Vec<f64>,
    limits: Limits,
}

/// What volts there can be.
#[derive(Debug, Clone, Copy)]
struct Limits {
    /// Inductance and capacitance are both in it.
    can_resonate: bool,
    /// Largest impedance of an edge.
    ohms: f64,
    /// Largest volts of ideal sources at its border, and amps of sources.
    volts: f64,
    amps: f64,
}

/// Pockets solved before, from which factors and solutions are taken where nothing has changed.
pub(super) struct Known<'a> {
    pub topology: &'a Topology,
    pub pockets: &'a [Arc<Pocket>],
}

impl Pocket {
    /// All pockets of a network, solved.
    pub(super) fn all(circuit: &Circuit, topology: &Topology, known: Option<&Known<'_>>) -> Vec<Arc<Self>> {
        let mut edges: Vec<Vec<Edge>> = topology.pockets.iter().map(|_| Vec::new()).collect();
        let place = |node: u32| topology.place[topology.group[node as usize] as usize];
        let end = |node: u32| End { row: place(node).map(|(_, row)| row), offset: topology.offset[node as usize] };
        for (branch, (&(a, b, _), part)) in circuit.branches.iter().zip(&topology.parts).enumerate() {
            let siemens = part.admittance().unwrap_or(Phasor::new(0.0, 0.0));
            let amps = part.injection();
            if siemens == amps && siemens == Phasor::new(0.0, 0.0) {
                continue;
            }
            let ends = [end(a), end(b)];
            let pockets = [a, b].map(|node| place(node).map(|(pocket, _)| pocket));
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
                edges[pocket as usize].push(Edge { branch, ends: here, siemens, amps });
            }
        }
        let windings = topology.transformers.iter().map(|numbers| {
            let winding = |&number: &usize| {
                let one = circuit.transformers[number]; // numbers come from the topology of this network
                Winding { primary: one.primary.map(end), secondary: one.secondary.map(end), ratio: one.ratio }
            };
            numbers.iter().map(winding).collect::<Vec<_>>()
        });
        let parts = topology.pockets.iter().zip(edges).zip(windings);
        parts
            .map(|((groups, edges), windings)| {
                let like = known.and_then(|known| {
                    let place = known.topology.place.get(*groups.first()? as usize).copied().flatten()?;
                    known.pockets.get(place.0 as usize)
                });
                Self::of(groups.len(), edges, windings, like)
            })
            .collect()
    }

    fn of(groups: usize, edges: Vec<Edge>, windings: Vec<Winding>, like: Option<&Arc<Self>>) -> Arc<Self> {
        let like = like.filter(|like| like.groups == groups && like.windings == windings);
        if let Some(like) = like.filter(|like| like.edges == edges) {
            return Arc::clone(like);
        }
        let link = |edge: &Edge| Link { rows: edge.ends.map(|end| end.row), siemens: edge.siemens };
        let links = |edges: &[Edge]| -> Vec<Link> {
            edges.iter().filter(|edge| edge.siemens.l1_norm() > 0.0).map(link).collect()
        };
        let own = links(&edges);
        let matrix = if let Some(like) = like.filter(|like| links(&like.edges) == own) {
            Arc::clone(&like.matrix)
        } else {
            let windings: Vec<Vec<(usize, f64)>> = windings.iter().map(Winding::rows).collect();
            Arc::new(Matrix::of(groups, &own, &windings))
        };
        let limits = Limits::of(&edges, &windings);
        let mut weight = vec![0.0; groups + windings.len()];
        for edge in &edges {
            for row in edge.ends.iter().filter_map(|end| end.row) {
                weight[row as usize] += 2.0 * edge.siemens.l1_norm();
            }
        }
        for (winding, weight) in windings.iter().zip(&mut weight[groups..]) {
            *weight = 2.0 + 2.0 * winding.ratio.abs();
        }
        let mut pocket = Self { groups, live: Err(Reason::Unsolved), edges, windings, matrix, weight, limits };
        pocket.live = pocket.solve(&[], true);
        Arc::new(pocket)
    }

    pub(super) fn unknowns(&self) -> usize {
        self.groups + self.windings.len()
    }

    /// The branches that may be to blame where it has no solution: those that store energy when it resonates.
    pub(super) fn to_blame(&self, reason: Reason) -> Vec<usize> {
        let blamed = |edge: &&Edge| reason != Reason::Resonance || edge.siemens.im != 0.0;
        self.edges.iter().filter(blamed).map(|edge| edge.branch).collect()
    }

    /// The places of branches among its edges, ascending.
    pub(super) fn places(&self, branches: impl Iterator<Item = usize>) -> Vec<usize> {
        let mut places: Vec<usize> =
            branches.filter_map(|branch| self.edges.binary_search_by_key(&branch, |edge| edge.branch).ok()).collect();
        places.sort_unstable();
        places
    }

    /// What is left over in each equation: amps into a group that do not leave it, volts by which a transformer is off.
    /// `live`: sources count; else they are at zero and only `inject` drives. The edges at the places `without` are left out.
    pub(super) fn left_over(&self, x: &[Phasor], inject: &[(u32, Phasor)], live: bool, without: &[usize]) -> Left {
        let zero = Phasor::new(0.0, 0.0);
        let level = self.level(x, live);
        let noise = self.weight.iter().map(|weight| weight * level).collect();
        let mut left = Left { by: vec![zero; x.len()], most: vec![0.0; x.len()], noise };
        for &(row, amps) in inject {
            left.add(row, amps);
        }
        let volts = |end: End| end.row.map_or(zero, |row| x[row as usize]) + if live { end.offset } else { zero };
        let mut begin = 0;
        for end in without.iter().copied().chain([self.edges.len()]) {
            for edge in &self.edges[begin..end] {
                let [va, vb] = edge.ends.map(volts);
                let through = edge.siemens * (va - vb) - if live { edge.amps } else { zero };
                for (end, amps) in edge.ends.iter().zip([-through, through]) {
                    if let Some(row) = end.row {
                        left.add(row, amps);
                    }
                }
            }
            if let Some(out) = self.edges.get(end) {
                for row in out.ends.iter().filter_map(|end| end.row) {
                    left.blur(row, -2.0 * out.siemens.l1_norm() * level);
                }
            }
            begin = (end + 1).min(self.edges.len());
        }
        for (number, winding) in self.windings.iter().enumerate() {
            let at = self.groups + number;
            let current = x[at];
            for (end, factor) in winding.signed() {
                if let Some(row) = end.row {
                    left.add(row, -current * factor);
                }
                left.by[at] -= volts(end) * factor;
            }
        }
        left
    }

    /// The largest volts in it.
    pub(super) fn level(&self, x: &[Phasor], live: bool) -> f64 {
        let border = if live { self.limits.volts } else { 0.0 };
        x.iter().take(self.groups).map(Phasor::l1_norm).fold(border, f64::max)
    }

    /// Solves for amps injected into groups, with the sources live or at zero.
    ///
    /// # Errors
    /// Where the answer is not finite, breaks Kirchhoff's law or is beyond what a passive network can show.
    pub(super) fn solve(&self, inject: &[(u32, Phasor)], live: bool) -> Result<Vec<Phasor>, Reason> {
        let mut x = vec![Phasor::new(0.0, 0.0); self.unknowns()];
        let mut left = self.left_over(&x, inject, live, &[]);
        for _ in 0..ROUNDS {
            let by = self.apply(&left.by)?;
            for (x, by) in x.iter_mut().zip(by) {
                *x += by;
            }
            left = self.left_over(&x, inject, live, &[]);
            if left.is_none(REFINED, 0.0) {
                break;
            }
        }
        self.check(&x, &left, inject.iter().map(|(_, amps)| amps.norm()).fold(0.0, f64::max), live)?;
        Ok(x)
    }

    /// One solution by the factors, not checked.
    pub(super) fn apply(&self, right: &[Phasor]) -> Result<Vec<Phasor>, Reason> {
        self.matrix.solve(right).ok_or(self.fails())
    }

    fn fails(&self) -> Reason {
        if self.limits.can_resonate { Reason::Resonance } else { Reason::Unsolved }
    }

    /// Holds a solution against the laws.
    pub(super) fn check(&self, x: &[Phasor], left: &Left, amps: f64, live: bool) -> Result<(), Reason> {
        let limits = self.limits;
        let (volts, amps) = if live { (limits.volts, amps + limits.amps) } else { (0.0, amps) };
        let bound = FAR_ABOVE * (volts + amps * limits.ohms);
        // Written so that what is not a number fails.
        let bounded = x.iter().take(self.groups).all(|x| x.l1_norm() <= bound);
        let finite = x.iter().all(|x| x.is_finite());
        if finite && bounded && left.is_none(ROUNDING, KIRCHHOFF) { Ok(()) } else { Err(self.fails()) }
    }
}

impl Limits {
    fn of(edges: &[Edge], windings: &[Winding]) -> Self {
        let conducting = || edges.iter().filter(|edge| edge.siemens.l1_norm() > 0.0);
        let ends = windings.iter().flat_map(|one| one.primary.into_iter().chain(one.secondary));
        let ends = ends.chain(edges.iter().flat_map(|edge| edge.ends));
        Self {
            can_resonate: conducting().any(|edge| edge.siemens.im > 0.0)
                && conducting().any(|edge| edge.siemens.im < 0.0),
            ohms: conducting().map(|edge| 1.0 / edge.siemens.norm()).fold(0.0, f64::max),
            volts: ends.map(|end| end.offset.norm()).fold(0.0, f64::max),
            amps: edges.iter().map(|edge| edge.amps.norm()).fold(0.0, f64::max),
        }
    }
}

impl Winding {
    /// Its four ends with the factors of its equation.
    fn signed(&self) -> [(End, f64); 4] {
        let [p, q] = self.primary;
        let [s, t] = self.secondary;
        [(p, 1.0), (q, -1.0), (s, -self.ratio), (t, self.ratio)]
    }

    /// The same, of the ends that are unknowns.
    fn rows(&self) -> Vec<(usize, f64)> {
        self.signed().into_iter().filter_map(|(end, factor)| Some((end.row? as usize, factor))).collect()
    }
}

/// What is left over in each equation, beside the largest term of it and what rounding can make of its terms.
pub(super) struct Left {
    pub by: Vec<Phasor>,
    most: Vec<f64>,
    noise: Vec<f64>,
}

impl Left {
    /// Adds amps into a row.
    pub(super) fn add(&mut self, row: u32, amps: Phasor) {
        let row = row as usize;
        self.by[row] += amps;
        self.most[row] = self.most[row].max(amps.l1_norm());
    }

    /// Adds to what rounding may make of a row.
    pub(super) fn blur(&mut self, row: u32, noise: f64) {
        self.noise[row as usize] += noise;
    }

    /// Whether nothing is left but these shares of rounding and of the largest term. What is not a number is something.
    pub(super) fn is_none(&self, of_noise: f64, of_most: f64) -> bool {
        let rows = self.by.iter().zip(&self.most).zip(&self.noise);
        rows.into_iter().all(|((by, most), noise)| by.l1_norm() <= of_noise * noise + of_most * most)
    }
}
