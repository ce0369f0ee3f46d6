//! Marks as vectors: canvas pixels become places of a drawing, and no line leaves the picture.

use super::{
    sheet::Sheet,
    stroke::{At, Pen},
};
use crate::report::{
    clip,
    drawing::{Anchor, Ink, Shape},
    typeface::Fonts,
};

/// Height of a line of Open Sans in ems: ascender 1.069, descender 0.293 (the font's own table `hhea`).
pub(crate) const LINE_EMS: f32 = 1.362;
pub(crate) const ASCENDER_EMS: f32 = 1.069;

/// Shapes of a drawing.
pub(crate) struct Vectors<'a> {
    pub(crate) shapes: &'a mut Vec<Shape>,
    pub(crate) fonts: &'a Fonts,
    /// Of the drawing's units, a canvas pixel.
    pub(crate) scale: f32,
    /// The picture on the drawing: left, top, width, height.
    pub(crate) rect: [f32; 4],
}

impl Vectors<'_> {
    /// Centres of canvas pixels are at integers.
    fn at(&self, [x, y]: At) -> [f32; 2] {
        [self.rect[0] + (x + 0.5) * self.scale, self.rect[1] + (y + 0.5) * self.scale]
    }

    fn put(&mut self, shape: Shape) {
        self.shapes.extend(clip::shape(shape, self.rect));
    }
}

impl Sheet for Vectors<'_> {
    fn size(&self) -> [f32; 2] {
        [self.rect[2] / self.scale, self.rect[3] / self.scale]
    }

    fn line(&mut self, points: &[At], closed: bool, pen: Pen) {
        let points: Vec<[f32; 2]> = points.iter().map(|p| self.at(*p)).collect();
        let (width, ink, opacity) = (pen.width * self.scale, pen.colour, pen.opacity);
        self.put(Shape::Line { points, closed, width, ink, opacity, dash: None });
    }

    fn plate(&mut self, [x0, y0, x1, y1]: [f32; 4], ink: Ink, opacity: f32) {
        let [left, top] = [self.rect[0] + x0 * self.scale, self.rect[1] + y0 * self.scale];
        let rect = [left, top, (x1 - x0) * self.scale, (y1 - y0) * self.scale];
        self.put(Shape::Fill { rect, ink, opacity });
    }

    fn words(&mut self, text: &str, [x, y]: At, height: f32, ink: Ink) {
        let size = height * self.scale / LINE_EMS;
        let at = [self.rect[0] + x * self.scale, self.rect[1] + y * self.scale + ASCENDER_EMS * size];
        let text = text.to_owned();
        self.put(Shape::Words { text, at, size, bold: true, anchor: Anchor::Start, ink });
    }

    fn words_size(&self, text: &str, height: f32) -> (f32, f32) {
        (self.fonts.face(true).width(text, height / LINE_EMS), height)
    }
}
