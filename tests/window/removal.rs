//! The stage of removal: verdicts in words, conditions put on the strip, the plan ticked off step by step, its end and its stop.

use std::sync::Arc;
use std::time::{Duration, Instant};

use egui::accesskit::Role;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wirewitness::app::{Prefs, Selection, Stage};
use wirewitness::machine::{Change, Condition, Edit, Machine, WireId, WireState};
use wirewitness::removal::{Change as Changes, Verdict};

use crate::person::{Person, diagram, prefs};

/// Waits until the removal is worked out.
pub fn wait(person: &mut Person) {
    let begun = Instant::now();
    // What was pressed is carried out in one frame, and asked about in the next.
    person.harness.run_steps(3);
    while person.harness.state().desk().is_judging() {
        assert!(begun.elapsed() < Duration::from_mins(2));
        std::thread::sleep(Duration::from_millis(10));
        person.harness.run_steps(1);
    }
    person.look();
}

fn machine(person: &Person) -> Arc<Machine> {
    Arc::clone(person.harness.state().desk().machine())
}

fn wire(person: &Person, key: &str) -> WireId {
    machine(person).wire_by_key(key).unwrap()
}

/// The pantry locker in the stage of removal, judged.
fn locker(size: (f32, f32)) -> Person {
    let mut person = Person::at(size, prefs());
    person.open(&diagram("pantry-locker.ron"));
    person.go(Stage::Removal);
    wait(&mut person);
    person
}

/// Puts a wire on the plan, by its card.
fn plan(person: &mut Person, key: &str) {
    let id = wire(person, key);
    person.harness.state_mut().view_mut().selection = Selection::of(id);
    person.harness.state_mut().view_mut().removing.plan_shown = false;
    wait(person);
    person.press(&format!("Put on the plan: {key}"));
    wait(person);
}

/// The step's box, by the number of the step.
pub fn tick(person: &mut Person, number: usize) {
    let start = format!("{number}. ");
    let found = person.harness.query_all_by_label_contains(&start).find(|node| {
        let inner = node.accesskit_node();
        inner.role() == Role::CheckBox && inner.label().is_some_and(|label| label.starts_with(&start))
    });
    found.unwrap_or_else(|| panic!("no step {number} to tick, only {:?}", person.names())).click_accesskit();
    wait(person);
}

#[test]
fn every_wire_is_listed_by_its_verdict_with_the_reason_and_its_card_says_what_to_do() {
    let mut person = locker((1366.0, 768.0));
    assert!(person.sees("Judged over"), "{:?}", person.names());
    assert!(person.sees("WARNING: a verdict speaks of the record"));
    assert!(person.sees("LIVE STUB") && person.sees("CANNOT BE SAID"), "{:?}", person.names());
    person.press_like("W29 K1.12");
    assert_eq!(person.harness.state().view().selection, Selection::of(wire(&person, "W29")));
    assert!(person.sees("W29 carries nothing in any condition, but it can be live"), "{:?}", person.names());
    assert!(person.sees("DANGER: it feeds nothing"), "what to do stands on the card");
    assert!(person.sees("Proved "), "how it is known");
    assert!(person.sees("1 open: wires that may go by the record"), "the rail counts it: {:?}", person.names());
    // What the record lacks is said.
    let id = wire(&person, "W30");
    person.harness.state_mut().view_mut().selection = Selection::of(id);
    person.look();
    let missing = person.harness.state().desk().removal().verdicts.wires[&id].missing.clone();
    assert!(
        !missing.is_empty() && person.sees("Missing:") && person.sees(&missing[0]),
        "{missing:?} {:?}",
        person.names()
    );
    // A search narrows the list.
    person.type_in("Search removal", "w29");
    assert!(person.sees("W29 K1.12") && !person.sees("W04 "), "{:?}", person.names());
}

#[test]
fn the_condition_that_shows_a_verdict_is_put_on_the_strip_and_undone() {
    let mut person = locker((1366.0, 768.0));
    let before = machine(&person);
    let verdicts = Arc::clone(&person.harness.state().desk().removal().verdicts);
    let said = |condition: &Condition| Condition { name: String::new(), how: String::new(), ..condition.clone() };
    let shown = |id: WireId| verdicts.wires[&id].witness.as_ref().map(|witness| said(&witness.condition));
    let known = |id: &WireId| before.conditions.values().any(|condition| Some(said(condition)) == shown(*id));
    // The record has a condition like the one in which the stub is live: that one is taken.
    let stub = wire(&person, "W29");
    assert!(known(&stub));
    person.press_like("W29 K1.12");
    person.press("Put the condition on the strip: W29 is live");
    wait(&mut person);
    let id = person.harness.state().desk().condition().expect("the machine is in it");
    assert_eq!(Some(said(before.conditions.get(id).unwrap())), shown(stub));
    assert_eq!(machine(&person), before, "nothing is added twice");
    // One that the record has not is added, as one step.
    person.harness.state_mut().desk_mut().apply(Edit::one("without it", Change::Condition(id, None)));
    wait(&mut person);
    let before = machine(&person);
    for _ in 0..2 {
        person.press("Put the condition on the strip: W29 is live");
        wait(&mut person);
    }
    let desk = person.harness.state().desk();
    let id = desk.condition().unwrap();
    assert_eq!(desk.machine().conditions.get(id).unwrap().name, "W29 is live");
    assert_eq!(machine(&person).conditions.len(), before.conditions.len() + 1);
    person.harness.state_mut().desk_mut().undo();
    wait(&mut person);
    assert_eq!(machine(&person), before, "one step");
}

#[test]
fn steps_are_ticked_off_in_their_order_with_date_and_name_and_the_end_is_one_step() {
    let mut person = locker((1366.0, 768.0));
    let before = machine(&person);
    let id = wire(&person, "W29");
    plan(&mut person, "W29");
    assert!(
        person.sees("Nothing: every load, coil, sensing input, fuse and earth is as before."),
        "{:?}",
        person.names()
    );
    let removal = Arc::clone(person.harness.state().desk().removal());
    assert!(matches!(removal.change, Some(Changes::Nothing(_))));
    let names: Vec<String> = removal.steps.iter().map(|step| step.key.clone()).collect();
    let at = |key: &str| names.iter().position(|name| name == key).unwrap() + 1;
    assert!(person.sees("verify absence of voltage") && person.sees("lock the isolation"));
    // Nothing is taken off before the machine is isolated.
    tick(&mut person, at("W29.take-off-from"));
    assert_eq!(machine(&person), before, "its turn has not come");
    for number in 1..at("W29.out") {
        tick(&mut person, number);
        let ticks = machine(&person).ticks.len();
        assert_eq!(ticks, number, "step {number}: {}", names[number - 1]);
    }
    let during = machine(&person);
    assert!(during.wires.get(id).unwrap().from.lifted, "the end is off");
    let tick_of = during.ticks.values().next().unwrap();
    assert_eq!((tick_of.when.as_str(), tick_of.who.as_str()), ("2026-03-02 10:15", "A. Witness"));
    assert!(person.sees("done 2026-03-02 10:15, A. Witness"));
    let verdicts = &person.harness.state().desk().removal().verdicts;
    assert_eq!(verdicts.wires[&id].verdict, Verdict::LiveStub, "half out it is still what it was");
    person.press("It is out: W29");
    wait(&mut person);
    assert_eq!(machine(&person).wires.get(id).unwrap().state, WireState::Removed);
    assert!(person.sees("close every opening"), "the plan goes on after the wire is out: {:?}", person.names());
    for number in at("openings")..=names.len() {
        tick(&mut person, number);
    }
    assert!(person.sees(&format!("{0} of {0} steps are ticked off.", names.len())), "{:?}", person.names());
    let last = machine(&person);
    person.press("Record as taken out");
    wait(&mut person);
    let after = machine(&person);
    assert!(after.ticks.is_empty() && after.wires.get(id).unwrap().state == WireState::Removed);
    assert!(after.wires.get(id).unwrap().note.contains("taken out: 2026-03-02 10:15, A. Witness"));
    assert!(person.sees("No wire is on the plan."));
    person.harness.state_mut().desk_mut().undo();
    assert_eq!(machine(&person), last, "the end is one step");
}

#[test]
fn what_was_not_decided_is_said_and_worked_on_when_asked_for() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.open(&diagram("flower-cooler.ron"));
    // The time is over before anything is decided.
    let desk = person.harness.state_mut().desk_mut();
    assert!(desk.judge_removal(&std::collections::BTreeSet::new(), 0));
    desk.end_judging();
    person.go(Stage::Removal);
    wait(&mut person);
    assert!(!person.harness.state().desk().removal().verdicts.is_whole());
    assert!(person.sees("not decided: the work ended before"), "{:?}", person.names());
    assert!(person.sees("NOT DECIDED"), "{:?}", person.names());
    person.press("Work on, four times as long");
    wait(&mut person);
    assert!(person.harness.state().desk().removal().verdicts.is_whole());
    assert!(!person.sees("NOT DECIDED") && person.sees("IN USE"), "{:?}", person.names());
}

#[test]
fn work_that_stops_is_taken_back_in_one_step() {
    let mut person = locker((1366.0, 768.0));
    let before = machine(&person);
    plan(&mut person, "W29");
    for number in 1..=7 {
        tick(&mut person, number);
    }
    let during = machine(&person);
    assert!(during.ticks.len() == 7 && *during != *before);
    person.press("Stop: take back what is ticked off (7)");
    wait(&mut person);
    assert_eq!(machine(&person), before);
    person.harness.state_mut().desk_mut().undo();
    assert_eq!(machine(&person), during, "one step");
}

#[test]
fn a_wire_is_recorded_as_capped_off_once_it_is_off_its_terminals_and_what_was_not_done_is_said() {
    let mut person = locker((1366.0, 768.0));
    let id = wire(&person, "W29");
    plan(&mut person, "W29");
    let removal = Arc::clone(person.harness.state().desk().removal());
    let names: Vec<String> = removal.steps.iter().map(|step| step.key.clone()).collect();
    let read_after = names.iter().position(|name| name == "W29.read-after").unwrap() + 1;
    assert!(person.sees("To be recorded once both ends"), "{:?}", person.names());
    for number in 1..read_after {
        tick(&mut person, number);
    }
    let before = machine(&person);
    person.press("Record as capped off");
    wait(&mut person);
    let after = machine(&person);
    assert_eq!(after.wires.get(id).unwrap().state, WireState::CappedOff);
    assert!(
        after.wires.get(id).unwrap().note.contains(&format!("; {} of ", read_after - 1)),
        "{}",
        after.wires.get(id).unwrap().note
    );
    person.harness.state_mut().desk_mut().undo();
    assert_eq!(machine(&person), before);
}

#[test]
fn what_is_needed_stays_and_a_condition_shows_what_would_change() {
    let mut person = locker((1366.0, 768.0));
    plan(&mut person, "W04");
    let removal = Arc::clone(person.harness.state().desk().removal());
    assert!(removal.going().is_empty() && matches!(removal.change, Some(Changes::Differs(..))));
    assert!(person.sees("CAUTION: W04 stays."), "{:?}", person.names());
    assert!(person.sees("It changes something: without W04"), "{:?}", person.names());
    assert!(!person.sees("Record as taken out"), "nothing goes");
    person.press("Put the condition on the strip: differs without W04");
    wait(&mut person);
    let id = person.harness.state().desk().condition().expect("the machine is in it");
    let shown = machine(&person).conditions.get(id).unwrap().clone();
    let Some(Changes::Differs(_, witness)) = &removal.change else { unreachable!("held above") };
    assert_eq!((&shown.sources, &shown.commanded), (&witness.condition.sources, &witness.condition.commanded));
}

#[test]
fn a_record_without_wires_says_what_to_do_and_nobody_s_name_can_be_written_where_it_is_missing() {
    let mut person = Person::at((1024.0, 768.0), Prefs { who: String::new(), ..prefs() });
    person.go(Stage::Removal);
    assert!(person.sees("No wires to judge."));
    person.open(&diagram("pantry-locker.ron"));
    person.go(Stage::Removal);
    wait(&mut person);
    person.press("Plan the 1 wire that may go");
    wait(&mut person);
    assert!(person.sees("Order of work"), "{:?}", person.names());
    person.write("Your name", "B. Second");
    tick(&mut person, 1);
    assert_eq!(machine(&person).ticks.values().next().unwrap().who, "B. Second");
}
