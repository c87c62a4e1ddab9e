//! Rules on wire numbers and wire colours against the nets they are on.

use std::collections::{BTreeMap, BTreeSet};

use crate::machine::{Thing, WireId};
use crate::quantity::Colour;

use super::finding::{Finding, Severity};
use super::graph::{NetId, Node, Sort};
use super::labels::listed;
use super::rule::{COMMON_PRACTICE, Rule};
use super::survey::Survey;

pub(super) const TWO_NUMBERS: Rule = Rule {
    name: "one-net-two-numbers",
    severity: Severity::Doubt,
    looks_for: "Wires joined to one another that carry different numbers.",
    why: "Where a number stands for a net, two numbers on one net hide that their wires are one.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: nets_with_two_numbers,
};

pub(super) const TWO_NETS: Rule = Rule {
    name: "one-number-two-nets",
    severity: Severity::Doubt,
    looks_for: "One number on wires that are not joined to one another.",
    why: "Whoever lands wires by number joins what must stay apart.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: numbers_on_two_nets,
};

pub(super) const EARTH_COLOUR: Rule = Rule {
    name: "earth-colour-on-live",
    severity: Severity::Danger,
    looks_for: "A green-yellow wire on a net with a pole of a supply, a load, a contact or a fuse.",
    why: "Green-yellow is kept for protective earth; the next person takes the wire for earth.",
    source: "IEC 60445: green-yellow for the protective conductor only; NEC 250.119 (both in our words)",
    was_called: &[],
    find: earth_colours,
};

/// Wires that carry a number, by net and number.
fn numbered(survey: &Survey) -> BTreeMap<NetId, BTreeMap<String, Vec<WireId>>> {
    let mut all: BTreeMap<NetId, BTreeMap<String, Vec<WireId>>> = BTreeMap::new();
    for (id, wire) in survey.machine.wires.iter().filter(|(_, wire)| wire.is_present()) {
        let Some(number) = wire.number.as_ref().map(|n| n.trim()).filter(|n| !n.is_empty()) else { continue };
        if let Some(net) = survey.graph.net_of_end(id, crate::machine::Side::From) {
            all.entry(net).or_default().entry(number.to_owned()).or_default().push(id);
        }
    }
    all
}

fn nets_with_two_numbers(survey: &Survey, out: &mut Vec<Finding>) {
    let all = numbered(survey);
    // Where no number is ever shared along a net, numbers here stand for single wires, not for nets.
    let by_net = all.values().flat_map(BTreeMap::values).any(|wires| wires.len() > 1);
    for numbers in all.values().filter(|numbers| numbers.len() > 1) {
        let wires: Vec<Thing> = numbers.values().flatten().map(|&wire| wire.into()).collect();
        let finding = TWO_NUMBERS.finding(
            wires,
            format!("The numbers {} are on wires of one net.", listed(numbers.keys().cloned())),
            "With the machine isolated, check by eye that they are joined, then give the net one number, or note that numbers \
             here stand for single wires.",
        );
        out.push(if by_net { finding } else { finding.with_severity(Severity::Note) });
    }
}

fn numbers_on_two_nets(survey: &Survey, out: &mut Vec<Finding>) {
    let mut nets_of: BTreeMap<String, BTreeMap<NetId, Vec<WireId>>> = BTreeMap::new();
    for (net, numbers) in numbered(survey) {
        for (number, wires) in numbers {
            nets_of.entry(number).or_default().insert(net, wires);
        }
    }
    for (number, nets) in nets_of.iter().filter(|(_, nets)| nets.len() > 1) {
        // A net with an end nobody has seen may be the same net after all.
        if nets.keys().filter(|&&net| !survey.graph.nets[net].doubts.is_empty()).count() + 1 >= nets.len() {
            continue;
        }
        let wires: BTreeSet<WireId> = nets.values().flatten().copied().collect();
        let names = listed(wires.iter().map(|&wire| survey.machine.wire_name(wire).to_owned()));
        out.push(TWO_NETS.finding(
            wires.into_iter().map(Thing::from).collect(),
            format!("The number {number} is on {names}, which are not joined."),
            "Follow them with the machine isolated; correct the record if they do meet, else renumber one of them.",
        ));
    }
}

fn earth_colours(survey: &Survey, out: &mut Vec<Finding>) {
    for (id, wire) in survey.machine.wires.iter().filter(|(_, wire)| wire.is_present()) {
        let Some(colour) = wire.colour else { continue };
        let stripes = [Some(colour.base), colour.tracer];
        let earth = colour.base == Colour::GreenYellow
            || (stripes.contains(&Some(Colour::Green)) && stripes.contains(&Some(Colour::Yellow)));
        let Some(net) = survey.graph.net_of_end(id, crate::machine::Side::From).filter(|_| earth) else { continue };
        let works =
            survey.graph.nets[net].items.iter().find(|&&item| !matches!(survey.graph.items[item].sort, Sort::Passive));
        if works.is_none() && !survey.poles_at.contains_key(&net) {
            continue;
        }
        let at = survey.graph.nets[net]
            .nodes
            .iter()
            .find_map(|node| match node {
                Node::Terminal(t) if works.is_none_or(|&item| survey.graph.items[item].part == t.part) => Some(t),
                _ => None,
            })
            .map_or_else(|| "a live net".to_owned(), |terminal| survey.machine.terminal_name(terminal));
        out.push(EARTH_COLOUR.finding(
            vec![id.into()],
            format!("Wire {} is green-yellow but is joined to {at}, which is no earth.", wire.key),
            "Take it for live; isolate, verify absence of voltage with a meter tried on a known live source before and after, \
             then replace the wire by one of another colour.",
        ));
    }
}
