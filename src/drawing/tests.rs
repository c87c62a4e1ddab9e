//! Tests of the whole layout: places, hops, order, what is kept.

use std::sync::Arc;

use super::super::{Layer, Shape, style};
use super::*;
use crate::machine::{Known, Mounting, PathPoint, Pose, Spot, TerminalNote, TerminalRef, WireEnd, WireState};

fn catalogue() -> Arc<Catalogue> {
    Catalogue::built_in().unwrap()
}

fn relay(tag: &str, x: f64, y: f64, turns: u8, mirrored: bool) -> Part {
    let pose = Pose { at: Point::new(x, y), quarter_turns: turns, mirrored };
    Part { tag: tag.into(), kind: "terminal-strip".into(), title: "Strip".into(), pose, ..Part::default() }
}

fn landed(part: PartId, marking: &str, known: Known) -> WireEnd {
    WireEnd { at: EndAt::Terminal(TerminalRef::new(part, marking)), known, ..WireEnd::default() }
}

fn two_strips() -> (Machine, PartId, PartId) {
    let mut machine = Machine::default();
    let one = machine.parts.add(relay("TB1", 0.0, 0.0, 0, false));
    let other = machine.parts.add(relay("TB2", 0.0, 80.0, 0, false));
    (machine, one, other)
}

fn wire(key: &str, from: WireEnd, to: WireEnd) -> Wire {
    Wire { key: key.into(), number: Some(key.into()), from, to, ..Wire::default() }
}

#[test]
fn terminals_lie_where_the_pose_puts_them() {
    let catalogue = catalogue();
    for turns in 0..4 {
        for mirrored in [false, true] {
            let part = relay("TB1", 31.0, -12.0, turns, mirrored);
            let drawing = part_drawing(PartId(0), &part, &catalogue, Style::Iec);
            for terminal in catalogue.body(&part).terminals {
                let expected = part.pose.canvas_from_part(terminal.at);
                assert_eq!(drawing.terminals[terminal.marking.as_str()].at, expected);
            }
        }
    }
}

#[test]
fn a_place_noted_at_a_terminal_outranks_the_symbol() {
    let mut part = relay("TB1", 0.0, 0.0, 0, false);
    let at = Point::new(70.0, 33.0);
    part.terminals.insert("2a".into(), TerminalNote { at: Some(at), ..TerminalNote::default() });
    let drawing = part_drawing(PartId(0), &part, &catalogue(), Style::Iec);
    assert_eq!(drawing.terminals["2a"].at, at);
}

#[test]
fn every_kind_in_both_styles_gives_finite_shapes() {
    let catalogue = catalogue();
    for kind in catalogue.kinds() {
        for style in [Style::Iec, Style::Ansi] {
            for mounting in [Mounting::Fixed, Mounting::Loose, Mounting::Missing] {
                let part = Part { tag: "X1".into(), kind: kind.name.clone(), mounting, ..Part::default() };
                let drawing = part_drawing(PartId(0), &part, &catalogue, style);
                let piece = drawing.piece.unwrap_or_else(|| panic!("{} has nothing to draw", kind.name));
                assert!(piece.items.iter().all(|item| item.area().is_some()), "{}", kind.name);
            }
        }
    }
}

#[test]
fn crossed_wires_hop_once_and_the_later_one_does() {
    let (mut machine, one, other) = two_strips();
    let ends = |a: &str, b: &str| (landed(one, a, Known::Seen), landed(other, b, Known::Seen));
    let (from, to) = ends("1b", "6a");
    let first = machine.wires.add(wire("W1", from, to));
    let (from, to) = ends("6b", "1a");
    let second = machine.wires.add(wire("W2", from, to));
    let mut diagram = Diagram::default();
    diagram.lay_out(&machine, &catalogue(), Style::Iec);
    assert_eq!((diagram.wires[&first].hops.len(), diagram.wires[&second].hops.len()), (0, 1));
}

#[test]
fn nothing_but_the_hops_depends_on_the_order_of_wires() {
    let (machine, one, other) = two_strips();
    let wires = [
        wire("W1", landed(one, "1b", Known::Proven), landed(other, "6a", Known::Disputed)),
        wire("W2", landed(one, "2b", Known::Assumed), WireEnd::default()),
        wire("W3", WireEnd::default(), WireEnd::default()),
        wire("W4", WireEnd { at: EndAt::Loose, ..WireEnd::default() }, landed(one, "5b", Known::Seen)),
    ];
    let routes = |order: [usize; 4]| {
        let mut machine = machine.clone();
        for n in order {
            machine.wires.add(wires[n].clone());
        }
        let mut diagram = Diagram::default();
        diagram.lay_out(&machine, &catalogue(), Style::Iec);
        let mut found: Vec<_> =
            diagram.wires.values().map(|laid| (laid.wire.key.clone(), laid.route.path.points().to_vec())).collect();
        found.sort_by(|a, b| a.0.cmp(&b.0));
        found
    };
    assert_eq!(routes([0, 1, 2, 3]), routes([3, 2, 1, 0]));
}

#[test]
fn every_end_form_is_told_by_shape_and_all_is_finite() {
    let (mut machine, one, other) = two_strips();
    let path = vec![
        PathPoint { at: Point::new(60.0, 40.0), hidden: false },
        PathPoint { at: Point::new(60.0, 60.0), hidden: true },
    ];
    for known in [Known::Seen, Known::Assumed, Known::Proven, Known::Disputed] {
        let mut one = wire("W", landed(one, "1b", known), landed(other, "1a", known));
        one.path.clone_from(&path);
        machine.wires.add(one);
    }
    let mut lifted = wire("W5", landed(one, "2b", Known::Seen), landed(other, "2a", Known::Seen));
    lifted.from.lifted = true;
    let lifted = machine.wires.add(lifted);
    let mut gone = wire("W6", landed(one, "3b", Known::Seen), landed(other, "3a", Known::Seen));
    gone.state = WireState::Removed;
    machine.wires.add(gone);
    let scene = lay_out(&machine, &catalogue(), Style::Iec);
    assert!(scene.items().all(|(_, item)| item.area().is_some()));

    let words = |id: u32| -> String {
        let piece = scene.piece_of(&WireId(id).into()).unwrap();
        let letters = piece.items.iter().filter_map(|item| match &item.shape {
            Shape::Text { text, .. } => Some(text.as_str()),
            _ => None,
        });
        letters.collect()
    };
    assert_eq!([words(0), words(1), words(2), words(3)], ["", "??", "", "!!"]);
    let shapes = |id: u32| -> [usize; 3] {
        let piece = scene.piece_of(&WireId(id).into()).unwrap();
        let marks = piece.layer(Layer::Ends).iter();
        marks.fold([0; 3], |[discs, filled, lines], item| match &item.shape {
            Shape::Disc { .. } => [discs + 1, filled, lines],
            Shape::Filled { .. } => [discs, filled + 1, lines],
            Shape::Line { .. } => [discs, filled, lines + 1],
            _ => [discs, filled, lines],
        })
    };
    assert_eq!(shapes(2), [2, 0, 2], "proven has a tick besides its dot, at either end");
    assert_eq!(
        shapes(0),
        [0, 2, 2],
        "seen has an eye that is filled and drawn round, and nothing round like a terminal"
    );
    let from = Thing::Spot(Spot::End(WireId(0), Side::From));
    let terminal = scene.place_of(&TerminalRef::new(one, "1b").into()).unwrap();
    let handle = scene.place_of(&from).unwrap();
    assert!(
        (handle.distance(terminal) - crate::drawing::ends::MARK_MM).abs() < 0.8,
        "an end is pointed at on its mark: {handle:?} {terminal:?}"
    );

    let terminal = scene.place_of(&TerminalRef::new(one, "2b").into()).unwrap();
    let end = scene.place_of(&Thing::Spot(Spot::End(lifted, Side::From))).unwrap();
    assert!(end.distance(terminal) > 3.0, "a lifted end is drawn off its terminal");
}

#[test]
fn a_wire_to_a_terminal_that_is_not_there_is_drawn_as_unknown() {
    let (mut machine, one, _) = two_strips();
    let id = machine.wires.add(wire("W1", landed(one, "1b", Known::Seen), landed(PartId(99), "9", Known::Seen)));
    let scene = lay_out(&machine, &catalogue(), Style::Iec);
    assert!(
        scene
            .piece_of(&id.into())
            .unwrap()
            .layer(Layer::Labels)
            .iter()
            .any(|item| { matches!(&item.shape, Shape::Text { text, .. } if text == "?") })
    );
}

#[test]
fn pointing_finds_terminal_before_end_before_part_and_photo_last() {
    let (mut machine, one, other) = two_strips();
    let id = machine.wires.add(wire("W1", landed(one, "3b", Known::Seen), landed(other, "3a", Known::Seen)));
    let photo = machine.photos.add(Photo { size_px: [4000, 3000], ..Photo::default() });
    let scene = lay_out(&machine, &catalogue(), Style::Iec);
    let terminal = TerminalRef::new(one, "3b");
    let at = scene.place_of(&terminal.clone().into()).unwrap();
    assert_eq!(scene.pick(at, 2.0), Some(terminal.into()));
    let end = scene.place_of(&Thing::Spot(Spot::End(id, Side::From))).unwrap();
    assert_eq!(scene.pick(end, 0.5), Some(Thing::Spot(Spot::End(id, Side::From))));
    assert_eq!(scene.pick(Point::new(at.x, 40.0), 0.5), Some(id.into()));
    assert_eq!(scene.pick(Point::new(0.0, 0.0), 0.5), Some(one.into()));
    assert_eq!(scene.pick(Point::new(300.0, 300.0), 0.5), Some(Thing::Photo(photo)));
    assert_eq!(scene.pick(Point::new(-300.0, 300.0), 0.5), None);
}

#[test]
fn a_box_takes_what_lies_wholly_in_it() {
    let (mut machine, one, other) = two_strips();
    let id = machine.wires.add(wire("W1", landed(one, "3b", Known::Seen), landed(other, "3a", Known::Seen)));
    let scene = lay_out(&machine, &catalogue(), Style::Iec);
    let upper = Area::between(Point::new(-30.0, -30.0), Point::new(80.0, 30.0));
    assert_eq!(scene.things_in(upper), vec![Thing::from(one)]);
    let all = Area::between(Point::new(-30.0, -30.0), Point::new(80.0, 130.0));
    assert_eq!(
        scene.things_in(all),
        vec![one.into(), other.into(), id.into()]
            .into_iter()
            .collect::<std::collections::BTreeSet<Thing>>()
            .into_iter()
            .collect::<Vec<_>>()
    );
}

#[test]
fn moving_one_part_lays_only_its_own_wires_again() {
    let (mut machine, one, other) = two_strips();
    machine.wires.add(wire("W1", landed(one, "1b", Known::Seen), landed(other, "1a", Known::Seen)));
    machine.wires.add(wire("W2", landed(other, "3b", Known::Seen), WireEnd::default()));
    let mut diagram = Diagram::default();
    let catalogue = catalogue();
    let before = diagram.lay_out(&machine, &catalogue, Style::Iec);
    let edit = machine.edit_part(one, "Move", |part| part.pose.at = Point::new(-9.0, -20.0));
    machine.apply(edit);
    let after = diagram.lay_out(&machine, &catalogue, Style::Iec);
    let same = |thing: Thing| Arc::ptr_eq(before.piece_of(&thing).unwrap(), after.piece_of(&thing).unwrap());
    assert!(!same(one.into()) && !same(WireId(0).into()));
    assert!(same(other.into()) && same(WireId(1).into()));
    let fresh = lay_out(&machine, &catalogue, Style::Iec);
    assert_eq!(fresh.pieces(), after.pieces(), "what is kept equals what would be made anew");
}

#[test]
fn every_ink_has_a_colour_on_every_ground() {
    for ground in style::Ground::ALL {
        assert!(super::super::Ink::all().into_iter().all(|ink| style::rgba(ink, ground)[3] == 255));
    }
}

#[test]
fn a_part_whose_every_terminal_has_a_place_is_an_outline_round_them_without_cells() {
    let catalogue = catalogue();
    let mut part = relay("TB1", 0.0, 0.0, 0, false);
    let usual = part_drawing(PartId(0), &part, &catalogue, Style::Iec);
    let markings: Vec<_> = usual.terminals.keys().cloned().collect();
    for (n, marking) in (0_u32..).zip(&markings) {
        let at = Some(Point::new(200.0 + 11.4 * f64::from(n), 50.0 + f64::from(n % 2) * 13.0));
        part.terminals.insert(marking.clone(), TerminalNote { at, ..TerminalNote::default() });
    }
    let placed = part_drawing(PartId(0), &part, &catalogue, Style::Iec);
    let piece = placed.piece.unwrap();
    assert!(piece.layer(Layer::Bodies).is_empty());
    assert_eq!(piece.layer(Layer::Symbols).len(), 1, "the outline alone");
    assert!(placed.terminals.values().all(|terminal| placed.body.contains(terminal.at)));
    assert!(placed.body.height() < 13.0 + 6.0);
    // One terminal without a place of its own: the symbol says where it is.
    part.terminals.remove(&markings[0]);
    let partly = part_drawing(PartId(0), &part, &catalogue, Style::Iec);
    assert!(partly.piece.unwrap().layer(Layer::Symbols).len() > usual.piece.unwrap().layer(Layer::Symbols).len());
}

#[test]
fn an_end_beside_its_terminal_can_be_pointed_at_with_a_finger() {
    let (mut machine, one, other) = two_strips();
    let id = machine.wires.add(wire("W1", landed(one, "3b", Known::Seen), landed(other, "3a", Known::Seen)));
    let scene = lay_out(&machine, &catalogue(), Style::Iec);
    let end = Thing::Spot(Spot::End(id, Side::From));
    let (at, terminal) = (scene.place_of(&end).unwrap(), TerminalRef::new(one, "3b").into());
    let beside = scene.place_of(&terminal).unwrap();
    assert_eq!(scene.pick(at, 9.0), Some(end));
    assert_eq!(scene.pick(beside, 9.0), Some(terminal));
}
