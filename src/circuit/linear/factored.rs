//! A network with its factors and its solution, and the readings taken from it.

use std::collections::BTreeMap;
use std::sync::Arc;

use super::pocket::Pocket;
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

/// What is solved once.
#[derive(Debug)]
pub(super) struct Base {
    pub circuit: Circuit,
    pub omega: f64,
    pub topology: Topology,
    pub pockets: Vec<Pocket>,
    /// For each pocket: its unknowns, or why they are none.
    pub solved: Vec<Result<Vec<Phasor>, Reason>>,
}

/// Volts everywhere for one ampere through two nodes, sources at zero.
#[derive(Debug, Clone)]
pub struct Field {
    base: Arc<Base>,
    pub(super) pockets: BTreeMap<u32, Vec<Phasor>>,
}

impl Factored {
    /// Solves a network at this angular frequency (radians per second; zero is direct current).
    pub fn of(circuit: &Circuit, omega: f64) -> Self {
        let topology = Topology::of(circuit, omega);
        let pockets = Pocket::all(circuit, &topology);
        let solved = pockets.iter().map(|pocket| pocket.solve(&[], true)).collect();
        let circuit = circuit.clone();
        Self { base: Arc::new(Base { circuit, omega, topology, pockets, solved }), update: None }
    }

    /// The angular frequency it is solved at, in radians per second.
    pub fn omega(&self) -> f64 {
        self.base.omega
    }

    /// What is wrong with the network: shorts, sources at odds or side by side, current sources without a way back.
    pub fn remarks(&self) -> &[Remark] {
        &self.base.topology.remarks
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
            (Ok(a), Ok(b)) => Answer::Known(a - b),
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
        let volts = match base.topology.place[group as usize] {
            None => Phasor::new(0.0, 0.0),
            Some((pocket, row)) => match &base.solved[pocket as usize] {
                Ok(x) => x[row as usize],
                Err(reason) => return Err(*reason),
            },
        };
        let shift = match &self.update {
            Some(update) => update.shift(base, group)?,
            None => Phasor::new(0.0, 0.0),
        };
        Ok(volts + offset - shift)
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
            Part::Conducts(siemens) => self.volts(a, b).map(|volts| siemens * volts),
            Part::Drives(siemens, amps) => self.volts(a, b).map(|volts| siemens * volts - amps),
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
        // Nets that other ideal sources hold to the first node's net.
        let net = |node: u32| topology.net[node as usize];
        let mut side = std::collections::BTreeSet::from([net(first)]);
        let holds = |at: &usize| *at != number && matches!(topology.parts[*at], Part::Holds(_));
        loop {
            let before = side.len();
            for at in (0..topology.parts.len()).filter(holds) {
                let (a, b, _) = base.circuit.branches[at];
                if side.contains(&net(a)) {
                    side.insert(net(b));
                } else if side.contains(&net(b)) {
                    side.insert(net(a));
                }
            }
            if side.len() == before {
                break;
            }
        }
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
            let Some(current) = self.primary_amps(transformer) else { continue };
            let ends = one.primary.into_iter().chain(one.secondary).zip([1.0, -1.0, -one.ratio, one.ratio]);
            for (end, factor) in ends {
                if topology.net.get(end as usize).is_some_and(|net| side.contains(net)) {
                    leaving += current * factor;
                }
            }
        }
        // What leaves the first node's side by everything else comes in through the source, from second to first.
        Answer::Known(-leaving)
    }

    /// Current into the first primary end of a transformer.
    fn primary_amps(&self, transformer: usize) -> Option<Phasor> {
        let base = &self.base;
        let place = base.topology.transformers.iter().enumerate().find_map(|(pocket, numbers)| {
            numbers.iter().position(|&number| number == transformer).map(|at| (pocket, at))
        });
        let (pocket, at) = place?;
        let row = base.pockets[pocket].groups() + at;
        let shift = self.update.as_ref().map_or(Phasor::new(0.0, 0.0), |update| update.shift_row(pocket, row));
        base.solved[pocket].as_ref().ok().map(|x| x[row] - shift)
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
        let mut field = self.base_field(&[(topology.group_of(p), 1.0), (topology.group_of(q), -1.0)])?;
        if let Some(update) = &self.update {
            update.correct(&mut field);
        }
        Ok(field)
    }

    /// The field of these amps into groups, without corrections.
    pub(super) fn base_field(&self, inject: &[(u32, f64)]) -> Result<Field, Reason> {
        let base = &self.base;
        let mut by_pocket: BTreeMap<u32, Vec<(usize, Phasor)>> = BTreeMap::new();
        for &(group, amps) in inject.iter().filter(|(group, _)| *group != NONE) {
            if let Some((pocket, row)) = base.topology.place[group as usize] {
                by_pocket.entry(pocket).or_default().push((row as usize, Phasor::new(amps, 0.0)));
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
            Ok(field) => Answer::Known(field.volts(p, q)),
            Err(reason) => Answer::Undetermined(reason),
        }
    }

    /// Volts between two nodes with this impedance in ohms put between them, by Thévenin: V·z/(Z + z).
    pub fn volts_with(&self, p: u32, q: u32, ohms: Phasor) -> Answer<Phasor> {
        match (self.volts(p, q), self.impedance(p, q)) {
            (Answer::Known(volts), Answer::Known(own)) => {
                let whole = own + ohms;
                if whole.norm() > 0.0 && whole.norm().is_finite() {
                    Answer::Known(volts * ohms / whole)
                } else {
                    Answer::Undetermined(Reason::Unsolved)
                }
            }
            (Answer::Undetermined(reason), _) | (_, Answer::Undetermined(reason)) => Answer::Undetermined(reason),
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
