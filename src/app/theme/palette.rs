//! The colours of the window, named for what they mean. No other file of the window holds a colour.

use egui::Color32;

/// Which of the three looks is on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, Default, serde::Serialize, serde::Deserialize)]
#[serde(rename_all = "snake_case")]
pub enum Theme {
    /// Ink on paper.
    #[default]
    Day,
    /// Light ink on a dark ground.
    Night,
    /// Black on white with thick lines, for use in the sun.
    Sun,
}

impl Theme {
    /// All three, in the order they are offered.
    pub const ALL: [Self; 3] = [Self::Day, Self::Night, Self::Sun];

    /// In words.
    pub fn words(self) -> &'static str {
        match self {
            Self::Day => "Day",
            Self::Night => "Night",
            Self::Sun => "Sun",
        }
    }

    /// Its colours.
    pub fn palette(self) -> Palette {
        match self {
            Self::Day => DAY,
            Self::Night => NIGHT,
            Self::Sun => SUN,
        }
    }

    /// The ground that drawings are drawn for.
    pub fn ground(self) -> crate::drawing::style::Ground {
        use crate::drawing::style::Ground;
        match self {
            Self::Day => Ground::Day,
            Self::Night => Ground::Night,
            Self::Sun => Ground::Sun,
        }
    }

    /// Width of the thin lines that part the window, in points.
    pub fn line_width(self) -> f32 {
        if self == Self::Sun { 2.0 } else { 1.0 }
    }
}

/// A ground with the ink that is written on it.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Tint {
    /// The ground.
    pub ground: Color32,
    /// What is written or drawn on it.
    pub ink: Color32,
}

/// Everything the window is coloured with.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
pub struct Palette {
    /// Ground of lists, cards and bars.
    pub paper: Color32,
    /// Ground of the canvas.
    pub sheet: Color32,
    /// Ground of fields that are written in.
    pub field: Color32,
    /// Ground of buttons, at rest and under the pointer.
    pub key: [Color32; 2],
    /// Writing.
    pub ink: Color32,
    /// Writing that stands back.
    pub faint: Color32,
    /// Lines.
    pub line: Color32,
    /// What is selected, or where the keys go.
    pub chosen: Tint,
    /// Hazard classes: not known, isolated, control power only, live.
    pub hazard: [Tint; 4],
    /// Findings: danger, fault, doubt, note.
    pub severity: [Tint; 4],
    /// A reading that agrees with the record, as writing.
    pub agrees: Color32,
    /// A reading that disputes it, or an entry that cannot be read, as writing.
    pub disputes: Color32,
    /// The red probe and the black probe.
    pub probes: [Tint; 2],
}

const fn rgb(hex: u32) -> Color32 {
    let [_, r, g, b] = hex.to_be_bytes();
    Color32::from_rgb(r, g, b)
}

const fn tint(ground: u32, ink: u32) -> Tint {
    Tint { ground: rgb(ground), ink: rgb(ink) }
}

// Hazard and severity grounds follow the families of ISO 3864-1 and ANSI Z535.1: red, orange, yellow, green, blue.

const DAY: Palette = Palette {
    paper: rgb(0x00F3_EFE4),
    sheet: rgb(0x00FD_FBF5),
    field: rgb(0x00FF_FEFA),
    key: [rgb(0x00E6_E0D0), rgb(0x00DB_D3BE)],
    ink: rgb(0x001D_2430),
    faint: rgb(0x004E_5562),
    line: rgb(0x008A_867B),
    chosen: tint(0x001F_4E79, 0x00FF_FFFF),
    hazard: [
        tint(0x00D9_D5CA, 0x001D_2430),
        tint(0x0000_6B3C, 0x00FF_FFFF),
        tint(0x00FF_D100, 0x001A_1A1A),
        tint(0x00B0_1020, 0x00FF_FFFF),
    ],
    severity: [
        tint(0x00B0_1020, 0x00FF_FFFF),
        tint(0x00FF_8F1F, 0x001A_1A1A),
        tint(0x00FF_D100, 0x001A_1A1A),
        tint(0x001F_5FA8, 0x00FF_FFFF),
    ],
    agrees: rgb(0x0000_5A32),
    disputes: rgb(0x0098_0A18),
    probes: [tint(0x00B0_1020, 0x00FF_FFFF), tint(0x001A_1A1A, 0x00FF_FFFF)],
};

const NIGHT: Palette = Palette {
    paper: rgb(0x001B_2027),
    sheet: rgb(0x0014_181E),
    field: rgb(0x0010_1318),
    key: [rgb(0x002E_3640), rgb(0x003B_4552)],
    ink: rgb(0x00EC_E8DD),
    faint: rgb(0x00B4_B4AE),
    line: rgb(0x0066_7078),
    chosen: tint(0x008E_C5F2, 0x0010_1820),
    hazard: [
        tint(0x003A_414A, 0x00F2_EEE4),
        tint(0x005F_D39A, 0x000C_1A12),
        tint(0x00F5_C400, 0x001A_1A1A),
        tint(0x00FF_7A7A, 0x001F_0508),
    ],
    severity: [
        tint(0x00FF_7A7A, 0x001F_0508),
        tint(0x00FF_A24A, 0x001F_1000),
        tint(0x00F5_C400, 0x001A_1A1A),
        tint(0x0086_BDF5, 0x000A_1420),
    ],
    agrees: rgb(0x0079_DDAA),
    disputes: rgb(0x00FF_9A9A),
    probes: [tint(0x00FF_7A7A, 0x001F_0508), tint(0x00D5_D5D0, 0x0010_1318)],
};

const SUN: Palette = Palette {
    paper: rgb(0x00FF_FFFF),
    sheet: rgb(0x00FF_FFFF),
    field: rgb(0x00FF_FFFF),
    key: [rgb(0x00E8_E8E8), rgb(0x00D0_D0D0)],
    ink: rgb(0x0000_0000),
    faint: rgb(0x002A_2A2A),
    line: rgb(0x0000_0000),
    chosen: tint(0x0000_0000, 0x00FF_FFFF),
    hazard: [
        tint(0x00E8_E8E8, 0x0000_0000),
        tint(0x0000_4D2A, 0x00FF_FFFF),
        tint(0x00FF_D100, 0x0000_0000),
        tint(0x008C_0010, 0x00FF_FFFF),
    ],
    severity: [
        tint(0x008C_0010, 0x00FF_FFFF),
        tint(0x00FF_9A33, 0x0000_0000),
        tint(0x00FF_D100, 0x0000_0000),
        tint(0x0000_2F6C, 0x00FF_FFFF),
    ],
    agrees: rgb(0x0000_4020),
    disputes: rgb(0x007A_0010),
    probes: [tint(0x008C_0010, 0x00FF_FFFF), tint(0x0000_0000, 0x00FF_FFFF)],
};

/// Contrast ratio of two opaque colours, 1 to 21. WCAG 2.1, "contrast ratio" and "relative luminance".
pub fn contrast(a: Color32, b: Color32) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

fn luminance(colour: Color32) -> f64 {
    let linear = |channel: u8| {
        let c = f64::from(channel) / 255.0;
        if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * linear(colour.r()) + 0.7152 * linear(colour.g()) + 0.0722 * linear(colour.b())
}

/// The window's form of a drawing colour.
pub fn colour([r, g, b, a]: crate::drawing::style::Rgba) -> Color32 {
    Color32::from_rgba_unmultiplied(r, g, b, a)
}

/// The tint of a picture that is let through so far: 255 as it is, 0 not at all.
pub fn see_through(share: u8) -> Color32 {
    Color32::from_white_alpha(share)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source: WCAG 2.1; black on white is 21:1 and #777777 on white 4.48:1, as its published examples have it.
    #[test]
    fn contrast_is_that_of_wcag() {
        assert!((contrast(Color32::BLACK, Color32::WHITE) - 21.0).abs() < 1e-9);
        assert!((contrast(Color32::from_rgb(0x77, 0x77, 0x77), Color32::WHITE) - 4.48).abs() < 0.005);
    }

    /// Every ink with every ground it is written on.
    fn pairs(p: &Palette) -> Vec<(String, f64)> {
        let grounds =
            [("paper", p.paper), ("sheet", p.sheet), ("field", p.field), ("key", p.key[0]), ("key under", p.key[1])];
        let inks = [("ink", p.ink), ("faint", p.faint), ("agrees", p.agrees), ("disputes", p.disputes)];
        let mut all = Vec::new();
        for (ground_name, ground) in grounds {
            for (ink_name, ink) in inks {
                all.push((format!("{ink_name} on {ground_name}"), contrast(ink, ground)));
            }
        }
        let tints = p.hazard.iter().chain(&p.severity).chain(&p.probes).chain([&p.chosen]);
        all.extend(tints.enumerate().map(|(n, t)| (format!("tint {n}"), contrast(t.ink, t.ground))));
        all
    }

    #[test]
    fn writing_has_at_least_4_5_to_1_and_most_of_it_7_to_1() {
        for theme in Theme::ALL {
            let pairs = pairs(&theme.palette());
            for (name, ratio) in &pairs {
                assert!(*ratio >= 4.5, "{theme:?}: {name} has {ratio:.2}");
            }
            let high = pairs.iter().filter(|(_, ratio)| *ratio >= 7.0).count();
            assert!(high * 3 > pairs.len() * 2, "{theme:?}: {high} of {} at 7:1 or above", pairs.len());
        }
    }

    #[test]
    fn lines_and_hazard_grounds_stand_out_from_the_ground_by_3_to_1_or_carry_a_dark_edge() {
        for theme in Theme::ALL {
            let p = theme.palette();
            assert!(contrast(p.line, p.paper) >= 3.0, "{theme:?}: line {:.2}", contrast(p.line, p.paper));
            for tint in p.hazard.iter().chain(&p.severity) {
                let best = contrast(tint.ground, p.paper).max(contrast(p.ink, p.paper));
                assert!(best >= 3.0, "{theme:?}");
            }
        }
    }

    #[test]
    fn hazard_classes_and_severities_can_be_told_apart_by_luminance_or_hue() {
        for theme in Theme::ALL {
            let p = theme.palette();
            for set in [p.hazard, p.severity] {
                for (i, a) in set.iter().enumerate() {
                    for b in &set[i + 1..] {
                        assert_ne!(a.ground, b.ground, "{theme:?}");
                    }
                }
            }
        }
    }
}
