//! What is live and what is to be read where it is easy to be wrong: earth, chokes before transformers, buzzers, rectifiers,
//! windings fed with too much, batteries in series, timers.
//!
//! Physics of simple circuits: a neutral is earthed at the supply (IEC 60364-1, TN systems), a choke in series takes no
//! voltage without load, a winding's volts go by its turns, batteries in series add, a rectified mean is not zero. The records
//! are invented.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::electric::{
    Agreement, Elements, Expectation, Expected, Judgement, Live, Profile, Why, ask_at, expected,
};
use wirewitness::circuit::{Network, Verdict};
use wirewitness::findings::{Finding, Severity, check};
use wirewitness::machine::Machine;
use wirewitness::quantity::Function;
use wirewitness::store;

const CORD: &str = r#"(tag: "X1", kind: "cord-plug", ratings: {"volts": "230 V AC", "hertz": "50 Hz"})"#;
const HEATER: &str = r#"(tag: "H1", kind: "heater", ratings: {"volts": "230 V AC", "watts": "500 W"})"#;

/// A record of these parts and wires, with a condition `on` in which these sources are on.
fn machine(parts: &[&str], wires: &[(&str, &str)], on: &[&str], readings: &str) -> Machine {
    let wires: Vec<String> = wires
        .iter()
        .enumerate()
        .map(|(at, (from, to))| format!("(key: \"W{0}\", number: \"W{0}\", from: \"{from}\", to: \"{to}\")", at + 1))
        .collect();
    let sources: Vec<String> = on.iter().map(|tag| format!("\"{tag}\": true")).collect();
    let text = format!(
        "(format: 1, machine: (title: \"live places\", source: \"invented\"), parts: [{}], wires: [{}], \
         conditions: [(name: \"on\", sources: {{{}}})], readings: [{readings}])",
        parts.join(", "),
        wires.join(", "),
        sources.join(", ")
    );
    store::parse("live places", &text, &Catalogue::built_in().unwrap()).unwrap_or_else(|errors| panic!("{errors}"))
}

fn findings(machine: &Machine) -> Vec<Finding> {
    check(machine, &Catalogue::built_in().unwrap())
}

/// The worst finding of a rule.
fn worst(machine: &Machine, rule: &str) -> Option<Severity> {
    findings(machine).into_iter().find(|finding| finding.rule == rule).map(|finding| finding.severity)
}

fn reads(machine: &Machine, red: &str, black: &str, function: Function) -> Expectation {
    let network = Network::of(machine, &Catalogue::built_in().unwrap());
    let elements = Elements::of(&network);
    let live = Live::of(&network, &elements, &machine.setting(machine.conditions.ids().next().unwrap()));
    let [red, black] = [red, black].map(|name| machine.spot_by_name(name).unwrap());
    expected(&live, &Profile::default(), ask_at(&network, function, &red, Some(&black), false).unwrap())
}

#[test]
fn line_to_earth_reads_the_line_and_neutral_to_earth_a_few_volts_at_most() {
    let wires = [("X1.L", "H1.1"), ("H1.2", "X1.N"), ("X1.PE", "H1.PE")];
    let machine = machine(&[CORD, HEATER], &wires, &["X1"], "");
    let Expected::Value { nominal, shown } = reads(&machine, "H1.1", "H1.PE", Function::VoltsAc).expected else {
        panic!("a live line read against earth is no ghost")
    };
    assert!((nominal - 230.0).abs() < 1.0 && shown.low > 195.0 && shown.high < 265.0, "{nominal} {shown:?}");
    let Expected::Value { nominal, shown } = reads(&machine, "X1.N", "X1.PE", Function::VoltsAc).expected else {
        panic!()
    };
    assert!(nominal.abs() < 0.1 && shown.high > 2.0 && shown.high < 12.0, "{nominal} {shown:?}");
}

#[test]
fn between_the_lines_of_two_cords_nothing_is_known_while_their_phases_are_not() {
    let other = CORD.replace("X1", "X2");
    let heater = HEATER.replace("H1", "H2");
    let wires = [("X1.L", "H1.1"), ("H1.2", "X1.N"), ("X2.L", "H2.1"), ("H2.2", "X2.N")];
    let machine = machine(&[CORD, &other, HEATER, &heater], &wires, &["X1", "X2"], "");
    let expected = reads(&machine, "X1.L", "X2.L", Function::VoltsAc).expected;
    assert_eq!(expected, Expected::Unknown(Why::Phases), "it can be nothing, 230 V or 400 V");
}

#[test]
fn a_choke_before_a_transformer_does_not_take_the_danger_off_its_secondary() {
    let choke = r#"(tag: "L1", kind: "choke", ratings: {"ohms": "1 Ω"})"#;
    let transformer = r#"(tag: "T1", kind: "control-transformer", ratings: {"volts": "230 V AC", "secondary_volts": "115 V AC", "volt_amps": "100 VA"})"#;
    let wires = [("X1.L", "L1.1"), ("L1.2", "T1.H1"), ("T1.H2", "X1.N"), ("T1.X1", "loose")];
    let machine = machine(&[CORD, choke, transformer], &wires, &["X1"], "");
    assert_eq!(worst(&machine, "live-loose-end"), Some(Severity::Danger));
}

#[test]
fn a_lead_on_a_contact_that_buzzes_is_live() {
    let relay =
        r#"(tag: "K1", kind: "relay-change-over", ratings: {"coil_volts": "230 V AC", "coil_volt_amps": "2 VA"})"#;
    let wires = [("X1.L", "K1.11"), ("K1.12", "K1.A1"), ("K1.A2", "X1.N"), ("K1.14", "loose")];
    let machine = machine(&[CORD, relay], &wires, &["X1"], "");
    assert_eq!(worst(&machine, "relay-chatters"), Some(Severity::Fault));
    assert_eq!(worst(&machine, "live-loose-end"), Some(Severity::Danger));
}

#[test]
fn behind_a_rectifier_no_volts_are_made_up() {
    let bridge = r#"(tag: "D1", kind: "bridge-rectifier")"#;
    let wires = [("X1.L", "D1.~1"), ("X1.N", "D1.~2"), ("D1.+", "H1.1"), ("D1.-", "H1.2")];
    let machine = machine(&[CORD, bridge, HEATER], &wires, &["X1"], "");
    for function in [Function::VoltsDc, Function::VoltsAc] {
        let expected = reads(&machine, "H1.1", "H1.2", function).expected;
        assert_eq!(expected, Expected::Unknown(Why::Rectified), "{function:?}: about 207 V DC in truth");
    }
    let Expected::Value { nominal, .. } = reads(&machine, "X1.L", "X1.N", Function::VoltsAc).expected else { panic!() };
    assert!((nominal - 230.0).abs() < 1.0, "what feeds it is known all the same");
    assert!(worst(&machine, "load-without-feed").is_none());
}

#[test]
fn a_winding_on_four_times_its_volts_gives_four_times_as_much() {
    let cord = CORD.replace("230 V", "48 V");
    let transformer = r#"(tag: "T1", kind: "control-transformer", ratings: {"volts": "12 V AC", "secondary_volts": "48 V AC", "volt_amps": "40 VA"})"#;
    let wires = [("X1.L", "T1.H1"), ("T1.H2", "X1.N"), ("T1.X1", "loose")];
    let machine = machine(&[&cord, transformer], &wires, &["X1"], "");
    assert_eq!(worst(&machine, "live-loose-end"), Some(Severity::Danger), "192 V, though its plate says 48 V");
}

#[test]
fn batteries_in_series_add_and_feed() {
    let battery = |tag: &str| format!(r#"(tag: "{tag}", kind: "battery", ratings: {{"volts": "48 V DC"}})"#);
    let heater = r#"(tag: "H1", kind: "frame-heater", ratings: {"volts": "96 V DC", "ohms": "100 Ω"})"#;
    let wires = [("B1.+", "B2.-"), ("B2.+", "H1.1"), ("B1.-", "H1.2"), ("B2.+", "loose")];
    let machine = machine(&[&battery("B1"), &battery("B2"), heater], &wires, &["B1", "B2"], "");
    assert_eq!(worst(&machine, "live-loose-end"), Some(Severity::Danger), "96 V is above the limit of 60 V");
    assert_eq!(worst(&machine, "load-without-return"), None);
}

#[test]
fn a_timer_among_a_dozen_relays_leaves_them_decided() {
    let relay = |tag: &str, kind: &str| {
        format!(r#"(tag: "{tag}", kind: "{kind}", ratings: {{"coil_volts": "230 V AC", "coil_volt_amps": "2 VA"}})"#)
    };
    let tags: Vec<String> = (1..=12).map(|number| format!("K{number}")).collect();
    let mut parts = vec![CORD.to_owned(), relay("KT", "time-relay-on-delay")];
    parts.extend(tags.iter().map(|tag| relay(tag, "relay-make")));
    let ends: Vec<(String, String)> = tags
        .iter()
        .chain([&"KT".to_owned()])
        .flat_map(|tag| [("X1.L".to_owned(), format!("{tag}.A1")), (format!("{tag}.A2"), "X1.N".to_owned())])
        .collect();
    let wires: Vec<(&str, &str)> = ends.iter().map(|(a, b)| (a.as_str(), b.as_str())).collect();
    let parts: Vec<&str> = parts.iter().map(String::as_str).collect();
    let machine = machine(&parts, &wires, &["X1"], "");
    let network = Network::of(&machine, &Catalogue::built_in().unwrap());
    let elements = Elements::of(&network);
    let live = Live::of(&network, &elements, &machine.setting(machine.conditions.ids().next().unwrap()));
    assert_eq!(live.verdict(), Verdict::Settles);
    assert_eq!(live.outcome.ends, vec![vec![vec![true; 13]]]);
}

#[test]
fn an_earth_through_a_plug_in_its_socket_is_an_earth() {
    let plug = r#"(tag: "P1", kind: "plug-and-socket", count: 3)"#;
    let wires = [
        ("X1.L", "P1.1a"),
        ("P1.1b", "H1.1"),
        ("X1.N", "P1.2a"),
        ("P1.2b", "H1.2"),
        ("X1.PE", "P1.3a"),
        ("P1.3b", "H1.PE"),
    ];
    assert_eq!(worst(&machine(&[CORD, plug, HEATER], &wires, &["X1"], ""), "missing-earth"), None);
    assert_eq!(
        worst(&machine(&[CORD, plug, HEATER], &wires[..5], &["X1"], ""), "missing-earth"),
        Some(Severity::Danger)
    );
}

#[test]
fn a_coil_straight_on_the_supply_does_not_hold_itself() {
    let relay = r#"(tag: "K1", kind: "relay-make", ratings: {"coil_volts": "230 V AC", "coil_volt_amps": "2 VA"})"#;
    let wires = [("X1.L", "K1.A1"), ("K1.A2", "X1.N"), ("X1.L", "K1.13"), ("K1.14", "H1.1"), ("H1.2", "X1.N")];
    assert_eq!(worst(&machine(&[CORD, relay, HEATER], &wires, &["X1"], ""), "hold-in-without-stop"), None);
}

#[test]
fn volts_of_a_divider_of_unknown_heaters_prove_no_switch() {
    let heater = |tag: &str| format!(r#"(tag: "{tag}", kind: "heater")"#);
    let relay =
        r#"(tag: "K1", kind: "relay-change-over", ratings: {"coil_volts": "230 V AC", "coil_volt_amps": "2 VA"})"#;
    // The third heater stands beside the second over a break contact.
    let wires =
        [("X1.L", "R1.1"), ("R1.2", "R2.1"), ("R2.2", "X1.N"), ("R2.1", "K1.11"), ("K1.12", "R3.1"), ("R3.2", "X1.N")];
    let reading = r#"(name: "V1", red: "R2.1", black: "R2.2", value: "76 VAC", condition: "on")"#;
    let machine = machine(&[CORD, &heater("R1"), &heater("R2"), &heater("R3"), relay], &wires, &["X1"], reading);
    let network = Network::of(&machine, &Catalogue::built_in().unwrap());
    let judged = Judgement::of(&machine, &network, &Elements::of(&network)).readings.into_values().next().unwrap();
    assert_eq!(judged.agreement, Agreement::Agrees);
    let proves = judged.proof.unwrap().proves;
    let names: Vec<String> = proves.iter().map(|what| what.name(&machine, &network)).collect();
    assert!(!names.iter().any(|name| name.starts_with("K1") || name == "W4" || name == "W5"), "{names:?}");
}

#[test]
fn a_lead_that_was_not_followed_excuses_a_tone_that_the_record_does_not_have() {
    let switch = |tag: &str| format!(r#"(tag: "{tag}", kind: "toggle-switch")"#);
    let reading = r#"(name: "R1", red: "S1.1", black: "S2.1", value: "tone", condition: "on")"#;
    let seen = machine(&[&switch("S1"), &switch("S2")], &[("S1.1", "loose")], &[], reading);
    let unseen = machine(&[&switch("S1"), &switch("S2")], &[("S1.1", "unknown")], &[], reading);
    assert!(worst(&seen, "reading-disputes-diagram").is_some());
    assert_eq!(worst(&unseen, "reading-disputes-diagram"), None, "the lead may end on S2.1");
}

#[test]
fn supplies_of_unrecorded_volts_on_a_line_are_a_doubt() {
    let transformer =
        r#"(tag: "T1", kind: "control-transformer", ratings: {"volts": "230 V AC", "volt_amps": "40 VA"})"#;
    let wires = [("X1.L", "T1.H1"), ("X1.N", "T1.H2"), ("T1.X1", "X1.L")];
    let machine = machine(&[CORD, transformer], &wires, &["X1"], "");
    assert_eq!(worst(&machine, "line-meets-low-voltage"), Some(Severity::Doubt));
}
