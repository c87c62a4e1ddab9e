//! Typed numbers for the entries of a record, and the shelf that holds them in order of entry.

use std::collections::BTreeMap;
use std::collections::btree_map;
use std::fmt::Debug;
use std::sync::Arc;

macro_rules! ids {
    ($($(#[$doc:meta])* $name:ident;)*) => { $(
        $(#[$doc])*
        #[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
        pub struct $name(pub u32);

        impl From<u32> for $name {
            fn from(number: u32) -> Self { Self(number) }
        }

        impl From<$name> for u32 {
            fn from(id: $name) -> Self { id.0 }
        }
    )* };
}

ids! {
    /// A photo of the record.
    PhotoId;
    /// A part of the record.
    PartId;
    /// A wire of the record.
    WireId;
    /// A loom of the record.
    LoomId;
    /// A condition of the record.
    ConditionId;
    /// A constraint of the record.
    ConstraintId;
    /// A meter of the record.
    MeterId;
    /// A reading of the record.
    ReadingId;
    /// A mystery of the record.
    MysteryId;
    /// A decision of the record.
    DecisionId;
    /// A step of a removal that was ticked off.
    TickId;
    /// A visit of the record.
    VisitId;
}

/// Entries by their number, in order of entry. Entries are shared, so a copy of a shelf copies no entry.
#[derive(Debug, Clone)]
pub struct Shelf<K: Ord, V> {
    entries: BTreeMap<K, Arc<V>>,
    /// One above the highest number that ever was on the shelf: undo may bring a removed entry back under its own.
    next: u32,
}

impl<K: Ord, V> Default for Shelf<K, V> {
    fn default() -> Self {
        Self { entries: BTreeMap::new(), next: 0 }
    }
}

/// Shelves are the same when their entries are; which numbers were used before is not part of the record.
impl<K: Ord, V: PartialEq> PartialEq for Shelf<K, V> {
    fn eq(&self, other: &Self) -> bool {
        self.entries == other.entries
    }
}

impl<K: Ord + Copy + From<u32> + Into<u32>, V> Shelf<K, V> {
    /// The entry with this number.
    pub fn get(&self, id: K) -> Option<&V> {
        self.entries.get(&id).map(AsRef::as_ref)
    }

    /// The shared entry with this number.
    pub fn shared(&self, id: K) -> Option<&Arc<V>> {
        self.entries.get(&id)
    }

    /// Puts an entry in or takes it out; returns what was there.
    pub fn put(&mut self, id: K, entry: Option<Arc<V>>) -> Option<Arc<V>> {
        match entry {
            Some(entry) => {
                self.next = self.next.max(id.into().saturating_add(1));
                self.entries.insert(id, entry)
            }
            None => self.entries.remove(&id),
        }
    }

    /// Adds an entry at the end and returns its number.
    pub fn add(&mut self, entry: V) -> K {
        let id = self.next_id();
        self.put(id, Some(Arc::new(entry)));
        id
    }

    /// The number the next entry will get: one that no entry ever had, not even one that was taken out.
    pub fn next_id(&self) -> K {
        K::from(self.next)
    }

    /// All entries in order of entry.
    pub fn iter(&self) -> impl DoubleEndedIterator<Item = (K, &V)> + ExactSizeIterator {
        self.entries.iter().map(|(&id, entry)| (id, entry.as_ref()))
    }

    /// All numbers in order of entry.
    pub fn ids(&self) -> impl DoubleEndedIterator<Item = K> + '_ {
        self.entries.keys().copied()
    }

    /// All entries without their numbers.
    pub fn values(&self) -> impl DoubleEndedIterator<Item = &V> + ExactSizeIterator {
        self.entries.values().map(AsRef::as_ref)
    }

    /// How many there are.
    pub fn len(&self) -> usize {
        self.entries.len()
    }

    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.entries.is_empty()
    }

    /// Whether this number is on the shelf.
    pub fn contains(&self, id: K) -> bool {
        self.entries.contains_key(&id)
    }
}

impl<'a, K: Ord, V> IntoIterator for &'a Shelf<K, V> {
    type Item = (&'a K, &'a Arc<V>);
    type IntoIter = btree_map::Iter<'a, K, Arc<V>>;

    fn into_iter(self) -> Self::IntoIter {
        self.entries.iter()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_number_is_never_given_twice_and_what_comes_back_keeps_its_own() {
        let mut shelf: Shelf<PartId, &str> = Shelf::default();
        shelf.add("first");
        let last = shelf.add("last");
        let taken = shelf.put(last, None);
        let after = shelf.add("after");
        assert_ne!(after, last, "what still speaks of the removed entry would speak of another");
        shelf.put(last, taken);
        assert_eq!(shelf.get(last), Some(&"last"));
        assert_eq!(shelf.get(after), Some(&"after"));
        assert_eq!(shelf.len(), 3);
    }

    #[test]
    fn shelves_with_the_same_entries_are_the_same_whatever_lay_there_before() {
        let mut shelf: Shelf<PartId, &str> = Shelf::default();
        shelf.add("first");
        let before = shelf.clone();
        let last = shelf.add("last");
        shelf.put(last, None);
        assert_eq!(shelf, before);
    }
}
