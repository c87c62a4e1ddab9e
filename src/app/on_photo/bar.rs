//! The bar at the bottom while something is done on a photo: what to do now in words, and large keys for it. It stands where the reading
//! bar stands else, and has the same height whatever it says, so that nothing moves under the pointer.

use egui::{RichText, ScrollArea, TextStyle, Ui, Vec2};

use super::{Doing, OnPhoto, PhotoRequest, Trace, offer};
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::theme::bold;
use crate::app::widgets::{Field, faint, field, name, wrong};
use crate::machine::{PartId, Spot};

/// Draws the bar.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let size = TextStyle::Body.resolve(ui.style()).size;
    let keys = if ui.available_width() < size * 52.0 { 2.0 } else { 1.0 };
    let row =
        ui.spacing().interact_size.y.max(size + ui.spacing().button_padding.y * 2.0) + ui.spacing().item_spacing.y;
    let height = row * keys + size * 1.35 * 3.0 + 10.0;
    let room = Vec2::new(ui.available_width(), height);
    let (rect, _) = ui.allocate_exact_size(room, egui::Sense::hover());
    let mut within = ui.new_child(egui::UiBuilder::new().max_rect(rect));
    within.shrink_clip_rect(rect);
    ScrollArea::vertical().id_salt("on photo").auto_shrink([false, false]).show(&mut within, |ui| {
        content(ui, scope, out);
    });
}

fn content(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let on_photo = &scope.view.on_photo;
    ui.horizontal_wrapped(|ui| {
        ui.label(RichText::new(title(on_photo)).family(bold()));
        keys(ui, scope, out);
    });
    ui.add(egui::Label::new(words(scope)).wrap());
    if !on_photo.says.is_empty() {
        wrong(ui, scope.palette, &on_photo.says);
    }
    if let Some(trace) = on_photo.trace() {
        of_trace(ui, scope, trace);
    }
}

fn title(on_photo: &OnPhoto) -> &'static str {
    match &on_photo.doing {
        Some(Doing::Scale(..)) => "Scale",
        Some(Doing::Straighten(..)) => "Straighten",
        Some(Doing::Join(..)) => "Lay beside a neighbour",
        Some(Doing::Trace(_)) => "Follow a wire",
        Some(Doing::Terminals(..)) => "Lay terminals",
        Some(Doing::Detail(..)) => "Detail",
        Some(Doing::Grey) => "Grey or white",
        None => "Proposed wires",
    }
}

/// What to do now.
fn words(scope: &Scope<'_>) -> String {
    let on_photo = &scope.view.on_photo;
    match &on_photo.doing {
        Some(Doing::Scale(_, points)) => match points.len() {
            0 => "Click the first of two points whose distance you know: the ends of a strip, the edges of a plate, a ruler.".to_owned(),
            1 => "Click the second point.".to_owned(),
            _ => "Write how far apart they are on the machine, then set the scale.".to_owned(),
        },
        Some(Doing::Straighten(_, points)) => match points.len() {
            number @ 0..4 => format!(
                "Click the four corners of something rectangular and flat, such as a mounting plate or a cover: corner {} of 4, in any order.",
                number + 1
            ),
            _ => "Write its width and height where you know them; then the photo is to scale too. Leave both empty if not.".to_owned(),
        },
        Some(Doing::Join(_, points)) => match points.len() {
            0 => "Click a point on this photo that its neighbour shows too.",
            1 => "Now click the same point on the neighbour.",
            2 => "Click a second point on this photo, far from the first.",
            _ => "And the same point on the neighbour: then this photo is laid to fit.",
        }
        .to_owned(),
        Some(Doing::Trace(trace)) => trace_words(scope, trace).to_owned(),
        Some(Doing::Terminals(part, laid)) => terminal_words(scope, *part, laid.len()),
        Some(Doing::Detail(_, points)) => if points.is_empty() {
            "Click one corner of what is to be shown of the photo."
        } else {
            "Click the opposite corner."
        }
        .to_owned(),
        Some(Doing::Grey) => "Click on the photo where it shows something grey or white.".to_owned(),
        None => proposal_words(scope),
    }
}

fn trace_words(scope: &Scope<'_>, trace: &Trace) -> &'static str {
    if trace.wants_grey {
        return "Click on the photo where it shows something grey or white; a second press of the key leaves it.";
    }
    if trace.ending.is_some() {
        return "The path is being worked out…";
    }
    if trace.photo.is_some_and(|id| scope.photos.pixels.get(&id).is_none_or(|pixels| pixels.is_quick())) {
        return "This photo is still being read; following begins when it is there.";
    }
    if trace.open_ends {
        return "Click the terminal this wire begins on, then the one it ends on. Enter leaves both ends open.";
    }
    match (&trace.from, trace.pins.len()) {
        (None, 0) => "Click where the wire begins: on the wire itself, or on a terminal.",
        (Some(_), 0) => "Now click on the wire, where its insulation begins.",
        _ => {
            "Move along the wire; click to pin it where the path leaves it. Click the terminal it ends on, or double-click where it goes out of sight."
        }
    }
}

fn terminal_words(scope: &Scope<'_>, part: PartId, laid: usize) -> String {
    let entry = scope.machine.parts.get(part);
    let body = entry.map(|entry| scope.catalogue.body(entry));
    let next = body.as_ref().and_then(|body| body.terminals.get(laid));
    match (entry, next) {
        (Some(entry), Some(next)) => {
            let of = body.as_ref().map_or(0, |body| body.terminals.len());
            format!("Click where {} of {} is on the photo: {} of {of}.", next.label(), entry.tag, laid + 1)
        }
        _ => "All are laid.".to_owned(),
    }
}

fn proposal_words(scope: &Scope<'_>) -> String {
    let Some(proposals) = &scope.view.on_photo.proposed else { return String::new() };
    let Some(proposed) = proposals.left.first() else { return String::new() };
    let [from, to] = proposed.ends.clone().map(|end| scope.machine.spot_name(&Spot::Terminal(end)));
    format!(
        "Wire {} of {}, from {from} to {to}: {}. More than half of the proposals are wrong, often where wires run in a bundle: follow it by \
         eye from end to end before you accept it. Accepted, it stands as seen.",
        (proposals.of + 1).saturating_sub(proposals.left.len()),
        proposals.of,
        confidence(proposed.confidence)
    )
}

/// How well a proposed wire shows, in words. On eight pictures whose wires are known, six of which taught the program, 12 of 17 proposals of
/// the first kind had both ends right, of the others 35 of 74; so no words call one likely.
pub fn confidence(share: f64) -> &'static str {
    match share {
        share if share >= 0.5 => "found in several looks at the photo, both its ends clear",
        _ => "a weak guess",
    }
}

/// Caution and colour of the wire that is followed.
fn of_trace(ui: &mut Ui, scope: &Scope<'_>, trace: &Trace) {
    let Some(followed) = scope.photos.followed.filter(|followed| Some(followed.asked.photo) == trace.photo) else {
        return;
    };
    if followed.follower.is_none() {
        return;
    }
    if let Some(caution) = followed.caution {
        wrong(ui, scope.palette, format!("CAUTION: {caution}."));
    }
    if let Some(seems) = followed.colour {
        faint(ui, scope.palette, offer::line(seems));
    }
}

/// The keys, with the keys of the keyboard beside them.
fn keys(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let on_photo = &scope.view.on_photo;
    let mut key = |ui: &mut Ui, enabled: bool, words: &str, request: PhotoRequest| {
        if ui.add_enabled(enabled, egui::Button::new(words)).clicked() {
            out.photo(request);
        }
    };
    match &on_photo.doing {
        None => {
            key(ui, true, "Accept (Enter)", PhotoRequest::Finish);
            key(ui, true, "Not this one (Backspace)", PhotoRequest::Back);
            key(ui, true, "It has other ends", PhotoRequest::OtherEnds);
            key(ui, true, "Stop (Esc)", PhotoRequest::Stop);
            return;
        }
        Some(Doing::Trace(trace)) => {
            let begun = !trace.pins.is_empty() || trace.from.is_some();
            key(ui, begun, "Unpin (Backspace)", PhotoRequest::Back);
            key(ui, trace.can_end(), "Ends out of sight (Enter)", PhotoRequest::Finish);
            key(ui, trace.can_end(), "Ends loose", PhotoRequest::FinishLoose);
            let grey = ui.add(egui::Button::selectable(trace.wants_grey, "Grey or white").frame_when_inactive(true));
            name(ui, grey.id, "Point at something grey or white");
            if grey.clicked() {
                out.photo(PhotoRequest::Grey);
            }
        }
        Some(Doing::Scale(_, points)) => {
            key(ui, !points.is_empty(), "Take back (Backspace)", PhotoRequest::Back);
            if points.len() == 2 {
                length(ui, on_photo, 0, "Distance of the two points in millimetres", "mm apart", out);
                if ui.button("Set the scale").clicked() {
                    out.photo(PhotoRequest::Finish);
                }
            }
        }
        Some(Doing::Straighten(_, points)) => {
            key(ui, !points.is_empty(), "Take back (Backspace)", PhotoRequest::Back);
            if points.len() == 4 {
                length(ui, on_photo, 0, "Width of the rectangle in millimetres", "mm wide", out);
                length(ui, on_photo, 1, "Height of the rectangle in millimetres", "mm high", out);
                if ui.button("Make it flat (Enter)").clicked() {
                    out.photo(PhotoRequest::Finish);
                }
            }
        }
        Some(Doing::Terminals(_, laid)) => {
            key(ui, !laid.is_empty(), "Take back (Backspace)", PhotoRequest::Back);
            key(ui, true, "Pass this one over", PhotoRequest::Skip);
            key(ui, laid.iter().any(Option::is_some), "Done (Enter)", PhotoRequest::Finish);
        }
        Some(Doing::Join(_, points) | Doing::Detail(_, points)) => {
            key(ui, !points.is_empty(), "Take back (Backspace)", PhotoRequest::Back);
        }
        Some(Doing::Grey) => {}
    }
    if ui.button("Give up (Esc)").clicked() {
        out.photo(PhotoRequest::Stop);
    }
}

fn length(ui: &mut Ui, on_photo: &OnPhoto, place: usize, known_as: &str, hint: &str, out: &mut Requests) {
    let now = on_photo.lengths.get(place).map_or("", String::as_str);
    let size = TextStyle::Body.resolve(ui.style()).size;
    let height = ui.spacing().interact_size.y;
    ui.allocate_ui(Vec2::new(size * 8.0, height), |ui| {
        ui.set_max_width(size * 8.0);
        let written = field(ui, ("length", place), Field::new("", now).hint(hint).known_as(known_as));
        if let Some(text) = written.changed {
            out.photo(PhotoRequest::Length(place, text));
        }
        if written.entered {
            out.photo(PhotoRequest::Finish);
        }
    });
}

#[cfg(test)]
mod tests {
    use super::confidence;

    #[test]
    fn no_confidence_is_worded_as_a_certainty() {
        for share in [0.0, 0.4, 0.6, 0.8, 0.99, 1.0] {
            let words = confidence(share);
            assert!(["sure", "certain", "proven", "likely"].iter().all(|word| !words.contains(word)), "{words}");
        }
    }
}
