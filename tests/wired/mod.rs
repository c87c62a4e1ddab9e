//! Records wired in code: parts by tag, junctions by name, a wire for every lead.
//!
//! A spot is written `K1.A1` (a terminal) or `n3` (a junction: a splice that gets one more position for each lead).

#![allow(dead_code, reason = "each test that includes this uses what it needs of it")]

pub mod circuits;

use std::collections::BTreeMap;
use std::sync::Arc;

use wirewitness::catalogue::Catalogue;
use wirewitness::circuit::electric::{Gets, Live};
use wirewitness::circuit::{Inside, Network, Node, Situation};
use wirewitness::machine::{EndAt, Machine, Part, PartId, Setting, TerminalRef, Wire, WireEnd};
use wirewitness::quantity::{Current, Rated, Rating};

/// A record being wired, and the kinds it may use.
pub struct Wired {
    pub machine: Machine,
    pub catalogue: Catalogue,
    /// Positions used so far of parts that repeat.
    used: BTreeMap<PartId, u16>,
}

impl Default for Wired {
    fn default() -> Self {
        let built_in = Catalogue::built_in().unwrap();
        let catalogue = built_in.with_kinds("kinds.ron", include_str!("kinds.ron")).unwrap();
        Self { machine: Machine::default(), catalogue, used: BTreeMap::new() }
    }
}

impl Wired {
    /// Places a part.
    pub fn part(&mut self, tag: &str, kind: &str) -> PartId {
        assert!(self.catalogue.kind(kind).is_some(), "no kind {kind}");
        assert!(self.machine.part_by_tag(tag).is_none(), "two parts {tag}");
        self.machine.parts.add(Part { tag: tag.to_owned(), kind: kind.to_owned(), ..Part::default() })
    }

    /// Gives a part a rating.
    pub fn rate(&mut self, tag: &str, rating: Rating, value: f64, current: Option<Current>) {
        self.change(self.id(tag), |part| part.ratings.set(rating, Rated { value, current }));
    }

    /// A 24 V battery `G` whose poles are the junctions `+` and `-`.
    pub fn battery(&mut self) {
        self.part("G", "battery");
        self.rate("G", Rating::Volts, 24.0, Some(Current::Dc));
        self.wire("G.+", "+");
        self.wire("G.-", "-");
    }

    /// A relay for 24 V DC.
    pub fn relay(&mut self, tag: &str, kind: &str) {
        self.part(tag, kind);
        self.rate(tag, Rating::CoilVolts, 24.0, Some(Current::Dc));
    }

    /// The part of a tag.
    pub fn id(&self, tag: &str) -> PartId {
        self.machine.part_by_tag(tag).unwrap_or_else(|| panic!("no part {tag}"))
    }

    fn change(&mut self, id: PartId, how: impl FnOnce(&mut Part)) {
        let mut part = self.machine.parts.get(id).unwrap().clone();
        how(&mut part);
        self.machine.parts.put(id, Some(Arc::new(part)));
    }

    /// One more position of a part that repeats.
    fn position(&mut self, id: PartId) -> u16 {
        let used = self.used.entry(id).or_insert(0);
        *used += 1;
        let count = *used;
        self.change(id, |part| part.count = count);
        count
    }

    /// The terminal of a spot; a lead is about to land on it.
    fn land(&mut self, spot: &str) -> TerminalRef {
        if let Some((tag, marking)) = spot.split_once('.') {
            let id = self.id(tag);
            let body = self.catalogue.body(self.machine.parts.get(id).unwrap());
            assert!(body.terminal(marking).is_some(), "{spot} is no terminal");
            return TerminalRef::new(id, marking);
        }
        let id = self.machine.part_by_tag(spot).unwrap_or_else(|| self.part(spot, "splice"));
        let position = self.position(id);
        TerminalRef::new(id, position.to_string())
    }

    /// Lays a wire.
    pub fn wire(&mut self, from: &str, to: &str) {
        let mut end = |spot| WireEnd { at: EndAt::Terminal(self.land(spot)), ..WireEnd::default() };
        let (from, to) = (end(from), end(to));
        let key = format!("W{}", self.machine.wires.len() + 1);
        self.machine.wires.add(Wire { key, from, to, ..Wire::default() });
    }

    /// Lays wires from each spot to the next.
    pub fn chain(&mut self, spots: &[&str]) {
        for two in spots.windows(2) {
            self.wire(two[0], two[1]);
        }
    }

    /// Wires a fresh contact of a ganged switch or many-contact relay in between two spots: `K` its make, `!K` its break.
    pub fn contact(&mut self, from: &str, to: &str, label: &str) {
        let (tag, functions) = label.strip_prefix('!').map_or((label, (3, 4)), |tag| (tag, (1, 2)));
        let position = self.position(self.id(tag));
        self.wire(from, &format!("{tag}.{position}{}", functions.0));
        self.wire(&format!("{tag}.{position}{}", functions.1), to);
    }

    /// The network of the record.
    pub fn network(&self) -> Network {
        Network::of(&self.machine, &self.catalogue)
    }

    /// A setting with these switches out of their rest position, and these sources on.
    pub fn setting(&self, positions: &[(&str, &str, &str)], sources: &[&str]) -> Setting {
        Setting {
            sources_on: sources.iter().map(|tag| self.id(tag)).collect(),
            positions: positions
                .iter()
                .map(|(tag, switch, position)| ((self.id(tag), (*switch).to_owned()), (*position).to_owned()))
                .collect(),
            ..Setting::default()
        }
    }

    /// A setting with these ganged switches on.
    pub fn levers_on<'a>(&self, on: impl IntoIterator<Item = &'a str>, sources: &[&str]) -> Setting {
        let positions: Vec<_> = on.into_iter().map(|tag| (tag, "lever", "on")).collect();
        self.setting(&positions, sources)
    }

    /// The node of a terminal or junction.
    pub fn node(&self, network: &Network, spot: &str) -> Node {
        let (tag, marking) = spot.split_once('.').unwrap_or((spot, "1"));
        network.terminal(&TerminalRef::new(self.id(tag), marking)).unwrap_or_else(|| panic!("no node {spot}"))
    }

    /// Whether two spots are held together in a situation.
    pub fn joined(&self, situation: &Situation, a: &str, b: &str) -> bool {
        let network = situation.network();
        situation.is_joined(self.node(network, a), self.node(network, b))
    }

    /// Where a part's relay stands among the network's.
    pub fn relay_index(&self, network: &Network, tag: &str) -> usize {
        let id = self.id(tag);
        network.relays().iter().position(|relay| relay.inside.part == id).unwrap_or_else(|| panic!("no coil in {tag}"))
    }

    /// Whether the relay of a part is worked in a situation.
    pub fn worked(&self, situation: &Situation, tag: &str) -> bool {
        situation.worked[self.relay_index(situation.network(), tag)]
    }

    /// Whether the load of a part runs: poles of a live source on both its ends.
    pub fn runs(&self, situation: &Situation, tag: &str) -> bool {
        let id = self.id(tag);
        let inside: Vec<&Inside> =
            situation.network().loads().iter().map(|load| &load.inside).filter(|inside| inside.part == id).collect();
        assert_eq!(inside.len(), 1, "{tag} is to have one load");
        situation.across(inside[0]).is_some()
    }

    /// What the load of a part gets, by volts; of several, the one of this name.
    pub fn gets(&self, live: &Live, tag: &str, name: Option<&str>) -> Gets {
        let id = self.id(tag);
        let loads = live.network().loads().iter().enumerate();
        let own = loads.filter(|(_, load)| load.inside.part == id && name.is_none_or(|name| load.name == name));
        let own: Vec<usize> = own.map(|(index, _)| index).collect();
        assert_eq!(own.len(), 1, "{tag} is to have one such load");
        live.load(own[0]).unwrap()
    }
}
