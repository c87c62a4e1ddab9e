//! Shapes with a meaning, drawn by us: severities, hazard classes, colour swatches, probes.

use egui::{Align2, Color32, FontId, Painter, Pos2, Rect, Response, Sense, Shape, Stroke, Ui, Vec2, pos2, vec2};

use crate::circuit::Hazard;
use crate::desk::Derived;
use crate::drawing::style::{self, Ground};
use crate::drawing::{Ink, NetTint};
use crate::findings::Severity;
use crate::machine::{ConditionId, Facts};
use crate::quantity::{WireColour, format_scaled};
use crate::removal::Verdict;

use super::theme::{Palette, Tint, bold};

/// The tint of a severity.
pub fn severity_tint(palette: &Palette, severity: Severity) -> Tint {
    let [danger, fault, doubt, note] = palette.severity;
    match severity {
        Severity::Danger => danger,
        Severity::Fault => fault,
        Severity::Doubt => doubt,
        Severity::Note => note,
    }
}

/// Draws the shape of a severity (diamond danger, triangle fault, circle doubt, square note) with a number in it.
pub fn severity(painter: &Painter, centre: Pos2, side: f32, severity: Severity, number: usize, palette: &Palette) {
    let tint = severity_tint(palette, severity);
    let edge = Stroke::new(1.0, palette.ink);
    let r = side / 2.0;
    let mut text_at = centre;
    match severity {
        Severity::Danger => {
            let points =
                vec![centre + vec2(0.0, -r), centre + vec2(r, 0.0), centre + vec2(0.0, r), centre + vec2(-r, 0.0)];
            painter.add(Shape::convex_polygon(points, tint.ground, edge));
        }
        Severity::Fault => {
            let points = vec![centre + vec2(0.0, -r), centre + vec2(r, r * 0.8), centre + vec2(-r, r * 0.8)];
            painter.add(Shape::convex_polygon(points, tint.ground, edge));
            text_at.y += r * 0.22;
        }
        Severity::Doubt => {
            painter.circle(centre, r * 0.86, tint.ground, edge);
        }
        Severity::Note => {
            let rect = Rect::from_center_size(centre, Vec2::splat(side * 0.8));
            painter.rect(rect, 0.0, tint.ground, edge, egui::StrokeKind::Inside);
        }
    }
    let size = if number > 99 { side * 0.34 } else { side * 0.42 };
    painter.text(text_at, Align2::CENTER_CENTER, number.to_string(), FontId::new(size, bold()), tint.ink);
}

/// Draws the shape of a verdict: a diamond with an exclamation mark for a live stub, a crossed ring for what is dead, two lines side by
/// side for what is redundant, a zigzag for what carries while relays move, a question mark for what is open, a disc for what is in use.
pub fn verdict(painter: &Painter, centre: Pos2, side: f32, (verdict, ink): (Verdict, Color32), palette: &Palette) {
    let r = side * 0.42;
    let line = Stroke::new(2.0, ink);
    let letter = |text: &str, colour: Color32| {
        painter.text(centre, Align2::CENTER_CENTER, text, FontId::new(side * 0.55, bold()), colour);
    };
    match verdict {
        Verdict::LiveStub => {
            let tint = severity_tint(palette, Severity::Danger);
            let r = side / 2.0;
            let points =
                vec![centre + vec2(0.0, -r), centre + vec2(r, 0.0), centre + vec2(0.0, r), centre + vec2(-r, 0.0)];
            painter.add(Shape::convex_polygon(points, tint.ground, Stroke::new(1.0, palette.ink)));
            letter("!", tint.ink);
        }
        Verdict::Dead | Verdict::ServesNothingLeft => {
            let d = r * 0.7;
            painter.circle_stroke(centre, r, line);
            painter.line_segment([centre + vec2(-d, -d), centre + vec2(d, d)], line);
            painter.line_segment([centre + vec2(-d, d), centre + vec2(d, -d)], line);
        }
        Verdict::Redundant => {
            for y in [-r * 0.4, r * 0.4] {
                painter.line_segment([centre + vec2(-r, y), centre + vec2(r, y)], line);
            }
        }
        Verdict::TransientOnly => {
            let points = [(-1.0, 0.0), (-0.5, -0.7), (0.0, 0.7), (0.5, -0.7), (1.0, 0.0)];
            painter.add(Shape::line(points.map(|(x, y)| centre + vec2(x, y) * r).to_vec(), line));
        }
        Verdict::CannotBeSaid | Verdict::NotDecided => {
            painter.circle_stroke(centre, r, line);
            letter(if verdict == Verdict::CannotBeSaid { "?" } else { "…" }, ink);
        }
        Verdict::InUse => {
            painter.circle_filled(centre, r * 0.6, ink);
        }
    }
}

/// How dangerous the present condition is, as the window shows it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub enum Band {
    /// No condition is chosen.
    Unknown,
    /// The record holds no source, or the condition leaves one unsaid.
    NotKnown,
    /// What the record makes of the condition is still being worked out.
    Awaited,
    /// No source is on.
    Isolated,
    /// No more than the limit of extra-low voltage.
    ControlOnly,
    /// Above it.
    Live,
}

impl Band {
    /// The band of a condition, from the results; `awaited` while newer ones are being made.
    pub fn of(derived: &Derived, condition: Option<ConditionId>, awaited: bool) -> Self {
        if condition.is_none() {
            return Self::Unknown;
        }
        let electrical = derived.electrical.as_ref().filter(|_| derived.look.condition == condition);
        match electrical.map(|electrical| (electrical.hazard, electrical.sources_said)) {
            // A danger stays up until newer results say otherwise; its absence does not.
            None => Self::Awaited,
            Some((Hazard::NoSource, _)) if awaited => Self::Awaited,
            Some((Hazard::NoSource | Hazard::ExtraLow, false)) => Self::NotKnown,
            Some((Hazard::NoSource, true)) => Self::Isolated,
            Some((Hazard::ExtraLow, true)) => Self::ControlOnly,
            Some((Hazard::Above, _)) => Self::Live,
        }
    }

    /// Its tint.
    pub fn tint(self, palette: &Palette) -> Tint {
        let [unknown, isolated, control, live] = palette.hazard;
        match self {
            Self::Unknown | Self::NotKnown | Self::Awaited => unknown,
            Self::Isolated => isolated,
            Self::ControlOnly => control,
            Self::Live => live,
        }
    }

    /// In words, as it stands in the band.
    pub fn words(self) -> &'static str {
        match self {
            Self::Unknown => "CONDITION NOT CHOSEN",
            Self::NotKnown => "NOT KNOWN",
            Self::Awaited => "BEING WORKED OUT",
            Self::Isolated => "ISOLATED",
            Self::ControlOnly => "CONTROL POWER ONLY",
            Self::Live => "LIVE",
        }
    }

    /// What it means, and what to do.
    pub fn meaning(self) -> &'static str {
        match self {
            Self::Unknown => {
                "Nothing is said about the machine until its condition is chosen. Take it for live until you have verified."
            }
            Self::NotKnown => {
                "The record holds no source, or this condition does not say of each whether it is on. Take the machine for live until you have verified."
            }
            Self::Awaited => "What the record makes of this condition is being worked out. Take the machine for live.",
            Self::Isolated => {
                "By the record no source is on. Verify absence of voltage with a meter tried on a known live source before and after, and mind capacitors."
            }
            Self::ControlOnly => {
                "By the record no more than extra-low voltage is on. What the record does not know can still be live: verify."
            }
            Self::Live => {
                "DANGER: by the record, voltage above extra-low is on. Live work is for licensed practice under local rules, with rated probes and gloves."
            }
        }
    }

    /// Draws its shape: an open switch for isolated, a triangle for control power, a diamond with a stroke for live, a ring for not known.
    pub fn mark(self, painter: &Painter, centre: Pos2, side: f32, colour: Color32) {
        let r = side / 2.0;
        let line = Stroke::new(2.0, colour);
        match self {
            Self::Unknown | Self::NotKnown | Self::Awaited => {
                painter.circle_stroke(centre, r * 0.8, line);
                painter.text(centre, Align2::CENTER_CENTER, "?", FontId::new(side * 0.6, bold()), colour);
            }
            Self::Isolated => {
                let gap = r * 0.45;
                painter.line_segment([centre - vec2(r, 0.0), centre - vec2(gap, 0.0)], line);
                painter.line_segment([centre + vec2(gap, 0.0), centre + vec2(r, 0.0)], line);
                painter.line_segment([centre - vec2(gap, 0.0), centre + vec2(gap * 0.6, -r * 0.8)], line);
            }
            Self::ControlOnly => {
                let points = vec![centre + vec2(0.0, -r), centre + vec2(r, r * 0.8), centre + vec2(-r, r * 0.8)];
                painter.add(Shape::closed_line(points, line));
                bolt(painter, centre + vec2(0.0, r * 0.2), r * 0.8, colour);
            }
            Self::Live => {
                let points =
                    vec![centre + vec2(0.0, -r), centre + vec2(r, 0.0), centre + vec2(0.0, r), centre + vec2(-r, 0.0)];
                painter.add(Shape::closed_line(points, line));
                bolt(painter, centre, r * 1.0, colour);
            }
        }
    }
}

/// What stands beside the band: the highest voltage, and the caution of a refrigerant that burns.
pub fn band_reason(derived: &Derived, facts: &Facts, band: Band) -> String {
    let mut reasons = Vec::new();
    if let Some(volts) = derived.electrical.as_ref().and_then(|electrical| electrical.highest_volts)
        && volts > 0.0
    {
        reasons.push(format!("Up to {} by the record.", format_scaled(volts, "V")));
    }
    if facts.flammable == Some(true) && !matches!(band, Band::Unknown | Band::Isolated) {
        reasons.push("WARNING: the refrigerant burns; no spark near its circuit, ventilate.".to_owned());
    }
    reasons.join(" ")
}

/// The bent stroke that stands for voltage.
fn bolt(painter: &Painter, centre: Pos2, height: f32, colour: Color32) {
    let h = height / 2.0;
    let points = vec![
        centre + vec2(h * 0.35, -h),
        centre + vec2(-h * 0.3, h * 0.15),
        centre + vec2(h * 0.3, -h * 0.15),
        centre + vec2(-h * 0.3, h),
    ];
    painter.add(Shape::line(points, Stroke::new(2.0, colour)));
}

/// A swatch of a wire colour with its tracer; a crossed frame when the colour is not known.
pub fn swatch(painter: &Painter, rect: Rect, colour: Option<WireColour>, palette: &Palette) {
    let Some(colour) = colour else {
        painter.rect_stroke(rect, 0.0, Stroke::new(1.0, palette.faint), egui::StrokeKind::Inside);
        painter.line_segment([rect.left_bottom(), rect.right_top()], Stroke::new(1.0, palette.faint));
        return;
    };
    let (base, stripe) = super::theme::wire_colours(colour);
    painter.rect_filled(rect, 0.0, base);
    if let Some(stripe) = stripe {
        let band = rect.height() * 0.34;
        let middle = Rect::from_center_size(rect.center(), vec2(rect.width(), band));
        painter.rect_filled(middle, 0.0, stripe);
    }
    painter.rect_stroke(rect, 0.0, Stroke::new(1.0, palette.ink), egui::StrokeKind::Inside);
}

/// What the tints beside the wires mean: each tint with its words.
pub fn tints(ui: &mut Ui, ground: Ground, palette: &Palette) {
    super::widgets::group(ui, "Tints beside the wires");
    for tint in NetTint::ALL {
        // Wires that are joined to no source have none.
        if tint == NetTint::Dead {
            continue;
        }
        ui.horizontal(|ui| {
            let side = egui::TextStyle::Body.resolve(ui.style()).size;
            let (rect, _) = ui.allocate_exact_size(vec2(side * 2.0, side), Sense::hover());
            let line = Rect::from_center_size(rect.center(), vec2(rect.width(), side * 0.45));
            let shown = super::theme::colour(style::rgba(Ink::Net(tint), ground));
            ui.painter().rect(line, 0.0, shown, Stroke::new(0.5, palette.ink), egui::StrokeKind::Inside);
            ui.add(egui::Label::new(tint_words(tint)).wrap());
        });
    }
}

/// What a tint says of a wire, in words.
fn tint_words(tint: NetTint) -> &'static str {
    match tint {
        NetTint::Hot => "above extra-low, the pole away from earth",
        NetTint::Neutral => "the pole of such a source that is held near earth",
        NetTint::LowFirst => "extra-low voltage, first pole",
        NetTint::LowSecond => "extra-low voltage, second pole",
        NetTint::Earth => "protective earth",
        NetTint::Dead => "joined to no source by the record",
        NetTint::Unknown => "cannot be said: take it for live",
    }
}

/// A key that shows a colour; it is known by the colour's name.
pub fn swatch_key(ui: &mut Ui, colour: WireColour, selected: bool, palette: &Palette) -> Response {
    let side = ui.spacing().interact_size.y.max(22.0);
    let (rect, response) = ui.allocate_exact_size(vec2(side + 4.0, side), Sense::click());
    let label = format!("{} {}", colour, colour.words());
    response.widget_info(|| egui::WidgetInfo::selected(egui::Role::Button, ui.is_enabled(), selected, &label));
    if ui.is_rect_visible(rect) {
        swatch(ui.painter(), rect.shrink(3.0), Some(colour), palette);
        if selected || response.has_focus() || response.hovered() {
            let width = if selected { 3.0 } else { 1.5 };
            let edge = Stroke::new(width, palette.chosen.ground);
            ui.painter().rect_stroke(rect, 0.0, edge, egui::StrokeKind::Inside);
        }
    }
    response.on_hover_text(label)
}

/// The mark of a probe: a disc with a ring, red or black.
pub fn probe(painter: &Painter, centre: Pos2, r: f32, tint: Tint, palette: &Palette) {
    painter.circle(centre, r, tint.ground, Stroke::new(1.0, palette.ink));
    painter.circle_stroke(pos2(centre.x, centre.y), r * 0.5, Stroke::new(1.5, tint.ink));
}
