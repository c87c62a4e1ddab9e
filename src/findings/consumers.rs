//! What takes voltage: each load and each coil, with the nets of its ends and what is printed on it.

use std::collections::{BTreeMap, BTreeSet};

use crate::catalogue::{Body, Element};
use crate::machine::PartId;
use crate::quantity::{Current, Rated, Rating};

use super::graph::{Bodies, Graph, NetId, Sort};

/// A load or a coil.
#[derive(Debug, Clone)]
pub(super) struct Consumer {
    /// The part.
    pub part: PartId,
    /// Name of the element where the part has more than one, else empty.
    pub name: String,
    /// Its items.
    pub items: Vec<usize>,
    /// The nets of its ends.
    pub ends: BTreeSet<NetId>,
    /// Whether it is a relay's coil.
    pub is_coil: bool,
    /// The voltage it is made for.
    pub rated: Option<Rated>,
}

/// Every load, all windings of a part as one, every transformer primary, every coil; in order of part.
pub(super) fn consumers(graph: &Graph, bodies: &Bodies) -> Vec<Consumer> {
    let mut all: Vec<Consumer> = Vec::new();
    let mut windings: BTreeMap<PartId, usize> = BTreeMap::new();
    for (at, item) in graph.items.iter().enumerate() {
        if !matches!(item.sort, Sort::Load | Sort::Coil) {
            continue;
        }
        let Some(body) = bodies.get(&item.part) else { continue };
        let Some(element) = body.elements.get(item.element) else { continue };
        let one_of_windings = matches!(element, Element::Winding { .. } | Element::Transformer { .. });
        if let Some(&first) = windings.get(&item.part).filter(|_| one_of_windings) {
            all[first].items.push(at);
            all[first].ends.extend(item.nets);
            continue;
        }
        if one_of_windings {
            windings.insert(item.part, all.len());
        }
        let (name, rated) = match element {
            Element::Coil { name, current, .. } => {
                let rated = body.ratings.rated(Rating::CoilVolts);
                (name.clone(), rated.map(|r| Rated { current: r.current.or(Some(*current)), ..r }))
            }
            Element::Load { name, .. } => (name.clone(), body.ratings.rated(Rating::Volts)),
            Element::Transformer { .. } => {
                let rated = body.ratings.rated(Rating::Volts);
                ("primary".to_owned(), rated.map(|r| Rated { current: Some(Current::Ac), ..r }))
            }
            Element::DcSupply { .. } => ("input".to_owned(), body.ratings.rated(Rating::Volts)),
            _ => (String::new(), body.ratings.rated(Rating::Volts)),
        };
        let is_coil = item.sort == Sort::Coil;
        all.push(Consumer { part: item.part, name, items: vec![at], ends: BTreeSet::from(item.nets), is_coil, rated });
    }
    all
}

/// Rated current of a part in amps: as printed, else from its power at its voltage.
pub(super) fn rated_amps(body: &Body) -> Option<f64> {
    let ratings = &body.ratings;
    ratings.get(Rating::Amps).or_else(|| {
        let volts = ratings.get(Rating::Volts).filter(|&volts| volts > 0.0)?;
        ratings.get(Rating::Watts).or_else(|| ratings.get(Rating::VoltAmps)).map(|power| power / volts)
    })
}

/// Whether the part's load is a motor, so that the motor rating of a contact counts.
pub(super) fn is_motor(body: &Body) -> bool {
    use crate::catalogue::LoadKind;
    body.elements.iter().any(|element| {
        matches!(
            element,
            Element::Winding { .. }
                | Element::Load { what: LoadKind::Motor | LoadKind::Fan | LoadKind::TimerMotor, .. }
        )
    })
}
