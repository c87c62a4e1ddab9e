//! What all rules look at, computed once: the record, its parts' bodies, its nets, what feeds what, its conditions.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::catalogue::Element;
use crate::circuit::Network;
use crate::circuit::electric::Elements;
use crate::machine::{EndAt, Machine, Mounting, PartId, Side, TerminalRef, WireId};

use super::consumers::{Consumer, consumers};
use super::graph::{Bodies, Graph, Item, NetId, Node};
use super::levels::Levels;
use super::reach::{Feed, Potential};
use super::state::{Ground, State, states};
use super::supply::{PolesAt, Supply};

/// What does not depend on a condition.
pub(super) struct Wiring {
    /// What each part consists of; nothing where its place is empty.
    pub bodies: Bodies,
    /// Nets joined by wire alone, and the items between them.
    pub graph: Graph,
    /// The poles that bring voltage.
    pub supply: Supply,
    /// What each element is worth.
    pub elements: Elements,
}

impl Wiring {
    /// The wiring of a record.
    pub fn of(machine: &Machine, network: &Network) -> Self {
        let mut bodies: Bodies = network.bodies().clone();
        for (id, _) in machine.parts.iter().filter(|(_, part)| part.mounting == Mounting::Missing) {
            if let Some(body) = bodies.get_mut(&id) {
                let body = Arc::make_mut(body);
                body.elements.clear();
                body.exposed_metal = false;
            }
        }
        let graph = Graph::of(machine, &bodies, &BTreeSet::new());
        let supply = Supply::of(machine, &bodies);
        Self { bodies, graph, supply, elements: Elements::of(network) }
    }
}

/// Everything the rules reason from.
pub(super) struct Survey<'a> {
    /// The record.
    pub machine: &'a Machine,
    /// What each part consists of.
    pub bodies: &'a Bodies,
    /// Nets joined by wire alone, and the items between them.
    pub graph: &'a Graph,
    /// The poles that bring voltage.
    pub supply: &'a Supply,
    /// Wire ends recorded on each terminal, lifted ones included, removed wires left out.
    pub ends_at: BTreeMap<&'a TerminalRef, Vec<(WireId, Side)>>,
    /// The poles on each net.
    pub poles_at: PolesAt,
    /// What contacts and fuses can join.
    pub potential: Potential,
    /// Loads and coils.
    pub consumers: Vec<Consumer>,
    /// How each of them is fed.
    feeds: Vec<Feed>,
    /// The machine in each of its conditions.
    states: Vec<State<'a>>,
    /// The same by volts and amps.
    pub levels: Levels<'a>,
}

impl<'a> Survey<'a> {
    /// Looks over a record.
    pub fn of(machine: &'a Machine, network: &'a Network, wiring: &'a Wiring) -> Self {
        let Wiring { bodies, graph, supply, elements } = wiring;
        let mut ends_at: BTreeMap<&TerminalRef, Vec<(WireId, Side)>> = BTreeMap::new();
        for (id, wire) in machine.wires.iter().filter(|(_, wire)| wire.is_present()) {
            for side in Side::BOTH {
                if let EndAt::Terminal(terminal) = &wire.end(side).at {
                    ends_at.entry(terminal).or_default().push((id, side));
                }
            }
        }
        let poles_at = supply.poles_at(graph);
        let potential = Potential::of(graph, &poles_at);
        let consumers = consumers(graph, bodies);
        let feeds = consumers.iter().map(|c| potential.feed(graph, supply, &c.ends, &c.items)).collect();
        let states = states(&Ground { machine, network, bodies, graph, supply });
        let levels = Levels::of(machine, network, elements, &states);
        Self { machine, bodies, graph, supply, ends_at, poles_at, potential, consumers, feeds, states, levels }
    }

    /// The machine in each condition of the record, then at rest with every source on.
    pub fn states(&self) -> &[State<'a>] {
        &self.states
    }

    /// Loads and coils with how they are fed.
    pub fn fed_consumers(&self) -> impl Iterator<Item = (&Consumer, &Feed)> {
        self.consumers.iter().zip(&self.feeds)
    }

    /// The catalogue's element behind an item.
    pub fn element(&self, item: &Item) -> Option<&Element> {
        self.bodies.get(&item.part)?.elements.get(item.element)
    }

    /// Whether a wire is on this net.
    pub fn has_wire(&self, net: NetId) -> bool {
        self.graph.nets[net].nodes.iter().any(|node| matches!(node, Node::End(..)))
    }

    /// The part as a technician would point it out: `M2 (evaporator fan)`.
    pub fn part_words(&self, part: PartId) -> String {
        match self.machine.parts.get(part) {
            Some(part) if part.title.is_empty() => part.tag.clone(),
            Some(part) => format!("{} ({})", part.tag, part.title),
            None => "?".to_owned(),
        }
    }
}
