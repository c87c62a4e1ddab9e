//! Verdicts on the drawing, in the stage of removal: what is dead fades, a live stub is marked as a danger, and each says so in words.

use std::collections::BTreeSet;

use egui::{Pos2, Shape, Stroke};

use super::callouts::{self, Callout};
use super::canvas::Painting;
use super::marks;
use super::scope::Scope;
use super::stage::Stage;
use crate::drawing::Scene;
use crate::findings::Severity;
use crate::machine::{Thing, WireId};
use crate::removal::Verdict;

/// Draws the verdicts over the wires; gives what is to be written beside them, over everything else.
pub fn show(painting: &Painting<'_>, scene: &Scene, scope: &Scope<'_>) -> Vec<Callout> {
    let mut marked: Vec<Callout> = Vec::new();
    if scope.view.stage != Stage::Removal {
        return marked;
    }
    let removal = scope.results.removal;
    // A danger stays up until newer verdicts say otherwise; what is said to be none does not.
    let is_shown =
        |verdict: Verdict| verdict == Verdict::LiveStub || verdict != Verdict::InUse && scope.results.removal_fresh;
    let going: BTreeSet<WireId> = removal.going().into_iter().collect();
    let sight = painting.camera.sight(painting.screen);
    let danger = marks::severity_tint(scope.palette, Severity::Danger);
    for (&id, judged) in removal.verdicts.wires.iter().filter(|(_, judged)| is_shown(judged.verdict)) {
        let present = scope.machine.wires.get(id).filter(|wire| wire.is_present());
        let piece = scene.piece_of(&Thing::from(id)).filter(|piece| piece.area.meets(sight));
        let (Some(wire), Some(piece)) = (present, piece) else { continue };
        let Some(plain) = &piece.plain else { continue };
        let points: Vec<Pos2> =
            plain.points.iter().map(|&at| painting.camera.screen_from_canvas(painting.screen, at)).collect();
        #[expect(clippy::cast_possible_truncation, reason = "a width in points")]
        let width = (plain.width_mm * painting.camera.scale) as f32;
        match judged.verdict {
            Verdict::Dead | Verdict::ServesNothingLeft => {
                let ghost = scope.palette.sheet.gamma_multiply(0.72);
                painting.painter.add(Shape::line(points.clone(), Stroke::new(width + 5.0, ghost)));
            }
            Verdict::LiveStub => {
                painting.painter.extend(Shape::dashed_line(
                    &points,
                    Stroke::new((width * 0.5).max(2.0), danger.ground),
                    5.0,
                    5.0,
                ));
            }
            _ => {}
        }
        let at = callouts::middle(&points, painting.screen);
        let on_plan = going.contains(&id);
        let is_open = matches!(judged.verdict, Verdict::CannotBeSaid | Verdict::NotDecided);
        if is_open && !on_plan && !scope.view.selection.has(&Thing::from(id)) {
            // Open questions are many while a record is young: a small mark each, in words in the list.
            if let Some(at) = at {
                let side = f32::from(scope.prefs.text_size) * 1.1;
                painting.painter.circle_filled(at, side * 0.5, scope.palette.sheet);
                marks::verdict(painting.painter, at, side, (judged.verdict, scope.palette.ink), scope.palette);
            }
            continue;
        }
        let mut words = format!("{} {}", wire.key, judged.verdict.words());
        if judged.verdict == Verdict::LiveStub {
            words = format!("DANGER {words}");
        }
        if on_plan {
            words.push_str(" · on the plan");
        }
        if let Some(at) = at {
            marked.push((judged.verdict == Verdict::LiveStub, at, words));
        }
    }
    marked
}
