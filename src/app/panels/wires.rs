//! The wire list: from and to, colour, number, how each end is known.

use egui::Ui;

use super::list;
use super::rows::{self, Mark, Row};
use crate::app::action::Action;
use crate::app::card::read_end;
use crate::app::request::{Requests, Show};
use crate::app::scope::Scope;
use crate::app::widgets::{Field, faint, field, wrong};
use crate::machine::{Known, Thing, Wire, WireId, WireState};

/// Draws the list of wires.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    if !scope.machine.photos.is_empty() && ui.button(Action::FollowWire.words()).clicked() {
        out.act(Action::FollowWire);
    }
    by_ends(ui, scope, out);
    if scope.machine.wires.is_empty() {
        list::empty(
            ui,
            scope,
            "No wires yet.",
            "Follow a wire on a photo, or click a terminal on the canvas, click once for each bend you can see, and end on a terminal. Press Enter to end \
             a wire loose, where it goes to nothing or out of sight. Escape leaves what was begun.",
        );
        return;
    }
    list::search(ui, scope, "number, terminal, colour or state", out);
    if scope.lists.wires.is_empty() {
        list::nothing_found(ui, scope, out);
        return;
    }
    faint(ui, scope.palette, format!("{} of {}", scope.lists.wires.len(), scope.machine.wires.len()));
    let pressed =
        rows::show(ui, "wires", scope.lists.wires.len(), scope.palette, |place| row(scope, scope.lists.wires[place]));
    if let Some((place, response)) = pressed {
        let id = scope.lists.wires[place];
        if response.ctx.input(|input| input.modifiers.command) {
            out.show(Show::Toggle(id.into()));
        } else {
            out.go_to(id);
        }
    }
}

/// Draws a wire by naming its two ends, for whoever does not point.
fn by_ends(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    egui::CollapsingHeader::new("Add a wire by its ends").show(ui, |ui| {
        let id = ui.scope_id().with("ends of the new wire");
        let mut ends: [String; 2] = ui.data(|data| data.get_temp(id)).unwrap_or_default();
        for (place, (shown, known_as)) in [("From", "New wire, from"), ("To", "New wire, to")].into_iter().enumerate() {
            let now = ends.get(place).cloned().unwrap_or_default();
            let written = field(ui, shown, Field::new(shown, &now).hint("K1.A1, loose, unknown").known_as(known_as));
            if let Some(text) = written.changed
                && let Some(end) = ends.get_mut(place)
            {
                *end = text;
            }
        }
        let read = ends.clone().map(|text| read_end(scope, &text));
        if let Some(message) =
            read.iter().zip(&ends).find_map(|(read, text)| read.as_ref().err().filter(|_| !text.is_empty()))
        {
            wrong(ui, scope.palette, message);
        }
        let ready = ends.iter().all(|text| !text.trim().is_empty());
        if let [Ok(from), Ok(to)] = read
            && ui.add_enabled(ready, egui::Button::new("Add the wire")).clicked()
        {
            out.show(Show::Wire(from, to, Vec::new(), None));
            ends = Default::default();
        }
        ui.data_mut(|data| data.insert_temp(id, ends));
    });
}

fn row(scope: &Scope<'_>, id: WireId) -> Row {
    let Some(wire) = scope.machine.wires.get(id) else {
        return Row::default();
    };
    let title = format!("{} – {}", scope.machine.end_name(&wire.from.at), scope.machine.end_name(&wire.to.at));
    let number = wire.number.as_ref().map_or_else(|| "no number".to_owned(), |number| format!("no. {number}"));
    let colour = wire.colour.map_or_else(|| "colour not said".to_owned(), |colour| colour.to_string());
    let mut detail = format!("{number} · {colour} · {}", standing(wire).words());
    if wire.from.lifted || wire.to.lifted {
        detail.push_str(" · lifted");
    }
    if wire.state != WireState::InPlace {
        detail.push_str(" · ");
        detail.push_str(wire.state.words());
    }
    let selected = scope.view.selection.has(&Thing::from(id));
    Row { title, detail, aside: wire.key.clone(), mark: Mark::Swatch(wire.colour), selected, ..Row::default() }
}

/// The weaker of the standings of the two ends; a dispute outweighs all.
fn standing(wire: &Wire) -> Known {
    let ends = [wire.from.known, wire.to.known];
    [Known::Disputed, Known::Assumed, Known::Seen]
        .into_iter()
        .find(|known| ends.contains(known))
        .unwrap_or(Known::Proven)
}
