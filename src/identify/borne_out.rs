//! Whether readings show a lead where it is taken to be, rather than only where it is not; and which reading would.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::machine::{EndAt, Guess, MysteryId, Subject};

use super::account::{Account, Hypothesis};
use super::log::Log;
use super::open::not_looked_at;
use super::propose::{Asked, Bench, MOST_CONTEXTS, Next};
use super::world::World;

/// Readings show an answer where they are so many times likelier with it than with the lead on nothing.
const BORNE_OUT: f64 = 5.0;
/// Odds of a settled lead being on nothing, where it is asked which reading would show it.
const ON_NOTHING: f64 = 0.01;

impl Account {
    /// Finds out which settled answers readings show: those that are much less likely with the lead on nothing. What takes a fault to be
    /// explained shows nothing.
    pub(super) fn bear_out(&mut self, log: &Log<'_>) {
        let settled = self.settled(log.machine);
        let Some(best) = self.best().filter(|_| !settled.is_empty()) else { return };
        let Some(world) = self.worlds_of(log, &best, 1).into_iter().next() else { return };
        let likelihoods = |world: &World| -> Vec<f64> {
            let shown = world.expectations(&log.places);
            shown.iter().enumerate().map(|(at, shown)| log.likelihood(at, shown.as_ref())).collect()
        };
        let with = likelihoods(&world);
        self.borne_out = settled
            .into_iter()
            .filter(|&(mystery, answer)| {
                // The likeliest of all may say otherwise here: then it shows nothing of this answer.
                if self.answer_of(&best, mystery) != Some(answer) {
                    return false;
                }
                let Some(without) = self.on_nothing(log, &best, mystery) else { return true };
                let without = likelihoods(&without);
                with.iter().zip(&without).map(|(with, without)| (with / without).ln()).sum::<f64>() > BORNE_OUT.ln()
            })
            .map(|(mystery, _)| mystery)
            .collect();
    }

    /// The likeliest answer, with nothing faulty.
    fn best(&self) -> Option<Hypothesis> {
        let best = self.odds.iter().enumerate().max_by(|a, b| a.1.total_cmp(b.1)).map(|(at, _)| at)?;
        Some(Hypothesis { flaws: Vec::new(), ..self.hypotheses.get(best)?.clone() })
    }

    /// What a hypothesis says of a mystery.
    fn answer_of(&self, hypothesis: &Hypothesis, mystery: MysteryId) -> Option<usize> {
        self.says(hypothesis, self.group.mysteries.iter().position(|id| *id == mystery)?)
    }

    /// The machine as a hypothesis has it, but with the lead that a mystery asks about on nothing. `None` where it asks about something else.
    fn on_nothing(&self, log: &Log<'_>, hypothesis: &Hypothesis, mystery: MysteryId) -> Option<World> {
        let entry = log.machine.mysteries.get(mystery)?;
        let guess = &entry.candidates.get(self.answer_of(hypothesis, mystery)?)?.guess;
        if !matches!(entry.subject, Subject::End(..) | Subject::CoilDriver(_)) || !matches!(guess, Guess::Terminal(_)) {
            return None;
        }
        let mut machine = log.machine.clone();
        if let Subject::End(wire, side) = entry.subject
            && let Some(mut lead) = machine.wires.get(wire).cloned()
        {
            lead.end_mut(side).at = EndAt::Loose;
            machine.wires.put(wire, Some(Arc::new(lead)));
        }
        let own = self.answers_of(hypothesis).into_iter().filter(|(id, _)| *id != mystery);
        let others = self.contexts.first().map(|context| context.answers.clone()).unwrap_or_default();
        let answers: Vec<(MysteryId, usize)> = own.chain(others).collect();
        Some(World::of(&machine, log.catalogue, &answers, &[]))
    }
}

impl Next {
    /// Readings that would show leads that are settled by what the others are: with the lead on nothing they would read otherwise.
    pub(super) fn showing(log: &Log<'_>, account: &Account, asked: &Asked) -> Option<Self> {
        let mut next = Self::default();
        let Some(best) = account.best() else { return Some(next) };
        let number = account.hypotheses.iter().position(|one| *one == best);
        let mysteries = account.mysteries(log.machine);
        let unproven: BTreeSet<MysteryId> = mysteries.iter().filter(|one| !one.proven).map(|one| one.mystery).collect();
        for mystery in unproven {
            let Some(without) = account.on_nothing(log, &best, mystery) else { continue };
            let Some(number) = number.filter(|_| next.proposals.len() < asked.most) else { break };
            let worlds = [account.worlds_of(log, &best, MOST_CONTEXTS), vec![without]];
            let others = not_looked_at(log, account, &[number]);
            let odds = vec![1.0 - ON_NOTHING, ON_NOTHING];
            let mut bench = Bench::of(log, account, (vec![number], odds), &worlds, &others, asked)?;
            bench.open = account.group.mysteries.iter().position(|id| *id == mystery).into_iter().collect();
            next.proposals.extend(bench.found()?.proposals);
        }
        next.proposals.truncate(asked.most);
        Some(next)
    }
}
