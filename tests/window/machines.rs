//! The machines of a folder: looked through, shown with a small drawing each, opened.

use egui_kittest::kittest::Queryable as _;
use wirewitness::app::{Action, Overlay};

use crate::person::{Person, diagram, prefs};
use crate::pictures::save;

#[test]
fn the_machines_of_a_folder_are_shown_with_what_is_open_and_one_is_opened() {
    let mut person = Person::at((1366.0, 900.0), prefs());
    person.press(Action::Machines.words());
    let folder = diagram("proofer.ron").parent().unwrap().display().to_string();
    person.write("Folder of machines", &folder);
    person.press("Look through");
    for title in ["Pantry locker, north door", "Flower cooler, shop front", "Dough proofer, bakery"] {
        assert!(person.sees(title), "{title}: {:?}", person.names());
        assert!(person.sees(&format!("Drawing of {title}")), "{title}: {:?}", person.names());
    }
    assert!(person.sees("2 dangers"), "what is open on the locker: {:?}", person.names());
    person.press("Open Pantry locker, north door");
    person.look();
    let shell = person.harness.state();
    assert_eq!(shell.view().overlay, Overlay::None);
    assert_eq!(shell.desk().machine().facts.title, "Pantry locker, north door");
}

#[test]
fn a_folder_that_is_not_there_is_told_of_and_a_bad_record_stops_no_other() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::copy(diagram("proofer.ron"), folder.path().join("proofer.ron")).unwrap();
    std::fs::write(folder.path().join("bad.ron"), "(format: 1, wires: [").unwrap();
    let mut person = Person::at((1366.0, 900.0), prefs());
    person.press(Action::Machines.words());
    person.write("Folder of machines", "no/such/folder");
    person.press("Look through");
    assert!(person.sees("there is no such folder"), "{:?}", person.names());
    person.write("Folder of machines", &folder.path().display().to_string());
    person.press("Look through");
    person.look();
    assert!(person.sees("Dough proofer, bakery"), "{:?}", person.names());
    assert!(person.sees("bad.ron"), "{:?}", person.names());
    let _ = person.harness.query_by_label("Close");
}

/// For a person to look at.
#[test]
fn a_picture_of_the_machines_of_a_folder() {
    let Some(mut person) = Person::with_pictures((1366.0, 900.0), prefs()) else {
        eprintln!("skipped: nothing here draws pictures");
        return;
    };
    person.press(Action::Machines.words());
    let folder = diagram("proofer.ron").parent().unwrap().display().to_string();
    person.write("Folder of machines", &folder);
    person.press("Look through");
    save(&mut person, "machines");
}
