//! The plain bridge: two rows between the rails with one device upright between their middles.

use crate::machine::Point;

use super::arrange::branch_key;
use super::board::{Board, HALF_MM, Place, Put, ROW_MM, Rails};
use super::reduce::{Span, Tree};

/// A bridge and where it goes.
#[derive(Debug, Clone)]
pub(super) struct Bridge {
    /// From rail to middle and from middle to rail, above and below.
    rows: [[Tree; 2]; 2],
    /// The nets of the middles.
    middles: [usize; 2],
    rails: [usize; 2],
    link: usize,
    /// Where the middles lie, from the left rail.
    middle_mm: f64,
    upper_rows: usize,
    pub(super) rows_in_all: usize,
    pub(super) width_mm: f64,
}

const FROM_RAIL: Rails = Rails { left: true, right: false };
const TO_RAIL: Rails = Rails { left: false, right: true };

/// These spans as a bridge, if they are one.
pub(super) fn bridge(board: &Board<'_>, spans: &[Span], rails: [usize; 2]) -> Option<Bridge> {
    let graph = board.graph;
    if spans.len() != 5 {
        return None;
    }
    let between = |a: usize, b: usize| {
        let found = spans.iter().find(|span| span.nets.contains(&a) && span.nets.contains(&b))?;
        Some(if found.nets[0] == a { found.clone() } else { found.clone().turned() })
    };
    let mut inner: Vec<usize> = spans.iter().flat_map(|span| span.nets).filter(|net| !rails.contains(net)).collect();
    inner.sort_unstable();
    inner.dedup();
    let &[a, b] = inner.as_slice() else { return None };
    let row = |middle: usize| Some([between(rails[0], middle)?.tree, between(middle, rails[1])?.tree]);
    let (mut upper, mut lower) = ((row(a)?, a), (row(b)?, b));
    let Tree::Leaf { edge: link, .. } = between(a, b)?.tree else { return None };
    let key = |(row, _): &([Tree; 2], usize)| branch_key(graph, &row[0].edges());
    if key(&lower) < key(&upper) {
        std::mem::swap(&mut upper, &mut lower);
    }
    let rows = [upper.0, lower.0];
    let size = |row: usize, side: usize| {
        board.size(&rows[row][side], if side == 0 { FROM_RAIL } else { TO_RAIL })
    };
    let lines = |row: usize| size(row, 0).rows.max(size(row, 1).rows);
    let width = |side: usize| size(0, side).width_mm.max(size(1, side).width_mm);
    let (upper_rows, lower_rows) = (lines(0), lines(1));
    Some(Bridge {
        middle_mm: width(0),
        width_mm: width(0) + width(1),
        upper_rows,
        rows_in_all: upper_rows + 1 + lower_rows,
        rows,
        middles: [upper.1, lower.1],
        rails,
        link,
    })
}

impl Bridge {
    /// Puts it down between the rails, with its first line at `y`.
    pub(super) fn put(&self, board: &mut Board<'_>, x: [f64; 2], y: f64) {
        let middle = x[0] + self.middle_mm;
        let link_y = y + ROW_MM * self.upper_rows as f64;
        let heights = [y, link_y + ROW_MM];
        for ((row, &net), y) in self.rows.iter().zip(&self.middles).zip(heights) {
            let [left, right] = row;
            board.put(left, Place { x: [x[0], middle], y, nets: [self.rails[0], net], rails: FROM_RAIL });
            board.put(right, Place { x: [middle, x[1]], y, nets: [net, self.rails[1]], rails: TO_RAIL });
        }
        let at = Point::new(middle, link_y);
        let turned = board.graph.edges[self.link].nets[0] != self.middles[0];
        let (group, section) = (Some(board.group), board.section);
        board.puts.push(Put { edge: self.link, at, turned, upright: true, group, section });
        board.line(self.middles[0], Point::new(middle, heights[0]), at.moved(0.0, -HALF_MM));
        board.line(self.middles[1], at.moved(0.0, HALF_MM), Point::new(middle, heights[1]));
    }
}
