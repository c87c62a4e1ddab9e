//! What a meter on two places would show by the record, what that would prove, and by which ways: for the probes as they are
//! put, before anything is logged, and for a reading that is looked at.

use crate::circuit::Network;
use crate::circuit::electric::{
    Elements, Expectation, Explained, Live, MOST_NODES_SOLVED, Points, Profile, What, ask_at, expected, proof_of,
};
use crate::machine::{ConditionId, Machine, MeterId, Reading, Setting, Spot, Thing};
use crate::quantity::{Function, Value};

/// Where a meter is put, and what it shows if anything yet.
#[derive(Debug, Clone, PartialEq)]
pub struct Asked {
    /// The red probe; a wire for the clamp, a part for what it does.
    pub red: Spot,
    /// The black probe.
    pub black: Option<Spot>,
    /// The meter; an everyday one while none is said.
    pub meter: Option<MeterId>,
    /// What it shows.
    pub value: Option<Value>,
    /// The condition it is used in.
    pub condition: ConditionId,
}

impl Asked {
    /// What a reading of the record asks; `None` while its condition is not said.
    pub fn of(reading: &Reading) -> Option<Self> {
        Some(Self {
            red: reading.red.clone(),
            black: reading.black.clone(),
            meter: reading.meter,
            value: Some(reading.value),
            condition: reading.condition?,
        })
    }
}

/// What a value that agrees proves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Proves {
    /// Connections it could not have been read without, by name.
    pub proves: Vec<String>,
    /// Connections on its strongest way that it would read the same without, by name.
    pub same_without: Vec<String>,
    /// The end of a wire that, once lifted, lets the same reading tell.
    pub lift: Option<Spot>,
}

/// One way of the current between the probes.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// What it goes through, for the drawing.
    pub things: Vec<Thing>,
    /// The same in words, from red to black.
    pub words: String,
    /// Its share of the current, 0 to 1.
    pub share: f64,
}

/// What the record foresees.
#[derive(Debug, Clone, PartialEq)]
pub struct Foreseen {
    /// For what.
    pub asked: Asked,
    /// For each function that goes with the places, what would be shown.
    pub expected: Vec<(Function, Expectation)>,
    /// What the value proves; `None` while there is none, and where it cannot prove anything.
    pub proves: Option<Proves>,
    /// The ways, strongest first.
    pub ways: Vec<Way>,
}

impl Foreseen {
    /// What is expected of this function; `None` where it does not go with the places.
    pub fn of_function(&self, function: Function) -> Option<&Expectation> {
        self.expected.iter().find(|(of, _)| *of == function).map(|(_, expectation)| expectation)
    }

    /// Works it out. `None` where a place is gone, or the machine is too large to be solved along with everything else.
    pub(super) fn new(machine: &Machine, network: &Network, elements: &Elements, asked: &Asked) -> Option<Self> {
        if network.len() > MOST_NODES_SOLVED || !machine.conditions.contains(asked.condition) {
            return None;
        }
        let setting: Setting = machine.setting(asked.condition);
        let live = Live::of(network, elements, &setting);
        let meter = asked.meter.and_then(|meter| machine.meters.get(meter)).map_or_else(Profile::default, Profile::of);
        let mut seen = Self { asked: asked.clone(), expected: Vec::new(), proves: None, ways: Vec::new() };
        for function in Function::ALL {
            let Some(ask) = ask_at(network, function, &asked.red, asked.black.as_ref(), false) else { continue };
            let expectation = expected(&live, &meter, ask);
            if let Some(read) = asked.value.filter(|value| value.function() == function)
                && let Some(proof) = proof_of(&live, &meter, ask, &expectation, read)
            {
                let names = |whats: &std::collections::BTreeSet<What>| {
                    let whats: Vec<What> = whats.iter().copied().collect();
                    What::names(&whats, machine, network)
                };
                seen.proves = Some(Proves {
                    proves: names(&proof.proves),
                    same_without: names(&proof.unproven),
                    lift: proof.lift.and_then(|(wire, end)| match What::Landing(wire, end).thing(network) {
                        Some(Thing::Spot(spot)) => Some(spot),
                        _ => None,
                    }),
                });
            }
            seen.expected.push((function, expectation));
        }
        seen.ways = ways(machine, &live, asked);
        Some(seen)
    }
}

/// The ways of what the value was read with; while there is none, of a tone where no source is on and of volts AC elsewhere.
fn ways(machine: &Machine, live: &Live<'_>, asked: &Asked) -> Vec<Way> {
    let network = live.network();
    let on = live.frame.on.iter().any(|on| *on);
    let function = asked.value.map_or(if on { Function::VoltsAc } else { Function::Tone }, Value::function);
    let Some(ask) = ask_at(network, function, &asked.red, asked.black.as_ref(), false) else { return Vec::new() };
    let Points::Probes(red, black) = ask.points else { return Vec::new() };
    let explained = match function {
        Function::Tone | Function::Ohms if on => None,
        Function::Tone | Function::Ohms => Some(Explained::dead(live)),
        _ => Explained::live(live, function == Function::VoltsAc),
    };
    let ways = explained.map(|explained| explained.ways(red, black)).unwrap_or_default();
    ways.into_iter()
        .map(|way| Way {
            things: way.through.iter().filter_map(|what| what.thing(network)).collect(),
            words: What::names(&way.through, machine, network).join(" "),
            share: way.share,
        })
        .collect()
}
