//! Which ways explain a reading, what it proves, and which lead to lift where it proves nothing.
//!
//! The ways are those of the current a meter would drive between its two points: it is taken apart into ways from one
//! probe to the other, the strongest first. A reading proves a wire or contact when the same reading could not have been taken with
//! that wire off or that contact open, whatever every other element is within its band. Where it could, there is another way round; lifting a lead of that other way makes
//! the reading mean something.

use std::collections::{BTreeMap, BTreeSet, VecDeque};
use std::sync::OnceLock;

use crate::quantity::{Band, Function, Value};

use super::super::linear::{Answer, Branch, Circuit, Factored, Phasor, Reason};
use super::super::network::Node;
use super::expect::dead_shown;
use super::expectation::{Agreement, Expectation, Expected, Why};
use super::live::Live;
use super::profile::Profile;
use super::stamp::{Elements, Stamp, What};
use super::state::{Attached, Solved, State};
use super::worth::Corner;

/// For a place: how wide the way to it is, and from where, by which branch, along it or against.
type Reached = (f64, Option<(u32, usize, bool)>);

/// Ways shown at most.
const MOST_WAYS: usize = 6;
/// A way that carries less than this share of the current is left out.
const LEAST_SHARE: f64 = 0.01;

/// One way between the probes.
#[derive(Debug, Clone, PartialEq)]
pub struct Way {
    /// What it goes through, in order from the red probe.
    pub through: Vec<What>,
    /// Ohms along it, taken alone.
    pub ohms: f64,
    /// Its share of the current.
    pub share: f64,
}

/// What a reading proves.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Proof {
    /// Wires (their run and landings), contacts, fuses and joins that must be as recorded for this reading.
    pub proves: BTreeSet<What>,
    /// Elements of the strongest way that the reading does not prove.
    pub unproven: BTreeSet<What>,
    /// An end of a wire (index in the network's wires, end 0 or 1) that, once lifted, lets the same reading prove more.
    pub lift: Option<(usize, usize)>,
}

/// A circuit that readings are explained in.
#[derive(Debug, Clone)]
pub struct Explained {
    stamp: Stamp,
    factored: Factored,
    /// The same with every element low and high: what another way may come to.
    bounds: [Factored; 2],
    /// With every element low: what may conduct at all.
    may_conduct: Circuit,
    /// For each node, its neighbours over wires and ideal sources, with the branch. Made when first asked for.
    ideal: OnceLock<Vec<Vec<(u32, usize)>>>,
}

impl Explained {
    /// For readings of tone and ohms: the circuit that the meter's own current meets.
    pub fn dead(live: &Live<'_>) -> Self {
        let [(low_stamp, low), (stamp, factored), (_, high)] =
            [Corner::Low, Corner::Nominal, Corner::High].map(|corner| live.dead(corner));
        Self {
            stamp: stamp.clone(),
            factored: factored.clone(),
            bounds: [low.clone(), high.clone()],
            may_conduct: low_stamp.circuit.clone(),
            ideal: OnceLock::new(),
        }
    }

    /// For readings of volts: the solved circuit of that kind of current.
    pub fn live(live: &Live<'_>, alternating: bool) -> Option<Self> {
        let (_, state) = live.ends.first()?;
        let solved = if alternating { &state.alternating } else { &state.direct };
        Some(Self::of([solved, solved, solved]))
    }

    /// A circuit solved with every element low, as recorded and high.
    fn of([low, middle, high]: [&Solved; 3]) -> Self {
        Self {
            stamp: middle.stamp.clone(),
            factored: middle.factored().clone(),
            bounds: [low.factored().clone(), high.factored().clone()],
            may_conduct: low.stamp.circuit.clone(),
            ideal: OnceLock::new(),
        }
    }

    /// The ways between two nodes, strongest first.
    pub fn ways(&self, red: Node, black: Node) -> Vec<Way> {
        if self.factored.is_one_net(red.0, black.0) {
            let through = self.along_wires(red.0, black.0, true);
            return vec![Way { through, ohms: 0.0, share: 1.0 }];
        }
        let Ok(field) = self.factored.field(red.0, black.0) else { return Vec::new() };
        // Current from place to place, where a place is all that ideal conductors and sources hold together.
        let mut held = super::super::partition::Partition::new(self.stamp.circuit.nodes as usize);
        for &(a, b, branch) in &self.stamp.circuit.branches {
            if is_ideal(branch) {
                held.join(a, b);
            }
        }
        let mut amps: BTreeMap<usize, f64> = BTreeMap::new();
        let mut around: BTreeMap<u32, Vec<usize>> = BTreeMap::new();
        for (number, &(a, b, branch)) in self.stamp.circuit.branches.iter().enumerate() {
            let Some(ohms) = ohms_of(branch) else { continue };
            // As seen along the meter's own current, so that reactive branches count as well.
            let through = (field.volts(a, b) / ohms).re;
            if through.abs() > 1e-9 && held.root(a) != held.root(b) {
                amps.insert(number, through);
                around.entry(held.root(a)).or_default().push(number);
                around.entry(held.root(b)).or_default().push(number);
            }
        }
        let (from, to) = (held.root(red.0), held.root(black.0));
        let mut ways = Vec::new();
        while ways.len() < MOST_WAYS {
            let Some((branches, share)) = self.widest(&held, &around, &amps, from, to) else { break };
            if share < LEAST_SHARE {
                break;
            }
            for &(number, forward) in &branches {
                if let Some(amps) = amps.get_mut(&number) {
                    *amps -= if forward { share } else { -share };
                }
            }
            ways.push(self.way(&branches, red, black, share));
        }
        ways
    }

    /// The way whose weakest branch carries most.
    fn widest(
        &self,
        held: &super::super::partition::Partition,
        around: &BTreeMap<u32, Vec<usize>>,
        amps: &BTreeMap<usize, f64>,
        from: u32,
        to: u32,
    ) -> Option<(Vec<(usize, bool)>, f64)> {
        let mut best: BTreeMap<u32, Reached> = BTreeMap::from([(from, (f64::INFINITY, None))]);
        let mut done = BTreeSet::new();
        loop {
            let next = best.iter().filter(|(place, _)| !done.contains(*place)).max_by(|a, b| a.1.0.total_cmp(&b.1.0));
            let (&place, &(width, _)) = next?;
            if place == to {
                break;
            }
            done.insert(place);
            for &number in around.get(&place).into_iter().flatten() {
                let (a, b, _) = *self.stamp.circuit.branches.get(number)?;
                let forward = held.root(a) == place;
                let other = if forward { held.root(b) } else { held.root(a) };
                let carries = amps.get(&number).copied().unwrap_or(0.0) * if forward { 1.0 } else { -1.0 };
                let width = width.min(carries);
                if width > 1e-9 && best.get(&other).is_none_or(|(so_far, _)| width > *so_far) {
                    best.insert(other, (width, Some((place, number, forward))));
                }
            }
        }
        let width = best.get(&to)?.0;
        let mut branches = Vec::new();
        let mut place = to;
        while let Some((back, number, forward)) = best.get(&place).and_then(|(_, before)| *before) {
            branches.push((number, forward));
            place = back;
        }
        branches.reverse();
        Some((branches, width.min(1.0)))
    }

    /// A way with the wires between its branches filled in.
    fn way(&self, branches: &[(usize, bool)], red: Node, black: Node, share: f64) -> Way {
        let mut through = Vec::new();
        let (mut at, mut ohms) = (red.0, 0.0);
        for &(number, forward) in branches {
            let Some(&(a, b, branch)) = self.stamp.circuit.branches.get(number) else { continue };
            let (near, far) = if forward { (a, b) } else { (b, a) };
            through.extend(self.along_wires(at, near, false));
            through.extend(self.stamp.what.get(number));
            ohms += ohms_of(branch).map_or(0.0, Phasor::norm);
            at = far;
        }
        through.extend(self.along_wires(at, black.0, false));
        through.dedup();
        Way { through, ohms, share }
    }

    /// Ideal conductors (and, unless `wires_only`, ideal sources) from one node to another, fewest first.
    fn along_wires(&self, from: u32, to: u32, wires_only: bool) -> Vec<What> {
        let ways = self.ideal.get_or_init(|| {
            let mut ways = vec![Vec::new(); self.stamp.circuit.nodes as usize];
            for (number, &(a, b, branch)) in self.stamp.circuit.branches.iter().enumerate() {
                if is_ideal(branch) {
                    ways[a as usize].push((b, number)); // nodes of the circuit
                    ways[b as usize].push((a, number));
                }
            }
            ways
        });
        let counts = |number: usize| {
            !wires_only || matches!(self.stamp.circuit.branches.get(number), Some((_, _, Branch::Wire)))
        };
        let mut before: BTreeMap<u32, (u32, usize)> = BTreeMap::new();
        let mut open = VecDeque::from([from]);
        while let Some(node) = open.pop_front() {
            if node == to {
                break;
            }
            for &(next, number) in ways.get(node as usize).into_iter().flatten() {
                if next != from && counts(number) && !before.contains_key(&next) {
                    before.insert(next, (node, number));
                    open.push_back(next);
                }
            }
        }
        let mut through = Vec::new();
        let mut node = to;
        while node != from {
            let Some(&(back, number)) = before.get(&node) else { break };
            through.extend(self.stamp.what.get(number));
            node = back;
        }
        through.reverse();
        through
    }

    /// The same circuit with these elements taken out. A landing is taken out with its wire: the same to any meter.
    fn without(&self, out: &[What]) -> Self {
        let mut stamp = self.stamp.clone();
        let is_out = |what: &What| {
            out.iter().any(|one| one == what || matches!((one, what), (What::Landing(a, _), What::Wire(b)) if a == b))
        };
        let changes: Vec<(usize, Branch)> = (0..stamp.what.len())
            .filter(|&number| stamp.what.get(number).is_some_and(is_out))
            .map(|number| (number, Branch::Open))
            .collect();
        for &(number, branch) in &changes {
            stamp.set(number, branch);
        }
        Self {
            factored: self.factored.with(&changes),
            bounds: [self.bounds[0].with(&changes), self.bounds[1].with(&changes)],
            stamp,
            may_conduct: self.may_conduct.clone(),
            ideal: OnceLock::new(),
        }
    }

    /// Whether anything that may conduct is left between two nodes with these elements taken out.
    fn is_joined_without(&self, [a, b]: [Node; 2], out: &[What]) -> bool {
        let mut held = super::super::partition::Partition::new(self.stamp.circuit.nodes as usize);
        for (&(from, to, branch), what) in self.may_conduct.branches.iter().zip(&self.stamp.what) {
            let is_out = out
                .iter()
                .any(|one| one == what || matches!((one, what), (What::Landing(a, _), What::Wire(b)) if a == b));
            if !is_out && !matches!(branch, Branch::Open | Branch::Current { .. } | Branch::Capacitor { .. }) {
                held.join(from, to);
            }
        }
        held.same(a.0, b.0)
    }
}

/// Whether a branch holds its ends together, as a wire or as an ideal source does.
fn is_ideal(branch: Branch) -> bool {
    matches!(branch, Branch::Wire) || matches!(branch, Branch::Voltage { ohms, .. } if ohms == 0.0)
}

/// Ohms of a branch that conducts.
fn ohms_of(branch: Branch) -> Option<Phasor> {
    let ohms = match branch {
        Branch::Resistor { ohms } | Branch::Voltage { ohms, .. } => Phasor::new(ohms, 0.0),
        Branch::Impedance { ohms } => ohms,
        _ => return None,
    };
    (ohms.norm() > 0.0 && ohms.norm().is_finite()).then_some(ohms)
}

/// Whether an element is a connection that a reading can prove: not a load, not a source.
fn is_connection(what: What) -> bool {
    matches!(what, What::Wire(_) | What::Landing(..) | What::Contact(_) | What::Fuse(_) | What::Join(_))
}

/// What a reading of tone or ohms proves, given that it agrees with the record.
pub fn proof_dead(live: &Live<'_>, meter: &Profile, probes: [Node; 2], read: Value) -> Proof {
    proof(&Explained::dead(live), probes, read, &expect_dead(meter, probes, read))
}

/// What a meter would show on a circuit without supply, whatever its elements are within their bands.
fn expect_dead(meter: &Profile, probes: [Node; 2], read: Value) -> impl Fn(&Explained) -> Expectation {
    move |circuit: &Explained| {
        let [low, high] = &circuit.bounds;
        let mut ohms = [None; 3];
        for (ohms, factored) in ohms.iter_mut().zip([low, &circuit.factored, high]) {
            *ohms = match factored.impedance(probes[0].0, probes[1].0) {
                Answer::Known(z) => Some(z.re),
                Answer::Undetermined(Reason::SeparateIslands) => None,
                // What could not be solved is not OL.
                Answer::Undetermined(_) => return Expectation::plain(Expected::Unknown(Why::Unsolved)),
            };
        }
        Expectation::plain(dead_shown(ohms, meter, read.function()))
    }
}

/// What a reading of volts proves, given that it agrees with the record.
pub fn proof_live(live: &Live<'_>, meter: &Profile, probes: [Node; 2], read: Value) -> Proof {
    let Some(explained) = metered(live, meter, probes, read) else { return Proof::default() };
    proof(&explained, probes, read, &expect_live(live.elements, meter, probes, read))
}

/// The first end of a condition with the meter on.
fn metered(live: &Live<'_>, meter: &Profile, probes: [Node; 2], read: Value) -> Option<Explained> {
    let (worked, _) = live.ends.first()?;
    let attached = Attached { between: probes, ohms: meter.input_ohms };
    let [low, middle, high] = [Corner::Low, Corner::Nominal, Corner::High].map(|corner| {
        // The supply scales what is read on every way alike: it is left in the middle here.
        let corner = |what: What| if matches!(what, What::Source(_)) { Corner::Nominal } else { corner };
        let state = State::of(&live.frame, live.elements, worked, &corner, Some(attached));
        if read.function() == Function::VoltsAc { state.alternating } else { state.direct }
    });
    Some(Explained::of([&low, &middle, &high]))
}

/// How far the supply and tolerances between the ends of their bands may take a reading of volts, as a share.
const GIVE_OR_TAKE: f64 = 0.15;

/// What a meter on volts would show with elements anywhere in their bands, give or take the supply. All low and all high leave a
/// divider as it is, so what each element by itself can do is added up on top.
fn expect_live(
    elements: &Elements,
    meter: &Profile,
    probes: [Node; 2],
    read: Value,
) -> impl Fn(&Explained) -> Expectation {
    let alternating = read.function() == Function::VoltsAc;
    move |circuit: &Explained| {
        let volts = |factored: &Factored| {
            let volts = factored.volts(probes[0].0, probes[1].0).known()?;
            Some(if alternating { volts.norm() } else { volts.re })
        };
        let [low, high] = &circuit.bounds;
        let (Some(low), Some(nominal), Some(high)) = (volts(low), volts(&circuit.factored), volts(high)) else {
            return Expectation::plain(Expected::Unknown(Why::Unsolved));
        };
        let (least, most) = (low.min(nominal).min(high), low.max(nominal).max(high));
        let Some(more) = effects_of_bands(elements, circuit, probes) else {
            return Expectation::plain(Expected::Unknown(Why::Unsolved));
        };
        let wide = Band::new(least - GIVE_OR_TAKE * least.abs() - more, most + GIVE_OR_TAKE * most.abs() + more);
        Expectation::plain(Expected::Value { nominal, shown: meter.shown(wide, read.function()) })
    }
}

/// By how many volts the elements together can move a reading, each over its band.
fn effects_of_bands(elements: &Elements, circuit: &Explained, probes: [Node; 2]) -> Option<f64> {
    let effects = circuit.factored.sensitivities(probes[0].0, probes[1].0).ok()?;
    let all = circuit.stamp.what.iter().zip(&circuit.stamp.circuit.branches).zip(&effects);
    Some(
        all.map(|((what, (_, _, branch)), effect)| match (elements.spread(*what), ohms_of(*branch)) {
            (Some(spread), Some(ohms)) => effect.norm() / ohms.norm() * spread,
            _ => 0.0,
        })
        .sum(),
    )
}

/// Connections on the ways between the probes each of which alone, off or open, would make the reading what is expected.
pub fn single_openings(live: &Live<'_>, meter: &Profile, probes: [Node; 2], read: Value) -> BTreeSet<What> {
    let openings = |explained: &Explained, expect: &dyn Fn(&Explained) -> Expectation| {
        let ways = explained.ways(probes[0], probes[1]);
        let all: BTreeSet<What> = ways.iter().flat_map(|way| way.through.iter().copied()).collect();
        let mut openings = Openings { explained, probes, read, expect, known: BTreeMap::new() };
        let connections = all.into_iter().filter(|what| is_connection(*what));
        connections.filter(|what| openings.compare(&[*what]) == Agreement::Agrees).collect()
    };
    if read.function().needs_dead() {
        openings(&Explained::dead(live), &expect_dead(meter, probes, read))
    } else {
        match metered(live, meter, probes, read) {
            Some(explained) => openings(&explained, &expect_live(live.elements, meter, probes, read)),
            None => BTreeSet::new(),
        }
    }
}

fn proof(explained: &Explained, probes: [Node; 2], read: Value, expect: &dyn Fn(&Explained) -> Expectation) -> Proof {
    let mut proof = Proof::default();
    if expect(explained).compare(read) != Agreement::Agrees {
        return proof;
    }
    let ways = explained.ways(probes[0], probes[1]);
    let candidates: BTreeSet<What> =
        ways.iter().flat_map(|way| way.through.iter().copied()).filter(|what| is_connection(*what)).collect();
    let mut openings = Openings { explained, probes, read, expect, known: BTreeMap::new() };
    for what in candidates {
        if openings.compare(&[what]) == Agreement::Disputes {
            proof.proves.insert(what);
        }
    }
    let Some(first) = ways.first() else { return proof };
    proof.unproven =
        first.through.iter().copied().filter(|what| is_connection(*what) && !proof.proves.contains(what)).collect();
    let wanted =
        proof.unproven.iter().find(|what| matches!(what, What::Contact(_))).or(proof.unproven.first()).copied();
    if let Some(wanted) = wanted {
        proof.lift = lead_to_lift(&mut openings, wanted);
    }
    proof
}

/// What a reading would be with some connections open, each looked at once.
struct Openings<'e> {
    explained: &'e Explained,
    probes: [Node; 2],
    read: Value,
    expect: &'e dyn Fn(&Explained) -> Expectation,
    known: BTreeMap<Vec<What>, Agreement>,
}

impl Openings<'_> {
    /// How the reading goes with these open. A wire and its landings are one.
    fn compare(&mut self, out: &[What]) -> Agreement {
        let key: Vec<What> = out
            .iter()
            .map(|what| match what {
                What::Landing(wire, _) => What::Wire(*wire),
                other => *other,
            })
            .collect();
        if let Some(&known) = self.known.get(&key) {
            return known;
        }
        let agreement = if self.read.function().needs_dead() && !self.explained.is_joined_without(self.probes, &key) {
            // Nothing is left between the probes: a meter shows OL and is silent.
            let nothing = matches!(self.read, Value::OverLimit | Value::NoTone);
            if nothing { Agreement::Agrees } else { Agreement::Disputes }
        } else {
            (self.expect)(&self.explained.without(&key)).compare(self.read)
        };
        self.known.insert(key, agreement);
        agreement
    }
}

/// Ends looked at for one to lift.
const MOST_LIFTS: usize = 24;

/// A landing on another way round that, lifted, lets the reading tell whether `wanted` is there.
fn lead_to_lift(openings: &mut Openings<'_>, wanted: What) -> Option<(usize, usize)> {
    let opened = openings.explained.without(&[wanted]);
    let round = opened.ways(openings.probes[0], openings.probes[1]);
    let landings = round.iter().flat_map(|way| &way.through).filter_map(|what| match what {
        What::Landing(wire, end) => Some((*wire, *end)),
        _ => None,
    });
    let mut tried = BTreeSet::new();
    for (wire, end) in landings {
        let own = wanted == What::Landing(wire, end) || wanted == What::Wire(wire);
        if tried.len() > MOST_LIFTS || !tried.insert(wire) || own {
            continue;
        }
        let still = openings.compare(&[What::Wire(wire)]) == Agreement::Agrees;
        if still && openings.compare(&[What::Wire(wire), wanted]) == Agreement::Disputes {
            return Some((wire, end));
        }
    }
    None
}
