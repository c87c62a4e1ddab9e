//! All wires between terminals, on small drawn pictures whose truth is exact.

use std::sync::Arc;
use std::sync::atomic::{AtomicUsize, Ordering};

use image::{Rgba, RgbaImage};
use wirewitness::tracing::{Ground, PhotoPixels, PhotoPoint, PhotoTerminal, Proposed, between};

const WALL: [u8; 3] = [176, 180, 184];
const BLUE: [u8; 3] = [40, 80, 190];
const RED: [u8; 3] = [180, 40, 40];

/// A wall with wires drawn one over the other, 8 pixels wide, lit from the middle as round things are.
fn picture(wires: &[([u8; 3], Vec<PhotoPoint>)]) -> Ground {
    let mut picture = RgbaImage::from_pixel(360, 240, Rgba([WALL[0], WALL[1], WALL[2], 255]));
    for (colour, line) in wires {
        for (x, y, pixel) in picture.enumerate_pixels_mut() {
            let off = line
                .windows(2)
                .map(|pair| apart([f64::from(x) + 0.5, f64::from(y) + 0.5], pair))
                .fold(f64::MAX, f64::min);
            if off < 4.0 {
                let light = 1.0 - 0.3 * (off / 4.0).powi(2);
                *pixel = Rgba([shaded(colour[0], light), shaded(colour[1], light), shaded(colour[2], light), 255]);
            }
        }
    }
    Ground::of(Arc::new(PhotoPixels::of(&picture, |_| ())))
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "a byte times at most 1")]
fn shaded(value: u8, light: f64) -> u8 {
    (f64::from(value) * light) as u8
}

fn apart(at: PhotoPoint, piece: &[PhotoPoint]) -> f64 {
    let along = [piece[1][0] - piece[0][0], piece[1][1] - piece[0][1]];
    let square = along[0] * along[0] + along[1] * along[1];
    let share = ((at[0] - piece[0][0]) * along[0] + (at[1] - piece[0][1]) * along[1]) / square;
    let share = share.clamp(0.0, 1.0);
    (at[0] - piece[0][0] - share * along[0]).hypot(at[1] - piece[0][1] - share * along[1])
}

/// An arc of a parabola between two places, bulging downwards by so much.
fn hanging(from: PhotoPoint, to: PhotoPoint, by: f64) -> Vec<PhotoPoint> {
    (0..=60)
        .map(|step| {
            let s = f64::from(step) / 60.0;
            [from[0] + s * (to[0] - from[0]), from[1] + s * (to[1] - from[1]) + 4.0 * by * s * (1.0 - s)]
        })
        .collect()
}

fn single(at: PhotoPoint) -> PhotoTerminal {
    PhotoTerminal { at, holds: 1 }
}

fn farthest(proposed: &Proposed, line: &[PhotoPoint]) -> f64 {
    let off = |at: PhotoPoint| line.windows(2).map(|pair| apart(at, pair)).fold(f64::MAX, f64::min);
    proposed.path.points.iter().map(|point| off(point.at)).fold(0.0, f64::max)
}

/// Source: the pictures are drawn here, so which wire runs where is known exactly.
#[test]
fn wires_that_cross_are_each_followed_to_their_own_ends() {
    let terminals = [[30.0, 40.0], [330.0, 60.0], [30.0, 190.0], [330.0, 30.0]];
    let blue = hanging(terminals[0], terminals[1], 80.0);
    let red = hanging(terminals[2], terminals[3], 20.0);
    let ground = picture(&[(BLUE, blue.clone()), (RED, red.clone())]);
    let found = between(&ground, &terminals.map(single), &|_| true);
    let ends: Vec<[usize; 2]> = found.iter().map(|proposed| proposed.ends).collect();
    assert_eq!(ends.len(), 2, "{ends:?}");
    for (ends, line) in [([0, 1], &blue), ([2, 3], &red)] {
        let proposed = found.iter().find(|proposed| proposed.ends == ends).unwrap();
        assert!(farthest(proposed, line) < 4.0, "{ends:?} is {:.1} px off", farthest(proposed, line));
        let length = |points: Vec<PhotoPoint>| {
            points.windows(2).map(|pair| (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1])).sum()
        };
        let (there, drawn): (f64, f64) =
            (length(proposed.path.points.iter().map(|point| point.at).collect()), length(line.clone()));
        assert!((0.9..1.2).contains(&(there / drawn)), "{there:.0} px of {drawn:.0}: it runs along the wire once");
        assert!((6.0..11.0).contains(&proposed.width_px), "{}", proposed.width_px);
        let points = &proposed.path.points;
        assert_eq!((points[0].at, points[points.len() - 1].at), (terminals[ends[0]], terminals[ends[1]]));
    }
}

/// Source: the picture is drawn here. Blue comes to a stud from the left and red from the right: both are proposed where it holds two, one
/// where it holds but one.
#[test]
fn a_terminal_gets_as_many_wires_as_it_holds() {
    let [left, right, stud] = [[30.0, 60.0], [330.0, 60.0], [180.0, 150.0]];
    let ground = picture(&[(BLUE, hanging(left, [168.0, 150.0], 20.0)), (RED, hanging(right, [192.0, 150.0], 20.0))]);
    let found = |holds: u8| -> Vec<[usize; 2]> {
        let terminals = [(left, 1), (right, 1), (stud, holds)].map(|(at, holds)| PhotoTerminal { at, holds });
        let found = between(&ground, &terminals, &|_| true);
        for proposed in &found {
            let points = &proposed.path.points;
            let ends = proposed.ends.map(|end| terminals[end].at);
            assert_eq!([points[0].at, points[points.len() - 1].at], ends);
        }
        found.iter().map(|one| one.ends).collect()
    };
    let mut two = found(2);
    two.sort_unstable();
    assert_eq!(two, [[0, 2], [1, 2]]);
    assert_eq!(found(1).len(), 1);
}

/// A wall with an edge of shade, terminals and no wire: nothing may be proposed.
#[test]
fn nothing_is_proposed_where_no_wire_is() {
    let picture =
        RgbaImage::from_fn(
            200,
            140,
            |x, _| if x < 100 { Rgba([176, 180, 184, 255]) } else { Rgba([120, 124, 128, 255]) },
        );
    let ground = Ground::of(Arc::new(PhotoPixels::of(&picture, |_| ())));
    assert_eq!(
        between(&ground, &[[30.0, 40.0], [170.0, 60.0], [100.0, 20.0], [100.0, 120.0]].map(single), &|_| true),
        Vec::new()
    );
}

#[test]
fn looking_can_be_stopped() {
    let line = hanging([30.0, 40.0], [330.0, 60.0], 80.0);
    let ground = picture(&[(BLUE, line)]);
    let terminals = [[30.0, 40.0], [330.0, 60.0]].map(single);
    assert_eq!(between(&ground, &terminals, &|_| false), Vec::new());
    let told = AtomicUsize::new(0);
    let stopped_at = |call: usize| {
        told.store(0, Ordering::Relaxed);
        between(&ground, &terminals, &|_| told.fetch_add(1, Ordering::Relaxed) != call)
    };
    assert_eq!(stopped_at(usize::MAX).len(), 1);
    let calls = told.load(Ordering::Relaxed);
    for call in [calls / 3, calls * 4 / 5, calls - 2, calls - 1] {
        assert_eq!(stopped_at(call), Vec::new(), "told to stop once, at call {call} of {calls}");
    }
}

/// Terminals anywhere, also outside the photo, and photos of next to no size are no reason to break.
#[test]
fn odd_pictures_and_places_break_nothing() {
    for size in [[1, 1], [3, 200], [40, 30]] {
        let pixels = PhotoPixels::of(&RgbaImage::new(size[0], size[1]), |_| ());
        let ground = Ground::of(Arc::new(pixels));
        let terminals =
            [([0.0, 0.0], 0), ([-50.0, 1e9], 1), ([f64::NAN, 3.0], 255)].map(|(at, holds)| PhotoTerminal { at, holds });
        assert_eq!(between(&ground, &terminals, &|_| true), Vec::new());
    }
}
