//! The hidden machine: one whole answer to a record's mysteries, with a meter that reads it.

use std::collections::BTreeMap;
use std::sync::Arc;

use thiserror::Error;

use crate::catalogue::Catalogue;
use crate::circuit::electric::{
    Consumer, Conversion, Dipole, Elements, Expectation, Flaw, Live, Profile, What, Worth, ask_at, expected,
};
use crate::circuit::linear::Reason;
use crate::circuit::{Hazard, Network, Situation, Verdict, Works};
use crate::generate::Random;
use crate::identify::{Place, World, flaws_of, groups};
use crate::machine::{ConditionId, EndAt, Guess, Machine, MeterId, MysteryId, Reading, Shelf, Side, Spot, Subject};
use crate::quantity::{Band, Function, Value};

use super::display::{Shown, shown};

/// Hidden machines out of a hundred that have a fault besides what the mysteries ask for.
const FAULTS_IN_A_HUNDRED: u64 = 25;
/// Faults looked at for one that can be found.
const MOST_FAULTS_TRIED: usize = 24;
/// Elements lie within this share of their band, so that the display's rounding never puts a reading beyond what is expected.
const WITHIN: f64 = 0.8;
/// A band wider than this many times its lower end is drawn from by ratio, not by difference.
const WIDE: f64 = 4.0;

/// Why there is nothing to practise on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Error)]
pub enum NothingHidden {
    /// No mystery has two candidates.
    #[error("no mystery of the record has two candidates or more, so there is nothing to find out")]
    NoMystery,
    /// There is no condition to take a reading in.
    #[error("the record has no condition, and a reading needs one")]
    NoCondition,
}

/// A machine whose truth nobody sees before the end.
#[derive(Debug, Clone)]
pub struct Hidden {
    /// For each mystery with candidates, the number of the right one.
    answers: BTreeMap<MysteryId, usize>,
    /// Faults that no mystery asks for.
    faults: Vec<Flaw>,
    network: Network,
    elements: Elements,
    meter: Profile,
    /// How high the supplies stand, from -0.5 (low) to 0.5 (high) of their tolerance.
    supply: f64,
    seed: u64,
}

/// The record as somebody finds it who has not been there: no reading, no visit, and marked as practice in its title.
pub fn as_found(record: &Machine) -> Machine {
    let mut machine = record.clone();
    machine.readings = Shelf::default();
    machine.visits = Shelf::default();
    machine.facts.title = match record.facts.title.trim() {
        "" => "PRACTICE".to_owned(),
        title => format!("PRACTICE: {title}"),
    };
    machine
}

impl Hidden {
    /// A truth drawn for a record: of the answers that its candidates allow, by their weights. The same for the same seed.
    ///
    /// # Errors
    /// When the record leaves nothing to be found out, or nowhere to take a reading.
    pub fn drawn(record: &Machine, catalogue: &Arc<Catalogue>, seed: u64) -> Result<Self, NothingHidden> {
        let mut random = Random::from_seed(seed);
        let mut answers = BTreeMap::new();
        for group in groups(record) {
            let whole: f64 = group.answers.iter().map(|(_, weight)| weight).sum();
            let mut left = share(&mut random) * whole;
            let drawn = group.answers.iter().find(|(_, weight)| {
                left -= weight;
                left <= 0.0
            });
            if let Some((drawn, _)) = drawn.or(group.answers.last()) {
                answers.extend(group.mysteries.iter().copied().zip(drawn.iter().copied()));
            }
        }
        // What is out of sight and asked for by no mystery goes nowhere in truth.
        let mut truth = record.clone();
        let out_of_sight: Vec<_> = record
            .wires
            .iter()
            .flat_map(|(id, wire)| Side::BOTH.map(|side| (id, side, wire.end(side).at == EndAt::Unknown)))
            .filter(|(.., unknown)| *unknown)
            .collect();
        for (id, side, _) in out_of_sight {
            if let Some(mut wire) = truth.wires.get(id).cloned() {
                wire.end_mut(side).at = EndAt::Loose;
                truth.wires.put(id, Some(Arc::new(wire)));
            }
        }
        let chosen: Vec<(MysteryId, usize)> = answers.iter().map(|(&id, &at)| (id, at)).collect();
        let world = World::of(&truth, catalogue, &chosen, &[]);
        let plain = Self::of(record, &world, answers.clone(), Vec::new(), seed)?;
        if !random.happens(FAULTS_IN_A_HUNDRED) {
            return Ok(plain);
        }
        let asked = asked_for(record, world.network());
        let mut all: Vec<Flaw> =
            likely_faults(world.network()).into_iter().filter(|one| !asked.contains(one)).collect();
        for _ in 0..MOST_FAULTS_TRIED {
            let Some(&flaw) = random.pick(&all) else { break };
            let faulty = Self::of(record, &world, answers.clone(), vec![flaw], seed)?;
            if plain.differs_at(record, &faulty, flaw) {
                return Ok(faulty);
            }
            all.retain(|one| *one != flaw);
        }
        Ok(plain)
    }

    /// A machine whose truth is known already: a record in which every end is placed and every form and fault is a mystery with one
    /// candidate, and for each mystery of the record as found the number of the right candidate.
    ///
    /// # Errors
    /// As [`Self::drawn`].
    pub fn known(
        record: &Machine,
        truth: &Machine,
        catalogue: &Arc<Catalogue>,
        answers: BTreeMap<MysteryId, usize>,
        seed: u64,
    ) -> Result<Self, NothingHidden> {
        let chosen: Vec<(MysteryId, usize)> = truth.mysteries.ids().map(|id| (id, 0)).collect();
        Self::of(record, &World::of(truth, catalogue, &chosen, &[]), answers, Vec::new(), seed)
    }

    fn of(
        record: &Machine,
        world: &World,
        answers: BTreeMap<MysteryId, usize>,
        faults: Vec<Flaw>,
        seed: u64,
    ) -> Result<Self, NothingHidden> {
        if !record.mysteries.values().any(|mystery| mystery.candidates.len() > 1) {
            return Err(NothingHidden::NoMystery);
        }
        if record.conditions.is_empty() {
            return Err(NothingHidden::NoCondition);
        }
        // A stream of its own, so that how a truth is drawn does not change what its elements are worth.
        let mut random = Random::from_seed(seed ^ 0x6d65_7465_7273);
        let network = world.network().with_flaws(&faults);
        let mut elements = Elements::of(&network);
        make_definite(&mut elements, &mut random);
        let meter = meter(record).and_then(|id| record.meters.get(id)).map_or_else(Profile::default, Profile::of);
        let meter = Profile {
            tone: definite_band(meter.tone, &mut random),
            leads: definite_band(meter.leads, &mut random),
            ..meter
        };
        let supply = share(&mut random) - 0.5;
        Ok(Self { answers, faults, network, elements, meter, supply, seed })
    }

    /// The number of the right candidate of a mystery.
    pub(super) fn answer(&self, mystery: MysteryId) -> Option<usize> {
        self.answers.get(&mystery).copied()
    }

    /// Faults that no mystery asks for.
    pub(super) fn faults(&self) -> &[Flaw] {
        &self.faults
    }

    /// How dangerous a condition really is.
    pub(super) fn hazard(&self, record: &Machine, condition: ConditionId) -> Hazard {
        Situation::of(&self.network, &record.setting(condition)).hazard().0
    }

    /// What the meter shows at a place. `None` where the place is not on the machine or does not go with the function.
    pub(super) fn shows(&self, record: &Machine, place: &Place) -> Option<Shown> {
        let ask = ask_at(&self.network, place.function, &place.red, place.black.as_ref(), false)?;
        let live = Live::of(&self.network, &self.elements, &record.setting(place.condition));
        if live.troubles().iter().any(|(reason, _)| matches!(reason, Reason::Shorted | Reason::Conflict)) {
            return Some(Shown::Trips);
        }
        let ends = self.ends(&live);
        let all: Vec<Expectation> = if place.function.needs_dead() || ends.is_empty() {
            vec![expected(&live, &self.meter, ask)]
        } else {
            let one = |worked: &Vec<bool>| {
                let mut one = live.clone();
                one.ends.retain(|(state, _)| state == worked);
                one.more = false;
                expected(&one, &self.meter, ask)
            };
            ends.iter().map(one).collect()
        };
        let level = if place.function.needs_dead() { self.wobble(record, place) } else { self.supply };
        let mut values =
            all.iter().map(|one| shown(one, place.function, &self.meter, level, self.stray(record, place)));
        let first = values.next()?;
        Some(if values.all(|other| other.is_about(first)) { first } else { Shown::Unsteady })
    }

    /// Whether a meter at the two ends of a faulty thing, or a look at it, shows it in some condition of the record.
    fn differs_at(&self, record: &Machine, faulty: &Self, flaw: Flaw) -> bool {
        let network = &self.network;
        let inside = match flaw {
            Flaw::Open(What::Fuse(at)) => network.fuses().get(at).copied(),
            Flaw::Open(What::Coil(at)) => network.relays().get(at).map(|one| one.inside),
            Flaw::Open(What::Load(at)) => network.loads().get(at).map(|one| one.inside),
            Flaw::Open(What::Contact(at)) | Flaw::Welded(at) => network.contacts().get(at).map(|one| one.inside),
            Flaw::Open(_) => None,
        };
        let Some(inside) = inside else { return false };
        let spot = |at: usize| network.info(inside.ends[at]).filter(|info| !info.inner).map(|info| info.spot.clone());
        let (red, black) = (spot(0), spot(1));
        record.conditions.ids().any(|condition| {
            let is_off = record.setting(condition).sources_on.is_empty();
            let functions: &[Function] =
                if is_off { &[Function::Ohms] } else { &[Function::VoltsAc, Function::VoltsDc, Function::Runs] };
            functions.iter().any(|&function| {
                let place = match (function, &red, &black) {
                    (Function::Runs, ..) => {
                        Place { condition, red: Spot::Part(inside.part), black: None, function, meter: None }
                    }
                    (_, Some(red), Some(black)) => {
                        Place { condition, red: red.clone(), black: Some(black.clone()), function, meter: None }
                    }
                    _ => return false,
                };
                match (self.shows(record, &place), faulty.shows(record, &place)) {
                    (Some(one), Some(other)) => !one.is_about(other),
                    _ => false,
                }
            })
        })
    }

    /// The states the relays of this machine are found in: one where they come to rest, those of a circle where they do not. Of a
    /// race the seed says who wins.
    fn ends(&self, live: &Live<'_>) -> Vec<Vec<bool>> {
        let outcome = &live.outcome;
        let rests: Vec<&Vec<Vec<bool>>> = outcome.ends.iter().filter(|end| end.len() == 1).collect();
        match (outcome.verdict, rests.as_slice()) {
            (Verdict::Undecided, _) => Vec::new(),
            (_, []) => outcome.ends.first().cloned().unwrap_or_default(),
            (_, rests) => {
                Random::from_seed(self.seed ^ 0x0072_6163_6573).pick(rests).map(|&one| one.clone()).unwrap_or_default()
            }
        }
    }

    /// Between -0.5 and 0.5, the same whenever a reading is taken again.
    fn wobble(&self, record: &Machine, place: &Place) -> f64 {
        self.stray(record, place) - 0.5
    }

    /// Between 0 and 1, the same whenever a reading is taken again, either way round.
    fn stray(&self, record: &Machine, place: &Place) -> f64 {
        let mut names: Vec<String> =
            [Some(&place.red), place.black.as_ref()].into_iter().flatten().map(|spot| record.spot_name(spot)).collect();
        names.sort();
        // FNV-1a (Fowler, Noll, Vo), 64 bits.
        let hash = names
            .join(" ")
            .bytes()
            .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3));
        share(&mut Random::from_seed(self.seed ^ hash))
    }

    /// What a fault named by a person means on this machine.
    pub(super) fn flaws(&self, spot: &Spot, state: &str) -> Vec<Flaw> {
        flaws_of(&self.network, spot, state)
    }

    /// A fault in words.
    pub(super) fn fault_words(&self, record: &Machine, flaw: Flaw) -> String {
        let (what, state) = match flaw {
            Flaw::Open(what) => (what, "open"),
            Flaw::Welded(contact) => (What::Contact(contact), "welded"),
        };
        format!("{} {state}", what.name(record, &self.network))
    }
}

/// The meter that practice is done with: the first of the record.
pub(super) fn meter(record: &Machine) -> Option<MeterId> {
    record.meters.ids().next()
}

/// A reading as it goes into the record.
pub(super) fn reading(record: &Machine, place: &Place, value: Value) -> Reading {
    let taken: Vec<&str> = record.readings.values().map(|reading| reading.name.as_str()).collect();
    // One more name than there are readings: one of them is free.
    let mut names = (taken.len() + 1..=2 * taken.len() + 1).map(|number| format!("P{number}"));
    let free = names.find(|name| !taken.contains(&name.as_str()));
    Reading {
        name: free.unwrap_or_default(),
        red: place.red.clone(),
        black: place.black.clone(),
        value,
        condition: Some(place.condition),
        meter: place.meter,
        when: String::new(),
        who: String::new(),
        visit: None,
        note: "practice".to_owned(),
    }
}

/// A number from 0 to below 1.
fn share(random: &mut Random) -> f64 {
    (random.next() >> 11) as f64 / (1_u64 << 53) as f64
}

/// Faults of things that wear out and that a meter can find: fuses, coils, loads, contacts of relays.
fn likely_faults(network: &Network) -> Vec<Flaw> {
    let by_relay = network.contacts().iter().enumerate().filter(|(_, one)| matches!(one.works, Works::Relay(_)));
    let contacts: Vec<usize> = by_relay.map(|(at, _)| at).collect();
    let fuses = (0..network.fuses().len()).map(What::Fuse);
    let coils = (0..network.relays().len()).map(What::Coil);
    let loads = (0..network.loads().len()).map(What::Load);
    let open = fuses.chain(coils).chain(loads).chain(contacts.iter().copied().map(What::Contact)).map(Flaw::Open);
    open.chain(contacts.iter().copied().map(Flaw::Welded)).collect()
}

/// Faults that a mystery asks for already.
fn asked_for(record: &Machine, network: &Network) -> Vec<Flaw> {
    let faults = record.mysteries.values().filter_map(|mystery| match &mystery.subject {
        Subject::Fault(spot) => Some((spot, &mystery.candidates)),
        _ => None,
    });
    let each = faults.flat_map(|(spot, candidates)| {
        candidates.iter().filter_map(move |candidate| match &candidate.guess {
            Guess::Named(state) => Some((spot, state)),
            _ => None,
        })
    });
    each.flat_map(|(spot, state)| flaws_of(network, spot, state)).collect()
}

/// Every value somewhere in its band, and known.
fn make_definite(elements: &mut Elements, random: &mut Random) {
    for wire in elements.wires.iter_mut().flatten() {
        *wire = definite(*wire, share(random));
    }
    for Consumer { dc, ac, .. } in elements.coils.iter_mut().chain(&mut elements.loads) {
        // Wound a little tighter, both are higher.
        let at = share(random);
        *dc = definite(*dc, at);
        *ac = definite(*ac, at);
    }
    for dipole in &mut elements.passives {
        let at = share(random);
        match dipole {
            Dipole::Resistor(worth) | Dipole::Capacitor(worth) => *worth = definite(*worth, at),
            Dipole::Thermistor { cold: one, hot: other } | Dipole::Choke(one, other) => {
                *one = definite(*one, at);
                *other = definite(*other, at);
            }
            Dipole::Diode | Dipole::Open => {}
        }
    }
    for conversion in &mut elements.derived {
        let at = share(random);
        match conversion {
            Conversion::Transformer { primary: one, secondary: other, .. }
            | Conversion::Supply { input: one, output: other, .. } => {
                *one = definite(*one, at);
                *other = definite(*other, at);
            }
            Conversion::Unrecorded => {}
        }
    }
}

fn definite(worth: Worth, at: f64) -> Worth {
    let Band { low, high } = worth.band;
    let within = 0.5 + (at - 0.5) * WITHIN;
    let value = if !(low.is_finite() && high.is_finite()) {
        worth.nominal
    } else if low > 0.0 && high > WIDE * low {
        low * (high / low).powf(within)
    } else {
        low + (high - low) * within
    };
    Worth { nominal: value, band: Band::new(value, value), basis: crate::circuit::electric::Basis::Recorded }
}

fn definite_band(band: Band, random: &mut Random) -> Band {
    let value = band.low + (band.high - band.low) * share(random);
    Band::new(value, value)
}
