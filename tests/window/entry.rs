//! Entering a reading: what is typed, shown and logged is one and the same.

use egui::Key;
use egui_kittest::kittest::Queryable as _;
use wirewitness::app::Stage;
use wirewitness::machine::{Machine, Meter};

use crate::person::{Person, diagram, prefs};

fn machine(person: &Person) -> Machine {
    person.harness.state().desk().machine().as_ref().clone()
}

/// The pantry locker in the stage of readings, nothing moved and nothing set.
fn at_readings() -> Person {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.open(&diagram("pantry-locker.ron"));
    person.go(Stage::Readings);
    person
}

/// The value read last.
fn last(person: &Person) -> String {
    machine(person).readings.values().next_back().map(|reading| reading.value.to_string()).unwrap_or_default()
}

const RED: &str = "Terminal K1.11";
const BLACK: &str = "Terminal K2.11";

#[test]
fn a_value_typed_after_the_probes_were_clicked_keeps_every_sign() {
    let mut person = at_readings();
    let before = machine(&person).readings.len();
    for (typed, logged) in [("24.6 VAC", "24.6 VAC"), ("12.1 VDC", "12.1 VDC"), ("1.2k", "1.2 kohm"), ("tone", "tone")]
    {
        person.click_on(RED);
        person.click_on(BLACK);
        person.types(typed);
        assert_eq!(person.harness.state().view().entry.text, typed);
        person.key(Key::Enter);
        let probes = &person.harness.state().view().probes;
        let read = machine(&person);
        let reading = read.readings.values().next_back().unwrap();
        assert_eq!(reading.value, logged.parse().unwrap(), "typed {typed}");
        assert_eq!(read.spot_name(&reading.red), "K1.11");
        assert_eq!(reading.black.as_ref().map(|spot| read.spot_name(spot)).as_deref(), Some("K2.11"));
        assert!(probes.red.is_some() && probes.black.is_some(), "digits moved no probe");
    }
    assert_eq!(machine(&person).readings.len(), before + 4);
}

#[test]
fn with_both_probes_set_a_digit_is_the_value_even_when_nothing_is_written_in() {
    let mut person = at_readings();
    person.click_on(RED);
    person.click_on(BLACK);
    // Something else has taken the writing mark, and the pointer rests on a terminal.
    person.press("Swap the probes");
    person.harness.get_by_label("Swap the probes").focus();
    person.look();
    person.point_at(RED);
    person.types("21.5 VAC");
    person.key(Key::Enter);
    assert_eq!(last(&person), "21.5 VAC");
    let read = machine(&person);
    assert_eq!(read.spot_name(&read.readings.values().next_back().unwrap().red), "K2.11");
    // Once it is logged, 1 and 2 begin the next reading.
    person.key(Key::Escape);
    person.point_at(BLACK);
    person.key(Key::Num1);
    let probes = person.harness.state().view().probes.clone();
    assert_eq!(probes.red.map(|spot| machine(&person).spot_name(&spot)).as_deref(), Some("K2.11"));
    assert!(probes.black.is_none());
}

#[test]
fn the_meter_that_is_logged_is_the_one_that_is_shown() {
    let mut person = at_readings();
    // The record names two meters of its own; which one is used is for the person to say.
    let meter = |name: &str| Meter { name: name.to_owned(), ..Meter::default() };
    let mut record = machine(&person);
    let (first, second) = (record.meters.add(meter("bench one")), record.meters.add(meter("bench two")));
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("meters.ron");
    for (id, name) in [(first, "bench one"), (second, "bench two")] {
        let edit = wirewitness::machine::Edit::one(
            format!("Add {name}"),
            wirewitness::machine::Change::Meter(
                id,
                record.meters.get(id).map(|meter| std::sync::Arc::new(meter.clone())),
            ),
        );
        person.harness.state_mut().desk_mut().apply(edit);
    }
    person.look();
    let read = |person: &mut Person| {
        person.click_on(RED);
        person.click_on(BLACK);
        person.types("tone");
        person.key(Key::Enter);
        let machine = machine(person);
        let logged = machine.readings.values().next_back().and_then(|reading| reading.meter);
        logged.and_then(|id| machine.meters.get(id)).map_or("meter not said".to_owned(), |meter| meter.name.clone())
    };
    let shown = |person: &Person| {
        let at = person.harness.state().view().entry.meter;
        at.and_then(|id| machine(person).meters.get(id).cloned())
            .map_or("meter not said".to_owned(), |meter| meter.name)
    };
    for name in ["bench two", "bench one", "meter not said"] {
        person.press("Meter");
        person.press(name);
        assert_eq!(shown(&person), name);
        assert_eq!(read(&mut person), name);
    }
    // Opened again, the bar shows what it will log.
    person.press("Meter");
    person.press("bench two");
    person.harness.state_mut().desk_mut().save_as(&path, false);
    person.look();
    person.open(&path);
    person.go(Stage::Readings);
    assert_eq!(shown(&person), "bench two", "the meter last used is shown from the start");
    assert_eq!(read(&mut person), "bench two");
    // A meter that undo takes out is neither shown nor logged.
    let mut person = at_readings();
    let id = machine(&person).meters.next_id();
    let edit = wirewitness::machine::Edit::one(
        "Add a meter",
        wirewitness::machine::Change::Meter(id, Some(std::sync::Arc::new(meter("taken back")))),
    );
    person.harness.state_mut().desk_mut().apply(edit);
    person.look();
    person.press("Meter");
    person.press("taken back");
    person.command(Key::Z);
    assert_eq!(shown(&person), "meter not said");
    assert_eq!(read(&mut person), "meter not said");
}
