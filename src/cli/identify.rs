//! `identify` and `next`: what the mysteries of a record may be by its readings, and the best next readings.

use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::identify::{Account, Asked, MysteryOdds, Next as NextReadings, Proposal, Reasoned, in_order, in_words};
use crate::machine::{ConditionId, Machine, MysteryId};
use crate::quantity::Function;

use super::args::{Identify, Next};
use super::failure::Failure;
use super::json::rounded;
use super::kinds::catalogue;
use super::paint::Paint;
use super::record::{condition, load};
use super::{FINE, json};

#[derive(Serialize)]
struct Answer {
    mysteries: Vec<OneMystery>,
    faults: Vec<OneFault>,
}

#[derive(Serialize)]
struct OneMystery {
    mystery: String,
    candidates: Vec<OneCandidate>,
    none_of_these: f64,
    left_out: f64,
    settled: Option<String>,
    proven: bool,
}

#[derive(Serialize)]
struct OneCandidate {
    candidate: String,
    odds: f64,
    words: &'static str,
    ruled_out_by: Vec<String>,
    why: Vec<String>,
}

#[derive(Serialize)]
struct OneFault {
    fault: String,
    odds: f64,
}

#[derive(Serialize)]
struct Proposals {
    proposals: Vec<OneProposal>,
    /// Answers that no reading in a condition of the record tells apart: for each such set, what its members have each.
    cannot_be_told: Vec<Vec<Vec<String>>>,
}

#[derive(Serialize)]
struct OneProposal {
    mysteries: Vec<String>,
    between: Vec<String>,
    function: Function,
    condition: String,
    steps: Vec<String>,
    risk: &'static str,
    settles_bits: f64,
    effort: f64,
    whole_effort: f64,
    results: Vec<OneResult>,
    none_of_these: f64,
    cautions: Vec<&'static str>,
    doubts: Vec<&'static str>,
}

#[derive(Serialize)]
struct OneResult {
    reading: String,
    odds: f64,
    means: Vec<String>,
    #[serde(skip_serializing_if = "Option::is_none")]
    fault: Option<String>,
    answers_left: usize,
    or_none: bool,
    /// All of it in words.
    #[serde(skip)]
    words: String,
}

/// Readings whose reason is given, for each candidate.
const MOST_REASONS: usize = 2;

/// Odds to four places: more would not mean anything.
fn odds(value: f64) -> f64 {
    rounded((value * 1e4).round() / 1e4)
}

fn guess(machine: &Machine, mystery: MysteryId, candidate: usize) -> String {
    let mystery = machine.mysteries.get(mystery);
    let candidate = mystery.and_then(|mystery| mystery.candidates.get(candidate));
    candidate.map_or_else(|| "?".to_owned(), |one| machine.guess_name(&one.guess))
}

fn name(machine: &Machine, mystery: MysteryId) -> String {
    machine.mysteries.get(mystery).map_or_else(|| "?".to_owned(), |mystery| mystery.name.clone())
}

/// `identify`.
pub(super) fn run(what: &Identify, kinds: Option<&Path>, paint: Paint, out: &mut dyn Write) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    let machine = load(&what.file, &catalogue)?.machine;
    let reasoned = Reasoned::of(&machine, &catalogue);
    let reason = |of: &MysteryOdds, candidate: usize, reading| {
        let account = reasoned.accounts.iter().find(|account| account.group.mysteries.contains(&of.mystery))?;
        account.reason(&machine, &catalogue, (of.mystery, candidate), reading)
    };
    let one = |odds_of: &MysteryOdds| OneMystery {
        mystery: name(&machine, odds_of.mystery),
        candidates: odds_of
            .candidates
            .iter()
            .enumerate()
            .map(|(at, candidate)| OneCandidate {
                candidate: guess(&machine, odds_of.mystery, at),
                odds: odds(candidate.odds),
                words: in_words(candidate.odds),
                why: candidate
                    .ruled_out_by
                    .iter()
                    .take(MOST_REASONS)
                    .filter_map(|&id| reason(odds_of, at, id))
                    .collect(),
                ruled_out_by: candidate
                    .ruled_out_by
                    .iter()
                    .filter_map(|&id| Some(machine.readings.get(id)?.name.clone()))
                    .collect(),
            })
            .collect(),
        none_of_these: odds(odds_of.none_of_these),
        left_out: odds(odds_of.left_out),
        settled: odds_of.settled.map(|at| guess(&machine, odds_of.mystery, at)),
        proven: odds_of.proven,
    };
    let answer = Answer {
        mysteries: reasoned.mysteries(&machine).iter().map(one).collect(),
        faults: reasoned
            .faults
            .iter()
            .map(|fault| OneFault { fault: fault.words.clone(), odds: odds(fault.odds) })
            .collect(),
    };
    if what.json {
        json::write(&answer, out)?;
    } else {
        list(&answer, paint, out)?;
    }
    Ok(FINE)
}

fn list(answer: &Answer, paint: Paint, out: &mut dyn Write) -> Result<(), Failure> {
    if answer.mysteries.is_empty() {
        writeln!(out, "No mystery with candidates is recorded.")?;
    }
    for mystery in &answer.mysteries {
        writeln!(out, "{}", paint.bold(&mystery.mystery))?;
        for candidate in &mystery.candidates {
            let against = if candidate.ruled_out_by.is_empty() {
                String::new()
            } else {
                format!("  ruled out by {}", candidate.ruled_out_by.join(", "))
            };
            writeln!(
                out,
                "  {:>6.1} %  {}, {}{against}",
                candidate.odds * 100.0,
                candidate.candidate,
                candidate.words
            )?;
            for why in &candidate.why {
                writeln!(out, "            {why}")?;
            }
        }
        if mystery.none_of_these > 0.05 {
            writeln!(out, "  {:>6.1} %  none of these: the record itself may be wrong", mystery.none_of_these * 100.0)?;
        }
        if mystery.left_out > 0.0 {
            let share = mystery.left_out * 100.0;
            writeln!(
                out,
                "  too many answers to weigh them all, here or of mysteries this one hangs on: {share:.1} % of the odds are with those left out"
            )?;
        }
        if let Some(settled) = &mystery.settled {
            let how = if mystery.proven {
                " and proven"
            } else {
                ", not proven yet: one more reading that shows it proves it"
            };
            writeln!(out, "  settled: {settled}{how}")?;
        }
    }
    if !answer.faults.is_empty() {
        writeln!(out, "{}", paint.bold("Faults that would explain what disputes the record"))?;
        for fault in &answer.faults {
            writeln!(out, "  {:>6.1} %  {}", fault.odds * 100.0, fault.fault)?;
        }
    }
    out.flush()?;
    Ok(())
}

/// `next`.
pub(super) fn next(what: &Next, kinds: Option<&Path>, paint: Paint, out: &mut dyn Write) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    let machine = load(&what.file, &catalogue)?.machine;
    let present: Option<ConditionId> = match &what.condition {
        Some(name) => Some(condition(&machine, name, &what.file)?),
        None => None,
    };
    let reasoned = Reasoned::of(&machine, &catalogue);
    let mut groups: Vec<(&Account, Vec<Proposal>)> = Vec::new();
    let mut cannot = Vec::new();
    let asked = Asked { present, most: what.most, ..Asked::default() };
    // Nobody stops it, so there is always an answer.
    let all = NextReadings::of_all(&machine, &catalogue, &reasoned, &asked, &|| false).unwrap_or_default();
    for (account, next) in reasoned.accounts.iter().zip(all) {
        for set in &next.alike {
            let words = account.apart_in(&machine, &catalogue, set);
            // The same of every answer of the others.
            if !cannot.contains(&words) {
                cannot.push(words);
            }
        }
        groups.push((account, next.proposals));
    }
    let mut found = in_order(groups);
    found.truncate(what.most);
    let answer = Proposals {
        proposals: found.iter().map(|(account, proposal)| proposed(&machine, account, proposal)).collect(),
        cannot_be_told: cannot,
    };
    if what.json {
        json::write(&answer, out)?;
    } else {
        list_next(&answer, paint, out)?;
    }
    Ok(FINE)
}

fn proposed(machine: &Machine, account: &Account, proposal: &Proposal) -> OneProposal {
    let place = &proposal.place;
    let means = |leaves: &[(MysteryId, usize)]| -> Vec<String> {
        leaves.iter().map(|&(id, at)| format!("{}: {}", name(machine, id), guess(machine, id, at))).collect()
    };
    OneProposal {
        mysteries: account.group.mysteries.iter().map(|&id| name(machine, id)).collect(),
        between: [Some(&place.red), place.black.as_ref()]
            .into_iter()
            .flatten()
            .map(|spot| machine.spot_name(spot))
            .collect(),
        function: place.function,
        condition: machine.conditions.get(place.condition).map(|one| one.name.clone()).unwrap_or_default(),
        steps: proposal.steps.clone(),
        risk: proposal.risk.word(),
        settles_bits: odds(proposal.settles_bits),
        effort: odds(proposal.effort),
        whole_effort: odds(proposal.whole_effort),
        results: proposal
            .results
            .iter()
            .map(|result| OneResult {
                reading: result.reading.clone(),
                odds: odds(result.odds),
                means: means(&result.leaves),
                fault: result.fault.clone(),
                answers_left: result.answers,
                or_none: result.or_none,
                words: result.words(|id, at| format!("{}: {}", name(machine, id), guess(machine, id, at))),
            })
            .collect(),
        none_of_these: odds(proposal.none_of_these),
        cautions: proposal.cautions.clone(),
        doubts: proposal.doubts.clone(),
    }
}

fn list_next(answer: &Proposals, paint: Paint, out: &mut dyn Write) -> Result<(), Failure> {
    if answer.proposals.is_empty() {
        writeln!(out, "No reading in a condition of the record tells the open answers further apart.")?;
    }
    for (number, one) in answer.proposals.iter().enumerate() {
        let places = one.between.join(" (red) and ");
        let black = if one.between.len() > 1 { " (black)" } else { "" };
        writeln!(
            out,
            "{} {} at {places}{black}, condition '{}', risk: {}",
            paint.bold(format_args!("{}.", number + 1)),
            one.function.words(),
            one.condition,
            one.risk
        )?;
        let about = one.mysteries.join("; ");
        writeln!(out, "   for: {}", if about.is_empty() { "what disputes the record" } else { &about })?;
        for caution in &one.cautions {
            writeln!(out, "   {caution}")?;
        }
        for step in &one.steps {
            writeln!(out, "   {step}")?;
        }
        if one.none_of_these > 0.5 {
            writeln!(out, "   None of the answers goes with the readings so far: look at the record again first.")?;
        }
        for result in &one.results {
            writeln!(out, "   {:>5.1} %  {}: {}", result.odds * 100.0, result.reading, result.words)?;
        }
        for doubt in &one.doubts {
            writeln!(out, "   {doubt}")?;
        }
    }
    for set in &answer.cannot_be_told {
        writeln!(out, "No reading in a condition of the record tells these apart:")?;
        for one in set {
            writeln!(out, "   {}", one.join("; "))?;
        }
    }
    out.flush()?;
    Ok(())
}
