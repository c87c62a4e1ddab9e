//! Drives the program's own reasoning through the record: it proposes, the hidden machine shows, the reading is written down.

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;
use std::time::{Duration, Instant};

use wirewitness::catalogue::Catalogue;
use wirewitness::identify::{Account, Asked, Next, Place, Proposal, Reasoned, Risk, in_order};
use wirewitness::machine::{Guess, Machine, MysteryId, Reading, Side, Spot, Subject, TerminalRef};
use wirewitness::quantity::{Function, Value};

use super::{Ask, Oracle};

/// How far proposals are followed.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Until {
    /// Until every mystery is settled: likely enough to go on.
    Settled,
    /// Until every mystery is proven: more than one reading shows it there.
    Proven,
}

/// What came of following the proposals to the end.
#[derive(Debug, Clone)]
pub struct Followed {
    /// The record with all readings.
    pub record: Machine,
    pub readings: usize,
    pub effort: f64,
    /// What each mystery was settled to.
    pub settled: BTreeMap<MysteryId, Option<usize>>,
    /// Odds of none of these, of the group where they are highest.
    pub none_of_these: f64,
    /// Mysteries that are proven.
    pub proven: BTreeSet<MysteryId>,
    /// Wrong answers that were settled (proven, where that is followed to) at some time on the way: the mystery's name, and after how many
    /// readings.
    pub wrong_on_the_way: Vec<(String, usize)>,
    /// Readings whose danger was said to be less than it is.
    pub understated: Vec<String>,
    pub ended: bool,
    pub slowest: Duration,
}

/// The best next reading, of the groups in which anything is open; where nothing is, of those in which something is unproven.
pub fn next(
    machine: &Machine,
    catalogue: &Arc<Catalogue>,
    reasoned: &Reasoned,
    present: Option<wirewitness::machine::ConditionId>,
    until: Until,
) -> Option<(Account, Proposal)> {
    let asked = Asked { present, most: 1, ..Asked::default() };
    let proposed = |account: &Account, prove: bool| {
        if prove {
            Next::to_prove(machine, catalogue, account, &asked, &|| false)
        } else {
            Next::unless(machine, catalogue, account, &asked, &|| false)
        }
    };
    let of = |wanted: &dyn Fn(&Account) -> bool, prove: bool| {
        let wanted = reasoned.accounts.iter().filter(|account| !account.group.mysteries.is_empty() && wanted(account));
        let all: Vec<(&Account, Vec<Proposal>)> =
            wanted.map(|account| (account, proposed(account, prove).unwrap_or_default().proposals)).collect();
        in_order(all).into_iter().next().map(|(account, proposal)| (account.clone(), proposal))
    };
    let open = of(&|account| account.is_open(machine), false);
    open.or_else(|| (until == Until::Proven).then(|| of(&|account| account.is_unproven(machine), true)).flatten())
}

/// Follows the proposals until none is left or `most` readings are taken. `right` is only for what was settled wrongly on the way, `watch`
/// sees each proposal before it is carried out: neither goes to the reasoning.
pub fn follow(
    record: &Machine,
    oracle: &mut Oracle<'_>,
    catalogue: &Arc<Catalogue>,
    right: &BTreeMap<MysteryId, usize>,
    (until, most): (Until, usize),
    watch: &mut dyn FnMut(&Account, &Proposal, &mut Oracle<'_>),
) -> Followed {
    let mut machine = record.clone();
    let mut present = machine.conditions.ids().next();
    let mut followed = Followed {
        record: machine.clone(),
        readings: 0,
        effort: 0.0,
        settled: BTreeMap::new(),
        proven: BTreeSet::new(),
        none_of_these: 0.0,
        wrong_on_the_way: Vec::new(),
        understated: Vec::new(),
        ended: false,
        slowest: Duration::ZERO,
    };
    loop {
        let start = Instant::now();
        let reasoned = Reasoned::of(&machine, catalogue);
        let found = next(&machine, catalogue, &reasoned, present, until);
        followed.slowest = followed.slowest.max(start.elapsed());
        let mysteries = reasoned.mysteries(&machine);
        followed.proven = mysteries.iter().filter(|one| one.proven).map(|one| one.mystery).collect();
        followed.settled = mysteries.into_iter().map(|one| (one.mystery, one.settled)).collect();
        followed.none_of_these = reasoned.accounts.iter().map(Account::none_right).fold(0.0, f64::max);
        for (id, settled) in &followed.settled {
            if let (Some(settled), Some(right)) = (settled, right.get(id))
                && settled != right
                && (until == Until::Settled || followed.proven.contains(id))
            {
                let name = machine.mysteries.get(*id).unwrap().name.clone();
                if !followed.wrong_on_the_way.iter().any(|(other, _)| *other == name) {
                    followed.wrong_on_the_way.push((name, followed.readings));
                }
            }
        }
        let Some((account, proposal)) = found.filter(|_| followed.readings < most) else {
            followed.ended = followed.readings < most;
            followed.record = machine;
            followed.effort = oracle.log.effort;
            return followed;
        };
        watch(&account, &proposal, oracle);
        let place = &proposal.place;
        let danger = oracle.danger(place.condition);
        let said = match proposal.risk {
            Risk::Dead => 0,
            Risk::ExtraLow => 1,
            Risk::Line => 2,
        };
        if said < danger {
            followed.understated.push(format!("{place:?}: said {said}, is {danger}"));
        }
        let shown = oracle.ask(Ask {
            condition: place.condition,
            red: &place.red,
            black: place.black.as_ref(),
            function: place.function,
        });
        followed.readings += 1;
        present = Some(place.condition);
        let Some(value) = shown else {
            // What cannot be read is not asked again; the log of the hidden machine says so.
            followed.record = machine;
            followed.effort = oracle.log.effort;
            return followed;
        };
        write(&mut machine, place, value);
    }
}

/// Writes a reading into a record.
pub fn write(machine: &mut Machine, place: &Place, value: Value) {
    let reading = Reading {
        name: format!("R{}", machine.readings.len() + 1),
        red: place.red.clone(),
        black: place.black.clone(),
        value,
        condition: Some(place.condition),
        meter: place.meter,
        when: String::new(),
        who: String::new(),
        visit: None,
        note: String::new(),
    };
    machine.readings.add(reading);
}

/// How many readings the usual order by hand takes, asked of the same hidden machine: each unknown lead with each place in turn
/// that is not taken yet, until it sounds; a form and a suspected fault, one reading each (common practice, no source).
pub fn by_hand(record: &Machine, oracle: &mut Oracle<'_>) -> usize {
    let isolated = record.conditions.ids().next().unwrap();
    let mut taken: BTreeMap<Option<String>, Vec<TerminalRef>> = BTreeMap::new();
    let mut count = 0;
    for (_, mystery) in record.mysteries.iter() {
        let near = match &mystery.subject {
            Subject::End(wire, side) => near_end(record, *wire, *side),
            Subject::CoilDriver(part) => Some(Spot::Terminal(TerminalRef::new(*part, "A1"))),
            _ => None,
        };
        let Some(near) = near else {
            count += 1;
            continue;
        };
        let own = taken.entry(mystery.one_of_each.clone()).or_default();
        for candidate in &mystery.candidates {
            let Guess::Terminal(terminal) = &candidate.guess else { continue };
            if mystery.one_of_each.is_some() && own.contains(terminal) {
                continue;
            }
            count += 1;
            let black = Spot::Terminal(terminal.clone());
            let ask = Ask { condition: isolated, red: &near, black: Some(&black), function: Function::Tone };
            if oracle.shown(ask, true) == Some(Value::Tone) {
                own.push(terminal.clone());
                break;
            }
        }
    }
    count
}

/// Where a lead whose end is not known can be met.
pub fn near_end(record: &Machine, wire: wirewitness::machine::WireId, side: Side) -> Option<Spot> {
    use wirewitness::machine::EndAt;
    match &record.wires.get(wire)?.end(side.other()).at {
        EndAt::Terminal(terminal) => Some(Spot::Terminal(terminal.clone())),
        EndAt::Loose => Some(Spot::End(wire, side.other())),
        EndAt::Unknown => None,
    }
}
