//! Photos under the drawing: tiles of the fitting level as textures, a few new ones in a frame.

use std::collections::BTreeMap;
use std::sync::Arc;

use egui::{Color32, ColorImage, Context, Mesh, Shape, TextureHandle, TextureId, TextureOptions, epaint::Vertex, pos2};

use crate::app::theme;
use crate::machine::{Photo, Point};
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
            let corner = |x: u32, y: u32| {
                let at = photo.placement.canvas_from_photo(
                    f64::from(tile.at_px[0] + x) * shrunk[0],
                    f64::from(tile.at_px[1] + y) * shrunk[1],
                );
                painting.camera.screen_from_canvas(painting.screen, at)
            };
            let corners = [
                corner(0, 0),
                corner(tile.size_px[0], 0),
                corner(tile.size_px[0], tile.size_px[1]),
                corner(0, tile.size_px[1]),
            ];
            if !painting.screen.intersects(egui::Rect::from_points(&corners)) {
                continue;
            }
            let key = (photo.hash.clone(), photo.quarter_turns, index, number);
            if let Some(texture) = self.texture(&ctx, key, tile) {
                painting.painter.add(Shape::mesh(quad(texture, corners, tint)));
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

fn quad(texture: TextureId, corners: [egui::Pos2; 4], tint: Color32) -> Mesh {
    let uv = [pos2(0.0, 0.0), pos2(1.0, 0.0), pos2(1.0, 1.0), pos2(0.0, 1.0)];
    let mut mesh = Mesh::with_texture(texture);
    mesh.vertices = corners.iter().zip(uv).map(|(&pos, uv)| Vertex { pos, uv, color: tint }).collect();
    mesh.indices = vec![0, 1, 2, 0, 2, 3];
    mesh
}
