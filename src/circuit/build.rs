//! Makes the network of a record: one node for each terminal and each end of a wire, elements from the catalogue.

use std::sync::Arc;

use crate::catalogue::{Body, Catalogue, Driver, Element};
use crate::machine::{EndAt, Machine, Marking, Mounting, PartId, Side, Spot, TerminalRef, WireState};
use crate::quantity::{Current, Rating};

use super::network::{
    Conductor, Contact, Derived, Inside, Load, Network, Node, NodeInfo, Passive, Relay, Source, Works,
};

impl Network {
    /// The network of a record. What is not known is joined to nothing; removed wires are left out.
    pub fn of(machine: &Machine, catalogue: &Catalogue) -> Self {
        let mut network = Self { limits: machine.facts.limits, ..Self::default() };
        for (id, part) in machine.parts.iter() {
            let body = Arc::new(catalogue.body(part));
            for terminal in &body.terminals {
                network.add_terminal(TerminalRef::new(id, terminal.marking.clone()), terminal.unknown, false);
            }
            for point in &body.inner {
                network.add_terminal(TerminalRef::new(id, point.clone()), false, true);
            }
            // An empty place holds terminals in the record but nothing between them.
            if part.mounting != Mounting::Missing {
                network.add_elements(id, &body);
            }
            Arc::make_mut(&mut network.bodies).insert(id, body);
        }
        network.tie_contacts();
        network.add_wires(machine);
        network
    }

    fn add_node(&mut self, info: NodeInfo) -> Node {
        let node = Node(u32::try_from(self.nodes.len()).unwrap_or(u32::MAX));
        Arc::make_mut(&mut self.nodes).push(info);
        node
    }

    fn add_terminal(&mut self, terminal: TerminalRef, unknown: bool, inner: bool) -> Node {
        if let Some(&node) = self.terminals.get(&terminal) {
            return node;
        }
        let node = self.add_node(NodeInfo { spot: Spot::Terminal(terminal.clone()), unknown, inner });
        Arc::make_mut(&mut self.terminals).insert(terminal, node);
        node
    }

    /// The node of a marking an element names; one its part does not have is a node of its own, not known.
    fn marked(&mut self, part: PartId, marking: &str) -> Node {
        self.add_terminal(TerminalRef::new(part, marking), true, false)
    }

    fn add_elements(&mut self, part: PartId, body: &Body) {
        for (element, what) in body.elements.iter().enumerate() {
            let mut inside = |ends: &(String, String)| Inside {
                part,
                element,
                ends: [self.marked(part, &ends.0), self.marked(part, &ends.1)],
            };
            match what {
                Element::Join { ends } => {
                    let join = inside(ends);
                    self.joins.push(join);
                }
                Element::Fuse { ends } => {
                    let fuse = inside(ends);
                    self.fuses.push(fuse);
                }
                Element::Earth { at } => {
                    let node = self.marked(part, at);
                    self.earths.push((part, node));
                }
                Element::Source { ends, current, phase_deg, share, earthed } => {
                    let source = Source {
                        inside: inside(ends),
                        current: *current,
                        volts: body.ratings.get(Rating::Volts).map(|volts| volts * share),
                        phase_deg: *phase_deg,
                        earthed: *earthed,
                    };
                    self.sources.push(source);
                }
                Element::Transformer { primary, secondary, share } => {
                    let derived = Derived {
                        inside: inside(secondary),
                        input: inside(primary).ends,
                        current: Current::Ac,
                        volts: body.ratings.get(Rating::SecondaryVolts).map(|volts| volts * share),
                        input_volts: body.ratings.get(Rating::Volts),
                    };
                    self.derived.push(derived);
                }
                Element::DcSupply { input, output } => {
                    let derived = Derived {
                        inside: inside(output),
                        input: inside(input).ends,
                        current: Current::Dc,
                        volts: body.ratings.get(Rating::SecondaryVolts),
                        input_volts: body.ratings.get(Rating::Volts),
                    };
                    self.derived.push(derived);
                }
                Element::Coil { name, ends, current } => {
                    let relay = Relay {
                        inside: inside(ends),
                        coil: name.clone(),
                        current: body.ratings.rated(Rating::CoilVolts).and_then(|r| r.current).or(Some(*current)),
                        delay: u8::from(body.ratings.get(Rating::Seconds).is_some_and(|seconds| seconds > 0.0)),
                        contacts: Vec::new(),
                    };
                    self.relays.push(relay);
                }
                Element::Contact { ends, form, driver } => {
                    let works = match driver {
                        Driver::Coil(name) => Works::NoCoil(name.clone()),
                        Driver::Switch { name, closed_in } => {
                            Works::Switch { name: name.clone(), closed_in: closed_in.clone() }
                        }
                        Driver::Output(pin) => Works::Output(TerminalRef::new(part, pin.as_str())),
                    };
                    let contact = Contact { inside: inside(ends), form: *form, works };
                    self.contacts.push(contact);
                }
                Element::Load { name, ends, what } => {
                    let load = Load { inside: inside(ends), name: name.clone(), what: Some(*what) };
                    self.loads.push(load);
                }
                Element::Winding { name, ends } => {
                    let load = Load { inside: inside(ends), name: name.clone(), what: None };
                    self.loads.push(load);
                }
                Element::Capacitor { ends } => {
                    let passive = (Passive::Capacitor, inside(ends));
                    self.passives.push(passive);
                }
                Element::Resistor { ends } => {
                    let passive = (Passive::Resistor, inside(ends));
                    self.passives.push(passive);
                }
                Element::Diode { anode, cathode } => {
                    let passive = (Passive::Diode, inside(&(anode.clone(), cathode.clone())));
                    self.passives.push(passive);
                }
                Element::Thermistor { ends, .. } => {
                    let passive = (Passive::Thermistor, inside(ends));
                    self.passives.push(passive);
                }
                Element::Choke { ends } => {
                    let passive = (Passive::Choke, inside(ends));
                    self.passives.push(passive);
                }
                Element::Arrester { ends } => {
                    let passive = (Passive::Arrester, inside(ends));
                    self.passives.push(passive);
                }
                Element::Sense { ends } => {
                    let passive = (Passive::Sense, inside(ends));
                    self.passives.push(passive);
                }
            }
        }
    }

    /// Ties each contact to the relay of its part whose coil it names.
    fn tie_contacts(&mut self) {
        let by_coil: std::collections::BTreeMap<(PartId, String), usize> = self
            .relays
            .iter()
            .enumerate()
            .map(|(index, relay)| ((relay.inside.part, relay.coil.clone()), index))
            .collect();
        for (index, contact) in self.contacts.iter_mut().enumerate() {
            if let Works::NoCoil(name) = &contact.works
                && let Some(&relay) = by_coil.get(&(contact.inside.part, name.clone()))
            {
                contact.works = Works::Relay(relay);
                self.relays[relay].contacts.push(index); // by_coil holds indices of relays only
            }
        }
    }

    fn add_wires(&mut self, machine: &Machine) {
        for (wire, entry) in machine.wires.iter().filter(|(_, wire)| wire.is_present()) {
            let capped = entry.state == WireState::CappedOff;
            let mut ends = [Node(0); 2];
            let mut landed = [None; 2];
            for (slot, side) in Side::BOTH.into_iter().enumerate() {
                let unknown = entry.end(side).at == EndAt::Unknown && !capped;
                ends[slot] = self.add_node(NodeInfo { spot: Spot::End(wire, side), unknown, inner: false });
                landed[slot] = entry.landed(side).filter(|_| !capped).map(|terminal| {
                    self.terminals
                        .get(terminal)
                        .copied()
                        .unwrap_or_else(|| self.marked(terminal.part, Marking::as_str(&terminal.marking)))
                });
            }
            self.wires.push(Conductor {
                wire,
                ends,
                landed,
                size: entry.size,
                length_mm: entry.length_mm,
                broken: false,
            });
        }
    }
}
