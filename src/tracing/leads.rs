//! Where wires may leave a terminal: out of it, or out of the sleeve of a lug that points away from it.

use super::joins::{Heading, Net, back, colour_cost, turn};
use super::look::Few;
use super::scene::Scene;
use super::tubes::{Tube, apart};

/// Lug and sleeve are at most so long, as a share of the longer edge of the photo.
const FITTING: f64 = 0.07;
/// A wire without lug begins within so many widths of its terminal.
const CONTACT: f64 = 1.8;
/// The angle, in radians, that a wire or a sleeve commonly points off its terminal, and more than which it does not.
const OFF_LINE: f64 = 0.2;
const FAR_OFF: f64 = 0.9;
/// A sleeve points to its terminal: so many of its widths aside at most.
const ASIDE: f64 = 0.5;
/// From the middle of a sleeve's piece to the wire it is at most so many widths, and the wire turns no more there.
const OUT_OF_SLEEVE: f64 = 2.5;
const TURN: f64 = 0.7;
/// What it costs that no sleeve is seen.
const DIRECT: f64 = 0.8;
/// Wires leave a row of terminals square to it, give or take so many radians.
const SQUARE: f64 = 0.15;
/// Costs up to this are looked at.
const MOST_COST: f64 = 6.0;

/// A wire that may leave a terminal.
#[derive(Debug, Clone, Copy)]
pub(super) struct Lead {
    pub(super) heading: Heading,
    pub(super) cost: f64,
}

/// All pieces near a terminal at which its wire may begin, the likeliest first.
pub(super) fn leads(scene: &Scene, net: &Net, terminals: &[[f64; 2]], which: usize) -> Vec<Lead> {
    let Some(&terminal) = terminals.get(which) else { return Vec::new() };
    let row = row(terminals, terminal);
    let reach = FITTING * scene.width.max(scene.height) as f64;
    let mut leads: Vec<Lead> = Vec::new();
    let mut add = |heading: Heading, line: f64| {
        if line >= MOST_COST {
            return;
        }
        let tube = net.tube(heading);
        let cost = line
            + 0.6 * runs_before(net, heading).max(goes_on(net, heading))
            + 0.3 * f64::from(1.0 - (tube.score / 8.0).min(1.0));
        if cost < MOST_COST {
            leads.push(Lead { heading, cost });
        }
    };
    for (number, tube) in net.tubes.iter().enumerate() {
        let way = [tube.at[0] - terminal[0], tube.at[1] - terminal[1]];
        let far = way[0].hypot(way[1]);
        if far.is_nan() || far > reach {
            continue;
        }
        for heading in [2 * number, 2 * number + 1] {
            let off = turn(way, net.along(heading)).abs();
            if far < CONTACT * tube.width {
                add(heading, 0.1 + 0.5 * (far / tube.width).powi(2));
            }
            if off > FAR_OFF {
                continue;
            }
            // Lugs stand square to a row of terminals, and the wire bends where it leaves them; elsewhere it points to its terminal.
            let points = match row {
                Some(row) => {
                    let along = (way[0] * row[0] + way[1] * row[1]).abs() / far.max(1.0);
                    0.5 * (along.min(1.0).asin() / SQUARE).powi(2) + 0.15 * (off / OFF_LINE).powi(2)
                }
                None => 0.5 * (off / OFF_LINE).powi(2),
            };
            let lug = 1.5 * (1.0 - stands_out(scene, terminal, tube.at, tube.width));
            add(heading, DIRECT + points + lug);
            let aside = far * off.sin() / tube.width;
            if aside > ASIDE || far < 1.2 * tube.width || far > 4.5 * tube.width || tube.score < 8.0 {
                continue;
            }
            let sleeve = 0.2 + points + aside * aside + 0.7 * lug;
            if far > 0.85 * reach {
                continue;
            }
            for (out, bend) in net.out_of(heading, OUT_OF_SLEEVE, TURN) {
                add(out, sleeve + 0.4 * bend);
            }
        }
    }
    leads.sort_by(|a, b| a.cost.total_cmp(&b.cost).then(a.heading.cmp(&b.heading)));
    leads.dedup_by_key(|lead| lead.heading);
    leads
}

/// How far, in widths up to 5, the wire surely goes on behind where it is said to begin.
fn runs_before(net: &Net, heading: Heading) -> f64 {
    let here = net.tube(heading);
    let few = Few::of(&[here.lab]);
    let chain = net.chain(back(heading), 12);
    let alike = |tube: &&Tube| few.distance(tube.lab) < 10.0 && (tube.width / here.width).ln().abs() < 0.5;
    let last = chain.iter().map(|at| net.tube(*at)).take_while(alike).last();
    last.map_or(0.0, |tube| (tube.at[0] - here.at[0]).hypot(tube.at[1] - here.at[1]) / here.width).min(5.0)
}

/// As much as if so many widths went on behind, when another run of the same wire does beyond something that hides it.
fn goes_on(net: &Net, heading: Heading) -> f64 {
    let here = net.tube(heading);
    let few = Few::of(&[here.lab]);
    let on = net.joins[back(heading)].iter().filter(|join| f64::from(net.ahead(join.to)) > 4.0);
    let cost = on.map(|join| f64::from(join.cost) + colour_cost(f64::from(few.distance(net.tube(join.to).lab))));
    5.0 - (cost.fold(f64::INFINITY, f64::min) * 1.6).min(5.0)
}

/// How much of the way from a terminal to a wire something runs along it that differs from what is on both sides, as lug and sleeve do
/// whatever their colour: 0 to 1.
fn stands_out(scene: &Scene, from: [f64; 2], to: [f64; 2], width: f64) -> f64 {
    let (dx, dy) = (to[0] - from[0], to[1] - from[1]);
    let length = dx.hypot(dy).max(1.0);
    let across = [-dy / length * width, dx / length * width];
    let steps = [0.2, 0.3, 0.4, 0.5, 0.6, 0.7, 0.8, 0.9];
    let sum: f64 = steps
        .iter()
        .map(|share| {
            let place = |side: f64| {
                scene.at([from[0] + dx * share + across[0] * side, from[1] + dy * share + across[1] * side])
            };
            let middle = place(0.0);
            let side = |sign: f64| apart(middle, place(sign * 1.1)).max(apart(middle, place(sign * 1.5)));
            f64::from((side(-1.0).min(side(1.0)) / 20.0).min(1.0))
        })
        .sum();
    sum / steps.len() as f64
}

/// The direction of the row of four or more evenly spaced terminals that a terminal stands in.
fn row(terminals: &[[f64; 2]], at: [f64; 2]) -> Option<[f64; 2]> {
    let apart = |a: [f64; 2], b: [f64; 2]| (a[0] - b[0]).hypot(a[1] - b[1]);
    let others = terminals.iter().filter(|other| apart(**other, at) > 1.0);
    let mut near: Vec<[f64; 2]> = others.copied().collect();
    near.sort_by(|a, b| apart(*a, at).total_cmp(&apart(*b, at)));
    let there = |place: [f64; 2], pitch: f64| near.iter().any(|other| apart(*other, place) < 0.25 * pitch);
    near.iter().take(3).find_map(|next| {
        let step = [next[0] - at[0], next[1] - at[1]];
        let pitch = step[0].hypot(step[1]);
        let count = |sign: f64| {
            (1..4)
                .take_while(|times| there([0, 1].map(|axis| at[axis] + sign * f64::from(*times) * step[axis]), pitch))
                .count()
        };
        (count(1.0) + count(-1.0) >= 3).then(|| step.map(|value| value / pitch))
    })
}
