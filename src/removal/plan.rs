//! The order of work to take wires out: what comes first for all, then wire by wire, then what comes last.

use std::collections::BTreeSet;
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::circuit::electric::{Elements, Live, Profile, ask_at, expected};
use crate::circuit::{Network, Passive};
use crate::machine::{EndAt, Machine, PartId, Setting, Side, Spot, TerminalRef, Wire, WireId, WireState};
use crate::quantity::Function;

use super::verdict::{Verdict, Verdicts};

/// One step.
#[derive(Debug, Clone, PartialEq, Eq)]
pub struct Step {
    /// Stays the same as long as the step does: `isolate`, `W7.take-off-first`.
    pub key: String,
    /// The wire it is about.
    pub wire: Option<WireId>,
    /// What to do, as sentences.
    pub what: String,
    /// When and by whom it was done, where it was ticked off.
    pub done: Option<String>,
    /// Where a reading that belongs to it is taken.
    pub between: Option<Box<[Spot; 2]>>,
}

impl Step {
    /// A step that says why something is not done: nothing of it can be ticked off.
    pub fn stays(&self) -> bool {
        self.name() == "stays"
    }

    /// The step as it is ticked off: `isolate`, `take-off-from`, without the wire it is about.
    pub fn name(&self) -> &str {
        self.key.rsplit('.').next().unwrap_or(&self.key)
    }
}

/// The wires that a plan takes out.
pub fn going(steps: &[Step]) -> Vec<WireId> {
    steps.iter().filter(|step| step.name() == "out").filter_map(|step| step.wire).collect()
}

/// The first step that must be done before this one and is not: what comes for all before what comes for a wire, and the steps of a
/// wire in their order. `None`: it may be ticked off.
pub fn waits_for(steps: &[Step], at: usize) -> Option<usize> {
    let own = steps.get(at)?;
    let counts = |step: &Step| own.wire.is_none() || step.wire.is_none() || step.wire == own.wire;
    (0..at).find(|&before| {
        let step = &steps[before];
        !step.stays() && counts(step) && step.done.is_none()
    })
}

/// Marks the steps that are ticked off in the record with when and by whom.
pub fn mark_done(machine: &Machine, steps: &mut [Step]) {
    for step in steps {
        let capped = step.key.strip_suffix(".out").map(|wire| format!("{wire}.cap"));
        step.done = machine.ticks.values().find_map(|tick| {
            let key = machine.tick_key(tick);
            let is_capped = capped.as_ref() == Some(&key);
            if key != step.key && !is_capped {
                return None;
            }
            let said = [if is_capped { "capped off" } else { "" }, tick.when.as_str(), tick.who.as_str()];
            Some(said.into_iter().filter(|text| !text.is_empty()).collect::<Vec<_>>().join(", "))
        });
    }
}

/// The steps to take these wires out. Wires whose verdict does not let them go get one step that says so; nothing of them is taken off.
pub fn plan(machine: &Machine, catalogue: &Catalogue, verdicts: &Verdicts, wires: &[WireId]) -> Vec<Step> {
    if wires.is_empty() {
        return Vec::new();
    }
    let network = Network::of(machine, catalogue);
    let mut steps = Vec::new();
    let mut going: Vec<WireId> = Vec::new();
    // Of wires whose work another path does one goes at a time: together they may be all there is.
    let mut redundant: Option<WireId> = None;
    for &wire in wires {
        let Some(judged) = verdicts.wires.get(&wire) else { continue };
        let name = machine.wire_name(wire);
        if !judged.verdict.may_go() {
            let what = format!("CAUTION: {name} stays. {} {}", judged.reason, judged.missing.join(" "));
            steps.push(step(format!("{name}.stays"), Some(wire), what.trim_end().to_owned()));
        } else if let Some(other) = judged.not_with.iter().find(|other| going.contains(other)) {
            let what = format!(
                "CAUTION: {name} stays: {} is taken out, and one does the other's work.",
                machine.wire_name(*other)
            );
            steps.push(step(format!("{name}.stays"), Some(wire), what));
        } else if let Some(other) = redundant.filter(|_| judged.verdict == Verdict::Redundant) {
            let what = format!(
                "CAUTION: {name} stays for now: another path does its work, and {} goes by this plan. Have it judged again when that is done.",
                machine.wire_name(other)
            );
            steps.push(step(format!("{name}.stays"), Some(wire), what));
        } else if !going.contains(&wire) {
            if judged.verdict == Verdict::Redundant {
                redundant = Some(wire);
            }
            going.push(wire);
        }
    }
    if !going.is_empty() {
        before_all(machine, &network, &mut steps);
        let mut before = network;
        for (at, &wire) in going.iter().enumerate() {
            // The wires before it on the plan are off by then.
            let after = without(machine, catalogue, &going[..=at]);
            let reads = Reads { before, after, going: &going };
            one_wire(machine, verdicts, &reads, wire, &mut steps);
            before = reads.after;
        }
        after_all(&mut steps);
    }
    mark_done(machine, &mut steps);
    steps
}

fn step(key: String, wire: Option<WireId>, what: String) -> Step {
    Step { key, wire, what, done: None, between: None }
}

fn before_all(machine: &Machine, network: &Network, steps: &mut Vec<Step>) {
    let names = |parts: BTreeSet<PartId>| {
        parts.into_iter().map(|part| machine.part_name(part).to_owned()).collect::<Vec<_>>().join(", ")
    };
    if machine.facts.may_burn() {
        let gas = "WARNING: the refrigerant burns, or it is not said that it does not. Air the place before anything else; no spark and no open flame near its circuit.";
        steps.push(step("flammable".to_owned(), None, gas.to_owned()));
    }
    let sources = names(network.sources().iter().map(|source| source.inside.part).collect());
    let isolate = if sources.is_empty() {
        "DANGER: electric shock. The record shows no source: find every supply of the machine and isolate it."
            .to_owned()
    } else {
        format!(
            "DANGER: electric shock. Isolate every supply: {sources}. A switch of the machine or its control is no isolation."
        )
    };
    steps.push(step("isolate".to_owned(), None, isolate));
    let lock = "WARNING: lock the isolation and tag it with name, date and reason, so that nobody switches on while hands are inside. Keep a pulled plug in sight or locked away.";
    steps.push(step("lock".to_owned(), None, lock.to_owned()));
    let stored = names(
        network
            .passives()
            .iter()
            .filter(|(what, _)| *what == Passive::Capacitor)
            .map(|(_, inside)| inside.part)
            .collect(),
    );
    let stored = if stored.is_empty() {
        "WARNING: stored energy. The record shows no capacitor; look for one, for batteries, springs and pressure all the same.".to_owned()
    } else {
        format!("WARNING: stored energy. Let {stored} discharge as its maker says, and verify that it has.")
    };
    steps.push(step("stored".to_owned(), None, stored));
    let verify = "DANGER: try the meter on a known live source, verify absence of voltage between all conductors here and from each to earth, then try the meter on the known source again.";
    steps.push(step("verify".to_owned(), None, verify.to_owned()));
}

fn after_all(steps: &mut Vec<Step>) {
    for (key, what) in [
        (
            "openings",
            "CAUTION: close every opening that a wire leaves: blank plugs in grommets and housings, covers on strips.",
        ),
        ("tidy", "NOTICE: tie up what stays, away from sharp edges, heat and moving parts; mark what was capped."),
        (
            "earth",
            "WARNING: before the supply comes back, prove the continuity of the protective earth from the supply to each metal part that can be touched, and that each fuse and protector is in its place.",
        ),
        (
            "try",
            "NOTICE: with covers on, put the machine into each of its conditions and see that each load does what it did before. Local codes, the maker's instructions and a licensed person decide what else is to be tested.",
        ),
    ] {
        steps.push(step(key.to_owned(), None, what.to_owned()));
    }
}

/// What a meter should read before and after, everything isolated.
struct Reads<'p> {
    before: Network,
    after: Network,
    /// Wires that the plan takes out.
    going: &'p [WireId],
}

/// The network of the machine with these wires out.
fn without(machine: &Machine, catalogue: &Catalogue, out: &[WireId]) -> Network {
    let mut less = machine.clone();
    for &id in out {
        if let Some(wire) = machine.wires.get(id) {
            less.wires.put(id, Some(Arc::new(Wire { state: WireState::Removed, ..wire.clone() })));
        }
    }
    Network::of(&less, catalogue)
}

impl Reads<'_> {
    fn tone(network: &Network, red: &Spot, black: &Spot) -> String {
        let elements = Elements::of(network);
        let live = Live::of(network, &elements, &Setting::default());
        ask_at(network, Function::Tone, red, Some(black), false).map_or_else(
            || "not known".to_owned(),
            |ask| {
                let expectation = expected(&live, &Profile::default(), ask);
                let doubts: Vec<&str> = expectation.doubts.iter().map(|doubt| doubt.words()).collect();
                let words = expectation.expected.words(Function::Tone);
                if doubts.is_empty() { words } else { format!("{words}, but {}", doubts.join("; ")) }
            },
        )
    }
}

fn one_wire(machine: &Machine, verdicts: &Verdicts, reads: &Reads<'_>, id: WireId, steps: &mut Vec<Step>) {
    let (Some(wire), Some(judged)) = (machine.wires.get(id), verdicts.wires.get(&id)) else { return };
    let name = wire.key.as_str();
    let colour = wire.colour.map_or_else(|| "colour not recorded".to_owned(), crate::quantity::WireColour::words);
    let number = wire.number.as_ref().map_or_else(|| "no number".to_owned(), |number| format!("number {number}"));
    let ends = Side::BOTH.map(|side| end_words(machine, wire, side));
    let live = if judged.live == Some(false) {
        format!(
            "By the record {name} is never live; the record can be wrong, and a neutral is live where it is broken. Verify absence of voltage as above first. "
        )
    } else {
        format!("DANGER: {name} can be live whenever a supply is on; verify absence of voltage as above first. ")
    };
    let find = format!(
        "{live}Find {name}: {colour}, {number}, from {} to {}. Compare with the photo before anything is touched.",
        ends[0], ends[1]
    );
    steps.push(step(format!("{name}.find"), Some(id), find));
    let landed = |side: Side| match &wire.end(side).at {
        EndAt::Terminal(terminal) if !wire.end(side).lifted && wire.state != WireState::CappedOff => {
            Some(terminal.clone())
        }
        _ => None,
    };
    // The end that is nearer the supply comes off first: what is left in the hand is not live then.
    let near = nearer(&reads.before, wire, id);
    let to_first = landed(Side::From).is_none() || near == Some(Side::To);
    let first = if to_first && landed(Side::To).is_some() { Side::To } else { Side::From };
    let spots = Side::BOTH.map(|side| landed(side).map_or(Spot::End(id, side), Spot::Terminal));
    let [a, b] = spots.each_ref().map(|spot| machine.spot_name(spot));
    let before = Reads::tone(&reads.before, &spots[0], &spots[1]);
    let read = format!(
        "Before: volts between {a} and {b}, and from each to earth; 0 V is expected with all isolated. Then tone between {a} and {b}: {before} is expected. Another reading: stop, the record is wrong."
    );
    let between = Some(Box::new(spots.clone()));
    steps.push(Step { between: between.clone(), ..step(format!("{name}.read-before"), Some(id), read) });
    let order = [first, first.other()];
    for (which, side) in ["first", "second"].into_iter().zip(order) {
        let spot = machine.spot_name(&Spot::End(id, side));
        let what = match &wire.end(side).at {
            EndAt::Terminal(terminal) if wire.end(side).lifted || wire.state == WireState::CappedOff => {
                format!("{spot} is off {} already.", machine.terminal_name(terminal))
            }
            EndAt::Terminal(terminal) => {
                let stays = |other: WireId, side: Side| {
                    let entry = machine.wires.get(other);
                    other != id
                        && !reads.going.contains(&other)
                        && entry.is_some_and(|wire| wire.landed(side).is_some() && wire.state != WireState::CappedOff)
                };
                let others = machine.wires_at(terminal).filter(|&(other, side)| stays(other, side)).count();
                let with = match others {
                    0 => String::new(),
                    1 => " 1 more on the same terminal stays: see that it holds.".to_owned(),
                    _ => format!(" {others} more on the same terminal stay: see that they hold."),
                };
                let word = match (which, near) {
                    ("first", Some(near)) if near == side && landed(side.other()).is_some() => {
                        " first: the end nearer the supply"
                    }
                    ("first", None) if landed(side.other()).is_some() => {
                        " first; which end is nearer the supply is not known: take either for live"
                    }
                    _ => "",
                };
                format!("Take {spot} off {}{word}; cap the end at once.{with}", machine.terminal_name(terminal))
            }
            EndAt::Loose | EndAt::Unknown => format!("{spot} is on nothing: cap it."),
        };
        steps.push(step(format!("{name}.take-off-{}", side.word()), Some(id), what));
    }
    let (after, between) = if matches!((landed(Side::From), landed(Side::To)), (Some(_), Some(_))) {
        let tone = Reads::tone(&reads.after, &spots[0], &spots[1]);
        (format!("After: tone between {a} and {b}: {tone} is expected."), between)
    } else {
        (format!("After: no tone from the taken-off end of {name} to any terminal it was not recorded on."), None)
    };
    steps.push(Step { between, ..step(format!("{name}.read-after"), Some(id), after) });
    let out = format!(
        "Pull {name} out. If it cannot be pulled, cap both ends, mark them 'not in use' with the date, and record it as capped off."
    );
    steps.push(step(format!("{name}.out"), Some(id), out));
}

/// Which end sits nearer a source, by the number of wires, contacts and fuses between; `None` where that cannot be said.
fn nearer(network: &Network, wire: &Wire, id: WireId) -> Option<Side> {
    let node = |side: Side| match &wire.end(side).at {
        EndAt::Terminal(terminal) => network.terminal(terminal),
        _ => None,
    };
    let mut next: Vec<Vec<usize>> = vec![Vec::new(); network.len()];
    let mut join = |a: crate::circuit::Node, b: crate::circuit::Node| {
        next[a.at()].push(b.at()); // both are nodes of this network
        next[b.at()].push(a.at());
    };
    for conductor in network.wires() {
        if conductor.wire == id {
            continue;
        }
        join(conductor.ends[0], conductor.ends[1]);
        for (end, terminal) in conductor.ends.iter().zip(conductor.landed) {
            if let Some(terminal) = terminal {
                join(*end, terminal);
            }
        }
    }
    let contacts = network.contacts().iter().map(|contact| contact.inside.ends);
    for ends in network.joins().iter().chain(network.fuses()).map(|one| one.ends).chain(contacts) {
        join(ends[0], ends[1]);
    }
    let poles = |source: &crate::circuit::Source| {
        let [first, second] = source.inside.ends;
        std::iter::once(first).chain((!source.earthed).then_some(second))
    };
    let sources = network.sources().iter().flat_map(poles);
    let outputs = network.derived().iter().flat_map(|one| one.inside.ends);
    let mut far: Vec<Option<usize>> = vec![None; network.len()];
    let mut open: std::collections::VecDeque<usize> = sources.chain(outputs).map(crate::circuit::Node::at).collect();
    for &start in &open {
        far[start] = Some(0);
    }
    while let Some(at) = open.pop_front() {
        for &to in &next[at] {
            if far[to].is_none() {
                far[to] = far[at].map(|far| far + 1);
                open.push_back(to);
            }
        }
    }
    let steps = |side: Side| node(side).and_then(|node| far[node.at()]).unwrap_or(usize::MAX);
    match steps(Side::To).cmp(&steps(Side::From)) {
        std::cmp::Ordering::Less => Some(Side::To),
        std::cmp::Ordering::Greater => Some(Side::From),
        std::cmp::Ordering::Equal => None,
    }
}

/// Where an end is, with what helps to find it: terminal, lug, where its part is, on which photo.
fn end_words(machine: &Machine, wire: &Wire, side: Side) -> String {
    let end = wire.end(side);
    let mut words = machine.end_name(&end.at);
    if end.lug != crate::machine::Lug::Unsaid {
        words = format!("{words} ({})", end.lug.words());
    }
    let EndAt::Terminal(TerminalRef { part, marking }) = &end.at else { return words };
    let Some(part) = machine.parts.get(*part) else { return words };
    if let Some(printed) = part.terminals.get(marking.as_str()).and_then(|note| note.printed.as_ref()) {
        words = format!("{words}, printed {printed}");
    }
    if !part.title.is_empty() {
        words = format!("{words}, {}", part.title);
    }
    match part.crop.and_then(|crop| machine.photos.get(crop.photo)) {
        Some(photo) => format!("{words}, photo '{}'", photo.name),
        None => words,
    }
}
