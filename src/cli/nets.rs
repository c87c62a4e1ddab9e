//! `nets`: which terminals are joined, by wire alone or in a condition.

use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::circuit::{Frame, Net, Nets, Network, Situation, Trit, Verdict};
use crate::machine::{Machine, Setting, Spot};

use super::args::NetList;
use super::failure::Failure;
use super::json::Unknown;
use super::kinds::catalogue;
use super::paint::Paint;
use super::record::{condition, load};
use super::{FINE, json};

#[derive(Serialize)]
struct Answer {
    #[serde(flatten)]
    condition: Option<Settled>,
    nets: Vec<OneNet>,
}

/// Where the relays come to rest in the condition asked for.
#[derive(Serialize)]
struct Settled {
    condition: String,
    settles: &'static str,
    /// Relays that have no one position at the end.
    unsettled: Vec<String>,
}

#[derive(Serialize)]
struct OneNet {
    net: String,
    terminals: Vec<String>,
    wires: Vec<String>,
    more: Option<Unknown>,
}

pub(super) fn run(what: &NetList, kinds: Option<&Path>, paint: Paint, out: &mut dyn Write) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    let machine = load(&what.file, &catalogue)?.machine;
    let network = Network::of(&machine, &catalogue);
    let (condition, found) = match &what.condition {
        None => (None, Nets::of(&network, Frame::of(&network, &Setting::default()).wired())),
        Some(name) => {
            let situation = Situation::of(&network, &machine.setting(condition(&machine, name, &what.file)?));
            (Some(Settled::of(&machine, name, &situation)), Nets::of(&network, situation.joined()))
        }
    };
    let nets = found.nets.iter().filter_map(|net| OneNet::of(&machine, &network, net)).collect();
    let answer = Answer { condition, nets };
    if what.json {
        json::write(&answer, out)?;
    } else {
        list(&answer, paint, out)?;
    }
    Ok(FINE)
}

impl Settled {
    fn of(machine: &Machine, name: &str, situation: &Situation<'_>) -> Self {
        let relays = situation.network().relays().iter().zip(&situation.outcome.relays);
        let unsettled = relays
            .filter(|(_, end)| **end == Trit::Either)
            .map(|(relay, _)| machine.part_name(relay.inside.part).to_owned())
            .collect();
        Self { condition: name.to_owned(), settles: situation.outcome.verdict.word(), unsettled }
    }
}

impl OneNet {
    /// A net as it is told; none where it is a node inside a part that no probe reaches.
    fn of(machine: &Machine, network: &Network, net: &Net) -> Option<Self> {
        let terminals: Vec<String> = net.terminals.iter().map(|terminal| machine.terminal_name(terminal)).collect();
        let mut wires = net.wires.clone();
        wires.sort_unstable();
        wires.dedup();
        let wires: Vec<String> = wires.into_iter().map(|wire| machine.wire_name(wire).to_owned()).collect();
        let ends = net.nodes.iter().filter_map(|&node| match &network.info(node)?.spot {
            end @ Spot::End(..) => Some(machine.spot_name(end)),
            _ => None,
        });
        let name = terminals.first().cloned().or_else(|| ends.into_iter().next())?;
        let more =
            net.unknown.then_some(Unknown { unknown: "an end out of sight, or a pin of unknown role, is on it" });
        Some(Self { net: name, terminals, wires, more })
    }
}

/// Nets with something on them; terminals on their own are only counted.
fn list(answer: &Answer, paint: Paint, out: &mut dyn Write) -> Result<(), Failure> {
    if let Some(Settled { condition, settles, unsettled }) = &answer.condition {
        writeln!(out, "Condition: {condition}. Relays: {settles}.")?;
        if *settles != Verdict::Settles.word() {
            let names = unsettled.join(" ");
            writeln!(out, "Not settled: {names}. The nets below hold for one position of these relays only.")?;
        }
    }
    let (used, free): (Vec<&OneNet>, Vec<&OneNet>) =
        answer.nets.iter().partition(|net| net.terminals.len() > 1 || !net.wires.is_empty());
    for net in used {
        writeln!(out, "{}", paint.bold(&net.net))?;
        if !net.terminals.is_empty() {
            writeln!(out, "  terminals: {}", net.terminals.join(" "))?;
        }
        if !net.wires.is_empty() {
            writeln!(out, "  wires: {}", net.wires.join(" "))?;
        }
        if let Some(more) = &net.more {
            writeln!(out, "  {}", paint.faint(format_args!("There may be more on this net: {}.", more.unknown)))?;
        }
    }
    if !free.is_empty() {
        let names: Vec<&str> = free.iter().map(|net| net.net.as_str()).collect();
        writeln!(out, "{}", paint.bold("On their own"))?;
        writeln!(out, "  terminals: {}", names.join(" "))?;
    }
    Ok(())
}
