//! `check`: what is wrong, doubtful or worth knowing about machines.

use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::catalogue::Catalogue;
use crate::findings::{Finding, Severity, check};
use crate::machine::Machine;

use super::args::Check;
use super::failure::Failure;
use super::kinds::catalogue;
use super::paint::Paint;
use super::record::load;
use super::{FAILED, FINE, FOUND, json};

#[derive(Serialize)]
struct Answer {
    files: Vec<OneFile>,
}

#[derive(Serialize)]
struct OneFile {
    file: String,
    #[serde(skip_serializing_if = "Option::is_none")]
    error: Option<String>,
    findings: Vec<OneFinding>,
    remarks: Vec<String>,
}

#[derive(Serialize)]
struct OneFinding {
    rule: &'static str,
    severity: Severity,
    about: Vec<String>,
    what: String,
    why: &'static str,
    r#do: String,
    source: &'static str,
    decision: Option<String>,
}

/// What one file gave.
struct Checked {
    machine: Machine,
    findings: Vec<Finding>,
    remarks: Vec<String>,
}

/// Findings go to `out`; files that cannot be read go to `problems`, and the others are checked all the same.
pub(super) fn run(
    what: &Check,
    kinds: Option<&Path>,
    paint: Paint,
    out: &mut dyn Write,
    problems: &mut Vec<Failure>,
) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    let mut code = FINE;
    let mut files = Vec::new();
    for (at, file) in what.files.iter().enumerate() {
        let result = checked(file, &catalogue);
        code = code.max(match &result {
            Err(_) => FAILED,
            Ok(checked) if checked.findings.iter().any(|finding| finding.counts_at(what.fail_on)) => FOUND,
            Ok(_) => FINE,
        });
        if what.json {
            files.push(OneFile::of(file, &result));
        } else if let Ok(checked) = &result {
            if at > 0 {
                writeln!(out)?;
            }
            tell(file, checked, paint, out)?;
        }
        problems.extend(result.err());
    }
    if what.json {
        json::write(&Answer { files }, out)?;
    }
    Ok(code)
}

fn checked(file: &Path, catalogue: &Catalogue) -> Result<Checked, Failure> {
    let loaded = load(file, catalogue)?;
    let findings = check(&loaded.machine, catalogue);
    Ok(Checked { machine: loaded.machine, findings, remarks: loaded.remarks })
}

impl OneFile {
    fn of(file: &Path, result: &Result<Checked, Failure>) -> Self {
        let file = file.display().to_string();
        match result {
            Err(failure) => Self { file, error: Some(failure.to_string()), findings: Vec::new(), remarks: Vec::new() },
            Ok(checked) => Self {
                file,
                error: None,
                findings: checked.findings.iter().map(|finding| OneFinding::of(&checked.machine, finding)).collect(),
                remarks: checked.remarks.clone(),
            },
        }
    }
}

impl OneFinding {
    fn of(machine: &Machine, finding: &Finding) -> Self {
        Self {
            rule: finding.rule,
            severity: finding.severity,
            about: names(machine, finding),
            what: finding.what.clone(),
            why: finding.why,
            r#do: finding.do_.clone(),
            source: finding.source,
            decision: finding.decision_words(),
        }
    }
}

fn names(machine: &Machine, finding: &Finding) -> Vec<String> {
    finding.about.iter().map(|thing| machine.thing_name(thing)).collect()
}

fn tell(file: &Path, checked: &Checked, paint: Paint, out: &mut dyn Write) -> Result<(), Failure> {
    writeln!(out, "{}: {}", paint.bold(file.display()), summary(&checked.findings))?;
    for remark in &checked.remarks {
        writeln!(out, "  {}", paint.faint(remark))?;
    }
    for finding in &checked.findings {
        let word = paint.severity(finding.severity, finding.severity.word());
        let about = names(&checked.machine, finding).join(" ");
        writeln!(out, "\n{word}  {}  {about}", paint.bold(finding.rule))?;
        writeln!(out, "  {}", finding.what)?;
        writeln!(out, "  {}", finding.why)?;
        writeln!(out, "  {}", finding.do_)?;
        writeln!(out, "  {}", paint.faint(format_args!("Source: {}", finding.source)))?;
        if let Some(decision) = finding.decision_words() {
            writeln!(out, "  {decision}")?;
        }
    }
    Ok(())
}

/// How many findings of each severity there are, in words.
fn summary(findings: &[Finding]) -> String {
    let counts: Vec<String> = Severity::ALL
        .into_iter()
        .filter_map(|severity| {
            let count = findings.iter().filter(|finding| finding.severity == severity).count();
            match count {
                0 => None,
                1 => Some(format!("1 {severity}")),
                _ => Some(format!("{count} {severity}s")),
            }
        })
        .collect();
    if counts.is_empty() { "no findings".to_owned() } else { counts.join(", ") }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::generate::invented_machine;

    #[test]
    fn the_summary_counts_each_severity_once() {
        let catalogue = Catalogue::default();
        let machine = invented_machine(300, 1);
        let findings = check(&machine, &catalogue);
        let text = summary(&findings);
        let total: usize = text.split(", ").filter_map(|part| part.split(' ').next()?.parse::<usize>().ok()).sum();
        assert_eq!(total, findings.len(), "{text}");
        assert_eq!(summary(&[]), "no findings");
    }
}
