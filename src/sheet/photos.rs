//! Photos on paper, with the wires that were followed on them drawn over.

use std::collections::BTreeMap;
use std::io::Cursor;

use image::codecs::jpeg::JpegEncoder;
use image::imageops::{self, FilterType};
use image::{ExtendedColorType, RgbImage};
use serde::Serialize;

use crate::drawing::{Area, Item, Layer, Piece, Priority, Scene, Shape};
use crate::machine::{Machine, Photo, PhotoId, Placement, Point, Spot, Thing};
use crate::tracing;

use super::figure::{Figure, Onto, drawn, round};
use super::tiles::Room;

/// Pixels for each millimetre of paper: about 180 to the inch, as much as an office printer shows.
const PX_PER_MM: f64 = 7.0;

/// Places nearer to the horizon of a photo than this are not on it.
const LEAST_WEIGHT: f64 = 1e-9;

/// Quality of the pictures in the sheet, of 100.
const QUALITY: u8 = 82;

/// A photo with its drawing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct PhotoFigure {
    /// Its name.
    pub name: String,
    /// Caption, side and when it was taken.
    pub caption: String,
    /// The picture's file, of those that come with the sheet; `None` where there is none.
    pub file: Option<String>,
    /// Why there is no picture, or what is missing of it.
    pub remark: Option<String>,
    /// Whether its page lies on its long side.
    pub lying: bool,
    /// What is drawn on it.
    pub figure: Figure,
    /// What is on it, in words.
    pub words: String,
}

/// Pictures made ready for the sheet, by the names figures call them.
pub(super) type Pictures = BTreeMap<String, Vec<u8>>;

/// Every photo of the record that lies on the drawing or says something by itself; `files` are their files as they were taken.
pub(super) fn photo_figures(
    machine: &Machine,
    scene: &Scene,
    files: &BTreeMap<PhotoId, Vec<u8>>,
    room: &Room,
) -> (Vec<PhotoFigure>, Pictures) {
    let mut pictures = Pictures::new();
    let mut figures = Vec::new();
    for (id, photo) in machine.photos.iter() {
        figures.push(photo_figure(id, photo, scene, files.get(&id), room, &mut pictures));
    }
    (figures, pictures)
}

fn photo_figure(
    id: PhotoId,
    photo: &Photo,
    scene: &Scene,
    file: Option<&Vec<u8>>,
    room: &Room,
    pictures: &mut Pictures,
) -> PhotoFigure {
    let [wide, high] = photo.size_px.map(|px| f64::from(px.max(1)));
    let lying = room.all_lie || wide > high && fit(room.lying, wide, high) > 1.2 * fit(room.standing, wide, high);
    let per_px = fit(if lying { room.lying } else { room.standing }, wide, high);
    let size = [round(wide * per_px), round(high * per_px)];
    let (prims, left_out) = overlay(photo, scene, per_px, size);
    let drawn_on = !prims.is_empty();
    let mut figure = PhotoFigure {
        name: photo.name.clone(),
        caption: caption(photo),
        file: None,
        remark: None,
        lying,
        figure: Figure { width: size[0], height: size[1], prims, left_out },
        words: format!(
            "Photo '{}'{}.",
            photo.name,
            if drawn_on { ", with the parts and wires of the record drawn on it" } else { "" }
        ),
    };
    match file.map(|bytes| ready(bytes, photo, size)) {
        None => figure.remark = Some("The picture is not beside the record; only the drawing is shown.".to_owned()),
        Some(Err(why)) => figure.remark = Some(format!("The picture cannot be shown: {why}.")),
        Some(Ok((jpeg, remark))) => {
            let name = format!("photo-{}.jpg", id.0);
            pictures.insert(name.clone(), jpeg);
            (figure.file, figure.remark) = (Some(name), remark);
        }
    }
    figure
}

/// Caption, side and time as sentences.
fn caption(photo: &Photo) -> String {
    let said = |words: &str, text: &str| match text.trim().trim_end_matches('.') {
        "" => String::new(),
        text => format!("{words}{text}."),
    };
    let all = [said("", &photo.caption), said("Side: ", &photo.side), said("Taken ", &photo.taken)];
    super::lists::joined(all.iter().map(String::as_str), " ")
}

/// Millimetres a pixel takes when the photo fills the room.
fn fit([width, height]: [f64; 2], wide: f64, high: f64) -> f64 {
    (width / wide).min(height / high)
}

/// The picture as it goes into the sheet: turned, no larger than the paper shows, without what the camera noted.
fn ready(bytes: &[u8], photo: &Photo, size_mm: [f64; 2]) -> Result<(Vec<u8>, Option<String>), String> {
    let decoded = tracing::decode(bytes).map_err(|why| why.to_string())?;
    let picture = match photo.quarter_turns % 4 {
        0 => decoded.picture,
        1 => imageops::rotate90(&decoded.picture),
        2 => imageops::rotate180(&decoded.picture),
        _ => imageops::rotate270(&decoded.picture),
    };
    #[expect(clippy::cast_possible_truncation, clippy::cast_sign_loss, reason = "bounded by the room on paper")]
    let wanted = size_mm.map(|mm| (mm * PX_PER_MM).round().clamp(1.0, 8000.0) as u32);
    let smaller = picture.width() > wanted[0] && picture.height() > wanted[1];
    let picture =
        if smaller { imageops::resize(&picture, wanted[0], wanted[1], FilterType::Triangle) } else { picture };
    let plain = RgbImage::from_fn(picture.width(), picture.height(), |x, y| {
        let [r, g, b, _] = picture.get_pixel(x, y).0;
        image::Rgb([r, g, b])
    });
    let mut jpeg = Cursor::new(Vec::new());
    JpegEncoder::new_with_quality(&mut jpeg, QUALITY)
        .encode(plain.as_raw(), plain.width(), plain.height(), ExtendedColorType::Rgb8)
        .map_err(|why| why.to_string())?;
    Ok((jpeg.into_inner(), decoded.remark))
}

/// The parts and wires that lie on a photo.
fn overlay(photo: &Photo, scene: &Scene, per_px: f64, size: [f64; 2]) -> (Vec<super::figure::Prim>, usize) {
    let Some(back) = photo_from_canvas(&photo.placement) else { return (Vec::new(), 0) };
    let room = Area::between(Point::default(), Point::new(size[0], size[1]));
    let map = |at: Point| back(at).map_or(Point::new(-1e4, -1e4), |(x, y)| Point::new(x * per_px, y * per_px));
    let [wide, high] = photo.size_px.map(f64::from);
    let corners =
        [(0.0, 0.0), (wide, 0.0), (wide, high), (0.0, high)].map(|(x, y)| photo.placement.canvas_from_photo(x, y));
    let Some(quad) = Area::round(corners) else { return (Vec::new(), 0) };
    let across = corners[0].distance(corners[1]);
    let scale = if across > 0.0 { size[0] / across } else { 1.0 };
    // Wires that only pass over a corner of the photo's rectangle are cut off at its edge when it is printed.
    let lies_on = |item: &Item| {
        let in_view = |area: Area| area.corners().into_iter().all(|corner| back(corner).is_some());
        item.area().is_some_and(|area| area.meets(quad) && in_view(area))
    };
    let onto = Onto { map: &map, scale, room, on_photo: true, least: Priority::Title, reserved: &[] };
    let wanted = |(piece, item): &(&Piece, &Item)| {
        item.layer != Layer::Bodies && lies_on(item) && is_worth_it(&piece.of, item, scale)
    };
    drawn(scene.items().filter(wanted).map(|(piece, item)| (Some(&piece.of), item)), &onto)
}

/// On a photo that is printed small the markings of terminals and the titles of parts are left to the diagram.
fn is_worth_it(of: &Thing, item: &Item, scale: f64) -> bool {
    match &item.shape {
        Shape::Text { priority: Priority::Marking, size_mm, .. } => size_mm * scale >= 0.9,
        Shape::Text { priority: Priority::Title, size_mm, .. } => {
            size_mm * scale >= 1.2 || matches!(of, Thing::Spot(Spot::Wire(_)))
        }
        _ => true,
    }
}

/// Photo pixels of a place on the canvas; `None` where the placement cannot be turned round, or the place lies behind the view.
fn photo_from_canvas(placement: &Placement) -> Option<impl Fn(Point) -> Option<(f64, f64)> + use<>> {
    let h = match *placement {
        Placement::Similarity { origin, mm_per_px, turn_deg } => {
            let (sin, cos) = turn_deg.to_radians().sin_cos();
            [mm_per_px * cos, -mm_per_px * sin, origin.x, mm_per_px * sin, mm_per_px * cos, origin.y, 0.0, 0.0, 1.0]
        }
        Placement::Homography(h) => h,
    };
    let [a, b, c, d, e, f, g, i, j] = h;
    let det = a * (e * j - f * i) - b * (d * j - f * g) + c * (d * i - e * g);
    let inverse = [
        e * j - f * i,
        c * i - b * j,
        b * f - c * e,
        f * g - d * j,
        a * j - c * g,
        c * d - a * f,
        d * i - e * g,
        b * g - a * i,
        a * e - b * d,
    ]
    .map(|cofactor| cofactor / det);
    if !inverse.iter().all(|value| value.is_finite()) {
        return None;
    }
    let front = j;
    Some(move |at: Point| {
        let [a, b, c, d, e, f, g, h, i] = inverse;
        let w = g * at.x + h * at.y + i;
        // Beyond the horizon the sign turns: such a place lies behind the view.
        if w * front <= 0.0 || w.abs() < LEAST_WEIGHT {
            return None;
        }
        let (x, y) = ((a * at.x + b * at.y + c) / w, (d * at.x + e * at.y + f) / w);
        (x.is_finite() && y.is_finite()).then_some((x, y))
    })
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_placement_is_turned_round() {
        let placements = [
            Placement::Similarity { origin: Point::new(12.0, -7.0), mm_per_px: 0.21, turn_deg: 33.0 },
            Placement::Homography([0.2, 0.03, 5.0, -0.02, 0.19, 3.0, 1e-5, -2e-5, 1.0]),
        ];
        for placement in placements {
            let back = photo_from_canvas(&placement).unwrap();
            for (x, y) in [(0.0, 0.0), (1999.0, 12.0), (640.5, 1480.25)] {
                let (bx, by) = back(placement.canvas_from_photo(x, y)).unwrap();
                assert!((bx - x).hypot(by - y) < 1e-6, "{placement:?}: {x} {y} came back as {bx} {by}");
            }
        }
        assert!(photo_from_canvas(&Placement::Homography([0.0; 9])).is_none());
    }
}
