//! The main job, done through the window: parts, wires, a reading, a finding, undo, save, reopen.

use egui::Key;
use egui_kittest::kittest::Queryable as _;
use wirewitness::app::{Prefs, Stage};
use wirewitness::machine::{Machine, Spot};

use crate::person::{Person, prefs};

fn machine(person: &Person) -> Machine {
    person.harness.state().desk().machine().as_ref().clone()
}

fn place(person: &mut Person, search: &str, title: &str) {
    person.type_in("Search parts", search);
    person.press(title);
    person.press("Place it now");
    person.press("Stop placing");
}

fn wire(person: &mut Person, from: &str, to: &str) {
    person.type_in("New wire, from", from);
    person.type_in("New wire, to", to);
    person.press("Add the wire");
}

#[test]
fn two_relays_and_a_load_are_placed_wired_read_judged_undone_saved_and_opened_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut person = Person::at((1366.0, 768.0), prefs());
    let empty = machine(&person);

    person.write("Title of the machine", "Bench test, invented");
    person.go(Stage::Parts);
    place(&mut person, "relay change over", "Relay, one change-over");
    place(&mut person, "relay change over", "Relay, one change-over");
    place(&mut person, "heater", "Heater");
    let placed = machine(&person);
    let tags: Vec<&str> = placed.parts.values().map(|part| part.tag.as_str()).collect();
    assert_eq!(tags.len(), 3, "{tags:?}");

    person.go(Stage::Wires);
    person.press("Add a wire by its ends");
    let load = placed.parts.values().next_back().unwrap().tag.clone();
    wire(&mut person, &format!("{}.14", tags[0]), &format!("{load}.1"));
    wire(&mut person, &format!("{}.14", tags[1]), &format!("{load}.2"));
    wire(&mut person, &format!("{}.A1", tags[0]), "loose");
    assert_eq!(machine(&person).wires.len(), 3);

    // A reading between the two ends of the first wire; it is joined by wire, so no tone disputes the record.
    person.press("Condition");
    person.press("New condition");
    person.go(Stage::Readings);
    let drawn = machine(&person);
    let probe = |person: &mut Person, tag: &str, marking: &str, words: &str| {
        person.go(Stage::Parts);
        person.type_in("Search parts", tag);
        person.press_like(&format!("{tag}, "));
        person.press_like(&format!("{marking}: "));
        person.press(words);
    };
    probe(&mut person, tags[0], "14", "Red probe here");
    probe(&mut person, &load, "1", "Black probe here");
    person.go(Stage::Readings);
    person.type_in("Value of the reading", "no tone");
    person.key(Key::Enter);
    let read = machine(&person);
    assert_eq!(read.readings.len(), 1);
    let reading = read.readings.values().next().unwrap();
    assert_eq!(reading.value.to_string(), "no tone");
    assert_eq!(reading.when, crate::person::NOW);
    assert_eq!(reading.who, "A. Witness");
    assert!(reading.condition.is_some());

    person.go(Stage::Findings);
    let rules: Vec<&str> =
        person.harness.state().desk().derived().findings.iter().map(|finding| finding.rule).collect();
    assert!(rules.contains(&"reading-disputes-diagram"), "{rules:?}");
    person.press_like("no tone between");
    assert!(person.sees("Why it matters"));

    // Everything that was done can be taken back, and done again.
    person.key(Key::Escape);
    while person.harness.state().desk().undo_label().is_some() {
        person.command(Key::Z);
    }
    assert_eq!(machine(&person), empty);
    while person.harness.state().desk().redo_label().is_some() {
        person.command(Key::Y);
    }
    assert_eq!(machine(&person), read);
    assert_ne!(drawn, read);

    let path = folder.path().join("bench.ron");
    person.command(Key::S);
    person.type_in("Path to save the record to", path.to_str().unwrap());
    person.press("Save it");
    assert!(path.exists(), "{:?}", person.harness.state().messages());
    assert!(!person.harness.state().desk().is_changed());
    person.command(Key::N);
    assert_eq!(machine(&person), empty);
    person.command(Key::O);
    person.type_in("Path of the record to open", path.to_str().unwrap());
    person.press("Open it");
    assert_eq!(machine(&person), read, "{:?}", person.harness.state().messages());
}

#[test]
fn a_file_that_is_not_there_is_said_and_nothing_is_lost() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.write("Title of the machine", "Kept");
    person.command(Key::O);
    assert!(person.sees("Not saved"), "unsaved changes stand in the way");
    person.press("Go on without saving");
    person.type_in("Path of the record to open", "/no/such/file.ron");
    person.press("Open it");
    assert!(person.sees("/no/such/file.ron"), "{:?}", person.harness.state().messages());
    assert_eq!(machine(&person).facts.title, "Kept");
}

#[test]
fn a_wire_is_drawn_and_a_reading_taken_by_pointing_at_the_canvas() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.go(Stage::Parts);
    place(&mut person, "relay change over", "Relay, one change-over");
    place(&mut person, "heater", "Heater");
    person.key(Key::Escape);
    person.key(Key::Escape);
    person.key(Key::F);
    let placed = machine(&person);
    let tags: Vec<String> = placed.parts.values().map(|part| part.tag.clone()).collect();
    let (common, load) = (format!("Terminal {}.14", tags[0]), format!("Terminal {}.1", tags[1]));

    person.go(Stage::Wires);
    person.click_on(&common);
    person.click_on(&load);
    let drawn = machine(&person);
    let wire = drawn.wires.values().next().expect("a wire from terminal to terminal");
    assert_eq!(drawn.end_name(&wire.from.at), format!("{}.14", tags[0]));
    assert_eq!(drawn.end_name(&wire.to.at), format!("{}.1", tags[1]));

    person.press("Condition");
    person.press("New condition");
    person.go(Stage::Readings);
    person.key(Key::Escape);
    person.point_at(&common);
    person.key(Key::Num1);
    person.point_at(&load);
    person.key(Key::Num2);
    // The second probe brings the writing mark into the value field: digits and units go in directly.
    person.harness.event(egui::Event::Text("tone".to_owned()));
    person.look();
    assert!(person.sees("Agrees"), "{:?}", person.names());
    person.key(Key::Enter);
    let read = machine(&person);
    let reading = read.readings.values().next().expect("a reading in the log");
    assert_eq!(reading.value.to_string(), "tone");
    assert_eq!(read.spot_name(&reading.red), format!("{}.14", tags[0]));
    assert_eq!(reading.black.as_ref().map(|spot| read.spot_name(spot)), Some(format!("{}.1", tags[1])));
}

#[test]
fn a_right_click_offers_what_can_be_done_with_the_thing_there() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.go(Stage::Parts);
    place(&mut person, "heater", "Heater");
    let tag = machine(&person).parts.values().next().unwrap().tag.clone();
    person.key(Key::F);
    person.harness.get_by_label(&format!("Terminal {tag}.1")).click_secondary();
    person.look();
    person.press("Red probe here");
    assert!(person.harness.state().view().probes.red.is_some());
}

/// A press with a finger or the mouse beside the middle of what has this name, so many points off.
fn press_beside(person: &mut Person, name: &str, off: egui::Vec2) {
    let pos = person.harness.get_by_label(name).rect().center() + off;
    let button = |pressed| egui::Event::PointerButton {
        pos,
        button: egui::PointerButton::Primary,
        pressed,
        modifiers: egui::Modifiers::NONE,
    };
    person.harness.event(egui::Event::PointerMoved(pos));
    person.look();
    person.harness.event(button(true));
    person.harness.event(button(false));
    person.look();
}

#[test]
fn in_touch_mode_a_finger_meets_terminals_and_ends_in_a_round_of_36_points() {
    for touch in [true, false] {
        let mut person = Person::at((1366.0, 768.0), Prefs { touch, ..prefs() });
        person.go(Stage::Parts);
        place(&mut person, "heater", "Heater");
        let tag = machine(&person).parts.values().next().unwrap().tag.clone();
        person.go(Stage::Wires);
        if !person.names().contains(&"New wire, from".to_owned()) {
            person.press("Add a wire by its ends");
        }
        wire(&mut person, &format!("{tag}.1"), &format!("{tag}.2"));
        person.go(Stage::Readings);
        person.key(Key::F);
        for name in [format!("Terminal {tag}.1"), "End W1.from".to_owned()] {
            for turn in [0.0_f32, 1.0, 2.0, 3.0, 4.0, 5.0, 6.0, 7.0] {
                person.key(Key::Escape);
                person.key(Key::Escape);
                let far_off = egui::Vec2::angled(turn * std::f32::consts::FRAC_PI_4) * 17.5;
                press_beside(&mut person, &name, far_off);
                let red = person.harness.state().view().probes.red.clone();
                let said = red.map(|spot| machine(&person).spot_name(&spot)).unwrap_or_default();
                if touch {
                    assert!(name.ends_with(&said) && !said.is_empty(), "{name}, {turn} eighths of a turn: '{said}'");
                } else {
                    // The mouse is held to what it points at: a part of the drawn size and seven points more.
                    assert!(said.is_empty() || name.ends_with(&said), "{name}: '{said}'");
                }
            }
        }
    }
}

#[test]
fn a_press_on_a_flag_reads_its_finding() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.harness.state_mut().desk_mut().open(&crate::person::diagram("pantry-locker.ron"));
    person.look();
    person.go(Stage::Findings);
    let flags: Vec<String> =
        person.names().into_iter().filter(|name| name.starts_with("Flag of finding ")).take(4).collect();
    assert!(!flags.is_empty());
    for flag in flags {
        person.key(Key::F);
        press_beside(&mut person, &flag, egui::Vec2::ZERO);
        let state = person.harness.state();
        let read = state.view().finding.clone().unwrap_or_else(|| panic!("{flag} reads nothing"));
        let place = state.desk().derived().findings.iter().position(|f| f.rule == read.rule && f.about == read.about);
        assert_eq!(place.map(|place| format!("Flag of finding {}", place + 1)), Some(flag));
    }
}

#[test]
fn a_lead_is_lifted_for_a_condition_by_clicking_on_its_end_and_has_one_name_everywhere() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.go(Stage::Parts);
    place(&mut person, "heater", "Heater");
    let tag = machine(&person).parts.values().next().unwrap().tag.clone();
    person.go(Stage::Wires);
    person.press("Add a wire by its ends");
    wire(&mut person, &format!("{tag}.1"), &format!("{tag}.2"));
    assert!(person.sees("End W1.from") && person.sees("W1.to: Loose"), "{:?}", person.names());
    // What readings prove is computed from them; nobody presses it.
    assert!(person.sees("W1.to: seen") && person.sees("W1.to: assumed"));
    assert!(!person.sees("W1.to: proven") && !person.sees("W1.to: disputed"));
    person.press("Condition");
    person.press("New condition");
    person.press("Lift by clicking on the drawing");
    person.key(Key::F);
    let lifted = |person: &Person| {
        let machine = machine(person);
        let setting = machine.setting(machine.conditions.ids().next().unwrap());
        setting.lifted.iter().map(|&(wire, side)| machine.spot_name(&Spot::End(wire, side))).collect::<Vec<_>>()
    };
    person.click_on("End W1.to");
    assert_eq!(lifted(&person), ["W1.to"]);
    assert!(person.sees(&format!("Lift W1.to off {tag}.2")), "the step names the end and its terminal");
    // A terminal with one lead on it stands for that lead.
    person.click_on(&format!("Terminal {tag}.1"));
    assert_eq!(lifted(&person), ["W1.from", "W1.to"]);
    person.click_on("End W1.to");
    assert_eq!(lifted(&person), ["W1.from"]);
    person.key(Key::Escape);
    person.click_on("End W1.to");
    assert_eq!(lifted(&person), ["W1.from"], "Escape leads back to selecting");
    assert!(!machine(&person).wires.values().any(|wire| wire.from.lifted || wire.to.lifted), "the record itself stays");
}

#[test]
fn a_photo_that_is_turned_is_no_photo_that_is_scaled() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("side.png");
    image::RgbImage::new(60, 40).save(&path).unwrap();
    person.write("Path of a photo to add", path.to_str().unwrap());
    let unscaled = |person: &Person| person.sees("Photos, 1 open");
    assert!(unscaled(&person), "{:?}", person.names());
    person.press_like("Turn right");
    assert_eq!(machine(&person).photos.values().next().unwrap().size_px, [40, 60]);
    assert!(unscaled(&person));
}

#[test]
fn parts_that_no_search_finds_leave_the_reading_bar_free() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.harness.state_mut().desk_mut().open(&crate::person::diagram("pantry-locker.ron"));
    person.look();
    person.go(Stage::Parts);
    for search in ["no such thing", "K1", "battery"] {
        person.type_in("Search parts", search);
        let bar = person.harness.get_by_label_contains("red probe: ").rect();
        let placed = person.harness.get_by_label_contains("Placed: ").rect();
        assert!(placed.bottom() < bar.top() - 20.0, "'{search}': {placed:?} {bar:?}");
    }
}
