//! `parts`: the kinds of part with their terminals, inner elements and usual ratings.

use std::collections::BTreeMap;
use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::catalogue::{Catalogue, Element, Family, Kind, SwitchSpec, TerminalSpec};
use crate::quantity::Ratings;

use super::args::Parts;
use super::failure::Failure;
use super::kinds::catalogue;
use super::paint::Paint;
use super::{FINE, json};

#[derive(Serialize)]
struct Answer<'a> {
    kinds: Vec<OneKind<'a>>,
}

#[derive(Serialize)]
struct OneKind<'a> {
    kind: &'a str,
    title: &'a str,
    family: Family,
    words: &'a [String],
    terminals: Vec<OneTerminal<'a>>,
    repeats: Option<Repeats<'a>>,
    elements: &'a [Element],
    switches: &'a [SwitchSpec],
    ratings: BTreeMap<&'static str, f64>,
    typical: BTreeMap<&'static str, f64>,
    typical_source: Option<&'a str>,
    exposed_metal: bool,
    note: &'a str,
}

#[derive(Serialize)]
struct Repeats<'a> {
    count: u16,
    terminals: Vec<OneTerminal<'a>>,
    elements: &'a [Element],
    between: &'a [Element],
}

#[derive(Serialize)]
struct OneTerminal<'a> {
    marking: &'a str,
    lands: Option<&'a str>,
    holds: Option<u8>,
}

fn terminals(specs: &[TerminalSpec]) -> Vec<OneTerminal<'_>> {
    specs
        .iter()
        .map(|spec| OneTerminal {
            marking: &spec.marking,
            lands: (!spec.lands.is_empty()).then_some(spec.lands.as_str()),
            holds: (spec.holds > 0).then_some(spec.holds),
        })
        .collect()
}

fn values(ratings: &Ratings) -> BTreeMap<&'static str, f64> {
    ratings.iter().map(|(rating, rated)| (rating.name(), rated.value)).collect()
}

impl<'a> OneKind<'a> {
    fn of(kind: &'a Kind) -> Self {
        Self {
            kind: &kind.name,
            title: &kind.title,
            family: kind.family,
            words: &kind.words,
            terminals: terminals(&kind.terminals),
            repeats: kind.repeat.as_ref().map(|repeat| Repeats {
                count: repeat.count,
                terminals: terminals(&repeat.terminals),
                elements: &repeat.elements,
                between: &repeat.between,
            }),
            elements: &kind.elements,
            switches: &kind.switches,
            ratings: values(&kind.ratings),
            typical: values(&kind.typical.values),
            typical_source: (!kind.typical.source.is_empty()).then_some(kind.typical.source.as_str()),
            exposed_metal: kind.exposed_metal,
            note: &kind.note,
        }
    }
}

pub(super) fn run(what: &Parts, kinds: Option<&Path>, paint: Paint, out: &mut dyn Write) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    if what.json {
        json::write(&Answer { kinds: catalogue.kinds().map(OneKind::of).collect() }, out)?;
    } else {
        list(&catalogue, paint, out)?;
    }
    Ok(FINE)
}

fn list(catalogue: &Catalogue, paint: Paint, out: &mut dyn Write) -> Result<(), Failure> {
    let width = catalogue.kinds().map(|kind| kind.name.chars().count()).max().unwrap_or(0);
    for family in Family::ALL {
        let mut kinds = catalogue.kinds().filter(|kind| kind.family == family).peekable();
        if kinds.peek().is_none() {
            continue;
        }
        writeln!(out, "{}", paint.bold(family.words()))?;
        for kind in kinds {
            writeln!(out, "  {:width$}  {}  {}", kind.name, kind.title, paint.faint(markings(kind)))?;
        }
    }
    Ok(())
}

/// The markings of a kind, those that repeat with the place of the number shown as `n`.
fn markings(kind: &Kind) -> String {
    let repeated = kind.repeat.iter().flat_map(|repeat| &repeat.terminals);
    let all: Vec<String> = kind.terminals.iter().chain(repeated).map(|spec| spec.marking.replace("{n}", "n")).collect();
    if all.is_empty() { "pins of its own".to_owned() } else { all.join(" ") }
}
