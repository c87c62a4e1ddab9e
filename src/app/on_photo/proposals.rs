//! Wires proposed between terminals: asked for, and gone through one by one.

use std::sync::Arc;

use super::apply::NOT_WHOLE;
use super::route::terminals_on;
use super::trace::{self, photo_name};
use super::{ColourOf, Doing, Proposals, Trace};
use crate::app::selection::Selection;
use crate::app::shell::Shell;
use crate::desk::WireProposed;
use crate::machine::{PhotoId, Thing};

impl Shell {
    pub(super) fn propose(&mut self, id: PhotoId) {
        let machine = Arc::clone(self.desk.machine());
        let Some(photo) = machine.photos.get(id) else { return };
        let terminals = terminals_on(&machine, photo);
        if terminals.len() < 2 {
            self.messages.error(
                "No terminals on this photo",
                "Wires are looked for between terminals that have their place on the photo. Select a part and press 'Lay its terminals on \
                 the photo' on its card, for two parts at least.",
            );
            return;
        }
        self.view.on_photo.doing = None;
        self.view.on_photo.proposed = None;
        if !self.desk.propose_wires(id, terminals) {
            self.messages.error("Looking for wires", NOT_WHOLE);
        }
    }

    /// Takes in the wires that were proposed; those the record has already are left out.
    pub(in crate::app) fn take_proposals(&mut self, photo: PhotoId, wires: Vec<WireProposed>) {
        let machine = self.desk.machine();
        let left: Vec<WireProposed> =
            wires.into_iter().filter(|proposed| !trace::is_recorded(machine, proposed)).collect();
        if left.is_empty() {
            let name = photo_name(machine, photo).to_owned();
            self.messages.remark(format!(
                "No more wires were found between the terminals on photo {name}. Follow those you see by hand."
            ));
            return;
        }
        self.view.on_photo.doing = None;
        self.view.shown.photos_hidden = false;
        self.view.on_photo.proposed = Some(Proposals { photo, of: left.len(), left, accepted: 0 });
        self.reveal_proposal();
    }

    pub(super) fn next_proposal(&mut self, accept: bool) {
        let machine = Arc::clone(self.desk.machine());
        let Some(proposals) = &mut self.view.on_photo.proposed else { return };
        if proposals.left.is_empty() {
            return;
        }
        let proposed = proposals.left.remove(0);
        let id = proposals.photo;
        if accept
            && let Some(photo) = machine.photos.get(id)
            && let Some((wire, edit)) = trace::accepted(&machine, photo, &proposed)
        {
            proposals.accepted += 1;
            // What runs along it is the same wire with other ends.
            proposals.left.retain(|other| !trace::runs_along(other, &proposed));
            self.desk.apply(edit);
            self.view.selection = Selection::of(wire);
            self.view.on_photo.colour =
                Some(ColourOf { wire, photo: id, pins: trace::places_on(&proposed.path), grey: None });
        }
        self.reveal_proposal();
    }

    /// Follows the proposed wire from its seen part on; a person says which terminals it runs between.
    pub(super) fn follow_proposal(&mut self) {
        let Some(proposals) = &mut self.view.on_photo.proposed else { return };
        if proposals.left.is_empty() {
            return;
        }
        let proposed = proposals.left.remove(0);
        let trace = Trace {
            photo: Some(proposals.photo),
            pins: trace::places_on(&proposed.path),
            open_ends: true,
            ..Trace::default()
        };
        self.view.on_photo.colour = None;
        self.view.on_photo.doing = Some(Doing::Trace(trace));
    }

    /// Brings the proposed wire into sight; says how it went when none is left.
    pub(super) fn reveal_proposal(&mut self) {
        let Some(proposals) = &self.view.on_photo.proposed else { return };
        if let Some(proposed) = proposals.left.first() {
            self.centre.reveal(&proposed.ends.clone().map(Thing::from));
        } else {
            let words = format!("{} of {} proposed wires accepted, as seen", proposals.accepted, proposals.of);
            self.messages.remark(words);
            self.view.on_photo.proposed = None;
        }
    }
}
