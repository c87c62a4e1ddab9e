//! Every rule against machines that must raise it and near-twins that differ by one thing and must not.
//!
//! `tests/rules/<rule>/raises*.ron` and `near-twin*.ron`; the first lines of a file say what it shows or what differs. In
//! `raises*` the line `// expect: severity | things` gives what the finding must be and point at.
#![allow(
    clippy::unwrap_used,
    clippy::expect_used,
    reason = "a test that cannot go on is to fail at once, its helpers too"
)]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};
use std::sync::Arc;

use proptest::prelude::*;
use wirewitness::catalogue::Catalogue;
use wirewitness::findings::{Finding, check, rules};
use wirewitness::machine::{Machine, Shelf, Thing};
use wirewitness::store;

fn folder() -> PathBuf {
    Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/rules")
}

fn catalogue() -> Arc<Catalogue> {
    Catalogue::built_in().unwrap()
}

/// The files of a rule whose name begins so, in order, each with its text.
fn files(rule: &str, begins: &str) -> Vec<(String, String)> {
    let Ok(entries) = fs::read_dir(folder().join(rule)) else { return Vec::new() };
    let mut all: Vec<(String, String)> = entries
        .map(|entry| entry.unwrap().path())
        .filter(|path| path.file_name().unwrap().to_string_lossy().starts_with(begins))
        .map(|path| {
            (format!("{rule}/{}", path.file_name().unwrap().to_string_lossy()), fs::read_to_string(&path).unwrap())
        })
        .collect();
    all.sort();
    all
}

fn machine(name: &str, text: &str) -> Machine {
    store::parse(name, text, &catalogue()).unwrap_or_else(|errors| panic!("{errors}"))
}

fn names(machine: &Machine, about: &[Thing]) -> BTreeSet<String> {
    about.iter().map(|thing| machine.thing_name(thing)).collect()
}

fn said(machine: &Machine, findings: &[Finding]) -> String {
    let lines: Vec<String> = findings
        .iter()
        .map(|f| format!("  {} {} {:?}: {}", f.severity, f.rule, names(machine, &f.about), f.what))
        .collect();
    lines.join("\n")
}

#[test]
fn every_rule_has_a_machine_that_raises_it_and_a_near_twin() {
    for rule in rules() {
        let (raises, twins) = (files(rule.name, "raises"), files(rule.name, "near-twin"));
        assert!(
            !raises.is_empty() && raises.len() == twins.len(),
            "{}: {} and {}",
            rule.name,
            raises.len(),
            twins.len()
        );
    }
    for entry in fs::read_dir(folder()).unwrap() {
        let name = entry.unwrap().file_name().to_string_lossy().into_owned();
        assert!(rules().iter().any(|rule| rule.name == name), "tests/rules/{name} belongs to no rule");
    }
}

#[test]
fn machines_that_must_raise_a_rule_raise_it_as_they_say() {
    let mut wrong: Vec<String> = Vec::new();
    for rule in rules() {
        for (name, text) in files(rule.name, "raises") {
            let machine = machine(&name, &text);
            let expected = text.lines().find_map(|line| line.strip_prefix("// expect: ")).expect(&name);
            let (severity, things) = expected.split_once(" | ").expect(&name);
            let things: BTreeSet<String> = things.split(", ").map(str::to_owned).collect();
            let found = check(&machine, &catalogue());
            let hit = found
                .iter()
                .any(|f| f.rule == rule.name && f.severity.word() == severity && names(&machine, &f.about) == things);
            if !hit {
                wrong.push(format!("{name} must raise {severity} about {things:?}; found\n{}", said(&machine, &found)));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn near_twins_do_not_raise_it() {
    let mut wrong: Vec<String> = Vec::new();
    for rule in rules() {
        for (name, text) in files(rule.name, "near-twin") {
            let machine = machine(&name, &text);
            let found = check(&machine, &catalogue());
            if found.iter().any(|finding| finding.rule == rule.name) {
                wrong.push(format!("{name} must not raise {}; found\n{}", rule.name, said(&machine, &found)));
            }
        }
    }
    assert!(wrong.is_empty(), "{}", wrong.join("\n"));
}

#[test]
fn near_twins_differ_in_few_lines() {
    for rule in rules() {
        for ((name, raises), (_, twin)) in files(rule.name, "raises").iter().zip(files(rule.name, "near-twin")) {
            let lines =
                |text: &str| text.lines().filter(|l| !l.starts_with("//")).map(str::to_owned).collect::<Vec<_>>();
            let (a, b) = (lines(raises), lines(&twin));
            assert_eq!(a.len(), b.len(), "{name}");
            let differ = a.iter().zip(&b).filter(|(a, b)| a != b).count();
            assert!((1..=2).contains(&differ), "{name} and its twin differ in {differ} lines");
        }
    }
}

#[test]
fn sentences_are_whole_and_promise_nothing() {
    for rule in rules() {
        for (name, text) in files(rule.name, "raises") {
            for finding in check(&machine(&name, &text), &catalogue()) {
                for sentence in [&finding.what, finding.why, &finding.do_] {
                    assert!(sentence.ends_with('.') && !sentence.contains("  "), "{name}: {sentence:?}");
                    assert!(
                        sentence.starts_with(|c: char| c.is_uppercase() || c.is_ascii_digit()),
                        "{name}: {sentence:?}"
                    );
                    let lower = sentence.to_lowercase();
                    assert!(
                        !lower.split(|c: char| !c.is_alphabetic()).any(|word| word == concat!("sa", "fe")),
                        "{name}: {sentence}"
                    );
                }
            }
        }
    }
}

/// Every machine of the folder.
fn all_machines() -> Vec<(String, Machine)> {
    let files = rules().iter().flat_map(|rule| [files(rule.name, "raises"), files(rule.name, "near-twin")]).flatten();
    files
        .map(|(name, text)| {
            let machine = machine(&name, &text);
            (name, machine)
        })
        .collect()
}

/// The findings by rule, severity and the names they point at, whatever their order.
fn gist(
    machine: &Machine,
    catalogue: &Catalogue,
    rename: impl Fn(&str) -> String,
) -> BTreeMap<(String, String, BTreeSet<String>), usize> {
    let mut all = BTreeMap::new();
    for finding in check(machine, catalogue) {
        let about = names(machine, &finding.about).iter().map(|name| rename(name)).collect();
        *all.entry((finding.rule.to_owned(), finding.severity.to_string(), about)).or_default() += 1;
    }
    all
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(24))]

    #[test]
    fn findings_do_not_depend_on_the_order_of_wires(seed in any::<u64>()) {
        let catalogue = catalogue();
        for (name, machine) in all_machines() {
            let before = gist(&machine, &catalogue, str::to_owned);
            let mut wires: Vec<_> = machine.wires.values().cloned().collect();
            if wires.is_empty() || !machine.decisions.is_empty() {
                continue;
            }
            let turn = usize::try_from(seed % 97).unwrap() % wires.len();
            wires.rotate_left(turn);
            if seed % 2 == 0 {
                wires.reverse();
            }
            let mut turned = machine.clone();
            turned.wires = Shelf::default();
            for wire in wires {
                turned.wires.add(wire);
            }
            prop_assert_eq!(before, gist(&turned, &catalogue, str::to_owned), "{}", name);
        }
    }

    #[test]
    fn findings_do_not_depend_on_tags(prefix in "[A-Z]{1,4}") {
        let catalogue = catalogue();
        for (name, machine) in all_machines() {
            let before = gist(&machine, &catalogue, str::to_owned);
            let mut renamed = machine.clone();
            for id in machine.parts.ids() {
                let edit = renamed.edit_part(id, "rename", |part| {
                    part.tag = format!("{prefix}{}", part.tag);
                    part.printed = part.printed.as_ref().map(|printed| format!("{prefix}{printed}"));
                });
                renamed.apply(edit);
            }
            let back = |thing: &str| {
                let tag = thing.split('.').next().unwrap_or(thing);
                if renamed.part_by_tag(tag).is_some() { thing.replacen(&prefix, "", 1) } else { thing.to_owned() }
            };
            prop_assert_eq!(before, gist(&renamed, &catalogue, back), "{}", name);
        }
    }
}
