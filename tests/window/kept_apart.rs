//! What belongs to one record, one finding or one question does not get into another.

use std::path::Path;
use std::sync::Arc;

use egui::Key;
use wirewitness::app::{FindingKey, Overlay, Prefs, Stage};
use wirewitness::catalogue::Catalogue;
use wirewitness::desk::{Desk, Folders};
use wirewitness::machine::{Change, Edit, Facts, Machine, Verdict};

use crate::person::{NOW, Person, diagram, prefs};

fn machine(person: &Person) -> Machine {
    person.harness.state().desk().machine().as_ref().clone()
}

fn retitle(person: &mut Person, title: &str) {
    let facts = Facts { title: title.to_owned(), ..machine(person).facts };
    person.harness.state_mut().desk_mut().apply(Edit::one("Retitle", Change::Facts(Arc::new(facts))));
    person.look();
}

/// Leaves work in a folder as a run does that ended without a word.
fn crashed(folder: &Path) -> Folders {
    let folders = Folders { recovery: Some(folder.to_path_buf()), who: "A. Witness".to_owned() };
    let mut desk = Desk::new(Catalogue::built_in().unwrap(), Arc::new(|| NOW.to_owned()), folders.clone());
    let facts = Facts { title: "Kept from a crash".to_owned(), ..desk.machine().facts.clone() };
    desk.apply(Edit::one("Retitle", Change::Facts(Arc::new(facts))));
    desk.autosave();
    desk.wait();
    folders
}

#[test]
fn a_file_that_is_opened_under_the_cautions_leaves_them_in_front_until_they_are_read() {
    let mut person = Person::at((1366.0, 768.0), Prefs::default());
    person.open(&diagram("pantry-locker.ron"));
    assert!(!machine(&person).parts.is_empty(), "the record is open");
    assert!(person.sees("Voltage kills"));
    // No key passes them over.
    for key in [Key::F1, Key::Escape, Key::Delete, Key::Enter] {
        person.key(key);
        assert!(person.sees("Voltage kills"), "{key:?}");
    }
    person.command(Key::A);
    person.command(Key::N);
    assert!(person.sees("Voltage kills"));
    assert!(!machine(&person).parts.is_empty());
    assert!(!person.harness.state().prefs().cautions_read);
    person.press("I have read this");
    assert!(!person.sees("Voltage kills"));
}

#[test]
fn a_file_that_is_opened_leaves_work_of_a_crash_on_offer() {
    let folder = tempfile::tempdir().unwrap();
    let folders = crashed(folder.path());
    for cautions_read in [true, false] {
        let mut person = Person::with_folders((1366.0, 768.0), Prefs { cautions_read, ..prefs() }, folders.clone());
        person.open(&diagram("pantry-locker.ron"));
        if !cautions_read {
            person.press("I have read this");
        }
        assert!(person.sees("Work that was not saved"), "{:?}", person.names());
        assert_eq!(person.harness.state().view().overlay, Overlay::Recovery);
        // What is done meanwhile is kept in a place of its own.
        retitle(&mut person, "Another record");
        person.harness.state_mut().desk_mut().autosave();
        person.look();
        person.harness.state_mut().desk_mut().discard_autosave();
        person.key(Key::Escape);
        assert!(person.sees("Work that was not saved"));
    }
    let mut person = Person::with_folders((1366.0, 768.0), prefs(), folders);
    person.open(&diagram("pantry-locker.ron"));
    person.press("Have it back");
    assert_eq!(machine(&person).facts.title, "Kept from a crash");
}

#[test]
fn no_condition_is_chosen_but_by_the_person() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.open(&diagram("pantry-locker.ron"));
    let chosen = |person: &Person| person.harness.state().desk().condition();
    assert_eq!(chosen(&person), None, "after opening");
    assert!(person.sees("Hazard class: CONDITION NOT CHOSEN"));
    retitle(&mut person, "Edited");
    assert_eq!(chosen(&person), None, "after an edit");
    person.command(Key::Z);
    assert_eq!(chosen(&person), None, "after undo");
    for stage in Stage::ALL {
        person.go(stage);
    }
    assert_eq!(chosen(&person), None);
    assert!(person.sees("Hazard class: CONDITION NOT CHOSEN"));
    // One that is taken out is not replaced by another.
    let id = machine(&person).conditions.ids().next().unwrap();
    person.harness.state_mut().desk_mut().set_condition(Some(id));
    person.look();
    assert!(!person.sees("Hazard class: CONDITION NOT CHOSEN"));
    person.harness.state_mut().desk_mut().apply(Edit::one("Remove it", Change::Condition(id, None)));
    person.look();
    assert_eq!(chosen(&person), None, "after its removal");
    assert!(person.sees("Hazard class: CONDITION NOT CHOSEN"));
}

#[test]
fn a_wire_that_was_begun_ends_with_its_stage_its_record_and_undo() {
    type Leave = fn(&mut Person);
    let leave: [(&str, Leave); 5] = [
        ("another stage and back", |person| {
            person.go(Stage::Parts);
            person.go(Stage::Wires);
        }),
        ("undo", |person| person.command(Key::Z)),
        ("another record", |person| {
            person.open(&diagram("flower-cooler.ron"));
            person.go(Stage::Wires);
        }),
        ("the same record again", |person| {
            person.open(&diagram("pantry-locker.ron"));
            person.go(Stage::Wires);
        }),
        ("Escape", |person| person.key(Key::Escape)),
    ];
    for (words, leave) in leave {
        let mut person = Person::at((1366.0, 768.0), prefs());
        person.open(&diagram("pantry-locker.ron"));
        retitle(&mut person, "Something to undo");
        person.go(Stage::Wires);
        person.click_on("Terminal K1.11");
        leave(&mut person);
        let before = machine(&person);
        // Were it still begun, this click would end it here.
        let names = person.names();
        let terminal = names.iter().find(|name| name.starts_with("Terminal ") && *name != "Terminal K1.11").unwrap();
        person.click_on(terminal);
        assert_eq!(machine(&person).wires.len(), before.wires.len(), "{words}: at {terminal}");
        person.key(Key::Escape);
        person.key(Key::Enter);
        assert_eq!(machine(&person), before, "{words}");
    }
}

#[test]
fn two_findings_of_one_rule_keep_their_reasons_apart() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.open(&diagram("pantry-locker.ron"));
    person.go(Stage::Findings);
    let findings = person.harness.state().desk().derived().findings.clone();
    let alike = |one: usize, other: usize| {
        let (one, other) = (&findings[one], &findings[other]);
        one.rule == other.rule && one.about.len() == other.about.len() && one.about != other.about
    };
    let mut pairs = (0..findings.len()).flat_map(|n| (n + 1..findings.len()).map(move |m| (n, m)));
    let (first, second) = pairs.find(|&(n, m)| alike(n, m)).expect("two findings of one rule about as many things");
    let key = |n: usize| FindingKey { rule: findings[n].rule.to_owned(), about: findings[n].about.clone() };
    let read = |person: &mut Person, n: usize| {
        person.harness.state_mut().view_mut().finding = Some(key(n));
        person.look();
    };
    read(&mut person, first);
    person.type_in("Reason for accepting", "the maker says so");
    read(&mut person, second);
    assert!(!person.sees("the maker says so"), "the reason of one shows at the other");
    person.harness.state_mut().view_mut().finding = Some(key(second));
    person.type_in("Reason for accepting", "a spare");
    person.press("Accept, because");
    read(&mut person, first);
    person.press("Accept, because");
    let machine = machine(&person);
    let reason = |n: usize| {
        let mut of = machine.decisions.values();
        let of = of.find(|decision| decision.rule == findings[n].rule && decision.about == findings[n].about);
        match of.map(|decision| &decision.verdict) {
            Some(Verdict::Accepted(reason)) => reason.clone(),
            other => panic!("{other:?}"),
        }
    };
    assert_eq!((reason(first).as_str(), reason(second).as_str()), ("the maker says so", "a spare"));
}
