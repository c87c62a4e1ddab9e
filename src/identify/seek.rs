//! Which readings are looked at: near the mysteries first, widely where these leave something alike or only a live one would do.

use std::collections::btree_map::Entry;
use std::collections::{BTreeMap, BTreeSet};

use rayon::prelude::*;

use crate::machine::ConditionId;

use super::belief::entropy_bits;
use super::proposal::Proposal;
use super::propose::{Bench, Candidate, MOST_CONTEXTS};
use super::risk::Risk;
use super::screen::{Bands, Looked, Sought, divided, row, shares, spanned};
use super::world::Place;

/// Hypotheses by which it is seen whether a live condition is worth a closer look, and as many that the dead machine does not tell apart.
const FEW: usize = 12;
/// Places of the same division that are kept at most.
const MOST_ALIKE: usize = 8;

/// What was found.
pub(super) struct Found {
    /// No order takes less: it was sought among all there are.
    pub(super) exact: bool,
    /// The best readings, best first.
    pub(super) proposals: Vec<Proposal>,
    /// The least whole effort that any first reading leads to.
    pub(super) least_effort: Option<f64>,
}

impl Bench<'_> {
    /// The best readings: near the mysteries; widely where these leave something alike or more is risked than on the dead machine.
    pub(super) fn found(&mut self) -> Option<Found> {
        let (dead, live) = self.by_risk(self.places(false));
        self.look(&dead)?;
        let (wanted, aside) = self.worthwhile(live)?;
        self.look(&wanted)?;
        let found = self.best()?;
        // At first look more is told apart than with every tolerance, so only now it is known what is left.
        let is_dead = found.proposals.first().is_none_or(|first| first.risk == Risk::Dead);
        if self.alike(|_| true).is_empty() && is_dead {
            return Some(found);
        }
        let (dead, live) = self.by_risk(self.places(true));
        let sets =
            if is_dead { self.alike(|test| test.risk == Risk::Dead) } else { vec![(0..self.looked.len()).collect()] };
        self.look(&self.telling(dead, &sets)?)?;
        let found = self.best()?;
        let alike = self.alike(|_| true);
        if alike.is_empty() {
            return Some(found);
        }
        let left = self.telling(aside.into_iter().chain(live).collect(), &alike)?;
        let (wanted, other) = self.worthwhile(left)?;
        self.look(&wanted)?;
        let found = self.best()?;
        if self.alike(|_| true).is_empty() || other.is_empty() {
            return Some(found);
        }
        self.look(&other)?;
        self.best()
    }

    /// The best of the readings taken up so far.
    fn best(&mut self) -> Option<Found> {
        let exact = self.problem().is_small();
        let (proposals, least_effort) = self.ranked(self.asked.most)?;
        Some(Found { exact, proposals, least_effort })
    }

    /// Those on the dead machine, and the others.
    fn by_risk(&self, places: Vec<Place>) -> (Vec<Place>, Vec<Place>) {
        places.into_iter().partition(|place| self.risks.get(&place.condition) == Some(&Risk::Dead))
    }

    /// Takes up those of these places that tell hypotheses apart at first look. Of places that tell the same apart, the least risky
    /// with the least effort.
    fn look(&mut self, places: &[Place]) -> Option<()> {
        let mut best: BTreeMap<(Vec<usize>, Risk), Candidate> = BTreeMap::new();
        let mut known = std::mem::take(&mut self.tests);
        while let Some(mut test) = known.pop() {
            known.append(&mut test.riskier);
            match best.entry((test.results.clone(), test.risk)) {
                Entry::Vacant(free) => drop(free.insert(test)),
                Entry::Occupied(mut taken) if test.effort < taken.get().effort => drop(taken.insert(test)),
                Entry::Occupied(_) => {}
            }
        }
        // What is wrong with a reading is wrong each time: a repeat tells nothing new.
        let places: Vec<Place> = places.iter().filter(|place| !self.log.is_read(place)).cloned().collect();
        // First in the likeliest context alone: what tells nothing there tells nothing whatever the other mysteries turn out to be.
        let first = self.shown(&places, 1)?;
        let tells = |at: usize| row(&first, at).and_then(|bands| divided(&bands)).is_some();
        let tells: Vec<bool> = (0..places.len()).into_par_iter().map(tells).collect();
        let telling: Vec<usize> = (0..places.len()).filter(|&at| tells[at]).collect();
        let places: Vec<Place> = telling.iter().map(|&at| places[at].clone()).collect();
        let shown = if self.looked.iter().all(|contexts| contexts.len() == 1) {
            first.iter().map(|bands| telling.iter().map(|&at| bands[at]).collect()).collect()
        } else {
            self.shown(&places, MOST_CONTEXTS)?
        };
        for (at, place) in places.iter().enumerate() {
            let Some(&risk) = self.risks.get(&place.condition) else { continue };
            let Some(results) = row(&shown, at).and_then(|bands| divided(&bands)) else { continue };
            let effort = self.effort(place);
            match best.entry((results.clone(), risk)) {
                Entry::Vacant(free) => {
                    free.insert(Candidate::at(place, results, risk, effort));
                }
                Entry::Occupied(mut taken) => {
                    let taken = taken.get_mut();
                    if effort < taken.effort {
                        *taken = Candidate::at(place, results, risk, effort);
                    } else if effort == taken.effort && taken.places.len() < MOST_ALIKE && !taken.places.contains(place)
                    {
                        taken.places.push(place.clone());
                    }
                }
            }
        }
        // Of what tells the same apart the least risky, whatever it takes to set its condition.
        let mut tests: Vec<Candidate> = Vec::with_capacity(best.len());
        for (_, test) in best {
            match tests.last_mut().filter(|last| last.results == test.results) {
                // It comes back if the other turns out to tell less.
                Some(last) => last.riskier.push(test),
                None => tests.push(test),
            }
        }
        self.tests = tests;
        Some(())
    }

    /// What each hypothesis shows at first look at each of these places, over so many of the likeliest contexts.
    fn shown(&self, places: &[Place], contexts: usize) -> Option<Vec<Bands>> {
        let sought = Sought::of(self.log, places);
        let of_one = |looked: &Vec<Looked<'_>>| -> Option<Bands> {
            let mut all: Vec<Bands> = Vec::with_capacity(looked.len());
            for looked in looked.iter().take(contexts) {
                if (self.log.stopped)() {
                    return None;
                }
                all.push(looked.bands(&sought));
            }
            Some((0..places.len()).map(|at| spanned(all.iter().map(|bands| bands[at]))).collect())
        };
        self.looked.par_iter().map(of_one).collect()
    }

    /// Of live places those in conditions that are worth a closer look, by a few of the hypotheses: where one brings more for its effort than
    /// every reading on the dead machine, or tells apart what none of those does; and the others.
    fn worthwhile(&self, places: Vec<Place>) -> Option<(Vec<Place>, Vec<Place>)> {
        let pairs = self.alike(|_| true).into_iter().flat_map(|set| set.into_iter().take(2));
        let mut few: Vec<usize> = (0..self.looked.len().min(FEW)).collect();
        few.extend(pairs.filter(|&at| at >= FEW).take(FEW));
        let odds: Vec<f64> = few.iter().map(|&at| self.odds[at]).collect();
        let worth = |results: &[usize], effort: f64| entropy_bits(&shares(results, &odds)) / effort;
        let of_test = |test: &Candidate| few.iter().map(|&at| test.results[at]).collect::<Vec<_>>();
        let known: Vec<Vec<usize>> = self.tests.iter().map(of_test).collect();
        let best = self.tests.iter().zip(&known).map(|(test, own)| worth(own, test.effort)).fold(0.0, f64::max);
        let alike: Vec<(usize, usize)> = (0..few.len())
            .flat_map(|b| (0..b).map(move |a| (a, b)))
            .filter(|&(a, b)| known.iter().all(|results| results[a] == results[b]))
            .collect();
        let sought = Sought::of(self.log, &places);
        let of_one = |&at: &usize| -> Option<Bands> {
            let looked = self.looked.get(at).and_then(|looked| looked.first());
            (!(self.log.stopped)()).then(|| looked.map(|looked| looked.bands(&sought)).unwrap_or_default())
        };
        let shown: Vec<Bands> = few.par_iter().map(of_one).collect::<Option<_>>()?;
        let is_worth_it = |at: usize| {
            let results = row(&shown, at).and_then(|bands| divided(&bands));
            results.is_some_and(|results| {
                worth(&results, self.effort(&places[at])) > best || alike.iter().any(|&(a, b)| results[a] != results[b])
            })
        };
        let wanted: BTreeSet<ConditionId> =
            (0..places.len()).filter(|&at| is_worth_it(at)).map(|at| places[at].condition).collect();
        Some(places.into_iter().partition(|place| wanted.contains(&place.condition)))
    }

    /// Those of these places that tell some of these sets apart, in the likeliest context.
    fn telling(&self, places: Vec<Place>, sets: &[Vec<usize>]) -> Option<Vec<Place>> {
        let sought = Sought::of(self.log, &places);
        let of_one = |at: usize| {
            let looked = self.looked.get(at).and_then(|looked| looked.first());
            (!(self.log.stopped)()).then(|| looked.map(|looked| looked.bands(&sought)).unwrap_or_default())
        };
        let members: Vec<usize> = sets.iter().flatten().copied().collect();
        let bands: Vec<Bands> = members.par_iter().map(|&at| of_one(at)).collect::<Option<_>>()?;
        let tells = |at: usize| {
            let mut rows = bands.iter();
            sets.iter().any(|set| {
                let own: Vec<Option<(f64, f64)>> =
                    rows.by_ref().take(set.len()).map(|row| row.get(at).copied().flatten()).collect();
                own.into_iter().collect::<Option<Vec<_>>>().is_some_and(|own| divided(&own).is_some())
            })
        };
        let telling: Vec<bool> = (0..places.len()).map(tells).collect();
        Some(places.into_iter().zip(telling).filter_map(|(place, tells)| tells.then_some(place)).collect())
    }

    /// Sets of hypotheses that none of these tests tells apart.
    pub(super) fn alike(&self, meant: impl Fn(&Candidate) -> bool) -> Vec<Vec<usize>> {
        let mut sets: BTreeMap<Vec<usize>, Vec<usize>> = BTreeMap::new();
        for at in 0..self.looked.len() {
            let shown = self.tests.iter().filter(|test| meant(test)).map(|test| test.results[at]).collect();
            sets.entry(shown).or_default().push(at);
        }
        sets.into_values().filter(|set| set.len() > 1).collect()
    }
}

#[cfg(test)]
mod tests {
    use std::collections::{BTreeMap, BTreeSet};
    use std::sync::Arc;

    use crate::catalogue::Catalogue;
    use crate::identify::account::{Account, Context, Hypothesis};
    use crate::identify::{Group, Next, Reasoned, Risk};
    use crate::machine::Machine;
    use crate::quantity::Function;
    use crate::store;

    fn read(parts: &str, wires: &str, conditions: &str, mysteries: &str) -> (Machine, Arc<Catalogue>) {
        let text = format!(
            "(format: 1, machine: (title: \"seek\", source: \"invented\"), parts: [
                (tag: \"X1\", kind: \"cord-plug\", ratings: {{\"volts\": \"230 V AC\", \"hertz\": \"50 Hz\"}}),
                (tag: \"P1\", kind: \"lamp\", ratings: {{\"volts\": \"230 V AC\", \"watts\": \"40 W\"}}), {parts}],
            wires: [(key: \"N\", from: \"P1.2\", to: \"X1.N\"), {wires}],
            conditions: [(name: \"isolated\", sources: {{\"X1\": false}}), {conditions}], mysteries: [{mysteries}])"
        );
        let catalogue = Catalogue::built_in().unwrap_or_else(|error| panic!("{error}"));
        (store::parse("seek", &text, &catalogue).unwrap_or_else(|errors| panic!("{errors}")), catalogue)
    }

    /// Where something unknown hangs on the circuit a reading on the dead machine still comes first, and it is said what it hangs on: an open
    /// fuse shows no way whatever the stray lead is (principle: circuit theory).
    #[test]
    fn a_stray_lead_takes_no_reading_on_the_dead_machine_away() {
        let (machine, catalogue) = read(
            "(tag: \"F1\", kind: \"fuse\")",
            "(key: \"L\", from: \"X1.L\", to: \"F1.1\"), (key: \"F\", from: \"F1.2\", to: \"P1.1\"), (key: \"W\", from: \"X1.L\", to: \"unknown\")",
            "(name: \"on\", sources: {\"X1\": true})",
            "(name: \"F1\", subject: fault(\"F1\"), candidates: [(guess: named(\"ok\"), weight: 5), (guess: named(\"open\"))])",
        );
        let reasoned = Reasoned::of(&machine, &catalogue);
        let next = Next::of(&machine, &catalogue, &reasoned.accounts[0], machine.conditions.ids().next(), 1);
        let first = next.proposals.first().unwrap_or_else(|| panic!("nothing proposed: {next:?}"));
        assert_eq!(first.risk, Risk::Dead, "{first:?}");
        assert!(matches!(first.place.function, Function::Tone | Function::Ohms), "{first:?}");
        assert!(first.doubts.iter().any(|doubt| doubt.contains("not known")), "{first:?}");
    }

    /// Which relay a button works is a mystery of another group, nearly settled. Whether the contact of the likelier one is open can be seen
    /// only while it is worked.
    #[test]
    fn what_tells_only_if_others_are_what_they_likely_are_is_better_than_nothing() {
        let (machine, catalogue) = read(
            "(tag: \"S1\", kind: \"push-button-make\"), (tag: \"K1\", kind: \"relay-make\", ratings: {\"coil_volts\": \"230 V AC\"}),
                (tag: \"K2\", kind: \"relay-make\", ratings: {\"coil_volts\": \"230 V AC\"})",
            "(key: \"S\", from: \"X1.L\", to: \"S1.13\"), (key: \"D\", from: \"S1.14\", to: \"unknown\"), (key: \"C\", from: \"S1.13\", to: \"K1.13\"),
                (key: \"P\", from: \"K1.14\", to: \"P1.1\"), (key: \"A\", from: \"K1.A2\", to: \"P1.2\"), (key: \"B\", from: \"K2.A2\", to: \"P1.2\")",
            "(name: \"pressed\", sources: {\"X1\": true}, positions: {\"S1.button\": \"pressed\"})",
            "(name: \"D\", subject: end(\"D.to\"), candidates: [(guess: terminal(\"K1.A1\")), (guess: terminal(\"K2.A1\"))]),
                (name: \"K1\", subject: fault(\"K1.14\"), candidates: [(guess: named(\"ok\"), weight: 5), (guess: named(\"open\"))])",
        );
        let ids: Vec<_> = machine.mysteries.ids().collect();
        let account = |others: &[(usize, f64)]| Account {
            group: Group {
                mysteries: vec![ids[1]],
                answers: vec![(vec![0], 5.0 / 6.0), (vec![1], 1.0 / 6.0)],
                left_out: 0.0,
            },
            hypotheses: (0..2).map(Hypothesis::of).collect(),
            odds: vec![5.0 / 6.0, 1.0 / 6.0],
            none_of_these: 0.0,
            contexts: others
                .iter()
                .map(|&(answer, weight)| Context { weight, ..Context::of(vec![(ids[0], answer)]) })
                .collect(),
            left_aside: 0.0,
            likelihoods: BTreeMap::new(),
            borne_out: BTreeSet::new(),
        };
        let next = |others: &[(usize, f64)]| {
            Next::of(&machine, &catalogue, &account(others), machine.conditions.ids().next(), 1)
        };
        for (others, is_doubted) in [(&[(0, 1.0)][..], false), (&[(0, 0.97), (1, 0.03)][..], true)] {
            let found = next(others);
            let first = found.proposals.first().unwrap_or_else(|| panic!("nothing proposed: {found:?}"));
            assert_eq!(Some(first.place.condition), machine.conditions.ids().nth(1));
            assert_eq!(first.doubts.iter().any(|doubt| doubt.contains("most likely")), is_doubted, "{first:?}");
            assert!(found.alike.is_empty());
        }
        assert!(next(&[(1, 1.0)]).proposals.is_empty(), "with the lead on the other relay nothing tells");
    }
}
