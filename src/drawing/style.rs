//! The tables that give each ink its colour. Besides the window's theme the only place with colour literals.
//!
//! Insulation has the same colours on every ground; what changes is the thin edge that keeps white visible on paper and
//! black on a dark ground. Hazard and severity inks follow the families of ISO 3864-1 and ANSI Z535.1.

use crate::quantity::Colour;

use super::ink::{Ink, NetTint};

/// What the drawing lies on.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default)]
pub enum Ground {
    /// Ink on paper, on a screen.
    #[default]
    Day,
    /// Light ink on a dark ground.
    Night,
    /// Black on white with thick lines, for use in the sun.
    Sun,
    /// Real paper.
    Print,
}

impl Ground {
    /// All four.
    pub const ALL: [Self; 4] = [Self::Day, Self::Night, Self::Sun, Self::Print];

    /// How many times wider than on paper thin lines are drawn.
    pub fn line_factor(self) -> f64 {
        if self == Self::Sun { 1.7 } else { 1.0 }
    }

    fn column(self) -> usize {
        match self {
            Self::Day => 0,
            Self::Night => 1,
            Self::Sun | Self::Print => 2,
        }
    }
}

/// Red, green, blue and opacity, 0 to 255 each.
pub type Rgba = [u8; 4];

const fn opaque(hex: u32) -> Rgba {
    let [_, r, g, b] = hex.to_be_bytes();
    [r, g, b, 255]
}

/// The colour of an ink on a ground.
pub fn rgba(ink: Ink, ground: Ground) -> Rgba {
    if let Ink::Insulation(colour) = ink {
        return opaque(insulation(colour));
    }
    // Day, night, sun and print.
    let row: [u32; 3] = match ink {
        Ink::Insulation(_) | Ink::InsulationUnsaid => [0x00D8_D2C4, 0x0097_9A9C, 0x00D8_D8D8],
        Ink::Line | Ink::StandingProven | Ink::StandingSeen => [0x001D_2430, 0x00EC_E8DD, 0x0000_0000],
        Ink::Faint => [0x0060_656E, 0x009E_A09E, 0x003A_3A3A],
        Ink::Paper | Ink::Halo => [0x00FD_FBF5, 0x0014_181E, 0x00FF_FFFF],
        Ink::Body => [0x00F4_EFE2, 0x001F_262E, 0x00FF_FFFF],
        Ink::Metal => [0x00B9_7A45, 0x00D9_9A63, 0x008A_4F1D],
        Ink::Ghost => [0x009A_968C, 0x006E_747A, 0x0070_7070],
        Ink::StandingAssumed => [0x006A_4A00, 0x00F0_C060, 0x0050_3800],
        Ink::StandingDisputed | Ink::Danger | Ink::HazardLive | Ink::ProbeRed => {
            [0x00B0_1020, 0x00FF_7A7A, 0x008C_0010]
        }
        Ink::HazardUnknown => [0x00A8_A294, 0x0066_7078, 0x0080_8080],
        Ink::HazardIsolated => [0x0000_6B3C, 0x005F_D39A, 0x0000_4D2A],
        Ink::HazardControl | Ink::Doubt => [0x00FF_D100, 0x00F5_C400, 0x00FF_D100],
        Ink::Fault => [0x00FF_8F1F, 0x00FF_A24A, 0x00FF_9A33],
        Ink::Note => [0x001F_5FA8, 0x0086_BDF5, 0x0000_2F6C],
        Ink::Net(tint) => net(tint),
        Ink::ProbeBlack => [0x001A_1A1A, 0x00D5_D5D0, 0x0000_0000],
        Ink::Chosen => [0x001F_4E79, 0x008E_C5F2, 0x0000_3A8C],
        Ink::Way => [0x0000_8C95, 0x0058_C8D2, 0x0000_6A73],
        Ink::Pointed => [0x005D_86AB, 0x005C_86AA, 0x0040_70B0],
    };
    opaque(row[ground.column()])
}

fn net(tint: NetTint) -> [u32; 3] {
    match tint {
        NetTint::Hot => [0x00C8_2A1E, 0x00FF_8578, 0x00A0_1010],
        NetTint::Neutral => [0x002F_6FB5, 0x007F_B8F0, 0x0010_4A90],
        NetTint::LowFirst => [0x00B8_6A00, 0x00F2_B04A, 0x0090_5000],
        NetTint::LowSecond => [0x007A_4FA0, 0x00C0_9AE6, 0x0058_2E84],
        NetTint::Earth => [0x002E_8B3A, 0x0070_CC7C, 0x0010_6A20],
        NetTint::Dead => [0x009A_968C, 0x006E_747A, 0x0070_7070],
        NetTint::Unknown => [0x008A_867B, 0x0090_9494, 0x0060_6060],
    }
}

/// Insulation as it looks, by the colour names of IEC 60757; the standard gives no coordinates, the values are ours.
fn insulation(colour: Colour) -> u32 {
    match colour {
        Colour::Black => 0x0025_2525,
        Colour::Brown => 0x0074_4524,
        Colour::Red => 0x00C8_2127,
        Colour::Orange => 0x00E8_7A1A,
        Colour::Yellow => 0x00F2_CC1F,
        Colour::Green | Colour::GreenYellow => 0x002C_8F45,
        Colour::Blue => 0x001F_5FB4,
        Colour::Violet => 0x0078_47A0,
        Colour::Grey => 0x008A_8F94,
        Colour::White => 0x00F7_F6F2,
        Colour::Pink => 0x00EE_A2B8,
        Colour::Gold => 0x00BE_9A3C,
        Colour::Turquoise => 0x002B_B3B0,
        Colour::Silver => 0x00C3_C8CC,
    }
}

/// Base and stripe of an insulation as they are drawn: green-yellow is one colour of the standard and two on the wire.
pub fn base_and_stripe(colour: crate::quantity::WireColour) -> (Ink, Option<Ink>) {
    match (colour.base, colour.tracer) {
        (Colour::GreenYellow, _) => (Ink::Insulation(Colour::Green), Some(Ink::Insulation(Colour::Yellow))),
        (base, Some(Colour::GreenYellow)) => (Ink::Insulation(base), Some(Ink::Insulation(Colour::Yellow))),
        (base, tracer) => (Ink::Insulation(base), tracer.map(Ink::Insulation)),
    }
}

/// The thin edge of a wire on a ground.
pub fn wire_edge(ground: Ground) -> Rgba {
    opaque([0x003B_3D40, 0x00C9_C7BE, 0x0000_0000][ground.column()])
}

/// The ink of letters that lie on another ink: line or paper, whichever stands out more.
pub fn letters_on(ink: Ink, ground: Ground) -> Rgba {
    let under = rgba(ink, ground);
    let (one, other) = (rgba(Ink::Line, ground), rgba(Ink::Paper, ground));
    if contrast(one, under) >= contrast(other, under) { one } else { other }
}

/// Contrast ratio of two opaque colours, 1 to 21. Source: WCAG 2.1, "contrast ratio" and "relative luminance".
pub fn contrast(a: Rgba, b: Rgba) -> f64 {
    let (a, b) = (luminance(a), luminance(b));
    (a.max(b) + 0.05) / (a.min(b) + 0.05)
}

fn luminance([r, g, b, _]: Rgba) -> f64 {
    let linear = |channel: u8| {
        let c = f64::from(channel) / 255.0;
        if c <= 0.040_45 { c / 12.92 } else { ((c + 0.055) / 1.055).powf(2.4) }
    };
    0.2126 * linear(r) + 0.7152 * linear(g) + 0.0722 * linear(b)
}

#[cfg(test)]
mod tests {
    use super::*;

    /// Source of the limits: WCAG 2.1, 4.5:1 for letters (1.4.3) and 3:1 for graphical objects (1.4.11).
    #[test]
    fn letters_and_lines_stand_out_from_every_ground() {
        for ground in Ground::ALL {
            for under in [Ink::Paper, Ink::Body] {
                for (ink, least) in
                    [(Ink::Line, 7.0), (Ink::Faint, 4.5), (Ink::StandingDisputed, 4.5), (Ink::Chosen, 4.5)]
                {
                    let ratio = contrast(rgba(ink, ground), rgba(under, ground));
                    assert!(ratio >= least, "{ground:?}: {ink:?} on {under:?} has {ratio:.2}");
                }
            }
            for tint in NetTint::ALL {
                let ratio = contrast(rgba(Ink::Net(tint), ground), rgba(Ink::Paper, ground));
                assert!(ratio >= 2.7, "{ground:?}: {tint:?} has {ratio:.2}");
            }
        }
    }

    #[test]
    fn every_insulation_is_seen_on_every_ground_by_itself_or_by_its_edge() {
        for ground in Ground::ALL {
            let paper = rgba(Ink::Paper, ground);
            for (colour, code, _) in Colour::ALL {
                let own = contrast(rgba(Ink::Insulation(colour), ground), paper);
                let edge = contrast(wire_edge(ground), paper);
                assert!(own.max(edge) >= 3.0, "{ground:?}: {code} {own:.2} edge {edge:.2}");
            }
        }
    }

    #[test]
    fn letters_on_flags_have_4_5_to_1() {
        for ground in Ground::ALL {
            for ink in [Ink::Danger, Ink::Fault, Ink::Doubt, Ink::Note, Ink::ProbeRed, Ink::ProbeBlack, Ink::Chosen] {
                let ratio = contrast(letters_on(ink, ground), rgba(ink, ground));
                assert!(ratio >= 4.5, "{ground:?}: {ink:?} {ratio:.2}");
            }
        }
    }

    #[test]
    fn no_two_insulations_look_the_same() {
        for (n, (one, ..)) in Colour::ALL.iter().enumerate() {
            for (other, ..) in &Colour::ALL[n + 1..] {
                if [*one, *other] != [Colour::Green, Colour::GreenYellow] {
                    assert_ne!(insulation(*one), insulation(*other), "{one:?} {other:?}");
                }
            }
        }
    }
}
