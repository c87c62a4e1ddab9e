//! Data: tests/outside/textbook_networks.json (classic values, re-derived exactly with sympy and checked with numpy, as its
//! `source` says) and tests/outside/random_networks.json (50-digit mpmath solutions). Errors are norm-wise: 1e-9 of the largest.

use std::collections::BTreeMap;

use serde_json::Value;
use wirewitness::circuit::linear::{Answer, Branch, Circuit, Factored, Phasor, Reason};

const TOLERANCE: f64 = 1e-9;

/// `-115 + 9959*I/50`, `120*I`, `1/20`, a number, or a pair.
fn complex(value: &Value) -> Phasor {
    match value {
        Value::Number(number) => Phasor::new(number.as_f64().unwrap(), 0.0),
        Value::Array(pair) => Phasor::new(pair[0].as_f64().unwrap(), pair[1].as_f64().unwrap()),
        Value::String(text) => {
            let text = text.replace(" - ", " + -");
            let mut sum = Phasor::new(0.0, 0.0);
            for term in text.split(" + ") {
                let imaginary = term.contains('I');
                let term = term.replace("*I", "").replace('I', "1");
                let (over, under) = term.split_once('/').unwrap_or((&term, "1"));
                let value = over.parse::<f64>().unwrap() / under.parse::<f64>().unwrap();
                sum += if imaginary { Phasor::new(0.0, value) } else { Phasor::new(value, 0.0) };
            }
            sum
        }
        other => panic!("{other}"),
    }
}

/// A network of the files, with the numbers of its nodes and branches by name.
struct Given {
    circuit: Circuit,
    nodes: BTreeMap<String, u32>,
    branches: BTreeMap<String, usize>,
}

fn name(value: &Value) -> String {
    value.as_str().map_or_else(|| value.to_string(), str::to_owned)
}

impl Given {
    fn of(elements: &Value) -> Self {
        let mut given = Self { circuit: Circuit::default(), nodes: BTreeMap::new(), branches: BTreeMap::new() };
        for element in elements.as_array().unwrap() {
            let [a, b] = [given.node(&element[2]), given.node(&element[3])];
            let value = complex(&element[4]);
            let branch = match element[0].as_str().unwrap() {
                "R" => Branch::Resistor { ohms: value.re },
                "L" => Branch::Inductor { henries: value.re },
                "C" => Branch::Capacitor { farads: value.re },
                "V" => Branch::Voltage { volts: value, ohms: 0.0 },
                "I" => Branch::Current { amps: value },
                "W" => Branch::Wire,
                other => panic!("{other}"),
            };
            given.branches.insert(name(&element[1]), given.circuit.branches.len());
            given.circuit.branches.push((a, b, branch));
        }
        given
    }

    fn node(&mut self, value: &Value) -> u32 {
        let name = name(value);
        let next = u32::try_from(self.nodes.len()).unwrap();
        let node = *self.nodes.entry(name).or_insert(next);
        self.circuit.nodes = self.circuit.nodes.max(node + 1);
        node
    }

    fn at(&self, value: &Value) -> u32 {
        self.nodes[&name(value)]
    }
}

fn known(answer: Answer<Phasor>, what: &str) -> Phasor {
    match answer {
        Answer::Known(value) => value,
        Answer::Undetermined(reason) => panic!("{what}: {reason:?}"),
    }
}

fn near(found: Phasor, expected: Phasor, largest: f64, what: &str) {
    assert!((found - expected).norm() <= TOLERANCE * largest.max(1e-300), "{what}: {found} instead of {expected}");
}

fn exact(entry: &Value) -> Phasor {
    match entry.get("re_f") {
        Some(re) => Phasor::new(re.as_f64().unwrap(), entry["im_f"].as_f64().unwrap()),
        None => complex(entry),
    }
}

#[test]
fn textbook_networks_come_out_exactly() {
    let data: Value = serde_json::from_str(include_str!("../outside/textbook_networks.json")).unwrap();
    let networks = data["networks"].as_array().unwrap();
    assert_eq!(networks.len(), 26);
    let mut compared = 0;
    for network in networks {
        let what = network["name"].as_str().unwrap();
        match network["kind"].as_str().unwrap() {
            "two-terminal resistance" => {
                let mut given = Given::of(&network["elements"]);
                let between = network["between"].as_array().unwrap();
                let [p, q] = [given.node(&between[0]), given.node(&between[1])];
                let expected = Phasor::new(network["float"].as_f64().unwrap(), 0.0);
                let found = known(Factored::of(&given.circuit, 0.0).impedance(p, q), what);
                near(found, expected, expected.norm(), what);
                compared += 1;
            }
            "ohmmeter" => {
                let mut given = Given::of(&network["elements"]);
                let between = network["between"].as_array().unwrap();
                let [p, q] = [given.node(&between[0]), given.node(&between[1])];
                let expected = complex(&network["reads_ohm"]);
                let amps = complex(&network["test_current_A"]);
                near(known(Factored::of(&given.circuit, 0.0).impedance(p, q), what), expected, expected.norm(), what);
                // The same by a current source and volts, as a meter does it.
                given.circuit.branches.push((p, q, Branch::Current { amps }));
                let volts = known(Factored::of(&given.circuit, 0.0).volts(p, q), what);
                near(volts / amps, expected, expected.norm(), what);
                compared += 2;
            }
            "loaded meter reading" => {
                let given = Given::of(&network["elements"]);
                let omega = complex(&network["omega"]).re;
                let between = network["between"].as_array().unwrap();
                let [p, q] = [given.at(&between[0]), given.at(&between[1])];
                let meter = complex(&network["meter_ohm"]);
                let expected = exact(&network["reading"]);
                let largest = expected.norm();
                let alone = Factored::of(&given.circuit, omega);
                near(known(alone.volts_with(p, q, meter), what), expected, largest, what);
                let mut with_meter = given.circuit.clone();
                with_meter.branches.push((p, q, Branch::Resistor { ohms: meter.re }));
                near(known(Factored::of(&with_meter, omega).volts(p, q), what), expected, largest, what);
                compared += 2;
            }
            "dc" | "ac phasor" => {
                let given = Given::of(&network["elements"]);
                let omega = network.get("omega").map_or(0.0, |omega| complex(omega).re);
                let solved = Factored::of(&given.circuit, omega);
                let ground = given.at(&network["ground"]);
                let all = network["node_voltages"].as_object().unwrap();
                let largest = all.values().map(|volts| exact(volts).norm()).fold(0.0, f64::max);
                for (node, volts) in all {
                    let node = given.nodes[node];
                    near(known(solved.volts(node, ground), what), exact(volts), largest, what);
                    compared += 1;
                }
                let currents = network["branch_currents"].as_object().unwrap();
                let largest = currents.values().map(|amps| exact(amps).norm()).fold(0.0, f64::max);
                for (branch, amps) in currents {
                    let found = known(solved.amps(given.branches[branch]), &format!("{what} {branch}"));
                    near(found, exact(amps), largest, what);
                    compared += 1;
                }
            }
            "equivalence" => {
                let of = |side: &str| network[side].as_object().unwrap();
                let ends: String = what.chars().rev().take(2).collect();
                let mut delta = Circuit { nodes: 3, ..Circuit::default() };
                let letter = |letter: char| u32::from(letter) - u32::from('a');
                for (pair, ohms) in of("delta") {
                    let mut pair = pair.chars().map(letter);
                    let [a, b] = [pair.next().unwrap(), pair.next().unwrap()];
                    delta.branches.push((a, b, Branch::Resistor { ohms: complex(ohms).re }));
                }
                let mut wye = Circuit { nodes: 4, ..Circuit::default() };
                for (end, ohms) in of("wye") {
                    let end = letter(end.chars().next().unwrap());
                    wye.branches.push((end, 3, Branch::Resistor { ohms: complex(ohms).re }));
                }
                let ends: Vec<u32> = ends.chars().map(letter).collect();
                let expected = complex(&network["exact"]);
                for circuit in [delta, wye] {
                    let found = known(Factored::of(&circuit, 0.0).impedance(ends[0], ends[1]), what);
                    near(found, expected, expected.norm(), what);
                    compared += 1;
                }
            }
            other => panic!("{other}"),
        }
    }
    assert!(compared > 50, "{compared}");
}

/// Foster: over all edges, effective resistance times conductance sums to nodes less one.
#[test]
fn fosters_sum_is_nodes_less_one() {
    let data: Value = serde_json::from_str(include_str!("../outside/textbook_networks.json")).unwrap();
    let sums = data["foster_invariant"].as_array().unwrap();
    let mut found = 0;
    for entry in sums {
        let (graph, expected) = (entry[0].as_str().unwrap(), complex(&entry[1]).re);
        let networks = data["networks"].as_array().unwrap();
        let Some(network) = networks.iter().find(|network| network["name"].as_str().unwrap().starts_with(graph)) else {
            continue;
        };
        let given = Given::of(&network["elements"]);
        let solved = Factored::of(&given.circuit, 0.0);
        let sum: f64 = given
            .circuit
            .branches
            .iter()
            .map(|&(a, b, branch)| {
                let Branch::Resistor { ohms } = branch else { panic!("{graph}") };
                known(solved.impedance(a, b), graph).re / ohms
            })
            .sum();
        assert!((sum - expected).abs() < 1e-9, "{graph}: {sum} instead of {expected}");
        found += 1;
    }
    assert!(found > 0);
}

#[test]
fn random_networks_agree_with_fifty_digits() {
    let data: Value = serde_json::from_str(include_str!("../outside/random_networks.json")).unwrap();
    for network in data["networks"].as_array().unwrap() {
        let what = format!("network {}", network["id"]);
        let given = Given::of(&network["elements"]);
        let solved = Factored::of(&given.circuit, network["omega"].as_f64().unwrap());
        let ground = given.at(&network["ground"]);
        let all = network["node_voltages"].as_object().unwrap();
        let largest = all.values().map(|volts| complex(volts).norm()).fold(0.0, f64::max);
        for (node, volts) in all {
            near(known(solved.volts(given.nodes[node], ground), &what), complex(volts), largest, &what);
        }
        let currents = network["source_currents"].as_object().unwrap();
        let largest = currents.values().map(|amps| complex(amps).norm()).fold(0.0, f64::max);
        for (branch, amps) in currents {
            near(known(solved.amps(given.branches[branch]), &what), complex(amps), largest, &what);
        }
    }
}

#[test]
fn ill_posed_networks_get_the_verdict_named() {
    let data: Value = serde_json::from_str(include_str!("../outside/textbook_networks.json")).unwrap();
    let mut seen = Vec::new();
    for case in data["ill_posed"].as_array().unwrap() {
        let what = case["name"].as_str().unwrap();
        let given = Given::of(&case["elements"]);
        let solved = Factored::of(&given.circuit, complex(&case["omega"]).re);
        let node = |name: &str| given.nodes[name];
        let reasons: Vec<Reason> = solved.remarks().iter().map(|remark| remark.reason).collect();
        let branches = |names: &[&str]| {
            let mut all: Vec<usize> = names.iter().map(|name| given.branches[*name]).collect();
            all.sort_unstable();
            all
        };
        let volts = |a: &str, b: &str| solved.volts(node(a), node(b));
        match what {
            "floating_island" => {
                near(known(volts("1", "0"), what), Phasor::new(24.0, 0.0), 24.0, what);
                near(known(volts("5", "6"), what), Phasor::new(0.0, 0.0), 24.0, what);
                assert_eq!(volts("5", "0"), Answer::Undetermined(Reason::SeparateIslands));
            }
            "parallel_equal_sources" => {
                near(known(volts("1", "0"), what), Phasor::new(24.0, 0.0), 24.0, what);
                assert_eq!(solved.amps(given.branches["V1"]), Answer::Undetermined(Reason::Shared));
                assert_eq!(solved.amps(given.branches["V2"]), Answer::Undetermined(Reason::Shared));
                assert_eq!(reasons, [Reason::Shared]);
            }
            "conflicting_sources" => {
                assert_eq!(volts("1", "0"), Answer::Undetermined(Reason::Conflict));
                assert_eq!(reasons, [Reason::Conflict]);
                assert_eq!(solved.remarks()[0].branches, branches(&["V1", "V2"]));
            }
            "shorted_source" => {
                assert_eq!(reasons, [Reason::Shorted]);
                assert_eq!(solved.remarks()[0].branches, branches(&["V1", "w1"]), "the way of the short by name");
                assert_eq!(volts("1", "0"), Answer::Undetermined(Reason::Shorted));
            }
            "wire_loop" => {
                near(known(volts("2", "0"), what), Phasor::new(24.0, 0.0), 24.0, what);
                assert_eq!(solved.amps(given.branches["w1"]), Answer::Undetermined(Reason::Shared));
                near(known(solved.amps(given.branches["R1"]), what), Phasor::new(2.4, 0.0), 2.4, what);
                near(known(solved.amps(given.branches["V1"]), what), Phasor::new(-2.4, 0.0), 2.4, what);
            }
            "current_source_into_open" => {
                assert!(reasons.contains(&Reason::NoWayBack));
                assert!(matches!(volts("1", "0"), Answer::Undetermined(_)));
            }
            "lc_resonance_exact" => {
                assert_eq!(volts("2", "0"), Answer::Undetermined(Reason::Resonance));
            }
            "dc_inductor_loop_needs_w0_rule" => {
                near(known(volts("2", "0"), what), Phasor::new(0.0, 0.0), 5.0, what);
                near(known(solved.amps(given.branches["R1"]), what), Phasor::new(1.0, 0.0), 1.0, what);
            }
            other => panic!("no verdict is checked for {other}"),
        }
        seen.push(what.to_owned());
    }
    assert_eq!(seen.len(), 8);
}
