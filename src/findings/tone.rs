//! The rule that holds tone readings against the drawn wiring.
//!
//! A tone does not mean a wire: it means that the whole way between the probes is below the meter's threshold. So the
//! resistance between the probes is bounded from both sides. From above by the least sum of known ohms along one way
//! (more ways only lower it). From below by cutting the wiring into layers of equal distance from the red probe: the
//! layers are in series at best, so the sum over layers of 1 / (sum of conductances that cross it) is never more than the
//! true value (Nash-Williams 1959). Items whose ohms are not known count as perfect conductors below and as open above.

use std::collections::{BTreeMap, BTreeSet, HashMap, VecDeque};

use crate::catalogue::Element;
use crate::machine::{Meter, PartId, Reading, ReadingId, Thing};
use crate::quantity::{Band, Rating, Value, format_scaled};

use super::finding::{Finding, Severity};
use super::graph::{Classes, Node, Sort};
use super::labels::listed;
use super::live::voltage_at_probes;
use super::readings::unexpected;
use super::rule::Rule;
use super::state::State;
use super::survey::Survey;

pub(super) const READING_DISPUTES: Rule = Rule {
    name: "reading-disputes-diagram",
    severity: Severity::Fault,
    looks_for: "A tone where the recorded wiring leaves none, no tone where it joins the probes, or a value outside what the record expects.",
    why: "Either a wire is not where the record has it, or a contact, a fuse or a joint is not what it should be.",
    source: "thresholds of 20 to 50 Ω where the meter's own are not recorded: common practice, no source; bound from below: \
             Nash-Williams 1959",
    was_called: &[],
    find: disputes,
};

/// Ohms below which, and above which, a meter of unknown make surely sounds or is silent: common practice, no source.
const THRESHOLD: Band = Band { low: 20.0, high: 50.0 };

/// Share by which a rated resistance may be off, winding temperature included: common practice, no source.
const SPREAD: f64 = 0.2;

/// How much one item resists the meter's test current.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Resists {
    Open,
    Ohms(f64),
    NotKnown,
}

/// What may be expected between two spots, as far as the value read asks for it.
#[derive(Debug, Clone, PartialEq)]
enum Expected {
    /// A tone: joined by conductors, or through these parts at so many ohms.
    Tone(Option<(BTreeSet<PartId>, f64)>),
    /// No tone: no way at all, or none below so many ohms.
    NoTone(Option<f64>),
    Either,
}

fn resists(survey: &Survey, state: &State, item: usize) -> Resists {
    let what = &state.graph.items[item];
    let Some(body) = survey.bodies.get(&what.part) else { return Resists::NotKnown };
    let rated = |rating| body.ratings.get(rating).map_or(Resists::NotKnown, Resists::Ohms);
    match (what.sort, body.elements.get(what.element)) {
        (Sort::Contact | Sort::Fuse, _) => match state.closed[item] {
            Some(true) => Resists::Ohms(0.0),
            Some(false) => Resists::Open,
            None => Resists::NotKnown,
        },
        (_, Some(Element::Source { .. } | Element::Sense { .. } | Element::Arrester { .. })) => Resists::Open,
        (_, Some(Element::Transformer { .. })) if what.sort == Sort::Load => rated(Rating::PrimaryOhms),
        (_, Some(Element::Transformer { .. })) => rated(Rating::SecondaryOhms),
        (_, Some(Element::Coil { .. })) => rated(Rating::CoilOhms),
        (_, Some(Element::Winding { name, .. })) if name == "run" => rated(Rating::RunOhms),
        (_, Some(Element::Winding { name, .. })) if name == "start" => rated(Rating::StartOhms),
        (_, Some(Element::Load { .. } | Element::Winding { .. } | Element::Resistor { .. })) => rated(Rating::Ohms),
        _ => Resists::NotKnown,
    }
}

/// Classes that anything but an open item joins, taken together: beyond them there is no way at all.
struct Islands {
    of_class: Vec<usize>,
    /// Islands with an end that nobody has seen: it may lead anywhere, so nothing can be said there.
    unseen: BTreeSet<usize>,
    /// Parts that are not known, by island, with how many of their terminals are on it.
    doubtful: BTreeMap<usize, BTreeMap<PartId, usize>>,
}

fn islands(survey: &Survey, state: &State) -> Islands {
    let mut joined = Classes::new(state.graph.nets.len());
    for net in 0..state.graph.nets.len() {
        joined.join(net, state.class(net));
    }
    for (item, what) in state.graph.items.iter().enumerate() {
        if resists(survey, state, item) != Resists::Open {
            joined.join(what.nets[0], what.nets[1]);
        }
    }
    let of_class = joined.roots();
    let mut islands = Islands { of_class, unseen: BTreeSet::new(), doubtful: BTreeMap::new() };
    for (net, what) in state.graph.nets.iter().enumerate() {
        let island = islands.of_class[net];
        for doubt in &what.doubts {
            match doubt {
                Node::End(..) => drop(islands.unseen.insert(island)),
                Node::Terminal(terminal) => {
                    *islands.doubtful.entry(island).or_default().entry(terminal.part).or_default() += 1;
                }
            }
        }
    }
    islands
}

impl Islands {
    /// Whether something not known may join two classes in a way the record does not show.
    fn may_join(&self, a: usize, b: usize) -> bool {
        let (a, b) = (self.of_class[a], self.of_class[b]);
        if self.unseen.contains(&a) || self.unseen.contains(&b) {
            return true;
        }
        // The inside of an unknown part may join its terminals.
        let none = BTreeMap::new();
        let (one, other) = (self.doubtful.get(&a).unwrap_or(&none), self.doubtful.get(&b).unwrap_or(&none));
        if a == b { one.values().sum::<usize>() > 1 } else { one.keys().any(|part| other.contains_key(part)) }
    }
}

/// How many items away from one class each other class is, over everything that is not open, as far as another class.
fn layers(survey: &Survey, state: &State, from: usize, to: usize) -> HashMap<usize, usize> {
    let mut layer_of = HashMap::from([(from, 0)]);
    let mut next = VecDeque::from([(from, 0)]);
    while let Some((class, layer)) = next.pop_front() {
        if layer_of.get(&to).is_some_and(|&last| layer >= last) {
            break; // Further out than where it is to lead.
        }
        for &net in state.nets(class) {
            for &item in &state.graph.nets[net].items {
                let across = state.class(state.graph.items[item].across(net));
                if !layer_of.contains_key(&across) && resists(survey, state, item) != Resists::Open {
                    layer_of.insert(across, layer + 1);
                    next.push_back((across, layer + 1));
                }
            }
        }
    }
    layer_of
}

/// Lower bound of the resistance from layer 0 to the layer of `to`, in ohms.
fn at_least_ohms(survey: &Survey, state: &State, layers: &HashMap<usize, usize>, to: usize) -> f64 {
    let Some(&last) = layers.get(&to) else { return f64::INFINITY };
    let mut conductance = vec![0.0_f64; last];
    for (item, what) in state.graph.items.iter().enumerate() {
        let ends = what.nets.map(|net| layers.get(&state.class(net)).copied());
        let [Some(a), Some(b)] = ends else { continue };
        let crossed = a.min(b);
        if a.abs_diff(b) != 1 || crossed >= last {
            continue;
        }
        conductance[crossed] += match resists(survey, state, item) {
            Resists::Open => 0.0,
            Resists::Ohms(ohms) => 1.0 / (ohms * (1.0 - SPREAD)),
            Resists::NotKnown => f64::INFINITY,
        };
    }
    conductance.iter().map(|&g| 1.0 / g).sum()
}

/// The way of least known ohms, with the parts it leads through; none when no way of known ohms is below the limit.
fn at_most_ohms(
    survey: &Survey,
    state: &State,
    (from, to): (usize, usize),
    limit: f64,
) -> Option<(BTreeSet<PartId>, f64)> {
    let mut best: BTreeMap<usize, (f64, BTreeSet<PartId>)> = BTreeMap::from([(from, (0.0, BTreeSet::new()))]);
    let mut done = BTreeSet::new();
    loop {
        let (&class, (ohms, parts)) =
            best.iter().filter(|(class, _)| !done.contains(*class)).min_by(|a, b| a.1.0.total_cmp(&b.1.0))?;
        let (ohms, parts) = (*ohms, parts.clone());
        if ohms >= limit {
            return None;
        }
        if class == to {
            return Some((parts, ohms));
        }
        done.insert(class);
        for &net in state.nets(class) {
            for &item in &state.graph.nets[net].items {
                let Resists::Ohms(more) = resists(survey, state, item) else { continue };
                let what = &state.graph.items[item];
                let across = state.class(what.across(net));
                let sum = ohms + more * (1.0 + SPREAD);
                if !done.contains(&across) && best.get(&across).is_none_or(|(known, _)| sum < *known) {
                    let mut through = parts.clone();
                    through.insert(what.part);
                    best.insert(across, (sum, through));
                }
            }
        }
    }
}

fn expected(
    survey: &Survey,
    state: &State,
    islands: &Islands,
    (red, black): (usize, usize),
    (value, meter): (Value, Option<&Meter>),
) -> Expected {
    let (a, b) = (state.class(red), state.class(black));
    if a == b {
        return Expected::Tone(None);
    }
    let lead = meter.and_then(|meter| meter.lead_ohms).unwrap_or(0.0);
    let sounds = meter.and_then(|meter| meter.tone_below_ohms).unwrap_or(THRESHOLD.low) - lead;
    let silent = meter.and_then(|meter| meter.silent_above_ohms).unwrap_or(THRESHOLD.high);
    if let Some(way) = at_most_ohms(survey, state, (a, b), sounds) {
        return Expected::Tone(Some(way));
    }
    if value == Value::NoTone {
        return Expected::Either; // No tone is expected or may be: either way there is nothing to dispute.
    }
    if islands.may_join(a, b) {
        return Expected::Either;
    }
    if islands.of_class[a] != islands.of_class[b] {
        return Expected::NoTone(None);
    }
    let least = at_least_ohms(survey, state, &layers(survey, state, a, b), b);
    if least > silent { Expected::NoTone(Some(least)) } else { Expected::Either }
}

fn disputes(survey: &Survey, out: &mut Vec<Finding>) {
    unexpected(survey, &READING_DISPUTES, out);
    let mut by_condition: BTreeMap<_, Vec<(ReadingId, &Reading)>> = BTreeMap::new();
    for (id, reading) in survey.machine.readings.iter() {
        if matches!(reading.value, Value::Tone | Value::NoTone) {
            by_condition.entry(reading.condition).or_default().push((id, reading));
        }
    }
    for state in survey.states().iter().filter(|state| state.condition.is_some()) {
        let Some(readings) = by_condition.get(&state.condition) else { continue };
        let islands = islands(survey, state);
        for &(id, reading) in readings {
            let Some(black) = reading.black.as_ref() else { continue };
            if voltage_at_probes(survey, state, [Some(&reading.red), Some(black)]).is_some() {
                continue; // It proves nothing there; another rule says so.
            }
            let (Some(a), Some(b)) = (state.graph.net_of_spot(&reading.red), state.graph.net_of_spot(black)) else {
                continue;
            };
            let meter = reading.meter.and_then(|meter| survey.machine.meters.get(meter));
            let expected = expected(survey, state, &islands, (a, b), (reading.value, meter));
            if let Some(because) = disputed(survey, state, reading, &expected) {
                out.push(dispute(survey, state, (id, reading), because));
            }
        }
    }
}

/// Why the value is not what is expected, and what that points at; none where it is, or may be.
fn disputed(survey: &Survey, state: &State, reading: &Reading, expected: &Expected) -> Option<(String, Vec<Thing>)> {
    let black = reading.black.as_ref()?;
    let spots = || vec![Thing::Spot(reading.red.clone()), Thing::Spot(black.clone())];
    Some(match (reading.value, expected) {
        (Value::NoTone, Expected::Tone(None)) => {
            let way = state.way(&reading.red, black);
            let names = listed(way.iter().map(|thing| survey.machine.thing_name(thing)));
            let through = if names.is_empty() { String::new() } else { format!(" by way of {names}") };
            (format!("but the record has them joined{through}"), way)
        }
        (Value::NoTone, Expected::Tone(Some((parts, ohms)))) => {
            let names = listed(parts.iter().map(|&part| survey.machine.part_name(part).to_owned()));
            let words = format!("but the record has a way of at most {} through {names}", format_scaled(*ohms, "Ω"));
            (words, parts.iter().map(|&part| part.into()).collect())
        }
        (Value::Tone, Expected::NoTone(None)) => ("but nothing in the record joins them".to_owned(), spots()),
        (Value::Tone, Expected::NoTone(Some(ohms))) => {
            (format!("but every way of the record comes to at least {}", format_scaled(*ohms, "Ω")), spots())
        }
        _ => return None,
    })
}

fn dispute(
    survey: &Survey,
    state: &State,
    (id, reading): (ReadingId, &Reading),
    (because, mut about): (String, Vec<Thing>),
) -> Finding {
    let black = reading.black.as_ref().map_or_else(String::new, |spot| survey.machine.spot_name(spot));
    about.push(Thing::Reading(id));
    READING_DISPUTES.finding(
        about,
        format!(
            "Reading {} had {} between {} and {black} {}, {because}.",
            reading.name,
            reading.value,
            survey.machine.spot_name(&reading.red),
            state.words,
        ),
        "Verify absence of voltage, lift one lead so that only one way is left, and read again on clean metal; then correct \
         whichever of record and reading was wrong, or note that the wiring was changed since.",
    )
}
