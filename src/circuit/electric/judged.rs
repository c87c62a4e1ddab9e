//! Every reading of a record held against what is expected there, what it proves, and how each connection stands by them.

use std::collections::{BTreeMap, BTreeSet};

use crate::machine::{ConditionId, Machine, Reading, ReadingId, Side, Spot, WireId};
use crate::quantity::{Function, Value};

use super::super::network::{Contact, Network, Node, Works};
use super::expect::{Ask, Points, expected};
use super::expectation::{Agreement, Expectation, Expected};
use super::explain::{Proof, proof_dead, proof_live, single_openings};
use super::live::Live;
use super::profile::Profile;
use super::stamp::{Elements, What};

/// A reading with what the record makes of it.
#[derive(Debug, Clone, PartialEq)]
pub struct Judged {
    /// What a meter should have shown.
    pub expectation: Expectation,
    /// Whether it did.
    pub agreement: Agreement,
    /// What it proves, where it agrees and its condition and probes allow it.
    pub proof: Option<Proof>,
}

/// How a wire or contact stands by the readings.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct Standing {
    /// Readings that could not have been taken without it.
    pub proven_by: BTreeSet<ReadingId>,
    /// Readings that would agree with the record if it were off or open.
    pub disputed_by: BTreeSet<ReadingId>,
}

/// A record's readings, judged.
#[derive(Debug, Clone, Default, PartialEq)]
pub struct Judgement {
    /// Each reading. Those without a condition, or on things that are gone, are left out.
    pub readings: BTreeMap<ReadingId, Judged>,
    /// Each connection that some reading speaks for or against.
    pub standings: BTreeMap<What, Standing>,
}

/// What a reading asks of the network. `None` where its places are gone or do not go with its function.
pub fn ask(network: &Network, reading: &Reading) -> Option<Ask> {
    let function = reading.value.function();
    ask_at(network, function, &reading.red, reading.black.as_ref(), false)
}

/// What a meter put on these places asks.
pub fn ask_at(
    network: &Network,
    function: Function,
    red: &Spot,
    black: Option<&Spot>,
    low_impedance: bool,
) -> Option<Ask> {
    let points = match function {
        Function::Tone | Function::Ohms | Function::VoltsAc | Function::VoltsDc => {
            Points::Probes(probe(network, red)?, probe(network, black?)?)
        }
        Function::Amps => {
            let (Spot::Wire(wire) | Spot::End(wire, _)) = red else { return None };
            Points::Clamp(wire_index(network, *wire)?)
        }
        Function::Runs => {
            let contacts = || network.contacts().iter().enumerate();
            match red {
                Spot::Part(part) => {
                    if let Some(load) = network.loads().iter().position(|load| load.inside.part == *part) {
                        Points::Look(load)
                    } else {
                        // No load: a switch, a thermostat, a button, to be operated.
                        let own = |contact: &Contact| contact.inside.part == *part;
                        let is_switch = |one: &Contact| own(one) && matches!(one.works, Works::Switch { .. });
                        Points::Operate(contacts().find(|(_, one)| is_switch(one))?.0)
                    }
                }
                Spot::Terminal(terminal) => {
                    let output = |works: &Works| matches!(works, Works::Output(own) if own == terminal);
                    Points::Operate(contacts().find(|(_, one)| output(&one.works))?.0)
                }
                _ => return None,
            }
        }
    };
    Some(Ask { points, function, low_impedance })
}

/// The node under a probe; a whole wire is probed at its first end.
fn probe(network: &Network, spot: &Spot) -> Option<Node> {
    match spot {
        Spot::Wire(wire) => network.end(*wire, Side::From),
        _ => network.node(spot),
    }
}

/// Where a wire is in the network's list.
pub fn wire_index(network: &Network, wire: WireId) -> Option<usize> {
    network.wires().binary_search_by_key(&wire, |conductor| conductor.wire).ok()
}

/// What a reading proves; `None` where it does not agree with what is expected, or could not prove anything.
pub fn proof_of(live: &Live<'_>, meter: &Profile, ask: Ask, expectation: &Expectation, read: Value) -> Option<Proof> {
    let Points::Probes(red, black) = ask.points else { return None };
    if !expectation.can_prove() || expectation.compare(read) != Agreement::Agrees {
        return None;
    }
    Some(if ask.function.needs_dead() {
        proof_dead(live, meter, [red, black], read)
    } else {
        proof_live(live, meter, [red, black], read)
    })
}

/// The value that agrees best with what is expected; `None` where no single one does.
pub fn value_expected(expectation: &Expectation, function: Function) -> Option<Value> {
    match (expectation.expected, function) {
        (Expected::Tone, _) => Some(Value::Tone),
        (Expected::NoTone, _) => Some(Value::NoTone),
        (Expected::OverLimit, _) => Some(Value::OverLimit),
        (Expected::Value { nominal, .. }, Function::Ohms) => Some(Value::Ohms(nominal)),
        (Expected::Value { nominal, .. }, Function::VoltsAc) => Some(Value::VoltsAc(nominal)),
        (Expected::Value { nominal, .. }, Function::VoltsDc) => Some(Value::VoltsDc(nominal)),
        _ => None,
    }
}

impl Judgement {
    /// Judges every reading of a record.
    pub fn of(machine: &Machine, network: &Network, elements: &Elements) -> Self {
        Self::with(machine, network, elements, &BTreeMap::new())
    }

    /// The same with conditions that have been settled before.
    pub fn with(
        machine: &Machine,
        network: &Network,
        elements: &Elements,
        settled: &BTreeMap<ConditionId, &Live<'_>>,
    ) -> Self {
        let mut by_condition: BTreeMap<ConditionId, Vec<(ReadingId, &Reading)>> = BTreeMap::new();
        for (id, reading) in machine.readings.iter() {
            if let Some(condition) = reading.condition.filter(|&condition| machine.conditions.get(condition).is_some())
            {
                by_condition.entry(condition).or_default().push((id, reading));
            }
        }
        let mut judgement = Self::default();
        for (condition, readings) in by_condition {
            let made;
            let live = if let Some(live) = settled.get(&condition) {
                *live
            } else {
                made = Live::of(network, elements, &machine.setting(condition));
                &made
            };
            for (id, reading) in readings {
                let meter = reading.meter.and_then(|meter| machine.meters.get(meter));
                let meter = meter.map_or_else(Profile::default, Profile::of);
                if let Some(ask) = ask(network, reading) {
                    judgement.take(id, reading, live, &meter, ask);
                }
            }
        }
        judgement
    }

    fn take(&mut self, id: ReadingId, reading: &Reading, live: &Live<'_>, meter: &Profile, ask: Ask) {
        let expectation = expected(live, meter, ask);
        let agreement = expectation.compare(reading.value);
        let proof = proof_of(live, meter, ask, &expectation, reading.value);
        if let Some(proof) = &proof {
            for &what in &proof.proves {
                self.standings.entry(what).or_default().proven_by.insert(id);
            }
        }
        if agreement == Agreement::Disputes
            && let Points::Probes(red, black) = ask.points
        {
            for what in single_openings(live, meter, [red, black], reading.value) {
                self.standings.entry(what).or_default().disputed_by.insert(id);
            }
        }
        self.readings.insert(id, Judged { expectation, agreement, proof });
    }
}
