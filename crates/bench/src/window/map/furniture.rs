//! Scale bar and colour bar.

use egui::{Align2, Color32, Mesh, Painter, Rect, Shape, Stroke, Ui, WidgetInfo, pos2, vec2};

use super::{
    super::{screen::Screen, session::TakeView},
    overlay::text,
    readout, texture,
    view::MapView,
};
use crate::theme::{HALO, OVER_MAP};

const INSET: f32 = 14.0;

/// A round length that takes about a fifth of the canvas, with its unit.
pub fn scale_bar(painter: &Painter, canvas: Rect, view: &TakeView, at: &MapView) {
    let Some(alignment) = &view.alignment else {
        return;
    };
    let mm_per_px = alignment.mm_per_px(nalgebra::Point2::new(at.centre_px[0], at.centre_px[1]));
    ruler(painter, canvas, mm_per_px / f64::from(at.points_per_px));
}

/// The scale bar in the lower left corner, at so many millimetres a screen point.
pub fn ruler(painter: &Painter, canvas: Rect, mm_per_point: f64) {
    let Some(mm) = round_length(mm_per_point * f64::from(canvas.width()) / 5.0) else {
        return;
    };
    let length = (mm / mm_per_point) as f32;
    let left = canvas.left_bottom() + vec2(INSET, -INSET);
    let ground = Rect::from_min_max(left - vec2(6.0, 26.0), left + vec2(length + 6.0, 6.0));
    painter.rect_filled(ground, 2.0, HALO);
    let stroke = Stroke::new(2.0, OVER_MAP);
    painter.line_segment([left, left + vec2(length, 0.0)], stroke);
    for x in [0.0, length] {
        painter.line_segment([left + vec2(x, -5.0), left + vec2(x, 1.0)], stroke);
    }
    let galley = painter.layout_no_wrap(format!("{mm} mm"), crate::theme::small(), OVER_MAP);
    painter.galley(left + vec2((length - galley.size().x) / 2.0, -22.0), galley, OVER_MAP);
}

/// The largest of 1, 2, 5 times a power of ten that is not above `most`.
fn round_length(most: f64) -> Option<f64> {
    if !(most.is_finite() && most > 0.0) {
        return None;
    }
    let decade = 10f64.powf(most.log10().floor());
    [5.0, 2.0, 1.0].into_iter().map(|step| step * decade).find(|&v| v <= most * (1.0 + 1e-9))
}

/// The colours of the layer with the values at both ends.
pub fn colour_bar(ui: &Ui, canvas: Rect, view: &TakeView, screen: &Screen) {
    let (low, high) = texture::range(screen, view);
    let [from, to] = [low, high].map(|v| readout::end(view, screen.layer, v));
    bar(ui, canvas, &screen.scale.table(), screen.layer.words(), &from, &to);
}

/// Colours in the lower right corner, with words at both ends.
pub fn bar(ui: &Ui, canvas: Rect, table: &[Color32; 256], what: &str, from: &str, to: &str) {
    let painter = ui.painter_at(canvas);
    let bar = Rect::from_min_size(canvas.right_bottom() - vec2(INSET + 190.0, INSET + 10.0), vec2(190.0, 10.0));
    painter.rect_filled(bar.expand2(vec2(8.0, 8.0)).union(bar.translate(vec2(0.0, -20.0))), 2.0, HALO);
    let mut mesh = Mesh::default();
    // Thirty-two strips are finer than the eye follows at this width.
    for i in 0..=32_u32 {
        let x = egui::lerp(bar.x_range(), i as f32 / 32.0);
        let colour = table[(i * 255 / 32) as usize];
        mesh.colored_vertex(pos2(x, bar.top()), colour);
        mesh.colored_vertex(pos2(x, bar.bottom()), colour);
        if i > 0 {
            let v = 2 * i;
            mesh.add_triangle(v - 2, v - 1, v);
            mesh.add_triangle(v - 1, v, v + 1);
        }
    }
    painter.add(Shape::mesh(mesh));
    text(&painter, bar.left_top() - vec2(0.0, 4.0), Align2::LEFT_BOTTOM, from, OVER_MAP);
    text(&painter, bar.right_top() - vec2(0.0, 4.0), Align2::RIGHT_BOTTOM, to, OVER_MAP);
    let response = ui.interact(bar, ui.scope_id().with("colour bar"), egui::Sense::hover());
    response
        .widget_info(|| WidgetInfo::labeled(egui::Role::Image, true, format!("Colour bar: {what}, {from} to {to}")));
}

#[cfg(test)]
mod tests {
    use super::round_length;

    #[test]
    fn lengths_are_round_and_fit() {
        assert_eq!(round_length(7.3), Some(5.0));
        assert_eq!(round_length(2.0), Some(2.0));
        assert_eq!(round_length(0.19).map(|v| (v * 10.0).round()), Some(1.0));
        assert_eq!(round_length(f64::NAN), None);
        assert_eq!(round_length(0.0), None);
    }
}
