//! Rules on the three pins of a motor with a run and a start winding: what the ohms between them say of their marks.
//!
//! The common joins the two windings, so across run and start lie both in series: that reading is the highest, and the sum of
//! the other two. Where the highest is across two other pins, the marks are wrong.

use std::collections::BTreeMap;

use crate::catalogue::{Body, Element};
use crate::circuit::electric::Agreement;
use crate::machine::{ConditionId, PartId, Reading, ReadingId, Spot, Thing};
use crate::quantity::Value;

use super::finding::{Finding, Severity};
use super::rule::Rule;
use super::survey::Survey;

const SUM: &str = "service texts: R to S reads C to R plus C to S and is the highest; a reported fan read 163, 73 and 89 Ω (in our words)";

pub(super) const PINS_MISLABELLED: Rule = Rule {
    name: "compressor-pins-mislabelled",
    severity: Severity::Fault,
    looks_for: "A motor with run and start winding whose highest ohms reading is not between the pins marked run and start.",
    why: "Connected by these marks, a winding gets the wrong voltage; and a good motor is called bad.",
    source: SUM,
    was_called: &[],
    find: pins_mislabelled,
};

pub(super) const DO_NOT_ADD_UP: Rule = Rule {
    name: "windings-do-not-add-up",
    severity: Severity::Doubt,
    looks_for: "Ohms readings between the three pins of a motor that two windings with a common do not give.",
    why: "Something else lies across the pins, a winding or the overload is open, or one of the readings is wrong.",
    source: SUM,
    was_called: &[],
    find: do_not_add_up,
};

/// By how much the highest reading may miss the sum of the others: a share of it (meter), and ohms (the two readings of the sum
/// have the leads in them once more than the one; leads are 0.2 to 0.5 Ω by the manuals).
const MISS_SHARE: f64 = 0.05;
const MISS_OHMS: f64 = 0.5;
/// By how much the highest must lie above the second, in ohms, to be called the highest (common practice, no source).
const CLEARLY_OHMS: f64 = 0.1;

/// The pins of a motor with two windings, by their marks.
#[derive(Clone, Copy, PartialEq, Eq)]
enum Pin {
    Common,
    Run,
    Start,
}

/// The three ways to put a meter on, and the pin each leaves out.
const PAIRS: [([Pin; 2], Pin); 3] = [
    ([Pin::Common, Pin::Run], Pin::Start),
    ([Pin::Common, Pin::Start], Pin::Run),
    ([Pin::Run, Pin::Start], Pin::Common),
];

/// The markings of the three pins.
struct Marks<'a> {
    common: &'a str,
    run: &'a str,
    start: &'a str,
}

impl<'a> Marks<'a> {
    /// Of a part with exactly one run and one start winding that meet in a terminal, or behind one contact or protector.
    fn of(body: &'a Body) -> Option<Self> {
        let winding = |wanted: &str| {
            let mut all = body.elements.iter().filter_map(|element| match element {
                Element::Winding { name, ends } if name == wanted => Some(ends),
                _ => None,
            });
            all.next().filter(|_| all.next().is_none())
        };
        let (run, start) = (winding("run")?, winding("start")?);
        let [(joint, run), (own, start)] = [run, start].map(|(first, second)| (first.as_str(), second.as_str()));
        let is_terminal = |marking: &str| body.terminal(marking).is_some();
        if joint != own || !is_terminal(run) || !is_terminal(start) {
            return None;
        }
        let behind = |element: &'a Element| match element {
            Element::Contact { ends, .. } | Element::Fuse { ends } if ends.0 == joint => Some(ends.1.as_str()),
            Element::Contact { ends, .. } | Element::Fuse { ends } if ends.1 == joint => Some(ends.0.as_str()),
            _ => None,
        };
        let common = if is_terminal(joint) { joint } else { body.elements.iter().find_map(behind)? };
        is_terminal(common).then_some(Self { common, run, start })
    }

    fn mark(&self, pin: Pin) -> &'a str {
        match pin {
            Pin::Common => self.common,
            Pin::Run => self.run,
            Pin::Start => self.start,
        }
    }

    fn pin(&self, marking: &str) -> Option<Pin> {
        [Pin::Common, Pin::Run, Pin::Start].into_iter().find(|&pin| self.mark(pin) == marking)
    }
}

/// The last ohms reading between each two pins of one part in one condition, in the order of [`PAIRS`].
struct Three<'a> {
    part: PartId,
    marks: Marks<'a>,
    readings: [(ReadingId, &'a Reading); 3],
}

impl Three<'_> {
    /// Ohms; `None` is OL.
    fn ohms(&self) -> [Option<f64>; 3] {
        self.readings.map(|(_, reading)| match reading.value {
            Value::Ohms(ohms) => Some(ohms),
            _ => None,
        })
    }

    fn about(&self) -> Vec<Thing> {
        let readings = self.readings.iter().map(|(id, _)| Thing::Reading(*id));
        readings.chain([Thing::from(self.part)]).collect()
    }

    /// `163 Ω from C to S`.
    fn words(&self, pair: usize) -> String {
        let [a, b] = PAIRS[pair].0.map(|pin| self.marks.mark(pin)); // a pair is one of the three
        format!("{} from {a} to {b}", self.readings[pair].1.value)
    }

    fn all_words(&self) -> String {
        format!("{}, {} and {}", self.words(0), self.words(1), self.words(2))
    }
}

/// Every part with three such readings. Readings in conditions with a source on say nothing of ohms and are left out.
fn threes<'a>(survey: &Survey<'a>) -> Vec<Three<'a>> {
    type Found<'a> = [Option<(ReadingId, &'a Reading)>; 3];
    let mut by_place: BTreeMap<(PartId, Option<ConditionId>), Found<'a>> = BTreeMap::new();
    for (id, reading) in survey.machine.readings.iter() {
        let (Spot::Terminal(red), Some(Spot::Terminal(black))) = (&reading.red, &reading.black) else { continue };
        let dead = reading.condition.is_none_or(|at| survey.machine.setting(at).sources_on.is_empty());
        if red.part != black.part || !dead || !matches!(reading.value, Value::Ohms(_) | Value::OverLimit) {
            continue;
        }
        let Some(marks) = survey.bodies.get(&red.part).and_then(|body| Marks::of(body)) else { continue };
        let ends = [red, black].map(|terminal| marks.pin(terminal.marking.as_str()));
        let [Some(a), Some(b)] = ends else { continue };
        let Some(pair) = PAIRS.iter().position(|(ends, _)| a != b && ends.contains(&a) && ends.contains(&b)) else {
            continue;
        };
        let found = &mut by_place.entry((red.part, reading.condition)).or_default()[pair];
        if found.is_none_or(|(_, before)| before.when <= reading.when) {
            *found = Some((id, reading));
        }
    }
    by_place
        .into_iter()
        .filter_map(|((part, _), found)| {
            let [Some(a), Some(b), Some(c)] = found else { return None };
            let marks = survey.bodies.get(&part).and_then(|body| Marks::of(body))?;
            Some(Three { part, marks, readings: [a, b, c] })
        })
        .collect()
}

/// The pair with the highest ohms, where it is the sum of the others within what meters and leads do. `Err`: it is not.
fn highest(ohms: [f64; 3]) -> Result<Option<usize>, ()> {
    let mut order = [0, 1, 2];
    order.sort_by(|&a, &b| ohms[b].total_cmp(&ohms[a])); // a and b are places in `ohms`
    let [first, second, third] = order.map(|place| ohms[place]);
    if (second + third - first).abs() > MISS_SHARE * first + MISS_OHMS {
        return Err(());
    }
    Ok((first - second >= CLEARLY_OHMS).then_some(order[0]))
}

fn pins_mislabelled(survey: &Survey, out: &mut Vec<Finding>) {
    for three in threes(survey) {
        let [Some(a), Some(b), Some(c)] = three.ohms() else { continue };
        let ohms = [a, b, c];
        let Ok(Some(pair)) = highest(ohms) else { continue };
        let (ends, common) = PAIRS[pair];
        if common == Pin::Common {
            continue;
        }
        // From the real common, the run winding usually has the fewer ohms.
        let from_common = |pin: Pin| {
            PAIRS.iter().position(|(ends, _)| ends.contains(&common) && ends.contains(&pin)).map_or(0.0, |at| ohms[at])
        };
        let [one, other] = ends;
        let (run, start) = if from_common(one) <= from_common(other) { (one, other) } else { (other, one) };
        let mark = |pin| three.marks.mark(pin);
        out.push(PINS_MISLABELLED.finding(
            three.about(),
            format!(
                "{} reads {}: the highest is across {} and {}, so the pin marked {} is where the two windings meet.",
                survey.part_words(three.part),
                three.all_words(),
                mark(ends[0]),
                mark(ends[1]),
                mark(common),
            ),
            format!(
                "Take the leads and any start device off the three pins, with the absence of voltage verified, and read again; if it stays \
                 so, take {} for C, {} for R and {} for S (the start winding has more ohms as a rule, not always).",
                mark(common),
                mark(run),
                mark(start),
            ),
        ));
    }
}

fn do_not_add_up(survey: &Survey, out: &mut Vec<Finding>) {
    for three in threes(survey) {
        let ohms = three.ohms();
        let open: Vec<usize> = (0..3).filter(|&pair| ohms[pair].is_none()).collect();
        let what = match (ohms, open.as_slice()) {
            ([Some(a), Some(b), Some(c)], _) if highest([a, b, c]).is_err() => {
                format!("the highest is not the sum of the other two{}", end_of_sum([a, b, c]))
            }
            // An open way to one pin shows as OL in both readings there. Where the record has it so, all is said.
            (_, &[one, other]) if !agree(survey, &three, &open) => {
                let shared = PAIRS[one].0.into_iter().find(|pin| PAIRS[other].0.contains(pin));
                let Some(shared) = shared else { continue };
                format!("the way to the pin marked {} is open inside", three.marks.mark(shared))
            }
            (_, &[_]) => "two pins that both reach the third cannot be open to one another".to_owned(),
            _ => continue,
        };
        let do_ = if open.len() == 2 {
            "Let the motor cool for an hour or more, take the leads off its pins with the absence of voltage verified, and read again: a \
             tripped internal overload closes by itself, a winding that is broken stays open."
        } else {
            "Take the leads and any start device, capacitor and overload off the three pins, with the absence of voltage verified, and \
             read all three again with the same meter."
        };
        out.push(DO_NOT_ADD_UP.finding(
            three.about(),
            format!("{} reads {}: {what}.", survey.part_words(three.part), three.all_words()),
            do_,
        ));
    }
}

/// ` (89 Ω and 73 Ω make 162 Ω)`.
fn end_of_sum(mut ohms: [f64; 3]) -> String {
    ohms.sort_by(f64::total_cmp);
    let [third, second, _] = ohms;
    let [second, third, sum] = [second, third, second + third].map(|ohms| Value::Ohms(ohms).to_string());
    format!(" ({second} and {third} make {sum})")
}

/// Whether the record expects each of these readings.
fn agree(survey: &Survey, three: &Three, pairs: &[usize]) -> bool {
    pairs.iter().all(|&pair| {
        let judged = survey.levels.judgement.readings.get(&three.readings[pair].0);
        judged.is_some_and(|judged| judged.agreement == Agreement::Agrees)
    })
}
