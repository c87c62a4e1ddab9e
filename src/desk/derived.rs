//! What follows from one revision of the record in one condition. Computed beside the window, then never changed.

use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::circuit::Network;
use crate::circuit::electric::{Elements, Judgement, Standing, What, with_standings};
use crate::drawing::{Diagram, Scene, style_of};
use crate::findings::{self, Finding};
use crate::ladder::{self, Ladder};
use crate::machine::{Machine, ReadingId, Spot};

use super::compute::Make;
use super::electrical::Electrical;
use super::foreseen::{Asked, Foreseen};

/// Results for one revision of the record.
#[derive(Debug, Clone, Default)]
pub struct Derived {
    /// The revision of the record these follow from.
    pub revision: u64,
    /// What was looked at besides.
    pub look: Look,
    /// The connection diagram.
    pub scene: Arc<Scene>,
    /// What the record means in the condition; `None` while no condition is chosen.
    pub electrical: Option<Arc<Electrical>>,
    /// All findings, worst first.
    pub findings: Arc<Vec<Finding>>,
    /// Each reading held against the record, and how connections stand by them.
    pub standings: Arc<Standings>,
    /// What the probes would show.
    pub foreseen: Option<Arc<Foreseen>>,
    /// The same for the reading that is looked at.
    pub reading: Option<(ReadingId, Arc<Foreseen>)>,
    /// The ladder diagram, where it is looked at.
    pub ladder: Option<Arc<Ladder>>,
}

/// What is looked at in the record, besides the record itself.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Look {
    /// The condition the machine is in.
    pub condition: Option<crate::machine::ConditionId>,
    /// Where the probes are.
    pub probes: Option<Asked>,
    /// A reading of the record.
    pub reading: Option<ReadingId>,
    /// The ladder diagram.
    pub ladder: bool,
}

/// How readings and connections stand, with what is needed to name them.
#[derive(Debug, Clone, Default)]
pub struct Standings {
    /// The readings judged.
    pub judgement: Judgement,
    /// The two terminals of every contact that readings prove (`true`) or dispute (`false`).
    pub contacts: Vec<([Spot; 2], bool)>,
    network: Option<Arc<Network>>,
}

/// How one connection stands by readings.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Stands {
    /// The connection by name: `W7`, `K1.11-14`.
    pub name: String,
    /// Readings that prove it, by name.
    pub proven_by: Vec<String>,
    /// Readings that speak against it, by name.
    pub disputed_by: Vec<String>,
}

impl Standings {
    /// The wires, contacts and fuses that some reading proves or disputes, for which `is_wanted` holds.
    pub fn of(&self, machine: &Machine, is_wanted: impl Fn(What, &Network) -> bool) -> Vec<Stands> {
        let Some(network) = &self.network else { return Vec::new() };
        let names = |ids: &std::collections::BTreeSet<ReadingId>| {
            ids.iter().filter_map(|&id| Some(machine.readings.get(id)?.name.clone())).collect()
        };
        let wanted = self.judgement.standings.iter().filter(|(what, _)| is_wanted(**what, network));
        let mut all: Vec<Stands> = wanted
            .map(|(what, standing)| Stands {
                name: What::names(&[*what], machine, network).concat(),
                proven_by: names(&standing.proven_by),
                disputed_by: names(&standing.disputed_by),
            })
            .collect();
        all.dedup();
        all
    }
}

/// The contacts that readings prove or dispute, where both their ends are terminals.
fn contacts(judgement: &Judgement, network: &Network) -> Vec<([Spot; 2], bool)> {
    let contact = |(what, standing): (&What, &Standing)| {
        let What::Contact(at) = what else { return None };
        let ends = network.contacts().get(*at)?.inside.ends;
        let [a, b] = ends.map(|node| network.info(node).filter(|info| !info.inner).map(|info| info.spot.clone()));
        let stands = !standing.proven_by.is_empty() || !standing.disputed_by.is_empty();
        stands.then_some(([a?, b?], standing.disputed_by.is_empty()))
    };
    judgement.standings.iter().filter_map(contact).collect()
}

/// What results are computed from.
#[derive(Clone)]
pub(super) struct Input {
    pub(super) revision: u64,
    pub(super) machine: Arc<Machine>,
    pub(super) catalogue: Arc<Catalogue>,
    pub(super) look: Look,
}

/// Computes results, keeping what can serve again for the next record and the next look.
#[derive(Default)]
pub(super) struct Deriver {
    diagram: Diagram,
    base: Option<Base>,
    electrical: Option<(Look, Option<Arc<Electrical>>)>,
}

/// What follows from the record alone.
struct Base {
    revision: u64,
    catalogue: Arc<Catalogue>,
    network: Arc<Network>,
    elements: Arc<Elements>,
    scene: Arc<Scene>,
    findings: Arc<Vec<Finding>>,
    standings: Arc<Standings>,
    ladder: Option<Arc<Ladder>>,
}

impl Make for Deriver {
    type From = Input;
    type Made = Derived;

    fn make(&mut self, input: &Input, _: &(dyn Fn() -> bool + Sync)) -> Option<Derived> {
        let machine = &input.machine;
        let is_same = |base: &Base| base.revision == input.revision && Arc::ptr_eq(&base.catalogue, &input.catalogue);
        let mut base = match self.base.take() {
            Some(base) if is_same(&base) => base,
            _ => {
                self.electrical = None;
                self.base_of(input)
            }
        };
        let look = &input.look;
        let electrical = match self.electrical.take() {
            Some((of, electrical)) if of.condition == look.condition => electrical,
            _ => look.condition.map(|id| Arc::new(Electrical::of(&base.network, &base.elements, machine, id))),
        };
        let foreseen = |asked: &Asked| Foreseen::new(machine, &base.network, &base.elements, asked).map(Arc::new);
        let reading = look.reading.and_then(|id| {
            let asked = Asked::of(machine.readings.get(id)?)?;
            Some((id, foreseen(&asked)?))
        });
        if look.ladder && base.ladder.is_none() {
            let options = ladder::Options { style: style_of(machine) };
            base.ladder = Some(Arc::new(ladder::lay_out(machine, &input.catalogue, &options)));
        }
        let derived = Derived {
            revision: input.revision,
            look: look.clone(),
            scene: Arc::clone(&base.scene),
            electrical: electrical.clone(),
            findings: Arc::clone(&base.findings),
            standings: Arc::clone(&base.standings),
            foreseen: look.probes.as_ref().and_then(foreseen),
            reading,
            ladder: base.ladder.clone().filter(|_| look.ladder),
        };
        self.electrical = Some((look.clone(), electrical));
        self.base = Some(base);
        Some(derived)
    }
}

impl Deriver {
    fn base_of(&mut self, Input { revision, machine, catalogue, .. }: &Input) -> Base {
        let network = Arc::new(Network::of(machine, catalogue));
        let (findings, judgement) = findings::examine(machine, &network);
        let shown = with_standings(machine, &network, &judgement);
        Base {
            scene: Arc::new(self.diagram.lay_out(&shown, catalogue, style_of(machine))),
            elements: Arc::new(Elements::of(&network)),
            findings: Arc::new(findings),
            standings: Arc::new(Standings {
                contacts: contacts(&judgement, &network),
                judgement,
                network: Some(Arc::clone(&network)),
            }),
            revision: *revision,
            catalogue: Arc::clone(catalogue),
            network,
            ladder: None,
        }
    }
}
