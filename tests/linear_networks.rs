//! The solver of linear networks against answers computed elsewhere.
//!
//! Data: tests/outside/textbook_networks.json (classic results, each derived exactly there) and tests/outside/random_networks.json
//! (random networks solved with 50 digits); their `source` fields say how they were made. Worked examples carry their
//! source beside them.

#![allow(clippy::unwrap_used, reason = "tests")]
#![allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "small whole numbers in test data")]

use std::collections::BTreeMap;

use serde_json::Value;
use wirewitness::circuit::linear::{Answer, Branch, Circuit, Factored, Phasor, Reason, Transformer};

/// As the reference data asks: errors against the largest value of the network.
const TOLERANCE: f64 = 1e-9;

fn ohms(ohms: f64) -> Branch {
    Branch::Resistor { ohms }
}

fn volts(volts: f64) -> Branch {
    Branch::Voltage { volts: Phasor::new(volts, 0.0), ohms: 0.0 }
}

fn network(nodes: u32, branches: &[(u32, u32, Branch)]) -> Circuit {
    Circuit { nodes, branches: branches.to_vec(), transformers: Vec::new() }
}

#[track_caller]
fn known(answer: Answer<Phasor>) -> Phasor {
    match answer {
        Answer::Known(value) => value,
        Answer::Undetermined(reason) => panic!("undetermined: {reason:?}"),
    }
}

#[track_caller]
fn near(found: Phasor, expected: Phasor, size: f64, tolerance: f64) {
    assert!((found - expected).norm() <= tolerance * size, "{found} is not {expected} within {tolerance} of {size}");
}

#[track_caller]
fn is(found: Answer<Phasor>, expected: f64, tolerance: f64) {
    near(known(found), Phasor::new(expected, 0.0), expected.abs(), tolerance);
}

/// A term like `-115 + 9959*I/50`, `120*I`, `2/25`.
fn number(text: &str) -> Phasor {
    let spaced = text.replace(" - ", " + -");
    let term = |term: &str| {
        let (top, under) = term.split_once('/').unwrap_or((term, "1"));
        let real = top.replace("*I", "").parse::<f64>().unwrap() / under.parse::<f64>().unwrap();
        if top.contains('I') { Phasor::new(0.0, real) } else { Phasor::new(real, 0.0) }
    };
    spaced.split(" + ").map(term).sum()
}

fn value(of: &Value) -> Phasor {
    match of {
        Value::String(text) => number(text),
        Value::Array(parts) => Phasor::new(parts[0].as_f64().unwrap(), parts[1].as_f64().unwrap()),
        Value::Object(parts) => {
            Phasor::new(number(parts["re"].as_str().unwrap()).re, number(parts["im"].as_str().unwrap()).re)
        }
        other => Phasor::new(other.as_f64().unwrap(), 0.0),
    }
}

/// A network of the data, its nodes and elements by name.
struct Told {
    circuit: Circuit,
    nodes: BTreeMap<String, u32>,
    elements: BTreeMap<String, usize>,
}

fn name(of: &Value) -> String {
    of.as_str().map_or_else(|| of.to_string(), str::to_owned)
}

fn told(elements: &Value) -> Told {
    let mut told = Told { circuit: Circuit::default(), nodes: BTreeMap::new(), elements: BTreeMap::new() };
    for element in elements.as_array().unwrap() {
        let mut node = |at: usize| {
            let next = u32::try_from(told.nodes.len()).unwrap();
            *told.nodes.entry(name(&element[at])).or_insert(next)
        };
        let (a, b, of) = (node(2), node(3), value(&element[4]));
        let branch = match element[0].as_str().unwrap() {
            "R" => ohms(of.re),
            "L" => Branch::Inductor { henries: of.re },
            "C" => Branch::Capacitor { farads: of.re },
            "V" => Branch::Voltage { volts: of, ohms: 0.0 },
            "I" => Branch::Current { amps: of },
            "W" => Branch::Wire,
            other => panic!("{other}"),
        };
        told.elements.insert(name(&element[1]), told.circuit.branches.len());
        told.circuit.branches.push((a, b, branch));
    }
    told.circuit.nodes = u32::try_from(told.nodes.len()).unwrap();
    told
}

fn data(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

fn textbook() -> Value {
    data(include_str!("outside/textbook_networks.json"))
}

fn check_states(network: &Value, told: &Told, solved: &Factored, volts: &str, amps: &str) {
    let ground = told.nodes[&name(&network["ground"])];
    let all = |key: &str| -> Vec<(String, Phasor)> {
        let list = network[key].as_object().unwrap();
        list.iter().map(|(name, of)| (name.clone(), value(of))).collect()
    };
    let most = |list: &[(String, Phasor)]| list.iter().map(|(_, of)| of.norm()).fold(0.0, f64::max);
    let expected = all(volts);
    for (node, of) in &expected {
        near(known(solved.volts(told.nodes[node], ground)), *of, most(&expected), TOLERANCE);
    }
    let expected = all(amps);
    for (element, of) in &expected {
        near(known(solved.amps(told.elements[element])), *of, most(&expected), TOLERANCE);
    }
}

#[test]
fn textbook_networks_read_as_their_closed_forms() {
    let data = textbook();
    let mut count = 0;
    for network in data["networks"].as_array().unwrap() {
        count += 1;
        let omega = network.get("omega").map_or(0.0, |omega| value(omega).re);
        match network["kind"].as_str().unwrap() {
            "equivalence" => {
                let exact = value(&network["exact"]).re;
                let ends = network["name"].as_str().unwrap().strip_prefix("delta_wye_").unwrap();
                let node = |of: char| ['a', 'b', 'c'].iter().position(|&name| name == of).unwrap() as u32;
                let side = |of: &str| {
                    let mut ends = of.chars().map(node);
                    (ends.next().unwrap(), ends.next())
                };
                for shape in ["delta", "wye"] {
                    let branch = |(ends, of): (&String, &Value)| {
                        let (a, b) = side(ends);
                        (a, b.unwrap_or(3), ohms(value(of).re))
                    };
                    let branches: Vec<_> = network[shape].as_object().unwrap().iter().map(branch).collect();
                    let solved = Factored::of(&self::network(4, &branches), 0.0);
                    is(solved.impedance(side(ends).0, side(ends).1.unwrap()), exact, TOLERANCE);
                }
            }
            "two-terminal resistance" | "ohmmeter" => {
                let told = told(&network["elements"]);
                let solved = Factored::of(&told.circuit, omega);
                let ends = [0, 1].map(|at| told.nodes[network["between"][at].as_str().unwrap()]);
                let exact = network.get("exact").unwrap_or(&network["reads_ohm"]);
                is(solved.impedance(ends[0], ends[1]), value(exact).re, TOLERANCE);
            }
            "loaded meter reading" => {
                let mut told = told(&network["elements"]);
                let ends = [0, 1].map(|at| told.nodes[network["between"][at].as_str().unwrap()]);
                let (meter, exact) = (value(&network["meter_ohm"]), value(&network["reading"]));
                let solved = Factored::of(&told.circuit, omega);
                near(known(solved.volts_with(ends[0], ends[1], meter)), exact, exact.norm(), TOLERANCE);
                told.circuit.branches.push((ends[0], ends[1], ohms(meter.re)));
                let solved = Factored::of(&told.circuit, omega);
                near(known(solved.volts(ends[0], ends[1])), exact, exact.norm(), TOLERANCE);
            }
            "dc" | "ac phasor" => {
                let told = told(&network["elements"]);
                let solved = Factored::of(&told.circuit, omega);
                check_states(network, &told, &solved, "node_voltages", "branch_currents");
                assert!(solved.remarks().is_empty());
            }
            other => panic!("{other}"),
        }
    }
    assert_eq!(count, 26);
}

#[test]
fn random_networks_read_as_solved_with_fifty_digits() {
    let data = data(include_str!("outside/random_networks.json"));
    for network in data["networks"].as_array().unwrap() {
        let told = told(&network["elements"]);
        let solved = Factored::of(&told.circuit, network["omega"].as_f64().unwrap());
        check_states(network, &told, &solved, "node_voltages", "source_currents");
        let most =
            network["node_voltages"].as_object().unwrap().values().map(|of| value(of).norm()).fold(0.0, f64::max);
        for reading in network["readings"].as_array().unwrap() {
            let node = |key: &str| told.nodes[&name(&reading[key])];
            let found = known(solved.volts_with(node("plus"), node("minus"), value(&reading["meter_ohm"])));
            near(found, Phasor::new(reading["re"].as_f64().unwrap(), reading["im"].as_f64().unwrap()), most, TOLERANCE);
        }
    }
}

/// Foster's theorem: over all branches of a resistive network, impedance between the ends over own resistance sums to the
/// number of nodes less one. R. M. Foster, 'The average impedance of an electrical network' (1949).
#[test]
fn impedances_over_resistances_sum_to_nodes_less_one() {
    let data = textbook();
    let foster: BTreeMap<String, f64> =
        data["foster_invariant"].as_array().unwrap().iter().map(|pair| (name(&pair[0]), value(&pair[1]).re)).collect();
    let elements = |name: &str| {
        let networks = data["networks"].as_array().unwrap();
        told(&networks.iter().find(|one| one["name"] == name).unwrap()["elements"]).circuit
    };
    let wheel: Vec<_> = (0..5).flat_map(|at| [(at, (at + 1) % 5, ohms(1.0)), (at, 5, ohms(1.0))]).collect();
    let graphs =
        [("cube", elements("cube_edge")), ("petersen", elements("petersen_edge")), ("wheel6", network(6, &wheel))];
    for (name, circuit) in graphs {
        let solved = Factored::of(&circuit, 0.0);
        let sum: f64 = circuit.branches.iter().map(|&(a, b, _)| known(solved.impedance(a, b)).re).sum();
        assert!((sum - foster[name]).abs() < 1e-12, "{name}: {sum}");
    }
}

fn ill_posed(name: &str) -> (Told, Factored) {
    let data = textbook();
    let network = data["ill_posed"].as_array().unwrap().iter().find(|one| one["name"] == name).unwrap().clone();
    let told = told(&network["elements"]);
    let solved = Factored::of(&told.circuit, value(&network["omega"]).re);
    (told, solved)
}

fn remarks(solved: &Factored) -> Vec<(Reason, Vec<usize>)> {
    solved.remarks().iter().map(|remark| (remark.reason, remark.branches.clone())).collect()
}

// The verdicts are those named in `ill_posed` of tests/outside/textbook_networks.json.

#[test]
fn a_floating_island_has_its_own_volts_and_none_against_others() {
    let (told, solved) = ill_posed("floating_island");
    let node = |name: &str| told.nodes[name];
    is(solved.volts(node("1"), node("0")), 24.0, TOLERANCE);
    is(solved.volts(node("5"), node("6")), 0.0, TOLERANCE);
    is(solved.impedance(node("5"), node("6")), 10.0, TOLERANCE);
    assert_eq!(solved.volts(node("5"), node("0")), Answer::Undetermined(Reason::SeparateIslands));
    assert_eq!(solved.impedance(node("5"), node("0")), Answer::Undetermined(Reason::SeparateIslands));
    assert_ne!(solved.island(node("5")), solved.island(node("0")));
}

#[test]
fn equal_sources_side_by_side_give_volts_but_no_share() {
    let (told, solved) = ill_posed("parallel_equal_sources");
    is(solved.volts(told.nodes["1"], told.nodes["0"]), 24.0, TOLERANCE);
    is(solved.amps(told.elements["R1"]), 2.4, TOLERANCE);
    for source in ["V1", "V2"] {
        assert_eq!(solved.amps(told.elements[source]), Answer::Undetermined(Reason::Shared));
    }
    assert_eq!(remarks(&solved), [(Reason::Shared, vec![0, 1])]);
}

#[test]
fn sources_at_odds_are_named() {
    let (told, solved) = ill_posed("conflicting_sources");
    assert_eq!(solved.volts(told.nodes["1"], told.nodes["0"]), Answer::Undetermined(Reason::Conflict));
    assert_eq!(remarks(&solved), [(Reason::Conflict, vec![0, 1])]);
}

#[test]
fn a_shorted_source_is_named_with_its_short() {
    let (told, solved) = ill_posed("shorted_source");
    assert_eq!(solved.volts(told.nodes["1"], told.nodes["0"]), Answer::Undetermined(Reason::Shorted));
    assert_eq!(remarks(&solved), [(Reason::Shorted, vec![0, 1])]);
}

#[test]
fn a_loop_of_wires_is_one_net_and_shares_its_current_unsaid() {
    let (told, solved) = ill_posed("wire_loop");
    assert!(solved.is_one_net(told.nodes["1"], told.nodes["2"]));
    is(solved.volts(told.nodes["2"], told.nodes["0"]), 24.0, TOLERANCE);
    is(solved.amps(told.elements["R1"]), 2.4, TOLERANCE);
    is(solved.amps(told.elements["V1"]), -2.4, TOLERANCE);
    assert_eq!(solved.amps(told.elements["w1"]), Answer::Undetermined(Reason::Shared));
    assert!(solved.remarks().is_empty());
}

#[test]
fn a_current_source_without_a_way_back_is_named() {
    let (told, solved) = ill_posed("current_source_into_open");
    assert_eq!(remarks(&solved), [(Reason::NoWayBack, vec![0]), (Reason::NoWayBack, vec![0])]);
    assert_eq!(solved.volts(told.nodes["1"], told.nodes["0"]), Answer::Undetermined(Reason::SeparateIslands));
    assert_eq!(solved.volts(told.nodes["2"], told.nodes["0"]), Answer::Undetermined(Reason::NoWayBack));
}

#[test]
fn a_resonance_without_loss_has_no_number() {
    let (told, solved) = ill_posed("lc_resonance_exact");
    assert_eq!(solved.volts(told.nodes["2"], told.nodes["0"]), Answer::Undetermined(Reason::Resonance));
    assert_eq!(remarks(&solved), [(Reason::Resonance, vec![1, 2])]);
    // And where ω√(LC) is 1 within rounding only: 8 mH and 1.27 µF at their own frequency.
    let (henries, farads): (f64, f64) = (8e-3, 1.27e-6);
    let omega = f64::sqrt(henries * farads).recip();
    let branches = [(0, 1, volts(24.0)), (0, 2, Branch::Inductor { henries }), (2, 1, Branch::Capacitor { farads })];
    let solved = Factored::of(&network(3, &branches), omega);
    assert_eq!(solved.volts(2, 1), Answer::Undetermined(Reason::Resonance));
}

#[test]
fn at_direct_current_inductance_is_a_wire_and_capacitance_open() {
    let (told, solved) = ill_posed("dc_inductor_loop_needs_w0_rule");
    is(solved.amps(told.elements["R1"]), 1.0, TOLERANCE);
    let branches = [
        (0, 3, volts(5.0)),
        (0, 1, ohms(5.0)),
        (1, 2, Branch::Inductor { henries: 0.4 }),
        (2, 3, ohms(5.0)),
        (2, 3, Branch::Capacitor { farads: 1e-6 }),
    ];
    let solved = Factored::of(&network(4, &branches), 0.0);
    assert!(solved.is_one_net(1, 2));
    is(solved.amps(1), 0.5, TOLERANCE);
    is(solved.amps(4), 0.0, TOLERANCE);
}

/// An unbalanced bridge, worked by hand: nodal equations at B and D give 200/63 V and 125/63 V, so 5/42 A.
#[test]
fn an_unbalanced_bridge_drives_its_galvanometer() {
    let (a, b, c, d) = (0, 1, 2, 3);
    let branches = [
        (a, c, volts(5.0)),
        (a, b, ohms(2.0)),
        (b, c, ohms(4.0)),
        (c, d, ohms(4.0)),
        (d, a, ohms(8.0)),
        (b, d, ohms(10.0)),
    ];
    let solved = Factored::of(&network(4, &branches), 0.0);
    is(solved.volts(b, c), 200.0 / 63.0, 1e-12);
    is(solved.volts(d, c), 125.0 / 63.0, 1e-12);
    is(solved.amps(5), 5.0 / 42.0, 1e-12);
}

/// Resistance between the centre of a square grid of one-ohm branches and nodes about it, by its number of nodes a side.
/// Infinite grid: 1/2, 2/π, 2 − 4/π, 4/π − 1/2 (D. Atkinson and F. J. van Steenwijk, 'Infinite resistive lattices', Am. J. Phys.
/// 67 (1999); OEIS A355565). The finite ones were computed separately and approach it.
#[test]
fn grids_read_as_computed_elsewhere() {
    let table = [
        (5, [0.52455, 0.69470, 0.86091, 0.96636]),
        (11, [0.50461, 0.64619, 0.74564, 0.79817]),
        (21, [0.50125, 0.63914, 0.73177, 0.77961]),
        (41, [0.50033, 0.63727, 0.72807, 0.77488]),
        (81, [0.50008, 0.63679, 0.72709, 0.77366]),
    ];
    for (side, expected) in table {
        let at = |x: u32, y: u32| y * side + x;
        let mut branches = Vec::new();
        for y in 0..side {
            for x in 0..side {
                if x + 1 < side {
                    branches.push((at(x, y), at(x + 1, y), ohms(1.0)));
                }
                if y + 1 < side {
                    branches.push((at(x, y), at(x, y + 1), ohms(1.0)));
                }
            }
        }
        let solved = Factored::of(&network(side * side, &branches), 0.0);
        let half = side / 2;
        for ((dx, dy), expected) in [(1, 0), (1, 1), (2, 0), (2, 1)].into_iter().zip(expected) {
            let found = known(solved.impedance(at(half, half), at(half + dx, half + dy))).re;
            assert!((found - expected).abs() <= 0.6e-5, "{side}: {dx},{dy}: {found}");
        }
    }
}

/// Halliday, Resnick and Walker, Fundamentals of Physics, ch. 31: 15 Ω, 25 mH, 4.70 µF in series on 75 V, 550 Hz: 2.59 A, 38.8 V,
/// 224 V, 159 V, and 64.2 V over inductance and capacitance together.
#[test]
fn a_series_circuit_reads_as_the_textbook_says() {
    let branches = [
        (0, 3, volts(75.0)),
        (0, 1, ohms(15.0)),
        (1, 2, Branch::Inductor { henries: 25e-3 }),
        (2, 3, Branch::Capacitor { farads: 4.70e-6 }),
    ];
    let solved = Factored::of(&network(4, &branches), 2.0 * std::f64::consts::PI * 550.0);
    for (found, expected) in [
        (solved.amps(1), 2.5858),
        (solved.volts(0, 1), 38.79),
        (solved.volts(1, 2), 223.4),
        (solved.volts(2, 3), 159.2),
        (solved.volts(1, 3), 64.19),
    ] {
        assert!((known(found).norm() / expected - 1.0).abs() < 3e-4, "{found:?} {expected}");
    }
}

/// Open textbook examples: 250 Ω, 650 mH, 1.5 µF in series on 120 V, 60 Hz: 77.734 mA at 80.680°; 200 Ω beside 100 Ω of
/// inductance and 80 Ω of capacitance on 120 V: 0.671 A.
#[test]
fn series_and_parallel_circuits_read_as_the_open_textbook_says() {
    let branches = [
        (0, 3, volts(120.0)),
        (0, 1, ohms(250.0)),
        (1, 2, Branch::Inductor { henries: 0.65 }),
        (2, 3, Branch::Capacitor { farads: 1.5e-6 }),
    ];
    let solved = Factored::of(&network(4, &branches), 120.0 * std::f64::consts::PI);
    let amps = known(solved.amps(1));
    assert!((amps.norm() - 77.734e-3).abs() < 1e-6 && (amps.arg().to_degrees() - 80.680).abs() < 1e-3, "{amps}");
    let reactance = |x: f64| Branch::Impedance { ohms: Phasor::new(0.0, x) };
    let branches = [(0, 1, volts(120.0)), (0, 1, ohms(200.0)), (0, 1, reactance(100.0)), (0, 1, reactance(-80.0))];
    let solved = Factored::of(&network(2, &branches), 1.0);
    for (branch, expected) in [(1, 0.6), (2, 1.2), (3, 1.5), (0, 0.45f64.sqrt())] {
        assert!((known(solved.amps(branch)).norm() - expected).abs() < 1e-12);
    }
}

/// Own arithmetic: a tone across an open contact runs through the 24 Ω heater and back through what else hangs on the supply,
/// 20 Ω beside 40 Ω: 37.3 Ω; without the fan 44 Ω; with a 4 Ω compressor in place of the heater 17.3 Ω; without the transformer
/// nothing.
#[test]
fn a_tone_across_an_open_contact_finds_its_way_round() {
    let (live, neutral, heater) = (0, 1, 2);
    let branches = [
        (live, heater, Branch::Open),
        (heater, neutral, ohms(24.0)),
        (live, neutral, ohms(20.0)),
        (live, neutral, ohms(40.0)),
    ];
    let solved = Factored::of(&network(3, &branches), 0.0);
    is(solved.impedance(live, heater), 24.0 + 40.0 / 3.0, 1e-12);
    let no_fan = solved.with(&[(3, Branch::Open)]);
    is(no_fan.impedance(live, heater), 44.0, 1e-12);
    is(solved.with(&[(1, ohms(4.0))]).impedance(live, heater), 4.0 + 40.0 / 3.0, 1e-12);
    let alone = no_fan.with(&[(2, Branch::Open)]);
    assert_eq!(alone.impedance(live, heater), Answer::Undetermined(Reason::SeparateIslands));
    // The contact closed.
    is(alone.with(&[(0, ohms(0.01))]).impedance(live, heater), 0.01, 1e-12);
}

/// Own arithmetic: 1 MΩ over 1 MΩ on 24 V shows 11.43 V to a meter of 10 MΩ and 0.072 V to one of 3 kΩ.
#[test]
fn a_meter_loads_what_it_measures() {
    let branches = [(0, 2, volts(24.0)), (0, 1, ohms(1e6)), (1, 2, ohms(1e6))];
    let solved = Factored::of(&network(3, &branches), 0.0);
    is(solved.volts_with(1, 2, Phasor::new(10e6, 0.0)), 24.0 * 10.0 / 21.0, 1e-12);
    is(solved.volts_with(1, 2, Phasor::new(3e3, 0.0)), 36.0 / 503.0, 1e-12);
    // A wire in place of the meter.
    is(solved.volts_with(1, 2, Phasor::new(0.0, 0.0)), 0.0, 0.0);
    assert_eq!(solved.volts_with(0, 2, Phasor::new(0.0, 0.0)), Answer::Undetermined(Reason::Shorted));
}

/// The transformer of the worked examples: 120 V to 24 V, windings of 20 Ω and 0.9 Ω, coils of 177 + j271.8 Ω.
fn transformer(coils: usize) -> Circuit {
    let mut branches = vec![(0, 1, volts(120.0)), (0, 2, ohms(20.0)), (4, 3, ohms(0.9))];
    let coil = Branch::Impedance { ohms: Phasor::new(177.0, 271.8) };
    branches.extend((0..coils).map(|_| (3, 5, coil)));
    let transformers = vec![Transformer { primary: [2, 1], secondary: [4, 5], ratio: 5.0 }];
    Circuit { nodes: 6, branches, transformers }
}

/// Own arithmetic: behind 0.9 + 20/25 = 1.70 Ω one coil has 23.93 V and 24 V / |178.7 + j271.8 Ω| = 73.78 mA, three have 23.79 V, and an inrush of 1.5 A
/// leaves 21.45 V.
#[test]
fn a_transformer_gives_way_under_its_coils() {
    let solved = Factored::of(&transformer(1), 120.0 * std::f64::consts::PI);
    assert!((known(solved.volts(3, 5)).norm() - 23.93).abs() < 5e-3);
    assert!((known(solved.amps(3)).norm() - 73.782e-3).abs() < 5e-6);
    is(Factored::of(&transformer(0), 1.0).impedance(3, 5), 1.70, 1e-12);
    // The same coil's current, five times smaller, out of the supply.
    near(known(solved.amps(0)) * -5.0, known(solved.amps(3)), 0.07, 1e-9);
    near(known(solved.primary_amps(0)) * 5.0, known(solved.amps(3)), 0.07, 1e-9);
    let solved = Factored::of(&transformer(3), 1.0);
    assert!((known(solved.volts(3, 5)).norm() - 23.79).abs() < 5e-3);
    let mut inrush = transformer(0);
    inrush.branches.push((5, 3, Branch::Current { amps: Phasor::new(1.5, 0.0) }));
    is(Factored::of(&inrush, 1.0).volts(3, 5), 21.45, 1e-12);
    // The sides are separate.
    assert_eq!(solved.volts(3, 1), Answer::Undetermined(Reason::SeparateIslands));
}

#[test]
fn a_transformer_without_load_shows_its_ratio_and_one_without_anything_nothing() {
    let solved = Factored::of(&transformer(0), 1.0);
    is(solved.volts(4, 5), 24.0, 1e-12);
    is(solved.volts(3, 5), 24.0, 1e-12);
    is(solved.amps(0), 0.0, 0.0);
    assert!(solved.remarks().is_empty());
    // Its primary contact opens: no volts behind it, but none undetermined in the part that lives.
    let mut cut = transformer(0);
    cut.branches[1].2 = Branch::Open;
    let cut = Factored::of(&cut, 1.0);
    is(cut.volts(0, 1), 120.0, 1e-12);
    assert_eq!(cut.volts(4, 5), Answer::Undetermined(Reason::SeparateIslands));
    // With a coil on the secondary it is held at zero.
    let mut held = transformer(1);
    held.branches[1].2 = Branch::Open;
    is(Factored::of(&held, 1.0).volts(3, 5), 0.0, 0.0);
    near(
        known(Factored::of(&transformer(1), 1.0).with(&[(1, Branch::Open)]).volts(3, 5)),
        Phasor::new(0.0, 0.0),
        24.0,
        1e-9,
    );
}

/// By power: 24 W in each secondary's load come out of one primary.
#[test]
fn transformers_share_a_primary() {
    let transformers = vec![
        Transformer { primary: [0, 1], secondary: [2, 3], ratio: 5.0 },
        Transformer { primary: [0, 1], secondary: [4, 5], ratio: 10.0 },
    ];
    let branches = vec![(0, 1, volts(120.0)), (2, 3, ohms(24.0)), (4, 5, ohms(6.0))];
    let solved = Factored::of(&Circuit { nodes: 6, branches, transformers }, 0.0);
    is(solved.volts(2, 3), 24.0, 1e-12);
    is(solved.volts(4, 5), 12.0, 1e-12);
    // 24 W and 24 W out of 120 V.
    is(solved.amps(0), -0.4, 1e-12);
}

#[test]
fn a_short_on_the_primary_leaves_no_number_on_the_secondary() {
    let mut shorted = transformer(1);
    shorted.branches.push((0, 1, Branch::Wire));
    let solved = Factored::of(&shorted, 1.0);
    assert_eq!(solved.volts(3, 5), Answer::Undetermined(Reason::Shorted));
    assert_eq!(remarks(&solved), [(Reason::Shorted, vec![0, 4])]);
    // Sources on both sides that do not agree with the ratio.
    let transformers = vec![Transformer { primary: [0, 1], secondary: [2, 3], ratio: 5.0 }];
    let both = |secondary: f64| Circuit {
        nodes: 4,
        branches: vec![(0, 1, volts(120.0)), (2, 3, volts(secondary))],
        transformers: transformers.clone(),
    };
    let solved = Factored::of(&both(12.0), 0.0);
    assert_eq!(solved.volts(0, 1), Answer::Undetermined(Reason::Conflict));
    assert_eq!(remarks(&solved), [(Reason::Conflict, vec![0, 1])]);
    let solved = Factored::of(&both(24.0), 0.0);
    is(solved.volts(2, 3), 24.0, 0.0);
    assert_eq!(solved.amps(0), Answer::Undetermined(Reason::Shared));
}

/// 200 ft of 4.99 Ω per 1000 ft at 4 A: 3.992 V (published example of voltage drop, 16 AWG, 24 V, 100 ft both ways).
#[test]
fn a_long_line_drops_what_the_example_says() {
    let leg = 4.99 * 100.0 / 1000.0;
    let branches = [
        (0, 3, volts(24.0)),
        (0, 1, ohms(leg)),
        (2, 3, ohms(leg)),
        (2, 1, Branch::Current { amps: Phasor::new(4.0, 0.0) }),
    ];
    let solved = Factored::of(&network(4, &branches), 0.0);
    is(solved.volts(1, 2), 24.0 - 3.992, 1e-12);
}

#[test]
fn ten_milliohms_beside_ten_megohms_lose_no_digit() {
    // A contact of 10 mΩ feeds 10 MΩ: the drop over it is 24 V · 1e-9.
    let branches = [(0, 2, volts(24.0)), (0, 1, ohms(0.01)), (1, 2, ohms(1e7))];
    let solved = Factored::of(&network(3, &branches), 0.0);
    is(solved.amps(2), 24.0 / (1e7 + 0.01), 1e-12);
    // Opened, nothing is left, whatever was factored before.
    let open = solved.with(&[(1, Branch::Open)]);
    near(known(open.volts(1, 2)), Phasor::new(0.0, 0.0), 24.0, 1e-9);
    is(open.impedance(0, 1), 1e7, 1e-9);
}

/// ∂V/∂g from one adjoint solution against the change itself.
#[test]
fn sensitivities_foretell_small_changes() {
    let circuit = transformer(2);
    let solved = Factored::of(&circuit, 377.0);
    let all = solved.sensitivities(3, 5).unwrap();
    let before = known(solved.volts(3, 5));
    for (number, own) in [(1, 20.0), (2, 0.9)] {
        let siemens = 1e-6 / own;
        let changed = Branch::Resistor { ohms: 1.0 / (1.0 / own + siemens) };
        let after = known(solved.with(&[(number, changed)]).volts(3, 5));
        near((after - before) / siemens, all[number], all[number].norm(), 1e-4);
    }
}
