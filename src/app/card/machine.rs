//! The card of the machine itself, shown when nothing is selected: nameplate, habits, visits, meters, who.

use std::sync::Arc;

use egui::Ui;

use super::ask;
use crate::app::action::Action;
use crate::app::changes;
use crate::app::request::{EntryRequest, Request, Requests};
use crate::app::scope::Scope;
use crate::app::widgets::{Field, choose, faint, field, group, row, three_ways, wrong};
use crate::machine::{Change, Edit, Habits, Meter, MeterId, Visit, VisitId};

/// Draws the card of the machine.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let machine = scope.machine;
    let facts = &machine.facts;
    ui.heading("The machine");
    if machine.parts.is_empty() && machine.photos.is_empty() && machine.wires.is_empty() {
        if ui.button(Action::Machines.words()).clicked() {
            out.act(Action::Machines);
        }
        faint(ui, scope.palette, "New to finding out what is what? The program can play a machine and its meter.");
        if ui.button(Action::Practise.words()).clicked() {
            out.act(Action::Practise);
        }
    }
    ask(
        field(
            ui,
            "title",
            Field::new("Title", &facts.title).hint("what people call it").known_as("Title of the machine"),
        ),
        out,
        |text| changes::facts(machine, "Title", |facts| facts.title = text),
    );
    ask(
        field(
            ui,
            "location",
            Field::new("Stands", &facts.location).hint("where it stands").known_as("Where it stands"),
        ),
        out,
        |text| changes::facts(machine, "Location", |facts| facts.location = text),
    );
    let plate = facts.nameplate.join("\n");
    let plate = Field::new("Nameplate", &plate).hint("line by line, as written on it").lines(3);
    ask(field(ui, "nameplate", plate), out, |text| {
        changes::facts(machine, "Nameplate", |facts| facts.nameplate = text.lines().map(str::to_owned).collect())
    });
    ask(
        field(ui, "refrigerant", Field::new("Refrigerant", &facts.refrigerant).hint("as the plate names it")),
        out,
        |text| changes::facts(machine, "Refrigerant", |facts| facts.refrigerant = text),
    );
    row(ui, "It burns", |ui| {
        if let Some(said) = three_ways(ui, "The refrigerant burns", facts.flammable, ["yes", "no", "not known"]) {
            out.edit(changes::facts(machine, "Whether the refrigerant burns", |facts| facts.flammable = said));
        }
    });
    if facts.flammable == Some(true) {
        wrong(
            ui,
            scope.palette,
            "WARNING: flammable refrigerant. No sparks near the refrigerant circuit; ventilate; follow the maker's instructions.",
        );
    }
    habits(ui, scope, out);
    limits(ui, scope, out);
    visits(ui, scope, out);
    meters(ui, scope, out);
    who(ui, scope, out);
    group(ui, "About this record");
    ask(field(ui, "source", Field::new("Source", &facts.source).hint("invented, or from where")), out, |text| {
        changes::facts(machine, "Source", |facts| facts.source = text)
    });
    ask(field(ui, "note", Field::new("Note", &facts.note).lines(3)), out, |text| {
        changes::facts(machine, "Note", |facts| facts.note = text)
    });
    if let Some(path) = scope.file.path {
        faint(ui, scope.palette, path.display().to_string());
    }
}

fn habits(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let now = scope.machine.facts.habits;
    let all =
        [(Habits::Iec, "IEC: mm², IEC colours and symbols"), (Habits::NorthAmerica, "North America: AWG and symbols")];
    let options: Vec<(String, bool)> =
        all.iter().map(|(habits, words)| ((*words).to_owned(), *habits == now)).collect();
    let shown = all.iter().find(|(habits, _)| *habits == now).map_or("", |(_, words)| words);
    if let Some(place) = choose(ui, "habits", "Habits", shown, &options)
        && let Some((habits, _)) = all.get(place)
    {
        out.edit(changes::facts(scope.machine, "Habits", |facts| facts.habits = *habits));
    }
}

fn limits(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let limits = scope.machine.facts.limits;
    for (name, known_as, volts, ac) in [
        ("Limit AC, V", "Highest extra-low voltage, volts AC", limits.extra_low_volts_ac, true),
        ("Limit DC, V", "Highest extra-low voltage, volts DC", limits.extra_low_volts_dc, false),
    ] {
        let shown = volts.to_string();
        let written = field(ui, name, Field::new(name, &shown).known_as(known_as));
        let read = |text: &str| text.trim().replace(',', ".").parse::<f64>().ok().filter(|v| v.is_finite() && *v > 0.0);
        if written.draft.as_deref().is_some_and(|draft| read(draft).is_none()) {
            wrong(ui, scope.palette, "Write volts, above 0, for example 50.");
            continue;
        }
        ask(written, out, |text| match read(&text) {
            Some(volts) => changes::facts(scope.machine, "Voltage limit", |facts| {
                if ac {
                    facts.limits.extra_low_volts_ac = volts;
                } else {
                    facts.limits.extra_low_volts_dc = volts;
                }
            }),
            None => Edit::default(),
        });
    }
}

fn visits(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let machine = scope.machine;
    group(ui, &format!("Visits ({})", machine.visits.len()));
    for (id, visit) in machine.visits.iter() {
        ui.push_id(("visit", id), |ui| {
            egui::CollapsingHeader::new(&visit.name).id_salt(id).show(ui, |ui| one_visit(ui, scope, id, visit, out));
        });
    }
    super::compared::choice(ui, scope, out);
    if ui.button("Begin a visit").on_hover_text("The record as it is now is kept as found.").clicked() {
        out.ask(Request::BeginVisit);
    }
}

fn one_visit(ui: &mut Ui, scope: &Scope<'_>, id: VisitId, visit: &Visit, out: &mut Requests) {
    let machine = scope.machine;
    ask(field(ui, "date", Field::new("Date", &visit.date).hint("2026-03-02")), out, |text| {
        changes::visit(machine, id, "Date of a visit", |visit| visit.date = text)
    });
    ask(field(ui, "who", Field::new("Who", &visit.who).known_as("Who came")), out, |text| {
        changes::visit(machine, id, "Who came", |visit| visit.who = text)
    });
    ask(field(ui, "why", Field::new("Why", &visit.why).known_as("Why the visit")), out, |text| {
        changes::visit(machine, id, "Why the visit", |visit| visit.why = text)
    });
    let work = visit.work.join("\n");
    ask(field(ui, "work", Field::new("Work done", &work).hint("a line each").lines(3)), out, |text| {
        changes::visit(machine, id, "Work done", |visit| visit.work = text.lines().map(str::to_owned).collect())
    });
    faint(ui, scope.palette, kept("As found", visit.as_found.as_deref()));
    faint(ui, scope.palette, kept("As left", visit.as_left.as_deref()));
    let (word, hint) = if visit.as_left.is_none() {
        ("Close the visit", "The record as it is now is kept as left.")
    } else {
        ("Close it again", "The record as it is now is kept as left, instead of the copy of before.")
    };
    if ui.button(word).on_hover_text(hint).clicked() {
        out.ask(Request::CloseVisit(id));
    }
}

/// Whether a visit has a copy of the record, and by which digits its file is found in the folder of visits.
fn kept(which: &str, hash: Option<&str>) -> String {
    match hash {
        Some(hash) => format!("{which}: kept, {}...", hash.get(..12).unwrap_or(hash)),
        None => format!("{which}: no copy"),
    }
}

fn meters(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let machine = scope.machine;
    group(ui, &format!("Meters ({})", machine.meters.len()));
    for (id, meter) in machine.meters.iter() {
        ui.push_id(("meter", id), |ui| {
            egui::CollapsingHeader::new(&meter.name).id_salt(id).show(ui, |ui| one_meter(ui, scope, id, meter, out));
        });
    }
    if ui.button("Add a meter").clicked() {
        let id = machine.meters.next_id();
        let name = changes::free_name("meter ", 1, |name| machine.meter_by_name(name).is_some());
        let meter = Meter { name: name.clone(), ..Meter::default() };
        out.edit(Edit::one(format!("Add {name}"), Change::Meter(id, Some(Arc::new(meter)))));
        out.entry(EntryRequest::Meter(Some(id)));
    }
}

type MeterValue = (&'static str, &'static str, fn(&Meter) -> Option<f64>, fn(&mut Meter, Option<f64>));

/// What a meter's maker says about it, as numbers.
const METER_VALUES: [MeterValue; 7] = [
    ("Tone below, Ω", "It surely sounds below, ohms", |m| m.tone_below_ohms, |m, v| m.tone_below_ohms = v),
    ("Silent above, Ω", "It is surely silent above, ohms", |m| m.silent_above_ohms, |m, v| m.silent_above_ohms = v),
    ("Input, Ω", "Input resistance on volts, ohms", |m| m.input_ohms, |m, v| m.input_ohms = v),
    (
        "Low-Z, Ω",
        "Input resistance in low-impedance mode, ohms",
        |m| m.low_impedance_ohms,
        |m, v| m.low_impedance_ohms = v,
    ),
    ("Leads, Ω", "Resistance of both leads, ohms", |m| m.lead_ohms, |m, v| m.lead_ohms = v),
    ("Accuracy, %", "Accuracy, per cent of the reading", |m| m.percent, |m, v| m.percent = v),
    ("Digits", "Accuracy, counts of the last digit", |m| m.digits, |m, v| m.digits = v),
];

fn one_meter(ui: &mut Ui, scope: &Scope<'_>, id: MeterId, meter: &Meter, out: &mut Requests) {
    let machine = scope.machine;
    let free = |text: &str| !text.trim().is_empty() && machine.meter_by_name(text).is_none_or(|other| other == id);
    let written = field(ui, "name", Field::new("Name", &meter.name).known_as("Name of the meter"));
    if written.draft.as_deref().is_some_and(|draft| !free(draft)) {
        wrong(ui, scope.palette, "The name is empty or taken.");
    } else {
        ask(written, out, |text| {
            if free(&text) {
                changes::meter(machine, id, "Name a meter", |meter| meter.name = text)
            } else {
                Edit::default()
            }
        });
    }
    ask(field(ui, "category", Field::new("Category", &meter.category).hint("CAT III 600 V")), out, |text| {
        changes::meter(machine, id, "Category of a meter", |meter| meter.category = text)
    });
    for (name, known_as, get, set) in METER_VALUES {
        let shown = get(meter).map(|value| value.to_string()).unwrap_or_default();
        let written = field(ui, name, Field::new(name, &shown).hint("not said").known_as(known_as));
        let read =
            |text: &str| text.trim().replace(',', ".").parse::<f64>().ok().filter(|v| v.is_finite() && *v >= 0.0);
        if written.draft.as_deref().is_some_and(|draft| !draft.trim().is_empty() && read(draft).is_none()) {
            wrong(ui, scope.palette, "Write a number, 0 or above.");
            continue;
        }
        ask(written, out, |text| changes::meter(machine, id, known_as, |meter| set(meter, read(&text))));
    }
}

/// The name that readings are logged under; kept on this computer, not in the record.
fn who(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    group(ui, "You");
    let written = field(ui, "you", Field::new("Your name", &scope.prefs.who).hint("for readings and decisions"));
    if let Some(who) = written.changed {
        out.ask(Request::Prefs(crate::app::prefs::Prefs { who, ..scope.prefs.clone() }));
    }
}
