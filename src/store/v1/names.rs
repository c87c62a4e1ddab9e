//! Finds what a reference in the file means, and collects what does not make sense.

use std::collections::{HashMap, HashSet};
use std::hash::Hash;

use crate::catalogue::ron_text::nearest;
use crate::catalogue::{Catalogue, SwitchSpec};
use crate::machine::{
    ConditionId, LoomId, MeterId, MysteryId, Part, PartId, PhotoId, ReadingId, Side, Spot, TerminalRef, Thing, VisitId,
    WireId, check_tag,
};

use super::super::problem::{Problem, Sort, Step};
use super::GONE;
use super::disk::File;

/// The largest length, resistance or other size in a record, as for quantities with a unit: beyond, computing runs out of numbers.
const MOST: f64 = 1e13;

/// After this many problems no more likeness is searched for: it is slow, and nobody reads on.
const MOST_SUGGESTIONS: usize = 50;
/// Lists in messages stop here.
const MOST_LISTED: usize = 16;

/// What a tag names.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub(super) enum Tagged {
    Part(PartId),
    Wire(WireId),
}

/// What a part offers to references.
#[derive(Debug, Default)]
struct Offers {
    kind_known: bool,
    markings: HashSet<String>,
    /// In order, for messages.
    listed: Vec<String>,
    printed: Vec<(String, String)>,
    switches: Vec<SwitchSpec>,
}

/// Every name of the file with the number its thing gets: the place in its list.
#[derive(Debug, Default)]
pub(super) struct Names<'a> {
    tags: HashMap<&'a str, Tagged>,
    pub photos: HashMap<&'a str, PhotoId>,
    pub looms: HashMap<&'a str, LoomId>,
    pub conditions: HashMap<&'a str, ConditionId>,
    pub meters: HashMap<&'a str, MeterId>,
    pub readings: HashMap<&'a str, ReadingId>,
    pub mysteries: HashMap<&'a str, MysteryId>,
    pub visits: HashMap<&'a str, VisitId>,
    offers: Vec<Offers>,
    kinds: Vec<&'a str>,
}

fn number(index: usize) -> u32 {
    u32::try_from(index).unwrap_or(u32::MAX)
}

impl<'a> Names<'a> {
    /// The names of a file; repeats and bad forms become problems.
    pub fn of(file: &'a File, catalogue: &'a Catalogue, problems: &mut Vec<Problem>) -> Self {
        let mut names = Self { kinds: catalogue.kinds().map(|kind| kind.name.as_str()).collect(), ..Self::default() };
        let mut first: HashMap<&str, [Step; 3]> = HashMap::new();
        let parts = file.parts.iter().enumerate();
        let parts = parts.map(|(at, part)| ("parts", "tag", at, part.tag.as_str(), Tagged::Part(PartId(number(at)))));
        let wires = file.wires.iter().enumerate();
        let wires = wires.map(|(at, wire)| ("wires", "key", at, wire.key.as_str(), Tagged::Wire(WireId(number(at)))));
        for (list, field, at, tag, tagged) in parts.chain(wires) {
            let path = [list.into(), at.into(), field.into()];
            let mut problem = |message: String, first: Option<Vec<Step>>| {
                problems.push(Problem { path: path.to_vec(), word: None, message, first, sort: Sort::Broken });
            };
            if let Err(error) = check_tag(tag) {
                problem(error.to_string(), None);
            } else if let Some(first) = first.get(tag) {
                problem(
                    format!("'{tag}' is used twice; tags of parts and keys of wires are unique: rename one"),
                    Some(first.to_vec()),
                );
            } else {
                names.tags.insert(tag, tagged);
                first.insert(tag, path);
            }
        }
        names.photos = named("photos", "photo", file.photos.iter().map(|entry| &*entry.name), problems);
        names.looms = named("looms", "loom", file.looms.iter().map(|entry| &*entry.name), problems);
        names.conditions = named("conditions", "condition", file.conditions.iter().map(|entry| &*entry.name), problems);
        names.meters = named("meters", "meter", file.meters.iter().map(|entry| &*entry.name), problems);
        names.readings = named("readings", "reading", file.readings.iter().map(|entry| &*entry.name), problems);
        names.mysteries = named("mysteries", "mystery", file.mysteries.iter().map(|entry| &*entry.name), problems);
        names.visits = named("visits", "visit", file.visits.iter().map(|entry| &*entry.name), problems);
        names
    }

    /// Learns what terminals and switches the parts have, in the order of the file.
    pub fn learn_parts<'p>(&mut self, parts: impl Iterator<Item = &'p Part>, catalogue: &Catalogue) {
        self.offers = parts
            .map(|part| {
                let body = catalogue.body(part);
                Offers {
                    kind_known: body.kind_known,
                    markings: body.terminals.iter().map(|terminal| terminal.marking.to_string()).collect(),
                    listed: body.terminals.iter().map(|t| t.marking.to_string()).take(MOST_LISTED + 1).collect(),
                    printed: body
                        .terminals
                        .iter()
                        .filter_map(|t| t.printed.clone().map(|printed| (printed, t.marking.to_string())))
                        .collect(),
                    switches: body.switches,
                }
            })
            .collect();
    }

    fn offers(&self, part: PartId) -> Option<&Offers> {
        usize::try_from(part.0).ok().and_then(|at| self.offers.get(at))
    }
}

/// The names of one list; repeats and empty names become problems.
fn named<'a, K: From<u32>>(
    list: &'static str,
    what: &str,
    names: impl Iterator<Item = &'a str>,
    problems: &mut Vec<Problem>,
) -> HashMap<&'a str, K> {
    let mut found: HashMap<&str, usize> = HashMap::new();
    for (at, name) in names.enumerate() {
        let path: [Step; 3] = [list.into(), at.into(), "name".into()];
        if name.is_empty() {
            let message = format!("this {what} has an empty name; give it one of its own");
            problems.push(Problem { path: path.to_vec(), word: None, message, first: None, sort: Sort::Broken });
        } else if let Some(&first) = found.get(name) {
            let message = format!("there are two {list} with the name '{name}'; rename one");
            let first = Some(vec![list.into(), first.into(), "name".into()]);
            problems.push(Problem { path: path.to_vec(), word: None, message, first, sort: Sort::Broken });
        } else {
            found.insert(name, at);
        }
    }
    found.into_iter().map(|(name, at)| (name, K::from(number(at)))).collect()
}

/// One entry of the file while its references are looked up.
pub(super) struct Entry<'r> {
    pub names: &'r Names<'r>,
    pub problems: &'r mut Vec<Problem>,
    pub list: &'static str,
    pub index: usize,
    /// `wire`, `part`, ...
    pub what: &'static str,
    /// Its tag, key or name.
    pub name: &'r str,
}

impl Entry<'_> {
    /// Says that something does not make sense.
    pub fn complain(&mut self, path: &[Step], word: Option<&str>, message: impl AsRef<str>) {
        self.problem(path, word, message.as_ref(), Sort::Broken);
    }

    fn problem(&mut self, path: &[Step], word: Option<&str>, message: &str, sort: Sort) {
        let mut whole: Vec<Step> = vec![self.list.into()];
        if self.list != "machine" {
            whole.push(self.index.into());
        }
        whole.extend_from_slice(path);
        let message = match (self.what, self.name) {
            (what, "") => format!("{what}: {message}"),
            (what, name) => format!("{what} {name}: {message}"),
        };
        self.problems.push(Problem { path: whole, word: word.map(str::to_owned), message, first: None, sort });
    }

    /// 'did you mean', or other advice where nothing is near.
    pub fn did_you_mean<'n>(&self, word: &str, known: impl IntoIterator<Item = &'n str>, otherwise: &str) -> String {
        if self.problems.len() >= MOST_SUGGESTIONS {
            return otherwise.to_owned();
        }
        let mut known: Vec<&str> = known.into_iter().collect();
        known.sort_unstable();
        match nearest(word, known) {
            Some(near) => format!("did you mean '{near}'?"),
            None => otherwise.to_owned(),
        }
    }

    /// Tags are short: where none is near, those with the same letters help.
    fn with_the_same_letters(&self, tag: &str) -> String {
        let letters = |tag: &str| tag.trim_end_matches(|c: char| c.is_ascii_digit()).to_owned();
        let wanted = letters(tag);
        let mut alike: Vec<&str> = if wanted.is_empty() || self.problems.len() >= MOST_SUGGESTIONS {
            Vec::new()
        } else {
            self.names.tags.keys().copied().filter(|known| letters(known) == wanted).collect()
        };
        if alike.is_empty() || alike.len() > MOST_LISTED {
            return "add it, or correct the tag".to_owned();
        }
        alike.sort_unstable();
        format!("there is {}; add it, or correct the tag", alike.join(", "))
    }

    /// What a tag names.
    fn tagged(&mut self, path: &[Step], word: &str, tag: &str) -> Option<Tagged> {
        let found = self.names.tags.get(tag).copied();
        if found.is_none() {
            let alike = self.with_the_same_letters(tag);
            let advice = self.did_you_mean(tag, self.names.tags.keys().copied(), &alike);
            self.complain(path, Some(word), format!("there is no part or wire '{tag}'; {advice}"));
        }
        found
    }

    /// The part whose entry this is; none where its tag is bad or taken.
    pub fn own_part(&self) -> Option<PartId> {
        match self.names.tags.get(self.name) {
            Some(&Tagged::Part(id)) if id.0 == number(self.index) => Some(id),
            _ => None,
        }
    }

    /// The part with this tag.
    pub fn part(&mut self, path: &[Step], tag: &str) -> Option<PartId> {
        match self.tagged(path, tag, tag)? {
            Tagged::Part(id) => Some(id),
            Tagged::Wire(_) => {
                self.complain(path, Some(tag), format!("'{tag}' is a wire; a part is needed here, for example 'K1'"));
                None
            }
        }
    }

    /// The terminal, written `K1.A1`.
    pub fn terminal(&mut self, path: &[Step], word: &str) -> Option<TerminalRef> {
        let Some((tag, marking)) = word.split_once('.').filter(|(_, marking)| !marking.is_empty()) else {
            self.complain(
                path,
                Some(word),
                format!("'{word}' names no terminal; write the part's tag, a dot and the marking, for example 'K1.A1'"),
            );
            return None;
        };
        match self.tagged(path, word, tag)? {
            Tagged::Part(part) => {
                self.check_marking(path, word, part, tag, marking);
                Some(TerminalRef::new(part, marking))
            }
            Tagged::Wire(_) => {
                self.complain(
                    path,
                    Some(word),
                    format!("'{tag}' is a wire; the terminal of a part is needed here, for example 'K1.A1'"),
                );
                None
            }
        }
    }

    /// Says so when the part has no terminal with this marking.
    pub fn check_marking(&mut self, path: &[Step], word: &str, part: PartId, tag: &str, marking: &str) {
        let names = self.names;
        let Some(offers) = names.offers(part) else { return };
        // A kind that is not known is one problem, said at the part; not one more at each of its wires.
        if !offers.kind_known || offers.markings.contains(marking) {
            return;
        }
        let message = if let Some((_, own)) = offers.printed.iter().find(|(printed, _)| printed == marking) {
            format!(
                "{tag} has no terminal '{marking}': that is what is printed on it; write the marking of its kind, \
                 '{tag}.{own}'"
            )
        } else {
            let mut listed = offers.listed.join(", ");
            if offers.listed.len() > MOST_LISTED {
                listed.push_str(", ...");
            }
            let advice = match nearest(marking, offers.markings_in_order()) {
                Some(near) => format!("did you mean '{tag}.{near}'? "),
                None => String::new(),
            };
            format!("{tag} has no terminal '{marking}'; {advice}it has {listed}")
        };
        self.problem(path, Some(word), &message, Sort::NotInCatalogue);
    }

    /// The end of a wire, written `W7.from` or `W7.to`.
    pub fn end(&mut self, path: &[Step], word: &str) -> Option<(WireId, Side)> {
        let (tag, side) = word.split_once('.').unwrap_or((word, ""));
        match self.tagged(path, word, tag)? {
            Tagged::Wire(wire) => {
                let side = Side::BOTH.into_iter().find(|known| known.word() == side);
                if side.is_none() {
                    self.complain(
                        path,
                        Some(word),
                        format!("'{word}' names no end of a wire; write '{tag}.from' or '{tag}.to'"),
                    );
                }
                side.map(|side| (wire, side))
            }
            Tagged::Part(_) => {
                self.complain(
                    path,
                    Some(word),
                    format!("'{tag}' is a part; the end of a wire is needed here, for example 'W7.from'"),
                );
                None
            }
        }
    }

    /// A place for a probe: `K1.A1`, `W7.from`, `W7`, `K1`, or `gone ...`.
    pub fn spot(&mut self, path: &[Step], word: &str) -> Option<Spot> {
        if let Some(name) = word.strip_prefix(GONE).and_then(|rest| rest.strip_prefix(' ')) {
            return Some(Spot::Gone(name.to_owned()));
        }
        let (tag, dotted) = word.split_once('.').map_or((word, false), |(tag, _)| (tag, true));
        match self.tagged(path, word, tag)? {
            Tagged::Part(_) if dotted => self.terminal(path, word).map(Spot::Terminal),
            Tagged::Part(part) => Some(Spot::Part(part)),
            Tagged::Wire(_) if dotted => self.end(path, word).map(|(wire, side)| Spot::End(wire, side)),
            Tagged::Wire(wire) => Some(Spot::Wire(wire)),
        }
    }

    /// Anything: a place, or `condition ...`, `reading ...`, `mystery ...`, `photo ...` with its name.
    pub fn thing(&mut self, path: &[Step], word: &str) -> Option<Thing> {
        let names = self.names;
        match word.split_once(' ') {
            Some(("condition", name)) => {
                self.named(path, word, name, "condition", &names.conditions).map(Thing::Condition)
            }
            Some(("reading", name)) => self.named(path, word, name, "reading", &names.readings).map(Thing::Reading),
            Some(("mystery", name)) => self.named(path, word, name, "mystery", &names.mysteries).map(Thing::Mystery),
            Some(("photo", name)) => self.named(path, word, name, "photo", &names.photos).map(Thing::Photo),
            _ => self.spot(path, word).map(Thing::Spot),
        }
    }

    /// The thing of one list with this name.
    pub fn named<K: Copy + Eq + Hash>(
        &mut self,
        path: &[Step],
        word: &str,
        name: &str,
        what: &str,
        known: &HashMap<&str, K>,
    ) -> Option<K> {
        let found = known.get(name).copied();
        if found.is_none() {
            let advice = self.did_you_mean(name, known.keys().copied(), "add it, or correct the name");
            self.complain(path, Some(word), format!("there is no {what} '{name}'; {advice}"));
        }
        found
    }

    /// The same for a reference that may be left out.
    pub fn maybe_named<K: Copy + Eq + Hash>(
        &mut self,
        field: &str,
        name: Option<&str>,
        what: &str,
        known: &HashMap<&str, K>,
    ) -> Option<K> {
        name.and_then(|name| self.named(&[field.into()], name, name, what, known))
    }

    /// Says so when the catalogue has no such kind.
    pub fn check_kind(&mut self, path: &[Step], kind: &str) {
        if self.names.kinds.binary_search(&kind).is_err() {
            let advice = self.did_you_mean(
                kind,
                self.names.kinds.iter().copied(),
                "see the list of kinds, or add it to your own file of kinds",
            );
            self.problem(
                path,
                Some(kind),
                &format!("there is no kind of part '{kind}'; {advice}"),
                Sort::NotInCatalogue,
            );
        }
    }

    /// A switch of a part, written `S1.door`, and one of its positions.
    pub fn position(&mut self, path: &[Step], word: &str, position: &str) -> Option<(PartId, String)> {
        let Some((tag, switch)) = word.split_once('.').filter(|(_, switch)| !switch.is_empty()) else {
            self.complain(
                path,
                Some(word),
                format!("'{word}' names no switch; write the part's tag, a dot and the switch, for example 'S1.door'"),
            );
            return None;
        };
        let Tagged::Part(part) = self.tagged(path, word, tag)? else {
            self.complain(path, Some(word), format!("'{tag}' is a wire; a switch of a part is needed here"));
            return None;
        };
        self.check_position(path, word, (part, tag), switch, position);
        Some((part, switch.to_owned()))
    }

    /// Says so when the part has no such switch, or the switch no such position.
    pub fn check_position(&mut self, path: &[Step], word: &str, part: (PartId, &str), switch: &str, position: &str) {
        let names = self.names;
        let Some(offers) = names.offers(part.0).filter(|offers| offers.kind_known) else { return };
        let Some(spec) = offers.switches.iter().find(|spec| spec.name == switch) else {
            let message = match offers.switches.as_slice() {
                [] => format!("{} has no switch '{switch}': its kind has none; take this out", part.1),
                some => {
                    let known: Vec<&str> = some.iter().map(|spec| spec.name.as_str()).collect();
                    format!("{} has no switch '{switch}'; it has {}", part.1, known.join(", "))
                }
            };
            self.problem(path, Some(word), &message, Sort::NotInCatalogue);
            return;
        };
        if !spec.positions.iter().any(|known| known == position) {
            let message =
                format!("'{position}' is no position of {}.{switch}; it has {}", part.1, spec.positions.join(", "));
            self.problem(path, Some(position), &message, Sort::NotInCatalogue);
        }
    }

    /// The number, or 0 with a complaint when it is none.
    pub fn finite(&mut self, path: &[Step], value: f64) -> f64 {
        if value.is_finite() {
            return value;
        }
        self.complain(path, None, format!("{value} is no number that can be used; write a plain number"));
        0.0
    }

    /// A number that may not be below zero, nor beyond anything on a machine.
    pub fn not_negative(&mut self, path: &[Step], value: f64) -> f64 {
        let value = self.believable(path, value);
        if value < 0.0 {
            self.complain(path, None, format!("{value} is negative; this cannot be below zero"));
        }
        value
    }

    /// A number that lies above zero.
    pub fn positive(&mut self, path: &[Step], value: f64) -> f64 {
        if value.is_finite() && value <= 0.0 {
            self.complain(path, None, format!("{value} will not do; this lies above zero"));
        }
        self.believable(path, value)
    }

    /// A finite number that is not larger than anything on a machine.
    fn believable(&mut self, path: &[Step], value: f64) -> f64 {
        let value = self.finite(path, value);
        if value > MOST {
            self.complain(path, None, format!("{value:e} is too large to be a real value"));
        }
        value
    }
}

impl Offers {
    fn markings_in_order(&self) -> Vec<&str> {
        let mut all: Vec<&str> = self.markings.iter().map(String::as_str).collect();
        all.sort_unstable();
        all
    }
}
