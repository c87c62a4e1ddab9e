//! Whole answers: one candidate for each mystery that hangs together with others.

use std::collections::BTreeSet;

use crate::machine::{Candidate, Guess, Machine, Mystery, MysteryId, Subject};

/// Answers of one group at most; beyond it the likeliest are kept, and what is left out is said.
pub const MOST_ANSWERS: usize = 720;

/// Odds of the answers of a part of a group, as far as readings tell; `None` when nobody waits any more.
pub(super) type Likelier<'l> = dyn Fn(Group) -> Option<Vec<f64>> + 'l;

/// For each mystery of a group, the number of the candidate.
pub type Answers = Vec<usize>;

/// Mysteries that hang together: one of each, or with candidates in common.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Group {
    /// In order of the record.
    pub mysteries: Vec<MysteryId>,
    /// Every answer allowed, with its weight before any reading, together 1.
    pub answers: Vec<(Answers, f64)>,
    /// The share of answers, by their odds, that was left out because there were too many.
    pub left_out: f64,
}

impl Group {
    /// Every answer of this group with every answer of another one.
    pub(super) fn times(mut self, other: Self) -> Self {
        let mut answers = Vec::with_capacity(self.answers.len() * other.answers.len());
        for (own, weight) in &self.answers {
            for (more, share) in &other.answers {
                answers.push((own.iter().chain(more).copied().collect(), weight * share));
            }
        }
        self.mysteries.extend(other.mysteries);
        self.answers = answers;
        self.left_out = 1.0 - (1.0 - self.left_out) * (1.0 - other.left_out);
        self
    }
}

/// Mysteries put together by what they have in common. Those without candidates are left out: nothing can be weighed. Of too many answers
/// those with the highest weights are kept.
pub fn groups(machine: &Machine) -> Vec<Group> {
    let by_weight = |group: Group| Some(group.answers.into_iter().map(|(_, weight)| weight).collect());
    // Weights are always there.
    groups_by(machine, &by_weight).unwrap_or_default()
}

/// The same; of too many answers the likeliest are kept, judged while they are put together mystery by mystery.
pub(super) fn groups_by(machine: &Machine, likelier: &Likelier<'_>) -> Option<Vec<Group>> {
    let with_candidates: Vec<(MysteryId, &Mystery)> =
        machine.mysteries.iter().filter(|(_, mystery)| !mystery.candidates.is_empty()).collect();
    let mut sets: Vec<BTreeSet<usize>> = Vec::new();
    for (at, (_, mystery)) in with_candidates.iter().enumerate() {
        let mut own = BTreeSet::from([at]);
        sets.retain(|set| {
            let hangs = set.iter().any(|&other| {
                let (id, other) = with_candidates[other];
                hang_together(mystery, other) || excludes(mystery, id) || excludes(other, with_candidates[at].0)
            });
            if hangs {
                own.extend(set);
            }
            !hangs
        });
        sets.push(own);
    }
    sets.sort_by_key(|set| set.first().copied());
    sets.into_iter()
        .map(|set| {
            let mysteries: Vec<(MysteryId, &Mystery)> = set.into_iter().map(|at| with_candidates[at]).collect();
            let (answers, left_out) = answers(&mysteries, likelier)?;
            Some(Group { mysteries: mysteries.into_iter().map(|(id, _)| id).collect(), answers, left_out })
        })
        .collect()
}

fn hang_together(a: &Mystery, b: &Mystery) -> bool {
    let same_set = a.one_of_each.is_some() && a.one_of_each == b.one_of_each;
    let places = |mystery: &Mystery| -> BTreeSet<Guess> {
        let guesses = mystery.candidates.iter().map(|candidate| candidate.guess.clone());
        guesses.filter(|guess| matches!(guess, Guess::Terminal(_))).collect()
    };
    same_set
        || !places(a).is_disjoint(&places(b))
        || part_of(&a.subject).is_some() && part_of(&a.subject) == part_of(&b.subject)
}

/// Whether a candidate of this mystery rules out one of that other.
fn excludes(mystery: &Mystery, other: MysteryId) -> bool {
    mystery.candidates.iter().any(|candidate| candidate.never_with.iter().any(|(id, _)| *id == other))
}

/// Whether two candidates of two mysteries cannot be right together.
fn never_both((a, one): (MysteryId, &Candidate), (b, other): (MysteryId, &Candidate)) -> bool {
    let said = |(id, candidate): (MysteryId, &Candidate), by: &Candidate| {
        by.never_with.iter().any(|(other, guess)| *other == id && *guess == candidate.guess)
    };
    said((b, other), one) || said((a, one), other)
}

/// The part a mystery is about, so that its kind, forms and driver are weighed together.
fn part_of(subject: &Subject) -> Option<crate::machine::PartId> {
    match subject {
        Subject::CoilDriver(part) | Subject::Kind(part) => Some(*part),
        Subject::ContactForm(terminal) => Some(terminal.part),
        Subject::End(..) | Subject::Fault(_) => None,
    }
}

/// Every combination that takes no candidate twice where one of each is to be had; and the share left out.
fn answers(mysteries: &[(MysteryId, &Mystery)], likelier: &Likelier<'_>) -> Option<(Vec<(Answers, f64)>, f64)> {
    let mut all: Vec<(Answers, f64)> = vec![(Vec::new(), 1.0)];
    let mut left_out = 0.0;
    for (at, (id, mystery)) in mysteries.iter().enumerate() {
        let mut next = Vec::new();
        let sum: f64 = mystery.candidates.iter().map(|candidate| candidate.weight.max(0.0)).sum();
        for (answers, weight) in &all {
            for (number, candidate) in mystery.candidates.iter().enumerate() {
                let taken = mystery.one_of_each.is_some()
                    && mysteries[..at].iter().zip(answers).any(|((_, other), &answer)| {
                        other.one_of_each == mystery.one_of_each
                            && other
                                .candidates
                                .get(answer)
                                .is_some_and(|other| other.guess == candidate.guess && other.guess != Guess::Nowhere)
                    });
                let excluded = mysteries[..at].iter().zip(answers).any(|((other_id, other), &answer)| {
                    other.candidates.get(answer).is_some_and(|other| never_both((*other_id, other), (*id, candidate)))
                });
                let share = if sum > 0.0 { candidate.weight.max(0.0) / sum } else { 0.0 };
                if !taken && !excluded && share > 0.0 {
                    let mut answers = answers.clone();
                    answers.push(number);
                    next.push((answers, weight * share));
                }
            }
        }
        if next.len() > MOST_ANSWERS {
            let ids = mysteries.iter().take(at + 1).map(|(id, _)| *id).collect();
            let odds = likelier(Group { mysteries: ids, answers: next.clone(), left_out })?;
            let (kept, share) = likeliest(&next, &odds);
            next = kept;
            left_out = 1.0 - (1.0 - left_out) * (1.0 - share);
        }
        all = next;
    }
    // Together they are 1, so that 'none of these' weighs the same beside a few answers and beside many.
    let whole: f64 = all.iter().map(|(_, weight)| weight).sum();
    for (_, weight) in &mut all {
        *weight /= if whole > 0.0 { whole } else { 1.0 };
    }
    Some((all, left_out))
}

/// A key by which answers stand likeliest first, and those that differ by no more than rounding mixed: then the first few stand for all.
pub(super) fn likelier_first(odds: f64, answers: &[usize]) -> (i64, u64) {
    /// Odds that differ by less than this share differ by rounding.
    const SAME: f64 = 1e-6;
    #[allow(clippy::cast_possible_truncation, reason = "it is a rounded logarithm; below the least odds all are alike")]
    let steps = (odds.max(f64::MIN_POSITIVE).ln() / SAME).round() as i64;
    let mixed = answers.iter().fold(0x9E37_79B9_7F4A_7C15_u64, |hash, &answer| {
        (hash ^ answer as u64).wrapping_mul(0xD6E8_FEB8_6659_FD93).rotate_left(32)
    });
    (-steps, mixed)
}

/// The likeliest answers by these odds, and the share of the rest. Of equally likely ones any, not the first: what is kept stands for all.
fn likeliest(answers: &[(Answers, f64)], odds: &[f64]) -> (Vec<(Answers, f64)>, f64) {
    let whole: f64 = odds.iter().sum();
    let of = |at: usize| odds.get(at).copied().unwrap_or(0.0);
    let mut order: Vec<usize> = (0..answers.len()).collect();
    order.sort_by_cached_key(|&at| likelier_first(of(at), &answers[at].0));
    order.truncate(MOST_ANSWERS);
    order.sort_unstable();
    let kept: f64 = order.iter().map(|&at| of(at)).sum();
    let share = if whole > 0.0 { (1.0 - kept / whole).max(0.0) } else { 1.0 };
    (order.into_iter().map(|at| answers[at].clone()).collect(), share)
}
