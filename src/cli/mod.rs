//! The commands: arguments in, text or JSON out. Everything the window computes can be had here on the same record.
//!
//! Text is for people, JSON for programs: stable, described in `docs/commands.md`, with `"format": 1` at the top. What a
//! command prints goes to the two writers it is given; nothing here asks the environment whether there is a terminal.

mod args;
mod check;
mod compare;
mod condition;
mod expect;
mod identify;
mod failure;
mod generate;
mod json;
mod kinds;
mod ladder;
mod nets;
mod pack;
mod paint;
mod parts;
mod practice;
mod record;
mod removal;
mod rules;
mod sheet;
mod shop;
mod trace;
mod wires;

use std::ffi::OsString;
use std::io::{self, Write};
use std::path::PathBuf;
use std::sync::Arc;

use clap::Parser;
use clap::error::ErrorKind;

use crate::catalogue::Catalogue;

use args::{Arguments, Command};
use failure::Failure;
use paint::Paint;

pub use practice::Input;

/// What is left to do after the arguments were read.
#[derive(Debug, Clone, PartialEq)]
pub enum Asked {
    /// Open the window.
    Window {
        /// The machine that was named, if one was.
        file: Option<PathBuf>,
        /// The kinds of part to work with.
        catalogue: Arc<Catalogue>,
    },
    /// Nothing: the command ran and ends with this exit code.
    Exit(u8),
}

/// The two places a command writes to, and whether each takes colours; and where one that asks reads from.
pub struct Streams<'a> {
    /// What is typed; only `practice` reads it.
    pub input: Input<'a>,
    /// What was asked for.
    pub out: &'a mut dyn Write,
    /// What went wrong.
    pub err: &'a mut dyn Write,
    /// Whether `out` shows colours.
    pub out_colours: bool,
    /// Whether `err` shows colours.
    pub err_colours: bool,
}

/// Exit code of a request that was carried out and found nothing to say no to.
const FINE: u8 = 0;
/// Exit code of `check` with findings at or above the asked severity.
const FOUND: u8 = 1;
/// Exit code of input that cannot be read or a request that makes no sense.
const FAILED: u8 = 2;

/// Carries out what the arguments ask for; the first of them is the program's own name.
///
/// A reader that stops reading (a closed pipe) changes neither what was found nor the exit code.
pub fn run(arguments: impl IntoIterator<Item = OsString>, mut streams: Streams<'_>) -> Asked {
    let parsed = match Arguments::try_parse_from(arguments) {
        Ok(parsed) => parsed,
        Err(error) => return Asked::Exit(explain(&error, &mut streams)),
    };
    let kinds = parsed.kinds.as_deref();
    let Some(command) = parsed.command else {
        return match kinds::catalogue(kinds) {
            Ok(catalogue) => Asked::Window { file: parsed.file, catalogue },
            Err(failure) => {
                tell(&[failure], &mut streams);
                Asked::Exit(FAILED)
            }
        };
    };
    let paint = Paint { on: streams.out_colours };
    let mut problems = Vec::new();
    let mut answer = Vec::new();
    let done = match &command {
        Command::Check(what) => check::run(what, kinds, paint, &mut answer, &mut problems),
        Command::Rules(what) => rules::run(what, paint, &mut answer),
        Command::Parts(what) => parts::run(what, kinds, paint, &mut answer),
        Command::Wires(what) => wires::run(what, kinds, &mut answer),
        Command::Nets(what) => nets::run(what, kinds, paint, &mut answer),
        Command::Ladder(what) => ladder::run(what, kinds, paint, &mut answer),
        Command::Condition(what) => condition::run(what, kinds, paint, &mut answer),
        Command::Expect(what) => expect::run(what, kinds, paint, &mut answer),
        Command::Identify(what) => identify::run(what, kinds, paint, &mut answer),
        Command::Next(what) => identify::next(what, kinds, paint, &mut answer),
        Command::Removal(what) => removal::run(what, kinds, paint, &mut answer),
        Command::Compare(what) => compare::run(what, kinds, paint, &mut answer),
        Command::Trace(what) => trace::run(what, paint, &mut answer),
        Command::Sheet(what) => sheet::run(what, kinds, &mut answer),
        Command::Labels(what) => sheet::labels(what, kinds, &mut answer),
        Command::Export(what) => sheet::export(what, kinds, &mut answer),
        Command::Pack(what) => pack::pack(what, kinds, &mut answer),
        Command::Unpack(what) => pack::unpack(what, &mut answer),
        Command::Shop(what) => shop::run(what, kinds, paint, &mut answer, &mut problems),
        Command::Generate(what) => generate::run(what, &mut answer),
        // A session answers line by line.
        Command::Practice(what) => practice::run(what, kinds, paint, &mut streams.input, streams.out),
    };
    let code = done.unwrap_or_else(|failure| {
        problems.push(failure);
        FAILED
    });
    let code = hand_over(&answer, code, &mut problems, streams.out);
    tell(&problems, &mut streams);
    Asked::Exit(code)
}

/// Writes the whole answer out, the one place that does; returns the exit code.
///
/// The code says what was found, not whether somebody read it to the end: a reader that stops reading (a closed pipe)
/// changes nothing. An answer that could not be written for another reason is a failure.
fn hand_over(answer: &[u8], code: u8, problems: &mut Vec<Failure>, out: &mut dyn Write) -> u8 {
    match out.write_all(answer).and_then(|()| out.flush()) {
        Ok(()) => code,
        Err(error) if error.kind() == io::ErrorKind::BrokenPipe => code,
        Err(error) => {
            problems.push(error.into());
            FAILED
        }
    }
}

/// Says what went wrong.
fn tell(problems: &[Failure], streams: &mut Streams<'_>) {
    let paint = Paint { on: streams.err_colours };
    for problem in problems {
        // Nobody is left to tell when this fails.
        let _ = writeln!(streams.err, "{} {problem}", paint.error("error:"));
    }
    let _ = streams.err.flush();
}

/// Prints help, the version, or what is wrong with the arguments; returns the exit code.
fn explain(error: &clap::Error, streams: &mut Streams<'_>) -> u8 {
    let asked_for = matches!(error.kind(), ErrorKind::DisplayHelp | ErrorKind::DisplayVersion);
    let colours = if asked_for { streams.out_colours } else { streams.err_colours };
    let rendered = error.render();
    let text = if colours { rendered.ansi().to_string() } else { rendered.to_string() };
    if asked_for {
        let mut problems = Vec::new();
        let code = hand_over(text.as_bytes(), FINE, &mut problems, streams.out);
        tell(&problems, streams);
        return code;
    }
    // Nobody is left to tell when this fails.
    let _ = streams.err.write_all(text.as_bytes()).and_then(|()| streams.err.flush());
    FAILED
}
