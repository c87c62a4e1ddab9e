//! A small reader of source files for the layout rules: no parser, only what the rules ask for.

use std::fs;
use std::path::Path;

/// One file of the tree.
pub struct Source {
    /// Path from the root, with forward slashes.
    pub path: String,
    /// What is in it.
    pub text: String,
}

/// All files below some folders with one of the endings, in order of path.
pub fn sources(root: &Path, folders: &[&str], endings: &[&str]) -> Vec<Source> {
    let mut found = Vec::new();
    for folder in folders {
        walk(root, &root.join(folder), endings, &mut found);
    }
    found.sort_by(|a, b| a.path.cmp(&b.path));
    found
}

fn walk(root: &Path, folder: &Path, endings: &[&str], found: &mut Vec<Source>) {
    let Ok(entries) = fs::read_dir(folder) else { return };
    for path in entries.filter_map(Result::ok).map(|entry| entry.path()) {
        if path.is_dir() {
            walk(root, &path, endings, found);
        } else if path.extension().is_some_and(|ending| endings.iter().any(|e| ending == *e)) {
            found.push(Source::read(root, path.strip_prefix(root).unwrap_or(&path)));
        }
    }
}

/// Whether a text has a word with no letter, digit or underscore beside it.
pub fn has_word(text: &str, word: &str) -> bool {
    let part_of_word = |c: char| c.is_alphanumeric() || c == '_';
    text.match_indices(word).any(|(at, _)| {
        !text[..at].chars().next_back().is_some_and(part_of_word)
            && !text[at + word.len()..].chars().next().is_some_and(part_of_word)
    })
}

impl Source {
    /// Reads a file by its path from the root.
    pub fn read(root: &Path, path: &Path) -> Self {
        let text = fs::read_to_string(root.join(path)).unwrap_or_else(|error| panic!("{}: {error}", path.display()));
        Self { path: path.to_string_lossy().replace('\\', "/"), text }
    }

    /// The room of src/ it lies in; none for `lib.rs` and `main.rs`.
    pub fn room(&self) -> Option<&str> {
        let (room, _) = self.path.strip_prefix("src/")?.split_once('/')?;
        Some(room)
    }

    /// Whether all of it is compiled for tests only.
    fn is_test_file(&self) -> bool {
        let path = Path::new(&self.path);
        path.file_stem().is_some_and(|stem| stem == "tests" || stem == "testing") || self.path.contains("/tests/")
    }

    /// Lines that the program is made of: no comments, nothing after the first `#[cfg(test)]` with a body.
    pub fn code_lines(&self) -> Vec<(usize, &str)> {
        if self.is_test_file() {
            return Vec::new();
        }
        let lines: Vec<&str> = self.text.lines().collect();
        let mut code = Vec::new();
        for (at, line) in lines.iter().enumerate() {
            let opens_tests = line.trim() == "#[cfg(test)]"
                && lines.get(at + 1).is_some_and(|next| next.trim_start().starts_with("mod ") && next.contains('{'));
            if opens_tests {
                break;
            }
            let bare = line.trim_start();
            if !bare.starts_with("//") {
                code.push((at + 1, bare.split_once(" // ").map_or(*line, |(before, _)| before)));
            }
        }
        code
    }

    /// Every `crate::room` in the program's lines, `use crate::{a, b}` and `super::` chains to the root included.
    pub fn crate_imports(&self) -> Vec<(usize, String)> {
        let depth = self.path.matches('/').count() - usize::from(self.path.ends_with("/mod.rs"));
        let to_root = "super::".repeat(depth);
        let mut found = Vec::new();
        let mut group_from = None;
        for (line, code) in self.code_lines() {
            for prefix in ["crate::", to_root.as_str()] {
                for (at, _) in code.match_indices(prefix) {
                    let rest = &code[at + prefix.len()..];
                    if let Some(group) = rest.strip_prefix('{') {
                        group_from = Some(line);
                        found.extend(heads(group).map(|name| (line, name)));
                    } else {
                        found.extend(heads(rest).take(1).map(|name| (line, name)));
                    }
                }
            }
            if let Some(from) = group_from {
                if line > from {
                    found.extend(heads(code).map(|name| (line, name)));
                }
                if code.contains("};") {
                    group_from = None;
                }
            }
        }
        found
    }

    /// Every struct with named fields and how many it has.
    pub fn struct_fields(&self) -> Vec<(String, usize)> {
        let mut found: Vec<(String, usize)> = Vec::new();
        let mut inside = None;
        for line in self.text.lines() {
            let bare = line.trim_start();
            let indent = line.len() - bare.len();
            let item = bare.split_once(' ').filter(|(head, _)| head.starts_with("pub")).map_or(bare, |(_, rest)| rest);
            if let Some(rest) = item.strip_prefix("struct ").filter(|_| line.ends_with('{')) {
                let name: String = rest.chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect();
                found.push((name, 0));
                inside = Some(indent);
            } else if inside == Some(indent) && bare.starts_with('}') {
                inside = None;
            } else if inside.is_some_and(|outer| indent == outer + 4) {
                let field = item.split_once(':').is_some_and(|(name, _)| {
                    !name.is_empty() && name.chars().all(|c| c.is_ascii_lowercase() || c.is_ascii_digit() || c == '_')
                });
                if let Some(last) = found.last_mut().filter(|_| field) {
                    last.1 += 1;
                }
            }
        }
        found
    }
}

/// The first name of each path in a list: `a::b, c` has `a` and `c`.
fn heads(list: &str) -> impl Iterator<Item = String> + '_ {
    list.split(',')
        .map(|item| item.trim().chars().take_while(|c| c.is_alphanumeric() || *c == '_').collect::<String>())
        .filter(|name| !name.is_empty())
}

#[test]
fn the_reader_sees_what_the_rules_ask_for() {
    let text = "//! A file for this test.\nuse crate::machine::Part;\nuse crate::{circuit::Net, store};\n// crate::app\n\
                pub struct Wide {\n    /// One: two.\n    pub a: u8,\n    pub(crate) b_2: u8,\n}\n\
                fn f() { super::super::desk::g(); }\n#[cfg(test)]\nmod tests {\n    use crate::cli;\n}\n";
    let file = Source { path: "src/catalogue/body.rs".to_owned(), text: text.to_owned() };
    let names: Vec<String> = file.crate_imports().into_iter().map(|(_, name)| name).collect();
    assert_eq!(file.room(), Some("catalogue"));
    assert_eq!(names, ["machine", "circuit", "store", "desk"]);
    assert_eq!(file.struct_fields(), [("Wide".to_owned(), 2)]);
    assert!(has_word("a word.", "word") && !has_word("swords", "word") && !has_word("word_", "word"));
}
