//! From the bytes of a photo file to an upright picture.

use std::fs::File;
use std::io::{Cursor, Read};
use std::path::Path;

use image::{DynamicImage, ImageDecoder, ImageReader, RgbaImage};
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
    let mut decoder = reader.into_decoder().map_err(|error| damaged(&error))?;
    let (width, height) = decoder.dimensions();
    if u64::from(width) * u64::from(height) > MOST_PIXELS {
        return Err(DecodeError(format!(
            "has {width} × {height} pixels; at most {} million are taken: save it smaller",
            MOST_PIXELS / 1_000_000
        )));
    }
    let orientation = decoder.orientation().unwrap_or(image::metadata::Orientation::NoTransforms);
    let mut picture = DynamicImage::from_decoder(decoder).map_err(|error| damaged(&error))?;
    picture.apply_orientation(orientation);
    Ok(Decoded { picture: picture.into_rgba8(), taken: sniff_taken(bytes) })
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
    use image::{ImageFormat, Rgb, RgbImage};

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
