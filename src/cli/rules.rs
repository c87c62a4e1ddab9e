//! `rules`: every rule that findings come from.

use std::io::Write;

use serde::Serialize;

use crate::findings::{Severity, rules};

use super::args::Rules;
use super::failure::Failure;
use super::paint::Paint;
use super::{FINE, json};

#[derive(Serialize)]
struct Answer {
    rules: Vec<OneRule>,
}

#[derive(Serialize)]
struct OneRule {
    rule: &'static str,
    severity: Severity,
    what: &'static str,
    why: &'static str,
    source: &'static str,
    was_called: &'static [&'static str],
}

pub(super) fn run(what: &Rules, paint: Paint, out: &mut dyn Write) -> Result<u8, Failure> {
    if what.json {
        let rules = rules()
            .iter()
            .map(|rule| OneRule {
                rule: rule.name,
                severity: rule.severity,
                what: rule.looks_for,
                why: rule.why,
                source: rule.source,
                was_called: rule.was_called,
            })
            .collect();
        json::write(&Answer { rules }, out)?;
        return Ok(FINE);
    }
    for rule in rules() {
        writeln!(
            out,
            "{}  {}",
            paint.severity(rule.severity, format_args!("{:<6}", rule.severity.word())),
            paint.bold(rule.name)
        )?;
        writeln!(out, "        {}", rule.looks_for)?;
        writeln!(out, "        {}", rule.why)?;
        writeln!(out, "        {}", paint.faint(format_args!("Source: {}", rule.source)))?;
    }
    Ok(FINE)
}
