//! The rule on protective earth: metal that can be touched, on parts that line voltage can reach.

use std::collections::BTreeSet;

use crate::catalogue::{Body, Driver, Element};
use crate::circuit::MATED;
use crate::machine::{PartId, TerminalRef, Thing};

use super::finding::{Finding, Severity};
use super::graph::NetId;
use super::rule::Rule;
use super::survey::Survey;

pub(super) const MISSING_EARTH: Rule = Rule {
    name: "missing-earth",
    severity: Severity::Danger,
    looks_for: "Metal that can be touched, on a part that line voltage can reach, without a wired way to protective earth.",
    why: "One fault inside puts line voltage on the metal, and no fuse blows.",
    source: "IEC 60204-1 8.2: exposed conductive parts are joined to the protective circuit (in our words)",
    was_called: &[],
    find: missing_earths,
};

/// The part's terminals that are protective earth.
fn earths(part: PartId, body: &Body) -> Vec<TerminalRef> {
    let at = body.elements.iter().filter_map(|element| match element {
        Element::Earth { at } => Some(TerminalRef::new(part, at.as_str())),
        _ => None,
    });
    at.collect()
}

/// Whether line voltage can reach the part; none when it cannot be said.
fn line_reaches(survey: &Survey, part: PartId, body: &Body) -> Option<bool> {
    let mut unsure = false;
    for terminal in &body.terminals {
        let Some(net) = survey.graph.net_of_terminal(&TerminalRef { part, marking: terminal.marking.clone() }) else {
            continue;
        };
        let class = survey.potential.class(net);
        for &pole in &class.poles {
            match survey.supply.is_line(pole, survey.machine.facts.limits) {
                Some(true) => return Some(true),
                Some(false) => {}
                None => unsure = true,
            }
        }
        unsure |= !class.doubts.is_empty();
    }
    if unsure { None } else { Some(false) }
}

fn missing_earths(survey: &Survey, out: &mut Vec<Finding>) {
    let net_of = |terminal: &TerminalRef| survey.graph.net_of_terminal(terminal);
    let doubtful = |net: &NetId| !survey.graph.nets[*net].doubts.is_empty();
    let mut supplied: BTreeSet<NetId> = BTreeSet::new();
    for (&part, body) in survey.bodies {
        if body.elements.iter().any(|element| matches!(element, Element::Source { .. })) {
            supplied.extend(earths(part, body).iter().filter_map(net_of));
        }
    }
    // An earth goes through a plug in its socket as it goes through a wire.
    let is_mated_pin = |item: &usize| {
        let item = survey.graph.items.get(*item);
        matches!(item.and_then(|item| survey.element(item)),
            Some(Element::Contact { driver: Driver::Switch { name, .. }, .. }) if name == MATED.0)
    };
    let mut open: Vec<NetId> = supplied.iter().copied().collect();
    while let Some(net) = open.pop() {
        for &item in survey.graph.nets[net].items.iter().filter(|item| is_mated_pin(item)) {
            let across = survey.graph.items[item].across(net);
            if supplied.insert(across) {
                open.push(across);
            }
        }
    }
    let machine_has_line =
        (0..survey.supply.poles.len()).any(|p| survey.supply.is_line(p, survey.machine.facts.limits) == Some(true));
    for (&part, body) in survey.bodies.iter().filter(|(_, body)| body.exposed_metal) {
        let own = earths(part, body);
        let nets: BTreeSet<NetId> = own.iter().filter_map(net_of).collect();
        if !nets.is_disjoint(&supplied) {
            continue;
        }
        let only_metal = !own.is_empty() && own.len() == body.terminals.len();
        let line = if only_metal { Some(machine_has_line) } else { line_reaches(survey, part, body) };
        if line == Some(false) {
            continue;
        }
        let name = survey.part_words(part);
        let about: Vec<Thing> =
            if own.is_empty() { vec![part.into()] } else { own.into_iter().map(Thing::from).collect() };
        let missing = if nets.is_empty() {
            Some("no earth terminal is recorded on it".to_owned())
        } else if supplied.is_empty() {
            Some("the recorded supply brings no earth".to_owned())
        } else if nets.iter().chain(&supplied).any(doubtful) {
            Some("a wire of its earth has an end that has not been seen".to_owned())
        } else if line.is_none() {
            Some("whether line voltage can reach it is not known".to_owned())
        } else {
            None
        };
        let finding = match &missing {
            None => MISSING_EARTH.finding(
                about,
                format!("The metal of {name} can be touched, and no wire joins it to the supply's protective earth."),
                "Isolate, verify absence of voltage, run an earth wire of the right size and colour from the part's metal to \
                 protective earth, and read its resistance; a licensed person checks it where local codes ask for that.",
            ),
            Some(missing) => MISSING_EARTH
                .finding(
                    about,
                    format!("Whether the metal of {name} is earthed cannot be told: {missing}."),
                    "With the machine isolated, look for its earth, read ohms from its metal to protective earth, and record it.",
                )
                .with_severity(Severity::Doubt),
        };
        out.push(finding);
    }
}
