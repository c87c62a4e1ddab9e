//! What a line of a practice session asks for.

use crate::catalogue::ron_text::nearest;
use crate::machine::{ConditionId, Machine, MysteryId, Spot};
use crate::practice::{Bench, Request};
use crate::quantity::Function;

/// What is wanted.
#[derive(Debug, Clone, PartialEq)]
pub(super) enum Wanted {
    Help,
    Machine,
    Mysteries,
    Conditions,
    Readings,
    Set(ConditionId),
    Read(Request),
    Say(MysteryId, Option<usize>),
    SayFault(Spot, &'static str),
    TakeBackFault(Spot),
    Hint,
    Score,
    Finish,
    Quit,
}

/// Every command's first word.
const WORDS: [&str; 19] = [
    "help",
    "machine",
    "mysteries",
    "conditions",
    "readings",
    "set",
    "tone",
    "ohms",
    "volts-ac",
    "volts-dc",
    "amps",
    "runs",
    "answer",
    "fault",
    "take-back",
    "hint",
    "score",
    "finish",
    "quit",
];

impl Wanted {
    /// What a line asks for; else a sentence that says what is wrong with it and what would be right.
    pub(super) fn of(line: &str, bench: &Bench) -> Result<Self, String> {
        let mut words = line.split_whitespace();
        let first = words.next().unwrap_or_default().to_lowercase();
        let rest: Vec<&str> = words.collect();
        let alone = |wanted: Self| {
            if rest.is_empty() {
                Ok(wanted)
            } else {
                Err(format!("{first} stands alone; '{}' is too much.", shown(&rest.join(" "))))
            }
        };
        let record = bench.record();
        let mystery = |word: &str| mystery(record, word);
        match first.as_str() {
            "help" | "?" => Ok(Self::Help),
            "machine" => alone(Self::Machine),
            "mysteries" => alone(Self::Mysteries),
            "conditions" => alone(Self::Conditions),
            "readings" => alone(Self::Readings),
            "hint" => alone(Self::Hint),
            "score" => alone(Self::Score),
            "finish" => alone(Self::Finish),
            "quit" | "exit" => alone(Self::Quit),
            "set" => condition(record, &rest.join(" ")).map(Self::Set),
            "tone" => read(bench, Function::Tone, &rest),
            "ohms" => read(bench, Function::Ohms, &rest),
            "volts-ac" => read(bench, Function::VoltsAc, &rest),
            "volts-dc" => read(bench, Function::VoltsDc, &rest),
            "volts" => Err("Alternating or direct? Write volts-ac or volts-dc, then two places.".to_owned()),
            "amps" => read(bench, Function::Amps, &rest),
            "runs" => read(bench, Function::Runs, &rest),
            "answer" => match rest.as_slice() {
                [number, candidate] => {
                    let id = mystery(number)?;
                    Ok(Self::Say(id, Some(self::candidate(record, id, candidate)?)))
                }
                _ => {
                    Err("Write answer, the number of a mystery and a candidate: answer 1 a. See mysteries.".to_owned())
                }
            },
            "fault" => match rest.as_slice() {
                [name, "open"] => Ok(Self::SayFault(spot(bench, name)?, "open")),
                [name, "welded"] => Ok(Self::SayFault(spot(bench, name)?, "welded")),
                _ => Err("Write fault, a place and open or welded: fault F1 open, fault K2.11 welded.".to_owned()),
            },
            "take-back" => match rest.as_slice() {
                [one] if one.parse::<usize>().is_ok() && record.spot_by_name(one).is_none() => {
                    Ok(Self::Say(mystery(one)?, None))
                }
                [one] => Ok(Self::TakeBackFault(spot(bench, one)?)),
                _ => Err("Write take-back and the number of a mystery, or the place of a fault.".to_owned()),
            },
            _ => {
                let advice = match nearest(&first, WORDS) {
                    Some(near) => format!("did you mean {near}?"),
                    None => "write help for what can be done.".to_owned(),
                };
                Err(format!("'{}' is no command here; {advice}", shown(&first)))
            }
        }
    }
}

/// What was typed, short and without anything that a terminal would act on.
fn shown(text: &str) -> String {
    let kept: String = text.chars().take(40).map(|c| if c.is_control() { '\u{fffd}' } else { c }).collect();
    if text.chars().count() > 40 { format!("{kept}...") } else { kept }
}

fn read(bench: &Bench, function: Function, places: &[&str]) -> Result<Wanted, String> {
    let one_place = matches!(function, Function::Amps | Function::Runs);
    let request = match places {
        [red, black] if function != Function::Runs => {
            Request { red: spot(bench, red)?, black: Some(spot(bench, black)?), function }
        }
        [one] if one_place => Request { red: spot(bench, one)?, black: None, function },
        _ => {
            return Err(match function {
                Function::Amps => "Write amps and the wire that the clamp goes round: amps W7.",
                Function::Runs => "Write runs and the part that is looked at: runs M1.",
                _ => "A reading goes between two places, red then black: tone K1.A1 A1.J1-4.",
            }
            .to_owned());
        }
    };
    match (function, &request.red) {
        (Function::Runs, Spot::Part(_)) | (Function::Amps, Spot::Wire(_) | Spot::End(..)) => {}
        (Function::Runs, _) => return Err("Only a part can be seen to run: runs M1.".to_owned()),
        (Function::Amps, _) if request.black.is_none() => {
            return Err("A clamp goes round a wire: amps W7. See machine for the wires.".to_owned());
        }
        (_, Spot::Part(_)) => return Err(no_probe(places)),
        _ if matches!(request.black, Some(Spot::Part(_))) => return Err(no_probe(places)),
        _ => {}
    }
    Ok(Wanted::Read(request))
}

fn no_probe(places: &[&str]) -> String {
    format!(
        "A probe goes on a terminal (K1.A1) or on an end of a wire (W7.from), not on '{}'.",
        shown(&places.join(" "))
    )
}

/// The place by its name, in whatever case.
fn spot(bench: &Bench, name: &str) -> Result<Spot, String> {
    let record = bench.record();
    let exact = record.spot_by_name(name).filter(|spot| match spot {
        Spot::Terminal(_) => bench.network().node(spot).is_some(),
        _ => true,
    });
    if let Some(spot) = exact.or_else(|| in_any_case(bench, name)) {
        return Ok(spot);
    }
    let terminals =
        bench.network().nodes().filter(|(_, info)| !info.inner).map(|(_, info)| record.spot_name(&info.spot));
    let all: Vec<String> = terminals.chain(record.tags().into_iter().map(str::to_owned)).collect();
    let advice = match nearest(name, all.iter().map(String::as_str)) {
        Some(near) => format!("did you mean {near}?"),
        None => "write machine to see the parts and wires.".to_owned(),
    };
    Err(format!("'{}' is not on this machine; {advice}", shown(name)))
}

fn in_any_case(bench: &Bench, name: &str) -> Option<Spot> {
    let record = bench.record();
    let things = record.tags().into_iter().find(|tag| tag.eq_ignore_ascii_case(name));
    if let Some(tag) = things {
        return record.spot_by_name(tag);
    }
    let mut all = bench.network().nodes().filter(|(_, info)| !info.inner).map(|(_, info)| &info.spot);
    all.find(|spot| record.spot_name(spot).eq_ignore_ascii_case(name)).cloned()
}

fn condition(record: &Machine, name: &str) -> Result<ConditionId, String> {
    let by_number = name.parse::<usize>().ok().and_then(|number| record.conditions.ids().nth(number.checked_sub(1)?));
    record.condition_by_name(name).or(by_number).ok_or_else(|| {
        let count = record.conditions.len();
        format!("Write set and the number of a condition, 1 to {count}, or its name. See conditions.")
    })
}

fn mystery(record: &Machine, word: &str) -> Result<MysteryId, String> {
    let number = word.parse::<usize>().ok().and_then(|number| number.checked_sub(1));
    number.and_then(|number| record.mysteries.ids().nth(number)).ok_or_else(|| {
        format!("'{}' is no mystery's number; there are {}. See mysteries.", shown(word), record.mysteries.len())
    })
}

/// A candidate by its letter or by what it is.
fn candidate(record: &Machine, mystery: MysteryId, word: &str) -> Result<usize, String> {
    let candidates = record.mysteries.get(mystery).map(|mystery| mystery.candidates.as_slice()).unwrap_or_default();
    let by_name =
        candidates.iter().position(|candidate| record.guess_name(&candidate.guess).eq_ignore_ascii_case(word));
    let by_letter = || (0..candidates.len()).find(|&at| letter(at).eq_ignore_ascii_case(word));
    by_name.or_else(by_letter).ok_or_else(|| {
        let names: Vec<String> = candidates
            .iter()
            .enumerate()
            .map(|(at, candidate)| format!("{} {}", letter(at), record.guess_name(&candidate.guess)))
            .collect();
        if names.is_empty() {
            "That mystery has no candidates, so nothing can be said of it here.".to_owned()
        } else {
            format!("'{}' is none of its candidates: {}.", shown(word), names.join(", "))
        }
    })
}

/// a to z, then a1, b1, ...
pub(super) fn letter(at: usize) -> String {
    let letters = "abcdefghijklmnopqrstuvwxyz";
    let one = letters.chars().nth(at % letters.len()).unwrap_or('a');
    match at / letters.len() {
        0 => one.to_string(),
        round => format!("{one}{round}"),
    }
}
