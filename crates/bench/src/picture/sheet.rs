//! What marks are drawn on: pixels here, vectors in a report. Places are canvas pixels, x to the right and y down.

use image::RgbImage;

use super::{
    stroke::{self, At, Pen},
    text::Typeface,
};

/// Takes lines, plates and words.
pub(crate) trait Sheet {
    /// Width and height.
    fn size(&self) -> [f32; 2];
    /// A line through points.
    fn line(&mut self, points: &[At], closed: bool, pen: Pen);
    /// A filled rectangle: left, top, right, bottom.
    fn plate(&mut self, rect: [f32; 4], colour: [u8; 3], opacity: f32);
    /// Words with their left upper corner at a place.
    fn words(&mut self, text: &str, at: At, height: f32, colour: [u8; 3]);
    /// Width and height of words.
    fn words_size(&self, text: &str, height: f32) -> (f32, f32);
}

/// Pixels.
pub(super) struct Raster<'a> {
    pub(super) map: &'a mut RgbImage,
    pub(super) typeface: &'a Typeface,
}

impl Sheet for Raster<'_> {
    fn size(&self) -> [f32; 2] {
        [self.map.width() as f32, self.map.height() as f32]
    }

    fn line(&mut self, points: &[At], closed: bool, pen: Pen) {
        stroke::polyline(self.map, points, closed, pen);
    }

    fn plate(&mut self, rect: [f32; 4], colour: [u8; 3], opacity: f32) {
        stroke::fill(self.map, rect, colour, opacity);
    }

    fn words(&mut self, text: &str, at: At, height: f32, colour: [u8; 3]) {
        self.typeface.draw(self.map, text, at, height, colour);
    }

    fn words_size(&self, text: &str, height: f32) -> (f32, f32) {
        self.typeface.size(text, height)
    }
}
