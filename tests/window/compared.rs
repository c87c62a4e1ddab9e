//! As found and as left: two copies of the record chosen on the card of the machine, and what differs said in words.

use std::sync::Arc;

use wirewitness::app::Selection;
use wirewitness::desk::CopyOf;
use wirewitness::machine::{Change, Edit, Machine, Reading, Side, Spot, Thing, WireId, WireState};
use wirewitness::quantity::Value;
use wirewitness::removal::{Altered, Of};

use crate::person::{Person, prefs};

fn machine(person: &Person) -> Arc<Machine> {
    Arc::clone(person.harness.state().desk().machine())
}

/// Takes a wire out, lifts an end of another, gives a third a number, and reads something.
pub fn alter(person: &mut Person) -> [String; 3] {
    let machine = machine(person);
    let ids: Vec<WireId> =
        machine.wires.iter().filter(|(_, wire)| wire.state == WireState::InPlace).map(|(id, _)| id).collect();
    let mut changes = Vec::new();
    let mut change = |id: WireId, how: &dyn Fn(&mut wirewitness::machine::Wire)| {
        let mut wire = machine.wires.get(id).unwrap().clone();
        how(&mut wire);
        changes.push(Change::Wire(id, Some(Arc::new(wire))));
    };
    change(ids[0], &|wire| wire.state = WireState::Removed);
    change(ids[1], &|wire| wire.end_mut(Side::From).lifted = true);
    change(ids[2], &|wire| wire.number = Some("77".to_owned()));
    let reading = Reading {
        name: "R900".to_owned(),
        red: Spot::End(ids[1], Side::From),
        black: Some(Spot::End(ids[1], Side::To)),
        value: Value::Tone,
        condition: None,
        meter: None,
        when: String::new(),
        who: String::new(),
        visit: None,
        note: String::new(),
    };
    changes.push(Change::Reading(machine.readings.next_id(), Some(Arc::new(reading))));
    person.harness.state_mut().desk_mut().apply(Edit { label: "work".to_owned(), changes });
    person.look();
    [0, 1, 2].map(|at| machine.wire_name(ids[at]).to_owned())
}

#[test]
fn what_a_visit_changed_is_said_in_words_and_each_line_goes_to_its_place() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    let _folder = person.open_copy("flower-cooler.ron");
    person.press("Begin a visit");
    person.look();
    let [out, lifted, marked] = alter(&mut person);
    person.press("2026-03-02");
    person.press("Close the visit");
    person.look();
    let (visit, _) = machine(&person).visits.iter().next_back().map(|(id, one)| (id, one.clone())).unwrap();
    person.press("Compare");
    let compared = Arc::clone(person.harness.state().desk().compared().expect("compared"));
    assert_eq!(compared.copies, [CopyOf::AsFound(visit), CopyOf::Now]);
    assert!(person.sees("What differs"), "{:?}", person.names());
    assert!(person.sees(&format!("Wire {out} from")) && person.sees("taken out."), "{:?}", person.names());
    assert!(person.sees(&format!("{lifted}.from was lifted")), "{:?}", person.names());
    assert!(person.sees(&format!("{marked} was re-marked: number 77")), "{:?}", person.names());
    assert!(person.sees("Reading R900"), "{:?}", person.names());
    let how = |of: &Of| compared.altered[of].iter().copied().collect::<Vec<_>>();
    assert_eq!(how(&Of::Wire(out)), [Altered::Removed]);
    assert_eq!(how(&Of::Wire(lifted.clone())), [Altered::Moved]);
    assert_eq!(how(&Of::Wire(marked)), [Altered::ReMarked]);
    assert_eq!(how(&Of::Reading("R900".to_owned())), [Altered::ReRead]);
    assert_eq!(compared.altered.len(), 4, "nothing else differs: {:?}", compared.altered);
    // A line goes to what it is about; Escape comes back to the lines.
    person.press_like(&format!("{lifted}.from was lifted"));
    let id = machine(&person).wire_by_key(&lifted).unwrap();
    assert_eq!(person.harness.state().view().selection, Selection::of(Thing::from(id)));
    person.key(egui::Key::Escape);
    assert!(person.sees("What differs"));
    person.press("Back to the card");
    assert!(person.sees("The machine") && !person.sees("What differs between two copies: "), "{:?}", person.names());
}

#[test]
fn copies_that_are_the_same_are_said_to_be_so_and_a_missing_one_is_told_of() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    let _folder = person.open_copy("flower-cooler.ron");
    person.press("Begin a visit");
    person.look();
    person.press("Compare");
    assert!(person.sees("Nothing differs."), "{:?}", person.names());
    // A copy that is not there is told of, with the file.
    let (id, mut visit) = machine(&person).visits.iter().next_back().map(|(id, visit)| (id, visit.clone())).unwrap();
    visit.as_left = Some("0123456789abcdef".to_owned());
    person.harness.state_mut().desk_mut().apply(Edit::one("gone", Change::Visit(id, Some(Arc::new(visit)))));
    person.harness.state_mut().desk_mut().compare([CopyOf::AsFound(id), CopyOf::AsLeft(id)]);
    person.look();
    let messages: Vec<String> = person.harness.state().messages().iter().map(|one| format!("{one:?}")).collect();
    assert!(messages.iter().any(|one| one.contains("0123456789abcdef")), "{messages:?}");
}
