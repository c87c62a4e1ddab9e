//! Machines without any order: every rule, every tier, every condition comes to an end, without a panic and without a
//! number that is none.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use std::panic::AssertUnwindSafe;
use std::sync::Arc;
use std::time::{Duration, Instant};

use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::electric::{Ask, Elements, Expected, Gets, Judgement, Live, Points, Profile, Runs, expected};
use wirewitness::circuit::{Network, Node, Situation, Trit};
use wirewitness::findings::check_with;
use wirewitness::generate::wild_machine;
use wirewitness::machine::Machine;
use wirewitness::quantity::{Band, Function, Rated, Rating, Unit};
use wirewitness::store::{parse, text_of};

/// The longest that one machine may take, unoptimised and on a busy machine. Most take a hundredth of it.
const LONGEST: Duration = Duration::from_secs(20);

/// No number that is none in a sentence that a person sees.
fn proper(sentence: &str, at: &str) {
    let odd = sentence.split(|c: char| !c.is_alphanumeric()).any(|word| matches!(word, "NaN" | "inf" | "infinity"));
    assert!(!odd, "{at}: {sentence}");
}

fn finite(band: Option<Band>, at: &str) {
    if let Some(band) = band {
        assert!(band.low.is_finite() && band.high.is_finite() && band.low <= band.high, "{at}: {band:?}");
    }
}

fn gets(gets: Option<Gets>, at: &str) -> bool {
    let gets = gets.unwrap();
    for band in [gets.volts, gets.amps, gets.watts] {
        finite(band, at);
    }
    gets.runs == Runs::Yes
}

/// How much the machines gave to compute: none of it may be nothing.
#[derive(Debug, Default)]
struct Met {
    findings: usize,
    readings_judged: usize,
    loads_running: usize,
    relays_worked: usize,
    values_expected: usize,
}

/// Everything that is computed from a record.
fn computed(machine: &Machine, catalogue: &Catalogue, at: &str, met: &mut Met) {
    let network = Network::of(machine, catalogue);
    for finding in check_with(machine, &network) {
        met.findings += 1;
        for sentence in [&finding.what, &finding.do_] {
            proper(sentence, at);
        }
    }
    let elements = Elements::of(&network);
    let judgement = Judgement::of(machine, &network, &elements);
    for (id, judged) in &judgement.readings {
        met.readings_judged += 1;
        let function = machine.readings.get(*id).unwrap().value.function();
        shown(judged.expectation.expected, function, at);
    }
    for (condition, entry) in machine.conditions.iter() {
        let at = format!("{at}, {}", entry.name);
        let setting = machine.setting(condition);
        let situation = Situation::of(&network, &setting);
        if let (_, Some(volts)) = situation.hazard() {
            assert!(volts.is_finite(), "{at}: hazard of {volts} V");
        }
        let live = Live::of(&network, &elements, &setting);
        for index in 0..network.loads().len() {
            met.loads_running += usize::from(gets(live.load(index), &format!("{at}: load {index}")));
        }
        met.relays_worked += live.relays.iter().filter(|relay| **relay == Trit::Yes).count();
        for index in 0..network.relays().len() {
            gets(live.coil(index), &format!("{at}: coil {index}"));
        }
        let count = u32::try_from(network.len()).unwrap();
        for against in live.references() {
            for node in (0..count).step_by(5) {
                finite(live.volts_ac(Node(node), against), &at);
                finite(live.volts_dc(Node(node), against), &at);
            }
        }
        // Some pairs, spread over the machine.
        let everyday = Profile::default();
        let recorded = machine.meters.values().next().map_or_else(Profile::default, Profile::of);
        for pair in 0..4_u32.min(count) {
            let (red, black) = (Node(pair * 7 % count), Node((pair * 13 + 5) % count));
            for function in [Function::Tone, Function::Ohms, Function::VoltsAc, Function::VoltsDc] {
                for low_impedance in [false, true] {
                    let ask = Ask { points: Points::Probes(red, black), function, low_impedance };
                    let at = format!("{at}: {red:?} {black:?}");
                    let profile = if pair % 2 == 0 { &everyday } else { &recorded };
                    met.values_expected += usize::from(shown(expected(&live, profile, ask).expected, function, &at));
                }
            }
        }
        for wire in (0..network.wires().len()).step_by(4) {
            let ask = Ask { points: Points::Clamp(wire), function: Function::Amps, low_impedance: false };
            let at = format!("{at}: wire {wire}");
            met.values_expected += usize::from(shown(expected(&live, &everyday, ask).expected, Function::Amps, &at));
        }
    }
}

/// An ohmmeter may show OL; nothing else may be without end. Says whether a value other than nothing was expected.
fn shown(expected: Expected, function: Function, at: &str) -> bool {
    proper(&expected.words(function), at);
    match expected {
        Expected::Value { nominal, shown } => {
            let may_be_open = function == Function::Ohms && shown.high == f64::INFINITY;
            let ends = shown.low.is_finite() && (shown.high.is_finite() || may_be_open);
            assert!(nominal.is_finite() && ends && shown.low <= shown.high, "{at}: {function:?} {expected:?}");
        }
        Expected::Ghost { up_to } => assert!(up_to.is_finite(), "{at}: {expected:?}"),
        _ => {}
    }
    matches!(expected, Expected::Value { nominal, .. } if nominal.abs() > 0.0)
}

/// One machine by its number: written, read and computed; how long that took.
fn machine(number: u64, odd: bool, catalogue: &Catalogue, met: &mut Met) -> Duration {
    let parts = 2 + usize::try_from(number % 11).unwrap();
    let mut machine = wild_machine(parts, number, catalogue);
    if odd {
        rate_oddly(&mut machine, number);
    }
    let at = format!("{parts} parts, seed {number}");
    let start = Instant::now();
    let text = text_of(&machine);
    let read = parse("wild.ron", &text, catalogue).unwrap_or_else(|errors| panic!("{at}: {errors}"));
    assert_eq!(text_of(&read), text, "{at}");
    computed(&read, catalogue, &at, met);
    let took = start.elapsed();
    assert!(took < LONGEST, "{at} took {took:?}");
    took
}

/// Gives most ratings of every part a value that no nameplate has: nothing at all, next to nothing, next to endless.
fn rate_oddly(machine: &mut Machine, number: u64) {
    let values = [0.0, 1e-15, 1e-12, 1e-9, 1e-6, 1e-3, 1e7, 1e9, 1e11, 1e13, 1.0, 24.0, 230.0];
    let mut at = usize::try_from(number).unwrap();
    for id in machine.parts.ids().collect::<Vec<_>>() {
        let mut part = machine.parts.get(id).unwrap().clone();
        for &rating in Rating::ALL {
            at = at.wrapping_mul(31).wrapping_add(17) % 1_000_003;
            if at % 3 == 0 {
                continue;
            }
            let value: f64 = values[at % values.len()];
            let value = if rating.unit() == Unit::Percent { value.min(100.0) } else { value };
            part.ratings.set(rating, Rated { value, current: None });
        }
        machine.parts.put(id, Some(Arc::new(part)));
    }
}

/// All of these machines; those that fail are named together.
fn machines(numbers: impl Iterator<Item = u64>, odd: bool) {
    let catalogue = Catalogue::built_in().unwrap();
    let (mut slowest, mut met) = ((Duration::ZERO, 0), Met::default());
    let mut failed = Vec::new();
    for number in numbers {
        match std::panic::catch_unwind(AssertUnwindSafe(|| machine(number, odd, &catalogue, &mut met))) {
            Ok(took) => slowest = slowest.max((took, number)),
            Err(_) => failed.push(number), // what happened is already printed
        }
    }
    println!("slowest: {:?}, seed {}; {met:?}", slowest.0, slowest.1);
    assert!(failed.is_empty(), "seeds {failed:?}");
    let Met { findings, readings_judged, loads_running, relays_worked, values_expected } = met;
    assert!(findings > 0 && readings_judged > 0 && values_expected > 0);
    assert!(odd || (loads_running > 0 && relays_worked > 0));
}

#[test]
fn machines_at_random_are_read_checked_and_solved_without_a_panic_or_a_number_that_is_none() {
    machines((0..1000).step_by(10), false);
}

#[test]
fn machines_at_random_with_ratings_that_no_nameplate_has_are_read_checked_and_solved_too() {
    machines((5..1000).step_by(10), true);
}

/// All of the first thousand, with sensible and with odd ratings. Takes some minutes unoptimised: `cargo test --test random_machines -- --ignored`.
#[test]
#[ignore = "takes minutes unoptimised"]
fn a_thousand_machines_at_random_are_read_checked_and_solved() {
    machines(0..1000, false);
    machines(0..1000, true);
}

#[test]
fn the_same_seed_gives_the_same_machine() {
    let catalogue = Catalogue::built_in().unwrap();
    for seed in 0..20 {
        assert_eq!(wild_machine(6, seed, &catalogue), wild_machine(6, seed, &catalogue));
    }
}
