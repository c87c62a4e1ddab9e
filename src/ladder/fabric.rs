//! What is no series-parallel circuit between two poles: bridges, circuits on three poles, the power part.
//!
//! Each net is an upright line, each row of devices a level one that begins and ends at uprights. No device is drawn twice.
//! Rows are put in the order with fewest crossings that moving one row at a time finds; uprights stand where no device is in
//! their way.

use std::collections::{BTreeMap, BTreeSet, VecDeque};

use crate::machine::Point;

use super::arrange::first_rank;
use super::board::{Board, Place, ROW_MM, Rails};
use super::graph::Graph;
use super::reduce::Span;

/// Distance between uprights beside one another, in millimetres.
pub(super) const LANE_MM: f64 = 6.0;

/// With more rows than this no better order is looked for.
const MOST_ROWS: usize = 40;

/// How many times all rows are tried elsewhere.
const ROUNDS: usize = 6;

/// Spans one after the other from upright to upright.
#[derive(Debug, Clone)]
struct Path {
    spans: Vec<Span>,
}

/// Where everything goes.
#[derive(Debug, Clone)]
pub(super) struct Plan {
    /// Paths from top to bottom, with the line each begins on.
    paths: Vec<(Path, usize)>,
    /// Each net's upright, from the left rail.
    columns: BTreeMap<usize, f64>,
    /// The pole on the right, if there is one.
    right: Option<usize>,
    /// The poles on the left.
    left: Vec<usize>,
    pub(super) width_mm: f64,
    pub(super) rows: usize,
}

/// A plan for these spans between the poles on the left and the one on the right.
pub(super) fn plan(board: &Board<'_>, spans: Vec<Span>, left: &[usize], right: Option<usize>) -> Plan {
    let order = net_order(board.graph, &spans, left, right);
    let place = |net: usize| order.get(&net).copied().unwrap_or(usize::MAX);
    let spans: Vec<Span> = spans
        .into_iter()
        .map(|span| if place(span.nets[0]) <= place(span.nets[1]) { span } else { span.turned() })
        .collect();
    let mut paths = paths(board.graph, spans, &place, left, right);
    let columns = rough_columns(&paths, &order);
    better_order(&mut paths, &columns, left, right);
    let mut row = 0;
    let mut placed = Vec::new();
    for path in paths {
        let rows = path.spans.iter().map(|span| board.size(&span.tree, NO_RAILS).rows).max().unwrap_or(1);
        placed.push((path, row));
        row += rows;
    }
    let mut plan =
        Plan { paths: placed, columns: BTreeMap::new(), right, left: left.to_vec(), width_mm: 0.0, rows: row };
    plan.set_columns(board, &order);
    plan
}

const NO_RAILS: Rails = Rails { left: false, right: false };

/// Nets from left to right: by their distance from the poles on the left and on the right.
fn net_order(graph: &Graph, spans: &[Span], left: &[usize], right: Option<usize>) -> BTreeMap<usize, usize> {
    let mut on: BTreeMap<usize, Vec<usize>> = BTreeMap::new();
    for span in spans {
        on.entry(span.nets[0]).or_default().push(span.nets[1]);
        on.entry(span.nets[1]).or_default().push(span.nets[0]);
    }
    let distances = |from: &[usize], not_over: Option<usize>| {
        let mut found: BTreeMap<usize, i64> = from.iter().map(|&net| (net, 0)).collect();
        let mut open: VecDeque<usize> = from.iter().copied().collect();
        while let Some(net) = open.pop_front() {
            let next = found.get(&net).copied().unwrap_or(0) + 1;
            for &other in on.get(&net).into_iter().flatten() {
                if Some(other) != not_over && !found.contains_key(&other) {
                    found.insert(other, next);
                    open.push_back(other);
                }
            }
        }
        found
    };
    let from_left = distances(left, right);
    let from_right = right.map(|right| distances(&[right], None)).unwrap_or_default();
    let rank: BTreeMap<usize, usize> = on
        .keys()
        .map(|&net| {
            let edges = graph.nets.get(net).map(|net| net.edges.as_slice()).unwrap_or_default();
            (net, first_rank(graph, edges))
        })
        .collect();
    let mut nets: Vec<usize> = on.keys().copied().collect();
    nets.sort_by_key(|net| {
        let far = from_left.get(net).copied().unwrap_or(i64::MAX / 4);
        let near = from_right.get(net).copied().unwrap_or(0);
        let pole = left.iter().position(|pole| pole == net);
        let last = Some(*net) == right;
        (last, pole.is_none(), pole, far - near, far, rank.get(net).copied(), *net)
    });
    nets.into_iter().enumerate().map(|(at, net)| (net, at)).collect()
}

/// Spans put one behind the other as far as they go on to the right over nets not yet met.
fn paths(
    graph: &Graph,
    spans: Vec<Span>,
    place: &impl Fn(usize) -> usize,
    left: &[usize],
    right: Option<usize>,
) -> Vec<Path> {
    // Of each net the spans that go on to the right, the shortest step last.
    let mut onward: BTreeMap<usize, Vec<Span>> = BTreeMap::new();
    for span in spans {
        onward.entry(place(span.nets[0])).or_default().push(span);
    }
    for here in onward.values_mut() {
        here.sort_by_cached_key(|span| {
            std::cmp::Reverse((Some(span.nets[1]) == right, place(span.nets[1]), first_rank(graph, &span.tree.edges())))
        });
    }
    let mut met: BTreeSet<usize> = left.iter().copied().chain(right).collect();
    let mut paths = Vec::new();
    let starts: Vec<usize> = onward.keys().copied().collect();
    for start in starts {
        while let Some(first) = onward.get_mut(&start).and_then(Vec::pop) {
            met.insert(first.nets[0]);
            let mut end = first.nets[1];
            let mut path = Path { spans: vec![first] };
            while met.insert(end) {
                let Some(next) = onward.get_mut(&place(end)).and_then(Vec::pop) else { break };
                end = next.nets[1];
                path.spans.push(next);
            }
            paths.push(path);
        }
    }
    paths
}

/// Columns by order alone, good enough for counting crossings.
fn rough_columns(paths: &[Path], order: &BTreeMap<usize, usize>) -> BTreeMap<usize, usize> {
    let nets = paths.iter().flat_map(|path| path.spans.iter().flat_map(|span| span.nets));
    nets.map(|net| (net, order.get(&net).copied().unwrap_or(0))).collect()
}

/// Moves one row at a time to where crossings are fewest, then where uprights are shortest.
fn better_order(paths: &mut Vec<Path>, columns: &BTreeMap<usize, usize>, left: &[usize], right: Option<usize>) {
    if paths.len() < 3 || paths.len() > MOST_ROWS {
        return;
    }
    // Between two poles both are rails; where there are more, uprights of poles are crossed too.
    let rails: BTreeSet<usize> =
        if right.is_some() { left.iter().copied().chain(right).collect() } else { BTreeSet::new() };
    let mut best = cost(paths, columns, &rails, left);
    for _ in 0..ROUNDS {
        let before = best;
        for from in 0..paths.len() {
            let mut at = from;
            for to in 0..paths.len() {
                let path = paths.remove(at);
                paths.insert(to, path);
                let now = cost(paths, columns, &rails, left);
                if now < best {
                    best = now;
                    at = to;
                } else {
                    let path = paths.remove(to);
                    paths.insert(at, path);
                }
            }
        }
        if best == before {
            break;
        }
    }
}

/// Crossings, then the length of all uprights in rows.
fn cost(paths: &[Path], columns: &BTreeMap<usize, usize>, rails: &BTreeSet<usize>, left: &[usize]) -> (usize, usize) {
    let mut reach: BTreeMap<usize, (usize, usize)> = BTreeMap::new();
    for (row, path) in paths.iter().enumerate() {
        for net in path.spans.iter().flat_map(|span| span.nets) {
            // Poles come from above.
            let first = if left.contains(&net) { 0 } else { row };
            let held = reach.entry(net).or_insert((first, row));
            *held = (held.0.min(first), held.1.max(row));
        }
    }
    reach.retain(|net, _| !rails.contains(net));
    let mut crossings = 0;
    for (row, path) in paths.iter().enumerate() {
        let (Some(first), Some(last)) = (path.spans.first(), path.spans.last()) else { continue };
        let column = |net: usize| columns.get(&net).copied().unwrap_or(0);
        let (from, to) = (column(first.nets[0]), column(last.nets[1]));
        let own = |net: &usize| path.spans.iter().any(|span| span.nets.contains(net));
        crossings += reach
            .iter()
            .filter(|(net, (top, bottom))| {
                let stands = column(**net);
                // A later pole of the power part stands further left, so a row does not cross it on its way.
                let between = if left.contains(net) {
                    left.contains(&first.nets[0]) && stands < from
                } else {
                    stands > from && stands < to
                };
                between && *top <= row && row < *bottom && !own(net)
            })
            .count();
    }
    let length = reach.values().map(|(top, bottom)| bottom - top).sum();
    (crossings, length)
}

impl Plan {
    /// The uprights, from left to right, each beyond what comes before it and out of the way of devices.
    fn set_columns(&mut self, board: &Board<'_>, order: &BTreeMap<usize, usize>) {
        let mut nets: Vec<(usize, usize)> = order.iter().map(|(&net, &at)| (at, net)).collect();
        nets.sort_unstable();
        let count = self.left.len();
        for (at, &pole) in self.left.iter().enumerate() {
            self.columns.insert(pole, LANE_MM * (count - 1 - at) as f64);
        }
        let mut least = LANE_MM * (count.saturating_sub(1)) as f64;
        for (_, net) in nets {
            if self.left.contains(&net) || Some(net) == self.right {
                continue;
            }
            let mut x = least;
            for (span, _) in self.spans() {
                if span.nets[1] == net
                    && let Some(&from) = self.columns.get(&span.nets[0])
                {
                    x = x.max(from + self.lead_of(span.nets[0]) + board.size(&span.tree, NO_RAILS).width_mm);
                }
            }
            // Side by side with the upright before it, never on it.
            if !self.columns.is_empty() && x < least + LANE_MM {
                x = x.max(least + LANE_MM);
            }
            x = self.beyond_devices(board, net, x);
            self.columns.insert(net, x);
            least = x;
        }
        let mut width = least;
        for (span, _) in self.spans() {
            if Some(span.nets[1]) == self.right {
                let from = self.columns.get(&span.nets[0]).copied().unwrap_or(0.0);
                let own = board.size(&span.tree, NO_RAILS).width_mm + self.lead_of(span.nets[0]);
                width = width.max(from + own);
                // Loads stand against the right rail, beyond every upright.
                if board.has_load(&span.tree) {
                    width = width.max(least + own);
                }
            }
        }
        self.width_mm = if self.right.is_some() { width.max(least + LANE_MM) } else { width };
    }

    /// The first place from `x` on where the upright of a net runs through no device that stands left of it.
    fn beyond_devices(&self, board: &Board<'_>, net: usize, mut x: f64) -> f64 {
        let own = self.spans().filter(|(span, _)| span.nets.contains(&net)).map(|(_, row)| row);
        let Some((top, bottom)) = own.fold(None, |held: Option<(usize, usize)>, row| {
            Some(held.map_or((row, row), |(top, bottom)| (top.min(row), bottom.max(row))))
        }) else {
            return x;
        };
        let mut in_way: Vec<(f64, f64)> = self
            .spans()
            .filter(|(span, _)| !span.nets.contains(&net))
            .filter_map(|(span, row)| {
                let size = board.size(&span.tree, NO_RAILS);
                let from = self.columns.get(&span.nets[0]).copied()?;
                let crossed = row <= bottom && row + size.rows > top;
                crossed.then(|| (from, from + self.lead_of(span.nets[0]) + size.width_mm + LANE_MM / 2.0))
            })
            .collect();
        in_way.sort_by(|a, b| a.0.total_cmp(&b.0));
        for (from, to) in in_way {
            if x > from && x < to {
                x = to;
            }
        }
        x
    }

    /// The uprights of poles stand beside one another: a row begins beyond all of them.
    fn lead_of(&self, net: usize) -> f64 {
        match self.left.iter().position(|&pole| pole == net) {
            Some(at) if self.left.len() > 1 => LANE_MM * (at as f64 + 0.5),
            _ => 0.0,
        }
    }

    fn spans(&self) -> impl Iterator<Item = (&Span, usize)> {
        self.paths.iter().flat_map(|(path, row)| path.spans.iter().map(move |span| (span, *row)))
    }

    /// Puts everything down, with the left rail at `left_mm` and the first line at `y`; rails are not drawn here, except
    /// those of the power part, which come from `top`.
    pub(super) fn put(&self, board: &mut Board<'_>, x: [f64; 2], y: f64, top: Option<f64>) {
        let column = |net: usize| {
            if Some(net) == self.right { x[1] } else { x[0] + self.columns.get(&net).copied().unwrap_or(0.0) }
        };
        let mut reach: BTreeMap<usize, (f64, f64)> = BTreeMap::new();
        for (span, row) in self.spans() {
            let at = y + ROW_MM * row as f64;
            for net in span.nets {
                let held = reach.entry(net).or_insert((at, at));
                *held = (held.0.min(at), held.1.max(at));
            }
            let [from, to] = span.nets.map(column);
            let start = from + self.lead_of(span.nets[0]);
            board.line(span.nets[0], Point::new(from, at), Point::new(start, at));
            let mut end = to;
            // A long way is bridged by a plain line; loads stand at the right rail.
            if Some(span.nets[1]) != self.right || !board.has_load(&span.tree) {
                end = start + board.size(&span.tree, NO_RAILS).width_mm;
                board.line(span.nets[1], Point::new(end, at), Point::new(to, at));
            }
            board.put(&span.tree, Place { x: [start, end], y: at, nets: span.nets, rails: NO_RAILS });
        }
        for (net, (first, last)) in reach {
            let is_pole = self.left.contains(&net);
            if is_pole && top.is_none() || Some(net) == self.right {
                continue;
            }
            let from = if is_pole { top.unwrap_or(first) } else { first };
            board.line(net, Point::new(column(net), from), Point::new(column(net), last));
        }
    }
}
