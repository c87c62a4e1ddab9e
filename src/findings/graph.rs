//! The recorded wiring as nets joined by wire alone, the two-ended items between them, and what is not known about each.

use std::collections::{BTreeMap, BTreeSet, HashMap};
use std::sync::Arc;

use crate::catalogue::{Body, Driver, Element};
use crate::circuit::MATED;
use crate::machine::{EndAt, Guess, Machine, PartId, Side, Spot, Subject, TerminalRef, WireId, WireState};

/// What each part consists of.
pub(super) type Bodies = BTreeMap<PartId, Arc<Body>>;

/// A dense number of a net.
pub(super) type NetId = usize;

/// What a net is made of.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub(super) enum Node {
    /// A terminal.
    Terminal(TerminalRef),
    /// The conductor at one end of a wire.
    End(WireId, Side),
}

/// Terminals joined by wire alone (and by conductors inside parts), in every condition.
#[derive(Debug, Default, Clone)]
pub(super) struct Net {
    /// Terminals and wire ends, in order of the record.
    pub nodes: Vec<Node>,
    /// Items with an end here.
    pub items: Vec<usize>,
    /// What about it is not known, as a thing to name.
    pub doubts: Vec<Node>,
}

/// How an item conducts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sort {
    /// Opens and closes.
    Contact,
    /// Closed until it blows, trips or is pulled: fuses and plugs.
    Fuse,
    /// Does the work: load, winding, primary of a transformer, input of a DC supply.
    Load,
    /// A relay's coil.
    Coil,
    /// Capacitor, resistor, diode, thermistor, choke, arrester, sensing input.
    Passive,
    /// A secondary winding; a source by itself, yet low ohms.
    Secondary,
    /// Another source.
    Source,
}

/// A two-ended item between two nets.
#[derive(Debug, Clone, Copy)]
pub(super) struct Item {
    /// The part it is in.
    pub part: PartId,
    /// Which of the body's elements.
    pub element: usize,
    /// How it conducts.
    pub sort: Sort,
    /// The nets of its ends.
    pub nets: [NetId; 2],
}

impl Item {
    /// The net at the other end.
    pub fn across(&self, net: NetId) -> NetId {
        if self.nets[0] == net { self.nets[1] } else { self.nets[0] }
    }
}

/// The recorded wiring.
#[derive(Debug, Default, Clone)]
pub(super) struct Graph {
    /// Every net.
    pub nets: Vec<Net>,
    /// Every item, in order of part and element.
    pub items: Vec<Item>,
    /// Net of each terminal of each part.
    of_terminal: HashMap<TerminalRef, NetId>,
    /// Net of each wire end.
    of_end: HashMap<(WireId, Side), NetId>,
}

impl Graph {
    /// The net of a terminal of the record.
    pub fn net_of_terminal(&self, terminal: &TerminalRef) -> Option<NetId> {
        self.of_terminal.get(terminal).copied()
    }

    /// The net of a wire's end, on its own conductor.
    pub fn net_of_end(&self, wire: WireId, side: Side) -> Option<NetId> {
        self.of_end.get(&(wire, side)).copied()
    }

    /// The net a probe on this spot is on.
    pub fn net_of_spot(&self, spot: &Spot) -> Option<NetId> {
        match spot {
            Spot::Terminal(terminal) => self.net_of_terminal(terminal),
            Spot::End(wire, side) => self.net_of_end(*wire, *side),
            Spot::Wire(_) | Spot::Part(_) | Spot::Gone(_) => None,
        }
    }

    /// The graph of a record, with these leads off besides those the record has off.
    ///
    /// As the network of `circuit` has it: a wire that is capped off is joined to nothing, an empty place has nothing inside.
    pub fn of(machine: &Machine, bodies: &Bodies, lifted: &BTreeSet<(WireId, Side)>) -> Self {
        let mut builder = Builder::default();
        builder.add_terminals(machine, bodies);
        builder.add_wires(machine, lifted);
        builder.join_inside(bodies);
        builder.finish(bodies)
    }
}

/// Union-find over dense numbers; the smaller root wins, so that the result does not depend on order.
#[derive(Debug, Default)]
pub(super) struct Classes(Vec<usize>);

impl Classes {
    /// As many classes as numbers.
    pub fn new(count: usize) -> Self {
        Self((0..count).collect())
    }

    /// Adds a number in a class of its own.
    fn push(&mut self) -> usize {
        self.0.push(self.0.len());
        self.0.len() - 1
    }

    /// The class's smallest number.
    pub fn root(&mut self, mut at: usize) -> usize {
        while self.0[at] != at {
            self.0[at] = self.0[self.0[at]];
            at = self.0[at];
        }
        at
    }

    /// Puts two classes together.
    pub fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b)] = a.min(b);
    }

    /// The smallest number of the class of each number.
    pub fn roots(mut self) -> Vec<usize> {
        (0..self.0.len()).map(|at| self.root(at)).collect()
    }
}

#[derive(Default)]
struct Builder {
    nodes: Vec<Node>,
    doubtful: Vec<bool>,
    classes: Classes,
    terminals: HashMap<TerminalRef, usize>,
    ends: HashMap<(WireId, Side), usize>,
}

impl Builder {
    fn node(&mut self, node: Node, doubtful: bool) -> usize {
        self.nodes.push(node);
        self.doubtful.push(doubtful);
        self.classes.push()
    }

    fn terminal(&mut self, terminal: &TerminalRef, doubtful: bool) -> usize {
        if let Some(&known) = self.terminals.get(terminal) {
            return known;
        }
        let at = self.node(Node::Terminal(terminal.clone()), doubtful);
        self.terminals.insert(terminal.clone(), at);
        at
    }

    fn add_terminals(&mut self, machine: &Machine, bodies: &Bodies) {
        let mut unsure_parts = Vec::new();
        let mut unsure = Vec::new();
        for mystery in machine.mysteries.values() {
            match &mystery.subject {
                Subject::Kind(part) => unsure_parts.push(*part),
                Subject::ContactForm(terminal) => unsure.push(terminal),
                Subject::End(wire, side) => {
                    let open = machine.wires.get(*wire).is_some_and(|wire| wire.end(*side).at == EndAt::Unknown);
                    unsure.extend(mystery.candidates.iter().filter_map(|candidate| match &candidate.guess {
                        Guess::Terminal(terminal) if open => Some(terminal),
                        _ => None,
                    }));
                }
                Subject::CoilDriver(_) | Subject::Fault(_) => {}
            }
        }
        for (&part, body) in bodies {
            let whole = unsure_parts.contains(&part);
            for terminal in &body.terminals {
                let name = TerminalRef { part, marking: terminal.marking.clone() };
                let doubtful = whole || terminal.unknown || unsure.contains(&&name);
                self.terminal(&name, doubtful);
            }
            for point in &body.inner {
                self.terminal(&TerminalRef { part, marking: point.clone() }, whole);
            }
        }
        for mystery in machine.mysteries.values() {
            if let Subject::CoilDriver(part) = mystery.subject
                && let Some(body) = bodies.get(&part)
            {
                for marking in
                    body.elements.iter().filter(|e| matches!(e, Element::Coil { .. })).flat_map(Element::markings)
                {
                    let at = self.terminal(&TerminalRef::new(part, marking), true);
                    self.doubtful[at] = true;
                }
            }
        }
    }

    fn add_wires(&mut self, machine: &Machine, lifted: &BTreeSet<(WireId, Side)>) {
        for (id, wire) in machine.wires.iter().filter(|(_, wire)| wire.is_present()) {
            let ends = Side::BOTH.map(|side| {
                let end = wire.end(side);
                let capped = wire.state == WireState::CappedOff;
                let at = self.node(Node::End(id, side), end.at == EndAt::Unknown && !capped);
                self.ends.insert((id, side), at);
                if let Some(terminal) = wire.landed(side)
                    && !capped
                    && !lifted.contains(&(id, side))
                {
                    // A terminal that no body has belongs to a part whose kind is not known.
                    let terminal = self.terminal(terminal, true);
                    self.classes.join(at, terminal);
                }
                at
            });
            self.classes.join(ends[0], ends[1]);
        }
    }

    fn join_inside(&mut self, bodies: &Bodies) {
        for (&part, body) in bodies {
            for element in &body.elements {
                if let Element::Join { ends } = element {
                    let a = self.terminal(&TerminalRef::new(part, ends.0.as_str()), true);
                    let b = self.terminal(&TerminalRef::new(part, ends.1.as_str()), true);
                    self.classes.join(a, b);
                }
            }
        }
    }

    fn finish(mut self, bodies: &Bodies) -> Graph {
        let mut pairs = Vec::new();
        for (&part, body) in bodies {
            for (element, what) in body.elements.iter().enumerate() {
                for (sort, ends) in ends_of(what) {
                    let at = [ends.0, ends.1].map(|marking| self.terminal(&TerminalRef::new(part, marking), true));
                    pairs.push((part, element, sort, at));
                }
            }
        }
        let mut graph = Graph::default();
        let mut number = HashMap::new();
        let mut net_of_node = Vec::with_capacity(self.nodes.len());
        for at in 0..self.nodes.len() {
            let root = self.classes.root(at);
            let net = *number.entry(root).or_insert_with(|| {
                graph.nets.push(Net::default());
                graph.nets.len() - 1
            });
            net_of_node.push(net);
            if self.doubtful[at] {
                graph.nets[net].doubts.push(self.nodes[at].clone());
            }
            graph.nets[net].nodes.push(self.nodes[at].clone());
        }
        for (part, element, sort, at) in pairs {
            let nets = at.map(|node| net_of_node[node]);
            for net in if nets[0] == nets[1] { &nets[..1] } else { &nets[..] } {
                graph.nets[*net].items.push(graph.items.len());
            }
            graph.items.push(Item { part, element, sort, nets });
        }
        for net in &mut graph.nets {
            net.nodes.sort_unstable();
        }
        graph.of_terminal = self.terminals.into_iter().map(|(name, node)| (name, net_of_node[node])).collect();
        graph.of_end = self.ends.into_iter().map(|(end, node)| (end, net_of_node[node])).collect();
        graph
    }
}

/// The pairs of terminals an element stands between, with how it conducts there.
fn ends_of(element: &Element) -> Vec<(Sort, (&str, &str))> {
    fn two(ends: &(String, String)) -> (&str, &str) {
        (&ends.0, &ends.1)
    }
    match element {
        Element::Join { .. } | Element::Earth { .. } => vec![],
        Element::Source { ends, .. } => vec![(Sort::Source, two(ends))],
        Element::Transformer { primary, secondary, .. } => {
            vec![(Sort::Load, two(primary)), (Sort::Secondary, two(secondary))]
        }
        Element::DcSupply { input, output } => vec![(Sort::Load, two(input)), (Sort::Source, two(output))],
        Element::Coil { ends, .. } => vec![(Sort::Coil, two(ends))],
        // A plug in its socket is wiring; a condition may pull it all the same.
        Element::Contact { ends, driver: Driver::Switch { name, .. }, .. } if name == MATED.0 => {
            vec![(Sort::Fuse, two(ends))]
        }
        Element::Contact { ends, .. } => vec![(Sort::Contact, two(ends))],
        Element::Load { ends, .. } | Element::Winding { ends, .. } => vec![(Sort::Load, two(ends))],
        Element::Fuse { ends } => vec![(Sort::Fuse, two(ends))],
        Element::Diode { anode, cathode } => vec![(Sort::Passive, (anode, cathode))],
        Element::Capacitor { ends }
        | Element::Resistor { ends }
        | Element::Thermistor { ends, .. }
        | Element::Choke { ends }
        | Element::Arrester { ends }
        | Element::Sense { ends } => vec![(Sort::Passive, two(ends))],
    }
}

/// Whether a relay or a commanded output works this contact, as against a hand, heat or a door.
pub(super) fn is_worked(driver: &Driver) -> bool {
    matches!(driver, Driver::Coil(_) | Driver::Output(_))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::circuit::{Frame, Network};
    use crate::generate::invented_machine;
    use crate::machine::Setting;

    use super::super::survey::Wiring;

    /// The rules and the circuit each make nets of a record; they must be the same nets.
    #[test]
    fn nets_here_are_those_that_the_circuit_makes_of_wire_alone() {
        let catalogue = Catalogue::built_in().unwrap();
        for seed in 1..=5 {
            let machine = invented_machine(300, seed);
            let network = Network::of(&machine, &catalogue);
            let wiring = Wiring::of(&machine, &network);
            let frame = Frame::of(&network, &Setting::default());
            let mut class_of_net: BTreeMap<NetId, u32> = BTreeMap::new();
            let mut net_of_class: BTreeMap<u32, NetId> = BTreeMap::new();
            let mut seen = 0;
            for (node, info) in network.nodes() {
                let Some(net) = wiring.graph.net_of_spot(&info.spot) else { panic!("{:?} is on no net", info.spot) };
                let class = frame.wired().root(node.0);
                assert_eq!(*class_of_net.entry(net).or_insert(class), class, "{:?}", info.spot);
                assert_eq!(*net_of_class.entry(class).or_insert(net), net, "{:?}", info.spot);
                seen += 1;
            }
            assert!(seen > 300 && class_of_net.len() > 50, "{seen} nodes, {} nets", class_of_net.len());
        }
    }
}
