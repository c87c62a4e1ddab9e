//! Verdicts for all wires of machines with many free switches, beside a sweep through every position of them.
//!
//! `cargo bench --no-default-features --bench removal`. The machines have relays that hold themselves in, selectors that are never on
//! together, links from rung to rung, twins, stubs and circuits that can never close. The sweep stands for going through all positions by
//! hand: it settles the relays from rest and tells which wires carry, no more, in settings that the constraints rule out too.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot begin has nothing to measure")]

use std::collections::BTreeMap;
use std::time::{Duration, Instant};

use divan::black_box;
use wirewitness::catalogue::{Catalogue, Form};
use wirewitness::circuit::{Network, Works, blocks};
use wirewitness::generate::Random;
use wirewitness::machine::{Constraint, EndAt, Machine, Part, PartId, Statement, TerminalRef, Wire, WireEnd};
use wirewitness::removal::{Budget, Verdict, judge};

fn main() {
    let catalogue = Catalogue::built_in().unwrap().with_kinds("kinds.ron", include_str!("../wired/kinds.ron")).unwrap();
    for (switches, elements) in [(12, 300), (16, 300), (20, 300), (30, 300), (30, 600)] {
        let machine = made(switches, elements);
        let mut times: Vec<Duration> = (0..7)
            .map(|_| {
                let start = Instant::now();
                black_box(judge(&machine, &catalogue, Budget::default()));
                start.elapsed()
            })
            .collect();
        times.sort_unstable();
        let verdicts = judge(&machine, &catalogue, Budget::default());
        let mut by: BTreeMap<&str, usize> = BTreeMap::new();
        let mut how: BTreeMap<&str, usize> = BTreeMap::new();
        for one in verdicts.wires.values() {
            *by.entry(one.verdict.word()).or_default() += 1;
            *how.entry(one.proof.map_or("none", |proof| proof.method.word())).or_default() += 1;
        }
        assert!(verdicts.wires.values().all(|one| one.verdict != Verdict::NotDecided));
        println!(
            "{switches} switches, {elements} elements: median {:?} of 7 ({:?} to {:?}); {} conditions; {by:?}; {how:?}",
            times[3],
            times[0],
            times[6],
            verdicts.conditions.map_or_else(|| "not counted".to_owned(), |count| format!("{count:e}"))
        );
        if switches <= 20 {
            let start = Instant::now();
            let carrying = sweep(&machine, &catalogue);
            println!(
                "   the sweep: {:?} for 2^{switches} settings, {carrying} wires carry in one of them",
                start.elapsed()
            );
        }
    }
}

struct Making {
    machine: Machine,
    random: Random,
    line: PartId,
    neutral: PartId,
    elements: usize,
}

impl Making {
    fn below(&mut self, n: usize) -> usize {
        usize::try_from(self.random.next() % n.max(1) as u64).unwrap()
    }

    fn part(&mut self, letter: &str, kind: &str) -> PartId {
        let tag = self.machine.free_tag(letter);
        self.elements += 1;
        self.machine.parts.add(Part { tag, kind: kind.to_owned(), ..Part::default() })
    }

    fn wire(&mut self, from: (PartId, String), to: Option<(PartId, String)>) {
        let end = |at: Option<(PartId, String)>| WireEnd {
            at: at.map_or(EndAt::Loose, |(part, marking)| EndAt::Terminal(TerminalRef::new(part, marking))),
            ..WireEnd::default()
        };
        let key = format!("W{}", self.machine.wires.len() + 1);
        self.machine.wires.add(Wire { key, from: end(Some(from)), to: end(to), ..Wire::default() });
        self.elements += 1;
    }
}

/// A machine of so many free switches and about so many elements: wires, contacts, coils and loads.
fn made(switches: usize, elements: usize) -> Machine {
    let mut machine = Machine::default();
    let mut part = |tag: &str, kind: &str| {
        machine.parts.add(Part { tag: tag.to_owned(), kind: kind.to_owned(), ..Part::default() })
    };
    let (plug, line, neutral) = (part("X1", "cord-plug"), part("B1", "splice"), part("B2", "splice"));
    let mut m = Making { machine, random: Random::from_seed(9), line, neutral, elements: 3 };
    m.wire((plug, "L".into()), Some((line, "1".into())));
    m.wire((plug, "N".into()), Some((neutral, "1".into())));
    // Each switch works as many contacts as it is asked for: a ganged switch grows by one.
    let levers: Vec<PartId> = (0..switches).map(|_| m.part("S", "ganged-switch")).collect();
    let mut used: BTreeMap<PartId, u16> = BTreeMap::new();
    let relays: Vec<PartId> = (0..10).map(|_| m.part("K", "many-contact-relay")).collect();
    let mut places: Vec<(PartId, String)> = Vec::new();
    let mut rung = 0;
    while m.elements < elements {
        let is_coil = rung < relays.len();
        let load = if is_coil { relays[rung] } else { m.part("P", "lamp") };
        let ends = if is_coil { ["A1", "A2"] } else { ["1", "2"] };
        let mut at = (m.line, "1".to_owned());
        for step in 0..2 + m.below(3) {
            // Every lever gets used; relays of rungs before this one have a say too.
            let from_relay = rung > 0 && step > 0 && m.below(3) == 0;
            let worker = if from_relay {
                relays[m.below(rung.min(relays.len()))]
            } else {
                levers[(rung * 3 + step) % levers.len()]
            };
            let count = used.entry(worker).or_insert(0);
            *count += 1;
            let n = *count;
            let (a, b) = if m.below(4) == 0 { (1, 2) } else { (3, 4) };
            let mut grown = m.machine.parts.get(worker).unwrap().clone();
            grown.count = n;
            m.machine.parts.put(worker, Some(grown.into()));
            m.wire(at, Some((worker, format!("{n}{a}"))));
            at = (worker, format!("{n}{b}"));
            m.elements += 1;
            places.push(at.clone());
        }
        m.wire(at, Some((load, ends[0].to_owned())));
        m.wire((load, ends[1].to_owned()), Some((m.neutral, "1".into())));
        match m.below(8) {
            0 => {
                let from = places[m.below(places.len())].clone();
                m.wire(from, None);
            }
            1 if places.len() > 4 => {
                let near = places.len() - 4;
                let (from, to) = (places[near].clone(), places[near + 3].clone());
                m.wire(from, Some(to));
            }
            2 => {
                let twin = m.machine.wires.values().next_back().unwrap().clone();
                let key = format!("W{}", m.machine.wires.len() + 1);
                m.machine.wires.add(Wire { key, ..twin });
            }
            _ => {}
        }
        rung += 1;
    }
    let on = |part: PartId| Statement::Position(part, "lever".to_owned(), "on".to_owned());
    for pair in levers.chunks(5).filter(|chunk| chunk.len() > 1) {
        m.machine.constraints.add(Constraint::NeverBoth(pair[..2].iter().map(|&lever| on(lever)).collect()));
    }
    m.machine
}

/// What works a contact: a relay or else a lever, which one, closed when it is worked.
type Worker = (bool, usize, bool);

/// Goes through every position of every switch; returns how many wires carry in one of them.
fn sweep(machine: &Machine, catalogue: &Catalogue) -> usize {
    let network = Network::of(machine, catalogue);
    let mut levers: BTreeMap<PartId, usize> = BTreeMap::new();
    let mut edges: Vec<(u32, u32, Option<Worker>)> = Vec::new();
    for wire in network.wires() {
        edges.push((wire.ends[0].0, wire.ends[1].0, None));
    }
    let wires = edges.len();
    for wire in network.wires() {
        for (end, at) in wire.ends.iter().zip(wire.landed) {
            edges.extend(at.map(|at| (end.0, at.0, None)));
        }
    }
    edges.extend(network.joins().iter().map(|one| (one.ends[0].0, one.ends[1].0, None)));
    for contact in network.contacts() {
        let when = if let Works::Relay(relay) = &contact.works {
            (true, *relay, contact.form == Form::Make)
        } else {
            let next = levers.len();
            (false, *levers.entry(contact.inside.part).or_insert(next), contact.form == Form::Make)
        };
        edges.push((contact.inside.ends[0].0, contact.inside.ends[1].0, Some(when)));
    }
    edges.extend(network.loads().iter().map(|one| (one.inside.ends[0].0, one.inside.ends[1].0, None)));
    let first_coil = edges.len();
    edges.extend(network.relays().iter().map(|one| (one.inside.ends[0].0, one.inside.ends[1].0, None)));
    let source = network.sources()[0].inside.ends;
    edges.push((source[0].0, source[1].0, None));
    let relays = network.relays().len();
    let mut carries = vec![false; wires];
    for setting in 0..1usize << levers.len() {
        let mut worked = vec![false; relays];
        for _ in 0..relays + 2 {
            let closed: Vec<usize> = (0..edges.len())
                .filter(|&at| match edges[at].2 {
                    None => true,
                    Some((true, relay, make)) => worked[relay] == make,
                    Some((false, lever, make)) => (setting >> lever & 1 == 1) == make,
                })
                .collect();
            let ends: Vec<(u32, u32)> = closed.iter().map(|&at| (edges[at].0, edges[at].1)).collect();
            let block = blocks(network.len(), &ends);
            let live = block[block.len() - 1];
            let now: Vec<bool> = (0..relays)
                .map(|relay| closed.binary_search(&(first_coil + relay)).is_ok_and(|at| block[at] == live))
                .collect();
            for (&at, &block) in closed.iter().zip(&block).take_while(|(at, _)| **at < wires) {
                carries[at] |= block == live;
            }
            if now == worked {
                break;
            }
            worked = now;
        }
    }
    carries.iter().filter(|carries| **carries).count()
}
