//! Brings findings together with the decisions on them, and into their one order.

use std::collections::BTreeMap;

use crate::machine::{Machine, Thing, Verdict};

use super::finding::Finding;
use super::rule::rules;

/// Puts on each finding what the record last decided on the same rule and the same things.
pub(super) fn put_decisions(machine: &Machine, findings: &mut [Finding]) {
    if machine.decisions.is_empty() {
        return;
    }
    let mut decided: BTreeMap<(&str, Vec<Thing>), &Verdict> = BTreeMap::new();
    for decision in machine.decisions.values() {
        let mut about = decision.about.clone();
        about.sort_unstable();
        about.dedup();
        decided.insert((now_called(&decision.rule), about), &decision.verdict);
    }
    for finding in findings {
        let key = (finding.rule, finding.about.clone());
        finding.decision = decided.get(&key).map(|&verdict| verdict.clone());
    }
}

/// The present name of a rule that a decision may name by a former one.
fn now_called(name: &str) -> &str {
    rules().iter().find(|rule| rule.was_called.contains(&name)).map_or(name, |rule| rule.name)
}

/// Worst first, then in the order of the rules, then of the things in the record.
pub(super) fn put_in_order(findings: &mut Vec<Finding>) {
    let place: BTreeMap<&str, usize> = rules().iter().enumerate().map(|(place, rule)| (rule.name, place)).collect();
    findings.sort_by(|a, b| {
        let key = |f: &Finding| (f.severity, place.get(f.rule).copied());
        key(a).cmp(&key(b)).then_with(|| a.about.cmp(&b.about)).then_with(|| a.what.cmp(&b.what))
    });
    findings.dedup();
}

#[cfg(test)]
mod tests {
    use super::super::check;
    use super::*;
    use crate::catalogue::Catalogue;
    use crate::machine::{Decision, EndAt, Wire, WireEnd};

    fn machine_with_orphan() -> (Machine, Thing) {
        let mut machine = Machine::default();
        let loose = || WireEnd { at: EndAt::Loose, ..WireEnd::default() };
        let id = machine.wires.add(Wire { key: "W1".into(), from: loose(), to: loose(), ..Wire::default() });
        (machine, id.into())
    }

    fn decide(machine: &mut Machine, rule: &str, about: &Thing, verdict: Verdict) {
        let about = vec![about.clone()];
        machine.decisions.add(Decision { rule: rule.into(), about, verdict, when: String::new(), who: String::new() });
    }

    #[test]
    fn an_accepted_finding_is_listed_but_does_not_count() {
        let (mut machine, wire) = machine_with_orphan();
        decide(&mut machine, "orphan-wire", &wire, Verdict::Accepted("it is a spare".into()));
        let findings = check(&machine, &Catalogue::default());
        let orphan = findings.iter().find(|f| f.rule == "orphan-wire").expect("still listed");
        assert!(orphan.is_accepted() && !orphan.counts_at(super::super::Severity::Note));
        assert_eq!(orphan.decision_words().as_deref(), Some("Accepted because it is a spare."));
    }

    #[test]
    fn what_was_mended_and_still_fires_says_so_and_counts() {
        let (mut machine, wire) = machine_with_orphan();
        decide(&mut machine, "orphan-wire", &wire, Verdict::Mended);
        let findings = check(&machine, &Catalogue::default());
        let orphan = findings.iter().find(|f| f.rule == "orphan-wire").expect("listed");
        assert!(orphan.counts_at(super::super::Severity::Doubt));
        assert!(orphan.decision_words().is_some_and(|words| words.contains("still shows it")));
    }

    #[test]
    fn a_decision_on_another_rule_or_thing_changes_nothing() {
        let (mut machine, wire) = machine_with_orphan();
        let bare = check(&machine, &Catalogue::default());
        decide(&mut machine, "loose-end", &wire, Verdict::Mended);
        let other = machine.wires.next_id().into();
        decide(&mut machine, "orphan-wire", &other, Verdict::Mended);
        assert_eq!(check(&machine, &Catalogue::default()), bare);
    }

    #[test]
    fn findings_come_worst_first() {
        let (machine, _) = machine_with_orphan();
        let severities: Vec<_> = check(&machine, &Catalogue::default()).iter().map(|f| f.severity).collect();
        assert!(severities.len() > 1 && severities.is_sorted());
    }
}
