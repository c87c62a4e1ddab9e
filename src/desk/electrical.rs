//! What the record means in the condition the machine is in: hazard, relays, loads, what each wire carries.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::circuit::electric::{Elements, Gets, Live, MOST_NODES_SOLVED};
use crate::circuit::{Difference, Hazard, Network, Node, Situation, Trit, Verdict};
use crate::drawing::NetTint;
use crate::machine::{ConditionId, Machine, PartId, Spot, WireId};
use crate::quantity::Band;

/// A relay's coil in the condition.
#[derive(Debug, Clone, PartialEq)]
pub struct RelayState {
    /// The part.
    pub part: PartId,
    /// Its coil.
    pub coil: String,
    /// Worked, at rest, or one or the other.
    pub worked: Trit,
    /// What it gets; `None` where volts are not computed.
    pub gets: Option<Gets>,
}

/// A load or winding in the condition.
#[derive(Debug, Clone, PartialEq)]
pub struct LoadState {
    /// The part.
    pub part: PartId,
    /// Its name in the part.
    pub name: String,
    /// What it gets.
    pub gets: Gets,
}

/// Volts of a place in the condition.
#[derive(Debug, Clone, PartialEq)]
pub struct PlaceVolts {
    /// What the volts are against, by name.
    pub against: Spot,
    /// Volts AC, as size.
    pub ac: Option<Band>,
    /// Volts DC.
    pub dc: Option<Band>,
}

impl PlaceVolts {
    /// Whether no more than a trace of voltage is told.
    pub fn is_none_told(&self) -> bool {
        [self.ac, self.dc].into_iter().flatten().all(|band| band.low.abs().max(band.high.abs()) < 1.0)
    }
}

/// What the record means in one condition.
#[derive(Debug, Clone)]
pub struct Electrical {
    /// How dangerous the condition is by the record.
    pub hazard: Hazard,
    /// The highest voltage; `None` when one that is on is not recorded.
    pub highest_volts: Option<f64>,
    /// Every source of the record, and there is one, is said to be on or off in the condition.
    pub sources_said: bool,
    /// Whether the relays come to rest.
    pub verdict: Verdict,
    /// Every relay.
    pub relays: Vec<RelayState>,
    /// Every load and winding; none where volts are not computed.
    pub loads: Vec<LoadState>,
    /// What each wire carries.
    pub tints: BTreeMap<WireId, NetTint>,
    network: Arc<Network>,
    classes: Vec<u32>,
    unknown: Vec<bool>,
    volts: BTreeMap<u32, PlaceVolts>,
}

impl Electrical {
    /// Works the record out in this condition.
    pub(super) fn of(network: &Arc<Network>, elements: &Elements, machine: &Machine, condition: ConditionId) -> Self {
        let (setting, said) = (machine.setting(condition), machine.sources_said(condition));
        let situation = Situation::of(network, &setting);
        let (hazard, highest_volts) = situation.hazard();
        let live = (network.len() <= MOST_NODES_SOLVED).then(|| Live::of(network, elements, &setting));
        let by_poles = || situation.outcome.relays.clone();
        let worked = live.as_ref().map_or_else(by_poles, |live| live.relays.clone());
        let relays = network.relays().iter().zip(worked).enumerate();
        let relays = relays
            .map(|(index, (relay, worked))| RelayState {
                part: relay.inside.part,
                coil: relay.coil.clone(),
                worked,
                gets: live.as_ref().and_then(|live| live.coil(index)),
            })
            .collect();
        let loads = network.loads().iter().enumerate();
        let loads = loads
            .filter_map(|(index, load)| {
                let gets = live.as_ref()?.load(index)?;
                Some(LoadState { part: load.inside.part, name: load.name.clone(), gets })
            })
            .collect();
        let classes: Vec<u32> = (0..network.len()).map(|at| situation.class(node(at))).collect();
        let mut unknown = vec![false; network.len()];
        for (at, info) in network.nodes() {
            if info.unknown
                && let Some(slot) = unknown.get_mut(classes[at.at()] as usize)
            {
                *slot = true;
            }
        }
        let live_class: BTreeMap<u32, Option<Difference>> = (0..network.len())
            .filter(|&at| classes[at] as usize == at)
            .map(|at| (classes[at], situation.live(node(at))))
            .collect();
        let live_of = |class: u32| live_class.get(&class).copied().flatten();
        let tints = tints(&situation, &unknown, live_of);
        let sources = network.sources();
        let sources_said = !sources.is_empty() && sources.iter().all(|source| said.contains(&source.inside.part));
        let verdict = live.as_ref().map_or(situation.outcome.verdict, Live::verdict);
        let volts = live.as_ref().map(volts).unwrap_or_default();
        Self {
            hazard,
            highest_volts,
            sources_said,
            verdict,
            relays,
            loads,
            tints,
            network: Arc::clone(network),
            classes,
            unknown,
            volts,
        }
    }

    /// Volts of a terminal or of an end of a wire. `None` where no source feeds it, or one whose volts are not recorded.
    pub fn volts(&self, spot: &Spot) -> Option<&PlaceVolts> {
        self.volts.get(&self.network.node(spot)?.0)
    }

    /// Whether two spots are joined by wires, fuses and closed contacts. `None` when that cannot be said: one is no
    /// place for a probe, or something not known is joined to one of them.
    pub fn joined(&self, a: &Spot, b: &Spot) -> Option<bool> {
        let (a, b) = (self.class(a)?, self.class(b)?);
        if a == b {
            return Some(true);
        }
        let unknown = |class: u32| self.unknown.get(class as usize).copied().unwrap_or(true);
        (!unknown(a) && !unknown(b)).then_some(false)
    }

    fn class(&self, spot: &Spot) -> Option<u32> {
        self.classes.get(self.network.node(spot)?.at()).copied()
    }
}

/// Volts of every place where a probe can be put.
fn volts(live: &Live<'_>) -> BTreeMap<u32, PlaceVolts> {
    let network = live.network();
    let references = live.references();
    let places = network.nodes().filter(|(_, info)| !info.inner);
    places
        .filter_map(|(at, _)| {
            let told = live.told(at, &references)?;
            let against = network.info(told.against)?.spot.clone();
            Some((at.0, PlaceVolts { against, ac: told.ac, dc: told.dc }))
        })
        .collect()
}

/// The node with this index.
fn node(at: usize) -> Node {
    Node(u32::try_from(at).unwrap_or(u32::MAX))
}

/// What each wire carries, for the tint over it.
fn tints(
    situation: &Situation,
    unknown: &[bool],
    live_of: impl Fn(u32) -> Option<Difference>,
) -> BTreeMap<WireId, NetTint> {
    let network = situation.network();
    let limits = network.limits();
    let powered: BTreeSet<PartId> = network.sources().iter().map(|source| source.inside.part).collect();
    let earths: BTreeSet<u32> = network
        .earths()
        .iter()
        .filter(|(part, _)| powered.contains(part))
        .map(|(_, node)| situation.class(*node))
        .collect();
    // The first pole of each extra-low source, so that its two poles are told apart.
    let first_poles: BTreeSet<u32> = poles(network).map(|ends| situation.class(ends[0])).collect();
    network
        .wires()
        .iter()
        .map(|conductor| {
            let node = conductor.ends[0];
            let class = situation.class(node);
            let tint = if earths.contains(&class) {
                NetTint::Earth
            } else if let Some(live) = live_of(class) {
                let above =
                    live.unrecorded || live.ac > limits.extra_low_volts_ac || live.dc.abs() > limits.extra_low_volts_dc;
                match (above, first_poles.contains(&class)) {
                    (true, _) => NetTint::Hot,
                    (false, true) => NetTint::LowFirst,
                    (false, false) => NetTint::LowSecond,
                }
            } else if situation.potential(node).is_some() {
                NetTint::Neutral
            } else if unknown.get(class as usize).copied().unwrap_or(false) {
                NetTint::Unknown
            } else {
                NetTint::Dead
            };
            (conductor.wire, tint)
        })
        .collect()
}

/// The poles of sources, transformers and DC supplies.
fn poles(network: &Network) -> impl Iterator<Item = [Node; 2]> + '_ {
    let sources = network.sources().iter().map(|source| source.inside.ends);
    sources.chain(network.derived().iter().map(|one| one.inside.ends))
}
