//! What a practice session prints.

use std::io::Write;

use crate::identify::Proposal;
use crate::machine::{MysteryId, Spot};
use crate::practice::{Bench, FaultJudged, MysteryJudged, Right, Risk, Score, Taken};

use super::super::failure::Failure;
use super::super::paint::Paint;
use super::command::letter;

type Done = Result<(), Failure>;

pub(super) fn welcome(bench: &Bench, paint: Paint, out: &mut dyn Write) -> Done {
    let record = bench.record();
    writeln!(out, "{}", paint.bold(&record.facts.title))?;
    writeln!(
        out,
        "Nothing here is on a real machine: the program plays one, and its meter. It shows what a meter would show and refuses what must \
         not be tried. No habit learnt here replaces isolation, a tried meter, local rules and the maker's instructions."
    )?;
    writeln!(
        out,
        "{} mysteries, {} conditions, no reading yet. Find out what is what, with few readings and little risk.",
        record.mysteries.len(),
        record.conditions.len()
    )?;
    writeln!(out, "Write help for what can be done.")?;
    Ok(())
}

pub(super) fn help(out: &mut dyn Write) -> Done {
    for (form, what) in [
        ("machine", "parts with their terminals, and wires, as found"),
        ("mysteries", "what is not known, with its candidates and what you said of it"),
        ("conditions", "conditions the machine can be put in"),
        ("set NUMBER", "puts the machine into a condition"),
        ("tone RED BLACK", "continuity with a sound, on an isolated machine: tone K1.A1 A1.J1-4"),
        ("ohms RED BLACK", "resistance, on an isolated machine"),
        ("volts-ac RED BLACK", "alternating voltage; volts-dc RED BLACK direct voltage"),
        ("amps WIRE", "current, with a clamp round a wire"),
        ("runs PART", "looks whether a load runs"),
        ("readings", "what was read so far"),
        ("answer NUMBER CANDIDATE", "says what a mystery is: answer 1 a; take-back 1 takes it back"),
        ("fault PLACE STATE", "says that something else is faulty, open or welded; take-back PLACE takes it back"),
        ("hint", "the reading that settles most at least risk"),
        ("score", "what it took so far"),
        ("finish", "ends, and says what was right and wrong"),
        ("quit", "ends without that"),
    ] {
        writeln!(out, "  {form:24} {what}")?;
    }
    Ok(())
}

pub(super) fn machine(bench: &Bench, paint: Paint, out: &mut dyn Write) -> Done {
    let record = bench.record();
    writeln!(out, "{}", paint.bold("Parts"))?;
    for part in record.parts.values() {
        let body = bench.catalogue().body(part);
        let terminals: Vec<&str> = body.terminals.iter().map(|terminal| terminal.marking.as_str()).collect();
        let kind = if part.title.is_empty() { &part.kind } else { &part.title };
        writeln!(out, "  {}  {kind}: {}", part.tag, terminals.join(" "))?;
    }
    writeln!(out, "{}", paint.bold("Wires"))?;
    for wire in record.wires.values().filter(|wire| wire.is_present()) {
        let end = |end: &crate::machine::WireEnd| {
            let lifted = if end.lifted { " (lifted)" } else { "" };
            format!("{}{lifted}", record.end_name(&end.at))
        };
        let colour = wire.colour.map(|colour| format!("  {colour}")).unwrap_or_default();
        writeln!(out, "  {}  {} - {}{colour}", wire.key, end(&wire.from), end(&wire.to))?;
    }
    Ok(())
}

pub(super) fn mysteries(bench: &Bench, paint: Paint, out: &mut dyn Write) -> Done {
    let record = bench.record();
    for (number, (id, mystery)) in record.mysteries.iter().enumerate() {
        writeln!(out, "{} {}", paint.bold(format_args!("{}.", number + 1)), mystery.name)?;
        let said = bench.said().answers.get(&id);
        for (at, candidate) in mystery.candidates.iter().enumerate() {
            let mark = if said == Some(&at) { "  <- said" } else { "" };
            writeln!(out, "   {} {}{mark}", letter(at), record.guess_name(&candidate.guess))?;
        }
    }
    for (spot, state) in bench.said().faults.keys() {
        writeln!(out, "Said to be faulty: {} {state}", record.spot_name(spot))?;
    }
    Ok(())
}

pub(super) fn conditions(bench: &Bench, out: &mut dyn Write) -> Done {
    for (number, (id, condition)) in bench.record().conditions.iter().enumerate() {
        let now = if bench.present() == Some(id) { "  <- now" } else { "" };
        writeln!(out, "  {}. {} ({}){now}", number + 1, condition.name, risk(bench.risk(id)))?;
    }
    Ok(())
}

fn risk(risk: Risk) -> &'static str {
    match risk {
        Risk::Dead => "no source on",
        Risk::ExtraLow => "extra-low voltage",
        Risk::Line => "line voltage, or not known",
    }
}

pub(super) fn taken(bench: &Bench, taken: &Taken) -> String {
    let record = bench.record();
    let place = &taken.place;
    let spot = |spot: &Spot| record.spot_name(spot);
    let condition = record.conditions.get(place.condition).map_or("?", |one| one.name.as_str());
    let at = match &place.black {
        Some(black) => format!("{} (red) {} (black)", spot(&place.red), spot(black)),
        None => spot(&place.red),
    };
    format!("{} at {at}, '{condition}': {}", place.function.words(), taken.shown.words())
}

pub(super) fn readings(bench: &Bench, out: &mut dyn Write) -> Done {
    if bench.taken().is_empty() {
        writeln!(out, "No reading yet.")?;
    }
    for (number, one) in bench.taken().iter().enumerate() {
        writeln!(out, "{}. {}", number + 1, taken(bench, one))?;
    }
    Ok(())
}

pub(super) fn said(bench: &Bench, mystery: MysteryId) -> String {
    let record = bench.record();
    let entry = record.mysteries.get(mystery);
    let name = entry.map_or("?", |mystery| mystery.name.as_str());
    let candidate = bench.said().answers.get(&mystery).and_then(|&at| entry?.candidates.get(at));
    match candidate {
        Some(candidate) => {
            format!("Noted: {name} is {}. It is judged when you write finish.", record.guess_name(&candidate.guess))
        }
        None => format!("Nothing is said of {name}."),
    }
}

pub(super) fn so_far(bench: &Bench, out: &mut dyn Write) -> Done {
    let live = bench.taken().iter().filter(|taken| taken.risk != Risk::Dead).count();
    writeln!(
        out,
        "Readings: {}, {live} of them with a source on. Effort: {:.0}. Forbidden readings asked for: {}. Hints: {}.",
        bench.taken().len(),
        bench.effort(),
        bench.forbidden().len(),
        bench.hints()
    )?;
    writeln!(out, "Mysteries answered: {} of {}.", bench.said().answers.len(), bench.record().mysteries.len())?;
    Ok(())
}

pub(super) fn hint(bench: &Bench, hint: Option<&Proposal>, out: &mut dyn Write) -> Done {
    let record = bench.record();
    let Some(hint) = hint else {
        writeln!(out, "No reading tells anything further apart. Answer the mysteries, then write finish.")?;
        return Ok(());
    };
    for caution in &hint.cautions {
        writeln!(out, "{caution}")?;
    }
    let place = &hint.place;
    let number = record.conditions.ids().position(|id| id == place.condition).map_or(0, |at| at + 1);
    let name = record.conditions.get(place.condition).map_or("?", |one| one.name.as_str());
    if bench.present() != Some(place.condition) {
        writeln!(out, "  set {number}        ('{name}')")?;
    }
    let command = match place.function {
        crate::quantity::Function::Tone => "tone",
        crate::quantity::Function::Ohms => "ohms",
        crate::quantity::Function::VoltsAc => "volts-ac",
        crate::quantity::Function::VoltsDc => "volts-dc",
        crate::quantity::Function::Amps => "amps",
        crate::quantity::Function::Runs => "runs",
    };
    let places: Vec<String> =
        [Some(&place.red), place.black.as_ref()].into_iter().flatten().map(|spot| record.spot_name(spot)).collect();
    writeln!(out, "  {command} {}", places.join(" "))?;
    for result in &hint.results {
        writeln!(out, "    {}: {}", result.reading, result.words(|id, at| answer(bench, id, Some(at))))?;
    }
    for doubt in &hint.doubts {
        writeln!(out, "    {doubt}")?;
    }
    Ok(())
}

/// A mystery with an answer: `output that works K1: A1.J1-2`.
fn answer(bench: &Bench, mystery: MysteryId, candidate: Option<usize>) -> String {
    let record = bench.record();
    let entry = record.mysteries.get(mystery);
    let name = entry.map_or("?", |mystery| mystery.name.as_str());
    let candidate = candidate.and_then(|at| entry?.candidates.get(at));
    let guess = candidate.map_or_else(|| "nothing said".to_owned(), |one| record.guess_name(&one.guess));
    format!("{name}: {guess}")
}

pub(super) fn left(bench: &Bench, out: &mut dyn Write) -> Done {
    writeln!(out, "Left without finishing: {} readings taken, nothing judged.", bench.taken().len())?;
    out.flush()?;
    Ok(())
}

pub(super) fn end(bench: &Bench, score: &Score, paint: Paint, out: &mut dyn Write) -> Done {
    for judged in &score.mysteries {
        writeln!(out, "{}", verdict(bench, judged, paint))?;
    }
    for fault in &score.faults {
        match fault {
            FaultJudged::Found(words) => writeln!(out, "{} {words}", paint.bold("fault found:"))?,
            FaultJudged::Missed(words) => writeln!(out, "{} {words}", paint.bold("fault not named:"))?,
            FaultJudged::NotThere(words) => writeln!(out, "{} {words}", paint.bold("no such fault:"))?,
        }
    }
    let right = score.count(Right::Right) + score.count(Right::RightByLuck);
    writeln!(out, "Right: {right} of {}.", score.mysteries.len())?;
    let best = &score.by_proposals;
    writeln!(
        out,
        "You took {} readings with an effort of {:.0}; the readings that hint proposes take {} with {:.0} on this machine, and settle {} of {}.",
        score.readings,
        score.effort,
        best.readings,
        best.effort,
        best.settled.len(),
        score.mysteries.len()
    )?;
    if let Some((average, exact)) = best.average {
        let least = if exact { "the least there is" } else { "the least is not worked out for so many" };
        writeln!(
            out,
            "Over all machines that look like this one the best order found takes an effort of {average:.1} on average ({least})."
        )?;
    }
    writeln!(out, "Forbidden readings asked for: {}. Hints: {}.", score.forbidden, score.hints)?;
    for &at in &score.needlessly_live {
        if let Some(one) = bench.taken().get(at) {
            writeln!(
                out,
                "With a source on, where an isolated machine would have told: {}. {}",
                at + 1,
                taken(bench, one)
            )?;
        }
    }
    out.flush()?;
    Ok(())
}

fn verdict(bench: &Bench, judged: &MysteryJudged, paint: Paint) -> String {
    let said = answer(bench, judged.mystery, judged.said);
    let entry = bench.record().mysteries.get(judged.mystery);
    let truth = entry.and_then(|mystery| mystery.candidates.get(judged.truth));
    let truth = truth.map_or_else(|| "?".to_owned(), |one| bench.record().guess_name(&one.guess));
    match judged.right {
        Right::Right => format!("{} {said}", paint.bold("right:")),
        Right::RightByLuck => {
            format!("{} {said}, but your readings leave it open", paint.bold("right by luck:"))
        }
        Right::Wrong => format!("{} {said}; it is {truth}", paint.bold("wrong:")),
        Right::CannotBeTold => {
            format!("{} {said}; it is {truth}, but no reading in these conditions tells", paint.bold("cannot be told:"))
        }
        Right::NotSaid => format!("{} {said}; it is {truth}", paint.bold("not answered:")),
    }
}
