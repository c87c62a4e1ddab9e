//! Opening, saving, photos and recovery, all beside the window.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::machine::{Change, Edit, Machine, Photo, Placement, Point};
use crate::store::{self, Expected, photos, recovery};
use crate::tracing::{self, PhotoPixels};

use super::jobs::{Event, Watch};
use super::session::Desk;

/// Where the record lives.
#[derive(Debug, Clone, Default)]
pub(super) struct Home {
    /// Its file; none for a record never saved.
    pub(super) path: Option<PathBuf>,
    /// Hash of the file as it was opened or saved last.
    pub(super) hash: Option<String>,
    /// The revision that was opened or saved last.
    pub(super) saved_revision: u64,
    /// The revision that was autosaved last.
    autosaved_revision: u64,
    /// The place of its autosave.
    slot: Option<recovery::Slot>,
    /// A folder of its own for the photos of a record that has neither file nor autosave.
    loose: Option<Arc<tempfile::TempDir>>,
    /// A save is under way; another must wait for the hash it brings.
    saving: bool,
    /// The save that waits: where to, and whether a file there may be replaced.
    next_save: Option<(PathBuf, bool)>,
}

/// An outcome with the record it belongs to: the number of that record's turn on the desk.
pub(super) struct Delivery {
    pub(super) turn: u64,
    pub(super) outcome: Outcome,
}

/// What a job hands over.
pub(super) enum Outcome {
    Opened { path: PathBuf, revision: u64, result: Result<store::Loaded, String> },
    Recovered { slot: recovery::Slot, base: Option<String>, result: Result<store::Loaded, String> },
    Saved { path: PathBuf, revision: u64, result: Result<String, String> },
    Photo { result: Result<Box<NewPhoto>, String> },
    Pixels { hash: String, name: String, result: Result<PhotoPixels, String> },
    Autosaved { result: Result<(), String> },
    PhotoMoved { result: Result<(), String> },
}

/// A photo that was read and put beside the record.
pub(super) struct NewPhoto {
    /// The record file beside which it was put.
    home: PathBuf,
    photo: Photo,
    pixels: PhotoPixels,
}

/// An autosave found at the start.
#[derive(Debug, Clone)]
pub struct Recovery {
    /// The record it belongs to; none for one never saved.
    pub record: Option<PathBuf>,
    /// When it was made.
    pub made: String,
    base: Option<String>,
    slot: recovery::Slot,
}

impl Desk {
    /// Clears the desk for a new record.
    pub fn new_machine(&mut self) {
        self.discard_autosave();
        self.replace(Machine::default(), Home::default());
    }

    /// Opens a record.
    pub fn open(&mut self, path: &Path) {
        let (path, catalogue, revision) = (path.to_path_buf(), Arc::clone(&self.catalogue), self.revision);
        self.start(&format!("Opening {}", path.display()), false, move |_| {
            let result = store::load_leniently(&path, &catalogue).map_err(|error| error.to_string());
            Outcome::Opened { path, revision, result }
        });
    }

    /// Saves the record to its file. `false`: it has none yet, ask for one and call [`Self::save_as`].
    pub fn save(&mut self) -> bool {
        let Some(path) = self.home.path.clone() else { return false };
        self.save_to(path, false);
        true
    }

    /// Saves the record to another file, which from then on is its file. Its photos and frozen copies go along.
    ///
    /// With `replace`, a file that lies there is replaced (it is kept as the previous version).
    pub fn save_as(&mut self, path: &Path, replace: bool) {
        self.save_to(path.to_path_buf(), replace);
    }

    /// One save at a time: the second is made against what the first leaves on the disk.
    fn save_to(&mut self, path: PathBuf, replace: bool) {
        if self.home.saving {
            self.home.next_save = Some((path, replace));
            return;
        }
        self.home.saving = true;
        let hash = self.home.hash.clone().filter(|_| self.home.path.as_deref() == Some(path.as_path()));
        let (machine, revision, who) = (Arc::clone(&self.machine), self.revision, self.who().to_owned());
        let old_home = self.photo_home();
        self.start(&format!("Saving {}", path.display()), false, move |_| {
            let result = write_record(&machine, &path, hash.as_deref(), replace, &who, old_home.as_deref());
            Outcome::Saved { path, revision, result }
        });
    }

    /// Reads photos from files and puts them on the canvas, the first with its corner at `at`, the others beside it.
    pub fn add_photos(&mut self, files: Vec<PathBuf>, at: Point) {
        let Some(home) = self.photo_home() else {
            self.fail("Adding photos", &"no folder can be made for the photos: save the record first, then add them");
            return;
        };
        for (number, file) in files.into_iter().enumerate() {
            let home = home.clone();
            let corner = at.moved(30.0 * number as f64, 30.0 * number as f64);
            self.start(&format!("Reading {}", file.display()), true, move |watch| Outcome::Photo {
                result: read_photo(&file, &home, corner, watch).map(Box::new),
            });
        }
    }

    /// The pixels of a photo to draw; starts decoding when they are not there yet.
    pub fn photo_pixels(&mut self, photo: &Photo) -> Option<Arc<PhotoPixels>> {
        if let Some(pixels) = self.photos.get(&key_of(photo)) {
            return Some(pixels);
        }
        let home = self.photo_home()?;
        let path = photos::path_of(&home, photo)?;
        if self.photos.wants(&key_of(photo)) {
            let (hash, name, turns) = (key_of(photo), photo.name.clone(), photo.quarter_turns);
            self.start(&format!("Decoding photo {}", photo.name), true, move |watch| {
                let result = std::fs::read(&path)
                    .map_err(|error| format!("{}: cannot be read ({error}); put the photo back there", path.display()))
                    .and_then(|bytes| {
                        pixels_of(&bytes, turns, watch).map_err(|why| format!("{}: {why}", path.display()))
                    });
                Outcome::Pixels { hash, name, result }
            });
        }
        None
    }

    /// Saves the record aside so that a crash loses little. Call it every few seconds; it does nothing when nothing
    /// changed or no folder for it is known.
    pub fn autosave(&mut self) {
        if !self.is_changed() || self.home.autosaved_revision == self.revision || self.slot().is_none() {
            return;
        }
        self.home.autosaved_revision = self.revision;
        let (machine, when, base) = (Arc::clone(&self.machine), self.now(), self.home.hash.clone());
        if let Some(slot) = self.home.slot.clone() {
            self.start("Saving aside", false, move |_| Outcome::Autosaved {
                result: slot.write(&machine, &when, base.as_deref()).map_err(|error| error.to_string()),
            });
        }
    }

    /// Autosaves that an earlier session left behind.
    pub fn recoveries(&mut self) -> Vec<Recovery> {
        let Some(folder) = self.folders.recovery.clone() else { return Vec::new() };
        match recovery::list(&folder) {
            Ok(found) => found
                .into_iter()
                .map(|one| Recovery {
                    record: one.slot.record().map(Path::to_path_buf),
                    made: one.made,
                    base: one.base,
                    slot: one.slot,
                })
                .collect(),
            Err(error) => {
                self.fail("Looking for autosaves", &error);
                Vec::new()
            }
        }
    }

    /// Puts an autosave on the desk, as an unsaved change of its record.
    pub fn recover(&mut self, recovery: &Recovery) {
        let (slot, base, catalogue) = (recovery.slot.clone(), recovery.base.clone(), Arc::clone(&self.catalogue));
        self.start("Opening the autosave", false, move |_| {
            let result = slot.load(&catalogue).map_err(|error| error.to_string());
            Outcome::Recovered { slot, base, result }
        });
    }

    /// Throws an autosave away.
    pub fn discard(&mut self, recovery: &Recovery) {
        if let Err(error) = recovery.slot.discard() {
            self.fail("Throwing the autosave away", &error);
        }
    }

    /// Takes this record's autosave away: after a save, or when the person leaves it unsaved.
    pub fn discard_autosave(&mut self) {
        if let Some(slot) = self.home.slot.clone()
            && let Err(error) = slot.discard()
        {
            self.fail("Taking the autosave away", &error);
        }
    }

    /// Takes in what a job handed over, unless another record has come to the desk since it was started.
    pub(super) fn take(&mut self, delivery: Delivery) {
        if delivery.turn != self.turn {
            match delivery.outcome {
                Outcome::Saved { result: Err(why), .. } => self.fail("Saving the record before this one", &why),
                Outcome::Photo { .. } => {
                    self.events.push(Event::Remark(
                        "A photo was not added: the record it was for is no longer on the desk.".to_owned(),
                    ));
                }
                // Pixels belong to a picture whatever record it is in.
                Outcome::Pixels { hash, result: Ok(pixels), .. } => self.photos.put(&hash, pixels),
                Outcome::Pixels { hash, result: Err(_), .. } => self.photos.give_up(&hash),
                _ => {}
            }
            return;
        }
        let saved = matches!(delivery.outcome, Outcome::Saved { .. });
        self.take_own(delivery.outcome);
        if saved {
            self.home.saving = false;
            if let Some((path, replace)) = self.home.next_save.take() {
                self.save_to(path, replace);
            }
        }
    }

    fn take_own(&mut self, outcome: Outcome) {
        match outcome {
            Outcome::Opened { path, revision, result: Ok(_) } if revision != self.revision => {
                let why = format!("{}: the record on the desk was changed meanwhile; open it again", path.display());
                self.fail("Opening", &why);
            }
            Outcome::Opened { path, result: Ok(loaded), .. } => {
                for remark in &loaded.remarks {
                    self.events.push(Event::Remark(remark.to_string()));
                }
                self.discard_autosave();
                let home = Home { path: Some(path.clone()), hash: Some(loaded.hash), ..Home::default() };
                self.replace(loaded.machine, home);
                self.events.push(Event::Opened(path));
            }
            Outcome::Recovered { slot, base, result: Ok(loaded) } => {
                let path = slot.record().map(Path::to_path_buf);
                // Of the file that the changes were made to: one that somebody saved since is not written over unasked.
                self.replace(
                    loaded.machine,
                    Home { path: path.clone(), hash: base, slot: Some(slot), ..Home::default() },
                );
                // What was recovered is not what lies in the file.
                self.revision += 1;
                self.set_condition(self.condition());
                self.events.push(Event::Opened(path.unwrap_or_default()));
            }
            Outcome::Saved { path, revision, result: Ok(hash) } => {
                if self.home.path.as_deref() != Some(path.as_path()) || !self.is_changed_since(revision) {
                    self.discard_autosave();
                    self.home.slot = None;
                }
                self.home.path = Some(path.clone());
                self.home.hash = Some(hash);
                self.home.saved_revision = revision;
                self.events.push(Event::Saved(path));
            }
            Outcome::Photo { result: Ok(new) } => self.take_photo(*new),
            Outcome::Pixels { hash, result: Ok(pixels), .. } => {
                self.photos.put(&hash, pixels);
                self.events.push(Event::PhotoReady(hash));
            }
            Outcome::Autosaved { result: Ok(()) } | Outcome::PhotoMoved { result: Ok(()) } => {}
            Outcome::Opened { result: Err(why), .. } => self.fail("Opening", &why),
            Outcome::Recovered { result: Err(why), .. } => self.fail("Opening the autosave", &why),
            Outcome::Saved { result: Err(why), .. } => self.fail("Saving", &why),
            Outcome::Photo { result: Err(why) } => self.fail("Adding a photo", &why),
            Outcome::Pixels { hash, name, result: Err(why) } => {
                self.photos.give_up(&hash);
                self.fail(&format!("Showing photo {name}"), &why);
            }
            Outcome::Autosaved { result: Err(why) } => self.fail("Saving aside", &why),
            Outcome::PhotoMoved { result: Err(why) } => self.fail("Putting a photo beside the record", &why),
        }
    }

    fn is_changed_since(&self, revision: u64) -> bool {
        self.revision != revision
    }

    fn take_photo(&mut self, new: NewPhoto) {
        let mut photo = new.photo;
        let taken: Vec<&str> = self.machine.photos.values().map(|photo| photo.name.as_str()).collect();
        if taken.contains(&photo.name.as_str()) {
            let base = photo.name.clone();
            photo.name = (2..=u32::MAX)
                .map(|number| format!("{base} {number}"))
                .find(|name| !taken.contains(&name.as_str()))
                .unwrap_or_default();
        }
        self.photos.put(&key_of(&photo), new.pixels);
        let id = self.machine.photos.next_id();
        self.move_photo(&new.home, &photo);
        let label = format!("Add photo {}", photo.name);
        self.apply(Edit::one(label, Change::Photo(id, Some(Arc::new(photo)))));
        self.events.push(Event::PhotoAdded(id));
    }

    /// Puts a photo beside the record where it is now, when the record was saved elsewhere while the photo was read.
    fn move_photo(&mut self, from: &Path, photo: &Photo) {
        let Some(now) = self.photo_home().filter(|now| now != from) else { return };
        let Some(file) = photos::path_of(from, photo) else { return };
        let original_name = photo.original_name.clone();
        // Held until the copy is made: it may be the passing folder that goes when nobody needs it.
        let loose = self.home.loose.clone();
        self.start(&format!("Putting photo {} beside the record", photo.name), false, move |_| {
            let bytes = std::fs::read(&file).map_err(|error| format!("{}: cannot be read ({error})", file.display()));
            let result = bytes.and_then(|bytes| {
                photos::add(&now, &bytes, &original_name).map(|_| ()).map_err(|error| error.to_string())
            });
            drop(loose);
            Outcome::PhotoMoved { result }
        });
    }

    /// The record file beside which photos are kept: the record's own, its autosave's, or one in a passing folder.
    fn photo_home(&mut self) -> Option<PathBuf> {
        if let Some(path) = &self.home.path {
            return Some(path.clone());
        }
        if let Some(slot) = self.slot() {
            return Some(slot.file().to_path_buf());
        }
        if self.home.loose.is_none() {
            self.home.loose = tempfile::tempdir().ok().map(Arc::new);
        }
        self.home.loose.as_ref().map(|folder| folder.path().join("unsaved.ron"))
    }

    /// The place of this record's autosave, made when there is none yet.
    fn slot(&mut self) -> Option<&recovery::Slot> {
        if self.home.slot.is_none() {
            let folder = self.folders.recovery.clone()?;
            self.home.slot = match &self.home.path {
                Some(path) => recovery::Slot::of_record(&folder, path).ok(),
                None => recovery::Slot::unnamed(&folder).ok(),
            };
        }
        self.home.slot.as_ref()
    }

    fn start(&mut self, what: &str, can_cancel: bool, work: impl FnOnce(&Watch) -> Outcome + Send + 'static) {
        let turn = self.turn;
        let deliver = move |watch: &Watch| Delivery { turn, outcome: work(watch) };
        if let Err(why) = self.jobs.start(what.to_owned(), can_cancel, deliver) {
            self.fail(what, &why);
        }
    }
}

/// Writes the record, and before it whatever lies beside it and is not at the new place yet.
fn write_record(
    machine: &Machine,
    path: &Path,
    hash: Option<&str>,
    replace: bool,
    who: &str,
    old_home: Option<&Path>,
) -> Result<String, String> {
    if let Some(old) = old_home.filter(|old| *old != path) {
        for photo in machine.photos.values() {
            let Some(from) = photos::path_of(old, photo) else { continue };
            // A photo missing before stays missing, with its remark; the record is saved all the same.
            if let Ok(bytes) = std::fs::read(&from) {
                photos::add(path, &bytes, &photo.original_name).map_err(|error| error.to_string())?;
            }
        }
    }
    if let Some(old) = old_home.filter(|old| *old != path) {
        for hash in machine.visits.values().flat_map(|visit| [&visit.as_found, &visit.as_left]).flatten() {
            store::frozen::copy(old, path, hash).map_err(|error| error.to_string())?;
        }
    }
    let expected = match hash {
        _ if replace => Expected::Whatever,
        Some(hash) => Expected::Hash(hash),
        None => Expected::NoFile,
    };
    store::save(machine, path, expected, who).map_err(|error| error.to_string())
}

fn read_photo(file: &Path, home: &Path, corner: Point, watch: &Watch) -> Result<NewPhoto, String> {
    let bytes = std::fs::read(file).map_err(|error| format!("{}: cannot be read ({error})", file.display()))?;
    let decoded = tracing::decode(&bytes).map_err(|why| format!("{}: {why}", file.display()))?;
    watch.progress(0.6);
    let pixels = PhotoPixels::of(&decoded.picture, |share| watch.progress(0.6 + 0.3 * share));
    if watch.is_stopped() {
        return Err(format!("{}: stopped; it was not added", file.display()));
    }
    let original_name = file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
    let (hash, _) = photos::add(home, &bytes, &original_name).map_err(|error| error.to_string())?;
    let name = file.file_stem().map_or_else(|| "photo".to_owned(), |stem| stem.to_string_lossy().into_owned());
    let photo = Photo {
        name,
        hash,
        original_name,
        size_px: pixels.size_px,
        taken: decoded.taken,
        placement: Placement::Similarity { origin: corner, mm_per_px: starting_scale(pixels.size_px), turn_deg: 0.0 },
        ..Photo::default()
    };
    Ok(NewPhoto { home: home.to_path_buf(), photo, pixels })
}

/// What the pixels of a photo are kept under: a photo that was turned is decoded anew.
fn key_of(photo: &Photo) -> String {
    if photo.quarter_turns.is_multiple_of(4) {
        photo.hash.clone()
    } else {
        format!("{}, turned {}", photo.hash, photo.quarter_turns % 4)
    }
}

/// Until two points of known distance are given, a photo is laid down 400 mm wide.
fn starting_scale(size_px: [u32; 2]) -> f64 {
    400.0 / f64::from(size_px[0].max(1))
}

fn pixels_of(bytes: &[u8], quarter_turns: u8, watch: &Watch) -> Result<PhotoPixels, String> {
    let decoded = tracing::decode(bytes).map_err(|why| why.to_string())?;
    watch.progress(0.6);
    if watch.is_stopped() {
        return Err("stopped; it is shown when the record is opened again".to_owned());
    }
    let picture = match quarter_turns % 4 {
        0 => decoded.picture,
        1 => image::imageops::rotate90(&decoded.picture),
        2 => image::imageops::rotate180(&decoded.picture),
        _ => image::imageops::rotate270(&decoded.picture),
    };
    Ok(PhotoPixels::of(&picture, |share| watch.progress(0.6 + 0.4 * share)))
}
