//! Whoever cannot see the window finds every control of it by a name.

use egui_kittest::kittest::NodeT as _;
use wirewitness::app::{Prefs, Selection, Stage};
use wirewitness::machine::Thing;

use crate::person::{Person, diagram, prefs};

#[track_caller]
fn assert_named(person: &Person, place: &str) {
    let mut nameless = Vec::new();
    let mut open = vec![person.harness.root()];
    while let Some(node) = open.pop() {
        let inner = node.accesskit_node();
        let names = inner.label().is_some_and(|name| !name.trim().is_empty()) || inner.labelled_by().next().is_some();
        if egui::accessibility::is_input(inner.role()) && !inner.is_hidden() && !names {
            nameless.push(format!("{:?} at {:?}", inner.role(), inner.bounding_box()));
        }
        open.extend(node.children());
    }
    assert!(nameless.is_empty(), "{place}: {nameless:?}");
}

#[test]
fn every_control_has_a_name_in_every_stage_and_on_every_card() {
    for file in [None, Some("pantry-locker.ron")] {
        let mut person = Person::at((1366.0, 768.0), prefs());
        if let Some(file) = file {
            person.harness.state_mut().desk_mut().open(&diagram(file));
            person.look();
        }
        for stage in Stage::ALL {
            person.go(stage);
            assert_named(&person, stage.words());
        }
        // In the stage of the sheet nothing has a card.
        person.go(Stage::Removal);
        let machine = person.harness.state().desk().machine().clone();
        let mut things: Vec<Thing> = machine.parts.ids().map(Thing::from).collect();
        things.extend(machine.wires.ids().take(3).map(Thing::from));
        things.extend(machine.photos.ids().map(Thing::Photo));
        things.extend(machine.readings.ids().take(2).map(Thing::Reading));
        things.extend(machine.mysteries.ids().take(4).map(Thing::Mystery));
        things.extend(machine.conditions.ids().map(Thing::Condition));
        for thing in things {
            person.harness.state_mut().view_mut().selection = Selection::of(thing.clone());
            person.look();
            assert_named(&person, &machine.thing_name(&thing));
        }
        person.harness.state_mut().view_mut().selection = Selection::default();
    }
}

#[test]
fn the_first_use_shows_the_cautions_before_anything_else() {
    let mut person = Person::at((1366.0, 768.0), Prefs::default());
    assert!(person.sees("Voltage kills"));
    assert_named(&person, "cautions");
    person.press("I have read this");
    assert!(!person.sees("Voltage kills"));
    assert!(person.harness.state().prefs().cautions_read);
}

#[test]
fn help_lists_the_keys_and_escape_puts_it_away() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.key(egui::Key::F1);
    assert!(person.sees("Right-click"));
    assert_named(&person, "help");
    person.key(egui::Key::Escape);
    assert!(!person.sees("Right-click"));
}

#[test]
fn photos_on_the_canvas_and_flags_of_findings_have_names() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.harness.state_mut().desk_mut().open(&diagram("pantry-locker.ron"));
    person.look();
    let machine = person.harness.state().desk().machine().clone();
    for id in machine.photos.ids() {
        let name = format!("Photo {}", machine.thing_name(&Thing::Photo(id)));
        assert!(person.names().contains(&name), "{name}: {:?}", person.names());
    }
    assert!(person.sees("Flag of finding 1"));
}
