//! Rules on voltage where it must not be: at loose ends, under a meter's test current, across supplies.

use std::collections::{BTreeMap, BTreeSet};

use crate::machine::{EndAt, Side, Spot, Thing, WireId, WireState};
use crate::quantity::{Current, Rated, Value};

use super::ends::{described, end_thing, is_capped};
use super::feeds::volts_words;
use super::finding::{Finding, Severity};
use super::labels::listed;
use super::rule::{COMMON_PRACTICE, Rule};
use super::state::{Met, State};
use super::survey::Survey;

pub(super) const LIVE_LOOSE_END: Rule = Rule {
    name: "live-loose-end",
    severity: Severity::Danger,
    looks_for: "A loose or lifted end that a hot pole reaches in some condition.",
    why: "Whoever touches it touches the supply, and it can bite on metal.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: live_loose_ends,
};

pub(super) const SUPPLY_SHORT: Rule = Rule {
    name: "supply-short",
    severity: Severity::Danger,
    looks_for: "Two opposed poles of one supply joined without a load between them in some condition.",
    why: "Nothing limits the current but the fuse: arcs, burns, a dead transformer.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: supply_shorts,
};

pub(super) const LINE_MEETS_LOW: Rule = Rule {
    name: "line-meets-low-voltage",
    severity: Severity::Danger,
    looks_for: "A pole of a supply above the extra-low limit joined to a pole of an extra-low supply in some condition.",
    why: "Parts and people on the extra-low side then meet line voltage.",
    source: "IEC 60204-1 6.4: an extra-low voltage circuit is kept apart from every other circuit (in our words)",
    was_called: &[],
    find: line_meets_low,
};

pub(super) const OHMS_ON_LIVE: Rule = Rule {
    name: "ohms-on-live",
    severity: Severity::Danger,
    looks_for: "A tone or ohms reading in a condition in which voltage can be present at a probe.",
    why: "The value proves nothing, and voltage on the ohms input can destroy the meter in the hand.",
    source: "meters' manuals: resistance and continuity on de-energised circuits only (in our words)",
    was_called: &[],
    find: ohms_on_live,
};

/// The volts a pole stands for, in words: `230 V AC`, or `a voltage that is not recorded`.
fn pole_volts(survey: &Survey, pole: usize) -> String {
    let current = survey.supply.poles.get(pole).map(|pole| pole.current);
    survey
        .supply
        .system_volts(pole)
        .map_or_else(|| "a voltage that is not recorded".to_owned(), |value| volts_words(Rated { value, current }))
}

fn pole_name(survey: &Survey, pole: usize) -> String {
    survey.supply.poles.get(pole).map_or_else(String::new, |pole| survey.machine.terminal_name(&pole.terminal))
}

/// Whether a pole is, or may be, above the extra-low limit.
fn may_hurt(survey: &Survey, pole: usize) -> bool {
    survey.supply.is_line(pole, survey.machine.facts.limits) != Some(false)
}

/// The worst of what is met: above the limit first, joined before through a load.
fn worst<'m>(survey: &Survey, met: &'m [Met]) -> Option<&'m Met> {
    met.iter()
        .filter(|met| survey.supply.poles[met.pole].hot)
        .min_by_key(|met| (!may_hurt(survey, met.pole), met.through.len(), met.pole))
}

/// `, through M1 and M2`, or nothing.
fn through_words(survey: &Survey, state: &State, met: &Met) -> String {
    let parts: BTreeSet<_> = met.through.iter().map(|&item| state.graph.items[item].part).collect();
    if parts.is_empty() {
        return String::new();
    }
    format!(" through {}", listed(parts.into_iter().map(|part| survey.machine.part_name(part).to_owned())))
}

/// Every end the record itself has off.
fn ends_off(machine: &crate::machine::Machine) -> BTreeSet<(WireId, Side)> {
    let mut ends = BTreeSet::new();
    for (id, wire) in machine.wires.iter().filter(|(_, wire)| wire.state != WireState::Removed) {
        for side in Side::BOTH {
            let end = wire.end(side);
            if end.at == EndAt::Loose || (end.lifted && matches!(end.at, EndAt::Terminal(_))) {
                ends.insert((id, side));
            }
        }
    }
    ends
}

fn live_loose_ends(survey: &Survey, out: &mut Vec<Finding>) {
    let mut found: BTreeMap<(WireId, Side), (Severity, Finding)> = BTreeMap::new();
    let off = ends_off(survey.machine);
    for state in survey.states() {
        let present = |wire: WireId| survey.machine.wires.get(wire).is_some_and(crate::machine::Wire::is_present);
        let lifted = state.lifted.iter().filter(|(wire, _)| present(*wire));
        for &(id, side) in off.iter().chain(lifted) {
            let Some(wire) = survey.machine.wires.get(id) else { continue };
            let Some(net) = state.graph.net_of_end(id, side) else { continue };
            let Some(meets) = meets_at(survey, state, &Spot::End(id, side), net) else { continue };
            let capped = is_capped(wire, side);
            let severity = match (capped, meets.hurts) {
                (true, _) => Severity::Note,
                (false, true) => Severity::Danger,
                (false, false) => Severity::Fault,
            };
            if found.get(&(id, side)).is_some_and(|(known, _)| known.is_at_least(severity)) {
                continue;
            }
            let end = match &wire.end(side).at {
                EndAt::Terminal(terminal) => format!("its end lifted off {}", survey.machine.terminal_name(terminal)),
                _ if capped => "its capped end".to_owned(),
                _ => "its loose end".to_owned(),
            };
            let what = format!("{}: {end} meets {} {}.", described(wire), meets.words, state.words);
            let do_ = if capped {
                "Leave the cap on and tag it as live; before any work on it, isolate and verify absence of voltage with a meter \
                 tried on a known live source before and after."
            } else {
                "Keep off; isolate, verify absence of voltage with a meter tried on a known live source before and after, then \
                 land it where it belongs, or take it off at its source end, or cap and tag it."
            };
            let finding = LIVE_LOOSE_END.finding(vec![end_thing(id, side)], what, do_).with_severity(severity);
            found.insert((id, side), (severity, finding));
        }
    }
    out.extend(found.into_values().map(|(_, finding)| finding));
}

/// Pairs of poles that meet on one class, each with the first state in which they do.
fn meetings<'s>(
    survey: &'s Survey,
    wanted: impl Fn(usize, usize) -> bool,
) -> BTreeMap<(usize, usize), (&'s State<'s>, bool)> {
    let mut met: BTreeMap<(usize, usize), (&State, bool)> = BTreeMap::new();
    for state in survey.states() {
        for poles in state.poles_that_meet(survey.supply) {
            for (at, &a) in poles.iter().enumerate() {
                for &b in &poles[at + 1..] {
                    if wanted(a, b) {
                        let by_wire = net_of(survey, a).is_some() && net_of(survey, a) == net_of(survey, b);
                        met.entry((a, b)).or_insert((state, by_wire));
                    }
                }
            }
        }
    }
    met
}

fn net_of(survey: &Survey, pole: usize) -> Option<usize> {
    survey.graph.net_of_terminal(&survey.supply.poles.get(pole)?.terminal)
}

/// The parts the poles are on, the way between them, and the condition where it takes one.
fn about(survey: &Survey, (a, b): (usize, usize), state: &State, by_wire: bool) -> Vec<Thing> {
    let [one, other] = [a, b].map(|pole| survey.supply.poles[pole].terminal.clone());
    let mut about: Vec<Thing> = vec![one.part.into(), other.part.into()];
    about.extend(state.way(&Spot::Terminal(one), &Spot::Terminal(other)));
    if !by_wire {
        about.extend(state.condition.map(Thing::Condition));
    }
    about
}

fn when(state: &State, by_wire: bool) -> String {
    if by_wire { "by wire alone".to_owned() } else { state.words.clone() }
}

fn supply_shorts(survey: &Survey, out: &mut Vec<Finding>) {
    let mut told = BTreeSet::new();
    for (pair, (state, by_wire)) in meetings(survey, |a, b| survey.supply.are_opposed(a, b)) {
        if !told.insert(survey.supply.poles[pair.0].system) {
            continue;
        }
        out.push(SUPPLY_SHORT.finding(
            about(survey, pair, state, by_wire),
            format!(
                "{} and {} ({}) are joined with no load between them {}.",
                pole_name(survey, pair.0),
                pole_name(survey, pair.1),
                pole_volts(survey, pair.0),
                when(state, by_wire),
            ),
            "Do not switch on; isolate, verify absence of voltage, and follow the marked way from pole to pole, lifting one \
             lead at a time, to find what joins them.",
        ));
    }
    let Some(state) = survey.states().iter().find(|state| state.is_at_odds()) else {
        return;
    };
    let sources = survey.supply.poles.iter().filter(|pole| survey.supply.fed_by[pole.system].is_none());
    let mut about: Vec<Thing> = sources.map(|pole| pole.terminal.part.into()).collect();
    about.extend(state.condition.map(Thing::Condition));
    out.push(SUPPLY_SHORT.finding(
        about,
        format!("Sources of different voltage are joined to each other {}.", state.words),
        "Do not switch on; isolate, verify absence of voltage, and find where the supplies meet.",
    ));
}

fn line_meets_low(survey: &Survey, out: &mut Vec<Finding>) {
    let limits = survey.machine.facts.limits;
    let wanted = |a: usize, b: usize| {
        let (one, other) = (survey.supply.is_line(a, limits), survey.supply.is_line(b, limits));
        matches!((one, other), (Some(true), Some(false) | None) | (Some(false) | None, Some(true)))
    };
    let mut told = BTreeSet::new();
    for (pair, (state, by_wire)) in meetings(survey, wanted) {
        let systems = (survey.supply.poles[pair.0].system, survey.supply.poles[pair.1].system);
        if !told.insert(systems) {
            continue;
        }
        let silent = [pair.0, pair.1].into_iter().find(|&pole| survey.supply.is_line(pole, limits).is_none());
        let same_system = survey.supply.poles[pair.0].system == survey.supply.poles[pair.1].system;
        if silent.is_some() && same_system {
            continue;
        }
        let mut what = format!(
            "{} ({}) and {} ({}) are joined {}.",
            pole_name(survey, pair.0),
            pole_volts(survey, pair.0),
            pole_name(survey, pair.1),
            pole_volts(survey, pair.1),
            when(state, by_wire),
        );
        if let Some(pole) = silent {
            let part = survey.part_words(survey.supply.poles[pole].terminal.part);
            what += &[" Whether ", &part, " is extra-low cannot be told: its volts are not recorded."].concat();
        }
        let finding = LINE_MEETS_LOW.finding(
            about(survey, pair, state, by_wire),
            what,
            "Do not switch on and take every extra-low part for live at line voltage; isolate, verify absence of voltage, \
             follow the marked way to where the two circuits meet, and part them.",
        );
        out.push(if silent.is_some() { finding.with_severity(Severity::Doubt) } else { finding });
    }
}

fn ohms_on_live(survey: &Survey, out: &mut Vec<Finding>) {
    let mut by_condition: BTreeMap<_, Vec<_>> = BTreeMap::new();
    for (id, reading) in survey.machine.readings.iter().filter(|(_, reading)| reading.value.function().needs_dead()) {
        by_condition.entry(reading.condition).or_default().push((id, reading));
    }
    for state in survey.states().iter().filter(|state| state.condition.is_some()) {
        let Some(readings) = by_condition.get(&state.condition) else { continue };
        for &(id, reading) in readings {
            let Some((spot, meets)) = voltage_at_probes(survey, state, [Some(&reading.red), reading.black.as_ref()])
            else {
                continue;
            };
            let kind = if matches!(reading.value, Value::Tone | Value::NoTone) { "tone" } else { "ohms" };
            let finding = OHMS_ON_LIVE.finding(
                vec![Thing::Reading(id)],
                format!(
                    "Reading {} took {kind} at {}, where {} can be present {}.",
                    reading.name,
                    survey.machine.spot_name(spot),
                    meets.words,
                    state.words,
                ),
                "Take no conclusion from it; isolate, verify absence of voltage with a meter tried on a known live source before \
                 and after, and read again.",
            );
            out.push(if meets.hurts { finding } else { finding.with_severity(Severity::Fault) });
        }
    }
}

/// What a spot meets, ready to be told.
pub(super) struct Meets {
    /// Above the extra-low limits, or not recorded.
    hurts: bool,
    /// `230 V AC from X1.L through M1`.
    words: String,
}

/// What a spot meets where a hot pole reaches it; also what the circuit knows beyond that (capacitors, transformers fed
/// backwards), where it is above the extra-low limits.
fn meets_at(survey: &Survey, state: &State, spot: &Spot, net: usize) -> Option<Meets> {
    let met = state.met_at(net);
    let by_pole = worst(survey, &met).map(|worst| told(survey, state, worst));
    if by_pole.as_ref().is_some_and(|meets| meets.hurts) {
        return by_pole;
    }
    let Some(live) = state.live(spot) else { return by_pole };
    let limits = survey.machine.facts.limits;
    let hurts = live.unrecorded || live.ac > limits.extra_low_volts_ac || live.dc.abs() > limits.extra_low_volts_dc;
    if !hurts {
        return by_pole;
    }
    let words = match (live.unrecorded, live.ac > live.dc.abs()) {
        (true, _) => "a voltage that is not recorded".to_owned(),
        (false, true) => volts_words(Rated { value: live.ac, current: Some(Current::Ac) }),
        (false, false) => volts_words(Rated { value: live.dc.abs(), current: Some(Current::Dc) }),
    };
    Some(Meets { hurts, words })
}

fn told(survey: &Survey, state: &State, met: &Met) -> Meets {
    let (volts, from) = (pole_volts(survey, met.pole), pole_name(survey, met.pole));
    let words = format!("{volts} from {from}{}", through_words(survey, state, met));
    Meets { hurts: may_hurt(survey, met.pole), words }
}

/// The first probe at which voltage can be met, with what is met there: any pole that is on, the neutral too.
pub(super) fn voltage_at_probes<'r>(
    survey: &Survey,
    state: &State,
    probes: [Option<&'r Spot>; 2],
) -> Option<(&'r Spot, Meets)> {
    probes.into_iter().flatten().find_map(|spot| {
        let net = state.graph.net_of_spot(spot)?;
        let any = || state.met_at(net).first().map(|met| told(survey, state, met));
        Some((spot, meets_at(survey, state, spot, net).or_else(any)?))
    })
}
