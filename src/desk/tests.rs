//! The desk as a window uses it: steps, files, photos, recovery.

use std::collections::BTreeSet;
use std::io::Cursor;
use std::sync::Arc;

use super::{Desk, Event, Folders};
use crate::catalogue::Catalogue;
use crate::machine::{Part, Point};
use crate::store::frozen;

fn desk(folders: Folders) -> Desk {
    Desk::new(Catalogue::built_in().unwrap(), Arc::new(|| "2026-03-02 10:15".to_owned()), folders)
}

fn place(desk: &mut Desk, tag: &str) {
    let part = Part { tag: tag.to_owned(), kind: "unknown-part".to_owned(), ..Part::default() };
    let (_, edit) = desk.machine().add_part(part);
    desk.apply(edit);
}

/// The quick picture comes while the whole is still being decoded, with the place and size the photo will have, and goes when it is there.
#[test]
fn a_large_photo_is_shown_by_a_quick_picture_before_it_is_in_the_record() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("large.jpg");
    let shade = |at: u32| u8::try_from(at / 20 % 256).unwrap_or(0);
    let picture = image::RgbImage::from_fn(3600, 2400, |x, y| image::Rgb([shade(x), shade(y), 90]));
    picture.save(&file).unwrap();
    let mut desk = desk(Folders::default());
    desk.add_photos(vec![file], Point::new(5.0, 7.0));
    let mut quick = None;
    while !desk.jobs().is_empty() {
        desk.poll();
        if let Some(coming) = desk.photos_coming().into_iter().next() {
            assert!(desk.machine().photos.is_empty());
            quick = Some(coming);
        }
        std::thread::sleep(std::time::Duration::from_millis(1));
    }
    let quick = quick.expect("a quick picture");
    assert!(quick.pixels.is_quick() && quick.pixels.size_px == [3600, 2400]);
    let photo = desk.machine().photos.values().next().unwrap().clone();
    assert_eq!((photo.size_px, photo.placement), (quick.photo.size_px, quick.photo.placement));
    assert!(desk.photos_coming().is_empty());
    assert!(!desk.photo_pixels(&photo).unwrap().is_quick());
    assert_eq!(desk.photo_remark(&photo), None);
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

/// Folders with a place for autosaves.
fn with_autosaves(folder: &tempfile::TempDir) -> Folders {
    Folders { recovery: Some(folder.path().join("aside")), who: "T. Tester".to_owned() }
}

/// The names of what lies in the folder of autosaves.
fn lying_aside(folder: &tempfile::TempDir) -> Vec<String> {
    let Ok(entries) = std::fs::read_dir(folder.path().join("aside")) else { return Vec::new() };
    let mut names: Vec<String> =
        entries.map(|entry| entry.unwrap().file_name().to_string_lossy().into_owned()).collect();
    names.sort();
    names
}

#[test]
fn an_autosave_under_way_does_not_outlive_the_record_that_was_thrown_away() {
    let folder = tempfile::tempdir().unwrap();
    for _ in 0..20 {
        let mut desk = desk(with_autosaves(&folder));
        for number in 0..50 {
            place(&mut desk, &format!("K{number}"));
        }
        desk.autosave();
        desk.new_machine();
        drop(desk);
        assert!(lying_aside(&folder).is_empty(), "{:?}", lying_aside(&folder));
    }
}

#[test]
fn what_was_left_unsaved_on_purpose_is_not_saved_aside_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut desk = desk(with_autosaves(&folder));
    place(&mut desk, "K1");
    desk.autosave();
    desk.discard_autosave();
    // The window is drawn once more before it goes.
    desk.autosave();
    drop(desk);
    assert_eq!(lying_aside(&folder), [""; 0]);
}

#[test]
fn what_was_changed_while_a_record_got_its_first_file_is_saved_aside_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut desk = desk(with_autosaves(&folder));
    place(&mut desk, "K1");
    desk.save_as(&folder.path().join("machine.ron"), false);
    place(&mut desk, "K2");
    desk.autosave();
    desk.wait();
    desk.autosave();
    desk.wait();
    let machine = Arc::clone(desk.machine());
    drop(desk);
    let mut again = self::desk(with_autosaves(&folder));
    let found = again.recoveries();
    assert_eq!(found.len(), 1);
    again.recover(&found[0]);
    again.wait();
    assert_eq!(again.machine(), &machine);
}

#[test]
fn of_autosaves_in_a_row_the_newest_is_what_is_kept() {
    let folder = tempfile::tempdir().unwrap();
    for round in 0..20 {
        let mut first = desk(with_autosaves(&folder));
        for number in 0..10 {
            place(&mut first, &format!("K{number}"));
            first.autosave();
        }
        // The next beat takes what was overtaken.
        first.wait();
        first.autosave();
        first.wait();
        let machine = Arc::clone(first.machine());
        drop(first);
        let mut again = desk(with_autosaves(&folder));
        let found = again.recoveries();
        assert_eq!(found.len(), 1, "round {round}");
        again.recover(&found[0]);
        again.wait();
        assert_eq!(again.machine(), &machine);
        again.discard_autosave();
        again.wait();
    }
}

#[test]
fn an_autosave_that_failed_is_told_of_once_and_tried_again() {
    let folder = tempfile::tempdir().unwrap();
    let mut desk = desk(with_autosaves(&folder));
    place(&mut desk, "K1");
    // A folder where the file belongs: it cannot be written.
    let in_the_way = folder.path().join("aside/unnamed-1.ron");
    desk.autosave();
    desk.wait();
    std::fs::remove_file(&in_the_way).unwrap();
    std::fs::create_dir_all(in_the_way.join("full")).unwrap();
    place(&mut desk, "K2");
    desk.autosave();
    let events = desk.wait();
    assert!(matches!(&events[..], [Event::Failed { message, .. }] if message.contains("unnamed-1.ron")), "{events:?}");
    desk.autosave();
    assert_eq!(desk.wait(), vec![], "told of once");
    std::fs::remove_dir_all(&in_the_way).unwrap();
    desk.autosave();
    let events = desk.wait();
    assert!(matches!(&events[..], [Event::Remark(_)]), "that it works again is told of: {events:?}");
    assert!(std::fs::read_to_string(&in_the_way).unwrap().contains("K2"));
}

#[test]
fn where_no_autosave_can_be_kept_the_person_is_told_once() {
    let folder = tempfile::tempdir().unwrap();
    std::fs::write(folder.path().join("aside"), "a file where the folder belongs").unwrap();
    let mut desk = desk(with_autosaves(&folder));
    place(&mut desk, "K1");
    desk.autosave();
    let events = desk.wait();
    assert!(matches!(&events[..], [Event::Failed { message, .. }] if message.contains("aside")), "{events:?}");
    place(&mut desk, "K2");
    desk.autosave();
    assert_eq!(desk.wait(), vec![]);
}

#[test]
fn the_autosave_of_a_window_that_runs_is_not_offered_to_another() {
    let folder = tempfile::tempdir().unwrap();
    let mut first = desk(with_autosaves(&folder));
    place(&mut first, "K1");
    first.autosave();
    first.wait();
    let mut second = desk(with_autosaves(&folder));
    assert_eq!(second.recoveries().len(), 0, "it is at work there");
    drop(first);
    let found = second.recoveries();
    assert_eq!(found.len(), 1);
    second.recover(&found[0]);
    second.wait();
    let mut third = desk(with_autosaves(&folder));
    assert_eq!(third.recoveries().len(), 0, "whoever took it up holds it");
    third.recover(&found[0]);
    let events = third.wait();
    assert!(matches!(&events[..], [Event::Failed { message, .. }] if message.contains("T. Tester")), "{events:?}");
    third.discard(&found[0]);
    let events = third.wait();
    assert!(matches!(&events[..], [Event::Failed { message, .. }] if message.contains("T. Tester")), "{events:?}");
    assert_eq!(second.machine().parts.len(), 1);
}

/// A picture file of this size.
fn picture(folder: &tempfile::TempDir, name: &str, width: u32, height: u32) -> std::path::PathBuf {
    let file = folder.path().join(name);
    let mut bytes = Cursor::new(Vec::new());
    image::RgbImage::new(width, height).write_to(&mut bytes, image::ImageFormat::Png).unwrap();
    std::fs::write(&file, bytes.into_inner()).unwrap();
    file
}

#[test]
fn the_pictures_of_an_autosave_go_with_it() {
    let folder = tempfile::tempdir().unwrap();
    let file = picture(&folder, "compartment.png", 60, 40);
    let mut first = desk(with_autosaves(&folder));
    first.add_photos(vec![file.clone()], Point::default());
    first.wait();
    first.autosave();
    first.wait();
    drop(first);
    assert_eq!(lying_aside(&folder), ["unnamed-1.photos", "unnamed-1.ron"], "kept for who recovers it");
    let mut second = desk(with_autosaves(&folder));
    let found = second.recoveries();
    second.discard(&found[0]);
    second.wait();
    assert_eq!(lying_aside(&folder), [""; 0]);

    let mut saved = desk(with_autosaves(&folder));
    saved.add_photos(vec![file], Point::default());
    saved.wait();
    saved.autosave();
    saved.undo();
    saved.save_as(&folder.path().join("machine.ron"), false);
    saved.wait();
    saved.redo();
    saved.save();
    saved.wait();
    drop(saved);
    assert_eq!(lying_aside(&folder), [""; 0]);
    let mut again = desk(Folders::default());
    again.open(&folder.path().join("machine.ron"));
    let events = again.wait();
    assert!(matches!(&events[..], [Event::Opened(_)]), "a photo brought back by redo has its picture: {events:?}");
}

#[test]
fn a_file_too_large_for_a_photo_is_refused_with_its_size_and_the_limit() {
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("wall.png");
    std::fs::File::create(&file).unwrap().set_len(312_000_000).unwrap();
    let mut desk = desk(Folders::default());
    desk.add_photos(vec![file], Point::default());
    let events = desk.wait();
    let [Event::Failed { message, .. }] = &events[..] else { panic!("{events:?}") };
    for word in ["wall.png", "312 MB", "200 MB", "JPEG"] {
        assert!(message.contains(word), "{word} in: {message}");
    }
}

#[test]
fn many_photos_at_once_all_come_in() {
    let folder = tempfile::tempdir().unwrap();
    let files = (1..=12).map(|number| picture(&folder, &format!("photo{number}.png"), 100 + number, 80)).collect();
    let mut desk = desk(Folders::default());
    desk.add_photos(files, Point::default());
    assert_eq!(desk.jobs().len(), 12, "those that wait are shown too");
    desk.wait();
    assert_eq!(desk.machine().photos.len(), 12);
}

#[test]
fn a_visit_keeps_the_record_as_found_and_as_left() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("machine.ron");
    let catalogue = Catalogue::built_in().unwrap();
    let mut desk = desk(with_autosaves(&folder));
    place(&mut desk, "K1");
    // Begun before there is a file: the copy goes along when the record is saved.
    desk.begin_visit();
    desk.wait();
    let (id, visit) = desk.machine().visits.iter().next().map(|(id, visit)| (id, visit.clone())).unwrap();
    assert_eq!((visit.name.as_str(), visit.date.as_str()), ("2026-03-02", "2026-03-02"));
    assert_eq!((visit.who.as_str(), &visit.as_left), ("T. Tester", &None));
    desk.save_as(&path, false);
    desk.wait();
    place(&mut desk, "K2");
    desk.close_visit(id);
    desk.close_visit(id);
    let events = desk.wait();
    assert_eq!(events.len(), 1, "closed once, however often it is pressed: {events:?}");
    place(&mut desk, "K3");
    desk.begin_visit();
    desk.wait();
    desk.save();
    desk.wait();
    drop(desk);

    let mut again = self::desk(Folders::default());
    again.open(&path);
    assert_eq!(again.wait(), vec![Event::Opened(path.clone())], "no word of a missing copy");
    let visits: Vec<_> = again.machine().visits.values().cloned().collect();
    assert_eq!(visits[1].name, "2026-03-02-2");
    let copy = |hash: &Option<String>| {
        let copy = frozen::read(&path, hash.as_ref().unwrap(), &catalogue).unwrap().machine;
        let tags: Vec<String> = copy.parts.values().map(|part| part.tag.clone()).collect();
        (tags, copy.visits.len())
    };
    assert_eq!(copy(&visits[0].as_found), (vec!["K1".to_owned()], 0));
    assert_eq!(copy(&visits[0].as_left), (vec!["K1".to_owned(), "K2".to_owned()], 1));
    assert_eq!(copy(&visits[1].as_found), (vec!["K1".to_owned(), "K2".to_owned(), "K3".to_owned()], 1));
    assert!(lying_aside(&folder).is_empty());

    let lost = frozen::path_of(&path, visits[0].as_left.as_ref().unwrap());
    std::fs::remove_file(&lost).unwrap();
    again.open(&path);
    let events = again.wait();
    let missing = |event: &Event| matches!(event, Event::Remark(text) if text.contains("as left") && text.contains(&lost.display().to_string()));
    assert!(events.iter().any(missing), "{events:?}");
}

#[test]
fn a_visit_whose_copy_cannot_be_made_is_not_begun() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("machine.ron");
    let mut desk = desk(Folders::default());
    desk.save_as(&path, false);
    desk.wait();
    std::fs::write(folder.path().join("machine.visits"), "a file where the folder belongs").unwrap();
    desk.begin_visit();
    let events = desk.wait();
    assert!(matches!(&events[..], [Event::Failed { message, .. }] if message.contains("machine.visits")), "{events:?}");
    assert!(desk.machine().visits.is_empty());
    std::fs::remove_file(folder.path().join("machine.visits")).unwrap();
    desk.begin_visit();
    desk.wait();
    desk.undo();
    assert!(desk.machine().visits.is_empty(), "beginning is one step of undo");
}
