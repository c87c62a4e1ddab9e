//! Rules on what happens in a condition: live loose ends, shorts, low voltage on line voltage, relays that do not rest,
//! readings against the record.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Difference, Node, Situation, Step, Verdict, route};
use crate::machine::{ConditionId, Reading, Side, Spot, Thing};
use crate::quantity::{Function, Value, format_scaled};

use super::ends::{described, is_capped};
use super::finding::{Finding, Severity};
use super::rule::{COMMON_PRACTICE, Rule};
use super::survey::Survey;

pub(super) const LIVE_LOOSE_END: Rule = Rule {
    name: "live-loose-end",
    severity: Severity::Danger,
    looks_for: "A wire's end that is on nothing, not capped, and live in some condition.",
    why: "A bare live end shocks whoever touches it and shorts to whatever metal it touches.",
    source: "NEC 300.15 asks that dead ends be insulated (from a public reproduction); the rest common practice, no source",
    was_called: &[],
    find: live_loose_ends,
};

pub(super) const SUPPLY_SHORT: Rule = Rule {
    name: "supply-short",
    severity: Severity::Danger,
    looks_for: "The two poles of a source joined with no load between, in some condition.",
    why: "It blows the fuse at best, and burns a contact or a wire at worst.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: supply_shorts,
};

pub(super) const LINE_MEETS_LOW_VOLTAGE: Rule = Rule {
    name: "line-meets-low-voltage",
    severity: Severity::Danger,
    looks_for: "An extra-low-voltage circuit joined by wires or contacts to a circuit of higher voltage.",
    why: "Parts and wires made for a low voltage can then carry line voltage, and so can whatever a person takes for harmless.",
    source: "The separation that IEC 61140 asks of extra-low-voltage circuits (from memory)",
    was_called: &[],
    find: line_meets_low_voltage,
};

pub(super) const RELAY_CHATTERS: Rule = Rule {
    name: "relay-chatters",
    severity: Severity::Fault,
    looks_for: "Relays that do not come to rest in a condition, or come to rest by chance.",
    why: "A chattering contact burns, and what a race decides cannot be relied on.",
    source: "Huffman 1954 and Eichelberger 1965 on races in relay circuits (from memory)",
    was_called: &[],
    find: relays_chatter,
};

pub(super) const READING_DISPUTES: Rule = Rule {
    name: "reading-disputes-diagram",
    severity: Severity::Fault,
    looks_for: "A tone where the record has no way at all, or no tone where it has the two points joined.",
    why: "Either the record or the reading is wrong, and whatever is concluded from the record there cannot be relied on.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: readings_dispute,
};

pub(super) const OHMS_ON_LIVE: Rule = Rule {
    name: "ohms-on-live",
    severity: Severity::Danger,
    looks_for: "A tone or ohms reading in a condition in which the record says voltage can be present there.",
    why: "On a live circuit such a reading means nothing, and it can destroy the meter and hurt whoever holds it.",
    source: "Makers' instructions of meters ask for a dead circuit; common practice, no source",
    was_called: &[],
    find: ohms_on_live,
};

/// `in condition 'live'`, or what was taken where no condition is recorded.
fn in_condition(survey: &Survey, condition: Option<ConditionId>) -> String {
    match condition.and_then(|id| survey.machine.conditions.get(id)) {
        Some(condition) => format!("in condition '{}'", condition.name),
        None => "with every source on and everything at rest".to_owned(),
    }
}

fn thing_of(condition: Option<ConditionId>) -> Option<Thing> {
    condition.map(Thing::Condition)
}

fn volts_words(live: Difference) -> String {
    if live.unrecorded {
        return "the voltage is not recorded".to_owned();
    }
    let volts = live.ac.max(live.dc.abs());
    format!("up to {} by the record", format_scaled(volts, "V"))
}

fn live_loose_ends(survey: &Survey, out: &mut Vec<Finding>) {
    for (at, conductor) in survey.network.wires().iter().enumerate() {
        let Some(wire) = survey.machine.wires.get(conductor.wire) else { continue };
        for (slot, side) in Side::BOTH.into_iter().enumerate() {
            let away = conductor.landed[slot].is_none() && !is_capped(wire, side);
            let unseen = matches!(wire.end(side).at, crate::machine::EndAt::Unknown);
            if !away || unseen {
                continue;
            }
            let live = survey.situations.iter().find_map(|(condition, situation)| {
                let landed = situation.frame.landed.get(at).is_some_and(|landed| landed[slot].is_some());
                situation.live(conductor.ends[slot]).filter(|_| !landed).map(|live| (*condition, live))
            });
            let Some((condition, live)) = live else { continue };
            let what = format!(
                "{} ends on nothing at its '{}' end and is live there {}: {}.",
                described(wire),
                side.word(),
                in_condition(survey, condition),
                volts_words(live)
            );
            out.push(LIVE_LOOSE_END.finding(
                vec![Spot::End(conductor.wire, side).into()],
                what,
                "Do not touch it: isolate, verify absence of voltage with a meter tried on a known live source before and \
                 after, then land the end where it belongs or cap it.",
            ));
        }
    }
}

fn supply_shorts(survey: &Survey, out: &mut Vec<Finding>) {
    let mut said = BTreeSet::new();
    for (condition, situation) in &survey.situations {
        for &source in &situation.supply.shorted {
            let Some(source) = survey.network.sources().get(source) else { continue };
            if !said.insert(source.inside.part) {
                continue;
            }
            let [hot, back] = source.inside.ends;
            let mut about: Vec<Thing> = vec![source.inside.part.into()];
            about.extend(steps_on(situation, hot, back));
            about.extend(thing_of(*condition));
            let part = survey.part_words(source.inside.part);
            out.push(SUPPLY_SHORT.finding(
                about,
                format!("The two poles of {part} are joined with no load between, {}.", in_condition(survey, *condition)),
                "Do not switch it on: isolate, verify absence of voltage, and follow the way from pole to pole that is marked; \
                 lift one lead of it before anything is energised.",
            ));
        }
        if situation.supply.at_odds && situation.supply.shorted.is_empty() && said.is_empty() {
            let parts = survey.network.sources().iter().map(|source| source.inside.part).collect::<BTreeSet<_>>();
            let mut about: Vec<Thing> = parts.iter().map(|&part| part.into()).collect();
            about.extend(thing_of(*condition));
            said.extend(parts);
            out.push(SUPPLY_SHORT.finding(
                about,
                format!("Sources of different voltage are joined to each other {}.", in_condition(survey, *condition)),
                "Do not switch it on: isolate, verify absence of voltage, and find where the two supplies meet.",
            ));
        }
    }
}

/// What lies on the way between two nodes, the first few of it.
fn steps_on(situation: &Situation, a: Node, b: Node) -> Vec<Thing> {
    let steps = route(situation, a, b).unwrap_or_default();
    steps.into_iter().take(8).map(thing_of_step).collect()
}

fn thing_of_step(step: Step) -> Thing {
    match step {
        Step::Wire(wire) => wire.into(),
        Step::Part(part) => part.into(),
    }
}

fn line_meets_low_voltage(survey: &Survey, out: &mut Vec<Finding>) {
    let limits = survey.machine.facts.limits;
    let network = survey.network;
    let sources = network.sources().iter().map(|one| (one.inside, one.current, one.volts));
    let all: Vec<_> = sources.chain(network.derived().iter().map(|one| (one.inside, one.current, one.volts))).collect();
    let mut said = BTreeSet::new();
    for (condition, situation) in &survey.situations {
        // For each class: poles of higher voltage and of extra-low voltage on it.
        let mut on: BTreeMap<u32, [Vec<(Node, crate::machine::PartId)>; 2]> = BTreeMap::new();
        for (inside, current, volts) in &all {
            let Some(volts) = volts else { continue };
            let limit = match current {
                crate::quantity::Current::Ac => limits.extra_low_volts_ac,
                crate::quantity::Current::Dc => limits.extra_low_volts_dc,
            };
            for node in inside.ends {
                let class = on.entry(situation.class(node)).or_default();
                class[usize::from(*volts <= limit)].push((node, inside.part));
            }
        }
        for [high, low] in on.values() {
            for (low_node, low_part) in low {
                let Some((high_node, high_part)) = high.iter().find(|(_, part)| part != low_part) else { continue };
                if !said.insert((*high_part, *low_part)) {
                    continue;
                }
                let mut about: Vec<Thing> = vec![(*high_part).into(), (*low_part).into()];
                about.extend(steps_on(situation, *high_node, *low_node));
                out.push(LINE_MEETS_LOW_VOLTAGE.finding(
                    about,
                    format!(
                        "The extra-low-voltage side of {} is joined to a pole of {}, {}.",
                        survey.part_words(*low_part),
                        survey.part_words(*high_part),
                        in_condition(survey, *condition)
                    ),
                    "Take the low-voltage side for live: isolate, verify absence of voltage, and follow the way that is marked \
                     to where the two circuits meet.",
                ));
            }
        }
    }
}

fn relays_chatter(survey: &Survey, out: &mut Vec<Finding>) {
    for (condition, situation) in &survey.situations {
        let outcome = &situation.outcome;
        let (words, severity) = match outcome.verdict {
            Verdict::Settles => continue,
            Verdict::Chatters => ("never come to rest", Severity::Fault),
            Verdict::Race => ("come to rest one way or another, whichever is faster", Severity::Fault),
            Verdict::RaceOrChatter => ("come to rest in one way, or never, whichever is faster", Severity::Fault),
            Verdict::Undecided => ("move in more orders than could be gone through", Severity::Doubt),
        };
        let undecided = (0..outcome.relays.len()).filter(|&relay| outcome.relays[relay].bit().is_none());
        let relays = survey.network.relays();
        let parts: BTreeSet<_> =
            undecided.filter_map(|relay| relays.get(relay)).map(|relay| relay.inside.part).collect();
        let names: Vec<_> = parts.iter().map(|&part| survey.machine.part_name(part)).collect();
        let mut about: Vec<Thing> = parts.iter().map(|&part| part.into()).collect();
        about.extend(thing_of(*condition));
        let what = format!("Relays {} {words}, {}.", names.join(", "), in_condition(survey, *condition));
        let finding = RELAY_CHATTERS.finding(
            about,
            what,
            "Look for a break contact in the way to its own coil, and for an output or a lead that is on the wrong terminal.",
        );
        out.push(finding.with_severity(severity));
    }
}

/// A reading between two known places in a recorded condition.
struct Taken<'a, 'n> {
    reading: &'a Reading,
    situation: &'a Situation<'n>,
    red: Node,
    black: Node,
    thing: Thing,
}

/// Tone and ohms readings that can be held against the record.
fn dead_readings<'a, 'n>(survey: &'a Survey<'n>) -> impl Iterator<Item = Taken<'a, 'n>> {
    survey.machine.readings.iter().filter_map(|(id, reading)| {
        if !reading.value.function().needs_dead() {
            return None;
        }
        let condition = reading.condition?;
        let (_, situation) = survey.situations.iter().find(|(of, _)| *of == Some(condition))?;
        let red = survey.network.node(&reading.red)?;
        let black = survey.network.node(reading.black.as_ref()?)?;
        Some(Taken { reading, situation, red, black, thing: Thing::Reading(id) })
    })
}

fn places(survey: &Survey, reading: &Reading) -> String {
    let black = reading.black.as_ref().map(|spot| survey.machine.spot_name(spot)).unwrap_or_default();
    format!("{} and {black}", survey.machine.spot_name(&reading.red))
}

fn readings_dispute(survey: &Survey, out: &mut Vec<Finding>) {
    let mut reach: BTreeMap<usize, (crate::circuit::Partition, BTreeSet<u32>)> = BTreeMap::new();
    for taken in dead_readings(survey) {
        let Taken { reading, situation, red, black, thing } = taken;
        if reading.value.function() != Function::Tone || situation.voltage_possible(red, black) {
            continue;
        }
        if situation.outcome.verdict != Verdict::Settles {
            continue; // Which contacts were closed then cannot be said.
        }
        let joined = situation.is_joined(red, black);
        let about = |mut more: Vec<Thing>| {
            more.push(thing.clone());
            more
        };
        match reading.value {
            Value::NoTone if joined => {
                let way = steps_on(situation, red, black);
                let names: Vec<_> = way.iter().map(|thing| survey.machine.thing_name(thing)).collect();
                let through = if names.is_empty() { String::new() } else { format!(" through {}", names.join(", ")) };
                out.push(READING_DISPUTES.finding(
                    about(way),
                    format!(
                        "Reading {} found no tone between {}, which the record has joined{through}.",
                        reading.name,
                        places(survey, reading)
                    ),
                    "Take the reading again on clean metal; if it stays, something on the marked way is open or the record is \
                     wrong there: read it piece by piece.",
                ));
            }
            Value::Tone if !joined => {
                let key = std::ptr::from_ref(situation).addr();
                let (widest, unknown) = reach.entry(key).or_insert_with(|| {
                    let widest = situation.joined_through_loads();
                    let unknown = survey.network.nodes().filter(|(_, info)| info.unknown);
                    let unknown = unknown.map(|(node, _)| widest.root(node.0)).collect();
                    (widest, unknown)
                });
                let (a, b) = (widest.root(red.0), widest.root(black.0));
                if a == b || unknown.contains(&a) || unknown.contains(&b) {
                    continue;
                }
                let spots = [Some(&reading.red), reading.black.as_ref()];
                out.push(READING_DISPUTES.finding(
                    about(spots.into_iter().flatten().map(|spot| spot.clone().into()).collect()),
                    format!(
                        "Reading {} found a tone between {}, between which the record has no way at all.",
                        reading.name,
                        places(survey, reading)
                    ),
                    "Take the reading again; if it stays, a wire or a joint between the two is missing from the record: look \
                     for it before anything is concluded from the record here.",
                ));
            }
            _ => {}
        }
    }
}

fn ohms_on_live(survey: &Survey, out: &mut Vec<Finding>) {
    for Taken { reading, situation, red, black, thing } in dead_readings(survey) {
        if !situation.voltage_possible(red, black) {
            continue;
        }
        out.push(OHMS_ON_LIVE.finding(
            vec![thing],
            format!(
                "Reading {} ({}) between {} was taken {}, where the record says voltage can be present.",
                reading.name,
                reading.value.function().words(),
                places(survey, reading),
                in_condition(survey, reading.condition)
            ),
            "Do not repeat it so: isolate, verify absence of voltage with a meter tried on a known live source before and after, \
             then read again; until then it counts for nothing.",
        ));
    }
}
