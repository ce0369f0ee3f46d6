//! Small pictures for the list of cases: the last frame of a case's newest take. Made when somebody asks, kept in the index, and made
//! anew when the case changes.

use std::io::Cursor;

use image::{ImageFormat, RgbImage, imageops};
use joulemark_frames::{NoProgress, Take};

use super::{Library, index::Value, row};
use crate::{
    case::{CaseFolder, load},
    theme::scales,
};

/// Longest side in pixels.
const SIDE_PX: u32 = 160;
/// Frames of a recording beyond this size are not read for a thumbnail.
const MEMORY_MIB: u64 = 512;

impl Library {
    /// The thumbnail of a case as PNG; `None` when it has no recording that can be read. Reading one takes a while: call it off the
    /// screen's thread.
    ///
    /// # Errors
    /// Those of the index.
    pub fn thumbnail(&mut self, folder: &str) -> anyhow::Result<Option<Vec<u8>>> {
        let path = self.place.folder.join(folder);
        let stamp = row::stamp(&path);
        let kept =
            self.index.ask("SELECT stamp, png FROM joulemark_thumbnails WHERE folder = $1", &[Value::text(folder)])?;
        if let Some([Value::Text(known), png]) = kept.first().map(Vec::as_slice)
            && !stamp.is_empty()
            && *known == stamp
        {
            return Ok(match png {
                Value::Bytes(png) => Some(png.clone()),
                // It was tried before, and there is none.
                _ => None,
            });
        }
        let png = draw(&path);
        let bytes = png.clone().map_or(Value::Null, Value::Bytes);
        self.index.run(
            "INSERT INTO joulemark_thumbnails (folder, stamp, png) VALUES ($1, $2, $3) \
             ON CONFLICT (folder) DO UPDATE SET stamp = excluded.stamp, png = excluded.png",
            &[Value::text(folder), Value::text(&stamp), bytes],
        )?;
        Ok(png)
    }
}

fn draw(path: &std::path::Path) -> Option<Vec<u8>> {
    let case = CaseFolder::open(path).ok()?;
    let mut source = case.source(case.take(None).ok()?);
    source.memory_mib = MEMORY_MIB;
    source.mask_nan = true;
    let picture = paint(&load::load_take(&source, &NoProgress).ok()?);
    let mut png = Vec::new();
    picture.write_to(&mut Cursor::new(&mut png), ImageFormat::Png).ok()?;
    Some(png)
}

fn paint(take: &Take) -> RgbImage {
    let last = take.stack.frame(take.stack.shape().frames.saturating_sub(1));
    let mut values: Vec<f32> = last.iter().copied().filter(|v| v.is_finite()).collect();
    values.sort_unstable_by(f32::total_cmp);
    // A few dead pixels must not take up the scale.
    let at = |share: f64| values.get((values.len().saturating_sub(1) as f64 * share).round() as usize).copied();
    let (low, high) = (at(0.01).unwrap_or(0.0), at(0.999).unwrap_or(1.0));
    let span = if high > low { high - low } else { 1.0 };
    let (height, width) = last.dim();
    let picture = RgbImage::from_fn(width as u32, height as u32, |x, y| {
        let value = last[[y as usize, x as usize]];
        image::Rgb(scales::at(scales::INFERNO, if value.is_finite() { (value - low) / span } else { 0.0 }))
    });
    let longest = width.max(height).max(1) as f64;
    let shrink = (f64::from(SIDE_PX) / longest).min(1.0);
    let side = |length: usize| ((length as f64 * shrink).round() as u32).max(1);
    imageops::thumbnail(&picture, side(width), side(height))
}
