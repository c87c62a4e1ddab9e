//! One end of a wire on the wire's card: where it is, how that is known, what is crimped on it.

use egui::Ui;

use super::ask;
use crate::app::request::{EntryRequest, Requests};
use crate::app::scope::Scope;
use crate::app::selection::Probe;
use crate::app::widgets::{Field, choose_bare, field, group, name, row, strong, tick, wrong};
use crate::machine::{Edit, EndAt, Known, Lug, Machine, Side, Spot, TerminalRef, Wire, WireId};

/// Draws one end.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, (id, wire): (WireId, &Wire), side: Side, chosen: bool, out: &mut Requests) {
    // The name it has on the drawing, in the log and in files.
    let title = scope.machine.spot_name(&Spot::End(id, side));
    let title = title.as_str();
    ui.push_id(side.word(), |ui| {
        group(ui, &if chosen { format!("End {title} (selected)") } else { format!("End {title}") });
        place(ui, scope, (id, wire), side, title, out);
        known(ui, scope, (id, wire), side, title, out);
        let end = wire.end(side);
        let lugs: Vec<(String, bool)> =
            Lug::ALL.iter().map(|(lug, _, words)| ((*words).to_owned(), *lug == end.lug)).collect();
        if let Some(place) =
            row(ui, "Lug", |ui| choose_bare(ui, "lug", &format!("{title}: lug"), end.lug.words(), &lugs))
            && let Some((lug, _, _)) = Lug::ALL.get(place)
        {
            out.edit(scope.machine.edit_wire(id, "Lug", |wire| wire.end_mut(side).lug = *lug));
        }
        ui.horizontal_wrapped(|ui| {
            for probe in Probe::BOTH {
                let key = ui.button(format!("{} probe", probe.words()));
                name(ui, key.id, &format!("{title}: {} probe here", probe.words()));
                if key.clicked() {
                    out.entry(EntryRequest::Put(probe, Some(Spot::End(id, side))));
                }
            }
        });
    });
}

fn place(ui: &mut Ui, scope: &Scope<'_>, (id, wire): (WireId, &Wire), side: Side, title: &str, out: &mut Requests) {
    let machine = scope.machine;
    let end = wire.end(side);
    let now = machine.end_name(&end.at);
    let written = field(
        ui,
        ("end", side.word()),
        Field::new("Where", &now).hint("K1.A1, loose or unknown").known_as(&format!("{title}, where it is")),
    );
    if let Some(draft) = &written.draft
        && *draft != now
        && let Err(message) = read_end(scope, draft)
    {
        wrong(ui, scope.palette, message);
    } else {
        ask(written, out, |text| match read_end(scope, &text) {
            Ok(at) => machine.edit_wire(id, "Land an end", |wire| {
                let end = wire.end_mut(side);
                end.lifted &= matches!(at, EndAt::Terminal(_));
                end.at = at;
            }),
            Err(_) => Edit::default(),
        });
    }
    ui.horizontal_wrapped(|ui| {
        if let EndAt::Terminal(terminal) = &end.at {
            if let Some(lifted) = tick(ui, end.lifted, "Lifted") {
                let label = if lifted { "Lift an end" } else { "Land a lifted end" };
                out.edit(machine.edit_wire(id, label, |wire| wire.end_mut(side).lifted = lifted));
            }
            if ui.button("Go there").clicked() {
                out.go_to(terminal.clone());
            }
        }
        for (words, at) in [("Loose", EndAt::Loose), ("Unknown", EndAt::Unknown)] {
            let key = ui.add(egui::Button::selectable(end.at == at, words));
            name(ui, key.id, &format!("{title}: {words}"));
            if key.clicked() {
                out.edit(set_open(machine, id, side, at));
            }
        }
    });
}

/// Takes an end off its terminal.
fn set_open(machine: &Machine, id: WireId, side: Side, at: EndAt) -> Edit {
    let label = if at == EndAt::Loose { "Loose end" } else { "Unknown end" };
    machine.edit_wire(id, label, |wire| {
        let end = wire.end_mut(side);
        end.at = at;
        end.lifted = false;
    })
}

/// Reads where an end is, as the wire list writes it.
///
/// # Errors
/// A sentence that says what is wrong with it.
pub fn read_end(scope: &Scope<'_>, text: &str) -> Result<EndAt, String> {
    let text = text.trim();
    match text {
        "loose" => return Ok(EndAt::Loose),
        "unknown" | "" => return Ok(EndAt::Unknown),
        _ => {}
    }
    let form = || format!("'{text}' is no place; write a terminal such as K1.A1, or loose, or unknown.");
    let (tag, marking) = text.split_once('.').ok_or_else(form)?;
    let id = scope.machine.part_by_tag(tag).ok_or_else(|| format!("There is no part '{tag}'."))?;
    let part = scope.machine.parts.get(id).ok_or_else(form)?;
    if scope.catalogue.body(part).terminal(marking).is_none() {
        return Err(format!("{tag} has no terminal '{marking}'."));
    }
    Ok(EndAt::Terminal(TerminalRef::new(id, marking)))
}

fn known(ui: &mut Ui, scope: &Scope<'_>, (id, wire): (WireId, &Wire), side: Side, title: &str, out: &mut Requests) {
    let now = wire.end(side).known;
    row(ui, "Known", |ui| {
        ui.spacing_mut().item_spacing.x = 2.0;
        // What readings prove or dispute is computed from them; by hand an end is seen or assumed.
        if matches!(now, Known::Proven | Known::Disputed) {
            strong(ui, now.words());
        }
        for known in [Known::Seen, Known::Assumed] {
            let key = ui.add(egui::Button::selectable(now == known, known.words()));
            name(ui, key.id, &format!("{title}: {}", known.words()));
            if key.clicked() {
                out.edit(
                    scope
                        .machine
                        .edit_wire(id, &format!("End {}", known.words()), |wire| wire.end_mut(side).known = known),
                );
            }
        }
    });
}
