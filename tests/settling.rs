//! Settling: the ternary screen against every order in which relays can move, and what must not change the answer.
//!
//! The order walked here is written down anew from the definition (general multiple winner; Seger and Brzozowski 1994) and
//! shares no code with the program's: it steps through all states by brute force.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

mod wired;

use std::collections::{BTreeMap, BTreeSet};

use proptest::prelude::*;
use wired::Wired;
use wirewitness::circuit::electric::{ByVolts, Elements, Known, Live, Runs, Willing};
use wirewitness::circuit::{
    Bounds, Excitation, Frame, Network, Outcome, Situation, Trit, Verdict, settle_abstract, settle_few,
};
use wirewitness::machine::Setting;
use wirewitness::quantity::{Current, Rating};

/// Two DC supplies against each other and a battery in series work the coil K: 24 V + 24 V − 24 V. The relay R shorts the
/// second supply while it rests, and the first while it is worked. With neither shorted and with both shorted K gets 24 V; at
/// rest 48 V; while R is worked 24 V − 24 V: nothing.
fn supplies_shorted_in_turn() -> Wired {
    let mut wired = Wired::default();
    wired.battery();
    wired.part("X1", "cord-plug");
    wired.rate("X1", Rating::Volts, 230.0, None);
    wired.part("S1", "push-button-make");
    wired.relay("R", "relay-two-change-over");
    wired.relay("K", "relay-two-change-over");
    for supply in ["T1", "T2"] {
        wired.part(supply, "dc-supply");
        wired.rate(supply, Rating::Volts, 230.0, None);
        wired.rate(supply, Rating::SecondaryVolts, 24.0, Some(Current::Dc));
        wired.wire("X1.L", &format!("{supply}.L"));
        wired.wire("X1.N", &format!("{supply}.N"));
    }
    // R hangs on a battery of its own, so that nothing here feeds back to it.
    wired.wire("+", "S1.13");
    wired.wire("S1.14", "R.A1");
    wired.wire("R.A2", "-");
    wired.part("H", "battery");
    wired.rate("H", Rating::Volts, 24.0, Some(Current::Dc));
    wired.wire("K.A1", "T1.+");
    wired.chain(&["T1.-", "T2.-"]);
    wired.chain(&["T2.+", "H.+"]);
    wired.wire("H.-", "K.A2");
    wired.chain(&["T1.+", "R.11"]);
    wired.wire("R.14", "T1.-");
    wired.chain(&["T2.+", "R.21"]);
    wired.wire("R.22", "T2.-");
    wired
}

#[test]
fn one_relay_that_pulls_in_is_followed_without_the_screen() {
    let mut wired = Wired::default();
    wired.battery();
    wired.part("S1", "push-button-make");
    wired.relay("K", "relay-two-change-over");
    wired.wire("+", "S1.13");
    wired.wire("S1.14", "K.A1");
    wired.wire("K.A2", "-");
    let network = wired.network();
    let frame = Frame::of(&network, &wired.setting(&[("S1", "button", "pressed")], &["G"]));
    let outcome = settle_few(&[false], &frame).unwrap();
    assert_eq!((outcome.verdict, outcome.ends), (Verdict::Settles, vec![vec![vec![true]]]));
    assert_eq!(outcome.screen, (vec![Trit::Either], vec![Trit::Yes]));
}

#[test]
fn a_coil_is_not_fed_for_sure_where_a_supply_in_its_way_may_be_shorted() {
    let wired = supplies_shorted_in_turn();
    let network = wired.network();
    let setting = wired.setting(&[("S1", "button", "pressed")], &["G", "H", "X1"]);
    let (r, k) = (wired.relay_index(&network, "R"), wired.relay_index(&network, "K"));
    let situation = Situation::of(&network, &setting);
    assert_eq!(situation.outcome.verdict, Verdict::Settles);
    assert_eq!(situation.outcome.relays[r], Trit::Yes);
    assert_eq!(situation.outcome.relays[k], Trit::No, "24 V − 24 V: {:?}", situation.outcome);
    let elements = Elements::of(&network);
    let live = Live::of(&network, &elements, &setting);
    assert_eq!(live.outcome.relays[r], Trit::Yes);
    assert_ne!(live.outcome.relays[k], Trit::Yes, "{:?}", live.outcome);
}

/// R's break contact lies across the coil of K, a resistor in series with both: while R rests K is bridged out, and when R
/// works K gets its volts through the resistor. (Bridging a coil out: common practice, no source.)
#[test]
fn a_coil_that_is_bridged_out_at_rest_pulls_in_when_the_bridge_opens() {
    let mut wired = Wired::default();
    wired.battery();
    wired.part("S1", "push-button-make");
    wired.relay("R", "relay-two-change-over");
    wired.relay("K", "relay-two-change-over");
    wired.rate("K", Rating::CoilOhms, 800.0, None);
    wired.part("R1", "resistor");
    wired.rate("R1", Rating::Ohms, 47.0, None);
    wired.chain(&["+", "S1.13"]);
    wired.wire("S1.14", "R.A1");
    wired.wire("R.A2", "-");
    wired.wire("+", "R1.1");
    wired.chain(&["R1.2", "K.A1", "R.11"]);
    wired.chain(&["-", "K.A2", "R.12"]);
    let network = wired.network();
    let elements = Elements::of(&network);
    let k = wired.relay_index(&network, "K");
    for (positions, in_) in [(&[][..], Trit::No), (&[("S1", "button", "pressed")][..], Trit::Yes)] {
        let live = Live::of(&network, &elements, &wired.setting(positions, &["G"]));
        assert_eq!(live.outcome.verdict, Verdict::Settles);
        assert_eq!(live.relays[k], in_, "{:?}", live.outcome);
    }
}

/// What lies between two junctions of an invented network.
#[derive(Debug, Clone)]
enum Between {
    Wire,
    /// Of this relay; make or break.
    Contact(usize, bool),
    /// Of this switch; make or break.
    Lever(usize, bool),
    Lamp,
    Resistor(f64),
}

/// An invented network: junction 0 is the positive pole, 1 the negative.
#[derive(Debug, Clone)]
struct Plan {
    /// The ends of each coil, its ohms if recorded, and whether it is delayed.
    coils: Vec<([usize; 2], Option<f64>, bool)>,
    items: Vec<([usize; 2], Between)>,
    levers_on: [bool; 2],
    /// The ends of the outputs of DC supplies.
    supplies: Vec<[usize; 2]>,
    start: Vec<bool>,
}

const JUNCTIONS: usize = 6;

fn two() -> impl Strategy<Value = [usize; 2]> {
    // Poles often, so that something is fed.
    let junction = || prop_oneof![2 => 0..2_usize, 3 => 2..JUNCTIONS];
    [junction(), junction()].prop_filter("two junctions", |[a, b]| a != b)
}

fn plan(supplies: usize) -> impl Strategy<Value = Plan> {
    let ohms = || prop_oneof![Just(47.0), Just(300.0), Just(1000.0)];
    let coil = (two(), proptest::option::of(ohms()), proptest::bool::weighted(0.1));
    let between = move || {
        prop_oneof![
            1 => Just(Between::Wire),
            6 => (0..4_usize, any::<bool>()).prop_map(|(relay, make)| Between::Contact(relay, make)),
            3 => (0..2_usize, any::<bool>()).prop_map(|(switch, make)| Between::Lever(switch, make)),
            1 => Just(Between::Lamp),
            2 => ohms().prop_map(Between::Resistor),
        ]
    };
    let items = proptest::collection::vec((two(), between()), 2..12);
    let supplies = proptest::collection::vec(two(), 0..=supplies);
    (proptest::collection::vec(coil, 1..=4), items, any::<[bool; 2]>(), supplies, any::<[bool; 4]>()).prop_map(
        |(coils, mut items, levers_on, supplies, start)| {
            for (_, between) in &mut items {
                if let Between::Contact(relay, _) = between {
                    *relay %= coils.len();
                }
            }
            let start = start[..coils.len()].to_vec();
            Plan { coils, items, levers_on, supplies, start }
        },
    )
}

/// Something to do in wiring a plan up.
type Step<'a> = Box<dyn Fn(&mut Wired) + 'a>;

impl Plan {
    /// Wired up, parts and wires entered in an order of `turn`, every tag with `prefix` before it.
    fn wired(&self, prefix: &str, turn: usize) -> Wired {
        let mut wired = Wired::default();
        let tag = |letter: &str, number: usize| format!("{prefix}{letter}{number}");
        let spot = |junction: usize| format!("{prefix}j{junction}");
        let mut parts: Vec<Step> = Vec::new();
        let mut leads: Vec<Step> = Vec::new();
        parts.push(Box::new(|wired| {
            wired.part(&tag("G", 0), "battery");
            wired.rate(&tag("G", 0), Rating::Volts, 24.0, Some(Current::Dc));
            wired.part(&tag("X", 0), "cord-plug");
            wired.rate(&tag("X", 0), Rating::Volts, 230.0, None);
        }));
        leads.push(Box::new(|wired| {
            wired.wire(&format!("{}.+", tag("G", 0)), &spot(0));
            wired.wire(&format!("{}.-", tag("G", 0)), &spot(1));
        }));
        for lever in 0..self.levers_on.len() {
            parts.push(Box::new(move |wired| {
                wired.part(&tag("S", lever), "ganged-switch");
            }));
        }
        for (number, ([a, b], ohms, delayed)) in self.coils.iter().enumerate() {
            let coil = tag("K", number);
            parts.push(Box::new(move |wired| {
                wired.relay(&tag("K", number), "many-contact-relay");
                if let Some(ohms) = ohms {
                    wired.rate(&tag("K", number), Rating::CoilOhms, *ohms, None);
                }
                if *delayed {
                    wired.rate(&tag("K", number), Rating::Seconds, 2.0, None);
                }
            }));
            leads.push(Box::new(move |wired| {
                wired.wire(&spot(*a), &format!("{coil}.A1"));
                wired.wire(&spot(*b), &format!("{coil}.A2"));
            }));
        }
        for (number, [a, b]) in self.supplies.iter().enumerate() {
            parts.push(Box::new(move |wired| {
                wired.part(&tag("T", number), "dc-supply");
                wired.rate(&tag("T", number), Rating::Volts, 230.0, None);
                wired.rate(&tag("T", number), Rating::SecondaryVolts, 24.0, Some(Current::Dc));
            }));
            leads.push(Box::new(move |wired| {
                let supply = tag("T", number);
                wired.wire(&format!("{}.L", tag("X", 0)), &format!("{supply}.L"));
                wired.wire(&format!("{}.N", tag("X", 0)), &format!("{supply}.N"));
                wired.wire(&format!("{supply}.+"), &spot(*a));
                wired.wire(&format!("{supply}.-"), &spot(*b));
            }));
        }
        for (number, (ends, between)) in self.items.iter().enumerate() {
            let passive = match between {
                Between::Lamp => Some(("P", "lamp", Rating::Volts, 24.0)),
                Between::Resistor(ohms) => Some(("R", "resistor", Rating::Ohms, *ohms)),
                _ => None,
            };
            if let Some((letter, kind, rating, value)) = passive {
                parts.push(Box::new(move |wired| {
                    wired.part(&tag(letter, number), kind);
                    wired.rate(&tag(letter, number), rating, value, None);
                }));
            }
            leads.push(Box::new(move |wired| {
                let [a, b] = ends.map(spot);
                let label =
                    |letter, number, make: &bool| format!("{}{}", if *make { "" } else { "!" }, tag(letter, number));
                match (between, passive) {
                    (Between::Contact(relay, make), _) => wired.contact(&a, &b, &label("K", *relay, make)),
                    (Between::Lever(lever, make), _) => wired.contact(&a, &b, &label("S", *lever, make)),
                    (_, Some((letter, ..))) => {
                        wired.wire(&a, &format!("{}.1", tag(letter, number)));
                        wired.wire(&format!("{}.2", tag(letter, number)), &b);
                    }
                    _ => wired.wire(&a, &b),
                }
            }));
        }
        for steps in [&mut parts, &mut leads] {
            let by = turn % steps.len();
            steps.rotate_left(by);
            if turn % 2 == 1 {
                steps.reverse();
            }
        }
        for step in parts.iter().chain(&leads) {
            step(&mut wired);
        }
        wired
    }

    fn setting(&self, wired: &Wired, prefix: &str) -> Setting {
        let levers: Vec<String> =
            (0..self.levers_on.len()).filter(|&at| self.levers_on[at]).map(|at| format!("{prefix}S{at}")).collect();
        let sources = [format!("{prefix}G0"), format!("{prefix}X0")];
        wired.levers_on(levers.iter().map(String::as_str), &[&sources[0], &sources[1]])
    }

    /// Where each relay of the plan is in the network.
    fn places(&self, wired: &Wired, network: &Network, prefix: &str) -> Vec<usize> {
        (0..self.coils.len()).map(|at| wired.relay_index(network, &format!("{prefix}K{at}"))).collect()
    }
}

type Ends = BTreeSet<BTreeSet<Vec<bool>>>;

/// Every state that relays can come through from `start`, and the groups of states that, once entered, are never left.
fn walked(start: &[bool], excitation: &impl Excitation) -> (BTreeSet<Vec<bool>>, Ends) {
    let next = |state: &Vec<bool>| -> BTreeSet<Vec<bool>> {
        let fed = excitation.fed(state);
        let about: Vec<usize> = (0..state.len()).filter(|&at| fed[at] != state[at]).collect();
        let fastest = about.iter().map(|&at| excitation.delay(at)).min();
        let about: Vec<usize> = about.into_iter().filter(|&at| Some(excitation.delay(at)) == fastest).collect();
        (1..1_usize << about.len())
            .map(|some| {
                let mut to = state.clone();
                for (bit, &at) in about.iter().enumerate() {
                    to[at] ^= some >> bit & 1 == 1;
                }
                to
            })
            .collect()
    };
    let reach = |from: &Vec<bool>, next: &BTreeMap<Vec<bool>, BTreeSet<Vec<bool>>>| -> BTreeSet<Vec<bool>> {
        let mut seen = BTreeSet::from([from.clone()]);
        let mut open = vec![from.clone()];
        while let Some(state) = open.pop() {
            for to in &next[&state] {
                if seen.insert(to.clone()) {
                    open.push(to.clone());
                }
            }
        }
        seen
    };
    // All states there are: at most sixteen.
    let all =
        (0..1_usize << start.len()).map(|bits| (0..start.len()).map(|at| bits >> at & 1 == 1).collect::<Vec<_>>());
    let next: BTreeMap<Vec<bool>, BTreeSet<Vec<bool>>> = all.map(|state| (state.clone(), next(&state))).collect();
    let states = reach(&start.to_vec(), &next);
    let ends = states.iter().map(|state| reach(state, &next));
    let ends = ends.filter(|group| group.iter().all(|state| reach(state, &next) == *group)).collect();
    (states, ends)
}

/// Holds an outcome against the walk through all orders.
fn agrees(outcome: &Outcome, start: &[bool], excitation: &impl Excitation) -> Result<(), TestCaseError> {
    let (states, ends) = walked(start, excitation);
    let told: Ends = outcome.ends.iter().map(|end| end.iter().cloned().collect()).collect();
    prop_assert_eq!(&told, &ends, "{:?}", outcome);
    let lone = ends.iter().all(|end| end.len() == 1);
    let verdict = match (ends.len(), lone) {
        (1, true) => Verdict::Settles,
        (1, false) => Verdict::Chatters,
        (_, true) => Verdict::Race,
        (_, false) => Verdict::RaceOrChatter,
    };
    prop_assert_eq!(outcome.verdict, verdict);
    let last: Vec<&Vec<bool>> = ends.iter().flatten().collect();
    for at in 0..start.len() {
        if let Some(bit) = outcome.screen.0[at].bit() {
            prop_assert!(
                states.iter().all(|state| state[at] == bit),
                "screen A: relay {} is {}; {:?}",
                at,
                bit,
                outcome
            );
        }
        if let Some(bit) = outcome.screen.1[at].bit() {
            prop_assert!(
                last.iter().all(|state| state[at] == bit),
                "screen B: relay {} ends {}; {:?}",
                at,
                bit,
                outcome
            );
        }
        let values: BTreeSet<bool> = last.iter().map(|state| state[at]).collect();
        let one = if values.len() == 1 { values.first().copied() } else { None };
        prop_assert_eq!(outcome.relays[at].bit(), one);
    }
    Ok(())
}

/// A starting state that stands still: where the network comes to with the levers the other way. The screen is right only
/// from such a state, and nothing else asks it.
fn stable_start(plan: &Plan, wired: &Wired, network: &Network) -> Vec<bool> {
    let before = Plan { levers_on: plan.levers_on.map(|on| !on), ..plan.clone() };
    let places = plan.places(wired, network, "");
    let mut start = vec![false; places.len()];
    for (&at, &bit) in places.iter().zip(&plan.start) {
        start[at] = bit;
    }
    let situation = Situation::from_state(network, &before.setting(wired, ""), &start);
    if situation.outcome.verdict == Verdict::Settles { situation.worked } else { vec![false; start.len()] }
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 150, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn what_the_screen_decides_is_what_every_order_comes_to_by_poles(plan in plan(3)) {
        let wired = plan.wired("", 0);
        let network = wired.network();
        let frame = Frame::of(&network, &plan.setting(&wired, ""));
        let start = stable_start(&plan, &wired, &network);
        let outcome = settle_abstract(&start, &frame, Bounds::default());
        agrees(&outcome, &start, &frame)?;
        if let Some(outcome) = settle_few(&start, &frame) {
            agrees(&outcome, &start, &frame)?;
        }
    }

    #[test]
    fn what_the_screen_decides_is_what_every_order_comes_to_by_volts(plan in plan(2)) {
        let wired = plan.wired("", 0);
        let network = wired.network();
        let elements = Elements::of(&network);
        let frame = Frame::of(&network, &plan.setting(&wired, ""));
        let start = vec![false; network.relays().len()];
        for willing in [Willing::Most, Willing::Middle, Willing::Least] {
            let known = Known::default();
            let by_volts = ByVolts::new(&frame, &elements, None, willing, &known);
            let outcome = settle_abstract(&start, &by_volts, Bounds::default());
            agrees(&outcome, &start, &by_volts)?;
            // From any start, also one that does not stand still.
            for start in [start.clone(), start.iter().map(|bit| !bit).collect::<Vec<bool>>()] {
                if let Some(outcome) = settle_few(&start, &by_volts) {
                    agrees(&outcome, &start, &by_volts)?;
                }
            }
        }
    }

    #[test]
    fn the_order_of_entry_and_the_names_change_nothing(plan in plan(1), turn in 1..40_usize, prefix in "[A-Z]{1,3}") {
        let told = |prefix: &str, turn: usize| {
            let wired = plan.wired(prefix, turn);
            let network = wired.network();
            let setting = plan.setting(&wired, prefix);
            let places = plan.places(&wired, &network, prefix);
            let in_order = |state: &Vec<bool>| places.iter().map(|&at| state[at]).collect::<Vec<bool>>();
            let ends = |outcome: &Outcome| -> Ends {
                outcome.ends.iter().map(|end| end.iter().map(in_order).collect()).collect()
            };
            let mut start = vec![false; places.len()];
            for (&at, &bit) in places.iter().zip(&plan.start) {
                start[at] = bit;
            }
            let situation = Situation::from_state(&network, &setting, &start);
            let again = Situation::from_state(&network, &setting, &start);
            assert_eq!(situation.outcome, again.outcome, "the same start, the same end");
            let elements = Elements::of(&network);
            let live = Live::of(&network, &elements, &setting);
            assert_eq!(live.outcome, Live::of(&network, &elements, &setting).outcome);
            let relays: Vec<Trit> = places.iter().map(|&at| live.relays[at]).collect();
            let loads: BTreeMap<String, Runs> = network
                .loads()
                .iter()
                .enumerate()
                .map(|(at, load)| {
                    let tag = &wired.machine.parts.get(load.inside.part).unwrap().tag;
                    (tag[prefix.len()..].to_owned(), live.load(at).unwrap().runs)
                })
                .collect();
            let verdicts = (situation.outcome.verdict, live.outcome.verdict);
            (verdicts, ends(&situation.outcome), ends(&live.outcome), relays, loads)
        };
        prop_assert_eq!(told("", 0), told(&prefix, turn));
    }

    #[test]
    fn what_has_settled_stays(plan in plan(2)) {
        let wired = plan.wired("", 0);
        let network = wired.network();
        let setting = plan.setting(&wired, "");
        let situation = Situation::of(&network, &setting);
        if situation.outcome.verdict == Verdict::Settles {
            let again = Situation::from_state(&network, &setting, &situation.worked);
            prop_assert_eq!(again.outcome.verdict, Verdict::Settles);
            prop_assert_eq!(&again.worked, &situation.worked);
            prop_assert!(again.outcome.order.is_empty());
        }
    }
}
