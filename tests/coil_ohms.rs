//! What an ohmmeter should show on a coil: its direct-current resistance, never volts over amps.
//!
//! Data sheets of the trade: a coil for 24 V AC takes 1.8 VA (74 mA), so its impedance is 24 V / 74 mA = 324 Ω; one such plug-in
//! relay has 177 Ω to direct current. A coil for 12 V DC and 0.36 W has V²/P = 400 Ω, which is what an ohmmeter shows.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::Network;
use wirewitness::circuit::electric::{
    Ask, Doubt, Elements, Expectation, Expected, Live, Points, Profile, Why, expected,
};
use wirewitness::machine::TerminalRef;
use wirewitness::quantity::Function;
use wirewitness::store;

/// What ohms are expected between two terminals of a part that nothing is connected to.
fn ohms(kind: &str, ratings: &str, [a, b]: [&str; 2]) -> Expectation {
    let text = format!(
        "(format: 1, parts: [(tag: \"K1\", kind: \"{kind}\", ratings: {{{ratings}}})], conditions: [(name: \"isolated\")])"
    );
    let catalogue = Catalogue::built_in().unwrap();
    let machine = store::parse("coil.ron", &text, &catalogue).unwrap_or_else(|errors| panic!("{errors}"));
    let network = Network::of(&machine, &catalogue);
    let elements = Elements::of(&network);
    let live = Live::of(&network, &elements, &machine.setting(machine.condition_by_name("isolated").unwrap()));
    let node = |marking| network.terminal(&TerminalRef::new(machine.part_by_tag("K1").unwrap(), marking)).unwrap();
    let ask = Ask { points: Points::Probes(node(a), node(b)), function: Function::Ohms, low_impedance: false };
    expected(&live, &Profile::default(), ask)
}

#[test]
fn a_coil_for_alternating_current_shows_its_recorded_resistance() {
    let ratings = "\"coil_volts\": \"24 V AC\", \"coil_volt_amps\": \"1.8 VA\", \"coil_ohms\": \"177 Ω\"";
    let expectation = ohms("relay-change-over", ratings, ["A1", "A2"]);
    let Expected::Value { nominal, shown } = expectation.expected else { panic!("{expectation:?}") };
    assert!((nominal - 177.0).abs() < 0.5 && shown.contains(177.0) && shown.high < 324.0, "{shown:?}");
    assert!(expectation.doubts.is_empty(), "{expectation:?}");
}

/// Where its kind has a typical share of resistance the number is in doubt, and lies below the impedance.
#[test]
fn by_a_typical_share_it_lies_below_volts_over_amps_and_is_in_doubt() {
    let ratings = "\"coil_volts\": \"24 V AC\", \"coil_volt_amps\": \"1.8 VA\"";
    let expectation = ohms("relay-change-over", ratings, ["A1", "A2"]);
    let Expected::Value { shown, .. } = expectation.expected else { panic!("{expectation:?}") };
    assert!(shown.contains(177.0) && shown.high < 324.0, "{shown:?}");
    assert_eq!(expectation.doubts, [Doubt::Typical]);
}

#[test]
fn with_volts_and_amps_alone_the_ohms_are_not_known() {
    for (kind, ratings, ends) in [
        // Kinds without a typical share of resistance.
        ("time-relay-on-delay", "\"coil_volts\": \"24 V AC\", \"coil_volt_amps\": \"1.8 VA\"", ["A1", "A2"]),
        ("lamp", "\"volts\": \"24 V\", \"amps\": \"0.4 A\"", ["1", "2"]),
    ] {
        let expectation = ohms(kind, ratings, ends);
        assert_eq!(expectation.expected, Expected::Unknown(Why::OhmsNotKnown), "{kind}");
        let words = expectation.expected.words(Function::Ohms);
        assert!(words.starts_with("not known") && !words.chars().any(|c| c.is_ascii_digit()), "{words}");
    }
}

/// DC: the resistance is all there is, and V²/P gives it.
#[test]
fn a_coil_for_direct_current_shows_volts_squared_over_watts() {
    let ratings = "\"coil_volts\": \"12 V DC\", \"coil_volt_amps\": \"0.36 VA\"";
    let expectation = ohms("relay-change-over", ratings, ["A1", "A2"]);
    let Expected::Value { nominal, .. } = expectation.expected else { panic!("{expectation:?}") };
    assert!((nominal - 400.0).abs() < 1.0, "{nominal}");
}
