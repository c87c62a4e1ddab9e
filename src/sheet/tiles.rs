//! A drawing on pages: whole where it fits, else over several, joined by match marks on their edges.

use serde::Serialize;

use crate::drawing::{Area, Ink, Item, Layer, Priority, Scene, Shape};
use crate::machine::{Point, Spot, Thing};

use super::figure::{Figure, LEAST_CAPITALS_MM, Of, Onto, Prim, drawn, ink_hex, round, xy};
use super::letters::width_mm;

/// The largest scale of a drawing, in millimetres of paper for one of the canvas.
pub(super) const LARGEST: f64 = 1.25;

/// From this scale on a drawing stays on one page.
pub(super) const WHOLE: f64 = 0.65;

/// The largest scale of a drawing that takes more than one page.
const TILED: f64 = 1.0;

/// The smallest scale that is good to read, with letters that are never smaller than they have to be.
const SMALLEST: f64 = 0.55;

/// The most pages one drawing takes; beyond that it is drawn smaller.
const MOST_TILES: usize = 24;

/// The strip along an edge where the drawing goes on, which holds the match marks, in millimetres.
const STRIP_MM: f64 = 9.0;

/// Free room round the drawing, in canvas millimetres.
const ROUND_MM: f64 = 4.0;

/// The longest side of a page of its own size, in millimetres: what a PDF may have without a unit of its own (14,400 points). Source:
/// ISO 32000-1, annex C.
const LARGEST_MM: f64 = 5000.0;

/// One page of a drawing.
#[derive(Debug, Clone, PartialEq, Serialize)]
pub struct Tile {
    /// Row and column: `B2`; empty where there is one page only.
    pub name: String,
    /// Whether the page lies on its long side.
    pub lying: bool,
    /// What is on it, in words, for whoever cannot see it.
    pub words: String,
    /// The figure.
    pub figure: Figure,
}

/// A drawing over pages.
#[derive(Debug, Clone, PartialEq, Serialize, Default)]
pub struct Tiled {
    /// What the drawing is called.
    pub title: String,
    /// Millimetres of paper for one of the canvas.
    pub scale: f64,
    /// The whole drawing small, with the borders of its pages; only where it takes more than one.
    pub overview: Option<Tile>,
    /// The pages, row by row.
    pub tiles: Vec<Tile>,
    /// Letters that found no room on any page.
    pub left_out: usize,
}

/// Room for a figure on a page standing up, and on one lying down: width and height in millimetres.
#[derive(Debug, Clone, Copy, PartialEq)]
pub struct Room {
    /// On a page standing up.
    pub standing: [f64; 2],
    /// On a page lying on its long side.
    pub lying: [f64; 2],
    /// Whether every page lies.
    pub all_lie: bool,
}

impl Room {
    pub(super) fn of(&self, lying: bool) -> [f64; 2] {
        if lying { self.lying } else { self.standing }
    }

    pub(super) fn ways(&self) -> impl Iterator<Item = bool> {
        let all_lie = self.all_lie;
        [false, true].into_iter().filter(move |lying| *lying || !all_lie)
    }
}

/// What is laid on pages: shapes in drawing order, each with what it stands for, and how the drawing is called.
pub(super) struct Sheetful<'a> {
    pub(super) items: Vec<(Option<&'a Thing>, &'a Item)>,
    pub(super) title: &'a str,
    /// The key of a wire.
    pub(super) name: &'a dyn Fn(&Thing) -> String,
}

impl<'a> Sheetful<'a> {
    /// Everything of a scene.
    pub(super) fn of(scene: &'a Scene, title: &'a str, name: &'a dyn Fn(&Thing) -> String) -> Self {
        Self { items: scene.items().map(|(piece, item)| (Some(&piece.of), item)).collect(), title, name }
    }

    fn area(&self) -> Option<Area> {
        self.items.iter().filter_map(|(_, item)| item.area()).reduce(Area::joined)
    }
}

/// How a drawing is cut.
struct Cut {
    scale: f64,
    lying: bool,
    columns: usize,
    rows: usize,
}

/// Lays a drawing on pages of this room.
pub(super) fn tiled(drawing: &Sheetful<'_>, room: &Room) -> Tiled {
    let Some(whole) = drawing.area().map(|area| area.grown(ROUND_MM)) else { return Tiled::default() };
    let fit = |lying: bool| {
        let [width, height] = room.of(lying);
        (width / whole.width()).min(height / whole.height())
    };
    let way = room.ways().max_by(|a, b| fit(*a).total_cmp(&fit(*b))).unwrap_or(room.all_lie);
    let cut = cut(whole, room).filter(|cut| cut.columns * cut.rows > 1);
    let Some(cut) = cut.filter(|_| fit(way) < WHOLE) else {
        return one_page(drawing, whole, fit(way).min(LARGEST), way);
    };
    let mut left_out = 0;
    let mut tiles = Vec::with_capacity(cut.columns * cut.rows);
    for row in 0..cut.rows {
        for column in 0..cut.columns {
            if let Some(tile) = one_tile(drawing, whole, &cut, [column, row]) {
                left_out += tile.figure.left_out;
                tiles.push(tile);
            }
        }
    }
    Tiled {
        title: drawing.title.to_owned(),
        scale: cut.scale,
        overview: Some(overview(drawing, whole, &cut, room)),
        tiles,
        left_out,
    }
}

/// A drawing on one page of its own size.
pub(super) fn whole(drawing: &Sheetful<'_>) -> Tiled {
    let Some(area) = drawing.area().map(|area| area.grown(ROUND_MM)) else { return Tiled::default() };
    // The typesetter and most viewers have no larger pages.
    let scale = (LARGEST_MM / area.width().max(area.height())).min(1.0);
    one_page(drawing, area, scale, false)
}

fn one_page(drawing: &Sheetful<'_>, whole: Area, scale: f64, lying: bool) -> Tiled {
    let size = [whole.width() * scale, whole.height() * scale];
    let map = |at: Point| Point::new((at.x - whole.min.x) * scale, (at.y - whole.min.y) * scale);
    let room = Area::between(Point::default(), Point::new(size[0], size[1]));
    let onto = Onto { map: &map, scale, room, on_photo: false, least: Priority::Title, reserved: &[] };
    let (prims, left_out) = drawn(drawing.items.iter().copied(), &onto);
    let figure = Figure { width: round(size[0]), height: round(size[1]), prims, left_out };
    let words = format!("{}, whole.", drawing.title);
    let tiles = vec![Tile { name: String::new(), lying, words, figure }];
    Tiled { title: drawing.title.to_owned(), scale, overview: None, tiles, left_out }
}

/// The cut that shows most on fewest pages: of all grids the one with the fewest pages for its scale, as large as it goes.
fn cut(whole: Area, room: &Room) -> Option<Cut> {
    let mut best: Option<(f64, Cut)> = None;
    for lying in room.ways() {
        let [width, height] = room.of(lying).map(|mm| mm - 2.0 * STRIP_MM);
        for columns in 1..=MOST_TILES {
            for rows in 1..=MOST_TILES / columns {
                let scale = (width * columns as f64 / whole.width()).min(height * rows as f64 / whole.height());
                // Smaller than is good to read counts as if it took many more pages.
                let small = (SMALLEST / scale).max(1.0).powi(6);
                let cost = (columns * rows) as f64 * scale.min(TILED).powf(-1.2) * small;
                if scale > 0.0 && best.as_ref().is_none_or(|(least, _)| cost < *least - 1e-9) {
                    best = Some((cost, Cut { scale: scale.min(TILED), lying, columns, rows }));
                }
            }
        }
    }
    best.map(|(_, cut)| cut)
}

/// `A1`, `B2`: rows by letters, columns by figures.
fn tile_name([column, row]: [usize; 2]) -> String {
    // At most MOST_TILES rows, so within the alphabet.
    let letter = u8::try_from(row).ok().and_then(|row| b'A'.checked_add(row)).map_or('?', char::from);
    format!("{letter}{}", column + 1)
}

/// The drawing's part on one page, in canvas millimetres.
fn window(whole: Area, cut: &Cut, [column, row]: [usize; 2]) -> Area {
    // Pages share the drawing evenly, so that none is nearly empty.
    let (width, height) = (whole.width() / cut.columns as f64, whole.height() / cut.rows as f64);
    let min = whole.min.moved(width * column as f64, height * row as f64);
    Area::between(min, min.moved(width, height))
}

fn one_tile(drawing: &Sheetful<'_>, whole: Area, cut: &Cut, at: [usize; 2]) -> Option<Tile> {
    let own = window(whole, cut, at);
    let meets = |item: &Item| item.area().is_some_and(|area| area.meets(own));
    // A wire that only passes through is told by its key here too.
    let is_wire = |of: Option<&Thing>| matches!(of, Some(Thing::Spot(Spot::Wire(_))));
    let wanted = |(of, item): &Of<'_>| meets(item) || is_wire(*of) && matches!(item.shape, Shape::Text { .. });
    let items: Vec<Of<'_>> = drawing.items.iter().copied().filter(wanted).collect();
    if !items.iter().any(|(_, item)| meets(item)) {
        return None;
    }
    let scale = cut.scale;
    let offset = Point::new(STRIP_MM, STRIP_MM);
    let map = |point: Point| offset.moved((point.x - own.min.x) * scale, (point.y - own.min.y) * scale);
    let room = Area::between(map(own.min), map(own.max));
    let onto = Onto { map: &map, scale, room, on_photo: false, least: Priority::Title, reserved: &[] };
    let (mut prims, left_out) = drawn(items.into_iter(), &onto);
    prims.insert(0, Prim::Lines { p: vec![border(room)], c: ink_hex(Ink::Faint), w: 0.2, d: Some([2.0, 1.5]) });
    let marks = match_marks(drawing, own, cut, at, &map);
    let goes_on: Vec<String> = marks.iter().map(|edge| edge.words.clone()).collect();
    for edge in marks {
        edge.draw(room, &mut prims);
    }
    let name = tile_name(at);
    let words = format!("{}, page {name}. {}", drawing.title, goes_on.join(" "));
    let (width, height) = (room.max.x + STRIP_MM, room.max.y + STRIP_MM);
    let figure = Figure { width: round(width), height: round(height), prims, left_out };
    Some(Tile { name, lying: cut.lying, words: words.trim_end().to_owned(), figure })
}

fn border(room: Area) -> Vec<[f64; 2]> {
    let mut line: Vec<[f64; 2]> = room.corners().map(xy).to_vec();
    line.extend(line.first().copied());
    line
}

/// An edge of a page beyond which the drawing goes on.
#[derive(Debug, Clone, Copy, PartialEq, Eq)]
enum Edge {
    Left,
    Right,
    Top,
    Bottom,
}

/// The wires that cross one edge.
struct Crossed {
    edge: Edge,
    /// The page beyond.
    to: String,
    /// Where each wire crosses, in millimetres of the figure along the edge, sorted.
    at: Vec<(f64, String)>,
    words: String,
}

/// Where wires go on to the pages beside this one.
fn match_marks(
    drawing: &Sheetful<'_>,
    own: Area,
    cut: &Cut,
    at: [usize; 2],
    map: &dyn Fn(Point) -> Point,
) -> Vec<Crossed> {
    let [column, row] = at;
    let mut edges = Vec::new();
    let beyond = [
        (Edge::Left, column.checked_sub(1).map(|column| [column, row])),
        (Edge::Right, (column + 1 < cut.columns).then_some([column + 1, row])),
        (Edge::Top, row.checked_sub(1).map(|row| [column, row])),
        (Edge::Bottom, (row + 1 < cut.rows).then_some([column, row + 1])),
    ];
    for (edge, to) in beyond.into_iter().filter_map(|(edge, to)| Some((edge, to?))) {
        let mut at: Vec<(f64, String)> = Vec::new();
        for (thing, item) in &drawing.items {
            let (Some(thing), Shape::Wire(run)) = (thing, &item.shape) else { continue };
            for crossing in run.points.windows(2).filter_map(|ends| crossing(ends[0], ends[1], own, edge)) {
                let place = map(crossing);
                let along = if matches!(edge, Edge::Left | Edge::Right) { place.y } else { place.x };
                at.push((along, (drawing.name)(thing)));
            }
        }
        at.sort_by(|a, b| a.0.total_cmp(&b.0).then_with(|| a.1.cmp(&b.1)));
        at.dedup_by(|next, first| next.1 == first.1 && next.0 - first.0 < 1.5);
        if at.is_empty() {
            continue;
        }
        let to = tile_name(to);
        let keys: Vec<&str> = at.iter().map(|(_, key)| key.as_str()).collect();
        let words = format!("Goes on to {to}: {}.", keys.join(", "));
        edges.push(Crossed { edge, to, at, words });
    }
    edges
}

/// Where a straight crosses an edge of the window.
fn crossing(a: Point, b: Point, own: Area, edge: Edge) -> Option<Point> {
    let (line, upright) = match edge {
        Edge::Left => (own.min.x, true),
        Edge::Right => (own.max.x, true),
        Edge::Top => (own.min.y, false),
        Edge::Bottom => (own.max.y, false),
    };
    let (from, to) = if upright { (a.x, b.x) } else { (a.y, b.y) };
    // Half open, so that a bend on the edge counts once.
    if (from < line) == (to < line) {
        return None;
    }
    let share = (line - from) / (to - from);
    let place = Point::new(a.x + (b.x - a.x) * share, a.y + (b.y - a.y) * share);
    own.grown(1e-6).contains(place).then_some(place)
}

impl Crossed {
    /// Keys of the wires side by side along the edge, each with a stroke to where its wire is cut, and the page beyond.
    fn draw(&self, room: Area, prims: &mut Vec<Prim>) {
        let size = LEAST_CAPITALS_MM;
        let pitch = size * 1.55;
        let (from, to) = match self.edge {
            Edge::Left | Edge::Right => (room.min.y, room.max.y),
            Edge::Top | Edge::Bottom => (room.min.x, room.max.x),
        };
        // The name of the page beyond takes the room at the beginning.
        let head = format!("to {}", self.to);
        let begin = from + width_mm(&head, 2.0) + 2.0;
        let places = spread(&self.at.iter().map(|one| one.0).collect::<Vec<_>>(), pitch, begin, to);
        let mut strokes = Vec::new();
        for ((cut, key), place) in self.at.iter().zip(&places) {
            let Some(place) = *place else { continue };
            strokes.push(
                [self.out(room, *cut, 0.0), self.out(room, *cut, 0.9), self.out(room, place, 2.0)].map(xy).to_vec(),
            );
            self.letters(room, place, key, size, prims);
        }
        prims.push(Prim::Lines { p: strokes, c: ink_hex(Ink::Line), w: 0.2, d: None });
        let more = places.iter().filter(|place| place.is_none()).count();
        let head = if more > 0 { format!("{head} (+{more})") } else { head };
        self.letters(room, from + 1.0, &head, 2.0, prims);
    }

    /// The place so far along the edge and so far out of it.
    fn out(&self, room: Area, along: f64, out: f64) -> Point {
        match self.edge {
            Edge::Left => Point::new(room.min.x - out, along),
            Edge::Right => Point::new(room.max.x + out, along),
            Edge::Top => Point::new(along, room.min.y - out),
            Edge::Bottom => Point::new(along, room.max.y + out),
        }
    }

    /// Letters outside of the edge: level beside an upright edge, upwards above and below a level one. The name of the page beyond lies
    /// along the edge.
    fn letters(&self, room: Area, place: f64, text: &str, size: f64, prims: &mut Vec<Prim>) {
        let head = size > LEAST_CAPITALS_MM;
        let width = width_mm(text, size);
        let (at, up) = match (self.edge, head) {
            (Edge::Left, false) => (Point::new(room.min.x - 2.3 - width, place - size / 2.0), false),
            (Edge::Right, false) => (Point::new(room.max.x + 2.3, place - size / 2.0), false),
            (Edge::Top, false) => (Point::new(place - size / 2.0, room.min.y - 2.3), true),
            (Edge::Bottom, false) => (Point::new(place - size / 2.0, room.max.y + 2.3 + width), true),
            (Edge::Left, true) => (Point::new(room.min.x - 3.0 - size, place + width), true),
            (Edge::Right, true) => (Point::new(room.max.x + 3.0, place + width), true),
            (Edge::Top, true) => (Point::new(place, room.min.y - 3.0 - size), false),
            (Edge::Bottom, true) => (Point::new(place, room.max.y + 3.0), false),
        };
        // Longer keys than the strip is wide are cut short; the words of the figure have them whole.
        let most = STRIP_MM - 2.5;
        let text = if width > most && !head { shortened(text, size, most) } else { text.to_owned() };
        prims.push(Prim::Text { p: xy(at), s: round(size), t: text, c: ink_hex(Ink::Line), up });
    }
}

fn shortened(text: &str, size: f64, most: f64) -> String {
    let mut short = String::new();
    for letter in text.chars() {
        if width_mm(&short, size) + 2.4 * size > most {
            break;
        }
        short.push(letter);
    }
    short + "…"
}

/// Places of labels along an edge, at least so far apart, near where they are wanted; `None` for those that do not fit.
fn spread(wanted: &[f64], pitch: f64, from: f64, to: f64) -> Vec<Option<f64>> {
    let (first, last) = (from + pitch / 2.0, to - pitch / 2.0);
    let mut places: Vec<Option<f64>> = Vec::with_capacity(wanted.len());
    let mut next = first;
    for &at in wanted {
        let place = at.max(next);
        places.push(Some(place));
        next = place + pitch;
    }
    // What was pushed beyond the end is pushed back.
    let mut most = last;
    for place in places.iter_mut().rev() {
        let kept = place.map(|at| at.min(most)).filter(|&at| at >= first - 1e-9);
        if let Some(at) = kept {
            most = at - pitch;
        }
        *place = kept;
    }
    places
}

/// The whole drawing on one page with the borders and names of its pages. Only tags are lettered.
fn overview(drawing: &Sheetful<'_>, whole: Area, cut: &Cut, room: &Room) -> Tile {
    let fit = |lying: bool| {
        let [width, height] = room.of(lying);
        (width / whole.width()).min(height / whole.height())
    };
    let lying = room.ways().max_by(|a, b| fit(*a).total_cmp(&fit(*b))).unwrap_or(false);
    let scale = fit(lying);
    let map = |at: Point| Point::new((at.x - whole.min.x) * scale, (at.y - whole.min.y) * scale);
    let all = Area::between(Point::default(), map(whole.max));
    let mut names = Vec::new();
    for row in 0..cut.rows {
        for column in 0..cut.columns {
            let own = window(whole, cut, [column, row]);
            let (name, corner) = (tile_name([column, row]), map(own.min).moved(1.2, 1.2));
            let back = Area::between(corner.moved(-0.8, -0.8), corner.moved(width_mm(&name, 3.0) + 0.8, 3.8));
            names.push((Area::between(map(own.min), map(own.max)), back, corner, name));
        }
    }
    let reserved: Vec<Area> = names.iter().map(|(_, back, ..)| *back).collect();
    let onto = Onto { map: &map, scale, room: all, on_photo: false, least: Priority::Tag, reserved: &reserved };
    // Marks of how ends are known would be specks at this size.
    let plain = drawing.items.iter().copied().filter(|(_, item)| item.layer != Layer::Ends);
    let (mut prims, left_out) = drawn(plain, &onto);
    for (shown, back, corner, name) in names {
        prims.push(Prim::Lines { p: vec![border(shown)], c: ink_hex(Ink::Line), w: 0.35, d: Some([3.0, 2.0]) });
        prims.push(Prim::Filled { p: back.corners().map(xy).to_vec(), c: ink_hex(Ink::Paper) });
        prims.push(Prim::Text { p: xy(corner), s: 3.0, t: name, c: ink_hex(Ink::Line), up: false });
    }
    let figure = Figure { width: round(all.max.x), height: round(all.max.y), prims, left_out };
    let words = format!("{}, overview of {} pages.", drawing.title, cut.columns * cut.rows);
    Tile { name: "overview".to_owned(), lying, words, figure }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn labels_along_an_edge_keep_apart_and_those_without_room_are_said() {
        let places = spread(&[10.0, 10.1, 10.2, 49.9], 3.0, 0.0, 50.0);
        let at: Vec<f64> = places.iter().map(|place| place.unwrap()).collect();
        assert!(at.windows(2).all(|two| two[1] - two[0] >= 3.0 - 1e-9), "{at:?}");
        assert!(at.iter().all(|&at| (1.5..=48.5).contains(&at)), "{at:?}");
        let many = spread(&[5.0; 30], 3.0, 0.0, 50.0);
        assert_eq!(many.iter().flatten().count(), 16, "{many:?}");
    }

    #[test]
    fn a_wire_across_an_edge_is_met_once() {
        let own = Area::between(Point::new(0.0, 0.0), Point::new(10.0, 10.0));
        let on = |a: (f64, f64), b: (f64, f64)| crossing(Point::new(a.0, a.1), Point::new(b.0, b.1), own, Edge::Right);
        assert_eq!(on((5.0, 5.0), (15.0, 5.0)), Some(Point::new(10.0, 5.0)));
        assert_eq!(on((5.0, 5.0), (10.0, 5.0)).is_some(), on((10.0, 5.0), (15.0, 5.0)).is_none(), "a bend on the edge");
        assert_eq!(on((5.0, 20.0), (15.0, 20.0)), None, "it crosses beside the window");
    }
}
