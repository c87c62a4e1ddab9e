//! The commands as a person or a program runs them: what they print, where, and how they end.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use std::fs;
use std::path::{Path, PathBuf};
use std::process::{Command, Output, Stdio};

use serde_json::Value;

#[path = "cli/practice.rs"]
mod practice;

const MACHINE: &str = "tests/cli/two-fans.ron";

fn root() -> &'static Path {
    Path::new(env!("CARGO_MANIFEST_DIR"))
}

fn command(arguments: &[&str]) -> Command {
    let mut command = Command::new(env!("CARGO_BIN_EXE_wirewitness"));
    command.args(arguments).current_dir(root()).stdin(Stdio::null());
    command
}

fn run(arguments: &[&str]) -> Output {
    command(arguments).output().unwrap()
}

fn out(output: &Output) -> String {
    String::from_utf8(output.stdout.clone()).unwrap()
}

fn err(output: &Output) -> String {
    String::from_utf8(output.stderr.clone()).unwrap()
}

#[track_caller]
fn json(arguments: &[&str]) -> Value {
    let output = run(arguments);
    let value: Value =
        serde_json::from_slice(&output.stdout).unwrap_or_else(|error| panic!("{error}: {}", err(&output)));
    assert_eq!(value["format"], 1, "{arguments:?}");
    value
}

/// A file of a folder that is taken away again.
fn in_folder(name: &str, text: &str) -> (tempfile::TempDir, PathBuf) {
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join(name);
    fs::write(&path, text).unwrap();
    (folder, path)
}

/// Every `$ wirewitness ...` of docs/commands.md is run; the lines shown below it come in the output in that order, and
/// with no `...` among them they are all of it.
#[test]
fn the_examples_of_the_documentation_are_what_the_program_does() {
    let text = fs::read_to_string(root().join("docs/commands.md")).unwrap();
    let folder = tempfile::tempdir().unwrap();
    let mut tried = Vec::new();
    for block in text.split("```console\n").skip(1) {
        let block = block.split("```").next().unwrap();
        for example in block.split("$ wirewitness").skip(1) {
            let (line, shown) = example.split_once('\n').unwrap();
            let arguments: Vec<String> =
                words(line)
                    .into_iter()
                    .map(|word| {
                        if word.starts_with("practice.") {
                            folder.path().join(word).display().to_string()
                        } else {
                            word
                        }
                    })
                    .collect();
            let arguments: Vec<&str> = arguments.iter().map(String::as_str).collect();
            let paper = arguments.first().is_some_and(|first| *first == "sheet" || *first == "labels");
            let paper = paper || arguments.iter().any(|one| one.contains(".svg"));
            if paper && !cfg!(feature = "sheet") {
                continue;
            }
            let opens_window = arguments.first().is_none_or(|first| first.starts_with("diagrams/"));
            if opens_window {
                continue;
            }
            let output = run(&arguments);
            let printed = out(&output).replace(&format!("{}/", folder.path().display()), "");
            assert_eq!(err(&output), "", "wirewitness{line}");
            assert_shown(line, shown, &printed);
            tried.push(arguments[0].to_owned());
        }
    }
    for name in [
        "check",
        "rules",
        "parts",
        "wires",
        "nets",
        "ladder",
        "condition",
        "expect",
        "removal",
        "compare",
        "trace",
        "export",
        "pack",
        "shop",
        "generate",
        "practice",
    ] {
        assert!(tried.iter().any(|one| one == name), "docs/commands.md has no example of {name}");
    }
}

/// The words of a command line, with double quotes kept together.
fn words(line: &str) -> Vec<String> {
    line.split('"')
        .enumerate()
        .flat_map(|(at, part)| match at % 2 {
            0 => part.split_whitespace().map(str::to_owned).collect::<Vec<_>>(),
            _ => vec![part.to_owned()],
        })
        .collect()
}

#[track_caller]
fn assert_shown(line: &str, shown: &str, printed: &str) {
    let mut left = printed.lines();
    let mut skipping = false;
    for wanted in shown.trim_end().lines() {
        if wanted.trim() == "..." {
            skipping = true;
            continue;
        }
        let found = if skipping { left.any(|line| line == wanted) } else { left.next() == Some(wanted) };
        assert!(
            found,
            "docs/commands.md: wirewitness{line}\nthe line\n{wanted}\nis not where it is shown in\n{printed}"
        );
        skipping = false;
    }
    assert!(
        skipping || left.next().is_none(),
        "docs/commands.md: wirewitness{line}\nprints more than is shown:\n{printed}"
    );
}

#[test]
fn check_ends_with_1_from_the_asked_severity_on() {
    let found = json(&["check", "--json", MACHINE]);
    let severities: Vec<&str> =
        found["files"][0]["findings"].as_array().unwrap().iter().map(|f| f["severity"].as_str().unwrap()).collect();
    assert!(!severities.is_empty());
    let words = ["danger", "fault", "doubt", "note"];
    for (at, word) in words.iter().enumerate() {
        let counts = severities.iter().any(|severity| words[..=at].contains(severity));
        let code = run(&["check", "--fail-on", word, MACHINE]).status.code();
        assert_eq!(code, Some(i32::from(counts)), "--fail-on {word}");
    }
    assert_eq!(run(&["check", MACHINE]).status.code(), run(&["check", "--fail-on", "fault", MACHINE]).status.code());
}

#[test]
fn every_finding_in_json_is_whole() {
    let answer = json(&["check", "--json", MACHINE]);
    assert_eq!(answer["files"][0]["file"], MACHINE);
    for finding in answer["files"][0]["findings"].as_array().unwrap() {
        for field in ["rule", "severity", "what", "why", "do", "source"] {
            assert!(finding[field].as_str().is_some_and(|text| !text.is_empty()), "{field} of {finding}");
        }
        assert!(finding["about"].is_array() && finding.get("decision").is_some(), "{finding}");
    }
}

#[test]
fn a_file_that_cannot_be_read_ends_with_2_and_the_others_are_checked() {
    let (_folder, damaged) =
        in_folder("damaged.ron", "(\n    format: 1,\n    parts: [(tag: \"K1\", kynd: \"fuse\")],\n)\n");
    let damaged = damaged.display().to_string();
    let output = run(&["check", "nowhere.ron", &damaged, MACHINE]);
    assert_eq!(output.status.code(), Some(2));
    assert!(out(&output).contains(MACHINE), "{}", out(&output));
    let told = err(&output);
    assert!(told.contains("nowhere.ron"), "{told}");
    assert!(told.contains("damaged.ron:3:"), "names file and line: {told}");
    let answer = json(&["check", "--json", &damaged, MACHINE]);
    assert!(answer["files"][0]["error"].as_str().is_some_and(|error| error.contains("damaged.ron:3:")), "{answer}");
    assert!(!answer["files"][1]["findings"].as_array().unwrap().is_empty());
}

#[test]
fn requests_that_make_no_sense_end_with_2_and_a_word_on_standard_error() {
    for arguments in [
        &["chekc", "a", "b"][..],
        &["check"],
        &["check", "--fail-on", "fire", MACHINE],
        &["wires", "--csv", "--json", MACHINE],
        &["generate", "--wires", "many", "-o", "x.ron"],
        &["generate", "--wires", "99999999999", "-o", "x.ron"],
        &["parts", "--kinds", "nowhere.ron"],
        &["nets", MACHINE, "--condition", "swithced on"],
        &["--kinds", "nowhere.ron"],
        &["sheet", MACHINE, "-o", "sheet.doc"],
        &["sheet", MACHINE, "-o", "sheet.pdf", "--only", "everything"],
        &["sheet", MACHINE, "-o", "sheet.pdf", "--paper", "a0"],
        &["sheet", "nowhere.ron", "-o", "sheet.pdf"],
        &["labels", MACHINE, "-o", "no/such/folder/labels.pdf"],
        &["export", MACHINE, "-o", "wires.txt"],
        &["export", MACHINE, "-o", "no/such/folder/wires.csv"],
        &["pack", MACHINE, "-o", "README.md"],
        &["unpack", "README.md", "-o", "docs"],
        &["shop", "no/such/folder"],
        &["shop", "diagrams", "--find", " "],
    ] {
        let output = run(arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert_eq!(out(&output), "", "{arguments:?}");
        assert!(err(&output).starts_with("error: "), "{arguments:?}: {}", err(&output));
    }
}

#[test]
fn every_rule_is_listed_with_its_source() {
    let rules = json(&["rules", "--json"]);
    let rules = rules["rules"].as_array().unwrap();
    let text = out(&run(&["rules"]));
    assert!(rules.len() > 3);
    for rule in rules {
        assert!(rule["source"].as_str().is_some_and(|source| !source.is_empty()), "{rule}");
        assert!(text.contains(rule["rule"].as_str().unwrap()), "{rule}");
    }
}

#[test]
fn kinds_are_listed_with_terminals_and_a_file_of_ones_own_is_put_on_top() {
    let kinds = json(&["parts", "--json"]);
    let kinds = kinds["kinds"].as_array().unwrap();
    assert!(kinds.len() >= 50, "{} kinds", kinds.len());
    let relay = kinds.iter().find(|kind| kind["kind"] == "relay-change-over").unwrap();
    let markings: Vec<&str> =
        relay["terminals"].as_array().unwrap().iter().map(|terminal| terminal["marking"].as_str().unwrap()).collect();
    // Coil A1 A2 and change-over contact 11-12-14: IEC/EN 50005 and 50011 function digits, as published in relay catalogues.
    for marking in ["A1", "A2", "11", "12", "14"] {
        assert!(markings.contains(&marking), "{marking} of {markings:?}");
    }
    assert_eq!(relay["ratings"], serde_json::json!({}), "nothing is printed on a kind");
    assert_eq!(relay["typical"]["coil_volt_amps"], 3.0);
    assert!(relay["typical_source"].as_str().is_some_and(|source| source.contains("data sheet")), "{relay}");
    assert!(kinds.iter().any(|kind| kind["kind"] == "heater" && kind["typical_source"].is_null()));
    let (_folder, own) = in_folder(
        "own.ron",
        "(kinds: [(name: \"odd-buzzer\", title: \"odd buzzer\", family: loads, letters: (iec: \"P\", us: \"BZ\"),\n\
         terminals: [(marking: \"+\", at: (0, 0)), (marking: \"-\", at: (0, 10))],\n\
         elements: [load(name: \"buzzer\", ends: (\"+\", \"-\"), what: sounder)],\n\
         symbol: (both: [circle(at: (0, 5), r: 3)]))])\n",
    );
    let more = json(&["parts", "--json", "--kinds", &own.display().to_string()]);
    let more = more["kinds"].as_array().unwrap();
    assert_eq!(more.len(), kinds.len() + 1);
    assert!(more.iter().any(|kind| kind["kind"] == "odd-buzzer"));
}

#[test]
fn the_wire_list_says_the_same_in_json_and_csv() {
    let wires = json(&["wires", "--json", MACHINE]);
    let wires = wires["wires"].as_array().unwrap();
    let csv = run(&["wires", "--csv", MACHINE]);
    let mut reader = csv::Reader::from_reader(csv.stdout.as_slice());
    let rows: Vec<csv::StringRecord> = reader.records().map(Result::unwrap).collect();
    assert_eq!(rows.len(), wires.len());
    for (row, wire) in rows.iter().zip(wires) {
        assert_eq!(&row[0], wire["wire"].as_str().unwrap());
        assert_eq!(&row[1], wire["number"].as_str().unwrap_or(""));
    }
    assert_eq!(wires[1]["colour"], "BK");
    assert_eq!(wires[1]["tracer"], "RD");
    assert_eq!(wires[1]["from"], "K1.14");
    assert_eq!(wires[8]["to"], "loose");
    assert_eq!(wires[8]["standing"]["from"], "assumed");
    assert!(wires[8]["standing"]["to"].is_null());
    assert!(wires[9]["from"]["unknown"].is_string());
    assert_eq!(wires[9]["state"], "lifted");
}

/// The nets agree with the wire list: two terminals are on one net exactly when a walk along landed wires leads from one to
/// the other. The machine has no joins inside parts.
#[test]
fn nets_are_what_a_walk_along_the_wire_list_joins() {
    let wires = json(&["wires", "--json", MACHINE]);
    let landed: Vec<(String, String)> = wires["wires"]
        .as_array()
        .unwrap()
        .iter()
        .filter(|wire| wire["state"] == "in-place")
        .filter_map(|wire| Some((wire["from"].as_str()?.to_owned(), wire["to"].as_str()?.to_owned())))
        .filter(|(from, to)| from != "loose" && to != "loose")
        .collect();
    let walk = |start: &str| {
        let mut reached = std::collections::BTreeSet::from([start.to_owned()]);
        while let Some(next) =
            landed.iter().find_map(|(from, to)| match (reached.contains(from), reached.contains(to)) {
                (true, false) => Some(to.clone()),
                (false, true) => Some(from.clone()),
                _ => None,
            })
        {
            reached.insert(next);
        }
        reached
    };
    let nets = json(&["nets", "--json", MACHINE]);
    let mut seen = 0;
    for net in nets["nets"].as_array().unwrap() {
        let terminals: std::collections::BTreeSet<String> =
            net["terminals"].as_array().unwrap().iter().map(|name| name.as_str().unwrap().to_owned()).collect();
        for terminal in &terminals {
            assert_eq!(walk(terminal), terminals, "{terminal}");
            seen += 1;
        }
    }
    assert_eq!(seen, 3 + 2 + 5 + 3 + 3, "every terminal of plug, switch, relay and two fans");
}

/// Source: RFC 4180, 2: lines end with CRLF; a field with a comma, a quote or a line break is quoted, a quote in it doubled.
#[test]
fn the_ladder_says_the_same_in_words_and_json_and_is_drawn_as_svg() {
    let answer = json(&["ladder", MACHINE, "--json"]);
    let rungs = answer["sections"][0]["rungs"].as_array().unwrap();
    let shown = out(&run(&["ladder", MACHINE]));
    assert_eq!(shown.lines().filter(|line| line.contains(" ─ ")).count(), rungs.len());
    let coil = &rungs[0]["devices"][1];
    assert_eq!((&coil["part"], &coil["what"]), (&Value::from("K1"), &Value::from("coil")));
    assert_eq!(coil["contacts"][0]["rung"], 2);
    assert_eq!(rungs[1]["devices"][0]["coil"], 1);
    for off in answer["off"].as_array().unwrap() {
        let line = format!("  {}: {}", off["what"].as_str().unwrap(), off["why"].as_str().unwrap());
        assert!(shown.contains(&line), "{line}");
    }
    let folder = tempfile::tempdir().unwrap();
    let file = folder.path().join("ladder.svg");
    for symbols in ["iec", "ansi"] {
        let told = run(&["ladder", MACHINE, "-o", file.to_str().unwrap(), "--symbols", symbols]);
        assert_eq!((told.status.code(), err(&told)), (Some(0), String::new()));
        let svg = fs::read_to_string(&file).unwrap();
        assert!(svg.starts_with("<svg") && svg.trim_end().ends_with("</svg>") && svg.contains(">K1<"));
    }
    for wrong in [vec!["-o", "ladder.xyz"], vec!["--symbols", "din"]] {
        let mut arguments = vec!["ladder", MACHINE];
        arguments.extend(wrong);
        let refused = run(&arguments);
        assert_eq!(refused.status.code(), Some(2));
        assert!(!err(&refused).is_empty());
    }
}

#[test]
fn csv_follows_rfc_4180() {
    let text = fs::read_to_string(root().join(MACHINE)).unwrap().replace("number: \"4\"", "number: \"4, \\\"old\\\"\"");
    let (_folder, path) = in_folder("quoted.ron", &text);
    let printed = out(&run(&["wires", "--csv", &path.display().to_string()]));
    assert!(printed.contains("\r\nW7,\"4, \"\"old\"\"\",S1.2,K1.A1,"), "{printed}");
    assert!(printed.split_inclusive('\n').all(|line| line.ends_with("\r\n")));
}

#[test]
fn the_same_seed_writes_the_same_bytes_and_nothing_is_written_over() {
    let folder = tempfile::tempdir().unwrap();
    let path = |name: &str| folder.path().join(name).display().to_string();
    for name in ["a.ron", "b.ron"] {
        let output = run(&["generate", "--wires", "120", "--seed", "4", "-o", &path(name)]);
        assert_eq!(output.status.code(), Some(0), "{}", err(&output));
    }
    let bytes = fs::read(path("a.ron")).unwrap();
    assert_eq!(bytes, fs::read(path("b.ron")).unwrap());
    let again = run(&["generate", "--wires", "5", "-o", &path("a.ron")]);
    assert_eq!(again.status.code(), Some(2));
    assert!(err(&again).contains("already"), "{}", err(&again));
    assert_eq!(fs::read(path("a.ron")).unwrap(), bytes);
    let checked = json(&["check", "--json", &path("a.ron")]);
    assert!(!checked["files"][0]["findings"].as_array().unwrap().is_empty());
}

#[test]
fn removal_says_what_may_go_and_why_the_rest_stays() {
    let all = json(&["removal", "--json", "diagrams/pantry-locker.ron"]);
    let wires = all["wires"].as_array().unwrap();
    let of = |key: &str| wires.iter().find(|one| one["wire"] == key).unwrap();
    assert_eq!(of("W29")["verdict"], "live-stub");
    assert_eq!(of("W29")["proof"]["conditions"], 18.0);
    assert_eq!(of("W50")["verdict"], "cannot-be-said");
    assert!(of("W50")["missing"][0].as_str().unwrap().contains("W50.to"));
    assert_eq!(of("W04")["verdict"], "in-use");
    assert_eq!(of("W04")["witness"]["sources_on"][0], "X1");
    assert!(all["plan"].as_array().unwrap().iter().any(|step| step["step"] == "W29.out"));
    let one = json(&["removal", "--json", "diagrams/pantry-locker.ron", "W04"]);
    assert_eq!(one["plan"][0]["step"], "W04.stays");
    assert_eq!(one["plan"].as_array().unwrap().len(), 1);
    let wrong = run(&["removal", "diagrams/pantry-locker.ron", "W4"]);
    assert_eq!(wrong.status.code(), Some(2));
    assert!(err(&wrong).contains("did you mean 'W"), "{}", err(&wrong));
}

#[test]
fn compare_says_what_differs() {
    let text = fs::read_to_string(root().join(MACHINE)).unwrap();
    let (_folder, path) = in_folder("later.ron", &text.replacen("number: \"1\"", "number: \"11\"", 1));
    let path = path.display().to_string();
    let said = json(&["compare", "--json", MACHINE, &path]);
    assert_eq!(said["changed"][0], "W1 was re-marked: number 11, before 1.");
    assert_eq!(said["added"].as_array().unwrap().len() + said["removed"].as_array().unwrap().len(), 0);
    assert!(out(&run(&["compare", MACHINE, &path])).contains("Changed"));
    assert_eq!(run(&["compare", MACHINE, "nowhere.ron"]).status.code(), Some(2));
}

#[test]
fn no_colours_come_where_there_is_no_terminal() {
    for arguments in [&["check", MACHINE][..], &["rules"], &["parts"], &["--help"], &["chekc", "x", "y"]] {
        let output = run(arguments);
        let all = out(&output) + &err(&output);
        assert!(!all.is_empty() && !all.contains('\u{1b}'), "{arguments:?}");
    }
}

/// What a command ends with when nobody reads its answer: the reading end of the pipe is closed before it starts.
#[cfg(unix)]
fn unread(arguments: &[&str]) -> Output {
    let (reader, writer) = std::io::pipe().unwrap();
    drop(reader);
    command(arguments).stdout(writer).stderr(Stdio::piped()).output().unwrap()
}

/// The exit code tells what was found, also to a script that reads only the head of the list.
#[cfg(unix)]
#[test]
fn a_reader_that_stops_reading_changes_neither_the_exit_code_nor_says_a_word() {
    let mut codes = std::collections::BTreeSet::new();
    for arguments in [
        &["check", "--fail-on", "note", MACHINE][..],
        &["check", "--fail-on", "danger", MACHINE],
        &["check", "--fail-on", "note", "--json", MACHINE],
        &["rules"],
        &["rules", "--json"],
        &["parts"],
        &["parts", "--json"],
        &["wires", MACHINE],
        &["wires", "--csv", MACHINE],
        &["wires", "--json", MACHINE],
        &["nets", MACHINE],
        &["nets", "--json", MACHINE],
        &["--help"],
        &["--version"],
    ] {
        let (read, left) = (run(arguments), unread(arguments));
        assert_eq!(err(&left), "", "{arguments:?}");
        assert_eq!(left.status.code(), read.status.code(), "{arguments:?}");
        codes.insert(left.status.code());
    }
    assert!(codes.contains(&Some(0)) && codes.contains(&Some(1)), "{codes:?}");
    let damaged = unread(&["check", "nowhere.ron", MACHINE]);
    assert_eq!(damaged.status.code(), Some(2));
    assert!(err(&damaged).contains("nowhere.ron"), "{}", err(&damaged));
}

/// A pipe that closes in the middle of a long answer, as behind `head`.
#[cfg(unix)]
#[test]
fn the_exit_code_stands_when_the_reader_leaves_in_the_middle() {
    use std::io::Read as _;
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("long.ron").display().to_string();
    assert!(run(&["generate", "--wires", "3000", "-o", &path]).status.success());
    let whole = run(&["check", "--fail-on", "note", &path]);
    assert!(whole.stdout.len() > 200_000, "longer than any pipe holds: {}", whole.stdout.len());
    let mut child =
        command(&["check", "--fail-on", "note", &path]).stdout(Stdio::piped()).stderr(Stdio::piped()).spawn().unwrap();
    let mut head = [0; 100];
    let mut reader = child.stdout.take().unwrap();
    reader.read_exact(&mut head).unwrap();
    drop(reader);
    let output = child.wait_with_output().unwrap();
    assert_eq!((output.status.code(), err(&output)), (Some(1), String::new()));
}

/// `/dev/full` refuses every byte as a full disk does.
#[cfg(target_os = "linux")]
#[test]
fn an_answer_that_cannot_be_written_ends_with_2_and_a_word() {
    for arguments in [&["check", MACHINE][..], &["parts", "--json"], &["wires", "--csv", MACHINE], &["--help"]] {
        let full = fs::OpenOptions::new().write(true).open("/dev/full").unwrap();
        let output = command(arguments).stdout(full).stderr(Stdio::piped()).output().unwrap();
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(err(&output).contains("could not be written"), "{arguments:?}: {}", err(&output));
    }
}

/// `DISPLAY` and `WAYLAND_DISPLAY` taken away is what a bare terminal is like; elsewhere a window would open.
#[cfg(target_os = "linux")]
#[test]
fn without_a_display_the_window_says_what_works() {
    let output = command(&[MACHINE])
        .env_remove("DISPLAY")
        .env_remove("WAYLAND_DISPLAY")
        .env_remove("WAYLAND_SOCKET")
        .output()
        .unwrap();
    assert_eq!(output.status.code(), Some(2), "{}", err(&output));
    assert!(err(&output).contains("wirewitness check"), "{}", err(&output));
}
