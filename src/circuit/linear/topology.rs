//! What hangs together: nets, groups that ideal sources hold, islands, pockets.

use std::collections::{BTreeMap, BTreeSet};

use super::super::partition::Partition;
use super::coupling::{Span, takes_part};
use super::{Circuit, Part, Phasor, Reason, Remark};

/// Stands for a node or group that is not there.
pub(super) const NONE: u32 = u32::MAX;

/// Differences of ideal sources in a loop below this share of the largest count as none.
const AGREES: f64 = 1e-9;
/// Ratios of turns below this, or above its inverse, are no ratios.
const LEAST: f64 = 1e-9;

/// The structure of a network at one frequency.
#[derive(Debug, Clone)]
pub(super) struct Topology {
    /// Each branch at this frequency; `Open` where its nodes do not exist.
    pub parts: Vec<Part>,
    /// For each node: its net.
    pub net: Vec<u32>,
    /// For each node: its group of nets that ideal sources hold together.
    pub group: Vec<u32>,
    /// For each node: volts against its group's own zero.
    pub offset: Vec<Phasor>,
    /// For each node: its island.
    pub island: Vec<u32>,
    /// For each group: its pocket, and its row there. The reference of an island has none.
    pub place: Vec<Option<(u32, u32)>>,
    /// For each pocket: its groups in order of row.
    pub pockets: Vec<Vec<u32>>,
    /// For each pocket: its transformers.
    pub transformers: Vec<Vec<usize>>,
    /// For each island: why there are no volts in it.
    pub broken: Vec<Option<Reason>>,
    /// For each transformer: whether it takes part. One with both sides loose does not.
    pub takes: Vec<bool>,
    /// Transformers all of whose ends are held by ideal sources or wires: no equation tells their current.
    pub stuck: Vec<usize>,
    /// For each branch that is an ideal source: whether it stands in a loop of such.
    pub in_loop: Vec<bool>,
    /// What is wrong.
    pub remarks: Vec<Remark>,
}

/// Union-find that carries a difference of volts along: `v(a) = v(root) + offset`.
pub(super) struct Groups {
    parent: Vec<u32>,
    offset: Vec<Phasor>,
}

impl Groups {
    pub(super) fn new(n: u32) -> Self {
        Self { parent: (0..n).collect(), offset: vec![Phasor::new(0.0, 0.0); n as usize] }
    }

    /// The root, and volts of `a` against it.
    pub(super) fn find(&mut self, a: u32) -> (u32, Phasor) {
        let (mut at, mut sum) = (a, Phasor::new(0.0, 0.0));
        while self.parent[at as usize] != at {
            sum += self.offset[at as usize];
            at = self.parent[at as usize];
        }
        // Everything on the way now hangs on the root itself.
        let (root, mut here, mut left) = (at, a, sum);
        while self.parent[here as usize] != here {
            let (next, step) = (self.parent[here as usize], self.offset[here as usize]);
            self.parent[here as usize] = root;
            self.offset[here as usize] = left;
            left -= step;
            here = next;
        }
        (root, sum)
    }

    /// Makes `v(a) − v(b)` these volts. `Err` with the difference there was when they already hang together.
    pub(super) fn tie(&mut self, a: u32, b: u32, volts: Phasor) -> Result<(), Phasor> {
        let ((root_a, of_a), (root_b, of_b)) = (self.find(a), self.find(b));
        if root_a == root_b {
            return Err(of_a - of_b);
        }
        // v(root of the larger) is told from the root of the smaller number.
        if root_a < root_b {
            self.parent[root_b as usize] = root_a;
            self.offset[root_b as usize] = of_a - of_b - volts;
        } else {
            self.parent[root_a as usize] = root_b;
            self.offset[root_a as usize] = of_b - of_a + volts;
        }
        Ok(())
    }
}

impl Topology {
    pub(super) fn of(circuit: &Circuit, omega: f64) -> Self {
        let nodes = circuit.nodes;
        let exists = |node: u32| node < nodes;
        let mut remarks = Vec::new();
        let parts: Vec<Part> = circuit
            .branches
            .iter()
            .enumerate()
            .map(|(number, &(a, b, branch))| {
                let part = if exists(a) && exists(b) { branch.at(omega) } else { Part::Open };
                if part == Part::Bad {
                    remarks.push(Remark { reason: Reason::NotANumber, branches: vec![number] });
                    return Part::Open;
                }
                part
            })
            .collect();
        let mut wired = Partition::new(nodes as usize);
        for (&(a, b, _), part) in circuit.branches.iter().zip(&parts) {
            if *part == Part::Wire {
                // Already joined: a loop of wires, which needs no saying.
                wired.join(a, b);
            }
        }
        let net = wired.classes();
        let of = |node: u32| net[node as usize];

        let mut held = Groups::new(nodes);
        let mut in_loop = vec![false; parts.len()];
        let mut broken_groups: Vec<(u32, Reason)> = Vec::new();
        let mut ties: Vec<usize> = Vec::new();
        for (number, (&(a, b, _), part)) in circuit.branches.iter().zip(&parts).enumerate() {
            let Part::Holds(volts) = *part else { continue };
            let (a, b) = (of(a), of(b));
            if a == b {
                if volts.norm() > 0.0 {
                    let mut branches = wires_between(circuit, &parts, number);
                    branches.push(number);
                    branches.sort_unstable();
                    remarks.push(Remark { reason: Reason::Shorted, branches });
                    broken_groups.push((a, Reason::Shorted));
                }
                in_loop[number] = true;
                continue;
            }
            match held.tie(a, b, volts) {
                Ok(()) => ties.push(number),
                Err(there) => {
                    let round = sources_between(circuit, &net, &ties, a, b);
                    for &source in round.iter().chain([&number]) {
                        in_loop[source] = true;
                    }
                    let mut branches = round;
                    branches.push(number);
                    branches.sort_unstable();
                    let agrees = (there - volts).norm() <= AGREES * there.norm().max(volts.norm());
                    let reason = if agrees { Reason::Shared } else { Reason::Conflict };
                    if !agrees {
                        broken_groups.push((a, Reason::Conflict));
                    }
                    remarks.push(Remark { reason, branches });
                }
            }
        }
        let mut group = net.clone();
        let mut offset = vec![Phasor::new(0.0, 0.0); nodes as usize];
        if !ties.is_empty() {
            // The first node of a net comes before its others.
            for node in 0..nodes as usize {
                let own = net[node] as usize;
                (group[node], offset[node]) =
                    if own == node { held.find(net[node]) } else { (group[own], offset[own]) };
            }
        }
        let is_span = |part: &Part| part.admittance().is_some() || matches!(part, Part::Injects(_));
        let spans: Vec<Span> = circuit
            .branches
            .iter()
            .zip(&parts)
            .enumerate()
            .filter(|(_, (_, part))| is_span(part))
            .map(|(number, (&(a, b, _), &part))| Span { number, ends: (group[a as usize], group[b as usize]), part })
            .collect();
        let mut topology = Self {
            parts,
            net,
            group,
            offset,
            island: Vec::new(),
            place: vec![None; nodes as usize],
            pockets: Vec::new(),
            transformers: Vec::new(),
            broken: Vec::new(),
            takes: Vec::new(),
            stuck: Vec::new(),
            in_loop,
            remarks,
        };
        topology.find_transformers(circuit, &spans);
        topology.find_islands(circuit, &spans, &broken_groups);
        topology.find_pockets(circuit, &spans);
        topology
    }

    /// The group of a node; `NONE` for one that does not exist.
    pub(super) fn group_of(&self, node: u32) -> u32 {
        self.group.get(node as usize).copied().unwrap_or(NONE)
    }

    /// The nets that other ideal sources hold to the first node of this one.
    pub(super) fn side(&self, circuit: &Circuit, source: usize) -> BTreeSet<u32> {
        let mut near: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
        for (number, (&(a, b, _), part)) in circuit.branches.iter().zip(&self.parts).enumerate() {
            if number != source && matches!(part, Part::Holds(_)) {
                let (a, b) = (self.net[a as usize], self.net[b as usize]);
                near.entry(a).or_default().push(b);
                near.entry(b).or_default().push(a);
            }
        }
        let first = self.net[circuit.branches[source].0 as usize]; // a source that holds has its nodes
        let mut side = BTreeSet::from([first]);
        let mut open = vec![first];
        while let Some(net) = open.pop() {
            for &next in near.get(&net).into_iter().flatten() {
                if side.insert(next) {
                    open.push(next);
                }
            }
        }
        side
    }

    /// The groups at the two windings of a transformer that takes part.
    fn windings(&self, circuit: &Circuit, number: usize) -> Option<[(u32, u32); 2]> {
        let one = circuit.transformers.get(number).filter(|_| self.takes.get(number) == Some(&true))?;
        Some([one.primary, one.secondary].map(|[a, b]| (self.group_of(a), self.group_of(b))))
    }

    fn find_transformers(&mut self, circuit: &Circuit, spans: &[Span]) {
        if circuit.transformers.is_empty() {
            return;
        }
        let mut windings = Vec::with_capacity(circuit.transformers.len());
        for one in &circuit.transformers {
            let pair = [one.primary, one.secondary].map(|[a, b]| (self.group_of(a), self.group_of(b)));
            let exists = pair.iter().all(|&(a, b)| a != NONE && b != NONE);
            let turns = one.ratio.abs();
            windings.push((exists && (LEAST..=1.0 / LEAST).contains(&turns)).then_some(pair));
        }
        self.takes = takes_part(circuit.nodes, spans, &windings);
    }

    fn find_islands(&mut self, circuit: &Circuit, spans: &[Span], broken_groups: &[(u32, Reason)]) {
        let nodes = circuit.nodes;
        let mut joined = Partition::new(nodes as usize);
        for number in 0..circuit.transformers.len() {
            for (a, b) in self.windings(circuit, number).into_iter().flatten() {
                joined.join(a, b);
            }
        }
        for span in spans.iter().filter(|span| span.conducts()) {
            joined.join(span.ends.0, span.ends.1);
        }
        let joined = joined.classes();
        let mut number = vec![NONE; nodes as usize];
        let mut islands = 0u32;
        self.island = Vec::with_capacity(nodes as usize);
        for node in 0..nodes as usize {
            let root = joined[self.group[node] as usize] as usize;
            if number[root] == NONE {
                number[root] = islands;
                islands += 1;
            }
            self.island.push(number[root]);
        }
        self.broken = vec![None; islands as usize];
        for &(group, reason) in broken_groups {
            let island = self.island[group as usize] as usize;
            self.broken[island] = self.broken[island].or(Some(reason));
        }
        self.check_balance(spans);
        self.spread_breakage(circuit);
    }

    /// What current sources put into an island must come out of it.
    fn check_balance(&mut self, spans: &[Span]) {
        let zero = Phasor::new(0.0, 0.0);
        let mut balance = vec![(zero, 0.0f64, Vec::new()); self.broken.len()];
        for &Span { number, ends: (a, b), part } in spans {
            let Part::Injects(amps) = part else { continue };
            let islands = [a, b].map(|group| self.island[group as usize] as usize);
            if islands[0] == islands[1] {
                continue;
            }
            for (island, amps) in islands.into_iter().zip([amps, -amps]) {
                let (sum, most, branches) = &mut balance[island];
                *sum += amps;
                *most = most.max(amps.norm());
                branches.push(number);
            }
        }
        for (island, (amps, most, branches)) in balance.into_iter().enumerate() {
            if amps.norm() > AGREES * most {
                self.broken[island] = self.broken[island].or(Some(Reason::NoWayBack));
                self.remarks.push(Remark { reason: Reason::NoWayBack, branches });
            }
        }
    }

    /// Where ideal sources hold both sides of a transformer, its ratio agrees with them or it is a conflict.
    fn check_stuck(&mut self, circuit: &Circuit) {
        let mut conflict = false;
        for number in self.stuck.clone() {
            let one = circuit.transformers[number]; // stuck are numbers of transformers
            let volts = |[a, b]: [u32; 2]| self.offset[a as usize] - self.offset[b as usize];
            let (primary, secondary) = (volts(one.primary), volts(one.secondary) * one.ratio);
            if (primary - secondary).norm() <= AGREES * primary.norm().max(secondary.norm()) {
                continue;
            }
            let islands = [one.primary[0], one.secondary[0]].map(|node| self.island[node as usize]);
            for island in islands {
                let broken = &mut self.broken[island as usize];
                *broken = broken.or(Some(Reason::Conflict));
            }
            let holds = |at: &usize| {
                let (a, _, _) = circuit.branches[*at];
                matches!(self.parts[*at], Part::Holds(_)) && islands.contains(&self.island[a as usize])
            };
            let branches = (0..self.parts.len()).filter(holds).collect();
            self.remarks.push(Remark { reason: Reason::Conflict, branches });
            conflict = true;
        }
        if conflict {
            self.spread_breakage(circuit);
        }
    }

    /// A transformer passes on volts, so what is wrong on one side is wrong on the other.
    fn spread_breakage(&mut self, circuit: &Circuit) {
        if self.broken.iter().all(Option::is_none) {
            return;
        }
        let mut coupled = Partition::new(self.broken.len());
        for number in 0..circuit.transformers.len() {
            if let Some([(primary, _), (secondary, _)]) = self.windings(circuit, number) {
                let [a, b] = [primary, secondary].map(|group| self.island[group as usize]);
                coupled.join(a, b);
            }
        }
        let coupled = coupled.classes();
        let mut reasons = BTreeMap::new();
        for (broken, class) in self.broken.iter().zip(&coupled) {
            if let Some(reason) = broken {
                reasons.entry(*class).or_insert(*reason);
            }
        }
        for (broken, class) in self.broken.iter_mut().zip(&coupled) {
            *broken = broken.or(reasons.get(class).copied());
        }
    }

    /// Chooses each island's reference and finds what hangs together without it.
    fn find_pockets(&mut self, circuit: &Circuit, spans: &[Span]) {
        let nodes = circuit.nodes as usize;
        let mut degree = vec![0u32; nodes];
        for span in spans.iter().filter(|span| span.conducts()) {
            degree[span.ends.0 as usize] += 1;
            degree[span.ends.1 as usize] += 1;
        }
        let mut reference = vec![NONE; self.broken.len()];
        for node in 0..nodes {
            let group = self.group[node];
            if group as usize != node {
                continue;
            }
            let best = &mut reference[self.island[node] as usize];
            if *best == NONE || degree[group as usize] > degree[*best as usize] {
                *best = group;
            }
        }
        let is_reference = |topology: &Self, group: u32| reference[topology.island[group as usize] as usize] == group;
        let mut joined = Partition::new(nodes);
        for span in spans.iter().filter(|span| span.conducts()) {
            let (a, b) = span.ends;
            if !is_reference(self, a) && !is_reference(self, b) {
                joined.join(a, b);
            }
        }
        // A transformer couples whatever its ends stand in.
        let free = |topology: &Self, number: usize| -> Vec<u32> {
            let ends = topology.windings(circuit, number).into_iter().flatten().flat_map(|(a, b)| [a, b]);
            ends.filter(|&group| !is_reference(topology, group)).collect()
        };
        for number in 0..circuit.transformers.len() {
            for pair in free(self, number).windows(2) {
                joined.join(pair[0], pair[1]); // windows of two have two
            }
        }
        let joined = joined.classes();
        let mut pocket_of = vec![NONE; nodes];
        let mut pockets: Vec<Vec<u32>> = Vec::new();
        let mut place = vec![None; nodes];
        for (node, place) in place.iter_mut().enumerate() {
            let group = self.group[node];
            if group as usize != node || is_reference(self, group) {
                continue;
            }
            let root = joined[group as usize] as usize;
            if pocket_of[root] == NONE {
                pocket_of[root] = u32::try_from(pockets.len()).unwrap_or(NONE);
                pockets.push(Vec::new());
            }
            let pocket = pocket_of[root];
            let rows = &mut pockets[pocket as usize];
            *place = Some((pocket, u32::try_from(rows.len()).unwrap_or(NONE)));
            rows.push(group);
        }
        let mut transformers: Vec<Vec<usize>> = vec![Vec::new(); pockets.len()];
        for number in 0..circuit.transformers.len() {
            if self.windings(circuit, number).is_none() {
                continue;
            }
            match free(self, number).first().and_then(|&group| place[group as usize]) {
                Some((pocket, _)) => transformers[pocket as usize].push(number),
                None => self.stuck.push(number),
            }
        }
        self.check_stuck(circuit);
        self.place = place;
        self.pockets = pockets;
        self.transformers = transformers;
    }
}

/// The wires that join the two ends of a shorted source, by the way with the fewest.
fn wires_between(circuit: &Circuit, parts: &[Part], source: usize) -> Vec<usize> {
    let (from, to, _) = circuit.branches[source];
    let edges = (0..parts.len()).filter(|&at| parts[at] == Part::Wire);
    way(circuit.nodes, edges.map(|at| (circuit.branches[at].0, circuit.branches[at].1, at)), from, to)
}

/// The ideal sources by which two nets hang together.
fn sources_between(circuit: &Circuit, net: &[u32], ties: &[usize], from: u32, to: u32) -> Vec<usize> {
    let edges = ties.iter().map(|&at| {
        let (a, b, _) = circuit.branches[at];
        (net[a as usize], net[b as usize], at)
    });
    way(circuit.nodes, edges, from, to)
}

/// The numbers of the edges on the way with the fewest.
fn way(nodes: u32, edges: impl Iterator<Item = (u32, u32, usize)>, from: u32, to: u32) -> Vec<usize> {
    let mut ways: BTreeMap<u32, Vec<(u32, usize)>> = BTreeMap::new();
    for (a, b, at) in edges {
        ways.entry(a).or_default().push((b, at));
        ways.entry(b).or_default().push((a, at));
    }
    let mut before = vec![None; nodes as usize];
    let mut open = std::collections::VecDeque::from([from]);
    while let Some(node) = open.pop_front() {
        for &(next, at) in ways.get(&node).into_iter().flatten() {
            if next != from && before[next as usize].is_none() {
                before[next as usize] = Some((node, at));
                open.push_back(next);
            }
        }
    }
    let mut found = Vec::new();
    let mut node = to;
    while node != from {
        let Some((back, at)) = before[node as usize] else { break };
        found.push(at);
        node = back;
    }
    found
}
