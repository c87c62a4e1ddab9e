//! The hidden machine in one condition: its nodal equations, and where its relays come to rest by going through every state.

use std::collections::{BTreeMap, BTreeSet};

use wirewitness::machine::Setting;

use super::model::{By, Contact, Model};
use super::number::{Complex, Dice, solve};

/// Sets that grow together.
#[derive(Clone)]
struct Sets(Vec<usize>);

impl Sets {
    fn new(count: usize) -> Self {
        Self((0..count).collect())
    }

    fn root(&mut self, mut at: usize) -> usize {
        while self.0[at] != at {
            self.0[at] = self.0[self.0[at]];
            at = self.0[at];
        }
        at
    }

    fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b)] = a.min(b);
    }
}

/// Volts of every node against one node of its own island.
#[derive(Clone)]
pub struct Volts {
    class: Vec<usize>,
    island: Vec<usize>,
    against_own: Vec<Complex>,
}

impl Volts {
    pub fn together(&self, a: usize, b: usize) -> bool {
        self.island[self.class[a]] == self.island[self.class[b]]
    }

    /// `None` where nothing joins the two.
    pub fn between(&self, a: usize, b: usize) -> Option<f64> {
        let (x, y) = (self.class[a], self.class[b]);
        (self.island[x] == self.island[y]).then(|| (self.against_own[x] - self.against_own[y]).size())
    }

    /// The most volts between any two nodes that something joins.
    pub fn most(&self) -> f64 {
        let mut by_island: BTreeMap<usize, Vec<Complex>> = BTreeMap::new();
        for &class in &self.class.iter().copied().collect::<BTreeSet<usize>>() {
            by_island.entry(self.island[class]).or_default().push(self.against_own[class]);
        }
        let pairs = by_island.values().flat_map(|all| all.iter().flat_map(|a| all.iter().map(|b| (*a - *b).size())));
        pairs.fold(0.0, f64::max)
    }
}

/// Nodal equations of admittances, injected currents and transformers.
struct Equations {
    classes: Sets,
    islands: Sets,
    admittances: Vec<(usize, usize, Complex)>,
    /// Port with port: admittance seen from the secondary, and the ratio.
    ports: Vec<([usize; 2], [usize; 2], Complex, f64)>,
    currents: Vec<(usize, Complex)>,
}

impl Equations {
    fn new(nodes: usize, classes: Sets) -> Self {
        Self { classes, islands: Sets::new(nodes), admittances: Vec::new(), ports: Vec::new(), currents: Vec::new() }
    }

    fn add(&mut self, [a, b]: [usize; 2], siemens: Complex) {
        let (a, b) = (self.classes.root(a), self.classes.root(b));
        if a != b {
            self.islands.join(a, b);
            self.admittances.push((a, b, siemens));
        }
    }

    fn inject(&mut self, node: usize, amps: Complex) {
        let node = self.classes.root(node);
        self.currents.push((node, amps));
    }

    /// The classes with their numbers among the unknowns; one of each island has none.
    fn unknowns(&mut self) -> (Vec<usize>, Vec<usize>, BTreeMap<usize, usize>) {
        let nodes = self.classes.0.len();
        let class: Vec<usize> = (0..nodes).map(|node| self.classes.root(node)).collect();
        let island: Vec<usize> = (0..nodes).map(|node| self.islands.root(node)).collect();
        let mut numbers = BTreeMap::new();
        for &one in &class {
            if island[one] != one && !numbers.contains_key(&one) {
                numbers.insert(one, numbers.len());
            }
        }
        (class, island, numbers)
    }

    fn matrix(&self, numbers: &BTreeMap<usize, usize>) -> Vec<Vec<Complex>> {
        let count = numbers.len();
        let mut matrix = vec![vec![Complex::default(); count]; count];
        let mut put = |row: usize, column: usize, value: Complex| {
            if let (Some(&row), Some(&column)) = (numbers.get(&row), numbers.get(&column)) {
                matrix[row][column] = matrix[row][column] + value;
            }
        };
        for &(a, b, siemens) in &self.admittances {
            put(a, a, siemens);
            put(b, b, siemens);
            put(a, b, -siemens);
            put(b, a, -siemens);
        }
        for &(primary, secondary, siemens, ratio) in &self.ports {
            let own = siemens.times(1.0 / (ratio * ratio));
            let across = siemens.times(-1.0 / ratio);
            for (from, to, value) in [
                (primary, primary, own),
                (secondary, secondary, siemens),
                (primary, secondary, across),
                (secondary, primary, across),
            ] {
                put(from[0], to[0], value);
                put(from[1], to[1], value);
                put(from[0], to[1], -value);
                put(from[1], to[0], -value);
            }
        }
        matrix
    }

    fn solved(mut self) -> Volts {
        let (class, island, numbers) = self.unknowns();
        let mut right = vec![vec![Complex::default()]; numbers.len()];
        for (node, amps) in &self.currents {
            if let Some(&row) = numbers.get(node) {
                right[row][0] = right[row][0] + *amps;
            }
        }
        let answer = solve(self.matrix(&numbers), right);
        let mut volts = vec![Complex::default(); class.len()];
        for (&one, &number) in &numbers {
            volts[one] = answer[number][0];
        }
        Volts { class, island, against_own: volts }
    }
}

/// Where the relays come to rest.
#[derive(Clone)]
pub struct Rest {
    /// The state this machine ends in; one of several where relays race or chatter.
    pub worked: Vec<bool>,
    pub settles: bool,
    /// Every state on the way.
    pub passed: Vec<Vec<bool>>,
}

fn closed(contact: &Contact, setting: &Setting, worked: &[bool]) -> bool {
    let driven = match &contact.by {
        By::Relay(relay) => worked[*relay],
        By::Output(output) => setting.commanded.contains(output),
        By::Held => false,
        By::Switch { part, name, closed_in, rest } => {
            let position = setting.positions.get(&(*part, name.clone())).unwrap_or(rest);
            return closed_in.contains(position);
        }
    };
    driven == contact.make
}

impl Model {
    fn landed(&self, setting: &Setting) -> Sets {
        let mut classes = Sets::new(self.nodes);
        for ends in &self.joins {
            classes.join(ends[0], ends[1]);
        }
        for wire in &self.wires {
            if !wire.broken {
                classes.join(wire.ends[0], wire.ends[1]);
            }
            for (slot, side) in wirewitness::machine::Side::BOTH.into_iter().enumerate() {
                if let Some(terminal) = wire.landed[slot].filter(|_| !setting.lifted.contains(&(wire.id, side))) {
                    classes.join(wire.ends[slot], terminal);
                }
            }
        }
        classes
    }

    fn contacts_and_plain(&self, equations: &mut Equations, setting: &Setting, worked: &[bool]) {
        for contact in self.contacts.iter().filter(|contact| closed(contact, setting, worked)) {
            equations.add(contact.ends, Complex::real(1.0 / contact.ohms));
        }
        for plain in self.plain.iter().filter(|plain| !plain.open) {
            equations.add(plain.ends, Complex::real(1.0 / plain.ohms));
        }
    }

    /// Alternating volts with the relays so, and a meter on.
    pub fn volts(&self, setting: &Setting, worked: &[bool], meter: Option<([usize; 2], f64)>) -> Volts {
        let mut equations = Equations::new(self.nodes + 1, {
            let mut classes = self.landed(setting);
            classes.0.push(self.nodes);
            classes
        });
        self.contacts_and_plain(&mut equations, setting, worked);
        for coil in self.coils.iter().filter(|coil| !coil.open) {
            equations.add(coil.ends, coil.impedance.inverse());
        }
        for load in self.loads.iter().filter(|load| !load.open) {
            equations.add(load.ends, load.impedance.inverse());
        }
        for one in &self.transformers {
            equations.add(one.primary, one.magnetising);
            let ohms = one.ohms[0] / (one.ratio * one.ratio) + one.ohms[1];
            let ports = [one.primary, one.secondary].map(|ends| ends.map(|end| equations.classes.root(end)));
            equations.islands.join(ports[1][0], ports[1][1]);
            equations.ports.push((ports[0], ports[1], Complex::real(1.0 / ohms), one.ratio));
        }
        let on = || self.sources.iter().filter(|source| setting.sources_on.contains(&source.part));
        for source in on() {
            let siemens = Complex::real(1.0 / source.ohms);
            equations.add(source.ends, siemens);
            equations.inject(source.ends[0], source.volts * siemens);
            equations.inject(source.ends[1], -(source.volts * siemens));
            if source.earthed {
                equations.add([source.ends[1], self.nodes], Complex::real(2.0));
            }
        }
        // The earth that a supply brings along, and its earthed pole, meet outside.
        for (_, node) in self.earths.iter().filter(|(part, _)| on().any(|source| source.part == *part)) {
            equations.add([*node, self.nodes], Complex::real(2.0));
        }
        if let Some((ends, ohms)) = meter {
            equations.add(ends, Complex::real(1.0 / ohms));
        }
        equations.solved()
    }

    /// Ohms that a meter finds between nodes, everything off and at rest: each of the first against each of the others. `None`: no way.
    pub fn ohms(&self, setting: &Setting, from: &[usize], to: &[usize]) -> Vec<Vec<Option<f64>>> {
        let (equations, numbers, class, island) = self.dead(setting);
        // Columns of the inverse for every place asked for.
        let wanted: BTreeSet<usize> = from.iter().chain(to).map(|&node| class[node]).collect();
        let columns: BTreeMap<usize, usize> =
            wanted.into_iter().filter(|one| numbers.contains_key(one)).zip(0..).collect();
        let mut right = vec![vec![Complex::default(); columns.len()]; numbers.len()];
        for (one, &column) in &columns {
            right[numbers[one]][column] = Complex::real(1.0);
        }
        let inverse = solve(equations.matrix(&numbers), right);
        let entry = |row: usize, column: usize| match (numbers.get(&row), columns.get(&column)) {
            (Some(&row), Some(&column)) => inverse[row][column].re,
            _ => 0.0,
        };
        let between = |a: usize, b: usize| {
            let (a, b) = (class[a], class[b]);
            let whole = entry(a, a) + entry(b, b) - entry(a, b) - entry(b, a);
            (island[a] == island[b]).then(|| whole.max(0.0))
        };
        from.iter().map(|&a| to.iter().map(|&b| between(a, b)).collect()).collect()
    }

    #[allow(clippy::type_complexity, reason = "parts of one thing, taken apart at once")]
    fn dead(&self, setting: &Setting) -> (Equations, BTreeMap<usize, usize>, Vec<usize>, Vec<usize>) {
        let mut equations = Equations::new(self.nodes, self.landed(setting));
        self.contacts_and_plain(&mut equations, setting, &vec![false; self.coils.len()]);
        for coil in self.coils.iter().filter(|coil| !coil.open) {
            equations.add(coil.ends, Complex::real(1.0 / coil.ohms));
        }
        for load in self.loads.iter().filter(|load| !load.open) {
            equations.add(load.ends, Complex::real(1.0 / load.ohms));
        }
        for one in &self.transformers {
            equations.add(one.primary, Complex::real(1.0 / one.ohms[0]));
            equations.add(one.secondary, Complex::real(1.0 / one.ohms[1]));
        }
        let (class, island, numbers) = equations.unknowns();
        (equations, numbers, class, island)
    }

    /// From rest, any set of relays that are about to move may move together; the groups that cannot be left decide.
    pub fn rest(&self, setting: &Setting, meter: Option<([usize; 2], f64)>, dice: &mut Dice) -> Rest {
        let start = vec![false; self.coils.len()];
        let mut states = vec![start.clone()];
        let mut known: BTreeMap<Vec<bool>, usize> = [(start, 0)].into();
        let mut moves: Vec<Vec<usize>> = Vec::new();
        let mut at = 0;
        while at < states.len() {
            let now = states[at].clone();
            let volts = self.volts(setting, &now, meter);
            let about: Vec<usize> = (0..now.len())
                .filter(|&relay| {
                    let coil = &self.coils[relay];
                    let gets = volts.between(coil.ends[0], coil.ends[1]).filter(|_| !coil.open).unwrap_or(0.0);
                    if now[relay] { gets < coil.drop_out } else { gets >= coil.pick_up }
                })
                .collect();
            let mut own = Vec::new();
            for set in 1..1_usize << about.len() {
                let mut next = now.clone();
                for (bit, &relay) in about.iter().enumerate() {
                    if set >> bit & 1 == 1 {
                        next[relay] = !next[relay];
                    }
                }
                let number = *known.entry(next.clone()).or_insert(states.len());
                if number == states.len() {
                    states.push(next);
                }
                own.push(number);
            }
            moves.push(own);
            at += 1;
        }
        // What each state can come to; a group that cannot be left can come to nothing else.
        let reach: Vec<BTreeSet<usize>> = (0..states.len())
            .map(|start| {
                let mut seen = BTreeSet::from([start]);
                let mut open = vec![start];
                while let Some(one) = open.pop() {
                    open.extend(moves[one].iter().copied().filter(|next| seen.insert(*next)));
                }
                seen
            })
            .collect();
        let last: Vec<usize> =
            (0..states.len()).filter(|&one| reach[one].iter().all(|&other| reach[other].contains(&one))).collect();
        let end = last[dice.below(last.len())];
        Rest { worked: states[end].clone(), settles: last.len() == 1, passed: states }
    }
}
