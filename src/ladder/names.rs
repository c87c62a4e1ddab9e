//! Words on the ladder: headings, the state it is drawn in, markings.

use std::collections::BTreeMap;

use crate::catalogue::{Driver, Element, Form};
use crate::circuit::Network;
use crate::machine::{Machine, PartId};
use crate::quantity::format_scaled;

use super::graph::{Giver, Graph, natural};

/// `a, b and c`.
pub(super) fn listed(words: &[&str]) -> String {
    match words {
        [] => String::new(),
        [one] => (*one).to_owned(),
        [first @ .., last] => format!("{} and {last}", first.join(", ")),
    }
}

/// Make or break.
pub(super) fn form(form: Form) -> &'static str {
    match form {
        Form::Make => "make",
        Form::Break => "break",
    }
}

/// The volts between two poles, where the record says so.
pub(super) fn volts(graph: &Graph, givers: &[usize], poles: [usize; 2]) -> Option<String> {
    let between = |giver: &&Giver| poles.iter().all(|pole| giver.nets.contains(pole));
    let giver = givers.iter().filter_map(|&giver| graph.givers.get(giver)).find(between)?;
    let current = if giver.direct { "DC" } else { "AC" };
    Some(match giver.volts {
        Some(volts) => format!("{} {current}", format_scaled(volts, "V")),
        None => current.to_owned(),
    })
}

/// The state in which contacts are drawn, one sentence each.
pub(super) fn state(machine: &Machine, network: &Network, parts: &[PartId]) -> Vec<String> {
    let mut found = vec![
        "Drawn de-energised, at rest: no relay worked, no output commanded, doors and switches as named.".to_owned(),
    ];
    let mut switches: BTreeMap<_, Vec<String>> = BTreeMap::new();
    for &part in parts {
        let Some(body) = network.body(part) else { continue };
        for switch in &body.switches {
            // With a fuse behind it in one row a contact is drawn as a breaker, which is open at rest.
            let is_breaker = |ends: &(String, String)| {
                body.elements.iter().any(|element| match element {
                    Element::Fuse { ends: (a, b) } => [a, b].iter().any(|end| **end == ends.0 || **end == ends.1),
                    _ => false,
                })
            };
            let contacts: Vec<(Form, &[String])> = body
                .elements
                .iter()
                .filter_map(|element| match element {
                    Element::Contact { form, driver: Driver::Switch { name, closed_in }, ends }
                        if *name == switch.name =>
                    {
                        let form = if is_breaker(ends) { Form::Make } else { *form };
                        Some((form, closed_in.as_slice()))
                    }
                    _ => None,
                })
                .collect();
            // The position in which make contacts are open and break contacts closed, as their symbols show them.
            let drawn = switch.positions.iter().find(|position| {
                contacts.iter().all(|(form, closed_in)| closed_in.contains(position) == (*form == Form::Break))
            });
            let tag = machine.part_name(part);
            let words = match drawn {
                Some(position) => format!("{tag} {} {position}", switch.name),
                None => format!("{tag} {} in no one position", switch.name),
            };
            if !contacts.is_empty() {
                switches.entry((natural(tag), part)).or_default().push(words);
            }
        }
    }
    let words: Vec<String> = switches.into_values().flatten().collect();
    if !words.is_empty() {
        found.push(format!("Doors and switches: {}.", words.join("; ")));
    }
    found
}

/// A text in lines of at most so many characters, parted between words.
pub(super) fn in_lines(text: &str, longest: usize) -> Vec<String> {
    let mut lines = vec![String::new()];
    for word in text.split_whitespace() {
        let last = lines.last_mut();
        let Some(line) = last else { break };
        let needed = line.chars().count() + usize::from(!line.is_empty()) + word.chars().count();
        if needed > longest && !line.is_empty() {
            lines.push(word.to_owned());
        } else {
            if !line.is_empty() {
                line.push(' ');
            }
            line.push_str(word);
        }
    }
    lines.retain(|line| !line.is_empty());
    lines
}
