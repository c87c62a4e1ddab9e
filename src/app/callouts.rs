//! Words beside things on the drawing: each in a frame of its own with a line to what it speaks of, none over another.

use egui::{Align2, FontId, Pos2, Rect, Stroke, StrokeKind, vec2};

use super::canvas::Painting;
use super::marks;
use super::scope::Scope;
use super::theme::{Tint, bold};
use crate::findings::Severity;

/// Not more than so many are written.
const MOST_WRITTEN: usize = 120;

/// How often words give way to others before they are left out; those of a danger give way longer.
const MOST_WAYS: usize = 6;

/// Words to be written: whether they tell of a danger, the place on the screen they speak of, and what they say.
pub type Callout = (bool, Pos2, String);

/// Writes words beside places of the screen.
pub fn write(painting: &Painting<'_>, scope: &Scope<'_>, mut marked: Vec<Callout>) {
    let danger = marks::severity_tint(scope.palette, Severity::Danger);
    // Dangers take their place first.
    marked.sort_by_key(|(is_danger, ..)| !is_danger);
    let mut written: Vec<Rect> = Vec::new();
    let mut left_out = marked.iter().skip(MOST_WRITTEN).filter(|(is_danger, ..)| *is_danger).count();
    for (is_danger, at, words) in marked.into_iter().take(MOST_WRITTEN) {
        let tint = if is_danger { danger } else { Tint { ground: scope.palette.sheet, ink: scope.palette.ink } };
        let font = FontId::new(f32::from(scope.prefs.text_size) - 1.0, bold());
        let galley = painting.painter.layout_no_wrap(words, font, tint.ink);
        let mut rect = Align2::LEFT_BOTTOM.anchor_size(at + vec2(7.0, -7.0), galley.size()).expand(3.0);
        // Inside the canvas, whole.
        let room = painting.screen.shrink(6.0);
        let shift = |from: f32, to: f32, least: f32, most: f32| (most - to).min(0.0) + (least - from).max(0.0);
        rect = rect.translate(vec2(
            shift(rect.left(), rect.right(), room.left(), room.right()),
            shift(rect.top(), rect.bottom(), room.top(), room.bottom()),
        ));
        let mut ways = 0;
        while let Some(other) = written.iter().find(|other| other.intersects(rect)).copied() {
            rect = rect.translate(vec2(0.0, other.bottom() - rect.top() + 2.0));
            ways += 1;
            if ways == MOST_WAYS && !is_danger || ways > 60 {
                break;
            }
        }
        if written.iter().any(|other| other.intersects(rect)) {
            left_out += usize::from(is_danger);
            continue;
        }
        written.push(rect);
        let edge = Stroke::new(1.0, scope.palette.ink);
        painting.painter.line_segment([at, rect.left_center()], edge);
        painting.painter.rect(rect, 2.0, tint.ground, edge, StrokeKind::Inside);
        painting.painter.galley(rect.min + vec2(3.0, 3.0), galley, tint.ink);
    }
    if left_out > 0 {
        let words = format!("DANGER: {left_out} more not written for want of room. Go nearer.");
        let font = FontId::new(f32::from(scope.prefs.text_size), bold());
        let galley = painting.painter.layout_no_wrap(words, font, danger.ink);
        let rect = Align2::LEFT_TOP.anchor_size(painting.screen.left_top() + vec2(8.0, 8.0), galley.size()).expand(3.0);
        painting.painter.rect(rect, 2.0, danger.ground, Stroke::new(1.0, scope.palette.ink), StrokeKind::Inside);
        painting.painter.galley(rect.min + vec2(3.0, 3.0), galley, danger.ink);
    }
}

/// The middle of a line, by its length, of the stretches that can be seen.
pub fn middle(points: &[Pos2], screen: Rect) -> Option<Pos2> {
    let stretches: Vec<(Pos2, Pos2)> = points
        .iter()
        .zip(points.iter().skip(1))
        .map(|(a, b)| (*a, *b))
        .filter(|(a, b)| Rect::from_two_pos(*a, *b).expand(1.0).intersects(screen))
        .collect();
    let length: f32 = stretches.iter().map(|(a, b)| a.distance(*b)).sum();
    let mut left = length / 2.0;
    for (a, b) in &stretches {
        let own = a.distance(*b);
        if own >= left && own > 0.0 {
            let at = a.lerp(*b, left / own);
            return Some(at.clamp(screen.min, screen.max));
        }
        left -= own;
    }
    None
}
