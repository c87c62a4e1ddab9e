//! Reads and writes RON text: one way for part kinds and machine files, with mistakes that name file, line and column.

use std::fmt;

use ron::error::{Error as RonError, SpannedError};
use ron::extensions::Extensions;
use ron::ser::PrettyConfig;
use serde::Serialize;
use serde::de::DeserializeOwned;
use thiserror::Error;

/// How deep brackets may be nested before a file is refused. Our own files need about ten.
const DEEPEST: usize = 64;

/// A mistake in a file: where it is, what is wrong, what to do.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Error)]
pub struct FileError {
    /// The file, as the person knows it.
    pub file: String,
    /// Line, from 1.
    pub line: usize,
    /// Column in characters, from 1.
    pub column: usize,
    /// What is wrong; what to do.
    pub message: String,
}

impl fmt::Display for FileError {
    fn fmt(&self, f: &mut fmt::Formatter<'_>) -> fmt::Result {
        write!(f, "{}:{}:{}: {}", self.file, self.line, self.column, self.message)
    }
}

impl FileError {
    /// A mistake at a byte offset of the text; an offset beyond its end is taken as the end.
    pub fn at_offset(file: &str, text: &str, offset: usize, message: impl Into<String>) -> Self {
        let (line, column) = line_and_column(text, offset);
        Self { file: file.to_owned(), line, column, message: message.into() }
    }
}

/// Line and column, both from 1, of a byte offset.
pub fn line_and_column(text: &str, offset: usize) -> (usize, usize) {
    let mut line = 1;
    let mut column = 1;
    for (at, letter) in text.char_indices() {
        if at >= offset {
            break;
        }
        if letter == '\n' {
            line += 1;
            column = 1;
        } else {
            column += 1;
        }
    }
    (line, column)
}

/// Reads a value. `Some(x)` may be written `x`, and a variant that holds one struct may be written without its second
/// pair of brackets. Numbers are not checked for sign or for NaN: the caller knows what they stand for.
///
/// # Errors
/// The first mistake, with its place; a misspelt field or variant comes with the nearest one that exists.
pub fn read<T: DeserializeOwned>(file: &str, text: &str) -> Result<T, FileError> {
    // Some editors put a byte order mark at the head of a file; it says nothing here.
    let bare = text.strip_prefix('\u{feff}').unwrap_or(text);
    options().from_str(bare).map_err(|error| file_error(file, bare, &error))
}

/// Writes a value so that a person can read it and a change is a small difference between lines: one field per line,
/// four spaces, names of structs left out, a line end at the end. [`read`] gives the same value back.
///
/// # Errors
/// A sentence when the value cannot be written as RON (it is nested too deep).
pub fn write<T: Serialize + ?Sized>(value: &T) -> Result<String, String> {
    let config = PrettyConfig::new().new_line("\n").indentor("    ").struct_names(false);
    let mut text = options().to_string_pretty(value, config).map_err(|error| format!("cannot be written: {error}"))?;
    text.push('\n');
    Ok(text)
}

/// How RON is read and written here.
pub(crate) fn options() -> ron::Options {
    ron::Options::default()
        .with_default_extension(
            Extensions::IMPLICIT_SOME | Extensions::UNWRAP_NEWTYPES | Extensions::UNWRAP_VARIANT_NEWTYPES,
        )
        .with_recursion_limit(DEEPEST)
}

fn file_error(file: &str, text: &str, error: &SpannedError) -> FileError {
    // A word that is not known, or a value of the wrong sort, begins the span, behind its white space.
    let place = match error.code {
        RonError::Eof => error.span.end,
        _ => error.span.start,
    };
    let from = offset_of(text, place.line, place.col);
    let rest = text.get(from..).unwrap_or("");
    let blank = rest.len() - rest.trim_start().len();
    let at = if blank < rest.len() { from + blank } else { from };
    FileError::at_offset(file, text, at, message(&error.code))
}

/// The byte offset of a line and column, both from 1.
fn offset_of(text: &str, line: usize, column: usize) -> usize {
    let start: usize = text.split_inclusive('\n').take(line.saturating_sub(1)).map(str::len).sum();
    let rest = text.get(start..).unwrap_or("");
    start + rest.char_indices().nth(column.saturating_sub(1)).map_or(rest.len(), |(at, _)| at)
}

/// What is wrong, and what to do about it.
fn message(error: &RonError) -> String {
    match error {
        RonError::NoSuchStructField { expected, found, outer } => {
            unknown("field", found, outer.as_deref(), expected, "leave it out")
        }
        RonError::NoSuchEnumVariant { expected, found, outer } => {
            unknown("word", found, outer.as_deref(), expected, "use one of the words that exist")
        }
        RonError::MissingStructField { field, outer } => {
            format!("'{field}' is missing{}; add it", inside(outer.as_deref()))
        }
        RonError::DuplicateStructField { field, outer } => {
            format!("'{field}' is given twice{}; keep one of them", inside(outer.as_deref()))
        }
        RonError::InvalidValueForType { expected, found } => format!("expected {expected} but found {found}"),
        RonError::ExceededRecursionLimit => {
            format!("brackets are nested deeper than {DEEPEST}; no file of ours needs that: check the brackets")
        }
        RonError::Eof => "the text ends too early; a closing bracket or quotation mark is missing".to_owned(),
        RonError::TrailingCharacters => "there is text after the last closing bracket; take it out".to_owned(),
        RonError::ExpectedComma => "a comma is missing before this; add it, or close the bracket".to_owned(),
        RonError::ExpectedMapColon => "a colon is missing after the name; add it".to_owned(),
        RonError::ExpectedArray => "expected a list; write it in square brackets".to_owned(),
        RonError::ExpectedArrayEnd => "the list is not closed; add ']' or a comma".to_owned(),
        RonError::ExpectedMap => "expected a table; write it in curly brackets".to_owned(),
        RonError::ExpectedMapEnd => "the table is not closed; add '}' or a comma".to_owned(),
        RonError::ExpectedString => "expected text; write it in quotation marks".to_owned(),
        RonError::ExpectedStringEnd => "the text is not closed; add a quotation mark".to_owned(),
        RonError::ExpectedFloat | RonError::ExpectedInteger => {
            "expected a number; write it bare, without quotation marks or unit".to_owned()
        }
        RonError::ExpectedStructLike | RonError::ExpectedNamedStructLike(_) => {
            "expected a group of fields; write it in round brackets".to_owned()
        }
        RonError::ExpectedStructLikeEnd => "the round bracket is not closed; add ')' or a comma".to_owned(),
        RonError::ExpectedBoolean => "expected true or false".to_owned(),
        RonError::IntegerOutOfBounds => "the number does not fit here; check it".to_owned(),
        other => format!("{other}; check the spelling and the brackets at this place"),
    }
}

fn unknown(what: &str, found: &str, outer: Option<&str>, expected: &[&str], otherwise: &str) -> String {
    let advice = match (nearest(found, expected.iter().copied()), expected) {
        (Some(near), _) => format!("did you mean '{near}'?"),
        (None, []) => otherwise.to_owned(),
        (None, list) => format!("{otherwise}: {}", list.join(", ")),
    };
    format!("unknown {what} '{found}'{}; {advice}", inside(outer))
}

fn inside(outer: Option<&str>) -> String {
    outer.map_or_else(String::new, |outer| format!(" in {outer}"))
}

/// The candidate a person most likely meant, if one is near enough; of equals the first.
pub fn nearest<'a>(found: &str, candidates: impl IntoIterator<Item = &'a str>) -> Option<&'a str> {
    let mut best: Option<(&str, f64)> = None;
    for candidate in candidates {
        let likeness = strsim::jaro_winkler(found, candidate);
        if likeness >= 0.75 && best.is_none_or(|(_, held)| likeness > held) {
            best = Some((candidate, likeness));
        }
    }
    best.map(|(candidate, _)| candidate)
}

#[cfg(test)]
mod tests {
    use serde::Deserialize;

    use super::*;

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    #[serde(deny_unknown_fields)]
    struct Shelf {
        title: String,
        #[serde(default)]
        height_mm: Option<f64>,
        #[serde(default)]
        boxes: Vec<Box>,
    }

    #[derive(Debug, PartialEq, Serialize, Deserialize)]
    #[serde(deny_unknown_fields, rename_all = "snake_case")]
    enum Box {
        Empty,
        Holds { what: String, at: (f64, f64) },
    }

    #[derive(Debug, Deserialize)]
    #[serde(rename_all = "snake_case")]
    #[allow(dead_code, reason = "only read, to be nested")]
    enum Nest {
        In(std::boxed::Box<Nest>),
        Out,
    }

    fn shelf() -> Shelf {
        Shelf {
            title: "top".to_owned(),
            height_mm: Some(12.5),
            boxes: vec![Box::Empty, Box::Holds { what: "lugs".to_owned(), at: (1.0, -2.0) }],
        }
    }

    fn mistake(text: &str) -> String {
        read::<Shelf>("shelf.ron", text).unwrap_err().to_string()
    }

    #[test]
    fn what_was_written_reads_back_and_is_written_the_same() {
        let text = write(&shelf()).unwrap();
        let back: Shelf = read("shelf.ron", &text).unwrap();
        assert_eq!(back, shelf());
        assert_eq!(write(&back).unwrap(), text);
        assert_eq!(
            text,
            "(\n    title: \"top\",\n    height_mm: 12.5,\n    boxes: [\n        empty,\n        holds(\n            \
             what: \"lugs\",\n            at: (1.0, -2.0),\n        ),\n    ],\n)\n"
        );
    }

    #[test]
    fn a_misspelt_field_is_located_and_the_right_one_suggested() {
        assert_eq!(
            mistake("(\n  title: \"top\",\n  heigth_mm: 3.0,\n)"),
            "shelf.ron:3:3: unknown field 'heigth_mm' in Shelf; did you mean 'height_mm'?"
        );
    }

    #[test]
    fn a_misspelt_variant_is_located_and_the_right_one_suggested() {
        assert_eq!(
            mistake("(\n  title: \"top\",\n  boxes: [\n    empy,\n  ],\n)"),
            "shelf.ron:4:5: unknown word 'empy' in Box; did you mean 'empty'?"
        );
    }

    #[test]
    fn a_word_that_is_near_to_nothing_lists_what_exists() {
        let said = mistake("(title: \"top\", q: 1)");
        assert!(said.contains("unknown field 'q'") && said.contains("title, height_mm, boxes"), "{said}");
    }

    #[test]
    fn each_common_slip_says_what_to_do() {
        for (text, place, word) in [
            ("(title: \"top\" boxes: [])", "shelf.ron:1:", "comma"),
            ("(title: \"top\",\n boxes: [empty", "shelf.ron:2:", "close the bracket"),
            ("(title: top)", "shelf.ron:1:9", "quotation marks"),
            ("(\n boxes: [])", "shelf.ron:2:", "'title' is missing"),
            ("(title: \"a\", title: \"b\")", "shelf.ron:1:", "twice"),
            ("(title: \"a\") more", "shelf.ron:1:", "after the last closing bracket"),
            ("(title: \"a\", height_mm: \"3 mm\")", "shelf.ron:1:", "number"),
            ("", "shelf.ron:1:1", ""),
        ] {
            let said = mistake(text);
            assert!(said.starts_with(place) && said.contains(word), "{text}: {said}");
        }
    }

    #[test]
    fn deep_nesting_is_refused_and_does_not_overflow() {
        let deep = "in(".repeat(200_000);
        let said = read::<Nest>("nest.ron", &deep).unwrap_err().to_string();
        assert!(said.contains("nested deeper"), "{said}");
        let skipped = format!("(title: \"a\", boxes: {})", "[".repeat(200_000));
        assert!(read::<Shelf>("shelf.ron", &skipped).is_err());
        assert!(read::<serde_json::Value>("any.ron", &"[".repeat(200_000)).is_err());
    }

    #[test]
    fn a_byte_order_mark_and_windows_line_ends_are_accepted() {
        let shelf: Shelf = read("shelf.ron", "\u{feff}(\r\n  title: \"top\",\r\n)\r\n").unwrap();
        assert_eq!(shelf.title, "top");
    }

    #[test]
    fn places_are_counted_in_letters() {
        assert_eq!(line_and_column("Ω\nΩx", 5), (2, 2));
        assert_eq!(line_and_column("ab", 99), (1, 3));
    }
}
