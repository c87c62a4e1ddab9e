//! On small screens everything stays on the screen, in every stage, theme and in touch mode.

use egui::Rect;
use egui_kittest::kittest::NodeT as _;
use wirewitness::app::theme::TOUCH_SIDE;
use wirewitness::app::{Prefs, Stage};

use crate::person::{Person, diagram, prefs};

/// Controls that lie outside the screen to the side, or outside it altogether though nothing scrolls there.
fn outside(person: &Person, screen: Rect) -> Vec<String> {
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
