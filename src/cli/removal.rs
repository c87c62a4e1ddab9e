//! `removal`: what each wire is in every condition that can be reached, and the order of work to take out what may go.

use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::catalogue::ron_text::nearest;
use crate::machine::{Machine, WireId};
use crate::removal::{Budget, Change, Judged, Step, Verdicts, Witness, going, judge, plan, what_changes};

use super::args::Removal;
use super::failure::Failure;
use super::kinds::catalogue;
use super::paint::Paint;
use super::record::load;
use super::{FINE, json};

#[derive(Serialize)]
struct Answer {
    wires: Vec<OneWire>,
    parts: Vec<OnePart>,
    /// Conditions the machine can be in, relays' positions included.
    conditions: Option<f64>,
    /// What taking the wires of the plan out would change, or those that were asked for where none may go.
    changes: Option<Changes>,
    plan: Vec<OneStep>,
    cautions: Vec<String>,
}

#[derive(Serialize)]
struct OneWire {
    wire: String,
    #[serde(flatten)]
    what: What,
}

#[derive(Serialize)]
struct OnePart {
    part: String,
    #[serde(flatten)]
    what: What,
}

#[derive(Serialize)]
struct What {
    verdict: &'static str,
    reason: String,
    proof: Option<OneProof>,
    live: Option<bool>,
    witness: Option<OneWitness>,
    missing: Vec<String>,
    rests_on: Vec<String>,
    not_with: Vec<String>,
}

#[derive(Serialize)]
struct OneProof {
    method: &'static str,
    conditions: Option<f64>,
}

#[derive(Serialize)]
struct OneWitness {
    sources_on: Vec<String>,
    commanded: Vec<String>,
    positions: Vec<[String; 2]>,
    worked: Vec<String>,
    moving: bool,
    how: String,
    loads: Vec<String>,
}

#[derive(Serialize)]
struct Changes {
    what: &'static str,
    words: String,
    proof: Option<OneProof>,
    wire: Option<String>,
    witness: Option<OneWitness>,
}

#[derive(Serialize)]
struct OneStep {
    step: String,
    wire: Option<String>,
    what: String,
    done: Option<String>,
}

pub(super) fn run(what: &Removal, kinds: Option<&Path>, paint: Paint, out: &mut dyn Write) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    let machine = load(&what.file, &catalogue)?.machine;
    let asked: Vec<WireId> = what.wires.iter().map(|key| wire(&machine, key, &what.file)).collect::<Result<_, _>>()?;
    let verdicts = judge(&machine, &catalogue, Budget::default());
    let wanted: Vec<WireId> = if asked.is_empty() { verdicts.may_go() } else { asked.clone() };
    let steps = plan(&machine, &catalogue, &verdicts, &wanted);
    let out_of_it = going(&steps);
    let out_of_it = if out_of_it.is_empty() { wanted } else { out_of_it };
    let change = (!out_of_it.is_empty()).then(|| what_changes(&machine, &catalogue, &out_of_it, Budget::default()));
    let name = |id: WireId| machine.wire_name(id).to_owned();
    let answer = Answer {
        wires: verdicts
            .wires
            .iter()
            .filter(|(id, _)| asked.is_empty() || asked.contains(id))
            .map(|(&id, judged)| OneWire { wire: name(id), what: said(&machine, judged) })
            .collect(),
        parts: verdicts
            .parts
            .iter()
            .filter(|_| asked.is_empty())
            .map(|(&id, judged)| OnePart { part: machine.part_name(id).to_owned(), what: said(&machine, judged) })
            .collect(),
        conditions: verdicts.conditions,
        changes: change.as_ref().map(|change| changes(&machine, change)),
        plan: steps
            .iter()
            .map(|step: &Step| OneStep {
                step: step.key.clone(),
                wire: step.wire.map(name),
                what: step.what.clone(),
                done: step.done.clone(),
            })
            .collect(),
        cautions: verdicts.cautions.clone(),
    };
    if what.json {
        json::write(&answer, out)?;
    } else {
        list(&answer, &verdicts, paint, out)?;
    }
    Ok(FINE)
}

fn wire(machine: &Machine, key: &str, file: &Path) -> Result<WireId, Failure> {
    machine.wire_by_key(key).ok_or_else(|| {
        let keys = machine.wires.values().map(|wire| wire.key.as_str());
        let advice = match nearest(key, keys) {
            Some(near) => format!("did you mean '{near}'?"),
            None => "see the keys with the command wires".to_owned(),
        };
        Failure::with_file(file, format_args!("there is no wire '{key}'; {advice}"))
    })
}

fn shown(machine: &Machine, witness: &Witness) -> OneWitness {
    let condition = &witness.condition;
    OneWitness {
        sources_on: condition
            .sources
            .iter()
            .filter(|(_, on)| **on)
            .map(|(&part, _)| machine.part_name(part).to_owned())
            .collect(),
        commanded: condition.commanded.keys().map(|one| machine.terminal_name(one)).collect(),
        positions: condition
            .positions
            .iter()
            .map(|((part, name), position)| [format!("{}.{name}", machine.part_name(*part)), position.clone()])
            .collect(),
        worked: witness.worked.iter().map(|&part| machine.part_name(part).to_owned()).collect(),
        moving: witness.moving,
        how: condition.how.clone(),
        loads: witness.loads.clone(),
    }
}

fn changes(machine: &Machine, change: &Change) -> Changes {
    let proof = match change {
        Change::Nothing(proof) => Some(OneProof { method: proof.method.word(), conditions: proof.conditions }),
        _ => None,
    };
    Changes {
        what: change.word(),
        words: change.words(machine),
        proof,
        wire: change.shown().map(|(wire, _)| machine.wire_name(wire).to_owned()),
        witness: change.shown().map(|(_, witness)| shown(machine, witness)),
    }
}

fn said(machine: &Machine, judged: &Judged) -> What {
    What {
        verdict: judged.verdict.word(),
        reason: judged.reason.clone(),
        proof: judged.proof.map(|proof| OneProof { method: proof.method.word(), conditions: proof.conditions }),
        live: judged.live,
        witness: judged.witness.as_ref().map(|witness| shown(machine, witness)),
        missing: judged.missing.clone(),
        rests_on: judged.rests_on.clone(),
        not_with: judged.not_with.iter().map(|&id| machine.wire_name(id).to_owned()).collect(),
    }
}

fn list(answer: &Answer, verdicts: &Verdicts, paint: Paint, out: &mut dyn Write) -> Result<(), Failure> {
    for caution in &answer.cautions {
        writeln!(out, "{caution}")?;
    }
    match verdicts.conditions {
        Some(count) => writeln!(out, "Conditions the machine can be in, positions of relays included: {count}")?,
        None => writeln!(out, "Conditions the machine can be in: more than could be counted")?,
    }
    let things = answer.wires.iter().map(|one| (&one.wire, &one.what));
    for (name, what) in things.chain(answer.parts.iter().map(|one| (&one.part, &one.what))) {
        writeln!(out, "{} {}: {}", paint.bold(name), what.verdict, what.reason)?;
        if let Some(witness) = &what.witness {
            writeln!(out, "   {}", witness.how)?;
        }
        if let Some(proof) = what.proof.as_ref().filter(|proof| proof.method != "one-condition") {
            match proof.conditions {
                Some(count) => writeln!(out, "   proved by {} over {count} conditions", proof.method)?,
                None => writeln!(out, "   proved by {}", proof.method)?,
            }
        }
        for missing in &what.missing {
            writeln!(out, "   missing: {missing}")?;
        }
        for doubt in &what.rests_on {
            writeln!(out, "   rests on: {doubt}")?;
        }
    }
    if let Some(changes) = &answer.changes {
        writeln!(out, "{}", paint.bold("What taking out changes"))?;
        writeln!(out, "   {}", changes.words)?;
        if let Some(witness) = &changes.witness {
            writeln!(out, "   {}", witness.how)?;
        }
    }
    if !answer.plan.is_empty() {
        writeln!(out, "{}", paint.bold("Order of work"))?;
    }
    for (number, step) in answer.plan.iter().enumerate() {
        let done = step.done.as_ref().map_or_else(String::new, |done| format!(" [done {done}]"));
        writeln!(out, "{:>3}. {}{done}", number + 1, step.what)?;
    }
    out.flush()?;
    Ok(())
}
