//! The connection diagram: every photo, part and wire of a record, laid out; what did not change is kept.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::catalogue::{Catalogue, Style};
use crate::machine::{EndAt, Habits, Machine, Part, PartId, Photo, PhotoId, Point, Side, Thing, Wire, WireId};

use super::area::Area;
use super::hops::{Crosser, Crossings};
use super::pick::{Handle, Target, TargetPlace};
use super::scene::{Piece, Scene};
use super::symbols::{PartDrawing, part_drawing};
use super::wires::{self, Resolved, Route, has_no_place, wire_width_mm};

/// Distance between wires that have no place at all, in millimetres.
const PARKED_MM: f64 = 7.0;

/// The family of symbols a record is drawn with: that of the habits of its place.
pub fn style_of(machine: &Machine) -> Style {
    match machine.facts.habits {
        Habits::Iec => Style::Iec,
        Habits::NorthAmerica => Style::Ansi,
    }
}

/// Lays out the connection diagram of a record.
pub fn lay_out(machine: &Machine, catalogue: &Arc<Catalogue>, style: Style) -> Scene {
    Diagram::default().lay_out(machine, catalogue, style)
}

/// The layout of a record with what is needed to lay out its next revision quickly.
#[derive(Debug, Clone, Default)]
pub struct Diagram {
    made_with: Option<(Arc<Catalogue>, Style)>,
    parts: BTreeMap<PartId, (Arc<Part>, Arc<PartDrawing>)>,
    wires: BTreeMap<WireId, LaidWire>,
    crossings: Crossings,
}

#[derive(Debug, Clone)]
struct LaidWire {
    wire: Arc<Wire>,
    ends: [Resolved; 2],
    route: Arc<Route>,
    hops: Vec<(f64, f64)>,
    piece: Option<Arc<Piece>>,
}

impl Diagram {
    /// Lays out a record. Parts that are the same entry as last time, and wires whose ends and hops stayed, are kept.
    pub fn lay_out(&mut self, machine: &Machine, catalogue: &Arc<Catalogue>, style: Style) -> Scene {
        let same =
            self.made_with.as_ref().is_some_and(|(old, old_style)| Arc::ptr_eq(old, catalogue) && *old_style == style);
        if !same {
            self.parts.clear();
            self.wires.clear();
            self.crossings = Crossings::default();
            self.made_with = Some((Arc::clone(catalogue), style));
        }
        self.lay_parts(machine, catalogue, style);
        self.lay_wires(machine);

        let mut pieces: Vec<Arc<Piece>> =
            machine.photos.iter().filter_map(|(id, photo)| photo_piece(id, photo)).map(Arc::new).collect();
        pieces.extend(self.parts.values().filter_map(|(_, drawing)| drawing.piece.clone()));
        pieces.extend(self.wires.values().filter_map(|laid| laid.piece.clone()));
        Scene::new(pieces)
    }

    /// One part as it was laid out last.
    pub fn part(&self, id: PartId) -> Option<&PartDrawing> {
        self.parts.get(&id).map(|(_, drawing)| drawing.as_ref())
    }

    fn lay_parts(&mut self, machine: &Machine, catalogue: &Catalogue, style: Style) {
        let mut old = std::mem::take(&mut self.parts);
        for (&id, part) in &machine.parts {
            let kept = old.remove(&id).filter(|(drawn, _)| Arc::ptr_eq(drawn, part));
            let entry = kept.unwrap_or_else(|| (Arc::clone(part), Arc::new(part_drawing(id, part, catalogue, style))));
            self.parts.insert(id, entry);
        }
    }

    fn lay_wires(&mut self, machine: &Machine) {
        let mut old = std::mem::take(&mut self.wires);
        let parked = self.parking(machine);
        let mut changed = Vec::new();
        for (&id, wire) in &machine.wires {
            let mut ends = self.resolved(wire);
            if let Some(&place) = parked.get(&id) {
                ends = [0.0, 30.0].map(|dx| Resolved { terminal: None, parked: Some(place.moved(dx, 0.0)) });
            }
            let kept = old.remove(&id).filter(|laid| Arc::ptr_eq(&laid.wire, wire) && laid.ends == ends);
            let laid = kept.unwrap_or_else(|| {
                let route = Arc::new(wires::route(wire, &ends));
                let crosser =
                    Crosser { route: Arc::clone(&route), width_mm: wire_width_mm(wire), present: wire.is_present() };
                changed.push((id, Some(crosser)));
                LaidWire { wire: Arc::clone(wire), ends, route, hops: Vec::new(), piece: None }
            });
            self.wires.insert(id, laid);
        }
        let anew: BTreeSet<WireId> = changed.iter().map(|(id, _)| *id).collect();
        changed.extend(old.into_keys().map(|id| (id, None)));
        for id in self.crossings.change(changed) {
            let Some(laid) = self.wires.get_mut(&id) else { continue };
            let hops = self.crossings.of(id);
            if anew.contains(&id) || hops != laid.hops {
                laid.piece = wires::piece(id, &laid.wire, &laid.route, &hops);
                laid.hops = hops;
            }
        }
    }

    /// Where the ends of a wire are, as far as parts say so.
    fn resolved(&self, wire: &Wire) -> [Resolved; 2] {
        Side::BOTH.map(|side| {
            let terminal = match &wire.end(side).at {
                EndAt::Terminal(terminal) => self
                    .parts
                    .get(&terminal.part)
                    .and_then(|(_, drawing)| drawing.terminals.get(terminal.marking.as_str()).copied()),
                EndAt::Loose | EndAt::Unknown => None,
            };
            Resolved { terminal, parked: None }
        })
    }

    /// Places below the drawing for wires that have no place at all, in order of their keys.
    fn parking(&self, machine: &Machine) -> BTreeMap<WireId, Point> {
        let mut waiting: Vec<(&str, WireId)> = machine
            .wires
            .iter()
            .filter(|(_, wire)| has_no_place(wire, &self.resolved(wire)))
            .map(|(id, wire)| (wire.key.as_str(), id))
            .collect();
        waiting.sort_unstable();
        let whole = self.parts.values().map(|(_, drawing)| drawing.body).reduce(Area::joined);
        let start = whole.map_or(Point::default(), |area| Point::new(area.min.x, area.max.y + 3.0 * PARKED_MM));
        (0_u32..).zip(waiting).map(|(n, (_, id))| (id, start.moved(0.0, f64::from(n) * PARKED_MM))).collect()
    }
}

/// A photo has no shapes of its own; the window puts the picture there. It can be pointed at.
fn photo_piece(id: PhotoId, photo: &Photo) -> Option<Piece> {
    let [width, height] = photo.size_px.map(f64::from);
    let corners = [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)]
        .map(|(x, y)| photo.placement.canvas_from_photo(x, y));
    let thing = Thing::Photo(id);
    let target = Target { of: Handle::Thing(thing.clone()), place: TargetPlace::Quad(corners) };
    Piece::new(thing, Vec::new(), vec![target])
}

#[cfg(test)]
#[path = "tests.rs"]
mod tests;
