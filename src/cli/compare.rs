//! `compare`: what differs between two records, in words.

use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::removal::compare;

use super::args::Compare;
use super::failure::Failure;
use super::kinds::catalogue;
use super::paint::Paint;
use super::record::load;
use super::{FINE, json};

#[derive(Serialize)]
struct Answer {
    added: Vec<String>,
    removed: Vec<String>,
    changed: Vec<String>,
}

pub(super) fn run(what: &Compare, kinds: Option<&Path>, paint: Paint, out: &mut dyn Write) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    let old = load(&what.old, &catalogue)?.machine;
    let new = load(&what.new, &catalogue)?.machine;
    let differences = compare(&old, &new);
    let answer = Answer { added: differences.added, removed: differences.removed, changed: differences.changed };
    if what.json {
        json::write(&answer, out)?;
        return Ok(FINE);
    }
    let groups = [("Added", &answer.added), ("Removed", &answer.removed), ("Changed", &answer.changed)];
    if groups.iter().all(|(_, all)| all.is_empty()) {
        writeln!(out, "The two records say the same.")?;
    }
    for (title, all) in groups.iter().filter(|(_, all)| !all.is_empty()) {
        writeln!(out, "{}", paint.bold(title))?;
        for one in *all {
            writeln!(out, "  {one}")?;
        }
    }
    out.flush()?;
    Ok(FINE)
}
