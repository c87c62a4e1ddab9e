//! Among which hypotheses the next reading is sought, and which others count for what is dangerous.

use std::collections::BTreeSet;

use crate::machine::MysteryId;

use super::account::Account;
use super::hypothesis::likelier_first;
use super::log::Log;
use super::world::Flaw;

/// Hypotheses that are looked at, likeliest first.
const MOST_HYPOTHESES: usize = 48;
/// Hypotheses less likely than this share of the best are left aside while there are others: a reading that speaks against one leaves it
/// a few hundredths at most.
const OPEN_ODDS: f64 = 0.05;
/// Not while all that are less likely still have so much together.
const OPEN_REST: f64 = 0.01;
/// Hypotheses less likely than this share of the best are not looked at at all; below this share of all together they count for nothing.
const LEAST_ODDS: f64 = 1e-3;

/// A machine as it may be.
pub(super) struct MayBe {
    /// Answers to mysteries.
    pub(super) answers: Vec<(MysteryId, usize)>,
    /// Faults, as elements of the network of the record as it stands.
    pub(super) flaws: Vec<Flaw>,
}

/// Hypotheses that are looked at, likeliest first.
pub(super) fn likely(account: &Account) -> Vec<usize> {
    let answers = |at: usize| account.hypotheses.get(at).and_then(|one| account.group.answers.get(one.answer));
    let mut all: Vec<usize> = (0..account.odds.len()).collect();
    all.sort_by_cached_key(|&at| {
        (likelier_first(account.odds[at], answers(at).map(|(answers, _)| answers.as_slice()).unwrap_or_default()), at)
    });
    let best = all.first().map_or(0.0, |&at| account.odds[at]);
    let whole: f64 = account.odds.iter().sum();
    let mut rest = whole;
    let wanted = |&at: &usize| {
        let own = account.odds[at];
        let wanted = own > OPEN_ODDS * best || rest > OPEN_REST * whole;
        rest -= own;
        wanted && own > LEAST_ODDS * best
    };
    let mut open: Vec<usize> = all.iter().copied().take_while(wanted).collect();
    if open.len() < 2 {
        open = all.into_iter().take_while(|&at| account.odds[at] > LEAST_ODDS * best).collect();
    }
    open.truncate(MOST_HYPOTHESES);
    open
}

/// What else may be than what is looked at: other hypotheses that are not beyond belief, the likeliest one in every context, and with each
/// candidate of mysteries that no context answers. What is dangerous by one of them is dangerous.
pub(super) fn not_looked_at(log: &Log<'_>, account: &Account, looked: &[usize]) -> Vec<MayBe> {
    let answers = |at: usize| {
        let hypothesis = account.hypotheses.get(at);
        hypothesis.map(|one| (account.answers_of(one), one.flaws.clone())).unwrap_or_default()
    };
    let first = account.contexts.first().map(|context| context.answers.clone()).unwrap_or_default();
    let mut all: Vec<MayBe> = Vec::new();
    for at in others(account, looked) {
        let (own, flaws) = answers(at);
        all.push(MayBe { answers: [own, first.clone()].concat(), flaws });
    }
    let Some((own, flaws)) = looked.first().map(|&at| answers(at)) else { return all };
    for context in &account.contexts {
        all.push(MayBe { answers: [own.clone(), context.answers.clone()].concat(), flaws: flaws.clone() });
    }
    let known: BTreeSet<MysteryId> = own.iter().chain(&first).map(|(id, _)| *id).collect();
    for (id, mystery) in log.machine.mysteries.iter().filter(|(id, _)| !known.contains(id)) {
        for candidate in 0..mystery.candidates.len() {
            let answers = own.iter().chain(&first).copied().chain([(id, candidate)]).collect();
            all.push(MayBe { answers, flaws: flaws.clone() });
        }
    }
    all
}

fn others(account: &Account, looked: &[usize]) -> Vec<usize> {
    let looked: BTreeSet<usize> = looked.iter().copied().collect();
    let least = LEAST_ODDS * account.odds.iter().sum::<f64>();
    (0..account.odds.len()).filter(|at| account.odds[*at] > least && !looked.contains(at)).collect()
}
