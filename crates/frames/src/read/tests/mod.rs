//! Tests of the readers through the same doors that callers use: one module per kind of file, and one for damage.

mod damage;
mod folders;
mod numpy;
mod pictures;
mod raw_files;
mod texts;
mod tiffs;
mod videos;

use std::{fs, path::Path};

use ndarray::Array3;
use tempfile::TempDir;

use super::*;
use crate::{NoProgress, Samples};

fn folder() -> TempDir {
    tempfile::tempdir().expect("a temporary folder")
}

/// Reads bytes by their content.
fn bytes(content: &[u8]) -> Result<Recording, FramesError> {
    from_bytes(Path::new("made.up"), content, &ReadOptions::default(), &NoProgress)
}

/// Writes a file and opens it.
fn file(name: &str, content: &[u8]) -> Result<Recording, FramesError> {
    let folder = folder();
    let path = folder.path().join(name);
    fs::write(&path, content).expect("writes");
    open(&path, &ReadOptions::default(), &NoProgress)
}

/// The message of something refused: one line that holds all the words.
fn refused(result: Result<Recording, FramesError>, words: &[&str]) {
    let message = result.map(|r| r.description).expect_err("must be refused").to_string();
    assert_eq!(message.lines().count(), 1, "{message}");
    for word in words {
        assert!(message.contains(word), "'{word}' is missing in: {message}");
    }
}

fn counts(shape: (usize, usize, usize)) -> Array3<u16> {
    Array3::from_shape_fn(shape, |(t, y, x)| (29_000 + 1000 * t + 31 * y + x) as u16)
}

fn kelvin(shape: (usize, usize, usize)) -> Array3<f32> {
    Array3::from_shape_fn(shape, |(t, y, x)| 296.0 + 0.1 * t as f32 + 0.03 * y as f32 + 0.001 * x as f32)
}

fn recording(samples: Samples) -> Recording {
    let scale = match samples {
        Samples::U8(_) => Scale::Relative,
        Samples::U16(_) => Scale::Counts { bits: 16 },
        Samples::F32(_) => Scale::Kelvin,
    };
    Recording {
        file: "made.up".into(),
        description: String::new(),
        samples,
        scale,
        names: Vec::new(),
        time_s: None,
        notes: Vec::new(),
    }
}

/// The bytes of a file as this crate writes it.
fn written(samples: Samples, name: &str) -> Vec<u8> {
    let folder = folder();
    let path = folder.path().join(name);
    crate::write::write(&recording(samples), &path, &NoProgress).expect("writes");
    fs::read(path).expect("reads")
}

/// A picture in one of the formats of the `image` crate: a slope with a step.
fn picture(width: u32, height: u32, format: image::ImageFormat) -> Vec<u8> {
    let picture = image::GrayImage::from_fn(width, height, |x, y| image::Luma([(x * 3 + y + 100 * (x / 20)) as u8]));
    let mut content = std::io::Cursor::new(Vec::new());
    let picture = match format {
        // Its encoders take colour only.
        image::ImageFormat::WebP | image::ImageFormat::Gif => {
            image::DynamicImage::ImageRgb8(image::DynamicImage::ImageLuma8(picture).to_rgb8())
        }
        _ => image::DynamicImage::ImageLuma8(picture),
    };
    picture.write_to(&mut content, format).expect("encodes");
    content.into_inner()
}

/// A motion-JPEG AVI as small as the format allows: header list, one video stream, pictures.
fn avi(width: u32, height: u32, rate: (u32, u32), pictures: &[Vec<u8>]) -> Vec<u8> {
    let chunk = |id: &[u8; 4], body: &[u8]| {
        let mut out = id.to_vec();
        out.extend((body.len() as u32).to_le_bytes());
        out.extend(body);
        out.extend(std::iter::repeat_n(0, body.len() % 2));
        out
    };
    let list = |id: &[u8; 4], form: &[u8; 4], parts: &[Vec<u8>]| chunk(id, &[form.to_vec(), parts.concat()].concat());
    let words = |values: &[u32]| values.iter().flat_map(|v| v.to_le_bytes()).collect::<Vec<u8>>();
    let main = words(&[0, 0, 0, 0, pictures.len() as u32, 0, 1, 0, width, height, 0, 0, 0, 0]);
    let stream =
        [b"vidsMJPG".to_vec(), words(&[0, 0, 0, rate.1, rate.0, 0, pictures.len() as u32, 0, 0, 0, 0, 0])].concat();
    let format = [words(&[40, width, height, 1 | 24 << 16]), b"MJPG".to_vec(), words(&[0, 0, 0, 0, 0])].concat();
    let header = list(
        b"LIST",
        b"hdrl",
        &[chunk(b"avih", &main), list(b"LIST", b"strl", &[chunk(b"strh", &stream), chunk(b"strf", &format)])],
    );
    let movie: Vec<Vec<u8>> = pictures.iter().map(|p| chunk(b"00dc", p)).collect();
    list(b"RIFF", b"AVI ", &[header, list(b"LIST", b"movi", &movie)])
}

#[test]
fn empty_unknown_and_missing_files_are_refused_in_one_line() {
    refused(file("a.tif", b""), &["a.tif", "empty", "copy or export it again"]);
    refused(file("a.xyz", &[0, 1, 2, 3]), &["a.xyz", "00 01 02 03", "give TIFF, PNG"]);
    let missing = open(Path::new("/nowhere/frames.tif"), &ReadOptions::default(), &NoProgress);
    refused(missing, &["/nowhere/frames.tif", "check the path"]);
    // The wrong name does not matter, the wrong content behind a right name does.
    assert!(file("a.csv", &written(Samples::U16(counts((2, 3, 4))), "a.tif")).is_ok());
    refused(file("a.tif", &[0, 1, 2, 3]), &["a.tif", "header of page 0"]);
}

struct Cancelled;

impl Progress for Cancelled {
    fn report(&self, _stage: &str, _done: usize, _total: usize) {}

    fn cancelled(&self) -> bool {
        true
    }
}

#[test]
fn every_reader_of_many_frames_can_be_cancelled() {
    let jpeg = picture(16, 16, image::ImageFormat::Jpeg);
    for content in [
        written(Samples::U16(counts((3, 4, 5))), "a.tif"),
        written(Samples::U16(counts((3, 4, 5))), "a.npy"),
        written(Samples::U16(counts((3, 4, 5))), "a.csv"),
        picture(8, 8, image::ImageFormat::Gif),
        avi(16, 16, (9, 1), &[jpeg.clone(), jpeg]),
    ] {
        let result = from_bytes(Path::new("made.up"), &content, &ReadOptions::default(), &Cancelled);
        assert!(matches!(result, Err(FramesError::Cancelled)), "{result:?}");
    }
}

#[test]
fn the_memory_limit_holds_for_every_kind() {
    let options = ReadOptions { memory_limit_bytes: 100, ..ReadOptions::default() };
    let jpeg = picture(16, 16, image::ImageFormat::Jpeg);
    for content in [
        written(Samples::U16(counts((3, 4, 5))), "a.tif"),
        written(Samples::F32(kelvin((3, 4, 5))), "a.npy"),
        written(Samples::U16(counts((3, 4, 5))), "a.csv"),
        jpeg.clone(),
        picture(16, 16, image::ImageFormat::Bmp),
        picture(16, 16, image::ImageFormat::Png),
        avi(16, 16, (9, 1), &[jpeg.clone(), jpeg]),
    ] {
        let result = from_bytes(Path::new("made.up"), &content, &options, &NoProgress);
        assert!(matches!(result, Err(FramesError::TooLarge { .. })), "{result:?}");
    }
}
