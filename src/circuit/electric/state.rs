//! A network in one setting with its relays standing in one way: volts and amps, alternating and direct.
//!
//! Alternating current first, since DC supplies live on it; then direct current with the outputs of those supplies that are
//! fed, diodes conducting or not so that none carries current backwards. Effects of the two add in separate readings: a
//! meter on volts AC sees the first, on volts DC the second.

use std::collections::BTreeSet;
use std::sync::{Arc, OnceLock};

use crate::quantity::Current;

use super::super::frame::Frame;
use super::super::linear::{Answer, Branch, Factored, Kept, Phasor, Reason};
use super::super::network::Node;
use super::stamp::{Conversion, Elements, Flow, Stamp, What};
use super::worth::Corner;

/// Volts across a conducting silicon diode, and its resistance then (general knowledge, from memory).
const DIODE_VOLTS: f64 = 0.7;
const DIODE_OHMS: f64 = 0.05;
/// Volts below this are none.
const NOTHING: f64 = 1e-6;
/// How far a DC supply may be off its rated volts, as a share (common practice, no source; many can be adjusted).
const SUPPLY_SPREAD: f64 = 0.05;
/// A DC supply gives its volts from this share of its rated input on (common practice, no source).
const SUPPLY_STARTS_AT: f64 = 0.7;

/// A value that is not the opposite half a period later by more than this share has been rectified.
const NOT_TURNED: f64 = 0.02;

/// Something put between two nodes on top of what is recorded: a meter.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Attached {
    /// The probes: red, black.
    pub between: [Node; 2],
    /// Its input resistance in ohms.
    pub ohms: f64,
}

/// Volts and amps of one state of the relays.
#[derive(Debug, Clone)]
pub struct State {
    /// Alternating current.
    pub alternating: Solved,
    /// Direct current.
    pub direct: Solved,
    /// DC supplies that are fed.
    pub supplied: Vec<bool>,
    /// No pattern of conducting diodes fits: what hangs on diodes is not known.
    pub diodes_undecided: bool,
    /// Nodes that hang together with a diode that alternating voltage is on: what rectifying does there is not computed.
    pub rectifying: bool,
}

/// A circuit with its solution.
#[derive(Debug, Clone)]
pub struct Solved {
    /// The circuit.
    pub stamp: Stamp,
    /// Angular frequency, in radians per second.
    omega: f64,
    /// Its solution, made when first asked for: much of what alternates has no direct current at all.
    factored: OnceLock<Factored>,
    /// What was solved before.
    kept: Option<Arc<Kept>>,
    /// Islands that a source feeds, or may feed, whose volts are not recorded: nothing can be said of them.
    unrecorded: BTreeSet<u32>,
    /// Moments half a period apart, where diodes meet alternating voltage: what is not turned over from the one to the other
    /// has been rectified.
    moments: Arc<Vec<[Factored; 2]>>,
}

impl Solved {
    fn of(stamp: Stamp, omega: f64) -> Self {
        Self {
            stamp,
            omega,
            factored: OnceLock::new(),
            kept: None,
            unrecorded: BTreeSet::new(),
            moments: Arc::default(),
        }
    }

    /// The same; what these elements were solved with before is taken over.
    fn keeping(self, elements: &Elements) -> Self {
        Self { kept: elements.kept.clone(), ..self }
    }

    /// Its solution.
    pub fn factored(&self) -> &Factored {
        self.factored.get_or_init(|| Factored::keeping(&self.stamp.circuit, self.omega, self.kept.as_deref()))
    }

    fn into_factored(self) -> Factored {
        let (stamp, omega) = (self.stamp, self.omega);
        self.factored.into_inner().unwrap_or_else(|| Factored::of(&stamp.circuit, omega))
    }

    /// The same with some branches changed, by correction where that will do.
    pub fn with(&self, changes: &[(usize, Branch)]) -> Self {
        Self { factored: OnceLock::from(self.factored().with(changes)), ..self.clone() }
    }

    /// Volts from `b` to `a`.
    pub fn volts(&self, a: Node, b: Node) -> Answer<Phasor> {
        if self.is_rectified(a, b) {
            return Answer::Undetermined(Reason::Rectified);
        }
        self.unless_unrecorded(a.0, self.factored().volts(a.0, b.0))
    }

    /// Volts across a branch, first node against second.
    pub fn volts_across(&self, branch: usize) -> Answer<Phasor> {
        if self.turns_over(|moment| moment.volts_across(branch)) == Some(false) {
            return Answer::Undetermined(Reason::Rectified);
        }
        self.unless_unrecorded(self.first_node(branch), self.factored().volts_across(branch))
    }

    /// Amps through a branch, from its first node to its second.
    pub fn amps(&self, branch: usize) -> Answer<Phasor> {
        if self.turns_over(|moment| moment.amps(branch)) == Some(false) {
            return Answer::Undetermined(Reason::Rectified);
        }
        self.unless_unrecorded(self.first_node(branch), self.factored().amps(branch))
    }

    /// Whether a rectifier has made something else than alternating of the volts between two nodes.
    pub fn is_rectified(&self, a: Node, b: Node) -> bool {
        self.turns_over(|moment| moment.volts(a.0, b.0)) == Some(false)
    }

    /// Whether a value is the opposite half a period later. `None` where there are no moments, or none that tells.
    fn turns_over(&self, value: impl Fn(&Factored) -> Answer<Phasor>) -> Option<bool> {
        let mut known = None;
        for [now, then] in self.moments.iter() {
            if let (Some(now), Some(then)) = (value(now).known(), value(then).known()) {
                let size = now.re.abs().max(then.re.abs());
                if (now.re + then.re).abs() > NOT_TURNED * size + NOTHING {
                    return Some(false);
                }
                known = Some(true);
            }
        }
        known
    }

    /// Whether volts about this node hang on a source whose own are not recorded.
    pub fn is_unrecorded(&self, node: Node) -> bool {
        !self.unrecorded.is_empty()
            && self.factored().island(node.0).is_some_and(|island| self.unrecorded.contains(&island))
    }

    fn first_node(&self, branch: usize) -> u32 {
        self.stamp.circuit.branches.get(branch).map_or(u32::MAX, |entry| entry.0)
    }

    fn unless_unrecorded(&self, node: u32, answer: Answer<Phasor>) -> Answer<Phasor> {
        if self.is_unrecorded(Node(node)) { Answer::Undetermined(Reason::Unrecorded) } else { answer }
    }

    fn mark(&mut self, nodes: &[Node]) {
        let islands: Vec<u32> = nodes.iter().filter_map(|node| self.factored().island(node.0)).collect();
        self.unrecorded.extend(islands);
    }
}

impl State {
    /// Solves a frame with relays standing as given.
    pub fn of(
        frame: &Frame<'_>,
        elements: &Elements,
        worked: &[bool],
        corner: &dyn Fn(What) -> Corner,
        meter: Option<Attached>,
    ) -> Self {
        Self::with_contacts(frame, elements, &|contact| frame.is_closed(contact, worked), corner, meter)
    }

    /// Solves a frame with contacts closed as given.
    pub fn with_contacts(
        frame: &Frame<'_>,
        elements: &Elements,
        closed: &dyn Fn(usize) -> bool,
        corner: &dyn Fn(What) -> Corner,
        meter: Option<Attached>,
    ) -> Self {
        let stamped = |flow| {
            let mut stamp = Stamp::of(frame, elements, closed, flow, corner);
            if let Some(meter) = meter {
                stamp.attach(meter);
            }
            stamp
        };
        let mut alternating = Solved::of(stamped(Flow::Alternating), elements.omega()).keeping(elements);
        let mut silent: Vec<Node> = Vec::new();
        for (source, _) in frame.network.sources().iter().zip(&frame.on).filter(|(_, on)| **on) {
            if source.volts.is_none() {
                silent.extend(source.inside.ends);
            }
        }
        alternating.mark(&silent);
        // What hangs on a transformer or supply of unrecorded volts is not known, unless its input surely gets nothing.
        let is_on = frame.on.contains(&true);
        for (one, conversion) in frame.network.derived().iter().zip(&elements.derived).filter(|_| is_on) {
            let fed = alternating.volts(one.input[0], one.input[1]).known();
            let idle = fed.is_some_and(|volts| volts.norm() < NOTHING);
            if !idle && (matches!(conversion, Conversion::Unrecorded) || alternating.is_unrecorded(one.input[0])) {
                silent.extend(one.inside.ends);
            }
        }
        alternating.mark(&silent);
        let mut direct = stamped(Flow::Direct);
        let mut supplied = vec![false; frame.network.derived().len()];
        for (index, one) in frame.network.derived().iter().enumerate().filter(|_| is_on) {
            let Some(Conversion::Supply { output, volts, input_volts, .. }) = elements.derived.get(index) else {
                continue;
            };
            let fed = alternating.volts(one.input[0], one.input[1]).known().map_or(0.0, Phasor::norm);
            if fed >= SUPPLY_STARTS_AT * input_volts {
                supplied[index] = true;
                // What raises its reading lowers its own ohms and raises its volts.
                let volts = volts
                    * match corner(What::Output(index)) {
                        Corner::Low => 1.0 + SUPPLY_SPREAD,
                        Corner::Nominal => 1.0,
                        Corner::High => 1.0 - SUPPLY_SPREAD,
                    };
                direct.set(
                    direct.outputs[index],
                    Branch::Voltage { volts: Phasor::new(volts, 0.0), ohms: output.at(corner(What::Output(index))) },
                );
            }
        }
        let (direct, diodes_undecided) = conduct(direct, Branch::Open);
        let mut direct = direct.keeping(elements);
        direct.mark(&silent);
        let alternates =
            frame.network.sources().iter().zip(&frame.on).any(|(source, on)| *on && source.current == Current::Ac);
        if alternates && !alternating.stamp.diodes.is_empty() {
            let moments = Arc::new(QUARTERS.map(|angle| moments(&alternating.stamp, angle)).to_vec());
            alternating.moments = Arc::clone(&moments);
            direct.moments = moments;
        }
        let rectifying = alternating.stamp.diodes.iter().any(|&diode| {
            let (a, b, _) = alternating.stamp.circuit.branches[diode]; // diodes are numbers of branches
            alternating.is_rectified(Node(a), Node(b))
        });
        Self { alternating, direct, supplied, diodes_undecided, rectifying }
    }
}

/// Moments that are looked at, in parts of a turn: at the peak and at the zero of the first phase, for the other phases' sake.
const QUARTERS: [f64; 2] = [0.0, 0.25];

/// A diode that blocks, where it must not leave anything without a level.
const LEAKS: Branch = Branch::Resistor { ohms: 1e9 };

/// The circuit at a moment and half a period later, as if both lasted: what is reactive counts as its size.
fn moments(stamp: &Stamp, turn: f64) -> [Factored; 2] {
    [turn, turn + 0.5].map(|turn| {
        let mut now = stamp.clone();
        let phase = Phasor::from_polar(1.0, std::f64::consts::TAU * turn);
        for (_, _, branch) in &mut now.circuit.branches {
            *branch = match *branch {
                Branch::Voltage { volts, ohms } => {
                    Branch::Voltage { volts: Phasor::new((volts * phase).re, 0.0), ohms }
                }
                Branch::Impedance { ohms } => Branch::Resistor { ohms: ohms.norm() },
                other => other,
            };
        }
        // Blocking diodes leak a little, so that what hangs on diodes alone has a level to start from.
        for &diode in &stamp.diodes {
            now.set(diode, LEAKS);
        }
        conduct(now, LEAKS).0.into_factored()
    })
}

/// Solves a circuit of direct current, each diode conducting or blocking such that no current flows backwards and no
/// blocked one is driven forwards. The pattern is sought by turning over, each round, those that are wrong.
fn conduct(mut stamp: Stamp, blocking: Branch) -> (Solved, bool) {
    if stamp.diodes.is_empty() {
        return (Solved::of(stamp, 0.0), false);
    }
    let diodes = stamp.diodes.clone();
    let mut conducting = vec![false; diodes.len()];
    // Twice over every diode and some: patterns of circuits that have one are found in far fewer rounds.
    for _ in 0..=2 * diodes.len() + 4 {
        let solved = Solved::of(stamp.clone(), 0.0);
        let mut wrong = false;
        for (&diode, on) in diodes.iter().zip(&mut conducting) {
            let (anode, cathode, _) = stamp.circuit.branches[diode]; // diodes are numbers of branches
            let turns = if *on {
                solved.factored().amps(diode).known().is_some_and(|amps| amps.re < -1e-12)
            } else {
                solved.factored().volts(anode, cathode).known().is_some_and(|volts| volts.re > DIODE_VOLTS + 1e-9)
            };
            if turns {
                *on = !*on;
                wrong = true;
                let branch = if *on {
                    Branch::Voltage { volts: Phasor::new(DIODE_VOLTS, 0.0), ohms: DIODE_OHMS }
                } else {
                    blocking
                };
                stamp.set(diode, branch);
            }
        }
        if !wrong {
            return (solved, false);
        }
    }
    (Solved::of(stamp, 0.0), true)
}

impl Stamp {
    /// Puts another branch in the place of one.
    pub fn set(&mut self, branch: usize, to: Branch) {
        if let Some(entry) = self.circuit.branches.get_mut(branch) {
            entry.2 = to;
        }
    }

    /// Puts a meter on.
    pub fn attach(&mut self, meter: Attached) {
        let [red, black] = meter.between;
        self.circuit.branches.push((red.0, black.0, Branch::Resistor { ohms: meter.ohms }));
        self.what.push(What::Meter);
    }
}
