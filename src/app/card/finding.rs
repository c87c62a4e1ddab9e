//! The card of a finding: what, why, what to do, what it is about, and what was decided.

use std::sync::Arc;

use egui::{Sense, Ui, vec2};

use crate::app::marks;
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::widgets::{Field, faint, field, group, strong, wrong};
use crate::findings::Finding;
use crate::machine::{Change, Decision, DecisionId, Edit, Verdict};

/// Draws the card of a finding.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, number: usize, finding: &Finding, out: &mut Requests) {
    ui.horizontal_top(|ui| {
        let side = 34.0;
        let (rect, _) = ui.allocate_exact_size(vec2(side, side), Sense::hover());
        marks::severity(ui.painter(), rect.center(), side, finding.severity, number, scope.palette);
        ui.vertical(|ui| {
            strong(ui, format!("{}, finding {number}", finding.severity.word().to_uppercase()));
            ui.add(egui::Label::new(finding.what.as_str()).wrap());
        });
    });
    group(ui, "Why it matters");
    ui.add(egui::Label::new(finding.why).wrap());
    group(ui, "What to do");
    ui.add(egui::Label::new(finding.do_.as_str()).wrap());
    group(ui, "It is about");
    ui.horizontal_wrapped(|ui| {
        for thing in &finding.about {
            if ui.button(scope.machine.thing_name(thing)).clicked() {
                out.show(crate::app::request::Show::GoTo(vec![thing.clone()]));
            }
        }
    });
    decide(ui, scope, finding, out);
    group(ui, "Source");
    faint(ui, scope.palette, finding.source);
    faint(ui, scope.palette, format!("rule {}", finding.rule));
}

fn decide(ui: &mut Ui, scope: &Scope<'_>, finding: &Finding, out: &mut Requests) {
    group(ui, "Decision");
    if let Some(words) = finding.decision_words() {
        strong(ui, words);
    }
    let text_id = ui.scope_id().with(("because", finding.rule, &finding.about));
    let now = match &finding.decision {
        Some(Verdict::Accepted(because)) => because.clone(),
        _ => String::new(),
    };
    let because: String = ui.data(|data| data.get_temp(text_id)).unwrap_or(now);
    ui.horizontal_wrapped(|ui| {
        if ui
            .button("Mended")
            .on_hover_text("It was put right on the machine; correct the record too, or it comes back")
            .clicked()
        {
            out.edit(decision(scope, finding, Verdict::Mended));
        }
        if ui.button("Next visit").clicked() {
            out.edit(decision(scope, finding, Verdict::NextVisit));
        }
        let accept = ui.add_enabled(!because.trim().is_empty(), egui::Button::new("Accept, because"));
        if accept.on_disabled_hover_text("Write the reason below first").clicked() {
            out.edit(decision(scope, finding, Verdict::Accepted(because.trim().to_owned())));
            ui.data_mut(|data| data.remove::<String>(text_id));
        }
        if finding.decision.is_some() && ui.button("Open again").clicked() {
            out.edit(reopen(scope, finding));
        }
    });
    let written = field(
        ui,
        ("because", finding.rule, &finding.about),
        Field::new("Because", &because).hint("the reason").known_as("Reason for accepting").lines(2),
    );
    if let Some(text) = written.changed {
        ui.data_mut(|data| data.insert_temp(text_id, text));
    }
    if finding.severity == crate::findings::Severity::Danger {
        wrong(
            ui,
            scope.palette,
            "A danger can hurt a person or start a fire. Accepting it changes nothing on the machine.",
        );
    }
}

fn decided(scope: &Scope<'_>, finding: &Finding) -> Option<DecisionId> {
    scope
        .machine
        .decisions
        .iter()
        .find(|(_, decision)| decision.rule == finding.rule && decision.about == finding.about)
        .map(|(id, _)| id)
}

fn decision(scope: &Scope<'_>, finding: &Finding, verdict: Verdict) -> Edit {
    let id = decided(scope, finding).unwrap_or_else(|| scope.machine.decisions.next_id());
    let decision = Decision {
        rule: finding.rule.to_owned(),
        about: finding.about.clone(),
        verdict,
        when: scope.now.to_owned(),
        who: scope.prefs.who.clone(),
    };
    Edit::one(format!("Decide on {}", finding.rule), Change::Decision(id, Some(Arc::new(decision))))
}

fn reopen(scope: &Scope<'_>, finding: &Finding) -> Edit {
    decided(scope, finding)
        .map_or_else(Edit::default, |id| Edit::one(format!("Open {} again", finding.rule), Change::Decision(id, None)))
}
