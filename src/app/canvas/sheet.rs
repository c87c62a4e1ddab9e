//! What is painted of the drawing, kept from frame to frame. It is made anew when the drawing, its look or the scale has
//! changed, or when the camera has gone beyond what was made; a drawing that only moves is moved.

use std::sync::Arc;

use egui::{Mesh, Rect, Shape as Drawn};

use crate::app::theme::Theme;
use crate::desk::Electrical;
use crate::drawing::{Area, Scene};
use crate::machine::Point;

use super::paint::Painting;
use super::plot::{Plot, Stratum, way};

/// How far beyond the screen is made, as a share of its width and height.
const BEYOND: f64 = 0.12;

/// What is shown: the drawing, what it carries in the condition, and where photos lie under it.
#[derive(Clone, Default)]
pub struct Shown {
    /// The drawing.
    pub scene: Arc<Scene>,
    /// For the tints of the nets.
    pub electrical: Option<Arc<Electrical>>,
    /// Rectangles round the photos that are shown.
    pub photos: Vec<Area>,
}

impl Shown {
    fn is_same(&self, other: &Self) -> bool {
        let same = match (&self.electrical, &other.electrical) {
            (Some(one), Some(other)) => Arc::ptr_eq(one, other),
            (None, None) => true,
            _ => false,
        };
        same && Arc::ptr_eq(&self.scene, &other.scene) && self.photos == other.photos
    }
}

/// What is kept.
#[derive(Default)]
pub struct Sheet {
    made: Option<Made>,
}

struct Made {
    shown: Shown,
    theme: Theme,
    scale: f64,
    pixels_per_point: f32,
    seen_from: (Point, Rect),
    reach: Area,
    strata: Vec<Stratum>,
    /// Corners in the largest mesh: about as many will be needed the next time.
    corners: usize,
}

impl Sheet {
    /// Paints the drawing.
    pub fn paint(&mut self, painting: &Painting<'_>, shown: &Shown) {
        let sight = painting.camera.sight(painting.screen);
        let pixels_per_point = painting.painter.ctx().pixels_per_point();
        let fits = |made: &Made| {
            made.shown.is_same(shown)
                && made.theme == painting.theme
                && made.scale == painting.camera.scale
                && made.pixels_per_point == pixels_per_point
                && made.reach.contains_area(sight)
        };
        let mut made = match self.made.take() {
            Some(made) if fits(&made) => made,
            before => made(painting, shown, sight, before.map_or(0, |made| made.corners)),
        };
        let seen_from = (painting.camera.middle, painting.screen);
        let by = way(made.seen_from, seen_from, made.scale);
        made.seen_from = seen_from;
        for stratum in &mut made.strata {
            match stratum {
                Stratum::Mesh(mesh) => {
                    if by != egui::Vec2::ZERO {
                        // The last frame has let go of it by now, so nothing is copied.
                        Arc::make_mut(mesh).translate(by);
                    }
                    painting.painter.add(Drawn::Mesh(Arc::clone(mesh)));
                }
                Stratum::Letters(labels) => {
                    for (shape, on_top) in labels.iter().filter_map(|label| label.shape()) {
                        painting.label(shape, on_top);
                    }
                }
            }
        }
        self.made = Some(made);
    }
}

fn made(painting: &Painting<'_>, shown: &Shown, sight: Area, corners: usize) -> Made {
    let (beyond_x, beyond_y) = (sight.width() * BEYOND, sight.height() * BEYOND);
    let reach = Area { min: sight.min.moved(-beyond_x, -beyond_y), max: sight.max.moved(beyond_x, beyond_y) };
    let tints = shown.electrical.as_ref().map(|electrical| &electrical.tints);
    let pieces = shown.scene.pieces_in(reach);
    let strata = Plot::new(painting, reach, &shown.photos).strata(&pieces, tints, corners);
    let largest = strata.iter().filter_map(|stratum| match stratum {
        Stratum::Mesh(mesh) => Some(mesh.vertices.len()),
        Stratum::Letters(_) => None,
    });
    Made {
        shown: shown.clone(),
        theme: painting.theme,
        scale: painting.camera.scale,
        pixels_per_point: painting.painter.ctx().pixels_per_point(),
        seen_from: (painting.camera.middle, painting.screen),
        reach,
        corners: largest.max().unwrap_or(0),
        strata,
    }
}

/// Bands along wires and round parts, such as those that are selected.
pub fn bands(painting: &Painting<'_>, pieces: &[&Arc<crate::drawing::Piece>], ink: egui::Color32, points: f32) -> Mesh {
    let sight = painting.camera.sight(painting.screen).grown(20.0 / painting.camera.scale);
    let pieces: Vec<_> = pieces.iter().copied().filter(|piece| piece.area.meets(sight)).collect();
    Plot::new(painting, sight, &[]).bands(&pieces, ink, points)
}

#[cfg(test)]
mod tests {
    use egui::{Context, RawInput, Sense, pos2, vec2};

    use super::*;
    use crate::app::canvas::Camera;
    use crate::catalogue::{Catalogue, Style};
    use crate::drawing::lay_out;
    use crate::generate::invented_machine;

    /// The corners of every mesh a sheet holds after it was painted from each of these cameras in turn.
    fn corners(shown: &Shown, cameras: &[Camera]) -> Vec<egui::Pos2> {
        let ctx = Context::default();
        crate::app::theme::install_fonts(&ctx);
        let mut sheet = Sheet::default();
        for &camera in cameras {
            let screen = Rect::from_min_size(pos2(0.0, 0.0), vec2(800.0, 600.0));
            let input = RawInput { screen_rect: Some(screen), ..RawInput::default() };
            let output = ctx.run_ui(input, |ui| {
                let (_, painter) = ui.allocate_painter(ui.available_size(), Sense::hover());
                sheet.paint(&Painting { painter: &painter, screen, camera, theme: Theme::Day }, shown);
            });
            output.drop_without_applying_deltas();
        }
        let strata = sheet.made.map(|made| made.strata).unwrap_or_default();
        let meshes = strata.iter().filter_map(|stratum| match stratum {
            Stratum::Mesh(mesh) => Some(mesh),
            Stratum::Letters(_) => None,
        });
        meshes.flat_map(|mesh| mesh.vertices.iter().map(|vertex| vertex.pos)).collect()
    }

    #[test]
    fn a_drawing_that_only_moves_is_where_it_would_be_made_anew() {
        let catalogue = Catalogue::built_in().unwrap();
        let scene = Arc::new(lay_out(&invented_machine(60, 1), &catalogue, Style::Iec));
        let camera = Camera { middle: scene.area().unwrap().centre(), scale: 3.0 };
        let shown = Shown { scene, ..Shown::default() };
        let step = |n: f64| Camera { middle: camera.middle.moved(4.0 * n, -3.0 * n), ..camera };
        // Of the same reach, since the first camera is nearly the last one: what was made is moved to and fro.
        let kept = corners(&shown, &[camera, step(1.0), step(-1.0), step(2.0), camera]);
        let anew = corners(&shown, &[camera]);
        assert!(anew.len() > 1000, "{}", anew.len());
        assert_eq!(kept.len(), anew.len());
        assert!(kept.iter().zip(&anew).all(|(one, other)| one.distance(*other) < 0.05));
    }

    #[test]
    fn another_drawing_another_scale_and_a_long_way_are_made_anew() {
        let catalogue = Catalogue::built_in().unwrap();
        let shown = |wires| {
            let scene = Arc::new(lay_out(&invented_machine(wires, 1), &catalogue, Style::Iec));
            Shown { scene, ..Shown::default() }
        };
        let (one, other) = (shown(60), shown(61));
        let camera = Camera { middle: one.scene.area().unwrap().centre(), scale: 3.0 };
        assert!(!one.is_same(&other) && one.is_same(&one.clone()));
        let nearer = Camera { scale: 6.0, ..camera };
        assert_eq!(corners(&one, &[camera, nearer]), corners(&one, &[nearer]));
        let away = Camera { middle: camera.middle.moved(400.0, 0.0), ..camera };
        assert_eq!(corners(&one, &[camera, away]), corners(&one, &[away]));
    }
}
