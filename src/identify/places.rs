//! Readings that may tell hypotheses apart: where probes can be put, in which condition, with what the meter is set to.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::Node;
use crate::circuit::electric::What;
use crate::machine::{Guess, PartId, Spot, Subject, TerminalRef};
use crate::quantity::{Current, Function};

use super::propose::Bench;
use super::risk::Risk;
use super::world::{Flaw, Place, subject_spots};

/// Pairs of places that are looked at.
const MOST_PAIRS: usize = 400;
/// Places of a group that are held against every terminal where nothing nearer tells.
const MOST_WIDELY: usize = 6;
/// Nets that loads of the group lead to, against which its places are looked at.
const MOST_BEHIND: usize = 3;
/// Loads that are looked at.
const MOST_LOOKS: usize = 16;
/// Terminals of a part on which an unknown lead begins that are looked at besides.
const MOST_OF_A_PART: usize = 8;

impl Bench<'_> {
    /// Readings that may tell the hypotheses apart: between places that have to do with the group; widely, between each of those and
    /// every terminal.
    pub(super) fn places(&self, widely: bool) -> Vec<Place> {
        let machine = self.log.machine;
        let spots = self.spots();
        let mut pairs: Vec<(Spot, Spot)> = Vec::new();
        if widely {
            let inner = |spot: &Spot| matches!(spot, Spot::Terminal(_) | Spot::End(..));
            let all: Vec<Spot> = self
                .log
                .network
                .nodes()
                .filter(|(_, info)| !info.inner && inner(&info.spot))
                .map(|(_, info)| info.spot.clone())
                .filter(|spot| !self.asked.out_of_reach.contains(spot))
                .collect();
            for red in spots.iter().take(MOST_WIDELY) {
                pairs.extend(all.iter().filter(|black| *black != red).map(|black| (red.clone(), black.clone())));
            }
        } else {
            for (at, red) in spots.iter().enumerate() {
                pairs.extend(spots[at + 1..].iter().map(|black| (red.clone(), black.clone())));
            }
            // What loads differ in shows against where they lead.
            let behind = self.behind(&spots);
            pairs.splice(0..0, spots.iter().flat_map(|red| behind.iter().map(|black| (red.clone(), black.clone()))));
        }
        pairs.truncate(MOST_PAIRS);
        let meter = machine.readings.values().rev().find_map(|reading| reading.meter);
        let direct = self.log.network.sources().iter().any(|source| source.current == Current::Dc)
            || self.log.network.derived().iter().any(|one| one.current == Current::Dc);
        let mut places = Vec::new();
        for (&condition, &risk) in &self.risks {
            let functions: &[Function] = match risk {
                Risk::Dead => &[Function::Tone, Function::Ohms],
                _ if direct => &[Function::VoltsAc, Function::VoltsDc],
                _ => &[Function::VoltsAc],
            };
            for (red, black) in &pairs {
                for &function in functions {
                    let (red, black) = (red.clone(), Some(black.clone()));
                    places.push(Place { condition, red, black, function, meter });
                }
            }
            if risk != Risk::Dead && !widely {
                let mut looks: BTreeSet<PartId> = BTreeSet::new();
                looks.extend(self.log.network.loads().iter().map(|load| load.inside.part).take(MOST_LOOKS));
                places.extend(looks.into_iter().map(|part| Place {
                    condition,
                    red: Spot::Part(part),
                    black: None,
                    function: Function::Runs,
                    meter: None,
                }));
            }
        }
        places
    }

    /// A terminal on each of the nets that most loads and coils on the nets of these places lead to.
    fn behind(&self, spots: &[Spot]) -> Vec<Spot> {
        let network = &self.log.network;
        let own: BTreeSet<u32> = spots.iter().flat_map(|spot| self.log.nets_at(spot)).collect();
        let loads = network.loads().iter().map(|load| load.inside.ends);
        let coils = network.relays().iter().map(|relay| relay.inside.ends);
        let passives = network.passives().iter().map(|(_, inside)| inside.ends);
        let mut count: BTreeMap<u32, usize> = BTreeMap::new();
        for ends in loads.chain(coils).chain(passives) {
            let nets = ends.map(|node| self.log.net(node));
            for (near, far) in [(nets[0], nets[1]), (nets[1], nets[0])] {
                if own.contains(&near) && !own.contains(&far) {
                    *count.entry(far).or_default() += 1;
                }
            }
        }
        let mut most: Vec<(u32, usize)> = count.into_iter().collect();
        most.sort_by_key(|&(net, count)| (std::cmp::Reverse(count), net));
        most.truncate(MOST_BEHIND);
        let on = |net: u32| {
            let reached = network.nodes().filter(|(_, info)| !info.inner && matches!(info.spot, Spot::Terminal(_)));
            let mut reached = reached.filter(|(_, info)| !self.asked.out_of_reach.contains(&info.spot));
            reached.find(|(node, _)| self.log.net(*node) == net).map(|(_, info)| info.spot.clone())
        };
        most.into_iter().filter_map(|(net, _)| on(net)).collect()
    }

    /// Where probes can be put that has to do with the group: near ends of unknown leads, then candidates, what hangs on them, and
    /// the ends of what may be faulty.
    fn spots(&self) -> Vec<Spot> {
        let (machine, network) = (self.log.machine, &self.log.network);
        let mut spots: Vec<Spot> = Vec::new();
        let mut more: Vec<Spot> = Vec::new();
        let own_terminals = |part: PartId| -> Vec<Spot> {
            let body = machine.parts.get(part).map(|part| self.log.catalogue.body(part));
            let terminals = body.iter().flat_map(|body| &body.terminals);
            terminals.map(|terminal| Spot::Terminal(TerminalRef { part, marking: terminal.marking.clone() })).collect()
        };
        let looked_at = || self.hypotheses.iter().filter_map(|&at| self.account.hypotheses.get(at));
        let asked_about = |&at: &usize| Some((at, machine.mysteries.get(*self.account.group.mysteries.get(at)?)?));
        for (at, mystery) in self.open.iter().filter_map(asked_about) {
            for spot in subject_spots(machine, &mystery.subject) {
                let own = match &spot {
                    Spot::Part(part) | Spot::Terminal(TerminalRef { part, .. }) => own_terminals(*part),
                    _ => Vec::new(),
                };
                match (&mystery.subject, &spot) {
                    (_, Spot::Part(_)) => spots.extend(own),
                    (Subject::ContactForm(_) | Subject::Fault(Spot::Terminal(_)), _) => {
                        spots.push(spot);
                        spots.extend(own);
                    }
                    (Subject::End(..), _) => {
                        spots.push(spot);
                        more.extend(own.into_iter().take(MOST_OF_A_PART));
                    }
                    _ => spots.push(spot),
                }
            }
            // Candidates that are out of the question tell less than those that are not.
            let held: BTreeSet<usize> = looked_at().filter_map(|one| self.account.says(one, at)).collect();
            for (number, candidate) in mystery.candidates.iter().enumerate() {
                if let Guess::Terminal(terminal) = &candidate.guess {
                    let to = if held.contains(&number) { &mut spots } else { &mut more };
                    to.push(Spot::Terminal(terminal.clone()));
                }
            }
        }
        let suspected: BTreeSet<Flaw> = looked_at().flat_map(|one| one.flaws.iter().copied()).collect();
        let reached = |node: &Node| network.info(*node).filter(|info| !info.inner).map(|info| info.spot.clone());
        for flaw in suspected {
            let what = match flaw {
                Flaw::Open(what) => what,
                Flaw::Welded(contact) => What::Contact(contact),
            };
            let ends = what.ends(network);
            spots.extend(ends.iter().flatten().filter_map(reached));
        }
        let mut seen = BTreeSet::new();
        let reached = |spot: &Spot| !self.asked.out_of_reach.contains(spot);
        spots.into_iter().chain(more).filter(reached).filter(|spot| seen.insert(spot.clone())).collect()
    }
}
