//! A quick small picture of a JPEG, long before the whole is decoded: the thumbnail that the camera put in, or the means of 8 × 8 pixels,
//! which a JPEG holds as the first number of each block. ITU-T T.81 (JPEG); Annex F for the coding.

#![allow(
    clippy::cast_possible_truncation,
    clippy::cast_sign_loss,
    clippy::cast_possible_wrap,
    reason = "values are limited to a byte before, sizes to the limit on pixels; codes have at most 16 bits"
)]

use image::{Rgb, RgbImage, RgbaImage, imageops};

use super::decode::{MOST_PIXELS, upright};

/// The least edge that makes a thumbnail worth showing.
const LEAST_EDGE: u32 = 160;
/// The most scans looked at; the first of a progressive photo has what is wanted.
const LOOKUP: u32 = 9;

/// A small upright picture of a JPEG; nothing for other files, and for kinds of JPEG that are rare in photos. Of a photo cut short, as
/// far as it goes, grey below.
pub fn preview(bytes: &[u8]) -> Option<RgbaImage> {
    let small = thumbnail(bytes).or_else(|| eighth(bytes))?;
    let orientation = orientation(bytes);
    let mut picture = image::DynamicImage::ImageRgb8(small);
    picture.apply_orientation(orientation);
    Some(picture.into_rgba8())
}

fn orientation(bytes: &[u8]) -> image::metadata::Orientation {
    upright(bytes).unwrap_or(image::metadata::Orientation::NoTransforms)
}

/// The thumbnail in the EXIF data, if there is one of a fair size. Its bars, where its proportion is another, are cut off.
fn thumbnail(bytes: &[u8]) -> Option<RgbImage> {
    let exif = exif::Reader::new().read_from_container(&mut std::io::Cursor::new(bytes)).ok()?;
    let number = |tag| exif.get_field(tag, exif::In::THUMBNAIL)?.value.get_uint(0);
    let start = number(exif::Tag::JPEGInterchangeFormat)? as usize;
    let length = number(exif::Tag::JPEGInterchangeFormatLength)? as usize;
    let jpeg = exif.buf().get(start..start.checked_add(length)?)?;
    let full = Frame::of(bytes)?;
    let size = Frame::of(jpeg)?;
    if size.width.max(size.height) < LEAST_EDGE || size.width > 2048 || size.height > 2048 {
        return None;
    }
    let picture = image::load_from_memory_with_format(jpeg, image::ImageFormat::Jpeg).ok()?.into_rgb8();
    let (w, h) = (f64::from(picture.width()), f64::from(picture.height()));
    let proportion = f64::from(full.width) / f64::from(full.height.max(1));
    let wide = (h * proportion).round().min(w).max(1.0) as u32;
    let high = (w / proportion).round().min(h).max(1.0) as u32;
    let (left, top) = ((picture.width() - wide) / 2, (picture.height() - high) / 2);
    Some(imageops::crop_imm(&picture, left, top, wide, high).to_image())
}

/// What the frame header says.
struct Frame {
    width: u32,
    height: u32,
    progressive: bool,
    components: Vec<Component>,
    /// Where what follows the header begins.
    after: usize,
    tables: Tables,
}

struct Component {
    id: u8,
    across: u32,
    down: u32,
    quantum: usize,
}

#[derive(Default)]
struct Tables {
    quanta: [i32; 4],
    direct: [Option<Huffman>; 4],
    others: [Option<Huffman>; 4],
    restart: u32,
    /// Red, green and blue kept as they are (Adobe's marker says so), not luminance and colour.
    plain: bool,
}

impl Frame {
    fn of(bytes: &[u8]) -> Option<Self> {
        let mut tables = Tables::default();
        let mut at = bytes.starts_with(&[0xff, 0xd8]).then_some(2)?;
        loop {
            let (marker, body, next) = segment(bytes, at)?;
            at = next;
            match marker {
                0xc0..=0xc2 => {
                    let [8, h1, h0, w1, w0, count, rest @ ..] = body else { return None };
                    let (height, width) = (u32::from(*h1) << 8 | u32::from(*h0), u32::from(*w1) << 8 | u32::from(*w0));
                    if width == 0 || height == 0 || u64::from(width) * u64::from(height) > MOST_PIXELS {
                        return None;
                    }
                    let components: Vec<Component> = rest
                        .chunks_exact(3)
                        .take(usize::from(*count))
                        .map(|c| Component {
                            id: c[0],
                            across: u32::from(c[1] >> 4),
                            down: u32::from(c[1] & 15),
                            quantum: usize::from(c[2] & 3),
                        })
                        .collect();
                    let fine = |c: &Component| (1..=4).contains(&c.across) && (1..=4).contains(&c.down);
                    if !matches!(components.len(), 1 | 3) || !components.iter().all(fine) {
                        return None;
                    }
                    return Some(Self { width, height, progressive: marker == 0xc2, components, after: at, tables });
                }
                0xc3 | 0xc5..=0xc7 | 0xc9..=0xcf | 0xda | 0xd9 => return None,
                _ => tables.take(marker, body)?,
            }
        }
    }
}

/// The marker at a place, what belongs to it, and where the next begins.
fn segment(bytes: &[u8], mut at: usize) -> Option<(u8, &[u8], usize)> {
    if *bytes.get(at)? != 0xff {
        return None;
    }
    while *bytes.get(at)? == 0xff {
        at += 1;
    }
    let marker = bytes[at];
    let length = usize::from(*bytes.get(at + 1)?) << 8 | usize::from(*bytes.get(at + 2)?);
    let body = bytes.get(at + 3..(at + 1).checked_add(length)?)?;
    Some((marker, body, at + 1 + length))
}

impl Tables {
    fn take(&mut self, marker: u8, mut body: &[u8]) -> Option<()> {
        match marker {
            0xdb => {
                while let [kind, rest @ ..] = body {
                    let wide = kind >> 4 != 0;
                    let first = if wide {
                        i32::from(*rest.first()?) << 8 | i32::from(*rest.get(1)?)
                    } else {
                        i32::from(*rest.first()?)
                    };
                    self.quanta[usize::from(kind & 3)] = first;
                    body = rest.get(if wide { 128 } else { 64 }..)?;
                }
            }
            0xc4 => {
                while let [kind, rest @ ..] = body {
                    let counts: &[u8; 16] = rest.get(..16)?.try_into().ok()?;
                    let total: usize = counts.iter().map(|&count| usize::from(count)).sum();
                    let symbols = rest.get(16..16 + total)?;
                    let table = Some(Huffman::of(counts, symbols));
                    let set = if kind >> 4 == 0 { &mut self.direct } else { &mut self.others };
                    set[usize::from(kind & 3)] = table;
                    body = &rest[16 + total..];
                }
            }
            0xdd => self.restart = u32::from(*body.first()?) << 8 | u32::from(*body.get(1)?),
            0xee => self.plain = body.starts_with(b"Adobe") && body.get(11) == Some(&0),
            _ => {}
        }
        Some(())
    }
}

/// A table of codes: short ones by lookup, long ones by length.
struct Huffman {
    /// By the next nine bits: length of the code and its symbol; length 0 where the code is longer.
    short: Vec<(u8, u8)>,
    /// Per length: the first code that is too great for it, and what to add to a code for its symbol's place.
    limits: [(i32, i32); 17],
    symbols: Vec<u8>,
}

impl Huffman {
    fn of(counts: &[u8; 16], symbols: &[u8]) -> Self {
        let mut short = vec![(0, 0); 1 << LOOKUP];
        let mut limits = [(0, 0); 17];
        let (mut code, mut place) = (0_i32, 0_i32);
        for (length, &count) in (1_u32..).zip(counts) {
            let next = code + i32::from(count);
            limits[length as usize] = (next, place - code);
            if length <= LOOKUP {
                for code in code..next {
                    let from = (code as usize) << (LOOKUP - length);
                    let symbol = symbols.get((place + code - (next - i32::from(count))) as usize).copied().unwrap_or(0);
                    let to = (from + (1 << (LOOKUP - length))).min(short.len());
                    if let Some(entries) = short.get_mut(from..to) {
                        entries.fill((length as u8, symbol));
                    }
                }
            }
            place += i32::from(count);
            code = next << 1;
        }
        Self { short, limits, symbols: symbols.to_vec() }
    }
}

/// The bits of a scan, without the zeros stuffed in after 255.
struct Bits<'a> {
    bytes: &'a [u8],
    at: usize,
    held: u64,
    count: u32,
    /// Bits that were made up after the end of the scan's data.
    beyond: u32,
}

impl Bits<'_> {
    fn fill(&mut self) {
        while self.count <= 48 {
            let next = match (self.bytes.get(self.at), self.bytes.get(self.at + 1)) {
                (Some(0xff), Some(0)) => {
                    self.at += 2;
                    0xff
                }
                (Some(&byte), _) if byte != 0xff => {
                    self.at += 1;
                    byte
                }
                _ => {
                    self.beyond += 8;
                    0
                }
            };
            self.held = self.held << 8 | u64::from(next);
            self.count += 8;
        }
    }

    fn peek(&self, bits: u32) -> u32 {
        (self.held >> (self.count - bits) & ((1 << bits) - 1)) as u32
    }

    /// The next symbol; nothing at a code that the table does not have, or after the end.
    fn symbol(&mut self, table: &Huffman) -> Option<u8> {
        if self.count < 32 {
            self.fill();
        }
        let (length, symbol) = table.short[self.peek(LOOKUP) as usize];
        if length > 0 {
            self.count -= u32::from(length);
            return Some(symbol);
        }
        for length in LOOKUP + 1..=16 {
            let code = self.peek(length) as i32;
            let (limit, offset) = table.limits[length as usize];
            if code < limit {
                self.count -= length;
                return table.symbols.get(usize::try_from(code + offset).ok()?).copied();
            }
        }
        None
    }

    /// A number of so many bits, as T.81 F.2.2.1 extends its sign.
    fn number(&mut self, bits: u32) -> i32 {
        if bits == 0 {
            return 0;
        }
        if self.count < bits {
            self.fill();
        }
        let value = self.peek(bits) as i32;
        self.count -= bits;
        if value < 1 << (bits - 1) { value - (1 << bits) + 1 } else { value }
    }

    fn skip(&mut self, bits: u32) {
        if self.count < bits {
            self.fill();
        }
        self.count -= bits;
    }

    fn ended(&self) -> bool {
        self.beyond > self.count + 64
    }

    /// Goes behind the next restart marker.
    fn restart(&mut self) -> bool {
        self.count = 0;
        self.held = 0;
        self.beyond = 0;
        while let Some(&byte) = self.bytes.get(self.at) {
            match self.bytes.get(self.at + 1) {
                Some(0xd0..=0xd7) if byte == 0xff => {
                    self.at += 2;
                    return true;
                }
                Some(&next) if byte == 0xff && next != 0 && next != 0xff => return false,
                _ => self.at += 1,
            }
        }
        false
    }
}

/// The picture an eighth as wide and high, from the first number of each block.
fn eighth(bytes: &[u8]) -> Option<RgbImage> {
    let mut frame = Frame::of(bytes)?;
    let mut at = frame.after;
    let body = loop {
        let (marker, body, next) = segment(bytes, at)?;
        at = next;
        match marker {
            0xda => break body,
            0xd9 => return None,
            _ => frame.tables.take(marker, body)?,
        }
    };
    // A scan with all components, as cameras write it; of a progressive one, the first numbers to some bits.
    let [count, rest @ ..] = body else { return None };
    let count = usize::from(*count);
    let chosen = rest.get(..2 * count)?;
    let [first, _, low] = rest.get(2 * count..2 * count + 3)? else { return None };
    let low = u32::from(low & 15);
    if count != frame.components.len() || *first != 0 || low > 13 {
        return None;
    }
    let mut scan = Vec::new();
    for (component, pair) in frame.components.iter().zip(chosen.chunks_exact(2)) {
        if component.id != pair[0] {
            return None;
        }
        let direct = frame.tables.direct.get(usize::from(pair[1] >> 4))?.as_ref()?;
        let others = frame.tables.others.get(usize::from(pair[1] & 15)).and_then(Option::as_ref);
        if others.is_none() && !frame.progressive {
            return None;
        }
        scan.push((direct, others));
    }
    let across = frame.components.iter().map(|c| c.across).max()?;
    let down = frame.components.iter().map(|c| c.down).max()?;
    // One component alone is not interleaved: one block a unit, however it is sampled.
    let single = frame.components.len() == 1;
    let unit = if single { [8, 8] } else { [8 * across, 8 * down] };
    let units = [frame.width.div_ceil(unit[0]), frame.height.div_ceil(unit[1])];
    let mut planes: Vec<Plane> = frame
        .components
        .iter()
        .map(|c| {
            let blocks = if single { [1, 1] } else { [c.across, c.down] };
            Plane::grey(units[0] * blocks[0], units[1] * blocks[1], blocks)
        })
        .collect();
    let mut bits = Bits { bytes, at, held: 0, count: 0, beyond: 0 };
    let mut last = [0_i32; 3];
    let every = frame.tables.restart;
    'units: for number in 0..units[0] * units[1] {
        if every > 0 && number > 0 && number % every == 0 {
            if !bits.restart() {
                break;
            }
            last = [0; 3];
        }
        for (place, ((direct, others), plane)) in scan.iter().zip(&mut planes).enumerate() {
            for block in 0..plane.blocks[0] * plane.blocks[1] {
                let Some(size) = bits.symbol(direct).filter(|&size| size <= 15) else { break 'units };
                last[place] = last[place].wrapping_add(bits.number(u32::from(size)));
                if let (Some(others), false) = (others, frame.progressive)
                    && pass(&mut bits, others).is_none()
                {
                    break 'units;
                }
                if bits.ended() {
                    break 'units;
                }
                let quantum = frame.tables.quanta[frame.components[place].quantum].max(1);
                // The first number is eight times the mean.
                let mean = (i64::from(last[place]) << low) * i64::from(quantum) / 8 + 128;
                let x = number % units[0] * plane.blocks[0] + block % plane.blocks[0];
                let y = number / units[0] * plane.blocks[1] + block / plane.blocks[0];
                plane.values[(y * plane.width + x) as usize] = mean.clamp(0, 255) as u8;
            }
        }
    }
    let (width, height) = (frame.width.div_ceil(8), frame.height.div_ceil(8));
    let most = if single { [1, 1] } else { [across, down] };
    Some(RgbImage::from_fn(width, height, |x, y| {
        let value = |place: usize| planes.get(place).map_or(128, |plane| plane.at(x, y, most));
        let (y, cb, cr) = (f32::from(value(0)), f32::from(value(1)) - 128.0, f32::from(value(2)) - 128.0);
        if single {
            return Rgb([value(0); 3]);
        }
        if frame.tables.plain {
            return Rgb([value(0), value(1), value(2)]);
        }
        // ITU-T T.871 (JFIF).
        let rgb = [y + 1.402 * cr, y - 0.344_136 * cb - 0.714_136 * cr, y + 1.772 * cb];
        Rgb(rgb.map(|value| value.round().clamp(0.0, 255.0) as u8))
    }))
}

/// Goes past the 63 other numbers of a block.
fn pass(bits: &mut Bits, table: &Huffman) -> Option<()> {
    let mut place = 1;
    while place < 64 {
        let symbol = bits.symbol(table)?;
        let size = u32::from(symbol & 15);
        if size == 0 {
            if symbol != 0xf0 {
                break;
            }
            place += 16;
            continue;
        }
        place += u32::from(symbol >> 4) + 1;
        bits.skip(size);
    }
    Some(())
}

struct Plane {
    width: u32,
    /// Blocks of a unit, across and down.
    blocks: [u32; 2],
    values: Vec<u8>,
}

impl Plane {
    fn grey(width: u32, height: u32, blocks: [u32; 2]) -> Self {
        Self { width, blocks, values: vec![128; width as usize * height as usize] }
    }

    fn at(&self, x: u32, y: u32, most: [u32; 2]) -> u8 {
        let (x, y) = (x * self.blocks[0] / most[0], y * self.blocks[1] / most[1]);
        self.values.get((y * self.width + x) as usize).copied().unwrap_or(128)
    }
}
