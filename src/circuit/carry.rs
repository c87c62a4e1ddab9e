//! Which coils can get any voltage at all, by loops alone: values of elements do not come into it.

use super::blocks::blocks;
use super::frame::Frame;
use super::network::{Inside, Node, Passive};
use super::settle::Trit;

impl Frame<'_> {
    /// For each coil, whether current can flow through it from a live source, through loads as well, whatever the undecided
    /// relays do. `false` is certain; `true` is not.
    ///
    /// Contacts of undecided relays are taken as closed: closing more can only make more loops. A coil that shares no loop
    /// with a live source, a fed transformer or a fed supply carries nothing.
    /// `across`: something more between two nodes, a meter.
    pub fn can_be_fed(&self, worked: &[Trit], across: Option<[Node; 2]>) -> Vec<bool> {
        let network = self.network;
        let joined = self.joined_as(worked, true);
        let edge = |inside: &Inside| (joined.root(inside.ends[0].0), joined.root(inside.ends[1].0));
        let mut edges: Vec<(u32, u32)> = network.relays().iter().map(|relay| edge(&relay.inside)).collect();
        edges.extend(network.loads().iter().map(|load| edge(&load.inside)));
        let passives = network.passives().iter().filter(|(what, _)| *what != Passive::Arrester);
        edges.extend(passives.map(|(_, inside)| edge(inside)));
        edges.extend(across.map(|ends| (joined.root(ends[0].0), joined.root(ends[1].0))));
        let first_source = edges.len();
        let on = network.sources().iter().zip(&self.on).filter(|(_, on)| **on);
        edges.extend(on.map(|(source, _)| edge(&source.inside)));
        let first_derived = edges.len();
        for one in network.derived() {
            edges.push(edge(&Inside { ends: one.input, ..one.inside }));
            edges.push(edge(&one.inside));
        }
        let block = blocks(network.len(), &edges);
        let mut live = vec![false; edges.len() + 1];
        let mark = |edge: usize, live: &mut Vec<bool>| {
            let block = block.get(edge).map_or(0, |&block| block as usize);
            live.get_mut(block).is_some_and(|slot| !std::mem::replace(slot, true))
        };
        for edge in first_source..first_derived {
            // A source with both ends held together is shorted; it still counts: its loop is somewhere.
            mark(edge, &mut live);
        }
        loop {
            let mut grew = false;
            for at in (first_derived..edges.len()).step_by(2) {
                for (from, to) in [(at, at + 1), (at + 1, at)] {
                    if block.get(from).is_some_and(|&block| live[block as usize]) {
                        grew |= mark(to, &mut live);
                    }
                }
            }
            if !grew {
                break;
            }
        }
        block.iter().take(network.relays().len()).map(|&block| live[block as usize]).collect()
    }
}
