//! Photos under the drawing: tiles of the fitting level as textures, a few new ones in a frame.

use std::collections::BTreeMap;
use std::sync::Arc;

use egui::{Color32, ColorImage, Context, Mesh, Shape, TextureHandle, TextureId, TextureOptions, epaint::Vertex, pos2};

use crate::app::theme;
use crate::machine::{Photo, Placement, Point};
use crate::tracing::{PhotoPixels, Tile};

use super::paint::Painting;

/// Textures made in one frame at most.
const NEW_IN_A_FRAME: usize = 4;

/// Textures kept; the least lately used make room.
const KEPT: usize = 160;

type Key = (String, u8, usize, usize);

/// Textures of tiles that were shown.
#[derive(Default)]
pub struct PhotoTextures {
    held: BTreeMap<Key, (TextureHandle, u64)>,
    frame: u64,
    made: usize,
}

impl PhotoTextures {
    /// Begins a frame.
    pub fn begin(&mut self) {
        self.frame += 1;
        self.made = 0;
        while self.held.len() > KEPT {
            let oldest = self.held.iter().min_by_key(|(_, (_, used))| *used).map(|(key, _)| key.clone());
            if let Some(key) = oldest {
                self.held.remove(&key);
            }
        }
    }

    /// Paints a photo where it lies; asks for another frame while tiles are still to come.
    pub fn paint(&mut self, painting: &Painting, photo: &Photo, pixels: &Arc<PhotoPixels>) {
        let ctx = painting.painter.ctx().clone();
        let middle = [f64::from(pixels.size_px[0]) / 2.0, f64::from(pixels.size_px[1]) / 2.0];
        let here = photo.placement.canvas_from_photo(middle[0], middle[1]);
        let beside = photo.placement.canvas_from_photo(middle[0] + 1.0, middle[1]);
        let points = here.distance(beside) * painting.camera.scale * f64::from(ctx.pixels_per_point());
        let Some((index, level)) = pixels.level_for(1.0 / points.max(1e-6)) else { return };
        let shrunk = [
            f64::from(pixels.size_px[0]) / f64::from(level.size_px[0].max(1)),
            f64::from(pixels.size_px[1]) / f64::from(level.size_px[1].max(1)),
        ];
        let faded = u8::try_from(255 - u32::from(photo.faded.min(100)) * 255 / 100).unwrap_or(255);
        let tint = theme::see_through(faded);
        for (number, tile) in level.tiles.iter().enumerate() {
            let place = |x: f64, y: f64| {
                let [x, y] = [(x, 0), (y, 1)].map(|(share, axis)| {
                    (f64::from(tile.at_px[axis]) + share * f64::from(tile.size_px[axis])) * shrunk[axis]
                });
                // What lies behind the eye of a flat view is not shown.
                (depth(&photo.placement, x, y) > 0.0).then(|| {
                    let at = photo.placement.canvas_from_photo(x, y);
                    painting.camera.screen_from_canvas(painting.screen, at)
                })
            };
            let grid = grid(&photo.placement, place);
            let points = grid.iter().flatten().copied();
            let area = points.clone().fold(egui::Rect::NOTHING, |area, at| area.union(egui::Rect::from_pos(at)));
            if !painting.screen.intersects(area) {
                continue;
            }
            // The quick picture of a photo and its whole share the hash.
            let index = if pixels.is_quick() { QUICK } else { index };
            let key = (photo.hash.clone(), photo.quarter_turns, index, number);
            if let Some(texture) = self.texture(&ctx, key, tile) {
                painting.painter.add(Shape::mesh(mesh(texture, &grid, tint)));
            } else {
                ctx.request_repaint();
            }
        }
    }

    fn texture(&mut self, ctx: &Context, key: Key, tile: &Tile) -> Option<TextureId> {
        let frame = self.frame;
        if let Some((texture, used)) = self.held.get_mut(&key) {
            *used = frame;
            return Some(texture.id());
        }
        if self.made >= NEW_IN_A_FRAME {
            return None;
        }
        self.made += 1;
        let size = [tile.size_px[0] as usize, tile.size_px[1] as usize];
        let image = ColorImage::from_rgba_unmultiplied(size, &tile.rgba);
        let texture = ctx.load_texture(format!("photo {} {} {}", key.0, key.2, key.3), image, TextureOptions::LINEAR);
        let id = texture.id();
        self.held.insert(key, (texture, frame));
        Some(id)
    }
}

/// The canvas corners of a photo, or none while its pixels are not known.
pub fn corners(photo: &Photo) -> [Point; 4] {
    let [width, height] = photo.size_px.map(f64::from);
    [(0.0, 0.0), (width, 0.0), (width, height), (0.0, height)].map(|(x, y)| photo.placement.canvas_from_photo(x, y))
}

/// A straightened photo is drawn in so many by so many pieces for each tile: within one, lines are straight.
const PIECES: usize = 12;

/// The number of the level that a quick picture stands for.
const QUICK: usize = usize::MAX;

/// How far in front of the eye a photo's pixel lies, against the photo's middle; above 0 for what can be seen.
fn depth(placement: &Placement, x: f64, y: f64) -> f64 {
    match placement {
        Placement::Similarity { .. } => 1.0,
        Placement::Homography(rows) => {
            // The scale of the nine numbers means nothing, their sign neither: the first pixel lies in front.
            (rows[6] * x + rows[7] * y + rows[8]) * rows[8].signum()
        }
    }
}

/// Screen positions of a tile's corners, and for a straightened photo of places between them; none for what cannot be seen. Row by row.
fn grid(placement: &Placement, place: impl Fn(f64, f64) -> Option<egui::Pos2>) -> Vec<Option<egui::Pos2>> {
    let pieces = if matches!(placement, Placement::Homography(_)) { PIECES } else { 1 };
    let share = |n: usize| n as f64 / pieces as f64;
    (0..=pieces)
        .flat_map(|row| (0..=pieces).map(move |column| (row, column)))
        .map(|(row, column)| place(share(column), share(row)))
        .collect()
}

fn mesh(texture: TextureId, grid: &[Option<egui::Pos2>], tint: Color32) -> Mesh {
    let side = grid.len().isqrt();
    let share = |n: usize| n as f32 / (side.max(2) - 1) as f32;
    let mut mesh = Mesh::with_texture(texture);
    mesh.vertices = grid
        .iter()
        .enumerate()
        .map(|(n, at)| Vertex { pos: at.unwrap_or_default(), uv: pos2(share(n % side), share(n / side)), color: tint })
        .collect();
    for row in 1..side {
        for column in 1..side {
            let corners = [
                (row - 1) * side + column - 1,
                (row - 1) * side + column,
                row * side + column,
                row * side + column - 1,
            ];
            if corners.iter().all(|&corner| grid.get(corner).is_some_and(Option::is_some)) {
                // At most 13 by 13.
                let [a, b, c, d] = corners.map(|corner| u32::try_from(corner).unwrap_or(0));
                mesh.indices.extend([a, b, c, a, c, d]);
            }
        }
    }
    mesh
}
