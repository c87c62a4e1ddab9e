//! What is not on the ladder, the state it is drawn in, and where its drawings may be parted.

use wirewitness::catalogue::Catalogue;
use wirewitness::drawing::{Item, Layer, Shape};
use wirewitness::generate::invented_machine;
use wirewitness::ladder::{Options, Reason, SectionKind, lay_out};

use super::circuits;
use super::demo;

/// The record of the locker as it was found: three coils whose leads go out of sight, a live bare end, leads that are off.
#[test]
fn what_the_locker_does_not_show_is_listed_with_its_reason() {
    let machine = demo("pantry-locker.ron");
    let ladder = lay_out(&machine, &Catalogue::built_in().unwrap(), &Options::default());
    let off = |what: &str| {
        let found = ladder.off.iter().find(|off| off.what == what);
        found.map_or_else(|| panic!("no {what} in {:#?}", ladder.off), |off| (off.reason, off.why.as_str()))
    };
    for coil in ["K1 A1–A2, coil", "K2 A1–A2, coil", "K3 A1–A2, coil"] {
        let (reason, why) = off(coil);
        assert_eq!(reason, Reason::OpenEnd, "{coil}: {why}");
        assert!(why.contains("out of sight"), "{why}");
    }
    assert_eq!(off("K1 11–12, break contact").0, Reason::LooseEnd);
    assert_eq!(off("M1 C–R").0, Reason::LooseEnd);
    assert_eq!(off("K2 11–12, break contact").0, Reason::LeadsNowhere);
    assert_eq!(off("P1"), (Reason::Missing, "its place is empty"));
    assert_eq!(off("wire W03"), (Reason::Earth, "protective earth"));
    // The contacts of those relays are drawn all the same.
    assert!(ladder.devices.iter().any(|device| machine.part_name(device.part) == "K1"));
    // The board senses the door by itself: no supply of the record is in that circuit.
    assert!(ladder.sections.iter().any(|section| section.kind == SectionKind::Input));
}

/// Source: DOE-HDBK-1016/1-93 (de-energised, relaxed state); door switches need a written note, since no convention for them is
/// universal.
#[test]
fn the_state_it_is_drawn_in_is_named_door_by_door() {
    let machine = demo("proofer.ron");
    let ladder = lay_out(&machine, &Catalogue::built_in().unwrap(), &Options::default());
    assert!(ladder.state[0].contains("de-energised"), "{:?}", ladder.state);
    let switches = &ladder.state[1];
    // The door rests shut on this machine; its make contact is drawn open, and that is with the door open.
    for words in ["S1 door open", "B1 thermostat cold", "F3 trip set"] {
        assert!(switches.contains(words), "{switches}");
    }
    let plain = circuits::bridge();
    let ladder = lay_out(&plain.machine, &plain.catalogue, &Options::default());
    assert!(ladder.state[1].contains("S5 button free"));
}

#[test]
fn wires_with_the_same_reason_share_a_line_of_the_list() {
    let machine = demo("proofer.ron");
    let ladder = lay_out(&machine, &Catalogue::built_in().unwrap(), &Options::default());
    let lines: Vec<String> = ladder.off_sentences().into_iter().map(|(_, line)| line).collect();
    assert_eq!(lines, ["wires W04, W09, W13, W16 and W39: protective earth"]);
    assert_eq!(ladder.off.len(), 5);
}

/// At a break only rails run: no symbol and no letters lie there, in any drawing; and together the drawings hold everything.
#[test]
fn drawings_may_be_parted_where_only_rails_run() {
    let catalogue = Catalogue::built_in().unwrap();
    let mut breaks = 0;
    let mut all = vec![demo("pantry-locker.ron"), demo("flower-cooler.ron")];
    all.extend((0..20).map(|seed| invented_machine(200, seed)));
    for machine in all {
        let ladder = lay_out(&machine, &catalogue, &Options::default());
        let drawings = ladder.drawings();
        let pieces: usize = drawings.iter().map(|drawing| drawing.scene.pieces().len()).sum();
        assert_eq!(pieces, ladder.scene().pieces().len());
        for drawing in &drawings {
            let items: Vec<&Item> = drawing.scene.pieces().iter().flat_map(|piece| &piece.items).collect();
            for &at in drawing.breaks_mm.iter().chain([&drawing.head_mm]) {
                for item in &items {
                    let area = item.area().unwrap();
                    let is_rail = item.layer == Layer::Wires
                        && matches!(&item.shape, Shape::Line { points, .. } if points[0].x == points[1].x);
                    let crossed = area.min.y < at && at < area.max.y;
                    assert!(!crossed || is_rail, "{}: {at} parts {item:?}", drawing.title);
                }
                breaks += 1;
            }
        }
    }
    assert!(breaks > 500, "{breaks}");
}

/// A breaker is drawn open, as standards draw what opens a circuit in its open position, though its contact rests closed here: the words
/// beside the drawing say 'off'. Source of the symbol: IEC 60617-7 (07-13-05), from memory.
#[test]
fn a_breaker_is_drawn_open_and_the_words_say_that_it_is_off() {
    for kind in ["breaker-one-pole", "breaker-two-pole"] {
        let mut wired = super::wired::Wired::default();
        for (tag, kind) in [("X1", "cord-plug"), ("F1", kind), ("M1", "evaporator-fan")] {
            wired.part(tag, kind);
        }
        wired.rate("X1", wirewitness::quantity::Rating::Volts, 230.0, None);
        wired.wire("X1.L", "F1.1");
        wired.wire("F1.2", "M1.L");
        wired.wire("M1.N", "X1.N");
        let ladder = lay_out(&wired.machine, &wired.catalogue, &Options::default());
        let said = ladder.state.get(1).unwrap_or_else(|| panic!("{kind}: nothing is said of it: {:?}", ladder.state));
        assert!(said.contains("F1 handle off"), "{kind}: {said}");
        assert!(!said.contains("F1 handle on"), "{kind}: {said}");
    }
}

#[test]
fn a_long_title_is_set_in_lines_none_of_which_lies_over_another_or_over_the_ladder() {
    let mut machine = demo("proofer.ron");
    let title = "Dough proofer of the second bakery, moved from the cellar, with a new door, another fan and the old harness left in";
    machine.facts.title = title.to_owned();
    let ladder = lay_out(&machine, &Catalogue::built_in().unwrap(), &Options::default());
    super::many::assert_no_overlaps(&ladder, "long title");
    let mut heading: Vec<(f64, String)> = Vec::new();
    let lowest_rung = ladder.rungs.iter().map(|rung| rung.y_mm).fold(f64::MAX, f64::min);
    for item in ladder.scene().pieces().iter().flat_map(|piece| &piece.items) {
        if let Shape::Text { at, text, .. } = &item.shape
            && title.contains(text.as_str())
            && at.y < lowest_rung
            && text.len() > 3
        {
            heading.push((at.y, text.clone()));
        }
    }
    heading.sort_by(|a, b| a.0.total_cmp(&b.0));
    assert!(heading.len() > 1, "{heading:?}");
    let all: Vec<&str> = heading.iter().map(|(_, text)| text.as_str()).collect();
    assert_eq!(all.join(" "), title, "every word of it, in its order");
}
