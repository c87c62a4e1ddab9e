//! A network with faults put into it: connections open, contacts welded, coils and loads burnt out.

use crate::catalogue::Form;

use super::super::network::{Contact, Inside, Network, Works};
use super::stamp::What;

/// One fault.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Flaw {
    /// A wire broken, a fuse blown, a contact that does not make, a coil, load or passive element open.
    Open(What),
    /// A contact, as an index in [`Network::contacts`], that does not open.
    Welded(usize),
}

impl Network {
    /// The same network with these faults. Those of elements it does not have are left out.
    pub fn with_flaws(&self, flaws: &[Flaw]) -> Self {
        let mut network = self.clone();
        for flaw in flaws {
            match *flaw {
                Flaw::Welded(contact) => {
                    // The arm stays where it is: what shares it cannot close.
                    for other in network.other_arms(contact) {
                        network.hold(other, false);
                    }
                    network.hold(contact, true);
                }
                Flaw::Open(What::Contact(contact)) => network.hold(contact, false),
                Flaw::Open(What::Wire(wire)) => {
                    if let Some(wire) = network.wires.get_mut(wire) {
                        wire.broken = true;
                    }
                }
                Flaw::Open(What::Join(at)) => network.joins.get_mut(at).into_iter().for_each(cut),
                Flaw::Open(What::Fuse(at)) => network.fuses.get_mut(at).into_iter().for_each(cut),
                Flaw::Open(What::Coil(at)) => {
                    network.relays.get_mut(at).map(|relay| &mut relay.inside).into_iter().for_each(cut);
                }
                Flaw::Open(What::Load(at)) => {
                    network.loads.get_mut(at).map(|load| &mut load.inside).into_iter().for_each(cut);
                }
                Flaw::Open(What::Passive(at)) => {
                    network.passives.get_mut(at).map(|(_, inside)| inside).into_iter().for_each(cut);
                }
                Flaw::Open(_) => {}
            }
        }
        network
    }

    /// A contact that nothing moves any more.
    fn hold(&mut self, contact: usize, closed: bool) {
        let Some(entry) = self.contacts.get_mut(contact) else { return };
        entry.works = Works::NoCoil(String::new());
        // What no coil works stands at rest.
        entry.form = if closed { Form::Break } else { Form::Make };
        for relay in &mut self.relays {
            relay.contacts.retain(|&one| one != contact);
        }
    }

    /// The same network with the form of a contact as given; the other arm of a change-over has the other one.
    pub fn with_form(&self, contact: usize, form: Form) -> Self {
        let mut network = self.clone();
        let other = if form == Form::Make { Form::Break } else { Form::Make };
        for arm in self.other_arms(contact) {
            if let Some(entry) = network.contacts.get_mut(arm) {
                entry.form = other;
            }
        }
        if let Some(entry) = network.contacts.get_mut(contact) {
            entry.form = form;
        }
        network
    }

    /// Contacts that share their moving arm with this one: worked by the same thing, of the other form, with an end in common.
    pub fn other_arms(&self, contact: usize) -> Vec<usize> {
        let Some(own) = self.contacts.get(contact) else { return Vec::new() };
        let shares = |other: &Contact| {
            other.works == own.works
                && other.form != own.form
                && other.inside.part == own.inside.part
                && other.inside.ends.iter().any(|end| own.inside.ends.contains(end))
        };
        let all = self.contacts.iter().enumerate().filter(|(at, other)| *at != contact && shares(other));
        all.map(|(at, _)| at).collect()
    }
}

/// Both ends on one node: nothing lies between two places any more.
fn cut(inside: &mut Inside) {
    inside.ends[1] = inside.ends[0];
}
