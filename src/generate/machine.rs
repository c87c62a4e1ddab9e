//! What an invented machine consists of: a supply, and bays of relays and loads behind a control board each.

use std::sync::Arc;

use crate::machine::{
    Candidate, Condition, ConditionId, Constraint, Facts, Guess, Machine, Marking, Mounting, Mystery, PartId, Pin,
    PinRole, Point, Reading, Side, Spot, Statement, Subject, TerminalRef, WireEnd,
};
use crate::quantity::{Rating, Value};

use super::builder::{Builder, Duty, rate};

/// The most wires a machine can be invented with.
pub const MOST_WIRES: usize = 200_000;

/// Relays in one bay.
const BAY_RELAYS: u16 = 8;

/// Width and height of the canvas a bay takes, in millimetres.
const BAY_MM: (f64, f64) = (420.0, 360.0);

/// Bays beside one another.
const BAYS_IN_A_ROW: u32 = 8;

/// An invented machine of exactly this many wires (at most [`MOST_WIRES`]), the same for the same seed for ever.
///
/// It is 230 V, 50 Hz, with 24 V AC controls. Its parts are of kinds that the built-in catalogue has.
pub fn invented_machine(wires: usize, seed: u64) -> Machine {
    let wires = wires.min(MOST_WIRES);
    let mut b = Builder::new(wires, seed);
    b.machine.facts = Facts {
        title: format!("Invented machine, {wires} wires, seed {seed}"),
        nameplate: vec!["230 V ~ 50 Hz".to_owned()],
        source: "invented".to_owned(),
        note: "Made by a program for benchmarks and practice; no such machine exists.".to_owned(),
        ..Facts::default()
    };
    let supply = Supply::placed(&mut b);
    let conditions = supply.conditions(&mut b);
    let mut feed = (supply.fuse, "2".to_owned(), supply.plug, "N".to_owned());
    let mut bay = 0;
    while !b.is_full() {
        let at =
            Point::new(f64::from(bay % BAYS_IN_A_ROW) * BAY_MM.0, 120.0 + f64::from(bay / BAYS_IN_A_ROW) * BAY_MM.1);
        feed = Bay { number: bay + 1, at }.built(&mut b, &supply, feed, &conditions);
        bay += 1;
    }
    b.machine
}

/// A terminal that a daisy chain goes on from: part and marking of the line, then of the neutral.
type Feed = (PartId, String, PartId, String);

/// Where the machine is fed.
struct Supply {
    plug: PartId,
    fuse: PartId,
    earth: PartId,
}

/// The conditions every invented machine has.
struct Conditions {
    isolated: ConditionId,
    live: ConditionId,
    commanded: ConditionId,
}

impl Supply {
    fn placed(b: &mut Builder) -> Self {
        let plug = b.part("X", "cord-plug", "cord plug", Point::new(0.0, 0.0));
        let fuse = b.part_with("F", "fuse", "main fuse", Point::new(60.0, 0.0), |part| rate(part, Rating::Amps, 13.0));
        let earth = b.part("PE", "earth-stud", "earth stud", Point::new(0.0, 60.0));
        let (from, to) = (b.on(plug, "L"), b.on(fuse, "1"));
        b.wire(Duty::Line, 1, from, to);
        let (from, to) = (b.on(plug, "PE"), b.on(earth, "PE1"));
        b.wire(Duty::Earth, 0, from, to);
        Self { plug, fuse, earth }
    }

    fn conditions(&self, b: &mut Builder) -> Conditions {
        let isolated = b.machine.conditions.add(Condition {
            name: "isolated".to_owned(),
            how: "Plug pulled.".to_owned(),
            ..Condition::default()
        });
        let live = b.machine.conditions.add(Condition {
            name: "live, nothing commanded".to_owned(),
            sources: [(self.plug, true)].into(),
            how: "Plug in, controller in standby.".to_owned(),
            ..Condition::default()
        });
        let commanded = b.machine.conditions.add(Condition {
            name: "live, first outputs commanded".to_owned(),
            derived_from: Some(live),
            how: "Controller in its output test.".to_owned(),
            ..Condition::default()
        });
        Conditions { isolated, live, commanded }
    }
}

/// One control board with its transformer, strip, relays and loads.
struct Bay {
    number: u32,
    at: Point,
}

impl Bay {
    fn place(&self, x: f64, y: f64) -> Point {
        self.at.moved(x, y)
    }

    fn built(&self, b: &mut Builder, supply: &Supply, feed: Feed, conditions: &Conditions) -> Feed {
        let base = self.number * 100;
        let strip = b.part_with("TB", "terminal-strip", "strip of the bay", self.place(0.0, 200.0), |part| {
            part.count = 2 + BAY_RELAYS;
        });
        let transformer =
            b.part_with("T", "control-transformer", "control transformer", self.place(0.0, 20.0), |part| {
                rate(part, Rating::Volts, 230.0);
                rate(part, Rating::SecondaryVolts, 24.0);
                rate(part, Rating::VoltAmps, 40.0);
            });
        let board = self.board(b);
        let (from, to) = (b.on(feed.0, &feed.1), b.on(strip, "1a"));
        b.wire(Duty::Line, 2, from, to);
        let (from, to) = (b.on(feed.2, &feed.3), b.on(strip, "2a"));
        b.wire(Duty::Neutral, 3, from, to);
        for (duty, number, position, pin) in [(Duty::Line, 2, "1b", "P1"), (Duty::Neutral, 3, "2b", "P2")] {
            let (from, to) = (b.on(strip, position), b.on(transformer, pin));
            b.wire(duty, number, from, to);
        }
        for (duty, number, pin, onto) in
            [(Duty::Control, base + 1, "S1", "J3-1"), (Duty::ControlReturn, base + 2, "S2", "J3-2")]
        {
            let (from, to) = (b.on(transformer, pin), b.on(board, onto));
            b.wire(duty, number, from, to);
        }
        self.input(b, board, base);
        let mut line = (strip, "1b".to_owned());
        let mut back = (board, "J1-9".to_owned());
        for place in 1..=BAY_RELAYS {
            if b.is_full() {
                break;
            }
            let branch = Branch { bay: self, place, board, strip, base };
            branch.built(b, supply, &mut line, &mut back, conditions);
        }
        (strip, "1a".to_owned(), strip, "2a".to_owned())
    }

    fn board(&self, b: &mut Builder) -> PartId {
        let pin = |marking: &str, role| Pin { marking: marking.into(), role, at: None };
        let mut pins = vec![
            pin("J3-1", PinRole::Supply("J3-2".into())),
            pin("J3-2", PinRole::Plain),
            pin("J3-4", PinRole::Input("J3-5".into())),
            pin("J3-5", PinRole::Plain),
        ];
        pins.extend((1..=BAY_RELAYS).map(|n| pin(&format!("J1-{n}"), PinRole::OutputFrom("J3-1".into()))));
        pins.push(pin("J1-9", PinRole::Joined("J3-2".into())));
        b.part_with("A", "control-board", "control board", self.place(120.0, 20.0), |part| part.pins = pins)
    }

    /// A door switch on the board's input; now and then one of its leads is off.
    fn input(&self, b: &mut Builder, board: PartId, base: u32) {
        let switch = b.part("S", "door-switch", "door switch", self.place(330.0, 20.0));
        let (from, to) = (b.on(board, "J3-4"), b.on(switch, "1"));
        b.wire(Duty::Control, base + 3, from, to);
        let from = b.on(board, "J3-5");
        let to = if b.random.happens(10) { b.loose(self.place(320.0, 60.0)) } else { b.on(switch, "2") };
        b.wire(Duty::Control, base + 4, from, to);
    }
}

/// One output, its relay and its load.
struct Branch<'a> {
    bay: &'a Bay,
    place: u16,
    board: PartId,
    strip: PartId,
    base: u32,
}

impl Branch<'_> {
    fn built(
        &self,
        b: &mut Builder,
        supply: &Supply,
        line: &mut (PartId, String),
        back: &mut (PartId, String),
        conditions: &Conditions,
    ) {
        let x = 48.0 * f64::from(self.place - 1);
        let number = self.base + 10 * u32::from(self.place);
        let output = format!("J1-{}", self.place);
        let (wrong_coil, hangs) = (b.random.happens(4), b.random.happens(10));
        let relay = b.part_with("K", "relay-one-change-over", "relay", self.bay.place(x, 110.0), |part| {
            rate(part, Rating::CoilVolts, if wrong_coil { 230.0 } else { 24.0 });
            rate(part, Rating::ContactAmps, 16.0);
            rate(part, Rating::ContactVolts, 250.0);
            part.mounting = if hangs { Mounting::Loose } else { Mounting::Fixed };
        });
        self.coil(b, relay, &output, number, back);
        let (from, to) = (b.on(line.0, &line.1), b.on(relay, "11"));
        b.wire(Duty::Line, 2, from, to);
        *line = (relay, "11".to_owned());
        self.load(b, supply, relay, number, x);
        self.log(b, relay, &output, conditions);
    }

    /// The coil's two leads; sometimes it is not known which output the first comes from.
    fn coil(&self, b: &mut Builder, relay: PartId, output: &str, number: u32, back: &mut (PartId, String)) {
        let to = b.on(relay, "A1");
        if b.random.happens(12) {
            let wire = b.wire(Duty::Control, number, WireEnd::default(), to);
            if let Some(wire) = wire {
                let candidates = (1..=BAY_RELAYS)
                    .map(|n| Candidate {
                        guess: Guess::Terminal(TerminalRef::new(self.board, format!("J1-{n}"))),
                        weight: if format!("J1-{n}") == output { 2.0 } else { 1.0 },
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
            b.wire(Duty::Control, number, from, to);
        }
        let (from, to) = (b.on(relay, "A2"), b.on(back.0, &back.1));
        b.wire(Duty::ControlReturn, self.base + 2, from, to);
        *back = (relay, "A2".to_owned());
    }

    /// From the make contact over the strip to the load and back to neutral, with what may be wrong on the way.
    fn load(&self, b: &mut Builder, supply: &Supply, relay: PartId, number: u32, x: f64) {
        let position = self.place + 2;
        let loads = [
            ("E", "frame-heater", "frame heater", 0.26),
            ("M", "evaporator-fan", "fan", 0.17),
            ("M", "condenser-fan", "fan", 0.2),
            ("Y", "solenoid-valve", "valve", 0.1),
        ];
        let Some(&(letters, kind, title, amps)) = b.random.pick(&loads) else { return };
        let load = b.part_with(letters, kind, title, self.bay.place(x, 290.0), |part| {
            rate(part, Rating::Volts, 230.0);
            rate(part, Rating::Amps, amps);
        });
        let from = b.on(relay, "14");
        let to = if b.random.happens(6) {
            b.loose(self.bay.place(x, 165.0))
        } else {
            b.on(self.strip, &format!("{position}a"))
        };
        b.wire(Duty::Line, number + 1, from, to);
        let (from, to) = (b.on(self.strip, &format!("{position}b")), b.on(load, "1"));
        // One load in some is wired with the number of another net.
        let printed = if b.random.happens(5) { number + 7 } else { number + 1 };
        b.wire(Duty::Line, printed, from, to);
        if !b.random.happens(4) {
            let (from, to) = (b.on(load, "2"), b.on(self.strip, "2b"));
            b.wire(Duty::Neutral, 3, from, to);
        }
        if b.random.happens(8) {
            self.second_load(b, load, number, x);
        }
        if b.random.happens(6) {
            self.leftovers(b, supply, relay, number, x);
        }
    }

    /// Another load on the same contact.
    fn second_load(&self, b: &mut Builder, load: PartId, number: u32, x: f64) {
        let lamp =
            b.part_with("P", "lamp", "lamp", self.bay.place(x + 22.0, 320.0), |part| rate(part, Rating::Volts, 230.0));
        let (from, to) = (b.on(load, "1"), b.on(lamp, "1"));
        b.wire(Duty::Line, number + 1, from, to);
        let (from, to) = (b.on(lamp, "2"), b.on(load, "2"));
        b.wire(Duty::Neutral, 3, from, to);
    }

    /// What an earlier rebuild left: a lead on the break contact, a wire on nothing, a jumper nobody needs.
    fn leftovers(&self, b: &mut Builder, supply: &Supply, relay: PartId, number: u32, x: f64) {
        let from = b.on(relay, "12");
        let to = b.loose(self.bay.place(x + 10.0, 150.0));
        b.wire(Duty::Control, number + 2, from, to);
        let (from, to) = (b.loose(self.bay.place(x, 335.0)), b.loose(self.bay.place(x + 30.0, 345.0)));
        b.wire(Duty::Control, number + 3, from, to);
        let from = b.on(supply.earth, "PE1");
        b.wire(Duty::Earth, 0, from, WireEnd::default());
        b.jumper(self.strip, "1a", "1b");
    }

    /// What was read on the branch, and for the first bay what the output test commands.
    fn log(&self, b: &mut Builder, relay: PartId, output: &str, conditions: &Conditions) {
        if self.bay.number == 1 && self.place <= 3 {
            let terminal = TerminalRef::new(self.board, output);
            if let Some(condition) = b.machine.conditions.get(conditions.commanded) {
                let mut condition = condition.clone();
                condition.commanded.insert(terminal, true);
                b.machine.conditions.put(conditions.commanded, Some(Arc::new(condition)));
            }
            if self.place == 2 {
                let first = Statement::Commanded(TerminalRef::new(self.board, "J1-1"));
                let last = Statement::Commanded(TerminalRef::new(self.board, format!("J1-{BAY_RELAYS}")));
                b.machine.constraints.add(Constraint::NeverBoth(vec![first, last]));
            }
        }
        if !b.random.happens(20) {
            return;
        }
        let (marking, value, condition) = if b.random.happens(50) {
            ("14", Value::NoTone, conditions.isolated)
        } else if b.random.happens(50) {
            ("12", Value::Tone, conditions.isolated)
        } else if b.random.happens(60) {
            ("14", Value::Tone, conditions.isolated)
        } else {
            ("A1", Value::Ohms(180.0), conditions.live)
        };
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

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::EndAt;

    #[test]
    fn a_machine_has_exactly_the_wires_asked_for() {
        for wires in [0, 1, 2, 7, 40, 333, 2500] {
            assert_eq!(invented_machine(wires, 5).wires.len(), wires);
        }
    }

    #[test]
    fn the_same_seed_gives_the_same_machine_and_another_seed_another() {
        assert_eq!(invented_machine(500, 9), invented_machine(500, 9));
        assert_ne!(invented_machine(500, 9), invented_machine(500, 10));
    }

    #[test]
    fn tags_are_free_and_ends_lie_on_parts_of_the_record() {
        let machine = invented_machine(2000, 3);
        assert_eq!(machine.tags().len(), machine.parts.len() + machine.wires.len());
        for wire in machine.wires.values() {
            for side in Side::BOTH {
                if let EndAt::Terminal(terminal) = &wire.end(side).at {
                    assert!(machine.parts.contains(terminal.part), "{}", wire.key);
                }
            }
        }
    }
}
