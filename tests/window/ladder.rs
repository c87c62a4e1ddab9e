//! The ladder diagram beside the connection diagram: one selection through both.

use egui::Key;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wirewitness::app::{Prefs, Selection, Sheets, Stage};
use wirewitness::machine::Thing;

use crate::person::{Person, diagram, prefs};
use crate::pictures::save;

const BOTH: &str = "Connection and ladder diagram";

fn opened(size: (f32, f32), file: &str) -> Person {
    let mut person = Person::at(size, prefs());
    person.open(&diagram(file));
    person
}

fn rect_of(person: &Person, name: &str) -> Option<egui::Rect> {
    person.harness.query_by_label(name).map(|node| node.rect())
}

#[test]
fn the_ladder_is_laid_out_only_while_it_is_looked_at() {
    let mut person = opened((1366.0, 768.0), "proofer.ron");
    let has_ladder = |person: &Person| person.harness.state().desk().derived().ladder.is_some();
    assert!(!has_ladder(&person) && rect_of(&person, "Ladder diagram").is_none());
    person.press(BOTH);
    assert!(
        has_ladder(&person) && rect_of(&person, "Ladder diagram").is_some() && rect_of(&person, "Canvas").is_some()
    );
    person.press("Ladder diagram alone");
    assert!(rect_of(&person, "Canvas").is_none());
    // The key goes round.
    person.key(Key::L);
    assert_eq!(person.harness.state().view().shown.sheets, Sheets::Diagram);
    assert!(!has_ladder(&person));
}

#[test]
fn what_is_clicked_on_the_ladder_is_selected_and_what_is_selected_elsewhere_comes_into_sight_on_it() {
    let mut person = opened((1366.0, 768.0), "proofer.ron");
    person.press(BOTH);
    let machine = person.harness.state().desk().machine().clone();
    let part = |tag: &str| Thing::from(machine.part_by_tag(tag).unwrap());
    person.click_on("Rung 2: K2 13–14, make");
    assert_eq!(person.harness.state().view().selection.only(), Some(&part("K2")));
    person.click_on("Rung 1: E1 1–2, heater");
    assert_eq!(person.harness.state().view().selection.only(), Some(&part("E1")));
    person.key(Key::Escape);

    person.go(Stage::Parts);
    assert!(!person.sees("Rung 12: Y1"), "the steam valve's rung lies further down");
    person.type_in("Search parts", "Y1");
    person.press_like("Y1, ");
    assert!(person.harness.state().view().selection.has(&part("Y1")));
    assert!(person.sees("Rung 12: Y1"), "{:?}", person.names());
}

#[test]
fn an_edit_draws_the_ladder_anew_and_undo_brings_it_back() {
    let mut person = opened((1366.0, 768.0), "proofer.ron");
    person.press("Ladder diagram alone");
    let rungs = |person: &Person| person.harness.state().desk().derived().ladder.as_ref().unwrap().rungs.len();
    let before = rungs(&person);
    let lamp = person.harness.state().desk().machine().part_by_tag("P1").unwrap();
    person.harness.state_mut().view_mut().selection = Selection::of(lamp);
    person.key(Key::Delete);
    assert_eq!(rungs(&person), before - 1);
    person.command(Key::Z);
    assert_eq!(rungs(&person), before);
}

#[test]
fn an_empty_record_says_what_a_ladder_needs() {
    let mut person = Person::at((1024.0, 768.0), prefs());
    person.press("Ladder diagram alone");
    assert!(person.harness.state().desk().derived().ladder.as_ref().unwrap().rungs.is_empty());
}

#[test]
fn both_diagrams_have_room_on_small_screens() {
    for size in [(1024.0, 768.0), (1366.0, 768.0)] {
        for touch in [false, true] {
            let mut person = Person::at(size, Prefs { touch, ..prefs() });
            person.open(&diagram("pantry-locker.ron"));
            person.press(BOTH);
            let screen = egui::Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(size.0, size.1));
            let (canvas, ladder) = (rect_of(&person, "Canvas").unwrap(), rect_of(&person, "Ladder diagram").unwrap());
            for rect in [canvas, ladder] {
                assert!(screen.contains_rect(rect) && rect.width() >= 250.0 && rect.height() >= 200.0, "{rect:?}");
            }
            assert!(!canvas.shrink(1.0).intersects(ladder.shrink(1.0)));
            for sheets in Sheets::ALL {
                let button = rect_of(&person, sheets.name()).unwrap();
                assert!(screen.contains_rect(button), "{button:?}");
                let role = person.harness.get_by_label(sheets.name()).accesskit_node().role();
                assert_eq!(role, egui::accesskit::Role::Button);
            }
        }
    }
}

#[test]
fn pictures_of_the_ladder_are_drawn_where_this_computer_can_draw() {
    for size in [(1366.0, 768.0), (1024.0, 768.0)] {
        for (name, file, chosen) in [("proofer", "proofer.ron", "K2"), ("pantry", "pantry-locker.ron", "F1")] {
            let Some(mut person) = Person::with_pictures(size, prefs()) else { return };
            person.open(&diagram(file));
            person.go(Stage::Parts);
            person.press(BOTH);
            let part = person.harness.state().desk().machine().part_by_tag(chosen).unwrap();
            person.harness.state_mut().view_mut().selection = Selection::of(part);
            person.look();
            if !save(&mut person, &format!("ladder-both-{name}-{}", size.0)) {
                return;
            }
            person.press("Ladder diagram alone");
            let wire = person.harness.state().desk().machine().wires.ids().nth(4).unwrap();
            person.harness.state_mut().view_mut().selection = Selection::of(wire);
            let live = person.harness.state().desk().machine().conditions.ids().nth(2);
            person.harness.state_mut().desk_mut().set_condition(live);
            person.look();
            save(&mut person, &format!("ladder-alone-{name}-{}", size.0));
        }
    }
}
