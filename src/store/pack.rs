//! A record with its photos and the copies of its visits in one file, to be mailed; and back.
//!
//! A pack comes from somewhere else, so nothing in it is believed: only the names that a pack has, only files of a size that they can have,
//! nothing outside of the folder it is unpacked into, and nothing that is there is touched.

use std::collections::BTreeSet;
use std::fs::{self, File};
use std::io::{self, Read, Write};
use std::path::{Path, PathBuf};

use atomic_write_file::AtomicWriteFile;
use thiserror::Error;
use zip::read::ZipFile;
use zip::result::ZipError;
use zip::write::SimpleFileOptions;
use zip::{CompressionMethod, DateTime, ZipArchive, ZipWriter};

use crate::catalogue::Catalogue;
use crate::machine::Machine;

use super::beside::folder;
use super::open::{CopyError, LoadError, LoadErrors, hash_and_copy, load_leniently, parse_leniently};
use super::{frozen, photos};

/// The largest record or copy of one that is unpacked, in bytes. One of 10,000 wires has 3 MB.
const LARGEST_RECORD: u64 = 64 << 20;
/// The largest photo that is unpacked, in bytes.
const LARGEST_PHOTO: u64 = 200_000_000;
/// The most that one pack may come to, in bytes.
const MOST_BYTES: u64 = 4 << 30;
/// The most files that one pack may hold.
const MOST_FILES: usize = 10_000;
/// Digits of the hash that a photo or a copy goes by.
const HASH_DIGITS: usize = 64;

/// Why nothing was packed or unpacked. What was there is as it was.
#[derive(Debug, Error)]
pub enum PackError {
    /// The record cannot be read.
    #[error(transparent)]
    Load(#[from] LoadError),
    /// What came out is no record.
    #[error("{pack}: the record in it cannot be read, so nothing was unpacked:\n{errors}", pack = pack.display())]
    Wrong {
        /// The pack.
        pack: PathBuf,
        /// What is wrong with it.
        errors: LoadErrors,
    },
    /// The system refused.
    #[error("{path}: could not be {what}: {source}; check the name, the disk, its free space and your permissions", path = path.display())]
    Failed {
        /// The file concerned.
        path: PathBuf,
        /// `read`, `written`.
        what: &'static str,
        /// What the system said.
        source: io::Error,
    },
    /// It is no pack, or a damaged one.
    #[error("{pack}: {why}; nothing was unpacked", pack = pack.display())]
    Refused {
        /// The pack.
        pack: PathBuf,
        /// Why, and what to do.
        why: String,
    },
    /// Something of this name is there.
    #[error("{path}: there is something with this name already, and nothing is replaced; unpack into another folder", path = .0.display())]
    Exists(PathBuf),
}

/// What was packed or unpacked.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Packed {
    /// The pack that was written, or the record that came out.
    pub file: PathBuf,
    /// How many photos.
    pub photos: usize,
    /// How many copies of visits.
    pub copies: usize,
    /// What the record speaks of and is not there, one sentence each.
    pub missing: Vec<String>,
}

/// Puts a record, its photos and the copies of its visits into one file. The same files give the same bytes.
///
/// # Errors
/// Says what could not be read or written.
pub fn pack(record: &Path, to: &Path, catalogue: &Catalogue) -> Result<Packed, PackError> {
    let loaded = load_leniently(record, catalogue)?;
    let failed = |path: &Path, what: &'static str| {
        let path = path.to_owned();
        move |source: io::Error| PackError::Failed { path, what, source }
    };
    let name = name_of(record);
    let mut done = Packed { file: to.to_owned(), photos: 0, copies: 0, missing: Vec::new() };
    let mut files: Vec<(String, PathBuf)> = Vec::new();
    let [pictures, copies] = beside(&loaded.machine, record);
    for (what, paths) in [("photos", pictures), ("visits", copies)] {
        for path in paths {
            let own = path.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
            if let Some(why) = unfit(&path, &own) {
                done.missing.push(format!("{} {why}, so it is not in the pack", path.display()));
                continue;
            }
            files.push((format!("{name}.{what}/{own}"), path));
            *(if what == "photos" { &mut done.photos } else { &mut done.copies }) += 1;
        }
    }
    // Written aside as it is made: photos are never in memory as a whole, and what lay there stays until all is written.
    let mut file = AtomicWriteFile::open(to).map_err(failed(to, "written"))?;
    let mut out = ZipWriter::new(&mut file);
    // Not the time of packing: the same record gives the same bytes.
    let plain = SimpleFileOptions::default().last_modified_time(DateTime::default()).unix_permissions(0o644);
    let squeezed = plain.compression_method(CompressionMethod::Deflated);
    // Photos are squeezed already.
    let stored = plain.compression_method(CompressionMethod::Stored);
    let mut add = |name: String, path: &Path, options: SimpleFileOptions| -> Result<(), PackError> {
        let mut from = File::open(path).map_err(failed(path, "read"))?;
        out.start_file(name, options).map_err(io::Error::from).map_err(failed(to, "written"))?;
        match hash_and_copy(&mut from, &mut out) {
            Ok(_) => Ok(()),
            Err(CopyError::Read(why)) => Err(failed(path, "read")(why)),
            Err(CopyError::Written(why)) => Err(failed(to, "written")(why)),
        }
    };
    add(format!("{name}.ron"), record, squeezed)?;
    for (name, path) in files {
        let options = if is_record(&name) { squeezed } else { stored };
        add(name, &path, options)?;
    }
    out.finish().map_err(io::Error::from).map_err(failed(to, "written"))?;
    file.commit().map_err(failed(to, "written"))?;
    Ok(done)
}

/// The files beside a record that it speaks of: photos, then copies of visits.
fn beside(machine: &Machine, record: &Path) -> [BTreeSet<PathBuf>; 2] {
    let pictures = machine.photos.values().filter_map(|photo| photos::path_of(record, photo)).collect();
    let hashes = machine.visits.values().flat_map(|visit| [&visit.as_found, &visit.as_left]).flatten();
    [pictures, hashes.map(|hash| frozen::path_of(record, hash)).collect()]
}

/// Why a file beside a record cannot go into a pack, which would be refused with it; `None` where it can.
fn unfit(path: &Path, name: &str) -> Option<&'static str> {
    let Ok(there) = fs::metadata(path) else { return Some("is not there") };
    if !there.is_file() {
        return Some("is not there");
    }
    if there.len() > if is_record(name) { LARGEST_RECORD } else { LARGEST_PHOTO } {
        return Some("is too large for a pack");
    }
    let read = File::open(path).map_err(CopyError::Read);
    let Ok((own, _)) = read.and_then(|mut file| hash_and_copy(&mut file, &mut io::sink())) else {
        return Some("cannot be read");
    };
    let hash = name.split('.').next().unwrap_or_default();
    (own != hash).then_some("is not what its name says: it was changed or damaged")
}

/// The name a record has in its pack: that of its file, without what a name in a pack must not have.
fn name_of(record: &Path) -> String {
    let stem = record.file_stem().map(|stem| stem.to_string_lossy().into_owned()).unwrap_or_default();
    let name: String = stem.chars().map(|c| if is_plain(c) { c } else { '-' }).collect();
    if is_name(&name) { name } else { "machine".to_owned() }
}

/// Letters that a name has the same meaning with on every system.
fn is_plain(c: char) -> bool {
    !c.is_control() && !is_format(c) && !matches!(c, '/' | '\\' | ':' | '*' | '?' | '"' | '<' | '>' | '|')
}

/// Letters that are not seen and change how others are: direction marks, joiners, tags. Source: Unicode, general category Cf.
fn is_format(c: char) -> bool {
    matches!(c, '\u{ad}' | '\u{600}'..='\u{605}' | '\u{61c}' | '\u{6dd}' | '\u{70f}' | '\u{890}'..='\u{891}' | '\u{8e2}' | '\u{180e}'
        | '\u{200b}'..='\u{200f}' | '\u{202a}'..='\u{202e}' | '\u{2060}'..='\u{206f}' | '\u{feff}' | '\u{fff9}'..='\u{fffb}'
        | '\u{110bd}' | '\u{110cd}' | '\u{13430}'..='\u{1343f}' | '\u{1bca0}'..='\u{1bca3}' | '\u{1d173}'..='\u{1d17a}'
        | '\u{e0001}' | '\u{e0020}'..='\u{e007f}')
}

/// Names that stand for devices on Windows, whatever ending they have. Source: "Naming Files, Paths, and Namespaces", Microsoft Learn.
fn is_device(name: &str) -> bool {
    let stem = name.split('.').next().unwrap_or_default().trim_end().to_uppercase();
    if ["CON", "PRN", "AUX", "NUL", "CONIN$", "CONOUT$"].contains(&stem.as_str()) {
        return true;
    }
    let numbered = stem.strip_prefix("COM").or_else(|| stem.strip_prefix("LPT"));
    numbered.is_some_and(|rest| {
        let mut letters = rest.chars();
        matches!((letters.next(), letters.next()), (Some('0'..='9' | '¹' | '²' | '³'), None))
    })
}

fn is_name(name: &str) -> bool {
    !name.trim().is_empty()
        && name.len() <= 120
        && name.trim() == name
        && !name.starts_with('.')
        && !name.ends_with('.')
        && !is_device(name)
        && name.chars().all(is_plain)
}

/// Whether a name in a pack is that of a record, or of a copy of one.
fn is_record(name: &str) -> bool {
    Path::new(name).extension().is_some_and(|ending| ending == "ron")
}

/// What a file of a pack is.
#[derive(Debug, Clone, PartialEq, Eq)]
enum Part {
    Record(String),
    /// Of the record of this name: a photo or a copy, with the hash in its own name.
    Beside {
        of: String,
        what: &'static str,
        file: String,
        hash: String,
    },
}

/// What a name in a pack stands for; `None` for one that no pack has.
fn part_of(name: &str) -> Option<Part> {
    let Some((folder, file)) = name.split_once('/') else {
        let stem = name.strip_suffix(".ron").filter(|stem| is_name(stem))?;
        return Some(Part::Record(stem.to_owned()));
    };
    let (of, what) = ["photos", "visits"]
        .into_iter()
        .find_map(|what| Some((folder.strip_suffix(what)?.strip_suffix('.')?, what)))
        .filter(|(of, _)| is_name(of))?;
    let (hash, ending) = file.split_once('.')?;
    let is_hash = hash.len() == HASH_DIGITS && hash.bytes().all(|c| c.is_ascii_digit() || (b'a'..=b'f').contains(&c));
    let is_ending = (1..=8).contains(&ending.len()) && ending.bytes().all(|c| c.is_ascii_alphanumeric());
    let goes_with = what == "photos" && ending != "ron" || what == "visits" && ending == "ron";
    (is_hash && is_ending && goes_with).then(|| Part::Beside {
        of: of.to_owned(),
        what,
        file: file.to_owned(),
        hash: hash.to_owned(),
    })
}

/// Takes a record, its photos and copies out of a pack into a folder that is there. Nothing that is there is replaced.
///
/// # Errors
/// Says what is wrong with the pack; then nothing was unpacked.
pub fn unpack(pack: &Path, into: &Path) -> Result<Packed, PackError> {
    let refused = |why: String| PackError::Refused { pack: pack.to_owned(), why };
    let failed = |path: &Path, what: &'static str| {
        let path = path.to_owned();
        move |source: io::Error| PackError::Failed { path, what, source }
    };
    let file = File::open(pack).map_err(failed(pack, "read"))?;
    let mut archive = ZipArchive::new(file).map_err(|why| refused(not_a_pack(&why)))?;
    if archive.len() > MOST_FILES {
        return Err(refused(format!("it holds {} files, and a pack at most {MOST_FILES}", archive.len())));
    }
    let aside = tempfile::tempdir_in(into).map_err(failed(into, "written"))?;
    let mut taken = Taken::default();
    for number in 0..archive.len() {
        let entry = archive.by_index(number).map_err(|why| refused(not_a_pack(&why)))?;
        taken.take(entry, aside.path()).map_err(|why| match why {
            Why::Refused(why) => refused(why),
            Why::Failed(source) => failed(into, "written")(source),
        })?;
    }
    let Some((name, bytes)) = taken.record else {
        return Err(refused("it holds no record; see whether it is the right file".to_owned()));
    };
    if let Some(other) = taken.of.iter().find(|of| **of != name) {
        return Err(refused(format!("it holds files of '{other}' beside the record '{name}'")));
    }
    let text = String::from_utf8(bytes).map_err(|_| refused("the record in it is not UTF-8 text".to_owned()))?;
    // Kinds of one's own may be wanting here: that is told when the record is opened.
    let (machine, _) = parse_leniently(&format!("{name}.ron"), &text, &Catalogue::default())
        .map_err(|errors| PackError::Wrong { pack: pack.to_owned(), errors })?;
    let record = into.join(format!("{name}.ron"));
    let named: BTreeSet<std::ffi::OsString> = beside(&machine, &record)
        .iter()
        .flatten()
        .filter_map(|path| path.file_name().map(std::ffi::OsStr::to_owned))
        .collect();
    if let Some(stray) = taken.files.iter().find(|file| !named.contains(std::ffi::OsStr::new(file))) {
        return Err(refused(format!("it holds '{stray}', which its record does not name")));
    }
    put_in_place(&name, &text, aside.path(), into)?;
    Ok(Packed { file: record, photos: taken.photos, copies: taken.copies, missing: Vec::new() })
}

fn not_a_pack(why: &ZipError) -> String {
    match why {
        ZipError::UnsupportedArchive(why) => format!("it is packed in a way that is not read here ({why})"),
        _ => "it is no pack, or it is damaged; have it sent again".to_owned(),
    }
}

enum Why {
    Refused(String),
    Failed(io::Error),
}

/// What was taken out of a pack so far.
#[derive(Default)]
struct Taken {
    record: Option<(String, Vec<u8>)>,
    /// Names of records that files belong to.
    of: BTreeSet<String>,
    seen: BTreeSet<String>,
    /// Files beside the record.
    files: BTreeSet<String>,
    bytes: u64,
    photos: usize,
    copies: usize,
}

impl Taken {
    fn take<R: Read>(&mut self, mut entry: ZipFile<'_, R>, aside: &Path) -> Result<(), Why> {
        let name = entry.name().map(std::borrow::Cow::into_owned).map_err(|why| Why::Refused(not_a_pack(&why)))?;
        // Folders of their own are what other programs add; ours are made as they are needed.
        if entry.is_dir() && part_of(&format!("{name}{}.ron", "0".repeat(HASH_DIGITS))).is_some()
            || entry.is_dir() && part_of(&format!("{name}{}.jpg", "0".repeat(HASH_DIGITS))).is_some()
        {
            return Ok(());
        }
        let part = part_of(&name)
            .filter(|_| !entry.is_symlink() && !entry.is_dir())
            .ok_or_else(|| Why::Refused(format!("it holds '{}', which no pack has", name.escape_debug())))?;
        if !self.seen.insert(name.to_lowercase()) {
            return Err(Why::Refused(format!("it holds '{name}' twice")));
        }
        let limit = if is_record(&name) { LARGEST_RECORD } else { LARGEST_PHOTO };
        let limit = limit.min(MOST_BYTES.saturating_sub(self.bytes));
        // The size it says it has is not believed: no more than the limit is ever taken out.
        let mut from = entry.by_ref().take(limit + 1);
        let mut out = |to: &mut dyn Write| -> Result<String, Why> {
            let (hash, length) = hash_and_copy(&mut from, &mut { to }).map_err(|why| match why {
                CopyError::Read(_) => Why::Refused(format!("'{name}' in it is damaged; have it sent again")),
                CopyError::Written(why) => Why::Failed(why),
            })?;
            if length > limit {
                return Err(Why::Refused(format!("'{name}' in it comes to more than {} MB", limit / 1_000_000)));
            }
            self.bytes += length;
            Ok(hash)
        };
        match part {
            Part::Record(_) if self.record.is_some() => Err(Why::Refused("it holds more than one record".to_owned())),
            Part::Record(name) => {
                let mut bytes = Vec::new();
                out(&mut bytes)?;
                self.record = Some((name, bytes));
                Ok(())
            }
            Part::Beside { of, what, file, hash } => {
                let folder = aside.join(what);
                fs::create_dir_all(&folder).map_err(Why::Failed)?;
                let mut to = File::create_new(folder.join(&file)).map_err(Why::Failed)?;
                if out(&mut to)? != hash {
                    return Err(Why::Refused(format!(
                        "'{name}' in it is not what its name says: it was changed or damaged"
                    )));
                }
                *(if what == "photos" { &mut self.photos } else { &mut self.copies }) += 1;
                self.of.insert(of);
                self.files.insert(file);
                Ok(())
            }
        }
    }
}

/// Moves what was taken out to where it belongs, the record last; takes back what was moved where that fails.
fn put_in_place(name: &str, text: &str, aside: &Path, into: &Path) -> Result<(), PackError> {
    let record = into.join(format!("{name}.ron"));
    let folders = ["photos", "visits"].map(|what| (aside.join(what), folder(&record, what)));
    let here = |path: &Path| fs::symlink_metadata(path).is_ok();
    for path in folders.iter().map(|(_, to)| to).chain([&record]) {
        if here(path) {
            return Err(PackError::Exists(path.clone()));
        }
    }
    let mut moved: Vec<&Path> = Vec::new();
    let place = || -> Result<(), PackError> {
        for (from, to) in folders.iter().filter(|(from, _)| from.is_dir()) {
            fs::rename(from, to).map_err(|source| PackError::Failed { path: to.clone(), what: "written", source })?;
            moved.push(to);
        }
        let failed = |source| PackError::Failed { path: record.clone(), what: "written", source };
        let mut whole = tempfile::NamedTempFile::new_in(aside).map_err(failed)?;
        whole.write_all(text.as_bytes()).and_then(|()| whole.as_file().sync_all()).map_err(failed)?;
        readable(whole.path()).map_err(failed)?;
        whole.persist_noclobber(&record).map(|_| ()).map_err(|why| match why.error.kind() {
            io::ErrorKind::AlreadyExists => PackError::Exists(record.clone()),
            _ => failed(why.error),
        })
    };
    let done = { place }();
    if done.is_err() {
        for folder in moved {
            // What cannot be taken back stays; the record itself is not there, so nothing points at it.
            let _ = fs::remove_dir_all(folder);
        }
    }
    done
}

/// A passing file is its maker's alone; a record is as others are.
#[cfg(unix)]
fn readable(path: &Path) -> io::Result<()> {
    use std::os::unix::fs::PermissionsExt;
    fs::set_permissions(path, fs::Permissions::from_mode(0o644))
}

#[cfg(not(unix))]
fn readable(_: &Path) -> io::Result<()> {
    Ok(())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn only_names_that_a_pack_has_stand_for_anything() {
        let hash = "0123456789abcdef".repeat(4);
        assert_eq!(part_of("pantry.ron"), Some(Part::Record("pantry".into())));
        assert!(part_of(&format!("pantry.photos/{hash}.jpg")).is_some());
        assert!(part_of(&format!("pantry.visits/{hash}.ron")).is_some());
        for name in [
            "../pantry.ron",
            "/etc/pantry.ron",
            "a/pantry.ron",
            "C:\\pantry.ron",
            "C:pantry.ron",
            "..ron",
            ".ron",
            "pantry.txt",
            "pantry.ron/",
            &format!("pantry.photos/../{hash}.jpg"),
            &format!("../x.photos/{hash}.jpg"),
            &format!("pantry.photos/{hash}.ron"),
            &format!("pantry.photos/{hash}.jpg/x"),
            &format!("pantry.photos\\{hash}.jpg"),
            &format!("pantry.visits/{hash}.jpg"),
            "pantry.photos/short.jpg",
            "pan\u{0}try.ron",
            "con.ron",
            "Com1.x.ron",
            "LPT².ron",
            "pan\u{202e}nor.ron",
        ] {
            assert_eq!(part_of(name), None, "{name:?}");
        }
    }
}
