//! Switching functions of Shannon 1938 (AIEE Trans. 57, 713-723) as contact networks, row by row.
//!
//! Data and sources: tests/outside/shannon_examples.json (expressions from memory, algebra machine-checked there). The adder
//! and the combination lock of the file are functions and an automaton without a drawn network; they are not built here.
#![allow(clippy::unwrap_used)] // helpers of tests panic as tests do

use std::collections::BTreeMap;

use serde_json::Value;
use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::{Network, Situation};
use wirewitness::machine::{EndAt, Machine, Part, PartId, Setting, TerminalRef, Wire};

const KINDS: &str = r#"(kinds: [
    (name: "test-switch", title: "Switch", family: switching, letters: (iec: "S", us: "S"),
        terminals: [(marking: "1", at: (0.0, 0.0)), (marking: "2", at: (10.0, 0.0))],
        elements: [contact(ends: ("1", "2"), form: make, driver: switch(name: "s", closed_in: ["on"]))],
        switches: [(name: "s", positions: ["off", "on"])],
        symbol: (both: [line([(0.0, 0.0), (10.0, 0.0)])])),
    (name: "test-post", title: "Post", family: joining, letters: (iec: "X", us: "X"),
        terminals: [(marking: "1", at: (0.0, 0.0))],
        symbol: (both: [dot(at: (0.0, 0.0), r: 1.0)])),
])"#;

fn data() -> Value {
    serde_json::from_str(include_str!("outside/shannon_examples.json")).unwrap()
}

/// A network of contacts between the posts `a` and `b`; each contact carries the name of its variable, `!` in front of it
/// turns it over.
struct Contacts {
    machine: Machine,
    switches: Vec<(PartId, String)>,
    posts: BTreeMap<String, PartId>,
}

impl Contacts {
    fn of(netlist: &[(String, String, String)]) -> Self {
        let mut built = Self { machine: Machine::default(), switches: Vec::new(), posts: BTreeMap::new() };
        for (from, to, label) in netlist {
            let ends = [built.post(from), built.post(to)];
            let tag = built.machine.free_tag("S");
            let switch = built.machine.parts.add(Part { tag, kind: "test-switch".to_owned(), ..Part::default() });
            for (post, marking) in ends.into_iter().zip(["1", "2"]) {
                let mut wire = Wire { key: built.machine.free_tag("W"), ..Wire::default() };
                wire.from.at = EndAt::Terminal(TerminalRef::new(post, "1"));
                wire.to.at = EndAt::Terminal(TerminalRef::new(switch, marking));
                built.machine.wires.add(wire);
            }
            built.switches.push((switch, label.clone()));
        }
        built
    }

    fn post(&mut self, name: &str) -> PartId {
        if let Some(&post) = self.posts.get(name) {
            return post;
        }
        let tag = self.machine.free_tag("X");
        let post = self.machine.parts.add(Part { tag, kind: "test-post".to_owned(), ..Part::default() });
        self.posts.insert(name.to_owned(), post);
        post
    }

    /// Whether the two posts are joined when the contacts conduct as told.
    fn is_closed(&self, catalogue: &Catalogue, network: &Network, conducts: impl Fn(&str) -> bool) -> bool {
        assert!(catalogue.kind("test-switch").is_some());
        let mut setting = Setting::default();
        for (switch, label) in &self.switches {
            let position = if conducts(label) { "on" } else { "off" };
            setting.positions.insert((*switch, "s".to_owned()), position.to_owned());
        }
        let situation = Situation::of(network, &setting);
        let node = |name: &str| network.terminal(&TerminalRef::new(self.posts[name], "1")).unwrap();
        situation.is_joined(node("a"), node("b"))
    }
}

fn netlist(value: &Value) -> Vec<(String, String, String)> {
    let text = |value: &Value| value.as_str().unwrap().to_owned();
    value.as_array().unwrap().iter().map(|one| (text(&one[0]), text(&one[1]), text(&one[2]))).collect()
}

fn catalogue() -> Catalogue {
    Catalogue::built_in().unwrap().with_kinds("kinds", KINDS).unwrap()
}

/// Variables as bits of a row number, the first name the lowest.
fn bits<'a>(names: &'a [&'a str], row: u32) -> impl Fn(&str) -> bool + 'a {
    move |name| row >> names.iter().position(|&other| other == name).unwrap() & 1 == 1
}

/// Variables are hindrances there: 1 is open, so a contact conducts when its variable is 0.
#[test]
fn the_simplified_network_of_figure_5_closes_in_the_same_rows() {
    let (data, catalogue) = (data(), catalogue());
    let example = &data["fig5_simplification"];
    let names = ["S", "V", "W", "X", "Y", "Z"];
    let closed_rows = example["closed_rows"].as_array().unwrap();
    for which in ["netlist_before", "netlist_after"] {
        let contacts = Contacts::of(&netlist(&example[which]));
        let network = Network::of(&contacts.machine, &catalogue);
        for row in 0..64 {
            let one = bits(&names, row);
            let conducts = |label: &str| label.strip_prefix('!').map_or_else(|| !one(label), &one);
            let listed = closed_rows.iter().any(|closed| names.iter().all(|&n| closed[n] == u32::from(one(n))));
            assert_eq!(contacts.is_closed(&catalogue, &network, conducts), listed, "{which} row {row}");
        }
    }
}

#[test]
fn the_bridge_that_is_not_series_and_parallel_closes_in_16_of_32_rows() {
    let (data, catalogue) = (data(), catalogue());
    let example = &data["bridge_non_series_parallel"];
    let contacts = Contacts::of(&netlist(&example["netlist"]));
    let network = Network::of(&contacts.machine, &catalogue);
    let names = ["r", "s", "t", "u", "v"];
    let mut closed = 0;
    for row in 0..32 {
        let on = bits(&names, row);
        let [r, s, t, u, v] = names.map(&on);
        let formula = r && u || s && v || r && t && v || s && t && u;
        let found = contacts.is_closed(&catalogue, &network, &on);
        assert_eq!(found, formula, "row {row}");
        closed += u32::from(found);
    }
    assert_eq!(example["closed_count_of_32"], closed);
}

/// The triangular network: a grid in which a worked variable climbs one level and a resting one stays; the ends of the
/// wanted levels are tied together. n(n+1) contacts before pruning.
#[test]
fn symmetric_functions_close_as_their_tables_say() {
    let (data, catalogue) = (data(), catalogue());
    for case in data["symmetric_functions"]["cases"].as_array().unwrap() {
        let n = u32::try_from(case["n"].as_u64().unwrap()).unwrap();
        let levels: Vec<u64> = case["levels"].as_array().unwrap().iter().map(|level| level.as_u64().unwrap()).collect();
        let post = |variable: u32, level: u32| match (variable, level) {
            (0, _) => "a".to_owned(),
            (last, level) if last == n && levels.contains(&u64::from(level)) => "b".to_owned(),
            _ => format!("{variable}/{level}"),
        };
        let mut list = Vec::new();
        for variable in 0..n {
            for level in 0..=variable {
                list.push((post(variable, level), post(variable + 1, level), format!("!{variable}")));
                list.push((post(variable, level), post(variable + 1, level + 1), variable.to_string()));
            }
        }
        assert_eq!(case["contacts_unpruned"], list.len());
        let contacts = Contacts::of(&list);
        let network = Network::of(&contacts.machine, &catalogue);
        for (row, listed) in case["truth_table_msb_x0"].as_str().unwrap().chars().enumerate() {
            // The table's first variable is the highest bit.
            let one = |label: &str| row >> (n - 1 - label.parse::<u32>().unwrap()) & 1 == 1;
            let conducts = |label: &str| label.strip_prefix('!').map_or_else(|| one(label), |label| !one(label));
            assert_eq!(contacts.is_closed(&catalogue, &network, conducts), listed == '1', "n {n} row {row}");
        }
    }
}
