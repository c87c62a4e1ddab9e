//! Photos: reading them in, keeping them beside the record wherever it goes, decoding them to be drawn.
//!
//! A few are decoded at a time, the others wait: each takes much memory while it is at work.

use std::any::Any;
use std::path::{Path, PathBuf};
use std::sync::Arc;
use std::sync::mpsc::Sender;

use image::RgbaImage;

use crate::machine::{Change, Edit, Machine, Photo, Placement, Point};
use crate::store::{frozen, photos};
use crate::tracing::{self, PhotoPixels};

use super::files::Outcome;
use super::jobs::{Event, Manner, Waker, Watch, or_broken};
use super::photos::{Coming, Early};
use super::session::Desk;

/// Where the pictures and frozen copies of a record are kept: beside this file.
#[derive(Debug, Clone)]
pub(super) struct PhotoHome {
    /// The record's own file, its autosave's, or one in a passing folder.
    pub(super) record: PathBuf,
    /// Keeps a place that is not for good from being cleared while somebody still needs it.
    _hold: Option<Arc<dyn Any + Send + Sync>>,
}

/// A photo that was read and put beside the record.
pub(super) struct NewPhoto {
    /// Beside what it was put.
    home: PhotoHome,
    photo: Photo,
    pixels: PhotoPixels,
    remark: Option<String>,
}

/// What a photo is made from.
enum Source {
    File(PathBuf),
    /// A picture without a file, as it was copied.
    Picture(Box<RgbaImage>),
}

/// Decoded pixels of a photo of the record, with what is to be known of a damaged one.
pub(super) type Shown = (PhotoPixels, Option<String>);

/// The way quick pictures take to the window.
#[derive(Clone)]
struct Quick {
    key: String,
    sender: Sender<Early>,
    waker: Waker,
}

impl Quick {
    fn send(&self, photo: Option<Photo>, pixels: PhotoPixels) {
        // The desk may be gone by now; then nobody waits for it.
        drop(self.sender.send(Early { key: self.key.clone(), photo, pixels }));
        (self.waker)();
    }
}

impl Desk {
    /// Reads photos from files and puts them on the canvas, the first with its corner at `at`, the others beside it.
    pub fn add_photos(&mut self, files: Vec<PathBuf>, at: Point) {
        let Some(home) = self.photo_home() else {
            self.fail("Adding photos", &"no folder can be made for the photos: save the record first, then add them");
            return;
        };
        for (number, file) in files.into_iter().enumerate() {
            let corner = at.moved(30.0 * number as f64, 30.0 * number as f64);
            let (what, key) = (format!("Reading {}", file.display()), format!("{} {number}", file.display()));
            self.read_in(&what, key, Source::File(file), home.clone(), corner);
        }
    }

    /// Puts a picture that was copied, and has no file, on the canvas; it is kept as PNG, which loses nothing.
    pub fn add_picture(&mut self, picture: RgbaImage, at: Point) {
        let Some(home) = self.photo_home() else {
            self.fail(
                "Adding photos",
                &"no folder can be made for the photos: save the record first, then paste again",
            );
            return;
        };
        let key = format!("pasted {}", self.revision);
        self.read_in("Reading the copied picture", key, Source::Picture(Box::new(picture)), home, at);
    }

    fn read_in(&mut self, what: &str, key: String, source: Source, home: PhotoHome, corner: Point) {
        let quick = Quick { key: key.clone(), sender: self.photos.early(), waker: self.jobs.waker() };
        self.start(what, Manner::InTurn, move |watch| Outcome::Photo {
            key,
            result: or_broken(|| read_photo(source, home, corner, watch, &quick).map(Box::new)),
        });
    }

    /// Photos that are still being read in, each shown by a quick small picture.
    pub fn photos_coming(&self) -> Vec<Coming> {
        self.photos.coming().cloned().collect()
    }

    /// What is to be known of a photo whose file is damaged or cut short, in words.
    pub fn photo_remark(&self, photo: &Photo) -> Option<&str> {
        self.photos.remark(&key_of(photo))
    }

    /// The pixels of a photo to draw; starts decoding when they are not there yet.
    pub fn photo_pixels(&mut self, photo: &Photo) -> Option<Arc<PhotoPixels>> {
        if let Some(pixels) = self.photos.get(&key_of(photo)) {
            return Some(pixels);
        }
        if photo.hash.is_empty() || !self.photos.wants(&key_of(photo)) {
            return self.photos.quick(&key_of(photo));
        }
        let homes = self.photo_homes();
        let wanted = photo.clone();
        let quick = Quick { key: key_of(photo), sender: self.photos.early(), waker: self.jobs.waker() };
        let started = self.start(&format!("Decoding photo {}", photo.name), Manner::InTurn, move |watch| {
            let photo = wanted;
            let result = or_broken(|| {
                let mut places = homes.iter().filter_map(|home| photos::path_of(&home.record, &photo));
                let first = places.next().ok_or("it has no place beside the record: save the record first")?;
                let path = if first.is_file() { first } else { places.find(|path| path.is_file()).unwrap_or(first) };
                if !path.is_file() {
                    return Err(format!("{}: is not there; put the photo back there", path.display()));
                }
                pixels_of(&path, photo.quarter_turns, watch, &quick)
            });
            Outcome::Pixels { hash: key_of(&photo), name: photo.name, result }
        });
        if !started {
            self.photos.give_up(&key_of(photo));
        }
        None
    }

    pub(super) fn take_photo(&mut self, new: NewPhoto) {
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
        if let Some(remark) = &new.remark {
            self.events.push(Event::Warned { what: format!("Photo {}", photo.name), message: remark.clone() });
        }
        self.photos.note(&key_of(&photo), new.remark);
        let id = self.machine.photos.next_id();
        self.move_photo(new.home, &photo);
        let label = format!("Add photo {}", photo.name);
        self.apply(Edit::one(label, Change::Photo(id, Some(Arc::new(photo)))));
        self.events.push(Event::PhotoAdded(id));
    }

    /// Puts a photo beside the record where it is now, when the record was saved elsewhere while the photo was read.
    fn move_photo(&mut self, from: PhotoHome, photo: &Photo) {
        let Some(now) = self.photo_home().filter(|now| now.record != from.record) else { return };
        let Some(file) = photos::path_of(&from.record, photo) else { return };
        let original_name = photo.original_name.clone();
        self.start(&format!("Putting photo {} beside the record", photo.name), Manner::ToTheEnd, move |_| {
            let bytes = std::fs::read(&file).map_err(|error| format!("{}: cannot be read ({error})", file.display()));
            let result = bytes.and_then(|bytes| {
                photos::add(&now.record, &bytes, &original_name).map(|_| ()).map_err(|error| error.to_string())
            });
            // Held until the copy was made.
            drop(from);
            Outcome::PhotoMoved { result }
        });
    }

    /// Where the photos of the record are kept now: beside its own file, its autosave, or in a passing folder.
    pub(super) fn photo_home(&mut self) -> Option<PhotoHome> {
        if let Some(path) = &self.home.path {
            return Some(PhotoHome { record: path.clone(), _hold: None });
        }
        // Why there is no place aside is told when the record is to be saved aside.
        if let Ok(Some(held)) = self.aside() {
            return Some(PhotoHome { record: held.slot().file().to_path_buf(), _hold: Some(held) });
        }
        if self.home.loose.is_none() {
            self.home.loose = tempfile::tempdir().ok().map(Arc::new);
        }
        let folder = self.home.loose.clone()?;
        Some(PhotoHome { record: folder.path().join("unsaved.ron"), _hold: Some(folder) })
    }

    /// Where the photos of the record are kept now, and after it where they were before.
    pub(super) fn photo_homes(&mut self) -> Vec<PhotoHome> {
        let now = self.photo_home();
        let earlier = self.home.earlier.iter().filter(|old| now.as_ref().is_none_or(|now| now.record != old.record));
        let earlier: Vec<PhotoHome> = earlier.cloned().collect();
        now.into_iter().chain(earlier).collect()
    }

    /// Before the record gets another place: undo may bring back a photo whose picture lies at the old one.
    pub(super) fn remember_photo_home(&mut self) {
        let known = self.home.path.is_some() || self.home.aside.is_held() || self.home.loose.is_some();
        if known
            && let Some(home) = self.photo_home()
            && self.home.earlier.iter().all(|old| old.record != home.record)
        {
            self.home.earlier.push(home);
        }
    }
}

/// Takes the pictures and frozen copies that a record speaks of to its file, from where they were kept before.
///
/// One that is nowhere stays missing, with its remark; the record is saved all the same.
pub(super) fn take_along(machine: &Machine, homes: &[PhotoHome], path: &Path) -> Result<(), String> {
    let moves = homes.first().is_some_and(|home| home.record != path);
    let elsewhere: Vec<&Path> = homes.iter().map(|home| home.record.as_path()).filter(|home| *home != path).collect();
    if elsewhere.is_empty() {
        return Ok(());
    }
    for photo in machine.photos.values() {
        // At the old place nothing is looked at again that is there; at a new one a damaged picture is written anew.
        if !moves && photos::path_of(path, photo).is_none_or(|there| there.is_file()) {
            continue;
        }
        let found =
            elsewhere.iter().filter_map(|home| photos::path_of(home, photo)).find_map(|from| std::fs::read(from).ok());
        if let Some(bytes) = found {
            photos::add(path, &bytes, &photo.original_name).map_err(|error| error.to_string())?;
        }
    }
    for hash in machine.visits.values().flat_map(|visit| [&visit.as_found, &visit.as_left]).flatten() {
        let from = elsewhere.iter().find(|home| frozen::path_of(home, hash).is_file());
        if let Some(from) = from.filter(|_| moves || !frozen::path_of(path, hash).is_file()) {
            frozen::copy(from, path, hash).map_err(|error| error.to_string())?;
        }
    }
    Ok(())
}

fn read_photo(
    source: Source,
    home: PhotoHome,
    corner: Point,
    watch: &Watch,
    quick: &Quick,
) -> Result<NewPhoto, String> {
    let (named, original_name, bytes) = match source {
        Source::File(file) => {
            if watch.is_stopped() {
                return Err(format!("{}: stopped; it was not added", file.display()));
            }
            let bytes = tracing::read_file(&file).map_err(|why| why.to_string())?;
            let original_name = file.file_name().map(|name| name.to_string_lossy().into_owned()).unwrap_or_default();
            (file, original_name, bytes)
        }
        Source::Picture(picture) => {
            let mut bytes = std::io::Cursor::new(Vec::new());
            picture
                .write_to(&mut bytes, image::ImageFormat::Png)
                .map_err(|why| format!("the copied picture cannot be kept ({why}); save it as a file and add that"))?;
            (PathBuf::from("pasted picture"), "pasted picture.png".to_owned(), bytes.into_inner())
        }
    };
    let stopped = || format!("{}: stopped; it was not added", named.display());
    watch.progress(0.05);
    let name = named.file_stem().map_or_else(|| "photo".to_owned(), |stem| stem.to_string_lossy().into_owned());
    let mut photo = Photo { name, original_name, ..Photo::default() };
    let lies =
        |size_px: [u32; 2]| Placement::Similarity { origin: corner, mm_per_px: starting_scale(size_px), turn_deg: 0.0 };
    if let Some(size_px) = tracing::upright_size(&bytes)
        && let Some(picture) = tracing::preview(&bytes)
    {
        let shown = Photo { size_px, placement: lies(size_px), hash: quick.key.clone(), ..photo.clone() };
        quick.send(Some(shown), PhotoPixels::quick(&picture, size_px));
        watch.progress(0.1);
    }
    let decoded = tracing::decode(&bytes).map_err(|why| format!("{}: {why}", named.display()))?;
    watch.progress(0.6);
    if watch.is_stopped() {
        return Err(stopped());
    }
    let pixels = PhotoPixels::of(&decoded.picture, |share| watch.progress(0.6 + 0.3 * share));
    if watch.is_stopped() {
        return Err(stopped());
    }
    let (hash, _) = photos::add(&home.record, &bytes, &photo.original_name).map_err(|error| error.to_string())?;
    photo.hash = hash;
    photo.size_px = pixels.size_px;
    photo.taken = decoded.taken;
    photo.placement = lies(pixels.size_px);
    Ok(NewPhoto { home, photo, pixels, remark: decoded.remark })
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

fn pixels_of(file: &Path, quarter_turns: u8, watch: &Watch, quick: &Quick) -> Result<Shown, String> {
    let stopped = || Err("stopped; it is shown when the record is opened again".to_owned());
    if watch.is_stopped() {
        return stopped();
    }
    let bytes = tracing::read_file(file).map_err(|why| why.to_string())?;
    if let Some(picture) = tracing::preview(&bytes)
        && let Some(size_px) = tracing::upright_size(&bytes)
    {
        let size_px = if quarter_turns.is_multiple_of(2) { size_px } else { [size_px[1], size_px[0]] };
        quick.send(None, PhotoPixels::quick(&turned(picture, quarter_turns), size_px));
    }
    let decoded = tracing::decode(&bytes).map_err(|why| format!("{}: {why}", file.display()))?;
    watch.progress(0.6);
    if watch.is_stopped() {
        return stopped();
    }
    let picture = turned(decoded.picture, quarter_turns);
    let pixels = PhotoPixels::of(&picture, |share| watch.progress(0.6 + 0.4 * share));
    Ok((pixels, decoded.remark))
}

fn turned(picture: RgbaImage, quarter_turns: u8) -> RgbaImage {
    match quarter_turns % 4 {
        0 => picture,
        1 => image::imageops::rotate90(&picture),
        2 => image::imageops::rotate180(&picture),
        _ => image::imageops::rotate270(&picture),
    }
}
