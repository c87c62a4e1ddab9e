//! What a mystery may be, as far as the record can tell by itself: candidates to begin with, each with a weight and why it is there.
//! A person takes them over, changes their weights, adds and removes.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::catalogue::{BodyTerminal, Catalogue, Element};
use crate::circuit::{Network, Works};
use crate::machine::{EndAt, Guess, Lug, Machine, Mounting, Part, PartId, Side, Subject, TerminalRef, Wire, WireId};

/// Candidates offered at most, likeliest first.
const MOST_OFFERED: usize = 12;
/// How many times likelier a terminal is on which wires of the same colour land already (common practice, no source).
const SAME_COLOUR: f64 = 2.0;
/// The same for a part on which other wires of the loom end.
const SAME_LOOM: f64 = 3.0;
/// The same for a part near the end that is off.
const NEAR: f64 = 2.0;
/// The same for a terminal on which nothing lands.
const FREE: f64 = 2.0;
/// What near is, in millimetres on the canvas.
const NEAR_MM: f64 = 80.0;
/// How likely an end belongs nowhere at all, beside one terminal that fits.
const NOWHERE: f64 = 0.2;
/// How likely a thing in a machine that is asked about is in order, beside one fault (common practice, no source).
const IN_ORDER: f64 = 10.0;

/// A candidate that is offered.
#[derive(Debug, Clone, PartialEq)]
pub struct Offer {
    /// What it may be.
    pub guess: Guess,
    /// Its weight before any reading; only ratios count.
    pub weight: f64,
    /// Why it is offered, in a few words.
    pub why: String,
}

/// Candidates for a mystery, likeliest first.
pub fn offered(machine: &Machine, catalogue: &Arc<Catalogue>, subject: &Subject) -> Vec<Offer> {
    let named = |name: &str, weight: f64, why: &str| Offer {
        guess: Guess::Named(name.to_owned()),
        weight,
        why: why.to_owned(),
    };
    match subject {
        Subject::End(wire, side) => ends(machine, catalogue, *wire, *side),
        Subject::CoilDriver(part) => outputs(machine, catalogue, *part),
        Subject::ContactForm(_) => {
            vec![named("make", 1.0, "closes when it is worked"), named("break", 1.0, "opens when it is worked")]
        }
        Subject::Kind(part) => kinds(machine, catalogue, *part),
        Subject::Fault(spot) => {
            let part = match spot {
                crate::machine::Spot::Terminal(terminal) => Some(terminal.part),
                crate::machine::Spot::Part(part) => Some(*part),
                _ => None,
            };
            let body = part.and_then(|part| machine.parts.get(part)).map(|part| catalogue.body(part));
            let has_contact =
                body.is_some_and(|body| body.elements.iter().any(|one| matches!(one, Element::Contact { .. })));
            let mut all = vec![named("ok", IN_ORDER, "most things are"), named("open", 1.0, "no way through it")];
            if has_contact {
                all.push(named("welded", 0.5, "its contact does not open"));
            }
            all
        }
    }
}

/// Terminals an end may belong on: those with room on which it fits.
fn ends(machine: &Machine, catalogue: &Arc<Catalogue>, id: WireId, side: Side) -> Vec<Offer> {
    let Some(wire) = machine.wires.get(id) else { return Vec::new() };
    let far = match &wire.end(side.other()).at {
        EndAt::Terminal(terminal) => Some(terminal.clone()),
        _ => None,
    };
    let loom_parts: BTreeSet<PartId> = machine
        .wires
        .iter()
        .filter(|(other, entry)| *other != id && wire.loom.is_some() && entry.loom == wire.loom)
        .flat_map(|(_, entry)| Side::BOTH.into_iter().filter_map(|side| landed_part(entry, side)).collect::<Vec<_>>())
        .collect();
    let mut all: Vec<Offer> = Vec::new();
    for (part_id, part) in machine.parts.iter().filter(|(_, part)| part.mounting != Mounting::Missing) {
        let body = catalogue.body(part);
        for terminal in &body.terminals {
            let place = TerminalRef { part: part_id, marking: terminal.marking.clone() };
            let there: Vec<&Wire> = machine.wires_at(&place).filter_map(|(wire, _)| machine.wires.get(wire)).collect();
            let own = machine.wires_at(&place).any(|(other, at)| other == id && at == side);
            let full = terminal.holds > 0 && there.len() >= usize::from(terminal.holds) && !own;
            if far.as_ref() == Some(&place) || full || !fits(wire.end(side).lug, terminal) {
                continue;
            }
            let (mut weight, mut why): (f64, Vec<&str>) = (1.0, Vec::new());
            if there.is_empty() {
                weight *= FREE;
                why.push("nothing lands there");
            }
            if wire.colour.is_some() && there.iter().any(|other| other.colour == wire.colour) {
                weight *= SAME_COLOUR;
                why.push("same colour lands there");
            }
            if loom_parts.contains(&part_id) {
                weight *= SAME_LOOM;
                why.push("its loom ends there");
            }
            if is_near(wire, side, part) {
                weight *= NEAR;
                why.push("it is near");
            }
            let why = if why.is_empty() { "it has room".to_owned() } else { why.join(", ") };
            all.push(Offer { guess: Guess::Terminal(place), weight, why });
        }
    }
    let mut all = likeliest(all);
    all.push(Offer { guess: Guess::Nowhere, weight: NOWHERE, why: "it may have been left over".to_owned() });
    all
}

fn landed_part(wire: &Wire, side: Side) -> Option<PartId> {
    match &wire.end(side).at {
        EndAt::Terminal(terminal) => Some(terminal.part),
        _ => None,
    }
}

/// Whether what is crimped on an end goes on a terminal; what is not said fits anything.
fn fits(lug: Lug, terminal: &BodyTerminal) -> bool {
    let lands = terminal.lands.as_str();
    let takes = |words: &[&str]| lands.is_empty() || words.iter().any(|word| lands.contains(word));
    match lug {
        Lug::Unsaid | Lug::Cap => true,
        Lug::QuickConnect | Lug::Flag => takes(&["quick connect", "lead"]),
        Lug::Fork | Lug::Ring => takes(&["screw", "stud"]),
        Lug::Ferrule | Lug::Bare => takes(&["screw", "clamp", "twist", "crimp", "lead"]),
        Lug::Pin => takes(&["pin", "screw"]),
    }
}

fn is_near(wire: &Wire, side: Side, part: &Part) -> bool {
    wire.end(side).place.is_some_and(|place| (place.x - part.pose.at.x).hypot(place.y - part.pose.at.y) < NEAR_MM)
}

/// The likeliest of them, in order of the record where they are as likely.
fn likeliest(mut all: Vec<Offer>) -> Vec<Offer> {
    all.sort_by(|a, b| b.weight.total_cmp(&a.weight));
    all.truncate(MOST_OFFERED);
    all
}

/// Outputs that work no coil by the record.
fn outputs(machine: &Machine, catalogue: &Arc<Catalogue>, part: PartId) -> Vec<Offer> {
    let network = Network::of(machine, catalogue);
    let mut seen: BTreeSet<TerminalRef> = BTreeSet::new();
    let outputs = network.contacts().iter().filter_map(|contact| match &contact.works {
        Works::Output(terminal) if contact.inside.part != part => Some(terminal.clone()),
        _ => None,
    });
    let offer = |terminal: TerminalRef| {
        let taken = machine.wires_at(&terminal).any(|(wire, side)| {
            machine.wires.get(wire).is_some_and(|wire| matches!(wire.end(side.other()).at, EndAt::Terminal(_)))
        });
        let (weight, why) =
            if taken { (0.5, "an output, with a lead on it") } else { (1.0, "an output without a known lead") };
        Offer { guess: Guess::Terminal(terminal), weight, why: why.to_owned() }
    };
    likeliest(outputs.filter(|terminal| seen.insert(terminal.clone())).map(offer).collect())
}

/// Kinds of the same family with the same markings.
fn kinds(machine: &Machine, catalogue: &Arc<Catalogue>, part: PartId) -> Vec<Offer> {
    let Some(part) = machine.parts.get(part) else { return Vec::new() };
    let markings = |part: &Part| -> BTreeSet<String> {
        catalogue.body(part).terminals.iter().map(|terminal| terminal.marking.to_string()).collect()
    };
    let own = markings(part);
    let family = catalogue.kind(&part.kind).map(|kind| kind.family);
    let like = catalogue.kinds().filter(|kind| {
        let same = Part { kind: kind.name.clone(), ..part.clone() };
        markings(&same) == own && (family.is_none() || Some(kind.family) == family || own.len() > 2)
    });
    let offer = |kind: &crate::catalogue::Kind| Offer {
        guess: Guess::Named(kind.name.clone()),
        weight: if kind.name == part.kind { 2.0 } else { 1.0 },
        why: format!("{}, with the same markings", kind.title),
    };
    likeliest(like.map(offer).collect())
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::store;

    /// A loose red flag lead beside a relay with a free tab, one taken tab and a screw strip.
    fn record() -> (Machine, Arc<Catalogue>) {
        let text = r#"(format: 1, machine: (title: "offers", source: "invented"), parts: [
            (tag: "K1", kind: "relay-make", at: (10.0, 10.0), ratings: {"coil_volts": "24 V AC"}),
            (tag: "TB1", kind: "terminal-strip", count: 2, at: (400.0, 400.0)),
            (tag: "P1", kind: "lamp", at: (700.0, 0.0), ratings: {"volts": "24 V AC"})],
            wires: [(key: "W1", from: "P1.1", to: (at: "loose", lug: flag, place: (15.0, 15.0)), colour: "RD"),
                (key: "W2", from: "P1.2", to: "TB1.1a", colour: "RD")],
            mysteries: [(name: "W1 end", subject: end("W1.to"))])"#;
        let catalogue = Catalogue::built_in().unwrap();
        (store::parse("offers", text, &catalogue).unwrap_or_else(|errors| panic!("{errors}")), catalogue)
    }

    #[test]
    fn a_lead_with_a_flag_is_offered_free_tabs_near_it_and_no_screws() {
        let (machine, catalogue) = record();
        let subject = machine.mysteries.values().next().unwrap().subject.clone();
        let offers = offered(&machine, &catalogue, &subject);
        let names: Vec<String> = offers.iter().map(|offer| machine.guess_name(&offer.guess)).collect();
        assert!(names[0].starts_with("K1."), "{names:?}");
        assert!(!names.iter().any(|name| name.starts_with("TB1.")), "a flag lands on no screw: {names:?}");
        assert!(!names.contains(&"P1.1".to_owned()), "its own other end is none: {names:?}");
        assert_eq!(names.last().map(String::as_str), Some("nowhere"));
        assert!(offers[0].why.contains("near") && offers.iter().all(|offer| offer.weight > 0.0), "{offers:?}");
    }

    #[test]
    fn forms_and_faults_are_offered_by_the_words_a_record_takes() {
        let (machine, catalogue) = record();
        let part = machine.part_by_tag("K1").unwrap();
        for subject in
            [Subject::ContactForm(TerminalRef::new(part, "14")), Subject::Fault(crate::machine::Spot::Part(part))]
        {
            for offer in offered(&machine, &catalogue, &subject) {
                let Guess::Named(name) = &offer.guess else { panic!("{offer:?}") };
                assert!(subject.states().contains(&name.as_str()), "{offer:?}");
            }
        }
    }
}
