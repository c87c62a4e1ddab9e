//! In a build without paper the stage of the sheet says so, and writes lists and packs all the same.

use wirewitness::app::Stage;

use crate::person::{Person, prefs};

#[test]
fn a_build_without_paper_says_so_and_writes_lists_all_the_same() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    let folder = person.open_copy("proofer.ron");
    person.go(Stage::Sheet);
    assert!(person.sees("This build leaves paper out"), "{:?}", person.names());
    assert!(!person.sees("Save as PDF") && !person.sees("Make the pages"), "{:?}", person.names());
    person.press("Wire list (CSV)…");
    let file = folder.path().join("wires.csv");
    person.write("Path of the wire list to write", &file.display().to_string());
    let rows = csv::Reader::from_path(&file).unwrap().records().map(Result::unwrap).count();
    assert_eq!(rows, person.harness.state().desk().machine().wires.len());
}
