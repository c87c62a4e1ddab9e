//! Which coils are fed while relays stand in given positions: what [`settle_abstract`](super::settle_abstract) asks.

use std::collections::{BTreeMap, BTreeSet};

use crate::catalogue::Form;
use crate::quantity::Current;

use super::frame::Frame;
use super::network::{Node, Works};
use super::partition::Partition;
use super::settle::{Excitation, Trit};
use super::supply::Supply;

impl Excitation for Frame<'_> {
    fn relays(&self) -> usize {
        self.network.relays.len()
    }

    fn fed(&self, worked: &[bool]) -> Vec<bool> {
        fed_in(self, &self.joined(worked)).0
    }

    /// Fed for sure: fed with every undecided contact open, and just so with every one closed, where the sources of the one
    /// are there in the other, none shorted and none at odds; since potentials then agree round every loop, they do in between.
    /// Never fed: with every undecided contact closed, its two ends do not reach two different poles.
    fn fed_or_either(&self, worked: &[Trit]) -> Vec<Trit> {
        if let Some(bits) = worked.iter().map(|trit| trit.bit()).collect::<Option<Vec<bool>>>() {
            return self.fed(&bits).into_iter().map(Trit::from).collect();
        }
        let open = self.joined_as(worked, false);
        let closed = self.joined_as(worked, true);
        let (fed_open, supply_open) = fed_in(self, &open);
        let (fed_closed, supply_closed) = fed_in(self, &closed);
        let steady = self.steady((&open, &supply_open), (&closed, &supply_closed));
        let reach = Reach::of(self, &closed);
        let relays = self.network.relays.iter().enumerate();
        relays
            .map(|(index, relay)| {
                if steady && fed_open[index] && fed_closed[index] {
                    Trit::Yes
                } else if reach.two_poles(relay.inside.ends, relay.current) {
                    Trit::Either
                } else {
                    Trit::No
                }
            })
            .collect()
    }

    fn delay(&self, relay: usize) -> u8 {
        self.network.relays.get(relay).map_or(0, |relay| relay.delay)
    }
}

/// Each coil, fed or not, when nodes are held together so; and the supply that does it.
fn fed_in(frame: &Frame, joined: &Partition) -> (Vec<bool>, Supply) {
    let supply = Supply::of(frame, |node| joined.root(node));
    let fed = |relay: &super::network::Relay| {
        let [a, b] = relay.inside.ends.map(|node| joined.root(node.0));
        supply.difference(a, b).is_some_and(|difference| difference.works(relay.current))
    };
    (frame.network.relays.iter().map(fed).collect(), supply)
}

impl Frame<'_> {
    /// Whether sources hold the same differences with undecided contacts all open, all closed, and in between: none gets
    /// shorted, no transformer or DC supply loses its feed or gets both ends of a winding or output on one class, and none
    /// works against another.
    fn steady(&self, open: (&Partition, &Supply), closed: (&Partition, &Supply)) -> bool {
        let (open, supply_open) = open;
        let (closed, supply_closed) = closed;
        let brought_together =
            |[a, b]: [Node; 2]| open.root(a.0) != open.root(b.0) && closed.root(a.0) == closed.root(b.0);
        supply_open.shorted == supply_closed.shorted
            && !supply_closed.at_odds
            && supply_open.backfed == supply_closed.backfed
            && supply_open.fed.iter().zip(&supply_closed.fed).all(|(open, closed)| !open || *closed)
            && !self.network.derived.iter().any(|one| brought_together(one.inside.ends) || brought_together(one.input))
    }

    /// What is held together when contacts of undecided relays are taken as all closed or all open.
    pub(super) fn joined_as(&self, worked: &[Trit], undecided_closed: bool) -> Partition {
        let mut joined = self.fixed().clone();
        for contact in &self.network.contacts {
            let Works::Relay(relay) = contact.works else { continue };
            let closed = match worked.get(relay).and_then(|trit| trit.bit()) {
                Some(bit) => bit == (contact.form == Form::Make),
                None => undecided_closed,
            };
            if closed {
                joined.join(contact.inside.ends[0].0, contact.inside.ends[1].0);
            }
        }
        joined
    }
}

/// The poles that each class could have on it.
struct Reach {
    poles: BTreeMap<u32, BTreeSet<Node>>,
    kinds: BTreeSet<Current>,
    classes: Partition,
}

impl Reach {
    fn of(frame: &Frame, closed: &Partition) -> Self {
        let mut reach = Self { poles: BTreeMap::new(), kinds: BTreeSet::new(), classes: closed.clone() };
        for (source, &on) in frame.network.sources.iter().zip(&frame.on) {
            if on {
                reach.add(source.inside.ends, source.current);
            }
        }
        let derived = &frame.network.derived;
        let mut in_use = vec![[false; 2]; derived.len()];
        loop {
            let mut grew = false;
            for (one, used) in derived.iter().zip(&mut in_use) {
                if !used[0] && reach.two_poles(one.input, Some(Current::Ac)) {
                    used[0] = true;
                    reach.add(one.inside.ends, one.current);
                    grew = true;
                }
                if !used[1] && one.current == Current::Ac && reach.two_poles(one.inside.ends, Some(Current::Ac)) {
                    used[1] = true;
                    reach.add(one.input, Current::Ac);
                    grew = true;
                }
            }
            if !grew {
                return reach;
            }
        }
    }

    fn add(&mut self, ends: [Node; 2], current: Current) {
        for node in ends {
            self.poles.entry(self.classes.root(node.0)).or_default().insert(node);
        }
        self.kinds.insert(current);
    }

    /// Whether two different poles can be on these ends, of sources of a kind that works it.
    fn two_poles(&self, ends: [Node; 2], current: Option<Current>) -> bool {
        if current.is_some_and(|current| !self.kinds.contains(&current)) {
            return false;
        }
        let [a, b] = ends.map(|node| self.poles.get(&self.classes.root(node.0)));
        match (a, b) {
            (Some(a), Some(b)) => a.union(b).count() > 1,
            _ => false,
        }
    }
}
