//! Machines of some 50 to 50,000 elements: relays settled by volts and the volts between the ends of every load, coil and contact.
//!
//! `cargo bench --no-default-features --bench electric`. One expected reading with its band is timed beside it; mysteries
//! and next readings have a benchmark of their own.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot begin has nothing to measure")]

use std::time::Instant;

use divan::{Bencher, black_box};
use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::Network;
use wirewitness::circuit::electric::{Ask, Elements, Live, Points, Profile, expected};
use wirewitness::generate::invented_machine;
use wirewitness::machine::{Machine, Setting};
use wirewitness::quantity::Function;

/// Wires; about as many elements again are coils, contacts, loads and fuses.
const WIRES: [usize; 4] = [25, 250, 2_500, 25_000];

fn main() {
    for wires in WIRES {
        let (machine, network, elements) = made(wires);
        let setting = live_setting(&machine, &network);
        let start = Instant::now();
        let live = Live::of(&network, &elements, &setting);
        let settled = start.elapsed();
        let start = Instant::now();
        let read = neighbours(&network, &live);
        let all = start.elapsed();
        println!(
            "{wires} wires, {} places: settled in {settled:?}; {read} readings between neighbours in {all:?}",
            network.len()
        );
    }
    divan::main();
}

fn made(wires: usize) -> (Machine, Network, Elements) {
    let machine = invented_machine(wires, 1);
    let network = Network::of(&machine, &Catalogue::built_in().unwrap());
    let elements = Elements::of(&network);
    (machine, network, elements)
}

/// The condition with most sources on and outputs commanded.
fn live_setting(machine: &Machine, network: &Network) -> Setting {
    let all = machine.conditions.ids().map(|id| machine.setting(id));
    let sources = network.sources().iter().map(|source| source.inside.part).collect();
    all.max_by_key(|setting| (setting.sources_on.len(), setting.commanded.len()))
        .unwrap_or(Setting { sources_on: sources, ..Setting::default() })
}

/// Volts between the ends of every load, coil and contact; how many are determined.
fn neighbours(network: &Network, live: &Live<'_>) -> usize {
    let loads = network.loads().iter().map(|load| load.inside.ends);
    let coils = network.relays().iter().map(|relay| relay.inside.ends);
    let contacts = network.contacts().iter().map(|contact| contact.inside.ends);
    loads.chain(coils).chain(contacts).filter(|[a, b]| black_box(live.volts_ac(*a, *b)).is_some()).count()
}

#[divan::bench(args = WIRES, sample_count = 10)]
fn settle_and_read(bencher: Bencher, wires: usize) {
    let (machine, network, elements) = made(wires);
    let setting = live_setting(&machine, &network);
    bencher.bench(|| neighbours(&network, &Live::of(&network, &elements, &setting)));
}

#[divan::bench(args = [25, 250, 2_500], sample_count = 10)]
fn one_expected_reading(bencher: Bencher, wires: usize) {
    let (machine, network, elements) = made(wires);
    let live = Live::of(&network, &elements, &live_setting(&machine, &network));
    let [red, black] = network.loads()[0].inside.ends;
    let ask = Ask { points: Points::Probes(red, black), function: Function::VoltsAc, low_impedance: false };
    bencher.bench(|| expected(&live, &Profile::default(), ask));
}
