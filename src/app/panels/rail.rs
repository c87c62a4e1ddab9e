//! The rail of stages at the left: where the visit is, and how many things are open in each.

use egui::{Align2, FontId, Rect, Role, Sense, Stroke, TextStyle, Ui, WidgetInfo, pos2, vec2};

use crate::app::action::Action;
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::stage::Stage;
use crate::app::theme::bold;

/// Draws the rail.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, out: &mut Requests) {
    ui.spacing_mut().item_spacing.y = 0.0;
    for stage in Stage::ALL {
        if one(ui, scope, stage).clicked() {
            let action = if stage == scope.view.stage { Action::ToggleList } else { Action::Go(stage) };
            out.act(action);
        }
    }
}

fn one(ui: &mut Ui, scope: &Scope<'_>, stage: Stage) -> egui::Response {
    let size = TextStyle::Body.resolve(ui.style()).size;
    // All stages have room on the screen, whatever the size of the writing.
    let room = (ui.max_rect().height() / Stage::ALL.len() as f32).floor();
    let height = (size * 3.4).min(room).max(size * 1.4);
    let (rect, response) = ui.allocate_exact_size(vec2(ui.available_width(), height), Sense::click());
    let open = scope.lists.open(stage);
    let here = stage == scope.view.stage;
    response.widget_info(|| {
        WidgetInfo::selected(
            Role::Button,
            true,
            here,
            format!("{}, {open} open: {}", stage.words(), stage.open_words()),
        )
    });
    if ui.is_rect_visible(rect) {
        let palette = scope.palette;
        let painter = ui.painter();
        let ink = if here { palette.chosen.ink } else { palette.ink };
        if here {
            painter.rect_filled(rect, 0.0, palette.chosen.ground);
        } else if response.hovered() {
            painter.rect_filled(rect, 0.0, palette.key[0]);
        }
        if response.has_focus() {
            painter.rect_stroke(rect.shrink(1.0), 0.0, Stroke::new(2.0, palette.ink), egui::StrokeKind::Inside);
        }
        painter.hline(
            rect.x_range(),
            rect.bottom() - 0.5,
            Stroke::new(scope.prefs.theme.line_width() * 0.5, palette.line),
        );
        let at = pos2(rect.left() + 8.0, rect.center().y);
        let font = FontId::new(size, if here { bold() } else { egui::FontFamily::Proportional });
        painter.text(at, Align2::LEFT_CENTER, stage.words(), font, ink);
        if open > 0 {
            let font = FontId::new(size - 2.0, bold());
            let text = if open > 999 { "999+".to_owned() } else { open.to_string() };
            let galley = painter.layout_no_wrap(text, font, if here { palette.chosen.ground } else { palette.paper });
            let flag = Rect::from_min_size(
                pos2(rect.right() - galley.size().x - 12.0, rect.center().y - galley.size().y / 2.0 - 1.0),
                galley.size() + vec2(8.0, 2.0),
            );
            painter.rect_filled(flag, 1.0, ink);
            painter.galley(flag.min + vec2(4.0, 1.0), galley, ink);
        }
    }
    response.on_hover_text(format!("{open} {}", stage.open_words()))
}
