//! The catalogue: every kind and glyph by name, built in and the user's own.

use std::collections::BTreeMap;
use std::sync::{Arc, LazyLock};

use serde::Deserialize;
use thiserror::Error;

use super::check::check_file;
use super::kind::Kind;
use super::ron_text::{FileError, read};
use super::symbol::Glyph;

/// A catalogue that cannot be used: every mistake with its place and what to do, one a line.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{0}")]
pub struct CatalogueError(pub String);

/// What a file of kinds holds.
#[derive(Debug, Clone, PartialEq, Default, Deserialize)]
#[serde(deny_unknown_fields, default)]
pub(super) struct KindFile {
    /// Symbol parts that several kinds use.
    pub(super) glyphs: Vec<Glyph>,
    /// Kinds.
    pub(super) kinds: Vec<Kind>,
}

/// Every kind of part and every glyph, by name.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Catalogue {
    kinds: BTreeMap<String, Arc<Kind>>,
    glyphs: BTreeMap<String, Arc<Glyph>>,
}

macro_rules! built_in_files {
    ($($name:literal),*) => {
        [$((concat!("assets/parts/", $name), include_str!(concat!("../../assets/parts/", $name)))),*]
    };
}

/// The files that are built in, glyphs first: kinds name them.
pub(super) const BUILT_IN: [(&str, &str); 10] = built_in_files![
    "glyphs.ron",
    "unknown.ron",
    "sources.ron",
    "protection.ron",
    "switching.ron",
    "relays.ron",
    "loads.ron",
    "boards.ron",
    "passive.ron",
    "joining.ron"
];

static BUILT_IN_CATALOGUE: LazyLock<Result<Arc<Catalogue>, CatalogueError>> = LazyLock::new(|| {
    let mut catalogue = Catalogue::default();
    for (file, text) in BUILT_IN {
        catalogue = catalogue.with_kinds(file, text).map_err(|mistakes| CatalogueError::from(mistakes.as_slice()))?;
    }
    Ok(Arc::new(catalogue))
});

impl Catalogue {
    /// The kinds that come with the program, read once.
    ///
    /// # Errors
    /// The mistakes in the files that were built in; a test holds that there are none.
    pub fn built_in() -> Result<Arc<Self>, CatalogueError> {
        BUILT_IN_CATALOGUE.clone()
    }

    /// This catalogue with the kinds and glyphs of a file put on top. A kind or glyph of a name that is already there
    /// takes its place.
    ///
    /// # Errors
    /// Every mistake in the file, in the order of its lines; nothing of the file is taken then.
    pub fn with_kinds(&self, file: &str, text: &str) -> Result<Self, Vec<FileError>> {
        let new: KindFile = read(file, text).map_err(|mistake| vec![mistake])?;
        let mut mistakes = check_file(file, text, &new, self);
        if !mistakes.is_empty() {
            mistakes.sort();
            mistakes.dedup();
            return Err(mistakes);
        }
        let mut all = self.clone();
        all.glyphs.extend(new.glyphs.into_iter().map(|glyph| (glyph.name.clone(), Arc::new(glyph))));
        all.kinds.extend(new.kinds.into_iter().map(|kind| (kind.name.clone(), Arc::new(kind))));
        Ok(all)
    }

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

    /// Names of all glyphs, in order.
    pub fn glyph_names(&self) -> impl Iterator<Item = &str> {
        self.glyphs.keys().map(String::as_str)
    }
}

impl From<&[FileError]> for CatalogueError {
    fn from(mistakes: &[FileError]) -> Self {
        Self(mistakes.iter().map(ToString::to_string).collect::<Vec<_>>().join("\n"))
    }
}
