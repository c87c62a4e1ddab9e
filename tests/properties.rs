//! Laws that hold for every machine: 200 invented ones are written, read, checked and drawn up as lists.

use wirewitness::catalogue::Catalogue;
use wirewitness::findings::check;
use wirewitness::generate::invented_machine;
use wirewitness::store::{parse, text_of};

/// Sizes from nothing to some bays, a different seed each.
fn machines() -> impl Iterator<Item = (usize, u64)> {
    (0..200_usize).map(|at| (at * 3 % 251, u64::try_from(at).unwrap_or(0) * 0x1234_5678_9abc))
}

#[test]
fn every_invented_machine_reads_back_as_it_was_written() {
    let catalogue = Catalogue::built_in().unwrap();
    for (wires, seed) in machines() {
        let machine = invented_machine(wires, seed);
        let text = text_of(&machine);
        let read = parse("invented.ron", &text, &catalogue).unwrap_or_else(|error| panic!("{wires}, {seed}: {error}"));
        assert_eq!(read.wires.len(), wires);
        assert_eq!(text_of(&read), text, "{wires} wires, seed {seed}: the same bytes again");
    }
}

#[test]
fn every_invented_machine_is_checked_and_the_same_findings_come_again() {
    let catalogue = Catalogue::built_in().unwrap();
    for (wires, seed) in machines() {
        let machine = invented_machine(wires, seed);
        let findings = check(&machine, &catalogue);
        assert_eq!(check(&machine, &catalogue), findings, "{wires} wires, seed {seed}");
        assert!(findings.is_sorted_by_key(|finding| finding.severity), "{wires} wires, seed {seed}: worst first");
        for finding in &findings {
            for thing in &finding.about {
                assert_ne!(machine.thing_name(thing), "?", "{wires} wires, seed {seed}: {}", finding.what);
            }
        }
    }
}

/// The invented faults are really found: a thing that is off, or not seen, is named by a finding.
#[test]
fn every_loose_or_unseen_end_is_named_by_a_finding() {
    let catalogue = Catalogue::built_in().unwrap();
    for (wires, seed) in machines() {
        let machine = invented_machine(wires, seed);
        let findings = check(&machine, &catalogue);
        let named: Vec<String> =
            findings.iter().flat_map(|finding| finding.about.iter().map(|thing| machine.thing_name(thing))).collect();
        for wire in machine.wires.values() {
            let off = ["loose", "unknown"];
            if off.contains(&machine.end_name(&wire.from.at).as_str())
                || off.contains(&machine.end_name(&wire.to.at).as_str())
            {
                let own = |name: &String| name == &wire.key || name.starts_with(&format!("{}.", wire.key));
                assert!(named.iter().any(own), "{wires} wires, seed {seed}: {}", wire.key);
            }
        }
    }
}
