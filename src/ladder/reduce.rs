//! Series-parallel reduction: devices in series and in parallel become one, until nothing more can be put together.
//!
//! A worklist of nets with two ends (series) and a map of pairs of nets (parallel), as for recognising two-terminal
//! series-parallel graphs (Valdes, Tarjan and Lawler 1982); each step keeps the tree of what it put together.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use super::bridge::Bridge;
use super::graph::Graph;

/// Devices put together.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Tree {
    /// One device; turned when its second end lies on the left.
    Leaf {
        /// The device, in the graph.
        edge: usize,
        /// Whether its second end lies on the left.
        turned: bool,
    },
    /// In a row from left to right, with the nets between them.
    Series(Vec<Tree>, Vec<usize>),
    /// Below one another.
    Parallel(Vec<Tree>),
    /// Two rows with a link between their middles: the one shape that is drawn so although it is not series-parallel.
    Bridge(Box<Bridge>),
}

/// Devices put together between two nets.
#[derive(Debug, Clone)]
pub(super) struct Span {
    pub(super) tree: Tree,
    pub(super) nets: [usize; 2],
    /// How deep its tree is.
    depth: usize,
}

/// The deepest tree that is made: what comes after walks it by recursion. Deeper ones are drawn as if they were not
/// series-parallel.
const DEEPEST: usize = 60;

impl Tree {
    /// Seen from the other side.
    pub(super) fn turned(self) -> Self {
        match self {
            Self::Leaf { edge, turned } => Self::Leaf { edge, turned: !turned },
            Self::Series(children, mut nets) => {
                nets.reverse();
                Self::Series(children.into_iter().rev().map(Self::turned).collect(), nets)
            }
            Self::Parallel(children) => Self::Parallel(children.into_iter().map(Self::turned).collect()),
            Self::Bridge(bridge) => Self::Bridge(Box::new(bridge.turned())),
        }
    }

    /// Every device in it.
    pub(super) fn edges(&self) -> Vec<usize> {
        let mut found = Vec::new();
        let mut open = vec![self];
        while let Some(tree) = open.pop() {
            match tree {
                Self::Leaf { edge, .. } => found.push(*edge),
                Self::Series(children, _) | Self::Parallel(children) => open.extend(children),
                Self::Bridge(bridge) => {
                    found.push(bridge.link);
                    open.extend(bridge.rows.iter().flatten());
                }
            }
        }
        found
    }
}

impl Span {
    /// So that it begins at its lower end by this order.
    pub(super) fn turned(self) -> Self {
        Self { nets: [self.nets[1], self.nets[0]], tree: self.tree.turned(), depth: self.depth }
    }
}

impl Span {
    /// With its tree changed.
    pub(super) fn with(self, how: impl FnOnce(Tree) -> Tree) -> Self {
        Self { tree: how(self.tree), nets: self.nets, depth: self.depth }
    }
}

struct Reducer {
    spans: Vec<Option<Span>>,
    on: BTreeMap<usize, BTreeSet<usize>>,
    pairs: BTreeMap<(usize, usize), usize>,
    look: VecDeque<usize>,
}

/// What is left when devices are put together as far as they go; a single span where all is series-parallel.
pub(super) fn reduced(graph: &Graph, edges: &[usize], poles: &[usize]) -> Vec<Span> {
    let mut reducer = Reducer { spans: Vec::new(), on: BTreeMap::new(), pairs: BTreeMap::new(), look: VecDeque::new() };
    for &edge in edges {
        let nets = graph.edges[edge].nets;
        reducer.add(Span { tree: Tree::Leaf { edge, turned: false }, nets, depth: 1 });
    }
    loop {
        while let Some(net) = reducer.look.pop_front() {
            if !poles.contains(&net) {
                reducer.join_at(net);
            }
        }
        if !reducer.join_bridge(poles) {
            break;
        }
    }
    reducer.spans.into_iter().flatten().collect()
}

impl Reducer {
    fn add(&mut self, span: Span) {
        let [a, b] = span.nets;
        let key = (a.min(b), a.max(b));
        if let Some(&other) = self.pairs.get(&key)
            && let Some(there) = self.spans.get_mut(other).and_then(Option::as_mut)
            && there.depth.max(span.depth) < DEEPEST
        {
            there.depth = there.depth.max(span.depth) + 1;
            let span = if there.nets[0] == a { span } else { span.turned() };
            let mut children = match std::mem::replace(&mut there.tree, Tree::Parallel(Vec::new())) {
                Tree::Parallel(children) => children,
                one => vec![one],
            };
            match span.tree {
                Tree::Parallel(more) => children.extend(more),
                one => children.push(one),
            }
            there.tree = Tree::Parallel(children);
            self.look.extend([a, b]);
            return;
        }
        let number = self.spans.len();
        self.spans.push(Some(span));
        self.pairs.entry(key).or_insert(number);
        for net in [a, b] {
            self.on.entry(net).or_default().insert(number);
            self.look.push_back(net);
        }
    }

    /// Puts the two spans that meet at a net together, where there are just two.
    fn join_at(&mut self, net: usize) {
        let Some(on) = self.on.get(&net).filter(|on| on.len() == 2) else { return };
        let two: Vec<usize> = on.iter().copied().collect();
        let depths = two.iter().filter_map(|&at| self.spans.get(at)?.as_ref()).map(|span| span.depth);
        let depth = depths.max().unwrap_or(0) + 1;
        if depth > DEEPEST {
            return;
        }
        let (Some(first), Some(second)) = (self.take(two[0]), self.take(two[1])) else { return };
        let first = if first.nets[1] == net { first } else { first.turned() };
        let second = if second.nets[0] == net { second } else { second.turned() };
        let ends = [first.nets[0], second.nets[1]];
        let (mut children, mut nets) = match first.tree {
            Tree::Series(children, nets) => (children, nets),
            one => (vec![one], Vec::new()),
        };
        nets.push(net);
        match second.tree {
            Tree::Series(more, between) => {
                children.extend(more);
                nets.extend(between);
            }
            one => children.push(one),
        }
        self.add(Span { tree: Tree::Series(children, nets), nets: ends, depth });
    }

    /// Puts one bridge together; says whether there was one.
    fn join_bridge(&mut self, poles: &[usize]) -> bool {
        let found = self.on.iter().find_map(|(&a, on)| {
            let is_middle = |net: usize| !poles.contains(&net) && self.on.get(&net).is_some_and(|on| on.len() == 3);
            if !is_middle(a) {
                return None;
            }
            on.iter().find_map(|&link| {
                let span = self.spans.get(link)?.as_ref()?;
                let Tree::Leaf { edge, .. } = span.tree else { return None };
                let b = if span.nets[0] == a { span.nets[1] } else { span.nets[0] };
                if !is_middle(b) || b < a {
                    return None;
                }
                let arms = |middle: usize| -> Option<[(usize, usize); 2]> {
                    let others = self.on.get(&middle)?.iter().filter(|&&other| other != link);
                    let mut arms: Vec<(usize, usize)> = others
                        .filter_map(|&other| {
                            let nets = self.spans.get(other)?.as_ref()?.nets;
                            Some((if nets[0] == middle { nets[1] } else { nets[0] }, other))
                        })
                        .collect();
                    arms.sort_unstable();
                    arms.try_into().ok()
                };
                let (of_a, of_b) = (arms(a)?, arms(b)?);
                let same = of_a[0].0 == of_b[0].0 && of_a[1].0 == of_b[1].0 && of_a[0].0 != of_a[1].0;
                same.then_some((a, b, edge, link, of_a, of_b))
            })
        });
        let Some((a, b, edge, link, of_a, of_b)) = found else { return false };
        let ends = [of_a[0].0, of_a[1].0];
        let depth = [of_a[0].1, of_a[1].1, of_b[0].1, of_b[1].1]
            .iter()
            .filter_map(|&at| self.spans.get(at)?.as_ref())
            .map(|span| span.depth)
            .max()
            .unwrap_or(0);
        if depth >= DEEPEST {
            return false;
        }
        self.take(link);
        let mut row = |arms: [(usize, usize); 2]| {
            let left = self.take(arms[0].1)?;
            let right = self.take(arms[1].1)?;
            let left = if left.nets[0] == ends[0] { left } else { left.turned() };
            let right = if right.nets[1] == ends[1] { right } else { right.turned() };
            Some([left.tree, right.tree])
        };
        let (Some(upper), Some(lower)) = (row(of_a), row(of_b)) else { return false };
        let bridge = Bridge { rows: [upper, lower], middles: [a, b], link: edge };
        self.add(Span { tree: Tree::Bridge(Box::new(bridge)), nets: ends, depth: depth + 1 });
        true
    }

    fn take(&mut self, number: usize) -> Option<Span> {
        let span = self.spans.get_mut(number)?.take()?;
        let [a, b] = span.nets;
        let key = (a.min(b), a.max(b));
        if self.pairs.get(&key) == Some(&number) {
            self.pairs.remove(&key);
        }
        for net in [a, b] {
            if let Some(on) = self.on.get_mut(&net) {
                on.remove(&number);
            }
        }
        Some(span)
    }
}
