//! Every sort of mistake in a file is reported with its line and column, what it is about, and what to do.
#![allow(clippy::unwrap_used, reason = "a test that cannot go on is to fail at once, its helpers too")]

use wirewitness::catalogue::Catalogue;
use wirewitness::store;

fn kinds() -> Catalogue {
    Catalogue::default().with_kinds("kinds.ron", include_str!("formats/kinds.ron")).unwrap()
}

fn said(text: &str) -> String {
    store::parse("f.ron", text, &kinds()).map_or_else(|errors| errors.to_string(), |_| String::new())
}

/// The text without its mark, and line and column of the mark.
fn marked(text: &str) -> (String, String) {
    let (before, after) = text.split_once('¦').unwrap();
    let last = before.lines().last().unwrap();
    (format!("{before}{after}"), format!("{}:{}", before.lines().count(), last.chars().count() + 1))
}

/// A file with two parts and a wire on lines 2 to 4, and one more field from line 5 on.
fn with(more: &str) -> String {
    format!(
        "(format: 1,\nparts: [(tag: \"K1\", kind: \"relay-change-over\"),\n (tag: \"S1\", kind: \"door-switch\", \
         terminals: {{\"1\": (printed: \"COM\")}})],\nwires: [(key: \"W1\", from: \"K1.A1\")],\n{more})"
    )
}

#[test]
fn mistakes_in_references_and_numbers_are_located_and_explained() {
    let cases: &[(&str, &[&str])] = &[
        ("readings: [(name: \"a\", red: ¦\"K9.A1\", value: \"OL\")]", &["reading a", "'K9'", "there is K1"]),
        ("readings: [(name: \"a\", red: ¦\"K1.A3\", value: \"OL\")]", &["no terminal 'A3'", "A1, A2, 11"]),
        ("readings: [(name: \"a\", red: ¦\"S1.COM\", value: \"OL\")]", &["printed", "'S1.1'"]),
        ("readings: [(name: \"a\", red: ¦\"W1.mid\", value: \"OL\")]", &["'W1.from' or 'W1.to'"]),
        ("readings: [(name: \"a\", red: \"K1\", value: ¦\"24 V\")]", &["AC or DC"]),
        ("readings: [(name: \"a\", red: \"K1\", value: ¦\"-3 A\")]", &["negative"]),
        (
            "readings: [(name: \"a\", red: \"K1\", value: \"OL\", condition: ¦\"hot\")],\nconditions: [(name: \"hor\")]",
            &["no condition 'hot'", "did you mean 'hor'"],
        ),
        (
            "readings: [(name: \"a\", red: \"K1\", value: \"OL\"),\n(name: ¦\"a\", red: \"K1\", value: \"OL\")]",
            &["two readings", "'a'", "first is on line 5"],
        ),
        ("conditions: [(name: \"a\", derived_from: ¦\"b\"), (name: \"b\", derived_from: \"a\")]", &["a, b", "circle"]),
        ("conditions: [(name: \"a\", derived_from: ¦\"a\")]", &["derived from itself"]),
        ("conditions: [(name: \"a\", positions: {¦\"S1.dor\": \"open\"})]", &["no switch 'dor'", "door"]),
        ("conditions: [(name: \"a\", positions: {\"S1.door\": ¦\"ajar\"})]", &["'ajar'", "open, closed"]),
        ("conditions: [(name: \"a\", positions: {¦\"S1\": \"ajar\"})]", &["names no switch"]),
        (
            "conditions: [(name: \"a\", unmated: {¦\"X2\": true})]",
            &["condition a", "positions: {\"X2.mated\": \"pulled\"}"],
        ),
        ("conditions: [(name: \"a\", sources: {¦\"W1\": true})]", &["is a wire"]),
        ("conditions: [(name: \"a\", sources: {¦\"K1\": true, \"K1\": true})]", &["given twice"]),
        ("conditions: [(name: \"a\", lifted: {¦\"K1.A1\": true})]", &["is a part", "W7.from"]),
        ("conditions: [(name: ¦\"\")]", &["empty name"]),
        ("constraints: [¦never_both([source_on(\"K1\")])]", &["two statements"]),
        ("constraints: [only_when(source_on(\"K1\"), commanded(¦\"K2.A1\"))]", &["'K2'", "there is K1"]),
        ("looms: [(name: \"a\"), (name: ¦\"a\")]", &["two looms"]),
        ("meters: [(name: \"m\", lead_ohms: ¦-1)]", &["meter m", "negative"]),
        ("meters: [(name: \"m\", lead_ohms: ¦NaN)]", &["plain number"]),
        ("meters: [(name: \"m\", tone_below_ohms: ¦inf)]", &["plain number"]),
        ("meters: [(name: \"m\", tone_below_ohms: 90, silent_above_ohms: ¦30)]", &["exchange"]),
        ("meters: [(name: \"m\", ohm_ranges: [600, ¦0])]", &["above zero"]),
        ("photos: [(name: \"p\", placement: similarity(mm_per_px: ¦0))]", &["photo p", "above zero"]),
        ("photos: [(name: \"p\", placement: similarity(mm_per_px: ¦-0.2))]", &["above zero"]),
        ("photos: [(name: \"p\", placement: ¦homography(0,0,0,0,0,0,0,0,0))]", &["flatten"]),
        ("photos: [(name: \"p\", hash: ¦\"../x\")]", &["64 digits"]),
        ("photos: [(name: \"p\", quarter_turns: ¦4)]", &["0, 1, 2 or 3"]),
        ("photos: [(name: \"p\", faded: ¦101)]", &["0 to 100"]),
        ("mysteries: [(name: \"m\", subject: end(¦\"W2.to\"))]", &["'W2'", "there is W1"]),
        (
            "mysteries: [(name: \"m\", subject: kind(\"K1\"), candidates: [(guess: nowhere, weight: ¦0)])]",
            &["above zero"],
        ),
        (
            "mysteries: [(name: \"m\", subject: kind(\"K1\"), candidates: [(guess: named(¦\"relay-change\"))])]",
            &["no kind of part", "relay-change-over"],
        ),
        ("decisions: [(rule: \"r\", about: [\"K1\", ¦\"reading x\"], verdict: mended)]", &["no reading 'x'"]),
        ("machine: (extra_low_volts_ac: ¦-5)", &["above zero"]),
    ];
    for (more, words) in cases {
        let (text, place) = marked(&with(more));
        let said = said(&text);
        assert!(said.starts_with(&format!("f.ron:{place}: ")), "{more}\n{said}");
        assert!(words.iter().all(|word| said.contains(word)), "{more}\n{said}");
        assert_eq!(said.lines().count(), 1, "{more}\n{said}");
    }
}

#[test]
fn mistakes_in_parts_and_wires_are_located_and_explained() {
    let cases: &[(&str, &[&str])] = &[
        ("parts: [(tag: \"K1\", kind: ¦\"relay-chang-over\")]", &["part K1", "no kind", "'relay-change-over'"]),
        ("parts: [(tag: ¦\"K 1\", kind: \"cord-plug\")]", &["'K 1' cannot be a tag"]),
        ("parts: [(tag: ¦\"\", kind: \"cord-plug\")]", &["empty"]),
        ("parts: [(tag: \"K1\", kind: \"cord-plug\")], wires: [(key: ¦\"K1\")]", &["used twice", "first is on line 2"]),
        ("parts: [(tag: \"K1\", kind: \"cord-plug\", ratings: {\"volts\": ¦\"-230 V\"})]", &["negative"]),
        ("parts: [(tag: \"K1\", kind: \"cord-plug\", ratings: {\"volts\": ¦\"3 A\"})]", &["expected V"]),
        (
            "parts: [(tag: \"K1\", kind: \"cord-plug\", ratings: {¦\"vots\": \"3 V\"})]",
            &["no rating 'vots'", "'volts'"],
        ),
        ("parts: [(tag: \"K1\", kind: \"cord-plug\", terminals: {¦\"X\": ()})]", &["no terminal 'X'", "L, N, PE"]),
        ("parts: [(tag: \"K1\", kind: \"cord-plug\", rest: {¦\"door\": \"open\"})]", &["no switch", "none"]),
        ("parts: [(tag: \"K1\", kind: \"cord-plug\", at: ¦(1, NaN))]", &["plain number"]),
        ("parts: [(tag: \"K1\", kind: \"cord-plug\", pins: [(marking: \"1\"), (marking: ¦\"1\")])]", &["two pins"]),
        (
            "parts: [(tag: \"K1\", kind: \"cord-plug\", pins: [(marking: \"1\", role: joined(¦\"9\"))])]",
            &["no terminal '9'"],
        ),
        (
            "parts: [(tag: \"K1\", kind: \"cord-plug\", crop: (photo: ¦\"p\", rect_px: (0, 0, 1, 1)))]",
            &["no photo 'p'"],
        ),
        ("wires: [(key: \"W1\", from: ¦\"K1\")]", &["wire W1", "names no end", "'loose'"]),
        ("wires: [(key: \"W1\", from: (at: ¦\"K1.A1\", lug: flag))]", &["no part or wire 'K1'"]),
        ("wires: [(key: \"W1\", from: (at: \"loose\", lifted: ¦true))]", &["lifted"]),
        ("wires: [(key: \"W1\", colour: ¦\"BL\")]", &["IEC 60757"]),
        ("wires: [(key: \"W1\", size: ¦\"18\")]", &["18 AWG"]),
        ("wires: [(key: \"W1\", length_mm: ¦-1)]", &["negative"]),
        ("wires: [(key: \"W1\", path: [(0, 0), ¦(inf, 0)])]", &["plain number"]),
        ("wires: [(key: \"W1\", loom: ¦\"l\")]", &["no loom 'l'"]),
        ("wires: [(key: \"W1\", form: ¦jumpr)]", &["did you mean 'jumper'"]),
        ("wires: [(key: \"W1\", from: (¦lgu: flag))]", &["'lgu'", "lug"]),
        ("wires: [(key: \"W1\", ¦colr: \"BK\")]", &["unknown field 'colr'", "did you mean 'colour'"]),
        ("wires: [(from: \"loose\"¦)]", &["'key' is missing"]),
        ("wires: [(key: \"W1\" ¦from: \"loose\")]", &["comma"]),
    ];
    for (more, words) in cases {
        let (text, place) = marked(&format!("(format: 1,\n{more})"));
        let said = said(&text);
        assert!(said.starts_with(&format!("f.ron:{place}: ")), "{more}\n{said}");
        assert!(words.iter().all(|word| said.contains(word)), "{more}\n{said}");
        assert_eq!(said.lines().count(), 1, "{more}\n{said}");
    }
}

#[test]
fn the_format_is_looked_at_first() {
    assert_eq!(
        said("(\n  format: 2, anything: new(\"x\"))"),
        "f.ron:2:11: written by a newer Wirewitness: format 2, this program reads up to 1; update the program; \
         the file is untouched"
    );
    assert!(said("(machine: ())").starts_with("f.ron:1:1: the file does not say its format; write 'format: 1,'"));
    assert!(said("(format: 0)").contains("no format 0"));
    assert!(said("(format: \"one\")").contains("write 'format: 1'"));
    assert!(said("PK\u{3}\u{4}").contains("this is no record"));
    assert!(said("").contains("this is no record"));
}

#[test]
fn all_mistakes_of_a_file_are_reported_in_the_order_of_its_lines() {
    let said = said(&with(
        "readings: [(name: \"a\", red: \"K9\", value: \"loud\"),\n(name: \"b\", red: \"K1.9\", value: \"OL\")]",
    ));
    let places: Vec<&str> = said.lines().map(|line| &line[..line.find(": ").unwrap()]).collect();
    assert_eq!(places, ["f.ron:5:29", "f.ron:5:42", "f.ron:6:18"]);
}

#[test]
fn a_file_that_is_not_text_or_not_there_is_explained() {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("a.ron");
    assert!(store::load(&path, &kinds()).unwrap_err().to_string().contains("no such file"));
    std::fs::write(&path, b"(format: 1,\n\xff").unwrap();
    let said = store::load(&path, &kinds()).unwrap_err().to_string();
    assert!(said.contains("a.ron:2:1: ") && said.contains("UTF-8"), "{said}");
}
