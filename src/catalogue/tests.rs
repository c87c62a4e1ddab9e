//! What the built-in kinds must hold, checked against the standards they take their markings from.

mod letters;
mod typical;

use std::collections::BTreeSet;

use proptest::prelude::*;

use crate::machine::{Part, Pin, PinRole, Point};

use super::outline::MOST_STROKES;
use super::*;

fn built_in() -> std::sync::Arc<Catalogue> {
    Catalogue::built_in().unwrap_or_else(|error| panic!("{error}"))
}

fn part(kind: &str) -> Part {
    Part { kind: kind.to_owned(), ..Part::default() }
}

/// The pairs of markings a contact of this form stands between when the coil or switch is at rest.
fn contacts(kind: &str, wanted: Form) -> BTreeSet<(String, String)> {
    let catalogue = built_in();
    catalogue
        .body(&part(kind))
        .elements
        .into_iter()
        .filter_map(|element| match element {
            Element::Contact { ends, form, .. } if form == wanted => Some(ends),
            _ => None,
        })
        .collect()
}

fn pairs(list: &[(&str, &str)]) -> BTreeSet<(String, String)> {
    list.iter().map(|(a, b)| ((*a).to_owned(), (*b).to_owned())).collect()
}

fn coil(kind: &str) -> Vec<(String, String)> {
    let catalogue = built_in();
    let body = catalogue.body(&part(kind));
    body.elements
        .into_iter()
        .filter_map(|element| match element {
            Element::Coil { ends, .. } => Some(ends),
            _ => None,
        })
        .collect()
}

#[test]
fn the_built_in_files_read_without_a_mistake_and_hold_every_kind_asked_for() {
    let catalogue = built_in();
    assert!(catalogue.kinds().count() >= 50);
    for name in [
        "cord-plug",
        "cord-plug-split-phase",
        "cord-plug-three-phase",
        "battery",
        "dc-supply",
        "control-transformer",
        "control-transformer-two-secondaries",
        "control-transformer-tapped",
        "control-transformer-centre-tap",
        "fuse",
        "breaker-one-pole",
        "thermal-cut-out",
        "thermal-cut-out-hand-reset",
        "overload-external",
        "compressor-internal-overload",
        "residual-current-device",
        "surge-arrester",
        "toggle-switch",
        "rocker-switch",
        "push-button-make",
        "push-button-break",
        "selector-switch",
        "door-switch",
        "thermostat-cool",
        "thermostat-heat",
        "thermostat-change-over",
        "defrost-termination",
        "pressure-switch-low",
        "pressure-switch-high",
        "pressure-switch-dual",
        "float-switch",
        "humidity-switch",
        "reed-switch",
        "timer-contact",
        "defrost-timer",
        "time-relay-on-delay",
        "relay-make",
        "relay-change-over",
        "relay-two-change-over",
        "relay-three-change-over",
        "relay-four-change-over",
        "contactor-one-pole",
        "contactor-two-pole",
        "contactor-three-pole",
        "solid-state-relay",
        "current-start-relay",
        "potential-start-relay",
        "ptc-start-device",
        "compressor",
        "condenser-fan",
        "evaporator-fan",
        "gear-motor",
        "pump",
        "solenoid-valve",
        "heater",
        "defrost-heater",
        "frame-heater",
        "lamp",
        "lamp-driver-with-strip",
        "buzzer",
        "ballast",
        "control-board",
        "sensor-probe",
        "run-capacitor",
        "start-capacitor",
        "bleed-resistor",
        "resistor",
        "diode",
        "bridge-rectifier",
        "snubber",
        "thermistor-ntc",
        "thermistor-ptc",
        "choke",
        "terminal-strip",
        "splice",
        "wire-nut",
        "plug-and-socket",
        "earth-stud",
        "chassis",
        "bus-bar",
        "inline-tab",
        "test-point",
        "feed-through",
        "unknown-part",
    ] {
        assert!(catalogue.kind(name).is_some(), "{name} is missing");
    }
    for family in Family::ALL {
        assert!(catalogue.kinds().any(|kind| kind.family == family), "{}", family.words());
    }
}

#[test]
fn relay_and_contactor_markings_follow_en_50005() {
    // EN 50005: coil A1-A2; contact function 1-2 break, 3-4 make, 1-2-4 change-over, 5-6-8 timed change-over;
    // first digit the position; main poles single digits in pairs.
    for kind in ["relay-make", "relay-change-over", "relay-four-change-over", "time-relay-on-delay"] {
        assert_eq!(coil(kind), [("A1".to_owned(), "A2".to_owned())], "{kind}");
    }
    assert_eq!(contacts("relay-make", Form::Make), pairs(&[("13", "14")]));
    assert_eq!(contacts("relay-break", Form::Break), pairs(&[("11", "12")]));
    assert_eq!(contacts("relay-two-change-over", Form::Break), pairs(&[("11", "12"), ("21", "22")]));
    assert_eq!(contacts("relay-two-change-over", Form::Make), pairs(&[("11", "14"), ("21", "24")]));
    assert_eq!(contacts("time-relay-off-delay", Form::Break), pairs(&[("15", "16")]));
    assert_eq!(contacts("time-relay-off-delay", Form::Make), pairs(&[("15", "18")]));
    let poles = contacts("contactor-three-pole", Form::Make);
    assert_eq!(poles, pairs(&[("1", "2"), ("3", "4"), ("5", "6"), ("13", "14")]));
    assert_eq!(contacts("contactor-three-pole", Form::Break), pairs(&[("21", "22")]));
    // Overload relay auxiliaries: 95-96 break, 97-98 make (common practice, no source).
    assert_eq!(contacts("overload-relay", Form::Break), pairs(&[("95", "96")]));
    assert_eq!(contacts("overload-relay", Form::Make), pairs(&[("97", "98")]));
    // Push-buttons: the same function digits.
    assert_eq!(contacts("push-button-make", Form::Make), pairs(&[("13", "14")]));
    assert_eq!(contacts("push-button-break", Form::Break), pairs(&[("21", "22")]));
}

#[test]
fn socket_relays_follow_the_layouts_of_the_trade_and_say_so() {
    // Octal base, as trade pinout pages agree: coil 2-7; 1 common, 3 make, 4 break; 8 common, 6 make, 5 break.
    assert_eq!(coil("relay-octal-8"), [("2".to_owned(), "7".to_owned())]);
    assert_eq!(contacts("relay-octal-8", Form::Make), pairs(&[("1", "3"), ("8", "6")]));
    assert_eq!(contacts("relay-octal-8", Form::Break), pairs(&[("1", "4"), ("8", "5")]));
    // 11 pins: coil 2-10, commons 1, 6, 11 (common practice, no source).
    assert_eq!(coil("relay-octal-11"), [("2".to_owned(), "10".to_owned())]);
    // 14 blades: coil 13-14, commons 9-12, make 5-8, break 1-4 (common practice, no source).
    assert_eq!(contacts("relay-blade-14", Form::Make), pairs(&[("9", "5"), ("10", "6"), ("11", "7"), ("12", "8")]));
    assert_eq!(contacts("relay-blade-14", Form::Break), pairs(&[("9", "1"), ("10", "2"), ("11", "3"), ("12", "4")]));
    let catalogue = built_in();
    // Layouts differ between makers, so a number alone fixes nothing: the note must send the reader to the meter.
    for kind in ["relay-change-over", "relay-octal-8", "relay-octal-11", "relay-blade-14", "relay-fan-change-over"] {
        assert!(catalogue.kind(kind).unwrap().note.contains("measure"), "{kind}");
    }
}

#[test]
fn start_devices_and_timers_follow_the_trade() {
    // Potential start relay, trade-wide: coil 5-2, break contact 1-2, the others tie points with nothing inside.
    assert_eq!(contacts("potential-start-relay", Form::Break), pairs(&[("1", "2")]));
    let relay = built_in().body(&part("potential-start-relay"));
    assert!(relay.elements.contains(&Element::Resistor { ends: ("5".to_owned(), "2".to_owned()) }));
    for tie in ["3", "4", "6"] {
        assert!(relay.terminal(tie).is_some());
        assert!(relay.elements.iter().all(|element| !element.markings().contains(&tie)));
    }
    // Defrost timer: one service text has 1 as the common (1-4 cooling, 1-2 defrost, motor 1-3, never 2-4), two other guides
    // call 3 the common. So there is a kind for each, and one that takes nothing for granted.
    for (kind, common, other) in [("defrost-timer-common-1", "1", "3"), ("defrost-timer-common-3", "3", "1")] {
        assert_eq!(contacts(kind, Form::Break), pairs(&[(common, "4")]));
        assert_eq!(contacts(kind, Form::Make), pairs(&[(common, "2")]));
        let body = built_in().body(&part(kind));
        assert!(body.elements.iter().any(|e| matches!(e, Element::Load { .. }) && e.markings() == [common, other]));
        assert!(built_in().kind(kind).unwrap().note.contains("measurement"), "{kind}");
    }
    let open = built_in().body(&part("defrost-timer"));
    assert_eq!(open.terminals.len(), 4);
    assert!(open.elements.is_empty() && open.terminals.iter().all(|terminal| terminal.unknown));
    // Compressor C, R, S.
    let compressor = built_in().body(&part("compressor"));
    let windings: Vec<_> = compressor.elements.iter().filter(|e| matches!(e, Element::Winding { .. })).collect();
    let ends: Vec<_> = windings.iter().map(|e| e.markings()).collect();
    assert_eq!(ends, [["C", "R"], ["C", "S"]]);
}

#[test]
fn metal_bodies_have_an_earth_terminal_and_the_notes_name_a_source() {
    for kind in built_in().kinds() {
        if kind.exposed_metal {
            let body = built_in().body(&part(&kind.name));
            assert!(body.elements.iter().any(|e| matches!(e, Element::Earth { .. })), "{}", kind.name);
        }
        assert!(!kind.note.is_empty(), "{}", kind.name);
    }
}

#[test]
fn make_and_break_contacts_differ_by_exactly_one_stroke() {
    // The symbols of a make and a break contact differ by one stroke in both families (foot, slash).
    for style in [Style::Iec, Style::Ansi] {
        let catalogue = built_in();
        let strokes =
            |name: &str| catalogue.glyph(name).unwrap().symbol.strokes(style).cloned().collect::<Vec<Stroke>>();
        let (make, broken) = (strokes("make-contact"), strokes("break-contact"));
        assert_eq!(broken.iter().filter(|stroke| !make.contains(stroke)).count(), 1);
        assert_eq!(make.iter().filter(|stroke| !broken.contains(stroke)).count(), 0);
    }
}

#[test]
fn every_terminal_touches_its_drawing_which_keeps_a_readable_size() {
    let catalogue = built_in();
    for kind in catalogue.kinds() {
        for style in [Style::Iec, Style::Ansi] {
            let own = part(&kind.name);
            let strokes = catalogue.outline(&own, style);
            assert!(strokes.iter().all(|stroke| !matches!(stroke, Stroke::Use { .. })));
            let size = bounds(&strokes).unwrap_or_else(|| panic!("{} has no drawing", kind.name));
            let (width, height) = (size.max.x - size.min.x, size.max.y - size.min.y);
            assert!((5.0..=100.0).contains(&width.max(height)), "{}: {width} x {height}", kind.name);
            for terminal in &catalogue.body(&own).terminals {
                let near = strokes.iter().map(|stroke| distance(stroke, terminal.at)).fold(f64::INFINITY, f64::min);
                assert!(near < 1.3, "{} {style:?}: {} is {near} mm off", kind.name, terminal.marking);
            }
        }
    }
}

/// Distance from a point to the ink of a stroke, in millimetres.
fn distance(stroke: &Stroke, at: Point) -> f64 {
    let path = |points: &[(f64, f64)]| {
        points.windows(2).map(|ends| segment(ends[0], ends[1], at)).fold(f64::INFINITY, f64::min)
    };
    match stroke {
        Stroke::Line(points) | Stroke::Dashed(points) | Stroke::Filled(points) => path(points),
        Stroke::Rect { at: (x, y), size: (w, h) } => {
            path(&[(*x, *y), (x + w, *y), (x + w, y + h), (*x, y + h), (*x, *y)])
        }
        Stroke::Circle { at: centre, r } | Stroke::Dot { at: centre, r } | Stroke::Arc { at: centre, r, .. } => {
            ((centre.0 - at.x).hypot(centre.1 - at.y) - r).abs()
        }
        Stroke::Text { .. } | Stroke::Use { .. } => f64::INFINITY,
    }
}

fn segment(a: (f64, f64), b: (f64, f64), p: Point) -> f64 {
    let (dx, dy) = (b.0 - a.0, b.1 - a.1);
    let length = dx * dx + dy * dy;
    let along = if length == 0.0 { 0.0 } else { (((p.x - a.0) * dx + (p.y - a.1) * dy) / length).clamp(0.0, 1.0) };
    (a.0 + along * dx - p.x).hypot(a.1 + along * dy - p.y)
}

#[test]
fn a_quarter_turn_keeps_distances_and_goes_clockwise() {
    let text = r#"(glyphs: [(name: "flag", symbol: (both: [line([(0.0, 0.0), (3.0, 1.0)]), rect(at: (1.0, 0.0), size: (2.0, 1.0))]))],
        kinds: [(name: "turned", title: "Turned", family: joining, letters: (iec: "X", us: "X"),
            symbol: (both: [use(glyph: "flag", at: (10.0, 0.0), turns: 1)]))])"#;
    let catalogue = built_in().with_kinds("own.ron", text).unwrap();
    let strokes = catalogue.strokes(catalogue.kind("turned").unwrap(), 0, Style::Iec);
    assert_eq!(
        strokes,
        [Stroke::Line(vec![(10.0, 0.0), (9.0, 3.0)]), Stroke::Rect { at: (9.0, 1.0), size: (1.0, 2.0) }]
    );
}

const OWN: &str = r#"(
    kinds: [
        (
            name: "my-relay",
            title: "My relay",
            family: relays,
            letters: (iec: "K", us: "K"),
            terminals: [
                (marking: "A1", at: (0.0, -10.0)),
                (marking: "A2", at: (0.0, 10.0)),
                (marking: "13", at: (15.0, -10.0)),
                (marking: "14", at: (15.0, 10.0)),
            ],
            elements: [
                coil(name: "coil", ends: ("A1", "A2"), current: ac),
                contact(ends: ("13", "14"), form: make, driver: coil("coil")),
            ],
            symbol: (both: [use(glyph: "coil", at: (0.0, 0.0)), use(glyph: "make-contact", at: (15.0, 0.0))]),
        ),
    ],
)"#;

#[test]
fn each_mistake_in_a_file_of_ones_own_is_located_and_says_what_to_do() {
    let catalogue = built_in();
    assert!(catalogue.with_kinds("own.ron", OWN).is_ok());
    for (from, to, place, word) in [
        ("(\"13\", \"14\")", "(\"13\", \"15\")", "own.ron:16:38:", "no terminal of this kind"),
        ("coil(\"coil\")", "coil(\"coyl\")", "own.ron:16:70:", "coil 'coyl'"),
        ("my-relay", "My Relay", "own.ron:4:19:", "small letters"),
        ("\"make-contact\"", "\"make-contct\"", "own.ron:18:", "did you mean 'make-contact'"),
        ("(15.0, 10.0)", "(15.0, NaN)", "own.ron:12:", "'14' has no usable place"),
        ("(15.0, 10.0)", "(inf, 10.0)", "own.ron:12:", "'14' has no usable place"),
        ("marking: \"14\"", "marking: \"13\"", "own.ron:11:", "comes twice"),
        ("terminals:", "terminal:", "own.ron:8:", "did you mean 'terminals'"),
        ("form: make,", "form: maek,", "own.ron:16:", "did you mean 'make'"),
        ("family: relays", "family: relay", "own.ron:6:", "did you mean 'relays'"),
        (
            "coil(name: \"coil\", ends: (\"A1\", \"A2\")",
            "coil(name: \"coil\", ends: (\"A1\", \"A1\")",
            "own.ron:9:",
            "same",
        ),
        ("title: \"My relay\",", "title: \"\",", "own.ron:4:", "title is empty"),
        ("driver: coil(\"coil\")", "driver: switch(name: \"lever\", closed_in: [])", "own.ron:16:", "switch 'lever'"),
        ("symbol:", "ratings: {\"coil_volts\": \"-24 V\"}, symbol:", "own.ron:18:", "negative"),
    ] {
        let text = OWN.replace(from, to);
        assert_ne!(text, OWN, "{from}");
        let mistakes = catalogue.with_kinds("own.ron", &text).unwrap_err();
        let said = mistakes.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n");
        assert!(said.lines().any(|line| line.starts_with(place) && line.contains(word)), "{place} {word}: {said}");
    }
}

#[test]
fn a_file_of_ones_own_may_replace_a_built_in_kind() {
    let text = OWN.replace("my-relay", "relay-make");
    let catalogue = built_in().with_kinds("own.ron", &text).unwrap();
    assert_eq!(catalogue.kind("relay-make").unwrap().title, "My relay");
    assert_eq!(catalogue.kinds().count(), built_in().kinds().count());
}

#[test]
fn glyphs_that_use_each_other_are_refused_and_a_flood_of_strokes_too() {
    let circle = r#"(glyphs: [
        (name: "a", symbol: (both: [use(glyph: "b", at: (0.0, 0.0))])),
        (name: "b", symbol: (both: [use(glyph: "a", at: (0.0, 0.0))])),
    ])"#;
    let said = built_in().with_kinds("own.ron", circle).unwrap_err();
    assert!(said.iter().all(|mistake| mistake.message.contains("uses itself")), "{said:?}");
    let mut flood = "(glyphs: [(name: \"g0\", symbol: (both: [dot(at: (0.0, 0.0), r: 1.0)])),".to_owned();
    for level in 1..30 {
        let uses = format!("use(glyph: \"g{}\", at: (0.0, 0.0)),", level - 1).repeat(10);
        flood.extend(["(name: \"g", &level.to_string(), "\", symbol: (both: [", &uses, "])),"]);
    }
    flood.push_str("])");
    let said = built_in().with_kinds("own.ron", &flood).unwrap_err();
    assert!(said.iter().any(|mistake| mistake.message.contains(&MOST_STROKES.to_string())), "{said:?}");
}

#[test]
fn the_guide_to_kinds_has_a_complete_example_that_reads_and_lists_every_element_and_rating() {
    let guide = include_str!("../../docs/part-kinds.md");
    let format = include_str!("../../docs/file-format.md").split_whitespace().collect::<Vec<_>>().join(" ");
    let example = guide.split("```ron\n").nth(1).and_then(|rest| rest.split("```").next()).unwrap();
    let catalogue = built_in().with_kinds("docs/part-kinds.md", example).unwrap();
    assert_eq!(catalogue.kinds().count(), built_in().kinds().count() + 1);
    for &rating in crate::quantity::Rating::ALL {
        assert!(guide.contains(&format!("`{}`", rating.name())), "{}", rating.name());
        assert!(format.contains(&format!("`{}` ({}", rating.name(), rating.words())), "{}", rating.name());
    }
    for family in Family::ALL {
        assert!(guide.contains(&format!("`{}`", family.words().to_lowercase())), "{}", family.words());
    }
    for element in [
        "join",
        "earth",
        "source",
        "transformer",
        "dc_supply",
        "coil",
        "contact",
        "load",
        "winding",
        "fuse",
        "capacitor",
        "resistor",
        "diode",
        "thermistor",
        "choke",
        "arrester",
        "sense",
    ] {
        assert!(guide.contains(&format!("`{element}")), "{element}");
    }
}

fn any_role() -> impl Strategy<Value = PinRole> {
    ("[A-C1-3]{0,2}", 0_usize..9).prop_map(|(other, role)| {
        let other = other.as_str().into();
        match role {
            0 => PinRole::Unknown,
            1 => PinRole::Plain,
            2 => PinRole::Supply(other),
            3 => PinRole::Joined(other),
            4 => PinRole::OutputFrom(other),
            5 => PinRole::OutputTo(other),
            6 => PinRole::OutputDry(other),
            7 => PinRole::OutputTriac(other),
            _ => PinRole::Input(other),
        }
    })
}

proptest! {
    #![proptest_config(ProptestConfig::with_cases(64))]
    #[test]
    fn any_part_has_a_body_and_an_outline(
        index in 0_usize..200,
        count in any::<u16>(),
        pins in proptest::collection::vec(("[A-C1-3]{0,2}", any_role()), 0..6),
    ) {
        let catalogue = built_in();
        let kind = catalogue.kinds().nth(index).map_or_else(|| "no-such-kind".to_owned(), |kind| kind.name.clone());
        let pins = pins
            .into_iter()
            .map(|(marking, role)| Pin { marking: marking.into(), role, at: None })
            .collect::<Vec<_>>();
        let own = Part { kind, count, pins: pins.clone(), ..Part::default() };
        let body = catalogue.body(&own);
        prop_assert!(body.terminals.len() >= pins.len());
        prop_assert!(body.terminals.iter().all(|terminal| terminal.at.x.is_finite() && terminal.at.y.is_finite()));
        for style in [Style::Iec, Style::Ansi] {
            let size = bounds(&catalogue.outline(&own, style));
            prop_assert!(size.is_some_and(|size| size.max.x.is_finite() && size.min.y.is_finite()));
        }
    }
}
