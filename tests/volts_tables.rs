//! Handbook circuits by volts: what every load gets in every combination of switches, held against the truth table.
//!
//! The tier with impedances alone is asked. Lighting: L = A xor B and L = A xor B xor C, eight rows of which four are lit, as
//! handbooks on house wiring print it. Start and stop: next M = (stop not pressed) and (start or M) and (overload closed),
//! as motor control handbooks print it. Defrost: one service text (1 common, 4 cooling, 2 defrost, motor 1-3).

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

mod wired;

use wired::Wired;
use wired::circuits::{lighting, start_and_stop};
use wirewitness::circuit::Verdict;
use wirewitness::circuit::electric::{Elements, Live, Runs};
use wirewitness::quantity::Rating;

/// A part's tag, one of its switches, and the position it is put in.
type Position<'a> = (&'a str, &'a str, &'a str);

fn yes_or_no(yes: bool) -> Runs {
    if yes { Runs::Yes } else { Runs::No }
}

/// Lit when an odd number of levers is over: L = A xor B (xor C (xor D)).
#[test]
fn a_lamp_switched_from_two_three_and_four_places_follows_the_table() {
    for (crossings, rows, lit_rows) in [(0, 4, 2), (1, 8, 4), (2, 16, 8)] {
        let (mut wired, places) = lighting(crossings);
        wired.rate("P1", Rating::Volts, 230.0, None);
        wired.rate("P1", Rating::Watts, 60.0, None);
        let network = wired.network();
        let elements = Elements::of(&network);
        assert_eq!(1usize << places.len(), rows);
        let mut lit_count = 0;
        for row in 0..rows {
            let over: Vec<Position> = places
                .iter()
                .enumerate()
                .filter(|(place, _)| row >> place & 1 == 1)
                .map(|(_, tag)| (tag.as_str(), "lever", if tag.starts_with('C') { "on" } else { "second" }))
                .collect();
            for plugged in [true, false] {
                let sources: &[&str] = if plugged { &["X1"] } else { &[] };
                let live = Live::of(&network, &elements, &wired.setting(&over, sources));
                let gets = wired.gets(&live, "P1", None);
                let lit = plugged && over.len() % 2 == 1;
                assert_eq!(gets.runs, yes_or_no(lit), "{over:?}, plug {plugged}: {gets:?}");
                lit_count += usize::from(lit);
                if lit {
                    // P = 60 W at 230 V: the amps are P / (V cos φ), and contacts take next to nothing.
                    let volts = gets.volts.unwrap();
                    assert!((229.0..=230.0).contains(&volts.low), "{over:?}: {volts:?}");
                    assert!((gets.watts.unwrap().low - 60.0).abs() < 1.0, "{over:?}: {gets:?}");
                }
            }
        }
        assert_eq!(lit_count, lit_rows);
    }
}

/// All 32 combinations of held in before, start, stop, trip and plug.
#[test]
fn a_motor_with_start_and_stop_buttons_follows_the_table_in_every_combination() {
    let mut wired = start_and_stop();
    wired.rate("Q1", Rating::CoilVolts, 230.0, None);
    wired.rate("M1", Rating::Volts, 230.0, None);
    let network = wired.network();
    let elements = Elements::of(&network);
    for row in 0..32_u8 {
        let [held, start, stop, tripped, plugged] = [0, 1, 2, 3, 4].map(|bit| row >> bit & 1 == 1);
        let mut positions: Vec<Position> = Vec::new();
        positions.extend(start.then_some(("S1", "button", "pressed")));
        positions.extend(stop.then_some(("S0", "button", "pressed")));
        positions.extend(tripped.then_some(("F2", "trip", "tripped")));
        let sources: &[&str] = if plugged { &["X1"] } else { &[] };
        let live = Live::from_state(&network, &elements, &wired.setting(&positions, sources), &[held]);
        let at = format!("held in {held}, start {start}, stop {stop}, tripped {tripped}, plug {plugged}");
        assert_eq!(live.verdict(), Verdict::Settles, "{at}");
        let on = plugged && !stop && (start || held) && !tripped;
        assert_eq!(live.ends[0].0, [on], "{at}: the contactor");
        assert_eq!(live.relays[0].bit(), Some(on), "{at}: whatever its thresholds");
        let gets = wired.gets(&live, "M1", None);
        assert_eq!(gets.runs, yes_or_no(on), "{at}: the motor: {gets:?}");
    }
}

/// A refrigerator: the timer feeds compressor and fan over the box thermostat while it cools, and the heater over the defrost
/// termination while it defrosts; its own motor runs as long as the plug is in.
fn refrigerator() -> Wired {
    let mut wired = Wired::default();
    for (tag, kind) in [
        ("X1", "cord-plug"),
        ("K1", "defrost-timer-common-1"),
        ("B1", "thermostat-cool"),
        ("B2", "defrost-termination"),
        ("M1", "compressor"),
        ("M2", "evaporator-fan"),
        ("E1", "defrost-heater"),
    ] {
        wired.part(tag, kind);
        if !tag.starts_with('B') {
            wired.rate(tag, Rating::Volts, 120.0, None);
        }
    }
    wired.rate("E1", Rating::Watts, 600.0, None);
    wired.chain(&["X1.L", "K1.1"]);
    wired.chain(&["K1.4", "B1.1"]);
    wired.chain(&["B1.2", "M1.C", "M2.L"]);
    wired.chain(&["K1.2", "B2.1"]);
    wired.chain(&["B2.2", "E1.1"]);
    wired.chain(&["X1.N", "K1.3", "M1.R", "M2.N", "E1.2"]);
    wired
}

/// Heater = defrost and evaporator cold; compressor and fan = cooling and box warm; timer motor = plug in (a service text has
/// the timer; the box thermostat ahead of compressor and fan is common practice, no source).
#[test]
fn a_refrigerator_with_a_defrost_timer_follows_the_table_in_every_combination() {
    let wired = refrigerator();
    let network = wired.network();
    let elements = Elements::of(&network);
    for row in 0..16_u8 {
        let [plugged, defrost, box_warm, evaporator_cold] = [0, 1, 2, 3].map(|bit| row >> bit & 1 == 1);
        let mut positions: Vec<Position> = Vec::new();
        positions.push(("K1", "timer", if defrost { "defrost" } else { "cooling" }));
        positions.push(("B1", "thermostat", if box_warm { "warm" } else { "cold" }));
        positions.push(("B2", "evaporator", if evaporator_cold { "cold" } else { "warm" }));
        let sources: &[&str] = if plugged { &["X1"] } else { &[] };
        let live = Live::of(&network, &elements, &wired.setting(&positions, sources));
        let at = format!("plug {plugged}, {positions:?}");
        let cools = plugged && !defrost && box_warm;
        let heats = plugged && defrost && evaporator_cold;
        for (tag, load, on) in [
            ("M1", Some("run"), cools),
            ("M1", Some("start"), false), // nothing is on S here
            ("M2", None, cools),
            ("E1", None, heats),
            ("K1", None, plugged),
        ] {
            let gets = wired.gets(&live, tag, load);
            assert_eq!(gets.runs, yes_or_no(on), "{at}: {tag} {load:?}: {gets:?}");
        }
        // 120 V and 600 W: 24 Ω, 5 A (V²/W, calculated). The contacts on the way take less than a per cent.
        let amps = wired.gets(&live, "E1", None).amps.unwrap();
        assert!((amps.low - if heats { 5.0 } else { 0.0 }).abs() < 0.05, "{at}: {amps:?}");
        assert!(!(cools && heats));
    }
}
