//! Puts sections below one another: heads with poles and main protection, then rungs between rails.

use std::collections::BTreeMap;

use crate::catalogue::{Catalogue, Family};
use crate::circuit::Node;
use crate::drawing::Area;
use crate::machine::{Machine, PartId, Point};

use super::arrange::{arranged, rung_order};
use super::board::{Board, HALF_MM, Place, Put, ROW_MM, Rails};
use super::fabric::{Plan, plan};
use super::graph::Graph;
use super::layout::{SectionKind, What};
use super::reduce::{Span, Tree, reduced};
use super::supply::{Cluster, Group, clusters};

/// The least distance between rails, in millimetres.
const LEAST_WIDTH_MM: f64 = 150.0;
/// From the top of a section to its poles, in millimetres: heading and names.
pub(super) const HEAD_MM: f64 = 14.0;
/// From the poles to the first rung.
const POLES_TO_RUNG_MM: f64 = 14.0;
/// From the last rung of a section to the next section.
const SECTION_GAP_MM: f64 = 16.0;
/// The most devices that are taken into a head.
const MOST_IN_HEAD: usize = 8;

/// A pole as it is put down.
#[derive(Debug, Clone, Copy)]
pub(super) struct RawPole {
    /// The terminal of the supply.
    pub(super) node: Node,
    pub(super) part: PartId,
    /// The net of that terminal.
    pub(super) net: usize,
    /// Where its name is written.
    pub(super) at: Point,
}

/// A section as it is put down.
#[derive(Debug, Clone)]
pub(super) struct RawSection {
    pub(super) kind: SectionKind,
    pub(super) group: usize,
    pub(super) poles: Vec<RawPole>,
    /// A winding or a board's input between the rails, drawn in the head.
    pub(super) drawn_giver: Option<usize>,
    /// The rails' x.
    pub(super) rails: [f64; 2],
    pub(super) top: f64,
    pub(super) area: Area,
}

/// A line with its place.
#[derive(Debug, Clone)]
pub(super) struct Composed {
    pub(super) sections: Vec<RawSection>,
    /// Devices in heads that stand for what gives a supply: (giver, put).
    pub(super) givers: Vec<(usize, Put)>,
}

/// What is to be drawn between the rails of one cluster.
enum Shape {
    Tree(Tree, [usize; 2]),
    Plan(Plan),
}

/// Puts all groups down, the first at `y`.
pub(super) fn composed(
    machine: &Machine,
    catalogue: &Catalogue,
    board: &mut Board<'_>,
    groups: &[Group],
    mut y: f64,
) -> Composed {
    let mut done = Composed { sections: Vec::new(), givers: Vec::new() };
    for (index, group) in groups.iter().enumerate() {
        let mut by_poles: BTreeMap<Vec<usize>, Vec<Cluster>> = BTreeMap::new();
        let place = |net: &usize| group.poles.iter().position(|pole| pole == net);
        for cluster in clusters(board.graph, &group.edges, &group.poles) {
            let key =
                if cluster.poles.len() > 2 { Vec::new() } else { cluster.poles.iter().filter_map(place).collect() };
            by_poles.entry(key).or_default().push(cluster);
        }
        for (key, clusters) in by_poles {
            let mut composer = Composer { machine, catalogue, board: &mut *board, group, done: &mut done };
            let section =
                if key.is_empty() { composer.power(index, &clusters, y) } else { composer.rails(index, clusters, y) };
            y = section.area.max.y + SECTION_GAP_MM;
            done.sections.push(section);
        }
    }
    done
}

struct Composer<'a, 'g> {
    machine: &'a Machine,
    catalogue: &'a Catalogue,
    board: &'a mut Board<'g>,
    group: &'a Group,
    done: &'a mut Composed,
}

impl Composer<'_, '_> {
    /// The terminal of the supply on this net.
    fn pole(&self, net: usize, at: Point) -> Option<RawPole> {
        let graph = self.board.graph;
        let of_givers = self.group.givers.iter().filter_map(|&giver| graph.givers.get(giver));
        let on = of_givers.flat_map(|giver| {
            giver.inside.ends.into_iter().zip(giver.nets).map(|(node, own)| (giver.inside.part, node, own))
        });
        let sense = self.group.sense.and_then(|sense| graph.edges.get(sense));
        let of_sense = sense
            .into_iter()
            .flat_map(|edge| edge.nodes.into_iter().zip(edge.nets).map(|(node, own)| (edge.part, node, own)));
        let (part, node, net) = on.chain(of_sense).find(|&(_, _, own)| own == net)?;
        Some(RawPole { node, part, net, at })
    }

    /// Circuits on more than two poles: uprights on the left, devices to the right of them.
    fn power(&mut self, group: usize, clusters: &[Cluster], y: f64) -> RawSection {
        let graph = self.board.graph;
        self.board.section = self.done.sections.len();
        let touched: Vec<usize> = self
            .group
            .poles
            .iter()
            .copied()
            .filter(|pole| clusters.iter().any(|cluster| cluster.poles.contains(pole)))
            .collect();
        let edges: Vec<Vec<usize>> = clusters.iter().map(|cluster| cluster.edges.clone()).collect();
        let order = rung_order(graph, &edges);
        let plans: Vec<Plan> = order
            .into_iter()
            .filter_map(|at| edges.get(at))
            .map(|edges| {
                let spans = arranged_spans(graph, reduced(graph, edges, &touched));
                plan(self.board, spans, &touched, None)
            })
            .collect();
        let width = plans.iter().map(|plan| plan.width_mm).fold(LEAST_WIDTH_MM, f64::max);
        let poles_y = y + HEAD_MM;
        let lane = super::fabric::LANE_MM;
        let count = touched.len();
        let poles = touched
            .iter()
            .enumerate()
            .filter_map(|(at, &net)| self.pole(net, Point::new(lane * (count - 1 - at) as f64, poles_y)));
        let poles: Vec<RawPole> = poles.collect();
        let mut row_y = poles_y + POLES_TO_RUNG_MM;
        for plan in &plans {
            self.board.group += 1;
            plan.put(self.board, [0.0, width], row_y, Some(poles_y));
            row_y += ROW_MM * plan.rows as f64;
        }
        let area = Area { min: Point::new(0.0, y), max: Point::new(width, row_y - ROW_MM) };
        RawSection { kind: SectionKind::Power, group, poles, drawn_giver: None, rails: [0.0, width], top: y, area }
    }

    /// Rungs between two rails.
    fn rails(&mut self, group: usize, clusters_at_poles: Vec<Cluster>, y: f64) -> RawSection {
        let graph = self.board.graph;
        let section = self.done.sections.len();
        self.board.section = section;
        let ends = clusters_at_poles.first().map(|cluster| cluster.poles.clone()).unwrap_or_default();
        let poles = [ends.first().copied().unwrap_or(0), ends.last().copied().unwrap_or(0)];
        let mut edges: Vec<usize> = clusters_at_poles.into_iter().flat_map(|cluster| cluster.edges).collect();
        edges.sort_by_key(|&edge| graph.edges[edge].rank);
        let head = self.head(poles, &edges);
        let rails = head.rails;
        edges.retain(|edge| !head.left.contains(edge) && !head.right.contains(edge));

        let groups: Vec<Vec<usize>> = clusters(graph, &edges, &rails).into_iter().map(|one| one.edges).collect();
        let shapes: Vec<Shape> = rung_order(graph, &groups)
            .into_iter()
            .filter_map(|at| groups.get(at))
            .map(|edges| self.shape(edges, rails))
            .collect();
        let both = Rails { left: true, right: true };
        let width = shapes
            .iter()
            .map(|shape| match shape {
                Shape::Tree(tree, _) => self.board.size(tree, both).width_mm,
                Shape::Plan(plan) => plan.width_mm,
            })
            .fold(LEAST_WIDTH_MM, f64::max);

        let poles_y = y + HEAD_MM;
        let from_line = self.board.lines.len();
        let giver = self.put_giver(poles, [0.0, width], poles_y);
        let head_rows = head.left.len().max(head.right.len());
        let first_y = poles_y + POLES_TO_RUNG_MM + ROW_MM * head_rows as f64;
        let left_from = self.put_head(&head.left, poles[0], 0.0, poles_y);
        let right_from = self.put_head(&head.right, poles[1], width, poles_y);

        let mut row_y = first_y;
        for shape in &shapes {
            self.board.group += 1;
            let rows = match shape {
                Shape::Tree(tree, nets) => {
                    let place = Place { x: [0.0, width], y: row_y, nets: *nets, rails: both };
                    self.board.put(tree, place);
                    self.board.size(tree, both).rows
                }
                Shape::Plan(plan) => {
                    plan.put(self.board, [0.0, width], row_y, None);
                    plan.rows
                }
            };
            row_y += ROW_MM * rows as f64;
        }
        // Each rail ends at the last line that begins on it.
        for (net, x, from) in [(rails[0], 0.0, left_from), (rails[1], width, right_from)] {
            let on_rail = |point: Point| (point.x - x).abs() < 1e-6 && point.y > from;
            let lines = self.board.lines.iter().skip(from_line).filter(|line| line.net == net);
            let last = lines.flat_map(|line| [line.a, line.b]).filter(|&point| on_rail(point)).map(|point| point.y);
            let last = last.fold(from, f64::max);
            self.board.line(net, Point::new(x, from), Point::new(x, last));
        }
        let named = [(poles[0], 0.0), (poles[1], width)];
        let poles = named.iter().filter_map(|&(net, x)| self.pole(net, Point::new(x, poles_y))).collect();
        let kind = if self.group.sense.is_some() { SectionKind::Input } else { SectionKind::Rails };
        let area = Area { min: Point::new(0.0, y), max: Point::new(width, row_y - ROW_MM) };
        RawSection { kind, group, poles, drawn_giver: giver, rails: [0.0, width], top: y, area }
    }

    /// What gives the supply of these two poles, drawn between the rails: a winding, a DC supply, a board's input. Plain
    /// sources are their terminals.
    fn put_giver(&mut self, poles: [usize; 2], rails: [f64; 2], y: f64) -> Option<usize> {
        let graph = self.board.graph;
        let at = Point::new(f64::midpoint(rails[0], rails[1]), y);
        let section = self.board.section;
        if let Some(sense) = self.group.sense {
            let turned = graph.edges[sense].nets[0] != poles[0];
            let put = Put { edge: sense, at, turned, upright: false, group: None, section };
            self.lines_to(poles, rails, &put);
            self.board.puts.push(put);
            return None;
        }
        let drawn: Vec<usize> = self.done.givers.iter().map(|(giver, _)| *giver).collect();
        let giver = self.group.givers.iter().copied().find(|giver| {
            let one = &graph.givers[*giver];
            one.what != What::Source && !drawn.contains(giver) && poles.iter().all(|pole| one.nets.contains(pole))
        })?;
        let turned = graph.givers[giver].nets[0] != poles[0];
        let put = Put { edge: usize::MAX, at, turned, upright: false, group: None, section };
        self.lines_to(poles, rails, &put);
        self.done.givers.push((giver, put));
        Some(giver)
    }

    fn lines_to(&mut self, nets: [usize; 2], rails: [f64; 2], put: &Put) {
        let [left, right] = put.tips();
        self.board.line(nets[0], Point::new(rails[0], put.at.y), left);
        self.board.line(nets[1], right, Point::new(rails[1], put.at.y));
    }

    /// Puts the devices of a head into a rail, from the pole down; returns where the rail goes on.
    fn put_head(&mut self, edges: &[usize], pole: usize, x: f64, y: f64) -> f64 {
        let section = self.board.section;
        let mut net = pole;
        let mut from = y;
        for (row, &edge) in edges.iter().enumerate() {
            let at = Point::new(x, y + ROW_MM * (row as f64 + 0.5) + 2.0);
            let turned = self.board.graph.edges[edge].nets[0] != net;
            self.board.line(net, Point::new(x, from), at.moved(0.0, -HALF_MM));
            self.board.puts.push(Put { edge, at, turned, upright: true, group: None, section });
            net = self.board.graph.edges[edge].other(net);
            from = at.y + HALF_MM;
        }
        from
    }

    fn shape(&self, edges: &[usize], rails: [usize; 2]) -> Shape {
        let graph = self.board.graph;
        let mut spans = arranged_spans(graph, reduced(graph, edges, &rails));
        let whole = spans.len() == 1 && spans.iter().all(|span| rails.iter().all(|rail| span.nets.contains(rail)));
        match spans.pop() {
            Some(span) if whole => {
                let span = if span.nets[0] == rails[0] { span } else { span.turned() };
                Shape::Tree(arranged(graph, span.tree), rails)
            }
            last => {
                spans.extend(last);
                Shape::Plan(plan(self.board, spans, &[rails[0]], Some(rails[1])))
            }
        }
    }

    /// Main protection: devices that alone lead on from a pole to several circuits stand in the rail, above the rungs.
    fn head(&self, poles: [usize; 2], edges: &[usize]) -> Head {
        let graph = self.board.graph;
        let mut head = Head { left: Vec::new(), right: Vec::new(), rails: poles };
        let mut best = head.clone();
        if self.group.sense.is_some() || self.group.poles.len() > 2 {
            return best;
        }
        let mut left_over: Vec<usize> = edges.to_vec();
        let alone = |net: usize, left_over: &[usize]| {
            let mut on = left_over.iter().copied().filter(|&edge| graph.edges[edge].nets.contains(&net));
            on.next().filter(|_| on.next().is_none())
        };
        for _ in 0..MOST_IN_HEAD {
            let found = [0usize, 1].into_iter().find_map(|side| {
                let edge = alone(head.rails[side], &left_over).filter(|&edge| self.protects(edge))?;
                let next = graph.edges[edge].other(head.rails[side]);
                (next != head.rails[1 - side]).then_some((side, edge, next))
            });
            let Some((side, edge, next)) = found else { break };
            head.rails[side] = next;
            if side == 0 {
                head.left.push(edge);
            } else {
                head.right.push(edge);
            }
            left_over.retain(|&other| other != edge);
            if clusters(graph, &left_over, &head.rails).len() > 1 {
                best = head.clone();
            }
        }
        best
    }

    fn protects(&self, edge: usize) -> bool {
        let edge = &self.board.graph.edges[edge];
        let kind = self.machine.parts.get(edge.part).and_then(|part| self.catalogue.kind(&part.kind));
        let family = kind.map(|kind| kind.family);
        matches!(edge.what, What::Fuse | What::Breaker | What::Contact(_))
            && matches!(family, Some(Family::Protection | Family::Joining))
    }
}

#[derive(Clone)]
struct Head {
    left: Vec<usize>,
    right: Vec<usize>,
    /// Where rungs begin and end: the poles, or what lies behind the protection.
    rails: [usize; 2],
}

fn arranged_spans(graph: &Graph, spans: Vec<Span>) -> Vec<Span> {
    spans.into_iter().map(|span| span.with(|tree| arranged(graph, tree))).collect()
}
