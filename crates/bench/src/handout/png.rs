//! A step as a picture: its view with scale bar and all marks, on white.

use std::io::Cursor;

use image::{ImageFormat, Rgb, RgbImage};

use super::Handout;
use crate::{
    lesson::{
        Lesson, View,
        render::{self, Area, Inks},
    },
    picture::painter::Painter,
    report::typeface::Fonts,
};

/// Longest sides, in pixels.
const SIZE: [f32; 2] = [1400.0, 1050.0];
const WORDS: f32 = 25.0;
/// White around the picture, in pixels.
const MARGIN: f32 = 24.0;

pub fn write(handout: &Handout, step: usize) -> anyhow::Result<Vec<u8>> {
    let Some(shown) = handout.lesson.steps.get(step) else {
        return Err(anyhow::anyhow!("the lesson has no step {}", step + 1));
    };
    let canvas = paint(handout, &handout.lesson, step, &shown.view, SIZE, WORDS, &Painter::new()?)?;
    let mut png = Vec::new();
    canvas.write_to(&mut Cursor::new(&mut png), ImageFormat::Png)?;
    Ok(png)
}

/// A view under the marks of a step, as pixels on white.
///
/// # Errors
/// When something that it shows is not there.
pub fn paint(
    handout: &Handout,
    lesson: &Lesson,
    step: usize,
    view: &View,
    [width, height]: [f32; 2],
    words_size: f32,
    painter: &Painter,
) -> anyhow::Result<RgbImage> {
    let rect = [MARGIN, MARGIN, width - 2.0 * MARGIN, height - 2.0 * MARGIN];
    let area = Area { rect, words_size, dots: 1.0, inks: Inks::PAPER, fonts: Fonts::shared()? };
    let rendered = handout.material.with(|sources| render::render(view, sources, &area))?;
    let [right, bottom] = rendered.ends.map(|end| (end + MARGIN).ceil().max(1.0) as u32);
    let mut canvas = RgbImage::from_pixel(right, bottom, Rgb([255; 3]));
    if let Some(pixels) = &rendered.picture {
        painter.pixels(&mut canvas, pixels);
    }
    painter.shapes(&mut canvas, &rendered.shapes)?;
    painter.shapes(&mut canvas, &render::marks(lesson, step, u32::MAX, &rendered.placing))?;
    Ok(canvas)
}
