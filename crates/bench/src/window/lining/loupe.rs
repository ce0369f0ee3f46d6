//! The loupe: what lies under the pointer or the crosshair, several times larger, in the corner furthest away.

use egui::{Painter, Pos2, Rect, Stroke, Vec2, pos2, vec2};

use crate::theme::{HALO, OVER_MAP};

/// Its side, in points.
const SIDE: f32 = 132.0;

/// Where the loupe goes: the upper corner on the other side.
pub(super) fn place(canvas: Rect, at: Pos2) -> Rect {
    let left = at.x > canvas.center().x;
    let x = if left { canvas.min.x + 8.0 } else { canvas.max.x - SIDE - 8.0 };
    Rect::from_min_size(pos2(x, canvas.min.y + 8.0), Vec2::splat(SIDE))
}

/// Frame and crosshair.
pub(super) fn frame(painter: &Painter, rect: Rect) {
    let c = rect.center();
    for (width, colour) in [(3.0, HALO), (1.0, OVER_MAP)] {
        let stroke = Stroke::new(width, colour);
        painter.rect_stroke(rect, 2.0, stroke, egui::StrokeKind::Outside);
        // The middle stays free: that is where the corner is.
        for d in [vec2(1.0, 0.0), vec2(-1.0, 0.0), vec2(0.0, 1.0), vec2(0.0, -1.0)] {
            painter.line_segment([c + d * 5.0, c + d * 22.0], stroke);
        }
    }
}
