//! Wires followed from anywhere on them, both ways, as far as they are seen: step by step in the direction they run, straight on over what
//! crosses them.

#![allow(clippy::cast_possible_truncation, reason = "f32 is fine enough for scores between 0 and 1")]

use std::f64::consts::PI;

use super::ground::{Window, pixel};
use super::lab::Lab;
use super::look::{Few, colours_under};

/// Widths that are tried, as shares of the photo's width.
const WIDTHS: [f64; 4] = [0.0055, 0.0075, 0.010, 0.0135];
/// Seeds are tried so many pixels apart.
const GRID: usize = 5;
/// The least that both sides of a seed differ from its middle, less what the middle differs along the wire, in units of L*a*b*.
const LEAST_SEED: f32 = 8.0;
/// Colours further apart are simply different.
const CAPPED: f32 = 25.0;
/// A section scores at most 1; from this on the wire is seen.
const SEEN: f32 = 0.42;
/// What a turn of 30° costs of a section's score.
const TURN_COST: f64 = 0.12;
/// Widths that a wire is looked for beyond something that hides it.
const LONGEST_GAP: f64 = 7.0;
/// As far, in widths, as what crosses a wire commonly hides it.
const SHORT_GAP: f64 = 2.5;
/// A wire is followed for at least so many widths.
pub(super) const LEAST_LENGTH: f64 = 9.0;
const MOST_STEPS: usize = 1500;

/// The colours of a window, and what is near them.
pub(super) struct Field<'w> {
    window: &'w Window,
    lab: Vec<Lab>,
    /// Where wires may end, in pixels of the window, and how far from there their insulation does.
    terminals: &'w [[f64; 2]],
    reach: f64,
}

/// A wire as far as it was followed.
#[derive(Debug, Clone)]
pub(super) struct Chain {
    /// Middle points, about half a width apart, and whether the wire is seen there.
    pub(super) points: Vec<([f64; 2], bool)>,
    /// Width in pixels of the window.
    pub(super) wire: f64,
    pub(super) colours: Vec<Lab>,
    /// The greatest stretch that it was followed over unseen, in widths.
    pub(super) longest_gap: f64,
    /// The share of its steps at which something of its colour runs on beside it.
    pub(super) company: f64,
}

struct Seed {
    at: [f64; 2],
    heading: f64,
    wire: f64,
    score: f32,
    lab: Lab,
}

/// How a followed wire looks.
struct Like {
    few: Few,
    half: f32,
}

impl Like {
    fn at(&self, lab: Lab) -> f32 {
        1.0 / (1.0 + ((self.few.distance(lab) / self.half - 1.0) * 4.5).exp())
    }
}

impl<'w> Field<'w> {
    pub(super) fn of(window: &'w Window, terminals: &'w [[f64; 2]], reach: f64) -> Self {
        Self { window, lab: window.rgb.iter().map(|&rgb| Lab::of_srgb(rgb)).collect(), terminals, reach }
    }

    /// Whether a wire that is seen no more may have reached a terminal: one lies ahead, hardly aside.
    fn arrives(&self, at: [f64; 2], heading: f64, wire: f64) -> bool {
        self.terminals.iter().any(|terminal| {
            let (dx, dy) = (terminal[0] - at[0], terminal[1] - at[1]);
            let (ahead, aside) = (dx * heading.cos() + dy * heading.sin(), dy * heading.cos() - dx * heading.sin());
            ahead > -wire && ahead < self.reach && aside.abs() < wire + 0.35 * ahead.max(0.0)
        })
    }

    fn at(&self, x: f64, y: f64) -> Option<Lab> {
        if x < 0.0 || y < 0.0 {
            return None;
        }
        let (x, y) = (pixel(x), pixel(y));
        (x < self.window.width && y < self.window.height).then(|| self.lab[y * self.window.width + x])
    }

    /// How much of the way from the end of a wire to a terminal something runs along it that differs from what is on both sides, as lug and
    /// sleeve do whatever their colour: 0 to 1.
    pub(super) fn fitting(&self, from: [f64; 2], to: [f64; 2], wire: f64) -> f64 {
        let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
        let length = dx.hypot(dy);
        if length < wire {
            return 1.0;
        }
        let n = [-dy / length, dx / length];
        let place = |share: f64, side: f64| {
            let at = [from[0] + dx * share + n[0] * side * wire, from[1] + dy * share + n[1] * side * wire];
            self.at(at[0], at[1])
        };
        let stands_out = |share: f64| {
            let Some(middle) = place(share, 0.0) else { return 0.0 };
            let few = Few::of(&[middle]);
            let alike = [-0.3, 0.3]
                .iter()
                .filter(|side| place(share, **side).is_some_and(|lab| few.distance(lab) < 9.0))
                .count();
            let side = |sign: f64| {
                let off = |by: f64| place(share, sign * by).map_or(0.0, |lab| few.distance(lab).min(CAPPED));
                off(1.0).max(off(1.4))
            };
            f64::from(side(-1.0).min(side(1.0)) / CAPPED) * (0.5 + 0.25 * alike as f64)
        };
        (0..9).map(|step| stands_out(0.05 + 0.08 * f64::from(step))).sum::<f64>() / 9.0
    }

    /// Every wire that can be followed for a while, the clearest first.
    pub(super) fn chains(&self, progress: &(dyn Fn(f64) -> bool + Sync)) -> Vec<Chain> {
        let seeds = self.seeds();
        let mut chains: Vec<Chain> = Vec::new();
        for (number, seed) in seeds.iter().enumerate() {
            if !progress(number as f64 / seeds.len().max(1) as f64) {
                break;
            }
            let taken = chains.iter().any(|chain| chain.has(seed.at, seed.lab));
            if !taken && let Some(chain) = self.chain(seed) {
                chains.push(chain);
            }
        }
        chains
    }

    /// Places where a tube of one colour lies, the clearest first.
    fn seeds(&self) -> Vec<Seed> {
        let mut seeds = Vec::new();
        for y in (GRID..self.window.height.saturating_sub(GRID)).step_by(GRID) {
            for x in (GRID..self.window.width.saturating_sub(GRID)).step_by(GRID) {
                let lab = self.lab[y * self.window.width + x];
                let at = [x as f64 + 0.5, y as f64 + 0.5];
                let few = Few::of(&[lab]);
                let best = WIDTHS
                    .iter()
                    .flat_map(|share| (0..8).map(move |turn| (share, f64::from(turn) * PI / 8.0)))
                    .filter_map(|(share, heading)| {
                        let wire = share * self.window.width as f64;
                        let score = self.tube(&few, at, heading, wire)?;
                        (score > LEAST_SEED).then_some(Seed { at, heading, wire, score, lab })
                    })
                    .max_by(|a, b| a.score.total_cmp(&b.score));
                seeds.extend(best);
            }
        }
        seeds.sort_by(|a, b| b.score.total_cmp(&a.score));
        seeds
    }

    /// How much both sides of a straight piece differ from it, less what it differs in itself.
    fn tube(&self, few: &Few, at: [f64; 2], heading: f64, wire: f64) -> Option<f32> {
        let (dy, dx) = heading.sin_cos();
        let off = |along: f64, side: f64| {
            let lab = self.at(at[0] + dx * along - dy * side, at[1] + dy * along + dx * side)?;
            Some(few.distance(lab).min(CAPPED))
        };
        let mut inside = 0.0;
        for along in [-2.0, -1.0, 1.0, 2.0] {
            inside += off(along * wire, 0.0)?;
        }
        // Nor is the edge between two areas a wire: to both sides of its middle it is still the same.
        for (along, side) in [(-0.7, -0.3), (-0.7, 0.3), (0.7, -0.3), (0.7, 0.3)] {
            inside += off(along * wire, side * wire)?;
        }
        let mut beside = 0.0;
        for along in [-1.5, 0.0, 1.5] {
            beside += off(along * wire, wire)?.min(off(along * wire, -wire)?);
        }
        Some(beside / 3.0 - inside / 8.0)
    }

    fn chain(&self, seed: &Seed) -> Option<Chain> {
        let colours = colours_under(self.window, seed.at, (seed.wire * 0.45).max(2.0));
        let like = Like { few: Few::of(&colours), half: (0.5 * (seed.score + 4.0)).clamp(5.0, 13.0) };
        let start = self.centred(&like, seed.at, seed.heading, seed.wire);
        let ahead = self.follow(&like, start, seed.heading, seed.wire);
        let back = self.follow(&like, start, seed.heading + PI, seed.wire);
        let mut points: Vec<([f64; 2], bool)> = back.points.into_iter().rev().collect();
        points.push((start, true));
        points.extend(ahead.points);
        let seen = points.iter().filter(|(_, seen)| *seen).count();
        let length = seen as f64 * 0.5;
        (length >= LEAST_LENGTH).then(|| Chain {
            wire: seed.wire,
            colours,
            longest_gap: ahead.longest_gap.max(back.longest_gap),
            company: (ahead.company + back.company) as f64 / seen as f64,
            points,
        })
    }

    /// How well the wire fills the section at a place: likeness within, less what there is of it on both sides.
    fn section(&self, like: &Like, at: [f64; 2], heading: f64, wire: f64) -> f32 {
        let (dy, dx) = heading.sin_cos();
        let of =
            |side: f64| self.at(at[0] - dy * side * wire, at[1] + dx * side * wire).map_or(0.0, |lab| like.at(lab));
        let inside = [-0.35, -0.18, 0.0, 0.18, 0.35].iter().map(|&side| of(side)).sum::<f32>() / 5.0;
        // One side may have a neighbour of the colour; an area has it on both.
        let beside = [-1.0, 1.0].map(|side| of(side).max(of(0.85 * side)));
        inside - 0.8 * beside[0].min(beside[1]) - 0.15 * beside[0].max(beside[1])
    }

    /// The middle of the wire near a place, by the weight of likeness across.
    fn centred(&self, like: &Like, at: [f64; 2], heading: f64, wire: f64) -> [f64; 2] {
        let (dy, dx) = heading.sin_cos();
        let (mut sum, mut weight) = (0.0, 0.0);
        for step in -6..=6 {
            let side = f64::from(step) / 10.0 * wire;
            let value = self.at(at[0] - dy * side, at[1] + dx * side).map_or(0.0, |lab| f64::from(like.at(lab)));
            sum += side * value;
            weight += value;
        }
        let side = if weight > 1.0 { sum / weight } else { 0.0 };
        [at[0] - dy * side, at[1] + dx * side]
    }

    fn follow(&self, like: &Like, start: [f64; 2], heading: f64, wire: f64) -> Followed {
        let mut followed = Followed { points: Vec::new(), longest_gap: 0.0, company: 0 };
        let step = 0.5 * wire;
        let (mut at, mut heading) = (start, heading);
        for _ in 0..MOST_STEPS {
            let mut best = (f32::NEG_INFINITY, 0.0);
            for turn in -5..=5 {
                let turn = f64::from(turn) * PI / 30.0;
                let (dy, dx) = (heading + turn).sin_cos();
                let ahead = [0.5, 1.0, 1.5].map(|by| {
                    self.section(like, [at[0] + dx * by * wire, at[1] + dy * by * wire], heading + turn, wire)
                });
                let score = ahead.iter().sum::<f32>() / 3.0 - (TURN_COST * (turn / (PI / 6.0)).powi(2)) as f32;
                if score > best.0 {
                    best = (score, turn);
                }
            }
            if best.0 >= SEEN {
                heading += best.1;
                let (dy, dx) = heading.sin_cos();
                let next = self.centred(like, [at[0] + dx * step, at[1] + dy * step], heading, wire);
                followed.company += usize::from(self.company(like, next, heading, wire));
                at = next;
                followed.points.push((at, true));
                if self.at(at[0], at[1]).is_none() {
                    break;
                }
                continue;
            }
            let Some((to, new_heading, gap)) = self.beyond(like, at, heading, wire) else { break };
            // Beyond a short gap it is surely the same wire; beyond a long one another of its colour may begin.
            if gap > SHORT_GAP * wire && self.arrives(at, heading, wire) {
                break;
            }
            let pieces = (gap / step).ceil().max(1.0);
            for piece in 1..=pixel(pieces) {
                let share = piece as f64 / pieces;
                let point = [0, 1].map(|axis| at[axis] + share * (to[axis] - at[axis]));
                followed.points.push((point, piece == pixel(pieces)));
            }
            followed.longest_gap = followed.longest_gap.max(gap / wire);
            (at, heading) = (to, new_heading);
            // Round and round: a loop of its own colour.
            if followed
                .points
                .iter()
                .rev()
                .skip(20)
                .any(|(other, _)| (other[0] - at[0]).hypot(other[1] - at[1]) < 0.3 * wire)
            {
                break;
            }
        }
        // What is beyond the last sight of it is not the wire.
        while followed.points.last().is_some_and(|(_, seen)| !seen) {
            followed.points.pop();
        }
        followed
    }

    /// Whether something of the wire's colour runs on a width and a half beside it.
    fn company(&self, like: &Like, at: [f64; 2], heading: f64, wire: f64) -> bool {
        let (dy, dx) = heading.sin_cos();
        [-1.6, -1.2, 1.2, 1.6].iter().any(|side| {
            self.at(at[0] - dy * side * wire, at[1] + dx * side * wire).is_some_and(|lab| like.at(lab) > 0.6)
        })
    }

    /// Where the wire is seen again beyond a gap, its heading there, and how far that is.
    fn beyond(&self, like: &Like, at: [f64; 2], heading: f64, wire: f64) -> Option<([f64; 2], f64, f64)> {
        let mut gap = 1.0;
        while gap <= LONGEST_GAP {
            let mut best: Option<(f32, [f64; 2], f64)> = None;
            for off in -6..=6 {
                // Further sideways only as far as a wire bends in that length.
                let bend = f64::from(off) / 6.0 * 0.35;
                let (dy, dx) = (heading + bend).sin_cos();
                let place = [at[0] + dx * gap * wire, at[1] + dy * gap * wire];
                for turn in -2..=2 {
                    let there = heading + 1.5 * bend + f64::from(turn) * PI / 16.0;
                    let (dy, dx) = there.sin_cos();
                    let run = [0.0, 0.7, 1.4, 2.1].map(|by| {
                        self.section(like, [place[0] + dx * by * wire, place[1] + dy * by * wire], there, wire)
                    });
                    let least = run.iter().copied().fold(f32::INFINITY, f32::min);
                    let score = least - (bend.abs() * 0.4) as f32 - (f64::from(turn).abs() * 0.04) as f32;
                    if least > 0.8 * SEEN && best.is_none_or(|(most, ..)| score > most) {
                        best = Some((score, place, there));
                    }
                }
            }
            if let Some((_, place, there)) = best {
                return Some((self.centred(like, place, there, wire), there, gap * wire));
            }
            gap += 0.5;
        }
        None
    }
}

struct Followed {
    points: Vec<([f64; 2], bool)>,
    longest_gap: f64,
    company: usize,
}

impl Chain {
    /// Whether a place of a colour is on this wire.
    fn has(&self, at: [f64; 2], lab: Lab) -> bool {
        let near = |point: &([f64; 2], bool)| {
            (point.0[0] - at[0]).abs() < self.wire && (point.0[0] - at[0]).hypot(point.0[1] - at[1]) < 0.8 * self.wire
        };
        self.points.iter().any(near) && Few::of(&self.colours).distance(lab) < 30.0
    }

    /// The share that is not seen.
    pub(super) fn hidden(&self) -> f64 {
        self.points.iter().filter(|(_, seen)| !seen).count() as f64 / self.points.len().max(1) as f64
    }

    /// Both ends with the headings that lead out of the wire.
    pub(super) fn ends(&self) -> [([f64; 2], f64); 2] {
        let heading = |from: usize, to: usize| {
            let (a, b) = (self.points[from].0, self.points[to].0);
            (b[1] - a[1]).atan2(b[0] - a[0])
        };
        let last = self.points.len().saturating_sub(1);
        let back = 5.min(last);
        [(self.points[0].0, heading(back, 0)), (self.points[last].0, heading(last - back, last))]
    }
}
