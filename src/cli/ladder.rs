//! `ladder`: the ladder diagram, as a list of rungs or as a picture.

use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::catalogue::{Catalogue, Style};
use crate::drawing::style::Ground;
use crate::drawing::{style_of, svg};
use crate::ladder::{Device, Ladder, Options, SectionKind, What, lay_out};
use crate::machine::{Machine, TerminalRef, Thing};
use crate::store::write_whole;

use super::args::LadderOf;
use super::failure::Failure;
use super::kinds::catalogue;
use super::paint::Paint;
use super::record::load;
use super::{FINE, json};

#[derive(Serialize)]
struct Answer {
    title: String,
    state: Vec<String>,
    sections: Vec<OneSection>,
    off: Vec<OneOff>,
    crossings: usize,
}

#[derive(Serialize)]
struct OneSection {
    section: String,
    kind: &'static str,
    fed_by: String,
    poles: Vec<Place>,
    head: Vec<OneDevice>,
    rungs: Vec<OneRung>,
}

/// A terminal with the wire number of its net; none inside a part.
#[derive(Serialize)]
struct Place {
    terminal: String,
    number: Option<String>,
}

#[derive(Serialize)]
struct OneRung {
    rung: usize,
    devices: Vec<OneDevice>,
}

#[derive(Serialize)]
struct OneDevice {
    part: String,
    what: &'static str,
    /// Its terminals as they are called on the drawing.
    #[serde(skip)]
    labels: [String; 2],
    ends: [Place; 2],
    wires: [Vec<String>; 2],
    /// For a coil.
    contacts: Vec<Reference>,
    /// For a contact of a relay: the rung of its coil; none where that is not on the ladder.
    coil: Option<usize>,
}

#[derive(Serialize)]
struct Reference {
    rung: usize,
    form: &'static str,
}

#[derive(Serialize)]
struct OneOff {
    of: String,
    what: String,
    why: String,
}

pub(super) fn run(what: &LadderOf, kinds: Option<&Path>, paint: Paint, out: &mut dyn Write) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    let machine = load(&what.file, &catalogue)?.machine;
    let ladder = lay_out(&machine, &catalogue, &Options { style: what.symbols.unwrap_or_else(|| style_of(&machine)) });
    if let Some(output) = &what.output {
        write_picture(output, &ladder, out)?;
        return Ok(FINE);
    }
    let answer = Answer::of(&machine, &catalogue, &ladder);
    if what.json {
        json::write(&answer, out)?;
    } else {
        list(&answer, &ladder.off_sentences(), paint, out)?;
    }
    Ok(FINE)
}

/// Symbols by the word of the command.
pub(super) fn symbols(text: &str) -> Result<Style, String> {
    match text {
        "iec" => Ok(Style::Iec),
        "ansi" => Ok(Style::Ansi),
        _ => Err(format!("'{text}' is no family of symbols; write iec or ansi")),
    }
}

fn write_picture(output: &Path, ladder: &Ladder, out: &mut dyn Write) -> Result<(), Failure> {
    let is_svg = output.extension().is_some_and(|ending| ending.eq_ignore_ascii_case("svg"));
    if !is_svg {
        return Err(Failure::with_file(output, "the picture is an SVG; give the file the ending .svg"));
    }
    write_whole(output, svg(ladder.scene(), Ground::Print).as_bytes()).map_err(|why| {
        Failure::with_file(
            output,
            format_args!("could not be written: {why}; check the folder, its free space and your permissions"),
        )
    })?;
    let (rungs, off) = (ladder.rungs.len(), ladder.off.len());
    writeln!(out, "{}: {rungs} rungs; not on the ladder: {off}", output.display())?;
    Ok(())
}

impl Answer {
    fn of(machine: &Machine, catalogue: &Catalogue, ladder: &Ladder) -> Self {
        let sections = ladder
            .sections
            .iter()
            .enumerate()
            .map(|(at, section)| OneSection {
                section: section.title.clone(),
                kind: match section.kind {
                    SectionKind::Power => "power",
                    SectionKind::Rails => "rails",
                    SectionKind::Input => "input",
                },
                fed_by: machine.part_name(section.fed_by).to_owned(),
                poles: section
                    .poles
                    .iter()
                    .map(|pole| Place {
                        terminal: machine.terminal_name(&pole.terminal),
                        number: number(ladder, pole.net),
                    })
                    .collect(),
                head: section.head.iter().filter_map(|&at| OneDevice::of(machine, catalogue, ladder, at)).collect(),
                rungs: ladder
                    .rungs
                    .iter()
                    .filter(|rung| rung.section == at)
                    .map(|rung| OneRung {
                        rung: rung.number,
                        devices: rung
                            .devices
                            .iter()
                            .filter_map(|&at| OneDevice::of(machine, catalogue, ladder, at))
                            .collect(),
                    })
                    .collect(),
            })
            .collect();
        let off = ladder
            .off
            .iter()
            .map(|off| OneOff {
                of: match &off.of {
                    Thing::Spot(spot) => machine.spot_name(spot),
                    _ => String::new(),
                },
                what: off.what.clone(),
                why: off.why.clone(),
            })
            .collect();
        Self { title: ladder.title.clone(), state: ladder.state.clone(), sections, off, crossings: ladder.crossings }
    }
}

/// A terminal as headings and the drawing call it: as it is printed, else as the kind has it.
fn label_of(machine: &Machine, catalogue: &Catalogue, terminal: &TerminalRef) -> String {
    let body = machine.parts.get(terminal.part).map(|part| catalogue.body(part));
    let label = body.as_ref().and_then(|body| Some(body.terminal(terminal.marking.as_str())?.label().to_owned()));
    label.unwrap_or_else(|| terminal.marking.to_string())
}

fn number(ladder: &Ladder, net: usize) -> Option<String> {
    ladder.nets.get(net)?.number.clone()
}

impl OneDevice {
    fn of(machine: &Machine, catalogue: &Catalogue, ladder: &Ladder, at: usize) -> Option<Self> {
        let device = ladder.devices.get(at)?;
        let rung_of = |device: &Device| Some(ladder.rungs.get(device.rung?)?.number);
        let other = |reference: &crate::ladder::Reference| ladder.devices.get(reference.device).and_then(rung_of);
        let is_coil = device.what == What::Coil;
        let contacts = device.references.iter().filter(|_| is_coil).filter_map(|reference| {
            Some(Reference { rung: other(reference)?, form: if reference.breaks { "break" } else { "make" } })
        });
        Some(Self {
            part: machine.part_name(device.part).to_owned(),
            what: device.what.word(),
            labels: device.ends.each_ref().map(|end| label_of(machine, catalogue, &end.terminal)),
            ends: device
                .ends
                .each_ref()
                .map(|end| Place { terminal: machine.terminal_name(&end.terminal), number: number(ladder, end.net) }),
            wires: device
                .ends
                .each_ref()
                .map(|end| end.wires.iter().map(|&wire| machine.wire_name(wire).to_owned()).collect()),
            contacts: contacts.collect(),
            coil: device.references.first().filter(|_| !is_coil).and_then(other),
        })
    }

    /// The device with what stands beside it, without its ends' nets.
    fn text(&self) -> String {
        let [a, b] = &self.labels;
        let mut text = format!("{} {a}–{b} {}", self.part, self.what);
        if !self.contacts.is_empty() {
            let rungs = |form: &str| {
                let own = self.contacts.iter().filter(|contact| contact.form == form);
                own.map(|contact| contact.rung.to_string()).collect::<Vec<_>>().join(" ")
            };
            let (make, broken) = (rungs("make"), rungs("break"));
            let words = match (make.is_empty(), broken.is_empty()) {
                (false, false) => format!(" [make {make}, break {broken}]"),
                (false, true) => format!(" [make {make}]"),
                _ => format!(" [break {broken}]"),
            };
            text.push_str(&words);
        }
        if let Some(coil) = self.coil {
            text += &[" [coil ", &coil.to_string(), "]"].concat();
        }
        text
    }
}

/// Section by section, rung by rung: wire numbers with the devices between them.
fn list(answer: &Answer, off: &[(Thing, String)], paint: Paint, out: &mut dyn Write) -> Result<(), Failure> {
    if !answer.title.is_empty() {
        writeln!(out, "{}", paint.bold(&answer.title))?;
    }
    for sentence in &answer.state {
        writeln!(out, "{sentence}")?;
    }
    for section in &answer.sections {
        writeln!(out, "\n{}", paint.bold(&section.section))?;
        if !section.head.is_empty() {
            writeln!(out, "head  {}", row(&section.head))?;
        }
        for rung in &section.rungs {
            writeln!(out, "{:>4}  {}", rung.rung, row(&rung.devices))?;
        }
    }
    if !off.is_empty() {
        writeln!(out, "\n{}", paint.bold("Not on the ladder"))?;
        for (_, sentence) in off {
            writeln!(out, "  {sentence}")?;
        }
    }
    Ok(())
}

/// Devices from left to right with the numbers of the nets between them; a gap where two are not joined there.
fn row(devices: &[OneDevice]) -> String {
    let mut text = String::new();
    let mut last: Option<&Place> = None;
    let word = |place: &Place| place.number.clone().unwrap_or_else(|| "·".to_owned());
    for device in devices {
        let [left, right] = &device.ends;
        let joined = last.is_some_and(|last| last.number == left.number && left.number.is_some());
        if !joined {
            if last.is_some() {
                text.push_str("   ");
            }
            text.push_str(&word(left));
        }
        text += &[" ─ ", &device.text(), " ─ ", &word(right)].concat();
        last = Some(right);
    }
    text
}
