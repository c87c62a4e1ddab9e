//! What each hypothesis makes of each reading: how likely it makes it, and whether it disputes it.

use std::collections::BTreeSet;

use rayon::prelude::*;

use crate::circuit::electric::{Agreement, Expectation};
use crate::machine::ConditionId;

use super::account::{Account, Context};
use super::log::Log;
use super::screen::{Looked, Sought, is_near};
use super::world::{Place, World};

/// What readings on the dead machine make less likely than this share of the best takes more mistaken readings than are to be reckoned with.
const NOT_WORKED_OUT: f64 = 1e-6;

impl Account {
    /// What each hypothesis makes of each reading, given its worlds in the contexts. Readings on the dead machine come first: what they
    /// leave no odds to speak of is not worked out further, and readings on the live machine say nothing of it.
    pub(super) fn shown_in(&self, log: &Log<'_>, worlds: &[Vec<World>]) -> Option<Vec<Vec<Shown>>> {
        let conditions: BTreeSet<ConditionId> = log.places.iter().map(|place| place.condition).collect();
        let looked: Vec<Vec<Looked<'_>>> = worlds
            .iter()
            .map(|worlds| worlds.iter().map(|world| Looked::of(world, conditions.iter().copied())).collect())
            .collect();
        let (dead, live): (Vec<usize>, Vec<usize>) =
            (0..log.places.len()).partition(|&at| log.places[at].function.needs_dead());
        let everyone: Vec<&[Looked<'_>]> = looked.iter().map(Vec::as_slice).collect();
        let by_dead = self.shown_at(log, &everyone, &dead)?;
        let logs: Vec<f64> = by_dead.iter().map(|own| own.iter().map(|shown| shown.likelihood.ln()).sum()).collect();
        let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        let is_open: Vec<bool> = logs.iter().map(|log| *log >= most + NOT_WORKED_OUT.ln()).collect();
        let open: Vec<&[Looked<'_>]> =
            everyone.iter().zip(&is_open).filter(|(_, is_open)| **is_open).map(|(looked, _)| *looked).collect();
        let by_live = self.shown_at(log, &open, &live)?;
        let best = |nth: usize| by_live.iter().map(|own| own[nth].likelihood).fold(0.0, f64::max);
        let nothing: Vec<Shown> = (0..live.len()).map(|nth| Shown { likelihood: best(nth), disputes: true }).collect();
        let mut by_live = by_live.into_iter();
        let mut all = Vec::with_capacity(looked.len());
        for (by_dead, is_open) in by_dead.into_iter().zip(is_open) {
            let by_live = if is_open { by_live.next()? } else { nothing.clone() };
            let own = dead.iter().copied().zip(by_dead).chain(live.iter().copied().zip(by_live));
            let mut own: Vec<(usize, Shown)> = own.collect();
            own.sort_by_key(|(at, _)| *at);
            all.push(own.into_iter().map(|(_, shown)| shown).collect());
        }
        Some(all)
    }

    /// What hypotheses, each in its contexts, make of some readings. Where a first look shows the same, it is worked out once.
    fn shown_at(&self, log: &Log<'_>, looked: &[&[Looked<'_>]], wanted: &[usize]) -> Option<Vec<Vec<Shown>>> {
        let by_value: Vec<Place> = wanted.iter().map(|&at| log.places[at].by_value()).collect();
        let sought = Sought::of(log, &by_value);
        let of_one = |looked: &Looked<'_>| (!(log.stopped)()).then(|| looked.bands(&sought));
        let all: Vec<&Looked<'_>> = looked.iter().copied().flatten().collect();
        let bands: Vec<Vec<Option<(f64, f64)>>> = all.par_iter().map(|looked| of_one(looked)).collect::<Option<_>>()?;
        // For each reading, what each world makes of it.
        let of_reading = |(nth, &at): (usize, &usize)| -> Option<Vec<Shown>> {
            let mut known: Vec<((f64, f64), Shown)> = Vec::new();
            let mut own = Vec::with_capacity(all.len());
            for (looked, bands) in all.iter().zip(&bands) {
                let same = known.iter().find(|(band, _)| is_near(bands[nth], Some(*band))).map(|(_, shown)| *shown);
                let shown = match same {
                    Some(shown) => shown,
                    None if (log.stopped)() => return None,
                    None => {
                        let shown = Shown::of(log, at, looked.expectation(log.machine, &log.places[at]).as_ref());
                        known.extend(bands[nth].map(|band| (band, shown)));
                        shown
                    }
                };
                own.push(shown);
            }
            Some(own)
        };
        let each: Vec<Vec<Shown>> = wanted.par_iter().enumerate().map(of_reading).collect::<Option<_>>()?;
        let mut first = 0;
        let mut shown = Vec::with_capacity(looked.len());
        for own in looked {
            let mixed = |(nth, &at): (usize, &usize)| {
                let weight = |context: &Context| context.weight_without(log.readings[at].0);
                let contexts = || self.contexts.iter().zip(&each[nth][first..first + own.len()]);
                let whole: f64 = contexts().map(|(context, _)| weight(context)).sum();
                Shown::mixed(contexts().map(|(context, shown)| (weight(context) / whole, *shown)))
            };
            shown.push(wanted.iter().enumerate().map(mixed).collect());
            first += own.len();
        }
        Some(shown)
    }
}

/// What a hypothesis makes of a reading.
#[derive(Debug, Clone, Copy)]
pub(super) struct Shown {
    /// How likely it makes it.
    pub(super) likelihood: f64,
    /// It disputes it.
    pub(super) disputes: bool,
}

impl Shown {
    fn of(log: &Log<'_>, at: usize, expectation: Option<&Expectation>) -> Self {
        let disputes = |expectation: &Expectation| {
            log.readings.get(at).is_some_and(|(_, reading)| expectation.compare(reading.value) == Agreement::Disputes)
        };
        Self { likelihood: log.likelihood(at, expectation), disputes: expectation.is_some_and(disputes) }
    }

    /// In several contexts with their weights: disputed where it is in all of them.
    fn mixed(each: impl Iterator<Item = (f64, Self)>) -> Self {
        each.fold(Self { likelihood: 0.0, disputes: true }, |so_far, (weight, one)| Self {
            likelihood: so_far.likelihood + weight * one.likelihood,
            disputes: so_far.disputes && one.disputes,
        })
    }
}
