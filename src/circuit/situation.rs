//! A machine in one condition, settled: what holds together, what is live, what runs.
//!
//! The tier without impedance. A conductor is live when a pole of a live source is on it, or when it is joined to one
//! through loads and passive elements alone: a lead that is off at the far side of a winding is as live as the pole.

use std::collections::{BTreeMap, BTreeSet};

use crate::machine::Setting;
use crate::quantity::Current;

use super::frame::Frame;
use super::network::{Inside, Network, Node, Passive};
use super::partition::Partition;
use super::settle::{Bounds, Outcome, settle_abstract};
use super::supply::{Difference, Potential, Supply};

/// How dangerous a condition is by the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Hazard {
    /// No source is on.
    NoSource,
    /// Sources are on, none above the extra-low limits.
    ExtraLow,
    /// A source above the extra-low limits is on, or one whose volts are not recorded.
    Above,
}

/// A network in one setting, with its relays settled from rest.
#[derive(Debug, Clone)]
pub struct Situation<'n> {
    /// The network in its setting.
    pub frame: Frame<'n>,
    /// Where the relays come to rest.
    pub outcome: Outcome,
    /// Relay positions looked at here: the end, or the first of several.
    pub worked: Vec<bool>,
    /// What is live with the relays standing so.
    first: Reached,
    /// What is live at the other ends the relays can come to.
    others: Vec<Reached>,
}

/// More ends than these are not looked through for what is live.
const MOST_OTHERS: usize = 32;

/// What is live with contacts held in one way.
#[derive(Debug, Clone)]
struct Reached {
    /// What wires, fuses and closed contacts hold together.
    joined: Partition,
    /// What the sources hold.
    supply: Supply,
    /// For each class without a pole of its own: classes with a pole that it reaches through loads.
    behind: BTreeMap<u32, BTreeSet<u32>>,
    /// Groups of potentials with a pole that is held near earth, and that potential.
    earthed: BTreeMap<u32, Potential>,
    /// Classes on the far side of a transformer or DC supply that is fed through loads, with what can be there.
    beyond: BTreeMap<u32, Difference>,
}

impl<'n> Situation<'n> {
    /// The network in this setting, from rest.
    pub fn of(network: &'n Network, setting: &Setting) -> Self {
        Self::from_state(network, setting, &vec![false; network.relays.len()])
    }

    /// The network in this setting, with relays that stood so before.
    pub fn from_state(network: &'n Network, setting: &Setting, before: &[bool]) -> Self {
        let frame = Frame::of(network, setting);
        let mut start = before.to_vec();
        start.resize(network.relays.len(), false);
        let outcome = settle_abstract(&start, &frame, Bounds::default());
        let worked = outcome.ends.first().and_then(|end| end.first()).cloned().unwrap_or(start);
        let first = Reached::of(&frame, frame.joined(&worked));
        let ends = outcome.ends.iter().flatten().filter(|end| **end != worked).take(MOST_OTHERS);
        let mut others: Vec<Reached> = ends.map(|end| Reached::of(&frame, frame.joined(end))).collect();
        if outcome.ends.is_empty() {
            // Not decided: contacts of undecided relays taken as all closed reach whatever any of their ends does.
            others.push(Reached::of(&frame, frame.joined_as(&outcome.relays, true)));
        }
        Self { frame, outcome, worked, first, others }
    }

    /// The network.
    pub fn network(&self) -> &'n Network {
        self.frame.network
    }

    /// What wires, fuses and closed contacts hold together, relays standing as looked at here.
    pub fn joined(&self) -> &Partition {
        &self.first.joined
    }

    /// Whether sources hold one net at different voltages here.
    pub fn is_at_odds(&self) -> bool {
        self.first.supply.at_odds
    }

    /// What is live at the end looked at, then at the others.
    fn reached(&self) -> impl Iterator<Item = &Reached> {
        std::iter::once(&self.first).chain(&self.others)
    }

    /// The number that stands for everything held together with this node.
    pub fn class(&self, node: Node) -> u32 {
        self.first.joined.root(node.0)
    }

    /// Whether two nodes are held together by wires, fuses and closed contacts.
    pub fn is_joined(&self, a: Node, b: Node) -> bool {
        self.class(a) == self.class(b)
    }

    /// The potential on a node: that of a pole that is on it. `None` when there is none.
    pub fn potential(&self, node: Node) -> Option<Potential> {
        self.first.supply.potential(self.class(node))
    }

    /// The difference between two nodes that carry poles of one group of sources.
    pub fn difference(&self, a: Node, b: Node) -> Option<Difference> {
        self.first.supply.difference(self.class(a), self.class(b))
    }

    /// The highest voltage this node can have against anything else, directly or through loads, in any end the relays can come
    /// to; `None` when it is not live. The pole that is held near earth is not live by itself.
    pub fn live(&self, node: Node) -> Option<Difference> {
        worst(self.reached().filter_map(|view| view.live(view.joined.root(node.0))))
    }

    /// Whether voltage can be present at or between these nodes, or it cannot be ruled out.
    pub fn voltage_possible(&self, a: Node, b: Node) -> bool {
        self.live(a).is_some() || self.live(b).is_some()
    }

    /// The voltage across a load or coil when poles are on both its ends; `None` when it gets none directly.
    pub fn across(&self, inside: &Inside) -> Option<Difference> {
        self.difference(inside.ends[0], inside.ends[1]).filter(|difference| difference.works(None))
    }

    /// How dangerous the condition is by the record, and the highest voltage; no voltage when one is not recorded.
    pub fn hazard(&self) -> (Hazard, Option<f64>) {
        let limits = self.network().limits;
        let mut worst = (Hazard::NoSource, Some(0.0_f64));
        let mut take = |ac: f64, dc: f64, unrecorded: bool| {
            let above = unrecorded || ac > limits.extra_low_volts_ac || dc.abs() > limits.extra_low_volts_dc;
            worst.0 = worst.0.max(if above { Hazard::Above } else { Hazard::ExtraLow });
            worst.1 = if unrecorded { None } else { worst.1.map(|so_far| so_far.max(ac).max(dc.abs())) };
        };
        for (source, &on) in self.network().sources.iter().zip(&self.frame.on) {
            if on {
                let volts = source.volts.unwrap_or(0.0);
                match source.current {
                    Current::Ac => take(volts, 0.0, source.volts.is_none()),
                    Current::Dc => take(0.0, volts, source.volts.is_none()),
                }
            }
        }
        for view in self.reached() {
            let all: Vec<(u32, Potential)> = view.supply.classes().collect();
            // Against the first of each group and against each other: phases of a group lie further apart than its ends.
            for (index, (class, _)) in all.iter().enumerate() {
                for (other, _) in all.iter().take(index) {
                    if let Some(difference) = view.supply.difference(*class, *other) {
                        take(difference.ac, difference.dc, difference.unrecorded);
                    }
                }
            }
            for difference in view.beyond.values() {
                take(difference.ac, difference.dc, difference.unrecorded);
            }
        }
        worst
    }

    /// What loads, coils, windings, sources' windings and passive elements that pass direct current hold together on top:
    /// where there is no way even here, an ohmmeter shows OL.
    pub fn joined_through_loads(&self) -> Partition {
        let mut joined = self.first.joined.clone();
        for inside in conducting(self.network()) {
            joined.join(inside.ends[0].0, inside.ends[1].0);
        }
        joined
    }
}

impl Reached {
    fn of(frame: &Frame<'_>, joined: Partition) -> Self {
        let network = frame.network;
        let supply = Supply::of(frame, |node| joined.root(node));
        let ways = ways(network, &joined);
        let behind = behind_loads(&ways, &supply);
        let mut earthed = BTreeMap::new();
        for (source, &on) in network.sources.iter().zip(&frame.on) {
            if on
                && source.earthed
                && let Some(potential) = supply.potential(joined.root(source.inside.ends[1].0))
            {
                earthed.entry(potential.group).or_insert(potential);
            }
        }
        let mut reached = Self { joined, supply, behind, earthed, beyond: BTreeMap::new() };
        reached.go_beyond(network, &ways);
        reached
    }

    /// Transformers and DC supplies that get their voltage through loads, chokes or resistors give theirs all the same. How
    /// much of it is not worked out here: the whole counts.
    fn go_beyond(&mut self, network: &Network, ways: &BTreeMap<u32, Vec<u32>>) {
        let mut passed = vec![[false; 2]; network.derived.len()];
        loop {
            let mut grew = false;
            for (index, one) in network.derived.iter().enumerate() {
                let fed = |list: &[bool]| list.get(index).copied().unwrap_or(false);
                if fed(&self.supply.fed) || fed(&self.supply.backfed) {
                    continue;
                }
                let [input, output] =
                    [one.input, one.inside.ends].map(|ends| ends.map(|node| self.joined.root(node.0)));
                let both = [(0, input, output, one.volts), (1, output, input, one.input_volts)];
                for (way, from, to, volts) in both {
                    let backwards = way == 1;
                    if passed[index][way] || passed[index][1 - way] || backwards && one.current == Current::Dc {
                        continue;
                    }
                    if !self.differs(from) {
                        continue;
                    }
                    passed[index][way] = true;
                    grew = true;
                    let given = volts.unwrap_or(1.0);
                    let dc = one.current == Current::Dc;
                    let given = Difference {
                        ac: if dc { 0.0 } else { given },
                        dc: if dc { given } else { 0.0 },
                        unrecorded: volts.is_none(),
                    };
                    self.spread_beyond(ways, to, given);
                }
            }
            if !grew {
                return;
            }
        }
    }

    /// Whether two classes can be at different potentials: they reach two poles between them, or something beyond.
    fn differs(&self, [a, b]: [u32; 2]) -> bool {
        if a == b {
            return false;
        }
        let poles = |class: u32| {
            let mut poles = self.behind.get(&class).cloned().unwrap_or_default();
            poles.extend(self.supply.potential(class).map(|_| class));
            poles
        };
        let (from_a, from_b) = (poles(a), poles(b));
        let differ = |one: &u32, other: &u32| self.supply.difference(*one, *other).is_some_and(|d| d.works(None));
        let beyond = |class: u32| self.beyond.contains_key(&class);
        from_a.iter().any(|one| from_b.iter().any(|other| differ(one, other))) || beyond(a) || beyond(b)
    }

    /// Marks what hangs on these classes through loads, up to where poles are.
    fn spread_beyond(&mut self, ways: &BTreeMap<u32, Vec<u32>>, from: [u32; 2], given: Difference) {
        let mut open = from.to_vec();
        let mut seen: BTreeSet<u32> = from.into();
        while let Some(class) = open.pop() {
            if self.supply.potential(class).is_some() {
                continue;
            }
            let so_far = self.beyond.get(&class).copied();
            if let Some(most) = worst(so_far.into_iter().chain([given])) {
                self.beyond.insert(class, most);
            }
            open.extend(ways.get(&class).into_iter().flatten().copied().filter(|next| seen.insert(*next)));
        }
    }

    fn live(&self, class: u32) -> Option<Difference> {
        let mut reached: BTreeSet<u32> = self.behind.get(&class).cloned().unwrap_or_default();
        if self.supply.potential(class).is_some() {
            reached.insert(class);
        }
        let hot = reached.into_iter().filter_map(|class| self.hot(class));
        worst(hot.chain(self.beyond.get(&class).copied()))
    }

    /// A class with a pole, against every other pole of its group; none for the pole that is held near earth.
    fn hot(&self, class: u32) -> Option<Difference> {
        let own = self.supply.potential(class)?;
        let between = |other: Potential| Difference {
            ac: (own.ac.0 - other.ac.0).hypot(own.ac.1 - other.ac.1),
            dc: own.dc - other.dc,
            unrecorded: own.unrecorded || other.unrecorded,
        };
        if self.earthed.get(&own.group).is_some_and(|&earthed| !between(earthed).works(None)) {
            return None;
        }
        let others = self.supply.classes().map(|(_, other)| other).filter(|other| other.group == own.group);
        worst(others.map(between).filter(|difference| difference.works(None)))
    }
}

/// The worst of several: what is not recorded before any voltage that is.
fn worst(all: impl Iterator<Item = Difference>) -> Option<Difference> {
    all.max_by(|a, b| {
        (a.unrecorded, a.ac.max(a.dc.abs()))
            .partial_cmp(&(b.unrecorded, b.ac.max(b.dc.abs())))
            .unwrap_or(std::cmp::Ordering::Equal)
    })
}

/// Loads, coils and passive elements that pass direct current, and the windings of transformers.
fn conducting(network: &Network) -> impl Iterator<Item = Inside> + '_ {
    let loads = network.loads.iter().map(|load| load.inside);
    let coils = network.relays.iter().map(|relay| relay.inside);
    let passives = network.passives.iter().filter(|(what, _)| *what != Passive::Arrester).map(|&(_, inside)| inside);
    let windings = network.derived.iter().flat_map(|one| [one.inside, Inside { ends: one.input, ..one.inside }]);
    loads.chain(coils).chain(passives).chain(windings)
}

/// From class to class over loads, coils, windings and passive elements.
fn ways(network: &Network, joined: &Partition) -> BTreeMap<u32, Vec<u32>> {
    let mut ways: BTreeMap<u32, Vec<u32>> = BTreeMap::new();
    for inside in conducting(network) {
        let [a, b] = inside.ends.map(|node| joined.root(node.0));
        if a != b {
            ways.entry(a).or_default().push(b);
            ways.entry(b).or_default().push(a);
        }
    }
    ways
}

/// For each class without a pole, the classes with poles that it reaches through loads alone.
fn behind_loads(ways: &BTreeMap<u32, Vec<u32>>, supply: &Supply) -> BTreeMap<u32, BTreeSet<u32>> {
    let mut behind: BTreeMap<u32, BTreeSet<u32>> = BTreeMap::new();
    for (pole, _) in supply.classes() {
        let mut open = vec![pole];
        let mut seen = BTreeSet::from([pole]);
        while let Some(class) = open.pop() {
            for &next in ways.get(&class).into_iter().flatten() {
                if supply.potential(next).is_none() && seen.insert(next) {
                    behind.entry(next).or_default().insert(pole);
                    open.push(next);
                }
            }
        }
    }
    behind
}
