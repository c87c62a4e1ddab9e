//! Hidden truths found by following the proposals: a machine whose leads go where the record does not say answers each proposed
//! reading, until nothing is open.
//!
//! Principle: with a meter that does not err every answer that is left is right (common practice, no source). The usual order by hand is each lead with
//! each terminal in turn until it sounds. What the hidden machine shows comes from the program's own circuit, so this says nothing about the
//! circuit; it is held against books elsewhere.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use std::sync::Arc;

use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::electric::{Expected, Runs};
use wirewitness::identify::{Place, Reasoned, Risk, World, proposals};
use wirewitness::machine::{EndAt, Guess, Machine, MysteryId, Reading, Side, Spot, Subject, TerminalRef};
use wirewitness::quantity::{Function, Value};
use wirewitness::store;

/// So many look-alike relays whose coil leads go to some terminals of a strip, one of each; `faulty` is about one more wire.
fn record(relays: usize, faulty: bool) -> Machine {
    let mut parts = vec![format!("(tag: \"TB1\", kind: \"terminal-strip\", count: {})", relays + 1)];
    let mut wires = Vec::new();
    let mut mysteries = Vec::new();
    parts.push(r#"(tag: "X1", kind: "cord-plug", ratings: {"volts": "24 V AC", "hertz": "50 Hz"})"#.to_owned());
    let candidates: Vec<String> = (1..=relays).map(|at| format!("(guess: terminal(\"TB1.{at}a\"))")).collect();
    for at in 1..=relays {
        parts.push(format!(
            "(tag: \"K{at}\", kind: \"relay-make\", ratings: {{\"coil_volts\": \"24 V AC\", \"coil_ohms\": \"177 Ω\"}})"
        ));
        wires.push(format!("(key: \"A{at}\", from: \"K{at}.A1\", to: \"unknown\")"));
        wires.push(format!("(key: \"N{at}\", from: \"K{at}.A2\", to: \"TB1.{}a\")", relays + 1));
        mysteries.push(format!(
            "(name: \"lead {at}\", subject: end(\"A{at}.to\"), candidates: [{}], one_of_each: \"leads\")",
            candidates.join(", ")
        ));
    }
    wires.push(format!("(key: \"N\", from: \"X1.N\", to: \"TB1.{}b\")", relays + 1));
    if faulty {
        mysteries.push(
            "(name: \"return\", subject: fault(\"N1\"), candidates: [(guess: named(\"ok\"), weight: 5), (guess: named(\"open\"))])".to_owned(),
        );
    }
    let text = format!(
        "(format: 1, machine: (title: \"hidden\", source: \"invented\"), parts: [{}], wires: [{}], \
         conditions: [(name: \"isolated\", sources: {{\"X1\": false}}), (name: \"live\", sources: {{\"X1\": true}})], mysteries: [{}])",
        parts.join(", "),
        wires.join(", "),
        mysteries.join(", ")
    );
    store::parse("hidden", &text, &Catalogue::built_in().unwrap()).unwrap_or_else(|errors| panic!("{errors}"))
}

/// What the hidden machine shows.
fn shows(truth: &World, place: &Place) -> Value {
    let expectation = truth.expectations(std::slice::from_ref(place)).remove(0).unwrap();
    match expectation.expected {
        Expected::Tone => Value::Tone,
        Expected::NoTone => Value::NoTone,
        Expected::OverLimit => Value::OverLimit,
        Expected::Value { nominal, .. } => match place.function {
            Function::Ohms => Value::Ohms(nominal),
            Function::VoltsAc => Value::VoltsAc(nominal),
            _ => Value::VoltsDc(nominal),
        },
        Expected::Load(Runs::Yes) => Value::Runs,
        Expected::Load(_) => Value::DoesNotRun,
        other => panic!("the hidden machine shows {other:?} at {place:?}"),
    }
}

fn log(machine: &mut Machine, place: &Place, value: Value) {
    let reading = Reading {
        name: format!("R{}", machine.readings.len() + 1),
        red: place.red.clone(),
        black: place.black.clone(),
        value,
        condition: Some(place.condition),
        meter: None,
        when: String::new(),
        who: String::new(),
        visit: None,
        note: String::new(),
    };
    machine.readings.add(reading);
}

/// Follows the proposals to the end: how many readings it took, and what was settled.
fn follow(
    machine: &mut Machine,
    truth: &World,
    catalogue: &Arc<Catalogue>,
) -> (usize, Vec<(MysteryId, Option<usize>)>) {
    let isolated = machine.conditions.ids().next();
    for count in 0..40 {
        let reasoned = Reasoned::of(machine, catalogue);
        let next = reasoned.accounts.iter().find_map(|account| {
            let open = account.mysteries(machine).iter().any(|odds| odds.settled.is_none());
            open.then(|| proposals(machine, catalogue, account, isolated, 1).into_iter().next()).flatten()
        });
        let Some(next) = next else {
            return (count, reasoned.mysteries(machine).into_iter().map(|odds| (odds.mystery, odds.settled)).collect());
        };
        assert_eq!(next.risk, Risk::Dead, "a dead reading tells as much here: {next:?}");
        assert!(next.place.function.needs_dead());
        let value = shows(truth, &next.place);
        log(machine, &next.place, value);
    }
    panic!("no end after 40 readings");
}

/// Every order of so many things.
fn orders(count: usize) -> Vec<Vec<usize>> {
    if count == 0 {
        return vec![Vec::new()];
    }
    let shorter = orders(count - 1);
    shorter
        .into_iter()
        .flat_map(|order| {
            (0..count).map(move |at| {
                let mut order = order.clone();
                order.insert(at, count - 1);
                order
            })
        })
        .collect()
}

#[test]
fn every_order_of_look_alike_leads_is_found_with_fewer_readings_than_by_hand() {
    let catalogue = Catalogue::built_in().unwrap();
    let (mut readings, mut by_hand, mut worst) = (0, 0, 0);
    for order in orders(3).into_iter().chain(orders(4).into_iter().step_by(3)) {
        let mut machine = record(order.len(), false);
        let ids: Vec<MysteryId> = machine.mysteries.ids().collect();
        let answers: Vec<(MysteryId, usize)> = ids.iter().copied().zip(order.iter().copied()).collect();
        let truth = World::of(&machine, &catalogue, &answers, &[]);
        let (count, settled) = follow(&mut machine, &truth, &catalogue);
        for ((id, found), (_, true_answer)) in settled.iter().zip(&answers) {
            assert_eq!(*found, Some(*true_answer), "{id:?} in {order:?} after {count}");
        }
        readings += count;
        worst = worst.max(count);
        // By hand: lead after lead with each terminal not yet taken, until it sounds; each lead is proven by a tone of its own.
        let mut free: Vec<usize> = (0..order.len()).collect();
        for &at in &order {
            let place = free.iter().position(|&one| one == at).unwrap();
            by_hand += place + 1;
            free.remove(place);
        }
    }
    println!(
        "{readings} readings against {by_hand} by hand, ratio {:.2}; worst {worst}",
        f64::from(u32::try_from(readings).unwrap()) / f64::from(u32::try_from(by_hand).unwrap())
    );
    assert!(readings <= by_hand);
}

/// The end of a lead that is known.
fn near_end(machine: &Machine, subject: &Subject) -> Spot {
    let Subject::End(wire, Side::To) = subject else { panic!("{subject:?} is no end") };
    let EndAt::Terminal(TerminalRef { part, marking }) = machine.wires.get(*wire).unwrap().from.at.clone() else {
        panic!("it begins on a terminal");
    };
    Spot::Terminal(TerminalRef { part, marking })
}

/// Seven leads go to seven terminals in 5,040 ways, more than are weighed. What is kept is what the readings speak for, whichever
/// way it is, and no reading lets the share that is left out rise.
#[test]
fn of_more_answers_than_can_be_weighed_readings_keep_the_true_one() {
    let catalogue = Catalogue::built_in().unwrap();
    for order in [[6, 5, 4, 3, 2, 1, 0], [3, 6, 0, 2, 5, 1, 4]] {
        let mut machine = record(order.len(), false);
        let leads: Vec<_> = machine.mysteries.iter().map(|(id, mystery)| (id, mystery.subject.clone())).collect();
        let answers: Vec<(MysteryId, usize)> = leads.iter().map(|(id, _)| *id).zip(order).collect();
        let truth = World::of(&machine, &catalogue, &answers, &[]);
        let isolated = machine.conditions.ids().next().unwrap();
        let left_out = |machine: &Machine| {
            let all = Reasoned::of(machine, &catalogue).mysteries(machine);
            all.iter().map(|one| one.left_out).fold(0.0, f64::max)
        };
        let mut least = left_out(&machine);
        assert!((least - (1.0 - 720.0 / 5040.0)).abs() < 1e-9, "{least}");
        for (at, (id, subject)) in leads.iter().enumerate().take(order.len() - 1) {
            let Guess::Terminal(terminal) = machine.mysteries.get(*id).unwrap().candidates[order[at]].guess.clone()
            else {
                panic!("a lead goes to a terminal");
            };
            let place = Place {
                condition: isolated,
                red: near_end(&machine, subject),
                black: Some(Spot::Terminal(terminal)),
                function: Function::Tone,
                meter: None,
            };
            let value = shows(&truth, &place);
            assert_eq!(value, Value::Tone);
            log(&mut machine, &place, value);
            let now = left_out(&machine);
            assert!(now <= least + 1e-9, "{now} after {least}");
            least = now;
        }
        // The last one is what the others leave: likely, but each of six readings may be mistaken.
        let mysteries = Reasoned::of(&machine, &catalogue).mysteries(&machine);
        for (found, (id, right)) in mysteries.iter().zip(&answers) {
            assert_eq!(found.mystery, *id);
            assert!(found.candidates[*right].odds > 0.9, "{order:?}: {found:?}");
        }
        for (found, (_, right)) in mysteries.iter().zip(&answers).take(order.len() - 1) {
            assert_eq!(found.settled, Some(*right), "{order:?}: {found:?}");
        }
    }
}

#[test]
fn an_open_return_is_told_from_a_lead_that_is_elsewhere() {
    let catalogue = Catalogue::built_in().unwrap();
    for open in [0, 1] {
        let mut machine = record(2, true);
        let ids: Vec<MysteryId> = machine.mysteries.ids().collect();
        let answers = vec![(ids[0], 1), (ids[1], 0), (ids[2], open)];
        let truth = World::of(&machine, &catalogue, &answers, &[]);
        let (count, settled) = follow(&mut machine, &truth, &catalogue);
        for (found, (_, true_answer)) in settled.iter().zip(&answers) {
            assert_eq!(found.1, Some(*true_answer), "after {count}: {settled:?}");
        }
    }
}

#[test]
fn one_wrong_reading_does_not_delete_the_truth_and_a_truth_without_a_candidate_is_none_of_these() {
    let catalogue = Catalogue::built_in().unwrap();
    let mut machine = record(3, false);
    let ids: Vec<MysteryId> = machine.mysteries.ids().collect();
    let answers: Vec<(MysteryId, usize)> = ids.iter().copied().zip([0, 1, 2]).collect();
    let truth = World::of(&machine, &catalogue, &answers, &[]);
    let isolated = machine.conditions.ids().next().unwrap();
    let tone = |red: &str, black: &str, machine: &Machine| Place {
        condition: isolated,
        red: machine.spot_by_name(red).unwrap(),
        black: machine.spot_by_name(black),
        function: Function::Tone,
        meter: None,
    };
    // The first reading is mistaken, the others are not.
    let wrong = tone("K1.A1", "TB1.1a", &machine);
    log(&mut machine, &wrong, Value::NoTone);
    for (red, black) in [("K1.A1", "TB1.2a"), ("K1.A1", "TB1.3a"), ("K2.A1", "TB1.2a"), ("K3.A1", "TB1.3a")] {
        let place = tone(red, black, &machine);
        let value = shows(&truth, &place);
        log(&mut machine, &place, value);
    }
    let odds = Reasoned::of(&machine, &catalogue).mysteries(&machine);
    for (one, (_, right)) in odds.iter().zip(&answers) {
        let best = (0..3).max_by(|&a, &b| one.candidates[a].odds.total_cmp(&one.candidates[b].odds)).unwrap();
        assert_eq!(best, *right, "{odds:?}");
    }

    // In truth the lead goes to the return, which is no candidate.
    let mut machine = record(2, false);
    for (red, black, value) in [
        ("K1.A1", "TB1.1a", Value::NoTone),
        ("K1.A1", "TB1.2a", Value::NoTone),
        ("K1.A1", "TB1.3a", Value::Tone),
        ("K2.A1", "TB1.1a", Value::NoTone),
    ] {
        let place = tone(red, black, &machine);
        log(&mut machine, &place, value);
    }
    let odds = Reasoned::of(&machine, &catalogue).mysteries(&machine);
    assert!(odds[0].none_of_these > 0.5, "{odds:?}");
    assert!(odds.iter().all(|one| one.settled.is_none()), "{odds:?}");
}
