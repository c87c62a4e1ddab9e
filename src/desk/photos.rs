//! Pixels of the record's photos, decoded beside the window and kept within a memory budget.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::sync::mpsc::{Receiver, Sender, channel};

use crate::machine::Photo;
use crate::tracing::PhotoPixels;

/// Memory the decoded photos may take together, in bytes: two 48-megapixel photos with their levels.
const BUDGET_BYTES: usize = 640 * 1024 * 1024;

/// A photo that is still being read in, shown by a quick small picture; no part of the record yet.
#[derive(Debug, Clone)]
pub struct Coming {
    /// The photo as it will be, with its place.
    pub photo: Photo,
    /// The quick picture.
    pub pixels: Arc<PhotoPixels>,
}

/// A quick picture on its way from the work beside the window: what it is kept under, and the photo it will be where it is new.
pub(super) struct Early {
    pub(super) key: String,
    pub(super) photo: Option<Photo>,
    pub(super) pixels: PhotoPixels,
}

/// Decoded photos by hash.
pub(super) struct PhotoCache {
    held: BTreeMap<String, Held>,
    waiting: BTreeSet<String>,
    failed: BTreeSet<String>,
    /// Quick pictures of photos that are being decoded.
    quick: BTreeMap<String, Arc<PhotoPixels>>,
    coming: BTreeMap<String, Coming>,
    /// What is to be known of a damaged picture.
    remarks: BTreeMap<String, String>,
    sender: Sender<Early>,
    receiver: Receiver<Early>,
    clock: u64,
}

impl Default for PhotoCache {
    fn default() -> Self {
        let (sender, receiver) = channel();
        Self {
            held: BTreeMap::new(),
            waiting: BTreeSet::new(),
            failed: BTreeSet::new(),
            quick: BTreeMap::new(),
            coming: BTreeMap::new(),
            remarks: BTreeMap::new(),
            sender,
            receiver,
            clock: 0,
        }
    }
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

    /// Its quick picture while the whole is still being decoded.
    pub(super) fn quick(&self, hash: &str) -> Option<Arc<PhotoPixels>> {
        self.quick.get(hash).cloned()
    }

    /// Where work beside the window sends quick pictures.
    pub(super) fn early(&self) -> Sender<Early> {
        self.sender.clone()
    }

    /// Takes in the quick pictures that were sent, of photos that are still wanted.
    pub(super) fn collect(&mut self) {
        while let Ok(early) = self.receiver.try_recv() {
            let pixels = Arc::new(early.pixels);
            match early.photo {
                Some(photo) => {
                    self.coming.insert(early.key, Coming { photo, pixels });
                }
                None if self.waiting.contains(&early.key) => {
                    self.quick.insert(early.key, pixels);
                }
                None => {}
            }
        }
    }

    /// The photos that are still being read in.
    pub(super) fn coming(&self) -> impl Iterator<Item = &Coming> {
        self.coming.values()
    }

    /// Notes that a photo was read in, or will not be. Quick pictures are taken in before: none comes after.
    pub(super) fn came(&mut self, key: &str) {
        self.collect();
        self.coming.remove(key);
    }

    /// What is to be known of a damaged picture.
    pub(super) fn remark(&self, hash: &str) -> Option<&str> {
        self.remarks.get(hash).map(String::as_str)
    }

    /// Notes what is to be known of a damaged picture.
    pub(super) fn note(&mut self, hash: &str, remark: Option<String>) {
        match remark {
            Some(remark) => self.remarks.insert(hash.to_owned(), remark),
            None => self.remarks.remove(hash),
        };
    }

    /// Whether decoding should be started: neither held, nor under way, nor failed before. Notes it as under way.
    pub(super) fn wants(&mut self, hash: &str) -> bool {
        !self.held.contains_key(hash) && !self.failed.contains(hash) && self.waiting.insert(hash.to_owned())
    }

    /// Takes decoded pixels in; the least lately used make room.
    pub(super) fn put(&mut self, hash: &str, pixels: PhotoPixels) {
        self.waiting.remove(hash);
        self.quick.remove(hash);
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
        self.quick.remove(hash);
        self.failed.insert(hash.to_owned());
    }

    /// Forgets what failed: another record, or files put in place meanwhile.
    pub(super) fn try_again(&mut self) {
        self.failed.clear();
        self.coming.clear();
    }
}
