//! What is wrong in a file that can be read but does not make sense, and where it stands.

use crate::catalogue::FileError;

use super::tree::{Node, Places};

/// One step from the top of the file towards a value.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) enum Step {
    /// The field or key of this name.
    Name(String),
    /// The entry with this number, from 0.
    Entry(usize),
}

impl From<&str> for Step {
    fn from(name: &str) -> Self {
        Self::Name(name.to_owned())
    }
}

impl From<usize> for Step {
    fn from(entry: usize) -> Self {
        Self::Entry(entry)
    }
}

/// How bad a problem is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Sort {
    /// The file contradicts itself.
    Broken,
    /// The catalogue does not know what the file speaks of.
    NotInCatalogue,
}

/// One thing that does not make sense.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Problem {
    pub path: Vec<Step>,
    /// The text in quotes to point at, somewhere at the path.
    pub word: Option<String>,
    /// What is wrong and what to do.
    pub message: String,
    /// Another place that the message speaks of.
    pub first: Option<Vec<Step>>,
    pub sort: Sort,
}

impl Problem {
    /// The problem with its place in the text.
    pub fn located(&self, file: &str, places: &Places<'_>) -> FileError {
        let Places { text, tree, .. } = places;
        let node = at_path(tree, text, &self.path);
        let at =
            self.word.as_deref().and_then(|word| node.quoted(text, word)).map_or(node.span.start, |span| span.start);
        let (line, column) = places.line_and_column(at);
        let message = match &self.first {
            None => self.message.clone(),
            Some(first) => {
                let (line, _) = places.line_and_column(at_path(tree, text, first).span.start);
                format!("{} (the first is on line {line})", self.message)
            }
        };
        FileError { file: file.to_owned(), line, column, message }
    }
}

/// The value at the end of a path, or the last one on the way that is there.
fn at_path<'t>(tree: &'t Node, text: &str, path: &[Step]) -> &'t Node {
    let mut node = tree;
    for step in path {
        let next = match step {
            Step::Name(name) => node.member(text, name),
            Step::Entry(number) => node.inside.get(*number),
        };
        match next {
            Some(next) => node = next,
            None => break,
        }
    }
    node
}

/// Remarks on files that belong beside a record, by the place in the record that speaks of them, located in its text.
pub(super) fn located_files(file: &str, text: &str, remarks: Vec<(Vec<Step>, String)>) -> Vec<FileError> {
    if remarks.is_empty() {
        return Vec::new();
    }
    let text = text.strip_prefix('\u{feff}').unwrap_or(text);
    let places = Places::of(text);
    let problem = |(path, message)| Problem { path, word: None, message, first: None, sort: Sort::NotInCatalogue };
    remarks.into_iter().map(|remark| problem(remark).located(file, &places)).collect()
}
