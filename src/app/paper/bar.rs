//! The bar below the pages, where the reading bar stands else: which page, how near, and whether the pages are of the record as it is.

use egui::{Button, RichText, Ui};

use super::{PaperRequest, Zoom};
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::theme::bold;
use crate::app::widgets::{faint, name, wrong};
use crate::desk::{HAS_PAPER, PagesState};

/// Draws the bar.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    if !HAS_PAPER || scope.practice.is_some() {
        faint(ui, scope.palette, "There are no pages here.");
        return;
    }
    let paper = &scope.view.shown.paper;
    let count = scope.paper.laid.map_or(0, |laid| laid.sizes_mm.len());
    let page = paper.page.min(count.saturating_sub(1));
    ui.horizontal_wrapped(|ui| {
        turn(ui, "Page before", page.checked_sub(1), out);
        let words = if count == 0 { "No pages".to_owned() } else { format!("Page {} of {count}", page + 1) };
        ui.label(RichText::new(words).family(bold()));
        turn(ui, "Page after", Some(page + 1).filter(|&next| next < count), out);
        ui.separator();
        for (zoom, words) in [(Zoom::Width, "Fit to width"), (Zoom::Page, "Whole page")] {
            let key = Button::selectable(count > 0 && paper.zoom == zoom, words).frame_when_inactive(true);
            if ui.add_enabled(count > 0, key).clicked() {
                out.paper(PaperRequest::Zoom(zoom));
            }
        }
        for (words, full_name, factor) in [("Further away", "Page further away", 0.8), ("Nearer", "Page nearer", 1.25)]
        {
            let key = ui.add_enabled(count > 0, Button::new(words));
            name(ui, key.id, full_name);
            if key.clicked() {
                out.paper(PaperRequest::Zoom(Zoom::Times(scope.paper.times * factor)));
            }
        }
        if count > 0 {
            ui.label(format!("{:.0} %", scope.paper.times * 100.0));
        }
    });
    said(ui, scope);
}

fn turn(ui: &mut Ui, words: &str, to: Option<usize>, out: &mut Requests) {
    let key = ui.add_enabled(to.is_some(), Button::new(words));
    if key.clicked()
        && let Some(page) = to
    {
        out.paper(PaperRequest::Page(page));
    }
}

/// One line on what is shown.
fn said(ui: &mut Ui, scope: &Scope<'_>) {
    let Some(laid) = scope.paper.laid else {
        faint(ui, scope.palette, scope.view.stage.click_words());
        return;
    };
    match scope.paper.state {
        PagesState::Failed(_) => wrong(
            ui,
            scope.palette,
            "These are the pages as they were before; see above why they could not be made anew.",
        ),
        PagesState::Working => {
            faint(ui, scope.palette, "These are the pages as they were before; they are being made anew.");
        }
        PagesState::NotAsked => wrong(
            ui,
            scope.palette,
            "These pages are not of the record as it is now, or of what is chosen. What is saved or printed is made anew.",
        ),
        PagesState::Ready if !laid.letters_missing.is_empty() => {
            let words = "The typeface does not have these letters, which come out as boxes";
            wrong(ui, scope.palette, format!("{words}: {}", laid.letters_missing));
        }
        PagesState::Ready if scope.file.changed => {
            faint(ui, scope.palette, "These pages have the changes that are not saved yet.");
        }
        PagesState::Ready => faint(ui, scope.palette, "These pages are of the record as it is saved."),
    }
}
