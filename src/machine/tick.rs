//! Steps of a removal that were ticked off, with what takes them back, and how a removal ends.

use std::sync::Arc;

use super::Machine;
use super::edit::{Change, Edit};
use super::ids::{VisitId, WireId};
use super::spot::{Side, Spot};
use super::wire::WireState;

/// A step that was done.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Tick {
    /// The step: `isolate`, `take-off-from`, `out`, `cap`.
    pub step: String,
    /// The wire it is about.
    pub at: Option<Spot>,
    /// What takes it back in the record.
    pub back: Back,
    /// When, as `2026-03-02 10:15`.
    pub when: String,
    /// By whom.
    pub who: String,
}

/// What takes a step back in the record.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Default)]
pub enum Back {
    /// Nothing was changed.
    #[default]
    Nothing,
    /// The end is landed again.
    Land,
    /// The wire is put back in its place.
    InPlace,
    /// The wire is capped off again.
    Cap,
}

impl Machine {
    /// The stable key of the step that was ticked off: `isolate`, `W7.out`.
    pub fn tick_key(&self, tick: &Tick) -> String {
        match &tick.at {
            Some(spot) => format!("{}.{}", self.spot_name(spot), tick.step),
            None => tick.step.clone(),
        }
    }

    /// Ticks a step off: an end that is taken off is lifted, a wire that is out or capped is marked so. Nothing where it is ticked off
    /// already.
    pub fn tick_off(&self, step: &str, at: Option<WireId>, when: &str, who: &str) -> Edit {
        let spot = at.map(Spot::Wire);
        if self.ticks.values().any(|tick| tick.step == step && tick.at == spot) {
            return Edit::default();
        }
        let mut changes = Vec::new();
        let mut back = Back::Nothing;
        if let Some((id, wire)) = at.and_then(|id| Some((id, self.wires.get(id)?))) {
            let mut new = wire.clone();
            for side in Side::BOTH {
                if step == format!("take-off-{}", side.word()) && wire.landed(side).is_some() {
                    new.end_mut(side).lifted = true;
                    back = Back::Land;
                }
            }
            if step == "out" && wire.is_present() {
                back = if wire.state == WireState::CappedOff { Back::Cap } else { Back::InPlace };
                new.state = WireState::Removed;
            }
            if step == "cap" && wire.state == WireState::InPlace {
                back = Back::InPlace;
                new.state = WireState::CappedOff;
            }
            if new != *wire {
                changes.push(Change::Wire(id, Some(Arc::new(new))));
            }
        }
        let tick = Tick { step: step.to_owned(), at: spot, back, when: when.to_owned(), who: who.to_owned() };
        changes.push(Change::Tick(self.ticks.next_id(), Some(Arc::new(tick))));
        Edit { label: "Tick off a step".to_owned(), changes }
    }

    /// Takes back everything that was ticked off, in one step: for when work stops before it is done.
    pub fn stop_removal(&self) -> Edit {
        let mut wires = self.wires.clone();
        let mut changes = Vec::new();
        for (id, tick) in self.ticks.iter() {
            changes.push(Change::Tick(id, None));
            let Some(Spot::Wire(at)) = tick.at else { continue };
            let Some(wire) = wires.get(at) else { continue };
            let mut old = wire.clone();
            match tick.back {
                Back::Nothing => continue,
                Back::Land => {
                    for side in Side::BOTH.into_iter().filter(|side| tick.step == format!("take-off-{}", side.word())) {
                        old.end_mut(side).lifted = false;
                    }
                }
                Back::InPlace => old.state = WireState::InPlace,
                Back::Cap => old.state = WireState::CappedOff,
            }
            wires.put(at, Some(Arc::new(old)));
        }
        for (id, wire) in wires.iter() {
            if self.wires.get(id) != Some(wire) {
                changes.push(Change::Wire(id, Some(Arc::new(wire.clone()))));
            }
        }
        Edit { label: "Stop the removal".to_owned(), changes }
    }

    /// Takes back the ticks of steps that are about no wire (isolating and verifying, trying afterwards), in one step: they are to be done
    /// again. What was taken off stays off.
    pub fn isolate_again(&self) -> Edit {
        let of_all = self.ticks.iter().filter(|(_, tick)| tick.at.is_none());
        let changes = of_all.map(|(id, _)| Change::Tick(id, None)).collect();
        Edit { label: "Isolate again".to_owned(), changes }
    }

    /// Ends a removal, in one step: these wires are recorded as taken out, or as capped off where they stay in; a wire that was ticked off
    /// as the one or the other stays what it is. The ticks go: the next removal begins with isolating again. What is said (when, by whom)
    /// is noted on each wire, and among the work of the visit.
    pub fn finish_removal(&self, wires: &[WireId], gone: WireState, said: &str, visit: Option<VisitId>) -> Edit {
        let ticked = |id: WireId| {
            let steps = self.ticks.values().filter(move |tick| tick.at == Some(Spot::Wire(id)));
            steps.map(|tick| tick.step.as_str()).any(|step| step == "out" || step == "cap")
        };
        // Those of another wire, whose removal goes on, stay.
        let over = |at: Option<&Spot>| !matches!(at, Some(Spot::Wire(wire)) if !wires.contains(wire));
        let ticks = self.ticks.iter().filter(|(_, tick)| over(tick.at.as_ref()));
        let mut changes: Vec<Change> = ticks.map(|(id, _)| Change::Tick(id, None)).collect();
        let mut work: Vec<String> = Vec::new();
        for &id in wires {
            let Some(wire) = self.wires.get(id) else { continue };
            let mut new = wire.clone();
            if !ticked(id) {
                new.state = gone;
            }
            let became = if new.state == WireState::Removed { "taken out" } else { "capped off" };
            let line = format!("{} {became}: {said}", wire.key);
            if !new.note.is_empty() {
                new.note.push('\n');
            }
            new.note.push_str(&line);
            work.push(line);
            changes.push(Change::Wire(id, Some(Arc::new(new))));
        }
        if work.is_empty() {
            return Edit::default();
        }
        if let Some((id, visit)) = visit.and_then(|id| Some((id, self.visits.get(id)?))) {
            let mut new = visit.clone();
            new.work.extend(work.iter().cloned());
            changes.push(Change::Visit(id, Some(Arc::new(new))));
        }
        let label = match work.as_slice() {
            [only] => only.split(':').next().unwrap_or_default().to_owned(),
            all => format!("End the removal of {} wires", all.len()),
        };
        Edit { label, changes }
    }
}
