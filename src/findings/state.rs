//! The machine in one condition: which contacts are closed, which nets that joins, which poles are on.

use std::borrow::Cow;
use std::collections::{BTreeMap, BTreeSet, HashMap, VecDeque};

use crate::catalogue::Form;
use crate::circuit::{Difference, Network, Situation, Step, Verdict, Works, route};
use crate::machine::{ConditionId, Machine, PartId, Setting, Side, Spot, Statement, Thing, WireId};

use super::graph::{Bodies, Classes, Graph, NetId, Node, Sort};
use super::supply::Supply;

/// How many steps of a way are pointed at.
const LONGEST_WAY: usize = 8;

/// How many positions of restless relays are looked through.
const MOST_POSITIONS: usize = 256;

/// The machine in one condition.
pub(super) struct State<'s> {
    /// The condition; none for 'at rest with every source on'.
    pub condition: Option<ConditionId>,
    /// What it is called in a sentence: `in the condition 'live'`.
    pub words: String,
    /// The wiring with the leads off that this condition lifts.
    pub graph: Cow<'s, Graph>,
    /// Whether each item conducts as a contact or a fuse; none where it cannot be said.
    pub closed: Vec<Option<bool>>,
    /// What it sets.
    pub setting: Setting,
    /// Leads that this condition lifts.
    pub lifted: BTreeSet<(WireId, Side)>,
    /// What the circuit makes of it.
    situation: Situation<'s>,
    /// The class of each net: nets joined by closed contacts and fuses.
    class_of: Vec<usize>,
    /// The nets of each class.
    nets: BTreeMap<usize, Vec<NetId>>,
    /// Poles by class.
    poles: BTreeMap<usize, Vec<usize>>,
    /// Whether each pole is on.
    on: Vec<bool>,
}

/// What voltage is met at a place.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Met {
    /// The pole.
    pub pole: usize,
    /// Items on the way that are no conductors.
    pub through: Vec<usize>,
}

/// What states are made from.
pub(super) struct Ground<'s> {
    pub machine: &'s Machine,
    pub network: &'s Network,
    pub bodies: &'s Bodies,
    pub graph: &'s Graph,
    pub supply: &'s Supply,
}

/// Every condition of the record, then 'at rest with every source on' where that can occur.
pub(super) fn states<'s>(ground: &Ground<'s>) -> Vec<State<'s>> {
    let contacts: HashMap<(PartId, usize), usize> = ground
        .network
        .contacts()
        .iter()
        .enumerate()
        .map(|(at, contact)| ((contact.inside.part, contact.inside.element), at))
        .collect();
    let conditions = ground.machine.conditions.iter().map(|(id, condition)| {
        let words = format!("in the condition '{}'", condition.name);
        State::of(ground, &contacts, Some(id), words, &ground.machine.setting(id))
    });
    let mut all: Vec<State> = conditions.collect();
    let sources: BTreeSet<PartId> = ground.network.sources().iter().map(|source| source.inside.part).collect();
    if all_on_can_occur(ground.machine, &sources) {
        let words = if sources.len() > 1 { "at rest with every source on" } else { "at rest with the supply on" };
        let setting = Setting { sources_on: sources, ..Setting::default() };
        all.push(State::of(ground, &contacts, None, words.to_owned(), &setting));
    }
    all
}

/// Whether no constraint of the record keeps two of the sources apart.
fn all_on_can_occur(machine: &Machine, sources: &BTreeSet<PartId>) -> bool {
    use crate::machine::Constraint;
    !sources.is_empty()
        && machine.constraints.values().all(|constraint| match constraint {
            Constraint::NeverBoth(all) => all.iter().filter(|one| matches!(one, Statement::SourceOn(_))).count() < 2,
            Constraint::OnlyWhen(this, _) => !matches!(this, Statement::SourceOn(_)),
            Constraint::Always(_) => true,
        })
}

impl<'s> State<'s> {
    fn of(
        ground: &Ground<'s>,
        contacts: &HashMap<(PartId, usize), usize>,
        condition: Option<ConditionId>,
        words: String,
        setting: &Setting,
    ) -> Self {
        let graph = if setting.lifted.is_empty() {
            Cow::Borrowed(ground.graph)
        } else {
            Cow::Owned(Graph::of(ground.machine, ground.bodies, &setting.lifted))
        };
        let situation = Situation::of(ground.network, setting);
        let closed: Vec<Option<bool>> = graph
            .items
            .iter()
            .map(|item| match (contacts.get(&(item.part, item.element)), item.sort) {
                (Some(&contact), _) => is_closed(&situation, contact),
                (None, Sort::Fuse) => Some(true),
                (None, _) => Some(false),
            })
            .collect();
        let mut joined = Classes::new(graph.nets.len());
        for (what, closed) in graph.items.iter().zip(&closed) {
            if *closed == Some(true) {
                joined.join(what.nets[0], what.nets[1]);
            }
        }
        let class_of = joined.roots();
        let mut nets: BTreeMap<usize, Vec<NetId>> = BTreeMap::new();
        for (net, &class) in class_of.iter().enumerate() {
            nets.entry(class).or_default().push(net);
        }
        let mut poles: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (net, at) in ground.supply.poles_at(&graph) {
            poles.entry(class_of[net]).or_default().extend(at);
        }
        for at in poles.values_mut() {
            at.sort_unstable();
        }
        let lifted = setting.lifted.clone();
        let mut state = Self {
            condition,
            words,
            graph,
            closed,
            setting: setting.clone(),
            lifted,
            situation,
            class_of,
            nets,
            poles,
            on: Vec::new(),
        };
        state.on = state.poles_on(ground.supply, &setting.sources_on);
        state
    }

    /// Which poles are on: of sources switched on, then of all that is fed from poles that are on.
    fn poles_on(&self, supply: &Supply, sources_on: &BTreeSet<PartId>) -> Vec<bool> {
        let mut system_on: Vec<bool> = supply.fed_by.iter().map(|_| false).collect();
        for pole in &supply.poles {
            if supply.fed_by[pole.system].is_none() {
                system_on[pole.system] = sources_on.contains(&pole.terminal.part);
            }
        }
        loop {
            let mut changed = false;
            for (system, feed) in supply.fed_by.iter().enumerate() {
                let Some((a, b)) = feed else { continue };
                let ends = [a, b].map(|end| self.graph.net_of_terminal(end).map(|net| self.class_of[net]));
                let [Some(a), Some(b)] = ends else { continue };
                let at = |class: usize| {
                    self.poles.get(&class).into_iter().flatten().filter(|&&pole| system_on[supply.poles[pole].system])
                };
                let fed = at(a).any(|&one| at(b).any(|&other| supply.are_opposed(one, other)));
                if fed && a != b && !system_on[system] {
                    system_on[system] = true;
                    changed = true;
                }
            }
            if !changed {
                return supply.poles.iter().map(|pole| system_on[pole.system]).collect();
            }
        }
    }

    /// What the circuit makes of it, by poles.
    pub fn situation(&self) -> &Situation<'s> {
        &self.situation
    }

    /// The class of a net.
    pub fn class(&self, net: NetId) -> usize {
        self.class_of[net]
    }

    /// The nets of a class, in order.
    pub fn nets(&self, class: usize) -> &[NetId] {
        self.nets.get(&class).map_or(&[], Vec::as_slice)
    }

    /// Poles that closed contacts, fuses and wires hold together, group by group. Where relays come to no one rest, in each
    /// of the positions they take: a relay that shorts its own supply lets go again, and the short is there all the same.
    pub fn poles_that_meet(&self, supply: &Supply) -> Vec<Vec<usize>> {
        if self.restless().is_none() {
            return self.poles.values().filter(|poles| poles.len() > 1).cloned().collect();
        }
        let network = self.situation.network();
        let mut groups = BTreeSet::new();
        for worked in self.situation.outcome.ends.iter().flatten().take(MOST_POSITIONS) {
            let joined = self.situation.frame.joined(worked);
            let mut held: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
            for (pole, what) in supply.poles.iter().enumerate() {
                if let Some(node) = network.terminal(&what.terminal) {
                    held.entry(joined.root(node.0)).or_default().push(pole);
                }
            }
            groups.extend(held.into_values().filter(|poles| poles.len() > 1));
        }
        groups.into_iter().collect()
    }

    /// The parts whose relays come to no one rest here, with the verdict; none where all settle.
    pub fn restless(&self) -> Option<(Verdict, BTreeSet<PartId>)> {
        let outcome = &self.situation.outcome;
        if outcome.verdict == Verdict::Settles {
            return None;
        }
        let unsettled = (0..outcome.relays.len()).filter(|&relay| outcome.relays[relay].bit().is_none());
        let parts = unsettled.filter_map(|relay| Some(self.situation.network().relays().get(relay)?.inside.part));
        Some((outcome.verdict, parts.collect()))
    }

    /// Whether sources of different voltage hold one net here.
    pub fn is_at_odds(&self) -> bool {
        self.situation.is_at_odds()
    }

    /// The wires and parts on the shortest way that joins two spots here, the first few of them; none where it is not joined.
    pub fn way(&self, from: &Spot, to: &Spot) -> Vec<Thing> {
        let network = self.situation.network();
        let nodes = network.node(from).zip(network.node(to));
        let steps = nodes.and_then(|(from, to)| route(&self.situation, from, to)).unwrap_or_default();
        let things = steps.into_iter().map(|step| match step {
            Step::Wire(wire) => wire.into(),
            Step::Part(part) => part.into(),
        });
        things.take(LONGEST_WAY).collect()
    }

    /// Whether two of these nets are held at different potentials here.
    pub fn differs(&self, nets: &BTreeSet<NetId>) -> bool {
        let network = self.situation.network();
        let node = |net: &NetId| {
            self.graph.nets.get(*net)?.nodes.iter().find_map(|node| match node {
                Node::Terminal(terminal) => network.terminal(terminal),
                Node::End(wire, side) => network.end(*wire, *side),
            })
        };
        let nodes: Vec<_> = nets.iter().filter_map(node).collect();
        let differ = |a, b| self.situation.difference(a, b).is_some_and(|difference| difference.works(None));
        nodes.iter().enumerate().any(|(at, &a)| nodes[..at].iter().any(|&b| differ(a, b)))
    }

    /// The highest voltage a spot can have here by the circuit, directly or through loads.
    pub fn live(&self, spot: &Spot) -> Option<Difference> {
        self.situation.live(self.situation.network().node(spot)?)
    }

    /// The poles that are on and that a place meets: joined ones, else those met through loads, windings and coils.
    pub fn met_at(&self, net: NetId) -> Vec<Met> {
        let start = self.class_of[net];
        let mut met = Vec::new();
        // How each class was first met: from which class, over which item.
        let mut way: HashMap<usize, Option<(usize, usize)>> = HashMap::from([(start, None)]);
        let mut next = VecDeque::from([start]);
        while let Some(class) = next.pop_front() {
            if let Some(poles) = self.poles.get(&class) {
                let on = poles.iter().copied().filter(|&pole| self.on[pole]);
                let through = way_back(&way, class);
                met.extend(on.map(|pole| Met { pole, through: through.clone() }));
                continue;
            }
            for &net in self.nets(class) {
                for &item in &self.graph.nets[net].items {
                    let what = &self.graph.items[item];
                    let across = self.class_of[what.across(net)];
                    if matches!(what.sort, Sort::Load | Sort::Coil) && !way.contains_key(&across) {
                        way.insert(across, Some((class, item)));
                        next.push_back(across);
                    }
                }
            }
        }
        met
    }
}

/// The items between the start and a class.
fn way_back(way: &HashMap<usize, Option<(usize, usize)>>, mut class: usize) -> Vec<usize> {
    let mut items = Vec::new();
    while let Some(&Some((before, item))) = way.get(&class) {
        items.push(item);
        class = before;
    }
    items.reverse();
    items
}

/// Whether a contact is closed; none where its relay comes to no one rest.
fn is_closed(situation: &Situation, contact: usize) -> Option<bool> {
    if let Some(held) = situation.frame.held.get(contact).copied().flatten() {
        return Some(held);
    }
    let entry = situation.network().contacts().get(contact)?;
    let Works::Relay(relay) = entry.works else { return Some(entry.form == Form::Break) };
    let worked = situation.outcome.relays.get(relay)?.bit()?;
    Some(worked == (entry.form == Form::Make))
}
