//! What holds in every condition: whether an edge can ever carry current, whether it is ever needed, whether it can be live.
//!
//! Current flows in an edge when some loop goes through it and through a live source. By Menger's theorem that is so when two ways that
//! share no place lead from its two ends to the two poles. First the sets of conditions are formed in which each end reaches a pole
//! on a way that does not touch the other pole; a condition found so is tried out; where the two ways turn out to need one place in
//! common, the sets are narrowed by that place, and again, until the condition holds or none is left.

use std::cell::RefCell;
use std::collections::BTreeMap;

use biodivine_lib_bdd::Bdd;

use crate::circuit::{Partition, blocks};
use crate::quantity::Current;

use super::model::{Edge, Is, Model, chains};
use super::sets::{MOST_SWEPT, Purse, Sets, Symbols, Table};

/// A model seen as the record has it, or with everything open that is in doubt; with some edges taken out.
pub(super) struct View<'v, 'm> {
    pub(super) model: &'v Model<'m>,
    /// The model's edges, with what is fixed put in.
    pub(super) edges: Vec<Edge>,
    /// Fixed variables.
    pub(super) fixed: Vec<Option<bool>>,
    /// Transformers and supplies that can be fed at all.
    pub(super) fed: Vec<bool>,
    /// Transformers that something else may feed from their secondary.
    pub(super) backfed: Vec<bool>,
    /// States the relays can be in, over the relays' variables. `None`: any.
    pub(super) relays: Option<Bdd>,
    /// Wires that always conduct, as one.
    pub(super) nets: Partition,
    /// For each edge: the first of those in one row with it, which carry when it does.
    chain: Vec<usize>,
    /// Rows that never carry, found so before.
    never: RefCell<BTreeMap<usize, Method>>,
}

/// What is asked of an edge.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Ask {
    /// It carries current.
    Carries,
    /// It carries current and nothing joins its ends besides.
    Needed,
    /// It carries current while the relays may be at rest.
    AtRest,
    /// One of its ends is live, whether it carries or not.
    Hot,
}

/// How an answer was come by.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Method {
    /// By the way the wiring hangs together, whatever switches and relays do.
    Structure,
    /// Each condition of the part of the machine that has a say, one by one.
    Sweep,
    /// All conditions at once, as symbolic sets.
    Symbolic,
    /// By one condition that shows it.
    OneCondition,
}

/// An answer.
pub(super) enum Found {
    /// In these conditions: the variables that matter.
    In(Vec<(usize, bool)>),
    /// In none.
    Never(Method),
    /// The budget ran out.
    NotDecided,
}

/// What lies round an edge.
pub(super) struct Region {
    pub(super) places: usize,
    pub(super) ends: [u32; 2],
    /// Ends and number of each edge, the one asked about left out.
    pub(super) edges: Vec<(u32, u32, usize)>,
    /// Edges of it that sources are.
    pub(super) feeds: Vec<(u32, u32, usize)>,
}

impl<'v, 'm> View<'v, 'm> {
    pub(super) fn of(model: &'v Model<'m>, as_recorded: bool, out: &[usize]) -> Self {
        let fixed: Vec<Option<bool>> =
            model.vars.iter().map(|var| if as_recorded { var.nominal() } else { None }).collect();
        let mut edges = model.edges.clone();
        for edge in &mut edges {
            edge.when = edge.when.fixed(&|var| fixed[var]);
        }
        for &edge in out {
            edges[edge].when = super::term::Cond::never(); // numbers of the model's own edges
        }
        let mut nets = Partition::new(model.places);
        for edge in edges.iter().filter(|edge| matches!(edge.is, Is::Wire(_)) && edge.when.is_always()) {
            nets.join(edge.ends[0], edge.ends[1]);
        }
        let count = model.network.derived().len();
        let chain = chains(&edges, model.places);
        let never = RefCell::default();
        let mut view = Self {
            model,
            edges,
            fixed,
            fed: vec![true; count],
            backfed: vec![false; count],
            relays: None,
            nets,
            chain,
            never,
        };
        view.find_backfed();
        view
    }

    /// Transformers whose secondary shares a loop with another source when everything conducts.
    fn find_backfed(&mut self) {
        loop {
            let mut grew = false;
            for at in 0..self.edges.len() {
                let Is::Output(one) = self.edges[at].is else { continue };
                let is_ac = self.model.network.derived().get(one).is_some_and(|one| one.current == Current::Ac);
                if is_ac && !self.backfed[one] && self.region(at).is_some_and(|region| !region.feeds.is_empty()) {
                    self.backfed[one] = true;
                    grew = true;
                }
            }
            if !grew {
                return;
            }
        }
    }

    /// The same with these variables as the record has them.
    pub(super) fn settled_on(&self, vars: &[usize]) -> Self {
        let mut fixed = self.fixed.clone();
        for &var in vars {
            fixed[var] = self.model.vars[var].nominal();
        }
        let mut edges = self.edges.clone();
        for edge in &mut edges {
            edge.when = edge.when.fixed(&|var| fixed[var]);
        }
        Self {
            model: self.model,
            edges,
            fixed,
            fed: self.fed.clone(),
            backfed: self.backfed.clone(),
            relays: self.relays.clone(),
            nets: self.nets.clone(),
            chain: self.chain.clone(),
            never: RefCell::default(),
        }
    }

    fn feeds(&self, edge: &Edge) -> bool {
        match edge.is {
            Is::Output(one) => self.fed.get(one).copied().unwrap_or(true),
            Is::Input(one) => self.backfed.get(one).copied().unwrap_or(true),
            _ => edge.feeds(),
        }
    }

    /// The part of the machine that shares a loop with an edge when everything conducts. Nets are one place each, but for those of the
    /// edge itself where a wire lies beside it: current parts between the two.
    pub(super) fn region(&self, edge: usize) -> Option<Region> {
        let asked = &self.edges[edge];
        // Its own net falls apart without it, or else is laid out place by place.
        let mut nets = Partition::new(self.model.places);
        for (at, edge_of) in self.edges.iter().enumerate() {
            if at != edge && matches!(edge_of.is, Is::Wire(_)) && edge_of.when.is_always() {
                nets.join(edge_of.ends[0], edge_of.ends[1]);
            }
        }
        let ends = asked.ends.map(|end| nets.root(end));
        let is_wire = matches!(asked.is, Is::Wire(_) | Is::Landing(..));
        let apart = if is_wire && ends[0] == ends[1] { vec![ends[0]] } else { Vec::new() };
        let net = nets.classes();
        let region = self.region_with(edge, &net, &apart);
        // A contact or fuse in one row with it, and a wire past both: in one place each these make a loop without a source.
        let shorted = region.as_ref().is_none_or(|region| region.feeds.is_empty());
        if shorted && apart.is_empty() && (asked.joins() || matches!(asked.is, Is::Fuse(_))) {
            return self.region_with(edge, &net, &ends);
        }
        region
    }

    /// The same with these nets laid out place by place.
    fn region_with(&self, edge: usize, net: &[u32], apart: &[u32]) -> Option<Region> {
        let count = self.model.places;
        let label = |place: u32| {
            let net = net[place as usize];
            if apart.contains(&net) { place } else { net }
        };
        let all: Vec<usize> = (0..self.edges.len())
            .filter(|&at| {
                let edge = &self.edges[at];
                !edge.when.is_never() && label(edge.ends[0]) != label(edge.ends[1])
            })
            .collect();
        let ends: Vec<(u32, u32)> =
            all.iter().map(|&at| (label(self.edges[at].ends[0]), label(self.edges[at].ends[1]))).collect();
        let block = blocks(count, &ends);
        let own_block = *block.get(all.iter().position(|&at| at == edge)?)?;
        let mut number: Vec<Option<u32>> = vec![None; count];
        let mut places = 0u32;
        let mut dense = |place: u32| {
            *number[place as usize].get_or_insert_with(|| {
                places += 1;
                places - 1
            })
        };
        let mut region = Region { places: 0, ends: [0, 0], edges: Vec::new(), feeds: Vec::new() };
        for ((&at, &(a, b)), _) in all.iter().zip(&ends).zip(&block).filter(|(_, block)| **block == own_block) {
            let (a, b) = (dense(a), dense(b));
            if at == edge {
                region.ends = [a, b];
            } else {
                region.edges.push((a, b, at));
                if self.feeds(&self.edges[at]) {
                    region.feeds.push((a, b, at));
                }
            }
        }
        region.places = places as usize;
        Some(region)
    }

    /// Forgets what was found never to carry: other transformers are fed now.
    pub(super) fn forget(&self) {
        self.never.borrow_mut().clear();
    }

    /// Whether this holds of an edge in some condition that can be reached.
    pub(super) fn find(&self, edge: usize, ask: Ask, purse: &Purse<'_>) -> Found {
        if self.edges[edge].when.is_never() {
            return Found::Never(Method::Structure);
        }
        if purse.pay(self.edges.len()).is_none() {
            return Found::NotDecided;
        }
        if ask == Ask::Hot {
            return self.find_hot(edge, purse);
        }
        if ask == Ask::Carries {
            let chain = self.chain[edge];
            if let Some(method) = self.never.borrow().get(&chain) {
                return Found::Never(*method);
            }
            let found = self.find_loop(edge, ask, purse);
            if let Found::Never(method) = found {
                self.never.borrow_mut().insert(chain, method);
            }
            return found;
        }
        self.find_loop(edge, ask, purse)
    }

    fn find_loop(&self, edge: usize, ask: Ask, purse: &Purse<'_>) -> Found {
        let Some(region) = self.region(edge) else { return Found::Never(Method::Structure) };
        // Joined besides by what always conducts.
        if ask == Ask::Needed && self.is_doubled_always(&region, edge) {
            return Found::Never(Method::Structure);
        }
        let joins: Vec<(u32, u32, usize)> = if ask == Ask::Needed {
            reached_by(&region, region.ends[0], &[], |at| self.edges[at].joins())
        } else {
            Vec::new()
        };
        let mut worst = Method::Structure;
        let itself = (region.ends[0], region.ends[1], edge);
        let feeds = region.feeds.iter().copied().chain(self.feeds(&self.edges[edge]).then_some(itself));
        for feed in feeds {
            let (p, q, _) = feed;
            // A source in a loop of its own: its poles joined by something else.
            let near = if feed.2 == edge {
                region.edges.clone()
            } else {
                let mut near = reached_by(&region, region.ends[0], &[p, q], |at| at != feed.2);
                near.extend(reached_by(&region, region.ends[1], &[p, q], |at| at != feed.2));
                near.sort_unstable();
                near.dedup();
                near
            };
            let asked = Asked {
                view: self,
                region: &region,
                edge,
                feed,
                near: &near,
                joins: &joins,
                at_rest: ask == Ask::AtRest,
            };
            match asked.answer(purse) {
                Found::Never(method) => worst = worst.max(method),
                other => return other,
            }
        }
        Found::Never(worst)
    }

    fn is_doubled_always(&self, region: &Region, edge: usize) -> bool {
        let mut joined = Partition::new(region.places);
        for &(a, b, at) in &region.edges {
            if at != edge && self.edges[at].joins() && self.edges[at].when.is_always() {
                joined.join(a, b);
            }
        }
        joined.same(region.ends[0], region.ends[1])
    }

    /// The variables that have a say in these edges, with those that constraints tie to them.
    pub(super) fn cone(&self, edges: &[(u32, u32, usize)]) -> Vec<usize> {
        let mut is_in = vec![false; self.model.vars.len()];
        for &(_, _, at) in edges {
            for var in self.edges[at].when.vars() {
                is_in[var] = true;
            }
        }
        loop {
            let mut grew = false;
            for clause in &self.model.valid {
                if clause.iter().any(|&(var, _)| is_in[var]) {
                    for &(var, _) in clause {
                        grew |= self.fixed[var].is_none() && !std::mem::replace(&mut is_in[var], true);
                    }
                }
            }
            if !grew {
                break;
            }
        }
        (0..is_in.len()).filter(|&var| is_in[var] && self.fixed[var].is_none()).collect()
    }

    pub(super) fn conditions<S: Sets>(&self, sets: &S, edges: &[(u32, u32, usize)]) -> Option<Vec<(u32, u32, S::Set)>> {
        edges.iter().map(|&(a, b, at)| Some((a, b, self.set_of(sets, at)?))).collect()
    }

    pub(super) fn set_of<S: Sets>(&self, sets: &S, edge: usize) -> Option<S::Set> {
        let mut any = sets.constant(false);
        for cube in &self.edges[edge].when.0 {
            any = sets.or(&any, &cube_of(sets, cube)?)?;
        }
        Some(any)
    }

    /// The conditions that the constraints allow and the relays can come to, by these variables.
    pub(super) fn can_occur<S: Sets>(&self, sets: &S, vars: &[usize], purse: &Purse<'_>) -> Option<S::Set> {
        let mut all = sets.constant(true);
        'clauses: for clause in &self.model.valid {
            let mut any = sets.constant(false);
            for &(var, value) in clause {
                match self.fixed[var] {
                    Some(is) if is == value => continue 'clauses,
                    Some(_) => {}
                    None if !vars.contains(&var) => continue 'clauses,
                    None => any = sets.or(&any, &sets.lit(var, value)?)?,
                }
            }
            all = sets.and(&all, &any)?;
        }
        if let Some(relays) = &self.relays {
            let symbols = Symbols::new(self.model.vars.len(), purse)?;
            let mut any = sets.constant(false);
            let wanted: Vec<usize> = vars.to_vec();
            for cube in symbols.shadows(relays, &wanted)? {
                any = sets.or(&any, &cube_of(sets, &cube)?)?;
            }
            all = sets.and(&all, &any)?;
        }
        Some(all)
    }
}

fn cube_of<S: Sets>(sets: &S, cube: &[(usize, bool)]) -> Option<S::Set> {
    let mut all = sets.constant(true);
    for &(var, value) in cube {
        all = sets.and(&all, &sets.lit(var, value)?)?;
    }
    Some(all)
}

/// Edges that can be come to from a place without passing barred ones.
pub(super) fn reached_by(
    region: &Region,
    from: u32,
    barred: &[u32],
    wanted: impl Fn(usize) -> bool,
) -> Vec<(u32, u32, usize)> {
    let mut at: Vec<Vec<usize>> = vec![Vec::new(); region.places];
    for (index, &(a, b, edge)) in region.edges.iter().enumerate() {
        if wanted(edge) {
            at[a as usize].push(index);
            at[b as usize].push(index);
        }
    }
    let mut seen = vec![false; region.places];
    let mut used = vec![false; region.edges.len()];
    let mut open = vec![from];
    seen[from as usize] = true;
    while let Some(place) = open.pop() {
        if barred.contains(&place) {
            continue;
        }
        for &index in &at[place as usize] {
            used[index] = true;
            let (a, b, _) = region.edges[index];
            for next in [a, b] {
                if !std::mem::replace(&mut seen[next as usize], true) {
                    open.push(next);
                }
            }
        }
    }
    region.edges.iter().zip(&used).filter(|(_, used)| **used).map(|(edge, _)| *edge).collect()
}

/// For each place, the conditions in which a way leads to the target and touches no barred place.
pub(super) fn reach<S: Sets>(
    sets: &S,
    places: usize,
    edges: &[(u32, u32, S::Set)],
    target: u32,
    barred: &[u32],
) -> Option<Vec<S::Set>> {
    let mut at: Vec<Vec<usize>> = vec![Vec::new(); places];
    for (index, (a, b, _)) in edges.iter().enumerate() {
        at[*a as usize].push(index);
        at[*b as usize].push(index);
    }
    let mut set: Vec<S::Set> = vec![sets.constant(false); places];
    set[target as usize] = sets.constant(true);
    let mut waits = vec![false; places];
    let mut open = std::collections::VecDeque::from([target]);
    while let Some(place) = open.pop_front() {
        waits[place as usize] = false;
        for &index in &at[place as usize] {
            let (a, b, when) = &edges[index];
            let next = if *a == place { *b } else { *a };
            if next == target || barred.contains(&next) {
                continue;
            }
            let more = sets.and(&set[place as usize], when)?;
            let all = sets.or(&set[next as usize], &more)?;
            if all != set[next as usize] {
                set[next as usize] = all;
                if !std::mem::replace(&mut waits[next as usize], true) {
                    open.push_back(next);
                }
            }
        }
    }
    Some(set)
}

/// One edge and one source it may share a loop with.
pub(super) struct Asked<'a, 'v, 'm> {
    pub(super) view: &'a View<'v, 'm>,
    pub(super) region: &'a Region,
    pub(super) edge: usize,
    pub(super) feed: (u32, u32, usize),
    pub(super) near: &'a [(u32, u32, usize)],
    pub(super) joins: &'a [(u32, u32, usize)],
    /// Only where the relays may be at rest.
    pub(super) at_rest: bool,
}

impl Asked<'_, '_, '_> {
    fn answer(&self, purse: &Purse<'_>) -> Found {
        let mut all = self.near.to_vec();
        all.extend(self.joins);
        all.push(self.feed);
        all.push((0, 0, self.edge));
        let mut vars = self.view.cone(&all);
        if self.at_rest {
            vars = self.view.cone_at_rest(&vars, self.feed.2);
        }
        let (answer, method) = if vars.len() <= MOST_SWEPT {
            (self.answer_in(&Table { vars: vars.clone(), purse }, &vars, purse), Method::Sweep)
        } else {
            let symbols = Symbols::new(self.view.model.vars.len(), purse);
            (symbols.and_then(|symbols| self.answer_in(&symbols, &vars, purse)), Method::Symbolic)
        };
        match answer {
            Some(Some(found)) => Found::In(found),
            Some(None) => Found::Never(method),
            None => Found::NotDecided,
        }
    }

    #[expect(clippy::option_option, reason = "not decided, or decided with a condition or none")]
    fn answer_in<S: Sets>(&self, sets: &S, vars: &[usize], purse: &Purse<'_>) -> Option<Option<Vec<(usize, bool)>>> {
        let mut set = self.loops(sets)?;
        if sets.is_empty(&set) {
            return Some(None);
        }
        set = sets.and(&set, &self.view.can_occur(sets, vars, purse)?)?;
        if self.at_rest && !sets.is_empty(&set) {
            set = sets.and(&set, &self.view.may_be_live(sets, self.feed.2, &mut Vec::new())?)?;
            set = sets.and(&set, &self.view.at_rest(sets, vars, purse)?)?;
        }
        let [a, b] = self.region.ends;
        if !self.joins.is_empty() && !sets.is_empty(&set) {
            let joins = self.view.conditions(sets, self.joins)?;
            let joined = reach(sets, self.region.places, &joins, b, &[])?;
            set = sets.and_not(&set, &joined[a as usize])?;
        }
        let (p, q, _) = self.feed;
        let mut narrowed: Vec<u32> = Vec::new();
        while let Some(found) = sets.pick(&set) {
            let Some(cut) = self.cut(&found) else { return Some(Some(found)) };
            if self.feed.2 == self.edge || narrowed.contains(&cut) || !purse.is_open() {
                return None;
            }
            narrowed.push(cut);
            let near = self.view.conditions(sets, self.near)?;
            let mut past = sets.constant(false);
            for pole in [p, q].into_iter().filter(|&pole| pole != cut) {
                let reach = reach(sets, self.region.places, &near, pole, &[cut])?;
                for end in [a, b].into_iter().filter(|&end| end != cut) {
                    past = sets.or(&past, &reach[end as usize])?;
                }
            }
            set = sets.and(&set, &past)?;
        }
        Some(None)
    }

    /// The conditions in which each end reaches a pole of its own while the source is on.
    pub(super) fn loops<S: Sets>(&self, sets: &S) -> Option<S::Set> {
        let near = self.view.conditions(sets, self.near)?;
        let (p, q, feed) = self.feed;
        let [a, b] = self.region.ends.map(|end| end as usize);
        let on = sets.and(&self.view.set_of(sets, feed)?, &self.view.set_of(sets, self.edge)?)?;
        if feed == self.edge {
            let way = reach(sets, self.region.places, &near, p, &[])?;
            return sets.and(&on, &way[q as usize]);
        }
        let to_p = reach(sets, self.region.places, &near, p, &[q])?;
        let to_q = reach(sets, self.region.places, &near, q, &[p])?;
        let one = sets.and(&to_p[a], &to_q[b])?;
        let other = sets.and(&to_q[a], &to_p[b])?;
        sets.and(&on, &sets.or(&one, &other)?)
    }

    /// A place that both ways need in this condition; none when they go apart.
    fn cut(&self, found: &[(usize, bool)]) -> Option<u32> {
        if self.feed.2 == self.edge {
            return None;
        }
        let mut bits = vec![false; self.view.model.vars.len()];
        for &(var, value) in found {
            bits[var] = value;
        }
        let closed: Vec<(u32, u32)> = self
            .near
            .iter()
            .filter(|(_, _, at)| self.view.edges[*at].when.holds(&bits))
            .map(|&(a, b, _)| (a, b))
            .collect();
        let [a, b] = self.region.ends;
        let (p, q, _) = self.feed;
        let mut with = closed.clone();
        with.extend([(a, b), (p, q)]);
        let block = blocks(self.region.places, &with);
        if block[with.len() - 1] == block[with.len() - 2] {
            return None;
        }
        let places = (0..self.region.places).filter_map(|place| u32::try_from(place).ok());
        places.into_iter().find(|&cut| {
            let mut joined = Partition::new(self.region.places);
            for &(c, d) in closed.iter().filter(|&&(c, d)| c != cut && d != cut) {
                joined.join(c, d);
            }
            ![a, b].iter().any(|&end| end != cut && [p, q].iter().any(|&pole| pole != cut && joined.same(end, pole)))
        })
    }
}
