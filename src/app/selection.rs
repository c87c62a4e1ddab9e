//! What is selected, and where the probes are. Never part of the record: selecting is no edit.

use std::collections::BTreeSet;

use crate::machine::{Machine, PartId, PhotoId, Spot, TerminalRef, Thing, WireId};

/// The things that are selected: parts, wires, ends, terminals, photos, readings, mysteries.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Selection {
    things: BTreeSet<Thing>,
}

impl Selection {
    /// Exactly one thing.
    pub fn of(thing: impl Into<Thing>) -> Self {
        Self { things: BTreeSet::from([thing.into()]) }
    }

    /// Several things.
    pub fn of_all(things: impl IntoIterator<Item = Thing>) -> Self {
        Self { things: things.into_iter().collect() }
    }

    /// All of them, sorted.
    pub fn things(&self) -> &BTreeSet<Thing> {
        &self.things
    }

    /// The one thing that is selected, when it is only one.
    pub fn only(&self) -> Option<&Thing> {
        let mut things = self.things.iter();
        things.next().filter(|_| things.next().is_none())
    }

    /// Whether nothing is selected.
    pub fn is_empty(&self) -> bool {
        self.things.is_empty()
    }

    /// How many things are selected.
    pub fn len(&self) -> usize {
        self.things.len()
    }

    /// Whether this is selected.
    pub fn has(&self, thing: &Thing) -> bool {
        self.things.contains(thing)
    }

    /// Takes it in, or out when it is in.
    pub fn toggle(&mut self, thing: Thing) {
        if !self.things.remove(&thing) {
            self.things.insert(thing);
        }
    }

    /// The selected parts.
    pub fn parts(&self) -> BTreeSet<PartId> {
        self.things.iter().filter_map(|t| if let Thing::Spot(Spot::Part(id)) = t { Some(*id) } else { None }).collect()
    }

    /// The selected wires; a selected end counts as its wire.
    pub fn wires(&self) -> BTreeSet<WireId> {
        self.things
            .iter()
            .filter_map(|t| if let Thing::Spot(Spot::Wire(id) | Spot::End(id, _)) = t { Some(*id) } else { None })
            .collect()
    }

    /// The selected photos.
    pub fn photos(&self) -> BTreeSet<PhotoId> {
        self.things.iter().filter_map(|t| if let Thing::Photo(id) = t { Some(*id) } else { None }).collect()
    }

    /// The selected terminals.
    pub fn terminals(&self) -> BTreeSet<TerminalRef> {
        self.things
            .iter()
            .filter_map(|t| if let Thing::Spot(Spot::Terminal(at)) = t { Some(at.clone()) } else { None })
            .collect()
    }

    /// Lets go of what the record no longer has.
    pub fn keep_present(&mut self, machine: &Machine) {
        self.things.retain(|thing| is_present(machine, thing));
    }
}

/// Whether the record has this thing.
pub fn is_present(machine: &Machine, thing: &Thing) -> bool {
    match thing {
        Thing::Spot(Spot::Terminal(at)) => machine.parts.contains(at.part),
        Thing::Spot(Spot::Part(id)) => machine.parts.contains(*id),
        Thing::Spot(Spot::End(id, _) | Spot::Wire(id)) => machine.wires.contains(*id),
        Thing::Spot(Spot::Gone(_)) => false,
        Thing::Condition(id) => machine.conditions.contains(*id),
        Thing::Reading(id) => machine.readings.contains(*id),
        Thing::Mystery(id) => machine.mysteries.contains(*id),
        Thing::Photo(id) => machine.photos.contains(*id),
    }
}

/// One of the two probes.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Probe {
    /// The red one.
    Red,
    /// The black one.
    Black,
}

impl Probe {
    /// Both, red first.
    pub const BOTH: [Self; 2] = [Self::Red, Self::Black];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Red => "red",
            Self::Black => "black",
        }
    }
}

/// Where the two probes are.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Probes {
    /// Red probe; a clamp round a wire or a look at a part uses it alone.
    pub red: Option<Spot>,
    /// Black probe.
    pub black: Option<Spot>,
}

impl Probes {
    /// Where a probe is.
    pub fn at(&self, probe: Probe) -> Option<&Spot> {
        match probe {
            Probe::Red => self.red.as_ref(),
            Probe::Black => self.black.as_ref(),
        }
    }

    /// Puts a probe somewhere, or takes it off.
    pub fn put(&mut self, probe: Probe, spot: Option<Spot>) {
        match probe {
            Probe::Red => self.red = spot,
            Probe::Black => self.black = spot,
        }
    }

    /// Takes a probe off what the record no longer has.
    pub fn keep_present(&mut self, machine: &Machine) {
        for probe in Probe::BOTH {
            if self.at(probe).is_some_and(|spot| !is_present(machine, &Thing::Spot(spot.clone()))) {
                self.put(probe, None);
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::Part;

    #[test]
    fn what_is_gone_from_the_record_is_let_go() {
        let mut machine = Machine::default();
        let (id, edit) = machine.add_part(Part { tag: "K1".into(), ..Part::default() });
        let inverse = machine.apply(edit);
        let mut selection = Selection::of(id);
        let mut probes = Probes { red: Some(Spot::Part(id)), black: None };
        selection.keep_present(&machine);
        assert_eq!(selection.only(), Some(&Thing::from(id)));
        machine.apply(inverse);
        selection.keep_present(&machine);
        probes.keep_present(&machine);
        assert!(selection.is_empty() && probes.red.is_none());
    }

    #[test]
    fn only_speaks_of_exactly_one_thing() {
        let mut selection = Selection::of(PartId(1));
        assert!(selection.only().is_some());
        selection.toggle(WireId(2).into());
        assert!(selection.only().is_none() && selection.len() == 2);
        selection.toggle(PartId(1).into());
        assert_eq!(selection.wires(), BTreeSet::from([WireId(2)]));
    }
}
