//! Rules on volts and amps: loads and coils that get too little, contacts, fuses, transformers and wires that carry too much.
//!
//! A figure that rests on typical values is at most a doubt; one that rests on nothing is not given.

use std::collections::BTreeSet;

use crate::catalogue::LoadKind;
use crate::circuit::Verdict;
use crate::circuit::electric::{Basis, Corner, Elements, Gets, Live, Runs, Solved, State, What, Worth};
use crate::circuit::linear::Branch;
use crate::machine::{PartId, Thing};
use crate::quantity::{Rating, WireSize, format_scaled};

use super::finding::{Finding, Severity};
use super::levels::Level;
use super::rule::{COMMON_PRACTICE, Rule};
use super::survey::Survey;

pub(super) const PARTIAL_VOLTAGE: Rule = Rule {
    name: "partial-voltage",
    severity: Severity::Fault,
    looks_for: "A load that gets part of its volts because it is fed through another load.",
    why: "It half works, hums or gets hot, and a meter shows volts where none should be.",
    source: "sneak circuit analysis: unintended ways through intact parts (in our words)",
    was_called: &[],
    find: partial_voltage,
};

pub(super) const COIL_UNDERVOLTED: Rule = Rule {
    name: "coil-undervolted",
    severity: Severity::Fault,
    looks_for: "A coil that gets volts, but less than 85 % of what it is made for.",
    why: "It may not pull in, or hum, chatter and burn its contacts.",
    source: "contactors are to work from 85 to 110 % of their coil volts: IEC 60947-4-1, from memory",
    was_called: &[],
    find: coil_undervolted,
};

pub(super) const CONTACT_OVERLOADED: Rule = Rule {
    name: "contact-overloaded",
    severity: Severity::Fault,
    looks_for: "A closed contact that carries more than it is rated for: resistive, motor running, motor locked or pilot duty, each by itself.",
    why: "It wears, welds or burns; a welded contact no longer switches off.",
    source: "ratings kept apart by kind of load as in UL 508 and IEC 60947 (in our words)",
    was_called: &[],
    find: contact_overloaded,
};

pub(super) const FUSE_WOULD_BLOW: Rule = Rule {
    name: "fuse-would-blow",
    severity: Severity::Fault,
    looks_for: "A fuse or protector that carries more than its rated current.",
    why: "It opens sooner or later; a larger one would no longer protect the wire.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: fuse_would_blow,
};

pub(super) const TRANSFORMER_OVERLOADED: Rule = Rule {
    name: "transformer-overloaded",
    severity: Severity::Fault,
    looks_for: "A transformer whose loads in one condition take more than its rated volt-amperes.",
    why: "Its voltage sags, coils drop out, and it overheats.",
    source: "sum of sealed volt-amperes against the plate: common practice, no source",
    was_called: &[],
    find: transformer_overloaded,
};

pub(super) const WIRE_TOO_SMALL: Rule = Rule {
    name: "wire-too-small",
    severity: Severity::Fault,
    looks_for: "A wire of recorded size that carries more than tables allow for such a size.",
    why: "It gets hot inside its loom, and its fuse need not open.",
    source: "AWG: control wiring of NFPA 79 table 12.5.1 and UL 508A table 38.1, from memory; mm²: cord sizes of IEC 60335-1 (a public reproduction)",
    was_called: &[],
    find: wire_too_small,
};

/// Share of its rated volts below which a coil or load gets nothing to speak of.
const NOTHING: f64 = 0.05;
/// Share of its rated volts a coil is made to work from.
const COIL_WORKS_FROM: f64 = 0.85;
/// Amps below which nothing is overloaded.
const FEW_AMPS: f64 = 0.05;

/// The worst of something over all conditions: how bad, where, and what was found there.
struct Worst<T> {
    by: f64,
    level: usize,
    found: T,
}

fn take_worst<T>(worst: &mut Option<Worst<T>>, by: f64, level: usize, found: T) {
    if by.is_finite() && worst.as_ref().is_none_or(|so_far| by > so_far.by + 1e-9) {
        *worst = Some(Worst { by, level, found });
    }
}

/// Severity by how the figure is known.
fn severity(rule: &Rule, basis: Basis) -> Severity {
    if basis == Basis::Recorded { rule.severity } else { Severity::Doubt }
}

fn with_condition(level: &Level<'_>, mut about: Vec<Thing>) -> Vec<Thing> {
    about.extend(level.condition.map(Thing::Condition));
    about
}

/// Conditions whose relays come to rest, with their places.
fn settled<'s, 'a>(survey: &'s Survey<'a>) -> impl Iterator<Item = (usize, &'s Level<'a>)> {
    survey.levels.all.iter().enumerate().filter(|(_, level)| level.live.verdict() == Verdict::Settles)
}

fn rated(survey: &Survey, part: PartId, element: usize, rating: Rating) -> Option<f64> {
    survey.bodies.get(&part)?.ratings_of(element).get(rating).filter(|value| *value > 0.0)
}

fn partial_voltage(survey: &Survey, out: &mut Vec<Finding>) {
    for (index, load) in survey.levels.network.loads().iter().enumerate() {
        if load.what.is_none() {
            continue; // Windings get what their start device leaves them.
        }
        let Some(volts) = rated(survey, load.inside.part, load.inside.element, Rating::Volts) else { continue };
        let mut worst = None;
        for (at, level) in settled(survey) {
            let Some(Gets { volts: Some(gets), runs: Runs::Partly, .. }) = level.live.load(index) else { continue };
            let direct = survey.states().get(at).is_some_and(|state| state.situation().across(&load.inside).is_some());
            if !direct && gets.low >= NOTHING * volts {
                take_worst(&mut worst, gets.low / volts, at, gets.low);
            }
        }
        let Some(Worst { level, found, .. }) = worst else { continue };
        let level = &survey.levels.all[level]; // an index of that list
        out.push(PARTIAL_VOLTAGE.finding(
            with_condition(level, vec![load.inside.part.into()]),
            format!(
                "{} gets {} of its {} {}, through another load.",
                survey.part_words(load.inside.part),
                format_scaled(found, "V"),
                format_scaled(volts, "V"),
                level.words
            ),
            "Isolate, verify the absence of voltage, and find where its feed or its return is open; the current finds its way through something else.",
        ));
    }
}

fn coil_undervolted(survey: &Survey, out: &mut Vec<Finding>) {
    for (index, relay) in survey.levels.network.relays().iter().enumerate() {
        let Some(volts) = rated(survey, relay.inside.part, relay.inside.element, Rating::CoilVolts) else { continue };
        let mut worst = None;
        for (at, level) in settled(survey) {
            let Some(Gets { volts: Some(gets), basis, .. }) = level.live.coil(index) else { continue };
            // On a supply of the wrong volts another rule speaks.
            let wrong =
                survey.states().get(at).and_then(|state| state.situation().across(&relay.inside)).is_some_and(
                    |across| !across.unrecorded && across.ac.max(across.dc.abs()) < COIL_WORKS_FROM * volts,
                );
            if !wrong && gets.high > NOTHING * volts && gets.high < COIL_WORKS_FROM * volts {
                take_worst(&mut worst, gets.high / volts, at, (gets.high, basis));
            }
        }
        let Some(Worst { level, found: (gets, basis), .. }) = worst else { continue };
        let level = &survey.levels.all[level]; // an index of that list
        out.push(
            COIL_UNDERVOLTED
                .finding(
                    with_condition(level, vec![relay.inside.part.into()]),
                    format!(
                        "The coil of {} gets {} of its {} {}.",
                        survey.part_words(relay.inside.part),
                        format_scaled(gets, "V"),
                        format_scaled(volts, "V"),
                        level.words
                    ),
                    "Measure at the coil while it is commanded; look for a load in series, a transformer that sags, or a poor joint.",
                )
                .with_severity(severity(&COIL_UNDERVOLTED, basis)),
        );
    }
}

/// Amps through an element in a state, alternating and direct together.
fn amps(state: &State, branch: impl Fn(&Solved) -> Option<usize>) -> Option<f64> {
    let of = |solved: &Solved| Some(solved.amps(branch(solved)?).known()?.norm());
    Some(of(&state.alternating)?.hypot(of(&state.direct)?))
}

fn fuse_would_blow(survey: &Survey, out: &mut Vec<Finding>) {
    for (index, fuse) in survey.levels.network.fuses().iter().enumerate() {
        let Some(limit) = rated(survey, fuse.part, fuse.element, Rating::Amps) else { continue };
        let mut worst = None;
        for (at, level) in settled(survey) {
            let Some((_, state)) = level.live.ends.first() else { continue };
            if let Some(amps) = amps(state, |solved| solved.stamp.fuses.get(index).copied())
                && amps > limit
            {
                take_worst(&mut worst, amps, at, weakest(&level.live));
            }
        }
        let Some(Worst { by, level, found: basis }) = worst else { continue };
        let level = &survey.levels.all[level]; // an index of that list
        if basis == Basis::Assumed {
            continue;
        }
        out.push(
            FUSE_WOULD_BLOW
                .finding(
                    with_condition(level, vec![fuse.part.into()]),
                    format!(
                        "{} is rated {} and carries {} {}.",
                        survey.part_words(fuse.part),
                        format_scaled(limit, "A"),
                        format_scaled(by, "A"),
                        level.words
                    ),
                    "Measure the current; find the load that takes too much. Never fit a larger fuse than the wire behind it allows.",
                )
                .with_severity(severity(&FUSE_WOULD_BLOW, basis)),
        );
    }
}

/// The weakest basis among the loads and coils that take current.
fn weakest(live: &Live<'_>) -> Basis {
    let network = live.network();
    let loads = (0..network.loads().len()).filter_map(|index| live.load(index));
    let coils = (0..network.relays().len()).filter_map(|index| live.coil(index));
    let takes = |gets: &Gets| gets.volts.is_some_and(|volts| volts.high > 0.1);
    loads.chain(coils).filter(takes).map(|gets| gets.basis).max().unwrap_or(Basis::Recorded)
}

fn transformer_overloaded(survey: &Survey, out: &mut Vec<Finding>) {
    for (index, one) in survey.levels.network.derived().iter().enumerate() {
        let (Some(limit), Some(volts)) =
            (rated(survey, one.inside.part, one.inside.element, Rating::VoltAmps), one.volts)
        else {
            continue;
        };
        let mut worst = None;
        for (at, level) in settled(survey) {
            let Some((_, state)) = level.live.ends.first() else { continue };
            let branch = |solved: &Solved| solved.stamp.outputs.get(index).copied();
            if let Some(amps) = amps(state, branch)
                && amps * volts > limit
            {
                take_worst(&mut worst, amps * volts, at, weakest(&level.live));
            }
        }
        let Some(Worst { by, level, found: basis }) = worst else { continue };
        let level = &survey.levels.all[level]; // an index of that list
        if basis == Basis::Assumed {
            continue;
        }
        out.push(
            TRANSFORMER_OVERLOADED
                .finding(
                    with_condition(level, vec![one.inside.part.into()]),
                    format!(
                        "{} is rated {} and gives {} {}.",
                        survey.part_words(one.inside.part),
                        format_scaled(limit, "VA"),
                        format_scaled(by, "VA"),
                        level.words
                    ),
                    "Add up what hangs on it, measure its secondary voltage under load, and take loads off or fit one of the right size.",
                )
                .with_severity(severity(&TRANSFORMER_OVERLOADED, basis)),
        );
    }
}

/// Coils are made for no more than this; a contact below its pilot rating over this many volts cannot pass it.
const MOST_COIL_VOLTS: f64 = 600.0;

/// When it is worth while to find out what hangs on a contact.
struct ByKind {
    /// Amps from which its motor rating can be passed.
    motor_from: f64,
    /// Whether the motors of the machine could pass its locked rating.
    locked: bool,
    /// Amps from which its pilot rating can be passed.
    pilot_from: f64,
}

/// What one contact carries in one condition, by kind of load.
#[derive(Default)]
struct Carries {
    amps: f64,
    motors: f64,
    locked: f64,
    pilot_va: f64,
    basis: Option<Basis>,
}

/// What a contact carries: in all, and, where one of its other ratings could be passed, what stops when it opens.
fn carries(survey: &Survey, level: &Level<'_>, contact: usize, by_kind: &ByKind) -> Option<Carries> {
    let network = survey.levels.network;
    let (_, state) = level.live.ends.first()?;
    let amps_now = amps(state, |solved| solved.stamp.contacts.get(contact).copied())?;
    if amps_now < FEW_AMPS.min(by_kind.pilot_from) {
        return None;
    }
    if amps_now <= by_kind.motor_from && !by_kind.locked && amps_now <= by_kind.pilot_from {
        return Some(Carries { amps: amps_now, ..Carries::default() });
    }
    // The same state with this contact open, by correction.
    let open = |solved: &Solved| {
        let branch = solved.stamp.contacts.get(contact).copied();
        branch.map_or_else(|| solved.clone(), |branch| solved.with(&[(branch, Branch::Open)]))
    };
    let opened = State { alternating: open(&state.alternating), direct: open(&state.direct), ..state.clone() };
    let mut carries = Carries { amps: amps_now, ..Carries::default() };
    let mut note = |basis: Basis| carries.basis = Some(carries.basis.map_or(basis, |so_far| so_far.max(basis)));
    for (index, load) in network.loads().iter().enumerate() {
        let branch = |solved: &Solved| solved.stamp.loads.get(index).copied();
        let (Some(now), Some(then)) = (amps(state, branch), amps(&opened, branch)) else { continue };
        if now < FEW_AMPS || then > 0.5 * now {
            continue;
        }
        note(level.live.load(index)?.basis);
        let motor = matches!(load.what, None | Some(LoadKind::Motor | LoadKind::Fan | LoadKind::TimerMotor));
        if motor {
            carries.motors += now;
            let locked = rated(survey, load.inside.part, load.inside.element, Rating::LockedAmps);
            // A part with several windings is locked once.
            let first = network.loads().iter().position(|other| other.inside.part == load.inside.part) == Some(index);
            carries.locked += locked.filter(|_| first).unwrap_or(0.0);
        }
    }
    for (index, _) in network.relays().iter().enumerate() {
        let branch = |solved: &Solved| solved.stamp.coils.get(index).copied();
        let (Some(now), Some(then)) = (amps(state, branch), amps(&opened, branch)) else { continue };
        if now > 1e-4 && then < 0.5 * now {
            let volts = level.live.coil(index).and_then(|gets| gets.volts).map_or(0.0, |volts| volts.high);
            carries.pilot_va += now * volts;
        }
    }
    Some(carries)
}

/// A rating of contacts: what it is for in words, what of the contact it limits, its unit.
type Kind = (Rating, &'static str, fn(&Carries) -> f64, &'static str);

fn contact_overloaded(survey: &Survey, out: &mut Vec<Finding>) {
    let kinds: [Kind; 4] = [
        (Rating::ContactAmps, "in all", |carries| carries.amps, "A"),
        (Rating::ContactMotorAmps, "for motors that run", |carries| carries.motors, "A"),
        (Rating::ContactLockedAmps, "for motors that start", |carries| carries.locked, "A"),
        (Rating::ContactPilotVoltAmps, "for coils", |carries| carries.pilot_va, "VA"),
    ];
    let loads = survey.levels.network.loads().iter();
    let locked_in_all: f64 =
        loads.filter_map(|load| rated(survey, load.inside.part, load.inside.element, Rating::LockedAmps)).sum();
    for (index, contact) in survey.levels.network.contacts().iter().enumerate() {
        let part = contact.inside.part;
        let limit = |rating| rated(survey, part, contact.inside.element, rating);
        if kinds.iter().all(|(rating, ..)| limit(*rating).is_none()) {
            continue;
        }
        let by_kind = ByKind {
            motor_from: limit(Rating::ContactMotorAmps).unwrap_or(f64::INFINITY),
            locked: limit(Rating::ContactLockedAmps).is_some_and(|limit| locked_in_all > limit),
            pilot_from: limit(Rating::ContactPilotVoltAmps).map_or(f64::INFINITY, |va| va / MOST_COIL_VOLTS),
        };
        let mut worst: Option<Worst<(usize, Basis)>> = None;
        for (at, level) in settled(survey) {
            let Some(carries) = carries(survey, level, index, &by_kind) else { continue };
            for (kind, (rating, _, of, _)) in kinds.iter().enumerate() {
                if let Some(limit) = limit(*rating)
                    && of(&carries) > limit
                {
                    take_worst(&mut worst, of(&carries) / limit, at, (kind, carries.basis.unwrap_or(Basis::Recorded)));
                }
            }
        }
        let Some(Worst { by, level, found: (kind, basis) }) = worst else { continue };
        if basis == Basis::Assumed {
            continue;
        }
        let (rating, words, _, unit) = kinds[kind];
        let level = &survey.levels.all[level]; // an index of that list
        let limit = limit(rating).unwrap_or(0.0);
        out.push(
            CONTACT_OVERLOADED
                .finding(
                    with_condition(level, vec![part.into()]),
                    format!(
                        "Contact {} is rated {} {words} and carries {} {}.",
                        What::Contact(index).name(survey.machine, survey.levels.network),
                        format_scaled(limit, unit),
                        format_scaled(by * limit, unit),
                        level.words
                    ),
                    "Share the loads out, or fit a contactor rated for them; look at the contact for burns before it is trusted again.",
                )
                .with_severity(severity(&CONTACT_OVERLOADED, basis)),
        );
    }
}

/// Amps a wire of this size may carry inside a machine. `None`: smaller or larger than the tables go.
fn most_amps(size: WireSize) -> Option<f64> {
    match size {
        WireSize::Awg(number) => {
            let table = [
                (10u8, 40.0),
                (12, 25.0),
                (14, 20.0),
                (16, 10.0),
                (18, 7.0),
                (20, 5.0),
                (22, 3.0),
                (24, 2.0),
                (26, 1.0),
            ];
            table.iter().find(|(awg, _)| *awg == number).map(|(_, amps)| *amps)
        }
        WireSize::SquareMillimetres(area) => {
            let table = [(0.5, 3.0), (0.75, 6.0), (1.0, 10.0), (1.5, 16.0), (2.5, 25.0), (4.0, 32.0), (6.0, 40.0)];
            table.iter().rev().find(|(least, _)| area >= *least - 1e-9).map(|(_, amps)| *amps)
        }
    }
}

fn wire_too_small(survey: &Survey, out: &mut Vec<Finding>) {
    let network = survey.levels.network;
    let sized: BTreeSet<usize> =
        (0..network.wires().len()).filter(|&at| network.wires()[at].size.and_then(most_amps).is_some()).collect();
    if sized.is_empty() {
        return;
    }
    let mut worst: Vec<Option<Worst<Basis>>> = network.wires().iter().map(|_| None).collect();
    for (at, level) in settled(survey) {
        let Some((worked, _)) = level.live.ends.first() else { continue };
        if !level.live.frame.on.iter().any(|on| *on) {
            continue;
        }
        // A milliohm stands for each wire of unknown length, so that its current can be told from that of its neighbours.
        let mut elements: Elements = level.live.elements.clone();
        for &wire in &sized {
            if let Some(slot) = elements.wires.get_mut(wire)
                && slot.is_none()
            {
                *slot = Some(Worth::within(1e-3, 0.0, Basis::Recorded));
            }
        }
        let state = State::of(&level.live.frame, &elements, worked, &|_| Corner::Nominal, None);
        let basis = weakest(&level.live);
        for &wire in &sized {
            let branch = |solved: &Solved| solved.stamp.wires.get(wire).copied();
            let limit = network.wires()[wire].size.and_then(most_amps);
            if let (Some(amps), Some(limit)) = (amps(&state, branch), limit)
                && amps > limit
            {
                take_worst(&mut worst[wire], amps, at, basis);
            }
        }
    }
    for (wire, worst) in worst.into_iter().enumerate() {
        let Some(Worst { by, level, found: basis }) = worst else { continue };
        let conductor = &network.wires()[wire];
        let (Some(size), level) = (conductor.size, &survey.levels.all[level]) else { continue };
        if basis == Basis::Assumed {
            continue;
        }
        out.push(
            WIRE_TOO_SMALL
                .finding(
                    with_condition(level, vec![conductor.wire.into()]),
                    format!(
                        "Wire {} of {size} carries {} {}; tables allow {}.",
                        survey.machine.wire_name(conductor.wire),
                        format_scaled(by, "A"),
                        level.words,
                        format_scaled(most_amps(size).unwrap_or(0.0), "A")
                    ),
                    "Check the size on the wire itself, then fit one that local codes and the maker's instructions allow for this current and its fuse.",
                )
                .with_severity(severity(&WIRE_TOO_SMALL, basis)),
        );
    }
}
