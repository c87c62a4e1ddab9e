//! `condition`: what each relay, load and net has in a condition of the record.

use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::circuit::electric::{Basis, Elements, Gets, Live};
use crate::circuit::{Hazard, Nets, Network, Node, Situation, Trit};
use crate::machine::{Machine, Spot};
use crate::quantity::{Band, format_scaled};

use super::args::InCondition;
use super::failure::Failure;
use super::json::{Number, Unknown};
use super::kinds::catalogue;
use super::paint::Paint;
use super::record::{condition, load};
use super::{FINE, json};

#[derive(Serialize)]
struct Answer {
    condition: String,
    settles: &'static str,
    hazard: &'static str,
    highest_volts: Number,
    relays: Vec<OneRelay>,
    loads: Vec<OneLoad>,
    nets: Vec<OneNet>,
    troubles: Vec<Trouble>,
}

#[derive(Serialize)]
struct OneRelay {
    part: String,
    coil: String,
    worked: Worked,
    volts: Number,
}

#[derive(Serialize)]
#[serde(untagged)]
enum Worked {
    Known(bool),
    Unknown(Unknown),
}

#[derive(Serialize)]
struct OneLoad {
    part: String,
    name: String,
    volts: Number,
    amps: Number,
    watts: Number,
    runs: &'static str,
    ohms: &'static str,
}

#[derive(Serialize)]
struct OneNet {
    net: String,
    volts_ac: Number,
    volts_dc: Number,
    /// What the volts are against.
    against: Option<String>,
}

#[derive(Serialize)]
struct Trouble {
    what: String,
    about: Vec<String>,
}

pub(super) fn run(what: &InCondition, kinds: Option<&Path>, paint: Paint, out: &mut dyn Write) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    let machine = load(&what.file, &catalogue)?.machine;
    let id = condition(&machine, &what.name, &what.file)?;
    let network = Network::of(&machine, &catalogue);
    let elements = Elements::of(&network);
    let setting = machine.setting(id);
    let live = Live::of(&network, &elements, &setting);
    let (hazard, highest) = Situation::of(&network, &setting).hazard();
    let answer = Answer {
        condition: what.name.clone(),
        settles: live.verdict().word(),
        hazard: match hazard {
            Hazard::NoSource => "no-source",
            Hazard::ExtraLow => "extra-low",
            Hazard::Above => "above",
        },
        highest_volts: Number::of(highest.map(|volts| Band::new(volts, volts)), "a source's volts are not recorded"),
        relays: relays(&machine, &live),
        loads: loads(&machine, &live),
        nets: nets(&machine, &live),
        troubles: live
            .troubles()
            .into_iter()
            .map(|(reason, whats)| {
                let mut about: Vec<String> = whats.into_iter().map(|what| what.name(&machine, &network)).collect();
                about.dedup();
                Trouble { what: reason.words().to_owned(), about }
            })
            .collect(),
    };
    if what.json {
        json::write(&answer, out)?;
    } else {
        list(&answer, paint, out)?;
    }
    Ok(FINE)
}

const NOT_DETERMINED: &str = "not determined by what is recorded";

fn relays(machine: &Machine, live: &Live<'_>) -> Vec<OneRelay> {
    let network = live.network();
    let all = network.relays().iter().zip(&live.relays).enumerate();
    all.map(|(index, (relay, worked))| OneRelay {
        part: machine.part_name(relay.inside.part).to_owned(),
        coil: relay.coil.clone(),
        worked: match worked {
            Trit::Yes => Worked::Known(true),
            Trit::No => Worked::Known(false),
            Trit::Either => Worked::Unknown(Unknown {
                unknown: "it does not come to one rest, or only its exact thresholds decide",
            }),
        },
        volts: Number::of(live.coil(index).and_then(|gets| gets.volts), NOT_DETERMINED),
    })
    .collect()
}

fn loads(machine: &Machine, live: &Live<'_>) -> Vec<OneLoad> {
    let all = live.network().loads().iter().enumerate();
    all.filter_map(|(index, load)| {
        let Gets { volts, amps, watts, runs, basis } = live.load(index)?;
        Some(OneLoad {
            part: machine.part_name(load.inside.part).to_owned(),
            name: load.name.clone(),
            volts: Number::of(volts, NOT_DETERMINED),
            amps: Number::of(amps, NOT_DETERMINED),
            watts: Number::of(watts, NOT_DETERMINED),
            runs: runs.word(),
            ohms: match basis {
                Basis::Recorded => "recorded",
                Basis::Typical => "typical",
                Basis::Assumed => "not-known",
            },
        })
    })
    .collect()
}

fn nets(machine: &Machine, live: &Live<'_>) -> Vec<OneNet> {
    let network = live.network();
    let found = Nets::of(network, live.frame.wired());
    let references = live.references();
    let name = |node: Node| network.info(node).map(|info| machine.spot_name(&info.spot));
    let all = found.nets.iter().filter_map(|net| {
        let node = net.nodes.iter().copied().find(|&node| {
            network.info(node).is_some_and(|info| !info.inner && matches!(info.spot, Spot::Terminal(_) | Spot::End(..)))
        })?;
        let told = live.told(node, &references);
        let volts = |band: Option<Band>| {
            Number::of(band, "no source feeds it in this condition, or one whose volts are not recorded")
        };
        Some(OneNet {
            net: name(node)?,
            volts_ac: volts(told.and_then(|told| told.ac)),
            volts_dc: volts(told.and_then(|told| told.dc)),
            against: told.and_then(|told| name(told.against)),
        })
    });
    all.collect()
}

fn list(answer: &Answer, paint: Paint, out: &mut dyn Write) -> Result<(), Failure> {
    let Answer { condition, settles, .. } = answer;
    writeln!(out, "Condition: {condition}. Relays: {settles}.")?;
    match (answer.hazard, &answer.highest_volts) {
        ("no-source", _) => {
            writeln!(out, "No source of the record is on. Verify the absence of voltage all the same.")?;
        }
        (_, Number::Value(volts)) => {
            writeln!(out, "{} up to {} can be met.", paint.bold("LIVE:"), format_scaled(*volts, "V"))?;
        }
        _ => writeln!(out, "{} a source is on whose volts are not recorded.", paint.bold("LIVE:"))?,
    }
    for trouble in &answer.troubles {
        writeln!(out, "{} {}: {}", paint.error("trouble:"), trouble.what, trouble.about.join(" "))?;
    }
    writeln!(out, "{}", paint.bold("Relays"))?;
    for relay in &answer.relays {
        let stands = match &relay.worked {
            Worked::Known(true) => "worked",
            Worked::Known(false) => "at rest",
            Worked::Unknown(why) => why.unknown,
        };
        writeln!(out, "  {:8} {:4} {:>10}  {stands}", relay.part, relay.coil, relay.volts.text("V"))?;
    }
    writeln!(out, "{}", paint.bold("Loads"))?;
    for load in &answer.loads {
        writeln!(
            out,
            "  {:8} {:8} {:>10} {:>10} {:>10}  runs: {}{}",
            load.part,
            load.name,
            load.volts.text("V"),
            load.amps.text("A"),
            load.watts.text("W"),
            load.runs,
            match load.ohms {
                "typical" => "  (by typical values)",
                "not-known" => "  (its ohms are not known)",
                _ => "",
            }
        )?;
    }
    writeln!(out, "{}", paint.bold("Nets"))?;
    let mut still = 0usize;
    for net in &answer.nets {
        let Some(against) = &net.against else {
            still += 1;
            continue;
        };
        let dc = match &net.volts_dc {
            Number::Value(volts) if volts.abs() > 1e-6 => format!("  {} DC", format_scaled(*volts, "V")),
            _ => String::new(),
        };
        writeln!(out, "  {:12} {:>10} against {against}{dc}", net.net, net.volts_ac.text("V"))?;
    }
    if still > 0 {
        writeln!(
            out,
            "  {}",
            paint.faint(format_args!(
                "{still} more have no volts that can be told: no source feeds them, or one of unknown volts."
            ))
        )?;
    }
    out.flush()?;
    Ok(())
}
