//! What an invented machine consists of: a supply, and bays of relays and loads behind a control board each.

use crate::machine::{Condition, ConditionId, Facts, Machine, PartId, Pin, PinRole, Point};
use crate::quantity::Rating;

use super::branch::Branch;
use super::builder::{Builder, Duty, rate};

/// The most wires a machine can be invented with.
pub const MOST_WIRES: usize = 200_000;

/// Relays in one bay.
pub(super) const BAY_RELAYS: u16 = 8;

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
    let mut feed = Feed {
        line: (supply.fuse, "2".to_owned()),
        neutral: (supply.plug, "N".to_owned()),
        earth: (supply.earth, "PE".to_owned()),
    };
    let mut bay = 0;
    while !b.is_full() {
        let at =
            Point::new(f64::from(bay % BAYS_IN_A_ROW) * BAY_MM.0, 120.0 + f64::from(bay / BAYS_IN_A_ROW) * BAY_MM.1);
        feed = Bay { number: bay + 1, at }.built(&mut b, &feed, &conditions);
        bay += 1;
    }
    b.machine
}

/// A terminal, by its part and marking.
pub(super) type At = (PartId, String);

/// The terminals that the supply goes on from.
struct Feed {
    line: At,
    neutral: At,
    earth: At,
}

/// The terminals that the daisy chains of a bay go on from.
pub(super) struct Chains {
    pub(super) line: At,
    pub(super) neutral: At,
    /// Return of the controls.
    pub(super) back: At,
}

/// Where the machine is fed.
struct Supply {
    plug: PartId,
    fuse: PartId,
    earth: PartId,
}

/// The conditions every invented machine has.
pub(super) struct Conditions {
    pub(super) isolated: ConditionId,
    pub(super) live: ConditionId,
    pub(super) commanded: ConditionId,
}

impl Supply {
    fn placed(b: &mut Builder) -> Self {
        let plug = b.part("X", "cord-plug", "cord plug", Point::new(0.0, 0.0));
        let fuse = b.part_with("F", "fuse", "main fuse", Point::new(60.0, 0.0), |part| rate(part, Rating::Amps, 13.0));
        let earth = b.part("PE", "earth-stud", "earth stud", Point::new(0.0, 60.0));
        b.lead(Duty::Line, 1, (plug, "L"), (fuse, "1"));
        b.lead(Duty::Earth, 0, (plug, "PE"), (earth, "PE"));
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

/// One control board with its transformer, strip, earth bar, relays and loads.
pub(super) struct Bay {
    pub(super) number: u32,
    at: Point,
}

impl Bay {
    /// A point of the canvas from one of the bay, in millimetres.
    pub(super) fn place(&self, x: f64, y: f64) -> Point {
        self.at.moved(x, y)
    }

    fn built(&self, b: &mut Builder, feed: &Feed, conditions: &Conditions) -> Feed {
        let base = self.number * 100;
        let strip = b.part_with("TB", "terminal-strip", "strip of the bay", self.place(0.0, 200.0), |part| {
            part.count = 2 + BAY_RELAYS;
        });
        let bar = b.part_with("PB", "earth-bar", "earth bar of the bay", self.place(200.0, 235.0), |part| {
            part.count = 2 + BAY_RELAYS;
        });
        let transformer =
            b.part_with("T", "control-transformer", "control transformer", self.place(0.0, 20.0), |part| {
                rate(part, Rating::Volts, 230.0);
                rate(part, Rating::SecondaryVolts, 24.0);
                rate(part, Rating::VoltAmps, 40.0);
            });
        let board = self.board(b);
        b.lead(Duty::Line, 2, (feed.line.0, &feed.line.1), (strip, "1a"));
        b.lead(Duty::Neutral, 3, (feed.neutral.0, &feed.neutral.1), (strip, "2a"));
        b.lead(Duty::Earth, 0, (feed.earth.0, &feed.earth.1), (bar, "1"));
        b.lead(Duty::Line, 2, (strip, "1b"), (transformer, "H1"));
        b.lead(Duty::Neutral, 3, (strip, "2b"), (transformer, "H2"));
        b.lead(Duty::Control, base + 1, (transformer, "X1"), (board, "J3-1"));
        b.lead(Duty::ControlReturn, base + 2, (transformer, "X2"), (board, "J3-2"));
        self.input(b, board, base);
        let mut chains = Chains {
            line: (strip, "1b".to_owned()),
            neutral: (strip, "2b".to_owned()),
            back: (board, "J1-9".to_owned()),
        };
        for place in 1..=BAY_RELAYS {
            if b.is_full() {
                break;
            }
            Branch { bay: self, place, board, strip, bar }.built(b, &mut chains, conditions);
        }
        Feed { line: (strip, "1a".to_owned()), neutral: (strip, "2a".to_owned()), earth: (bar, "2".to_owned()) }
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
        b.lead(Duty::Control, base + 3, (board, "J3-4"), (switch, "1"));
        let from = b.on(board, "J3-5");
        let to = if b.random.happens(10) { b.loose(self.place(320.0, 60.0)) } else { b.on(switch, "2") };
        b.wire(Duty::Control, base + 4, from, to);
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::machine::{EndAt, Side};

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
    fn tags_are_free_and_ends_lie_on_terminals_that_are_there() {
        let machine = invented_machine(2000, 3);
        let catalogue = Catalogue::built_in().unwrap();
        assert_eq!(machine.tags().len(), machine.parts.len() + machine.wires.len());
        for wire in machine.wires.values() {
            for side in Side::BOTH {
                if let EndAt::Terminal(terminal) = &wire.end(side).at {
                    let part = machine.parts.get(terminal.part).unwrap();
                    let body = catalogue.body(part);
                    assert!(body.kind_known, "{}", part.kind);
                    assert!(body.terminal(terminal.marking.as_str()).is_some(), "{}.{}", part.kind, terminal.marking);
                }
            }
        }
    }
}
