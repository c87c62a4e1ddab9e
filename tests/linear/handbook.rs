//! Worked examples of handbooks and trade texts, numbers beside each.

use wirewitness::circuit::linear::{Answer, Branch, Circuit, Factored, Phasor, Transformer};

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

/// Wheatstone bridge AB 2, BC 4, CD 4, DA 8, galvanometer 10, 5 V from A to C: 5/42 A (a published answer of 1.071 A is
/// wrong: its node voltage would exceed the supply).
#[test]
fn unbalanced_bridge_carries_five_forty_seconds_of_an_ampere() {
    let bridge = circuit(
        4,
        &[
            (0, 2, source(5.0)),
            (0, 1, ohms(2.0)),
            (1, 2, ohms(4.0)),
            (2, 3, ohms(4.0)),
            (3, 0, ohms(8.0)),
            (1, 3, ohms(10.0)),
        ],
    );
    let solved = Factored::of(&bridge, 0.0);
    near(value(solved.amps(5)).re, 5.0 / 42.0, 1e-12);
    near(value(solved.volts(1, 2)).re, 200.0 / 63.0, 1e-12);
    near(value(solved.volts(3, 2)).re, 125.0 / 63.0, 1e-12);
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

/// Series 250 Ω, 650 mH, 1.5 µF at 120 V 60 Hz: 77.734 mA at +80.680°, 137.46 V on the capacitor (open textbook, recomputed).
#[test]
fn series_circuit_of_a_textbook() {
    let series = circuit(
        4,
        &[
            (0, 3, source(120.0)),
            (0, 1, ohms(250.0)),
            (1, 2, Branch::Inductor { henries: 0.65 }),
            (2, 3, Branch::Capacitor { farads: 1.5e-6 }),
        ],
    );
    let solved = Factored::of(&series, std::f64::consts::TAU * 60.0);
    let amps = value(solved.amps(1));
    near(amps.norm(), 77.734e-3, 1e-6);
    near(amps.arg().to_degrees(), 80.680, 1e-3);
    near(value(solved.volts(0, 1)).norm(), 19.434, 1e-3);
    near(value(solved.volts(1, 2)).norm(), 19.048, 1e-3);
    near(value(solved.volts(2, 3)).norm(), 137.46, 1e-2);
}

/// Parallel 200 Ω, XL 100 Ω, XC 80 Ω at 120 V: 0.67082 A at 26.565° (textbook).
#[test]
fn parallel_circuit_of_a_textbook() {
    let parallel = circuit(
        3,
        &[
            (0, 1, source(120.0)),
            (0, 2, ohms(0.0)),
            (2, 1, ohms(200.0)),
            (2, 1, Branch::Impedance { ohms: Phasor::new(0.0, 100.0) }),
            (2, 1, Branch::Impedance { ohms: Phasor::new(0.0, -80.0) }),
        ],
    );
    let amps = -value(Factored::of(&parallel, 1.0).amps(0));
    near(amps.norm(), 0.670_82, 1e-5);
    near(amps.arg().to_degrees(), 26.565, 1e-3);
}

/// Cube of 12 equal resistors: edge 7/12, face diagonal 3/4, body diagonal 5/6; tetrahedron 1/2 (well known).
#[test]
fn cube_and_tetrahedron() {
    let mut cube = Circuit { nodes: 8, ..Circuit::default() };
    for a in 0..8u32 {
        for bit in [1, 2, 4] {
            if a & bit == 0 {
                cube.branches.push((a, a | bit, ohms(1.0)));
            }
        }
    }
    let solved = Factored::of(&cube, 0.0);
    for (other, expected) in [(1, 7.0 / 12.0), (3, 0.75), (7, 5.0 / 6.0)] {
        near(value(solved.impedance(0, other)).re, expected, 1e-12);
    }
    let mut four = Circuit { nodes: 4, ..Circuit::default() };
    for a in 0..4 {
        for b in a + 1..4 {
            four.branches.push((a, b, ohms(1.0)));
        }
    }
    near(value(Factored::of(&four, 0.0).impedance(0, 3)).re, 0.5, 1e-12);
}

/// Square grids of 1 Ω, measured at the centre to a neighbour, the diagonal, two over and a knight's move: finite values that
/// run towards those of Atkinson and van Steenwijk 1999 (1/2, 2/π, 2 − 4/π, 4/π − 1/2).
#[test]
fn finite_grids_from_the_centre() {
    let known = [
        (5u32, [0.524_55, 0.694_70, 0.860_91, 0.966_36]),
        (11, [0.504_61, 0.646_19, 0.745_64, 0.798_17]),
        (21, [0.501_25, 0.639_14, 0.731_77, 0.779_61]),
        (41, [0.500_33, 0.637_27, 0.728_07, 0.774_88]),
        (81, [0.500_08, 0.636_79, 0.727_09, 0.773_66]),
    ];
    for (n, expected) in known {
        let mut grid = Circuit { nodes: n * n, ..Circuit::default() };
        for y in 0..n {
            for x in 0..n {
                if x + 1 < n {
                    grid.branches.push((y * n + x, y * n + x + 1, ohms(1.0)));
                }
                if y + 1 < n {
                    grid.branches.push((y * n + x, y * n + x + n, ohms(1.0)));
                }
            }
        }
        let solved = Factored::of(&grid, 0.0);
        let at = |x: u32, y: u32| (n / 2 + y) * n + n / 2 + x;
        for ((x, y), expected) in [(1, 0), (1, 1), (2, 0), (2, 1)].into_iter().zip(expected) {
            near(value(solved.impedance(at(0, 0), at(x, y))).re, expected, 6e-6);
        }
    }
}

/// Plug out, open contact between line and a 24 Ω heater; between line and neutral a 20 Ω transformer and a 40 Ω fan: across
/// the open contact the meter reads 37.3 Ω and sounds; 44 Ω with the fan off; nothing with the transformer off as well; with a
/// compressor of 4 Ω for the heater 17.3 Ω (trade example, recomputed).
#[test]
fn a_tone_across_an_open_contact() {
    let with = |load: f64, transformer: f64, fan: f64| {
        let plug_out = circuit(3, &[(0, 1, ohms(load)), (1, 2, ohms(transformer)), (1, 2, ohms(fan))]);
        Factored::of(&plug_out, 0.0).impedance(0, 2).known().map(|z| z.re)
    };
    near(with(24.0, 20.0, 40.0).unwrap(), 112.0 / 3.0, 1e-12);
    near(with(24.0, 20.0, f64::INFINITY).unwrap(), 44.0, 1e-12);
    assert_eq!(with(24.0, f64::INFINITY, f64::INFINITY), None);
    near(with(4.0, 20.0, 40.0).unwrap(), 52.0 / 3.0, 1e-12);
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

/// 120:24 transformer, primary 20 Ω, secondary 0.9 Ω, coils of 177 Ω + j271.8 Ω: 73.79 mA and 23.93 V with one, 23.79 V with
/// three; an inrush of 1.5 A drops 2.55 V to 21.45 V (own example of the reference, recomputed).
#[test]
fn control_transformer_with_coils() {
    let with = |coils: usize, more: Option<Branch>| {
        let mut circuit = circuit(6, &[(0, 1, source(120.0)), (0, 2, ohms(20.0)), (3, 4, ohms(0.9))]);
        circuit.transformers.push(Transformer { primary: [2, 1], secondary: [3, 5], ratio: 5.0 });
        for _ in 0..coils {
            circuit.branches.push((4, 5, Branch::Impedance { ohms: Phasor::new(177.0, 271.8) }));
        }
        circuit.branches.extend(more.map(|branch| (4, 5, branch)));
        Factored::of(&circuit, std::f64::consts::TAU * 60.0)
    };
    let one = with(1, None);
    near(value(one.volts(4, 5)).norm(), 23.93, 0.005);
    near(value(one.amps(3)).norm(), 73.79e-3, 1.5e-5);
    near(value(with(3, None).volts(4, 5)).norm(), 23.79, 0.005);
    // Output impedance 0.9 + 20/25 = 1.70 Ω, with the primary fed.
    near(value(with(0, None).impedance(4, 5)).norm(), 1.70, 1e-12);
    let inrush = with(0, Some(Branch::Current { amps: Phasor::new(-1.5, 0.0) }));
    near(value(inrush.volts(4, 5)).norm(), 21.45, 0.005);
    // Primary current is a fifth of the secondary's: seen at the source.
    near(value(one.amps(0)).norm(), 73.79e-3 / 5.0, 3e-6);
}

/// 100 ft two-wire run of 16 AWG (4.99 Ω per 1000 ft) at 4 A drops 3.992 V (voltage-drop text).
#[test]
fn voltage_drop_of_a_run() {
    let run = 4.99 / 10.0;
    let line = circuit(
        4,
        &[
            (0, 3, source(24.0)),
            (0, 1, ohms(run)),
            (2, 3, ohms(run)),
            (2, 1, Branch::Current { amps: Phasor::new(4.0, 0.0) }),
        ],
    );
    let drop = 24.0 - value(Factored::of(&line, 0.0).volts(1, 2)).re;
    near(drop, 3.992, 1e-9);
}
