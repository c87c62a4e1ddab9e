//! The desk itself: one record at work.

use std::collections::BTreeSet;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::machine::{ConditionId, Edit, Machine, ReadingId, Spot, WireId};

use super::compared::Compared;
use super::compute::Compute;
use super::derived::{Derived, Deriver, Input, Look};
use super::files::{Delivery, Home};
use super::following::Following;
use super::foreseen::Asked;
use super::history::History;
use super::identified::{Identified, Mysteries, Question};
use super::jobs::{Event, Job, JobId, Jobs};
use super::paper::Papers;
use super::photos::PhotoCache;
use super::practice::Practice;
use super::removal::{Removal, Removals};
use super::shop::Shop;

/// Tells the present time as `2026-03-02 10:15`.
pub type Clock = Arc<dyn Fn() -> String + Send + Sync>;

/// Folders and names that the desk is told, since it asks nobody.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Folders {
    /// Where autosaves go. Without it nothing is saved by itself.
    pub recovery: Option<PathBuf>,
    /// Who is at work, for the log and for the lock of a file.
    pub who: String,
}

/// One record at work, with its history, its derived results and its work in the background.
pub struct Desk {
    pub(super) machine: Arc<Machine>,
    pub(super) catalogue: Arc<Catalogue>,
    pub(super) clock: Clock,
    pub(super) folders: Folders,
    pub(super) home: Home,
    pub(super) history: History,
    pub(super) revision: u64,
    /// Rises with every record that comes to the desk, so that late results of another are known.
    pub(super) turn: u64,
    look: Look,
    pub(super) worked: Worked,
    pub(super) jobs: Jobs<Delivery>,
    pub(super) photos: PhotoCache,
    pub(super) events: Vec<Event>,
    /// What lies on the desk is practice.
    pub(super) practice: Option<Practice>,
}

/// What is worked out beside the window, and what was asked for.
pub(super) struct Worked {
    derived: Arc<Derived>,
    asked: Option<(u64, Look)>,
    compute: Compute<Deriver>,
    mysteries: Mysteries,
    removals: Removals,
    compared: Option<Arc<Compared>>,
    pub(super) following: Following,
    /// The machines of a folder.
    pub(super) shop: Option<Arc<Shop>>,
    /// Pages of the record.
    pub(super) papers: Papers,
}

impl Desk {
    /// A desk with an empty record.
    pub fn new(catalogue: Arc<Catalogue>, clock: Clock, folders: Folders) -> Self {
        let mut desk = Self {
            machine: Arc::new(Machine::default()),
            catalogue,
            clock,
            folders,
            home: Home::default(),
            history: History::default(),
            revision: 0,
            turn: 0,
            look: Look::default(),
            worked: Worked {
                derived: Arc::new(Derived::default()),
                asked: None,
                compute: Compute::new("derive"),
                mysteries: Mysteries::new(),
                removals: Removals::new(),
                compared: None,
                following: Following::new(),
                shop: None,
                papers: Papers::default(),
            },
            jobs: Jobs::new(),
            photos: PhotoCache::default(),
            events: Vec::new(),
            practice: None,
        };
        desk.ask();
        desk
    }

    /// The record as it is now.
    pub fn machine(&self) -> &Arc<Machine> {
        &self.machine
    }

    /// The kinds of part.
    pub fn catalogue(&self) -> &Arc<Catalogue> {
        &self.catalogue
    }

    /// Rises with every change of the record.
    pub fn revision(&self) -> u64 {
        self.revision
    }

    /// The present time as `2026-03-02 10:15`.
    pub fn now(&self) -> String {
        (self.clock)()
    }

    /// Who is at work.
    pub fn who(&self) -> &str {
        &self.folders.who
    }

    /// Says who is at work.
    pub fn set_who(&mut self, who: &str) {
        who.clone_into(&mut self.folders.who);
    }

    /// Called from any thread when [`Self::poll`] has something new.
    pub fn set_waker(&mut self, waker: Arc<dyn Fn() + Send + Sync>) {
        self.worked.compute.set_waker(Arc::clone(&waker));
        self.worked.mysteries.reason.set_waker(Arc::clone(&waker));
        self.worked.removals.judge.set_waker(Arc::clone(&waker));
        self.worked.following.set_waker(Arc::clone(&waker));
        self.jobs.set_waker(waker);
    }

    /// Changes the record: one undo step. An edit without changes is no step.
    pub fn apply(&mut self, edit: Edit) {
        self.change(edit, None);
    }

    /// Changes the record; edits with the same key in a row are one undo step (a drag, typing in a field).
    pub fn apply_joined(&mut self, edit: Edit, key: &str) {
        self.change(edit, Some(key));
    }

    /// Ends a row of joined edits: the next one is a step of its own.
    pub fn close_step(&mut self) {
        self.history.close_step();
    }

    fn change(&mut self, edit: Edit, key: Option<&str>) {
        if !edit.is_empty() {
            self.history.apply(Arc::make_mut(&mut self.machine), edit, key);
            self.changed();
        }
    }

    /// Takes back the last step; returns its label.
    pub fn undo(&mut self) -> Option<String> {
        let label = self.history.undo(Arc::make_mut(&mut self.machine))?;
        self.changed();
        Some(label)
    }

    /// Does again what was taken back; returns its label.
    pub fn redo(&mut self) -> Option<String> {
        let label = self.history.redo(Arc::make_mut(&mut self.machine))?;
        self.changed();
        Some(label)
    }

    /// Label of the step that undo would take back.
    pub fn undo_label(&self) -> Option<&str> {
        self.history.undo_label()
    }

    /// Label of the step that redo would do again.
    pub fn redo_label(&self) -> Option<&str> {
        self.history.redo_label()
    }

    /// The condition the machine is in now, as far as this session knows.
    pub fn condition(&self) -> Option<ConditionId> {
        self.look.condition
    }

    /// Says which condition the machine is in. No change of the record.
    pub fn set_condition(&mut self, condition: Option<ConditionId>) {
        self.look.condition = condition.filter(|&id| self.machine.conditions.contains(id));
        self.mind_condition();
        self.ask();
    }

    /// Says where the meter is put and which reading is looked at. No change of the record.
    pub fn look_at(&mut self, probes: Option<Asked>, reading: Option<ReadingId>) {
        self.look = Look { condition: self.look.condition, probes, reading, ladder: self.look.ladder };
        self.ask();
    }

    /// Says whether the ladder diagram is looked at: it is laid out only then. No change of the record.
    pub fn look_at_ladder(&mut self, looked_at: bool) {
        self.look.ladder = looked_at;
        self.ask();
    }

    /// The newest finished results. Their revision may lag behind the record's for a moment.
    pub fn derived(&self) -> &Arc<Derived> {
        &self.worked.derived
    }

    /// Whether results for the present record are still being computed.
    pub fn is_deriving(&self) -> bool {
        self.worked.derived.revision != self.revision || self.worked.derived.look.condition != self.look.condition
    }

    /// What the mysteries may be and what to read next, of the last record for which that was asked.
    pub fn identified(&self) -> &Arc<Identified> {
        &self.worked.mysteries.identified
    }

    /// Has the mysteries worked out for the record as it is, unless that has been asked for. It takes longer than other
    /// results, so it is asked for only while somebody looks. `out_of_reach`: places that a probe does not get to.
    pub fn identify(&mut self, out_of_reach: &BTreeSet<Spot>) {
        let question = Question {
            revision: self.revision,
            machine: Arc::clone(&self.machine),
            catalogue: Arc::clone(&self.catalogue),
            condition: self.look.condition,
            out_of_reach: out_of_reach.clone(),
        };
        self.worked.mysteries.ask(question);
    }

    /// Whether the mysteries that were asked about are still being worked out.
    pub fn is_identifying(&self) -> bool {
        self.worked.mysteries.is_waiting()
    }

    /// What may be taken out, of the last record for which that was asked.
    pub fn removal(&self) -> &Arc<Removal> {
        &self.worked.removals.removal
    }

    /// Has every wire and part judged for the record as it is, and the removal of the chosen wires planned, unless that has been asked for.
    /// Each further `effort` may spend four times as much. Whether something new was asked.
    pub fn judge_removal(&mut self, chosen: &BTreeSet<WireId>, effort: u32) -> bool {
        self.worked.removals.ask((&self.machine, self.revision), &self.catalogue, chosen, effort)
    }

    /// Whether the removal that was asked about is still being worked out.
    pub fn is_judging(&self) -> bool {
        self.worked.removals.is_waiting()
    }

    /// Ends that work: what is not decided by now stays 'not decided'.
    pub fn end_judging(&self) {
        self.worked.removals.end();
    }

    /// What differs between the two copies of the record that were compared last.
    pub fn compared(&self) -> Option<&Arc<Compared>> {
        self.worked.compared.as_ref()
    }

    pub(super) fn take_compared(&mut self, compared: Compared) {
        self.worked.compared = Some(Arc::new(compared));
    }

    /// Whether what the probes would show, or the reading that is looked at, is still being worked out.
    pub fn is_looking(&self) -> bool {
        self.worked.derived.revision != self.revision || self.worked.derived.look != self.look
    }

    /// What is being done in the background.
    pub fn jobs(&self) -> Vec<Job> {
        self.jobs.shown()
    }

    /// Asks a job to stop.
    pub fn cancel(&self, job: JobId) {
        self.jobs.cancel(job);
    }

    /// Collects what came in from the background. Call it once a frame; it does not block.
    pub fn poll(&mut self) -> Vec<Event> {
        match self.worked.compute.newest() {
            Some(Ok(derived)) => self.worked.derived = derived,
            Some(Err(why)) => self.fail("Working out the record", &why),
            None => {}
        }
        match self.worked.mysteries.reason.newest() {
            Some(Ok(identified)) => self.worked.mysteries.identified = identified,
            Some(Err(why)) => {
                self.worked.mysteries.failed();
                self.fail("Working out the mysteries", &why);
            }
            None => {}
        }
        match self.worked.removals.judge.newest() {
            Some(Ok(removal)) => self.worked.removals.take(removal),
            Some(Err(why)) => {
                self.worked.removals.failed();
                self.fail("Working out what may be taken out", &why);
            }
            None => {}
        }
        self.photos.collect();
        if let Err(why) = self.worked.following.collect() {
            self.fail("Following a wire", &why);
        }
        for outcome in self.jobs.collect() {
            self.take_or_tell(outcome);
        }
        std::mem::take(&mut self.events)
    }

    /// Waits until nothing is under way any more, and collects what came in. For tests and commands, not for a window.
    pub fn wait(&mut self) -> Vec<Event> {
        let mut events = self.poll();
        while let Some(outcome) = self.jobs.wait() {
            self.take_or_tell(outcome);
            events.append(&mut self.events);
        }
        while self.is_looking() {
            match self.worked.compute.wait() {
                Some(Ok(derived)) => self.worked.derived = derived,
                Some(Err(_)) | None => break,
            }
        }
        events.append(&mut self.events);
        events
    }

    fn take_or_tell(&mut self, outcome: Result<Delivery, (String, String)>) {
        match outcome {
            Ok(delivery) => self.take(delivery),
            Err((what, why)) => self.fail(&what, &why),
        }
    }

    /// Whether the record differs from what was opened or saved last. Practice has nothing to save.
    pub fn is_changed(&self) -> bool {
        self.practice.is_none() && self.revision != self.home.saved_revision
    }

    /// The record's file.
    pub fn path(&self) -> Option<&Path> {
        self.home.path.as_deref()
    }

    /// Puts another record on the desk.
    pub(super) fn replace(&mut self, machine: Machine, home: Home) {
        self.machine = Arc::new(machine);
        self.history = History::default();
        self.revision += 1;
        self.turn += 1;
        self.home = home;
        self.practice = None;
        self.worked.compared = None;
        self.worked.removals.forget(self.revision);
        self.worked.papers.forget();
        self.home.saved_revision = self.revision;
        // Nobody has said yet which condition the machine is in.
        self.look = Look::default();
        self.photos.try_again();
        self.ask();
    }

    fn changed(&mut self) {
        self.revision += 1;
        self.look.condition = self.look.condition.filter(|&id| self.machine.conditions.contains(id));
        self.ask();
    }

    /// Has results computed for the record as it is now, unless they have been asked for.
    fn ask(&mut self) {
        if self.worked.asked.as_ref().is_some_and(|(revision, look)| *revision == self.revision && *look == self.look) {
            return;
        }
        self.worked.asked = Some((self.revision, self.look.clone()));
        let input = Input {
            revision: self.revision,
            machine: Arc::clone(&self.machine),
            catalogue: Arc::clone(&self.catalogue),
            look: self.look.clone(),
        };
        if let Some(derived) = self.worked.compute.ask(input) {
            self.worked.derived = derived;
        }
    }

    pub(super) fn fail(&mut self, what: &str, message: &dyn std::fmt::Display) {
        self.events.push(Event::Failed { what: what.to_owned(), message: message.to_string() });
    }
}
