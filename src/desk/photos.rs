//! Pixels of the record's photos, decoded beside the window and kept within a memory budget.

use std::collections::{BTreeMap, BTreeSet};
use std::path::Path;
use std::sync::{Arc, Condvar, Mutex, PoisonError};
use std::time::Duration;

use crate::tracing::PhotoPixels;

/// Memory the decoded photos may take together, in bytes: two 48-megapixel photos with their levels.
const BUDGET_BYTES: usize = 640 * 1024 * 1024;

/// Photos decoded at once: each takes up to half a gigabyte while it is worked on.
const MOST_AT_ONCE: usize = 2;

/// A photo file may have this many bytes; the largest photos of phones and cameras have less than half (from memory).
pub(super) const MOST_BYTES: u64 = 256 * 1024 * 1024;

/// Lets a few photos be decoded at once; the others wait their turn.
#[derive(Debug, Clone, Default)]
pub(super) struct Gate(Arc<(Mutex<usize>, Condvar)>);

/// A turn; it ends when this is dropped.
pub(super) struct Turn(Gate);

impl Gate {
    /// Waits for a turn. `None` when `is_stopped` says so meanwhile.
    pub(super) fn enter(&self, is_stopped: impl Fn() -> bool) -> Option<Turn> {
        let (count, freed) = &*self.0;
        let mut inside = count.lock().unwrap_or_else(PoisonError::into_inner);
        while *inside >= MOST_AT_ONCE {
            if is_stopped() {
                return None;
            }
            let waited = freed.wait_timeout(inside, Duration::from_millis(200));
            inside = waited.unwrap_or_else(PoisonError::into_inner).0;
        }
        *inside += 1;
        Some(Turn(self.clone()))
    }
}

impl Drop for Turn {
    fn drop(&mut self) {
        let (count, freed) = &*self.0.0;
        let mut inside = count.lock().unwrap_or_else(PoisonError::into_inner);
        *inside = inside.saturating_sub(1);
        freed.notify_one();
    }
}

/// The bytes of a photo file, unless there are too many.
///
/// # Errors
/// A sentence that names the file and says what to do.
pub(super) fn read(file: &Path) -> Result<Vec<u8>, String> {
    let unread = |error| format!("{}: cannot be read ({error}); put the photo back there", file.display());
    let bytes = std::fs::metadata(file).map_err(unread)?.len();
    if bytes > MOST_BYTES {
        return Err(format!(
            "{}: has {} MB, at most {} are taken; save it smaller or as JPEG",
            file.display(),
            bytes / 1_000_000,
            MOST_BYTES / 1_000_000
        ));
    }
    std::fs::read(file).map_err(unread)
}

/// Decoded photos by hash.
#[derive(Default)]
pub(super) struct PhotoCache {
    held: BTreeMap<String, Held>,
    waiting: BTreeSet<String>,
    failed: BTreeSet<String>,
    clock: u64,
    /// Where photos wait for their turn to be decoded.
    pub(super) gate: Gate,
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
