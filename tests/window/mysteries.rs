//! The stage of mysteries: the next reading, odds, and what is settled taken over in one step.

use std::sync::Arc;
use std::time::{Duration, Instant};

use wirewitness::app::{Selection, Stage};
use wirewitness::machine::{Change, Edit, EndAt, Known, Reading, Side, Subject, Thing};

use wirewitness::quantity::{Function, Value};

use crate::person::{Person, diagram, prefs};

/// Waits until the mysteries are worked out.
pub fn wait(person: &mut Person) {
    let begun = Instant::now();
    person.look();
    while person.harness.state().desk().is_identifying() {
        assert!(begun.elapsed() < Duration::from_mins(2));
        std::thread::sleep(Duration::from_millis(20));
        person.look();
    }
    person.look();
}

#[test]
fn the_next_reading_is_offered_and_what_is_settled_is_taken_over_in_one_step() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.harness.state_mut().desk_mut().open(&diagram("pantry-locker.ron"));
    person.look();
    person.go(Stage::Mysteries);
    assert!(person.sees("being worked out"), "{:?}", person.names());
    wait(&mut person);
    assert!(person.sees("Read next"), "{:?}", person.names());
    let next = person.harness.state().desk().identified().next.clone();
    person.press("Put the probes there, proposal 1");
    let probes = &person.harness.state().view().probes;
    assert_eq!(probes.red.as_ref(), Some(&next[0].1.place.red));
    assert_eq!(probes.black, next[0].1.place.black);

    // With one reading more where M1's run lead belongs is settled.
    let machine = person.harness.state().desk().machine().clone();
    let place = next[0].1.place.clone();
    let reading = Reading {
        name: "R901".to_owned(),
        red: place.red,
        black: place.black,
        value: Value::Ohms(76.0),
        condition: Some(place.condition),
        meter: None,
        when: String::new(),
        who: String::new(),
        visit: None,
        note: String::new(),
    };
    let change = Change::Reading(machine.readings.next_id(), Some(Arc::new(reading)));
    person.harness.state_mut().desk_mut().apply(Edit { label: "reading".to_owned(), changes: vec![change] });
    person.look();
    let machine = person.harness.state().desk().machine().clone();
    let (id, _) = machine.mysteries.iter().find(|(_, one)| one.name == "where M1's run lead belongs").unwrap();
    person.harness.state_mut().view_mut().selection = Selection::of(Thing::Mystery(id));
    wait(&mut person);
    assert!(person.sees("Settled by the readings: K2.14"), "{:?}", person.names());
    assert!(person.sees("ruled out by"), "{:?}", person.names());
    person.press("Take K2.14 over into the record");
    let after = person.harness.state().desk().machine().clone();
    assert!(!after.mysteries.contains(id));
    let wire = after.wires.values().find(|wire| wire.key == "W15").unwrap();
    assert!(matches!(&wire.to.at, EndAt::Terminal(at) if after.terminal_name(at) == "K2.14"));
    // More than one reading shows it there.
    assert_eq!(wire.to.known, Known::Proven);
    assert!(wire.note.contains("proven by R"), "{}", wire.note);
    person.harness.state_mut().desk_mut().undo();
    assert_eq!(*person.harness.state().desk().machine(), machine, "one step");
}

#[test]
fn a_place_out_of_reach_is_proposed_no_more_and_an_answer_key_logs_the_reading() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.harness.state_mut().desk_mut().open(&diagram("pantry-locker.ron"));
    person.look();
    person.go(Stage::Mysteries);
    wait(&mut person);
    let first = person.harness.state().desk().identified().next[0].1.place.clone();
    assert!(first.function.needs_dead(), "the least risky comes first: {first:?}");
    let words = person.harness.state().desk().machine().spot_name(&first.red);
    person.press(&format!("Cannot reach {words}, proposal 1"));
    wait(&mut person);
    let next = person.harness.state().desk().identified().next.clone();
    assert!(next.iter().all(|(_, one)| one.place.red != first.red && one.place.black.as_ref() != Some(&first.red)));
    person.press(&format!("{words} can be reached"));
    wait(&mut person);
    assert_eq!(person.harness.state().desk().identified().next[0].1.place, first);

    // In its condition the answer is one key.
    person.harness.state_mut().desk_mut().set_condition(Some(first.condition));
    wait(&mut person);
    let place = person.harness.state().desk().identified().next[0].1.place.clone();
    assert_eq!(place.condition, first.condition, "what costs no change comes first");
    let (word, value) = match place.function {
        Function::Tone => ("no tone", Value::NoTone),
        _ => ("OL", Value::OverLimit),
    };
    let before = person.harness.state().desk().machine().readings.len();
    person.press(&format!("{word} was read, proposal 1"));
    let machine = person.harness.state().desk().machine().clone();
    assert_eq!(machine.readings.len(), before + 1);
    let read = machine.readings.values().next_back().unwrap();
    assert_eq!((&read.red, &read.black, read.condition), (&place.red, &place.black, Some(place.condition)));
    assert_eq!(read.value, value);
}

#[test]
fn candidates_are_offered_on_demand_as_one_step_and_two_answers_can_exclude_each_other() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.harness.state_mut().desk_mut().open(&diagram("pantry-locker.ron"));
    person.look();
    person.go(Stage::Mysteries);
    let machine = person.harness.state().desk().machine().clone();
    // One whose candidates are taken out first.
    let (id, old) = machine.mysteries.iter().find(|(_, one)| matches!(one.subject, Subject::End(_, Side::To))).unwrap();
    let bare = wirewitness::machine::Mystery { candidates: Vec::new(), ..old.clone() };
    let edit = Edit::one("bare", Change::Mystery(id, Some(std::sync::Arc::new(bare))));
    person.harness.state_mut().desk_mut().apply(edit);
    person.harness.state_mut().view_mut().selection = Selection::of(Thing::Mystery(id));
    person.look();
    person.press("Offer candidates");
    let after = person.harness.state().desk().machine().clone();
    let offered = &after.mysteries.get(id).unwrap().candidates;
    assert!(offered.len() > 2 && offered.iter().all(|one| one.weight > 0.0), "{offered:?}");
    person.harness.state_mut().desk_mut().undo();
    assert!(person.harness.state().desk().machine().mysteries.get(id).unwrap().candidates.is_empty(), "one step");
}
