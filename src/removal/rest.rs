//! Conditions in which the relays may be at rest: what carries in none of them carries only while relays move.
//!
//! A relay that is worked may rest so where current can flow in its coil at all; one that is not may rest so unless both ends of its coil
//! are joined to the two poles of a source that is surely live. So no state at rest is left out; some are counted that are none.

use super::model::Is;
use super::prove::{Asked, Region, View, reach, reached_by};
use super::sets::{Purse, Sets};
use super::term::Var;

/// Two places and the edge between them.
type Between = (u32, u32, usize);

/// What lies round an edge, and for each source what lies between the two.
struct Around {
    region: Region,
    /// The source's edge, and the edges near it.
    feeds: Vec<(Between, Vec<Between>)>,
}

impl View<'_, '_> {
    fn around(&self, edge: usize) -> Option<Around> {
        let region = self.region(edge)?;
        let near = |feed: (u32, u32, usize)| {
            let mut near = reached_by(&region, region.ends[0], &[feed.0, feed.1], |at| at != feed.2);
            near.extend(reached_by(&region, region.ends[1], &[feed.0, feed.1], |at| at != feed.2));
            near.sort_unstable();
            near.dedup();
            near
        };
        let feeds = region.feeds.iter().map(|&feed| (feed, near(feed))).collect();
        Some(Around { region, feeds })
    }

    /// The edge of the input that feeds an output.
    fn input_of(&self, feed: usize) -> Option<usize> {
        let Is::Output(one) = self.edges.get(feed)?.is else { return None };
        self.edges.iter().position(|edge| edge.is == Is::Input(one))
    }

    /// The coils of a relay's variable.
    fn coils_of(&self, var: usize) -> Vec<usize> {
        let Some(Var::Relay(relay)) = self.model.vars.get(var) else { return Vec::new() };
        (0..self.edges.len()).filter(|&at| self.edges[at].is == Is::Coil(*relay)).collect()
    }

    /// These variables with those that decide whether the relays among them, and those that decide about these, are at rest. `feed`: the
    /// source that is asked about.
    pub(super) fn cone_at_rest(&self, vars: &[usize], feed: usize) -> Vec<usize> {
        let mut is_in = vec![false; self.model.vars.len()];
        for &var in vars {
            is_in[var] = true; // variables of this model
        }
        let mut seen = vec![false; self.edges.len()];
        let mut open: Vec<usize> = self.input_of(feed).into_iter().collect();
        let mut asked = vec![false; is_in.len()];
        loop {
            for var in (0..is_in.len()).filter(|&var| is_in[var]) {
                if !std::mem::replace(&mut asked[var], true) {
                    open.extend(self.coils_of(var));
                }
            }
            let Some(edge) = open.pop() else { break };
            if std::mem::replace(&mut seen[edge], true) {
                continue;
            }
            let Some(around) = self.around(edge) else { continue };
            let mut all = vec![(0, 0, edge)];
            for (feed, near) in &around.feeds {
                all.push(*feed);
                all.extend(near);
                open.extend(self.input_of(feed.2));
            }
            all.extend(around.region.edges.iter().filter(|(_, _, at)| self.holds(*at)));
            for var in self.cone(&all) {
                is_in[var] = true;
            }
        }
        (0..is_in.len()).filter(|&var| is_in[var] && self.fixed[var].is_none()).collect()
    }

    /// Whether an edge holds both its ends at one potential while nothing is wrong.
    fn holds(&self, edge: usize) -> bool {
        let edge = &self.edges[edge];
        edge.joins() || matches!(edge.is, Is::Fuse(_))
    }

    /// The conditions in which current can flow in an edge, its sources live.
    fn may_carry<S: Sets>(&self, sets: &S, edge: usize, open: &mut Vec<usize>) -> Option<S::Set> {
        if open.contains(&edge) {
            return Some(sets.constant(true));
        }
        let Some(around) = self.around(edge) else { return Some(sets.constant(false)) };
        open.push(edge);
        let mut any = sets.constant(false);
        for (feed, near) in &around.feeds {
            let asked =
                Asked { view: self, region: &around.region, edge, feed: *feed, near, joins: &[], at_rest: false };
            let own = sets.and(&asked.loops(sets)?, &self.may_be_live(sets, feed.2, open)?)?;
            any = sets.or(&any, &own)?;
        }
        open.pop();
        Some(any)
    }

    /// The conditions in which a source that is on can be live: an output, when its input can carry.
    pub(super) fn may_be_live<S: Sets>(&self, sets: &S, feed: usize, open: &mut Vec<usize>) -> Option<S::Set> {
        match (self.edges.get(feed).map(|edge| edge.is), self.input_of(feed)) {
            (Some(Is::Output(one)), Some(input)) if !self.backfed.get(one).copied().unwrap_or(true) => {
                self.may_carry(sets, input, open)
            }
            _ => Some(sets.constant(true)),
        }
    }

    /// Conditions in which an edge surely carries: its ends are joined to the two poles of a source that is surely live, with no load between.
    fn surely_carries<S: Sets>(&self, sets: &S, edge: usize, open: &mut Vec<usize>) -> Option<S::Set> {
        let mut any = sets.constant(false);
        if open.contains(&edge) {
            return Some(any);
        }
        let Some(around) = self.around(edge) else { return Some(any) };
        open.push(edge);
        let holding: Vec<(u32, u32, usize)> =
            around.region.edges.iter().filter(|(_, _, at)| self.holds(*at)).copied().collect();
        let holding = self.conditions(sets, &holding)?;
        let places = around.region.places;
        let [a, b] = around.region.ends;
        let (start, end) = (a as usize, b as usize);
        let shorted = reach(sets, places, &holding, b, &[])?;
        for &((p, q, feed), _) in &around.feeds {
            let live = match self.edges[feed].is {
                Is::Source(_) => self.set_of(sets, feed)?,
                Is::Output(_) => match self.input_of(feed) {
                    Some(input) => self.surely_carries(sets, input, open)?,
                    None => continue,
                },
                _ => continue,
            };
            let to_p = reach(sets, places, &holding, p, &[q])?;
            let to_q = reach(sets, places, &holding, q, &[p])?;
            let one = sets.and(&to_p[start], &to_q[end])?;
            let other = sets.and(&to_q[start], &to_p[end])?;
            let joined = sets.and(&live, &sets.or(&one, &other)?)?;
            any = sets.or(&any, &sets.and_not(&joined, &shorted[start])?)?;
        }
        open.pop();
        Some(any)
    }

    /// The conditions in which the relays among these variables may be at rest.
    pub(super) fn at_rest<S: Sets>(&self, sets: &S, vars: &[usize], purse: &Purse<'_>) -> Option<S::Set> {
        let mut all = sets.constant(true);
        for &var in vars {
            let coils = self.coils_of(var);
            if coils.is_empty() {
                continue;
            }
            purse.pay(self.edges.len())?;
            let (mut may, mut surely) = (sets.constant(false), sets.constant(false));
            for coil in coils {
                may = sets.or(&may, &self.may_carry(sets, coil, &mut Vec::new())?)?;
                surely = sets.or(&surely, &self.surely_carries(sets, coil, &mut Vec::new())?)?;
            }
            let worked_in_vain = sets.and_not(&sets.lit(var, true)?, &may)?;
            let about_to_pull = sets.and(&sets.lit(var, false)?, &surely)?;
            all = sets.and_not(&all, &worked_in_vain)?;
            all = sets.and_not(&all, &about_to_pull)?;
        }
        Some(all)
    }
}
