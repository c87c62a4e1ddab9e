//! What retrofits are made of: a cord, a control supply, what works the relays, the relays, their loads.

use std::sync::Arc;

use crate::machine::{Condition, ConditionId, Machine, PartId, Pin, PinRole, Point, Side, TerminalRef, WireId};
use crate::quantity::Rating;

use super::builder::{Builder, Duty, rate};
use super::machine::At;
use super::random::Random;
use super::retrofit::{Hidden, Size};

/// A machine with nothing hidden, and what is to be hidden.
pub(super) struct Rebuilt {
    pub(super) machine: Machine,
    pub(super) hidden: Vec<Hidden>,
    pub(super) random: Random,
    pub(super) title: String,
    pub(super) north_america: bool,
}

/// What works the coils.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Family {
    /// Outputs of a board behind a control transformer put 24 V on a coil.
    Board,
    /// Outputs of a board with an adapter of its own sink the coil.
    Adapter,
    /// Start buttons behind a common stop, held in by the relay's own contact; coils at line voltage.
    Buttons,
    /// Thermostats that switch coils at line voltage.
    Thermostats,
    /// Buttons at 24 V; relays in pairs that lock each other out.
    Interlock,
}

const FAMILIES: [(Family, &str); 5] = [
    (Family::Board, "Rebuilt cooler with a board"),
    (Family::Adapter, "Rebuilt cabinet with an adapter"),
    (Family::Buttons, "Rebuilt drive with start buttons"),
    (Family::Thermostats, "Rebuilt warmer with thermostats"),
    (Family::Interlock, "Rebuilt lift table with locked pairs"),
];

/// Pins of a relay that are asked for.
#[derive(Clone, Copy)]
pub(super) struct Pins {
    pub(super) kind: &'static str,
    pub(super) common: &'static str,
    pub(super) make: &'static str,
    pub(super) rest: &'static str,
}

const SPADES: Pins = Pins { kind: "relay-com-no-nc", common: "COM", make: "NO", rest: "NC" };
const TWO_POLE: Pins = Pins { kind: "relay-two-change-over", common: "11", make: "14", rest: "12" };

/// A cord: kind, volts between its ends, hertz, hot pole, second pole of the loads, and what loads and coils get.
struct Cord {
    kind: &'static str,
    volts: f64,
    hertz: f64,
    hot: &'static str,
    load_back: &'static str,
    coil_volts: f64,
    north_america: bool,
}

const CORDS: [Cord; 3] = [
    Cord {
        kind: "cord-plug",
        volts: 230.0,
        hertz: 50.0,
        hot: "L",
        load_back: "N",
        coil_volts: 230.0,
        north_america: false,
    },
    Cord {
        kind: "cord-plug",
        volts: 120.0,
        hertz: 60.0,
        hot: "L",
        load_back: "N",
        coil_volts: 120.0,
        north_america: true,
    },
    Cord {
        kind: "cord-plug-split-phase",
        volts: 240.0,
        hertz: 60.0,
        hot: "L1",
        load_back: "L2",
        coil_volts: 120.0,
        north_america: true,
    },
];

/// Distance between relays on the canvas, in millimetres.
pub(super) const PITCH_MM: f64 = 60.0;

/// A retrofit being built.
pub(super) struct Draft {
    pub(super) b: Builder,
    pub(super) size: Size,
    pub(super) family: Family,
    pub(super) pins: Pins,
    /// Sources, each with whether it is the control supply alone.
    pub(super) sources: Vec<(PartId, bool)>,
    pub(super) relays: Vec<PartId>,
    /// Where the lead to each coil begins, and how a condition makes it work.
    pub(super) drivers: Vec<(At, Works)>,
    /// What feeds the drivers, and what coils go back to.
    pub(super) feed: At,
    pub(super) back: At,
    pub(super) coil_volts: f64,
    pub(super) load_volts: f64,
    /// The lead that is off when the control supply alone is on.
    pub(super) lifted: Option<WireId>,
    pub(super) hidden: Vec<Hidden>,
}

/// How a driver is made to feed its coil.
pub(super) enum Works {
    Commanded(TerminalRef),
    Position(PartId, &'static str, &'static str),
}

pub(super) fn rebuilt(seed: u64, size: Size) -> Rebuilt {
    let mut b = Builder::new(usize::MAX, seed);
    let (family, title) = b.random.pick(&FAMILIES).copied().unwrap_or(FAMILIES[0]);
    let cord = b.random.pick(&CORDS).unwrap_or(&CORDS[0]);
    let pins = match family {
        Family::Buttons | Family::Interlock => TWO_POLE,
        _ => SPADES,
    };
    let plug = b.part_with("X", cord.kind, "cord plug", Point::new(0.0, 0.0), |part| {
        rate(part, Rating::Volts, cord.volts);
        rate(part, Rating::Hertz, cord.hertz);
    });
    let fuse = b.part_with("F", "fuse", "main fuse", Point::new(60.0, 0.0), |part| rate(part, Rating::Amps, 13.0));
    b.lead(Duty::Line, 1, (plug, cord.hot), (fuse, "1"));
    let hot: At = (fuse, "2".to_owned());
    let mut draft = Draft {
        b,
        size,
        family,
        pins,
        sources: vec![(plug, false)],
        relays: Vec::new(),
        drivers: Vec::new(),
        feed: hot.clone(),
        back: (plug, "N".to_owned()),
        coil_volts: cord.coil_volts,
        load_volts: cord.volts,
        lifted: None,
        hidden: Vec::new(),
    };
    draft.supply_controls(cord.coil_volts);
    draft.place_drivers();
    draft.place_relays();
    let order = draft.wire_coils();
    let ways = draft.wire_loads(&hot, &(plug, cord.load_back.to_owned()));
    draft.wire_beside(&hot, &(plug, cord.load_back.to_owned()));
    draft.set_conditions();
    draft.hide(&order, &ways, fuse);
    let random = Random::from_seed(draft.b.random.next());
    Rebuilt {
        machine: draft.b.machine,
        hidden: draft.hidden,
        random,
        title: title.to_owned(),
        north_america: cord.north_america,
    }
}

/// A lead whose far end may be hidden: the lead, and the number of the place where it goes.
pub(super) type Lead = (WireId, usize);

/// The leads to loads, the ways of the strip they go to, and those ways that are joined by a jumper.
pub(super) struct Ways {
    pub(super) leads: Vec<Lead>,
    pub(super) places: Vec<TerminalRef>,
    /// Leads from a way to its load, and back.
    pub(super) documented: Vec<WireId>,
    pub(super) strip: PartId,
}

impl Draft {
    pub(super) fn below(&mut self, bound: usize) -> usize {
        let bound = u64::try_from(bound.max(1)).unwrap_or(1);
        usize::try_from(self.b.random.next() % bound).unwrap_or(0)
    }

    /// Numbers from 0 in any order.
    fn order(&mut self, count: usize) -> Vec<usize> {
        let mut left: Vec<usize> = (0..count).collect();
        let mut order = Vec::new();
        while !left.is_empty() {
            let at = self.below(left.len());
            order.push(left.remove(at));
        }
        order
    }

    /// A lead nobody has numbered; `None` cannot happen while wires are not counted.
    fn lead(&mut self, duty: Duty, from: (PartId, &str), to: (PartId, &str)) -> Option<WireId> {
        let (from, to) = (self.b.on(from.0, from.1), self.b.on(to.0, to.1));
        let id = self.b.wire(duty, 0, from, to)?;
        let mut entry = self.b.machine.wires.get(id)?.clone();
        entry.number = None;
        self.b.machine.wires.put(id, Some(Arc::new(entry)));
        Some(id)
    }

    /// A transformer or an adapter, where the controls are at 24 V.
    fn supply_controls(&mut self, line_volts: f64) {
        let at = Point::new(130.0, 0.0);
        match self.family {
            Family::Board | Family::Interlock => {
                let transformer = self.b.part_with("T", "control-transformer", "control transformer", at, |part| {
                    rate(part, Rating::Volts, line_volts);
                    rate(part, Rating::SecondaryVolts, 24.0);
                    rate(part, Rating::VoltAmps, 40.0);
                });
                let (hot, back) = (self.feed.clone(), self.back.clone());
                self.lead(Duty::Line, (hot.0, &hot.1), (transformer, "H1"));
                self.lead(Duty::Neutral, (back.0, &back.1), (transformer, "H2"));
                // A bench supply is clipped on behind the transformer, its lead taken off.
                let bench = self.b.part_with("X", "cord-plug", "bench supply, 24 V", Point::new(190.0, 0.0), |part| {
                    rate(part, Rating::Volts, 24.0);
                });
                let bus = self.b.part_with("TB", "terminal-strip", "control supply", Point::new(240.0, 0.0), |part| {
                    part.count = 2;
                });
                self.lifted = self.lead(Duty::Control, (transformer, "X1"), (bus, "1a"));
                self.lead(Duty::ControlReturn, (transformer, "X2"), (bus, "2a"));
                self.lead(Duty::Control, (bench, "L"), (bus, "1a"));
                self.lead(Duty::ControlReturn, (bench, "N"), (bus, "2a"));
                self.sources.push((bench, true));
                self.feed = (bus, "1b".to_owned());
                self.back = (bus, "2b".to_owned());
                self.coil_volts = 24.0;
            }
            Family::Adapter => {
                let adapter = self.b.part_with("X", "cord-plug", "adapter, 24 V AC", at, |part| {
                    rate(part, Rating::Volts, 24.0);
                });
                self.sources.push((adapter, true));
                self.feed = (adapter, "N".to_owned());
                self.back = (adapter, "L".to_owned());
                self.coil_volts = 24.0;
            }
            Family::Buttons | Family::Thermostats => {}
        }
    }

    /// As many as relays, and sometimes one more that works nothing.
    fn place_drivers(&mut self) {
        let spare = u16::from(self.size.relays < 5 && self.b.random.happens(30));
        let count = self.size.relays + spare;
        match self.family {
            Family::Board | Family::Adapter => self.place_board(count),
            Family::Buttons => {
                let stop = self.b.part("S", "push-button-break", "stop", Point::new(0.0, 60.0));
                let feed = self.feed.clone();
                self.lead(Duty::Control, (feed.0, &feed.1), (stop, "21"));
                self.feed = (stop, "22".to_owned());
                self.place_switches(count, ("S", "push-button-make", "start"), ("13", "14"), ("button", "pressed"));
            }
            Family::Interlock => {
                self.place_switches(count, ("S", "push-button-make", "button"), ("13", "14"), ("button", "pressed"));
            }
            Family::Thermostats => {
                self.place_switches(count, ("B", "thermostat-cool", "thermostat"), ("1", "2"), ("thermostat", "warm"));
            }
        }
    }

    fn place_board(&mut self, count: u16) {
        let pin = |marking: String, role| Pin { marking: marking.into(), role, at: None };
        let mut pins =
            vec![pin("J3-1".to_owned(), PinRole::Supply("J3-2".into())), pin("J3-2".to_owned(), PinRole::Plain)];
        let sinks = self.family == Family::Adapter;
        pins.extend((1..=count).map(|n| {
            let role = if sinks { PinRole::OutputTo("J3-2".into()) } else { PinRole::OutputFrom("J3-1".into()) };
            pin(format!("J1-{n}"), role)
        }));
        let board =
            self.b.part_with("A", "control-board", "control board", Point::new(60.0, 60.0), |part| part.pins = pins);
        let (feed, back) = (self.feed.clone(), self.back.clone());
        // The feed of a sinking board is its return.
        let (first, second) = if sinks { (back, feed) } else { (feed, back) };
        self.lead(Duty::Control, (first.0, &first.1), (board, "J3-1"));
        self.lead(Duty::ControlReturn, (second.0, &second.1), (board, "J3-2"));
        for n in 1..=count {
            let output = format!("J1-{n}");
            let works = Works::Commanded(TerminalRef::new(board, output.as_str()));
            self.drivers.push(((board, output), works));
        }
    }

    fn place_switches(
        &mut self,
        count: u16,
        (letters, kind, title): (&'static str, &str, &str),
        (input, output): (&'static str, &str),
        (switch, position): (&'static str, &'static str),
    ) {
        for n in 0..count {
            let at = Point::new(60.0 + 40.0 * f64::from(n), 60.0);
            let part = self.b.part(letters, kind, title, at);
            let feed = self.feed.clone();
            self.lead(Duty::Control, (feed.0, &feed.1), (part, input));
            self.feed = (part, input.to_owned());
            self.drivers.push(((part, output.to_owned()), Works::Position(part, switch, position)));
        }
    }

    fn place_relays(&mut self) {
        for n in 0..self.size.relays {
            let at = Point::new(PITCH_MM * f64::from(n), 120.0);
            let volts = self.coil_volts;
            let relay = self.b.part_with("K", self.pins.kind, "relay, no label", at, |part| {
                rate(part, Rating::CoilVolts, volts);
                rate(part, Rating::CoilVoltAmps, 2.0);
                rate(part, Rating::ContactAmps, 16.0);
            });
            self.relays.push(relay);
        }
    }

    /// Which relay hangs on which driver; returns the leads, each with the number of its driver.
    fn wire_coils(&mut self) -> Vec<Lead> {
        let order = self.order(self.drivers.len());
        let mut leads = Vec::new();
        let relays = self.relays.clone();
        for (at, (&relay, &driver)) in relays.iter().zip(&order).enumerate() {
            let Some((terminal, _)) = self.drivers.get(driver) else { continue };
            let terminal = terminal.clone();
            if let Some(lead) = self.lead(Duty::Control, (relay, "A1"), (terminal.0, &terminal.1)) {
                leads.push((lead, driver));
            }
            self.return_coil(at, &relays);
            if self.family == Family::Buttons {
                // Held in by its own contact across the start button.
                let feed = self.feed.clone();
                self.lead(Duty::Control, (feed.0, &feed.1), (relay, "21"));
                self.feed = (relay, "21".to_owned());
                self.lead(Duty::Control, (relay, "24"), (relay, "A1"));
            }
        }
        leads
    }

    /// The coil's second lead: along the chain, or over the rest contact of the other relay of a pair.
    fn return_coil(&mut self, at: usize, relays: &[PartId]) {
        let Some(&relay) = relays.get(at) else { return };
        let other = relays.get(at ^ 1).filter(|_| self.family == Family::Interlock).copied();
        let back = self.back.clone();
        if let Some(other) = other {
            self.lead(Duty::ControlReturn, (relay, "A2"), (other, "22"));
            self.lead(Duty::ControlReturn, (other, "21"), (back.0, &back.1));
            self.back = (other, "21".to_owned());
        } else {
            self.lead(Duty::ControlReturn, (relay, "A2"), (back.0, &back.1));
            self.back = (relay, "A2".to_owned());
        }
    }

    /// Contacts over a strip to loads, in any order.
    fn wire_loads(&mut self, hot: &At, back: &At) -> Ways {
        let relays = self.relays.clone();
        let strip = self.b.part_with("TB", "terminal-strip", "strip", Point::new(0.0, 200.0), |part| {
            part.count = u16::try_from(relays.len()).unwrap_or(6);
        });
        let order = self.order(relays.len());
        let (mut hot, mut back) = (hot.clone(), back.clone());
        let mut ways = Ways { leads: Vec::new(), places: Vec::new(), documented: Vec::new(), strip };
        for (n, &relay) in relays.iter().enumerate() {
            self.lead(Duty::Line, (hot.0, &hot.1), (relay, self.pins.common));
            hot = (relay, self.pins.common.to_owned());
            let Some(&way) = order.get(n) else { continue };
            let lead = self.lead(Duty::Line, (relay, self.pins.make), (strip, &format!("{}a", way + 1)));
            ways.leads.extend(lead.map(|lead| (lead, way)));
            ways.places.push(TerminalRef::new(strip, format!("{}a", n + 1)));
            let at = Point::new(PITCH_MM * n as f64, 270.0);
            let volts = self.load_volts;
            let loads = [
                ("E", "frame-heater", 30.0),
                ("E", "frame-heater", 120.0),
                ("P", "lamp", 15.0),
                ("E", "frame-heater", 500.0),
            ];
            let Some(&(letters, kind, watts)) = self.b.random.pick(&loads) else { continue };
            let load = self.b.part_with(letters, kind, "", at, |part| {
                rate(part, Rating::Volts, volts);
                rate(part, Rating::Watts, watts);
                if kind == "lamp" {
                    rate(part, Rating::Ohms, 0.15 * volts * volts / watts);
                }
            });
            ways.documented.extend(self.lead(Duty::Line, (strip, &format!("{}b", n + 1)), (load, "1")));
            ways.documented.extend(self.lead(Duty::Neutral, (load, "2"), (back.0, &back.1)));
            back = (load, "2".to_owned());
        }
        // Two loads that somebody joined cannot be told apart any more.
        if relays.len() > 2 && self.b.random.happens(15) {
            let one = 1 + self.below(relays.len() - 1);
            self.lead(Duty::Line, (strip, &format!("{one}a")), (strip, &format!("{}a", one + 1)));
        }
        ways
    }

    /// Branches that have nothing to do with it.
    fn wire_beside(&mut self, hot: &At, back: &At) {
        let (mut hot, mut back) = (hot.clone(), back.clone());
        for n in 0..self.size.beside {
            let (x, row) = (f64::from(n % 20) * 40.0, f64::from(n / 20));
            let door = self.b.part("S", "door-switch", "door", Point::new(x, 360.0 + 100.0 * row));
            let volts = self.load_volts;
            let load = self.b.part_with("E", "frame-heater", "", Point::new(x, 400.0 + 100.0 * row), |part| {
                rate(part, Rating::Volts, volts);
                rate(part, Rating::Watts, 60.0);
            });
            self.lead(Duty::Line, (hot.0, &hot.1), (door, "1"));
            hot = (door, "1".to_owned());
            self.lead(Duty::Line, (door, "2"), (load, "1"));
            self.lead(Duty::Neutral, (load, "2"), (back.0, &back.1));
            back = (load, "2".to_owned());
        }
    }

    /// Isolated; with the control supply alone, at rest and with each driver at work; live, at rest and with the first at work.
    fn set_conditions(&mut self) {
        let set = |on: &dyn Fn(bool) -> bool, sources: &[(PartId, bool)]| -> std::collections::BTreeMap<PartId, bool> {
            sources.iter().map(|(part, control)| (*part, on(*control))).collect()
        };
        let sources = self.sources.clone();
        self.b.machine.conditions.add(Condition {
            name: "isolated".to_owned(),
            sources: set(&|_| false, &sources),
            how: "Every plug pulled and locked off; absence of voltage verified.".to_owned(),
            ..Condition::default()
        });
        // A bench supply stays off where the machine runs on its own; an adapter is part of it.
        let bench = self.lifted.is_some();
        if sources.len() > 1 {
            let lifted = self.lifted.iter().map(|&wire| ((wire, Side::From), true)).collect();
            let id = self.b.machine.conditions.add(Condition {
                name: "control power only".to_owned(),
                sources: set(&|control| control, &sources),
                lifted,
                how: "Main plug pulled and locked off; control supply on.".to_owned(),
                ..Condition::default()
            });
            for n in 0..self.drivers.len() {
                self.add_worked("control power", id, n);
            }
        }
        let id = self.b.machine.conditions.add(Condition {
            name: "live, at rest".to_owned(),
            sources: set(&|control| !(control && bench), &sources),
            how: "Plugged in, nothing commanded or pressed.".to_owned(),
            ..Condition::default()
        });
        let count = if sources.len() > 1 { 1 } else { self.drivers.len() };
        for n in 0..count {
            self.add_worked("live", id, n);
        }
    }

    fn add_worked(&mut self, power: &str, base: ConditionId, driver: usize) {
        let Some(((part, marking), works)) = self.drivers.get(driver) else { return };
        let name =
            format!("{power}, {} at work", self.b.machine.terminal_name(&TerminalRef::new(*part, marking.as_str())));
        let mut condition = Condition { name, derived_from: Some(base), ..Condition::default() };
        match works {
            Works::Commanded(output) => {
                condition.commanded.insert(output.clone(), true);
            }
            Works::Position(part, switch, position) => {
                condition.positions.insert((*part, (*switch).to_owned()), (*position).to_owned());
            }
        }
        self.b.machine.conditions.add(condition);
    }
}
