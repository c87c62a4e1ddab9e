//! Where relays come to rest when voltage decides: a coil pulls in from its pick-up on and lets go below its drop-out.
//!
//! Between the two it stays as it is. Where data sheets give no thresholds, a coil may pull in anywhere from 50 to 85 % of
//! its volts and let go anywhere from 50 down to 5 % (design bands from memory of relay data sheets; a shop can record the
//! real ones). So relays are settled three times: with the middle of the bands, with the most willing and with the least
//! willing coils; a relay that ends differently is not decided.

use std::cell::{OnceCell, RefCell};
use std::collections::BTreeMap;

use crate::catalogue::Form;
use crate::quantity::{Current, Rating};

use super::super::frame::Frame;
use super::super::linear::Phasor;
use super::super::network::{Relay, Works};
use super::super::partition::Partition;
use super::super::settle::{Bounds, Excitation, Trit};
use super::stamp::Elements;
use super::state::{Attached, State};
use super::worth::Corner;

/// Two equal coils in series get exactly half each: what is computed a hair below counts as reached.
const ROUNDING: f64 = 1e-9;

/// How willing coils are to pull in and to hold.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Willing {
    /// They pull in at the lowest voltage of the band and hold down to the lowest.
    Most,
    /// In the middle.
    Middle,
    /// They need the highest voltage of the band and let go at the highest.
    Least,
}

/// Thresholds of one coil in volts.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Thresholds {
    /// It pulls in from here on.
    pub pick_up: f64,
    /// It lets go below this.
    pub drop_out: f64,
    /// Rated volts.
    pub rated: f64,
}

/// The thresholds of every coil; `None` where its rated volts are not recorded: then any voltage works it.
pub fn thresholds(frame: &Frame<'_>, willing: Willing) -> Vec<Option<Thresholds>> {
    let network = frame.network;
    let one = |relay: &Relay| {
        let body = network.body(relay.inside.part)?;
        let rating = |rating| body.ratings.get(rating).or_else(|| body.typical.get(rating));
        let rated = rating(Rating::CoilVolts).filter(|volts| *volts > 0.0)?;
        let share = |recorded: Option<f64>, least: f64, middle: f64, most: f64| {
            recorded.map_or(
                match willing {
                    Willing::Most => most,
                    Willing::Middle => middle,
                    Willing::Least => least,
                },
                |percent| percent / 100.0,
            )
        };
        let pick_up = share(body.ratings.get(Rating::PickUp), 0.85, 0.7, 0.5);
        let drop_out = share(body.ratings.get(Rating::DropOut), 0.5, 0.3, 0.05).min(pick_up);
        let exactly = rated * (1.0 - ROUNDING);
        Some(Thresholds { pick_up: pick_up * exactly, drop_out: drop_out * exactly, rated })
    };
    network.relays().iter().map(one).collect()
}

/// What works coils: the volts that a solved state puts on them.
pub struct ByVolts<'f, 'n> {
    frame: &'f Frame<'n>,
    elements: &'f Elements,
    meter: Option<Attached>,
    thresholds: Vec<Option<Thresholds>>,
    /// What conductors without resistance hold together, made when first asked for.
    joined: OnceCell<Partition>,
    known: &'f Known,
}

/// What was solved already for a frame with its meter, whatever the will of the coils.
#[derive(Default)]
pub struct Known {
    volts: RefCell<BTreeMap<Vec<bool>, Vec<Option<f64>>>>,
    extremes: RefCell<BTreeMap<Vec<bool>, Vec<Option<f64>>>>,
    /// The first few states whole: most machines come to rest in one of them.
    states: RefCell<BTreeMap<Vec<bool>, State>>,
}

/// States kept whole at most.
const MOST_STATES: usize = 8;

impl Known {
    /// A state, solved if it was not.
    pub fn state(&self, worked: &[bool], solve: impl FnOnce() -> State) -> State {
        if let Some(state) = self.states.borrow().get(worked) {
            return state.clone();
        }
        solve()
    }
}

impl<'f, 'n> ByVolts<'f, 'n> {
    /// How far states of relays are gone through by volts, each of which takes a solution; beyond it, it is not decided.
    pub const BOUNDS: Bounds = Bounds { states: 2048, moves: 1 << 15 };

    /// For a frame, with a meter on or not.
    pub fn new(
        frame: &'f Frame<'n>,
        elements: &'f Elements,
        meter: Option<Attached>,
        willing: Willing,
        known: &'f Known,
    ) -> Self {
        let thresholds = thresholds(frame, willing);
        Self { frame, elements, meter, thresholds, joined: OnceCell::new(), known }
    }

    /// Whether a contact is closed when those of undecided relays are taken as all closed or all open.
    fn is_closed(&self, contact: usize, worked: &[Trit], undecided: bool) -> bool {
        let bit = |relay: usize| worked.get(relay).and_then(|trit| trit.bit());
        match self.frame.network.contacts().get(contact).map(|entry| (&entry.works, entry.form)) {
            Some((&Works::Relay(relay), form)) => bit(relay).map_or(undecided, |bit| bit == (form == Form::Make)),
            _ => self.frame.is_closed(contact, &[]),
        }
    }

    /// Volts on each coil while relays stand so: of the kind of current the coil is made for.
    fn coil_volts(&self, worked: &[bool]) -> Vec<Option<f64>> {
        if let Some(known) = self.known.volts.borrow().get(worked) {
            return known.clone();
        }
        let state = State::of(self.frame, self.elements, worked, &|_| Corner::Nominal, self.meter);
        let volts: Vec<Option<f64>> =
            self.frame.network.relays().iter().map(|relay| coil_volts(&state, relay)).collect();
        self.known.volts.borrow_mut().insert(worked.to_vec(), volts.clone());
        let mut states = self.known.states.borrow_mut();
        if states.len() < MOST_STATES {
            states.insert(worked.to_vec(), state);
        }
        volts
    }
}

/// Volts that work a coil: none to speak of where they are not determined. `None`: they hang on a source whose volts are not
/// recorded.
pub fn coil_volts(state: &State, relay: &Relay) -> Option<f64> {
    let [a, b] = relay.inside.ends;
    if state.alternating.is_unrecorded(a) || state.direct.is_unrecorded(a) {
        return None;
    }
    let alternating = || state.alternating.volts(a, b).known().map_or(0.0, Phasor::norm);
    let direct = || state.direct.volts(a, b).known().map_or(0.0, |volts| volts.re.abs());
    Some(match relay.current {
        Some(Current::Ac) => alternating(),
        Some(Current::Dc) => direct(),
        None => alternating().max(direct()),
    })
}

impl Excitation for ByVolts<'_, '_> {
    fn relays(&self) -> usize {
        self.frame.network.relays().len()
    }

    fn fed(&self, worked: &[bool]) -> Vec<bool> {
        let volts = self.coil_volts(worked);
        // Without recorded volts, by poles alone: a coil on two different poles is taken to be worked.
        let by_poles = if volts.contains(&None) { self.frame.fed(worked) } else { vec![false; volts.len()] };
        let coils = volts.iter().zip(&self.thresholds).zip(worked).zip(by_poles);
        coils
            .map(|(((&volts, thresholds), &now), by_poles)| match (volts, thresholds) {
                (None, _) => by_poles,
                (Some(volts), None) => volts > 0.1,
                (Some(volts), Some(coil)) if volts >= coil.pick_up => true,
                (Some(volts), Some(coil)) if volts < coil.drop_out => false,
                (Some(_), Some(_)) => now,
            })
            .collect()
    }

    /// Never fed: no way from its two ends to two different poles, not even through loads. Fed for sure: on two poles
    /// directly whatever the undecided relays do, and with enough voltage with all of their contacts open and with all
    /// closed; what hangs on poles can only draw their voltage down, and most does so with all closed.
    fn fed_or_either(&self, worked: &[Trit]) -> Vec<Trit> {
        if let Some(bits) = worked.iter().map(|trit| trit.bit()).collect::<Option<Vec<bool>>>() {
            return self.fed(&bits).into_iter().map(Trit::from).collect();
        }
        let direct = self.frame.fed_or_either(worked);
        let is_ideal = |wire: usize| self.elements.wires.get(wire).is_none_or(Option::is_none);
        let joined = self.joined.get_or_init(|| self.frame.joined_ideally(is_ideal));
        let reached = self.frame.can_be_fed(joined, worked, self.meter.map(|meter| meter.between));
        let extremes: Vec<Vec<Option<f64>>> = [false, true]
            .map(|closed| {
                let is_closed = |contact| self.is_closed(contact, worked, closed);
                let contacts: Vec<bool> = (0..self.frame.network.contacts().len()).map(is_closed).collect();
                if let Some(volts) = self.known.extremes.borrow().get(&contacts) {
                    return volts.clone();
                }
                let state = State::with_contacts(
                    self.frame,
                    self.elements,
                    &|contact| contacts.get(contact).copied().unwrap_or(false),
                    &|_| Corner::Nominal,
                    self.meter,
                );
                let volts: Vec<Option<f64>> =
                    self.frame.network.relays().iter().map(|relay| coil_volts(&state, relay)).collect();
                self.known.extremes.borrow_mut().insert(contacts, volts.clone());
                volts
            })
            .to_vec();
        let enough = |relay: usize| {
            extremes.iter().all(|volts: &Vec<Option<f64>>| {
                let Some(volts) = volts.get(relay).copied().flatten() else { return true };
                self.thresholds.get(relay).copied().flatten().map_or(volts > 0.1, |coil| volts >= coil.pick_up)
            })
        };
        (0..worked.len())
            .map(|relay| match direct.get(relay) {
                Some(Trit::Yes) if enough(relay) => Trit::Yes,
                _ if !reached.get(relay).copied().unwrap_or(true) => Trit::No,
                _ => Trit::Either,
            })
            .collect()
    }

    fn delay(&self, relay: usize) -> u8 {
        self.frame.delay(relay)
    }
}
