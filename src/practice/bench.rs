//! The bench: readings asked for, shown or refused, and counted.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::circuit::electric::Flaw;
use crate::circuit::{Hazard, Network, Situation, Steps};
use crate::generate::{Size, retrofit};
use crate::identify::{Place, Proposal, Reasoned, in_order, proposals};
use crate::machine::{ConditionId, EndAt, Machine, MysteryId, PartId, Spot};
use crate::quantity::{Function, format_scaled};

use super::display::Shown;
use super::hidden::{Hidden, NothingHidden, as_found, meter, reading};

pub use crate::identify::Risk;

/// What a learner asks for: where and with what, in the condition the machine is in.
#[derive(Debug, Clone, PartialEq)]
pub struct Request {
    /// The red probe, or the wire or part looked at.
    pub red: Spot,
    /// The black probe.
    pub black: Option<Spot>,
    /// What the meter is set to.
    pub function: Function,
}

/// Why a reading is not taken.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Refusal {
    /// Tone or ohms while a source is on; the highest volts, where recorded.
    TestCurrentOnLive(Option<f64>),
    /// Tone or ohms where the condition does not say of every source that it is off.
    NotKnownToBeOff,
    /// Amps with the probes on two places.
    AmpsAcross,
    /// No condition is set.
    NoCondition,
    /// An end that is out of sight cannot be touched.
    OutOfSight,
    /// There is no such place for a probe, or the function does not go with it.
    NoPlace,
    /// Both probes on one place.
    SamePlace,
}

impl Refusal {
    /// Whether asking for it on a machine would have been dangerous; others are slips that are not counted.
    pub fn is_forbidden(self) -> bool {
        matches!(self, Self::TestCurrentOnLive(_) | Self::NotKnownToBeOff | Self::AmpsAcross)
    }

    /// The reason in words.
    pub fn words(self) -> String {
        match self {
            Self::TestCurrentOnLive(volts) => {
                let volts = volts.map(|volts| format!(", up to {}", format_scaled(volts, "V"))).unwrap_or_default();
                format!(
                    "FORBIDDEN: a source is on in this condition{volts}. On tone and ohms the meter sends its own current and meets none but its own: on voltage \
                     it shows nonsense, its fuse goes, or it comes apart in the hand. Set a condition with every source off, verify \
                     absence of voltage, then ask again."
                )
            }
            Self::NotKnownToBeOff => {
                "FORBIDDEN: this condition does not say of every source that it is off, so voltage can be on. Tone and ohms need a \
                 machine that is known to be isolated."
                    .to_owned()
            }
            Self::AmpsAcross => {
                "FORBIDDEN: on amps a meter is next to a piece of wire. With its probes on two places it shorts whatever is between \
                 them. Put a clamp round one wire instead, and name that wire."
                    .to_owned()
            }
            Self::NoCondition => "the machine is in no condition yet; set one first".to_owned(),
            Self::OutOfSight => {
                "that end is out of sight, and no probe reaches it; put the probe on the other end of the wire".to_owned()
            }
            Self::NoPlace => "there is no place for that on the machine as found".to_owned(),
            Self::SamePlace => "both probes are on one place; a reading needs two".to_owned(),
        }
    }
}

/// A reading that was taken.
#[derive(Debug, Clone, PartialEq)]
pub struct Taken {
    /// Where, in which condition, with what.
    pub place: Place,
    /// What the meter showed.
    pub shown: Shown,
    /// How dangerous it was.
    pub risk: Risk,
    /// What it counts: 1, one more for a change of condition, one more for each lead that is lifted for it.
    pub effort: f64,
}

/// What a learner says to be so.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Said {
    /// For each mystery answered, the number of the candidate.
    pub answers: BTreeMap<MysteryId, usize>,
    /// Faults named besides, by place and state (`open`, `welded`), with what they mean on the machine.
    pub faults: BTreeMap<(Spot, String), Vec<Flaw>>,
}

/// What to mind on a machine that is as dangerous as this, worst first.
pub fn cautions(record: &Machine, risk: Risk) -> Vec<&'static str> {
    let mut cautions = vec![match risk {
        Risk::Dead => {
            "On a machine: isolate and lock, let capacitors discharge, and verify absence of voltage with a meter tried on a known live source before and after."
        }
        Risk::ExtraLow => {
            "WARNING: extra-low voltage is on. On a machine, what the record does not know can still be at line voltage: verify first, and keep clear of the line side."
        }
        Risk::Line => {
            "DANGER: line voltage is on. On a machine this is for licensed practice under local rules, with rated probes and gloves and no metal on the hands; motors, fans and heaters can start by themselves."
        }
    }];
    if risk != Risk::Dead && record.facts.may_burn() {
        cautions.push(
            "WARNING: the refrigerant burns, or it is not said that it does not. No spark where it may have leaked; ventilate first.",
        );
    }
    cautions
}

/// A practice session on one hidden machine.
#[derive(Debug, Clone)]
pub struct Bench {
    /// The record as found, with the readings taken so far.
    record: Machine,
    catalogue: Arc<Catalogue>,
    network: Network,
    hidden: Hidden,
    present: Option<ConditionId>,
    taken: Vec<Taken>,
    forbidden: Vec<Refusal>,
    said: Said,
    hints: usize,
}

impl Bench {
    /// On a truth drawn for a record, the same for the same seed.
    ///
    /// # Errors
    /// When the record leaves nothing to be found out, or nowhere to take a reading.
    pub fn on_record(record: &Machine, catalogue: &Arc<Catalogue>, seed: u64) -> Result<Self, NothingHidden> {
        let record = as_found(record);
        let hidden = Hidden::drawn(&record, catalogue, seed)?;
        Ok(Self::of(record, catalogue, hidden))
    }

    /// On an invented machine, the same for the same seed.
    ///
    /// # Errors
    /// As [`Self::on_record`].
    pub fn invented(seed: u64, catalogue: &Arc<Catalogue>) -> Result<Self, NothingHidden> {
        let made = retrofit(seed, Size::of_seed(seed));
        let record = as_found(&made.record);
        let hidden = Hidden::known(&record, &made.truth.record, catalogue, made.truth.answers, seed)?;
        Ok(Self::of(record, catalogue, hidden))
    }

    /// On a hidden machine that is at hand.
    pub fn of(record: Machine, catalogue: &Arc<Catalogue>, hidden: Hidden) -> Self {
        let network = Network::of(&record, catalogue);
        Self {
            record,
            catalogue: Arc::clone(catalogue),
            network,
            hidden,
            present: None,
            taken: Vec::new(),
            forbidden: Vec::new(),
            said: Said::default(),
            hints: 0,
        }
    }

    /// The record as found, with the readings taken so far.
    pub fn record(&self) -> &Machine {
        &self.record
    }

    /// The kinds of part.
    pub fn catalogue(&self) -> &Arc<Catalogue> {
        &self.catalogue
    }

    /// The record's own network: where probes can be put.
    pub fn network(&self) -> &Network {
        &self.network
    }

    pub(super) fn hidden(&self) -> &Hidden {
        &self.hidden
    }

    /// The condition the machine is in.
    pub fn present(&self) -> Option<ConditionId> {
        self.present
    }

    /// Readings taken so far.
    pub fn taken(&self) -> &[Taken] {
        &self.taken
    }

    /// Forbidden readings that were asked for.
    pub fn forbidden(&self) -> &[Refusal] {
        &self.forbidden
    }

    /// What the learner says so far.
    pub fn said(&self) -> &Said {
        &self.said
    }

    /// How often a hint was asked for.
    pub fn hints(&self) -> usize {
        self.hints
    }

    /// The effort so far.
    pub fn effort(&self) -> f64 {
        self.taken.iter().fold(0.0, |sum, taken| sum + taken.effort)
    }

    /// How dangerous a condition is: by the record as found and as it really is.
    pub fn risk(&self, condition: ConditionId) -> Risk {
        risk(&self.record, &self.network, &self.hidden, condition)
    }

    /// Puts the machine into a condition; says what has to be done for it. `None` where there is no such condition.
    pub fn set(&mut self, condition: ConditionId) -> Option<Steps> {
        if !self.record.conditions.contains(condition) {
            return None;
        }
        let sources = self.network.sources().iter().map(|source| source.inside.part).collect();
        let steps = Steps::between(&self.record, &sources, self.present, condition);
        self.present = Some(condition);
        Some(steps)
    }

    /// Takes a reading, which then stands in the record too where a value stands.
    ///
    /// # Errors
    /// The reason why it is not taken. What is forbidden is counted.
    pub fn take(&mut self, request: &Request) -> Result<Taken, Refusal> {
        let taken = self.answer(request).inspect_err(|refusal| {
            if refusal.is_forbidden() {
                self.forbidden.push(*refusal);
            }
        })?;
        if let Some(value) = taken.shown.value() {
            let reading = reading(&self.record, &taken.place, value);
            self.record.readings.add(reading);
        }
        self.taken.push(taken.clone());
        Ok(taken)
    }

    fn answer(&self, request: &Request) -> Result<Taken, Refusal> {
        // What must never be done is said whatever else is wrong with the request.
        if request.function == Function::Amps && request.black.is_some() {
            return Err(Refusal::AmpsAcross);
        }
        let condition = self.present.ok_or(Refusal::NoCondition)?;
        for spot in [Some(&request.red), request.black.as_ref()].into_iter().flatten() {
            self.check_place(spot)?;
        }
        if request.black.as_ref() == Some(&request.red) {
            return Err(Refusal::SamePlace);
        }
        if request.function.needs_dead() {
            self.check_off(condition)?;
        }
        let place = Place {
            condition,
            red: request.red.clone(),
            black: request.black.clone(),
            function: request.function,
            meter: meter(&self.record),
        };
        let shown = self.hidden.shows(&self.record, &place).ok_or(Refusal::NoPlace)?;
        let before = self.taken.last().map(|taken| taken.place.condition);
        let effort = effort(&self.record, condition, before);
        Ok(Taken { place, shown, risk: self.risk(condition), effort })
    }

    /// Whether a probe, a clamp or a look reaches a place of the machine as found.
    fn check_place(&self, spot: &Spot) -> Result<(), Refusal> {
        let reached = match spot {
            Spot::End(wire, side) => {
                let wire = self.record.wires.get(*wire).filter(|wire| wire.is_present()).ok_or(Refusal::NoPlace)?;
                if wire.end(*side).at == EndAt::Unknown {
                    return Err(Refusal::OutOfSight);
                }
                true
            }
            Spot::Terminal(_) => self.network.node(spot).is_some(),
            Spot::Wire(wire) => self.record.wires.get(*wire).is_some_and(crate::machine::Wire::is_present),
            Spot::Part(part) => self.record.parts.contains(*part),
            Spot::Gone(_) => false,
        };
        if reached { Ok(()) } else { Err(Refusal::NoPlace) }
    }

    /// Whether the record says that every source is off.
    fn check_off(&self, condition: ConditionId) -> Result<(), Refusal> {
        let setting = self.record.setting(condition);
        if !setting.sources_on.is_empty() {
            return Err(Refusal::TestCurrentOnLive(Situation::of(&self.network, &setting).hazard().1));
        }
        let said = self.record.sources_said(condition);
        let mut all = sources(&self.network).peekable();
        let all_said = all.peek().is_some() && all.all(|source| said.contains(&source));
        if all_said { Ok(()) } else { Err(Refusal::NotKnownToBeOff) }
    }

    /// Says what a mystery is, by the number of its candidate; `None` takes it back. Judged at the end only. Whether there is such a
    /// mystery with such a candidate.
    pub fn say(&mut self, mystery: MysteryId, candidate: Option<usize>) -> bool {
        let count = self.record.mysteries.get(mystery).map_or(0, |mystery| mystery.candidates.len());
        match candidate {
            Some(candidate) if candidate < count => {
                self.said.answers.insert(mystery, candidate);
                true
            }
            Some(_) => false,
            None => self.said.answers.remove(&mystery).is_some(),
        }
    }

    /// Says that something is faulty, `open` or `welded`. Whether there is a thing there that can be.
    pub fn say_fault(&mut self, spot: Spot, state: &str) -> bool {
        let flaws = self.hidden.flaws(&spot, state);
        let sensible = !flaws.is_empty();
        if sensible {
            self.said.faults.insert((spot, state.to_owned()), flaws);
        }
        sensible
    }

    /// Takes back what was said to be faulty at a place. Whether anything was.
    pub fn unsay_fault(&mut self, spot: &Spot) -> bool {
        let before = self.said.faults.len();
        self.said.faults.retain(|(one, _), _| one != spot);
        self.said.faults.len() < before
    }

    /// The reading that the proposals would take now; counted as a hint. `None` where no reading tells anything further apart.
    ///
    /// It weighs everything that was read, so it takes its time.
    pub fn hint(&mut self) -> Option<Proposal> {
        self.hints += 1;
        next_readings(&self.record, &self.catalogue, self.present, 1).into_iter().next()
    }

    /// Counts a hint that was given by other means.
    pub fn count_hint(&mut self) {
        self.hints += 1;
    }
}

/// How dangerous a condition is: by the record as found and as it really is.
fn risk(record: &Machine, network: &Network, hidden: &Hidden, condition: ConditionId) -> Risk {
    let said = record.sources_said(condition);
    if sources(network).next().is_none() || !sources(network).all(|source| said.contains(&source)) {
        return Risk::Line;
    }
    let by_record = Situation::of(network, &record.setting(condition)).hazard().0;
    match by_record.max(hidden.hazard(record, condition)) {
        Hazard::NoSource => Risk::Dead,
        Hazard::ExtraLow => Risk::ExtraLow,
        Hazard::Above => Risk::Line,
    }
}

fn sources(network: &Network) -> impl Iterator<Item = PartId> + '_ {
    network.sources().iter().map(|source| source.inside.part)
}

/// What a reading counts, after one in another condition or none.
pub(super) fn effort(record: &Machine, condition: ConditionId, before: Option<ConditionId>) -> f64 {
    let lifts = record.setting(condition).lifted.len() as f64;
    1.0 + if before == Some(condition) { 0.0 } else { 1.0 } + lifts
}

/// The best readings for every group of mysteries that is not settled, best first.
pub(super) fn next_readings(
    record: &Machine,
    catalogue: &Arc<Catalogue>,
    present: Option<ConditionId>,
    most: usize,
) -> Vec<Proposal> {
    let reasoned = Reasoned::of(record, catalogue);
    let open = reasoned.accounts.iter().filter(|account| account.settled(record).len() < account.group.mysteries.len());
    let groups: Vec<((), Vec<Proposal>)> =
        open.map(|account| ((), proposals(record, catalogue, account, present, most))).collect();
    in_order(groups).into_iter().map(|((), proposal)| proposal).collect()
}
