//! The frames of a recording in one picture, row by row, for a step that plays.

use std::collections::HashMap;

use image::{RgbImage, imageops};
use joulemark_frames::Progress;

use super::super::{
    Handout, film,
    film::Film,
    pages::{area, go_on},
};
use crate::lesson::render::{self, Rendered};

/// Wider frames are made narrower by a whole number: the page shows no more.
const MOST_WIDTH_PX: u32 = 480;

/// The frames of a step.
#[derive(Debug)]
pub struct Sheet {
    /// The PNG file.
    pub png: Vec<u8>,
    /// Size of a frame in it, in pixels.
    pub frame_px: [u32; 2],
    /// Frames in a row.
    pub columns: u32,
    /// Which frames, and how long each.
    pub film: Film,
    /// What is said at each: time, and whether current flows.
    pub says: Vec<String>,
}

impl Sheet {
    /// `None` where the step plays nothing, or what it shows is not there.
    pub fn of(handout: &Handout, step: usize, most: usize, progress: &dyn Progress) -> anyhow::Result<Option<Self>> {
        let shown = &handout.lesson.steps[step];
        let kept = shown.view.shows.take().and_then(|name| handout.material.takes.get(name));
        let Some((plays, kept)) = shown.plays.zip(kept) else { return Ok(None) };
        let seen = kept.seen();
        let Some(film) = Film::of(plays, &seen.take.timeline, most) else { return Ok(None) };
        // The size in points does not matter here: the picture keeps the recording's pixels.
        let area = area([400.0, 300.0])?;
        let mut pictures: Vec<RgbImage> = Vec::with_capacity(film.frames.len());
        for &frame in &film.frames {
            go_on(progress)?;
            let view = film::view_at(handout, &shown.view, frame);
            match handout.material.with(|sources| render::render(&view, sources, &area)) {
                Ok(Rendered { picture: Some(pixels), .. }) => pictures.push(narrowed(pixels.image)),
                _ => return Ok(None),
            }
        }
        let says = film.frames.iter().map(|&frame| render::time(&seen, frame)).collect();
        let frame_px = pictures.first().map_or([1; 2], |p| [p.width(), p.height()]);
        let (columns, all) = joined(&pictures, frame_px);
        Ok(Some(Self { png: png_of(&all)?, frame_px, columns, film, says }))
    }
}

fn narrowed(picture: RgbImage) -> RgbImage {
    let by = picture.width().div_ceil(MOST_WIDTH_PX);
    if by < 2 {
        return picture;
    }
    let (wide, high) = ((picture.width() / by).max(1), (picture.height() / by).max(1));
    // Every pixel is one that was there: colours keep their meaning.
    RgbImage::from_fn(wide, high, |x, y| {
        *picture.get_pixel(x * by + by / 2, (y * by + by / 2).min(picture.height() - 1))
    })
}

/// All in one, about as wide as high.
fn joined(pictures: &[RgbImage], [wide, high]: [u32; 2]) -> (u32, RgbImage) {
    let count = pictures.len().max(1) as u32;
    let columns = ((f64::from(count) * f64::from(high) / f64::from(wide.max(1))).sqrt().round() as u32).clamp(1, count);
    let mut all = RgbImage::new(columns * wide, count.div_ceil(columns) * high);
    for (i, picture) in pictures.iter().enumerate() {
        let (column, row) = (i as u32 % columns, i as u32 / columns);
        imageops::replace(&mut all, picture, i64::from(column * wide), i64::from(row * high));
    }
    (columns, all)
}

/// As PNG with a table of its colours where they fit into one: a third of the size.
fn png_of(picture: &RgbImage) -> anyhow::Result<Vec<u8>> {
    let mut table: Vec<u8> = Vec::new();
    let mut known: HashMap<[u8; 3], u8> = HashMap::new();
    let mut indexes = Vec::with_capacity((picture.width() * picture.height()) as usize);
    for pixel in picture.pixels() {
        let next = known.len();
        if let Some(index) = known.get(&pixel.0) {
            indexes.push(*index);
        } else if let Ok(index) = u8::try_from(next) {
            known.insert(pixel.0, index);
            table.extend(pixel.0);
            indexes.push(index);
        } else {
            indexes.clear();
            break;
        }
    }
    let mut bytes = Vec::new();
    let mut encoder = png::Encoder::new(&mut bytes, picture.width(), picture.height());
    encoder.set_depth(png::BitDepth::Eight);
    encoder.set_compression(png::Compression::High);
    if indexes.is_empty() {
        encoder.set_color(png::ColorType::Rgb);
        encoder.write_header()?.write_image_data(picture.as_raw())?;
    } else {
        encoder.set_color(png::ColorType::Indexed);
        encoder.set_palette(table);
        encoder.write_header()?.write_image_data(&indexes)?;
    }
    Ok(bytes)
}

#[cfg(test)]
mod tests {
    use image::Rgb;

    use super::*;

    #[test]
    fn frames_stand_in_rows_and_come_back_pixel_by_pixel() {
        let frames: Vec<RgbImage> = (0..5).map(|i| RgbImage::from_pixel(4, 3, Rgb([i * 20, 9, 7]))).collect();
        let (columns, all) = joined(&frames, [4, 3]);
        assert_eq!((columns, all.dimensions()), (2, (8, 9)));
        let back = image::load_from_memory(&png_of(&all).unwrap()).unwrap().to_rgb8();
        assert_eq!(back, all);
        for i in 0..5_u32 {
            assert_eq!(back.get_pixel(i % 2 * 4 + 1, i / 2 * 3 + 1).0[0], i as u8 * 20);
        }
    }

    #[test]
    fn more_colours_than_a_table_holds_are_kept_too() {
        let many = RgbImage::from_fn(40, 40, |x, y| Rgb([x as u8, y as u8, 1]));
        assert_eq!(image::load_from_memory(&png_of(&many).unwrap()).unwrap().to_rgb8(), many);
    }

    #[test]
    fn wide_frames_are_made_narrower_by_a_whole_number() {
        let small = narrowed(RgbImage::from_fn(1000, 300, |x, _| Rgb([(x % 251) as u8; 3])));
        assert_eq!(small.dimensions(), (333, 100));
        assert_eq!(small.get_pixel(0, 0).0[0], 1);
    }
}
