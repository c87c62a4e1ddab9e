//! Opening and saving beside the window, and taking in whatever was done there.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::machine::{Machine, PhotoId};
use crate::practice::Score;
use crate::store::recovery::Held;
use crate::store::{self, Expected};

use super::autosave::Aside;
use super::compared::Compared;
use super::following::WireProposed;
use super::jobs::{Event, JobId, Manner, Watch, or_broken};
use super::paper::PaperOutcome;
use super::pictures::{NewPhoto, PhotoHome, Shown, take_along};
use super::session::Desk;
use super::shop::Shop;
use super::visits::Copied;

/// Where the record lives.
#[derive(Debug, Clone, Default)]
pub(super) struct Home {
    /// Its file; none for a record never saved.
    pub(super) path: Option<PathBuf>,
    /// Hash of the file as it was opened or saved last.
    pub(super) hash: Option<String>,
    /// The revision that was opened or saved last.
    pub(super) saved_revision: u64,
    /// Its autosave.
    pub(super) aside: Aside,
    /// A folder of its own for the photos of a record that has neither file nor autosave.
    pub(super) loose: Option<Arc<tempfile::TempDir>>,
    /// Where its photos were kept before it was saved elsewhere.
    pub(super) earlier: Vec<PhotoHome>,
    /// A copy for a visit is being made.
    pub(super) copying: bool,
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
    Recovered { base: Option<String>, result: Result<(Arc<Held>, store::Loaded), String> },
    Saved { path: PathBuf, revision: u64, result: Result<String, String> },
    Photo { key: String, result: Result<Box<NewPhoto>, String> },
    Judged(Box<Score>),
    Pixels { hash: String, name: String, result: Result<Shown, String> },
    Proposed { photo: PhotoId, result: Result<Vec<WireProposed>, String> },
    Autosaved { held: Arc<Held>, revision: u64, result: Result<(), String> },
    AutosaveGone { result: Result<(), String> },
    Compared { result: Result<Box<Compared>, String> },
    Copied { copied: Copied, result: Result<String, String> },
    PhotoMoved { result: Result<(), String> },
    Shop(Box<Shop>),
    Paper(Box<PaperOutcome>),
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
        self.start(&format!("Opening {}", path.display()), Manner::AtOnce, move |_| {
            let result = store::load_leniently(&path, &catalogue).map_err(|error| error.to_string());
            Outcome::Opened { path, revision, result }
        });
    }

    /// Saves the record to its file. `false`: it has none yet, ask for one and call [`Self::save_as`].
    pub fn save(&mut self) -> bool {
        if self.refuses_to_save() {
            return true;
        }
        let Some(path) = self.home.path.clone() else { return false };
        self.save_to(path, false);
        true
    }

    /// Saves the record to another file, which from then on is its file. Its photos and frozen copies go along.
    ///
    /// With `replace`, a file that lies there is replaced (it is kept as the previous version).
    pub fn save_as(&mut self, path: &Path, replace: bool) {
        if self.refuses_to_save() {
            return;
        }
        self.save_to(path.to_path_buf(), replace);
    }

    /// One save at a time: the second is made against what the first leaves on the disk.
    fn save_to(&mut self, path: PathBuf, replace: bool) {
        if self.home.saving {
            self.home.next_save = Some((path, replace));
            return;
        }
        let hash = self.home.hash.clone().filter(|_| self.home.path.as_deref() == Some(path.as_path()));
        let (machine, revision, who) = (Arc::clone(&self.machine), self.revision, self.who().to_owned());
        let homes = self.photo_homes();
        self.home.saving = self.start(&format!("Saving {}", path.display()), Manner::ToTheEnd, move |_| {
            let result = or_broken(|| write_record(&machine, &path, hash.as_deref(), replace, &who, &homes));
            Outcome::Saved { path, revision, result }
        });
    }

    /// Takes in what a job handed over, unless another record has come to the desk since it was started.
    pub(super) fn take(&mut self, delivery: Delivery) {
        let Delivery { turn, outcome } = delivery;
        let outcome = match outcome {
            // A folder of machines belongs to no record.
            Outcome::Shop(shop) => {
                self.worked.shop = Some(Arc::new(*shop));
                return;
            }
            Outcome::Paper(paper) => {
                self.take_paper(*paper, turn == self.turn);
                return;
            }
            outcome => outcome,
        };
        if turn != self.turn {
            match outcome {
                Outcome::Saved { result: Err(why), .. } => self.fail("Saving the record before this one", &why),
                Outcome::Photo { key, .. } => {
                    self.photos.came(&key);
                    self.events.push(Event::Remark(
                        "A photo was not added: the record it was for is no longer on the desk.".to_owned(),
                    ));
                }
                // Pixels belong to a picture whatever record it is in.
                Outcome::Pixels { hash, result: Ok((pixels, remark)), .. } => {
                    self.photos.put(&hash, pixels);
                    self.photos.note(&hash, remark);
                }
                Outcome::Pixels { hash, result: Err(_), .. } => self.photos.give_up(&hash),
                Outcome::AutosaveGone { result: Err(why) } => self.fail("Taking an autosave away", &why),
                Outcome::Copied { .. } => self.events.push(Event::Remark(
                    "A copy for a visit was not noted: the record it was of is no longer on the desk.".to_owned(),
                )),
                _ => {}
            }
            return;
        }
        let saved = matches!(outcome, Outcome::Saved { .. });
        self.take_own(outcome);
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
            Outcome::Recovered { base, result: Ok((held, loaded)) } => {
                let path = held.slot().record().map(Path::to_path_buf);
                // Of the file that the changes were made to: one that somebody saved since is not written over unasked.
                let aside = Aside::taken_up(held);
                self.replace(loaded.machine, Home { path: path.clone(), hash: base, aside, ..Home::default() });
                // What was recovered is not what lies in the file.
                self.revision += 1;
                self.set_condition(self.condition());
                self.events.push(Event::Opened(path.unwrap_or_default()));
            }
            Outcome::Saved { path, revision, result: Ok(hash) } => {
                if self.home.path.as_deref() != Some(path.as_path()) || !self.is_changed_since(revision) {
                    self.take_autosave_away();
                }
                self.home.path = Some(path.clone());
                self.home.hash = Some(hash);
                self.home.saved_revision = revision;
                self.events.push(Event::Saved(path));
            }
            Outcome::Judged(score) => self.take_score(*score),
            Outcome::Photo { key, result } => {
                self.photos.came(&key);
                match result {
                    Ok(new) => self.take_photo(*new),
                    Err(why) => self.fail("Adding a photo", &why),
                }
            }
            Outcome::Pixels { hash, result: Ok((pixels, remark)), name } => {
                if let Some(remark) = &remark {
                    self.events.push(Event::Warned { what: format!("Photo {name}"), message: remark.clone() });
                }
                self.photos.note(&hash, remark);
                self.photos.put(&hash, pixels);
                self.events.push(Event::PhotoReady(hash));
            }
            Outcome::Proposed { photo, result } => self.take_proposed(photo, result),
            Outcome::Autosaved { held, revision, result } => self.take_autosaved(&held, revision, result),
            Outcome::Compared { result: Ok(compared) } => self.take_compared(*compared),
            Outcome::Compared { result: Err(why) } => self.fail("Comparing two copies of the record", &why),
            Outcome::Copied { copied, result } => self.take_copied(copied, result),
            Outcome::AutosaveGone { result: Ok(()) }
            | Outcome::PhotoMoved { result: Ok(()) }
            | Outcome::Shop(_)
            | Outcome::Paper(_) => {}
            Outcome::Opened { result: Err(why), .. } => self.fail("Opening", &why),
            Outcome::Recovered { result: Err(why), .. } => self.fail("Opening the autosave", &why),
            Outcome::Saved { result: Err(why), .. } => self.fail("Saving", &why),
            Outcome::Pixels { hash, name, result: Err(why) } => {
                self.photos.give_up(&hash);
                self.fail(&format!("Showing photo {name}"), &why);
            }
            Outcome::AutosaveGone { result: Err(why) } => self.fail("Taking an autosave away", &why),
            Outcome::PhotoMoved { result: Err(why) } => self.fail("Putting a photo beside the record", &why),
        }
    }

    fn is_changed_since(&self, revision: u64) -> bool {
        self.revision != revision
    }

    /// Starts a job; `false`, and told, when the system would not.
    pub(super) fn start(
        &mut self,
        what: &str,
        manner: Manner,
        work: impl FnOnce(&Watch) -> Outcome + Send + 'static,
    ) -> bool {
        self.start_job(what, manner, work).is_some()
    }

    /// As [`Self::start`], with the job's number.
    pub(super) fn start_job(
        &mut self,
        what: &str,
        manner: Manner,
        work: impl FnOnce(&Watch) -> Outcome + Send + 'static,
    ) -> Option<JobId> {
        let turn = self.turn;
        let deliver = move |watch: &Watch| Delivery { turn, outcome: work(watch) };
        match self.jobs.start(what.to_owned(), manner, deliver) {
            Ok(id) => Some(id),
            Err(why) => {
                self.fail(what, &why);
                None
            }
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
    homes: &[PhotoHome],
) -> Result<String, String> {
    take_along(machine, homes, path)?;
    let expected = match hash {
        _ if replace => Expected::Whatever,
        Some(hash) => Expected::Hash(hash),
        None => Expected::NoFile,
    };
    store::save(machine, path, expected, who).map_err(|error| error.to_string())
}
