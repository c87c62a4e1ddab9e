//! Where lines of one net meet, and where lines of two nets cross.

use std::collections::{BTreeMap, BTreeSet};

use crate::machine::Point;

use super::board::{Line, Put};

/// Micrometres: places are compared in whole numbers.
#[allow(clippy::cast_possible_truncation, reason = "a drawing is a few metres at most")]
fn whole(mm: f64) -> i64 {
    (mm * 1000.0).round() as i64
}

const RIGHT: u8 = 1;
const DOWN: u8 = 2;
const LEFT: u8 = 4;
const UP: u8 = 8;

/// Lines of one net along one level or upright, each from where to where.
type Tracks = BTreeMap<(usize, i64), Vec<(i64, i64)>>;

/// Every point where three or four lines of one net meet: a dot is drawn there. With the nets.
pub(super) fn dots(lines: &[Line], puts: &[(Put, [usize; 2])]) -> Vec<(usize, Point)> {
    let mut at: BTreeMap<(usize, i64, i64), (u8, Point)> = BTreeMap::new();
    let mut add = |net: usize, point: Point, way: u8| {
        at.entry((net, whole(point.x), whole(point.y))).or_insert((0, point)).0 |= way;
    };
    let (mut level, mut upright) = (Tracks::new(), Tracks::new());
    for line in lines {
        if whole(line.a.y) == whole(line.b.y) {
            let (left, right) = if line.a.x < line.b.x { (line.a, line.b) } else { (line.b, line.a) };
            add(line.net, left, RIGHT);
            add(line.net, right, LEFT);
            level.entry((line.net, whole(left.y))).or_default().push((whole(left.x), whole(right.x)));
        } else {
            let (top, bottom) = if line.a.y < line.b.y { (line.a, line.b) } else { (line.b, line.a) };
            add(line.net, top, DOWN);
            add(line.net, bottom, UP);
            upright.entry((line.net, whole(top.x))).or_default().push((whole(top.y), whole(bottom.y)));
        }
    }
    for (put, nets) in puts {
        let [first, second] = put.tips();
        let ways = if put.upright { (DOWN, UP) } else { (RIGHT, LEFT) };
        add(nets[0], first, ways.0);
        add(nets[1], second, ways.1);
    }
    let inside = |tracks: &Tracks, net: usize, along: i64, across: i64| {
        tracks.get(&(net, along)).is_some_and(|all| all.iter().any(|&(from, to)| from < across && across < to))
    };
    at.into_iter()
        .filter_map(|((net, x, y), (mut ways, point))| {
            if inside(&level, net, y, x) {
                ways |= LEFT | RIGHT;
            }
            if inside(&upright, net, x, y) {
                ways |= UP | DOWN;
            }
            (ways.count_ones() >= 3).then_some((net, point))
        })
        .collect()
}

/// How often lines of two nets cross.
pub(super) fn crossings(lines: &[Line]) -> usize {
    let mut upright: Vec<(i64, i64, i64, usize)> = Vec::new();
    let mut level: Vec<(i64, i64, i64, usize)> = Vec::new();
    for line in lines {
        let (ax, ay, bx, by) = (whole(line.a.x), whole(line.a.y), whole(line.b.x), whole(line.b.y));
        if ay == by {
            level.push((ay, ax.min(bx), ax.max(bx), line.net));
        } else {
            upright.push((ax, ay.min(by), ay.max(by), line.net));
        }
    }
    upright.sort_unstable();
    let mut found = BTreeSet::new();
    for (y, left, right, net) in level {
        let from = upright.partition_point(|entry| entry.0 <= left);
        let crossed = upright.iter().skip(from).take_while(|entry| entry.0 < right);
        found.extend(crossed.filter(|entry| entry.1 < y && y < entry.2 && entry.3 != net).map(|entry| (entry.0, y)));
    }
    found.len()
}
