//! Smooth lines on a picture: each pixel takes the share of the line's width that covers its centre.

use image::{Rgb, RgbImage};

/// How a line is drawn.
#[derive(Clone, Copy, Debug)]
pub(crate) struct Pen {
    pub(crate) colour: [u8; 3],
    /// 0 leaves the picture as it is, 1 covers it.
    pub(crate) opacity: f32,
    pub(crate) width: f32,
}

/// A pixel position on the canvas, pixel centres at integers.
pub(crate) type At = [f32; 2];

/// Draws a line through the points. The coverage of neighbouring pieces is the larger of the two, so that joints of a
/// translucent line do not show.
pub(super) fn polyline(canvas: &mut RgbImage, points: &[At], closed: bool, pen: Pen) {
    let count = if closed { points.len() } else { points.len().saturating_sub(1) };
    let pieces: Vec<(At, At)> = (0..count).map(|i| (points[i], points[(i + 1) % points.len()])).collect();
    let Some(bounds) = bounds(points, pen.width / 2.0 + 1.0, canvas) else { return };
    let [x0, y0, x1, y1] = bounds;
    let wide = (x1 - x0 + 1) as usize;
    let mut coverage = vec![0.0_f32; wide * (y1 - y0 + 1) as usize];
    for &(a, b) in &pieces {
        let Some([px0, py0, px1, py1]) = self::bounds(&[a, b], pen.width / 2.0 + 1.0, canvas) else { continue };
        for y in py0..=py1 {
            for x in px0..=px1 {
                let covered = (pen.width / 2.0 + 0.5 - distance([x as f32, y as f32], a, b)).clamp(0.0, 1.0);
                let slot = &mut coverage[(y - y0) as usize * wide + (x - x0) as usize];
                *slot = slot.max(covered);
            }
        }
    }
    for (i, covered) in coverage.iter().enumerate().filter(|(_, c)| **c > 0.0) {
        let (x, y) = (x0 + (i % wide) as u32, y0 + (i / wide) as u32);
        blend(canvas, x, y, pen.colour, covered * pen.opacity);
    }
}

/// Fills a rectangle `[x0, y0, x1, y1]`, ends included.
pub(super) fn fill(canvas: &mut RgbImage, rectangle: [f32; 4], colour: [u8; 3], opacity: f32) {
    let [x0, y0, x1, y1] = rectangle;
    let Some([x0, y0, x1, y1]) = bounds(&[[x0, y0], [x1, y1]], 0.0, canvas) else { return };
    for y in y0..=y1 {
        for x in x0..=x1 {
            blend(canvas, x, y, colour, opacity);
        }
    }
}

pub(super) fn blend(canvas: &mut RgbImage, x: u32, y: u32, colour: [u8; 3], share: f32) {
    let Rgb(under) = *canvas.get_pixel(x, y);
    let mix = |u: u8, c: u8| (f32::from(u) + share * (f32::from(c) - f32::from(u))).round() as u8;
    canvas.put_pixel(x, y, Rgb([0, 1, 2].map(|i| mix(under[i], colour[i]))));
}

/// Pixels within `margin` of the points, cut to the canvas; `None` when there are none.
fn bounds(points: &[At], margin: f32, canvas: &RgbImage) -> Option<[u32; 4]> {
    let range = |axis: usize, size: u32| {
        let low = points.iter().map(|p| p[axis]).fold(f32::INFINITY, f32::min) - margin;
        let high = points.iter().map(|p| p[axis]).fold(f32::NEG_INFINITY, f32::max) + margin;
        let last = size.checked_sub(1)? as f32;
        (low <= last && high >= 0.0).then(|| (low.floor().max(0.0) as u32, high.ceil().min(last) as u32))
    };
    let ((x0, x1), (y0, y1)) = (range(0, canvas.width())?, range(1, canvas.height())?);
    Some([x0, y0, x1, y1])
}

/// Distance of a point from a piece of line.
fn distance(p: At, a: At, b: At) -> f32 {
    let (dx, dy) = (b[0] - a[0], b[1] - a[1]);
    let length2 = dx * dx + dy * dy;
    let along = if length2 > 0.0 { ((p[0] - a[0]) * dx + (p[1] - a[1]) * dy) / length2 } else { 0.0 };
    let along = along.clamp(0.0, 1.0);
    (p[0] - a[0] - along * dx).hypot(p[1] - a[1] - along * dy)
}

#[cfg(test)]
mod tests {
    use super::*;

    const WHITE: Pen = Pen { colour: [255; 3], opacity: 1.0, width: 3.0 };

    #[test]
    fn a_line_covers_its_width_and_no_more() {
        let mut canvas = RgbImage::new(20, 9);
        polyline(&mut canvas, &[[2.0, 4.0], [17.0, 4.0]], false, WHITE);
        let column: Vec<u8> = (0..9).map(|y| canvas.get_pixel(10, y).0[0]).collect();
        assert_eq!(column, [0, 0, 0, 255, 255, 255, 0, 0, 0]);
    }

    #[test]
    fn lines_that_leave_the_canvas_or_are_nowhere_do_no_harm() {
        let mut canvas = RgbImage::new(8, 8);
        for points in [&[[-50.0, 4.0], [90.0, 4.0]][..], &[[f32::NAN, 0.0], [3.0, 3.0]], &[[900.0, 900.0]], &[]] {
            polyline(&mut canvas, points, true, WHITE);
        }
        assert_eq!(canvas.get_pixel(0, 4).0, [255; 3]);
        polyline(&mut RgbImage::new(0, 0), &[[0.0, 0.0], [1.0, 1.0]], false, WHITE);
    }

    #[test]
    fn joints_of_a_translucent_line_do_not_show() {
        let mut canvas = RgbImage::new(20, 20);
        let pen = Pen { opacity: 0.5, ..WHITE };
        polyline(&mut canvas, &[[4.0, 4.0], [15.0, 4.0], [15.0, 15.0]], false, pen);
        assert_eq!(canvas.get_pixel(15, 4), canvas.get_pixel(10, 4));
    }
}
