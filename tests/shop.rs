//! A folder of records at a glance.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use std::fs;
use std::path::Path;
use std::sync::Arc;

use wirewitness::catalogue::Catalogue;
use wirewitness::desk::shop;
use wirewitness::findings::{Severity, check};
use wirewitness::generate::invented_machine;
use wirewitness::machine::Visit;
use wirewitness::store::text_of;

fn write(folder: &Path, name: &str, seed: u64) -> Arc<wirewitness::machine::Machine> {
    let mut machine = invented_machine(12, seed);
    machine.facts.title = format!("machine {seed}");
    for date in ["2026-01-05", "2026-04-01", "2025-12-30"] {
        machine.visits.add(Visit { name: date.into(), date: date.into(), ..Visit::default() });
    }
    fs::write(folder.join(name), text_of(&machine)).unwrap();
    Arc::new(machine)
}

#[test]
fn every_machine_is_listed_with_what_is_open_and_one_bad_record_stops_no_other() {
    let catalogue = Catalogue::built_in().unwrap();
    let folder = tempfile::tempdir().unwrap();
    fs::create_dir_all(folder.path().join("north/a.photos")).unwrap();
    let first = write(folder.path(), "b.ron", 1);
    write(&folder.path().join("north"), "a.ron", 2);
    // Not machines: a photo folder, a hidden file, another ending.
    write(&folder.path().join("north/a.photos"), "x.ron", 3);
    write(folder.path(), ".hidden.ron", 4);
    fs::write(folder.path().join("notes.txt"), "no record").unwrap();
    for (name, bytes) in
        [("c.ron", b"(format: 1, wires: [".as_slice()), ("d.ron", b"\xff\x00"), ("e.ron", b"(format: 99)")]
    {
        fs::write(folder.path().join(name), bytes).unwrap();
    }
    let found = shop(folder.path(), &catalogue, None);
    let files: Vec<String> =
        found.machines.iter().map(|one| one.file.strip_prefix(folder.path()).unwrap().display().to_string()).collect();
    assert_eq!(files, ["b.ron", "north/a.ron"]);
    assert_eq!(found.unreadable.len(), 3);
    for (file, why) in &found.unreadable {
        assert!(why.contains(&file.display().to_string()), "{why}");
    }
    let one = &found.machines[0];
    let open = |severity| {
        check(&first, &catalogue)
            .iter()
            .filter(|finding| finding.severity == severity && !finding.is_accepted())
            .count()
    };
    assert_eq!([one.dangers, one.faults, one.doubts], [Severity::Danger, Severity::Fault, Severity::Doubt].map(open));
    assert_eq!(one.last_visit.as_deref(), Some("2026-04-01"));
    assert_eq!(one.size[1], 12);
}

#[test]
fn a_search_finds_kinds_tags_and_notes_across_all() {
    let catalogue = Catalogue::built_in().unwrap();
    let folder = Path::new(env!("CARGO_MANIFEST_DIR")).join("diagrams");
    let found = |text: &str| {
        let shop = shop(&folder, &catalogue, Some(text));
        shop.machines
            .into_iter()
            .flat_map(|one| {
                let name = one.file.file_stem().unwrap().to_string_lossy().into_owned();
                one.found.into_iter().map(move |found| (name.clone(), found.at, found.field))
            })
            .collect::<Vec<_>>()
    };
    // What the records of the demo machines say: the locker's relays, its pink lead, its grommet.
    let relays = found("RELAY-CHANGE-over");
    assert!(relays.contains(&("pantry-locker".into(), "K1".into(), "kind")), "{relays:?}");
    let pink = found("pink lead");
    assert!(pink.iter().any(|(file, at, field)| file == "pantry-locker" && at == "G3" && *field == "note"), "{pink:?}");
    assert!(found("w51").iter().any(|(_, at, field)| at == "W51" && *field == "tag"));
    assert_eq!(found("no such words anywhere"), []);
}

#[test]
fn a_folder_that_is_not_there_is_a_remark() {
    let catalogue = Catalogue::built_in().unwrap();
    let found = shop(Path::new("no/such/folder"), &catalogue, None);
    assert!(found.machines.is_empty() && found.remarks.len() == 1);
}
