//! Practice at the desk: the record as found of a hidden machine, a bench that is asked for each reading, and how it came out.
//!
//! While practice lies on the desk nothing is saved: what is practised is no record of a machine.

use std::sync::Arc;

use crate::machine::{Change, Edit, MysteryId, Spot};
use crate::practice::{Bench, NothingHidden, Refusal, Request, Risk, Score, Taken, cautions};
use crate::quantity::Function;

use super::files::{Home, Outcome};
use super::jobs::{Event, Manner};
use super::session::Desk;

/// Seeds that a window takes by itself: few figures, to be read aloud.
const SEEDS: u64 = 10_000;

/// A practice session on the desk.
pub struct Practice {
    bench: Bench,
    /// What to mind in the condition that is set, worst first; whether a source is on there.
    cautions: (Vec<&'static str>, bool),
    /// Readings taken when a hint was asked for.
    hint_at: Option<usize>,
    score: Option<Arc<Score>>,
    judging: bool,
}

impl Practice {
    /// The bench.
    pub fn bench(&self) -> &Bench {
        &self.bench
    }

    /// What to mind in the condition that is set, worst first.
    pub fn cautions(&self) -> &[&'static str] {
        &self.cautions.0
    }

    /// Whether a source is on in the condition that is set, by the record or in truth.
    pub fn is_live(&self) -> bool {
        self.cautions.1
    }

    /// Whether a hint was asked for since the last reading.
    pub fn is_hinted(&self) -> bool {
        self.hint_at == Some(self.bench.taken().len())
    }

    /// How it came out, once it is finished and weighed.
    pub fn score(&self) -> Option<&Score> {
        self.score.as_deref()
    }

    /// Whether it is finished: no more readings, no more answers.
    pub fn is_finished(&self) -> bool {
        self.judging || self.score.is_some()
    }
}

impl Desk {
    /// Puts the record as found of an invented hidden machine on the desk, to practise on. What lay there is gone.
    ///
    /// # Errors
    /// When the machine of this seed leaves nothing to find out.
    pub fn practise(&mut self, seed: u64) -> Result<(), NothingHidden> {
        let bench = Bench::invented(seed, &self.catalogue)?;
        self.discard_autosave();
        self.replace(bench.record().clone(), Home::default());
        self.practice =
            Some(Practice { bench, cautions: (Vec::new(), false), hint_at: None, score: None, judging: false });
        self.events.push(Event::Opened(std::path::PathBuf::new()));
        Ok(())
    }

    /// A seed for practice, another one for every time and every record that has lain on the desk.
    pub fn seed(&self) -> u64 {
        let now = self.now();
        // FNV-1a (Fowler, Noll, Vo), 64 bits.
        let hash = now
            .bytes()
            .fold(0xcbf2_9ce4_8422_2325_u64, |hash, byte| (hash ^ u64::from(byte)).wrapping_mul(0x0100_0000_01b3));
        hash.wrapping_add(self.turn) % SEEDS
    }

    /// The practice session on the desk, if it is one.
    pub fn practice(&self) -> Option<&Practice> {
        self.practice.as_ref()
    }

    /// Takes a reading on the hidden machine in the condition that is set, and logs it. `None` where nothing is practised, or it is
    /// finished.
    pub fn take_reading(
        &mut self,
        red: Spot,
        black: Option<Spot>,
        function: Function,
    ) -> Option<Result<Taken, Refusal>> {
        let condition = self.condition();
        let practice = self.practice.as_mut().filter(|practice| !practice.is_finished())?;
        if let Some(condition) = condition.filter(|&condition| practice.bench.present() != Some(condition)) {
            practice.bench.set(condition);
        }
        // Without a condition on the desk there is none at the bench either: nobody says so any more.
        if condition.is_none() {
            return Some(Err(Refusal::NoCondition));
        }
        let taken = practice.bench.take(&Request { red, black, function });
        let stands = taken.as_ref().is_ok_and(|taken| taken.shown.value().is_some());
        let newest = practice.bench.record().readings.values().next_back().cloned();
        if let Some(reading) = newest.filter(|_| stands) {
            let id = self.machine.readings.next_id();
            self.apply(Edit::one(format!("Reading {}", reading.name), Change::Reading(id, Some(Arc::new(reading)))));
        }
        Some(taken)
    }

    /// Shows what the proposals would read next, until a reading is taken; counted.
    pub fn hint(&mut self) {
        if let Some(practice) =
            self.practice.as_mut().filter(|practice| !practice.is_finished() && !practice.is_hinted())
        {
            practice.bench.count_hint();
            practice.hint_at = Some(practice.bench.taken().len());
        }
    }

    /// Says what a mystery is, or takes it back; judged when it is finished.
    pub fn say(&mut self, mystery: MysteryId, candidate: Option<usize>) {
        if let Some(practice) = self.practice.as_mut().filter(|practice| !practice.is_finished()) {
            practice.bench.say(mystery, candidate);
        }
    }

    /// Ends the session; how it came out is weighed beside the window.
    pub fn finish_practice(&mut self) {
        let Some(practice) = self.practice.as_mut().filter(|practice| !practice.is_finished()) else { return };
        practice.judging = true;
        let bench = practice.bench.clone();
        let started =
            self.start("Weighing what was read", Manner::AtOnce, move |_| Outcome::Judged(Box::new(Score::of(&bench))));
        if !started && let Some(practice) = self.practice.as_mut() {
            practice.judging = false;
        }
    }

    pub(super) fn take_score(&mut self, score: Score) {
        if let Some(practice) = self.practice.as_mut() {
            practice.judging = false;
            practice.score = Some(Arc::new(score));
        }
    }

    /// What to mind in the condition that is set now.
    pub(super) fn mind_condition(&mut self) {
        let condition = self.condition();
        if let Some(practice) = self.practice.as_mut() {
            let risk = condition.map(|condition| practice.bench.risk(condition));
            practice.cautions = (
                risk.map(|risk| cautions(practice.bench.record(), risk)).unwrap_or_default(),
                risk.is_some_and(|risk| risk != Risk::Dead),
            );
        }
    }

    /// Whether saving is refused because this is practice; tells so.
    pub(super) fn refuses_to_save(&mut self) -> bool {
        let refuses = self.practice.is_some();
        if refuses {
            self.fail("Saving", &"this is practice on a machine that does not exist; it is not kept as a record");
        }
        refuses
    }
}
