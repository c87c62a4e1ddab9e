//! Saving never leaves half a record, never loses what others wrote, and leaves autosaves whole.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on is to fail at once, its helpers too")]

use std::path::Path;

use wirewitness::catalogue::Catalogue;
use wirewitness::machine::{Machine, Part, Photo, Visit};
use wirewitness::store::recovery::{self, Held};
use wirewitness::store::{self, Expected, Lock, LockError, SaveError, frozen, photos};

/// A record whose title is its number, with that many parts.
fn record(number: usize) -> Machine {
    let mut machine = Machine::default();
    machine.facts.title = number.to_string();
    for at in 0..number {
        machine.parts.add(Part { tag: format!("K{at}"), kind: "k".to_owned(), ..Part::default() });
    }
    machine
}

/// Loads a record and checks that it is one that [`record`] makes.
fn whole(path: &Path) -> usize {
    let machine = store::load_leniently(path, &Catalogue::default()).unwrap().machine;
    let number = machine.facts.title.parse().unwrap();
    assert_eq!(machine, record(number), "{}", path.display());
    number
}

#[test]
fn a_save_returns_the_hash_that_loading_gives_and_keeps_the_previous_version() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.ron");
    let first = store::save(&record(1), &path, Expected::NoFile, "test").unwrap();
    assert_eq!(store::load_leniently(&path, &Catalogue::default()).unwrap().hash, first);
    let second = store::save(&record(2), &path, Expected::Hash(&first), "test").unwrap();
    assert_eq!((whole(&path), whole(&folder.path().join("a.ron.previous"))), (2, 1));
    store::save(&record(2), &path, Expected::Hash(&second), "test").unwrap();
    assert_eq!(whole(&folder.path().join("a.ron.previous")), 1, "saving the same again keeps what was different");
    let mut names: Vec<_> = std::fs::read_dir(folder.path())
        .unwrap()
        .map(|entry| entry.unwrap().file_name().into_string().unwrap())
        .collect();
    names.sort();
    assert_eq!(names, ["a.ron", "a.ron.previous"], "no lock and nothing half-written stays");
}

#[test]
fn what_others_wrote_is_not_replaced_unasked() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.ron");
    let hash = store::save(&record(1), &path, Expected::NoFile, "test").unwrap();
    let refused = |expected| store::save(&record(2), &path, expected, "test").unwrap_err();
    assert!(matches!(refused(Expected::NoFile), SaveError::Exists(_)));
    std::fs::write(&path, "not a record at all").unwrap();
    let error = refused(Expected::Hash(&hash));
    assert!(matches!(error, SaveError::Changed(_)) && error.to_string().contains("another name"), "{error}");
    assert_eq!(std::fs::read_to_string(&path).unwrap(), "not a record at all");
    store::save(&record(2), &path, Expected::Whatever, "test").unwrap();
    assert_eq!(std::fs::read_to_string(folder.path().join("a.ron.previous")).unwrap(), "not a record at all");
    std::fs::remove_file(&path).unwrap();
    assert!(matches!(refused(Expected::Hash(&hash)), SaveError::Gone(_)));
}

#[test]
fn a_record_that_could_not_be_read_again_is_not_saved() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.ron");
    let mut twice = record(1);
    twice.parts.add(Part { tag: "K0".to_owned(), kind: "k".to_owned(), ..Part::default() });
    let error = store::save(&twice, &path, Expected::NoFile, "test").unwrap_err();
    assert!(matches!(error, SaveError::Unsound(_)) && error.to_string().contains("'K0' is used twice"), "{error}");
    assert!(!path.exists());
}

#[test]
fn a_record_open_elsewhere_can_be_read_but_not_written() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.ron");
    let lock = Lock::take(&path, "Wirewitness, bench 2, since 10:15").unwrap();
    lock.save(&record(1), Expected::NoFile).unwrap();
    assert_eq!(whole(&path), 1);
    let error = store::save(&record(2), &path, Expected::Whatever, "test").unwrap_err();
    assert!(matches!(&error, SaveError::Locked(LockError::Held { .. })), "{error}");
    assert!(cfg!(not(unix)) || error.to_string().contains("bench 2"), "{error}");
    drop(lock);
    store::save(&record(2), &path, Expected::Whatever, "test").unwrap();
}

#[cfg(unix)]
#[test]
fn a_link_stays_a_link_and_the_file_keeps_its_permissions() {
    use std::os::unix::fs::PermissionsExt;
    let folder = tempfile::tempdir().unwrap();
    let (path, link) = (folder.path().join("a.ron"), folder.path().join("link.ron"));
    store::save(&record(1), &path, Expected::NoFile, "test").unwrap();
    std::fs::set_permissions(&path, std::fs::Permissions::from_mode(0o640)).unwrap();
    std::os::unix::fs::symlink(&path, &link).unwrap();
    store::save(&record(2), &link, Expected::Whatever, "test").unwrap();
    assert!(link.symlink_metadata().unwrap().is_symlink());
    assert_eq!(whole(&path), 2);
    assert_eq!(path.metadata().unwrap().permissions().mode() & 0o777, 0o640);
}

#[test]
fn a_picture_is_kept_once_and_a_missing_one_is_a_remark_at_its_photo() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.ron");
    let (hash, file) = photos::add(&path, b"abc", "../IMG 1.JPG").unwrap();
    // The digest of "abc" as published in FIPS 180-4's example values.
    assert_eq!(hash, "ba7816bf8f01cfea414140de5dae2223b00361a396177a9cb410ff61f20015ad");
    assert_eq!(file, folder.path().join(format!("a.photos/{hash}.jpg")));
    assert_eq!(photos::add(&path, b"abc", "copy.jpg").unwrap().1, file);
    std::fs::write(&file, b"damaged").unwrap();
    photos::add(&path, b"abc", "copy.jpg").unwrap();
    assert_eq!(std::fs::read(&file).unwrap(), b"abc");
    let mut machine = Machine::default();
    machine.photos.add(Photo { name: "p".to_owned(), hash, original_name: "x.jpg".to_owned(), ..Photo::default() });
    store::save(&machine, &path, Expected::NoFile, "test").unwrap();
    assert_eq!(store::load(&path, &Catalogue::default()).unwrap().remarks, []);
    std::fs::remove_file(&file).unwrap();
    let remarks = store::load(&path, &Catalogue::default()).unwrap().remarks;
    assert!(remarks.len() == 1 && remarks[0].line == 5 && remarks[0].message.contains("missing"), "{remarks:?}");
}

#[test]
fn a_frozen_copy_reads_back_and_a_change_to_it_is_noticed() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.ron");
    let mut machine = record(3);
    let visit = Visit { name: "v".to_owned(), as_found: Some("0".repeat(64)), ..Visit::default() };
    machine.visits.add(visit);
    let hash = frozen::write(&machine, &path).unwrap();
    let copy = frozen::read(&path, &hash, &Catalogue::default()).unwrap().machine;
    assert_eq!(copy.parts, machine.parts);
    assert!(copy.visits.values().all(|visit| visit.as_found.is_none()));
    let file = folder.path().join(format!("a.visits/{hash}.ron"));
    std::fs::write(&file, std::fs::read_to_string(&file).unwrap() + " ").unwrap();
    assert!(frozen::read(&path, &hash, &Catalogue::default()).unwrap_err().to_string().contains("changed"));
}

#[test]
fn autosaves_are_found_again_with_their_record_and_time() {
    let folder = tempfile::tempdir().unwrap();
    let autosaves = folder.path().join("autosaves");
    assert_eq!(recovery::list(&autosaves).unwrap(), []);
    let record_path = folder.path().join("a.ron");
    let named = Held::of_record(&autosaves, &record_path, "first").unwrap();
    named.write(&record(1), "2026-03-02 10:15", None).unwrap();
    named.write(&record(2), "2026-03-02 10:16", Some("abc")).unwrap();
    let (unnamed, unused) = (Held::unnamed(&autosaves, "a").unwrap(), Held::unnamed(&autosaves, "b").unwrap());
    assert_ne!(unnamed.slot(), unused.slot());
    unnamed.write(&record(3), "2026-03-02 10:17", None).unwrap();
    assert_eq!(recovery::list(&autosaves).unwrap(), [], "all are at work");
    drop((named, unnamed, unused));
    let found = recovery::list(&autosaves).unwrap();
    assert_eq!(found.len(), 2, "a place that was never written to is no autosave: {found:?}");
    assert_eq!((found[0].slot.record(), found[0].made.as_str()), (Some(record_path.as_path()), "2026-03-02 10:16"));
    assert_eq!((found[1].slot.record(), found[1].made.as_str()), (None, "2026-03-02 10:17"));
    assert_eq!(found[0].slot.load(&Catalogue::default()).unwrap().machine, record(2));
    for one in &found {
        let held = one.slot.hold("second").unwrap();
        let refused = one.slot.hold("third").unwrap_err().to_string();
        assert!(refused.contains("second"), "{refused}");
        held.discard().unwrap();
        held.discard().unwrap();
        held.write(&record(4), "2026-03-02 10:18", None).unwrap();
    }
    // What a program that died left without ever having saved aside.
    std::fs::write(autosaves.join("unnamed-1.ron.lock"), "long gone").unwrap();
    std::fs::create_dir(autosaves.join("unnamed-1.photos")).unwrap();
    assert!(Held::unnamed(&autosaves, "next").unwrap().slot().file().ends_with("unnamed-1.ron"));
    assert_eq!(std::fs::read_dir(&autosaves).unwrap().count(), 0, "nothing is left lying, nor written once discarded");
}

/// Set for the child of the kill test: the folder it saves in.
const CHILD: &str = "WIREWITNESS_TEST_SAVES_IN";
/// Set for the child too: the number of its first record.
const FIRST: &str = "WIREWITNESS_TEST_SAVES_FROM";

/// Not a test by itself: the child process of the kill test, which saves until it is killed.
#[test]
fn child_that_saves_until_it_is_killed() {
    let Some(folder) = std::env::var_os(CHILD) else { return };
    let first: usize = std::env::var(FIRST).unwrap().parse().unwrap();
    let path = Path::new(&folder).join("a.ron");
    let autosave = Held::of_record(&Path::new(&folder).join("autosaves"), &path, "child").unwrap();
    for number in first.. {
        store::save(&record(number), &path, Expected::Whatever, "child").unwrap();
        autosave.write(&record(number), "now", None).unwrap();
        std::fs::write(Path::new(&folder).join("saving"), "").unwrap();
    }
}

#[cfg(unix)]
#[test]
fn two_hundred_kills_in_the_midst_of_saving_leave_a_whole_record_each_time() {
    use std::process::{Command, Stdio};
    use std::time::{Duration, Instant};
    let folder = tempfile::tempdir().unwrap();
    let (path, saving) = (folder.path().join("a.ron"), folder.path().join("saving"));
    store::save(&record(0), &path, Expected::NoFile, "test").unwrap();
    for round in 1..=200_u32 {
        let _ = std::fs::remove_file(&saving);
        let mut child = Command::new(std::env::current_exe().unwrap())
            .args(["child_that_saves_until_it_is_killed", "--exact"])
            .env(CHILD, folder.path())
            .env(FIRST, round.to_string())
            .stdout(Stdio::null())
            .stderr(Stdio::null())
            .spawn()
            .unwrap();
        let start = Instant::now();
        while !saving.exists() && start.elapsed() < Duration::from_secs(20) {
            std::thread::sleep(Duration::from_millis(1));
        }
        // Somewhere within the next saves; the multiplier scatters the rounds.
        std::thread::sleep(Duration::from_micros(u64::from(round) * 7_919 % 15_000));
        // On Unix this is SIGKILL.
        child.kill().unwrap();
        child.wait().unwrap();
        assert!(saving.exists(), "the child of round {round} never saved");
        assert!(whole(&path) >= usize::try_from(round).unwrap(), "a save that was reported as done is gone");
        whole(&folder.path().join("a.ron.previous"));
        let autosaves = recovery::list(&folder.path().join("autosaves")).unwrap();
        assert_eq!(autosaves.len(), 1);
        whole(autosaves[0].slot.file());
        // Left lying it would stay: the next run keeps its own beside it.
        autosaves[0].slot.hold("test").unwrap().discard().unwrap();
    }
    Lock::take(&path, "test").unwrap();
}
