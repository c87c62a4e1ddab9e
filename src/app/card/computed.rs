//! What is computed about the thing on a card: volts and watts of a part, volts of a place, what a reading proves and by
//! which ways, and which readings stand behind a connection.

use egui::Ui;

use super::capital;
use crate::app::judge::LIFT_FIRST;
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::widgets::{faint, group, wrong};
use crate::circuit::Network;
use crate::circuit::Trit;
use crate::circuit::electric::{Agreement, Basis, Gets, Runs, What};
use crate::machine::{PartId, ReadingId, Spot};
use crate::quantity::{Band, Function, format_scaled};

/// What a part gets in the present condition, and how its contacts stand by the readings.
pub fn part(ui: &mut Ui, scope: &Scope<'_>, id: PartId) {
    let mut lines = Vec::new();
    if let Some(electrical) = scope.electrical() {
        for relay in electrical.relays.iter().filter(|relay| relay.part == id) {
            let stands = match relay.worked {
                Trit::Yes => "worked",
                Trit::No => "at rest",
                Trit::Either => "not decided: it does not come to one rest, or its exact thresholds decide",
            };
            let gets = relay.gets.map(|gets| format!(", {}", amounts(&gets))).unwrap_or_default();
            lines.push(format!("Coil {}: {stands}{gets}.", relay.coil));
        }
        for load in electrical.loads.iter().filter(|load| load.part == id) {
            let does = match load.gets.runs {
                Runs::Yes => "runs",
                Runs::Partly => "gets some voltage, not enough to do its work",
                Runs::No => "does not run",
                Runs::Unknown => "not known whether it runs",
            };
            lines.push(format!("{}: {does}; {}.", capital(&load.name), amounts(&load.gets)));
        }
    }
    let stands = scope.results.derived.standings.of(scope.machine, |what, network: &Network| {
        matches!(what, What::Contact(_) | What::Fuse(_) | What::Join(_)) && what.part(network) == Some(id)
    });
    if lines.is_empty() && stands.is_empty() {
        return;
    }
    group(ui, "By the record, in this condition");
    for line in lines {
        ui.add(egui::Label::new(line).wrap());
    }
    for stand in stands {
        standing(ui, scope, &stand.name, &stand.proven_by, &stand.disputed_by);
    }
}

/// Volts of a terminal or of an end of a wire in the present condition.
pub fn place(ui: &mut Ui, scope: &Scope<'_>, spot: &Spot) {
    let Some(volts) = scope.electrical().and_then(|electrical| electrical.volts(spot)) else { return };
    if volts.against == *spot {
        return;
    }
    let ac = volts.ac.map(|ac| format!("{} AC", amount(ac, "V")));
    let dc = volts.dc.filter(|dc| dc.low.abs().max(dc.high.abs()) > 1e-6).map(|dc| format!("{} DC", amount(dc, "V")));
    let all: Vec<String> = ac.into_iter().chain(dc).collect();
    let against = scope.machine.spot_name(&volts.against);
    // Of a place without voltage nobody may think that nothing is left to be done.
    let verify = if volts.is_none_told() { " Verify before anything is touched." } else { "" };
    ui.add(egui::Label::new(format!("By the record now: {} against {against}.{verify}", all.join(", "))).wrap());
}

/// Readings behind the wires for which this holds.
pub fn standings(ui: &mut Ui, scope: &Scope<'_>, is_wanted: impl Fn(What, &Network) -> bool) {
    for stand in scope.results.derived.standings.of(scope.machine, is_wanted) {
        standing(ui, scope, &stand.name, &stand.proven_by, &stand.disputed_by);
    }
}

fn standing(ui: &mut Ui, scope: &Scope<'_>, name: &str, proven_by: &[String], disputed_by: &[String]) {
    if !proven_by.is_empty() {
        ui.add(egui::Label::new(format!("{name}: proven by {}.", proven_by.join(", "))).wrap());
    }
    if !disputed_by.is_empty() {
        wrong(ui, scope.palette, format!("{name}: disputed by {}.", disputed_by.join(", ")));
    }
}

/// What the record makes of a reading.
pub fn reading(ui: &mut Ui, scope: &Scope<'_>, id: ReadingId, function: Function, out: &mut Requests) {
    let derived = scope.results.derived;
    let Some(judged) = derived.standings.judgement.readings.get(&id) else { return };
    group(ui, "By the record");
    let expected = judged.expectation.expected.words(function);
    match judged.agreement {
        Agreement::Agrees => drop(ui.add(egui::Label::new(format!("It agrees: expected {expected}.")).wrap())),
        Agreement::Disputes => wrong(ui, scope.palette, format!("It disputes the record, which expects {expected}.")),
        Agreement::CannotSay => faint(ui, scope.palette, format!("It does not settle anything: expected {expected}.")),
    }
    for doubt in &judged.expectation.doubts {
        faint(ui, scope.palette, capital(doubt.words()) + ".");
    }
    let Some((_, foreseen)) = derived.reading.as_ref().filter(|(of, _)| *of == id) else { return };
    if let Some(proves) = &foreseen.proves {
        if !proves.proves.is_empty() {
            ui.add(egui::Label::new(format!("It proves {}.", proves.proves.join(", "))).wrap());
        }
        if !proves.same_without.is_empty() {
            faint(ui, scope.palette, format!("It would read the same without {}.", proves.same_without.join(", ")));
        }
        if let Some(lift) = &proves.lift {
            let name = scope.machine.spot_name(lift);
            faint(ui, scope.palette, format!("{LIFT_FIRST} this end; then the same reading tells:"));
            if ui.button(name).clicked() {
                out.go_to(lift.clone());
            }
        }
    }
    for (place, way) in foreseen.ways.iter().enumerate() {
        let share = (way.share * 100.0).round();
        faint(ui, scope.palette, format!("Way {} ({share} %): {}", place + 1, way.words));
    }
}

fn amounts(gets: &Gets) -> String {
    let Some(volts) = gets.volts else { return "its volts are not determined by what is recorded".to_owned() };
    let mut parts = vec![amount(volts, "V")];
    parts.extend(gets.amps.map(|amps| amount(amps, "A")));
    parts.extend(gets.watts.map(|watts| amount(watts, "W")));
    let how = match gets.basis {
        Basis::Recorded => "",
        Basis::Typical => " (by typical values)",
        Basis::Assumed => " (its ohms are not known)",
    };
    format!("{}{how}", parts.join(", "))
}

/// One value, or from where to where it may lie.
fn amount(band: Band, unit: &str) -> String {
    let (low, high) = (format_scaled(band.low, unit), format_scaled(band.high, unit));
    if low == high { low } else { format!("{low} to {high}") }
}
