//! The list of the sheet's stage: what goes on paper, and everything that can be written into a file.

use egui::{Button, ScrollArea, Ui};

use super::{Out, PaperRequest, optional, section_words};
use crate::app::prefs::{PaperPrefs, Prefs};
use crate::app::request::{Request, Requests};
use crate::app::scope::Scope;
use crate::app::widgets::{Field, faint, field, group, name, tick, wrong};
use crate::desk::{HAS_PAPER, PagesState, Print};
use crate::machine::Habits;

/// Why nothing is printed at practice.
pub(super) const AT_PRACTICE: &str =
    "At practice nothing goes on paper: a sheet would tell what the readings are there to find out.";

/// Draws the choices.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    ScrollArea::vertical().id_salt("paper").auto_shrink([false, false]).show(ui, |ui| {
        if scope.practice.is_some() {
            faint(ui, scope.palette, AT_PRACTICE);
        } else {
            if HAS_PAPER {
                pages(ui, scope, out);
            } else {
                faint(ui, scope.palette, "This build leaves paper out; lists and packs are written all the same.");
            }
            lists(ui, scope, out);
        }
        pack(ui, scope, out);
        ui.add_space(12.0);
    });
}

/// Says what of the record no file holds.
fn unsaved(ui: &mut Ui, scope: &Scope<'_>) {
    if scope.file.changed {
        wrong(
            ui,
            scope.palette,
            "The record has changes that are not saved. They go on paper all the same, and it says 'not saved'.",
        );
    } else if scope.file.path.is_none() {
        faint(ui, scope.palette, "This record was never saved. The paper says so.");
    }
}

fn pages(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let paper = &scope.view.shown.paper;
    ui.horizontal_wrapped(|ui| {
        for (print, words) in [(Print::Sheet, "Wiring sheet"), (Print::Labels, "Wire labels")] {
            let key = ui.add(Button::selectable(paper.print == print, words).frame_when_inactive(true));
            if key.clicked() {
                out.paper(PaperRequest::Print(print));
            }
        }
    });
    unsaved(ui, scope);
    ui.horizontal_wrapped(|ui| {
        if *scope.paper.state == PagesState::Working {
            let stop = ui.button("Stop");
            name(ui, stop.id, "Stop making the pages");
            if stop.clicked() {
                out.paper(PaperRequest::Stop);
            }
        } else {
            let words = if scope.paper.laid.is_some() { "Make the pages anew" } else { "Make the pages" };
            if ui.button(words).clicked() {
                out.paper(PaperRequest::Make);
            }
        }
    });
    ui.horizontal_wrapped(|ui| {
        write_key(ui, Out::Pdf, out);
        write_key(ui, Out::Pictures, out);
        let view = ui.button("Open in the viewer to print");
        if view.on_hover_text("Hands a PDF to the program of this computer that shows and prints it").clicked() {
            out.paper(PaperRequest::View);
        }
    });
    group(ui, "Paper");
    let prefs = &scope.prefs.paper;
    ui.horizontal_wrapped(|ui| {
        for (letter, words) in [(false, "A4"), (true, "Letter")] {
            if ui.add(Button::selectable(prefs.letter == letter, words).frame_when_inactive(true)).clicked() {
                set(scope, PaperPrefs { letter, ..prefs.clone() }, out);
            }
        }
        if paper.print == Print::Sheet {
            for (landscape, words) in [(false, "Portrait"), (true, "Landscape")] {
                let key = ui.add(Button::selectable(prefs.landscape == landscape, words).frame_when_inactive(true));
                let tip = if landscape {
                    "Every page on its long side"
                } else {
                    "Pages stand; figures that are the better for it lie"
                };
                if key.on_hover_text(tip).clicked() {
                    set(scope, PaperPrefs { landscape, ..prefs.clone() }, out);
                }
            }
        }
    });
    if paper.print != Print::Sheet {
        return;
    }
    let habits = match scope.machine.facts.habits {
        Habits::Iec => "Symbols: IEC, by the record's habits.",
        Habits::NorthAmerica => "Symbols: North America, by the record's habits.",
    };
    faint(ui, scope.palette, habits);
    sections(ui, scope, out);
    group(ui, "The shop's template");
    let name = "Path of the shop's template";
    let written =
        field(ui, "template", Field::new("", &prefs.template).known_as(name).hint("none; or a path, then Enter"));
    let draft = ui.scope_id().with("template draft");
    if let Some(text) = written.changed {
        ui.data_mut(|data| data.insert_temp(draft, text));
    }
    if written.entered
        && let Some(template) = ui.data_mut(|data| data.remove_temp::<String>(draft))
    {
        set(scope, PaperPrefs { template: template.trim().to_owned(), ..prefs.clone() }, out);
    }
    ui.horizontal_wrapped(|ui| {
        if ui.button("Choose a template…").clicked() {
            out.paper(PaperRequest::Template);
        }
        if !prefs.template.is_empty() && ui.button("Without a template").clicked() {
            set(scope, PaperPrefs { template: String::new(), ..prefs.clone() }, out);
        }
    });
}

fn sections(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    let paper = &scope.view.shown.paper;
    group(ui, "Sections");
    ui.horizontal_wrapped(|ui| {
        for (on, words, full_name) in [(true, "All", "All sections"), (false, "None", "None of the sections")] {
            let key = ui.button(words);
            name(ui, key.id, full_name);
            if key.clicked() {
                out.paper(PaperRequest::AllSections(on));
            }
        }
    });
    for (place, section) in optional() {
        let on = !paper.left_out.get(place).copied().unwrap_or(false);
        if let Some(on) = tick(ui, on, section_words(section)) {
            out.paper(PaperRequest::Section(section, on));
        }
    }
    faint(ui, scope.palette, "Title block and cautions are on every sheet.");
}

fn lists(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    group(ui, "For other programs");
    if !HAS_PAPER {
        unsaved(ui, scope);
    }
    ui.horizontal_wrapped(|ui| {
        write_key(ui, Out::Wires, out);
        write_key(ui, Out::Readings, out);
        write_key(ui, Out::Workbook, out);
        if HAS_PAPER {
            write_key(ui, Out::Drawing, out);
        }
    });
}

fn pack(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    group(ui, "To hand the record on");
    ui.horizontal_wrapped(|ui| {
        if scope.practice.is_none() {
            write_key(ui, Out::Pack, out);
        }
        if ui.button("Open a packed file…").clicked() {
            out.paper(PaperRequest::Unpack);
        }
    });
}

fn write_key(ui: &mut Ui, what: Out, out: &mut Requests) {
    // Long words go on below in a narrow list.
    if ui.add(Button::new(what.key_words()).wrap()).clicked() {
        out.paper(PaperRequest::Write(what));
    }
}

fn set(scope: &Scope<'_>, paper: PaperPrefs, out: &mut Requests) {
    out.ask(Request::Prefs(Prefs { paper, ..scope.prefs.clone() }));
}
