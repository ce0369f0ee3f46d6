//! Pixels that carry no measured value, told by pattern: a fine chequer where there is no value, stripes where the sensor
//! stood at the end of its range. Single pixels get a cross once they are large enough, and a legend says how many.

use egui::{Align2, Color32, Painter, Rect, Stroke, Ui, WidgetInfo, pos2, vec2};
use joulemark_frames::StackShape;

use super::{
    super::{screen::Layer, session::TakeView},
    overlay::text,
    texture::MapTexture,
    view::UiFromImage,
};
use crate::{
    layer::colour,
    theme::{HALO, OVER_MAP},
};

/// Pixels smaller than this on screen, in points, get no cross.
const CROSS_FROM: f32 = 5.0;
/// More crosses than this are a pattern of their own.
const MOST_CROSSES: usize = 400;

/// The colour of a pattern at a column and row.
type Pattern = fn(usize, usize) -> Color32;

fn chequer(x: usize, y: usize) -> Color32 {
    Color32::from_gray(colour::chequer(x, y))
}

fn stripe(x: usize, y: usize) -> Color32 {
    Color32::from_gray(colour::stripe(x, y))
}

/// Puts both patterns into a picture, row by row.
pub fn mark(pixels: &mut [Color32], values: &[f32], clipped: &[bool], width_px: usize) {
    let width = width_px.max(1);
    for (i, pixel) in pixels.iter_mut().enumerate() {
        let (x, y) = (i % width, i / width);
        if values[i].is_nan() {
            *pixel = chequer(x, y);
        } else if clipped.get(i) == Some(&true) {
            *pixel = stripe(x, y);
        }
    }
}

/// Crosses on single pixels without a value, once they are large enough to carry one.
pub fn crosses(painter: &Painter, texture: &MapTexture, shape: StackShape, map: UiFromImage) {
    if map.points_per_px < CROSS_FROM || texture.unknown() == 0 || texture.unknown() > MOST_CROSSES {
        return;
    }
    let half = map.points_per_px * 0.3;
    for y in 0..shape.height_px {
        for x in 0..shape.width_px {
            if texture.value([x, y], shape).is_some_and(f32::is_nan) {
                let at = map.to_ui([x as f64, y as f64]);
                for d in [vec2(half, half), vec2(half, -half)] {
                    painter.line_segment([at - d, at + d], Stroke::new(1.0, OVER_MAP));
                }
            }
        }
    }
}

/// What the patterns on the map mean, above the colour bar; nothing where there are none.
pub fn legend(ui: &Ui, canvas: Rect, view: &TakeView, layer: Layer, texture: &MapTexture) {
    let clipped = view.clipped.iter().filter(|&&c| c).count();
    let unknown = match layer {
        Layer::TimeConstant => "below its noise",
        _ => "no value",
    };
    let pixels = |n: usize| if n == 1 { "1 pixel".to_owned() } else { format!("{n} pixels") };
    let pattern: [(usize, &str, Pattern); 2] =
        [(texture.unknown(), unknown, chequer), (clipped, "at the end of the camera's range", stripe)];
    let painter = ui.painter_at(canvas);
    let mut bottom = canvas.bottom() - 58.0;
    for (count, words, colour) in pattern.into_iter().filter(|(count, ..)| *count > 0) {
        let words = format!("{words}: {}", pixels(count));
        let at = pos2(canvas.right() - 14.0, bottom);
        let place = text(&painter, at, Align2::RIGHT_BOTTOM, &words, OVER_MAP);
        let swatch = Rect::from_min_size(place.left_top() - vec2(30.0, 0.0), vec2(20.0, place.height()));
        painter.rect_filled(swatch.expand(2.0), 1.0, HALO);
        let cell = 4.0;
        for i in 0..5 {
            for j in 0..(place.height() / cell) as usize {
                let min = swatch.min + vec2(i as f32, j as f32) * cell;
                painter.rect_filled(Rect::from_min_size(min, vec2(cell, cell)), 0.0, colour(i, j));
            }
        }
        let response = ui.interact(place.union(swatch), ui.scope_id().with(("pattern", &words)), egui::Sense::hover());
        response.widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, &words));
        bottom = place.top() - 6.0;
    }
}

#[cfg(test)]
mod tests {
    use super::*;

    #[test]
    fn patterns_are_told_by_shape_and_leave_good_pixels_alone() {
        let good = Color32::from_rgb(200, 30, 30);
        let mut pixels = vec![good; 16];
        let mut values = [1.0_f32; 16];
        values[..4].fill(f32::NAN);
        let mut clipped = [false; 16];
        clipped[8..12].fill(true);
        mark(&mut pixels, &values, &clipped, 4);
        assert_eq!(pixels[..4], [chequer(0, 0), chequer(1, 0), chequer(2, 0), chequer(3, 0)]);
        assert_eq!(pixels[8..12], [stripe(0, 2), stripe(1, 2), stripe(2, 2), stripe(3, 2)]);
        assert!(pixels[4..8].iter().chain(&pixels[12..]).all(|p| *p == good));
    }
}
