//! Writes a network in one setting down as a linear circuit: which branch stands for what.
//!
//! One circuit for each kind of current: alternating at the supply's frequency, direct, and the meter's own test current on a
//! machine without supply. The number of a branch is the same in all three, so contacts are opened and closed by number.

use std::sync::Arc;

use crate::catalogue::Element;
use crate::quantity::{Current, Rating};

use super::super::frame::Frame;
use super::super::linear::{Branch, Circuit, Factored, Kept, Phasor, Transformer};
use super::super::network::{Inside, Network, Node, Passive};
use super::worth::{self, Basis, Consumer, Corner, Dipole, Said, Worth};

/// What a branch stands for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum What {
    /// A wire, as an index in [`Network::wires`].
    Wire(usize),
    /// The landing of an end (0 or 1) of such a wire.
    Landing(usize, usize),
    /// An ideal conductor in a part, as an index in [`Network::joins`].
    Join(usize),
    /// A fuse or protector, as an index in [`Network::fuses`].
    Fuse(usize),
    /// A contact, as an index in [`Network::contacts`].
    Contact(usize),
    /// A coil, as an index in [`Network::relays`].
    Coil(usize),
    /// A load or winding, as an index in [`Network::loads`].
    Load(usize),
    /// A source, as an index in [`Network::sources`].
    Source(usize),
    /// The winding of a transformer that is fed, or the input of a DC supply, as an index in [`Network::derived`].
    Input(usize),
    /// The secondary of a transformer, or the output of a DC supply.
    Output(usize),
    /// A passive element, as an index in [`Network::passives`].
    Passive(usize),
    /// A meter, between the probes.
    Meter,
    /// What holds the supplies near earth, outside the machine.
    Earthing,
}

/// What is worth knowing about each element, whatever the setting. Made once for a network.
#[derive(Debug, Clone)]
pub struct Elements {
    /// Each wire, where size and length say so; `None`: ideal.
    pub wires: Vec<Option<Worth>>,
    /// Each coil.
    pub coils: Vec<Consumer>,
    /// Each load and winding.
    pub loads: Vec<Consumer>,
    /// Each passive element.
    pub passives: Vec<Dipole>,
    /// For each transformer: its windings and ratio; for each DC supply: its input, output and output volts.
    pub derived: Vec<Conversion>,
    /// Supply frequency in hertz.
    pub hertz: f64,
    /// Where many networks with these elements are looked at: what was solved before.
    pub kept: Option<Arc<Kept>>,
}

/// A transformer or DC supply in numbers.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Conversion {
    /// A transformer.
    Transformer {
        /// Primary winding, in ohms.
        primary: Worth,
        /// Secondary winding, in ohms.
        secondary: Worth,
        /// Primary volts over secondary volts without load.
        ratio: f64,
    },
    /// A DC supply.
    Supply {
        /// What its input is to the AC side, in ohms.
        input: Worth,
        /// Its own resistance at the output, in ohms.
        output: Worth,
        /// Rated output volts.
        volts: f64,
        /// Rated input volts.
        input_volts: f64,
    },
    /// Its volts are not recorded: nothing can be computed through it.
    Unrecorded,
}

/// Which current a circuit is for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Flow {
    /// Alternating, at the supply's frequency.
    Alternating,
    /// Direct, from batteries and DC supplies.
    Direct,
    /// The test current of a meter, every supply taken off.
    Test,
}

impl Elements {
    /// What each element of the network is worth.
    pub fn of(network: &Network) -> Self {
        let said = |inside: &Inside| {
            network.body(inside.part).map_or_else(Said::default, |body| Said::of(body, inside.element))
        };
        let coils =
            network.relays().iter().map(|relay| worth::coil(&said(&relay.inside), relay.current != Some(Current::Dc)));
        let loads = network.loads().iter().map(|load| match load.what {
            Some(what) => worth::load(&said(&load.inside), what),
            None => worth::winding(&said(&load.inside), &load.name),
        });
        let passives = network.passives().iter().map(|(what, inside)| {
            let element = network.body(inside.part).and_then(|body| body.elements.get(inside.element));
            let rises = matches!(element, Some(Element::Thermistor { rises: true, .. }));
            worth::passive(&said(inside), *what, rises)
        });
        let derived = network.derived().iter().map(|one| {
            let (Some(volts), Some(input_volts)) = (one.volts, one.input_volts) else { return Conversion::Unrecorded };
            let said = said(&one.inside);
            match one.current {
                Current::Ac => {
                    let (primary, secondary) = worth::transformer(&said, input_volts, volts);
                    Conversion::Transformer { primary, secondary, ratio: input_volts / volts }
                }
                Current::Dc => Conversion::Supply {
                    input: worth::supply_input(&said, input_volts),
                    // Regulated supplies sag by a few per cent at most at rated current (common practice, no source).
                    output: Worth::between(0.001 * volts, 0.05 * volts, Basis::Typical),
                    volts,
                    input_volts,
                },
            }
        });
        let hertz = network
            .sources()
            .iter()
            .filter(|source| source.current == Current::Ac)
            .find_map(|source| network.body(source.inside.part)?.ratings.get(Rating::Hertz))
            .filter(|hertz| hertz.is_finite() && *hertz > 0.0)
            .unwrap_or(50.0);
        Self {
            wires: network.wires().iter().map(|wire| worth::wire(wire.size, wire.length_mm)).collect(),
            coils: coils.collect(),
            loads: loads.collect(),
            passives: passives.collect(),
            derived: derived.collect(),
            hertz,
            kept: None,
        }
    }

    /// The same for many networks that differ little: what is solved for one is taken over for the others.
    pub fn kept(self) -> Self {
        Self { kept: Some(Arc::default()), ..self }
    }

    /// A circuit of these elements, solved.
    pub fn solved(&self, circuit: &Circuit, omega: f64) -> Factored {
        Factored::keeping(circuit, omega, self.kept.as_deref())
    }

    /// Angular frequency of the supply, in radians per second.
    pub fn omega(&self) -> f64 {
        std::f64::consts::TAU * self.hertz
    }
}

/// A circuit with what each of its branches stands for.
#[derive(Debug, Clone)]
pub struct Stamp {
    /// The circuit. Nodes are those of the network, then one inside each winding of a transformer.
    pub circuit: Circuit,
    /// What each branch stands for.
    pub what: Vec<What>,
    /// The branch of each contact.
    pub contacts: Vec<usize>,
    /// The branch of each fuse or protector.
    pub fuses: Vec<usize>,
    /// The branch of each coil.
    pub coils: Vec<usize>,
    /// The branch of each load.
    pub loads: Vec<usize>,
    /// The branch of each wire's own run.
    pub wires: Vec<usize>,
    /// The branch of each output of a transformer or DC supply.
    pub outputs: Vec<usize>,
    /// The branch of each input of a transformer or DC supply.
    pub inputs: Vec<usize>,
    /// The branch of each source.
    pub sources: Vec<usize>,
    /// Branches of diodes, anode first.
    pub diodes: Vec<usize>,
}

impl Stamp {
    /// The circuit of a frame for one kind of current, with contacts closed as given, each value at a corner of its band.
    pub fn of(
        frame: &Frame<'_>,
        elements: &Elements,
        closed: &dyn Fn(usize) -> bool,
        flow: Flow,
        corner: &dyn Fn(What) -> Corner,
    ) -> Self {
        let network = frame.network;
        let ends = 3 * network.wires().len() + network.joins().len() + network.contacts().len() + network.loads().len();
        let mut stamp = Self {
            circuit: Circuit {
                nodes: u32::try_from(network.len()).unwrap_or(u32::MAX),
                branches: Vec::with_capacity(ends),
                ..Circuit::default()
            },
            what: Vec::with_capacity(ends),
            contacts: Vec::with_capacity(network.contacts().len()),
            fuses: Vec::new(),
            coils: Vec::with_capacity(network.relays().len()),
            loads: Vec::with_capacity(network.loads().len()),
            wires: Vec::with_capacity(network.wires().len()),
            outputs: Vec::new(),
            inputs: Vec::new(),
            sources: Vec::new(),
            diodes: Vec::new(),
        };
        stamp.add_wires(frame, elements, corner);
        for (index, join) in network.joins().iter().enumerate() {
            stamp.add(join.ends, Branch::Wire, What::Join(index));
        }
        for (index, fuse) in network.fuses().iter().enumerate() {
            let branch = resistor(worth::closed_protector(), corner(What::Fuse(index)));
            let number = stamp.add(fuse.ends, branch, What::Fuse(index));
            stamp.fuses.push(number);
        }
        for (index, contact) in network.contacts().iter().enumerate() {
            let branch = contact_branch(closed(index), corner(What::Contact(index)));
            let number = stamp.add(contact.inside.ends, branch, What::Contact(index));
            stamp.contacts.push(number);
        }
        for (index, relay) in network.relays().iter().enumerate() {
            let branch = consumer(elements.coils.get(index), flow, corner(What::Coil(index)));
            let number = stamp.add(relay.inside.ends, branch, What::Coil(index));
            stamp.coils.push(number);
        }
        for (index, load) in network.loads().iter().enumerate() {
            let branch = consumer(elements.loads.get(index), flow, corner(What::Load(index)));
            let number = stamp.add(load.inside.ends, branch, What::Load(index));
            stamp.loads.push(number);
        }
        for (index, (what, inside)) in network.passives().iter().enumerate() {
            let number = stamp.add_passive(
                inside,
                elements.passives.get(index),
                flow,
                corner(What::Passive(index)),
                (index, elements.omega()),
            );
            if *what == Passive::Diode {
                stamp.diodes.push(number);
            }
        }
        stamp.add_sources(frame, flow, corner);
        if flow != Flow::Test {
            stamp.add_earthing(frame, corner(What::Earthing));
        }
        stamp.add_derived(network, elements, flow, corner);
        stamp
    }

    fn add(&mut self, ends: [Node; 2], branch: Branch, what: What) -> usize {
        self.circuit.branches.push((ends[0].0, ends[1].0, branch));
        self.what.push(what);
        self.what.len() - 1
    }

    fn add_wires(&mut self, frame: &Frame<'_>, elements: &Elements, corner: &dyn Fn(What) -> Corner) {
        for (index, (conductor, landed)) in frame.network.wires().iter().zip(&frame.landed).enumerate() {
            let branch = match elements.wires.get(index).copied().flatten() {
                _ if conductor.broken => Branch::Open,
                Some(ohms) => resistor(ohms, corner(What::Wire(index))),
                None => Branch::Wire,
            };
            let number = self.add(conductor.ends, branch, What::Wire(index));
            self.wires.push(number);
            for (side, (end, terminal)) in conductor.ends.iter().zip(landed).enumerate() {
                if let Some(terminal) = terminal {
                    self.add([*end, *terminal], Branch::Wire, What::Landing(index, side));
                }
            }
        }
    }

    fn add_passive(
        &mut self,
        inside: &Inside,
        dipole: Option<&Dipole>,
        flow: Flow,
        corner: Corner,
        (index, omega): (usize, f64),
    ) -> usize {
        let branch = match (dipole, flow) {
            (Some(Dipole::Resistor(ohms)), _) | (Some(Dipole::Choke(_, ohms)), Flow::Test | Flow::Direct) => {
                resistor(*ohms, corner)
            }
            (Some(Dipole::Thermistor { cold, .. }), Flow::Test) => resistor(*cold, corner),
            (Some(Dipole::Thermistor { hot, .. }), _) => resistor(*hot, corner),
            (Some(Dipole::Capacitor(farads)), _) => Branch::Capacitor { farads: farads.at(corner) },
            (Some(Dipole::Choke(henries, ohms)), Flow::Alternating) => {
                Branch::Impedance { ohms: Phasor::new(ohms.at(corner), omega * henries.at(corner)) }
            }
            // A diode may conduct or not; who solves decides. A meter's test voltage may or may not bring it to conduct.
            (Some(Dipole::Diode), Flow::Test) if corner == Corner::Low => Branch::Resistor { ohms: 100.0 },
            (Some(Dipole::Diode | Dipole::Open) | None, _) => Branch::Open,
        };
        self.add(inside.ends, branch, What::Passive(index))
    }

    fn add_sources(&mut self, frame: &Frame<'_>, flow: Flow, corner: &dyn Fn(What) -> Corner) {
        for (index, source) in frame.network.sources().iter().enumerate() {
            let on = frame.on.get(index).copied().unwrap_or(false);
            let own = matches!((source.current, flow), (Current::Ac, Flow::Alternating) | (Current::Dc, Flow::Direct));
            let branch = match (on, flow, source.volts) {
                (false, ..) | (_, Flow::Test, _) | (_, _, None) => Branch::Open,
                (true, _, Some(volts)) if own => {
                    let volts = worth::source(volts, source.current).at(corner(What::Source(index)));
                    Branch::Voltage { volts: Phasor::from_polar(volts, source.phase_deg.to_radians()), ohms: 0.0 }
                }
                // Of another kind of current: it holds no difference of this one, and lets it through.
                (true, _, Some(_)) => Branch::Voltage { volts: Phasor::new(0.0, 0.0), ohms: 0.0 },
            };
            let number = self.add(source.inside.ends, branch, What::Source(index));
            self.sources.push(number);
        }
    }

    /// The earthed poles of supplies that are on, and the earths those supplies bring, meet outside the machine.
    fn add_earthing(&mut self, frame: &Frame<'_>, corner: Corner) {
        let network = frame.network;
        let on = || network.sources().iter().zip(&frame.on).filter(|(_, on)| **on).map(|(source, _)| source);
        let poles = on().filter(|source| source.earthed).map(|source| source.inside.ends[1]);
        let earths = network.earths().iter().filter(|(part, _)| on().any(|source| source.inside.part == *part));
        let ends: Vec<Node> = poles.chain(earths.map(|(_, node)| *node)).collect();
        if ends.len() < 2 {
            return;
        }
        let ground = self.circuit.nodes;
        self.circuit.nodes += 1;
        for end in ends {
            self.add([end, Node(ground)], resistor(worth::earthing(), corner), What::Earthing);
        }
    }

    fn add_derived(&mut self, network: &Network, elements: &Elements, flow: Flow, corner: &dyn Fn(What) -> Corner) {
        for (index, one) in network.derived().iter().enumerate() {
            let input = Inside { ends: one.input, ..one.inside };
            let (fed, given) = match (elements.derived.get(index), flow) {
                (Some(Conversion::Transformer { primary, secondary, ratio }), Flow::Alternating) => {
                    let (inner_primary, inner_secondary) = (self.circuit.nodes, self.circuit.nodes + 1);
                    self.circuit.nodes += 2;
                    self.circuit.transformers.push(Transformer {
                        primary: [inner_primary, one.input[1].0],
                        secondary: [inner_secondary, one.inside.ends[1].0],
                        ratio: *ratio,
                    });
                    let fed = self.add(
                        [one.input[0], Node(inner_primary)],
                        resistor(*primary, corner(What::Input(index))),
                        What::Input(index),
                    );
                    self.add(
                        [Node(inner_primary), one.input[1]],
                        Branch::Impedance { ohms: worth::magnetising(network, one) },
                        What::Input(index),
                    );
                    let given = self.add(
                        [one.inside.ends[0], Node(inner_secondary)],
                        resistor(*secondary, corner(What::Output(index))),
                        What::Output(index),
                    );
                    (fed, given)
                }
                // To direct current the windings are no more than their resistance.
                (Some(Conversion::Transformer { primary, secondary, .. }), _) => (
                    self.add(input.ends, resistor(*primary, corner(What::Input(index))), What::Input(index)),
                    self.add(one.inside.ends, resistor(*secondary, corner(What::Output(index))), What::Output(index)),
                ),
                (Some(Conversion::Supply { input: ohms, .. }), Flow::Alternating) => (
                    self.add(input.ends, resistor(*ohms, corner(What::Input(index))), What::Input(index)),
                    self.add(one.inside.ends, Branch::Open, What::Output(index)),
                ),
                // A meter's test current finds rectifiers and capacitors there: open, or anything.
                (Some(Conversion::Supply { .. } | Conversion::Unrecorded), Flow::Test) => {
                    let anything = |what| {
                        if corner(what) == Corner::Low {
                            Branch::Resistor { ohms: ELECTRONICS_OHMS }
                        } else {
                            Branch::Open
                        }
                    };
                    let (fed, given) = (What::Input(index), What::Output(index));
                    (self.add(input.ends, anything(fed), fed), self.add(one.inside.ends, anything(given), given))
                }
                // Its output is switched on by who solves, once its input is seen to be fed.
                (Some(Conversion::Supply { .. } | Conversion::Unrecorded) | None, _) => (
                    self.add(input.ends, Branch::Open, What::Input(index)),
                    self.add(one.inside.ends, Branch::Open, What::Output(index)),
                ),
            };
            self.inputs.push(fed);
            self.outputs.push(given);
        }
    }
}

/// The least a meter may find at the input or output of a DC supply (common practice, no source).
const ELECTRONICS_OHMS: f64 = 100.0;

/// A contact, closed or open.
pub fn contact_branch(closed: bool, corner: Corner) -> Branch {
    if closed { resistor(worth::closed_contact(), corner) } else { Branch::Open }
}

/// A resistor of this worth.
pub fn resistor(ohms: Worth, corner: Corner) -> Branch {
    Branch::Resistor { ohms: ohms.at(corner) }
}

/// A coil, load or winding: resistance to direct current, impedance to alternating.
fn consumer(consumer: Option<&Consumer>, flow: Flow, corner: Corner) -> Branch {
    let Some(consumer) = consumer else { return Branch::Open };
    match flow {
        Flow::Direct | Flow::Test => resistor(consumer.dc, corner),
        Flow::Alternating => {
            let size = consumer.ac.at(corner);
            let reactive = (1.0 - consumer.power_factor.powi(2)).max(0.0).sqrt();
            Branch::Impedance { ohms: Phasor::new(size * consumer.power_factor, size * reactive) }
        }
    }
}
