//! The record: everything a person has said about one machine, and the closed set of changes to it.
//!
//! Nothing here computes what the record means electrically, reads files or knows the catalogue. References inside the
//! record are typed numbers ([`PartId`], ...); on disk they are tags (`store`), so that renaming a tag is one change.

mod condition;
mod decision;
mod edit;
mod facts;
mod find;
mod ids;
mod mystery;
mod part;
mod photo;
mod place;
mod reading;
mod rename;
mod spot;
mod steps;
mod tick;
mod visit;
mod wire;

pub use condition::{Condition, Constraint, Setting, Statement};
pub use decision::{Decision, Verdict};
pub use edit::{Change, Edit};
pub use facts::{Facts, Habits, HazardLimits};
pub use find::{TagError, check_tag};
pub use ids::{
    ConditionId, ConstraintId, DecisionId, LoomId, MeterId, MysteryId, PartId, PhotoId, ReadingId, Shelf, TickId,
    VisitId, WireId,
};
pub use mystery::{Candidate, Guess, Mystery, Subject};
pub use part::{Crop, Mounting, Part, Pin, PinRole, TerminalNote};
pub use photo::Photo;
pub use place::{Placement, Point, Pose};
pub use reading::{Meter, Reading};
pub use spot::{Marking, Side, Spot, TerminalRef, Thing};
pub use tick::{Back, Tick};
pub use visit::Visit;
pub use wire::{EndAt, Known, Loom, Lug, PathPoint, Wire, WireEnd, WireForm, WireState};

/// The whole record of one machine. Cloning is cheap: every entry is shared until it is changed.
///
/// Entries keep the order in which they were made; that is also their order in the file.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Machine {
    /// Title, nameplate, habits.
    pub facts: Facts,
    /// Photographs.
    pub photos: Shelf<PhotoId, Photo>,
    /// Parts.
    pub parts: Shelf<PartId, Part>,
    /// Wires.
    pub wires: Shelf<WireId, Wire>,
    /// Looms.
    pub looms: Shelf<LoomId, Loom>,
    /// Conditions the machine can be put in.
    pub conditions: Shelf<ConditionId, Condition>,
    /// What conditions can occur at all.
    pub constraints: Shelf<ConstraintId, Constraint>,
    /// Meters used.
    pub meters: Shelf<MeterId, Meter>,
    /// Readings taken.
    pub readings: Shelf<ReadingId, Reading>,
    /// What is not known.
    pub mysteries: Shelf<MysteryId, Mystery>,
    /// Decisions on findings.
    pub decisions: Shelf<DecisionId, Decision>,
    /// Steps of a removal that were ticked off.
    pub ticks: Shelf<TickId, Tick>,
    /// Visits.
    pub visits: Shelf<VisitId, Visit>,
}
