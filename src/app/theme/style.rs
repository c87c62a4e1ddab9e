//! Puts a theme on the window: thin lines, square corners, flat grounds, as on a workshop drawing.

use egui::style::{ScrollAnimation, ScrollStyle, Selection, WidgetVisuals, Widgets};
use egui::{Context, CornerRadius, FontFamily, FontId, Shadow, Stroke, Style, TextStyle, Visuals, vec2};

use super::fonts;
use super::palette::{Palette, Theme};

/// Least side of anything that is pressed, in touch mode, in points.
pub const TOUCH_SIDE: f32 = 36.0;

/// What the look of the window depends on.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Look {
    /// Which colours.
    pub theme: Theme,
    /// Height of the writing in points.
    pub text_size: f32,
    /// Whether everything that is pressed is at least [`TOUCH_SIDE`] wide and high.
    pub touch: bool,
    /// Whether nothing may slide or fade.
    pub still: bool,
}

impl Default for Look {
    fn default() -> Self {
        Self { theme: Theme::Day, text_size: 13.0, touch: false, still: true }
    }
}

/// Puts a look on the window.
pub fn put_on(ctx: &Context, look: &Look) {
    ctx.options_mut(|options| options.zoom_with_keyboard = false);
    let style = style(*look);
    ctx.all_styles_mut(|old| *old = style.clone());
}

fn style(look: Look) -> Style {
    let palette = look.theme.palette();
    let size = look.text_size;
    let plain = |size: f32| FontId::new(size, FontFamily::Proportional);
    let mut style = Style {
        text_styles: [
            (TextStyle::Heading, FontId::new(size + 3.0, fonts::bold())),
            (TextStyle::Name("strong".into()), FontId::new(size, fonts::bold())),
            (TextStyle::Body, plain(size)),
            (TextStyle::Button, plain(size)),
            (TextStyle::Monospace, plain(size)),
            (TextStyle::Small, plain((size - 2.0).max(9.0))),
        ]
        .into(),
        drag_value_text_style: TextStyle::Body,
        visuals: visuals(look.theme, &palette),
        animation_time: if look.still { 0.0 } else { 0.08 },
        scroll_animation: if look.still { ScrollAnimation::none() } else { ScrollAnimation::default() },
        ..Style::default()
    };
    let least = if look.touch { TOUCH_SIDE } else { (size * 1.75).round() };
    style.spacing.interact_size = vec2(least, least);
    style.spacing.button_padding = if look.touch { vec2(10.0, 8.0) } else { vec2(7.0, 3.0) };
    style.spacing.item_spacing = vec2(6.0, if look.touch { 8.0 } else { 5.0 });
    style.spacing.icon_width = if look.touch { 24.0 } else { 15.0 };
    style.spacing.icon_width_inner = style.spacing.icon_width * 0.6;
    style.spacing.combo_width = 60.0;
    style.spacing.scroll = ScrollStyle { bar_width: if look.touch { 16.0 } else { 9.0 }, ..ScrollStyle::solid() };
    style.interaction.selectable_labels = false;
    style.interaction.tooltip_delay = 0.4;
    style
}

fn visuals(theme: Theme, p: &Palette) -> Visuals {
    let line = Stroke::new(theme.line_width(), p.line);
    let corner = CornerRadius::same(1);
    let widget = |ground, edge: Stroke, ink| WidgetVisuals {
        bg_fill: ground,
        weak_bg_fill: ground,
        bg_stroke: edge,
        corner_radius: corner,
        fg_stroke: Stroke::new(theme.line_width(), ink),
        expansion: 0.0,
    };
    let base = if theme == Theme::Night { Visuals::dark() } else { Visuals::light() };
    Visuals {
        override_text_color: None,
        weak_text_color: Some(p.faint),
        widgets: Widgets {
            noninteractive: widget(p.paper, line, p.ink),
            inactive: widget(p.key[0], line, p.ink),
            hovered: widget(p.key[1], Stroke::new(theme.line_width(), p.ink), p.ink),
            active: widget(p.key[1], Stroke::new(theme.line_width() + 0.5, p.ink), p.ink),
            open: widget(p.key[1], line, p.ink),
        },
        selection: Selection { bg_fill: p.chosen.ground, stroke: Stroke::new(1.0, p.chosen.ink) },
        hyperlink_color: p.ink,
        faint_bg_color: p.field,
        extreme_bg_color: p.field,
        text_edit_bg_color: Some(p.field),
        code_bg_color: p.field,
        warn_fg_color: p.disputes,
        error_fg_color: p.disputes,
        window_corner_radius: corner,
        window_shadow: Shadow::NONE,
        window_fill: p.paper,
        window_stroke: Stroke::new(theme.line_width() + 0.5, p.ink),
        menu_corner_radius: corner,
        panel_fill: p.paper,
        popup_shadow: Shadow::NONE,
        button_frame: true,
        slider_trailing_fill: false,
        striped: false,
        ..base
    }
    .with_text_cursor(p)
}

/// The writing mark in the ink of the theme, standing still.
trait TextCursor {
    fn with_text_cursor(self, palette: &Palette) -> Self;
}

impl TextCursor for Visuals {
    fn with_text_cursor(mut self, palette: &Palette) -> Self {
        self.text_cursor.stroke = Stroke::new(2.0, palette.ink);
        self.text_cursor.blink = false;
        self
    }
}
