//! Union-find over dense numbers: which of them belong together.

/// A partition of `0..n` that only ever merges.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Partition {
    parent: Vec<u32>,
}

impl Partition {
    /// `n` numbers, each alone. Numbers beyond `u32` do not occur: nodes are numbered in `u32`.
    pub fn new(n: usize) -> Self {
        Self { parent: (0..u32::try_from(n).unwrap_or(u32::MAX)).collect() }
    }

    /// The number that stands for the class of `a`.
    pub fn root(&self, a: u32) -> u32 {
        let mut a = a;
        while self.parent[a as usize] != a {
            a = self.parent[a as usize];
        }
        a
    }

    /// Whether two belong together.
    pub fn same(&self, a: u32, b: u32) -> bool {
        self.root(a) == self.root(b)
    }

    /// Puts two classes together; the smaller number stands for both. Says whether they were apart.
    pub fn join(&mut self, a: u32, b: u32) -> bool {
        let (a, b) = (self.halved(a), self.halved(b));
        if a == b {
            return false;
        }
        let (low, high) = (a.min(b), a.max(b));
        self.parent[high as usize] = low;
        true
    }

    /// The root, with the way to it made shorter.
    fn halved(&mut self, a: u32) -> u32 {
        let mut a = a;
        while self.parent[a as usize] != a {
            let over = self.parent[self.parent[a as usize] as usize];
            self.parent[a as usize] = over;
            a = over;
        }
        a
    }

    /// For each number, the smallest number of its class.
    pub fn classes(&self) -> Vec<u32> {
        // A parent is never larger than its child, so one pass upwards is enough.
        let mut class = self.parent.clone();
        for a in 0..class.len() {
            class[a] = class[class[a] as usize];
        }
        class
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn the_smallest_number_stands_for_its_class() {
        let mut partition = Partition::new(6);
        assert!(partition.join(5, 3));
        assert!(partition.join(3, 1));
        assert!(!partition.join(5, 1));
        assert_eq!(partition.classes(), [0, 1, 2, 1, 4, 1]);
    }
}
