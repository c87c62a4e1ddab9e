//! What is not known, with its candidates.

use super::ids::{MysteryId, PartId, WireId};
use super::spot::{Side, Spot, TerminalRef};

/// Something not known.
#[derive(Debug, Clone, PartialEq)]
pub struct Mystery {
    /// Name, unique among mysteries.
    pub name: String,
    /// What is not known.
    pub subject: Subject,
    /// What it may be.
    pub candidates: Vec<Candidate>,
    /// Mysteries with the same set name cannot have the same answer: one of each.
    pub one_of_each: Option<String>,
    /// Anything else.
    pub note: String,
}

/// What a mystery is about.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Subject {
    /// Where an end of a wire belongs.
    End(WireId, Side),
    /// Which output works a coil of this part.
    CoilDriver(PartId),
    /// Which form the contact at this terminal has.
    ContactForm(TerminalRef),
    /// What kind of part it is.
    Kind(PartId),
    /// Whether this is faulty.
    Fault(Spot),
}

/// One thing it may be.
#[derive(Debug, Clone, PartialEq)]
pub struct Candidate {
    /// The guess.
    pub guess: Guess,
    /// Weight before any reading, above 0; only the ratios count.
    pub weight: f64,
    /// Answers of other mysteries that cannot be right together with this one.
    pub never_with: Vec<(MysteryId, Guess)>,
}

impl Candidate {
    /// A guess with a weight, whatever other mysteries turn out to be.
    pub fn new(guess: Guess, weight: f64) -> Self {
        Self { guess, weight, never_with: Vec::new() }
    }
}

impl Subject {
    /// The words a named guess at it can have; empty where it takes terminals, or a kind of the catalogue.
    pub fn states(&self) -> &'static [&'static str] {
        match self {
            Self::ContactForm(_) => &["make", "break"],
            Self::Fault(_) => &["ok", "open", "welded"],
            Self::End(..) | Self::CoilDriver(_) | Self::Kind(_) => &[],
        }
    }
}

/// A guess at the answer of a mystery.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord)]
pub enum Guess {
    /// It is this terminal.
    Terminal(TerminalRef),
    /// It goes nowhere.
    Nowhere,
    /// It is this form, kind or state, by its name.
    Named(String),
}
