//! Beginning and closing a visit: each freezes a copy of the record beside it, as found and as left.

use std::sync::Arc;

use crate::machine::{Change, Edit, Visit, VisitId};
use crate::store::frozen;

use super::files::Outcome;
use super::jobs::{Event, Manner, or_broken};
use super::session::Desk;

/// What a frozen copy was made for.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Copied {
    /// A visit that begins.
    AsFound,
    /// A visit that is closed.
    AsLeft(VisitId),
}

impl Desk {
    /// Begins a visit of today: the record as it is now is kept as found, then the visit is entered, one step of undo.
    pub fn begin_visit(&mut self) {
        self.copy_for(Copied::AsFound);
    }

    /// Closes a visit: the record as it is now is kept as left. One that was closed before is closed anew.
    pub fn close_visit(&mut self, id: VisitId) {
        if self.machine.visits.contains(id) {
            self.copy_for(Copied::AsLeft(id));
        }
    }

    fn copy_for(&mut self, copied: Copied) {
        // A second press of the button while the copy is made asks for nothing new.
        if self.home.copying {
            return;
        }
        let what = what(copied);
        let Some(home) = self.photo_home() else {
            self.fail(what, &"no folder can be made for the copy of the record: save the record first, then try again");
            return;
        };
        let machine = Arc::clone(&self.machine);
        self.home.copying = self.start(what, Manner::ToTheEnd, move |_| {
            let result = or_broken(|| frozen::write(&machine, &home.record).map_err(|error| error.to_string()));
            Outcome::Copied { copied, result }
        });
    }

    pub(super) fn take_copied(&mut self, copied: Copied, result: Result<String, String>) {
        self.home.copying = false;
        let hash = match result {
            Ok(hash) => hash,
            Err(why) => return self.fail(what(copied), &why),
        };
        match copied {
            Copied::AsFound => {
                let (id, visit) = self.visit_of_today(hash);
                let label = format!("Begin visit {}", visit.name);
                self.events.push(Event::Remark(format!("Visit {}: the record as found is kept.", visit.name)));
                self.apply(Edit::one(label, Change::Visit(id, Some(Arc::new(visit)))));
            }
            Copied::AsLeft(id) => {
                let Some(visit) = self.machine.visits.get(id) else {
                    self.events.push(Event::Remark("The visit was not closed: it was taken out meanwhile.".to_owned()));
                    return;
                };
                let closed = Visit { as_left: Some(hash), ..visit.clone() };
                let label = format!("Close visit {}", closed.name);
                self.events.push(Event::Remark(format!("Visit {}: the record as left is kept.", closed.name)));
                self.apply(Edit::one(label, Change::Visit(id, Some(Arc::new(closed)))));
            }
        }
    }

    /// A visit that begins now, with a name that no other has.
    fn visit_of_today(&self, as_found: String) -> (VisitId, Visit) {
        let date = self.now().split(' ').next().unwrap_or_default().to_owned();
        let taken = |name: &str| self.machine.visits.values().any(|visit| visit.name == name);
        // Where no date is known the visit still needs a name.
        let base = if date.is_empty() { "visit".to_owned() } else { date.clone() };
        let numbered = (2..=u32::MAX).map(|number| format!("{base}-{number}"));
        let name = std::iter::once(base.clone()).chain(numbered).find(|name| !taken(name)).unwrap_or_default();
        let visit = Visit { name, date, who: self.who().to_owned(), as_found: Some(as_found), ..Visit::default() };
        (self.machine.visits.next_id(), visit)
    }
}

fn what(copied: Copied) -> &'static str {
    match copied {
        Copied::AsFound => "Beginning a visit",
        Copied::AsLeft(_) => "Closing a visit",
    }
}
