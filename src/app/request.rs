//! What a draw function asks for. Nothing changes while drawing; [`super::apply`] carries these out afterwards.

use std::path::PathBuf;

use crate::desk::{CopyOf, JobId};
use crate::machine::{ConditionId, Edit, EndAt, MeterId, MysteryId, Point, Spot, Thing, VisitId, WireId};
use crate::quantity::Function;

use super::action::Action;
use super::on_photo::PhotoRequest;
use super::paper::PaperRequest;
use super::prefs::Prefs;
use super::selection::{Probe, Selection};
use super::view::{FindingKey, Overlay, Sheets};

/// One thing asked for.
#[derive(Debug, Clone, PartialEq)]
pub enum Request {
    /// One of the listed actions.
    Act(Action),
    /// A change to the record: one step of undo.
    Edit(Edit),
    /// A change that joins the one before when it has the same key (typing, dragging).
    Joined(Edit, String),
    /// Begin a visit of today; the record is kept as found.
    BeginVisit,
    /// Close this visit; the record is kept as left.
    CloseVisit(VisitId),
    /// Lay two copies of the record side by side.
    Compare([CopyOf; 2]),
    /// Something about what is shown.
    Show(Show),
    /// Something about the reading being entered.
    Entry(EntryRequest),
    /// Something about files.
    File(FileRequest),
    /// Something about practice.
    Practice(PracticeRequest),
    /// Something on a photo.
    Photo(PhotoRequest),
    /// Something about paper.
    Paper(PaperRequest),
    /// Other preferences.
    Prefs(Prefs),
}

/// Asks for something about practice.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum PracticeRequest {
    /// Take the reading where the probes are.
    Take,
    /// Show what would be read next.
    Hint,
    /// Say what a mystery is, by the number of its candidate, or take it back.
    Say(MysteryId, Option<usize>),
    /// End it, and compare.
    Finish,
}

/// Asks for something to be shown.
#[derive(Debug, Clone, PartialEq)]
pub enum Show {
    /// Select exactly this.
    Only(Selection),
    /// Take this into the selection, or out of it.
    Toggle(Thing),
    /// Select this and bring it into sight.
    GoTo(Vec<Thing>),
    /// Read this finding and bring what it is about into sight.
    Finding(FindingKey),
    /// The condition the machine is in.
    Condition(Option<ConditionId>),
    /// Search the list of the stage for this.
    Search(String),
    /// The search field has the writing mark now.
    SearchFocused,
    /// The next click places a part of this kind.
    Place(Option<String>),
    /// Place a part of the chosen kind here; without a point, beside what is placed already.
    PlaceNow(Option<Point>),
    /// Draw a wire between these two ends, with these bends; the place is that of a second end on nothing.
    Wire(EndAt, EndAt, Vec<Point>, Option<Point>),
    /// Put this over the window.
    Overlay(Overlay),
    /// Stop this job.
    CancelJob(JobId),
    /// Take this message away.
    DismissMessage(u64),
    /// Show what differs between two copies, in words and on the drawing, or no more.
    Compared(bool),
    /// Put the list away.
    FoldList,
    /// Show these diagrams.
    Sheets(Sheets),
    /// A probe does not get to this place, or it does again.
    OutOfReach(Spot, bool),
    /// Put these wires on the plan of the removal, or take them off it.
    Choose(Vec<WireId>, bool),
    /// Show the plan of the removal at the side, or the card.
    Plan(bool),
    /// Work longer on what was not decided about the removal.
    WorkOn,
    /// Show what is decided about the removal by now.
    Enough,
    /// Lift leads for this condition by clicking on their ends, or no more.
    Lift(Option<ConditionId>),
}

/// Asks for something about the reading being entered.
#[derive(Debug, Clone, PartialEq)]
pub enum EntryRequest {
    /// Put a probe somewhere, or take it off.
    Put(Probe, Option<Spot>),
    /// Change the two probes over.
    Swap,
    /// What the meter is set to.
    Function(Option<Function>),
    /// What is written in the value field.
    Text(String),
    /// What was typed before the value field had the writing mark.
    Typed(String),
    /// With which meter.
    Meter(Option<MeterId>),
    /// The value field has the writing mark now.
    Focused,
    /// Write this value into the log.
    Log(String),
}

/// Asks for something about files.
#[derive(Debug, Clone, PartialEq)]
pub enum FileRequest {
    /// What is written in the line that asks for a file.
    Path(String),
    /// Take the path that is written there.
    TakePath,
    /// Ask the system's own dialog.
    Browse,
    /// Ask no more.
    Close,
    /// Put these photos in.
    AddPhotos(Vec<PathBuf>),
    /// Have back the work that was kept, by its place in the list.
    Recover(usize),
    /// Throw away the work that was kept.
    DiscardRecovery(usize),
    /// Save, then go on with what was asked.
    SaveAndGoOn,
    /// Go on without saving.
    GoOn,
    /// Stay with the record after all.
    Stay,
    /// What is written in the field for a folder of machines.
    ShopFolder(String),
    /// Look through that folder.
    LookThrough,
    /// Open this record.
    OpenThis(PathBuf),
}

/// The requests of one frame, in order.
#[derive(Debug, Default)]
pub struct Requests(Vec<Request>);

impl Requests {
    /// How many there are.
    pub fn len(&self) -> usize {
        self.0.len()
    }

    /// Whether something was selected by what was asked after the first so many.
    pub fn selects_since(&self, first: usize) -> bool {
        self.0.iter().skip(first).any(|request| match request {
            Request::Show(Show::Only(selection)) => !selection.is_empty(),
            Request::Show(Show::Finding(_)) => true,
            _ => false,
        })
    }

    /// Asks for anything.
    pub fn ask(&mut self, request: Request) {
        self.0.push(request);
    }

    /// Asks for a listed action.
    pub fn act(&mut self, action: Action) {
        self.ask(Request::Act(action));
    }

    /// Asks for a change that is one step of undo.
    pub fn edit(&mut self, edit: Edit) {
        self.ask(Request::Edit(edit));
    }

    /// Asks for a change that joins the one before with the same key.
    pub fn joined(&mut self, edit: Edit, key: impl Into<String>) {
        self.ask(Request::Joined(edit, key.into()));
    }

    /// Asks for something to be shown.
    pub fn show(&mut self, show: Show) {
        self.ask(Request::Show(show));
    }

    /// Asks for exactly this thing to be selected.
    pub fn select(&mut self, thing: impl Into<Thing>) {
        self.show(Show::Only(Selection::of(thing)));
    }

    /// Asks for this thing to be selected and brought into sight.
    pub fn go_to(&mut self, thing: impl Into<Thing>) {
        self.show(Show::GoTo(vec![thing.into()]));
    }

    /// Asks for something about the reading being entered.
    pub fn entry(&mut self, request: EntryRequest) {
        self.ask(Request::Entry(request));
    }

    /// Asks for something about files.
    pub fn file(&mut self, request: FileRequest) {
        self.ask(Request::File(request));
    }

    /// Asks for something on a photo.
    pub fn photo(&mut self, request: PhotoRequest) {
        self.ask(Request::Photo(request));
    }

    /// Asks for something about paper.
    pub fn paper(&mut self, request: PaperRequest) {
        self.ask(Request::Paper(request));
    }

    /// Takes all of them out.
    pub fn take(&mut self) -> Vec<Request> {
        std::mem::take(&mut self.0)
    }
}
