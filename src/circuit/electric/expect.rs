//! What a meter between two points would show, as an interval with its reason.
//!
//! Ohms and tone are taken with every supply off: the meter's own current looks for a way. In a passive network the ohms between
//! two points can only grow when any one element's ohms grow (Rayleigh's law), so solving with all elements low and all high
//! gives the exact ends of the interval. Volts are not so simple: the sign of each element's effect is taken from the
//! adjoint network, then the network is solved with every element at the end that lowers and at the end that raises the reading.

use std::collections::BTreeSet;

use crate::machine::{PartId, Spot};
use crate::quantity::{Band, Current, Function};

use super::super::frame::Frame;
use super::super::linear::{Answer, Branch, Factored, Phasor, Reason};
use super::super::network::Node;
use super::expectation::{Doubt, Expectation, Expected, Why};
use super::live::{Live, Runs};
use super::profile::Profile;
use super::stamp::{Elements, Flow, Stamp, What};
use super::state::{Attached, State};
use super::worth::{Basis, Corner, Worth};

/// Below this resistance a meter may work what it measures, and relays are settled anew with it on.
const METER_WORKS_BELOW: f64 = 1e6;
/// The most stray capacitance between conductors of one loom that is reckoned with, in farads (reference table of ghost voltages
/// goes up to 1 nF).
const MOST_STRAY_FARADS: f64 = 1e-9;
/// Largest change of volts at an unknown point that is still none, as a share.
const NO_EFFECT: f64 = 1e-6;

/// What the meter is put on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Points {
    /// Red and black probe.
    Probes(Node, Node),
    /// A clamp round a wire, as an index in the network's wires.
    Clamp(usize),
    /// A load, as an index in the network's loads: looked at, not measured.
    Look(usize),
    /// What works a contact, as an index in the network's contacts: a switch or an output, operated to see what happens.
    Operate(usize),
}

/// What is asked.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Ask {
    /// Where.
    pub points: Points,
    /// What the meter is set to.
    pub function: Function,
    /// Volts with the meter in its low-impedance mode.
    pub low_impedance: bool,
}

/// What a meter would show.
pub fn expected(live: &Live<'_>, meter: &Profile, ask: Ask) -> Expectation {
    match (ask.points, ask.function) {
        (Points::Probes(red, black), Function::Tone | Function::Ohms) => {
            if live.frame.on.iter().any(|on| *on) {
                return Expectation::plain(Expected::Danger { volts: highest(live) });
            }
            dead_reading(live, meter, [red, black], ask.function)
        }
        (Points::Probes(red, black), Function::VoltsAc | Function::VoltsDc) => {
            volts_reading(live, meter, [red, black], ask.function == Function::VoltsAc, ask.low_impedance)
        }
        (Points::Clamp(wire), Function::Amps) => amps_reading(live, wire),
        (Points::Look(load), Function::Runs) => match live.load(load) {
            Some(gets) => Expectation::plain(Expected::Load(gets.runs)),
            None => Expectation::plain(Expected::Unknown(Why::Senseless)),
        },
        (Points::Operate(contact), Function::Runs) => Expectation::plain(Expected::Acts(acts(live, contact))),
        _ => Expectation::plain(Expected::Unknown(Why::Senseless)),
    }
}

/// Whether a relay moves, or a load starts or stops, when what works a contact is operated.
fn acts(live: &Live<'_>, contact: usize) -> Runs {
    let loads = |live: &Live<'_>| -> Vec<Runs> {
        let own = 0..live.network().loads().len();
        own.map(|load| live.load(load).map_or(Runs::Unknown, |gets| gets.runs)).collect()
    };
    let before = loads(live);
    let mut open = false;
    for frame in live.frame.operated(contact) {
        let other = live.operated(frame);
        let relays = live.relays.iter().zip(&other.relays).map(|(a, b)| match (a.bit(), b.bit()) {
            (Some(a), Some(b)) => Some(a != b),
            _ => None,
        });
        let after = loads(&other);
        let loads = before.iter().zip(&after).map(|(a, b)| match (a, b) {
            (Runs::Unknown, _) | (_, Runs::Unknown) => None,
            (a, b) => Some(a != b),
        });
        let moves: Vec<Option<bool>> = relays.chain(loads).collect();
        if moves.contains(&Some(true)) {
            return Runs::Yes;
        }
        open |= moves.contains(&None);
    }
    if open { Runs::Unknown } else { Runs::No }
}

/// The highest rated volts of the sources that are on; `None` when one is not recorded.
fn highest(live: &Live<'_>) -> Option<f64> {
    let on = live.network().sources().iter().zip(&live.frame.on).filter(|(_, on)| **on);
    on.map(|(source, _)| source.volts).try_fold(0.0, |so_far: f64, volts| Some(so_far.max(volts?)))
}

/// What stands for a wire of unknown length in the circuit of a meter's test current, in ohms: next to nothing, and yet each
/// wire can be opened there by itself without solving everything anew.
const NEXT_TO_NOTHING: f64 = 1e-4;

/// The circuit that a meter's test current meets: supplies off, relays at rest.
pub fn dead_circuit(frame: &Frame<'_>, elements: &Elements, corner: Corner) -> (Stamp, Factored) {
    let closed = |contact| frame.is_closed(contact, &[]);
    let mut stamp = Stamp::of(frame, elements, &closed, Flow::Test, &|_| corner);
    for wire in stamp.wires.clone() {
        if stamp.circuit.branches.get(wire).is_some_and(|entry| entry.2 == Branch::Wire) {
            stamp.set(wire, Branch::Resistor { ohms: NEXT_TO_NOTHING });
        }
    }
    let factored = elements.solved(&stamp.circuit, 0.0);
    (stamp, factored)
}

/// What is shown on tone or ohms, from the ohms with everything low, as recorded and high. `None`: no way at all.
pub fn dead_shown(ohms: [Option<f64>; 3], meter: &Profile, function: Function) -> Expected {
    let [low, nominal, high] = ohms;
    let Some(low) = low else {
        return if function == Function::Tone { Expected::NoTone } else { Expected::OverLimit };
    };
    let band = Band::new(low.max(0.0) + meter.leads.low, high.unwrap_or(f64::INFINITY) + meter.leads.high);
    if function == Function::Tone {
        return if band.high < meter.tone.low {
            Expected::Tone
        } else if band.low > meter.tone.high {
            Expected::NoTone
        } else {
            Expected::EitherTone
        };
    }
    if band.low > meter.most_ohms() {
        return Expected::OverLimit;
    }
    // Leads may have been taken off the reading: the lower end goes without them.
    let mut shown = meter.shown(Band::new(low.max(0.0), band.high.min(meter.most_ohms())), function);
    shown.low = shown.low.max(0.0);
    if band.high > meter.most_ohms() {
        shown.high = f64::INFINITY;
    }
    Expected::Value { nominal: nominal.unwrap_or(f64::INFINITY).min(meter.most_ohms()), shown }
}

fn dead_reading(live: &Live<'_>, meter: &Profile, [red, black]: [Node; 2], function: Function) -> Expectation {
    let (frame, elements) = (&live.frame, live.elements);
    let circuits = [Corner::Low, Corner::Nominal, Corner::High].map(|corner| live.dead(corner));
    let mut ohms = [None; 3];
    for (ohms, (_, factored)) in ohms.iter_mut().zip(circuits) {
        *ohms = match factored.impedance(red.0, black.0) {
            Answer::Known(z) => Some(z.re),
            Answer::Undetermined(Reason::SeparateIslands) => None,
            Answer::Undetermined(_) => return Expectation::plain(Expected::Unknown(Why::Unsolved)),
        };
    }
    let [_, (stamp, factored), _] = circuits;
    let (mut doubts, not_known) = element_doubts(stamp, factored, elements, [red, black]);
    if hangs_on_unknown(frame, factored, [red, black]) {
        doubts.push(Doubt::UnknownPart);
    }
    doubts.sort_unstable();
    doubts.dedup();
    let expected = match dead_shown(ohms, meter, function) {
        Expected::Value { .. } if not_known => Expected::Unknown(Why::OhmsNotKnown),
        expected => expected,
    };
    Expectation { expected, doubts }
}

/// Whether something unknown could change a reading: current through it would move the volts between the probes.
fn hangs_on_unknown(frame: &Frame<'_>, factored: &Factored, [red, black]: [Node; 2]) -> bool {
    let island = |node: Node| factored.island(node.0);
    let unknown = || frame.network.nodes().filter(|(_, info)| info.unknown).map(|(node, _)| node);
    let Ok(field) = factored.field(red.0, black.0) else {
        // Apart: pins of unknown parts, one on either side, may be joined inside; a wire whose end was not seen may end on the
        // other side by itself.
        let wire_end = |node: &Node| matches!(frame.network.info(*node).map(|info| &info.spot), Some(Spot::End(..)));
        let on = |side: Node| unknown().any(|node| island(node) == island(side));
        let leads = |side: Node| unknown().filter(wire_end).any(|node| island(node) == island(side));
        return on(red) && on(black) || leads(red) || leads(black);
    };
    let own = field.volts(red.0, black.0).norm();
    let mut first: Option<Phasor> = None;
    for node in unknown().filter(|&node| island(node) == island(red)) {
        let level = field.volts(node.0, black.0);
        match first {
            None => first = Some(level),
            Some(first) if (level - first).norm() > NO_EFFECT * own.max(1e-9) => return true,
            Some(_) => {}
        }
    }
    false
}

/// Doubts from the values of elements that have a part in the reading, and from capacitors that charge; and whether most of the
/// reading is the ohms of elements of which nothing is known: then there is no number to give.
fn element_doubts(
    stamp: &Stamp,
    factored: &Factored,
    elements: &Elements,
    [red, black]: [Node; 2],
) -> (Vec<Doubt>, bool) {
    let mut doubts = Vec::new();
    let mut share_not_known = 0.0;
    let field = factored.field(red.0, black.0).ok();
    let islands = [factored.island(red.0), factored.island(black.0)];
    let own = field.as_ref().map_or(0.0, |field| field.volts(red.0, black.0).norm());
    for (branch, what) in stamp.what.iter().enumerate() {
        let Some(&(a, b, value)) = stamp.circuit.branches.get(branch) else { continue };
        if matches!(value, Branch::Capacitor { .. }) {
            let ends = [factored.island(a), factored.island(b)];
            let between = ends == islands || ends == [islands[1], islands[0]];
            let moved = field.as_ref().is_none_or(|field| field.volts(a, b).norm() > NO_EFFECT * own);
            if between && moved && a != b {
                doubts.push(Doubt::Charges);
            }
            continue;
        }
        let (Some(field), Some(worth)) = (&field, elements.worth(*what)) else { continue };
        // Its share of the whole: g·V² over one ampere squared times the whole.
        let Branch::Resistor { ohms } = value else { continue };
        let share = if own > 0.0 && ohms > 0.0 { field.volts(a, b).norm_sqr() / ohms / own } else { 0.0 };
        if worth.basis == Basis::Assumed {
            share_not_known += share;
        }
        if share > 0.02 {
            match worth.basis {
                Basis::Recorded => {}
                Basis::Typical => doubts.push(Doubt::Typical),
                Basis::Assumed => doubts.push(Doubt::Assumed),
            }
        }
    }
    (doubts, share_not_known > 0.5)
}

impl Elements {
    /// What an element is worth to direct current, where it has a resistance of its own.
    pub fn worth(&self, what: What) -> Option<Worth> {
        use super::stamp::Conversion;
        use super::worth::Dipole;
        match what {
            What::Wire(index) => self.wires.get(index).copied().flatten(),
            What::Coil(index) => self.coils.get(index).map(|coil| coil.dc),
            What::Load(index) => self.loads.get(index).map(|load| load.dc),
            What::Input(index) => match self.derived.get(index)? {
                Conversion::Transformer { primary, .. } => Some(*primary),
                Conversion::Supply { input, .. } => Some(*input),
                Conversion::Unrecorded => None,
            },
            What::Output(index) => match self.derived.get(index)? {
                Conversion::Transformer { secondary, .. } => Some(*secondary),
                _ => None,
            },
            What::Passive(index) => match self.passives.get(index)? {
                Dipole::Resistor(ohms) | Dipole::Thermistor { cold: ohms, .. } | Dipole::Choke(_, ohms) => Some(*ohms),
                _ => None,
            },
            _ => None,
        }
    }

    /// How far an element's ohms lie apart over their band, as the logarithm of the upper over the lower end.
    pub fn spread(&self, what: What) -> Option<f64> {
        let worth = match what {
            What::Coil(index) => Some(self.coils.get(index)?.ac),
            What::Load(index) => Some(self.loads.get(index)?.ac),
            _ => self.worth(what),
        }?;
        (worth.band.low > 0.0 && worth.band.high.is_finite()).then(|| (worth.band.high / worth.band.low).ln())
    }
}

fn volts_reading(
    live: &Live<'_>,
    meter: &Profile,
    [red, black]: [Node; 2],
    ac: bool,
    low_impedance: bool,
) -> Expectation {
    let ohms = if low_impedance { meter.low_impedance_ohms } else { meter.input_ohms };
    let attached = Attached { between: [red, black], ohms };
    let settled;
    let with_meter = if ohms < METER_WORKS_BELOW {
        settled = Live::settled(live, attached);
        &settled
    } else {
        live
    };
    if with_meter.ends.is_empty() {
        return Expectation::plain(Expected::Unknown(Why::Unsettled));
    }
    let mut doubts = Vec::new();
    if with_meter.ends.len() > 1 || with_meter.more {
        doubts.push(Doubt::Relays);
    }
    let mut whole: Option<(f64, Band)> = None;
    for (worked, state) in &with_meter.ends {
        // Solved already where the meter was not on while relays settled.
        let alone = (ohms >= METER_WORKS_BELOW).then_some(state);
        let values = match volts_in(live, (worked, alone), attached, ac, &mut doubts) {
            Ok(values) => values,
            Err(Reason::SeparateIslands) => return apart(live, meter, attached, ac),
            Err(reason) => return Expectation::plain(Expected::Unknown(why(reason))),
        };
        let band = values
            .iter()
            .skip(1)
            .fold(Band::new(values[0], values[0]), |band, &value| Band::new(band.low.min(value), band.high.max(value)));
        whole = Some(match whole {
            None => (values[0], band),
            Some((nominal, so_far)) => (nominal, Band::new(so_far.low.min(band.low), so_far.high.max(band.high))),
        });
    }
    doubts.sort_unstable();
    doubts.dedup();
    let Some((nominal, band)) = whole else { return Expectation::plain(Expected::Unknown(Why::Unsettled)) };
    let function = if ac { Function::VoltsAc } else { Function::VoltsDc };
    let mut shown = meter.shown(band, function);
    if ac {
        shown.low = shown.low.max(0.0);
    }
    Expectation { expected: Expected::Value { nominal, shown }, doubts }
}

/// The reading in one state of the relays: as recorded, then with elements at the ends that lower and raise it.
fn volts_in(
    live: &Live<'_>,
    (worked, alone): (&[bool], Option<&State>),
    attached: Attached,
    ac: bool,
    doubts: &mut Vec<Doubt>,
) -> Result<[f64; 3], Reason> {
    let [red, black] = attached.between;
    let solve = |corner: &dyn Fn(What) -> Corner| State::of(&live.frame, live.elements, worked, corner, Some(attached));
    let value = |state: &State| -> Result<f64, Reason> {
        let volts = if ac { state.alternating.volts(red, black) } else { state.direct.volts(red, black) };
        match volts {
            Answer::Known(volts) if ac => Ok(volts.norm()),
            Answer::Known(volts) => Ok(volts.re),
            Answer::Undetermined(reason) => Err(reason),
        }
    };
    // Without the meter the two may be apart; then its own resistance would make a definite nothing of them.
    let solved;
    let alone = if let Some(alone) = alone {
        alone
    } else {
        solved = State::of(&live.frame, live.elements, worked, &|_| Corner::Nominal, None);
        &solved
    };
    let side = if ac { &alone.alternating } else { &alone.direct };
    if side.is_unrecorded(red) || side.is_unrecorded(black) {
        return Err(Reason::Unrecorded);
    }
    if side.is_rectified(red, black) {
        return Err(Reason::Rectified);
    }
    if side.factored().island(red.0) != side.factored().island(black.0) {
        return Err(Reason::SeparateIslands);
    }
    let by_earth = earthings(live, side, [red, black]);
    if by_earth.len() > 1 {
        return Err(Reason::Phases);
    }
    let nominal = solve(&|_| Corner::Nominal);
    if nominal.rectifying || nominal.diodes_undecided {
        doubts.push(Doubt::Rectified);
    }
    if hangs_on_unknown(&live.frame, side.factored(), [red, black]) {
        doubts.push(Doubt::UnknownPart);
    }
    let middle = value(&nominal)?;
    let solved = if ac { &nominal.alternating } else { &nominal.direct };
    // What the load on a neutral drops up to where it is earthed shows between it and earth.
    let (less, more) = if by_earth.is_empty() { (0.0, 0.0) } else { (NEUTRAL_VOLTS, NEUTRAL_VOLTS) };
    let less = if ac { less.min(middle) } else { less };
    let Answer::Known(volts) = solved.volts(red, black) else { return Ok([middle; 3]) };
    if volts.norm() < 1e-9 {
        return Ok([middle, middle - less, middle + more]);
    }
    let effects = solved.factored().sensitivities(red.0, black.0)?;
    // Towards higher volts: more siemens where the effect is positive.
    let mut raises = std::collections::BTreeMap::new();
    for (what, effect) in solved.stamp.what.iter().zip(&effects) {
        let towards = if ac { (volts.conj() * effect).re } else { effect.re };
        // A transformer's input is two branches, its winding first: the winding decides.
        raises.entry(*what).or_insert(towards > 0.0);
    }
    let corner = |up: bool| {
        let raises = &raises;
        move |what: What| match what {
            // Sources scale; a capacitor's siemens grow with its farads, an element's shrink with its ohms.
            What::Source(_) => {
                if up {
                    Corner::High
                } else {
                    Corner::Low
                }
            }
            _ => match raises.get(&what) {
                Some(more_siemens) if *more_siemens == up => Corner::Low,
                _ => Corner::High,
            },
        }
    };
    let high = value(&solve(&corner(true)))?;
    let low = value(&solve(&corner(false)))?;
    Ok([middle, low - less, high + more])
}

/// Volts that a loaded neutral may have against earth (common practice, no source: a few volts, 3 % of the line).
const NEUTRAL_VOLTS: f64 = 7.0;

/// The sources through whose earthed poles a current between two places goes, outside the machine.
fn earthings(live: &Live<'_>, side: &super::state::Solved, [red, black]: [Node; 2]) -> BTreeSet<PartId> {
    let mut parts = BTreeSet::new();
    let Ok(field) = side.factored().field(red.0, black.0) else { return parts };
    let whole = field.volts(red.0, black.0).norm();
    for (what, &(end, ground, branch)) in side.stamp.what.iter().zip(&side.stamp.circuit.branches) {
        let (What::Earthing, Branch::Resistor { ohms }) = (what, branch) else { continue };
        let carries = field.volts(end, ground).norm() / ohms > 1e-6 && whole > 0.0;
        let pole = |source: &&super::super::network::Source| source.earthed && source.inside.ends[1].0 == end;
        if let Some(source) = live.network().sources().iter().find(pole).filter(|_| carries) {
            parts.insert(source.inside.part);
        }
    }
    parts
}

/// Volts between points that nothing joins: a ghost at most, where one of the two sides has no source.
fn apart(live: &Live<'_>, meter: &Profile, Attached { between, ohms }: Attached, ac: bool) -> Expectation {
    let highest = highest_ac(live);
    let driven = |node: Node| {
        live.ends.iter().any(|(_, state)| {
            let solved = &state.alternating;
            let own = solved.factored().island(node.0);
            own.is_some() && driving(live, solved).any(|source| solved.factored().island(source.0) == own)
        })
    };
    if !ac || highest <= 0.0 || between.into_iter().all(driven) {
        return Expectation::plain(Expected::Unknown(Why::Apart));
    }
    let omega = live.elements.omega();
    let meter_siemens = Phasor::new(1.0 / ohms, omega * meter.input_farads);
    let stray = Phasor::new(0.0, omega * MOST_STRAY_FARADS);
    let share = (stray / (stray + meter_siemens)).norm();
    Expectation::plain(Expected::Ghost { up_to: highest * share })
}

/// Nodes that a source holds, or a transformer that is fed.
fn driving<'a>(live: &'a Live<'_>, solved: &'a super::state::Solved) -> impl Iterator<Item = Node> + 'a {
    let network = live.network();
    let on =
        network.sources().iter().zip(&live.frame.on).filter(|(_, on)| **on).map(|(source, _)| source.inside.ends[0]);
    let volts = |ends: [Node; 2]| solved.volts(ends[0], ends[1]).known().is_none_or(|volts| volts.norm() > 0.1);
    let made = network.derived().iter().filter(move |one| one.current == Current::Ac && volts(one.inside.ends));
    on.chain(made.map(|one| one.inside.ends[0]))
}

/// The highest alternating volts of any source on, a tenth added for the supply's tolerance.
fn highest_ac(live: &Live<'_>) -> f64 {
    let network = live.network();
    let on = network.sources().iter().zip(&live.frame.on).filter(|(_, on)| **on).map(|(source, _)| source);
    let alternating = || on.clone().filter(|source| source.current == Current::Ac);
    let made = network.derived().iter().filter(|one| one.current == Current::Ac && alternating().next().is_some());
    let volts = alternating().filter_map(|source| source.volts);
    let made = made.flat_map(|one| [one.volts, one.input_volts]).flatten();
    volts.chain(made).fold(0.0, f64::max) * 1.1
}

fn why(reason: Reason) -> Why {
    match reason {
        Reason::SeparateIslands => Why::Apart,
        Reason::Shorted | Reason::Conflict => Why::Short,
        Reason::Shared => Why::Shared,
        Reason::Unrecorded => Why::Unrecorded,
        Reason::Rectified => Why::Rectified,
        Reason::Phases => Why::Phases,
        Reason::NoWayBack | Reason::Resonance | Reason::Unsolved | Reason::NotANumber => Why::Unsolved,
    }
}

/// The current a clamp round a wire shows.
fn amps_reading(live: &Live<'_>, wire: usize) -> Expectation {
    let network = live.network();
    let Some(conductor) = network.wires().get(wire) else {
        return Expectation::plain(Expected::Unknown(Why::Senseless));
    };
    if live.ends.is_empty() {
        return Expectation::plain(Expected::Unknown(Why::Unsettled));
    }
    // A clamp needs no break, the sum does: a milliohm stands for the wire, and shows whether another runs beside it.
    let mut elements = live.elements.clone();
    if let Some(slot) = elements.wires.get_mut(wire)
        && slot.is_none()
    {
        *slot = Some(Worth::within(1e-3, 0.0, Basis::Recorded));
    }
    let mut doubts = Vec::new();
    if live.ends.len() > 1 || live.more {
        doubts.push(Doubt::Relays);
    }
    // A lead that was not followed to its end, on either side of the wire or behind the loads there, may carry current too.
    let unseen = |node: Node| live.frame.network.info(node).is_some_and(|info| info.unknown);
    if let Some((_, state)) = live.ends.first() {
        let own = conductor.ends.map(|node| state.alternating.factored().island(node.0));
        let mut on_it = network.nodes().map(|(node, _)| node).filter(|node| unseen(*node));
        if on_it.any(|node| own.contains(&state.alternating.factored().island(node.0))) {
            doubts.push(Doubt::UnknownPart);
        }
    }
    let mut band: Option<(f64, Band)> = None;
    for (worked, _) in &live.ends {
        let amps = |source: Corner, rest: Corner| -> Result<f64, Reason> {
            let corner = |what: What| if matches!(what, What::Source(_)) { source } else { rest };
            let state = State::of(&live.frame, &elements, worked, &corner, None);
            if state.alternating.factored().is_one_net(conductor.ends[0].0, conductor.ends[1].0) {
                return Err(Reason::Shared);
            }
            let of = |solved: &super::state::Solved| match solved.stamp.wires.get(wire) {
                Some(&branch) => solved.amps(branch),
                None => Answer::Undetermined(Reason::NotANumber),
            };
            match (of(&state.alternating), of(&state.direct)) {
                (Answer::Known(ac), Answer::Known(dc)) => Ok(ac.norm().hypot(dc.norm())),
                (Answer::Undetermined(reason), _) | (_, Answer::Undetermined(reason)) => Err(reason),
            }
        };
        let corners = [(Corner::Nominal, Corner::Nominal), (Corner::Low, Corner::High), (Corner::High, Corner::Low)];
        let mut values = [0.0; 3];
        for (value, (source, rest)) in values.iter_mut().zip(corners) {
            *value = match amps(source, rest) {
                Ok(amps) => amps,
                Err(reason) => return Expectation::plain(Expected::Unknown(why(reason))),
            };
        }
        let own = values
            .iter()
            .skip(1)
            .fold(Band::new(values[0], values[0]), |band, &value| Band::new(band.low.min(value), band.high.max(value)));
        band = Some(band.map_or((values[0], own), |(nominal, so_far)| {
            (nominal, Band::new(so_far.low.min(own.low), so_far.high.max(own.high)))
        }));
    }
    let Some((nominal, band)) = band else { return Expectation::plain(Expected::Unknown(Why::Unsettled)) };
    // A clamp: 2 % and 0.05 A (common practice, no source).
    let shown = Band::new((band.low * 0.98 - 0.05).max(0.0), band.high * 1.02 + 0.05);
    Expectation { expected: Expected::Value { nominal, shown }, doubts }
}
