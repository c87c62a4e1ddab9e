//! Invented machines by the hundred: read back, nothing lost, nothing overlapping, and steady under small edits.

use std::collections::BTreeMap;
use std::sync::Arc;

use wirewitness::catalogue::{Catalogue, Style};
use wirewitness::drawing::{Area, Item, Layer, Shape};
use wirewitness::generate::{Random, invented_machine, wild_machine};
use wirewitness::ladder::{Ladder, Options, lay_out};
use wirewitness::machine::{Change, Edit, EndAt, Machine, Part, PartId, TerminalRef, Wire, WireEnd, WireId};

use super::circuits;
use super::demo;
use super::readback::{assert_nothing_lost, assert_reads_back};

/// No letters on letters, on symbols or on lines of wires, no symbol on another: by the rectangles round them.
pub fn assert_no_overlaps(ladder: &Ladder, name: &str) {
    let mut texts: Vec<(Area, String)> = Vec::new();
    let mut symbols: Vec<Vec<Area>> = Vec::new();
    let mut lines: Vec<Area> = Vec::new();
    for piece in ladder.scene().pieces() {
        // Stroke by stroke: leads are thin, and words stand beside them.
        let own = piece.items.iter().filter(|item| item.layer == Layer::Symbols);
        symbols.push(own.flat_map(strokes).collect());
        for item in &piece.items {
            match &item.shape {
                Shape::Text { text, .. } if item.layer == Layer::Labels => {
                    texts.push((item.area().unwrap().grown(-0.05), text.clone()));
                }
                Shape::Line { .. } if item.layer == Layer::Wires => lines.push(item.area().unwrap()),
                _ => {}
            }
        }
    }
    texts.sort_by(|a, b| a.0.min.y.total_cmp(&b.0.min.y));
    for (at, (area, text)) in texts.iter().enumerate() {
        for (other, words) in texts.iter().skip(at + 1).take_while(|(other, _)| other.min.y <= area.max.y) {
            assert!(!area.meets(*other), "{name}: '{text}' lies on '{words}' at {area:?} {other:?}");
        }
        for symbol in symbols.iter().flatten() {
            assert!(!area.meets(*symbol), "{name}: '{text}' lies on a symbol at {area:?} {symbol:?}");
        }
        for line in &lines {
            assert!(!area.meets(*line), "{name}: '{text}' lies on a line at {area:?} {line:?}");
        }
    }
    let whole: Vec<Area> = symbols.iter().filter_map(|symbol| symbol.iter().copied().reduce(Area::joined)).collect();
    for (at, symbol) in whole.iter().enumerate() {
        for other in whole.iter().skip(at + 1) {
            assert!(!symbol.meets(*other), "{name}: two symbols lie on one another at {symbol:?}");
        }
    }
}

/// Numbers of twelve letters are drawn in full on rungs, and lie on nothing.
#[test]
fn long_numbers_are_drawn_in_full() {
    for seed in 0..20 {
        let mut machine = invented_machine(60, seed);
        let wires: Vec<WireId> = machine.wires.ids().collect();
        for (at, id) in wires.into_iter().enumerate() {
            let mut wire = machine.wires.get(id).unwrap().clone();
            wire.number = wire.number.map(|_| format!("NUMBER-{at:05}"));
            machine.apply(Edit::one("number", Change::Wire(id, Some(Arc::new(wire)))));
        }
        let ladder = lay_out(&machine, &Catalogue::built_in().unwrap(), &Options::default());
        assert_no_overlaps(&ladder, &format!("long numbers, seed {seed}"));
        let texts: Vec<&str> = ladder
            .scene()
            .pieces()
            .iter()
            .flat_map(|piece| &piece.items)
            .filter_map(|item| match &item.shape {
                Shape::Text { text, .. } if text.starts_with("NUMB") => Some(text.as_str()),
                _ => None,
            })
            .collect();
        assert!(texts.iter().any(|text| text.len() == 12), "seed {seed}: {texts:?}");
    }
}

/// The rectangles round the straight pieces of a line, or round the whole of another shape.
fn strokes(item: &Item) -> Vec<Area> {
    match &item.shape {
        Shape::Line { points, width_mm, .. } => {
            points.windows(2).map(|two| Area::between(two[0], two[1]).grown(width_mm / 2.0)).collect()
        }
        _ => item.area().into_iter().collect(),
    }
}

/// A machine of rungs at random that are series-parallel by construction: contacts, switches and loads in series and in parallel.
fn series_parallel(seed: u64) -> Machine {
    let mut made = Making { machine: Machine::default(), random: Random::from_seed(seed) };
    let plug = made.part("X1", "cord-plug");
    for _ in 0..12 {
        let from = TerminalRef::new(plug, "L");
        let to = TerminalRef::new(plug, "N");
        made.between(&from, &to, 3, true);
    }
    made.machine
}

struct Making {
    machine: Machine,
    random: Random,
}

impl Making {
    fn below(&mut self, n: u64) -> u64 {
        self.random.next() % n
    }

    fn part(&mut self, tag: &str, kind: &str) -> PartId {
        self.machine.parts.add(Part { tag: tag.to_owned(), kind: kind.to_owned(), ..Part::default() })
    }

    fn wire(&mut self, from: &TerminalRef, to: &TerminalRef) {
        let end = |at: &TerminalRef| WireEnd { at: EndAt::Terminal(at.clone()), ..WireEnd::default() };
        let key = format!("W{}", self.machine.wires.len() + 1);
        self.machine.wires.add(Wire { key, from: end(from), to: end(to), ..Wire::default() });
    }

    fn between(&mut self, from: &TerminalRef, to: &TerminalRef, depth: u32, loads: bool) {
        let choice = if depth == 0 { 0 } else { self.below(3) };
        match choice {
            0 => {
                let kinds = [
                    ("heater", "1", "2"),
                    ("lamp", "1", "2"),
                    ("push-button-make", "13", "14"),
                    ("thermostat-cool", "1", "2"),
                    ("fuse", "1", "2"),
                ];
                let first = if loads { self.below(2) } else { 2 + self.below(3) };
                let (kind, a, b) = kinds[usize::try_from(first).unwrap()];
                let tag = self.machine.free_tag(if loads { "E" } else { "S" });
                let part = self.part(&tag, kind);
                self.wire(from, &TerminalRef::new(part, a));
                self.wire(&TerminalRef::new(part, b), to);
            }
            1 => {
                let tag = self.machine.free_tag("XS");
                let splice = self.part(&tag, "test-point");
                let body = Catalogue::built_in().unwrap().body(self.machine.parts.get(splice).unwrap());
                let middle = TerminalRef::new(splice, body.terminals[0].marking.clone());
                self.between(from, &middle, depth - 1, false);
                self.between(&middle, to, depth - 1, loads);
            }
            _ => {
                for _ in 0..2 + self.below(2) {
                    self.between(from, to, depth - 1, loads);
                }
            }
        }
    }
}

#[test]
fn published_circuits_and_demo_machines_are_whole_and_legible() {
    let built_in = Catalogue::built_in().unwrap();
    let mut all: Vec<(String, Machine, Arc<Catalogue>)> = Vec::new();
    for (name, wired) in circuits::published() {
        all.push((name.to_owned(), wired.machine, Arc::new(wired.catalogue)));
    }
    for name in ["pantry-locker.ron", "proofer.ron", "flower-cooler.ron"] {
        all.push((name.to_owned(), demo(name), Arc::clone(&built_in)));
    }
    for (name, machine, catalogue) in all {
        for style in [Style::Iec, Style::Ansi] {
            let ladder = lay_out(&machine, &catalogue, &Options { style });
            assert_reads_back(&machine, &catalogue, &ladder, &name);
            assert_nothing_lost(&machine, &catalogue, &ladder, &name);
            assert_no_overlaps(&ladder, &name);
        }
    }
}

#[test]
fn a_hundred_invented_machines_read_back_net_by_net() {
    let catalogue = Catalogue::built_in().unwrap();
    let (mut crossings, mut elements, mut rungs, mut square_metres) = (0, 0, 0, 0.0);
    for seed in 0..100 {
        let wires = 20 + usize::try_from(seed).unwrap() * 3;
        let machine = invented_machine(wires, seed);
        let ladder = lay_out(&machine, &catalogue, &Options::default());
        let name = format!("{wires} wires, seed {seed}");
        crossings += assert_reads_back(&machine, &catalogue, &ladder, &name);
        elements += assert_nothing_lost(&machine, &catalogue, &ladder, &name);
        assert_no_overlaps(&ladder, &name);
        rungs += ladder.rungs.len();
        square_metres += ladder.scene().area().map_or(0.0, |area| area.width() * area.height() / 1e6);
    }
    println!(
        "100 invented machines: {elements} elements, {rungs} rungs, {crossings} crossings, {square_metres:.2} m² in all"
    );
    // Their circuits are series-parallel, so no crossing is needed.
    assert_eq!(crossings, 0);
}

#[test]
fn what_is_series_parallel_is_drawn_without_a_crossing() {
    let catalogue = Catalogue::built_in().unwrap();
    let mut rungs = 0;
    for seed in 0..100 {
        let machine = series_parallel(seed);
        let ladder = lay_out(&machine, &catalogue, &Options::default());
        let name = format!("seed {seed}");
        assert_eq!(assert_reads_back(&machine, &catalogue, &ladder, &name), 0, "{name}");
        assert_nothing_lost(&machine, &catalogue, &ladder, &name);
        assert_no_overlaps(&ladder, &name);
        rungs += ladder.rungs.len();
    }
    println!("100 series-parallel machines: {rungs} rungs, no crossing");
}

#[test]
fn machines_without_any_order_are_drawn_or_listed() {
    let catalogue = Catalogue::built_in().unwrap();
    let (mut crossings, mut elements, mut drawn) = (0, 0, 0);
    for seed in 0..100 {
        let machine = wild_machine(8 + usize::try_from(seed).unwrap(), seed, &catalogue);
        let ladder = lay_out(&machine, &catalogue, &Options::default());
        let name = format!("wild, seed {seed}");
        crossings += assert_reads_back(&machine, &catalogue, &ladder, &name);
        elements += assert_nothing_lost(&machine, &catalogue, &ladder, &name);
        assert_no_overlaps(&ladder, &name);
        drawn += ladder.devices.len();
    }
    println!("100 machines at random: {elements} elements, {drawn} devices drawn, {crossings} crossings");
}

/// Contacts anyhow between a few nets, a load here and there: mostly no series-parallel circuits.
pub fn mesh(seed: u64) -> Machine {
    let mut made = Making { machine: Machine::default(), random: Random::from_seed(seed) };
    let three = seed.is_multiple_of(3);
    let plug = made.part("X1", if three { "cord-plug-three-phase" } else { "cord-plug" });
    let poles: &[&str] = if three { &["L1", "L2", "L3", "N"] } else { &["L", "N"] };
    let mut nets: Vec<TerminalRef> = poles.iter().map(|pole| TerminalRef::new(plug, *pole)).collect();
    for net in 0..3 + made.below(6) {
        let splice = made.part(&format!("XS{net}"), "test-point");
        let body = Catalogue::built_in().unwrap().body(made.machine.parts.get(splice).unwrap());
        nets.push(TerminalRef::new(splice, body.terminals[0].marking.clone()));
    }
    let count = u64::try_from(nets.len()).unwrap();
    for _ in 0..count + made.below(2 * count) {
        let (a, b) = (made.below(count), made.below(count));
        if a != b {
            let loads = made.below(4) == 0;
            let (a, b) = (usize::try_from(a).unwrap(), usize::try_from(b).unwrap());
            let (from, to) = (nets[a].clone(), nets[b].clone());
            made.between(&from, &to, 0, loads);
        }
    }
    made.machine
}

#[test]
fn what_is_not_series_parallel_is_drawn_honestly() {
    let catalogue = Catalogue::built_in().unwrap();
    let (mut crossings, mut devices, mut square_metres) = (0, 0, 0.0);
    for seed in 0..100 {
        let machine = mesh(seed);
        let ladder = lay_out(&machine, &catalogue, &Options::default());
        let name = format!("mesh, seed {seed}");
        crossings += assert_reads_back(&machine, &catalogue, &ladder, &name);
        assert_nothing_lost(&machine, &catalogue, &ladder, &name);
        assert_no_overlaps(&ladder, &name);
        devices += ladder.devices.len();
        square_metres += ladder.scene().area().map_or(0.0, |area| area.width() * area.height() / 1e6);
    }
    println!("100 meshes of machines: {devices} devices, {crossings} crossings, {square_metres:.2} m² in all");
}

/// Devices in reading order, by part and element.
fn order(ladder: &Ladder) -> Vec<(PartId, Vec<usize>)> {
    ladder.devices.iter().map(|device| (device.part, device.elements.clone())).collect()
}

/// How many of those that both have kept their order: the longest rising row of places.
fn kept(before: &[(PartId, Vec<usize>)], after: &[(PartId, Vec<usize>)]) -> (usize, usize) {
    let place: BTreeMap<_, usize> = before.iter().zip(0..).collect();
    let places: Vec<usize> = after.iter().filter_map(|one| place.get(one).copied()).collect();
    let mut tails: Vec<usize> = Vec::new();
    for &at in &places {
        let found = tails.partition_point(|&tail| tail < at);
        if found == tails.len() { tails.push(at) } else { tails[found] = at }
    }
    (tails.len(), places.len())
}

#[test]
fn taking_one_wire_out_moves_little() {
    let catalogue = Catalogue::built_in().unwrap();
    let machine = invented_machine(300, 11);
    let before = order(&lay_out(&machine, &catalogue, &Options::default()));
    let wires: Vec<WireId> = machine.wires.ids().step_by(7).collect();
    let (mut moved, mut all, mut worst) = (0, 0, 0.0_f64);
    for wire in wires {
        let mut edited = machine.clone();
        edited.wires.put(wire, None);
        let after = order(&lay_out(&edited, &catalogue, &Options::default()));
        let (kept, common) = kept(&before, &after);
        moved += common - kept;
        all += common;
        worst = worst.max((common - kept) as f64 / common.max(1) as f64);
    }
    println!(
        "one wire taken out of 300: {moved} of {all} devices changed their order, at worst {:.1} %",
        100.0 * worst
    );
    assert!(worst <= 0.05, "{worst}");
}

#[test]
fn the_same_record_gives_the_same_ladder() {
    let catalogue = Catalogue::built_in().unwrap();
    let machine = wild_machine(60, 4, &catalogue);
    let svg = || {
        let ladder = lay_out(&machine, &catalogue, &Options::default());
        wirewitness::drawing::svg(ladder.scene(), wirewitness::drawing::style::Ground::Print)
    };
    assert_eq!(svg(), svg());
}

#[test]
fn an_empty_record_is_an_empty_ladder() {
    let catalogue = Catalogue::built_in().unwrap();
    let ladder = lay_out(&Machine::default(), &catalogue, &Options::default());
    assert!(ladder.rungs.is_empty() && ladder.off.is_empty());
}
