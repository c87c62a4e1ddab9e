//! A photograph that lies under the drawing. The picture itself is a file beside the record, named by its hash.

use super::place::Placement;

/// One photo.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Photo {
    /// Name, unique among photos.
    pub name: String,
    /// SHA-256 of the picture file as it came, in lower-case hexadecimal.
    pub hash: String,
    /// File name it had, with its extension.
    pub original_name: String,
    /// Width and height in pixels of the upright picture.
    pub size_px: [u32; 2],
    /// When it was taken, as the camera wrote it; empty when not known.
    pub taken: String,
    /// Clockwise quarter turns that make the stored picture upright, after its EXIF orientation was followed.
    pub quarter_turns: u8,
    /// Where it lies on the canvas.
    pub placement: Placement,
    /// Caption.
    pub caption: String,
    /// Which side of the machine it shows.
    pub side: String,
    /// How far it is faded, in per cent: 0 as taken, 100 gone.
    pub faded: u8,
}
