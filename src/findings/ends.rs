//! Rules on the ends of wires: ends that are on nothing, ends that are off, ends nobody has seen.

use crate::machine::{EndAt, Lug, Machine, Side, Spot, Thing, Wire, WireForm, WireId, WireState};

use super::finding::{Finding, Severity};
use super::rule::{COMMON_PRACTICE, Rule};
use super::survey::Survey;

pub(super) const ORPHAN_WIRE: Rule = Rule {
    name: "orphan-wire",
    severity: Severity::Doubt,
    looks_for: "A wire of which neither end is recorded on a terminal.",
    why: "Nobody can tell what it belongs to, and what it touches at an end not seen may be live.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: orphan_wires,
};

pub(super) const LOOSE_END: Rule = Rule {
    name: "loose-end",
    severity: Severity::Fault,
    looks_for: "A wire with one end on a terminal and the other off it, not capped.",
    why: "A bare end can touch metal or another terminal, and something may be missing its connection.",
    source: "NEC 300.15 asks that dead ends be insulated (from a public reproduction); the rest common practice, no source",
    was_called: &[],
    find: loose_ends,
};

pub(super) const UNKNOWN_END: Rule = Rule {
    name: "unknown-end",
    severity: Severity::Doubt,
    looks_for: "A wire with one end on a terminal and the other out of sight.",
    why: "Whatever is joined there is missing from every result that touches this wire.",
    source: COMMON_PRACTICE,
    was_called: &[],
    find: unknown_ends,
};

/// Wires that are still on the machine and not left capped on purpose.
fn uncapped(machine: &Machine) -> impl Iterator<Item = (WireId, &Wire)> {
    machine.wires.iter().filter(|(_, wire)| wire.state == WireState::InPlace)
}

/// An end that is capped off, by its own lug or with the whole wire.
pub(super) fn is_capped(wire: &Wire, side: Side) -> bool {
    wire.state == WireState::CappedOff || wire.end(side).lug == Lug::Cap
}

/// Whether the wire is recorded on a terminal at this end, lifted or not.
fn has_place(wire: &Wire, side: Side) -> bool {
    matches!(wire.end(side).at, EndAt::Terminal(_))
}

/// The wire as a technician would point it out: `W7 (number 12, red)`.
pub(super) fn described(wire: &Wire) -> String {
    let number = wire.number.as_ref().map(|number| format!("number {number}"));
    let colour = wire.colour.map(crate::quantity::WireColour::words);
    let words: Vec<_> = [number, colour].into_iter().flatten().collect();
    let noun = if wire.form == WireForm::Jumper { "Jumper" } else { "Wire" };
    if words.is_empty() {
        format!("{noun} {}", wire.key)
    } else {
        format!("{noun} {} ({})", wire.key, words.join(", "))
    }
}

fn orphan_wires(survey: &Survey, out: &mut Vec<Finding>) {
    for (id, wire) in uncapped(survey.machine) {
        if Side::BOTH.into_iter().any(|side| has_place(wire, side))
            || Side::BOTH.into_iter().all(|s| is_capped(wire, s))
        {
            continue;
        }
        let ends = match (&wire.from.at, &wire.to.at) {
            (EndAt::Loose, EndAt::Loose) => "is on nothing at either end",
            (EndAt::Unknown, EndAt::Unknown) => "goes out of sight at both ends",
            _ => "is on nothing at one end and goes out of sight at the other",
        };
        let label = if wire.number.is_none() { ", and no number is on it" } else { "" };
        let mut finding = ORPHAN_WIRE.finding(
            vec![id.into()],
            format!("{} {ends}{label}.", described(wire)),
            "Treat it as live until a meter, tried on a known live source before and after, shows no voltage; then follow \
             it, tag both ends, and cap them.",
        );
        if wire.number.is_none() {
            finding = finding.with_severity(Severity::Fault);
        }
        out.push(finding);
    }
}

/// The end of a wire, as a thing to point at.
pub(super) fn end_thing(wire: WireId, side: Side) -> Thing {
    Thing::Spot(Spot::End(wire, side))
}

fn loose_ends(survey: &Survey, out: &mut Vec<Finding>) {
    let machine = survey.machine;
    for (id, wire) in uncapped(machine) {
        for side in Side::BOTH {
            if is_capped(wire, side) {
                continue;
            }
            let end = wire.end(side);
            let other = machine.end_name(&wire.end(side.other()).at);
            match &end.at {
                EndAt::Loose if has_place(wire, side.other()) => out.push(LOOSE_END.finding(
                    vec![end_thing(id, side)],
                    format!("{} comes from {other} and its other end is on nothing.", described(wire)),
                    "Isolate and verify absence of voltage, then land the end where it belongs, or cap it and tag it.",
                )),
                EndAt::Terminal(terminal) if end.lifted => out.push(
                    LOOSE_END
                        .finding(
                            vec![end_thing(id, side)],
                            format!("{} is lifted off {}.", described(wire), machine.terminal_name(terminal)),
                            "Land it again before the visit is closed, or cap it, tag it and record it as it stays.",
                        )
                        .with_severity(Severity::Doubt),
                ),
                _ => {}
            }
        }
    }
}

fn unknown_ends(survey: &Survey, out: &mut Vec<Finding>) {
    let machine = survey.machine;
    for (id, wire) in uncapped(machine) {
        for side in Side::BOTH {
            if wire.end(side).at == EndAt::Unknown && has_place(wire, side.other()) && !is_capped(wire, side) {
                let other = machine.end_name(&wire.end(side.other()).at);
                out.push(UNKNOWN_END.finding(
                    vec![end_thing(id, side)],
                    format!("{} comes from {other}; where its other end is has not been seen.", described(wire)),
                    "Follow it by eye with the machine isolated, or lift it and find its other end by tone; until then \
                     take it for live.",
                ));
            }
        }
    }
}
