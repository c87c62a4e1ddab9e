//! Wires followed on pictures whose truth is known, and how long it takes.
//!
//! `cargo bench --no-default-features --bench trace`. For each picture: the share of visible length that the path has within half a wire's width of
//! the true middle, mean distance (both ways) and the distance that 95 % of points lie within, averaged over wires; the share of wires whose
//! base and tracer are suggested right, without and with white pointed at (the middle of a paper flag, by the rule of `truth::Truth::white`); then all wires between the true terminals at once, by the rule of `truth::Truth::as_asked`. Pins are put by the rule of
//! `truth::Wire::pins`: both ends, one behind each thing that hides the wire, one at each crossing with its like. Then the time
//! of 500 pointer moves on 12 and 48 megapixels, and of reading a photo of 48 megapixels.
//! `TRACE_PICTURES=folder`: other pictures, `NAME.jpg` and `NAME.json` each. `TRACE_VERBOSE=1`: every wire. `ALL_WIRES=1`: all wires only. `COST_FOLDER=folder`: writes prices and ways
//! for tests/outside/trace_peers.py instead.

#![allow(clippy::unwrap_used, reason = "a benchmark that cannot begin has nothing to measure")]

#[path = "../traced/truth.rs"]
mod truth;

use std::fmt::Write as _;
use std::io::Cursor;
use std::path::Path;
use std::sync::Arc;
use std::time::Instant;

use image::imageops::{FilterType, resize};
use wirewitness::tracing::{Follower, Ground, Homography, PhotoPixels, Tree, between, decode, preview};

fn main() {
    if let Some(folder) = std::env::var_os("COST_FOLDER") {
        write_prices(Path::new(&folder));
        return;
    }
    let verbose = std::env::var_os("TRACE_VERBOSE").is_some();
    for name in truth::names() {
        if std::env::var_os("ALL_WIRES").is_none() {
            followed(&name, verbose);
        }
        all_wires(&name, verbose);
    }
    if std::env::var_os("TRACE_PICTURES").is_none() && std::env::var_os("ALL_WIRES").is_none() {
        pointer_moves();
        reading();
    }
}

fn followed(name: &str, verbose: bool) {
    let (ground, known) = truth::picture(name);
    let (mut length, mut within, mut mean, mut far, mut right, mut wires, mut pins_put) =
        (0.0, 0.0, 0.0, 0.0, 0.0, 0.0, 0);
    let (mut sure, mut wrong_sure, mut right_by_white) = (0, 0, 0.0);
    for wire in known.wires.iter().filter(|wire| wire.can_be_followed()) {
        let pins = wire.pins(&known);
        let follower = Follower::through(&ground, &pins);
        let path: Vec<_> = follower.path().points.iter().map(|point| point.at).collect();
        let off = wire.compare(&path);
        let suggested = follower.colour(None);
        let said = suggested.map(|suggested| suggested.best.colour.to_string()).unwrap_or_default();
        let is_right = said == wire.colour();
        if verbose {
            println!(
                "   {} {:5} suggested {said:5} width {:.1} px ({:.1}), {} pins: {:.1} % within, mean {:.2} px, 95 % {:.1} px",
                wire.id,
                wire.colour(),
                wire.width(),
                follower.width_px(),
                pins.len(),
                100.0 * off.within / off.length,
                off.mean_px,
                off.hausdorff_px
            );
        }
        length += off.length;
        within += off.within;
        mean += off.mean_px;
        far += off.hausdorff_px;
        right += f64::from(is_right);
        let by_white = follower.colour(known.white).map(|suggested| suggested.best.colour.to_string());
        right_by_white += f64::from(by_white.unwrap_or_default() == wire.colour());
        wires += 1.0;
        pins_put += pins.len();
        if suggested.is_some_and(|suggested| suggested.sure) {
            sure += 1;
            wrong_sure += u32::from(!is_right);
        }
    }
    println!(
        "{name} ({}): {wires} wires, {:.1} pins each: {:.1} % within half a width; mean {:.2} px, 95 % {:.1} px; colour right {:.1} % ({sure} sure, {wrong_sure} of them wrong), {:.1} % with white pointed at",
        known.level,
        pins_put as f64 / wires,
        100.0 * within / length,
        mean / wires,
        far / wires,
        100.0 * right / wires,
        100.0 * right_by_white / wires
    );
}

fn all_wires(name: &str, verbose: bool) {
    let (ground, known) = truth::picture(name);
    let (ids, terminals): (Vec<_>, Vec<_>) = known.as_asked().into_iter().unzip();
    let start = Instant::now();
    let proposed = between(&ground, &terminals, &|_| true);
    let seconds = start.elapsed().as_secs_f64();
    let wanted = known.between_terminals();
    let joins = |wire: &truth::Wire, ends: [usize; 2]| {
        let on = |end: usize, number: usize| ids[end].contains(&wire.ends[number].terminal.as_str());
        on(ends[0], 0) && on(ends[1], 1) || on(ends[0], 1) && on(ends[1], 0)
    };
    let is_true = |ends: [usize; 2]| known.wires.iter().any(|wire| joins(wire, ends));
    let found = wanted.iter().filter(|wire| proposed.iter().any(|one| joins(wire, one.ends))).count();
    let right = |least: f64| proposed.iter().filter(|one| one.confidence >= least && is_true(one.ends)).count();
    let clear = proposed.iter().filter(|one| one.confidence >= 0.5).count();
    println!(
        "    all wires: {found} of {} proposed with both ends right; {} proposed in all, {} of them true; {clear} in several looks with clear ends, {} of them true; none called sure; {seconds:.1} s",
        wanted.len(),
        proposed.len(),
        right(0.0),
        right(0.5)
    );
    if verbose {
        for one in &proposed {
            let [from, to] = one.ends.map(|end| ids[end].join(","));
            println!(
                "      {from} - {to}: {:.2} {}",
                one.confidence,
                if is_true(one.ends) { "right" } else { "wrong" }
            );
        }
    }
}

/// The pointer along a wire and beside it, 500 moves; the photo is the demonstration machine's, made larger.
fn pointer_moves() {
    let (_, known) = truth::picture("pantry-locker-compartment");
    let small = truth::upright("pantry-locker-compartment");
    let wire = known.wires.iter().find(|wire| wire.id == "W05").unwrap();
    let pins = wire.pins(&known);
    for (width, height) in [(4000_u32, 3000_u32), (8000, 6000)] {
        let large = resize(&small, width, height, FilterType::Triangle);
        let times = f64::from(width) / f64::from(small.width());
        let start = Instant::now();
        let ground = Ground::of(Arc::new(PhotoPixels::of(&large, |_| ())));
        let ready = start.elapsed();
        let start = Instant::now();
        let follower = Follower::start(&ground, pins[0].map(|v| v * times));
        let pinned = start.elapsed();
        let (line, mut took) = (&wire.centre_line, Vec::new());
        for step in 0..500_u32 {
            let point = line[line.len() * step as usize / 500];
            let aside = f64::from(step % 50) - 25.0;
            let pointer = [(point.0 + aside) * times, (point.1 - aside) * times];
            let start = Instant::now();
            std::hint::black_box(follower.path_to(pointer));
            took.push(start.elapsed().as_secs_f64() * 1e3);
        }
        took.sort_by(f64::total_cmp);
        println!(
            "{} megapixels: levels {:.0} ms, a pin {:.0} ms; a move: median {:.2} ms, 99 % within {:.2} ms, at most {:.2} ms (goal 16 ms)",
            width * height / 1_000_000,
            ready.as_secs_f64() * 1e3,
            pinned.as_secs_f64() * 1e3,
            took[250],
            took[494],
            took[499]
        );
    }
}

/// A JPEG of 48 megapixels with a camera's noise: a small picture of it, and the whole.
fn reading() {
    let small = truth::upright("pantry-locker-compartment");
    let mut large = image::DynamicImage::ImageRgba8(resize(&small, 8000, 6000, FilterType::Nearest)).into_rgb8();
    let mut random = wirewitness::generate::Random::from_seed(1);
    for pixel in large.pixels_mut() {
        let noise = u8::try_from(random.next() % 8).unwrap();
        pixel.0 = pixel.0.map(|value| value.saturating_add(noise));
    }
    let mut bytes = Vec::new();
    image::codecs::jpeg::JpegEncoder::new_with_quality(Cursor::new(&mut bytes), 90).encode_image(&large).unwrap();
    drop(large);
    let start = Instant::now();
    let seen = preview(&bytes).unwrap();
    let quick = start.elapsed();
    let start = Instant::now();
    let decoded = decode(&bytes).unwrap();
    let pixels = PhotoPixels::of(&decoded.picture, |_| ());
    println!(
        "48 megapixels, {} MB: preview of {} x {} in {:.0} ms (goal 300), whole with levels in {:.0} ms (goal 2000); {} MB kept, and {} MB while decoding",
        bytes.len() / 1_000_000,
        seen.width(),
        seen.height(),
        quick.as_secs_f64() * 1e3,
        start.elapsed().as_secs_f64() * 1e3,
        pixels.bytes() / 1_000_000,
        (decoded.picture.as_raw().len() + 144_000_000) / 1_000_000
    );
}

/// Prices as PGM, each with a way found here, and points through a homography.
fn write_prices(folder: &Path) {
    let mut ways = String::new();
    for name in truth::PICTURES {
        let (ground, known) = truth::picture(name);
        let wire = known.wires.iter().find(|wire| wire.can_be_followed()).unwrap();
        let follower = Follower::start(&ground, wire.pins(&known)[0]);
        let (width, price) = follower.prices();
        let height = price.len() / width;
        let mut pgm = format!("P5 {width} {height} 255\n").into_bytes();
        pgm.extend(price);
        std::fs::write(folder.join(format!("{name}.pgm")), pgm).unwrap();
        for (from, to) in [([20, 30], [width - 40, height - 25]), ([width / 2, 40], [30, height / 2])] {
            let start = Instant::now();
            let tree = Tree::of(width, height, price, from, Some(to));
            let seconds = start.elapsed().as_secs_f64();
            let points: Vec<String> = tree.way(to).iter().map(|at| format!("{} {}", at[0], at[1])).collect();
            writeln!(ways, "{name};{};{seconds};{}", tree.cost(to).unwrap(), points.join(",")).unwrap();
        }
    }
    std::fs::write(folder.join("ways.txt"), ways).unwrap();
    let from = [[1210.0, 340.0], [3011.5, 402.0], [2890.0, 2455.0], [1000.0, 2303.0]];
    let to = [[0.0, 0.0], [600.0, 0.0], [600.0, 400.0], [0.0, 400.0]];
    let map = Homography::of(from, to).unwrap();
    let mut mapped = String::new();
    for x in 0..12 {
        let at = [900.0 + 180.0 * f64::from(x), 300.0 + 190.0 * f64::from(x * 5 % 12)];
        let there = map.apply(at).unwrap();
        writeln!(mapped, "{} {} {} {}", at[0], at[1], there[0], there[1]).unwrap();
    }
    std::fs::write(folder.join("homography.txt"), mapped).unwrap();
}
