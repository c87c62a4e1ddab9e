//! What all rules look at, computed once: the record, its parts' bodies, its nets, what feeds what.

use std::collections::{BTreeMap, BTreeSet};

use crate::catalogue::{Body, Catalogue, Element};
use crate::circuit::{Network, Situation};
use crate::machine::{ConditionId, EndAt, Machine, Mounting, Part, PartId, Setting, Side, TerminalRef, WireId};

use super::consumers::{Consumer, consumers};
use super::graph::{Graph, Item, NetId, Node};
use super::reach::{Feed, Potential};
use super::supply::{PolesAt, Supply};

/// Everything the rules reason from.
pub struct Survey<'a> {
    /// The record.
    pub machine: &'a Machine,
    /// What the record means electrically.
    pub(super) network: &'a Network,
    /// The recorded conditions, settled; where there are none, everything at rest with every source on.
    pub(super) situations: Vec<(Option<ConditionId>, Situation<'a>)>,
    /// What each part consists of.
    pub(super) bodies: BTreeMap<PartId, Body>,
    /// Wire ends recorded on each terminal, lifted ones included, removed wires left out.
    pub(super) ends_at: BTreeMap<&'a TerminalRef, Vec<(WireId, Side)>>,
    /// Nets joined by wire alone, and the items between them.
    pub(super) graph: Graph,
    /// The poles that bring voltage.
    pub(super) supply: Supply,
    /// The poles on each net.
    pub(super) poles_at: PolesAt,
    /// What contacts and fuses can join.
    pub(super) potential: Potential,
    /// Loads and coils.
    pub(super) consumers: Vec<Consumer>,
    /// How each of them is fed.
    feeds: Vec<Feed>,
}

impl<'a> Survey<'a> {
    /// Looks over a record, with the network made of it.
    pub fn of(machine: &'a Machine, catalogue: &'a Catalogue, network: &'a Network) -> Self {
        let bodies: BTreeMap<PartId, Body> =
            machine.parts.iter().map(|(id, part)| (id, body_of(part, catalogue))).collect();
        let mut ends_at: BTreeMap<&TerminalRef, Vec<(WireId, Side)>> = BTreeMap::new();
        for (id, wire) in machine.wires.iter().filter(|(_, wire)| wire.is_present()) {
            for side in Side::BOTH {
                if let EndAt::Terminal(terminal) = &wire.end(side).at {
                    ends_at.entry(terminal).or_default().push((id, side));
                }
            }
        }
        let graph = Graph::of(machine, &bodies, &BTreeSet::new());
        let supply = Supply::of(machine, &bodies);
        let poles_at = supply.poles_at(&graph);
        let potential = Potential::of(&graph, &poles_at);
        let consumers = consumers(&graph, &bodies);
        let feeds = consumers.iter().map(|c| potential.feed(&graph, &supply, &c.ends, &c.items)).collect();
        Self {
            machine,
            network,
            situations: situations(machine, network),
            bodies,
            ends_at,
            graph,
            supply,
            poles_at,
            potential,
            consumers,
            feeds,
        }
    }

    /// Loads and coils with how they are fed.
    pub(super) fn fed_consumers(&self) -> impl Iterator<Item = (&Consumer, &Feed)> {
        self.consumers.iter().zip(&self.feeds)
    }

    /// The catalogue's element behind an item.
    pub(super) fn element(&self, item: &Item) -> Option<&Element> {
        self.bodies.get(&item.part)?.elements.get(item.element)
    }

    /// Whether a wire is on this net.
    pub(super) fn has_wire(&self, net: NetId) -> bool {
        self.graph.nets[net].nodes.iter().any(|node| matches!(node, Node::End(..)))
    }

    /// The part as a technician would point it out: `M2 (evaporator fan)`.
    pub(super) fn part_words(&self, part: PartId) -> String {
        match self.machine.parts.get(part) {
            Some(part) if part.title.is_empty() => part.tag.clone(),
            Some(part) => format!("{} ({})", part.tag, part.title),
            None => "?".to_owned(),
        }
    }
}

/// Every recorded condition, settled from rest.
fn situations<'a>(machine: &Machine, network: &'a Network) -> Vec<(Option<ConditionId>, Situation<'a>)> {
    if machine.conditions.is_empty() {
        let sources_on = network.sources().iter().map(|source| source.inside.part).collect();
        let setting = Setting { sources_on, ..Setting::default() };
        return vec![(None, Situation::of(network, &setting))];
    }
    machine.conditions.ids().map(|id| (Some(id), Situation::of(network, &machine.setting(id)))).collect()
}

/// What a part consists of; an empty place has nothing inside.
fn body_of(part: &Part, catalogue: &Catalogue) -> Body {
    let mut body = catalogue.body(part);
    if part.mounting == Mounting::Missing {
        body.elements.clear();
        body.exposed_metal = false;
    }
    body
}
