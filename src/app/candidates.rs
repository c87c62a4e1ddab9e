//! What a mystery that is selected may be, drawn as ghosts: a dashed line from where the lead is to each terminal it may belong on,
//! with the odds beside it.

use egui::{Align2, FontId, Rect, Shape, Stroke, vec2};

use super::canvas::Painting;
use super::panels::percent;
use super::scope::Scope;
use crate::drawing::{Ink, Scene};
use crate::machine::{EndAt, Guess, Machine, Point, Spot, Subject, Thing};

/// Ghosts that are less likely than this are not drawn.
const LEAST_DRAWN: f64 = 0.005;

/// Draws the candidates of the mystery that is selected.
pub fn show(painting: &Painting<'_>, scene: &Scene, scope: &Scope<'_>) {
    let Some(Thing::Mystery(id)) = scope.view.selection.only() else { return };
    let Some(mystery) = scope.machine.mysteries.get(*id) else { return };
    let Some(from) = starts_at(scope.machine, scene, &mystery.subject) else { return };
    let odds = scope.results.identified.of(*id).filter(|_| scope.results.identified_fresh);
    let ink = painting.ink(Ink::Chosen);
    let on_screen = |at: Point| painting.camera.screen_from_canvas(painting.screen, at);
    let size = f32::from(scope.prefs.text_size);
    let mut written: Vec<Rect> = Vec::new();
    for (place, candidate) in mystery.candidates.iter().enumerate() {
        let Guess::Terminal(terminal) = &candidate.guess else { continue };
        let Some(to) = scene.place_of(&Thing::from(Spot::Terminal(terminal.clone()))) else { continue };
        let own = odds.and_then(|odds| odds.candidates.get(place)).map(|one| one.odds);
        if own.is_some_and(|own| own < LEAST_DRAWN) {
            continue;
        }
        #[expect(clippy::cast_possible_truncation, reason = "a width in points")]
        let width = 1.0 + 3.0 * own.unwrap_or(0.3) as f32;
        let ends = [on_screen(from), on_screen(to)];
        painting.painter.extend(Shape::dashed_line(&ends, Stroke::new(width, ink), 6.0, 5.0));
        painting.ring(to, ink);
        if let Some(own) = own {
            let at = ends[1] + vec2(8.0, -8.0);
            let text = percent(own);
            let font = FontId::proportional(size);
            let galley = painting.painter.layout_no_wrap(text, font, scope.palette.ink);
            let mut rect = Align2::LEFT_BOTTOM.anchor_size(at, galley.size()).expand(2.0);
            while let Some(other) = written.iter().find(|other| other.intersects(rect)) {
                rect = rect.translate(vec2(0.0, other.top() - rect.bottom() - 1.0));
            }
            written.push(rect);
            painting.painter.rect_filled(rect, 2.0, scope.palette.sheet);
            painting.painter.galley(rect.min + vec2(2.0, 2.0), galley, scope.palette.ink);
        }
    }
}

/// Where the ghosts begin: at the end that is not known where it lies somewhere, else at the other end; at the part or terminal.
fn starts_at(machine: &Machine, scene: &Scene, subject: &Subject) -> Option<Point> {
    let spot = match subject {
        Subject::End(wire, side) => {
            let entry = machine.wires.get(*wire)?;
            let lies = entry.end(*side).place.is_some() || matches!(entry.end(*side).at, EndAt::Loose);
            if lies { Spot::End(*wire, *side) } else { Spot::End(*wire, side.other()) }
        }
        Subject::CoilDriver(part) | Subject::Kind(part) => Spot::Part(*part),
        Subject::ContactForm(terminal) => Spot::Terminal(terminal.clone()),
        Subject::Fault(spot) => spot.clone(),
    };
    scene.place_of(&Thing::from(spot))
}
