//! Whether readings show a lead where it is taken to be, rather than only where it is not; and which reading would.

use crate::circuit::electric::Expectation;
use crate::machine::{EndAt, Guess, MysteryId, Subject};

use super::account::{Account, Hypothesis};
use super::elsewhere::with_end;
use super::log::Log;
use super::open::not_looked_at;
use super::propose::{Asked, Bench, MOST_CONTEXTS, Next};
use super::world::World;

/// Readings show an answer where they are so many times likelier with it than without.
const BORNE_OUT: f64 = 5.0;
/// Odds of a settled lead being on nothing, where it is asked which reading would show it: no odds of the record.
const ON_NOTHING: f64 = 0.01;

impl Account {
    /// Finds out which settled answers readings show: leads that are much likelier there than on nothing, and what else is much likelier
    /// than the next likely. What takes a fault to be explained shows nothing, nor does a reading that hangs on something not known.
    pub(super) fn bear_out(&mut self, log: &Log<'_>) {
        self.borne_out.clear();
        let settled = self.settled(log.machine);
        let Some((best, _)) = self.best().filter(|_| !settled.is_empty()) else { return };
        let Some(world) = self.worlds_of(log, &best, 1).into_iter().next() else { return };
        let with = world.expectations(&log.places);
        let bears_out = |(mystery, answer): (MysteryId, usize)| {
            // The likeliest of all may say otherwise here: then it shows nothing of this answer.
            if self.answer_of(&best, mystery) != Some(answer) {
                return false;
            }
            let Some(without) = self.without(log, &best, mystery) else { return true };
            let without = without.expectations(&log.places);
            let told = with.iter().zip(&without).enumerate().map(|(at, (with, without))| {
                let proves = |one: &Option<Expectation>| one.as_ref().is_none_or(Expectation::can_prove);
                if proves(with) && proves(without) {
                    (log.likelihood(at, with.as_ref()) / log.likelihood(at, without.as_ref())).ln()
                } else {
                    0.0
                }
            });
            told.sum::<f64>() > BORNE_OUT.ln()
        };
        self.borne_out = settled.into_iter().filter(|&one| bears_out(one)).map(|(mystery, _)| mystery).collect();
    }

    /// What a hypothesis says of a mystery.
    fn answer_of(&self, hypothesis: &Hypothesis, mystery: MysteryId) -> Option<usize> {
        self.says(hypothesis, self.group.mysteries.iter().position(|id| *id == mystery)?)
    }

    /// The machine as a hypothesis has it, but for what it says of a mystery: a lead on nothing, or else the next likely candidate.
    fn without(&self, log: &Log<'_>, hypothesis: &Hypothesis, mystery: MysteryId) -> Option<World> {
        if let Some(world) = self.on_nothing(log, hypothesis, mystery) {
            return Some(world);
        }
        let own = self.answer_of(hypothesis, mystery);
        let differs = |one: &&(&Hypothesis, &f64)| {
            let says = self.answer_of(one.0, mystery);
            one.0.is_plain() && says.is_some() && says != own
        };
        let others: Vec<(&Hypothesis, &f64)> = self.hypotheses.iter().zip(&self.odds).collect();
        let (next, _) = others.iter().filter(differs).max_by(|a, b| a.1.total_cmp(b.1))?;
        self.worlds_of(log, next, 1).into_iter().next()
    }

    /// The machine as a hypothesis has it, but with the lead that a mystery asks about on nothing. `None` where it asks about something else.
    fn on_nothing(&self, log: &Log<'_>, hypothesis: &Hypothesis, mystery: MysteryId) -> Option<World> {
        let entry = log.machine.mysteries.get(mystery)?;
        let guess = &entry.candidates.get(self.answer_of(hypothesis, mystery)?)?.guess;
        if !matches!(entry.subject, Subject::End(..) | Subject::CoilDriver(_)) || !matches!(guess, Guess::Terminal(_)) {
            return None;
        }
        let machine = with_end(log.machine, &entry.subject, EndAt::Loose);
        let own = self.answers_of(hypothesis).into_iter().filter(|(id, _)| *id != mystery);
        let others = self.contexts.first().map(|context| context.answers.clone()).unwrap_or_default();
        let answers: Vec<(MysteryId, usize)> = own.chain(others).collect();
        let world = World::of(machine.as_ref().unwrap_or(log.machine), log.catalogue, &answers, &[]);
        Some(world.with_flaws_of(&log.network, &hypothesis.flaws))
    }
}

impl Next {
    /// Readings that would show leads that are settled by what the others are: with the lead on nothing they would read otherwise.
    pub(super) fn showing(log: &Log<'_>, account: &Account, asked: &Asked) -> Option<Self> {
        let mut next = Self::default();
        // Of too many answers nothing is proven, whatever is read.
        let Some((best, _)) = account.best().filter(|_| account.group.left_out == 0.0) else { return Some(next) };
        // What is faulty may be so or not.
        let same = |one: &&(&Hypothesis, &f64)| (one.0.answer, one.0.elsewhere) == (best.answer, best.elsewhere);
        let all: Vec<(&Hypothesis, &f64)> = account.hypotheses.iter().zip(&account.odds).collect();
        let Some((likeliest, _)) = all.iter().filter(same).max_by(|a, b| a.1.total_cmp(b.1)) else { return Some(next) };
        let number = account.hypotheses.iter().position(|one| one == *likeliest);
        let both: Vec<&Hypothesis> = if likeliest.flaws.is_empty() { vec![&best] } else { vec![likeliest, &best] };
        for (mystery, _) in account.settled(log.machine) {
            let Some(number) = number.filter(|_| next.proposals.len() < asked.most) else { break };
            if account.borne_out.contains(&mystery) {
                continue;
            }
            let without: Vec<World> = both.iter().filter_map(|one| account.on_nothing(log, one, mystery)).collect();
            if without.is_empty() {
                continue;
            }
            let with = both.iter().flat_map(|one| account.worlds_of(log, one, MOST_CONTEXTS / both.len()));
            let worlds = [with.collect(), without];
            let others = not_looked_at(log, account, &[number]);
            let odds = vec![1.0 - ON_NOTHING, ON_NOTHING];
            let mut bench = Bench::of(log, account, (vec![number], odds), &worlds, &others, asked)?;
            bench.is_to_prove = true;
            bench.open = account.group.mysteries.iter().position(|id| *id == mystery).into_iter().collect();
            next.proposals.extend(bench.found()?.proposals);
        }
        next.proposals.truncate(asked.most);
        Some(next)
    }
}

#[cfg(test)]
mod tests {
    use std::sync::Arc;

    use crate::catalogue::Catalogue;
    use crate::identify::{Asked, MysteryOdds, Next, Reasoned};
    use crate::machine::Machine;
    use crate::store;

    /// Two leads, one of each on two terminals; `readings` as they stand in a file.
    fn read(readings: &str) -> (Machine, Arc<Catalogue>) {
        let lead = |at: usize| {
            format!(
                "(name: \"lead {at}\", subject: end(\"A{at}.to\"), candidates: [(guess: terminal(\"TB1.1a\")), (guess: terminal(\"TB1.2a\"))], one_of_each: \"leads\")"
            )
        };
        let relay = |at: usize| {
            format!(
                "(tag: \"K{at}\", kind: \"relay-make\", ratings: {{\"coil_volts\": \"24 V AC\", \"coil_ohms\": \"177 Ω\"}})"
            )
        };
        let text = format!(
            "(format: 1, machine: (title: \"shown\", source: \"invented\"), parts: [{}, {},
                (tag: \"TB1\", kind: \"terminal-strip\", count: 2),
                (tag: \"X1\", kind: \"cord-plug\", ratings: {{\"volts\": \"24 V AC\", \"hertz\": \"50 Hz\"}})],
            wires: [(key: \"A1\", from: \"K1.A1\", to: \"unknown\"), (key: \"A2\", from: \"K2.A1\", to: \"unknown\")],
            conditions: [(name: \"isolated\", sources: {{\"X1\": false}})], readings: [{readings}], mysteries: [{}, {}])",
            relay(1),
            relay(2),
            lead(1),
            lead(2)
        );
        let catalogue = Catalogue::built_in().unwrap_or_else(|error| panic!("{error}"));
        (store::parse("shown", &text, &catalogue).unwrap_or_else(|errors| panic!("{errors}")), catalogue)
    }

    fn odds(machine: &Machine, catalogue: &Arc<Catalogue>) -> (Vec<MysteryOdds>, Next) {
        let reasoned = Reasoned::of(machine, catalogue);
        let asked = Asked { present: machine.conditions.ids().next(), most: 1, ..Asked::default() };
        let next = Next::of_all(machine, catalogue, &reasoned, &asked, &|| false).unwrap_or_default();
        (reasoned.mysteries(machine), next.into_iter().find(|next| !next.proposals.is_empty()).unwrap_or_default())
    }

    const ONE: &str = "(name: \"R1\", red: \"K1.A1\", black: \"TB1.1a\", value: \"tone\", condition: \"isolated\"),
        (name: \"R2\", red: \"K1.A1\", black: \"TB1.1a\", value: \"0.2 Ω\", condition: \"isolated\")";

    /// Two terminals, two leads, one of each: where the one is the other is not, but nobody has seen where that is (common practice, no source).
    #[test]
    fn a_lead_that_is_settled_by_the_other_is_shown_by_a_reading_of_its_own() {
        let (machine, catalogue) = read(ONE);
        let (mysteries, next) = odds(&machine, &catalogue);
        assert!(mysteries[0].proven && mysteries[1].settled == Some(1) && !mysteries[1].proven, "{mysteries:?}");
        let first = next.proposals.first().unwrap_or_else(|| panic!("nothing proposed: {next:?}"));
        let words: Vec<String> = first.results.iter().map(|one| one.words(|_, at| format!("candidate {at}"))).collect();
        assert_eq!(words, ["candidate 1", "none of the candidates, or a mistaken reading"], "{first:?}");
        let shown = format!(
            "{ONE}, (name: \"R3\", red: \"K2.A1\", black: \"TB1.2a\", value: \"tone\", condition: \"isolated\")"
        );
        let (machine, catalogue) = read(&shown);
        let (mysteries, next) = odds(&machine, &catalogue);
        assert!(mysteries.iter().all(|one| one.proven), "{mysteries:?}");
        assert!(next.proposals.is_empty(), "{next:?}");
    }

    /// The second lead sounds on neither terminal: it is on none of them, and the first stays where it is.
    #[test]
    fn a_lead_that_sounds_nowhere_is_on_none_of_its_candidates() {
        let other = "(name: \"R3\", red: \"K2.A1\", black: \"TB1.2a\", value: \"no tone\", condition: \"isolated\"),
            (name: \"R4\", red: \"K2.A1\", black: \"TB1.2a\", value: \"OL\", condition: \"isolated\"),
            (name: \"R5\", red: \"K2.A1\", black: \"TB1.1a\", value: \"no tone\", condition: \"isolated\")";
        let (machine, catalogue) = read(&format!("{ONE}, {other}"));
        let (mysteries, _) = odds(&machine, &catalogue);
        assert_eq!(mysteries[0].settled, Some(0), "{mysteries:?}");
        assert!(mysteries[1].settled.is_none(), "{mysteries:?}");
        assert!(mysteries[1].none_of_these > 10.0 * mysteries[0].none_of_these, "{mysteries:?}");
    }
}
