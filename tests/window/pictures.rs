//! Pictures of the window for a person to look at, in target/pictures. Nothing is compared.

use std::path::PathBuf;

use egui::Key;
use wirewitness::app::theme::Theme;
use wirewitness::app::{Prefs, Selection, Stage};
use wirewitness::machine::{ConditionId, TerminalRef, Thing};

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
                if !save(&mut person, &format!("{}-{}-{}", theme.words(), stage.words(), size.0)) {
                    return;
                }
            }
        }
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
