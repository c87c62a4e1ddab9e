//! Which supply a device hangs on: groups of poles, and the devices that lie on a way from pole to pole.
//!
//! A device lies on such a way exactly when it shares a block (biconnected component) with an edge laid between the poles.
//! What does not is no part of a rung, whatever is closed.

use std::collections::{BTreeMap, BTreeSet};

use crate::circuit::{Partition, blocks};
use crate::machine::Machine;

use super::graph::{Graph, natural};
use super::layout::What;

/// Poles that belong together, and what hangs between them.
#[derive(Debug, Clone, Default)]
pub(super) struct Group {
    /// Its givers, in the graph.
    pub(super) givers: Vec<usize>,
    /// A board's input that stands in for a supply.
    pub(super) sense: Option<usize>,
    /// Its poles, hot ones first.
    pub(super) poles: Vec<usize>,
    /// The devices between them.
    pub(super) edges: Vec<usize>,
}

/// Devices that hang together by more than poles.
#[derive(Debug, Clone)]
pub(super) struct Cluster {
    pub(super) edges: Vec<usize>,
    /// The poles it touches, in the group's order.
    pub(super) poles: Vec<usize>,
}

/// Every group with something between its poles, in the order of the page: a supply, then what it feeds.
pub(super) fn groups(machine: &Machine, graph: &Graph) -> Vec<Group> {
    let mut groups = poles_together(machine, graph);
    let all_poles: BTreeSet<usize> = groups.iter().flat_map(|group| group.poles.iter().copied()).collect();
    let mut placed = vec![false; graph.edges.len()];
    for group in &mut groups {
        group.edges = between(graph, &group.poles, &all_poles, &placed, None);
        for &edge in &group.edges {
            placed[edge] = true;
        }
    }
    let mut ordered = in_page_order(machine, graph, groups);
    ordered.extend(inputs(graph, &all_poles, &mut placed));
    ordered
}

fn poles_together(machine: &Machine, graph: &Graph) -> Vec<Group> {
    let mut order: Vec<usize> =
        (0..graph.givers.len()).filter(|&giver| graph.givers[giver].nets[0] != graph.givers[giver].nets[1]).collect();
    order.sort_by_cached_key(|&giver| {
        let one = &graph.givers[giver];
        (one.fed_by.is_some(), natural(machine.part_name(one.inside.part)), one.inside.part, one.inside.element)
    });
    let mut groups: Vec<Group> = Vec::new();
    for giver in order {
        let one = &graph.givers[giver];
        let mate = groups.iter_mut().find(|group| {
            group.givers.iter().any(|&other| {
                let other = &graph.givers[other];
                let shares = other.nets.iter().any(|net| one.nets.contains(net));
                let same = other.nets.iter().all(|net| one.nets.contains(net));
                same || (shares && other.inside.part == one.inside.part)
            })
        });
        match mate {
            Some(group) => group.givers.push(giver),
            None => groups.push(Group { givers: vec![giver], ..Group::default() }),
        }
    }
    for group in &mut groups {
        let nets = |slot: usize| group.givers.iter().map(move |&giver| graph.givers[giver].nets[slot]);
        // What is a second pole only is the common return and comes last.
        let firsts: BTreeSet<usize> = nets(0).collect();
        let mut poles = Vec::new();
        let firsts_in_order = group.givers.iter().flat_map(|&giver| graph.givers[giver].nets);
        for net in firsts_in_order.filter(|net| firsts.contains(net)).chain(nets(1)) {
            if !poles.contains(&net) {
                poles.push(net);
            }
        }
        group.poles = poles;
    }
    groups
}

/// The devices not yet placed that lie on a way between two of the poles, not over the pole of another supply.
fn between(
    graph: &Graph,
    poles: &[usize],
    all_poles: &BTreeSet<usize>,
    placed: &[bool],
    without: Option<usize>,
) -> Vec<usize> {
    // Poles get the first numbers, other nets theirs when met; a foreign pole is another node at each device.
    let mut number: BTreeMap<usize, u32> = BTreeMap::new();
    let mut next = 0u32;
    let mut fresh = || {
        next += 1;
        next - 1
    };
    for &pole in poles {
        number.insert(pole, fresh());
    }
    let mut found: Vec<usize> = Vec::new();
    let mut pairs: Vec<(u32, u32)> = Vec::new();
    let mut open: Vec<usize> = poles.to_vec();
    let mut seen: BTreeSet<usize> = BTreeSet::new();
    while let Some(net) = open.pop() {
        let Some(here) = graph.nets.get(net) else { continue };
        for &edge in &here.edges {
            if placed[edge] || Some(edge) == without || !seen.insert(edge) {
                continue;
            }
            let nets = graph.edges[edge].nets;
            if nets[0] == nets[1] {
                continue;
            }
            let ends = nets.map(|net| {
                if all_poles.contains(&net) && !poles.contains(&net) {
                    return fresh();
                }
                *number.entry(net).or_insert_with(|| {
                    open.push(net);
                    fresh()
                })
            });
            found.push(edge);
            pairs.push((ends[0], ends[1]));
        }
    }
    let real = pairs.len();
    let pole_numbers: Vec<u32> = poles.iter().filter_map(|pole| number.get(pole).copied()).collect();
    for two in pole_numbers.windows(2) {
        pairs.push((two[0], two[1]));
    }
    if let [first, _, .., last] = pole_numbers.as_slice() {
        pairs.push((*first, *last));
    }
    let block = blocks(next as usize, &pairs);
    let supplied: BTreeSet<u32> = block.iter().skip(real).copied().collect();
    let mut kept: Vec<usize> =
        found.into_iter().zip(&block).filter(|(_, block)| supplied.contains(block)).map(|(edge, _)| edge).collect();
    kept.sort_by_key(|&edge| graph.edges[edge].rank);
    kept
}

/// A supply, then what its own devices feed.
fn in_page_order(machine: &Machine, graph: &Graph, groups: Vec<Group>) -> Vec<Group> {
    let tag = |group: &Group| {
        let giver = group.givers.first().and_then(|&giver| graph.givers.get(giver));
        giver.map(|giver| (natural(machine.part_name(giver.inside.part)), giver.inside.element))
    };
    let mut placed_in: BTreeMap<usize, usize> = BTreeMap::new();
    for (at, group) in groups.iter().enumerate() {
        placed_in.extend(group.edges.iter().map(|&edge| (edge, at)));
    }
    let is_derived = |group: &Group| group.givers.iter().all(|&giver| graph.givers[giver].fed_by.is_some());
    let first_source = groups.iter().position(|group| !is_derived(group));
    // What is fed by nothing keeps its place among what is: a lead that is off moves no ladder.
    let parent: Vec<Option<usize>> = groups
        .iter()
        .map(|group| {
            let primaries = group.givers.iter().filter_map(|&giver| graph.givers[giver].fed_by);
            let found = primaries.into_iter().find_map(|primary| placed_in.get(&primary).copied());
            found.or(first_source.filter(|_| is_derived(group)))
        })
        .collect();
    let mut children: Vec<Vec<usize>> = vec![Vec::new(); groups.len()];
    for (at, parent) in parent.iter().enumerate() {
        if let Some(own) = parent.and_then(|parent| children.get_mut(parent)) {
            own.push(at);
        }
    }
    let mut order: Vec<usize> = Vec::new();
    let mut taken = vec![false; groups.len()];
    let mut roots: Vec<usize> = (0..groups.len()).collect();
    roots.sort_by_cached_key(|&at| (parent[at].is_some(), tag(&groups[at])));
    for root in roots {
        let mut open = vec![root];
        while let Some(at) = open.pop() {
            if std::mem::replace(&mut taken[at], true) {
                continue;
            }
            order.push(at);
            let mut children = std::mem::take(&mut children[at]);
            children.sort_by_cached_key(|&child| std::cmp::Reverse(tag(&groups[child])));
            open.extend(children);
        }
    }
    let mut groups: Vec<Option<Group>> = groups.into_iter().map(Some).collect();
    order.into_iter().filter_map(|at| groups[at].take()).filter(|group| !group.edges.is_empty()).collect()
}

/// Contacts between the two pins of a board's input that no supply of the record feeds.
fn inputs(graph: &Graph, all_poles: &BTreeSet<usize>, placed: &mut [bool]) -> Vec<Group> {
    let mut senses: Vec<usize> =
        (0..graph.edges.len()).filter(|&edge| graph.edges[edge].what == What::Sense && !placed[edge]).collect();
    senses.sort_by_key(|&edge| graph.edges[edge].rank);
    let mut groups = Vec::new();
    for sense in senses {
        let poles = graph.edges[sense].nets;
        if placed[sense] || poles[0] == poles[1] || poles.iter().any(|pole| all_poles.contains(pole)) {
            continue;
        }
        let edges = between(graph, &poles, all_poles, placed, Some(sense));
        if edges.is_empty() {
            continue;
        }
        placed[sense] = true;
        for &edge in &edges {
            placed[edge] = true;
        }
        groups.push(Group { sense: Some(sense), poles: poles.to_vec(), edges, ..Group::default() });
    }
    groups
}

/// Devices by what hangs together when the poles are taken away, in the order of their first device.
pub(super) fn clusters(graph: &Graph, edges: &[usize], poles: &[usize]) -> Vec<Cluster> {
    let mut local: BTreeMap<usize, u32> = BTreeMap::new();
    let mut held = Partition::new(edges.len());
    for (at, &edge) in (0u32..).zip(edges) {
        for net in graph.edges[edge].nets {
            if poles.contains(&net) {
                continue;
            }
            if let Some(&first) = local.get(&net) {
                held.join(first, at);
            } else {
                local.insert(net, at);
            }
        }
    }
    let mut by_class: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
    for (class, &edge) in held.classes().into_iter().zip(edges) {
        by_class.entry(class).or_default().push(edge);
    }
    by_class
        .into_values()
        .map(|edges| {
            let touched: BTreeSet<usize> = edges.iter().flat_map(|&edge| graph.edges[edge].nets).collect();
            let poles = poles.iter().copied().filter(|pole| touched.contains(pole)).collect();
            Cluster { edges, poles }
        })
        .collect()
}
