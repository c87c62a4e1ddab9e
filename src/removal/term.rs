//! What is free in a machine: its variables, and when an edge conducts as a function of them.

use crate::machine::{MysteryId, PartId, Side, TerminalRef, WireId};

/// Something that can be one way or the other.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub(super) enum Var {
    /// The sources of a part are on.
    Source(PartId),
    /// An output is commanded.
    Output(TerminalRef),
    /// One bit of the position of a switch.
    Switch(PartId, String, usize),
    /// A relay is worked, by its place among the network's.
    Relay(usize),
    /// An end that is off for now is landed again.
    Landed(WireId, Side),
    /// An assumed or disputed end is where the record has it.
    Assumed(WireId, Side),
    /// The answer of a mystery is this candidate.
    Candidate(MysteryId, usize),
    /// A suspected fault is there.
    Fault(MysteryId, usize),
    /// A wire or contact that readings dispute is open, by its name.
    Disputed(String),
    /// The form of a contact is the other one.
    Form(MysteryId),
    /// Pins of a part that nobody knows carry or join something.
    Unknown(PartId),
}

impl Var {
    /// What the record has; `None` for what is really free to change.
    pub(super) fn nominal(&self) -> Option<bool> {
        match self {
            Self::Source(_) | Self::Output(_) | Self::Switch(..) | Self::Relay(_) | Self::Landed(..) => None,
            Self::Assumed(..) => Some(true),
            Self::Candidate(..) | Self::Fault(..) | Self::Disputed(_) | Self::Form(_) | Self::Unknown(_) => Some(false),
        }
    }
}

/// Variables that must have these values, all of them.
pub(super) type Cube = Vec<(usize, bool)>;

/// When something conducts: any of these cubes. No cube: never; an empty one: always.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub(super) struct Cond(pub(super) Vec<Cube>);

impl Cond {
    pub(super) fn always() -> Self {
        Self(vec![Vec::new()])
    }

    pub(super) fn never() -> Self {
        Self(Vec::new())
    }

    pub(super) fn lit(var: usize, value: bool) -> Self {
        Self(vec![vec![(var, value)]])
    }

    pub(super) fn is_always(&self) -> bool {
        self.0.iter().any(Vec::is_empty)
    }

    pub(super) fn is_never(&self) -> bool {
        self.0.is_empty()
    }

    /// And this literal.
    pub(super) fn and(mut self, var: usize, value: bool) -> Self {
        for cube in &mut self.0 {
            cube.push((var, value));
        }
        self
    }

    /// Or all of these.
    pub(super) fn or(mut self, other: Self) -> Self {
        self.0.extend(other.0);
        self
    }

    pub(super) fn holds(&self, bits: &[bool]) -> bool {
        self.0.iter().any(|cube| cube.iter().all(|&(var, value)| bits.get(var) == Some(&value)))
    }

    pub(super) fn vars(&self) -> impl Iterator<Item = usize> + '_ {
        self.0.iter().flatten().map(|(var, _)| *var)
    }

    /// With variables of which the value is fixed put in.
    pub(super) fn fixed(&self, value: &dyn Fn(usize) -> Option<bool>) -> Self {
        let cubes = self.0.iter().filter_map(|cube| {
            let mut left = Vec::with_capacity(cube.len());
            for &(var, wanted) in cube {
                match value(var) {
                    Some(is) if is != wanted => return None,
                    Some(_) => {}
                    None => left.push((var, wanted)),
                }
            }
            Some(left)
        });
        let cubes: Vec<Cube> = cubes.collect();
        if cubes.iter().any(Vec::is_empty) { Self::always() } else { Self(cubes) }
    }

    /// With variables renumbered.
    pub(super) fn renumbered(&mut self, to: &[usize]) {
        for (var, _) in self.0.iter_mut().flatten() {
            *var = to.get(*var).copied().unwrap_or(*var);
        }
    }
}

/// At least one of these literals holds in every condition that can occur.
pub(super) type Clause = Vec<(usize, bool)>;
