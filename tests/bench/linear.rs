//! Linear networks of 50 to 50,000 elements: solved whole, read again after one contact opens, and one impedance.
//!
//! `cargo bench --no-default-features --bench linear`. Before the table it prints what one contact costs beside a whole solution;
//! the goal is a tenth. `MATRIX_FOLDER=folder` writes the same networks' nodal matrices there in Matrix Market form instead, for
//! tests/outside/linear_peers.py.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot begin has nothing to measure")]

use std::fmt::Write as _;
use std::time::Instant;

use divan::{Bencher, black_box};
use wirewitness::circuit::linear::{Branch, Circuit, Factored, Phasor};

mod harness;

use harness::harness;

const SIZES: [usize; 4] = [50, 500, 5_000, 50_000];
const OMEGA: f64 = 314.159_265_358_979_3;

fn main() {
    if let Some(folder) = std::env::var_os("MATRIX_FOLDER") {
        for elements in SIZES {
            let (circuit, _) = harness(elements);
            let name = std::path::Path::new(&folder).join(format!("{elements}.mtx"));
            std::fs::write(name, matrix(&circuit)).unwrap();
            let seconds = fastest(|| whole_of(&circuit));
            println!("{elements} {seconds:e}");
        }
        return;
    }
    for elements in SIZES {
        let (circuit, contacts) = harness(elements);
        let solved = whole_of(&circuit);
        let whole = fastest(|| whole_of(&circuit));
        // Contacts here and there; the middle one of their times, and the largest.
        let mut again: Vec<f64> = (1..10)
            .map(|tenth| contacts[contacts.len() * tenth / 10])
            .map(|contact| fastest(|| changed(&solved, contact)))
            .collect();
        again.sort_by(f64::total_cmp);
        let read = fastest(|| solved.impedance(0, circuit.nodes / 2));
        println!(
            "{elements} elements, {} nodes: whole {:.3} ms; one contact {:.3} ms, {:.2} of it (at most {:.2}); one impedance {:.2} of it",
            circuit.nodes,
            1e3 * whole,
            1e3 * again[4],
            again[4] / whole,
            again[8] / whole,
            read / whole
        );
    }
    divan::main();
}

/// Solved whole: what is wrong with it is known only then.
fn whole_of(circuit: &Circuit) -> Factored {
    let solved = Factored::of(circuit, OMEGA);
    black_box(solved.remarks());
    solved
}

/// With one contact opened, solved whole.
fn changed(solved: &Factored, contact: usize) -> Factored {
    let solved = solved.with(&[(contact, Branch::Open)]);
    black_box(solved.remarks());
    solved
}

/// Seconds, the least of several.
fn fastest<T>(mut of: impl FnMut() -> T) -> f64 {
    let once = |of: &mut dyn FnMut() -> T| {
        let start = Instant::now();
        black_box(of());
        start.elapsed().as_secs_f64()
    };
    (0..15).map(|_| once(&mut of)).fold(f64::INFINITY, f64::min)
}

/// The nodal matrix with node 1 as reference, complex and whole, in Matrix Market form.
fn matrix(circuit: &Circuit) -> String {
    let mut entries = std::collections::BTreeMap::new();
    for &(a, b, branch) in &circuit.branches {
        let siemens = match branch {
            Branch::Resistor { ohms } | Branch::Voltage { ohms, .. } => Phasor::new(1.0 / ohms, 0.0),
            Branch::Impedance { ohms } => Phasor::new(1.0, 0.0) / ohms,
            _ => continue,
        };
        let row = |node: u32| (node != 1).then_some(if node == 0 { 1 } else { node });
        for (row, column, siemens) in [(a, a, siemens), (b, b, siemens), (a, b, -siemens), (b, a, -siemens)]
            .into_iter()
            .filter_map(|(a, b, siemens)| Some((row(a)?, row(b)?, siemens)))
        {
            *entries.entry((column, row)).or_insert(Phasor::new(0.0, 0.0)) += siemens;
        }
    }
    let mut text = String::from("%%MatrixMarket matrix coordinate complex general\n");
    writeln!(text, "{0} {0} {1}", circuit.nodes - 1, entries.len()).unwrap();
    for ((column, row), siemens) in entries {
        writeln!(text, "{row} {column} {:e} {:e}", siemens.re, siemens.im).unwrap();
    }
    text
}

#[divan::bench(args = SIZES)]
fn whole(bencher: Bencher, elements: usize) {
    let (circuit, _) = harness(elements);
    bencher.bench(|| whole_of(black_box(&circuit)));
}

#[divan::bench(args = SIZES)]
fn one_contact(bencher: Bencher, elements: usize) {
    let (circuit, contacts) = harness(elements);
    let contact = contacts[contacts.len() / 2];
    let solved = whole_of(&circuit);
    bencher.bench(|| changed(black_box(&solved), contact));
}

#[divan::bench(args = SIZES)]
fn one_impedance(bencher: Bencher, elements: usize) {
    let (circuit, _) = harness(elements);
    let solved = whole_of(&circuit);
    bencher.bench(|| black_box(&solved).impedance(0, circuit.nodes / 2));
}
