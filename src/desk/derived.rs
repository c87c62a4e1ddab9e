//! What follows from one revision of the record in one condition. Computed beside the window, then never changed.

use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::findings::{self, Finding};
use crate::machine::{ConditionId, Machine};

/// Results for one revision of the record.
#[derive(Debug, Clone, Default)]
pub struct Derived {
    /// The revision of the record these follow from.
    pub revision: u64,
    /// The condition they are for.
    pub condition: Option<ConditionId>,
    /// All findings, worst first.
    pub findings: Vec<Finding>,
}

/// What results are computed from.
#[derive(Clone)]
pub(super) struct Input {
    pub(super) revision: u64,
    pub(super) machine: Arc<Machine>,
    pub(super) catalogue: Arc<Catalogue>,
    pub(super) condition: Option<ConditionId>,
}

impl Derived {
    /// Computes everything that follows from the record.
    pub(super) fn of(input: &Input) -> Self {
        Self {
            revision: input.revision,
            condition: input.condition,
            findings: findings::check(&input.machine, &input.catalogue),
        }
    }
}
