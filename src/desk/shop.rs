//! A folder of records at a glance: what is open on each machine, and a search across all.
//!
//! Reads only. A record that cannot be read is listed with the reason, and stops none of the others.

use std::path::{Path, PathBuf};
use std::sync::Arc;

use rayon::prelude::*;

use crate::catalogue::Catalogue;
use crate::drawing::{Ink, lay_out, style_of};
use crate::findings::{Severity, check};
use crate::machine::{Machine, Thing};
use crate::store;

use super::files::Outcome;
use super::jobs::Manner;
use super::session::Desk;

/// Folders below the one asked for are looked into so deep.
const DEEPEST: usize = 8;

/// The most records of one folder that are read; more are not a shop's, and a wrong folder (a whole disk) ends here.
const MOST_RECORDS: usize = 20_000;

/// One machine of a shop.
#[derive(Debug, Clone, PartialEq)]
pub struct ShopMachine {
    /// Its record.
    pub file: PathBuf,
    /// What it is called.
    pub title: String,
    /// Where it stands.
    pub location: String,
    /// Findings that are dangers and were not accepted.
    pub dangers: usize,
    /// The same of faults.
    pub faults: usize,
    /// The same of doubts.
    pub doubts: usize,
    /// Mysteries in the record.
    pub mysteries: usize,
    /// Date of the last visit, where one is recorded.
    pub last_visit: Option<String>,
    /// Parts, wires and photos.
    pub size: [usize; 3],
    /// What was found in it of what was searched for.
    pub found: Vec<Found>,
    /// Its drawing, small; where pictures were asked for and something is drawn.
    pub picture: Option<Arc<Miniature>>,
}

/// A drawing with no more in it than can be seen when it is small: wires as plain lines, parts as their outlines.
#[derive(Debug, Clone, PartialEq)]
pub struct Miniature {
    /// Height over width.
    pub proportion: f64,
    /// Lines with their ink; places are shares of the width, from the top left corner.
    pub lines: Vec<(Ink, Vec<[f32; 2]>)>,
}

/// No miniature has more lines: more could not be told apart.
const MOST_LINES: usize = 600;

/// A place in a record where a text was found.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Found {
    /// What it is in: `K1`, `W7`, `reading R3`, `machine`.
    pub at: String,
    /// Which of its entries: `kind`, `tag`, `title`, `note`, ...
    pub field: &'static str,
    /// The entry.
    pub text: String,
}

/// A folder of records.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Shop {
    /// Machines in order of their files; with a search, those where something was found.
    pub machines: Vec<ShopMachine>,
    /// Files that could not be read, each with the reason.
    pub unreadable: Vec<(PathBuf, String)>,
    /// Folders that could not be looked into, and that there was more than is read.
    pub remarks: Vec<String>,
}

/// Looks through a folder and those below it. Hidden folders, folders of photos and of visits, and links to folders are passed over.
pub fn shop(folder: &Path, catalogue: &Arc<Catalogue>, search: Option<&str>) -> Shop {
    looked_through(folder, catalogue, search, false, &|| false)
}

fn looked_through(
    folder: &Path,
    catalogue: &Arc<Catalogue>,
    search: Option<&str>,
    pictures: bool,
    stopped: &(dyn Fn() -> bool + Sync),
) -> Shop {
    let mut shop = Shop::default();
    let mut files = Vec::new();
    walk(folder, 0, stopped, &mut files, &mut shop.remarks);
    if files.len() > MOST_RECORDS {
        shop.remarks
            .push(format!("there are more than {MOST_RECORDS} records: only the first {MOST_RECORDS} were read"));
        files.truncate(MOST_RECORDS);
    }
    if stopped() {
        shop.remarks.push("stopped before everything was looked into".to_owned());
        return shop;
    }
    let search = search.map(str::to_lowercase);
    let read = |file: &PathBuf| {
        if stopped() {
            return Err((file.clone(), format!("{}: was not looked into: stopped", file.display())));
        }
        let loaded = store::load_leniently(file, catalogue).map_err(|why| (file.clone(), why.to_string()))?;
        let mut one = look(file, &loaded.machine, catalogue, search.as_deref());
        one.picture = if pictures { miniature(&loaded.machine, catalogue).map(Arc::new) } else { None };
        Ok(one)
    };
    // In order of the files, whichever is read first.
    let all: Vec<Result<ShopMachine, (PathBuf, String)>> = files.par_iter().map(read).collect();
    for one in all {
        match one {
            Ok(machine) if search.is_none() || !machine.found.is_empty() => shop.machines.push(machine),
            Ok(_) => {}
            Err(told) => shop.unreadable.push(told),
        }
    }
    shop
}

fn walk(
    folder: &Path,
    depth: usize,
    stopped: &(dyn Fn() -> bool + Sync),
    files: &mut Vec<PathBuf>,
    remarks: &mut Vec<String>,
) {
    let entries = match std::fs::read_dir(folder) {
        Ok(entries) => entries,
        Err(why) => {
            remarks.push(format!("{}: cannot be looked into ({why})", folder.display()));
            return;
        }
    };
    let mut all: Vec<_> = entries.filter_map(Result::ok).collect();
    all.sort_by_key(std::fs::DirEntry::file_name);
    for entry in all {
        // One more than is read tells that there are more.
        if files.len() > MOST_RECORDS || stopped() {
            return;
        }
        let (path, name) = (entry.path(), entry.file_name().to_string_lossy().into_owned());
        let Ok(sort) = entry.file_type() else { continue };
        let passed_over = name.starts_with('.') || name.ends_with(".photos") || name.ends_with(".visits");
        if sort.is_dir() && !passed_over && depth < DEEPEST {
            walk(&path, depth + 1, stopped, files, remarks);
        } else if is_record(&path) && !name.starts_with('.') && !sort.is_dir() && path.is_file() {
            files.push(path);
        }
    }
}

/// Whether a file has the ending of a record.
fn is_record(path: &Path) -> bool {
    path.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("ron"))
}

fn look(file: &Path, machine: &Machine, catalogue: &Catalogue, search: Option<&str>) -> ShopMachine {
    let found = search.map(|text| found_in(machine, catalogue, text)).unwrap_or_default();
    // What is not shown need not be worked out.
    let findings = if search.is_none() || !found.is_empty() { check(machine, catalogue) } else { Vec::new() };
    let open = |severity| findings.iter().filter(|one| one.severity == severity && !one.is_accepted()).count();
    ShopMachine {
        file: file.to_owned(),
        title: machine.facts.title.clone(),
        location: machine.facts.location.clone(),
        dangers: open(Severity::Danger),
        faults: open(Severity::Fault),
        doubts: open(Severity::Doubt),
        mysteries: machine.mysteries.len(),
        last_visit: machine.visits.values().map(|visit| &visit.date).filter(|date| !date.is_empty()).max().cloned(),
        size: [machine.parts.len(), machine.wires.len(), machine.photos.len()],
        found,
        picture: None,
    }
}

/// The drawing of a record, small; `None` where nothing is drawn.
fn miniature(machine: &Machine, catalogue: &Arc<Catalogue>) -> Option<Miniature> {
    let scene = lay_out(machine, catalogue, style_of(machine));
    let pieces = || scene.pieces().iter().filter(|piece| !matches!(piece.of, Thing::Photo(_)));
    let area = pieces().map(|piece| piece.area).reduce(crate::drawing::Area::joined)?;
    let width = area.width().max(1.0);
    #[expect(clippy::cast_possible_truncation, reason = "a share of the width, for drawing on a screen")]
    let place =
        |at: &crate::machine::Point| [((at.x - area.min.x) / width) as f32, ((at.y - area.min.y) / width) as f32];
    let lines = pieces()
        .take(MOST_LINES)
        .map(|piece| {
            if let Some(plain) = &piece.plain {
                return (plain.ink, plain.points.iter().map(place).collect());
            }
            let corners = piece.area.corners();
            (Ink::Line, corners.iter().chain(corners.first()).map(place).collect())
        })
        .collect();
    Some(Miniature { proportion: (area.height() / width).clamp(0.05, 20.0), lines })
}

impl Desk {
    /// Looks through a folder of records beside the window; the job can be stopped.
    pub fn look_through(&mut self, folder: PathBuf) {
        let catalogue = Arc::clone(&self.catalogue);
        self.start(&format!("Looking through {}", folder.display()), Manner::InTurn, move |watch| {
            let shop = looked_through(&folder, &catalogue, None, true, &|| watch.is_stopped());
            Outcome::Shop(Box::new(shop))
        });
    }

    /// The machines of the folder that was looked through last.
    pub fn shop(&self) -> Option<&Arc<Shop>> {
        self.worked.shop.as_ref()
    }
}

/// Where a text, in small letters, stands in a record: kinds, tags, labels, titles and notes.
fn found_in(machine: &Machine, catalogue: &Catalogue, text: &str) -> Vec<Found> {
    let mut found = Vec::new();
    let mut look = |at: &str, field: &'static str, entry: &str| {
        if entry.to_lowercase().contains(text) {
            found.push(Found { at: at.to_owned(), field, text: entry.to_owned() });
        }
    };
    let facts = &machine.facts;
    look("machine", "title", &facts.title);
    look("machine", "location", &facts.location);
    for line in &facts.nameplate {
        look("machine", "nameplate", line);
    }
    look("machine", "refrigerant", &facts.refrigerant);
    look("machine", "note", &facts.note);
    for part in machine.parts.values() {
        look(&part.tag, "tag", &part.tag);
        look(&part.tag, "kind", &part.kind);
        if let Some(kind) = catalogue.kind(&part.kind) {
            look(&part.tag, "kind", &kind.title);
        }
        look(&part.tag, "label", part.printed.as_deref().unwrap_or_default());
        look(&part.tag, "title", &part.title);
        look(&part.tag, "note", &part.note);
    }
    for wire in machine.wires.values() {
        look(&wire.key, "tag", &wire.key);
        look(&wire.key, "number", wire.number.as_deref().unwrap_or_default());
        look(&wire.key, "note", &wire.note);
    }
    for reading in machine.readings.values() {
        look(&format!("reading {}", reading.name), "note", &reading.note);
    }
    for mystery in machine.mysteries.values() {
        look(&format!("mystery {}", mystery.name), "name", &mystery.name);
        look(&format!("mystery {}", mystery.name), "note", &mystery.note);
    }
    for photo in machine.photos.values() {
        look(&format!("photo {}", photo.name), "note", &photo.caption);
    }
    for visit in machine.visits.values() {
        look(&format!("visit {}", visit.name), "note", &visit.why);
        for work in &visit.work {
            look(&format!("visit {}", visit.name), "note", work);
        }
    }
    found
}
