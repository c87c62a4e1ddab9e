//! The hidden machine's own reading of a record: nodes, wires and elements, with the values this one machine happens to have.

use std::collections::BTreeMap;

use wirewitness::catalogue::{Body, Catalogue, Driver, Element, Form, LoadKind};
use wirewitness::machine::{Guess, Machine, MysteryId, PartId, Side, Spot, Subject, TerminalRef, WireId};
use wirewitness::quantity::{Rating, Ratings};

use super::number::{Complex, Dice};

/// How the values of a machine lie within what is printed on its parts.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Drawn {
    /// Anywhere, the same for the same number.
    Anyhow(u64),
    /// All ohms low, all high.
    Low,
    High,
}

pub struct Wire {
    pub id: WireId,
    pub ends: [usize; 2],
    pub landed: [Option<usize>; 2],
    pub broken: bool,
}

pub enum By {
    Relay(usize),
    Switch {
        part: PartId,
        name: String,
        closed_in: Vec<String>,
        rest: String,
    },
    Output(TerminalRef),
    /// Nothing moves it.
    Held,
}

pub struct Contact {
    pub part: PartId,
    pub ends: [usize; 2],
    pub make: bool,
    pub by: By,
    pub ohms: f64,
}

pub struct Coil {
    pub part: PartId,
    pub name: String,
    pub ends: [usize; 2],
    pub impedance: Complex,
    pub ohms: f64,
    pub pick_up: f64,
    pub drop_out: f64,
    pub open: bool,
}

pub struct Load {
    pub part: PartId,
    pub ends: [usize; 2],
    pub impedance: Complex,
    pub ohms: f64,
    pub runs_from: f64,
    pub open: bool,
}

/// A fuse, a resistor or an input: the same to both kinds of current.
pub struct Plain {
    pub part: PartId,
    pub ends: [usize; 2],
    pub ohms: f64,
    pub is_fuse: bool,
    pub open: bool,
}

pub struct Source {
    pub part: PartId,
    pub ends: [usize; 2],
    pub volts: Complex,
    pub ohms: f64,
    pub earthed: bool,
}

pub struct Transformer {
    pub primary: [usize; 2],
    pub secondary: [usize; 2],
    pub ratio: f64,
    pub ohms: [f64; 2],
    pub magnetising: Complex,
}

/// Everything the hidden machine consists of.
#[derive(Default)]
pub struct Model {
    pub nodes: usize,
    pub terminals: BTreeMap<TerminalRef, usize>,
    pub ends: BTreeMap<(WireId, Side), usize>,
    pub joins: Vec<[usize; 2]>,
    pub wires: Vec<Wire>,
    pub contacts: Vec<Contact>,
    pub coils: Vec<Coil>,
    pub loads: Vec<Load>,
    pub plain: Vec<Plain>,
    pub sources: Vec<Source>,
    pub transformers: Vec<Transformer>,
    /// Terminals that are protective earth, with their parts.
    pub earths: Vec<(PartId, usize)>,
}

struct Draw {
    drawn: Drawn,
    count: u64,
}

impl Draw {
    /// From −1 to 1 for the next element.
    fn off(&mut self) -> f64 {
        self.count += 1;
        match self.drawn {
            Drawn::Anyhow(seed) => Dice::new(seed, self.count).within(-1.0, 1.0),
            Drawn::Low => -1.0,
            Drawn::High => 1.0,
        }
    }

    /// Between two values, evenly on a logarithmic scale.
    fn between(&mut self, low: f64, high: f64) -> f64 {
        low * (high / low).powf(f64::midpoint(self.off(), 1.0))
    }
}

impl Model {
    /// Reads a record whose mysteries are answered by `answers`, or by their only candidate.
    pub fn of(record: &Machine, catalogue: &Catalogue, answers: &BTreeMap<MysteryId, usize>, drawn: Drawn) -> Self {
        let mut model = Self::default();
        let mut draw = Draw { drawn, count: 0 };
        for (id, part) in record.parts.iter() {
            let body = catalogue.body(part);
            for terminal in &body.terminals {
                model.terminal(&TerminalRef::new(id, terminal.marking.clone()));
            }
            for (at, element) in body.elements.iter().enumerate() {
                model.add(id, &body, element, &body.ratings_of(at), &mut draw);
            }
        }
        model.tie();
        for (id, wire) in record.wires.iter().filter(|(_, wire)| wire.is_present()) {
            let ends = [model.node(), model.node()];
            for (slot, side) in Side::BOTH.into_iter().enumerate() {
                model.ends.insert((id, side), ends[slot]);
            }
            let landed = Side::BOTH.map(|side| wire.landed(side).map(|terminal| model.terminal(terminal)));
            model.wires.push(Wire { id, ends, landed, broken: false });
        }
        let only = record.mysteries.iter().filter(|(_, mystery)| mystery.candidates.len() == 1).map(|(id, _)| (id, 0));
        let all: BTreeMap<MysteryId, usize> = only.chain(answers.iter().map(|(&id, &at)| (id, at))).collect();
        // Faults last: they fall on what is there.
        for faults in [false, true] {
            for (&id, &at) in &all {
                let Some(mystery) = record.mysteries.get(id) else { continue };
                if matches!(mystery.subject, Subject::Fault(_)) == faults {
                    model.answer(&mystery.subject, &mystery.candidates[at].guess);
                }
            }
        }
        model
    }

    fn node(&mut self) -> usize {
        self.nodes += 1;
        self.nodes - 1
    }

    fn terminal(&mut self, terminal: &TerminalRef) -> usize {
        if let Some(&node) = self.terminals.get(terminal) {
            return node;
        }
        let node = self.node();
        self.terminals.insert(terminal.clone(), node);
        node
    }

    /// The node a probe touches.
    pub fn spot(&self, spot: &Spot) -> Option<usize> {
        match spot {
            Spot::Terminal(terminal) => self.terminals.get(terminal).copied(),
            Spot::End(wire, side) => self.ends.get(&(*wire, *side)).copied(),
            Spot::Wire(wire) => self.ends.get(&(*wire, Side::From)).copied(),
            Spot::Part(_) | Spot::Gone(_) => None,
        }
    }

    fn add(&mut self, part: PartId, body: &Body, element: &Element, own: &Ratings, draw: &mut Draw) {
        let mut at = |marking: &String| self.terminal(&TerminalRef::new(part, marking.as_str()));
        let mut two = |ends: &(String, String)| [at(&ends.0), at(&ends.1)];
        // As printed within a tenth; what is typical of the kind within two fifths.
        let rated = |rating: Rating, off: f64| -> Option<f64> {
            let printed = own.get(rating).map(|value| value * (1.0 + 0.09 * off));
            printed.or_else(|| body.typical.get(rating).map(|value| value * (1.0 + 0.4 * off)))
        };
        match element {
            Element::Join { ends } => {
                let ends = two(ends);
                self.joins.push(ends);
            }
            Element::Earth { at: marking } => {
                let node = self.terminal(&TerminalRef::new(part, marking.as_str()));
                self.earths.push((part, node));
            }
            Element::Fuse { ends } => {
                let plain =
                    Plain { part, ends: two(ends), ohms: draw.between(0.002, 0.28), is_fuse: true, open: false };
                self.plain.push(plain);
            }
            Element::Resistor { ends } | Element::Sense { ends } => {
                let rating = if matches!(element, Element::Sense { .. }) { Rating::InputOhms } else { Rating::Ohms };
                let ohms = rated(rating, draw.off()).unwrap();
                let plain = Plain { part, ends: two(ends), ohms, is_fuse: false, open: false };
                self.plain.push(plain);
            }
            Element::Source { ends, phase_deg, share, earthed, .. } => {
                let volts = own.get(Rating::Volts).unwrap() * share * (1.0 + 0.08 * draw.off());
                let (sin, cos) = phase_deg.to_radians().sin_cos();
                let volts = Complex::new(volts * cos, volts * sin);
                let source = Source { part, ends: two(ends), volts, ohms: 1e-3, earthed: *earthed };
                self.sources.push(source);
            }
            Element::Transformer { primary, secondary, share } => {
                let volts = own.get(Rating::Volts).unwrap();
                let second = own.get(Rating::SecondaryVolts).unwrap() * share;
                let load = rated(Rating::VoltAmps, 0.0).unwrap();
                let ohms = [volts, second].map(|volts| 0.05 * volts * volts / load * draw.between(0.4, 2.5));
                let (primary, secondary) = (two(primary), two(secondary));
                let idle = 5.0 * volts * volts / load;
                let magnetising = Complex::new(idle * 1.4_f64.cos(), idle * 1.4_f64.sin()).inverse();
                self.transformers.push(Transformer { primary, secondary, ratio: volts / second, ohms, magnetising });
            }
            Element::Coil { name, ends, .. } => {
                let volts = own.get(Rating::CoilVolts).unwrap();
                let off = draw.off();
                let size = volts * volts / rated(Rating::CoilVoltAmps, -off).unwrap();
                let share = rated(Rating::ResistanceShare, off).unwrap() / 100.0;
                let ohms = own.get(Rating::CoilOhms).map_or(size * share, |ohms| ohms * (1.0 + 0.09 * off));
                let real = ohms.min(size);
                let coil = Coil {
                    part,
                    name: name.clone(),
                    ends: two(ends),
                    impedance: Complex::new(real, (size * size - real * real).max(0.0).sqrt()),
                    ohms,
                    pick_up: volts * draw.between(0.5, 0.84),
                    drop_out: volts * draw.between(0.06, 0.45),
                    open: false,
                };
                self.coils.push(coil);
            }
            Element::Contact { ends, form, driver } => {
                let by = match driver {
                    Driver::Coil(name) => By::Relay(self.coil_number(part, name)),
                    Driver::Output(pin) => By::Output(TerminalRef::new(part, pin.as_str())),
                    Driver::Switch { name, closed_in } => {
                        let spec = body.switches.iter().find(|switch| switch.name == *name).unwrap();
                        let rest = spec.positions[0].clone();
                        By::Switch { part, name: name.clone(), closed_in: closed_in.clone(), rest }
                    }
                };
                let mut at = |marking: &String| self.terminal(&TerminalRef::new(part, marking.as_str()));
                let ends = [at(&ends.0), at(&ends.1)];
                let make = *form == Form::Make;
                self.contacts.push(Contact { part, ends, make, by, ohms: draw.between(0.003, 0.09) });
            }
            Element::Load { ends, what, .. } => {
                let volts = own.get(Rating::Volts).unwrap_or_else(|| self.fed_volts());
                let off = draw.off();
                let factor = match what {
                    LoadKind::Heater | LoadKind::Sounder => 1.0,
                    LoadKind::Lamp | LoadKind::Electronics => 0.9,
                    LoadKind::Motor => 0.75,
                    LoadKind::Fan | LoadKind::TimerMotor => 0.6,
                    LoadKind::Solenoid => 0.4,
                };
                let watts = rated(Rating::Watts, -off).unwrap();
                let size = volts * volts * factor / watts;
                let ohms = match what {
                    LoadKind::Heater => size,
                    // Behind a rectifier a meter finds some kilohms.
                    LoadKind::Electronics => draw.between(2e3, 1e5),
                    _ => own.get(Rating::Ohms).map_or(size * 0.3, |ohms| ohms * (1.0 + 0.09 * off)),
                };
                let impedance = Complex::new(size * factor, size * (1.0 - factor * factor).sqrt());
                let runs_from = volts * draw.between(0.4, 0.8);
                let mut at = |marking: &String| self.terminal(&TerminalRef::new(part, marking.as_str()));
                let ends = [at(&ends.0), at(&ends.1)];
                self.loads.push(Load { part, ends, impedance, ohms, runs_from, open: false });
            }
            other => panic!("the hidden machine has no {other:?}"),
        }
    }

    /// What a board without volts of its own is made for: the lowest supply.
    fn fed_volts(&self) -> f64 {
        let secondaries = self.transformers.iter().map(|one| one.ratio).filter(|ratio| *ratio > 1.0);
        let sources = self.sources.iter().map(|source| source.volts.size());
        let lowest = sources.clone().fold(f64::INFINITY, f64::min);
        let highest = sources.fold(0.0, f64::max);
        secondaries.fold(lowest, |so_far, ratio| so_far.min(highest / ratio))
    }

    fn coil_number(&self, part: PartId, name: &str) -> usize {
        self.coils.iter().position(|coil| coil.part == part && coil.name == name).unwrap_or(usize::MAX)
    }

    /// A contact that came before its coil in the kind's list.
    fn tie(&mut self) {
        for contact in &mut self.contacts {
            if let By::Relay(usize::MAX) = contact.by {
                let own = self.coils.iter().position(|coil| coil.part == contact.part);
                contact.by = own.map_or(By::Held, By::Relay);
            }
        }
    }

    fn answer(&mut self, subject: &Subject, guess: &Guess) {
        match (subject, guess) {
            (Subject::End(wire, side), guess) => {
                let slot = usize::from(*side == Side::To);
                let node = match guess {
                    Guess::Terminal(terminal) => Some(self.terminal(terminal)),
                    _ => None,
                };
                if let Some(wire) = self.wires.iter_mut().find(|one| one.id == *wire) {
                    wire.landed[slot] = node;
                }
            }
            (Subject::CoilDriver(part), Guess::Terminal(output)) => {
                let from = self.terminal(output);
                let coil = self.coils.iter().find(|coil| coil.part == *part).unwrap();
                // As drawn in the records here: a lead of its own to the first end of the coil.
                self.joins.push([from, coil.ends[0]]);
            }
            (Subject::ContactForm(terminal), Guess::Named(form)) => {
                let node = self.terminal(terminal);
                let make = form == "make";
                let first = self.contacts.iter().position(|one| one.ends.contains(&node)).unwrap();
                let turned = self.contacts[first].make != make;
                let (part, ends) = (self.contacts[first].part, self.contacts[first].ends);
                // The other arm of the same pole turns with it.
                for contact in &mut self.contacts {
                    let same_pole = contact.part == part && contact.ends.iter().any(|end| ends.contains(end));
                    if turned && same_pole {
                        contact.make = !contact.make;
                    }
                }
            }
            (Subject::Fault(spot), Guess::Named(state)) => self.fault(spot, state),
            _ => {}
        }
    }

    /// Breaks something.
    pub fn fault(&mut self, spot: &Spot, state: &str) {
        match (state, spot) {
            ("open", Spot::Wire(wire) | Spot::End(wire, _)) => {
                self.wires.iter_mut().filter(|one| one.id == *wire).for_each(|one| one.broken = true);
            }
            ("open", Spot::Part(part)) => {
                self.coils.iter_mut().filter(|one| one.part == *part).for_each(|one| one.open = true);
                self.loads.iter_mut().filter(|one| one.part == *part).for_each(|one| one.open = true);
                self.plain.iter_mut().filter(|one| one.part == *part).for_each(|one| one.open = true);
            }
            ("open", Spot::Terminal(terminal)) => {
                let node = self.terminal(terminal);
                for contact in self.contacts.iter_mut().filter(|one| one.ends.contains(&node)) {
                    (contact.by, contact.make) = (By::Held, true);
                }
            }
            ("welded", Spot::Terminal(terminal)) => {
                let node = self.terminal(terminal);
                let welded = self.contacts.iter().position(|one| one.ends.contains(&node)).unwrap();
                let (part, ends) = (self.contacts[welded].part, self.contacts[welded].ends);
                for (at, contact) in self.contacts.iter_mut().enumerate() {
                    if contact.part == part && contact.ends.iter().any(|end| ends.contains(end)) {
                        (contact.by, contact.make) = (By::Held, at != welded);
                    }
                }
            }
            ("ok", _) => {}
            other => panic!("the hidden machine cannot be broken so: {other:?}"),
        }
    }
}
