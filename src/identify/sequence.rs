//! In which order tests tell hypotheses apart with the least effort on average.
//!
//! Exact by dynamic programming over sets of hypotheses where there are few; else by rollout: each test is judged by its own cost
//! and by what the greedy policy would cost after it (Tu and Pattipati 2003). Greedy by itself is not good enough: on the example
//! of Pattipati and Alexandridis (1990) it costs 2.86 where 2.18 will do.

use std::collections::{BTreeMap, HashMap};

use super::belief::entropy_bits;

/// Hypotheses at most for the exact search: as bits of a word, and few enough to be done while a person waits.
const MOST_EXACT: usize = 12;
/// Tests at most for it.
const MOST_TESTS_EXACT: usize = 60;

/// What setting another condition adds to the cost of a test.
const CHANGE: f64 = 1.0;

/// A test: what it costs, in which condition, and which result each hypothesis gives.
#[derive(Debug, Clone, PartialEq)]
pub struct Test {
    /// What it costs where its condition stands already. Above 0.
    pub cost: f64,
    /// The number of the condition it is done in; in another one it costs 1 more.
    pub condition: usize,
    /// For each hypothesis, the number of the result.
    pub results: Vec<usize>,
}

/// Hypotheses to be told apart.
#[derive(Debug, Clone, PartialEq)]
pub struct Problem {
    /// Odds of each hypothesis.
    pub odds: Vec<f64>,
    /// What can be done.
    pub tests: Vec<Test>,
    /// The number of the condition that stands.
    pub present: usize,
}

/// A set of hypotheses, and the condition that stands.
type Stand = (Vec<usize>, usize);

/// What to do first.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Plan {
    /// The test; `None` where none tells anything apart.
    pub first: Option<usize>,
    /// What it will cost on average until nothing more can be told apart.
    pub cost: f64,
}

impl Problem {
    fn all(&self) -> Vec<usize> {
        (0..self.odds.len()).filter(|&one| self.odds[one] > 0.0).collect()
    }

    /// A set taken apart by a test, by result; `None` where all give the same.
    fn split(&self, set: &[usize], test: usize) -> Option<Vec<Vec<usize>>> {
        let test = self.tests.get(test)?;
        let mut parts: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
        for &one in set {
            parts.entry(*test.results.get(one)?).or_default().push(one);
        }
        (parts.len() > 1).then(|| parts.into_values().collect())
    }

    fn weight(&self, set: &[usize]) -> f64 {
        set.iter().map(|&one| self.odds[one]).sum()
    }

    /// What a test costs while a condition stands.
    fn cost(&self, test: &Test, present: usize) -> f64 {
        test.cost + if test.condition == present { 0.0 } else { CHANGE }
    }

    /// Bits that a test brings about a set for its cost, and its parts.
    fn gain(&self, set: &[usize], present: usize, test: usize) -> Option<(f64, Vec<Vec<usize>>)> {
        let parts = self.split(set, test)?;
        let whole = self.weight(set);
        let shares: Vec<f64> = parts.iter().map(|part| self.weight(part) / whole).collect();
        Some((entropy_bits(&shares) / self.cost(&self.tests[test], present), parts))
    }

    /// What it costs on average, of the whole, to take a set apart by always taking the test that brings most bits for its cost.
    fn greedy(&self, set: &[usize], present: usize, known: &mut HashMap<Stand, f64>) -> f64 {
        if set.len() < 2 {
            return 0.0;
        }
        let stand = (set.to_vec(), present);
        if let Some(&cost) = known.get(&stand) {
            return cost;
        }
        let best = (0..self.tests.len())
            .filter_map(|test| self.gain(set, present, test).map(|(gain, parts)| (test, gain, parts)))
            .max_by(|a, b| a.1.total_cmp(&b.1).then(b.0.cmp(&a.0)));
        let cost = best.map_or(0.0, |(test, _, parts)| {
            let test = &self.tests[test];
            let after = parts.iter().map(|part| self.greedy(part, test.condition, known)).sum::<f64>();
            self.cost(test, present) * self.weight(set) + after
        });
        known.insert(stand, cost);
        cost
    }

    /// The least that a set can cost.
    fn least(&self, set: &[usize], present: usize, known: &mut HashMap<Stand, Plan>) -> Plan {
        if set.len() < 2 {
            return Plan { first: None, cost: 0.0 };
        }
        let stand = (set.to_vec(), present);
        if let Some(&plan) = known.get(&stand) {
            return plan;
        }
        let mut best = Plan { first: None, cost: f64::INFINITY };
        for test in 0..self.tests.len() {
            let Some(parts) = self.split(set, test) else { continue };
            let condition = self.tests[test].condition;
            let mut cost = self.cost(&self.tests[test], present) * self.weight(set);
            for part in &parts {
                if cost >= best.cost {
                    break;
                }
                cost += self.least(part, condition, known).cost;
            }
            if cost < best.cost {
                best = Plan { first: Some(test), cost };
            }
        }
        if best.first.is_none() {
            best.cost = 0.0;
        }
        known.insert(stand, best);
        best
    }

    /// Whether the exact search is taken.
    pub fn is_small(&self) -> bool {
        self.all().len() <= MOST_EXACT && self.tests.len() <= MOST_TESTS_EXACT
    }

    /// For each test, what taking it first will cost on average with what comes best after it; `None` where it tells nothing
    /// apart. Exact where the problem is small, else with the greedy policy after it.
    pub fn costs(&self) -> Vec<Option<f64>> {
        let all = self.all();
        let (mut least, mut greedy) = (HashMap::new(), HashMap::new());
        let exact = self.is_small();
        (0..self.tests.len())
            .map(|test| {
                let parts = self.split(&all, test)?;
                let one = &self.tests[test];
                let after = parts.iter().map(|part| {
                    if exact {
                        self.least(part, one.condition, &mut least).cost
                    } else {
                        self.greedy(part, one.condition, &mut greedy)
                    }
                });
                Some(self.cost(one, self.present) * self.weight(&all) + after.sum::<f64>())
            })
            .collect()
    }

    /// What a policy that takes this test in each set costs on average.
    pub fn cost_of(&self, policy: &dyn Fn(&Self, &[usize]) -> Option<usize>) -> f64 {
        let mut open = vec![(self.all(), self.present)];
        let mut cost = 0.0;
        while let Some((set, present)) = open.pop() {
            let Some((test, parts)) = (set.len() > 1)
                .then(|| policy(self, &set))
                .flatten()
                .and_then(|test| Some((test, self.split(&set, test)?)))
            else {
                continue;
            };
            cost += self.cost(&self.tests[test], present) * self.weight(&set);
            open.extend(parts.into_iter().map(|part| (part, self.tests[test].condition)));
        }
        cost
    }
}

/// The best first test and what the best order costs. Exact: the effort grows with the sets of hypotheses, so only where
/// [`Problem::is_small`] or nearly so.
pub fn optimal(problem: &Problem) -> Plan {
    problem.least(&problem.all(), problem.present, &mut HashMap::new())
}

/// The test to take in a set by rollout of the greedy policy.
pub fn by_rollout(problem: &Problem, set: &[usize]) -> Option<usize> {
    let mut known = HashMap::new();
    let judged = (0..problem.tests.len()).filter_map(|test| {
        let parts = problem.split(set, test)?;
        let one = &problem.tests[test];
        let after: f64 = parts.iter().map(|part| problem.greedy(part, one.condition, &mut known)).sum();
        Some((test, problem.cost(one, problem.present) * problem.weight(set) + after))
    });
    judged.min_by(|a, b| a.1.total_cmp(&b.1).then(a.0.cmp(&b.0))).map(|(test, _)| test)
}
