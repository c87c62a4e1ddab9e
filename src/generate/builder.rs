//! Puts parts and wires into an invented machine, within its number of wires.

use std::collections::BTreeMap;

use crate::machine::{EndAt, Known, Lug, Machine, Part, PartId, Point, Pose, TerminalRef, Wire, WireEnd, WireId};
use crate::quantity::{Colour, Rated, Rating, WireColour, WireSize};

use super::random::Random;

/// What a wire serves, which decides how it looks.
#[derive(Clone, Copy, PartialEq, Eq)]
pub(super) enum Duty {
    Line,
    Neutral,
    Earth,
    Control,
    ControlReturn,
}

/// A machine that is being invented.
pub(super) struct Builder {
    pub(super) machine: Machine,
    pub(super) random: Random,
    wires_left: usize,
    tags: BTreeMap<&'static str, u32>,
}

impl Builder {
    pub(super) fn new(wires: usize, seed: u64) -> Self {
        Self { machine: Machine::default(), random: Random::from_seed(seed), wires_left: wires, tags: BTreeMap::new() }
    }

    /// Whether all wires asked for are there.
    pub(super) fn is_full(&self) -> bool {
        self.wires_left == 0
    }

    /// The next free tag or key with these letters.
    fn tag(&mut self, letters: &'static str) -> String {
        let number = self.tags.entry(letters).or_insert(0);
        *number += 1;
        format!("{letters}{number}")
    }

    /// Places a part and returns its number.
    pub(super) fn part(&mut self, letters: &'static str, kind: &str, title: &str, at: Point) -> PartId {
        self.part_with(letters, kind, title, at, |_| {})
    }

    /// As [`Self::part`], with something of its own.
    pub(super) fn part_with(
        &mut self,
        letters: &'static str,
        kind: &str,
        title: &str,
        at: Point,
        own: impl FnOnce(&mut Part),
    ) -> PartId {
        let mut part = Part {
            tag: self.tag(letters),
            kind: kind.to_owned(),
            title: title.to_owned(),
            pose: Pose { at, ..Pose::default() },
            ..Part::default()
        };
        own(&mut part);
        self.machine.parts.add(part)
    }

    /// An end on a terminal, followed by eye or taken for granted.
    pub(super) fn on(&mut self, part: PartId, marking: &str) -> WireEnd {
        let known = if self.random.happens(15) { Known::Assumed } else { Known::Seen };
        WireEnd { at: EndAt::Terminal(TerminalRef::new(part, marking)), known, ..WireEnd::default() }
    }

    /// An end on nothing.
    pub(super) fn loose(&mut self, place: Point) -> WireEnd {
        let lug = if self.random.happens(50) { Lug::Flag } else { Lug::Bare };
        WireEnd { at: EndAt::Loose, lug, place: Some(place), ..WireEnd::default() }
    }

    /// Draws a wire, unless all wires asked for are there.
    pub(super) fn wire(&mut self, duty: Duty, number: u32, from: WireEnd, to: WireEnd) -> Option<WireId> {
        self.wires_left = self.wires_left.checked_sub(1)?;
        let labelled = self.random.happens(85);
        let wire = Wire {
            key: self.tag("W"),
            number: (labelled && duty != Duty::Earth).then(|| number.to_string()),
            from,
            to,
            colour: Some(self.colour(duty)),
            size: Some(WireSize::SquareMillimetres(match duty {
                Duty::Line | Duty::Neutral | Duty::Earth => 1.0,
                Duty::Control | Duty::ControlReturn => 0.5,
            })),
            ..Wire::default()
        };
        Some(self.machine.wires.add(wire))
    }

    /// Draws a wire between two terminals, unless all wires asked for are there.
    pub(super) fn lead(&mut self, duty: Duty, number: u32, from: (PartId, &str), to: (PartId, &str)) {
        let (from, to) = (self.on(from.0, from.1), self.on(to.0, to.1));
        self.wire(duty, number, from, to);
    }

    fn colour(&mut self, duty: Duty) -> WireColour {
        match duty {
            Duty::Line => WireColour::plain(Colour::Brown),
            Duty::Neutral => WireColour::plain(Colour::Blue),
            Duty::Earth => WireColour::plain(Colour::GreenYellow),
            Duty::ControlReturn => WireColour::plain(Colour::Black),
            Duty::Control => {
                let bases = [Colour::Grey, Colour::Violet, Colour::White, Colour::Orange];
                let base = self.random.pick(&bases).copied().unwrap_or(Colour::Grey);
                let tracer = self.random.happens(20).then_some(Colour::Red);
                WireColour { base, tracer }
            }
        }
    }
}

/// Gives a part a rating.
pub(super) fn rate(part: &mut Part, rating: Rating, value: f64) {
    part.ratings.set(rating, Rated { value, current: None });
}
