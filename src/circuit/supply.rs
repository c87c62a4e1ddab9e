//! Which sources stand where, what they feed, and the potentials they hold.
//!
//! Works on classes of nodes that ideal conductors hold together. Each source that is on fixes the difference between the
//! classes of its two poles; differences add along sources that share a class, so that phase to phase and batteries in
//! series come out right. A transformer or DC supply joins in once its input differs. This is the tier without
//! impedance: loads pass nothing on here.

use std::collections::BTreeMap;

use crate::quantity::Current;

use super::frame::Frame;

/// A winding on more than this many times its rated voltage gives as much more on the other side: more than a supply's
/// tolerance of a tenth.
const OVERFED: f64 = 1.15;
/// Differences below this many volts are none.
const NO_DIFFERENCE: f64 = 1e-6;

/// A potential against the first class of its group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Potential {
    /// Sources that share classes form a group; there is no saying about potentials across groups.
    pub group: u32,
    /// AC, real and imaginary part, volts RMS.
    pub ac: (f64, f64),
    /// DC volts.
    pub dc: f64,
    /// A source on the way has no recorded volts; one volt stands in, so only whether there is a difference means anything.
    pub unrecorded: bool,
}

/// A difference of potential between two classes of one group.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Difference {
    /// Volts RMS.
    pub ac: f64,
    /// Volts.
    pub dc: f64,
    /// Some volts on the way are not recorded.
    pub unrecorded: bool,
}

impl Difference {
    /// Whether it works something made for this kind of current.
    pub fn works(self, current: Option<Current>) -> bool {
        let (ac, dc) = (self.ac > NO_DIFFERENCE, self.dc.abs() > NO_DIFFERENCE);
        match current {
            Some(Current::Ac) => ac,
            Some(Current::Dc) => dc,
            None => ac || dc,
        }
    }
}

/// One difference that a live source fixes.
#[derive(Debug, Clone, Copy, PartialEq)]
struct Fixed {
    from: u32,
    to: u32,
    ac: (f64, f64),
    dc: f64,
    unrecorded: bool,
}

/// The live sources and the potentials they hold.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Supply {
    potentials: BTreeMap<u32, Potential>,
    fixed: Vec<Fixed>,
    /// Transformers and DC supplies that are fed from their input.
    pub fed: Vec<bool>,
    /// Transformers that are fed from their secondary: the primary is live.
    pub backfed: Vec<bool>,
    /// Sources that are on with both poles on one class: shorted.
    pub shorted: Vec<usize>,
    /// Sources hold two classes at two different differences: they work against each other.
    pub at_odds: bool,
}

impl Supply {
    /// What the sources hold, with `class` telling each node's class.
    pub fn of(frame: &Frame, class: impl Fn(u32) -> u32) -> Self {
        let network = frame.network;
        let mut supply = Self {
            fed: vec![false; network.derived.len()],
            backfed: vec![false; network.derived.len()],
            ..Self::default()
        };
        for (index, source) in network.sources.iter().enumerate() {
            if !frame.on.get(index).copied().unwrap_or(false) {
                continue;
            }
            let [to, from] = source.inside.ends.map(|node| class(node.0));
            if from == to {
                supply.shorted.push(index);
                continue;
            }
            let volts = source.volts.unwrap_or(1.0);
            let angle = source.phase_deg.to_radians();
            let (ac, dc) = match source.current {
                Current::Ac => ((volts * angle.cos(), volts * angle.sin()), 0.0),
                Current::Dc => ((0.0, 0.0), volts),
            };
            supply.fixed.push(Fixed { from, to, ac, dc, unrecorded: source.volts.is_none() });
        }
        supply.spread();
        while supply.feed_one(frame, &class) {
            supply.spread();
        }
        supply.at_odds = supply.disagrees();
        supply
    }

    /// Brings one more transformer or DC supply in; says whether there was one.
    fn feed_one(&mut self, frame: &Frame, class: &impl Fn(u32) -> u32) -> bool {
        for (index, derived) in frame.network.derived.iter().enumerate() {
            if self.fed[index] || self.backfed[index] {
                continue;
            }
            let input = derived.input.map(|node| class(node.0));
            let output = derived.inside.ends.map(|node| class(node.0));
            if let Some(fixed) = self.passed_on(input, output, derived.current, (derived.volts, derived.input_volts)) {
                self.fed[index] = true;
                self.fixed.push(fixed);
                return true;
            }
        }
        // A transformer works both ways: one that is fed from its secondary puts volts on its primary.
        for (index, derived) in frame.network.derived.iter().enumerate() {
            if self.fed[index] || self.backfed[index] || derived.current == Current::Dc {
                continue;
            }
            let input = derived.input.map(|node| class(node.0));
            let output = derived.inside.ends.map(|node| class(node.0));
            if let Some(fixed) = self.passed_on(output, input, Current::Ac, (derived.input_volts, derived.volts)) {
                self.backfed[index] = true;
                self.fixed.push(fixed);
                return true;
            }
        }
        false
    }

    /// The difference that appears on `output` when AC is on `input`, in phase with it: the rated one, or more where more
    /// than the rated voltage is put on a winding.
    fn passed_on(
        &self,
        input: [u32; 2],
        output: [u32; 2],
        current: Current,
        (volts, rated_input): (Option<f64>, Option<f64>),
    ) -> Option<Fixed> {
        let (a, b) = (self.potentials.get(&input[0])?, self.potentials.get(&input[1])?);
        let (re, im) = (a.ac.0 - b.ac.0, a.ac.1 - b.ac.1);
        let size = re.hypot(im);
        if a.group != b.group || size <= NO_DIFFERENCE || output[0] == output[1] {
            return None;
        }
        let unrecorded = volts.is_none() || a.unrecorded || b.unrecorded;
        let given = volts.unwrap_or(1.0);
        let (ac, dc) = match current {
            Current::Ac => {
                let over = rated_input.filter(|rated| *rated > 0.0 && !unrecorded).map_or(1.0, |rated| size / rated);
                let given = given * if over > OVERFED { over } else { 1.0 };
                ((given * re / size, given * im / size), 0.0)
            }
            Current::Dc => ((0.0, 0.0), given),
        };
        Some(Fixed { from: output[1], to: output[0], ac, dc, unrecorded: volts.is_none() })
    }

    /// Potentials of every class that a live source touches, by walking from class to class.
    fn spread(&mut self) {
        self.potentials.clear();
        let mut ways: BTreeMap<u32, Vec<(u32, Fixed, f64)>> = BTreeMap::new();
        for fixed in &self.fixed {
            ways.entry(fixed.from).or_default().push((fixed.to, *fixed, 1.0));
            ways.entry(fixed.to).or_default().push((fixed.from, *fixed, -1.0));
        }
        for &start in ways.keys() {
            if self.potentials.contains_key(&start) {
                continue;
            }
            self.potentials.insert(start, Potential { group: start, ac: (0.0, 0.0), dc: 0.0, unrecorded: false });
            let mut open = vec![start];
            while let Some(class) = open.pop() {
                let Some(here) = self.potentials.get(&class).copied() else { continue };
                for (other, fixed, sign) in ways.get(&class).into_iter().flatten() {
                    if self.potentials.contains_key(other) {
                        continue;
                    }
                    let potential = Potential {
                        group: start,
                        ac: (here.ac.0 + sign * fixed.ac.0, here.ac.1 + sign * fixed.ac.1),
                        dc: here.dc + sign * fixed.dc,
                        unrecorded: here.unrecorded || fixed.unrecorded,
                    };
                    self.potentials.insert(*other, potential);
                    open.push(*other);
                }
            }
        }
    }

    /// Whether some source's difference is not the one its classes have come to.
    fn disagrees(&self) -> bool {
        self.fixed.iter().any(|fixed| match (self.potentials.get(&fixed.from), self.potentials.get(&fixed.to)) {
            (Some(from), Some(to)) => {
                let (re, im) = (to.ac.0 - from.ac.0 - fixed.ac.0, to.ac.1 - from.ac.1 - fixed.ac.1);
                re.hypot(im) > NO_DIFFERENCE || (to.dc - from.dc - fixed.dc).abs() > NO_DIFFERENCE
            }
            _ => false,
        })
    }

    /// The potential of a class; `None` when no pole of a live source is on it.
    pub fn potential(&self, class: u32) -> Option<Potential> {
        self.potentials.get(&class).copied()
    }

    /// Every class with a pole of a live source, ascending.
    pub fn classes(&self) -> impl Iterator<Item = (u32, Potential)> + '_ {
        self.potentials.iter().map(|(&class, &potential)| (class, potential))
    }

    /// The difference between two classes; `None` when they have no live sources in common.
    pub fn difference(&self, a: u32, b: u32) -> Option<Difference> {
        let (a, b) = (self.potential(a)?, self.potential(b)?);
        (a.group == b.group).then(|| Difference {
            ac: (a.ac.0 - b.ac.0).hypot(a.ac.1 - b.ac.1),
            dc: a.dc - b.dc,
            unrecorded: a.unrecorded || b.unrecorded,
        })
    }
}
