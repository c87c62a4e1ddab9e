//! A machine in one condition with its relays settled by voltage: what each load gets, what each net has.

use std::sync::{Arc, OnceLock};

use crate::machine::Setting;
use crate::quantity::{Band, Rating};

use super::super::frame::Frame;
use super::super::linear::{Factored, Phasor, Reason, Remark};
use super::super::network::{Inside, Network, Node};
use super::super::settle::{Excitation as _, Outcome, Trit, Verdict, settle_abstract, settle_few};
use super::expect::dead_circuit;
use super::relays::{ByVolts, Known, Willing};
use super::stamp::{Elements, Stamp, What};
use super::state::{Attached, State};
use super::worth::{Basis, Corner};

/// Steps after which relays that have not come to rest are not followed at first look.
const MOST_STEPS: usize = 12;
/// States looked at where relays chatter or race; beyond that the answer is given from these and said to be so.
const MOST_ENDS: usize = 8;
/// A load runs from this share of its rated volts on: supplies and loads are made to go together within 10 %, and motors
/// start down to about 85 % (IEC 60034 and relay data sheets, from memory).
const RUNS_FROM: f64 = 0.85;
/// Below this share of its rated volts a load does nothing to speak of (common practice, no source).
const NOTHING_BELOW: f64 = 0.05;

/// In a machine with more terminals and wire ends than this (some 2,000 wires), volts and amps are not computed along with
/// other results: it would take longer than a check may. What rests on poles and nets speaks at any size.
pub const MOST_NODES_SOLVED: usize = 6000;

/// Volts of a place, and what they are told against.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Told {
    /// What the volts are against.
    pub against: Node,
    /// Volts AC, as size.
    pub ac: Option<Band>,
    /// Volts DC.
    pub dc: Option<Band>,
}

/// A network in one setting, relays settled by voltage.
#[derive(Debug, Clone)]
pub struct Live<'n> {
    /// The network in its setting.
    pub frame: Frame<'n>,
    /// What its elements are worth.
    pub elements: &'n Elements,
    /// Where relays with coils of middling will come to rest.
    pub outcome: Outcome,
    /// Each relay, over coils of every will: `Either` also where only its exact thresholds decide.
    pub relays: Vec<Trit>,
    /// States the relays end in, each with its volts. More than one where they chatter or race; none when undecided.
    pub ends: Vec<(Vec<bool>, State)>,
    /// There are more ends than are looked at.
    pub more: bool,
    /// How the relays stood before.
    start: Vec<bool>,
    /// What a meter's own current meets, with everything low, as recorded and high. Each made when first asked for.
    dead: [OnceLock<Arc<(Stamp, Factored)>>; 3],
}

/// What a load does.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Runs {
    /// It gets its volts.
    Yes,
    /// It gets some, not enough to do its work.
    Partly,
    /// It gets none to speak of.
    No,
    /// That cannot be said.
    Unknown,
}

impl Runs {
    /// As it is written in results.
    pub fn word(self) -> &'static str {
        match self {
            Self::Yes => "yes",
            Self::Partly => "partly",
            Self::No => "no",
            Self::Unknown => "unknown",
        }
    }
}

/// What an element gets in one condition.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Gets {
    /// Volts across it, over all ends; `None` when they are not determined.
    pub volts: Option<Band>,
    /// Amps through it.
    pub amps: Option<Band>,
    /// Watts it takes.
    pub watts: Option<Band>,
    /// Whether it runs.
    pub runs: Runs,
    /// How its own ohms are known.
    pub basis: Basis,
}

impl<'n> Live<'n> {
    /// The network in this setting, relays starting from rest.
    pub fn of(network: &'n Network, elements: &'n Elements, setting: &Setting) -> Self {
        Self::with_meter(network, elements, setting, None)
    }

    /// The same for a first look: relays with coils of middling will step on from rest together, and come to rest in a few steps; `None` where
    /// they do not. Whether other coils would end differently is not asked.
    pub fn at_first_look(network: &'n Network, elements: &'n Elements, setting: &Setting) -> Option<Self> {
        let frame = Frame::of(network, setting);
        let start = vec![false; network.relays().len()];
        let known = Known::default();
        let mut worked = start.clone();
        if frame.on.contains(&true) {
            let by_volts = ByVolts::new(&frame, elements, None, Willing::Middle, &known);
            let mut steps = 0;
            loop {
                let next = by_volts.fed(&worked);
                if next == worked {
                    break;
                }
                (worked, steps) = (next, steps + 1);
                if steps > MOST_STEPS {
                    return None;
                }
            }
        }
        let state = known.state(&worked, || State::of(&frame, elements, &worked, &|_| Corner::Nominal, None));
        let outcome = Outcome::rests(&worked);
        let relays = outcome.relays.clone();
        let ends = vec![(worked, state)];
        Some(Self { frame, elements, outcome, relays, ends, more: false, start, dead: Default::default() })
    }

    /// The same with a meter on.
    pub fn with_meter(
        network: &'n Network,
        elements: &'n Elements,
        setting: &Setting,
        meter: Option<Attached>,
    ) -> Self {
        Self::in_frame(Frame::of(network, setting), elements, meter, Vec::new())
    }

    /// The same with relays that stood so before; one left out stood at rest.
    pub fn from_state(network: &'n Network, elements: &'n Elements, setting: &Setting, before: &[bool]) -> Self {
        Self::in_frame(Frame::of(network, setting), elements, None, before.to_vec())
    }

    fn in_frame(frame: Frame<'n>, elements: &'n Elements, meter: Option<Attached>, mut start: Vec<bool>) -> Self {
        start.resize(frame.network.relays().len(), false);
        let known = Known::default();
        let at_rest = !start.contains(&true) && !frame.on.contains(&true);
        let settled = |willing| {
            // Nothing is on: what is at rest stays there.
            if at_rest {
                return Outcome::rests(&start);
            }
            let by_volts = ByVolts::new(&frame, elements, meter, willing, &known);
            settle_few(&start, &by_volts).unwrap_or_else(|| settle_abstract(&start, &by_volts, ByVolts::BOUNDS))
        };
        let outcome = settled(Willing::Middle);
        let mut relays = outcome.relays.clone();
        let mut states: Vec<Vec<bool>> = outcome.ends.iter().flatten().cloned().collect();
        for willing in [Willing::Most, Willing::Least] {
            let other = settled(willing);
            for (sure, other) in relays.iter_mut().zip(other.relays) {
                *sure = sure.or(other);
            }
            // Undecided by its thresholds: either may be.
            for end in other.ends.into_iter().flatten() {
                if !states.contains(&end) {
                    states.push(end);
                }
            }
        }
        let more = states.len() > MOST_ENDS;
        states.truncate(MOST_ENDS);
        let ends = states
            .into_iter()
            .map(|worked| {
                let solve = || State::of(&frame, elements, &worked, &|_| Corner::Nominal, meter);
                let state = known.state(&worked, solve);
                (worked, state)
            })
            .collect();
        Self { frame, elements, outcome, relays, ends, more, start, dead: Default::default() }
    }

    /// The same setting with a meter on, relays settled anew from where they stood before.
    pub fn settled(live: &Self, meter: Attached) -> Self {
        Self::in_frame(live.frame.clone(), live.elements, Some(meter), live.start.clone())
    }

    /// The same machine with something operated, relays settled anew from where they stand.
    pub fn operated(&self, frame: Frame<'n>) -> Self {
        let before = self.ends.first().map_or_else(|| self.start.clone(), |(worked, _)| worked.clone());
        Self::in_frame(frame, self.elements, None, before)
    }

    /// What a meter's own current meets, with every element low, as recorded or high.
    pub fn dead(&self, corner: Corner) -> &(Stamp, Factored) {
        let [low, nominal, high] = &self.dead;
        let own = match corner {
            Corner::Low => low,
            Corner::Nominal => nominal,
            Corner::High => high,
        };
        own.get_or_init(|| Arc::new(dead_circuit(&self.frame, self.elements, corner)))
    }

    /// The network.
    pub fn network(&self) -> &'n Network {
        self.frame.network
    }

    /// Whether relays come to rest.
    pub fn verdict(&self) -> Verdict {
        self.outcome.verdict
    }

    /// Shorts and sources at odds, alternating and direct, as elements of the network. Without repeats.
    pub fn troubles(&self) -> Vec<(Reason, Vec<What>)> {
        let mut all: Vec<(Reason, Vec<What>)> = Vec::new();
        for (_, state) in &self.ends {
            for solved in [&state.alternating, &state.direct] {
                let whats = |remark: &Remark| {
                    let mut whats: Vec<What> =
                        remark.branches.iter().filter_map(|&branch| solved.stamp.what.get(branch).copied()).collect();
                    whats.sort_unstable();
                    (remark.reason, whats)
                };
                all.extend(solved.factored().remarks().iter().map(whats));
            }
        }
        all.sort();
        all.dedup();
        all
    }

    /// Nodes that volts of nets are told against, best first: earthed poles of sources, then second poles of sources that are
    /// on, then those of transformers and DC supplies.
    pub fn references(&self) -> Vec<Node> {
        let network = self.network();
        let on = || network.sources().iter().zip(&self.frame.on).filter(|(_, on)| **on).map(|(source, _)| source);
        let earthed = on().filter(|source| source.earthed).map(|source| source.inside.ends[1]);
        let others = on().filter(|source| !source.earthed).map(|source| source.inside.ends[1]);
        let derived = network.derived().iter().map(|one| one.inside.ends[1]);
        earthed.chain(others).chain(derived).collect()
    }

    /// Volts AC between two nodes in each end, as size; `None` where not determined.
    pub fn volts_ac(&self, a: Node, b: Node) -> Option<Band> {
        self.over_ends(|state| state.alternating.volts(a, b).known().map(Phasor::norm))
    }

    /// Volts DC of `a` against `b` over the ends; `None` where not determined.
    pub fn volts_dc(&self, a: Node, b: Node) -> Option<Band> {
        self.over_ends(|state| state.direct.volts(a, b).known().map(|volts| volts.re))
    }

    /// Volts of a place against the best of these [`Self::references`] that says any. `None` where no source feeds it, or one
    /// whose volts are not recorded.
    pub fn told(&self, node: Node, references: &[Node]) -> Option<Told> {
        let against_ac = references.iter().copied().find(|&other| self.volts_ac(node, other).is_some());
        let against_dc = references.iter().copied().find(|&other| self.volts_dc(node, other).is_some());
        Some(Told {
            against: against_ac.or(against_dc)?,
            ac: against_ac.and_then(|other| self.volts_ac(node, other)),
            dc: against_dc.and_then(|other| self.volts_dc(node, other)),
        })
    }

    fn over_ends(&self, value: impl Fn(&State) -> Option<f64>) -> Option<Band> {
        let mut band: Option<Band> = None;
        for (_, state) in &self.ends {
            let value = value(state)?;
            band =
                Some(band.map_or(Band::new(value, value), |band| Band::new(band.low.min(value), band.high.max(value))));
        }
        band
    }

    /// What a load or winding gets.
    pub fn load(&self, index: usize) -> Option<Gets> {
        let load = self.network().loads().get(index)?;
        let basis = self.elements.loads.get(index)?.ac.basis;
        let branch = |state: &State| state.alternating.stamp.loads.get(index).copied();
        Some(self.gets(&load.inside, basis, &branch, Rating::Volts))
    }

    /// What a coil gets.
    pub fn coil(&self, index: usize) -> Option<Gets> {
        let relay = self.network().relays().get(index)?;
        let basis = self.elements.coils.get(index)?.ac.basis;
        let branch = |state: &State| state.alternating.stamp.coils.get(index).copied();
        Some(self.gets(&relay.inside, basis, &branch, Rating::CoilVolts))
    }

    /// Rated volts of every source that is on and of every transformer and DC supply.
    fn supplies(&self) -> impl Iterator<Item = f64> + '_ {
        let network = self.network();
        let on = network.sources().iter().zip(&self.frame.on).filter(|(_, on)| **on);
        on.filter_map(|(source, _)| source.volts).chain(network.derived().iter().filter_map(|one| one.volts))
    }

    fn gets(&self, inside: &Inside, basis: Basis, branch: &dyn Fn(&State) -> Option<usize>, rating: Rating) -> Gets {
        let [a, b] = inside.ends;
        // Alternating and direct current heat and pull together: root of the sum of squares.
        let both = |ac: Option<f64>, dc: Option<f64>| Some(ac?.hypot(dc?));
        let volts = |state: &State| {
            both(
                state.alternating.volts(a, b).known().map(Phasor::norm),
                state.direct.volts(a, b).known().map(Phasor::norm),
            )
        };
        let amps = |state: &State| {
            let branch = branch(state)?;
            both(
                state.alternating.amps(branch).known().map(Phasor::norm),
                state.direct.amps(branch).known().map(Phasor::norm),
            )
        };
        let watts = |state: &State| {
            let branch = branch(state)?;
            let power = |solved: &super::state::Solved| {
                let (volts, amps) = (solved.volts_across(branch).known()?, solved.amps(branch).known()?);
                Some((volts * amps.conj()).re)
            };
            Some(power(&state.alternating)? + power(&state.direct)?)
        };
        let volts = self.over_ends(volts);
        let body = self.network().body(inside.part);
        let rated = body.and_then(|body| body.ratings.get(rating).or_else(|| body.typical.get(rating)));
        let runs = match (volts, rated) {
            (Some(volts), Some(rated)) if rated > 0.0 => {
                if volts.low >= RUNS_FROM * rated {
                    Runs::Yes
                } else if volts.high < NOTHING_BELOW * rated {
                    Runs::No
                } else if volts.low < NOTHING_BELOW * rated && volts.high >= RUNS_FROM * rated {
                    Runs::Unknown
                } else {
                    Runs::Partly
                }
            }
            (Some(volts), _) if volts.high < 0.1 => Runs::No,
            // Its volts are not recorded: what gets the whole of a source is taken to be made for it.
            (Some(volts), _) if self.supplies().any(|whole| volts.low >= RUNS_FROM * whole) => Runs::Yes,
            _ => Runs::Unknown,
        };
        // Amps from ohms that nobody knows would be made up.
        let (amps, watts) = if basis == Basis::Assumed {
            let nothing = volts.filter(|volts| volts.high < 1e-6);
            (nothing, nothing)
        } else {
            (self.over_ends(amps), self.over_ends(watts))
        };
        Gets { volts, amps, watts, runs, basis }
    }
}
