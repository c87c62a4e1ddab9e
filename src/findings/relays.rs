//! Rules on relays that come to no one rest, and on relays that hold themselves with nothing to let them go.

use std::collections::BTreeMap;

use crate::catalogue::Form;
use crate::circuit::electric::{ByVolts, Corner, Known, State, Willing, coil_volts, thresholds};
use crate::circuit::{Partition, Relay, Verdict, Works, settle_abstract};
use crate::machine::{ConditionId, PartId, Thing};

use crate::quantity::Current;

use super::finding::{Finding, Severity};
use super::labels::listed;
use super::levels::Level;
use super::rule::{COMMON_PRACTICE, Rule};
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

pub(super) const HOLD_IN_WITHOUT_STOP: Rule = Rule {
    name: "hold-in-without-stop",
    severity: Severity::Fault,
    looks_for: "A relay that, once worked, holds itself over its own make contact, with no other contact that could let it go.",
    why: "Once started it runs until the supply is taken off.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: held_for_ever,
};

fn held_for_ever(survey: &Survey, out: &mut Vec<Finding>) {
    // What is held together at rest, once for each condition that comes to one rest.
    let joined: Vec<Option<Partition>> =
        survey.levels.all.iter().map(|level| rest_of(level).map(|rest| level.live.frame.joined(rest))).collect();
    for (index, relay) in survey.levels.network.relays().iter().enumerate() {
        let mut levels = survey.levels.all.iter().zip(&joined);
        let found = levels.find(|(level, joined)| {
            joined.as_ref().is_some_and(|joined| is_held_for_ever(level, joined, index, relay))
        });
        let Some((level, _)) = found else { continue };
        let mut about: Vec<Thing> = vec![relay.inside.part.into()];
        about.extend(level.condition.map(Thing::Condition));
        out.push(HOLD_IN_WITHOUT_STOP.finding(
            about,
            format!(
                "{} holds itself {} once it is worked, and no other contact lets it go.",
                survey.part_words(relay.inside.part),
                level.words
            ),
            "Isolate, verify the absence of voltage, and look for the stop contact that is missing or bridged in the way to its coil.",
        ));
    }
}

/// Where the relays come to rest, coils being of middling will; none where they do not.
fn rest_of<'l>(level: &'l Level<'_>) -> Option<&'l Vec<bool>> {
    let settles = level.live.verdict() == Verdict::Settles;
    level.live.ends.first().filter(|_| settles).map(|(rest, _)| rest)
}

fn is_held_for_ever(level: &Level<'_>, joined: &Partition, index: usize, relay: &Relay) -> bool {
    let (live, network) = (&level.live, level.live.network());
    let Some(rest) = rest_of(level) else { return false };
    if rest.get(index) != Some(&false) {
        return false;
    }
    // Only where one of its own make contacts stands next to its coil.
    let coil = relay.inside.ends.map(|node| joined.root(node.0));
    let own = relay.contacts.iter().filter_map(|&contact| network.contacts().get(contact));
    let beside = own
        .filter(|contact| contact.form == Form::Make)
        .any(|contact| contact.inside.ends.iter().any(|node| coil.contains(&joined.root(node.0))));
    if !beside {
        return false;
    }
    let mut worked = rest.clone();
    worked[index] = true;
    let known = Known::default();
    let by_volts = ByVolts::new(&live.frame, live.elements, None, Willing::Middle, &known);
    let held = settle_abstract(&worked, &by_volts, ByVolts::BOUNDS);
    let Some(end) = held.ends.first().and_then(|end| end.first()).filter(|_| held.verdict == Verdict::Settles) else {
        return false;
    };
    if end.get(index) != Some(&true) {
        return false;
    }
    let Some(Some(limits)) = thresholds(&live.frame, Willing::Middle).get(index).copied() else { return false };
    let state_without = |is_open: &dyn Fn(usize) -> bool| {
        let closed = |contact: usize| !is_open(contact) && live.frame.is_closed(contact, end);
        State::with_contacts(&live.frame, live.elements, &closed, &|_| Corner::Nominal, None)
    };
    let drops = |state: &State| coil_volts(state, relay).is_some_and(|volts| volts < limits.drop_out);
    let lets_go = |contact: usize| drops(&state_without(&|other| other == contact));
    let is_own = |contact: usize| {
        network.contacts().get(contact).is_some_and(|entry| matches!(entry.works, Works::Relay(own) if own == index))
    };
    // It holds itself only if it lets go without its own contacts.
    if !drops(&state_without(&is_own)) {
        return false;
    }
    // A contact that the coil's volts do not hang on at all cannot let it go.
    let whole = state_without(&|_| false);
    let solved = if relay.current == Some(Current::Dc) { &whole.direct } else { &whole.alternating };
    let [a, b] = relay.inside.ends;
    let Ok(effects) = solved.factored().sensitivities(a.0, b.0) else { return false };
    let matters = |contact: usize| {
        let branch = solved.stamp.contacts.get(contact);
        branch.and_then(|&branch| effects.get(branch)).is_none_or(|effect| effect.norm() > 1e-15)
    };
    let others = network
        .contacts()
        .iter()
        .enumerate()
        .filter(|(at, _)| !is_own(*at) && live.frame.is_closed(*at, end) && matters(*at));
    !others.into_iter().any(|(contact, _)| lets_go(contact))
}

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
