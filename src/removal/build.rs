//! Lays the edges of a record's graph: what conducts when, and every way in which what is not known could be.

use crate::catalogue::{Element, Form};
use crate::circuit::electric::{Judgement, What};
use crate::circuit::{Contact, Node, Passive, Works};
use crate::machine::{
    Constraint, EndAt, Guess, MysteryId, PartId, Side, Spot, Statement, Subject, TerminalRef, WireState,
};

use super::landings::{Landing, mystery_of};
use super::model::{Builder, Edge, Is, Wild};
use super::term::{Clause, Cond, Cube, Var};

/// What a suspected fault does to an element.
struct Suspicion {
    var: usize,
    welded: bool,
    spot: Spot,
}

impl Builder<'_> {
    /// Every edge of which the record knows.
    pub(super) fn lay(&mut self, landings: &[Landing], judgement: &Judgement) {
        let network = self.network;
        let suspicions = self.suspicions();
        let open = |when: Cond, vars: &[usize]| vars.iter().fold(when, |when, &var| when.and(var, false));
        for (at, wire) in network.wires().iter().enumerate() {
            let mut off: Vec<usize> = suspicions
                .iter()
                .filter(|one| !one.welded && matches!(one.spot, Spot::Wire(w) | Spot::End(w, _) if w == wire.wire))
                .map(|one| one.var)
                .collect();
            off.extend(self.disputed(judgement, What::Wire(at)));
            let when = if wire.broken { Cond::never() } else { open(Cond::always(), &off) };
            self.edge(wire.ends, when, Is::Wire(at));
        }
        for landing in landings {
            let Some(doubt) = &landing.doubt else { continue };
            let var = self.var(doubt.clone());
            self.edge([landing.end, landing.terminal], Cond::lit(var, true), Is::Landing(landing.wire, landing.slot));
        }
        for (at, contact) in network.contacts().iter().enumerate() {
            let mut when = self.closed(contact);
            for one in &suspicions {
                let on = match &one.spot {
                    Spot::Terminal(terminal) => {
                        network.terminal(terminal).is_some_and(|node| contact.inside.ends.contains(&node))
                    }
                    Spot::Part(part) => one.welded && contact.inside.part == *part,
                    _ => false,
                };
                if on {
                    when = if one.welded { when.or(Cond::lit(one.var, true)) } else { when.and(one.var, false) };
                }
            }
            if let Some(var) = self.disputed(judgement, What::Contact(at)) {
                when = when.and(var, false);
            }
            self.edge(contact.inside.ends, when, Is::Contact(at));
        }
        // Of a part that may be open as a whole.
        let whole = |part: PartId| -> Vec<usize> {
            let own = |one: &&Suspicion| !one.welded && one.spot == Spot::Part(part);
            suspicions.iter().filter(own).map(|one| one.var).collect()
        };
        let of_part = |part: PartId| open(Cond::always(), &whole(part));
        for (at, fuse) in network.fuses().iter().enumerate() {
            self.edge(fuse.ends, of_part(fuse.part), Is::Fuse(at));
        }
        for (at, load) in network.loads().iter().enumerate() {
            self.edge(load.inside.ends, of_part(load.inside.part), Is::Load(at));
        }
        for (at, relay) in network.relays().iter().enumerate() {
            self.edge(relay.inside.ends, of_part(relay.inside.part), Is::Coil(at));
        }
        for (at, (what, inside)) in network.passives().iter().enumerate() {
            let is = if *what == Passive::Sense { Is::Sense(at) } else { Is::Passive(at) };
            self.edge(inside.ends, of_part(inside.part), is);
        }
        for (at, one) in network.derived().iter().enumerate() {
            self.edge(one.input, Cond::always(), Is::Input(at));
            self.edge(one.inside.ends, Cond::always(), Is::Output(at));
        }
        for (at, source) in network.sources().iter().enumerate() {
            let var = self.var(Var::Source(source.inside.part));
            self.edge(source.inside.ends, Cond::lit(var, true), Is::Source(at));
        }
    }

    fn disputed(&mut self, judgement: &Judgement, what: What) -> Option<usize> {
        let standing = judgement.standings.get(&what)?;
        if standing.disputed_by.is_empty() {
            return None;
        }
        let name = What::names(&[what], self.machine, self.network).concat();
        Some(self.var(Var::Disputed(name)))
    }

    /// Faults that the record suspects, each a variable of its own.
    fn suspicions(&mut self) -> Vec<Suspicion> {
        let mut all = Vec::new();
        for (id, mystery) in self.machine.mysteries.iter() {
            let Subject::Fault(spot) = &mystery.subject else { continue };
            for (at, candidate) in mystery.candidates.iter().enumerate() {
                let Guess::Named(name) = &candidate.guess else { continue };
                if name == "open" || name == "welded" {
                    let var = self.var(Var::Fault(id, at));
                    all.push(Suspicion { var, welded: name == "welded", spot: spot.clone() });
                }
            }
        }
        all
    }

    /// When a contact is closed, its form read or not.
    fn closed(&mut self, contact: &Contact) -> Cond {
        let as_read = self.closed_in(contact, contact.form);
        let network = self.network;
        let about = self.machine.mysteries.iter().find(|(_, mystery)| match &mystery.subject {
            Subject::ContactForm(terminal) => {
                network.terminal(terminal).is_some_and(|node| contact.inside.ends.contains(&node))
            }
            _ => false,
        });
        let Some((id, _)) = about else { return as_read };
        let var = self.var(Var::Form(id));
        let other = if contact.form == Form::Make { Form::Break } else { Form::Make };
        let turned = self.closed_in(contact, other);
        as_read.and(var, false).or(turned.and(var, true))
    }

    fn closed_in(&mut self, contact: &Contact, form: Form) -> Cond {
        let make = form == Form::Make;
        match &contact.works {
            Works::NoCoil(_) => {
                if make {
                    Cond::never()
                } else {
                    Cond::always()
                }
            }
            Works::Relay(relay) => Cond::lit(self.var(Var::Relay(*relay)), make),
            Works::Output(terminal) => Cond::lit(self.var(Var::Output(terminal.clone())), make),
            Works::Switch { name, closed_in } => {
                let positions = self.positions(contact.inside.part, name);
                if positions.is_empty() {
                    return if make { Cond::never() } else { Cond::always() };
                }
                // What is closed in these positions is open in the others when its form turns out to be the other one.
                let as_listed = form == contact.form;
                let cubes: Vec<Cube> = positions
                    .iter()
                    .filter(|position| closed_in.contains(position) == as_listed)
                    .filter_map(|position| self.position(contact.inside.part, name, position))
                    .collect();
                Cond(cubes)
            }
        }
    }

    fn positions(&self, part: PartId, name: &str) -> Vec<String> {
        let switches = self.network.body(part).map(|body| body.switches.as_slice()).unwrap_or_default();
        switches.iter().find(|switch| switch.name == name).map(|switch| switch.positions.clone()).unwrap_or_default()
    }

    /// The bits that stand for a position. `None` when the switch has no such position.
    fn position(&mut self, part: PartId, name: &str, position: &str) -> Option<Cube> {
        let positions = self.positions(part, name);
        let at = positions.iter().position(|one| one == position)?;
        let bits = bits_of(positions.len());
        Some((0..bits).map(|bit| (self.var(Var::Switch(part, name.to_owned(), bit)), at >> bit & 1 == 1)).collect())
    }

    /// What is not known: candidates of ends and of what works a coil, pins of unknown role, ends out of sight. Returns the place
    /// all of these share, when it is needed.
    pub(super) fn unknowns(&mut self, places: usize) -> Option<u32> {
        let network = self.network;
        let hub = u32::try_from(places).unwrap_or(u32::MAX);
        let mut touched = false;
        for conductor in network.wires() {
            let Some(wire) = self.machine.wires.get(conductor.wire) else { continue };
            if wire.state != WireState::InPlace {
                continue;
            }
            for (slot, side) in Side::BOTH.into_iter().enumerate() {
                if let Some((id, mystery)) = mystery_of(self.machine, conductor.wire, side) {
                    for (number, candidate) in mystery.candidates.iter().enumerate() {
                        let Guess::Terminal(terminal) = &candidate.guess else { continue };
                        self.candidate(conductor.ends[slot], terminal, id, number);
                    }
                } else if wire.end(side).at == EndAt::Unknown {
                    self.wild.push(Wild(conductor.wire, side));
                }
            }
        }
        for (id, mystery) in self.machine.mysteries.iter() {
            match &mystery.subject {
                Subject::CoilDriver(part) => {
                    for (number, candidate) in mystery.candidates.iter().enumerate() {
                        let Guess::Terminal(output) = &candidate.guess else { continue };
                        let ends = network.relays().iter().filter(|relay| relay.inside.part == *part);
                        let ends: Vec<Node> = ends.flat_map(|relay| relay.inside.ends).collect();
                        for end in ends {
                            self.candidate(end, output, id, number);
                        }
                    }
                }
                Subject::Kind(part) => self.unknown_parts.push(*part),
                _ => {}
            }
        }
        // What is recorded of the inside of a part of unknown kind may not be there.
        for part in self.unknown_parts.clone() {
            let var = self.var(Var::Unknown(part));
            for edge in &mut self.edges {
                let Is::Contact(at) = edge.is else { continue };
                if network.contacts().get(at).is_some_and(|contact| contact.inside.part == part) {
                    edge.when = std::mem::take(&mut edge.when).and(var, false);
                }
            }
        }
        let mut unknown: Vec<(u32, PartId)> = Vec::new();
        for (node, info) in network.nodes() {
            if let Spot::Terminal(terminal) = &info.spot
                && (info.unknown || self.unknown_parts.contains(&terminal.part))
            {
                unknown.push((self.at(node), terminal.part));
            }
        }
        let mut vars = Vec::new();
        for (place, part) in unknown {
            let var = self.var(Var::Unknown(part));
            vars.push(var);
            self.edges.push(Edge { ends: [place, hub], when: Cond::lit(var, true), is: Is::Unknown });
            touched = true;
        }
        if touched {
            // What is not known may be held at the potential of any source.
            let poles: Vec<u32> = self
                .edges
                .iter()
                .filter(|edge| matches!(edge.is, Is::Source(_) | Is::Output(_)))
                .flat_map(|edge| edge.ends)
                .collect();
            vars.sort_unstable();
            vars.dedup();
            let any = Cond(vars.into_iter().map(|var| vec![(var, true)]).collect());
            for pole in poles {
                self.edges.push(Edge { ends: [pole, hub], when: any.clone(), is: Is::Unknown });
            }
        }
        self.one_answer_each();
        touched.then_some(hub)
    }

    fn candidate(&mut self, end: Node, terminal: &TerminalRef, mystery: MysteryId, number: usize) {
        let Some(node) = self.network.terminal(terminal) else { return };
        let var = self.var(Var::Candidate(mystery, number));
        self.edge([end, node], Cond::lit(var, true), Is::Candidate);
    }

    /// A mystery has one answer, and mysteries of one set have different ones.
    fn one_answer_each(&mut self) {
        let all: Vec<(usize, MysteryId, usize)> = self
            .vars
            .iter()
            .enumerate()
            .filter_map(|(at, var)| match var {
                Var::Candidate(mystery, number) => Some((at, *mystery, *number)),
                _ => None,
            })
            .collect();
        let guess = |mystery: MysteryId, number: usize| {
            self.machine.mysteries.get(mystery).and_then(|mystery| mystery.candidates.get(number)).map(|one| &one.guess)
        };
        let set = |mystery: MysteryId| self.machine.mysteries.get(mystery).and_then(|one| one.one_of_each.as_ref());
        for (index, &(one, mystery, number)) in all.iter().enumerate() {
            for &(other, other_mystery, other_number) in all.iter().skip(index + 1) {
                let same = mystery == other_mystery;
                let shared = set(mystery).is_some() && set(mystery) == set(other_mystery);
                let equal = guess(mystery, number) == guess(other_mystery, other_number);
                if same && number != other_number || !same && shared && equal {
                    self.valid.push(vec![(one, false), (other, false)]);
                }
            }
            // Where the answer is another place, the end is not where it is recorded.
            if let Some(mystery) = self.machine.mysteries.get(mystery)
                && let Subject::End(wire, side) = mystery.subject
                && let Some(&recorded) = self.by_var.get(&Var::Assumed(wire, side))
            {
                self.valid.push(vec![(one, false), (recorded, false)]);
            }
        }
    }

    /// What the record says of conditions that can occur, and which codes stand for no position.
    pub(super) fn constrain(&mut self) {
        for constraint in self.machine.constraints.values() {
            match constraint {
                Constraint::NeverBoth(all) => {
                    let cubes: Vec<Cube> = all.iter().filter_map(|one| self.statement(one)).collect();
                    for (at, one) in cubes.iter().enumerate() {
                        for other in cubes.iter().skip(at + 1) {
                            // The same thing said twice forbids nothing: it would forbid itself.
                            if one != other {
                                self.valid.push(not(one).chain(not(other)).collect());
                            }
                        }
                    }
                }
                Constraint::OnlyWhen(this, that) => {
                    if let (Some(this), Some(that)) = (self.statement(this), self.statement(that)) {
                        for literal in that {
                            self.valid.push(not(&this).chain([literal]).collect());
                        }
                    }
                }
                Constraint::Always(this) => {
                    for literal in self.statement(this).unwrap_or_default() {
                        self.valid.push(vec![literal]);
                    }
                }
            }
        }
        let mut switches: Vec<(PartId, String)> = self
            .vars
            .iter()
            .filter_map(|var| match var {
                Var::Switch(part, name, 0) => Some((*part, name.clone())),
                _ => None,
            })
            .collect();
        switches.sort();
        for (part, name) in switches {
            let count = self.positions(part, &name).len();
            let bits = bits_of(count);
            for code in count..1 << bits {
                let clause: Clause = (0..bits)
                    .map(|bit| (self.var(Var::Switch(part, name.clone(), bit)), code >> bit & 1 == 0))
                    .collect();
                self.valid.push(clause);
            }
        }
    }

    fn statement(&mut self, statement: &Statement) -> Option<Cube> {
        match statement {
            Statement::SourceOn(part) => {
                let has = |element: &Element| matches!(element, Element::Source { .. });
                self.network.body(*part)?.elements.iter().any(has).then(|| vec![(self.var(Var::Source(*part)), true)])
            }
            Statement::Commanded(terminal) => Some(vec![(self.var(Var::Output(terminal.clone())), true)]),
            Statement::Position(part, name, position) => self.position(*part, name, position),
        }
    }
}

/// How many bits a choice of so many takes.
pub(super) fn bits_of(count: usize) -> usize {
    usize::try_from(count.max(1).next_power_of_two().trailing_zeros()).unwrap_or(0)
}

/// Anything but this.
fn not(cube: &Cube) -> impl Iterator<Item = (usize, bool)> + '_ {
    cube.iter().map(|&(var, value)| (var, !value))
}
