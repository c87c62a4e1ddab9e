//! Numbered flags at the places findings speak of; severity by the form of the frame.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::machine::Thing;

use super::pick::{Handle, Target, TargetPlace};
use super::scene::{Layer, Piece, Scene};
use super::shape::{Flag, FlagForm, Item, Shape};

/// Height of the figures in millimetres.
const SIZE_MM: f64 = 2.2;

/// A flag to be put at a thing.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Mark {
    /// What it is put at.
    pub at: Thing,
    /// Form of its frame.
    pub form: FlagForm,
    /// Its number in the list of findings.
    pub number: usize,
}

/// The scene with flags on top; those at the same thing stand side by side. A mark at what is not drawn is left out.
pub fn with_marks(scene: &Scene, marks: &[Mark]) -> Scene {
    let mut beside: BTreeMap<&Thing, f64> = BTreeMap::new();
    let mut pieces = scene.pieces().to_vec();
    for mark in marks {
        let Some(place) = scene.place_of(&mark.at) else { continue };
        let taken = beside.entry(&mark.at).or_default();
        let at = place.moved(SIZE_MM * 1.9 + *taken * SIZE_MM * 2.9, -SIZE_MM * 1.9);
        *taken += 1.0;
        let flag = Flag { at, form: mark.form, text: mark.number.to_string(), size_mm: SIZE_MM };
        let target = Target { of: Handle::Thing(mark.at.clone()), place: TargetPlace::Quad(flag.area().corners()) };
        let items = vec![Item { layer: Layer::Labels, shape: Shape::Flag(flag) }];
        pieces.extend(Piece::new(mark.at.clone(), items, vec![target]).map(Arc::new));
    }
    Scene::new(pieces)
}
