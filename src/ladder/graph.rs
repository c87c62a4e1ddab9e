//! The record as a graph: nets held together by wire, and the two-ended devices between them.
//!
//! Besides wires only ideal conductors inside parts hold a net together. The ways through an overload relay are such
//! conductors in the record; on a ladder they are devices, so a net ends there.

use std::collections::BTreeMap;

use crate::catalogue::{Catalogue, Family};
use crate::circuit::{Inside, Network, Node, Partition, Passive};
use crate::machine::{Machine, Marking, PartId, Spot, TerminalRef, WireId};

use super::layout::What;

/// A two-ended device.
#[derive(Debug, Clone)]
pub(super) struct Edge {
    pub(super) part: PartId,
    /// Which of the body's elements it stands for.
    pub(super) elements: Vec<usize>,
    pub(super) what: What,
    /// Its ends as nodes of the network.
    pub(super) nodes: [Node; 2],
    /// Its ends as nets.
    pub(super) nets: [usize; 2],
    /// Its place in the order of tags, which everything else follows.
    pub(super) rank: usize,
    /// The relay it is the coil of, or whose contact it is.
    pub(super) relay: Option<usize>,
}

impl Edge {
    /// The end that is not on this net.
    pub(super) fn other(&self, net: usize) -> usize {
        if self.nets[0] == net { self.nets[1] } else { self.nets[0] }
    }

    /// Whether it uses what it is fed: it stands on the right of a rung.
    pub(super) fn is_load(&self) -> bool {
        !matches!(
            self.what,
            What::Contact(_)
                | What::Fuse
                | What::Breaker
                | What::Overload
                | What::Capacitor
                | What::Resistor
                | What::Diode
                | What::Thermistor
                | What::Choke
                | What::Arrester
        )
    }

    /// Whether it only stands beside a load: a suppressor, a capacitor.
    pub(super) fn is_passive(&self) -> bool {
        !self.is_load() && !matches!(self.what, What::Contact(_) | What::Fuse | What::Breaker | What::Overload)
    }
}

/// A net.
#[derive(Debug, Clone, Default)]
pub(super) struct GraphNet {
    pub(super) terminals: Vec<TerminalRef>,
    pub(super) wires: Vec<WireId>,
    /// Devices on it.
    pub(super) edges: Vec<usize>,
    /// Only a point inside a part: no wire reaches it.
    pub(super) inner: bool,
    /// Something on it is not known.
    pub(super) unknown: bool,
    /// Protective earth is on it.
    pub(super) earth: bool,
}

/// What gives a supply: a source, or the output of a transformer or DC supply.
#[derive(Debug, Clone)]
pub(super) struct Giver {
    pub(super) inside: Inside,
    pub(super) what: What,
    pub(super) nets: [usize; 2],
    pub(super) volts: Option<f64>,
    pub(super) direct: bool,
    /// The edge that feeds it.
    pub(super) fed_by: Option<usize>,
}

/// Nets, devices and supplies.
#[derive(Debug, Clone, Default)]
pub(super) struct Graph {
    pub(super) edges: Vec<Edge>,
    pub(super) nets: Vec<GraphNet>,
    pub(super) givers: Vec<Giver>,
    net_of: Vec<usize>,
}

impl Graph {
    /// The graph of a network.
    pub(super) fn of(machine: &Machine, catalogue: &Catalogue, network: &Network) -> Self {
        let protective = |part: PartId| {
            let kind = machine.parts.get(part).and_then(|part| catalogue.kind(&part.kind));
            kind.is_some_and(|kind| kind.family == Family::Protection)
        };
        let mut graph = Self::default();
        graph.join_nets(network, &protective);
        let mut add = |inside: &Inside, what: What, relay: Option<usize>| {
            let nets = inside.ends.map(|node| graph.net_of[node.at()]);
            graph.edges.push(Edge {
                part: inside.part,
                elements: vec![inside.element],
                what,
                nodes: inside.ends,
                nets,
                rank: 0,
                relay,
            });
        };
        for join in network.joins().iter().filter(|join| protective(join.part)) {
            add(join, What::Overload, None);
        }
        for fuse in network.fuses() {
            add(fuse, What::Fuse, None);
        }
        for contact in network.contacts() {
            let relay = match contact.works {
                crate::circuit::Works::Relay(relay) => Some(relay),
                _ => None,
            };
            add(&contact.inside, What::Contact(contact.form), relay);
        }
        for (index, relay) in network.relays().iter().enumerate() {
            add(&relay.inside, What::Coil, Some(index));
        }
        for load in network.loads() {
            add(&load.inside, load.what.map_or(What::Winding, What::Load), None);
        }
        for (passive, inside) in network.passives() {
            let what = match passive {
                Passive::Capacitor => What::Capacitor,
                Passive::Resistor => What::Resistor,
                Passive::Diode => What::Diode,
                Passive::Thermistor => What::Thermistor,
                Passive::Choke => What::Choke,
                Passive::Arrester => What::Arrester,
                Passive::Sense => What::Sense,
            };
            add(inside, what, None);
        }
        graph.add_givers(network);
        graph.merge_breakers();
        graph.rank(machine);
        for (index, edge) in graph.edges.iter().enumerate() {
            for (slot, net) in edge.nets.into_iter().enumerate() {
                if slot == 0 || edge.nets[0] != net {
                    graph.nets[net].edges.push(index); // nets of edges are nets of this graph
                }
            }
        }
        graph
    }

    /// The net of a node.
    pub(super) fn net(&self, node: Node) -> usize {
        self.net_of.get(node.at()).copied().unwrap_or(0)
    }

    fn join_nets(&mut self, network: &Network, protective: &impl Fn(PartId) -> bool) {
        let mut held = Partition::new(network.len());
        for wire in network.wires() {
            if !wire.broken {
                held.join(wire.ends[0].0, wire.ends[1].0);
            }
            for (end, terminal) in wire.ends.iter().zip(wire.landed) {
                if let Some(terminal) = terminal {
                    held.join(end.0, terminal.0);
                }
            }
        }
        for join in network.joins().iter().filter(|join| !protective(join.part)) {
            held.join(join.ends[0].0, join.ends[1].0);
        }
        let classes = held.classes();
        self.net_of = vec![0; classes.len()];
        for ((node, info), &class) in network.nodes().zip(&classes) {
            if class == node.0 {
                self.net_of[node.at()] = self.nets.len();
                self.nets.push(GraphNet { inner: true, ..GraphNet::default() });
            } else {
                self.net_of[node.at()] = self.net_of[class as usize];
            }
            let net = &mut self.nets[self.net_of[node.at()]]; // just put in
            net.inner &= info.inner;
            net.unknown |= info.unknown;
            match &info.spot {
                Spot::Terminal(terminal) if !info.inner => net.terminals.push(terminal.clone()),
                Spot::End(wire, _) if net.wires.last() != Some(wire) => net.wires.push(*wire),
                _ => {}
            }
        }
        for &(_, node) in network.earths() {
            let net = self.net(node);
            self.nets[net].earth = true;
        }
        for net in &mut self.nets {
            net.wires.sort_unstable();
            net.wires.dedup();
        }
    }

    /// Sources, and the outputs of transformers and DC supplies with what feeds them. Secondaries that share a primary
    /// share the device that stands for it.
    fn add_givers(&mut self, network: &Network) {
        for source in network.sources() {
            self.givers.push(Giver {
                nets: source.inside.ends.map(|node| self.net(node)),
                inside: source.inside,
                what: What::Source,
                volts: source.volts,
                direct: source.current == crate::quantity::Current::Dc,
                fed_by: None,
            });
        }
        let mut primaries: BTreeMap<(PartId, [Node; 2]), usize> = BTreeMap::new();
        for derived in network.derived() {
            let key = (derived.inside.part, derived.input);
            let primary = *primaries.entry(key).or_insert_with(|| {
                self.edges.push(Edge {
                    part: derived.inside.part,
                    elements: Vec::new(),
                    what: What::Primary,
                    nodes: derived.input,
                    nets: derived.input.map(|node| self.net_of[node.at()]),
                    rank: 0,
                    relay: None,
                });
                self.edges.len() - 1
            });
            self.edges[primary].elements.push(derived.inside.element);
            let direct = derived.current == crate::quantity::Current::Dc;
            self.givers.push(Giver {
                nets: derived.inside.ends.map(|node| self.net(node)),
                inside: derived.inside,
                what: if direct { What::Output } else { What::Secondary },
                volts: derived.volts,
                direct,
                fed_by: Some(primary),
            });
        }
    }

    /// A fuse and the contact behind it inside one part are one device: the pole of a breaker.
    fn merge_breakers(&mut self) {
        let mut on: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (index, edge) in self.edges.iter().enumerate() {
            for net in edge.nets {
                if self.nets[net].inner {
                    on.entry(net).or_default().push(index);
                }
            }
        }
        let mut gone = Vec::new();
        for (net, edges) in on {
            let &[first, second] = edges.as_slice() else { continue };
            let (a, b) = (&self.edges[first], &self.edges[second]);
            let (fuse, contact) = match (a.what, b.what) {
                (What::Fuse, What::Contact(_)) => (first, second),
                (What::Contact(_), What::Fuse) => (second, first),
                _ => continue,
            };
            let other = self.edges[contact].clone();
            let far = usize::from(other.nets[0] == net);
            let fuse_edge = &mut self.edges[fuse];
            if fuse_edge.part != other.part || gone.contains(&contact) || fuse_edge.what == What::Breaker {
                continue;
            }
            let near = usize::from(fuse_edge.nets[1] == net);
            fuse_edge.nets[near] = other.nets[far];
            fuse_edge.nodes[near] = other.nodes[far];
            fuse_edge.elements.extend(&other.elements);
            fuse_edge.what = What::Breaker;
            gone.push(contact);
        }
        gone.sort_unstable();
        for index in gone.into_iter().rev() {
            self.edges.remove(index);
            for giver in &mut self.givers {
                giver.fed_by = giver.fed_by.map(|fed| if fed > index { fed - 1 } else { fed });
            }
        }
    }

    fn rank(&mut self, machine: &Machine) {
        let mut order: Vec<(NaturalKey, PartId, usize, usize)> = self
            .edges
            .iter()
            .enumerate()
            .map(|(index, edge)| {
                let first = edge.elements.first().copied().unwrap_or(0);
                (natural(machine.part_name(edge.part)), edge.part, first, index)
            })
            .collect();
        order.sort();
        for (rank, (_, _, _, index)) in order.into_iter().enumerate() {
            self.edges[index].rank = rank;
        }
    }
}

/// What a terminal of a device is called; a point inside a part has its own name.
pub(super) fn terminal_of(network: &Network, node: Node, part: PartId) -> TerminalRef {
    match network.info(node).map(|info| &info.spot) {
        Some(Spot::Terminal(terminal)) => terminal.clone(),
        _ => TerminalRef::new(part, Marking::from("?")),
    }
}

/// A tag in parts, so that K10 comes after K2.
pub(super) type NaturalKey = Vec<(String, u64)>;

/// The parts of a tag by which it is sorted as a person would.
pub(super) fn natural(tag: &str) -> NaturalKey {
    let mut key = Vec::new();
    let mut rest = tag;
    while !rest.is_empty() {
        let letters = rest.find(|c: char| c.is_ascii_digit()).unwrap_or(rest.len());
        let (word, after) = rest.split_at(letters);
        let digits = after.find(|c: char| !c.is_ascii_digit()).unwrap_or(after.len());
        let (number, left) = after.split_at(digits);
        key.push((word.to_owned(), number.parse().unwrap_or(0)));
        rest = left;
    }
    key
}
