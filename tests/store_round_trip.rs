//! What is written reads back the same, whatever the record; what is not a record never stops the program.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on is to fail at once, its helpers too")]

use std::time::Instant;

use proptest::prelude::*;
use wirewitness::catalogue::Catalogue;
use wirewitness::generate::invented_machine;
use wirewitness::machine::{
    EndAt, Known, Lug, Machine, Part, PartId, PathPoint, Photo, Placement, Point, Pose, Reading, Side, Spot,
    TerminalRef, Wire, WireEnd, WireId, WireState,
};
use wirewitness::quantity::{Colour, Rated, Rating, Ratings, Value, WireColour, WireSize};
use wirewitness::store;

fn point() -> impl Strategy<Value = Point> {
    let number = prop_oneof![-1e4..1e4_f64, (-500_i32..500).prop_map(f64::from), proptest::num::f64::NORMAL];
    (number.clone(), number).prop_map(|(x, y)| Point::new(x, y))
}

fn ratings() -> impl Strategy<Value = Ratings> {
    prop::collection::vec(
        (prop::sample::select(Rating::ALL), 1e-12..1e9_f64).prop_map(|(rating, value)| {
            // Shares of a whole end at 100 %.
            let share = matches!(rating, Rating::PowerFactor | Rating::ResistanceShare);
            (rating, if share { value / 1e7 } else { value })
        }),
        0..3,
    )
    .prop_map(|all| {
        let mut ratings = Ratings::default();
        for (rating, value) in all {
            ratings.set(rating, Rated { value, current: None });
        }
        ratings
    })
}

fn part(number: usize) -> impl Strategy<Value = Part> {
    (any::<String>(), proptest::option::of(any::<String>()), point(), 0..4_u8, any::<bool>(), ratings()).prop_map(
        move |(note, printed, at, quarter_turns, mirrored, ratings)| Part {
            tag: format!("K{number}"),
            kind: "some-kind".to_owned(),
            pose: Pose { at, quarter_turns, mirrored },
            note,
            printed,
            ratings,
            ..Part::default()
        },
    )
}

fn end(parts: u32) -> impl Strategy<Value = WireEnd> {
    let at = prop_oneof![
        (0..parts, "[A-Za-z0-9.-]{1,4}").prop_map(|(part, m)| EndAt::Terminal(TerminalRef::new(PartId(part), m))),
        Just(EndAt::Loose),
        Just(EndAt::Unknown),
    ];
    (at, any::<bool>(), 0..9_usize, any::<bool>(), proptest::option::of(point())).prop_map(
        |(at, lifted, lug, assumed, place)| WireEnd {
            lifted: lifted && matches!(at, EndAt::Terminal(_)),
            at,
            lug: Lug::ALL[lug].0,
            known: if assumed { Known::Assumed } else { Known::Seen },
            place,
        },
    )
}

fn wire(number: usize) -> impl Strategy<Value = Wire> {
    let colour = (0..15_usize, 0..15_usize)
        .prop_map(|(base, tracer)| WireColour { base: Colour::ALL[base].0, tracer: Some(Colour::ALL[tracer].0) });
    let size =
        prop_oneof![(0..=40_u8).prop_map(WireSize::Awg), (0.01..300.0_f64).prop_map(WireSize::SquareMillimetres)];
    let path = prop::collection::vec((point(), any::<bool>()).prop_map(|(at, hidden)| PathPoint { at, hidden }), 0..4);
    let length = proptest::option::of(0.0..1e5_f64);
    let (colour, size) = (proptest::option::of(colour), proptest::option::of(size));
    (end(3), end(3), colour, size, path, length, any::<String>(), any::<bool>()).prop_map(
        move |(from, to, colour, size, path, length_mm, insulation, removed)| Wire {
            key: format!("W{number}"),
            from,
            to,
            colour,
            size,
            path,
            length_mm,
            insulation,
            state: if removed { WireState::Removed } else { WireState::InPlace },
            ..Wire::default()
        },
    )
}

fn value() -> impl Strategy<Value = Value> {
    prop_oneof![
        Just(Value::Tone),
        Just(Value::DoesNotRun),
        (0.0..1e8_f64).prop_map(Value::Ohms),
        (-1e3..1e3_f64).prop_map(Value::VoltsDc),
        (0.0..1e3_f64).prop_map(Value::VoltsAc),
    ]
}

fn machine() -> impl Strategy<Value = Machine> {
    let readings = prop::collection::vec((value(), 0..2_u32, any::<bool>(), "[^\n]{0,8}"), 0..3);
    let photo = (any::<String>(), point(), 1e-6..1e3_f64, -360.0..360.0_f64);
    ([part(0), part(1), part(2)], [wire(0), wire(1)], readings, photo, any::<String>()).prop_map(
        |(parts, wires, readings, (caption, origin, mm_per_px, turn_deg), title)| {
            let mut machine = Machine::default();
            machine.facts.title = title;
            for part in parts {
                machine.parts.add(part);
            }
            for wire in wires {
                machine.wires.add(wire);
            }
            let placement = Placement::Similarity { origin, mm_per_px, turn_deg };
            machine.photos.add(Photo { name: "p".to_owned(), caption, placement, ..Photo::default() });
            for (at, (value, wire, whole, gone)) in readings.into_iter().enumerate() {
                let wire = WireId(wire);
                machine.readings.add(Reading {
                    name: format!("R{at}"),
                    red: if whole { Spot::Wire(wire) } else { Spot::End(wire, Side::To) },
                    black: Some(Spot::Gone(gone)),
                    value,
                    condition: None,
                    meter: None,
                    when: String::new(),
                    who: String::new(),
                    visit: None,
                    note: String::new(),
                });
            }
            machine
        },
    )
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(200))]

    #[test]
    fn any_record_reads_back_equal_and_is_written_the_same(machine in machine()) {
        let text = store::text_of(&machine);
        let (read, _) = store::parse_leniently("f.ron", &text, &Catalogue::default()).unwrap();
        prop_assert_eq!(&read, &machine);
        prop_assert_eq!(store::text_of(&read), text);
    }

    #[test]
    fn a_damaged_file_gives_a_record_or_a_located_error_and_never_stops_the_program(
        damages in prop::collection::vec((any::<prop::sample::Index>(), 0..4_u8, any::<char>()), 1..6),
    ) {
        let mut text: Vec<char> = include_str!("formats/v1/every-field.ron").chars().collect();
        for (at, how, letter) in damages {
            let at = at.index(text.len());
            match how {
                0 => text[at] = letter,
                1 => text.insert(at, letter),
                2 => drop(text.remove(at)),
                _ => text.swap(at, (at * 7 + 3) % 400),
            }
        }
        let text: String = text.into_iter().collect();
        if let Err(errors) = store::parse("f.ron", &text, &Catalogue::default()) {
            let lines = text.lines().count() + 1;
            prop_assert!(!errors.0.is_empty());
            prop_assert!(errors.0.iter().all(|error| (1..=lines).contains(&error.line) && error.column >= 1));
        }
    }

    #[test]
    fn any_text_at_all_gives_an_error_and_never_stops_the_program(text in any::<String>()) {
        prop_assert!(store::parse("f.ron", &text, &Catalogue::default()).is_err());
        let _ = store::parse("f.ron", &format!("(format: 1, {text})"), &Catalogue::default());
    }
}

/// Times are printed for whoever measures (`--release -- --nocapture`); the bound only catches what grows with the square.
#[test]
fn ten_thousand_wires_are_written_and_read_in_good_time() {
    let machine = invented_machine(10_000, 1);
    let start = Instant::now();
    let text = store::text_of(&machine);
    let written = start.elapsed();
    let start = Instant::now();
    let (read, _) = store::parse_leniently("f.ron", &text, &Catalogue::default()).unwrap();
    let parsed = start.elapsed();
    println!("{} wires, {} bytes: written in {written:?}, read in {parsed:?}", machine.wires.len(), text.len());
    assert!(read == machine, "the same record comes back");
    assert!(written.as_secs() < 5 && parsed.as_secs() < 5);
}
