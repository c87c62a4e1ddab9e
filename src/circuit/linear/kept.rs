//! Pockets solved before, taken over wherever the same equations come up again: among many machines that differ in a lead or two most of
//! them do.

use std::collections::HashMap;
use std::sync::{Arc, Mutex, PoisonError};

use super::pocket::Pocket;

/// Edges of the pockets that are kept at most, some 100 MB with their factors; then it begins anew.
const MOST_EDGES: usize = 250_000;

/// What was solved before. Shared by the networks that are solved with it.
#[derive(Debug, Default)]
pub struct Kept {
    kept: Mutex<Pockets>,
}

#[derive(Debug, Default)]
struct Pockets {
    by_key: HashMap<u64, Arc<Pocket>>,
    edges: usize,
}

impl Kept {
    /// The pocket as it was solved before, where it was; else this one, kept from now on. Of two with the same key the later is kept.
    pub(super) fn or_keep(&self, pocket: Pocket) -> Arc<Pocket> {
        let key = pocket.key();
        // Nothing is left half done where the lock is held.
        let mut kept = self.kept.lock().unwrap_or_else(PoisonError::into_inner);
        if let Some(before) = kept.by_key.get(&key).filter(|before| before.is_same(&pocket)) {
            return Arc::clone(before);
        }
        if kept.edges > MOST_EDGES {
            *kept = Pockets::default();
        }
        kept.edges += pocket.edges();
        let pocket = Arc::new(pocket);
        kept.by_key.insert(key, Arc::clone(&pocket));
        pocket
    }
}
