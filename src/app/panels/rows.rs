//! The rows of a list: two lines of writing and a mark, drawn for the visible ones only.

use egui::text::{LayoutJob, TextFormat, TextWrapping};
use egui::{FontId, Rect, Response, Role, Sense, TextStyle, Ui, WidgetInfo, pos2, vec2};

use crate::app::marks;
use crate::app::theme::{Palette, bold};
use crate::findings::Severity;
use crate::quantity::WireColour;
use crate::removal::Verdict;

/// What stands before a row.
#[derive(Debug, Clone, Copy, PartialEq, Default)]
pub enum Mark {
    /// Nothing.
    #[default]
    None,
    /// The colour of a wire.
    Swatch(Option<WireColour>),
    /// The shape of a severity with the number of the finding.
    Severity(Severity, usize),
    /// The shape of a verdict.
    Verdict(Verdict),
}

/// One row.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Row {
    /// The first line.
    pub title: String,
    /// The second line.
    pub detail: String,
    /// What stands at the right end of the first line.
    pub aside: String,
    /// What stands before it.
    pub mark: Mark,
    /// Whether it is selected.
    pub selected: bool,
    /// How many lines the second one may take; the title has one then. None: one, and the title takes what room there is.
    pub detail_lines: Option<u8>,
}

/// Height of a row in points, whose title takes up to this many lines.
pub fn height(ui: &Ui, title_lines: u8) -> f32 {
    let size = TextStyle::Body.resolve(ui.style()).size;
    (size * 3.25 + size * 1.3 * (f32::from(title_lines) - 1.0) + 6.0).max(ui.spacing().interact_size.y).round()
}

/// How many lines a title of so many letters takes beside the shape of a severity, at most eight.
pub fn lines(ui: &Ui, letters: usize) -> u8 {
    let size = TextStyle::Body.resolve(ui.style()).size;
    // Bold letters are about six tenths of their height wide, and words end before the line does.
    let wide = letters as f32 * size * 0.62;
    let room = (ui.available_width() - size * 2.8 - 20.0).max(size);
    (1..8).find(|&lines| wide <= f32::from(lines) * room).unwrap_or(8)
}

/// Draws the rows of a list in a scrolling area; gives the row that was pressed, with the response.
pub fn show(
    ui: &mut Ui,
    salt: &str,
    count: usize,
    palette: &Palette,
    make: impl Fn(usize) -> Row,
) -> Option<(usize, Response)> {
    show_tall(ui, (salt, [1, 1]), (0, count), palette, make)
}

/// As [`show`], with titles of so many lines at most in the first so many rows, and of so many in the rest.
pub fn show_tall(
    ui: &mut Ui,
    (salt, title_lines): (&str, [u8; 2]),
    (first, count): (usize, usize),
    palette: &Palette,
    make: impl Fn(usize) -> Row,
) -> Option<(usize, Response)> {
    let heights = title_lines.map(|lines| height(ui, lines));
    let is_first = |place: usize| place < first;
    let top = |place: usize| {
        let tall = place.min(first);
        tall as f32 * heights[0] + (place - tall) as f32 * heights[1]
    };
    let mut pressed = None;
    ui.spacing_mut().item_spacing.y = 0.0;
    egui::ScrollArea::vertical().id_salt(salt).auto_shrink([false, false]).show_viewport(ui, |ui, seen| {
        ui.set_height(top(count));
        let from = (0..count).find(|&place| top(place + 1) > seen.min.y).unwrap_or(count);
        let shown = (from..count).take_while(|&place| top(place) < seen.max.y);
        let area = ui.max_rect();
        for place in shown {
            let kind = usize::from(!is_first(place));
            let rect = Rect::from_min_size(
                pos2(area.left(), area.top() + top(place)),
                vec2(area.width(), heights[kind]), // the kind is 0 or 1
            );
            let id = ui.scope_id().with(place);
            let response = one(ui, (rect, id, title_lines[kind]), &make(place), palette);
            if response.clicked() || response.secondary_clicked() {
                pressed = Some((place, response));
            }
        }
    });
    pressed
}

/// Draws one row.
fn one(ui: &Ui, (rect, id, title_lines): (Rect, egui::Id, u8), row: &Row, palette: &Palette) -> Response {
    let response = ui.interact(rect, id, Sense::click());
    response.widget_info(|| {
        let label = [row.title.as_str(), row.aside.as_str(), row.detail.as_str()];
        let label: Vec<&str> = label.into_iter().filter(|text| !text.is_empty()).collect();
        WidgetInfo::selected(Role::Button, true, row.selected, label.join(", "))
    });
    if ui.is_rect_visible(rect) {
        paint(ui, (rect, title_lines), row, &response, palette);
    }
    response
}

fn paint(ui: &Ui, (rect, title_lines): (Rect, u8), row: &Row, response: &Response, palette: &Palette) {
    let painter = ui.painter();
    let (ink, faint) =
        if row.selected { (palette.chosen.ink, palette.chosen.ink) } else { (palette.ink, palette.faint) };
    if row.selected {
        painter.rect_filled(rect, 0.0, palette.chosen.ground);
    } else if response.hovered() || response.has_focus() {
        painter.rect_filled(rect, 0.0, palette.key[0]);
    }
    if response.has_focus() {
        let edge = egui::Stroke::new(2.0, palette.ink);
        painter.rect_stroke(rect.shrink(1.0), 0.0, edge, egui::StrokeKind::Inside);
    }
    painter.hline(rect.x_range(), rect.bottom() - 0.5, egui::Stroke::new(0.5, palette.line));
    let size = TextStyle::Body.resolve(ui.style()).size;
    let left = rect.left() + 4.0;
    let text_left = match row.mark {
        Mark::None => left + 2.0,
        Mark::Swatch(colour) => {
            let swatch = Rect::from_center_size(pos2(left + 12.0, rect.center().y), vec2(20.0, size));
            marks::swatch(painter, swatch, colour, palette);
            left + 28.0
        }
        Mark::Severity(severity, number) => {
            let side = size * 1.9;
            marks::severity(painter, pos2(left + side / 2.0, rect.center().y), side, severity, number, palette);
            left + side + 5.0
        }
        Mark::Verdict(verdict) => {
            let side = size * 1.9;
            let ink = if row.selected { ink } else { palette.ink };
            marks::verdict(painter, pos2(left + side / 2.0, rect.center().y), side, (verdict, ink), palette);
            left + side + 5.0
        }
    };
    let right = rect.right() - 6.0;
    let plain = FontId::new(size - 1.0, egui::FontFamily::Proportional);
    let lay = |text: &str, font: FontId, colour, width: f32, rows: u8| {
        let format = TextFormat { font_id: font, color: colour, ..Default::default() };
        let mut job = LayoutJob::single_section(text.to_owned(), format);
        job.wrap = TextWrapping { max_rows: usize::from(rows), ..TextWrapping::truncate_at_width(width.max(20.0)) };
        job.wrap.break_anywhere = rows == 1;
        painter.layout_job(job)
    };
    let aside = (!row.aside.is_empty()).then(|| lay(&row.aside, plain.clone(), faint, right - text_left, 1));
    let aside_width = aside.as_ref().map_or(0.0, |aside| aside.size().x + 6.0);
    let title = lay(
        &row.title,
        FontId::new(size, bold()),
        ink,
        right - text_left - aside_width,
        row.detail_lines.map_or(title_lines, |_| 1),
    );
    let detail = lay(&row.detail, plain, faint, right - text_left, row.detail_lines.unwrap_or(1));
    let top = (rect.center().y - f32::midpoint(title.size().y, detail.size().y)).round();
    if let Some(aside) = aside {
        painter.galley(pos2(right - aside.size().x, top + 1.0), aside, faint);
    }
    let title_bottom = top + title.size().y;
    painter.galley(pos2(text_left, top), title, ink);
    painter.galley(pos2(text_left, title_bottom), detail, faint);
}
