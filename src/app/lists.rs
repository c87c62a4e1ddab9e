//! What stands in the lists: which entries, in which order. Made once for each revision and search, not for each frame.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::catalogue::{Catalogue, Family};
use crate::desk::Removal;
use crate::findings::Finding;
use crate::machine::{
    EndAt, Known, Machine, MysteryId, PartId, Photo, PhotoId, Placement, ReadingId, Wire, WireEnd, WireId, WireState,
};
use crate::removal::{Judged, Verdict};

use super::stage::Stage;

/// A line of the list of kinds.
#[derive(Debug, Clone, PartialEq, Eq)]
pub enum KindLine {
    /// A family of kinds begins.
    Family(Family),
    /// A kind, by its name.
    Kind(String),
}

/// A line of the list of what may be taken out.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum RemovalLine {
    /// Things of this verdict begin: so many wires and parts.
    Verdict(Verdict, usize, usize),
    /// A wire.
    Wire(WireId),
    /// A part.
    Part(PartId),
}

/// The entries of every list.
#[derive(Debug, Clone, Default)]
pub struct Lists {
    made_for: Option<(u64, u64, BTreeMap<Stage, String>)>,
    /// Photos that match.
    pub photos: Vec<PhotoId>,
    /// Kinds that match, by family.
    pub kinds: Vec<KindLine>,
    /// Parts that match.
    pub parts: Vec<PartId>,
    /// Wires that match.
    pub wires: Vec<WireId>,
    /// Readings that match, newest first.
    pub readings: Vec<ReadingId>,
    /// Mysteries that match.
    pub mysteries: Vec<MysteryId>,
    /// Findings that match, by their place among the results.
    pub findings: Vec<usize>,
    /// What may be taken out and what may not, by verdict.
    pub removal: Vec<RemovalLine>,
    removal_made_for: Option<(Arc<Removal>, bool, String)>,
    /// Open things of each stage.
    open: BTreeMap<Stage, usize>,
}

impl Lists {
    /// How many things of a stage are open.
    pub fn open(&self, stage: Stage) -> usize {
        self.open.get(&stage).copied().unwrap_or(0)
    }

    /// Makes the list of what may be taken out anew when the verdicts or the search have changed since.
    pub fn refresh_removal(&mut self, (machine, removal): (&Machine, &Arc<Removal>), is_of_record: bool, search: &str) {
        let same = |(of, fresh, text): &(Arc<Removal>, bool, String)| {
            Arc::ptr_eq(of, removal) && *fresh == is_of_record && text == search
        };
        if self.removal_made_for.as_ref().is_some_and(same) {
            return;
        }
        self.removal_made_for = Some((Arc::clone(removal), is_of_record, search.to_owned()));
        let wanted = search.trim().to_lowercase();
        let verdicts = &removal.verdicts;
        let has_word = |judged: &Judged, name: &str| has(&wanted, &[name, judged.verdict.words(), &judged.reason]);
        self.removal.clear();
        for verdict in Verdict::ALL {
            let wires = verdicts.wires.iter().filter(|(id, judged)| {
                let wire = machine.wires.get(**id);
                judged.verdict == verdict
                    && wire.is_some_and(|wire| {
                        has_word(judged, &wire.key) || !wanted.is_empty() && has_wire(&wanted, machine, wire)
                    })
            });
            let wires: Vec<RemovalLine> = wires.map(|(&id, _)| RemovalLine::Wire(id)).collect();
            let parts = verdicts.parts.iter().filter(|(id, judged)| {
                judged.verdict == verdict && machine.parts.get(**id).is_some_and(|part| has_word(judged, &part.tag))
            });
            let parts: Vec<RemovalLine> = parts.map(|(&id, _)| RemovalLine::Part(id)).collect();
            if !wires.is_empty() || !parts.is_empty() {
                self.removal.push(RemovalLine::Verdict(verdict, wires.len(), parts.len()));
                self.removal.extend(wires.into_iter().chain(parts));
            }
        }
        let may_go = verdicts.wires.iter().filter(|(id, judged)| {
            let in_place = machine.wires.get(**id).is_some_and(|wire| wire.state == WireState::InPlace);
            judged.verdict.may_go() && in_place
        });
        self.open.insert(Stage::Removal, if is_of_record { may_go.count() } else { 0 });
    }

    /// Makes the lists anew when the record, its findings or a search has changed since.
    pub fn refresh(
        &mut self,
        (machine, revision): (&Machine, u64),
        catalogue: &Catalogue,
        (findings, findings_revision): (&[Finding], u64),
        search: &BTreeMap<Stage, String>,
    ) {
        let key = (revision, findings_revision, search.clone());
        if self.made_for.as_ref() == Some(&key) {
            return;
        }
        let wanted = |stage: Stage| search.get(&stage).map(|text| text.trim().to_lowercase()).unwrap_or_default();
        let photos = wanted(Stage::Photos);
        self.photos = keep(machine.photos.iter(), |photo| {
            has(&photos, &[&photo.name, &photo.caption, &photo.side, &photo.original_name])
        });
        let parts = wanted(Stage::Parts);
        self.parts = keep(machine.parts.iter(), |part| {
            if parts.is_empty() {
                return true;
            }
            let title = catalogue.kind(&part.kind).map_or("", |kind| kind.title.as_str());
            let printed = part.printed.as_deref().unwrap_or("");
            has(&parts, &[&part.tag, &part.kind, &part.title, &part.note, printed, title])
        });
        self.kinds = kinds(catalogue, &parts);
        let wires = wanted(Stage::Wires);
        self.wires = keep(machine.wires.iter(), |wire| has_wire(&wires, machine, wire));
        let readings = wanted(Stage::Readings);
        self.readings = keep(machine.readings.iter(), |reading| {
            let condition = reading.condition.and_then(|id| machine.conditions.get(id)).map_or("", |c| c.name.as_str());
            readings.is_empty()
                || has(
                    &readings,
                    &[
                        &reading.name,
                        &machine.spot_name(&reading.red),
                        &reading.black.as_ref().map(|spot| machine.spot_name(spot)).unwrap_or_default(),
                        &reading.value.to_string(),
                        condition,
                        &reading.note,
                    ],
                )
        });
        self.readings.reverse();
        let mysteries = wanted(Stage::Mysteries);
        self.mysteries = keep(machine.mysteries.iter(), |mystery| has(&mysteries, &[&mystery.name, &mystery.note]));
        let said = wanted(Stage::Findings);
        self.findings = (0..findings.len())
            .filter(|&place| {
                said.is_empty()
                    || findings.get(place).is_some_and(|f| has(&said, &[f.rule, &f.what, f.severity.word()]))
            })
            .collect();
        for stage in Stage::ALL.into_iter().filter(|&stage| stage != Stage::Removal) {
            self.open.insert(stage, open_things(stage, machine, catalogue, findings));
        }
        self.made_for = Some(key);
    }
}

fn keep<'a, K, V: 'a>(entries: impl Iterator<Item = (K, &'a V)>, matches: impl Fn(&V) -> bool) -> Vec<K> {
    entries.filter(|(_, entry)| matches(entry)).map(|(id, _)| id).collect()
}

/// Whether every word that is searched for stands in one of the texts.
fn has(wanted: &str, texts: &[&str]) -> bool {
    wanted.split_whitespace().all(|word| texts.iter().any(|text| text.to_lowercase().contains(word)))
}

fn has_wire(wanted: &str, machine: &Machine, wire: &Wire) -> bool {
    wanted.is_empty()
        || has(
            wanted,
            &[
                &wire.key,
                wire.number.as_deref().unwrap_or(""),
                &machine.end_name(&wire.from.at),
                &machine.end_name(&wire.to.at),
                &wire.colour.map(|colour| format!("{colour} {}", colour.words())).unwrap_or_default(),
                wire.state.words(),
                wire.from.known.words(),
                wire.to.known.words(),
                &wire.note,
            ],
        )
}

fn kinds(catalogue: &Catalogue, wanted: &str) -> Vec<KindLine> {
    let mut lines = Vec::new();
    for family in Family::ALL {
        let before = lines.len();
        lines.push(KindLine::Family(family));
        for kind in catalogue.kinds().filter(|kind| kind.family == family) {
            let words = kind.words.join(" ");
            if has(wanted, &[&kind.name, &kind.title, &words, family.words(), &kind.letters.iec, &kind.letters.us]) {
                lines.push(KindLine::Kind(kind.name.clone()));
            }
        }
        if lines.len() == before + 1 {
            lines.truncate(before);
        }
    }
    lines
}

fn open_things(stage: Stage, machine: &Machine, catalogue: &Catalogue, findings: &[Finding]) -> usize {
    match stage {
        Stage::Photos => machine.photos.values().filter(|photo| is_unscaled(photo)).count(),
        Stage::Parts => machine
            .parts
            .values()
            .filter(|part| catalogue.kind(&part.kind).is_none_or(|kind| kind.family == Family::Unknown))
            .count(),
        Stage::Wires => machine
            .wires
            .values()
            .filter(|wire| wire.is_present())
            .filter(|wire| [&wire.from, &wire.to].iter().any(|end| end.lifted || !matches!(end.at, EndAt::Terminal(_))))
            .count(),
        Stage::Readings => machine.readings.values().filter(|reading| reading.condition.is_none()).count(),
        Stage::Mysteries => machine.mysteries.len(),
        Stage::Findings => findings.iter().filter(|finding| finding.decision.is_none()).count(),
        Stage::Sheet => machine
            .wires
            .values()
            .filter(|wire| wire.is_present())
            .filter(|wire| {
                let assumed = |end: &WireEnd| end.known == Known::Assumed && matches!(end.at, EndAt::Terminal(_));
                [&wire.from, &wire.to].into_iter().any(assumed)
            })
            .count(),
        // Counted when they are judged, see `refresh_removal`.
        Stage::Removal => 0,
    }
}

/// Whether a photo still has the width it was laid down with, in millimetres.
fn is_unscaled(photo: &Photo) -> bool {
    match photo.placement {
        Placement::Similarity { mm_per_px, .. } => {
            // Turning a photo changes its sides over, and its scale not at all.
            photo.size_px.iter().any(|&side| (mm_per_px * f64::from(side) - STARTING_WIDTH_MM).abs() < 1e-6)
        }
        Placement::Homography(_) => false,
    }
}

/// Width a photo is laid down with until two points of known distance are given.
const STARTING_WIDTH_MM: f64 = 400.0;

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::Part;

    #[test]
    fn a_search_keeps_what_has_every_word_and_counts_stay_counts_of_open_things() {
        let mut machine = Machine::default();
        for (key, number) in [("W1", "17"), ("W2", "18")] {
            let wire = Wire { key: key.into(), number: Some(number.into()), ..Wire::default() };
            let (_, edit) = machine.add_wire(wire);
            machine.apply(edit);
        }
        let (part, edit) = machine.add_part(Part { tag: "K1".into(), kind: "not-there".into(), ..Part::default() });
        machine.apply(edit);
        let landed = EndAt::Terminal(crate::machine::TerminalRef::new(part, "A1"));
        let edit = machine.edit_wire(WireId(1), "Land", |wire| {
            wire.from = WireEnd { at: landed.clone(), ..WireEnd::default() };
            wire.to = WireEnd { at: landed.clone(), ..WireEnd::default() };
        });
        machine.apply(edit);
        let mut lists = Lists::default();
        let search = BTreeMap::from([(Stage::Wires, "unknown 17".to_owned())]);
        lists.refresh((&machine, 1), &Catalogue::default(), (&[], 1), &search);
        assert_eq!(lists.wires, [WireId(0)]);
        assert_eq!(lists.open(Stage::Wires), 1);
        assert_eq!(lists.open(Stage::Parts), 1, "a part whose kind nobody knows is open");
    }
}
