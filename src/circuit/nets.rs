//! Nets: terminals joined by wire alone, and the wider groups that closed contacts and fuses make of them.

use crate::machine::{Spot, TerminalRef, WireId};

use super::network::{Network, Node};
use super::partition::Partition;

/// Terminals and wires that are held together.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Net {
    /// Terminals, in order of part and terminal.
    pub terminals: Vec<TerminalRef>,
    /// Wires that have an end on it, in order of entry.
    pub wires: Vec<WireId>,
    /// Every node of it, ascending.
    pub nodes: Vec<Node>,
    /// Something of it is not known (an end out of sight, a pin of unknown role).
    pub unknown: bool,
}

/// All nets of one view, and which one each node is on.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Nets {
    /// The nets, in order of their first node.
    pub nets: Vec<Net>,
    of: Vec<u32>,
}

impl Nets {
    /// The classes of a partition of the network's nodes, as nets.
    pub fn of(network: &Network, partition: &Partition) -> Self {
        let classes = partition.classes();
        let mut of = vec![0u32; classes.len()];
        let mut nets: Vec<Net> = Vec::new();
        for ((node, info), &class) in network.nodes().zip(&classes) {
            if class == node.0 {
                of[node.at()] = u32::try_from(nets.len()).unwrap_or(u32::MAX);
                nets.push(Net::default());
            } else {
                of[node.at()] = of[class as usize];
            }
            let Some(net) = nets.get_mut(of[node.at()] as usize) else { continue };
            net.nodes.push(node);
            net.unknown |= info.unknown;
            match &info.spot {
                Spot::Terminal(terminal) if !info.inner => net.terminals.push(terminal.clone()),
                // Both ends of a wire come one after the other.
                Spot::End(wire, _) if net.wires.last() != Some(wire) => net.wires.push(*wire),
                _ => {}
            }
        }
        Self { nets, of }
    }

    /// The net a node is on, as an index in `nets`.
    pub fn index(&self, node: Node) -> Option<usize> {
        self.of.get(node.at()).map(|&net| net as usize)
    }

    /// The net a node is on.
    pub fn net(&self, node: Node) -> Option<&Net> {
        self.index(node).and_then(|index| self.nets.get(index))
    }

    /// Whether two nodes are on one net.
    pub fn same(&self, a: Node, b: Node) -> bool {
        self.index(a).is_some() && self.index(a) == self.index(b)
    }
}
