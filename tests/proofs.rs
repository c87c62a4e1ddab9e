//! What a reading proves: only what it could not have been without, whatever is not known of the rest.
//!
//! Principle: a tone says no more than that the whole way is below the meter's threshold; other ways must be opened first (sneak
//! circuit analysis, in our words). Heaters: ohms are V²/W, 230 V and 60 W are 882 Ω.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::Network;
use wirewitness::circuit::electric::{Agreement, Elements, Judged, Judgement, What};
use wirewitness::store;

/// A tone over the break contact of K1, with a heater across it; `more` is put among the wires.
fn judged(heater: &str, more: &str) -> Judged {
    let text = format!(
        "(
    format: 1,
    machine: (title: \"proofs\", source: \"invented\"),
    parts: [
        (tag: \"K1\", kind: \"relay-change-over\", ratings: {{\"coil_volts\": \"24 V AC\", \"coil_ohms\": \"177 Ω\"}}),
        (tag: \"E1\", kind: \"frame-heater\"{heater}),
    ],
    wires: [
        (key: \"1\", from: \"K1.11\", to: \"E1.1\"),
        (key: \"2\", from: \"K1.12\", to: \"E1.2\"),
{more}    ],
    conditions: [(name: \"isolated\")],
    readings: [(name: \"R1\", red: \"K1.11\", black: \"K1.12\", value: \"tone\", condition: \"isolated\")],
)
"
    );
    let catalogue = Catalogue::built_in().unwrap();
    let machine = store::parse("proofs", &text, &catalogue).unwrap_or_else(|errors| panic!("{errors}"));
    let network = Network::of(&machine, &catalogue);
    let elements = Elements::of(&network);
    Judgement::of(&machine, &network, &elements).readings.into_values().next().unwrap()
}

fn proves_a_contact(judged: &Judged) -> bool {
    judged.proof.as_ref().is_some_and(|proof| proof.proves.iter().any(|what| matches!(what, What::Contact(_))))
}

#[test]
fn a_tone_over_a_contact_proves_it_when_the_heater_beside_it_is_known_to_be_silent() {
    let judged = judged(", ratings: {\"volts\": \"230 V\", \"watts\": \"60 W\"}", "");
    assert_eq!(judged.agreement, Agreement::Agrees);
    assert!(proves_a_contact(&judged), "{judged:?}");
}

#[test]
fn it_proves_nothing_when_nobody_knows_the_heaters_ohms() {
    let judged = judged("", "");
    assert_eq!(judged.agreement, Agreement::Agrees);
    assert!(!proves_a_contact(&judged), "a heater of few ohms would sound as well: {judged:?}");
}

#[test]
fn it_proves_nothing_when_leads_out_of_sight_could_join_the_two_sides() {
    let more = "        (key: \"3\", from: \"K1.11\", to: \"unknown\"),\n        (key: \"4\", from: \"K1.12\", to: \"unknown\"),\n";
    let judged = judged(", ratings: {\"volts\": \"230 V\", \"watts\": \"60 W\"}", more);
    assert!(!proves_a_contact(&judged), "the two leads may be one: {judged:?}");
}
