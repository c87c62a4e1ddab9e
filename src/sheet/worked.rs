//! What is worked out of a record before it goes on paper: findings, standings, odds, next readings, verdicts.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::circuit::Network;
use crate::circuit::electric::{Judgement, proven_ends, with_standings};
use crate::findings::{self, Finding};
use crate::identify::{Asked, MysteryOdds, Next, Proposal, Reasoned, in_order};
use crate::machine::{EndAt, Known, Machine, MysteryId, Side, WireId};
use crate::removal::{Budget, Verdicts, judge};

use super::section::Section;

/// How many readings are proposed for each group of mysteries.
const MOST_PROPOSALS: usize = 2;

/// Results for one record.
#[derive(Debug, Clone, Default)]
pub struct Worked {
    /// The record with each end known as the readings have it.
    pub shown: Arc<Machine>,
    /// Ends that readings prove: others that are recorded as proven are only that.
    pub proven: BTreeSet<(WireId, Side)>,
    /// All findings, worst first.
    pub findings: Vec<Finding>,
    /// Each reading held against the record.
    pub judgement: Judgement,
    /// Parts that feed the machine, and those that store charge, by name.
    pub sources: Vec<String>,
    /// As [`Self::sources`], of capacitors.
    pub stored: Vec<String>,
    /// Odds of each mystery with candidates.
    pub odds: Vec<MysteryOdds>,
    /// The next readings in order, with the mysteries they are for.
    pub next: Vec<(Vec<MysteryId>, Proposal)>,
    /// What no reading tells apart.
    pub alike: Vec<Vec<Vec<String>>>,
    /// Verdicts on dead wiring.
    pub verdicts: Verdicts,
}

impl Worked {
    /// Works out what these sections need of a record; what none of them shows is left empty.
    pub fn of(machine: &Arc<Machine>, catalogue: &Arc<Catalogue>, sections: &BTreeSet<Section>) -> Self {
        Self::while_wanted(machine, catalogue, sections, &|| true)
    }

    /// As [`Self::of`]; `go_on` is asked now and then, and `false` ends the work: what comes out is then not whole, and to be thrown away.
    pub fn while_wanted(
        machine: &Arc<Machine>,
        catalogue: &Arc<Catalogue>,
        sections: &BTreeSet<Section>,
        go_on: &(dyn Fn() -> bool + Sync),
    ) -> Self {
        let network = Network::of(machine, catalogue);
        let (findings, judgement) = findings::examine(machine, &network);
        let names = |parts: BTreeSet<crate::machine::PartId>| {
            parts.into_iter().map(|part| machine.part_name(part).to_owned()).collect::<Vec<_>>()
        };
        let mut worked = Self {
            shown: with_standings(machine, &network, &judgement),
            proven: proven_ends(&network, &judgement),
            findings,
            sources: names(network.sources().iter().map(|source| source.inside.part).collect()),
            stored: names(
                network
                    .passives()
                    .iter()
                    .filter(|(what, _)| *what == crate::circuit::Passive::Capacitor)
                    .map(|(_, inside)| inside.part)
                    .collect(),
            ),
            judgement,
            ..Self::default()
        };
        if go_on() && (sections.contains(&Section::Mysteries) || sections.contains(&Section::NextVisit)) {
            worked.reason(machine, catalogue, sections.contains(&Section::NextVisit), go_on);
        }
        if go_on() && sections.contains(&Section::Dead) {
            worked.verdicts = judge(machine, catalogue, Budget { go_on, ..Budget::default() });
        }
        worked
    }

    /// How the connection at an end is known, as the readings have it; `None` where the end is on no terminal or gone.
    pub fn known(&self, id: WireId, side: Side) -> Option<&'static str> {
        let end = self.shown.wires.get(id)?.end(side);
        let words = match end.known {
            Known::Proven if !self.proven.contains(&(id, side)) => "recorded as proven",
            known => known.words(),
        };
        matches!(end.at, EndAt::Terminal(_)).then_some(words)
    }

    fn reason(
        &mut self,
        machine: &Machine,
        catalogue: &Arc<Catalogue>,
        with_next: bool,
        go_on: &(dyn Fn() -> bool + Sync),
    ) {
        let stopped = || !go_on();
        let Some(reasoned) = Reasoned::unless(machine, catalogue, &stopped) else { return };
        self.odds = reasoned.mysteries(machine);
        if !with_next {
            return;
        }
        // On the way there the machine is in no condition of the record yet.
        let asked = Asked { most: MOST_PROPOSALS, ..Asked::default() };
        let Some(all) = Next::of_all(machine, catalogue, &reasoned, &asked, &stopped) else { return };
        let mut groups = Vec::new();
        for (account, next) in reasoned.accounts.iter().zip(all) {
            for set in &next.alike {
                let words = account.apart_in(machine, catalogue, set);
                if !self.alike.contains(&words) {
                    self.alike.push(words);
                }
            }
            groups.push((account.group.mysteries.clone(), next.proposals));
        }
        self.next = in_order(groups);
    }
}
