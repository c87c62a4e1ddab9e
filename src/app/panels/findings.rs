//! The findings, worst first: shape, word and number; a press goes to the place.

use egui::Ui;

use super::list;
use super::rows::{self, Mark, Row};
use crate::app::request::{Requests, Show};
use crate::app::scope::Scope;
use crate::app::view::FindingKey;
use crate::app::widgets::faint;
use crate::findings::Severity;
use crate::machine::Verdict;

/// Draws the list of findings.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let findings = scope.results.findings;
    if !scope.results.fresh {
        faint(ui, scope.palette, "Being checked again; these belong to the record as it was a moment ago.");
    }
    if findings.is_empty() {
        if scope.machine.parts.is_empty() && scope.machine.wires.is_empty() {
            list::empty(
                ui,
                scope,
                "Nothing to check yet.",
                "Findings come from the record itself: place parts, draw wires, and what is wrong or doubtful shows here.",
            );
        } else if scope.results.fresh {
            list::empty(
                ui,
                scope,
                "The rules find nothing.",
                "That says nothing about what is not recorded, nor about what no rule looks for. Verify on the machine.",
            );
        }
        return;
    }
    list::search(ui, scope, "word, rule or severity", out);
    if scope.lists.findings.is_empty() {
        list::nothing_found(ui, scope, out);
        return;
    }
    let chosen = scope.view.finding.as_ref();
    // Dangers come first; their words are not cut short.
    let is_danger = |place: &&usize| findings.get(**place).is_some_and(|found| found.severity == Severity::Danger);
    let dangers = scope.lists.findings.iter().take_while(is_danger).count();
    let counts = (dangers, scope.lists.findings.len());
    let shown = scope.lists.findings.iter().take(dangers).filter_map(|&place| findings.get(place));
    let longest = shown.map(|found| found.what.chars().count()).max().unwrap_or(0);
    let lines = [rows::lines(ui, longest).max(2), 2];
    let pressed = rows::show_tall(ui, ("findings", lines), counts, scope.palette, |line| {
        let place = scope.lists.findings[line];
        let Some(finding) = findings.get(place) else {
            return Row::default();
        };
        let aside = match &finding.decision {
            None => "",
            Some(Verdict::Mended) => "mended",
            Some(Verdict::Accepted(_)) => "accepted",
            Some(Verdict::NextVisit) => "next visit",
        };
        let about: Vec<String> = finding.about.iter().take(4).map(|thing| scope.machine.thing_name(thing)).collect();
        Row {
            title: finding.what.clone(),
            detail: format!("{} · {}", finding.severity.word(), about.join(", ")),
            aside: aside.to_owned(),
            mark: Mark::Severity(finding.severity, place + 1),
            selected: chosen.is_some_and(|key| key.rule == finding.rule && key.about == finding.about),
            detail_lines: None,
        }
    });
    if let Some((line, _)) = pressed
        && let Some(finding) = scope.lists.findings.get(line).and_then(|&place| findings.get(place))
    {
        out.show(Show::Finding(FindingKey { rule: finding.rule.to_owned(), about: finding.about.clone() }));
    }
}
