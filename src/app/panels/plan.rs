//! The plan of a removal, at the side: which wires, what taking them out changes, the order of work ticked off step by step, and its end.

use egui::{RichText, Ui};

use crate::app::marks;
use crate::app::request::{EntryRequest, Request, Requests, Show};
use crate::app::scope::Scope;
use crate::app::selection::Probe;
use crate::app::stage::Stage;
use crate::app::theme::bold;
use crate::app::widgets::{Field, faint, field, group, name, strong, wrong};
use crate::app::witness;
use crate::machine::{EndAt, Part, PhotoId, Side, Spot, Thing, VisitId, Wire, WireId, WireState};
use crate::quantity::Function;
use crate::removal::{Change, Step, going, waits_for};

/// Whether the plan stands at the side, in place of the card.
pub fn is_shown(scope: &Scope<'_>) -> bool {
    scope.view.stage == Stage::Removal && scope.view.removing.plan_shown
}

/// Draws the two keys that change between plan and card; nothing in another stage.
pub fn keys(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    if scope.view.stage != Stage::Removal {
        return;
    }
    ui.add_space(4.0);
    let count = wires(scope).len();
    let plan = if count == 0 { "Plan".to_owned() } else { format!("Plan ({count})") };
    ui.horizontal(|ui| {
        ui.spacing_mut().item_spacing.x = 2.0;
        for (shows, words) in [(false, "Card".to_owned()), (true, plan)] {
            let key = ui.add(egui::Button::selectable(scope.view.removing.plan_shown == shows, words));
            name(ui, key.id, if shows { "Show the plan of the removal" } else { "Show the card" });
            if key.clicked() {
                out.show(Show::Plan(shows));
            }
        }
    });
}

/// The wires of the plan: those that were chosen, and those of which a step is ticked off.
fn wires(scope: &Scope<'_>) -> Vec<WireId> {
    let ticked = scope.machine.ticks.values().filter_map(|tick| match tick.at {
        Some(Spot::Wire(wire)) => Some(wire),
        _ => None,
    });
    let all: std::collections::BTreeSet<WireId> = scope.view.removing.chosen.iter().copied().chain(ticked).collect();
    all.into_iter().filter(|&wire| scope.machine.wires.contains(wire)).collect()
}

/// Draws the plan.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    ui.add_space(4.0);
    ui.heading("Plan of the removal");
    let chosen = wires(scope);
    let steps = &scope.results.removal.steps;
    let to_do = steps.iter().filter(|step| !step.stays());
    let (of, done) = (to_do.clone().count(), to_do.filter(|step| step.done.is_some()).count());
    if !scope.results.removal_fresh {
        faint(ui, scope.palette, "The plan is being worked out…");
    } else if of > 0 {
        faint(ui, scope.palette, format!("{done} of {of} steps ticked off"));
    }
    if chosen.is_empty() {
        strong(ui, "No wire is on the plan.");
        faint(
            ui,
            scope.palette,
            "Press a wire in the list or on the drawing and put it on the plan on its card, or have all planned that may go. What stays, and \
             why, is said here too.",
        );
    }
    for &id in &chosen {
        if let Some(wire) = scope.machine.wires.get(id) {
            ui.push_id(("wire", id), |ui| one_wire(ui, scope, id, wire, out));
        }
    }
    let removal = scope.results.removal;
    if !scope.results.removal_fresh && removal.steps.is_empty() {
        return;
    }
    ui.add_enabled_ui(scope.results.removal_fresh, |ui| {
        if let Some(change) = removal.change.as_ref().filter(|_| !chosen.is_empty()) {
            group(ui, "What taking out changes");
            changes(ui, scope, change, out);
        }
        if !removal.steps.is_empty() {
            group(ui, "Order of work");
            who(ui, scope, out);
            for at in 0..removal.steps.len() {
                ui.push_id(("step", at), |ui| one_step(ui, scope, &removal.steps, at, out));
            }
        }
        end(ui, scope, out);
    });
}

fn one_wire(ui: &mut Ui, scope: &Scope<'_>, id: WireId, wire: &Wire, out: &mut Requests) {
    ui.separator();
    ui.horizontal_wrapped(|ui| {
        let size = egui::TextStyle::Body.resolve(ui.style()).size;
        let (rect, _) = ui.allocate_exact_size(egui::vec2(size * 1.8, size), egui::Sense::hover());
        marks::swatch(ui.painter(), rect, wire.colour, scope.palette);
        ui.label(RichText::new(wire.key.as_str()).family(bold()));
        let colour = wire.colour.map_or_else(|| "colour not said".to_owned(), crate::quantity::WireColour::words);
        let number = wire.number.as_ref().map(|number| format!(", no. {number}")).unwrap_or_default();
        ui.label(format!("{colour}{number}"));
        if wire.state != WireState::InPlace {
            ui.label(wire.state.words());
        }
    });
    if let Some(judged) = scope.results.removal.verdicts.wires.get(&id) {
        ui.add(egui::Label::new(format!("By the record: {}.", judged.verdict.words())).wrap());
    }
    for side in Side::BOTH {
        let words = end_words(scope, id, wire, side);
        ui.add(egui::Label::new(words).wrap());
    }
    ui.horizontal_wrapped(|ui| {
        let key = ui.button("Show me");
        name(ui, key.id, &format!("Show me {}", wire.key));
        if key.clicked() {
            out.go_to(id);
        }
        for side in Side::BOTH {
            let key = ui.button(side.word());
            name(ui, key.id, &format!("Show me {}", scope.machine.spot_name(&Spot::End(id, side))));
            if key.on_hover_text("Show me this end").clicked() {
                out.go_to(Spot::End(id, side));
            }
        }
        let photos: std::collections::BTreeSet<_> =
            Side::BOTH.into_iter().filter_map(|side| photo_of(scope, wire, side)).collect();
        for photo in photos {
            let Some(entry) = scope.machine.photos.get(photo) else { continue };
            let key = ui.add(egui::Button::new(format!("Photo {}", entry.name)).wrap());
            name(ui, key.id, &format!("Show the photo {} of {}", entry.name, wire.key));
            if key.clicked() {
                out.go_to(Thing::Photo(photo));
            }
        }
        let ticked = scope.machine.ticks.values().any(|tick| tick.at == Some(Spot::Wire(id)));
        let key = ui.add_enabled(!ticked, egui::Button::new("Off the plan"));
        name(ui, key.id, &format!("Take {} off the plan", wire.key));
        let key = key.on_disabled_hover_text("Steps of it are ticked off: stop the work first, or undo.");
        if key.clicked() {
            out.show(Show::Choose(vec![id], false));
        }
    });
}

/// The part that an end is on.
fn part_of<'a>(scope: &Scope<'a>, wire: &Wire, side: Side) -> Option<&'a Part> {
    match &wire.end(side).at {
        EndAt::Terminal(terminal) => scope.machine.parts.get(terminal.part),
        EndAt::Loose | EndAt::Unknown => None,
    }
}

/// The photo that shows the part an end is on.
fn photo_of(scope: &Scope<'_>, wire: &Wire, side: Side) -> Option<PhotoId> {
    part_of(scope, wire, side).and_then(|part| part.crop).map(|crop| crop.photo)
}

/// Where an end is: terminal, part, lug, how it is known.
fn end_words(scope: &Scope<'_>, id: WireId, wire: &Wire, side: Side) -> String {
    let machine = scope.machine;
    let end = wire.end(side);
    let mut all = vec![machine.end_name(&end.at)];
    if let Some(part) = part_of(scope, wire, side).filter(|part| !part.title.is_empty()) {
        all.push(part.title.clone());
    }
    if end.lug != crate::machine::Lug::Unsaid {
        all.push(end.lug.words().to_owned());
    }
    if end.lifted {
        all.push("lifted".to_owned());
    }
    let spot = machine.spot_name(&Spot::End(id, side));
    format!("{spot}: {} ({})", all.join(", "), end.known.words())
}

/// What taking the wires out changes: a proof that it is nothing, or a condition that shows what.
fn changes(ui: &mut Ui, scope: &Scope<'_>, change: &Change, out: &mut Requests) {
    let words = change.words(scope.machine);
    match change {
        Change::Nothing(proof) => {
            strong(ui, words);
            faint(ui, scope.palette, proof.words());
        }
        Change::Differs(..) | Change::Guards(..) | Change::Earth(_) => wrong(ui, scope.palette, words),
        Change::NotKnown(_) => strong(ui, words),
        Change::NotDecided => {
            strong(ui, words);
            if ui.button("Work on, four times as long").clicked() {
                out.show(Show::WorkOn);
            }
        }
    }
    if let Some((wire, witness)) = change.shown() {
        let name = scope.machine.wire_name(wire);
        let about = match change {
            Change::Guards(..) => format!("guarded by {name}"),
            _ => format!("differs without {name}"),
        };
        witness::show(ui, scope, &about, witness, out);
    }
}

/// Under which name steps are ticked off, where none is set yet.
fn who(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    if scope.prefs.who.trim().is_empty() {
        let hint = Field::new("Your name", &scope.prefs.who).hint("for the steps you tick off");
        if let Some(who) = field(ui, "who ticks", hint).changed {
            out.ask(Request::Prefs(crate::app::prefs::Prefs { who, ..scope.prefs.clone() }));
        }
    }
}

fn one_step(ui: &mut Ui, scope: &Scope<'_>, steps: &[Step], at: usize, out: &mut Requests) {
    let Some(step) = steps.get(at) else { return };
    let is_warning = ["DANGER", "WARNING", "CAUTION"].iter().any(|word| step.what.starts_with(word));
    let ink = if is_warning { scope.palette.disputes } else { scope.palette.ink };
    let text = format!("{}. {}", at + 1, step.what);
    ui.add_space(3.0);
    if step.stays() {
        ui.add(egui::Label::new(RichText::new(text).color(ink)).wrap());
        return;
    }
    let waits = waits_for(steps, at);
    // What makes the machine dead holds for the day it was done.
    let again = waits.is_none() && step.wire.is_some() && step.done.is_none() && isolated_before(steps, scope.now);
    let tick = |out: &mut Requests, name: &str| {
        out.edit(scope.machine.tick_off(name, step.wire, scope.now, &scope.prefs.who));
    };
    let mut done = step.done.is_some();
    let was_done = done;
    let ends_in_two_ways = step.name() == "out";
    let can = !was_done && waits.is_none() && !again;
    let written = RichText::new(&text).color(if was_done { scope.palette.faint } else { ink });
    // The words stay in full ink while their turn has not come: they are to be read beforehand.
    ui.horizontal_top(|ui| {
        if !ends_in_two_ways {
            let response = ui.add_enabled(can, egui::Checkbox::without_text(&mut done));
            name(ui, response.id, &text);
            if response.changed() && done {
                tick(out, step.name());
            }
        }
        ui.add(egui::Label::new(written).wrap());
    });
    if let Some(said) = &step.done {
        faint(ui, scope.palette, format!("done {said}"));
    } else if again {
        let first = at == 0 || steps.get(at - 1).is_some_and(|before| before.wire.is_none() || before.done.is_some());
        if first {
            wrong(
                ui,
                scope.palette,
                "DANGER: isolating and verifying were ticked off on another day, or the supply was on since. Isolate, lock and verify again before anything is touched.",
            );
            let tip = "Takes back the ticks of isolating and verifying, so that each is done again. What is off stays off. One step of undo.";
            if ui.button("Begin again with isolating").on_hover_text(tip).clicked() {
                out.edit(scope.machine.isolate_again());
            }
        }
    } else if let Some(before) = waits
        && at > 0
        && waits_for(steps, at - 1).is_none()
    {
        faint(ui, scope.palette, format!("Step {} comes first.", before + 1));
    }
    if step.between.is_none() && (!ends_in_two_ways || was_done) {
        return;
    }
    ui.horizontal_wrapped(|ui| {
        if let Some(between) = &step.between {
            let key = ui.button("Put the probes there");
            name(ui, key.id, &format!("Put the probes there, step {}", at + 1));
            if key.clicked() {
                let [red, black] = between.as_ref().clone();
                out.entry(EntryRequest::Put(Probe::Red, Some(red.clone())));
                out.entry(EntryRequest::Put(Probe::Black, Some(black.clone())));
                out.entry(EntryRequest::Function(Some(Function::Tone)));
                out.show(Show::GoTo(vec![red.into(), black.into()]));
            }
        }
        if ends_in_two_ways && !was_done {
            for (words, step_name) in [("It is out", "out"), ("It stays in, capped", "cap")] {
                let key = ui.add_enabled(can, egui::Button::new(words));
                let wire = step.wire.map(|wire| scope.machine.wire_name(wire)).unwrap_or_default();
                name(ui, key.id, &format!("{words}: {wire}"));
                if key.clicked() {
                    tick(out, step_name);
                }
            }
        }
    });
}

/// The end of the work: recorded as taken out or capped off, or stopped, each one step of undo.
fn end(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let machine = scope.machine;
    let steps = &scope.results.removal.steps;
    let all = going(steps);
    let to_do = steps.iter().filter(|step| !step.stays());
    let (of, done) = (to_do.clone().count(), to_do.filter(|step| step.done.is_some()).count());
    if all.is_empty() && machine.ticks.is_empty() {
        return;
    }
    group(ui, "End of the work");
    if !all.is_empty() {
        ui.add(egui::Label::new(format!("{done} of {of} steps are ticked off.")).wrap());
        // What is still on its terminals is neither out nor capped.
        let off = off_its_terminals(steps);
        if !off {
            faint(ui, scope.palette, "To be recorded once both ends of each wire are ticked off as taken off.");
        } else if done < of {
            faint(ui, scope.palette, "What is recorded now says so: it does not say that the rest was done.");
        }
        let who = scope.prefs.who.trim();
        let by = if who.is_empty() { String::new() } else { format!(", {who}") };
        let said = format!("{}{by}; {done} of {of} steps ticked off", scope.now);
        for (words, gone) in
            [("Record as taken out", WireState::Removed), ("Record as capped off", WireState::CappedOff)]
        {
            let tip = "One step of undo. The ticks go, and what was done is noted on each wire and at the visit.";
            let key = ui.add_enabled(off, egui::Button::new(words).wrap());
            if key.on_hover_text(tip).clicked() {
                out.edit(machine.finish_removal(&all, gone, &said, open_visit(scope)));
                out.show(Show::Choose(all.clone(), false));
            }
        }
    }
    if !machine.ticks.is_empty() {
        let count = machine.ticks.len();
        let key = ui.add(egui::Button::new(format!("Stop: take back what is ticked off ({count})")).wrap());
        let tip = "Ends that are off are landed again in the record, wires are back in their place: see that they are so on the machine. \
                   One step of undo.";
        if key.on_hover_text(tip).clicked() {
            out.edit(machine.stop_removal());
        }
    }
}

/// Whether a step that makes the machine dead was done on another day, or one that comes after the work is done already.
fn isolated_before(steps: &[Step], now: &str) -> bool {
    let today = now.get(..10).unwrap_or(now);
    let first = steps.iter().position(|step| step.wire.is_some()).unwrap_or(steps.len());
    steps.iter().enumerate().filter(|(_, step)| step.wire.is_none()).any(|(at, step)| match &step.done {
        Some(done) => at > first || !done.starts_with(today),
        None => false,
    })
}

/// Whether both ends of every wire that goes are ticked off as taken off.
fn off_its_terminals(steps: &[Step]) -> bool {
    let going = going(steps);
    let own = |step: &&Step| step.wire.is_some_and(|wire| going.contains(&wire));
    steps.iter().filter(own).filter(|step| step.name().starts_with("take-off")).all(|step| step.done.is_some())
}

/// The visit that is going on.
fn open_visit(scope: &Scope<'_>) -> Option<VisitId> {
    let (id, visit) = scope.machine.visits.iter().next_back()?;
    visit.as_left.is_none().then_some(id)
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn isolating_holds_for_its_day_and_until_the_supply_is_back() {
        let step = |key: &str, wire: Option<u32>, done: Option<&str>| Step {
            key: key.to_owned(),
            wire: wire.map(WireId),
            what: String::new(),
            done: done.map(str::to_owned),
            between: None,
        };
        let plan = |isolated: Option<&str>, tried: Option<&str>| {
            [step("isolate", None, isolated), step("W1.find", Some(1), None), step("try", None, tried)]
        };
        let now = "2026-03-02 10:15";
        assert!(!isolated_before(&plan(Some("2026-03-02 08:00, A. Witness"), None), now));
        assert!(isolated_before(&plan(Some("2026-03-01 08:00, A. Witness"), None), now));
        assert!(isolated_before(&plan(Some("2026-03-02 08:00"), Some("2026-03-02 09:00")), now));
        assert!(!isolated_before(&plan(None, None), now), "then its turn comes first anyway");
    }
}
