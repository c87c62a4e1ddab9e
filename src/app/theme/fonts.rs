//! The one typeface of the window, built into the program (B612; its licence lies in assets/fonts).

use std::sync::Arc;

use egui::{Context, FontData, FontDefinitions, FontFamily};

/// Name of the bold family.
pub const BOLD: &str = "bold";

const REGULAR_OTF: &[u8] = include_bytes!("../../../assets/fonts/B612-Regular.otf");
const BOLD_OTF: &[u8] = include_bytes!("../../../assets/fonts/B612-Bold.otf");

/// The bold cut of the typeface.
pub fn bold() -> FontFamily {
    FontFamily::Name(BOLD.into())
}

/// Gives the typeface to egui. Figures of B612 all have the same width, so columns of numbers line up.
pub fn install(ctx: &Context) {
    let mut fonts = FontDefinitions::empty();
    fonts.font_data.insert("B612".to_owned(), Arc::new(FontData::from_static(REGULAR_OTF)));
    fonts.font_data.insert("B612 Bold".to_owned(), Arc::new(FontData::from_static(BOLD_OTF)));
    for family in [FontFamily::Proportional, FontFamily::Monospace] {
        fonts.families.insert(family, vec!["B612".to_owned()]);
    }
    fonts.families.insert(bold(), vec!["B612 Bold".to_owned(), "B612".to_owned()]);
    ctx.set_fonts(fonts);
}
