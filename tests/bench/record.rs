//! A record of 10,000 wires: how long it takes to load, to check, to save, and to check again after one edit.
//!
//! `cargo bench --no-default-features --bench record`. The goal is less than one second for the first three together.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot begin has nothing to measure")]

use std::fs;

use divan::{Bencher, black_box};
use wirewitness::catalogue::Catalogue;
use wirewitness::findings::check;
use wirewitness::generate::invented_machine;
use wirewitness::machine::Machine;
use wirewitness::store::{Expected, load, save, text_of};

const WIRES: usize = 10_000;

fn main() {
    divan::main();
}

fn machine() -> Machine {
    invented_machine(WIRES, 1)
}

#[divan::bench]
fn invent() -> Machine {
    machine()
}

#[divan::bench]
fn load_file(bencher: Bencher) {
    let catalogue = Catalogue::built_in().unwrap();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("large.ron");
    fs::write(&path, text_of(&machine())).unwrap();
    bencher.bench(|| load(black_box(&path), &catalogue).unwrap());
}

#[divan::bench]
fn check_all(bencher: Bencher) {
    let catalogue = Catalogue::built_in().unwrap();
    let machine = machine();
    bencher.bench(|| check(black_box(&machine), &catalogue));
}

#[divan::bench]
fn save_file(bencher: Bencher) {
    let machine = machine();
    let folder = tempfile::tempdir().unwrap();
    let path = folder.path().join("large.ron");
    bencher.bench(|| save(black_box(&machine), &path, Expected::Whatever, "bench").unwrap());
}

#[divan::bench]
fn check_after_one_edit(bencher: Bencher) {
    let catalogue = Catalogue::built_in().unwrap();
    let mut machine = machine();
    let wire = machine.wires.ids().nth(WIRES / 2).unwrap();
    let mut lifted = false;
    bencher.bench_local(|| {
        lifted = !lifted;
        let edit = machine.edit_wire(wire, "lift", |wire| wire.from.lifted = lifted);
        machine.apply(edit);
        check(black_box(&machine), &catalogue)
    });
}
