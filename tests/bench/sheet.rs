//! Sheets and shops: how long a sheet of some twenty pages takes, and a folder of a thousand records.
//!
//! `cargo bench --no-default-features --features sheet --bench sheet`. The goals are two seconds for twenty pages and one second for a
//! thousand records. Figures are printed one by one: nothing is kept from one run to the next.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot begin has nothing to measure")]

use std::collections::{BTreeMap, BTreeSet};
use std::fs;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

use wirewitness::catalogue::Catalogue;
use wirewitness::desk::shop;
use wirewitness::generate::invented_machine;
use wirewitness::machine::Machine;
use wirewitness::sheet::{Content, Format, Given, Identity, Paper, Section, Worked, paper};
use wirewitness::store::{load, photos, text_of};

const RUNS: usize = 5;
const RECORDS: u64 = 1000;

fn main() {
    let catalogue = Catalogue::built_in().unwrap();
    for name in ["pantry-locker", "flower-cooler", "proofer"] {
        let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("diagrams").join(format!("{name}.ron"));
        let machine = Arc::new(load(&path, &catalogue).unwrap().machine);
        let bytes = |photo| fs::read(photos::path_of(&path, photo)?).ok();
        let files = machine.photos.iter().filter_map(|(id, photo)| Some((id, bytes(photo)?))).collect();
        sheet(name, &machine, &catalogue, &files);
    }
    for wires in [100, 200] {
        sheet(&format!("{wires} wires"), &Arc::new(invented_machine(wires, 7)), &catalogue, &BTreeMap::new());
    }
    for wires in [20, 50] {
        folder(wires, &catalogue);
    }
}

fn sheet(
    name: &str,
    machine: &Arc<Machine>,
    catalogue: &Arc<Catalogue>,
    files: &BTreeMap<wirewitness::machine::PhotoId, Vec<u8>>,
) {
    let sections: BTreeSet<Section> = Section::ALL.into_iter().collect();
    let identity = Identity::new(name, "0011223344556677");
    let mut rows = Vec::new();
    for _ in 0..RUNS {
        let begin = Instant::now();
        let worked = Worked::of(machine, catalogue, &sections);
        let worked_out = Instant::now();
        let given = Given {
            machine,
            catalogue,
            worked: &worked,
            identity: &identity,
            photos: files,
            ladder: &[],
            paper: Paper::new(Format::A4, false),
            sections: &sections,
        };
        let (content, pictures) = Content::of(&given);
        let content_made = Instant::now();
        let pages = paper::sheet(&content, pictures, None).unwrap();
        let laid_out = Instant::now();
        let bytes = pages.pdf().unwrap();
        let whole = Instant::now();
        rows.push((
            whole.duration_since(worked_out),
            worked_out.duration_since(begin),
            content_made.duration_since(worked_out),
            laid_out.duration_since(content_made),
            whole.duration_since(laid_out),
            pages.count(),
            bytes.len(),
        ));
    }
    rows.sort();
    let (paper, worked, content, laid, written, pages, bytes) = rows[RUNS / 2];
    println!(
        "{name}: {pages} pages, {} kB: {paper:.2?} on paper (content {content:.2?}, layout {laid:.2?}, PDF {written:.2?}); findings, mysteries and verdicts before that {worked:.2?}",
        bytes / 1000
    );
}

fn folder(wires: usize, catalogue: &Arc<Catalogue>) {
    let folder = tempfile::tempdir().unwrap();
    for seed in 0..RECORDS {
        fs::write(folder.path().join(format!("machine-{seed:04}.ron")), text_of(&invented_machine(wires, seed)))
            .unwrap();
    }
    let mut times = Vec::new();
    for _ in 0..RUNS {
        let begin = Instant::now();
        let found = shop(folder.path(), catalogue, None);
        times.push(begin.elapsed());
        assert_eq!(found.machines.len(), usize::try_from(RECORDS).unwrap());
    }
    times.sort();
    let begin = Instant::now();
    let found = shop(folder.path(), catalogue, Some("relay"));
    println!(
        "shop of {RECORDS} records of {wires} wires: {:.2?}; a search that finds {} of them: {:.2?}",
        times[RUNS / 2],
        found.machines.len(),
        begin.elapsed()
    );
}
