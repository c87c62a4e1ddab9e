//! A photo in levels, each half as wide as the one before, cut into tiles: what is small on screen costs little.

use std::sync::Arc;

use image::RgbaImage;
use image::imageops::{FilterType, resize};

/// Edge of a tile in pixels; every graphics card takes pictures of this size.
pub const TILE_PX: u32 = 1024;

/// The smallest level has no edge longer than this.
const SMALLEST_PX: u32 = 256;

/// All levels of one photo.
#[derive(Debug, Clone, PartialEq)]
pub struct PhotoPixels {
    /// Width and height of the upright picture.
    pub size_px: [u32; 2],
    /// Levels, the full one first.
    pub levels: Vec<Level>,
}

/// One level.
#[derive(Debug, Clone, PartialEq)]
pub struct Level {
    /// Width and height of this level in its own pixels.
    pub size_px: [u32; 2],
    /// Its tiles, row by row.
    pub tiles: Vec<Tile>,
}

/// One tile.
#[derive(Debug, Clone, PartialEq)]
pub struct Tile {
    /// Left and top in pixels of the level.
    pub at_px: [u32; 2],
    /// Width and height in pixels.
    pub size_px: [u32; 2],
    /// Red, green, blue, alpha for each pixel, row by row.
    pub rgba: Arc<[u8]>,
}

impl PhotoPixels {
    /// Cuts an upright picture into levels and tiles.
    pub fn of(picture: &RgbaImage, mut progress: impl FnMut(f64)) -> Self {
        let size_px = [picture.width(), picture.height()];
        let mut levels = vec![level_of(picture)];
        progress(0.4);
        let mut smaller = picture;
        let mut half;
        while smaller.width().max(smaller.height()) > SMALLEST_PX {
            let size = ((smaller.width() / 2).max(1), (smaller.height() / 2).max(1));
            half = halved(smaller).unwrap_or_else(|| resize(smaller, size.0, size.1, FilterType::Triangle));
            levels.push(level_of(&half));
            smaller = &half;
            progress(1.0 - 0.5_f64.powi(i32::try_from(levels.len()).unwrap_or(30)));
        }
        Self { size_px, levels }
    }

    /// A quick small picture in place of a photo of a size: one level, until the whole is there.
    pub fn quick(picture: &RgbaImage, size_px: [u32; 2]) -> Self {
        Self { size_px, levels: vec![level_of(picture)] }
    }

    /// Whether this is only a quick small picture, on which nothing can be followed.
    pub fn is_quick(&self) -> bool {
        self.levels.first().is_none_or(|level| level.size_px != self.size_px)
    }

    /// The level to draw when one canvas pixel covers `photo_px` pixels of the photo.
    pub fn level_for(&self, photo_px: f64) -> Option<(usize, &Level)> {
        let fitting = self.levels.iter().enumerate().rfind(|(_, level)| {
            f64::from(self.size_px[0]) / f64::from(level.size_px[0].max(1)) <= photo_px.max(1.0) * 1.01
        });
        fitting.or_else(|| self.levels.first().map(|level| (0, level)))
    }

    /// Memory the pixels take, in bytes.
    pub fn bytes(&self) -> usize {
        self.levels.iter().flat_map(|level| &level.tiles).map(|tile| tile.rgba.len()).sum()
    }
}

/// Half as wide and high, each pixel the mean of four; nothing where an edge is odd. Several times quicker than any filter.
fn halved(picture: &RgbaImage) -> Option<RgbaImage> {
    let (width, height) = picture.dimensions();
    if width % 2 != 0 || height % 2 != 0 {
        return None;
    }
    let row = width as usize * 4;
    let mut half = Vec::with_capacity(picture.as_raw().len() / 4);
    for rows in picture.as_raw().chunks_exact(2 * row) {
        let (upper, lower) = rows.split_at(row);
        for (a, b) in upper.chunks_exact(8).zip(lower.chunks_exact(8)) {
            for channel in 0..4 {
                let sum = u16::from(a[channel])
                    + u16::from(a[channel + 4])
                    + u16::from(b[channel])
                    + u16::from(b[channel + 4]);
                half.push(u8::try_from((sum + 2) / 4).unwrap_or(u8::MAX));
            }
        }
    }
    RgbaImage::from_raw(width / 2, height / 2, half)
}

fn level_of(picture: &RgbaImage) -> Level {
    let (width, height) = picture.dimensions();
    let step = TILE_PX as usize;
    let mut tiles = Vec::new();
    for top in (0..height).step_by(step) {
        for left in (0..width).step_by(step) {
            let size = (TILE_PX.min(width - left), TILE_PX.min(height - top));
            let mut rgba = Vec::with_capacity(size.0 as usize * size.1 as usize * 4);
            for row in top..top + size.1 {
                let start = (row as usize * width as usize + left as usize) * 4;
                rgba.extend_from_slice(&picture.as_raw()[start..start + size.0 as usize * 4]);
            }
            tiles.push(Tile { at_px: [left, top], size_px: [size.0, size.1], rgba: rgba.into() });
        }
    }
    Level { size_px: [width, height], tiles }
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::Rgba;

    #[test]
    fn tiles_cover_every_level_once() {
        let picture = RgbaImage::from_pixel(2200, 1650, Rgba([10, 20, 30, 255]));
        let pixels = PhotoPixels::of(&picture, |_| ());
        assert_eq!(pixels.levels[0].tiles.len(), 6);
        for level in &pixels.levels {
            let area: u32 = level.tiles.iter().map(|tile| tile.size_px[0] * tile.size_px[1]).sum();
            assert_eq!(area, level.size_px[0] * level.size_px[1]);
        }
        let last = pixels.levels.last().unwrap();
        assert!(last.size_px[0] <= SMALLEST_PX);
        assert_eq!(pixels.level_for(1.0).unwrap().0, 0);
        assert_eq!(pixels.level_for(2.0).unwrap().0, 1);
        assert_eq!(pixels.level_for(100.0).unwrap().0, pixels.levels.len() - 1);
    }
}
