//! Conditions, constraints, readings and mysteries of format 1 to the record at work.

use std::collections::BTreeMap;

use crate::machine as m;
use crate::quantity::Value;

use super::super::problem::{Problem, Sort, Step};
use super::disk::File;
use super::log::{Condition, Constraint, Guess, Mystery, Reading, Statement, Subject};
use super::names::{Entry, Names};
use super::short::Pairs;

/// One condition.
pub(super) fn condition(condition: &Condition, at: &mut Entry<'_>) -> m::Condition {
    let names = at.names;
    let mut positions = BTreeMap::new();
    for (word, position) in &condition.positions.0 {
        let path = [Step::from("positions")];
        if let Some(switch) = at.position(&path, word, position)
            && positions.insert(switch, position.clone()).is_some()
        {
            twice("positions", word, at);
        }
    }
    for (word, pulled) in &condition.unmated.0 {
        let position = if *pulled { "pulled" } else { "mated" };
        let message =
            format!("a plug is pulled or mated by its position; write positions: {{\"{word}.mated\": \"{position}\"}}");
        at.complain(&[Step::from("unmated")], Some(word), message);
    }
    m::Condition {
        name: condition.name.clone(),
        derived_from: at.maybe_named("derived_from", condition.derived_from.as_deref(), "condition", &names.conditions),
        sources: said("sources", &condition.sources, at, Entry::part),
        commanded: said("commanded", &condition.commanded, at, Entry::terminal),
        positions,
        lifted: said("lifted", &condition.lifted, at, Entry::end),
        how: condition.how.clone(),
    }
}

fn twice(field: &str, word: &str, at: &mut Entry<'_>) {
    at.complain(&[field.into()], Some(word), format!("'{word}' is given twice in {field}; keep one of them"));
}

/// References and whether they are so.
fn said<'r, K: Ord>(
    field: &str,
    pairs: &Pairs<bool>,
    at: &mut Entry<'r>,
    read: impl Fn(&mut Entry<'r>, &[Step], &str) -> Option<K>,
) -> BTreeMap<K, bool> {
    let mut all = BTreeMap::new();
    let path = [Step::from(field)];
    for (word, yes) in &pairs.0 {
        if let Some(key) = read(at, &path, word)
            && all.insert(key, *yes).is_some()
        {
            twice(field, word, at);
        }
    }
    all
}

/// Conditions that are derived from one another in a circle: each circle is one problem.
pub(super) fn circles(file: &File, names: &Names<'_>, problems: &mut Vec<Problem>) {
    let parent: Vec<Option<usize>> = file
        .conditions
        .iter()
        .map(|condition| {
            let id = names.conditions.get(condition.derived_from.as_deref()?)?;
            usize::try_from(id.0).ok()
        })
        .collect();
    // 0: not seen; else the walk on which it was seen first.
    let mut seen = vec![0_usize; parent.len()];
    for start in 0..parent.len() {
        let mut next = Some(start);
        let mut walk = Vec::new();
        while let Some(at) = next.filter(|&at| seen.get(at) == Some(&0)) {
            seen[at] = start + 1;
            walk.push(at);
            next = parent[at];
        }
        let Some(back) = next.and_then(|at| walk.iter().position(|&walked| walked == at)) else { continue };
        let circle: Vec<&str> = walk[back..].iter().map(|&at| file.conditions[at].name.as_str()).collect();
        let message = if let [one] = circle.as_slice() {
            format!("condition {one} is derived from itself; take 'derived_from' out")
        } else {
            format!(
                "conditions {} are derived from one another in a circle; take one 'derived_from' out",
                circle.join(", ")
            )
        };
        problems.push(Problem {
            path: vec!["conditions".into(), walk[back].into(), "derived_from".into()],
            word: None,
            message,
            first: None,
            sort: Sort::Broken,
        });
    }
}

fn statement(path: &[Step], statement: &Statement, at: &mut Entry<'_>) -> Option<m::Statement> {
    match statement {
        Statement::SourceOn(part) => at.part(path, part).map(m::Statement::SourceOn),
        Statement::Commanded(terminal) => at.terminal(path, terminal).map(m::Statement::Commanded),
        Statement::Position(switch, position) => {
            let (part, switch) = at.position(path, switch, position)?;
            Some(m::Statement::Position(part, switch, position.clone()))
        }
    }
}

/// One constraint; none when a statement of it cannot be understood.
pub(super) fn constraint(constraint: &Constraint, at: &mut Entry<'_>) -> Option<m::Constraint> {
    match constraint {
        Constraint::NeverBoth(all) => {
            if all.len() < 2 {
                at.complain(&[], None, "never_both needs two statements or more");
            }
            let mut read = Vec::with_capacity(all.len());
            for (index, one) in all.iter().enumerate() {
                read.extend(statement(&[0.into(), index.into()], one, at));
            }
            Some(m::Constraint::NeverBoth(read))
        }
        Constraint::OnlyWhen(this, that) => {
            let (this, that) = (statement(&[0.into()], this, at), statement(&[1.into()], that, at));
            Some(m::Constraint::OnlyWhen(this?, that?))
        }
        Constraint::Always(this) => Some(m::Constraint::Always(statement(&[0.into()], this, at)?)),
    }
}

/// One reading.
pub(super) fn reading(reading: &Reading, at: &mut Entry<'_>) -> m::Reading {
    let names = at.names;
    let spot = |field: &str, word: &str, at: &mut Entry<'_>| {
        at.spot(&[field.into()], word).unwrap_or_else(|| m::Spot::Gone(word.to_owned()))
    };
    m::Reading {
        name: reading.name.clone(),
        red: spot("red", &reading.red, at),
        black: reading.black.as_deref().map(|word| spot("black", word, at)),
        value: reading.value.parse().unwrap_or_else(|error: crate::quantity::QuantityError| {
            at.complain(&["value".into()], None, error.to_string());
            Value::NoTone
        }),
        condition: at.maybe_named("condition", reading.condition.as_deref(), "condition", &names.conditions),
        meter: at.maybe_named("meter", reading.meter.as_deref(), "meter", &names.meters),
        when: reading.when.clone(),
        who: reading.who.clone(),
        visit: at.maybe_named("visit", reading.visit.as_deref(), "visit", &names.visits),
        note: reading.note.clone(),
    }
}

/// One mystery.
pub(super) fn mystery(mystery: &Mystery, at: &mut Entry<'_>) -> m::Mystery {
    let path = [Step::from("subject")];
    let mut of_kind = false;
    let subject = match &mystery.subject {
        Subject::End(word) => at.end(&path, word).map(|(wire, side)| m::Subject::End(wire, side)),
        Subject::CoilDriver(part) => at.part(&path, part).map(m::Subject::CoilDriver),
        Subject::ContactForm(terminal) => at.terminal(&path, terminal).map(m::Subject::ContactForm),
        Subject::Kind(part) => {
            of_kind = true;
            at.part(&path, part).map(m::Subject::Kind)
        }
        Subject::Fault(word) => at.spot(&path, word).map(m::Subject::Fault),
    };
    let mut candidates = Vec::with_capacity(mystery.candidates.len());
    for (index, candidate) in mystery.candidates.iter().enumerate() {
        let path = |field: &str| vec![Step::from("candidates"), index.into(), field.into()];
        let guess = guess(&candidate.guess, &path("guess"), of_kind, at);
        if let (Some(m::Guess::Named(name)), Some(subject)) = (&guess, &subject) {
            check_state(subject, name, &path("guess"), at);
        }
        let weight = at.positive(&path("weight"), candidate.weight.0);
        let mut never_with = Vec::with_capacity(candidate.never_with.len());
        for (number, (name, other)) in candidate.never_with.iter().enumerate() {
            let mut path = path("never_with");
            path.push(number.into());
            let id = at.named(&path, name, name, "mystery", &at.names.mysteries);
            never_with.extend(id.zip(self::guess(other, &path, false, at)));
        }
        candidates.extend(guess.map(|guess| m::Candidate { guess, weight, never_with }));
    }
    m::Mystery {
        name: mystery.name.clone(),
        // What cannot be found has been complained about, and the record is not handed out.
        subject: subject.unwrap_or_else(|| m::Subject::Fault(m::Spot::Gone(mystery.name.clone()))),
        candidates,
        one_of_each: mystery.one_of_each.clone(),
        note: mystery.note.clone(),
    }
}

fn guess(guess: &Guess, path: &[Step], of_kind: bool, at: &mut Entry<'_>) -> Option<m::Guess> {
    match guess {
        Guess::Terminal(word) => at.terminal(path, word).map(m::Guess::Terminal),
        Guess::Nowhere => Some(m::Guess::Nowhere),
        Guess::Named(name) => {
            if of_kind {
                at.check_kind(path, name);
            }
            Some(m::Guess::Named(name.clone()))
        }
    }
}

/// Complains about a form or fault by a name that means nothing.
fn check_state(subject: &m::Subject, name: &str, path: &[Step], at: &mut Entry<'_>) {
    let states = subject.states();
    if states.is_empty() || states.contains(&name) {
        return;
    }
    let advice = format!("write one of: {}", states.join(", "));
    at.complain(path, Some(name), format!("'{name}' is no answer to this mystery; {advice}"));
}
