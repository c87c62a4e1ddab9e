//! What is drawn over photos while something is done on them: pins and the path to the pointer, corners, terminals laid, proposed wires.

use std::sync::Arc;

use egui::{Align2, FontId, Pos2, Rect, Shape, Stroke, vec2};

use super::lay::pixel;
use super::route::{nearest, terminal_on, terminals_on};
use super::trace::on_canvas;
use super::{Doing, Trace, apply};
use crate::app::canvas::Painting;
use crate::app::scope::Scope;
use crate::desk::Followed;
use crate::drawing::{Ink, Scene};
use crate::machine::{Photo, Point, Spot, Thing};
use crate::tracing::{Path, PathPoint, PhotoPoint};

/// Points of a path nearer than this on the screen are drawn as one.
const NEAR: f32 = 1.5;

/// The path to the pointer, kept while the pointer stays.
#[derive(Default)]
pub struct Live {
    made_for: Option<(Arc<Followed>, PhotoPoint)>,
    path: Path,
}

impl Live {
    /// Works out the path from the last pin to the pointer, or to the terminal under it: milliseconds, and only when the pointer moved.
    pub fn refresh(&mut self, scope: &Scope<'_>, scene: &Scene, at: Option<Point>, under: Option<&Thing>) {
        let goal = scope.view.on_photo.trace().and_then(|trace| goal(trace, scope, scene, at?, under));
        let Some((followed, goal)) = goal else {
            self.made_for = None;
            self.path.points.clear();
            return;
        };
        let is_made =
            self.made_for.as_ref().is_some_and(|(of, for_goal)| Arc::ptr_eq(of, followed) && *for_goal == goal);
        if let Some(follower) = followed.follower.as_ref().filter(|_| !is_made) {
            self.path = follower.path_to(goal);
            self.made_for = Some((Arc::clone(followed), goal));
        }
    }
}

/// Where the path to the pointer leads, as long as it is to be shown.
fn goal<'a>(
    trace: &Trace,
    scope: &Scope<'a>,
    scene: &Scene,
    at: Point,
    under: Option<&Thing>,
) -> Option<(&'a Arc<Followed>, PhotoPoint)> {
    let followed = scope.photos.followed?;
    let photo = scope.machine.photos.get(trace.photo?)?;
    if trace.wants_grey || Some(followed.asked.photo) != trace.photo {
        return None;
    }
    let goal = match (&trace.ending, under) {
        (Some(super::Ending::Terminal(_, at)), _) => *at,
        (Some(_), _) => return None,
        (None, Some(Thing::Spot(Spot::Terminal(terminal)))) => terminal_on(scene, photo, terminal)?,
        (None, _) => pixel(photo, at)?,
    };
    Some((followed, goal))
}

/// Draws what is done on photos.
pub fn show(painting: &Painting<'_>, scene: &Scene, scope: &Scope<'_>, at: Option<Point>, live: &Live) {
    let on_photo = &scope.view.on_photo;
    let ink = painting.ink(Ink::Chosen);
    if let Some(colour) = &on_photo.colour
        && let Some(grey) = colour.grey
        && let Some(place) = apply::place(scope.machine, colour.photo, grey)
    {
        patch(painting, scope, place);
    }
    match &on_photo.doing {
        Some(Doing::Scale(_, points)) => open_line(painting, points, at.filter(|_| points.len() < 2)),
        Some(Doing::Straighten(_, points)) => {
            let mut corners = points.clone();
            corners.extend(at.filter(|_| points.len() < 4));
            corners.extend((corners.len() > 2).then(|| corners[0]));
            painting.rubber(&corners);
            numbered(painting, scope, points);
        }
        Some(Doing::Join(_, points)) => {
            for pair in points.chunks(2) {
                let to = pair.get(1).copied().or(at);
                painting.rubber(&[Some(pair[0]), to].into_iter().flatten().collect::<Vec<_>>());
            }
            numbered(painting, scope, points);
        }
        Some(Doing::Detail(_, points)) => {
            if let (Some(first), Some(at)) = (points.first(), at) {
                let rect = painting.rect(*first, at);
                painting.painter.rect_stroke(rect, 0.0, Stroke::new(2.0, ink), egui::StrokeKind::Inside);
            }
        }
        Some(Doing::Terminals(part, laid)) => {
            let Some(entry) = scope.machine.parts.get(*part) else { return };
            let body = scope.catalogue.body(entry);
            for (terminal, place) in body.terminals.iter().zip(laid) {
                if let Some(place) = place {
                    painting.ring(*place, ink);
                    label(painting, scope, screen(painting, *place) + vec2(10.0, -10.0), terminal.label());
                }
            }
            if let (Some(next), Some(at)) = (body.terminals.get(laid.len()), at) {
                label(painting, scope, screen(painting, at) + vec2(14.0, -14.0), next.label());
            }
        }
        Some(Doing::Trace(trace)) => tracing(painting, scope, trace, at, live),
        Some(Doing::Grey) | None => {}
    }
    proposed(painting, scene, scope);
}

fn screen(painting: &Painting<'_>, at: Point) -> Pos2 {
    painting.camera.screen_from_canvas(painting.screen, at)
}

fn open_line(painting: &Painting<'_>, points: &[Point], to: Option<Point>) {
    let mut line = points.to_vec();
    line.extend(to.filter(|_| !points.is_empty()));
    painting.rubber(&line);
    for at in points {
        painting.ring(*at, painting.ink(Ink::Chosen));
    }
}

fn numbered(painting: &Painting<'_>, scope: &Scope<'_>, points: &[Point]) {
    for (number, at) in points.iter().enumerate() {
        painting.ring(*at, painting.ink(Ink::Chosen));
        label(painting, scope, screen(painting, *at) + vec2(10.0, -10.0), &(number + 1).to_string());
    }
}

/// Writing beside a place, on a ground of its own.
fn label(painting: &Painting<'_>, scope: &Scope<'_>, at: Pos2, text: &str) {
    let font = FontId::proportional(f32::from(scope.prefs.text_size));
    let galley = painting.painter.layout_no_wrap(text.to_owned(), font, scope.palette.ink);
    let rect: Rect = Align2::LEFT_BOTTOM.anchor_size(at, galley.size()).expand(3.0);
    let inside = painting.screen.shrink(4.0);
    let rect = rect.translate(vec2(
        (inside.right() - rect.right()).min(0.0).max(inside.left() - rect.left()),
        (inside.top() - rect.top()).max(0.0),
    ));
    painting.painter.rect_filled(rect, 2.0, scope.palette.sheet);
    painting.painter.rect_stroke(rect, 2.0, Stroke::new(1.0, scope.palette.line), egui::StrokeKind::Outside);
    painting.painter.galley(rect.min + vec2(3.0, 3.0), galley, scope.palette.ink);
}

/// The place that was said to be grey or white.
fn patch(painting: &Painting<'_>, scope: &Scope<'_>, at: Point) {
    let at = screen(painting, at);
    let square = Rect::from_center_size(at, vec2(14.0, 14.0));
    let painter = painting.painter;
    painter.rect_stroke(square, 0.0, Stroke::new(4.0, painting.ink(Ink::Halo)), egui::StrokeKind::Outside);
    painter.rect_stroke(square, 0.0, Stroke::new(2.0, painting.ink(Ink::Chosen)), egui::StrokeKind::Outside);
    label(painting, scope, at + vec2(12.0, -10.0), "grey");
}

fn tracing(painting: &Painting<'_>, scope: &Scope<'_>, trace: &Trace, at: Option<Point>, live: &Live) {
    let Some(photo) = trace.photo.and_then(|id| scope.machine.photos.get(id)) else { return };
    let ink = painting.ink(Ink::Chosen);
    let mut nothing_followed = true;
    if let Some(followed) = scope.photos.followed.filter(|followed| Some(followed.asked.photo) == trace.photo)
        && followed.follower.is_some()
    {
        path(painting, photo, &followed.path.points);
        path(painting, photo, &live.path.points);
        nothing_followed = false;
        if let Some(follower) = &followed.follower
            && trace.ending.is_none()
            && let Some(last) = live.path.points.last()
            && let Some((_, lands)) = nearest(&terminals_on(scope.machine, photo), last.at, 4.0 * follower.width_px())
        {
            painting.ring(on_canvas(photo, lands), painting.ink(Ink::Pointed));
        }
    }
    if nothing_followed
        && let (Some((_, from)), Some(at)) = (&trace.from, at)
        && trace.pins.is_empty()
    {
        painting.rubber(&[on_canvas(photo, *from), at]);
    }
    if let Some((_, from)) = &trace.from {
        painting.ring(on_canvas(photo, *from), ink);
    }
    for pin in &trace.pins {
        let at = screen(painting, on_canvas(photo, *pin));
        painting.painter.circle(at, 6.0, painting.ink(Ink::Halo), Stroke::new(3.0, ink));
    }
    if let Some(grey) = trace.grey {
        patch(painting, scope, on_canvas(photo, grey));
    }
}

/// A path on a photo: whole where the wire is seen, dashed where it is not.
fn path(painting: &Painting<'_>, photo: &Photo, points: &[PathPoint]) {
    let ink = Stroke::new(3.0, painting.ink(Ink::Chosen));
    let halo = Stroke::new(6.0, painting.ink(Ink::Halo).gamma_multiply(0.8));
    let mut runs: Vec<(bool, Vec<Pos2>)> = Vec::new();
    for pair in points.windows(2) {
        let seen = pair[0].seen && pair[1].seen;
        let [from, to] = [pair[0].at, pair[1].at].map(|at| screen(painting, on_canvas(photo, at)));
        match runs.last_mut() {
            Some((of, run)) if *of == seen => {
                if run.last().is_none_or(|last| last.distance(to) >= NEAR) {
                    run.push(to);
                }
            }
            _ => runs.push((seen, vec![runs.last().and_then(|(_, run)| run.last().copied()).unwrap_or(from), to])),
        }
    }
    for (_, run) in &runs {
        painting.painter.add(Shape::line(run.clone(), halo));
    }
    for (seen, run) in runs {
        if seen {
            painting.painter.add(Shape::line(run, ink));
        } else {
            painting.painter.extend(Shape::dashed_line(&run, ink, 7.0, 6.0));
        }
    }
}

/// The proposed wire that is asked about, as a ghost.
fn proposed(painting: &Painting<'_>, scene: &Scene, scope: &Scope<'_>) {
    let Some(proposals) = scope.view.on_photo.proposed.as_ref().filter(|_| scope.view.on_photo.doing.is_none()) else {
        return;
    };
    let Some(proposed) = proposals.left.first() else { return };
    let Some(photo) = scope.machine.photos.get(proposals.photo) else { return };
    let line: Vec<Pos2> = proposed.path.iter().map(|point| screen(painting, on_canvas(photo, point.at))).collect();
    let mut thin: Vec<Pos2> = Vec::with_capacity(line.len());
    for at in line {
        if thin.last().is_none_or(|last| last.distance(at) >= NEAR) {
            thin.push(at);
        }
    }
    let halo = Stroke::new(8.0, painting.ink(Ink::Halo).gamma_multiply(0.7));
    painting.painter.add(Shape::line(thin.clone(), halo));
    let ink = Stroke::new(4.0, painting.ink(Ink::Chosen));
    painting.painter.extend(Shape::dashed_line(&thin, ink, 9.0, 5.0));
    for end in &proposed.ends {
        if let Some(at) = scene.place_of(&Thing::from(end.clone())) {
            painting.ring(at, painting.ink(Ink::Chosen));
            let name = scope.machine.spot_name(&Spot::Terminal(end.clone()));
            label(painting, scope, screen(painting, at) + vec2(12.0, -12.0), &name);
        }
    }
}
