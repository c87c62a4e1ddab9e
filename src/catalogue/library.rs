//! The catalogue: every kind and glyph by name, built in and the user's own.

use std::collections::BTreeMap;
use std::sync::Arc;

use thiserror::Error;

use super::kind::Kind;
use super::symbol::Glyph;

/// A catalogue file that cannot be used: where, and what to do.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{0}")]
pub struct CatalogueError(pub String);

/// Every kind of part and every glyph, by name.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Catalogue {
    kinds: BTreeMap<String, Arc<Kind>>,
    glyphs: BTreeMap<String, Arc<Glyph>>,
}

impl Catalogue {
    /// The kind with this name.
    pub fn kind(&self, name: &str) -> Option<&Kind> {
        self.kinds.get(name).map(AsRef::as_ref)
    }

    /// All kinds in order of name.
    pub fn kinds(&self) -> impl Iterator<Item = &Kind> {
        self.kinds.values().map(AsRef::as_ref)
    }

    /// The glyph with this name.
    pub fn glyph(&self, name: &str) -> Option<&Glyph> {
        self.glyphs.get(name).map(AsRef::as_ref)
    }
}
