//! A visit from its beginning to its end, on the card of the machine.

use crate::person::{Person, prefs};

#[test]
fn a_visit_is_begun_and_closed_on_the_card_and_keeps_both_copies() {
    let mut person = Person::at((1280.0, 800.0), prefs());
    person.press("Begin a visit");
    person.look();
    assert!(person.sees("Visit 2026-03-02: the record as found is kept."), "{:?}", person.names());
    person.press("2026-03-02");
    person.look();
    assert!(person.sees("As found: kept") && person.sees("As left: no copy"), "{:?}", person.names());
    person.press("Close the visit");
    person.look();
    assert!(person.sees("As left: kept") && person.sees("Close it again"), "{:?}", person.names());
    let visit = person.harness.state().desk().machine().visits.values().next().cloned().unwrap();
    assert_eq!(visit.who, "A. Witness");
    assert!(visit.as_found.is_some() && visit.as_left.is_some() && visit.as_found != visit.as_left);
}
