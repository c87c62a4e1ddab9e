//! `expect`: what a meter between two places should read in a condition, and what that would prove.

use std::io::Write;
use std::path::Path;

use serde::Serialize;

use crate::catalogue::ron_text::nearest;
use crate::circuit::Network;
use crate::circuit::electric::{
    Elements, Expectation, Expected, Explained, Live, Points, Profile, What, ask_at, expected, proof_of, value_expected,
};
use crate::machine::{Machine, Spot};
use crate::quantity::Function;

use super::args::Expect;
use super::failure::Failure;
use super::json::{Number, Unknown, rounded};
use super::kinds::catalogue;
use super::paint::Paint;
use super::record::{condition, load};
use super::{FINE, json};

#[derive(Serialize)]
struct Answer {
    condition: String,
    between: [String; 2],
    function: Function,
    reading: Reading,
    /// With every value as recorded, before tolerances and the meter's accuracy.
    nominal: Option<f64>,
    doubts: Vec<&'static str>,
    paths: Vec<Path_>,
    proves: Vec<String>,
    /// On the strongest way, but the reading would be the same without it.
    does_not_prove: Vec<String>,
    lift: Option<String>,
}

#[derive(Serialize)]
#[serde(untagged)]
enum Reading {
    Word(&'static str),
    Number(Number),
    Ghost { ghost_up_to: f64 },
    Danger { danger: &'static str, volts: Option<f64> },
}

#[derive(Serialize)]
struct Path_ {
    through: Vec<String>,
    ohms: f64,
    share: f64,
}

const DANGER: &str = "voltage can be present in this condition; tone and ohms must not be tried here";

pub(super) fn run(what: &Expect, kinds: Option<&Path>, paint: Paint, out: &mut dyn Write) -> Result<u8, Failure> {
    let catalogue = catalogue(kinds)?;
    let machine = load(&what.file, &catalogue)?.machine;
    let id = condition(&machine, &what.condition, &what.file)?;
    let network = Network::of(&machine, &catalogue);
    let meter = match &what.meter {
        None => Profile::default(),
        Some(name) => Profile::of(meter(&machine, name, &what.file)?),
    };
    let places: Vec<Spot> =
        what.between.iter().map(|name| place(&machine, &network, name, &what.file)).collect::<Result<_, _>>()?;
    let [red, black] = <[Spot; 2]>::try_from(places)
        .map_err(|_| Failure::with_file(&what.file, "--between needs two places, red then black"))?;
    let elements = Elements::of(&network);
    let live = Live::of(&network, &elements, &machine.setting(id));
    let ask = ask_at(&network, what.function, &red, Some(&black), what.low_impedance).ok_or_else(|| {
        Failure::with_file(&what.file, "a probe goes on a terminal (K1.A1) or on an end of a wire (W7.from)")
    })?;
    let expectation = expected(&live, &meter, ask);
    let mut answer = Answer {
        condition: what.condition.clone(),
        between: [machine.spot_name(&red), machine.spot_name(&black)],
        function: what.function,
        reading: reading(&expectation),
        nominal: match expectation.expected {
            Expected::Value { nominal, .. } if nominal.is_finite() => Some(rounded(nominal)),
            _ => None,
        },
        doubts: expectation.doubts.iter().map(|doubt| doubt.words()).collect(),
        paths: Vec::new(),
        proves: Vec::new(),
        does_not_prove: Vec::new(),
        lift: None,
    };
    if let Points::Probes(red, black) = ask.points
        && !matches!(expectation.expected, Expected::Danger { .. })
    {
        let explained = if what.function.needs_dead() {
            Some(Explained::dead(&live))
        } else {
            Explained::live(&live, what.function == Function::VoltsAc)
        };
        let names = |whats: &[What]| What::names(whats, &machine, &network);
        for way in explained.iter().flat_map(|explained| explained.ways(red, black)) {
            let through = names(&way.through);
            answer.paths.push(Path_ { through, ohms: rounded(way.ohms), share: rounded(way.share) });
        }
        // What a meter in its low-impedance mode proves is not worked out.
        if !what.low_impedance
            && let Some(proof) = value_expected(&expectation, what.function)
                .and_then(|read| proof_of(&live, &meter, ask, &expectation, read))
        {
            answer.proves = names(&proof.proves.into_iter().collect::<Vec<_>>());
            answer.does_not_prove = names(&proof.unproven.into_iter().collect::<Vec<_>>());
            answer.lift = proof.lift.map(|(wire, end)| What::Landing(wire, end).name(&machine, &network));
        }
    }
    if what.json {
        json::write(&answer, out)?;
    } else {
        list(&answer, &expectation, paint, out)?;
    }
    Ok(FINE)
}

fn reading(expectation: &Expectation) -> Reading {
    match expectation.expected {
        Expected::Tone => Reading::Word("tone"),
        Expected::NoTone => Reading::Word("no tone"),
        Expected::EitherTone => Reading::Word("either"),
        Expected::OverLimit => Reading::Word("OL"),
        Expected::Value { shown, .. } if shown.high.is_infinite() => {
            Reading::Number(Number::AtLeast { low: rounded(shown.low), high: None })
        }
        Expected::Value { shown, .. } => Reading::Number(Number::of(Some(shown), "")),
        Expected::Ghost { up_to } => Reading::Ghost { ghost_up_to: rounded(up_to) },
        Expected::Load(runs) | Expected::Acts(runs) => Reading::Word(runs.word()),
        Expected::Unknown(why) => Reading::Number(Number::Unknown(Unknown { unknown: why.words() })),
        Expected::Danger { volts } => Reading::Danger { danger: DANGER, volts },
    }
}

fn meter<'m>(machine: &'m Machine, name: &str, file: &Path) -> Result<&'m crate::machine::Meter, Failure> {
    machine.meter_by_name(name).and_then(|id| machine.meters.get(id)).ok_or_else(|| {
        let names: Vec<&str> = machine.meters.values().map(|meter| meter.name.as_str()).collect();
        let advice = match nearest(name, names.iter().copied()) {
            Some(near) => format!("did you mean '{near}'?"),
            None if names.is_empty() => "the record has none; leave --meter out for an everyday one".to_owned(),
            None => format!("it has: {}", names.join("; ")),
        };
        Failure::with_file(file, format_args!("there is no meter '{name}'; {advice}"))
    })
}

/// The place a probe is put on by name; the terminal must exist.
fn place(machine: &Machine, network: &Network, name: &str, file: &Path) -> Result<Spot, Failure> {
    let spot = machine.spot_by_name(name);
    let known = match &spot {
        Some(Spot::Part(_)) | None => false,
        Some(Spot::Wire(wire)) => network.end(*wire, crate::machine::Side::From).is_some(),
        Some(spot) => network.node(spot).is_some(),
    };
    match spot {
        Some(spot) if known => Ok(spot),
        _ => {
            let terminals: Vec<String> = network
                .nodes()
                .filter(|(_, info)| !info.inner)
                .map(|(_, info)| machine.spot_name(&info.spot))
                .collect();
            let advice = match nearest(name, terminals.iter().map(String::as_str)) {
                Some(near) => format!("did you mean '{near}'?"),
                None => "write a terminal such as K1.A1 or an end of a wire such as W7.from".to_owned(),
            };
            Err(Failure::with_file(file, format_args!("'{name}' is no place for a probe; {advice}")))
        }
    }
}

fn list(answer: &Answer, expectation: &Expectation, paint: Paint, out: &mut dyn Write) -> Result<(), Failure> {
    let [red, black] = &answer.between;
    writeln!(out, "Between {red} (red) and {black} (black), {}:", answer.function.words())?;
    writeln!(out, "  {}", paint.bold(expectation.expected.words(answer.function)))?;
    for doubt in &answer.doubts {
        writeln!(out, "  but {doubt}")?;
    }
    for (number, path) in answer.paths.iter().enumerate() {
        let share = (path.share * 100.0).round();
        writeln!(out, "  way {} ({share} %): {}", number + 1, path.through.join(" "))?;
    }
    if !answer.proves.is_empty() {
        writeln!(out, "  Read so, it proves: {}", answer.proves.join(" "))?;
    }
    if !answer.does_not_prove.is_empty() {
        writeln!(out, "  It would read the same without: {}", answer.does_not_prove.join(" "))?;
    }
    if let Some(lift) = &answer.lift {
        writeln!(
            out,
            "  Switch off, lock, let capacitors discharge and verify absence of voltage; then lift and cap {lift}: the same reading then tells."
        )?;
    }
    out.flush()?;
    Ok(())
}
