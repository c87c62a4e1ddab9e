//! What the demonstration machines do in their conditions, as far as the tier without impedance tells.
//!
//! The circuits are common practice, no source: a control output works a relay, the relay feeds a load.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use std::path::Path;

use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::{Hazard, Network, Situation, Verdict};
use wirewitness::machine::{Machine, TerminalRef};
use wirewitness::store;

fn machine(name: &str, catalogue: &Catalogue) -> Machine {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("diagrams").join(name);
    store::load(&path, catalogue).unwrap().machine
}

#[test]
fn every_condition_of_every_demonstration_machine_settles() {
    let catalogue = Catalogue::built_in().unwrap();
    for name in ["pantry-locker.ron", "flower-cooler.ron", "proofer.ron"] {
        let machine = machine(name, &catalogue);
        let network = Network::of(&machine, &catalogue);
        for (id, condition) in machine.conditions.iter() {
            let situation = Situation::of(&network, &machine.setting(id));
            assert_eq!(situation.outcome.verdict, Verdict::Settles, "{name}: {}", condition.name);
            let sources_on = !machine.setting(id).sources_on.is_empty();
            assert_eq!(situation.hazard().0 == Hazard::NoSource, !sources_on, "{name}: {}", condition.name);
        }
    }
}

#[test]
fn the_bare_end_on_a_break_contact_is_live_while_its_relay_rests() {
    let catalogue = Catalogue::built_in().unwrap();
    let machine = machine("pantry-locker.ron", &catalogue);
    let network = Network::of(&machine, &catalogue);
    let k1 = machine.part_by_tag("K1").unwrap();
    let common = network.terminal(&TerminalRef::new(k1, "11")).unwrap();
    let rest = network.terminal(&TerminalRef::new(k1, "12")).unwrap();
    let make = network.terminal(&TerminalRef::new(k1, "14")).unwrap();
    let mut live_somewhere = false;
    for id in machine.conditions.ids() {
        let situation = Situation::of(&network, &machine.setting(id));
        assert_eq!(
            situation.is_joined(common, rest),
            !situation.is_joined(common, make),
            "a change-over joins one side"
        );
        let live = situation.live(rest).map(|difference| difference.ac);
        if situation.hazard().0 == Hazard::NoSource {
            assert_eq!(live, None);
        } else if let Some(volts) = live {
            assert!((volts - 230.0).abs() < 1e-9, "{volts}");
            live_somewhere = true;
        }
    }
    assert!(live_somewhere);
}

/// A plug is pulled or mated by its position alone; a condition can also put in what rests pulled.
#[test]
fn a_pulled_plug_opens_every_cavity_until_a_condition_puts_it_back() {
    let catalogue = Catalogue::built_in().unwrap();
    for (rest, position, joined) in
        [("mated", "", true), ("mated", "pulled", false), ("pulled", "", false), ("pulled", "mated", true)]
    {
        let said = if position.is_empty() { String::new() } else { format!("\"X2.mated\": \"{position}\"") };
        let text = format!(
            "(format: 1, parts: [(tag: \"X2\", kind: \"plug-and-socket\", count: 2, rest: {{\"mated\": \"{rest}\"}})],\n\
             conditions: [(name: \"c\", positions: {{{said}}})])"
        );
        let machine = store::parse("plug.ron", &text, &catalogue).unwrap();
        let network = Network::of(&machine, &catalogue);
        let plug = machine.part_by_tag("X2").unwrap();
        let situation = Situation::of(&network, &machine.setting(machine.condition_by_name("c").unwrap()));
        for cavity in ["1", "2"] {
            let node = |side| network.terminal(&TerminalRef::new(plug, format!("{cavity}{side}"))).unwrap();
            assert_eq!(situation.is_joined(node("a"), node("b")), joined, "rest {rest}, condition {position:?}");
        }
    }
}
