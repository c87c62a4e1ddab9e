//! Switching circuits by volts, row by row: what runs, and which relay is worked.
//!
//! Two and three switches over a stair light: light = A ⊕ B, light = A ⊕ B ⊕ C (electricity primers on three- and four-way
//! switching). Start and stop with a hold-in contact: next M = stop free AND (start pressed OR M) (motor control primers).
//! Defrost timer: common 1, cooling 4, defrost 2, never 2-4; heater = defrost AND termination cold (a service text's order of
//! terminals; the circuit is common practice, no source).
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

mod wired;

use wired::Wired;
use wirewitness::circuit::electric::{ByVolts, Elements, Live, Runs, Willing};
use wirewitness::circuit::{Bounds, Frame, Verdict, settle_abstract};
use wirewitness::machine::Setting;
use wirewitness::quantity::{Current, Rating};

/// What the load of a part does in a setting, by volts.
fn runs(wired: &Wired, setting: &Setting, tag: &str) -> Runs {
    let network = wired.network();
    let elements = Elements::of(&network);
    let live = Live::of(&network, &elements, setting);
    let id = wired.id(tag);
    let at = network.loads().iter().position(|load| load.inside.part == id).unwrap();
    live.load(at).unwrap().runs
}

/// A lamp for 24 V DC.
fn lamp(wired: &mut Wired) {
    wired.part("H", "lamp");
    wired.rate("H", Rating::Volts, 24.0, Some(Current::Dc));
    wired.rate("H", Rating::Watts, 5.0, None);
}

fn yes(lit: bool) -> Runs {
    if lit { Runs::Yes } else { Runs::No }
}

/// The lever of each of these switches, second where its bit is set.
fn levers<'a>(tags: &[&'a str], bits: u32) -> Vec<(&'a str, &'static str, &'static str)> {
    let set = tags.iter().enumerate().filter(|(place, _)| bits >> place & 1 == 1);
    set.map(|(_, tag)| (*tag, "lever", "second")).collect()
}

#[test]
fn two_change_over_switches_light_a_lamp_when_they_differ() {
    let mut wired = Wired::default();
    wired.battery();
    lamp(&mut wired);
    wired.part("A", "toggle-switch-change-over");
    wired.part("B", "toggle-switch-change-over");
    // Travellers crossed, so that equal positions are dark.
    for (from, to) in [("+", "A.2"), ("A.1", "B.3"), ("A.3", "B.1"), ("B.2", "H.1"), ("H.2", "-")] {
        wired.wire(from, to);
    }
    for bits in 0..4 {
        let setting = wired.setting(&levers(&["A", "B"], bits), &["G"]);
        assert_eq!(runs(&wired, &setting, "H"), yes(bits.count_ones() == 1), "{bits:02b}");
        assert_eq!(runs(&wired, &wired.setting(&levers(&["A", "B"], bits), &[]), "H"), Runs::No, "no source is on");
    }
}

#[test]
fn a_crossing_switch_between_them_makes_it_the_parity_of_three() {
    let mut wired = Wired::default();
    wired.battery();
    lamp(&mut wired);
    // The crossing switch is two change-overs on one lever.
    for tag in ["A", "B", "C1", "C2"] {
        wired.part(tag, "toggle-switch-change-over");
    }
    let wires = [
        ("+", "A.2"),
        ("A.1", "C1.2"),
        ("A.3", "C2.2"),
        ("C1.1", "p"),
        ("C1.3", "q"),
        ("C2.1", "q"),
        ("C2.3", "p"),
        ("p", "B.3"),
        ("q", "B.1"),
        ("B.2", "H.1"),
        ("H.2", "-"),
    ];
    for (from, to) in wires {
        wired.wire(from, to);
    }
    for bits in 0..8_u32 {
        let mut positions = levers(&["A", "B", "C1"], bits);
        if bits & 4 != 0 {
            positions.push(("C2", "lever", "second"));
        }
        let setting = wired.setting(&positions, &["G"]);
        assert_eq!(runs(&wired, &setting, "H"), yes(bits.count_ones() % 2 == 1), "{bits:03b}");
    }
}

#[test]
fn start_and_stop_with_a_hold_in_contact_go_by_their_truth_table() {
    let mut wired = Wired::default();
    wired.battery();
    lamp(&mut wired);
    wired.part("STOP", "push-button-break");
    wired.part("START", "push-button-make");
    wired.relay("M", "relay-two-change-over");
    wired.rate("M", Rating::CoilOhms, 640.0, None);
    let wires = [
        ("+", "STOP.21"),
        ("STOP.22", "n2"),
        ("n2", "START.13"),
        ("n2", "M.11"),
        ("START.14", "n3"),
        ("M.14", "n3"),
        ("n3", "M.A1"),
        ("M.A2", "-"),
        ("+", "M.21"),
        ("M.24", "H.1"),
        ("H.2", "-"),
    ];
    for (from, to) in wires {
        wired.wire(from, to);
    }
    let network = wired.network();
    let elements = Elements::of(&network);
    for row in 0..16_u32 {
        let [power, stop, start, held] = [0, 1, 2, 3].map(|bit| row >> bit & 1 == 1);
        let mut positions = Vec::new();
        if stop {
            positions.push(("STOP", "button", "pressed"));
        }
        if start {
            positions.push(("START", "button", "pressed"));
        }
        let setting = wired.setting(&positions, if power { &["G"] } else { &[] });
        let frame = Frame::of(&network, &setting);
        for willing in [Willing::Most, Willing::Middle, Willing::Least] {
            let by_volts = ByVolts::new(&frame, &elements, None, willing);
            let outcome = settle_abstract(&[held], &by_volts, Bounds::default());
            assert_eq!(outcome.verdict, Verdict::Settles);
            let next = power && !stop && (start || held);
            assert_eq!(outcome.ends, vec![vec![vec![next]]], "power {power} stop {stop} start {start} held {held}");
        }
        if !held {
            assert_eq!(runs(&wired, &setting, "H"), yes(power && !stop && start));
        }
    }
}

#[test]
fn a_defrost_timer_cools_or_heats_and_its_termination_ends_the_heat() {
    let mut wired = Wired::default();
    wired.part("PL", "cord-plug");
    wired.rate("PL", Rating::Volts, 230.0, Some(Current::Ac));
    wired.part("T", "defrost-timer-common-1");
    wired.part("B", "defrost-termination");
    wired.part("E", "defrost-heater");
    wired.rate("E", Rating::Watts, 300.0, None);
    wired.part("M", "evaporator-fan");
    wired.rate("M", Rating::Watts, 20.0, None);
    for tag in ["E", "M"] {
        wired.rate(tag, Rating::Volts, 230.0, Some(Current::Ac));
    }
    let wires = [
        ("PL.L", "T.1"),
        ("T.3", "n"),
        ("T.4", "M.L"),
        ("M.N", "n"),
        ("T.2", "B.1"),
        ("B.2", "E.1"),
        ("E.2", "n"),
        ("n", "PL.N"),
    ];
    for (from, to) in wires {
        wired.wire(from, to);
    }
    for row in 0..4_u32 {
        let [defrost, cold] = [0, 1].map(|bit| row >> bit & 1 == 1);
        let positions = [
            ("T", "timer", if defrost { "defrost" } else { "cooling" }),
            ("B", "evaporator", if cold { "cold" } else { "warm" }),
        ];
        let setting = wired.setting(&positions, &["PL"]);
        assert_eq!(runs(&wired, &setting, "M"), yes(!defrost), "fan, defrost {defrost} cold {cold}");
        assert_eq!(runs(&wired, &setting, "E"), yes(defrost && cold), "heater, defrost {defrost} cold {cold}");
        assert_eq!(runs(&wired, &setting, "T"), Runs::Unknown, "the timer's volts are not recorded");
    }
}
