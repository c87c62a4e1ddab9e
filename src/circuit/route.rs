//! Why two nodes are held together: the shortest way between them, step by step.

use std::collections::VecDeque;

use crate::machine::{PartId, WireId};

use super::network::Node;
use super::situation::Situation;

/// One step of a way.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum Step {
    /// Along a wire.
    Wire(WireId),
    /// Through a part: a join, a fuse, a closed contact.
    Part(PartId),
}

/// The way with the fewest steps from one node to another through wires, joins, fuses and closed contacts.
///
/// `None` when there is none. A step through one part twice in a row is given once.
pub fn route(situation: &Situation, from: Node, to: Node) -> Option<Vec<Step>> {
    if !situation.is_joined(from, to) {
        return None;
    }
    let network = situation.network();
    let mut ways: Vec<Vec<(Node, Option<Step>)>> = vec![Vec::new(); network.len()];
    let mut add = |a: Node, b: Node, step: Option<Step>| {
        ways[a.at()].push((b, step)); // every node of the network has its entry
        ways[b.at()].push((a, step));
    };
    for (conductor, landed) in network.wires().iter().zip(&situation.frame.landed) {
        if !conductor.broken {
            add(conductor.ends[0], conductor.ends[1], Some(Step::Wire(conductor.wire)));
        }
        for (end, terminal) in conductor.ends.iter().zip(landed) {
            if let Some(terminal) = terminal {
                add(*end, *terminal, None);
            }
        }
    }
    for inside in network.joins().iter().chain(network.fuses()) {
        add(inside.ends[0], inside.ends[1], Some(Step::Part(inside.part)));
    }
    for (index, contact) in network.contacts().iter().enumerate() {
        if situation.frame.is_closed(index, &situation.worked) {
            add(contact.inside.ends[0], contact.inside.ends[1], Some(Step::Part(contact.inside.part)));
        }
    }
    let mut before: Vec<Option<(Node, Option<Step>)>> = vec![None; network.len()];
    let mut open = VecDeque::from([from]);
    while let Some(node) = open.pop_front() {
        if node == to {
            break;
        }
        for &(next, step) in &ways[node.at()] {
            if next != from && before[next.at()].is_none() {
                before[next.at()] = Some((node, step));
                open.push_back(next);
            }
        }
    }
    let mut steps = Vec::new();
    let mut node = to;
    while node != from {
        let (back, step) = before[node.at()]?;
        steps.extend(step);
        node = back;
    }
    steps.reverse();
    steps.dedup();
    Some(steps)
}
