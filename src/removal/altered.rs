//! What differs between two records of one machine, thing by thing, so that a drawing can mark it. The words are in `compare`.

use std::collections::{BTreeMap, BTreeSet};

use crate::machine::{Machine, Part, Reading, Side, Wire, WireState};

/// How something differs.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Altered {
    /// Only the later record has it, or has it in its place.
    Added,
    /// Only the earlier record has it, or it is taken out in the later one.
    Removed,
    /// It is somewhere else, lifted, or landed again.
    Moved,
    /// Its marking, number or colour is another.
    ReMarked,
    /// It was read, or reads otherwise.
    ReRead,
    /// Something else about it.
    Changed,
}

impl Altered {
    /// For people.
    pub fn words(self) -> &'static str {
        match self {
            Self::Added => "added",
            Self::Removed => "removed",
            Self::Moved => "moved",
            Self::ReMarked => "re-marked",
            Self::ReRead => "re-read",
            Self::Changed => "changed",
        }
    }
}

/// What differs, by the name that both records know it by.
#[derive(Debug, Clone, PartialEq, Eq, PartialOrd, Ord, Hash)]
pub enum Of {
    /// A part, by its tag.
    Part(String),
    /// A wire, by its key.
    Wire(String),
    /// A reading, by its name.
    Reading(String),
}

/// Everything that differs from the earlier to the later record.
pub fn altered(old: &Machine, new: &Machine) -> BTreeMap<Of, BTreeSet<Altered>> {
    let mut all: BTreeMap<Of, BTreeSet<Altered>> = BTreeMap::new();
    let mut say = |of: Of, how: Vec<Altered>| {
        if !how.is_empty() {
            all.entry(of).or_default().extend(how);
        }
    };
    let parts = |machine: &'_ Machine| -> BTreeMap<String, Part> {
        machine.parts.values().map(|part| (part.tag.clone(), part.clone())).collect()
    };
    for (tag, pair) in paired(parts(old), parts(new)) {
        say(Of::Part(tag), both(pair, part));
    }
    // A wire that is taken out counts as gone.
    let wires = |machine: &'_ Machine| -> BTreeMap<String, (Ends, Wire)> {
        let there = machine.wires.values().filter(|wire| wire.state != WireState::Removed);
        there.map(|wire| (wire.key.clone(), (Ends::of(machine, wire), wire.clone()))).collect()
    };
    for (key, pair) in paired(wires(old), wires(new)) {
        say(Of::Wire(key), both(pair, wire));
    }
    let readings = |machine: &'_ Machine| -> BTreeMap<String, (String, Reading)> {
        let places = |reading: &Reading| {
            let black = reading.black.as_ref().map(|spot| machine.spot_name(spot)).unwrap_or_default();
            format!("{} {black}", machine.spot_name(&reading.red))
        };
        machine.readings.values().map(|one| (one.name.clone(), (places(one), one.clone()))).collect()
    };
    for (name, (then, now)) in paired(readings(old), readings(new)) {
        let how = match (then, now) {
            (Some(_), None) => vec![Altered::Removed],
            (Some((at, then)), Some((place, now))) if at == place && then.value == now.value => Vec::new(),
            _ => vec![Altered::ReRead],
        };
        say(Of::Reading(name), how);
    }
    all
}

/// The names of where the two ends are.
type EndNames = [String; 2];

/// Where the ends of a wire are, by name, since numbers of parts may differ between records.
#[derive(PartialEq)]
struct Ends(EndNames);

impl Ends {
    fn of(machine: &Machine, wire: &Wire) -> Self {
        Self(Side::BOTH.map(|side| machine.end_name(&wire.end(side).at)))
    }
}

/// An entry by its name, as the earlier record has it and as the later one does.
type Pair<T> = (String, (Option<T>, Option<T>));

fn paired<T>(old: BTreeMap<String, T>, mut new: BTreeMap<String, T>) -> Vec<Pair<T>> {
    let mut all: Vec<Pair<T>> = old
        .into_iter()
        .map(|(name, then)| {
            let now = new.remove(&name);
            (name, (Some(then), now))
        })
        .collect();
    all.extend(new.into_iter().map(|(name, now)| (name, (None, Some(now)))));
    all
}

fn both<T>(pair: (Option<T>, Option<T>), differ: impl Fn(&T, &T) -> Vec<Altered>) -> Vec<Altered> {
    match pair {
        (Some(then), Some(now)) => differ(&then, &now),
        (Some(_), None) => vec![Altered::Removed],
        (None, Some(_)) => vec![Altered::Added],
        (None, None) => Vec::new(),
    }
}

fn part(then: &Part, now: &Part) -> Vec<Altered> {
    let mut how = Vec::new();
    if then.mounting != now.mounting {
        let gone = now.mounting == crate::machine::Mounting::Missing;
        let was_gone = then.mounting == crate::machine::Mounting::Missing;
        how.push(match (was_gone, gone) {
            (false, true) => Altered::Removed,
            (true, false) => Altered::Added,
            _ => Altered::Changed,
        });
    }
    if then.pose != now.pose {
        how.push(Altered::Moved);
    }
    if then.printed != now.printed || then.terminals != now.terminals {
        how.push(Altered::ReMarked);
    }
    let rest = |part: &Part| Part {
        mounting: now.mounting,
        pose: now.pose,
        printed: None,
        terminals: std::collections::BTreeMap::new(),
        crop: None,
        ..part.clone()
    };
    if rest(then) != rest(now) {
        how.push(Altered::Changed);
    }
    how
}

fn wire((at, then): &(Ends, Wire), (is_at, now): &(Ends, Wire)) -> Vec<Altered> {
    let mut how = Vec::new();
    let lifted = |wire: &Wire| [wire.from.lifted, wire.to.lifted];
    if at != is_at || lifted(then) != lifted(now) {
        how.push(Altered::Moved);
    }
    if then.number != now.number || then.colour != now.colour {
        how.push(Altered::ReMarked);
    }
    let ends = |wire: &Wire| [&wire.from, &wire.to].map(|end| (end.known, end.lug));
    let rest = |wire: &Wire| (wire.state, wire.size, wire.length_mm, wire.insulation.clone(), wire.path.clone());
    if ends(then) != ends(now) || rest(then) != rest(now) {
        how.push(Altered::Changed);
    }
    how
}
