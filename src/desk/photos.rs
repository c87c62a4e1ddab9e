//! Pixels of the record's photos, decoded beside the window and kept within a memory budget.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use crate::tracing::PhotoPixels;

/// Memory the decoded photos may take together, in bytes: two 48-megapixel photos with their levels.
const BUDGET_BYTES: usize = 640 * 1024 * 1024;

/// Decoded photos by hash.
#[derive(Default)]
pub(super) struct PhotoCache {
    held: BTreeMap<String, Held>,
    waiting: BTreeSet<String>,
    failed: BTreeSet<String>,
    clock: u64,
}

struct Held {
    pixels: Arc<PhotoPixels>,
    used: u64,
}

impl PhotoCache {
    /// The pixels of this photo, marked as used now.
    pub(super) fn get(&mut self, hash: &str) -> Option<Arc<PhotoPixels>> {
        self.clock += 1;
        let held = self.held.get_mut(hash)?;
        held.used = self.clock;
        Some(Arc::clone(&held.pixels))
    }

    /// Whether decoding should be started: neither held, nor under way, nor failed before. Notes it as under way.
    pub(super) fn wants(&mut self, hash: &str) -> bool {
        !self.held.contains_key(hash) && !self.failed.contains(hash) && self.waiting.insert(hash.to_owned())
    }

    /// Takes decoded pixels in; the least lately used make room.
    pub(super) fn put(&mut self, hash: &str, pixels: PhotoPixels) {
        self.waiting.remove(hash);
        self.clock += 1;
        self.held.insert(hash.to_owned(), Held { pixels: Arc::new(pixels), used: self.clock });
        while self.held.len() > 1 && self.held.values().map(|held| held.pixels.bytes()).sum::<usize>() > BUDGET_BYTES {
            let oldest = self.held.iter().min_by_key(|(_, held)| held.used).map(|(name, _)| name.clone());
            match oldest {
                Some(name) if name != hash => self.held.remove(&name),
                _ => break,
            };
        }
    }

    /// Notes that this photo cannot be shown, so that it is not tried in every frame.
    pub(super) fn give_up(&mut self, hash: &str) {
        self.waiting.remove(hash);
        self.failed.insert(hash.to_owned());
    }

    /// Forgets what failed: another record, or files put in place meanwhile.
    pub(super) fn try_again(&mut self) {
        self.failed.clear();
    }
}
