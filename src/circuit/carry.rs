//! Which coils can get any voltage at all, by loops alone: values of elements do not come into it.

use crate::catalogue::Form;

use super::blocks::blocks;
use super::frame::Frame;
use super::network::{Contact, Inside, Node, Passive, Works};
use super::partition::Partition;
use super::settle::Trit;

impl Frame<'_> {
    /// What is held together by inner joins, landings, and those wires that are taken to have no resistance.
    pub fn joined_ideally(&self, has_no_resistance: impl Fn(usize) -> bool) -> Partition {
        let mut joined = Partition::new(self.network.len());
        for (index, (conductor, landed)) in self.network.wires().iter().zip(&self.landed).enumerate() {
            if has_no_resistance(index) && !conductor.broken {
                joined.join(conductor.ends[0].0, conductor.ends[1].0);
            }
            for (end, terminal) in conductor.ends.iter().zip(landed) {
                if let Some(terminal) = terminal {
                    joined.join(end.0, terminal.0);
                }
            }
        }
        for join in self.network.joins() {
            joined.join(join.ends[0].0, join.ends[1].0);
        }
        joined
    }

    /// For each coil, whether current can flow through it from a live source, through loads as well, whatever the undecided
    /// relays do. `false` is certain; `true` is not.
    ///
    /// Contacts of undecided relays are conductors that are there to be used, not taken as closed: one across a coil would
    /// bridge it out for good. Every loop that some of them make by closing is a loop through them here. A coil that shares
    /// none with a live source, a fed transformer or a fed supply carries nothing.
    /// `joined`: what conductors without any resistance hold together, from [`Self::joined_ideally`]. A closed contact has some,
    /// so a coil that one bridges still gets a little.
    /// `across`: something more between two nodes, a meter.
    pub fn can_be_fed(&self, joined: &Partition, worked: &[Trit], across: Option<[Node; 2]>) -> Vec<bool> {
        let network = self.network;
        let edge = |inside: &Inside| (joined.root(inside.ends[0].0), joined.root(inside.ends[1].0));
        let mut edges: Vec<(u32, u32)> = network.relays().iter().map(|relay| edge(&relay.inside)).collect();
        edges.extend(network.loads().iter().map(|load| edge(&load.inside)));
        let passives = network.passives().iter().filter(|(what, _)| *what != Passive::Arrester);
        edges.extend(passives.map(|(_, inside)| edge(inside)));
        edges.extend(across.map(|ends| (joined.root(ends[0].0), joined.root(ends[1].0))));
        edges.extend(
            network
                .wires()
                .iter()
                .filter(|wire| !wire.broken)
                .map(|wire| (joined.root(wire.ends[0].0), joined.root(wire.ends[1].0))),
        );
        edges.extend(network.fuses().iter().map(edge));
        let may_be_closed = |&(index, contact): &(usize, &Contact)| match contact.works {
            Works::Relay(relay) => {
                let bit = worked.get(relay).and_then(|trit| trit.bit());
                bit.is_none_or(|bit| bit == (contact.form == Form::Make))
            }
            _ => self.is_closed(index, &[]),
        };
        edges.extend(network.contacts().iter().enumerate().filter(may_be_closed).map(|(_, one)| edge(&one.inside)));
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
