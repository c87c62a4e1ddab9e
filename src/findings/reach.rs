//! What could be joined at all: nets put together over every contact and fuse, whatever works them.
//!
//! This is more than can be joined at one time. So "reaches no pole here" means it never does, while "reaches a pole"
//! only means it may.

use std::collections::{BTreeSet, HashMap, HashSet};

use super::graph::{Classes, Graph, NetId, Node, Sort};
use super::supply::{PolesAt, Supply};

/// Nets put together over contacts and fuses.
#[derive(Debug, Default)]
pub(super) struct Potential {
    /// Class of each net.
    class_of: Vec<usize>,
    /// What each class holds; only the entry of a class's smallest net is filled.
    classes: Vec<Class>,
}

/// Nets that contacts and fuses can join.
#[derive(Debug, Default, Clone)]
pub(super) struct Class {
    /// Poles on it.
    pub poles: Vec<usize>,
    /// What about it is not known.
    pub doubts: Vec<Node>,
    /// Loads, coils and passive items with an end on it.
    crossings: Vec<usize>,
}

/// How something that takes voltage is fed.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Feed {
    /// These pairs of opposed poles can reach its ends.
    Fed(Vec<(usize, usize)>),
    /// No hot pole can reach it, or both its ends are one net.
    Nowhere,
    /// A hot pole can reach it, but nothing leads back.
    OneWay,
    /// The record does not say.
    Undecided,
}

impl Potential {
    /// Puts the nets of a graph together.
    pub fn of(graph: &Graph, poles_at: &PolesAt) -> Self {
        let mut joined = Classes::new(graph.nets.len());
        for item in graph.items.iter().filter(|item| matches!(item.sort, Sort::Contact | Sort::Fuse)) {
            joined.join(item.nets[0], item.nets[1]);
        }
        let class_of = joined.roots();
        let mut classes = vec![Class::default(); graph.nets.len()];
        for (net, what) in graph.nets.iter().enumerate() {
            let class = &mut classes[class_of[net]];
            class.poles.extend(poles_at.get(&net).into_iter().flatten());
            class.doubts.extend(what.doubts.iter().cloned());
            class.crossings.extend(
                what.items
                    .iter()
                    .filter(|&&item| matches!(graph.items[item].sort, Sort::Load | Sort::Coil | Sort::Passive)),
            );
        }
        Self { class_of, classes }
    }

    /// The class a net is in.
    pub fn class(&self, net: NetId) -> &Class {
        &self.classes[self.class_of[net]]
    }

    /// How something between these nets is fed; `own` are its own items, which are no way back for itself.
    pub fn feed(&self, graph: &Graph, supply: &Supply, ends: &BTreeSet<NetId>, own: &[usize]) -> Feed {
        if ends.len() < 2 {
            let unsure = ends.iter().any(|&net| !graph.nets[net].doubts.is_empty());
            return if unsure { Feed::Undecided } else { Feed::Nowhere };
        }
        let reached: Vec<&[usize]> = ends.iter().map(|&net| self.class(net).poles.as_slice()).collect();
        let pairs = opposed(supply, &reached);
        if !pairs.is_empty() {
            return Feed::Fed(pairs);
        }
        if ends.iter().any(|&net| !self.class(net).doubts.is_empty()) {
            return Feed::Undecided;
        }
        let mut through = Vec::new();
        for &net in ends {
            match self.poles_through_others(graph, net, own) {
                Some(poles) => through.push(poles),
                None => return Feed::Undecided,
            }
        }
        let slices: Vec<&[usize]> = through.iter().map(Vec::as_slice).collect();
        if !opposed(supply, &slices).is_empty() {
            return Feed::Undecided; // In series with something else: it may well be meant so.
        }
        if reached.iter().any(|poles| poles.iter().any(|&pole| supply.poles[pole].hot)) {
            Feed::OneWay
        } else {
            Feed::Nowhere
        }
    }

    /// Poles met from a net when loads and passive items are let through, stopping at each pole; none when a doubt is met.
    fn poles_through_others(&self, graph: &Graph, from: NetId, own: &[usize]) -> Option<Vec<usize>> {
        let mut seen = BTreeSet::from([self.class_of[from]]);
        let mut next = vec![self.class_of[from]];
        let mut poles = Vec::new();
        while let Some(at) = next.pop() {
            let class = &self.classes[at];
            if !class.doubts.is_empty() {
                return None;
            }
            poles.extend(class.poles.iter().copied());
            if !class.poles.is_empty() {
                continue;
            }
            for &crossing in class.crossings.iter().filter(|crossing| !own.contains(crossing)) {
                for net in graph.items[crossing].nets {
                    if seen.insert(self.class_of[net]) {
                        next.push(self.class_of[net]);
                    }
                }
            }
        }
        Some(poles)
    }
}

/// Pairs of opposed poles at two different ends.
fn opposed(supply: &Supply, reached: &[&[usize]]) -> Vec<(usize, usize)> {
    let mut pairs = BTreeSet::new();
    for (end, ones) in reached.iter().enumerate() {
        for others in &reached[end + 1..] {
            for &a in *ones {
                pairs.extend(others.iter().filter(|&&b| supply.are_opposed(a, b)).map(|&b| (a.min(b), a.max(b))));
            }
        }
    }
    pairs.into_iter().collect()
}

/// What is met from a net over contacts and fuses that `may_pass` lets through.
pub(super) fn nets_over(graph: &Graph, from: NetId, may_pass: impl Fn(usize) -> bool) -> BTreeSet<NetId> {
    let mut met = BTreeSet::new();
    is_met(graph, from, may_pass, |net| {
        met.insert(net);
        false
    });
    met
}

/// Whether a net that `wanted` says yes to is met from a net over contacts and fuses that `may_pass` lets through.
///
/// Stops at the first one: from a contact on a large machine's line, the whole machine would be met.
pub(super) fn is_met(
    graph: &Graph,
    from: NetId,
    may_pass: impl Fn(usize) -> bool,
    mut wanted: impl FnMut(NetId) -> bool,
) -> bool {
    let mut seen = HashSet::from([from]);
    let mut next = vec![from];
    while let Some(at) = next.pop() {
        if wanted(at) {
            return true;
        }
        for &item in &graph.nets[at].items {
            let what = &graph.items[item];
            if matches!(what.sort, Sort::Contact | Sort::Fuse) && may_pass(item) {
                let across = what.across(at);
                if seen.insert(across) {
                    next.push(across);
                }
            }
        }
    }
    false
}

/// The nets put together over every contact and fuse but some, which lead from piece to piece.
///
/// Many questions of the kind 'what is met when this contact is taken out' are then asked of few pieces, not of all nets.
#[derive(Debug, Default)]
pub(super) struct Pieces {
    /// The piece of each net.
    of_net: Vec<usize>,
    /// Pieces with a marked net.
    marked: BTreeSet<usize>,
    /// From each piece: over which item, to which piece.
    ways: HashMap<usize, Vec<(usize, usize)>>,
}

impl Pieces {
    /// The pieces of a graph with these items taken out.
    pub fn of(graph: &Graph, taken_out: &BTreeSet<usize>, is_marked: impl Fn(NetId) -> bool) -> Self {
        let mut joined = Classes::new(graph.nets.len());
        for (item, what) in graph.items.iter().enumerate() {
            if matches!(what.sort, Sort::Contact | Sort::Fuse) && !taken_out.contains(&item) {
                joined.join(what.nets[0], what.nets[1]);
            }
        }
        let of_net = joined.roots();
        let marked = (0..of_net.len()).filter(|&net| is_marked(net)).map(|net| of_net[net]).collect();
        let mut ways: HashMap<usize, Vec<(usize, usize)>> = HashMap::new();
        for &item in taken_out {
            let [a, b] = graph.items[item].nets.map(|net| of_net[net]);
            ways.entry(a).or_default().push((item, b));
            ways.entry(b).or_default().push((item, a));
        }
        Self { of_net, marked, ways }
    }

    /// Whether a marked net is met from a net with only `own` of the items left out.
    pub fn lead_to_mark(&self, from: NetId, own: &BTreeSet<usize>) -> bool {
        let mut seen = HashSet::from([self.of_net[from]]);
        let mut next = vec![self.of_net[from]];
        while let Some(at) = next.pop() {
            if self.marked.contains(&at) {
                return true;
            }
            for &(item, to) in self.ways.get(&at).into_iter().flatten() {
                if !own.contains(&item) && seen.insert(to) {
                    next.push(to);
                }
            }
        }
        false
    }
}
