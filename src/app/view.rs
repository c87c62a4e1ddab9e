//! What the window remembers between frames that is no part of the record.

use std::collections::{BTreeMap, BTreeSet};

use crate::machine::{ConditionId, MeterId, Spot, Thing, WireId};
use crate::quantity::Function;

use super::on_photo::OnPhoto;
use super::paper::{Out, PaperView};
use super::selection::{Probes, Selection};
use super::stage::Stage;

/// Which finding is meant: its rule and what it is about. Findings are made anew at every change, so no number serves.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FindingKey {
    /// The rule's stable name.
    pub rule: String,
    /// What it points at.
    pub about: Vec<Thing>,
}

/// What lies over the window and asks for an answer, if anything does.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Overlay {
    /// Nothing.
    #[default]
    None,
    /// The cautions shown before first use.
    Caution,
    /// The keys of the present stage.
    Help,
    /// What the program is.
    About,
    /// The record has changes that are not saved, and this would lose them.
    Unsaved(Leaving),
    /// Work of an earlier run was kept and can be had back.
    Recovery,
    /// The machines of a folder.
    Machines,
}

/// What a person was about to do when unsaved changes stood in the way.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Leaving {
    /// Leave the program.
    Quit,
    /// Start an empty record.
    New,
    /// Open another record.
    Open,
    /// Practise on an invented machine.
    Practise,
}

/// The reading that is being entered.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Entry {
    /// What the meter is set to.
    pub function: Option<Function>,
    /// What is written in the value field.
    pub text: String,
    /// With which meter.
    pub meter: Option<MeterId>,
    /// The writing mark is to go into the value field.
    pub wants_focus: bool,
    /// A reading was logged with the probes where they are now.
    pub logged: bool,
}

/// What the window shows, and how.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct View {
    /// The stage.
    pub stage: Stage,
    /// The list beside the rail is put away.
    pub list_hidden: bool,
    /// What is selected.
    pub selection: Selection,
    /// The finding that is read.
    pub finding: Option<FindingKey>,
    /// Where the probes are.
    pub probes: Probes,
    /// Places that a probe does not get to: nothing is proposed there.
    pub out_of_reach: BTreeSet<Spot>,
    /// The reading being entered.
    pub entry: Entry,
    /// What the lists are searched for.
    pub search: Search,
    /// What is to be taken out.
    pub removing: Removing,
    /// The kind of part that the next click places.
    pub placing: Option<String>,
    /// What is being done on photos.
    pub on_photo: OnPhoto,
    /// The condition that leads are being lifted for by clicking on their ends.
    pub lifting: Option<ConditionId>,
    /// What lies over the window.
    pub overlay: Overlay,
    /// What of the drawing and of the sheet is shown.
    pub shown: Shown,
    /// A file is being asked for.
    pub file_bar: Option<FileBar>,
}

/// What the lists are searched for.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Search {
    /// By stage.
    pub texts: BTreeMap<Stage, String>,
    /// The writing mark is to go into the search field.
    pub wants_focus: bool,
}

/// What is to be taken out, in the stage of removal.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Removing {
    /// The wires that were chosen.
    pub chosen: BTreeSet<WireId>,
    /// The plan stands at the side, in place of the card.
    pub plan_shown: bool,
    /// How often what was not decided was to be worked on.
    pub effort: u32,
}

/// Which diagrams are shown.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default)]
pub enum Sheets {
    /// The connection diagram.
    #[default]
    Diagram,
    /// Both.
    Both,
    /// The ladder diagram.
    Ladder,
}

impl Sheets {
    /// All, in the order they are chosen.
    pub const ALL: [Self; 3] = [Self::Diagram, Self::Both, Self::Ladder];

    /// In a word.
    pub fn words(self) -> &'static str {
        match self {
            Self::Diagram => "Connections",
            Self::Both => "Both",
            Self::Ladder => "Ladder",
        }
    }

    /// As it is named for whoever uses the window without looking.
    pub fn name(self) -> &'static str {
        match self {
            Self::Diagram => "Connection diagram alone",
            Self::Both => "Connection and ladder diagram",
            Self::Ladder => "Ladder diagram alone",
        }
    }

    /// The next one.
    #[must_use]
    pub fn next(self) -> Self {
        match self {
            Self::Diagram => Self::Both,
            Self::Both => Self::Ladder,
            Self::Ladder => Self::Diagram,
        }
    }
}

/// What of the drawing is shown, and what of the sheet.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub struct Shown {
    /// Which diagrams.
    pub sheets: Sheets,
    /// The grid.
    pub grid: bool,
    /// The photos are put away.
    pub photos_hidden: bool,
    /// What differs between two copies of the record.
    pub compared: bool,
    /// What goes on paper, and which page is looked at.
    pub paper: PaperView,
}

/// What a file is asked for.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Hash)]
pub enum Asked {
    /// A record to open.
    Open,
    /// A place to save the record in.
    Save,
    /// Photos to put in.
    Photos,
    /// A place to write something in.
    Out(Out),
    /// A packed record to open.
    Pack,
    /// The folder a packed record is unpacked into.
    UnpackInto,
    /// A shop's template for the sheet.
    Template,
}

/// The line in which a file is asked for, beside the system's own dialog.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct FileBar {
    /// For what.
    pub asked: Asked,
    /// The path as it is written so far.
    pub path: String,
    /// A file lies there; saving replaces it.
    pub replaces: bool,
}

impl View {
    /// Both probes are on and nothing has been logged since: what is typed next is the value, wherever the writing mark is.
    pub fn awaits_value(&self) -> bool {
        let probes_on = self.probes.red.is_some() && self.probes.black.is_some();
        self.stage == Stage::Readings && probes_on && !self.entry.logged
    }

    /// What the list of the present stage is searched for.
    pub fn search_text(&self) -> &str {
        self.search.texts.get(&self.stage).map_or("", String::as_str)
    }
}
