//! One pocket of an island: its equations, and solutions that are checked.

use std::sync::{Arc, OnceLock};

use super::kept::Kept;
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

/// A pocket with its factors and its solution, each made when first asked for: most questions are about a few pockets of a machine.
#[derive(Debug)]
pub(super) struct Pocket {
    /// Number of groups of nets; unknowns from there on are the primary currents of transformers.
    pub groups: usize,
    edges: Vec<Edge>,
    windings: Vec<Winding>,
    factors: OnceLock<Factors>,
    live: OnceLock<Result<Vec<Phasor>, Reason>>,
}

/// What is known of a pocket's equations.
#[derive(Debug)]
struct Factors {
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
    /// All pockets of a network.
    pub(super) fn all(
        circuit: &Circuit,
        topology: &Topology,
        known: Option<&Known<'_>>,
        kept: Option<&Kept>,
    ) -> Vec<Arc<Self>> {
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
                Self::of(groups.len(), edges, windings, like, kept)
            })
            .collect()
    }

    fn of(
        groups: usize,
        edges: Vec<Edge>,
        windings: Vec<Winding>,
        like: Option<&Arc<Self>>,
        kept: Option<&Kept>,
    ) -> Arc<Self> {
        let like = like.filter(|like| like.groups == groups && like.windings == windings);
        if let Some(like) = like.filter(|like| like.edges == edges) {
            return Arc::clone(like);
        }
        let pocket = Self { groups, edges, windings, factors: OnceLock::new(), live: OnceLock::new() };
        // Where only what drives it has changed, its factors stay.
        let matrix = like.filter(|like| like.is_factored_as(&pocket)).and_then(|like| like.factors.get());
        if let Some(known) = matrix {
            let _ = pocket.factors.set(pocket.with_matrix(Arc::clone(&known.matrix)));
        }
        match kept {
            Some(kept) => kept.or_keep(pocket),
            None => Arc::new(pocket),
        }
    }

    /// Whether its equations and what drives it are those of another one.
    pub(super) fn is_same(&self, other: &Self) -> bool {
        (self.groups, &self.edges, &self.windings) == (other.groups, &other.edges, &other.windings)
    }

    /// How many edges it has.
    pub(super) fn edges(&self) -> usize {
        self.edges.len()
    }

    /// A number that is the same for the same pocket, and hardly for another one.
    pub(super) fn key(&self) -> u64 {
        let mix = |key: u64, value: u64| (key ^ value).wrapping_mul(0x9E37_79B9_7F4A_7C15).rotate_left(29);
        let rows = |end: &End| u64::from(end.row.unwrap_or(u32::MAX));
        let edge = |key: u64, edge: &Edge| {
            let [a, b] = &edge.ends;
            let numbers = [edge.siemens.re, edge.siemens.im, edge.amps.re, edge.amps.im];
            let offsets = [a.offset.re, a.offset.im, b.offset.re, b.offset.im];
            let key = mix(mix(key, edge.branch as u64), rows(a) << 32 | rows(b));
            numbers.into_iter().chain(offsets).fold(key, |key, number| mix(key, number.to_bits()))
        };
        // Windings are told apart by what is compared afterwards.
        self.edges.iter().fold((self.groups + self.windings.len()) as u64, edge)
    }

    fn links(&self) -> impl Iterator<Item = Link> + '_ {
        let conducting = self.edges.iter().filter(|edge| edge.siemens.l1_norm() > 0.0);
        conducting.map(|edge| Link { rows: edge.ends.map(|end| end.row), siemens: edge.siemens })
    }

    /// Whether its factors are those of another pocket with the same unknowns.
    fn is_factored_as(&self, other: &Self) -> bool {
        self.factors.get().is_some() && self.links().eq(other.links())
    }

    fn factors(&self) -> &Factors {
        self.factors.get_or_init(|| {
            let windings: Vec<Vec<(usize, f64)>> = self.windings.iter().map(Winding::rows).collect();
            let links: Vec<Link> = self.links().collect();
            self.with_matrix(Arc::new(Matrix::of(self.groups, &links, &windings)))
        })
    }

    fn with_matrix(&self, matrix: Arc<Matrix>) -> Factors {
        let mut weight = vec![0.0; self.unknowns()];
        for edge in &self.edges {
            for row in edge.ends.iter().filter_map(|end| end.row) {
                weight[row as usize] += 2.0 * edge.siemens.l1_norm();
            }
        }
        for (winding, weight) in self.windings.iter().zip(&mut weight[self.groups..]) {
            *weight = 2.0 + 2.0 * winding.ratio.abs();
        }
        Factors { matrix, weight, limits: Limits::of(&self.edges, &self.windings) }
    }

    /// Its unknowns with the sources live.
    ///
    /// # Errors
    /// As [`Self::solve`].
    pub(super) fn live(&self) -> Result<&[Phasor], Reason> {
        let live = self.live.get_or_init(|| self.solve(&[], true));
        live.as_deref().map_err(|reason| *reason)
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
        let noise = self.factors().weight.iter().map(|weight| weight * level).collect();
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

    /// What is left over in each equation where every unknown is nothing: what drives it.
    fn driving(&self, inject: &[(u32, Phasor)], live: bool) -> Vec<Phasor> {
        let zero = Phasor::new(0.0, 0.0);
        let mut by = vec![zero; self.unknowns()];
        for &(row, amps) in inject {
            by[row as usize] += amps;
        }
        if !live {
            return by;
        }
        for edge in &self.edges {
            let [a, b] = &edge.ends;
            let through = edge.siemens * (a.offset - b.offset) - edge.amps;
            for (end, amps) in edge.ends.iter().zip([-through, through]) {
                if let Some(row) = end.row {
                    by[row as usize] += amps;
                }
            }
        }
        for (number, winding) in self.windings.iter().enumerate() {
            for (end, factor) in winding.signed() {
                by[self.groups + number] -= end.offset * factor;
            }
        }
        by
    }

    /// The largest volts in it.
    pub(super) fn level(&self, x: &[Phasor], live: bool) -> f64 {
        let border = if live { self.factors().limits.volts } else { 0.0 };
        x.iter().take(self.groups).map(Phasor::l1_norm).fold(border, f64::max)
    }

    /// Solves for amps injected into groups, with the sources live or at zero.
    ///
    /// # Errors
    /// Where the answer is not finite, breaks Kirchhoff's law or is beyond what a passive network can show.
    pub(super) fn solve(&self, inject: &[(u32, Phasor)], live: bool) -> Result<Vec<Phasor>, Reason> {
        let mut x = self.apply(&self.driving(inject, live))?;
        let mut left = self.left_over(&x, inject, live, &[]);
        for _ in 1..ROUNDS {
            if left.is_none(REFINED, 0.0) {
                break;
            }
            let by = self.apply(&left.by)?;
            for (x, by) in x.iter_mut().zip(by) {
                *x += by;
            }
            left = self.left_over(&x, inject, live, &[]);
        }
        self.check(&x, &left, inject.iter().map(|(_, amps)| amps.norm()).fold(0.0, f64::max), live)?;
        Ok(x)
    }

    /// One solution by the factors, not checked.
    pub(super) fn apply(&self, right: &[Phasor]) -> Result<Vec<Phasor>, Reason> {
        self.factors().matrix.solve(right).ok_or(self.fails())
    }

    fn fails(&self) -> Reason {
        if self.factors().limits.can_resonate { Reason::Resonance } else { Reason::Unsolved }
    }

    /// Holds a solution against the laws.
    pub(super) fn check(&self, x: &[Phasor], left: &Left, amps: f64, live: bool) -> Result<(), Reason> {
        let limits = self.factors().limits;
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
