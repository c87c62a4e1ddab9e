//! Wires and looms of format 1 to the record at work.

use std::str::FromStr;

use crate::machine as m;
use crate::quantity::QuantityError;

use super::super::problem::Step;
use super::names::Entry;
use super::read::point;
use super::wire::{End, Form, Known, LOOSE, Loom, Lug, State, UNKNOWN, Wire};

/// One wire.
pub(super) fn wire(wire: &Wire, at: &mut Entry<'_>) -> m::Wire {
    let names = at.names;
    m::Wire {
        key: wire.key.clone(),
        number: wire.number.clone(),
        form: match wire.form {
            Form::Lead => m::WireForm::Lead,
            Form::Jumper => m::WireForm::Jumper,
        },
        from: end("from", &wire.from, at),
        to: end("to", &wire.to, at),
        colour: quantity("colour", wire.colour.as_deref(), at),
        size: quantity("size", wire.size.as_deref(), at),
        length_mm: wire.length_mm.map(|length| at.not_negative(&["length_mm".into()], length.0)),
        insulation: wire.insulation.clone(),
        path: wire
            .path
            .iter()
            .enumerate()
            .map(|(index, bend)| {
                // Paths are built only where they are needed: a record has tens of thousands of bends.
                let fine = bend.at.0.0.is_finite() && bend.at.1.0.is_finite();
                let at = if fine { bend.at.point() } else { point(&["path".into(), index.into()], bend.at, at) };
                m::PathPoint { at, hidden: bend.hidden }
            })
            .collect(),
        state: match wire.state {
            State::InPlace => m::WireState::InPlace,
            State::CappedOff => m::WireState::CappedOff,
            State::Removed => m::WireState::Removed,
        },
        loom: at.maybe_named("loom", wire.loom.as_deref(), "loom", &names.looms),
        note: wire.note.clone(),
    }
}

/// A colour or a size; what cannot be read is complained about.
fn quantity<Q: FromStr<Err = QuantityError>>(field: &str, text: Option<&str>, at: &mut Entry<'_>) -> Option<Q> {
    match text?.parse() {
        Ok(quantity) => Some(quantity),
        Err(error) => {
            at.complain(&[field.into()], None, error.to_string());
            None
        }
    }
}

fn end(side: &str, end: &End, at: &mut Entry<'_>) -> m::WireEnd {
    let path = [Step::from(side)];
    let place = match end.at.as_str() {
        LOOSE => m::EndAt::Loose,
        UNKNOWN => m::EndAt::Unknown,
        text if !text.contains('.') => {
            at.complain(
                &path,
                Some(text),
                format!("'{text}' names no end; write a terminal such as 'K1.A1', or 'loose', or 'unknown'"),
            );
            m::EndAt::Unknown
        }
        text => at.terminal(&path, text).map_or(m::EndAt::Unknown, m::EndAt::Terminal),
    };
    if end.lifted && matches!(end.at.as_str(), LOOSE | UNKNOWN) {
        at.complain(
            &[path[0].clone(), "lifted".into()],
            None,
            "only an end that is recorded on a terminal can be lifted from it; take 'lifted' out, or name the terminal",
        );
    }
    m::WireEnd {
        at: place,
        lifted: end.lifted,
        lug: match end.lug {
            Lug::Unsaid => m::Lug::Unsaid,
            Lug::Bare => m::Lug::Bare,
            Lug::Ferrule => m::Lug::Ferrule,
            Lug::Fork => m::Lug::Fork,
            Lug::Ring => m::Lug::Ring,
            Lug::QuickConnect => m::Lug::QuickConnect,
            Lug::Flag => m::Lug::Flag,
            Lug::Pin => m::Lug::Pin,
            Lug::Cap => m::Lug::Cap,
        },
        known: match end.known {
            Known::Seen => m::Known::Seen,
            Known::Assumed => m::Known::Assumed,
            Known::Proven => m::Known::Proven,
            Known::Disputed => m::Known::Disputed,
        },
        place: end.place.map(|xy| point(&[path[0].clone(), "place".into()], xy, at)),
    }
}

/// One loom.
pub(super) fn loom(loom: &Loom, _: &mut Entry<'_>) -> m::Loom {
    m::Loom { name: loom.name.clone(), stretch: loom.stretch.clone() }
}
