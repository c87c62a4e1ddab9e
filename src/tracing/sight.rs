//! What is seen where on a photo: middles of wires by their direction, what is wire, lug or cover, and the colours of insulation.
//!
//! A small convolutional network looks at the photo. It was taught on computer-made pictures whose truth is exact
//! (tests/outside/learn_wires.py; how well it does is told in docs/photos.md). Two sets of weights of it lie in assets.

use std::cell::Cell;
use std::f32::consts::PI;

use super::ground::pixel;
use super::layers::{Layer, Planes};
use super::scene::Scene;

/// Directions that middles of wires are told by, evenly over half a turn from along the rows, clockwise.
pub(super) const DIRECTIONS: usize = 12;
/// Letters of IEC 60757 that base colours are told by, in this order: BK, BN, RD, OG, YE, GN, BU, VT, GY, WH, PK, TQ, GNYE.
pub(super) const LETTERS: usize = 13;
/// What a cell shows: something else, insulation, a lug or sleeve, a tie, flag or tape.
const KINDS: usize = 4;
const INSULATION: usize = 1;
const LUG: usize = 2;
/// An end of a wire: that it is there, which way the wire leaves it, and how far off its terminal lies.
const ENDS: usize = 5;
const FIRST_LETTER: usize = DIRECTIONS + KINDS;
const FIRST_OF_END: usize = FIRST_LETTER + LETTERS;
/// All that is told of a cell.
const TOLD: usize = FIRST_OF_END + ENDS;
/// Of what is told of an end, what points across, and what points down.
const ACROSS: [usize; 2] = [FIRST_OF_END + 1, FIRST_OF_END + 3];
const DOWN: [usize; 2] = [FIRST_OF_END + 2, FIRST_OF_END + 4];
/// A photo is looked at as it is, mirrored across, down, and both: half of the ends that are none are seen in some of them only.
const MIRRORED: [[bool; 2]; 4] = [[false, false], [true, false], [false, true], [true, true]];
/// Cells to one of the numbers that tell how far off a terminal lies.
const FAR: f32 = 10.0;

/// How long the network was taught: the second set of weights comes from the first, taught on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Taught {
    Once,
    Longer,
}

/// Half precision, little end first: for each of `LAYERS` its weights, then its bias.
static ONCE: &[u8] = include_bytes!("../../assets/wires.weights");
static LONGER: &[u8] = include_bytes!("../../assets/wires-longer.weights");
// Checked when it is built.
const _: () = assert!(ONCE.len() == 2 * numbers(), "tests/outside/learn_wires.py writes them");
// This too.
const _: () = assert!(LONGER.len() == 2 * numbers(), "tests/outside/learn_wires.py writes them");

/// How many numbers the layers have.
const fn numbers() -> usize {
    let (mut layer, mut count) = (0, 0);
    while layer < LAYERS.len() {
        let [from, to, edge, _] = LAYERS[layer];
        count += from * to * edge * edge + to;
        layer += 1;
    }
    count
}

/// Planes in, planes out, edge, stride. The two layers down to half, quarter, eighth, three to a sixteenth; then on the way back one
/// that narrows and one that puts together, for eighth, quarter, half; at last what is told.
const LAYERS: [[usize; 4]; 17] = [
    [3, 24, 5, 2],
    [24, 24, 3, 1],
    [24, 40, 3, 2],
    [40, 40, 3, 1],
    [40, 96, 3, 2],
    [96, 96, 3, 1],
    [96, 192, 3, 2],
    [192, 192, 3, 1],
    [192, 192, 3, 1],
    [192, 96, 1, 1],
    [96, 96, 3, 1],
    [96, 40, 1, 1],
    [40, 40, 3, 1],
    [40, 24, 1, 1],
    [24, 32, 3, 1],
    [32, 32, 3, 1],
    [32, TOLD, 1, 1],
];
/// Edges are made a multiple of this by repeating the last pixels.
const WHOLE: usize = 16;

/// What is seen, in cells of two by two pixels of the scene.
#[derive(Debug)]
pub(super) struct Sight {
    pub(super) width: usize,
    pub(super) height: usize,
    /// For each cell and direction, how likely the middle of a wire runs there so, seen or for a short way hidden; 0 to 1.
    lines: Vec<f32>,
    /// How likely a cell shows insulation; 0 to 1.
    insulation: Vec<f32>,
    /// How likely a cell shows a lug or a sleeve; 0 to 1.
    lugs: Vec<f32>,
    /// For each cell and letter, how likely its insulation has that base colour; together 1.
    letters: Vec<f32>,
    ends: Vec<EndSeen>,
}

/// What is told of the end of a wire by one cell.
#[derive(Debug, Clone, Copy, Default)]
pub(super) struct EndSeen {
    /// How likely its insulation ends here; 0 to 1.
    pub(super) likely: f32,
    /// Which way the wire leaves it, not of any length.
    pub(super) along: [f32; 2],
    /// Where the terminal is from here, in cells.
    pub(super) terminal: [f32; 2],
}

impl Sight {
    /// Looks at a photo, also mirrored across, down and both, and takes the mean of the odds; some seconds. `None` when `go_on`, told the
    /// share that is done, says to stop.
    pub(super) fn of(scene: &Scene, taught: Taught, go_on: &dyn Fn(f64) -> bool) -> Option<Self> {
        let layers = layers(taught);
        let mut mean = Planes::blank(TOLD, scene.width / 2, scene.height / 2);
        for (number, mirrored) in MIRRORED.into_iter().enumerate() {
            let share = |share: f64| go_on((number as f64 + share) / MIRRORED.len() as f64);
            add(&mut mean, &told(&framed(scene, mirrored), &layers, &share)?, mirrored);
        }
        Some(Self::read(&mean))
    }

    fn read(told: &Planes) -> Self {
        let mut sight = Self {
            width: told.width,
            height: told.height,
            lines: Vec::new(),
            insulation: Vec::new(),
            lugs: Vec::new(),
            letters: Vec::new(),
            ends: Vec::new(),
        };
        for cell in 0..told.width * told.height {
            let value = |plane: usize| told.plane(plane)[cell];
            sight.lines.extend((0..DIRECTIONS).map(|plane| likely_of(value(plane))));
            let kinds = shares(&std::array::from_fn::<f32, KINDS, _>(|kind| value(DIRECTIONS + kind)));
            sight.insulation.push(kinds[INSULATION]);
            sight.lugs.push(kinds[LUG]);
            sight
                .letters
                .extend(shares(&std::array::from_fn::<f32, LETTERS, _>(|letter| value(FIRST_LETTER + letter))));
            let [likely, along_x, along_y, far_x, far_y] =
                std::array::from_fn::<f32, ENDS, _>(|of| value(FIRST_OF_END + of));
            let terminal = [FAR * far_x, FAR * far_y];
            sight.ends.push(EndSeen { likely: likely_of(likely), along: [along_x, along_y], terminal });
        }
        sight
    }

    /// How likely the middle of a wire runs through a cell so.
    pub(super) fn line(&self, cell: usize, direction: usize) -> f32 {
        self.lines[cell * DIRECTIONS + direction]
    }

    /// How likely a cell shows insulation.
    pub(super) fn insulation(&self, cell: usize) -> f32 {
        self.insulation[cell]
    }

    /// How likely a cell shows a lug or a sleeve.
    pub(super) fn lug(&self, cell: usize) -> f32 {
        self.lugs[cell]
    }

    /// How likely the insulation at a cell has each base colour.
    pub(super) fn letters(&self, cell: usize) -> &[f32] {
        &self.letters[cell * LETTERS..(cell + 1) * LETTERS]
    }

    /// What is told of an end of a wire at a cell.
    pub(super) fn end(&self, cell: usize) -> EndSeen {
        self.ends[cell]
    }

    /// The cell at a place in cells, if it is inside.
    pub(super) fn cell(&self, at: [f32; 2]) -> Option<usize> {
        let inside = at[0] >= 0.0 && at[1] >= 0.0 && at[0] < self.width as f32 && at[1] < self.height as f32;
        inside.then(|| pixel(f64::from(at[1])) * self.width + pixel(f64::from(at[0])))
    }
}

/// The likelihood of odds that are told as their logarithm.
fn likely_of(odds: f32) -> f32 {
    1.0 / (1.0 + (-odds).exp())
}

/// Odds, told as logarithms, as shares of 1.
fn shares<const N: usize>(odds: &[f32; N]) -> [f32; N] {
    let most = odds.iter().copied().fold(f32::NEG_INFINITY, f32::max);
    let shares = odds.map(|value| (value - most).exp());
    let sum: f32 = shares.iter().sum();
    shares.map(|value| value / sum)
}

/// What the network tells of planes.
fn told(planes: &Planes, layers: &[Layer], go_on: &dyn Fn(f64) -> bool) -> Option<Planes> {
    let done = Cell::new(0.0);
    let next = |planes: &Planes, layer: &Layer| {
        done.set(done.get() + 1.0 / LAYERS.len() as f64);
        go_on(done.get()).then(|| layer.of(planes))
    };
    let through = |from: &Planes, layers: &[Layer]| {
        let (first, rest) = layers.split_first()?;
        rest.iter().try_fold(next(from, first)?, |planes, layer| next(&planes, layer))
    };
    // Down to a sixteenth, and back up with what was seen closely on the way.
    let fine = through(planes, &layers[0..2])?;
    let middle = through(&fine, &layers[2..4])?;
    let coarse = through(&middle, &layers[4..6])?;
    let mut told = through(&coarse, &layers[6..9])?;
    for (mut closer, layers) in [(coarse, &layers[9..11]), (middle, &layers[11..13]), (fine, &layers[13..17])] {
        let (narrow, rest) = layers.split_at(1);
        closer.add_doubled(&through(&told, narrow)?);
        told = through(&closer, rest)?;
    }
    Some(told)
}

/// The scene as the network was taught to see it: half is 0, and its last rows and columns are repeated to whole sixteenths. Mirrored, it
/// has its whole cells at the same place from the other side.
fn framed(scene: &Scene, mirrored: [bool; 2]) -> Planes {
    let (width, height) = (scene.width.next_multiple_of(WHOLE), scene.height.next_multiple_of(WHOLE));
    let from = |at: usize, edge: usize, mirrored: bool| {
        let last = if mirrored { (edge / 2 * 2).max(1) - 1 } else { edge - 1 };
        if mirrored { last - at.min(last) } else { at.min(last) }
    };
    let mut values = Vec::with_capacity(3 * width * height);
    for plane in &scene.planes {
        for y in 0..height {
            let row = from(y, scene.height, mirrored[1]) * scene.width;
            values.extend((0..width).map(|x| plane[row + from(x, scene.width, mirrored[0])] - 0.5));
        }
    }
    Planes { count: 3, width, height, values }
}

/// Adds to the mean what was told of the scene mirrored so.
fn add(mean: &mut Planes, told: &Planes, mirrored: [bool; 2]) {
    let (width, height) = (mean.width, mean.height);
    let [across, down] = mirrored;
    for number in 0..mean.count {
        // A direction mirrored once is another; what points across or down points the other way.
        let of = if number < DIRECTIONS && across != down { (DIRECTIONS - number) % DIRECTIONS } else { number };
        let turned = ACROSS.contains(&number) && across || DOWN.contains(&number) && down;
        let sign = if turned { -1.0 } else { 1.0 };
        let from = told.plane(of);
        for (y, row) in mean.plane_mut(number).chunks_exact_mut(width.max(1)).enumerate() {
            let from = &from[told.width * if down { height - 1 - y } else { y }..];
            for (x, value) in row.iter_mut().enumerate() {
                *value += sign / MIRRORED.len() as f32 * from[if across { width - 1 - x } else { x }];
            }
        }
    }
}

fn layers(taught: Taught) -> Vec<Layer> {
    let weights = match taught {
        Taught::Once => ONCE,
        Taught::Longer => LONGER,
    };
    let mut numbers = weights.as_chunks::<2>().0.iter().map(|bytes| half(*bytes));
    let last = LAYERS.len() - 1;
    let layer = |(number, [planes_in, planes_out, edge, stride]): (usize, [usize; 4])| {
        let weights = numbers.by_ref().take(planes_out * planes_in * edge * edge).collect();
        let bias = numbers.by_ref().take(planes_out).collect();
        // Those that narrow on the way back, and the last, are not cut off at zero.
        let rectified = edge > 1 && number < last;
        Layer { planes_in, planes_out, edge, stride, rectified, weights, bias }
    };
    LAYERS.into_iter().enumerate().map(layer).collect()
}

/// A number of half precision, IEEE 754 binary16; what it cannot tell from endless is not asked for.
fn half(bytes: [u8; 2]) -> f32 {
    let bits = u16::from_le_bytes(bytes);
    let (exponent, fraction) = (i32::from(bits >> 10 & 31), f32::from(bits & 1023) / 1024.0);
    let size =
        if exponent == 0 { fraction * 2.0_f32.powi(-14) } else { (1.0 + fraction) * 2.0_f32.powi(exponent - 15) };
    if bits >> 15 == 1 { -size } else { size }
}

/// The direction, of those that middles of wires are told by, nearest to a step.
#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "between 0 and the number of directions")]
pub(super) fn direction_of(step: [f32; 2]) -> usize {
    (step[1].atan2(step[0]).rem_euclid(PI) / PI * DIRECTIONS as f32).round() as usize % DIRECTIONS
}

#[cfg(test)]
impl Sight {
    /// A picture of which nothing is told; lines can be drawn on it.
    pub(super) fn blank(width: usize, height: usize) -> Self {
        let cells = width * height;
        let letters = (0..cells).flat_map(|_| [1.0 / LETTERS as f32; LETTERS]).collect();
        let [insulation, lugs] = [0, 1].map(|_| vec![0.0; cells]);
        Self {
            width,
            height,
            lines: vec![0.0; cells * DIRECTIONS],
            insulation,
            lugs,
            letters,
            ends: vec![EndSeen::default(); cells],
        }
    }

    /// Insulation of a colour along a straight line three cells wide, with its middle.
    pub(super) fn draw(&mut self, from: [f32; 2], to: [f32; 2], letter: usize) {
        let way = [to[0] - from[0], to[1] - from[1]];
        let length = way[0].hypot(way[1]);
        let direction = direction_of(way);
        let steps = pixel(f64::from(length * 2.0));
        for (step, aside) in
            (0..=steps).flat_map(|step| [-1.0, 0.0, 1.0].map(|aside| (step as f32 / steps as f32, aside)))
        {
            let place =
                [from[0] + step * way[0] - aside * way[1] / length, from[1] + step * way[1] + aside * way[0] / length];
            let Some(cell) = self.cell(place) else { continue };
            self.insulation[cell] = 1.0;
            self.letters[cell * LETTERS..(cell + 1) * LETTERS].fill(0.0);
            self.letters[cell * LETTERS + letter] = 1.0;
            for turn in [DIRECTIONS - 1, 0, 1] {
                let line = &mut self.lines[cell * DIRECTIONS + (direction + turn) % DIRECTIONS];
                *line = line.max(if aside == 0.0 && turn == 0 { 0.9 } else { 0.3 });
            }
        }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: IEEE 754-2008, 3.6 (binary16): 1, -2, the greatest, the least above zero.
    #[test]
    fn numbers_of_half_precision_are_read() {
        for (bits, value) in
            [(0x3C00_u16, 1.0), (0xC000, -2.0), (0x7BFF, 65504.0), (0x0001, 2.0_f32.powi(-24)), (0, 0.0)]
        {
            assert_eq!(half(bits.to_le_bytes()), value, "{bits:x}");
        }
    }

    #[test]
    fn all_weights_are_numbers() {
        for layers in [layers(Taught::Once), layers(Taught::Longer)] {
            assert!(
                layers.iter().all(|layer| layer.bias.len() == layer.planes_out),
                "the last layer has all its numbers"
            );
            assert!(
                layers.iter().flat_map(|layer| &layer.weights).all(|weight| weight.is_finite() && weight.abs() < 100.0)
            );
        }
    }

    /// Of odd edges too: what is told of each cell mirrored is put where that cell is, a line by its mirrored direction, an arrow turned.
    #[test]
    fn what_is_told_of_the_scene_mirrored_is_told_of_the_same_cells() {
        let (width, height) = (35, 21);
        let plane: Vec<f32> = (0..width * height).map(|place| ((place * 37) % 101) as f32 / 100.0).collect();
        let scene = Scene { width, height, planes: [plane.clone(), plane.clone(), plane], scale: 1.0 };
        let (cells, rows) = (width / 2, height / 2);
        let light = |planes: &Planes, x: usize, y: usize| {
            let at = |x: usize, y: usize| planes.plane(0)[y * planes.width + x];
            at(2 * x, 2 * y) + at(2 * x + 1, 2 * y) + at(2 * x, 2 * y + 1) + at(2 * x + 1, 2 * y + 1)
        };
        let upright = framed(&scene, [false, false]);
        let mut mean = Planes::blank(TOLD, cells, rows);
        for mirrored in MIRRORED {
            let planes = framed(&scene, mirrored);
            assert_eq!((planes.width, planes.height), (48, 32));
            // As if it told the light of each cell as a line at 45 degrees, as a kind, and as an arrow to the upper right.
            let [right, up] = mirrored.map(|mirrored| if mirrored { -1.0 } else { 1.0 });
            let mut told = Planes::blank(TOLD, 24, 16);
            let line = if right * up > 0.0 { 3 } else { DIRECTIONS - 3 };
            for (x, y) in (0..rows).flat_map(|y| (0..cells).map(move |x| (x, y))) {
                let light = light(&planes, x, y);
                for (number, value) in [
                    (line, light),
                    (DIRECTIONS, light),
                    (FIRST_OF_END + 1, right * light),
                    (FIRST_OF_END + 4, -up * light),
                ] {
                    told.plane_mut(number)[y * 24 + x] = value;
                }
            }
            add(&mut mean, &told, mirrored);
        }
        for (x, y) in (0..rows).flat_map(|y| (0..cells).map(move |x| (x, y))) {
            let light = light(&upright, x, y);
            for (number, value) in [
                (3, light),
                (DIRECTIONS - 3, 0.0),
                (DIRECTIONS, light),
                (FIRST_OF_END + 1, light),
                (FIRST_OF_END + 4, -light),
            ] {
                assert!((mean.plane(number)[y * cells + x] - value).abs() < 1e-5, "{x} {y}, {number}");
            }
        }
    }

    /// Source: PyTorch told the same of the same picture with each of the weights (tests/outside/learn_wires.py --ask).
    #[test]
    fn what_is_seen_is_what_a_reference_library_sees() {
        #[derive(serde::Deserialize)]
        struct Asked {
            width: usize,
            height: usize,
            /// For some cells: across, down, then what is told: lines, insulation, lug, base colours, end, way (2), terminal (2).
            cells: Vec<(usize, usize, Vec<f32>)>,
        }
        for (taught, asked) in [
            (Taught::Once, include_str!("../../tests/outside/wire_sight.json")),
            (Taught::Longer, include_str!("../../tests/outside/wire_sight_longer.json")),
        ] {
            let asked: Asked = serde_json::from_str(asked).unwrap();
            let (width, height) = (asked.width, asked.height);
            // The picture is made by a formula, the same here and there.
            let value = |channel: usize, place: usize| {
                let (x, y) = (place % width, place / width);
                ((x * (3 + channel) + y * (5 - channel) + x * y / 16) % 64) as f32 / 63.0
            };
            let planes = [0, 1, 2].map(|channel| (0..width * height).map(|place| value(channel, place)).collect());
            let sight = Sight::of(&Scene { width, height, planes, scale: 1.0 }, taught, &|_| true).unwrap();
            assert_eq!((sight.width, sight.height), (width / 2, height / 2));
            for (x, y, told) in asked.cells {
                let cell = y * sight.width + x;
                let end = sight.end(cell);
                let lines = (0..DIRECTIONS).map(|direction| sight.line(cell, direction));
                let seen =
                    lines.chain([sight.insulation(cell), sight.lug(cell)]).chain(sight.letters(cell).iter().copied());
                let seen = seen.chain([end.likely, end.along[0], end.along[1], end.terminal[0], end.terminal[1]]);
                assert_eq!(seen.clone().count(), told.len());
                for (number, (seen, told)) in seen.zip(told).enumerate() {
                    // The weights there have 32 bits, here 16.
                    assert!(
                        (seen - told).abs() < 0.03 * told.abs().max(1.0),
                        "{x} {y}, {number}: {seen}, {told} there"
                    );
                }
            }
        }
    }
}
