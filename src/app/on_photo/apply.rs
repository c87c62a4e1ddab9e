//! Carries out what is asked for on photos.

use std::sync::Arc;

use super::lay::{self, length_mm, photo_at, pixel};
use super::trace::{on_canvas, photo_name};
use super::{Doing, Ending, PhotoRequest, Trace, detail};
use crate::app::changes;
use crate::app::selection::Selection;
use crate::app::shell::Shell;
use crate::drawing::Area;
use crate::machine::{Edit, PhotoId, Placement, Point, TerminalRef, Thing, WireId};
use crate::tracing::PhotoPoint;

pub(super) const NOT_WHOLE: &str = "This photo is still being read. Wait a moment, then click again.";

impl Shell {
    /// Carries out one request.
    pub(in crate::app) fn on_photo(&mut self, request: PhotoRequest) {
        self.view.on_photo.says.clear();
        match request {
            PhotoRequest::Begin(doing) => self.begin_on_photo(doing),
            PhotoRequest::Click(at, under) => self.click_on_photo(at, under),
            PhotoRequest::Back => self.back_on_photo(),
            PhotoRequest::Skip => {
                if let Some(Doing::Terminals(_, laid)) = &mut self.view.on_photo.doing {
                    laid.push(None);
                    self.lay_terminals_when_whole();
                }
            }
            PhotoRequest::Finish => self.finish_on_photo(),
            PhotoRequest::FinishLoose => self.end_trace(Ending::Loose),
            PhotoRequest::Grey => match &mut self.view.on_photo.doing {
                Some(Doing::Trace(trace)) => trace.wants_grey = !trace.wants_grey,
                Some(_) => {}
                None => self.view.on_photo.doing = Some(Doing::Grey),
            },
            // One thing at a time: what was begun from a proposed wire leads back to it.
            PhotoRequest::Stop => {
                if self.view.on_photo.doing.take().is_none() {
                    self.view.on_photo.proposed = None;
                }
            }
            PhotoRequest::OtherEnds => self.follow_proposal(),
            PhotoRequest::Length(place, text) => {
                if let Some(length) = self.view.on_photo.lengths.get_mut(place) {
                    *length = text;
                }
            }
            PhotoRequest::Unstraighten(id) => {
                let placement = self.desk.machine().photos.get(id).and_then(lay::as_taken);
                if let Some(placement) = placement {
                    self.lay_photo(id, "Lay as taken", placement);
                }
            }
            PhotoRequest::Propose(id) => self.propose(id),
            PhotoRequest::LookAtColour(wire) => self.look_at_colour(wire),
            PhotoRequest::DetailRound(part) => match detail::round(self.desk.machine(), part) {
                Some(crop) => self.desk.apply(detail::cut(self.desk.machine(), part, crop)),
                None => self.view.on_photo.doing = Some(Doing::Detail(part, Vec::new())),
            },
        }
    }

    fn begin_on_photo(&mut self, doing: Doing) {
        let machine = Arc::clone(self.desk.machine());
        if machine.photos.is_empty() {
            self.messages.error(
                "No photo yet",
                "Put a photo in first: drop it on the window, paste it, or use 'Add photos' in the stage of photos.",
            );
            return;
        }
        self.centre.leave_begun();
        let view = &mut self.view;
        view.shown.photos_hidden = false;
        view.placing = None;
        view.lifting = None;
        view.on_photo.proposed = None;
        view.on_photo.colour = None;
        view.on_photo.lengths = Default::default();
        view.on_photo.doing = Some(match doing {
            // The photo is made ready while the pointer is still on its way.
            Doing::Trace(trace) => {
                let only = || machine.photos.ids().next().filter(|_| machine.photos.len() == 1);
                let selected = view.selection.photos().into_iter().next();
                Doing::Trace(Trace { photo: trace.photo.or(selected).or_else(only), ..trace })
            }
            other => other,
        });
    }

    fn click_on_photo(&mut self, at: Point, under: Option<Thing>) {
        match &mut self.view.on_photo.doing {
            Some(Doing::Scale(_, points)) if points.len() < 2 => points.push(at),
            Some(Doing::Straighten(id, points)) if points.len() < 4 => {
                let on_it = self.desk.machine().photos.get(*id).is_some_and(|photo| pixel(photo, at).is_some());
                if on_it {
                    points.push(at);
                } else {
                    "That is not on the photo: click a corner that it shows.".clone_into(&mut self.view.on_photo.says);
                }
            }
            Some(Doing::Join(id, points)) => {
                let photo = self.desk.machine().photos.get(*id);
                let own = points.len().is_multiple_of(2);
                let on_own = photo.is_some_and(|photo| pixel(photo, at).is_some());
                let on_any = photo_at(self.desk.machine(), at).is_some();
                if own && !on_own {
                    "That is not on the photo that is to be laid.".clone_into(&mut self.view.on_photo.says);
                } else if !on_any {
                    "There is no photo: click the same point on the neighbour."
                        .clone_into(&mut self.view.on_photo.says);
                } else {
                    points.push(at);
                    if points.len() == 4 {
                        self.finish_on_photo();
                    }
                }
            }
            Some(Doing::Terminals(_, laid)) => {
                laid.push(Some(at));
                self.lay_terminals_when_whole();
            }
            Some(Doing::Detail(part, points)) => {
                points.push(at);
                if let [first, second] = points[..] {
                    let part = *part;
                    if let Some(crop) = detail::between(self.desk.machine(), first, second) {
                        self.view.on_photo.doing = None;
                        self.desk.apply(detail::cut(self.desk.machine(), part, crop));
                        self.view.selection = Selection::of(part);
                    } else {
                        self.view.on_photo.doing = Some(Doing::Detail(part, Vec::new()));
                        "Both corners must lie on one photo, and not on one spot. Click the first corner again."
                            .clone_into(&mut self.view.on_photo.says);
                    }
                }
            }
            Some(Doing::Grey) => {
                let colour = self.view.on_photo.colour.as_mut();
                let photo = colour.as_ref().and_then(|colour| self.desk.machine().photos.get(colour.photo));
                match (colour, photo.and_then(|photo| pixel(photo, at))) {
                    (Some(colour), Some(pixel)) => {
                        colour.grey = Some(pixel);
                        self.view.on_photo.doing = None;
                    }
                    _ => "That is not on the photo that shows the wire.".clone_into(&mut self.view.on_photo.says),
                }
            }
            Some(Doing::Trace(_)) => self.click_trace(at, under),
            _ => {}
        }
    }

    fn back_on_photo(&mut self) {
        match &mut self.view.on_photo.doing {
            Some(
                Doing::Scale(_, points)
                | Doing::Straighten(_, points)
                | Doing::Detail(_, points)
                | Doing::Join(_, points),
            ) => {
                points.pop();
            }
            Some(Doing::Terminals(_, laid)) => {
                laid.pop();
            }
            Some(Doing::Trace(trace)) => {
                trace.ending = None;
                if trace.pins.pop().is_none() {
                    trace.from = None;
                }
            }
            Some(Doing::Grey) => {}
            None => self.next_proposal(false),
        }
    }

    fn finish_on_photo(&mut self) {
        let machine = Arc::clone(self.desk.machine());
        let lengths = [0, 1].map(|place| self.view.on_photo.lengths[place].trim().to_owned());
        let says = match self.view.on_photo.doing.clone() {
            Some(Doing::Scale(id, points)) => match (&points[..], length_mm(&lengths[0]), machine.photos.get(id)) {
                ([first, second], Some(apart), Some(photo)) => {
                    match photo.placement.scaled_about(*first, first.distance(*second), apart) {
                        Some(placement) => {
                            self.lay_photo(id, "Scale photo", placement);
                            ""
                        }
                        None => "The two points lie on one spot: take one back and click further away.",
                    }
                }
                ([_, _], None, _) => "Write the distance in millimetres, above 0, for example 120.",
                _ => "Click two points first.",
            },
            Some(Doing::Straighten(id, points)) => {
                let size = match [&lengths[0], &lengths[1]].map(|text| (text.is_empty(), length_mm(text))) {
                    [(true, _), (true, _)] => Some(None),
                    [(_, Some(wide)), (_, Some(high))] => Some(Some([wide, high])),
                    _ => None,
                };
                match (<[Point; 4]>::try_from(points), size, machine.photos.get(id)) {
                    (Ok(corners), Some(size), Some(photo)) => match lay::straightened(photo, corners, size) {
                        Ok(placement) => {
                            self.lay_photo(id, "Straighten photo", placement);
                            ""
                        }
                        Err(why) => why,
                    },
                    (Ok(_), None, _) => "Write width and height in millimetres, both above 0, or leave both empty.",
                    _ => "Click four corners first.",
                }
            }
            Some(Doing::Join(id, points)) => match (<[Point; 4]>::try_from(points), machine.photos.get(id)) {
                (Ok(points), Some(photo)) => match lay::joined(photo, points) {
                    Some(placement) => {
                        self.lay_photo(id, "Lay beside its neighbour: photo", placement);
                        ""
                    }
                    None => "The two points lie on one spot: take them back and choose two that are far apart.",
                },
                _ => "Click two points, each on this photo and then on its neighbour.",
            },
            Some(Doing::Trace(_)) => {
                self.end_trace(Ending::OutOfSight);
                return;
            }
            Some(Doing::Terminals(..)) => {
                self.lay_terminals();
                ""
            }
            Some(Doing::Detail(..)) => "Click two opposite corners.",
            Some(Doing::Grey) => "",
            None => {
                self.next_proposal(true);
                ""
            }
        };
        says.clone_into(&mut self.view.on_photo.says);
    }

    /// Lays a photo, with all that lies on it, in one step.
    fn lay_photo(&mut self, id: PhotoId, what: &str, placement: Placement) {
        let machine = self.desk.machine();
        let label = format!("{what} {}", photo_name(machine, id));
        let mut edit = changes::photo(machine, id, &label, |photo| photo.placement = placement);
        let along = super::lay::along(machine, id, &placement);
        if !edit.is_empty() {
            let count = along.len();
            edit.changes.extend(along);
            self.desk.apply(edit);
            if count > 0 {
                self.messages.remark(format!("{label}: done, and what lies on it went along"));
            }
        }
        self.view.on_photo.doing = None;
        self.view.selection = Selection::of(Thing::Photo(id));
        self.centre.show_everything();
    }

    fn lay_terminals_when_whole(&mut self) {
        let Some(Doing::Terminals(id, laid)) = &self.view.on_photo.doing else { return };
        let machine = self.desk.machine();
        let count = machine.parts.get(*id).map_or(0, |part| self.desk.catalogue().body(part).terminals.len());
        if laid.len() >= count {
            self.lay_terminals();
        }
    }

    /// Writes the places of the terminals that were clicked, in one step.
    fn lay_terminals(&mut self) {
        let Some(Doing::Terminals(id, laid)) = self.view.on_photo.doing.take() else { return };
        let machine = Arc::clone(self.desk.machine());
        let Some(part) = machine.parts.get(id) else { return };
        let body = self.desk.catalogue().body(part);
        let places: Vec<_> = body.terminals.iter().map(|terminal| terminal.marking.clone()).zip(laid).collect();
        let edit = machine.edit_part(id, &format!("Lay the terminals of {}", part.tag), |part| {
            for (marking, at) in &places {
                if at.is_some() {
                    part.terminals.entry(marking.clone()).or_default().at = *at;
                }
            }
            gather(part);
        });
        self.desk.apply(edit);
        self.view.selection = Selection::of(id);
    }

    /// Lets go of what the record no longer has.
    pub(in crate::app) fn keep_on_photo(&mut self) {
        let machine = self.desk.machine();
        let on_photo = &mut self.view.on_photo;
        let ways_up = machine.photos.iter().map(|(id, photo)| (id, (photo.hash.clone(), photo.quarter_turns)));
        let before = std::mem::replace(&mut on_photo.ways_up, ways_up.collect());
        // A photo that was turned or replaced has other pixels: what was taken on it is let go of.
        let photo = |id: PhotoId| {
            machine.photos.get(id).is_some_and(|photo| {
                before.get(&id).is_none_or(|(hash, turns)| *hash == photo.hash && *turns == photo.quarter_turns)
            })
        };
        let there = |terminal: &TerminalRef| machine.parts.contains(terminal.part);
        let stays = match &on_photo.doing {
            Some(Doing::Scale(id, _) | Doing::Straighten(id, _) | Doing::Join(id, _)) => photo(*id),
            Some(Doing::Trace(trace)) => {
                trace.photo.is_none_or(photo) && trace.from.as_ref().is_none_or(|(terminal, _)| there(terminal))
            }
            Some(Doing::Terminals(id, _) | Doing::Detail(id, _)) => machine.parts.contains(*id),
            Some(Doing::Grey) => on_photo.colour.is_some(),
            None => true,
        };
        if !stays {
            on_photo.doing = None;
        }
        if on_photo.proposed.as_ref().is_some_and(|proposals| !photo(proposals.photo)) {
            on_photo.proposed = None;
        }
        let colour = on_photo.colour.as_ref();
        if colour.is_some_and(|colour| !machine.wires.contains(colour.wire) || !photo(colour.photo)) {
            on_photo.colour = None;
        }
    }
}

/// Brings a part that lies elsewhere to its terminals.
fn gather(part: &mut crate::machine::Part) {
    let places = part.terminals.values().filter_map(|note| note.at);
    let Some(area) = Area::round(places) else { return };
    let room = 10.0 + 0.5 * area.width().max(area.height());
    if !area.grown(room).contains(part.pose.at) {
        part.pose.at = area.centre();
    }
}

/// The edit that sets the colour that was looked at.
pub(super) fn coloured(machine: &crate::machine::Machine, wire: WireId, colour: crate::quantity::WireColour) -> Edit {
    machine.edit_wire(wire, &format!("Wire colour {colour}"), |wire| wire.colour = Some(colour))
}

/// Where a pixel of a photo lies, by its number.
pub(super) fn place(machine: &crate::machine::Machine, photo: PhotoId, at: PhotoPoint) -> Option<Point> {
    Some(on_canvas(machine.photos.get(photo)?, at))
}
