//! The practice bench from the command line: sessions typed in, forbidden readings, wrong answers, input that ends early.

use super::*;

/// A practice session with these lines typed in.
fn practise(arguments: &[&str], typed: &[u8]) -> Output {
    use std::io::Write as _;
    let mut child = command(&[&["practice"], arguments].concat())
        .stdin(Stdio::piped())
        .stdout(Stdio::piped())
        .stderr(Stdio::piped())
        .spawn()
        .unwrap();
    // A session that has ended reads no more.
    let _ = child.stdin.take().unwrap().write_all(typed);
    child.wait_with_output().unwrap()
}

const COILS: &str = "tests/cli/three-coils.ron";

#[track_caller]
fn assert_in_order(printed: &str, wanted: &[&str]) {
    let mut left = printed;
    for one in wanted {
        let at = left.find(one).unwrap_or_else(|| panic!("no '{one}' where it should be in\n{printed}"));
        left = &left[at + one.len()..];
    }
}

#[test]
fn a_practice_session_is_played_to_the_end_and_all_right() {
    let typed = b"help\nmachine\nmysteries\nconditions\nset isolated\ntone K1.A1 TB1.1a\ntone K1.A1 TB1.2a\ntone K2.A1 TB1.1a\n\
        tone K2.A1 TB1.3a\ntone k3.a1 tb1.1a\nreadings\nanswer 1 b\nanswer 2 TB1.3a\nanswer 3 A\nscore\nfinish\n";
    let output = practise(&[COILS, "--seed", "2"], typed);
    let printed = out(&output);
    assert_eq!((output.status.code(), err(&output).as_str()), (Some(0), ""), "{printed}");
    assert_in_order(
        &printed,
        &[
            "PRACTICE: Three coils",
            "set NUMBER",
            "A1  K1.A1 - unknown",
            "1. K1's lead",
            "verify absence of voltage with a meter tried on a known live source",
            "1. tone at K1.A1 (red) TB1.1a (black), 'isolated': no tone",
            "TB1.2a (black), 'isolated': tone",
            "'isolated': no tone",
            "'isolated': tone",
            "'isolated': tone",
            "judged when you write finish",
            "Readings: 5, 0 of them with a source on. Effort: 6.",
            "right: K1's lead: TB1.2a",
            "right: K2's lead: TB1.3a",
            "right: K3's lead: TB1.1a",
            "Right: 3 of 3.",
            "You took 5 readings with an effort of 6",
            "the least there is",
            "Forbidden readings asked for: 0.",
        ],
    );
    assert!(!printed.to_lowercase().contains("safe"), "{printed}");
    assert!(!printed.contains("> "), "no question where nobody sits: {printed}");
}

#[test]
fn forbidden_readings_in_a_practice_session_are_refused_with_the_reason_and_live_ones_come_with_cautions() {
    let typed = b"set live\ntone K1.A1 TB1.1a\nohms K1.A1 K1.A2\namps X1.L X1.N\nvolts-ac K2.A1 K2.A2\nset 3\nohms K1.A1 K1.A2\nfinish\n";
    let output = practise(&[COILS, "--seed", "2"], typed);
    let printed = out(&output);
    assert_eq!(output.status.code(), Some(0), "{printed}");
    assert_eq!(printed.matches("FORBIDDEN: ").count(), 4, "{printed}");
    assert_in_order(
        &printed,
        &[
            "FORBIDDEN: a source is on in this condition, up to 24 V",
            "FORBIDDEN: a source is on",
            "FORBIDDEN: on amps a meter is next to a piece of wire",
            "WARNING: extra-low voltage is on",
            "1. volts AC at K2.A1",
            "DANGER: line voltage is on",
            "FORBIDDEN: this condition does not say of every source",
            "Forbidden readings asked for: 4.",
            "With a source on, where an isolated machine would have told: 1. volts AC at K2.A1",
        ],
    );
}

#[test]
fn wrong_answers_in_a_practice_session_are_told_with_the_truth_at_the_end_only() {
    let typed = b"answer 1 a\nanswer 1 b\nanswer 2 a\nfault K3 open\nfault K2 open\ntake-back K2\nfinish\nanswer 3 a\n";
    let printed = out(&practise(&[COILS, "--seed", "2"], typed));
    assert_in_order(
        &printed,
        &[
            "Noted: K1's lead is TB1.1a. It is judged when you write finish.",
            "Noted: K1's lead is TB1.2a",
            "Taken back: K2.",
            "Weighing",
            "right by luck: K1's lead: TB1.2a",
            "wrong: K2's lead: TB1.1a; it is TB1.3a",
            "not answered: K3's lead: nothing said; it is TB1.1a",
            "no such fault: K3 open",
            "Right: 1 of 3.",
        ],
    );
    assert!(printed.trim_end().ends_with("Hints: 0."), "nothing is read after the end: {printed}");
}

#[test]
fn garbage_in_a_practice_session_gets_a_word_and_the_end_of_input_ends_it_cleanly() {
    let lines = [
        ("hepl", "did you mean help?"),
        ("\u{1b}[2J", "is no command here"),
        ("tone", "A reading goes between two places"),
        ("tone K9.A1 K1.A1", "'K9.A1' is not on this machine"),
        ("tone K1 K2", "A probe goes on a terminal"),
        ("tone A1.to K1.A1", "no condition yet"),
        ("volts K1.A1 K1.A2", "volts-ac or volts-dc"),
        ("amps K1.A1", "A clamp goes round a wire"),
        ("runs K1.A1", "Only a part can be seen to run"),
        ("set 0", "1 to 3"),
        ("set everything on", "1 to 3"),
        ("answer 7 a", "there are 3"),
        ("answer 1 z", "none of its candidates: a TB1.1a"),
        ("answer 99999999999999999999999 a", "there are 3"),
        ("tone K1.A9 K1.A1", "did you mean K1.A1?"),
        ("fault X9 open", "is not on this machine"),
        ("fault X1 welded", "Nothing at X1 can be welded"),
        ("take-back 1", "Nothing is said of K1's lead"),
        ("take-back K1", "Nothing was said of K1"),
        ("finish now", "stands alone"),
    ];
    let mut bytes: Vec<u8> = lines.iter().flat_map(|(line, _)| [line.as_bytes(), b"\n"].concat()).collect();
    bytes.extend(b"\xff\xfe\x00\n");
    bytes.extend(vec![b'x'; 20_000]);
    bytes.extend(b"\nscore\n");
    let output = practise(&[COILS], &bytes);
    let printed = out(&output);
    assert_eq!((output.status.code(), err(&output).as_str()), (Some(0), ""), "{printed}");
    let wanted: Vec<&str> = lines.iter().map(|(_, answer)| *answer).collect();
    assert_in_order(&printed, &wanted);
    assert_in_order(&printed, &["too long to be a command", "Readings: 0", "Left without finishing: 0 readings taken"]);
    assert!(!printed.contains('\u{1b}'), "what is typed does not reach the terminal as it is");

    let whole = b"set 1\ntone K1.A1 TB1.1a\nanswer 1 a\nquit\ntone K1.A1 TB1.1a\n";
    for end in 0..whole.len() {
        let output = practise(&[COILS], &whole[..end]);
        assert_eq!(output.status.code(), Some(0), "{}", err(&output));
        assert!(out(&output).trim_end().ends_with("nothing judged."), "{}", out(&output));
    }
    let invented = practise(&["--seed", "4"], b"mysteries\nquit\n");
    assert_in_order(&out(&invented), &["PRACTICE: ", "mysteries", "1. ", "Left without finishing"]);
    let nothing = practise(&[MACHINE], b"");
    assert_eq!(nothing.status.code(), Some(2));
    assert!(err(&nothing).contains("two-fans.ron: no mystery"), "{}", err(&nothing));
}

#[cfg(unix)]
#[test]
fn a_practice_session_that_nobody_reads_ends_cleanly() {
    assert_eq!(unread(&["practice", COILS]).status.code(), Some(0));
    assert_eq!(err(&unread(&["practice", COILS])), "");
}
