//! The poles that bring voltage: of sources, transformer secondaries and DC supplies, and the voltage between them.

use std::collections::{BTreeMap, BTreeSet};

use crate::catalogue::{Body, Element};
use crate::machine::{HazardLimits, Machine, PartId, TerminalRef};
use crate::quantity::{Current, Rating, Ratings};

use super::graph::{Bodies, Graph, NetId};

/// One pole of a supply.
#[derive(Debug, Clone, PartialEq)]
pub(super) struct Pole {
    /// The terminal it comes out at.
    pub terminal: TerminalRef,
    /// Poles of one system have a voltage between them; poles of different systems have none that is known.
    pub system: usize,
    /// Voltage against the system's reference, as a phasor in volts; none where the rated volts are not known.
    pub volts: Option<(f64, f64)>,
    /// Alternating or direct.
    pub current: Current,
    /// Whether touching it is touching voltage: not the neutral, the negative, the return.
    pub hot: bool,
}

/// Every pole of the machine, and who feeds it.
#[derive(Debug, Default)]
pub(super) struct Supply {
    /// In order of part and of element.
    pub poles: Vec<Pole>,
    /// Highest voltage between any two poles of each system; none where it is not known.
    highest: Vec<Option<f64>>,
    /// The primary or input that feeds each system, by its two terminals; none for a source that a condition switches.
    pub fed_by: Vec<Option<(TerminalRef, TerminalRef)>>,
}

/// The poles of one graph by net.
pub(super) type PolesAt = BTreeMap<NetId, Vec<usize>>;

impl Supply {
    /// The poles of all parts.
    pub fn of(machine: &Machine, bodies: &Bodies) -> Self {
        let mut supply = Self::default();
        for (&part, body) in bodies {
            supply.add_part(part, body, machine.facts.limits);
        }
        supply
    }

    /// The poles on each net of a graph.
    pub fn poles_at(&self, graph: &Graph) -> PolesAt {
        let mut at = PolesAt::new();
        for (pole, what) in self.poles.iter().enumerate() {
            if let Some(net) = graph.net_of_terminal(&what.terminal) {
                at.entry(net).or_default().push(pole);
            }
        }
        at
    }

    /// Volts between two poles: none across systems or where a rating is missing.
    pub fn volts_between(&self, a: usize, b: usize) -> Option<f64> {
        let (a, b) = (self.poles.get(a)?, self.poles.get(b)?);
        let (va, vb) = (a.volts?, b.volts?);
        (a.system == b.system).then(|| (va.0 - vb.0).hypot(va.1 - vb.1))
    }

    /// Whether two poles are of one system and apart from each other.
    pub fn are_opposed(&self, a: usize, b: usize) -> bool {
        match (self.poles.get(a), self.poles.get(b)) {
            (Some(one), Some(other)) if one.system == other.system && one.terminal != other.terminal => {
                self.volts_between(a, b).is_none_or(|volts| volts > 0.0)
            }
            _ => false,
        }
    }

    /// Highest voltage of the pole's system.
    pub fn system_volts(&self, pole: usize) -> Option<f64> {
        self.highest.get(self.poles.get(pole)?.system).copied().flatten()
    }

    /// Whether the pole's system is above the extra-low limit; none where its volts are not known.
    pub fn is_line(&self, pole: usize, limits: HazardLimits) -> Option<bool> {
        let current = self.poles.get(pole)?.current;
        self.system_volts(pole).map(|volts| is_above(volts, current, limits))
    }

    fn add_part(&mut self, part: PartId, body: &Body, limits: HazardLimits) {
        let branches = branches(body);
        let mut left: BTreeSet<usize> = (0..branches.len()).collect();
        while let Some(&first) = left.first() {
            let mut volts: BTreeMap<&str, Option<(f64, f64)>> =
                BTreeMap::from([(branches[first].low, Some((0.0, 0.0)))]);
            let mut members = Vec::new();
            while let Some(&next) =
                left.iter().find(|&&b| volts.contains_key(branches[b].low) || volts.contains_key(branches[b].high))
            {
                left.remove(&next);
                members.push(next);
                let branch = &branches[next];
                let low = volts.get(branch.low).copied();
                let high = volts.get(branch.high).copied();
                let add = |sign: f64, from: Option<(f64, f64)>| {
                    Some((from?.0 + sign * branch.volts?.0, from?.1 + sign * branch.volts?.1))
                };
                match (low, high) {
                    (Some(low), None) => drop(volts.insert(branch.high, add(1.0, low))),
                    (None, Some(high)) => drop(volts.insert(branch.low, add(-1.0, high))),
                    _ => {}
                }
            }
            members.sort_unstable();
            self.add_system(part, &branches, &members, &volts, limits);
        }
    }

    fn add_system(
        &mut self,
        part: PartId,
        branches: &[Branch],
        members: &[usize],
        volts: &BTreeMap<&str, Option<(f64, f64)>>,
        limits: HazardLimits,
    ) {
        let system = self.highest.len();
        let highest = volts.values().try_fold(0.0_f64, |high, &a| {
            volts.values().try_fold(high, |high, &b| {
                let (a, b) = (a?, b?);
                Some(high.max((a.0 - b.0).hypot(a.1 - b.1)))
            })
        });
        self.highest.push(highest);
        let Some(first) = members.first().and_then(|&b| branches.get(b)) else { return };
        let feed = first.fed_by.map(|(a, b)| (TerminalRef::new(part, a), TerminalRef::new(part, b)));
        self.fed_by.push(feed);
        // Where a source of line voltage has no earthed pole, each of its poles is as bad as the other.
        let line = highest.is_none_or(|volts| is_above(volts, first.current, limits));
        let any_earthed = members.iter().any(|&b| branches[b].earthed);
        let both_hot = line && !any_earthed && first.current == Current::Ac;
        let mut markings: Vec<&str> = Vec::new();
        for &member in members {
            for marking in [branches[member].high, branches[member].low] {
                if !markings.contains(&marking) {
                    markings.push(marking);
                }
            }
        }
        for marking in markings {
            let cold = members.iter().any(|&b| branches[b].low == marking && (branches[b].earthed || !any_earthed))
                && !members.iter().any(|&b| branches[b].high == marking);
            self.poles.push(Pole {
                terminal: TerminalRef::new(part, marking),
                system,
                volts: volts.get(marking).copied().flatten(),
                current: first.current,
                hot: both_hot || !cold,
            });
        }
    }
}

/// Whether a voltage is above the limit of extra-low voltage for its kind of current.
pub(super) fn is_above(volts: f64, current: Current, limits: HazardLimits) -> bool {
    match current {
        Current::Ac => volts > limits.extra_low_volts_ac,
        Current::Dc => volts > limits.extra_low_volts_dc,
    }
}

/// `AC` or `DC`.
pub(super) fn word(current: Current) -> &'static str {
    match current {
        Current::Ac => "AC",
        Current::Dc => "DC",
    }
}

/// One element that makes a voltage between two terminals of its part.
struct Branch<'a> {
    high: &'a str,
    low: &'a str,
    volts: Option<(f64, f64)>,
    current: Current,
    earthed: bool,
    fed_by: Option<(&'a str, &'a str)>,
}

fn branches(body: &Body) -> Vec<Branch<'_>> {
    let ratings: &Ratings = &body.ratings;
    let polar = |volts: Option<f64>, share: f64, degrees: f64| {
        let (sin, cos) = degrees.to_radians().sin_cos();
        volts.map(|volts| (volts * share * cos, volts * share * sin))
    };
    body.elements
        .iter()
        .filter_map(|element| {
            Some(match element {
                Element::Source { ends, current, phase_deg, share, earthed } => Branch {
                    high: &ends.0,
                    low: &ends.1,
                    volts: polar(ratings.get(Rating::Volts), *share, *phase_deg),
                    current: *current,
                    earthed: *earthed,
                    fed_by: None,
                },
                Element::Transformer { primary, secondary, share } => Branch {
                    high: &secondary.0,
                    low: &secondary.1,
                    volts: polar(ratings.get(Rating::SecondaryVolts), *share, 0.0),
                    current: Current::Ac,
                    earthed: false,
                    fed_by: Some((&primary.0, &primary.1)),
                },
                Element::DcSupply { input, output } => Branch {
                    high: &output.0,
                    low: &output.1,
                    volts: polar(ratings.get(Rating::SecondaryVolts), 1.0, 0.0),
                    current: Current::Dc,
                    earthed: false,
                    fed_by: Some((&input.0, &input.1)),
                },
                _ => return None,
            })
        })
        .collect()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::machine::Part;
    use crate::quantity::Rated;

    fn supply_of(kind: &str, rating: Rating, volts: f64) -> Supply {
        let mut part = Part { tag: "X1".to_owned(), kind: kind.to_owned(), ..Part::default() };
        part.ratings.set(rating, Rated { value: volts, current: None });
        let mut machine = Machine::default();
        machine.parts.add(part);
        let catalogue = Catalogue::built_in().unwrap();
        let bodies = machine.parts.iter().map(|(id, part)| (id, catalogue.body(part).into())).collect();
        Supply::of(&machine, &bodies)
    }

    fn volts(supply: &Supply, a: &str, b: &str) -> f64 {
        let pole = |marking: &str| supply.poles.iter().position(|p| p.terminal.marking.as_str() == marking).unwrap();
        supply.volts_between(pole(a), pole(b)).unwrap()
    }

    /// IEC 60038: 230/400 V, line to neutral and line to line; North America 120/240 V, three-wire single phase.
    #[test]
    fn voltages_between_poles_are_those_of_the_standard_systems() {
        let three = supply_of("cord-plug-three-phase", Rating::Volts, 400.0);
        for (a, b, expected) in [("L1", "L2", 400.0), ("L2", "L3", 400.0), ("L3", "L1", 400.0), ("L2", "N", 230.0)] {
            assert!((volts(&three, a, b) - expected).abs() < 1.0, "{a} {b}: {}", volts(&three, a, b));
        }
        let split = supply_of("cord-plug-split-phase", Rating::Volts, 240.0);
        for (a, b, expected) in [("L1", "L2", 240.0), ("L1", "N", 120.0), ("L2", "N", 120.0)] {
            assert!((volts(&split, a, b) - expected).abs() < 1e-9, "{a} {b}: {}", volts(&split, a, b));
        }
        let tapped = supply_of("control-transformer-centre-tap", Rating::SecondaryVolts, 24.0);
        assert!((volts(&tapped, "X1", "X3") - 24.0).abs() < 1e-9 && (volts(&tapped, "X1", "X2") - 12.0).abs() < 1e-9);
    }

    #[test]
    fn only_the_neutral_of_a_cord_is_not_hot() {
        let cord = supply_of("cord-plug-split-phase", Rating::Volts, 240.0);
        let cold: Vec<_> =
            cord.poles.iter().filter(|pole| !pole.hot).map(|pole| pole.terminal.marking.as_str()).collect();
        assert_eq!(cold, ["N"]);
    }
}
