//! A network in one setting: which contacts a person, a door or an output holds, which leads are off, which sources are on.

use crate::catalogue::Form;
use crate::machine::{Setting, Spot};

use super::network::{Network, Node, Works};
use super::partition::Partition;

/// The switch that a plug in its socket stands for, and its position when it is pulled.
pub const MATED: (&str, &str) = ("mated", "pulled");

/// A network in one setting. Relays are left open; making one costs one pass over the network, evaluating a state of the
/// relays in it much less.
#[derive(Debug, Clone)]
pub struct Frame<'n> {
    /// The network.
    pub network: &'n Network,
    /// For each contact: closed or open; `None` when a relay decides.
    pub held: Vec<Option<bool>>,
    /// For each wire end that is landed in this setting: its terminal.
    pub landed: Vec<[Option<Node>; 2]>,
    /// For each source: whether it is on.
    pub on: Vec<bool>,
    /// Wires and inner joins alone.
    wired: Partition,
    /// Wires, joins, fuses and held contacts that are closed.
    fixed: Partition,
}

impl<'n> Frame<'n> {
    /// The network in this setting.
    pub fn of(network: &'n Network, setting: &Setting) -> Self {
        let held = network.contacts.iter().map(|contact| held(network, setting, contact)).collect();
        let landed: Vec<[Option<Node>; 2]> = network
            .wires
            .iter()
            .map(|conductor| {
                let mut landed = conductor.landed;
                for (slot, end) in conductor.ends.iter().enumerate() {
                    if let Some(Spot::End(wire, side)) = network.info(*end).map(|info| &info.spot)
                        && setting.lifted.contains(&(*wire, *side))
                    {
                        landed[slot] = None;
                    }
                }
                landed
            })
            .collect();
        let mut wired = Partition::new(network.len());
        for (conductor, landed) in network.wires.iter().zip(&landed) {
            if !conductor.broken {
                wired.join(conductor.ends[0].0, conductor.ends[1].0);
            }
            for (end, terminal) in conductor.ends.iter().zip(landed) {
                if let Some(terminal) = terminal {
                    wired.join(end.0, terminal.0);
                }
            }
        }
        for join in &network.joins {
            wired.join(join.ends[0].0, join.ends[1].0);
        }
        let on = network.sources.iter().map(|source| setting.sources_on.contains(&source.inside.part)).collect();
        Self { network, held, landed, on, fixed: wired.clone(), wired }.with_contacts_held()
    }

    /// What fuses and held contacts hold together, on top of wires.
    fn with_contacts_held(mut self) -> Self {
        self.fixed = self.wired.clone();
        for fuse in &self.network.fuses {
            self.fixed.join(fuse.ends[0].0, fuse.ends[1].0);
        }
        for (contact, held) in self.network.contacts.iter().zip(&self.held) {
            if *held == Some(true) {
                self.fixed.join(contact.inside.ends[0].0, contact.inside.ends[1].0);
            }
        }
        self
    }

    /// The same with what works a contact operated: its output commanded, or no longer; its switch in each of the other positions.
    /// None where a relay works it, or nothing.
    pub fn operated(&self, contact: usize) -> Vec<Self> {
        let Some(entry) = self.network.contacts.get(contact) else { return Vec::new() };
        let part = entry.inside.part;
        let moved = |closed: &dyn Fn(&super::network::Contact) -> Option<bool>| {
            let contacts = self.network.contacts.iter().filter(|other| other.inside.part == part);
            let own: Vec<bool> = contacts.map(|other| closed(other).is_some()).collect();
            let mut frame = self.clone();
            for (slot, other) in frame.held.iter_mut().zip(&self.network.contacts) {
                if let Some(closed) = (other.inside.part == part).then(|| closed(other)).flatten() {
                    *slot = Some(closed);
                }
            }
            (own.contains(&true) && frame.held != self.held).then(|| frame.with_contacts_held())
        };
        match &entry.works {
            Works::Output(_) => {
                let now = self.held.get(contact).copied().flatten().unwrap_or(false);
                let commanded = now != (entry.form == Form::Make);
                let closed = |other: &super::network::Contact| {
                    (other.works == entry.works).then_some(commanded == (other.form == Form::Make))
                };
                moved(&closed).into_iter().collect()
            }
            Works::Switch { name, .. } => {
                let spec = self.network.body(part).and_then(|body| body.switches.iter().find(|one| one.name == *name));
                let positions = spec.map(|spec| spec.positions.clone()).unwrap_or_default();
                let at = |position: &String| {
                    moved(&|other| match &other.works {
                        Works::Switch { name: own, closed_in } if own == name => Some(closed_in.contains(position)),
                        _ => None,
                    })
                };
                positions.iter().filter_map(at).collect()
            }
            Works::Relay(_) | Works::NoCoil(_) => Vec::new(),
        }
    }

    /// What wires and inner joins alone hold together.
    pub fn wired(&self) -> &Partition {
        &self.wired
    }

    /// What wires, joins, fuses and those contacts hold together that no relay works.
    pub fn fixed(&self) -> &Partition {
        &self.fixed
    }

    /// Whether a contact is closed when the relays stand so (`true` = worked; a relay left out is at rest).
    pub fn is_closed(&self, contact: usize, worked: &[bool]) -> bool {
        let Some(entry) = self.network.contacts.get(contact) else { return false };
        match self.held.get(contact).copied().flatten() {
            Some(closed) => closed,
            None => match entry.works {
                Works::Relay(relay) => worked.get(relay).copied().unwrap_or(false) == (entry.form == Form::Make),
                _ => entry.form == Form::Break,
            },
        }
    }

    /// What is held together with the relays standing so: wires, joins, fuses and closed contacts.
    pub fn joined(&self, worked: &[bool]) -> Partition {
        let mut joined = self.fixed.clone();
        for relay in &self.network.relays {
            for &contact in &relay.contacts {
                if self.is_closed(contact, worked)
                    && let Some(contact) = self.network.contacts.get(contact)
                {
                    joined.join(contact.inside.ends[0].0, contact.inside.ends[1].0);
                }
            }
        }
        joined
    }
}

/// Whether the setting holds the contact closed or open; `None` when a relay works it.
fn held(network: &Network, setting: &Setting, contact: &super::network::Contact) -> Option<bool> {
    let make = contact.form == Form::Make;
    match &contact.works {
        Works::Relay(_) => None,
        Works::NoCoil(_) => Some(!make),
        Works::Output(terminal) => Some(setting.commanded.contains(terminal) == make),
        Works::Switch { name, closed_in } => {
            let part = contact.inside.part;
            let said = setting.positions.get(&(part, name.clone())).map(String::as_str);
            let rest = || {
                let spec = network.body(part)?.switches.iter().find(|switch| switch.name == *name)?;
                spec.positions.first().map(String::as_str)
            };
            let position = said.or_else(rest);
            Some(position.map_or(!make, |position| closed_in.iter().any(|closed| closed == position)))
        }
    }
}
