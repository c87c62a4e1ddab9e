//! Invented retrofits: they can be written, opened and checked, and the record as found has nothing of the truth in it.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use std::collections::BTreeSet;

use wirewitness::catalogue::Catalogue;
use wirewitness::findings::{Severity, check};
use wirewitness::generate::{RETROFIT_MYSTERIES, Retrofit, Size, retrofit};
use wirewitness::identify::{World, groups};
use wirewitness::machine::{EndAt, Guess, Machine, MysteryId, Side, Subject};
use wirewitness::store;

const SEEDS: u64 = 120;
/// Rules that fire on a stray lead that goes nowhere, as they should.
const MEANT: [&str; 2] = ["live-loose-end", "loose-end"];

fn all() -> impl Iterator<Item = (u64, Retrofit)> {
    (0..SEEDS).map(|seed| (seed, retrofit(seed, Size::of_seed(seed))))
}

#[test]
fn record_and_truth_can_be_written_and_opened_and_the_truth_has_no_mistake_in_it() {
    let catalogue = Catalogue::built_in().unwrap();
    for (seed, Retrofit { record, truth }) in all().step_by(3) {
        for machine in [&record, &truth.record] {
            let again = store::parse("retrofit", &store::text_of(machine), &catalogue).unwrap();
            assert_eq!(store::text_of(&again), store::text_of(machine), "seed {seed}");
        }
        let mistakes: Vec<String> = check(&truth.record, &catalogue)
            .into_iter()
            .filter(|finding| finding.severity.is_at_least(Severity::Fault) && !MEANT.contains(&finding.rule))
            .map(|finding| format!("{}: {}", finding.rule, finding.what))
            .collect();
        assert!(mistakes.is_empty(), "seed {seed}: {mistakes:#?}");
    }
}

#[test]
fn sizes_and_kinds_of_mystery_vary_and_nothing_is_left_out_of_the_answers() {
    let (mut counts, mut titles, mut faults) = (BTreeSet::new(), BTreeSet::new(), BTreeSet::new());
    let mut subjects = [0; 5];
    for (seed, Retrofit { record, truth }) in all() {
        let count = record.mysteries.len();
        assert!((RETROFIT_MYSTERIES.0..=RETROFIT_MYSTERIES.1).contains(&count), "seed {seed}: {count}");
        counts.insert(count);
        titles.insert(record.facts.title.split(',').next().unwrap().to_owned());
        faults.insert(truth.faults.len());
        for mystery in record.mysteries.values() {
            subjects[match mystery.subject {
                Subject::End(..) => 0,
                Subject::CoilDriver(_) => 1,
                Subject::ContactForm(_) => 2,
                Subject::Fault(_) => 3,
                Subject::Kind(_) => 4,
            }] += 1;
        }
        for group in groups(&record) {
            assert_eq!(group.left_out, 0.0, "seed {seed}");
        }
    }
    assert!(counts.len() > 6 && titles.len() == 5 && faults == [1, 2].into(), "{counts:?} {titles:?} {faults:?}");
    assert!(subjects[..4].iter().all(|count| *count > 5), "{subjects:?}");
}

/// The answers put into the record as found give the truth, and no other way of hiding it.
#[test]
fn the_record_as_found_with_the_answers_put_in_is_the_truth() {
    for (seed, Retrofit { record, truth }) in all() {
        let mut completed: Machine = record.clone();
        for (id, mystery) in record.mysteries.iter() {
            let guess = &mystery.candidates[truth.answers[&id]].guess;
            match (&mystery.subject, guess) {
                (Subject::End(wire, side), guess) => {
                    assert_eq!(record.wires.get(*wire).unwrap().end(*side).at, EndAt::Unknown, "seed {seed}");
                    let mut entry = record.wires.get(*wire).unwrap().clone();
                    entry.end_mut(*side).at = match guess {
                        Guess::Terminal(terminal) => EndAt::Terminal(terminal.clone()),
                        _ => EndAt::Loose,
                    };
                    completed.wires.put(*wire, Some(entry.into()));
                }
                (Subject::CoilDriver(part), Guess::Terminal(output)) => {
                    let leads = |machine: &Machine| {
                        let lands = |at: &EndAt| matches!(at, EndAt::Terminal(t) if t.part == *part && t.marking.as_str() == "A1");
                        machine
                            .wires
                            .iter()
                            .filter(|(_, w)| lands(&w.from.at))
                            .map(|(id, w)| (id, w.clone()))
                            .collect::<Vec<_>>()
                    };
                    assert!(leads(&record).is_empty(), "seed {seed}: the lead is in the record");
                    let own = leads(&truth.record);
                    assert_eq!(own.len(), 1, "seed {seed}");
                    assert_eq!(own[0].1.to.at, EndAt::Terminal(output.clone()), "seed {seed}");
                    completed.wires.put(own[0].0, Some(own[0].1.clone().into()));
                }
                _ => {}
            }
        }
        let ends = |machine: &Machine| -> Vec<(String, EndAt, EndAt)> {
            machine
                .wires
                .values()
                .map(|w| (w.key.clone(), w.end(Side::From).at.clone(), w.end(Side::To).at.clone()))
                .collect()
        };
        assert_eq!(ends(&completed), ends(&truth.record), "seed {seed}");
    }
}

#[test]
fn the_same_seed_gives_the_same_and_every_condition_can_be_computed() {
    let catalogue = Catalogue::built_in().unwrap();
    for (seed, found) in all().take(20) {
        assert_eq!(found, retrofit(seed, Size::of_seed(seed)));
        let answers: Vec<(MysteryId, usize)> = found.truth.record.mysteries.ids().map(|id| (id, 0)).collect();
        let world = World::of(&found.truth.record, &catalogue, &answers, &[]);
        for condition in found.record.conditions.ids() {
            world.hazard(condition);
        }
    }
}

#[test]
fn a_retrofit_can_lie_in_a_large_machine() {
    let found = retrofit(3, Size { relays: 6, mysteries: 12, beside: 100 });
    assert!(found.record.wires.len() > 300, "{}", found.record.wires.len());
    assert_eq!(found.record.mysteries.len(), 12);
}
