//! The closed set of changes to a record. Applying one gives back its inverse, so that undo needs no other knowledge.

use std::sync::Arc;

use super::Machine;
use super::condition::{Condition, Constraint};
use super::decision::Decision;
use super::facts::Facts;
use super::ids::{
    ConditionId, ConstraintId, DecisionId, LoomId, MeterId, MysteryId, PartId, PhotoId, ReadingId, TickId, VisitId,
    WireId,
};
use super::mystery::Mystery;
use super::part::Part;
use super::photo::Photo;
use super::reading::{Meter, Reading};
use super::tick::Tick;
use super::visit::Visit;
use super::wire::{Loom, Wire};

/// One entry put in, replaced, or (with `None`) taken out.
#[derive(Debug, Clone, PartialEq)]
pub enum Change {
    /// The facts about the machine.
    Facts(Arc<Facts>),
    /// A photo.
    Photo(PhotoId, Option<Arc<Photo>>),
    /// A part.
    Part(PartId, Option<Arc<Part>>),
    /// A wire.
    Wire(WireId, Option<Arc<Wire>>),
    /// A loom.
    Loom(LoomId, Option<Arc<Loom>>),
    /// A condition.
    Condition(ConditionId, Option<Arc<Condition>>),
    /// A constraint.
    Constraint(ConstraintId, Option<Arc<Constraint>>),
    /// A meter.
    Meter(MeterId, Option<Arc<Meter>>),
    /// A reading.
    Reading(ReadingId, Option<Arc<Reading>>),
    /// A mystery.
    Mystery(MysteryId, Option<Arc<Mystery>>),
    /// A decision.
    Decision(DecisionId, Option<Arc<Decision>>),
    /// A visit.
    Visit(VisitId, Option<Arc<Visit>>),
    /// A step of a removal that was ticked off.
    Tick(TickId, Option<Arc<Tick>>),
}

impl Change {
    /// Which entry is changed: its shelf and its number.
    pub fn entry(&self) -> (u8, u32) {
        match self {
            Self::Facts(_) => (0, 0),
            Self::Photo(id, _) => (1, id.0),
            Self::Part(id, _) => (2, id.0),
            Self::Wire(id, _) => (3, id.0),
            Self::Loom(id, _) => (4, id.0),
            Self::Condition(id, _) => (5, id.0),
            Self::Constraint(id, _) => (6, id.0),
            Self::Meter(id, _) => (7, id.0),
            Self::Reading(id, _) => (8, id.0),
            Self::Mystery(id, _) => (9, id.0),
            Self::Decision(id, _) => (10, id.0),
            Self::Visit(id, _) => (11, id.0),
            Self::Tick(id, _) => (12, id.0),
        }
    }

    /// Applies the change and returns the one that takes it back.
    fn apply(self, machine: &mut Machine) -> Self {
        match self {
            Self::Facts(facts) => {
                let old = std::mem::replace(&mut machine.facts, Arc::unwrap_or_clone(facts));
                Self::Facts(Arc::new(old))
            }
            Self::Photo(id, entry) => Self::Photo(id, machine.photos.put(id, entry)),
            Self::Part(id, entry) => Self::Part(id, machine.parts.put(id, entry)),
            Self::Wire(id, entry) => Self::Wire(id, machine.wires.put(id, entry)),
            Self::Loom(id, entry) => Self::Loom(id, machine.looms.put(id, entry)),
            Self::Condition(id, entry) => Self::Condition(id, machine.conditions.put(id, entry)),
            Self::Constraint(id, entry) => Self::Constraint(id, machine.constraints.put(id, entry)),
            Self::Meter(id, entry) => Self::Meter(id, machine.meters.put(id, entry)),
            Self::Reading(id, entry) => Self::Reading(id, machine.readings.put(id, entry)),
            Self::Mystery(id, entry) => Self::Mystery(id, machine.mysteries.put(id, entry)),
            Self::Decision(id, entry) => Self::Decision(id, machine.decisions.put(id, entry)),
            Self::Visit(id, entry) => Self::Visit(id, machine.visits.put(id, entry)),
            Self::Tick(id, entry) => Self::Tick(id, machine.ticks.put(id, entry)),
        }
    }
}

/// One thing a person did: a label for the undo menu, and the changes that do it.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Edit {
    /// What was done, as the undo menu shows it: `Move K1`.
    pub label: String,
    /// The changes, in order.
    pub changes: Vec<Change>,
}

impl Edit {
    /// An edit of one change.
    pub fn one(label: impl Into<String>, change: Change) -> Self {
        Self { label: label.into(), changes: vec![change] }
    }

    /// Whether it changes nothing.
    pub fn is_empty(&self) -> bool {
        self.changes.is_empty()
    }
}

impl Machine {
    /// Applies an edit and returns its inverse. Applying the inverse restores the record exactly.
    pub fn apply(&mut self, edit: Edit) -> Edit {
        let mut inverse: Vec<Change> = edit.changes.into_iter().map(|change| change.apply(self)).collect();
        inverse.reverse();
        Edit { label: edit.label, changes: inverse }
    }
}
