//! `practice`: a session on a hidden machine, a line in and an answer out; from a terminal or from a pipe.
//!
//! Whatever is typed gets an answer; the session ends with `finish`, with `quit`, or when there is no more input.

mod command;
mod show;

use std::io::{self, BufRead, Write};
use std::path::Path;
use std::sync::Arc;

use crate::catalogue::Catalogue;
use crate::machine::Machine;
use crate::practice::{Bench, Refusal, Score, cautions};

use super::FINE;
use super::args::Practice;
use super::failure::Failure;
use super::kinds::catalogue;
use super::paint::Paint;
use super::record::load;

use command::Wanted;

/// A line longer than this is not looked at.
const LONGEST_LINE: u64 = 4096;

/// Where a session reads from.
pub struct Input<'a> {
    /// What is typed.
    pub lines: &'a mut dyn BufRead,
    /// Whether a person sits before it, who wants to see that something can be typed.
    pub asks: bool,
}

pub(super) fn run(
    what: &Practice,
    kinds: Option<&Path>,
    paint: Paint,
    input: &mut Input<'_>,
    out: &mut dyn Write,
) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    let mut bench = bench(what, &catalogue)?;
    match session(&mut bench, paint, input, out) {
        // Whoever reads may stop at any line.
        Err(Failure::Output(error)) if error.kind() == io::ErrorKind::BrokenPipe => Ok(FINE),
        other => other.map(|()| FINE),
    }
}

fn bench(what: &Practice, catalogue: &Arc<Catalogue>) -> Result<Bench, Failure> {
    let Some(file) = &what.file else {
        return Bench::invented(what.seed, catalogue).map_err(|why| Failure::Told(why.to_string()));
    };
    let machine: Machine = load(file, catalogue)?.machine;
    Bench::on_record(&machine, catalogue, what.seed).map_err(|why| {
        Failure::with_file(
            file,
            format_args!("{why}; put one in, or practise on an invented machine: practice --seed 1"),
        )
    })
}

/// One line without its end; `None` where there is no more. Bytes that are no text are shown as such.
fn line(input: &mut dyn BufRead) -> io::Result<Option<Result<String, ()>>> {
    let mut bytes = Vec::new();
    let read = io::Read::take(&mut *input, LONGEST_LINE).read_until(b'\n', &mut bytes)?;
    if read == 0 {
        return Ok(None);
    }
    if bytes.last() == Some(&b'\n') {
        bytes.pop();
    } else if bytes.len() as u64 == LONGEST_LINE {
        skip_line(input)?;
        return Ok(Some(Err(())));
    }
    Ok(Some(Ok(String::from_utf8_lossy(&bytes).trim().to_owned())))
}

/// What is left of a line, thrown away piece by piece.
fn skip_line(input: &mut dyn BufRead) -> io::Result<()> {
    loop {
        let piece = input.fill_buf()?;
        let end = piece.iter().position(|byte| *byte == b'\n');
        let used = end.map_or(piece.len(), |end| end + 1);
        let is_over = end.is_some() || piece.is_empty();
        input.consume(used);
        if is_over {
            return Ok(());
        }
    }
}

fn session(bench: &mut Bench, paint: Paint, input: &mut Input<'_>, out: &mut dyn Write) -> Result<(), Failure> {
    show::welcome(bench, paint, out)?;
    loop {
        if input.asks {
            write!(out, "> ")?;
        }
        out.flush()?;
        let typed = match line(input.lines) {
            Ok(Some(Ok(typed))) => typed,
            Ok(Some(Err(()))) => {
                writeln!(out, "That line is too long to be a command; write help for what can be done.")?;
                continue;
            }
            Ok(None) => {
                show::left(bench, out)?;
                return Ok(());
            }
            Err(error) => return Err(Failure::Told(format!("what is typed could not be read: {error}"))),
        };
        if typed.is_empty() {
            continue;
        }
        match Wanted::of(&typed, bench) {
            Err(why) => writeln!(out, "{why}")?,
            Ok(Wanted::Quit) => {
                show::left(bench, out)?;
                return Ok(());
            }
            Ok(Wanted::Finish) => {
                writeln!(out, "Weighing what was read ...")?;
                out.flush()?;
                show::end(bench, &Score::of(bench), paint, out)?;
                return Ok(());
            }
            Ok(wanted) => answer(bench, wanted, paint, out)?,
        }
    }
}

fn answer(bench: &mut Bench, wanted: Wanted, paint: Paint, out: &mut dyn Write) -> Result<(), Failure> {
    match wanted {
        Wanted::Help => show::help(out)?,
        Wanted::Machine => show::machine(bench, paint, out)?,
        Wanted::Mysteries => show::mysteries(bench, paint, out)?,
        Wanted::Conditions => show::conditions(bench, out)?,
        Wanted::Readings => show::readings(bench, out)?,
        Wanted::Score => show::so_far(bench, out)?,
        Wanted::Set(condition) => {
            let risk = bench.risk(condition);
            let steps = bench.set(condition).unwrap_or_default();
            for step in steps.before.iter().chain(&steps.on) {
                writeln!(out, "  {step}")?;
            }
            let name = bench.record().conditions.get(condition).map_or("?", |one| one.name.as_str());
            writeln!(out, "The machine is in condition '{name}'.")?;
            for caution in cautions(bench.record(), risk) {
                writeln!(out, "{}", paint.bold(caution))?;
            }
        }
        Wanted::Read(request) => match bench.take(&request) {
            Ok(taken) => {
                // With a source on, what to mind comes before what is shown.
                if taken.risk != crate::practice::Risk::Dead {
                    for caution in cautions(bench.record(), taken.risk) {
                        writeln!(out, "{}", paint.bold(caution))?;
                    }
                }
                let number = bench.taken().len();
                writeln!(out, "{number}. {}", show::taken(bench, &taken))?;
            }
            Err(refusal) if refusal.is_forbidden() => {
                writeln!(out, "{}", paint.error(refusal.words()))?;
                writeln!(out, "Forbidden readings asked for so far: {}.", bench.forbidden().len())?;
            }
            Err(refusal) => {
                writeln!(out, "No reading: {}.", refusal.words())?;
                if refusal == Refusal::NoCondition {
                    writeln!(out, "Write conditions to see them, then set and a number.")?;
                }
            }
        },
        Wanted::Say(mystery, candidate) => {
            bench.say(mystery, candidate);
            writeln!(out, "{}", show::said(bench, mystery))?;
        }
        Wanted::SayFault(spot, state) => {
            let name = bench.record().spot_name(&spot);
            if bench.say_fault(spot, state) {
                writeln!(out, "Noted: {name} is {state}. It is judged when you write finish.")?;
            } else {
                writeln!(out, "Nothing at {name} can be {state}.")?;
            }
        }
        Wanted::TakeBackFault(spot) => {
            let name = bench.record().spot_name(&spot);
            let found = bench.unsay_fault(&spot);
            writeln!(
                out,
                "{}",
                if found { format!("Taken back: {name}.") } else { format!("Nothing was said of {name}.") }
            )?;
        }
        Wanted::Hint => {
            writeln!(out, "Weighing what was read ...")?;
            out.flush()?;
            let hint = bench.hint();
            show::hint(bench, hint.as_ref(), out)?;
        }
        Wanted::Finish | Wanted::Quit => {}
    }
    Ok(())
}
