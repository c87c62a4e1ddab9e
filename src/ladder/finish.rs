//! Turns what was put on the board into a ladder: devices, rungs, numbered nets, references.

use std::collections::{BTreeMap, BTreeSet};

use crate::catalogue::Form;
use crate::circuit::{Network, Node};
use crate::machine::{Machine, Point, Spot, TerminalRef, WireId};

use super::board::{Line, Put};
use super::compose::{Composed, RawSection};
use super::graph::{Edge, Graph, terminal_of};
use super::layout::{Device, DeviceEnd, DrawnNet, Pole, Reference, Rung, Section, Stretch, What};
use super::names;
use super::numbers::{numbers, recorded};
use super::supply::Group;

/// What is drawn, by the numbers of the ladder.
pub(super) struct Finished {
    pub(super) sections: Vec<Section>,
    pub(super) rungs: Vec<Rung>,
    pub(super) devices: Vec<Device>,
    /// Each device as it was put, with the edge it stands for.
    pub(super) puts: Vec<(Put, Edge)>,
    pub(super) nets: Vec<DrawnNet>,
    pub(super) stretches: Vec<Stretch>,
    /// Numbers of the drawn nets by those of the graph.
    pub(super) drawn: BTreeMap<usize, usize>,
}

/// The ladder from the board.
pub(super) struct Finish<'a> {
    pub(super) machine: &'a Machine,
    pub(super) network: &'a Network,
    pub(super) graph: &'a Graph,
    pub(super) groups: &'a [Group],
}

impl Finish<'_> {
    pub(super) fn finished(&self, lines: &[Line], puts: &[Put], composed: &Composed) -> Finished {
        let mut puts: Vec<(Put, Edge)> =
            puts.iter().filter_map(|put| Some((*put, self.graph.edges.get(put.edge)?.clone()))).collect();
        puts.extend(composed.givers.iter().map(|(giver, put)| (*put, self.giver_edge(*giver))));
        // In reading order: heads, then line by line.
        puts.sort_by(|(a, _), (b, _)| {
            let key = |put: &Put| (put.section, put.group.is_some());
            key(a).cmp(&key(b)).then(a.at.y.total_cmp(&b.at.y)).then(a.at.x.total_cmp(&b.at.x))
        });
        let drawn = nets_in_order(&puts, composed);
        let nets = self.drawn_nets(&drawn);
        let mut devices: Vec<Device> = puts.iter().map(|(put, edge)| self.device(put, edge, &drawn)).collect();
        let rungs = rungs(&puts, &mut devices);
        refer(&puts, &mut devices);
        let sections =
            composed.sections.iter().enumerate().map(|(at, raw)| self.section(at, raw, &puts, &drawn)).collect();
        self.land_wires(&mut devices);
        let stretches = stretches(lines, &devices, &drawn, &nets);
        Finished { sections, rungs, devices, puts, nets, stretches, drawn }
    }

    fn giver_edge(&self, giver: usize) -> Edge {
        let giver = &self.graph.givers[giver];
        Edge {
            part: giver.inside.part,
            elements: vec![giver.inside.element],
            what: giver.what,
            nodes: giver.inside.ends,
            nets: giver.nets,
            rank: usize::MAX,
            relay: None,
        }
    }

    fn drawn_nets(&self, drawn: &BTreeMap<usize, usize>) -> Vec<DrawnNet> {
        let mut in_order: Vec<(usize, usize)> = drawn.iter().map(|(&net, &at)| (at, net)).collect();
        in_order.sort_unstable();
        let taken: BTreeSet<String> =
            self.graph.nets.iter().flat_map(|net| recorded(self.machine, &net.wires)).collect();
        let mut nets: Vec<DrawnNet> = in_order
            .into_iter()
            .filter_map(|(_, net)| self.graph.nets.get(net).map(|net| (net.inner, net)))
            .map(|(inner, net)| DrawnNet {
                number: if inner { None } else { Some(String::new()) },
                recorded: recorded(self.machine, &net.wires),
                terminals: net.terminals.clone(),
                wires: net.wires.clone(),
            })
            .collect();
        let asked: Vec<Vec<String>> =
            nets.iter().filter(|net| net.number.is_some()).map(|net| net.recorded.clone()).collect();
        let numbered = nets.iter_mut().filter(|net| net.number.is_some());
        for (net, number) in numbered.zip(numbers(&asked, &taken)) {
            net.number = Some(number);
        }
        nets
    }

    fn device(&self, put: &Put, edge: &Edge, drawn: &BTreeMap<usize, usize>) -> Device {
        let tips = put.tips();
        let nodes = in_order(edge.nodes, put.turned);
        let nets = in_order(edge.nets, put.turned);
        let end = |slot: usize| DeviceEnd {
            terminal: terminal_of(self.network, nodes[slot], edge.part),
            at: tips[slot],
            net: drawn.get(&nets[slot]).copied().unwrap_or(0),
            wires: Vec::new(),
        };
        Device {
            part: edge.part,
            elements: edge.elements.clone(),
            what: edge.what,
            ends: [end(0), end(1)],
            rung: None,
            section: put.section,
            at: put.at,
            upright: put.upright,
            references: Vec::new(),
        }
    }

    fn section(&self, at: usize, raw: &RawSection, puts: &[(Put, Edge)], drawn: &BTreeMap<usize, usize>) -> Section {
        let name = |node: Node, part| {
            let terminal = terminal_of(self.network, node, part);
            let body = self.network.body(part);
            format!(
                "{}.{}",
                self.machine.part_name(part),
                super::off::label(body.map(AsRef::as_ref), terminal.marking.as_str())
            )
        };
        let poles: Vec<Pole> = raw
            .poles
            .iter()
            .map(|pole| Pole {
                terminal: terminal_of(self.network, pole.node, pole.part),
                name: name(pole.node, pole.part),
                net: drawn.get(&pole.net).copied().unwrap_or(0),
                at: pole.at,
            })
            .collect();
        let first = puts.partition_point(|(put, _)| put.section < at);
        let heads = of_section(puts, at).iter().take_while(|(put, _)| put.group.is_none()).count();
        let head = (first..first + heads).collect();
        let fed_by = raw.poles.first().map_or(crate::machine::PartId(0), |pole| pole.part);
        Section { kind: raw.kind, title: self.title(raw), fed_by, poles, head, area: raw.area }
    }

    fn title(&self, raw: &RawSection) -> String {
        let group = self.groups.get(raw.group);
        let tag = raw.poles.first().map_or("?", |pole| self.machine.part_name(pole.part));
        let marks: Vec<String> = raw
            .poles
            .iter()
            .map(|pole| {
                let terminal = terminal_of(self.network, pole.node, pole.part);
                super::off::label(self.network.body(pole.part).map(AsRef::as_ref), terminal.marking.as_str())
            })
            .collect();
        let marks: Vec<&str> = marks.iter().map(String::as_str).collect();
        let marks = names::listed(&marks);
        if raw.kind == super::layout::SectionKind::Input {
            return format!("Input of {tag}, {marks}");
        }
        let givers = group.map(|group| group.givers.as_slice()).unwrap_or_default();
        let nets: Vec<usize> = raw.poles.iter().map(|pole| pole.net).collect();
        let volts = match nets.as_slice() {
            &[a, b] => names::volts(self.graph, givers, [a, b]),
            _ => None,
        };
        // Between two lines, and between three, the plate says it.
        let source = givers.first().and_then(|&giver| self.graph.givers.get(giver));
        let of_plate = || source.filter(|one| one.what == What::Source);
        let volts =
            volts.or_else(|| of_plate().and_then(|one| names::rated(self.network, one.inside.part, one.direct)));
        match volts {
            Some(volts) => format!("{tag}: {volts} between {marks}"),
            None => format!("{tag}: between {marks}"),
        }
    }

    /// Tells the ends of devices which wires land on their terminals.
    fn land_wires(&self, devices: &mut [Device]) {
        let mut on: BTreeMap<TerminalRef, Vec<WireId>> = BTreeMap::new();
        for wire in self.network.wires() {
            for node in wire.landed.into_iter().flatten() {
                if let Some(Spot::Terminal(terminal)) = self.network.info(node).map(|info| &info.spot) {
                    on.entry(terminal.clone()).or_default().push(wire.wire);
                }
            }
        }
        for end in devices.iter_mut().flat_map(|device| &mut device.ends) {
            end.wires = on.get(&end.terminal).cloned().unwrap_or_default();
        }
    }
}

/// The lines, each with the wires it stands for.
fn stretches(lines: &[Line], devices: &[Device], drawn: &BTreeMap<usize, usize>, nets: &[DrawnNet]) -> Vec<Stretch> {
    let key = |point: Point| (point.x.to_bits(), point.y.to_bits());
    let mut tips: BTreeMap<(u64, u64), &[WireId]> = BTreeMap::new();
    for end in devices.iter().flat_map(|device| &device.ends) {
        tips.insert(key(end.at), &end.wires);
    }
    lines
        .iter()
        .filter_map(|line| {
            let net = drawn.get(&line.net).copied()?;
            let ends = [line.a, line.b];
            let landing: Vec<&[WireId]> =
                ends.iter().filter_map(|&end| tips.get(&key(end)).copied()).filter(|wires| !wires.is_empty()).collect();
            let wires = match landing.as_slice() {
                [one] => one.to_vec(),
                [a, b] => {
                    let both: Vec<WireId> = a.iter().copied().filter(|wire| b.contains(wire)).collect();
                    if both.is_empty() { a.to_vec() } else { both }
                }
                _ => nets.get(net).map(|net| net.wires.clone()).unwrap_or_default(),
            };
            Some(Stretch { net, ends, wires })
        })
        .collect()
}

/// Nets in the order in which a page is read: a left pole, what follows it down and along each line.
fn nets_in_order(puts: &[(Put, Edge)], composed: &Composed) -> BTreeMap<usize, usize> {
    let mut order: BTreeMap<usize, usize> = BTreeMap::new();
    let mut add = |net: usize| {
        let next = order.len();
        order.entry(net).or_insert(next);
    };
    for (at, section) in composed.sections.iter().enumerate() {
        let count = section.poles.len();
        let first = if count > 2 { count } else { 1 };
        for pole in section.poles.iter().take(first) {
            add(pole.net);
        }
        let own = || of_section(puts, at).iter();
        let (left, right): (Vec<_>, Vec<_>) = own()
            .filter(|(put, _)| put.group.is_none() && put.upright)
            .partition(|(put, _)| (put.at.x - section.rails[0]).abs() < 1e-6);
        for (put, edge) in left.into_iter().chain(own().filter(|(put, _)| put.group.is_some())) {
            for net in in_order(edge.nets, put.turned) {
                add(net);
            }
        }
        for (_, edge) in right.into_iter().rev() {
            for net in edge.nets {
                add(net);
            }
        }
        for pole in &section.poles {
            add(pole.net);
        }
    }
    order
}

/// What is in a section; everything is sorted by section.
fn of_section(puts: &[(Put, Edge)], section: usize) -> &[(Put, Edge)] {
    let from = puts.partition_point(|(put, _)| put.section < section);
    let to = puts.partition_point(|(put, _)| put.section <= section);
    puts.get(from..to).unwrap_or_default()
}

fn in_order<T: Copy>(two: [T; 2], turned: bool) -> [T; 2] {
    if turned { [two[1], two[0]] } else { two }
}

/// Lines with devices on them, numbered from the top; tells devices which they are on.
fn rungs(puts: &[(Put, Edge)], devices: &mut [Device]) -> Vec<Rung> {
    let mut rungs: Vec<Rung> = Vec::new();
    for (at, (put, _)) in puts.iter().enumerate() {
        let Some(group) = put.group else { continue };
        let same = |rung: &Rung| rung.section == put.section && (rung.y_mm - put.at.y).abs() < 1e-6;
        if !rungs.last().is_some_and(same) {
            rungs.push(Rung {
                number: rungs.len() + 1,
                section: put.section,
                group,
                y_mm: put.at.y,
                devices: Vec::new(),
            });
        }
        let number = rungs.len() - 1;
        if let Some(rung) = rungs.last_mut() {
            rung.devices.push(at);
        }
        if let Some(device) = devices.get_mut(at) {
            device.rung = Some(number);
        }
    }
    rungs
}

/// Tells coils where their contacts are drawn, and contacts where their coil is.
fn refer(puts: &[(Put, Edge)], devices: &mut [Device]) {
    let mut coils: BTreeMap<usize, usize> = BTreeMap::new();
    let mut contacts: BTreeMap<usize, Vec<Reference>> = BTreeMap::new();
    for (device, (_, edge)) in puts.iter().enumerate() {
        let Some(relay) = edge.relay else { continue };
        match edge.what {
            What::Coil => {
                coils.insert(relay, device);
            }
            What::Contact(form) => {
                contacts.entry(relay).or_default().push(Reference { device, breaks: form == Form::Break });
            }
            _ => {}
        }
    }
    for (relay, coil) in &coils {
        let own = contacts.get(relay).cloned().unwrap_or_default();
        for contact in &own {
            if let Some(device) = devices.get_mut(contact.device) {
                device.references = vec![Reference { device: *coil, breaks: false }];
            }
        }
        if let Some(device) = devices.get_mut(*coil) {
            device.references = own;
        }
    }
}
