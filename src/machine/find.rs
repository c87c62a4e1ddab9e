//! Looking things up in a record, and naming them for people.

use std::collections::BTreeSet;

use thiserror::Error;

use super::Machine;
use super::ids::{ConditionId, MeterId, PartId, ReadingId, WireId};
use super::mystery::Guess;
use super::spot::{Side, Spot, TerminalRef, Thing};
use super::wire::EndAt;

/// Why a tag cannot be used.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
pub enum TagError {
    /// Nothing was written.
    #[error("a tag cannot be empty; write for example K1")]
    Empty,
    /// It has a character with a meaning in references.
    #[error("'{0}' cannot be a tag: a tag has no space, dot, slash or quote in it; write for example K1")]
    Character(String),
    /// Something else has it.
    #[error("'{0}' is taken; tags of parts and keys of wires are unique in a record")]
    Taken(String),
}

/// Checks that a text can be a tag or a wire key by its form.
///
/// # Errors
/// Says what is wrong with it.
pub fn check_tag(tag: &str) -> Result<(), TagError> {
    if tag.is_empty() {
        return Err(TagError::Empty);
    }
    if tag.chars().any(|c| c.is_whitespace() || c.is_control() || matches!(c, '.' | '/' | '"' | '\'' | '\\')) {
        return Err(TagError::Character(tag.to_owned()));
    }
    Ok(())
}

impl Machine {
    /// The place a person names: `K1.A1`, `W7.from`, `W7`, `M1`. Whether the part has such a terminal is not looked at.
    pub fn spot_by_name(&self, name: &str) -> Option<Spot> {
        if let Some(part) = self.part_by_tag(name) {
            return Some(Spot::Part(part));
        }
        if let Some(wire) = self.wire_by_key(name) {
            return Some(Spot::Wire(wire));
        }
        let (tag, rest) = name.split_once('.')?;
        if let Some(part) = self.part_by_tag(tag) {
            return Some(Spot::Terminal(TerminalRef::new(part, rest)));
        }
        let wire = self.wire_by_key(tag)?;
        Side::BOTH.into_iter().find(|side| side.word() == rest).map(|side| Spot::End(wire, side))
    }

    /// The part with this tag.
    pub fn part_by_tag(&self, tag: &str) -> Option<PartId> {
        self.parts.iter().find(|(_, part)| part.tag == tag).map(|(id, _)| id)
    }

    /// The wire with this key.
    pub fn wire_by_key(&self, key: &str) -> Option<WireId> {
        self.wires.iter().find(|(_, wire)| wire.key == key).map(|(id, _)| id)
    }

    /// The condition with this name.
    pub fn condition_by_name(&self, name: &str) -> Option<ConditionId> {
        self.conditions.iter().find(|(_, condition)| condition.name == name).map(|(id, _)| id)
    }

    /// The meter with this name.
    pub fn meter_by_name(&self, name: &str) -> Option<MeterId> {
        self.meters.iter().find(|(_, meter)| meter.name == name).map(|(id, _)| id)
    }

    /// The reading with this name.
    pub fn reading_by_name(&self, name: &str) -> Option<ReadingId> {
        self.readings.iter().find(|(_, reading)| reading.name == name).map(|(id, _)| id)
    }

    /// Every tag and key in use.
    pub fn tags(&self) -> BTreeSet<&str> {
        self.parts
            .values()
            .map(|part| part.tag.as_str())
            .chain(self.wires.values().map(|wire| wire.key.as_str()))
            .collect()
    }

    /// Checks that a tag has the right form and is free, apart from the thing that has it now.
    ///
    /// # Errors
    /// Says what is wrong with it.
    pub fn check_free_tag(&self, tag: &str, now: Option<&str>) -> Result<(), TagError> {
        check_tag(tag)?;
        if Some(tag) != now && self.tags().contains(tag) {
            return Err(TagError::Taken(tag.to_owned()));
        }
        Ok(())
    }

    /// The first of `K1`, `K2`, ... that is free.
    pub fn free_tag(&self, letter: &str) -> String {
        let taken = self.tags();
        (1..=u32::MAX)
            .map(|number| format!("{letter}{number}"))
            .find(|tag| !taken.contains(tag.as_str()))
            .unwrap_or_default()
    }

    /// `K1.A1`; a part that is gone shows as `?`.
    pub fn terminal_name(&self, terminal: &TerminalRef) -> String {
        format!("{}.{}", self.part_name(terminal.part), terminal.marking)
    }

    /// The part's tag.
    pub fn part_name(&self, id: PartId) -> &str {
        self.parts.get(id).map_or("?", |part| part.tag.as_str())
    }

    /// The wire's key.
    pub fn wire_name(&self, id: WireId) -> &str {
        self.wires.get(id).map_or("?", |wire| wire.key.as_str())
    }

    /// A guess in words: `K1.14`, `nowhere`, or the name it has.
    pub fn guess_name(&self, guess: &Guess) -> String {
        match guess {
            Guess::Terminal(terminal) => self.terminal_name(terminal),
            Guess::Nowhere => "nowhere".to_owned(),
            Guess::Named(name) => name.clone(),
        }
    }

    /// Where an end of a wire is, in words of the wire list: `K1.A1`, `loose`, `unknown`.
    pub fn end_name(&self, at: &EndAt) -> String {
        match at {
            EndAt::Terminal(terminal) => self.terminal_name(terminal),
            EndAt::Loose => "loose".to_owned(),
            EndAt::Unknown => "unknown".to_owned(),
        }
    }

    /// A spot as it is written in files: `K1.A1`, `W7.from`, `W7`, `K1`.
    pub fn spot_name(&self, spot: &Spot) -> String {
        match spot {
            Spot::Terminal(terminal) => self.terminal_name(terminal),
            Spot::End(wire, side) => format!("{}.{}", self.wire_name(*wire), side.word()),
            Spot::Wire(wire) => self.wire_name(*wire).to_owned(),
            Spot::Part(part) => self.part_name(*part).to_owned(),
            Spot::Gone(name) => name.clone(),
        }
    }

    /// Any thing as it is written in files and messages.
    pub fn thing_name(&self, thing: &Thing) -> String {
        match thing {
            Thing::Spot(spot) => self.spot_name(spot),
            Thing::Condition(id) => self.conditions.get(*id).map_or("?", |c| c.name.as_str()).to_owned(),
            Thing::Reading(id) => self.readings.get(*id).map_or("?", |r| r.name.as_str()).to_owned(),
            Thing::Mystery(id) => self.mysteries.get(*id).map_or("?", |m| m.name.as_str()).to_owned(),
            Thing::Photo(id) => self.photos.get(*id).map_or("?", |p| p.name.as_str()).to_owned(),
        }
    }

    /// Wire ends recorded on a terminal, lifted ones included, removed wires left out.
    pub fn wires_at<'a>(&'a self, terminal: &'a TerminalRef) -> impl Iterator<Item = (WireId, Side)> + 'a {
        self.wires.iter().filter(|(_, wire)| wire.is_present()).flat_map(move |(id, wire)| {
            Side::BOTH
                .into_iter()
                .filter(move |&side| matches!(&wire.end(side).at, EndAt::Terminal(at) if at == terminal))
                .map(move |side| (id, side))
        })
    }
}
