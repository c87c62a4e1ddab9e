//! Edits of single entries, for the shelves that the record has no ready edit for. An entry that stays as it is gives an empty edit.

use std::sync::Arc;

use crate::machine::{
    Change, Condition, ConditionId, Edit, EndAt, Facts, Guess, Known, Machine, Meter, MeterId, Mystery, MysteryId,
    Photo, PhotoId, Reading, ReadingId, Side, Spot, Subject, Visit, VisitId, WireId,
};

fn changed<V: Clone + PartialEq>(old: Option<&V>, change: impl FnOnce(&mut V)) -> Option<Arc<V>> {
    let old = old?;
    let mut new = old.clone();
    change(&mut new);
    (new != *old).then(|| Arc::new(new))
}

fn edit(label: &str, change: Option<Change>) -> Edit {
    change.map_or_else(Edit::default, |change| Edit::one(label, change))
}

/// Changes the facts about the machine.
pub fn facts(machine: &Machine, label: &str, change: impl FnOnce(&mut Facts)) -> Edit {
    edit(label, changed(Some(&machine.facts), change).map(Change::Facts))
}

/// Changes one photo.
pub fn photo(machine: &Machine, id: PhotoId, label: &str, change: impl FnOnce(&mut Photo)) -> Edit {
    edit(label, changed(machine.photos.get(id), change).map(|new| Change::Photo(id, Some(new))))
}

/// Changes one condition.
pub fn condition(machine: &Machine, id: ConditionId, label: &str, change: impl FnOnce(&mut Condition)) -> Edit {
    edit(label, changed(machine.conditions.get(id), change).map(|new| Change::Condition(id, Some(new))))
}

/// Writes a settled mystery into what it is about and takes it out, as one step, with the readings that speak for it. `None` where a person
/// has to write it.
pub fn take_over(machine: &Machine, id: MysteryId, guess: &Guess, (known, by): (Known, &[ReadingId])) -> Option<Edit> {
    let mystery = machine.mysteries.get(id)?;
    let label = format!("Settle mystery {}", mystery.name);
    let names: Vec<&str> = by.iter().filter_map(|&id| Some(machine.readings.get(id)?.name.as_str())).collect();
    let how = if known == Known::Proven { "proven" } else { "settled" };
    let words = format!("{}: {}, {how} by {}.", mystery.name, machine.guess_name(guess), names.join(", "));
    let mut edit = match (&mystery.subject, guess) {
        (Subject::End(wire, side), guess @ (Guess::Terminal(_) | Guess::Nowhere)) => {
            machine.edit_wire(*wire, &label, |wire| {
                let end = wire.end_mut(*side);
                end.at = match guess {
                    Guess::Terminal(terminal) => EndAt::Terminal(terminal.clone()),
                    _ => EndAt::Loose,
                };
                end.known = known;
                noted(&mut wire.note, &words);
            })
        }
        (Subject::Kind(part), Guess::Named(kind)) => machine.edit_part(*part, &label, |part| {
            part.kind.clone_from(kind);
            noted(&mut part.note, &words);
        }),
        (Subject::Fault(_), Guess::Named(state)) if state == "ok" => Edit::default(),
        _ => return None,
    };
    edit.label = label;
    edit.changes.push(Change::Mystery(id, None));
    Some(edit)
}

/// Adds a line to a note.
fn noted(note: &mut String, words: &str) {
    if !note.is_empty() {
        note.push('\n');
    }
    note.push_str(words);
}

/// Lifts an end for a condition, or takes that back: what the condition says of it itself goes before what it is derived from.
pub fn lift(machine: &Machine, id: ConditionId, end: (WireId, Side)) -> Edit {
    let lifted = machine.setting(id).lifted.contains(&end);
    let name = machine.conditions.get(id).map_or("?", |condition| condition.name.as_str());
    let label =
        format!("{} {} in {name}", if lifted { "Land" } else { "Lift" }, machine.spot_name(&Spot::End(end.0, end.1)));
    condition(machine, id, &label, |condition| {
        if condition.lifted.remove(&end).is_none() {
            condition.lifted.insert(end, !lifted);
        }
    })
}

/// Changes one reading.
pub fn reading(machine: &Machine, id: ReadingId, label: &str, change: impl FnOnce(&mut Reading)) -> Edit {
    edit(label, changed(machine.readings.get(id), change).map(|new| Change::Reading(id, Some(new))))
}

/// Changes one mystery.
pub fn mystery(machine: &Machine, id: MysteryId, label: &str, change: impl FnOnce(&mut Mystery)) -> Edit {
    edit(label, changed(machine.mysteries.get(id), change).map(|new| Change::Mystery(id, Some(new))))
}

/// Changes one meter.
pub fn meter(machine: &Machine, id: MeterId, label: &str, change: impl FnOnce(&mut Meter)) -> Edit {
    edit(label, changed(machine.meters.get(id), change).map(|new| Change::Meter(id, Some(new))))
}

/// Changes one visit.
pub fn visit(machine: &Machine, id: VisitId, label: &str, change: impl FnOnce(&mut Visit)) -> Edit {
    edit(label, changed(machine.visits.get(id), change).map(|new| Change::Visit(id, Some(new))))
}

/// Takes a condition out. Readings taken in it stay, without a condition; what is derived from it starts from nothing.
pub fn without_condition(machine: &Machine, id: ConditionId) -> Edit {
    let mut changes = Vec::new();
    for (reading_id, reading) in machine.readings.iter().filter(|(_, reading)| reading.condition == Some(id)) {
        let mut kept = reading.clone();
        kept.condition = None;
        let name = machine.conditions.get(id).map_or("", |condition| condition.name.as_str());
        if !kept.note.is_empty() {
            kept.note.push_str("; ");
        }
        kept.note.push_str("taken in the condition ");
        kept.note.push_str(name);
        changes.push(Change::Reading(reading_id, Some(Arc::new(kept))));
    }
    for (other, condition) in machine.conditions.iter().filter(|(_, condition)| condition.derived_from == Some(id)) {
        let kept = Condition { derived_from: None, ..condition.clone() };
        changes.push(Change::Condition(other, Some(Arc::new(kept))));
    }
    changes.push(Change::Condition(id, None));
    Edit { label: "Remove the condition".to_owned(), changes }
}

/// A name for a new entry: the first of `letter1`, `letter2`, ... that is not taken.
pub fn free_name(letter: &str, from: u32, taken: impl Fn(&str) -> bool) -> String {
    (from.max(1)..=u32::MAX).map(|number| format!("{letter}{number}")).find(|name| !taken(name)).unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::{PartId, Spot};
    use crate::quantity::Value;

    #[test]
    fn a_condition_that_goes_leaves_its_readings_and_a_word_about_it() {
        let mut machine = Machine::default();
        let id = machine.conditions.add(Condition { name: "live".into(), ..Condition::default() });
        let reading = machine.readings.add(Reading {
            name: "R1".into(),
            red: Spot::Part(PartId(0)),
            black: None,
            value: Value::Runs,
            condition: Some(id),
            meter: None,
            when: String::new(),
            who: String::new(),
            visit: None,
            note: String::new(),
        });
        let before = machine.clone();
        let inverse = machine.apply(without_condition(&before, id));
        let kept = machine.readings.get(reading).unwrap();
        assert!(kept.condition.is_none() && kept.note.contains("live"));
        machine.apply(inverse);
        assert_eq!(machine, before);
    }

    #[test]
    fn what_stays_as_it_is_is_no_edit() {
        let machine = Machine::default();
        assert!(facts(&machine, "Title", |facts| facts.title.clear()).is_empty());
        assert!(photo(&machine, PhotoId(7), "Caption", |photo| photo.caption.push('x')).is_empty());
    }
}
