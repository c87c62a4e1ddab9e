//! Mysteries and the next visit: readings in order with what each result would mean, parts and tools to bring.

use std::collections::BTreeSet;

use serde::Serialize;

use crate::findings::{Finding, Severity};
use crate::identify::{Proposal, Risk, in_words};
use crate::machine::{Machine, Mounting, MysteryId, Side, Subject, Verdict as Decided};
use crate::quantity::Function;

use super::content::alike;
use super::lists::between;
use super::worked::Worked;

/// One mystery.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct MysteryRows {
    /// Its name.
    pub name: String,
    /// What it is about: an end of a wire, a part.
    pub about: String,
    /// Candidates with their odds in words.
    pub candidates: Vec<String>,
    /// What is settled, or that nothing is.
    pub stands: String,
    /// Anything noted.
    pub note: String,
}

/// The next visit.
#[derive(Debug, Clone, PartialEq, Eq, Serialize, Default)]
pub struct NextVisit {
    /// Readings in order.
    pub readings: Vec<NextReading>,
    /// Answers that no reading in a condition of the record tells apart.
    pub alike: Vec<String>,
    /// Findings that were put off to it, and those that are open.
    pub work: Vec<String>,
    /// Tools to bring.
    pub tools: Vec<String>,
    /// Parts and material to bring.
    pub parts: Vec<String>,
}

/// One reading to take.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct NextReading {
    /// What to set the meter to and where to put it.
    pub what: String,
    /// The condition.
    pub condition: String,
    /// How dangerous it is, as a word.
    pub risk: &'static str,
    /// How to get the machine into the condition.
    pub steps: Vec<String>,
    /// Each result with what it would mean.
    pub results: Vec<[String; 2]>,
    /// What makes them tell less than they say.
    pub doubts: Vec<&'static str>,
    /// What it is for.
    pub r#for: String,
    /// What to mind.
    pub cautions: Vec<&'static str>,
    /// The number of the reading whose cautions and steps are those of this one too.
    pub as_for: Option<usize>,
}

fn guess(machine: &Machine, mystery: MysteryId, candidate: usize) -> String {
    let candidate = machine.mysteries.get(mystery).and_then(|mystery| mystery.candidates.get(candidate));
    candidate.map_or_else(|| "?".to_owned(), |one| machine.guess_name(&one.guess))
}

fn name(machine: &Machine, mystery: MysteryId) -> String {
    machine.mysteries.get(mystery).map_or_else(|| "?".to_owned(), |mystery| mystery.name.clone())
}

fn subject(machine: &Machine, subject: &Subject) -> String {
    match subject {
        Subject::End(wire, side) => format!("where {}.{} goes", machine.wire_name(*wire), side.word()),
        Subject::CoilDriver(part) => format!("what works {}", machine.part_name(*part)),
        Subject::ContactForm(terminal) => format!("form of the contact at {}", machine.terminal_name(terminal)),
        Subject::Kind(part) => format!("kind of {}", machine.part_name(*part)),
        Subject::Fault(spot) => format!("whether {} is faulty", machine.spot_name(spot)),
    }
}

/// Every mystery of the record.
pub(super) fn mystery_rows(machine: &Machine, worked: &Worked) -> Vec<MysteryRows> {
    let mut rows = Vec::new();
    for (id, mystery) in machine.mysteries.iter() {
        let odds = worked.odds.iter().find(|odds| odds.mystery == id);
        let candidates = mystery.candidates.iter().enumerate().map(|(at, candidate)| {
            let words = odds.and_then(|odds| odds.candidates.get(at)).map(|one| in_words(one.odds));
            let guess = machine.guess_name(&candidate.guess);
            words.map_or_else(|| guess.clone(), |words| format!("{guess}: {words}"))
        });
        let stands = match odds.and_then(|odds| Some((odds.settled?, odds.proven))) {
            Some((at, true)) => format!("settled and proven: {}", guess(machine, id, at)),
            Some((at, false)) => format!("settled, not proven yet: {}", guess(machine, id, at)),
            None if mystery.candidates.is_empty() => "no candidates are recorded".to_owned(),
            None if odds.is_some_and(|odds| odds.none_of_these > 0.5) => {
                "none of the candidates goes with the readings: look at the record again".to_owned()
            }
            None => "open".to_owned(),
        };
        rows.push(MysteryRows {
            name: mystery.name.clone(),
            about: subject(machine, &mystery.subject),
            candidates: candidates.collect(),
            stands,
            note: mystery.note.clone(),
        });
    }
    rows
}

/// What to do and bring at the next visit.
pub(super) fn next_visit(machine: &Machine, worked: &Worked) -> NextVisit {
    let mut readings: Vec<NextReading> = Vec::new();
    for (of, proposal) in &worked.next {
        let mut next = next_reading(machine, of, proposal);
        // Cautions and steps are written out where they first apply.
        let same = |one: &NextReading| {
            one.as_for.is_none()
                && one.condition == next.condition
                && one.steps == next.steps
                && one.cautions == next.cautions
        };
        if let Some(at) = readings.iter().position(same) {
            next.as_for = Some(at + 1);
            next.steps.clear();
            next.cautions.clear();
        }
        readings.push(next);
    }
    let alike = worked
        .alike
        .iter()
        .map(|set| set.iter().map(|one| one.join("; ")).collect::<Vec<_>>().join(" or "))
        .filter(|words| !words.is_empty())
        .collect();
    NextVisit {
        readings,
        alike,
        work: work(machine, worked),
        tools: tools(machine, worked),
        parts: parts(machine, worked),
    }
}

fn next_reading(machine: &Machine, of: &[MysteryId], proposal: &Proposal) -> NextReading {
    let place = &proposal.place;
    let leaf = |id, at| format!("{}: {}", name(machine, id), guess(machine, id, at));
    let results = proposal.results.iter().map(|result| [result.reading.clone(), result.words(leaf)]);
    NextReading {
        what: format!("{} at {}", place.function.words(), between(machine, &place.red, place.black.as_ref())),
        condition: machine.conditions.get(place.condition).map(|one| one.name.clone()).unwrap_or_default(),
        risk: match proposal.risk {
            Risk::Dead => "no source on",
            Risk::ExtraLow => "extra-low voltage on",
            Risk::Line => "LINE VOLTAGE",
        },
        steps: proposal.steps.clone(),
        results: results.collect(),
        doubts: proposal.doubts.clone(),
        r#for: if of.is_empty() {
            "what readings dispute".to_owned()
        } else {
            of.iter().map(|&id| name(machine, id)).collect::<Vec<_>>().join("; ")
        },
        cautions: proposal.cautions.clone(),
        as_for: None,
    }
}

/// Findings to work on: those put off to the visit first, then open dangers and faults.
fn work(machine: &Machine, worked: &Worked) -> Vec<String> {
    let put_off = |finding: &Finding| finding.decision == Some(Decided::NextVisit);
    let line = |alike: &Vec<&Finding>| {
        let first = alike.first()?;
        let about =
            |one: &&Finding| one.about.iter().map(|thing| machine.thing_name(thing)).collect::<Vec<_>>().join(" ");
        let about: Vec<String> = alike.iter().map(about).collect();
        Some(format!("{} {} {}: {}", first.severity.word(), first.rule, about.join(", "), first.do_))
    };
    let of = |wanted: &dyn Fn(&Finding) -> bool| -> Vec<String> {
        let wanted: Vec<Finding> = worked.findings.iter().filter(|one| wanted(one)).cloned().collect();
        alike(&wanted).iter().filter_map(line).collect()
    };
    let mut all = of(&put_off);
    all.extend(of(&|one| !put_off(one) && one.counts_at(Severity::Fault)));
    all
}

/// Tools, by what the next readings and the record ask for.
fn tools(machine: &Machine, worked: &Worked) -> Vec<String> {
    let mut all = Vec::new();
    let functions: BTreeSet<Function> = worked.next.iter().map(|(_, one)| one.place.function).collect();
    let mut words: Vec<&str> = functions.iter().filter(|one| **one != Function::Runs).map(|one| one.words()).collect();
    if words.is_empty() {
        words = vec!["volts AC", "ohms", "tone"];
    }
    let meters: Vec<&str> = machine.meters.values().map(|meter| meter.name.as_str()).collect();
    let before = if meters.is_empty() { String::new() } else { format!(" (used before: {})", meters.join(", ")) };
    all.push(format!("Meter for {}, rated for the supply{before}", words.join(", ")));
    all.push("Known live source to try the meter on, before and after".to_owned());
    all.push("Lock and tag for the isolation".to_owned());
    if functions.contains(&Function::Amps) {
        all.push("Current clamp".to_owned());
    }
    if worked.next.iter().any(|(_, one)| one.risk == Risk::Line) {
        all.push(
            "For live readings, by licensed practice only: rated probes, gloves and cover for the eyes".to_owned(),
        );
    }
    let lifted: BTreeSet<_> =
        worked.next.iter().flat_map(|(_, one)| machine.setting(one.place.condition).lifted).collect();
    if !lifted.is_empty() {
        let ends: Vec<String> =
            lifted.iter().map(|(wire, side)| format!("{}.{}", machine.wire_name(*wire), side.word())).collect();
        all.push(format!("Insulating caps and tags for leads to be lifted: {}", ends.join(", ")));
    }
    if !worked.stored.is_empty() {
        all.push(format!("What the maker names to discharge {}", worked.stored.join(", ")));
    }
    all.push("Camera, and this sheet".to_owned());
    all
}

/// Parts and material, by what the record lacks.
fn parts(machine: &Machine, worked: &Worked) -> Vec<String> {
    let mut all = Vec::new();
    for part in machine.parts.values().filter(|part| part.mounting == Mounting::Missing) {
        let title = if part.title.is_empty() { part.kind.as_str() } else { part.title.as_str() };
        all.push(format!("{}: {title}", part.tag));
    }
    let present = || machine.wires.values().filter(|wire| wire.is_present());
    let unmarked = present().filter(|wire| wire.number.as_deref().is_none_or(str::is_empty)).count();
    if unmarked > 0 {
        all.push(format!("Wire markers: {unmarked} wires have no number (print labels with 'wirewitness labels')"));
    }
    let bare = present()
        .flat_map(|wire| Side::BOTH.map(|side| wire.end(side)))
        .filter(|end| end.at == crate::machine::EndAt::Loose && end.lug != crate::machine::Lug::Cap)
        .count();
    if bare > 0 {
        all.push(format!("Insulating caps: {bare} ends are loose"));
    }
    if worked.findings.iter().any(|one| one.rule == "missing-earth" && !one.is_accepted()) {
        all.push("Earth leads with lugs, by local codes: see the findings".to_owned());
    }
    all
}
