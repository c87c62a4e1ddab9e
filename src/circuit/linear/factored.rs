//! A network with its factors and its solution, and the readings taken from it.

use std::collections::BTreeMap;
use std::sync::{Arc, OnceLock};

use super::kept::Kept;
use super::pocket::{Known, Pocket};
use super::topology::{NONE, Topology};
use super::update::Update;
use super::{Answer, Branch, Circuit, Part, Phasor, Reason, Remark};

/// A network at one frequency, solved.
///
/// Cloning shares the factors.
#[derive(Debug, Clone)]
pub struct Factored {
    pub(super) base: Arc<Base>,
    pub(super) update: Option<Update>,
}

/// What is solved once, each pocket when it is first asked for.
#[derive(Debug)]
pub(super) struct Base {
    pub circuit: Circuit,
    pub omega: f64,
    pub topology: Topology,
    pub pockets: Vec<Arc<Pocket>>,
    /// Made when first asked for: every pocket is solved for it.
    pub remarks: OnceLock<Vec<Remark>>,
}

/// Volts everywhere for one ampere through two nodes, sources at zero.
#[derive(Debug, Clone)]
pub struct Field {
    base: Arc<Base>,
    pub(super) pockets: Levels,
}

/// Unknowns by pocket.
pub(super) type Levels = BTreeMap<u32, Vec<Phasor>>;

impl Factored {
    /// Solves a network at this angular frequency (radians per second; zero is direct current).
    ///
    /// Never fails: what has no answer is said by [`Factored::remarks`] and by each reading.
    pub fn of(circuit: &Circuit, omega: f64) -> Self {
        Self::like(circuit.clone(), omega, None, None)
    }

    /// The same; with a store, what was solved before is taken over, and what is solved now is kept there.
    pub fn keeping(circuit: &Circuit, omega: f64, kept: Option<&Kept>) -> Self {
        Self::like(circuit.clone(), omega, None, kept)
    }

    /// The same network at another frequency.
    pub fn at(&self, omega: f64) -> Self {
        Self::like(self.circuit(), omega, Some(&self.base), None)
    }

    /// The network as it stands now, changes included.
    pub fn circuit(&self) -> Circuit {
        let mut circuit = self.base.circuit.clone();
        for &(number, branch) in self.update.iter().flat_map(Update::changes) {
            circuit.branches[number].2 = branch; // numbers were looked up when they were changed
        }
        circuit
    }

    /// Solves, taking over what a network solved before has in common with this one.
    pub(super) fn like(circuit: Circuit, omega: f64, before: Option<&Base>, kept: Option<&Kept>) -> Self {
        let topology = Topology::of(&circuit, omega);
        let known = before.map(|base| Known { topology: &base.topology, pockets: &base.pockets });
        let pockets = Pocket::all(&circuit, &topology, known.as_ref(), kept);
        let base = Base { circuit, omega, topology, pockets, remarks: OnceLock::new() };
        Self { base: Arc::new(base), update: None }
    }

    /// The angular frequency it is solved at, in radians per second.
    pub fn omega(&self) -> f64 {
        self.base.omega
    }

    /// What is wrong with the network: shorts, sources at odds or side by side, current sources without a way back, resonance.
    pub fn remarks(&self) -> &[Remark] {
        self.base.remarks.get_or_init(|| {
            let mut remarks = self.base.topology.remarks.clone();
            for pocket in &self.base.pockets {
                if let Err(reason) = pocket.live() {
                    remarks.push(Remark { reason, branches: pocket.to_blame(reason) });
                }
            }
            remarks
        })
    }

    /// The island of a node. `None` for a node that does not exist.
    pub fn island(&self, node: u32) -> Option<u32> {
        self.base.topology.island.get(node as usize).copied()
    }

    /// Whether ideal wires hold two nodes together.
    pub fn is_one_net(&self, a: u32, b: u32) -> bool {
        let net = |node: u32| self.base.topology.net.get(node as usize);
        net(a).is_some() && net(a) == net(b)
    }

    /// A branch as it stands now.
    pub fn branch(&self, number: usize) -> Option<Branch> {
        let changed = self.update.as_ref().and_then(|update| update.changed(number));
        changed.or_else(|| self.base.circuit.branches.get(number).map(|entry| entry.2))
    }

    /// Volts of `a` against `b`.
    pub fn volts(&self, a: u32, b: u32) -> Answer<Phasor> {
        if let Some(reason) = self.apart(a, b) {
            return Answer::Undetermined(reason);
        }
        if self.is_one_net(a, b) {
            return Answer::Known(Phasor::new(0.0, 0.0));
        }
        match (self.level(a), self.level(b)) {
            (Ok(a), Ok(b)) => finite(a - b),
            (Err(reason), _) | (_, Err(reason)) => Answer::Undetermined(reason),
        }
    }

    /// Why there can be no reading between two nodes, by structure alone.
    fn apart(&self, a: u32, b: u32) -> Option<Reason> {
        match (self.island(a), self.island(b)) {
            (Some(a), Some(b)) if a == b => self.base.topology.broken[a as usize],
            (Some(_), Some(_)) => Some(Reason::SeparateIslands),
            _ => Some(Reason::NotANumber),
        }
    }

    /// Volts of a node against its island's reference.
    fn level(&self, node: u32) -> Result<Phasor, Reason> {
        let base = &self.base;
        let offset = base.topology.offset[node as usize];
        let group = base.topology.group[node as usize];
        let Some((pocket, row)) = base.topology.place[group as usize] else { return Ok(offset) };
        Ok(self.unknowns(pocket)?[row as usize] + offset)
    }

    /// The unknowns of a pocket as the network stands now.
    fn unknowns(&self, pocket: u32) -> Result<&[Phasor], Reason> {
        match self.update.as_ref().and_then(|update| update.live(pocket)) {
            Some(x) => Ok(x),
            None => self.base.pockets[pocket as usize].live(),
        }
    }

    /// Volts across a branch, first node against second.
    pub fn volts_across(&self, number: usize) -> Answer<Phasor> {
        match self.base.circuit.branches.get(number) {
            Some(&(a, b, _)) => self.volts(a, b),
            None => Answer::Undetermined(Reason::NotANumber),
        }
    }

    /// Amps through a branch, from its first node to its second.
    ///
    /// For ideal wires and for ideal sources in a loop there is no saying: [`Reason::Shared`].
    pub fn amps(&self, number: usize) -> Answer<Phasor> {
        let Some((a, b, branch)) = self.base.circuit.branches.get(number).copied() else {
            return Answer::Undetermined(Reason::NotANumber);
        };
        let branch = self.branch(number).unwrap_or(branch);
        match branch.at(self.base.omega) {
            Part::Open => Answer::Known(Phasor::new(0.0, 0.0)),
            Part::Conducts(siemens) => self.volts(a, b).and_then(|volts| finite(siemens * volts)),
            Part::Drives(siemens, amps) => self.volts(a, b).and_then(|volts| finite(siemens * volts - amps)),
            // Injected into the first node, so through the branch from second to first.
            Part::Injects(amps) => Answer::Known(-amps),
            Part::Bad => Answer::Undetermined(Reason::NotANumber),
            Part::Wire => Answer::Undetermined(Reason::Shared),
            Part::Holds(_) => self.source_amps(number),
        }
    }

    /// Amps through an ideal source: what leaves the nets on its far side and comes back through it alone.
    fn source_amps(&self, number: usize) -> Answer<Phasor> {
        let (base, topology) = (&self.base, &self.base.topology);
        if topology.in_loop[number] {
            return Answer::Undetermined(Reason::Shared);
        }
        let (first, second, _) = base.circuit.branches[number];
        if let Some(reason) = self.apart(first, second) {
            return Answer::Undetermined(reason);
        }
        let side = topology.side(&base.circuit, number);
        let mut leaving = Phasor::new(0.0, 0.0);
        for (at, &(a, b, _)) in base.circuit.branches.iter().enumerate() {
            let (Some(a), Some(b)) = (topology.net.get(a as usize), topology.net.get(b as usize)) else { continue };
            let (in_a, in_b) = (side.contains(a), side.contains(b));
            if in_a == in_b || at == number || matches!(topology.parts[at], Part::Holds(_) | Part::Wire) {
                continue;
            }
            match self.amps(at) {
                Answer::Known(amps) => leaving += if in_a { amps } else { -amps },
                Answer::Undetermined(reason) => return Answer::Undetermined(reason),
            }
        }
        for (transformer, one) in base.circuit.transformers.iter().enumerate() {
            let ends = one.primary.into_iter().chain(one.secondary).zip([1.0, -1.0, -one.ratio, one.ratio]);
            let share = |(end, factor): (u32, f64)| {
                topology.net.get(end as usize).filter(|net| side.contains(net)).map_or(0.0, |_| factor)
            };
            let share: f64 = ends.map(share).sum();
            if share != 0.0 {
                match self.primary_amps(transformer) {
                    Answer::Known(amps) => leaving += amps * share,
                    Answer::Undetermined(reason) => return Answer::Undetermined(reason),
                }
            }
        }
        // What leaves the first node's side by everything else comes in through the source, from second to first.
        finite(-leaving)
    }

    /// Amps into the first primary end of a transformer; `ratio` times as many come out of its first secondary end.
    pub fn primary_amps(&self, transformer: usize) -> Answer<Phasor> {
        let (base, topology) = (&self.base, &self.base.topology);
        match topology.takes.get(transformer) {
            None => return Answer::Undetermined(Reason::NotANumber),
            Some(false) => return Answer::Known(Phasor::new(0.0, 0.0)),
            Some(true) if topology.stuck.contains(&transformer) => return Answer::Undetermined(Reason::Shared),
            Some(true) => {}
        }
        let one = base.circuit.transformers[transformer]; // it takes part
        for [a, b] in [one.primary, one.secondary] {
            if let Some(reason) = self.apart(a, b) {
                return Answer::Undetermined(reason);
            }
        }
        let place = (0u32..).zip(&topology.transformers).find_map(|(pocket, numbers)| {
            numbers.iter().position(|&number| number == transformer).map(|at| (pocket, at))
        });
        let Some((pocket, at)) = place else { return Answer::Undetermined(Reason::Unsolved) };
        match self.unknowns(pocket) {
            Ok(x) => finite(x[base.pockets[pocket as usize].groups + at]),
            Err(reason) => Answer::Undetermined(reason),
        }
    }

    /// Volts everywhere for one ampere into `p` and out of `q`, sources at zero.
    ///
    /// # Errors
    /// [`Reason::SeparateIslands`] when nothing conducts between them; other reasons when the pocket cannot be solved.
    pub fn field(&self, p: u32, q: u32) -> Result<Field, Reason> {
        match (self.island(p), self.island(q)) {
            (Some(p), Some(q)) if p == q => {}
            (Some(_), Some(_)) => return Err(Reason::SeparateIslands),
            _ => return Err(Reason::NotANumber),
        }
        let topology = &self.base.topology;
        let inject = [(topology.group_of(p), 1.0), (topology.group_of(q), -1.0)];
        let corrected = self.base_field(&inject).and_then(|mut field| {
            if let Some(update) = &self.update {
                field.pockets = update.settled(&self.base, field.pockets, &inject, false)?;
            }
            Ok(field)
        });
        match (&self.update, corrected) {
            // Where a correction does not stand up, a fresh solve may.
            (Some(_), Err(_)) => Self::of(&self.circuit(), self.base.omega).field(p, q),
            (_, corrected) => corrected,
        }
    }

    /// The field of these amps into groups, without corrections.
    pub(super) fn base_field(&self, inject: &[(u32, f64)]) -> Result<Field, Reason> {
        let base = &self.base;
        let mut by_pocket: BTreeMap<u32, Vec<(u32, Phasor)>> = BTreeMap::new();
        for &(group, amps) in inject.iter().filter(|(group, _)| *group != NONE) {
            if let Some((pocket, row)) = base.topology.place[group as usize] {
                by_pocket.entry(pocket).or_default().push((row, Phasor::new(amps, 0.0)));
            }
        }
        let mut pockets = BTreeMap::new();
        for (pocket, inject) in by_pocket {
            pockets.insert(pocket, base.pockets[pocket as usize].solve(&inject, false)?);
        }
        Ok(Field { base: Arc::clone(base), pockets })
    }

    /// Impedance between two nodes, sources at zero (voltage sources at their own resistance, current sources open).
    pub fn impedance(&self, p: u32, q: u32) -> Answer<Phasor> {
        if self.is_one_net(p, q) {
            return Answer::Known(Phasor::new(0.0, 0.0));
        }
        match self.field(p, q) {
            Ok(field) => finite(field.volts(p, q)),
            Err(reason) => Answer::Undetermined(reason),
        }
    }

    /// Volts between two nodes with this impedance in ohms put between them, by Thévenin: V·z/(Z + z).
    ///
    /// No new solution but the one for Z. Between islands the answer is that there is none: what a meter shows there hangs on
    /// what leaks, and a leak that is wanted is a branch.
    pub fn volts_with(&self, p: u32, q: u32, ohms: Phasor) -> Answer<Phasor> {
        let (volts, own) = match (self.volts(p, q), self.impedance(p, q)) {
            (Answer::Known(volts), Answer::Known(own)) => (volts, own),
            (Answer::Undetermined(reason), _) | (_, Answer::Undetermined(reason)) => {
                return Answer::Undetermined(reason);
            }
        };
        match (Branch::Impedance { ohms }).at(self.base.omega) {
            Part::Open => Answer::Known(volts),
            Part::Bad => Answer::Undetermined(Reason::NotANumber),
            // The wire that shorts a source without own impedance.
            Part::Wire if own.norm() == 0.0 && volts.norm() > 0.0 => Answer::Undetermined(Reason::Shorted),
            Part::Wire => Answer::Known(Phasor::new(0.0, 0.0)),
            // The load resonates with what feeds it.
            _ if (own + ohms).norm() <= 1e-12 * ohms.norm() => Answer::Undetermined(Reason::Resonance),
            _ => finite(volts * ohms / (own + ohms)),
        }
    }

    /// For each branch with an admittance g in siemens: ∂V(p,q)/∂g, in volts per siemens; zero for the others.
    ///
    /// From the adjoint network: −V·V̂, V the volts across the branch and V̂ those for one ampere through p and q. For a source
    /// with own resistance V is what drives its resistance: volts across it less its own.
    ///
    /// # Errors
    /// As [`Factored::field`], and where the volts themselves are undetermined.
    pub fn sensitivities(&self, p: u32, q: u32) -> Result<Vec<Phasor>, Reason> {
        if let Some(reason) = self.apart(p, q) {
            return Err(reason);
        }
        let field = self.field(p, q)?;
        let zero = Phasor::new(0.0, 0.0);
        let island = self.island(p);
        let mut all = Vec::with_capacity(self.base.circuit.branches.len());
        for (number, &(a, b, branch)) in self.base.circuit.branches.iter().enumerate() {
            let branch = self.branch(number).unwrap_or(branch);
            let drives = match branch.at(self.base.omega) {
                Part::Conducts(_) => zero,
                Part::Drives(siemens, amps) => amps / siemens,
                _ => {
                    all.push(zero);
                    continue;
                }
            };
            let reached = field.volts(a, b);
            if self.island(a) != island && reached == zero {
                all.push(zero);
                continue;
            }
            match self.volts(a, b) {
                Answer::Known(volts) => all.push(-(volts - drives) * reached),
                Answer::Undetermined(reason) => return Err(reason),
            }
        }
        Ok(all)
    }
}

/// A number, unless it grew beyond what can be told.
fn finite(value: Phasor) -> Answer<Phasor> {
    if value.is_finite() { Answer::Known(value) } else { Answer::Undetermined(Reason::Unsolved) }
}

impl Field {
    /// Volts of `a` against `b` in this field; zero where it does not reach.
    pub fn volts(&self, a: u32, b: u32) -> Phasor {
        self.level(self.base.topology.group_of(a)) - self.level(self.base.topology.group_of(b))
    }

    /// Volts of a group.
    pub(super) fn level(&self, group: u32) -> Phasor {
        let place = self.base.topology.place.get(group as usize).copied().flatten();
        place
            .and_then(|(pocket, row)| self.pockets.get(&pocket)?.get(row as usize).copied())
            .unwrap_or(Phasor::new(0.0, 0.0))
    }
}
