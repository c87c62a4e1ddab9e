//! Which transformers can carry current, and which only pass volts on.
//!
//! A winding that nothing closes a circuit round carries nothing, and then its transformer's other winding carries nothing
//! either. Where one side is held by other things the other side still shows volts; where neither is, the transformer says
//! nothing and is left out, lest an undetermined corner spoil what hangs together with it.

use std::collections::BTreeSet;

use super::super::partition::Partition;
use super::Part;
use super::topology::NONE;

/// A branch between two groups that current can flow through, or is put through.
pub(super) struct Span {
    /// Its number.
    pub number: usize,
    pub ends: (u32, u32),
    pub part: Part,
}

impl Span {
    /// Whether it lets current through.
    pub(super) fn conducts(&self) -> bool {
        self.part.admittance().is_some()
    }
}

/// For each transformer: whether it takes part at all.
pub(super) fn takes_part(nodes: u32, spans: &[Span], windings: &[Option<[(u32, u32); 2]>]) -> Vec<bool> {
    let mut carries: Vec<bool> = windings.iter().map(Option::is_some).collect();
    // What spans hold together is one place: whether a winding is the only way between two places is not altered by that.
    let mut spanned = Partition::new(nodes as usize);
    for span in spans.iter().filter(|span| span.part != Part::Open) {
        spanned.join(span.ends.0, span.ends.1);
    }
    let ends = windings.iter().flatten().flatten().flat_map(|&(a, b)| [spanned.root(a), spanned.root(b)]);
    let places: Vec<u32> = ends.collect::<BTreeSet<u32>>().into_iter().collect();
    let place = |node: u32| places.binary_search(&spanned.root(node)).ok().and_then(|at| u32::try_from(at).ok());
    let place = |node: u32| place(node).unwrap_or(NONE); // ends of windings are among the places
    loop {
        let mut edges: Vec<(u32, u32)> = Vec::new();
        let mut of = Vec::new();
        for (number, pair) in windings.iter().enumerate() {
            if let (Some(pair), true) = (pair, carries[number]) {
                edges.extend(pair.map(|(a, b)| (place(a), place(b))));
                of.extend([number, number]);
            }
        }
        let alone = bridges(u32::try_from(places.len()).unwrap_or(0), &edges); // fewer than there are nodes
        let before = of.len();
        for (&number, alone) in of.iter().zip(alone) {
            if alone {
                carries[number] = false;
            }
        }
        if before == 2 * carries.iter().filter(|&&carries| carries).count() {
            break;
        }
    }
    // Sides whose volts are held by something; a side held holds the other.
    let mut held = Partition::new(nodes as usize);
    for span in spans.iter().filter(|span| span.conducts()) {
        held.join(span.ends.0, span.ends.1);
    }
    let mut takes = vec![false; windings.len()];
    loop {
        let mut more = false;
        for (number, pair) in windings.iter().enumerate() {
            let Some(pair) = pair else { continue };
            if !takes[number] && (carries[number] || pair.iter().any(|&(a, b)| held.same(a, b))) {
                for &(a, b) in pair {
                    held.join(a, b);
                }
                takes[number] = true;
                more = true;
            }
        }
        if !more {
            return takes;
        }
    }
}

/// For each edge: whether its ends fall apart without it. After Tarjan (1974), without recursion.
fn bridges(nodes: u32, edges: &[(u32, u32)]) -> Vec<bool> {
    let n = nodes as usize;
    let mut begin = vec![0usize; n + 1];
    for &(a, b) in edges.iter().filter(|(a, b)| a != b) {
        begin[a as usize + 1] += 1;
        begin[b as usize + 1] += 1;
    }
    for node in 0..n {
        begin[node + 1] += begin[node];
    }
    let mut fill = begin.clone();
    let mut ways = vec![(0u32, 0usize); begin[n]];
    for (at, &(a, b)) in edges.iter().enumerate().filter(|(_, (a, b))| a != b) {
        for (here, there) in [(a, b), (b, a)] {
            ways[fill[here as usize]] = (there, at);
            fill[here as usize] += 1;
        }
    }
    let mut alone = vec![false; edges.len()];
    let mut order = vec![NONE; n];
    let mut low = vec![NONE; n];
    let mut next = begin.clone();
    let mut count = 0u32;
    for start in 0..nodes {
        if order[start as usize] != NONE {
            continue;
        }
        // Each node with the edge it was reached by.
        let mut path: Vec<(u32, Option<usize>)> = vec![(start, None)];
        while let Some(&(node, by)) = path.last() {
            let at = node as usize;
            if order[at] == NONE {
                order[at] = count;
                low[at] = count;
                count += 1;
            }
            if next[at] < begin[at + 1] {
                let (there, edge) = ways[next[at]];
                next[at] += 1;
                if Some(edge) == by {
                    continue;
                }
                if order[there as usize] == NONE {
                    path.push((there, Some(edge)));
                } else {
                    low[at] = low[at].min(order[there as usize]);
                }
                continue;
            }
            path.pop();
            if let (Some(&(parent, _)), Some(by)) = (path.last(), by) {
                let parent = parent as usize;
                low[parent] = low[parent].min(low[at]);
                if low[at] > order[parent] {
                    alone[by] = true;
                }
            }
        }
    }
    alone
}
