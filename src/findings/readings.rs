//! Rules on what was read: volts where none should be, values the record does not expect, readings at odds, readings that
//! prove nothing.

use crate::circuit::electric::{Agreement, Expected, What};
use crate::machine::{Reading, ReadingId, Spot, Thing};
use crate::quantity::{Value, format_scaled};

use super::finding::{Finding, Severity};
use super::labels::listed;
use super::rule::{COMMON_PRACTICE, Rule};
use super::state::State;
use super::survey::Survey;

pub(super) const VOLTS_WHERE_NONE: Rule = Rule {
    name: "volts-where-none-is-on",
    severity: Severity::Danger,
    looks_for: "Volts read in a condition in which the record has no source on.",
    why: "Something feeds the machine that the record does not know, or it was not isolated.",
    source: "29 CFR 1910.333(b)(2): a circuit is live until the absence of voltage is verified (in our words)",
    was_called: &[],
    find: volts_where_none,
};

pub(super) const EACH_OTHER: Rule = Rule {
    name: "readings-dispute-each-other",
    severity: Severity::Doubt,
    looks_for: "Two readings at the same places in the same condition that cannot both be right.",
    why: "One of them was misread, or something was changed or is loose in between.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: each_other,
};

pub(super) const GHOST: Rule = Rule {
    name: "ghost-voltage",
    severity: Severity::Doubt,
    looks_for: "Volts read on a conductor that nothing in the record feeds, low enough to come through the insulation of others.",
    why: "A meter of high resistance shows volts that drive nothing; or the record lacks a way.",
    source: "divider of stray capacitance and meter: worked in manuals of the trade; up to 1 nF of stray",
    was_called: &[],
    find: ghosts,
};

pub(super) const PROVES_NOTHING: Rule = Rule {
    name: "reading-proves-nothing",
    severity: Severity::Note,
    looks_for: "A reading that agrees with the record, and would have been the same with any wire or contact on its way open.",
    why: "Current had another way round, so nothing was shown.",
    source: "sneak paths: a tone says only that the whole way is below the threshold",
    was_called: &[],
    find: proves_nothing,
};

pub(super) const STALE: Rule = Rule {
    name: "stale-reading",
    severity: Severity::Note,
    looks_for: "A reading that the record no longer fits, where a later one at the same places does fit.",
    why: "It was taken before something was changed, and says nothing about the machine as it is.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: stale,
};

/// Volts below this are none to speak of: stray pick-up of an open meter (common practice, no source).
const FEW_VOLTS: f64 = 5.0;

fn volts(value: Value) -> Option<f64> {
    match value {
        Value::VoltsAc(volts) | Value::VoltsDc(volts) => Some(volts.abs()),
        _ => None,
    }
}

fn words(survey: &Survey, reading: &Reading) -> String {
    let black =
        reading.black.as_ref().map_or_else(String::new, |spot| format!(" and {}", survey.machine.spot_name(spot)));
    let between = if reading.black.is_some() { "between" } else { "at" };
    format!(
        "Reading {} had {} {between} {}{black}",
        reading.name,
        reading.value,
        survey.machine.spot_name(&reading.red)
    )
}

fn about(id: ReadingId, reading: &Reading) -> Vec<Thing> {
    let mut about = vec![Thing::Reading(id), Thing::Spot(reading.red.clone())];
    about.extend(reading.black.clone().map(Thing::Spot));
    about.retain(|thing| !matches!(thing, Thing::Spot(Spot::Gone(_))));
    about
}

fn condition_words(survey: &Survey, reading: &Reading) -> String {
    survey.levels.level(reading.condition).map_or_else(String::new, |level| format!(" {}", level.words))
}

fn volts_where_none(survey: &Survey, out: &mut Vec<Finding>) {
    for (id, reading) in survey.machine.readings.iter() {
        let Some(read) = volts(reading.value).filter(|volts| *volts > FEW_VOLTS) else { continue };
        let in_it = |state: &&State| state.condition.is_some() && state.condition == reading.condition;
        let Some(state) = survey.states().iter().find(in_it).filter(|state| state.setting.sources_on.is_empty()) else {
            continue;
        };
        out.push(VOLTS_WHERE_NONE.finding(
            about(id, reading),
            format!(
                "{}, {} where the record has no source on.",
                words(survey, reading) + " " + &state.words,
                format_scaled(read, "V")
            ),
            "Take the machine for live. Find what feeds it before anything is touched: a second plug, a battery, a transformer fed \
             backwards; isolate that too and verify the absence of voltage with a meter tried on a known live source before and after.",
        ));
    }
}

/// For a reading that disputes the record: a later one at the same places in the same condition that agrees with it.
fn superseded(survey: &Survey, id: ReadingId, reading: &Reading) -> Option<ReadingId> {
    if survey.levels.judgement.readings.get(&id)?.agreement != Agreement::Disputes {
        return None;
    }
    survey.machine.readings.iter().find_map(|(other, later)| {
        let same = same_ask(reading, later) && (later.when.as_str(), other) > (reading.when.as_str(), id);
        let agrees = survey.levels.judgement.readings.get(&other)?.agreement == Agreement::Agrees;
        (same && agrees).then_some(other)
    })
}

fn same_ask(a: &Reading, b: &Reading) -> bool {
    let straight = a.red == b.red && a.black == b.black;
    let swapped = a.black.as_ref() == Some(&b.red) && b.black.as_ref() == Some(&a.red);
    let sign = matches!(a.value, Value::VoltsDc(_));
    a.condition == b.condition && a.value.function() == b.value.function() && (straight || (swapped && !sign))
}

/// Whether two values of one function cannot both be right: another word, or more than a tenth and a few digits apart.
fn at_odds(a: Value, b: Value) -> bool {
    let apart = |a: f64, b: f64, least: f64| (a - b).abs() > (0.1 * a.abs().max(b.abs())).max(least);
    match (a, b) {
        (Value::Tone, Value::NoTone)
        | (Value::NoTone, Value::Tone)
        | (Value::OverLimit, Value::Ohms(_))
        | (Value::Ohms(_), Value::OverLimit)
        | (Value::Runs, Value::DoesNotRun)
        | (Value::DoesNotRun, Value::Runs) => true,
        (Value::Ohms(a), Value::Ohms(b))
        | (Value::VoltsAc(a), Value::VoltsAc(b))
        | (Value::VoltsDc(a), Value::VoltsDc(b)) => apart(a, b, 1.0),
        (Value::Amps(a), Value::Amps(b)) => apart(a, b, 0.2),
        _ => false,
    }
}

fn each_other(survey: &Survey, out: &mut Vec<Finding>) {
    let all: Vec<(ReadingId, &Reading)> = survey.machine.readings.iter().collect();
    for (place, &(id, reading)) in all.iter().enumerate() {
        for &(other, later) in all.iter().skip(place + 1) {
            if !same_ask(reading, later) || !at_odds(reading.value, later.value) {
                continue;
            }
            // Where the later one fits the record, the earlier is stale; another rule says so.
            if superseded(survey, id, reading).is_some() || superseded(survey, other, later).is_some() {
                continue;
            }
            out.push(EACH_OTHER.finding(
                vec![Thing::Reading(id), Thing::Reading(other)],
                format!("{}{}, reading {} had {}.", words(survey, reading), condition_words(survey, reading), later.name, later.value),
                "Read once more on clean metal, with the meter tried before and after, and strike out the one that was wrong.",
            ));
        }
    }
}

fn ghosts(survey: &Survey, out: &mut Vec<Finding>) {
    for (&id, judged) in &survey.levels.judgement.readings {
        let (Expected::Ghost { up_to }, Some(reading)) = (judged.expectation.expected, survey.machine.readings.get(id))
        else {
            continue;
        };
        let Some(read) = volts(reading.value).filter(|volts| *volts > 1.0 && *volts <= up_to) else { continue };
        out.push(GHOST.finding(
            about(id, reading),
            format!(
                "{}{}, but nothing in the record joins the two; {} can be a ghost voltage.",
                words(survey, reading),
                condition_words(survey, reading),
                format_scaled(read, "V"),
            ),
            "Read again with a low-impedance meter or a two-pole tester: a ghost falls away, a real voltage stays. Take it for real until then.",
        ));
    }
}

fn proves_nothing(survey: &Survey, out: &mut Vec<Finding>) {
    let network = survey.levels.network;
    for (&id, judged) in &survey.levels.judgement.readings {
        let (Some(proof), Some(reading)) = (&judged.proof, survey.machine.readings.get(id)) else { continue };
        let low = matches!(reading.value, Value::Tone | Value::Ohms(_));
        if !low || !proof.proves.is_empty() || proof.unproven.is_empty() {
            continue;
        }
        let names = proof.unproven.iter().filter(|what| !matches!(what, What::Landing(..)));
        let names = listed(names.take(4).map(|what| what.name(survey.machine, network)));
        let advice = match proof.lift {
            Some((wire, end)) => format!(
                "Verify the absence of voltage, lift {} and read again: then it tells.",
                What::Landing(wire, end).name(survey.machine, network)
            ),
            None => "Verify the absence of voltage, take more than one lead off the other ways round, and read again."
                .to_owned(),
        };
        out.push(PROVES_NOTHING.finding(
            about(id, reading),
            format!(
                "{}{}, and would read the same with any of {names} open.",
                words(survey, reading),
                condition_words(survey, reading)
            ),
            advice,
        ));
    }
}

fn stale(survey: &Survey, out: &mut Vec<Finding>) {
    for (id, reading) in survey.machine.readings.iter() {
        let Some(later) = superseded(survey, id, reading) else { continue };
        let name = survey.machine.readings.get(later).map_or("?", |later| later.name.as_str());
        out.push(STALE.finding(
            vec![Thing::Reading(id), Thing::Reading(later)],
            format!(
                "{}{}, which the record no longer fits; the later reading {name} does.",
                words(survey, reading),
                condition_words(survey, reading)
            ),
            "Leave it in the log as it is; go by the later one.",
        ));
    }
}

/// Values other than tone that the record does not expect. Tone and no tone are held against it by bounds of their own.
pub(super) fn unexpected(survey: &Survey, rule: &Rule, out: &mut Vec<Finding>) {
    let network = survey.levels.network;
    for (&id, judged) in &survey.levels.judgement.readings {
        let Some(reading) = survey.machine.readings.get(id) else { continue };
        let by_tone = matches!(reading.value, Value::Tone | Value::NoTone);
        if by_tone || judged.agreement != Agreement::Disputes || superseded(survey, id, reading).is_some() {
            continue;
        }
        let expected = judged.expectation.expected.words(reading.value.function());
        let mut things = about(id, reading);
        let suspects =
            survey.levels.judgement.standings.iter().filter(|(_, standing)| standing.disputed_by.contains(&id));
        let suspects: Vec<What> =
            suspects.map(|(what, _)| *what).filter(|what| !matches!(what, What::Landing(..))).collect();
        things.extend(suspects.iter().filter_map(|what| what.thing(network)));
        let because = if suspects.is_empty() {
            String::new()
        } else {
            format!(
                "; it would if {} were open",
                listed(suspects.iter().take(4).map(|what| what.name(survey.machine, network))).replace(" and ", " or ")
            )
        };
        out.push(rule.finding(
            things,
            format!("{}{}, but the record expects {expected}{because}.", words(survey, reading), condition_words(survey, reading)),
            "Read again on clean metal with the meter tried before and after; then follow the way the current takes, and correct whichever of \
             record and machine is wrong.",
        ));
    }
}
