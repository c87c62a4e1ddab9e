//! The rule on relays that come to no one rest.

use std::collections::BTreeMap;

use crate::circuit::Verdict;
use crate::machine::{ConditionId, PartId, Thing};

use super::finding::{Finding, Severity};
use super::labels::listed;
use super::rule::Rule;
use super::survey::Survey;

pub(super) const RELAY_CHATTERS: Rule = Rule {
    name: "relay-chatters",
    severity: Severity::Fault,
    looks_for: "A relay that in some condition never comes to rest, or rests one way or the other by chance.",
    why: "A chattering contact burns and welds; a race makes the machine do one thing today and another tomorrow.",
    source: "verdicts after Eichelberger 1965 and the multiple-winner model (Seger and Brzozowski 1994)",
    was_called: &[],
    find: restless_relays,
};

fn restless_relays(survey: &Survey, out: &mut Vec<Finding>) {
    // One finding for the same relays, with every condition in which they do it.
    type Where<'w> = (Vec<ConditionId>, Vec<&'w str>);
    let mut found: BTreeMap<(Vec<PartId>, &'static str), Where> = BTreeMap::new();
    for state in survey.states() {
        let Some((verdict, parts)) = state.restless() else { continue };
        let key = (parts.into_iter().collect::<Vec<_>>(), does(verdict));
        let (conditions, words) = found.entry(key).or_default();
        if state.condition.is_none() && !conditions.is_empty() {
            continue;
        }
        conditions.extend(state.condition);
        words.push(&state.words);
    }
    for ((parts, does), (conditions, words)) in found {
        let names = listed(parts.iter().map(|&part| survey.machine.part_name(part).to_owned()));
        let plural = parts.len() > 1;
        let relays = if plural { format!("The relays {names}") } else { format!("The relay {names}") };
        let verb = match (does, plural) {
            ("chatters", true) => "chatter",
            ("chatters", false) => "chatters",
            ("race", true) => "come to rest one way or another by chance",
            ("race", false) => "comes to rest one way or another by chance",
            ("race or chatter", true) => "come to rest or chatter by chance",
            ("race or chatter", false) => "comes to rest or chatters by chance",
            _ => "can move in more orders than could be gone through",
        };
        let mut about: Vec<Thing> = parts.into_iter().map(Thing::from).collect();
        about.extend(conditions.into_iter().map(Thing::Condition));
        let place = listed(words.into_iter().map(str::to_owned));
        let finding = RELAY_CHATTERS.finding(
            about,
            format!("{relays} {verb} {place}."),
            "Do not leave it switched on like this; isolate, and look for a break contact in the way to its own coil, and for \
             an output or a lead on the wrong terminal.",
        );
        out.push(if does == "undecided" { finding.with_severity(Severity::Doubt) } else { finding });
    }
}

fn does(verdict: Verdict) -> &'static str {
    match verdict {
        Verdict::Chatters => "chatters",
        Verdict::Race => "race",
        Verdict::RaceOrChatter => "race or chatter",
        Verdict::Settles | Verdict::Undecided => "undecided",
    }
}
