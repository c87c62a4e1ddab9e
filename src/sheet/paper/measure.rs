//! Where letters lie on a page, as they were laid out: for tests that none is cut off and none lies over another.

use typst::layout::{Abs, Frame, FrameItem, Point, Transform};

/// One run of letters, in millimetres from the top left corner of the page.
#[derive(Debug, Clone, PartialEq)]
pub struct Letters {
    /// The letters.
    pub text: String,
    /// Left, top, right and bottom of what is inked: from the height of capitals down to the line.
    pub area: [f64; 4],
    /// The window they can be seen in, where something cuts off what lies beyond it.
    pub window: Option<[f64; 4]>,
}

/// The letters of one page.
#[derive(Debug, Clone, PartialEq, Default)]
pub struct Measured {
    /// Width and height of the page in millimetres.
    pub size: [f64; 2],
    /// Its letters.
    pub letters: Vec<Letters>,
    /// Letters that the typeface does not have.
    pub missing: Vec<char>,
}

impl Measured {
    pub(super) fn of(frame: &Frame) -> Self {
        let size = [frame.width().to_mm(), frame.height().to_mm()];
        let mut measured = Self { size, ..Self::default() };
        measured.walk(frame, Transform::identity(), None);
        measured
    }

    fn walk(&mut self, frame: &Frame, onto: Transform, window: Option<[f64; 4]>) {
        for (at, item) in frame.items() {
            let here = onto.pre_concat(Transform::translate(at.x, at.y));
            match item {
                FrameItem::Group(group) => {
                    let inside = here.pre_concat(group.transform);
                    let own = group.clip.as_ref().map(|clip| {
                        let bounds = clip.bbox(None);
                        area(inside, bounds.min, bounds.max)
                    });
                    let window = match (window, own) {
                        (Some(a), Some(b)) => Some([a[0].max(b[0]), a[1].max(b[1]), a[2].min(b[2]), a[3].min(b[3])]),
                        (a, b) => a.or(b),
                    };
                    self.walk(&group.frame, inside, window);
                }
                FrameItem::Text(text) => {
                    for glyph in text.glyphs.iter().filter(|glyph| glyph.id == 0) {
                        self.missing.extend(text.text.get(glyph.range()).unwrap_or_default().chars());
                    }
                    if text.text.trim().is_empty() {
                        continue;
                    }
                    // Spaces at the ends take no ink.
                    let blank = |of: &str| of.len() as f64 / text.text.len().max(1) as f64;
                    let (before, after) = (
                        blank(&text.text[..text.text.len() - text.text.trim_start().len()]),
                        blank(&text.text[text.text.trim_end().len()..]),
                    );
                    let width = text.width();
                    let high = text.font.metrics().cap_height.at(text.size);
                    let (left, right) = (width * before, width * (1.0 - after));
                    self.letters.push(Letters {
                        text: text.text.to_string(),
                        area: area(here, Point::new(left, -high), Point::new(right, Abs::zero())),
                        window,
                    });
                }
                FrameItem::Shape(..) | FrameItem::Image(..) | FrameItem::Link(..) | FrameItem::Tag(_) => {}
            }
        }
    }
}

/// The rectangle round a turned rectangle, in millimetres.
fn area(onto: Transform, min: Point, max: Point) -> [f64; 4] {
    let corners = [min, Point::new(max.x, min.y), max, Point::new(min.x, max.y)].map(|corner| {
        let at = corner.transform(onto);
        (at.x.to_mm(), at.y.to_mm())
    });
    let (xs, ys) = (corners.map(|corner| corner.0), corners.map(|corner| corner.1));
    let least = |all: [f64; 4]| all.into_iter().fold(f64::INFINITY, f64::min);
    let most = |all: [f64; 4]| all.into_iter().fold(f64::NEG_INFINITY, f64::max);
    [least(xs), least(ys), most(xs), most(ys)]
}
