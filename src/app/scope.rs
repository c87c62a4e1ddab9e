//! What draw functions may look at: an immutable view of the record, its results and what the window shows.

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::desk::{
    Compared, Derived, Electrical, Followed, Identified, Job, LaidPages, PagesState, Practice, Recovery, Removal, Shop,
};
use crate::findings::Finding;
use crate::machine::{ConditionId, Machine, PhotoId, WireId};
use crate::removal::Judged;
use crate::tracing::PhotoPixels;

use super::judge::Judgement;
use super::lists::Lists;
use super::marks::Band;
use super::messages::Messages;
use super::prefs::Prefs;
use super::theme::Palette;
use super::view::{FindingKey, View};

/// Everything a draw function may look at.
#[derive(Clone, Copy)]
pub struct Scope<'a> {
    /// The record.
    pub machine: &'a Machine,
    /// Kinds of part.
    pub catalogue: &'a Arc<Catalogue>,
    /// What was computed from it.
    pub results: Results<'a>,
    /// The file it lies in.
    pub file: FileFacts<'a>,
    /// What is known of the pictures of photos.
    pub photos: PhotoFacts<'a>,
    /// What the window shows.
    pub view: &'a View,
    /// What the lists hold.
    pub lists: &'a Lists,
    /// What the person has set.
    pub prefs: &'a Prefs,
    /// Colours.
    pub palette: &'a Palette,
    /// Date and time now, as `2026-03-02 10:15`.
    pub now: &'a str,
    /// Words to the person.
    pub messages: &'a Messages,
    /// Work going on beside the window.
    pub jobs: &'a [Job],
    /// Work of an earlier run that can be had back.
    pub recoveries: &'a [Recovery],
    /// What lies on the desk is practice.
    pub practice: Option<&'a Practice>,
    /// Pages of the sheet or of labels.
    pub paper: PaperFacts<'a>,
}

/// What is known of pages.
#[derive(Clone, Copy)]
pub struct PaperFacts<'a> {
    /// Those that were made last.
    pub laid: Option<&'a Arc<LaidPages>>,
    /// How it stands with those of the record as it is and of what is chosen.
    pub state: &'a PagesState,
    /// How near they were looked at when they were drawn last, in times of their size on paper.
    pub times: f32,
}

/// What was computed from the record.
#[derive(Clone, Copy)]
pub struct Results<'a> {
    /// The revision of the record.
    pub revision: u64,
    /// The condition the machine is in.
    pub condition: Option<ConditionId>,
    /// All of it.
    pub derived: &'a Derived,
    /// What the mysteries may be, for a record of `identified.revision`.
    pub identified: &'a Identified,
    /// That is of this record and condition.
    pub identified_fresh: bool,
    /// What may be taken out, for a record of `removal.revision`.
    pub removal: &'a Removal,
    /// That is of this record and of the wires that are chosen.
    pub removal_fresh: bool,
    /// That takes longer than a person waits without a word.
    pub judging_long: bool,
    /// What differs between the two copies that were compared last.
    pub compared: Option<&'a Compared>,
    /// How dangerous the condition is.
    pub band: Band,
    /// Why, in one sentence; empty when there is nothing to add.
    pub band_reason: &'a str,
    /// Findings, worst first.
    pub findings: &'a [Finding],
    /// Whether they belong to the record as it is now.
    pub fresh: bool,
    /// What the two probes show by the record, as far as it can be said.
    pub judgement: &'a Judgement,
}

/// What is known of the pictures of photos, beside the record.
#[derive(Clone, Copy)]
pub struct PhotoFacts<'a> {
    /// Pixels, of those that can be drawn.
    pub pixels: &'a BTreeMap<PhotoId, Arc<PhotoPixels>>,
    /// What to know of damaged ones.
    pub remarks: &'a BTreeMap<PhotoId, String>,
    /// The wire that is followed.
    pub followed: Option<&'a Arc<Followed>>,
}

/// The file the record lies in, and what can be taken back.
#[derive(Clone, Copy)]
pub struct FileFacts<'a> {
    /// Where it lies; none while it was never saved.
    pub path: Option<&'a Path>,
    /// It has changes that are not saved.
    pub changed: bool,
    /// What undo would take back.
    pub undo: Option<&'a str>,
    /// What redo would do again.
    pub redo: Option<&'a str>,
    /// The machines of a folder, where one was looked through.
    pub shop: Option<&'a Shop>,
    /// That folder, as it is written so far.
    pub shop_folder: &'a str,
}

impl Scope<'_> {
    /// Whether this is the revision of the record as it is.
    pub fn is_revision(&self, revision: u64) -> bool {
        self.results.revision == revision
    }

    /// What is said of a wire that is asked to go; none while it is not worked out for the record as it is.
    pub fn judged(&self, wire: WireId) -> Option<&Judged> {
        self.results.removal.verdicts.wires.get(&wire).filter(|_| self.results.removal_fresh)
    }

    /// What the record means in the present condition; none while that is not chosen or still being worked out.
    pub fn electrical(&self) -> Option<&Electrical> {
        let derived = self.results.derived;
        derived.electrical.as_deref().filter(|_| derived.look.condition == self.results.condition)
    }

    /// The finding with this key and its number in the list, from 1.
    pub fn finding(&self, key: &FindingKey) -> Option<(usize, &Finding)> {
        let found = |finding: &&Finding| finding.rule == key.rule && finding.about == key.about;
        self.results.findings.iter().enumerate().find(|(_, f)| found(f)).map(|(place, f)| (place + 1, f))
    }

    /// The visit that is going on: the last one, unless it is closed.
    pub fn visit_date(&self) -> Option<&str> {
        let last = self.machine.visits.values().next_back()?;
        last.as_left.is_none().then_some(last.date.as_str())
    }
}
