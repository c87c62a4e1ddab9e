//! The canvas: camera, painting, photos, and what pointing means. It draws from snapshots and asks; it changes nothing.

mod camera;
mod paint;
mod photos;
mod pointing;

pub use camera::Camera;
pub use paint::Painting;
pub use photos::{PhotoTextures, corners as photo_corners};
pub use pointing::Pointing;

#[cfg(test)]
mod tests;
