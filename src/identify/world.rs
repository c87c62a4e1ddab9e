//! The machine as one hypothesis has it, and what a meter would show there.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::catalogue::{Catalogue, Form};
use crate::circuit::electric::{Ask, Elements, Expectation, Explained, Live, Points, Profile, What, ask_at, expected};
use crate::circuit::{Hazard, Inside, Network, Node, Situation};
use crate::machine::{
    ConditionId, EndAt, Guess, Machine, MeterId, Mystery, MysteryId, Side, Spot, Subject, TerminalRef, WireState,
};
use crate::quantity::Function;

use super::log::Log;
pub use crate::circuit::electric::Flaw;

/// Where and how a meter is put.
#[derive(Debug, Clone, PartialEq)]
pub struct Place {
    /// The condition of the machine.
    pub condition: ConditionId,
    /// The red probe, or the wire or part looked at.
    pub red: Spot,
    /// The black probe.
    pub black: Option<Spot>,
    /// What the meter is set to.
    pub function: Function,
    /// The meter; an everyday one where none is said.
    pub meter: Option<MeterId>,
}

impl Place {
    /// The same by ohms where the sounder is asked: each meter has thresholds of its own.
    pub(super) fn by_value(&self) -> Self {
        let function = if self.function == Function::Tone { Function::Ohms } else { self.function };
        Self { function, ..self.clone() }
    }

    /// What a meter put there asks of a network; `None` where the place is gone or does not go with its function.
    pub(super) fn ask(&self, network: &Network) -> Option<Ask> {
        ask_at(network, self.function, &self.red, self.black.as_ref(), false)
    }
}

/// A hypothesis made into a machine.
#[derive(Debug, Clone)]
pub struct World {
    machine: Arc<Machine>,
    network: Network,
    elements: Arc<Elements>,
    /// Its places are nodes of the same numbers as in the network of the log.
    has_same_places: bool,
}

impl World {
    /// A record with these answers to mysteries. Where they land leads, tell forms or name faults, its network is taken over with those
    /// changed; where they change what there is, it is made anew.
    pub(super) fn in_log(log: &Log<'_>, answers: &[(MysteryId, usize)]) -> Self {
        match changed(log, answers) {
            Some(network) => Self {
                machine: Arc::clone(&log.record),
                network,
                elements: Arc::clone(&log.elements),
                has_same_places: true,
            },
            None => Self::of(log.machine, log.catalogue, answers, &[]),
        }
    }

    /// The record with these answers to mysteries and these faults.
    pub fn of(record: &Machine, catalogue: &Arc<Catalogue>, answers: &[(MysteryId, usize)], flaws: &[Flaw]) -> Self {
        let mut machine = record.clone();
        let mut forms: Vec<(TerminalRef, Form)> = Vec::new();
        let mut states: Vec<(Spot, String)> = Vec::new();
        for &(id, answer) in answers {
            let Some(mystery) = record.mysteries.get(id) else { continue };
            let Some(candidate) = mystery.candidates.get(answer) else { continue };
            match (&mystery.subject, &candidate.guess) {
                (Subject::End(wire, side), guess) => {
                    let Some(mut entry) = machine.wires.get(*wire).cloned() else { continue };
                    entry.end_mut(*side).at = match guess {
                        Guess::Terminal(terminal) => EndAt::Terminal(terminal.clone()),
                        _ => EndAt::Loose,
                    };
                    entry.end_mut(*side).lifted = false;
                    machine.wires.put(*wire, Some(Arc::new(entry)));
                }
                (Subject::Kind(part), Guess::Named(kind)) => {
                    let Some(mut entry) = machine.parts.get(*part).cloned() else { continue };
                    entry.kind.clone_from(kind);
                    machine.parts.put(*part, Some(Arc::new(entry)));
                }
                (Subject::ContactForm(terminal), Guess::Named(name)) => {
                    let form = if name == "break" { Form::Break } else { Form::Make };
                    forms.push((terminal.clone(), form));
                }
                (Subject::Fault(spot), Guess::Named(name)) => states.push((spot.clone(), name.clone())),
                (Subject::CoilDriver(part), Guess::Terminal(output)) => drive(&mut machine, catalogue, *part, output),
                _ => {}
            }
        }
        let mut network = Network::of(&machine, catalogue);
        for (terminal, form) in forms {
            for contact in contacts_at(&network, &terminal) {
                network = network.with_form(contact, form);
            }
        }
        let mut all = flaws.to_vec();
        for (spot, state) in states {
            all.extend(flaws_of(&network, &spot, &state));
        }
        let network = network.with_flaws(&all);
        let elements = Arc::new(Elements::of(&network));
        Self { machine: Arc::new(machine), network, elements, has_same_places: false }
    }

    /// The same with faults on top that are written as those of another network of the same record.
    pub(super) fn with_flaws_of(self, other: &Network, flaws: &[Flaw]) -> Self {
        if flaws.is_empty() {
            return self;
        }
        let own: Vec<Flaw> = flaws.iter().filter_map(|&flaw| carried(flaw, other, &self.network)).collect();
        self.with_flaws(&own)
    }

    /// It in a condition of the record.
    pub(super) fn live(&self, condition: ConditionId) -> Live<'_> {
        Live::of(&self.network, &self.elements, &self.machine.setting(condition))
    }

    /// It in a condition of the record, for a first look.
    pub(super) fn live_at_first_look(&self, condition: ConditionId) -> Live<'_> {
        let first = Live::at_first_look(&self.network, &self.elements, &self.machine.setting(condition));
        first.unwrap_or_else(|| self.live(condition))
    }

    /// What would be shown at a place, and the strongest way between the probes in words, where there is one.
    pub(super) fn shown_by(&self, place: &Place) -> Option<(Expectation, Option<String>)> {
        let live = self.live(place.condition);
        let shown = self.expectation(&live, place)?;
        let ask = place.ask(&self.network)?;
        let Points::Probes(red, black) = ask.points else { return Some((shown, None)) };
        let on = live.frame.on.contains(&true);
        let explained = match place.function {
            Function::Tone | Function::Ohms if on => None,
            Function::Tone | Function::Ohms => Some(Explained::dead(&live)),
            _ => Explained::live(&live, place.function == Function::VoltsAc),
        };
        let way = explained.and_then(|explained| explained.ways(red, black).into_iter().next());
        let words = way.map(|way| What::names(&way.through, &self.machine, &self.network).join(" "));
        Some((shown, words.filter(|words| !words.is_empty())))
    }

    /// Whether it is the network of the log with leads, forms and faults changed, and no part or wire more.
    pub(super) fn has_same_places(&self) -> bool {
        self.has_same_places
    }

    /// What a meter put there asks of it; `in_log`: the same of the network of the log.
    pub(super) fn ask(&self, place: &Place, in_log: Option<Ask>) -> Option<Ask> {
        if self.has_same_places { in_log } else { place.ask(&self.network) }
    }

    /// What its elements are worth.
    pub(super) fn elements(&self) -> &Elements {
        &self.elements
    }

    /// The same with faults on top.
    pub fn with_flaws(&self, flaws: &[Flaw]) -> Self {
        let network = self.network.with_flaws(flaws);
        Self { network, ..self.clone() }
    }

    /// The network.
    pub fn network(&self) -> &Network {
        &self.network
    }

    /// How dangerous a condition is here.
    pub fn hazard(&self, condition: ConditionId) -> Hazard {
        Situation::of(&self.network, &self.machine.setting(condition)).hazard().0
    }

    /// What would be shown at each of these places; `None` where the place is gone or does not go with its function.
    pub fn expectations(&self, places: &[Place]) -> Vec<Option<Expectation>> {
        let mut by_condition: BTreeMap<ConditionId, Vec<usize>> = BTreeMap::new();
        for (at, place) in places.iter().enumerate() {
            by_condition.entry(place.condition).or_default().push(at);
        }
        let mut all = vec![None; places.len()];
        for (condition, own) in by_condition {
            let live = self.live(condition);
            for at in own {
                all[at] = self.expectation(&live, &places[at]);
            }
        }
        all
    }

    fn expectation(&self, live: &Live<'_>, place: &Place) -> Option<Expectation> {
        let meter = place.meter.and_then(|meter| self.machine.meters.get(meter));
        let meter = meter.map_or_else(Profile::default, Profile::of);
        let ask = place.ask(&self.network)?;
        Some(expected(live, &meter, ask))
    }
}

/// The network of a record with these answers; `None` where one of them adds a wire, or makes a part another one.
fn changed(log: &Log<'_>, answers: &[(MysteryId, usize)]) -> Option<Network> {
    let mut network = log.network.clone();
    let mut flaws: Vec<Flaw> = Vec::new();
    for &(id, answer) in answers {
        let Some(mystery) = log.machine.mysteries.get(id) else { continue };
        let Some(candidate) = mystery.candidates.get(answer) else { continue };
        match (&mystery.subject, &candidate.guess) {
            (Subject::End(wire, side), guess) => {
                let entry = log.machine.wires.get(*wire)?;
                if entry.state == WireState::CappedOff {
                    return None;
                }
                let on = match guess {
                    Guess::Terminal(terminal) => Some(terminal),
                    _ => None,
                };
                network = network.with_end(*wire, *side, on)?;
            }
            (Subject::ContactForm(terminal), Guess::Named(name)) => {
                let form = if name == "break" { Form::Break } else { Form::Make };
                for contact in contacts_at(&network, terminal) {
                    network = network.with_form(contact, form);
                }
            }
            (Subject::Fault(spot), Guess::Named(name)) => flaws.extend(flaws_of(&network, spot, name)),
            (Subject::Kind(_), Guess::Named(_)) | (Subject::CoilDriver(_), Guess::Terminal(_)) => return None,
            _ => {}
        }
    }
    Some(if flaws.is_empty() { network } else { network.with_flaws(&flaws) })
}

/// A fault of one network as that of the same element in another network of the record; `None` where that has no such element.
pub(super) fn carried(flaw: Flaw, from: &Network, to: &Network) -> Option<Flaw> {
    // Elements keep their order within a part.
    fn nth<'a>(
        at: usize,
        from: impl Iterator<Item = &'a Inside> + Clone,
        to: impl Iterator<Item = &'a Inside>,
    ) -> Option<usize> {
        let own = from.clone().nth(at)?;
        let is_own = |one: &&Inside| one.part == own.part && one.element == own.element;
        let before = from.take(at).filter(is_own).count();
        to.enumerate().filter(|(_, one)| is_own(one)).nth(before).map(|(at, _)| at)
    }
    let contacts = |at| {
        let inside = |network: &'_ Network| network.contacts().iter().map(|one| one.inside).collect::<Vec<_>>();
        nth(at, inside(from).iter(), inside(to).iter())
    };
    let what = match flaw {
        Flaw::Welded(contact) => return contacts(contact).map(Flaw::Welded),
        Flaw::Open(what) => what,
    };
    let what = match what {
        What::Wire(at) => {
            let wire = from.wires().get(at)?.wire;
            What::Wire(crate::circuit::electric::wire_index(to, wire)?)
        }
        What::Contact(at) => What::Contact(contacts(at)?),
        What::Fuse(at) => What::Fuse(nth(at, from.fuses().iter(), to.fuses().iter())?),
        What::Coil(at) => {
            What::Coil(nth(at, from.relays().iter().map(|one| &one.inside), to.relays().iter().map(|one| &one.inside))?)
        }
        What::Load(at) => {
            What::Load(nth(at, from.loads().iter().map(|one| &one.inside), to.loads().iter().map(|one| &one.inside))?)
        }
        other => other,
    };
    Some(Flaw::Open(what))
}

/// A lead of its own from an output to the coil of a part: to the coil's first end on which nothing lands, or only leads that go out of
/// sight. Where both ends are taken nothing is put in.
fn drive(machine: &mut Machine, catalogue: &Catalogue, part: crate::machine::PartId, output: &TerminalRef) {
    use crate::catalogue::Element;
    let Some(entry) = machine.parts.get(part) else { return };
    let body = catalogue.body(entry);
    let coil = body.elements.iter().find_map(|element| match element {
        Element::Coil { ends, .. } => Some(ends.clone()),
        _ => None,
    });
    let Some((first, second)) = coil else { return };
    let ends = [first, second].map(|marking| TerminalRef::new(part, marking.as_str()));
    let is_open = |end: &&TerminalRef| {
        machine.wires_at(end).all(|(wire, side)| {
            machine.wires.get(wire).is_some_and(|entry| !matches!(entry.end(side.other()).at, EndAt::Terminal(_)))
        })
    };
    let Some(free) = ends.iter().find(is_open).cloned() else { return };
    let end = |terminal: &TerminalRef| crate::machine::WireEnd {
        at: EndAt::Terminal(terminal.clone()),
        ..crate::machine::WireEnd::default()
    };
    let wire = crate::machine::Wire { from: end(output), to: end(&free), ..crate::machine::Wire::default() };
    machine.wires.add(wire);
}

/// Contacts with an end on this terminal.
fn contacts_at(network: &Network, terminal: &TerminalRef) -> Vec<usize> {
    let Some(node) = network.terminal(terminal) else { return Vec::new() };
    // Where the common of a change-over is named, its first arm stands for it: the other one follows.
    let mut all = network.contacts().iter().enumerate().filter(|(_, contact)| contact.inside.ends.contains(&node));
    all.next().map(|(at, _)| at).into_iter().collect()
}

/// What a state by name means at a spot: `open` and `welded`; anything else is no fault.
pub fn flaws_of(network: &Network, spot: &Spot, state: &str) -> Vec<Flaw> {
    let node: Option<Node> = network.node(spot);
    let on = |ends: [Node; 2]| node.is_some_and(|node| ends.contains(&node));
    match (state, spot) {
        ("open", Spot::Wire(wire) | Spot::End(wire, _)) => {
            crate::circuit::electric::wire_index(network, *wire).map(What::Wire).map(Flaw::Open).into_iter().collect()
        }
        ("open", Spot::Part(part)) => {
            let own = |inside: &crate::circuit::Inside| inside.part == *part;
            let coils =
                network.relays().iter().enumerate().filter(|(_, one)| own(&one.inside)).map(|(at, _)| What::Coil(at));
            let loads =
                network.loads().iter().enumerate().filter(|(_, one)| own(&one.inside)).map(|(at, _)| What::Load(at));
            let fuses = network.fuses().iter().enumerate().filter(|(_, one)| own(one)).map(|(at, _)| What::Fuse(at));
            let passives =
                network.passives().iter().enumerate().filter(|(_, (_, one))| own(one)).map(|(at, _)| What::Passive(at));
            coils.chain(loads).chain(fuses).chain(passives).map(Flaw::Open).collect()
        }
        ("open", Spot::Terminal(_)) => {
            let contacts = network.contacts().iter().enumerate().filter(|(_, contact)| on(contact.inside.ends));
            contacts.map(|(at, _)| Flaw::Open(What::Contact(at))).collect()
        }
        ("welded", Spot::Terminal(terminal)) => contacts_at(network, terminal).into_iter().map(Flaw::Welded).collect(),
        ("welded", Spot::Part(part)) => {
            let contacts = network.contacts().iter().enumerate().filter(|(_, contact)| contact.inside.part == *part);
            contacts.map(|(at, _)| Flaw::Welded(at)).collect()
        }
        _ => Vec::new(),
    }
}

/// Where a subject can be met: at the near ends of leads, at a terminal, or somewhere on a part.
pub fn subject_spots(machine: &Machine, subject: &Subject) -> Vec<Spot> {
    match subject {
        Subject::End(wire, side) => near_end(machine, *wire, *side).into_iter().collect(),
        Subject::Fault(Spot::Wire(wire) | Spot::End(wire, _)) => {
            Side::BOTH.into_iter().filter_map(|side| near_end(machine, *wire, side)).collect()
        }
        Subject::Fault(Spot::Gone(_)) => Vec::new(),
        Subject::Fault(spot) => vec![spot.clone()],
        Subject::ContactForm(terminal) => vec![Spot::Terminal(terminal.clone())],
        Subject::CoilDriver(part) | Subject::Kind(part) => vec![Spot::Part(*part)],
    }
}

/// The terminals that are candidates of a mystery.
pub fn candidate_spots(mystery: &Mystery) -> impl Iterator<Item = Spot> + '_ {
    mystery.candidates.iter().filter_map(|candidate| match &candidate.guess {
        Guess::Terminal(terminal) => Some(Spot::Terminal(terminal.clone())),
        _ => None,
    })
}

/// Where an end of a wire that is not known can be met all the same: at its other end.
fn near_end(machine: &Machine, wire: crate::machine::WireId, side: Side) -> Option<Spot> {
    match &machine.wires.get(wire)?.end(side.other()).at {
        EndAt::Terminal(terminal) => Some(Spot::Terminal(terminal.clone())),
        EndAt::Loose => Some(Spot::End(wire, side.other())),
        EndAt::Unknown => None,
    }
}
