//! Where in a text each value lies. Used to lay a file out, and to say line and column of what is wrong in it.
//!
//! This is a scanner, not a second reader: it takes any text and makes the best of it. Whether the text is valid is
//! decided by the reader of the format.

use std::ops::Range;

/// Deeper nesting than this is taken as one leaf; the reader of the format refuses it anyway.
const DEEPEST: usize = 100;

/// One value of the text.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Node {
    /// Field name or map key that leads to it, as it stands in the text.
    pub key: Option<Range<usize>>,
    /// The value, from its first to its last character (the name of an enum case included).
    pub span: Range<usize>,
    /// Where its brackets open, for a value with brackets.
    pub open: Option<usize>,
    /// What lies inside its brackets.
    pub inside: Vec<Node>,
}

impl Node {
    /// The member with this field name or key.
    pub fn member(&self, text: &str, key: &str) -> Option<&Self> {
        self.inside.iter().find(|node| {
            node.key.clone().and_then(|span| text.get(span)).is_some_and(|written| written == key || says(written, key))
        })
    }

    /// The first value or key inside, or the value itself, that is this text in quotes.
    pub fn quoted(&self, text: &str, word: &str) -> Option<Range<usize>> {
        if let Some(key) = &self.key
            && text.get(key.clone()).is_some_and(|written| says(written, word))
        {
            return Some(key.clone());
        }
        if self.open.is_none() && text.get(self.span.clone()).is_some_and(|written| says(written, word)) {
            return Some(self.span.clone());
        }
        self.inside.iter().find_map(|node| node.quoted(text, word))
    }
}

/// Whether a piece of the file, read as a quoted text, says this.
fn says(written: &str, word: &str) -> bool {
    if !written.starts_with(['"', 'r']) {
        return false;
    }
    written.get(1..written.len().saturating_sub(1)) == Some(word)
        || ((written.starts_with('r') || written.contains('\\'))
            && ron::from_str::<String>(written).is_ok_and(|read| read == word))
}

/// A text with everything in it found, for saying where things are.
#[derive(Debug)]
pub(super) struct Places<'t> {
    pub text: &'t str,
    pub tree: Node,
    /// Where each line begins: a file may have thousands of remarks, and each would read the text from its start.
    line_starts: Vec<usize>,
}

impl<'t> Places<'t> {
    /// Looks through a text once.
    pub fn of(text: &'t str) -> Self {
        let newlines = text.bytes().enumerate().filter(|&(_, byte)| byte == b'\n');
        let line_starts = std::iter::once(0).chain(newlines.map(|(at, _)| at + 1)).collect();
        Self { text, tree: tree_of(text), line_starts }
    }

    /// Line and column (both from 1, columns in characters) of a place in the text.
    pub fn line_and_column(&self, at: usize) -> (usize, usize) {
        let line = self.line_starts.partition_point(|&start| start <= at);
        let start = line.checked_sub(1).and_then(|index| self.line_starts.get(index)).copied().unwrap_or(0);
        (line.max(1), self.text.get(start..at).unwrap_or("").chars().count() + 1)
    }
}

/// The first value of the text with everything inside it.
pub(super) fn tree_of(text: &str) -> Node {
    let mut scan = Scan { text, bytes: text.as_bytes(), at: 0 };
    scan.gap();
    while scan.peek() == Some(b'#') {
        scan.attribute();
        scan.gap();
    }
    scan.value(0)
}

struct Scan<'a> {
    text: &'a str,
    bytes: &'a [u8],
    at: usize,
}

impl Scan<'_> {
    fn peek(&self) -> Option<u8> {
        self.bytes.get(self.at).copied()
    }

    fn starts_with(&self, what: &str) -> bool {
        self.bytes.get(self.at..).is_some_and(|rest| rest.starts_with(what.as_bytes()))
    }

    fn attribute(&mut self) {
        while let Some(byte) = self.peek() {
            self.at += 1;
            if byte == b']' {
                break;
            }
        }
    }

    /// White space and comments.
    fn gap(&mut self) {
        loop {
            if self.peek().is_some_and(|byte| byte.is_ascii_whitespace()) {
                self.at += 1;
            } else if self.starts_with("//") {
                while self.peek().is_some_and(|byte| byte != b'\n') {
                    self.at += 1;
                }
            } else if self.starts_with("/*") {
                self.block_comment();
            } else {
                return;
            }
        }
    }

    /// Block comments nest.
    fn block_comment(&mut self) {
        let mut depth = 0_usize;
        while self.at < self.bytes.len() {
            if self.starts_with("/*") {
                depth += 1;
                self.at += 2;
            } else if self.starts_with("*/") {
                depth -= 1;
                self.at += 2;
                if depth == 0 {
                    return;
                }
            } else {
                self.at += 1;
            }
        }
    }

    /// One value; the scan stands on its first character.
    fn value(&mut self, depth: usize) -> Node {
        let start = self.at;
        self.word();
        let after_word = self.at;
        let named = after_word > start;
        if named {
            self.gap();
        }
        let opens = matches!(self.peek(), Some(b'(' | b'[' | b'{')) && (!named || self.peek() == Some(b'('));
        if !opens || depth > DEEPEST {
            self.at = after_word;
            if !named {
                self.at += usize::from(self.at < self.bytes.len());
            }
            return Node { key: None, span: start..self.at, open: None, inside: Vec::new() };
        }
        let open = self.at;
        self.at += 1;
        let inside = self.members(depth + 1);
        Node { key: None, span: start..self.at, open: Some(open), inside }
    }

    /// Everything up to the closing bracket, which is passed.
    fn members(&mut self, depth: usize) -> Vec<Node> {
        let mut members: Vec<Node> = Vec::new();
        let mut key = None;
        loop {
            self.gap();
            match self.peek() {
                None => return members,
                Some(b')' | b']' | b'}') => {
                    self.at += 1;
                    return members;
                }
                Some(b',') => self.at += 1,
                Some(b':') => {
                    self.at += 1;
                    key = members.pop().map(|node| node.span);
                }
                Some(_) => {
                    let mut node = self.value(depth);
                    node.key = key.take();
                    members.push(node);
                }
            }
        }
    }

    /// A name, a number, or something in quotes.
    fn word(&mut self) {
        if self.raw_string() {
            return;
        }
        match self.peek() {
            Some(b'"') => self.quoted(b'"'),
            Some(b'\'') => self.quoted(b'\''),
            _ => {
                while self.peek().is_some_and(|byte| !(byte.is_ascii_whitespace() || b"()[]{},:\"'/".contains(&byte))) {
                    self.at += 1;
                }
            }
        }
    }

    fn quoted(&mut self, quote: u8) {
        self.at += 1;
        while let Some(byte) = self.peek() {
            self.at += if byte == b'\\' { 2 } else { 1 };
            if byte == quote {
                break;
            }
        }
        self.at = self.at.min(self.bytes.len());
    }

    /// `r"..."`, `r#"..."#`.
    fn raw_string(&mut self) -> bool {
        let Some(rest) = self.text.get(self.at..).and_then(|rest| rest.strip_prefix('r')) else { return false };
        let inner = rest.trim_start_matches('#');
        let hashes = rest.len() - inner.len();
        if !inner.starts_with('"') {
            return false;
        }
        let close = format!("\"{}", "#".repeat(hashes));
        let body = self.at + 1 + hashes + 1;
        self.at = self
            .text
            .get(body..)
            .and_then(|body| body.find(&close))
            .map_or(self.bytes.len(), |found| body + found + close.len());
        true
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn values_are_found_by_field_place_and_text() {
        let text = "// a word\n(list: [(tag: \"K1\", at: on(\"a\\\"b\")), (tag: r#\"K2\"#)], map: {\"K1\": true})";
        let tree = tree_of(text);
        let list = tree.member(text, "list").unwrap();
        assert_eq!(list.inside.len(), 2);
        let at = list.inside[0].member(text, "at").unwrap();
        assert_eq!(&text[at.span.clone()], "on(\"a\\\"b\")");
        assert_eq!(&text[at.quoted(text, "a\"b").unwrap()], "\"a\\\"b\"");
        assert_eq!(&text[list.quoted(text, "K2").unwrap()], "r#\"K2\"#");
        let map = tree.member(text, "map").unwrap();
        assert_eq!(&text[map.member(text, "K1").unwrap().span.clone()], "true");
        assert_eq!(Places::of(text).line_and_column(list.inside[0].span.start), (2, 9));
    }

    #[test]
    fn broken_texts_are_scanned_to_their_end() {
        for text in ["", "(", "(a: [", "\"open", "r#\"open", "/* open", "))", "(a:::b)", "é(ü: 'x)", "\\", "\"\\"] {
            let places = Places::of(text);
            assert!(places.tree.span.end <= text.len());
            assert_eq!(places.line_and_column(0), (1, 1));
        }
    }
}
