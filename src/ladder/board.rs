//! The drawing board: devices and lines put down in millimetres. Series-parallel trees are put down here.

use crate::machine::Point;

use super::graph::Graph;
use super::reduce::Tree;

/// Width of the place of one device on a rung, in millimetres, where its words need no more.
pub(super) const CELL_MM: f64 = 30.0;
/// From one line to the next, in millimetres.
pub(super) const ROW_MM: f64 = 16.0;
/// From a vertical link to the place of the first device, in millimetres.
pub(super) const PAD_MM: f64 = 5.0;
/// Half the length of a symbol with its leads, in millimetres.
pub(super) const HALF_MM: f64 = 5.0;

/// A line of a net.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Line {
    pub(super) net: usize,
    pub(super) a: Point,
    pub(super) b: Point,
}

/// A device put down.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Put {
    pub(super) edge: usize,
    /// Its middle.
    pub(super) at: Point,
    /// Its second end lies on the left, or on top.
    pub(super) turned: bool,
    pub(super) upright: bool,
    /// The group of lines it is in; `None` in the head.
    pub(super) group: Option<usize>,
    pub(super) section: usize,
}

impl Put {
    /// The left or upper end, then the other.
    pub(super) fn tips(&self) -> [Point; 2] {
        let (dx, dy) = if self.upright { (0.0, HALF_MM) } else { (HALF_MM, 0.0) };
        [self.at.moved(-dx, -dy), self.at.moved(dx, dy)]
    }
}

/// Width and number of lines of a tree.
#[derive(Debug, Clone, Copy, PartialEq)]
pub(super) struct Size {
    pub(super) width_mm: f64,
    pub(super) rows: usize,
}

/// Which sides of a tree lie on a rail, or on another upright line that is drawn anyhow.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) struct Rails {
    pub(super) left: bool,
    pub(super) right: bool,
}

/// Everything put down so far.
#[derive(Debug)]
pub(super) struct Board<'g> {
    pub(super) graph: &'g Graph,
    /// Width of each device's place.
    pub(super) cells: &'g [f64],
    pub(super) lines: Vec<Line>,
    pub(super) puts: Vec<Put>,
    pub(super) section: usize,
    pub(super) group: usize,
}

/// Where a tree is put: from where to where, on which line first, between which nets.
#[derive(Debug, Clone, Copy)]
pub(super) struct Place {
    pub(super) x: [f64; 2],
    pub(super) y: f64,
    pub(super) nets: [usize; 2],
    pub(super) rails: Rails,
}

impl<'g> Board<'g> {
    pub(super) fn new(graph: &'g Graph, cells: &'g [f64]) -> Self {
        Self { graph, cells, lines: Vec::new(), puts: Vec::new(), section: 0, group: 0 }
    }

    /// Puts down a line, unless it has no length.
    pub(super) fn line(&mut self, net: usize, a: Point, b: Point) {
        if a.distance(b) > 1e-6 {
            self.lines.push(Line { net, a, b });
        }
    }

    /// The room a tree needs.
    pub(super) fn size(&self, tree: &Tree, rails: Rails) -> Size {
        match tree {
            Tree::Leaf { edge, .. } => Size { width_mm: self.cells.get(*edge).copied().unwrap_or(CELL_MM), rows: 1 },
            Tree::Series(children, _) => {
                let last = children.len().saturating_sub(1);
                let sizes = children.iter().enumerate().map(|(at, child)| {
                    let own = Rails { left: rails.left && at == 0, right: rails.right && at == last };
                    self.size(child, own)
                });
                sizes.fold(Size { width_mm: 0.0, rows: 1 }, |all, one| Size {
                    width_mm: all.width_mm + one.width_mm,
                    rows: all.rows.max(one.rows),
                })
            }
            Tree::Parallel(children) => {
                let both = Rails { left: true, right: true };
                let inside = children.iter().map(|child| self.size(child, both)).fold(
                    Size { width_mm: 0.0, rows: 0 },
                    |all, one| Size { width_mm: all.width_mm.max(one.width_mm), rows: all.rows + one.rows },
                );
                let pad = |on_rail: bool| if on_rail { 0.0 } else { PAD_MM };
                Size { width_mm: inside.width_mm + pad(rails.left) + pad(rails.right), rows: inside.rows }
            }
            Tree::Bridge(bridge) => self.bridge_size(bridge, rails),
        }
    }

    /// Whether a load is in it.
    pub(super) fn has_load(&self, tree: &Tree) -> bool {
        tree.edges().iter().any(|&edge| self.graph.edges[edge].is_load())
    }

    /// Puts a tree down: contacts on the left, loads on the right of the room it is given.
    pub(super) fn put(&mut self, tree: &Tree, place: Place) {
        match tree {
            Tree::Leaf { edge, turned } => self.put_device(*edge, *turned, place),
            Tree::Series(children, nets) => self.put_series(children, nets, place),
            Tree::Parallel(children) => self.put_parallel(children, place),
            Tree::Bridge(bridge) => self.put_bridge(bridge, place),
        }
    }

    fn put_device(&mut self, edge: usize, turned: bool, place: Place) {
        let [x0, x1] = place.x;
        let half = self.cells.get(edge).copied().unwrap_or(CELL_MM) / 2.0;
        let x = if self.graph.edges[edge].is_load() { x1 - half } else { x0 + half };
        let at = Point::new(x, place.y);
        let put = Put { edge, at, turned, upright: false, group: Some(self.group), section: self.section };
        let [left, right] = put.tips();
        self.line(place.nets[0], Point::new(x0, place.y), left);
        self.line(place.nets[1], right, Point::new(x1, place.y));
        self.puts.push(put);
    }

    fn put_series(&mut self, children: &[Tree], between: &[usize], place: Place) {
        let last = children.len().saturating_sub(1);
        let rails = |at: usize| Rails { left: place.rails.left && at == 0, right: place.rails.right && at == last };
        let sizes: Vec<Size> = children.iter().enumerate().map(|(at, child)| self.size(child, rails(at))).collect();
        let needed: f64 = sizes.iter().map(|size| size.width_mm).sum();
        let slack = (place.x[1] - place.x[0] - needed).max(0.0);
        // Room left over goes before the first load, or behind the last contact.
        let gap_before = children.iter().position(|child| self.has_load(child)).unwrap_or(children.len());
        let net_at = |at: usize| match at {
            0 => place.nets[0],
            _ if at == children.len() => place.nets[1],
            _ => between.get(at - 1).copied().unwrap_or(place.nets[0]),
        };
        let mut x = place.x[0];
        for (at, child) in children.iter().enumerate() {
            let own = rails(at);
            let mut from = x;
            let mut next = x + sizes[at].width_mm;
            if at == gap_before {
                next += slack;
                // What begins at a rail reaches over the room itself; else a line does.
                if !own.left {
                    from += slack;
                    self.line(net_at(at), Point::new(x, place.y), Point::new(from, place.y));
                }
            }
            if own.right {
                next = place.x[1];
            }
            self.put(child, Place { x: [from, next], y: place.y, nets: [net_at(at), net_at(at + 1)], rails: own });
            x = next;
        }
        self.line(place.nets[1], Point::new(x, place.y), Point::new(place.x[1], place.y));
    }

    /// The last line of a tree that begins on the upright at its left, or ends on the one at its right.
    pub(super) fn last_touch(&self, tree: &Tree, left: bool) -> usize {
        match tree {
            Tree::Leaf { .. } => 0,
            Tree::Series(children, _) => {
                let child = if left { children.first() } else { children.last() };
                child.map_or(0, |child| self.last_touch(child, left))
            }
            Tree::Parallel(children) => {
                let both = Rails { left: true, right: true };
                let Some((last, before)) = children.split_last() else { return 0 };
                before.iter().map(|child| self.size(child, both).rows).sum::<usize>() + self.last_touch(last, left)
            }
            Tree::Bridge(bridge) => {
                let tree = &bridge.rows[1][usize::from(!left)];
                self.lower_row(bridge) + self.last_touch(tree, left)
            }
        }
    }

    fn put_parallel(&mut self, children: &[Tree], place: Place) {
        let y = place.y;
        let [x0, x1] = self.leads(&place);
        let both = Rails { left: true, right: true };
        let mut at = y;
        let (mut last_left, mut last_right) = (y, y);
        for child in children {
            last_left = at + ROW_MM * self.last_touch(child, true) as f64;
            last_right = at + ROW_MM * self.last_touch(child, false) as f64;
            self.put(child, Place { x: [x0, x1], y: at, nets: place.nets, rails: both });
            at += ROW_MM * self.size(child, both).rows as f64;
        }
        self.uprights(&place, [x0, x1], [last_left, last_right]);
    }

    /// Lines from the ends of the room to uprights inside it, where no rail serves; returns where the uprights stand.
    pub(super) fn leads(&mut self, place: &Place) -> [f64; 2] {
        let [mut x0, mut x1] = place.x;
        if !place.rails.left {
            self.line(place.nets[0], Point::new(x0, place.y), Point::new(x0 + PAD_MM, place.y));
            x0 += PAD_MM;
        }
        if !place.rails.right {
            self.line(place.nets[1], Point::new(x1 - PAD_MM, place.y), Point::new(x1, place.y));
            x1 -= PAD_MM;
        }
        [x0, x1]
    }

    /// The uprights, from the first line to the last that touches each, where no rail serves.
    pub(super) fn uprights(&mut self, place: &Place, x: [f64; 2], last: [f64; 2]) {
        for (side, on_rail) in [place.rails.left, place.rails.right].into_iter().enumerate() {
            if !on_rail {
                self.line(place.nets[side], Point::new(x[side], place.y), Point::new(x[side], last[side]));
            }
        }
    }
}
