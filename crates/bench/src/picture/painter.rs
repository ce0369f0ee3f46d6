//! A [`Drawing`](crate::report::drawing::Drawing) as pixels: what the PDF and the web page keep as vectors.

use ab_glyph::{FontRef, PxScale};
use image::{Rgb, RgbImage};
use imageproc::drawing::draw_text_mut;

use super::{
    stroke::{self, At, Pen},
    vectors::{ASCENDER_EMS, LINE_EMS},
};
use crate::{
    lesson::render::Pixels,
    report::{
        drawing::{Anchor, Ink, Shape},
        typeface::{self, Fonts},
    },
};

/// Samples each way that tell how much of a pixel a shade covers.
const SAMPLES: usize = 3;

/// Paints shapes on a picture; units are pixels, and the middle of the first pixel is at (0.5, 0.5).
pub struct Painter {
    fonts: &'static Fonts,
    regular: FontRef<'static>,
    bold: FontRef<'static>,
}

impl std::fmt::Debug for Painter {
    fn fmt(&self, f: &mut std::fmt::Formatter<'_>) -> std::fmt::Result {
        f.debug_struct("Painter").finish_non_exhaustive()
    }
}

impl Painter {
    /// With the bundled fonts.
    ///
    /// # Errors
    /// When they cannot be read.
    pub fn new() -> anyhow::Result<Self> {
        let regular = FontRef::try_from_slice(typeface::REGULAR)?;
        Ok(Self { fonts: Fonts::shared()?, regular, bold: FontRef::try_from_slice(typeface::BOLD)? })
    }

    /// Pixels of a view: neighbours run into each other only where they may.
    pub fn pixels(&self, canvas: &mut RgbImage, pixels: &Pixels) {
        put(canvas, &pixels.image, pixels.rect);
    }

    /// Shapes, the first one below.
    ///
    /// # Errors
    /// When a picture among them cannot be read.
    pub fn shapes(&self, canvas: &mut RgbImage, shapes: &[Shape]) -> anyhow::Result<()> {
        for shape in shapes {
            match shape {
                Shape::Picture { rect, raster } => {
                    put(canvas, &image::load_from_memory(&raster.png)?.to_rgb8(), *rect);
                }
                Shape::Line { points, closed, width, ink, opacity, dash } => {
                    // Centres of pixels are at integers where lines are painted.
                    let points: Vec<At> = points.iter().map(|[x, y]| [x - 0.5, y - 0.5]).collect();
                    let pen = Pen { colour: *ink, opacity: *opacity, width: *width };
                    match dash.filter(|d| *d > 0.0) {
                        None => stroke::polyline(canvas, &points, *closed, pen),
                        Some(dash) => {
                            for piece in dashes(&points, *closed, dash) {
                                stroke::polyline(canvas, &piece, false, pen);
                            }
                        }
                    }
                }
                Shape::Fill { rect, ink, opacity } => fill(canvas, *rect, *ink, *opacity),
                Shape::Shade { rect, hole, ink, opacity } => shade(canvas, *rect, hole, *ink, *opacity),
                Shape::Words { text, at, size, bold, anchor, ink } => {
                    let wide = self.fonts.face(*bold).width(text, *size);
                    let left = match anchor {
                        Anchor::Start => at[0],
                        Anchor::Middle => at[0] - wide / 2.0,
                        Anchor::End => at[0] - wide,
                    };
                    let font = if *bold { &self.bold } else { &self.regular };
                    let (x, y) = (left.round() as i32, (at[1] - ASCENDER_EMS * size).round() as i32);
                    draw_text_mut(canvas, Rgb(*ink), x, y, PxScale::from(LINE_EMS * size), font, text);
                }
            }
        }
        Ok(())
    }
}

/// A picture stretched over a rectangle, each pixel the nearest one's colour.
fn put(canvas: &mut RgbImage, picture: &RgbImage, [left, top, width, height]: [f32; 4]) {
    if picture.width() == 0 || picture.height() == 0 || width <= 0.0 || height <= 0.0 {
        return;
    }
    let span = |from: f32, long: f32, size: u32| {
        ((from.round().max(0.0) as u32).min(size), ((from + long).round().max(0.0) as u32).min(size))
    };
    let ((x0, x1), (y0, y1)) = (span(left, width, canvas.width()), span(top, height, canvas.height()));
    let own = |at: u32, from: f32, long: f32, size: u32| {
        (((at as f32 + 0.5 - from) / long * size as f32).max(0.0) as u32).min(size - 1)
    };
    for y in y0..y1 {
        let row = own(y, top, height, picture.height());
        for x in x0..x1 {
            canvas.put_pixel(x, y, *picture.get_pixel(own(x, left, width, picture.width()), row));
        }
    }
}

/// Each pixel takes the share of it that the rectangle covers.
fn fill(canvas: &mut RgbImage, [left, top, width, height]: [f32; 4], ink: Ink, opacity: f32) {
    let covered =
        |at: u32, from: f32, long: f32| ((at as f32 + 1.0).min(from + long) - (at as f32).max(from)).clamp(0.0, 1.0);
    for_each(canvas, [left, top, width, height], |canvas, x, y| {
        let share = covered(x, left, width) * covered(y, top, height);
        stroke::blend(canvas, x, y, ink, share * opacity);
    });
}

fn shade(canvas: &mut RgbImage, rect: [f32; 4], hole: &[At], ink: Ink, opacity: f32) {
    for_each(canvas, rect, |canvas, x, y| {
        let outside = (0..SAMPLES * SAMPLES)
            .filter(|i| {
                let part = |n: usize| (n as f32 + 0.5) / SAMPLES as f32;
                !within(hole, [x as f32 + part(i % SAMPLES), y as f32 + part(i / SAMPLES)])
            })
            .count();
        stroke::blend(canvas, x, y, ink, opacity * outside as f32 / (SAMPLES * SAMPLES) as f32);
    });
}

fn for_each(
    canvas: &mut RgbImage,
    [left, top, width, height]: [f32; 4],
    mut paint: impl FnMut(&mut RgbImage, u32, u32),
) {
    let end = |to: f32, size: u32| (to.ceil().max(0.0) as u32).min(size);
    let (x1, y1) = (end(left + width, canvas.width()), end(top + height, canvas.height()));
    for y in top.floor().max(0.0) as u32..y1 {
        for x in left.floor().max(0.0) as u32..x1 {
            paint(canvas, x, y);
        }
    }
}

/// Whether a point lies within a ring, by how often a line from it crosses the ring.
fn within(ring: &[At], [x, y]: At) -> bool {
    let mut inside = false;
    for (i, &[ax, ay]) in ring.iter().enumerate() {
        let [bx, by] = ring[(i + 1) % ring.len()];
        if (ay > y) != (by > y) && x < ax + (y - ay) / (by - ay) * (bx - ax) {
            inside = !inside;
        }
    }
    inside
}

/// A line cut into dashes, with gaps as long as they are.
fn dashes(points: &[At], closed: bool, dash: f32) -> Vec<Vec<At>> {
    let count = if closed { points.len() } else { points.len().saturating_sub(1) };
    let (mut out, mut on, mut left): (Vec<Vec<At>>, bool, f32) = (Vec::new(), true, dash);
    let mut piece: Vec<At> = points.first().copied().into_iter().collect();
    for i in 0..count {
        let (mut a, b) = (points[i], points[(i + 1) % points.len()]);
        loop {
            let long = (b[0] - a[0]).hypot(b[1] - a[1]);
            if !long.is_finite() {
                return out;
            }
            if long <= left {
                left -= long;
                if on {
                    piece.push(b);
                }
                break;
            }
            a = [a[0] + (b[0] - a[0]) * left / long, a[1] + (b[1] - a[1]) * left / long];
            if on {
                piece.push(a);
                out.push(std::mem::take(&mut piece));
            } else {
                piece = vec![a];
            }
            (on, left) = (!on, dash);
        }
    }
    if on && piece.len() > 1 {
        out.push(piece);
    }
    out
}

#[cfg(test)]
mod tests {
    use super::*;
    use crate::report::drawing::BLACK;

    fn painted(shapes: &[Shape]) -> RgbImage {
        let mut canvas = RgbImage::from_pixel(40, 20, Rgb([255; 3]));
        Painter::new().unwrap().shapes(&mut canvas, shapes).unwrap();
        canvas
    }

    #[test]
    fn a_fill_covers_its_pixels_and_half_of_those_that_it_halves() {
        let canvas = painted(&[Shape::Fill { rect: [2.0, 3.0, 4.5, 2.0], ink: BLACK, opacity: 1.0 }]);
        let row: Vec<u8> = (0..9).map(|x| canvas.get_pixel(x, 3).0[0]).collect();
        assert_eq!(row, [255, 255, 0, 0, 0, 0, 128, 255, 255]);
        assert_eq!([2, 5].map(|y| canvas.get_pixel(3, y).0[0]), [255, 255]);
    }

    #[test]
    fn a_shade_spares_its_hole() {
        let hole = vec![[10.0, 5.0], [20.0, 5.0], [20.0, 15.0], [10.0, 15.0]];
        let canvas = painted(&[Shape::Shade { rect: [0.0, 0.0, 30.0, 20.0], hole, ink: BLACK, opacity: 0.6 }]);
        let at = |x, y| canvas.get_pixel(x, y).0[0];
        assert_eq!([at(2, 2), at(12, 7), at(19, 14), at(25, 10), at(35, 10)], [102, 255, 255, 102, 255]);
    }

    #[test]
    fn dashes_are_as_long_as_their_gaps() {
        let pieces = dashes(&[[0.0, 0.0], [10.0, 0.0]], false, 3.0);
        assert_eq!(pieces, [vec![[0.0, 0.0], [3.0, 0.0]], vec![[6.0, 0.0], [9.0, 0.0]]]);
        assert!(dashes(&[], true, 3.0).is_empty() && dashes(&[[f32::NAN, 0.0], [1.0, 1.0]], false, 3.0).is_empty());
    }

    #[test]
    fn words_stand_where_their_anchor_says() {
        let words =
            |anchor| Shape::Words { text: "II".into(), at: [20.0, 15.0], size: 12.0, bold: true, anchor, ink: BLACK };
        let left = |anchor| {
            let canvas = painted(&[words(anchor)]);
            (0..40).find(|&x| (0..20).any(|y| canvas.get_pixel(x, y).0[0] < 128)).unwrap()
        };
        let [start, middle, end] = [Anchor::Start, Anchor::Middle, Anchor::End].map(left);
        assert!((20..=22).contains(&start) && end < middle && middle < start, "{start} {middle} {end}");
        let canvas = painted(&[words(Anchor::Start)]);
        let lowest = (0..20).rev().find(|&y| (0..40).any(|x| canvas.get_pixel(x, y).0[0] < 128)).unwrap();
        assert!((13..=15).contains(&lowest), "letters stand on the line, not at {lowest}");
    }
}
