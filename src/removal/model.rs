//! A record as a graph whose edges conduct depending on what is free: switches, outputs, sources, relays, and what is not known.
//!
//! Everything that conducts is an edge: wires, landings that are in doubt, contacts, fuses, loads, coils, windings, passive elements;
//! and one edge for each source, which is where current comes from. A sensing input of a board counts as a source of its own: what it
//! sees is part of what the machine does. Where something is not known (a pin of unknown role, an end out of sight) the graph holds
//! every way it could be, as a variable of its own.

use std::collections::BTreeMap;

use crate::circuit::electric::{Judgement, What};
use crate::circuit::{Network, Node, Partition};
use crate::machine::{Machine, PartId, Side, WireId};

use super::term::{Clause, Cond, Var};

/// What an edge is.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Is {
    /// A wire, by its place in the network's list.
    Wire(usize),
    /// An end on a terminal that is in doubt: a wire's place, 0 or 1.
    Landing(usize, usize),
    Contact(usize),
    Fuse(usize),
    Load(usize),
    Coil(usize),
    Passive(usize),
    /// Input of a transformer or supply.
    Input(usize),
    /// Its output.
    Output(usize),
    Source(usize),
    /// A sensing input: load and source in one.
    Sense(usize),
    /// Where something not known may hold a potential.
    Unknown,
    /// A candidate of an end or of what works a coil.
    Candidate,
}

/// One edge.
#[derive(Debug, Clone)]
pub(super) struct Edge {
    pub(super) ends: [u32; 2],
    pub(super) when: Cond,
    pub(super) is: Is,
}

impl Edge {
    /// Whether it holds both its ends at one potential and has no protection in it.
    pub(super) fn joins(&self) -> bool {
        matches!(self.is, Is::Wire(_) | Is::Landing(..) | Is::Contact(_) | Is::Candidate)
    }

    /// Whether it is where current comes from and no way for a potential: a source of the record, or the place of what is not known.
    pub(super) fn feeds_only(&self) -> bool {
        matches!(self.is, Is::Source(_))
    }

    /// Whether current can come from it.
    pub(super) fn feeds(&self) -> bool {
        matches!(self.is, Is::Source(_) | Is::Output(_) | Is::Sense(_) | Is::Unknown)
    }
}

/// An end that goes out of sight with nothing said of where it may be.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub(super) struct Wild(pub(super) WireId, pub(super) Side);

/// The graph.
#[derive(Debug, Clone)]
pub(super) struct Model<'m> {
    pub(super) machine: &'m Machine,
    pub(super) network: Network,
    pub(super) vars: Vec<Var>,
    pub(super) edges: Vec<Edge>,
    /// How many places there are: terminals held together for sure are one.
    pub(super) places: usize,
    /// The place of each node of the network.
    pub(super) place: Vec<u32>,
    /// What conditions can occur at all.
    pub(super) valid: Vec<Clause>,
    /// The constraints of the record contradict one another and were left out.
    pub(super) contradicts: bool,
    pub(super) wild: Vec<Wild>,
    /// The edge of each wire of the network.
    pub(super) wire_edge: Vec<usize>,
    /// Places at which something not known hangs, and where the hub of all of them is.
    pub(super) hub: Option<u32>,
    /// Parts whose kind is a mystery.
    pub(super) unknown_parts: Vec<PartId>,
}

/// Builds the parts of a model that depend on one another.
pub(super) struct Builder<'m> {
    pub(super) machine: &'m Machine,
    pub(super) network: &'m Network,
    pub(super) vars: Vec<Var>,
    pub(super) by_var: BTreeMap<Var, usize>,
    pub(super) edges: Vec<Edge>,
    pub(super) place: Vec<u32>,
    pub(super) valid: Vec<Clause>,
    pub(super) wild: Vec<Wild>,
    pub(super) unknown_parts: Vec<PartId>,
}

impl Builder<'_> {
    pub(super) fn var(&mut self, var: Var) -> usize {
        if let Some(&at) = self.by_var.get(&var) {
            return at;
        }
        let at = self.vars.len();
        self.vars.push(var.clone());
        self.by_var.insert(var, at);
        at
    }

    pub(super) fn at(&self, node: Node) -> u32 {
        self.place.get(node.at()).copied().unwrap_or(0)
    }

    pub(super) fn edge(&mut self, ends: [Node; 2], when: Cond, is: Is) {
        let ends = ends.map(|node| self.at(node));
        self.edges.push(Edge { ends, when, is });
    }
}

impl<'m> Model<'m> {
    pub(super) fn of(machine: &'m Machine, network: Network, judgement: &Judgement) -> Self {
        let proven = |wire: usize, slot: usize| {
            let is_proven = |what: What| judgement.standings.get(&what).is_some_and(|s| !s.proven_by.is_empty());
            is_proven(What::Wire(wire)) || is_proven(What::Landing(wire, slot))
        };
        let landings = super::landings::of(machine, &network, &proven);
        let mut certain = Partition::new(network.len());
        for join in network.joins() {
            certain.join(join.ends[0].0, join.ends[1].0);
        }
        for landing in landings.iter().filter(|landing| landing.doubt.is_none()) {
            certain.join(landing.end.0, landing.terminal.0);
        }
        let classes = certain.classes();
        let mut number: Vec<u32> = vec![0; classes.len()];
        let mut places = 0usize;
        for (at, &class) in classes.iter().enumerate() {
            if class as usize == at {
                number[at] = u32::try_from(places).unwrap_or(u32::MAX);
                places += 1;
            }
        }
        let place: Vec<u32> = classes.iter().map(|&class| number[class as usize]).collect();
        let mut builder = Builder {
            machine,
            network: &network,
            vars: Vec::new(),
            by_var: BTreeMap::new(),
            edges: Vec::new(),
            place,
            valid: Vec::new(),
            wild: Vec::new(),
            unknown_parts: Vec::new(),
        };
        builder.lay(&landings, judgement);
        let hub = builder.unknowns(places);
        places += usize::from(hub.is_some());
        builder.constrain();
        let Builder { vars, edges, place, valid, wild, unknown_parts, .. } = builder;
        let mut wire_edge = vec![0; network.wires().len()];
        for (at, edge) in edges.iter().enumerate() {
            if let Is::Wire(wire) = edge.is {
                wire_edge[wire] = at; // wires are numbered by the network's list
            }
        }
        let mut model = Self {
            machine,
            network,
            vars,
            edges,
            places,
            place,
            valid,
            contradicts: false,
            wild,
            wire_edge,
            hub,
            unknown_parts,
        };
        model.order_along_the_harness();
        model
    }

    /// The place of a node.
    pub(super) fn at(&self, node: Node) -> u32 {
        self.place.get(node.at()).copied().unwrap_or(0)
    }

    /// The variable of each relay, where some edge asks for it.
    pub(super) fn relay_vars(&self) -> Vec<Option<usize>> {
        let mut of = vec![None; self.network.relays().len()];
        for (at, var) in self.vars.iter().enumerate() {
            if let Var::Relay(relay) = var
                && let Some(slot) = of.get_mut(*relay)
            {
                *slot = Some(at);
            }
        }
        of
    }

    /// Variables in the order in which a walk along the wiring meets them: that keeps symbolic sets small.
    fn order_along_the_harness(&mut self) {
        let mut at: Vec<Vec<usize>> = vec![Vec::new(); self.places];
        for (index, edge) in self.edges.iter().enumerate() {
            for end in edge.ends {
                at[end as usize].push(index); // places are numbered densely
            }
        }
        let feeds = self.edges.iter().filter(|edge| edge.feeds()).flat_map(|edge| edge.ends);
        let starts: Vec<u32> = feeds.chain((0..self.places).filter_map(|place| u32::try_from(place).ok())).collect();
        let mut seen = vec![false; self.places];
        // Rails are gone round at the end: each rung is walked to its own end first.
        let is_rail: Vec<bool> = at.iter().map(|edges| edges.len() > 8).collect();
        let mut order = Vec::new();
        let mut placed = vec![false; self.vars.len()];
        for start in starts {
            let mut open = vec![start];
            while let Some(place) = open.pop() {
                if std::mem::replace(&mut seen[place as usize], true) {
                    continue;
                }
                for &index in &at[place as usize] {
                    let edge = &self.edges[index];
                    for var in edge.when.vars() {
                        if !std::mem::replace(&mut placed[var], true) {
                            order.push(var);
                        }
                    }
                    let [a, b] = edge.ends;
                    let other = if a == place { b } else { a };
                    if is_rail[other as usize] {
                        open.insert(0, other);
                    } else {
                        open.push(other);
                    }
                }
            }
        }
        order.extend((0..self.vars.len()).filter(|&var| !placed[var]));
        let mut to = vec![0; self.vars.len()];
        for (new, &old) in order.iter().enumerate() {
            to[old] = new;
        }
        self.vars = order.iter().map(|&old| self.vars[old].clone()).collect();
        for edge in &mut self.edges {
            edge.when.renumbered(&to);
        }
        for (var, _) in self.valid.iter_mut().flatten() {
            *var = to[*var];
        }
    }
}

/// Edges in one row: what meets at a place where nothing else is carries one current.
pub(super) fn chains(edges: &[Edge], places: usize) -> Vec<usize> {
    let mut at: Vec<Vec<u32>> = vec![Vec::new(); places];
    for (number, edge) in (0u32..).zip(edges).filter(|(_, edge)| !edge.when.is_never()) {
        for end in edge.ends {
            at[end as usize].push(number);
        }
    }
    let mut rows = Partition::new(edges.len());
    for meet in &at {
        if let [one, other] = meet.as_slice() {
            rows.join(*one, *other);
        }
    }
    rows.classes().into_iter().map(|row| row as usize).collect()
}
