//! Text on a picture, in the font that the window uses too (Ubuntu, from `epaint_default_fonts`, Ubuntu Font Licence).

use ab_glyph::{FontRef, PxScale};
use image::{Rgb, RgbImage};
use imageproc::drawing::{draw_text_mut, text_size};

/// The bundled font.
pub(super) struct Typeface {
    font: FontRef<'static>,
}

impl Typeface {
    pub(super) fn bundled() -> anyhow::Result<Self> {
        Ok(Self { font: FontRef::try_from_slice(epaint_default_fonts::UBUNTU_LIGHT)? })
    }

    /// Width and height in pixels.
    pub(super) fn size(&self, text: &str, height: f32) -> (f32, f32) {
        let (width, line) = text_size(PxScale::from(height), &self.font, text);
        (width as f32, line as f32)
    }

    /// Draws text with its left upper corner at a place.
    pub(super) fn draw(&self, canvas: &mut RgbImage, text: &str, at: [f32; 2], height: f32, colour: [u8; 3]) {
        let (x, y) = (at[0].round() as i32, at[1].round() as i32);
        draw_text_mut(canvas, Rgb(colour), x, y, PxScale::from(height), &self.font, text);
    }

    /// The text, cut with an ellipsis where it would be wider than `most`.
    pub(super) fn fit(&self, text: &str, height: f32, most: f32) -> String {
        if self.size(text, height).0 <= most {
            return text.to_owned();
        }
        let mut kept: Vec<char> = text.chars().collect();
        while !kept.is_empty() {
            kept.pop();
            let cut: String = kept.iter().collect::<String>().trim_end().to_owned() + "…";
            if self.size(&cut, height).0 <= most {
                return cut;
            }
        }
        String::new()
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn long_text_is_cut_to_the_room() {
        let face = Typeface::bundled().unwrap();
        assert_eq!(face.fit("short", 20.0, 500.0), "short");
        let cut = face.fit("a title that is much too long", 20.0, 100.0);
        assert!(cut.ends_with('…') && face.size(&cut, 20.0).0 <= 100.0);
        assert_eq!(face.fit("x", 20.0, 0.0), "");
    }
}
