//! What is proved of a removal, held against switching functions of the first paper on switching, and what a person sees.
//!
//! C. E. Shannon, "A symbolic analysis of relay and switching circuits", Trans. AIEE 57 (1938), 713-723. Data:
//! tests/outside/shannon_examples.json (expressions from memory of the paper, equalities machine-checked there).
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

mod wired;

use std::collections::BTreeMap;
use std::path::Path;
use std::sync::Arc;

use proptest::prelude::*;
use serde_json::Value;
use wired::Wired;
use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::Situation;
use wirewitness::generate::{invented_machine, wild_machine};
use wirewitness::machine::{Change as Entry, Edit, Machine, Setting, WireId, WireState};
use wirewitness::removal::{Budget, Change, Method, Verdict, compare, judge, plan, what_changes};
use wirewitness::store;

fn catalogue() -> Arc<Catalogue> {
    Catalogue::built_in().unwrap()
}

fn demo(name: &str) -> Machine {
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("diagrams").join(name);
    store::load(&path, &catalogue()).unwrap().machine
}

fn key(machine: &Machine, key: &str) -> WireId {
    machine.wire_by_key(key).unwrap()
}

/// A lamp behind two networks of contacts in parallel: `first` and `second`. Returns the machine, and the leads that tie in each.
fn lamp_behind(networks: [&[(String, String, String)]; 2], hindrance: bool) -> (Wired, [WireId; 2]) {
    let mut wired = Wired::default();
    wired.battery();
    wired.part("P1", "lamp");
    let labels: std::collections::BTreeSet<&str> =
        networks.iter().flat_map(|list| list.iter().map(|one| one.2.trim_start_matches('!'))).collect();
    for label in labels {
        wired.part(&format!("S{label}"), "ganged-switch");
    }
    wired.wire("P1.2", "-");
    let mut ties = [WireId(0); 2];
    for (which, list) in networks.into_iter().enumerate() {
        let place = |name: &str| match name {
            "a" => "+".to_owned(),
            other => format!("N{which}{}", other.replace('/', "x")),
        };
        for (from, to, label) in list {
            let (turned, name) = label.strip_prefix('!').map_or((false, label.as_str()), |name| (true, name));
            // A hindrance conducts when its variable is 0.
            let label = if turned == hindrance { format!("S{name}") } else { format!("!S{name}") };
            wired.contact(&place(from), &place(to), &label);
        }
        wired.wire(&place("b"), "out");
        ties[which] = wired.machine.wires.ids().next_back().unwrap();
    }
    wired.wire("out", "P1.1");
    (wired, ties)
}

fn netlist(value: &Value) -> Vec<(String, String, String)> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    value.as_array().unwrap().iter().map(|one| (text(&one[0]), text(&one[1]), text(&one[2]))).collect()
}

fn runs(wired: &Wired, machine: &Machine, setting: &Setting) -> bool {
    let network = wirewitness::circuit::Network::of(machine, &wired.catalogue);
    wired.runs(&Situation::of(&network, setting), "P1")
}

/// Taking either network's lead out changes nothing exactly when the other one closes in all rows in which this one does.
fn same(wired: &Wired, tie: WireId) -> bool {
    match what_changes(&wired.machine, &wired.catalogue, &[tie], Budget::default()) {
        Change::Nothing(_) => true,
        Change::Differs(wire, witness) => {
            // The condition shown is put on the machine with the lead and without it: the lamp must differ.
            let mut machine = wired.machine.clone();
            let mut condition = witness.condition.clone();
            "shown".clone_into(&mut condition.name);
            let id = machine.conditions.add(condition);
            let setting = machine.setting(id);
            let mut without = machine.clone();
            let mut lead = without.wires.get(wire).unwrap().clone();
            lead.state = WireState::Removed;
            without.wires.put(wire, Some(Arc::new(lead)));
            assert!(runs(wired, &machine, &setting), "{}", witness.condition.how);
            assert!(!runs(wired, &without, &setting), "{}", witness.condition.how);
            assert!(witness.loads.iter().any(|load| load.starts_with("P1")), "{:?}", witness.loads);
            false
        }
        other => panic!("{other:?}"),
    }
}

#[test]
fn the_two_networks_of_figure_5_do_each_others_work_and_their_near_twins_do_not() {
    let data: Value = serde_json::from_str(include_str!("outside/shannon_examples.json")).unwrap();
    let example = &data["fig5_simplification"];
    let [before, after] = ["netlist_before", "netlist_after"].map(|which| netlist(&example[which]));
    let (wired, ties) = lamp_behind([&before, &after], true);
    assert!(same(&wired, ties[0]), "13 contacts beside 6: equal by the paper");
    assert!(same(&wired, ties[1]));
    assert!(matches!(
        what_changes(&wired.machine, &wired.catalogue, &ties, Budget::default()),
        Change::Differs(wire, _) if wire == ties[1]
    ));
    // Each contact of the simpler one turned over, or left out: row by row no longer equal.
    let rows = |list: &[(String, String, String)]| (0..64).map(|row| closes(list, row)).collect::<Vec<bool>>();
    let mut refuted = 0;
    for at in 0..after.len() {
        let mut turned = after.clone();
        let label = turned[at].2.clone();
        turned[at].2 = label.strip_prefix('!').map_or_else(|| format!("!{label}"), str::to_owned);
        let mut less = after.clone();
        less.remove(at);
        for near in [turned, less] {
            let covered = rows(&before).iter().zip(rows(&near)).all(|(first, near)| !first || near);
            let (wired, ties) = lamp_behind([&before, &near], true);
            assert_eq!(same(&wired, ties[0]), covered, "contact {at}");
            refuted += usize::from(!covered);
        }
    }
    assert!(refuted >= after.len(), "most near twins are refuted: {refuted}");
}

/// Whether posts a and b are joined; variables S V W X Y Z as bits, 1 open.
fn closes(list: &[(String, String, String)], row: u32) -> bool {
    let names = ["S", "V", "W", "X", "Y", "Z"];
    let conducts = |label: &str| {
        let name = label.trim_start_matches('!');
        let one = row >> names.iter().position(|&own| own == name).unwrap() & 1 == 1;
        one == label.starts_with('!')
    };
    let mut reached = vec!["a"];
    loop {
        let more = list.iter().filter(|one| conducts(&one.2)).find_map(|(from, to, _)| {
            let (f, t) = (reached.contains(&from.as_str()), reached.contains(&to.as_str()));
            if f && !t {
                Some(to.as_str())
            } else if t && !f {
                Some(from.as_str())
            } else {
                None
            }
        });
        match more {
            Some(place) => reached.push(place),
            None => return reached.contains(&"b"),
        }
    }
}

/// Symmetric functions: the triangular network beside the same one of other levels.
#[test]
fn symmetric_functions_are_equal_to_themselves_and_not_to_those_of_other_levels() {
    let triangle = |n: u32, levels: &[u32]| {
        let post = |variable: u32, level: u32| match (variable, level) {
            (0, _) => "a".to_owned(),
            (last, level) if last == n && levels.contains(&level) => "b".to_owned(),
            _ => format!("{variable}/{level}"),
        };
        let mut list = Vec::new();
        for variable in 0..n {
            for level in 0..=variable {
                list.push((post(variable, level), post(variable + 1, level), format!("!{variable}")));
                list.push((post(variable, level), post(variable + 1, level + 1), variable.to_string()));
            }
        }
        list
    };
    for (n, levels) in [(3, vec![1]), (4, vec![1, 3, 4]), (5, vec![2])] {
        let own = triangle(n, &levels);
        let (wired, ties) = lamp_behind([&own, &own], false);
        assert!(same(&wired, ties[0]), "{n} {levels:?}");
        let other: Vec<u32> = levels.iter().copied().skip(1).chain([0]).collect();
        let (wired, ties) = lamp_behind([&own, &triangle(n, &other)], false);
        assert!(!same(&wired, ties[0]), "{n} {levels:?} beside {other:?}");
    }
}

/// A balanced bridge carries nothing in its middle by its values; it is in use all the same.
#[test]
fn a_balanced_bridge_is_no_dead_wire() {
    let mut wired = Wired::default();
    wired.battery();
    for tag in ["P1", "P2", "P3", "P4"] {
        wired.part(tag, "lamp");
    }
    for (lamp, from, to) in [("P1", "+", "left"), ("P2", "left", "-"), ("P3", "+", "right"), ("P4", "right", "-")] {
        wired.wire(from, &format!("{lamp}.1"));
        wired.wire(&format!("{lamp}.2"), to);
    }
    wired.wire("left", "right");
    let middle = wired.machine.wires.ids().next_back().unwrap();
    let verdicts = judge(&wired.machine, &wired.catalogue, Budget::default());
    assert_eq!(verdicts.wires[&middle].verdict, Verdict::InUse);
}

#[test]
fn nothing_is_called_dead_when_the_budget_is_gone() {
    let machine = demo("flower-cooler.ron");
    for budget in [Budget { most_steps: 0, ..Budget::default() }, Budget { go_on: &|| false, ..Budget::default() }] {
        let verdicts = judge(&machine, &catalogue(), budget);
        assert!(verdicts.wires.values().all(|one| !one.verdict.may_go()), "out of budget nothing goes");
    }
}

#[test]
fn the_demo_machines_are_judged_as_a_technician_would() {
    let machine = demo("pantry-locker.ron");
    let verdicts = judge(&machine, &catalogue(), Budget::default());
    let of = |wire: &str| &verdicts.wires[&key(&machine, wire)];
    // The bare black-red end on K1's break contact; the green and the pink lead; protective earth; the transformer's feed.
    assert_eq!(of("W29").verdict, Verdict::LiveStub);
    for wire in ["W30", "W31", "W50"] {
        assert_eq!(of(wire).verdict, Verdict::CannotBeSaid, "{wire}");
        assert!(of(wire).missing.iter().any(|missing| missing.contains("W30.to") || missing.contains("W50.to")));
    }
    assert_eq!(of("W03").verdict, Verdict::InUse);
    assert_eq!(of("W04").verdict, Verdict::InUse);
    assert!(of("W27").rests_on.iter().any(|one| one.contains("W48")), "the door switch was not followed lead by lead");
    assert_eq!(verdicts.may_go(), [key(&machine, "W29")]);
    for name in ["flower-cooler.ron", "proofer.ron"] {
        let machine = demo(name);
        let verdicts = judge(&machine, &catalogue(), Budget::default());
        let odd: Vec<_> = verdicts.wires.iter().filter(|(_, one)| one.verdict != Verdict::InUse).collect();
        assert!(odd.is_empty(), "{name} is documented and whole: {odd:?}");
    }
}

#[test]
fn a_plan_isolates_first_and_takes_nothing_off_that_stays() {
    let machine = demo("pantry-locker.ron");
    let verdicts = judge(&machine, &catalogue(), Budget::default());
    let (stub, used) = (key(&machine, "W29"), key(&machine, "W04"));
    let steps = plan(&machine, &catalogue(), &verdicts, &[stub, used]);
    let keys: Vec<&str> = steps.iter().map(|step| step.key.as_str()).collect();
    let wanted = [
        "W04.stays",
        "flammable",
        "isolate",
        "lock",
        "stored",
        "verify",
        "W29.find",
        "W29.read-before",
        "W29.take-off-from",
        "W29.take-off-to",
        "W29.read-after",
        "W29.out",
        "openings",
        "tidy",
        "earth",
        "try",
    ];
    assert_eq!(keys, wanted);
    assert!(steps.iter().all(|step| !step.what.to_lowercase().contains(&["sa", "fe"].concat())), "no promise");
    let only = plan(&machine, &catalogue(), &verdicts, &[used]);
    assert_eq!(only.len(), 1, "nothing to take off, nothing to do");
}

#[test]
fn steps_are_ticked_off_kept_in_the_file_and_taken_back_in_one() {
    let mut machine = demo("pantry-locker.ron");
    let before = machine.clone();
    let stub = key(&machine, "W29");
    for (step, at) in [("isolate", None), ("take-off-from", Some(stub)), ("out", Some(stub))] {
        let edit = machine.tick_off(step, at, "2026-03-09 10:15", "second technician");
        machine.apply(edit);
    }
    assert!(machine.tick_off("out", Some(stub), "", "").is_empty(), "once is enough");
    let wire = machine.wires.get(stub).unwrap();
    assert!(wire.from.lifted && wire.state == WireState::Removed);
    let text = store::text_of(&machine);
    let read = store::parse("ticked.ron", &text, &catalogue()).unwrap();
    assert_eq!(store::text_of(&read), text, "the same bytes again");
    assert_eq!(read.ticks.values().collect::<Vec<_>>(), machine.ticks.values().collect::<Vec<_>>());
    let said = compare(&before, &machine);
    assert_eq!(said.removed, ["Wire W29 from K1.12 to loose: taken out."]);
    // Another day: isolating is done again, what is off stays off.
    let mut another_day = machine.clone();
    let again = another_day.isolate_again();
    another_day.apply(again);
    assert_eq!(another_day.ticks.values().map(|tick| tick.step.as_str()).collect::<Vec<_>>(), ["take-off-from", "out"]);
    assert_eq!(another_day.wires, machine.wires);
    let stop = machine.stop_removal();
    machine.apply(stop);
    assert_eq!(store::text_of(&machine), store::text_of(&before));
}

#[test]
fn two_records_are_compared_in_words() {
    let old = demo("pantry-locker.ron");
    assert!(compare(&old, &old).is_empty());
    let mut new = old.clone();
    let change = |machine: &mut Machine, wire: &str, how: &dyn Fn(&mut wirewitness::machine::Wire)| {
        let id = key(machine, wire);
        let mut entry = machine.wires.get(id).unwrap().clone();
        how(&mut entry);
        machine.wires.put(id, Some(Arc::new(entry)));
    };
    change(&mut new, "W04", &|wire| wire.number = Some("7".to_owned()));
    change(&mut new, "W05", &|wire| wire.from.at = wirewitness::machine::EndAt::Loose);
    let gone = key(&new, "W30");
    new.wires.put(gone, None);
    let said = compare(&old, &new);
    assert_eq!(said.removed, ["Wire W30 from TB1.10a to loose."]);
    assert_eq!(said.added, Vec::<String>::new());
    assert_eq!(
        said.changed,
        ["W04 was re-marked: number 7, before none.", "W05.from was moved: on loose, before on T1.H2."]
    );
    assert_eq!(compare(&new, &old).added, ["Wire W30 from TB1.10a to loose."]);
}

proptest! {
    #![proptest_config(ProptestConfig { cases: 64, failure_persistence: None, ..ProptestConfig::default() })]

    #[test]
    fn taking_any_wire_out_and_undoing_it_gives_the_same_record(wires in 1_usize..80, seed in 0_u64..1000, pick in 0_usize..1000) {
        let mut machine = invented_machine(wires, seed);
        let before = machine.clone();
        let ids: Vec<WireId> = machine.wires.ids().collect();
        let id = ids[pick % ids.len()];
        let mut wire = machine.wires.get(id).unwrap().clone();
        wire.state = WireState::Removed;
        let undo = machine.apply(Edit::one("Take out", Entry::Wire(id, Some(Arc::new(wire)))));
        prop_assert!(machine != before);
        machine.apply(undo);
        prop_assert_eq!(&machine, &before);
        let edit = machine.tick_off("out", Some(id), "2026-03-09", "R.");
        let undo = machine.apply(edit);
        machine.apply(undo);
        prop_assert_eq!(&machine, &before);
    }
}

/// Machines without any order: everything comes to an end, and nothing goes of which the record does not know the ends.
#[test]
fn machines_at_random_are_judged_to_an_end() {
    let catalogue = catalogue();
    let budget = Budget { most_nodes: 2_000, most_steps: 60_000, ..Budget::default() };
    for seed in 0..60_u64 {
        let machine = wild_machine(3 + usize::try_from(seed % 9).unwrap(), seed, &catalogue);
        let verdicts = judge(&machine, &catalogue, budget);
        let all: Vec<WireId> = machine.wires.ids().collect();
        for (id, judged) in &verdicts.wires {
            let wire = machine.wires.get(*id).unwrap();
            let unseen = [&wire.from, &wire.to].iter().any(|end| end.at == wirewitness::machine::EndAt::Unknown);
            if unseen && wire.state == WireState::InPlace {
                assert_eq!(judged.verdict, Verdict::CannotBeSaid, "seed {seed}: {}", judged.reason);
            }
            assert!(
                judged.verdict != Verdict::CannotBeSaid || !judged.missing.is_empty(),
                "seed {seed}: {}",
                judged.reason
            );
        }
        let steps = plan(&machine, &catalogue, &verdicts, &all);
        let keys: std::collections::BTreeSet<&str> = steps.iter().map(|step| step.key.as_str()).collect();
        assert_eq!(keys.len(), steps.len(), "seed {seed}: every step has a key of its own");
        let _ = what_changes(&machine, &catalogue, &verdicts.may_go(), budget);
        assert!(compare(&machine, &machine).is_empty(), "seed {seed}");
    }
}

/// The method and the number of conditions belong to the answer.
#[test]
fn a_proof_says_how_and_over_how_many_conditions() {
    let mut wired = Wired::default();
    wired.battery();
    wired.part("P1", "lamp");
    wired.part("S1", "ganged-switch");
    wired.contact("+", "m", "S1");
    wired.contact("m", "n", "!S1");
    wired.wire("n", "P1.1");
    wired.wire("P1.2", "-");
    let verdicts = judge(&wired.machine, &wired.catalogue, Budget::default());
    // One source and one lever: four conditions. Nothing is ever fed through a make and a break contact of one lever.
    assert_eq!(verdicts.conditions, Some(4.0));
    let by_verdict: BTreeMap<&str, usize> = verdicts.wires.values().fold(BTreeMap::new(), |mut all, one| {
        *all.entry(one.verdict.word()).or_default() += 1;
        all
    });
    assert!(!by_verdict.contains_key("in-use"), "{by_verdict:?}");
    let last = verdicts.wires.values().find(|one| one.reason.starts_with("W7 ")).unwrap();
    assert_eq!(last.proof.unwrap().method, Method::Sweep);
}

/// A transformer that is fed by another one, which is entered after it: once the feeding one is found to be fed, what hangs on the first
/// can be live. Common practice, no source.
#[test]
fn what_hangs_on_a_transformer_behind_another_one_is_never_called_dead() {
    let catalogue = catalogue();
    let text = r#"(format: 1, machine: (title: "two", source: "invented"), parts: [
        (tag: "X1", kind: "cord-plug", ratings: {"volts": "230 V AC", "hertz": "50 Hz"}),
        (tag: "T1", kind: "control-transformer", ratings: {"volts": "115 V AC", "secondary_volts": "24 V AC", "volt_amps": "40 VA"}),
        (tag: "T2", kind: "control-transformer", ratings: {"volts": "230 V AC", "secondary_volts": "115 V AC", "volt_amps": "40 VA"}),
        (tag: "TB1", kind: "terminal-strip", count: 3)],
        wires: [(key: "W1", from: "X1.L", to: (at: "TB1.1a", known: assumed)), (key: "W2", from: "TB1.1b", to: "T2.H1"), (key: "W3", from: "X1.N", to: "T2.H2"),
            (key: "W4", from: "T2.X1", to: "T1.H1"), (key: "W5", from: "T2.X2", to: "T1.H2"),
            (key: "W6", from: "T1.X1", to: "TB1.2a"), (key: "W7", from: "T1.X2", to: "TB1.3a"), (key: "W8", from: "TB1.2b", to: "loose")])"#;
    let machine = wirewitness::store::parse("two", text, &catalogue).unwrap_or_else(|errors| panic!("{errors}"));
    let verdicts = judge(&machine, &catalogue, Budget::default());
    for name in ["W6", "W8"] {
        let judged = &verdicts.wires[&key(&machine, name)];
        assert!(judged.verdict != Verdict::Dead && judged.live != Some(false), "{name}: {judged:?}");
    }
}

#[test]
fn a_supply_is_never_dead_and_what_is_live_only_when_held_in_says_that_it_comes_after_something() {
    // A second supply without a wire; and a spare contact that a relay which holds itself in makes live: press, then let go.
    let text = r#"(format: 1, machine: (title: "held", source: "invented"), parts: [
        (tag: "X1", kind: "cord-plug", ratings: {"volts": "24 V AC", "hertz": "50 Hz"}),
        (tag: "X2", kind: "cord-plug", ratings: {"volts": "24 V AC", "hertz": "50 Hz"}),
        (tag: "S1", kind: "push-button-make"),
        (tag: "K1", kind: "relay-two-change-over", ratings: {"coil_volts": "24 V AC", "coil_ohms": "177 Ω"})],
        wires: [(key: "W1", from: "X1.L", to: "S1.13"), (key: "W2", from: "S1.14", to: "K1.A1"), (key: "W3", from: "K1.A2", to: "X1.N"),
            (key: "W4", from: "X1.L", to: "K1.11"), (key: "W5", from: "K1.14", to: "K1.A1"),
            (key: "W6", from: "X1.L", to: "K1.21"), (key: "W9", from: "K1.24", to: "loose")])"#;
    let catalogue = catalogue();
    let machine = store::parse("held", text, &catalogue).unwrap_or_else(|errors| panic!("{errors}"));
    let verdicts = judge(&machine, &catalogue, Budget::default());
    let part = |tag: &str| machine.part_by_tag(tag).unwrap();
    let supply = &verdicts.parts[&part("X2")];
    assert_eq!(supply.verdict, Verdict::LiveStub, "{supply:?}");
    assert!(supply.reason.contains("live whenever it is on"));
    let stub = &verdicts.wires[&key(&machine, "W9")];
    assert_eq!(stub.verdict, Verdict::LiveStub, "{stub:?}");
    let witness = stub.witness.as_ref().unwrap();
    let pressed = witness.condition.positions.values().any(|position| position == "pressed");
    assert_eq!(witness.after_another, !pressed, "from rest it is live only while the button is pressed: {witness:?}");
}
