//! Machines without any order: parts of any kind, wires anywhere, ratings at random. No technician meets one; what
//! computes must come to an end on it all the same, without a nonsensical number.

use std::sync::Arc;

use crate::catalogue::{Body, Catalogue, Element, Family, Kind};
use crate::machine::{
    Candidate, Condition, ConditionId, Constraint, EndAt, Guess, Known, Machine, Meter, Mounting, Mystery, Part,
    PartId, Pin, PinRole, Point, Pose, Reading, Side, Spot, Statement, Subject, TerminalRef, Wire, WireEnd, WireId,
    WireState,
};
use crate::quantity::{Colour, Current, Rated, Rating, Unit, Value, WireColour, WireSize};

use super::random::Random;

/// A machine of so many parts (two at least) out of the catalogue, wired at random; the same for the same seed and catalogue.
///
/// Every such record can be written and read. Switches, outputs, leads and sources stand anyhow in two to four conditions, in
/// which anyhow much has been read.
pub fn wild_machine(parts: usize, seed: u64, catalogue: &Catalogue) -> Machine {
    let mut wild = Wild { machine: Machine::default(), random: Random::from_seed(seed), bodies: Vec::new() };
    wild.machine.facts.title = format!("Machine at random, {parts} parts, seed {seed}");
    "invented".clone_into(&mut wild.machine.facts.source);
    wild.place_parts(parts.max(2), catalogue);
    wild.lay_wires();
    let conditions = wild.set_conditions();
    wild.tie_statements();
    wild.read(&conditions);
    wild.wonder();
    wild.machine
}

struct Wild {
    machine: Machine,
    random: Random,
    bodies: Vec<(PartId, Body)>,
}

/// Values a nameplate may have and values nobody would print.
const SENSIBLE: [f64; 14] = [0.5, 1.0, 3.0, 10.0, 12.0, 16.0, 24.0, 48.0, 100.0, 120.0, 177.0, 230.0, 400.0, 4700.0];
const ODD: [f64; 12] = [0.0, 1e-15, 1e-12, 1e-9, 1e-6, 0.001, 0.1, 1e5, 1e7, 1e9, 1e11, 1e13];

impl Wild {
    /// A number below `bound`; 0 where that is 0.
    fn below(&mut self, bound: usize) -> usize {
        let all = u64::try_from(bound).unwrap_or(u64::MAX).max(1);
        usize::try_from(self.random.next() % all).unwrap_or(0)
    }

    fn number(&mut self) -> f64 {
        let list: &[f64] = if self.random.happens(75) { &SENSIBLE } else { &ODD };
        self.random.pick(list).copied().unwrap_or(1.0)
    }

    fn place_parts(&mut self, parts: usize, catalogue: &Catalogue) {
        let kinds: Vec<&str> = catalogue.kinds().map(|kind| kind.name.as_str()).collect();
        let is_source = |kind: &&Kind| kind.elements.iter().any(|element| matches!(element, Element::Source { .. }));
        let of = |family| catalogue.kinds().filter(move |kind| kind.family == family).map(|kind| kind.name.as_str());
        let sources: Vec<&str> = catalogue.kinds().filter(is_source).map(|kind| kind.name.as_str()).collect();
        let relays: Vec<&str> = of(Family::Relays).collect();
        for at in 0..parts {
            // Something to feed it, and relays more often than their share.
            let from = if at == 0 {
                &sources
            } else if self.random.happens(25) {
                &relays
            } else {
                &kinds
            };
            let kind = self.random.pick(from).copied().unwrap_or("splice").to_owned();
            let mut part = Part { tag: format!("P{}", at + 1), kind, ..Part::default() };
            part.pose = Pose { at: Point::new(30.0 * at as f64, 0.0), ..Pose::default() };
            part.count = u16::try_from(self.below(5)).unwrap_or(1);
            part.mounting = match self.below(12) {
                0 if at > 0 => Mounting::Missing,
                1 => Mounting::Loose,
                _ => Mounting::Fixed,
            };
            self.rate(&mut part);
            if catalogue.kind(&part.kind).is_some_and(|kind| kind.family == Family::Boards) {
                self.add_pins(&mut part);
            }
            let body = catalogue.body(&part);
            for switch in &body.switches {
                if self.random.happens(20)
                    && let Some(position) = self.random.pick(&switch.positions)
                {
                    part.rest.insert(switch.name.clone(), position.clone());
                }
            }
            let id = self.machine.parts.add(part);
            self.bodies.push((id, body));
        }
    }

    /// Volts where they matter, then anything at all.
    fn rate(&mut self, part: &mut Part) {
        for (rating, mostly) in [(Rating::Volts, 230.0), (Rating::SecondaryVolts, 24.0), (Rating::CoilVolts, 230.0)] {
            if self.random.happens(70) {
                let other = self.random.pick(&[12.0, 24.0, 120.0]).copied().unwrap_or(mostly);
                let value = if self.random.happens(70) { mostly } else { other };
                part.ratings.set(rating, Rated { value, current: None });
            }
        }
        for _ in 0..self.below(5) {
            let Some(&rating) = self.random.pick(Rating::ALL) else { continue };
            let mut value = self.number();
            if rating.unit() == Unit::Percent {
                value = value.min(100.0);
            }
            if rating.unit() == Unit::Celsius && self.random.happens(30) {
                value = -18.0;
            }
            let said = rating.takes_current() && self.random.happens(30);
            let current = if self.random.happens(50) { Current::Ac } else { Current::Dc };
            part.ratings.set(rating, Rated { value, current: said.then_some(current) });
        }
    }

    fn add_pins(&mut self, part: &mut Part) {
        let names: Vec<String> = (1..=self.below(7) + 1).map(|n| format!("J9-{n}")).collect();
        for name in &names {
            let other = || names.first().map_or("J9-1", String::as_str).into();
            let role = match self.below(9) {
                0 => PinRole::Unknown,
                1 => PinRole::Supply(other()),
                2 => PinRole::Joined(other()),
                3 => PinRole::OutputFrom(other()),
                4 => PinRole::OutputTo(other()),
                5 => PinRole::OutputDry(other()),
                6 => PinRole::OutputTriac(other()),
                7 => PinRole::Input(other()),
                _ => PinRole::Plain,
            };
            // A pin cannot refer to itself.
            let role = if role.other().is_some_and(|pin| pin.as_str() == name) { PinRole::Plain } else { role };
            part.pins.push(Pin { marking: name.as_str().into(), role, at: None });
        }
    }

    /// Any terminal of any part.
    fn terminal(&mut self) -> Option<TerminalRef> {
        for _ in 0..8 {
            let at = self.below(self.bodies.len());
            let (id, body) = self.bodies.get(at)?;
            if let Some(terminal) = self.random.pick(&body.terminals) {
                return Some(TerminalRef { part: *id, marking: terminal.marking.clone() });
            }
        }
        None
    }

    fn end(&mut self) -> WireEnd {
        let at = match self.below(20) {
            0 => EndAt::Loose,
            1 => EndAt::Unknown,
            _ => self.terminal().map_or(EndAt::Loose, EndAt::Terminal),
        };
        let known = self.random.pick(&[Known::Seen, Known::Assumed, Known::Proven, Known::Disputed]).copied();
        let lifted = matches!(at, EndAt::Terminal(_)) && self.random.happens(4);
        WireEnd { at, lifted, known: known.unwrap_or_default(), ..WireEnd::default() }
    }

    /// Wires between any two ends; in half of the machines few, so that not everything is shorted.
    fn lay_wires(&mut self) {
        self.feed_some();
        let terminals: usize = self.bodies.iter().map(|(_, body)| body.terminals.len()).sum();
        let most = if self.random.happens(50) { 15 } else { 90 };
        for _ in 0..terminals.min(200) * (5 + self.below(most)) / 100 {
            let (from, to) = (self.end(), self.end());
            self.lay(from, to);
        }
    }

    /// Puts some loads and coils across the first part's source, some of them behind a contact.
    fn feed_some(&mut self) {
        let element_ends = |body: &Body, wanted: fn(&Element) -> bool| -> Vec<[String; 2]> {
            let of = body.elements.iter().filter(|element| wanted(element));
            of.filter_map(|element| {
                Some([*element.markings().first()?, *element.markings().get(1)?].map(str::to_owned))
            })
            .collect()
        };
        let source = |element: &Element| matches!(element, Element::Source { .. });
        let consumer = |element: &Element| {
            matches!(element, Element::Load { .. } | Element::Coil { .. } | Element::Winding { .. })
        };
        let contact = |element: &Element| matches!(element, Element::Contact { .. });
        let mut poles = Vec::new();
        let mut consumers = Vec::new();
        let mut contacts = Vec::new();
        for (id, body) in &self.bodies {
            let of_part = |ends: [String; 2]| ends.map(|marking| TerminalRef::new(*id, marking));
            let is_inner =
                |ends: &[String; 2]| body.inner.iter().any(|inner| ends.iter().any(|end| end == inner.as_str()));
            poles.extend(element_ends(body, source).into_iter().map(of_part));
            consumers.extend(element_ends(body, consumer).into_iter().filter(|ends| !is_inner(ends)).map(of_part));
            contacts.extend(element_ends(body, contact).into_iter().filter(|ends| !is_inner(ends)).map(of_part));
        }
        let Some([hot, back]) = poles.into_iter().next() else { return };
        let end = |terminal: TerminalRef| WireEnd { at: EndAt::Terminal(terminal), ..WireEnd::default() };
        for [first, second] in consumers {
            if self.random.happens(40) {
                continue;
            }
            self.lay(end(second), end(back.clone()));
            match self.random.pick(&contacts).cloned().filter(|_| self.random.happens(50)) {
                Some([from, to]) => {
                    self.lay(end(hot.clone()), end(from));
                    self.lay(end(to), end(first));
                }
                None => self.lay(end(hot.clone()), end(first)),
            }
        }
    }

    fn lay(&mut self, from: WireEnd, to: WireEnd) {
        let size = match self.below(3) {
            0 => Some(WireSize::Awg(u8::try_from(self.below(41)).unwrap_or(18))),
            1 => self.random.pick(&[0.5, 1.0, 2.5, 1e-9, 300.0]).copied().map(WireSize::SquareMillimetres),
            _ => None,
        };
        let length_mm = self.random.happens(40).then(|| self.number());
        let colours = [Colour::Brown, Colour::Blue, Colour::GreenYellow, Colour::Black];
        let colour = self.random.pick(&colours).copied().map(WireColour::plain);
        let state = match self.below(20) {
            0 => WireState::Removed,
            1 => WireState::CappedOff,
            _ => WireState::InPlace,
        };
        let number = self.random.happens(60).then(|| format!("{}", self.random.next() % 9));
        let key = format!("W{}", self.machine.wires.len() + 1);
        self.machine.wires.add(Wire { key, number, from, to, colour, size, length_mm, state, ..Wire::default() });
    }

    /// Any wire still on the machine, and an end of it.
    fn wire_end(&mut self) -> Option<(WireId, Side)> {
        let present: Vec<WireId> =
            self.machine.wires.iter().filter(|(_, wire)| wire.is_present()).map(|(id, _)| id).collect();
        let wire = self.random.pick(&present).copied()?;
        Some((wire, if self.random.happens(50) { Side::From } else { Side::To }))
    }

    /// Parts that have a source.
    fn sources(&self) -> Vec<PartId> {
        let is_source = |body: &Body| body.elements.iter().any(|element| matches!(element, Element::Source { .. }));
        self.bodies.iter().filter(|(_, body)| is_source(body)).map(|(id, _)| *id).collect()
    }

    fn outputs(&self) -> Vec<TerminalRef> {
        let parts = self.machine.parts.iter();
        let pins = parts.flat_map(|(id, part)| part.pins.iter().map(move |pin| (id, pin)));
        pins.filter(|(_, pin)| pin.role.is_output())
            .map(|(id, pin)| TerminalRef::new(id, pin.marking.clone()))
            .collect()
    }

    fn set_conditions(&mut self) -> Vec<ConditionId> {
        let mut made: Vec<ConditionId> = Vec::new();
        for number in 0..2 + self.below(3) {
            let mut condition = Condition { name: format!("condition {}", number + 1), ..Condition::default() };
            condition.derived_from = if self.random.happens(30) { made.last().copied() } else { None };
            for source in self.sources() {
                if number > 0 {
                    condition.sources.insert(source, self.random.happens(85));
                }
            }
            for output in self.outputs() {
                if self.random.happens(50) {
                    condition.commanded.insert(output, self.random.happens(70));
                }
            }
            let switches: Vec<_> = self
                .bodies
                .iter()
                .flat_map(|(id, body)| body.switches.iter().map(|switch| (*id, switch.clone())))
                .collect();
            for (id, switch) in switches {
                if self.random.happens(50)
                    && let Some(position) = self.random.pick(&switch.positions)
                {
                    condition.positions.insert((id, switch.name), position.clone());
                }
            }
            if self.random.happens(30)
                && let Some(end) = self.wire_end()
                && self.machine.wires.get(end.0).is_some_and(|wire| matches!(wire.end(end.1).at, EndAt::Terminal(_)))
            {
                condition.lifted.insert(end, true);
            }
            made.push(self.machine.conditions.add(condition));
        }
        made
    }

    fn tie_statements(&mut self) {
        let sources = self.sources();
        let (Some(&one), Some(&other)) = (self.random.pick(&sources), self.random.pick(&sources)) else { return };
        let (one, other) = (Statement::SourceOn(one), Statement::SourceOn(other));
        if one != other && self.random.happens(30) {
            self.machine.constraints.add(Constraint::NeverBoth(vec![one, other]));
        } else if self.random.happens(20) {
            self.machine.constraints.add(Constraint::Always(one));
        } else if one != other && self.random.happens(20) {
            self.machine.constraints.add(Constraint::OnlyWhen(one, other));
        }
    }

    fn spot(&mut self) -> Option<Spot> {
        if self.random.happens(80) {
            return self.terminal().map(Spot::Terminal);
        }
        self.wire_end().map(|(wire, side)| Spot::End(wire, side))
    }

    fn read(&mut self, conditions: &[ConditionId]) {
        let meter = Meter {
            name: "odd meter".to_owned(),
            tone_below_ohms: Some(30.0),
            silent_above_ohms: Some(60.0),
            input_ohms: Some(self.number()),
            low_impedance_ohms: Some(self.number()),
            percent: Some(1.0),
            digits: Some(2.0),
            lead_ohms: Some(0.3),
            ..Meter::default()
        };
        let meter = self.machine.meters.add(meter);
        for number in 0..self.below(7) {
            let value = self.number();
            let value = match self.below(9) {
                0 => Value::Tone,
                1 => Value::NoTone,
                2 => Value::OverLimit,
                3 => Value::Ohms(value),
                4 => Value::VoltsAc(value),
                5 => Value::VoltsDc(if self.random.happens(50) { value } else { -value }),
                6 => Value::Amps(value),
                7 => Value::Runs,
                _ => Value::DoesNotRun,
            };
            let (red, black) = match value {
                Value::Amps(_) => (self.wire_end().map(|(wire, _)| Spot::Wire(wire)), None),
                Value::Runs | Value::DoesNotRun => {
                    let at = self.below(self.bodies.len());
                    (self.bodies.get(at).map(|(id, _)| Spot::Part(*id)), None)
                }
                _ => (self.spot(), self.spot()),
            };
            let Some(red) = red else { continue };
            self.machine.readings.add(Reading {
                name: format!("R{}", number + 1),
                red,
                black,
                value,
                condition: self.random.pick(conditions).copied(),
                meter: self.random.happens(30).then_some(meter),
                when: String::new(),
                who: String::new(),
                visit: None,
                note: "invented".to_owned(),
            });
        }
    }

    /// A mystery about some end out of sight.
    fn wonder(&mut self) {
        let unknown = self.machine.wires.iter().find(|(_, wire)| wire.to.at == EndAt::Unknown && wire.is_present());
        let Some(wire) = unknown.map(|(id, _)| id) else { return };
        let Some(terminal) = self.terminal() else { return };
        let candidates = vec![
            Candidate::new(Guess::Terminal(terminal), self.number().clamp(0.1, 10.0)),
            Candidate::new(Guess::Nowhere, 1.0),
        ];
        self.machine.mysteries.add(Mystery {
            name: "Q1".to_owned(),
            subject: Subject::End(wire, Side::To),
            candidates,
            one_of_each: None,
            note: String::new(),
        });
        if let Some(entry) = self.machine.wires.get(wire) {
            let mut entry = entry.clone();
            "goes out of sight".clone_into(&mut entry.note);
            self.machine.wires.put(wire, Some(Arc::new(entry)));
        }
    }
}
