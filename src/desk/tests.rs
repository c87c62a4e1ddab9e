//! The desk as a window uses it: steps, files, photos, recovery.

use std::collections::BTreeSet;
use std::io::Cursor;
use std::sync::Arc;

use super::{Desk, Event, Folders};
use crate::catalogue::Catalogue;
use crate::machine::{Part, Point};

fn desk(folders: Folders) -> Desk {
    Desk::new(Catalogue::built_in().unwrap(), Arc::new(|| "2026-03-02 10:15".to_owned()), folders)
}

fn place(desk: &mut Desk, tag: &str) {
    let part = Part { tag: tag.to_owned(), kind: "unknown-part".to_owned(), ..Part::default() };
    let (_, edit) = desk.machine().add_part(part);
    desk.apply(edit);
}

#[test]
fn a_record_is_saved_and_opened_again_the_same() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("machine.ron");
    let mut first = desk(Folders::default());
    place(&mut first, "K1");
    assert!(!first.save(), "there is no file yet");
    first.save_as(&path, false);
    assert_eq!(first.wait(), vec![Event::Saved(path.clone())]);
    assert!(!first.is_changed());

    let mut second = desk(Folders::default());
    second.open(&path);
    assert_eq!(second.wait(), vec![Event::Opened(path.clone())]);
    assert_eq!(second.machine(), first.machine());

    place(&mut second, "K2");
    assert!(second.is_changed() && second.save());
    second.wait();
    place(&mut first, "K3");
    first.save();
    let events = first.wait();
    assert!(
        matches!(&events[..], [Event::Failed { message, .. }] if message.contains("machine.ron")),
        "a file changed by another is not overwritten: {events:?}"
    );
    assert!(first.is_changed());
}

#[test]
fn results_follow_the_record() {
    let mut desk = desk(Folders::default());
    place(&mut desk, "K1");
    desk.wait();
    assert_eq!(desk.derived().revision, desk.revision());
    desk.undo();
    assert!(desk.is_deriving());
    desk.wait();
    assert_eq!(desk.derived().revision, desk.revision());
}

#[test]
fn a_photo_comes_in_beside_the_window_and_goes_along_when_saved() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("compartment.png");
    let mut bytes = Cursor::new(Vec::new());
    image::RgbImage::new(60, 40).write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    std::fs::write(&file, bytes.into_inner()).unwrap();
    let path = folder.path().join("machine.ron");

    let mut desk = desk(Folders::default());
    desk.add_photos(vec![file.clone(), file.clone()], Point::new(10.0, 10.0));
    desk.wait();
    let names: BTreeSet<_> = desk.machine().photos.values().map(|photo| photo.name.clone()).collect();
    assert_eq!(names, BTreeSet::from(["compartment".to_owned(), "compartment 2".to_owned()]));
    desk.save_as(&path, false);
    desk.wait();

    let mut again = self::desk(Folders::default());
    again.open(&path);
    again.wait();
    let photo = again.machine().photos.values().next().unwrap().clone();
    assert!(again.photo_pixels(&photo).is_none(), "decoded beside the window");
    assert_eq!(again.wait(), vec![Event::PhotoReady(photo.hash.clone())]);
    assert_eq!(again.photo_pixels(&photo).unwrap().size_px, [60, 40]);
}

#[test]
fn what_was_not_saved_is_found_again_after_a_crash() {
    let folder = tempfile::tempdir().unwrap();
    let folders = Folders { recovery: Some(folder.path().join("aside")), who: "T. Tester".to_owned() };
    let machine = {
        let mut desk = desk(folders.clone());
        place(&mut desk, "K1");
        desk.autosave();
        desk.wait();
        Arc::clone(desk.machine())
        // The desk goes without a word, as in a crash.
    };
    let mut desk = desk(folders);
    let found = desk.recoveries();
    assert_eq!(found.len(), 1);
    desk.recover(&found[0]);
    desk.wait();
    assert_eq!(desk.machine(), &machine);
    assert!(desk.is_changed(), "it is still to be saved");
    desk.save_as(&folder.path().join("machine.ron"), false);
    desk.wait();
    assert!(desk.recoveries().is_empty(), "a saved record needs no autosave");
}

#[test]
fn a_late_save_does_not_name_the_record_that_came_after() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("first.ron");
    let mut desk = desk(Folders::default());
    place(&mut desk, "K1");
    desk.save_as(&path, false);
    desk.new_machine();
    desk.wait();
    assert!(path.exists(), "what was being saved is saved");
    assert_eq!(desk.path(), None, "the new record is not the file of the old one");
    assert!(desk.machine().parts.is_empty());
}

#[test]
fn a_save_that_follows_another_at_once_waits_for_it() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("machine.ron");
    let mut desk = desk(Folders::default());
    place(&mut desk, "K1");
    desk.save_as(&path, false);
    desk.wait();
    place(&mut desk, "K2");
    assert!(desk.save());
    place(&mut desk, "K3");
    assert!(desk.save());
    let events = desk.wait();
    assert_eq!(events, vec![Event::Saved(path.clone()), Event::Saved(path.clone())]);
    assert!(!desk.is_changed());
    assert!(std::fs::read_to_string(&path).unwrap().contains("K3"));
}

#[test]
fn a_photo_still_being_read_at_the_first_save_comes_along() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("compartment.png");
    let mut bytes = Cursor::new(Vec::new());
    image::RgbImage::new(600, 400).write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    std::fs::write(&file, bytes.into_inner()).unwrap();
    let path = folder.path().join("machine.ron");
    let mut first = desk(Folders::default());
    first.add_photos(vec![file], Point::default());
    first.save_as(&path, false);
    first.wait();
    first.save();
    first.wait();
    drop(first);
    let mut again = desk(Folders::default());
    again.open(&path);
    assert_eq!(again.wait(), vec![Event::Opened(path)], "no word of a missing photo");
    assert_eq!(again.machine().photos.len(), 1);
}

#[test]
fn opening_does_not_take_away_what_was_changed_meanwhile() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("machine.ron");
    let mut desk = desk(Folders::default());
    desk.save_as(&path, false);
    desk.wait();
    desk.open(&path);
    place(&mut desk, "K1");
    let events = desk.wait();
    assert!(matches!(&events[..], [Event::Failed { message, .. }] if message.contains("open it again")), "{events:?}");
    assert_eq!(desk.machine().parts.len(), 1);
}
