//! A drawing in points (1/72 inch), x to the right and y down: what the PDF paints and the web page writes as SVG alike.

use image::{RgbImage, RgbaImage};

/// Red, green and blue.
pub type Ink = [u8; 3];

/// Black.
pub const BLACK: Ink = [0; 3];
/// For what comes second; dark enough for a poor printer.
pub const WEAK: Ink = [90; 3];
/// Hairlines and grids.
pub const HAIRLINE: Ink = [185; 3];

/// A picture as PNG.
#[derive(Clone, Debug, PartialEq)]
pub struct Raster {
    /// The file's bytes.
    pub png: Vec<u8>,
    /// Columns.
    pub width_px: u32,
    /// Rows.
    pub height_px: u32,
}

impl Raster {
    /// From pixels.
    pub fn of(image: &RgbImage) -> anyhow::Result<Self> {
        let mut png = Vec::new();
        image.write_to(&mut std::io::Cursor::new(&mut png), image::ImageFormat::Png)?;
        Ok(Self { png, width_px: image.width(), height_px: image.height() })
    }

    /// From pixels that may be clear in places: paper is white.
    pub fn on_white(image: &RgbaImage) -> anyhow::Result<Self> {
        let flat = RgbImage::from_fn(image.width(), image.height(), |x, y| {
            let [r, g, b, a] = image.get_pixel(x, y).0;
            let over = |c: u8| ((u32::from(c) * u32::from(a) + 255 * (255 - u32::from(a)) + 127) / 255) as u8;
            image::Rgb([over(r), over(g), over(b)])
        });
        Self::of(&flat)
    }
}

/// Which end of words stands at their place.
#[derive(Clone, Copy, Debug, PartialEq, Eq)]
pub enum Anchor {
    /// The left one.
    Start,
    /// The middle.
    Middle,
    /// The right one.
    End,
}

/// One thing that is drawn.
#[derive(Clone, Debug, PartialEq)]
pub enum Shape {
    /// A picture in a rectangle: left, top, width, height.
    Picture { rect: [f32; 4], raster: Raster },
    /// A line through points.
    Line { points: Vec<[f32; 2]>, closed: bool, width: f32, ink: Ink, opacity: f32, dash: Option<f32> },
    /// A filled rectangle: left, top, width, height.
    Fill { rect: [f32; 4], ink: Ink, opacity: f32 },
    /// A rectangle (left, top, width, height) that is filled but for a hole, whose corners go round.
    Shade { rect: [f32; 4], hole: Vec<[f32; 2]>, ink: Ink, opacity: f32 },
    /// Words with an end of their baseline at a place.
    Words { text: String, at: [f32; 2], size: f32, bold: bool, anchor: Anchor, ink: Ink },
}

/// Shapes, the first one below.
#[derive(Clone, Debug, Default, PartialEq)]
pub struct Drawing {
    /// Width.
    pub width: f32,
    /// Height.
    pub height: f32,
    /// What it shows, for who cannot see it.
    pub alt: String,
    /// What is in it.
    pub shapes: Vec<Shape>,
}

impl Drawing {
    /// An empty one.
    pub fn new(width: f32, height: f32, alt: String) -> Self {
        Self { width, height, alt, shapes: Vec::new() }
    }

    /// A line.
    pub fn line(&mut self, points: &[[f32; 2]], width: f32, ink: Ink) {
        self.shapes.push(Shape::Line { points: points.to_vec(), closed: false, width, ink, opacity: 1.0, dash: None });
    }

    /// A dashed line.
    pub fn dashed(&mut self, points: &[[f32; 2]], width: f32, ink: Ink, dash: f32) {
        let points = points.to_vec();
        self.shapes.push(Shape::Line { points, closed: false, width, ink, opacity: 1.0, dash: Some(dash) });
    }

    /// A frame: left, top, width, height.
    pub fn frame(&mut self, [x, y, w, h]: [f32; 4], width: f32, ink: Ink) {
        let points = vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]];
        self.shapes.push(Shape::Line { points, closed: true, width, ink, opacity: 1.0, dash: None });
    }

    /// A filled rectangle: left, top, width, height.
    pub fn fill(&mut self, rect: [f32; 4], ink: Ink) {
        self.shapes.push(Shape::Fill { rect, ink, opacity: 1.0 });
    }

    /// Words.
    pub fn words(&mut self, text: impl Into<String>, at: [f32; 2], size: f32, anchor: Anchor) {
        self.shapes.push(Shape::Words { text: text.into(), at, size, bold: false, anchor, ink: BLACK });
    }
}
