//! The detail of a photo that shows a part: cut out round its terminals or by two corners, kept with the part for the sheet.

use std::sync::Arc;

use egui::{ColorImage, TextureHandle, TextureOptions, Ui, vec2};

use super::lay::{photo_at, pixel};
use super::{Doing, PhotoRequest};
use crate::app::request::Requests;
use crate::app::scope::Scope;
use crate::app::widgets::{faint, group, name};
use crate::machine::{Change, Crop, Edit, Machine, Part, PartId, Photo, PhotoId, Point};
use crate::tracing::{PhotoPixels, PhotoPoint};

/// Room left round the terminals, as a share of what they take up.
const ROOM: f64 = 0.45;
/// The least edge of a detail in pixels of the photo.
const LEAST_PX: f64 = 16.0;
/// A detail round terminals that lie on one spot is so wide and high, as a share of the photo.
const LEAST_SHARE: f64 = 0.06;
/// Height of the picture on the card in points.
const HEIGHT: f32 = 130.0;

/// The detail round the terminals of a part that have their place on a photo.
pub fn round(machine: &Machine, id: PartId) -> Option<Crop> {
    let part = machine.parts.get(id)?;
    let places: Vec<Point> = part.terminals.values().filter_map(|note| note.at).collect();
    let (photo_id, _) = photo_at(machine, *places.first()?)?;
    let photo = machine.photos.get(photo_id)?;
    let pixels: Vec<PhotoPoint> = places.into_iter().filter_map(|at| pixel(photo, at)).collect();
    let ends = |axis: usize| {
        let values = pixels.iter().map(|at| at[axis]);
        let (least, most) = (values.clone().fold(f64::MAX, f64::min), values.fold(f64::MIN, f64::max));
        let longest = f64::from(photo.size_px[0].max(photo.size_px[1]));
        (least, most, ((most - least) * ROOM).max(longest * LEAST_SHARE))
    };
    let ((left, right, across), (top, bottom, down)) = (ends(0), ends(1));
    // As much room to the sides as above, so that a row of terminals is no strip.
    let room = across.max(down);
    let rect_px = rect(photo, [left - room, top - room], [right + room, bottom + room])?;
    Some(Crop { photo: photo_id, rect_px })
}

/// The detail between two opposite corners on one photo.
pub fn between(machine: &Machine, first: Point, second: Point) -> Option<Crop> {
    let (photo, from) = photo_at(machine, first)?;
    let entry = machine.photos.get(photo)?;
    let to = entry.placement.photo_from_canvas(second)?;
    Some(Crop { photo, rect_px: rect(entry, from, to)? })
}

/// A rectangle cut to the photo; none when nothing of it is left.
fn rect(photo: &Photo, a: PhotoPoint, b: PhotoPoint) -> Option<[u32; 4]> {
    let edges = [0, 1].map(|axis| {
        let size = f64::from(photo.size_px[axis]);
        let (from, to) = (a[axis].min(b[axis]).clamp(0.0, size), a[axis].max(b[axis]).clamp(0.0, size));
        (from.floor(), (to - from).floor())
    });
    let [(left, width), (top, height)] = edges;
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "cut to the photo's size above")]
    let whole = |value: f64| value as u32;
    (width >= LEAST_PX && height >= LEAST_PX).then(|| [left, top, width, height].map(whole))
}

/// The details of a photo, turned with it by so many quarters clockwise.
pub fn turned(machine: &Machine, id: PhotoId, quarters: u8) -> Vec<Change> {
    let Some(photo) = machine.photos.get(id) else { return Vec::new() };
    let shown = machine.parts.iter().filter_map(|(part, entry)| Some((part, entry, entry.crop?)));
    shown
        .filter(|(.., crop)| crop.photo == id)
        .map(|(part, entry, mut crop)| {
            let mut size = photo.size_px;
            for _ in 0..quarters % 4 {
                let [left, top, width, height] = crop.rect_px;
                crop.rect_px = [size[1].saturating_sub(top.saturating_add(height)), left, height, width];
                size.swap(0, 1);
            }
            Change::Part(part, Some(Arc::new(Part { crop: Some(crop), ..entry.clone() })))
        })
        .collect()
}

/// The edit that keeps a detail with a part.
pub fn cut(machine: &Machine, id: PartId, crop: Crop) -> Edit {
    let label = format!("Detail of {}", machine.part_name(id));
    machine.edit_part(id, &label, |part| part.crop = Some(crop))
}

/// Draws the detail on the card of a part, with the keys to lay its terminals and to cut it out.
pub fn show(ui: &mut Ui, scope: &Scope<'_>, id: PartId, part: &Part, out: &mut Requests) {
    group(ui, "On the photo");
    if scope.machine.photos.is_empty() {
        faint(
            ui,
            scope.palette,
            "No photo yet. With one, its terminals can be laid where they are, and a detail kept here.",
        );
        return;
    }
    let body = scope.catalogue.body(part);
    if !body.terminals.is_empty() {
        let laid = part.terminals.values().filter(|note| note.at.is_some()).count();
        faint(ui, scope.palette, format!("{laid} of {} terminals have their place on it.", body.terminals.len()));
        if ui.button("Lay its terminals on the photo").clicked() {
            out.photo(PhotoRequest::Begin(Doing::Terminals(id, Vec::new())));
        }
    }
    if let Some(crop) = part.crop {
        picture(ui, scope, part, crop);
    }
    ui.horizontal_wrapped(|ui| {
        let on_photo = part.terminals.values().any(|note| note.at.is_some());
        if on_photo && ui.button("Detail round its terminals").clicked() {
            out.photo(PhotoRequest::DetailRound(id));
        }
        if ui.button("Detail by two corners").clicked() {
            out.photo(PhotoRequest::Begin(Doing::Detail(id, Vec::new())));
        }
        if part.crop.is_some() && ui.button("No detail").clicked() {
            let label = format!("No detail of {}", part.tag);
            out.edit(scope.machine.edit_part(id, &label, |part| part.crop = None));
        }
    });
}

fn picture(ui: &mut Ui, scope: &Scope<'_>, part: &Part, crop: Crop) {
    let photo = scope.machine.photos.get(crop.photo);
    let Some((photo, pixels)) = photo.zip(scope.photos.pixels.get(&crop.photo)) else {
        faint(ui, scope.palette, "The picture is not there yet.");
        return;
    };
    let [_, _, width, height] = crop.rect_px.map(|edge| edge.max(1) as f32);
    let most = vec2(ui.available_width(), HEIGHT);
    let size = vec2(width, height) * (most.x / width).min(most.y / height);
    let key = ui.ctx().viewport_id();
    let held = egui::Id::unique(("detail", key, &photo.hash, photo.quarter_turns, crop.rect_px, pixels.is_quick()));
    let texture = ui.data(|data| data.get_temp::<TextureHandle>(held)).or_else(|| {
        let image = image_of(pixels, crop.rect_px, most.x.max(most.y) * ui.ctx().pixels_per_point())?;
        let texture = ui.ctx().load_texture("detail", image, TextureOptions::LINEAR);
        ui.data_mut(|data| data.insert_temp(held, texture.clone()));
        Some(texture)
    });
    if let Some(texture) = texture {
        let response = ui.add(egui::Image::new((texture.id(), size)));
        name(ui, response.id, &format!("Detail of {} on photo {}", part.tag, photo.name));
    }
}

/// A rectangle of a photo as a picture no larger than needed for so many points.
fn image_of(pixels: &Arc<PhotoPixels>, rect_px: [u32; 4], points: f32) -> Option<ColorImage> {
    let longest = rect_px[2].max(rect_px[3]).max(1);
    let (_, level) = pixels.level_for(f64::from(longest) / f64::from(points.max(1.0)))?;
    let scale = [0, 1].map(|axis| f64::from(level.size_px[axis]) / f64::from(pixels.size_px[axis].max(1)));
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "cut to the level's size below")]
    let on_level = |value: u32, axis: usize| (f64::from(value) * scale[axis]).round() as usize;
    let [left, top] = [0, 1].map(|axis| on_level(rect_px[axis], axis).min(level.size_px[axis] as usize));
    let end =
        |axis: usize| on_level(rect_px[axis].saturating_add(rect_px[axis + 2]), axis).min(level.size_px[axis] as usize);
    let (width, height) = (end(0).saturating_sub(left), end(1).saturating_sub(top));
    if width == 0 || height == 0 {
        return None;
    }
    let mut rgba = vec![0; width * height * 4];
    for tile in &level.tiles {
        let [x, y] = tile.at_px.map(|edge| edge as usize);
        let [w, h] = tile.size_px.map(|edge| edge as usize);
        let (from, to) = (left.max(x), (left + width).min(x + w));
        for row in top.max(y)..(top + height).min(y + h) {
            if from >= to {
                break;
            }
            let source = tile.rgba.get(((row - y) * w + from - x) * 4..((row - y) * w + to - x) * 4)?;
            let start = ((row - top) * width + from - left) * 4;
            rgba.get_mut(start..start + source.len())?.copy_from_slice(source);
        }
    }
    Some(ColorImage::from_rgba_unmultiplied([width, height], &rgba))
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::machine::{Placement, TerminalNote};

    #[test]
    fn a_detail_is_cut_to_the_photo_and_shows_its_pixels() {
        let mut machine = Machine::default();
        let placement = Placement::Similarity { origin: Point::default(), mm_per_px: 1.0, turn_deg: 0.0 };
        let photo = machine.photos.add(Photo { size_px: [400, 300], placement, ..Photo::default() });
        let mut part = Part { tag: "K1".to_owned(), ..Part::default() };
        for (marking, x) in [("A1", 20.0), ("A2", 60.0)] {
            let note = TerminalNote { at: Some(Point::new(x, 10.0)), ..TerminalNote::default() };
            part.terminals.insert(marking.into(), note);
        }
        let id = machine.parts.add(part);
        let crop = round(&machine, id).unwrap();
        assert_eq!((crop.photo, crop.rect_px), (photo, [0, 0, 84, 34]));
        machine.apply(cut(&machine.clone(), id, crop));
        // The upper left corner of 400 by 300 lies at the upper right of 300 by 400 after a quarter clockwise, at the lower left after three.
        for (quarters, rect) in [(1, [266, 0, 34, 84]), (2, [316, 266, 84, 34]), (3, [0, 316, 34, 84])] {
            let [Change::Part(_, Some(turned))] = &turned(&machine, photo, quarters)[..] else { panic!() };
            assert_eq!(turned.crop.unwrap().rect_px, rect, "{quarters}");
        }
        let crop = between(&machine, Point::new(300.0, 280.0), Point::new(900.0, 200.0)).unwrap();
        assert_eq!(crop.rect_px, [300, 200, 100, 80]);
        assert_eq!(between(&machine, Point::new(300.0, 280.0), Point::new(301.0, 281.0)), None);
        assert_eq!(between(&machine, Point::new(-5.0, 0.0), Point::new(100.0, 100.0)), None);
        let picture = image::RgbaImage::from_fn(400, 300, |x, y| {
            image::Rgba([u8::try_from(x % 256).unwrap(), u8::try_from(y % 256).unwrap(), 0, 255])
        });
        let pixels = Arc::new(PhotoPixels::of(&picture, |_| ()));
        let image = image_of(&pixels, [100, 50, 40, 20], 40.0).unwrap();
        assert_eq!(image.size, [40, 20]);
        assert_eq!((image.pixels[0].r(), image.pixels[0].g()), (100, 50));
        assert!(image_of(&pixels, [5000, 50, 40, 20], 40.0).is_none());
    }
}
