//! The rules of the code layout, held against the tree: rooms and their imports, sizes, first lines, words.
//!
//! DEVELOPERS.md says why each rule is there. A rule that a file cannot keep is listed here with its reason, and an
//! exception that is no longer needed fails too.

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::{Path, PathBuf};

#[path = "layering/source.rs"]
mod source;

use source::{Source, has_word, sources};

/// The rooms of src/, from what is known to who asks, with the rooms each may import.
const ROOMS: &[(&str, &[&str])] = &[
    ("quantity", &[]),
    ("machine", &["quantity"]),
    ("catalogue", &["quantity", "machine"]),
    ("circuit", &["quantity", "machine", "catalogue"]),
    ("identify", &["quantity", "machine", "catalogue", "circuit"]),
    ("removal", &["quantity", "machine", "catalogue", "circuit"]),
    ("findings", &["quantity", "machine", "catalogue", "circuit"]),
    ("tracing", &["quantity"]),
    ("drawing", &["quantity", "machine", "catalogue"]),
    ("ladder", &["quantity", "machine", "catalogue", "circuit", "drawing"]),
    (
        "sheet",
        &[
            "quantity",
            "machine",
            "catalogue",
            "circuit",
            "identify",
            "removal",
            "findings",
            "tracing",
            "drawing",
            "ladder",
        ],
    ),
    ("store", &["quantity", "machine", "catalogue"]),
    ("generate", &["quantity", "machine", "catalogue"]),
    ("practice", &["quantity", "machine", "catalogue", "circuit", "identify", "generate"]),
    (
        "desk",
        &[
            "quantity",
            "machine",
            "catalogue",
            "circuit",
            "identify",
            "removal",
            "findings",
            "tracing",
            "drawing",
            "ladder",
            "sheet",
            "store",
            "generate",
            "practice",
        ],
    ),
    (
        "cli",
        &[
            "quantity",
            "machine",
            "catalogue",
            "circuit",
            "identify",
            "removal",
            "findings",
            "tracing",
            "drawing",
            "ladder",
            "sheet",
            "store",
            "generate",
            "practice",
            "desk",
        ],
    ),
    (
        "app",
        &[
            "quantity",
            "machine",
            "catalogue",
            "circuit",
            "identify",
            "removal",
            "findings",
            "tracing",
            "drawing",
            "ladder",
            "generate",
            "practice",
            "desk",
        ],
    ),
];

/// Crates that only the window may name.
const WINDOW_CRATES: &[&str] = &["egui", "eframe", "egui_extras", "rfd", "lyon"];

/// Crates that only the pages of the sheet may name.
const PAPER_CRATES: &[&str] = &["typst", "typst_layout", "typst_pdf", "typst_svg", "typst_render", "qrcode"];

/// Files over 600 lines, each with its reason.
const LONG_FILES: &[(&str, &str)] = &[];

/// Structs of more than 15 fields, each with its reason.
const WIDE_STRUCTS: &[(&str, &str)] = &[];

/// What may lie at the top of the project, besides dot-files.
const TOP_LEVEL: &[&str] = &[
    "Cargo.toml",
    "Cargo.lock",
    "README.md",
    "DEVELOPERS.md",
    "LICENSE-MIT",
    "LICENSE-APACHE",
    "src",
    "assets",
    "diagrams",
    "tests",
    "docs",
];

const LONGEST_FILE: usize = 600;
const MEDIAN_FILE: usize = 250;
const MOST_FIELDS: usize = 15;

fn root() -> PathBuf {
    PathBuf::from(env!("CARGO_MANIFEST_DIR"))
}

fn rust_sources() -> Vec<Source> {
    sources(&root(), &["src", "tests"], &["rs"])
}

fn program_sources() -> Vec<Source> {
    sources(&root(), &["src"], &["rs"])
}

#[track_caller]
fn assert_none(found: &[String], rule: &str) {
    assert!(found.is_empty(), "{rule}\n  {}", found.join("\n  "));
}

#[test]
fn a_room_imports_only_what_the_table_allows() {
    let rooms: BTreeMap<&str, BTreeSet<&str>> =
        ROOMS.iter().map(|(r, may)| (*r, may.iter().copied().collect())).collect();
    let mut found = Vec::new();
    for file in program_sources() {
        let Some(room) = file.room() else { continue };
        let Some(may) = rooms.get(room) else {
            found.push(format!("{}: the room '{room}' is not in the table", file.path));
            continue;
        };
        for (line, target) in file.crate_imports() {
            if target != room && rooms.contains_key(target.as_str()) && !may.contains(target.as_str()) {
                found.push(format!("{}:{line}: {room} may not import {target}", file.path));
            }
        }
    }
    assert_none(&found, "a room imports only what the room table allows:");
}

#[test]
fn rooms_are_imported_from_above_only() {
    for (place, (room, may)) in ROOMS.iter().enumerate() {
        for target in *may {
            let above = ROOMS.iter().position(|(name, _)| name == target);
            assert!(above.is_some_and(|above| above < place), "{room} imports {target}, which is not above it");
        }
    }
}

#[test]
fn the_developers_guide_has_the_same_room_table() {
    let guide = fs::read_to_string(root().join("DEVELOPERS.md")).unwrap();
    let written: Vec<(String, BTreeSet<String>)> = guide
        .lines()
        .filter_map(|line| {
            let cells: Vec<&str> = line.strip_prefix("| `")?.trim_end_matches('|').split('|').map(str::trim).collect();
            let room = cells.first()?.strip_suffix("/`")?.to_owned();
            let may =
                cells.get(2)?.split(',').map(|r| r.trim().to_owned()).filter(|r| r != "nothing of ours").collect();
            Some((room, may))
        })
        .collect();
    let held: Vec<(String, BTreeSet<String>)> =
        ROOMS.iter().map(|(room, may)| ((*room).to_owned(), may.iter().map(|r| (*r).to_owned()).collect())).collect();
    assert_eq!(written, held, "the room table of DEVELOPERS.md (left) and of tests/layering.rs (right) differ");
}

#[test]
fn the_library_lists_its_rooms_in_order_and_holds_no_logic() {
    let text = fs::read_to_string(root().join("src/lib.rs")).unwrap();
    let mut listed = Vec::new();
    for line in text.lines().map(str::trim).filter(|l| !l.is_empty() && !l.starts_with("//")) {
        if line.starts_with("#[cfg(") {
            continue;
        }
        let name = line.strip_prefix("pub mod ").and_then(|rest| rest.strip_suffix(';'));
        listed.push(name.unwrap_or_else(|| panic!("src/lib.rs holds more than rooms: {line}")).to_owned());
    }
    let in_order: Vec<&str> = ROOMS.iter().map(|(r, _)| *r).filter(|r| listed.iter().any(|l| l == r)).collect();
    assert_eq!(listed, in_order, "src/lib.rs lists the rooms in the order of the table");
    let folders: BTreeSet<String> = fs::read_dir(root().join("src"))
        .unwrap()
        .filter_map(Result::ok)
        .filter(|entry| entry.path().is_dir())
        .map(|entry| entry.file_name().to_string_lossy().into_owned())
        .collect();
    assert_eq!(folders, listed.into_iter().collect(), "every folder of src/ is a room, and every room a folder");
}

#[test]
fn only_the_window_names_the_windows_crates() {
    let mut found = Vec::new();
    for file in program_sources().iter().filter(|file| file.room() != Some("app")) {
        for (line, code) in file.code_lines() {
            for name in WINDOW_CRATES.iter().filter(|name| code.contains(&format!("{name}::"))) {
                found.push(format!("{}:{line}: {name}", file.path));
            }
            // The crate that hands files to other programs; a module of ours has the same name.
            if code.contains("open::that") {
                found.push(format!("{}:{line}: open", file.path));
            }
        }
    }
    assert_none(&found, "egui, eframe, rfd, lyon and open are named in src/app only:");
}

#[test]
fn only_the_pages_of_the_sheet_name_the_typesetter() {
    let mut found = Vec::new();
    for file in program_sources().iter().filter(|file| !file.path.starts_with("src/sheet/paper/")) {
        for (line, code) in file.code_lines() {
            for name in PAPER_CRATES.iter().filter(|name| code.contains(&format!("{name}::"))) {
                found.push(format!("{}:{line}: {name}", file.path));
            }
        }
    }
    assert_none(&found, "the typesetter is named in src/sheet/paper only:");
}

#[test]
fn every_file_begins_by_saying_what_it_is_for() {
    let found: Vec<String> = rust_sources()
        .iter()
        .filter(|file| !file.text.lines().next().is_some_and(|first| first.starts_with("//! ") && first.len() > 12))
        .map(|file| file.path.clone())
        .collect();
    assert_none(&found, "the first line of a file is '//! ' and its purpose:");
}

#[test]
fn files_stay_short() {
    let files = rust_sources();
    let mut found = Vec::new();
    for file in &files {
        let lines = file.text.lines().count();
        let excepted = LONG_FILES.iter().any(|(path, _)| *path == file.path);
        if lines > LONGEST_FILE && !excepted {
            found.push(format!("{}: {lines} lines, at most {LONGEST_FILE}", file.path));
        }
        if lines <= LONGEST_FILE && excepted {
            found.push(format!("{}: {lines} lines, so its exception is stale", file.path));
        }
    }
    for (path, _) in LONG_FILES.iter().filter(|(path, _)| !files.iter().any(|file| file.path == *path)) {
        found.push(format!("{path}: is not there, so its exception is stale"));
    }
    assert_none(&found, "files are short enough to be read in one go:");

    let mut lengths: Vec<usize> = program_sources().iter().map(|file| file.text.lines().count()).collect();
    lengths.sort_unstable();
    let median = lengths[lengths.len() / 2];
    assert!(median < MEDIAN_FILE, "the median file of src/ has {median} lines; it is to stay below {MEDIAN_FILE}");
}

#[test]
fn structs_stay_narrow() {
    let mut found = Vec::new();
    let mut wide = BTreeSet::new();
    for file in program_sources() {
        for (name, fields) in file.struct_fields() {
            if fields > MOST_FIELDS {
                let full = format!("{}::{name}", file.path);
                if !WIDE_STRUCTS.iter().any(|(excepted, _)| *excepted == full) {
                    found.push(format!("{full}: {fields} fields, at most {MOST_FIELDS}"));
                }
                wide.insert(full);
            }
        }
    }
    for (name, _) in WIDE_STRUCTS.iter().filter(|(name, _)| !wide.contains(*name)) {
        found.push(format!("{name}: is not that wide, so its exception is stale"));
    }
    assert_none(&found, "a struct that everything passes through is many structs:");
}

/// A program for work on live machines promises nobody that something does no harm.
#[test]
fn nothing_promises_that_no_harm_can_come() {
    let banned = [concat!("sa", "fe"), concat!("sa", "fely"), concat!("sa", "fer")];
    let mut files = sources(&root(), &["src", "assets", "diagrams", "docs", "tests"], &["rs", "md", "ron"]);
    files.extend(["README.md", "DEVELOPERS.md"].map(|name| Source::read(&root(), Path::new(name))));
    let mut found = Vec::new();
    for file in &files {
        for (line, text) in file.text.lines().enumerate() {
            // A test that asserts the same of its own room's texts has to name the word.
            if !text.contains("assert!(") && banned.iter().any(|word| has_word(&text.to_lowercase(), word)) {
                found.push(format!("{}:{}: {}", file.path, line + 1, text.trim()));
            }
        }
    }
    assert_none(&found, "say what the record shows, what is not known and what to verify; this word is not ours:");
}

#[test]
fn no_mark_of_unfinished_work_is_left() {
    let marks = [concat!("TO", "DO"), concat!("FIX", "ME"), concat!("X", "XX"), concat!("HA", "CK")];
    let macros = [concat!("to", "do!("), concat!("unimple", "mented!("), concat!("db", "g!(")];
    let mut found = Vec::new();
    for file in sources(&root(), &["src", "assets", "diagrams", "docs", "tests"], &["rs", "md", "ron"]) {
        for (line, text) in file.text.lines().enumerate() {
            if marks.iter().any(|mark| has_word(text, mark)) || macros.iter().any(|mark| text.contains(mark)) {
                found.push(format!("{}:{}: {}", file.path, line + 1, text.trim()));
            }
        }
    }
    assert_none(&found, "what is not whole does not land:");
}

#[test]
fn colours_are_named_in_the_theme_and_the_drawing_style_only() {
    let mut found = Vec::new();
    for file in program_sources() {
        if file.path.starts_with("src/app/theme") || file.path.starts_with("src/drawing/style") {
            continue;
        }
        for (line, code) in file.code_lines() {
            let built = code.contains("Color32::from_") || code.contains("Rgba::from_") || code.contains("hex_color!");
            let named = code.split("Color32::").skip(1).any(|rest| {
                rest.starts_with(|c: char| c.is_ascii_uppercase())
                    && !rest.starts_with("TRANSPARENT")
                    && !rest.starts_with("PLACEHOLDER")
            });
            let hex = code.split("\"#").skip(1).any(|rest| {
                rest.len() >= 6 && rest.is_char_boundary(6) && rest[..6].chars().all(|c| c.is_ascii_hexdigit())
            });
            if built || named || hex {
                found.push(format!("{}:{line}: {}", file.path, code.trim()));
            }
        }
    }
    assert_none(&found, "a colour literal outside app/theme and drawing/style:");
}

#[test]
fn what_can_panic_has_its_reason_on_the_line() {
    let risky = [".unwrap()", ".expect(", "panic!(", "unreachable!(", "assert!(", "assert_eq!("];
    let mut found = Vec::new();
    for file in program_sources() {
        let lines: Vec<&str> = file.text.lines().collect();
        for (line, code) in file.code_lines() {
            // The reason stands behind the call, in a comment right above it, or in the lint's attribute just above.
            let reasoned = lines[line - 1].contains("//")
                || line > 1 && lines[line - 2].trim_start().starts_with("// ")
                || lines[line.saturating_sub(7)..line].iter().any(|above| above.contains("reason = \""));
            if risky.iter().any(|call| code.contains(call)) && !reasoned && !code.contains("debug_assert") {
                found.push(format!("{}:{line}: {}", file.path, code.trim()));
            }
        }
    }
    assert_none(
        &found,
        "no panic is acceptable to a person at a machine; a call that cannot fail says why on its line:",
    );
}

#[test]
fn the_top_level_stays_small() {
    let mut found = Vec::new();
    for entry in fs::read_dir(root()).unwrap().filter_map(Result::ok) {
        let name = entry.file_name().to_string_lossy().into_owned();
        let ours = name.starts_with('.') || name == "target" || TOP_LEVEL.contains(&name.as_str());
        if !ours {
            found.push(name);
        }
    }
    assert_none(&found, "the top level holds only what a newcomer must see:");
}
