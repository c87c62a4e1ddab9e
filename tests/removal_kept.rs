//! What must not change when wires are taken out: earth, protection against overcurrent, interlocks; each with a near twin that may go.
//! And wires that carry only while relays move, and wires whose part is gone.
//!
//! IEC 60204-1: continuity of the protective bonding circuit (8.2), protection against overcurrent (7.2), interlocks of contrary motions
//! (9.3); the clauses are from memory. That a redundant lead beside another may go is common practice, no source.
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

mod wired;

use std::sync::Arc;

use wired::Wired;
use wirewitness::machine::{Constraint, EndAt, Machine, Mounting, Part, Statement, Tick, WireId, WireState};
use wirewitness::quantity::{Colour, WireColour};
use wirewitness::removal::{Budget, Change, Judged, Method, Verdict, Witness, judge, plan, what_changes};

fn last(wired: &Wired) -> WireId {
    wired.machine.wires.ids().next_back().unwrap()
}

fn changes(wired: &Wired, wires: &[WireId]) -> Change {
    what_changes(&wired.machine, &wired.catalogue, wires, Budget::default())
}

fn judged(wired: &Wired, wire: WireId) -> Judged {
    judge(&wired.machine, &wired.catalogue, Budget::default()).wires.remove(&wire).unwrap()
}

fn coloured(wired: &mut Wired, wire: WireId, colour: Colour) {
    let mut entry = wired.machine.wires.get(wire).unwrap().clone();
    entry.colour = Some(WireColour::plain(colour));
    wired.machine.wires.put(wire, Some(Arc::new(entry)));
}

/// A lamp on the battery, and a metal part that is bonded to the earth stud by two leads one beside the other.
#[test]
fn earth_continuity_is_not_given_up_even_where_a_second_lead_keeps_it() {
    let mut wired = Wired::default();
    wired.battery();
    wired.part("P1", "lamp");
    wired.wire("+", "P1.1");
    wired.wire("P1.2", "-");
    wired.part("PE1", "earth-stud");
    let mut bonds = Vec::new();
    for _ in 0..2 {
        wired.wire("PE1.PE", "bond");
        bonds.push(last(&wired));
    }
    assert_eq!(changes(&wired, &bonds[..1]), Change::Earth(vec![bonds[0]]));
    assert_eq!(judged(&wired, bonds[0]).verdict, Verdict::InUse);
    // By its colour alone it is taken for earth: nothing on it is recorded.
    wired.wire("here", "there");
    let lead = last(&wired);
    let twin = changes(&wired, &[lead]);
    assert!(matches!(twin, Change::Nothing(_)), "the near twin is a lead like others: {twin:?}");
    for colour in [Colour::GreenYellow, Colour::Green] {
        coloured(&mut wired, lead, colour);
        assert_eq!(changes(&wired, &[lead]), Change::Earth(vec![lead]), "{colour:?}");
        assert_eq!(judged(&wired, lead).verdict, Verdict::CannotBeSaid);
    }
}

/// A lamp behind a fuse, with a lead past the fuse; the near twin is a second lead on the same side of the fuse.
#[test]
fn overcurrent_protection_that_becomes_another_is_a_change() {
    let fused = |past: bool, second_fuse: bool| {
        let mut wired = Wired::default();
        wired.battery();
        wired.part("P1", "lamp");
        wired.part("F1", "fuse");
        wired.wire("+", "F1.1");
        let feed = last(&wired);
        wired.wire("F1.2", "lamp");
        wired.wire("lamp", "P1.1");
        wired.wire("P1.2", "-");
        if second_fuse {
            wired.part("F2", "fuse");
            wired.wire("+", "F2.1");
            wired.wire("F2.2", "lamp");
        } else if past {
            wired.wire("+", "lamp");
        } else {
            wired.wire("lamp", "P1.1");
        }
        let added = last(&wired);
        (wired, feed, added)
    };
    let names_fuse = |change: &Change, fuse: &str| match change {
        Change::Differs(_, witness) => witness.loads.iter().any(|load| load.contains(fuse)),
        _ => false,
    };
    // Without the lead past it the lamp runs on behind the fuse: it runs as before, and is protected otherwise.
    let (wired, feed, past) = fused(true, false);
    assert!(names_fuse(&changes(&wired, &[past]), "F1"), "{:?}", changes(&wired, &[past]));
    assert_eq!(judged(&wired, past).verdict, Verdict::InUse);
    assert!(matches!(changes(&wired, &[feed]), Change::Differs(..)), "without its feed the fuse protects nothing");
    // Two fuses side by side: without one the other carries all.
    let (wired, feed, _) = fused(false, true);
    assert!(names_fuse(&changes(&wired, &[feed]), "F1"), "{:?}", changes(&wired, &[feed]));
    // The near twin: behind the fuse a second lead from the same place to the same place.
    let (wired, _, twin) = fused(false, false);
    assert!(matches!(changes(&wired, &[twin]), Change::Nothing(_)), "{:?}", changes(&wired, &[twin]));
    assert_eq!(judged(&wired, twin).verdict, Verdict::Redundant);
}

/// Two relays, each with a break contact of the other in its coil's lead, so that never both pull in.
fn contrary(bypass: bool, twin: bool) -> (Wired, WireId) {
    let mut wired = Wired::default();
    wired.battery();
    for tag in ["K1", "K2"] {
        wired.relay(tag, "many-contact-relay");
    }
    for tag in ["S1", "S2"] {
        wired.part(tag, "ganged-switch");
    }
    for (own, other, tag) in [("S1", "K2", "K1"), ("S2", "K1", "K2")] {
        let (ahead, behind) = (format!("a{tag}"), format!("b{tag}"));
        wired.contact("+", &ahead, own);
        wired.contact(&ahead, &behind, &format!("!{other}"));
        wired.wire(&behind, &format!("{tag}.A1"));
        wired.wire(&format!("{tag}.A2"), "-");
    }
    if bypass {
        wired.wire("aK1", "bK1");
    } else if twin {
        wired.wire("bK1", "K1.A1");
    } else {
        let lead = wired.machine.wires.iter().find(|(_, wire)| wired.machine.end_name(&wire.to.at) == "K1.A1");
        let lead = lead.map(|(id, _)| id).unwrap();
        return (wired, lead);
    }
    let added = last(&wired);
    (wired, added)
}

fn never_both(wired: &mut Wired, levers: [&str; 2]) {
    let on = |tag: &str| Statement::Position(wired.id(tag), "lever".to_owned(), "on".to_owned());
    let both = Constraint::NeverBoth(levers.iter().map(|tag| on(tag)).collect());
    wired.machine.constraints.add(both);
}

/// The condition shown is one in which both levers are on.
fn both_on(witness: &Witness) -> bool {
    witness.condition.positions.values().filter(|position| *position == "on").count() == 2
}

#[test]
fn an_interlock_stays_what_it_is() {
    // The interlock's own lead, and a lead past the interlock: with it both relays can pull in, without it only one.
    let (wired, lead) = contrary(false, false);
    assert!(matches!(changes(&wired, &[lead]), Change::Differs(..)));
    let (mut wired, bypass) = contrary(true, false);
    match changes(&wired, &[bypass]) {
        Change::Differs(wire, witness) => {
            assert_eq!(wire, bypass);
            assert!(witness.loads.iter().any(|load| load.contains("K1")), "{:?}", witness.loads);
        }
        other => panic!("{other:?}"),
    }
    // That both levers are on is ruled out in the record: then it guards against just that.
    never_both(&mut wired, ["S1", "S2"]);
    let change = changes(&wired, &[bypass]);
    assert!(matches!(&change, Change::Differs(..) | Change::Guards(..)), "{change:?}");
    // The near twin: a second lead from the interlock to the coil.
    let (wired, twin) = contrary(false, true);
    assert!(matches!(changes(&wired, &[twin]), Change::Nothing(_)), "{:?}", changes(&wired, &[twin]));
}

/// A lamp that lights only when two levers are on, which the record rules out: its lead carries in no condition that is allowed.
#[test]
fn what_does_something_only_where_constraints_are_broken_is_said_to_guard() {
    let mut wired = Wired::default();
    wired.battery();
    wired.part("P1", "lamp");
    for tag in ["S1", "S2", "S3"] {
        wired.part(tag, "ganged-switch");
    }
    wired.contact("+", "between", "S1");
    wired.contact("between", "alarm", "S2");
    wired.wire("alarm", "P1.1");
    let lead = last(&wired);
    wired.wire("P1.2", "-");
    assert!(matches!(changes(&wired, &[lead]), Change::Differs(..)), "nothing is ruled out yet");
    never_both(&mut wired, ["S1", "S3"]);
    assert!(matches!(changes(&wired, &[lead]), Change::Differs(..)), "another rule does not touch it");
    never_both(&mut wired, ["S1", "S2"]);
    match changes(&wired, &[lead]) {
        Change::Guards(wire, witness) => {
            assert_eq!(wire, lead);
            assert!(both_on(&witness) && witness.loads.iter().any(|load| load.contains("P1")), "{witness:?}");
        }
        other => panic!("{other:?}"),
    }
    // The near twin carries nothing, whatever is ruled out.
    wired.wire("alarm", "stub");
    let twin = last(&wired);
    assert!(matches!(changes(&wired, &[twin]), Change::Nothing(_)));
}

/// Two relays on one lever. The first one's make and the second one's break contact are in one row with a lamp: it gets current only
/// between the moves of the two.
fn in_passing(second_lever: bool) -> (Wired, WireId) {
    let mut wired = Wired::default();
    wired.battery();
    wired.part("P1", "lamp");
    wired.part("S1", "ganged-switch");
    for tag in ["K1", "K2"] {
        wired.relay(tag, "many-contact-relay");
        wired.wire(&format!("{tag}.A2"), "-");
    }
    wired.contact("+", "one", "S1");
    wired.wire("one", "K1.A1");
    if second_lever {
        wired.part("S2", "ganged-switch");
        wired.contact("one", "two", "S2");
        wired.wire("two", "K2.A1");
    } else {
        wired.wire("one", "K2.A1");
    }
    wired.contact("+", "made", "K1");
    wired.contact("made", "broken", "!K2");
    wired.wire("broken", "P1.1");
    let lead = last(&wired);
    wired.wire("P1.2", "-");
    (wired, lead)
}

#[test]
fn what_carries_only_while_relays_move_is_told_from_what_carries_at_rest_too() {
    let (wired, lead) = in_passing(false);
    let says = judged(&wired, lead);
    assert_eq!(says.verdict, Verdict::TransientOnly, "{says:?}");
    assert!(says.proof.is_some_and(|proof| proof.method != Method::OneCondition), "proved over all conditions");
    assert!(says.witness.as_ref().is_some_and(|witness| witness.moving));
    assert!(!says.verdict.may_go(), "it stays");
    let verdicts = judge(&wired.machine, &wired.catalogue, Budget::default());
    assert!(plan(&wired.machine, &wired.catalogue, &verdicts, &[lead])[0].stays());
    // The near twin has a lever of its own for the second relay: with the first on alone the lamp stays lit.
    let (wired, lead) = in_passing(true);
    let says = judged(&wired, lead);
    assert_eq!(says.verdict, Verdict::InUse, "{says:?}");
    assert!(says.witness.is_some_and(|witness| !witness.moving), "a condition that can be set and kept");
}

/// Behind a transformer, whose output is live only while its input is fed.
#[test]
fn what_carries_only_in_passing_is_found_behind_a_transformer_too() {
    let text = |second: &str| {
        format!(
            r#"(format: 1, machine: (title: "pulse", source: "invented"), parts: [
        (tag: "X1", kind: "cord-plug", ratings: {{"volts": "230 V AC", "hertz": "50 Hz"}}),
        (tag: "T1", kind: "control-transformer", ratings: {{"volts": "230 V AC", "secondary_volts": "24 V AC", "volt_amps": "40 VA"}}),
        (tag: "S1", kind: "toggle-switch"), (tag: "S2", kind: "toggle-switch"),
        (tag: "K1", kind: "relay-change-over", ratings: {{"coil_volts": "24 V AC"}}),
        (tag: "K2", kind: "relay-change-over", ratings: {{"coil_volts": "24 V AC"}}),
        (tag: "P1", kind: "lamp", ratings: {{"volts": "24 V AC"}}),
        (tag: "TB1", kind: "terminal-strip", count: 2)],
        wires: [(key: "W1", from: "X1.L", to: "T1.H1"), (key: "W2", from: "X1.N", to: "T1.H2"),
            (key: "W3", from: "T1.X1", to: "S1.1"), (key: "W4", from: "S1.2", to: "K1.A1"), {second}
            (key: "W6", from: "T1.X2", to: "TB1.1a"), (key: "W7", from: "K1.A2", to: "TB1.1b"), (key: "W8", from: "K2.A2", to: "TB1.1b"),
            (key: "W9", from: "T1.X1", to: "K1.11"), (key: "W10", from: "K1.14", to: "K2.11"), (key: "W11", from: "K2.12", to: "P1.1"),
            (key: "W12", from: "P1.2", to: "TB1.1b")])"#
        )
    };
    let catalogue = wirewitness::catalogue::Catalogue::built_in().unwrap();
    let of = |second: &str| {
        let read = wirewitness::store::parse("pulse", &text(second), &catalogue);
        let machine = read.unwrap_or_else(|errors| panic!("{errors}"));
        let wire = machine.wire_by_key("W10").unwrap();
        judge(&machine, &catalogue, Budget::default()).wires.remove(&wire).unwrap()
    };
    let says = of(r#"(key: "W5", from: "K1.A1", to: "K2.A1"),"#);
    assert_eq!(says.verdict, Verdict::TransientOnly, "{says:?}");
    let says = of(r#"(key: "W5", from: "S1.2", to: "S2.1"), (key: "W13", from: "S2.2", to: "K2.A1"),"#);
    assert_eq!(says.verdict, Verdict::InUse, "{says:?}");
}

#[test]
fn a_lead_to_a_part_that_is_gone_serves_nothing_left_and_is_a_live_stub_where_it_is_fed() {
    let wired_with = |fed: bool, mounting: Mounting| {
        let mut wired = Wired::default();
        wired.battery();
        wired.part("P1", "lamp");
        wired.wire("+", "P1.1");
        wired.wire("P1.2", "-");
        let id = wired.part("P2", "lamp");
        let part = wired.machine.parts.get(id).unwrap().clone();
        wired.machine.parts.put(id, Some(Arc::new(Part { mounting, ..part })));
        wired.wire(if fed { "+" } else { "apart" }, "P2.1");
        let lead = last(&wired);
        (wired, lead)
    };
    let (wired, lead) = wired_with(false, Mounting::Missing);
    let says = judged(&wired, lead);
    assert_eq!(says.verdict, Verdict::ServesNothingLeft, "{says:?}");
    assert!(says.reason.contains("P2, which is gone") && says.verdict.may_go());
    // With the part in its place the same lead is dead: what it leads to is there, and gets nothing.
    let (wired, lead) = wired_with(false, Mounting::Fixed);
    assert_eq!(judged(&wired, lead).verdict, Verdict::Dead);
    let (wired, lead) = wired_with(true, Mounting::Missing);
    let says = judged(&wired, lead);
    assert_eq!(says.verdict, Verdict::LiveStub);
    assert!(says.reason.contains("dangerous to touch") && says.reason.contains("P2, which is gone"), "{}", says.reason);
    assert!(says.verdict.advice().starts_with("DANGER") && says.verdict.advice().contains("verify absence of voltage"));
}

/// An end out of sight may be anywhere: then a lead with both ends landed may do the work of what is there. One that is seen to end on
/// nothing does nothing.
#[test]
fn an_end_out_of_sight_leaves_open_what_landed_leads_do_and_not_what_ends_on_nothing() {
    let mut wired = Wired::default();
    wired.battery();
    wired.part("P1", "lamp");
    wired.wire("+", "P1.1");
    wired.wire("P1.2", "-");
    let end = |wired: &mut Wired, at: EndAt| {
        wired.wire("+", "away");
        let lead = last(wired);
        let mut entry = wired.machine.wires.get(lead).unwrap().clone();
        entry.to.at = at;
        wired.machine.wires.put(lead, Some(Arc::new(entry)));
        lead
    };
    let stub = end(&mut wired, EndAt::Loose);
    wired.wire("here", "there");
    let landed = last(&wired);
    assert!(matches!(changes(&wired, &[stub, landed]), Change::Nothing(_)));
    let unseen = end(&mut wired, EndAt::Unknown);
    assert!(matches!(changes(&wired, &[stub]), Change::Nothing(_)));
    assert_eq!(changes(&wired, &[landed]), Change::NotKnown(vec![unseen]));
    assert_eq!(changes(&wired, &[unseen]), Change::NotKnown(vec![unseen]));
    assert_eq!(changes(&wired, &[stub, landed]), Change::NotKnown(vec![unseen]));
}

#[test]
fn the_end_of_a_removal_keeps_what_was_ticked_as_capped_and_is_undone_exactly() {
    let mut machine: Machine = wirewitness::generate::invented_machine(20, 3);
    let ids: Vec<WireId> = machine.wires.ids().take(3).collect();
    for (step, at) in [("isolate", None), ("out", Some(ids[0])), ("cap", Some(ids[1]))] {
        let edit = machine.tick_off(step, at, "2026-03-09 10:15", "second technician");
        machine.apply(edit);
    }
    let capped: Vec<&Tick> = machine.ticks.values().filter(|tick| tick.step == "cap").collect();
    assert_eq!(capped.len(), 1);
    assert_eq!(machine.wires.get(ids[1]).unwrap().state, WireState::CappedOff);
    let before = machine.clone();
    let edit = machine.finish_removal(&ids, WireState::Removed, "2026-03-09, second technician", None);
    let undo = machine.apply(edit);
    let states = ids.iter().map(|&id| machine.wires.get(id).unwrap().state);
    assert_eq!(states.collect::<Vec<_>>(), [WireState::Removed, WireState::CappedOff, WireState::Removed]);
    assert!(machine.ticks.is_empty(), "the next removal begins with isolating again");
    machine.apply(undo);
    assert_eq!(machine, before);
    assert!(machine.finish_removal(&[], WireState::Removed, "", None).is_empty());
    let stop = machine.stop_removal();
    machine.apply(stop);
    assert_eq!(machine.wires.get(ids[1]).unwrap().state, WireState::InPlace);
}
