//! How the colours of wires look on screen. Wires keep their colour in every theme; an edge in the ink parts them from the ground.

use egui::Color32;

use crate::quantity::{Colour, WireColour};

/// The screen colours of a wire: its base and, where it has one, its stripe.
///
/// Green with yellow is one colour of the standard; it is drawn as green with a yellow stripe.
pub fn wire_colours(colour: WireColour) -> (Color32, Option<Color32>) {
    if colour.base == Colour::GreenYellow {
        return (one(Colour::Green), Some(one(Colour::Yellow)));
    }
    (one(colour.base), colour.tracer.map(one))
}

/// The screen colour of one insulation colour (by eye from common PVC insulation; common practice, no source).
fn one(colour: Colour) -> Color32 {
    let (r, g, b) = match colour {
        Colour::Black => (0x1C, 0x1C, 0x1E),
        Colour::Brown => (0x7A, 0x46, 0x22),
        Colour::Red => (0xCC, 0x22, 0x22),
        Colour::Orange => (0xF0, 0x82, 0x1E),
        Colour::Yellow => (0xF2, 0xD0, 0x2A),
        Colour::Green | Colour::GreenYellow => (0x23, 0x8A, 0x45),
        Colour::Blue => (0x2B, 0x5F, 0xC4),
        Colour::Violet => (0x7B, 0x3F, 0xA8),
        Colour::Grey => (0x8F, 0x93, 0x98),
        Colour::White => (0xF6, 0xF6, 0xF2),
        Colour::Pink => (0xF2, 0x9A, 0xB4),
        Colour::Gold => (0xB8, 0x95, 0x3A),
        Colour::Turquoise => (0x2F, 0xB4, 0xB0),
        Colour::Silver => (0xC4, 0xC8, 0xCC),
    };
    Color32::from_rgb(r, g, b)
}
