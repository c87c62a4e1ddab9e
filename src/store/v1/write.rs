//! From the record at work to the file of format 1. Every reference becomes a tag or a name.
//!
//! A reference to something that is not in the record is left out: what is written can always be read again.

use crate::machine as m;
use crate::machine::{Machine, Marking, Point, Side};

use super::disk::{Back, Decision, Facts, File, Habits, Meter, Photo, Placement, Tick, Verdict, Visit};
use super::log::{Candidate, Condition, Constraint, Guess, Mystery, Reading, Statement, Subject};
use super::part::{Crop, Lies, Mounting, Part, Pin, PinRole, Terminal};
use super::short::{Bend, Num, Pairs, Xy};
use super::wire::{End, Form, Known, LOOSE, Loom, Lug, State, UNKNOWN, Wire};
use super::{FORMAT, GONE};

/// The file that says what this record says.
pub(super) fn file_of(machine: &Machine) -> File {
    let names = Names(machine);
    File {
        format: FORMAT,
        machine: facts(&machine.facts),
        photos: machine.photos.values().map(photo).collect(),
        parts: machine.parts.values().map(|part| names.part(part)).collect(),
        wires: machine.wires.values().map(|wire| names.wire(wire)).collect(),
        looms: machine.looms.values().map(|l| Loom { name: l.name.clone(), stretch: l.stretch.clone() }).collect(),
        conditions: machine.conditions.values().map(|condition| names.condition(condition)).collect(),
        constraints: machine.constraints.values().filter_map(|constraint| names.constraint(constraint)).collect(),
        meters: machine.meters.values().map(meter).collect(),
        readings: machine.readings.values().map(|reading| names.reading(reading)).collect(),
        mysteries: machine.mysteries.values().filter_map(|mystery| names.mystery(mystery)).collect(),
        decisions: machine.decisions.values().map(|decision| names.decision(decision)).collect(),
        ticks: machine.ticks.values().map(|tick| names.tick(tick)).collect(),
        visits: machine.visits.values().map(visit).collect(),
    }
}

fn facts(facts: &m::Facts) -> Facts {
    let usual = m::HazardLimits::default();
    let unusual = |value: f64, usual: f64| (value != usual).then_some(Num(value));
    Facts {
        title: facts.title.clone(),
        location: facts.location.clone(),
        nameplate: facts.nameplate.clone(),
        refrigerant: facts.refrigerant.clone(),
        flammable: facts.flammable,
        habits: match facts.habits {
            m::Habits::Iec => Habits::Iec,
            m::Habits::NorthAmerica => Habits::NorthAmerica,
        },
        extra_low_volts_ac: unusual(facts.limits.extra_low_volts_ac, usual.extra_low_volts_ac),
        extra_low_volts_dc: unusual(facts.limits.extra_low_volts_dc, usual.extra_low_volts_dc),
        source: facts.source.clone(),
        note: facts.note.clone(),
    }
}

fn photo(photo: &m::Photo) -> Photo {
    Photo {
        name: photo.name.clone(),
        hash: photo.hash.clone(),
        original_name: photo.original_name.clone(),
        size_px: (photo.size_px[0], photo.size_px[1]),
        taken: photo.taken.clone(),
        quarter_turns: photo.quarter_turns % 4,
        placement: match photo.placement {
            m::Placement::Similarity { origin, mm_per_px, turn_deg } => {
                Placement::Similarity { origin: origin.into(), mm_per_px: Num(mm_per_px), turn_deg: Num(turn_deg) }
            }
            m::Placement::Homography(numbers) => Placement::Homography(numbers.map(Num)),
        },
        caption: photo.caption.clone(),
        side: photo.side.clone(),
        faded: photo.faded.min(100),
    }
}

fn meter(meter: &m::Meter) -> Meter {
    let ranges = |all: &[f64]| all.iter().copied().map(Num).collect();
    Meter {
        name: meter.name.clone(),
        tone_below_ohms: meter.tone_below_ohms.map(Num),
        silent_above_ohms: meter.silent_above_ohms.map(Num),
        input_ohms: meter.input_ohms.map(Num),
        low_impedance_ohms: meter.low_impedance_ohms.map(Num),
        ohm_ranges: ranges(&meter.ohm_ranges),
        volt_ranges: ranges(&meter.volt_ranges),
        percent: meter.percent.map(Num),
        digits: meter.digits.map(Num),
        lead_ohms: meter.lead_ohms.map(Num),
        category: meter.category.clone(),
    }
}

fn visit(visit: &m::Visit) -> Visit {
    Visit {
        name: visit.name.clone(),
        date: visit.date.clone(),
        who: visit.who.clone(),
        why: visit.why.clone(),
        as_found: visit.as_found.clone(),
        as_left: visit.as_left.clone(),
        work: visit.work.clone(),
    }
}

/// A record, asked for the names of its things.
struct Names<'a>(&'a Machine);

impl Names<'_> {
    fn part_tag(&self, part: m::PartId) -> Option<String> {
        self.0.parts.get(part).map(|part| part.tag.clone())
    }

    fn terminal_name(&self, terminal: &m::TerminalRef) -> Option<String> {
        self.0.parts.contains(terminal.part).then(|| self.0.terminal_name(terminal))
    }

    fn end_of(&self, wire: m::WireId, side: Side) -> Option<String> {
        self.0.wires.get(wire).map(|wire| format!("{}.{}", wire.key, side.word()))
    }

    fn spot(&self, spot: &m::Spot) -> String {
        let there = match spot {
            m::Spot::Gone(_) => false,
            m::Spot::Terminal(terminal) => self.0.parts.contains(terminal.part),
            m::Spot::Part(part) => self.0.parts.contains(*part),
            m::Spot::End(wire, _) | m::Spot::Wire(wire) => self.0.wires.contains(*wire),
        };
        let name = self.0.spot_name(spot);
        if there { name } else { format!("{GONE} {name}") }
    }

    fn condition_name(&self, id: m::ConditionId) -> Option<String> {
        self.0.conditions.get(id).map(|condition| condition.name.clone())
    }

    fn part(&self, part: &m::Part) -> Part {
        Part {
            tag: part.tag.clone(),
            printed: part.printed.clone(),
            kind: part.kind.clone(),
            title: part.title.clone(),
            at: Lies {
                at: part.pose.at.into(),
                quarter_turns: part.pose.quarter_turns % 4,
                mirrored: part.pose.mirrored,
            },
            count: part.count,
            pins: part.pins.iter().map(pin).collect(),
            terminals: part.terminals.iter().map(|(marking, note)| (marking.to_string(), terminal(note))).collect(),
            ratings: part
                .ratings
                .iter()
                .map(|(rating, rated)| (rating.name().to_owned(), rated.written(rating)))
                .collect(),
            mounting: match part.mounting {
                m::Mounting::Fixed => Mounting::Fixed,
                m::Mounting::Loose => Mounting::Loose,
                m::Mounting::Missing => Mounting::Missing,
            },
            exposed_metal: part.exposed_metal,
            rest: part.rest.iter().map(|(switch, position)| (switch.clone(), position.clone())).collect(),
            group: part.group.clone(),
            note: part.note.clone(),
            crop: part.crop.and_then(|crop| {
                let [left, top, width, height] = crop.rect_px;
                let photo = self.0.photos.get(crop.photo)?.name.clone();
                Some(Crop { photo, rect_px: (left, top, width, height) })
            }),
        }
    }

    fn wire(&self, wire: &m::Wire) -> Wire {
        Wire {
            key: wire.key.clone(),
            number: wire.number.clone(),
            form: match wire.form {
                m::WireForm::Lead => Form::Lead,
                m::WireForm::Jumper => Form::Jumper,
            },
            from: self.end(&wire.from),
            to: self.end(&wire.to),
            colour: wire.colour.map(|colour| colour.to_string()),
            size: wire.size.map(|size| size.to_string()),
            length_mm: wire.length_mm.map(Num),
            insulation: wire.insulation.clone(),
            path: wire.path.iter().map(|bend| Bend { at: bend.at.into(), hidden: bend.hidden }).collect(),
            state: match wire.state {
                m::WireState::InPlace => State::InPlace,
                m::WireState::CappedOff => State::CappedOff,
                m::WireState::Removed => State::Removed,
            },
            loom: wire.loom.and_then(|id| self.0.looms.get(id)).map(|loom| loom.name.clone()),
            note: wire.note.clone(),
        }
    }

    fn end(&self, end: &m::WireEnd) -> End {
        End {
            at: match &end.at {
                m::EndAt::Terminal(terminal) => self.terminal_name(terminal).unwrap_or_else(|| UNKNOWN.to_owned()),
                m::EndAt::Loose => LOOSE.to_owned(),
                m::EndAt::Unknown => UNKNOWN.to_owned(),
            },
            lug: match end.lug {
                m::Lug::Unsaid => Lug::Unsaid,
                m::Lug::Bare => Lug::Bare,
                m::Lug::Ferrule => Lug::Ferrule,
                m::Lug::Fork => Lug::Fork,
                m::Lug::Ring => Lug::Ring,
                m::Lug::QuickConnect => Lug::QuickConnect,
                m::Lug::Flag => Lug::Flag,
                m::Lug::Pin => Lug::Pin,
                m::Lug::Cap => Lug::Cap,
            },
            known: match end.known {
                m::Known::Seen => Known::Seen,
                m::Known::Assumed => Known::Assumed,
                m::Known::Proven => Known::Proven,
                m::Known::Disputed => Known::Disputed,
            },
            // Only what is recorded on a terminal can be lifted from it.
            lifted: end.lifted && matches!(&end.at, m::EndAt::Terminal(at) if self.0.parts.contains(at.part)),
            place: xy(end.place),
        }
    }

    fn condition(&self, condition: &m::Condition) -> Condition {
        let parts = |said: &std::collections::BTreeMap<m::PartId, bool>| {
            said.iter().filter_map(|(&id, &yes)| Some((self.part_tag(id)?, yes))).collect()
        };
        Condition {
            name: condition.name.clone(),
            derived_from: condition.derived_from.and_then(|id| self.condition_name(id)),
            sources: parts(&condition.sources),
            commanded: condition
                .commanded
                .iter()
                .filter_map(|(at, &yes)| Some((self.terminal_name(at)?, yes)))
                .collect(),
            positions: condition
                .positions
                .iter()
                .filter_map(|((part, switch), position)| Some((self.switch(*part, switch)?, position.clone())))
                .collect(),
            unmated: Pairs::default(),
            lifted: condition
                .lifted
                .iter()
                .filter_map(|(&(wire, side), &yes)| Some((self.end_of(wire, side)?, yes)))
                .collect(),
            how: condition.how.clone(),
        }
    }

    fn switch(&self, part: m::PartId, switch: &str) -> Option<String> {
        self.part_tag(part).map(|tag| format!("{tag}.{switch}"))
    }

    fn statement(&self, statement: &m::Statement) -> Option<Statement> {
        Some(match statement {
            m::Statement::SourceOn(part) => Statement::SourceOn(self.part_tag(*part)?),
            m::Statement::Commanded(terminal) => Statement::Commanded(self.terminal_name(terminal)?),
            m::Statement::Position(part, switch, position) => {
                Statement::Position(self.switch(*part, switch)?, position.clone())
            }
        })
    }

    fn constraint(&self, constraint: &m::Constraint) -> Option<Constraint> {
        Some(match constraint {
            m::Constraint::NeverBoth(all) => {
                let all: Vec<Statement> = all.iter().filter_map(|one| self.statement(one)).collect();
                // Of less than two nothing is left to say.
                return (all.len() > 1).then_some(Constraint::NeverBoth(all));
            }
            m::Constraint::OnlyWhen(this, that) => Constraint::OnlyWhen(self.statement(this)?, self.statement(that)?),
            m::Constraint::Always(this) => Constraint::Always(self.statement(this)?),
        })
    }

    fn reading(&self, reading: &m::Reading) -> Reading {
        let meter = reading.meter.and_then(|id| self.0.meters.get(id));
        let visit = reading.visit.and_then(|id| self.0.visits.get(id));
        Reading {
            name: reading.name.clone(),
            red: self.spot(&reading.red),
            black: reading.black.as_ref().map(|spot| self.spot(spot)),
            value: reading.value.to_string(),
            condition: reading.condition.and_then(|id| self.condition_name(id)),
            meter: meter.map(|meter| meter.name.clone()),
            when: reading.when.clone(),
            who: reading.who.clone(),
            visit: visit.map(|visit| visit.name.clone()),
            note: reading.note.clone(),
        }
    }

    fn mystery(&self, mystery: &m::Mystery) -> Option<Mystery> {
        Some(Mystery {
            name: mystery.name.clone(),
            subject: match &mystery.subject {
                m::Subject::End(wire, side) => Subject::End(self.end_of(*wire, *side)?),
                m::Subject::CoilDriver(part) => Subject::CoilDriver(self.part_tag(*part)?),
                m::Subject::ContactForm(terminal) => Subject::ContactForm(self.terminal_name(terminal)?),
                m::Subject::Kind(part) => Subject::Kind(self.part_tag(*part)?),
                m::Subject::Fault(spot) => Subject::Fault(self.spot(spot)),
            },
            candidates: mystery.candidates.iter().filter_map(|candidate| self.candidate(candidate)).collect(),
            one_of_each: mystery.one_of_each.clone(),
            note: mystery.note.clone(),
        })
    }

    fn candidate(&self, candidate: &m::Candidate) -> Option<Candidate> {
        let never_with = candidate.never_with.iter().filter_map(|(other, guess)| {
            let name = self.0.mysteries.get(*other)?.name.clone();
            Some((name, self.guess(guess)?))
        });
        Some(Candidate {
            guess: self.guess(&candidate.guess)?,
            weight: Num(candidate.weight),
            never_with: never_with.collect(),
        })
    }

    fn guess(&self, guess: &m::Guess) -> Option<Guess> {
        Some(match guess {
            m::Guess::Terminal(terminal) => Guess::Terminal(self.terminal_name(terminal)?),
            m::Guess::Nowhere => Guess::Nowhere,
            m::Guess::Named(name) => Guess::Named(name.clone()),
        })
    }

    fn tick(&self, tick: &m::Tick) -> Tick {
        Tick {
            step: tick.step.clone(),
            at: tick.at.as_ref().map(|spot| self.spot(spot)),
            back: match tick.back {
                m::Back::Nothing => Back::Nothing,
                m::Back::Land => Back::Land,
                m::Back::InPlace => Back::InPlace,
                m::Back::Cap => Back::Cap,
            },
            when: tick.when.clone(),
            who: tick.who.clone(),
        }
    }

    fn decision(&self, decision: &m::Decision) -> Decision {
        let thing = |thing: &m::Thing| {
            let (what, there) = match thing {
                m::Thing::Spot(spot) => return Some(self.spot(spot)),
                m::Thing::Condition(id) => ("condition", self.0.conditions.contains(*id)),
                m::Thing::Reading(id) => ("reading", self.0.readings.contains(*id)),
                m::Thing::Mystery(id) => ("mystery", self.0.mysteries.contains(*id)),
                m::Thing::Photo(id) => ("photo", self.0.photos.contains(*id)),
            };
            there.then(|| format!("{what} {}", self.0.thing_name(thing)))
        };
        Decision {
            rule: decision.rule.clone(),
            about: decision.about.iter().filter_map(thing).collect(),
            verdict: match &decision.verdict {
                m::Verdict::Mended => Verdict::Mended,
                m::Verdict::Accepted(because) => Verdict::Accepted(because.clone()),
                m::Verdict::NextVisit => Verdict::NextVisit,
            },
            when: decision.when.clone(),
            who: decision.who.clone(),
        }
    }
}

fn xy(point: Option<Point>) -> Option<Xy> {
    point.map(Xy::from)
}

fn pin(pin: &m::Pin) -> Pin {
    let text = Marking::to_string;
    Pin {
        marking: pin.marking.to_string(),
        role: match &pin.role {
            m::PinRole::Unknown => PinRole::Unknown,
            m::PinRole::Plain => PinRole::Plain,
            m::PinRole::Supply(other) => PinRole::Supply(text(other)),
            m::PinRole::Joined(other) => PinRole::Joined(text(other)),
            m::PinRole::OutputFrom(other) => PinRole::OutputFrom(text(other)),
            m::PinRole::OutputTo(other) => PinRole::OutputTo(text(other)),
            m::PinRole::OutputDry(other) => PinRole::OutputDry(text(other)),
            m::PinRole::OutputTriac(other) => PinRole::OutputTriac(text(other)),
            m::PinRole::Input(other) => PinRole::Input(text(other)),
        },
        at: xy(pin.at),
    }
}

fn terminal(note: &m::TerminalNote) -> Terminal {
    Terminal {
        printed: note.printed.clone(),
        at: xy(note.at),
        lands: note.lands.clone(),
        holds: note.holds,
        note: note.note.clone(),
    }
}
