//! The student's cross and, after handing in, the true part. Each has its own shape and its name, so that neither needs its
//! colour to be known.

use egui::{Align2, Painter, Pos2, Rect, Shape, Stroke, vec2};

use super::super::map::overlay;
use crate::theme::{HALO, OVER_MAP, SUSPECT_OVER_MAP};

/// Arms of the cross, from the gap around its middle to their ends, in points.
const ARM: (f32, f32) = (4.0, 14.0);

/// The place that was answered.
pub(super) fn cross(painter: &Painter, at: Pos2, name: &str) {
    for side in [vec2(1.0, 0.0), vec2(-1.0, 0.0), vec2(0.0, 1.0), vec2(0.0, -1.0)] {
        let ends = [at + ARM.0 * side, at + ARM.1 * side];
        painter.line_segment(ends, Stroke::new(5.0, HALO));
        painter.line_segment(ends, Stroke::new(2.0, OVER_MAP));
    }
    painter.circle_stroke(at, ARM.1, Stroke::new(3.0, HALO));
    painter.circle_stroke(at, ARM.1, Stroke::new(1.0, OVER_MAP));
    overlay::text(painter, at + vec2(ARM.1 + 4.0, -ARM.1), Align2::LEFT_BOTTOM, name, OVER_MAP);
}

/// A true part: its outline, heavy, within a box of broken lines, with its name.
pub(super) fn true_part(painter: &Painter, corners: &[Pos2], name: &str) {
    painter.add(Shape::closed_line(corners.to_vec(), Stroke::new(5.0, HALO)));
    painter.add(Shape::closed_line(corners.to_vec(), Stroke::new(2.5, SUSPECT_OVER_MAP)));
    let around = Rect::from_points(corners).expand(9.0);
    let ends = [around.left_top(), around.right_top(), around.right_bottom(), around.left_bottom(), around.left_top()];
    painter.extend(Shape::dashed_line(&ends, Stroke::new(4.0, HALO), 6.0, 4.0));
    painter.extend(Shape::dashed_line(&ends, Stroke::new(1.5, SUSPECT_OVER_MAP), 6.0, 4.0));
    let words = format!("{name}: the fault");
    overlay::text(painter, around.center_bottom() + vec2(0.0, 6.0), Align2::CENTER_TOP, &words, SUSPECT_OVER_MAP);
}
