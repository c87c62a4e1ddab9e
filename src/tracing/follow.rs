//! Following one wire: pins are put on it, and the way from the last pin to the pointer is there at once.

use super::centre::{PathPoint, centred, centred_at, fine_level, normal};
use super::cost::{Costs, costs};
use super::ground::{Ground, PhotoPoint, pixel};
use super::lab::Lab;
use super::look::{APART, Few, Look, colours_under};
use super::strip::Strip;
use super::suggest::{Suggestion, suggestion};
use super::surface::{Asked, Surface};
use super::tree::Tree;
use super::width::{width_along, width_at};

/// The way to the pointer is looked at closely for so many pixels of the close level before the pointer; the rest is the rough way.
const CLOSE_PX: f64 = 500.0;

/// A path's end lands on a terminal within so many widths of the wire.
const LANDS_WITHIN: f64 = 4.0;
/// What is nearer than this to a colour under a pin is the wire, and what is nearer to what lies beside it shows between wires; in L*a*b*.
const OWN: f32 = 20.0;
const LIKE_BESIDE: f32 = 12.0;
/// The share of a path with its like beside it from which colour alone does not lead.
const MUCH_COMPANY: f64 = 0.2;

/// A path along a wire.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Path {
    /// Points from the first pin on, about a third of the wire's width apart where it was looked at closely.
    pub points: Vec<PathPoint>,
}

/// The kernel that costs are measured with, against the width of the wire: its shaded edges are left out.
const KERNEL: f64 = 0.65;
/// By how much a wire is wider, both its colours known, before it counts.
const WIDER: f64 = 1.12;
/// Lightness and chroma up to which a pixel shows no colour, where the photo has better ones.
const UNLIT: f32 = 6.0;

/// A wire being followed on a photo. Made and added to beside the window (tens of milliseconds a pin); asked in a frame.
#[derive(Debug, Clone)]
pub struct Follower {
    ground: Ground,
    pins: Vec<PhotoPoint>,
    colours: Vec<Lab>,
    look: Look,
    wire_px: f64,
    costs: Costs,
    tree: Tree,
    /// The path through the pins.
    path: Vec<PathPoint>,
}

impl Follower {
    /// Starts at a pin on the wire.
    pub fn start(ground: &Ground, pin: PhotoPoint) -> Self {
        Self::through(ground, &[pin])
    }

    /// Pins in their order along the wire.
    pub fn through(ground: &Ground, pins: &[PhotoPoint]) -> Self {
        let size = ground.size_px();
        let pins: Vec<PhotoPoint> = pins
            .iter()
            .map(|pin| [0, 1].map(|axis| pin[axis].clamp(0.0, f64::from(size[axis].saturating_sub(1)) + 0.5)))
            .collect();
        let first = Self::with_width(ground, pins, width_at, &[]);
        let along = width_along(ground, &first.colours, first.wire_px, &first.path);
        // Another width counts where the first was not near enough.
        let width = along.filter(|width| (width / first.wire_px).ln().abs() > 0.12);
        // Pins may show only one colour of a wire that has a tracer.
        let surface = Surface::of(ground, &first.path, along.unwrap_or(first.wire_px), [1.0; 3], Asked::Tones);
        let tones = surface.map(Surface::two_tones).unwrap_or_default();
        let mut follower = if width.is_some() || !tones.is_empty() {
            let width = width.unwrap_or(first.wire_px);
            // With both colours known, the wire may be wider than the one under the pins.
            let both: Vec<Lab> = first.colours.iter().chain(&tones).copied().collect();
            let again = if tones.is_empty() { None } else { width_along(ground, &both, width, &first.path) };
            let width = again.filter(|&again| again > WIDER * width).unwrap_or(width);
            Self::with_width(ground, first.pins, |_, _| width, &tones)
        } else {
            first
        };
        if let Some(&last) = follower.pins.last() {
            let root = follower.coarse_pixel(last);
            follower.tree = Tree::of(follower.costs.width, follower.costs.height, &follower.costs.cost, root, None);
        }
        follower
    }

    fn with_width(
        ground: &Ground,
        pins: Vec<PhotoPoint>,
        width: impl Fn(&Ground, &[PhotoPoint]) -> f64,
        tones: &[Lab],
    ) -> Self {
        let wire_px = width(ground, &pins);
        let colours = colours_at(ground, &pins, wire_px);
        let by_pin: Vec<Vec<Lab>> = colours
            .into_iter()
            .map(|mut pin| {
                pin.extend(tones);
                pin
            })
            .collect();
        let colours: Vec<Lab> = by_pin.iter().flatten().copied().collect();
        let look = Look::of(&by_pin, beside_at(ground, &pins, &colours, wire_px));
        let scale = ground.scale(ground.coarse());
        let costs = costs(&ground.whole, &look, KERNEL * wire_px / f64::midpoint(scale[0], scale[1]));
        let mut follower = Self {
            ground: ground.clone(),
            tree: Tree::of(0, 0, &[], [0, 0], None),
            path: Vec::new(),
            pins,
            colours,
            look,
            wire_px,
            costs,
        };
        let mut rough = Vec::new();
        for pair in follower.pins.windows(2) {
            let (from, to) = (follower.coarse_pixel(pair[0]), follower.coarse_pixel(pair[1]));
            let tree = Tree::of(follower.costs.width, follower.costs.height, &follower.costs.cost, from, Some(to));
            rough.extend(follower.on_photo(&tree.way(to)));
        }
        follower.path = centred_at(&follower.ground, &follower.look, follower.wire_px, &rough, &follower.pins);
        follower
    }

    /// The same with one more pin.
    pub fn with_pin(&self, pin: PhotoPoint) -> Self {
        let mut pins = self.pins.clone();
        pins.push(pin);
        Self::through(&self.ground, &pins)
    }

    /// The pins, in their order.
    pub fn pins(&self) -> &[PhotoPoint] {
        &self.pins
    }

    /// The wire's width in pixels of the photo.
    pub fn width_px(&self) -> f64 {
        self.wire_px
    }

    /// What colour the wire has, by its path; `grey` is a place on something grey or white.
    pub fn colour(&self, grey: Option<PhotoPoint>) -> Option<Suggestion> {
        suggestion(&self.ground, &self.path, self.wire_px, grey)
    }

    /// What a step on each pixel of the whole level costs, row by row, and how many pixels a row has.
    pub fn prices(&self) -> (usize, &[u8]) {
        (self.costs.width, &self.costs.cost)
    }

    /// The path through the pins.
    pub fn path(&self) -> Path {
        Path { points: self.path.clone() }
    }

    /// The path through the pins with its ends on terminals, where one lies within four widths of the wire; from insulation to terminal it is
    /// not seen.
    pub fn path_between(&self, terminals: &[PhotoPoint]) -> Path {
        let mut points = self.path.clone();
        let near = |at: PhotoPoint| {
            let far = |terminal: &PhotoPoint| (terminal[0] - at[0]).hypot(terminal[1] - at[1]);
            let nearest = terminals.iter().min_by(|a, b| far(a).total_cmp(&far(b)))?;
            (far(nearest) <= LANDS_WITHIN * self.wire_px).then_some(PathPoint { at: *nearest, seen: false })
        };
        let ends = [points.first().and_then(|point| near(point.at)), points.last().and_then(|point| near(point.at))];
        if let Some(first) = ends[0] {
            points.insert(0, first);
        }
        points.extend(ends[1]);
        Path { points }
    }

    /// The share of the path's seen part that has something of the wire's own colour running beside it, 0 to 1.
    pub fn company(&self) -> f64 {
        let level = self.ground.coarse();
        let line: Vec<[f64; 2]> = self.path.iter().map(|point| self.ground.on_level(level, point.at)).collect();
        let wire = self.wire_px / self.ground.scale(level)[0];
        let (mut seen, mut beside) = (0.0, 0.0);
        for (place, _) in self.path.iter().enumerate().filter(|(_, point)| point.seen) {
            let (at, n) = (line[place], normal(&line, place));
            let like = |by: f64| {
                let [x, y] = [0, 1].map(|axis| pixel((at[axis] + n[axis] * by * wire).max(0.0)));
                x < self.costs.width && y < self.costs.height && self.costs.like_at([x, y]) > 150
            };
            seen += 1.0;
            // Near ones too: two wires that touch nearly are easily taken for one.
            beside += if [-1.6, -1.1, -0.85, 0.85, 1.1, 1.6].into_iter().any(like) { 1.0 } else { 0.0 };
        }
        let beside = if seen > 0.0 { beside / seen } else { 0.0 };
        self.parted().max(beside)
    }

    /// The share of the path's seen part in which what lies beside the wire shows inside it as well: then it is several, taken for one.
    fn parted(&self) -> f64 {
        let far = |a: Lab, b: Lab| (a.l - b.l).hypot((a.a - b.a).hypot(a.b - b.b));
        let half = 0.5 * self.wire_px;
        let strip = Strip::of(&self.ground, &self.path, self.wire_px, half + 4.0, 1.0);
        let (mut seen, mut parted) = (0.0, 0.0);
        for (number, _) in strip.seen.iter().enumerate().filter(|(_, seen)| **seen) {
            let section = strip.section(number);
            let (Some(&first), Some(&last)) = (section.first(), section.last()) else { continue };
            // 'Beside' is told from the wire, or it says nothing.
            let is_wire = |at: Lab| self.colours.iter().any(|colour| far(*colour, at) < OWN);
            let is_beside = |at: Lab| !is_wire(at) && (far(at, first) < LIKE_BESIDE || far(at, last) < LIKE_BESIDE);
            let inside = |at: &&Lab| is_wire(**at) || is_beside(**at);
            let kinds: Vec<bool> = section[4..section.len() - 4].iter().filter(inside).map(|at| is_wire(*at)).collect();
            let pieces = kinds.chunk_by(|a, b| a == b).filter(|piece| piece[0] && piece.len() > 1).count();
            seen += 1.0;
            parted += if pieces > 1 { 1.0 } else { 0.0 };
        }
        if seen > 0.0 { parted / seen } else { 0.0 }
    }

    /// What a person should know before trusting the path: where wires of one colour lie side by side, colour cannot lead.
    pub fn caution(&self) -> Option<&'static str> {
        (self.company() > MUCH_COMPANY).then_some(
            "other wires of its colour lie beside it: put a pin on the wire at each crossing, else the path may go over to a neighbour",
        )
    }

    /// The path from the last pin to the pointer.
    pub fn path_to(&self, pointer: PhotoPoint) -> Path {
        let size = self.ground.size_px();
        let pointer = [0, 1].map(|axis| pointer[axis].clamp(0.0, f64::from(size[axis].saturating_sub(1)) + 0.5));
        let rough = self.on_photo(&self.tree.way(self.coarse_pixel(pointer)));
        let close = CLOSE_PX * self.ground.scale(fine_level(&self.ground, self.wire_px))[0];
        let mut length = 0.0;
        let from = rough.windows(2).rposition(|pair| {
            length += (pair[1][0] - pair[0][0]).hypot(pair[1][1] - pair[0][1]);
            length > close
        });
        let from = from.unwrap_or(0);
        let mut points: Vec<PathPoint> = rough[..from]
            .iter()
            .map(|&at| PathPoint { at, seen: self.costs.like_at(self.coarse_pixel(at)) > 127 })
            .collect();
        points.extend(centred(&self.ground, &self.look, self.wire_px, &rough[from..]));
        Path { points }
    }

    fn coarse_pixel(&self, at: PhotoPoint) -> [usize; 2] {
        let at = self.ground.on_level(self.ground.coarse(), at);
        [
            pixel(at[0].max(0.0)).min(self.costs.width.saturating_sub(1)),
            pixel(at[1].max(0.0)).min(self.costs.height.saturating_sub(1)),
        ]
    }

    fn on_photo(&self, way: &[[usize; 2]]) -> Vec<PhotoPoint> {
        let scale = self.ground.scale(self.ground.coarse());
        way.iter().map(|at| [0, 1].map(|axis| (at[axis] as f64 + 0.5) * scale[axis])).collect()
    }
}

impl Costs {
    fn like_at(&self, [x, y]: [usize; 2]) -> u8 {
        self.like.get(y * self.width + x).copied().unwrap_or(0)
    }
}

/// The colours under all pins.
///
/// The lesser colours of a patch count when another pin has them too, or when there are too few pins to tell: a tracer shows again,
/// the edge of a sleeve does not.
fn colours_at(ground: &Ground, pins: &[PhotoPoint], wire_px: f64) -> Vec<Vec<Lab>> {
    let level = fine_level(ground, wire_px);
    let wire = wire_px / ground.scale(level)[0];
    let patches: Vec<Vec<Lab>> = pins
        .iter()
        .map(|&pin| {
            let at = ground.on_level(level, pin);
            let window = ground.window(level, at.map(|v| v - wire - 2.0), at.map(|v| v + wire + 2.0));
            colours_under(&window, at, (wire * 0.35).max(2.6))
        })
        .collect();
    // Under no light all wires are alike.
    let lit = |lab: &Lab| lab.l > UNLIT || lab.chroma() > UNLIT;
    let any_lit = patches.iter().filter(|patch| patch.iter().any(lit)).count() > 1;
    let patches: Vec<Vec<Lab>> = patches
        .into_iter()
        .map(|patch| if any_lit { patch.into_iter().filter(lit).collect() } else { patch })
        .collect();
    let mut colours = Vec::new();
    for (place, patch) in patches.iter().enumerate() {
        let others: Vec<Lab> = patches
            .iter()
            .enumerate()
            .filter(|(other, _)| *other != place)
            .flat_map(|(_, patch)| patch.clone())
            .collect();
        let others = Few::of(&others);
        let kept: Vec<Lab> = patch
            .iter()
            .enumerate()
            .filter(|(number, lab)| *number == 0 || patches.len() < 3 || others.distance(**lab) < APART)
            .map(|(_, lab)| *lab)
            .collect();
        colours.push(kept);
    }
    colours
}

/// How far the colours beside the wire are from its own: the median over the pins of the lower third of a ring.
fn beside_at(ground: &Ground, pins: &[PhotoPoint], colours: &[Lab], wire_px: f64) -> f32 {
    let few = Few::of(colours);
    let scale = ground.scale(ground.coarse())[0];
    let mut all: Vec<f32> = pins
        .iter()
        .map(|&pin| {
            let at = ground.on_level(ground.coarse(), pin);
            let mut ring: Vec<f32> = (0..24)
                .filter_map(|step| {
                    let (dy, dx) = (f64::from(step) * std::f64::consts::TAU / 24.0).sin_cos();
                    let reach = 1.3 * wire_px / scale;
                    ground.whole.at(at[0] + dx * reach, at[1] + dy * reach)
                })
                .map(|rgb| few.distance(Lab::of_srgb(rgb)))
                .collect();
            ring.sort_by(f32::total_cmp);
            ring.get(ring.len() / 2).copied().unwrap_or(30.0)
        })
        .collect();
    all.sort_by(f32::total_cmp);
    all.get(all.len() / 2).copied().unwrap_or(30.0)
}
