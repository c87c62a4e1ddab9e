//! Photos read in: damaged ones, quick previews, colours against published values, and what the command says of a photo.

#![allow(clippy::unwrap_used, reason = "a test fails by panicking, its helpers too")]

use std::io::Cursor;
use std::path::Path;
use std::process::Command;
use std::time::{Duration, Instant};

use image::{ImageFormat, Rgb, RgbImage};
use wirewitness::generate::Random;
use wirewitness::tracing::{Lab, ciede2000, decode, preview};

/// A small picture with edges and colours.
fn picture(width: u32, height: u32) -> RgbImage {
    RgbImage::from_fn(width, height, |x, y| {
        let wave = |a: u32, b: u32| u8::try_from((x * a + y * b) % 256).unwrap();
        if (x / 13 + y / 17) % 2 == 0 { Rgb([wave(3, 1), wave(1, 2), 90]) } else { Rgb([200, wave(0, 3), wave(2, 0)]) }
    })
}

fn written(picture: &RgbImage, format: ImageFormat) -> Vec<u8> {
    let mut bytes = Cursor::new(Vec::new());
    picture.write_to(&mut bytes, format).unwrap();
    bytes.into_inner()
}

fn photo(name: &str) -> Vec<u8> {
    std::fs::read(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/data/photos").join(name)).unwrap()
}

/// An EXIF block, big-endian as Exif 2.3 lays it out: an orientation, and a thumbnail in a second directory.
fn with_exif(jpeg: &[u8], orientation: u8, thumbnail: &[u8]) -> Vec<u8> {
    let mut exif = b"Exif\0\0MM\0*\0\0\0\x08\0\x01\x01\x12\0\x03\0\0\0\x01\0".to_vec();
    exif.extend([orientation, 0, 0]);
    let second: u32 = 26;
    exif.extend(second.to_be_bytes());
    let start = second + 2 + 3 * 12 + 4;
    exif.extend(3_u16.to_be_bytes());
    exif.extend([0x01, 0x03, 0, 3, 0, 0, 0, 1, 0, 6, 0, 0]);
    for (tag, value) in [(0x0201_u16, start), (0x0202, u32::try_from(thumbnail.len()).unwrap())] {
        exif.extend(tag.to_be_bytes());
        exif.extend([0, 4, 0, 0, 0, 1]);
        exif.extend(value.to_be_bytes());
    }
    exif.extend([0; 4]);
    exif.extend(thumbnail);
    let mut bytes = vec![0xff, 0xd8, 0xff, 0xe1];
    bytes.extend(u16::try_from(exif.len() + 2).unwrap().to_be_bytes());
    bytes.extend(exif);
    bytes.extend(&jpeg[2..]);
    bytes
}

/// Mean difference of a small picture from a large one brought to its size.
fn off(small: &image::RgbaImage, large: &image::RgbaImage) -> f64 {
    let same = image::imageops::resize(large, small.width(), small.height(), image::imageops::FilterType::Triangle);
    let sum: f64 = small
        .pixels()
        .zip(same.pixels())
        .map(|(a, b)| (0..3).map(|c| f64::from(a.0[c].abs_diff(b.0[c]))).sum::<f64>())
        .sum();
    sum / f64::from(small.width() * small.height() * 3)
}

#[test]
fn the_preview_of_a_photo_is_the_photo_an_eighth_as_wide() {
    for name in ["dev-easy-1.jpg", "dev-hard-2.jpg"] {
        let bytes = photo(name);
        let (small, whole) = (preview(&bytes).unwrap(), decode(&bytes).unwrap().picture);
        assert_eq!(small.dimensions(), (160, 120), "{name}");
        let off = off(&small, &whole);
        assert!(off < 4.0, "{name}: {off}");
    }
}

#[test]
fn previews_are_upright_and_take_the_cameras_thumbnail() {
    let jpeg = written(&picture(640, 480), ImageFormat::Jpeg);
    assert_eq!(preview(&jpeg).unwrap().dimensions(), (80, 60));
    let red = written(&RgbImage::from_pixel(320, 240, Rgb([220, 20, 20])), ImageFormat::Jpeg);
    let both = with_exif(&jpeg, 6, &red);
    let small = preview(&both).unwrap();
    assert_eq!(small.dimensions(), (240, 320), "turned by a quarter");
    assert!(small.get_pixel(100, 100).0[0] > 200 && small.get_pixel(100, 100).0[1] < 60, "the thumbnail's own colour");
    assert_eq!(decode(&both).unwrap().picture.dimensions(), (480, 640));
    // A thumbnail that is damaged is passed over.
    let small = preview(&with_exif(&jpeg, 6, &red[..red.len() / 9])).unwrap();
    assert!(small.width() < small.height());
}

#[test]
fn a_photo_cut_short_is_shown_as_far_as_it_goes_with_a_word() {
    let whole = decode(&photo("dev-easy-2.jpg")).unwrap();
    assert_eq!(whole.remark, None);
    let bytes = photo("dev-easy-2.jpg");
    let cut = decode(&bytes[..bytes.len() * 6 / 10]).unwrap();
    assert!(cut.remark.as_ref().is_some_and(|remark| remark.contains("cut short")), "{:?}", cut.remark);
    let same = |y: u32| (0..1280).filter(|&x| cut.picture.get_pixel(x, y).0 == whole.picture.get_pixel(x, y).0).count();
    assert!(same(100) > 1270, "the upper part is whole");
    let png = written(&picture(900, 700), ImageFormat::Png);
    let cut = decode(&png[..png.len() / 2]).unwrap();
    assert!(cut.remark.is_some() && cut.picture.get_pixel(100, 50).0[..3] == picture(900, 700).get_pixel(100, 50).0);
    assert!(decode(&png[..60]).is_err());
}

#[test]
fn every_kind_of_file_gives_the_same_picture_and_bombs_are_refused() {
    let drawn = picture(200, 120);
    for format in [ImageFormat::Png, ImageFormat::Tiff, ImageFormat::WebP] {
        let decoded = decode(&written(&drawn, format)).unwrap();
        assert!(decoded.picture.pixels().zip(drawn.pixels()).all(|(a, b)| a.0[..3] == b.0), "{format:?}");
    }
    // A TIFF that claims a hundred thousand pixels each way.
    let mut tiff = b"II*\0\x08\0\0\0\x04\0".to_vec();
    for (tag, value) in [(256_u16, 100_000_u32), (257, 100_000), (258, 8), (262, 1)] {
        tiff.extend(tag.to_le_bytes());
        tiff.extend([4, 0, 1, 0, 0, 0]);
        tiff.extend(value.to_le_bytes());
    }
    tiff.extend([0; 4]);
    let told = decode(&tiff).unwrap_err().to_string();
    assert!(!told.is_empty());
    let heic = decode(b"\0\0\0\x18ftypmif1\0\0\0\0heic").unwrap_err().to_string();
    assert!(heic.contains("HEIC") && heic.contains("JPEG"), "{heic}");
}

/// A thousand damaged files: bytes flipped, cut short, headers changed. None may take long, and what is shown has the size it claims.
#[test]
fn a_thousand_damaged_photos_neither_crash_nor_hang() {
    let mut random = Random::from_seed(5);
    let drawn = picture(160, 120);
    let progressive = photo("dev-easy-1.jpg");
    let mut originals: Vec<Vec<u8>> = [ImageFormat::Jpeg, ImageFormat::Png, ImageFormat::Tiff, ImageFormat::WebP]
        .map(|format| written(&drawn, format))
        .to_vec();
    let thumbnail = written(&picture(200, 150), ImageFormat::Jpeg);
    originals.push(with_exif(&originals[0], 6, &thumbnail));
    originals.push(progressive[..30_000].to_vec());
    let mut below = |n: usize| usize::try_from(random.next() % n as u64).unwrap();
    let (mut shown, mut refused) = (0, 0);
    for number in 0..1000 {
        let mut bytes = originals[number % originals.len()].clone();
        match below(4) {
            0 => bytes.truncate(below(bytes.len())),
            1 => {
                for _ in 0..=below(20) {
                    let at = below(bytes.len());
                    bytes[at] ^= 1 << below(8);
                }
            }
            2 => {
                // Among the headers: sizes, counts, tables.
                for _ in 0..=below(6) {
                    let at = below(bytes.len().min(700));
                    bytes[at] = u8::try_from(below(256)).unwrap();
                }
            }
            _ => {
                let (at, length) = (below(bytes.len()), below(64));
                let end = (at + length).min(bytes.len());
                bytes[at..end].fill(if below(2) == 0 { 0xff } else { 0 });
            }
        }
        let start = Instant::now();
        let small = preview(&bytes);
        match decode(&bytes) {
            Ok(decoded) => {
                let (width, height) = decoded.picture.dimensions();
                assert_eq!(decoded.picture.as_raw().len() as u64, u64::from(width) * u64::from(height) * 4);
                shown += 1;
            }
            Err(why) => {
                assert!(!why.to_string().is_empty());
                refused += 1;
            }
        }
        assert!(small.is_none_or(|small| small.width() > 0 && small.height() > 0));
        assert!(start.elapsed() < Duration::from_secs(20), "file {number} took {:?}", start.elapsed());
    }
    assert!(
        shown > 100 && refused > 100,
        "{shown} shown, {refused} refused: the damage is too great or too small to tell"
    );
}

/// Source: G. Sharma, W. Wu, E. N. Dalal, "The CIEDE2000 Color-Difference Formula", Color Research and Application 30 (2005) 21-30, Table I,
/// 34 pairs to four decimals (tests/outside/ciede2000_sharma2005.csv names its carriers).
#[test]
fn ciede2000_gives_the_34_published_differences() {
    let text =
        std::fs::read_to_string(Path::new(env!("CARGO_MANIFEST_DIR")).join("tests/outside/ciede2000_sharma2005.csv"))
            .unwrap();
    let mut pairs = 0;
    for line in text.lines().filter(|line| line.starts_with(|c: char| c.is_ascii_digit())) {
        let f: Vec<f64> = line.split(',').map(|field| field.parse().unwrap()).collect();
        let (first, second) = ([f[1], f[2], f[3]], [f[4], f[5], f[6]]);
        for seen in [ciede2000(first, second), ciede2000(second, first)] {
            assert!((seen - f[7]).abs() <= 5e-5 + 1e-9, "pair {}: {seen}, published {}", f[0], f[7]);
        }
        pairs += 1;
    }
    assert_eq!(pairs, 34);
}

/// Source: IEC 61966-2-1 primaries through CIE L*a*b* (D65); the three primaries as printed in many tables (from memory, to one decimal).
#[test]
fn srgb_primaries_have_their_lab_values() {
    for (rgb, lab) in [
        ([255, 0, 0], [53.2, 80.1, 67.2]),
        ([0, 255, 0], [87.7, -86.2, 83.2]),
        ([0, 0, 255], [32.3, 79.2, -107.9]),
        ([255; 3], [100.0, 0.0, 0.0]),
    ] {
        let is = Lab::of_srgb(rgb);
        let off = (is.l - lab[0]).abs().max((is.a - lab[1]).abs()).max((is.b - lab[2]).abs());
        assert!(off < 0.12, "{rgb:?}: {is:?}");
    }
}

fn trace(arguments: &[&str]) -> std::process::Output {
    let mut command = Command::new(env!("CARGO_BIN_EXE_wirewitness"));
    command.arg("trace").args(arguments).current_dir(env!("CARGO_MANIFEST_DIR")).output().unwrap()
}

#[test]
fn the_command_gives_path_and_colour_and_says_what_makes_no_sense() {
    let photo = "tests/data/photos/dev-easy-1.jpg";
    let output = trace(&[photo, "--from", "804,760", "--via", "896,608", "--to", "806,384", "--json"]);
    let answer: serde_json::Value = serde_json::from_slice(&output.stdout).unwrap();
    assert_eq!((&answer["format"], &answer["colour"]), (&1.into(), &"OG".into()), "{answer}");
    assert!(answer["tracer"].is_null() && answer["odds"].as_f64().unwrap() > 0.5);
    let path = answer["path"].as_array().unwrap();
    let ends = [path.first().unwrap(), path.last().unwrap()];
    for (end, at) in ends.iter().zip([[804.0, 760.0], [806.0, 384.0]]) {
        let off = (end[0].as_f64().unwrap() - at[0]).hypot(end[1].as_f64().unwrap() - at[1]);
        assert!(off < 6.0 && end[2].is_boolean(), "{end}");
    }
    for (arguments, word) in [
        (&[photo, "--from", "5000,10", "--to", "1,1"][..], "outside"),
        (&[photo, "--from", "here", "--to", "1,1"], "412,180"),
        (&["nowhere.jpg", "--from", "1,1", "--to", "2,2"], "nowhere.jpg"),
        (&["Cargo.toml", "--from", "1,1", "--to", "2,2"], "JPEG"),
    ] {
        let output = trace(arguments);
        assert_eq!(output.status.code(), Some(2), "{arguments:?}");
        assert!(String::from_utf8_lossy(&output.stderr).contains(word), "{arguments:?}");
    }
}
