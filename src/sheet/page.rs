//! Paper and its margins.

use serde::Serialize;

use super::tiles::Room;

/// Formats of paper.
#[derive(Debug, Clone, Copy, PartialEq, Eq, PartialOrd, Ord, Hash, Default, Serialize)]
#[serde(rename_all = "kebab-case")]
pub enum Format {
    /// 210 mm by 297 mm. Source: ISO 216.
    #[default]
    A4,
    /// 8.5 in by 11 in. Source: ANSI/ASME Y14.1, size A.
    Letter,
}

/// The paper a sheet is printed on, all in millimetres.
#[derive(Debug, Clone, Copy, PartialEq, Serialize)]
pub struct Paper {
    /// Format.
    pub format: Format,
    /// Whether every page lies on its long side; else those that are the better for it.
    pub lying: bool,
    /// Width and height of a page that stands.
    pub size: [f64; 2],
    /// Margins: left (wide enough for holes), right, top and bottom (with head and foot).
    pub margins: [f64; 4],
}

/// A page as dots: rows from the top; red, green, blue and alpha of each, the colours weighed by alpha.
#[derive(Debug, Clone, PartialEq, Eq, Default)]
pub struct PagePicture {
    /// Width and height in dots.
    pub size: [u32; 2],
    /// The dots.
    pub rgba: Vec<u8>,
}

/// Height of the heading and the caption of a figure that fills a page.
const HEADING_MM: f64 = 19.0;

impl Paper {
    /// A format, standing or lying.
    pub fn new(format: Format, lying: bool) -> Self {
        let size = match format {
            Format::A4 => [210.0, 297.0],
            Format::Letter => [215.9, 279.4],
        };
        Self { format, lying, size, margins: [18.0, 10.0, 20.0, 19.0] }
    }

    /// Room between the margins on a page that stands or lies.
    pub fn inside(&self, lying: bool) -> [f64; 2] {
        let [width, height] = if lying { [self.size[1], self.size[0]] } else { self.size };
        let [left, right, top, bottom] = self.margins;
        [width - left - right, height - top - bottom]
    }

    /// Room of the diagram on its pages.
    pub(super) fn diagram_room(&self) -> Room {
        self.room(HEADING_MM)
    }

    /// Room of a photo on its page, with its caption.
    pub(super) fn photo_room(&self) -> Room {
        self.room(HEADING_MM + 22.0)
    }

    fn room(&self, less: f64) -> Room {
        let of = |lying: bool| {
            let [width, height] = self.inside(lying);
            [width, height - less]
        };
        Room { standing: of(false), lying: of(true), all_lie: self.lying }
    }
}
