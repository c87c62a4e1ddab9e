//! The readings of a record as they are weighed: where each was taken, and what each hypothesis makes of it.

use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::circuit::Network;
use crate::circuit::electric::Expectation;
use crate::machine::{Machine, Reading, ReadingId};

use super::weigh::{blunder, likelihood};
use super::world::Place;

/// A record with what can be weighed of it.
pub(super) struct Log<'m> {
    pub(super) machine: &'m Machine,
    pub(super) catalogue: &'m Arc<Catalogue>,
    /// The network of the record as it stands. Faults of hypotheses are those of its elements.
    pub(super) network: Network,
    pub(super) readings: Vec<(ReadingId, &'m Reading)>,
    /// Where each of them was taken.
    pub(super) places: Vec<Place>,
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
        Self { machine, catalogue, network, readings, places, stopped }
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
