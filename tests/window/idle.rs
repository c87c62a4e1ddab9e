//! Nothing writes the record while drawing, and nothing moves by itself.

use wirewitness::app::Stage;

use crate::person::{Person, diagram, prefs};

#[test]
fn a_hundred_idle_frames_in_every_stage_leave_the_record_as_it_was() {
    let mut person = Person::at((1366.0, 768.0), prefs());
    person.harness.state_mut().desk_mut().open(&diagram("pantry-locker.ron"));
    person.look();
    let before = person.harness.state().desk().machine().clone();
    let revision = person.harness.state().desk().revision();
    for stage in Stage::ALL {
        person.go(stage);
        person.harness.run_steps(100);
    }
    assert_eq!(person.harness.state().desk().revision(), revision);
    assert_eq!(person.harness.state().desk().machine(), &before);
    assert!(!person.harness.state().desk().is_changed());
}
