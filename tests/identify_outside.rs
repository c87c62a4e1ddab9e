//! Odds, entropies and orders of tests against worked examples from outside.
//!
//! tests/outside/polybox.json: device of de Kleer and Williams (Artificial Intelligence 32, 1987), three multipliers and two
//! adders, enumerated over its 32 candidates; both conventions for a value that a candidate does not predict.
//! tests/outside/test_sequencing.json: example of Pattipati and Alexandridis (IEEE Trans. SMC 20(4), 1990) with its optimum 2.18, and the
//! means of a study of random problems. Both files say what is from memory and what was computed.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use serde_json::Value;
use wirewitness::generate::Random;
use wirewitness::identify::{Belief, Problem, Test, by_rollout, entropy_bits, optimal};

const PARTS: [&str; 5] = ["M1", "M2", "M3", "A1", "A2"];

fn json(text: &str) -> Value {
    serde_json::from_str(text).unwrap()
}

/// X, Y, Z, F, G as far as they follow from the parts that work and from what was seen. `None`: a contradiction.
fn follows(broken: u32, seen: &[(usize, f64)]) -> Option<[Option<f64>; 5]> {
    let works = |part: usize| broken >> part & 1 == 0;
    let mut known: [Option<f64>; 5] = [None; 5];
    let set = |known: &mut [Option<f64>; 5], at: usize, value: f64| -> Option<bool> {
        match known[at] {
            None => {
                known[at] = Some(value);
                Some(true)
            }
            Some(old) => (old == value).then_some(false),
        }
    };
    for &(at, value) in seen {
        set(&mut known, at, value)?;
    }
    for multiplier in 0..3 {
        if works(multiplier) {
            set(&mut known, multiplier, 6.0)?;
        }
    }
    loop {
        let mut grew = false;
        for (adder, [a, b, sum]) in [(3, [0, 1, 3]), (4, [1, 2, 4])] {
            if !works(adder) {
                continue;
            }
            if let (Some(x), Some(y)) = (known[a], known[b]) {
                grew |= set(&mut known, sum, x + y)?;
            }
            if let (Some(x), Some(s)) = (known[a], known[sum]) {
                grew |= set(&mut known, b, s - x)?;
            }
            if let (Some(y), Some(s)) = (known[b], known[sum]) {
                grew |= set(&mut known, a, s - y)?;
            }
        }
        if !grew {
            return Some(known);
        }
    }
}

/// How likely each candidate makes a value at a place, after what was seen before.
fn likelihoods(seen: &[(usize, f64)], at: usize, value: f64, unpredicted: f64) -> Vec<f64> {
    let one = |broken: u32| match follows(broken, seen).map(|known| known[at]) {
        Some(Some(predicted)) => f64::from(u8::from(predicted == value)),
        Some(None) => unpredicted,
        None => 0.0,
    };
    let all: Vec<f64> = (0..32).map(one).collect();
    // What is contradicted only together with the value is out as well.
    let still = |broken: u32| follows(broken, &[seen, &[(at, value)]].concat()).is_some();
    (0..32).zip(all).map(|(broken, one)| if still(broken) { one } else { 0.0 }).collect()
}

fn named(name: &str) -> usize {
    let parts = name.trim_matches(['[', ']']).split(' ').filter(|part| !part.is_empty());
    parts.map(|part| 1 << PARTS.iter().position(|one| *one == part).unwrap()).sum()
}

fn near(a: f64, b: &Value, what: &str) {
    let b = b.as_f64().unwrap();
    assert!((a - b).abs() < 1e-6, "{what}: {a} against {b}");
}

#[test]
fn odds_and_entropies_of_the_five_part_device_are_those_of_the_enumeration() {
    let outside = json(include_str!("outside/polybox.json"));
    for row in outside["results"].as_array().unwrap() {
        let p = row["prior_p_faulty"].as_f64().unwrap();
        let m = row["m"].as_f64().unwrap();
        let generative = row["likelihood_of_unpredicted_value"] == "generative";
        let unpredicted = if generative { 1.0 / m } else { 1.0 };
        let prior = (0..32_u32)
            .map(|broken| (0..5).map(|part| if broken >> part & 1 == 1 { p } else { 1.0 - p }).product::<f64>());
        let mut belief = Belief::of(prior);
        let mut seen = Vec::new();
        for (at, value, name) in [(3, 10.0, "after_F10"), (4, 12.0, "after_F10_G12")] {
            belief.weigh(&likelihoods(&seen, at, value, unpredicted));
            seen.push((at, value));
            let odds = belief.odds();
            near(entropy_bits(&odds), &row[name]["entropy_bits"], name);
            for (candidate, expected) in row[name]["posterior"].as_object().unwrap() {
                near(odds[named(candidate)], expected, &format!("{name} {candidate}"));
            }
        }
        // A value that a candidate does not predict is one of m.
        let odds = belief.odds();
        let mut best = (f64::INFINITY, "");
        for (at, name) in [(0, "X"), (1, "Y"), (2, "Z")] {
            let probe = &row["probes_after_F10_G12"][name];
            let mut values: Vec<f64> = (0..32).filter_map(|c| follows(c, &seen).and_then(|known| known[at])).collect();
            values.sort_by(f64::total_cmp);
            values.dedup();
            let mut expected = 0.0;
            let mut left = 1.0;
            for &value in &values {
                let likely = likelihoods(&seen, at, value, 1.0 / m);
                let share: f64 = odds.iter().zip(&likely).map(|(odds, likely)| odds * likely).sum();
                let mut after = belief.clone();
                after.weigh(&likely);
                expected += share * entropy_bits(&after.odds());
                left -= share;
            }
            let silent = |c: u32| follows(c, &seen).is_some_and(|known| known[at].is_none());
            let mut after = belief.clone();
            after.weigh(&(0..32).map(|c| f64::from(u8::from(silent(c)))).collect::<Vec<f64>>());
            expected += left.max(0.0) * entropy_bits(&after.odds());
            near(expected, &probe["expected_entropy_bits"], name);
            if expected < best.0 {
                best = (expected, name);
            }
        }
        assert_eq!(best.1, row["best_probe"].as_str().unwrap_or("X"));
    }
}

fn problem(outside: &Value, costs: &Value) -> Problem {
    let numbers =
        |value: &Value| value.as_array().unwrap().iter().map(|one| one.as_f64().unwrap()).collect::<Vec<f64>>();
    let rows: Vec<Vec<f64>> = outside["D"].as_array().unwrap().iter().map(numbers).collect();
    let tests = numbers(costs).into_iter().enumerate().map(|(test, cost)| Test {
        cost,
        condition: 0,
        results: rows.iter().map(|row| usize::from(row[test] > 0.5)).collect(),
    });
    Problem { odds: numbers(&outside["prior"]), tests: tests.collect(), present: 0 }
}

#[test]
fn the_order_of_tests_of_the_worked_example_costs_what_the_optimum_costs() {
    let outside = json(include_str!("outside/test_sequencing.json"));
    for case in outside["cases"].as_array().unwrap() {
        let problem = problem(&outside, &case["costs"]);
        near(optimal(&problem).cost, &case["optimal_expected_cost"], "optimal");
        let first = problem.costs().into_iter().flatten().fold(f64::INFINITY, f64::min);
        near(first, &case["optimal_expected_cost"], "what is proposed");
        let rollout = problem.cost_of(&|problem, set| by_rollout(problem, set));
        near(rollout, &case["rollout_of_greedy"], "rollout");
    }
}

/// A number from 0 up to 1.
fn share(random: &mut Random) -> f64 {
    (random.next() >> 11) as f64 / (1_u64 << 53) as f64
}

#[test]
fn on_random_problems_rollout_is_as_near_to_the_optimum_as_in_the_study() {
    let outside = json(include_str!("outside/test_sequencing.json"));
    let mut random = Random::from_seed(1990);
    for row in outside["greedy_vs_optimal_random"].as_array().unwrap() {
        let count = |name: &str| usize::try_from(row[name].as_u64().unwrap()).unwrap();
        let (states, tests) = (count("states"), count("tests"));
        if states > 10 {
            continue; // the optimum takes too long in a test
        }
        let mut sum = 0.0;
        let mut count = 0;
        while count < 60 {
            let weights: Vec<f64> = (0..states).map(|_| -share(&mut random).max(1e-12).ln()).collect();
            let whole: f64 = weights.iter().sum();
            let all: Vec<Test> = (0..tests)
                .map(|_| {
                    let cost = match row["costs"].as_str().unwrap() {
                        "unit" => 1.0,
                        "uniform 1..10" => 1.0 + (share(&mut random) * 10.0).floor().min(9.0),
                        _ => {
                            if share(&mut random) < 0.5 {
                                10.0
                            } else {
                                1.0
                            }
                        }
                    };
                    Test {
                        cost,
                        condition: 0,
                        results: (0..states).map(|_| usize::from(share(&mut random) < 0.5)).collect(),
                    }
                })
                .collect();
            let problem =
                Problem { odds: weights.iter().map(|weight| weight / whole).collect(), tests: all, present: 0 };
            let least = optimal(&problem).cost;
            let rollout = problem.cost_of(&|problem, set| by_rollout(problem, set));
            if least > 0.0 {
                sum += rollout / least;
                count += 1;
            }
        }
        let (mean, column) = (sum / f64::from(count), row["rollout_mean"].as_f64().unwrap());
        println!("{} {} {}: {mean:.4} against {column}", states, tests, row["costs"]);
        // Other random problems of the same kind: their mean may lie somewhat off the study's.
        assert!(mean < 1.0 + 2.0 * (column - 1.0) + 0.005, "{row}: {mean}");
    }
}
