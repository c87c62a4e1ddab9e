//! What can be asked for on the command line.

use std::path::PathBuf;

use clap::{Args, Parser, Subcommand};

use crate::catalogue::Style;
use crate::findings::Severity;
use crate::generate::MOST_WIRES;
use crate::quantity::Function;
use crate::sheet::{Format, Section};

/// Records what a technician witnessed about a machine's wiring, keeps apart what is proven and what is assumed, and
/// computes the rest.
///
/// Without a command it opens the window. The record decides nothing about the machine itself: isolate, and verify the
/// absence of voltage with a meter, before anything is touched.
#[derive(Debug, Parser)]
#[command(name = "wirewitness", version, args_conflicts_with_subcommands = true)]
pub(super) struct Arguments {
    /// The machine to open in the window.
    pub(super) file: Option<PathBuf>,
    /// A file with kinds of part of your own, put on top of the built-in ones.
    #[arg(long, global = true, value_name = "FILE")]
    pub(super) kinds: Option<PathBuf>,
    #[command(subcommand)]
    pub(super) command: Option<Command>,
}

#[derive(Debug, Subcommand)]
pub(super) enum Command {
    /// Lists what is wrong, doubtful or worth knowing about machines.
    Check(Check),
    /// Lists every rule that findings come from.
    Rules(Rules),
    /// Lists the kinds of part with their terminals.
    Parts(Parts),
    /// Lists the wires of a machine, from and to.
    Wires(Wires),
    /// Lists which terminals are joined, by wire alone or in a condition.
    Nets(NetList),
    /// Draws the ladder diagram, or lists its rungs, with what is not on it and why.
    Ladder(LadderOf),
    /// Says what each relay, load and net has in a condition.
    Condition(InCondition),
    /// Says what a meter between two places should read in a condition, and what that would prove.
    Expect(Expect),
    /// Weighs mysteries, and faults that would explain disputes, by the readings.
    Identify(Identify),
    /// Proposes the readings that settle most, the least risky first.
    Next(Next),
    /// Says what each wire is in every condition that can be reached, and in which order to take out what may go.
    Removal(Removal),
    /// Says in words what differs between two records.
    Compare(Compare),
    /// Follows a wire on a photo and says what colour it seems to have.
    Trace(Trace),
    /// Makes the wiring sheet of a machine: PDF, or its pages as SVG or PNG.
    Sheet(Sheet),
    /// Makes a page of flag labels for the wires of a machine.
    Labels(Labels),
    /// Writes the wire list and the readings for other programs, or the drawing.
    Export(Export),
    /// Puts a record, its photos and the copies of its visits into one file to be mailed.
    Pack(Pack),
    /// Takes a record out of such a file; replaces nothing.
    Unpack(Unpack),
    /// Lists what is open on each machine of a folder, or searches all of them.
    Shop(Shop),
    /// Writes an invented machine, for practice and benchmarks.
    Generate(Generate),
    /// Plays a hidden machine and its meter, to learn finding out what is what.
    Practice(Practice),
}

#[derive(Debug, Args)]
pub(super) struct Check {
    /// Machines to check.
    #[arg(required = true, value_name = "FILE")]
    pub(super) files: Vec<PathBuf>,
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
    /// Exit with 1 when there is a finding of this severity or worse: danger, fault, doubt or note.
    #[arg(long, value_name = "SEVERITY", default_value = "fault", value_parser = severity)]
    pub(super) fail_on: Severity,
}

#[derive(Debug, Args)]
pub(super) struct Rules {
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Parts {
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Wires {
    /// The machine.
    pub(super) file: PathBuf,
    /// Comma-separated values (RFC 4180) for a spreadsheet.
    #[arg(long, conflicts_with = "json")]
    pub(super) csv: bool,
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct NetList {
    /// The machine.
    pub(super) file: PathBuf,
    /// With fuses and the contacts that are closed in this condition of the record.
    #[arg(long, value_name = "NAME")]
    pub(super) condition: Option<String>,
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct LadderOf {
    /// The machine.
    pub(super) file: PathBuf,
    /// The picture to write (SVG, millimetres); without it, the rungs are listed.
    #[arg(short, long, value_name = "FILE", conflicts_with = "json")]
    pub(super) output: Option<PathBuf>,
    /// The family of graphic symbols: iec or ansi; without it, that of the record's habits.
    #[arg(long, value_name = "FAMILY", value_parser = super::ladder::symbols)]
    pub(super) symbols: Option<Style>,
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct InCondition {
    /// The machine.
    pub(super) file: PathBuf,
    /// A condition of the record.
    pub(super) name: String,
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Expect {
    /// The machine.
    pub(super) file: PathBuf,
    /// A condition of the record.
    #[arg(long, value_name = "NAME")]
    pub(super) condition: String,
    /// Where the red and the black probe are put: terminals (K1.A1) or ends of wires (W7.from).
    #[arg(long, num_args = 2, value_names = ["RED", "BLACK"])]
    pub(super) between: Vec<String>,
    /// What the meter is set to: tone, ohms, volts-ac or volts-dc.
    #[arg(long, value_name = "FUNCTION", value_parser = function)]
    pub(super) function: Function,
    /// A meter of the record; without it, an everyday one.
    #[arg(long, value_name = "NAME")]
    pub(super) meter: Option<String>,
    /// Volts with the meter in its low-impedance mode.
    #[arg(long)]
    pub(super) low_impedance: bool,
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Identify {
    /// The machine.
    pub(super) file: PathBuf,
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Next {
    /// The machine.
    pub(super) file: PathBuf,
    /// The condition the machine is in now; another one counts as more effort.
    #[arg(long, value_name = "NAME")]
    pub(super) condition: Option<String>,
    /// How many proposals at most.
    #[arg(long, value_name = "N", default_value_t = 3)]
    pub(super) most: usize,
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Removal {
    /// The machine.
    pub(super) file: PathBuf,
    /// Wires to take out; without any, all that may go.
    #[arg(value_name = "WIRE")]
    pub(super) wires: Vec<String>,
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Compare {
    /// The earlier record, or the machine as found.
    pub(super) old: PathBuf,
    /// The later record, or the machine as left.
    pub(super) new: PathBuf,
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Trace {
    /// The photo: JPEG, PNG, WebP or TIFF.
    pub(super) photo: PathBuf,
    /// A place on the wire where it begins, in pixels from the top left corner of the upright photo.
    #[arg(long, value_name = "X,Y", value_parser = place)]
    pub(super) from: [f64; 2],
    /// A place on the wire where it ends.
    #[arg(long, value_name = "X,Y", value_parser = place)]
    pub(super) to: [f64; 2],
    /// Places on the wire between, in their order: behind what hides it, and where wires of its colour cross it.
    #[arg(long, value_name = "X,Y", value_parser = place)]
    pub(super) via: Vec<[f64; 2]>,
    /// A place on something grey or white, by which the light is taken out of the colour.
    #[arg(long, value_name = "X,Y", value_parser = place)]
    pub(super) grey: Option<[f64; 2]>,
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Sheet {
    /// The machine.
    pub(super) file: PathBuf,
    /// The file to write; its ending says the form: .pdf, .svg or .png. One that is there is replaced.
    #[arg(short, long, value_name = "OUT")]
    pub(super) output: PathBuf,
    /// The paper: a4 or letter.
    #[arg(long, value_name = "PAPER", default_value = "a4", value_parser = paper)]
    pub(super) paper: Format,
    /// Every page on its long side; without it, only those that are the better for it.
    #[arg(long)]
    pub(super) landscape: bool,
    /// Only these sections, besides title and cautions: photos, diagram, ladder, wires, terminals, readings, findings, dead,
    /// mysteries, next-visit. More than one with commas.
    #[arg(long, value_name = "SECTION", value_delimiter = ',', value_parser = section)]
    pub(super) only: Vec<Section>,
    /// A shop's own template (docs/templates.md).
    #[arg(long, value_name = "FILE")]
    pub(super) template: Option<PathBuf>,
}

#[derive(Debug, Args)]
pub(super) struct Labels {
    /// The machine.
    pub(super) file: PathBuf,
    /// The file to write; its ending says the form: .pdf, .svg or .png. One that is there is replaced.
    #[arg(short, long, value_name = "OUT")]
    pub(super) output: PathBuf,
    /// The paper: a4 or letter.
    #[arg(long, value_name = "PAPER", default_value = "a4", value_parser = paper)]
    pub(super) paper: Format,
}

/// A list that can be written as comma-separated values.
#[derive(Debug, Clone, Copy, PartialEq, Eq, clap::ValueEnum)]
pub(super) enum List {
    /// Wires, from and to.
    Wires,
    /// The log of readings, with what is expected.
    Readings,
}

#[derive(Debug, Args)]
pub(super) struct Export {
    /// The machine.
    pub(super) file: PathBuf,
    /// The file to write; its ending says the form: .csv (one list), .xlsx (all lists) or .svg (the drawing). One that is there is
    /// replaced.
    #[arg(short, long, value_name = "OUT")]
    pub(super) output: PathBuf,
    /// The list that goes into a .csv.
    #[arg(long, value_name = "LIST", value_enum, default_value_t = List::Wires)]
    pub(super) list: List,
}

#[derive(Debug, Args)]
pub(super) struct Pack {
    /// The machine.
    pub(super) file: PathBuf,
    /// The file to write, a .zip. One that is there is left alone.
    #[arg(short, long, value_name = "OUT")]
    pub(super) output: PathBuf,
}

#[derive(Debug, Args)]
pub(super) struct Unpack {
    /// The packed file.
    pub(super) pack: PathBuf,
    /// The folder to unpack into; without it, the present one. It has to be there.
    #[arg(short, long, value_name = "FOLDER", default_value = ".")]
    pub(super) output: PathBuf,
}

#[derive(Debug, Args)]
pub(super) struct Shop {
    /// The folder with the records; those below it count too.
    pub(super) folder: PathBuf,
    /// Only machines with this text in a kind, a tag, a label, a title or a note, and where it stands.
    #[arg(long, value_name = "TEXT")]
    pub(super) find: Option<String>,
    /// JSON for programs instead of text.
    #[arg(long)]
    pub(super) json: bool,
}

#[derive(Debug, Args)]
pub(super) struct Generate {
    /// Number of wires, exactly.
    #[arg(long, value_name = "N", value_parser = wires)]
    pub(super) wires: usize,
    /// The same seed gives the same machine for ever.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(super) seed: u64,
    /// The file to write. A file that is already there is left alone.
    #[arg(short, long, value_name = "FILE")]
    pub(super) output: PathBuf,
}

#[derive(Debug, Args)]
pub(super) struct Practice {
    /// A machine with mysteries: which of their candidates are right is drawn anew, and its readings are left out. Without it, an
    /// invented machine.
    pub(super) file: Option<PathBuf>,
    /// The same seed hides the same truth for ever.
    #[arg(long, value_name = "N", default_value_t = 1)]
    pub(super) seed: u64,
}

fn paper(text: &str) -> Result<Format, String> {
    match text {
        "a4" => Ok(Format::A4),
        "letter" => Ok(Format::Letter),
        _ => Err(format!("'{text}' is no paper; write a4 or letter")),
    }
}

fn section(text: &str) -> Result<Section, String> {
    Section::by_word(text).ok_or_else(|| {
        let words: Vec<&str> = Section::ALL.iter().map(|section| section.word()).collect();
        format!("'{text}' is no section of the sheet; it has: {}", words.join(", "))
    })
}

fn severity(text: &str) -> Result<Severity, String> {
    text.parse()
}

fn function(text: &str) -> Result<Function, String> {
    match text {
        "tone" => Ok(Function::Tone),
        "ohms" => Ok(Function::Ohms),
        "volts-ac" => Ok(Function::VoltsAc),
        "volts-dc" => Ok(Function::VoltsDc),
        _ => Err(format!(
            "'{text}' is no function of a meter between two probes; write tone, ohms, volts-ac or volts-dc"
        )),
    }
}

fn place(text: &str) -> Result<[f64; 2], String> {
    let number = |text: &str| text.trim().parse::<f64>().ok().filter(|value| value.is_finite());
    text.split_once(',')
        .and_then(|(x, y)| Some([number(x)?, number(y)?]))
        .ok_or_else(|| format!("'{text}' is no place on a photo; write pixels across and down, such as 412,180"))
}

fn wires(text: &str) -> Result<usize, String> {
    text.parse()
        .ok()
        .filter(|&wires| wires <= MOST_WIRES)
        .ok_or_else(|| format!("'{text}' is no number of wires; write a whole number from 0 to {MOST_WIRES}"))
}

#[cfg(test)]
mod tests {
    use clap::CommandFactory;

    use super::*;

    #[test]
    fn the_arguments_do_not_contradict_one_another() {
        Arguments::command().debug_assert();
    }
}
