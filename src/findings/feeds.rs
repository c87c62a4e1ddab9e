//! Rules on what brings voltage to loads and coils, and whether it is the voltage they are made for.

use crate::machine::{TerminalRef, Thing};
use crate::quantity::{Rated, format_scaled};

use super::consumers::Consumer;
use super::finding::{Finding, Severity};
use super::graph::Node;
use super::reach::Feed;
use super::rule::{COMMON_PRACTICE, Rule};
use super::supply::{is_above, word};
use super::survey::Survey;

pub(super) const LOAD_WITHOUT_FEED: Rule = Rule {
    name: "load-without-feed",
    severity: Severity::Fault,
    looks_for: "A load that no hot pole of a supply can reach, whatever contacts close.",
    why: "It can never run as it is wired.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: |survey, out| unfed_loads(survey, &Feed::Nowhere, out),
};

pub(super) const LOAD_WITHOUT_RETURN: Rule = Rule {
    name: "load-without-return",
    severity: Severity::Fault,
    looks_for: "A load that a hot pole can reach at one end while nothing leads back from the other.",
    why: "It can never run as it is wired, and its open end is live through the load.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: |survey, out| unfed_loads(survey, &Feed::OneWay, out),
};

pub(super) const COIL_NEVER_WORKED: Rule = Rule {
    name: "coil-never-worked",
    severity: Severity::Fault,
    looks_for: "A relay coil whose ends cannot reach both poles of a supply, whatever contacts close.",
    why: "The relay stays at rest for ever, and whatever its contacts are to switch never changes.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: dead_coils,
};

pub(super) const LOAD_VOLTAGE_MISMATCH: Rule = Rule {
    name: "load-voltage-mismatch",
    severity: Severity::Fault,
    looks_for: "A load rated for another voltage than every supply that can reach both its ends.",
    why: "Too much voltage burns it; too little leaves it weak or stalled.",
    source: "band of 15 % either way: common practice, no source",
    was_called: &[],
    find: |survey, out| mismatches(survey, false, out),
};

pub(super) const COIL_VOLTAGE_MISMATCH: Rule = Rule {
    name: "coil-voltage-mismatch",
    severity: Severity::Fault,
    looks_for: "A coil rated for another voltage or kind of current than every supply that can reach both its ends.",
    why: "Too much voltage burns the coil; too little, or the wrong kind of current, and it does not pull in or hums.",
    source: "85 to 110 % of rated volts for contactors after IEC 60947-4-1 (from memory); band of 15 % either way: common \
             practice, no source",
    was_called: &[],
    find: |survey, out| mismatches(survey, true, out),
};

/// How far from its rated volts a load or a coil may be fed: common practice, no source.
const BAND: f64 = 0.15;

/// What the consumer is called: `M1 (evaporator fan)`, `K1's coil`.
fn named(survey: &Survey, consumer: &Consumer) -> String {
    let part = survey.part_words(consumer.part);
    if consumer.is_coil {
        return format!("The coil of {part}");
    }
    let alone = survey.consumers.iter().filter(|other| other.part == consumer.part && !other.is_coil).count() < 2;
    if alone || consumer.name.is_empty() { part } else { format!("{part}, {}", consumer.name) }
}

/// The part; where it has several loads or coils, also the terminals that tell them apart.
fn about(survey: &Survey, consumer: &Consumer) -> Vec<Thing> {
    let alike = |other: &&Consumer| other.part == consumer.part && other.is_coil == consumer.is_coil;
    let mut things = vec![consumer.part.into()];
    if survey.consumers.iter().filter(alike).count() > 1 {
        things.extend(own_terminals(survey, consumer));
    }
    things
}

/// The part's own terminals at the consumer's ends: they tell one load of a part from another.
fn own_terminals(survey: &Survey, consumer: &Consumer) -> Vec<Thing> {
    consumer
        .ends
        .iter()
        .flat_map(|&net| &survey.graph.nets[net].nodes)
        .filter_map(|node| match node {
            Node::Terminal(terminal) if terminal.part == consumer.part && is_terminal(survey, terminal) => {
                Some(Thing::from(terminal.clone()))
            }
            _ => None,
        })
        .collect()
}

/// Whether a probe can reach it, as against a point inside the part.
fn is_terminal(survey: &Survey, terminal: &TerminalRef) -> bool {
    survey.bodies.get(&terminal.part).is_some_and(|body| body.terminal(terminal.marking.as_str()).is_some())
}

/// Whether any end carries a wire.
fn is_wired(survey: &Survey, consumer: &Consumer) -> bool {
    consumer.ends.iter().any(|&net| survey.has_wire(net))
}

/// A record without any supply is half drawn: then nothing can be said about feeds.
fn can_judge(survey: &Survey) -> bool {
    !survey.supply.poles.is_empty()
}

fn unfed_loads(survey: &Survey, wanted: &Feed, out: &mut Vec<Finding>) {
    if !can_judge(survey) {
        return;
    }
    let rule = if *wanted == Feed::Nowhere { LOAD_WITHOUT_FEED } else { LOAD_WITHOUT_RETURN };
    for (consumer, feed) in survey.fed_consumers() {
        // Sources in series feed what no two poles of one source do.
        let in_series = || survey.states().iter().any(|state| state.differs(&consumer.ends));
        if consumer.is_coil || feed != wanted || in_series() {
            continue;
        }
        let name = named(survey, consumer);
        let (what, severity) = match feed {
            Feed::OneWay => (format!("{name} can be fed, but nothing leads back from its other end."), rule.severity),
            _ if consumer.ends.len() < 2 => (format!("Both ends of {name} are on one net."), rule.severity),
            _ if is_wired(survey, consumer) => {
                (format!("No hot pole of a supply can reach {name}, whatever contacts close."), rule.severity)
            }
            _ => (format!("{name} has no wire on it."), Severity::Doubt),
        };
        let do_ = if *feed == Feed::OneWay {
            "Treat the open end as live; isolate, verify absence of voltage with a meter tried on a known live source \
             before and after, then find the lead that is off."
        } else {
            "With the machine isolated, follow its leads back and find the one that is off or not yet drawn."
        };
        out.push(rule.finding(about(survey, consumer), what, do_).with_severity(severity));
    }
}

fn dead_coils(survey: &Survey, out: &mut Vec<Finding>) {
    if !can_judge(survey) {
        return;
    }
    for (consumer, feed) in survey.fed_consumers() {
        if !consumer.is_coil || !matches!(feed, Feed::Nowhere | Feed::OneWay) {
            continue;
        }
        let name = named(survey, consumer);
        let (what, severity) = if consumer.ends.len() < 2 {
            (format!("{name} has both ends on one net."), Severity::Fault)
        } else if !is_wired(survey, consumer) {
            (format!("{name} has no wire on it."), Severity::Doubt)
        } else if *feed == Feed::OneWay {
            (format!("{name} can be fed at one end, but nothing leads back from the other."), Severity::Fault)
        } else {
            (
                format!("No hot pole of a supply can reach {}, whatever contacts close.", lower_first(&name)),
                Severity::Fault,
            )
        };
        out.push(
            COIL_NEVER_WORKED
                .finding(
                    about(survey, consumer),
                    what,
                    "With the machine isolated, follow both coil leads and find the one that is off or not yet drawn.",
                )
                .with_severity(severity),
        );
    }
}

/// `The coil` inside a sentence.
fn lower_first(text: &str) -> String {
    text.strip_prefix("The ").map_or_else(|| text.to_owned(), |rest| format!("the {rest}"))
}

fn mismatches(survey: &Survey, coils: bool, out: &mut Vec<Finding>) {
    let rule = if coils { COIL_VOLTAGE_MISMATCH } else { LOAD_VOLTAGE_MISMATCH };
    for (consumer, feed) in survey.fed_consumers() {
        let (Feed::Fed(pairs), Some(rated)) = (feed, consumer.rated) else { continue };
        if consumer.is_coil != coils {
            continue;
        }
        // The supply nearest to what it is made for; none when some supply's volts are not known.
        let Some(brought) = pairs
            .iter()
            .map(|&(a, b)| {
                let current = survey.supply.poles.get(a)?.current;
                Some(Rated { value: survey.supply.volts_between(a, b)?, current: Some(current) })
            })
            .collect::<Option<Vec<_>>>()
        else {
            continue;
        };
        if brought.iter().any(|&supply| fits(rated, supply)) {
            continue;
        }
        let Some(near) =
            brought.into_iter().min_by(|a, b| (a.value - rated.value).abs().total_cmp(&(b.value - rated.value).abs()))
        else {
            continue;
        };
        let limits = survey.machine.facts.limits;
        let is_line = near.current.is_some_and(|current| is_above(near.value, current, limits));
        let made_low = !rated.current.or(near.current).is_some_and(|current| is_above(rated.value, current, limits));
        let finding = rule.finding(
            about(survey, consumer),
            format!("{} is made for {} but is fed from {}.", named(survey, consumer), volts_words(rated), volts_words(near)),
            "Isolate the machine, read the nameplate again and correct the record; if it stands, fit a part for this supply \
             or feed it from the right one.",
        );
        out.push(if is_line && made_low { finding.with_severity(Severity::Danger) } else { finding });
    }
}

fn fits(rated: Rated, supply: Rated) -> bool {
    let same = rated.current.is_none_or(|current| supply.current == Some(current));
    same && (supply.value - rated.value).abs() <= BAND * rated.value + 1e-9
}

/// `24 V AC`.
pub(super) fn volts_words(rated: Rated) -> String {
    let volts = format_scaled(rated.value, "V");
    rated.current.map_or_else(|| volts.clone(), |current| format!("{volts} {}", word(current)))
}
