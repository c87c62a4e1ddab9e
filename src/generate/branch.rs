//! One output of an invented board: its relay, its load, and what a person read there.

use std::sync::Arc;

use crate::machine::{
    Candidate, Constraint, Guess, Marking, Mounting, Mystery, PartId, Reading, Side, Spot, Statement, Subject,
    TerminalRef, WireEnd,
};
use crate::quantity::{Rating, Value};

use super::builder::{Builder, Duty, rate};
use super::machine::{At, BAY_RELAYS, Bay, Chains, Conditions};

/// One output, its relay and its load.
pub(super) struct Branch<'a> {
    pub(super) bay: &'a Bay,
    /// From 1: the output, and the place in the row.
    pub(super) place: u16,
    pub(super) board: PartId,
    pub(super) strip: PartId,
    /// Earth bar.
    pub(super) bar: PartId,
}

/// A kind of load.
#[derive(Clone, Copy)]
struct Load {
    letters: &'static str,
    kind: &'static str,
    amps: f64,
    ends: (&'static str, &'static str),
    /// Whether it has a terminal for protective earth.
    metal: bool,
}

const LOADS: [Load; 4] = [
    Load { letters: "E", kind: "frame-heater", amps: 0.26, ends: ("1", "2"), metal: false },
    Load { letters: "M", kind: "evaporator-fan", amps: 0.17, ends: ("L", "N"), metal: true },
    Load { letters: "M", kind: "condenser-fan", amps: 0.2, ends: ("L", "N"), metal: true },
    Load { letters: "Y", kind: "solenoid-valve", amps: 0.1, ends: ("1", "2"), metal: true },
];

impl Branch<'_> {
    /// Wire number of the output's own net; the numbers after it are the branch's others.
    fn number(&self) -> u32 {
        self.bay.number * 100 + 10 * u32::from(self.place)
    }

    fn x_mm(&self) -> f64 {
        48.0 * f64::from(self.place - 1)
    }

    pub(super) fn built(&self, b: &mut Builder, chains: &mut Chains, conditions: &Conditions) {
        let output = format!("J1-{}", self.place);
        let (wrong_coil, hangs) = (b.random.happens(4), b.random.happens(10));
        let at = self.bay.place(self.x_mm(), 110.0);
        let relay = b.part_with("K", "relay-change-over", "relay", at, |part| {
            rate(part, Rating::CoilVolts, if wrong_coil { 230.0 } else { 24.0 });
            rate(part, Rating::ContactAmps, 16.0);
            rate(part, Rating::ContactVolts, 250.0);
            part.mounting = if hangs { Mounting::Loose } else { Mounting::Fixed };
        });
        self.coil(b, relay, &output, &mut chains.back);
        b.lead(Duty::Line, 2, (chains.line.0, &chains.line.1), (relay, "11"));
        chains.line = (relay, "11".to_owned());
        self.load(b, relay, &mut chains.neutral);
        self.command(b, &output, conditions);
        Self::log(b, relay, conditions);
    }

    /// The coil's two leads; sometimes it is not known which output the first comes from.
    fn coil(&self, b: &mut Builder, relay: PartId, output: &str, back: &mut At) {
        let to = b.on(relay, "A1");
        if b.random.happens(12) {
            let wire = b.wire(Duty::Control, self.number(), WireEnd::default(), to);
            if let Some(wire) = wire {
                let candidates = (1..=BAY_RELAYS)
                    .map(|n| {
                        let weight = if format!("J1-{n}") == output { 2.0 } else { 1.0 };
                        Candidate::new(Guess::Terminal(TerminalRef::new(self.board, format!("J1-{n}"))), weight)
                    })
                    .collect();
                let name = format!("Q{}", u32::from(b.machine.mysteries.next_id()) + 1);
                b.machine.mysteries.add(Mystery {
                    name,
                    subject: Subject::End(wire, Side::From),
                    candidates,
                    one_of_each: Some(format!("outputs of bay {}", self.bay.number)),
                    note: String::new(),
                });
            }
        } else {
            let from = b.on(self.board, output);
            b.wire(Duty::Control, self.number(), from, to);
        }
        b.lead(Duty::ControlReturn, self.bay.number * 100 + 2, (relay, "A2"), (back.0, &back.1));
        *back = (relay, "A2".to_owned());
    }

    /// From the make contact over the strip to the load and back to neutral, with what may be wrong on the way.
    fn load(&self, b: &mut Builder, relay: PartId, neutral: &mut At) {
        let Some(&Load { letters, kind, amps, ends, metal }) = b.random.pick(&LOADS) else { return };
        let number = self.number();
        let position = self.place + 2;
        let load = b.part_with(letters, kind, "", self.bay.place(self.x_mm(), 290.0), |part| {
            rate(part, Rating::Volts, 230.0);
            rate(part, Rating::Amps, amps);
        });
        let from = b.on(relay, "14");
        let to = if b.random.happens(6) {
            b.loose(self.bay.place(self.x_mm(), 165.0))
        } else {
            b.on(self.strip, &format!("{position}a"))
        };
        b.wire(Duty::Line, number + 1, from, to);
        // Some leads have the number of another net.
        let printed = if b.random.happens(5) { number + 7 } else { number + 1 };
        b.lead(Duty::Line, printed, (self.strip, &format!("{position}b")), (load, ends.0));
        if !b.random.happens(4) {
            b.lead(Duty::Neutral, 3, (load, ends.1), (neutral.0, &neutral.1));
            *neutral = (load, ends.1.to_owned());
        }
        if metal && !b.random.happens(5) {
            b.lead(Duty::Earth, 0, (load, "PE"), (self.bar, &position.to_string()));
        }
        if b.random.happens(8) {
            self.second_load(b, load, ends);
        }
        if b.random.happens(6) {
            self.leftovers(b, relay);
        }
    }

    /// Another load on the same contact.
    fn second_load(&self, b: &mut Builder, load: PartId, ends: (&str, &str)) {
        let at = self.bay.place(self.x_mm() + 22.0, 320.0);
        let lamp = b.part_with("P", "lamp", "", at, |part| rate(part, Rating::Volts, 230.0));
        b.lead(Duty::Line, self.number() + 1, (load, ends.0), (lamp, "1"));
        b.lead(Duty::Neutral, 3, (lamp, "2"), (load, ends.1));
    }

    /// What an earlier rebuild left: a lead on the break contact, a wire on nothing, one that goes out of sight.
    fn leftovers(&self, b: &mut Builder, relay: PartId) {
        let (x, number) = (self.x_mm(), self.number());
        let (from, to) = (b.on(relay, "12"), b.loose(self.bay.place(x + 10.0, 150.0)));
        b.wire(Duty::Control, number + 2, from, to);
        let (from, to) = (b.loose(self.bay.place(x, 335.0)), b.loose(self.bay.place(x + 30.0, 345.0)));
        b.wire(Duty::Control, number + 3, from, to);
        let from = b.on(self.strip, &format!("{}a", self.place + 2));
        b.wire(Duty::Control, number + 4, from, WireEnd::default());
    }

    /// What the output test commands, and what the board never does at once.
    fn command(&self, b: &mut Builder, output: &str, conditions: &Conditions) {
        if self.bay.number > 1 || self.place > 3 {
            return;
        }
        if let Some(condition) = b.machine.conditions.get(conditions.commanded) {
            let mut condition = condition.clone();
            condition.commanded.insert(TerminalRef::new(self.board, output), true);
            b.machine.conditions.put(conditions.commanded, Some(Arc::new(condition)));
        }
        if self.place == 2 {
            let first = Statement::Commanded(TerminalRef::new(self.board, "J1-1"));
            let last = Statement::Commanded(TerminalRef::new(self.board, format!("J1-{BAY_RELAYS}")));
            b.machine.constraints.add(Constraint::NeverBoth(vec![first, last]));
        }
    }

    /// What was read at the relay.
    fn log(b: &mut Builder, relay: PartId, conditions: &Conditions) {
        if !b.random.happens(20) {
            return;
        }
        // The first four agree with a relay at rest, the fifth disputes it, the last was taken under voltage.
        let (isolated, live) = (conditions.isolated, conditions.live);
        let seen = [
            ("14", Value::NoTone, isolated),
            ("12", Value::Tone, isolated),
            ("14", Value::NoTone, isolated),
            ("12", Value::Tone, isolated),
            ("14", Value::Tone, isolated),
            ("A1", Value::Ohms(180.0), live),
        ];
        let Some(&(marking, value, condition)) = b.random.pick(&seen) else { return };
        let black = if marking == "A1" { "A2" } else { "11" };
        let spot = |marking: &str| Spot::Terminal(TerminalRef::new(relay, Marking::from(marking)));
        let name = format!("R{}", u32::from(b.machine.readings.next_id()) + 1);
        b.machine.readings.add(Reading {
            name,
            red: spot(marking),
            black: Some(spot(black)),
            value,
            condition: Some(condition),
            meter: None,
            when: String::new(),
            who: String::new(),
            visit: None,
            note: "invented".to_owned(),
        });
    }
}
