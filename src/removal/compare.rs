//! Two records of one machine laid side by side: what was added, moved, removed, re-marked and re-read, in words.

use std::collections::BTreeMap;

use crate::machine::{Machine, Part, Reading, Side, Spot, Wire, WireState};

/// What differs.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Differences {
    /// What only the later one has.
    pub added: Vec<String>,
    /// What only the earlier one has, or what is taken out in the later one.
    pub removed: Vec<String>,
    /// What both have, and how it changed.
    pub changed: Vec<String>,
}

impl Differences {
    /// Whether there is none.
    pub fn is_empty(&self) -> bool {
        self.added.is_empty() && self.removed.is_empty() && self.changed.is_empty()
    }
}

/// What differs from the earlier to the later record. Entries are told by their tags, keys and names.
pub fn compare(old: &Machine, new: &Machine) -> Differences {
    let mut all = Differences::default();
    if old.facts != new.facts {
        all.changed.push("What is written about the machine as a whole changed.".to_owned());
    }
    let part = |part: &Part| {
        let title = if part.title.is_empty() { part.kind.as_str() } else { part.title.as_str() };
        format!("Part {} ({title})", part.tag)
    };
    each(
        old.parts.values().map(|one| (one.tag.as_str(), one)),
        new.parts.values().map(|one| (one.tag.as_str(), one)),
        &mut all,
        part,
        part_changes,
    );
    let wire = |machine: &Machine, wire: &Wire| {
        format!("Wire {} from {} to {}", wire.key, machine.end_name(&wire.from.at), machine.end_name(&wire.to.at))
    };
    let there = |one: &&Wire| one.state != WireState::Removed;
    let old_wires: BTreeMap<&str, &Wire> = old.wires.values().map(|one| (one.key.as_str(), one)).collect();
    let new_wires: BTreeMap<&str, &Wire> = new.wires.values().map(|one| (one.key.as_str(), one)).collect();
    for one in old.wires.values().filter(there) {
        match new_wires.get(one.key.as_str()) {
            None => all.removed.push(format!("{}.", wire(old, one))),
            Some(now) if now.state == WireState::Removed => all.removed.push(format!("{}: taken out.", wire(old, one))),
            Some(now) => all.changed.extend(wire_changes(old, one, new, now)),
        }
    }
    for one in new.wires.values().filter(there) {
        match old_wires.get(one.key.as_str()) {
            None => all.added.push(format!("{}.", wire(new, one))),
            Some(then) if then.state == WireState::Removed => all.added.push(format!("{}: put back.", wire(new, one))),
            Some(_) => {}
        }
    }
    each(
        old.readings.values().map(|one| (one.name.as_str(), (old, one))),
        new.readings.values().map(|one| (one.name.as_str(), (new, one))),
        &mut all,
        |(machine, one)| format!("Reading {}: {} {}", one.name, places(machine, one), one.value),
        |(then, a), (now, b)| {
            let mut changes = Vec::new();
            if places(then, a) != places(now, b) {
                changes.push(format!(
                    "Reading {} is taken at {}, before at {}.",
                    a.name,
                    places(now, b),
                    places(then, a)
                ));
            }
            if a.value != b.value {
                changes.push(format!("Reading {} reads {}, before {}.", a.name, b.value, a.value));
            }
            changes
        },
    );
    named(
        &mut all,
        "Photo",
        old.photos.values().map(|one| one.name.as_str()),
        new.photos.values().map(|one| one.name.as_str()),
    );
    named(
        &mut all,
        "Loom",
        old.looms.values().map(|one| one.name.as_str()),
        new.looms.values().map(|one| one.name.as_str()),
    );
    named(
        &mut all,
        "Condition",
        old.conditions.values().map(|one| one.name.as_str()),
        new.conditions.values().map(|one| one.name.as_str()),
    );
    named(
        &mut all,
        "Mystery",
        old.mysteries.values().map(|one| one.name.as_str()),
        new.mysteries.values().map(|one| one.name.as_str()),
    );
    named(
        &mut all,
        "Meter",
        old.meters.values().map(|one| one.name.as_str()),
        new.meters.values().map(|one| one.name.as_str()),
    );
    for condition in old.conditions.values() {
        let both = (old.condition_by_name(&condition.name), new.condition_by_name(&condition.name));
        if let (Some(then), Some(now)) = both
            && said(old, then) != said(new, now)
        {
            all.changed.push(format!("Condition '{}' is set another way.", condition.name));
        }
    }
    let constraints = |machine: &Machine| machine.constraints.len();
    if constraints(old) != constraints(new) {
        all.changed.push(format!(
            "The record has {} constraints on conditions, before {}.",
            constraints(new),
            constraints(old)
        ));
    }
    all
}

/// A condition by names alone, so that numbers of entries do not matter.
fn said(machine: &Machine, id: crate::machine::ConditionId) -> Vec<String> {
    let setting = machine.setting(id);
    let mut all: Vec<String> = setting.sources_on.iter().map(|&part| machine.part_name(part).to_owned()).collect();
    all.extend(setting.commanded.iter().map(|one| machine.terminal_name(one)));
    all.extend(setting.positions.iter().map(|((part, name), at)| format!("{}.{name} {at}", machine.part_name(*part))));
    all.extend(setting.lifted.iter().map(|&(wire, side)| machine.spot_name(&Spot::End(wire, side))));
    all.sort();
    all
}

fn places(machine: &Machine, reading: &Reading) -> String {
    let red = machine.spot_name(&reading.red);
    match &reading.black {
        Some(black) => format!("{red} and {}", machine.spot_name(black)),
        None => red,
    }
}

/// Entries of one sort by name: what is in one only, and how those in both changed.
fn each<'n, T: Copy>(
    old: impl Iterator<Item = (&'n str, T)>,
    new: impl Iterator<Item = (&'n str, T)>,
    all: &mut Differences,
    words: impl Fn(T) -> String,
    changes: impl Fn(T, T) -> Vec<String>,
) {
    let old: Vec<(&str, T)> = old.collect();
    let new: Vec<(&str, T)> = new.collect();
    let (by_old, by_new): (BTreeMap<&str, T>, BTreeMap<&str, T>) =
        (old.iter().copied().collect(), new.iter().copied().collect());
    for (name, one) in &old {
        match by_new.get(name) {
            None => all.removed.push(format!("{}.", words(*one))),
            Some(now) => all.changed.extend(changes(*one, *now)),
        }
    }
    for (name, one) in &new {
        if !by_old.contains_key(name) {
            all.added.push(format!("{}.", words(*one)));
        }
    }
}

fn named<'n>(
    all: &mut Differences,
    sort: &str,
    old: impl Iterator<Item = &'n str>,
    new: impl Iterator<Item = &'n str>,
) {
    each(old.map(|n| (n, n)), new.map(|n| (n, n)), all, |name| format!("{sort} '{name}'"), |_, _| Vec::new());
}

fn part_changes(then: &Part, now: &Part) -> Vec<String> {
    let tag = &then.tag;
    let mut changes = Vec::new();
    if then.kind != now.kind {
        changes.push(format!("Part {tag} is a {}, before a {}.", now.kind, then.kind));
    }
    if then.pose != now.pose {
        changes.push(format!("Part {tag} was moved on the drawing."));
    }
    if then.mounting != now.mounting {
        let words = |part: &Part| match part.mounting {
            crate::machine::Mounting::Fixed => "fixed",
            crate::machine::Mounting::Loose => "loose",
            crate::machine::Mounting::Missing => "gone",
        };
        changes.push(format!("Part {tag} is {}, before {}.", words(now), words(then)));
    }
    if then.printed != now.printed || then.terminals != now.terminals {
        changes.push(format!("Part {tag} was re-marked."));
    }
    if then.ratings != now.ratings {
        changes.push(format!("Ratings of part {tag} changed."));
    }
    if then.pins != now.pins || then.count != now.count {
        changes.push(format!("Pins of part {tag} changed."));
    }
    if (&then.title, &then.note, &then.group, &then.rest) != (&now.title, &now.note, &now.group, &now.rest) {
        changes.push(format!("What is written on part {tag} changed."));
    }
    changes
}

fn wire_changes(old: &Machine, then: &Wire, new: &Machine, now: &Wire) -> Vec<String> {
    let key = &then.key;
    let mut changes = Vec::new();
    for side in Side::BOTH {
        let (a, b) = (then.end(side), now.end(side));
        let (was, is) = (old.end_name(&a.at), new.end_name(&b.at));
        let end = format!("{key}.{}", side.word());
        if was != is {
            changes.push(format!("{end} was moved: on {is}, before on {was}."));
        }
        match (a.lifted, b.lifted) {
            (false, true) => changes.push(format!("{end} was lifted off {is}.")),
            (true, false) => changes.push(format!("{end} was landed again on {is}.")),
            _ => {}
        }
        if a.known != b.known {
            changes.push(format!("{end} is {}, before {}.", b.known.words(), a.known.words()));
        }
        if a.lug != b.lug {
            changes.push(format!("{end} has another lug: {}, before {}.", b.lug.words(), a.lug.words()));
        }
    }
    if then.state != now.state {
        changes.push(format!("{key} is {}, before {}.", now.state.words(), then.state.words()));
    }
    if then.number != now.number {
        let words = |wire: &Wire| wire.number.clone().unwrap_or_else(|| "none".to_owned());
        changes.push(format!("{key} was re-marked: number {}, before {}.", words(now), words(then)));
    }
    if then.colour != now.colour {
        let words =
            |wire: &Wire| wire.colour.map_or_else(|| "not recorded".to_owned(), crate::quantity::WireColour::words);
        changes.push(format!("{key} has another colour: {}, before {}.", words(now), words(then)));
    }
    if then.size != now.size {
        changes.push(format!("{key} has another size."));
    }
    if then.path != now.path {
        changes.push(format!("{key} runs another way on the drawing."));
    }
    changes
}
