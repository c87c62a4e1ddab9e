//! The stage of mysteries: the next reading, odds, and what is settled taken over in one step.

use std::time::{Duration, Instant};

use wirewitness::app::{Selection, Stage};
use wirewitness::machine::{EndAt, Thing};

use crate::person::{Person, diagram, prefs};

/// Waits until the mysteries are worked out.
fn wait(person: &mut Person) {
    let begun = Instant::now();
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

    // Where M1's run lead belongs is settled by the readings of the record.
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
    person.harness.state_mut().desk_mut().undo();
    assert_eq!(*person.harness.state().desk().machine(), machine, "one step");
}
