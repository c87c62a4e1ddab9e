//! Whether an end of a wire can be live: joined to a pole that is not near earth, directly or through loads.

use super::model::Is;
use super::prove::{Found, Method, Region, View, reach, reached_by};
use super::sets::{MOST_SWEPT, Purse, Sets, Symbols, Table};

impl View<'_, '_> {
    /// Whether an end of an edge can be live.
    pub(super) fn find_hot(&self, edge: usize, purse: &Purse<'_>) -> Found {
        let mut cold = vec![false; self.model.places];
        let mut starts: Vec<(u32, usize)> = Vec::new();
        for (at, one) in self.edges.iter().enumerate().filter(|(_, edge)| !edge.when.is_never()) {
            let [a, b] = one.ends.map(|end| self.nets.root(end));
            match one.is {
                Is::Source(source) => {
                    starts.push((a, at));
                    if self.model.network.sources().get(source).is_some_and(|source| source.earthed) {
                        cold[b as usize] = true;
                    } else {
                        starts.push((b, at));
                    }
                }
                Is::Output(one) if self.fed.get(one).copied().unwrap_or(true) => starts.extend([(a, at), (b, at)]),
                Is::Input(one) if self.backfed.get(one).copied().unwrap_or(true) => starts.extend([(a, at), (b, at)]),
                Is::Unknown => starts.extend(self.model.hub.map(|hub| (self.nets.root(hub), at))),
                _ => {}
            }
        }
        let places = self.model.places;
        let all: Vec<(u32, u32, usize)> = (0..self.edges.len())
            .filter(|&at| !self.edges[at].when.is_never() && !self.edges[at].feeds_only())
            .map(|at| {
                let [a, b] = self.edges[at].ends.map(|end| self.nets.root(end));
                (a, b, at)
            })
            .filter(|&(a, b, _)| a != b)
            .collect();
        let [a, b] = self.edges[edge].ends.map(|end| self.nets.root(end));
        let whole = Region { places, ends: [a, b], edges: all, feeds: Vec::new() };
        let barred: Vec<u32> =
            (0..places).filter_map(|at| u32::try_from(at).ok()).filter(|&at| cold[at as usize]).collect();
        let mut near = Vec::new();
        for end in [a, b] {
            if !cold[end as usize] {
                near.extend(reached_by(&whole, end, &barred, |_| true));
            }
        }
        near.sort_unstable();
        near.dedup();
        let touched = |place: u32| place == a || place == b || near.iter().any(|&(c, d, _)| c == place || d == place);
        let starts: Vec<(u32, usize)> =
            starts.into_iter().filter(|&(place, _)| touched(place) && !cold[place as usize]).collect();
        if starts.is_empty() {
            return Found::Never(Method::Structure);
        }
        // A place of its own from which every live pole is reached while its source is on.
        let root = u32::try_from(places).unwrap_or(u32::MAX);
        let mut edges = near;
        edges.extend(starts.iter().map(|&(place, at)| (place, root, at)));
        let vars = self.cone(&edges);
        let asked = AskedHot { view: self, places: places + 1, edges: &edges, root, ends: [a, b], barred: &barred };
        let (answer, method) = if vars.len() <= MOST_SWEPT {
            (asked.answer_in(&Table { vars: vars.clone(), purse }, &vars, purse), Method::Sweep)
        } else {
            let symbols = Symbols::new(self.model.vars.len(), purse);
            (symbols.and_then(|symbols| asked.answer_in(&symbols, &vars, purse)), Method::Symbolic)
        };
        match answer {
            Some(Some(found)) => Found::In(found),
            Some(None) => Found::Never(method),
            None => Found::NotDecided,
        }
    }
}

/// One edge that may be live.
struct AskedHot<'a, 'v, 'm> {
    view: &'a View<'v, 'm>,
    places: usize,
    edges: &'a [(u32, u32, usize)],
    /// The place that stands for every live pole.
    root: u32,
    ends: [u32; 2],
    barred: &'a [u32],
}

impl AskedHot<'_, '_, '_> {
    #[expect(clippy::option_option, reason = "not decided, or decided with a condition or none")]
    fn answer_in<S: Sets>(&self, sets: &S, vars: &[usize], purse: &Purse<'_>) -> Option<Option<Vec<(usize, bool)>>> {
        let edges = self.view.conditions(sets, self.edges)?;
        let reach = reach(sets, self.places, &edges, self.root, self.barred)?;
        let [a, b] = self.ends.map(|end| end as usize);
        let hot = sets.and(&sets.or(&reach[a], &reach[b])?, &self.view.can_occur(sets, vars, purse)?)?;
        Some(sets.pick(&hot))
    }
}
