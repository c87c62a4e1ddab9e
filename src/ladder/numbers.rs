//! Wire numbers: one for each net, found printed or given in reading order.
//!
//! A net ends at every device and nowhere else, so a number changes across every device and stays across splices and
//! terminals (open motor-control textbook; DEVELOPERS.md). What is printed on wires is kept, whatever it is; only nets
//! without a number get one, from 1 in the order a page is read, leaving out what is printed somewhere.

use std::collections::{BTreeMap, BTreeSet};

use crate::machine::{Machine, WireId};

/// A number longer than this is shortened where it is drawn.
const LONGEST: usize = 12;

/// The same where poles stand side by side, and have no more room.
const LONGEST_ON_POLE: usize = 6;

/// The numbers printed on a net's wires: the one on most wires first.
pub(super) fn recorded(machine: &Machine, wires: &[WireId]) -> Vec<String> {
    let mut count: BTreeMap<&str, (usize, usize)> = BTreeMap::new();
    for (at, &wire) in wires.iter().enumerate() {
        let number = machine.wires.get(wire).and_then(|wire| wire.number.as_deref());
        if let Some(number) = number.map(str::trim).filter(|number| !number.is_empty()) {
            count.entry(number).or_insert((0, at)).0 += 1;
        }
    }
    let mut found: Vec<(&str, (usize, usize))> = count.into_iter().collect();
    found.sort_by_key(|&(_, (count, first))| (std::cmp::Reverse(count), first));
    found.into_iter().map(|(number, _)| number.to_owned()).collect()
}

/// Numbers for nets in reading order: what is printed, else the next free one.
pub(super) fn numbers(nets: &[Vec<String>], taken: &BTreeSet<String>) -> Vec<String> {
    let mut next = 0usize;
    nets.iter()
        .map(|recorded| {
            if !recorded.is_empty() {
                return recorded.join("/");
            }
            loop {
                next += 1;
                let number = next.to_string();
                if !taken.contains(&number) {
                    return number;
                }
            }
        })
        .collect()
}

/// A number as it is drawn.
pub(super) fn drawn(number: &str) -> String {
    shortened(number, LONGEST)
}

/// A number as it is drawn at one of several poles side by side.
pub(super) fn drawn_on_pole(number: &str) -> String {
    shortened(number, LONGEST_ON_POLE)
}

/// How many letters of the numbers of these nets are drawn beyond those that every place has room for.
pub(super) fn beyond_usual(machine: &Machine, nets: [&[WireId]; 2]) -> usize {
    let letters = |wires: &[WireId]| recorded(machine, wires).join("/").chars().count().min(LONGEST);
    nets.map(letters).into_iter().max().unwrap_or(0).saturating_sub(LONGEST_ON_POLE)
}

/// At most so many characters, the last of them three dots where something is left out.
pub(super) fn shortened(text: &str, longest: usize) -> String {
    if text.chars().count() <= longest {
        return text.to_owned();
    }
    let kept: String = text.chars().take(longest.saturating_sub(1)).collect();
    format!("{}…", kept.trim_end())
}
