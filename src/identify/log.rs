//! The readings of a record as they are weighed: where each was taken, and what each hypothesis makes of it.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::catalogue::{BodyTerminal, Catalogue};
use crate::circuit::electric::{Elements, Expectation};
use crate::circuit::{Frame, Network, Node, Partition};
use crate::machine::{Guess, Machine, Reading, ReadingId, Setting, Side, Spot, Subject, TerminalRef};

use super::hypothesis::Group;
use super::weigh::{blunder, likelihood};
use super::world::{Flaw, Place, candidate_spots, flaws_of, subject_spots};

/// A record with what can be weighed of it.
pub(super) struct Log<'m> {
    pub(super) machine: &'m Machine,
    /// The same, to be held by the worlds of hypotheses.
    pub(super) record: Arc<Machine>,
    pub(super) catalogue: &'m Arc<Catalogue>,
    /// The network of the record as it stands. Faults of hypotheses are those of its elements.
    pub(super) network: Network,
    /// What its elements are worth.
    pub(super) elements: Arc<Elements>,
    pub(super) readings: Vec<(ReadingId, &'m Reading)>,
    /// Where each of them was taken.
    pub(super) places: Vec<Place>,
    /// Faults that a mystery of the record asks about.
    pub(super) asked_about: BTreeSet<Flaw>,
    /// What wires and inner joins alone hold together, everything landed.
    nets: Partition,
    /// Whether nobody waits for the answer any more.
    pub(super) stopped: &'m (dyn Fn() -> bool + Sync),
}

impl<'m> Log<'m> {
    /// The readings of a record that can be weighed: those with a condition.
    pub(super) fn of(
        machine: &'m Machine,
        catalogue: &'m Arc<Catalogue>,
        stopped: &'m (dyn Fn() -> bool + Sync),
    ) -> Self {
        let weighable = |(id, reading): (ReadingId, &'m Reading)| {
            let condition = reading.condition.filter(|&condition| machine.conditions.contains(condition))?;
            let place = Place {
                condition,
                red: reading.red.clone(),
                black: reading.black.clone(),
                function: reading.value.function(),
                meter: reading.meter,
            };
            Some(((id, reading), place))
        };
        let (readings, places) = machine.readings.iter().filter_map(weighable).unzip();
        let network = Network::of(machine, catalogue);
        let asked = machine.mysteries.values().flat_map(|mystery| {
            let named = mystery.candidates.iter().filter_map(|candidate| match (&mystery.subject, &candidate.guess) {
                (Subject::Fault(spot), Guess::Named(state)) => Some((spot, state)),
                _ => None,
            });
            named.flat_map(|(spot, state)| flaws_of(&network, spot, state)).collect::<Vec<_>>()
        });
        let asked_about = asked.collect();
        let nets = Frame::of(&network, &Setting::default()).wired().clone();
        let (record, elements) = (Arc::new(machine.clone()), Arc::new(Elements::of(&network).kept()));
        Self { machine, record, catalogue, network, elements, readings, places, asked_about, nets, stopped }
    }

    /// Whether a reading was taken there, whichever probe was where.
    pub(super) fn is_read(&self, place: &Place) -> bool {
        let probes = |place: &Place| {
            let mut both = [Some(place.red.clone()), place.black.clone()];
            both.sort();
            both
        };
        let wanted = probes(place);
        let same =
            |one: &&Place| one.condition == place.condition && one.function == place.function && probes(one) == wanted;
        self.places.iter().any(|one| same(&one))
    }

    /// The net of a node.
    pub(super) fn net(&self, node: Node) -> u32 {
        self.nets.root(node.0)
    }

    /// The nets at a place: of a part, those of all its terminals.
    pub(super) fn nets_at(&self, spot: &Spot) -> Vec<u32> {
        let root = |node: Node| self.nets.root(node.0);
        match spot {
            Spot::Part(part) => {
                let body = self.network.body(*part);
                let terminals = body.iter().flat_map(|body| &body.terminals);
                let own = |terminal: &BodyTerminal| TerminalRef { part: *part, marking: terminal.marking.clone() };
                terminals.filter_map(|terminal| self.network.terminal(&own(terminal))).map(root).collect()
            }
            Spot::Wire(wire) => {
                Side::BOTH.into_iter().filter_map(|side| self.network.end(*wire, side)).map(root).collect()
            }
            _ => self.network.node(spot).map(root).into_iter().collect(),
        }
    }

    /// The nets that the mysteries of a group are on, or may be.
    pub(super) fn nets_of(&self, group: &Group) -> BTreeSet<u32> {
        let mysteries = group.mysteries.iter().filter_map(|id| self.machine.mysteries.get(*id));
        let spots = mysteries.flat_map(|mystery| {
            let own = subject_spots(self.machine, &mystery.subject).into_iter();
            own.chain(candidate_spots(mystery)).collect::<Vec<_>>()
        });
        spots.flat_map(|spot| self.nets_at(&spot)).collect()
    }

    /// How likely a reading is where this is expected; nothing expected leaves it to chance.
    pub(super) fn likelihood(&self, at: usize, expectation: Option<&Expectation>) -> f64 {
        let Some((_, reading)) = self.readings.get(at) else { return 1.0 };
        expectation.map_or_else(|| blunder(reading.value), |expected| likelihood(expected, reading.value))
    }

    /// How likely a reading is when none of the hypotheses holds.
    pub(super) fn by_chance(&self, at: usize) -> f64 {
        self.readings.get(at).map_or(1.0, |(_, reading)| blunder(reading.value))
    }
}
