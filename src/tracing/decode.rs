//! From the bytes of a photo file to an upright picture.

use std::fs::File;
use std::io::{Cursor, Read};
use std::path::Path;

use image::metadata::Orientation;
use image::{ColorType, DynamicImage, ImageBuffer, ImageDecoder, ImageFormat, ImageReader, Limits, RgbaImage};
use thiserror::Error;

/// The most pixels a photo may have. Takes in photos of 108 megapixels, the full size of some phones (from memory; larger
/// ones exist, and save smaller by default); decoded, the largest takes 440 MB of memory at four bytes a pixel.
pub const MOST_PIXELS: u64 = 110_000_000;

/// The largest file taken for a photo, in bytes. A JPEG of the most pixels has some 50 MB (from memory), a TIFF of 48 megapixels without
/// compression 144 MB (three bytes a pixel).
pub const MOST_BYTES: u64 = 200_000_000;

/// Why a photo could not be shown, with what to do.
#[derive(Debug, Clone, PartialEq, Eq, Error)]
#[error("{0}")]
pub struct DecodeError(pub String);

/// A decoded photo.
#[derive(Debug, Clone)]
pub struct Decoded {
    /// The upright picture.
    pub picture: RgbaImage,
    /// When it was taken, as the camera wrote it (`2026-03-02 10:15:00`); empty when it did not.
    pub taken: String,
    /// What is missing, in words, when the file is damaged or cut short and the picture is shown as far as it goes.
    pub remark: Option<String>,
}

/// The bytes of a photo file, unless it is too large to be one.
///
/// # Errors
/// A sentence that names the file, its size and the limit, or why it cannot be read.
pub fn read_file(file: &Path) -> Result<Vec<u8>, DecodeError> {
    let failed = |error: std::io::Error| {
        DecodeError(format!("{}: cannot be read ({error}); check the file and its folder", file.display()))
    };
    // Before opening: opening a pipe would wait for somebody to write into it.
    let there = std::fs::metadata(file).map_err(failed)?;
    if !there.is_file() {
        return Err(DecodeError(format!("{}: is no file; choose the picture itself", file.display())));
    }
    let too_large = |bytes: u64| {
        DecodeError(format!(
            "{}: the file has {} MB; at most {} MB are taken for a photo: save it as JPEG, or smaller",
            file.display(),
            bytes.div_ceil(1_000_000),
            MOST_BYTES / 1_000_000
        ))
    };
    if there.len() > MOST_BYTES {
        return Err(too_large(there.len()));
    }
    let mut bytes = Vec::new();
    // It may grow while it is read.
    File::open(file).and_then(|open| open.take(MOST_BYTES + 1).read_to_end(&mut bytes)).map_err(failed)?;
    let length = bytes.len() as u64;
    if length > MOST_BYTES { Err(too_large(length)) } else { Ok(bytes) }
}

/// Decodes JPEG, PNG, WebP or TIFF and turns the picture upright by its EXIF orientation.
///
/// # Errors
/// A sentence when the file is of another kind, damaged, or too large.
pub fn decode(bytes: &[u8]) -> Result<Decoded, DecodeError> {
    if is_heic(bytes) {
        return Err(DecodeError(
            "is a HEIC picture, which cannot be read here; save or send it as JPEG (on a phone: the camera setting for \
             the most compatible format, or share it as JPEG)"
                .to_owned(),
        ));
    }
    let reader = ImageReader::new(Cursor::new(bytes))
        .with_guessed_format()
        .map_err(|error| DecodeError(format!("cannot be read ({error}); copy it again from the camera")))?;
    if reader.format().is_none() {
        return Err(DecodeError("is no picture this program can read; give it as JPEG, PNG, WebP or TIFF".to_owned()));
    }
    let format = reader.format();
    let mut decoder = reader.into_decoder().map_err(|error| damaged(&error))?;
    let (width, height) = decoder.dimensions();
    if u64::from(width) * u64::from(height) > MOST_PIXELS {
        return Err(DecodeError(format!(
            "has {width} × {height} pixels; at most {} million are taken: save it smaller",
            MOST_PIXELS / 1_000_000
        )));
    }
    let size = decoder.total_bytes();
    if size > MOST_DECODED {
        return Err(DecodeError(format!(
            "would take {} MB decoded; at most {} MB are taken: save it as JPEG, or smaller",
            size / 1_000_000,
            MOST_DECODED / 1_000_000
        )));
    }
    let mut limits = Limits::default();
    limits.max_alloc = Some(MOST_DECODED);
    decoder.set_limits(limits).map_err(|error| damaged(&error))?;
    let orientation = decoder.orientation().unwrap_or(Orientation::NoTransforms);
    let colour = decoder.color_type();
    // Not larger than the limit above.
    let mut raw = vec![0; usize::try_from(size).unwrap_or(0)];
    let failure = decoder.read_image(&mut raw).err();
    // Rows that were never reached stay zero to the end of the buffer.
    let row = (raw.len() / height.max(1) as usize).max(1);
    let filled = raw.iter().rposition(|&byte| byte != 0).map_or(0, |last| last / row + 1);
    if let Some(error) = failure.as_ref().filter(|_| filled * LEAST_SHOWN < height as usize) {
        return Err(damaged(error));
    }
    let remark = match (failure, format) {
        (Some(error), _) => {
            Some(format!("is damaged ({error}): shown as far as it goes; copy it again from the camera"))
        }
        (None, Some(ImageFormat::Jpeg)) if is_cut_short(bytes) => Some(
            "is cut short: what is grey or missing below was not in the file; copy it again from the camera".to_owned(),
        ),
        _ => None,
    };
    let mut picture = from_raw(colour, width, height, raw)
        .ok_or_else(|| DecodeError("has colours of a kind that cannot be read here; save it as JPEG".to_owned()))?;
    picture.apply_orientation(orientation);
    Ok(Decoded { picture: picture.into_rgba8(), taken: sniff_taken(bytes), remark })
}

/// The most bytes a picture may have decoded, before it is brought to four bytes a pixel.
///
/// A JPEG of 48 megapixels takes 144 MB decoded (three bytes a pixel) and 192 MB as it is kept; while the one is made from the other both
/// are there, 336 MB in all, and turning it upright takes a third buffer of 144 MB for a moment before. The levels it is drawn in add a third to the 192 MB.
const MOST_DECODED: u64 = 700_000_000;
/// Of a damaged picture at least one row in so many must be there for it to be shown.
const LEAST_SHOWN: usize = 50;

/// Whether a JPEG has no end marker in its last bytes, or behind it only what some cameras put there.
fn is_cut_short(bytes: &[u8]) -> bool {
    !bytes.windows(2).rev().any(|pair| pair == [0xff, 0xd9])
}

fn from_raw(colour: ColorType, width: u32, height: u32, raw: Vec<u8>) -> Option<DynamicImage> {
    let wide =
        |raw: Vec<u8>| raw.chunks_exact(2).map(|pair| u16::from_ne_bytes([pair[0], pair[1]])).collect::<Vec<u16>>();
    Some(match colour {
        ColorType::L8 => DynamicImage::ImageLuma8(ImageBuffer::from_raw(width, height, raw)?),
        ColorType::La8 => DynamicImage::ImageLumaA8(ImageBuffer::from_raw(width, height, raw)?),
        ColorType::Rgb8 => DynamicImage::ImageRgb8(ImageBuffer::from_raw(width, height, raw)?),
        ColorType::Rgba8 => DynamicImage::ImageRgba8(ImageBuffer::from_raw(width, height, raw)?),
        ColorType::L16 => DynamicImage::ImageLuma16(ImageBuffer::from_raw(width, height, wide(raw))?),
        ColorType::La16 => DynamicImage::ImageLumaA16(ImageBuffer::from_raw(width, height, wide(raw))?),
        ColorType::Rgb16 => DynamicImage::ImageRgb16(ImageBuffer::from_raw(width, height, wide(raw))?),
        ColorType::Rgba16 => DynamicImage::ImageRgba16(ImageBuffer::from_raw(width, height, wide(raw))?),
        _ => return None,
    })
}

/// Width and height of the picture once it is upright, from the head of the file; nothing when that cannot be read.
pub fn upright_size(bytes: &[u8]) -> Option<[u32; 2]> {
    let mut decoder = ImageReader::new(Cursor::new(bytes)).with_guessed_format().ok()?.into_decoder().ok()?;
    let (width, height) = decoder.dimensions();
    let lies = matches!(
        decoder.orientation().ok()?,
        Orientation::Rotate90 | Orientation::Rotate270 | Orientation::Rotate90FlipH | Orientation::Rotate270FlipH
    );
    Some(if lies { [height, width] } else { [width, height] })
}

/// Which way is up, as the camera wrote it into EXIF data.
pub(super) fn upright(bytes: &[u8]) -> Option<Orientation> {
    let exif = exif::Reader::new().read_from_container(&mut Cursor::new(bytes)).ok()?;
    let value = exif.get_field(exif::Tag::Orientation, exif::In::PRIMARY)?.value.get_uint(0)?;
    Orientation::from_exif(u8::try_from(value).ok()?)
}

fn damaged(error: &image::ImageError) -> DecodeError {
    DecodeError(format!("is damaged or cut short ({error}); copy it again from the camera"))
}

/// ISO base media file with a HEIF brand.
fn is_heic(bytes: &[u8]) -> bool {
    bytes.get(4..8) == Some(b"ftyp")
        && matches!(bytes.get(8..12), Some(b"heic" | b"heix" | b"hevc" | b"mif1" | b"msf1" | b"heim" | b"heis"))
}

/// The date and time in the picture's EXIF data, as `2026-03-02 10:15:00`; empty when there is none.
pub fn sniff_taken(bytes: &[u8]) -> String {
    let Ok(exif) = exif::Reader::new().read_from_container(&mut Cursor::new(bytes)) else { return String::new() };
    [exif::Tag::DateTimeOriginal, exif::Tag::DateTime]
        .into_iter()
        .find_map(|tag| exif.get_field(tag, exif::In::PRIMARY))
        .map(|field| field.display_value().to_string())
        .unwrap_or_default()
}

#[cfg(test)]
mod tests {
    use super::*;
    use image::{Rgb, RgbImage};

    fn jpeg(width: u32, height: u32) -> Vec<u8> {
        let mut bytes = Cursor::new(Vec::new());
        RgbImage::from_pixel(width, height, Rgb([200, 30, 30])).write_to(&mut bytes, ImageFormat::Jpeg).unwrap();
        bytes.into_inner()
    }

    /// A JPEG with an EXIF block that says orientation 6 (turn a quarter clockwise to be upright), as Exif 2.3 lays it out.
    fn turned_jpeg() -> Vec<u8> {
        let plain = jpeg(40, 20);
        let mut exif = b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0\x06\0\0\0\0\0\0".to_vec();
        let length = u16::try_from(exif.len() + 2).unwrap().to_be_bytes();
        let mut bytes = vec![0xff, 0xd8, 0xff, 0xe1, length[0], length[1]];
        bytes.append(&mut exif);
        bytes.extend_from_slice(&plain[2..]);
        bytes
    }

    #[test]
    fn exif_orientation_six_is_turned_upright() {
        assert_eq!(decode(&jpeg(40, 20)).unwrap().picture.dimensions(), (40, 20));
        assert_eq!(decode(&turned_jpeg()).unwrap().picture.dimensions(), (20, 40));
        assert_eq!(upright_size(&jpeg(40, 20)), Some([40, 20]));
        assert_eq!(upright_size(&turned_jpeg()), Some([20, 40]));
        assert_eq!(upright_size(b"hello"), None);
    }

    #[test]
    fn what_is_no_picture_gets_a_sentence() {
        assert!(decode(b"hello").unwrap_err().to_string().contains("JPEG"));
        assert!(decode(b"\0\0\0\x18ftypheic\0\0").unwrap_err().to_string().contains("HEIC"));
        let mut cut = jpeg(400, 300);
        cut.truncate(60);
        assert!(decode(&cut).is_err());
    }

    #[test]
    fn a_picture_that_claims_too_many_pixels_is_refused_before_it_is_read() {
        // A PNG header of 60,000 × 60,000 pixels with nothing behind it.
        let mut png = b"\x89PNG\r\n\x1a\n\0\0\0\rIHDR".to_vec();
        png.extend_from_slice(&60_000_u32.to_be_bytes());
        png.extend_from_slice(&60_000_u32.to_be_bytes());
        png.extend_from_slice(&[8, 2, 0, 0, 0]);
        png.extend_from_slice(&0x1234_5678_u32.to_be_bytes());
        assert!(decode(&png).is_err());
    }
}
