//! The rows of a list: two lines of writing and a mark, drawn for the visible ones only.

use egui::text::{LayoutJob, TextFormat, TextWrapping};
use egui::{Align2, FontId, Rect, Response, Role, Sense, TextStyle, Ui, WidgetInfo, pos2, vec2};

use crate::app::marks;
use crate::app::theme::{Palette, bold};
use crate::findings::Severity;
use crate::quantity::WireColour;

/// What stands before a row.
#[derive(Debug, Clone, Copy, PartialEq)]
pub enum Mark {
    /// Nothing.
    None,
    /// The colour of a wire.
    Swatch(Option<WireColour>),
    /// The shape of a severity with the number of the finding.
    Severity(Severity, usize),
}

/// One row.
#[derive(Debug, Clone, PartialEq)]
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
}

/// Height of a row in points.
pub fn height(ui: &Ui) -> f32 {
    let size = TextStyle::Body.resolve(ui.style()).size;
    (size * 2.0 + size * 1.25 + 6.0).max(ui.spacing().interact_size.y).round()
}

/// Draws the rows of a list in a scrolling area; gives the row that was pressed, with the response.
pub fn show(
    ui: &mut Ui,
    salt: &str,
    count: usize,
    palette: &Palette,
    make: impl Fn(usize) -> Row,
) -> Option<(usize, Response)> {
    let height = height(ui);
    let mut pressed = None;
    ui.spacing_mut().item_spacing.y = 0.0;
    egui::ScrollArea::vertical().id_salt(salt).auto_shrink([false, false]).show_rows(ui, height, count, |ui, range| {
        for place in range {
            let response = one(ui, height, &make(place), palette);
            if response.clicked() || response.secondary_clicked() {
                pressed = Some((place, response));
            }
        }
    });
    pressed
}

/// Draws one row.
pub fn one(ui: &mut Ui, height: f32, row: &Row, palette: &Palette) -> Response {
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click());
    response.widget_info(|| {
        let label = [row.title.as_str(), row.aside.as_str(), row.detail.as_str()];
        let label: Vec<&str> = label.into_iter().filter(|text| !text.is_empty()).collect();
        WidgetInfo::selected(Role::Button, true, row.selected, label.join(", "))
    });
    if ui.is_rect_visible(rect) {
        paint(ui, rect, row, &response, palette);
    }
    response
}

fn paint(ui: &Ui, rect: Rect, row: &Row, response: &Response, palette: &Palette) {
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
    };
    let right = rect.right() - 6.0;
    let top = rect.center().y - size * 0.72;
    let bottom = rect.center().y + size * 0.72;
    let mut title_right = right;
    if !row.aside.is_empty() {
        let drawn = painter.text(
            pos2(right, top),
            Align2::RIGHT_CENTER,
            &row.aside,
            FontId::new(size - 1.0, egui::FontFamily::Proportional),
            faint,
        );
        title_right = drawn.left() - 6.0;
    }
    let lines = [
        (&row.title, FontId::new(size, bold()), ink, top, title_right),
        (&row.detail, FontId::new(size - 1.0, egui::FontFamily::Proportional), faint, bottom, right),
    ];
    for (text, font, colour, y, right) in lines {
        let mut job =
            LayoutJob::single_section(text.clone(), TextFormat { font_id: font, color: colour, ..Default::default() });
        job.wrap = TextWrapping::truncate_at_width((right - text_left).max(20.0));
        let galley = painter.layout_job(job);
        let at = pos2(text_left, y - galley.size().y / 2.0);
        painter.galley(at, galley, colour);
    }
}
