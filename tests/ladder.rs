//! Ladder diagrams: published circuits rung by rung, the drawing read back into nets, nothing lost, nothing overlapping.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use std::path::Path;

use wirewitness::catalogue::{Catalogue, Style};
use wirewitness::drawing::style::Ground;
use wirewitness::drawing::svg;
use wirewitness::ladder::{Ladder, Options, lay_out};
use wirewitness::machine::Machine;

mod wired;

#[path = "ladder/circuits.rs"]
mod circuits;
#[path = "ladder/left_out.rs"]
mod left_out;
#[path = "ladder/many.rs"]
mod many;
#[path = "ladder/readback.rs"]
mod readback;
#[path = "ladder/rungs.rs"]
mod rungs;

fn demo(name: &str) -> Machine {
    let catalogue = Catalogue::built_in().unwrap();
    let path = Path::new(env!("CARGO_MANIFEST_DIR")).join("diagrams").join(name);
    wirewitness::store::load(&path, &catalogue).unwrap().machine
}

/// Pictures to look at: `cargo test --test ladder -- --ignored pictures`.
#[test]
#[ignore = "the pictures are for a person to look at"]
fn pictures() {
    let built_in = Catalogue::built_in().unwrap();
    let mut made: Vec<(String, Ladder)> = Vec::new();
    for style in [Style::Iec, Style::Ansi] {
        let options = Options { style };
        let word = if style == Style::Iec { "iec" } else { "ansi" };
        for name in ["pantry-locker", "proofer", "flower-cooler"] {
            made.push((format!("{name}-{word}"), lay_out(&demo(&format!("{name}.ron")), &built_in, &options)));
        }
        for (name, wired) in circuits::published() {
            made.push((format!("{name}-{word}"), lay_out(&wired.machine, &wired.catalogue, &options)));
        }
    }
    let machine = wirewitness::generate::invented_machine(80, 3);
    made.push(("invented".to_owned(), lay_out(&machine, &built_in, &Options::default())));
    let machine = wirewitness::generate::wild_machine(24, 5, &built_in);
    made.push(("wild".to_owned(), lay_out(&machine, &built_in, &Options::default())));
    for seed in [0, 1, 2] {
        let machine = many::mesh(seed);
        made.push((format!("mesh-{seed}"), lay_out(&machine, &built_in, &Options::default())));
    }
    for (name, ladder) in made {
        let path = Path::new(env!("CARGO_TARGET_TMPDIR")).join(format!("ladder-{name}.svg"));
        std::fs::write(&path, svg(ladder.scene(), Ground::Print)).unwrap();
        println!("{}: {} rungs, {} crossings", path.display(), ladder.rungs.len(), ladder.crossings);
    }
}
