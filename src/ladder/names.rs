//! Words on the ladder: headings, the state it is drawn in, markings.

use std::collections::BTreeMap;

use crate::catalogue::{Body, Catalogue, Driver, Element, Form, Stroke};
use crate::circuit::Network;
use crate::machine::{Machine, PartId};
use crate::quantity::{Rating, format_scaled};

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

/// The rated volts of a supply with more than two poles, as its plate has them.
pub(super) fn rated(network: &Network, part: PartId, direct: bool) -> Option<String> {
    let volts = network.body(part)?.ratings.get(Rating::Volts)?;
    Some(format!("{} {}", format_scaled(volts, "V"), if direct { "DC" } else { "AC" }))
}

/// The state in which contacts are drawn, one sentence each.
pub(super) fn state(machine: &Machine, catalogue: &Catalogue, network: &Network, parts: &[PartId]) -> Vec<String> {
    let mut found = vec![
        "Drawn de-energised, at rest: no relay worked, no output commanded, doors and switches as named.".to_owned(),
    ];
    let mut switches: BTreeMap<_, Vec<String>> = BTreeMap::new();
    for &part in parts {
        let Some(body) = network.body(part) else { continue };
        let kind = machine.parts.get(part).and_then(|part| catalogue.kind(&part.kind));
        let is_pole = |stroke: &Stroke| matches!(stroke, Stroke::Use { glyph, .. } if glyph == "breaker-pole");
        let open_pole = kind.is_some_and(|kind| kind.symbol.both.iter().chain(&kind.symbol.iec).any(is_pole));
        for switch in &body.switches {
            let contacts: Vec<(Form, &[String])> = body
                .elements
                .iter()
                .filter_map(|element| match element {
                    Element::Contact { ends, form, driver: Driver::Switch { name, closed_in } }
                        if *name == switch.name =>
                    {
                        // The pole of a breaker is drawn open, whatever its form.
                        let drawn_open = open_pole || is_behind_fuse(body, ends);
                        let form = if drawn_open { Form::Make } else { *form };
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

/// Whether a contact shares a point inside its part with a fuse: the two are one pole of a breaker.
fn is_behind_fuse(body: &Body, ends: &(String, String)) -> bool {
    let inside = |end: &String| body.inner.iter().any(|point| point.as_str() == end);
    let fused = |end: &String| {
        body.elements.iter().any(|other| matches!(other, Element::Fuse { ends } if ends.0 == *end || ends.1 == *end))
    };
    [&ends.0, &ends.1].into_iter().any(|end| inside(end) && fused(end))
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
