//! The ladder diagram on pages: whole where it fits, else parted between rungs, with its head on every page.

use crate::drawing::{Area, Priority};
use crate::ladder::Drawing;
use crate::machine::{Point, Thing};

use super::figure::{Figure, Of, Onto, Prim, drawn, round};
use super::tiles::{LARGEST, Room, Sheetful, Tile, Tiled, WHOLE, tiled};

/// Free room round the drawing, in canvas millimetres.
const ROUND_MM: f64 = 4.0;

/// Lays a drawing of the ladder on pages of this room. One that is too wide to be read is laid out as any other drawing.
pub(super) fn ladder_pages(drawing: &Drawing, room: &Room, name: &dyn Fn(&Thing) -> String) -> Tiled {
    let Some(whole) = drawing.scene.area().map(|area| area.grown(ROUND_MM)) else { return Tiled::default() };
    let sheetful = Sheetful::of(&drawing.scene, &drawing.title, name);
    let fits = |lying: bool| {
        let [width, height] = room.of(lying);
        (width / whole.width()).min(height / whole.height())
    };
    let by_width = |lying: bool| (room.of(lying)[0] / whole.width()).min(LARGEST);
    if room.ways().any(|lying| fits(lying) >= WHOLE) || drawing.breaks_mm.is_empty() {
        return tiled(&sheetful, room);
    }
    // Pages that stand hold more rungs; those that lie, wider ones.
    let Some(lying) = room.ways().find(|&lying| by_width(lying) >= WHOLE) else { return tiled(&sheetful, room) };
    let scale = by_width(lying).min(1.0);
    let head = drawing.head_mm.clamp(whole.min.y, whole.max.y);
    let most = room.of(lying)[1] / scale - (head - whole.min.y);
    let bands = bands(&drawing.breaks_mm, head, whole.max.y, most);
    let count = bands.len();
    let items: Vec<Of<'_>> = sheetful.items.clone();
    let mut tiles = Vec::with_capacity(count);
    let mut left_out = 0;
    for (number, &(from, to)) in bands.iter().enumerate() {
        let mut prims: Vec<Prim> = Vec::new();
        let mut lost = 0;
        let mut down = 0.0;
        for (top, bottom) in [(whole.min.y, head), (from, to)] {
            let map = |at: Point| Point::new((at.x - whole.min.x) * scale, (at.y - top) * scale + down);
            let own = Area::between(map(Point::new(whole.min.x, top)), map(Point::new(whole.max.x, bottom)));
            let onto = Onto { map: &map, scale, room: own, on_photo: false, least: Priority::Title, reserved: &[] };
            let (drawn, without) = drawn(items.iter().copied(), &onto);
            prims.extend(drawn);
            lost += without;
            down = own.max.y;
        }
        left_out += lost;
        let figure = Figure { width: round(whole.width() * scale), height: round(down), prims, left_out: lost };
        let name = if count == 1 { String::new() } else { format!("{} of {count}", number + 1) };
        let words = format!("{}, page {} of {count}.", drawing.title, number + 1);
        tiles.push(Tile { name, lying, words, figure });
    }
    Tiled { title: drawing.title.clone(), scale, overview: None, tiles, left_out }
}

/// Heights from one break to another, as far as each page goes; a stretch without a break that is higher than a page gets one all the
/// same, and is cut off by nothing: the next page goes on where it ends.
fn bands(breaks: &[f64], from: f64, to: f64, most: f64) -> Vec<(f64, f64)> {
    let mut bands = Vec::new();
    let mut at = from;
    // Each page takes a tenth of its room at the least, so there is an end.
    let most = most.max((to - from) / 60.0).max(1.0);
    while at < to {
        let last = at + most;
        let next = if last >= to {
            to
        } else {
            breaks.iter().copied().filter(|&cut| cut > at + most * 0.1 && cut <= last).fold(f64::NAN, f64::max)
        };
        let next = if next.is_nan() { last } else { next };
        bands.push((at, next));
        at = next;
    }
    bands
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn a_ladder_is_parted_between_rungs_and_nothing_is_left_out() {
        let parted = bands(&[20.0, 45.0, 60.0, 90.0], 10.0, 120.0, 50.0);
        assert_eq!(parted, [(10.0, 60.0), (60.0, 90.0), (90.0, 120.0)]);
        let long = bands(&[], 0.0, 100.0, 40.0);
        assert_eq!(long, [(0.0, 40.0), (40.0, 80.0), (80.0, 100.0)]);
        for bands in [parted, long] {
            assert!(bands.windows(2).all(|two| two[0].1 == two[1].0));
        }
        assert_eq!(bands(&[], 5.0, 5.0, 40.0), []);
    }
}
