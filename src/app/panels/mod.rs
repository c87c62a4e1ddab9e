//! The list beside the rail, one for each stage, and the parts of the window that are always there.

mod findings;
mod list;
mod mysteries;
mod next;
mod probe_picture;
mod parts;
mod photos;
mod plan;
mod practice;
mod rail;
mod reading_bar;
mod readings;
mod removal;
mod rows;
mod strip;
mod wires;

pub use list::show as list;
pub use next::percent;
pub use plan::{is_shown as plan_is_shown, keys as plan_or_card, show as plan};
pub use practice::bar as practice_bar;
pub use rail::show as rail;
pub use reading_bar::show as reading_bar;
pub use strip::{frame as hazard_frame, show as strip};
