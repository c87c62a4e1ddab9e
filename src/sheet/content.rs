//! Everything a sheet says, worked into words and figures; laid out by `paper`, which adds nothing.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use serde::Serialize;

use crate::catalogue::Catalogue;
use crate::drawing::{lay_out, style_of};
use crate::findings::{Finding, Severity, rules};
use crate::machine::{EndAt, Machine, PhotoId, Side, Thing, Wire, WireState};

use super::Identity;
use super::dead::{DeadWiring, dead_wiring};
use super::lists::{PartRows, ReadingRow, joined, part_rows, reading_rows, wire_table};
use super::next::{MysteryRows, NextVisit, mystery_rows, next_visit};
use super::page::Paper;
use super::photos::{PhotoFigure, Pictures, photo_figures};
use super::rungs::ladder_pages;
use super::section::Section;
use super::tiles::{Sheetful, Tiled, tiled, whole};
use super::worked::Worked;

/// What a sheet is made from.
#[derive(Debug, Clone, Copy)]
pub struct Given<'a> {
    /// The record.
    pub machine: &'a Arc<Machine>,
    /// The kinds of part.
    pub catalogue: &'a Arc<Catalogue>,
    /// What was worked out of it.
    pub worked: &'a Worked,
    /// How the record is called.
    pub identity: &'a Identity,
    /// Files of its photos, as they were taken.
    pub photos: &'a BTreeMap<PhotoId, Vec<u8>>,
    /// The ladder diagram, where one was drawn.
    pub ladder: &'a [crate::ladder::Drawing],
    /// The paper.
    pub paper: Paper,
    /// What is wanted.
    pub sections: &'a BTreeSet<Section>,
}

/// Everything on the sheet.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Content {
    /// The paper, in millimetres.
    pub paper: Paper,
    /// Sections, in order.
    pub sections: Vec<Section>,
    /// The head of the sheet.
    pub title: Title,
    /// Cautions.
    pub cautions: Vec<Caution>,
    /// Photos.
    pub photos: Vec<PhotoFigure>,
    /// The connection diagram.
    pub diagram: Tiled,
    /// The ladder diagram.
    pub ladder: Vec<Tiled>,
    /// Wires on it that are assumed or disputed, each with how it is known.
    pub ladder_doubts: Vec<String>,
    /// The wire list.
    pub wires: Vec<Vec<String>>,
    /// Terminals by part.
    pub terminals: Vec<PartRows>,
    /// Readings.
    pub readings: Vec<ReadingRow>,
    /// Findings.
    pub findings: Vec<FindingRows>,
    /// Dead wiring.
    pub dead: DeadWiring,
    /// Mysteries.
    pub mysteries: Vec<MysteryRows>,
    /// The next visit.
    pub next: NextVisit,
}

/// The head of the sheet.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Title {
    /// What the machine is called.
    pub machine: String,
    /// Where it stands.
    pub location: String,
    /// The nameplate, line by line.
    pub nameplate: Vec<String>,
    /// Refrigerant and whether it burns.
    pub refrigerant: String,
    /// Anything noted of the machine.
    pub note: String,
    /// The last visit: date, by whom, why.
    pub visit: String,
    /// Its date and by whom, for the head of every page.
    pub visited: String,
    /// What was done at it.
    pub work: Vec<String>,
    /// Name of the record.
    pub id: String,
    /// Its revision.
    pub revision: String,
    /// What the code in the head says.
    pub code: String,
    /// How many connections are known how: words and number.
    pub known: Vec<(String, usize)>,
    /// Findings that nobody accepted: words and number.
    pub open: Vec<(String, usize)>,
    /// Whether the record is invented, or where it comes from.
    pub source: String,
}

/// A caution with its signal word.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct Caution {
    /// DANGER, WARNING, CAUTION, NOTICE.
    pub word: &'static str,
    /// What is to be minded.
    pub text: String,
}

/// One finding.
#[derive(Debug, Clone, PartialEq, Eq, Serialize)]
pub struct FindingRows {
    /// Its severity.
    pub severity: &'static str,
    /// Name of the rule.
    pub rule: &'static str,
    /// What it points at.
    pub about: String,
    /// What was found.
    pub what: String,
    /// What to do.
    pub r#do: String,
    /// Where the rule comes from.
    pub source: &'static str,
    /// What was decided.
    pub decision: Option<String>,
}

impl Content {
    /// Works a record into a sheet; also gives the pictures that its figures call for.
    pub fn of(given: &Given<'_>) -> (Self, Pictures) {
        let (machine, worked) = (given.machine.as_ref(), given.worked);
        let wants = |section: Section| given.sections.contains(&section);
        let style = style_of(machine);
        // What was taken out is no longer on the machine: it is listed, and kept on the photos, which show it.
        let scene = lay_out(&worked.shown, given.catalogue, style);
        let name = |thing: &Thing| machine.thing_name(thing);
        let mut content = Self::bare(given);
        let mut pictures = Pictures::new();
        if wants(Section::Photos) {
            (content.photos, pictures) = photo_figures(machine, &scene, given.photos, &given.paper.photo_room());
        }
        if wants(Section::Diagram) {
            let there = lay_out(&without_removed(&worked.shown), given.catalogue, style);
            let sheetful = Sheetful::of(&there, "Connection diagram", &name);
            content.diagram = tiled(&sheetful, &given.paper.diagram_room());
        }
        if wants(Section::Ladder) {
            let room = given.paper.diagram_room();
            content.ladder = given.ladder.iter().map(|one| ladder_pages(one, &room, &name)).collect();
            content.ladder_doubts = ladder_doubts(worked);
        }
        if wants(Section::Wires) {
            content.wires = wire_table(worked).rows;
        }
        if wants(Section::Terminals) {
            content.terminals = part_rows(machine, given.catalogue);
        }
        if wants(Section::Readings) {
            content.readings = reading_rows(machine, &worked.judgement);
        }
        if wants(Section::Findings) {
            content.findings = finding_rows(machine, worked);
        }
        if wants(Section::Dead) {
            content.dead = dead_wiring(machine, worked);
        }
        if wants(Section::Mysteries) {
            content.mysteries = mystery_rows(machine, worked);
        }
        if wants(Section::NextVisit) {
            content.next = next_visit(machine, worked);
        }
        (content, pictures)
    }

    /// Puts the connection diagram in whole, at its own size, whatever paper there is.
    pub fn draw_whole(&mut self, machine: &Arc<Machine>, catalogue: &Arc<Catalogue>) {
        let scene = lay_out(&without_removed(machine), catalogue, style_of(machine));
        let name = |thing: &Thing| machine.thing_name(thing);
        self.diagram = whole(&Sheetful::of(&scene, "Connection diagram", &name));
    }

    fn bare(given: &Given<'_>) -> Self {
        Self {
            paper: given.paper,
            sections: given.sections.iter().copied().collect(),
            title: title(given.machine, given.worked, given.identity),
            cautions: cautions(given.machine, given.worked),
            photos: Vec::new(),
            diagram: Tiled::default(),
            ladder: Vec::new(),
            ladder_doubts: Vec::new(),
            wires: Vec::new(),
            terminals: Vec::new(),
            readings: Vec::new(),
            findings: Vec::new(),
            dead: DeadWiring::default(),
            mysteries: Vec::new(),
            next: NextVisit::default(),
        }
    }
}

fn without_removed(machine: &Arc<Machine>) -> Machine {
    let mut there = Machine::clone(machine);
    for (id, wire) in machine.wires.iter() {
        if wire.state == WireState::Removed {
            there.wires.put(id, None);
        }
    }
    there
}

fn title(machine: &Machine, worked: &Worked, identity: &Identity) -> Title {
    let facts = &machine.facts;
    let visit = machine.visits.values().last();
    let refrigerant = match (facts.refrigerant.as_str(), facts.flammable) {
        ("", Some(true)) => "one that burns".to_owned(),
        ("", _) => String::new(),
        (name, Some(true)) => format!("{name}, burns"),
        (name, Some(false)) => format!("{name}, does not burn"),
        (name, None) => format!("{name}; not recorded whether it burns"),
    };
    Title {
        machine: if facts.title.is_empty() { "Machine without a name".to_owned() } else { facts.title.clone() },
        location: facts.location.clone(),
        nameplate: facts.nameplate.clone(),
        refrigerant,
        note: facts.note.clone(),
        visit: visit.map_or_else(
            || "no visit is recorded".to_owned(),
            |visit| joined([visit.date.as_str(), visit.who.as_str(), visit.why.as_str()], ", "),
        ),
        visited: visit.map(|visit| joined([visit.date.as_str(), visit.who.as_str()], ", ")).unwrap_or_default(),
        work: visit.map(|visit| visit.work.clone()).unwrap_or_default(),
        id: identity.id.clone(),
        revision: identity.revision.clone(),
        code: identity.code(),
        known: known(worked),
        open: open(machine, worked),
        source: if facts.source.is_empty() { "not recorded".to_owned() } else { facts.source.clone() },
    }
}

/// How the ends of wires on the machine are known, in words and number; what does not occur is left out.
fn known(worked: &Worked) -> Vec<(String, usize)> {
    let ends: Vec<(Option<&str>, &EndAt)> = worked
        .shown
        .wires
        .iter()
        .filter(|(_, wire)| wire.is_present())
        .flat_map(|(id, wire)| Side::BOTH.map(|side| (worked.known(id, side), &wire.end(side).at)))
        .collect();
    let known = |words: &str| ends.iter().filter(|(known, _)| *known == Some(words)).count();
    let at = |at: &EndAt| ends.iter().filter(|(_, there)| *there == at).count();
    [
        ("ends proven by readings", known("proven")),
        ("ends recorded as proven, without a reading that proves it", known("recorded as proven")),
        ("ends seen, not proven", known("seen")),
        ("ends assumed, not seen", known("assumed")),
        ("ends that readings dispute", known("disputed")),
        ("ends loose", at(&EndAt::Loose)),
        ("ends not known", at(&EndAt::Unknown)),
    ]
    .into_iter()
    .filter(|(_, count)| *count > 0)
    .map(|(words, count)| (words.to_owned(), count))
    .collect()
}

/// Wires that are on both ends somewhere and not known well: the ladder draws them as any other.
fn ladder_doubts(worked: &Worked) -> Vec<String> {
    let doubt = |known: Option<&str>| matches!(known, Some("assumed" | "disputed"));
    let on_both = |wire: &Wire| Side::BOTH.into_iter().all(|side| wire.landed(side).is_some());
    let mut all = Vec::new();
    for (id, wire) in worked.shown.wires.iter().filter(|(_, wire)| on_both(wire)) {
        let known = Side::BOTH.map(|side| worked.known(id, side));
        if let Some(words) = known.into_iter().find(|known| doubt(*known)).flatten() {
            let disputed = known.contains(&Some("disputed"));
            all.push(format!("{} {}", wire.key, if disputed { "disputed" } else { words }));
        }
    }
    all
}

/// What is open: findings by severity, then mysteries.
fn open(machine: &Machine, worked: &Worked) -> Vec<(String, usize)> {
    let mut all: Vec<(String, usize)> = Severity::ALL
        .into_iter()
        .map(|severity| {
            let count = worked.findings.iter().filter(|one| one.severity == severity && !one.is_accepted()).count();
            (format!("{}s open", severity.word()), count)
        })
        .collect();
    all.push(("mysteries open".to_owned(), machine.mysteries.len()));
    all.retain(|(_, count)| *count > 0);
    all
}

/// What every sheet begins with.
fn cautions(machine: &Machine, worked: &Worked) -> Vec<Caution> {
    let mut all = Vec::new();
    let mut say = |word, text: String| all.push(Caution { word, text });
    let supplies = if worked.sources.is_empty() {
        "The record shows no source: find every supply of the machine and isolate it.".to_owned()
    } else {
        format!("Isolate every supply; the record shows {}, and there may be more.", worked.sources.join(", "))
    };
    say(
        "DANGER",
        format!(
            "Electric shock, also when the machine is switched off. {supplies} Lock and tag the isolation, and verify absence of voltage with a meter that is tried on a known live source before and after."
        ),
    );
    let stored = if worked.stored.is_empty() {
        "The record shows no capacitor; look for one all the same.".to_owned()
    } else {
        format!("The record shows {}.", worked.stored.join(", "))
    };
    say(
        "WARNING",
        format!(
            "Stored energy: capacitors can keep their charge when the supply is off. {stored} Discharge as the maker says, and verify."
        ),
    );
    if machine.facts.may_burn() {
        say("WARNING", "The refrigerant burns, or it is not recorded that it does not. Ventilate; no spark and no flame where it may have leaked.".to_owned());
    }
    say("WARNING", "Motors, fans and heaters can start by themselves. Keep hands, tools and leads clear.".to_owned());
    say("CAUTION", "This sheet shows what was recorded, not the machine. What is assumed, disputed or not known is marked so; verify it before relying on it. Colours and markings of wires prove nothing by themselves.".to_owned());
    say(
        "NOTICE",
        "Local codes, the maker's instructions and licensed practice come before anything on this sheet.".to_owned(),
    );
    all
}

/// Findings, with those of one rule that ask for the same in one row where they are many.
fn finding_rows(machine: &Machine, worked: &Worked) -> Vec<FindingRows> {
    let name =
        |finding: &Finding| finding.about.iter().map(|thing| machine.thing_name(thing)).collect::<Vec<_>>().join(" ");
    let mut rows = Vec::new();
    for alike in alike(&worked.findings) {
        let Some(first) = alike.first() else { continue };
        let what = if alike.len() == 1 {
            first.what.clone()
        } else {
            let looks_for = rules().iter().find(|rule| rule.name == first.rule).map_or("", |rule| rule.looks_for);
            format!("{} times: {looks_for}", alike.len())
        };
        rows.push(FindingRows {
            severity: first.severity.word(),
            rule: first.rule,
            about: alike.iter().map(|one| name(one)).collect::<Vec<_>>().join(if alike.len() == 1 {
                " "
            } else {
                ", "
            }),
            what,
            r#do: first.do_.clone(),
            source: first.source,
            decision: first.decision_words(),
        });
    }
    rows
}

/// Findings in order, those together of which three or more in a row are of one rule, ask for the same and are decided on alike.
pub(super) fn alike(findings: &[Finding]) -> Vec<Vec<&Finding>> {
    let same = |a: &Finding, b: &Finding| {
        a.rule == b.rule && a.severity == b.severity && a.do_ == b.do_ && a.decision == b.decision
    };
    let mut all: Vec<Vec<&Finding>> = Vec::new();
    for finding in findings {
        match all.last_mut() {
            Some(run) if run.first().is_some_and(|first| same(first, finding)) => run.push(finding),
            _ => all.push(vec![finding]),
        }
    }
    all.into_iter()
        .flat_map(|run| if run.len() > 2 { vec![run] } else { run.into_iter().map(|one| vec![one]).collect() })
        .collect()
}
