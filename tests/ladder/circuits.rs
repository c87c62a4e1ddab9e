//! Circuits as handbooks have them, wired in code.

use wirewitness::quantity::Rating;

use super::wired::Wired;
use super::wired::circuits::{lighting, start_and_stop};

/// Every published circuit with a name.
pub fn published() -> Vec<(&'static str, Wired)> {
    vec![
        ("start-stop", start_and_stop()),
        ("forward-reverse", forward_and_reverse()),
        ("defrost", defrost()),
        ("three-way", lighting(0).0),
        ("four-way", lighting(1).0),
        ("bridge", bridge()),
        ("three-phase", three_phase()),
        ("compressor", compressor()),
    ]
}

/// Forward and reverse with each contactor's break contact in the other's rung, as in textbooks on motor control.
pub fn forward_and_reverse() -> Wired {
    let mut wired = Wired::default();
    for (tag, kind) in [
        ("X1", "cord-plug"),
        ("F2", "overload-relay"),
        ("S0", "push-button-break"),
        ("S1", "push-button-make"),
        ("S2", "push-button-make"),
        ("K1", "relay-four-change-over"),
        ("K2", "relay-four-change-over"),
    ] {
        wired.part(tag, kind);
    }
    wired.rate("X1", Rating::Volts, 120.0, None);
    wired.wire("X1.L", "F2.95");
    wired.wire("F2.96", "S0.21");
    wired.chain(&["S0.22", "S1.13", "K1.11"]);
    wired.chain(&["S1.14", "K1.14", "K2.22"]);
    wired.chain(&["K2.21", "K1.A1"]);
    wired.chain(&["S0.22", "S2.13", "K2.11"]);
    wired.chain(&["S2.14", "K2.14", "K1.22"]);
    wired.chain(&["K1.21", "K2.A1"]);
    wired.chain(&["X1.N", "K1.A2", "K2.A2"]);
    wired
}

/// A defrost timer with its common at 1: 1-4 cools, 1-2 defrosts through the bimetal, motor 1-3 (our own, by the trade's first convention).
pub fn defrost() -> Wired {
    let mut wired = Wired::default();
    for (tag, kind) in [
        ("X1", "cord-plug"),
        ("B1", "thermostat-cool"),
        ("P1", "defrost-timer-common-1"),
        ("M1", "pump"),
        ("M2", "evaporator-fan"),
        ("B2", "defrost-termination"),
        ("E1", "defrost-heater"),
    ] {
        wired.part(tag, kind);
    }
    wired.rate("X1", Rating::Volts, 120.0, None);
    wired.chain(&["X1.L", "B1.1"]);
    wired.chain(&["B1.2", "P1.1"]);
    wired.chain(&["P1.4", "M1.L"]);
    wired.chain(&["P1.4", "M2.L"]);
    wired.chain(&["P1.2", "B2.1"]);
    wired.chain(&["B2.2", "E1.1"]);
    wired.chain(&["X1.N", "P1.3", "M1.N", "M2.N", "E1.2"]);
    wired
}

/// Five contacts in a bridge before a lamp: closed by ac, bd, aed or bec.
pub fn bridge() -> Wired {
    let mut wired = Wired::default();
    wired.part("X1", "cord-plug");
    wired.rate("X1", Rating::Volts, 230.0, None);
    for tag in ["S1", "S2", "S3", "S4", "S5"] {
        wired.part(tag, "push-button-make");
    }
    wired.part("P1", "lamp");
    wired.chain(&["X1.L", "S1.13"]);
    wired.chain(&["X1.L", "S2.13"]);
    wired.chain(&["S1.14", "S3.13", "S5.13"]);
    wired.chain(&["S2.14", "S4.13", "S5.14"]);
    wired.chain(&["S3.14", "S4.14", "P1.1"]);
    wired.chain(&["P1.2", "X1.N"]);
    wired
}

/// A three-phase motor over breaker, contactor and overload, its coil worked by buttons between two lines.
pub fn three_phase() -> Wired {
    let mut wired = Wired::default();
    for (tag, kind) in [
        ("X1", "cord-plug-three-phase"),
        ("F1", "breaker-three-pole"),
        ("Q1", "contactor-three-pole"),
        ("F2", "overload-relay"),
        ("M1", "motor-three-phase"),
        ("S0", "push-button-break"),
        ("S1", "push-button-make"),
        ("P1", "lamp"),
        ("F3", "fuse"),
    ] {
        wired.part(tag, kind);
    }
    wired.rate("X1", Rating::Volts, 400.0, None);
    for (line, pole) in [("L1", ("1", "2")), ("L2", ("3", "4")), ("L3", ("5", "6"))] {
        wired.wire(&format!("X1.{line}"), &format!("F1.{}", pole.0));
        wired.wire(&format!("F1.{}", pole.1), &format!("Q1.{}", pole.0));
        wired.wire(&format!("Q1.{}", pole.1), &format!("F2.{}", pole.0));
    }
    wired.wire("F2.2", "M1.U");
    wired.wire("F2.4", "M1.V");
    wired.wire("F2.6", "M1.W");
    wired.chain(&["X1.L1", "F3.1"]);
    wired.chain(&["F3.2", "F2.95"]);
    wired.chain(&["F2.96", "S0.21"]);
    wired.chain(&["S0.22", "S1.13", "Q1.13"]);
    wired.chain(&["S1.14", "Q1.14", "Q1.A1"]);
    wired.chain(&["X1.N", "Q1.A2", "P1.2"]);
    wired.chain(&["X1.L2", "P1.1"]);
    wired
}

/// A compressor with start capacitor, start relay and run capacitor behind a thermostat, with a condenser fan.
pub fn compressor() -> Wired {
    let mut wired = Wired::default();
    for (tag, kind) in [
        ("X1", "cord-plug"),
        ("F1", "fuse"),
        ("T1", "control-transformer"),
        ("B1", "thermostat-cool"),
        ("F3", "pressure-switch-high"),
        ("K1", "relay-make"),
        ("M1", "compressor"),
        ("C1", "run-capacitor"),
        ("M2", "condenser-fan"),
        ("F2", "overload-external"),
    ] {
        wired.part(tag, kind);
    }
    wired.rate("X1", Rating::Volts, 230.0, None);
    wired.rate("T1", Rating::SecondaryVolts, 24.0, None);
    wired.chain(&["X1.L", "F1.1"]);
    wired.chain(&["F1.2", "K1.13", "T1.H1"]);
    wired.chain(&["K1.14", "F2.1"]);
    wired.chain(&["K1.14", "M2.L"]);
    wired.chain(&["F2.2", "M1.C"]);
    wired.chain(&["M1.S", "C1.1"]);
    wired.chain(&["C1.2", "M1.R", "X1.N"]);
    wired.chain(&["X1.N", "M2.N", "T1.H2"]);
    wired.chain(&["T1.X1", "B1.1"]);
    wired.chain(&["B1.2", "F3.1"]);
    wired.chain(&["F3.2", "K1.A1"]);
    wired.chain(&["K1.A2", "T1.X2"]);
    wired
}
