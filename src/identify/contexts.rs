//! What groups that are tied to one may be while it is weighed: the likeliest few ways that differ for it, put together.

use std::collections::BTreeMap;

use crate::machine::{MysteryId, ReadingId};

use super::account::{Account, Context};
use super::hypothesis::{MOST_ANSWERS, likelier_first};
use super::log::Log;

/// What other groups may be is held together with a group in so many ways at least, where there are as many...
const MOST_TOGETHER: usize = 4;
/// ... and in so many at most, where few of its own answers are left.
const MOST_EVER: usize = 24;
/// Ways less likely than this share of the best are left aside...
const LEAST_TOGETHER: f64 = 0.02;
/// ... where no reading hangs on them; else below this one.
const LEAST_HANGING: f64 = 5e-4;
/// Odds from which on none of its answers counts for another group.
const NONE_COUNTS: f64 = 0.01;
/// Own answers less likely than this share of the best are not counted when it is asked how many ways are not too many.
const COUNTED: f64 = 1e-3;

/// Another group that one is tied to.
pub(super) struct Other<'a> {
    pub(super) account: &'a Account,
    /// Where readings of the one hang on it: for each of its answers the number of what it makes of them.
    pub(super) effects: Option<&'a [Option<usize>]>,
}

/// What other groups may be while one is weighed, and the share of it that is left aside of those on which its readings hang.
pub(super) fn contexts(log: &Log<'_>, others: &[Other<'_>], own: &Account) -> (Vec<Context>, f64) {
    let best = own.odds.iter().copied().fold(0.0, f64::max);
    let open = own.odds.iter().filter(|odds| **odds > COUNTED * best).count();
    let most = (MOST_ANSWERS / open.max(1)).clamp(MOST_TOGETHER, MOST_EVER);
    let (hanging, beside): (Vec<&Other<'_>>, Vec<&Other<'_>>) = others.iter().partition(|one| one.effects.is_some());
    let (mut all, mut kept) = (Context::open(), 1.0);
    for other in hanging {
        let whole: f64 = other.account.odds.iter().sum();
        let ways = ways(other, LEAST_HANGING);
        let held: f64 = ways.iter().map(|way| way.odds).sum();
        let mut next = with(log, all, other.account, &ways);
        let together: f64 = next.iter().map(|context| context.weight).sum();
        next.truncate(most);
        let left: f64 = next.iter().map(|context| context.weight).sum();
        if whole > 0.0 && together > 0.0 {
            kept *= (held / whole) * (left / together) * (1.0 - other.account.group.left_out);
        }
        all = next;
    }
    // No reading hangs on these: one of them more never displaces what one hangs on.
    for other in beside {
        let mut ways = ways(other, LEAST_TOGETHER);
        ways.truncate((MOST_TOGETHER / all.len()).max(1));
        all = with(log, all, other.account, &ways);
        all.truncate(most);
    }
    let whole: f64 = all.iter().map(|context| context.weight).sum();
    for context in &mut all {
        context.weight = if whole > 0.0 { context.weight / whole } else { 1.0 };
    }
    (all, 1.0 - kept)
}

/// The share that two sets of contexts have in common.
pub(super) fn in_common(a: &[Context], b: &[Context]) -> f64 {
    let in_b: BTreeMap<&[(MysteryId, usize)], f64> =
        b.iter().map(|context| (context.answers.as_slice(), context.weight)).collect();
    a.iter().filter_map(|context| in_b.get(context.answers.as_slice()).map(|weight| weight.min(context.weight))).sum()
}

/// Each context with each way another group may be, likeliest first.
fn with(log: &Log<'_>, all: Vec<Context>, other: &Account, ways: &[Way<'_>]) -> Vec<Context> {
    let mut next: Vec<Context> = Vec::with_capacity(all.len() * ways.len());
    for context in all {
        for way in ways {
            let mut context = context.clone();
            context.weight *= way.odds;
            context.answers.extend(other.group.mysteries.iter().copied().zip(way.answers.iter().copied()));
            for (reading, share) in &way.explains {
                *context.explains.entry(*reading).or_insert(1.0) *= share;
            }
            next.push(context);
        }
        // It may be none of them: then it stays open, and each reading came about by chance.
        if other.none_of_these > NONE_COUNTS || ways.is_empty() {
            let mut context = context;
            context.weight *= other.none_of_these.max(1e-6);
            for reading in other.likelihoods.keys() {
                let at = log.readings.iter().position(|(id, _)| id == reading);
                *context.explains.entry(*reading).or_insert(1.0) *= at.map_or(1.0, |at| log.by_chance(at));
            }
            next.push(context);
        }
    }
    let numbers = |context: &Context| context.answers.iter().map(|(_, answer)| *answer).collect::<Vec<usize>>();
    next.sort_by_cached_key(|context| likelier_first(context.weight, &numbers(context)));
    next
}

/// One way a group may be, as far as it matters.
struct Way<'a> {
    odds: f64,
    /// Its likeliest answers.
    answers: &'a [usize],
    /// How likely it makes each reading of the group.
    explains: BTreeMap<ReadingId, f64>,
}

/// The ways a group may be, likeliest first, but those below a share of the best; answers that make the same of the readings are one.
fn ways<'a>(other: &Other<'a>, least: f64) -> Vec<Way<'a>> {
    let account = other.account;
    let odds = account.answer_odds();
    let of = |at: usize| account.group.answers.get(at).map(|(answers, _)| answers.as_slice()).unwrap_or_default();
    let mut order: Vec<usize> = (0..odds.len()).collect();
    order.sort_by_cached_key(|&at| likelier_first(odds[at], of(at)));
    let mut same: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for at in order {
        let effect = other.effects.map_or(Some(at), |effects| effects.get(at).copied().flatten());
        if let Some(effect) = effect {
            same.entry(effect).or_default().push(at);
        }
    }
    let way = |all: Vec<usize>| {
        let own: f64 = all.iter().map(|&at| odds[at]).sum();
        let explains = account.likelihoods.iter().map(|(reading, likelihoods)| {
            // The answers alone come first, in order. What they would weigh without the reading:
            let likelihood = |at: usize| likelihoods.get(at).copied().unwrap_or(1.0);
            let without: f64 = all.iter().map(|&at| odds[at] / likelihood(at)).sum();
            (*reading, if without > 0.0 { own / without } else { 1.0 })
        });
        Way { odds: own, answers: all.first().map(|&at| of(at)).unwrap_or_default(), explains: explains.collect() }
    };
    let mut ways: Vec<Way<'a>> = same.into_values().map(way).collect();
    ways.sort_by_cached_key(|way| likelier_first(way.odds, way.answers));
    let best = ways.first().map_or(0.0, |way| way.odds);
    ways.retain(|way| way.odds > least * best);
    ways
}

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;
    use crate::catalogue::Catalogue;
    use crate::identify::hypothesis::{Answers, Group};
    use crate::identify::{Belief, Hypothesis};
    use crate::machine::{Machine, Reading, Spot};
    use crate::quantity::Value;

    /// A group with these weights of its answers before any reading, and what each reading makes of them.
    fn account(mystery: MysteryId, weights: &[f64], likelihoods: BTreeMap<ReadingId, Vec<f64>>) -> Account {
        let answers: Vec<(Answers, f64)> = weights.iter().enumerate().map(|(at, weight)| (vec![at], *weight)).collect();
        let mut belief = Belief::of(weights.iter().copied());
        for all in likelihoods.values() {
            belief.weigh(all);
        }
        Account {
            group: Group { mysteries: vec![mystery], answers, left_out: 0.0 },
            hypotheses: (0..weights.len()).map(Hypothesis::of).collect(),
            odds: belief.odds(),
            none_of_these: 0.0,
            contexts: Context::open(),
            left_aside: 0.0,
            likelihoods,
            borne_out: BTreeSet::new(),
        }
    }

    fn machine() -> (Machine, [ReadingId; 2], [MysteryId; 2]) {
        let mut machine = Machine::default();
        let part = machine.parts.add(crate::machine::Part::default());
        let mut reading = || {
            machine.readings.add(Reading {
                name: String::new(),
                red: Spot::Part(part),
                black: None,
                value: Value::Runs,
                condition: None,
                meter: None,
                when: String::new(),
                who: String::new(),
                visit: None,
                note: String::new(),
            })
        };
        let readings = [reading(), reading()];
        let mystery = || crate::machine::Mystery {
            name: String::new(),
            subject: crate::machine::Subject::Kind(part),
            candidates: Vec::new(),
            one_of_each: None,
            note: String::new(),
        };
        let mysteries = [machine.mysteries.add(mystery()), machine.mysteries.add(mystery())];
        (machine, readings, mysteries)
    }

    #[test]
    fn a_way_without_a_reading_weighs_what_the_other_readings_make_of_it() {
        let (_, [one, other], [mystery, _]) = machine();
        let (weights, first, second) = ([0.5, 0.3, 0.2], [0.9, 0.1, 0.4], [0.2, 0.8, 0.7]);
        let likelihoods = BTreeMap::from([(one, first.to_vec()), (other, second.to_vec())]);
        let account = account(mystery, &weights, likelihoods);
        let ways = ways(&Other { account: &account, effects: Some(&[Some(0), Some(1), Some(1)]) }, 0.0);
        // By hand, from the weights and the second reading alone.
        let alone = |at: usize| weights[at] * second[at];
        let expected = [alone(0), alone(1) + alone(2)];
        let of = |answer: usize| ways.iter().find(|way| way.answers == [answer]).unwrap();
        let without = |way: &Way<'_>| way.odds / way.explains[&one];
        // Of the two that are one the likelier stands for both.
        let ratio = without(of(0)) / without(of(2));
        assert!((ratio - expected[0] / expected[1]).abs() < 1e-12, "{ratio}");
    }

    #[test]
    fn what_no_reading_hangs_on_displaces_nothing() {
        let (machine, _, [first, second]) = machine();
        let catalogue = Catalogue::built_in().unwrap();
        let log = Log::of(&machine, &catalogue, &|| false);
        let own = account(first, &[0.5, 0.5], BTreeMap::new());
        let many = account(first, &[1.0 / 24.0; 24], BTreeMap::new());
        let few = account(second, &[0.25; 4], BTreeMap::new());
        let effects: Vec<Option<usize>> = (0..24).map(Some).collect();
        let hanging = || Other { account: &many, effects: Some(&effects) };
        let beside = || Other { account: &few, effects: None };
        for others in [[hanging(), beside()], [beside(), hanging()]] {
            let (all, left_aside) = contexts(&log, &others, &own);
            let ways: BTreeSet<usize> = all.iter().filter_map(|one| Some(one.answers.first()?.1)).collect();
            assert_eq!((all.len(), ways.len()), (24, 24));
            assert!(left_aside.abs() < 1e-12, "{left_aside}");
        }
        // Where as many do not go in, what is left aside is told, and those held are not all of the first candidates.
        let more = account(first, &[1.0 / 96.0; 96], BTreeMap::new());
        let effects: Vec<Option<usize>> = (0..96).map(Some).collect();
        let (all, left_aside) = contexts(&log, &[Other { account: &more, effects: Some(&effects) }], &own);
        assert_eq!(all.len(), 24);
        assert!((left_aside - 0.75).abs() < 1e-9, "{left_aside}");
        assert!(all.iter().any(|one| one.answers[0].1 >= 48));
    }
}
