//! Mysteries that hang together, weighed together: each answer alone, and with faults where the readings call for one.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use rayon::prelude::*;

use crate::catalogue::Catalogue;
use crate::circuit::Network;

use crate::machine::{Machine, MysteryId, Reading, ReadingId};

use super::belief::Belief;
use super::faults::{fault_sets, suspects, weight_of, words as fault_words};
use super::hypothesis::{Answers, Group};
use super::log::Log;
use super::shown::Shown;
use super::world::{Flaw, World};

/// Odds before any reading that none of the answers is right: the record itself is wrong.
const NONE_OF_THESE: f64 = 1e-3;
/// An answer is settled from these odds on: one reading that tells, and that is mistaken as seldom as readings are, is enough.
pub const SETTLED: f64 = 0.95;
/// A settled answer is proven from these odds on: no single reading that may be mistaken brings them.
pub const PROVEN: f64 = 0.995;
/// A reading rules a candidate out where it is less likely than this share of what the best candidate makes it.
const RULED_OUT: f64 = 0.1;
/// Answers that are weighed with faults, likeliest first.
const MOST_WITH_FAULTS: usize = 24;
/// Answers with faults are weighed in so many worlds at most, in one context at least.
const MOST_FAULTY_WORLDS: usize = 2000;
/// Answers whose suspects are looked for.
const MOST_SUSPECTING: usize = 3;
/// Answers less likely than this share of the best count for nothing when it is asked whether the record is in trouble.
const PLAUSIBLE: f64 = 0.05;

/// One answer, and what is faulty with it.
#[derive(Debug, Clone, PartialEq)]
pub struct Hypothesis {
    /// The number of the answer in [`Group::answers`].
    pub answer: usize,
    /// Faults, as elements of the network of the record as it stands.
    pub flaws: Vec<Flaw>,
    /// The place in [`Group::mysteries`] of a lead that is on none of its candidates, whatever the answer says of it.
    pub elsewhere: Option<usize>,
}

impl Hypothesis {
    /// An answer alone.
    pub fn of(answer: usize) -> Self {
        Self { answer, flaws: Vec::new(), elsewhere: None }
    }

    /// Whether it is an answer and nothing else.
    pub fn is_plain(&self) -> bool {
        self.flaws.is_empty() && self.elsewhere.is_none()
    }
}

/// Answers of mysteries of other groups, with how likely they are together.
#[derive(Debug, Clone, PartialEq)]
pub struct Context {
    /// Its share.
    pub weight: f64,
    /// The answers.
    pub answers: Vec<(MysteryId, usize)>,
    /// How likely they make each reading they were weighed by. Where a reading is weighed again here, its share in their weight is
    /// taken out: else it would count twice, once by way of what it says of the others.
    pub explains: BTreeMap<ReadingId, f64>,
}

impl Context {
    /// Nothing is known of other mysteries.
    pub fn open() -> Vec<Self> {
        vec![Self::of(Vec::new())]
    }

    /// These answers and no others.
    pub(super) fn of(answers: Vec<(MysteryId, usize)>) -> Self {
        Self { weight: 1.0, answers, explains: BTreeMap::new() }
    }

    /// Its weight by every reading but this one.
    pub(super) fn weight_without(&self, reading: ReadingId) -> f64 {
        self.weight / self.explains.get(&reading).copied().unwrap_or(1.0)
    }
}

/// One group of mysteries with its odds. A group without mysteries is about faults alone.
#[derive(Debug, Clone, PartialEq)]
pub struct Account {
    /// The mysteries and their answers.
    pub group: Group,
    /// What is weighed: the answers alone in order, then answers with faults or with a lead elsewhere.
    pub hypotheses: Vec<Hypothesis>,
    /// Odds of each hypothesis, together 1 with [`Self::none_of_these`].
    pub odds: Vec<f64>,
    /// Odds that no answer is right.
    pub none_of_these: f64,
    /// What mysteries of other groups may be meanwhile, likeliest first, with weights that are 1 together; those that are left out
    /// stay open.
    pub contexts: Vec<Context>,
    /// The share of what they may be that was left aside, of those on which what readings say here hangs.
    pub left_aside: f64,
    /// How likely each hypothesis makes each reading that tells them apart or speaks against all of them.
    pub likelihoods: BTreeMap<ReadingId, Vec<f64>>,
    /// Settled mysteries whose answer readings show, rather than only what it is not.
    pub borne_out: BTreeSet<MysteryId>,
}

/// Odds of what one mystery may be.
#[derive(Debug, Clone, PartialEq)]
pub struct MysteryOdds {
    /// The mystery.
    pub mystery: MysteryId,
    /// Its candidates in order of the record.
    pub candidates: Vec<CandidateOdds>,
    /// Odds that it is none of them.
    pub none_of_these: f64,
    /// The share of answers, by their odds, that were left out because there were too many, together with the share of what other groups may
    /// be on which readings here hang.
    pub left_out: f64,
    /// The candidate whose odds have passed [`SETTLED`].
    pub settled: Option<usize>,
    /// It is proven: its odds have passed [`PROVEN`], which takes more than one reading, and readings show it there. What is settled by
    /// what the others are not proves nothing of a place nobody thought of.
    pub proven: bool,
}

/// Odds of one candidate.
#[derive(Debug, Clone, PartialEq)]
pub struct CandidateOdds {
    /// Its odds.
    pub odds: f64,
    /// Readings that speak against it more than against another candidate.
    pub ruled_out_by: Vec<ReadingId>,
}

impl Account {
    /// Weighs a group by every reading, with other mysteries as the contexts have them, and with faults where readings stay disputed.
    /// `None` when nobody waits any more.
    pub(super) fn of(log: &Log<'_>, group: Group, contexts: Vec<Context>) -> Option<Self> {
        Weighed::of(log, group, contexts)?.with_faults(log)
    }

    /// Holds to the likeliest contexts; the others are left aside.
    fn hold_to(&mut self, most: usize) {
        self.contexts.truncate(most);
        let kept: f64 = self.contexts.iter().map(|context| context.weight).sum();
        for context in &mut self.contexts {
            context.weight /= kept;
        }
        self.left_aside = 1.0 - (1.0 - self.left_aside) * kept;
    }

    /// The machine as a hypothesis has it, in each of the likeliest contexts.
    pub(super) fn worlds_of(&self, log: &Log<'_>, hypothesis: &Hypothesis, most: usize) -> Vec<World> {
        let own = self.answers_of(hypothesis);
        let out_of_sight = self.out_of_sight(log.machine, hypothesis);
        let world = |context: &Context| {
            let answers: Vec<(MysteryId, usize)> = own.iter().chain(&context.answers).copied().collect();
            let world = match &out_of_sight {
                Some(machine) => World::of(machine, log.catalogue, &answers, &[]),
                None => World::in_log(log, &answers),
            };
            world.with_flaws_of(&log.network, &hypothesis.flaws)
        };
        self.contexts.iter().take(most).map(world).collect()
    }

    /// What a hypothesis says of the mystery at this place of the group: a candidate, or that it is none.
    pub(super) fn says(&self, hypothesis: &Hypothesis, at: usize) -> Option<usize> {
        if hypothesis.elsewhere == Some(at) {
            return None;
        }
        self.group.answers.get(hypothesis.answer)?.0.get(at).copied()
    }

    /// What a hypothesis says of the mysteries of the group, one by one.
    pub(super) fn answers_of(&self, hypothesis: &Hypothesis) -> Vec<(MysteryId, usize)> {
        let own = self.group.mysteries.iter().enumerate();
        own.filter_map(|(at, &mystery)| Some((mystery, self.says(hypothesis, at)?))).collect()
    }

    /// For each reading, whether it was taken on a net of the group.
    fn touched(&self, log: &Log<'_>) -> Vec<bool> {
        let own = log.nets_of(&self.group);
        let touches = |(_, reading): &(ReadingId, &Reading)| {
            let spots = [Some(&reading.red), reading.black.as_ref()].into_iter().flatten();
            self.group.mysteries.is_empty() || spots.flat_map(|spot| log.nets_at(spot)).any(|net| own.contains(&net))
        };
        log.readings.iter().map(touches).collect()
    }

    /// Weighs hypotheses by what they make of each reading.
    fn weigh(&mut self, log: &Log<'_>, touched: &[bool], hypotheses: Vec<Hypothesis>, shown: &[Vec<Shown>]) {
        let weight = |hypothesis: &Hypothesis| {
            let answer = match hypothesis.elsewhere {
                Some(at) => NONE_OF_THESE * self.weights_whatever(hypothesis.answer, at).iter().sum::<f64>(),
                None => self.group.answers.get(hypothesis.answer).map_or(0.0, |(_, weight)| *weight),
            };
            answer * hypothesis.flaws.iter().map(|flaw| weight_of(*flaw)).product::<f64>() * (1.0 - NONE_OF_THESE)
        };
        let mut belief = Belief::of(hypotheses.iter().map(weight).chain([NONE_OF_THESE]));
        self.likelihoods.clear();
        for (at, (id, _)) in log.readings.iter().enumerate() {
            let any = log.by_chance(at);
            let own: Vec<f64> = shown.iter().map(|shown| shown.get(at).map_or(any, |shown| shown.likelihood)).collect();
            let (least, most) =
                own.iter().fold((f64::MAX, 0.0_f64), |(least, most), &one| (least.min(one), most.max(one)));
            // What all agree on says nothing of them; nor of the record, unless it disputes them all at a place of theirs.
            if most <= least * 1.01 && (most >= any || !touched[at]) {
                continue;
            }
            let with_none: Vec<f64> = own.iter().copied().chain([any]).collect();
            belief.weigh(&with_none);
            self.likelihoods.insert(*id, own);
        }
        let mut odds = belief.odds();
        self.none_of_these = odds.pop().unwrap_or(0.0);
        self.odds = odds;
        self.hypotheses = hypotheses;
    }

    /// Readings of the group that the answers that are plausible dispute, one and all.
    fn disputed(&self, log: &Log<'_>, touched: &[bool], shown: &[Vec<Shown>]) -> Vec<usize> {
        let best = self.odds.iter().copied().fold(0.0, f64::max);
        let plausible: Vec<usize> = (0..self.odds.len()).filter(|&at| self.odds[at] >= PLAUSIBLE * best).collect();
        let disputes = |hypothesis: usize, at: usize| {
            shown.get(hypothesis).and_then(|shown| shown.get(at)).is_some_and(|shown| shown.disputes)
        };
        let each: Vec<Vec<usize>> = plausible
            .iter()
            .map(|&one| {
                (0..log.readings.len())
                    .filter(|&at| touched[at] || self.likelihoods.contains_key(&log.readings[at].0))
                    .filter(|&at| disputes(one, at))
                    .collect()
            })
            .collect();
        if each.iter().any(Vec::is_empty) {
            return Vec::new();
        }
        let all: BTreeSet<usize> = each.into_iter().flatten().collect();
        all.into_iter().collect()
    }

    /// Answers without faults, likeliest first.
    fn likely(&self, most: usize) -> Vec<usize> {
        let mut all: Vec<usize> = (0..self.odds.len()).filter(|&at| self.hypotheses[at].is_plain()).collect();
        all.sort_by(|&a, &b| self.odds[b].total_cmp(&self.odds[a]).then(a.cmp(&b)));
        all.into_iter().map(|at| self.hypotheses[at].answer).take(most).collect()
    }

    /// Odds of each answer as a whole, whatever is faulty with it.
    pub fn answer_odds(&self) -> Vec<f64> {
        let mut odds = vec![0.0; self.group.answers.len()];
        for (hypothesis, own) in self.hypotheses.iter().zip(&self.odds).filter(|(one, _)| one.elsewhere.is_none()) {
            if let Some(slot) = odds.get_mut(hypothesis.answer) {
                *slot += own;
            }
        }
        odds
    }

    /// Weights of the answers alone by some of the readings; only ratios count.
    pub(super) fn odds_by(&self, meant: impl Fn(ReadingId) -> bool) -> Vec<f64> {
        let own = |(at, (_, weight)): (usize, &(Answers, f64))| {
            let told = self.likelihoods.iter().filter(|(id, _)| meant(**id)).filter_map(|(_, all)| all.get(at));
            told.map(|likelihood| likelihood.ln()).sum::<f64>() + weight.ln()
        };
        let logs: Vec<f64> = self.group.answers.iter().enumerate().map(own).collect();
        let most = logs.iter().copied().fold(f64::NEG_INFINITY, f64::max);
        logs.into_iter().map(|log| (log - most).exp()).collect()
    }

    /// Odds of each set of faults, whatever the answer; not of none.
    pub fn fault_odds(&self) -> BTreeMap<Vec<Flaw>, f64> {
        let mut odds: BTreeMap<Vec<Flaw>, f64> = BTreeMap::new();
        for (hypothesis, own) in self.hypotheses.iter().zip(&self.odds).filter(|(one, _)| !one.flaws.is_empty()) {
            *odds.entry(hypothesis.flaws.clone()).or_insert(0.0) += own;
        }
        odds
    }

    /// The likeliest answer, whatever is faulty with it, and its odds.
    pub(super) fn best(&self) -> Option<(Hypothesis, f64)> {
        let mut odds: BTreeMap<(usize, Option<usize>), f64> = BTreeMap::new();
        for (hypothesis, own) in self.hypotheses.iter().zip(&self.odds) {
            *odds.entry((hypothesis.answer, hypothesis.elsewhere)).or_default() += own;
        }
        // Of equally likely ones the first.
        let best = odds.into_iter().rev().max_by(|a, b| a.1.total_cmp(&b.1));
        best.map(|((answer, elsewhere), odds)| (Hypothesis { elsewhere, ..Hypothesis::of(answer) }, odds))
    }

    /// What the likeliest answer says, where it is likelier than everything else together.
    pub fn likeliest(&self) -> Vec<(MysteryId, usize)> {
        self.best().filter(|(_, odds)| *odds > 0.5).map(|(best, _)| self.answers_of(&best)).unwrap_or_default()
    }

    /// The odds of each hypothesis had the answers all weighed the same before any reading.
    fn odds_by_readings(&self) -> Vec<f64> {
        let flat = |(hypothesis, odds): (&Hypothesis, &f64)| {
            let weight = match hypothesis.elsewhere {
                Some(at) => {
                    let all = self.weights_whatever(hypothesis.answer, at);
                    all.iter().sum::<f64>() / all.len().max(1) as f64
                }
                None => self.group.answers.get(hypothesis.answer).map_or(0.0, |(_, weight)| *weight),
            };
            if weight > 0.0 { odds / weight } else { 0.0 }
        };
        let flat: Vec<f64> = self.hypotheses.iter().zip(&self.odds).map(flat).collect();
        let whole: f64 = flat.iter().sum();
        let share = (1.0 - self.none_of_these) / whole;
        flat.into_iter().map(|odds| if whole > 0.0 { odds * share } else { 0.0 }).collect()
    }

    /// Odds of hypotheses put together by what they say of the mystery at this place, which has so many candidates.
    fn by_candidate(&self, at: usize, count: usize, odds: &[f64]) -> Vec<f64> {
        let mut all = vec![0.0; count];
        for (hypothesis, odds) in self.hypotheses.iter().zip(odds) {
            if let Some(slot) = self.says(hypothesis, at).and_then(|candidate| all.get_mut(candidate)) {
                *slot += odds;
            }
        }
        all
    }

    /// For hypotheses that cannot be told apart, given by number: what each of them says that the others do not all say, in words.
    pub fn apart_in(&self, machine: &Machine, catalogue: &Arc<Catalogue>, set: &[usize]) -> Vec<Vec<String>> {
        let network = Network::of(machine, catalogue);
        let all: Vec<&Hypothesis> = set.iter().filter_map(|&at| self.hypotheses.get(at)).collect();
        let differs =
            |at: usize| all.iter().any(|one| self.says(one, at) != all.first().and_then(|first| self.says(first, at)));
        let open: Vec<usize> = (0..self.group.mysteries.len()).filter(|&mystery| differs(mystery)).collect();
        let faults_differ = all.iter().any(|one| all.first().is_none_or(|first| first.flaws != one.flaws));
        let says = |one: &&Hypothesis| {
            let mysteries = open.iter().filter_map(|&at| {
                let mystery = machine.mysteries.get(*self.group.mysteries.get(at)?)?;
                let candidate = self.says(one, at).and_then(|answer| mystery.candidates.get(answer));
                let guess = candidate.map_or("none of these".to_owned(), |one| machine.guess_name(&one.guess));
                Some(format!("{}: {guess}", mystery.name))
            });
            let mut words: Vec<String> = mysteries.collect();
            if faults_differ {
                let fault = if one.flaws.is_empty() {
                    "no fault".to_owned()
                } else {
                    fault_words(machine, &network, &one.flaws)
                };
                words.push(fault);
            }
            words
        };
        all.iter().map(says).collect()
    }

    /// Why a reading rules a candidate of a mystery out: what it would be with that candidate, by which way, and what it is.
    pub fn reason(
        &self,
        machine: &Machine,
        catalogue: &Arc<Catalogue>,
        (mystery, candidate): (MysteryId, usize),
        reading: ReadingId,
    ) -> Option<String> {
        let log = Log::of(machine, catalogue, &|| false);
        let at = self.group.mysteries.iter().position(|own| *own == mystery)?;
        let place = log.readings.iter().position(|(id, _)| *id == reading)?;
        let likelihoods = self.likelihoods.get(&reading)?;
        let with = self
            .hypotheses
            .iter()
            .zip(likelihoods)
            .zip(&self.odds)
            .filter(|((one, _), _)| one.is_plain() && self.says(one, at) == Some(candidate));
        // The one that comes nearest to the reading, and of those the likeliest.
        let ((best, _), _) = with.max_by(|((_, a), x), ((_, b), y)| a.total_cmp(b).then(x.total_cmp(y)))?;
        let world = self.worlds_of(&log, best, 1).into_iter().next()?;
        let place = log.places.get(place)?;
        let (shown, way) = world.shown_by(place)?;
        let guess = machine.guess_name(&machine.mysteries.get(mystery)?.candidates.get(candidate)?.guess);
        let entry = machine.readings.get(reading)?;
        let would = shown.expected.words(place.function);
        let by = way.map(|way| format!(" by {way}")).unwrap_or_default();
        Some(format!("{} reads {}; with {guess} expected: {would}{by}", entry.name, entry.value))
    }

    /// Whether anything of it is not settled: a mystery, or which fault it is.
    pub fn is_open(&self, machine: &Machine) -> bool {
        if self.group.mysteries.is_empty() {
            return self.odds.iter().all(|odds| *odds < SETTLED);
        }
        self.settled(machine).len() < self.group.mysteries.len()
    }

    /// Whether a mystery of it is not proven yet.
    pub fn is_unproven(&self, machine: &Machine) -> bool {
        self.mysteries(machine).iter().any(|one| !one.proven)
    }

    /// Its mysteries that are settled, with their answers.
    pub fn settled(&self, machine: &Machine) -> Vec<(MysteryId, usize)> {
        self.mysteries(machine).into_iter().filter_map(|one| Some((one.mystery, one.settled?))).collect()
    }

    /// The odds of each of its mysteries.
    pub fn mysteries(&self, machine: &Machine) -> Vec<MysteryOdds> {
        let by_readings = self.odds_by_readings();
        self.group
            .mysteries
            .iter()
            .enumerate()
            .map(|(at, &mystery)| {
                let count = machine.mysteries.get(mystery).map_or(0, |mystery| mystery.candidates.len());
                let odds = self.by_candidate(at, count, &self.odds);
                let elsewhere = self.hypotheses.iter().zip(&self.odds).filter(|(one, _)| one.elsewhere == Some(at));
                let candidates: Vec<CandidateOdds> = odds
                    .iter()
                    .enumerate()
                    .map(|(candidate, &odds)| CandidateOdds { odds, ruled_out_by: self.ruled_out_by(at, candidate) })
                    .collect();
                // Weights before any reading settle nothing: readings have to do it.
                let by_readings = self.by_candidate(at, count, &by_readings);
                let shown = |best: usize| by_readings.get(best).is_some_and(|odds| *odds >= SETTLED);
                // What was left out for being too much may be right as well.
                let share = (1.0 - self.group.left_out) * (1.0 - self.left_aside);
                let best = odds.iter().position(|odds| *odds * share >= SETTLED);
                let settled = best.filter(|&best| candidates.len() > 1 && shown(best));
                MysteryOdds {
                    mystery,
                    candidates,
                    none_of_these: self.none_of_these + elsewhere.map(|(_, odds)| odds).sum::<f64>(),
                    left_out: 1.0 - share,
                    settled,
                    proven: self.borne_out.contains(&mystery)
                        && self.group.left_out == 0.0
                        && settled.and_then(|at| odds.get(at)).is_some_and(|odds| *odds * share >= PROVEN),
                }
            })
            .collect()
    }

    /// Readings that no hypothesis with this candidate makes as likely as the best one does.
    fn ruled_out_by(&self, mystery: usize, candidate: usize) -> Vec<ReadingId> {
        let with = |hypothesis: &Hypothesis| self.says(hypothesis, mystery) == Some(candidate);
        // Faults could excuse anything: an answer is ruled out by what it makes of a reading without them.
        let alone = |hypothesis: &&Hypothesis| hypothesis.is_plain();
        let against = self.likelihoods.iter().filter(|(_, likelihoods)| {
            let all = || self.hypotheses.iter().zip(likelihoods.iter()).filter(|(one, _)| alone(one));
            let most = all().map(|(_, one)| *one).fold(0.0, f64::max);
            let own = all().filter(|(one, _)| with(one)).map(|(_, one)| *one).fold(0.0, f64::max);
            own < RULED_OUT * most
        });
        against.map(|(&id, _)| id).collect()
    }
}

/// A group weighed by its answers alone, and what it takes to weigh faults besides.
pub(super) struct Weighed {
    /// The answers alone with their odds.
    pub(super) account: Account,
    shown: Vec<Vec<Shown>>,
    touched: Vec<bool>,
}

impl Weighed {
    /// Weighs a group by every reading, with other mysteries as the contexts have them. `None` when nobody waits any more.
    pub(super) fn of(log: &Log<'_>, group: Group, contexts: Vec<Context>) -> Option<Self> {
        let hypotheses: Vec<Hypothesis> = (0..group.answers.len()).map(Hypothesis::of).collect();
        let mut account = Account {
            group,
            hypotheses: Vec::new(),
            odds: Vec::new(),
            none_of_these: 0.0,
            contexts,
            left_aside: 0.0,
            likelihoods: BTreeMap::new(),
            borne_out: BTreeSet::new(),
        };
        let worlds: Vec<Vec<World>> =
            hypotheses.par_iter().map(|hypothesis| account.worlds_of(log, hypothesis, usize::MAX)).collect();
        let shown = account.shown_in(log, &worlds)?;
        let touched = account.touched(log);
        account.weigh(log, &touched, hypotheses, &shown);
        Some(Self { account, shown, touched })
    }

    /// Where the best answers leave readings disputed, something is faulty as well, or instead: that is weighed besides.
    pub(super) fn with_faults(self, log: &Log<'_>) -> Option<Account> {
        let Self { mut account, mut shown, touched } = self;
        let disputed = account.disputed(log, &touched, &shown);
        if disputed.is_empty() {
            account.bear_out(log);
            return Some(account);
        }
        let likely = account.likely(MOST_WITH_FAULTS);
        let mut found: BTreeMap<Flaw, f64> = BTreeMap::new();
        for &answer in likely.iter().take(MOST_SUSPECTING) {
            for world in account.worlds_of(log, &Hypothesis::of(answer), 1) {
                for (flaw, better) in suspects(log, &world, &disputed)? {
                    let entry = found.entry(flaw).or_insert(better);
                    *entry = entry.max(better);
                }
            }
        }
        // What has a mystery of its own is weighed there.
        found.retain(|flaw, _| !log.asked_about.contains(flaw));
        let sets = fault_sets(&found, disputed.len() > 1);
        let mut with_flaws: Vec<Hypothesis> = sets
            .iter()
            .flat_map(|flaws| {
                likely.iter().map(|&answer| Hypothesis { flaws: flaws.clone(), ..Hypothesis::of(answer) })
            })
            .collect();
        with_flaws.extend(account.elsewhere(log.machine, &likely));
        // Answers with faults and answers alone are compared in the same contexts.
        let most = (MOST_FAULTY_WORLDS / with_flaws.len().max(1)).max(1);
        if most < account.contexts.len() {
            account.hold_to(most);
            let alone: Vec<Vec<World>> =
                account.hypotheses.par_iter().map(|hypothesis| account.worlds_of(log, hypothesis, most)).collect();
            shown = account.shown_in(log, &alone)?;
        }
        for some in with_flaws.chunks(MOST_WITH_FAULTS) {
            let worlds: Vec<Vec<World>> =
                some.par_iter().map(|hypothesis| account.worlds_of(log, hypothesis, most)).collect();
            shown.extend(account.shown_in(log, &worlds)?);
        }
        let hypotheses = account.hypotheses.iter().cloned().chain(with_flaws).collect();
        account.weigh(log, &touched, hypotheses, &shown);
        account.bear_out(log);
        Some(account)
    }
}
