//! Relay machines wired lead by lead: what each step comes to, from the state the step before left.
//!
//! Verdicts and end states: tests/outside/relay_fixpoints.json (its `source` field says how it was computed: exhaustively,
//! by a program that shares nothing with this one; each step names the state it starts from). Lighting controlled from two
//! and three places and the start and stop circuit: truth tables as any electrical handbook has them, named at each test.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

mod wired;

use serde_json::Value;
use wired::Wired;
use wired::circuits::{lighting, start_and_stop};
use wirewitness::circuit::{Network, Situation, Trit, Verdict};
use wirewitness::machine::Setting;

/// A part's tag, one of its switches, and the position it is put in.
type Position<'a> = (&'a str, &'a str, &'a str);

/// A relay with two change-overs, its coil's second end on the negative pole.
fn relay(wired: &mut Wired, tag: &str) {
    wired.relay(tag, "relay-two-change-over");
    wired.wire(&format!("{tag}.A2"), "-");
}

/// The machines of the data, wired as their excitations say.
fn machine(name: &str) -> Wired {
    let mut wired = Wired::default();
    wired.battery();
    match name {
        // K = stop_closed and (start or K)
        "start_stop_hold_in" => {
            wired.part("stop_closed", "push-button-break");
            wired.part("start", "push-button-make");
            relay(&mut wired, "K");
            wired.wire("+", "stop_closed.21");
            wired.chain(&["stop_closed.22", "start.13", "K.11"]);
            wired.chain(&["start.14", "K.14", "K.A1"]);
        }
        // K = on and not K
        "buzzer" => {
            wired.part("on", "toggle-switch");
            relay(&mut wired, "K");
            wired.wire("+", "on.1");
            wired.wire("on.2", "K.11");
            wired.wire("K.12", "K.A1");
        }
        // A = on and not B, B = on and not A
        "cross_coupled_race" => {
            wired.part("on", "toggle-switch");
            relay(&mut wired, "A");
            relay(&mut wired, "B");
            wired.wire("+", "on.1");
            wired.chain(&["on.2", "A.11", "B.11"]);
            wired.wire("A.12", "B.A1");
            wired.wire("B.12", "A.A1");
        }
        // F = stop and (pf or F) and not R, R = stop and (pr or R) and not F
        "forward_reverse_interlock" => {
            wired.part("stop", "push-button-break");
            wired.wire("+", "stop.21");
            relay(&mut wired, "F");
            relay(&mut wired, "R");
            for (own, button, other) in [("F", "pf", "R"), ("R", "pr", "F")] {
                wired.part(button, "push-button-make");
                let (hold, made) = (format!("{own}.11"), format!("{own}.14"));
                wired.chain(&["stop.22", &format!("{button}.13"), &hold]);
                wired.chain(&[&format!("{button}.14"), &made, &format!("{other}.21")]);
                wired.wire(&format!("{other}.22"), &format!("{own}.A1"));
            }
        }
        // A = p or (A and not C), B = A, C = B
        "sequence_of_three" => {
            wired.part("p", "push-button-make");
            for tag in ["A", "B", "C"] {
                relay(&mut wired, tag);
            }
            wired.chain(&["+", "p.13", "A.11", "A.21", "B.11"]);
            wired.chain(&["p.14", "A.A1", "C.12"]);
            wired.wire("A.14", "C.11");
            wired.wire("A.24", "B.A1");
            wired.wire("B.14", "C.A1");
        }
        other => panic!("machine {other} of the data is not wired here"),
    }
    wired
}

/// The battery on, and every button and switch as the step's inputs say: 1 is closed.
fn setting(wired: &Wired, inputs: &Value) -> Setting {
    let mut positions = Vec::new();
    for (tag, closed) in inputs.as_object().unwrap() {
        let kind = wired.machine.parts.get(wired.id(tag)).unwrap().kind.as_str();
        let (switch, position) = match (kind, closed.as_i64().unwrap() == 1) {
            ("push-button-make", true) | ("push-button-break", false) => ("button", "pressed"),
            ("push-button-make", false) | ("push-button-break", true) => ("button", "free"),
            ("toggle-switch", true) => ("lever", "on"),
            ("toggle-switch", false) => ("lever", "off"),
            other => panic!("{tag}: {other:?} is no input"),
        };
        positions.push((tag.as_str(), switch, position));
    }
    wired.setting(&positions, &["G"])
}

/// A state of the data in the order of the network's relays, `X` undecided.
fn trits(wired: &Wired, network: &Network, state: &Value) -> Vec<Trit> {
    let mut trits = vec![Trit::Either; network.relays().len()];
    for (tag, bit) in state.as_object().unwrap() {
        trits[wired.relay_index(network, tag)] = bit.as_i64().map_or(Trit::Either, |bit| Trit::from(bit == 1));
    }
    trits
}

fn bits(wired: &Wired, network: &Network, state: &Value) -> Vec<bool> {
    trits(wired, network, state).into_iter().map(|trit| trit.bit().unwrap()).collect()
}

fn indices(wired: &Wired, network: &Network, tags: &Value) -> Vec<usize> {
    let tags = tags.as_array().unwrap().iter();
    let mut all: Vec<usize> = tags.map(|tag| wired.relay_index(network, tag.as_str().unwrap())).collect();
    all.sort_unstable();
    all
}

#[test]
fn every_step_of_every_wired_machine_ends_as_computed_elsewhere() {
    let data: Value = serde_json::from_str(include_str!("outside/relay_fixpoints.json")).unwrap();
    let mut steps = 0;
    for entry in data["machines"].as_array().unwrap() {
        let name = entry["name"].as_str().unwrap();
        let wired = machine(name);
        let network = wired.network();
        for (number, step) in entry["steps"].as_array().unwrap().iter().enumerate() {
            let at = format!("{name}, step {number}");
            let start = bits(&wired, &network, &step["start_state"]);
            let situation = Situation::from_state(&network, &setting(&wired, &step["inputs"]), &start);
            let outcome = &situation.outcome;
            assert_eq!(outcome.verdict.word(), step["verdict"].as_str().unwrap().replace('_', "-"), "{at}");
            let states = |class: &Value| {
                let states = class.as_array().unwrap().iter();
                let mut states: Vec<Vec<bool>> = states.map(|state| bits(&wired, &network, state)).collect();
                states.sort();
                states
            };
            let mut ends: Vec<_> = step["terminal_classes"].as_array().unwrap().iter().map(states).collect();
            ends.sort();
            assert_eq!(outcome.ends, ends, "{at}");
            assert_eq!(situation.worked, ends[0][0], "{at}: the state looked at is the first end");
            assert_eq!(outcome.chattering, indices(&wired, &network, &step["chattering"]), "{at}");
            assert_eq!(outcome.ambiguous, indices(&wired, &network, &step["ambiguous"]), "{at}");
            assert_eq!(outcome.screen.0, trits(&wired, &network, &step["ternary"]["A"]), "{at}: A");
            assert_eq!(outcome.screen.1, trits(&wired, &network, &step["ternary"]["B"]), "{at}: B");
            steps += 1;
        }
    }
    assert_eq!(steps, 19);
}

/// Next state = (stop not pressed) and (start pressed or held in) and (overload closed): the table of any motor control
/// handbook. At rest out; start brings it in; it stays in; stop drops it; what drops it does not bring it in again.
#[test]
fn a_motor_starts_holds_itself_in_and_drops_for_good_on_stop_trip_and_loss_of_power() {
    let wired = start_and_stop();
    let network = wired.network();

    let (start, stop, trip) = (("S1", "button", "pressed"), ("S0", "button", "pressed"), ("F2", "trip", "tripped"));
    let plugged = ["X1"];
    // What is done, with the plug in or out, and whether the motor runs then.
    let steps: [(&str, &[Position], &[&str], bool); 15] = [
        ("at rest", &[], &plugged, false),
        ("start pressed", &[start], &plugged, true),
        ("start let go", &[], &plugged, true),
        ("stop pressed", &[stop], &plugged, false),
        ("stop let go", &[], &plugged, false),
        ("start and stop pressed", &[start, stop], &plugged, false),
        ("stop let go first", &[start], &plugged, true),
        ("both let go", &[], &plugged, true),
        ("tripped", &[trip], &plugged, false),
        ("start pressed while tripped", &[start, trip], &plugged, false),
        ("set again", &[], &plugged, false),
        ("start pressed again", &[start], &plugged, true),
        ("start let go again", &[], &plugged, true),
        ("power lost", &[], &[], false),
        ("power back", &[], &plugged, false),
    ];
    let mut state = vec![false];
    for (what, positions, sources, runs) in steps {
        let situation = Situation::from_state(&network, &wired.setting(positions, sources), &state);
        assert_eq!(situation.outcome.verdict, Verdict::Settles, "{what}");
        assert_eq!(wired.worked(&situation, "Q1"), runs, "{what}: the contactor");
        assert_eq!(wired.runs(&situation, "M1"), runs, "{what}: the motor");
        state = situation.worked;
    }
}

/// Two three-way switches: L = A xor B. With one four-way switch more: L = A xor B xor C, 8 rows, 4 of them lit. The truth
/// tables of any handbook on house wiring.
#[test]
fn a_lamp_switched_from_several_places_is_lit_when_an_odd_number_of_levers_is_over() {
    for (crossings, rows, lit_rows) in [(0, 4, 2), (1, 8, 4), (2, 16, 8)] {
        let (wired, places) = lighting(crossings);
        let network = wired.network();
        assert_eq!(1usize << places.len(), rows);
        let mut lit_count = 0;
        for row in 0..rows {
            let over: Vec<Position> = places
                .iter()
                .enumerate()
                .filter(|(place, _)| row >> place & 1 == 1)
                .map(|(_, tag)| (tag.as_str(), "lever", if tag.starts_with('C') { "on" } else { "second" }))
                .collect();
            let lit = wired.runs(&Situation::of(&network, &wired.setting(&over, &["X1"])), "P1");
            assert_eq!(lit, over.len() % 2 == 1, "{over:?}");
            let out = wired.runs(&Situation::of(&network, &wired.setting(&over, &[])), "P1");
            assert!(!out, "{over:?}: with the plug pulled");
            lit_count += usize::from(lit);
        }
        assert_eq!(lit_count, lit_rows);
    }
}
