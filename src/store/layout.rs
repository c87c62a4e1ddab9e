//! The normal form of a file: one entry per line where it is short, broken at its own brackets where it is not.

use super::tree::{Node, tree_of};

/// A line is broken when it would be longer than this many characters.
const WIDTH: usize = 120;
const INDENT: usize = 4;

/// Lays out a compact text: the fields of the top and the entries of its lists each on their own line.
pub(super) fn laid_out(compact: &str) -> String {
    let tree = tree_of(compact);
    let mut out = Layout { text: compact, out: String::with_capacity(compact.len() * 5 / 4) };
    out.broken(&tree, 0, |out, field| {
        if out.is_list(field) && !field.inside.is_empty() {
            out.broken(field, INDENT, |out, entry| out.node(entry, 2 * INDENT));
        } else {
            out.node(field, INDENT);
        }
    });
    out.out.push('\n');
    out.out
}

struct Layout<'a> {
    text: &'a str,
    out: String,
}

impl Layout<'_> {
    fn piece(&self, from: usize, to: usize) -> &str {
        self.text.get(from..to).unwrap_or("")
    }

    fn is_list(&self, node: &Node) -> bool {
        node.open.is_some_and(|open| self.piece(open, open + 1) == "[")
    }

    fn key(&mut self, node: &Node) {
        if let Some(key) = &node.key {
            let key = self.text.get(key.clone()).unwrap_or("");
            self.out.push_str(key);
            self.out.push_str(": ");
        }
    }

    /// The node with its key on one line where it fits, else broken.
    fn node(&mut self, node: &Node, indent: usize) {
        let before = self.out.len();
        self.flat(node);
        // The comma that follows counts too.
        let long = self.out.get(before..).is_some_and(|line| indent + line.chars().count() >= WIDTH);
        if long && !node.inside.is_empty() {
            self.out.truncate(before);
            self.broken(node, indent, |out, inside| out.node(inside, indent + INDENT));
        }
    }

    fn flat(&mut self, node: &Node) {
        self.key(node);
        let Some(open) = node.open else {
            let leaf = self.text.get(node.span.clone()).unwrap_or("");
            self.out.push_str(leaf);
            return;
        };
        let head = self.text.get(node.span.start..=open).unwrap_or("");
        self.out.push_str(head);
        for (index, inside) in node.inside.iter().enumerate() {
            if index > 0 {
                self.out.push_str(", ");
            }
            self.flat(inside);
        }
        let close = self.text.get(node.span.end - 1..node.span.end).unwrap_or("");
        self.out.push_str(close);
    }

    fn broken(&mut self, node: &Node, indent: usize, each: impl FnMut(&mut Self, &Node)) {
        self.key(node);
        self.broken_inside(node, indent, each);
    }

    fn broken_inside(&mut self, node: &Node, indent: usize, mut each: impl FnMut(&mut Self, &Node)) {
        let Some(open) = node.open else { return };
        let head = self.text.get(node.span.start..=open).unwrap_or("");
        self.out.push_str(head);
        self.out.push('\n');
        for inside in &node.inside {
            self.out.extend(std::iter::repeat_n(' ', indent + INDENT));
            each(self, inside);
            self.out.push_str(",\n");
        }
        self.out.extend(std::iter::repeat_n(' ', indent));
        let close = self.text.get(node.span.end - 1..node.span.end).unwrap_or("");
        self.out.push_str(close);
    }
}
