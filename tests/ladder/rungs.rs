//! Published circuits, rung by rung.

use std::fmt::Write as _;

use wirewitness::ladder::{Ladder, Options, What, lay_out};
use wirewitness::machine::Machine;

use super::circuits;
use super::readback::assert_reads_back;
use super::wired::Wired;
use super::wired::circuits::{lighting, start_and_stop};

/// A rung in words: net numbers with the devices between them, from left to right.
fn words(machine: &Machine, ladder: &Ladder, rung: usize) -> String {
    let number = |net: usize| ladder.nets[net].number.clone().unwrap_or_else(|| "-".to_owned());
    let mut out = String::new();
    let mut last = None;
    for &device in &ladder.rungs[rung].devices {
        let device = &ladder.devices[device];
        let [left, right] = &device.ends;
        if last != Some(left.net) {
            out.push_str(&number(left.net));
        }
        let tag = machine.part_name(device.part);
        let (a, b) = (&left.terminal.marking, &right.terminal.marking);
        write!(out, " {tag} {a}-{b} {}", number(right.net)).unwrap();
        last = Some(right.net);
    }
    out
}

fn laid(wired: &Wired) -> (Ladder, Vec<String>) {
    let ladder = lay_out(&wired.machine, &wired.catalogue, &Options::default());
    assert_reads_back(&wired.machine, &wired.catalogue, &ladder, "published circuit");
    let rungs = (0..ladder.rungs.len()).map(|rung| words(&wired.machine, &ladder, rung)).collect();
    (ladder, rungs)
}

/// The rungs beside a coil, with those of break contacts in brackets.
fn references(ladder: &Ladder, machine: &Machine, tag: &str) -> Vec<String> {
    let coil = ladder
        .devices
        .iter()
        .find(|device| device.what == What::Coil && machine.part_name(device.part) == tag)
        .unwrap();
    let one = |reference: &wirewitness::ladder::Reference| {
        let rung = ladder.devices[reference.device].rung.unwrap();
        let number = ladder.rungs[rung].number;
        if reference.breaks { format!("({number})") } else { number.to_string() }
    };
    coil.references.iter().map(one).collect()
}

/// Source: the wire numbers of an open motor-control textbook: line 1, through STOP 2, START and the holding contact share 2,
/// coil side 3; here an overload contact comes first, so everything is one higher. Rungs below one another, holding contact
/// below its start button: the same.
#[test]
fn start_and_stop_comes_out_as_textbooks_draw_it() {
    let wired = start_and_stop();
    let (ladder, rungs) = laid(&wired);
    assert_eq!(
        rungs,
        [
            "1 F2 95-96 2 S0 21-22 3 S1 13-14 4 Q1 A1-A2 5",
            "3 Q1 13-14 4",
            "1 Q1 1-2 6 F2 1-2 7 M1 L-N 8 F2 4-3 9 Q1 4-3 5",
        ]
    );
    assert_eq!(references(&ladder, &wired.machine, "Q1"), ["2", "3", "3"]);
    assert_eq!(ladder.crossings, 0);
}

/// Source: as above; each contactor's break contact stands in the other's rung, between the start button and the coil.
#[test]
fn forward_and_reverse_hold_each_other_out() {
    let wired = circuits::forward_and_reverse();
    let (ladder, rungs) = laid(&wired);
    assert_eq!(
        rungs,
        [
            "1 F2 95-96 2 S0 21-22 3 S1 13-14 4 K2 22-21 5 K1 A1-A2 6",
            "3 K1 11-14 4",
            "3 S2 13-14 7 K1 22-21 8 K2 A1-A2 6",
            "3 K2 11-14 7",
        ]
    );
    assert_eq!(references(&ladder, &wired.machine, "K1"), ["2", "(3)"]);
    assert_eq!(references(&ladder, &wired.machine, "K2"), ["(1)", "4"]);
    assert_eq!(ladder.crossings, 0);
}

/// Source: the trade's first convention for four terminals: 1 common, 4 cools, 2 defrosts, motor 1-3 (service text).
#[test]
fn the_defrost_timer_feeds_cooling_or_heater() {
    let wired = circuits::defrost();
    let (ladder, rungs) = laid(&wired);
    assert_eq!(rungs, ["1 B1 1-2 2 P1 1-2 3 B2 1-2 4 E1 1-2 5", "2 P1 1-4 6 M1 L-N 5", "6 M2 L-N 5", "2 P1 1-3 5"]);
    assert_eq!(ladder.crossings, 0);
}

/// Source: lighting from two places (handbook): two change-over contacts with two travellers between, then the lamp.
#[test]
fn a_lamp_between_two_change_over_switches_has_two_travellers() {
    let wired = lighting(0).0;
    let (ladder, rungs) = laid(&wired);
    assert_eq!(rungs, ["1 A 2-1 2 Z 3-2 3 P1 1-2 4", "1 A 2-3 5 Z 1-2 3"]);
    assert_eq!(ladder.crossings, 0);
}

/// Source: as above with a four-way switch between. Its two ways through and two ways across between four travellers are no
/// series-parallel circuit, and with lamp and supply beside them no plane drawing is without a crossing (K3,3): one remains.
#[test]
fn a_four_way_switch_is_drawn_with_one_crossing_and_no_contact_twice() {
    let wired = lighting(1).0;
    let (ladder, _) = laid(&wired);
    let contacts = ladder.devices.iter().filter(|device| matches!(device.what, What::Contact(_))).count();
    assert_eq!(contacts, 8);
    assert_eq!(ladder.crossings, 1);
}

/// Source: the bridge of five contacts closes by ac, bd, aed or bec; it is drawn plane, with e upright between the rows.
#[test]
fn a_bridge_has_its_link_upright_between_two_rows() {
    let wired = circuits::bridge();
    let (ladder, rungs) = laid(&wired);
    assert_eq!(rungs, ["1 S1 13-14 2 S3 13-14 3 P1 1-2 4", "2 S5 13-14 5", "1 S2 13-14 5 S4 13-14 3"]);
    let link = ladder.devices.iter().find(|device| wired.machine.part_name(device.part) == "S5").unwrap();
    assert!(link.upright);
    assert_eq!(ladder.crossings, 0);
}

/// Three lines to the motor above, the coil between a line and neutral below (IEC 61082-1: supply lines in the order L1, L2, L3, N).
#[test]
fn the_three_phase_power_part_stands_above_its_control() {
    let wired = circuits::three_phase();
    let (ladder, rungs) = laid(&wired);
    assert_eq!(
        rungs[..5],
        [
            "1 F1 1-2 4 Q1 1-2 5 F2 1-2 6 M1 U-~1 -",
            "2 F1 3-4 7 Q1 3-4 8 F2 3-4 9 M1 V-~1 -",
            "3 F1 5-6 10 Q1 5-6 11 F2 5-6 12 M1 W-~1 -",
            "1 F3 1-2 13 F2 95-96 14 S0 21-22 15 S1 13-14 16 Q1 A1-A2 17",
            "15 Q1 13-14 16",
        ]
    );
    assert_eq!(ladder.crossings, 0);
}

/// A transformer's circuit is a ladder of its own below the one that feeds it; main protection stands in the rail.
#[test]
fn a_lower_voltage_has_a_ladder_of_its_own() {
    let wired = circuits::compressor();
    let (ladder, rungs) = laid(&wired);
    assert_eq!(
        rungs,
        [
            "2 K1 13-14 3 F2 1-2 4 M1 C-R 5",
            "4 M1 C-S 6 C1 1-2 5",
            "3 M2 L-N 5",
            "2 T1 H1-H2 5",
            "7 B1 1-2 8 F3 1-2 9 K1 A1-A2 10",
        ]
    );
    assert_eq!(ladder.sections.len(), 2);
    let head: Vec<&str> =
        ladder.sections[0].head.iter().map(|&at| wired.machine.part_name(ladder.devices[at].part)).collect();
    assert_eq!(head, ["F1"]);
    assert!(ladder.sections[0].area.max.y < ladder.sections[1].area.min.y);
}

/// Source: open motor-control textbook: the number changes when a device is passed and stays across splices and terminals.
#[test]
fn a_wire_number_changes_across_every_device_and_nowhere_else() {
    for (name, wired) in circuits::published() {
        let ladder = lay_out(&wired.machine, &wired.catalogue, &Options::default());
        for device in &ladder.devices {
            let [a, b] = &device.ends;
            assert_ne!(a.net, b.net, "{name}");
            let numbers = [a, b].map(|end| ladder.nets[end.net].number.as_ref());
            assert!(numbers[0] != numbers[1] || numbers[0].is_none(), "{name}: {numbers:?} on both sides of a device");
        }
        let mut seen = std::collections::BTreeSet::new();
        for net in &ladder.nets {
            if let Some(number) = &net.number {
                assert!(seen.insert(number.clone()), "{name}: number {number} on two nets");
            }
        }
    }
}

#[test]
fn numbers_found_printed_are_kept_and_not_given_again() {
    let mut wired = start_and_stop();
    let mut machine = wired.machine.clone();
    let (id, wire) = machine.wires.iter().nth(1).map(|(id, wire)| (id, wire.clone())).unwrap();
    let numbered = wirewitness::machine::Wire { number: Some("3".to_owned()), ..wire };
    machine.wires.put(id, Some(std::sync::Arc::new(numbered)));
    wired.machine = machine;
    let (_, rungs) = laid(&wired);
    assert_eq!(rungs[0], "1 F2 95-96 3 S0 21-22 2 S1 13-14 4 Q1 A1-A2 5");
}
