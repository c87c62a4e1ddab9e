//! The card of a wire: number, colour, size, length, state, and its two ends.

use egui::Ui;

use super::{ask, computed, findings_about, some, verdict, wire_end};
use crate::app::action::Action;
use crate::app::marks;
use crate::app::on_photo;
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::widgets::{Field, faint, field, group, name, row, tick, wrong};
use crate::circuit::electric::What;
use crate::machine::{Edit, Side, Spot, Thing, Wire, WireForm, WireId, WireState};
use crate::quantity::{Colour, WireColour, WireSize};

/// Draws the card of a wire; one of its ends may be the one that is selected.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, id: WireId, end: Option<Side>, out: &mut Requests) {
    let machine = scope.machine;
    let Some(wire) = machine.wires.get(id) else { return };
    ui.heading(wire.key.as_str());
    let ends = format!("{} – {}", machine.end_name(&wire.from.at), machine.end_name(&wire.to.at));
    faint(ui, scope.palette, ends);
    verdict::wire(ui, scope, id, out);
    // What was asked for is not to be looked for further down.
    on_photo::colour_offer(ui, scope, id, wire, out);
    computed::place(ui, scope, &Spot::End(id, end.unwrap_or(Side::From)));
    computed::standings(ui, scope, |what, network| matches!(what, What::Wire(_)) && what.wire(network) == Some(id));
    key(ui, scope, id, wire, out);
    let number =
        Field::new("Number", wire.number.as_deref().unwrap_or("")).hint("as printed on it").known_as("Wire number");
    ask(field(ui, "number", number), out, |text| machine.edit_wire(id, "Wire number", |wire| wire.number = some(text)));
    row(ui, "State", |ui| {
        ui.spacing_mut().item_spacing.x = 2.0;
        for state in [WireState::InPlace, WireState::CappedOff, WireState::Removed] {
            let key = ui.add(egui::Button::selectable(wire.state == state, state.words()));
            name(ui, key.id, &format!("State: {}", state.words()));
            if key.clicked() {
                out.edit(machine.edit_wire(id, &format!("{} {}", wire.key, state.words()), |wire| wire.state = state));
            }
        }
    });
    for side in Side::BOTH {
        wire_end::show(ui, scope, (id, wire), side, end == Some(side), out);
    }
    colour(ui, scope, id, wire, out);
    measures(ui, scope, id, wire, out);
    path(ui, scope, id, wire, out);
    let jumper = tick(ui, wire.form == WireForm::Jumper, "A jumper inside a strip");
    if let Some(jumper) = jumper {
        let form = if jumper { WireForm::Jumper } else { WireForm::Lead };
        out.edit(machine.edit_wire(id, "Form", |wire| wire.form = form));
    }
    ask(field(ui, "note", Field::new("Note", &wire.note).lines(2)), out, |text| {
        machine.edit_wire(id, "Note", |wire| wire.note = text)
    });
    if ui
        .button(Action::Remove.words())
        .on_hover_text(
            "Take it out of the drawing; a wire that was taken out of the machine is state 'removed' instead",
        )
        .clicked()
    {
        out.act(Action::Remove);
    }
    findings_about(
        ui,
        scope,
        |thing| matches!(thing, Thing::Spot(Spot::Wire(wire) | Spot::End(wire, _)) if *wire == id),
        out,
    );
}

fn key(ui: &mut Ui, scope: &Scope<'_>, id: WireId, wire: &Wire, out: &mut Requests) {
    let written = field(ui, ("key", id), Field::new("Key", &wire.key).known_as("Key of the wire"));
    if let Some(draft) = &written.draft
        && let Err(error) = scope.machine.check_free_tag(draft, Some(&wire.key))
    {
        wrong(ui, scope.palette, error.to_string());
        return;
    }
    ask(written, out, |text| {
        if scope.machine.check_free_tag(&text, Some(&wire.key)).is_err() {
            return Edit::default();
        }
        scope.machine.edit_wire(id, &format!("Rename {} to {text}", wire.key), |wire| wire.key.clone_from(&text))
    });
}

fn colour(ui: &mut Ui, scope: &Scope<'_>, id: WireId, wire: &Wire, out: &mut Requests) {
    group(ui, "Colour");
    let words = wire.colour.map_or_else(|| "not said".to_owned(), |colour| format!("{colour}, {}", colour.words()));
    ui.label(words);
    on_photo::colour_key(ui, scope, id, wire, out);
    ui.spacing_mut().item_spacing.x = 1.0;
    ui.horizontal_wrapped(|ui| {
        for (base, _, _) in Colour::ALL {
            let tracer = wire.colour.and_then(|colour| colour.tracer).filter(|tracer| *tracer != base);
            let plain = WireColour::plain(base);
            let selected = wire.colour.is_some_and(|colour| colour.base == base);
            let key = marks::swatch_key(ui, plain, selected, scope.palette);
            name(ui, key.id, &format!("Base colour {} {}", base.code(), base.name()));
            if key.clicked() {
                set_colour(scope, id, Some(WireColour { base, tracer }), out);
            }
        }
        let none = ui.button("Not said");
        name(ui, none.id, "Colour not said");
        if none.clicked() {
            set_colour(scope, id, None, out);
        }
    });
    let Some(colour) = wire.colour else { return };
    faint(ui, scope.palette, "Tracer");
    ui.horizontal_wrapped(|ui| {
        for (tracer, code, words) in Colour::ALL {
            if tracer == colour.base || tracer == Colour::GreenYellow {
                continue;
            }
            let with = WireColour { base: colour.base, tracer: Some(tracer) };
            let key = marks::swatch_key(ui, with, colour.tracer == Some(tracer), scope.palette);
            name(ui, key.id, &format!("Tracer {code} {words}"));
            if key.clicked() {
                set_colour(scope, id, Some(with), out);
            }
        }
        if ui.add(egui::Button::selectable(colour.tracer.is_none(), "No tracer")).clicked() {
            set_colour(scope, id, Some(WireColour::plain(colour.base)), out);
        }
    });
}

fn set_colour(scope: &Scope<'_>, id: WireId, colour: Option<WireColour>, out: &mut Requests) {
    out.edit(scope.machine.edit_wire(id, "Wire colour", |wire| wire.colour = colour));
}

fn measures(ui: &mut Ui, scope: &Scope<'_>, id: WireId, wire: &Wire, out: &mut Requests) {
    let machine = scope.machine;
    group(ui, "Make");
    let size = wire.size.map(|size| size.to_string()).unwrap_or_default();
    let written = field(ui, "size", Field::new("Size", &size).hint("18 AWG or 0.75 mm2"));
    match written.draft.as_deref().map(str::trim).filter(|draft| !draft.is_empty()).map(str::parse::<WireSize>) {
        Some(Err(error)) => wrong(ui, scope.palette, error.to_string()),
        _ => ask(written, out, |text| match (text.trim().is_empty(), text.parse::<WireSize>()) {
            (true, _) => machine.edit_wire(id, "Wire size", |wire| wire.size = None),
            (false, Ok(size)) => machine.edit_wire(id, "Wire size", |wire| wire.size = Some(size)),
            (false, Err(_)) => Edit::default(),
        }),
    }
    let length = wire.length_mm.map(|length| length.to_string()).unwrap_or_default();
    let written = field(ui, "length", Field::new("Length, mm", &length).hint("in millimetres"));
    match written.draft.as_deref().map(str::trim).filter(|draft| !draft.is_empty()).map(length_mm) {
        Some(None) => wrong(ui, scope.palette, "Write the length in millimetres, above 0, for example 450."),
        _ => ask(written, out, |text| match (text.trim().is_empty(), length_mm(text.trim())) {
            (true, _) => machine.edit_wire(id, "Wire length", |wire| wire.length_mm = None),
            (false, Some(length)) => machine.edit_wire(id, "Wire length", |wire| wire.length_mm = Some(length)),
            (false, None) => Edit::default(),
        }),
    }
    let insulation = Field::new("Insulation", &wire.insulation).hint("text printed on it");
    ask(field(ui, "insulation", insulation), out, |text| {
        machine.edit_wire(id, "Insulation", |wire| wire.insulation = text)
    });
}

fn length_mm(text: &str) -> Option<f64> {
    text.replace(',', ".").parse::<f64>().ok().filter(|length| length.is_finite() && *length > 0.0)
}

/// Which stretches are out of sight; bends are moved on the canvas.
fn path(ui: &mut Ui, scope: &Scope<'_>, id: WireId, wire: &Wire, out: &mut Requests) {
    group(ui, "Path");
    let hidden = wire.path.iter().filter(|bend| bend.hidden).count();
    faint(
        ui,
        scope.palette,
        format!("{} bends, {hidden} stretches out of sight. Drag a bend on the canvas to move it.", wire.path.len()),
    );
    if wire.path.is_empty() {
        return;
    }
    ui.horizontal_wrapped(|ui| {
        for (words, hide) in [("All out of sight", true), ("All in sight", false)] {
            if ui.button(words).clicked() {
                out.edit(scope.machine.edit_wire(id, words, |wire| {
                    for bend in &mut wire.path {
                        bend.hidden = hide;
                    }
                }));
            }
        }
        if ui.button("Straighten").on_hover_text("Take every bend out").clicked() {
            out.edit(scope.machine.edit_wire(id, "Straighten", |wire| wire.path.clear()));
        }
    });
    for (place, bend) in wire.path.iter().enumerate() {
        if let Some(hide) = tick(ui, bend.hidden, format!("Stretch to bend {} is out of sight", place + 1)) {
            out.edit(scope.machine.edit_wire(id, "Hidden stretch", |wire| {
                if let Some(bend) = wire.path.get_mut(place) {
                    bend.hidden = hide;
                }
            }));
        }
    }
}
