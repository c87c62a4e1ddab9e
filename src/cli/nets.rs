//! `nets`: which terminals are joined by wire alone.

use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::circuit::{Frame, Net, Nets, Network};
use crate::machine::{Machine, Setting, Spot};

use super::args::NetList;
use super::failure::Failure;
use super::json::Unknown;
use super::kinds::catalogue;
use super::paint::Paint;
use super::record::load;
use super::{FINE, json};

#[derive(Serialize)]
struct Answer {
    nets: Vec<OneNet>,
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
    let frame = Frame::of(&network, &Setting::default());
    let found = Nets::of(&network, frame.wired());
    let nets: Vec<OneNet> = found.nets.iter().filter_map(|net| OneNet::of(&machine, &network, net)).collect();
    if what.json {
        json::write(&Answer { nets }, out)?;
    } else {
        list(&nets, paint, out)?;
    }
    Ok(FINE)
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
fn list(nets: &[OneNet], paint: Paint, out: &mut dyn Write) -> Result<(), Failure> {
    let (used, free): (Vec<&OneNet>, Vec<&OneNet>) =
        nets.iter().partition(|net| net.terminals.len() > 1 || !net.wires.is_empty());
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
    out.flush()?;
    Ok(())
}
