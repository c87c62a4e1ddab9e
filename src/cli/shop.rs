//! `shop`: what is open on each machine of a folder, and a search across all.

use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::desk::{Shop as Records, ShopMachine, shop};
use crate::findings::Severity;

use super::args::Shop;
use super::failure::Failure;
use super::kinds::catalogue;
use super::paint::Paint;
use super::{FAILED, FINE, json};

#[derive(Serialize)]
struct Answer {
    machines: Vec<OneMachine>,
    unreadable: Vec<Unreadable>,
    remarks: Vec<String>,
}

#[derive(Serialize)]
struct OneMachine {
    file: String,
    title: String,
    location: String,
    dangers: usize,
    faults: usize,
    doubts: usize,
    mysteries: usize,
    last_visit: Option<String>,
    parts: usize,
    wires: usize,
    photos: usize,
    #[serde(skip_serializing_if = "Option::is_none")]
    found: Option<Vec<OnePlace>>,
}

#[derive(Serialize)]
struct OnePlace {
    at: String,
    field: &'static str,
    text: String,
}

#[derive(Serialize)]
struct Unreadable {
    file: String,
    error: String,
}

/// Records that cannot be read go to `problems`, and the others are listed all the same.
pub(super) fn run(
    what: &Shop,
    kinds: Option<&Path>,
    paint: Paint,
    out: &mut dyn Write,
    problems: &mut Vec<Failure>,
) -> Result<u8, Failure> {
    if !what.folder.is_dir() {
        return Err(Failure::with_file(&what.folder, "there is no such folder; check the name"));
    }
    if what.find.as_ref().is_some_and(|text| text.trim().is_empty()) {
        return Err(Failure::Told("--find needs a text to search for, such as relay".to_owned()));
    }
    let catalogue = catalogue(kinds)?;
    let records = shop(&what.folder, &catalogue, what.find.as_deref());
    let code = if records.unreadable.is_empty() { FINE } else { FAILED };
    if what.json {
        json::write(&answer(&records, what.find.is_some()), out)?;
    } else {
        list(&records, &what.folder, what.find.is_some(), paint, out)?;
    }
    problems.extend(records.unreadable.into_iter().map(|(_, why)| Failure::Told(why)));
    Ok(code)
}

fn answer(records: &Records, searched: bool) -> Answer {
    let one = |machine: &ShopMachine| OneMachine {
        file: machine.file.display().to_string(),
        title: machine.title.clone(),
        location: machine.location.clone(),
        dangers: machine.dangers,
        faults: machine.faults,
        doubts: machine.doubts,
        mysteries: machine.mysteries,
        last_visit: machine.last_visit.clone(),
        parts: machine.size[0],
        wires: machine.size[1],
        photos: machine.size[2],
        found: searched.then(|| {
            machine
                .found
                .iter()
                .map(|found| OnePlace { at: found.at.clone(), field: found.field, text: found.text.clone() })
                .collect()
        }),
    };
    Answer {
        machines: records.machines.iter().map(one).collect(),
        unreadable: records
            .unreadable
            .iter()
            .map(|(file, error)| Unreadable { file: file.display().to_string(), error: error.clone() })
            .collect(),
        remarks: records.remarks.clone(),
    }
}

fn list(records: &Records, folder: &Path, searched: bool, paint: Paint, out: &mut dyn Write) -> Result<(), Failure> {
    for machine in &records.machines {
        let file = machine.file.strip_prefix(folder).unwrap_or(&machine.file).display();
        let title = if machine.title.is_empty() { "without a name" } else { machine.title.as_str() };
        writeln!(out, "{}  {title}", paint.bold(file))?;
        let counts = [
            (machine.dangers, "danger", Some(Severity::Danger)),
            (machine.faults, "fault", Some(Severity::Fault)),
            (machine.doubts, "doubt", Some(Severity::Doubt)),
            (machine.mysteries, "mystery", None),
        ];
        let words: Vec<String> = counts
            .into_iter()
            .filter(|(count, ..)| *count > 0)
            .map(|(count, word, severity)| {
                let text = match (count, word) {
                    (1, word) => format!("1 {word}"),
                    (_, "mystery") => format!("{count} mysteries"),
                    _ => format!("{count} {word}s"),
                };
                severity.map_or_else(|| text.clone(), |severity| paint.severity(severity, &text))
            })
            .collect();
        let open = if words.is_empty() { "nothing open".to_owned() } else { words.join(", ") };
        let visit = machine.last_visit.as_deref().unwrap_or("none recorded");
        writeln!(out, "  {open}; last visit: {visit}")?;
        for found in &machine.found {
            writeln!(out, "  {} {}: {}", found.at, found.field, found.text)?;
        }
    }
    for remark in &records.remarks {
        writeln!(out, "{remark}")?;
    }
    if records.machines.is_empty() {
        writeln!(out, "{}", if searched { "No record has it." } else { "No record is there." })?;
    }
    Ok(())
}
