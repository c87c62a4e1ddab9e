//! On small screens everything stays on the screen, in every stage, theme and in touch mode.

use egui::Rect;
use egui_kittest::kittest::{NodeT as _, Queryable as _};
use wirewitness::app::theme::TOUCH_SIDE;
use wirewitness::app::{Prefs, Selection, Stage};
use wirewitness::machine::{Machine, Thing};

use crate::person::{Person, diagram, prefs};

/// Controls that lie outside the screen to the side, or outside it altogether though nothing scrolls there.
pub fn outside(person: &Person, screen: Rect) -> Vec<String> {
    let mut found = Vec::new();
    let mut open = vec![person.harness.root()];
    while let Some(node) = open.pop() {
        let inner = node.accesskit_node();
        if egui::accessibility::is_input(inner.role())
            && !inner.is_hidden()
            && let Some(bounds) = inner.bounding_box()
        {
            #[allow(clippy::cast_possible_truncation)] // points of a screen
            let (left, right) = (bounds.x0 as f32, bounds.x1 as f32);
            if left < screen.left() - 0.5 || right > screen.right() + 0.5 {
                found.push(format!("{:?} {:?} from {left} to {right}", inner.role(), inner.label()));
            }
        }
        open.extend(node.children());
    }
    found
}

#[test]
fn nothing_lies_off_the_screen_at_1024_by_768_nor_at_1366_by_768() {
    for size in [(1024.0, 768.0), (1366.0, 768.0)] {
        for touch in [false, true] {
            let mut person = Person::at(size, Prefs { touch, ..prefs() });
            person.harness.state_mut().desk_mut().open(&diagram("pantry-locker.ron"));
            person.look();
            for stage in Stage::ALL {
                person.go(stage);
                let screen = Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(size.0, size.1));
                let found = outside(&person, screen);
                assert!(found.is_empty(), "{size:?}, touch {touch}, {}: {found:#?}", stage.words());
            }
            let conditions: Vec<_> = person.harness.state().desk().machine().conditions.ids().collect();
            for id in conditions {
                person.harness.state_mut().desk_mut().set_condition(Some(id));
                person.look();
                let found = outside(&person, Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(size.0, size.1)));
                assert!(found.is_empty(), "{size:?}, touch {touch}, condition {id:?}: {found:#?}");
            }
        }
    }
}

#[test]
fn in_touch_mode_everything_that_is_pressed_is_large_enough() {
    let mut person = Person::at((1366.0, 768.0), Prefs { touch: true, ..prefs() });
    person.harness.state_mut().desk_mut().open(&diagram("pantry-locker.ron"));
    person.look();
    for stage in Stage::ALL {
        person.go(stage);
        let mut small = Vec::new();
        let mut open = vec![person.harness.root()];
        while let Some(node) = open.pop() {
            let inner = node.accesskit_node();
            let pressed = matches!(
                inner.role(),
                egui::accesskit::Role::Button | egui::accesskit::Role::ComboBox | egui::accesskit::Role::TextInput
            );
            if pressed
                && let Some(bounds) = inner.bounding_box()
                && (bounds.height() < f64::from(TOUCH_SIDE) - 0.5 || bounds.width() < f64::from(TOUCH_SIDE) - 0.5)
            {
                small.push(format!("{:?} {} by {}", inner.label(), bounds.width(), bounds.height()));
            }
            open.extend(node.children());
        }
        assert!(small.is_empty(), "{}: {small:#?}", stage.words());
    }
}

/// Controls of the card that run over its right edge, where they are cut off.
fn cut_off(person: &Person, card: &std::ops::RangeInclusive<f32>) -> Vec<String> {
    let mut found = Vec::new();
    let mut open = vec![person.harness.root()];
    while let Some(node) = open.pop() {
        let inner = node.accesskit_node();
        if egui::accessibility::is_input(inner.role()) && !inner.is_hidden() {
            let rect = node.rect();
            if *card.start() <= rect.left() && rect.right() > *card.end() + 0.5 {
                found.push(format!("{:?} {:?} {rect:?}", inner.role(), inner.label()));
            }
        }
        open.extend(node.children());
    }
    found
}

/// Where something with this in its name lies.
#[track_caller]
fn rect_of(person: &Person, part: &str) -> Rect {
    let found = person.harness.query_all_by_label_contains(part).next();
    found.unwrap_or_else(|| panic!("nothing is called '{part}', only {:?}", person.names())).rect()
}

fn machine(person: &Person) -> Machine {
    person.harness.state().desk().machine().as_ref().clone()
}

#[test]
fn what_a_reading_means_and_the_keys_it_is_entered_with_are_on_the_screen_at_every_size_of_writing() {
    for size in [(1024.0, 768.0), (1366.0, 768.0)] {
        for (text_size, touch) in [(13, false), (13, true), (18, false), (18, true), (24, true)] {
            let mut person = Person::at(size, Prefs { touch, text_size, ..prefs() });
            person.open(&diagram("pantry-locker.ron"));
            person.go(Stage::Readings);
            let live = machine(&person).conditions.iter().find(|(_, c)| c.name.contains("live")).map(|(id, _)| id);
            assert!(live.is_some());
            person.harness.state_mut().desk_mut().set_condition(live);
            person.look();
            person.type_in("Value of the reading", "tone");
            let screen = Rect::from_min_size(egui::Pos2::ZERO, egui::vec2(size.0, size.1));
            let here = format!("{size:?}, writing of {text_size}, touch {touch}");
            let says = rect_of(&person, "Isolate and verify before a tone");
            assert!(screen.contains_rect(says), "{here}: {says:?}");
            let mut parts = vec![says];
            let keys = [
                "red probe: ",
                "black probe: ",
                "Swap the probes",
                "Meter set to",
                "Value of the reading",
                "Value: tone",
                "Value: no tone",
                "Value: OL",
                "Log the reading",
            ];
            for name in keys {
                let rect = rect_of(&person, name);
                assert!(screen.contains_rect(rect), "{here}: {name} at {rect:?}");
                assert!(parts.iter().all(|other| !other.shrink(1.0).intersects(rect)), "{here}: {name} covers another");
                parts.push(rect);
            }
            let canvas = rect_of(&person, "Canvas");
            assert!(canvas.height() >= 300.0 && canvas.bottom() <= says.top(), "{here}: {canvas:?} above {says:?}");
            for stage in Stage::ALL {
                person.go(stage);
                let rect = rect_of(&person, &format!("{}, ", stage.words()));
                assert!(screen.contains_rect(rect), "{here}: {} at {rect:?}", stage.words());
                let found = outside(&person, screen);
                assert!(found.is_empty(), "{here}, {}: {found:#?}", stage.words());
            }
        }
    }
}

#[test]
fn nothing_that_is_shown_moves_the_drawing() {
    for (size, text_size) in [((1366.0, 768.0), 13), ((1024.0, 768.0), 13), ((1024.0, 768.0), 18)] {
        let mut person = Person::at(size, Prefs { text_size, ..prefs() });
        person.open(&diagram("pantry-locker.ron"));
        let machine = machine(&person);
        let mut things: Vec<Thing> = machine.parts.ids().map(Thing::from).collect();
        things.extend(machine.wires.ids().map(Thing::from));
        things.extend(machine.photos.ids().map(Thing::Photo));
        things.extend(machine.readings.ids().map(Thing::Reading));
        things.extend(machine.mysteries.ids().map(Thing::Mystery));
        things.extend(machine.conditions.ids().map(Thing::Condition));
        for folded in [false, true] {
            let mut seen: Vec<Rect> = Vec::new();
            // In the stage of the sheet pages stand in place of the drawing.
            for stage in Stage::ALL.into_iter().filter(|&stage| stage != Stage::Sheet) {
                person.go(stage);
                // Each stage with something selected; the list as it is, or put away.
                for (n, thing) in things.iter().enumerate() {
                    if stage != Stage::Parts && n % 9 != 0 {
                        continue;
                    }
                    person.harness.state_mut().view_mut().selection = Selection::of(thing.clone());
                    person.harness.state_mut().view_mut().list_hidden = folded;
                    person.harness.run_steps(2);
                    let canvas = rect_of(&person, "Canvas");
                    assert!(canvas.width() >= if folded { 480.0 } else { 300.0 }, "{size:?} {text_size}: {canvas:?}");
                    let card = canvas.right() + 2.0..=size.0 - 6.0;
                    let cut = cut_off(&person, &card);
                    assert!(cut.is_empty(), "{size:?} {text_size}, {}: {cut:#?}", machine.thing_name(thing));
                    if seen.last().is_none_or(|last| last.left() != canvas.left() || last.right() != canvas.right()) {
                        seen.push(canvas);
                    }
                }
            }
            assert_eq!(seen.len(), 1, "{size:?}, writing of {text_size}, folded {folded}: the drawing moved: {seen:?}");
        }
    }
}

#[test]
fn on_a_narrow_window_what_is_pointed_at_takes_the_room_of_the_list() {
    let mut person = Person::at((1024.0, 768.0), prefs());
    person.open(&diagram("pantry-locker.ron"));
    person.go(Stage::Parts);
    assert!(person.sees("Search parts"));
    person.click_on("Terminal K1.11");
    assert!(!person.sees("Search parts"), "the list folds away");
    assert!(person.sees("Marking as printed"), "for the card");
    person.press_like("Parts, ");
    assert!(person.sees("Search parts"), "and comes back by its stage");
    // There is room for both on a wider one.
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.open(&diagram("pantry-locker.ron"));
    person.go(Stage::Parts);
    person.click_on("Terminal K1.11");
    assert!(person.sees("Search parts") && person.sees("Marking as printed"));
}
