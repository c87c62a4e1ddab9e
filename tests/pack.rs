//! Packs: what goes in comes out, and what others put into one does no harm.
//!
//! What a hostile archive tries (names that leave the folder, links, sizes that are lies, doubled names) is common knowledge of archive
//! readers; source: CWE-22 (path traversal), CWE-409 (decompression bomb), CWE-59 (link following), cwe.mitre.org.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use std::fs;
use std::io::{Cursor, Write};
use std::path::{Path, PathBuf};

use sha2::{Digest, Sha256};
use wirewitness::catalogue::Catalogue;
use wirewitness::store::{PackError, pack, unpack};
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, ZipArchive, ZipWriter};

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

const RECORD: &str = "(\n    format: 1,\n    machine: (title: \"packed\", source: \"invented\"),\n)\n";

/// A record that speaks of a photo with this content.
fn record_with(photo: &[u8]) -> String {
    let hash = format!("{:x}", Sha256::digest(photo));
    format!(
        "(format: 1, machine: (title: \"packed\", source: \"invented\"), photos: [(name: \"one\", hash: \"{hash}\", original_name: \"a.jpg\", size_px: (4, 3))])"
    )
}

fn options() -> SimpleFileOptions {
    SimpleFileOptions::default().compression_method(CompressionMethod::Deflated)
}

/// A pack of these files, and a folder to unpack it into.
fn packed(files: &[(&str, &[u8])]) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let mut out = ZipWriter::new(Cursor::new(Vec::new()));
    for (name, bytes) in files {
        out.start_file(*name, options()).unwrap();
        out.write_all(bytes).unwrap();
    }
    let path = folder.path().join("mailed.zip");
    fs::write(&path, out.finish().unwrap().into_inner()).unwrap();
    fs::create_dir(folder.path().join("out")).unwrap();
    (folder, path)
}

/// Everything below a folder, with its content.
fn everything(folder: &Path) -> Vec<(PathBuf, Vec<u8>)> {
    let mut all = Vec::new();
    for entry in fs::read_dir(folder).unwrap().filter_map(Result::ok) {
        let path = entry.path();
        if path.is_dir() {
            all.extend(everything(&path));
        } else {
            all.push((path.clone(), fs::read(&path).unwrap()));
        }
    }
    all.sort();
    all
}

#[track_caller]
fn assert_refused(files: &[(&str, &[u8])], says: &str) {
    let (folder, path) = packed(files);
    let before = everything(folder.path());
    let told = unpack(&path, &folder.path().join("out")).unwrap_err().to_string();
    assert!(told.contains(says), "{told}");
    assert_eq!(everything(folder.path()), before, "nothing was written: {told}");
}

#[test]
fn a_record_comes_out_with_its_photos_as_it_went_in() {
    let catalogue = Catalogue::built_in().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let record = root().join("diagrams/pantry-locker.ron");
    let (one, other) = (folder.path().join("one.zip"), folder.path().join("other.zip"));
    let done = pack(&record, &one, &catalogue).unwrap();
    assert_eq!((done.photos, done.missing.len()), (2, 0));
    pack(&record, &other, &catalogue).unwrap();
    assert_eq!(fs::read(&one).unwrap(), fs::read(&other).unwrap(), "the same files give the same bytes");

    let out = folder.path().join("out");
    fs::create_dir(&out).unwrap();
    let back = unpack(&one, &out).unwrap();
    assert_eq!(back.file, out.join("pantry-locker.ron"));
    assert_eq!(fs::read(&back.file).unwrap(), fs::read(&record).unwrap());
    let there = |folder: &Path| -> Vec<Vec<u8>> { everything(folder).into_iter().map(|(_, bytes)| bytes).collect() };
    assert_eq!(there(&out.join("pantry-locker.photos")), there(&root().join("diagrams/pantry-locker.photos")));
    assert_eq!(everything(&out).len(), 3, "nothing of the work is left behind");
}

#[test]
fn nothing_that_is_there_is_replaced() {
    let hash = format!("{:x}", Sha256::digest(b"picture"));
    let photo = format!("packed.photos/{hash}.jpg");
    let record = record_with(b"picture");
    let files: [(&str, &[u8]); 2] = [("packed.ron", record.as_bytes()), (&photo, b"picture")];
    for there in ["packed.ron", "packed.photos", "packed.visits"] {
        let (folder, path) = packed(&files);
        let out = folder.path().join("out");
        fs::write(out.join(there), "mine").unwrap();
        let told = unpack(&path, &out).unwrap_err();
        assert!(matches!(&told, PackError::Exists(path) if path.ends_with(there)), "{told}");
        assert_eq!(everything(&out), [(out.join(there), b"mine".to_vec())]);
    }
}

#[cfg(unix)]
#[test]
fn a_link_that_leads_elsewhere_is_not_written_through() {
    let (folder, path) = packed(&[("packed.ron", RECORD.as_bytes())]);
    let target = folder.path().join("elsewhere.ron");
    std::os::unix::fs::symlink(&target, folder.path().join("out/packed.ron")).unwrap();
    assert!(matches!(unpack(&path, &folder.path().join("out")), Err(PackError::Exists(_))));
    assert!(!target.exists());

    // And one in the pack is refused.
    let mut out = ZipWriter::new(Cursor::new(Vec::new()));
    out.add_symlink("packed.ron", "/etc/passwd", options()).unwrap();
    let linked = folder.path().join("linked.zip");
    fs::write(&linked, out.finish().unwrap().into_inner()).unwrap();
    let told = unpack(&linked, &folder.path().join("out")).unwrap_err().to_string();
    assert!(told.contains("which no pack has"), "{told}");
}

#[test]
fn names_that_leave_the_folder_are_refused() {
    for name in [
        "../packed.ron",
        "/tmp/packed.ron",
        "packed.photos/../../x.jpg",
        "a/b/packed.ron",
        "..\\packed.ron",
        "C:\\packed.ron",
        "packed.exe",
        ".bashrc",
    ] {
        assert_refused(&[("packed.ron", RECORD.as_bytes()), (name, b"x")], "which no pack has");
    }
}

#[test]
fn what_is_not_as_its_name_says_is_refused() {
    let wrong = format!("packed.photos/{}.jpg", "0".repeat(64));
    assert_refused(&[("packed.ron", RECORD.as_bytes()), (&wrong, b"picture")], "changed or damaged");
    let other = format!("other.photos/{:x}.jpg", Sha256::digest(b"picture"));
    assert_refused(&[("packed.ron", RECORD.as_bytes()), (&other, b"picture")], "beside the record 'packed'");
    let stray = format!("packed.photos/{:x}.jpg", Sha256::digest(b"stray"));
    assert_refused(&[("packed.ron", record_with(b"x").as_bytes()), (&stray, b"stray")], "does not name");
    assert_refused(&[("packed.ron", RECORD.as_bytes()), ("second.ron", RECORD.as_bytes())], "more than one record");
    assert_refused(&[("packed.ron", RECORD.as_bytes()), ("Packed.ron", RECORD.as_bytes())], "twice");
    assert_refused(&[("packed.ron", b"(format: 1, wires: [")], "cannot be read");
    assert_refused(&[("packed.ron", b"\xff\xfe")], "UTF-8");
    assert_refused(&[], "no record");
}

/// 300 MB of zeros take 300 kB packed.
#[test]
fn what_swells_beyond_all_measure_is_refused() {
    let zeros = vec![0; 80 << 20];
    assert_refused(&[("packed.ron", &zeros)], "comes to more than");
    let many: Vec<String> = (0..10_001).map(|n| format!("{n}.ron")).collect();
    let many: Vec<(&str, &[u8])> = many.iter().map(|name| (name.as_str(), b"".as_slice())).collect();
    assert_refused(&many, "at most 10000");
}

#[test]
fn no_archive_is_taken_for_a_pack_and_none_makes_it_panic() {
    let (folder, path) = packed(&[("packed.ron", RECORD.as_bytes())]);
    let whole = fs::read(&path).unwrap();
    let out = folder.path().join("out");
    for length in 0..whole.len() {
        fs::write(&path, &whole[..length]).unwrap();
        assert!(unpack(&path, &out).is_err(), "cut at {length}");
    }
    for at in 0..whole.len() {
        for flip in [0x01, 0x80, 0xff] {
            let mut bytes = whole.clone();
            bytes[at] ^= flip;
            fs::write(&path, &bytes).unwrap();
            if unpack(&path, &out).is_ok() {
                let came = everything(&out);
                assert_eq!(came.len(), 1, "byte {at}");
                fs::remove_file(&came[0].0).unwrap();
            }
        }
    }
    assert!(everything(&out).is_empty());
    assert!(unpack(&folder.path().join("none.zip"), &out).is_err());
}

#[test]
fn a_photo_that_was_changed_is_left_out_of_a_pack_and_named() {
    let catalogue = Catalogue::built_in().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let record = folder.path().join("packed.ron");
    fs::write(&record, record_with(b"picture")).unwrap();
    let hash = format!("{:x}", Sha256::digest(b"picture"));
    fs::create_dir(folder.path().join("packed.photos")).unwrap();
    fs::write(folder.path().join(format!("packed.photos/{hash}.jpg")), b"another").unwrap();
    let to = folder.path().join("p.zip");
    let done = pack(&record, &to, &catalogue).unwrap();
    assert_eq!(done.photos, 0);
    assert!(done.missing.len() == 1 && done.missing[0].contains("changed or damaged"), "{:?}", done.missing);
    let out = folder.path().join("out");
    fs::create_dir(&out).unwrap();
    unpack(&to, &out).unwrap();
}

/// Independent reader: the archive as the crate zip lists it.
#[test]
fn a_pack_holds_the_record_and_what_it_speaks_of_and_no_more() {
    let catalogue = Catalogue::built_in().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let to = folder.path().join("p.zip");
    pack(&root().join("diagrams/pantry-locker.ron"), &to, &catalogue).unwrap();
    let archive = ZipArchive::new(fs::File::open(&to).unwrap()).unwrap();
    let names: Vec<String> = archive.file_names().map(|name| name.unwrap().into_owned()).collect();
    assert_eq!(names.len(), 3);
    assert!(names.contains(&"pantry-locker.ron".to_owned()));
    assert_eq!(names.iter().filter(|name| name.starts_with("pantry-locker.photos/")).count(), 2);
}
