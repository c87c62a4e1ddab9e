//! Undocumented retrofits: look-alike relays that somebody put in, leads that go out of sight, a fault or two, and apart from
//! the record as found what is really there.
//!
//! For practice, and for tests that let something find out what it is not told. The truth is built first; the record as found is
//! made from it by hiding, so that nothing of the truth can be left in it by mistake. What a hidden lead looks like says nothing
//! about where it goes.

use std::collections::BTreeMap;
use std::sync::Arc;

use crate::machine::{
    Candidate, EndAt, Facts, Guess, Habits, Known, Machine, Mystery, MysteryId, Side, Spot, Subject, TerminalRef,
    WireId,
};

use super::random::Random;
use super::rebuild::{Rebuilt, rebuilt};

/// Look-alike relays at least and at most.
pub const RETROFIT_RELAYS: (u16, u16) = (2, 6);
/// Mysteries at least and at most.
pub const RETROFIT_MYSTERIES: (usize, usize) = (3, 12);

/// How large a retrofit is.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Size {
    /// Look-alike relays, within [`RETROFIT_RELAYS`].
    pub relays: u16,
    /// Mysteries wanted, within [`RETROFIT_MYSTERIES`]; where the relays do not give so many there are fewer.
    pub mysteries: usize,
    /// Branches of a switch and a load beside it that are documented and have nothing to do with it.
    pub beside: u16,
}

impl Size {
    /// A size that fits the seed: any number of relays and mysteries, nothing beside.
    pub fn of_seed(seed: u64) -> Self {
        let mut random = Random::from_seed(seed ^ 0x5153_4945);
        let relays = random.pick(&[2, 3, 3, 4, 4, 5, 6]).copied().unwrap_or(3);
        let more = random.pick(&[1, 2, 3, 4, 5, 6]).copied().unwrap_or(3);
        Self { relays, mysteries: usize::from(relays) + more, beside: 0 }
    }
}

/// A retrofit: what a technician finds, and what is there.
#[derive(Debug, Clone, PartialEq)]
pub struct Retrofit {
    /// The record as found, with its mysteries. Nothing of the truth is in it.
    pub record: Machine,
    /// What is there.
    pub truth: Truth,
}

/// What is really there.
#[derive(Debug, Clone, PartialEq)]
pub struct Truth {
    /// The completed record: every end is placed. Forms that differ from the kind, and faults, are mysteries in it that have one
    /// candidate only, so that it can be written down and opened like any record.
    pub record: Machine,
    /// What is faulty, in the record's own words: `open` or `welded`.
    pub faults: Vec<(Spot, &'static str)>,
    /// For each mystery of the record as found, the number of the candidate that is right.
    pub answers: BTreeMap<MysteryId, usize>,
}

/// Something that is left out of the record as found.
pub(super) struct Hidden {
    pub(super) name: String,
    pub(super) subject: Subject,
    pub(super) guesses: Vec<Guess>,
    /// The number of the guess that is right.
    pub(super) right: usize,
    pub(super) set: Option<&'static str>,
}

/// An invented retrofit, the same for the same seed and size for ever. Its parts are of kinds that the built-in catalogue has.
pub fn retrofit(seed: u64, size: Size) -> Retrofit {
    let size = Size {
        relays: size.relays.clamp(RETROFIT_RELAYS.0, RETROFIT_RELAYS.1),
        mysteries: size.mysteries.clamp(RETROFIT_MYSTERIES.0, RETROFIT_MYSTERIES.1),
        ..size
    };
    let Rebuilt { mut machine, hidden, mut random, title, north_america } = rebuilt(seed, size);
    machine.facts = Facts {
        title: format!("{title}, seed {seed}"),
        habits: if north_america { Habits::NorthAmerica } else { Habits::Iec },
        source: "invented".to_owned(),
        note: "Made by a program for practice and tests; no such machine exists.".to_owned(),
        ..Facts::default()
    };
    let mut record = machine.clone();
    let mut truth = Truth { record: machine, faults: Vec::new(), answers: BTreeMap::new() };
    let hidden = in_any_order(hidden, &mut random);
    for one in hidden {
        // A hunch of whoever wrote the record down is as likely wrong as any.
        let hunch = random.happens(20).then(|| random.pick(&one.guesses).cloned()).flatten();
        let weight = |guess: &Guess| match (&one.subject, guess) {
            (Subject::Fault(_), Guess::Named(state)) if state == "ok" => 5.0,
            _ if hunch.as_ref() == Some(guess) => 2.0,
            _ => 1.0,
        };
        let candidates: Vec<Candidate> =
            one.guesses.iter().map(|guess| Candidate::new(guess.clone(), weight(guess))).collect();
        hide(&mut record, &one.subject);
        let right = one.guesses.get(one.right).cloned();
        let mystery = Mystery {
            name: one.name,
            subject: one.subject.clone(),
            candidates,
            one_of_each: one.set.map(str::to_owned),
            note: String::new(),
        };
        let id = record.mysteries.add(mystery.clone());
        truth.answers.insert(id, one.right);
        if let Some(Guess::Named(word)) = right {
            truth.settle(mystery, word);
        }
    }
    Retrofit { record, truth }
}

impl Truth {
    /// Puts down a form or a fault.
    fn settle(&mut self, mut mystery: Mystery, word: String) {
        if let Subject::Fault(spot) = &mystery.subject {
            match word.as_str() {
                "open" => self.faults.push((spot.clone(), "open")),
                "welded" => self.faults.push((spot.clone(), "welded")),
                _ => return,
            }
        }
        mystery.candidates = vec![Candidate::new(Guess::Named(word), 1.0)];
        mystery.one_of_each = None;
        self.record.mysteries.add(mystery);
    }
}

/// Takes out of a record what its subject would give away.
fn hide(record: &mut Machine, subject: &Subject) {
    match subject {
        Subject::End(wire, side) => {
            let (wire, side) = (*wire, *side);
            let Some(mut entry) = record.wires.get(wire).cloned() else { return };
            let end = entry.end_mut(side);
            end.at = EndAt::Unknown;
            end.known = Known::Seen;
            record.wires.put(wire, Some(Arc::new(entry)));
        }
        // Which output works it: the lead to the coil was not seen at all.
        Subject::CoilDriver(part) => {
            let lead = record.wires.iter().find(|(_, wire)| {
                wire.note == UNSEEN && matches!(&wire.from.at, EndAt::Terminal(terminal) if terminal.part == *part)
            });
            if let Some(id) = lead.map(|(id, _)| id) {
                record.wires.put(id, None);
            }
        }
        Subject::ContactForm(_) | Subject::Kind(_) | Subject::Fault(_) => {}
    }
}

/// The note of a lead that is in the truth only.
pub(super) const UNSEEN: &str = "Behind the panel, not seen.";

fn in_any_order<T>(mut all: Vec<T>, random: &mut Random) -> Vec<T> {
    let mut mixed = Vec::new();
    while !all.is_empty() {
        let count = u64::try_from(all.len()).unwrap_or(1);
        let at = usize::try_from(random.next() % count).unwrap_or(0);
        mixed.push(all.swap_remove(at));
    }
    mixed
}

/// A lead whose far end is not known, with the terminals it may go to.
pub(super) fn far_end(
    name: String,
    lead: WireId,
    to: &[TerminalRef],
    right: usize,
    set: Option<&'static str>,
) -> Hidden {
    let guesses = to.iter().cloned().map(Guess::Terminal).collect();
    Hidden { name, subject: Subject::End(lead, Side::To), guesses, right, set }
}
