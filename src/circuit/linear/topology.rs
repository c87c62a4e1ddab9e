//! What hangs together: nets, groups that ideal sources hold, islands, pockets.

use super::{Circuit, Part, Phasor, Reason, Remark};

/// Stands for a node or group that is not there.
pub(super) const NONE: u32 = u32::MAX;

/// Differences of ideal sources in a loop below this share of the largest count as none.
const AGREES: f64 = 1e-9;

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
    /// For each branch that is an ideal source: whether it stands in a loop of such.
    pub in_loop: Vec<bool>,
    /// What is wrong.
    pub remarks: Vec<Remark>,
}

/// Union-find that carries a difference of volts along: `v(a) = v(root) + offset`.
struct Groups {
    parent: Vec<u32>,
    offset: Vec<Phasor>,
}

impl Groups {
    fn new(n: u32) -> Self {
        Self { parent: (0..n).collect(), offset: vec![Phasor::new(0.0, 0.0); n as usize] }
    }

    /// The root, and volts of `a` against it.
    fn find(&mut self, a: u32) -> (u32, Phasor) {
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
    fn tie(&mut self, a: u32, b: u32, volts: Phasor) -> Result<(), Phasor> {
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
        let mut wired = Groups::new(nodes);
        for (&(a, b, _), part) in circuit.branches.iter().zip(&parts) {
            if *part == Part::Wire {
                // Already joined: a loop of wires, which needs no saying.
                let _ = wired.tie(a, b, Phasor::new(0.0, 0.0));
            }
        }
        let net: Vec<u32> = (0..nodes).map(|node| wired.find(node).0).collect();
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
        let mut group = Vec::with_capacity(nodes as usize);
        let mut offset = Vec::with_capacity(nodes as usize);
        for &net in &net {
            let (root, volts) = held.find(net);
            group.push(root);
            offset.push(volts);
        }
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
            in_loop,
            remarks,
        };
        topology.find_islands(circuit, &broken_groups);
        topology.find_pockets(circuit);
        topology
    }

    /// The group of a node; `NONE` for one that does not exist.
    pub(super) fn group_of(&self, node: u32) -> u32 {
        self.group.get(node as usize).copied().unwrap_or(NONE)
    }

    fn find_islands(&mut self, circuit: &Circuit, broken_groups: &[(u32, Reason)]) {
        let nodes = circuit.nodes;
        let mut joined = Groups::new(nodes);
        let zero = Phasor::new(0.0, 0.0);
        for (&(a, b, _), part) in circuit.branches.iter().zip(&self.parts) {
            if part.admittance().is_some() {
                let _ = joined.tie(self.group[a as usize], self.group[b as usize], zero);
            }
        }
        // Each winding of a transformer conducts; its two sides do not hang together by it.
        for transformer in circuit.transformers.iter().filter(|one| is_usable(one, nodes)) {
            for [a, b] in [transformer.primary, transformer.secondary] {
                let _ = joined.tie(self.group[a as usize], self.group[b as usize], zero);
            }
        }
        let mut number = vec![NONE; nodes as usize];
        let mut islands = 0u32;
        self.island = Vec::with_capacity(nodes as usize);
        for node in 0..nodes as usize {
            let root = joined.find(self.group[node]).0 as usize;
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
        // What current sources put into an island must come out of it.
        let mut balance = vec![zero; islands as usize];
        let mut size = vec![0.0f64; islands as usize];
        for (&(a, b, _), part) in circuit.branches.iter().zip(&self.parts) {
            if let Part::Injects(amps) = part {
                for (node, amps) in [(a, *amps), (b, -amps)] {
                    let island = self.island[node as usize] as usize;
                    balance[island] += amps;
                    size[island] = size[island].max(amps.norm());
                }
            }
        }
        for (island, (&amps, &size)) in balance.iter().zip(&size).enumerate() {
            if amps.norm() > AGREES * size {
                self.broken[island] = self.broken[island].or(Some(Reason::NoWayBack));
                let branches = (0..self.parts.len())
                    .filter(|&at| {
                        let (a, b, _) = circuit.branches[at];
                        let here = |node: u32| self.island[node as usize] as usize == island;
                        matches!(self.parts[at], Part::Injects(_)) && here(a) != here(b)
                    })
                    .collect();
                self.remarks.push(Remark { reason: Reason::NoWayBack, branches });
            }
        }
    }

    /// Chooses each island's reference and finds what hangs together without it.
    fn find_pockets(&mut self, circuit: &Circuit) {
        let nodes = circuit.nodes as usize;
        let mut degree = vec![0u32; nodes];
        for (&(a, b, _), part) in circuit.branches.iter().zip(&self.parts) {
            if part.admittance().is_none() {
                continue;
            }
            let (a, b) = (self.group[a as usize], self.group[b as usize]);
            if a != b {
                degree[a as usize] += 1;
                degree[b as usize] += 1;
            }
        }
        // A group that sources hold is the better reference: everything between its nets falls apart without it.
        for node in 0..nodes {
            let group = self.group[node] as usize;
            if group != self.net[node] as usize {
                degree[group] = degree[group].saturating_add(u32::MAX / 2);
            }
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
        let is_reference = |group: u32| reference[self.island[group as usize] as usize] == group;
        let mut joined = Groups::new(circuit.nodes);
        let zero = Phasor::new(0.0, 0.0);
        for (&(a, b, _), part) in circuit.branches.iter().zip(&self.parts) {
            if part.admittance().is_none() {
                continue;
            }
            let (a, b) = (self.group[a as usize], self.group[b as usize]);
            if !is_reference(a) && !is_reference(b) {
                let _ = joined.tie(a, b, zero);
            }
        }
        // A transformer couples whatever its ends stand in; if all of them are references it has a pocket for itself.
        // With both sides held, shorted or by sources, nothing is left to be found but a current that nothing determines.
        let usable = |transformer: &super::Transformer| {
            let held = |[a, b]: [u32; 2]| self.group[a as usize] == self.group[b as usize];
            is_usable(transformer, circuit.nodes) && !(held(transformer.primary) && held(transformer.secondary))
        };
        let free = |transformer: &super::Transformer| -> Vec<u32> {
            let ends = transformer.primary.iter().chain(&transformer.secondary);
            ends.map(|&end| self.group[end as usize]).filter(|&group| !is_reference(group)).collect()
        };
        for transformer in circuit.transformers.iter().filter(|one| usable(one)) {
            let ends = free(transformer);
            for pair in ends.windows(2) {
                let _ = joined.tie(pair[0], pair[1], zero); // windows of two have two
            }
        }
        let mut pocket_of = vec![NONE; nodes];
        let mut pockets: Vec<Vec<u32>> = Vec::new();
        let mut place = vec![None; nodes];
        for node in 0..nodes {
            let group = self.group[node];
            if group as usize != node || is_reference(group) {
                continue;
            }
            let root = joined.find(group).0 as usize;
            if pocket_of[root] == NONE {
                pocket_of[root] = u32::try_from(pockets.len()).unwrap_or(NONE);
                pockets.push(Vec::new());
            }
            let pocket = pocket_of[root];
            let rows = &mut pockets[pocket as usize];
            place[node] = Some((pocket, u32::try_from(rows.len()).unwrap_or(NONE)));
            rows.push(group);
        }
        let mut transformers: Vec<Vec<usize>> = vec![Vec::new(); pockets.len()];
        for (number, transformer) in circuit.transformers.iter().enumerate().filter(|(_, one)| usable(one)) {
            if let Some(pocket) = free(transformer).first().and_then(|&group| place[group as usize]) {
                transformers[pocket.0 as usize].push(number);
            }
        }
        self.place = place;
        self.pockets = pockets;
        self.transformers = transformers;
    }
}

/// Whether a transformer's nodes exist and its ratio means something.
fn is_usable(transformer: &super::Transformer, nodes: u32) -> bool {
    let mut ends = transformer.primary.iter().chain(&transformer.secondary);
    ends.all(|&end| end < nodes) && transformer.ratio.is_finite() && transformer.ratio != 0.0
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
    let mut ways: std::collections::BTreeMap<u32, Vec<(u32, usize)>> = std::collections::BTreeMap::new();
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
