//! What a rule is, and the one list of all of them.

use crate::machine::Thing;

use super::finding::{Finding, Severity};
use super::survey::Survey;
use super::{contacts, earth, ends, feeds, labels, live, numbers, readings, relays, stress, tone, windings};

/// Source text of a rule that rests on trade habit alone.
pub(super) const COMMON_PRACTICE: &str = "common practice, no source";

/// One rule. Its name is kept for ever.
#[derive(Clone, Copy)]
pub struct Rule {
    /// Stable name.
    pub name: &'static str,
    /// Usual severity.
    pub severity: Severity,
    /// What it looks for, in one sentence.
    pub looks_for: &'static str,
    /// Why that matters, in one sentence.
    pub why: &'static str,
    /// Where it comes from, or `common practice, no source`.
    pub source: &'static str,
    /// Names the rule had before; decisions under them still count.
    pub was_called: &'static [&'static str],
    /// Adds what it finds.
    pub(super) find: fn(&Survey, &mut Vec<Finding>),
}

impl Rule {
    /// A finding of this rule with its usual severity.
    pub(super) fn finding(&self, mut about: Vec<Thing>, what: String, do_: impl Into<String>) -> Finding {
        about.sort_unstable();
        about.dedup();
        Finding {
            rule: self.name,
            severity: self.severity,
            about,
            what,
            why: self.why,
            do_: do_.into(),
            source: self.source,
            decision: None,
        }
    }
}

/// Every rule, in the order findings of equal severity are listed.
pub fn rules() -> &'static [Rule] {
    RULES
}

const RULES: &[Rule] = &[
    live::LIVE_LOOSE_END,
    live::SUPPLY_SHORT,
    live::LINE_MEETS_LOW,
    live::OHMS_ON_LIVE,
    readings::VOLTS_WHERE_NONE,
    earth::MISSING_EARTH,
    numbers::EARTH_COLOUR,
    feeds::COIL_VOLTAGE_MISMATCH,
    feeds::LOAD_VOLTAGE_MISMATCH,
    relays::RELAY_CHATTERS,
    contacts::TWO_LOADS,
    feeds::LOAD_WITHOUT_FEED,
    feeds::LOAD_WITHOUT_RETURN,
    feeds::COIL_NEVER_WORKED,
    contacts::DRIVES_NOTHING,
    windings::PINS_MISLABELLED,
    windings::DO_NOT_ADD_UP,
    tone::READING_DISPUTES,
    stress::COIL_UNDERVOLTED,
    stress::PARTIAL_VOLTAGE,
    stress::CONTACT_OVERLOADED,
    stress::FUSE_WOULD_BLOW,
    stress::TRANSFORMER_OVERLOADED,
    stress::WIRE_TOO_SMALL,
    relays::HOLD_IN_WITHOUT_STOP,
    readings::EACH_OTHER,
    readings::GHOST,
    readings::PROVES_NOTHING,
    readings::STALE,
    ends::ORPHAN_WIRE,
    ends::LOOSE_END,
    ends::UNKNOWN_END,
    labels::DUPLICATE_TAG,
    labels::TOO_MANY_WIRES,
    numbers::TWO_NUMBERS,
    numbers::TWO_NETS,
    labels::UNLABELLED_WIRE,
];

#[cfg(test)]
mod tests {
    use std::collections::BTreeSet;

    use super::*;

    #[test]
    fn names_are_kebab_case_and_unique_with_former_ones() {
        let mut seen = BTreeSet::new();
        for rule in rules() {
            for name in [rule.name].iter().chain(rule.was_called) {
                assert!(name.bytes().all(|c| c.is_ascii_lowercase() || c == b'-'), "{name}");
                assert!(seen.insert(*name), "{name} is used twice");
            }
        }
    }

    #[test]
    fn every_rule_says_its_sentences_and_never_promises_safety() {
        for rule in rules() {
            for text in [rule.looks_for, rule.why, rule.source] {
                assert!(!text.is_empty(), "{}", rule.name);
                let lower = text.to_lowercase();
                assert!(!lower.split(|c: char| !c.is_alphabetic()).any(|word| word == "safe"), "{}: {text}", rule.name);
            }
            assert!(rule.looks_for.ends_with('.') && rule.why.ends_with('.'), "{}", rule.name);
        }
    }
}
