//! The next reading: where, with what, in which condition; what each result would mean; with how much effort and risk.
//!
//! Risk is an order, not a weight: among readings whose whole effort is within a tenth of the best, one on a dead machine comes before one at
//! extra-low voltage, and that before one at line voltage. Tone and ohms where voltage may be on are never proposed.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use rayon::prelude::*;

use crate::catalogue::Catalogue;
use crate::circuit::electric::{Doubt, Expected};
use crate::machine::{ConditionId, Machine, MysteryId, Spot};
use crate::quantity::Band;

use super::account::{Account, Hypothesis};
use super::belief::entropy_bits;
use super::faults::words;
use super::log::Log;
use super::open::{MayBe, likely, not_looked_at};
use super::proposal::{Meaning, Proposal, doubts, steps};
use super::reasoned::Reasoned;
use super::risk::{Risk, cautions, raised, risks};
use super::screen::{Looked, count, divided, exact_band, shares, spanned};
use super::sequence::{Problem, Test};
use super::world::{Place, World};

/// Contexts of other mysteries in which each is looked at.
pub(super) const MOST_CONTEXTS: usize = 3;
/// Readings whose whole effort is within this share of the least are as good as it; then the risk decides.
const AS_GOOD: f64 = 0.10;
/// From these weights on other mysteries are taken to be what they most likely are, for readings on the dead machine and for live ones.
const LIKELY_DEAD: f64 = 0.25;
const LIKELY_LIVE: f64 = 0.5;
/// Bits below which a reading brings nothing.
const NOTHING: f64 = 1e-9;

/// What next readings are sought for.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Asked {
    /// The condition the machine is in.
    pub present: Option<ConditionId>,
    /// How many are wanted.
    pub most: usize,
    /// Places that a probe does not get to.
    pub out_of_reach: BTreeSet<Spot>,
}

/// What to read next for a group, and what no reading tells apart.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Next {
    /// The best readings, best first; none where no reading tells what is left apart.
    pub proposals: Vec<Proposal>,
    /// Hypotheses of the account, as numbers, that no reading in a condition of the record tells apart.
    pub alike: Vec<Vec<usize>>,
    /// The least whole effort that any first reading leads to; the best proposal may take a tenth more for less risk.
    pub least_effort: Option<f64>,
    /// No order takes less: the order was sought among all there are.
    pub exact: bool,
}

/// The best next readings for a group of mysteries, best first; none where no reading tells the answers that are left apart.
pub fn proposals(
    machine: &Machine,
    catalogue: &Arc<Catalogue>,
    account: &Account,
    present: Option<ConditionId>,
    most: usize,
) -> Vec<Proposal> {
    Next::of(machine, catalogue, account, present, most).proposals
}

impl Next {
    /// Seeks the best readings for a group, with the machine in a condition at present.
    pub fn of(
        machine: &Machine,
        catalogue: &Arc<Catalogue>,
        account: &Account,
        present: Option<ConditionId>,
        most: usize,
    ) -> Self {
        let asked = Asked { present, most, out_of_reach: BTreeSet::new() };
        Self::unless(machine, catalogue, account, &asked, &|| false).unwrap_or_default()
    }

    /// The same; `None` as soon as `stopped` says that nobody waits for the answer any more.
    pub fn unless(
        machine: &Machine,
        catalogue: &Arc<Catalogue>,
        account: &Account,
        asked: &Asked,
        stopped: &(dyn Fn() -> bool + Sync),
    ) -> Option<Self> {
        Self::among(&Log::of(machine, catalogue, stopped), account, asked)
    }

    /// The same, and where nothing tells the hypotheses apart what would show a lead that is settled by what the others are.
    pub fn to_prove(
        machine: &Machine,
        catalogue: &Arc<Catalogue>,
        account: &Account,
        asked: &Asked,
        stopped: &(dyn Fn() -> bool + Sync),
    ) -> Option<Self> {
        let log = Log::of(machine, catalogue, stopped);
        let next = Self::among(&log, account, asked)?;
        if next.proposals.is_empty() {
            return Some(Self { proposals: Self::showing(&log, account, asked)?.proposals, ..next });
        }
        Some(next)
    }

    /// For each group what to read next: what is open first; where no reading is left for that, what is left to prove.
    pub fn of_all(
        machine: &Machine,
        catalogue: &Arc<Catalogue>,
        reasoned: &Reasoned,
        asked: &Asked,
        stopped: &(dyn Fn() -> bool + Sync),
    ) -> Option<Vec<Self>> {
        let accounts = &reasoned.accounts;
        let open = |account: &Account| {
            let is_open = account.is_open(machine);
            if is_open { Self::unless(machine, catalogue, account, asked, stopped) } else { Some(Self::default()) }
        };
        let open: Vec<Self> = accounts.par_iter().map(open).collect::<Option<_>>()?;
        if open.iter().any(|next| !next.proposals.is_empty()) {
            return Some(open);
        }
        let unproven = |(account, open): (&Account, Self)| {
            if !account.is_unproven(machine) {
                return Some(open);
            }
            // What is open was looked at just now, and nothing tells it apart.
            if account.is_open(machine) {
                let log = Log::of(machine, catalogue, stopped);
                return Some(Self { proposals: Self::showing(&log, account, asked)?.proposals, ..open });
            }
            Self::to_prove(machine, catalogue, account, asked, stopped)
        };
        accounts.par_iter().zip(open).map(unproven).collect()
    }

    /// What tells the hypotheses of a group apart that are not beyond belief.
    fn among(log: &Log<'_>, account: &Account, asked: &Asked) -> Option<Self> {
        let hypotheses = likely(account);
        if hypotheses.len() < 2 {
            return Some(Self::default());
        }
        let whole: f64 = hypotheses.iter().map(|&at| account.odds[at]).sum();
        let odds: Vec<f64> = hypotheses.iter().map(|&at| account.odds[at] / whole).collect();
        let of_one =
            |&at: &usize| (!(log.stopped)()).then(|| account.worlds_of(log, &account.hypotheses[at], MOST_CONTEXTS));
        let worlds: Vec<Vec<World>> = hypotheses.par_iter().map(of_one).collect::<Option<_>>()?;
        let others = not_looked_at(log, account, &hypotheses);
        let mut bench = Bench::of(log, account, (hypotheses, odds), &worlds, &others, asked)?;
        let mut found = bench.found()?;
        let likely = account.contexts.first().map_or(0.0, |context| context.weight);
        let narrower = bench.looked.iter().any(|contexts| contexts.len() > 1) && likely > LIKELY_DEAD;
        if !bench.alike(|_| true).is_empty() && narrower {
            // Nothing tells them apart whatever other mysteries turn out to be: what does so if these are what they likely are.
            bench.looked.iter_mut().for_each(|contexts| contexts.truncate(1));
            bench.is_narrowed = true;
            bench.tests.clear();
            let more = bench.found()?;
            let is_new = |one: &Proposal| {
                let new = found.proposals.iter().all(|other| other.place != one.place);
                new && (one.risk == Risk::Dead || likely > LIKELY_LIVE)
            };
            let new: Vec<Proposal> = more.proposals.into_iter().filter(is_new).collect();
            found.proposals.extend(new);
            found.proposals.truncate(asked.most);
            found.least_effort = found.least_effort.or(more.least_effort);
            found.exact = false;
        }
        let alike = bench.alike(|_| true);
        let numbers = |set: Vec<usize>| set.into_iter().filter_map(|at| bench.hypotheses.get(at).copied()).collect();
        let alike = alike.into_iter().map(numbers).collect();
        Some(Self { proposals: found.proposals, alike, least_effort: found.least_effort, exact: found.exact })
    }
}

/// A reading that may be proposed: how it divides the hypotheses.
pub(super) struct Candidate {
    /// The number of the result of each hypothesis.
    pub(super) results: Vec<usize>,
    pub(super) risk: Risk,
    pub(super) effort: f64,
    /// Where: the first serves, the others take its place where it turns out not to divide so.
    pub(super) places: Vec<Place>,
    /// What each hypothesis shows at the first place, once it is worked out with every tolerance.
    pub(super) exact: Option<Exact>,
    /// What promises the same at more risk.
    pub(super) riskier: Vec<Candidate>,
}

impl Candidate {
    /// As it seems at first look.
    pub(super) fn at(place: &Place, results: Vec<usize>, risk: Risk, effort: f64) -> Self {
        Self { results, risk, effort, places: vec![place.clone()], exact: None, riskier: Vec::new() }
    }
}

/// What one hypothesis shows at a place, with every tolerance.
struct AtPlace {
    band: (f64, f64),
    shown: Expected,
    hangs_on_unknown: bool,
}

/// What hypotheses show at a place, with every tolerance.
pub(super) struct Exact {
    shown: Vec<Expected>,
    /// Something not known hangs on the circuit of one of them.
    hangs_on_unknown: bool,
}

/// Everything that is held while the best reading is sought.
pub(super) struct Bench<'b> {
    pub(super) log: &'b Log<'b>,
    pub(super) account: &'b Account,
    /// Numbers of the account's hypotheses. What is looked at beyond them is none of these.
    pub(super) hypotheses: Vec<usize>,
    pub(super) odds: Vec<f64>,
    /// Places among the group of the mysteries that readings are sought for.
    pub(super) open: Vec<usize>,
    /// Each hypothesis in the likeliest contexts.
    pub(super) looked: Vec<Vec<Looked<'b>>>,
    pub(super) risks: BTreeMap<ConditionId, Risk>,
    pub(super) asked: &'b Asked,
    /// Other mysteries are taken to be what they most likely are.
    is_narrowed: bool,
    /// Only what hangs on nothing unknown is wanted.
    pub(super) is_to_prove: bool,
    pub(super) tests: Vec<Candidate>,
}

impl<'b> Bench<'b> {
    /// These hypotheses with their odds, each in its worlds; `others` count for what is dangerous. `None` when nobody waits any more.
    pub(super) fn of(
        log: &'b Log<'b>,
        account: &'b Account,
        (hypotheses, odds): (Vec<usize>, Vec<f64>),
        worlds: &'b [Vec<World>],
        others: &[MayBe],
        asked: &'b Asked,
    ) -> Option<Self> {
        let risks = risks(log.machine, &log.network, &worlds.iter().flatten().collect::<Vec<_>>());
        let risks = raised(log, risks, others)?;
        let quickly = |world: &'b World| Looked::quickly(world, risks.keys().copied());
        let looked = worlds.iter().map(|worlds| worlds.iter().map(quickly).collect()).collect();
        // What the hypotheses that are looked at agree on needs no probe.
        let differs = |at: &usize| {
            let says = |number: &usize| account.says(account.hypotheses.get(*number)?, *at);
            hypotheses.iter().map(says).collect::<BTreeSet<_>>().len() > 1
        };
        let open = (0..account.group.mysteries.len()).filter(differs).collect();
        Some(Self {
            log,
            account,
            hypotheses,
            odds,
            open,
            looked,
            risks,
            asked,
            is_narrowed: false,
            is_to_prove: false,
            tests: Vec::new(),
        })
    }

    /// What a reading there costs: a reading counts 1, a change of condition and each lifted lead as much.
    pub(super) fn effort(&self, place: &Place) -> f64 {
        1.0 + if Some(place.condition) == self.asked.present { 0.0 } else { 1.0 } + self.lifts(place)
    }

    /// Leads that are lifted there.
    fn lifts(&self, place: &Place) -> f64 {
        self.log.machine.setting(place.condition).lifted.len() as f64
    }

    /// What is to be told apart: sets of hypotheses that are alike count as one.
    pub(super) fn problem(&self) -> Problem {
        let mut first: BTreeMap<Vec<usize>, usize> = BTreeMap::new();
        let mut odds: Vec<f64> = Vec::new();
        let mut of: Vec<usize> = Vec::new();
        for (at, own) in self.odds.iter().enumerate() {
            let shown = self.tests.iter().map(|test| test.results[at]).collect();
            let class = *first.entry(shown).or_insert_with(|| {
                odds.push(0.0);
                of.push(at);
                odds.len() - 1
            });
            odds[class] += own;
        }
        // The condition that stands comes first; where none does, the first of all stands for it and is no condition.
        let conditions: Vec<Option<ConditionId>> =
            [self.asked.present].into_iter().chain(self.risks.keys().copied().map(Some)).collect();
        let number = |place: &Place| conditions.iter().position(|one| *one == Some(place.condition)).unwrap_or(0);
        let tests = self.tests.iter().map(|test| Test {
            cost: 1.0 + test.places.first().map_or(0.0, |place| self.lifts(place)),
            condition: test.places.first().map_or(0, number),
            results: of.iter().map(|&at| test.results[at]).collect(),
        });
        Problem { odds, tests: tests.collect(), present: 0 }
    }

    /// The best readings, each worked out with every tolerance, and the least whole effort.
    pub(super) fn ranked(&mut self, most: usize) -> Option<(Vec<Proposal>, Option<f64>)> {
        let mut ranked: Vec<Proposal> = Vec::new();
        let mut least_effort = None;
        let mut costs = self.problem().costs();
        let mut done = vec![false; self.tests.len()];
        while ranked.len() < most {
            if (self.log.stopped)() {
                return None;
            }
            let open = || (0..self.tests.len()).filter(|&at| !done[at]);
            let whole = |at: usize| costs.get(at).copied().flatten();
            let Some(least) = open().filter_map(whole).reduce(f64::min) else { break };
            let key = |at: usize| (self.tests[at].risk, whole(at).unwrap_or(f64::INFINITY), self.tests[at].effort);
            let best = open()
                .filter(|&at| whole(at).is_some_and(|whole| whole <= least * (1.0 + AS_GOOD)))
                .min_by(|&a, &b| key(a).partial_cmp(&key(b)).unwrap_or(std::cmp::Ordering::Equal));
            // Nor does a live one come before a less risky one that brings about as much for its own effort.
            let worth = |at: usize| self.bits(at) / self.tests[at].effort;
            let before = best.and_then(|best| {
                let enough = worth(best) * (1.0 - AS_GOOD);
                let lower = open().filter(|&at| whole(at).is_some() && self.tests[at].risk < self.tests[best].risk);
                let lower = lower.filter(|&at| worth(at) >= enough);
                lower.min_by(|&a, &b| {
                    self.tests[a].risk.cmp(&self.tests[b].risk).then(worth(b).total_cmp(&worth(a))).then(a.cmp(&b))
                })
            });
            let Some(at) = before.or(best) else { break };
            if self.tests[at].exact.is_none() {
                // At first look it was the best: see whether it still is with every tolerance.
                let promised = self.tests[at].results.clone();
                let tells = self.work_out(at);
                if !tells || self.tests[at].results != promised {
                    let riskier = std::mem::take(&mut self.tests[at].riskier);
                    done.extend(riskier.iter().map(|_| false));
                    self.tests.extend(riskier);
                }
                if !tells {
                    self.tests.remove(at);
                    done.remove(at);
                }
                costs = self.problem().costs();
                continue;
            }
            done[at] = true;
            least_effort = least_effort.or(Some(least));
            ranked.extend(self.proposal(at, whole(at).unwrap_or(f64::INFINITY)));
        }
        Some((ranked, least_effort))
    }

    /// Works a test out with every tolerance, at the first of its places that tells apart all it promised, else at the one that tells most;
    /// `false` where none tells anything apart.
    fn work_out(&mut self, at: usize) -> bool {
        let places = std::mem::take(&mut self.tests[at].places);
        let promised = count(&self.tests[at].results);
        let mut best: Option<(usize, Vec<usize>, usize, Exact)> = None;
        for (number, place) in places.iter().enumerate() {
            let one = |looked: &Looked<'_>| {
                let expectation = looked.expectation(self.log.machine, place)?;
                let hangs_on_unknown = expectation.doubts.contains(&Doubt::UnknownPart);
                Some(AtPlace { band: exact_band(&expectation)?, shown: expectation.expected, hangs_on_unknown })
            };
            // Whatever the other mysteries turn out to be.
            let exact = |looked: &Vec<Looked<'_>>| {
                let all = looked.iter().map(one).collect::<Option<Vec<_>>>()?;
                let band = spanned(all.iter().map(|one| Some(one.band)))?;
                let hangs_on_unknown = all.iter().any(|one| one.hangs_on_unknown);
                let shown = together(all.into_iter().map(|one| one.shown).collect())?;
                Some(AtPlace { band, shown, hangs_on_unknown })
            };
            let of_each: Option<Vec<AtPlace>> = self.looked.par_iter().map(exact).collect();
            let Some(of_each) = of_each else { continue };
            let hangs_on_unknown = of_each.iter().any(|one| one.hangs_on_unknown);
            if hangs_on_unknown && self.is_to_prove {
                continue;
            }
            let (bands, shown): (Vec<(f64, f64)>, Vec<Expected>) =
                of_each.into_iter().map(|one| (one.band, one.shown)).unzip();
            let Some(results) = divided(&bands) else { continue };
            let told = count(&results);
            if best.as_ref().is_none_or(|(most, ..)| told > *most) {
                best = Some((told, results, number, Exact { shown, hangs_on_unknown }));
            }
            if told >= promised {
                break;
            }
        }
        let Some((_, results, number, exact)) = best else { return false };
        let test = &mut self.tests[at];
        test.results = results;
        test.places = places[number..].to_vec();
        test.exact = Some(exact);
        true
    }

    /// Bits that a test brings.
    fn bits(&self, at: usize) -> f64 {
        self.tests.get(at).map_or(0.0, |test| entropy_bits(&shares(&test.results, &self.odds)))
    }

    fn proposal(&self, at: usize, whole_effort: f64) -> Option<Proposal> {
        let test = self.tests.get(at)?;
        let (place, exact) = (test.places.first()?, test.exact.as_ref()?);
        let mut parts: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for (hypothesis, &result) in test.results.iter().enumerate() {
            parts.entry(result).or_default().push(hypothesis);
        }
        let shares: Vec<f64> = parts.values().map(|part| part.iter().map(|&one| self.odds[one]).sum()).collect();
        let settles_bits = entropy_bits(&shares);
        if settles_bits <= NOTHING {
            return None;
        }
        let meaning = |(part, odds): (&Vec<usize>, &f64)| {
            let own = part.iter().map(|&one| exact.shown[one]).collect();
            Some(Meaning {
                reading: together(own)?.words(place.function),
                odds: *odds,
                leaves: self.leaves(part),
                fault: self.fault(part),
                answers: self.count(part),
                or_none: self.of_part(part).any(|one| one.elsewhere.is_some()),
            })
        };
        let mut means: Vec<Meaning> = parts.values().zip(&shares).filter_map(meaning).collect();
        means.sort_by(|a, b| b.odds.total_cmp(&a.odds));
        // What every result leaves the same goes without saying.
        let everywhere = |leaf: &(MysteryId, usize)| means.iter().all(|other| other.leaves.contains(leaf));
        let first = means.first()?;
        let common: Vec<(MysteryId, usize)> = first.leaves.iter().copied().filter(everywhere).collect();
        // What is none of the answers says nothing of faults.
        let faults: BTreeSet<&Option<String>> =
            means.iter().filter(|one| one.answers > 0).map(|one| &one.fault).collect();
        let same_fault = faults.len() < 2;
        for one in &mut means {
            one.leaves.retain(|leaf| !common.contains(leaf));
            one.fault = one.fault.take().filter(|_| !same_fault && one.answers > 0);
        }
        let machine = self.log.machine;
        Some(Proposal {
            steps: steps(machine, &self.log.network, self.asked.present, place.condition),
            cautions: cautions(machine, test.risk),
            none_of_these: self.account.none_right(),
            place: place.clone(),
            risk: test.risk,
            settles_bits,
            effort: test.effort,
            whole_effort,
            results: means,
            doubts: doubts(exact.hangs_on_unknown, self.is_narrowed),
        })
    }

    /// The hypotheses of a part.
    fn of_part<'a>(&'a self, part: &'a [usize]) -> impl Iterator<Item = &'a Hypothesis> + Clone {
        part.iter().filter_map(|&at| self.account.hypotheses.get(*self.hypotheses.get(at)?))
    }

    /// What all answers of a part have in common: for each mystery the candidate, where it is one.
    fn leaves(&self, part: &[usize]) -> Vec<(MysteryId, usize)> {
        let group = &self.account.group;
        let mysteries = group.mysteries.iter().enumerate();
        mysteries
            .filter_map(|(at, &mystery)| {
                let mut all = self.of_part(part).map(|one| self.account.says(one, at));
                let first = all.next()?;
                first.filter(|_| all.all(|one| one == first)).map(|first| (mystery, first))
            })
            .filter(|(mystery, _)| self.open.iter().any(|&at| group.mysteries.get(at) == Some(mystery)))
            .collect()
    }

    /// The fault that all hypotheses of a part have in common, in words; `None` where they differ.
    fn fault(&self, part: &[usize]) -> Option<String> {
        let mut all = self.of_part(part).map(|one| &one.flaws);
        let first = all.next()?;
        let same = all.all(|flaws| flaws == first);
        same.then(|| match first.as_slice() {
            [] => "no fault".to_owned(),
            flaws => words(self.log.machine, &self.log.network, flaws),
        })
    }

    /// How many answers a part leaves.
    fn count(&self, part: &[usize]) -> usize {
        let plain = self.of_part(part).filter(|one| one.elsewhere.is_none());
        let all: BTreeSet<usize> = plain.map(|one| one.answer).collect();
        all.len()
    }
}

/// Expectations that a meter cannot tell apart, as one: values from the lowest to the highest.
fn together(all: Vec<Expected>) -> Option<Expected> {
    let mut all = all.into_iter();
    let first = all.next()?;
    Some(all.fold(first, |so_far, one| match (so_far, one) {
        (Expected::Value { nominal, shown }, Expected::Value { shown: other, .. }) => {
            Expected::Value { nominal, shown: Band::new(shown.low.min(other.low), shown.high.max(other.high)) }
        }
        (so_far, _) => so_far,
    }))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::circuit::Network;
    use crate::identify::Reasoned;
    use crate::store;

    /// A 230/24 V machine in which a lead may end on the secondary of a transformer, and feed it backwards.
    fn record() -> (Machine, Arc<Catalogue>) {
        let text = r#"(format: 1, machine: (title: "steps", source: "invented", refrigerant: "R290", flammable: true), parts: [
            (tag: "X1", kind: "cord-plug", ratings: {"volts": "230 V AC", "hertz": "50 Hz"}),
            (tag: "X2", kind: "cord-plug", ratings: {"volts": "24 V AC", "hertz": "50 Hz"}),
            (tag: "T1", kind: "control-transformer", ratings: {"volts": "230 V AC", "secondary_volts": "24 V AC", "volt_amps": "40 VA"}),
            (tag: "P1", kind: "lamp", ratings: {"volts": "24 V AC", "watts": "5 W"})],
            wires: [(key: "W1", from: "X1.L", to: "P1.2"), (key: "W2", from: "X2.L", to: "unknown"), (key: "W3", from: "X2.N", to: "T1.X2")],
            conditions: [(name: "all on, lifted", sources: {"X1": true, "X2": true}, lifted: {"W1.to": true}),
                (name: "24 V only", sources: {"X1": false, "X2": true}, how: "The breaker is in the hall.")],
            mysteries: [(name: "W2 end", subject: end("W2.to"), candidates: [(guess: terminal("T1.X1")), (guess: terminal("P1.1"))])])"#;
        let catalogue = Catalogue::built_in().unwrap();
        (store::parse("steps", text, &catalogue).unwrap_or_else(|errors| panic!("{errors}")), catalogue)
    }

    #[test]
    fn what_must_go_off_or_be_landed_again_is_named_before_anything_is_switched_on() {
        let (machine, catalogue) = record();
        let network = Network::of(&machine, &catalogue);
        let ids: Vec<ConditionId> = machine.conditions.ids().collect();
        let at = |steps: &[String], part: &str| {
            steps.iter().position(|step| step.contains(part)).unwrap_or_else(|| panic!("no '{part}' in {steps:?}"))
        };
        let to_24 = steps(&machine, &network, Some(ids[0]), ids[1]);
        let order = ["Switch every source off", "X1 stays off", "in the hall", "Land W1.to again", "Switch X2 on"]
            .map(|one| at(&to_24, one));
        assert!(order.is_sorted(), "{to_24:?}");
        let unknown = steps(&machine, &network, None, ids[1]);
        at(&unknown, "X1 stays off");
        at(&unknown, "Land every lead");
        let lift = steps(&machine, &network, Some(ids[1]), ids[0]);
        assert!(
            at(&lift, "verify absence of voltage") < at(&lift, "Lift W1.to")
                && at(&lift, "Lift W1.to") < at(&lift, "Switch X2 on")
        );
    }

    #[test]
    fn an_answer_that_brings_line_voltage_makes_every_reading_in_that_condition_one_at_line_voltage() {
        let (machine, catalogue) = record();
        let reasoned = Reasoned::of(&machine, &catalogue);
        let found = proposals(&machine, &catalogue, &reasoned.accounts[0], None, 10);
        assert!(!found.is_empty());
        for one in &found {
            assert_eq!(one.risk, Risk::Line, "fed backwards the transformer gives 230 V: {one:?}");
            assert!(one.cautions.iter().any(|caution| caution.contains("licensed")));
            assert!(one.cautions.iter().any(|caution| caution.contains("refrigerant burns")));
            assert!(!one.place.function.needs_dead());
        }
    }
}
