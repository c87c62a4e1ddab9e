//! How dangerous it is to take a reading, and what to mind.

use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use crate::circuit::{Hazard, Network, Situation};
use crate::machine::{ConditionId, Machine};

use super::world::World;

/// How dangerous a reading is to take, by the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Risk {
    /// No source is on.
    Dead,
    /// Extra-low voltage.
    ExtraLow,
    /// Line voltage, or it is not known.
    Line,
}

impl Risk {
    /// As it is written in results.
    pub fn word(self) -> &'static str {
        match self {
            Self::Dead => "dead",
            Self::ExtraLow => "extra-low",
            Self::Line => "line",
        }
    }
}

/// What to mind when a reading is taken in a condition, worst first.
pub(super) fn cautions(machine: &Machine, risk: Risk) -> Vec<&'static str> {
    let mut cautions = Vec::new();
    match risk {
        Risk::Dead => cautions.push(
            "Isolate and lock, let capacitors discharge, and verify absence of voltage with a meter tried on a known live source before and after.",
        ),
        Risk::ExtraLow => cautions.push(
            "WARNING: extra-low voltage is on, and what the record does not know can still be at line voltage. Verify first, and keep clear of the line side.",
        ),
        Risk::Line => cautions.push(
            "DANGER: line voltage. Live work is for licensed practice under local rules, with rated probes and gloves and no metal on the hands.",
        ),
    }
    if risk != Risk::Dead {
        if machine.facts.may_burn() {
            cautions.push("WARNING: the refrigerant burns, or it is not said that it does not. No spark where it may have leaked; ventilate first.");
        }
        cautions.push("Motors, fans and heaters can start by themselves: keep hands, tools and leads clear of them.");
        cautions.push("Follow local rules and the maker's instructions.");
    }
    cautions
}

/// How dangerous each condition is, by the record and by every answer that is looked at: the worst counts. One that does not say of
/// every source whether it is on counts as line voltage.
pub(super) fn risks(machine: &Machine, network: &Network, worlds: &[&World]) -> BTreeMap<ConditionId, Risk> {
    let sources: BTreeSet<_> = network.sources().iter().map(|source| source.inside.part).collect();
    let ids: Vec<ConditionId> = machine.conditions.ids().collect();
    ids.into_par_iter()
        .map(|id| {
            let said = sources.is_subset(&machine.sources_said(id)) && !sources.is_empty();
            let own = Situation::of(network, &machine.setting(id)).hazard().0;
            // Nothing is worse, so no world has to be asked.
            let worst = || worlds.iter().map(|world| world.hazard(id)).fold(own, std::cmp::Ord::max);
            let risk = match own {
                _ if !said => Risk::Line,
                Hazard::Above => Risk::Line,
                _ => risk_of(worst()),
            };
            (id, risk)
        })
        .collect()
}

fn risk_of(hazard: Hazard) -> Risk {
    match hazard {
        Hazard::NoSource => Risk::Dead,
        Hazard::ExtraLow => Risk::ExtraLow,
        Hazard::Above => Risk::Line,
    }
}
