//! A laid-out drawing: pieces in order, a grid over them for drawing what is in sight, and one for pointing.

use std::sync::Arc;

use crate::machine::{Point, Spot, Thing};

use super::area::Area;
use super::grid::{Grid, GridMaker};
use super::ink::Ink;
use super::pick::{Handle, Target, TargetPlace};
use super::shape::Item;

/// Layers, the lowest first.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Layer {
    /// Insides of parts.
    Bodies,
    /// Symbols and terminals.
    Symbols,
    /// Wires.
    Wires,
    /// Marks at the ends of wires.
    Ends,
    /// Letters and flags.
    Labels,
}

impl Layer {
    /// All, the lowest first.
    pub const ALL: [Self; 5] = [Self::Bodies, Self::Symbols, Self::Wires, Self::Ends, Self::Labels];
}

/// What stands for one thing of the record: a part, a wire, a photo, a flag.
#[derive(Debug, Clone, PartialEq)]
pub struct Piece {
    /// What it stands for.
    pub of: Thing,
    /// The shapes, in layer order; never changed afterwards.
    pub items: Vec<Item>,
    /// What can be pointed at.
    pub targets: Vec<Target>,
    /// The rectangle round everything.
    pub area: Area,
    /// A wire as it is drawn from far off.
    pub plain: Option<PlainWire>,
    /// Where the shapes of each layer end.
    ends: [usize; Layer::ALL.len()],
}

/// A wire as one plain line from end to end: no rounding, no hops, no marks.
#[derive(Debug, Clone, PartialEq)]
pub struct PlainWire {
    /// End, bends, end.
    pub points: Vec<Point>,
    /// Its one colour.
    pub ink: Ink,
    /// Drawn width in millimetres.
    pub width_mm: f64,
}

impl Piece {
    /// A piece from its shapes and targets; `None` when it has neither, or a point that is not finite.
    pub fn new(of: Thing, mut items: Vec<Item>, targets: Vec<Target>) -> Option<Self> {
        let mut area: Option<Area> = None;
        for one in items.iter().map(Item::area).chain(targets.iter().map(Target::area)) {
            let one = one?;
            area = Some(area.map_or(one, |area| area.joined(one)));
        }
        items.sort_by_key(|item| item.layer);
        let ends = Layer::ALL.map(|layer| items.partition_point(|item| item.layer <= layer));
        Some(Self { of, items, targets, area: area?, plain: None, ends })
    }

    /// Its shapes of one layer, in order.
    pub fn layer(&self, layer: Layer) -> &[Item] {
        self.items.get(self.layer_range(layer)).unwrap_or_default()
    }

    /// The places of its shapes of one layer among all its shapes.
    pub fn layer_range(&self, layer: Layer) -> std::ops::Range<usize> {
        let place = layer as usize;
        let from = if place == 0 { 0 } else { self.ends[place - 1] };
        from..self.ends[place]
    }
}

/// A laid-out drawing. Never changed: another revision of the record gets another scene, which shares what stayed.
#[derive(Debug, Clone, Default)]
pub struct Scene {
    pieces: Vec<Arc<Piece>>,
    area: Option<Area>,
    /// Pieces by where their shapes lie.
    pub(super) sight: Grid,
    /// Numbers of piece and target by where the targets lie.
    pub(super) touch: Grid,
    pub(super) targets: Vec<(u32, u32)>,
    /// What the pieces stand for, sorted, each with the piece's number.
    by_thing: Vec<(Thing, u32)>,
}

impl Scene {
    /// A scene of these pieces, drawn in this order.
    pub fn new(pieces: Vec<Arc<Piece>>) -> Self {
        let area = pieces.iter().map(|piece| piece.area).reduce(Area::joined);
        let Some(whole) = area else { return Self::default() };
        let mut sight = GridMaker::new(whole, pieces.len());
        let count = pieces.iter().map(|piece| piece.targets.len()).sum();
        let mut touch = GridMaker::new(whole, count);
        let mut targets = Vec::with_capacity(count);
        for (number, piece) in (0_u32..).zip(&pieces) {
            if piece.items.iter().any(|item| item.layer == Layer::Wires) {
                for target in &piece.targets {
                    target.put_in(&mut sight, number, 8.0);
                }
                for item in piece.items.iter().filter(|item| item.layer != Layer::Wires) {
                    if let Some(area) = item.area() {
                        sight.put_area(area, number);
                    }
                }
            } else {
                sight.put_area(piece.area, number);
            }
            for (at, target) in (0_u32..).zip(&piece.targets) {
                // More targets than a u32 holds do not fit into memory.
                let index = u32::try_from(targets.len()).unwrap_or(u32::MAX);
                targets.push((number, at));
                target.put_in(&mut touch, index, 0.0);
            }
        }
        let mut by_thing: Vec<(Thing, u32)> = pieces.iter().map(|piece| piece.of.clone()).zip(0_u32..).collect();
        by_thing.sort();
        Self { pieces, area, sight: sight.grid(), touch: touch.grid(), targets, by_thing }
    }

    /// The pieces, in drawing order.
    pub fn pieces(&self) -> &[Arc<Piece>] {
        &self.pieces
    }

    /// The piece that stands for this thing.
    pub fn piece_of(&self, thing: &Thing) -> Option<&Arc<Piece>> {
        let found = self.by_thing.partition_point(|(of, _)| of < thing);
        let (_, number) = self.by_thing.get(found).filter(|(of, _)| of == thing)?;
        self.pieces.get(*number as usize)
    }

    /// The rectangle round everything; `None` for an empty scene.
    pub fn area(&self) -> Option<Area> {
        self.area
    }

    /// A point that stands for this thing: a terminal's place, an end's tip, the middle of a wire or part.
    pub fn place_of(&self, thing: &Thing) -> Option<Point> {
        let piece = match thing {
            Thing::Spot(Spot::Terminal(terminal)) => self.piece_of(&terminal.part.into()),
            Thing::Spot(Spot::End(wire, _)) => self.piece_of(&(*wire).into()),
            _ => self.piece_of(thing),
        };
        let stands_for = |target: &&Target| matches!(&target.of, Handle::Thing(of) if of == thing);
        piece?.targets.iter().find(stands_for).map(Target::middle)
    }

    /// The pieces that may show in a rectangle, in drawing order.
    pub fn pieces_in(&self, area: Area) -> Vec<&Arc<Piece>> {
        if self.area.is_some_and(|whole| area.contains_area(whole)) {
            return self.pieces.iter().collect();
        }
        self.sight
            .within(area)
            .into_iter()
            .filter_map(|number| self.pieces.get(number as usize))
            .filter(|piece| piece.area.meets(area))
            .collect()
    }

    /// All shapes in the order they are drawn: layer by layer, in each layer piece by piece.
    pub fn items(&self) -> impl Iterator<Item = (&Piece, &Item)> {
        Layer::ALL.into_iter().flat_map(move |layer| {
            self.pieces.iter().flat_map(move |piece| piece.layer(layer).iter().map(move |item| (piece.as_ref(), item)))
        })
    }

    pub(super) fn target(&self, index: u32) -> Option<&Target> {
        let (piece, target) = self.targets.get(index as usize)?;
        self.pieces.get(*piece as usize)?.targets.get(*target as usize)
    }

    /// What has a point that can be pointed at in a rectangle, terminals and ends, with their places; so many at the most.
    pub fn points_in(&self, area: Area, most: usize) -> Vec<(&Handle, Point)> {
        let point = |target: &'_ Target| match &target.place {
            TargetPlace::Point { at, .. } if area.contains(*at) => Some(*at),
            _ => None,
        };
        if self.area.is_some_and(|whole| area.contains_area(whole)) {
            let targets = self.pieces.iter().flat_map(|piece| &piece.targets);
            return targets.filter_map(|target| Some((&target.of, point(target)?))).take(most).collect();
        }
        let targets = self.touch.within(area).into_iter().filter_map(|index| self.target(index));
        targets.filter_map(|target| Some((&target.of, point(target)?))).take(most).collect()
    }
}
