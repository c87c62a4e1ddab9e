//! What is not on the ladder, and why: nothing of the record is dropped in silence.

use std::collections::{BTreeMap, BTreeSet};

use crate::catalogue::{Body, Family};
use crate::circuit::Network;
use crate::machine::{EndAt, Machine, Mounting, PartId, Side, Spot, Thing, WireId, WireState};

use super::graph::{Graph, terminal_of};
use super::layout::{Off, Reason, What};
use super::names;
use super::supply::Group;

/// More nets than this are not looked through for the place where a way ends.
const MOST_LOOKED_AT: usize = 200;

/// Everything a list of what is left out is made from.
pub(super) struct Survey<'a> {
    pub(super) machine: &'a Machine,
    pub(super) network: &'a Network,
    pub(super) graph: &'a Graph,
    /// Every pole of every supply.
    pub(super) poles: &'a BTreeSet<usize>,
    /// Which devices are drawn.
    pub(super) drawn: &'a [bool],
    /// Which of what gives a supply is drawn, or has its poles drawn.
    pub(super) given: &'a [bool],
    /// Which nets are drawn.
    pub(super) nets_drawn: &'a [bool],
    /// Families by part.
    pub(super) family: BTreeMap<PartId, Option<Family>>,
}

impl Survey<'_> {
    /// The list: parts in order of their devices, then wires.
    pub(super) fn list(&self) -> Vec<Off> {
        let mut found = self.parts();
        found.extend(self.givers());
        let mut edges: Vec<usize> = (0..self.graph.edges.len()).filter(|&edge| !self.drawn[edge]).collect();
        edges.sort_by_key(|&edge| self.graph.edges[edge].rank);
        found.extend(edges.into_iter().map(|edge| self.edge(edge)));
        found.extend(self.machine.wires.iter().filter_map(|(id, _)| self.wire(id)));
        found
    }

    /// Parts whose place is empty, and those of which it is not known what is inside.
    fn parts(&self) -> Vec<Off> {
        let mut found = Vec::new();
        for (id, part) in self.machine.parts.iter() {
            let Some(body) = self.network.body(id) else { continue };
            if part.mounting == Mounting::Missing {
                found.push(self.off(id, Vec::new(), Reason::Missing, "its place is empty".to_owned()));
                continue;
            }
            let unknown: Vec<&str> = body
                .terminals
                .iter()
                .filter(|terminal| terminal.unknown && self.is_wired(id, terminal.marking.as_str()))
                .map(crate::catalogue::BodyTerminal::label)
                .collect();
            if !unknown.is_empty() {
                let why = format!("what lies behind {} is not known", names::listed(&unknown));
                found.push(self.off(id, Vec::new(), Reason::Unknown, why));
            } else if body.elements.is_empty() && self.family.get(&id) != Some(&Some(Family::Joining)) {
                let why =
                    if body.kind_known { "the record has nothing inside it" } else { "what is inside is not known" };
                found.push(self.off(id, Vec::new(), Reason::Unknown, why.to_owned()));
            }
        }
        found
    }

    fn is_wired(&self, part: PartId, marking: &str) -> bool {
        let terminal = crate::machine::TerminalRef::new(part, marking);
        self.network.terminal(&terminal).is_some_and(|node| !self.graph.nets[self.graph.net(node)].wires.is_empty())
    }

    fn off(&self, part: PartId, elements: Vec<usize>, reason: Reason, why: String) -> Off {
        Off { of: Thing::from(part), elements, what: self.machine.part_name(part).to_owned(), reason, why }
    }

    fn givers(&self) -> Vec<Off> {
        let mut found = Vec::new();
        for (index, giver) in self.graph.givers.iter().enumerate() {
            if self.given[index] {
                continue;
            }
            let (reason, why) = if giver.nets[0] == giver.nets[1] {
                (Reason::Bridged, "its two poles are joined".to_owned())
            } else if giver.nets.iter().all(|&net| self.nets_drawn[net]) {
                (Reason::Bridged, "both its poles are on the ladder, as those of another supply".to_owned())
            } else {
                (Reason::LeadsNowhere, "nothing is between its poles".to_owned())
            };
            let mut off = self.off(giver.inside.part, vec![giver.inside.element], reason, why);
            off.what = self.name(giver.inside.part, giver.inside.ends, giver.what);
            found.push(off);
        }
        found
    }

    fn name(&self, part: PartId, nodes: [crate::circuit::Node; 2], what: What) -> String {
        let body = self.network.body(part);
        let [a, b] =
            nodes.map(|node| label(body.map(AsRef::as_ref), terminal_of(self.network, node, part).marking.as_str()));
        let tag = self.machine.part_name(part);
        match what {
            What::Primary => format!("{tag} {a}–{b}, its supply"),
            What::Coil => format!("{tag} {a}–{b}, coil"),
            What::Contact(form) => format!("{tag} {a}–{b}, {} contact", names::form(form)),
            _ => format!("{tag} {a}–{b}"),
        }
    }

    fn edge(&self, index: usize) -> Off {
        let edge = &self.graph.edges[index];
        let (reason, why) = self.why(index);
        let mut off = self.off(edge.part, edge.elements.clone(), reason, why);
        off.what = self.name(edge.part, edge.nodes, edge.what);
        off
    }

    fn why(&self, index: usize) -> (Reason, String) {
        let edge = &self.graph.edges[index];
        if edge.nets[0] == edge.nets[1] {
            return (Reason::Bridged, "both its ends are on one net".to_owned());
        }
        let alone = |net: usize| {
            self.graph.nets.get(net).is_some_and(|net| {
                net.wires.is_empty() && net.edges.iter().all(|&on| self.graph.edges[on].part == edge.part)
            })
        };
        if edge.nets.iter().all(|&net| alone(net)) {
            return (Reason::LeadsNowhere, "not used, no wire is on it".to_owned());
        }
        let sides = edge.nets.map(|net| self.side(net, index));
        let poles: Vec<usize> = sides.iter().flat_map(|side| side.poles.iter().copied()).collect();
        let ends: Vec<&(Reason, String)> = sides.iter().filter_map(|side| side.end.as_ref()).collect();
        if sides.iter().all(|side| side.poles.is_empty()) {
            let why = ends.first().map(|(_, end)| format!("no way leads from it to a supply; {end}"));
            return (Reason::NoSupply, why.unwrap_or_else(|| "no way leads from it to a supply".to_owned()));
        }
        if let Some(side) = sides.iter().find(|side| side.poles.is_empty()) {
            return side.end.clone().unwrap_or((Reason::LeadsNowhere, "one side leads to nothing".to_owned()));
        }
        let first = sides[0].poles.first();
        if poles.iter().all(|pole| Some(pole) == first) {
            return (Reason::Bridged, "both its sides come to the same pole only".to_owned());
        }
        (Reason::TwoSupplies, "it stands between two supplies that have no pole in common".to_owned())
    }

    /// What one side of a device comes to, without going through it.
    fn side(&self, net: usize, without: usize) -> SideOf {
        let mut side = SideOf { poles: BTreeSet::new(), end: None };
        let mut open = vec![net];
        let mut seen: BTreeSet<usize> = open.iter().copied().collect();
        let mut looked = 0;
        while let Some(net) = open.pop() {
            looked += 1;
            if looked > MOST_LOOKED_AT {
                break;
            }
            if self.poles.contains(&net) {
                side.poles.insert(net);
                continue;
            }
            let Some(here) = self.graph.nets.get(net) else { continue };
            let onward: Vec<usize> = here.edges.iter().copied().filter(|&edge| edge != without).collect();
            let end = self.end_of(net, onward.is_empty());
            // What is known to be open says more than that something ends.
            if side.end.as_ref().is_none_or(|(held, _)| end.as_ref().is_some_and(|(now, _)| now < held)) {
                side.end = end.or(side.end);
            }
            for edge in onward {
                let other = self.graph.edges[edge].other(net);
                if seen.insert(other) {
                    open.push(other);
                }
            }
        }
        side
    }

    /// Why a way ends on a net.
    fn end_of(&self, net: usize, nothing_more: bool) -> Option<(Reason, String)> {
        let here = self.graph.nets.get(net)?;
        for &wire in &here.wires {
            if let Some((side, state)) = self.open_end(wire) {
                let reason = if state == "out of sight" { Reason::OpenEnd } else { Reason::LooseEnd };
                let (key, side) = (self.machine.wire_name(wire), side.word());
                return Some((reason, format!("it leads to wire {key}, whose '{side}' end is {state}")));
            }
        }
        if here.unknown {
            let name = here.terminals.first().map(|terminal| self.machine.terminal_name(terminal)).unwrap_or_default();
            return Some((Reason::Unknown, format!("it leads to {name}, of which it is not known what lies behind")));
        }
        if here.earth {
            return Some((Reason::Earth, "it leads to protective earth".to_owned()));
        }
        let first = here.terminals.first().filter(|_| nothing_more)?;
        let why = if here.wires.is_empty() && here.terminals.len() == 1 {
            format!("nothing is joined to {}", self.machine.terminal_name(first))
        } else {
            format!("nothing more is joined to the net of {}", self.machine.terminal_name(first))
        };
        Some((Reason::LeadsNowhere, why))
    }

    /// An end of a wire that is on nothing, with the state it is in.
    fn open_end(&self, id: WireId) -> Option<(Side, &'static str)> {
        let wire = self.machine.wires.get(id).filter(|wire| wire.is_present())?;
        Side::BOTH.into_iter().find_map(|side| {
            let end = wire.end(side);
            let state = match &end.at {
                _ if wire.state == WireState::CappedOff => "capped off",
                EndAt::Loose => "loose",
                EndAt::Unknown => "out of sight",
                EndAt::Terminal(_) if end.lifted => "lifted",
                EndAt::Terminal(_) => return None,
            };
            Some((side, state))
        })
    }

    fn wire(&self, id: WireId) -> Option<Off> {
        let wire = self.machine.wires.get(id)?;
        let off = |reason, why| {
            Some(Off {
                of: Thing::from(id),
                elements: Vec::new(),
                what: format!("wire {}", self.machine.wire_name(id)),
                reason,
                why,
            })
        };
        if !wire.is_present() {
            return None;
        }
        if let Some((side, state)) = self.open_end(id) {
            let reason = if state == "out of sight" { Reason::OpenEnd } else { Reason::LooseEnd };
            return off(reason, format!("its '{}' end is {state}", side.word()));
        }
        let node = self.network.end(id, Side::From)?;
        let net = self.graph.net(node);
        if self.nets_drawn[net] {
            return None;
        }
        let here = self.graph.nets.get(net)?;
        if here.earth {
            return off(Reason::Earth, "protective earth".to_owned());
        }
        if here.unknown {
            return off(Reason::Unknown, "something on its net is not known".to_owned());
        }
        off(Reason::LeadsNowhere, "its net has no device that is on the ladder".to_owned())
    }
}

/// The list in sentences, each with the thing it is about; wires with the same reason share one.
pub(super) fn sentences(off: &[Off]) -> Vec<(Thing, String)> {
    let wire = |off: &Off| match off.of {
        Thing::Spot(Spot::Wire(_)) => off.what.strip_prefix("wire ").map(str::to_owned),
        _ => None,
    };
    let mut found = Vec::new();
    let mut wires: Vec<(&str, Vec<String>, &Off)> = Vec::new();
    for one in off {
        let Some(name) = wire(one) else {
            found.push((one.of.clone(), format!("{}: {}", one.what, one.why)));
            continue;
        };
        match wires.iter_mut().find(|(why, ..)| *why == one.why) {
            Some((_, names, _)) => names.push(name),
            None => wires.push((&one.why, vec![name], one)),
        }
    }
    for (why, names, first) in wires {
        let word = if names.len() == 1 { "wire" } else { "wires" };
        let names: Vec<&str> = names.iter().map(String::as_str).collect();
        found.push((first.of.clone(), format!("{word} {}: {why}", names::listed(&names))));
    }
    found
}

struct SideOf {
    poles: BTreeSet<usize>,
    end: Option<(Reason, String)>,
}

/// A marking as a person sees it.
pub(super) fn label(body: Option<&Body>, marking: &str) -> String {
    let terminal = body.and_then(|body| body.terminal(marking));
    terminal.map_or_else(|| marking.to_owned(), |terminal| terminal.label().to_owned())
}

/// Every pole of the groups given and of what is left without anything between its poles.
pub(super) fn all_poles(graph: &Graph, groups: &[Group]) -> BTreeSet<usize> {
    let of_groups = groups.iter().flat_map(|group| group.poles.iter().copied());
    let of_givers = graph.givers.iter().filter(|giver| giver.nets[0] != giver.nets[1]).flat_map(|giver| giver.nets);
    of_groups.chain(of_givers).collect()
}
