//! A face's photo: read from its file, and squared up from four of its points.

use std::path::{Path, PathBuf};

use image::RgbaImage;
use joulemark_locate::{
    align::{Alignment, AlignmentKind, PointPair},
    board::Photo,
};

use crate::case::BadInput;

/// The longest side that is kept, in pixels: finer than any part needs, and what every graphics card takes.
const MOST_PX: u32 = 4096;
/// Largest picture that is decoded, in bytes.
const MOST_BYTES: u64 = 1 << 30;

/// Which picture point lies where on the face.
pub fn squaring(photo: &Photo) -> Result<Alignment, String> {
    let [w, h] = [photo.width_mm, photo.height_mm];
    if !(w.is_finite() && h.is_finite() && w > 0.0 && h > 0.0) {
        return Err("give both lengths in millimetres, above zero".to_owned());
    }
    let mm = [[0.0, 0.0], [w, 0.0], [w, h], [0.0, h]];
    let pair = |(px, mm): (&[f64; 2], &[f64; 2])| PointPair { x_px: px[0], y_px: px[1], x_mm: mm[0], y_mm: mm[1] };
    let pairs: Vec<PointPair> = photo.corners_px.iter().zip(&mm).map(pair).collect();
    Alignment::fit_kind(AlignmentKind::Homography, &pairs).map_err(|e| e.to_string())
}

/// A picture that was read: its size as filed and its pixels, reduced where it is very large.
#[derive(Clone)]
pub struct Loaded {
    /// Where from.
    pub path: PathBuf,
    /// Columns and rows of the file.
    pub size_px: [u32; 2],
    /// Its pixels, reduced where there are very many.
    pub image: RgbaImage,
}

impl std::fmt::Debug for Loaded {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Loaded").field("path", &self.path).field("size_px", &self.size_px).finish_non_exhaustive()
    }
}

/// Reads a picture file.
///
/// # Errors
/// One line: file, what is wrong, what to do.
pub fn load(path: &Path) -> anyhow::Result<Loaded> {
    let bad = |e: &dyn std::fmt::Display| {
        BadInput::at(path, "", format!("cannot be read as a picture: {e}"), "give a PNG, JPEG, BMP or WebP")
    };
    let mut reader =
        image::ImageReader::open(path).and_then(image::ImageReader::with_guessed_format).map_err(|e| bad(&e))?;
    let mut limits = image::Limits::default();
    limits.max_alloc = Some(MOST_BYTES);
    reader.limits(limits);
    let picture = reader.decode().map_err(|e| bad(&e))?;
    let size_px = [picture.width(), picture.height()];
    let picture = if size_px[0].max(size_px[1]) > MOST_PX {
        picture.resize(MOST_PX, MOST_PX, image::imageops::FilterType::Triangle)
    } else {
        picture
    };
    Ok(Loaded { path: path.to_owned(), size_px, image: picture.to_rgba8() })
}

#[cfg(test)]
mod tests {
    use nalgebra::Point2;

    use super::*;

    /// Worked by hand: x_px = 100 u / (1 + u), y_px = 100 v / (1 + u) with u = x/10 mm, v = y/10 mm sends the corners
    /// (0,0), (10,0), (10,10), (0,10) mm to (0,0), (50,0), (50,50), (0,100) px, and (5, 5) mm to 50/1.5 = 33.33 px.
    #[test]
    fn squaring_up_agrees_with_a_perspective_worked_by_hand() {
        let photo = Photo {
            file: "p.png".into(),
            corners_px: [[0.0, 0.0], [50.0, 0.0], [50.0, 50.0], [0.0, 100.0]],
            width_mm: 10.0,
            height_mm: 10.0,
        };
        let squaring = squaring(&photo).unwrap();
        let px = squaring.to_image(Point2::new(5.0, 5.0));
        // Four exact pairs: only rounding of the solver remains.
        assert!((px.x - 100.0 / 3.0).abs() < 1e-9 && (px.y - 100.0 / 3.0).abs() < 1e-9, "{px}");
        let mm = squaring.to_board(Point2::new(100.0 * 0.2 / 1.2, 100.0 * 0.7 / 1.2));
        assert!((mm.x - 2.0).abs() < 1e-9 && (mm.y - 7.0).abs() < 1e-9, "{mm}");
    }
}
