//! Rules on what is printed on parts and wires, and on what a terminal holds.

use std::collections::BTreeMap;

use crate::machine::{PartId, Side, Thing, WireForm, WireId, WireState};

use super::ends::described;
use super::finding::{Finding, Severity};
use super::rule::{COMMON_PRACTICE, Rule};
use super::survey::Survey;

pub(super) const UNLABELLED_WIRE: Rule = Rule {
    name: "unlabelled-wire",
    severity: Severity::Note,
    looks_for: "A lead with no number printed on it.",
    why: "Once it is off, only its colour and this record say where it belongs.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: unlabelled_wires,
};

pub(super) const DUPLICATE_TAG: Rule = Rule {
    name: "duplicate-tag",
    severity: Severity::Fault,
    looks_for: "The same label printed on two parts, or a part that carries another part's tag.",
    why: "Whoever goes by the label works on the wrong part.",
    source: "IEC 81346-1: a reference designation identifies one object only (in our words)",
    was_called: &[],
    find: duplicate_tags,
};

pub(super) const TOO_MANY_WIRES: Rule = Rule {
    name: "too-many-wires-on-terminal",
    severity: Severity::Fault,
    looks_for: "A terminal with more wires recorded on it than it may hold.",
    why: "Crowded terminals clamp badly, work loose and get hot.",
    source: "IEC 60204-1 13.1.1: two or more conductors on one terminal only where it is made for that (in our words)",
    was_called: &[],
    find: crowded_terminals,
};

fn unlabelled_wires(survey: &Survey, out: &mut Vec<Finding>) {
    for (id, wire) in survey.machine.wires.iter() {
        let bare = wire.number.as_ref().is_none_or(|number| number.trim().is_empty());
        if wire.form == WireForm::Lead && wire.state != WireState::Removed && bare {
            out.push(UNLABELLED_WIRE.finding(
                vec![id.into()],
                format!("{} carries no number.", described(wire)),
                "Put a tag on both ends before you take it off.",
            ));
        }
    }
}

fn duplicate_tags(survey: &Survey, out: &mut Vec<Finding>) {
    let mut owners: BTreeMap<String, PartId> = BTreeMap::new();
    let mut carriers: BTreeMap<String, Vec<PartId>> = BTreeMap::new();
    for (id, part) in survey.machine.parts.iter() {
        owners.insert(part.tag.to_lowercase(), id);
        if let Some(printed) = part.printed.as_ref().map(|text| text.trim().to_lowercase()).filter(|t| !t.is_empty()) {
            carriers.entry(printed).or_default().push(id);
        }
    }
    for (label, carrying) in &carriers {
        let mut about = carrying.clone();
        about.extend(owners.get(label));
        about.sort_unstable();
        about.dedup();
        if about.len() < 2 {
            continue;
        }
        let name = |id: &PartId| survey.machine.part_name(*id).to_owned();
        let printed =
            carrying.first().and_then(|&id| survey.machine.parts.get(id)?.printed.as_deref()).unwrap_or(label);
        let what = if carrying.len() > 1 {
            format!("The label {} is on {}.", printed.trim(), listed(carrying.iter().map(name)))
        } else {
            let carrier = carrying.iter().map(name).collect::<String>();
            format!("{carrier} carries the label {}, which is the tag of another part.", printed.trim())
        };
        out.push(DUPLICATE_TAG.finding(
            about.into_iter().map(Thing::from).collect(),
            what,
            "Find out which part is which by following its wires, then relabel so that each label is there once.",
        ));
    }
}

/// `A`, `A and B`, `A, B and C`.
pub(super) fn listed(names: impl IntoIterator<Item = String>) -> String {
    let mut names: Vec<_> = names.into_iter().collect();
    let Some(last) = names.pop() else { return String::new() };
    if names.is_empty() { last } else { format!("{} and {last}", names.join(", ")) }
}

fn crowded_terminals(survey: &Survey, out: &mut Vec<Finding>) {
    for (terminal, ends) in &survey.ends_at {
        let holds = survey
            .bodies
            .get(&terminal.part)
            .and_then(|body| body.terminal(terminal.marking.as_str()))
            .map_or(0, |terminal| usize::from(terminal.holds));
        let landed: Vec<(WireId, Side)> = ends
            .iter()
            .copied()
            .filter(|&(id, side)| {
                survey
                    .machine
                    .wires
                    .get(id)
                    .is_some_and(|wire| wire.form == WireForm::Lead && wire.landed(side).is_some())
            })
            .collect();
        if holds == 0 || landed.len() <= holds {
            continue;
        }
        let wires = listed(landed.iter().map(|&(id, _)| survey.machine.wire_name(id).to_owned()));
        let may = if holds == 1 { "one wire".to_owned() } else { format!("{holds} wires") };
        out.push(TOO_MANY_WIRES.finding(
            vec![Thing::from((*terminal).clone())],
            format!("{} may hold {may} but has {} on it: {wires}.", survey.machine.terminal_name(terminal), landed.len()),
            "Isolate and verify absence of voltage, then bring the wires together on a terminal made for them and lead one \
             on from there.",
        ));
    }
}
