//! Dead wires planted in invented machines, found by the program and held against brute force.
//!
//! The reference below shares nothing with the program but the record: it goes through every position of every switch and every order in
//! which relays can move, and solves each state by nodal analysis (Kirchhoff's laws) with values at random, by elimination. What carries
//! current there is alive. Principle that a wire without current in any condition is dead: common practice, no source.
#![allow(
    clippy::unwrap_used,
    clippy::cast_possible_truncation,
    reason = "a test fails by panicking, its helpers too; its numbers are small"
)]

use std::collections::{BTreeMap, BTreeSet};
use std::sync::Arc;

use wirewitness::catalogue::Catalogue;
use wirewitness::generate::Random;
use wirewitness::machine::{
    Constraint, EndAt, Machine, Part, PartId, Side, Statement, TerminalRef, Wire, WireEnd, WireId,
};
use wirewitness::removal::{Budget, Verdict, judge};

#[derive(Clone, Copy, PartialEq, Eq, Debug)]
enum Planted {
    Dead,
    Stub,
    Twin,
}

/// A machine with what was planted in it.
struct Made {
    machine: Machine,
    planted: BTreeMap<WireId, Planted>,
    random: Random,
}

impl Made {
    fn below(&mut self, n: usize) -> usize {
        (self.random.next() % n.max(1) as u64) as usize
    }

    fn part(&mut self, tag: &str, kind: &str) -> PartId {
        self.machine.parts.add(Part { tag: tag.to_owned(), kind: kind.to_owned(), ..Part::default() })
    }

    fn wire(&mut self, from: Option<(PartId, &str)>, to: Option<(PartId, &str)>) -> WireId {
        let end = |at: Option<(PartId, &str)>| WireEnd {
            at: at.map_or(EndAt::Loose, |(part, marking)| EndAt::Terminal(TerminalRef::new(part, marking))),
            ..WireEnd::default()
        };
        let key = format!("W{}", self.machine.wires.len() + 1);
        self.machine.wires.add(Wire { key, from: end(from), to: end(to), ..Wire::default() })
    }

    fn of(seed: u64) -> Self {
        let mut made = Self { machine: Machine::default(), planted: BTreeMap::new(), random: Random::from_seed(seed) };
        let plug = made.part("X1", "cord-plug");
        let [line, neutral] = ["B1", "B2"].map(|tag| made.part(tag, "splice"));
        made.wire(Some((plug, "L")), Some((line, "1")));
        made.wire(Some((plug, "N")), Some((neutral, "1")));
        let switches: Vec<PartId> =
            (0..2 + made.below(2)).map(|at| made.part(&format!("S{at}"), "toggle-switch")).collect();
        let relays: Vec<PartId> =
            (0..=made.below(2)).map(|at| made.part(&format!("K{at}"), "relay-change-over")).collect();
        // Contacts not used yet: their two terminals.
        let mut free: Vec<(PartId, &str, &str)> = switches.iter().map(|&part| (part, "1", "2")).collect();
        free.extend(relays.iter().map(|&part| (part, "11", "14")));
        let mut places: Vec<(PartId, &str)> = Vec::new();
        let mut rung = |made: &mut Self, load: PartId, ends: (&'static str, &'static str), own: Option<PartId>| {
            let mut at = (line, "1");
            for _ in 0..=made.below(2) {
                let usable: Vec<usize> = (0..free.len()).filter(|&one| Some(free[one].0) != own).collect();
                if usable.is_empty() {
                    break;
                }
                let (part, first, second) = free.remove(usable[made.below(usable.len())]);
                made.wire(Some(at), Some((part, first)));
                at = (part, second);
                places.push(at);
            }
            made.wire(Some(at), Some((load, ends.0)));
            made.wire(Some((load, ends.1)), Some((neutral, "1")));
        };
        for &relay in &relays {
            rung(&mut made, relay, ("A1", "A2"), Some(relay));
        }
        for at in 0..=made.below(2) {
            let lamp = made.part(&format!("P{at}"), "lamp");
            rung(&mut made, lamp, ("1", "2"), None);
        }
        // A lamp on a break contact, a hold-in, a link from row to row.
        if made.below(2) == 0 {
            let lamp = made.part("P8", "lamp");
            made.wire(Some((relays[0], "12")), Some((lamp, "1")));
            made.wire(Some((lamp, "2")), Some((neutral, "1")));
        }
        if places.len() > 1 && made.below(2) == 0 {
            let (a, b) = (made.below(places.len()), made.below(places.len()));
            if a != b {
                made.wire(Some(places[a]), Some(places[b]));
            }
        }
        made.plant(line, neutral, &places);
        if switches.len() > 2 && made.below(3) == 0 {
            let on = |part: PartId| Statement::Position(part, "lever".to_owned(), "on".to_owned());
            made.machine.constraints.add(Constraint::NeverBoth(vec![on(switches[0]), on(switches[1])]));
        }
        made
    }

    fn plant(&mut self, line: PartId, neutral: PartId, places: &[(PartId, &'static str)]) {
        let loose = self.wire(None, None);
        self.planted.insert(loose, Planted::Dead);
        let to_nowhere = self.wire(Some((neutral, "1")), None);
        self.planted.insert(to_nowhere, Planted::Dead);
        // What is left of a circuit that was cut off: two splices, and a lamp that only the neutral reaches.
        let (one, other) = (self.part("B8", "splice"), self.part("B9", "splice"));
        let left = self.wire(Some((one, "1")), Some((other, "1")));
        self.planted.insert(left, Planted::Dead);
        let lamp = self.part("P9", "lamp");
        let back = self.wire(Some((lamp, "2")), Some((neutral, "1")));
        self.planted.insert(back, Planted::Dead);
        let stub = self.wire(Some((line, "1")), None);
        self.planted.insert(stub, Planted::Stub);
        if !places.is_empty() {
            // Two switches that can never be on together, and a lamp behind both.
            let (first, second) = (self.part("S8", "toggle-switch"), self.part("S9", "toggle-switch"));
            let behind = self.part("P7", "lamp");
            let feed = self.wire(Some((line, "1")), Some((first, "1")));
            let between = self.wire(Some((first, "2")), Some((second, "1")));
            let last = self.wire(Some((second, "2")), Some((behind, "1")));
            let back = self.wire(Some((behind, "2")), Some((neutral, "1")));
            let on = |part: PartId| Statement::Position(part, "lever".to_owned(), "on".to_owned());
            self.machine.constraints.add(Constraint::NeverBoth(vec![on(first), on(second)]));
            self.planted.extend([(feed, Planted::Stub), (between, Planted::Stub)]);
            self.planted.extend([(last, Planted::Dead), (back, Planted::Dead)]);
            let twin = self.wire(Some((line, "1")), Some((first, "1")));
            self.planted.insert(twin, Planted::Stub);
        }
        // A second lead beside the first one.
        let first = self.machine.wires.iter().next().map(|(id, wire)| (id, wire.clone()));
        if let Some((id, wire)) = first {
            let key = format!("W{}", self.machine.wires.len() + 1);
            let twin = self.machine.wires.add(Wire { key, ..wire });
            self.planted.extend([(id, Planted::Twin), (twin, Planted::Twin)]);
        }
    }
}

/// The switch or relay that works an edge, and the value at which it conducts.
type Worker = Option<(usize, bool)>;

/// The reference: places, what joins them when, and what is found in every state that can be come to.
struct Reference {
    places: usize,
    /// Two places, conductance, and a switch or relay with the value at which it conducts.
    edges: Vec<(usize, usize, f64, Worker)>,
    wire_edge: BTreeMap<WireId, usize>,
    switches: usize,
    /// Coils: the number of the variable and the edge.
    coils: Vec<(usize, usize)>,
    lamps: Vec<usize>,
    poles: (usize, usize),
    never: Vec<(usize, usize)>,
}

/// What the reference found of each edge, and the volts of each load in each state.
struct Seen {
    alive: Vec<bool>,
    hot: Vec<bool>,
    loads: Vec<f64>,
}

impl Reference {
    fn of(machine: &Machine, out: &BTreeSet<WireId>) -> Self {
        let mut number: BTreeMap<(PartId, String), usize> = BTreeMap::new();
        let mut places = 0;
        let mut at = |part: PartId, marking: &str| {
            *number.entry((part, marking.to_owned())).or_insert_with(|| {
                places += 1;
                places - 1
            })
        };
        let mut made = Self {
            places: 0,
            edges: Vec::new(),
            wire_edge: BTreeMap::new(),
            switches: 0,
            coils: Vec::new(),
            lamps: Vec::new(),
            poles: (0, 0),
            never: Vec::new(),
        };
        let mut random = Random::from_seed(7);
        let mut worth = |low: f64| low * (1.0 + (random.next() % 1000) as f64 / 1000.0);
        let mut variable: BTreeMap<PartId, usize> = BTreeMap::new();
        for (id, _) in machine.parts.iter().filter(|(_, part)| part.kind == "toggle-switch") {
            variable.insert(id, made.switches);
            made.switches += 1;
        }
        let mut next = made.switches;
        for (id, part) in machine.parts.iter() {
            match part.kind.as_str() {
                "cord-plug" => made.poles = (at(id, "L"), at(id, "N")),
                "toggle-switch" => {
                    made.edges.push((at(id, "1"), at(id, "2"), worth(1e5), Some((variable[&id], true))));
                }
                "relay-change-over" => {
                    made.coils.push((next, made.edges.len()));
                    made.edges.push((at(id, "A1"), at(id, "A2"), worth(1.0), None));
                    made.edges.push((at(id, "11"), at(id, "14"), worth(1e5), Some((next, true))));
                    made.edges.push((at(id, "11"), at(id, "12"), worth(1e5), Some((next, false))));
                    next += 1;
                }
                "lamp" => {
                    made.lamps.push(made.edges.len());
                    made.edges.push((at(id, "1"), at(id, "2"), worth(1.0), None));
                }
                _ => {}
            }
        }
        for (id, wire) in machine.wires.iter().filter(|(id, _)| !out.contains(id)) {
            let mut end = |side: Side| match &wire.end(side).at {
                EndAt::Terminal(terminal) => at(terminal.part, terminal.marking.as_str()),
                _ => at(PartId(10_000 + id.0 * 2 + u32::from(side == Side::To)), "end"),
            };
            let (a, b) = (end(Side::From), end(Side::To));
            made.wire_edge.insert(id, made.edges.len());
            made.edges.push((a, b, worth(1e5), None));
        }
        for constraint in machine.constraints.values() {
            if let Constraint::NeverBoth(all) = constraint
                && let [Statement::Position(a, ..), Statement::Position(b, ..)] = all.as_slice()
            {
                made.never.push((variable[a], variable[b]));
            }
        }
        made.places = places;
        made
    }

    /// Volts at every place: 1 at the line, 0 at the neutral.
    fn volts(&self, bits: usize) -> Vec<f64> {
        let n = self.places;
        let mut a = vec![vec![0.0; n + 1]; n];
        for &(i, j, worth, when) in &self.edges {
            if when.is_none_or(|(var, value)| (bits >> var & 1 == 1) == value) {
                a[i][i] += worth;
                a[j][j] += worth;
                a[i][j] -= worth;
                a[j][i] -= worth;
            }
        }
        for (i, row) in a.iter_mut().enumerate() {
            row[i] += 1e-9;
        }
        for (pole, volts) in [(self.poles.0, 1.0), (self.poles.1, 0.0)] {
            a[pole] = vec![0.0; n + 1];
            a[pole][pole] = 1.0;
            a[pole][n] = volts;
        }
        for column in 0..n {
            let pivot = (column..n).max_by(|&x, &y| a[x][column].abs().total_cmp(&a[y][column].abs())).unwrap();
            a.swap(column, pivot);
            let top = a[column].clone();
            for row in a.iter_mut().skip(column + 1) {
                let factor = row[column] / top[column];
                if factor != 0.0 {
                    for (value, above) in row.iter_mut().zip(&top).skip(column) {
                        *value -= factor * above;
                    }
                }
            }
        }
        let mut volts = vec![0.0; n];
        for row in (0..n).rev() {
            let sum: f64 = (row + 1..n).map(|column| a[row][column] * volts[column]).sum();
            volts[row] = (a[row][n] - sum) / a[row][row];
        }
        volts
    }

    fn settings(&self) -> Vec<usize> {
        let allowed = |s: &usize| self.never.iter().all(|&(a, b)| (s >> a & 1) + (s >> b & 1) < 2);
        (0..1usize << self.switches).filter(allowed).collect()
    }

    /// Every state of the relays that can be come to, in any order of moves, with switches changing at any moment.
    fn explored(&self) -> (Seen, BTreeMap<(usize, usize), Vec<f64>>) {
        let mut seen =
            Seen { alive: vec![false; self.edges.len()], hot: vec![false; self.edges.len()], loads: Vec::new() };
        let mut loads = BTreeMap::new();
        let mut known = BTreeSet::from([0usize]);
        let mut open = vec![0usize];
        while let Some(relays) = open.pop() {
            for s in self.settings() {
                let bits = s | relays << self.switches;
                let volts = self.volts(bits);
                for (at, &(i, j, worth, when)) in self.edges.iter().enumerate() {
                    let conducts = when.is_none_or(|(var, value)| (bits >> var & 1 == 1) == value);
                    seen.alive[at] |= conducts && ((volts[i] - volts[j]) * worth).abs() > 1e-5;
                    seen.hot[at] |= volts[i] > 0.01 || volts[j] > 0.01;
                }
                let across = |edge: usize| (volts[self.edges[edge].0] - volts[self.edges[edge].1]).abs();
                let own = self.lamps.iter().copied().chain(self.coils.iter().map(|coil| coil.1));
                loads.insert((s, relays), own.map(across).collect::<Vec<f64>>());
                // A coil at part of its volts may do either.
                let mut moves = Vec::new();
                for (at, &(_, edge)) in self.coils.iter().enumerate() {
                    let (is_up, share) = (relays >> at & 1 == 1, across(edge));
                    if !is_up && share > 0.05 || is_up && share < 0.9 {
                        moves.push(at);
                    }
                }
                for subset in 1usize..1 << moves.len() {
                    let flips = moves.iter().enumerate().filter(|(bit, _)| subset >> bit & 1 == 1);
                    let to = flips.fold(relays, |to, (_, relay)| to ^ (1 << relay));
                    if known.insert(to) {
                        open.push(to);
                    }
                }
            }
        }
        seen.loads = loads.values().flatten().copied().collect();
        (seen, loads)
    }
}

#[test]
fn no_living_wire_is_called_dead_and_the_planted_ones_are_found() {
    let catalogue = Catalogue::built_in().unwrap();
    let (mut planted, mut found, mut stubs, mut stubs_found, mut twins, mut twins_found) = (0, 0, 0, 0, 0, 0);
    let (mut wires, mut alive_in_use, mut alive, mut cannot_say) = (0, 0, 0, 0);
    for seed in 0..300 {
        let mut made = Made::of(seed);
        let truth = made.machine.clone();
        // In every second machine one or two ends are out of sight.
        let hides = seed % 2 == 1;
        if hides {
            let ids: Vec<WireId> = made.machine.wires.ids().collect();
            for _ in 0..=made.below(2) {
                let id = ids[made.below(ids.len())];
                let side = Side::BOTH[made.below(2)];
                let mut wire = made.machine.wires.get(id).unwrap().clone();
                wire.end_mut(side).at = EndAt::Unknown;
                made.machine.wires.put(id, Some(Arc::new(wire)));
            }
        }
        let reference = Reference::of(&truth, &BTreeSet::new());
        let (seen, loads) = reference.explored();
        let verdicts = judge(&made.machine, &catalogue, Budget::default());
        assert_eq!(verdicts.wires.len(), truth.wires.len());
        for (&id, judged) in &verdicts.wires {
            let edge = reference.wire_edge[&id];
            let says = format!("seed {seed}, {}: {}", truth.wire_name(id), judged.reason);
            wires += 1;
            alive += usize::from(seen.alive[edge]);
            alive_in_use += usize::from(seen.alive[edge] && judged.verdict == Verdict::InUse);
            cannot_say += usize::from(judged.verdict == Verdict::CannotBeSaid);
            match judged.verdict {
                Verdict::Dead | Verdict::ServesNothingLeft => {
                    assert!(!seen.alive[edge], "called dead and alive; {says}");
                    assert!(!seen.hot[edge], "called dead and live; {says}");
                }
                Verdict::LiveStub => assert!(!seen.alive[edge], "called a stub and alive; {says}"),
                Verdict::NotDecided => panic!("not decided; {says}"),
                _ => {}
            }
            if hides {
                continue;
            }
            assert_ne!(judged.verdict, Verdict::CannotBeSaid, "nothing is hidden here; {says}");
            if judged.verdict == Verdict::LiveStub {
                assert!(seen.hot[edge], "called live and never is; {says}");
            }
            match made.planted.get(&id) {
                Some(Planted::Dead) => {
                    planted += 1;
                    found += usize::from(judged.verdict == Verdict::Dead);
                }
                Some(Planted::Stub) => {
                    stubs += 1;
                    stubs_found += usize::from(judged.verdict == Verdict::LiveStub);
                }
                // In a machine in which nothing ever runs twins carry nothing.
                Some(Planted::Twin) if seen.alive[edge] => {
                    twins += 1;
                    twins_found += usize::from(judged.verdict == Verdict::Redundant && judged.not_with.len() == 1);
                }
                _ => {}
            }
        }
        // All that may go taken out at once: every load and coil has the same in every state, and no new state comes up.
        let going: BTreeSet<WireId> = verdicts.may_go().into_iter().collect();
        let (_, less) = Reference::of(&truth, &going).explored();
        assert_eq!(loads.len(), less.len(), "seed {seed}: the relays come to other states");
        for (state, before) in &loads {
            let after = less.get(state).unwrap_or_else(|| panic!("seed {seed}: {state:?} is gone"));
            for (a, b) in before.iter().zip(after) {
                assert!((a - b).abs() < 1e-2, "seed {seed}, {state:?}: {a} is {b} after");
            }
        }
    }
    println!(
        "{wires} wires, {alive} alive by the reference, {alive_in_use} of them in use by the program, {cannot_say} not said"
    );
    println!(
        "dead {found} of {planted}, live stubs {stubs_found} of {stubs}, twins {twins_found} of {twins}; called dead and alive: 0"
    );
    assert!(found * 100 >= planted * 99, "{found} of {planted} planted dead wires found");
    assert!(stubs_found * 100 >= stubs * 99, "{stubs_found} of {stubs} planted live stubs found");
    assert_eq!(twins_found, twins, "of twins one may go, never both");
    assert!(alive_in_use * 2 > alive, "most of what lives is in use");
}
