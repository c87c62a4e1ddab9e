//! Circuits out of handbooks that several tests hold to their truth tables.

use wirewitness::quantity::Rating;

use super::Wired;

/// A motor started and stopped by buttons, held in by its contactor, with an overload relay.
pub fn start_and_stop() -> Wired {
    let mut wired = Wired::default();
    for (tag, kind) in [
        ("X1", "cord-plug"),
        ("F2", "overload-relay"),
        ("S0", "push-button-break"),
        ("S1", "push-button-make"),
        ("Q1", "contactor-three-pole"),
        ("M1", "pump"),
    ] {
        wired.part(tag, kind);
    }
    wired.rate("X1", Rating::Volts, 230.0, None);
    wired.wire("X1.L", "F2.95");
    wired.wire("F2.96", "S0.21");
    wired.chain(&["S0.22", "S1.13", "Q1.13"]);
    wired.chain(&["S1.14", "Q1.14", "Q1.A1"]);
    wired.chain(&["X1.N", "Q1.A2", "Q1.3"]);
    wired.wire("X1.L", "Q1.1");
    wired.wire("Q1.2", "F2.1");
    wired.wire("F2.2", "M1.L");
    wired.wire("Q1.4", "F2.3");
    wired.wire("F2.4", "M1.N");
    wired
}

/// A lamp between switches: `crossings` four-way switches between two three-way switches (two change-overs).
pub fn lighting(crossings: usize) -> (Wired, Vec<String>) {
    let mut wired = Wired::default();
    wired.part("X1", "cord-plug");
    wired.rate("X1", Rating::Volts, 230.0, None);
    wired.part("A", "toggle-switch-change-over");
    wired.part("Z", "toggle-switch-change-over");
    wired.part("P1", "lamp");
    wired.wire("X1.L", "A.2");
    wired.wire("A.1", "first0");
    wired.wire("A.3", "second0");
    let mut places = vec!["A".to_owned()];
    for crossing in 0..crossings {
        let tag = format!("C{crossing}");
        wired.part(&tag, "ganged-switch");
        let (first, second) = (format!("first{crossing}"), format!("second{crossing}"));
        let (next_first, next_second) = (format!("first{}", crossing + 1), format!("second{}", crossing + 1));
        // Straight through in one position, crossed in the other.
        wired.contact(&first, &next_first, &format!("!{tag}"));
        wired.contact(&second, &next_second, &format!("!{tag}"));
        wired.contact(&first, &next_second, &tag);
        wired.contact(&second, &next_first, &tag);
        places.push(tag);
    }
    // Wired so that the lamp is out with every lever in its first position.
    wired.wire(&format!("first{crossings}"), "Z.3");
    wired.wire(&format!("second{crossings}"), "Z.1");
    wired.wire("Z.2", "P1.1");
    wired.wire("P1.2", "X1.N");
    places.push("Z".to_owned());
    (wired, places)
}
