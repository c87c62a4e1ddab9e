//! Wires followed on pictures whose truth is known: the quality that must not rot. `cargo bench --no-default-features --bench trace` prints the
//! figures of all pictures.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

#[path = "traced/truth.rs"]
mod truth;

use wirewitness::tracing::{Follower, SEEN_COST, Tree};

/// Follows one wire in `step` of a picture; the share of visible length within half a width, and of colours that are right.
fn shares(name: &str, step: usize) -> (f64, f64) {
    let (ground, known) = truth::picture(name);
    let (mut length, mut within, mut right, mut wires) = (0.0, 0.0, 0.0, 0.0);
    for wire in known.wires.iter().filter(|wire| wire.can_be_followed()).step_by(step) {
        let follower = Follower::through(&ground, &wire.pins(&known));
        let path: Vec<_> = follower.path().points.iter().map(|point| point.at).collect();
        let off = wire.compare(&path);
        assert!(off.mean_px.is_finite() && off.hausdorff_px >= 0.0, "{name} {}", wire.id);
        length += off.length;
        within += off.within;
        wires += 1.0;
        let suggested = follower.colour(None);
        right += f64::from(suggested.is_some_and(|suggested| suggested.best.colour.to_string() == wire.colour()));
    }
    (within / length, right / wires)
}

/// Thresholds lie a little below what is measured, so that only a loss of quality fails.
#[track_caller]
fn at_least(name: &str, step: usize, within: f64, right: f64) {
    let (seen, named) = shares(name, step);
    println!("{name}: {:.1} % within half a width, colour {:.1} %", 100.0 * seen, 100.0 * named);
    assert!(seen >= within, "{name}: {seen} within half a width, {within} wanted");
    assert!(named >= right, "{name}: {named} of the colours right, {right} wanted");
}

#[test]
fn easy_pictures_are_followed() {
    at_least("dev-easy-2", 3, 0.955, 0.95);
}

#[test]
fn medium_pictures_are_followed() {
    at_least("dev-medium-2", 3, 0.965, 0.8);
}

#[test]
fn hard_pictures_are_followed() {
    at_least("dev-hard-2", 2, 0.89, 0.85);
}

/// The way to the pointer is there without a new pin, ends at the pointer, and what is behind something is said to be hidden.
#[test]
fn the_path_follows_the_pointer_and_knows_what_is_hidden() {
    let (ground, known) = truth::picture("dev-easy-1");
    let wire = known.wires.iter().find(|wire| wire.id == "W10").unwrap();
    let pins = wire.pins(&known);
    let follower = Follower::start(&ground, pins[0]);
    let live = follower.path_to(pins[1]).points;
    let (first, last) = (live[0].at, live[live.len() - 1].at);
    assert!((first[0] - pins[0][0]).hypot(first[1] - pins[0][1]) < 5.0, "{first:?}");
    assert!((last[0] - pins[1][0]).hypot(last[1] - pins[1][1]) < 5.0, "{last:?}");
    let whole = pins[1..].iter().fold(follower, |follower, pin| follower.with_pin(*pin));
    let path = whole.path().points;
    assert!(path.iter().any(|point| !point.seen) && path.iter().filter(|point| point.seen).count() * 2 > path.len());
    // Anywhere on the photo and off it, a path or nothing, never a panic.
    for pointer in [[-5.0, -5.0], [1e9, 3.0], [f64::NAN, 4.0], [640.0, 480.0]] {
        let path = whole.path_to(pointer);
        assert!(path.points.iter().all(|point| point.at.iter().all(|value| value.is_finite())), "{pointer:?}");
    }
}

/// Four stripes of one colour are drawn side by side for a bundle; a lone wire of a picture has no company.
#[test]
fn a_bundle_of_one_colour_asks_for_pins_and_ends_land_on_terminals() {
    let (ground, known) = truth::picture("dev-easy-1");
    let wire = known.wires.iter().find(|wire| wire.id == "W10").unwrap();
    let follower = Follower::through(&ground, &wire.pins(&known));
    assert_eq!(follower.caution(), None);
    let terminals: Vec<_> = known.terminals().iter().map(|terminal| terminal.px).collect();
    let path = follower.path_between(&terminals).points;
    for (end, of) in [(path[0].at, &wire.ends[0]), (path[path.len() - 1].at, &wire.ends[1])] {
        assert_eq!(end, of.px, "{}", of.terminal);
    }
    let stripes = image::RgbaImage::from_fn(600, 400, |_, y| match y {
        140..149 | 152..161 | 164..173 | 176..185 => image::Rgba([180, 30, 30, 255]),
        _ => image::Rgba([200, 200, 205, 255]),
    });
    let pixels = wirewitness::tracing::PhotoPixels::of(&stripes, |_| ());
    let ground = wirewitness::tracing::Ground::of(std::sync::Arc::new(pixels));
    let bundle = Follower::through(&ground, &[[50.0, 156.5], [550.0, 156.5]]);
    assert!(bundle.caution().is_some_and(|caution| caution.contains("crossing")), "{}", bundle.company());
}

#[test]
fn a_follower_may_be_made_beside_the_window() {
    fn send<T: Send + Sync + 'static>() {}
    send::<Follower>();
    send::<wirewitness::tracing::Ground>();
    send::<wirewitness::tracing::Proposed>();
}

/// E. W. Dijkstra's method is exact: no way is cheaper than the one found. Held to relaxing all steps until nothing changes (Bellman
/// and Ford), on prices at random.
#[test]
fn no_way_is_cheaper_than_the_one_found() {
    let mut random = wirewitness::generate::Random::from_seed(3);
    let (width, height) = (23, 17);
    let price: Vec<u8> = (0..width * height).map(|_| SEEN_COST + u8::try_from(random.next() % 50).unwrap()).collect();
    let root = [4, 9];
    let tree = Tree::of(width, height, &price, root, None);
    let mut least = vec![u32::MAX; width * height];
    least[root[1] * width + root[0]] = 0;
    for _ in 0..width * height {
        let before = least.clone();
        for y in 0..height {
            for x in 0..width {
                for (ny, nx) in
                    (y.saturating_sub(1)..=y + 1).flat_map(|ny| (x.saturating_sub(1)..=x + 1).map(move |nx| (ny, nx)))
                {
                    let from = y * width + x;
                    if nx < width && ny < height && (nx, ny) != (x, y) && least[from] != u32::MAX {
                        let weight = if nx != x && ny != y { 7 } else { 5 };
                        let cost = least[from] + weight * (u32::from(price[from]) + u32::from(price[ny * width + nx]));
                        least[ny * width + nx] = least[ny * width + nx].min(cost);
                    }
                }
            }
        }
        if before == least {
            break;
        }
    }
    for y in 0..height {
        for x in 0..width {
            assert_eq!(tree.cost([x, y]), Some(least[y * width + x]), "{x},{y}");
            let way = tree.way([x, y]);
            assert!(way.first() == Some(&root) && way.last() == Some(&[x, y]));
        }
    }
    assert_eq!(tree.cost([width, 0]), None);
}
