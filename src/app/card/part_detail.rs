//! The longer tables of a part's card: pins of its own, ratings, positions at rest.

use egui::Ui;

use super::ask;
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::widgets::{Field, choose, choose_bare, faint, field, group, name, wrong};
use crate::catalogue::Family;
use crate::machine::{Edit, Marking, Part, PartId, Pin, PinRole};
use crate::quantity::{Rated, Rating, format_scaled, parse_scaled};

type MakeRole = fn(Marking) -> PinRole;

/// Roles with another pin: their words and how they are made.
const ROLES: [(&str, MakeRole); 7] = [
    ("supply, with", PinRole::Supply),
    ("joined inside to", PinRole::Joined),
    ("output, fed from", PinRole::OutputFrom),
    ("output, sinks to", PinRole::OutputTo),
    ("output, dry contact to", PinRole::OutputDry),
    ("output, triac to", PinRole::OutputTriac),
    ("input, against", PinRole::Input),
];

fn role_words(role: &PinRole) -> &'static str {
    match role {
        PinRole::Unknown => "not known",
        PinRole::Plain => "nothing inside",
        PinRole::Supply(_) => ROLES[0].0,
        PinRole::Joined(_) => ROLES[1].0,
        PinRole::OutputFrom(_) => ROLES[2].0,
        PinRole::OutputTo(_) => ROLES[3].0,
        PinRole::OutputDry(_) => ROLES[4].0,
        PinRole::OutputTriac(_) => ROLES[5].0,
        PinRole::Input(_) => ROLES[6].0,
    }
}

/// The pins a board or an unknown part has of its own.
pub fn pins(ui: &mut Ui, scope: &Scope<'_>, id: PartId, part: &Part, out: &mut Requests) {
    let family = scope.catalogue.kind(&part.kind).map(|kind| kind.family);
    if part.pins.is_empty() && !matches!(family, None | Some(Family::Boards | Family::Unknown)) {
        return;
    }
    group(ui, &format!("Pins of its own ({})", part.pins.len()));
    for (place, pin) in part.pins.iter().enumerate() {
        ui.push_id(("pin", place), |ui| one_pin(ui, scope, id, part, (place, pin), out));
    }
    if ui.button("Add a pin").clicked() {
        let taken = |marking: &str| scope.catalogue.body(part).terminal(marking).is_some();
        let marking = (1..=u32::MAX).map(|n| n.to_string()).find(|marking| !taken(marking)).unwrap_or_default();
        let pin = Pin { marking: marking.into(), role: PinRole::Unknown, at: None };
        out.edit(scope.machine.edit_part(id, "Add a pin", |part| part.pins.push(pin)));
    }
}

fn one_pin(ui: &mut Ui, scope: &Scope<'_>, id: PartId, part: &Part, (place, pin): (usize, &Pin), out: &mut Requests) {
    let machine = scope.machine;
    let shown = format!("Pin {}", pin.marking);
    let mut roles = vec![("not known".to_owned(), pin.role == PinRole::Unknown)];
    roles.push(("nothing inside".to_owned(), pin.role == PinRole::Plain));
    roles.extend(ROLES.iter().map(|(words, _)| ((*words).to_owned(), role_words(&pin.role) == *words)));
    let others: Vec<Marking> =
        part.pins.iter().map(|other| other.marking.clone()).filter(|other| *other != pin.marking).collect();
    if let Some(chosen) = choose(ui, "role", &shown, role_words(&pin.role), &roles) {
        let other = pin.role.other().cloned().or_else(|| others.first().cloned());
        let role = match (chosen, other) {
            (0, _) => Some(PinRole::Unknown),
            (1, _) => Some(PinRole::Plain),
            (more, Some(other)) => ROLES.get(more - 2).map(|(_, make)| make(other)),
            (_, None) => None,
        };
        match role {
            Some(role) => out.edit(set_pin(scope, id, place, "Role of a pin", |pin| pin.role = role)),
            None => faint(ui, scope.palette, "Add the other pin first."),
        }
    }
    if let Some(other) = pin.role.other() {
        let options: Vec<(String, bool)> = others.iter().map(|o| (o.to_string(), o == other)).collect();
        ui.horizontal(|ui| {
            ui.add_space(crate::app::widgets::name_width(ui));
            let chosen = choose_bare(ui, "other", &format!("{shown}, the other pin"), other.as_str(), &options);
            let made = chosen
                .and_then(|chosen| others.get(chosen))
                .zip(ROLES.iter().find(|(words, _)| *words == role_words(&pin.role)));
            if let Some((other, (_, make))) = made {
                let role = make(other.clone());
                out.edit(set_pin(scope, id, place, "Role of a pin", |pin| pin.role = role));
            }
        });
        if !others.contains(other) {
            wrong(ui, scope.palette, format!("There is no pin {other} on this part."));
        }
    }
    ui.horizontal(|ui| {
        let gone = ui.button("Remove the pin");
        name(ui, gone.id, &format!("Remove pin {}", pin.marking));
        let used =
            machine.wires_at(&crate::machine::TerminalRef { part: id, marking: pin.marking.clone() }).next().is_some();
        if gone.on_hover_text(if used { "Wires are on it: move them first" } else { "Take this pin out" }).clicked()
            && !used
        {
            out.edit(machine.edit_part(id, "Remove a pin", |part| {
                if place < part.pins.len() {
                    part.pins.remove(place);
                }
            }));
        }
    });
    let written = field(
        ui,
        "marking",
        Field::new("Marking", pin.marking.as_str()).known_as(&format!("Marking of pin {}", place + 1)),
    );
    if let Some(draft) = &written.draft
        && let Err(message) = free_marking(scope, part, draft, pin)
    {
        wrong(ui, scope.palette, message);
        return;
    }
    ask(written, out, |text| rename_pin(scope, id, part, pin, &text));
}

fn set_pin(scope: &Scope<'_>, id: PartId, place: usize, label: &str, change: impl FnOnce(&mut Pin)) -> Edit {
    scope.machine.edit_part(id, label, |part| {
        if let Some(pin) = part.pins.get_mut(place) {
            change(pin);
        }
    })
}

fn free_marking(scope: &Scope<'_>, part: &Part, text: &str, pin: &Pin) -> Result<(), String> {
    if text.trim().is_empty() || text.contains(char::is_whitespace) {
        return Err("A marking has no space in it and is not empty.".to_owned());
    }
    if text != pin.marking.as_str() && scope.catalogue.body(part).terminal(text).is_some() {
        return Err(format!("'{text}' is taken on this part."));
    }
    Ok(())
}

/// Renames a pin: the roles of other pins and the wires on it follow, in one step.
fn rename_pin(scope: &Scope<'_>, id: PartId, part: &Part, pin: &Pin, text: &str) -> Edit {
    if free_marking(scope, part, text, pin).is_err() {
        return Edit::default();
    }
    scope.machine.rename_marking(id, &pin.marking, &Marking::from(text))
}

/// The ratings as printed; what is not written is the kind's usual.
pub fn ratings(ui: &mut Ui, scope: &Scope<'_>, id: PartId, part: &Part, out: &mut Requests) {
    let usual = scope.catalogue.kind(&part.kind).map(|kind| kind.ratings.clone()).unwrap_or_default();
    let asked_id = ui.scope_id().with(("ratings asked for", id));
    let mut asked: Vec<Rating> = ui.data(|data| data.get_temp(asked_id)).unwrap_or_default();
    let shown: Vec<Rating> = Rating::ALL
        .iter()
        .copied()
        .filter(|r| usual.get(*r).is_some() || part.ratings.get(*r).is_some() || asked.contains(r))
        .collect();
    group(ui, "Ratings as printed");
    if shown.is_empty() {
        faint(ui, scope.palette, "None said. Write what is printed on the part itself.");
    }
    for rating in &shown {
        let unit = rating.unit().spellings().first().copied().unwrap_or("");
        let own = part.ratings.get(*rating).map(|value| format_scaled(value, unit)).unwrap_or_default();
        let hint = usual.get(*rating).map(|value| format!("usual {}", format_scaled(value, unit))).unwrap_or_default();
        let words = rating.words();
        let written = field(ui, ("rating", rating.name()), Field::new(words, &own).hint(&hint));
        if let Some(draft) = &written.draft
            && !draft.trim().is_empty()
            && let Err(error) = parse_scaled(draft, rating.unit().spellings())
        {
            wrong(ui, scope.palette, error.to_string());
            continue;
        }
        ask(written, out, |text| set_rating(scope, id, *rating, &text));
    }
    let rest: Vec<Rating> = Rating::ALL.iter().copied().filter(|rating| !shown.contains(rating)).collect();
    let options: Vec<(String, bool)> = rest.iter().map(|rating| (rating.words().to_owned(), false)).collect();
    if let Some(place) = choose(ui, "more ratings", "Add", "a rating", &options)
        && let Some(rating) = rest.get(place)
    {
        asked.push(*rating);
        ui.data_mut(|data| data.insert_temp(asked_id, asked));
    }
}

fn set_rating(scope: &Scope<'_>, id: PartId, rating: Rating, text: &str) -> Edit {
    if text.trim().is_empty() {
        return scope.machine.edit_part(id, rating.words(), |part| part.ratings.clear(rating));
    }
    let Ok(value) = parse_scaled(text, rating.unit().spellings()) else { return Edit::default() };
    scope.machine.edit_part(id, rating.words(), |part| {
        let current = part.ratings.rated(rating).and_then(|rated| rated.current);
        part.ratings.set(rating, Rated { value, current });
    })
}

/// Where its switches stand at rest.
pub fn rest(ui: &mut Ui, scope: &Scope<'_>, id: PartId, part: &Part, out: &mut Requests) {
    let Some(kind) = scope.catalogue.kind(&part.kind) else { return };
    if kind.switches.is_empty() {
        return;
    }
    group(ui, "At rest");
    for switch in &kind.switches {
        let usual = switch.positions.first().map_or("", String::as_str);
        let now = part.rest.get(&switch.name).map_or(usual, String::as_str);
        let options: Vec<(String, bool)> = switch.positions.iter().map(|p| (p.clone(), p == now)).collect();
        if let Some(place) = choose(ui, ("rest", &switch.name), &switch.name, now, &options)
            && let Some(position) = switch.positions.get(place)
        {
            let label = format!("{} at rest", switch.name);
            out.edit(scope.machine.edit_part(id, &label, |part| {
                if position == usual {
                    part.rest.remove(&switch.name);
                } else {
                    part.rest.insert(switch.name.clone(), position.clone());
                }
            }));
        }
    }
}
