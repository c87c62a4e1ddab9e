//! Ladder diagrams of invented machines: the whole way from the record to placed shapes.
//!
//! `cargo bench --no-default-features --bench ladder`. Aim: 1,000 elements in less than 100 ms.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot begin has nothing to measure")]

use std::time::{Duration, Instant};

use divan::black_box;
use wirewitness::catalogue::{Catalogue, Element};
use wirewitness::generate::{invented_machine, wild_machine};
use wirewitness::ladder::{Options, lay_out};
use wirewitness::machine::Machine;

fn main() {
    let catalogue = Catalogue::built_in().unwrap();
    let elements = |machine: &Machine| {
        let bodies = machine.parts.values().map(|part| catalogue.body(part));
        let counted = |element: &Element| !matches!(element, Element::Join { .. } | Element::Earth { .. });
        bodies.map(|body| body.elements.iter().filter(|element| counted(element)).count()).sum::<usize>()
    };
    for (name, machine) in [
        ("invented, 220 wires", invented_machine(220, 1)),
        ("invented, 1,000 wires", invented_machine(1000, 1)),
        ("invented, 10,000 wires", invented_machine(10_000, 1)),
        ("at random, 600 parts", wild_machine(600, 1, &catalogue)),
    ] {
        let mut times: Vec<Duration> = (0..9)
            .map(|_| {
                let start = Instant::now();
                black_box(lay_out(&machine, &catalogue, &Options::default()));
                start.elapsed()
            })
            .collect();
        times.sort_unstable();
        let ladder = lay_out(&machine, &catalogue, &Options::default());
        println!(
            "{name}: {} elements, {} devices on {} rungs, {} listed, {} crossings: median {:?} of 9 ({:?} to {:?})",
            elements(&machine),
            ladder.devices.len(),
            ladder.rungs.len(),
            ladder.off.len(),
            ladder.crossings,
            times[4],
            times[0],
            times[8]
        );
    }
}
