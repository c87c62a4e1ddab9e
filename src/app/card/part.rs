//! The card of a part: what it is, what is printed on it, its terminals.

use egui::Ui;

use super::{ask, computed, findings_about, part_detail, some};
use crate::app::action::Action;
use crate::app::on_photo;
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::widgets::{Field, choose, faint, field, group, row, three_ways, wrong};
use crate::catalogue::Family;
use crate::machine::{Edit, Mounting, Part, PartId, Spot, TerminalRef, Thing};

/// Draws the card of a part.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, id: PartId, out: &mut Requests) {
    let machine = scope.machine;
    let Some(part) = machine.parts.get(id) else { return };
    let kind = scope.catalogue.kind(&part.kind);
    ui.heading(part.tag.as_str());
    faint(ui, scope.palette, kind.map_or(part.kind.as_str(), |kind| kind.title.as_str()));
    super::verdict::part(ui, scope, id, out);
    tag(ui, scope, id, part, out);
    let printed = Field::new("Printed label", part.printed.as_deref().unwrap_or("")).hint("as found on the machine");
    ask(field(ui, "printed", printed), out, |text| {
        machine.edit_part(id, "Printed label", |part| part.printed = some(text))
    });
    let title = Field::new("Title", &part.title).hint("what it is, in a few words");
    ask(field(ui, "title", title), out, |text| machine.edit_part(id, "Title", |part| part.title = text));
    change_kind(ui, scope, id, part, out);
    count(ui, scope, id, part, out);
    held(ui, scope, id, part, out);
    ui.horizontal_wrapped(|ui| {
        for action in [Action::Turn, Action::Mirror, Action::Duplicate, Action::Remove] {
            if ui.button(action.words()).clicked() {
                out.act(action);
            }
        }
    });

    on_photo::detail(ui, scope, id, part, out);
    computed::part(ui, scope, id);
    terminals(ui, scope, id, part, out);
    part_detail::pins(ui, scope, id, part, out);
    part_detail::ratings(ui, scope, id, part, out);
    part_detail::rest(ui, scope, id, part, out);

    group(ui, "Together with");
    let works = Field::new("Group", part.group.as_deref().unwrap_or(""))
        .hint("a name")
        .known_as("Works as one load with, group name");
    ask(field(ui, "group", works), out, |text| machine.edit_part(id, "Group", |part| part.group = some(text)));
    faint(
        ui,
        scope.palette,
        "Parts with the same group name work as one load on purpose, such as a compressor with its own fan.",
    );
    ask(field(ui, "note", Field::new("Note", &part.note).lines(3)), out, |text| {
        machine.edit_part(id, "Note", |part| part.note = text)
    });
    findings_about(ui, scope, |thing| about(thing, id), out);
}

fn about(thing: &Thing, id: PartId) -> bool {
    match thing {
        Thing::Spot(Spot::Part(part)) => *part == id,
        Thing::Spot(Spot::Terminal(terminal)) => terminal.part == id,
        _ => false,
    }
}

/// The tag, which must be free: references follow it through the whole record.
fn tag(ui: &mut Ui, scope: &Scope<'_>, id: PartId, part: &Part, out: &mut Requests) {
    let written = field(ui, ("tag", id), Field::new("Tag", &part.tag));
    if let Some(draft) = &written.draft
        && let Err(error) = scope.machine.check_free_tag(draft, Some(&part.tag))
    {
        wrong(ui, scope.palette, error.to_string());
        return;
    }
    ask(written, out, |text| {
        if scope.machine.check_free_tag(&text, Some(&part.tag)).is_err() {
            return Edit::default();
        }
        scope.machine.edit_part(id, &format!("Rename {} to {text}", part.tag), |part| part.tag.clone_from(&text))
    });
}

fn change_kind(ui: &mut Ui, scope: &Scope<'_>, id: PartId, part: &Part, out: &mut Requests) {
    let mut names = Vec::new();
    let mut options = Vec::new();
    for family in Family::ALL {
        for kind in scope.catalogue.kinds().filter(|kind| kind.family == family) {
            options.push((format!("{}: {}", family.words(), kind.title), kind.name == part.kind));
            names.push(kind.name.clone());
        }
    }
    let shown = scope.catalogue.kind(&part.kind).map_or(part.kind.as_str(), |kind| kind.title.as_str());
    if let Some(place) = choose(ui, ("kind", id), "Kind", shown, &options)
        && let Some(name) = names.get(place)
    {
        out.edit(
            scope.machine.edit_part(id, &format!("Change the kind of {}", part.tag), |part| part.kind.clone_from(name)),
        );
    }
    if !scope.catalogue.body(part).kind_known {
        wrong(ui, scope.palette, "The catalogue has no such kind; only the part's own pins are known. Choose a kind.");
    }
}

fn count(ui: &mut Ui, scope: &Scope<'_>, id: PartId, part: &Part, out: &mut Requests) {
    let Some(repeat) = scope.catalogue.kind(&part.kind).and_then(|kind| kind.repeat.as_ref()) else { return };
    let now = if part.count == 0 { repeat.count } else { part.count };
    row(ui, "Positions", |ui| {
        let mut value = now;
        let drag = egui::DragValue::new(&mut value).range(1..=crate::catalogue::MOST_POSITIONS).speed(0.1);
        let response = ui.add(drag);
        crate::app::widgets::name(ui, response.id, "Positions");
        if response.changed() {
            let edit = scope.machine.edit_part(id, "Positions", |part| part.count = value);
            out.joined(edit, format!("positions {id:?}"));
        }
    });
}

fn held(ui: &mut Ui, scope: &Scope<'_>, id: PartId, part: &Part, out: &mut Requests) {
    let all = [(Mounting::Fixed, "fixed"), (Mounting::Loose, "loose"), (Mounting::Missing, "missing")];
    row(ui, "Mounting", |ui| {
        ui.spacing_mut().item_spacing.x = 2.0;
        for (mounting, words) in all {
            let key = ui.add(egui::Button::selectable(part.mounting == mounting, words));
            crate::app::widgets::name(ui, key.id, &format!("Mounting: {words}"));
            if key.clicked() {
                out.edit(scope.machine.edit_part(id, "Mounting", |part| part.mounting = mounting));
            }
        }
    });
    row(ui, "Bare metal", |ui| {
        let usual = scope.catalogue.kind(&part.kind).is_some_and(|kind| kind.exposed_metal);
        let usual = if usual { "usual (yes)" } else { "usual (no)" };
        if let Some(said) = three_ways(ui, "Metal that can be touched", part.exposed_metal, ["yes", "no", usual]) {
            out.edit(scope.machine.edit_part(id, "Exposed metal", |part| part.exposed_metal = said));
        }
    });
}

/// Every terminal, with what lands on it; a press goes to the terminal.
fn terminals(ui: &mut Ui, scope: &Scope<'_>, id: PartId, part: &Part, out: &mut Requests) {
    let body = scope.catalogue.body(part);
    group(ui, &format!("Terminals ({})", body.terminals.len()));
    if body.terminals.is_empty() {
        faint(ui, scope.palette, "None yet: give it positions or pins of its own.");
    }
    for terminal in &body.terminals {
        let at = TerminalRef { part: id, marking: terminal.marking.clone() };
        let wires: Vec<&str> = scope.machine.wires_at(&at).map(|(wire, _)| scope.machine.wire_name(wire)).collect();
        let on_it = if wires.is_empty() { "nothing on it".to_owned() } else { wires.join(", ") };
        let label = if terminal.label() == terminal.marking.as_str() {
            terminal.marking.to_string()
        } else {
            format!("{} (printed {})", terminal.marking, terminal.label())
        };
        let button = egui::Button::new(format!("{label}: {on_it}")).wrap();
        if ui.add(button).clicked() {
            out.go_to(at);
        }
    }
}
