//! From the file of format 1 to the record at work: everything that has no reference to a part or wire, and parts.

use std::collections::{BTreeMap, HashSet};

use crate::catalogue::Catalogue;
use crate::machine as m;
use crate::machine::{Machine, Marking, Point};
use crate::quantity::{Rating, Ratings, parse_rated};

use super::super::problem::{Problem, Step};
use super::disk::{Back, Decision, Facts, File, Habits, Meter, Photo, Placement, Tick, Verdict, Visit};
use super::names::{Entry, Names};
use super::part::{Mounting, Part, Pin, PinRole, Terminal};
use super::read_log::{circles, condition, constraint, mystery, reading};
use super::read_wire::{loom, wire};
use super::short::{Num, Xy};

/// The record that a file says, and everything in it that does not make sense.
pub(super) fn machine_of(file: &File, catalogue: &Catalogue) -> (Machine, Vec<Problem>) {
    let mut problems = Vec::new();
    let mut names = Names::of(file, catalogue, &mut problems);
    let mut machine = Machine {
        facts: facts(
            &file.machine,
            &mut Entry { names: &names, problems: &mut problems, list: "machine", index: 0, what: "machine", name: "" },
        ),
        ..Machine::default()
    };
    // Reads one list of the file into one shelf of the record.
    macro_rules! shelf {
        ($list:ident, $what:literal, $name:ident, $read:expr) => {
            for (index, entry) in file.$list.iter().enumerate() {
                let name = entry.$name.as_str();
                let at = &mut Entry {
                    names: &names,
                    problems: &mut problems,
                    list: stringify!($list),
                    index,
                    what: $what,
                    name,
                };
                machine.$list.add($read(entry, at));
            }
        };
    }
    shelf!(photos, "photo", name, photo);
    shelf!(parts, "part", tag, part);
    names.learn_parts(machine.parts.values(), catalogue);
    for (index, entry) in file.parts.iter().enumerate() {
        let name = entry.tag.as_str();
        check_part(
            entry,
            &mut Entry { names: &names, problems: &mut problems, list: "parts", index, what: "part", name },
        );
    }
    shelf!(wires, "wire", key, wire);
    shelf!(looms, "loom", name, loom);
    shelf!(conditions, "condition", name, condition);
    circles(file, &names, &mut problems);
    for (index, entry) in file.constraints.iter().enumerate() {
        let at = &mut Entry {
            names: &names,
            problems: &mut problems,
            list: "constraints",
            index,
            what: "constraint",
            name: "",
        };
        if let Some(read) = constraint(entry, at) {
            machine.constraints.add(read);
        }
    }
    shelf!(meters, "meter", name, meter);
    shelf!(readings, "reading", name, reading);
    shelf!(mysteries, "mystery", name, mystery);
    shelf!(decisions, "decision on", rule, decision);
    shelf!(ticks, "tick of", step, tick);
    shelf!(visits, "visit", name, visit);
    (machine, problems)
}

fn facts(facts: &Facts, at: &mut Entry<'_>) -> m::Facts {
    let usual = m::HazardLimits::default();
    let mut limit =
        |field: &str, said: Option<Num>, usual: f64| said.map_or(usual, |volts| at.positive(&[field.into()], volts.0));
    let limits = m::HazardLimits {
        extra_low_volts_ac: limit("extra_low_volts_ac", facts.extra_low_volts_ac, usual.extra_low_volts_ac),
        extra_low_volts_dc: limit("extra_low_volts_dc", facts.extra_low_volts_dc, usual.extra_low_volts_dc),
    };
    m::Facts {
        title: facts.title.clone(),
        location: facts.location.clone(),
        nameplate: facts.nameplate.clone(),
        refrigerant: facts.refrigerant.clone(),
        flammable: facts.flammable,
        habits: match facts.habits {
            Habits::Iec => m::Habits::Iec,
            Habits::NorthAmerica => m::Habits::NorthAmerica,
        },
        limits,
        source: facts.source.clone(),
        note: facts.note.clone(),
    }
}

/// A point; numbers that are none are complained about.
pub(super) fn point(path: &[Step], xy: Xy, at: &mut Entry<'_>) -> Point {
    let mut number = |value: Num| if value.0.is_finite() { value.0 } else { at.finite(path, value.0) };
    Point::new(number(xy.0), number(xy.1))
}

/// Quarter turns from 0 to 3.
fn quarter_turns(path: &[Step], turns: u8, at: &mut Entry<'_>) -> u8 {
    if turns > 3 {
        at.complain(path, None, format!("{turns} quarter turns will not do; write 0, 1, 2 or 3 (clockwise)"));
    }
    turns
}

fn photo(photo: &Photo, at: &mut Entry<'_>) -> m::Photo {
    let is_hash =
        photo.hash.len() == 64 && photo.hash.bytes().all(|b| b.is_ascii_digit() || (b'a'..=b'f').contains(&b));
    if !photo.hash.is_empty() && !is_hash {
        at.complain(
            &["hash".into()],
            None,
            "a hash is the SHA-256 of the picture file: 64 digits of 0-9 and a-f; leave it out if there is no picture yet",
        );
    }
    if photo.faded > 100 {
        at.complain(&["faded".into()], None, format!("{} will not do; faded is a share from 0 to 100", photo.faded));
    }
    m::Photo {
        name: photo.name.clone(),
        hash: photo.hash.clone(),
        original_name: photo.original_name.clone(),
        size_px: photo.size_px.into(),
        taken: photo.taken.clone(),
        quarter_turns: quarter_turns(&["quarter_turns".into()], photo.quarter_turns, at),
        placement: placement(photo.placement, at),
        caption: photo.caption.clone(),
        side: photo.side.clone(),
        faded: photo.faded,
    }
}

fn placement(placement: Placement, at: &mut Entry<'_>) -> m::Placement {
    let place = Step::from("placement");
    match placement {
        Placement::Similarity { origin, mm_per_px, turn_deg } => m::Placement::Similarity {
            origin: point(&[place.clone(), "origin".into()], origin, at),
            mm_per_px: at.positive(&[place.clone(), "mm_per_px".into()], mm_per_px.0),
            turn_deg: at.finite(&[place, "turn_deg".into()], turn_deg.0),
        },
        Placement::Homography(numbers) => {
            let numbers = numbers.map(|number| at.finite(std::slice::from_ref(&place), number.0));
            let [a, b, c, d, e, f, g, h, i] = numbers;
            let determinant = a * (e * i - f * h) - b * (d * i - f * g) + c * (d * h - e * g);
            if determinant == 0.0 || !determinant.is_finite() {
                at.complain(&[place], None, "these nine numbers flatten the photo to nothing; straighten it anew");
            }
            m::Placement::Homography(numbers)
        }
    }
}

fn part(part: &Part, at: &mut Entry<'_>) -> m::Part {
    let place = [Step::from("at")];
    m::Part {
        tag: part.tag.clone(),
        printed: part.printed.clone(),
        kind: part.kind.clone(),
        title: part.title.clone(),
        pose: m::Pose {
            at: point(&place, part.at.at, at),
            quarter_turns: quarter_turns(&place, part.at.quarter_turns, at),
            mirrored: part.at.mirrored,
        },
        count: part.count,
        pins: pins(&part.pins, at),
        terminals: terminals(&part.terminals.0, at),
        ratings: ratings(&part.ratings.0, at),
        mounting: match part.mounting {
            Mounting::Fixed => m::Mounting::Fixed,
            Mounting::Loose => m::Mounting::Loose,
            Mounting::Missing => m::Mounting::Missing,
        },
        exposed_metal: part.exposed_metal,
        rest: once("rest", &part.rest.0, at, |_, position, _| Some(position.clone())),
        group: part.group.clone(),
        note: part.note.clone(),
        crop: part.crop.as_ref().and_then(|crop| {
            let (left, top, width, height) = crop.rect_px;
            let names = at.names;
            let photo = at.named(&["crop".into(), "photo".into()], &crop.photo, &crop.photo, "photo", &names.photos)?;
            Some(m::Crop { photo, rect_px: [left, top, width, height] })
        }),
    }
}

/// Pairs of the file as a map; a key that comes twice is complained about.
pub(super) fn once<V, W>(
    field: &str,
    pairs: &[(String, V)],
    at: &mut Entry<'_>,
    mut read: impl FnMut(&str, &V, &mut Entry<'_>) -> Option<W>,
) -> BTreeMap<String, W> {
    let mut map = BTreeMap::new();
    for (key, value) in pairs {
        if map.contains_key(key) {
            at.complain(&[field.into()], Some(key), format!("'{key}' is given twice in {field}; keep one of them"));
        }
        if let Some(value) = read(key, value, at) {
            map.insert(key.clone(), value);
        }
    }
    map
}

fn pins(pins: &[Pin], at: &mut Entry<'_>) -> Vec<m::Pin> {
    let mut seen = HashSet::new();
    let mut read = Vec::with_capacity(pins.len());
    for (index, pin) in pins.iter().enumerate() {
        let path = [Step::from("pins"), index.into(), "marking".into()];
        if pin.marking.is_empty() {
            at.complain(&path, None, "a pin needs a marking; write for example \"J1-2\"");
        } else if !seen.insert(pin.marking.as_str()) {
            at.complain(&path, None, format!("there are two pins with the marking '{}'; rename one", pin.marking));
        }
        let other = |text: &String| Marking::from(text.as_str());
        read.push(m::Pin {
            marking: pin.marking.as_str().into(),
            role: match &pin.role {
                PinRole::Unknown => m::PinRole::Unknown,
                PinRole::Plain => m::PinRole::Plain,
                PinRole::Supply(pin) => m::PinRole::Supply(other(pin)),
                PinRole::Joined(pin) => m::PinRole::Joined(other(pin)),
                PinRole::OutputFrom(pin) => m::PinRole::OutputFrom(other(pin)),
                PinRole::OutputTo(pin) => m::PinRole::OutputTo(other(pin)),
                PinRole::OutputDry(pin) => m::PinRole::OutputDry(other(pin)),
                PinRole::OutputTriac(pin) => m::PinRole::OutputTriac(other(pin)),
                PinRole::Input(pin) => m::PinRole::Input(other(pin)),
            },
            at: pin.at.map(|xy| point(&[Step::from("pins"), index.into(), "at".into()], xy, at)),
        });
    }
    read
}

fn terminals(terminals: &[(String, Terminal)], at: &mut Entry<'_>) -> BTreeMap<Marking, m::TerminalNote> {
    let read = once("terminals", terminals, at, |marking, note, at| {
        Some(m::TerminalNote {
            printed: note.printed.clone(),
            at: note.at.map(|xy| point(&["terminals".into(), marking.into(), "at".into()], xy, at)),
            lands: note.lands.clone(),
            holds: note.holds,
            note: note.note.clone(),
        })
    });
    read.into_iter().map(|(marking, note)| (marking.into(), note)).collect()
}

fn ratings(written: &[(String, String)], at: &mut Entry<'_>) -> Ratings {
    let mut ratings = Ratings::default();
    once("ratings", written, at, |name, value, at| {
        let Some(rating) = Rating::by_name(name) else {
            let advice = at.did_you_mean(
                name,
                Rating::ALL.iter().map(|rating| rating.name()),
                "the names of ratings are in docs/file-format.md",
            );
            at.complain(&["ratings".into()], Some(name), format!("there is no rating '{name}'; {advice}"));
            return None;
        };
        match parse_rated(rating, value) {
            Ok(rated) => ratings.set(rating, rated),
            Err(error) => at.complain(&["ratings".into(), name.into()], None, error.to_string()),
        }
        Some(())
    });
    ratings
}

/// What can be checked of a part only when the terminals and switches of all parts are known.
fn check_part(part: &Part, at: &mut Entry<'_>) {
    at.check_kind(&["kind".into()], &part.kind);
    let Some(id) = at.own_part() else { return };
    for (marking, _) in &part.terminals.0 {
        at.check_marking(&["terminals".into()], marking, id, &part.tag, marking);
    }
    for (index, pin) in part.pins.iter().enumerate() {
        let other = match &pin.role {
            PinRole::Unknown | PinRole::Plain => continue,
            PinRole::Supply(other)
            | PinRole::Joined(other)
            | PinRole::OutputFrom(other)
            | PinRole::OutputTo(other)
            | PinRole::OutputDry(other)
            | PinRole::OutputTriac(other)
            | PinRole::Input(other) => other,
        };
        at.check_marking(&["pins".into(), index.into(), "role".into()], other, id, &part.tag, other);
    }
    for (switch, position) in &part.rest.0 {
        at.check_position(&["rest".into()], switch, (id, &part.tag), switch, position);
    }
}

fn meter(meter: &Meter, at: &mut Entry<'_>) -> m::Meter {
    let mut number = |field: &str, said: Option<Num>| said.map(|value| at.not_negative(&[field.into()], value.0));
    let tone_below_ohms = number("tone_below_ohms", meter.tone_below_ohms);
    let silent_above_ohms = number("silent_above_ohms", meter.silent_above_ohms);
    let input_ohms = number("input_ohms", meter.input_ohms);
    let low_impedance_ohms = number("low_impedance_ohms", meter.low_impedance_ohms);
    let percent = number("percent", meter.percent);
    let digits = number("digits", meter.digits);
    let lead_ohms = number("lead_ohms", meter.lead_ohms);
    if let (Some(below), Some(above)) = (tone_below_ohms, silent_above_ohms)
        && below > above
    {
        at.complain(
            &["silent_above_ohms".into()],
            None,
            format!("it cannot sound below {below} ohms and be silent above {above} ohms; exchange them"),
        );
    }
    let mut ranges = |field: &str, all: &[Num]| {
        let ends = all.iter().enumerate();
        ends.map(|(index, end)| at.positive(&[field.into(), index.into()], end.0)).collect()
    };
    m::Meter {
        name: meter.name.clone(),
        tone_below_ohms,
        silent_above_ohms,
        input_ohms,
        low_impedance_ohms,
        ohm_ranges: ranges("ohm_ranges", &meter.ohm_ranges),
        volt_ranges: ranges("volt_ranges", &meter.volt_ranges),
        percent,
        digits,
        lead_ohms,
        category: meter.category.clone(),
    }
}

fn decision(decision: &Decision, at: &mut Entry<'_>) -> m::Decision {
    let mut about = Vec::with_capacity(decision.about.len());
    for (index, word) in decision.about.iter().enumerate() {
        about.extend(at.thing(&["about".into(), index.into()], word));
    }
    m::Decision {
        rule: decision.rule.clone(),
        about,
        verdict: match &decision.verdict {
            Verdict::Mended => m::Verdict::Mended,
            Verdict::Accepted(because) => m::Verdict::Accepted(because.clone()),
            Verdict::NextVisit => m::Verdict::NextVisit,
        },
        when: decision.when.clone(),
        who: decision.who.clone(),
    }
}

fn tick(tick: &Tick, at: &mut Entry<'_>) -> m::Tick {
    m::Tick {
        step: tick.step.clone(),
        at: tick.at.as_ref().and_then(|word| at.spot(&["at".into()], word)),
        back: match tick.back {
            Back::Nothing => m::Back::Nothing,
            Back::Land => m::Back::Land,
            Back::InPlace => m::Back::InPlace,
            Back::Cap => m::Back::Cap,
        },
        when: tick.when.clone(),
        who: tick.who.clone(),
    }
}

fn visit(visit: &Visit, _: &mut Entry<'_>) -> m::Visit {
    m::Visit {
        name: visit.name.clone(),
        date: visit.date.clone(),
        who: visit.who.clone(),
        why: visit.why.clone(),
        as_found: visit.as_found.clone(),
        as_left: visit.as_left.clone(),
        work: visit.work.clone(),
    }
}
