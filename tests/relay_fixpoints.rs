//! Verdict, end states, chattering and both screen answers of relay machines, every step of each.
//!
//! Data: tests/outside/relay_fixpoints.json (its `source` field says how it was computed: exhaustively, by a program that
//! shares nothing with this one).

#![allow(clippy::unwrap_used)] // a test fails by panicking, in its helpers too

use serde_json::Value;
use wirewitness::circuit::{Bounds, Excitation, Trit, Verdict, settle_abstract};

/// A machine given as a function from inputs and relays to fed coils; undecided relays are tried both ways.
struct Given<F: Fn(&[bool]) -> Vec<bool>>(usize, F);

impl<F: Fn(&[bool]) -> Vec<bool>> Excitation for Given<F> {
    fn relays(&self) -> usize {
        self.0
    }

    fn fed(&self, worked: &[bool]) -> Vec<bool> {
        (self.1)(worked)
    }

    fn fed_or_either(&self, worked: &[Trit]) -> Vec<Trit> {
        let open: Vec<usize> = (0..self.0).filter(|&relay| worked[relay] == Trit::Either).collect();
        let mut all: Option<Vec<Trit>> = None;
        for choice in 0..1u32 << open.len() {
            let mut state: Vec<bool> = worked.iter().map(|&trit| trit == Trit::Yes).collect();
            for (bit, &relay) in open.iter().enumerate() {
                state[relay] = choice >> bit & 1 == 1;
            }
            let fed: Vec<Trit> = (self.1)(&state).into_iter().map(Trit::from).collect();
            all = Some(all.map_or(fed.clone(), |so_far| so_far.iter().zip(&fed).map(|(a, &b)| a.or(b)).collect()));
        }
        all.unwrap()
    }
}

/// The excitation functions as the data's `excitation` field states them.
fn fed(machine: &str, input: &dyn Fn(&str) -> bool, k: &[bool]) -> Vec<bool> {
    match machine {
        "start_stop_hold_in" => vec![input("stop_closed") && (input("start") || k[0])],
        "buzzer" => vec![input("on") && !k[0]],
        "cross_coupled_race" => vec![input("on") && !k[1], input("on") && !k[0]],
        "forward_reverse_interlock" => {
            vec![input("stop") && (input("pf") || k[0]) && !k[1], input("stop") && (input("pr") || k[1]) && !k[0]]
        }
        "sequence_of_three" => vec![input("p") || (k[0] && !k[2]), k[0], k[1]],
        other => panic!("machine {other} of the data is not in this test"),
    }
}

fn trits(state: &Value, names: &[String]) -> Vec<Trit> {
    names
        .iter()
        .map(|name| match &state[name] {
            Value::String(text) if text == "X" => Trit::Either,
            bit => Trit::from(bit.as_i64().unwrap() == 1),
        })
        .collect()
}

fn bits(state: &Value, names: &[String]) -> Vec<bool> {
    trits(state, names).into_iter().map(|trit| trit.bit().unwrap()).collect()
}

fn indices(list: &Value, names: &[String]) -> Vec<usize> {
    let mut all: Vec<usize> = list
        .as_array()
        .unwrap()
        .iter()
        .map(|name| names.iter().position(|n| n == name.as_str().unwrap()).unwrap())
        .collect();
    all.sort_unstable();
    all
}

#[test]
fn every_step_of_every_machine_ends_as_computed_elsewhere() {
    let data: Value = serde_json::from_str(include_str!("outside/relay_fixpoints.json")).unwrap();
    let mut steps = 0;
    for machine in data["machines"].as_array().unwrap() {
        let title = machine["name"].as_str().unwrap();
        let mut names: Vec<String> = machine["excitation"].as_object().unwrap().keys().cloned().collect();
        names.sort();
        for (number, step) in machine["steps"].as_array().unwrap().iter().enumerate() {
            let at = format!("{title}, step {number}");
            let input = |name: &str| step["inputs"][name].as_i64().unwrap() == 1;
            let given = Given(names.len(), |worked: &[bool]| fed(title, &input, worked));
            let start = bits(&step["start_state"], &names);
            let outcome = settle_abstract(&start, &given, Bounds::default());

            assert_eq!(outcome.verdict.word(), step["verdict"].as_str().unwrap().replace('_', "-"), "{at}");
            let mut expected: Vec<Vec<Vec<bool>>> = step["terminal_classes"]
                .as_array()
                .unwrap()
                .iter()
                .map(|class| {
                    let mut class: Vec<_> = class.as_array().unwrap().iter().map(|state| bits(state, &names)).collect();
                    class.sort();
                    class
                })
                .collect();
            expected.sort();
            assert_eq!(outcome.ends, expected, "{at}");
            assert_eq!(outcome.chattering, indices(&step["chattering"], &names), "{at}");
            assert_eq!(outcome.ambiguous, indices(&step["ambiguous"], &names), "{at}");
            assert_eq!(outcome.screen.0, trits(&step["ternary"]["A"], &names), "{at}: A");
            assert_eq!(outcome.screen.1, trits(&step["ternary"]["B"], &names), "{at}: B");
            let mut state = start;
            for (relay, worked) in outcome.order.iter().flatten() {
                state[*relay] = *worked;
            }
            assert!(expected[0].contains(&state), "{at}: the order given does not lead to the first end");
            steps += 1;
        }
    }
    assert_eq!(steps, 19);
}

#[test]
fn too_many_orders_are_never_called_settled() {
    // Three relays that each buzz on their own: the screen leaves all of them open, and narrow bounds stop the rest.
    let given = Given(3, |worked: &[bool]| worked.iter().map(|&bit| !bit).collect());
    let outcome = settle_abstract(&[false; 3], &given, Bounds { states: 4, moves: 8 });
    assert_eq!(outcome.verdict, Verdict::Undecided);
    assert_eq!(outcome.relays, [Trit::Either; 3]);
}
