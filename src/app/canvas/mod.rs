//! The canvas: camera, painting, photos, and what pointing means. It draws from snapshots and asks; it changes nothing.

mod camera;
mod cross;
mod flags;
mod paint;
mod photos;
mod plot;
mod pointing;
mod sheet;
mod stroke;

pub use camera::Camera;
pub use flags::Flags;
pub use paint::Painting;
pub use photos::{PhotoTextures, corners as photo_corners};
pub use pointing::{Pointing, click_on, navigate};
pub use sheet::{Sheet, Shown, bands};

#[cfg(test)]
mod tests;
