//! The fonts of a report, with real glyph widths: Open Sans, Apache License 2.0 (assets/fonts/LICENSE.txt). Layout and page
//! use the same widths, so that what fits on a line here fits on the page.

use std::sync::OnceLock;

use ab_glyph::{Font, FontRef};

/// The regular face's file.
pub const REGULAR: &[u8] = include_bytes!("../../../../assets/fonts/OpenSans-Regular.ttf");
/// The bold face's file.
pub const BOLD: &[u8] = include_bytes!("../../../../assets/fonts/OpenSans-Bold.ttf");
/// What stands for a character that the font lacks.
const MISSING: char = '?';

/// One glyph of a text.
#[derive(Clone, Debug, PartialEq)]
pub struct Placed {
    /// Its number in the font.
    pub glyph: u16,
    /// Its advance in ems.
    pub advance: f32,
    /// The bytes of the text that it shows.
    pub bytes: std::ops::Range<usize>,
}

/// One face.
#[derive(Debug)]
pub struct Face {
    font: FontRef<'static>,
    units_per_em: f32,
}

impl Face {
    fn new(bytes: &'static [u8]) -> anyhow::Result<Self> {
        let font = FontRef::try_from_slice(bytes)?;
        let units_per_em = font.units_per_em().unwrap_or(1000.0);
        Ok(Self { font, units_per_em })
    }

    /// Whether it can show a character.
    pub fn has(&self, character: char) -> bool {
        self.font.glyph_id(character).0 != 0
    }

    /// The text's glyphs, pair by pair brought together as the font says.
    pub fn place(&self, text: &str) -> Vec<Placed> {
        let mut placed: Vec<Placed> = Vec::with_capacity(text.len());
        let mut before = None;
        for (at, character) in text.char_indices() {
            let shown = if self.has(character) { character } else { MISSING };
            let id = self.font.glyph_id(shown);
            if let (Some(before), Some(last)) = (before, placed.last_mut()) {
                last.advance += self.font.kern_unscaled(before, id) / self.units_per_em;
            }
            let advance = self.font.h_advance_unscaled(id) / self.units_per_em;
            placed.push(Placed { glyph: id.0, advance, bytes: at..at + character.len_utf8() });
            before = Some(id);
        }
        placed
    }

    /// Width of a text in points.
    pub fn width(&self, text: &str, size: f32) -> f32 {
        self.place(text).iter().map(|p| p.advance).sum::<f32>() * size
    }
}

/// Both faces.
#[derive(Debug)]
pub struct Fonts {
    regular: Face,
    bold: Face,
}

impl Fonts {
    /// Those in the program.
    pub fn bundled() -> anyhow::Result<Self> {
        Ok(Self { regular: Face::new(REGULAR)?, bold: Face::new(BOLD)? })
    }

    /// Those in the program, put together once.
    ///
    /// # Errors
    /// Those of [`Self::bundled`].
    pub fn shared() -> anyhow::Result<&'static Self> {
        static SHARED: OnceLock<Fonts> = OnceLock::new();
        if let Some(fonts) = SHARED.get() {
            return Ok(fonts);
        }
        let fonts = Self::bundled()?;
        Ok(SHARED.get_or_init(|| fonts))
    }

    /// One of them.
    pub fn face(&self, bold: bool) -> &Face {
        if bold { &self.bold } else { &self.regular }
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn units_and_signs_of_a_report_are_in_both_faces() {
        let fonts = Fonts::bundled().unwrap();
        for bold in [false, true] {
            for c in "AZaz09 ±°\u{2212}µ\u{3a9}×≤≥\u{2022}\u{2013}\u{2026}éÅßЖλ".chars() {
                assert!(fonts.face(bold).has(c), "{c}");
            }
        }
    }

    #[test]
    fn widths_add_up_and_what_is_missing_has_a_width_too() {
        let fonts = Fonts::bundled().unwrap();
        let face = fonts.face(false);
        // Digits of a text face are equally wide, so that columns of numbers stand under each other.
        assert_eq!(face.width("1", 10.0), face.width("8", 10.0));
        assert!(face.width("ii", 10.0) < face.width("MM", 10.0) / 2.0);
        assert_eq!(face.width("\u{4e2d}", 10.0), face.width("?", 10.0));
        assert_eq!(face.place("a\u{4e2d}b")[2].bytes, 4..5);
    }
}
