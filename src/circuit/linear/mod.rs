//! Linear networks at one frequency: volts, amps and impedances of branches between numbered nodes.
//!
//! Knows nothing of machines. Sinusoidal steady state at one angular frequency; ω = 0 is direct current. Volts and amps are
//! phasors in whatever measure the sources are given in (this program gives root mean square). A current is counted
//! from a branch's first node to its second.
//!
//! # How
//! 1. Ideal wires are merged into nets ([`Branch::Wire`], an inductor at ω = 0, zero ohms). They never meet a matrix.
//! 2. Ideal voltage sources tie nets into groups of known differences, by a union-find that carries the difference; a loop of
//!    such sources either agrees (then how they share the current is not determined) or is a conflict.
//! 3. Islands are the pieces that conducting branches and ideal sources hold together. Each has its own reference, the group
//!    with the most branches. There are no volts between islands, and no hidden leak that would make some.
//! 4. What is left of an island without its reference falls into pockets that know nothing of each other (transformers hold
//!    their two sides in one). For each pocket, nodal analysis with one row more for each ideal transformer:
//!
//!    ```text
//!    [ Y  B ] [v]   [j]      Y: admittances, B: +1 −1 at the primary, −n +n at the secondary,
//!    [ Bᵀ 0 ] [i] = [0]      j: what sources inject, i: current into the primary
//!    ```
//!    It is symmetric, so the reading of a source at one place by a meter at another is the reading the other way round, and one
//!    more solve gives all sensitivities: ∂V(p,q)/∂g = −V·V̂ with V̂ from one ampere through p and q.
//! 5. Rows and columns are equilibrated (10 mΩ stands beside 10 MΩ), the factors are faer's sparse LU (dense for small
//!    pockets), each solution is refined once.
//! 6. The factors are not trusted: values must be finite, Kirchhoff's current law must hold at every node in amps, and where
//!    inductance meets capacitance a tiny change of frequency must not change the answer (else it is a resonance). What fails
//!    is [`Reason`], never a number.
//!
//! A pocket is factored and solved when something of it is first asked for: one reading asks for one or two of a machine's dozens. Where
//! many networks differ in a lead or two, [`Kept`] takes pockets over that were solved before.
//!
//! A changed branch ([`Factored::with`]) is a low-rank correction (Sherman, Morrison and Woodbury): one solve in the pocket it
//! stands in. Where it joins or parts islands everything is solved anew.

mod coupling;
mod factored;
mod kept;
mod matrix;
mod pocket;
mod reduce;
mod topology;
mod update;

pub use factored::{Factored, Field};
pub use kept::Kept;

/// Ohms above this are open, below its inverse a wire; volts and amps above it are refused. Far outside what there is, and near
/// enough for squares to stay numbers.
const VAST: f64 = 1e60;

/// A complex amplitude.
pub type Phasor = faer::c64;

/// What stands between two nodes.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Branch {
    /// An ideal conductor.
    Wire,
    /// Nothing; keeps its number.
    Open,
    /// Ohms; zero is a wire, infinite is open.
    Resistor {
        /// Resistance.
        ohms: f64,
    },
    /// Henries; a wire at ω = 0.
    Inductor {
        /// Inductance.
        henries: f64,
    },
    /// Farads; open at ω = 0.
    Capacitor {
        /// Capacitance.
        farads: f64,
    },
    /// An impedance at the frequency in question.
    Impedance {
        /// Ohms, resistance and reactance.
        ohms: Phasor,
    },
    /// A voltage source, the first node positive, with its own resistance (zero: ideal).
    Voltage {
        /// Volts without load, first node against second.
        volts: Phasor,
        /// Own resistance in ohms.
        ohms: f64,
    },
    /// A current source: so many amps into the first node, out of the second.
    Current {
        /// Amps.
        amps: Phasor,
    },
}

/// An ideal transformer: `v(primary) = ratio · v(secondary)`, sides separate. Its windings' impedances are branches of their own.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Transformer {
    /// Primary ends.
    pub primary: [u32; 2],
    /// Secondary ends.
    pub secondary: [u32; 2],
    /// Primary turns over secondary turns.
    pub ratio: f64,
}

/// A network.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Circuit {
    /// Nodes are `0..nodes`; branches that name others count as open.
    pub nodes: u32,
    /// First node, second node, what is between.
    pub branches: Vec<(u32, u32, Branch)>,
    /// Ideal transformers.
    pub transformers: Vec<Transformer>,
}

/// Why there is no number.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Reason {
    /// The two nodes hang together by nothing that conducts.
    SeparateIslands,
    /// An ideal source's two ends are on one net: a short.
    Shorted,
    /// Ideal sources in a loop do not agree.
    Conflict,
    /// A current source has no way back.
    NoWayBack,
    /// Inductance and capacitance resonate without loss.
    Resonance,
    /// Ideal sources, or wires, side by side: how they share the current is not determined.
    Shared,
    /// The equations have no answer that stands up to the laws of Kirchhoff.
    Unsolved,
    /// A source on it has no recorded volts. Never said by the solver itself, which is given numbers: by who asks it.
    Unrecorded,
    /// A rectifier makes something of alternating voltage there that is not computed. Said by who asks, too.
    Rectified,
    /// Two supplies whose phases to each other are not recorded lie between the two. Said by who asks.
    Phases,
    /// A value of the branch is not a number, or the branch or node does not exist.
    NotANumber,
}

impl Reason {
    /// As a sentence without its full stop.
    pub fn words(self) -> &'static str {
        match self {
            Self::SeparateIslands => "nothing that conducts joins the two",
            Self::Shorted => "a source is shorted",
            Self::Conflict => "sources with different volts are joined",
            Self::NoWayBack => "a current has no way back",
            Self::Resonance => "inductance and capacitance resonate",
            Self::Shared => "sources stand side by side; how they share the current is not determined",
            Self::Unsolved => "the equations have no answer that stands up",
            Self::Unrecorded => "a source's volts are not recorded",
            Self::Rectified => "what a rectifier makes of alternating voltage is not computed",
            Self::Phases => "two supplies whose phases to each other are not recorded lie between the two",
            Self::NotANumber => "a value is not a number",
        }
    }
}

/// A number, or why there is none.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Answer<T> {
    /// Determined.
    Known(T),
    /// Not determined.
    Undetermined(Reason),
}

impl<T> Answer<T> {
    /// The number, where there is one.
    pub fn known(self) -> Option<T> {
        match self {
            Self::Known(value) => Some(value),
            Self::Undetermined(_) => None,
        }
    }

    /// The number turned into another answer.
    pub fn and_then<U>(self, with: impl FnOnce(T) -> Answer<U>) -> Answer<U> {
        match self {
            Self::Known(value) => with(value),
            Self::Undetermined(reason) => Answer::Undetermined(reason),
        }
    }

    /// The number turned into another.
    pub fn map<U>(self, with: impl FnOnce(T) -> U) -> Answer<U> {
        match self {
            Self::Known(value) => Answer::Known(with(value)),
            Self::Undetermined(reason) => Answer::Undetermined(reason),
        }
    }
}

/// Something wrong with a network, and the branches that make it so.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Remark {
    /// What is wrong.
    pub reason: Reason,
    /// The branches involved, ascending. A short names the source and the wires that close it.
    pub branches: Vec<usize>,
}

impl Branch {
    /// What it is at this frequency.
    fn at(self, omega: f64) -> Part {
        let impedance = |z: Phasor| {
            if z.re.is_nan() || z.im.is_nan() {
                Part::Bad
            } else if z.l1_norm() > VAST {
                Part::Open
            } else if z.l1_norm() < 1.0 / VAST {
                Part::Wire
            } else {
                Part::Conducts(z.inv())
            }
        };
        let sane = |value: Phasor| value.l1_norm() <= VAST;
        match self {
            Self::Wire => Part::Wire,
            Self::Open => Part::Open,
            Self::Resistor { ohms } => impedance(Phasor::new(ohms, 0.0)),
            Self::Inductor { henries } => impedance(Phasor::new(0.0, omega * henries)),
            Self::Capacitor { farads } => {
                // Open at ω = 0: minus one over zero is infinite.
                let susceptance = omega * farads;
                if susceptance.is_infinite() { Part::Wire } else { impedance(Phasor::new(0.0, -1.0 / susceptance)) }
            }
            Self::Impedance { ohms } => impedance(ohms),
            Self::Voltage { volts, ohms } => match impedance(Phasor::new(ohms, 0.0)) {
                _ if !sane(volts) => Part::Bad,
                Part::Wire => Part::Holds(volts),
                Part::Conducts(siemens) => Part::Drives(siemens, siemens * volts),
                other => other,
            },
            Self::Current { amps } if sane(amps) => Part::Injects(amps),
            Self::Current { .. } => Part::Bad,
        }
    }
}

/// A branch at one frequency.
#[derive(Debug, Clone, Copy, PartialEq)]
enum Part {
    /// Merged.
    Wire,
    /// Left out.
    Open,
    /// An admittance in siemens.
    Conducts(Phasor),
    /// An ideal source of so many volts.
    Holds(Phasor),
    /// An admittance with a current source beside it, into the first node.
    Drives(Phasor, Phasor),
    /// A current source into the first node.
    Injects(Phasor),
    /// Not a number.
    Bad,
}

impl Part {
    /// Its admittance, where it has one.
    fn admittance(self) -> Option<Phasor> {
        match self {
            Self::Conducts(siemens) | Self::Drives(siemens, _) => Some(siemens),
            _ => None,
        }
    }

    /// Amps it injects into its first node whatever the volts.
    fn injection(self) -> Phasor {
        match self {
            Self::Drives(_, amps) | Self::Injects(amps) => amps,
            _ => Phasor::new(0.0, 0.0),
        }
    }
}
