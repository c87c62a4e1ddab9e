//! Reads a drawn ladder back: lines, dots and numbers as they lie on the paper, with code of its own.

use std::collections::{BTreeMap, BTreeSet};

use wirewitness::catalogue::{Catalogue, Element, Family};
use wirewitness::drawing::{Ink, Layer, Shape};
use wirewitness::ladder::Ladder;
use wirewitness::machine::{Machine, PartId, Point, Side, TerminalRef};

type Spot = (i64, i64);

#[allow(clippy::cast_possible_truncation, reason = "a drawing is a few metres at most")]
fn whole(point: Point) -> Spot {
    ((point.x * 1000.0).round() as i64, (point.y * 1000.0).round() as i64)
}

/// Classes that only ever merge.
#[derive(Default)]
pub struct Classes(Vec<usize>);

impl Classes {
    pub fn new(n: usize) -> Self {
        Self((0..n).collect())
    }

    pub fn root(&mut self, mut a: usize) -> usize {
        while self.0[a] != a {
            self.0[a] = self.0[self.0[a]];
            a = self.0[a];
        }
        a
    }

    pub fn join(&mut self, a: usize, b: usize) {
        let (a, b) = (self.root(a), self.root(b));
        self.0[a.max(b)] = a.min(b);
    }
}

/// A line on the paper, level or upright.
#[derive(Clone, Copy)]
struct Line {
    a: Spot,
    b: Spot,
}

impl Line {
    fn is_level(&self) -> bool {
        self.a.1 == self.b.1
    }

    fn has_end(&self, at: Spot) -> bool {
        self.a == at || self.b == at
    }

    /// Strictly between its ends.
    fn runs_through(&self, at: Spot) -> bool {
        let between = |low: i64, x: i64, high: i64| low.min(high) < x && x < low.max(high);
        if self.is_level() {
            at.1 == self.a.1 && between(self.a.0, at.0, self.b.0)
        } else {
            at.0 == self.a.0 && between(self.a.1, at.1, self.b.1)
        }
    }

    fn touches(&self, at: Spot) -> bool {
        self.has_end(at) || self.runs_through(at)
    }
}

/// What the lines on the paper hold together.
pub struct Read {
    /// The class of each device's two ends.
    pub device_ends: Vec<[usize; 2]>,
    /// The class of each section's poles.
    pub poles: Vec<Vec<usize>>,
    /// Numbers written at the lines of a class.
    pub numbers: BTreeMap<usize, BTreeSet<String>>,
    /// Crossings without a dot.
    pub crossings: usize,
}

/// Reads the drawing. Fails where it cannot be read: a line that ends on another without a dot, lines on top of one another.
pub fn read(ladder: &Ladder) -> Read {
    let mut lines: Vec<Line> = Vec::new();
    let mut dots: BTreeSet<Spot> = BTreeSet::new();
    let mut numbers: Vec<(Spot, String)> = Vec::new();
    for (_, item) in ladder.scene().items() {
        match &item.shape {
            Shape::Line { points, .. } if item.layer == Layer::Wires => {
                lines.extend(points.windows(2).map(|two| Line { a: whole(two[0]), b: whole(two[1]) }));
            }
            Shape::Disc { at, fill: Some(Ink::Line), .. } if item.layer == Layer::Ends => {
                dots.insert(whole(*at));
            }
            Shape::Text { at, text, ink: Ink::Note, .. } => numbers.push((whole(*at), text.clone())),
            _ => {}
        }
    }
    let mut classes = Classes::new(lines.len());
    let mut ends: BTreeMap<Spot, Vec<usize>> = BTreeMap::new();
    let mut level: BTreeMap<i64, Vec<usize>> = BTreeMap::new();
    let mut upright: BTreeMap<i64, Vec<usize>> = BTreeMap::new();
    for (at, line) in lines.iter().enumerate() {
        assert!(line.a.0 == line.b.0 || line.a.1 == line.b.1, "a slanted line");
        assert_ne!(line.a, line.b, "a line without length");
        ends.entry(line.a).or_default().push(at);
        ends.entry(line.b).or_default().push(at);
        if line.is_level() {
            level.entry(line.a.1).or_default().push(at);
        } else {
            upright.entry(line.a.0).or_default().push(at);
        }
    }
    let through = |at: Spot| -> Vec<usize> {
        let same = level.get(&at.1).into_iter().flatten().chain(upright.get(&at.0).into_iter().flatten());
        same.copied().filter(|&line| lines[line].runs_through(at)).collect()
    };
    for (&at, here) in &ends {
        for two in here.windows(2) {
            classes.join(two[0], two[1]);
        }
        for other in through(at) {
            assert!(dots.contains(&at), "a line ends on another at {at:?} without a dot");
            classes.join(here[0], other);
        }
        if here.len() + 2 * through(at).len() >= 3 {
            assert!(dots.contains(&at), "three lines meet at {at:?} without a dot");
        }
    }
    // A dot joins whatever runs through it.
    for &dot in &dots {
        let mut here = through(dot);
        here.extend(ends.get(&dot).into_iter().flatten());
        assert!(here.len() >= 2, "a dot on nothing at {dot:?}");
        for two in here.windows(2) {
            classes.join(two[0], two[1]);
        }
    }
    // Lines that lie on top of one another would be one line to a reader.
    for tracks in [&level, &upright] {
        for on in tracks.values() {
            let mut spans: Vec<(i64, i64, usize)> = on
                .iter()
                .map(|&at| {
                    let (a, b) = (lines[at].a, lines[at].b);
                    let (a, b) = if lines[at].is_level() { (a.0, b.0) } else { (a.1, b.1) };
                    (a.min(b), a.max(b), at)
                })
                .collect();
            spans.sort_unstable();
            let mut reach: Option<(i64, usize)> = None;
            for (from, to, at) in spans {
                if let Some((end, other)) = reach
                    && from < end
                {
                    assert_eq!(
                        classes.root(at),
                        classes.root(other),
                        "lines of two nets lie on one another from {:?} to {:?}",
                        lines[at].a,
                        lines[at].b
                    );
                }
                reach = Some(reach.map_or((to, at), |(end, other)| if to > end { (to, at) } else { (end, other) }));
            }
        }
    }
    let mut crossings = 0;
    for line in lines.iter().filter(|line| line.is_level()) {
        let (left, right) = (line.a.0.min(line.b.0), line.a.0.max(line.b.0));
        for (&x, on) in upright.range(left + 1..right) {
            let at = (x, line.a.1);
            let crosses = on.iter().any(|&other| lines[other].runs_through(at));
            crossings += usize::from(crosses && !dots.contains(&at));
        }
    }
    let mut next = lines.len();
    let mut class_at = |classes: &mut Classes, at: Spot| {
        let line = ends.get(&at).map(|here| here[0]).or_else(|| through(at).first().copied());
        line.map_or_else(
            || {
                next += 1;
                next - 1
            },
            |line| classes.root(line),
        )
    };
    let device_ends = ladder
        .devices
        .iter()
        .map(|device| device.ends.each_ref().map(|end| class_at(&mut classes, whole(end.at))))
        .collect();
    let poles = ladder
        .sections
        .iter()
        .map(|section| section.poles.iter().map(|pole| class_at(&mut classes, whole(pole.at))).collect())
        .collect();
    let mut found: BTreeMap<usize, BTreeSet<String>> = BTreeMap::new();
    for (at, number) in numbers {
        // Written 0.7 mm above a level line, or 1.3 mm beside and below a pole.
        let above = lines.iter().position(|line| line.is_level() && line.touches((at.0, at.1 + 700)));
        let beside = [-1300, 1300].iter().find_map(|dx| ends.get(&(at.0 + dx, at.1 - 1300)).map(|here| here[0]));
        let line = above.or(beside).unwrap_or_else(|| panic!("number {number} at {at:?} belongs to no line"));
        found.entry(classes.root(line)).or_default().insert(number);
    }
    Read { device_ends, poles, numbers: found, crossings }
}

/// Nets of the record: wires that are landed, and conductors inside parts, but for the ways through protection.
pub struct Nets {
    number: BTreeMap<TerminalRef, usize>,
    classes: Classes,
}

impl Nets {
    pub fn of(machine: &Machine, catalogue: &Catalogue) -> Self {
        let mut nets = Self { number: BTreeMap::new(), classes: Classes::default() };
        for wire in machine.wires.values() {
            let capped = wire.state == wirewitness::machine::WireState::CappedOff;
            if let (Some(from), Some(to)) = (wire.landed(Side::From), wire.landed(Side::To))
                && !capped
            {
                nets.join(from, to);
            }
        }
        for (id, part) in machine.parts.iter() {
            let protects = catalogue.kind(&part.kind).is_some_and(|kind| kind.family == Family::Protection);
            for element in catalogue.body(part).elements {
                if let Element::Join { ends } = element
                    && !protects
                    && part.mounting != wirewitness::machine::Mounting::Missing
                {
                    nets.join(&TerminalRef::new(id, ends.0.as_str()), &TerminalRef::new(id, ends.1.as_str()));
                }
            }
        }
        nets
    }

    fn at(&mut self, terminal: &TerminalRef) -> usize {
        if let Some(&at) = self.number.get(terminal) {
            return at;
        }
        let at = self.classes.0.len();
        self.classes.0.push(at);
        self.number.insert(terminal.clone(), at);
        at
    }

    fn join(&mut self, a: &TerminalRef, b: &TerminalRef) {
        let (a, b) = (self.at(a), self.at(b));
        self.classes.join(a, b);
    }

    pub fn net(&mut self, terminal: &TerminalRef) -> usize {
        let at = self.at(terminal);
        self.classes.root(at)
    }
}

/// Holds the drawing to the record: the same ends are joined, net by net. A net drawn in several pieces has one number at all of
/// them. Returns the crossings.
pub fn assert_reads_back(machine: &Machine, catalogue: &Catalogue, ladder: &Ladder, name: &str) -> usize {
    let read = read(ladder);
    let mut nets = Nets::of(machine, catalogue);
    let mut net_of_class: BTreeMap<usize, usize> = BTreeMap::new();
    let mut pieces: BTreeMap<usize, BTreeSet<usize>> = BTreeMap::new();
    let mut see = |class: usize, terminal: &TerminalRef| {
        let net = nets.net(terminal);
        let held = *net_of_class.entry(class).or_insert(net);
        assert_eq!(held, net, "{name}: {} is drawn on another net", machine.terminal_name(terminal));
        pieces.entry(net).or_default().insert(class);
    };
    for (device, classes) in ladder.devices.iter().zip(&read.device_ends) {
        for (end, &class) in device.ends.iter().zip(classes) {
            see(class, &end.terminal);
        }
    }
    for (section, classes) in ladder.sections.iter().zip(&read.poles) {
        for (pole, &class) in section.poles.iter().zip(classes) {
            see(class, &pole.terminal);
        }
    }
    for (class, numbers) in &read.numbers {
        assert_eq!(numbers.len(), 1, "{name}: a net has the numbers {numbers:?}, class {class}");
    }
    for classes in pieces.values().filter(|classes| classes.len() > 1) {
        let numbers: BTreeSet<_> = classes.iter().map(|class| read.numbers.get(class)).collect();
        assert!(
            numbers.len() == 1 && !numbers.contains(&None),
            "{name}: a net in pieces without one number: {numbers:?}"
        );
    }
    assert_eq!(read.crossings, ladder.crossings, "{name}: crossings as counted by the layout");
    read.crossings
}

/// Every element of every part is on the ladder or on the list of what is not, once.
pub fn assert_nothing_lost(machine: &Machine, catalogue: &Catalogue, ladder: &Ladder, name: &str) -> usize {
    let mut seen: BTreeMap<(PartId, usize), usize> = BTreeMap::new();
    for device in &ladder.devices {
        for &element in &device.elements {
            *seen.entry((device.part, element)).or_default() += 1;
        }
    }
    for off in &ladder.off {
        if let wirewitness::machine::Thing::Spot(wirewitness::machine::Spot::Part(part)) = off.of {
            for &element in &off.elements {
                *seen.entry((part, element)).or_default() += 1;
            }
        }
    }
    let mut elements = 0;
    let mut nets = Nets::of(machine, catalogue);
    for (id, part) in machine.parts.iter() {
        if part.mounting == wirewitness::machine::Mounting::Missing {
            assert!(ladder.off.iter().any(|off| off.of == id.into()), "{name}: {} is missing and not listed", part.tag);
            continue;
        }
        let protects = catalogue.kind(&part.kind).is_some_and(|kind| kind.family == Family::Protection);
        for (at, element) in catalogue.body(part).elements.iter().enumerate() {
            let count = seen.get(&(id, at)).copied().unwrap_or(0);
            let wanted = match element {
                Element::Earth { .. } => 0,
                Element::Join { .. } => usize::from(protects),
                // What feeds it and what it gives.
                Element::Transformer { .. } | Element::DcSupply { .. } => 2,
                // Its poles are drawn, or it is listed.
                Element::Source { ends, .. } if count == 0 => {
                    let own = [&ends.0, &ends.1].map(|end| nets.net(&TerminalRef::new(id, end.as_str())));
                    let poles = ladder.sections.iter().flat_map(|section| &section.poles);
                    let drawn = poles.into_iter().any(|pole| own.contains(&nets.net(&pole.terminal)));
                    usize::from(!drawn)
                }
                _ => 1,
            };
            assert_eq!(count, wanted, "{name}: {} {element:?}", part.tag);
            elements += wanted;
        }
    }
    for (id, wire) in machine.wires.iter().filter(|(_, wire)| wire.is_present()) {
        let drawn = ladder.nets.iter().any(|net| net.wires.contains(&id));
        let listed = ladder.off.iter().any(|off| off.of == id.into());
        assert!(drawn || listed, "{name}: wire {} is neither drawn nor listed", wire.key);
    }
    elements
}
