//! Practice in the window: begun, marked, played, refused where it must be, finished and compared; never saved.

use std::time::{Duration, Instant};

use egui::Key;
use egui_kittest::kittest::Queryable as _;
use wirewitness::app::{Overlay, Prefs, Selection, Stage};
use wirewitness::desk::Practice;
use wirewitness::machine::{ConditionId, Spot, Thing};
use wirewitness::practice::Right;
use wirewitness::quantity::Function;

use crate::person::{Person, prefs};
use crate::pictures::save;

/// Seed 4 is a warmer with two thermostats, five mysteries.
const SEED: u64 = 4;

fn practice(person: &Person) -> &Practice {
    person.harness.state().desk().practice().unwrap()
}

fn begin(person: &mut Person) {
    person.harness.state_mut().desk_mut().practise(SEED).unwrap();
    person.look();
}

fn set(person: &mut Person, condition: ConditionId) {
    person.harness.state_mut().desk_mut().set_condition(Some(condition));
    person.look();
}

fn put(person: &mut Person, red: &Spot, black: Option<&Spot>, function: Function) {
    let view = person.harness.state_mut().view_mut();
    view.probes.red = Some(red.clone());
    view.probes.black = black.cloned();
    view.entry.function = Some(function);
    person.look();
}

fn named(person: &Person, name: &str) -> Spot {
    person.harness.state().desk().machine().spot_by_name(name).unwrap()
}

/// Waits until the hint is worked out.
fn wait(person: &mut Person) {
    let begun = Instant::now();
    loop {
        person.look();
        if !person.harness.state().desk().is_identifying() {
            break;
        }
        assert!(begun.elapsed() < Duration::from_mins(2));
        std::thread::sleep(Duration::from_millis(20));
    }
    person.look();
}

/// Presses the key and waits until everything is weighed.
fn finish(person: &mut Person) {
    person.harness.get_by_label("Finish and compare").click_accesskit();
    let begun = Instant::now();
    while practice(person).score().is_none() {
        person.harness.run_steps(2);
        assert!(begun.elapsed() < Duration::from_mins(5));
        std::thread::sleep(Duration::from_millis(20));
    }
    person.look();
}

#[test]
fn practice_is_begun_from_an_empty_window_and_says_what_it_is() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.press("Practise on an invented machine");
    let desk = person.harness.state().desk();
    assert!(desk.practice().is_some() && desk.path().is_none() && !desk.is_changed());
    assert!(desk.machine().facts.title.starts_with("PRACTICE: "));
    assert!(person.sees("PRACTICE, NO RECORD") && person.sees("No real machine."), "{:?}", person.names());
    assert!(!person.sees("Value of the reading"), "the bench says the value");
    // Another record on the desk ends it.
    person.harness.state_mut().desk_mut().new_machine();
    person.look();
    assert!(!person.sees("PRACTICE"), "{:?}", person.names());
}

#[test]
fn a_reading_is_taken_by_the_bench_and_what_must_not_be_tried_is_refused() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    begin(&mut person);
    person.go(Stage::Readings);
    let conditions: Vec<ConditionId> = person.harness.state().desk().machine().conditions.ids().collect();
    let (red, black) = (named(&person, "K1.A1"), named(&person, "K1.A2"));
    put(&mut person, &red, Some(&black), Function::Ohms);
    person.press("Take reading");
    assert!(person.sees("no condition yet"), "{:?}", person.names());
    set(&mut person, conditions[0]);
    person.press("Take reading");
    assert_eq!(practice(&person).bench().taken().len(), 1);
    assert!(person.sees("Last: K1.A1 – K1.A2, ohms: "), "{:?}", person.names());
    assert_eq!(person.harness.state().desk().machine().readings.len(), 1, "it is logged");
    // Typing writes no value: the bench says it.
    person.types("24");
    assert_eq!(person.harness.state().view().entry.text, "");
    set(&mut person, conditions[1]);
    assert!(person.sees("DANGER: line voltage is on"), "cautions stand there: {:?}", person.names());
    person.press("Take reading");
    assert!(person.sees("FORBIDDEN: "), "{:?}", person.names());
    assert!(person.sees("forbidden 1"));
    assert_eq!(person.harness.state().desk().machine().readings.len(), 1);
    put(&mut person, &red, Some(&black), Function::VoltsAc);
    person.press("Take reading");
    assert!(person.sees("volts AC: "));
    assert!(!person.names().iter().any(|name| name.to_lowercase().contains("safe")), "{:?}", person.names());
}

#[test]
fn practice_is_never_saved() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    begin(&mut person);
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("practice.ron");
    assert!(person.harness.state_mut().desk_mut().save(), "no file is asked for");
    person.harness.state_mut().desk_mut().save_as(&path, true);
    person.look();
    assert!(!path.exists());
    assert!(person.sees("is not kept as a record"), "{:?}", person.names());
    person.command(Key::S);
    assert!(person.harness.state().view().file_bar.is_none());
    // Nothing is asked when it is left.
    let machine = person.harness.state().desk().machine().clone();
    let spot = named(&person, "K1.A1");
    set(&mut person, machine.conditions.ids().next().unwrap());
    let black = named(&person, "K1.A2");
    put(&mut person, &spot, Some(&black), Function::Ohms);
    person.press("Take reading");
    person.harness.state_mut().ask_to_leave();
    assert!(person.harness.state().ends() && person.harness.state().view().overlay == Overlay::None);
}

#[test]
fn a_whole_session_is_played_by_hints_and_finished_with_all_right() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    begin(&mut person);
    person.go(Stage::Mysteries);
    assert!(!person.sees("Read next"), "hidden until it is asked for: {:?}", person.names());
    for _ in 0..30 {
        person.press("Show a hint");
        wait(&mut person);
        let next = person.harness.state().desk().identified().next.first().cloned();
        let Some((_, proposal)) = next else { break };
        assert!(person.sees("Read next"), "{:?}", person.names());
        set(&mut person, proposal.place.condition);
        wait(&mut person);
        person.press("Put the probes there, proposal 1");
        person.press("Take reading");
        assert!(!person.sees("Read next"), "hidden again");
    }
    let odds = person.harness.state().desk().identified().odds.clone();
    for one in odds {
        let settled = one.settled.unwrap_or_else(|| panic!("{one:?}"));
        person.harness.state_mut().desk_mut().say(one.mystery, Some(settled));
    }
    person.look();
    finish(&mut person);
    let score = practice(&person).score().unwrap();
    assert_eq!(score.count(Right::Right), 5, "{score:?}");
    assert!(person.sees("Right: 5 of 5"), "{:?}", person.names());
    // More answers hang together here than are gone through exactly.
    assert!(person.sees("the least is not worked out for so many"));
    let taken = practice(&person).bench().taken().len();
    let score_hints = practice(&person).bench().hints();
    assert!(!person.sees("Show a hint"));
    person.harness.state_mut().desk_mut().hint();
    assert!(person.harness.state().desk().practice().unwrap().bench().taken().len() == taken, "it is over");
    assert_eq!(practice(&person).bench().hints(), score_hints, "no more hints");
}

#[test]
fn pictures_of_practice_are_drawn_where_this_computer_can_draw() {
    for (size, theme) in [
        ((1366.0, 768.0), wirewitness::app::theme::Theme::Day),
        ((1024.0, 768.0), wirewitness::app::theme::Theme::Day),
        ((1024.0, 768.0), wirewitness::app::theme::Theme::Night),
    ] {
        let Some(mut person) = Person::with_pictures(size, Prefs { theme, ..prefs() }) else { return };
        let name = |what: &str| format!("practice-{what}-{}-{}", theme.words(), size.0);
        if !save(&mut person, &name("empty")) {
            return;
        }
        begin(&mut person);
        person.go(Stage::Mysteries);
        save(&mut person, &name("begun"));
        let conditions: Vec<ConditionId> = person.harness.state().desk().machine().conditions.ids().collect();
        set(&mut person, conditions[1]);
        person.go(Stage::Readings);
        let (red, black) = (named(&person, "K1.A1"), named(&person, "K1.A2"));
        put(&mut person, &red, Some(&black), Function::VoltsAc);
        person.press("Take reading");
        save(&mut person, &name("live"));
        put(&mut person, &red, Some(&black), Function::Ohms);
        person.press("Take reading");
        save(&mut person, &name("forbidden"));
        person.press("Show a hint");
        wait(&mut person);
        save(&mut person, &name("hint"));
        let mystery = person.harness.state().desk().machine().mysteries.ids().next().unwrap();
        person.harness.state_mut().desk_mut().say(mystery, Some(0));
        person.harness.state_mut().view_mut().selection = Selection::of(Thing::Mystery(mystery));
        person.look();
        save(&mut person, &name("card"));
        finish(&mut person);
        save(&mut person, &name("compared"));
    }
}
