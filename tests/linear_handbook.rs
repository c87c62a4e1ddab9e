//! Ghost voltages and what a meter does to what it measures: worked examples of trade texts, numbers beside each.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use wirewitness::circuit::linear::{Answer, Branch, Circuit, Factored, Phasor};

fn ohms(ohms: f64) -> Branch {
    Branch::Resistor { ohms }
}

fn circuit(nodes: u32, branches: &[(u32, u32, Branch)]) -> Circuit {
    Circuit { nodes, branches: branches.to_vec(), transformers: Vec::new() }
}

fn source(volts: f64) -> Branch {
    Branch::Voltage { volts: Phasor::new(volts, 0.0), ohms: 0.0 }
}

fn value(answer: Answer<Phasor>) -> Phasor {
    answer.known().unwrap()
}

#[track_caller]
fn near(found: f64, expected: f64, tolerance: f64) {
    assert!((found - expected).abs() <= tolerance, "{found} instead of {expected}");
}

/// Balanced bridge 590, 972, 78.6: the fourth arm is 129.49 Ω (textbook problem).
#[test]
fn balanced_bridge_has_no_current_in_its_middle() {
    let fourth = 972.0 * 78.6 / 590.0;
    near(fourth, 129.49, 0.005);
    let bridge = circuit(
        4,
        &[
            (0, 2, source(10.0)),
            (0, 1, ohms(590.0)),
            (1, 2, ohms(972.0)),
            (0, 3, ohms(78.6)),
            (3, 2, ohms(fourth)),
            (1, 3, ohms(50.0)),
        ],
    );
    near(value(Factored::of(&bridge, 0.0).amps(5)).norm(), 0.0, 1e-15);
}

/// A divider of 1 MΩ and 1 MΩ on 24 V reads 240/21 = 11.43 V at 10 MΩ and 0.072 V at 3 kΩ; a meter across an open contact in
/// series with a 650 Ω coil reads 23.998 V (computed with exact fractions elsewhere).
#[test]
fn what_the_meter_itself_does() {
    let divider = circuit(3, &[(0, 2, source(24.0)), (0, 1, ohms(1e6)), (1, 2, ohms(1e6))]);
    let solved = Factored::of(&divider, 0.0);
    near(value(solved.volts_with(1, 2, Phasor::new(10e6, 0.0))).re, 240.0 / 21.0, 1e-9);
    near(value(solved.volts_with(1, 2, Phasor::new(3e3, 0.0))).re, 36.0 / 503.0, 1e-12);
    let coil = circuit(3, &[(0, 2, source(24.0)), (1, 2, ohms(650.0)), (0, 1, ohms(10e6))]);
    near(value(Factored::of(&coil, 0.0).volts(0, 1)).re, 23.998, 5e-4);
}

/// Ghost voltages: 120 V 60 Hz, meter of 100 pF, stray capacitance to ground a quarter of the coupling; 50 pF, 200 pF and 1 nF
/// of coupling at 10 MΩ, 300 kΩ and 3 kΩ (table recomputed from the divider).
#[test]
fn ghost_voltages_of_a_floating_lead() {
    // Values with half a unit of their last printed digit, and a little: 54.65 was printed as 54.7.
    let table = [
        (50e-12, [(19.3, 0.05), (0.68, 0.005), (0.007, 5e-4)]),
        (200e-12, [(54.7, 0.06), (2.7, 0.05), (0.03, 5e-3)]),
        (1e-9, [(87.2, 0.05), (13.4, 0.05), (0.14, 5e-3)]),
    ];
    for (coupling, readings) in table {
        for (meter, (expected, half)) in [10e6, 300e3, 3e3].into_iter().zip(readings) {
            let ghost = circuit(
                3,
                &[
                    (0, 2, source(120.0)),
                    (0, 1, Branch::Capacitor { farads: coupling }),
                    (1, 2, Branch::Capacitor { farads: coupling / 4.0 + 100e-12 }),
                    (1, 2, ohms(meter)),
                ],
            );
            let volts = value(Factored::of(&ghost, std::f64::consts::TAU * 60.0).volts(1, 2)).norm();
            near(volts, expected, half);
        }
    }
}
