//! The plain bridge: two rows between two nets with one device upright between their middles.

use crate::machine::Point;

use super::board::{Board, HALF_MM, PAD_MM, Place, Put, ROW_MM, Rails, Size};
use super::reduce::Tree;

/// A bridge of five spans, its link a single device.
#[derive(Debug, Clone, PartialEq, Eq)]
pub(super) struct Bridge {
    /// From the left net to the middle and from the middle to the right net, above and below.
    pub(super) rows: [[Tree; 2]; 2],
    /// The nets of the middles.
    pub(super) middles: [usize; 2],
    /// The device between them.
    pub(super) link: usize,
}

impl Bridge {
    /// Seen from the other side.
    pub(super) fn turned(self) -> Self {
        let rows = self.rows.map(|[left, right]| [right.turned(), left.turned()]);
        Self { rows, ..self }
    }

    /// With the lower row above.
    pub(super) fn upside_down(self) -> Self {
        let ([upper, lower], [a, b]) = (self.rows, self.middles);
        Self { rows: [lower, upper], middles: [b, a], link: self.link }
    }
}

const FROM_LEFT: Rails = Rails { left: true, right: false };
const TO_RIGHT: Rails = Rails { left: false, right: true };

impl Board<'_> {
    /// Room of the left and right half, and the lines of the upper row.
    fn halves(&self, bridge: &Bridge) -> ([f64; 2], [usize; 2]) {
        let size =
            |row: usize, side: usize| self.size(&bridge.rows[row][side], if side == 0 { FROM_LEFT } else { TO_RIGHT });
        let width = |side: usize| size(0, side).width_mm.max(size(1, side).width_mm);
        let lines = |row: usize| size(row, 0).rows.max(size(row, 1).rows);
        ([width(0), width(1)], [lines(0), lines(1)])
    }

    /// The room a bridge needs.
    pub(super) fn bridge_size(&self, bridge: &Bridge, rails: Rails) -> Size {
        let (widths, lines) = self.halves(bridge);
        let pad = |on_rail: bool| if on_rail { 0.0 } else { PAD_MM };
        Size { width_mm: widths[0] + widths[1] + pad(rails.left) + pad(rails.right), rows: lines[0] + 1 + lines[1] }
    }

    /// The line on which the lower row is.
    pub(super) fn lower_row(&self, bridge: &Bridge) -> usize {
        self.halves(bridge).1[0] + 1
    }

    /// Puts a bridge down.
    pub(super) fn put_bridge(&mut self, bridge: &Bridge, place: Place) {
        let [x0, x1] = self.leads(&place);
        let (widths, lines) = self.halves(bridge);
        let middle = x0 + widths[0];
        let link_y = place.y + ROW_MM * lines[0] as f64;
        let heights = [place.y, link_y + ROW_MM];
        for ((row, &net), y) in bridge.rows.iter().zip(&bridge.middles).zip(heights) {
            let [left, right] = row;
            self.put(left, Place { x: [x0, middle], y, nets: [place.nets[0], net], rails: FROM_LEFT });
            self.put(right, Place { x: [middle, x1], y, nets: [net, place.nets[1]], rails: TO_RIGHT });
        }
        let at = Point::new(middle, link_y);
        let turned = self.graph.edges[bridge.link].nets[0] != bridge.middles[0];
        let (group, section) = (Some(self.group), self.section);
        self.puts.push(Put { edge: bridge.link, at, turned, upright: true, group, section });
        self.line(bridge.middles[0], Point::new(middle, heights[0]), at.moved(0.0, -HALF_MM));
        self.line(bridge.middles[1], at.moved(0.0, HALF_MM), Point::new(middle, heights[1]));
        let last = |left: bool| {
            let tree = &bridge.rows[1][usize::from(!left)];
            heights[1] + ROW_MM * self.last_touch(tree, left) as f64
        };
        let (last_left, last_right) = (last(true), last(false));
        self.uprights(&place, [x0, x1], [last_left, last_right]);
    }
}
