//! The circuits of the first paper on switching that have levers of many poles and relays: a selective circuit, an adder, a
//! combination lock.
//!
//! C. E. Shannon, "A symbolic analysis of relay and switching circuits", Trans. AIEE 57 (1938), 713-723. Data:
//! tests/outside/shannon_examples.json. Its `source` fields say which section each example is from; they were written down
//! from memory of the paper and proved row by row, so the rows are what is held here, not the paper's wording. The
//! circuits of the adder and of the lock are ours: the data states what they must do. Networks of plain contacts are in
//! tests/shannon.rs.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

mod wired;

use serde_json::Value;
use wired::Wired;
use wirewitness::circuit::{Network, Situation, Verdict};

fn data() -> Value {
    serde_json::from_str(include_str!("outside/shannon_examples.json")).unwrap()
}

fn list(value: &Value) -> &Vec<Value> {
    value.as_array().unwrap()
}

/// The circuit is the hindrance w[x(yz+y'z')+x'(y'z+yz')] + w'[x(y'z+yz')+x'yz], wired as it is written: + is series, a
/// product is parallel, and a hindrance x is a make contact of x, which is 0 when it is operated.
#[test]
fn the_selective_circuit_is_closed_for_one_three_or_four_operated() {
    let data = &data()["selective_circuit"];
    let names = ["w", "x", "y", "z"];
    let mut wired = Wired::default();
    for name in names {
        wired.part(name, "ganged-switch");
    }
    let edges = "a m w; a p x; a q y; a q z; q p !y; q p !z; p m !x; p r !y; p r z; r m y; r m !z;
         m b !w; m s x; m t !y; m t z; t s y; t s !z; s b !x; s b y; s b z";
    for edge in edges.split(';') {
        let words: Vec<&str> = edge.split_whitespace().collect();
        wired.contact(words[0], words[1], words[2]);
    }
    let network = wired.network();
    let rows = list(&data["rows"]);
    assert_eq!(rows.len(), 16);
    for row in rows {
        let on: Vec<&str> = names.iter().copied().filter(|&name| row["inputs"][name] == 1).collect();
        let situation = Situation::of(&network, &wired.levers_on(on.iter().copied(), &[]));
        assert_eq!(wired.joined(&situation, "a", "b"), row["closed"] == 1, "{on:?}");
        assert_eq!(row["closed"] == 1, matches!(on.len(), 1 | 3 | 4), "{on:?}: as the paper states the problem");
    }
}

/// An adder of so many bits: the sum of each bit lights a lamp, its carry works the relay of the next bit.
fn adder(bits: usize) -> Wired {
    let mut wired = Wired::default();
    wired.battery();
    wired.part("C0", "ganged-switch");
    for bit in 0..bits {
        wired.part(&format!("A{bit}"), "ganged-switch");
        wired.part(&format!("B{bit}"), "ganged-switch");
        wired.relay(&format!("C{}", bit + 1), "many-contact-relay");
        wired.part(&format!("S{bit}"), "lamp");
    }
    for bit in 0..bits {
        let (a, b, c) = (format!("A{bit}"), format!("B{bit}"), format!("C{bit}"));
        let (no_a, no_b, no_c) = (format!("!{a}"), format!("!{b}"), format!("!{c}"));
        let at = |name: &str| format!("{name}{bit}");
        let (lamp, next) = (format!("S{bit}"), format!("C{}", bit + 1));
        let (lamp_on, coil_on) = (format!("{lamp}.1"), format!("{next}.A1"));
        for (from, to, label) in [
            // s = a xor b xor c: two levels of two ways each.
            ("+", &*at("a"), &*a),
            ("+", &at("na"), &no_a),
            (&at("a"), &at("odd"), &no_b),
            (&at("na"), &at("odd"), &b),
            (&at("a"), &at("even"), &b),
            (&at("na"), &at("even"), &no_b),
            (&at("odd"), &at("s"), &no_c),
            (&at("even"), &at("s"), &c),
            // carry = ab + c(a xor b)
            ("+", &at("ca"), &a),
            (&at("ca"), &at("carry"), &b),
            ("+", &at("cc"), &c),
            (&at("cc"), &at("cca"), &a),
            (&at("cca"), &at("carry"), &no_b),
            (&at("cc"), &at("ccb"), &no_a),
            (&at("ccb"), &at("carry"), &b),
        ] {
            wired.contact(from, to, label);
        }
        wired.wire(&at("s"), &lamp_on);
        wired.wire(&at("carry"), &coil_on);
        wired.wire(&format!("{lamp}.2"), "-");
        wired.wire(&format!("{next}.A2"), "-");
    }
    wired
}

#[test]
fn one_bit_is_added_as_the_table_says() {
    let wired = adder(1);
    let network = wired.network();
    let rows = data()["adder_base_two"]["one_bit"].clone();
    assert_eq!(list(&rows).len(), 8);
    for row in list(&rows) {
        let on = [("A0", "a"), ("B0", "b"), ("C0", "c")].into_iter().filter(|(_, name)| row[*name] == 1);
        let situation = Situation::of(&network, &wired.levers_on(on.map(|(switch, _)| switch), &["G"]));
        assert_eq!(situation.outcome.verdict, Verdict::Settles);
        assert_eq!(wired.runs(&situation, "S0"), row["s"] == 1, "{row}");
        assert_eq!(wired.worked(&situation, "C1"), row["carry"] == 1, "{row}");
    }
}

#[test]
fn four_bits_ripple_to_the_right_sum_for_every_pair() {
    let bits = usize::try_from(data()["adder_base_two"]["bits"].as_u64().unwrap()).unwrap();
    let wired = adder(bits);
    let network = wired.network();
    for pair in 0..1usize << (2 * bits) {
        let (a, b) = (pair >> bits, pair & ((1 << bits) - 1));
        let switches: Vec<String> = (0..bits)
            .flat_map(|bit| [("A", a), ("B", b)].map(|(letter, value)| (letter, value >> bit & 1, bit)))
            .filter(|(_, one, _)| *one == 1)
            .map(|(letter, _, bit)| format!("{letter}{bit}"))
            .collect();
        let situation = Situation::of(&network, &wired.levers_on(switches.iter().map(String::as_str), &["G"]));
        assert_eq!(situation.outcome.verdict, Verdict::Settles, "{a} + {b}");
        let mut sum = usize::from(wired.worked(&situation, &format!("C{bits}"))) << bits;
        for bit in 0..bits {
            sum |= usize::from(wired.runs(&situation, &format!("S{bit}"))) << bit;
        }
        assert_eq!(sum, a + b, "{a} + {b}");
    }
}

const BUTTONS: [&str; 5] = ["a", "b", "c", "d", "e"];

/// A lock that opens when buttons are pressed in the right order, several at once where the data says so, each press let go
/// before the next. For each right press there are two relays: P works on the press (`P` of the step) and N once it has been
/// let go. Any other press works L, which drops all of them and holds until the button `reset` breaks the feed. The lamp is
/// the bolt.
fn lock(accept: &[Vec<&str>]) -> Wired {
    let mut wired = Wired::default();
    wired.battery();
    wired.part("reset", "push-button-break");
    wired.wire("+", "reset.21");
    wired.wire("reset.22", "feed");
    for button in BUTTONS {
        wired.part(button, "ganged-switch");
        wired.contact("feed", "pressed", button); // any button
    }
    wired.relay("L", "many-contact-relay");
    wired.wire("L.A2", "-");
    wired.contact("feed", "wrong", "L"); // holds itself
    wired.wire("wrong", "L.A1");
    wired.contact("feed", "open", "!L");
    for step in 1..=accept.len() {
        for letter in ["P", "N"] {
            wired.relay(&format!("{letter}{step}"), "many-contact-relay");
            wired.wire(&format!("{letter}{step}.A2"), "-");
        }
    }
    for (before, press) in accept.iter().enumerate() {
        let step = before + 1;
        let (p, n) = (format!("P{step}"), format!("N{step}"));
        // Exactly these buttons, while the press before has been let go, works P; it holds itself as long as L rests.
        let mut from = "open".to_owned();
        if before > 0 {
            wired.contact("open", &format!("turn{step}"), &format!("N{before}"));
            from = format!("turn{step}");
        }
        for button in BUTTONS {
            let to = format!("{button}{step}");
            wired.contact(&from, &to, &if press.contains(&button) { button.to_owned() } else { format!("!{button}") });
            from = to;
        }
        wired.wire(&from, &format!("{p}.A1"));
        wired.contact("open", &format!("{p}.A1"), &p);
        // P worked and every button let go works N, which holds itself too. Each step has its own way through the buttons at
        // rest: over a shared one the N of the step before would feed this one early.
        wired.contact("open", &format!("done{step}"), &p);
        let mut from = format!("done{step}");
        for button in BUTTONS {
            let to = format!("free{step}{button}");
            wired.contact(&from, &to, &format!("!{button}"));
            from = to;
        }
        wired.wire(&from, &format!("{n}.A1"));
        wired.contact("open", &format!("{n}.A1"), &n);
        // A button pressed when it is this step's turn, and not exactly the right ones: L. A right press lacks none of its
        // own (each wanted button at rest is a way through) and has none of the others (each of those pressed is one).
        let mut from = "pressed".to_owned();
        if before > 0 {
            wired.contact("pressed", &format!("due{step}"), &format!("N{before}"));
            from = format!("due{step}");
        }
        wired.contact(&from, &format!("late{step}"), &format!("!{p}"));
        for button in BUTTONS {
            let label = if press.contains(&button) { format!("!{button}") } else { button.to_owned() };
            wired.contact(&format!("late{step}"), "wrong", &label);
        }
    }
    wired.part("bolt", "lamp");
    wired.contact("open", "bolt.1", &format!("N{}", accept.len()));
    wired.wire("bolt.2", "-");
    wired
}

/// Presses these buttons together and lets them go, from a state of the relays; the state then.
fn pressed(wired: &Wired, network: &Network, before: &[bool], buttons: &[&str]) -> Vec<bool> {
    let mut state = before.to_vec();
    for on in [buttons, &[]] {
        let setting = wired.levers_on(on.iter().copied(), &["G"]);
        let situation = Situation::from_state(network, &setting, &state);
        assert_eq!(situation.outcome.verdict, Verdict::Settles, "{buttons:?}");
        state = situation.worked;
    }
    state
}

/// What the lock shows with all buttons let go: bolt drawn, locked out.
fn shown(wired: &Wired, network: &Network, state: &[bool]) -> (bool, bool) {
    let situation = Situation::from_state(network, &wired.levers_on([], &["G"]), state);
    assert_eq!(situation.worked, state, "a state with all buttons let go stays");
    (wired.runs(&situation, "bolt"), wired.worked(&situation, "L"))
}

#[test]
fn the_lock_opens_for_the_right_order_only_and_locks_out_after_any_wrong_press() {
    let data = data()["combination_lock"].clone();
    let accept: Vec<Vec<&str>> = list(&data["accept"])
        .iter()
        .map(|press| list(press).iter().map(|button| button.as_str().unwrap()).collect())
        .collect();
    assert_eq!(accept.len(), 4);
    let wired = lock(&accept);
    let network = wired.network();
    let rest = vec![false; network.relays().len()];
    let mut state = rest.clone();
    let mut wrong = 0;
    for (step, right) in accept.iter().enumerate() {
        assert_eq!(shown(&wired, &network, &state), (false, false), "before press {step}");
        for press in 1..1usize << BUTTONS.len() {
            let buttons: Vec<&str> =
                BUTTONS.iter().enumerate().filter(|(at, _)| press >> at & 1 == 1).map(|(_, &name)| name).collect();
            if buttons == *right {
                continue;
            }
            let mut locked = pressed(&wired, &network, &state, &buttons);
            assert_eq!(shown(&wired, &network, &locked), (false, true), "press {step}: {buttons:?}");
            // The right presses do nothing any more.
            for right in &accept {
                locked = pressed(&wired, &network, &locked, right);
            }
            assert_eq!(
                shown(&wired, &network, &locked),
                (false, true),
                "press {step}: {buttons:?}, then the right ones"
            );
            wrong += 1;
        }
        state = pressed(&wired, &network, &state, right);
    }
    assert_eq!(wrong, 4 * 30);
    assert_eq!(shown(&wired, &network, &state), (true, false), "after the right order");

    // Reset takes it back to where it began.
    let locked = pressed(&wired, &network, &rest, &["e"]);
    for held in [locked, state] {
        let reset = Situation::from_state(&network, &wired.setting(&[("reset", "button", "pressed")], &["G"]), &held);
        assert_eq!((reset.outcome.verdict, &reset.worked), (Verdict::Settles, &rest));
    }
}
