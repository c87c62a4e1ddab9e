//! How the window looks: colours by meaning, the typeface, sizes. The one place of the window with colour literals.

mod fonts;
mod palette;
mod style;
mod wires;

pub use fonts::{bold, install as install_fonts};
pub use palette::{Palette, Theme, Tint, colour, contrast, see_through};
pub use style::{Look, TOUCH_SIDE, put_on};
pub use wires::wire_colours;
