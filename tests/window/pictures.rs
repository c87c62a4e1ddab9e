//! Pictures of the window for a person to look at, in target/pictures. Nothing is compared.

use std::path::PathBuf;

use egui::Key;
use egui_kittest::kittest::Queryable as _;
use wirewitness::app::theme::Theme;
use wirewitness::app::{Prefs, Selection, Stage};
use wirewitness::machine::{
    Change, ConditionId, Edit, EndAt, Known, Point, TerminalRef, Thing, Wire, WireEnd, WireState,
};

use crate::person::{Person, diagram, prefs};

fn folder() -> PathBuf {
    // The folder that cargo gives tests for their files lies in target.
    let folder = PathBuf::from(env!("CARGO_TARGET_TMPDIR"));
    let folder = folder.parent().map_or_else(|| folder.clone(), |target| target.join("pictures"));
    std::fs::create_dir_all(&folder).unwrap();
    folder
}

pub fn save(person: &mut Person, name: &str) -> bool {
    match person.harness.render() {
        Ok(picture) => {
            picture.save(folder().join(format!("{name}.png").to_lowercase())).unwrap();
            true
        }
        Err(why) => {
            eprintln!("skipped: no picture can be drawn here ({why})");
            false
        }
    }
}

fn at_work(size: (f32, f32), prefs: Prefs) -> Option<Person> {
    let person = Person::with_pictures(size, prefs);
    if person.is_none() {
        eprintln!("skipped: this computer has no graphics adapter, not even a software one, to draw pictures with");
    }
    let mut person = person?;
    person.harness.state_mut().desk_mut().open(&diagram("pantry-locker.ron"));
    person.look();
    Some(person)
}

#[test]
fn pictures_of_every_stage_are_drawn_where_this_computer_can_draw() {
    for theme in Theme::ALL {
        for size in [(1366.0, 768.0), (1024.0, 768.0)] {
            let Some(mut person) = at_work(size, Prefs { theme, ..prefs() }) else { return };
            for stage in Stage::ALL {
                person.go(stage);
                if stage == Stage::Removal {
                    crate::removal::wait(&mut person);
                }
                if stage == Stage::Mysteries {
                    crate::mysteries::wait(&mut person);
                }
                if !save(&mut person, &format!("{}-{}-{}", theme.words(), stage.words(), size.0)) {
                    return;
                }
            }
        }
    }
}

/// A machine with a dead wire, a lead beside another, a live stub and a wire whose part is gone.
fn with_leftovers(person: &mut Person) {
    let machine = person.harness.state().desk().machine().clone();
    let mut changes = Vec::new();
    let (mut next, mut at) = (u32::from(machine.wires.next_id()), 0.0);
    let twin = machine.wires.values().find(|wire| wire.state == WireState::InPlace && wire.colour.is_some()).unwrap();
    let mut add = |key: &str, from: EndAt, to: EndAt, known: Known| {
        at += 14.0;
        let end = |end: EndAt, x: f64| WireEnd { at: end, known, place: Some(Point::new(x, at)), ..WireEnd::default() };
        let wire = Wire { key: key.to_owned(), from: end(from, 60.0), to: end(to, 190.0), ..Wire::default() };
        changes.push(Change::Wire(next.into(), Some(std::sync::Arc::new(wire))));
        next += 1;
    };
    add("W90", EndAt::Loose, EndAt::Loose, Known::Seen);
    add("W91", twin.from.at.clone(), twin.to.at.clone(), Known::Seen);
    add("W92", twin.from.at.clone(), EndAt::Loose, Known::Seen);
    person.harness.state_mut().desk_mut().apply(Edit { label: "leftovers".to_owned(), changes });
}

#[test]
fn pictures_of_the_removal_and_of_a_comparison_are_drawn_where_this_computer_can_draw() {
    for (size, theme) in [((1366.0, 768.0), Theme::Day), ((1024.0, 768.0), Theme::Sun), ((1366.0, 768.0), Theme::Night)]
    {
        let Some(mut person) = Person::with_pictures(size, Prefs { theme, ..prefs() }) else { return };
        let _folder = person.open_copy("flower-cooler.ron");
        with_leftovers(&mut person);
        person.go(Stage::Removal);
        crate::removal::wait(&mut person);
        let name = format!("{}-{}", theme.words(), size.0);
        if !save(&mut person, &format!("removal-leftovers-{name}")) {
            return;
        }
        person.press_like("Plan the ");
        crate::removal::wait(&mut person);
        for number in 1..=5 {
            crate::removal::tick(&mut person, number);
        }
        save(&mut person, &format!("removal-ticked-{name}"));
        for (part, control) in [("steps", "It is out: W92"), ("end", "Record as capped off")] {
            person.harness.get_by_label(control).scroll_to_me();
            person.look();
            save(&mut person, &format!("removal-{part}-{name}"));
        }
        person.go(Stage::Wires);
        person.harness.state_mut().view_mut().list_hidden = true;
        person.look();
        person.press("Begin a visit");
        crate::compared::alter(&mut person);
        person.press("Compare");
        save(&mut person, &format!("compared-{name}"));
    }
}

#[test]
fn pictures_of_cards_conditions_and_overlays_are_drawn_where_this_computer_can_draw() {
    let Some(mut person) = at_work((1366.0, 768.0), prefs()) else { return };
    let machine = person.harness.state().desk().machine().clone();
    let conditions: Vec<ConditionId> = machine.conditions.ids().collect();
    for (number, id) in conditions.into_iter().enumerate() {
        person.harness.state_mut().desk_mut().set_condition(Some(id));
        person.harness.state_mut().view_mut().selection = Selection::of(Thing::Condition(id));
        person.look();
        save(&mut person, &format!("condition-{number}"));
    }
    let terminal = TerminalRef::new(machine.part_by_tag("K1").unwrap(), "14");
    let things = [
        ("relay", Thing::from(terminal.part)),
        ("terminal", terminal.into()),
        ("board", machine.part_by_tag("A1").unwrap().into()),
        ("wire", machine.wires.ids().next().unwrap().into()),
        ("photo", Thing::Photo(machine.photos.ids().next().unwrap())),
        ("reading", Thing::Reading(machine.readings.ids().next().unwrap())),
        ("mystery", Thing::Mystery(machine.mysteries.ids().next().unwrap())),
    ];
    person.go(Stage::Parts);
    for (name, thing) in things {
        person.harness.state_mut().view_mut().selection = Selection::of(thing);
        person.look();
        save(&mut person, &format!("card-{name}"));
    }
    person.go(Stage::Mysteries);
    for (number, id) in machine.mysteries.ids().take(3).enumerate() {
        person.harness.state_mut().view_mut().selection = Selection::of(Thing::Mystery(id));
        crate::mysteries::wait(&mut person);
        save(&mut person, &format!("mystery-{number}"));
    }
    person.go(Stage::Removal);
    person.harness.state_mut().view_mut().selection = Selection::of(machine.wire_by_key("W29").unwrap());
    crate::removal::wait(&mut person);
    save(&mut person, "removal-stub");
    person.press("Put on the plan: W29");
    crate::removal::wait(&mut person);
    save(&mut person, "removal-plan");
    person.go(Stage::Findings);
    person.press_like("danger");
    save(&mut person, "card-finding");
    person.key(Key::F1);
    save(&mut person, "help");
    person.key(Key::Escape);
    let Some(mut person) = at_work((1024.0, 768.0), Prefs { touch: true, text_size: 18, ..prefs() }) else { return };
    person.go(Stage::Readings);
    save(&mut person, "touch-1024");
    let Some(mut person) = Person::with_pictures((1366.0, 768.0), Prefs::default()) else { return };
    save(&mut person, "first-use");
    person.press("I have read this");
    save(&mut person, "empty");
}
