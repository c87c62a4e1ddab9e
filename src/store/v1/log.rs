//! Conditions, constraints, readings and mysteries of format 1 as they lie on disk.

use serde::{Deserialize, Serialize};

use super::short::{Num, Pairs, is_default};

/// A condition.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Condition {
    pub name: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub derived_from: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub sources: Pairs<bool>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub commanded: Pairs<bool>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub positions: Pairs<String>,
    /// Read only to say how a pulled plug is written.
    #[serde(default, skip_serializing)]
    pub unmated: Pairs<bool>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub lifted: Pairs<bool>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub how: String,
}

/// Something that can be so or not in a condition.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Statement {
    SourceOn(String),
    Commanded(String),
    Position(String, String),
}

/// What conditions can occur at all.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Constraint {
    NeverBoth(Vec<Statement>),
    OnlyWhen(Statement, Statement),
    Always(Statement),
}

/// A reading.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Reading {
    pub name: String,
    pub red: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub black: Option<String>,
    pub value: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub condition: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub meter: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub when: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub who: String,
    #[serde(default, skip_serializing_if = "is_default")]
    pub visit: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

/// A mystery.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Mystery {
    pub name: String,
    pub subject: Subject,
    #[serde(default, skip_serializing_if = "is_default")]
    pub candidates: Vec<Candidate>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub one_of_each: Option<String>,
    #[serde(default, skip_serializing_if = "is_default")]
    pub note: String,
}

/// What a mystery is about.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Subject {
    End(String),
    CoilDriver(String),
    ContactForm(String),
    Kind(String),
    Fault(String),
}

/// One thing it may be.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(deny_unknown_fields)]
pub(super) struct Candidate {
    pub guess: Guess,
    #[serde(default = "one", skip_serializing_if = "is_one")]
    pub weight: Num,
    #[serde(default, skip_serializing_if = "is_default")]
    pub never_with: Vec<(String, Guess)>,
}

fn one() -> Num {
    Num(1.0)
}

#[expect(clippy::trivially_copy_pass_by_ref, reason = "the form serde asks for")]
fn is_one(weight: &Num) -> bool {
    *weight == one()
}

/// A guess.
#[derive(Debug, PartialEq, Serialize, Deserialize)]
#[serde(rename_all = "snake_case")]
pub(super) enum Guess {
    Terminal(String),
    Nowhere,
    Named(String),
}
