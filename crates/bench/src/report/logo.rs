//! The shop's logo: a PNG or JPEG, made no larger than print needs. SVG files may point at other files and are not taken.

use std::{fs, io::Cursor, path::Path};

use image::{ImageFormat, ImageReader, Limits};

use super::drawing::Raster;
use crate::case::BadInput;

/// A logo of more bytes is a mistake.
const MOST_BYTES: u64 = 20 << 20;
/// More pixels a side are a mistake too.
const MOST_SIDE_PX: u32 = 20_000;
/// Kept at most this large: 45 mm at 300 dots an inch are 531.
const KEPT_SIDE_PX: u32 = 640;

/// Reads a logo.
///
/// # Errors
/// When it cannot be read; the report is written without it.
pub fn read(file: &Path) -> anyhow::Result<Raster> {
    let size = fs::metadata(file).map_err(|e| BadInput::unreadable(file, &e))?.len();
    if size > MOST_BYTES {
        return Err(BadInput::at(file, "", "far too large for a logo", "give a PNG or JPEG of a few hundred pixels"));
    }
    let bytes = fs::read(file).map_err(|e| BadInput::unreadable(file, &e))?;
    let refused = |problem: String| BadInput::at(file, "", problem, "give a PNG or JPEG file as the logo");
    let mut reader = ImageReader::new(Cursor::new(bytes)).with_guessed_format()?;
    if !matches!(reader.format(), Some(ImageFormat::Png | ImageFormat::Jpeg)) {
        return Err(refused("neither PNG nor JPEG".into()));
    }
    let mut limits = Limits::default();
    (limits.max_image_width, limits.max_image_height) = (Some(MOST_SIDE_PX), Some(MOST_SIDE_PX));
    reader.limits(limits);
    let image = reader.decode().map_err(|e| refused(format!("cannot be read as a picture ({e})")))?;
    let image = if image.width().max(image.height()) > KEPT_SIDE_PX {
        image.resize(KEPT_SIDE_PX, KEPT_SIDE_PX, image::imageops::FilterType::Triangle)
    } else {
        image
    };
    Raster::on_white(&image.to_rgba8())
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn clear_pixels_are_paper_and_damage_is_one_line() {
        let folder = tempfile::tempdir().unwrap();
        let file = folder.path().join("logo.png");
        image::RgbaImage::from_pixel(1300, 2, image::Rgba([10, 20, 30, 0])).save(&file).unwrap();
        let logo = read(&file).unwrap();
        assert_eq!((logo.width_px, logo.height_px), (640, 1));
        assert_eq!(image::load_from_memory(&logo.png).unwrap().to_rgb8().get_pixel(0, 0).0, [255; 3]);
        let whole = fs::read(&file).unwrap();
        for cut in [0, 10, whole.len() / 2] {
            fs::write(&file, &whole[..cut]).unwrap();
            let told = read(&file).unwrap_err().to_string();
            assert!(told.contains("logo.png") && told.lines().count() == 1, "{told}");
        }
        fs::write(&file, "<svg/>").unwrap();
        assert!(read(&file).unwrap_err().to_string().contains("neither PNG nor JPEG"));
    }
}
