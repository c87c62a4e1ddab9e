//! Settling: the ternary screen against every order in which relays can move, and what must not change the answer.
//!
//! The order walked here is written down anew from the definition (general multiple winner; Seger and Brzozowski 1994) and
//! shares no code with the program's: it steps through all states by brute force.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

mod wired;

use wired::Wired;
use wirewitness::circuit::electric::{Elements, Live};
use wirewitness::circuit::{Situation, Trit, Verdict};
use wirewitness::quantity::{Current, Rating};

/// Two DC supplies against each other and a battery in series work the coil K: 24 V + 24 V − 24 V. The relay R shorts the
/// second supply while it rests, and the first while it is worked. With neither shorted and with both shorted K gets 24 V; at
/// rest 48 V; while R is worked 24 V − 24 V: nothing.
fn supplies_shorted_in_turn() -> Wired {
    let mut wired = Wired::default();
    wired.battery();
    wired.part("X1", "cord-plug");
    wired.rate("X1", Rating::Volts, 230.0, None);
    wired.part("S1", "push-button-make");
    wired.relay("R", "relay-two-change-over");
    wired.relay("K", "relay-two-change-over");
    for supply in ["T1", "T2"] {
        wired.part(supply, "dc-supply");
        wired.rate(supply, Rating::Volts, 230.0, None);
        wired.rate(supply, Rating::SecondaryVolts, 24.0, Some(Current::Dc));
        wired.wire("X1.L", &format!("{supply}.L"));
        wired.wire("X1.N", &format!("{supply}.N"));
    }
    // R hangs on a battery of its own, so that nothing here feeds back to it.
    wired.wire("+", "S1.13");
    wired.wire("S1.14", "R.A1");
    wired.wire("R.A2", "-");
    wired.part("H", "battery");
    wired.rate("H", Rating::Volts, 24.0, Some(Current::Dc));
    wired.wire("K.A1", "T1.+");
    wired.chain(&["T1.-", "T2.-"]);
    wired.chain(&["T2.+", "H.+"]);
    wired.wire("H.-", "K.A2");
    wired.chain(&["T1.+", "R.11"]);
    wired.wire("R.14", "T1.-");
    wired.chain(&["T2.+", "R.21"]);
    wired.wire("R.22", "T2.-");
    wired
}

#[test]
fn a_coil_is_not_fed_for_sure_where_a_supply_in_its_way_may_be_shorted() {
    let wired = supplies_shorted_in_turn();
    let network = wired.network();
    let setting = wired.setting(&[("S1", "button", "pressed")], &["G", "H", "X1"]);
    let (r, k) = (wired.relay_index(&network, "R"), wired.relay_index(&network, "K"));
    let situation = Situation::of(&network, &setting);
    assert_eq!(situation.outcome.verdict, Verdict::Settles);
    assert_eq!(situation.outcome.relays[r], Trit::Yes);
    assert_eq!(situation.outcome.relays[k], Trit::No, "24 V − 24 V: {:?}", situation.outcome);
    let elements = Elements::of(&network);
    let live = Live::of(&network, &elements, &setting);
    assert_eq!(live.outcome.relays[r], Trit::Yes);
    assert_ne!(live.outcome.relays[k], Trit::Yes, "{:?}", live.outcome);
}
