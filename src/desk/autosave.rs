//! Saving the record aside by itself, and taking up what an earlier run left.
//!
//! One record has one autosave under way at most; a beat that comes meanwhile is left out, and the next one takes the newest.
//! Throwing an autosave away is final: the place writes nothing after it, whichever of the two comes first to the disk.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::store::recovery::{self, Held, RecoveryError};

use super::files::Outcome;
use super::jobs::{Event, Manner, or_broken};
use super::session::Desk;

/// The autosave of the record at work.
#[derive(Debug, Clone, Default)]
pub(super) struct Aside {
    /// Its place.
    held: Option<Arc<Held>>,
    /// The revision that lies there, or that is not to be kept.
    revision: Option<u64>,
    /// One is being written.
    writing: bool,
    /// The person was told that it does not work.
    told: bool,
}

impl Aside {
    /// What an earlier run left, to go on with.
    pub(super) fn taken_up(held: Arc<Held>) -> Self {
        Self { held: Some(held), ..Self::default() }
    }

    /// Whether it has a place.
    pub(super) fn is_held(&self) -> bool {
        self.held.is_some()
    }
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
    /// Saves the record aside so that a crash loses little. Call it every few seconds; it does nothing when nothing
    /// changed, while one is still being written, or when no folder for it is known. One that failed is tried again.
    pub fn autosave(&mut self) {
        let aside = &self.home.aside;
        if !self.is_changed() || aside.writing || aside.revision == Some(self.revision) {
            return;
        }
        let held = match self.aside() {
            Ok(Some(held)) => held,
            Ok(None) => return,
            Err(error) => return self.tell_aside_failed(&error.to_string()),
        };
        self.home.aside.writing = true;
        let (machine, when, base) = (Arc::clone(&self.machine), self.now(), self.home.hash.clone());
        let revision = self.revision;
        let started = self.start("Saving aside", Manner::ToTheEnd, move |_| {
            let written = || held.write(&machine, &when, base.as_deref()).map_err(|error| error.to_string());
            let result = or_broken(written);
            Outcome::Autosaved { held, revision, result }
        });
        self.home.aside.writing = started;
    }

    pub(super) fn take_autosaved(&mut self, held: &Arc<Held>, revision: u64, result: Result<(), String>) {
        // One that was thrown away meanwhile says nothing of the one that is now.
        if !self.home.aside.held.as_ref().is_some_and(|now| Arc::ptr_eq(now, held)) {
            return;
        }
        self.home.aside.writing = false;
        match result {
            Ok(()) => {
                self.home.aside.revision = Some(revision);
                if std::mem::take(&mut self.home.aside.told) {
                    self.events.push(Event::Remark("Saving aside works again.".to_owned()));
                }
            }
            Err(why) => self.tell_aside_failed(&why),
        }
    }

    /// Says once that saving aside does not work, not at every beat.
    fn tell_aside_failed(&mut self, why: &str) {
        if !std::mem::replace(&mut self.home.aside.told, true) {
            let message =
                format!("{why}. It is tried again every few seconds; until then a crash loses what is not saved");
            self.fail("Saving aside", &message);
        }
    }

    /// The place of this record's autosave, made when there is none yet; none when no folder for it is known.
    pub(super) fn aside(&mut self) -> Result<Option<Arc<Held>>, RecoveryError> {
        if self.home.aside.held.is_none() {
            let Some(folder) = &self.folders.recovery else { return Ok(None) };
            let held = match &self.home.path {
                Some(path) => Held::of_record(folder, path, self.who()),
                None => Held::unnamed(folder, self.who()),
            };
            self.home.aside.held = Some(Arc::new(held?));
        }
        Ok(self.home.aside.held.clone())
    }

    /// Autosaves that an earlier session left behind. Those of windows that are running are theirs.
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
        let who = self.who().to_owned();
        self.start("Opening the autosave", Manner::AtOnce, move |_| {
            let held = slot.hold(&who).map_err(|error| error.to_string());
            let result = held.and_then(|held| match slot.load(&catalogue) {
                Ok(loaded) => Ok((Arc::new(held), loaded)),
                Err(error) => Err(error.to_string()),
            });
            Outcome::Recovered { base, result }
        });
    }

    /// Throws an autosave away, with the pictures that only it has.
    pub fn discard(&mut self, recovery: &Recovery) {
        let (slot, who) = (recovery.slot.clone(), self.who().to_owned());
        self.start("Throwing the autosave away", Manner::ToTheEnd, move |_| Outcome::AutosaveGone {
            result: slot.hold(&who).and_then(|held| held.discard()).map_err(|error| error.to_string()),
        });
    }

    /// Takes this record's autosave away, when the person leaves it unsaved. What was left is not saved aside again.
    pub fn discard_autosave(&mut self) {
        self.take_autosave_away();
        self.home.aside.revision = Some(self.revision);
    }

    /// Takes this record's autosave away; what was changed since is saved aside at the next beat.
    pub(super) fn take_autosave_away(&mut self) {
        // Pictures that lie beside it may still be wanted while the record is at work.
        self.remember_photo_home();
        let Aside { held, told, .. } = std::mem::take(&mut self.home.aside);
        self.home.aside.told = told;
        if let Some(held) = held {
            self.start("Taking the autosave away", Manner::ToTheEnd, move |_| Outcome::AutosaveGone {
                result: held.discard().map_err(|error| error.to_string()),
            });
        }
    }
}
