//! The hidden machine: it holds the truth and plays the meter. Nothing of it comes from the program's own circuit or reasoning: it reads
//! a record and the catalogue's elements, has its own nodal equations, its own relays, its own meter and its own judgement of danger.
//!
//! Each machine has values of its own within what is printed on its parts, the same for the same number. Bands of values: coils and
//! loads within a tenth of what is printed (common practice, no source), mains within a tenth (IEC 60038, from memory); the meter is the
//! everyday one: 1 % and 3 digits of 4000, a sounder between 20 and 50 Ω, leads of 0.2 to 0.5 Ω (from memory of manuals).
#![allow(dead_code, reason = "each test that has the hidden machine uses its own part of it")]
#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

pub mod drive;
pub mod model;
mod number;
mod solve;

use std::collections::BTreeMap;

use wirewitness::catalogue::Catalogue;
use wirewitness::machine::{ConditionId, Machine, MysteryId, Spot};
use wirewitness::quantity::{Function, Value};

pub use model::{Drawn, Model};
pub use number::Dice;
use solve::{Rest, Volts};

/// Where a meter is put, as the hidden machine is asked.
#[derive(Debug, Clone, Copy)]
pub struct Ask<'a> {
    pub condition: ConditionId,
    pub red: &'a Spot,
    pub black: Option<&'a Spot>,
    pub function: Function,
}

/// What was asked, as the hidden machine sees it.
#[derive(Debug, Clone, Default)]
pub struct Log {
    pub readings: usize,
    /// A reading is 1; another condition than before one more, and one more for each lead that is off in it.
    pub effort: f64,
    /// Readings by its own judgement: dead, extra-low, line.
    pub by_risk: [usize; 3],
    /// Tone or ohms with voltage on, amps, and places that no probe reaches.
    pub forbidden: Vec<String>,
    /// Readings that were shown wrong.
    pub wrong: usize,
}

struct Settled {
    rest: Rest,
    volts: Volts,
    /// 0 nothing, 1 extra-low, 2 more.
    danger: usize,
}

/// The hidden machine with its meter.
pub struct Oracle<'a> {
    record: &'a Machine,
    pub model: Model,
    settled: BTreeMap<ConditionId, Settled>,
    dice: Dice,
    /// Ohms below which the sounder sounds, and of the leads.
    sounds_below: f64,
    leads: f64,
    ghost: f64,
    wrong_share: f64,
    present: Option<ConditionId>,
    pub log: Log,
}

const TOPS_OF_OHMS: [f64; 6] = [400.0, 4e3, 40e3, 400e3, 4e6, 40e6];
const TOPS_OF_VOLTS: [f64; 4] = [4.0, 40.0, 400.0, 1000.0];
const INPUT_OHMS: f64 = 10e6;

impl<'a> Oracle<'a> {
    /// The machine of a record with these answers (mysteries with one candidate only are answered).
    pub fn new(record: &'a Machine, catalogue: &Catalogue, answers: &BTreeMap<MysteryId, usize>, drawn: Drawn) -> Self {
        let seed = if let Drawn::Anyhow(seed) = drawn { seed } else { 0 };
        let mut dice = Dice::new(seed, 0x6d65_7465);
        Self {
            record,
            model: Model::of(record, catalogue, answers, drawn),
            settled: BTreeMap::new(),
            sounds_below: dice.within(21.0, 49.0),
            leads: dice.within(0.2, 0.5),
            ghost: dice.within(0.0, 0.7),
            dice,
            wrong_share: 0.0,
            present: record.conditions.ids().next(),
            log: Log::default(),
        }
    }

    /// The same with a share of readings that are wrong.
    #[must_use]
    pub fn mistaken(mut self, share: f64) -> Self {
        self.wrong_share = share;
        self
    }

    fn settle(&mut self, condition: ConditionId) -> &Settled {
        if !self.settled.contains_key(&condition) {
            let setting = self.record.setting(condition);
            let rest = self.model.rest(&setting, None, &mut self.dice);
            let volts = self.model.volts(&setting, &rest.worked, None);
            let most = rest.passed.iter().map(|worked| self.model.volts(&setting, worked, None).most());
            let most = most.fold(0.0, f64::max);
            // Mains may be a tenth higher than it is today.
            let limit = self.record.facts.limits.extra_low_volts_ac;
            let danger = usize::from(most > 1e-6) + usize::from(most * 1.1 > limit);
            self.settled.insert(condition, Settled { rest, volts, danger });
        }
        &self.settled[&condition]
    }

    /// 0 where nothing is on, 1 extra-low voltage, 2 more.
    pub fn danger(&mut self, condition: ConditionId) -> usize {
        self.settle(condition).danger
    }

    pub fn settles(&mut self, condition: ConditionId) -> bool {
        self.settle(condition).rest.settles
    }

    /// Takes a reading and writes it in the log. `None` where it is forbidden or senseless.
    pub fn ask(&mut self, ask: Ask<'_>) -> Option<Value> {
        let lifted = self.record.setting(ask.condition).lifted.len();
        self.log.readings += 1;
        self.log.effort += 1.0 + if self.present == Some(ask.condition) { 0.0 } else { 1.0 } + lifted as f64;
        self.present = Some(ask.condition);
        let danger = self.danger(ask.condition);
        self.log.by_risk[danger] += 1;
        let forbidden = match ask.function {
            Function::Tone | Function::Ohms => danger > 0,
            Function::Amps => true,
            _ => false,
        };
        let Some(truly) = self.shown(ask, true).filter(|_| !forbidden) else {
            self.log.forbidden.push(format!("{ask:?} at {danger}"));
            return None;
        };
        let wrong = self.dice.share() < self.wrong_share;
        if !wrong {
            return Some(truly);
        }
        self.log.wrong += 1;
        Some(match truly {
            Value::Tone => Value::NoTone,
            Value::NoTone => Value::Tone,
            Value::Runs => Value::DoesNotRun,
            Value::DoesNotRun => Value::Runs,
            Value::OverLimit => Value::Ohms(self.dice.within(0.1, 400.0)),
            Value::Ohms(_) if self.dice.share() < 0.5 => Value::OverLimit,
            Value::Ohms(_) => Value::Ohms(10_f64.powf(self.dice.within(-0.5, 5.0))),
            Value::VoltsAc(_) => Value::VoltsAc(self.dice.within(0.0, 250.0)),
            other => other,
        })
    }

    /// What is shown, with the meter's own error or without.
    pub fn shown(&mut self, ask: Ask<'_>, with_error: bool) -> Option<Value> {
        if ask.function == Function::Runs {
            let Spot::Part(part) = ask.red else { return None };
            let load = self.model.loads.iter().position(|load| load.part == *part)?;
            self.settle(ask.condition);
            let (load, volts) = (&self.model.loads[load], &self.settled[&ask.condition].volts);
            let gets = volts.between(load.ends[0], load.ends[1]).filter(|_| !load.open).unwrap_or(0.0);
            return Some(if gets >= load.runs_from { Value::Runs } else { Value::DoesNotRun });
        }
        let (red, black) = (self.model.spot(ask.red)?, self.model.spot(ask.black?)?);
        let setting = self.record.setting(ask.condition);
        match ask.function {
            Function::Tone | Function::Ohms => {
                let ohms = self.model.ohms(&setting, &[red], &[black])[0][0].map(|ohms| ohms + self.leads);
                Some(if ask.function == Function::Tone {
                    if ohms.is_some_and(|ohms| ohms < self.sounds_below) { Value::Tone } else { Value::NoTone }
                } else {
                    match ohms.filter(|ohms| *ohms < TOPS_OF_OHMS[5]) {
                        Some(ohms) => Value::Ohms(self.display(ohms, &TOPS_OF_OHMS, with_error)),
                        None => Value::OverLimit,
                    }
                })
            }
            Function::VoltsAc => {
                self.settle(ask.condition);
                let settled = &self.settled[&ask.condition];
                let apart = !settled.volts.together(red, black);
                let volts = if apart {
                    // Something couples over from the highest supply that is on.
                    let on = self.model.sources.iter().filter(|source| setting.sources_on.contains(&source.part));
                    self.ghost * on.map(|source| source.volts.size()).fold(0.0, f64::max)
                } else {
                    // The meter is a part of the circuit while it is on.
                    let meter = Some(([red, black], INPUT_OHMS));
                    let mut dice = self.dice.clone();
                    let rest = self.model.rest(&setting, meter, &mut dice);
                    self.model.volts(&setting, &rest.worked, meter).between(red, black)?
                };
                Some(Value::VoltsAc(self.display(volts, &TOPS_OF_VOLTS, with_error)))
            }
            Function::VoltsDc => Some(Value::VoltsDc(0.0)),
            Function::Amps | Function::Runs => None,
        }
    }

    fn display(&mut self, value: f64, tops: &[f64], with_error: bool) -> f64 {
        let top = tops.iter().copied().find(|top| value < *top).unwrap_or(tops[tops.len() - 1]);
        let digit = top / 4000.0;
        let off = if with_error { self.dice.within(-1.0, 1.0) } else { 0.0 };
        (((value + off * (0.01 * value + 2.5 * digit)) / digit).round() * digit).max(0.0)
    }

    /// Ohms between all of these spots in a condition, whatever the meter; `None` inside: no way.
    pub fn ohms(&self, condition: ConditionId, spots: &[Spot]) -> Option<Vec<Vec<Option<f64>>>> {
        let nodes: Option<Vec<usize>> = spots.iter().map(|spot| self.model.spot(spot)).collect();
        let nodes = nodes?;
        Some(self.model.ohms(&self.record.setting(condition), &nodes, &nodes))
    }

    /// Volts between two spots in a condition, without a meter on.
    pub fn volts(&mut self, condition: ConditionId, a: &Spot, b: &Spot) -> Option<f64> {
        let (a, b) = (self.model.spot(a)?, self.model.spot(b)?);
        self.settle(condition).volts.between(a, b)
    }
}
