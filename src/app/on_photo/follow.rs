//! Following a wire: clicks become pins, the desk works the path out, and the wire is drawn when it ends.

use std::sync::Arc;

use super::apply::NOT_WHOLE;
use super::lay::{photo_at, pixel};
use super::route::{shown_on, terminal_on};
use super::trace::{self, photo_name, whole};
use super::{ColourOf, Doing, Ending, Trace};
use crate::app::selection::Selection;
use crate::app::shell::Shell;
use crate::desk::Follow;
use crate::machine::{Photo, PhotoId, Point, Spot, TerminalRef, Thing, WireId};
use crate::tracing::PhotoPoint;

const NO_PHOTO: &str = "There is no photo. Click on a place of the photo where the wire can be seen.";

impl Shell {
    pub(super) fn click_trace(&mut self, at: Point, under: Option<Thing>) {
        let machine = Arc::clone(self.desk.machine());
        let Some(Doing::Trace(mut trace)) = self.view.on_photo.doing.take() else { return };
        let mut says = "";
        // What is begun on a photo goes on there.
        let begun = !trace.pins.is_empty() || trace.from.is_some();
        let photo = trace.photo.filter(|_| begun).or_else(|| photo_at(&machine, at).map(|(id, _)| id));
        let shown = photo.and_then(|id| Some((id, machine.photos.get(id)?)));
        match shown {
            None => says = NO_PHOTO,
            Some((id, _)) if whole(self.centre.pixels(id)).is_none() => says = NOT_WHOLE,
            Some((id, photo)) => {
                let terminal = match under {
                    Some(Thing::Spot(Spot::Terminal(terminal))) => Some(terminal),
                    _ => None,
                };
                let scene = &self.desk.derived().scene;
                let on_terminal = terminal.and_then(|terminal| Some((terminal_on(scene, photo, &terminal)?, terminal)));
                match (pixel(photo, at), on_terminal) {
                    (Some(grey), _) if trace.wants_grey => {
                        trace.grey = Some(grey);
                        trace.wants_grey = false;
                    }
                    (_, Some((place, terminal))) => says = take_terminal(&mut trace, id, terminal, place),
                    (Some(pin), None) => {
                        trace.photo = Some(id);
                        trace.pins.push(pin);
                    }
                    (None, None) => says = "That is not on the photo the wire was begun on.",
                }
            }
        }
        self.view.on_photo.doing = Some(Doing::Trace(trace));
        says.clone_into(&mut self.view.on_photo.says);
    }

    pub(super) fn end_trace(&mut self, ending: Ending) {
        if let Some(Doing::Trace(trace)) = &mut self.view.on_photo.doing {
            if trace.can_end() {
                trace.ending = Some(ending);
            } else {
                "Click on the wire in two places at least before it can end.".clone_into(&mut self.view.on_photo.says);
            }
        }
    }

    /// Has the desk follow what is followed now, and draws the wire that was to end once its path is there.
    pub(in crate::app) fn follow_on_photo(&mut self) {
        let on_photo = &self.view.on_photo;
        let follow: Option<Follow> = match (&on_photo.doing, &on_photo.colour) {
            (Some(Doing::Trace(trace)), _) => {
                let pixels = trace.photo.and_then(|id| whole(self.centre.pixels(id)));
                pixels.and_then(|pixels| trace.question(pixels))
            }
            (_, Some(colour)) => whole(self.centre.pixels(colour.photo)).map(|pixels| Follow {
                photo: colour.photo,
                pixels: Arc::clone(pixels),
                from: None,
                pins: colour.pins.clone(),
                grey: colour.grey,
            }),
            _ => None,
        };
        self.desk.follow(follow);
        if let Some(Doing::Trace(trace)) = &self.view.on_photo.doing
            && trace.ending.is_some()
            && !self.desk.is_following()
            && let Some(followed) = self.desk.followed().cloned()
        {
            let trace = trace.clone();
            self.view.on_photo.doing = None;
            self.draw_followed(&trace, &followed);
        }
    }

    fn draw_followed(&mut self, trace: &Trace, followed: &crate::desk::Followed) {
        let machine = Arc::clone(self.desk.machine());
        let made = trace.photo.and_then(|id| {
            let photo = machine.photos.get(id)?;
            let (wire, edit) = trace::followed(&machine, photo, trace, followed)?;
            Some((id, wire, edit))
        });
        let Some((photo, wire, edit)) = made else {
            self.messages
                .error("The wire was not drawn", "Its path came out empty. Follow it again with a pin or two more.");
            return;
        };
        let name = photo_name(&machine, photo);
        let key = machine.free_tag("W");
        self.messages.remark(format!("{key} drawn as it was followed on photo {name}; its colour is not set yet"));
        self.desk.apply(edit);
        self.view.selection = Selection::of(wire);
        let pins = trace::places_of(trace, followed);
        self.view.on_photo.colour = Some(ColourOf { wire, photo, pins, grey: trace.grey });
        // Followed from a proposed wire: the next one is asked about.
        self.reveal_proposal();
    }

    pub(super) fn look_at_colour(&mut self, wire: WireId) {
        let machine = Arc::clone(self.desk.machine());
        let Some(entry) = machine.wires.get(wire) else { return };
        let shown = |photo: &Photo| shown_on(photo, &entry.path);
        let best = machine
            .photos
            .iter()
            .map(|(id, photo)| (id, shown(photo)))
            .filter(|(_, pins)| pins.len() > 1)
            .max_by_key(|(_, pins)| pins.len());
        match best {
            Some((photo, pins)) => self.view.on_photo.colour = Some(ColourOf { wire, photo, pins, grey: None }),
            None => self.messages.error(
                "Colour",
                "No photo shows this wire along its path. Follow it on a photo first; its colour is looked at there.",
            ),
        }
    }
}

/// A terminal was clicked while a wire is followed: it begins there, or ends there. Why not, where neither can be.
fn take_terminal(trace: &mut Trace, photo: PhotoId, terminal: TerminalRef, place: PhotoPoint) -> &'static str {
    if trace.open_ends {
        let far = |pin: Option<&PhotoPoint>| pin.map_or(0.0, |pin| (pin[0] - place[0]).hypot(pin[1] - place[1]));
        if far(trace.pins.last()) < far(trace.pins.first()) {
            trace.pins.reverse();
        }
        trace.from = Some((terminal, place));
        trace.open_ends = false;
        return "";
    }
    if trace.pins.is_empty() && trace.from.is_none() {
        trace.photo = Some(photo);
        trace.from = Some((terminal, place));
        return "";
    }
    if trace.from.as_ref().is_some_and(|(from, _)| *from == terminal) {
        return "The wire begins on this terminal: click on the wire itself, or on the terminal it ends on.";
    }
    trace.ending = Some(Ending::Terminal(terminal, place));
    ""
}
