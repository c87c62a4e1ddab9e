//! Which states the relays can come to, in any order of moves and with switches changing at any moment.
//!
//! From rest, a relay may pull in wherever current can flow in its coil in some condition, and any relay may drop out at any moment, as in
//! a dip of the supply. That takes in every order in which relays can move, hold-in included, and some states that no real machine comes
//! to: what holds in all of these holds in all that there are.

use biodivine_lib_bdd::Bdd;

use super::model::{Is, Model};
use super::prove::{Asked, View, reached_by};
use super::sets::{MOST_SWEPT, Purse, Sets, Symbols, Table};

/// The states, over the relays' variables; `None`: any, because none is left out or because it could not be worked out.
pub(super) fn reachable(view: &View<'_, '_>, purse: &Purse<'_>) -> Option<Bdd> {
    let vars = view.model.relay_vars();
    let relays: Vec<usize> = vars.iter().flatten().copied().collect();
    let symbols = Symbols::new(view.model.vars.len(), purse)?;
    let mut pulls: Vec<(usize, Bdd)> = Vec::new();
    for (at, edge) in view.edges.iter().enumerate() {
        let Is::Coil(relay) = edge.is else { continue };
        let Some(var) = vars.get(relay).copied().flatten() else { continue };
        let mut any = symbols.constant(false);
        for cube in view.by_relays(at, &relays, purse)? {
            let mut all = symbols.constant(true);
            for (var, value) in cube {
                all = symbols.and(&all, &symbols.lit(var, value)?)?;
            }
            any = symbols.or(&any, &all)?;
        }
        pulls.push((var, any));
    }
    if pulls.len() == relays.len() && pulls.iter().all(|(_, when)| when.is_true()) {
        return None;
    }
    let mut states = symbols.constant(true);
    for &var in &relays {
        states = symbols.and(&states, &symbols.lit(var, false)?)?;
    }
    loop {
        let before = states.clone();
        for (var, when) in &pulls {
            let pulled = symbols.and(&states, when)?;
            let pulled = symbols.given(&pulled, *var, false)?;
            states = symbols.or(&states, &symbols.and(&pulled, &symbols.lit(*var, true)?)?)?;
            let dropped = symbols.given(&states, *var, true)?;
            states = symbols.or(&states, &symbols.and(&dropped, &symbols.lit(*var, false)?)?)?;
        }
        if states == before {
            return Some(states);
        }
    }
}

/// How many conditions there are: settings that the record allows, times states of the relays. `None` when it is not known.
pub(super) fn conditions(model: &Model<'_>, relays: Option<&Bdd>, purse: &Purse<'_>) -> Option<f64> {
    let symbols = Symbols::new(model.vars.len(), purse)?;
    let mut all = valid(model, &symbols)?;
    for (var, what) in model.vars.iter().enumerate() {
        if let Some(nominal) = what.nominal() {
            all = symbols.and(&all, &symbols.lit(var, nominal)?)?;
        }
    }
    if let Some(relays) = relays {
        all = symbols.and(&all, relays)?;
    }
    Some(Symbols::count(&all))
}

/// The settings that the constraints of the record allow.
fn valid(model: &Model<'_>, symbols: &Symbols<'_, '_>) -> Option<Bdd> {
    let mut all = symbols.constant(true);
    for clause in &model.valid {
        let mut any = symbols.constant(false);
        for &(var, value) in clause {
            any = symbols.or(&any, &symbols.lit(var, value)?)?;
        }
        all = symbols.and(&all, &any)?;
    }
    Some(all)
}

/// Whether the constraints allow any condition at all. What could not be worked out counts as yes.
pub(super) fn any_valid(model: &Model<'_>, purse: &Purse<'_>) -> bool {
    let all = || {
        let symbols = Symbols::new(model.vars.len(), purse)?;
        valid(model, &symbols)
    };
    all().is_none_or(|all| !all.is_false())
}

/// The relays' part of a condition made whole: a state that can be come to, with what is said already.
pub(super) fn completed(
    model: &Model<'_>,
    relays: Option<&Bdd>,
    found: &[(usize, bool)],
    purse: &Purse<'_>,
) -> Vec<(usize, bool)> {
    let pick = || {
        let symbols = Symbols::new(model.vars.len(), purse)?;
        let mut all = relays?.clone();
        for &(var, value) in found {
            if matches!(model.vars.get(var), Some(super::term::Var::Relay(_))) {
                all = symbols.and(&all, &symbols.lit(var, value)?)?;
            }
        }
        symbols.pick(&all)
    };
    pick().unwrap_or_default()
}

impl View<'_, '_> {
    /// The states of the relays alone in which an edge may carry, whatever else is free; `None`: not decided. Each as a cube.
    pub(super) fn by_relays(
        &self,
        edge: usize,
        relays: &[usize],
        purse: &Purse<'_>,
    ) -> Option<Vec<Vec<(usize, bool)>>> {
        if self.edges[edge].when.is_never() {
            return Some(Vec::new());
        }
        let Some(region) = self.region(edge) else { return Some(Vec::new()) };
        let mut cubes = Vec::new();
        for &feed in &region.feeds {
            let (p, q, _) = feed;
            let mut near = reached_by(&region, region.ends[0], &[p, q], |at| at != feed.2);
            near.extend(reached_by(&region, region.ends[1], &[p, q], |at| at != feed.2));
            near.sort_unstable();
            near.dedup();
            let asked = Asked { view: self, region: &region, edge, feed, near: &near, joins: &[], at_rest: false };
            let mut all = near.clone();
            all.extend([feed, (0, 0, edge)]);
            let vars = self.cone(&all);
            if vars.len() <= MOST_SWEPT {
                let sets = Table { vars: vars.clone(), purse };
                let set = sets.and(&asked.loops(&sets)?, &self.can_occur(&sets, &vars, purse)?)?;
                cubes.extend(sets.shadows(&set, relays)?);
            } else {
                let sets = Symbols::new(self.model.vars.len(), purse)?;
                let set = sets.and(&asked.loops(&sets)?, &self.can_occur(&sets, &vars, purse)?)?;
                cubes.extend(sets.shadows(&set, relays)?);
            }
        }
        cubes.sort_unstable();
        cubes.dedup();
        Some(cubes)
    }
}
