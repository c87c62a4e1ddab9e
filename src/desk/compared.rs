//! Two copies of the record laid side by side: as found, as left, or as it is now. The copies are read beside the window.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::machine::{Machine, VisitId};
use crate::removal::{Altered, Differences, Of, altered, compare};
use crate::store::frozen;

use super::files::Outcome;
use super::jobs::{Manner, or_broken};
use super::pictures::PhotoHome;
use super::session::Desk;

/// A copy of the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord)]
pub enum CopyOf {
    /// As it was found at a visit.
    AsFound(VisitId),
    /// As it was left at a visit.
    AsLeft(VisitId),
    /// As it is now.
    Now,
}

/// What differs between two copies.
#[derive(Debug, Clone)]
pub struct Compared {
    /// The earlier and the later one.
    pub copies: [CopyOf; 2],
    /// The revision of the record when they were compared.
    pub revision: u64,
    /// What differs, in words.
    pub differences: Differences,
    /// The same thing by thing.
    pub altered: BTreeMap<Of, BTreeSet<Altered>>,
}

/// Where a copy is taken from.
enum Source {
    Frozen(String),
    Now(Arc<Machine>),
}

impl Source {
    /// The copy, from where the record lies now, else from where it lay before.
    fn read(&self, homes: &[PhotoHome], catalogue: &Catalogue) -> Result<Arc<Machine>, String> {
        let hash = match self {
            Self::Frozen(hash) => hash,
            Self::Now(machine) => return Ok(Arc::clone(machine)),
        };
        let mut first = Err("no folder is known for the copies: save the record first, then try again".to_owned());
        for (at, home) in homes.iter().enumerate() {
            match frozen::read(&home.record, hash, catalogue) {
                Ok(loaded) => return Ok(Arc::new(loaded.machine)),
                // Where it belongs now is what a person is told of.
                Err(why) if at == 0 => first = Err(why.to_string()),
                Err(_) => {}
            }
        }
        first
    }
}

impl Desk {
    /// Has two copies of the record compared; [`Self::compared`] holds what differs when it is done.
    pub fn compare(&mut self, copies: [CopyOf; 2]) {
        const WHAT: &str = "Comparing two copies of the record";
        let homes = self.photo_homes();
        let [Some(earlier), Some(later)] = copies.map(|copy| self.source(copy)) else {
            self.fail(WHAT, &"a visit has no such copy: it is made when the visit is begun or closed");
            return;
        };
        let (catalogue, revision) = (Arc::clone(&self.catalogue), self.revision);
        self.start(WHAT, Manner::AtOnce, move |_| {
            let result = or_broken(|| {
                let old = earlier.read(&homes, &catalogue)?;
                let new = later.read(&homes, &catalogue)?;
                let (differences, altered) = (compare(&old, &new), altered(&old, &new));
                Ok(Box::new(Compared { copies, revision, differences, altered }))
            });
            Outcome::Compared { result }
        });
    }

    fn source(&self, copy: CopyOf) -> Option<Source> {
        let visit = |id: VisitId| self.machine.visits.get(id);
        match copy {
            CopyOf::AsFound(id) => visit(id)?.as_found.clone().map(Source::Frozen),
            CopyOf::AsLeft(id) => visit(id)?.as_left.clone().map(Source::Frozen),
            CopyOf::Now => Some(Source::Now(Arc::clone(&self.machine))),
        }
    }
}
