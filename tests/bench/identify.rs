//! The next reading: on the demo machine, and on an invented retrofit of 12 mysteries among some 500 elements.
//!
//! `cargo bench --no-default-features --bench identify`. What is timed is everything from a record to its best next reading: mysteries
//! weighed by the readings, then proposals for every group that has something open. The weighing alone stands beside it.
//! Goals (medians): 100 ms on the demo machine, 1 s on the retrofit.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot begin has nothing to measure")]

use std::path::Path;
use std::sync::Arc;
use std::time::{Duration, Instant};

use divan::{Bencher, black_box};
use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::Network;
use wirewitness::generate::{Size, retrofit};
use wirewitness::identify::{Reasoned, in_order, proposals};
use wirewitness::machine::Machine;
use wirewitness::store;

fn main() {
    let catalogue = Catalogue::built_in().unwrap();
    for (name, machine, times) in [("demo machine", demo(), 21), ("retrofit", large(), 5)] {
        let network = Network::of(&machine, &catalogue);
        let elements =
            network.contacts().len() + network.loads().len() + network.relays().len() + network.wires().len();
        let mut took: Vec<Duration> = (0..times)
            .map(|_| {
                let start = Instant::now();
                black_box(next(&machine, &catalogue));
                start.elapsed()
            })
            .collect();
        took.sort();
        println!(
            "{name}: {} mysteries, {elements} elements, next reading in {:?} (median of {times})",
            machine.mysteries.len(),
            took[times / 2]
        );
    }
    divan::main();
}

fn demo() -> Machine {
    let file = Path::new(env!("CARGO_MANIFEST_DIR")).join("diagrams/pantry-locker.ron");
    store::load(&file, &Catalogue::built_in().unwrap()).unwrap().machine
}

/// 12 mysteries, 500 elements and a few.
fn large() -> Machine {
    retrofit(3, Size { relays: 6, mysteries: 12, beside: 90 }).record
}

/// How many next readings there are.
fn next(machine: &Machine, catalogue: &Arc<Catalogue>) -> usize {
    let reasoned = Reasoned::of(machine, catalogue);
    let present = machine.conditions.ids().next();
    let open =
        reasoned.accounts.iter().filter(|account| account.mysteries(machine).iter().any(|one| one.settled.is_none()));
    let groups = open.map(|account| ((), proposals(machine, catalogue, account, present, 1)));
    in_order(groups.collect()).len()
}

#[divan::bench(sample_count = 10)]
fn next_reading_of_the_demo(bencher: Bencher) {
    let (machine, catalogue) = (demo(), Catalogue::built_in().unwrap());
    bencher.bench(|| next(&machine, &catalogue));
}

#[divan::bench(sample_count = 10)]
fn mysteries_of_the_demo(bencher: Bencher) {
    let (machine, catalogue) = (demo(), Catalogue::built_in().unwrap());
    bencher.bench(|| Reasoned::of(&machine, &catalogue));
}

#[divan::bench(sample_count = 3, sample_size = 1)]
fn mysteries_of_the_retrofit(bencher: Bencher) {
    let (machine, catalogue) = (large(), Catalogue::built_in().unwrap());
    bencher.bench(|| Reasoned::of(&machine, &catalogue));
}
