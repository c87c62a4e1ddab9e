//! What the record expects beside each entry, what a reading proves, and what loads get: as a person meets them.

use wirewitness::app::{Probes, Selection, Stage};
use wirewitness::circuit::electric::Agreement;
use wirewitness::machine::{Known, Side, Spot, Thing};

use crate::person::{Person, diagram, prefs};

/// The flower cooler, in one of its conditions.
fn cooler(condition: &str) -> Person {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.harness.state_mut().desk_mut().open(&diagram("flower-cooler.ron"));
    person.look();
    let machine = person.harness.state().desk().machine().clone();
    let id = machine.conditions.iter().find(|(_, one)| one.name == condition).map(|(id, _)| id);
    person.harness.state_mut().desk_mut().set_condition(Some(id.unwrap()));
    person.go(Stage::Readings);
    person
}

fn probe(person: &mut Person, red: &str, black: &str) {
    let machine = person.harness.state().desk().machine().clone();
    let spot = |name: &str| machine.spot_by_name(name);
    person.harness.state_mut().view_mut().probes = Probes { red: spot(red), black: spot(black) };
    person.look();
}

#[test]
fn a_reading_of_the_record_says_what_it_agrees_with_what_it_proves_and_by_which_ways() {
    let mut person = cooler("isolated");
    let desk = person.harness.state().desk();
    let (machine, derived) = (desk.machine().clone(), desk.derived().clone());
    let judged = &derived.standings.judgement;
    let (&id, _) = judged
        .readings
        .iter()
        .find(|(_, judged)| {
            judged.agreement == Agreement::Agrees && judged.proof.as_ref().is_some_and(|proof| !proof.proves.is_empty())
        })
        .unwrap();
    person.harness.state_mut().view_mut().selection = Selection::of(Thing::Reading(id));
    person.look();
    assert!(person.sees("It agrees: expected "), "{:?}", person.names());
    assert!(person.sees("It proves "), "{:?}", person.names());
    assert!(person.sees("Way 1 ("), "{:?}", person.names());
    // Contacts that readings prove have a line on the drawing.
    assert!(derived.standings.contacts.iter().any(|(ends, proven)| *proven && ends[0] != ends[1]));

    // What a reading proves is drawn as proven, whatever was written down, and named on the card of the wire.
    let name = &machine.readings.get(id).unwrap().name;
    let wire = machine
        .wires
        .iter()
        .find(|(wire, _)| {
            let stands = derived.standings.of(&machine, |what, network| what.wire(network) == Some(*wire));
            stands.iter().any(|stands| stands.proven_by.contains(name))
        })
        .map(|(wire, _)| wire);
    if let Some(wire) = wire {
        person.harness.state_mut().view_mut().selection = Selection::of(Thing::Spot(Spot::Wire(wire)));
        person.look();
        assert!(person.sees("proven by "), "{:?}", person.names());
        let known = machine.wires.get(wire).unwrap().end(Side::From).known;
        assert_ne!(known, Known::Disputed);
    }
}

#[test]
fn the_expected_value_stands_beside_the_entry_and_the_value_is_held_against_it() {
    let mut person = cooler("cooling");
    let machine = person.harness.state().desk().machine().clone();
    let reading = machine
        .readings
        .values()
        .find(|reading| {
            reading.black.is_some()
                && reading.condition == person.harness.state().desk().condition()
                && reading.value.to_string().contains("VAC")
        })
        .unwrap();
    let [red, black] = [Some(&reading.red), reading.black.as_ref()].map(|spot| machine.spot_name(spot.unwrap()));
    probe(&mut person, &red, &black);
    assert!(person.sees("Expected by the record: "), "{:?}", person.names());
    person.type_in("Value of the reading", &reading.value.to_string());
    assert!(person.sees("Agrees: expected "), "{:?}", person.names());
    person.type_in("Value of the reading", "61 VAC");
    assert!(person.sees("Disputes the record, which expects "), "{:?}", person.names());
    person.type_in("Value of the reading", "tone");
    assert!(person.sees("DANGER"), "{:?}", person.names());
}

#[test]
fn a_load_shows_what_it_gets_and_a_terminal_its_volts() {
    let mut person = cooler("cooling");
    let derived = person.harness.state().desk().derived().clone();
    let electrical = derived.electrical.as_ref().unwrap();
    let machine = person.harness.state().desk().machine().clone();
    let running = electrical
        .loads
        .iter()
        .find(|load| load.gets.runs == wirewitness::circuit::electric::Runs::Yes && load.gets.watts.is_some())
        .unwrap();
    person.harness.state_mut().view_mut().selection = Selection::of(running.part);
    person.look();
    assert!(person.sees("runs; "), "{:?}", person.names());
    let hot = machine.parts.iter().find_map(|(id, part)| {
        let body = person.harness.state().desk().catalogue().body(part);
        let mut places = body.terminals.iter().map(|terminal| {
            Spot::Terminal(wirewitness::machine::TerminalRef { part: id, marking: terminal.marking.clone() })
        });
        places.find(|spot| electrical.volts(spot).is_some_and(|volts| volts.against != *spot))
    });
    person.harness.state_mut().view_mut().selection = Selection::of(Thing::Spot(hot.unwrap()));
    person.look();
    assert!(person.sees("By the record now: "), "{:?}", person.names());
}
