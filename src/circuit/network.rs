//! The network a record stands for, whatever condition the machine is in.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::catalogue::{Body, Form, LoadKind};
use crate::machine::{HazardLimits, PartId, Side, Spot, TerminalRef, WireId};
use crate::quantity::{Current, WireSize};

/// A dense number for a terminal, a point inside a part, or an end of a wire.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub struct Node(pub u32);

impl Node {
    /// As an index.
    pub fn at(self) -> usize {
        self.0 as usize
    }
}

/// What a node is.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct NodeInfo {
    /// The terminal or the end of a wire.
    pub spot: Spot,
    /// What lies behind it is not known (a pin of unknown role, a terminal its part does not have, an end out of sight).
    pub unknown: bool,
    /// No probe and no wire reaches it.
    pub inner: bool,
}

/// A wire that is still on the machine.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Conductor {
    /// The wire.
    pub wire: WireId,
    /// Its own two ends.
    pub ends: [Node; 2],
    /// The terminal each end is landed on by the record. `None`: lifted, loose, unknown or capped off.
    pub landed: [Option<Node>; 2],
    /// Conductor size, where it is recorded.
    pub size: Option<WireSize>,
    /// Length in millimetres, where it is recorded.
    pub length_mm: Option<f64>,
    /// Broken on the way: its two ends are no longer one conductor.
    pub broken: bool,
}

/// A two-ended thing inside a part.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Inside {
    /// The part.
    pub part: PartId,
    /// Which of its body's elements.
    pub element: usize,
    /// Its two ends, in the catalogue's order.
    pub ends: [Node; 2],
}

/// What works a contact.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum Works {
    /// The relay of this index in [`Network::relays`].
    Relay(usize),
    /// A coil that the part does not have: the contact stays at rest.
    NoCoil(String),
    /// A switch of the part; closed exactly in these positions.
    Switch {
        /// The switch's name.
        name: String,
        /// Positions in which the contact is closed.
        closed_in: Vec<String>,
    },
    /// An output of the part.
    Output(TerminalRef),
}

/// A contact.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Contact {
    /// Where it is.
    pub inside: Inside,
    /// Make or break.
    pub form: Form,
    /// What works it.
    pub works: Works,
}

/// A coil, which works the contacts of the same part that name it.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Relay {
    /// Where its coil is.
    pub inside: Inside,
    /// The coil's name, unique in the part.
    pub coil: String,
    /// What it is made for; `None`: not said, either works it.
    pub current: Option<Current>,
    /// Moves only when no relay of a lower class is about to move: 0 at once, 1 after a delay.
    pub delay: u8,
    /// Its contacts, as indices in [`Network::contacts`].
    pub contacts: Vec<usize>,
}

/// A load or a winding.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Load {
    /// Where it is.
    pub inside: Inside,
    /// Its name, unique in the part.
    pub name: String,
    /// What kind; `None` for a winding.
    pub what: Option<LoadKind>,
}

/// A source that a condition switches on or off.
#[derive(Debug, Clone, PartialEq)]
pub struct Source {
    /// Where it is; first pole, second pole.
    pub inside: Inside,
    /// Alternating or direct.
    pub current: Current,
    /// Rated volts between its two ends. `None`: not recorded.
    pub volts: Option<f64>,
    /// Phase in degrees (AC).
    pub phase_deg: f64,
    /// Whether the second pole is held near earth.
    pub earthed: bool,
}

/// A transformer or DC supply: a source as long as it is fed.
#[derive(Debug, Clone, PartialEq)]
pub struct Derived {
    /// Where its output or secondary is; for DC positive, then negative.
    pub inside: Inside,
    /// What has to be fed.
    pub input: [Node; 2],
    /// What it gives.
    pub current: Current,
    /// Rated volts of the output. `None`: not recorded.
    pub volts: Option<f64>,
    /// Rated volts of the input. `None`: not recorded.
    pub input_volts: Option<f64>,
}

/// What a passive element is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Passive {
    /// A capacitor.
    Capacitor,
    /// A resistor.
    Resistor,
    /// A diode, anode first.
    Diode,
    /// A thermistor.
    Thermistor,
    /// A choke.
    Choke,
    /// A surge arrester: open below its voltage.
    Arrester,
    /// A sensing input: high resistance.
    Sense,
}

/// The network of a record, condition left open.
#[derive(Debug, Clone, Default)]
pub struct Network {
    /// Shared by networks that differ in what is landed or faulty alone.
    pub(super) nodes: Arc<Vec<NodeInfo>>,
    pub(super) terminals: Arc<BTreeMap<TerminalRef, Node>>,
    pub(super) bodies: Arc<BTreeMap<PartId, Arc<Body>>>,
    pub(super) wires: Vec<Conductor>,
    pub(super) joins: Vec<Inside>,
    pub(super) fuses: Vec<Inside>,
    pub(super) contacts: Vec<Contact>,
    pub(super) relays: Vec<Relay>,
    pub(super) loads: Vec<Load>,
    pub(super) sources: Vec<Source>,
    pub(super) derived: Vec<Derived>,
    pub(super) passives: Vec<(Passive, Inside)>,
    pub(super) earths: Vec<(PartId, Node)>,
    pub(super) limits: HazardLimits,
}

impl Network {
    /// How many nodes there are.
    pub fn len(&self) -> usize {
        self.nodes.len()
    }

    /// Whether the record has neither part nor wire.
    pub fn is_empty(&self) -> bool {
        self.nodes.is_empty()
    }

    /// What a node is. `None` for a number of another network.
    pub fn info(&self, node: Node) -> Option<&NodeInfo> {
        self.nodes.get(node.at())
    }

    /// All nodes in order: parts in order of entry with their terminals, then the ends of wires.
    pub fn nodes(&self) -> impl Iterator<Item = (Node, &NodeInfo)> {
        (0u32..).map(Node).zip(self.nodes.iter())
    }

    /// The node of a terminal.
    pub fn terminal(&self, terminal: &TerminalRef) -> Option<Node> {
        self.terminals.get(terminal).copied()
    }

    /// The node of an end of a wire.
    pub fn end(&self, wire: WireId, side: Side) -> Option<Node> {
        let found = self.wires.binary_search_by_key(&wire, |conductor| conductor.wire).ok()?;
        let [from, to] = self.wires.get(found)?.ends;
        Some(match side {
            Side::From => from,
            Side::To => to,
        })
    }

    /// The node of a spot a probe can be put on.
    pub fn node(&self, spot: &Spot) -> Option<Node> {
        match spot {
            Spot::Terminal(terminal) => self.terminal(terminal),
            Spot::End(wire, side) => self.end(*wire, *side),
            Spot::Wire(_) | Spot::Part(_) | Spot::Gone(_) => None,
        }
    }

    /// The same network with an end of a wire on this terminal, or on nothing, whatever the record says of it. `None` where it has no such
    /// wire or terminal.
    pub fn with_end(mut self, wire: WireId, side: Side, on: Option<&TerminalRef>) -> Option<Self> {
        let landed = match on {
            Some(terminal) => Some(self.terminal(terminal)?),
            None => None,
        };
        let found = self.wires.binary_search_by_key(&wire, |conductor| conductor.wire).ok()?;
        let conductor = self.wires.get_mut(found)?;
        let slot = usize::from(side == Side::To);
        conductor.landed[slot] = landed;
        let end = conductor.ends[slot].at();
        if self.nodes.get(end)?.unknown {
            Arc::make_mut(&mut self.nodes)[end].unknown = false; // asked for just now
        }
        Some(self)
    }

    /// What a part consists of.
    pub fn body(&self, part: PartId) -> Option<&Arc<Body>> {
        self.bodies.get(&part)
    }

    /// What every part consists of.
    pub fn bodies(&self) -> &BTreeMap<PartId, Arc<Body>> {
        &self.bodies
    }

    /// Wires still on the machine, in order of entry.
    pub fn wires(&self) -> &[Conductor] {
        &self.wires
    }

    /// Ideal conductors inside parts.
    pub fn joins(&self) -> &[Inside] {
        &self.joins
    }

    /// Fuses and protectors, closed.
    pub fn fuses(&self) -> &[Inside] {
        &self.fuses
    }

    /// Contacts.
    pub fn contacts(&self) -> &[Contact] {
        &self.contacts
    }

    /// Coils with their contacts.
    pub fn relays(&self) -> &[Relay] {
        &self.relays
    }

    /// Loads and windings.
    pub fn loads(&self) -> &[Load] {
        &self.loads
    }

    /// Sources that a condition switches.
    pub fn sources(&self) -> &[Source] {
        &self.sources
    }

    /// Transformers and DC supplies.
    pub fn derived(&self) -> &[Derived] {
        &self.derived
    }

    /// Passive elements.
    pub fn passives(&self) -> &[(Passive, Inside)] {
        &self.passives
    }

    /// Terminals that are protective earth or are to be bonded to it.
    pub fn earths(&self) -> &[(PartId, Node)] {
        &self.earths
    }

    /// The voltages that part the hazard classes.
    pub fn limits(&self) -> HazardLimits {
        self.limits
    }
}
