//! The machine by volts and amps, condition by condition, and its readings held against that: what the rules on stress and
//! readings reason from.

use std::collections::BTreeMap;

use crate::circuit::Network;
use crate::circuit::electric::{Elements, Judgement, Live, MOST_NODES_SOLVED};
use crate::machine::{ConditionId, Machine};

use super::state::State;

/// In a machine with more terminals and wire ends than this, readings are not held against volts, amps and ohms here: what each
/// proves takes a solve for every connection on its way. Tone readings are held against the record by bounds at any size.
const MOST_NODES_JUDGED: usize = 1500;

/// One condition by volts and amps.
pub(super) struct Level<'a> {
    /// The condition; none for 'at rest with every source on'.
    pub condition: Option<ConditionId>,
    /// What it is called in a sentence: `in the condition 'live'`.
    pub words: String,
    /// Where the relays come to rest, and what everything has then.
    pub live: Live<'a>,
}

/// Every condition by volts and amps, and the readings judged.
pub(super) struct Levels<'a> {
    /// The network.
    pub network: &'a Network,
    /// Conditions in order, then 'at rest with every source on' where that can occur.
    pub all: Vec<Level<'a>>,
    /// The readings.
    pub judgement: Judgement,
}

impl<'a> Levels<'a> {
    /// Solves every state.
    pub fn of(machine: &Machine, network: &'a Network, elements: &'a Elements, states: &[State<'_>]) -> Self {
        let states = if network.len() > MOST_NODES_SOLVED { &[] } else { states };
        let all: Vec<Level> = states
            .iter()
            .map(|state| Level {
                condition: state.condition,
                words: state.words.clone(),
                live: Live::of(network, elements, &state.setting),
            })
            .collect();
        let settled: BTreeMap<ConditionId, &Live<'_>> =
            all.iter().filter_map(|level| Some((level.condition?, &level.live))).collect();
        let judgement = if network.len() > MOST_NODES_JUDGED {
            Judgement::default()
        } else {
            Judgement::with(machine, network, elements, &settled)
        };
        Self { network, all, judgement }
    }

    /// A condition of the record.
    pub fn level(&self, condition: Option<ConditionId>) -> Option<&Level<'a>> {
        self.all.iter().find(|level| level.condition == condition)
    }
}
