//! Frozen files of every released format: they must load for ever. The example in the description of the file too.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on is to fail at once, its helpers too")]

use wirewitness::catalogue::Catalogue;
use wirewitness::machine::Machine;
use wirewitness::store;

fn kinds() -> Catalogue {
    Catalogue::default().with_kinds("kinds.ron", include_str!("formats/kinds.ron")).unwrap()
}

/// Every field and every word of format 1.
#[test]
fn the_frozen_file_with_every_field_of_format_1_is_read_and_written_back_byte_for_byte() {
    let text = include_str!("formats/v1/every-field.ron");
    let machine = store::parse("every-field.ron", text, &kinds()).unwrap();
    assert_eq!(store::text_of(&machine), text);
}

#[test]
fn what_the_catalogue_lacks_is_an_error_or_a_remark_as_asked() {
    let text = include_str!("formats/v1/every-field.ron");
    assert_eq!(store::parse("f.ron", text, &Catalogue::default()).unwrap_err().0.len(), 4, "one for each part");
    let (machine, remarks) = store::parse_leniently("f.ron", text, &Catalogue::default()).unwrap();
    assert_eq!(remarks.len(), 4);
    assert_eq!(store::text_of(&machine), text);
}

#[test]
fn the_shortest_file_is_an_empty_record() {
    assert_eq!(store::parse("f.ron", "(format: 1)", &kinds()).unwrap(), Machine::default());
}

#[test]
fn the_example_in_the_description_of_the_file_loads() {
    let description = include_str!("../docs/file-format.md");
    let example = description.split("```ron\n").nth(1).unwrap().split("```").next().unwrap();
    let machine = store::parse("example", example, &kinds()).unwrap();
    assert_eq!(machine.parts.len(), 4);
    assert_eq!(store::text_of(&machine), example, "the example is in normal form");
    assert_eq!(store::parse("example", example, &Catalogue::built_in().unwrap()), Ok(machine));
}

/// Everyday values of a freezer; they come back as they were written.
#[test]
fn temperatures_below_zero_are_kept() {
    let text = "(format: 1, parts: [(tag: \"S1\", kind: \"door-switch\", ratings: {\"opens_at\": \"-18 C\", \"closes_at\": \"-15.5 °C\"})])";
    let machine = store::parse("freezer.ron", text, &kinds()).unwrap();
    let written = store::text_of(&machine);
    assert!(written.contains(r#"{"opens_at": "-18 °C", "closes_at": "-15.5 °C"}"#), "{written}");
    assert_eq!(store::parse("again.ron", &written, &kinds()), Ok(machine));
    for (wrong, word) in [("-177 Ω", "below zero"), ("177", "write '177 Ω'")] {
        let text = format!(
            "(format: 1, parts: [(tag: \"K1\", kind: \"relay-change-over\", ratings: {{\"coil_ohms\": \"{wrong}\"}})])"
        );
        let said = store::parse("f.ron", &text, &kinds()).unwrap_err().to_string();
        assert!(said.contains(word) && said.contains("f.ron:1:"), "{said}");
    }
}

#[test]
fn a_file_written_by_hand_with_comments_defaults_and_any_spacing_is_read() {
    let text = r#"
        // Written in a van.
        ( format: 1, /* later more */
          parts: [ (tag:"K1", kind:"relay-change-over", at:(x:1.0,y:2),note:r"raw",),
                   (kind: "door-switch", tag: "S1", printed: Some("DS"), mounting: fixed), ],
          wires: [ (key: "W1", to: (place: (1,2)), from: "K1.A1", colour: "bk/rd", path: [(1,2),(3,4,hidden)]) ] )"#;
    let machine = store::parse("van.ron", text, &kinds()).unwrap();
    let again = store::parse("again.ron", &store::text_of(&machine), &kinds()).unwrap();
    assert_eq!(machine, again);
    assert!(store::text_of(&machine).contains(r#"(key: "W1", from: "K1.A1", to: (at: "unknown", place: (1, 2)), colour: "BK/RD", path: [(1, 2), (3, 4, hidden)]),"#));
}
