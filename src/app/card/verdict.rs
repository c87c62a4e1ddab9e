//! What a wire is by the record, on its card: verdict, reason, proof, what is missing, and what to do about it.

use egui::{RichText, Ui};

use crate::app::marks;
use crate::app::request::{Requests, Show};
use crate::app::scope::Scope;
use crate::app::stage::Stage;
use crate::app::theme::bold;
use crate::app::widgets::{faint, group, name, wrong};
use crate::app::witness;
use crate::machine::{PartId, WireId, WireState};
use crate::removal::{Judged, Verdict};

/// Draws the verdict on a wire, where it is worked out; in the stage of removal also that it is not yet.
pub fn wire(ui: &mut Ui, scope: &Scope<'_>, id: WireId, out: &mut Requests) {
    let Some(wire) = scope.machine.wires.get(id).filter(|wire| wire.is_present()) else { return };
    let Some(judged) = scope.judged(id) else {
        if scope.view.stage == Stage::Removal {
            faint(ui, scope.palette, "Its verdict is being worked out…");
        }
        return;
    };
    one(ui, scope, &wire.key, judged, out);
    if scope.view.stage != Stage::Removal {
        return;
    }
    let is_chosen = scope.view.removing.chosen.contains(&id);
    let words = if is_chosen { "Take off the plan" } else { "Put on the plan" };
    if wire.state == WireState::InPlace || is_chosen {
        let key = ui.button(words);
        name(ui, key.id, &format!("{words}: {}", wire.key));
        if key.clicked() {
            out.show(Show::Choose(vec![id], !is_chosen));
            if !is_chosen {
                out.show(Show::Plan(true));
            }
        }
    }
}

/// Draws the verdict on a part, in the stage of removal.
pub fn part(ui: &mut Ui, scope: &Scope<'_>, id: PartId, out: &mut Requests) {
    if scope.view.stage != Stage::Removal {
        return;
    }
    let judged = scope.results.removal.verdicts.parts.get(&id).filter(|_| scope.results.removal_fresh);
    if let Some(judged) = judged {
        one(ui, scope, scope.machine.part_name(id), judged, out);
    }
}

fn one(ui: &mut Ui, scope: &Scope<'_>, about: &str, judged: &Judged, out: &mut Requests) {
    group(ui, "Whether it may go");
    ui.horizontal(|ui| {
        let side = egui::TextStyle::Body.resolve(ui.style()).size * 1.7;
        let (rect, _) = ui.allocate_exact_size(egui::Vec2::splat(side), egui::Sense::hover());
        marks::verdict(ui.painter(), rect.center(), side, (judged.verdict, scope.palette.ink), scope.palette);
        ui.label(RichText::new(judged.verdict.words().to_uppercase()).family(bold()));
    });
    ui.add(egui::Label::new(judged.reason.as_str()).wrap());
    if judged.verdict == Verdict::LiveStub {
        wrong(ui, scope.palette, judged.verdict.advice());
    } else {
        faint(ui, scope.palette, judged.verdict.advice());
    }
    if let Some(proof) = &judged.proof {
        faint(ui, scope.palette, proof.words());
    }
    for (words, lines) in [("Missing:", &judged.missing), ("Rests on:", &judged.rests_on)] {
        if lines.is_empty() {
            continue;
        }
        ui.label(RichText::new(words).family(bold()));
        for line in lines {
            ui.add(egui::Label::new(line.as_str()).wrap());
        }
    }
    if let Some(shown) = &judged.witness {
        let about = match judged.verdict {
            Verdict::LiveStub => format!("{about} is live"),
            _ => format!("{about} is needed"),
        };
        witness::show(ui, scope, &about, shown, out);
    }
}
