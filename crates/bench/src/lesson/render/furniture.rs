//! What stands beside a picture: scale bar, colour bar, words below.

use super::Area;
use crate::{
    picture::bars,
    report::drawing::{Anchor, Ink, Shape},
};

/// Strips of a colour bar: finer than the eye follows.
const STRIPS: usize = 96;

/// A line.
pub fn line(points: &[[f32; 2]], width: f32, ink: Ink) -> Shape {
    Shape::Line { points: points.to_vec(), closed: false, width, ink, opacity: 1.0, dash: None }
}

/// The outline of a rectangle.
pub fn frame([x, y, w, h]: [f32; 4], width: f32, ink: Ink) -> Shape {
    let points = vec![[x, y], [x + w, y], [x + w, y + h], [x, y + h]];
    Shape::Line { points, closed: true, width, ink, opacity: 1.0, dash: None }
}

/// Words beside the picture.
pub fn words(area: &Area, text: impl Into<String>, at: [f32; 2], anchor: Anchor, ink: Ink) -> Shape {
    Shape::Words { text: text.into(), at, size: area.small(), bold: false, anchor, ink }
}

/// A round length below the picture; gives where its words end.
pub fn scale_bar(shapes: &mut Vec<Shape>, area: &Area, rect: [f32; 4], mm_per_unit: f64) -> f32 {
    let [left, top, width, height] = rect;
    let long_mm = bars::round_at_most(0.25 * f64::from(width) * mm_per_unit);
    let long = (long_mm / mm_per_unit) as f32;
    if !(long.is_finite() && long > 0.0 && long <= width) {
        return left;
    }
    let (size, ink) = (area.words_size, area.inks.words);
    let y = top + height + 0.9 * size;
    shapes.push(line(&[[left, y], [left + long, y]], 0.14 * size, ink));
    for x in [left, left + long] {
        shapes.push(line(&[[x, y - 0.4 * size], [x, y + 0.4 * size]], 0.1 * size, ink));
    }
    let text = format!("{long_mm} mm");
    let at = left + long + 0.6 * size;
    let end = at + area.fonts.face(false).width(&text, area.small());
    shapes.push(words(area, text, [at, y + 0.32 * size], Anchor::Start, ink));
    end
}

/// Words at the right end of the first line below the picture.
pub fn beside_scale(shapes: &mut Vec<Shape>, area: &Area, [left, top, width, height]: [f32; 4], text: &str) {
    let at = [left + width, top + height + 1.22 * area.words_size];
    shapes.push(words(area, text, at, Anchor::End, area.inks.words));
}

/// What the picture is, on the second line below it.
pub fn caption(shapes: &mut Vec<Shape>, area: &Area, [left, top, _, height]: [f32; 4], text: &str) {
    let at = [left, top + height + 2.6 * area.words_size];
    shapes.push(words(area, text, at, Anchor::Start, area.inks.weak));
}

/// The colours of a map with their values, to its right.
pub fn colour_bar(
    shapes: &mut Vec<Shape>,
    area: &Area,
    [map_left, map_top, map_width, map_height]: [f32; 4],
    (low, high): (f32, f32),
    unit: &str,
    table: &[[u8; 3]; 256],
) {
    let size = area.words_size;
    let (left, wide) = (map_left + map_width + 0.9 * size, 1.0 * size);
    let (top, bottom) = (map_top + 1.5 * size, map_top + map_height);
    let height = bottom - top;
    if height < size {
        return;
    }
    shapes.push(words(area, unit, [left, map_top + 0.75 * size], Anchor::Start, area.inks.words));
    // Each strip reaches to the bottom, so that no seam shows between two.
    for i in 0..STRIPS {
        let y = top + height * i as f32 / STRIPS as f32;
        let ink = table[255 - i * 255 / (STRIPS - 1)];
        shapes.push(Shape::Fill { rect: [left, y, wide, bottom - y], ink, opacity: 1.0 });
    }
    shapes.push(frame([left, top, wide, height], 0.06 * size, area.inks.words));
    let (values, decimals) = bars::ticks(low.into(), high.into());
    for value in values {
        let y = bottom - height * (value as f32 - low) / (high - low).max(f32::MIN_POSITIVE);
        shapes.push(line(&[[left + wide, y], [left + wide + 0.3 * size, y]], 0.08 * size, area.inks.words));
        let at = [left + wide + 0.5 * size, y + 0.3 * size];
        shapes.push(words(area, format!("{value:.decimals$}"), at, Anchor::Start, area.inks.words));
    }
}
