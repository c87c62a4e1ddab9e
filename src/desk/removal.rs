//! What may be taken out: a verdict for every wire and part, the plan for the wires that were chosen, and what taking them out changes.

use std::collections::BTreeSet;
use std::sync::Arc;
use std::sync::atomic::{AtomicBool, Ordering};

use crate::catalogue::Catalogue;
use crate::machine::{ConditionId, Machine, Shelf, WireId};
use crate::removal::{Budget, Change, Step, Verdicts, going, judge, mark_done, plan, what_changes};

use super::compute::{Compute, Make};

/// What was worked out about one revision of the record.
#[derive(Debug, Clone, Default)]
pub struct Removal {
    /// The revision of the record.
    pub revision: u64,
    /// The wires that were chosen, those of which a step is ticked off among them.
    pub chosen: BTreeSet<WireId>,
    /// How hard it was tried, see [`super::Desk::judge_removal`].
    pub effort: u32,
    /// Verdicts on the record as it was before the first step was ticked off: a wire that is half out is still what it was.
    pub verdicts: Arc<Verdicts>,
    /// The order of work for the wires that were chosen, with what is ticked off.
    pub steps: Vec<Step>,
    /// What taking out the wires of the plan changes, or those that were chosen where none may go.
    pub change: Option<Change>,
}

impl Removal {
    /// The wires that the plan takes out.
    pub fn going(&self) -> Vec<WireId> {
        going(&self.steps)
    }
}

/// What is worked out, and from what.
pub(super) struct Question {
    pub(super) revision: u64,
    pub(super) machine: Arc<Machine>,
    pub(super) catalogue: Arc<Catalogue>,
    pub(super) chosen: BTreeSet<WireId>,
    pub(super) effort: u32,
    /// Set when what is decided by then is to do.
    pub(super) enough: Arc<AtomicBool>,
}

/// Judges, keeping the verdicts while only the choice and the ticks change.
#[derive(Default)]
pub(super) struct Judge {
    known: Option<(Machine, Arc<Catalogue>, u32, Arc<Verdicts>)>,
}

/// What verdicts follow from: the record without its visits, and without conditions that no reading was taken in.
fn judged_on(machine: &Machine) -> Machine {
    let mut bare = Machine { visits: Shelf::default(), ..machine.clone() };
    let mut used: BTreeSet<ConditionId> = BTreeSet::new();
    let mut open: Vec<ConditionId> = bare.readings.values().filter_map(|reading| reading.condition).collect();
    while let Some(id) = open.pop() {
        if used.insert(id) {
            open.extend(bare.conditions.get(id).and_then(|condition| condition.derived_from));
        }
    }
    let unused: Vec<ConditionId> = bare.conditions.ids().filter(|id| !used.contains(id)).collect();
    for id in unused {
        bare.conditions.put(id, None);
    }
    bare
}

/// The record as it was before the first step was ticked off.
fn before_work(machine: &Arc<Machine>) -> Arc<Machine> {
    if machine.ticks.is_empty() {
        return Arc::clone(machine);
    }
    let mut before = machine.as_ref().clone();
    let stop = before.stop_removal();
    before.apply(stop);
    Arc::new(before)
}

impl Make for Judge {
    type From = Question;
    type Made = Removal;

    fn make(&mut self, question: &Question, is_stale: &(dyn Fn() -> bool + Sync)) -> Option<Removal> {
        let Question { revision, machine, catalogue, chosen, effort, enough } = question;
        let go_on = || !is_stale() && !enough.load(Ordering::Relaxed);
        let most = Budget::default();
        // Each further try may spend four times as much.
        let more = 4_u64.saturating_pow(*effort);
        let budget = Budget {
            most_nodes: most.most_nodes.saturating_mul(usize::try_from(more).unwrap_or(usize::MAX)),
            most_steps: most.most_steps.saturating_mul(more),
            go_on: &go_on,
        };
        let before = before_work(machine);
        let judged_on = judged_on(&before);
        let verdicts = match self.known.take() {
            Some((of, kinds, tried, verdicts))
                if of == judged_on && Arc::ptr_eq(&kinds, catalogue) && (tried == *effort || verdicts.is_whole()) =>
            {
                verdicts
            }
            _ => Arc::new(judge(&before, catalogue, budget)),
        };
        if is_stale() {
            // What was cut short by something newer says nothing; what is whole may serve again.
            if verdicts.is_whole() {
                self.known = Some((judged_on, Arc::clone(catalogue), *effort, verdicts));
            }
            return None;
        }
        self.known = Some((judged_on, Arc::clone(catalogue), *effort, Arc::clone(&verdicts)));
        let ticked = machine.ticks.values().filter_map(|tick| match tick.at {
            Some(crate::machine::Spot::Wire(wire)) => Some(wire),
            _ => None,
        });
        let wires: Vec<WireId> = chosen.iter().copied().chain(ticked).collect::<BTreeSet<_>>().into_iter().collect();
        let mut steps = plan(&before, catalogue, &verdicts, &wires);
        mark_done(machine, &mut steps);
        let out = going(&steps);
        let out = if out.is_empty() { &wires } else { &out };
        let change = (!out.is_empty()).then(|| what_changes(&before, catalogue, out, budget));
        if is_stale() {
            return None;
        }
        Some(Removal { revision: *revision, chosen: chosen.clone(), effort: *effort, verdicts, steps, change })
    }
}

/// The verdicts as the desk holds them: worked out when asked for, beside the window.
pub(super) struct Removals {
    pub(super) removal: Arc<Removal>,
    asked: Option<(u64, BTreeSet<WireId>, u32)>,
    /// The revision at which the present record was opened.
    since: u64,
    /// What was asked for broke.
    broke: bool,
    enough: Arc<AtomicBool>,
    pub(super) judge: Compute<Judge>,
}

impl Removals {
    pub(super) fn new() -> Self {
        Self {
            removal: Arc::default(),
            asked: None,
            since: 0,
            broke: false,
            enough: Arc::default(),
            judge: Compute::new("judge"),
        }
    }

    /// Has them worked out, unless that has been asked for. Whether something new was asked.
    pub(super) fn ask(
        &mut self,
        (machine, revision): (&Arc<Machine>, u64),
        catalogue: &Arc<Catalogue>,
        chosen: &BTreeSet<WireId>,
        effort: u32,
    ) -> bool {
        let wanted = (revision, chosen.clone(), effort);
        if self.asked.as_ref() == Some(&wanted) {
            return false;
        }
        self.asked = Some(wanted);
        self.broke = false;
        self.enough = Arc::default();
        let question = Question {
            revision,
            machine: Arc::clone(machine),
            catalogue: Arc::clone(catalogue),
            chosen: chosen.clone(),
            effort,
            enough: Arc::clone(&self.enough),
        };
        if let Some(removal) = self.judge.ask(question) {
            self.removal = removal;
        }
        true
    }

    /// Forgets what was worked out: it is of another record.
    pub(super) fn forget(&mut self, since: u64) {
        self.end();
        self.since = since;
        self.asked = None;
        self.removal = Arc::default();
    }

    /// Ends the work: what is not decided by now stays so.
    pub(super) fn end(&self) {
        self.enough.store(true, Ordering::Relaxed);
    }

    /// What was asked for broke. The same is not asked for again: it would break again.
    pub(super) fn failed(&mut self) {
        self.removal = Arc::default();
        self.broke = true;
    }

    /// Takes in what was worked out, unless it is of another record by now: revisions go on rising from record to record.
    pub(super) fn take(&mut self, removal: Arc<Removal>) {
        if removal.revision >= self.since && self.asked.is_some() {
            self.removal = removal;
        }
    }

    /// Whether what was asked for is still being worked out.
    pub(super) fn is_waiting(&self) -> bool {
        if self.broke {
            return false;
        }
        let made = &self.removal;
        self.asked.as_ref().is_some_and(|(revision, chosen, effort)| {
            (*revision, *effort) != (made.revision, made.effort) || *chosen != made.chosen
        })
    }
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::generate::invented_machine;
    use crate::machine::{Change as Entry, Condition, Edit};
    use crate::removal::Verdict;

    fn question(
        machine: &Machine,
        catalogue: &Arc<Catalogue>,
        chosen: &[WireId],
        effort: u32,
        enough: bool,
    ) -> Question {
        Question {
            revision: 1,
            machine: Arc::new(machine.clone()),
            catalogue: Arc::clone(catalogue),
            chosen: chosen.iter().copied().collect(),
            effort,
            enough: Arc::new(AtomicBool::new(enough)),
        }
    }

    #[test]
    fn work_that_is_ended_leaves_not_decided_and_is_taken_up_with_more_effort() {
        let catalogue = Catalogue::built_in().unwrap();
        let machine = invented_machine(60, 2);
        let mut judge = Judge::default();
        let ended = judge.make(&question(&machine, &catalogue, &[], 0, true), &|| false).unwrap();
        assert!(!ended.verdicts.is_whole(), "not decided is shown as such");
        assert!(ended.verdicts.wires.values().all(|judged| judged.verdict != Verdict::Dead));
        // Asked again with no more effort it stays what it is: nothing is worked out twice.
        let again = judge.make(&question(&machine, &catalogue, &[], 0, false), &|| false).unwrap();
        assert!(Arc::ptr_eq(&again.verdicts, &ended.verdicts));
        let whole = judge.make(&question(&machine, &catalogue, &[], 1, false), &|| false).unwrap();
        assert!(whole.verdicts.is_whole());
    }

    #[test]
    fn what_is_stale_gives_nothing_and_leaves_nothing_behind() {
        let catalogue = Catalogue::built_in().unwrap();
        let machine = invented_machine(60, 2);
        let mut judge = Judge::default();
        assert!(judge.make(&question(&machine, &catalogue, &[], 0, false), &|| true).is_none());
        let whole = judge.make(&question(&machine, &catalogue, &[], 0, false), &|| false).unwrap();
        assert!(whole.verdicts.is_whole(), "a verdict cut short is not kept");
    }

    #[test]
    fn ticks_choices_and_new_conditions_are_not_judged_anew_and_a_half_taken_wire_keeps_its_plan() {
        let catalogue = Catalogue::built_in().unwrap();
        let mut machine = invented_machine(60, 2);
        let mut judge = Judge::default();
        let first = judge.make(&question(&machine, &catalogue, &[], 0, false), &|| false).unwrap();
        assert!(first.steps.is_empty() && first.change.is_none(), "nothing was chosen");
        let (&wire, _) = first.verdicts.wires.iter().find(|(_, judged)| judged.verdict == Verdict::InUse).unwrap();
        let going = first.verdicts.may_go();
        let chosen: Vec<WireId> = going.first().copied().into_iter().chain([wire]).collect();
        machine.conditions.add(Condition { name: "shown".into(), ..Condition::default() });
        for (step, at) in
            [("isolate", None), ("take-off-from", chosen.first().copied()), ("out", chosen.first().copied())]
        {
            let edit: Edit = machine.tick_off(step, at, "2026-03-09", "B.");
            machine.apply(edit);
        }
        let then = judge.make(&question(&machine, &catalogue, &chosen, 0, false), &|| false).unwrap();
        assert!(Arc::ptr_eq(&then.verdicts, &first.verdicts), "judged on the record before the first tick");
        assert!(then.change.is_some());
        assert!(then.steps.iter().any(|step| step.wire == Some(wire) && step.stays()));
        if let Some(&gone) = going.first() {
            assert!(then.going().contains(&gone), "its steps stay until the end is recorded");
            assert!(then.steps.iter().any(|step| step.name() == "out" && step.done.is_some()));
        }
        // What the verdicts follow from changed: they are worked out anew.
        machine.apply(Edit::one("gone", Entry::Wire(wire, None)));
        let later = judge.make(&question(&machine, &catalogue, &[], 0, false), &|| false).unwrap();
        assert!(!Arc::ptr_eq(&later.verdicts, &first.verdicts) && !later.verdicts.wires.contains_key(&wire));
    }
}
