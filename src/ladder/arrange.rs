//! The order of things on a page: branches below one another, rungs below one another.
//!
//! Everything rests on the order of tags, so a small edit moves little. Branches: loads first, buttons and switches above
//! the contacts that hold in, suppressors last. Rungs: by the tag of their first load, but a contact comes below the coil
//! that works it, wherever that goes.

use std::collections::{BTreeMap, BTreeSet};

use super::bridge::Bridge;
use super::graph::Graph;
use super::layout::What;
use super::reduce::Tree;

/// Puts the branches of every parallel in order.
pub(super) fn arranged(graph: &Graph, tree: Tree) -> Tree {
    match tree {
        Tree::Leaf { .. } => tree,
        Tree::Series(children, nets) => {
            Tree::Series(children.into_iter().map(|child| arranged(graph, child)).collect(), nets)
        }
        Tree::Parallel(children) => {
            let mut children: Vec<Tree> = children.into_iter().map(|child| arranged(graph, child)).collect();
            children.sort_by_cached_key(|child| branch_key(graph, &child.edges()));
            Tree::Parallel(children)
        }
        Tree::Bridge(bridge) => {
            let rows = bridge.rows.map(|row| row.map(|tree| arranged(graph, tree)));
            let bridge = Bridge { rows, ..*bridge };
            let key = |row: &[Tree; 2]| branch_key(graph, &row.iter().flat_map(Tree::edges).collect::<Vec<_>>());
            let wrong = key(&bridge.rows[1]) < key(&bridge.rows[0]);
            Tree::Bridge(Box::new(if wrong { bridge.upside_down() } else { bridge }))
        }
    }
}

/// Where a branch stands among its neighbours.
pub(super) fn branch_key(graph: &Graph, edges: &[usize]) -> (u8, usize) {
    let all = || edges.iter().filter_map(|&edge| graph.edges.get(edge));
    let class = if all().any(super::graph::Edge::is_load) {
        0
    } else if all().any(super::graph::Edge::is_passive) {
        3
    } else if all().all(|edge| edge.relay.is_some()) {
        2
    } else {
        1
    };
    (class, first_rank(graph, edges))
}

/// The rank of the first load, or of the first device where there is no load.
pub(super) fn first_rank(graph: &Graph, edges: &[usize]) -> usize {
    let all = || edges.iter().filter_map(|&edge| graph.edges.get(edge));
    let loads = all().filter(|edge| edge.is_load()).map(|edge| edge.rank).min();
    loads.or_else(|| all().map(|edge| edge.rank).min()).unwrap_or(0)
}

/// The order of the rungs of one section, given the devices of each: by first load, a contact below its coil.
pub(super) fn rung_order(graph: &Graph, rungs: &[Vec<usize>]) -> Vec<usize> {
    let key: Vec<usize> = rungs.iter().map(|edges| first_rank(graph, edges)).collect();
    let mut coil_in: BTreeMap<usize, usize> = BTreeMap::new();
    for (rung, edges) in rungs.iter().enumerate() {
        for &edge in edges {
            if let Some(relay) = graph.edges[edge].relay.filter(|_| graph.edges[edge].what == What::Coil) {
                coil_in.insert(relay, rung);
            }
        }
    }
    // Which rungs must come before which.
    let mut waits: Vec<BTreeSet<usize>> = vec![BTreeSet::new(); rungs.len()];
    let mut frees: Vec<BTreeSet<usize>> = vec![BTreeSet::new(); rungs.len()];
    for (rung, edges) in rungs.iter().enumerate() {
        for &edge in edges {
            let edge = &graph.edges[edge];
            let coil = edge.relay.filter(|_| edge.what != What::Coil).and_then(|relay| coil_in.get(&relay));
            if let Some(&coil) = coil.filter(|&&coil| coil != rung) {
                waits[rung].insert(coil);
                frees[coil].insert(rung);
            }
        }
    }
    let mut ready: BTreeSet<(usize, usize)> =
        (0..rungs.len()).filter(|&rung| waits[rung].is_empty()).map(|rung| (key[rung], rung)).collect();
    let mut left: BTreeSet<(usize, usize)> = (0..rungs.len()).map(|rung| (key[rung], rung)).collect();
    let mut order = Vec::with_capacity(rungs.len());
    // Where rungs wait for one another, the first of those left goes.
    while let Some(next) = ready.first().or_else(|| left.first()).copied() {
        ready.remove(&next);
        left.remove(&next);
        order.push(next.1);
        for &freed in &frees[next.1] {
            waits[freed].remove(&next.1);
            let entry = (key[freed], freed);
            if waits[freed].is_empty() && left.contains(&entry) {
                ready.insert(entry);
            }
        }
    }
    order
}
