//! Pictures whose wires are known exactly (tests/data/photos/README.md), where pins are put on them, and how far a path is off.

#![allow(dead_code, reason = "the tests and the benchmark each ask a part of it")]

use std::path::{Path, PathBuf};
use std::sync::Arc;

use serde::Deserialize;
use wirewitness::catalogue::Catalogue;
use wirewitness::machine;
use wirewitness::tracing::{Ground, PhotoPixels, PhotoPoint, PhotoTerminal, decode, read_file};

/// Every picture, easy ones first.
pub const PICTURES: [&str; 8] = [
    "dev-easy-1",
    "dev-easy-2",
    "dev-medium-1",
    "dev-medium-2",
    "pantry-locker-board-side",
    "pantry-locker-compartment",
    "dev-hard-1",
    "dev-hard-2",
];

/// What is known of a picture.
#[derive(Deserialize)]
pub struct Truth {
    pub level: String,
    pub wires: Vec<Wire>,
    pub parts: Vec<Part>,
    /// Where a person would point at something white, by the rule of `white`.
    #[serde(skip)]
    pub white: Option<PhotoPoint>,
}

/// What is known of a wire.
#[derive(Deserialize, Clone)]
pub struct Wire {
    pub id: String,
    pub base: String,
    pub tracer: Option<String>,
    pub mean_width_px: Option<f64>,
    pub in_picture: bool,
    pub visible_share: f64,
    pub ends: Vec<End>,
    pub paper_label: Option<Flag>,
    pub centre_line: Vec<(f64, f64, u8)>,
}

/// A paper flag on a wire.
#[derive(Deserialize, Clone)]
pub struct Flag {
    pub corners_px: [PhotoPoint; 4],
}

/// Where a wire ends.
#[derive(Deserialize, Clone)]
pub struct End {
    pub terminal: String,
    pub px: PhotoPoint,
    pub in_picture: bool,
}

/// A part with its terminals.
#[derive(Deserialize)]
pub struct Part {
    pub id: String,
    pub kind: String,
    pub terminals: Vec<Terminal>,
}

/// A terminal of a part.
#[derive(Deserialize)]
pub struct Terminal {
    pub id: String,
    pub px: PhotoPoint,
    pub in_picture: bool,
}

fn file_of(name: &str) -> PathBuf {
    let folder = Path::new(env!("CARGO_MANIFEST_DIR"));
    // The pictures of the demonstration machine lie beside it, named by their content.
    match name {
        "pantry-locker-board-side" => folder.join("diagrams/pantry-locker.photos").join(BOARD_SIDE),
        "pantry-locker-compartment" => folder.join("diagrams/pantry-locker.photos").join(COMPARTMENT),
        _ => folder.join("tests/data/photos").join(format!("{name}.jpg")),
    }
}

const BOARD_SIDE: &str = "cddd1f340d7281d37d4144b1970c06f5a74bd26b77be49e4a8f8e6177299f23e.jpg";
const COMPARTMENT: &str = "db60fb577c876863a5055f9f25ed0cca1d1032a9147e21af2c5e76a5ba169766.jpg";

/// A picture of the project, upright.
pub fn upright(name: &str) -> image::RgbaImage {
    decode(&read_file(&file_of(name)).unwrap()).unwrap().picture
}

/// A picture made ready, and what is known of it. `TRACE_PICTURES=folder` takes pictures and truths from elsewhere.
pub fn picture(name: &str) -> (Ground, Truth) {
    let (mut photo, mut truth) = (file_of(name), file_of("").with_file_name(format!("{name}.json")));
    if let Some(folder) = std::env::var_os("TRACE_PICTURES").map(PathBuf::from) {
        (photo, truth) = (folder.join(format!("{name}.jpg")), folder.join(format!("{name}.json")));
    }
    let decoded = decode(&read_file(&photo).unwrap()).unwrap();
    let mut truth: Truth = serde_json::from_str(&std::fs::read_to_string(truth).unwrap()).unwrap();
    truth.white = truth.white(&decoded.picture);
    (Ground::of(Arc::new(PhotoPixels::of(&decoded.picture, |_| ()))), truth)
}

/// The names of the pictures to try: those of the project, or all of `TRACE_PICTURES`.
pub fn names() -> Vec<String> {
    let Some(folder) = std::env::var_os("TRACE_PICTURES") else { return PICTURES.map(str::to_owned).to_vec() };
    let mut names: Vec<String> = std::fs::read_dir(folder)
        .unwrap()
        .filter_map(|entry| entry.ok()?.file_name().into_string().ok()?.strip_suffix(".jpg").map(str::to_owned))
        .collect();
    names.sort();
    names
}

#[allow(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "inside the picture, asked for before")]
fn whole(value: f64) -> Option<u32> {
    (0.0..60_000.0).contains(&value).then_some(value as u32)
}

fn apart(a: PhotoPoint, b: PhotoPoint) -> f64 {
    (a[0] - b[0]).hypot(a[1] - b[1])
}

impl Truth {
    /// The middle of a paper flag, by a fixed rule: of the flags whose middles are in the picture, some white, some yellow and some behind
    /// wires, the one that looks whitest, bright and without colour: the least of red, green and blue squared, by the greatest, is most.
    fn white(&self, picture: &image::RgbaImage) -> Option<PhotoPoint> {
        let flags = self.wires.iter().filter_map(|wire| wire.paper_label.as_ref());
        let middles = flags.map(|flag| [0, 1].map(|axis| flag.corners_px.iter().map(|at| at[axis]).sum::<f64>() / 4.0));
        let whiteness = |at: &PhotoPoint| {
            let mut sums = [0_u32; 3];
            for (dx, dy) in (-3..=3).flat_map(|dy| (-3..=3).map(move |dx| (dx, dy))) {
                let pixel = picture.get_pixel_checked(whole(at[0] + f64::from(dx))?, whole(at[1] + f64::from(dy))?)?;
                (0..3).for_each(|channel| sums[channel] += u32::from(pixel.0[channel]));
            }
            let (least, most) = (sums.iter().min()?, sums.iter().max()?);
            Some(least * least / (*most).max(1))
        };
        middles.filter_map(|at| Some((whiteness(&at)?, at))).max_by_key(|(white, _)| *white).map(|(_, at)| at)
    }

    /// The terminals in the picture.
    pub fn terminals(&self) -> Vec<&Terminal> {
        self.parts.iter().flat_map(|part| &part.terminals).filter(|terminal| terminal.in_picture).collect()
    }

    /// The terminals in the picture as the program asks about them, each with the ids it has here and what it holds by the program's list of
    /// parts, if that says so: a side of a strip two wires, an earth stud three. The stud is one terminal there; here it is two or three, one
    /// or two pixels apart, and which of those a wire is on nobody can see.
    pub fn as_asked(&self) -> Vec<(Vec<&str>, PhotoTerminal)> {
        let catalogue = Catalogue::built_in().unwrap();
        let holds = |kind: &str| {
            let (kind, marking) = match kind {
                "earth_stud" => ("earth-stud", "PE"),
                "terminal_strip" => ("terminal-strip", "1a"),
                _ => return 0,
            };
            let part = machine::Part { kind: kind.to_owned(), ..machine::Part::default() };
            catalogue.body(&part).terminal(marking).unwrap().holds
        };
        let mut asked = Vec::new();
        for part in &self.parts {
            let shown: Vec<&Terminal> = part.terminals.iter().filter(|terminal| terminal.in_picture).collect();
            let each = if part.kind == "earth_stud" { shown.len().max(1) } else { 1 };
            for several in shown.chunks(each) {
                let middle = |axis: usize| several.iter().map(|one| one.px[axis]).sum::<f64>() / several.len() as f64;
                let terminal = PhotoTerminal { at: [middle(0), middle(1)], holds: holds(&part.kind) };
                asked.push((several.iter().map(|one| one.id.as_str()).collect(), terminal));
            }
        }
        asked
    }

    /// Wires of which at least 70 % are visible and that run between two terminals in the picture.
    pub fn between_terminals(&self) -> Vec<&Wire> {
        let terminals = self.terminals();
        let shown = |end: &End| terminals.iter().any(|terminal| terminal.id == end.terminal);
        let wires = self.wires.iter().filter(|wire| wire.in_picture && wire.visible_share >= 0.7);
        wires.filter(|wire| wire.ends.iter().all(shown)).collect()
    }
}

impl Wire {
    /// Width in the picture.
    pub fn width(&self) -> f64 {
        self.mean_width_px.unwrap_or(0.0)
    }

    /// Base and tracer, `BK` or `BK/RD`.
    pub fn colour(&self) -> String {
        self.tracer.iter().fold(self.base.clone(), |base, tracer| format!("{base}/{tracer}"))
    }

    fn visible(&self, place: usize) -> bool {
        self.centre_line[place].2 == 1
    }

    fn at(&self, place: usize) -> PhotoPoint {
        [self.centre_line[place].0, self.centre_line[place].1]
    }

    /// Whether enough is seen to follow: ten points of the centre line, 18 mm.
    pub fn can_be_followed(&self) -> bool {
        self.in_picture && (0..self.centre_line.len()).filter(|&place| self.visible(place)).count() >= 10
    }

    /// The first and last visible points of the centre line.
    fn span(&self) -> (usize, usize) {
        let first = (0..self.centre_line.len()).find(|&place| self.visible(place)).unwrap_or(0);
        let last = (0..self.centre_line.len()).rfind(|&place| self.visible(place)).unwrap_or(0);
        (first, last)
    }

    /// Pins by a fixed rule, the least that a person would put:
    /// - one on the first and one on the last visible point;
    /// - one for each stretch hidden for more than one width of the wire: on the visible point one width behind it (nearer where
    ///   less is visible);
    /// - one for each crossing with a wire of the same base colour: in the middle of the visible points that have a visible point of the
    ///   other within one width; such stretches less than two widths apart are one;
    /// - none less than two widths from another.
    pub fn pins(&self, truth: &Truth) -> Vec<PhotoPoint> {
        let (first, last) = self.span();
        let width = self.width();
        let length =
            |from: usize, to: usize| (from..to).map(|place| apart(self.at(place), self.at(place + 1))).sum::<f64>();
        let mut places = Vec::new();
        let mut place = first;
        while place <= last {
            if self.visible(place) {
                place += 1;
                continue;
            }
            let end = (place..=last).find(|&place| self.visible(place)).unwrap_or(last);
            if length(place.saturating_sub(1), end) > width {
                let behind = (end..=last).take_while(|&at| self.visible(at)).find(|&at| length(end, at) >= width);
                places.push(behind.unwrap_or(end));
            }
            place = end;
        }
        for other in
            truth.wires.iter().filter(|other| other.id != self.id && other.base == self.base && other.in_picture)
        {
            let near = |place: &usize| {
                self.visible(*place)
                    && (0..other.centre_line.len())
                        .any(|at| other.visible(at) && apart(self.at(*place), other.at(at)) < width)
            };
            let met: Vec<usize> = (first..=last).filter(near).collect();
            let mut start = 0;
            for end in 1..=met.len() {
                if end == met.len() || length(met[end - 1], met[end]) > 2.0 * width {
                    places.push(met[(start + end - 1) / 2]);
                    start = end;
                }
            }
        }
        places.sort_unstable();
        let mut pins = vec![self.at(first)];
        let end = self.at(last);
        for place in places {
            let pin = self.at(place);
            if apart(pin, pins[pins.len() - 1]) >= 2.0 * width && apart(pin, end) >= 2.0 * width {
                pins.push(pin);
            }
        }
        pins.push(end);
        pins
    }

    /// How far a path is off.
    pub fn compare(&self, path: &[PhotoPoint]) -> Off {
        let (first, last) = self.span();
        let line: Vec<PhotoPoint> = (first..=last).map(|place| self.at(place)).collect();
        let (mut length, mut within) = (0.0, 0.0);
        let mut there = Vec::new();
        for place in first..last {
            if !self.visible(place) || !self.visible(place + 1) {
                continue;
            }
            let (a, b) = (self.at(place), self.at(place + 1));
            let piece = apart(a, b);
            let off = to_line([a[0].midpoint(b[0]), a[1].midpoint(b[1])], path);
            length += piece;
            within += if off <= self.width() / 2.0 { piece } else { 0.0 };
            there.push(off);
        }
        let mut back: Vec<f64> = path.iter().map(|&at| to_line(at, &line)).collect();
        let mean = |of: &[f64]| of.iter().sum::<f64>() / of.len().max(1) as f64;
        let most = |of: &mut Vec<f64>| {
            of.sort_by(f64::total_cmp);
            of.get((of.len() * 95 / 100).min(of.len().saturating_sub(1))).copied().unwrap_or(f64::INFINITY)
        };
        let mean_px = f64::midpoint(mean(&there), mean(&back));
        Off { length, within, mean_px, hausdorff_px: most(&mut there).max(most(&mut back)) }
    }
}

/// How far a path is off.
pub struct Off {
    /// Visible length of the wire in pixels.
    pub length: f64,
    /// The length of it that has the path within half the wire's width.
    pub within: f64,
    /// Mean distance, half from the wire to the path, half back.
    pub mean_px: f64,
    /// The distance that 95 % of the points lie within, of both ways the greater.
    pub hausdorff_px: f64,
}

fn to_line(at: PhotoPoint, line: &[PhotoPoint]) -> f64 {
    let alone = line.first().map_or(f64::INFINITY, |&first| apart(at, first));
    line.windows(2).map(|pair| to_piece(at, pair[0], pair[1])).fold(alone, f64::min)
}

fn to_piece(at: PhotoPoint, a: PhotoPoint, b: PhotoPoint) -> f64 {
    let along = [b[0] - a[0], b[1] - a[1]];
    let square = along[0] * along[0] + along[1] * along[1];
    let share = if square == 0.0 { 0.0 } else { ((at[0] - a[0]) * along[0] + (at[1] - a[1]) * along[1]) / square };
    let share = share.clamp(0.0, 1.0);
    apart(at, [a[0] + share * along[0], a[1] + share * along[1]])
}
