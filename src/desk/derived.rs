//! What follows from one revision of the record in one condition. Computed beside the window, then never changed.

use std::sync::Arc;

use crate::catalogue::{Catalogue, Style};
use crate::circuit::Network;
use crate::drawing::{Diagram, Scene};
use crate::findings::{self, Finding};
use crate::machine::{ConditionId, Habits, Machine};

use super::electrical::Electrical;

/// Results for one revision of the record.
#[derive(Debug, Clone, Default)]
pub struct Derived {
    /// The revision of the record these follow from.
    pub revision: u64,
    /// The condition they are for.
    pub condition: Option<ConditionId>,
    /// The connection diagram.
    pub scene: Arc<Scene>,
    /// What the record means in the condition; `None` while no condition is chosen.
    pub electrical: Option<Arc<Electrical>>,
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

/// Computes results, keeping what can serve again for the next record.
#[derive(Default)]
pub(super) struct Deriver {
    diagram: Diagram,
}

impl Deriver {
    /// Computes everything that follows from the record.
    pub(super) fn derive(&mut self, input: &Input) -> Derived {
        let machine = &input.machine;
        let network = Arc::new(Network::of(machine, &input.catalogue));
        let electrical = input
            .condition
            .map(|id| Arc::new(Electrical::of(&network, &machine.setting(id), &machine.sources_said(id))));
        Derived {
            revision: input.revision,
            condition: input.condition,
            scene: Arc::new(self.diagram.lay_out(machine, &input.catalogue, style_of(machine))),
            electrical,
            findings: findings::check_with(machine, &network),
        }
    }
}

/// Symbols by the habits of the place.
fn style_of(machine: &Machine) -> Style {
    match machine.facts.habits {
        Habits::Iec => Style::Iec,
        Habits::NorthAmerica => Style::Ansi,
    }
}
